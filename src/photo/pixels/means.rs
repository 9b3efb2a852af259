//! Means of brightness over blocks of a photo's pixels.

use super::super::planes::Plane;
use rayon::prelude::*;

/// The light of the mean code of blocks of luma.
pub(super) struct LumaLight {
    side_px: usize,
    /// By the sum of a block's codes.
    of_sum: Vec<f32>,
}

impl LumaLight {
    /// Of blocks of `side_px` each way; `light` is that of a code, 0 to 255.
    pub fn new(side_px: usize, light: impl Fn(f64) -> f32) -> Self {
        let count = side_px * side_px;
        Self {
            side_px,
            of_sum: (0..=255 * count).map(|sum| light(sum as f64 / count as f64)).collect(),
        }
    }

    /// What `of` makes of the means over `outer` × `outer` blocks, in `rows` of `columns` each, from a place on.
    pub fn means<T: Copy + Default + Send>(
        &self,
        luma: &Plane,
        [left, top]: [usize; 2],
        [columns, rows]: [usize; 2],
        outer: usize,
        of: impl Fn(f32) -> T + Sync,
    ) -> Vec<T> {
        const BAND: usize = 64;
        let inner = self.side_px;
        let share = 1.0 / (outer * outer) as f32;
        let samples: &[u8] = &luma.samples;
        let light = |sum: u32| share * self.of_sum.get(sum as usize).copied().unwrap_or(1.0);
        let mut values = vec![T::default(); columns * rows];
        // Some rows at a time, so that all threads have their part.
        let bands = values.par_chunks_mut(columns.max(1) * BAND).enumerate();
        bands.for_each(|(band, values)| {
            let mut sums = vec![0_u32; columns * outer];
            let mut means = vec![0.0_f32; columns];
            for (row, values) in values.chunks_exact_mut(columns.max(1)).enumerate() {
                let row = band * BAND + row;
                means.fill(0.0);
                for strip in 0..outer {
                    let line = |line: usize| {
                        let start = (top + (row * outer + strip) * inner + line) * luma.stride + left;
                        samples.get(start..start + columns * outer * inner).unwrap_or_default()
                    };
                    if inner == 2 {
                        sum_pairs(&mut sums, [line(0), line(1)]);
                    } else if inner == 4 {
                        sum_fours(&mut sums, [line(0), line(1), line(2), line(3)]);
                    } else {
                        sums.fill(0);
                        for codes in (0..inner).map(line) {
                            add_blocks(&mut sums, codes, inner, |sum, &code| sum + u32::from(code));
                        }
                    }
                    add_blocks(&mut means, &sums, outer, |mean, &sum| mean + light(sum));
                }
                for (value, &mean) in values.iter_mut().zip(&means) {
                    *value = of(mean);
                }
            }
        });
        values
    }
}

/// The sums of blocks of two by two codes, of which most photos' are made: two are taken as one number, so that the processor takes
/// several at once.
fn sum_pairs(sums: &mut [u32], [upper, lower]: [&[u8]; 2]) {
    let of_two = |pair: [u8; 2]| {
        let both = u16::from_le_bytes(pair);
        (both & 0xFF) + (both >> 8)
    };
    let pairs = upper.as_chunks::<2>().0.iter().zip(lower.as_chunks::<2>().0);
    for (sum, (&upper, &lower)) in sums.iter_mut().zip(pairs) {
        *sum = u32::from(of_two(upper) + of_two(lower));
    }
}

/// As [`sum_pairs`], of blocks of four by four codes.
fn sum_fours(sums: &mut [u32], lines: [&[u8]; 4]) {
    let two_by_two = |four: [u8; 4]| {
        let four = u32::from_le_bytes(four);
        (four & 0xFF_00FF) + ((four >> 8) & 0xFF_00FF)
    };
    let [a, b, c, d] = lines.map(|line| line.as_chunks::<4>().0.iter());
    for (sum, (((&a, &b), &c), &d)) in sums.iter_mut().zip(a.zip(b).zip(c).zip(d)) {
        let both = two_by_two(a) + two_by_two(b) + two_by_two(c) + two_by_two(d);
        *sum = (both & 0xFFFF) + (both >> 16);
    }
}

/// Adds to each sum a block of so many values each.
fn add_blocks<S: Copy, V>(sums: &mut [S], values: &[V], each: usize, add: impl Fn(S, &V) -> S + Copy) {
    // Of these lengths the processor takes several at once.
    match each {
        1 => sums
            .iter_mut()
            .zip(values)
            .for_each(|(sum, value)| *sum = add(*sum, value)),
        2 => add_blocks_of::<2, S, V>(sums, values, add),
        3 => add_blocks_of::<3, S, V>(sums, values, add),
        4 => add_blocks_of::<4, S, V>(sums, values, add),
        _ => {
            for (sum, block) in sums.iter_mut().zip(values.chunks_exact(each)) {
                *sum = block.iter().fold(*sum, add);
            }
        }
    }
}

fn add_blocks_of<const EACH: usize, S: Copy, V>(sums: &mut [S], values: &[V], add: impl Fn(S, &V) -> S) {
    for (sum, block) in sums.iter_mut().zip(values.as_chunks::<EACH>().0) {
        for value in block {
            *sum = add(*sum, value);
        }
    }
}
