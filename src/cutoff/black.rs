//! Noise that was cut off at black: a dark place whose noise would go below nothing comes out brighter than it is.
//!
//! What is left of the noise above zero has another mean and scatter than it had, so that those of the dark pixels tell how much they
//! were lifted. Many cameras smooth before they cut off, or keep black above zero, so that this is the most it can be: it widens the
//! interval, and the light is left as it is.

use super::READING_SCAN_DEG;
use super::scan::{Scans, steps};
use crate::fit::{lift_at_zero, normal_density, normal_tail};

/// Where the dark is looked at, above the edge and to either side of the reading scan, degrees (our choice, no source).
const ABOVE_DEG: [f64; 2] = [0.4, 1.4];
const ASIDE_DEG: f64 = 1.0;
const SPACING_DEG: f64 = 0.04;
/// Pixels that are compared lie so many apart: beyond what interpolating the colours joins (our choice, no source).
const APART_PX: usize = 3;
/// Fewer pairs tell no scatter.
const LEAST_PAIRS: usize = 100;

/// By how much, at the most, noise lifted the dark above an edge at `edge_deg`, linear light; 0 where too little of it is seen.
pub(super) fn lift(scans: &Scans<'_>, edge_deg: f64) -> f64 {
    let angles_deg = steps(READING_SCAN_DEG - ASIDE_DEG, READING_SCAN_DEG + ASIDE_DEG, SPACING_DEG);
    let heights_deg = steps(edge_deg + ABOVE_DEG[0], edge_deg + ABOVE_DEG[1], SPACING_DEG);
    let picture = &scans.photo.luminance;
    let pair = |angle_deg: f64, beta_deg: f64| {
        let wall_mm = [scans.lamp.x_at_mm(angle_deg), scans.lamp.y_at_mm(beta_deg)];
        if scans.view.hidden(wall_mm) {
            return None;
        }
        let [x_px, y_px] = scans.view.to_photo(wall_mm)?;
        let inside = (0.0..(picture.width_px - APART_PX) as f64 - 1.0).contains(&x_px)
            && (0.0..picture.height_px as f64 - 1.0).contains(&y_px);
        let first = y_px.round() as usize * picture.width_px + x_px.round() as usize;
        inside.then(|| [first, first + APART_PX].map(|n| f64::from(picture.values[n])))
    };
    let pairs: Vec<[f64; 2]> = angles_deg
        .iter()
        .flat_map(|&angle_deg| {
            heights_deg
                .iter()
                .filter_map(move |&beta_deg| pair(angle_deg, beta_deg))
        })
        .collect();
    if pairs.len() < LEAST_PAIRS {
        return 0.0;
    }
    let count = pairs.len() as f64;
    let mean = pairs.iter().map(|[a, b]| 0.5 * (a + b)).sum::<f64>() / count;
    let sd = (pairs.iter().map(|[a, b]| (a - b).powi(2)).sum::<f64>() / (2.0 * count)).sqrt();
    lift_of(mean, sd)
}

/// By how much a mean of noise that was cut off at zero lies above what it was before, from mean and scatter of what is left.
fn lift_of(mean: f64, sd: f64) -> f64 {
    /// Light is not negative, and beyond four standard deviations nothing is cut off.
    const OF_SD: [f64; 2] = [0.0, 4.0];
    if sd <= 0.0 || mean <= 0.0 {
        return 0.0;
    }
    let [mut low, mut high] = OF_SD;
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let [its_mean, its_sd] = cut_off(middle);
        if its_mean / its_sd < mean / sd {
            low = middle;
        } else {
            high = middle;
        }
    }
    let at = 0.5 * (low + high);
    let [its_mean, its_sd] = cut_off(at);
    (its_mean - at) * sd / its_sd
}

/// Mean and standard deviation of max(x, 0) for normal x of mean `at` and standard deviation 1.
fn cut_off(at: f64) -> [f64; 2] {
    let mean = at + lift_at_zero(at);
    let square = (at * at + 1.0) * normal_tail(-at) + at * normal_density(at);
    [mean, (square - mean * mean).sqrt()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_distr::StandardNormal;

    /// Noise is drawn and cut off, and the lift must come out as it was made.
    #[test]
    fn the_lift_of_drawn_noise_is_found() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
        for (light, noise) in [(0.01, 0.002), (0.01, 0.01), (0.01, 0.02), (0.004, 0.02)] {
            let seen: Vec<f64> = (0..200_000)
                .map(|_| (light + noise * rng.sample::<f64, _>(StandardNormal)).max(0.0))
                .collect();
            let mean = seen.iter().sum::<f64>() / seen.len() as f64;
            let sd = (seen.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / seen.len() as f64).sqrt();
            let found = lift_of(mean, sd);
            assert!(
                (found - (mean - light)).abs() < 0.02 * noise,
                "{light} {noise}: {found} {}",
                mean - light
            );
        }
    }

    #[test]
    fn without_noise_nothing_is_lifted() {
        assert!(lift_of(0.01, 0.001) < 1e-6 && lift_of(0.0, 0.0) == 0.0);
    }
}
