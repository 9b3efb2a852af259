//! Does what is asked, by the library; each of these takes a while and runs beside those that wait for the network.

use super::choice::{Choice, Rest, due, is_done, is_passed, lacks_figure, photos_of_view};
use super::jobs::{PHOTOS, Place, REPORT, is_own_file};
use super::undo;
use crate::aim::WallCheck;
use crate::bounded_file::{self, MOST_PHOTO_BYTES};
use crate::error::Error;
use crate::isolate::{Isolated, Standing, is_outdated_by};
use crate::language::{Language, said};
use crate::photo::Capture;
use crate::record::{
    Bay, Entries, Extent, Gauge, Job, Kept, NewFigure, RepairEntry, SheetByHand, Shot, Side, Stage, System, Trial,
    TrialMoves, append, append_repair, change_gauge, change_repair, give_lamp_off, in_order, name_system, parse_toml,
    read_text, repair_entry, set_figures, system_names, take_out, trial_entry,
};
use crate::refusal::{Reason, Refusal};
use crate::report;
use crate::report::say::isolation::{answer_words, beside_beam, test_name};
use crate::report::words::{listed, percent, what_it_shows};
use crate::run::{Cache, Findings, Options, Run, behind_last_pause};
use crate::shot_list::{
    Check, Folder, GaugeStep, Numbers, Pairing, PlannedPhoto, Shows, TakenPhoto, describe, entries, entry,
    names_of_photos, pair, read_folder,
};
use crate::warning::Warning;
use serde::Deserialize;
use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// The report's page in its folder.
pub(super) const REPORT_PAGE: &str = "report.html";

/// A photo read by itself, as the shot that it was taken for, and whether it was entered in the job.
pub(super) struct ReadAlone {
    pub findings: Findings,
    pub entered: bool,
    /// Whether somebody showed where its sheets or its cut-off are.
    pub by_hand: bool,
    /// Whether it was sent from its own screen, where it can be taken again.
    pub may_be_taken_again: bool,
    /// Whether it was entered beside others of the same state, which may contradict it.
    pub has_others: bool,
}

impl ReadAlone {
    /// Whether it is worth entering though it gives no figure: a photo of the same view with the lamp off, which is given to photos of the job,
    /// can mend it. What is amiss with any other stays amiss, and its entry would only look like a photo that was taken.
    pub fn may_be_entered(&self) -> bool {
        let mended = self.findings.readings.iter().any(|reading| {
            let refusal = reading.result.as_ref().err();
            reading.shot.lamp_off.is_none() && refusal.is_some_and(is_mended_by_lamp_off)
        });
        self.may_be_taken_again && mended
    }

    /// Whether it can be read otherwise once somebody says where its cut-off is: there is an edge, or several.
    pub fn may_be_pointed_at(&self) -> bool {
        self.findings.readings.iter().any(|reading| {
            let refusal = reading.result.as_ref().err();
            refusal.is_none_or(is_mended_by_pointing)
        })
    }
}

/// Whether somebody can mend a refusal by saying where the cut-off is: there is an edge, or several.
pub(super) fn is_mended_by_pointing(refusal: &Refusal) -> bool {
    let reasons = [
        Reason::SecondCutoff,
        Reason::NotLevel,
        Reason::NoCutoff,
        Reason::CutoffUnsharp,
    ];
    reasons.contains(&refusal.reason)
}

/// Whether somebody can mend a refusal by showing where the sheets are.
pub(super) fn is_mended_by_placing(refusal: &Refusal) -> bool {
    matches!(refusal.reason, Reason::MarksMissing | Reason::MarksDisagree)
}

/// Whether a refusal says itself that a photo with the lamp off mends it, by the key that it is entered under: its reason alone does not tell, as
/// another lamp's light has the same.
pub(super) fn is_mended_by_lamp_off(refusal: &Refusal) -> bool {
    refusal.reason == Reason::NoCutoff && refusal.english().contains("(lamp_off)")
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
    // Its picture is drawn while somebody reads the figure.
    let read = read_added(place, &entry(planned, photo, None, at_start), &Options::default())?;
    Ok(ReadAlone {
        may_be_taken_again: !read.entered,
        ..read
    })
}

/// Reads the one shot that is `added` to the job, and where it gives a figure enters it.
fn read_added(place: &Place, added: &str, options: &Options<'_>) -> Result<ReadAlone, Error> {
    let path = place.file();
    let before = read_text(&path)?;
    let job = of_one(&path, &before, added)?;
    job.check(&path)?;
    let findings = read(job, place, options)?;
    let entered = findings.readings.iter().any(|reading| reading.result.is_ok());
    if entered {
        let photos = findings
            .readings
            .iter()
            .map(|reading| reading.shot.photo.display().to_string());
        let photos = photos.collect::<Vec<_>>().join(", ");
        let what = |language| said!(language; "entered {photos}", "{photos} eingetragen");
        undo::change(&path, Kept::Job, what, append(&path, &before, added))?;
    }
    let shot = findings
        .readings
        .first()
        .map(|reading| &reading.shot)
        .filter(|_| entered);
    let has_others = shot
        .zip(place.job().ok())
        .is_some_and(|(shot, job)| of_state(&job, shot).len() > 1);
    Ok(ReadAlone {
        findings,
        entered,
        by_hand: false,
        may_be_taken_again: false,
        has_others,
    })
}

/// So many photos of one state are held against each other, the latest: more would keep somebody waiting, and all are read together for the readings.
const MOST_COMPARED: usize = 4;

/// The latest of the job's photos of the same state as this one of it; under a pump it takes the whole series to say whether they differ, and in a
/// leak-down they do.
fn of_state(job: &Job, of: &Shot) -> Vec<Shot> {
    if of.sealed || of.vacuum.is_some() {
        return Vec::new();
    }
    let of_trials: Vec<&PathBuf> = (job.trial.iter())
        .flat_map(|trial| trial.still.iter().chain(&trial.driven))
        .collect();
    let is_same = |shot: &&Shot| {
        shot.state_or_aim_check() == of.state_or_aim_check() && !shot.sealed && !of_trials.contains(&&shot.photo)
    };
    let same: Vec<&Shot> = job.shot.iter().filter(is_same).collect();
    let latest = same.len().saturating_sub(MOST_COMPARED);
    same[latest..].iter().map(|shot| (*shot).clone()).collect()
}

/// What a photo of the job shows, and what the library says where others of the same state differ from it.
///
/// # Errors
/// As [`read_alone`], and for a photo that the job does not list.
pub(super) fn contradicted(place: &Place, photo: &Path) -> Result<(Shot, Option<Warning>), Error> {
    let mut job = place.job()?;
    let Some(shot) = job.shot.iter().rfind(|shot| shot.photo == photo).cloned() else {
        return Err(not_listed());
    };
    job.shot = of_state(&job, &shot);
    if job.shot.len() < 2 {
        return Ok((shot, None));
    }
    let warnings = read(job, place, &Options::default())?.warnings;
    let differ = |warning: &Warning| matches!(warning, Warning::RepeatsDiffer { .. });
    Ok((shot, warnings.into_iter().find(differ)))
}

fn not_listed() -> Error {
    Error::said(|language| {
        said!(
            language;
            "the job does not list this photo any more; load the page again",
            "der Auftrag führt dieses Foto nicht mehr; die Seite neu laden"
        )
    })
}

/// Reads a photo of the job's folder by sheets that somebody placed in it, and where it gives a figure enters it with them.
///
/// # Errors
/// As [`read_alone`], and for a photo that is not there.
pub(super) fn read_by_hand(
    place: &Place,
    planned: &PlannedPhoto,
    photo: &Path,
    sheets: &[SheetByHand],
) -> Result<ReadAlone, Error> {
    is_there(place, photo)?;
    let placed = toml::Value::try_from(sheets).map_err(|e| Error::make("the sheets' places", e))?;
    let shot = entry(planned, &photo.to_string_lossy(), None, None);
    let added = format!("{shot}sheets_by_hand = {placed}\n");
    let read = read_added(place, &added, &Options::default().with_pictures())?;
    Ok(ReadAlone { by_hand: true, ..read })
}

