//! What is said of a range adjuster against made readings of adjusters whose truth is known: no photos, but readings with
//! the uncertainties that photos have. The figures asked for are the project's own; nothing outside of it states them.
//!
//! `BEAMFALL_CASES=1000 cargo test --release --test adjuster -- --nocapture` draws more than the 100 of each run.

use beamfall::adjuster::{Adjuster, FaultKind, LeakState, Movement, StickSlip};
use beamfall::aim::{Aim, Common, ShotReading};
use beamfall::record::{AdjusterLimits, Branch, Lamp, Shot, Side, Stage};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, Uniform};
use rayon::prelude::*;

fn cases(default: u64) -> u64 {
    std::env::var("BEAMFALL_CASES")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(default)
}

struct Draw(ChaCha8Rng);

impl Draw {
    fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }
    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }
    fn between(&mut self, low: f64, high: f64) -> f64 {
        Uniform::new(low, high).unwrap().sample(&mut self.0)
    }
    fn chance(&mut self, probability: f64) -> bool {
        self.between(0.0, 1.0) < probability
    }
}

fn lamp(side: Side) -> Lamp {
    Lamp {
        side,
        centre_height_mm: 650.0,
        centre_height_sd_mm: 2.0,
        centre_x_mm: if side == Side::Left { -560.0 } else { 560.0 },
        distance_mm: 10_000.0,
        distance_sd_mm: 10.0,
        mounting_height_mm: None,
    }
}

/// A reading of `percent`, which has its photo's error in it already; the tape's error, one draw for all, is added.
fn reading(shot: Shot, percent: f64, photo_sd: f64, tape: &Tape, taken: Option<&str>) -> ShotReading {
    let common = Common {
        lamp: vec![0.02, -0.001 * percent],
        bay: vec![0.02, 0.004],
    };
    let error: f64 = tape.0[0] * common.lamp[0]
        + tape.0[1] * common.lamp[1]
        + tape.0[2] * common.bay[0]
        + tape.0[3] * common.bay[1];
    let on_car = lamp(shot.lamp);
    ShotReading::made(shot, on_car, Aim::made_with(percent + error, photo_sd, common), taken)
}

/// Errors of the sources that the readings of a job share, in standard deviations.
struct Tape([f64; 4]);

impl Tape {
    fn draw(draw: &mut Draw) -> Self {
        Self([draw.normal(), draw.normal(), draw.normal(), draw.normal()])
    }
}

/// An adjuster: at rest, then straight, then at its stop; with play between applying and releasing.
#[derive(Debug, Clone, Copy)]
struct Truth {
    rest_percent: f64,
    gain_percent_per_100_mbar: f64,
    dead_band_mbar: f64,
    end_stop_mbar: f64,
    hysteresis_mbar: f64,
}

/// The play operator, walked along the true vacuums one after the other: the actuator's own place, and the band of the
/// hysteresis about it. The twin of the closed form that is fitted.
struct Actuator {
    truth: Truth,
    /// Vacuum at which it would stand where it stands if vacuum were being applied, mbar.
    place_mbar: f64,
}

impl Actuator {
    fn new(truth: Truth) -> Self {
        Self {
            truth,
            place_mbar: 0.0,
        }
    }
    fn percent_at(&mut self, vacuum_mbar: f64) -> f64 {
        let t = &self.truth;
        let held = vacuum_mbar.clamp(t.dead_band_mbar - t.hysteresis_mbar, t.end_stop_mbar);
        self.place_mbar = self.place_mbar.clamp(held, held + t.hysteresis_mbar).max(0.0);
        let moved = self.place_mbar.clamp(t.dead_band_mbar, t.end_stop_mbar) - t.dead_band_mbar;
        t.rest_percent + t.gain_percent_per_100_mbar * moved / 100.0
    }
}

