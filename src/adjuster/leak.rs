//! Leak-down: what the beam does while the pump's valve is shut.
//!
//! The vacuum in a fixed volume behind a small leak dies away as p(t) = p₀·exp(−t/τ): the flow through the leak goes with
//! the pressure across it, at one temperature (common practice, no source; a leak through which air goes at the speed of
//! sound, or a hose that gives, makes it differ). Where the lamp's response to vacuum was measured at the same stage, the
//! series is fitted through it, p(t) → curve → inclination, together with the readings of the response themselves, so that
//! the curve's uncertainty is carried and the flat parts (dead band, end stop, play) claim nothing about the vacuum.
//! Without a response only the inclination's own course is stated.
//!
//! Photos are timed by EXIF, whose clock mostly shows whole seconds: a time is uniform over one second, so that it has a
//! standard deviation of 1/√12 s (JCGM 100:2008, 4.3.7), which counts by the beam's speed. Where the file has the digits
//! behind the second, it is less.

use super::Interval;
use super::curve::{GAP, PARAMETERS, Theta, distance, inclination_percent};
use super::fitted::{Fixed, RISE_1_IN_200, RISE_95, STEPS, WEAK};
use super::response::{Fitted, Response};
use super::travel::{Series, by_lamp_and_stage};
use crate::aim::{COVERAGE_FACTOR_95, Common, ShotReading};
use crate::fit::{Fit, Loss, Problem};
use crate::photo::Capture;
use crate::record::{AdjusterLimits, Side, Stage};
use serde::{Deserialize, Serialize};

/// What one lamp did at one stage while the pump's valve was shut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeakDown {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// What may be said of it.
    pub state: LeakState,
    /// The same in plain words, with figures.
    pub words: String,
    /// From the first timed photo to the last, s.
    pub duration_s: f64,
    /// True where the figures in mbar rest on the lamp's response to vacuum; else only the inclination is known.
    pub through_response: bool,
    /// Change of the inclination over the series, per cent.
    pub creep_percent: Option<Interval>,
    /// Time constant of the vacuum, s; `None` without a response.
    pub time_constant_s: Option<Interval>,
    /// Time in which half of the vacuum is lost, s.
    pub half_time_s: Option<Interval>,
    /// Without a response: time constant of the beam's own course, s, where one exponential fits it. It is that of the
    /// vacuum only if the beam lay on the slope of its response all the time.
    pub creep_time_constant_s: Option<Interval>,
    /// Vacuum at the first photo, mbar.
    pub start_vacuum_mbar: Option<f64>,
    /// Loss of vacuum at the first photo, mbar per minute.
    pub start_rate_mbar_per_min: Option<Interval>,
    /// What is surely not lost over the series (95 %, one-sided), mbar.
    pub loss_below_mbar: Option<f64>,
    /// What the inclination surely did not change by over the series (95 %), per cent.
    pub creep_below_percent: Option<f64>,
    /// The timed photos, in order of time.
    pub points: Vec<LeakPoint>,
    /// The fitted course, for a plot.
    pub course: Vec<LeakSample>,
    /// What one should know of it, in plain words.
    pub warnings: Vec<String>,
}

/// What may be said of a leak-down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LeakState {
    /// Vacuum is surely lost (a tight system is said to leak once in 200 runs at the most).
    Leaks,
    /// No loss is seen, and a limit to it can be stated.
    Holds,
    /// Neither.
    CannotTell,
}

impl std::fmt::Display for LeakState {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Leaks => "leaks",
            Self::Holds => "holds",
            Self::CannotTell => "cannot tell",
        })
    }
}

/// One photo of a leak-down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeakPoint {
    /// Time since the first photo, s.
    pub elapsed_s: f64,
    /// Inclination, per cent.
    pub percent: f64,
    /// Half-width of the 95 % interval of what differs from photo to photo, per cent.
    pub reading_u95_percent: f64,
    /// Reading less the fitted course, per cent.
    pub residual_percent: Option<f64>,
}

/// A place of the fitted course.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeakSample {
    /// Time since the first photo, s.
    pub elapsed_s: f64,
    /// Inclination, per cent.
    pub percent: f64,
    /// Vacuum, mbar; `None` without a response.
    pub vacuum_mbar: Option<f64>,
}

