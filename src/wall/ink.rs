//! Ink and paper of the marks as a check on the light: one print has one ratio of the two, however bright it is lit.

use super::code::TAG_SIDE_CELLS;
use super::find::FoundMark;
use crate::fit::{Fit, Loss, Problem};
use crate::photo::Photo;
use crate::warning::Warning;

/// Tag's side in cells, the black border included.
const SIDE_CELLS: f64 = TAG_SIDE_CELLS as f64;
/// Where ink and paper are looked at: the middle of the border, and as far outside of the tag's edge, cells.
const INK_CELLS: f64 = 0.5;
const PAPER_CELLS: f64 = -0.6;

/// A cell narrower than this many standard deviations of the blur shows neither ink nor paper: half of it is 1.5 of them
/// from either edge, beyond which 7 % of the other's light is left.
const LEAST_CELL_BLURS: f64 = 3.0;

/// Light of the ink and of the paper beside it, at two opposite sides of a mark (so that light which falls off across
/// the sheet counts on both alike), linear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Patch {
    /// Light of the paper.
    pub paper: f64,
    /// Light of the ink.
    pub ink: f64,
}

/// The patches of all marks, two of each. A mark whose paper is clipped, or whose cells are too small to hold more than
/// blur, gives none.
#[must_use]
pub fn patches(photo: &Photo, marks: &[FoundMark]) -> Vec<Patch> {
    const SAMPLES: usize = 60;
    let mut patches = Vec::new();
    for mark in marks {
        let corners = mark.corners_px;
        let place = |across: f64, down: f64| -> [f64; 2] {
            std::array::from_fn(|k| {
                let top = corners[0][k] * (1.0 - across) + corners[1][k] * across;
                let bottom = corners[3][k] * (1.0 - across) + corners[2][k] * across;
                top * (1.0 - down) + bottom * down
            })
        };
        if mark.cell_px() < LEAST_CELL_BLURS * mark.blur_px {
            continue;
        }
        for upright in [false, true] {
            let mean = |cells: f64| -> Option<f64> {
                let mut sum = 0.0;
                for n in 0..SAMPLES {
                    let along = (n as f64 + 0.5) / SAMPLES as f64;
                    for depth in [cells / SIDE_CELLS, 1.0 - cells / SIDE_CELLS] {
                        let [x, y] = if upright {
                            place(depth, along)
                        } else {
                            place(along, depth)
                        };
                        if photo.clipped_at(x, y) {
                            return None;
                        }
                        sum += photo.luminance.at(x, y)?;
                    }
                }
                Some(sum / (2 * SAMPLES) as f64)
            };
            if let (Some(paper), Some(ink)) = (mean(PAPER_CELLS), mean(INK_CELLS)) {
                patches.push(Patch { paper, ink });
            }
        }
    }
    patches
}

/// What the marks' ink and paper say of a photo's light.
///
/// Paper and ink lie side by side in the same light E, so that the photo shows W = r E + V and K = ρ r E + V, V being a
/// veil of stray light in the lens: K is a straight line in W. A camera or a program that lays a tone curve over the
/// photo bends it, and with it the cut-off. The line is fitted as it is, and as a power, K = ρ W₀ (W/W₀)^p + V. (That ink and
/// paper of one print keep one ratio: common practice, no source.)
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// The exponent p that fits best.
    pub exponent: f64,
    /// How much better it fits than the line: ln of the ratio of likelihoods.
    pub ln_likelihood_gain: f64,
    /// Ink over paper, by the line.
    pub ratio: f64,
    /// One standard deviation of its natural logarithm.
    pub ln_ratio_sd: f64,
}

/// A bend is told from this gain and from this size on. Of 37 made photos that nothing was done to, none lay beyond both.
const LEAST_GAIN: f64 = 2.0;
const LEAST_BEND: f64 = 0.15;
/// Ink over paper of office prints: a reflectance of 3 to 8 % over one of 80 to 90 %, and some to spare (from memory).
const USUAL_RATIO: std::ops::RangeInclusive<f64> = 0.033..=0.13;

/// Standard deviation of a patch's ink against the line: unevenness of paper, ink and light, relative (common
/// practice, no source); and what 8-bit codes near black leave, linear: a code there is 1 / (255 · 12.92) = 0.0003.
const UNEVEN_SD: f64 = 0.025;
const STEP_SD: f64 = 0.000_2;
/// Veils lie between these, linear light: a trace, and what noise cut off at black adds at the highest speeds (seen
/// in made photos, no source).
const USUAL_VEIL: std::ops::RangeInclusive<f64> = 0.000_03..=0.003;

impl Tone {
    /// Fits the patches; `None` with fewer than six, or where all are lit alike.
    #[must_use]
    pub fn of(patches: &[Patch]) -> Option<Self> {
        /// Three marks' patches, twice the three parameters.
        const LEAST_PATCHES: usize = 6;
        /// In light alike to this factor a line and a bent one look the same (no source).
        const LEAST_RANGE: f64 = 4.0;
        let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
        let mut ln_middle = 0.0;
        for patch in patches {
            low = low.min(patch.paper);
            high = high.max(patch.paper);
            ln_middle += patch.paper.max(STEP_SD).ln() / patches.len() as f64;
        }
        if patches.len() < LEAST_PATCHES || high < LEAST_RANGE * low.max(STEP_SD) {
            return None;
        }
        let line = fit(patches, ln_middle.exp(), Some(1.0))?;
        let power = fit(patches, ln_middle.exp(), None)?;
        Some(Self {
            exponent: power.parameters[2],
            ln_likelihood_gain: line.cost - power.cost,
            ratio: line.parameters[0].exp(),
            ln_ratio_sd: line.covariance[(0, 0)].sqrt(),
        })
    }

