//! A photo's pixels as its file holds them: codes, which become light where they are asked for. A usual photo of 12 megapixels takes
//! 18 MB so, and nothing else of it is as large.

mod means;
mod sampler;

use super::bent::Bent;
use super::planes::Planes;
use super::srgb::{LUMINANCE_WEIGHTS, linear_from_srgb, linear_of_codes};
use super::{CLIPPED_CODE, Luminance};
use image::metadata::Orientation;
use image::{ColorType, DynamicImage};
use means::LumaLight;
pub(crate) use sampler::Sampler;
use std::ops::Range;
use std::sync::{Arc, LazyLock};

/// The pixels of a photo, upright: x to the right and y down from the top left, px. A copy shares what it holds.
#[derive(Debug, Clone)]
pub(crate) struct Pixels {
    store: Arc<Store>,
    layout: Layout,
    /// What turns the light that the file states into light, where that is another.
    bent: Option<Arc<Bent>>,
}

/// What is held of each pixel, in the order of the file.
#[derive(Debug)]
enum Store {
    /// Of a plain JPEG: brightness, and colour where it is asked for.
    Planes(Planes),
    /// Red, green and blue in turn.
    Colour(Vec<u8>),
    /// All three are this.
    Grey(Vec<u8>),
    /// As `Colour`; 16 bits keep their finer steps.
    Wide(Vec<u16>),
    /// Light itself, of merged photos, and which of it is clipped.
    Light(Vec<f32>, Vec<bool>),
}

/// Where upright pixels lie among those that are stored.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Layout {
    /// Width and height as stored.
    stored_px: [usize; 2],
    /// Whether upright rows are stored columns.
    is_turned: bool,
    /// Place of the top left pixel, and how much further the next one to the right and the next one down are.
    first: isize,
    right: isize,
    down: isize,
    /// Whether the upright picture runs against the stored one: along stored rows, and along stored columns.
    runs_back: [bool; 2],
    /// Of four upright pixels (the first, that to its right, that below, and that to the right of it) the place of each among the stored
    /// four in the same order.
    of_four: [usize; 4],
}

impl Layout {
    /// Of pixels stored in rows (JEITA CP-3451, Orientation).
    fn new([width_px, height_px]: [usize; 2], orientation: Orientation) -> Self {
        let (width, height) = (width_px as isize, height_px as isize);
        let last = width * height - 1;
        let (is_turned, first, right, down) = match orientation {
            Orientation::NoTransforms => (false, 0, 1, width),
            Orientation::FlipHorizontal => (false, width - 1, -1, width),
            Orientation::Rotate180 => (false, last, -1, -width),
            Orientation::FlipVertical => (false, last + 1 - width, 1, -width),
            Orientation::Rotate90FlipH => (true, 0, width, 1),
            Orientation::Rotate90 => (true, last + 1 - width, -width, 1),
            Orientation::Rotate270FlipH => (true, last, -width, -1),
            Orientation::Rotate270 => (true, width - 1, width, -1),
        };
        let runs_back = if is_turned {
            [down < 0, right < 0]
        } else {
            [right < 0, down < 0]
        };
        let of_four = [[0, 0], [1, 0], [0, 1], [1, 1]].map(|[x, y]: [usize; 2]| {
            let [column, row] = if is_turned { [y, x] } else { [x, y] };
            (column ^ usize::from(runs_back[0])) + 2 * (row ^ usize::from(runs_back[1]))
        });
        Self {
            stored_px: [width_px, height_px],
            is_turned,
            first,
            right,
            down,
            runs_back,
            of_four,
        }
    }

    /// Upright width and height.
    fn size_px(&self) -> [usize; 2] {
        let [width_px, height_px] = self.stored_px;
        if self.is_turned {
            [height_px, width_px]
        } else {
            [width_px, height_px]
        }
    }

    /// Place of a pixel; `None` outside of the photo.
    fn place(&self, x: usize, y: usize) -> Option<usize> {
        let [width_px, height_px] = self.size_px();
        let place = || usize::try_from(self.first + x as isize * self.right + y as isize * self.down).ok();
        if x < width_px && y < height_px { place() } else { None }
    }

