//! A camera's response as it is laid on a photo's light, pixel by pixel.

use super::response::Curve;

/// The table begins at this power of two: below, ln light and ln nominal light run side by side.
const LEAST_EXPONENT: u32 = 13;
/// Bits of a light's significand that its entry does not count; 11 are left, and a straight line between two entries is off by less
/// than the last bit.
const SHIFT: u32 = 12;

/// Light by nominal light, from a table in even steps of its bits.
#[derive(Debug)]
pub(crate) struct Bent {
    curve: Curve,
    /// From 2 to the power of −[`LEAST_EXPONENT`] to 1.
    table: Vec<f32>,
}

/// The bits of the table's first light.
fn first_bits() -> u32 {
    0.5_f32.powi(LEAST_EXPONENT as i32).to_bits()
}

/// Light of nominal light by the curve itself; what is not above nothing stays nothing.
fn by_curve(curve: &Curve, nominal: f32) -> f32 {
    if nominal > 0.0 {
        curve.ln_light(f64::from(nominal).ln()).0.exp() as f32
    } else {
        0.0
    }
}

impl Bent {
    pub fn by(curve: Curve) -> Self {
        let bits = (first_bits()..=1.0_f32.to_bits()).step_by(1 << SHIFT);
        let table = bits.map(|bits| by_curve(&curve, f32::from_bits(bits))).collect();
        Self { curve, table }
    }

    pub fn light(&self, nominal: f32) -> f32 {
        let past = nominal.max(0.0).to_bits().wrapping_sub(first_bits());
        let entry = (past >> SHIFT) as usize;
        match self.table.get(entry..entry.saturating_add(2)) {
            Some(&[low, high]) => {
                let share = (past & ((1 << SHIFT) - 1)) as f32 / (1 << SHIFT) as f32;
                low + share * (high - low)
            }
            _ => by_curve(&self.curve, nominal),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_the_curve() {
        let curve = Curve::new(std::array::from_fn(|n| 0.4 * (0.9 * n as f64).sin()));
        let bent = Bent::by(curve.clone());
        let mut nominal = 1.1_f32;
        while nominal > 1e-8 {
            let (found, plain) = (bent.light(nominal), by_curve(&curve, nominal));
            assert!((found / plain - 1.0).abs() < 3e-7, "{nominal}: {found}, {plain}");
            nominal *= 0.999_87;
        }
        for odd in [0.0, -1.0, -0.0] {
            assert_eq!(bent.light(odd), 0.0);
        }
        assert_eq!(bent.light(1.0), 1.0);
    }
}
