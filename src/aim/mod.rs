//! From the edge to the aim: inclination with its uncertainty, drop, reach, and whether it is right.

mod bracketed;
mod budget;
mod contradictions;
mod job;
mod made;
mod measure;
mod off_photos;
mod outcome;
mod plausible;
mod same_picture;
mod series;
mod settle;
mod verdict;
mod wall_check;
mod wall_photos;

pub use budget::{Common, Share, Source, Term};
pub(crate) use contradictions::contradictions;
pub use job::measure_shot;
pub(crate) use job::{inclination_of_place, measure_job};
pub use measure::{Setting, aim, inclination_at_percent};
pub(crate) use measure::{height_at_mm, reach_m};
pub use outcome::Outcome;
pub(crate) use plausible::implausible;
pub(crate) use same_picture::is_shrunk_copy;
pub(crate) use series::series_warnings;
pub use settle::Means;
pub use verdict::{LampTurn, NotYet, Verdict, probability_inside};
pub(crate) use wall_check::{Better, SheetSeen, WallCheck, check_wall};

use crate::cutoff::CutOff;
use crate::photo::Capture;
use crate::record::{Lamp, Shot};
use crate::refusal::Refusal;
use crate::wall::Rectified;
use crate::warning::Warning;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Factor from one standard deviation to the half-width of a 95 % interval of a normal distribution.
pub const COVERAGE_FACTOR_95: f64 = 1.96;

/// The aim of a lamp as read from one photo.
#[derive(Debug, Clone, Deserialize, Serialize)]
pub struct Aim {
    /// Downward inclination of the cut-off, per cent.
    pub inclination_percent: f64,
    /// The uncertainty's terms.
    pub budget: Vec<Term>,
    /// The terms of [`Share::Job`] source by source, for the covariance with other readings.
    pub common: Common,
    /// Drop of the cut-off at the wall below the vehicle's reference plane through the lamp's centre, mm: the inclination at the lamp's distance.
    pub drop_mm: f64,
    /// Drop of the cut-off at the wall below the height of the lamp's centre, mm, as a tape finds it: without the standing area's grade.
    pub drop_at_wall_mm: f64,
    /// The inclination as an angle, degrees.
    pub angle_deg: f64,
    /// Where the cut-off meets the road, m from the lamp; `None` when it does not come down.
    pub reach_m: Option<f64>,
    /// The cut-off that it was read from.
    pub cutoff: CutOff,
    /// Elbow's place, per cent of the distance, positive to the right of the lamp's V-V.
    pub elbow_lateral_percent: Option<f64>,
    /// Half-width of its 95 % interval, per cent.
    pub elbow_lateral_u95_percent: Option<f64>,
}

impl Aim {
    /// Half-width of the 95 % interval with everything in it, per cent.
    #[must_use]
    pub fn u95_percent(&self) -> f64 {
        self.u95_of(|_| true)
    }

    /// Half-width of the 95 % interval of what differs from photo to photo, per cent.
    #[must_use]
    pub fn reading_u95_percent(&self) -> f64 {
        self.u95_of(|share| share == Share::Photo)
    }

    /// Variance of what no other photo has a part in, per cent squared: with what [`Aim::common`] lists, all of what two
    /// readings' difference is unsure by. Where photos were read together, that is less than what differs between them,
    /// which is partly the same wall.
    #[must_use]
    pub fn own_variance_percent2(&self) -> f64 {
        let own = |term: &Term| match (&self.cutoff.shared, term.source) {
            (Some(shared), Source::Texture) => {
                shared.own_sd_mm * term.sd_percent / self.cutoff.scatter_sd_mm.max(1e-12)
            }
            _ => term.sd_percent,
        };
        let of_photo = self.budget.iter().filter(|term| term.source.share() == Share::Photo);
        of_photo.map(|term| own(term).powi(2)).sum()
    }

    /// Covariance with another reading's inclination, per cent squared. Readings of two lamps (`same_lamp` false) share
    /// only what belongs to the bay.
    #[must_use]
    pub fn covariance_percent2(&self, other: &Self, same_lamp: bool) -> f64 {
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let of_lamp = if same_lamp {
            product(&self.common.lamp, &other.common.lamp) + product(&self.common.wall, &other.common.wall)
        } else {
            0.0
        };
        of_lamp + product(&self.common.bay, &other.common.bay)
    }

