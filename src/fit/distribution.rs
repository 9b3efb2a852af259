//! Probabilities of the usual distributions. The normal ones come from `libm`, whose complementary error function is good
//! to the last digit; that of `statrs` is off by up to 1e-10 of the tail.

use statrs::distribution::{ChiSquared, ContinuousCDF};
use std::f64::consts::{PI, SQRT_2};

/// Probability of a standard normal deviate above `z`, which may be infinite: Q(z) = erfc(z / √2) / 2 (M. Abramowitz and I.
/// A. Stegun, *Handbook of Mathematical Functions*, 26.2.29).
#[must_use]
pub(crate) fn normal_tail(z: f64) -> f64 {
    0.5 * libm::erfc(z / SQRT_2)
}

/// Density of a standard normal deviate at `z`.
#[must_use]
pub(crate) fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// How far the mean of max(x, 0) lies above that of x, a normal variable of mean `z` and standard deviation 1: φ(z) − z Q(z) (a
/// censored variable; J. Tobin, *Econometrica* 26 (1958) 24; from memory).
#[must_use]
pub(crate) fn lift_at_zero(z: f64) -> f64 {
    normal_density(z) - z * normal_tail(z)
}

/// Probability of a standard normal deviate between `low` and `high`, which may be infinite; 0 where `low` is above
/// `high`.
#[must_use]
pub(crate) fn normal_between(low: f64, high: f64) -> f64 {
    // Taken from the side on which both tails are small, so that a small share keeps its digits.
    let share = if low > 0.0 {
        normal_tail(low) - normal_tail(high)
    } else {
        normal_tail(-high) - normal_tail(-low)
    };
    share.max(0.0)
}

/// Probability of a chi-square at least this large; 1 without degrees of freedom, when it cannot be large.
#[must_use]
pub(crate) fn chi_square_tail(chi_square: f64, degrees_of_freedom: usize) -> f64 {
    ChiSquared::new(degrees_of_freedom as f64).map_or(1.0, |distribution| distribution.sf(chi_square))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// To the digits of the handbook's table 26.1 (from memory): Q(0), Q(1), Q(2), Q(3), Q(5).
    #[test]
    fn normal_tails_are_those_of_the_handbook() {
        for (z, tail, digits) in [
            (0.0, 0.5, 1e-15),
            (1.0, 0.158_655_253_931_457, 1e-15),
            (2.0, 0.022_750_131_948_179, 1e-15),
            (3.0, 0.001_349_898_031_630, 1e-15),
            (5.0, 2.866_515_719e-7, 1e-16),
        ] {
            let found = normal_between(z, f64::INFINITY);
            assert!((found - tail).abs() < digits, "{z}: {found}");
            assert!((normal_between(f64::NEG_INFINITY, -z) - tail).abs() < digits, "{z}");
        }
        // Q(10) = 7.6199e-24 (from memory of the handbook's asymptotic series); 1 − Φ(10) would be 0.
        let far = normal_between(10.0, f64::INFINITY);
        assert!((far / 7.619_853e-24 - 1.0).abs() < 1e-6, "{far:e}");
        assert!(normal_between(10.0, 11.0) > 0.0);
        assert_eq!(normal_between(1.0, -1.0), 0.0);
        assert_eq!(normal_between(f64::NEG_INFINITY, f64::INFINITY), 1.0);
    }

    #[test]
    fn the_tail_of_chi_square_is_that_of_the_tables() {
        // Upper 5 % and 1 % points (any table; from memory): 18.307 and 23.209 for 10, 11.070 and 15.086 for 5.
        for (chi_square, freedom, tail) in [
            (18.307, 10, 0.05),
            (23.209, 10, 0.01),
            (11.070, 5, 0.05),
            (15.086, 5, 0.01),
        ] {
            let found = chi_square_tail(chi_square, freedom);
            assert!((found / tail - 1.0).abs() < 5e-4, "{chi_square}: {found}");
        }
        // Two degrees of freedom have a closed form, e^(−x/2).
        assert!((chi_square_tail(7.0, 2) - (-3.5f64).exp()).abs() < 1e-15);
        assert_eq!((chi_square_tail(f64::INFINITY, 3), chi_square_tail(5.0, 0)), (0.0, 1.0));
    }
}