/// Reads a photo of the job's folder by the edge that lies nearest to where somebody marked it, px of the upright photo. Where it gives a
/// figure so it is entered, or marked so where it is in the job already.
///
/// # Errors
/// As [`read_by_hand`], and where the place is not on the wall.
pub(super) fn read_near(
    place: &Place,
    planned: Option<&PlannedPhoto>,
    photo: &Path,
    at_px: [f64; 2],
) -> Result<ReadAlone, Error> {
    is_there(place, photo)?;
    let path = place.file();
    let before = read_text(&path)?;
    let listed: Job = parse_toml(&path, &before)?;
    let n = listed.shot.iter().position(|shot| shot.photo == photo);
    let added = || planned.map(|planned| entry(planned, &photo.to_string_lossy(), None, None));
    let mut job = match (n, added()) {
        (Some(n), _) => Job {
            shot: vec![listed.shot[n].clone()],
            ..listed
        },
        (None, Some(added)) => of_one(&path, &before, &added)?,
        (None, None) => {
            return Err(not_listed());
        }
    };
    let marked = Run::of(alone(job.clone()), &path, &place.folder)?.inclination_of_place(at_px)?;
    // A finger is no surer than that.
    let percent = (marked.map_err(|refusal| Error::said(|language| refusal.message.within(language).to_owned()))?
        * 100.0)
        .round()
        / 100.0;
    job.shot[0].edge_near_percent = Some(percent);
    job.check(&path)?;
    let findings = read(job, place, &Options::default().with_pictures())?;
    let entered = findings.readings.iter().any(|reading| reading.result.is_ok());
    if entered {
        let changed = match n {
            Some(n) => set_figures(
                &path,
                &before,
                Kept::Job,
                &[NewFigure {
                    table: "[[shot]]",
                    n,
                    key: "edge_near_percent",
                    value: Some(percent),
                }],
            ),
            None => {
                let added = added().unwrap_or_default();
                append(&path, &before, &format!("{added}edge_near_percent = {percent:?}\n"))
            }
        };
        let what = |language| {
            said!(
                language; "said by hand where the cut-off of {} is", "von Hand angegeben, wo die Hell-Dunkel-Grenze von {} ist";
                photo.display()
            )
        };
        undo::change(&path, Kept::Job, what, changed)?;
    }
    Ok(ReadAlone {
        findings,
        entered,
        by_hand: true,
        may_be_taken_again: false,
        has_others: false,
    })
}

/// What a photo of the job's folder says of the wall.
///
/// # Errors
/// As [`read_alone`], and for a photo that is not there.
pub(super) fn check_wall(place: &Place, photo: &Path) -> Result<Result<WallCheck, Refusal>, Error> {
    is_there(place, photo)?;
    let path = place.file();
    let mut job = place.job()?;
    let named = job.shot.iter().find(|shot| shot.photo == photo).cloned();
    let side = job.lamp.first().map_or(Side::Left, |lamp| lamp.side);
    job.shot = vec![named.unwrap_or_else(|| Shot::of(photo, side))];
    Run::of(alone(job), &path, &place.folder)?.check_wall()
}

/// As [`check_wall`] of a photo that was sent for that alone: it is taken away again, unless it lay there before it was sent.
///
/// # Errors
/// As [`check_wall`].
pub(super) fn check_sent_wall(
    place: &Place,
    photo: &Path,
    was_there: bool,
) -> Result<Result<WallCheck, Refusal>, Error> {
    let checked = check_wall(place, photo);
    let path = place.folder.join(photo);
    if !was_there && is_own_file(&path) {
        let _ = std::fs::remove_file(path);
    }
    checked
}

/// The files in the job's folder of photos.
pub(super) fn photos_there(place: &Place) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(place.folder.join(PHOTOS));
    let entries = entries.into_iter().flatten().flatten();
    entries.map(|entry| Path::new(PHOTOS).join(entry.file_name())).collect()
}

/// The wall that a planned photo is of.
///
/// # Errors
/// As [`Bay::read`].
pub(super) fn bay_of(place: &Place, job: &Job, planned: &PlannedPhoto) -> Result<Bay, Error> {
    let own = job
        .lamp_at(planned.lamp, planned.stage)
        .and_then(|lamp| lamp.bay.as_ref());
    Bay::read(&place.folder.join(own.unwrap_or(&job.bay)))
}

/// A photo of the job's folder, whole.
///
/// # Errors
/// [`Error`] for one that is not there or cannot be read.
pub(super) fn photo_bytes(place: &Place, photo: &Path) -> Result<Vec<u8>, Error> {
    is_there(place, photo)?;
    let path = place.folder.join(photo);
    if !is_own_file(&path) {
        return Err(Error::said(
            |language| said!(language; "{}: is no file of the job's own", "{}: ist keine Datei des Auftrags"; path.display()),
        ));
    }
    bounded_file::read(&path, MOST_PHOTO_BYTES)
        .map_err(|why| Error::said(|language| format!("{}: {}", path.display(), why.0.within(language))))
}

/// The job with the times that the photos of its leak-downs carry, where none is typed: by them a list knows which is which.
pub(super) fn timed(place: &Place, mut job: Job) -> Job {
    for shot in job.shot.iter_mut().filter(|shot| shot.sealed && shot.taken.is_none()) {
        let read = photo_bytes(place, &shot.photo).ok();
        shot.taken = read.and_then(|bytes| Capture::from_file(&bytes).taken);
    }
    job
}

/// The job with nothing but the shot that is `added`.
fn of_one(path: &Path, text: &str, added: &str) -> Result<Job, Error> {
    let mut job: Job = parse_toml(path, &format!("{text}\n{added}"))?;
    job.shot.drain(..job.shot.len().saturating_sub(1));
    Ok(job)
}

/// A photo of the job's folder read by itself with its picture.
///
/// # Errors
/// As [`read_alone`], and for a photo that is not there.
pub(super) fn seen(place: &Place, planned: &PlannedPhoto, photo: &Path) -> Result<Findings, Error> {
    is_there(place, photo)?;
    let path = place.file();
    let added = entry(planned, &photo.to_string_lossy(), None, None);
    read(
        of_one(&path, &read_text(&path)?, &added)?,
        place,
        &Options::default().with_pictures(),
    )
}

/// A photo that the job lists, read by itself as it stands there, with its picture.
///
/// # Errors
/// As [`read_alone`], and for a photo that the job does not list.
pub(super) fn held(place: &Place, photo: &Path) -> Result<Findings, Error> {
    is_there(place, photo)?;
    let mut job = place.job()?;
    job.shot.retain(|shot| shot.photo == photo);
    if job.shot.is_empty() {
        return Err(not_listed());
    }
    read(job, place, &Options::default().with_pictures())
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
        return Err(Error::said(|language| {
            said!(
                language;
                "the job has no photo of this view yet that wants one with the lamp off; take the others first",
                "der Auftrag hat noch kein Foto dieser Ansicht, zu dem eines ohne Licht fehlt; erst die anderen aufnehmen"
            )
        }));
    }
    let named: Vec<PathBuf> = shots.iter().map(|shot| shot.photo.clone()).collect();
    let with_off = |shot| Shot {
        lamp_off: Some(PathBuf::from(lamp_off)),
        ..shot
    };
    job.shot = shots.into_iter().map(with_off).collect();
    let findings = read(job, place, &Options::default().with_pictures())?;
    let entered = findings.readings.iter().any(|reading| reading.result.is_ok());
    if entered {
        let changed = give_lamp_off(&path, &before, &named, lamp_off);
        let what =
            |language| said!(language; "{lamp_off} as the photo with the lamp off", "{lamp_off} als Foto ohne Licht");
        undo::change(&path, Kept::Job, what, changed)?;
    }
    Ok(ReadAlone {
        findings,
        entered,
        by_hand: false,
        may_be_taken_again: false,
        has_others: false,
    })
}

/// Photos read by themselves. What is to be turned only the whole job tells: one photo does not know whether its beam follows.
fn read(job: Job, place: &Place, options: &Options<'_>) -> Result<Findings, Error> {
    let mut findings = Run::of(alone(job), &place.file(), &place.folder)?.measure(options)?;
    let measured = findings
        .readings
        .iter_mut()
        .filter_map(|reading| reading.result.as_mut().ok());
    measured.for_each(|measured| measured.do_not_turn(None));
    Ok(findings)
}

/// Of parts and tests these photos alone say nothing.
fn alone(mut job: Job) -> Job {
    (job.system, job.trial, job.repair) = (None, Vec::new(), Vec::new());
    job
}

/// Enters a photo that gave no figure, as where one with the lamp off is to come. Its path is one of those in the job's folder of
/// photos, or nothing is done.
///
/// # Errors
/// As [`append`], and for a photo that is not there.
pub(super) fn enter(place: &Place, planned: &PlannedPhoto, photo: &Path) -> Result<(), Error> {
    is_there(place, photo)?;
    let path = place.file();
    let listed = photo.to_string_lossy();
    let changed = append(&path, &read_text(&path)?, &entry(planned, &listed, None, None));
    undo::change(
        &path,
        Kept::Job,
        |language| said!(language; "entered {listed}", "{listed} eingetragen"),
        changed,
    )
}

