//! All shots of a job. Their photos show one wall, so the marks of all are found first and fitted together; then each
//! photo's cut-off is read.

use super::bracketed::{Bracketed, look};
use super::measure::{LampOff, exposure_refusal, measure};
use super::{OtherPhoto, Setting, ShotReading};
use crate::photo::{Capture, Photo};
use crate::record::{Lamp, Shot};
use crate::refusal::{Reason, Refusal};
use crate::wall::{self, Sighting, View, survey};
use crate::warning::Warning;
use rayon::prelude::*;

/// Photos kept in memory from the first look to the second; a phone's takes 60 MB. More are read twice, which costs
/// less than finding the marks does.
const KEPT_PHOTOS: usize = 8;

/// What the first look at a shot left: its photo with the marks, or why there is none.
struct FirstLook<'a> {
    shot: &'a Shot,
    lamp: &'a Lamp,
    /// The brackets that could be read.
    others: Vec<OtherPhoto>,
    sha256: Option<String>,
    capture: Capture,
    sighted: Result<Sighted, Refusal>,
}

/// What was seen in a photo that could be read.
struct Sighted {
    sighting: Sighting,
    /// Why there are no marks, should there be none.
    exposure: Option<Refusal>,
    /// The photo, where it is kept.
    photo: Option<Photo>,
    /// Luminance of the photo, merged with its brackets, over that of the shot's main photo.
    scale: f64,
    /// What is to be said of the brackets.
    bracket_warnings: Vec<Warning>,
}

/// Reads all shots of a job. What cannot be read is a refusal within its reading, never an error. `step_done` is called
/// twice for each shot.
#[must_use]
pub(crate) fn measure_job(setting: &Setting<'_>, step_done: &(dyn Fn() + Sync)) -> Vec<ShotReading> {
    // A shot without its lamp was turned down by the job's check.
    let shots: Vec<(&Shot, &Lamp)> = setting
        .job
        .shot
        .iter()
        .filter_map(|shot| Some((shot, setting.job.lamp(shot.lamp)?)))
        .collect();
    let keep = shots.len() <= KEPT_PHOTOS;
    let firsts: Vec<FirstLook<'_>> = shots
        .par_iter()
        .map(|&(shot, lamp)| {
            let first = FirstLook::at(setting, shot, lamp, keep);
            step_done();
            first
        })
        .collect();
    let views = views(setting, &firsts);
    firsts
        .into_par_iter()
        .zip(views)
        .map(|(first, view)| {
            let reading = first.read(setting, view);
            step_done();
            reading
        })
        .collect()
}

/// Reads one shot by itself, as if it were the job's only one.
#[must_use]
pub fn measure_shot(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp) -> ShotReading {
    let first = FirstLook::at(setting, shot, lamp, true);
    let view = match &first.sighted {
        Ok(sighted) => survey(std::slice::from_ref(&sighted.sighting), setting.bay).remove(0),
        Err(refusal) => Err(refusal.clone()),
    };
    first.read(setting, view)
}

/// The view of each shot, from the marks of all; for a shot that was not read, why.
fn views(setting: &Setting<'_>, firsts: &[FirstLook<'_>]) -> Vec<Result<View, Refusal>> {
    // One photo may stand in two shots (both lamps on it); its marks count once.
    let mut digests: Vec<&Option<String>> = Vec::new();
    let mut sightings = Vec::new();
    let places: Vec<Result<usize, &Refusal>> = firsts
        .iter()
        .map(|first| {
            let sighted = first.sighted.as_ref()?;
            let known = digests.iter().position(|&digest| *digest == first.sha256);
            Ok(known.unwrap_or_else(|| {
                digests.push(&first.sha256);
                sightings.push(sighted.sighting.clone());
                sightings.len() - 1
            }))
        })
        .collect();
    let views = survey(&sightings, setting.bay);
    places
        .into_iter()
        .map(|place| match place {
            Ok(n) => views[n].clone(),
            Err(refusal) => Err(refusal.clone()),
        })
        .collect()
}

impl<'a> FirstLook<'a> {
    /// Reads a shot's photo and finds its marks.
    fn at(setting: &Setting<'_>, shot: &'a Shot, lamp: &'a Lamp, keep: bool) -> Self {
        let (sha256, capture, others, sighted) = match look(setting, shot) {
            Ok(bracketed) => {
                let photo = bracketed.photo;
                let (sha256, capture) = (photo.sha256.clone(), photo.capture.clone());
                let sighted = Sighted {
                    sighting: Sighting {
                        found: bracketed.found,
                        size_px: (photo.luminance.width_px, photo.luminance.height_px),
                        capture: capture.clone(),
                    },
                    exposure: exposure_refusal(&photo),
                    // A merged photo is dear to make again.
                    photo: (keep || !shot.brackets.is_empty()).then_some(photo),
                    scale: bracketed.scale,
                    bracket_warnings: bracketed.warnings,
                };
                (Some(sha256), capture, bracketed.others, Ok(sighted))
            }
            Err(refusal) => (None, Capture::default(), Vec::new(), Err(refusal)),
        };
        Self {
            shot,
            lamp,
            others,
            sha256,
            capture,
            sighted,
        }
    }

    /// Reads the cut-off once the view is known.
    fn read(self, setting: &Setting<'_>, view: Result<View, Refusal>) -> ShotReading {
        let (shot, lamp) = (self.shot, self.lamp);
        let (mut others, mut picture, mut eye_mm) = (self.others, None, None);
        let result = self.sighted.and_then(|sighted| {
            let (bracketed, view) = sighted.with_view(setting, shot, self.sha256.as_deref(), view)?;
            eye_mm = Some(view.eye_mm());
            picture = setting.pictures.then(|| wall::rectify(&bracketed.photo, &view, lamp));
            let off = LampOff::read(setting, shot, &bracketed)?;
            others.extend(off.as_ref().map(LampOff::as_other));
            measure(setting, shot, lamp, &bracketed, &view, off.as_ref())
        });
        ShotReading {
            shot: shot.clone(),
            lamp: *lamp,
            sha256: self.sha256,
            others,
            capture: self.capture,
            result,
            picture,
            eye_mm,
        }
    }
}

impl Sighted {
    /// The photo, read again where it was not kept, and its view; `sha256` is the digest of the file at the first look.
    fn with_view(
        self,
        setting: &Setting<'_>,
        shot: &Shot,
        sha256: Option<&str>,
        view: Result<View, Refusal>,
    ) -> Result<(Bracketed, View), Refusal> {
        let photo = match self.photo {
            Some(photo) => photo,
            None => Photo::read(&setting.folder.join(&shot.photo))?,
        };
        let bracketed = Bracketed {
            photo,
            found: self.sighting.found,
            scale: self.scale,
            warnings: self.bracket_warnings,
            others: Vec::new(),
        };
        let exposure = self.exposure;
        let view = view.map_err(|refusal| {
            let refusal = exposure
                .filter(|_| refusal.reason == Reason::MarksMissing)
                .unwrap_or(refusal);
            bracketed.explain(refusal)
        })?;
        if sha256 != Some(&bracketed.photo.sha256) {
            return Err(Refusal::new(
                Reason::UnreadablePhoto,
                "the photo changed while it was being read; wait until it is copied and measure again",
            ));
        }
        Ok((bracketed, view))
    }
}
