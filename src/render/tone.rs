//! What a camera or a program does to light between the sensor and the file: tone curves over the whole picture, and edits of
//! the coded picture. Textbook forms with numbers of our own; none is any product's.

use super::develop::Coder;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// The curve from linear light to code values, both 0 to 1.
#[derive(Debug, Clone, Copy, Default, PartialEq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ToneCurve {
    /// IEC 61966-2-1, as a file without a profile is taken to be coded.
    #[default]
    Srgb,
    /// ITU-R BT.709's camera curve, as stills from videos have it (from memory).
    Rec709,
    /// A power: code = light^(1/γ).
    Gamma(f64),
    /// A rational curve with toe and shoulder, as of film, laid over the light before sRGB; 0 none to 1, in log light.
    Filmic(f64),
    /// A logistic in log light about a middle grey of 0.18, light^n / (light^n + k), before sRGB; n, 1 compresses the bright
    /// only (E. Reinhard et al., SIGGRAPH 2002, has this form; from memory).
    Sigmoid(f64),
    /// The dark lifted by 1 + a and the bright compressed to stay within full scale, (1 + a)·x/(1 + a·x), before sRGB.
    Shoulder(f64),
    /// An S over the codes, c²(3 − 2c), 0 none to 1.
    Contrast(f64),
}

/// Middle grey of the photographic trade.
const MIDDLE_GREY: f64 = 0.18;

impl ToneCurve {
    /// Code value of linear light, both 0 to 1.
    pub(super) fn code(self, light: f64) -> f64 {
        let light = light.clamp(0.0, 1.0);
        let srgb = crate::photo::srgb_from_linear;
        match self {
            Self::Srgb => srgb(light),
            Self::Rec709 if light < 0.018 => 4.5 * light,
            Self::Rec709 => 1.099 * light.powf(0.45) - 0.099,
            Self::Gamma(gamma) => light.powf(1.0 / gamma),
            Self::Filmic(amount) => {
                // Toe: x(ax + b); shoulder by the x² below. Scaled so that 1 stays 1 with an exposure of 4 before it.
                let film = |x: f64| x * (1.4 * x + 0.12) / (x * (1.3 * x + 0.6) + 0.14);
                srgb(light.powf(1.0 - amount) * (film(4.0 * light) / film(4.0)).powf(amount))
            }
            Self::Sigmoid(steepness) => {
                let k = MIDDLE_GREY.powf(steepness) * (1.0 - MIDDLE_GREY) / MIDDLE_GREY;
                let x = light.powf(steepness);
                srgb(x * (1.0 + k) / (x + k))
            }
            Self::Shoulder(lift) => srgb((1.0 + lift) * light / (1.0 + lift * light)),
            Self::Contrast(amount) => {
                let code = srgb(light);
                code + amount * (code * code * (3.0 - 2.0 * code) - code)
            }
        }
    }

    /// The key's least and most value; `None` where it has none.
    pub(super) fn value_within(self) -> Option<(&'static str, f64, [f64; 2])> {
        match self {
            Self::Srgb | Self::Rec709 => None,
            Self::Gamma(value) => Some(("gamma", value, [0.5, 5.0])),
            Self::Filmic(value) => Some(("filmic", value, [0.0, 1.0])),
            Self::Sigmoid(value) => Some(("sigmoid", value, [0.3, 3.0])),
            Self::Shoulder(value) => Some(("shoulder", value, [0.0, 30.0])),
            Self::Contrast(value) => Some(("contrast", value, [0.0, 1.0])),
        }
    }

    /// Finds its 8-bit codes.
    pub(super) fn coder(self) -> Coder {
        Coder::new(|code| match self {
            Self::Srgb => crate::photo::linear_from_srgb(code),
            _ => self.light(code),
        })
    }

    /// Light of a code, by bisection.
    fn light(self, code: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.code(middle) < code {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }
}

/// Edits of the coded picture, in the order in which they are done.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Edits {
    /// Noise reduction: pixels within twice this many codes of the middle one are averaged over 5 × 5 px (J.-S. Lee, sigma
    /// filter, 1983, from memory); 0 none.
    pub denoise_codes: f64,
    /// Contrast of each tile of the picture made even by its own histogram, between tiles bilinearly (S. M. Pizer et al.,
    /// adaptive histogram equalisation, 1987, from memory); 0 none to 1.
    pub equalise: f64,
    /// Tiles in each direction.
    pub tiles: u8,
    /// No histogram bin counts for more than so many times the mean one: limits the contrast.
    pub most_contrast: f64,
    /// Sharpening: what a blur of 1 px takes away is added, times this; 0 none.
    pub sharpen: f64,
}

impl Default for Edits {
    fn default() -> Self {
        Self {
            denoise_codes: 0.0,
            equalise: 0.0,
            tiles: 8,
            most_contrast: 3.0,
            sharpen: 0.0,
        }
    }
}