/// Photos that were taken already and lie in the job's folder, put in order by their times and paired with what the list still wants.
pub(super) struct Heap {
    pub folder: Folder,
    pub pairing: Pairing,
    /// Photos that lay there before these were sent and are not in the job: refused then, or sent and left.
    pub before: Vec<String>,
    /// Photos that were sent with these and are in the job already, by the names of their files, each with what it is there.
    pub had: Vec<(String, String)>,
    /// What a photo with a time can be said to show; one without, what [`may_be_said`] of it.
    pub open: Vec<PlannedPhoto>,
    /// What the list has between photos of which somebody said what they show, and of which there is no photo.
    pub missing: Vec<PlannedPhoto>,
}

impl Heap {
    /// Whether each photo has its place, so that they can be entered.
    pub fn fits(&self) -> bool {
        self.folder.unplaced.is_empty() && self.pairing.faults.is_empty() && !self.pairing.pairs.is_empty()
    }
}

/// Pairs a heap of photos.
///
/// # Errors
/// As [`read_folder`], and for a list that does not fit the job.
pub(super) fn heap(language: Language, place: &Place, choice: &Choice) -> Result<Heap, Error> {
    let path = place.file();
    let job = timed(place, place.job()?);
    let photos = choice.photos(&job)?;
    let at = place.folder.join(PHOTOS);
    // What was refused before would take another's place in the order, so that all behind it are entered as something else.
    let of_before: Vec<String> = names_of_photos(&at)?
        .into_iter()
        .filter(|name| !choice.is_of_heap(name) && !choice.skip.contains(name))
        .collect();
    let skip: Vec<PathBuf> = choice.skip.iter().chain(&of_before).map(PathBuf::from).collect();
    let mut folder = read_folder(language, &at, &job, &path, &skip, Numbers::OfArrival, &|| {})?;
    // One of a leak-down that was left out when the others were entered can still be among these.
    let is_among = |photo: &PlannedPhoto| {
        let due = due(photo, &photos, &job).filter(|_| is_passed(photo, &photos, &job));
        let times = || folder.photos.iter().filter_map(|photo| photo.capture.clock_s());
        due.is_some_and(|(due_s, within_s)| times().any(|taken_s| (taken_s - due_s).abs() < within_s))
    };
    let wanted = photos
        .iter()
        .filter(|photo| !is_done(photo, &photos, &job) || is_among(photo));
    let mut wanted: Vec<PlannedPhoto> = wanted.cloned().collect();
    let is_lit = |photo: &&PlannedPhoto| photo.shows != Shows::LampOff;
    let open = wanted.iter().filter(is_lit).cloned().collect();
    let missing = leave_out_missing(choice, &mut wanted, &folder);
    let told = told(choice, &mut wanted, &mut folder);
    if choice.rest.is_some() {
        wanted.truncate(folder.photos.len());
    }
    let mut pairing = pair(language, &wanted, &folder, &job);
    pairing.pairs.extend(told);
    pairing.pairs.sort_by_key(|(planned, _)| planned.number);
    let listed: Vec<&PathBuf> = files_of(&job).collect();
    let is_in_job = |name: &String| listed.contains(&&Path::new(PHOTOS).join(name));
    let before = of_before.into_iter().filter(|name| !is_in_job(name)).collect();
    let had = choice
        .had
        .iter()
        .filter_map(|name| Some((name.clone(), what_it_is(language, &job, name)?)));
    let had = had.collect();
    Ok(Heap {
        folder,
        pairing,
        before,
        had,
        open,
        missing,
    })
}

/// Leaves out of the list what was not taken, where somebody said what photos behind it show: these and all later ones move along with their times.
/// Nothing is left out where what was said goes against the times, or where more photos lie before one than the list has.
fn leave_out_missing(choice: &Choice, wanted: &mut Vec<PlannedPhoto>, folder: &Folder) -> Vec<PlannedPhoto> {
    let place = |(name, number): &(String, usize)| {
        let photo = folder.photos.iter().position(|photo| photo.name == *name)?;
        Some((photo, wanted.iter().position(|planned| planned.number == *number)?))
    };
    let mut said: Vec<(usize, usize)> = choice.shows.iter().filter_map(place).collect();
    said.sort_unstable();
    let (mut kept, mut from) = (Vec::new(), (0, 0));
    for (photo, planned) in said {
        let (photos, places) = (photo.checked_sub(from.0), planned.checked_sub(from.1));
        let Some(photos) = photos
            .zip(places)
            .filter(|(photos, places)| photos <= places)
            .map(|(photos, _)| photos)
        else {
            return Vec::new();
        };
        kept.extend(from.1..from.1 + photos);
        kept.push(planned);
        from = (photo + 1, planned + 1);
    }
    kept.extend(from.1..wanted.len());
    let (kept, missing): (Vec<_>, Vec<_>) = (wanted.drain(..).enumerate()).partition(|(n, _)| kept.contains(n));
    wanted.extend(kept.into_iter().map(|(_, planned)| planned));
    missing.into_iter().map(|(_, planned)| planned).collect()
}

/// Whether a photo can be said to be this one: a leak-down lives by its times, and the lamp off is a matter of the view's others.
pub(super) fn may_be_said(planned: &PlannedPhoto) -> bool {
    !matches!(planned.shows, Shows::Sealed { .. } | Shows::LampOff)
}

/// Takes out of the list and of the photos those of which somebody said which is which.
fn told(choice: &Choice, wanted: &mut Vec<PlannedPhoto>, folder: &mut Folder) -> Vec<(PlannedPhoto, TakenPhoto)> {
    let mut told = Vec::new();
    for (name, number) in &choice.shows {
        let untimed = folder
            .unplaced
            .iter()
            .position(|one| one.name == *name && one.photo.is_some());
        let timed = folder.photos.iter().position(|photo| photo.name == *name);
        let planned = wanted
            .iter()
            .position(|planned| planned.number == *number && (timed.is_some() || may_be_said(planned)));
        if let Some(planned) = planned {
            let photo = match (untimed, timed) {
                (Some(n), _) => folder.unplaced.remove(n).photo,
                (None, Some(n)) => Some(folder.photos.remove(n)),
                (None, None) => None,
            };
            told.extend(photo.map(|photo| (wanted.remove(planned), photo)));
        }
    }
    told
}

/// What a photo of the job's folder is to the job; `None` where it names none of that name.
fn what_it_is(language: Language, job: &Job, name: &str) -> Option<String> {
    let photo = Path::new(PHOTOS).join(name);
    let lit = job.shot.iter().filter(|shot| shot.photo == photo);
    let lit = lit.map(|shot| what_it_shows(language, shot)).collect::<Vec<_>>();
    if !lit.is_empty() {
        return Some(lit.join("; "));
    }
    let is_off = job.shot.iter().any(|shot| shot.lamp_off.as_ref() == Some(&photo));
    is_off.then(|| {
        language
            .pick("the photo with the lamp off", "das Foto ohne Licht")
            .to_owned()
    })
}

/// The photos that a job names.
fn files_of(job: &Job) -> impl Iterator<Item = &PathBuf> {
    let shots = job.shot.iter();
    let shots = shots.flat_map(|shot| [&shot.photo].into_iter().chain(&shot.lamp_off).chain(&shot.brackets));
    shots.chain(
        job.trial
            .iter()
            .flat_map(|trial| trial.still.iter().chain(&trial.driven)),
    )
}

/// What became of a heap of photos that was to be entered.
pub(super) enum HeapEntered {
    /// Nothing was entered: this is asked first.
    Asks(String),
    /// Those that give a figure are in the job. All of the job was read with them; `left` gave none and are not in it.
    Entered { findings: Box<Findings>, left: usize },
}

