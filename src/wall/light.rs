//! The light in a photo's pixels, with what is clipped taken for full scale.

use crate::photo::Luminance;
use std::ops::Range;

/// A photo's light, with clipped px as full scale: where one colour is clipped, the light there is unknown.
#[derive(Clone, Copy)]
pub(super) struct Light<'a> {
    luminance: &'a Luminance,
    /// As many as `luminance` has values, or none where nothing is known of clipping.
    clipped: &'a [bool],
}

impl<'a> Light<'a> {
    /// `None` where the values, or what is clipped, are not as many as the photo has pixels.
    pub fn new(luminance: &'a Luminance, clipped: &'a [bool]) -> Option<Self> {
        let count = luminance.width_px.checked_mul(luminance.height_px)?;
        let whole = luminance.values.len() == count && (clipped.is_empty() || clipped.len() == count);
        whole.then_some(Self { luminance, clipped })
    }

    /// Width and height, px.
    pub fn size_px(&self) -> [usize; 2] {
        [self.luminance.width_px, self.luminance.height_px]
    }

    /// The light in `columns` of a row; nothing where the photo has no such place.
    pub fn row(&self, row: usize, columns: Range<usize>) -> impl Iterator<Item = f32> + use<'a> {
        let start = row * self.luminance.width_px;
        let part = start + columns.start..start + columns.end;
        let values = self.luminance.values.get(part.clone()).unwrap_or_default();
        let clipped = self.clipped.get(part).unwrap_or_default();
        let unknown = values.len() - clipped.len();
        let clipped = clipped.iter().copied().chain(std::iter::repeat_n(false, unknown));
        values
            .iter()
            .zip(clipped)
            .map(|(&value, clipped)| if clipped { 1.0 } else { value })
    }
}
