//! Does what is asked, by the library; each of these takes a while and runs beside those that wait for the network.

use super::jobs::{Place, REPORT};
use crate::error::Error;
use crate::record::{Job, parse_toml, read_text};
use crate::report;
use crate::run::{Cache, Findings, Options, Run};
use crate::shot_list::{GaugeStep, PlannedPhoto, append, entry};

/// A photo read by itself, as the shot that it was taken for, and whether it was entered in the job.
pub(super) struct ReadAlone {
    pub findings: Findings,
    pub entered: bool,
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
    // Of parts and tests this photo alone says nothing.
    (job.system, job.trial, job.repair) = (None, Vec::new(), Vec::new());
    let findings = Run::of(job, &path, &place.folder)?.measure(&Options::default().with_pictures())?;
    let entered = findings.readings.iter().any(|reading| reading.result.is_ok());
    if entered {
        append(&path, &before, &added)?;
    }
    Ok(ReadAlone { findings, entered })
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
    report::write(&folder, &findings, None).map(drop)
}
