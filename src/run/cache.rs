//! Readings kept from run to run, so that a report after `measure` need not read the photos again.
//!
//! An entry holds what the photos of one job gave, and stands under a digest of all that it rests on: this very program, the job, its
//! walls and its table, and every byte of every photo. Whatever of that changes, the photos are read again. Nothing is lost with the
//! folder: it may be deleted at any time.

use crate::aim::{Measured, OtherPhoto, ShotReading};
use crate::bounded_file;
use crate::digest;
use crate::photo::Capture;
use crate::record::{Lamp, Shot};
use crate::refusal::Refusal;
use crate::wall::Rectified;
use crate::whole_file;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// Most bytes that all entries together take; the oldest go first.
const MOST_BYTES: u64 = 256 << 20;
/// Ends the name of an entry.
const ENDING: &str = "readings";
/// Bytes of a digest.
const DIGEST: usize = 32;

/// A folder of readings.
#[derive(Debug, Clone)]
pub struct Cache {
    folder: PathBuf,
}

/// What stands under a digest of what it rests on, hexadecimal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Key(String);

/// What a photo gave, without what the job itself says.
#[derive(Serialize, Deserialize)]
struct Entry {
    sha256: Option<String>,
    others: Vec<OtherPhoto>,
    capture: Capture,
    result: Result<Measured, Refusal>,
    picture: Option<Rectified>,
    eye_mm: Option<[f64; 3]>,
}

impl Cache {
    /// In a folder, which is made when the first readings are kept.
    #[must_use]
    pub fn in_folder(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into() }
    }

    /// In the user's own folder for what programs can make again: `XDG_CACHE_HOME`, `LOCALAPPDATA`, or where the system has it below
    /// `HOME`; `None` where none of these is known.
    #[must_use]
    pub fn of_user() -> Option<Self> {
        let named = |name: &str| {
            std::env::var_os(name)
                .filter(|value| !value.is_empty())
                .map(PathBuf::from)
        };
        let below_home = if cfg!(target_vendor = "apple") {
            "Library/Caches"
        } else {
            ".cache"
        };
        let folder = named("XDG_CACHE_HOME")
            .or_else(|| named("LOCALAPPDATA"))
            .or_else(|| Some(named("HOME")?.join(below_home)))?;
        Some(Self::in_folder(folder.join("beamfall")))
    }

    /// What a job's photos gave, as it was kept; `None` where it was not, or is not whole any more. Shots and lamps are those of the job,
    /// in its order. Readings with pictures do for those without.
    pub(super) fn get(&self, key: &Key, shots: &[(&Shot, &Lamp)], pictures: bool) -> Option<Vec<ShotReading>> {
        let without = || (!pictures).then(|| self.read(key, shots, false)).flatten();
        without().or_else(|| self.read(key, shots, true))
    }

    fn read(&self, key: &Key, shots: &[(&Shot, &Lamp)], pictures: bool) -> Option<Vec<ShotReading>> {
        let bytes = bounded_file::read(&self.path(key, pictures), MOST_BYTES).ok()?;
        let (digest, body) = bytes.split_at_checked(DIGEST)?;
        if Sha256::digest(body).as_slice() != digest {
            return None;
        }
        let entries: Vec<Entry> = postcard::from_bytes(body).ok()?;
        let reading = |(entry, (shot, lamp)): (Entry, &(&Shot, &Lamp))| ShotReading {
            shot: (*shot).clone(),
            lamp: (*lamp).clone(),
            sha256: entry.sha256,
            others: entry.others,
            capture: entry.capture,
            result: entry.result,
            picture: entry.picture,
            eye_mm: entry.eye_mm,
        };
        (entries.len() == shots.len()).then(|| entries.into_iter().zip(shots).map(reading).collect())
    }

    /// Keeps what a job's photos gave. That it cannot be kept is no fault of the job's, so that nothing is said of it.
    pub(super) fn put(&self, key: &Key, readings: &[ShotReading], pictures: bool) {
        let entry = |reading: &ShotReading| Entry {
            sha256: reading.sha256.clone(),
            others: reading.others.clone(),
            capture: reading.capture.clone(),
            result: reading.result.clone(),
            picture: reading.picture.clone(),
            eye_mm: reading.eye_mm,
        };
        let entries: Vec<Entry> = readings.iter().map(entry).collect();
        let Ok(body) = postcard::to_stdvec(&entries) else {
            return;
        };
        let mut bytes = Sha256::digest(&body).to_vec();
        bytes.extend(body);
        if bytes.len() as u64 <= MOST_BYTES && std::fs::create_dir_all(&self.folder).is_ok() {
            self.make_room(bytes.len() as u64);
            // Written beside its place: another run at the same time never sees half of it.
            whole_file::write(&self.path(key, pictures), &bytes).ok();
        }
    }

    fn path(&self, key: &Key, pictures: bool) -> PathBuf {
        let with = if pictures { "-pictures" } else { "" };
        self.folder.join(format!("{}{with}.{ENDING}", key.0))
    }

    /// Deletes the oldest entries until so many bytes more have room.
    fn make_room(&self, bytes: u64) {
        let Ok(files) = std::fs::read_dir(&self.folder) else {
            return;
        };
        let mut entries: Vec<(SystemTime, u64, PathBuf)> = files
            .flatten()
            .filter(|file| file.path().extension().is_some_and(|ending| ending == ENDING))
            .filter_map(|file| {
                let facts = file.metadata().ok()?;
                Some((facts.modified().ok()?, facts.len(), file.path()))
            })
            .collect();
        entries.sort();
        let mut held: u64 = bytes + entries.iter().map(|(_, size, _)| size).sum::<u64>();
        for (_, size, path) in entries {
            if held <= MOST_BYTES {
                break;
            }
            if std::fs::remove_file(path).is_ok() {
                held -= size;
            }
        }
    }
}