/// Enters those of a heap of photos that give a figure, as what they were paired with: as with a photo that comes alone, what is refused is mended or
/// taken again, and would only be in the way. Where the light of some is not that of what they are taken to be, nothing is entered unless somebody
/// is sure.
///
/// # Errors
/// As [`heap`] and [`append`], and where they do not fit the list.
pub(super) fn enter_heap(
    language: Language,
    place: &Place,
    choice: &Choice,
    is_sure: bool,
    cache: Option<&Cache>,
) -> Result<HeapEntered, Error> {
    let path = place.file();
    let before = read_text(&path)?;
    let heap = heap(language, place, choice)?;
    if !heap.fits() {
        return Err(Error::said(|language| {
            said!(
                language;
                "the photos do not fit the list any more; load the page again",
                "die Fotos passen nicht mehr zur Liste; die Seite neu laden"
            )
        }));
    }
    if !heap.pairing.doubts.is_empty() && !is_sure {
        let all: Vec<&str> = heap.pairing.doubts.iter().map(|(_, why)| why.as_str()).collect();
        let all = all.join("\n");
        return Ok(HeapEntered::Asks(said!(
            language; "{all}\nEnter them all the same?", "{all}\nTrotzdem eintragen?"
        )));
    }
    let mut pairs = heap.pairing.pairs;
    let with_all: Job = parse_toml(&path, &format!("{before}\n{}", entries(&pairs)))?;
    let options = Options::default().with_cache(cache);
    let findings = Run::of(with_all.clone(), &path, &place.folder)?.measure(&options)?;
    let of_other_lamp = shows_other_lamp(with_all, &findings, place, &options)?;
    if !of_other_lamp.is_empty() {
        let each = pairs
            .iter()
            .filter(|(_, photo)| of_other_lamp.iter().any(|one| one == Path::new(&photo.listed_as)));
        let each: Vec<(PlannedPhoto, String)> = each
            .map(|(planned, photo)| (planned.clone(), photo.name.clone()))
            .collect();
        return Err(Error::said(|language| {
            let each = each
                .iter()
                .map(|(planned, name)| format!("{}. {} ({name})", planned.number, describe(language, planned)));
            let each = listed(language, &each.collect::<Vec<_>>());
            said!(
                language;
                "the order slipped: {each} shows the other lamp's beam, so that a photo is missing before it, or one too many was sent, and \
                 those behind it may be taken for what they are not. Nothing was entered. Say at each photo that is taken for the wrong one \
                 what it shows, or leave it out",
                "die Reihenfolge ist verrutscht: {each} zeigt den Lichtkegel des anderen Scheinwerfers. Davor fehlt also ein Foto, oder eines \
                 wurde zu viel gesendet, und die dahinter können für etwas Falsches gehalten sein. Eingetragen wurde nichts. Bei jedem \
                 Foto, das für ein falsches gehalten wird, angeben, was es zeigt, oder es auslassen"
            )
        }));
    }
    let is_refused = |photo: &TakenPhoto| {
        let mut readings = findings.readings.iter();
        let listed = Path::new(&photo.listed_as);
        readings.any(|reading| reading.shot.photo == listed && reading.result.is_err())
    };
    let shots = pairs.iter().filter(|(planned, _)| planned.shows != Shows::LampOff);
    let refused: HashSet<usize> = shots
        .filter(|(_, photo)| is_refused(photo))
        .map(|(planned, _)| planned.number)
        .collect();
    pairs.retain(|(planned, _)| !refused.contains(&planned.number));
    // A photo with the lamp off stands in the entries of its view, or nowhere.
    let views: HashSet<usize> = pairs
        .iter()
        .filter(|(planned, _)| planned.shows != Shows::LampOff)
        .map(|(planned, _)| planned.view)
        .collect();
    pairs.retain(|(planned, _)| views.contains(&planned.view));
    let count = pairs.len();
    if count > 0 {
        let changed = append(&path, &before, &entries(&pairs));
        let what = |language: Language| {
            if count == 1 {
                language.pick("entered one photo", "ein Foto eingetragen").to_owned()
            } else {
                said!(language; "entered {count} photos at once", "{count} Fotos auf einmal eingetragen")
            }
        };
        undo::change(&path, Kept::Job, what, changed)?;
    }
    if choice.rest == Some(Rest::Never) && count > 0 {
        // Nobody goes on with a list of which nothing is to come.
        place.forget_list();
    } else {
        place.keep_list(&choice.query(1));
    }
    Ok(HeapEntered::Entered {
        findings: Box::new(findings),
        left: refused.len(),
    })
}

/// The photos of a job that give no figure of the lamp that they are entered for, and give one of the other: a photo that came alone would be
/// looked at again, and in a heap it tells that the order slipped.
fn shows_other_lamp(
    mut job: Job,
    findings: &Findings,
    place: &Place,
    options: &Options<'_>,
) -> Result<Vec<PathBuf>, Error> {
    let is_refused = |shot: &Shot| {
        let mut readings = findings.readings.iter();
        readings.any(|reading| reading.shot.photo == shot.photo && reading.result.is_err())
    };
    job.shot.retain(is_refused);
    job.trial.clear();
    for shot in &mut job.shot {
        shot.lamp = shot.lamp.other();
    }
    let lamps: Vec<_> = job.lamp.iter().map(|lamp| lamp.side).collect();
    job.shot.retain(|shot| lamps.contains(&shot.lamp));
    if job.shot.is_empty() {
        return Ok(Vec::new());
    }
    let read = Run::of(job, &place.file(), &place.folder)?.measure(options)?.readings;
    Ok(read
        .into_iter()
        .filter(|reading| reading.result.is_ok())
        .map(|reading| reading.shot.photo)
        .collect())
}

/// Fails unless a photo's path is one of those in the job's folder of photos.
fn is_there(place: &Place, photo: &Path) -> Result<(), Error> {
    if photos_there(place).iter().any(|name| name == photo) {
        Ok(())
    } else {
        Err(Error::said(|language| {
            said!(
                language;
                "this photo is not in the job's folder any more; take it again",
                "dieses Foto liegt nicht mehr im Ordner des Auftrags; es neu aufnehmen"
            )
        }))
    }
}

/// What is known of a job's parts.
pub(super) enum Known {
    /// The job does not say which parts its car has.
    NoSystem,
    Isolated(Box<Isolated>, Box<Job>),
}

/// Which part is at fault.
///
/// # Errors
/// As [`Run::isolate`].
pub(super) fn isolate(place: &Place, cache: Option<&Cache>) -> Result<Known, Error> {
    let job = place.job()?;
    if job.system.is_none() {
        return Ok(Known::NoSystem);
    }
    let (isolated, _) = Run::open(place.file())?.isolate(&Options::default().with_cache(cache))?;
    Ok(Known::Isolated(Box::new(isolated), Box::new(job)))
}

/// The system that the job names, where it names one.
///
/// # Errors
/// As [`System::find`].
pub(super) fn system(place: &Place, job: &Job) -> Result<Option<System>, Error> {
    let find = |name: &String| System::find(name, &place.folder);
    job.system.as_ref().map(find).transpose()
}

/// Names the job's system.
///
/// # Errors
/// As [`name_system`], and for one that is not shipped.
pub(super) fn choose_system(place: &Place, name: &str) -> Result<(), Error> {
    if !system_names().iter().any(|shipped| shipped == name) {
        return Err(Error::said(|language| {
            said!(
                language;
                "choose one of the systems that are listed",
                "eine der aufgeführten Anlagen wählen"
            )
        }));
    }
    let path = place.file();
    let changed = name_system(&path, &read_text(&path)?, name);
    let what = |language: Language| language.pick("named the system", "die Anlage angegeben").to_owned();
    undo::change(&path, Kept::Job, what, changed)
}

/// How the change begins that enters a test.
pub(super) const fn entered_test(language: Language) -> &'static str {
    language.pick("entered a test: ", "Prüfung eingetragen: ")
}

/// What is amiss with the two photos that are to decide a test, without a look at them: one is missing, or they are one.
fn amiss_with_photos(trial: &Trial) -> Option<Error> {
    let say = |english: &'static str, german: &'static str| {
        Some(Error::said(move |language| language.pick(english, german).to_owned()))
    };
    match (&trial.still, &trial.driven) {
        _ if trial.moves.is_some() => None,
        (None, None) => say("Both photos are missing.", "Beide Fotos fehlen."),
        (None, Some(_)) => say("The first photo is missing.", "Das erste Foto fehlt."),
        (Some(_), None) => say("The second photo is missing.", "Das zweite Foto fehlt."),
        (Some(still), Some(driven)) if still == driven => say("Both are the same photo.", "Beide sind dasselbe Foto."),
        _ => None,
    }
}

