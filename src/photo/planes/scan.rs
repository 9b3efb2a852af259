//! The scan (ITU-T T.81, F.2): blocks from bits, and samples from blocks.

use super::bits::{Bits, Unstuffed};
use super::headers::{Component, Frame, ZIGZAG};
use super::huffman::{Leaps, Table, extended};
use super::idct::{self, Block, Eight, MOST_NARROW};
use super::{Plane, Planes};
use std::collections::VecDeque;
use std::ops::Range;
use std::sync::Mutex;

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
    /// For blocks that are passed over.
    leaps: Option<&'a Leaps>,
    /// The mean of the block before.
    mean: i32,
    /// Rows of samples, eight at a time, from the first that is wanted.
    samples: &'a mut [Eight],
    stride: usize,
}

impl<'a> Channel<'a> {
    fn new(coded: &'a Component, leaps: Option<&'a Leaps>, mean: i32, stride: usize, samples: &'a mut [Eight]) -> Self {
        Self {
            coded,
            places: ZIGZAG.map(|at| Place::new(at, coded.steps.at(usize::from(at)))),
            leaps,
            mean,
            samples,
            stride,
        }
    }

    /// The next block. Where `at` is given, its samples go there.
    #[inline(always)]
    fn block(&mut self, bits: &mut Bits, block: &mut Block, at: Option<usize>) -> Option<()> {
        self.mean += difference(bits, &self.coded.dc)?;
        let mean = i16::try_from(self.mean).ok()?;
        let Some(at) = at else {
            return pass_over(bits, &self.coded.ac, self.leaps?);
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
    let mut walk = Walk::new(&data, frame, units)?;
    for band in bands(&mut planes, frame, units, units[1]) {
        walk.decode(band)?;
    }
    Some(planes)
}

/// Bands of rows into which two threads part a photo: enough that they end at nearly the same time.
const BANDS: usize = 28;
/// Of these, the ones that one thread passes over. That takes about a quarter as long as decoding: with 16 of 28 both would end
/// together, and what is more goes to the one that is free.
const PASSED_OVER: usize = 18;

/// As [`decode`], on two threads. One decodes from the top; the other passes over most of it, decodes the rest, and then what is
/// left above, band by band from below, until they meet: whichever is held up, the other waits for no longer than a band takes.
pub(super) fn decode_on_two(file: &[u8], frame: &Frame) -> Option<Planes> {
    let units = units(frame)?;
    let data = data(file, frame, units)?;
    let mut planes = room(frame, units)?;
    let mut upper = bands(&mut planes, frame, units, units[1].div_ceil(BANDS));
    let lower = upper.split_off(upper.len() * PASSED_OVER / BANDS);
    let ends: Vec<usize> = upper.iter().map(|band| band.rows.end).collect();
    let top = Walk::new(&data, frame, units)?;
    let left = Mutex::new(upper);
    let downwards = |mut walk: Walk| {
        loop {
            // Locked for no longer than it takes to take one.
            let next = left.lock().ok()?.pop_front();
            let Some(band) = next else { return Some(()) };
            walk.decode(band)?;
        }
    };
    let upwards = |mut walk: Walk| {
        let leaps: Vec<Leaps> = frame
            .components
            .iter()
            .map(|of| Leaps::new(&of.ac))
            .collect::<Option<_>>()?;
        let mut starts = Vec::with_capacity(ends.len());
        for &end in &ends {
            starts.push(walk.clone());
            walk.pass_over(end, &leaps)?;
        }
        for band in lower {
            walk.decode(band)?;
        }
        loop {
            let next = left.lock().ok()?.pop_back();
            let Some(band) = next else { return Some(()) };
            let mut walk = starts.iter().find(|start| start.row() == band.rows.start)?.clone();
            walk.decode(band)?;
        }
    };
    let (down, up) = std::thread::scope(|scope| {
        let down = scope.spawn(|| downwards(top.clone()));
        let up = upwards(top.clone());
        (down.join().ok().flatten(), up)
    });
    down.and(up).map(|()| planes)
}

/// Rows of units, with room for their samples.
struct Band<'a> {
    rows: Range<usize>,
    /// Of each component, from a row of samples to that below, and these rows, both eight samples at a time.
    samples: Vec<(usize, &'a mut [Eight])>,
}

/// A photo's bands of so many rows of units each, from the top; the last may have fewer.
fn bands<'a>(planes: &'a mut Planes, frame: &Frame, units: [usize; 2], rows_each: usize) -> VecDeque<Band<'a>> {
    let starts = (0..units[1]).step_by(rows_each);
    let mut bands: VecDeque<Band> = starts
        .map(|start| Band {
            rows: start..units[1].min(start + rows_each),
            samples: Vec::with_capacity(3),
        })
        .collect();
    for (plane, of) in planes.all_mut().zip(&frame.components) {
        let stride = plane.stride / 8;
        let samples: &mut [Eight] = plane.samples.as_chunks_mut().0;
        let parts = samples.chunks_mut(rows_each * of.blocks[1] * 8 * stride);
        for (band, part) in bands.iter_mut().zip(parts) {
            band.samples.push((stride, part));
        }
    }
    bands
}