    /// What there is to say, where the light was bent.
    #[must_use]
    pub fn warning(&self) -> Option<Warning> {
        if self.ln_likelihood_gain > LEAST_GAIN && (self.exponent - 1.0).abs() > LEAST_BEND {
            return Some(Warning::ToneBent {
                exponent: self.exponent,
            });
        }
        let spread = self.ln_ratio_sd.exp();
        let unusual = self.ratio * spread < *USUAL_RATIO.start() || self.ratio / spread > *USUAL_RATIO.end();
        unusual.then_some(Warning::InkUnusual { ratio: self.ratio })
    }
}

/// Fits ln of ink over paper at the middle light, ln of the veil, and the exponent unless it is given.
fn fit(patches: &[Patch], middle: f64, exponent: Option<f64>) -> Option<Fit> {
    let residuals = |p: &[f64]| {
        let power = exponent.or(p.get(2).copied()).unwrap_or(1.0);
        let mut residuals: Vec<f64> = patches
            .iter()
            .map(|patch| {
                let ink = middle * (p[0] + power * (patch.paper.max(1e-9) / middle).ln()).exp() + p[1].exp();
                (patch.ink - ink) / (UNEVEN_SD * ink).hypot(STEP_SD)
            })
            .collect();
        // Weak priors: prints differ by less than a factor of two or so, and a veil may lie anywhere in its range.
        residuals.extend([
            (p[0] - 0.06_f64.ln()) / 1.5,
            (p[1] - USUAL_VEIL.end().ln()).max(0.0) + (p[1] - USUAL_VEIL.start().ln()).min(0.0) / 2.5,
            (power - 1.0) / 0.5,
        ]);
        residuals
    };
    let count = if exponent.is_some() { 2 } else { 3 };
    let problem = Problem {
        residuals: &residuals,
        priors: 3,
        steps: &[1e-4; 3][..count],
        loss: Loss::Cauchy { scale: 1.5 },
    };
    // The veil and a bend can stand for each other, so that there may be more than one minimum.
    let mut best: Option<Fit> = None;
    for veil in [0.000_1_f64, 0.001, 0.003] {
        for power in [0.6, 1.0, 1.4] {
            let start = [0.06_f64.ln(), veil.ln(), power];
            best = [best, problem.solve(&start[..count])]
                .into_iter()
                .flatten()
                .min_by(|a, b| a.cost.total_cmp(&b.cost));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::{linear_from_srgb, srgb_from_linear};

    /// Patches of a print with ink over paper of 0.06 in light from 0.003 to 0.5, through a curve.
    fn seen(veil: f64, curve: impl Fn(f64) -> f64) -> Vec<Patch> {
        [0.003, 0.004, 0.05, 0.07, 0.2, 0.3, 0.4, 0.5]
            .into_iter()
            .map(|light| Patch {
                paper: curve(light + veil),
                ink: curve(0.06 * light + veil),
            })
            .collect()
    }

    #[test]
    fn plain_light_is_a_straight_line_with_its_veil() {
        for veil in [1e-5, 0.000_3, 0.002] {
            let tone = Tone::of(&seen(veil, |light| light)).unwrap();
            assert!(
                tone.ln_likelihood_gain < 0.1 && (tone.ratio / 0.06).ln().abs() < 0.1,
                "{tone:?} for {veil}"
            );
            assert_eq!(tone.warning(), None);
        }
    }

    /// Light of two brightnesses only leaves veil and bend open; noise cut off at black makes the dark ink brighter.
    #[test]
    fn a_veil_is_not_taken_for_a_bend() {
        let patches: Vec<Patch> = [0.02, 0.021, 0.022, 0.023, 0.42, 0.43, 0.46, 0.47]
            .into_iter()
            .map(|light| Patch {
                paper: light + 0.002_7,
                ink: 0.06 * light + 0.002_7,
            })
            .collect();
        let tone = Tone::of(&patches).unwrap();
        assert_eq!(tone.warning(), None, "{tone:?}");
    }

    #[test]
    fn a_contrast_curve_shows_and_a_faint_one_does_not() {
        // The S-shaped curve c²(3 − 2c) on code values bent by a power of 1.3, nearly in full; and a tenth of it alone.
        let bend = |share: f64| {
            move |light: f64| {
                let code = srgb_from_linear(light).powf(if share > 0.5 { 1.3 } else { 1.0 });
                linear_from_srgb(code + share * (code * code * (3.0 - 2.0 * code) - code))
            }
        };
        let told = |share: f64| Tone::of(&seen(0.000_2, bend(share))).unwrap();
        assert!(told(0.8).warning().is_some(), "{:?}", told(0.8));
        assert!(told(0.1).warning().is_none(), "{:?}", told(0.1));
    }

    #[test]
    fn a_print_too_black_to_be_one_shows() {
        // A power over all light keeps the ratio one, but takes it to 0.06^1.5 = 0.0147.
        let tone = Tone::of(&seen(0.0, |light: f64| light.powf(1.5))).unwrap();
        assert!(tone.ratio < 0.02, "{tone:?}");
        assert!(matches!(
            tone.warning(),
            Some(Warning::ToneBent { .. } | Warning::InkUnusual { .. })
        ));
        assert!(Tone::of(&seen(0.0, |light| light)).unwrap().warning().is_none());
    }

    #[test]
    fn few_patches_or_even_light_tell_nothing() {
        assert_eq!(Tone::of(&seen(0.0, |light| light)[..5]), None);
        let even: Vec<Patch> = (0..8).map(|_| Patch { paper: 0.2, ink: 0.012 }).collect();
        assert_eq!(Tone::of(&even), None);
    }
}
