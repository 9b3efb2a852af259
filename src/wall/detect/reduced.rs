//! A photo's block means at several sizes, from one pass over its pixels, and smoothed.

use super::darkness::Darkness;
use crate::photo::Luminance;
use crate::wall::light::Light;

/// The finest reduction's long side comes to about these many px: what a cell of the smallest legible tag needs (tried on
/// made photos, no source).
const FINEST_LONG_SIDE_PX: usize = 2000;
/// A photo whose finest reduction is smaller is no larger itself.
const SMALL_LONG_SIDE_PX: usize = FINEST_LONG_SIDE_PX * 2 / 3;
/// Below this a reduced photo has no room for a legible tag: three pixels for each cell of a tag and its white.
const LEAST_SIDE_PX: usize = 32;

/// Block means of a photo's light.
pub(super) struct Reduced {
    /// How many px of the photo one of these spans.
    pub factor: usize,
    means: Luminance,
}

impl Reduced {
    /// The finest reduction of a photo; `None` where it has no room for a tag.
    pub fn finest(light: Light<'_>) -> Option<Self> {
        let [width_px, height_px] = light.size_px();
        let long_side_px = width_px.max(height_px);
        let factor = ((long_side_px + FINEST_LONG_SIDE_PX / 2) / FINEST_LONG_SIDE_PX).max(1);
        Some(Self {
            factor,
            means: block_means(light, factor)?,
        })
    }

    /// How many px it has.
    pub fn size(&self) -> usize {
        self.means.values.len()
    }

    /// Whether the photo is hardly larger than the reduction on which a search begins.
    pub fn is_small(&self) -> bool {
        self.means.width_px.max(self.means.height_px) < SMALL_LONG_SIDE_PX
    }

    /// The means over so many of these each way; `None` where they have no room for a tag.
    pub fn reduced(&self, by: usize) -> Option<Self> {
        Some(Self {
            factor: by * self.factor,
            means: block_means(Light::new(&self.means, &[])?, by)?,
        })
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

    /// A place on these, px, as one in the photo.
    pub fn in_photo(&self, place_px: [f64; 2]) -> [f64; 2] {
        place_px.map(|at| (at + 0.5) * self.factor as f64 - 0.5)
    }
}

/// The mean of each block of `factor` × `factor` px; a remainder at the right and bottom is left out. `None` where the means
/// have no room for a tag.
fn block_means(light: Light<'_>, factor: usize) -> Option<Luminance> {
    let [width_px, height_px] = light.size_px().map(|side_px| side_px / factor);
    if width_px.min(height_px) < LEAST_SIDE_PX {
        return None;
    }
    let share = 1.0 / (factor * factor) as f32;
    let mut values = Vec::with_capacity(width_px * height_px);
    let mut sums = vec![0.0_f32; width_px * factor];
    for block in 0..height_px {
        sums.fill(0.0);
        for row in block * factor..(block + 1) * factor {
            for (sum, value) in sums.iter_mut().zip(light.row(row, 0..width_px * factor)) {
                *sum += value;
            }
        }
        values.extend(sums.chunks_exact(factor).map(|part| share * part.iter().sum::<f32>()));
    }
    Some(Luminance {
        width_px,
        height_px,
        values,
    })
}
