//! The scan (ITU-T T.81, F.2): blocks from bits, and samples from blocks.

use super::bits::{Bits, Unstuffed};
use super::headers::{Component, Frame, ZIGZAG};
use super::huffman::{Leaps, Table, extended};
use super::idct::{self, Block, Eight, MOST_NARROW};
use super::{Plane, Planes};
use std::ops::Range;

/// The last place in the order of coding that lies in the first four rows and columns with all before it.
const LAST_OF_QUARTER: usize = 9;

/// What of a block the transform has to know.
#[derive(Debug, Clone, Copy)]
struct Extent {
    /// The last place that is coded, in the order of coding.
    last: usize,
    /// Sum of the sizes of what is dequantised, but for the mean.
    sum: u64,
}

/// In the order of coding: where a coefficient goes, and its quantisation step.
#[derive(Debug, Clone, Copy)]
struct Place(u32);

impl Place {
    fn new(at: u8, step: u16) -> Self {
        Self((u32::from(step) << 8) | u32::from(at))
    }

    #[inline(always)]
    fn at(self) -> usize {
        (self.0 & 63) as usize
    }

    #[inline(always)]
    fn step(self) -> u64 {
        u64::from(self.0 >> 8)
    }
}

/// The difference of the mean (F.2.2.1).
#[inline(always)]
fn difference(bits: &mut Bits, table: &Table) -> Option<i32> {
    bits.refill_for_one()?;
    let seen = table.look(bits.top());
    if seen.is_value() {
        bits.skip(seen.taken());
        return Some(i32::from(seen.of()));
    }
    let seen = if seen.is_symbol() {
        seen
    } else {
        table.long(bits.top())?
    };
    bits.skip(seen.taken());
    let size = u32::from(seen.run_and_size());
    Some(if size == 0 {
        0
    } else {
        i32::from(extended(bits.take(size), size))
    })
}

/// The next coefficient but the mean (F.2.2.2): zeros before it, and its value. Its value is 0 where the block ends (no zeros)
/// and where 16 zeros follow (15).
#[inline(always)]
fn coefficient(bits: &mut Bits, table: &Table) -> Option<(usize, i16)> {
    bits.refill_for_one()?;
    let seen = table.look(bits.top());
    if seen.is_value() {
        bits.skip(seen.taken());
        return Some((seen.run(), seen.of()));
    }
    let seen = if seen.is_symbol() {
        seen
    } else {
        table.long(bits.top())?
    };
    bits.skip(seen.taken());
    let (run, size) = (
        usize::from(seen.run_and_size() >> 4),
        u32::from(seen.run_and_size() & 15),
    );
    match (size, run) {
        (0, 0 | 15) => Some((run, 0)),
        (0, _) => None,
        _ => Some((run, extended(bits.take(size), size))),
    }
}

/// All coefficients of a block but the mean into `block`, which is zero there.
#[inline(never)]
fn others(all: &mut Bits, table: &Table, places: &[Place; 64], block: &mut Block) -> Option<Extent> {
    // A copy of its own stays in registers.
    let mut bits = all.clone();
    let (mut last, mut sum) = (0_usize, 0_u64);
    while last < 63 {
        let (run, value) = coefficient(&mut bits, table)?;
        last += run + 1;
        if value == 0 {
            if run == 0 {
                last -= 1;
                break;
            }
            places.get(last)?;
            continue;
        }
        let place = places.get(last)?;
        sum += u64::from(value.unsigned_abs()) * place.step();
        block[place.at()] = value;
    }
    *all = bits;
    Some(Extent { last, sum })
}

/// As [`others`], where nothing is to be kept.
#[inline(never)]
fn pass_over(all: &mut Bits, table: &Table, leaps: &Leaps) -> Option<()> {
    let mut bits = all.clone();
    let mut last = 0_usize;
    while last < 63 {
        bits.refill_for_one()?;
        let leap = leaps.look(bits.top());
        let next = last + usize::from(leap.places);
        // At the last place a block ends without a code for it: what follows is of the next one.
        if leap.taken > 0 && next < 63 {
            bits.skip(u32::from(leap.taken));
            if leap.is_end {
                break;
            }
            last = next;
            continue;
        }
        let (run, value) = coefficient(&mut bits, table)?;
        if value == 0 && run == 0 {
            break;
        }
        last += run + 1;
    }
    *all = bits;
    (last <= 63).then_some(())
}

