//! What stands before the scan (ITU-T T.81, Annex B): only what is plain is taken.

use super::huffman::{Class, Table};
use super::idct::Steps;

/// Places in a block, row by row, in the order of coding (Figure A.6).
pub(super) const ZIGZAG: [u8; 64] = [
    0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20, 13, 6, 7, 14, 21,
    28, 35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59, 52, 45, 38, 31, 39, 46, 53, 60, 61, 54,
    47, 55, 62, 63,
];

/// The start of a segment by which an XMP packet goes on in others, and the least length behind it: readers refuse less.
const FURTHER_XMP: (&[u8], usize) = (b"http://ns.adobe.com/xmp/extension/\0", 40);

/// How one component is coded.
#[derive(Debug)]
pub(super) struct Component {
    /// Blocks a unit (MCU) across and down.
    pub(super) blocks: [usize; 2],
    /// Quantisation steps, row by row.
    pub(super) steps: Steps,
    /// Its tables.
    pub(super) dc: Table,
    pub(super) ac: Table,
}

/// A frame with its one scan.
#[derive(Debug)]
pub(super) struct Frame {
    /// Width and height, px.
    pub(super) size_px: [usize; 2],
    /// One (grey) or three (Y, Cb, Cr).
    pub(super) components: Vec<Component>,
    /// Units between restarts; 0 where there are none.
    pub(super) restart: usize,
    /// Where the coded data begin.
    pub(super) scan_at: usize,
}

/// A component as the frame's header has it (B.2.2).
#[derive(Debug, Clone, Copy)]
struct Named {
    id: u8,
    blocks: [usize; 2],
    steps: usize,
}

/// What has been read so far.
#[derive(Debug, Default)]
struct Reading {
    steps: [Option<[u16; 64]>; 4],
    dc: [Option<Table>; 4],
    ac: [Option<Table>; 4],
    frame: Option<([usize; 2], Vec<Named>)>,
    restart: usize,
    has_adobe: bool,
}

impl Frame {
    /// Of a whole file. None where it is not plain.
    pub(super) fn read(file: &[u8]) -> Option<Self> {
        let mut at = 2;
        if file.get(..at)? != [0xFF, 0xD8] {
            return None;
        }
        let mut reading = Reading::default();
        loop {
            if *file.get(at)? != 0xFF {
                return None;
            }
            while *file.get(at)? == 0xFF {
                at += 1;
            }
            let marker = *file.get(at)?;
            let length = usize::from(u16::from_be_bytes([*file.get(at + 1)?, *file.get(at + 2)?]));
            let body = file.get(at + 3..at + 1 + length)?;
            at += 1 + length;
            match marker {
                0xC0 | 0xC1 => reading.frame(body)?,
                0xC4 => reading.huffman(body)?,
                0xDB => reading.quantisation(body)?,
                0xDD => reading.restart = usize::from(u16::from_be_bytes(body.try_into().ok()?)),
                0xDA => return reading.scan(body, at),
                0xE1 => {
                    let (start, least) = FURTHER_XMP;
                    if body
                        .strip_prefix(start)
                        .is_some_and(|behind| !behind.is_empty() && behind.len() < least)
                    {
                        return None;
                    }
                }
                0xEE => reading.adobe(body)?,
                0xE0 | 0xE2..=0xED | 0xEF | 0xFE => (),
                _ => return None,
            }
        }
    }
}

