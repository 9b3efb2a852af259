//! The inverse DCT (ITU-T T.81, A.3.3), with the integers that libraries commonly use: constants of 12 bits, columns first, two
//! bits kept between the passes. Sums wrap at 32 bits in [`wide`], as those libraries do; [`narrow`] gives the same bytes where
//! nothing can wrap, and takes a fraction of the time.

/// The coefficients of a block as coded, row by row.
pub(super) type Block = [i16; 64];

/// Quantisation steps, 1 to 65535, row by row.
#[derive(Debug, Clone)]
pub(super) struct Steps {
    /// Bit by bit: their products with coefficients have the same lowest 16 bits so.
    bits: [i16; 64],
}

impl Steps {
    pub(super) fn new(steps: [u16; 64]) -> Self {
        Self {
            bits: steps.map(u16::cast_signed),
        }
    }

    /// The step at a place, row by row.
    pub(super) fn at(&self, place: usize) -> u16 {
        self.bits[place].cast_unsigned()
    }
}

/// Up to this sum of the sizes of a block's dequantised coefficients, what the first pass gives fits 16 bits: the largest
/// constant is 5683, and 5683 / 1024 * 5900 < 32767.
pub(super) const MOST_NARROW: u64 = 5900;

/// Added in the second pass, of 17 bits: a half, the 128 of the level shift (A.3.1), and what the common integers add besides.
const SECOND: i32 = 512 + 65536 + (128 << 17);

/// Eight samples of a row side by side.
pub(super) type Eight = [u8; 8];

/// Puts `row(k)` into the first of `samples` and into those below, `stride` apart.
#[inline(always)]
fn put(samples: &mut [Eight], stride: usize, row: impl Fn(usize) -> Eight) {
    for k in 0..8 {
        if let Some(to) = samples.get_mut(k * stride) {
            *to = row(k);
        }
    }
}

/// A block of which only the mean is not zero: `dc` is dequantised.
#[inline(always)]
pub(super) fn flat(dc: i32, samples: &mut [Eight], stride: usize) {
    let sample = (dc.wrapping_add(4 + 1024) >> 3).clamp(0, 255) as u8;
    put(samples, stride, |_| [sample; 8]);
}

/// One dimension of eight, for eight columns side by side: `from[k]` is frequency k. The sums are to be shifted.
fn eight_wide(from: &[[i32; 8]; 8], added: i32) -> [[i32; 8]; 8] {
    let mut to = [[0_i32; 8]; 8];
    for column in 0..8 {
        let of = |k: usize, by: i32| from[k][column].wrapping_mul(by);
        let sum = |terms: [i32; 4]| terms.into_iter().fold(0_i32, i32::wrapping_add);
        let even = [
            sum([of(0, 4096), of(4, 4096), of(2, 5352), of(6, 2217)]),
            sum([of(0, 4096), of(4, -4096), of(2, 2217), of(6, -5350)]),
            sum([of(0, 4096), of(4, -4096), of(2, -2217), of(6, 5350)]),
            sum([of(0, 4096), of(4, 4096), of(2, -5352), of(6, -2217)]),
        ];
        let odd = [
            sum([of(1, 5683), of(3, 4816), of(5, 3219), of(7, 1131)]),
            sum([of(1, 4816), of(3, -1129), of(5, -5681), of(7, -3218)]),
            sum([of(1, 3219), of(3, -5681), of(5, 1132), of(7, 4816)]),
            sum([of(1, 1131), of(3, -3218), of(5, 4816), of(7, -5680)]),
        ];
        for (k, (even, odd)) in even.into_iter().zip(odd).enumerate() {
            to[k][column] = even.wrapping_add(added).wrapping_add(odd);
            to[7 - k][column] = even.wrapping_add(added).wrapping_sub(odd);
        }
    }
    to
}

fn transposed(from: &[[i32; 8]; 8]) -> [[i32; 8]; 8] {
    std::array::from_fn(|row| std::array::from_fn(|column| from[column][row]))
}

/// Any block; `steps` are the quantisation table's, row by row.
pub(super) fn wide(block: &Block, steps: &Steps, samples: &mut [Eight], stride: usize) {
    let at = |place: usize| i32::from(block[place]).wrapping_mul(i32::from(steps.at(place)));
    if block[1..].iter().all(|value| *value == 0) {
        return flat(at(0), samples, stride);
    }
    let first = eight_wide(
        &std::array::from_fn(|row| std::array::from_fn(|column| at(row * 8 + column))),
        512,
    );
    let second = eight_wide(&transposed(&first.map(|row| row.map(|sum| sum >> 10))), SECOND);
    let of_rows = transposed(&second);
    put(samples, stride, |k| {
        of_rows[k].map(|sum| (sum >> 17).clamp(0, 255) as u8)
    });
}

