//! Colour of pixels from planes: chroma between samples is mixed 3 to 1 with the next one, down and then across, rounded each time
//! (the common "triangle" rule); then Y, Cb and Cr become red, green and blue (ITU-T T.871, 7) with integers of 14 bits.

use super::{Plane, Planes};
use std::ops::Range;

/// Constants of ITU-T T.871, 7, times 2^14, as common libraries round them.
const ONE: i32 = 1 << 14;
const RED_OF_CR: i32 = 22970;
const GREEN_OF_CR: i32 = -11700;
const GREEN_OF_CB: i32 = -5638;
const BLUE_OF_CB: i32 = 29032;
/// Just less than a half.
const ROUNDING: i32 = ONE / 2 - 1;

/// Red, green and blue codes. Chroma is 0 to 255.
#[inline(always)]
fn rgb(luma: u8, cb: i16, cr: i16) -> [u8; 3] {
    // Differences of 16 bits: then the processor's products of 16 bits do.
    let (cb, cr) = (i32::from(cb - 128), i32::from(cr - 128));
    let y = i32::from(luma) * ONE + ROUNDING;
    [
        y + cr * RED_OF_CR,
        y + cr * GREEN_OF_CR + cb * GREEN_OF_CB,
        y + cb * BLUE_OF_CB,
    ]
    .map(|sum| ((sum >> 14) as i16).clamp(0, 255) as u8)
}

/// As [`rgb`] for four pixels at once; a fourth byte of each is of no use.
#[cfg(not(target_arch = "x86_64"))]
fn rgb_of_four(luma: [u8; 4], cb: [i16; 4], cr: [i16; 4]) -> [[u8; 4]; 4] {
    std::array::from_fn(|k| {
        let [red, green, blue] = rgb(luma[k], cb[k], cr[k]);
        [red, green, blue, 0]
    })
}

/// As [`rgb`] for four pixels at once; a fourth byte of each is of no use.
#[cfg(target_arch = "x86_64")]
#[inline(always)]
fn rgb_of_four(luma: [u8; 4], cb: [i16; 4], cr: [i16; 4]) -> [[u8; 4]; 4] {
    use safe_arch::{
        add_i32_m128i, m128i, mul_i16_horizontal_add_m128i, pack_i16_to_u8_m128i, pack_i32_to_i16_m128i,
        set_splat_i16_m128i, set_splat_i32_m128i, shr_imm_i32_m128i, sub_i16_m128i, unpack_high_i64_m128i,
        unpack_low_i8_m128i, unpack_low_i16_m128i,
    };
    let four = |of: [i16; 4]| m128i::from([of[0], of[1], of[2], of[3], 0, 0, 0, 0]);
    let [a, b, c, d] = luma;
    let from_middle = |of: [i16; 4]| sub_i16_m128i(four(of), set_splat_i16_m128i(128));
    let (y, cb, cr) = (
        four([i16::from(a), i16::from(b), i16::from(c), i16::from(d)]),
        from_middle(cb),
        from_middle(cr),
    );
    let sum = |a: m128i, of_a: i32, b: m128i, of_b: i32| {
        let by = set_splat_i32_m128i((of_b << 16) | (of_a & 0xFFFF));
        mul_i16_horizontal_add_m128i(unpack_low_i16_m128i(a, b), by)
    };
    let code = |sum: m128i| shr_imm_i32_m128i::<14>(add_i32_m128i(sum, set_splat_i32_m128i(ROUNDING)));
    let red = code(sum(y, ONE, cr, RED_OF_CR));
    let green = code(add_i32_m128i(sum(y, ONE, y, 0), sum(cb, GREEN_OF_CB, cr, GREEN_OF_CR)));
    let blue = code(sum(y, ONE, cb, BLUE_OF_CB));
    let (red_blue, green) = (pack_i32_to_i16_m128i(red, blue), pack_i32_to_i16_m128i(green, green));
    let all = pack_i16_to_u8_m128i(red_blue, green);
    // Red and green in turn, then blue and green; then both in turn.
    let pairs = unpack_low_i8_m128i(all, unpack_high_i64_m128i(all, all));
    let codes = <[u8; 16]>::from(unpack_low_i16_m128i(pairs, unpack_high_i64_m128i(pairs, pairs)));
    let [a, b, c, d] = codes.as_chunks::<4>().0 else {
        return [[0; 4]; 4];
    };
    [*a, *b, *c, *d]
}

/// The sample that `at` lies at, and the next one on its other side, or the same where there is none before; behind the last
/// one there may be none either. `step` pixels are one sample.
#[inline(always)]
fn near_and_far(at: usize, step: usize) -> [usize; 2] {
    if step == 1 {
        return [at, at];
    }
    let near = at / 2;
    // By evenness, without a branch that no processor could foresee.
    [near, (near + at % 2 * 2).saturating_sub(1)]
}

