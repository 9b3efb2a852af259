//! Non-linear least squares with priors, outliers and one-sided data, with the covariance of what it finds.
//!
//! Levenberg–Marquardt (D. W. Marquardt, J. SIAM 11 (1963) 431), with Tukey- or Cauchy-type
//! weights by iterative reweighting (P. J. Huber, *Robust Statistics*, 1981). Written here and not taken from a
//! library because residuals may be one-sided (clipped light), and because the covariance must come apart into what
//! the data and what the priors put into it.

mod cholesky;
mod distribution;
mod marquardt;
mod order;

pub(crate) use cholesky::cholesky;
pub(crate) use distribution::{chi_square_tail, lift_at_zero, normal_between, normal_density, normal_tail};
pub(crate) use marquardt::{Attempt, Ending, Marquardt};
pub(crate) use order::{median, median_high, ranked};

use nalgebra::{DMatrix, DVector};

/// How a large residual counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Loss {
    /// By its square: plain least squares.
    Square,
    /// Cauchy: weight 1 / (1 + (r / scale)²); `scale` in units of the residuals' standard deviation.
    Cauchy {
        /// Residual at which the weight is one half, in standard deviations.
        scale: f64,
    },
}

impl Loss {
    fn weight(self, residual: f64) -> f64 {
        match self {
            Self::Square => 1.0,
            Self::Cauchy { scale } => 1.0 / (1.0 + (residual / scale).powi(2)),
        }
    }

    /// Half of the loss of one residual, as minimised.
    fn cost(self, residual: f64) -> f64 {
        match self {
            Self::Square => 0.5 * residual * residual,
            Self::Cauchy { scale } => 0.5 * scale * scale * (residual / scale).powi(2).ln_1p(),
        }
    }
}

/// A problem: `residuals` maps the parameters to residuals, each already divided by its standard deviation. The last
/// `priors` of them are priors, which are never treated as outliers.
pub struct Problem<'a> {
    /// The residuals in units of their standard deviations.
    pub residuals: &'a dyn Fn(&[f64]) -> Vec<f64>,
    /// How many of the last residuals are priors.
    pub priors: usize,
    /// How the residuals' slopes are had.
    pub slopes: Slopes<'a>,
    /// How outliers among the data count.
    pub loss: Loss,
    /// A relative fall of the cost below this ends the iteration.
    pub settled: f64,
}

/// [`Problem::settled`] where every digit counts; and where a thousandth of a standard deviation does not: a fall by δ leaves a
/// parameter some √(2δ) of its standard deviation from the minimum.
pub const TO_THE_DIGIT: f64 = 1e-12;
/// As above.
pub const TO_A_THOUSANDTH: f64 = 1e-7;

/// Residuals, and what one unit of each parameter adds to them.
pub type WithSlopes = (Vec<f64>, DMatrix<f64>);

/// How the residuals' slopes are had.
#[derive(Clone, Copy)]
pub enum Slopes<'a> {
    /// Central differences, by a typical small step for each parameter.
    Differences(&'a [f64]),
    /// In closed form: what one unit of each parameter adds to each residual, a row a residual, a column a parameter.
    Closed(&'a dyn Fn(&[f64]) -> DMatrix<f64>),
    /// As `Closed`, with the residuals themselves, where the work for both is much the same.
    Together(&'a dyn Fn(&[f64]) -> WithSlopes),
}

/// What a fit found.
#[derive(Debug, Clone)]
pub struct Fit {
    /// The parameters.
    pub parameters: Vec<f64>,
    /// Half the sum of the loss at the parameters.
    pub cost: f64,
    /// The residuals there, in standard deviations.
    pub residuals: Vec<f64>,
    /// Weight that each residual kept, 0 to 1.
    pub weights: Vec<f64>,
    /// (JᵀWJ)⁻¹, the covariance when each residual's standard deviation is true.
    pub covariance: DMatrix<f64>,
    /// J: what one unit of each parameter adds to each residual.
    jacobian: DMatrix<f64>,
    /// Whether the steps became small before the iterations ran out.
    #[cfg_attr(
        not(test),
        expect(dead_code, reason = "the checks against certified fits ask for it")
    )]
    pub converged: bool,
}

/// Common practice, no source.
const DAMPING: Marquardt = Marquardt {
    start: 1e-3,
    ease: 0.2,
    stiffen: 5.0,
    least: 1e-12,
    most: 1e12,
    most_steps: 200,
    most_attempts: usize::MAX,
};

impl Fit {
    /// Gain (JᵀWJ)⁻¹JᵀW: what one unit of each residual does to each parameter.
    pub fn gain(&self) -> DMatrix<f64> {
        let mut weighted = self.jacobian.transpose();
        for (mut column, weight) in weighted.column_iter_mut().zip(&self.weights) {
            column *= *weight;
        }
        &self.covariance * weighted
    }
}

