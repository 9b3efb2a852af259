//! Memory for the samples of a plane. A photo's are written once, each page of them for the first time, and it is the system's part of
//! that which takes the time: in pages of 2 MB, where the system has them, it is next to nothing.

use std::fmt;
use std::ops::{Deref, DerefMut, Range};

/// Bytes, zero to begin with.
pub(crate) struct Room(Held);

enum Held {
    Plain(Vec<u8>),
    /// A part of the map.
    #[cfg(target_os = "linux")]
    Mapped(memmap2::MmapMut, Range<usize>),
}

/// A large page, as most processors have it; elsewhere the advice comes to nothing.
#[cfg(target_os = "linux")]
const PAGE: usize = 2 << 20;

impl Room {
    /// For so many bytes.
    pub(super) fn new(bytes: usize) -> Self {
        Self(mapped(bytes).unwrap_or_else(|| Held::Plain(vec![0; bytes])))
    }
}

/// In large pages; `None` where that is not worth it, or not to be had.
#[cfg(target_os = "linux")]
fn mapped(bytes: usize) -> Option<Held> {
    // What fills a large page but for a little of it takes one; the rest stays on small ones, so that no memory is held in vain.
    let large = (bytes + PAGE / 4) / PAGE * PAGE;
    if large == 0 {
        return None;
    }
    // Large pages begin at multiples of their size. What is not touched takes no memory.
    let map = memmap2::MmapMut::map_anon(bytes.max(large) + PAGE).ok()?;
    let start = map.as_ptr().addr().wrapping_neg() % PAGE;
    // Only advice: where the system has no large pages, the usual ones do.
    let _ = map.advise_range(memmap2::Advice::HugePage, start, large);
    Some(Held::Mapped(map, start..start + bytes))
}

#[cfg(not(target_os = "linux"))]
fn mapped(_: usize) -> Option<Held> {
    None
}

impl Deref for Room {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        match &self.0 {
            Held::Plain(bytes) => bytes,
            #[cfg(target_os = "linux")]
            Held::Mapped(map, part) => &map[part.clone()],
        }
    }
}

impl DerefMut for Room {
    fn deref_mut(&mut self) -> &mut [u8] {
        match &mut self.0 {
            Held::Plain(bytes) => bytes,
            #[cfg(target_os = "linux")]
            Held::Mapped(map, part) => &mut map[part.clone()],
        }
    }
}

impl Clone for Room {
    fn clone(&self) -> Self {
        let mut copy = Self::new(self.len());
        copy.copy_from_slice(self);
        copy
    }
}

impl fmt::Debug for Room {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(to, "{} bytes", self.len())
    }
}

impl PartialEq for Room {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

impl Eq for Room {}