/// How far the data are read.
#[derive(Clone)]
struct Walk<'a> {
    data: &'a Unstuffed,
    frame: &'a Frame,
    /// Units across, in all, and from restart to restart.
    across: usize,
    count: usize,
    restart: usize,
    /// The unit that is next, its interval, and this one's bits.
    unit: usize,
    interval: usize,
    bits: Bits<'a>,
    /// Of each component, the mean of the block before.
    means: [i32; 3],
}

impl<'a> Walk<'a> {
    fn new(data: &'a Unstuffed, frame: &'a Frame, [across, down]: [usize; 2]) -> Option<Self> {
        let count = across * down;
        Some(Self {
            data,
            frame,
            across,
            count,
            restart: if frame.restart == 0 { count } else { frame.restart },
            unit: 0,
            interval: 0,
            bits: data.interval(0)?,
            means: [0; 3],
        })
    }

    /// The row of units that is next.
    fn row(&self) -> usize {
        self.unit / self.across
    }

    /// Decodes the rows that are next.
    fn decode(&mut self, band: Band) -> Option<()> {
        let of_each = self.frame.components.iter().zip(self.means).zip(band.samples);
        let mut channels: Vec<Channel> = of_each
            .map(|((coded, mean), (stride, samples))| Channel::new(coded, None, mean, stride, samples))
            .collect();
        self.go(band.rows.end, Some(band.rows.start), &mut channels)
    }

    /// Goes on to the row `end`, and keeps nothing.
    fn pass_over(&mut self, end: usize, leaps: &[Leaps]) -> Option<()> {
        let of_each = self.frame.components.iter().zip(self.means).zip(leaps);
        let mut channels: Vec<Channel> = of_each
            .map(|((coded, mean), leaps)| Channel::new(coded, Some(leaps), mean, 0, &mut []))
            .collect();
        self.go(end, None, &mut channels)
    }

    /// Goes on to the row `end`; `first` is the row where the samples of the channels begin, where they are wanted.
    fn go(&mut self, end: usize, first: Option<usize>, channels: &mut [Channel]) -> Option<()> {
        let end = self.across * end;
        let mut block = [0; 64];
        while self.unit < end {
            let whole = self.count.min((self.interval + 1) * self.restart);
            let to = whole.min(end);
            interval(&mut self.bits, channels, &mut block, self.across, self.unit..to, first)?;
            self.unit = to;
            if to < whole {
                break;
            }
            if !self.bits.is_at_end() {
                return None;
            }
            self.interval += 1;
            channels.iter_mut().for_each(|channel| channel.mean = 0);
            if self.unit < self.count {
                self.bits = self.data.interval(self.interval)?;
            }
        }
        for (mean, channel) in self.means.iter_mut().zip(channels) {
            *mean = channel.mean;
        }
        Some(())
    }
}

/// Units of one interval, of which `across` make a row; `first` is the row where the channels' samples begin, none where they are
/// passed over.
fn interval(
    bits: &mut Bits,
    channels: &mut [Channel],
    block: &mut Block,
    across: usize,
    mut units: Range<usize>,
    first: Option<usize>,
) -> Option<()> {
    while !units.is_empty() {
        let row = units.start / across;
        let end = units.end.min((row + 1) * across);
        let columns = units.start - row * across..end - row * across;
        let row = first.and_then(|first| row.checked_sub(first));
        match channels {
            [y, cb, cr] if y.coded.blocks == [2, 2] => row_of_420(bits, [y, cb, cr], block, row, columns)?,
            _ => row_of(bits, channels, block, row, columns)?,
        }
        units.start = end;
    }
    Some(())
}

/// Part of a row of units, of any sampling; `row` counts from the first that there are samples of, and is none where it is passed over.
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
