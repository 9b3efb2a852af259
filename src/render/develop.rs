//! From light to an 8-bit picture: blur, veil, exposure, noise, tone, sRGB.

use super::camera::Camera;
use super::scene::Exposure;
use crate::fit::ranked;
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rayon::prelude::*;

/// Below this many electrons the shot noise is drawn as a Poisson number, above it as a normal one (common
/// practice, no source).
const POISSON_BELOW_ELECTRONS: f64 = 20.0;

/// Blurs by defocus and motion, and adds the veil, in place.
pub(super) fn through_lens(light_lx: &mut Vec<f32>, camera: &Camera) {
    let (width, height) = (camera.width_px, camera.height_px);
    if camera.motion_px > 0.0 {
        *light_lx = moved(light_lx, width, height, camera.motion_px, camera.motion_direction_deg);
    }
    if camera.defocus_px > 0.0 {
        blur(light_lx, width, height, camera.defocus_px);
    }
    if camera.veil_percent > 0.0 {
        // Summed row by row, in order: the same on any number of threads.
        let rows: Vec<f64> = light_lx
            .par_chunks(width)
            .map(|row| row.iter().map(|&value| f64::from(value)).sum())
            .collect();
        let mean_lx = rows.iter().sum::<f64>() / light_lx.len() as f64;
        let veil_lx = (camera.veil_percent / 100.0 * mean_lx) as f32;
        light_lx.par_iter_mut().for_each(|value| *value += veil_lx);
    }
}

/// A Gaussian blur of standard deviation `sd_px`, the picture's border repeated outward.
fn blur(values: &mut [f32], width: usize, height: usize, sd_px: f64) {
    let reach = (4.0 * sd_px).ceil() as usize;
    let weights: Vec<f32> = {
        let bell = |i: usize| (-0.5 * ((i as f64 - reach as f64) / sd_px).powi(2)).exp();
        let sum: f64 = (0..=2 * reach).map(bell).sum();
        (0..=2 * reach).map(|i| (bell(i) / sum) as f32).collect()
    };
    values.par_chunks_mut(width).for_each_init(Vec::new, |padded, row| {
        padded.clear();
        padded.extend(std::iter::repeat_n(row[0], reach));
        padded.extend_from_slice(row);
        padded.extend(std::iter::repeat_n(row[width - 1], reach));
        for (value, window) in row.iter_mut().zip(padded.windows(weights.len())) {
            *value = window.iter().zip(&weights).map(|(a, b)| a * b).sum();
        }
    });
    let source = values.to_owned();
    values.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        row.fill(0.0);
        for (i, &weight) in weights.iter().enumerate() {
            let from = (y + i).saturating_sub(reach).min(height - 1);
            for (value, &part) in row.iter_mut().zip(&source[from * width..(from + 1) * width]) {
                *value += weight * part;
            }
        }
    });
}

/// The mean along a straight move of `length_px`, centred on each pixel.
fn moved(values: &[f32], width: usize, height: usize, length_px: f64, direction_deg: f64) -> Vec<f32> {
    let (sin, cos) = direction_deg.to_radians().sin_cos();
    let steps = (4.0 * length_px).ceil() as usize + 1;
    let mut out = vec![0.0_f32; values.len()];
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, value) in row.iter_mut().enumerate() {
            let sum: f64 = (0..steps)
                .map(|i| {
                    let along_px = length_px * ((i as f64 + 0.5) / steps as f64 - 0.5);
                    between(
                        values,
                        width,
                        height,
                        x as f64 + along_px * cos,
                        y as f64 - along_px * sin,
                    )
                })
                .sum();
            *value = (sum / steps as f64) as f32;
        }
    });
    out
}

