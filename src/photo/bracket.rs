//! Photos of one view with different exposures, merged in linear light: the longest shows the dark side out of the
//! camera's noise, the shortest the bright side below full scale.

use super::srgb::BLACK_SLOPE;
use super::{CLIPPED_CODE, Luminance, Photo, Pixels};
use crate::fit::median_high;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

/// Electrons that a pixel of a phone's camera holds at full scale, and the noise of reading it, electrons: a model of
/// the weights only (common practice, no source; small sensors hold 3000 to 10 000). Any weights give the true light,
/// these nearly the least noise.
const FULL_WELL_ELECTRONS: f64 = 5000.0;
const READ_NOISE_ELECTRONS: f64 = 3.0;
/// One step of an 8-bit sRGB code near black, which JPEG may be off by. Higher up the steps grow, but stay below the shot
/// noise.
const BLACK_STEP: f64 = 1.0 / (255.0 * BLACK_SLOPE);
/// From this code on a photo counts less and less, down to nothing where it is clipped: its noise is cut off at full
/// scale, which would drag a mean down (our choice, no source).
const RAMP_CODE: u8 = 231;
/// Below the second of these lights (about code 10) a photo counts less and less, down to nothing at the first (code 3):
/// the camera cuts its noise off at black, which drags a mean up (our choice, no source).
const BLACK_RAMP: [f64; 2] = [0.0009, 0.003];

/// One photo of a bracket.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bracket<'a> {
    /// The photo.
    pub photo: &'a Photo,
    /// Its luminance over that of the base photo at the same place of the view: how much longer it was exposed.
    pub ratio: f64,
    /// Takes the base photo's px to this photo's; `None`: taken from the same place.
    pub from_base: Option<Matrix3<f64>>,
}

/// Photos of a bracket as one.
#[derive(Debug, Clone)]
pub(crate) struct Merged {
    /// The merged photo, with the base photo's pixels, digest and capture. Only pixels that every photo clips are
    /// clipped, and 1 is no longer full scale: see `scale`.
    pub photo: Photo,
    /// Merged luminance over the base photo's. The brightest merged light comes to just below 1, so that no luminance
    /// looks like full scale; a series that is too dark as a whole stays as dark as its longest photo.
    pub scale: f64,
}

/// What one photo shows of one place.
#[derive(Debug, Clone, Copy)]
struct PlaceLight {
    light: f64,
    highest_code: u8,
    clipped: bool,
}

impl Bracket<'_> {
    /// What this photo shows at pixel (`column`, `row`) of the base photo; `None` outside of this photo.
    fn seen(&self, column: usize, row: usize) -> Option<PlaceLight> {
        let pixels = &self.photo.pixels;
        let (light, highest_code) = match &self.from_base {
            None => (f64::from(pixels.light(column, row)), pixels.highest_code(column, row)),
            Some(from_base) => {
                let at = from_base * Vector3::new(column as f64, row as f64, 1.0);
                let (x_px, y_px) = (at.x / at.z, at.y / at.z);
                pixels.seen_at(x_px, y_px)?
            }
        };
        Some(PlaceLight {
            light,
            highest_code,
            clipped: highest_code >= CLIPPED_CODE,
        })
    }
}

/// Variance of one pixel's luminance of `light`: shot noise, read noise and the steps of the code.
fn noise_variance(light: f64) -> f64 {
    light / FULL_WELL_ELECTRONS + (READ_NOISE_ELECTRONS / FULL_WELL_ELECTRONS).powi(2) + BLACK_STEP.powi(2)
}

/// How much a photo's nearness to full scale leaves of its weight.
fn share_below_full_scale(highest_code: u8) -> f64 {
    let left = f64::from(CLIPPED_CODE.saturating_sub(highest_code));
    (left / f64::from(CLIPPED_CODE - RAMP_CODE)).min(1.0)
}

/// Weight of a photo for a place whose light in the base photo's unit is `light`. It rests on the place's light as all
/// photos have it, not on this photo's own noisy one: a pixel that happens to be dark would otherwise count more.
fn weight(light: f64, ratio: f64, highest_code: u8) -> f64 {
    let expected = (light * ratio).max(0.0);
    let above_black = ((expected - BLACK_RAMP[0]) / (BLACK_RAMP[1] - BLACK_RAMP[0])).clamp(0.0, 1.0);
    ratio * ratio / noise_variance(expected) * above_black * share_below_full_scale(highest_code)
}