/// Fewer photos than this hold no course in time.
const LEAST_PHOTOS: usize = 4;
/// In less than this the clock's second is too coarse for a course in time, s.
const LEAST_DURATION_S: f64 = 5.0;
/// Places of the fitted course.
const SAMPLES: usize = 61;
/// One atmosphere, which no vacuum exceeds, mbar.
const ATMOSPHERE_MBAR: f64 = 1013.25;
/// Rise of chi-square at a one-sided 95 % limit: 1.645².
const RISE_95_ONE_SIDED: f64 = 2.705_543;
/// A limit to the loss that is more than this share of the vacuum is no limit.
const MOST_SHARE_LOST: f64 = 0.5;

/// A timed reading: minutes since the first and one standard deviation of the clock, inclination and its standard
/// deviation, per cent.
#[derive(Debug, Clone, Copy)]
struct Timed {
    minutes: f64,
    clock_sd_min: f64,
    percent: f64,
    sd_percent: f64,
}

/// All leak-down series of a job.
pub(super) fn leaks(
    readings: &[ShotReading],
    responses: &[(Response, Option<Fitted>)],
    limits: &AdjusterLimits,
) -> Vec<LeakDown> {
    by_lamp_and_stage(readings, |r| r.shot.sealed)
        .into_iter()
        .map(|((lamp, stage), members)| {
            let fitted = responses
                .iter()
                .find(|(r, _)| r.lamp == lamp && r.stage == stage)
                .and_then(|(_, fitted)| fitted.as_ref());
            leak((lamp, stage), &members, fitted, limits)
        })
        .collect()
}

fn leak((lamp, stage): Series, members: &[&ShotReading], fitted: Option<&Fitted>, limits: &AdjusterLimits) -> LeakDown {
    let mut timed: Vec<(f64, f64, &ShotReading)> = Vec::new();
    let mut untimed = 0;
    let offsets = members.iter().all(|r| r.capture.utc_offset_s().is_some());
    let clocks = clock(&members.iter().map(|r| &r.capture).collect::<Vec<_>>());
    for (&reading, clock) in members.iter().zip(clocks) {
        match clock {
            Some((local_s, sd_s)) if reading.result.is_ok() => {
                let offset_s = if offsets { reading.capture.utc_offset_s() } else { None };
                timed.push((local_s - offset_s.unwrap_or(0.0), sd_s, reading));
            }
            Some(_) => {}
            None => untimed += 1,
        }
    }
    timed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let first_s = timed.first().map_or(0.0, |(s, ..)| *s);
    let series: Vec<Timed> = timed
        .iter()
        .filter_map(|(s, sd_s, reading)| {
            let aim = &reading.result.as_ref().ok()?.aim;
            Some(Timed {
                minutes: (s - first_s) / 60.0,
                clock_sd_min: sd_s / 60.0,
                percent: aim.inclination_percent,
                sd_percent: (aim.reading_u95_percent() / COVERAGE_FACTOR_95).max(1e-4),
            })
        })
        .collect();
    let duration_s = series.last().map_or(0.0, |t| 60.0 * t.minutes);
    let mut leak = LeakDown {
        lamp,
        stage,
        state: LeakState::CannotTell,
        words: String::new(),
        duration_s,
        through_response: false,
        creep_percent: None,
        time_constant_s: None,
        half_time_s: None,
        creep_time_constant_s: None,
        start_vacuum_mbar: None,
        start_rate_mbar_per_min: None,
        loss_below_mbar: None,
        creep_below_percent: None,
        points: series
            .iter()
            .map(|t| LeakPoint {
                elapsed_s: 60.0 * t.minutes,
                percent: t.percent,
                reading_u95_percent: COVERAGE_FACTOR_95 * t.sd_percent,
                residual_percent: None,
            })
            .collect(),
        course: Vec::new(),
        warnings: Vec::new(),
    };
    if untimed > 0 {
        leak.warnings.push(format!(
            "{untimed} photos with the pump's valve shut carry no time (EXIF) and are left out; give the files as the \
             camera wrote them"
        ));
    }
    if series.len() < LEAST_PHOTOS || duration_s < LEAST_DURATION_S {
        leak.words = format!(
            "cannot tell: {} timed photos over {duration_s:.0} s; take at least {LEAST_PHOTOS}, better 10, spread over some \
             minutes",
            series.len()
        );
        return leak;
    }
    let mut course = Course::of(&series);
    // Of what the photos share (sheets, lamp, tape), the part that differs from the first beam to the last counts too.
    let common = |reading: &ShotReading| Some(reading.result.as_ref().ok()?.aim.common.clone());
    let ends = timed.first().zip(timed.last());
    if let Some((first, last)) = ends.and_then(|(first, last)| Some((common(first.2)?, common(last.2)?))) {
        let left = Common::sum([(1.0, &last), (-1.0, &first)]);
        course.creep = course
            .creep
            .widened(COVERAGE_FACTOR_95 * left.variance_percent2().sqrt());
    }
    leak.creep_percent = Some(course.creep);
    // The gauge was read when the valve was shut; what it showed then is the most there can be at the first photo.
    let most_mbar = timed
        .iter()
        .filter_map(|(_, _, r)| {
            let sd = r.shot.vacuum_sd.unwrap_or(limits.vacuum_sd).mbar();
            r.shot.vacuum.map(|v| v.mbar() + 2.0 * sd)
        })
        .max_by(f64::total_cmp)
        .unwrap_or(ATMOSPHERE_MBAR)
        .min(ATMOSPHERE_MBAR);
    let through = fitted.and_then(|fitted| Through::new(fitted, &series, most_mbar).state(course.creeps, &mut leak));
    if through.is_none() {
        course.state(&series, &mut leak);
        if fitted.is_some() {
            leak.warnings.push(
                "the beam creeps in a way that the lamp's response to vacuum does not explain, so that the response is left \
                 out: the pump was worked in between, something was changed after the response was photographed, or a photo \
                 stands in the wrong series"
                    .to_owned(),
            );
        }
    }
    if fitted.is_some_and(|f| !f.has_releasing) && leak.through_response {
        leak.warnings.push(
            "the response was photographed only while vacuum was applied; with hysteresis the beam answers a loss later \
             than these figures assume: add photos with branch = \"releasing\""
                .to_owned(),
        );
    }
    leak
}