/// Where a minimisation is: parameters, their residuals and cost, and the slopes there once they are known.
struct Place {
    parameters: Vec<f64>,
    residuals: Vec<f64>,
    cost: f64,
    jacobian: Option<DMatrix<f64>>,
}

impl Problem<'_> {
    /// Minimises from `start`. `None` when the start gives no finite residuals or the normal matrix is singular.
    #[must_use]
    pub fn solve(&self, start: &[f64]) -> Option<Fit> {
        let (place, end) = self.minimise(start)?;
        let weights = self.weights(&place.residuals);
        let jacobian = place.jacobian.unwrap_or_else(|| self.jacobian(&place.parameters));
        let (normal, _) = normal_equations(&jacobian, &weights, &place.residuals);
        Some(Fit {
            parameters: place.parameters,
            cost: place.cost,
            residuals: place.residuals,
            weights,
            covariance: normal.cholesky()?.inverse(),
            jacobian,
            converged: end != Ending::StepsRanOut,
        })
    }

    /// As [`Problem::solve`], the parameters and the cost alone.
    #[must_use]
    pub fn lowest(&self, start: &[f64]) -> Option<(Vec<f64>, f64)> {
        let (place, _) = self.minimise(start)?;
        Some((place.parameters, place.cost))
    }

    fn minimise(&self, start: &[f64]) -> Option<(Place, Ending)> {
        let mut place = self.place(start.to_vec(), true)?;
        let mut linear: Option<(DMatrix<f64>, DVector<f64>)> = None;
        // Steps that do not help come in a row: after one, slopes are left until a step does.
        let mut helped = true;
        let end = DAMPING.minimise(|damping| {
            let (normal, gradient) = linear.get_or_insert_with(|| {
                let jacobian = place.jacobian.get_or_insert_with(|| self.jacobian(&place.parameters));
                normal_equations(jacobian, &self.weights(&place.residuals), &place.residuals)
            });
            let trial = damped_step(normal, gradient, &place.parameters, damping)
                .and_then(|trial| self.place(trial, helped))
                .filter(|trial| trial.cost <= place.cost);
            helped = trial.is_some();
            let Some(trial) = trial else {
                return Some(Attempt::Worse);
            };
            let fall = place.cost - trial.cost;
            place = trial;
            linear = None;
            let settled = fall <= self.settled * (place.cost + 1e-30);
            Some(if settled { Attempt::Settled } else { Attempt::Better })
        })?;
        Some((place, end))
    }

    /// Residuals and cost, and the slopes where they are wanted and come along; `None` where the cost is not finite.
    fn place(&self, parameters: Vec<f64>, with_slopes: bool) -> Option<Place> {
        let (residuals, jacobian) = match self.slopes {
            Slopes::Together(both) if with_slopes => {
                let (residuals, jacobian) = both(&parameters);
                (residuals, Some(jacobian))
            }
            _ => ((self.residuals)(&parameters), None),
        };
        Some(Place {
            cost: self.cost(&residuals)?,
            parameters,
            residuals,
            jacobian,
        })
    }

    fn data_count(&self, total: usize) -> usize {
        total.saturating_sub(self.priors)
    }

    fn cost(&self, residuals: &[f64]) -> Option<f64> {
        let data = self.data_count(residuals.len());
        let cost = residuals
            .iter()
            .enumerate()
            .map(|(i, &r)| {
                if i < data {
                    self.loss.cost(r)
                } else {
                    Loss::Square.cost(r)
                }
            })
            .sum::<f64>();
        cost.is_finite().then_some(cost)
    }

    fn weights(&self, residuals: &[f64]) -> Vec<f64> {
        let data = self.data_count(residuals.len());
        residuals
            .iter()
            .enumerate()
            .map(|(i, &r)| if i < data { self.loss.weight(r) } else { 1.0 })
            .collect()
    }

    fn jacobian(&self, parameters: &[f64]) -> DMatrix<f64> {
        let steps = match self.slopes {
            Slopes::Closed(slopes) => return slopes(parameters),
            Slopes::Together(both) => return both(parameters).1,
            Slopes::Differences(steps) => steps,
        };
        let mut columns = Vec::with_capacity(parameters.len());
        let mut moved = parameters.to_vec();
        for (i, &step) in steps.iter().enumerate().take(parameters.len()) {
            moved[i] = parameters[i] + step;
            let up = (self.residuals)(&moved);
            moved[i] = parameters[i] - step;
            let down = (self.residuals)(&moved);
            moved[i] = parameters[i];
            columns.push(DVector::from_iterator(
                up.len(),
                up.iter().zip(&down).map(|(u, d)| (u - d) / (2.0 * step)),
            ));
        }
        DMatrix::from_columns(&columns)
    }
}

