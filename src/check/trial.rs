//! One trial: a made job is drawn, read like any other, and held against its truth.

use super::case::Case;
use super::character::Character;
use crate::adjuster::LampTravel;
use crate::aim::{Setting, ShotReading, measure_job};
use crate::error::Error;
use crate::record::{AdjusterLimits, Pattern};
use crate::refusal::Reason;
use crate::render::Truth;
use crate::warning::Warning;
use serde::Serialize;
use std::path::Path;

/// A photo's figures against the truth; errors are figure minus truth, none where the photo has no truth.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Figures {
    /// Inclination, per cent.
    pub percent: f64,
    /// Its error, per cent.
    pub error_percent: Option<f64>,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
    /// The same of what differs from photo to photo, per cent.
    pub reading_u95_percent: f64,
    /// Error of sharpness G.
    pub sharpness_error_g: Option<f64>,
    /// Error of the flat part's tilt, degrees.
    pub tilt_error_deg: Option<f64>,
    /// The pattern that was told.
    pub pattern: Pattern,
    /// What was warned of.
    pub warnings: Vec<Warning>,
}

impl Figures {
    /// Whether the figure is off by more than its interval allows for: by more than 1.3 times u95 and than 0.06 %.
    pub(super) fn is_far_off(&self) -> bool {
        const OF_U95: f64 = 1.3;
        const LEAST_PERCENT: f64 = 0.06;
        let allowed_percent = (OF_U95 * self.u95_percent).max(LEAST_PERCENT);
        self.error_percent.is_none_or(|error| error.abs() > allowed_percent)
    }
}

/// What came of a photo.
#[derive(Debug, Clone, Serialize)]
#[serde(tag = "status", rename_all = "kebab-case")]
pub(crate) enum Outcome {
    /// A figure.
    Measured(Figures),
    /// No figure.
    Refused {
        /// Why.
        reason: Reason,
        /// What was seen and how to mend it.
        message: String,
    },
}

impl Outcome {
    /// Error and u95 of a figure that has a truth, per cent.
    pub(super) fn error_and_u95(&self) -> Option<(f64, f64)> {
        match self {
            Self::Measured(figures) => Some((figures.error_percent?, figures.u95_percent)),
            Self::Refused { .. } => None,
        }
    }
}

/// One photo that was read and held against its truth.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Scored {
    /// The scene's own seed.
    pub seed: u64,
    /// The true inclination, per cent; none where no cut-off of the lamp falls on the wall.
    pub truth_percent: Option<f64>,
    /// What came of it.
    #[serde(flatten)]
    pub outcome: Outcome,
    /// What the scene is like.
    pub scene: Character,
}

/// A step from one position of the range control to another.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct PositionStep {
    /// Position that it starts from.
    pub from: String,
    /// Position that it ends at.
    pub to: String,
    /// The true step, per cent.
    pub truth_percent: f64,
    /// Error of the step, per cent.
    pub error_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
}

/// A photo of a series with its figure.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct PositionReading {
    /// The position.
    pub position: String,
    /// Error of the inclination, per cent.
    pub error_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
    /// What was warned of.
    pub warnings: Vec<Warning>,
}

/// A photo of a series without a figure.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Refused {
    /// The photo.
    pub photo: String,
    /// Why.
    pub reason: Reason,
    /// What was seen and how to mend it.
    pub message: String,
}

/// One series over the range control's positions.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Series {
    /// The scene's own seed.
    pub seed: u64,
    /// Photographed from the hand, not from a tripod.
    pub hand: bool,
    /// The photos that were read.
    pub readings: Vec<PositionReading>,
    /// The steps that were read.
    pub steps: Vec<PositionStep>,
    /// Photos that were refused.
    pub refused: Vec<Refused>,
    /// What the scene is like.
    pub scene: Character,
}

/// Draws a case's photos, reads the first shot and holds it against its truth.
pub(super) fn score(case: &Case) -> Result<Scored, Error> {
    score_edited(case, Ok)
}

/// As [`score`], against a truth that is not the scene's own.
pub(super) fn score_against(case: &Case, truth_percent: f64) -> Result<Scored, Error> {
    let mut scored = score(case)?;
    if let Outcome::Measured(figures) = &mut scored.outcome {
        figures.error_percent = Some(figures.percent - truth_percent);
    }
    scored.truth_percent = Some(truth_percent);
    Ok(scored)
}

/// As [`score`], with the lit photo's file changed by `edit` before it is read.
pub(super) fn score_edited(case: &Case, edit: impl FnOnce(Vec<u8>) -> Result<Vec<u8>, Error>) -> Result<Scored, Error> {
    let folder = Folder::new()?;
    let (truths, _) = case.scene.truth_and_gaps()?;
    let mut edit = Some(edit);
    for (index, photo) in case.scene.photo.iter().enumerate() {
        let bytes = case.scene.jpeg_of(index)?;
        // The first photo is the lit one; any other was taken with the lamp off.
        let bytes = match edit.take() {
            Some(edit) => edit(bytes)?,
            None => bytes,
        };
        folder.write(&photo.file, &bytes)?;
    }
    let readings = read(case, folder.path());
    let reading = readings
        .first()
        .ok_or_else(|| Error::make("the made job", "it has no shot"))?;
    let truth = truths.iter().find(|truth| case.is_of(truth, reading));
    Ok(Scored {
        seed: case.seed,
        truth_percent: truth.map(|truth| truth.inclination_percent),
        outcome: outcome(reading, truth, &folder),
        scene: Character::of(case),
    })
}

