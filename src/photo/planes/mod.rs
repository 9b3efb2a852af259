//! Photos as their files hold them: luma at every pixel and chroma at fewer, 8 bits each, and colour where it is asked for. Only
//! plain files are taken: baseline JPEG (ITU-T T.81) of grey, or of Y, Cb and Cr (ITU-T T.871), in one scan without any fault. For all
//! else there is `image`, which says what is wrong. Samples and colours are those that `image` gives, bit by bit.

mod bits;
mod colour;
mod headers;
mod huffman;
mod idct;
mod room;
mod scan;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod writer;

pub(crate) use colour::Borrowed;
use headers::Frame;
use room::Room;

/// Samples of one component, row by row from the top left; whole units, so that right and below there are more than the photo
/// has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Plane {
    /// `stride` times the rows.
    pub samples: Room,
    /// From a sample to that below.
    pub stride: usize,
}

impl Plane {
    /// Of zeros, width and height as given.
    fn new([width, height]: [usize; 2]) -> Self {
        Self {
            samples: Room::new(width * height),
            stride: width,
        }
    }
}

/// A photo as stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Planes {
    /// Width and height, px.
    pub size_px: [usize; 2],
    /// Luma samples for one of chroma, across and down: 1 or 2 each; 1 and 1 of grey.
    pub sampling: [usize; 2],
    /// A sample for each pixel.
    pub luma: Plane,
    /// Cb and Cr; none of grey.
    pub chroma: Option<[Plane; 2]>,
}

impl Planes {
    /// Luma, then Cb and Cr.
    fn all_mut(&mut self) -> impl Iterator<Item = &mut Plane> {
        std::iter::once(&mut self.luma).chain(self.chroma.iter_mut().flatten())
    }
}

impl Planes {
    /// Bytes of memory that they take.
    pub(crate) fn bytes(&self) -> usize {
        let chroma = self.chroma.iter().flatten();
        chroma.fold(self.luma.samples.len(), |sum, plane| sum + plane.samples.len())
    }
}

/// Decodes `bytes`, a whole file. None where it is not plain, or has more than `most_px` pixels.
pub(crate) fn decode(bytes: &[u8], most_px: u64) -> Option<Planes> {
    scan::decode(bytes, &plain(bytes, most_px)?)
}

/// As [`decode`], on two threads: for who has nothing else to do meanwhile.
pub(crate) fn decode_on_two_threads(bytes: &[u8], most_px: u64) -> Option<Planes> {
    scan::decode_on_two(bytes, &plain(bytes, most_px)?)
}

/// The headers of a plain file that has no more than `most_px` pixels.
fn plain(bytes: &[u8], most_px: u64) -> Option<Frame> {
    let frame = Frame::read(bytes)?;
    let [width, height] = frame.size_px;
    ((width * height) as u64 <= most_px).then_some(frame)
}
