//! The inclination's own course in time, without a response to vacuum.

use super::super::Interval;
use super::super::fitted::RISE_95;
use super::super::interval::propagated;
use super::clock::Timed;
use super::{Crept, LeakDown, LeakFinding, edge, inverse, scatters};
use crate::adjuster::Movement;
use crate::aim::COVERAGE_FACTOR_95;
use crate::fit::{Fit, Loss, Problem, Slopes, TO_THE_DIGIT};
use crate::warning::Warning;

/// The inclination's own course: y = y₀ + B (1 − exp(−λt))/λ, a straight line at λ = 0.
pub(super) struct Course {
    /// y₀ in per cent, B in per cent per minute, λ per minute.
    parameters: [f64; 3],
    pub creep: Interval,
    /// It surely is no level row, by however little.
    pub creeps: bool,
    /// λ, where both its ends are known and above zero, per minute.
    rate: Option<Interval>,
    scatters: bool,
}

/// A fit of the course, and all its parameters.
type CourseFit = (Fit, [f64; 3]);

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

    fn fit(series: &[Timed], rate_per_min: Option<f64>, start: [f64; 3]) -> Option<CourseFit> {
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
            slopes: Slopes::Differences(&steps[..free]),
            loss: Loss::Square,
            settled: TO_THE_DIGIT,
        };
        let fit = problem.solve(&start[..free])?;
        let all = whole(&fit.parameters);
        Some((fit, all))
    }

    pub fn of(series: &[Timed]) -> Self {
        /// Rise of chi-square against a constant that stillness reaches once in 400 runs with one parameter more, and with
        /// two: together once in 200.
        const STRAIGHT: f64 = 9.140_6;
        const CURVED: f64 = 11.982_9;
        let duration = series.last().map_or(1.0, |t| t.minutes);
        let weight: f64 = series.iter().map(|t| t.sd_percent.powi(-2)).sum();
        let mean = series.iter().map(|t| t.percent * t.sd_percent.powi(-2)).sum::<f64>() / weight;
        let still: f64 = series.iter().map(|t| ((t.percent - mean) / t.sd_percent).powi(2)).sum();
        let straight = Self::fit(series, Some(0.0), Self::start(series, 0.0));
        let bent = Self::bent(series, duration);
        let chi = |fit: &Option<CourseFit>| fit.as_ref().map_or(f64::INFINITY, |(f, _)| 2.0 * f.cost);
        let (straight_chi, bent_chi) = (chi(&straight), chi(&bent));
        let creeps = still - straight_chi > STRAIGHT || still - bent_chi > CURVED;
        // The curved course is taken where it is worth its parameter (Akaike's criterion: 2 for each).
        let curved = bent_chi < straight_chi - 2.0;
        let scatters = scatters(bent_chi.min(straight_chi), series.len().saturating_sub(3));
        let rate = bent
            .as_ref()
            .filter(|_| creeps && curved && !scatters)
            .and_then(|(_, all)| Self::rate_interval(series, all, bent_chi, duration));
        let (parameters, creep) = match if curved { bent } else { straight } {
            // What a course that the readings do not follow has between its ends is nothing that was measured.
            Some((_, all)) if scatters => (all, Self::between_ends(series)),
            Some((fit, all)) => (all, Self::creep(&fit, &all, duration)),
            None => {
                let change = series[series.len() - 1].percent - series[0].percent;
                ([mean, 0.0, 0.0], Interval::new(change, None, None))
            }
        };
        Self {
            parameters,
            creep,
            creeps,
            rate,
            scatters,
        }
    }

    /// A course through the first and the last reading.
    fn start(series: &[Timed], rate_per_min: f64) -> [f64; 3] {
        let (first, last) = (&series[0], &series[series.len() - 1]);
        let whole = last.percent - first.percent;
        [first.percent, whole / decayed(rate_per_min, last.minutes), rate_per_min]
    }

    /// The best curved course, from several rates; one that grows, or dies away between two photos, is none.
    fn bent(series: &[Timed], duration: f64) -> Option<CourseFit> {
        [0.3, 1.0, 3.0, 8.0]
            .iter()
            .filter_map(|share| Self::fit(series, None, Self::start(series, share / duration)))
            .filter(|(_, all)| (0.0..=40.0 / duration).contains(&all[2]))
            .min_by(|a, b| a.0.cost.total_cmp(&b.0.cost))
    }

    /// Change over the series.
    fn creep(fit: &Fit, all: &[f64; 3], duration: f64) -> Interval {
        let change = |p: &[f64; 3]| Self::at(p, duration) - p[0];
        let steps = vec![1e-4 / duration; fit.parameters.len()];
        let variance = propagated(&change, all, &steps, &|k, l| fit.covariance[(k, l)]);
        Interval::even(change(all), COVERAGE_FACTOR_95 * variance.sqrt())
    }

    /// The last reading less the first.
    fn between_ends(series: &[Timed]) -> Interval {
        let (first, last) = (&series[0], &series[series.len() - 1]);
        let sd_percent = first.sd_percent.hypot(last.sd_percent);
        Interval::even(last.percent - first.percent, COVERAGE_FACTOR_95 * sd_percent)
    }

    fn rate_interval(series: &[Timed], best: &[f64; 3], chi_square: f64, duration: f64) -> Option<Interval> {
        let rise =
            |rate: f64| Self::fit(series, Some(rate), *best).map_or(f64::INFINITY, |(f, _)| 2.0 * f.cost - chi_square);
        let low = edge(&rise, best[2], 0.0, RISE_95)?;
        let high = edge(&rise, best[2], 40.0 / duration, RISE_95)?;
        Some(Interval::new(best[2], Some(low), Some(high)))
    }

    /// Whether its creep is of interest: as a travel is judged that goes from one position to another.
    pub fn movement(&self, least_travel_percent: f64) -> Movement {
        let Some((low, high)) = self.creep.low.zip(self.creep.high) else {
            return Movement::CannotTell;
        };
        let judged = Movement::judge(self.creep.value, (0.5 * (high - low)).abs(), least_travel_percent, 1);
        // What is not told from a level row moves nothing, however far its ends lie apart.
        match judged {
            Movement::Moves if !self.creeps => Movement::CannotTell,
            judged => judged,
        }
    }

    /// Enters what the inclination alone says. `crept`: its creep, as it is held against the least travel of interest.
    pub fn tell(&self, series: &[Timed], crept: Crept, leak: &mut LeakDown) {
        let minutes = leak.duration_s / 60.0;
        // A course that the readings do not follow is not drawn as theirs.
        if !self.scatters {
            leak.enter_course(series, |t| (Self::at(&self.parameters, t), None));
        }
        let most_percent = self.creep.low.zip(self.creep.high).map(|(l, h)| l.abs().max(h.abs()));
        if self.creeps && crept.movement == Movement::Moves {
            leak.creep_time_constant_s = self.rate.as_ref().and_then(|rate| inverse(rate, 60.0));
            leak.find(LeakFinding::Creeps {
                creep_percent: self.creep,
                minutes,
                time_constant_s: leak.creep_time_constant_s,
            });
        } else if self.creeps && crept.movement == Movement::CannotTell {
            leak.find(LeakFinding::CreepUnclear(crept));
        } else if let Some(below_percent) = most_percent {
            leak.creep_below_percent = Some(below_percent);
            leak.find(if self.creeps {
                LeakFinding::CreepTrifling(crept)
            } else {
                LeakFinding::BeamKept { below_percent, minutes }
            });
        } else {
            leak.find(LeakFinding::NoCourse);
        }
        if self.scatters {
            leak.warnings.push(Warning::CourseUneven);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
