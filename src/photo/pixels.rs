//! A photo's pixels as its file holds them: codes, which become light where they are asked for. A photo of 12 megapixels takes
//! 36 MB so, and nothing else of it is as large.

use super::bent::Bent;
use super::srgb::{LUMINANCE_WEIGHTS, linear_from_srgb, linear_of_codes};
use super::{CLIPPED_CODE, Luminance};
use image::metadata::Orientation;
use image::{ColorType, DynamicImage};
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
        Self {
            stored_px: [width_px, height_px],
            is_turned,
            first,
            right,
            down,
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

    /// Whether the upright picture runs against the stored one: along stored rows, and along stored columns.
    fn runs_back(&self) -> [bool; 2] {
        let (right, down) = (self.right < 0, self.down < 0);
        if self.is_turned { [down, right] } else { [right, down] }
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
    pub fn is_clipped(&self, x: usize, y: usize) -> bool {
        self.highest_code(x, y) >= CLIPPED_CODE
    }

    /// Light of a pixel with what is clipped taken for full scale: where one colour is clipped, the light is unknown. NaN outside.
    pub fn capped(&self, x: usize, y: usize) -> f32 {
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
        let (right, down) = (self.layout.right, self.layout.down);
        let first = self.layout.first + x as isize * right + y as isize * down;
        let four = [first, first + right, first + down, first + right + down]
            .map(|place| usize::try_from(place).unwrap_or(usize::MAX));
        let (nominal, highest) = match &*self.store {
            Store::Colour(codes) => {
                let (codes, tables) = (codes.as_chunks::<3>().0, &*TABLES);
                let codes = four.map(|place| codes.get(place).copied());
                let [Some(a), Some(b), Some(c), Some(d)] = codes else {
                    return None;
                };
                let of_all = [a, b, c, d];
                let highest = of_all.as_flattened().iter().copied().max().unwrap_or(0);
                (of_all.map(|codes| tables.light(codes)), highest)
            }
            _ => {
                let highest = four.map(|place| self.highest(place)).into_iter().max().unwrap_or(0);
                (four.map(|place| self.nominal(place)), highest)
            }
        };
        let [top_left, top_right, bottom_left, bottom_right] = nominal.map(|nominal| f64::from(self.bend(nominal)));
        let top = top_left * (1.0 - fx) + top_right * fx;
        let bottom = bottom_left * (1.0 - fx) + bottom_right * fx;
        Some((top * (1.0 - fy) + bottom * fy, highest))
    }

    /// The light of all pixels, in the order in which they are stored.
    pub fn all_light(&self) -> impl Iterator<Item = f32> {
        let [width_px, height_px] = self.layout.stored_px;
        (0..width_px * height_px).map(|place| self.bend(self.nominal(place)))
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
            Store::Colour(codes) => codes.as_chunks().0.get(place).map(|&codes| TABLES.light(codes)),
            Store::Grey(codes) => codes.get(place).map(|&code| TABLES.light([code; 3])),
            Store::Wide(codes) => codes.as_chunks().0.get(place).map(|&codes| wide_light(&WIDE, codes)),
            Store::Light(values, _) => values.get(place).copied(),
        }
        .unwrap_or(f32::NAN)
    }

    fn highest(&self, place: usize) -> u8 {
        match &*self.store {
            Store::Colour(codes) => codes.as_chunks().0.get(place).map(|&[r, g, b]| r.max(g).max(b)),
            Store::Grey(codes) => codes.get(place).copied(),
            Store::Wide(codes) => codes.as_chunks().0.get(place).map(|&codes| highest_of_wide(codes)),
            Store::Light(_, clipped) => clipped.get(place).map(|&clipped| if clipped { u8::MAX } else { 0 }),
        }
        .unwrap_or(0)
    }

    fn bend(&self, nominal: f32) -> f32 {
        self.bent.as_ref().map_or(nominal, |bent| bent.light(nominal))
    }

    /// Means of light, with what is clipped taken for full scale: of blocks of `inner` × `inner` px, and of those over `outer` ×
    /// `outer` blocks. A remainder at the right and bottom is left out.
    pub fn block_means(&self, inner: usize, outer: usize) -> Luminance {
        let [columns, rows] = self.layout.stored_px.map(|side_px| side_px / inner / outer);
        let used = [columns, rows].map(|count| count * inner * outer);
        let [left, top] = [0, 1].map(|axis| {
            let rest = self.layout.stored_px[axis] - used[axis];
            if self.layout.runs_back()[axis] { rest } else { 0 }
        });
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
                    self.capped_row(stored_row, left..left + used[0], &mut light);
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
                    .map(|block| outer_share * block.iter().sum::<f32>()),
            );
        }
        self.upright(values, [columns, rows])
    }

    /// Turns a reduced picture of the stored pixels upright.
    fn upright(&self, values: Vec<f32>, reduced_px: [usize; 2]) -> Luminance {
        let [backwards, upside_down] = self.layout.runs_back();
        let is_turned = self.layout.is_turned;
        let [columns, rows] = reduced_px;
        let [width_px, height_px] = if is_turned { [rows, columns] } else { [columns, rows] };
        if !(backwards || upside_down || is_turned) {
            return Luminance {
                width_px,
                height_px,
                values,
            };
        }
        let from_end = |at: usize, count: usize, is_so: bool| if is_so { count - 1 - at } else { at };
        let stored = |x: usize, y: usize| {
            let [column, row] = if is_turned { [y, x] } else { [x, y] };
            values[from_end(row, rows, upside_down) * columns + from_end(column, columns, backwards)]
        };
        Luminance {
            width_px,
            height_px,
            values: (0..width_px * height_px)
                .map(|n| stored(n % width_px, n / width_px))
                .collect(),
        }
    }

    /// Writes the light of a stored row, with what is clipped taken for full scale, to `light`.
    fn capped_row(&self, row: usize, columns: Range<usize>, light: &mut [f32]) {
        let start = row * self.layout.stored_px[0];
        let places = start + columns.start..start + columns.end;
        let capped = |marked: f32| if marked >= CLIPPED_MARK { 1.0 } else { marked };
        match (&*self.store, &self.bent) {
            (Store::Colour(codes), None) => {
                let (tables, codes) = (&*MARKED, codes.as_chunks().0.get(places).unwrap_or_default());
                for (light, &codes) in light.iter_mut().zip(codes) {
                    *light = capped(tables.light(codes));
                }
            }
            _ => {
                for (light, place) in light.iter_mut().zip(places) {
                    *light = if self.highest(place) >= CLIPPED_CODE {
                        1.0
                    } else {
                        self.bend(self.nominal(place))
                    };
                }
            }
        }
    }
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
