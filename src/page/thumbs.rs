//! Photos in small, for lists of them: made one at a time from the library's own reading of a photo, and kept by the digest of its file.

use crate::digest;
use crate::photo::Photo;
use image::ExtendedColorType;
use image::codecs::jpeg::JpegEncoder;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{AcquireError, OwnedSemaphorePermit, Semaphore};

/// Their longer side at the most, px: as wide as a list shows them, on a screen of two pixels to each of the style sheet's.
const MOST_SIDE_PX: usize = 320;
const JPEG_QUALITY: u8 = 70;
/// Kept at the most, and the largest that is: four megabytes in all.
const MOST_KEPT: usize = 128;
const MOST_BYTES: usize = 32 * 1024;

/// A photo in small, or that its file holds none that can be read.
type Small = Option<Vec<u8>>;

/// Makes them and keeps those that were asked for last.
pub(super) struct Thumbs {
    /// A photo takes memory while it is decoded; one at a time, whatever a page asks for.
    turns: Arc<Semaphore>,
    /// By digest, the newest last.
    kept: Mutex<VecDeque<(String, Small)>>,
}

impl Thumbs {
    pub fn new() -> Self {
        Self {
            turns: Arc::new(Semaphore::new(1)),
            kept: Mutex::default(),
        }
    }

    /// Waits until it is one's turn.
    ///
    /// # Errors
    /// [`AcquireError`] never, as this is not closed.
    pub async fn turn(&self) -> Result<OwnedSemaphorePermit, AcquireError> {
        self.turns.clone().acquire_owned().await
    }

    /// The photo whose file these are the bytes of, upright, as a small grey JPEG.
    pub fn of(&self, bytes: &[u8]) -> Small {
        let digest = digest::of(bytes);
        let kept = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, small)) = kept().iter().find(|(of, _)| *of == digest) {
            return small.clone();
        }
        let small = made(bytes).filter(|small| small.len() <= MOST_BYTES);
        let mut all = kept();
        if all.len() >= MOST_KEPT {
            all.pop_front();
        }
        all.push_back((digest, small.clone()));
        small
    }
}

fn made(bytes: &[u8]) -> Small {
    let ([width_px, height_px], codes) = Photo::decode(bytes).ok()?.in_small(MOST_SIDE_PX);
    let mut small = Vec::new();
    let [width_px, height_px] = [u32::try_from(width_px).ok()?, u32::try_from(height_px).ok()?];
    JpegEncoder::new_with_quality(&mut small, JPEG_QUALITY)
        .encode(&codes, width_px, height_px, ExtendedColorType::L8)
        .ok()?;
    Some(small)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_photo_is_small_and_made_once_and_few_are_kept() {
        let bytes = std::fs::read(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/sample-photos/photos/left-before-0.jpg"
        ))
        .unwrap();
        let thumbs = Thumbs::new();
        let small = thumbs.of(&bytes).unwrap();
        let read = image::load_from_memory(&small).unwrap();
        let longer = read.width().max(read.height()) as usize;
        assert!(longer <= MOST_SIDE_PX && 2 * longer > MOST_SIDE_PX && small.len() < MOST_BYTES);
        assert_eq!(thumbs.of(&bytes), Some(small));
        assert_eq!(thumbs.kept.lock().unwrap().len(), 1);
        for n in 0..2 * MOST_KEPT {
            assert_eq!(thumbs.of(format!("no photo {n}").as_bytes()), None);
        }
        assert_eq!(thumbs.kept.lock().unwrap().len(), MOST_KEPT);
    }
}