/// The inclination's own course: y = y₀ + B (1 − exp(−λt))/λ, a straight line at λ = 0.
struct Course {
    /// y₀ in per cent, B in per cent per minute, λ per minute.
    parameters: [f64; 3],
    creep: Interval,
    creeps: bool,
    /// λ, where both its ends are known and above zero, per minute.
    rate: Option<Interval>,
    scatters: bool,
}

/// (1 − exp(−λt))/λ, which is t at λ = 0.
fn decayed(rate_per_min: f64, minutes: f64) -> f64 {
    if rate_per_min.abs() * minutes < 1e-9 {
        minutes
    } else {
        -(-rate_per_min * minutes).exp_m1() / rate_per_min
    }
}

impl Course {
    fn at(parameters: &[f64; 3], minutes: f64) -> f64 {
        parameters[0] + parameters[1] * decayed(parameters[2], minutes)
    }

    fn fit(series: &[Timed], rate_per_min: Option<f64>, start: [f64; 3]) -> Option<(Fit, [f64; 3])> {
        let whole = |p: &[f64]| [p[0], p[1], rate_per_min.unwrap_or_else(|| p[p.len() - 1])];
        let residuals = |p: &[f64]| {
            let all = whole(p);
            series
                .iter()
                .map(|t| {
                    let speed = all[1] * (-all[2] * t.minutes).exp();
                    (t.percent - Self::at(&all, t.minutes)) / t.sd_percent.hypot(speed * t.clock_sd_min)
                })
                .collect::<Vec<f64>>()
        };
        let duration = series.last().map_or(1.0, |t| t.minutes);
        let steps = [1e-4, 1e-4 / duration, 1e-4 / duration];
        let free = if rate_per_min.is_some() { 2 } else { 3 };
        let problem = Problem {
            residuals: &residuals,
            priors: 0,
            steps: &steps[..free],
            loss: Loss::Square,
        };
        let fit = problem.solve(&start[..free])?;
        let all = whole(&fit.parameters);
        Some((fit, all))
    }