/// Bilinear value of a grid at (`x`, `y`), its border repeated outward.
fn between(values: &[f32], width: usize, height: usize, x: f64, y: f64) -> f64 {
    let x = x.clamp(0.0, (width - 1) as f64);
    let y = y.clamp(0.0, (height - 1) as f64);
    let (left, top) = (
        (x as usize).min(width.saturating_sub(2)),
        (y as usize).min(height.saturating_sub(2)),
    );
    let (right, bottom) = ((left + 1).min(width - 1), (top + 1).min(height - 1));
    let (across, down) = (x - left as f64, y - top as f64);
    let at = |x: usize, y: usize| f64::from(values[y * width + x]);
    let upper = at(left, top) * (1.0 - across) + at(right, top) * across;
    let lower = at(left, bottom) * (1.0 - across) + at(right, bottom) * across;
    upper * (1.0 - down) + lower * down
}

/// The value that a share of `values` does not exceed.
pub(super) fn percentile(values: &mut [f32], share: f64) -> f64 {
    let rank = (values.len().saturating_sub(1) as f64 * share).round() as usize;
    ranked(values, rank).map_or(0.0, f64::from)
}

/// Finds the 8-bit code of a linear value exactly, without a power for every pixel.
pub(super) struct Coder {
    /// The code at the lower end of each of even steps of the linear scale.
    start: Vec<u8>,
    /// `from[c]`: the least linear value that rounds to code `c`.
    from: [f64; 256],
}

impl Coder {
    const STEPS: usize = 4096;

    /// `light_of`: the linear value, 0 to 1, that a code value, 0 to 1, stands for.
    pub fn new(light_of: impl Fn(f64) -> f64) -> Self {
        let mut from = [0.0; 256];
        for (code, least) in from.iter_mut().enumerate().skip(1) {
            *least = light_of((code as f64 - 0.5) / 255.0);
        }
        let start = (0..=Self::STEPS)
            .map(|step| {
                let linear = step as f64 / Self::STEPS as f64;
                // At most 255, as `from` has 256 entries, the first of them 0.
                (from.partition_point(|&least| least <= linear) - 1) as u8
            })
            .collect();
        Self { start, from }
    }

    pub fn code(&self, linear: f64) -> u8 {
        let linear = linear.clamp(0.0, 1.0);
        let mut code = self.start[(linear * Self::STEPS as f64) as usize];
        while code < 255 && linear >= self.from[usize::from(code) + 1] {
            code += 1;
        }
        code
    }
}

/// Exposes, adds noise and encodes: RGB, three bytes a pixel, row by row.
pub(super) fn develop(light_lx: &[f32], width: usize, full_scale_lx: f64, exposure: &Exposure, seed: u64) -> Vec<u8> {
    let coder = exposure.curve.coder();
    let tone = (exposure.tone_map > 0.0).then(|| Tone::new(light_lx, width, full_scale_lx, exposure));
    let mut rgb = vec![0_u8; light_lx.len() * 3];
    rgb.par_chunks_mut(3 * width)
        .zip(light_lx.par_chunks(width))
        .enumerate()
        .for_each(|(y, (row, row_lx))| {
            // One stream a row, so that the noise does not depend on which thread draws it.
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(y as u64);
            for (x, (pixel, &lx)) in row.chunks_exact_mut(3).zip(row_lx).enumerate() {
                let gain = tone.as_ref().map_or(1.0, |tone| tone.gain(x, y));
                for (code, tint) in pixel.iter_mut().zip(exposure.tint) {
                    let electrons = f64::from(lx) / full_scale_lx * tint * exposure.full_well_electrons;
                    let counted = counted(&mut rng, electrons, exposure.read_noise_electrons);
                    let linear = (counted / exposure.full_well_electrons).clamp(0.0, 1.0);
                    *code = coder.code(linear * gain);
                }
            }
        });
    if !exposure.edits.are_none() {
        exposure.edits.lay_on(&mut rgb, width);
    }
    rgb
}

/// A count of electrons with shot and read noise.
fn counted(rng: &mut ChaCha8Rng, electrons: f64, read_noise_electrons: f64) -> f64 {
    let normal: f64 = rng.sample(StandardNormal);
    if electrons >= POISSON_BELOW_ELECTRONS {
        return electrons + normal * (electrons + read_noise_electrons * read_noise_electrons).sqrt();
    }
    // The number of steps of a unit Poisson process, by inversion.
    let mut left: f64 = rng.random();
    let mut chance = (-electrons).exp();
    let mut count = 0.0;
    while left > chance && count < 100.0 {
        left -= chance;
        count += 1.0;
        chance *= electrons / count;
    }
    count + normal * read_noise_electrons
}