    /// Stored column and row of an upright pixel of the photo.
    fn stored(&self, x: usize, y: usize) -> [usize; 2] {
        let [column, row] = if self.is_turned { [y, x] } else { [x, y] };
        let [width_px, height_px] = self.stored_px;
        let [backwards, upside_down] = self.runs_back;
        [
            if backwards { width_px - 1 - column } else { column },
            if upside_down { height_px - 1 - row } else { row },
        ]
    }
}

/// Light by 8-bit code, each colour by its weight in the luminance.
struct Tables {
    red: [f32; 256],
    green: [f32; 256],
    blue: [f32; 256],
}

impl Tables {
    fn new(light: [f32; 256]) -> Self {
        let [red, green, blue] = LUMINANCE_WEIGHTS.map(|weight| light.map(|light| weight * light));
        Self { red, green, blue }
    }

    fn light(&self, [red, green, blue]: [u8; 3]) -> f32 {
        self.red[usize::from(red)] + self.green[usize::from(green)] + self.blue[usize::from(blue)]
    }
}

/// What a clipped code stands for where clipped pixels are to be told from others by their sum of colours.
const CLIPPED_MARK: f32 = 1000.0;

static TABLES: LazyLock<Tables> = LazyLock::new(|| Tables::new(linear_of_codes()));
/// The same, but that a clipped code has all its weight beyond any light.
static MARKED: LazyLock<Tables> = LazyLock::new(|| {
    let mark = |tables: &mut [f32; 256]| tables[usize::from(CLIPPED_CODE)..].fill(CLIPPED_MARK);
    let mut tables = Tables::new(linear_of_codes());
    for colour in [&mut tables.red, &mut tables.green, &mut tables.blue] {
        mark(colour);
    }
    tables
});
/// Linear light of each 16-bit code.
static WIDE: LazyLock<Vec<f32>> = LazyLock::new(|| {
    (0..=u16::MAX)
        .map(|code| linear_from_srgb(f64::from(code) / 65535.0) as f32)
        .collect()
});

fn wide_light(wide: &[f32], codes: [u16; 3]) -> f32 {
    let [red, green, blue] = codes.map(|code| wide.get(usize::from(code)).copied().unwrap_or(0.0));
    let [of_red, of_green, of_blue] = LUMINANCE_WEIGHTS;
    of_red * red + of_green * green + of_blue * blue
}

/// The highest of three colours; clipping of 16 bits is judged on the upper byte.
fn highest_of_wide(codes: [u16; 3]) -> u8 {
    (codes.into_iter().max().unwrap_or(0) >> 8) as u8
}

impl Pixels {
    /// Of a decoded picture as its file stores it.
    pub fn of_picture(picture: DynamicImage, orientation: Orientation) -> Self {
        let stored_px = [picture.width() as usize, picture.height() as usize];
        let store = match picture.color() {
            ColorType::L8 | ColorType::La8 => Store::Grey(picture.into_luma8().into_raw()),
            ColorType::Rgb8 | ColorType::Rgba8 => Store::Colour(picture.into_rgb8().into_raw()),
            _ => Store::Wide(picture.into_rgb16().into_raw()),
        };
        Self {
            store: Arc::new(store),
            layout: Layout::new(stored_px, orientation),
            bent: None,
        }
    }

    /// Of a plain JPEG.
    pub fn of_planes(planes: Planes, orientation: Orientation) -> Self {
        Self {
            layout: Layout::new(planes.size_px, orientation),
            store: Arc::new(Store::Planes(planes)),
            bent: None,
        }
    }

    /// Of light, and which of it is clipped; `None` where there are not as many of either as the picture has pixels.
    pub fn of_light(luminance: Luminance, clipped: Vec<bool>) -> Option<Self> {
        let stored_px = [luminance.width_px, luminance.height_px];
        let count = luminance.width_px.checked_mul(luminance.height_px)?;
        let is_whole = luminance.values.len() == count && clipped.len() == count;
        is_whole.then(|| Self {
            store: Arc::new(Store::Light(luminance.values, clipped)),
            layout: Layout::new(stored_px, Orientation::NoTransforms),
            bent: None,
        })
    }

    /// The same pixels, their light bent.
    pub fn bent_by(mut self, bent: Bent) -> Self {
        self.bent = Some(Arc::new(bent));
        self
    }

    /// Width and height, px.
    pub fn size_px(&self) -> [usize; 2] {
        self.layout.size_px()
    }

