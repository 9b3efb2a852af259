//! Which tag, roughly where. The `kornia-apriltag` crate finds and decodes AprilTag 36h11 tags. A photo of a headlamp's
//! beam holds bright and nearly black tags at once, so it gets the photo at several reductions (block means in linear
//! light, which also average the dark part's noise away) and in three codings: as a viewer would see it, in logarithm, and
//! relative to the mean round about.

use crate::photo::{Luminance, srgb_from_linear_f32 as srgb_code};
use kornia_apriltag::{AprilTagDecoder, DecodeTagsConfig, family::TagFamilyKind};
use kornia_image::{Image, ImageSize};

/// Reductions are chosen so that the photo's long side comes to about these many px. Marks then span the sizes that the
/// detector reads well, at whichever distance and with whichever camera the photo was taken (tried on made
/// photos, no source).
const REDUCED_LONG_SIDES_PX: [usize; 5] = [2000, 1500, 1000, 750, 500];

/// Below this a reduced photo has no room for a legible tag: three pixels for each cell of a tag and its white.
const LEAST_SIDE_PX: usize = 32;

/// Differing bits to forgive. The family's tags differ in 11, so 2 cannot turn one into another.
const MOST_BIT_ERRORS: u8 = 2;

/// A tag as the detector gives it, in the photo's px.
pub(super) struct Detection {
    pub id: u32,
    bit_errors: u8,
    /// How many px of the photo one of the detector's spans.
    factor: usize,
    pub corners_px: [[f64; 2]; 4],
}

/// How luminance becomes the detector's 8-bit code values.
#[derive(Clone, Copy)]
enum Coding {
    /// sRGB: good where the camera exposed for it.
    AsViewed,
    /// Logarithm over the range of an 8-bit photo: a tag's contrast is the same in any light.
    Logarithm,
    /// Relative to the mean of the neighbourhood: takes out the light's slope.
    Local,
}

/// The tags with the wanted ids, in order of id, and for each the readings with few wrong bits and from a fine picture
/// first: they start the refinement nearest to the edge. One tag may be seen many times.
pub(super) fn detect(luminance: &Luminance, wanted: &[u32]) -> Vec<Detection> {
    if luminance.width_px.checked_mul(luminance.height_px) != Some(luminance.values.len()) {
        return Vec::new();
    }
    let mut reductions: Vec<usize> = REDUCED_LONG_SIDES_PX
        .iter()
        .map(|target| ((luminance.width_px.max(luminance.height_px) + target / 2) / target).max(1))
        .collect();
    reductions.dedup();
    let mut detections: Vec<Detection> = Vec::new();
    for factor in reductions {
        let reduced = block_means(luminance, factor);
        if reduced.width_px.min(reduced.height_px) < LEAST_SIDE_PX {
            continue;
        }
        for coding in [Coding::AsViewed, Coding::Logarithm, Coding::Local] {
            detections.extend(
                detect_in(&reduced, factor, coding)
                    .into_iter()
                    .filter(|found| wanted.contains(&found.id)),
            );
        }
    }
    detections.sort_by_key(|detection| (detection.id, detection.bit_errors, detection.factor));
    detections
}

/// The mean of each block of `factor` × `factor` px; a remainder at the right and bottom is left out.
fn block_means(image: &Luminance, factor: usize) -> Luminance {
    let (width, height) = (image.width_px / factor, image.height_px / factor);
    let share = 1.0 / (factor * factor) as f32;
    let mut data = vec![0.0_f32; width * height];
    if width == 0 {
        return Luminance {
            width_px: width,
            height_px: height,
            values: data,
        };
    }
    for (row, source) in image.values.chunks_exact(image.width_px).enumerate() {
        let start = row / factor * width;
        let Some(means) = data.get_mut(start..start + width) else {
            break;
        };
        for (mean, block) in means.iter_mut().zip(source.chunks_exact(factor)) {
            *mean += share * block.iter().sum::<f32>();
        }
    }
    Luminance {
        width_px: width,
        height_px: height,
        values: data,
    }
}