/// A local tone curve: each place is lifted by a power of how much darker its surroundings are than the brightest.
struct Tone {
    gains: Vec<f32>,
    columns: usize,
    rows: usize,
}

impl Tone {
    /// Side of the blocks that the surroundings are worked out on, px.
    const BLOCK_PX: usize = 16;

    fn new(light_lx: &[f32], width: usize, full_scale_lx: f64, exposure: &Exposure) -> Self {
        let height = light_lx.len() / width;
        let columns = width.div_ceil(Self::BLOCK_PX);
        let rows = height.div_ceil(Self::BLOCK_PX);
        let mut gains = vec![0.0_f32; columns * rows];
        for (row, block_row) in gains.chunks_exact_mut(columns).enumerate() {
            for (column, block) in block_row.iter_mut().enumerate() {
                let xs = column * Self::BLOCK_PX..((column + 1) * Self::BLOCK_PX).min(width);
                let ys = row * Self::BLOCK_PX..((row + 1) * Self::BLOCK_PX).min(height);
                let count = xs.len() * ys.len();
                let sum: f64 = ys
                    .flat_map(|y| light_lx[y * width..][xs.clone()].iter())
                    .map(|&lx| (f64::from(lx) / full_scale_lx).min(1.0))
                    .sum();
                *block = (sum / count as f64) as f32;
            }
        }
        blur(&mut gains, columns, rows, exposure.tone_map_reach * columns as f64);
        let brightest = gains.iter().copied().fold(0.0_f32, f32::max);
        for gain in &mut gains {
            *gain = (f64::from(brightest + 0.002) / f64::from(*gain + 0.002)).powf(exposure.tone_map) as f32;
        }
        Self { gains, columns, rows }
    }

