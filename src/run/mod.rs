//! The front door: one job, read whole.
//!
//! [`Run::read`] takes a job file and gives [`Findings`]: every reading with its verdict, what the range adjuster does, which
//! part is at fault, and what to be warned of. Whatever shows a job to somebody is made from them.

mod bouts;
mod cache;
mod findings;

pub(crate) use bouts::behind_last_pause;
pub use cache::Cache;
pub use findings::Findings;

use crate::adjuster::Adjuster;
use crate::aim::{
    NotYet, Setting, ShotReading, WallCheck, check_wall, contradictions, implausible, inclination_of_place,
    is_shrunk_copy, measure_job, series_warnings,
};
use crate::error::Error;
use crate::isolate::{Isolated, concerns, has_photos, lamp_of, photos_of};
use crate::record::{
    Bays, HeightsFrom, Job, LAMP_HEIGHTS_MM, Lamp, SETTING_POSITION, Shot, Side, Stage, System, ToleranceTable,
    is_setting, system_names,
};
use crate::refusal::Refusal;
use crate::warning::Warning;
use bouts::{TwoBouts, in_two_bouts};
use cache::Key;
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

/// What is wanted of a run beside its figures.
#[derive(Clone, Copy)]
pub struct Options<'a> {
    pictures: bool,
    cache: Option<&'a Cache>,
    progress: &'a (dyn Fn(usize, usize) + Sync),
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            pictures: false,
            cache: None,
            progress: &|_, _| (),
        }
    }
}

impl<'a> Options<'a> {
    /// Keeps each photo as seen square to the wall, for pictures in a report; each takes some 2 MB.
    #[must_use]
    pub fn with_pictures(self) -> Self {
        Self { pictures: true, ..self }
    }

    /// Takes readings from a cache where it has them, and keeps them there where it has not.
    #[must_use]
    pub fn with_cache(self, cache: Option<&'a Cache>) -> Self {
        Self { cache, ..self }
    }

    /// Has `progress` called, from several threads, with the steps done so far and the steps in all.
    #[must_use]
    pub fn with_progress(self, progress: &'a (dyn Fn(usize, usize) + Sync)) -> Self {
        Self { progress, ..self }
    }
}

/// A job whose files were read and found to fit together, before its wall and its photos are looked at.
#[derive(Debug, Clone)]
pub struct Run {
    path: PathBuf,
    folder: PathBuf,
    job: Job,
    table: Option<ToleranceTable>,
    system: Option<System>,
    /// The photos of trials.
    trial_shots: Vec<Shot>,
}

impl Run {
    /// Reads the job file at `path` (or the `job.toml` of a folder), all that it names, and its photos.
    ///
    /// # Errors
    /// [`Error`] for files that cannot be read or do not fit together. A photo that cannot be read is no error: its reading
    /// says why.
    pub fn read(path: impl AsRef<Path>, options: &Options<'_>) -> Result<Findings, Error> {
        Self::open(path)?.measure(options)
    }