/// Runs the detector on one reduction and coding of the photo.
fn detect_in(reduced: &Luminance, factor: usize, coding: Coding) -> Vec<Detection> {
    let codes = encode(reduced, coding);
    let size = ImageSize {
        width: reduced.width_px,
        height: reduced.height_px,
    };
    let Ok(mut config) = DecodeTagsConfig::new(vec![TagFamilyKind::Tag36H11]) else {
        return Vec::new();
    };
    // The reduction here averages; the detector's own would skip pixels and keep the noise.
    config.downscale_factor = 1;
    let Ok(picture) = Image::<u8, 1>::new(size, codes) else {
        return Vec::new();
    };
    let Ok(mut decoder) = AprilTagDecoder::new(config, size) else {
        return Vec::new();
    };
    let Ok(detections) = decoder.decode_all(&picture) else {
        return Vec::new();
    };
    let scale = factor as f64;
    detections
        .iter()
        .filter(|detection| detection.hamming <= MOST_BIT_ERRORS)
        .map(|detection| {
            // The detector counts from the pixel's corner, and its upright picture is half a turn from ours.
            let corners_px = [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0_f32]].map(|[x, y]| {
                let corner = detection.quad.homography_project(x, y);
                [corner.x, corner.y].map(|value| f64::from(value) * scale - 0.5)
            });
            Detection {
                id: u32::from(detection.id),
                bit_errors: detection.hamming,
                factor,
                corners_px,
            }
        })
        .filter(|detection| detection.corners_px.iter().flatten().all(|value| value.is_finite()))
        .collect()
}

/// The detector's code values for `image`, 0..=255, row by row.
fn encode(image: &Luminance, coding: Coding) -> Vec<u8> {
    // Floor of the logarithm: about the light of code value 6 in an 8-bit sRGB photo, below which there is only noise.
    const DARK: f32 = 0.002;
    match coding {
        Coding::AsViewed => image
            .values
            .iter()
            .map(|&light| (255.0 * srgb_code(light)).round() as u8)
            .collect(),
        Coding::Logarithm => {
            let range = ((1.0 + DARK) / DARK).ln();
            let level = |light: f32| (light.max(0.0) / DARK).ln_1p() / range;
            image
                .values
                .iter()
                .map(|&light| (255.0 * level(light)).round() as u8)
                .collect()
        }
        Coding::Local => {
            // Wide enough to hold a whole tag of middling size, so that black cells have white ones to compare with.
            let radius = (image.width_px.max(image.height_px) / 33).max(3);
            let around = box_means(image, radius);
            image
                .values
                .iter()
                .zip(&around)
                .map(|(&light, &mean)| (128.0 * light / (mean + DARK / 20.0)).round() as u8)
                .collect()
        }
    }
}

/// The mean over the square of `radius` px round each pixel, cut at the frame. Row by row, as the image.
fn box_means(image: &Luminance, radius: usize) -> Vec<f32> {
    let across: Vec<f32> = image
        .values
        .chunks_exact(image.width_px)
        .flat_map(|row| running_means(row, radius))
        .collect();
    let mut means = vec![0.0; across.len()];
    for column in 0..image.width_px {
        let line: Vec<f32> = across.iter().skip(column).step_by(image.width_px).copied().collect();
        let targets = means.iter_mut().skip(column).step_by(image.width_px);
        for (target, mean) in targets.zip(running_means(&line, radius)) {
            *target = mean;
        }
    }
    means
}

/// The mean over `radius` values to either side of each value, cut at the ends.
fn running_means(values: &[f32], radius: usize) -> Vec<f32> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0_f64;
    sums.push(sum);
    for &value in values {
        sum += f64::from(value);
        sums.push(sum);
    }
    (0..values.len())
        .map(|index| {
            let (from, to) = (index.saturating_sub(radius), (index + radius + 1).min(values.len()));
            let between = sums
                .get(to)
                .zip(sums.get(from))
                .map_or(0.0, |(upper, lower)| upper - lower);
            (between / (to - from) as f64) as f32
        })
        .collect()
}