/// Draws a series, reads it, and holds each step against its truth.
pub(super) fn score_series(case: &Case, hand: bool) -> Result<Series, Error> {
    let folder = Folder::new()?;
    for (index, photo) in case.scene.photo.iter().enumerate() {
        folder.write(&photo.file, &case.scene.jpeg_of(index)?)?;
    }
    let truths = case.scene.truth()?;
    let readings = read(case, folder.path());
    let truth_at = |position: &str| {
        let reading = readings.iter().find(|r| r.shot.position.as_deref() == Some(position))?;
        let truth = truths.iter().find(|truth| case.is_of(truth, reading))?;
        Some(truth.inclination_percent)
    };
    let steps = LampTravel::all(&readings, &AdjusterLimits::default())
        .into_iter()
        .flat_map(|lamp| lamp.steps)
        .filter_map(|travel| {
            let truth_percent = truth_at(&travel.to)? - truth_at(&travel.from)?;
            Some(PositionStep {
                truth_percent,
                error_percent: travel.percent - truth_percent,
                u95_percent: travel.u95_percent,
                from: travel.from,
                to: travel.to,
            })
        })
        .collect();
    let read = readings.iter().filter_map(|reading| {
        let measured = reading.result.as_ref().ok()?;
        let position = reading.shot.position.clone()?;
        Some(PositionReading {
            error_percent: measured.aim.inclination_percent - truth_at(&position)?,
            u95_percent: measured.aim.u95_percent(),
            warnings: measured.warnings.clone(),
            position,
        })
    });
    let refused = readings
        .iter()
        .filter_map(|reading| {
            let refusal = reading.result.as_ref().err()?;
            Some(Refused {
                photo: reading.shot.photo.display().to_string(),
                reason: refusal.reason,
                message: folder.without(refusal.english()),
            })
        })
        .collect();
    Ok(Series {
        seed: case.seed,
        hand,
        readings: read.collect(),
        steps,
        refused,
        scene: Character::of(case),
    })
}

/// Reads all shots of a made job, as any job is read.
fn read(case: &Case, folder: &Path) -> Vec<ShotReading> {
    let setting = Setting {
        job: &case.job,
        bay: &case.bay,
        table: None,
        folder,
        pictures: false,
    };
    measure_job(&setting, &|| ())
}

impl Case {
    /// Whether a truth is that of a reading: the same photo, and the lamp that the shot names or, where that one is not
    /// lit, the only one that is.
    fn is_of(&self, truth: &Truth, reading: &ShotReading) -> bool {
        Path::new(&truth.photo) == reading.shot.photo && (truth.lamp == reading.shot.lamp || self.scene.lamp.len() == 1)
    }
}

fn outcome(reading: &ShotReading, truth: Option<&Truth>, folder: &Folder) -> Outcome {
    match &reading.result {
        Err(refusal) => Outcome::Refused {
            reason: refusal.reason,
            message: folder.without(refusal.english()),
        },
        Ok(measured) => {
            let (aim, cutoff) = (&measured.aim, &measured.aim.cutoff);
            Outcome::Measured(Figures {
                percent: aim.inclination_percent,
                error_percent: truth.map(|truth| aim.inclination_percent - truth.inclination_percent),
                u95_percent: aim.u95_percent(),
                reading_u95_percent: aim.reading_u95_percent(),
                sharpness_error_g: truth.map(|truth| cutoff.sharpness_g - truth.sharpness_g),
                tilt_error_deg: truth.map(|truth| cutoff.tilt_deg - truth.tilt_deg),
                pattern: cutoff.pattern,
                warnings: measured.warnings.clone(),
            })
        }
    }
}

/// A folder of its own for one trial's photos, gone when the trial is over.
pub(super) struct Folder(tempfile::TempDir);

impl Folder {
    pub fn new() -> Result<Self, Error> {
        let folder = tempfile::Builder::new().prefix("beamfall-check-").tempdir();
        folder.map(Self).map_err(Error::write(
            &std::env::temp_dir(),
            "cannot make a folder for made photos",
        ))
    }

    pub fn path(&self) -> &Path {
        self.0.path()
    }

    pub fn write(&self, file: &str, bytes: &[u8]) -> Result<(), Error> {
        let path = self.path().join(file);
        std::fs::write(&path, bytes).map_err(Error::write(&path, "cannot write a made photo"))
    }

    /// Writes the file `to` as `edit` makes it from the file `from`.
    pub fn copy(
        &self,
        from: &str,
        to: &str,
        edit: impl FnOnce(Vec<u8>) -> Result<Vec<u8>, Error>,
    ) -> Result<(), Error> {
        let bytes = std::fs::read(self.path().join(from)).map_err(|e| Error::make("a made photo's copy", e))?;
        self.write(to, &edit(bytes)?)
    }

    /// A message without this folder's name, so that the same seed gives the same text.
    pub fn without(&self, message: &str) -> String {
        message.replace(&format!("{}{}", self.path().display(), std::path::MAIN_SEPARATOR), "")
    }
}
