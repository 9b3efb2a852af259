//! A photo's cut-off as seen square to the wall, for pictures.

use super::view::View;
use crate::photo::{Photo, linear_from_srgb};
use crate::record::Lamp;
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// A piece of the photo as seen square to the wall, for pictures: sRGB codes, row by row from the top left.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct Rectified {
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// `width_px * height_px` grey codes; places outside of the photo are 0.
    pub codes: Vec<u8>,
    /// Wall x of the left edge of the picture, mm.
    pub left_mm: f64,
    /// Wall y of the top edge of the picture, mm.
    pub top_mm: f64,
    /// Wall length of one pixel, mm.
    pub mm_per_px: f64,
    /// The marks as found: number, and the corners' places on the wall, mm.
    pub marks: Vec<(u32, [[f64; 2]; 4])>,
}

/// Width of a rectified picture, px: sharp at half a printed page.
const PICTURE_WIDTH_PX: u32 = 900;
/// What a rectified picture shows on either side of the lamp's V-V, and above and below its centre, degrees.
const PICTURE_SIDE_DEG: f64 = 6.5;
const PICTURE_ABOVE_DEG: f64 = 2.0;
const PICTURE_BELOW_DEG: f64 = 5.0;

/// Codes are the sRGB codes' share of full scale to this power: lifted in the dark, so that marks above the cut-off can be
/// seen.
const LIFT: f64 = 0.7;

/// The least light, 0 to 1, of each code but 0: pictures have some million pixels, and two powers for each would cost more
/// than all else of them.
static LEAST_LIGHT: LazyLock<[f64; 255]> =
    LazyLock::new(|| std::array::from_fn(|below| linear_from_srgb(((below as f64 + 0.5) / 255.0).powf(1.0 / LIFT))));

/// The grey code of light, 0 to 1: the sRGB curve, lifted.
fn code_of(light: f64) -> u8 {
    // 255 at the most: there are no more to pass.
    LEAST_LIGHT.partition_point(|&least| least <= light) as u8
}

/// The part of a photo around a lamp's cut-off, square to the wall.
#[must_use]
pub fn rectify(photo: &Photo, view: &View, lamp: &Lamp) -> Rectified {
    let half_width_mm = lamp.distance_mm * PICTURE_SIDE_DEG.to_radians().tan();
    let left_mm = lamp.centre_x_mm - half_width_mm;
    let top_mm = lamp.centre_height_mm + lamp.distance_mm * PICTURE_ABOVE_DEG.to_radians().tan();
    let bottom_mm = lamp.centre_height_mm - lamp.distance_mm * PICTURE_BELOW_DEG.to_radians().tan();
    let mm_per_px = 2.0 * half_width_mm / f64::from(PICTURE_WIDTH_PX);
    let height_px = ((top_mm - bottom_mm) / mm_per_px).ceil().max(1.0) as u32;
    let mut codes = Vec::with_capacity((PICTURE_WIDTH_PX * height_px) as usize);
    for row in 0..height_px {
        for column in 0..PICTURE_WIDTH_PX {
            let wall_mm = [
                left_mm + mm_per_px * (f64::from(column) + 0.5),
                top_mm - mm_per_px * (f64::from(row) + 0.5),
            ];
            let light = view.to_photo(wall_mm).and_then(|[x, y]| photo.light_at(x, y));
            codes.push(light.map_or(0, code_of));
        }
    }
    let marks = view
        .marks
        .iter()
        .filter_map(|mark| {
            let corners = mark.corners_px.map(|corner| view.to_wall(corner));
            Some((mark.id, [corners[0]?, corners[1]?, corners[2]?, corners[3]?]))
        })
        .collect();
    Rectified {
        width_px: PICTURE_WIDTH_PX,
        height_px,
        codes,
        left_mm,
        top_mm,
        mm_per_px,
        marks,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::srgb_from_linear;

    #[test]
    fn codes_are_the_srgb_curve_lifted_in_the_dark() {
        let plainly = |light: f64| (255.0 * srgb_from_linear(light).powf(LIFT)).round() as u8;
        for step in 0..=1_000_000 {
            // As densely in the dark as the codes are.
            let light = (f64::from(step) / 1e6).powi(3);
            assert_eq!(code_of(light), plainly(light), "{light}");
        }
        assert_eq!([-0.1, 0.0, 1.0, 1.5].map(code_of), [0, 0, 255, 255]);
    }
}
