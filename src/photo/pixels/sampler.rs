//! Places of a photo for who asks for many of them: what is the same for all is looked up once.

use super::super::CLIPPED_CODE;
use super::super::planes::Borrowed;
use super::{CLIPPED_MARK, MARKED, Pixels, Store, Tables};

impl Pixels {
    /// The pixels for who asks for many places one by one.
    pub fn sampler(&self) -> Sampler<'_> {
        let [width_px, height_px] = self.size_px();
        Sampler {
            pixels: self,
            planes: match &*self.store {
                Store::Planes(planes) => Some(planes.borrowed()),
                _ => None,
            },
            tables: &MARKED,
            within_px: [width_px as f64 - 1.0, height_px as f64 - 1.0],
        }
    }
}

/// Pixels of which many places are asked for one by one.
#[derive(Clone, Copy)]
pub(crate) struct Sampler<'a> {
    pixels: &'a Pixels,
    planes: Option<Borrowed<'a>>,
    tables: &'static Tables,
    /// What a place has to lie below, px.
    within_px: [f64; 2],
}

impl Sampler<'_> {
    /// As [`Pixels::seen_at`], with whether the highest code is clipped.
    #[inline]
    pub fn seen_at(&self, x_px: f64, y_px: f64) -> Option<(f64, bool)> {
        let [right_px, bottom_px] = self.within_px;
        let Some(planes) = &self.planes else {
            return self.slowly(x_px, y_px);
        };
        if !(x_px >= 0.0 && y_px >= 0.0 && x_px < right_px && y_px < bottom_px) {
            return None;
        }
        // As numbers of 32 bits, which the processor turns to and fro at once; a photo has fewer px each way.
        let (x_whole, y_whole) = (x_px as i32, y_px as i32);
        let (x, y) = (x_whole as usize, y_whole as usize);
        let layout = &self.pixels.layout;
        let [column, row] = if layout.is_turned { [y, x] } else { [x, y] };
        let [backwards, upside_down] = layout.runs_back;
        let [width_px, height_px] = layout.stored_px;
        let stored = planes.four(
            if backwards { width_px - 2 - column } else { column },
            if upside_down { height_px - 2 - row } else { row },
        )?;
        let of = |n: usize| {
            let [red, green, blue, _] = stored[n & 3];
            self.tables.light([red, green, blue])
        };
        let [a, b, c, d] = layout.of_four;
        let (a, b, c, d) = (of(a), of(b), of(c), of(d));
        if a >= CLIPPED_MARK || b >= CLIPPED_MARK || c >= CLIPPED_MARK || d >= CLIPPED_MARK {
            return self.slowly(x_px, y_px);
        }
        let bend = |nominal: f32| match &self.pixels.bent {
            Some(bent) => f64::from(bent.light(nominal)),
            None => f64::from(nominal),
        };
        let (a, b, c, d) = (bend(a), bend(b), bend(c), bend(d));
        let (fx, fy) = (x_px - f64::from(x_whole), y_px - f64::from(y_whole));
        let top = a * (1.0 - fx) + b * fx;
        let bottom = c * (1.0 - fx) + d * fx;
        Some((top * (1.0 - fy) + bottom * fy, false))
    }

    #[cold]
    #[inline(never)]
    fn slowly(&self, x_px: f64, y_px: f64) -> Option<(f64, bool)> {
        let (light, highest) = self.pixels.seen_at(x_px, y_px)?;
        Some((light, highest >= CLIPPED_CODE))
    }
}