impl Key {
    /// Of all that readings rest on beside the photos, and of the photos that they are read from; `None` where this program's own file
    /// cannot be read.
    pub fn of(rests_on: &str, folder: &Path, photos: &[&Path]) -> Option<Self> {
        let mut all = Sha256::new();
        all.update(digest::of_file(&std::env::current_exe().ok()?)?);
        // Each piece is led by its length, so that no two lists of pieces look alike.
        let mut add = |piece: &[u8]| {
            all.update((piece.len() as u64).to_le_bytes());
            all.update(piece);
        };
        add(rests_on.as_bytes());
        let digests: Vec<Option<String>> = (photos.par_iter())
            .map(|photo| digest::of_file(&folder.join(photo)))
            .collect();
        for (photo, digest) in photos.iter().zip(digests) {
            add(photo.as_os_str().as_encoded_bytes());
            add(digest.unwrap_or_default().as_bytes());
        }
        Some(Self(digest::hex(&all.finalize())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Job, Side, Traffic};
    use crate::refusal::Reason;

    fn job() -> Job {
        let mut job = Job::of("T", "bay.toml", Traffic::Right);
        job.lamp = vec![Lamp::of(Side::Left, 650.0, -560.0, 10_000.0)];
        job.shot = vec![Shot::of("1.jpg", Side::Left), Shot::of("2.jpg", Side::Left)];
        job
    }

    fn shots(job: &Job) -> Vec<(&Shot, &Lamp)> {
        job.shot.iter().map(|shot| (shot, &job.lamp[0])).collect()
    }

    fn refused(job: &Job) -> Vec<ShotReading> {
        let refusal = |message: &str| Err(Refusal::new(Reason::Blurred, |_| message.to_owned()));
        let reading = |((shot, lamp), message): ((&Shot, &Lamp), &str)| ShotReading {
            shot: shot.clone(),
            lamp: lamp.clone(),
            sha256: Some("ab".to_owned()),
            others: Vec::new(),
            capture: Capture {
                exposure_s: Some(1.0 / 3.0),
                ..Capture::default()
            },
            result: refusal(message),
            picture: None,
            eye_mm: Some([0.1, 0.2, 1.0 / 3.0]),
        };
        shots(job).into_iter().zip(["first", "second"]).map(reading).collect()
    }

    #[test]
    fn what_was_kept_comes_back_to_the_last_bit() {
        let folder = tempfile::tempdir().unwrap();
        let (cache, job) = (Cache::in_folder(folder.path().join("new")), job());
        let key = Key::of("settings", folder.path(), &[]).unwrap();
        assert!(cache.get(&key, &shots(&job), false).is_none());
        let readings = refused(&job);
        cache.put(&key, &readings, false);
        let back = cache.get(&key, &shots(&job), false).unwrap();
        assert_eq!(format!("{back:?}"), format!("{readings:?}"));
        // Readings without pictures do not do for those with; the other way round they do.
        assert!(cache.get(&key, &shots(&job), true).is_none());
        std::fs::rename(cache.path(&key, false), cache.path(&key, true)).unwrap();
        assert!(cache.get(&key, &shots(&job), true).is_some() && cache.get(&key, &shots(&job), false).is_some());
        // A job of another length cannot have given it.
        assert!(cache.get(&key, &shots(&job)[..1], false).is_none());
    }

    #[test]
    fn what_is_not_whole_is_not_there() {
        let folder = tempfile::tempdir().unwrap();
        let (cache, job) = (Cache::in_folder(folder.path()), job());
        let key = Key::of("settings", folder.path(), &[]).unwrap();
        cache.put(&key, &refused(&job), false);
        let path = cache.path(&key, false);
        let whole = std::fs::read(&path).unwrap();
        for spoilt in [&whole[..whole.len() - 1], &whole[..20], &[]] {
            std::fs::write(&path, spoilt).unwrap();
            assert!(cache.get(&key, &shots(&job), false).is_none(), "{} bytes", spoilt.len());
        }
        let mut changed = whole.clone();
        changed[whole.len() / 2] ^= 1;
        std::fs::write(&path, changed).unwrap();
        assert!(cache.get(&key, &shots(&job), false).is_none());
        std::fs::write(&path, whole).unwrap();
        assert!(cache.get(&key, &shots(&job), false).is_some());
    }

    #[test]
    fn every_byte_and_every_setting_counts() {
        let folder = tempfile::tempdir().unwrap();
        let photo = folder.path().join("1.jpg");
        let key = |settings: &str, photos: &[&str]| {
            let photos: Vec<&Path> = photos.iter().map(Path::new).collect();
            Key::of(settings, folder.path(), &photos).unwrap()
        };
        let mut keys = vec![
            key("a", &["1.jpg"]),
            key("b", &["1.jpg"]),
            key("a", &["2.jpg"]),
            key("a", &[]),
        ];
        std::fs::write(&photo, b"light").unwrap();
        keys.push(key("a", &["1.jpg"]));
        std::fs::write(&photo, b"Light").unwrap();
        keys.push(key("a", &["1.jpg"]));
        for (n, one) in keys.iter().enumerate() {
            assert!(keys[..n].iter().all(|other| other != one), "{n}");
        }
        assert_eq!(keys[5], key("a", &["1.jpg"]));
    }

    #[test]
    fn the_oldest_make_room() {
        let folder = tempfile::tempdir().unwrap();
        let cache = Cache::in_folder(folder.path());
        for (n, name) in ["old", "new"].into_iter().enumerate() {
            let file = std::fs::File::create(folder.path().join(format!("{name}.{ENDING}"))).unwrap();
            file.set_len(MOST_BYTES / 2 - 1000).unwrap();
            let age = std::time::Duration::from_secs(100 - 10 * n as u64);
            file.set_modified(SystemTime::now() - age).unwrap();
        }
        std::fs::write(folder.path().join("other.txt"), b"no entry").unwrap();
        cache.make_room(1000);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3);
        cache.make_room(10_000);
        let left = |name: &str| folder.path().join(name).exists();
        assert!(!left("old.readings") && left("new.readings") && left("other.txt"));
    }
}