/// Three parts of the near one and one of the far one.
#[inline(always)]
fn mixed(near: i16, far: i16) -> i16 {
    (3 * near + far + 2) >> 2
}

impl Plane {
    /// The value at a pixel, mixed. None where there is none.
    #[inline(always)]
    fn mixed_at(&self, x: usize, y: usize, [across, down]: [usize; 2]) -> Option<i16> {
        let [a, b] = near_and_far(x, across);
        let b = b.min(self.stride - 1);
        let [near, far] = self.mixed_rows(y, down)?;
        let down = |column: usize| Some(mixed(i16::from(*near.get(column)?), i16::from(*far.get(column)?)));
        Some(mixed(down(a)?, down(b)?))
    }

    /// The rows that make up that of the pixels in row `y`: the near one and the far one.
    #[inline(always)]
    fn mixed_rows(&self, y: usize, down: usize) -> Option<[&[u8]; 2]> {
        let [near, far] = near_and_far(y, down);
        let row = |row: usize| self.samples.get(row * self.stride..(row + 1) * self.stride);
        let near = row(near)?;
        Some([near, row(far).unwrap_or(near)])
    }
}

impl Planes {
    /// Red, green and blue codes of a pixel, from the top left as stored. None outside.
    pub(crate) fn codes(&self, x: usize, y: usize) -> Option<[u8; 3]> {
        if x >= self.size_px[0] || y >= self.size_px[1] {
            return None;
        }
        let luma = *self.luma.samples.get(y * self.luma.stride + x)?;
        let Some([cb, cr]) = &self.chroma else {
            return Some([luma; 3]);
        };
        Some(rgb(
            luma,
            cb.mixed_at(x, y, self.sampling)?,
            cr.mixed_at(x, y, self.sampling)?,
        ))
    }

    /// The planes for who asks for many places one by one.
    pub(crate) fn borrowed(&self) -> Borrowed<'_> {
        Borrowed {
            planes: self,
            luma: &self.luma.samples,
            chroma: self.chroma.as_ref().map(|[blue, red]| [&*blue.samples, &*red.samples]),
            chroma_stride: self.chroma.as_ref().map_or(0, |[blue, _]| blue.stride),
        }
    }

    /// As [`Planes::codes`] of part of a row, into `out`. None unless all are inside, and `out` is as long as `columns`.
    pub(crate) fn row(&self, y: usize, columns: Range<usize>, out: &mut [[u8; 3]]) -> Option<()> {
        let [width, height] = self.size_px;
        if y >= height || columns.end > width || columns.len() != out.len() {
            return None;
        }
        let stride = self.luma.stride;
        let luma = self.luma.samples.get(y * stride..(y + 1) * stride)?;
        let Some(chroma) = &self.chroma else {
            for (to, luma) in out.iter_mut().zip(luma.get(columns)?) {
                *to = [*luma; 3];
            }
            return Some(());
        };
        let rows = [
            chroma[0].mixed_rows(y, self.sampling[1])?,
            chroma[1].mixed_rows(y, self.sampling[1])?,
        ];
        // Runs begin at even pixels, so that they begin with a sample of chroma.
        let mut first = columns.start & !1;
        let mut skipped = columns.start - first;
        let mut out = out.as_flattened_mut();
        while !out.is_empty() {
            if skipped == 0
                && let Some(to) = out.first_chunk_mut()
            {
                self.run(luma, &rows, first, to);
            } else {
                let mut codes = [0; RUN * 3 + 1];
                self.run(luma, &rows, first, &mut codes);
                let codes = codes.get(skipped * 3..RUN * 3)?;
                let count = codes.len().min(out.len());
                out.get_mut(..count)?.copy_from_slice(codes.get(..count)?);
            }
            out = out.get_mut((RUN - skipped) * 3..).unwrap_or_default();
            first += RUN;
            skipped = 0;
        }
        Some(())
    }

    /// Codes of [`RUN`] pixels of a row from `x` on, which is even, and one more byte; what is behind the row is of no use.
    #[inline(always)]
    fn run(&self, luma: &[u8], rows: &[[&[u8]; 2]; 2], x: usize, codes: &mut [u8; RUN * 3 + 1]) {
        let luma: [u8; RUN] = part(luma, x);
        let [blue, red] = rows;
        let (cb, cr) = (
            chroma_run(*blue, x, self.sampling[0]),
            chroma_run(*red, x, self.sampling[0]),
        );
        // Four bytes are written at once, of which the next pixel takes the last.
        for at in (0..RUN).step_by(4) {
            let four = |of: &[i16; RUN]| [of[at], of[at + 1], of[at + 2], of[at + 3]];
            let luma = [luma[at], luma[at + 1], luma[at + 2], luma[at + 3]];
            for (k, code) in rgb_of_four(luma, four(&cb), four(&cr)).iter().enumerate() {
                codes[(at + k) * 3..(at + k) * 3 + 4].copy_from_slice(code);
            }
        }
    }
}

