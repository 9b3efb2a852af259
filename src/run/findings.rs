//! Everything that a job gave.

use crate::adjuster::Adjuster;
use crate::aim::{Outcome, ShotReading};
use crate::isolate::Isolated;
use crate::language::Language;
use crate::record::{Bays, Job, Stage, ToleranceTable};
use crate::warning::{Group, Warning};
use std::path::PathBuf;

/// What was entered for a job, and everything that its photos and trials gave.
#[derive(Debug, Clone)]
pub struct Findings {
    /// The job file, as it was named.
    pub path: PathBuf,
    /// The job as read.
    pub job: Job,
    /// Its bay, and those of lamps that have another.
    pub bays: Bays,
    /// Its tolerance table, where it names one.
    pub table: Option<ToleranceTable>,
    /// What came of each shot, in the job's order.
    pub readings: Vec<ShotReading>,
    /// What the range adjuster does.
    pub adjuster: Adjuster,
    /// Which part is at fault, where the job names its system and says something of it.
    pub isolation: Option<Isolated>,
    /// What one should know of the job as a whole; each reading has its own beside.
    pub warnings: Vec<Warning>,
}

impl Findings {
    /// What one should know before relying on the figures: the warnings of all photos, and then those of the job as a whole,
    /// each kind said once a lamp. What bears on a response to vacuum or a leak-down stands with it in [`Adjuster`].
    #[must_use]
    pub fn grouped_warnings(&self, language: Language) -> Vec<Group> {
        let of_photos = self.readings.iter().flat_map(|reading| {
            let of = Some((reading.shot.lamp, reading.shot.photo.as_path()));
            let warnings = reading.result.iter().flat_map(|measured| &measured.warnings);
            warnings.map(move |warning| (of, warning))
        });
        let of_job = self
            .warnings
            .iter()
            .chain(&self.adjuster.warnings)
            .map(|warning| (None, warning));
        Group::of(language, of_photos.chain(of_job))
    }

    /// Whether there are photos from after a repair.
    #[must_use]
    pub fn is_repaired(&self) -> bool {
        let mut readings = self.readings.iter();
        readings.any(|reading| reading.shot.stage == Some(Stage::After))
    }

    /// Whether some photo gave no figure, be it of a shot or of a trial.
    #[must_use]
    pub fn any_refused(&self) -> bool {
        let unread = self.isolation.as_ref().is_some_and(|one| !one.trials.unread.is_empty());
        unread || self.readings.iter().any(|reading| reading.result.is_err())
    }

    /// Whether some reading lies outside of what its tolerance table allows.
    #[must_use]
    pub fn any_outside(&self) -> bool {
        let measured = self.readings.iter().filter_map(|reading| reading.result.as_ref().ok());
        let mut verdicts = measured.filter_map(|measured| measured.verdict.as_ref());
        verdicts.any(|verdict| verdict.outcome == Outcome::Outside)
    }
}