    /// Half-width of the 95 % interval of the difference to another reading of the same lamp in the same job, per cent:
    /// what differs from photo to photo in both, and what of the common sources does not cancel.
    #[must_use]
    pub fn difference_u95_percent(&self, other: &Self) -> f64 {
        let left = Common::sum([(1.0, &self.common), (-1.0, &other.common)]);
        let own = self.own_variance_percent2() + other.own_variance_percent2();
        COVERAGE_FACTOR_95 * (own + left.variance_percent2()).sqrt()
    }

    fn u95_of(&self, counts: impl Fn(Share) -> bool) -> f64 {
        let variance: f64 = self
            .budget
            .iter()
            .filter(|term| counts(term.source.share()))
            .map(|term| term.sd_percent.powi(2))
            .sum();
        COVERAGE_FACTOR_95 * variance.sqrt()
    }
}

/// A photo that gave a figure.
#[derive(Debug, Clone, Deserialize, Serialize)]
pub struct Measured {
    /// The lamp's aim.
    pub aim: Aim,
    /// The verdict, where the job names a tolerance table; `None` also where a pump drove the beam.
    pub verdict: Option<Verdict>,
    /// What the reader should know before relying on the figure.
    pub warnings: Vec<Warning>,
}

impl Measured {
    /// Takes back the advice to turn the lamp: something else comes first, or, `None`, the car is another one by now.
    pub(crate) fn do_not_turn(&mut self, not_yet: Option<NotYet>) {
        if let Some(verdict) = &mut self.verdict
            && verdict.outcome != Outcome::Inside
        {
            verdict.turn = None;
            verdict.not_yet = not_yet;
        }
    }

    /// Takes back all advice on how the verdict would be settled or the lamp set: of a state that the car is in no more there is nothing to do.
    pub(crate) fn do_not_settle(&mut self) {
        self.do_not_turn(None);
        if let Some(verdict) = &mut self.verdict {
            verdict.settle = None;
        }
    }

    /// How far the beam is to be turned down, per cent, where a turn is told; negative: up.
    pub(crate) fn turn_percent(&self) -> Option<f64> {
        self.verdict.as_ref()?.turn.as_ref()?.down_percent
    }
}

/// What a photo beside a shot's own was used for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Use {
    /// The same view at another exposure.
    Bracket,
    /// The same view with the lamp off.
    LampOff,
    /// The wall by the room's light.
    Wall,
}

/// A photo beside a shot's own that its figure rests on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OtherPhoto {
    /// The photo, as the job names it.
    pub photo: PathBuf,
    /// What it was used for.
    pub used_as: Use,
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
}

/// One shot of a job and what came of it.
#[derive(Debug, Clone)]
pub struct ShotReading {
    /// The shot as the job lists it.
    pub shot: Shot,
    /// The lamp as the job describes it.
    pub lamp: Lamp,
    /// SHA-256 of the photo, hexadecimal; `None` for a file that could not be read at all.
    pub sha256: Option<String>,
    /// The brackets and the lamp-off photo that were read with it; one that was not used is named by a warning.
    pub others: Vec<OtherPhoto>,
    /// What EXIF says of the capture.
    pub capture: Capture,
    /// The figure, or why there is none.
    pub result: Result<Measured, Refusal>,
    /// The photo as seen square to the wall, for pictures in a report; only where it was asked for and the marks
    /// could be found.
    pub picture: Option<Rectified>,
    /// Camera's place in the wall frame (x, y, distance from the wall), mm; `None` where the marks did not give it.
    pub eye_mm: Option<[f64; 3]>,
}

impl ShotReading {
    /// Whether a part of its photo was cut off: where its camera stood is then not well known.
    #[must_use]
    pub(crate) fn is_cropped(&self) -> bool {
        let warnings = self.result.as_ref().map(|measured| measured.warnings.as_slice());
        warnings.is_ok_and(|all| all.iter().any(|warning| matches!(warning, Warning::Cropped { .. })))
    }
}
