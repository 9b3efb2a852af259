//! Does what is asked, by the library; each of these takes a while and runs beside those that wait for the network.

use super::choice::photos_of_view;
use super::jobs::{PHOTOS, Place, REPORT};
use crate::error::Error;
use crate::language::Language;
use crate::record::{Job, Shot, parse_toml, read_text};
use crate::report;
use crate::run::{Cache, Findings, Options, Run};
use crate::shot_list::{GaugeStep, PlannedPhoto, append, entry, give_lamp_off};
use std::path::{Path, PathBuf};

/// A photo read by itself, as the shot that it was taken for, and whether it was entered in the job.
pub(super) struct ReadAlone {
    pub findings: Findings,
    pub entered: bool,
    /// Whether it can be entered all the same.
    pub may_be_entered: bool,
}

/// Reads a photo of the job's folder by itself, and where it gives a figure enters it in the job as what was planned: what is
/// refused is taken again, and would only be in the way.
///
/// # Errors
/// [`Error`] for a job that cannot be read or written.
pub(super) fn read_alone(
    place: &Place,
    planned: &PlannedPhoto,
    photo: &str,
    at_start: Option<&GaugeStep>,
) -> Result<ReadAlone, Error> {
    let path = place.file();
    let before = read_text(&path)?;
    let added = entry(planned, photo, None, at_start);
    let mut job: Job = parse_toml(&path, &(before.clone() + "\n" + &added))?;
    job.shot.drain(..job.shot.len().saturating_sub(1));
    let findings = read(job, place)?;
    let entered = findings.readings.iter().any(|reading| reading.result.is_ok());
    if entered {
        append(&path, &before, &added)?;
    }
    Ok(ReadAlone {
        findings,
        entered,
        may_be_entered: !entered,
    })
}

/// Reads the photos of a view anew by a photo of it with the lamp off, and where any gives a figure enters it with them: one that is lit, or of
/// another view, spoils all.
///
/// # Errors
/// As [`read_alone`], and where the job has no photo of the view without one.
pub(super) fn read_with_lamp_off(
    place: &Place,
    planned: &PlannedPhoto,
    photos: &[PlannedPhoto],
    lamp_off: &str,
) -> Result<ReadAlone, Error> {
    let path = place.file();
    let before = read_text(&path)?;
    let mut job: Job = parse_toml(&path, &before)?;
    let of_view = photos_of_view(planned, photos, &job).filter(|shot| shot.lamp_off.is_none());
    let shots: Vec<Shot> = of_view.cloned().collect();
    if shots.is_empty() {
        return Err(Error::asked(
            "the job has no photo of this view yet that wants one with the lamp off; take the others first",
        ));
    }
    let named: Vec<PathBuf> = shots.iter().map(|shot| shot.photo.clone()).collect();
    let with_off = |shot| Shot {
        lamp_off: Some(PathBuf::from(lamp_off)),
        ..shot
    };
    job.shot = shots.into_iter().map(with_off).collect();
    let findings = read(job, place)?;
    let entered = findings.readings.iter().any(|reading| reading.result.is_ok());
    if entered {
        give_lamp_off(&path, &before, &named, lamp_off)?;
    }
    Ok(ReadAlone {
        findings,
        entered,
        may_be_entered: false,
    })
}

/// Of parts and tests these photos alone say nothing.
fn read(mut job: Job, place: &Place) -> Result<Findings, Error> {
    (job.system, job.trial, job.repair) = (None, Vec::new(), Vec::new());
    Run::of(job, &place.file(), &place.folder)?.measure(&Options::default().with_pictures())
}

/// Enters a photo that gave no figure, as where one with the lamp off is to come. Its path is one of those in the job's folder of
/// photos, or nothing is done.
///
/// # Errors
/// As [`append`], and for a photo that is not there.
pub(super) fn enter(place: &Place, planned: &PlannedPhoto, photo: &Path) -> Result<(), Error> {
    let entries = std::fs::read_dir(place.folder.join(PHOTOS))
        .into_iter()
        .flatten()
        .flatten();
    let mut names = entries.map(|entry| Path::new(PHOTOS).join(entry.file_name()));
    let Some(found) = names.find(|name| name == photo) else {
        return Err(Error::asked(
            "this photo is not in the job's folder any more; take it again",
        ));
    };
    let path = place.file();
    append(
        &path,
        &read_text(&path)?,
        &entry(planned, &found.to_string_lossy(), None, None),
    )
}

/// Reads the whole job.
///
/// # Errors
/// As [`Run::read`].
pub(super) fn read_job(place: &Place, cache: Option<&Cache>) -> Result<Findings, Error> {
    Run::read(place.file(), &Options::default().with_cache(cache))
}

/// Makes the job's report in its folder.
///
/// # Errors
/// As [`Run::read`] and [`report::write()`].
pub(super) fn make_report(place: &Place, cache: Option<&Cache>) -> Result<(), Error> {
    let folder = place.folder.join(REPORT);
    report::can_write(&folder)?;
    let findings = Run::read(place.file(), &Options::default().with_cache(cache).with_pictures())?;
    report::write(Language::English, &folder, &findings, None).map(drop)
}