    fn of(series: &[Timed]) -> Self {
        /// Rise of chi-square against a constant that stillness reaches once in 400 runs with one parameter more, and with
        /// two: together once in 200.
        const STRAIGHT: f64 = 9.140_6;
        const CURVED: f64 = 11.982_9;
        let duration = series.last().map_or(1.0, |t| t.minutes);
        let (first, last) = (series[0].percent, series[series.len() - 1].percent);
        let start = [first, (last - first) / duration, 0.0];
        let weight: f64 = series.iter().map(|t| t.sd_percent.powi(-2)).sum();
        let mean = series.iter().map(|t| t.percent * t.sd_percent.powi(-2)).sum::<f64>() / weight;
        let still: f64 = series.iter().map(|t| ((t.percent - mean) / t.sd_percent).powi(2)).sum();
        let straight = Self::fit(series, Some(0.0), start);
        let bent = [0.3, 1.0, 3.0, 8.0]
            .iter()
            .filter_map(|share| {
                let rate = share / duration;
                let start = [first, (last - first) / decayed(rate, duration), rate];
                Self::fit(series, None, start)
            })
            .filter(|(_, all)| (0.0..=40.0 / duration).contains(&all[2]))
            .min_by(|a, b| a.0.cost.total_cmp(&b.0.cost));
        let chi = |fit: &Option<(Fit, [f64; 3])>| fit.as_ref().map_or(f64::INFINITY, |(f, _)| 2.0 * f.cost);
        let (straight_chi, bent_chi) = (chi(&straight), chi(&bent));
        let creeps = still - straight_chi > STRAIGHT || still - bent_chi > CURVED;
        // The curved course is taken where it is worth its parameter (Akaike's criterion: 2 for each).
        let curved = bent_chi < straight_chi - 2.0;
        let scatters = bent_chi.min(straight_chi) > scatter_limit(series.len().saturating_sub(3));
        let rate = if creeps && curved && !scatters {
            bent.as_ref()
                .and_then(|(_, all)| Self::rate_interval(series, all, bent_chi, duration))
        } else {
            None
        };
        let chosen = if curved { bent } else { straight };
        let (parameters, creep) = match &chosen {
            Some((fit, all)) => {
                let change = |p: &[f64; 3]| Self::at(p, duration) - p[0];
                let free = fit.parameters.len();
                let slope = |k: usize| {
                    let step = 1e-4 / duration;
                    let (mut up, mut down) = (*all, *all);
                    up[k] += step;
                    down[k] -= step;
                    (change(&up) - change(&down)) / (2.0 * step)
                };
                let slopes: Vec<f64> = (0..free).map(slope).collect();
                let mut variance = 0.0;
                for k in 0..free {
                    for l in 0..free {
                        variance += slopes[k] * fit.covariance[(k, l)] * slopes[l];
                    }
                }
                (*all, Interval::even(change(all), COVERAGE_FACTOR_95 * variance.sqrt()))
            }
            None => ([mean, 0.0, 0.0], Interval::new(last - first, None, None)),
        };
        Self {
            parameters,
            creep,
            creeps,
            rate,
            scatters,
        }
    }

    fn rate_interval(series: &[Timed], best: &[f64; 3], chi_square: f64, duration: f64) -> Option<Interval> {
        let rise =
            |rate: f64| Self::fit(series, Some(rate), *best).map_or(f64::INFINITY, |(f, _)| 2.0 * f.cost - chi_square);
        let low = edge(&rise, best[2], 0.0, RISE_95)?;
        let high = edge(&rise, best[2], 40.0 / duration, RISE_95)?;
        Some(Interval::new(best[2], Some(low), Some(high)))
    }