/// Light of one place in the base photo's unit, and whether every photo is clipped there. `seen` runs from the longest
/// exposure to the shortest, each with its ratio.
fn combine(seen: &[(PlaceLight, f64)]) -> (f64, bool) {
    let open = || seen.iter().filter(|(s, _)| !s.clipped);
    // The longest photo that is well below full scale has the least noise.
    let first = open()
        .find(|(s, _)| s.highest_code < RAMP_CODE)
        .or_else(|| open().next());
    let Some((first, first_ratio)) = first else {
        // The light is at least what the shortest exposure's full scale says.
        let most = seen.iter().map(|(s, ratio)| s.light / ratio).fold(0.0, f64::max);
        return (most, true);
    };
    let about = first.light / first_ratio;
    let (mut sum, mut weights) = (0.0, 0.0);
    for (s, ratio) in open() {
        let weight = weight(about, *ratio, s.highest_code);
        sum += weight * s.light / ratio;
        weights += weight;
    }
    // Black in all, or next to full scale in one and black in the others.
    (if weights > 0.0 { sum / weights } else { about }, false)
}

/// Brightest merged light, just below what elsewhere counts as full scale.
const BRIGHTEST: f64 = 0.98;

/// Merges photos; the first is the base (its `ratio` 1, its `from_base` `None`). Photos without `from_base` must have
/// the base photo's size. `None` for an empty list, or where such a photo's size differs.
#[must_use]
pub(crate) fn merge(brackets: &[Bracket<'_>]) -> Option<Merged> {
    let base = brackets.first()?.photo;
    let [width_px, height_px] = base.size_px();
    let sizes_fit = brackets
        .iter()
        .all(|b| b.from_base.is_some() || b.photo.size_px() == base.size_px());
    if !sizes_fit {
        return None;
    }
    let mut longest_first: Vec<&Bracket<'_>> = brackets.iter().collect();
    longest_first.sort_by(|a, b| b.ratio.total_cmp(&a.ratio));
    let pixels: Vec<(f32, bool)> = (0..height_px)
        .into_par_iter()
        .flat_map_iter(|row| {
            let longest_first = &longest_first;
            let mut seen = Vec::with_capacity(longest_first.len());
            (0..width_px).map(move |column| {
                seen.clear();
                seen.extend(
                    longest_first
                        .iter()
                        .filter_map(|b| Some((b.seen(column, row)?, b.ratio))),
                );
                let (light, clipped) = combine(&seen);
                (light as f32, clipped)
            })
        })
        .collect();
    let (mut values, clipped): (Vec<f32>, Vec<bool>) = pixels.into_iter().unzip();
    let brightest = values.iter().copied().fold(0.0_f32, f32::max);
    let scale = (BRIGHTEST / f64::from(brightest)).min(longest_first[0].ratio);
    for value in &mut values {
        *value *= scale as f32;
    }
    let luminance = Luminance {
        width_px,
        height_px,
        values,
    };
    Some(Merged {
        photo: Photo {
            sha256: base.sha256.clone(),
            pixels: Pixels::of_light(luminance, clipped)?,
            capture: base.capture.clone(),
        },
        scale,
    })
}

/// What two photos of one view show of each other's exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Comparison {
    /// Median over the places that both show well: the other photo's luminance over the base photo's.
    pub ratio: f64,
    /// The same over the darker and the brighter half of those places. They differ where a tone curve was applied or
    /// the light was another.
    pub halves: [f64; 2],
    /// Whether the places are exposed well enough for the ratio to be used in merging; else it is good for a check.
    pub well_exposed: bool,
    /// How far the other photo's picture lies off the base photo's; `None` where it shows too little.
    pub shift: Option<Shift>,
}

/// How far one picture lies off another. Only good to tell nothing from something: large shifts come out too small.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shift {
    /// Right and down, px.
    pub px: [f64; 2],
    /// One standard deviation of each, px, from how the blocks scatter.
    pub sd_px: [f64; 2],
}