/// Planes with their samples at hand.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Borrowed<'a> {
    planes: &'a Planes,
    luma: &'a [u8],
    chroma: Option<[&'a [u8]; 2]>,
    chroma_stride: usize,
}

impl Borrowed<'_> {
    /// As [`Planes::codes`] of the pixels (x, y), (x + 1, y), (x, y + 1) and (x + 1, y + 1), in that order. None unless all are
    /// inside.
    ///
    /// A fourth byte of each is of no use.
    #[inline(always)]
    pub(crate) fn four(&self, x: usize, y: usize) -> Option<[[u8; 4]; 4]> {
        let [width, height] = self.planes.size_px;
        if x.saturating_add(1) >= width || y.saturating_add(1) >= height {
            return None;
        }
        let stride = self.planes.luma.stride;
        let at = y * stride + x;
        let (Some(&[a, b]), Some(&[c, d])) = (self.luma.get(at..at + 2), self.luma.get(at + stride..at + stride + 2))
        else {
            return None;
        };
        let Some([blue, red]) = self.chroma else {
            return Some([[a; 4], [b; 4], [c; 4], [d; 4]]);
        };
        let [step_across, step_down] = self.planes.sampling;
        let (Some((column, across)), Some((row, down))) = (taps(x, step_across), taps(y, step_down)) else {
            return self.four_at_edge(x, y);
        };
        let (Some(blue), Some(red)) = (self.square(blue, column, row), self.square(red, column, row)) else {
            return self.four_at_edge(x, y);
        };
        let both = |row: usize| blue[row] | (red[row] << (3 * FIELD));
        let square = [both(0), both(1), both(2)];
        let [cb, cr] = four_mixed(square, across, down);
        Some(rgb_of_four([a, b, c, d], cb, cr))
    }

    /// Three rows of the [`fields`] of three samples from a place on. None where that, and one sample more, is not all inside.
    #[inline(always)]
    fn square(&self, samples: &[u8], column: usize, row: usize) -> Option<[u64; 3]> {
        let stride = self.chroma_stride;
        if column + 3 > stride {
            return None;
        }
        let first = row * stride + column;
        let of_row = |at: usize| Some(fields(*samples.get(at..at + 4)?.first_chunk()?));
        Some([of_row(first)?, of_row(first + stride)?, of_row(first + 2 * stride)?])
    }

    /// [`Borrowed::four`] where chroma ends.
    #[cold]
    #[inline(never)]
    fn four_at_edge(&self, x: usize, y: usize) -> Option<[[u8; 4]; 4]> {
        let wide = |[red, green, blue]: [u8; 3]| [red, green, blue, 0];
        let of = |dx: usize, dy: usize| self.planes.codes(x + dx, y + dy).map(wide);
        Some([of(0, 0)?, of(1, 0)?, of(0, 1)?, of(1, 1)?])
    }
}

/// Pixels that [`Planes::row`] makes at once.
const RUN: usize = 32;

/// The part of a row from `at` on; behind its end, the last sample.
#[inline(always)]
fn part<const COUNT: usize>(row: &[u8], at: usize) -> [u8; COUNT] {
    row.get(at..)
        .and_then(|rest| rest.first_chunk())
        .copied()
        .unwrap_or_else(|| part_at_end(row, at))
}

/// [`part`] where the row ends.
#[cold]
#[inline(never)]
fn part_at_end<const COUNT: usize>(row: &[u8], at: usize) -> [u8; COUNT] {
    let mut all = [0; COUNT];
    for (k, to) in all.iter_mut().enumerate() {
        *to = row.get(at + k).or(row.last()).copied().unwrap_or_default();
    }
    all
}

/// Chroma at the pixels of a run that begins at the even pixel `x`, of the near row and the far one.
#[inline(always)]
fn chroma_run([near, far]: [&[u8]; 2], x: usize, across: usize) -> [i16; RUN] {
    let mut all = [0; RUN];
    if across == 1 {
        let (near, far): ([u8; RUN], [u8; RUN]) = (part(near, x), part(far, x));
        for (to, (near, far)) in all.iter_mut().zip(near.iter().zip(&far)) {
            *to = mixed(i16::from(*near), i16::from(*far));
        }
        return all;
    }
    // One sample more on either side.
    let (near, far) = (around(near, x / 2), around(far, x / 2));
    let mut down = [0; RUN / 2 + 2];
    for (to, (near, far)) in down.iter_mut().zip(near.iter().zip(&far)) {
        *to = mixed(i16::from(*near), i16::from(*far));
    }
    for k in 0..RUN / 2 {
        all[2 * k] = mixed(down[k + 1], down[k]);
        all[2 * k + 1] = mixed(down[k + 1], down[k + 2]);
    }
    all
}

