//! The wall by the room's light: what it reflects, place by place, paint and stripes included.

use super::View;
use crate::photo::Photo;
use std::path::PathBuf;

/// Linear light below which a wall photo tells nothing of the wall: some six codes of 8-bit sRGB above black.
const LEAST_LIGHT: f64 = 0.002;

/// A photo of the wall with the room lit and the lamps off.
#[derive(Debug, Clone)]
pub struct WallPhoto {
    /// As the job names it.
    pub path: PathBuf,
    /// As read.
    pub photo: Photo,
    /// Its view of the wall.
    pub view: View,
}

impl WallPhoto {
    /// Linear light at a place of the wall, mm; `None` where a sheet hides the wall, and where the photo does not show it, at full
    /// scale or in the dark.
    pub(crate) fn light_at(&self, wall_mm: [f64; 2]) -> Option<f64> {
        if self.view.hidden(wall_mm) {
            return None;
        }
        let [x, y] = self.view.to_photo(wall_mm)?;
        let (light, is_clipped) = self.photo.seen_at(x, y)?;
        (light > LEAST_LIGHT && !is_clipped).then_some(light)
    }
}
