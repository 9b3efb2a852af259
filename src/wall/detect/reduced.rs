//! A photo's block means at several sizes, from one pass over its pixels, and smoothed.

use super::darkness::Darkness;
use crate::photo::{Luminance, Pixels};

/// The finest reduction's long side comes to about these many px: what a cell of the smallest legible tag needs (tried on
/// made photos, no source).
const FINEST_LONG_SIDE_PX: usize = 2000;
/// A photo whose finest reduction is smaller is no larger itself.
const SMALL_LONG_SIDE_PX: usize = FINEST_LONG_SIDE_PX * 2 / 3;
/// Below this a reduced photo has no room for a legible tag: three pixels for each cell of a tag and its white.
const LEAST_SIDE_PX: usize = 32;

/// A photo and its finest reduction, of which the others are block means. It is not held itself: it would be the largest thing
/// beside the photo, and is seldom looked at.
pub(super) struct Finest<'a> {
    pixels: &'a Pixels,
    /// How many px of the photo one of the finest reduction spans.
    factor: usize,
}

impl<'a> Finest<'a> {
    /// `None` where it has no room for a tag.
    pub fn of(pixels: &'a Pixels) -> Option<Self> {
        let [width_px, height_px] = pixels.size_px();
        let long_side_px = width_px.max(height_px);
        let factor = (long_side_px.saturating_add(FINEST_LONG_SIDE_PX / 2) / FINEST_LONG_SIDE_PX).max(1);
        let finest = Self { pixels, factor };
        finest.has_room(1).then_some(finest)
    }

    /// Whether the photo is hardly larger than the reduction on which a search begins.
    pub fn is_small(&self) -> bool {
        let [width_px, height_px] = self.pixels.size_px().map(|side_px| side_px / self.factor);
        width_px.max(height_px) < SMALL_LONG_SIDE_PX
    }

    /// The means over so many of these each way; `None` where they have no room for a tag.
    pub fn reduced(&self, by: usize) -> Option<Reduced> {
        self.has_room(by).then(|| Reduced {
            factor: by * self.factor,
            means: self.pixels.block_means(self.factor, by),
        })
    }

    /// How dark the means over so many of these each way are, without keeping the means; and how many px of the photo each spans.
    pub fn darkness(&self, by: usize) -> Option<(Darkness, usize)> {
        let darkness = || Darkness::of_block_means(self.pixels, self.factor, by);
        self.has_room(by).then(|| (darkness(), by * self.factor))
    }

    /// As [`Finest::reduced`]; `last` itself where that is the one.
    pub fn reduced_from(&self, last: Option<Reduced>, by: usize) -> Option<Reduced> {
        let same = last.filter(|last| last.factor == by * self.factor);
        same.or_else(|| self.reduced(by))
    }

    fn has_room(&self, by: usize) -> bool {
        let sides_px = self.pixels.size_px().map(|side_px| side_px / self.factor / by);
        sides_px.iter().all(|&side_px| side_px >= LEAST_SIDE_PX)
    }
}

/// Block means of a photo's light.
pub(super) struct Reduced {
    /// How many px of the photo one of these spans.
    pub factor: usize,
    means: Luminance,
}

impl Reduced {
    /// How many px it has.
    pub fn size(&self) -> usize {
        self.means.values.len()
    }

    /// The means over 3 × 3 of these round each: less noise, and the places between stay. The rim is left as it is.
    pub fn smoothed(&self) -> Self {
        let width_px = self.means.width_px;
        let mut values = self.means.values.clone();
        let rows = |row: usize| self.means.values.chunks_exact(width_px).skip(row);
        let targets = values.chunks_exact_mut(width_px).skip(1);
        for (target, ((above, middle), below)) in targets.zip(rows(0).zip(rows(1)).zip(rows(2))) {
            let columns = above.iter().zip(middle).zip(below);
            let sums: Vec<f32> = columns.map(|((a, b), c)| a + b + c).collect();
            for (value, three) in target.iter_mut().skip(1).zip(sums.windows(3)) {
                *value = three.iter().sum::<f32>() / 9.0;
            }
        }
        Self {
            factor: self.factor,
            means: Luminance {
                width_px,
                height_px: self.means.height_px,
                values,
            },
        }
    }

    /// How dark each of these is.
    pub fn darkness(&self) -> Darkness {
        Darkness::of(&self.means)
    }
}

/// A place on means over blocks of `factor` px each way, px, as one in the photo.
pub(super) fn in_photo(place_px: [f64; 2], factor: usize) -> [f64; 2] {
    place_px.map(|at| (at + 0.5) * factor as f64 - 0.5)
}