/// Reads the two photos of a test as the job would with it. One that gives no figure is told, as the library says it, and the test is not entered: it
/// would not count.
///
/// # Errors
/// Those of the photos, and as [`Run::of`].
fn read_photos_of(place: &Place, text: &str, added: &str, trial: &Trial, cache: Option<&Cache>) -> Result<(), Error> {
    let path = place.file();
    let mut job: Job = parse_toml(&path, &format!("{text}\n{added}"))?;
    job.trial.drain(..job.trial.len().saturating_sub(1));
    let is_its = |shot: &Shot| [&trial.still, &trial.driven].contains(&&Some(shot.photo.clone()));
    // A photo that the job lists is read as what it says there.
    job.shot.retain(is_its);
    let options = Options::default().with_cache(cache);
    let (isolated, _) = Run::of(job, &path, &place.folder)?.isolate(&options)?;
    let unread = &isolated.trials.unread;
    if unread.is_empty() {
        return Ok(());
    }
    let told = |language: Language| {
        let each = unread.iter().map(|one| {
            let why = one.message.within(language);
            if trial.still.as_ref() == Some(&one.photo) {
                said!(language; "The photo at rest gives no figure: {why}", "Das Foto in Ruhe gibt keinen Wert: {why}")
            } else {
                said!(
                    language; "The photo with the test applied gives no figure: {why}", "Das Foto bei der Prüfung gibt keinen Wert: {why}"
                )
            }
        });
        let each: Vec<String> = each.collect();
        said!(
            language;
            "{}. Nothing is entered, as the test would not count: give another photo for it, or answer by what you see.",
            "{}. Nichts ist eingetragen, da die Prüfung nicht zählen würde: ein anderes Foto dafür angeben oder nach dem antworten, was zu sehen ist.";
            each.join(". ")
        )
    };
    Err(Error::said(told))
}

/// Enters a test that was done.
///
/// # Errors
/// As [`append`], for what the job's system does not have, and for photos that cannot decide it.
pub(super) fn enter_trial(place: &Place, trial: &Trial, cache: Option<&Cache>) -> Result<(), Error> {
    let Some(system) = system(place, &place.job()?)? else {
        return Err(Error::said(|language| {
            said!(
                language;
                "choose the car's system first",
                "zuerst die Anlage des Fahrzeugs wählen"
            )
        }));
    };
    if system.test(&trial.test).is_none() {
        return Err(Error::said(|language| {
            said!(
                language;
                "the job's system has no such test; load the page again",
                "die Anlage des Auftrags hat keine solche Prüfung; die Seite neu laden"
            )
        }));
    }
    let test = system.test(&trial.test).map(|test| &system.tests[test]);
    if test
        .zip(trial.moves)
        .is_some_and(|(test, moves)| !test.has_answer(moves))
    {
        return Err(Error::said(|language| {
            said!(
                language;
                "this test has no such answer; load the page again",
                "diese Prüfung hat keine solche Antwort; die Seite neu laden"
            )
        }));
    }
    let photos = [&trial.still, &trial.driven].into_iter().flatten();
    for photo in photos {
        is_there(place, photo)?;
    }
    if let Some(amiss) = amiss_with_photos(trial) {
        return Err(amiss);
    }
    let path = place.file();
    let (text, added) = (read_text(&path)?, trial_entry(trial)?);
    if trial.moves.is_none() {
        read_photos_of(place, &text, &added, trial, cache)?;
    }
    let changed = append(&path, &text, &added);
    let what = |language: Language| {
        let name = test.map_or_else(String::new, |test| test_name(language, test));
        let given = test
            .zip(trial.moves)
            .map(|(test, moves)| answer_words(language, test, moves));
        let came_out = given.unwrap_or_else(|| by_photos(language));
        let gauge = beside_beam(language, trial.gauge);
        format!("{}{name}, {came_out}{gauge}", entered_test(language))
    };
    undo::change(&path, Kept::Job, what, changed)
}

/// What is possible of a test's answer and hardly so: the same test has one of the same state of the car, as where two tabs or phones answer it, or
/// the gauge holds while the beam creeps back. Of what cannot be entered at all nothing is asked.
pub(super) fn doubt_of_trial(language: Language, place: &Place, trial: &Trial) -> Option<String> {
    let job = place.job().ok()?;
    let system = system(place, &job).ok().flatten()?;
    let test = &system.tests[system.test(&trial.test)?];
    let mut photos = trial.still.iter().chain(&trial.driven);
    let is_amiss = trial.moves.is_some_and(|moves| !test.has_answer(moves)) || amiss_with_photos(trial).is_some();
    if is_amiss || photos.any(|photo| is_there(place, photo).is_err()) {
        return None;
    }
    let is_after = |trial: &Trial| trial.stage == Some(Stage::After);
    // What was not done is no answer, and an answer beside it is the first.
    let is_answer = |trial: &Trial| trial.moves != Some(TrialMoves::NotDone);
    // Across a repair a second answer is no slip but what the repair did. What is from after one stands below the first at least, however the file
    // is ordered; what is from before it is of one state.
    let is_of_now = |n: usize| job.repairs_above.get(n).copied().unwrap_or(0).max(1) >= job.repair.len();
    let is_same = |n: usize, other: &Trial| is_after(other) == is_after(trial) && (!is_after(trial) || is_of_now(n));
    let of_test = |(n, other): &(usize, &Trial)| other.test == trial.test && is_same(*n, other) && is_answer(other);
    let in_words = |trial: &Trial| {
        trial
            .moves
            .map_or_else(|| by_photos(language), |moves| answer_words(language, test, moves))
    };
    let earlier = job.trial.iter().enumerate().filter(of_test);
    let given: Vec<String> = earlier.map(|(_, other)| in_words(other)).collect();
    let twice = (!given.is_empty()).then(|| {
        said!(
            language;
            "This test is answered in the job already: {}. Was it done once more? Then enter “{}” beside it: both count. If the first was a slip, \
             take it out under “What is in the job”.",
            "Diese Prüfung ist im Auftrag schon beantwortet: {}. Wurde sie noch einmal gemacht? Dann „{}“ daneben eintragen: beide zählen. War die \
             erste Antwort ein Versehen, sie unter „Inhalt des Auftrags“ herausnehmen.";
            given.join("; "),
            in_words(trial)
        )
    });
    let odd = match (trial.gauge, trial.moves) {
        (Some(Gauge::RisesAndHolds), Some(TrialMoves::CreepsBack)) => Some(language.pick(
            "A gauge that holds and a beam that creeps back do not go together: look at the gauge again, or enter it all the same. Enter it?",
            "Ein Unterdruckmesser, der hält, und ein Lichtkegel, der zurückkriecht, passen nicht zusammen: noch einmal auf den Unterdruckmesser \
             sehen oder trotzdem eintragen. Eintragen?",
        )),
        (Some(Gauge::WillNotRise), Some(TrialMoves::Yes)) => Some(language.pick(
            "A gauge that will not rise and a beam that moves do not go together: look at the gauge and its hose again, or enter it all the same. \
             Enter it?",
            "Ein Unterdruckmesser, der nicht steigt, und ein Lichtkegel, der sich bewegt, passen nicht zusammen: noch einmal auf den \
             Unterdruckmesser und seinen Schlauch sehen oder trotzdem eintragen. Eintragen?",
        )),
        _ => None,
    };
    let asked: Vec<String> = odd.map(str::to_owned).into_iter().chain(twice).collect();
    (!asked.is_empty()).then(|| asked.join(" "))
}

fn by_photos(language: Language) -> String {
    language.pick("by two photos", "durch zwei Fotos").to_owned()
}

/// What the system calls a part; a job may name one that its system no longer has.
fn part_name<'a>(language: Language, system: Option<&'a System>, id: &'a str) -> &'a str {
    let part = system.and_then(|system| system.components.iter().find(|part| part.id == id));
    part.map_or(id, |part| part.label.within(language))
}

/// What was done and to which part: the words alone are the same for many a part, and one that was entered for the wrong part would not be seen.
pub(super) fn repair_words(language: Language, system: Option<&System>, repair: &RepairEntry) -> String {
    let done = repair.words.trim();
    let Some(part) = &repair.component else {
        return done.to_owned();
    };
    let part = part_name(language, system, part);
    let piece = if repair.extent == Some(Extent::Piece) {
        language.pick(", a piece of it", ", ein Stück davon")
    } else {
        ""
    };
    format!("{part}{piece}: {done}")
}

/// All that is hardly so of a repair, as one answer covers it all. `out`: the shots that go with it; `known`: what is known of the parts.
pub(super) fn doubt_of_repair(
    language: Language,
    place: &Place,
    repair: &RepairEntry,
    out: &[usize],
    known: Option<&Known>,
) -> Option<String> {
    let twice = doubt_of_twice(language, place, repair);
    let all: Vec<String> = (doubt_of_cleared(language, repair, known).into_iter())
        .chain(twice)
        .chain(doubt_of_day(language, place, &repair.date, out))
        .collect();
    (!all.is_empty()).then(|| all.join("\n"))
}