/// The parameters after a step with the normal matrix' diagonal stiffened. `None` where it is singular even so.
fn damped_step(normal: &DMatrix<f64>, gradient: &DVector<f64>, parameters: &[f64], damping: f64) -> Option<Vec<f64>> {
    let mut damped = normal.clone();
    for i in 0..damped.nrows() {
        damped[(i, i)] += damping * normal[(i, i)].max(1e-12);
    }
    let step = damped.cholesky()?.solve(gradient);
    Some(parameters.iter().zip(step.iter()).map(|(p, s)| p - s).collect())
}

/// The sum of the products, in four sums side by side, which the processor adds up at once.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let ((four_a, rest_a), (four_b, rest_b)) = (a.as_chunks::<4>(), b.as_chunks::<4>());
    let mut sums = [0.0; 4];
    for (a, b) in four_a.iter().zip(four_b) {
        for n in 0..4 {
            sums[n] += a[n] * b[n];
        }
    }
    sums.iter().sum::<f64>() + rest_a.iter().zip(rest_b).map(|(a, b)| a * b).sum::<f64>()
}

/// JᵀWJ and JᵀWr.
fn normal_equations(jacobian: &DMatrix<f64>, weights: &[f64], residuals: &[f64]) -> (DMatrix<f64>, DVector<f64>) {
    let count = jacobian.ncols();
    let (mut normal, mut gradient) = (DMatrix::zeros(count, count), DVector::zeros(count));
    let rows = jacobian.nrows();
    let columns = |n: usize| &jacobian.as_slice()[n * rows..(n + 1) * rows];
    let mut weighted = vec![0.0; rows];
    for n in 0..count {
        for ((target, slope), weight) in weighted.iter_mut().zip(columns(n)).zip(weights) {
            *target = slope * weight;
        }
        gradient[n] = dot(&weighted, residuals);
        for other in 0..=n {
            let both = dot(&weighted, columns(other));
            (normal[(n, other)], normal[(other, n)]) = (both, both);
        }
    }
    (normal, gradient)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// GUM (JCGM 100:2008), annex H.3: calibration of a thermometer, correction b(t) = y1 + y2 (t − 20 °C);
    /// y1 = −0.1712 °C, s = 0.0029 °C; y2 = 0.002 18, s = 0.000 67; r = −0.930; at 30 °C −0.1494 °C, u = 0.0041 °C. The
    /// readings are the guide's table H.6 (as the GTC documentation, "GUM H3", repeats them, read on 2026-11-25); the
    /// results are from memory.
    #[test]
    fn thermometer_line_of_the_gum() {
        let readings = [
            (21.521, -0.171),
            (22.012, -0.169),
            (22.512, -0.166),
            (23.003, -0.159),
            (23.507, -0.164),
            (23.999, -0.165),
            (24.513, -0.156),
            (25.002, -0.157),
            (25.503, -0.159),
            (26.010, -0.161),
            (26.511, -0.160),
        ];
        let residuals = |p: &[f64]| {
            readings
                .iter()
                .map(|(t, b)| p[0] + p[1] * (t - 20.0) - b)
                .collect::<Vec<f64>>()
        };
        let problem = Problem {
            residuals: &residuals,
            priors: 0,
            slopes: Slopes::Differences(&[1e-3, 1e-4]),
            loss: Loss::Square,
            settled: TO_THE_DIGIT,
        };
        let fit = problem.solve(&[0.0, 0.0]).unwrap();
        let variance = fit.residuals.iter().map(|r| r * r).sum::<f64>() / (readings.len() - 2) as f64;
        let sd = |i: usize| (variance * fit.covariance[(i, i)]).sqrt();
        let correlation = fit.covariance[(0, 1)] / (fit.covariance[(0, 0)] * fit.covariance[(1, 1)]).sqrt();
        assert!((fit.parameters[0] + 0.1712).abs() < 5e-5, "{:?}", fit.parameters);
        assert!((fit.parameters[1] - 0.00218).abs() < 5e-6, "{:?}", fit.parameters);
        assert!(
            (sd(0) - 0.0029).abs() < 5e-5 && (sd(1) - 0.00067).abs() < 5e-6,
            "{} {}",
            sd(0),
            sd(1)
        );
        assert!((correlation + 0.930).abs() < 5e-4, "{correlation}");
        // H.3.4: the correction at 30 °C, where the covariance of the two counts.
        let correction = fit.parameters[0] + 10.0 * fit.parameters[1];
        let covariance = &fit.covariance;
        let u = (variance * (covariance[(0, 0)] + 100.0 * covariance[(1, 1)] + 20.0 * covariance[(0, 1)])).sqrt();
        assert!(
            (correction + 0.1494).abs() < 5e-5 && (u - 0.0041).abs() < 5e-5,
            "{correction} {u}"
        );
    }

    #[test]
    fn an_outlier_does_not_steer_the_cauchy_fit() {
        let data: Vec<(f64, f64)> = (0..20)
            .map(|i| (f64::from(i), if i == 7 { 500.0 } else { 2.0 + 3.0 * f64::from(i) }))
            .collect();
        let residuals = |p: &[f64]| data.iter().map(|(x, y)| p[0] + p[1] * x - y).collect::<Vec<f64>>();
        let solve = |loss| {
            Problem {
                residuals: &residuals,
                priors: 0,
                slopes: Slopes::Differences(&[1e-3, 1e-3]),
                loss,
                settled: TO_THE_DIGIT,
            }
            .solve(&[0.0, 0.0])
            .unwrap()
        };
        let robust = solve(Loss::Cauchy { scale: 2.0 });
        assert!(
            (robust.parameters[0] - 2.0).abs() < 0.05 && (robust.parameters[1] - 3.0).abs() < 0.005,
            "{:?}",
            robust.parameters
        );
        assert!((solve(Loss::Square).parameters[0] - 2.0).abs() > 5.0);
        assert!(robust.converged);
    }

    /// However slopes are had, and whether all or the lowest place alone is asked for.
    #[test]
    fn all_ways_to_slopes_end_at_the_same_place() {
        // A Gaussian on a slope, from far enough that some steps do not help.
        let at: Vec<f64> = (0..60).map(|n| 0.1 * f64::from(n)).collect();
        let bell = |p: &[f64], x: f64| p[0] * (-((x - p[1]) / p[2]).powi(2)).exp();
        let truth = [3.0, 2.5, 0.6];
        let residuals = |p: &[f64]| -> Vec<f64> {
            let noise = |x: f64| 0.05 * (37.0 * x).sin();
            at.iter()
                .map(|&x| (bell(p, x) - bell(&truth, x) - noise(x)) / 0.05)
                .collect()
        };
        let slopes = |p: &[f64]| {
            DMatrix::from_fn(at.len(), 3, |row, column| {
                let off = (at[row] - p[1]) / p[2];
                let by = [1.0 / p[0], 2.0 * off / p[2], 2.0 * off * off / p[2]];
                bell(p, at[row]) * by[column] / 0.05
            })
        };
        let together = |p: &[f64]| (residuals(p), slopes(p));
        let ways = [
            Slopes::Differences(&[1e-5; 3]),
            Slopes::Closed(&slopes),
            Slopes::Together(&together),
        ];
        let fits = ways.map(|slopes| {
            let problem = Problem {
                residuals: &residuals,
                priors: 0,
                slopes,
                loss: Loss::Cauchy { scale: 2.0 },
                settled: TO_THE_DIGIT,
            };
            let fit = problem.solve(&[1.0, 1.4, 0.9]).unwrap();
            let (lowest, cost) = problem.lowest(&[1.0, 1.4, 0.9]).unwrap();
            assert_eq!((&lowest, cost), (&fit.parameters, fit.cost));
            fit
        });
        for fit in &fits {
            for (n, truth) in truth.iter().enumerate() {
                let sd = fits[0].covariance[(n, n)].sqrt();
                assert!((fit.parameters[n] - fits[0].parameters[n]).abs() < 1e-4 * sd);
                assert!((fit.covariance[(n, n)].sqrt() / sd - 1.0).abs() < 1e-4);
                assert!(
                    (fit.parameters[n] - truth).abs() < 4.0 * sd,
                    "{n}: {}",
                    fit.parameters[n]
                );
            }
            assert!((fit.gain() - fits[0].gain()).norm() < 1e-4 * fits[0].gain().norm());
        }
    }

    #[test]
    fn a_prior_alone_keeps_its_own_covariance() {
        // One datum with sd 1 on a, priors with sd 2 on a and sd 3 on b: closed form 1/(1 + 1/4) and 9.
        let residuals = |p: &[f64]| vec![p[0] - 1.0, p[0] / 2.0, p[1] / 3.0];
        let problem = Problem {
            residuals: &residuals,
            priors: 2,
            slopes: Slopes::Differences(&[1e-4, 1e-4]),
            loss: Loss::Square,
            settled: TO_THE_DIGIT,
        };
        let fit = problem.solve(&[5.0, 5.0]).unwrap();
        assert!((fit.parameters[0] - 0.8).abs() < 1e-9 && fit.parameters[1].abs() < 1e-9);
        assert!((fit.covariance[(0, 0)] - 0.8).abs() < 1e-9 && (fit.covariance[(1, 1)] - 9.0).abs() < 1e-9);
    }
}