    /// Reads the job file at `path` (or the `job.toml` of a folder) with its table and its system, but no photo.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn open(path: impl AsRef<Path>) -> Result<Self, Error> {
        let path = job_file(path.as_ref())?;
        let job = Job::read(&path)?;
        let folder = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
        Self::of_checked(job, &path, &folder)
    }

    /// A job that is in memory; `path` stands for it in messages, and its paths are relative to `folder`.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn of(job: Job, path: &Path, folder: &Path) -> Result<Self, Error> {
        job.check(path)?;
        Self::of_checked(job, path, folder)
    }

    fn of_checked(mut job: Job, path: &Path, folder: &Path) -> Result<Self, Error> {
        name_stages(&mut job);
        let table = match &job.tolerance {
            Some(name) => Some(ToleranceTable::find(name, folder, job.lamp_mark.as_ref())?),
            None => None,
        };
        if let Some(table) = &table {
            table.check_choice(job.tolerance_choice.as_deref(), path)?;
        }
        let system = match &job.system {
            Some(name) => Some(System::find(name, folder).map_err(|e| e.within(named("system", path)))?),
            None => None,
        };
        // A trial or a repair that the system does not know is said before any photo is read.
        let trial_shots = match &system {
            Some(system) => photos_of(system, &job, path)?,
            None => Vec::new(),
        };
        Ok(Self {
            path: path.to_owned(),
            folder: folder.to_owned(),
            job,
            table,
            system,
            trial_shots,
        })
    }

    /// Reads the bay and the photos, and concludes what they say.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn measure(mut self, options: &Options<'_>) -> Result<Findings, Error> {
        let bays = self.bays()?;
        let mut readings = self.readings(&bays, options);
        // What the photos say of themselves counts, whatever the job file says or leaves out.
        self.job.made_photos |= readings.iter().any(|reading| reading.capture.is_made);
        // Photos that only a trial names are no shots of the job.
        let of_trials = readings.split_off(self.job.shot.len().min(readings.len()));
        let vacuum_raises = self.system.as_ref().map(|system| system.vacuum_raises);
        let bouts = in_two_bouts(&self.job, self.system.as_ref(), &readings);
        let adjuster = {
            // What may show another state of the car is no end of a travel.
            let counted = TwoBouts::left_out(&bouts, &readings);
            Adjuster::of(&counted, &self.job.adjuster, vacuum_raises).beside_before(&counted, &self.repaired_lamps())
        };
        readings.extend(of_trials);
        let isolation =
            (self.system.as_ref()).and_then(|system| Isolated::of_job(system.clone(), &self.job, &readings, &adjuster));
        readings.truncate(self.job.shot.len());
        hold_turns(&mut readings, &self.job, &adjuster, isolation.as_ref(), vacuum_raises);
        TwoBouts::hold_turns(&bouts, &mut readings);
        let warnings = [
            self.entered(),
            implausible(&self.job, &bays, &readings),
            same_photos(&readings),
            bouts.into_iter().map(|bouts| bouts.warning).collect(),
            contradictions(&self.job, &readings, &self.mended_again()),
            series_warnings(&readings),
        ]
        .concat();
        Ok(Findings {
            adjuster,
            path: self.path,
            job: self.job,
            bays,
            table: self.table,
            readings,
            isolation,
            warnings,
        })
    }

    /// The lamps of which a repair mended a part that serves them alone.
    fn repaired_lamps(&self) -> Vec<Side> {
        let system = self.system.as_ref();
        let named = self.job.repair.iter().filter_map(|repair| repair.component.as_deref());
        named
            .filter_map(|id| system.and_then(|system| lamp_of(system, system.component(id)?)))
            .collect()
    }

    /// The lamps that a repair behind the first concerns.
    fn mended_again(&self) -> Vec<Side> {
        let later = || self.job.repair.iter().skip(1);
        let is_concerned = |lamp: &Side| later().any(|repair| concerns(self.system.as_ref(), repair, *lamp));
        [Side::Left, Side::Right].into_iter().filter(is_concerned).collect()
    }

    /// Which part is at fault, and the job file that the next trial is written into. Photos are read where a trial rests on
    /// them, or where they stand for one; all of the job then, so that their figures are those of [`Self::measure`].
    ///
    /// # Errors
    /// As [`Self::read`], and for a job that names no system.
    pub fn isolate(self, options: &Options<'_>) -> Result<(Isolated, PathBuf), Error> {
        let Some(system) = self.system.clone() else {
            return Err(Error::in_file(
                &self.path,
                format!(
                    "the job names no system; add system = \"NAME\" above the first [[…]], shipped are {}",
                    system_names().join(", ")
                ),
            ));
        };
        let path = self.path.clone();
        // Photos of either stage: what is said of a repair rests on those after it, too.
        let rests_on_photos = !self.trial_shots.is_empty() || has_photos(&system, &self.job);
        let isolated = if rests_on_photos {
            self.measure(options)?.isolation
        } else {
            let none = Adjuster::of(&[], &self.job.adjuster, Some(system.vacuum_raises));
            Isolated::of_job(system.clone(), &self.job, &[], &none)
        };
        Ok((isolated.unwrap_or_else(|| Isolated::untested(system)), path))
    }

    /// The inclination, per cent, that a cut-off through a place in the photo of the job's first shot would have; px of the upright photo.
    /// Beside it, where the photo does not tell, why.
    ///
    /// # Errors
    /// As [`Self::read`], and for a job without shots.
    pub(crate) fn inclination_of_place(&self, photo_px: [f64; 2]) -> Result<Result<f64, Refusal>, Error> {
        self.of_first_shot(|setting, shot, lamp| inclination_of_place(setting, shot, lamp, photo_px))
    }

    /// What the photo of the job's first shot says of the wall, and of what is to be read on it; beside it, where it says nothing, why.
    ///
    /// # Errors
    /// As [`Self::inclination_of_place`].
    pub(crate) fn check_wall(&self) -> Result<Result<WallCheck, Refusal>, Error> {
        self.of_first_shot(|setting, shot, _| {
            let lamps: Vec<&Lamp> = [Side::Left, Side::Right]
                .into_iter()
                .filter_map(|side| self.job.lamp_at(side, shot.stage))
                .collect();
            check_wall(setting, shot, &lamps)
        })
    }

    fn of_first_shot<T>(&self, of: impl FnOnce(&Setting<'_>, &Shot, &Lamp) -> T) -> Result<T, Error> {
        let bays = self.bays()?;
        let shot = self.job.shot.first();
        let Some((shot, lamp)) = shot.and_then(|shot| Some((shot, self.job.lamp_of(shot)?))) else {
            return Err(Error::in_file(&self.path, "lists no photo of a lamp"));
        };
        let setting = Setting {
            job: &self.job,
            bay: bays.of(lamp),
            table: None,
            folder: &self.folder,
            pictures: false,
        };
        Ok(of(&setting, shot, lamp))
    }

    /// Fails where the bay files that the job names cannot be read or do not fit it; looks at no photo.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn check_bays(&self) -> Result<(), Error> {
        self.bays().map(drop)
    }

    /// The job's walls; lamps whose heights cannot be measured from their floor are an error.
    fn bays(&self) -> Result<Bays, Error> {
        let bays = Bays::read(&self.job, &self.path, &self.folder)?;
        let off = |lamp: &&Lamp| {
            let from_floor = bays.of(lamp).heights_from != HeightsFrom::LevelLine;
            from_floor && !LAMP_HEIGHTS_MM.contains(&lamp.height_above_ground_mm())
        };
        let Some(lamp) = self.job.lamp.iter().find(off) else {
            return Ok(bays);
        };
        Err(Error::in_file(
            &self.path,
            format!(
                "centre_height_mm = {} of the {} lamp cannot be a height from the floor; give it in millimetres",
                lamp.height_above_ground_mm(),
                lamp.side
            ),
        ))
    }

    /// What the files leave out.
    fn entered(&self) -> Vec<Warning> {
        let job = &self.job;
        let mut warnings = Vec::new();
        if self.system.is_none() && !job.trial.is_empty() {
            warnings.push(Warning::TrialsWithoutSystem {
                trials: job.trial.len(),
            });
        }
        if job.tolerance.is_none() {
            warnings.push(Warning::NoTolerance);
        }
        let read = job.traffic.flat_side();
        let table = self.table.as_ref();
        warnings.extend(table.and_then(|table| {
            let meant = table.side.filter(|&meant| meant != read)?;
            Some(Warning::TableForOtherSide {
                table: table.name.clone(),
                meant,
            })
        }));
        if table.is_some_and(|table| table.side.is_none_or(|meant| meant == read)) {
            warnings.extend(setting_not_shown(job));
        }
        if job.shot.is_empty() {
            warnings.push(Warning::NoShots);
        }
        warnings
    }

    /// What the cache has of the job as it is now, in the order of its shots; `None` where it was not read so before. No photo is decoded for it.
    ///
    /// # Errors
    /// As [`Self::check_bays`].
    pub(crate) fn kept(&self, cache: &Cache) -> Result<Option<Vec<ShotReading>>, Error> {
        let (job, bays) = (self.job_with_trials(), self.bays()?);
        let key = self.key(&job, &bays);
        Ok(key.and_then(|key| cache.get(&key, &shots_of(&job), false)))
    }

    /// The job, behind whose shots stand those that only a trial names.
    fn job_with_trials(&self) -> Job {
        let mut job = self.job.clone();
        let photos: HashSet<&Path> = self.job.shot.iter().map(|shot| shot.photo.as_path()).collect();
        let listed = |shot: &&Shot| photos.contains(shot.photo.as_path());
        let only_trials = self.trial_shots.iter().filter(|shot| !listed(shot));
        job.shot.extend(only_trials.cloned());
        job
    }

    /// By what the cache knows the readings of a job.
    fn key(&self, job: &Job, bays: &Bays) -> Option<Key> {
        let rests_on = format!("{job:?} {bays:?} {:?}", self.table);
        Key::of(&rests_on, &self.folder, &photos_of_job(job))
    }

    /// The readings of the job's shots, then those of photos that only a trial names.
    fn readings(&self, bays: &Bays, options: &Options<'_>) -> Vec<ShotReading> {
        let job = self.job_with_trials();
        let key = || self.key(&job, bays);
        let key_before = options.cache.and_then(|_| key());
        let shots = shots_of(&job);
        let kept = |cache: &Cache| cache.get(key_before.as_ref()?, &shots, options.pictures);
        if let Some(readings) = options.cache.and_then(kept) {
            let steps = 2 * shots.len();
            (options.progress)(steps, steps);
            return readings;
        }
        let readings = self.read_photos(job.clone(), bays, options);
        // What changed while it was read is not kept.
        if let (Some(cache), Some(before)) = (options.cache, &key_before)
            && key().as_ref() == Some(before)
        {
            cache.put(before, &readings, options.pictures);
        }
        readings
    }

    /// Those of a wall in one go, since one bundle adjustment has the marks of all its photos.
    fn read_photos(&self, mut job: Job, bays: &Bays, options: &Options<'_>) -> Vec<ShotReading> {
        // Each photo is looked at twice.
        let (steps, done) = (2 * job.shot.len(), AtomicUsize::new(0));
        let step_done = || (options.progress)(1 + done.fetch_add(1, Ordering::Relaxed), steps);
        let all = std::mem::take(&mut job.shot);
        let bay_of: Vec<usize> = all
            .iter()
            .map(|shot| job.lamp_of(shot).map_or(0, |lamp| bays.number_of(lamp)))
            .collect();
        let mut of_bays: Vec<std::vec::IntoIter<ShotReading>> = Vec::new();
        let mut sources = 0;
        for (number, bay) in bays.all().enumerate() {
            let shots = all.iter().zip(&bay_of).filter(|(_, bay)| **bay == number);
            job.shot = shots.map(|(shot, _)| shot.clone()).collect();
            let setting = Setting {
                job: &job,
                bay,
                table: self.table.as_ref(),
                folder: &self.folder,
                pictures: options.pictures,
            };
            let mut readings = measure_job(&setting, &step_done);
            sources = apart_from_other_bays(&mut readings, sources);
            of_bays.push(readings.into_iter());
        }
        bay_of
            .iter()
            .filter_map(|&number| of_bays.get_mut(number)?.next())
            .collect()
    }
}