    /// Bytes of memory that they take.
    pub fn bytes(&self) -> usize {
        match &*self.store {
            Store::Planes(planes) => planes.bytes(),
            Store::Colour(codes) | Store::Grey(codes) => codes.len(),
            Store::Wide(codes) => size_of_val(codes.as_slice()),
            Store::Light(values, clipped) => size_of_val(values.as_slice()) + clipped.len(),
        }
    }

    /// Linear light of a pixel, 1 at full scale of all colours; NaN outside.
    pub fn light(&self, x: usize, y: usize) -> f32 {
        let place = self.layout.place(x, y);
        place.map_or(f32::NAN, |place| self.bend(self.nominal(place)))
    }

    /// Highest 8-bit code of a pixel's colours: how near it is to full scale. 0 outside.
    pub fn highest_code(&self, x: usize, y: usize) -> u8 {
        self.layout.place(x, y).map_or(0, |place| self.highest(place))
    }

    /// Whether any colour of a pixel is at (or, after JPEG, next to) full scale, so that its true light may be more; not outside.
    #[cfg(test)]
    pub fn is_clipped(&self, x: usize, y: usize) -> bool {
        self.highest_code(x, y) >= CLIPPED_CODE
    }

    /// Light of a pixel with what is clipped taken for full scale: where one colour is clipped, the light is unknown. NaN outside.
    #[cfg(test)]
    fn capped(&self, x: usize, y: usize) -> f32 {
        if self.is_clipped(x, y) { 1.0 } else { self.light(x, y) }
    }

    /// Light at a place in px (centre of the top left pixel = 0, 0), bilinear, and the highest code of the four pixels around it; `None`
    /// outside the outermost pixel centres.
    pub fn seen_at(&self, x_px: f64, y_px: f64) -> Option<(f64, u8)> {
        let [width_px, height_px] = self.size_px();
        let is_inside = x_px >= 0.0 && y_px >= 0.0 && x_px < (width_px as f64 - 1.0) && y_px < (height_px as f64 - 1.0);
        if !is_inside {
            return None;
        }
        // As whole numbers: above nothing they are the floor, without a call for it.
        let (x, y) = (x_px as usize, y_px as usize);
        let (fx, fy) = (x_px - x as f64, y_px - y as f64);
        let (nominal, highest) = match &*self.store {
            Store::Planes(planes) => {
                let [[a, b], [c, d]] = [self.layout.stored(x, y), self.layout.stored(x + 1, y + 1)];
                let stored = planes.borrowed().four(a.min(c), b.min(d))?;
                of_four_codes(self.layout.of_four.map(|n| {
                    let [red, green, blue, _] = stored[n];
                    [red, green, blue]
                }))
            }
            Store::Colour(codes) => {
                let codes = codes.as_chunks::<3>().0;
                let [Some(a), Some(b), Some(c), Some(d)] =
                    self.four_places(x, y).map(|place| codes.get(place).copied())
                else {
                    return None;
                };
                of_four_codes([a, b, c, d])
            }
            _ => {
                let four = self.four_places(x, y);
                let highest = four.map(|place| self.highest(place)).into_iter().max().unwrap_or(0);
                (four.map(|place| self.nominal(place)), highest)
            }
        };
        let [top_left, top_right, bottom_left, bottom_right] = nominal.map(|nominal| f64::from(self.bend(nominal)));
        let top = top_left * (1.0 - fx) + top_right * fx;
        let bottom = bottom_left * (1.0 - fx) + bottom_right * fx;
        Some((top * (1.0 - fy) + bottom * fy, highest))
    }

    /// Places among those stored of an upright pixel, of that to its right, that below, and that to the right of it.
    fn four_places(&self, x: usize, y: usize) -> [usize; 4] {
        let (right, down) = (self.layout.right, self.layout.down);
        let first = self.layout.first + x as isize * right + y as isize * down;
        [first, first + right, first + down, first + right + down]
            .map(|place| usize::try_from(place).unwrap_or(usize::MAX))
    }

    /// The light of all pixels, in the order in which they are stored.
    pub fn all_light(&self) -> impl Iterator<Item = f32> {
        let [width_px, height_px] = self.layout.stored_px;
        (0..height_px).flat_map(move |row| {
            let mut light = vec![0.0; width_px];
            self.row_light(row, &mut light);
            light
        })
    }

