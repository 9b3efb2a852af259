//! Noise that was cut off at black: a dark place whose noise would go below nothing comes out brighter than it is.

use super::LUMINANCE_WEIGHTS;
use crate::fit::{lift_at_zero, normal_density, normal_tail};

/// The mean light as it was before noise was cut off at black, from mean and standard deviation of the pixels that are left, linear;
/// below zero where there was none. Noise is cut off in each colour by itself, and luminance is their weighted sum; a normal
/// distribution cut off at 0 has a mean and a scatter of its own (J. Tobin, *Econometrica* 26 (1958) 24; from memory).
pub(crate) fn mean_before_black(mean: f64, sd: f64) -> f64 {
    /// Light further above black than so many standard deviations is not cut.
    const FAR: f64 = 3.0;
    let [red, green, blue] = LUMINANCE_WEIGHTS.map(f64::from);
    let sd = sd / (red * red + green * green + blue * blue).sqrt();
    if sd <= 0.0 || mean <= 0.0 || mean > FAR * sd {
        return mean;
    }
    let (mut low, mut high) = (-3.0, FAR + 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let [its_mean, its_sd] = cut_off(middle);
        if its_mean / its_sd < mean / sd {
            low = middle;
        } else {
            high = middle;
        }
    }
    mean * low / cut_off(low)[0]
}

/// Mean and standard deviation of max(x, 0) for normal x of mean `at` and standard deviation 1.
fn cut_off(at: f64) -> [f64; 2] {
    let mean = at + lift_at_zero(at);
    let square = (at * at + 1.0) * normal_tail(-at) + at * normal_density(at);
    [mean, (square - mean * mean).max(1e-12).sqrt()]
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_distr::StandardNormal;

    /// Noise is drawn in three colours and cut off, and the light must come out as it was made.
    #[test]
    fn light_is_found_below_drawn_noise() {
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(5);
        for (light, noise) in [(0.01, 0.002), (0.01, 0.01), (0.01, 0.02), (0.004, 0.02)] {
            let mut colour =
                |weight: f32| f64::from(weight) * (light + noise * rng.sample::<f64, _>(StandardNormal)).max(0.0);
            let seen: Vec<f64> = (0..100_000)
                .map(|_| LUMINANCE_WEIGHTS.iter().map(|&weight| colour(weight)).sum())
                .collect();
            let mean = seen.iter().sum::<f64>() / seen.len() as f64;
            let sd = (seen.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / seen.len() as f64).sqrt();
            let found = mean_before_black(mean, sd);
            assert!(
                (found - light).abs() < 0.04 * noise,
                "{light} {noise}: {found}, seen {mean}"
            );
        }
    }

    #[test]
    fn without_noise_nothing_is_lifted() {
        assert!(mean_before_black(0.01, 0.001) == 0.01 && mean_before_black(0.0, 0.0) == 0.0);
    }
}
