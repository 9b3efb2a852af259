//! How dark a reduced photo is, in even steps of the logarithm of its light, and where it is darker than round about.

use crate::photo::{Luminance, Pixels};
use image::GrayImage;
use std::sync::LazyLock;

/// Light below this is as good as black: a third of the first code of an 8-bit sRGB photo.
const BLACK: f32 = 1e-4;
/// Darkness is counted in thousandths of an e-fold of light.
const STEPS: f32 = 1000.0;
/// Bits of a light's significand that its darkness does not count: 8 are left, 4 steps.
const TABLE_SHIFT: u32 = 15;

/// Darkness by [`table_place`], from black to full scale.
static DARKNESS: LazyLock<Vec<u16>> = LazyLock::new(|| {
    let steps = |light: f32| (STEPS * (light / BLACK).ln_1p()) as u16;
    let light = |place: u32| f32::from_bits(place << TABLE_SHIFT);
    (0..=1.0_f32.to_bits() >> TABLE_SHIFT)
        .map(|place| steps(1.0) - steps(light(place)))
        .collect()
});

/// Where in [`DARKNESS`] a light's is; beyond its end for more than full scale, and for what is no number.
fn table_place(light: f32) -> usize {
    // The bits of floats that are not negative are in the order of their values.
    (light.max(0.0).to_bits() >> TABLE_SHIFT) as usize
}

/// What makes darkness of light.
fn darkness_of() -> impl Fn(f32) -> u16 + Sync {
    let table = &*DARKNESS;
    |light| table.get(table_place(light)).copied().unwrap_or(0)
}

/// How dark each px is: 0 for full scale, and thousandths of an e-fold of light from there.
pub(super) struct Darkness {
    width_px: usize,
    height_px: usize,
    values: Vec<u16>,
}

impl Darkness {
    pub fn of(light: &Luminance) -> Self {
        let darkness = darkness_of();
        Self {
            width_px: light.width_px,
            height_px: light.height_px,
            values: light.values.iter().map(|&light| darkness(light)).collect(),
        }
    }

    /// Of the means of a photo's light, as [`Pixels::block_means`] makes them.
    pub fn of_block_means(pixels: &Pixels, inner: usize, outer: usize) -> Self {
        let ([width_px, height_px], values) = pixels.block_means_as(inner, outer, darkness_of());
        Self {
            width_px,
            height_px,
            values,
        }
    }

    /// Bilinear between pixels, e-folds; `None` outside of their middles.
    pub fn at(&self, x_px: f64, y_px: f64) -> Option<f64> {
        let (left, top) = (x_px.floor(), y_px.floor());
        if !(left >= 0.0 && top >= 0.0 && left + 1.0 < self.width_px as f64) {
            return None;
        }
        let (fx, fy) = (x_px - left, y_px - top);
        let start = top as usize * self.width_px + left as usize;
        let row = |start: usize| match self.values.get(start..start + 2) {
            Some(&[left, right]) => Some(f64::from(left) * (1.0 - fx) + f64::from(right) * fx),
            _ => None,
        };
        Some((row(start)? * (1.0 - fy) + row(start + self.width_px)? * fy) / f64::from(STEPS))
    }

    /// White where the picture is darker than the mean of the square of `radius_px` round about, cut at the frame, by so many
    /// e-folds; black elsewhere.
    pub fn ink(&self, radius_px: usize, darker_by: f64) -> GrayImage {
        let (width, height) = (self.width_px, self.height_px);
        let margin = (darker_by * f64::from(STEPS)) as u32;
        let row = |row: usize| self.values.chunks_exact(width).nth(row).unwrap_or_default();
        let mut columns = vec![0_u32; width];
        for above in (0..radius_px.min(height)).map(row) {
            add(&mut columns, above);
        }
        let mut ink = Vec::with_capacity(width * height);
        let mut running = vec![0_u32; width + 1];
        for line in 0..height {
            if line + radius_px < height {
                add(&mut columns, row(line + radius_px));
            }
            if line > radius_px {
                for (sum, &value) in columns.iter_mut().zip(row(line - radius_px - 1)) {
                    *sum -= u32::from(value);
                }
            }
            let rows = (line + radius_px).min(height - 1) + 1 - line.saturating_sub(radius_px);
            let mut sum = 0;
            for (place, &column) in running.iter_mut().skip(1).zip(&columns) {
                sum += column;
                *place = sum;
            }
            let is_ink = |value: u16, around: u32, count: u32| {
                if u32::from(value) * count > around + margin * count {
                    u8::MAX
                } else {
                    0
                }
            };
            let at_rim = |column: usize| {
                let (from, to) = (column.saturating_sub(radius_px), (column + radius_px + 1).min(width));
                let value = row(line).get(column).copied().unwrap_or(0);
                is_ink(value, running[to] - running[from], (rows * (to - from)) as u32)
            };
            // Between the rims all squares are alike, so that the processor takes several at once.
            let (left, right) = (
                radius_px.min(width),
                width.saturating_sub(radius_px).max(radius_px.min(width)),
            );
            let side = 2 * radius_px + 1;
            let count = (rows * side) as u32;
            ink.extend((0..left).map(at_rim));
            let middle = row(line).get(left..right).unwrap_or_default();
            let around = running.iter().zip(running.get(side..).unwrap_or_default());
            let between = middle.iter().zip(around);
            ink.extend(between.map(|(&value, (from, to))| is_ink(value, to - from, count)));
            ink.extend((right..width).map(at_rim));
        }
        GrayImage::from_raw(width as u32, height as u32, ink).unwrap_or_default()
    }
}

fn add(sums: &mut [u32], row: &[u16]) {
    for (sum, &value) in sums.iter_mut().zip(row) {
        *sum += u32::from(value);
    }
}
