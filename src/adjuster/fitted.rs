//! Fits the curve with corners: the global minimum over where it may break, from which the readings' errors are then sampled.
//!
//! A grid of break points is tried, in each the two parameters that are linear are solved for, and the best are taken on by
//! the least squares of [`crate::fit`], the same that the certified data sets check.

use super::curve::{DEAD, GAIN, GAP, NO_STOP_MBAR, PARAMETERS, Point, REST, STOP, Theta, breaks_mbar, distance};
use super::line::Line;
use crate::fit::{Loss, Problem, Slopes, TO_THE_DIGIT};

/// Rise of chi-square at the ends of a 95 % interval of one parameter: 1.96².
pub(super) const RISE_95: f64 = 3.841_459;

/// Steps for numerical derivatives.
pub(super) const STEPS: Theta = [1e-4, 1e-4, 0.02, 0.02, 0.02];
/// Weak priors that keep a parameter which the data do not hold where it started: they add nothing that counts to
/// chi-square and spare the normal matrix a hole. Standard deviations.
pub(super) const WEAK: Theta = [1e3, 1e3, 1e4, 1e4, 1e4];

/// Which parameters are kept at a value.
pub(super) type Fixed = [Option<f64>; PARAMETERS];

/// The readings of one lamp and stage against vacuum.
#[derive(Debug, Clone)]
pub(super) struct Data {
    /// The readings.
    pub points: Vec<Point>,
    /// Vacuum from which it was released, mbar.
    pub turn_mbar: f64,
}

/// A minimum of chi-square.
#[derive(Debug, Clone, Copy)]
pub(super) struct Best {
    /// The parameters.
    pub theta: Theta,
    /// Sum of the squared distances.
    pub chi_square: f64,
}

impl Data {
    pub fn chi_square(&self, theta: &Theta) -> f64 {
        self.points
            .iter()
            .map(|p| distance(theta, self.turn_mbar, p).powi(2))
            .sum()
    }

    fn reach_mbar(&self) -> f64 {
        self.points.iter().map(|p| p.vacuum_mbar).fold(1.0, f64::max)
    }

    fn has_releasing(&self) -> bool {
        self.points.iter().any(|p| p.releasing)
    }

    /// Minimises from `start` over what is not fixed; with it the covariance, place by place.
    fn descend(&self, start: &Theta, fixed: &Fixed) -> Option<(Best, [[f64; PARAMETERS]; PARAMETERS])> {
        let free: Vec<usize> = (0..PARAMETERS).filter(|&k| fixed[k].is_none()).collect();
        let whole = |parameters: &[f64]| {
            let mut theta = *start;
            for (k, value) in fixed.iter().enumerate() {
                if let Some(value) = value {
                    theta[k] = *value;
                }
            }
            for (&k, value) in free.iter().zip(parameters) {
                theta[k] = *value;
            }
            theta
        };
        if free.is_empty() {
            let theta = whole(&[]);
            let best = Best {
                theta,
                chi_square: self.chi_square(&theta),
            };
            return Some((best, [[0.0; PARAMETERS]; PARAMETERS]));
        }
        let residuals = |parameters: &[f64]| {
            let theta = whole(parameters);
            let data = self.points.iter().map(|p| distance(&theta, self.turn_mbar, p));
            let weak = free.iter().map(|&k| (theta[k] - start[k]) / WEAK[k]);
            data.chain(weak).collect::<Vec<f64>>()
        };
        let steps: Vec<f64> = free.iter().map(|&k| STEPS[k]).collect();
        let problem = Problem {
            residuals: &residuals,
            priors: free.len(),
            slopes: Slopes::Differences(&steps),
            loss: Loss::Square,
            settled: TO_THE_DIGIT,
        };
        let from: Vec<f64> = free.iter().map(|&k| start[k]).collect();
        let fit = problem.solve(&from)?;
        let theta = whole(&fit.parameters);
        let mut covariance = [[0.0; PARAMETERS]; PARAMETERS];
        for (i, &k) in free.iter().enumerate() {
            for (j, &l) in free.iter().enumerate() {
                covariance[k][l] = fit.covariance[(i, j)];
            }
        }
        let best = Best {
            theta,
            chi_square: self.chi_square(&theta),
        };
        Some((best, covariance))
    }

    /// As [`Data::descend`], kept to what can be: a dead band is not negative, and an end stop lies beyond it.
    pub fn descend_within(&self, start: &Theta, fixed: &Fixed) -> Option<(Best, [[f64; PARAMETERS]; PARAMETERS])> {
        let mut found = self.descend(start, fixed)?;
        if found.0.theta[DEAD] < 0.0 && fixed[DEAD].is_none() {
            let mut held = *fixed;
            held[DEAD] = Some(0.0);
            found = self.descend(&found.0.theta, &held)?;
        }
        let theta = &found.0.theta;
        (theta[STOP] > theta[DEAD] && theta.iter().all(|v| v.is_finite())).then_some(found)
    }

    /// The best of what is not fixed, from a grid of break points with `fineness` places each.
    pub fn minimise(&self, fixed: &Fixed, fineness: usize) -> Option<Best> {
        self.starts(fixed, fineness)
            .iter()
            .filter_map(|start| self.descend_within(start, fixed))
            .map(|(best, _)| best)
            .min_by(|a, b| a.chi_square.total_cmp(&b.chi_square))
    }

    /// The most promising break points.
    fn starts(&self, fixed: &Fixed, fineness: usize) -> Vec<Theta> {
        /// Starts that are taken on.
        const KEPT: usize = 4;
        let reach = self.reach_mbar();
        let tried = |k: usize, values: Vec<f64>| fixed[k].map_or(values, |value| vec![value]);
        let share = |n: usize| n as f64 / fineness as f64;
        let dead = tried(DEAD, (0..fineness).map(|n| 0.9 * reach * share(n)).collect());
        let stop = tried(
            STOP,
            (1..=fineness).map(|n| reach * share(n)).chain([NO_STOP_MBAR]).collect(),
        );
        let gap = if self.has_releasing() {
            tried(GAP, vec![0.0, 0.04 * reach, 0.1 * reach, 0.2 * reach])
        } else {
            vec![fixed[GAP].unwrap_or(0.0)]
        };
        let mut grid: Vec<(f64, Theta)> = Vec::new();
        for &dead in &dead {
            for &stop in stop.iter().filter(|&&stop| stop > dead + 0.02 * reach) {
                for &gap in &gap {
                    let theta = self.linear([0.0, 0.0, dead, stop, gap]);
                    grid.push((self.chi_square(&theta), theta));
                }
            }
        }
        grid.sort_by(|a, b| a.0.total_cmp(&b.0));
        grid.into_iter().take(KEPT).map(|(_, theta)| theta).collect()
    }

    /// Rest and gain by plain linear least squares with the break points as they are; a start, no more.
    fn linear(&self, mut theta: Theta) -> Theta {
        let place = |point: &Point| {
            let (low, high) = breaks_mbar(&theta, self.turn_mbar, point.releasing);
            (point.vacuum_mbar.clamp(low, high) - low) / 100.0
        };
        let weight = |point: &Point| point.sd_percent.powi(-2);
        let line = Line::through(self.points.iter().map(|p| (weight(p), place(p), p.percent)));
        (theta[REST], theta[GAIN]) = match line {
            Some(line) => (line.intercept, line.slope),
            None => {
                let whole: f64 = self.points.iter().map(weight).sum();
                let sum: f64 = self.points.iter().map(|p| weight(p) * p.percent).sum();
                (sum / whole, 0.0)
            }
        };
        theta
    }
}
