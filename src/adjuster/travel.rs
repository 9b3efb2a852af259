//! Travel of a beam from one position of the range control to the next.

use super::faults::{TravelFault, faults};
use super::positions::{LampPositions, PositionMean};
use super::step::TravelStep;
use super::{Movement, ShortTravel, pairs};
use crate::aim::{COVERAGE_FACTOR_95, Outcome, ShotReading};
use crate::language::{Language, said};
use crate::record::{AdjusterLimits, Band, Side, Stage};
use serde::Serialize;

/// A position of one lamp.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PositionTravel {
    /// The position.
    pub position: String,
    /// Number of photos that gave a figure.
    pub photos: usize,
    /// Inclination, per cent.
    pub percent: f64,
    /// Half-width of its 95 % interval with everything in it, per cent.
    pub u95_percent: f64,
    /// Travel from the lamp's first position to this one, per cent, positive downward.
    pub travel_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub travel_u95_percent: f64,
    /// What the job expects of it, and whether it is met.
    pub expected: Option<ExpectedOutcome>,
}

/// A travel held against what the job expects.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ExpectedOutcome {
    /// Expected travel from the lamp's first position, per cent.
    pub travel_percent: f64,
    /// How far it may be off, per cent.
    pub tolerance_percent: f64,
    /// Inside, outside, or undecided where the interval straddles a limit.
    pub outcome: Outcome,
}

/// What the range control does to one lamp at one stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LampTravel {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// What may be said of the lamp as a whole, from all pairs of its positions; `None` where fewer than two were read.
    pub movement: Option<Movement>,
    /// Its positions in their order: numbers by number, other names behind them in the order in which the job first names
    /// them.
    pub positions: Vec<PositionTravel>,
    /// From each position to the next.
    pub steps: Vec<TravelStep>,
    /// From the first position to the last.
    pub total: Option<TravelStep>,
    /// What is wrong with the order or the steps.
    pub faults: Vec<TravelFault>,
    /// Where it cannot be told whether the lamp moves: what would help.
    pub mend: Option<TravelMend>,
    /// After a repair that did not touch the other lamp: that the travel is surely short of what that lamp's was before it.
    pub short: Option<ShortTravel>,
}

impl LampTravel {
    /// Where the order tells that photos are of other positions than they are said to be: the positions that are in doubt.
    #[must_use]
    pub fn mixed_up(&self) -> &[String] {
        let fault = self.faults.iter().find(|fault| fault.is_mix_up());
        fault.map_or(&[], |fault| &fault.positions)
    }

    /// The travel of each lamp at each stage.
    #[must_use]
    pub fn all(readings: &[ShotReading], limits: &AdjusterLimits) -> Vec<Self> {
        LampPositions::all(readings)
            .iter()
            .map(|of| Self::new(of, limits))
            .collect()
    }

    pub(super) fn new(of: &LampPositions, limits: &AdjusterLimits) -> Self {
        let least = limits.least_travel_percent;
        let positions = &of.positions;
        let count = positions.len();
        let step = |a: usize, b: usize| TravelStep::new(&positions[a], &positions[b], &of.on_car, least, pairs(count));
        let steps: Vec<TravelStep> = (1..count).map(|b| step(b - 1, b)).collect();
        let judged: Vec<TravelStep> = (0..count)
            .flat_map(|a| (a + 1..count).map(move |b| (a, b)))
            .map(|(a, b)| step(a, b))
            .collect();
        let movement = Movement::of_all(judged.iter().map(|s| s.movement));
        let total = (count > 1).then(|| step(0, count - 1));
        Self {
            lamp: of.lamp,
            stage: of.stage,
            movement,
            faults: faults(movement, &steps, total.as_ref(), of, limits),
            positions: positions
                .iter()
                .map(|one| position(one, &positions[0], limits))
                .collect(),
            steps,
            total,
            mend: (movement == Some(Movement::CannotTell)).then(|| TravelMend::of(&judged, positions, least)),
            short: None,
        }
    }
}

fn position(of: &PositionMean, first: &PositionMean, limits: &AdjusterLimits) -> PositionTravel {
    let (travel_percent, travel_u95_percent) = if of.position == first.position {
        (0.0, 0.0)
    } else {
        of.mean.travel_from(&first.mean)
    };
    let expected = limits.expected.iter().find(|e| e.position == of.position);
    PositionTravel {
        position: of.position.clone(),
        photos: of.mean.photos,
        percent: of.mean.percent,
        u95_percent: COVERAGE_FACTOR_95 * of.mean.variance_percent2().sqrt(),
        travel_percent,
        travel_u95_percent,
        expected: expected.map(|e| ExpectedOutcome {
            travel_percent: e.travel_percent,
            tolerance_percent: e.tolerance_percent,
            outcome: Outcome::of(
                travel_percent,
                travel_u95_percent,
                Band {
                    low_percent: e.travel_percent - e.tolerance_percent,
                    high_percent: e.travel_percent + e.tolerance_percent,
                },
            ),
        }),
    }
}

/// What would help where it cannot be told whether a lamp moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TravelMend {
    /// Nothing would: the beam's change lies too near to the least travel of interest.
    TooNear {
        /// That least travel, per cent.
        least_percent: f64,
    },
    /// So many photos of each position.
    Photos(f64),
    /// Better photos.
    BetterPhotos,
}

impl TravelMend {
    /// Photos are counted by the root of their number, and an interval of half the least travel leaves the other half for
    /// the travel itself.
    fn of(pairs: &[TravelStep], positions: &[PositionMean], least_percent: f64) -> Self {
        /// More photos than this nobody takes of one position (common practice, no source).
        const MOST_PHOTOS: f64 = 12.0;
        let widest_percent = pairs.iter().map(|p| p.u95_percent).fold(0.0, f64::max);
        let taken = positions.iter().map(|one| one.mean.photos).max().unwrap_or(1) as f64;
        let photos = (taken * (2.0 * widest_percent / least_percent).powi(2)).ceil();
        if widest_percent <= 0.5 * least_percent {
            Self::TooNear { least_percent }
        } else if photos <= MOST_PHOTOS {
            Self::Photos(photos)
        } else {
            Self::BetterPhotos
        }
    }
}

impl TravelMend {
    /// Its words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        match self {
            Self::TooNear { least_percent } => said!(
                language;
                "the beam's change lies too near to the least travel of interest, {} %, to be told from it",
                "die Änderung des Lichtkegels liegt zu nahe am kleinsten Stellweg, der zählt, {} %, um davon unterscheidbar zu sein";
                language.figure(&least_percent.to_string())
            ),
            Self::Photos(photos) => said!(
                language;
                "take {photos} photos at each position, with nothing moved between them; they are averaged",
                "in jeder Stellung {photos} Fotos aufnehmen, ohne dazwischen etwas zu bewegen; sie werden gemittelt"
            ),
            Self::BetterPhotos => said!(
                language;
                "the photos do not say enough: mend what widens their ± (measure --explain), and take 4 of each position",
                "die Fotos sagen nicht genug: beheben, was ihr ± vergrößert (measure --explain), und je Stellung 4 aufnehmen"
            ),
        }
    }
}

impl std::fmt::Display for TravelMend {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.said(Language::English))
    }
}
