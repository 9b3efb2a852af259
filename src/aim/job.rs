//! All shots of a job. Their photos show one wall, so the marks of all are found first and fitted together; then each
//! photo's cut-off is read.

use super::bracketed::Bracketed;
use super::measure::{exposure_refusal, look, measure_into};
use super::{Measured, Setting, ShotReading};
use crate::photo::{Capture, Photo};
use crate::record::{Lamp, Shot};
use crate::refusal::{Reason, Refusal};
use crate::wall::{Sighting, View, survey};
use rayon::prelude::*;

/// Photos kept in memory from the first look to the second; a phone's takes 60 MB. More are read twice, which costs
/// less than finding the marks does.
const KEPT_PHOTOS: usize = 8;

/// What the first look at a shot left: a reading without its figure, or refused already where nothing was seen.
struct First {
    reading: ShotReading,
    seen: Option<Seen>,
}

/// What was seen in a photo that could be read.
struct Seen {
    sighting: Sighting,
    /// Why there are no marks, should there be none.
    exposure: Option<Refusal>,
    photo: Option<Photo>,
    /// Luminance of the photo, merged with its brackets, over that of the shot's main photo.
    scale: f64,
    /// What is to be said of the brackets.
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
        others: Vec::new(),
        picture: None,
        eye_mm: None,
    }
}

fn measure_shots(setting: &Setting<'_>, shots: &[(&Shot, &Lamp)], step_done: &(dyn Fn() + Sync)) -> Vec<ShotReading> {
    let keep = shots.len() <= KEPT_PHOTOS;
    let firsts: Vec<First> = shots
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
        .map(|(First { mut reading, seen }, view)| {
            if let (Some(seen), Some(view)) = (seen, view) {
                reading.result = second_look(setting, seen, view, &mut reading);
            }
            step_done();
            reading
        })
        .collect()
}

/// Reads a shot's photo and finds its marks.
fn first_look(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp, keep: bool) -> First {
    let mut reading = unread(shot, lamp);
    let seen = match look(setting, shot) {
        Ok(Bracketed {
            photo,
            found,
            scale,
            warnings,
            others,
        }) => {
            reading.others = others;
            reading.sha256 = Some(photo.sha256.clone());
            reading.capture = photo.capture.clone();
            Some(Seen {
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
            })
        }
        Err(refusal) => {
            reading.result = Err(refusal);
            None
        }
    };
    First { reading, seen }
}

/// The view of each shot, from the marks of all; `None` for a shot that was not read.
fn views(setting: &Setting<'_>, firsts: &[First]) -> Vec<Option<Result<View, Refusal>>> {
    // One photo may stand in two shots (both lamps on it); its marks count once.
    let mut digests: Vec<&Option<String>> = Vec::new();
    let mut sightings = Vec::new();
    let places: Vec<Option<usize>> = firsts
        .iter()
        .map(|first| {
            let seen = first.seen.as_ref()?;
            let known = digests.iter().position(|&digest| *digest == first.reading.sha256);
            Some(known.unwrap_or_else(|| {
                digests.push(&first.reading.sha256);
                sightings.push(seen.sighting.clone());
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

/// Reads the cut-off once the view is known.
fn second_look(
    setting: &Setting<'_>,
    seen: Seen,
    view: Result<View, Refusal>,
    reading: &mut ShotReading,
) -> Result<Measured, Refusal> {
    let photo = match seen.photo {
        Some(photo) => photo,
        None => Photo::read(&setting.folder.join(&reading.shot.photo))?,
    };
    let with_brackets = Bracketed {
        photo,
        found: seen.sighting.found,
        scale: seen.scale,
        warnings: seen.bracket_warnings,
        others: Vec::new(),
    };
    let exposure = seen.exposure;
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
    let (shot, lamp) = (reading.shot.clone(), reading.lamp);
    measure_into(setting, &shot, &lamp, &with_brackets, &view, reading)
}
