//! The list of photos, and what a folder's photos are taken to be, for machines.

use super::folder::Folder;
use super::pairing::Pairing;
use super::words::describe;
use super::{PlannedPhoto, Shows, TakenPhoto};
use crate::PROGRAM;
use crate::language::Language;
use crate::record::{Branch, Job, SCHEMA, Side, Stage};
use crate::report::text::round;
use serde::Serialize;

/// The list of photos to take.
#[derive(Serialize)]
pub(crate) struct ListJson<'a> {
    schema: u32,
    program: &'a str,
    job: &'a str,
    photos: Vec<PhotoJson>,
}

impl<'a> ListJson<'a> {
    pub fn new(photos: &[PlannedPhoto], job: &'a Job) -> Self {
        let photos = photos.iter().map(|photo| PhotoJson::new(photo, photo.is_in(job)));
        Self {
            schema: SCHEMA,
            program: PROGRAM,
            job: &job.job,
            photos: photos.collect(),
        }
    }
}

/// A photo of the list, with the keys of a `[[shot]]`.
#[derive(Serialize)]
struct PhotoJson {
    number: usize,
    says: String,
    lamp: Side,
    stage: Option<Stage>,
    position: Option<String>,
    vacuum: Option<String>,
    branch: Option<Branch>,
    sealed: bool,
    /// Time since the pump's valve was shut, s.
    after_s: Option<u32>,
    lamp_off: bool,
    in_job: bool,
}

impl PhotoJson {
    fn new(photo: &PlannedPhoto, in_job: bool) -> Self {
        let mut json = Self {
            number: photo.number,
            says: describe(Language::English, photo),
            lamp: photo.lamp,
            stage: photo.stage,
            position: None,
            vacuum: None,
            branch: None,
            sealed: false,
            after_s: None,
            lamp_off: false,
            in_job,
        };
        match &photo.shows {
            Shows::Position(position) => json.position = Some(position.clone()),
            Shows::Vacuum { gauge, branch } => {
                json.vacuum = Some(gauge.text.clone());
                json.branch = Some(*branch);
            }
            Shows::Sealed { after_s, .. } => {
                json.sealed = true;
                json.after_s = Some(*after_s);
            }
            Shows::LampOff => json.lamp_off = true,
        }
        json
    }
}

/// What the photos of a folder are taken to be.
#[derive(Serialize)]
pub(crate) struct PairingJson<'a> {
    schema: u32,
    program: &'a str,
    job: &'a str,
    /// Whether the photos fit the list, so that they can be entered.
    fits: bool,
    written: bool,
    pairs: Vec<PairJson>,
    list_left: Vec<PhotoJson>,
    photos_left: Vec<&'a str>,
    left_out: Vec<LeftOutJson<'a>>,
    faults: &'a [String],
    warnings: &'a [String],
    /// The entries for the job file.
    toml: &'a str,
}

#[derive(Serialize)]
struct PairJson {
    photo: String,
    taken: Option<String>,
    /// Time since the photo before, s.
    gap_s: Option<f64>,
    #[serde(flatten)]
    shows: PhotoJson,
}

#[derive(Serialize)]
struct LeftOutJson<'a> {
    photo: &'a str,
    why: &'a str,
}

impl<'a> PairingJson<'a> {
    pub fn new(pairing: &'a Pairing, folder: &'a Folder, added: &'a str, job: &'a Job, written: bool) -> Self {
        let shows = |planned: &PlannedPhoto| PhotoJson::new(planned, planned.is_in(job));
        let before = std::iter::once(None).chain(pairing.pairs.iter().map(|(_, photo)| Some(photo.time_s)));
        let pairs = pairing.pairs.iter().zip(before);
        let pair = |((planned, photo), before): (&(PlannedPhoto, TakenPhoto), Option<f64>)| PairJson {
            photo: photo.listed_as.clone(),
            taken: photo.capture.taken.clone(),
            gap_s: before.map(|before| round(photo.time_s - before, 3)),
            shows: shows(planned),
        };
        Self {
            schema: SCHEMA,
            program: PROGRAM,
            job: &job.job,
            fits: pairing.faults.is_empty(),
            written,
            pairs: pairs.map(pair).collect(),
            list_left: pairing.list_left.iter().map(shows).collect(),
            photos_left: pairing
                .photos_left
                .iter()
                .map(|photo| photo.listed_as.as_str())
                .collect(),
            left_out: folder
                .left_out
                .iter()
                .map(|out| LeftOutJson {
                    photo: &out.name,
                    why: &out.why,
                })
                .collect(),
            faults: &pairing.faults,
            warnings: &pairing.warnings,
            toml: added,
        }
    }
}
