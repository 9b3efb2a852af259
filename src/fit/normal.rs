//! The standard normal distribution: its tails and its density.
//!
//! Both tails come from the complementary error function, Q(z) = erfc(z / √2) / 2 (M. Abramowitz and I. A. Stegun,
//! *Handbook of Mathematical Functions*, 26.2.29), so that a small tail keeps its digits and is never what is left of
//! 1 − 1.

use std::f64::consts::{PI, SQRT_2};

/// Probability above `z`, which may be infinite.
#[must_use]
pub(crate) fn upper_tail(z: f64) -> f64 {
    0.5 * libm::erfc(z / SQRT_2)
}

/// Probability below `z`, which may be infinite.
#[must_use]
pub(crate) fn lower_tail(z: f64) -> f64 {
    upper_tail(-z)
}

/// Probability between `low` and `high`, which may be infinite; 0 where `low` is above `high`.
#[must_use]
pub(crate) fn between(low: f64, high: f64) -> f64 {
    // Taken from the side on which both tails are small.
    let share = if low > 0.0 {
        upper_tail(low) - upper_tail(high)
    } else {
        lower_tail(high) - lower_tail(low)
    };
    share.max(0.0)
}

/// Density at `z`.
#[must_use]
pub(crate) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tails_are_those_of_the_handbook() {
        // Abramowitz and Stegun, table 26.1, to the digits of the table (from memory): Q(0), Q(1), Q(2), Q(3), Q(5).
        for (z, tail, digits) in [
            (0.0, 0.5, 1e-15),
            (1.0, 0.158_655_253_931_457, 1e-15),
            (2.0, 0.022_750_131_948_179, 1e-15),
            (3.0, 0.001_349_898_031_630, 1e-15),
            (5.0, 2.866_515_719e-7, 1e-16),
        ] {
            assert!((upper_tail(z) - tail).abs() < digits, "{z}: {}", upper_tail(z));
            assert!((lower_tail(-z) - tail).abs() < digits, "{z}");
        }
        assert_eq!((upper_tail(f64::INFINITY), lower_tail(f64::INFINITY)), (0.0, 1.0));
    }

    /// The slow twin: Simpson's rule over the density.
    #[test]
    fn an_interval_holds_the_density_summed_over_it() {
        for (low, high) in [(-1.0, 1.0), (0.5, 2.5), (-3.0, -1.0), (2.0, 6.0), (-0.2, 0.1)] {
            let parts = 2000;
            let step = (high - low) / f64::from(parts);
            let sum: f64 = (0..=parts)
                .map(|n| {
                    let weight = match n {
                        0 => 1.0,
                        n if n == parts => 1.0,
                        n if n % 2 == 1 => 4.0,
                        _ => 2.0,
                    };
                    weight * density(low + f64::from(n) * step)
                })
                .sum();
            let held = between(low, high);
            assert!((held - sum * step / 3.0).abs() < 1e-12, "{low} to {high}: {held}");
        }
        assert_eq!(between(1.0, -1.0), 0.0);
        assert_eq!(between(f64::NEG_INFINITY, f64::INFINITY), 1.0);
    }

    #[test]
    fn far_tails_keep_their_digits() {
        // Q(10) = 7.6199e-24 (from memory of the handbook's asymptotic series); 1 − Φ(10) would be 0.
        assert!(
            (upper_tail(10.0) / 7.619_853e-24 - 1.0).abs() < 1e-6,
            "{:e}",
            upper_tail(10.0)
        );
        assert!(between(10.0, 11.0) > 0.0);
    }
}