#[cfg(not(target_arch = "x86_64"))]
/// Blocks up to [`MOST_NARROW`].
pub(super) mod narrow {
    /// Any such block.
    pub(in super::super) use super::wide as full;
    /// One of which only the first four rows and columns are not zero.
    pub(in super::super) use super::wide as quarter;
}

#[cfg(target_arch = "x86_64")]
/// Blocks up to [`MOST_NARROW`]: pairs of products of 16 bits, with what every processor of this kind has.
pub(super) mod narrow {
    use super::{Block, Eight, SECOND, Steps, put};
    use safe_arch::{
        add_i32_m128i, get_i64_from_m128i_s, m128i, mul_i16_horizontal_add_m128i, mul_i16_keep_low_m128i,
        pack_i16_to_u8_m128i, pack_i32_to_i16_m128i, set_splat_i32_m128i, shr_imm_i32_m128i, sub_i32_m128i,
        unpack_high_i8_m128i, unpack_high_i16_m128i, unpack_high_i32_m128i, unpack_high_i64_m128i, unpack_low_i8_m128i,
        unpack_low_i16_m128i, unpack_low_i32_m128i, unpack_low_i64_m128i, zeroed_m128i,
    };

    /// What `of` gives for each place. The library's own way to fill an array is left as a call where a crate is compiled in parts, and this is
    /// done for each block of a photo.
    #[inline(always)]
    fn each<const N: usize>(of: impl Fn(usize) -> m128i) -> [m128i; N] {
        let mut all = [zeroed_m128i(); N];
        for (place, one) in all.iter_mut().enumerate() {
            *one = of(place);
        }
        all
    }

    /// Row `row` of eight.
    #[inline(always)]
    fn row_of(values: &[i16; 64], row: usize) -> m128i {
        m128i::from(values.as_chunks::<8>().0[row])
    }

    /// Two constants, for the even and the odd lanes.
    #[inline(always)]
    fn pair(even: i32, odd: i32) -> m128i {
        set_splat_i32_m128i((odd << 16) | (even & 0xFFFF))
    }

    /// Lanes 2k and 2k + 1 of `pairs` by the two constants, summed.
    #[inline(always)]
    fn sum_of(pairs: m128i, even: i32, odd: i32) -> m128i {
        mul_i16_horizontal_add_m128i(pairs, pair(even, odd))
    }

    /// Four lanes of the eight results, from the pairs (0, 4), (2, 6), (1, 3) and (5, 7), shifted.
    #[inline(always)]
    fn four_of_eight<const SHIFT: i32>(pairs: [m128i; 4], added: i32) -> [m128i; 8] {
        let [p04, p26, p13, p57] = pairs;
        let added = set_splat_i32_m128i(added);
        let t0 = add_i32_m128i(sum_of(p04, 4096, 4096), added);
        let t1 = add_i32_m128i(sum_of(p04, 4096, -4096), added);
        let t3 = sum_of(p26, 5352, 2217);
        let t2 = sum_of(p26, 2217, -5350);
        let even = [
            add_i32_m128i(t0, t3),
            add_i32_m128i(t1, t2),
            sub_i32_m128i(t1, t2),
            sub_i32_m128i(t0, t3),
        ];
        let odd = [
            add_i32_m128i(sum_of(p13, 5683, 4816), sum_of(p57, 3219, 1131)),
            add_i32_m128i(sum_of(p13, 4816, -1129), sum_of(p57, -5681, -3218)),
            add_i32_m128i(sum_of(p13, 3219, -5681), sum_of(p57, 1132, 4816)),
            add_i32_m128i(sum_of(p13, 1131, -3218), sum_of(p57, 4816, -5680)),
        ];
        both::<SHIFT>(even, odd)
    }

