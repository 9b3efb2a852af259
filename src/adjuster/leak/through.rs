//! A leak-down read through the lamp's response to vacuum: readings of both sampled together, with the vacuum lost and without.

use super::super::Interval;
use super::super::posterior::{GAP, Leak, Model, SCATTER, Shut, Valve};
use super::super::response::Fitted;
use super::super::sample::{Sample, quantile};
use super::clock::{Gauge, Timed};
use super::{ATMOSPHERE_MBAR, Crept, LeakDown, LeakFinding, MOST_SHARE_LOST, scatters};
use crate::adjuster::Movement;
use crate::warning::Warning;

/// A leak is stated where the readings are this many times as probable with one as without. By Markov's inequality a tight
/// system comes to that once in as many runs at the most, since the mean of the ratio is 1 where there is none.
const SURE_ODDS: f64 = 200.0;
/// A vacuum at which the leak stops is stated where it is surely more than this share of the start (common practice, no source).
const LEAST_RESIDUAL_SHARE: f64 = 0.05;
/// A beam is on its slope where it moves by at least this share of the gain (common practice, no source).
const LEAST_SLOPE_SHARE: f64 = 0.3;
/// Share of the draws on one side of a 95 % interval.
const ONE_SIDE: f64 = 0.025;
/// The gauge's reading is held against the response within so many of its standard deviations.
const GAUGE_SDS: f64 = 2.0;
/// Play below this is no reason for a beam that does not answer, mbar: the loss of which nothing would be said is larger
/// (common practice, no source).
const LEAST_PLAY_MBAR: f64 = 10.0;

/// The series through the response.
pub(super) struct Through<'a> {
    fitted: &'a Fitted,
    series: &'a [Timed],
    minutes: f64,
    most_mbar: f64,
    /// What the gauge showed, in order of time.
    gauges: &'a [Gauge],
}

/// What the readings leave possible with the valve taken one way.
struct Possible {
    model: Model,
    sample: Sample,
}

impl Possible {
    /// The value of which `share` of the draws lie below.
    fn quantile(&self, share: f64, of: &dyn Fn(&Leak) -> f64) -> Option<f64> {
        let value = |p: &[f64]| self.model.leak(p).map_or(f64::NAN, |leak| of(&leak));
        quantile(&mut self.sample.values(1.0, value), share)
    }

    fn interval(&self, of: &dyn Fn(&Leak) -> f64) -> Interval {
        let at = |share| self.quantile(share, of);
        let value = at(0.5).unwrap_or(f64::NAN);
        Interval::new(value, at(ONE_SIDE), at(1.0 - ONE_SIDE))
    }

    /// The share of the draws in which something is so.
    fn probability(&self, is: &dyn Fn(&[f64], &Leak) -> bool) -> f64 {
        let value = |p: &[f64]| f64::from(u8::from(self.model.leak(p).is_some_and(|leak| is(p, &leak))));
        self.sample.values(1.0, value).iter().map(|(v, w)| v * w).sum()
    }
}

impl<'a> Through<'a> {
    pub fn new(fitted: &'a Fitted, series: &'a [Timed], most_mbar: f64, gauges: &'a [Gauge]) -> Self {
        Self {
            fitted,
            series,
            minutes: series.last().map_or(1.0, |t| t.minutes),
            most_mbar,
            gauges,
        }
    }

    /// With no more vacuum at the first photo than `most_mbar`.
    fn possible(&self, valve: Valve, most_mbar: f64) -> Option<Possible> {
        let model = self.fitted.model.with(Shut {
            series: self.series.to_vec(),
            valve,
            most_mbar,
            scatters: self.fitted.sticks(),
        });
        let sample = model.sample(&model.leak_starts(&self.fitted.parameters))?;
        Some(Possible { model, sample })
    }

    /// Enters what the series says; `None` where it cannot be read through the response: also where the beam surely
    /// `creeps` and the response, which does not fit, would have it that nothing is lost, or where it creeps in jumps, behind
    /// which the vacuum is known to no better than a jump. `crept`: however sure a loss is, it is a leak only where the beam's creep is
    /// surely of interest.
    pub fn tell(&self, creeps: bool, crept: Crept, leak: &mut LeakDown) -> Option<()> {
        if creeps && self.fitted.sticks() {
            return None;
        }
        let possible = |valve| self.possible(valve, self.most_mbar);
        let (tight, leaking) = (possible(Valve::Tight)?, possible(Valve::Leaks)?);
        let leaks = leaking.sample.log_evidence - tight.sample.log_evidence > SURE_ODDS.ln();
        let told = if leaks { &leaking } else { &tight };
        let best = &told.sample.best;
        let readings = self.series.len() + self.fitted.model.points.len();
        let chi_square = told.model.chi_square(best, best[SCATTER].exp());
        let uneven = scatters(chi_square, readings.saturating_sub(told.model.parameters() - 3));
        if creeps && uneven && !leaks {
            return None;
        }
        match crept.movement {
            Movement::Moves if leaks => self.tell_leak(&leaking, leak),
            Movement::CannotTell if leaks => leak.find(LeakFinding::CreepUnclear(crept)),
            _ => self.tell_limit(&leaking, leak),
        }
        leak.through_response = true;
        leak.start_vacuum_mbar = told.quantile(0.5, &|leak| leak.start_mbar);
        let (shape, course) = (told.model.shape(best), told.model.leak(best)?);
        leak.enter_course(self.series, |minutes| {
            (course.percent(&shape, minutes), Some(course.vacuum_mbar(minutes)))
        });
        if uneven {
            leak.warnings.push(Warning::CourseUneven);
        }
        Some(())
    }