    fn gain(&self, x: usize, y: usize) -> f64 {
        let block = |pixel: usize| (pixel as f64 + 0.5) / Self::BLOCK_PX as f64 - 0.5;
        between(&self.gains, self.columns, self.rows, block(x), block(y))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::{linear_from_srgb, srgb_from_linear};

    #[test]
    fn the_srgb_curve_has_its_published_values() {
        // IEC 61966-2-1: the two pieces meet at 0.0031308 ↔ 0.04045 (12.92 times). Known pairs: code 0.5 ↔ 0.214041,
        // linear 0.18 ↔ 0.461356, linear 0.5 ↔ 0.735357; 8-bit 128 ↔ 0.215861 (from memory).
        for (linear, code) in [
            (0.0, 0.0),
            (0.003_130_8, 0.040_45),
            (0.18, 0.461_356),
            (0.214_041, 0.5),
            (0.215_861, 128.0 / 255.0),
            (0.5, 0.735_357),
            (1.0, 1.0),
        ] {
            assert!((srgb_from_linear(linear) - code).abs() < 2e-6, "{linear}");
            assert!((linear_from_srgb(code) - linear).abs() < 2e-6, "{code}");
        }
    }

    #[test]
    fn the_fast_coder_rounds_as_the_curve_does() {
        let coder = Coder::new(linear_from_srgb);
        for i in 0..=200_000 {
            let linear = f64::from(i) / 200_000.0;
            let exact = 255.0 * srgb_from_linear(linear);
            let code = coder.code(linear);
            assert!(
                (exact - f64::from(code)).abs() <= 0.5 + 1e-3,
                "{linear}: {exact} {code}"
            );
        }
        assert_eq!((coder.code(-1.0), coder.code(7.0)), (0, 255));
    }

    #[test]
    fn noise_has_the_mean_and_spread_of_counted_electrons() {
        for electrons in [0.0, 2.0, 15.0, 400.0] {
            let mut rng = ChaCha8Rng::seed_from_u64(7);
            let count = 40_000;
            let draws: Vec<f64> = (0..count).map(|_| counted(&mut rng, electrons, 3.0)).collect();
            let mean = draws.iter().sum::<f64>() / f64::from(count);
            let variance = draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / f64::from(count);
            let wanted = electrons + 9.0;
            // Four standard errors.
            assert!(
                (mean - electrons).abs() < 4.0 * (wanted / f64::from(count)).sqrt(),
                "{electrons}: {mean}"
            );
            assert!(
                (variance / wanted - 1.0).abs() < 4.0 * (2.2 / f64::from(count)).sqrt(),
                "{electrons}: {variance}"
            );
        }
    }

    #[test]
    fn blur_and_motion_keep_the_light_and_have_the_spread_asked_for() {
        let (width, height) = (61, 51);
        let spread = |values: &[f32]| {
            let (mut sum, mut x2, mut y2) = (0.0, 0.0, 0.0);
            for (i, &value) in values.iter().enumerate() {
                let (x, y) = ((i % width) as f64 - 30.0, (i / width) as f64 - 25.0);
                sum += f64::from(value);
                x2 += f64::from(value) * x * x;
                y2 += f64::from(value) * y * y;
            }
            [sum, x2 / sum, y2 / sum]
        };
        let mut dot = vec![0.0_f32; width * height];
        dot[25 * width + 30] = 1.0;
        let mut blurred = dot.clone();
        blur(&mut blurred, width, height, 2.0);
        let [sum, x2, y2] = spread(&blurred);
        assert!(
            (sum - 1.0).abs() < 1e-5 && (x2 - 4.0).abs() < 0.02 && (y2 - 4.0).abs() < 0.02,
            "{sum} {x2} {y2}"
        );
        // Even motion over L has variance L²/12, the bilinear reading adds up to 1/4 at most.
        let run = moved(&dot, width, height, 12.0, 0.0);
        let [sum, x2, y2] = spread(&run);
        assert!(
            (sum - 1.0).abs() < 0.02 && (12.0..12.3).contains(&x2) && y2 < 1e-9,
            "{sum} {x2} {y2}"
        );
        let mut even = vec![3.0_f32; width * height];
        blur(&mut even, width, height, 5.0);
        assert!(
            even.iter().all(|value| (value - 3.0).abs() < 1e-4),
            "an even picture stays even, to its border"
        );
    }

    #[test]
    fn a_veil_adds_its_share_of_the_mean() {
        let camera = Camera {
            width_px: 20,
            height_px: 16,
            defocus_px: 0.0,
            veil_percent: 0.5,
            ..Camera::default()
        };
        let mut light_lx: Vec<f32> = (0..320).map(|i| if i < 160 { 0.0 } else { 200.0 }).collect();
        through_lens(&mut light_lx, &camera);
        assert!((light_lx[0] - 0.5).abs() < 1e-6 && (light_lx[319] - 200.5).abs() < 1e-4);
    }

    #[test]
    fn a_tone_map_lifts_the_dark_side() {
        let mut light_lx: Vec<f32> = vec![1.0; 320 * 320];
        light_lx[320 * 160..].fill(50.0);
        let plain = Exposure::default();
        let mapped = Exposure {
            tone_map: 0.3,
            ..plain.clone()
        };
        let [a, b] = [&plain, &mapped].map(|exposure| develop(&light_lx, 320, 60.0, exposure, 1));
        let mean = |rgb: &[u8], row: usize| {
            rgb[row * 960..(row + 1) * 960]
                .iter()
                .map(|&code| f64::from(code))
                .sum::<f64>()
                / 960.0
        };
        assert!(mean(&b, 20) > 1.3 * mean(&a, 20) && (mean(&b, 300) / mean(&a, 300) - 1.0).abs() < 0.05);
    }

    #[test]
    fn percentiles_count_from_below() {
        let mut values: Vec<f32> = (0..=1000).rev().map(|i| i as f32).collect();
        assert_eq!(percentile(&mut values, 0.997), 997.0);
        assert_eq!(percentile(&mut [], 0.5), 0.0);
    }
}
