//! The front door: one job, read whole.
//!
//! [`Run::read`] takes a job file and gives [`Findings`]: every reading with its verdict, what the range adjuster does, which
//! part is at fault, and what to be warned of. Whatever shows a job to somebody is made from them.

mod findings;

pub use findings::Findings;

use crate::adjuster::Adjuster;
use crate::aim::{Setting, ShotReading, measure_job, series_warnings};
use crate::error::Error;
use crate::isolate::{Isolated, has_positions, photos_of};
use crate::record::{Bay, HeightsFrom, Job, Lamp, Shot, System, ToleranceTable, system_names};
use crate::warning::Warning;
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Heights above the floor, mm, that a road car's lamp can have; centimetres or inches would lie outside.
const LAMP_HEIGHTS_MM: std::ops::RangeInclusive<f64> = 300.0..=2500.0;

/// What is wanted of a run beside its figures.
#[derive(Clone, Copy)]
pub struct Options<'a> {
    pictures: bool,
    progress: &'a (dyn Fn(usize, usize) + Sync),
}

impl Default for Options<'_> {
    fn default() -> Self {
        Self {
            pictures: false,
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

    fn of_checked(job: Job, path: &Path, folder: &Path) -> Result<Self, Error> {
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
        // A trial that the system does not know is said before any photo is read.
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
    pub fn measure(self, options: &Options<'_>) -> Result<Findings, Error> {
        let bay = self.bay()?;
        let mut readings = self.readings(&bay, options);
        let isolation =
            (self.system.as_ref()).and_then(|system| Isolated::of_job(system.clone(), &self.job, &readings));
        // Photos that only a trial names are no shots of the job.
        readings.truncate(self.job.shot.len());
        let warnings = [self.entered(), same_photos(&readings), series_warnings(&readings)].concat();
        let vacuum_raises = self.system.as_ref().map(|system| system.vacuum_raises);
        Ok(Findings {
            adjuster: Adjuster::of(&readings, &self.job.adjuster, vacuum_raises),
            path: self.path,
            job: self.job,
            bay,
            table: self.table,
            readings,
            isolation,
            warnings,
        })
    }

    /// Which part is at fault, and the job file that the next trial is written into. Photos are read where a trial, or a
    /// reading at positions, rests on them; all of the job then, so that their figures are those of [`Self::measure`].
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
        let isolated = if !self.trial_shots.is_empty() || has_positions(&system, &self.job) {
            self.measure(options)?.isolation
        } else {
            Isolated::of_job(system.clone(), &self.job, &[])
        };
        Ok((isolated.unwrap_or_else(|| Isolated::untested(system)), path))
    }

    /// The job's wall; lamps whose heights cannot be measured from its floor are an error.
    fn bay(&self) -> Result<Bay, Error> {
        let bay = Bay::read(&self.folder.join(&self.job.bay)).map_err(|e| e.within(named("bay", &self.path)))?;
        let from_floor = bay.heights_from != HeightsFrom::LevelLine;
        let off = |lamp: &&Lamp| from_floor && !LAMP_HEIGHTS_MM.contains(&lamp.height_above_ground_mm());
        match self.job.lamp.iter().find(off) {
            None => Ok(bay),
            Some(lamp) => Err(Error::in_file(
                &self.path,
                format!(
                    "centre_height_mm = {} of the {} lamp cannot be a height from the floor; give it in millimetres",
                    lamp.height_above_ground_mm(),
                    lamp.side
                ),
            )),
        }
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
        if job.shot.is_empty() {
            warnings.push(Warning::NoShots);
        }
        warnings
    }

    /// The readings of the job's shots, then those of photos that only a trial names: all in one go, since one bundle
    /// adjustment has the marks of all photos of a wall.
    fn readings(&self, bay: &Bay, options: &Options<'_>) -> Vec<ShotReading> {
        let mut job = self.job.clone();
        let listed = |shot: &&Shot| self.job.shot.iter().any(|other| other.photo == shot.photo);
        let only_trials = self.trial_shots.iter().filter(|shot| !listed(shot));
        job.shot.extend(only_trials.cloned());
        let setting = Setting {
            job: &job,
            bay,
            table: self.table.as_ref(),
            folder: &self.folder,
            pictures: options.pictures,
        };
        // Each photo is looked at twice.
        let (steps, done) = (2 * job.shot.len(), AtomicUsize::new(0));
        measure_job(&setting, &|| {
            (options.progress)(1 + done.fetch_add(1, Ordering::Relaxed), steps);
        })
    }
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

fn named(what: &str, path: &Path) -> String {
    format!("the {what} that {} names", path.display())
}

/// Photos that are one file under two names.
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
    warnings
}
