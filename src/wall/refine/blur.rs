//! The Gaussian blur of a step, from a table: a fit asks for it at every pixel in every step.

use crate::fit::{normal_density, normal_tail};
use std::sync::LazyLock;

/// The table reaches this far to either side; beyond, a millionth of a millionth is missing.
const REACH: f64 = 7.0;
/// Entries a unit: cubics between them are good to a part in 10⁹.
const ENTRIES_A_UNIT: f64 = 64.0;

/// The integral up to each entry, and the density there.
static TABLE: LazyLock<Vec<[f64; 2]>> = LazyLock::new(|| {
    let count = (2.0 * REACH * ENTRIES_A_UNIT) as u32;
    (0..=count)
        .map(|n| f64::from(n) / ENTRIES_A_UNIT - REACH)
        .map(|z| [normal_tail(-z), normal_density(z)])
        .collect()
});

/// The table, for who asks often.
#[derive(Clone, Copy)]
pub(super) struct Gaussian(&'static [[f64; 2]]);

/// The standard Gaussian.
pub(super) fn gaussian() -> Gaussian {
    Gaussian(&TABLE)
}

impl Gaussian {
    /// Its integral up to `z`, and its density there.
    #[inline]
    pub fn at(self, z: f64) -> (f64, f64) {
        if z.is_nan() || z <= -REACH {
            return (0.0, 0.0);
        }
        let place = (z + REACH) * ENTRIES_A_UNIT;
        let entry = place as usize;
        match self.0.get(entry..entry.saturating_add(2)) {
            Some(&[[low, low_rise], [high, high_rise]]) => {
                let t = place - entry as f64;
                let width = 1.0 / ENTRIES_A_UNIT;
                let z_low = entry as f64 * width - REACH;
                // Hermite's cubic; the density's slope is -z times itself.
                let cubic = |low: f64, low_slope: f64, high: f64, high_slope: f64| {
                    let (low_slope, high_slope) = (low_slope * width, high_slope * width);
                    let apart = high - low;
                    low + t
                        * (low_slope
                            + t * (3.0 * apart - 2.0 * low_slope - high_slope
                                + t * (low_slope + high_slope - 2.0 * apart)))
                };
                (
                    cubic(low, low_rise, high, high_rise),
                    cubic(low_rise, -z_low * low_rise, high_rise, -(z_low + width) * high_rise),
                )
            }
            _ => (if z > 0.0 { 1.0 } else { 0.0 }, 0.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_the_blur() {
        for step in -9000..=9000 {
            let z = f64::from(step) / 1000.0;
            let (share, density) = gaussian().at(z);
            assert!((share - normal_tail(-z)).abs() < 1e-9, "{z}: {share}");
            assert!((density - normal_density(z)).abs() < 1e-9, "{z}: {density}");
        }
        assert_eq!(gaussian().at(f64::INFINITY), (1.0, 0.0));
        assert_eq!(gaussian().at(f64::NEG_INFINITY), (0.0, 0.0));
    }
}