    /// The light that comes after so many of all pixels in the order of their light: by counting, without a copy of them. The last
    /// for more than there are.
    pub fn light_ranked(&self, place: usize) -> f32 {
        const HALF: u32 = 16;
        // The bits of floats that are not negative are in the order of their values.
        let bits = || self.all_light().map(|light| light.max(0.0).to_bits());
        let rank = |bits: &mut dyn Iterator<Item = u32>, place: usize| {
            let mut counts = vec![0_usize; 1 << HALF];
            for bits in bits {
                counts[bits as usize] += 1;
            }
            let (mut found, mut before) = (0, 0);
            let mut below = 0;
            for (n, &count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
                (found, before) = (n as u32, below);
                below += count;
                if below > place {
                    break;
                }
            }
            (found, place - before)
        };
        let (upper, left) = rank(&mut bits().map(|bits| bits >> HALF), place);
        let lower = bits().filter(|bits| bits >> HALF == upper).map(|bits| bits & 0xFFFF);
        let (lower, _) = rank(&mut { lower }, left);
        f32::from_bits(upper << HALF | lower)
    }

    /// How many pixels are clipped.
    pub fn clipped_count(&self) -> usize {
        let [width_px, height_px] = self.layout.stored_px;
        (0..width_px * height_px)
            .filter(|&place| self.highest(place) >= CLIPPED_CODE)
            .count()
    }

    /// Light as the file states it of the pixel at a place among those stored.
    fn nominal(&self, place: usize) -> f32 {
        match &*self.store {
            Store::Planes(planes) => self.stored_codes(planes, place).map(|codes| TABLES.light(codes)),
            Store::Colour(codes) => codes.as_chunks().0.get(place).map(|&codes| TABLES.light(codes)),
            Store::Grey(codes) => codes.get(place).map(|&code| TABLES.light([code; 3])),
            Store::Wide(codes) => codes.as_chunks().0.get(place).map(|&codes| wide_light(&WIDE, codes)),
            Store::Light(values, _) => values.get(place).copied(),
        }
        .unwrap_or(f32::NAN)
    }

    fn highest(&self, place: usize) -> u8 {
        match &*self.store {
            Store::Planes(planes) => self.stored_codes(planes, place).map(|[r, g, b]| r.max(g).max(b)),
            Store::Colour(codes) => codes.as_chunks().0.get(place).map(|&[r, g, b]| r.max(g).max(b)),
            Store::Grey(codes) => codes.get(place).copied(),
            Store::Wide(codes) => codes.as_chunks().0.get(place).map(|&codes| highest_of_wide(codes)),
            Store::Light(_, clipped) => clipped.get(place).map(|&clipped| if clipped { u8::MAX } else { 0 }),
        }
        .unwrap_or(0)
    }

    fn stored_codes(&self, planes: &Planes, place: usize) -> Option<[u8; 3]> {
        let width_px = self.layout.stored_px[0].max(1);
        planes.codes(place % width_px, place / width_px)
    }

    /// Writes the light of a stored row to `light`.
    fn row_light(&self, row: usize, light: &mut [f32]) {
        let start = row * self.layout.stored_px[0];
        match &*self.store {
            Store::Planes(planes) => each_of_row(planes, row, 0, light, |codes| self.bend(TABLES.light(codes))),
            _ => {
                for (n, light) in light.iter_mut().enumerate() {
                    *light = self.bend(self.nominal(start + n));
                }
            }
        }
    }

    fn bend(&self, nominal: f32) -> f32 {
        self.bent.as_ref().map_or(nominal, |bent| bent.light(nominal))
    }

    /// Means of light, with what is clipped taken for full scale: of blocks of `inner` × `inner` px, and of those over `outer` ×
    /// `outer` blocks. A remainder at the right and bottom is left out. Of planes the brightness stands for the light, and its mean over an
    /// inner block for that of all pixels in it: near enough to find something.
    pub fn block_means(&self, inner: usize, outer: usize) -> Luminance {
        let ([width_px, height_px], values) = self.block_means_as(inner, outer, |light| light);
        Luminance {
            width_px,
            height_px,
            values,
        }
    }