    /// As [`four_of_eight`] where frequencies 4 to 7 are zero: from the pairs (0, 2) and (1, 3).
    #[inline(always)]
    fn four_of_four<const SHIFT: i32>([p02, p13]: [m128i; 2], added: i32) -> [m128i; 8] {
        let added = set_splat_i32_m128i(added);
        let (of_even, of_odd) = (
            [5352, 2217, -2217, -5352],
            [[5683, 4816], [4816, -1129], [3219, -5681], [1131, -3218]],
        );
        let even = each(|k| add_i32_m128i(sum_of(p02, 4096, of_even[k]), added));
        let odd = each(|k| sum_of(p13, of_odd[k][0], of_odd[k][1]));
        both::<SHIFT>(even, odd)
    }

    /// The results of both ends: the even part with the odd one and less it.
    #[inline(always)]
    fn both<const SHIFT: i32>(even: [m128i; 4], odd: [m128i; 4]) -> [m128i; 8] {
        let [e0, e1, e2, e3] = even;
        let [o0, o1, o2, o3] = odd;
        let sums = [
            add_i32_m128i(e0, o0),
            add_i32_m128i(e1, o1),
            add_i32_m128i(e2, o2),
            add_i32_m128i(e3, o3),
            sub_i32_m128i(e3, o3),
            sub_i32_m128i(e2, o2),
            sub_i32_m128i(e1, o1),
            sub_i32_m128i(e0, o0),
        ];
        each(|k| shr_imm_i32_m128i::<SHIFT>(sums[k]))
    }

    /// One dimension of eight, for eight lanes.
    #[inline(always)]
    fn eight<const SHIFT: i32>(from: [m128i; 8], added: i32) -> [m128i; 8] {
        let [f0, f1, f2, f3, f4, f5, f6, f7] = from;
        let pairs = [(f0, f4), (f2, f6), (f1, f3), (f5, f7)];
        let low = four_of_eight::<SHIFT>(each(|k| unpack_low_i16_m128i(pairs[k].0, pairs[k].1)), added);
        let high = four_of_eight::<SHIFT>(each(|k| unpack_high_i16_m128i(pairs[k].0, pairs[k].1)), added);
        each(|k| pack_i32_to_i16_m128i(low[k], high[k]))
    }

    /// Eight vectors of eight lanes, mirrored at the diagonal.
    #[inline(always)]
    fn transposed(from: [m128i; 8]) -> [m128i; 8] {
        let [f0, f1, f2, f3, f4, f5, f6, f7] = from;
        let of = |a: m128i, b: m128i, c: m128i, d: m128i| {
            let (ab, cd) = (unpack_low_i16_m128i(a, b), unpack_low_i16_m128i(c, d));
            let (ef, gh) = (unpack_high_i16_m128i(a, b), unpack_high_i16_m128i(c, d));
            [
                unpack_low_i32_m128i(ab, cd),
                unpack_high_i32_m128i(ab, cd),
                unpack_low_i32_m128i(ef, gh),
                unpack_high_i32_m128i(ef, gh),
            ]
        };
        let [a0, a1, a2, a3] = of(f0, f1, f2, f3);
        let [b0, b1, b2, b3] = of(f4, f5, f6, f7);
        [
            unpack_low_i64_m128i(a0, b0),
            unpack_high_i64_m128i(a0, b0),
            unpack_low_i64_m128i(a1, b1),
            unpack_high_i64_m128i(a1, b1),
            unpack_low_i64_m128i(a2, b2),
            unpack_high_i64_m128i(a2, b2),
            unpack_low_i64_m128i(a3, b3),
            unpack_high_i64_m128i(a3, b3),
        ]
    }

    /// Writes eight columns as rows of bytes.
    #[inline(always)]
    fn store(columns: [m128i; 8], samples: &mut [Eight], stride: usize) {
        let [c0, c1, c2, c3, c4, c5, c6, c7] = columns;
        // Columns 0 and 4 and so on in one, so that three rounds of unpacking give rows in order.
        let (b04, b15) = (pack_i16_to_u8_m128i(c0, c4), pack_i16_to_u8_m128i(c1, c5));
        let (b26, b37) = (pack_i16_to_u8_m128i(c2, c6), pack_i16_to_u8_m128i(c3, c7));
        let (low01, low23) = (unpack_low_i8_m128i(b04, b15), unpack_low_i8_m128i(b26, b37));
        let (low45, low67) = (unpack_high_i8_m128i(b04, b15), unpack_high_i8_m128i(b26, b37));
        let (top03, bottom03) = (unpack_low_i16_m128i(low01, low23), unpack_high_i16_m128i(low01, low23));
        let (top47, bottom47) = (unpack_low_i16_m128i(low45, low67), unpack_high_i16_m128i(low45, low67));
        let two_rows = [
            unpack_low_i32_m128i(top03, top47),
            unpack_high_i32_m128i(top03, top47),
            unpack_low_i32_m128i(bottom03, bottom47),
            unpack_high_i32_m128i(bottom03, bottom47),
        ];
        put(samples, stride, |k| {
            let two = two_rows[k / 2];
            let one = if k % 2 == 0 {
                two
            } else {
                unpack_high_i64_m128i(two, two)
            };
            get_i64_from_m128i_s(one).to_le_bytes()
        });
    }

