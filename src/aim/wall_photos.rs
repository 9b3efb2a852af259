//! The photos of the wall by the room's light that a job may name: a well-lit survey of the sheets, and what the wall reflects.

use super::{OtherPhoto, Setting, Use};
use crate::cutoff;
use crate::photo::Photo;
use crate::record::Lamp;
use crate::refusal::Refusal;
use crate::wall::{self, Sighting, View, WallPhoto};
use crate::warning::Warning;
use std::path::PathBuf;

/// A wall photo that was read, before its view is known.
pub(super) struct Seen {
    path: PathBuf,
    photo: Photo,
    pub sighting: Sighting,
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
                Ok(photo) => seen.push(Seen {
                    path: path.clone(),
                    sighting: Sighting {
                        found: wall::find_in(&photo, &wanted),
                        size_px: (photo.luminance.width_px, photo.luminance.height_px),
                        capture: photo.capture.clone(),
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

    /// The photos in which the lamp of a lit photo is off, and what is to be said of the others.
    pub fn dark_for(
        &self,
        setting: &Setting<'_>,
        lamp: &Lamp,
        lit: &Photo,
        view: &View,
    ) -> (Vec<&WallPhoto>, Vec<Warning>) {
        let mut warnings = self.unused.clone();
        let mut is_dark = |wall: &&WallPhoto| {
            // How bright the room is does not count: only whether what is uneven is the lamp's pattern.
            let off = (&wall.photo, &wall.view, 1.0);
            let light = cutoff::off_light(lit, off, view, lamp, setting.job.traffic);
            let shows_lamp = light.is_some_and(|light| light.surely_lamp);
            if shows_lamp {
                warnings.push(Warning::WallPhotoLit {
                    photo: wall.path.clone(),
                });
            }
            !shows_lamp
        };
        let dark = self.photos.iter().filter(&mut is_dark).collect();
        (dark, warnings)
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