/// Whether the tests have cleared the part that is said to be mended, by the library's own word: what is asked then.
fn doubt_of_cleared(language: Language, repair: &RepairEntry, known: Option<&Known>) -> Option<String> {
    let Some(Known::Isolated(isolated, _)) = known else {
        return None;
    };
    check_repair(repair).ok()?;
    let part = isolated.system.component(repair.component.as_ref()?)?;
    let is_cleared = isolated.standings().get(part) == Some(&Standing::Cleared);
    is_cleared.then(|| {
        said!(
            language;
            "The tests clear the {} (left that it is at fault: {}). Was it this part?",
            "Die Prüfungen entlasten dieses Bauteil: {} (dass es doch fehlerhaft ist: noch {}). War es dieses?";
            isolated.system.components[part].label.within(language),
            percent(isolated.answer.by_component[part])
        )
    })
}

/// Whether the job has a repair of the same part and day already, as where two tabs or phones enter it: what is asked then. Of what was done to no
/// part the words must be the same.
fn doubt_of_twice(language: Language, place: &Place, repair: &RepairEntry) -> Option<String> {
    let job = place.job().ok()?;
    check_repair(repair).ok()?;
    let (day, words) = (repair.date.trim(), repair.words.trim().to_lowercase());
    let is_same = |other: &&RepairEntry| {
        let is_as_said = repair.component.is_some() || other.words.trim().to_lowercase() == words;
        other.component == repair.component && other.date.trim() == day && is_as_said
    };
    let earlier = job.repair.iter().find(is_same)?;
    let system = system(place, &job).ok().flatten();
    let day = report::text::date(language, day);
    let there = repair_words(language, system.as_ref(), earlier);
    Some(said!(
        language;
        "The job has a repair of {day} like this already: {there}. Enter “{}” beside it?",
        "Der Auftrag hat schon eine solche Reparatur vom {day}: {there}. „{}“ daneben eintragen?";
        repair.words.trim()
    ))
}

/// When photos from after a repair were taken, beside one that is entered now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Taken {
    /// All of them before it.
    Before,
    /// Those of the first of two bouts before it, the others after it.
    FirstBefore,
    /// All of them after it, or it changed nothing at their lamp.
    After,
}

/// What was done to the car, as the page asks it.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RepairSaid {
    component: Option<String>,
    date: String,
    words: String,
    extent: Option<Extent>,
    /// When the photos of each lamp were taken that the job has from after a repair.
    left_photos: Option<Taken>,
    right_photos: Option<Taken>,
}

impl RepairSaid {
    /// The repair as the job has it. What is no part has no piece.
    pub fn entry(&self) -> RepairEntry {
        RepairEntry {
            component: self.component.clone(),
            date: self.date.clone(),
            words: self.words.clone(),
            extent: self.extent.filter(|_| self.component.is_some()),
        }
    }

    const fn taken(&self, side: Side) -> Option<Taken> {
        match side {
            Side::Left => self.left_photos,
            Side::Right => self.right_photos,
        }
    }
}

/// The photos of a lamp that the job has from after a repair, in order of their times; those without one first.
pub(super) struct PhotosAfter {
    pub side: Side,
    /// Their numbers in the job, and when each was taken, ISO 8601.
    pub photos: Vec<(usize, Option<String>)>,
    /// Those with the pump.
    pub pumped: Vec<(usize, Option<String>)>,
    /// When the last photo of the first of two bouts was taken, ISO 8601, where they lie in two.
    pub first_until: Option<String>,
}

/// The photos from after a repair, lamp by lamp, that another repair may outdate. Of a job without a repair none: they are from after the first.
pub(super) fn photos_after(place: &Place, job: &Job) -> Vec<PhotosAfter> {
    if job.repair.is_empty() {
        return Vec::new();
    }
    let taken = |shot: &Shot| {
        let typed = shot.taken.as_ref().map(ToString::to_string);
        typed.or_else(|| Capture::from_file(&photo_bytes(place, &shot.photo).ok()?).taken)
    };
    let of_lamp = |side: Side| {
        let shots = job.shot.iter().enumerate();
        let after = shots.filter(|(_, shot)| shot.lamp == side && shot.stage == Some(Stage::After));
        let (mut pumped, mut photos): (Vec<_>, Vec<_>) = after
            .map(|(n, shot)| (n, taken(shot)))
            .partition(|(n, _)| job.shot[*n].is_pumped());
        for all in [&mut pumped, &mut photos] {
            all.sort_by(|a, b| a.1.cmp(&b.1));
        }
        let clock_s = |taken: &Option<String>| {
            let capture = Capture {
                taken: taken.clone(),
                ..Capture::default()
            };
            capture.clock_s()
        };
        let times_s: Option<Vec<f64>> = photos.iter().map(|(_, taken)| clock_s(taken)).collect();
        let second = times_s.and_then(|times_s| behind_last_pause(&times_s));
        let first_until = second.and_then(|second| photos[second - 1].1.clone());
        (!photos.is_empty() || !pumped.is_empty()).then_some(PhotosAfter {
            side,
            photos,
            pumped,
            first_until,
        })
    };
    [Side::Left, Side::Right].into_iter().filter_map(of_lamp).collect()
}

/// The job's shots, by their numbers, that show the car before a repair that is entered now, by what was said of them.
///
/// # Errors
/// [`Error`] where nothing was said of photos that it concerns.
pub(super) fn outdated(place: &Place, job: &Job, said: &RepairSaid) -> Result<Vec<usize>, Error> {
    let (repair, system) = (said.entry(), system(place, job).ok().flatten());
    let mut out = Vec::new();
    for of in photos_after(place, job) {
        let all = of.photos.iter().chain(&of.pumped);
        let concerned: Vec<_> = all
            .filter(|(n, _)| is_outdated_by(system.as_ref(), &repair, &job.shot[*n]))
            .collect();
        let side = of.side;
        let unsaid = || {
            Error::said(|language| {
                let stem = side.stem();
                said!(
                    language;
                    "say whether the photos of the {side} lamp were taken before this repair or after it",
                    "angeben, ob die Fotos des {stem}en Scheinwerfers vor dieser Reparatur aufgenommen sind oder danach"
                )
            })
        };
        if concerned.is_empty() {
            continue;
        }
        match said.taken(side).ok_or_else(unsaid)? {
            Taken::Before => out.extend(concerned.iter().map(|(n, _)| *n)),
            Taken::FirstBefore => {
                let until = of.first_until.as_deref().ok_or_else(unsaid)?;
                let is_first = |taken: &Option<String>| taken.as_deref().is_some_and(|taken| taken <= until);
                out.extend(concerned.iter().filter(|(_, taken)| is_first(taken)).map(|(n, _)| *n));
            }
            Taken::After => {}
        }
    }
    Ok(out)
}

/// The list that asks once more for what these shots of the job show: at all positions that their lamps were photographed at, so that a travel is of one
/// state of the car.
fn list_again(job: &Job, out: &[usize]) -> Option<Choice> {
    let gone = || out.iter().map(|&n| &job.shot[n]);
    let first = gone().next()?.lamp;
    let lamp = gone().all(|shot| shot.lamp == first).then_some(first);
    let of_lamp = |shot: &&Shot| lamp.is_none_or(|lamp| shot.lamp == lamp) && !shot.is_pumped();
    let mut positions: Vec<&str> = Vec::new();
    for position in job
        .shot
        .iter()
        .filter(of_lamp)
        .filter_map(|shot| shot.position.as_deref())
    {
        if !positions.contains(&position.trim()) {
            positions.push(position.trim());
        }
    }
    in_order(&mut positions, |position| *position);
    let is_travel = positions.len() > 1;
    let (is_aimed, is_stepped) = (
        gone().any(|shot| !shot.is_pumped()),
        gone().any(|shot| shot.is_pumped() && !shot.sealed),
    );
    let is_shut = gone().any(|shot| shot.sealed);
    let wanted = [
        (Check::Aim, is_aimed && !is_travel),
        (Check::Positions, is_aimed && is_travel),
        (Check::Vacuum, is_stepped),
        (Check::LeakDown, is_shut),
    ];
    let mut choice = Choice::of_query("").ok()?;
    choice.checks = wanted
        .into_iter()
        .filter(|(_, is)| *is)
        .map(|(check, _)| check)
        .collect();
    (choice.lamp, choice.stage) = (lamp, Some(Stage::After));
    if is_travel {
        choice.positions = positions.join(",");
    }
    Some(choice)
}

