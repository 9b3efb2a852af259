//! Travel of a beam from one position of the range control to the next.

use super::faults::{TravelFault, faults};
use super::mean::Mean;
use super::positions::{LampPositions, PositionMean};
use super::{Movement, pairs};
use crate::aim::{COVERAGE_FACTOR_95, Common, Outcome, ShotReading, reach_m};
use crate::record::{AdjusterLimits, Band, Lamp, Side, Stage};
use serde::Serialize;

/// The change from one position of a lamp to another, in the three measures that people use.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TravelStep {
    /// Position that it starts from.
    pub from: String,
    /// Position that it ends at.
    pub to: String,
    /// Change of the inclination, per cent; positive when the beam went down.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent: what differs from photo to photo, and of the common sources (tape,
    /// sheets, lamp) what does not cancel between the two.
    pub u95_percent: f64,
    /// How far the cut-off went down on the wall, mm: the change at the lamp's distance.
    pub wall_mm: f64,
    /// Half-width of its 95 % interval, mm; it holds the tape's share of the change too, so that it is rather too wide.
    pub wall_u95_mm: f64,
    /// Change of the reach, m, negative where reach is lost; `None` where one of the two beams lies so flat that its
    /// reach is not known to a third.
    pub reach_change_m: Option<f64>,
    /// Half-width of its 95 % interval, m.
    pub reach_change_u95_m: Option<f64>,
    /// What may be said of it.
    pub movement: Movement,
}

impl TravelStep {
    fn new(from: &PositionMean, to: &PositionMean, lamp: &Lamp, least_travel_percent: f64, tests: usize) -> Self {
        let (percent, u95_percent) = to.mean.travel_from(&from.mean);
        let mm_per_percent = lamp.distance_mm / 100.0;
        let reach = reach_change(&from.mean, &to.mean, lamp);
        Self {
            from: from.position.clone(),
            to: to.position.clone(),
            percent,
            u95_percent,
            wall_mm: percent * mm_per_percent,
            wall_u95_mm: u95_percent * mm_per_percent,
            reach_change_m: reach.map(|(change_m, _)| change_m),
            reach_change_u95_m: reach.map(|(_, u95_m)| u95_m),
            movement: Movement::judge(percent, u95_percent, least_travel_percent, tests),
        }
    }
}

/// A beam whose inclination is not known to this share of itself has no reach worth stating: 1/inclination is then no
/// longer nearly straight over the interval, and the derivative no measure of its uncertainty.
const MOST_RELATIVE_U95: f64 = 1.0 / 3.0;

/// Change of the reach from one mean to another, m, and its 95 % half-width, m.
///
/// The reach is `aim::reach_m`'s h / (inclination / 100); its change has the variance that the derivatives give (JCGM
/// 100:2008, 5.2.2): the sources that both readings share, each with its sign, then the photos' own, then the height that
/// the reach is counted from. That height also stands in the inclination with the opposite effect; adding both makes the
/// interval rather too wide.
fn reach_change(from: &Mean, to: &Mean, lamp: &Lamp) -> Option<(f64, f64)> {
    for mean in [from, to] {
        let u95_percent = COVERAGE_FACTOR_95 * mean.variance_percent2().sqrt();
        if mean.percent <= 0.0 || u95_percent > MOST_RELATIVE_U95 * mean.percent {
            return None;
        }
    }
    let (from_m, to_m) = (reach_m(from.percent, lamp)?, reach_m(to.percent, lamp)?);
    let slope_m = |reach_m: f64, percent: f64| -reach_m / percent;
    let (from_slope, to_slope) = (slope_m(from_m, from.percent), slope_m(to_m, to.percent));
    let shared = Common::sum([(to_slope, &to.common), (-from_slope, &from.common)]);
    let height = (to_m - from_m) * lamp.centre_height_sd_mm / lamp.height_above_ground_mm();
    let variance_m2 = shared.variance_percent2()
        + to_slope.powi(2) * to.own_variance_percent2
        + from_slope.powi(2) * from.own_variance_percent2
        + height.powi(2);
    Some((to_m - from_m, COVERAGE_FACTOR_95 * variance_m2.sqrt()))
}

/// A position of one lamp.
#[derive(Debug, Clone, PartialEq, Serialize)]
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
}

impl LampTravel {
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
            faults: faults(movement, &steps, total.as_ref(), positions, least),
            positions: positions
                .iter()
                .map(|one| position(one, &positions[0], limits))
                .collect(),
            steps,
            total,
            mend: (movement == Some(Movement::CannotTell)).then(|| TravelMend::of(&judged, positions, least)),
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

impl std::fmt::Display for TravelMend {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooNear { least_percent } => write!(
                f,
                "the beam's change lies too near to the least travel of interest, {least_percent} %, to be told from it"
            ),
            Self::Photos(photos) => write!(
                f,
                "take {photos} photos at each position, with nothing moved between them; they are averaged"
            ),
            Self::BetterPhotos => f.write_str(
                "the photos do not say enough: mend what widens their ± (measure --explain), and take 4 of each position",
            ),
        }
    }
}