/// Sets the sources that one bay's readings share behind the `before` sources of the bays before it, since a wall that was hung
/// anew was taped anew: floor, sheets, lens and texture of two bays have no error in common. Gives the number of sources up to here.
fn apart_from_other_bays(readings: &mut [ShotReading], before: usize) -> usize {
    let mut most = 0;
    for measured in readings.iter_mut().filter_map(|reading| reading.result.as_mut().ok()) {
        let common = &mut measured.aim.common;
        for shared in [&mut common.bay, &mut common.wall] {
            most = most.max(shared.len());
            shared.splice(0..0, std::iter::repeat_n(0.0, before));
        }
    }
    before + most
}

/// The shots of a job, each with its lamp.
fn shots_of(job: &Job) -> Vec<(&Shot, &Lamp)> {
    (job.shot.iter())
        .filter_map(|shot| Some((shot, job.lamp_of(shot)?)))
        .collect()
}

/// All photos that a job's shots are read from.
fn photos_of_job(job: &Job) -> Vec<&Path> {
    let of_shots =
        (job.shot.iter()).flat_map(|shot| std::iter::once(&shot.photo).chain(&shot.brackets).chain(&shot.lamp_off));
    of_shots.chain(&job.wall_photos).map(PathBuf::as_path).collect()
}

