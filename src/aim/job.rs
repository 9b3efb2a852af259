//! All shots of a job. Their photos show one wall, so the marks of all are found first and fitted together; then each
//! photo's cut-off is read.

use super::bracketed::Bracketed;
use super::measure::{exposure_refusal, look, measure_into};
use super::{Setting, ShotReading};
use crate::photo::{Capture, Photo};
use crate::record::{Lamp, Shot};
use crate::refusal::{Reason, Refusal};
use crate::wall::{Sighting, View, survey};
use rayon::prelude::*;

/// Photos kept in memory from the first look to the second; a phone's takes 60 MB. More are read twice, which costs
/// less than finding the marks does.
const KEPT_PHOTOS: usize = 8;

/// What the first look at a shot left.
struct First {
    reading: ShotReading,
    sighting: Sighting,
    /// Why there are no marks, should there be none.
    exposure: Option<Refusal>,
    photo: Option<Photo>,
    /// Luminance of the photo, merged with its brackets, over that of the shot's main photo; what to say of them.
    scale: f64,
    bracket_warnings: Vec<String>,
}

/// Reads all shots of a job. What cannot be read is a refusal within its reading, never an error. `step_done` is called
/// twice for each shot.
#[must_use]
pub fn measure_job(setting: &Setting<'_>, step_done: &(dyn Fn() + Sync)) -> Vec<ShotReading> {
    // A shot without its lamp was turned down by the job's check.
    let shots: Vec<(&Shot, &Lamp)> = setting
        .job
        .shot
        .iter()
        .filter_map(|shot| Some((shot, setting.job.lamp(shot.lamp)?)))
        .collect();
    measure_shots(setting, &shots, step_done)
}

/// Reads one shot by itself, as if it were the job's only one.
#[must_use]
pub fn measure_shot(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp) -> ShotReading {
    measure_shots(setting, &[(shot, lamp)], &|| ())
        .pop()
        .unwrap_or_else(|| unread(shot, lamp))
}

fn unread(shot: &Shot, lamp: &Lamp) -> ShotReading {
    ShotReading {
        shot: shot.clone(),
        lamp: *lamp,
        sha256: None,
        capture: Capture::default(),
        result: Err(Refusal::new(Reason::UnreadablePhoto, "not read yet")),
        picture: None,
        eye_mm: None,
    }
}

fn measure_shots(setting: &Setting<'_>, shots: &[(&Shot, &Lamp)], step_done: &(dyn Fn() + Sync)) -> Vec<ShotReading> {
    let keep = shots.len() <= KEPT_PHOTOS;
    let firsts: Vec<Result<First, ShotReading>> = shots
        .par_iter()
        .map(|&(shot, lamp)| {
            let first = first_look(setting, shot, lamp, keep);
            step_done();
            first
        })
        .collect();
    let views = views(setting, &firsts);
    firsts
        .into_par_iter()
        .zip(views)
        .map(|(first, view)| {
            let reading = match first {
                Ok(first) => second_look(setting, first, view),
                Err(refused) => refused,
            };
            step_done();
            reading
        })
        .collect()
}

/// Reads a shot's photo and finds its marks; the refused reading of a photo that cannot be read.
fn first_look(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp, keep: bool) -> Result<First, ShotReading> {
    let mut reading = unread(shot, lamp);
    match look(setting, shot) {
        Ok(Bracketed {
            photo,
            found,
            scale,
            warnings,
        }) => {
            reading.sha256 = Some(photo.sha256.clone());
            reading.capture = photo.capture.clone();
            Ok(First {
                sighting: Sighting {
                    found,
                    size_px: (photo.luminance.width_px, photo.luminance.height_px),
                    capture: photo.capture.clone(),
                },
                exposure: exposure_refusal(&photo),
                // A merged photo is dear to make again.
                photo: (keep || !shot.brackets.is_empty()).then_some(photo),
                scale,
                bracket_warnings: warnings,
                reading,
            })
        }
        Err(refusal) => {
            reading.result = Err(refusal);
            Err(reading)
        }
    }
}

/// The view of each shot, from the marks of all; `None` for a shot that was not read.
fn views(setting: &Setting<'_>, firsts: &[Result<First, ShotReading>]) -> Vec<Option<Result<View, Refusal>>> {
    // One photo may stand in two shots (both lamps on it); its marks count once.
    let mut digests: Vec<&Option<String>> = Vec::new();
    let mut sightings = Vec::new();
    let places: Vec<Option<usize>> = firsts
        .iter()
        .map(|first| {
            let first = first.as_ref().ok()?;
            let known = digests.iter().position(|&digest| *digest == first.reading.sha256);
            Some(known.unwrap_or_else(|| {
                digests.push(&first.reading.sha256);
                sightings.push(first.sighting.clone());
                sightings.len() - 1
            }))
        })
        .collect();
    let views = survey(&sightings, setting.bay);
    places
        .into_iter()
        .map(|place| place.and_then(|n| views.get(n).cloned()))
        .collect()
}

fn second_look(setting: &Setting<'_>, first: First, view: Option<Result<View, Refusal>>) -> ShotReading {
    let First {
        mut reading,
        exposure,
        photo,
        scale,
        bracket_warnings,
        ..
    } = first;
    let (shot, lamp) = (reading.shot.clone(), reading.lamp);
    let read = |reading: &mut ShotReading| {
        let view = view.unwrap_or_else(|| Err(Refusal::new(Reason::MarksMissing, "the photo's marks were not fitted")));
        let photo = match photo {
            Some(photo) => photo,
            None => Photo::read(&setting.folder.join(&shot.photo))?,
        };
        let with_brackets = Bracketed {
            photo,
            found: Vec::new(),
            scale,
            warnings: bracket_warnings,
        };
        let view = view.map_err(|refusal| {
            let refusal = exposure
                .filter(|_| refusal.reason == Reason::MarksMissing)
                .unwrap_or(refusal);
            with_brackets.explain(refusal)
        })?;
        if reading.sha256.as_ref() != Some(&with_brackets.photo.sha256) {
            return Err(Refusal::new(
                Reason::UnreadablePhoto,
                "the photo changed while it was being read; wait until it is copied and measure again",
            ));
        }
        measure_into(setting, &shot, &lamp, &with_brackets, &view, reading)
    };
    reading.result = read(&mut reading);
    reading
}