/// How a pump's test is photographed.
#[derive(Debug, Clone, Copy)]
struct Test {
    truth: Truth,
    photo_sd_percent: f64,
    gauge_sd_mbar: f64,
    per_branch: usize,
    highest_mbar: f64,
}

impl Test {
    /// Photo u95 0.02 to 0.05 %, 8 to 14 readings a branch; an end stop within reach in two cases of three.
    fn draw(draw: &mut Draw, gauge_sd_mbar: f64) -> Self {
        let highest_mbar = 500.0;
        let dead_band_mbar = draw.between(20.0, 120.0);
        let sign = if draw.chance(0.7) { -1.0 } else { 1.0 };
        Self {
            truth: Truth {
                rest_percent: draw.between(1.8, 3.0),
                gain_percent_per_100_mbar: sign * draw.between(0.3, 0.8),
                dead_band_mbar,
                end_stop_mbar: if draw.chance(0.67) {
                    draw.between(330.0, 450.0)
                } else {
                    900.0
                },
                hysteresis_mbar: draw.between(0.0, 50.0),
            },
            photo_sd_percent: draw.between(0.02, 0.05) / 1.96,
            gauge_sd_mbar,
            per_branch: draw.between(8.0, 15.0) as usize,
            highest_mbar,
        }
    }

    fn readings(&self, draw: &mut Draw, tape: &Tape) -> Vec<ShotReading> {
        let mut actuator = Actuator::new(self.truth);
        let last = self.per_branch - 1;
        let gauge = |n: usize| self.highest_mbar * n as f64 / last as f64;
        let applying = (0..=last).map(|n| (gauge(n), Branch::Applying));
        let releasing = (0..last).rev().map(|n| (gauge(n), Branch::Releasing));
        let mut readings = Vec::new();
        for (n, (gauge_mbar, branch)) in applying.chain(releasing).enumerate() {
            // A pump that is let go shows 0 and holds 0.
            let error = if gauge_mbar > 0.0 { self.gauge_sd_mbar * draw.normal() } else { 0.0 };
            let percent = actuator.percent_at((gauge_mbar + error).max(0.0)) + self.photo_sd_percent * draw.normal();
            let shot = Shot {
                stage: Some(Stage::After),
                vacuum: Some(format!("{gauge_mbar} mbar").parse().unwrap()),
                vacuum_sd: Some(format!("{} mbar", self.gauge_sd_mbar).parse().unwrap()),
                branch: Some(branch),
                ..Shot::of(&format!("pump-{n}.jpg"), Side::Left)
            };
            readings.push(reading(shot, percent, self.photo_sd_percent, tape, None));
        }
        readings
    }
}

fn share(count: usize, of: usize) -> f64 {
    count as f64 / of.max(1) as f64
}