/// The samples of a run from `at` on, and one more on either side; at the ends of the row, the last one again.
#[inline(always)]
fn around(row: &[u8], at: usize) -> [u8; RUN / 2 + 2] {
    if let Some(before) = at.checked_sub(1) {
        return part(row, before);
    }
    let rest: [u8; RUN / 2 + 1] = part(row, 0);
    let mut all = [rest[0]; RUN / 2 + 2];
    all[1..].copy_from_slice(&rest);
    all
}

/// What each of three samples counts in each of two pixels, in quarters.
type Taps = [[u64; 3]; 2];

/// Of the pixels `at` and `at + 1`, the first of three samples that make them up, and what these count. None where that would
/// be before the first sample.
#[inline(always)]
fn taps(at: usize, step: usize) -> Option<(usize, &'static Taps)> {
    // By evenness, looked up: pixels come in no order that a processor could foresee.
    const OF_TWO: [Taps; 2] = [[[1, 3, 0], [0, 3, 1]], [[3, 1, 0], [1, 3, 0]]];
    const OF_ONE: Taps = [[4, 0, 0], [0, 4, 0]];
    if step == 1 {
        Some((at, &OF_ONE))
    } else {
        Some((at.checked_sub(1)? / 2, &OF_TWO[at % 2]))
    }
}

/// Bits of a field that holds a sample, or four times one and a half more.
const FIELD: u32 = 10;

/// Three samples, the first lowest; a fourth counts for nothing.
#[inline(always)]
fn fields(samples: [u8; 4]) -> u64 {
    let all = u64::from(u32::from_le_bytes(samples));
    all & 0xFF | (all & 0xFF00) << (FIELD - 8) | (all & 0xFF_0000) << (2 * (FIELD - 8))
}

/// Of three rows of the [`fields`] of Cb and, above them, of Cr: Cb and then Cr at two by two pixels, row by row.
#[inline(always)]
fn four_mixed(square: [u64; 3], across: &Taps, down: &Taps) -> [[i16; 4]; 2] {
    const EACH: u64 =
        1 | (1 << FIELD) | (1 << (2 * FIELD)) | (1 << (3 * FIELD)) | (1 << (4 * FIELD)) | (1 << (5 * FIELD));
    let row = |[a, b, c]: [u64; 3]| ((a * square[0] + b * square[1] + c * square[2] + 2 * EACH) >> 2) & (0xFF * EACH);
    let (top, bottom) = (row(down[0]), row(down[1]));
    // Every third field of the product is the sum of the products of three fields; none is above four samples.
    let by = |[a, b, c]: [u64; 3]| (a << (2 * FIELD)) | (b << FIELD) | c;
    let (left, right) = (by(across[0]), by(across[1]));
    let at = |row: u64, by: u64| row.wrapping_mul(by).wrapping_add(2 * EACH);
    let (a, b, c, d) = (at(top, left), at(top, right), at(bottom, left), at(bottom, right));
    let of = |product: u64, field: u32| ((product >> (field * FIELD + 2)) & 0xFF) as i16;
    [
        [of(a, 2), of(b, 2), of(c, 2), of(d, 2)],
        [of(a, 5), of(b, 5), of(c, 5), of(d, 5)],
    ]
}

#[cfg(test)]
mod tests {
    use super::{rgb, rgb_of_four};

    #[test]
    fn four_pixels_at_once_are_as_one_by_one() {
        for cb in 0..=255 {
            for cr in 0..=255 {
                let luma = [0, (cb ^ cr) as u8, (cb + 2 * cr) as u8, 255];
                let (cbs, crs) = ([cb, cr, cb, 255 - cr], [cr, cb, 128, cr]);
                let all = rgb_of_four(luma, cbs, crs);
                for k in 0..4 {
                    assert_eq!(all[k][..3], rgb(luma[k], cbs[k], crs[k]), "{luma:?} {cbs:?} {crs:?}");
                }
            }
        }
    }

    #[test]
    fn white_black_and_pure_colours_are_those_of_the_standard() {
        // ITU-T T.871, 7, worked out by hand.
        assert_eq!(rgb(255, 128, 128), [255; 3]);
        assert_eq!(rgb(0, 128, 128), [0; 3]);
        assert_eq!(rgb(76, 85, 255), [254, 0, 0]);
        assert_eq!(rgb(29, 255, 107), [0, 0, 254]);
    }
}
