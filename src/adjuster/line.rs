//! A straight line through weighted readings, in closed form.

/// The line y = `intercept` + `slope`·x that makes the weighted sum of squares least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    /// y at x = 0.
    pub intercept: f64,
    /// Per unit of x.
    pub slope: f64,
    /// One standard deviation of the slope, where the weights are inverse variances.
    pub slope_sd: f64,
}

impl Line {
    /// Through readings of a weight, an x and a y each; `None` where they do not differ in x.
    pub fn through(readings: impl IntoIterator<Item = (f64, f64, f64)>) -> Option<Self> {
        let (mut n, mut x, mut xx, mut y, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for (weight, at, value) in readings {
            n += weight;
            x += weight * at;
            xx += weight * at * at;
            y += weight * value;
            xy += weight * at * value;
        }
        let determinant = n * xx - x * x;
        (determinant > 1e-9 * n * xx).then(|| Self {
            intercept: (xx * y - x * xy) / determinant,
            slope: (n * xy - x * y) / determinant,
            slope_sd: (n / determinant).sqrt(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the general least squares of [`crate::fit`], which the certified data sets check.
    #[test]
    fn it_is_the_line_of_the_general_least_squares() {
        let readings = [(4.0, 0.1, 1.0), (1.0, 0.9, 2.1), (2.5, 1.7, 2.2), (9.0, 2.0, 3.4)];
        let residuals = |p: &[f64]| -> Vec<f64> {
            let off = |&(weight, x, y): &(f64, f64, f64)| f64::sqrt(weight) * (p[0] + p[1] * x - y);
            readings.iter().map(off).collect()
        };
        let problem = crate::fit::Problem {
            residuals: &residuals,
            priors: 0,
            slopes: crate::fit::Slopes::Differences(&[1e-4, 1e-4]),
            loss: crate::fit::Loss::Square,
            settled: crate::fit::TO_THE_DIGIT,
        };
        let (fit, line) = (problem.solve(&[0.0, 0.0]).unwrap(), Line::through(readings).unwrap());
        assert!((line.intercept - fit.parameters[0]).abs() < 1e-8 && (line.slope - fit.parameters[1]).abs() < 1e-8);
        assert!((line.slope_sd - fit.covariance[(1, 1)].sqrt()).abs() < 1e-8);
        assert_eq!(Line::through(readings.map(|(weight, _, y)| (weight, 0.7, y))), None);
    }
}