impl Shift {
    /// Length of the shift and one standard deviation of it (the greater one of the two directions), px.
    #[must_use]
    pub fn length_px(&self) -> (f64, f64) {
        (self.px[0].hypot(self.px[1]), self.sd_px[0].max(self.sd_px[1]))
    }
}

/// Side of the blocks that two photos are compared on, px: their means hold little noise (our choice, no source).
const BLOCK_PX: usize = 8;
/// Blocks that a comparison needs (our choice, no source).
const LEAST_BLOCKS: usize = 50;
/// Least light of a block, of full scale, to be well exposed (code 12), and to be of use at all (code 3: where noise cut
/// off at black lifts the mean by a per cent).
const LEAST_LIGHT: [f64; 2] = [0.0037, 0.001];

/// Compares a photo with the base photo. `None` where hardly a place is exposed in both.
#[must_use]
pub(crate) fn compare(base: &Photo, other: &Bracket<'_>) -> Option<Comparison> {
    let blocks = Blocks::new(base, other);
    LEAST_LIGHT.iter().enumerate().find_map(|(n, &least_light)| {
        let mut pairs: Vec<[f64; 2]> = blocks
            .means
            .iter()
            .flatten()
            .copied()
            .filter(|pair| pair.iter().all(|&light| light >= least_light))
            .collect();
        if pairs.len() < LEAST_BLOCKS {
            return None;
        }
        pairs.sort_by(|a, b| (a[0] * a[1]).total_cmp(&(b[0] * b[1])));
        let median_ratio = |pairs: &[[f64; 2]]| {
            let mut ratios: Vec<f64> = pairs.iter().map(|pair| pair[1] / pair[0]).collect();
            median_high(&mut ratios)
        };
        let (darker, brighter) = pairs.split_at(pairs.len() / 2);
        Some(Comparison {
            ratio: median_ratio(&pairs)?,
            halves: [median_ratio(darker)?, median_ratio(brighter)?],
            well_exposed: n == 0,
            shift: blocks.shift(least_light),
        })
    })
}

/// Means of the base photo and of another over the blocks that both show below full scale.
struct Blocks {
    columns: usize,
    means: Vec<Option<[f64; 2]>>,
}

impl Blocks {
    fn new(base: &Photo, other: &Bracket<'_>) -> Self {
        let own = Bracket {
            photo: base,
            ratio: 1.0,
            from_base: None,
        };
        let [columns, rows] = base.size_px().map(|side_px| side_px / BLOCK_PX);
        let mean = |index: usize| {
            let (left, top) = (index % columns * BLOCK_PX, index / columns * BLOCK_PX);
            let mut sums = [0.0; 2];
            for row in top..top + BLOCK_PX {
                for column in left..left + BLOCK_PX {
                    for (sum, photo) in sums.iter_mut().zip([&own, other]) {
                        let seen = photo.seen(column, row).filter(|s| s.highest_code < RAMP_CODE)?;
                        *sum += seen.light;
                    }
                }
            }
            Some(sums.map(|sum| sum / (BLOCK_PX * BLOCK_PX) as f64))
        };
        Self {
            columns,
            means: (0..columns * rows).into_par_iter().map(mean).collect(),
        }
    }