impl Edits {
    /// Whether there is anything to do.
    pub(super) fn are_none(&self) -> bool {
        self.denoise_codes <= 0.0 && self.equalise <= 0.0 && self.sharpen <= 0.0
    }

    /// Edits a picture, RGB, three bytes a pixel, row by row.
    pub(super) fn lay_on(&self, rgb: &mut Vec<u8>, width: usize) {
        if self.denoise_codes > 0.0 {
            *rgb = near_means(rgb, width, 2.0 * self.denoise_codes);
        }
        if self.equalise > 0.0 {
            Tiles::of(rgb, width, usize::from(self.tiles.max(1)), self.most_contrast).even_out(
                rgb,
                width,
                self.equalise,
            );
        }
        if self.sharpen > 0.0 {
            *rgb = sharpened(rgb, width, self.sharpen);
        }
    }
}

/// Each pixel as `change` makes it from its place, x, y and channel.
fn each(width: usize, rgb: &[u8], change: impl Fn(usize, usize, usize) -> f64 + Sync) -> Vec<u8> {
    let mut out = vec![0_u8; rgb.len()];
    out.par_chunks_mut(3 * width).enumerate().for_each(|(y, row)| {
        for (index, code) in row.iter_mut().enumerate() {
            *code = change(index / 3, y, index % 3).round().clamp(0.0, 255.0) as u8;
        }
    });
    out
}

/// A code at a place, the border repeated outward.
fn at(rgb: &[u8], width: usize, x: i64, y: i64, channel: usize) -> f64 {
    let height = (rgb.len() / 3 / width) as i64;
    let (x, y) = (x.clamp(0, width as i64 - 1), y.clamp(0, height - 1));
    f64::from(rgb[3 * (y as usize * width + x as usize) + channel])
}

/// The mean over 5 × 5 px of those codes that are within `range` of the middle one.
fn near_means(rgb: &[u8], width: usize, range: f64) -> Vec<u8> {
    each(width, rgb, |x, y, channel| {
        let middle = at(rgb, width, x as i64, y as i64, channel);
        let (mut sum, mut count) = (0.0, 0.0);
        for dy in -2..=2 {
            for dx in -2..=2 {
                let code = at(rgb, width, x as i64 + dx, y as i64 + dy, channel);
                if (code - middle).abs() <= range {
                    sum += code;
                    count += 1.0;
                }
            }
        }
        sum / count
    })
}

/// What a bell of 1 px takes away, times `amount`, is added.
fn sharpened(rgb: &[u8], width: usize, amount: f64) -> Vec<u8> {
    const BELL: [f64; 5] = [0.054_5, 0.244_2, 0.402_6, 0.244_2, 0.054_5];
    each(width, rgb, |x, y, channel| {
        let mut blurred = 0.0;
        for (dy, down) in (-2..).zip(BELL) {
            for (dx, across) in (-2..).zip(BELL) {
                blurred += down * across * at(rgb, width, x as i64 + dx, y as i64 + dy, channel);
            }
        }
        let code = at(rgb, width, x as i64, y as i64, channel);
        code + amount * (code - blurred)
    })
}

/// A curve over the codes for each tile of a picture.
struct Tiles {
    curves: Vec<[f64; 256]>,
    across: usize,
    /// Size of a tile, px.
    size: [f64; 2],
}

impl Tiles {
    fn of(rgb: &[u8], width: usize, across: usize, most_contrast: f64) -> Self {
        let height = rgb.len() / 3 / width;
        let size = [width as f64 / across as f64, height as f64 / across as f64];
        let mut counts = vec![[0.0_f64; 256]; across * across];
        for (index, pixel) in rgb.chunks_exact(3).enumerate() {
            let tile = |place: usize, size: f64| ((place as f64 / size) as usize).min(across - 1);
            let bright = pixel.iter().copied().max().unwrap_or(0);
            let [column, row] = [tile(index % width, size[0]), tile(index / width, size[1])];
            counts[row * across + column][usize::from(bright)] += 1.0;
        }
        let curves = counts.iter().map(|counts| {
            let mean = counts.iter().sum::<f64>() / 256.0;
            let clipped = counts.map(|count| count.min(most_contrast * mean));
            // What was clipped goes to all alike.
            let spread = mean - clipped.iter().sum::<f64>() / 256.0;
            let mut sum = 0.0;
            clipped.map(|count| {
                sum += count + spread;
                255.0 * sum / (256.0 * mean).max(1e-9)
            })
        });
        Self {
            curves: curves.collect(),
            across,
            size,
        }
    }

