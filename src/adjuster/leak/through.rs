//! A leak-down read through the lamp's response to vacuum.

use super::super::Interval;
use super::super::curve::{GAP, NO_STOP_MBAR, PARAMETERS, Theta, distance, inclination_percent};
use super::super::fitted::{Fixed, RISE_1_IN_200, RISE_95, STEPS, WEAK};
use super::super::response::Fitted;
use super::clock::Timed;
use super::{LeakDown, LeakFinding, edge, inverse, scatters};
use crate::fit::{Loss, Problem};
use crate::warning::Warning;

/// Rise of chi-square at a one-sided 95 % limit: 1.645².
const RISE_95_ONE_SIDED: f64 = 2.705_543;
/// A limit to the loss that is more than this share of the vacuum is no limit (common practice, no source).
const MOST_SHARE_LOST: f64 = 0.5;
/// Highest vacuum that the search starts from, mbar: no hand pump goes far beyond (common practice, no source). The search
/// itself goes on to what the gauge showed, or to one atmosphere.
const MOST_TRIED_MBAR: f64 = 800.0;
/// The gauge's reading is held against the response within so many of its standard deviations.
const GAUGE_SDS: f64 = 2.0;
/// Play below this is no reason for a beam that does not answer, mbar: the loss of which nothing would be said is larger
/// (common practice, no source).
const LEAST_PLAY_MBAR: f64 = 10.0;

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
pub(super) struct Through<'a> {
    fitted: &'a Fitted,
    series: &'a [Timed],
    minutes: f64,
    most_mbar: f64,
    /// What the gauge showed first, and its standard deviation, mbar.
    gauge: Option<(f64, f64)>,
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
    pub fn new(fitted: &'a Fitted, series: &'a [Timed], most_mbar: f64, gauge: Option<(f64, f64)>) -> Self {
        Self {
            fitted,
            series,
            minutes: series.last().map_or(1.0, |t| t.minutes),
            most_mbar,
            gauge,
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

    /// Minimises from a start, kept to what can be; `pinned` keeps the vacuum of the start.
    fn descend(&self, start: &Minimum, held: Held, pinned: Option<f64>) -> Option<Minimum> {
        let found = self.solve(start, held, pinned)?;
        if pinned.is_none() && !(1.0..=self.most_mbar).contains(&found.start_mbar) {
            let bound = found.start_mbar.clamp(1.0, self.most_mbar);
            let again = Minimum {
                start_mbar: bound,
                ..found
            };
            return self.descend(&again, held, Some(bound));
        }
        if found.rate_per_min < 0.0 && matches!(held, Held::Nothing) {
            return self.descend(start, Held::Rate(0.0), pinned);
        }
        found.chi_square.is_finite().then_some(found)
    }

    /// Minimises from a start, wherever that leads.
    fn solve(&self, start: &Minimum, held: Held, pinned: Option<f64>) -> Option<Minimum> {
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
        Some(Minimum {
            theta,
            start_mbar,
            rate_per_min,
            chi_square: self.chi_square(&theta, start_mbar, rate_per_min),
        })
    }

    fn minimise(&self, held: Held, warm: &[Minimum]) -> Option<Minimum> {
        /// Starts that are taken on.
        const KEPT: usize = 3;
        let theta = self.fitted.theta;
        let mut starts: Vec<Minimum> = Vec::new();
        for n in 1..=24 {
            let start_mbar = self.most_mbar.min(MOST_TRIED_MBAR) * f64::from(n) / 24.0;
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

    /// Enters what the series says; `None` where it cannot be fitted through the response: also where the beam surely
    /// `creeps` and the response, which does not fit, would have it that nothing is lost.
    pub fn tell(&self, creeps: bool, leak: &mut LeakDown) -> Option<()> {
        let mut best = self.minimise(Held::Nothing, &[])?;
        let tight = self.minimise(Held::Rate(0.0), &[best])?;
        if tight.chi_square < best.chi_square {
            best = tight;
        }
        let readings = self.series.len() + self.fitted.data.points.len();
        let free = 2 + self.fitted.fixed.iter().filter(|f| f.is_none()).count();
        let freedom = readings.saturating_sub(free);
        let scatters = scatters(best.chi_square, freedom);
        let scale2 = if scatters {
            best.chi_square / freedom as f64
        } else {
            1.0
        };
        let leaks = tight.chi_square - best.chi_square > RISE_1_IN_200 * scale2;
        if creeps && scatters && !leaks {
            return None;
        }
        if leaks {
            self.tell_leak(&best, RISE_95 * scale2, leak)?;
        } else {
            self.tell_limit(&best, RISE_95_ONE_SIDED * scale2, leak);
        }
        leak.through_response = true;
        leak.start_vacuum_mbar = Some(best.start_mbar);
        leak.enter_course(self.series, |t| {
            let percent = Self::at(&best.theta, best.start_mbar, best.rate_per_min, t);
            (percent, Some(best.start_mbar * (-best.rate_per_min * t).exp()))
        });
        if scatters {
            leak.warnings.push(Warning::CourseUneven);
        }
        Some(())
    }

    /// How far chi-square rises above the best where something is held.
    fn rise(&self, best: &Minimum, held: Held) -> f64 {
        self.minimise(held, &[*best])
            .map_or(f64::INFINITY, |m| m.chi_square - best.chi_square)
    }

    /// Whether the beam surely lies between its dead band and its end stop, within what the response has shown: chi-square
    /// rises by more than `limit` where it is put on either.
    fn on_slope(&self, best: &Minimum, limit: f64) -> bool {
        let at = |start_mbar: f64| {
            let start = Minimum {
                start_mbar,
                rate_per_min: 0.0,
                ..*best
            };
            let pinned = self.descend(&start, Held::Rate(0.0), Some(start_mbar));
            pinned.map_or(f64::INFINITY, |m| m.chi_square - best.chi_square)
        };
        let highest_mbar = self.fitted.data.turn_mbar;
        best.start_mbar <= highest_mbar && at(0.0) > limit && at(NO_STOP_MBAR) > limit
    }

    /// Whether the response has the beam there at what the gauge showed (and its standard deviation, mbar), be it applied or,
    /// with the play, released.
    fn agrees(&self, best: &Minimum, (gauge_mbar, sd_mbar): (f64, f64)) -> bool {
        let play = best.theta[GAP].max(0.0);
        let sd = GAUGE_SDS * sd_mbar;
        let nearest = best.start_mbar.clamp(gauge_mbar - sd, gauge_mbar + sd + play).max(1.0);
        let start = Minimum {
            start_mbar: nearest,
            ..*best
        };
        let pinned = self.descend(&start, Held::Nothing, Some(nearest));
        pinned.is_some_and(|m| m.chi_square - best.chi_square < RISE_1_IN_200)
    }

    /// The leak's figures, each to where chi-square has risen by `limit`.
    fn tell_leak(&self, best: &Minimum, limit: f64, leak: &mut LeakDown) -> Option<()> {
        let rate_rise = |rate: f64| self.rise(best, Held::Rate(rate));
        let start_rate_rise = |rate: f64| self.rise(best, Held::StartRate(rate));
        // Faster than this, all would be gone between two photos.
        let fastest = 60.0 / self.minutes;
        let rate = Interval::new(
            best.rate_per_min,
            edge(&rate_rise, best.rate_per_min, 0.0, limit),
            edge(&rate_rise, best.rate_per_min, fastest, limit),
        );
        let start_rate = best.start_mbar * best.rate_per_min;
        let start_rate_mbar_per_min = Interval::new(
            start_rate,
            edge(&start_rate_rise, start_rate, 0.0, limit),
            edge(&start_rate_rise, start_rate, fastest * self.most_mbar, limit),
        );
        let time_constant_s = inverse(&rate, 60.0)?;
        let half_time_s = inverse(&rate, 60.0 * std::f64::consts::LN_2)?;
        leak.time_constant_s = Some(time_constant_s);
        leak.half_time_s = Some(half_time_s);
        leak.start_rate_mbar_per_min = Some(start_rate_mbar_per_min);
        leak.find(LeakFinding::Leaks {
            start_rate_mbar_per_min,
            half_time_s,
            time_constant_s,
        });
        Some(())
    }

    /// What is surely not lost, where chi-square has risen by `limit`.
    fn tell_limit(&self, best: &Minimum, limit: f64, leak: &mut LeakDown) {
        let loss_rise = |loss: f64| self.rise(best, Held::Loss(loss));
        let lost = best.start_mbar * -(-best.rate_per_min * self.minutes).exp_m1();
        let below = edge(&loss_rise, lost, self.most_mbar - 1.0, limit);
        let below = below.filter(|below| *below <= MOST_SHARE_LOST * best.start_mbar);
        leak.loss_below_mbar = below.filter(|_| self.on_slope(best, limit));
        if let (Some(_), Some((gauge_mbar, _))) = (leak.loss_below_mbar, self.gauge.filter(|g| !self.agrees(best, *g)))
        {
            leak.loss_below_mbar = None;
            leak.find(LeakFinding::GaugeAgainstResponse {
                gauge_mbar,
                response_mbar: best.start_mbar,
            });
            return;
        }
        leak.find(match leak.loss_below_mbar {
            Some(below_mbar) => LeakFinding::Holds {
                below_mbar,
                minutes: self.minutes,
            },
            None => LeakFinding::BeamWouldNotAnswer {
                has_play: best.theta[GAP] > LEAST_PLAY_MBAR,
            },
        });
    }
}