    /// As [`Pixels::block_means`], what `of` makes of each mean: width and height, and row by row.
    pub fn block_means_as<T: Copy + Default + Send>(
        &self,
        inner: usize,
        outer: usize,
        of: impl Fn(f32) -> T + Sync,
    ) -> ([usize; 2], Vec<T>) {
        let [columns, rows] = self.layout.stored_px.map(|side_px| side_px / inner / outer);
        let used = [columns, rows].map(|count| count * inner * outer);
        let [left, top] = [0, 1].map(|axis| {
            let rest = self.layout.stored_px[axis] - used[axis];
            if self.layout.runs_back[axis] { rest } else { 0 }
        });
        if let Store::Planes(planes) = &*self.store {
            let light = LumaLight::new(inner, |code| {
                let light = linear_from_srgb(code / 255.0) as f32;
                if code >= f64::from(CLIPPED_CODE) {
                    1.0
                } else {
                    self.bend(light)
                }
            });
            let values = light.means(&planes.luma, [left, top], [columns, rows], outer, of);
            return self.upright(values, [columns, rows]);
        }
        let mut values = Vec::with_capacity(columns * rows);
        let mut light = vec![0.0_f32; used[0]];
        let mut inner_sums = vec![0.0_f32; used[0]];
        let mut outer_sums = vec![0.0_f32; columns * outer];
        let [inner_share, outer_share] = [inner, outer].map(|side| 1.0 / (side * side) as f32);
        for row in 0..rows {
            outer_sums.fill(0.0);
            for strip in 0..outer {
                inner_sums.fill(0.0);
                let from = top + (row * outer + strip) * inner;
                for stored_row in from..from + inner {
                    self.row(stored_row, left..left + used[0], 1.0, &mut light);
                    for (sum, value) in inner_sums.iter_mut().zip(&light) {
                        *sum += value;
                    }
                }
                for (sum, block) in outer_sums.iter_mut().zip(inner_sums.chunks_exact(inner)) {
                    *sum += inner_share * block.iter().sum::<f32>();
                }
            }
            values.extend(
                outer_sums
                    .chunks_exact(outer)
                    .map(|block| of(outer_share * block.iter().sum::<f32>())),
            );
        }
        self.upright(values, [columns, rows])
    }

    /// Light of a part of the upright picture, with what is clipped taken for `clipped`. Empty unless all of it is in the photo.
    pub fn part(&self, columns: Range<usize>, rows: Range<usize>, clipped: f32) -> Luminance {
        let [width_px, height_px] = self.size_px();
        if columns.is_empty() || rows.is_empty() || columns.end > width_px || rows.end > height_px {
            return Luminance {
                width_px: 0,
                height_px: 0,
                values: Vec::new(),
            };
        }
        let [a, b] = self.layout.stored(columns.start, rows.start);
        let [c, d] = self.layout.stored(columns.end - 1, rows.end - 1);
        let (from, to) = ([a.min(c), b.min(d)], [a.max(c), b.max(d)]);
        let [across, down] = [0, 1].map(|axis| to[axis] + 1 - from[axis]);
        let mut values = vec![0.0; across * down];
        for (row, values) in values.chunks_exact_mut(across).enumerate() {
            self.row(from[1] + row, from[0]..to[0] + 1, clipped, values);
        }
        let ([width_px, height_px], values) = self.upright(values, [across, down]);
        Luminance {
            width_px,
            height_px,
            values,
        }
    }

    /// Turns a part or a reduced picture of the stored pixels upright: width and height, and row by row.
    fn upright<T: Copy>(&self, values: Vec<T>, reduced_px: [usize; 2]) -> ([usize; 2], Vec<T>) {
        let [backwards, upside_down] = self.layout.runs_back;
        let is_turned = self.layout.is_turned;
        let [columns, rows] = reduced_px;
        let [width_px, height_px] = if is_turned { [rows, columns] } else { [columns, rows] };
        if !(backwards || upside_down || is_turned) {
            return ([width_px, height_px], values);
        }
        let from_end = |at: usize, count: usize, is_so: bool| if is_so { count - 1 - at } else { at };
        let stored = |x: usize, y: usize| {
            let [column, row] = if is_turned { [y, x] } else { [x, y] };
            values[from_end(row, rows, upside_down) * columns + from_end(column, columns, backwards)]
        };
        let turned = (0..width_px * height_px).map(|n| stored(n % width_px, n / width_px));
        ([width_px, height_px], turned.collect())
    }