/// Enters what was done to the car, and takes out the photos that show it as it was before that.
///
/// # Errors
/// As [`outdated`] and [`append_repair`].
pub(super) fn enter_repair(place: &Place, said: &RepairSaid) -> Result<(), Error> {
    let repair = said.entry();
    check_repair(&repair)?;
    let path = place.file();
    let text = read_text(&path)?;
    let job: Job = parse_toml(&path, &text)?;
    let system = system(place, &job).ok().flatten();
    let out = outdated(place, &job, said)?;
    let changed = append_repair(&path, &text, &repair_entry(&repair)?, &out);
    let what = |language| {
        let done = repair_words(language, system.as_ref(), &repair);
        let entered = said!(language; "entered a repair, {done}", "Reparatur eingetragen, {done}");
        format!("{entered}{}", taken_out(language, &job, &out))
    };
    undo::change(&path, Kept::Job, what, changed)?;
    if let Some(again) = list_again(&job, &out) {
        place.keep_list(&again.query(1));
    }
    Ok(())
}

/// What a repair takes out of the job with it, behind its own words; nothing where it takes out none.
fn taken_out(language: Language, job: &Job, out: &[usize]) -> String {
    let of = |side: Side| {
        let stem = side.stem();
        match out.iter().filter(|&&n| job.shot[n].lamp == side).count() {
            0 => None,
            1 => Some(said!(language; "one photo of the {side} lamp", "ein Foto des {stem}en Scheinwerfers")),
            n => Some(said!(language; "{n} photos of the {side} lamp", "{n} Fotos des {stem}en Scheinwerfers")),
        }
    };
    let each: Vec<String> = [Side::Left, Side::Right].into_iter().filter_map(of).collect();
    if each.is_empty() {
        return String::new();
    }
    let each = listed(language, &each);
    said!(
        language;
        "; taken out of the job with it, as from before it: {each} (the files stay in the folder)",
        "; damit aus dem Auftrag herausgenommen, da von davor: {each} (die Dateien bleiben im Ordner)"
    )
}

/// A repair this long after the last photo from before it is hardly one that these photos belong to, days (our choice, no source).
const MOST_DAYS_LATER: i64 = 366;

/// What is possible of a repair's day beside the photos' own times, and hardly so: it lies before photos from before it, after photos from after
/// it, or years later. Where nothing is known of their times nothing is asked, nor of the shots that go `out` with it.
pub(super) fn doubt_of_day(language: Language, place: &Place, day: &str, out: &[usize]) -> Option<String> {
    let repaired = day_number(day.trim())?;
    let job = place.job().ok()?;
    let (mut before, mut after): (Vec<i64>, Vec<i64>) = (Vec::new(), Vec::new());
    for (n, shot) in job.shot.iter().enumerate() {
        if out.contains(&n) {
            continue;
        }
        let typed = shot.taken.as_ref().map(ToString::to_string);
        let read = || Capture::from_file(&photo_bytes(place, &shot.photo).ok()?).taken;
        let Some(taken) = typed.or_else(read).as_deref().and_then(day_number) else {
            continue;
        };
        if shot.stage == Some(Stage::After) {
            after.push(taken);
        } else {
            before.push(taken);
        }
    }
    let shown = |number: i64| report::text::date(language, &day_of(number));
    let day = report::text::date(language, day.trim());
    let (last_before, first_after) = (before.iter().max().copied(), after.iter().min().copied());
    if let Some(last) = last_before.filter(|&last| repaired < last) {
        return Some(said!(
            language;
            "The repair is said to be of {day}, and photos from before it were taken on {}, by their own clock. Is the day right?",
            "Die Reparatur soll vom {day} sein, und Fotos von vorher wurden nach ihrer eigenen Uhr am {} aufgenommen. Stimmt der Tag?";
            shown(last)
        ));
    }
    if let Some(first) = first_after.filter(|&first| repaired > first) {
        return Some(said!(
            language;
            "The repair is said to be of {day}, and photos from after it were taken on {}, by their own clock. Is the day right?",
            "Die Reparatur soll vom {day} sein, und Fotos von nachher wurden nach ihrer eigenen Uhr am {} aufgenommen. Stimmt der Tag?";
            shown(first)
        ));
    }
    last_before.filter(|&last| repaired - last > MOST_DAYS_LATER).map(|last| {
        said!(
            language;
            "The repair is said to be of {day}, {} days after the last photo from before it ({}). Is the day right?",
            "Die Reparatur soll vom {day} sein, {} Tage nach dem letzten Foto von vorher ({}). Stimmt der Tag?";
            repaired - last,
            shown(last)
        )
    })
}

/// The days from a fixed one to the day of an ISO 8601 date or time, whose first ten characters are the date.
fn day_number(date: &str) -> Option<i64> {
    let mut parts = date.get(..10)?.splitn(3, '-');
    let (year, month, day): (i64, i64, i64) = (
        parts.next()?.parse().ok()?,
        parts.next()?.parse().ok()?,
        parts.next()?.parse().ok()?,
    );
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) {
        return None;
    }
    // Counted from March, so that the leap day is a year's last (the usual way to days of the Gregorian calendar).
    let (years, months) = (year - i64::from(month <= 2), (month + 9) % 12);
    Some(
        365 * years + years.div_euclid(4) - years.div_euclid(100)
            + years.div_euclid(400)
            + (153 * months + 2) / 5
            + day
            - 1,
    )
}

/// The date of such a number of days.
fn day_of(number: i64) -> String {
    // As good as any, and plain: the year is estimated, and the day counted up to.
    let mut year = number * 400 / 146_097;
    while day_number(&format!("{:04}-01-01", year + 1)).is_some_and(|first| first <= number) {
        year += 1;
    }
    let of_month = |month: i64| day_number(&format!("{year:04}-{month:02}-01"));
    let month = (1..=12)
        .rev()
        .find(|&month| of_month(month).is_some_and(|first| first <= number));
    let month = month.unwrap_or(1);
    let day = number - of_month(month).unwrap_or(number) + 1;
    format!("{year:04}-{month:02}-{day:02}")
}

fn check_repair(repair: &RepairEntry) -> Result<(), Error> {
    if repair.words.trim().is_empty() {
        return Err(Error::said(|language| {
            said!(
                language;
                "say what was done, as in: replaced",
                "angeben, was getan wurde, etwa: ersetzt"
            )
        }));
    }
    if !repair.has_day() {
        return Err(Error::said(|language| {
            said!(
                language;
                "“{}” is no day; give the year, the month and the day of the repair, as in 2031-03-05",
                "„{}“ ist kein Tag; Jahr, Monat und Tag der Reparatur angeben, etwa 2031-03-05";
                repair.date.trim()
            )
        }));
    }
    Ok(())
}

/// A repair that the job has, said anew.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RepairSaidAnew {
    /// Its words and its day as they were shown, by which it is known.
    was_words: String,
    was_date: String,
    words: String,
    date: String,
}

impl RepairSaidAnew {
    /// Its day, as it is to be.
    pub fn date(&self) -> &str {
        &self.date
    }
}

/// Changes the words and the day of the job's repair `n`, counted from 0; its part stays.
///
/// # Errors
/// As [`enter_repair`] and [`change_repair`].
pub(super) fn say_repair_anew(place: &Place, n: usize, anew: &RepairSaidAnew) -> Result<(), Error> {
    let (words, date) = (anew.words.trim().to_owned(), anew.date.trim().to_owned());
    check_repair(&RepairEntry {
        date: date.clone(),
        component: None,
        words: words.clone(),
        extent: None,
    })?;
    if (&words, &date) == (&anew.was_words, &anew.was_date) {
        return Err(Error::said(|language| {
            said!(
                language;
                "neither the words nor the day are others than before; nothing is written",
                "weder die Worte noch der Tag sind andere als vorher; nichts wird geschrieben"
            )
        }));
    }
    let path = place.file();
    let is_meant = |repair: &RepairEntry| (&repair.words, &repair.date) == (&anew.was_words, &anew.was_date);
    let changed = change_repair(&path, n, is_meant, &words, &date);
    let job = place.job()?;
    let system = system(place, &job).ok().flatten();
    let anew = job.repair.get(n).map(|repair| RepairEntry {
        words: words.clone(),
        ..repair.clone()
    });
    let what = |language| {
        let day = report::text::date(language, &date);
        let words = (anew.as_ref()).map_or_else(|| words.clone(), |anew| repair_words(language, system.as_ref(), anew));
        said!(language; "the repair of {day} says: {words}", "die Reparatur vom {day} lautet: {words}")
    };
    undo::change(&path, Kept::Job, what, changed)
}