/// How one component is decoded.
struct Channel<'a> {
    coded: &'a Component,
    places: [Place; 64],
    /// For blocks that are passed over; none where there are no such.
    leaps: Option<Leaps>,
    /// The mean of the block before.
    mean: i32,
    /// Rows of samples, eight at a time, from the first that is wanted.
    samples: &'a mut [Eight],
    stride: usize,
}

impl Channel<'_> {
    /// The next block. Where `at` is given, its samples go there.
    #[inline(always)]
    fn block(&mut self, bits: &mut Bits, block: &mut Block, at: Option<usize>) -> Option<()> {
        self.mean += difference(bits, &self.coded.dc)?;
        let mean = i16::try_from(self.mean).ok()?;
        let Some(at) = at else {
            return pass_over(bits, &self.coded.ac, self.leaps.as_ref()?);
        };
        let Extent { last, sum } = others(bits, &self.coded.ac, &self.places, block)?;
        let steps = &self.coded.steps;
        let samples = self.samples.get_mut(at..)?;
        let dc = i32::from(mean) * i32::from(steps.at(0));
        if last == 0 {
            idct::flat(dc, samples, self.stride);
            return Some(());
        }
        block[0] = mean;
        if sum + u64::from(dc.unsigned_abs()) > MOST_NARROW {
            idct::wide(block, steps, samples, self.stride);
        } else if last <= LAST_OF_QUARTER {
            idct::narrow::quarter(block, steps, samples, self.stride);
            block[..32].fill(0);
            return Some(());
        } else {
            idct::narrow::full(block, steps, samples, self.stride);
        }
        block.fill(0);
        Some(())
    }
}

/// The units (MCU) of a frame, across and down.
fn units(frame: &Frame) -> Option<[usize; 2]> {
    let most = frame.components.first()?.blocks;
    Some(std::array::from_fn(|axis| frame.size_px[axis].div_ceil(8 * most[axis])))
}

/// The data of a scan, parted by restarts.
fn data(file: &[u8], frame: &Frame, units: [usize; 2]) -> Option<Unstuffed> {
    let count = units[0] * units[1];
    let intervals = if frame.restart == 0 {
        1
    } else {
        count.div_ceil(frame.restart)
    };
    Unstuffed::new(file.get(frame.scan_at..)?, intervals)
}

/// Room for the samples.
fn room(frame: &Frame, units: [usize; 2]) -> Option<Planes> {
    let plane = |of: &Component| Plane::new(std::array::from_fn(|axis| units[axis] * of.blocks[axis] * 8));
    let mut planes = frame.components.iter().map(plane);
    let luma = planes.next()?;
    let chroma = planes.next().zip(planes.next()).map(|(blue, red)| [blue, red]);
    Some(Planes {
        size_px: frame.size_px,
        sampling: frame.components.first()?.blocks,
        luma,
        chroma,
    })
}

/// Decodes `file`, whose frame is `frame`.
pub(super) fn decode(file: &[u8], frame: &Frame) -> Option<Planes> {
    let units = units(frame)?;
    let data = data(file, frame, units)?;
    let mut planes = room(frame, units)?;
    let each = planes
        .all_mut()
        .map(|plane| (plane.stride / 8, plane.samples.as_chunks_mut().0));
    rows(&data, frame, units, each.collect(), &(0..units[1]))?;
    Some(planes)
}

