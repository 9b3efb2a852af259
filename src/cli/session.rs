//! What `measure` and `report` have in common: reading a job's files and its photos, with progress.

use super::Status;
use crate::adjuster::{Adjuster, Travel, travels};
use crate::aim::{Outcome, Setting, ShotReading, measure_job, series_warnings};
use crate::isolate::{Isolated, photos_of};
use crate::record::{Bay, HeightsFrom, Job, System, ToleranceTable};
use crate::report::Findings;
use crate::report::isolation::Isolation;
use anyhow::Context;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// A job with everything that belongs to it, and what its photos gave.
pub(super) struct Session {
    pub job: Job,
    pub bay: Bay,
    pub table: Option<ToleranceTable>,
    pub readings: Vec<ShotReading>,
    pub travels: Vec<Travel>,
    pub adjuster: Adjuster,
    /// Where the job names a system and says something of it.
    pub isolated: Option<Isolated>,
    pub warnings: Vec<String>,
}

impl Session {
    /// Reads a job file with its bay, its table and its photos.
    pub fn of_job(path: &Path, pictures: bool) -> anyhow::Result<Self> {
        let path = job_file(path)?;
        let job = Job::read(&path)?;
        let folder = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
        let bay =
            Bay::read(&folder.join(&job.bay)).with_context(|| format!("the bay that {} names", path.display()))?;
        Self::new(job, bay, &path, &folder, pictures)
    }

    /// Reads the photos of a job that is in memory; `path` stands for it in messages, photo paths are relative to
    /// `folder`.
    pub fn new(job: Job, bay: Bay, path: &Path, folder: &Path, pictures: bool) -> anyhow::Result<Self> {
        job.check(path)?;
        for lamp in &job.lamp {
            let height_mm = lamp.height_above_ground_mm();
            // Measured from the floor, no road car's lamp hangs outside of this; centimetres or inches would.
            anyhow::ensure!(
                bay.heights_from == HeightsFrom::LevelLine || (300.0..=2500.0).contains(&height_mm),
                "{}: centre_height_mm = {height_mm} of the {} lamp cannot be a height from the floor; give it in millimetres",
                path.display(),
                lamp.side
            );
        }
        let table = match &job.tolerance {
            Some(name) => Some(ToleranceTable::find(name, folder, job.lamp_mark.as_ref())?),
            None => None,
        };
        if let Some(table) = &table {
            table.check_choice(job.tolerance_choice.as_deref(), path)?;
        }
        let mut warnings = Vec::new();
        // Photos are measured without a system; but a name that is wrong, or a trial that it does not know, is said first.
        let system = match &job.system {
            Some(name) => {
                Some(System::find(name, folder).with_context(|| format!("the system that {} names", path.display()))?)
            }
            None => None,
        };
        let trial_photos = match &system {
            Some(system) => photos_of(system, &job, path, false)?
                .map(|photos| photos.shot)
                .unwrap_or_default(),
            None => Vec::new(),
        };
        if system.is_none() && !job.trial.is_empty() {
            warnings.push(format!(
                "{} trials are recorded, but the job names no system, so that nothing follows from them; add system = \
                 \"NAME\"",
                job.trial.len()
            ));
        }
        if job.tolerance.is_none() {
            warnings.push("the job names no tolerance table, so there are no verdicts".to_owned());
        }
        if job.shot.is_empty() {
            warnings.push("the job lists no [[shot]] yet; add one for each photo".to_owned());
        }
        // Photos of trials that are no shots are read in the same go, so that no photo is read twice.
        let mut all = job.clone();
        let listed = |photo: &Path| job.shot.iter().any(|shot| shot.photo == photo);
        all.shot
            .extend(trial_photos.into_iter().filter(|shot| !listed(&shot.photo)));
        all.check(path)?;
        let setting = Setting {
            job: &all,
            bay: &bay,
            table: table.as_ref(),
            folder,
            pictures,
        };
        let progress = progress(all.shot.len());
        let mut readings = measure_job(&setting, &|| progress.inc(1));
        progress.finish_and_clear();
        let vacuum_raises = system.as_ref().map(|system| system.vacuum_raises);
        let isolated = system.and_then(|system| Isolated::of_job(system, &job, &readings));
        readings.truncate(job.shot.len());
        for (n, reading) in readings.iter().enumerate() {
            let twin = readings[..n]
                .iter()
                .find(|other| other.sha256.is_some() && other.sha256 == reading.sha256);
            if let Some(twin) = twin {
                warnings.push(format!(
                    "{} and {} are the same photo under two names; each photo shows one state of the car, so one is wrong",
                    twin.shot.photo.display(),
                    reading.shot.photo.display()
                ));
            }
        }
        warnings.extend(series_warnings(&readings).iter().map(ToString::to_string));
        let travels = travels(&readings);
        let adjuster = Adjuster::of(&readings, &job.adjuster, vacuum_raises);
        Ok(Self {
            job,
            bay,
            table,
            readings,
            travels,
            adjuster,
            isolated,
            warnings,
        })
    }

    /// As the report wants it.
    pub fn findings(&self) -> Findings<'_> {
        Findings {
            job: &self.job,
            bay: &self.bay,
            table: self.table.as_ref(),
            readings: &self.readings,
            travels: &self.travels,
            adjuster: &self.adjuster,
            isolation: self.isolated.as_ref().map(Isolation::from),
            warnings: &self.warnings,
        }
    }

    /// Exit status: refused shots come before verdicts, since what could not be read may be outside too.
    pub fn status(&self, fail_outside: bool) -> Status {
        let outside = |reading: &ShotReading| {
            reading
                .result
                .as_ref()
                .ok()
                .and_then(|m| m.verdict.as_ref())
                .is_some_and(|v| v.outcome == Outcome::Outside)
        };
        let unread = self.isolated.as_ref().is_some_and(|one| !one.trials.unread.is_empty());
        if unread || self.readings.iter().any(|reading| reading.result.is_err()) {
            Status::Refused
        } else if fail_outside && self.readings.iter().any(outside) {
            Status::Outside
        } else {
            Status::Done
        }
    }
}

/// A job's file: the path itself, or `job.toml` in a folder.
pub(super) fn job_file(path: &Path) -> anyhow::Result<PathBuf> {
    if path.is_dir() {
        let inside = path.join("job.toml");
        anyhow::ensure!(
            inside.is_file(),
            "{}: this folder holds no job.toml; give the job file",
            path.display()
        );
        return Ok(inside);
    }
    Ok(path.to_path_buf())
}

/// A progress bar for several photos at a terminal; silent in a pipe and for few photos.
pub(super) fn progress(photos: usize) -> ProgressBar {
    // Each photo is looked at twice.
    let bar = ProgressBar::new(2 * photos as u64);
    if photos < 3 || !std::io::stderr().is_terminal() {
        bar.set_draw_target(ProgressDrawTarget::hidden());
    }
    if let Ok(style) = ProgressStyle::with_template("reading photos {percent} % {wide_bar} {eta} left") {
        bar.set_style(style);
    }
    bar
}

/// Whether output may be coloured: a terminal, and neither `NO_COLOR` nor a dumb terminal.
pub(super) fn colour_allowed() -> bool {
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    !no_colour && !dumb && std::io::stdout().is_terminal()
}

/// Prints to standard output; a pipe that was closed on the way (as by `head`) is no error.
pub(super) fn print(text: &str) -> anyhow::Result<()> {
    use std::io::Write;
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(e).context("standard output"),
        _ => Ok(()),
    }
}
