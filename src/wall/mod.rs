//! Where a pixel lies on the wall: the marks in the photo, and the camera's view fitted to them.

mod code;
mod find;
mod homography;
mod view;

pub use code::{TAG_COUNT, TAG_SIDE_CELLS, tag_cells};
pub use find::{FoundMark, find_marks};
pub use homography::{Homography, homography};
pub use view::{HeightSd, LEAST_MARKS, View};

/// A piece of the photo as seen square to the wall, for pictures: sRGB codes, row by row from the top left.
#[derive(Debug, Clone, PartialEq)]
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