/// What the gauge showed at a photo that the job has, said anew.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct GaugeSaidAnew {
    /// The photo as it was shown, by which it is known.
    photo: PathBuf,
    pub vacuum: String,
}

/// Changes what the gauge showed at the job's shot `n`, counted from 0.
///
/// # Errors
/// As [`change_gauge`], and where it is what it was.
pub(super) fn say_gauge_anew(place: &Place, n: usize, photo: &GaugeSaidAnew, step: &GaugeStep) -> Result<(), Error> {
    let (path, job) = (place.file(), place.job()?);
    let is_meant = |shot: &Shot| shot.photo == photo.photo;
    let was = job
        .shot
        .get(n)
        .filter(|shot| is_meant(shot))
        .and_then(|shot| shot.vacuum);
    // It was shown in mbar, to the tenth.
    if was.is_some_and(|was| (was.mbar() - step.vacuum.mbar()).abs() < 0.06) {
        return Err(Error::said(|language| {
            said!(
                language;
                "it is what it was before; nothing is written",
                "es ist dasselbe wie vorher; nichts wird geschrieben"
            )
        }));
    }
    let changed = change_gauge(&path, n, is_meant, &step.text);
    let (listed, showed) = (photo.photo.display(), &step.text);
    let what = |language| said!(language; "the gauge showed {showed} at {listed}", "bei {listed} zeigte der Unterdruckmesser {showed}");
    undo::change(&path, Kept::Job, what, changed)
}

/// Takes an entry out of the job, if it is the one that is called `name`: a photo's path, a test, or the words of a repair.
///
/// # Errors
/// As [`take_out`].
pub(super) fn take_out_entry(place: &Place, kind: Entries, n: usize, name: &str) -> Result<(), Error> {
    let job = place.job().ok();
    let system = job.as_ref().and_then(|job| system(place, job).ok().flatten());
    let repair = job
        .as_ref()
        .and_then(|job| job.repair.get(n))
        .filter(|_| kind == Entries::Repair);
    let test = system
        .as_ref()
        .and_then(|system| Some(&system.tests[system.test(name)?]));
    let what = |language| match (kind, test, repair) {
        (Entries::Trial, Some(test), _) => {
            let test = test_name(language, test);
            said!(language; "took out the test: {test}", "Prüfung herausgenommen: {test}")
        }
        (.., Some(repair)) => {
            let done = repair_words(language, system.as_ref(), repair);
            said!(language; "took out the repair: {done}", "Reparatur herausgenommen: {done}")
        }
        _ => said!(language; "took out {name}", "{name} herausgenommen"),
    };
    let changed = take_out(&place.file(), kind, n, |job| match kind {
        Entries::Shot => job.shot.get(n).is_some_and(|shot| shot.photo == Path::new(name)),
        Entries::Trial => job.trial.get(n).is_some_and(|trial| trial.test == name),
        Entries::Repair => job.repair.get(n).is_some_and(|repair| repair.words == name),
    });
    undo::change(&place.file(), Kept::Job, what, changed)
}

/// The part that is to be mended by what is known, where something speaks for one: it stands first in the order of repair, or is
/// suspected above all others.
pub(super) fn suspect(known: &Known) -> Option<String> {
    let Known::Isolated(isolated, _) = known else {
        return None;
    };
    let standings = isolated.standings();
    let ranked = isolated.answer.ranked_components().into_iter();
    let mut suspected = ranked.filter(|&c| standings[c] == Standing::Suspected && !isolated.is_mended_since(c));
    suspected.next().map(|c| isolated.system.components[c].id.clone())
}

/// Reads the whole job.
///
/// # Errors
/// As [`Run::read`].
pub(super) fn read_job(
    place: &Place,
    cache: Option<&Cache>,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Findings, Error> {
    let options = Options::default().with_cache(cache).with_progress(progress);
    Run::read(place.file(), &options)
}

/// Makes the job's report in its folder.
///
/// # Errors
/// As [`Run::read`] and [`report::write()`].
pub(super) fn make_report(
    language: Language,
    place: &Place,
    cache: Option<&Cache>,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<(), Error> {
    let folder = place.folder.join(REPORT);
    report::can_write(&folder)?;
    let begun = SystemTime::now();
    let options = Options::default().with_cache(cache).with_progress(progress);
    let findings = Run::read(place.file(), &options.with_pictures())?;
    report::write(language, &folder, &findings, None)?;
    // What is changed while it is made is not in it, so it is as old as its beginning; where that cannot be said it counts as newer.
    let page = std::fs::File::options().append(true).open(folder.join(REPORT_PAGE));
    let _ = page.and_then(|page| page.set_modified(begun));
    Ok(())
}

/// The job's report, if it has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LastReport {
    None,
    /// Made of what the job is now.
    Current,
    /// The job, a wall of it or a photo changed since.
    Old,
}

/// How old the job's report is, by the times of the files that it was made from.
pub(super) fn last_report(place: &Place, job: &Job) -> LastReport {
    let page = place.folder.join(REPORT).join(REPORT_PAGE);
    if !is_own_file(&page) {
        return LastReport::None;
    }
    let time = |path: &Path| path.metadata().and_then(|metadata| metadata.modified()).ok();
    let mut made_from = (job.walls().chain(files_of(job)).map(|file| place.folder.join(file))).chain([place.file()]);
    let made = time(&page);
    // A file that is gone is a change, too.
    if made.is_some() && made_from.all(|file| time(&file).is_some_and(|changed| Some(changed) <= made)) {
        LastReport::Current
    } else {
        LastReport::Old
    }
}

/// How far somebody is with a list of photos.
pub(super) struct Begun {
    /// The list's choice, as an address has it.
    pub query: String,
    pub done: usize,
    pub all: usize,
}

/// When the next photos are taken, as far as that is known: that of the list that stands, and without one that of the photos that came last. After a
/// repair it is after it, unless a list from before it is not done though photos from after it are there.
pub(super) fn stage_now(place: &Place, job: &Job, begun: Option<&Begun>) -> Option<Stage> {
    let of_list = |query: &str| Choice::of_query(query).ok().map(|choice| choice.stage);
    let last = || job.shot.last().and_then(|shot| shot.stage);
    if job.repair.is_empty() {
        return place.list().and_then(|list| of_list(&list)).unwrap_or_else(last);
    }
    let is_after = |shot: &Shot| shot.stage == Some(Stage::After);
    let of_begun = begun.and_then(|begun| of_list(&begun.query)).flatten();
    Some(
        of_begun
            .filter(|_| job.shot.iter().any(is_after))
            .unwrap_or(Stage::After),
    )
}

/// The list of photos that somebody began last, if it is not done: a photo that is known to give no figure is to be taken again. `without`: the
/// job's shots that are known to give none.
pub(super) fn begun_list(place: &Place, job: &Job, without: &HashSet<usize>) -> Option<Begun> {
    // One that the job does not fit any more leads nowhere.
    let choice = Choice::of_query(&place.list()?).ok()?;
    let photos = choice.photos(job).ok()?;
    let job = &timed(place, job.clone());
    let is_there = |photo: &&PlannedPhoto| is_done(photo, &photos, job) && !lacks_figure(photo, &photos, job, without);
    let done = photos.iter().filter(is_there).count();
    // What was taken out as from before a later repair is to be taken again, all of it.
    let is_again = choice.stage == Some(Stage::After) && job.repair.len() > 1;
    ((done > 0 || is_again) && done < photos.len()).then(|| Begun {
        query: choice.query(1),
        done,
        all: photos.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days as a calendar has them: typed by hand, with a leap day, and there and back.
    #[test]
    fn days_are_those_of_the_calendar() {
        let apart = |from: &str, to: &str| day_number(to).unwrap() - day_number(from).unwrap();
        for (from, to, days) in [
            ("2031-03-04", "2031-03-05T20:15:00", 1),
            ("2032-02-28", "2032-03-01", 2),
            ("2031-02-28", "2031-03-01", 1),
            ("2030-12-31", "2031-01-01", 1),
            ("2000-01-01", "2031-01-01", 11_323),
        ] {
            assert_eq!(apart(from, to), days, "{from} {to}");
        }
        for day in ["2031-03-04", "2032-02-29", "2000-12-31", "1999-01-01"] {
            assert_eq!(day_of(day_number(day).unwrap()), day);
        }
        assert_eq!(day_number("soon"), None);
        assert_eq!(day_number("2031-13-01"), None);
    }
}