    /// Shift of the other photo by least squares on ln light and its slope (B. Lucas and T. Kanade, IJCAI 1981, from
    /// memory), over the blocks brighter than `least_light` all round, each by its noise.
    fn shift(&self, least_light: f64) -> Option<Shift> {
        /// Scatter of ln light that noise does not explain: the wall's texture between the block's pixels (our choice, no
        /// source).
        const TEXTURE_SD: f64 = 0.02;
        let ln = |index: usize| {
            self.means
                .get(index)
                .copied()
                .flatten()
                .filter(|pair| pair.iter().all(|&light| light >= least_light))
                .map(|pair| pair.map(f64::ln))
        };
        let mut rows: Vec<(Vector3<f64>, f64)> = Vec::new();
        for index in self.columns + 1..self.means.len().saturating_sub(self.columns) {
            let (Some(here), Some(west), Some(east), Some(north), Some(south)) = (
                ln(index),
                ln(index - 1),
                ln(index + 1),
                ln(index - self.columns),
                ln(index + self.columns),
            ) else {
                continue;
            };
            let noise: f64 = here
                .iter()
                .map(|ln| noise_variance(ln.exp()) / (2.0 * ln).exp() / (BLOCK_PX * BLOCK_PX) as f64)
                .sum();
            let weight = (noise + TEXTURE_SD * TEXTURE_SD).sqrt().recip();
            // The slope of both, since either one's noise would make the shift look smaller.
            let slope = |a: [f64; 2], b: [f64; 2]| (b[0] + b[1] - a[0] - a[1]) / (4 * BLOCK_PX) as f64;
            // A picture that lies further right shows here what the base photo has on the left.
            let row = Vector3::new(1.0, -slope(west, east), -slope(north, south));
            rows.push((weight * row, weight * (here[1] - here[0])));
        }
        if rows.len() < LEAST_BLOCKS {
            return None;
        }
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for (row, value) in &rows {
            normal += row * row.transpose();
            right += row * *value;
        }
        let covariance = normal.try_inverse()?;
        let solved = covariance * right;
        let left: f64 = rows.iter().map(|(row, value)| (value - row.dot(&solved)).powi(2)).sum();
        let variance = left / (rows.len() - 3) as f64;
        Some(Shift {
            px: [solved.y, solved.z],
            sd_px: [
                (variance * covariance[(1, 1)]).sqrt(),
                (variance * covariance[(2, 2)]).sqrt(),
            ],
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::{Capture, linear_from_srgb, srgb_from_linear};

    /// A photo of a grey light per pixel, in 8-bit codes.
    fn photo(width_px: usize, height_px: usize, light: impl Fn(usize, usize) -> f64) -> Photo {
        let codes: Vec<u8> = (0..width_px * height_px)
            .map(|i| (255.0 * srgb_from_linear(light(i % width_px, i / width_px))).round() as u8)
            .collect();
        let grey = image::GrayImage::from_raw(width_px as u32, height_px as u32, codes).unwrap();
        Photo {
            sha256: String::new(),
            pixels: Pixels::of_picture(grey.into(), image::metadata::Orientation::NoTransforms),
            capture: Capture::default(),
        }
    }

    /// The pixels' light, row by row.
    fn values(photo: &Photo) -> Vec<f32> {
        photo.all_light().collect()
    }

    fn clipped(photo: &Photo) -> Vec<bool> {
        let [width_px, height_px] = photo.size_px();
        (0..width_px * height_px)
            .map(|i| photo.pixels.is_clipped(i % width_px, i / width_px))
            .collect()
    }

    fn at_base(photo: &Photo, ratio: f64) -> Bracket<'_> {
        Bracket {
            photo,
            ratio,
            from_base: None,
        }
    }

    /// Light over four decades, along x.
    fn wide_light(x: usize, width_px: usize) -> f64 {
        10f64.powf(-3.0 + 4.0 * x as f64 / width_px as f64)
    }

    #[test]
    fn light_over_four_decades_comes_back_from_two_exposures() {
        let (width_px, height_px) = (400, 4);
        // Full scale at light 20 and at light 0.1: each light is seen by one of them at the least.
        let short = photo(width_px, height_px, |x, _| wide_light(x, width_px) / 20.0);
        let long = photo(width_px, height_px, |x, _| wide_light(x, width_px) / 0.1);
        assert!(long.pixels.clipped_count() > 190 * height_px);
        assert!(short.all_light().filter(|&light| light == 0.0).count() > 40 * height_px);
        let merged = merge(&[at_base(&short, 1.0), at_base(&long, 200.0)]).unwrap();
        assert_eq!(merged.photo.pixels.clipped_count(), 0);
        for (i, value) in merged.photo.all_light().enumerate() {
            let light = wide_light(i % width_px, width_px);
            let back = f64::from(value) / merged.scale * 20.0;
            // Half a code of the photo that shows it best: 0.5/255 of the sRGB curve's slope, by its least and greatest
            // light. Between them lies code 10 of the short photo, the worst place.
            let half_code = |full_scale: f64| {
                let code = srgb_from_linear(light / full_scale);
                full_scale * (linear_from_srgb(code + 0.5 / 255.0) - linear_from_srgb(code))
            };
            let allowed = if light / 0.1 < 0.8 {
                half_code(0.1)
            } else {
                half_code(20.0)
            };
            assert!(
                (back - light).abs() <= 1.05 * allowed,
                "light {light}: {back}, allowed {allowed}"
            );
        }
    }

    #[test]
    fn what_all_photos_clip_stays_clipped_and_is_the_brightest() {
        let light = |x: usize, _| if x < 20 { 30.0 } else { 0.3 };
        let long = photo(40, 4, light);
        let short = photo(40, 4, |x, y| light(x, y) / 4.0);
        let merged = merge(&[at_base(&long, 1.0), at_base(&short, 0.25)]).unwrap();
        for (i, clipped) in clipped(&merged.photo).into_iter().enumerate() {
            assert_eq!(clipped, i % 40 < 20);
            let value = f64::from(values(&merged.photo)[i]) / merged.scale;
            let wanted = if clipped { 4.0 } else { 0.3 };
            assert!((value / wanted - 1.0).abs() < 0.01, "{value} against {wanted}");
        }
    }

    #[test]
    fn a_series_that_is_too_dark_is_not_made_to_look_bright() {
        let dark = photo(40, 4, |_, _| 0.001);
        let darker = photo(40, 4, |_, _| 0.0005);
        let merged = merge(&[at_base(&darker, 1.0), at_base(&dark, 2.0)]).unwrap();
        assert_eq!(merged.scale, 2.0);
        assert!(merged.photo.all_light().all(|v| v < 0.0013));
    }

    /// Reference implementation, a plain loop over the pixels, after the definition: the weighted mean of what is not clipped.
    fn reference_merge(brackets: &[Bracket<'_>]) -> (Vec<f64>, Vec<bool>) {
        let base = brackets[0].photo;
        let (mut lights, mut all_clipped) = (Vec::new(), Vec::new());
        let [width_px, height_px] = base.size_px();
        for y in 0..height_px {
            for x in 0..width_px {
                let mut views = Vec::new();
                for b in brackets {
                    let h = b.from_base.unwrap_or_else(Matrix3::identity);
                    let w = h[(2, 0)] * x as f64 + h[(2, 1)] * y as f64 + h[(2, 2)];
                    let u = (h[(0, 0)] * x as f64 + h[(0, 1)] * y as f64 + h[(0, 2)]) / w;
                    let v = (h[(1, 0)] * x as f64 + h[(1, 1)] * y as f64 + h[(1, 2)]) / w;
                    let pixels = &b.photo.pixels;
                    let (light, code) = if b.from_base.is_none() {
                        (f64::from(pixels.light(x, y)), pixels.highest_code(x, y))
                    } else {
                        let Some((light, _)) = pixels.seen_at(u, v) else {
                            continue;
                        };
                        let corner = |dx: usize, dy: usize| {
                            pixels.highest_code(u.floor() as usize + dx, v.floor() as usize + dy)
                        };
                        let code = corner(0, 0).max(corner(1, 0)).max(corner(0, 1)).max(corner(1, 1));
                        (light, code)
                    };
                    views.push((b.ratio, light, code));
                }
                views.sort_by(|a, b| b.0.total_cmp(&a.0));
                let good = views.iter().find(|v| v.2 < 231).or(views.iter().find(|v| v.2 < 251));
                let Some(good) = good else {
                    lights.push(views.iter().map(|v| v.1 / v.0).fold(0.0, f64::max));
                    all_clipped.push(true);
                    continue;
                };
                let guess = good.1 / good.0;
                let mut top = 0.0;
                let mut bottom = 0.0;
                for (ratio, light, code) in &views {
                    let expected = guess * ratio;
                    let full = if *code >= 251 {
                        0.0
                    } else if *code <= 231 {
                        1.0
                    } else {
                        (251.0 - f64::from(*code)) / 20.0
                    };
                    let black = ((expected - 0.0009) / 0.0021).clamp(0.0, 1.0);
                    let noise = expected / 5000.0 + 9.0 / 25e6 + 1.0 / (255.0f64 * 12.92).powi(2);
                    top += full * black * ratio * ratio / noise * (light / ratio);
                    bottom += full * black * ratio * ratio / noise;
                }
                lights.push(if bottom > 0.0 { top / bottom } else { guess });
                all_clipped.push(false);
            }
        }
        (lights, all_clipped)
    }

    #[test]
    fn the_parallel_merge_is_that_of_the_plain_loop() {
        let light = |x: f64, y: f64| 10f64.powf(-3.0 + 3.5 * x / 120.0 + 0.2 * (0.3 * y).sin());
        let shift = [3.3, -2.4];
        let base = photo(120, 80, |x, y| light(x as f64, y as f64));
        let long = photo(120, 80, |x, y| 8.0 * light(x as f64 - shift[0], y as f64 - shift[1]));
        let short = photo(120, 80, |x, y| light(x as f64, y as f64) / 6.0);
        let map = Matrix3::new(1.0, 0.0, shift[0], 0.0, 1.0, shift[1], 1e-7, 0.0, 1.0);
        let brackets = [
            at_base(&base, 1.0),
            Bracket {
                photo: &long,
                ratio: 8.0,
                from_base: Some(map),
            },
            at_base(&short, 1.0 / 6.0),
        ];
        let merged = merge(&brackets).unwrap();
        let (lights, clipped) = reference_merge(&brackets);
        assert_eq!(self::clipped(&merged.photo), clipped);
        assert!(clipped.iter().any(|&c| c) || lights.iter().all(|&l| l < 6.0));
        for (fast, reference) in merged.photo.all_light().zip(&lights) {
            let fast = f64::from(fast) / merged.scale;
            assert!(
                (fast - reference).abs() <= 1e-6 * reference.max(1e-3),
                "{fast} against {reference}"
            );
        }
    }

    #[test]
    fn a_known_shift_is_undone_and_seen() {
        // A soft edge along y, seen 3.4 px lower and 1.7 px further left in the longer photo.
        let light = |x: f64, y: f64| {
            (0.02 + 0.5 / (1.0 + (-(y - 100.0) / 12.0).exp())) * (1.0 + 0.3 * (x / 17.0).sin() * (y / 23.0).cos())
        };
        let base = photo(200, 200, |x, y| 0.3 * light(x as f64, y as f64));
        let long = photo(200, 200, |x, y| 1.2 * light(x as f64 + 1.7, y as f64 - 3.4));
        let still = at_base(&long, 4.0);
        let seen = compare(&base, &still).unwrap();
        let [right, down] = seen.shift.unwrap().px;
        assert!((right + 1.7).abs() < 0.4 && (down - 3.4).abs() < 0.5, "{right} {down}");
        let moved = Bracket {
            from_base: Some(Matrix3::new(1.0, 0.0, -1.7, 0.0, 1.0, 3.4, 0.0, 0.0, 1.0)),
            ..still
        };
        let seen = compare(&base, &moved).unwrap();
        let shift = seen.shift.unwrap();
        assert!(shift.length_px().0 < 0.05 && shift.length_px().1 < 0.05, "{seen:?}");
        assert!((seen.ratio / 4.0 - 1.0).abs() < 0.005, "{seen:?}");
        let merged = merge(&[at_base(&base, 1.0), moved]).unwrap();
        for y in 5..190 {
            for x in 5..190 {
                let back = f64::from(merged.photo.pixels.light(x, y)) / merged.scale;
                let truth = 0.3 * light(x as f64, y as f64);
                assert!((back / truth - 1.0).abs() < 0.03, "{x} {y}: {back} {truth}");
            }
        }
    }

    #[test]
    fn a_tone_curve_shows_in_the_ratio() {
        let light = |x: usize, y: usize| 0.01 * 1.02f64.powi((x + y) as i32);
        let base = photo(160, 60, |x, y| 0.5 * light(x, y));
        let longer = photo(160, 60, light);
        let plain = compare(&base, &at_base(&longer, 2.0)).unwrap();
        assert!((plain.ratio - 2.0).abs() < 0.01 && plain.well_exposed);
        assert!((plain.halves[0] / plain.halves[1] - 1.0).abs() < 0.02, "{plain:?}");
        // A power curve on both: the ratio is no longer that of the exposures.
        let [base, longer] = [&base, &longer].map(|p| photo(160, 60, |x, y| f64::from(p.pixels.light(x, y)).powf(0.7)));
        let curved = compare(&base, &at_base(&longer, 2.0)).unwrap();
        assert!((curved.ratio - 2f64.powf(0.7)).abs() < 0.02, "{curved:?}");
        assert_eq!(compare(&photo(160, 60, |_, _| 0.0), &at_base(&longer, 2.0)), None);
    }
}
