//! The bits of a scan (ITU-T T.81, B.1.1.5 and F.2.2.5): stuffed zeros taken out first, so that reading them is plain.

use std::ops::Range;

/// Zeros behind each interval, bytes: as many as the reservoir may hold of what lies behind the end.
const BEHIND: usize = 16;
const ONES: u64 = 0x0101_0101_0101_0101;
const HIGHS: u64 = 0x8080_8080_8080_8080;

/// The entropy-coded data of a scan, without stuffing and markers.
#[derive(Debug)]
pub(super) struct Unstuffed {
    bytes: Vec<u8>,
    /// Where each restart interval lies.
    intervals: Vec<Range<usize>>,
}

impl Unstuffed {
    /// Of `coded`, which begins behind the scan's header, and has `count` intervals that RST markers part in order, and
    /// EOI behind the last. What is behind EOI is not looked at. None where it is otherwise.
    pub(super) fn new(coded: &[u8], count: usize) -> Option<Self> {
        let mut bytes = vec![0; coded.len().checked_add(count.checked_mul(BEHIND)?)?];
        let mut intervals = Vec::with_capacity(count);
        let (mut from, mut to, mut start) = (0, 0, 0);
        loop {
            let rest = coded.get(from..).filter(|rest| !rest.is_empty())?;
            let (run, is_marker) = next_ff(rest);
            bytes.get_mut(to..to + run)?.copy_from_slice(rest.get(..run)?);
            from += run;
            to += run;
            if !is_marker {
                continue;
            }
            if *coded.get(from + 1)? == 0 {
                *bytes.get_mut(to)? = 0xFF;
                to += 1;
                from += 2;
                continue;
            }
            while *coded.get(from)? == 0xFF {
                from += 1;
            }
            intervals.push(start..to);
            let marker = *coded.get(from)?;
            from += 1;
            if intervals.len() == count {
                return (marker == 0xD9).then_some(Self { bytes, intervals });
            }
            if usize::from(marker) != 0xD0 + (intervals.len() - 1) % 8 {
                return None;
            }
            to += BEHIND;
            start = to;
        }
    }

    /// The interval of this number, from 0.
    pub(super) fn interval(&self, number: usize) -> Option<Bits<'_>> {
        let range = self.intervals.get(number)?;
        Some(Bits {
            bytes: &self.bytes,
            at: range.start,
            end: range.end,
            top: 0,
            held: 0,
        })
    }
}

/// How many bytes at the front are not 0xFF, and whether one that is follows; at most 8 are looked at.
#[inline(always)]
fn next_ff(bytes: &[u8]) -> (usize, bool) {
    if let Some(eight) = bytes.first_chunk::<8>() {
        let word = u64::from_le_bytes(*eight);
        // The lowest set bit is that of the first byte that is all ones.
        let found = (!word).wrapping_sub(ONES) & word & HIGHS;
        if found == 0 {
            (8, false)
        } else {
            (found.trailing_zeros() as usize / 8, true)
        }
    } else {
        bytes
            .iter()
            .position(|byte| *byte == 0xFF)
            .map_or((bytes.len(), false), |place| (place, true))
    }
}

/// Reads one interval.
#[derive(Debug, Clone)]
pub(super) struct Bits<'a> {
    bytes: &'a [u8],
    /// The byte that is read next.
    at: usize,
    end: usize,
    /// The next bits, the first at the top.
    top: u64,
    /// How many of them are counted as read; below them may lie more of the same data.
    held: u32,
}

impl Bits<'_> {
    /// Holds at least 56 bits from here on. None far behind the end.
    #[inline(always)]
    pub(super) fn refill(&mut self) -> Option<()> {
        let word = u64::from_be_bytes(*self.bytes.get(self.at..)?.first_chunk::<8>()?);
        self.top |= word >> self.held;
        self.at += ((63 - self.held) >> 3) as usize;
        self.held |= 56;
        Some(())
    }

    /// As [`Bits::refill`], where fewer than 32 are held: as many as a code of 16 and 15 bits of magnitude take.
    #[inline(always)]
    pub(super) fn refill_for_one(&mut self) -> Option<()> {
        if self.held < 32 { self.refill() } else { Some(()) }
    }

    /// The next 64 bits, of which those that are held count.
    #[inline(always)]
    pub(super) fn top(&self) -> u64 {
        self.top
    }

    /// Goes on by `count` bits, fewer than 64 and no more than are held.
    #[inline(always)]
    pub(super) fn skip(&mut self, count: u32) {
        self.top <<= count;
        self.held -= count;
    }

    /// The next `count` bits, 1 to 15.
    #[inline(always)]
    pub(super) fn take(&mut self, count: u32) -> u32 {
        let bits = (self.top >> (64 - count)) as u32;
        self.skip(count);
        bits
    }

    /// Whether the interval ends here: all is read but fewer than 8 bits of padding (F.1.2.3).
    pub(super) fn is_at_end(&self) -> bool {
        let read = self.at * 8 - self.held as usize;
        let all = self.end * 8;
        read <= all && all - read < 8
    }
}