    /// Every channel is scaled as the pixel's highest is.
    fn even_out(&self, rgb: &mut [u8], width: usize, amount: f64) {
        let between = |place: usize, size: f64| {
            let at = ((place as f64 + 0.5) / size - 0.5).clamp(0.0, self.across as f64 - 1.0);
            let low = (at as usize).min(self.across.saturating_sub(2));
            (low, (low + 1).min(self.across - 1), at - low as f64)
        };
        rgb.par_chunks_mut(3 * width).enumerate().for_each(|(y, row)| {
            let (top, bottom, down) = between(y, self.size[1]);
            for (x, pixel) in row.chunks_exact_mut(3).enumerate() {
                let (left, right, across) = between(x, self.size[0]);
                let bright = usize::from(pixel.iter().copied().max().unwrap_or(0));
                let curve = |row: usize, column: usize| self.curves[row * self.across + column][bright];
                let upper = curve(top, left) * (1.0 - across) + curve(top, right) * across;
                let lower = curve(bottom, left) * (1.0 - across) + curve(bottom, right) * across;
                let even = upper * (1.0 - down) + lower * down;
                let gain = 1.0 + amount * (even / bright.max(1) as f64 - 1.0);
                for code in pixel {
                    *code = (f64::from(*code) * gain).round().clamp(0.0, 255.0) as u8;
                }
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CURVES: [ToneCurve; 7] = [
        ToneCurve::Srgb,
        ToneCurve::Rec709,
        ToneCurve::Gamma(2.2),
        ToneCurve::Filmic(0.7),
        ToneCurve::Sigmoid(1.3),
        ToneCurve::Shoulder(4.0),
        ToneCurve::Contrast(0.6),
    ];

    #[test]
    fn curves_rise_from_black_to_white_and_their_coders_follow_them() {
        for curve in CURVES {
            assert!(
                curve.code(0.0).abs() < 1e-9 && (curve.code(1.0) - 1.0).abs() < 1e-9,
                "{curve:?}"
            );
            let coder = curve.coder();
            for step in 0..2_000 {
                let light = f64::from(step) / 2_000.0;
                assert!(curve.code(light + 0.0005) > curve.code(light), "{curve:?} at {light}");
                let code = f64::from(coder.code(light));
                assert!(
                    (255.0 * curve.code(light) - code).abs() < 0.501,
                    "{curve:?} at {light}: {code}"
                );
            }
        }
    }

    #[test]
    fn curves_have_their_textbook_values() {
        // BT.709: 0.018 is 0.081 on both branches, and 0.5 gives 1.099 · 0.732043 − 0.099 = 0.705515, by hand.
        assert!((ToneCurve::Rec709.code(0.018) - 0.081).abs() < 5e-4);
        assert!((ToneCurve::Rec709.code(0.5) - 0.705_515).abs() < 1e-5);
        assert!((ToneCurve::Gamma(2.0).code(0.25) - 0.5).abs() < 1e-12);
        // (1 + 3) · 0.2 / (1 + 3 · 0.2) is a half, which sRGB codes as 0.735357; middle grey stays what it is but for 1 + k.
        assert!((ToneCurve::Shoulder(3.0).code(0.2) - 0.735_357).abs() < 1e-5);
        let light = crate::photo::linear_from_srgb(ToneCurve::Sigmoid(2.0).code(0.18));
        assert!((light / 0.18 - (1.0 + 0.18 * 0.82)).abs() < 1e-6, "{light}");
    }

    /// Rows of 60 px: codes 40 to the left, 160 to the right.
    fn step() -> Vec<u8> {
        (0..60 * 40)
            .flat_map(|index| [if index % 60 < 30 { 40 } else { 160 }; 3])
            .collect()
    }

    #[test]
    fn edits_do_what_they_say() {
        let plain = step();
        let edited = |edits: Edits| {
            let mut rgb = plain.clone();
            edits.lay_on(&mut rgb, 60);
            rgb
        };
        assert!(Edits::default().are_none() && edited(Edits::default()) == plain);
        let sharp = edited(Edits {
            sharpen: 0.5,
            ..Edits::default()
        });
        // Beside the step the blur leaves (0.2442 + 0.0545) of 120 = 35.8 codes, of which half is added, by hand 17.9.
        let row = &sharp[20 * 180..21 * 180];
        assert_eq!((row[3 * 29], row[3 * 30], row[3 * 10]), (22, 178, 40));
        let mut noisy = plain.clone();
        for (index, code) in noisy.iter_mut().enumerate() {
            *code = code.wrapping_add((index / 3 * 7 % 5) as u8);
        }
        let smooth = near_means(&noisy, 60, 8.0);
        let spread = |rgb: &[u8]| {
            let part: Vec<f64> = (10..20).map(|x| f64::from(rgb[20 * 180 + 3 * x])).collect();
            part.iter().copied().fold(f64::MIN, f64::max) - part.iter().copied().fold(f64::MAX, f64::min)
        };
        assert!(spread(&smooth) < 0.5 * spread(&noisy));
        let even = edited(Edits {
            equalise: 1.0,
            tiles: 2,
            most_contrast: 40.0,
            ..Edits::default()
        });
        assert!(
            even[20 * 180] > 60,
            "each tile is spread over all codes: {}",
            even[20 * 180]
        );
    }
}