/// A job's file: the path itself, or `job.toml` in a folder.
pub(crate) fn job_file(path: &Path) -> Result<PathBuf, Error> {
    if !path.is_dir() {
        return Ok(path.to_path_buf());
    }
    let inside = path.join("job.toml");
    if inside.is_file() {
        Ok(inside)
    } else {
        Err(Error::in_file(path, "this folder holds no job.toml; give the job file"))
    }
}

/// A photo without a stage in a job whose others have one is of before the repair: so a trial without one is, and so isolation takes
/// it. Else photos of one lamp would be two series here and one there.
fn name_stages(job: &mut Job) {
    if job.shot.iter().any(|shot| shot.stage.is_some()) {
        for shot in &mut job.shot {
            shot.stage.get_or_insert(Stage::Before);
        }
    }
}

fn named(what: &str, path: &Path) -> String {
    format!("the {what} that {} names", path.display())
}

/// Each lamp and stage of which there are photos at positions of the range control, and none that is judged as set.
fn setting_not_shown(job: &Job) -> Vec<Warning> {
    let mut shown: BTreeMap<(Side, Option<Stage>), Vec<&str>> = BTreeMap::new();
    for shot in job.shot.iter().filter(|shot| !shot.is_pumped()) {
        let positions = shown.entry((shot.lamp, shot.stage)).or_default();
        let name = shot.position.as_deref().unwrap_or(SETTING_POSITION).trim();
        if !positions.contains(&name) {
            positions.push(name);
        }
    }
    shown.retain(|_, positions| !positions.iter().any(|name| is_setting(Some(name))));
    let warning = |((lamp, stage), positions): (_, Vec<&str>)| Warning::SettingNotShown {
        lamp,
        stage,
        positions: positions.into_iter().map(str::to_owned).collect(),
    };
    shown.into_iter().map(warning).collect()
}