/// As [`decode`], on two threads: one decodes the upper rows, the other passes over them and decodes the rest.
pub(super) fn decode_on_two(file: &[u8], frame: &Frame) -> Option<Planes> {
    let units = units(frame)?;
    let data = data(file, frame, units)?;
    let mut planes = room(frame, units)?;
    // Passing over takes about a quarter as long as decoding: 4 then is as much as 4 / 4 and 3.
    let split = units[1] * 4 / 7;
    let (upper, lower): (Vec<_>, Vec<_>) = planes
        .all_mut()
        .zip(&frame.components)
        .map(|(plane, of)| {
            let stride = plane.stride / 8;
            let samples = plane.samples.as_chunks_mut().0;
            let (upper, lower) = samples.split_at_mut(split * of.blocks[1] * 8 * stride);
            ((stride, upper), (stride, lower))
        })
        .unzip();
    let (upper, lower) = std::thread::scope(|scope| {
        let upper = scope.spawn(|| rows(&data, frame, units, upper, &(0..split)));
        let lower = rows(&data, frame, units, lower, &(split..units[1]));
        (upper.join().ok().flatten(), lower)
    });
    upper.and(lower).map(|()| planes)
}

/// Decodes the rows of units that are wanted into the samples of each component, strides and rows of these alone.
fn rows(
    data: &Unstuffed,
    frame: &Frame,
    [across, down]: [usize; 2],
    samples: Vec<(usize, &mut [Eight])>,
    wanted: &Range<usize>,
) -> Option<()> {
    let mut channels = Vec::with_capacity(3);
    for (coded, (stride, samples)) in frame.components.iter().zip(samples) {
        let places = ZIGZAG.map(|at| Place::new(at, coded.steps.at(usize::from(at))));
        let leaps = if wanted.start > 0 {
            Some(Leaps::new(&coded.ac)?)
        } else {
            None
        };
        channels.push(Channel {
            coded,
            places,
            leaps,
            mean: 0,
            samples,
            stride,
        });
    }
    let count = across * down;
    let restart = if frame.restart == 0 { count } else { frame.restart };
    let end = across * wanted.end;
    let mut block = [0; 64];
    for (index, mut bits) in data.intervals().enumerate() {
        let whole = index * restart..count.min((index + 1) * restart);
        let range = whole.start..whole.end.min(end);
        if range.is_empty() {
            break;
        }
        channels.iter_mut().for_each(|channel| channel.mean = 0);
        interval(&mut bits, &mut channels, &mut block, across, range.clone(), wanted)?;
        if range == whole && !bits.is_at_end() {
            return None;
        }
    }
    Some(())
}

/// The units of one interval, of which `across` make a row.
fn interval(
    bits: &mut Bits,
    channels: &mut [Channel],
    block: &mut Block,
    across: usize,
    mut units: Range<usize>,
    wanted: &Range<usize>,
) -> Option<()> {
    while !units.is_empty() {
        let row = units.start / across;
        let end = units.end.min((row + 1) * across);
        let columns = units.start - row * across..end - row * across;
        let row = row.checked_sub(wanted.start);
        match channels {
            [y, cb, cr] if y.coded.blocks == [2, 2] => row_of_420(bits, [y, cb, cr], block, row, columns)?,
            _ => row_of(bits, channels, block, row, columns)?,
        }
        units.start = end;
    }
    Some(())
}

/// Part of a row of units, of any sampling; `row` counts from the first that is wanted, and is none before it.
fn row_of(
    bits: &mut Bits,
    channels: &mut [Channel],
    block: &mut Block,
    row: Option<usize>,
    columns: Range<usize>,
) -> Option<()> {
    for column in columns {
        for channel in channels.iter_mut() {
            let [across, down] = channel.coded.blocks;
            for y in 0..down {
                for x in 0..across {
                    let at = row.map(|row| (row * down + y) * 8 * channel.stride + column * across + x);
                    channel.block(bits, block, at)?;
                }
            }
        }
    }
    Some(())
}

/// As [`row_of`] for the most common sampling: nothing to count.
fn row_of_420(
    bits: &mut Bits,
    [y, cb, cr]: [&mut Channel; 3],
    block: &mut Block,
    row: Option<usize>,
    columns: Range<usize>,
) -> Option<()> {
    for column in columns {
        for place in 0..4 {
            let at = row.map(|row| (row * 2 + place / 2) * 8 * y.stride + column * 2 + place % 2);
            y.block(bits, block, at)?;
        }
        for chroma in [&mut *cb, &mut *cr] {
            let at = row.map(|row| row * 8 * chroma.stride + column);
            chroma.block(bits, block, at)?;
        }
    }
    Some(())
}