    /// What the inclination alone says.
    fn state(&self, series: &[Timed], leak: &mut LeakDown) {
        let minutes = leak.duration_s / 60.0;
        for (point, t) in leak.points.iter_mut().zip(series) {
            point.residual_percent = Some(t.percent - Self::at(&self.parameters, t.minutes));
        }
        leak.course = sampled(minutes)
            .map(|t| LeakSample {
                elapsed_s: 60.0 * t,
                percent: Self::at(&self.parameters, t),
                vacuum_mbar: None,
            })
            .collect();
        let most = |i: &Interval| i.low.zip(i.high).map(|(l, h)| l.abs().max(h.abs()));
        if self.creeps {
            leak.state = LeakState::Leaks;
            leak.words = format!("creeps by {} % in {minutes:.1} minutes", self.creep.text(2));
            if let Some(time) = self.rate.as_ref().and_then(|rate| inverse(rate, 60.0)) {
                leak.words += &format!(", with a time constant of the beam of {} s", time.text(0));
                leak.creep_time_constant_s = Some(time);
            }
            leak.words += "; without the lamp's response to vacuum it is not known how much vacuum that is";
        } else if let Some(most) = most(&self.creep) {
            leak.state = LeakState::Holds;
            leak.creep_below_percent = Some(most);
            leak.words = format!("holds: the beam changes by less than {most:.2} % in {minutes:.1} minutes");
        } else {
            leak.words = "cannot tell: the photos hold no course in time; take more of them".to_owned();
        }
        if self.scatters {
            leak.warnings.push(UNEVEN.to_owned());
        }
    }
}

const UNEVEN: &str = "the beam does not follow one smooth course: it may stick, or the pump was worked in between, or a photo \
                      stands in the wrong series";

/// Chi-square that one right series in 100 exceeds (Wilson and Hilferty's cube root, A&S 26.4.17, with z = 2.326).
fn scatter_limit(degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 {
        return f64::INFINITY;
    }
    let spread = 2.0 / (9.0 * degrees_of_freedom as f64);
    degrees_of_freedom as f64 * (1.0 - spread + 2.326_348 * spread.sqrt()).powi(3)
}

fn sampled(minutes: f64) -> impl Iterator<Item = f64> {
    (0..SAMPLES).map(move |n| minutes * n as f64 / (SAMPLES - 1) as f64)
}

/// `scale` over an interval.
fn inverse(of: &Interval, scale: f64) -> Option<Interval> {
    let end = |v: Option<f64>| v.filter(|v| *v > 0.0).map(|v| scale / v);
    (of.value > 0.0).then(|| Interval::new(scale / of.value, end(of.high), end(of.low)))
}