    /// What goes against the leak's figures: a first reading of the gauge where the response has the beam elsewhere, or two whose
    /// loss is another than the beam's.
    fn against_leak(&self, leaking: &Possible) -> Option<LeakFinding> {
        let first = self.gauges.first()?;
        // With the gauge's own limit the response would be bent to it.
        let free = self.possible(Valve::Leaks, ATMOSPHERE_MBAR)?;
        if !self.agrees(&free, first) {
            return Some(LeakFinding::GaugeAgainstResponse {
                gauge_mbar: first.mbar,
                response_mbar: free.quantile(0.5, &|leak| leak.start_mbar)?,
            });
        }
        let last = self.gauges.last().filter(|last| last.mbar != first.mbar)?;
        let lost = leaking.interval(&|leak| leak.vacuum_mbar(first.minutes) - leak.vacuum_mbar(last.minutes));
        let (low, high) = (lost.low?, lost.high?);
        let (gauge, allowed) = (first.mbar - last.mbar, GAUGE_SDS * first.sd_mbar.hypot(last.sd_mbar));
        (gauge < low - allowed || gauge > high + allowed).then(|| LeakFinding::GaugeAgainstBeam {
            photos: [first.photo.clone(), last.photo.clone()],
            gauge_mbar: gauge,
            beam_mbar: lost,
        })
    }

    /// The leak's figures.
    fn tell_leak(&self, leaking: &Possible, leak: &mut LeakDown) {
        if let Some(against) = self.against_leak(leaking) {
            leak.find(against);
            return;
        }
        let time_constant_s = leaking.interval(&|leak| 60.0 / leak.rate_per_min);
        let half_time_s = time_constant_s.scaled(std::f64::consts::LN_2);
        let start_rate_mbar_per_min =
            leaking.interval(&|leak| (leak.start_mbar - leak.residual_mbar) * leak.rate_per_min);
        let stops = leaking.probability(&|_, leak| leak.residual_mbar > LEAST_RESIDUAL_SHARE * leak.start_mbar);
        leak.residual_vacuum_mbar =
            (stops > 1.0 - 2.0 * ONE_SIDE).then(|| leaking.interval(&|leak| leak.residual_mbar));
        leak.time_constant_s = Some(time_constant_s);
        leak.half_time_s = Some(half_time_s);
        leak.start_rate_mbar_per_min = Some(start_rate_mbar_per_min);
        leak.find(LeakFinding::Leaks {
            start_rate_mbar_per_min,
            half_time_s,
            time_constant_s,
            residual_mbar: leak.residual_vacuum_mbar,
        });
    }

    /// Whether the beam surely lies between its dead band and its end stop, within what the response has shown.
    fn on_slope(&self, leaking: &Possible) -> bool {
        let highest_mbar = self.fitted.model.turn_mbar;
        let beside = leaking.probability(&|p, leak| {
            let shape = leaking.model.shape(p);
            let even = shape.gain_percent_per_100_mbar / 100.0;
            shape.slope(leak.place_mbar, 1.0) / even < LEAST_SLOPE_SHARE || leak.start_mbar > highest_mbar
        });
        beside < ONE_SIDE
    }

    /// Whether the response has the beam there at what the gauge showed first, be it applied or, with the play, released.
    fn agrees(&self, leaking: &Possible, gauge: &Gauge) -> bool {
        let within = leaking.interval(&|leak| leak.vacuum_mbar(gauge.minutes));
        let sd = GAUGE_SDS * gauge.sd_mbar;
        within.low.is_none_or(|low| low - sd <= gauge.mbar) && within.high.is_none_or(|high| gauge.mbar <= high + sd)
    }

    /// What is surely not lost.
    fn tell_limit(&self, leaking: &Possible, leak: &mut LeakDown) {
        let lost = |leak: &Leak| leak.start_mbar - leak.vacuum_mbar(self.minutes);
        let start_mbar = leaking.quantile(0.5, &|leak| leak.start_mbar).unwrap_or(0.0);
        let below = leaking.quantile(1.0 - 2.0 * ONE_SIDE, &lost);
        let below = below.filter(|below| *below <= MOST_SHARE_LOST * start_mbar);
        let below = below.filter(|_| !self.fitted.sticks() && self.on_slope(leaking));
        let Some(below_mbar) = below else {
            leak.find(LeakFinding::BeamWouldNotAnswer {
                has_play: self.fitted.parameters[GAP] > LEAST_PLAY_MBAR,
                sticks: self.fitted.sticks(),
            });
            return;
        };
        let minutes = self.minutes;
        let finding = match self.gauges.first() {
            None => LeakFinding::NoGauge { minutes },
            Some(gauge) if !self.agrees(leaking, gauge) => LeakFinding::GaugeAgainstResponse {
                gauge_mbar: gauge.mbar,
                response_mbar: start_mbar,
            },
            Some(_) => {
                leak.loss_below_mbar = Some(below_mbar);
                LeakFinding::Holds { below_mbar, minutes }
            }
        };
        leak.find(finding);
    }
}