    /// Any such block.
    #[inline]
    pub(in super::super) fn full(block: &Block, steps: &Steps, samples: &mut [Eight], stride: usize) {
        let dequantised = each(|row| mul_i16_keep_low_m128i(row_of(block, row), row_of(&steps.bits, row)));
        let first = eight::<10>(dequantised, 512);
        store(eight::<17>(transposed(first), SECOND), samples, stride);
    }

    /// One of which only the first four rows and columns are not zero.
    #[inline]
    pub(in super::super) fn quarter(block: &Block, steps: &Steps, samples: &mut [Eight], stride: usize) {
        let [r0, r1, r2, r3] = each(|row| mul_i16_keep_low_m128i(row_of(block, row), row_of(&steps.bits, row)));
        let first = four_of_four::<10>([unpack_low_i16_m128i(r0, r2), unpack_low_i16_m128i(r1, r3)], 512);
        // Rows 0 and 4 and so on in one: what unpacking gives are then pairs of columns for eight rows.
        let zero = zeroed_m128i();
        let columns = transposed(each(|k| pack_i32_to_i16_m128i(first[k], zero)));
        let [c0, c1, c2, c3, ..] = columns;
        let low = four_of_four::<17>([unpack_low_i16_m128i(c0, c2), unpack_low_i16_m128i(c1, c3)], SECOND);
        let high = four_of_four::<17>([unpack_high_i16_m128i(c0, c2), unpack_high_i16_m128i(c1, c3)], SECOND);
        store(each(|k| pack_i32_to_i16_m128i(low[k], high[k])), samples, stride);
    }
}

#[cfg(test)]
mod tests {
    use super::{Block, MOST_NARROW, Steps, narrow, wide};
    use rand::rngs::ChaCha8Rng;
    use rand::{RngExt, SeedableRng};

    /// A block of `count` coefficients in the first `side` rows and columns, as large as the narrow transform takes.
    fn largest(rng: &mut ChaCha8Rng, side: usize, count: usize) -> (Block, Steps) {
        let mut block = [0; 64];
        let mut steps = [1_u16; 64];
        let column = rng.random_range(0..side);
        let mut left = MOST_NARROW;
        for k in 0..count {
            // Some of them in one column, where sums are largest.
            let x = if rng.random_bool(0.5) {
                column
            } else {
                rng.random_range(0..side)
            };
            let place = rng.random_range(0..side) * 8 + x;
            if block[place] != 0 {
                continue;
            }
            steps[place] = rng.random_range(1..=30);
            let most = left / u64::from(steps[place]);
            let size = if k + 1 == count {
                most
            } else {
                rng.random_range(0..=most)
            } as i16;
            block[place] = if rng.random_bool(0.5) { size } else { -size };
            left -= u64::from(size.unsigned_abs()) * u64::from(steps[place]);
        }
        (block, Steps::new(steps))
    }

    #[test]
    fn narrow_gives_the_bytes_of_wide_up_to_its_bound() {
        const STRIDE: usize = 3;
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        for _ in 0..20_000 {
            let count = rng.random_range(1..20);
            let side = if rng.random_bool(0.5) { 4 } else { 8 };
            let (block, steps) = largest(&mut rng, side, count);
            let [mut all, mut most] = [[[7; 8]; STRIDE * 8]; 2];
            wide(&block, &steps, &mut all, STRIDE);
            narrow::full(&block, &steps, &mut most, STRIDE);
            assert_eq!(most, all, "{block:?}");
            if side == 4 {
                narrow::quarter(&block, &steps, &mut most, STRIDE);
                assert_eq!(most, all, "{block:?}");
            }
            assert!(
                all.chunks(STRIDE).all(|row| row[1..] == [[7; 8]; STRIDE - 1]),
                "only its own samples"
            );
        }
    }
}
