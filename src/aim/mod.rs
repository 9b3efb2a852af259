//! From the edge to the aim: inclination with its uncertainty, drop, reach, and whether it is right.

mod bracketed;
mod measure;
mod series;
mod settle;
mod verdict;

pub use measure::{Setting, aim, height_at_mm, inclination_at_percent, measure_shot, reach_m};
pub use series::series_warnings;
pub use settle::{MENDABLE_TERMS, Means, what_would_settle};
pub use verdict::{Outcome, Verdict, probability_inside};

use crate::cutoff::CutOff;
use crate::photo::Capture;
use crate::record::{Lamp, Shot};
use crate::refusal::Refusal;
use crate::wall::Rectified;

/// Factor from one standard deviation to the half-width of a 95 % interval of a normal distribution.
pub const COVERAGE_FACTOR_95: f64 = 1.96;

/// What an uncertainty term has in common between the photos of one job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Share {
    /// It is the same in every photo of the job (a tape measure's error), and cancels in a travel.
    Job,
    /// It differs from photo to photo.
    Photo,
}

/// One named term of an uncertainty budget (JCGM 100:2008).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// What it comes from, in plain words.
    pub name: &'static str,
    /// Whether the photos of a job share it.
    pub share: Share,
    /// Its share of the inclination's standard uncertainty, per cent of inclination.
    pub sd_percent: f64,
}

/// The aim of a lamp as read from one photo.
#[derive(Debug, Clone)]
pub struct Aim {
    /// Downward inclination of the cut-off, per cent.
    pub inclination_percent: f64,
    /// The uncertainty's terms.
    pub budget: Vec<Term>,
    /// Drop of the cut-off below the lamp's centre at the wall, along the vehicle's reference plane, mm.
    pub drop_mm: f64,
    /// The inclination as an angle, degrees.
    pub angle_deg: f64,
    /// Where the cut-off meets the road, m from the lamp; `None` when it does not come down.
    pub reach_m: Option<f64>,
    /// The cut-off that it was read from.
    pub cutoff: CutOff,
    /// Elbow's place, per cent of the distance, positive to the right of the lamp's V-V.
    pub elbow_lateral_percent: Option<f64>,
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

    fn u95_of(&self, counts: impl Fn(Share) -> bool) -> f64 {
        let variance: f64 = self
            .budget
            .iter()
            .filter(|t| counts(t.share))
            .map(|t| t.sd_percent.powi(2))
            .sum();
        COVERAGE_FACTOR_95 * variance.sqrt()
    }
}

/// A photo that gave a figure.
#[derive(Debug, Clone)]
pub struct Measured {
    /// The lamp's aim.
    pub aim: Aim,
    /// The verdict, where the job names a tolerance table.
    pub verdict: Option<Verdict>,
    /// What the reader should know before relying on the figure.
    pub warnings: Vec<String>,
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
