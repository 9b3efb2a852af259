//! Whether the photo with the lamp off is one: how much of its light follows the lamp's.

use super::scan::{LampPlace, Scans, steps};
use super::{FLAT_FROM_DEG, FLAT_TO_DEG};
use crate::photo::Photo;
use crate::record::{Lamp, Traffic};
use crate::wall::View;

/// Light of a lamp-off photo beside that of the lit one, over the scans that the cut-off is read from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OffLight {
    /// The part of the lit photo's pattern of light that is in it too: 0 for light that is the same everywhere, 1 where
    /// the lamp shines as in the lit photo, wherever its cut-off then lies.
    pub of_pattern: f64,
    /// Its light over the lit photo's where that one is bright.
    pub of_bright: f64,
    /// Share of the places where it is clipped, so that its light is more than it says.
    pub clipped: f64,
}

/// Places where the lit photo has this share of its brightest light or more are bright (our choice, no source).
const BRIGHT_SHARE: f64 = 0.5;
/// Fewer places that both photos show tell nothing.
const LEAST_PLACES: usize = 200;

/// Holds the photo with the lamp off against the lit one, seen in the same `view`; `factor` brings its light to the lit
/// photo's exposure. `None` where too little is seen of both.
#[must_use]
pub(crate) fn off_light(
    photo: &Photo,
    (off, factor): (&Photo, f64),
    view: &View,
    lamp: &Lamp,
    traffic: Traffic,
) -> Option<OffLight> {
    let place = LampPlace::new(lamp, traffic.flat_side_sign());
    let scans = Scans::new(photo, view, place, None);
    let angles_deg = steps(FLAT_FROM_DEG, FLAT_TO_DEG, 0.1);
    let dark = Scans { photo: off, ..scans }.columns(&angles_deg);
    let clipped = super::quality::clipped_share(&dark);
    let pairs: Vec<(f64, f64)> = (scans.columns(&angles_deg).iter().zip(&dark))
        .flat_map(|(lit, dark)| lit.light.iter().zip(&dark.light))
        .filter(|(lit, dark)| lit.is_finite() && dark.is_finite())
        .map(|(lit, dark)| (*lit, factor * dark))
        .collect();
    OffLight::of(&pairs, clipped)
}

impl OffLight {
    /// From the light of both photos at the same places: lit, and off at the lit one's exposure.
    fn of(pairs: &[(f64, f64)], clipped: f64) -> Option<Self> {
        if pairs.len() < LEAST_PLACES {
            return None;
        }
        let count = pairs.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
        let (lit_mean, off_mean) = (mean(|p| p.0), mean(|p| p.1));
        let (mut squares, mut products, mut most) = (0.0, 0.0, 0.0_f64);
        for (lit, off) in pairs {
            squares += (lit - lit_mean).powi(2);
            products += (lit - lit_mean) * (off - off_mean);
            most = most.max(*lit);
        }
        let bright = pairs.iter().filter(|pair| pair.0 >= BRIGHT_SHARE * most);
        let (lit, off) = bright.fold((0.0, 0.0), |sums, pair| (sums.0 + pair.0, sums.1 + pair.1));
        (squares > 0.0 && lit > 0.0).then(|| Self {
            of_pattern: products / squares,
            of_bright: off / lit,
            clipped,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Light of a cut-off on 400 places, with what the room adds.
    fn lit(lamp: f64, edge: usize, room: f64) -> Vec<f64> {
        let at = |n: usize| room + lamp * if n < edge { 1.0 } else { 0.02 };
        (0..400).map(at).collect()
    }

    fn off_light(off: &[f64]) -> OffLight {
        let pairs: Vec<(f64, f64)> = lit(1.0, 200, 0.05).into_iter().zip(off.iter().copied()).collect();
        OffLight::of(&pairs, 0.0).unwrap()
    }

    #[test]
    fn a_room_s_even_light_follows_no_lamp_and_a_lit_lamp_does() {
        let dark = off_light(&lit(0.0, 200, 0.05));
        assert!(dark.of_pattern.abs() < 1e-12, "{dark:?}");
        // By hand: 0.05 over 1.05.
        assert!((dark.of_bright - 0.05 / 1.05).abs() < 1e-12, "{dark:?}");
        let same = off_light(&lit(1.0, 200, 0.05));
        assert!((same.of_pattern - 1.0).abs() < 1e-12 && (same.of_bright - 1.0).abs() < 1e-12);
        let dimmed = off_light(&lit(0.1, 200, 0.05));
        assert!((dimmed.of_pattern - 0.1).abs() < 1e-12, "{dimmed:?}");
        // Its cut-off elsewhere, as in a photo of another position: half of the lit places are the same.
        let lower = off_light(&lit(1.0, 150, 0.05));
        assert!((0.7..1.0).contains(&lower.of_pattern), "{lower:?}");
        assert_eq!(OffLight::of(&[(1.0, 0.5); 10], 0.0), None);
    }
}