/// Counts of one run of the response.
#[derive(Default)]
struct Tally {
    cases: usize,
    fitted: usize,
    gain_near: usize,
    dead_near: usize,
    held: Vec<(&'static str, usize, usize)>,
    stop_found: usize,
    stop_false: usize,
    stop_there: usize,
    stuck: usize,
    lower_wrong: usize,
}

impl Tally {
    fn hold(&mut self, what: &'static str, held: bool) {
        match self.held.iter_mut().find(|(name, ..)| *name == what) {
            Some((_, count, of)) => {
                *count += usize::from(held);
                *of += 1;
            }
            None => self.held.push((what, usize::from(held), 1)),
        }
    }
}

fn run_responses(seed: u64, cases: u64, gauge_sd_mbar: impl Fn(&mut Draw) -> f64 + Sync) -> Tally {
    let results: Vec<(Test, Adjuster)> = (0..cases)
        .into_par_iter()
        .map(|n| {
            let mut draw = Draw::new(seed + n);
            let gauge = gauge_sd_mbar(&mut draw);
            let test = Test::draw(&mut draw, gauge);
            let tape = Tape::draw(&mut draw);
            let readings = test.readings(&mut draw, &tape);
            (test, Adjuster::of(&readings, &AdjusterLimits::default(), None))
        })
        .collect();
    let mut tally = Tally::default();
    for (test, adjuster) in &results {
        let truth = &test.truth;
        tally.cases += 1;
        let response = &adjuster.response[0];
        let Some(curve) = &response.curve else { continue };
        tally.fitted += 1;
        let gain = curve.gain_percent_per_100_mbar;
        let dead = curve.dead_band_mbar.unwrap();
        let close = (gain.value / truth.gain_percent_per_100_mbar - 1.0).abs() < 0.05;
        tally.gain_near += usize::from(close);
        tally.dead_near += usize::from((dead.value - truth.dead_band_mbar).abs() < 15.0);
        tally.hold("rest", curve.rest_percent.holds(truth.rest_percent));
        tally.hold("gain", gain.holds(truth.gain_percent_per_100_mbar));
        tally.hold("dead band", dead.holds(truth.dead_band_mbar));
        let loop_ = curve.hysteresis.unwrap();
        tally.hold("hysteresis", loop_.gap_mbar.holds(truth.hysteresis_mbar));
        // The twin: both branches walked up and down in steps of 0.5 mbar.
        let mut up = Vec::new();
        let mut actuator = Actuator::new(*truth);
        let places: Vec<f64> = (0..=1000).map(|n| 0.5 * f64::from(n)).collect();
        up.extend(places.iter().map(|&p| actuator.percent_at(p)));
        let mut down: Vec<f64> = places.iter().rev().map(|&p| actuator.percent_at(p)).collect();
        down.reverse();
        let area: f64 = up.iter().zip(&down).map(|(u, d)| 0.5 * (d - u).abs()).sum();
        tally.hold("loss area", loop_.loss_area_percent_mbar.holds(area));
        let largest = up.iter().zip(&down).map(|(u, d)| (d - u).abs()).fold(0.0, f64::max);
        tally.hold("gap in per cent", loop_.gap_percent.holds(largest));
        let stopped = truth.end_stop_mbar < test.highest_mbar;
        tally.stop_there += usize::from(stopped);
        match curve.end_stop_mbar {
            Some(stop) if stopped => {
                tally.stop_found += 1;
                tally.hold("end stop", stop.holds(truth.end_stop_mbar));
            }
            Some(_) => tally.stop_false += 1,
            None => {
                let low = curve.no_end_stop_below_mbar;
                tally.lower_wrong += usize::from(low.is_some_and(|low| low > truth.end_stop_mbar));
            }
        }
        tally.stuck += usize::from(response.stick_slip == StickSlip::Seen);
        let raises = truth.gain_percent_per_100_mbar < 0.0;
        assert_eq!(response.polarity.unwrap().vacuum_raises, raises, "{truth:?}");
    }
    tally
}

fn print(name: &str, t: &Tally) {
    println!(
        "{name}: {} of {} fitted; gain within 5 %: {:.3}; dead band within 15 mbar: {:.3}; end stop found {} of {}, where \
         there is none {}; limit below a true stop wrong {}; stick-slip falsely {}",
        t.fitted,
        t.cases,
        share(t.gain_near, t.cases),
        share(t.dead_near, t.cases),
        t.stop_found,
        t.stop_there,
        t.stop_false,
        t.lower_wrong,
        t.stuck
    );
    for (what, held, of) in &t.held {
        println!("  {what}: the interval holds the truth in {:.3} of {of}", share(*held, *of));
    }
}

#[test]
fn response_of_made_adjusters() {
    let t = run_responses(1000, cases(100), |draw| draw.between(0.0, 10.0));
    print("gauge 0 to 10 mbar", &t);
    for gauge in [0.0, 2.5, 5.0, 7.5, 10.0] {
        let t = run_responses(2000, cases(100), |_| gauge);
        print(&format!("gauge {gauge} mbar"), &t);
    }
}