/// Photos that are one file under two names, or one in two sizes.
fn same_photos(readings: &[ShotReading]) -> Vec<Warning> {
    let mut first: HashMap<&str, &Path> = HashMap::new();
    let mut warnings = Vec::new();
    for reading in readings {
        let (Some(digest), photo) = (&reading.sha256, reading.shot.photo.as_path()) else {
            continue;
        };
        match first.entry(digest) {
            Entry::Occupied(other) => warnings.push(Warning::SamePhoto {
                photos: [other.get().to_path_buf(), photo.to_owned()],
            }),
            Entry::Vacant(place) => {
                place.insert(photo);
            }
        }
    }
    for (n, one) in readings.iter().enumerate() {
        for other in readings.iter().skip(n + 1) {
            if is_shrunk_copy(&one.capture, &other.capture) {
                warnings.push(Warning::SamePhoto {
                    photos: [one, other].map(|reading| reading.shot.photo.clone()),
                });
            }
        }
    }
    warnings
}

/// Takes back the advice to turn a lamp where something else comes first: what moves its beam is to be mended, or the beam stands where it
/// would stand without vacuum and was not seen to follow the range control. Wherever the car has been repaired since, no measuring settles anything
/// either: that car is gone.
pub(crate) fn hold_turns(
    readings: &mut [ShotReading],
    job: &Job,
    adjuster: &Adjuster,
    tests: Option<&Isolated>,
    vacuum_raises: Option<bool>,
) {
    let is_after = |reading: &ShotReading| reading.shot.stage == Some(Stage::After);
    let is_repaired = job.has_been_repaired();
    // What failed before a repair is no more wrong with the car than its photos from after it show.
    let tests = tests.filter(|tests| !(is_repaired && tests.is_of_before()));
    for reading in readings {
        let is_past = is_repaired && !is_after(reading);
        let (lamp, stage) = (reading.shot.lamp, reading.shot.stage);
        let Ok(measured) = &mut reading.result else { continue };
        if is_past {
            measured.do_not_settle();
        } else if adjuster.is_at_fault(lamp, stage) || tests.is_some_and(|tests| tests.has_failed_at(lamp)) {
            measured.do_not_turn(Some(NotYet::Mend));
        } else if let (Some(vacuum_raises), Some(down_percent)) = (vacuum_raises, measured.turn_percent()) {
            let from_rest = (down_percent < 0.0) == vacuum_raises;
            let follows = adjuster.follows(lamp, stage) || tests.is_some_and(|tests| tests.has_followed(lamp));
            if from_rest && !follows {
                measured.do_not_turn(Some(NotYet::SeeItMove { vacuum_raises }));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::{Aim, COVERAGE_FACTOR_95, Common, Means, Outcome, Source, Verdict};
    use crate::record::{Band, Bay, RepairEntry, Stage, Traffic};

    /// The sample photo of the left lamp at rest, as a messenger passes it on, in a folder with the sample's wall.
    fn passed_on(folder: &Path, name: &str, width_px: u32) {
        let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos");
        std::fs::copy(samples.join("bay.toml"), folder.join("bay.toml")).unwrap();
        let photo = image::open(samples.join("photos/left-after-0.jpg")).unwrap();
        let small = photo.resize(width_px, width_px, image::imageops::FilterType::Lanczos3);
        let file = std::fs::File::create(folder.join(name)).unwrap();
        small
            .write_with_encoder(image::codecs::jpeg::JpegEncoder::new_with_quality(file, 70))
            .unwrap();
    }

    /// What would settle the verdict of a car that is gone by now is no advice.
    #[test]
    fn of_a_car_before_its_repair_nothing_is_to_be_settled() {
        let before = |repair: usize| {
            let (bay, lamp) = (
                Bay::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos/bay.toml")).unwrap(),
                Lamp::of(Side::Left, 650.0, -560.0, 10_000.0),
            );
            let aim = Aim::made(1.01, &[(Source::LampHeight, 0.03)], Common::default());
            let shot = Shot {
                stage: Some(Stage::Before),
                position: Some("0".to_owned()),
                ..Shot::of("1.jpg", Side::Left)
            };
            let means = Means {
                lamp: &lamp,
                bay: &bay,
                has_lamp_off: false,
                photos: 1,
            };
            let band = Band {
                low_percent: 1.0,
                high_percent: 1.5,
            };
            let verdict = Verdict::of(&aim, "T", true, band, &means);
            let mut readings = [ShotReading::made(shot, lamp.clone(), aim, None)];
            readings[0].result.as_mut().unwrap().verdict = Some(verdict);
            let entry = RepairEntry {
                component: None,
                date: "2031-03-05".to_owned(),
                words: "replaced".to_owned(),
                extent: None,
            };
            let job = Job {
                repair: vec![entry; repair],
                ..Job::of("W", "bay.toml", Traffic::Right)
            };
            let adjuster = Adjuster::of(&readings, &job.adjuster, None);
            hold_turns(&mut readings, &job, &adjuster, None, None);
            let verdict = readings[0].result.as_ref().unwrap().verdict.as_ref().unwrap();
            assert_eq!(verdict.outcome, Outcome::Undecided);
            verdict.settled().is_some()
        };
        assert!(before(0) && !before(1));
    }

    #[test]
    fn a_photo_that_a_messenger_passed_on_is_told_and_its_interval_is_wider() {
        let folder = tempfile::tempdir().unwrap();
        passed_on(folder.path(), "1.jpg", 1600);
        passed_on(folder.path(), "2.jpg", 640);
        let original = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos/photos/left-after-0.jpg");
        std::fs::copy(original, folder.path().join("3.jpg")).unwrap();
        let samples = Job::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos/job.toml")).unwrap();
        let job = Job {
            lamp: samples.lamp.clone(),
            shot: ["1.jpg", "2.jpg", "3.jpg"]
                .map(|photo| Shot::of(photo, Side::Left))
                .to_vec(),
            ..Job::of("T", "bay.toml", samples.traffic)
        };
        let run = Run::of(job, &folder.path().join("job.toml"), folder.path()).unwrap();
        let findings = run.measure(&Options::default()).unwrap();
        let measured = findings.readings[0].result.as_ref().unwrap();
        let words: Vec<String> = measured.warnings.iter().map(ToString::to_string).collect();
        assert!(
            words.iter().any(|text| text.contains("hand over the original file")),
            "{words:?}"
        );
        assert!(!words.iter().any(|text| text.contains("HDR")), "{words:?}");
        let by_coding = |source| measured.aim.budget.iter().find(|term| term.source == source);
        let sd_percent = by_coding(Source::Recoding).unwrap().sd_percent;
        assert!((0.005..0.03).contains(&sd_percent), "{sd_percent}");
        // Against the original.
        let original = &findings.readings[2].result.as_ref().unwrap().aim;
        let difference_percent = measured.aim.inclination_percent - original.inclination_percent;
        assert!(
            difference_percent.abs() < original.difference_u95_percent(&measured.aim),
            "{difference_percent}"
        );
        let refusal = findings.readings[1].result.as_ref().unwrap_err();
        assert!(
            refusal.english().contains("First of all hand over the original file"),
            "{refusal}"
        );
    }

    #[test]
    fn a_lamp_that_no_photo_shows_as_set_is_named() {
        let shot = |position: Option<&str>, stage, sealed| Shot {
            position: position.map(str::to_owned),
            stage,
            sealed,
            ..Shot::of("1.jpg", Side::Left)
        };
        let told = |shots: &[Shot]| {
            let job = Job {
                shot: shots.to_vec(),
                ..Job::of("T", "bay.toml", Traffic::Right)
            };
            setting_not_shown(&job)
        };
        let before = Some(Stage::Before);
        let named = ["1", "2", " 2", "3"].map(|name| shot(Some(name), before, false));
        let said: Vec<String> = told(&named).iter().map(ToString::to_string).collect();
        assert!(
            said.len() == 1
                && said[0].contains("left lamp before the repair")
                && said[0].contains("1, 2 and 3. The aim as set"),
            "{said:?}"
        );
        for sound in [shot(Some(" 0"), before, false), shot(None, before, false)] {
            assert!(told(&[named.to_vec(), vec![sound]].concat()).is_empty());
        }
        assert_eq!(
            told(&[named.to_vec(), vec![shot(Some("0"), Some(Stage::After), false)]].concat()).len(),
            1
        );
        assert!(
            told(&[shot(None, before, true)]).is_empty(),
            "the pump's photos are not judged"
        );
    }

    /// By hand: two photos of 0.01 % each, which share a floor of 0.3 % and a sheet of 0.4 %; of two bays both count twice.
    #[test]
    fn readings_of_two_bays_share_nothing_of_the_wall() {
        let reading = |percent: f64| {
            let common = Common {
                bay: vec![0.3, 0.4],
                ..Common::default()
            };
            let aim = Aim::made_with(percent, 0.01, common);
            let lamp = Lamp::of(Side::Left, 650.0, -560.0, 10_000.0);
            ShotReading::made(Shot::of("1.jpg", Side::Left), lamp, aim, None)
        };
        let sd_percent = |a: &ShotReading, b: &ShotReading| {
            let [a, b] = [a, b].map(|r| &r.result.as_ref().unwrap().aim);
            a.difference_u95_percent(b) / COVERAGE_FACTOR_95
        };
        let mut first = [reading(1.0), reading(1.4)];
        let mut second = [reading(1.2), reading(1.6)];
        assert_eq!(apart_from_other_bays(&mut first, 0), 2);
        assert_eq!(apart_from_other_bays(&mut second, 2), 4);
        let own = 0.01 * 2f64.sqrt();
        assert!((sd_percent(&first[0], &first[1]) - own).abs() < 1e-12);
        assert!((sd_percent(&second[0], &second[1]) - own).abs() < 1e-12);
        let across = sd_percent(&first[0], &second[0]);
        assert!((across - own.hypot(0.5 * 2f64.sqrt())).abs() < 1e-12, "{across}");
    }

    /// The wall hung anew with its origin elsewhere: figures stay, and before against after knows it less well.
    #[test]
    fn a_lamp_with_its_own_bay_is_read_against_it() {
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos");
        let folder = tempfile::tempdir().unwrap();
        let mut second = Bay::read(&sample.join("bay.toml")).unwrap();
        second.name = "Hung anew".to_owned();
        for sheet in &mut second.marks.sheet {
            sheet.x_mm += 50.0;
            sheet.y_mm += 4.0;
        }
        let path = folder.path().join("bay-2.toml");
        std::fs::write(&path, toml::to_string(&second).unwrap()).unwrap();
        let mut job = Job::read(&sample.join("job.toml")).unwrap();
        job.shot
            .retain(|shot| shot.lamp == Side::Left && shot.position.as_deref() == Some("0"));
        job.shot.iter_mut().for_each(|shot| shot.lamp_off = None);
        (job.system, job.trial, job.repair) = (None, Vec::new(), Vec::new());
        job.vehicle.as_mut().unwrap().registration = Some("AB 1".to_owned());
        let of = |job: &Job| {
            let run = Run::of(job.clone(), &sample.join("job.toml"), &sample).unwrap();
            run.measure(&Options::default()).unwrap()
        };
        let shared = of(&job);
        let before = job.lamp[0].clone();
        job.lamp.push(Lamp {
            stage: Some(Stage::After),
            bay: Some(path),
            centre_height_mm: before.centre_height_mm + 4.0,
            centre_x_mm: before.centre_x_mm + 50.0,
            ..before
        });
        let apart = of(&job);
        let aims = |findings: &Findings| -> Vec<Aim> {
            let readings = findings.readings.iter();
            readings
                .map(|reading| reading.result.as_ref().unwrap().aim.clone())
                .collect()
        };
        let (shared_aims, apart_aims) = (aims(&shared), aims(&apart));
        assert_eq!((shared_aims.len(), apart_aims.len()), (2, 2));
        for (a, b) in shared_aims.iter().zip(&apart_aims) {
            let off_percent = (a.inclination_percent - b.inclination_percent).abs();
            assert!(off_percent < 0.02, "off by {off_percent} %");
        }
        let sheets = |aims: &[Aim]| {
            let left = Common::sum([(1.0, &aims[0].common), (-1.0, &aims[1].common)]);
            left.bay.iter().map(|v| v * v).sum::<f64>().sqrt()
        };
        let (one_wall, two_walls) = (sheets(&shared_aims), sheets(&apart_aims));
        println!("sheets and floor in a difference: {one_wall:.4} % of one wall, {two_walls:.4} % of two");
        assert!(two_walls > 3.0 * one_wall);
        let json = |findings: &Findings| serde_json::to_value(crate::report::Results::new(findings)).unwrap();
        let (shared, apart) = (json(&shared), json(&apart));
        assert!(shared["shots"][0].get("bay").is_none() && shared.get("other_bays").is_none());
        assert_eq!(apart["shots"][1]["bay"], "Hung anew");
        assert_eq!(apart["other_bays"][0]["name"], "Hung anew");
        assert_eq!(apart["shots"][0]["bay"], apart["bay"]["name"]);
        assert_eq!(apart["vehicle_facts"]["registration"], "AB 1");
    }

    #[test]
    fn a_table_for_the_other_side_is_warned_of() {
        let warned = |table: &str, traffic: &str| {
            let text = format!(
                "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"{traffic}\"\ntolerance = \"{table}\"\n\
                 [[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n"
            );
            let path = Path::new("job.toml");
            let job: Job = crate::record::parse_toml(path, &text).unwrap();
            let warnings = Run::of(job, path, Path::new(".")).unwrap().entered();
            let of_table = warnings
                .iter()
                .filter(|w| matches!(w, Warning::TableForOtherSide { .. }));
            of_table.map(ToString::to_string).collect::<Vec<_>>()
        };
        let said = warned("us-vor", "right");
        assert!(
            said.len() == 1 && said[0].contains("2.5° on the left") && said[0].contains("traffic = \"left\""),
            "{said:?}"
        );
        for (table, traffic) in [
            ("us-vor", "left"),
            ("us-vol", "right"),
            ("un-r48", "right"),
            ("un-r48", "left"),
        ] {
            assert!(warned(table, traffic).is_empty(), "{table} {traffic}");
        }
    }

    /// A photo without a stage beside those that have one is of before the repair, here as in the isolation.
    #[test]
    fn photos_without_a_stage_are_of_before_where_others_have_one() {
        let stages = |given: [Option<Stage>; 2]| {
            let job = Job {
                lamp: vec![Lamp::of(Side::Left, 650.0, -560.0, 10_000.0)],
                shot: (given.iter().zip(["1.jpg", "2.jpg"]))
                    .map(|(&stage, photo)| Shot {
                        stage,
                        ..Shot::of(photo, Side::Left)
                    })
                    .collect(),
                ..Job::of("W", "bay.toml", Traffic::Right)
            };
            let run = Run::of(job, Path::new("job.toml"), Path::new(".")).unwrap();
            run.job.shot.iter().map(|shot| shot.stage).collect::<Vec<_>>()
        };
        let (before, after) = (Some(Stage::Before), Some(Stage::After));
        assert_eq!(stages([None, before]), [before, before]);
        assert_eq!(stages([after, None]), [after, before]);
        assert_eq!(stages([None, None]), [None, None], "nothing is said of a repair");
    }

    #[test]
    fn a_repair_names_a_component_of_the_system() {
        let of = |component: &str| {
            let job = Job {
                system: Some("vacuum-cabin-control".to_owned()),
                repair: vec![RepairEntry {
                    component: Some(component.to_owned()),
                    date: "2031-03-05".to_owned(),
                    words: "replaced".to_owned(),
                    extent: None,
                }],
                ..Job::of("W", "bay.toml", Traffic::Right)
            };
            Run::of(job, Path::new("job.toml"), Path::new("."))
        };
        assert!(of("left-actuator").is_ok());
        let message = of("left-acuator").unwrap_err().to_string();
        assert!(
            message.contains("\"left-acuator\"") && message.contains("left-actuator, "),
            "{message}"
        );
    }
}