    /// Writes the light of a stored row, with what is clipped taken for `clipped`, to `light`.
    fn row(&self, row: usize, columns: Range<usize>, clipped: f32, light: &mut [f32]) {
        let start = row * self.layout.stored_px[0];
        let places = start + columns.start..start + columns.end;
        let told = |marked: f32| if marked >= CLIPPED_MARK { clipped } else { marked };
        match (&*self.store, &self.bent) {
            (Store::Planes(planes), _) => each_of_row(planes, row, columns.start, light, |codes| {
                let marked = MARKED.light(codes);
                if marked >= CLIPPED_MARK {
                    clipped
                } else {
                    self.bend(marked)
                }
            }),
            (Store::Colour(codes), None) => {
                let (tables, codes) = (&*MARKED, codes.as_chunks().0.get(places).unwrap_or_default());
                for (light, &codes) in light.iter_mut().zip(codes) {
                    *light = told(tables.light(codes));
                }
            }
            _ => {
                for (light, place) in light.iter_mut().zip(places) {
                    *light = if self.highest(place) >= CLIPPED_CODE {
                        clipped
                    } else {
                        self.bend(self.nominal(place))
                    };
                }
            }
        }
    }
}

/// Writes what `light` makes of the codes of a stored row from a column on.
fn each_of_row(planes: &Planes, row: usize, from: usize, into: &mut [f32], light: impl Fn([u8; 3]) -> f32) {
    const PART: usize = 256;
    let mut codes = [[0; 3]; PART];
    for (n, part) in into.chunks_mut(PART).enumerate() {
        let codes = &mut codes[..part.len()];
        let from = from + n * PART;
        match planes.row(row, from..from + part.len(), codes) {
            Some(()) => part.iter_mut().zip(codes).for_each(|(to, codes)| *to = light(*codes)),
            None => part.fill(f32::NAN),
        }
    }
}

