//! The lamp-off photos of a job: one stands beside many shots, and is decoded once for them where there is room.

use super::Setting;
use crate::photo::Photo;
use crate::record::Shot;
use crate::refusal::Refusal;
use crate::wall::{self, FoundMark};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Most bytes of lamp-off photos that are held for the next shot that names them: one of 12 megapixels, or two of 4. What is not held is decoded
/// again; its marks are kept.
const MOST_HELD_BYTES: usize = 36_000_000;

/// The lamp-off photos, by path as the job names them.
pub(super) struct OffPhotos {
    slots: BTreeMap<PathBuf, Mutex<Slot>>,
    held_bytes: AtomicUsize,
}

#[derive(Default)]
struct Slot {
    /// How many shots are still to be read with it.
    uses_left: usize,
    marks: Option<Vec<FoundMark>>,
    photo: Option<Photo>,
}

impl OffPhotos {
    /// Those that `shots` name, none of them read yet.
    pub fn of<'s>(shots: impl IntoIterator<Item = &'s Shot>) -> Self {
        let mut slots: BTreeMap<PathBuf, Slot> = BTreeMap::new();
        for path in shots.into_iter().filter_map(|shot| shot.lamp_off.as_ref()) {
            slots.entry(path.clone()).or_default().uses_left += 1;
        }
        let slots = slots.into_iter().map(|(path, slot)| (path, Mutex::new(slot)));
        Self {
            slots: slots.collect(),
            held_bytes: AtomicUsize::new(0),
        }
    }

    /// A photo with the marks in it, for one shot. Whoever comes for it while another reads it waits; reading takes no other threads,
    /// so that it comes to an end.
    ///
    /// # Errors
    /// A [`Refusal`] that names it where it cannot be read.
    pub fn take(&self, setting: &Setting<'_>, path: &Path) -> Result<(Photo, Vec<FoundMark>), Refusal> {
        let Some(slot) = self.slots.get(path) else {
            return read(setting, path);
        };
        let mut slot = slot.lock().unwrap_or_else(PoisonError::into_inner);
        slot.uses_left = slot.uses_left.saturating_sub(1);
        let held = slot.photo.take();
        if let Some(photo) = &held {
            self.held_bytes.fetch_sub(photo.bytes(), Ordering::Relaxed);
        }
        let photo = match held {
            Some(photo) => photo,
            None => Photo::read_beside(setting.folder, path)?,
        };
        let marks = slot.marks.get_or_insert_with(|| find(setting, &photo)).clone();
        if slot.uses_left > 0 && self.has_room_for(photo.bytes()) {
            slot.photo = Some(photo.clone());
        }
        Ok((photo, marks))
    }

    /// Whether so many bytes more may be held; they then count as held.
    fn has_room_for(&self, bytes: usize) -> bool {
        let more = |held: usize| held.checked_add(bytes).filter(|&sum| sum <= MOST_HELD_BYTES);
        let order = Ordering::Relaxed;
        self.held_bytes.fetch_update(order, order, more).is_ok()
    }
}

fn find(setting: &Setting<'_>, photo: &Photo) -> Vec<FoundMark> {
    let wanted: Vec<u32> = setting.bay.marks.sheet.iter().map(|sheet| sheet.id).collect();
    wall::find_in(photo, &wanted)
}

fn read(setting: &Setting<'_>, path: &Path) -> Result<(Photo, Vec<FoundMark>), Refusal> {
    let photo = Photo::read_beside(setting.folder, path)?;
    let marks = find(setting, &photo);
    Ok((photo, marks))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Bay, Job, Side, Traffic};
    use crate::refusal::Reason;

    #[test]
    fn a_photo_is_read_once_for_its_shots_and_let_go_after_the_last() {
        let folder = tempfile::tempdir().unwrap();
        let (path, file) = (Path::new("off.png"), folder.path().join("off.png"));
        let picture = image::RgbImage::from_fn(400, 300, |x, y| image::Rgb([(x % 200) as u8, (y % 90) as u8, 9]));
        picture.save(&file).unwrap();
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos/bay.toml");
        let (job, bay) = (Job::of("T", "bay.toml", Traffic::Right), Bay::read(&sample).unwrap());
        let setting = Setting {
            job: &job,
            bay: &bay,
            table: None,
            folder: folder.path(),
            pictures: false,
        };
        let shot = Shot {
            lamp_off: Some(path.to_owned()),
            ..Shot::of("lit.png", Side::Left)
        };
        let photos = OffPhotos::of([&shot, &shot, &shot, &Shot::of("other.png", Side::Left)]);
        let held = || photos.held_bytes.load(Ordering::Relaxed);
        let light = |photo: &Photo| photo.all_light().collect::<Vec<_>>();
        let (first, _) = photos.take(&setting, path).unwrap();
        assert_eq!(held(), 3 * 400 * 300);
        std::fs::rename(&file, folder.path().join("away.png")).unwrap();
        for left in [3 * 400 * 300, 0] {
            let (again, _) = photos.take(&setting, path).unwrap();
            assert_eq!((light(&again), held()), (light(&first), left));
        }
        let refusal = photos.take(&setting, path).unwrap_err();
        assert!(refusal.reason == Reason::UnreadablePhoto && refusal.english().starts_with("off.png: "));
    }

    #[test]
    fn no_more_is_held_than_the_limit() {
        let photos = OffPhotos::of([]);
        assert!(photos.has_room_for(MOST_HELD_BYTES - 5) && !photos.has_room_for(6) && photos.has_room_for(5));
        assert!(!photos.has_room_for(1) && !photos.has_room_for(usize::MAX));
    }
}
