//! The photos of the wall by the room's light that a job may name: a well-lit survey of the sheets, and what the wall reflects.

use super::{OtherPhoto, Setting, Use};
use crate::cutoff::CutOff;
use crate::language::{Said, said};
use crate::photo::Photo;
use crate::refusal::Refusal;
use crate::wall::{self, Sighting, View, WallPhoto};
use crate::warning::Warning;
use std::path::PathBuf;

/// With more than this of it at full scale a wall photo is taken again: the wall, and not lamps of the room, is clipped (our
/// choice, no source).
const MOST_CLIPPED: f64 = 0.1;

/// A wall photo that was read, before its view is known.
pub(super) struct Seen {
    path: PathBuf,
    photo: Photo,
    pub sighting: Sighting,
}

/// The wall photos that a reading rests on, and what is to be said of the others.
pub(super) struct Walls<'a> {
    pub used: Vec<&'a WallPhoto>,
    pub warnings: Vec<Warning>,
}

/// The wall photos of a job, and why some are not used.
#[derive(Default)]
pub(super) struct WallPhotos {
    photos: Vec<WallPhoto>,
    unused: Vec<Warning>,
}

impl WallPhotos {
    /// Reads the photos that the job names and finds their marks.
    pub fn look(setting: &Setting<'_>) -> (Vec<Seen>, Vec<Warning>) {
        let wanted: Vec<u32> = setting.bay.marks.sheet.iter().map(|sheet| sheet.id).collect();
        let (mut seen, mut unused) = (Vec::new(), Vec::new());
        for path in &setting.job.wall_photos {
            match Photo::read_beside(setting.folder, path) {
                Ok(photo) if photo.clipped_share() > MOST_CLIPPED => unused.push(Warning::WallPhotoUnused {
                    photo: path.clone(),
                    why: Said::of(|language| said!(
                    language;
                        "{:.0} % of it is at full scale, where nothing is seen of the wall; turn the exposure down and take it again",
                    "{:.0} % davon sind am Anschlag, wo von der Wand nichts zu sehen ist; die Belichtung verringern und neu aufnehmen";
                        100.0 * photo.clipped_share()
                    )),
                }),
                Ok(photo) => seen.push(Seen {
                    path: path.clone(),
                    sighting: Sighting {
                        found: wall::find_in(&photo, &wanted),
                        size_px: photo.size_px().into(),
                        capture: photo.capture.clone(),
                        ..Sighting::default()
                    },
                    photo,
                }),
                Err(refusal) => unused.push(not_used(path, &refusal)),
            }
        }
        (seen, unused)
    }

    /// The photos with their views, in the order of `seen`.
    pub fn with_views(seen: Vec<Seen>, views: Vec<Result<View, Refusal>>, unused: Vec<Warning>) -> Self {
        let mut all = Self {
            photos: Vec::new(),
            unused,
        };
        for (Seen { path, photo, .. }, view) in seen.into_iter().zip(views) {
            match view {
                Ok(view) => all.photos.push(WallPhoto { path, photo, view }),
                Err(refusal) => all.unused.push(not_used(&path, &refusal)),
            }
        }
        all
    }

    /// Reads a cut-off with the wall divided out; where no cut-off is left then, but there is one without, the lamp was lit in the
    /// wall photos too, and they are not used.
    pub fn divide_out(
        &self,
        read: impl Fn(&[&WallPhoto]) -> Result<CutOff, Refusal>,
    ) -> (Walls<'_>, Result<CutOff, Refusal>) {
        let warnings = self.unused.clone();
        let used: Vec<&WallPhoto> = self.photos.iter().collect();
        let divided = read(&used);
        if divided.is_err() && !used.is_empty() {
            let bare = read(&[]);
            if bare.is_ok() {
                let lit = used.iter().map(|wall| Warning::WallPhotoLit {
                    photo: wall.path.clone(),
                });
                let warnings = warnings.into_iter().chain(lit).collect();
                return (
                    Walls {
                        used: Vec::new(),
                        warnings,
                    },
                    bare,
                );
            }
        }
        (Walls { used, warnings }, divided)
    }

    /// As photos that a figure rests on.
    pub fn as_others(&self) -> impl Iterator<Item = OtherPhoto> {
        self.photos.iter().map(|wall| OtherPhoto {
            photo: wall.path.clone(),
            used_as: Use::Wall,
            sha256: wall.photo.sha256.clone(),
        })
    }
}

fn not_used(path: &std::path::Path, refusal: &Refusal) -> Warning {
    Warning::WallPhotoUnused {
        photo: path.to_owned(),
        why: refusal.message.clone(),
    }
}