/// Light and highest code of four pixels.
fn of_four_codes(codes: [[u8; 3]; 4]) -> ([f32; 4], u8) {
    let tables = &*TABLES;
    let highest = codes.as_flattened().iter().copied().max().unwrap_or(0);
    (codes.map(|codes| tables.light(codes)), highest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::Response;
    use image::{GrayImage, ImageBuffer, Rgb, RgbImage};
    use rand::{RngExt, SeedableRng};

    /// The plain way: the picture turned, and the light of every pixel written out, with what is clipped.
    fn plain(picture: &DynamicImage, orientation: Orientation) -> (Vec<f32>, Vec<u8>) {
        let mut picture = picture.clone();
        picture.apply_orientation(orientation);
        let wide = |code: u16| linear_from_srgb(f64::from(code) / 65535.0) as f32;
        let [of_red, of_green, of_blue] = LUMINANCE_WEIGHTS;
        let linear = linear_of_codes();
        if picture.color().bytes_per_pixel() / picture.color().channel_count() == 1 {
            let light = |&Rgb([r, g, b]): &Rgb<u8>| {
                let [r, g, b] = [r, g, b].map(|code| linear[usize::from(code)]);
                of_red * r + of_green * g + of_blue * b
            };
            let picture = picture.into_rgb8();
            let highest = |pixel: &Rgb<u8>| pixel.0.into_iter().max().unwrap();
            (
                picture.pixels().map(light).collect(),
                picture.pixels().map(highest).collect(),
            )
        } else {
            let light = |&Rgb([r, g, b]): &Rgb<u16>| of_red * wide(r) + of_green * wide(g) + of_blue * wide(b);
            let picture = picture.into_rgb16();
            let highest = |pixel: &Rgb<u16>| (pixel.0.into_iter().max().unwrap() >> 8) as u8;
            (
                picture.pixels().map(light).collect(),
                picture.pixels().map(highest).collect(),
            )
        }
    }

    const ALL: [Orientation; 8] = [
        Orientation::NoTransforms,
        Orientation::FlipHorizontal,
        Orientation::Rotate180,
        Orientation::FlipVertical,
        Orientation::Rotate90FlipH,
        Orientation::Rotate90,
        Orientation::Rotate270FlipH,
        Orientation::Rotate270,
    ];

    fn pictures() -> Vec<DynamicImage> {
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(7);
        let (width, height) = (47, 32);
        let mut byte = |_: u32, _: u32| rng.random::<u8>();
        let colour = RgbImage::from_fn(width, height, |x, y| Rgb([byte(x, y), byte(x, y), byte(x, y)]));
        let wide = ImageBuffer::from_fn(width, height, |x, y| {
            Rgb([0, 1, 2].map(|n| (257 * u16::from(byte(x, y))) ^ n))
        });
        let grey = GrayImage::from_fn(width, height, |x, y| image::Luma([byte(x, y)]));
        let veiled = DynamicImage::ImageRgba8(DynamicImage::from(colour.clone()).into_rgba8());
        vec![colour.into(), grey.into(), DynamicImage::ImageRgb16(wide), veiled]
    }

    /// A JPEG with chroma at each pixel, and one of a camera with less of it.
    fn jpegs() -> Vec<Vec<u8>> {
        let mut full = std::io::Cursor::new(Vec::new());
        let colours = RgbImage::from_fn(61, 45, |x, y| Rgb([(4 * x) as u8, (5 * y) as u8, (255 - 3 * x) as u8]));
        DynamicImage::from(colours)
            .write_to(&mut full, image::ImageFormat::Jpeg)
            .unwrap();
        vec![full.into_inner(), include_bytes!("../../tests/jpeg/s2x2.jpg").to_vec()]
    }

    /// As of the picture that a library decodes, to the last bit, and the means as those of brightness alone.
    #[test]
    fn pixels_of_planes_are_those_of_the_picture() {
        for (jpeg, orientation) in jpegs().iter().flat_map(|jpeg| ALL.map(|o| (jpeg, o))) {
            let picture = image::load_from_memory(jpeg).unwrap();
            let planes = super::super::planes::decode(jpeg, 1 << 20).unwrap();
            let pixels = Pixels::of_planes(planes, orientation);
            let plain = Pixels::of_picture(picture, orientation);
            let [width_px, height_px] = plain.size_px();
            assert_eq!(pixels.size_px(), [width_px, height_px]);
            let response = Response::new([0.2; crate::photo::KNOTS], Vec::new(), true);
            let bent = plain.clone().bent_by(response.as_laid_on().unwrap());
            let with_bent = pixels.clone().bent_by(response.as_laid_on().unwrap());
            for (x, y) in (0..height_px).flat_map(|y| (0..width_px).map(move |x| (x, y))) {
                assert_eq!(pixels.light(x, y), plain.light(x, y), "{orientation:?} {x} {y}");
                assert_eq!(pixels.highest_code(x, y), plain.highest_code(x, y));
                let between = [x as f64 + 0.3, y as f64 + 0.8];
                let seen = plain.seen_at(between[0], between[1]);
                assert_eq!(pixels.seen_at(between[0], between[1]), seen);
                let told = |(light, highest): (f64, u8)| (light, highest >= CLIPPED_CODE);
                for sampled in [&pixels, &plain] {
                    assert_eq!(sampled.sampler().seen_at(between[0], between[1]), seen.map(told));
                }
                let seen = bent.seen_at(between[0], between[1]).map(told);
                assert_eq!(with_bent.sampler().seen_at(between[0], between[1]), seen);
            }
            assert!(pixels.all_light().eq(plain.all_light()), "{orientation:?}");
            assert_eq!(pixels.clipped_count(), plain.clipped_count());
            for pixels in [&pixels, &plain] {
                let part = pixels.part(3..width_px - 2, 5..height_px, 7.0);
                let expected = (5..height_px).flat_map(|y| (3..width_px - 2).map(move |x| (x, y)));
                let expected = expected.map(|(x, y)| {
                    if pixels.is_clipped(x, y) {
                        7.0
                    } else {
                        pixels.light(x, y)
                    }
                });
                assert!(part.width_px == width_px - 5 && part.values.iter().copied().eq(expected));
                assert!(pixels.part(0..width_px + 1, 0..1, 0.0).values.is_empty());
            }
        }
    }

    /// Of the planes' own brightness, block by block.
    #[test]
    fn block_means_of_planes_are_of_their_brightness() {
        for (jpeg, orientation) in jpegs().iter().flat_map(|jpeg| ALL.map(|o| (jpeg, o))) {
            let planes = super::super::planes::decode(jpeg, 1 << 20).unwrap();
            let [width, height] = planes.size_px;
            let luma = |x: usize, y: usize| planes.luma.samples[y * planes.luma.stride + x];
            let luma = GrayImage::from_fn(width as u32, height as u32, |x, y| {
                image::Luma([luma(x as usize, y as usize)])
            });
            let mut luma = DynamicImage::from(luma);
            luma.apply_orientation(orientation);
            let luma = luma.into_luma8();
            let pixels = Pixels::of_planes(planes, orientation);
            for (inner, outer) in [(1, 1), (2, 3), (3, 2), (1, 5), (4, 1), (4, 2)] {
                let means = pixels.block_means(inner, outer);
                let light = |left: usize, top: usize| {
                    let block = (0..inner * inner).map(|n| (left + n % inner, top + n / inner));
                    let code = block
                        .map(|(x, y)| f64::from(luma[(x as u32, y as u32)][0]))
                        .sum::<f64>();
                    let code = code / (inner * inner) as f64;
                    if code >= f64::from(CLIPPED_CODE) {
                        1.0
                    } else {
                        linear_from_srgb(code / 255.0)
                    }
                };
                for (n, mean) in means.values.iter().enumerate() {
                    let at = [n % means.width_px, n / means.width_px].map(|at| at * inner * outer);
                    let blocks =
                        (0..outer * outer).map(|n| light(at[0] + n % outer * inner, at[1] + n / outer * inner));
                    let expected = blocks.sum::<f64>() / (outer * outer) as f64;
                    assert!((f64::from(*mean) - expected).abs() < 1e-6, "{orientation:?} {n}");
                }
            }
        }
    }

    /// To the last bit, in all orientations and for all kinds of files.
    #[test]
    fn each_pixel_is_that_of_the_turned_picture() {
        for (picture, orientation) in pictures().iter().flat_map(|p| ALL.map(|o| (p, o))) {
            let pixels = Pixels::of_picture(picture.clone(), orientation);
            let (light, highest) = plain(picture, orientation);
            let [width_px, height_px] = pixels.size_px();
            assert_eq!(width_px * height_px, light.len());
            for (n, (light, highest)) in light.iter().zip(&highest).enumerate() {
                let (x, y) = (n % width_px, n / width_px);
                assert_eq!(pixels.light(x, y).to_bits(), light.to_bits(), "{orientation:?} {x} {y}");
                assert_eq!(pixels.highest_code(x, y), *highest);
                let capped = if *highest >= CLIPPED_CODE { 1.0 } else { *light };
                assert_eq!(pixels.capped(x, y), capped);
            }
            assert!(pixels.light(width_px, 0).is_nan() && pixels.light(0, height_px).is_nan());
            let clipped = highest.iter().filter(|&&code| code >= CLIPPED_CODE).count();
            assert_eq!(pixels.clipped_count(), clipped);
            let mut sorted = light.clone();
            sorted.sort_by(f32::total_cmp);
            for place in [0, 1, 700, sorted.len() - 1] {
                assert_eq!(pixels.light_ranked(place), sorted[place]);
            }
        }
    }

    /// Of whole blocks from the top left, pixel by pixel.
    #[test]
    fn block_means_are_those_of_the_turned_picture() {
        let response = Response::new([0.2; crate::photo::KNOTS], Vec::new(), true);
        for (picture, orientation) in pictures().iter().flat_map(|p| ALL.map(|o| (p, o))) {
            let plain = Pixels::of_picture(picture.clone(), orientation);
            for (inner, outer, is_bent) in [(1, 1, false), (2, 3, false), (3, 2, true), (1, 5, false)] {
                let pixels = if is_bent {
                    plain.clone().bent_by(response.as_laid_on().unwrap())
                } else {
                    plain.clone()
                };
                let means = pixels.block_means(inner, outer);
                let side = inner * outer;
                assert_eq!(
                    [means.width_px, means.height_px],
                    pixels.size_px().map(|side_px| side_px / side)
                );
                for (n, mean) in means.values.iter().enumerate() {
                    let (left, top) = (n % means.width_px * side, n / means.width_px * side);
                    let block = (0..side * side).map(|i| f64::from(pixels.capped(left + i % side, top + i / side)));
                    let expected = block.sum::<f64>() / (side * side) as f64;
                    assert!((f64::from(*mean) - expected).abs() < 1e-6, "{orientation:?} {n}");
                }
            }
        }
    }

    #[test]
    fn light_is_not_read_where_its_pixels_are_not_as_many() {
        let picture = |width_px, height_px, count: usize| {
            let luminance = Luminance {
                width_px,
                height_px,
                values: vec![0.5; count],
            };
            Pixels::of_light(luminance, vec![false; count])
        };
        assert!(picture(3, 4, 12).is_some() && picture(3, 4, 11).is_none() && picture(usize::MAX, 2, 6).is_none());
    }
}