/// Where `rise` passes `limit` between `inside` and `bound`; `None` where it does not.
fn edge(rise: &dyn Fn(f64) -> f64, inside: f64, bound: f64, limit: f64) -> Option<f64> {
    if rise(bound) <= limit {
        return None;
    }
    // From inside outwards, so that the first crossing is found; then halved.
    let (mut inside, mut outside, mut step) = (inside, bound, 0.02 * (bound - inside));
    loop {
        let at = inside + step;
        if (bound - at) * step.signum() <= 0.0 {
            break;
        }
        if rise(at) > limit {
            outside = at;
            break;
        }
        inside = at;
        step *= 1.6;
    }
    for _ in 0..14 {
        let middle = 0.5 * (inside + outside);
        if rise(middle) > limit {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    Some(0.5 * (inside + outside))
}

/// What is held at a value while the rest is fitted.
#[derive(Debug, Clone, Copy)]
enum Held {
    Nothing,
    /// λ, per minute.
    Rate(f64),
    /// Loss at the start, mbar per minute.
    StartRate(f64),
    /// Loss over the series, mbar.
    Loss(f64),
}

/// The series through the response: readings of both fitted together.
struct Through<'a> {
    fitted: &'a Fitted,
    series: &'a [Timed],
    minutes: f64,
    most_mbar: f64,
}

/// A minimum of [`Through`].
#[derive(Debug, Clone, Copy)]
struct Minimum {
    theta: Theta,
    start_mbar: f64,
    rate_per_min: f64,
    chi_square: f64,
}

impl<'a> Through<'a> {
    fn new(fitted: &'a Fitted, series: &'a [Timed], most_mbar: f64) -> Self {
        Self {
            fitted,
            series,
            minutes: series.last().map_or(1.0, |t| t.minutes),
            most_mbar,
        }
    }

    /// Vacuum is lost, so that the beam follows the releasing branch, turned at the vacuum of the start.
    fn at(theta: &Theta, start_mbar: f64, rate_per_min: f64, minutes: f64) -> f64 {
        let vacuum = start_mbar * (-rate_per_min * minutes).exp();
        inclination_percent(theta, start_mbar, vacuum, true)
    }

    fn residuals(&self, theta: &Theta, start_mbar: f64, rate_per_min: f64) -> impl Iterator<Item = f64> {
        let theta = *theta;
        let response = self
            .fitted
            .data
            .points
            .iter()
            .map(move |p| distance(&theta, self.fitted.data.turn_mbar, p) / self.fitted.scale);
        let series = self.series.iter().map(move |t| {
            let at = |minutes| Self::at(&theta, start_mbar, rate_per_min, minutes);
            let moved = 0.5 * (at(t.minutes + t.clock_sd_min) - at(t.minutes - t.clock_sd_min));
            (t.percent - at(t.minutes)) / t.sd_percent.hypot(moved)
        });
        response.chain(series)
    }

    fn chi_square(&self, theta: &Theta, start_mbar: f64, rate_per_min: f64) -> f64 {
        self.residuals(theta, start_mbar, rate_per_min).map(|r| r * r).sum()
    }

    fn rate(&self, held: Held, start_mbar: f64, free: f64) -> f64 {
        match held {
            Held::Nothing => free,
            Held::Rate(rate) => rate,
            Held::StartRate(start_rate) => start_rate / start_mbar,
            // Not a number where more is lost than there is: such a step is not taken.
            Held::Loss(loss) => -(1.0 - loss / start_mbar).ln() / self.minutes,
        }
    }

    /// Minimises from a start; `pinned` keeps the vacuum of the start.
    fn descend(&self, start: &Minimum, held: Held, pinned: Option<f64>) -> Option<Minimum> {
        let fixed: &Fixed = &self.fitted.fixed;
        let free: Vec<usize> = (0..PARAMETERS).filter(|&k| fixed[k].is_none()).collect();
        let whole = |p: &[f64]| {
            let mut theta = start.theta;
            for (&k, value) in free.iter().zip(p) {
                theta[k] = *value;
            }
            let mut rest = p[free.len()..].iter().copied();
            let start_mbar = pinned.or_else(|| rest.next()).unwrap_or(start.start_mbar);
            let rate = self.rate(held, start_mbar, rest.next().unwrap_or(0.0));
            (theta, start_mbar, rate)
        };
        let mut from: Vec<f64> = free.iter().map(|&k| start.theta[k]).collect();
        let mut steps: Vec<f64> = free.iter().map(|&k| STEPS[k]).collect();
        let mut weak: Vec<f64> = free.iter().map(|&k| WEAK[k]).collect();
        if pinned.is_none() {
            from.push(start.start_mbar);
            steps.push(0.02);
            weak.push(1e4);
        }
        if matches!(held, Held::Nothing) {
            from.push(start.rate_per_min);
            steps.push(1e-4 / self.minutes);
            weak.push(1e3 / self.minutes);
        }
        let residuals = |p: &[f64]| {
            let (theta, start_mbar, rate) = whole(p);
            let weak = p.iter().zip(&from).zip(&weak).map(|((p, from), sd)| (p - from) / sd);
            self.residuals(&theta, start_mbar, rate)
                .chain(weak)
                .collect::<Vec<f64>>()
        };
        let problem = Problem {
            residuals: &residuals,
            priors: from.len(),
            steps: &steps,
            loss: Loss::Square,
        };
        let fit = problem.solve(&from)?;
        let (theta, start_mbar, rate_per_min) = whole(&fit.parameters);
        if pinned.is_none() && !(1.0..=self.most_mbar).contains(&start_mbar) {
            let bound = start_mbar.clamp(1.0, self.most_mbar);
            let again = Minimum {
                theta,
                start_mbar: bound,
                rate_per_min,
                chi_square: 0.0,
            };
            return self.descend(&again, held, Some(bound));
        }
        if rate_per_min < 0.0 && matches!(held, Held::Nothing) {
            return self.descend(start, Held::Rate(0.0), pinned);
        }
        let chi_square = self.chi_square(&theta, start_mbar, rate_per_min);
        chi_square.is_finite().then_some(Minimum {
            theta,
            start_mbar,
            rate_per_min,
            chi_square,
        })
    }

    fn minimise(&self, held: Held, warm: &[Minimum]) -> Option<Minimum> {
        /// Starts that are taken on.
        const KEPT: usize = 3;
        let theta = self.fitted.theta;
        let mut starts: Vec<Minimum> = Vec::new();
        for n in 1..=24 {
            let start_mbar = self.most_mbar.min(800.0) * f64::from(n) / 24.0;
            let rates: Vec<f64> = match held {
                Held::Nothing => [0.0, 0.03, 0.1, 0.2, 0.4, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 15.0]
                    .iter()
                    .map(|share| share / self.minutes)
                    .collect(),
                _ => vec![self.rate(held, start_mbar, 0.0)],
            };
            for rate_per_min in rates {
                starts.push(Minimum {
                    theta,
                    start_mbar,
                    rate_per_min,
                    chi_square: self.chi_square(&theta, start_mbar, rate_per_min),
                });
            }
        }
        starts.retain(|s| s.chi_square.is_finite());
        starts.sort_by(|a, b| a.chi_square.total_cmp(&b.chi_square));
        starts.truncate(KEPT);
        starts.extend_from_slice(warm);
        starts
            .iter()
            .filter_map(|start| self.descend(start, held, None))
            .min_by(|a, b| a.chi_square.total_cmp(&b.chi_square))
    }

    /// States what the series says; `None` where it cannot be fitted through the response: also where the beam surely
    /// `creeps` and the response, which does not fit, would have it that nothing is lost.
    fn state(&self, creeps: bool, leak: &mut LeakDown) -> Option<()> {
        let mut best = self.minimise(Held::Nothing, &[])?;
        let tight = self.minimise(Held::Rate(0.0), &[best])?;
        if tight.chi_square < best.chi_square {
            best = tight;
        }
        let readings = self.series.len() + self.fitted.data.points.len();
        let free = 2 + self.fitted.fixed.iter().filter(|f| f.is_none()).count();
        let freedom = readings.saturating_sub(free);
        let scatters = best.chi_square > scatter_limit(freedom);
        let scale2 = if scatters {
            best.chi_square / freedom as f64
        } else {
            1.0
        };
        let best_chi = best.chi_square;
        let rise = |held: Held| {
            self.minimise(held, &[best])
                .map_or(f64::INFINITY, |m| m.chi_square - best_chi)
        };
        let rate_rise = |rate: f64| rise(Held::Rate(rate));
        let start_rate_rise = |rate: f64| rise(Held::StartRate(rate));
        let loss_rise = |loss: f64| rise(Held::Loss(loss));
        let leaks = tight.chi_square - best.chi_square > RISE_1_IN_200 * scale2;
        if creeps && scatters && !leaks {
            return None;
        }
        leak.through_response = true;
        leak.start_vacuum_mbar = Some(best.start_mbar);
        for (point, t) in leak.points.iter_mut().zip(self.series) {
            let at = Self::at(&best.theta, best.start_mbar, best.rate_per_min, t.minutes);
            point.residual_percent = Some(t.percent - at);
        }
        leak.course = sampled(self.minutes)
            .map(|t| LeakSample {
                elapsed_s: 60.0 * t,
                percent: Self::at(&best.theta, best.start_mbar, best.rate_per_min, t),
                vacuum_mbar: Some(best.start_mbar * (-best.rate_per_min * t).exp()),
            })
            .collect();
        if scatters {
            leak.warnings.push(UNEVEN.to_owned());
        }
        if leaks {
            let limit = RISE_95 * scale2;
            let fastest = 60.0 / self.minutes;
            let rate = Interval::new(
                best.rate_per_min,
                edge(&rate_rise, best.rate_per_min, 0.0, limit),
                edge(&rate_rise, best.rate_per_min, fastest, limit),
            );
            let start_rate = best.start_mbar * best.rate_per_min;
            leak.state = LeakState::Leaks;
            leak.time_constant_s = inverse(&rate, 60.0);
            leak.half_time_s = inverse(&rate, 60.0 * std::f64::consts::LN_2);
            leak.start_rate_mbar_per_min = Some(Interval::new(
                start_rate,
                edge(&start_rate_rise, start_rate, 0.0, limit),
                edge(&start_rate_rise, start_rate, fastest * self.most_mbar, limit),
            ));
            if let (Some(time), Some(half), Some(speed)) =
                (&leak.time_constant_s, &leak.half_time_s, &leak.start_rate_mbar_per_min)
            {
                leak.words = format!(
                    "leaks: {} mbar per minute at the start, half of it lost in {} s (time constant {} s)",
                    speed.text(1),
                    half.text(0),
                    time.text(0)
                );
            }
            return Some(());
        }
        let lost = best.start_mbar * -(-best.rate_per_min * self.minutes).exp_m1();
        let below = edge(&loss_rise, lost, self.most_mbar - 1.0, RISE_95_ONE_SIDED * scale2);
        match below {
            Some(below) if below <= MOST_SHARE_LOST * best.start_mbar => {
                leak.state = LeakState::Holds;
                leak.loss_below_mbar = Some(below);
                leak.words = format!("holds: less than {below:.0} mbar lost in {:.1} minutes", self.minutes);
            }
            _ => {
                let play = best.theta[GAP];
                let why = if play > 10.0 {
                    "the beam lies where it does not answer a loss (end stop, dead band, or the play of its hysteresis)"
                } else {
                    "the beam lies where it does not answer a loss (end stop or dead band)"
                };
                leak.words = format!(
                    "cannot tell: {why}; pump only to the middle of the travel, release a little, shut the valve, and take \
                     photos for longer"
                );
            }
        }
        Some(())
    }
}

/// Each photo's time on the camera's clock, s, and one standard deviation of it, s; `None` without a time.
///
/// A clock that shows whole seconds is read at its full second, so that the moment lies half a second later with a uniform
/// spread of one second. Where EXIF has the digits behind the second, the spread is a tenth: the coarsest that a digit can
/// stand for, since EXIF does not say how fine they are. Digits that are the same in all photos are no clock's.
fn clock(captures: &[&Capture]) -> Vec<Option<(f64, f64)>> {
    /// Spread of a uniform distribution of width 1 as a standard deviation, 1/√12 (JCGM 100:2008, 4.3.7).
    const UNIFORM: f64 = 0.288_675;
    let digits: Vec<f64> = captures.iter().filter_map(|c| c.subsecond_s).collect();
    let run = digits.iter().any(|d| *d != digits[0]);
    captures
        .iter()
        .map(|capture| {
            let time_s = capture.clock_s()?;
            Some(match capture.subsecond_s {
                Some(_) if run => (time_s, 0.1 * UNIFORM),
                Some(digits) => (time_s - digits + 0.5, UNIFORM),
                None => (time_s + 0.5, UNIFORM),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_counts_as_finely_as_it_runs() {
        let at = |taken: &str, subsecond_s| Capture {
            taken: Some(taken.to_owned()),
            subsecond_s,
            ..Capture::default()
        };
        let (a, b) = ("2031-03-04T23:59:58", "2031-03-05T00:00:01");
        let read = |captures: [Capture; 2]| {
            let read = clock(&captures.iter().collect::<Vec<_>>());
            let [(from, from_sd), (to, to_sd)] = [read[0].unwrap(), read[1].unwrap()];
            (to - from, from_sd, to_sd)
        };
        // 1/√12 s, a tenth of it where the digits run, and half a second between a read and an unread fraction.
        assert_eq!(read([at(a, None), at(b, None)]), (3.0, 0.288_675, 0.288_675));
        assert_eq!(read([at(a, Some(0.0)), at(b, Some(0.0))]), (3.0, 0.288_675, 0.288_675));
        let (between, from_sd, to_sd) = read([at(a, Some(0.25)), at(b, Some(0.75))]);
        assert!((between - 3.5).abs() < 1e-6 && from_sd < 0.03 && to_sd < 0.03);
        assert_eq!(read([at(a, Some(0.25)), at(b, None)]).0, 3.0);
        assert_eq!(clock(&[&Capture::default()]), [None]);
    }

    #[test]
    fn a_slow_decay_is_a_line_and_a_fast_one_saturates() {
        assert!((decayed(1e-12, 3.0) - 3.0).abs() < 1e-9);
        assert!((decayed(2.0, 50.0) - 0.5).abs() < 1e-9);
        // On both sides of the seam it is 1 − λ/2, to the second order.
        for rate in [0.99e-9, 1.01e-9] {
            assert!((decayed(rate, 1.0) - (1.0 - 0.5 * rate)).abs() < 6e-10);
        }
        assert!((decayed(1e-4, 1.0) - (1.0 - 0.5e-4)).abs() < 2e-9);
    }
}