impl Reading {
    /// B.2.2.
    fn frame(&mut self, body: &[u8]) -> Option<()> {
        let (&[bits, h0, h1, w0, w1, count], named) = body.split_first_chunk::<6>()?;
        let size_px = [[w0, w1], [h0, h1]].map(|two| usize::from(u16::from_be_bytes(two)));
        if self.frame.is_some() || bits != 8 || size_px.contains(&0) || named.len() != usize::from(count) * 3 {
            return None;
        }
        let named: Vec<_> = named
            .as_chunks::<3>()
            .0
            .iter()
            .map(|&[id, sampling, steps]| Named {
                id,
                blocks: [usize::from(sampling >> 4), usize::from(sampling & 15)],
                steps: usize::from(steps),
            })
            .collect();
        let is_plain = match named.as_slice() {
            [grey] => grey.blocks == [1, 1],
            [y, cb, cr] => {
                let ids = [y.id, cb.id, cr.id];
                y.blocks.iter().all(|count| (1..=2).contains(count))
                    && [cb, cr].iter().all(|chroma| chroma.blocks == [1, 1])
                    && y.id != cb.id
                    && y.id != cr.id
                    && cb.id != cr.id
                    // Common practice: files of red, green and blue name their components so.
                    && ids != *b"RGB"
            }
            _ => false,
        };
        self.frame = is_plain.then_some((size_px, named));
        self.frame.is_some().then_some(())
    }

    /// B.2.4.1.
    fn quantisation(&mut self, mut body: &[u8]) -> Option<()> {
        while let Some((&which, rest)) = body.split_first() {
            let (place, bytes) = (usize::from(which & 15), usize::from(which >> 4) + 1);
            let values = rest.get(..64 * bytes).filter(|_| bytes <= 2)?;
            let mut steps = [0_u16; 64];
            for (value, to) in values.chunks_exact(bytes).zip(ZIGZAG) {
                steps[usize::from(to)] = value.iter().fold(0, |all, byte| (all << 8) | u16::from(*byte));
            }
            if steps.contains(&0) {
                return None;
            }
            *self.steps.get_mut(place)? = Some(steps);
            body = rest.get(64 * bytes..)?;
        }
        Some(())
    }

    /// B.2.4.2.
    fn huffman(&mut self, mut body: &[u8]) -> Option<()> {
        while let Some((&which, rest)) = body.split_first() {
            let (counts, rest) = rest.split_first_chunk::<16>()?;
            let count = counts.iter().map(|count| usize::from(*count)).sum();
            let symbols = rest.get(..count).filter(|_| count <= 256)?;
            let (class, tables) = match which >> 4 {
                0 => (Class::Dc, &mut self.dc),
                1 => (Class::Ac, &mut self.ac),
                _ => return None,
            };
            *tables.get_mut(usize::from(which & 15))? = Some(Table::new(class, *counts, symbols)?);
            body = rest.get(count..)?;
        }
        Some(())
    }

    /// The colour transform that some writers state (ITU-T T.872, APP14): only that of Y, Cb and Cr is plain.
    fn adobe(&mut self, body: &[u8]) -> Option<()> {
        let transform = *body.get(11)?;
        if !body.starts_with(b"Adobe") {
            return Some(());
        }
        self.has_adobe = true;
        (transform == 1).then_some(())
    }

    /// B.2.3.
    fn scan(self, body: &[u8], scan_at: usize) -> Option<Frame> {
        let (size_px, named) = self.frame?;
        let (&count, body) = body.split_first()?;
        let (of, spectrum) = body.split_at_checked(named.len() * 2)?;
        // Whole blocks, at full precision; a grey file that states a transform is left to others.
        if usize::from(count) != named.len() || spectrum != [0, 63, 0] || (self.has_adobe && count == 1) {
            return None;
        }
        let components = named
            .iter()
            .zip(of.as_chunks::<2>().0)
            .map(|(named, &[id, tables])| {
                (id == named.id).then_some(())?;
                Some(Component {
                    blocks: named.blocks,
                    steps: Steps::new((*self.steps.get(named.steps)?)?),
                    dc: self.dc.get(usize::from(tables >> 4))?.clone()?,
                    ac: self.ac.get(usize::from(tables & 15))?.clone()?,
                })
            })
            .collect::<Option<_>>()?;
        Some(Frame {
            size_px,
            components,
            restart: self.restart,
            scan_at,
        })
    }
}
