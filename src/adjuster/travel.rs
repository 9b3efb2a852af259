//! Travel of a beam from one position of the range control to the next.

use super::{Movement, pairs};
use crate::aim::{Aim, COVERAGE_FACTOR_95, Common, Outcome, ShotReading, reach_m};
use crate::record::{AdjusterLimits, Band, Lamp, Side, Stage, in_order};
use serde::{Deserialize, Serialize};

/// Photos of one lamp at one stage.
pub(super) type Series = (Side, Option<Stage>);

/// The readings that count, by lamp and stage in the order in which the job first names them.
pub(super) fn by_lamp_and_stage(
    readings: &[ShotReading],
    counts: impl Fn(&ShotReading) -> bool,
) -> Vec<(Series, Vec<&ShotReading>)> {
    let mut groups: Vec<(Series, Vec<&ShotReading>)> = Vec::new();
    for reading in readings.iter().filter(|r| counts(r)) {
        let key: Series = (reading.shot.lamp, reading.shot.stage);
        match groups.iter_mut().find(|(k, _)| *k == key) {
            Some((_, members)) => members.push(reading),
            None => groups.push((key, vec![reading])),
        }
    }
    groups
}

/// Mean of the readings of one state.
#[derive(Debug, Clone)]
pub(super) struct Mean {
    /// Inclination, per cent.
    pub percent: f64,
    /// Variance of what differs from photo to photo, per cent squared.
    pub own_variance_percent2: f64,
    /// What it shares with other readings.
    pub common: Common,
    /// Number of photos.
    pub photos: usize,
}

impl Mean {
    /// Mean of at least one reading.
    pub fn of(aims: &[&Aim]) -> Self {
        let samples: Vec<(f64, f64)> = aims
            .iter()
            .map(|aim| (aim.inclination_percent, aim.reading_u95_percent() / COVERAGE_FACTOR_95))
            .collect();
        let (percent, own_variance_percent2) = pooled(&samples);
        let weight = 1.0 / aims.len().max(1) as f64;
        Self {
            percent,
            own_variance_percent2,
            common: Common::sum(aims.iter().map(|aim| (weight, &aim.common))),
            photos: aims.len(),
        }
    }

    /// Variance with everything in it, per cent squared.
    pub fn variance_percent2(&self) -> f64 {
        self.own_variance_percent2 + self.common.variance_percent2()
    }

    /// This mean less another of the same lamp, per cent, and the variance of that, per cent squared: the photos' own in
    /// both, and of the common sources what does not cancel.
    pub fn difference(&self, from: &Self) -> (f64, f64) {
        let left = Common::sum([(1.0, &self.common), (-1.0, &from.common)]);
        (
            self.percent - from.percent,
            self.own_variance_percent2 + from.own_variance_percent2 + left.variance_percent2(),
        )
    }
}

/// A position of the range control and the mean of its readings.
#[derive(Debug, Clone)]
pub(super) struct Stop {
    /// The position.
    pub position: String,
    /// Its readings.
    pub mean: Mean,
}

/// The positions of one lamp at one stage, in order.
#[derive(Debug, Clone)]
pub(super) struct Stops {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// The lamp as measured on the car.
    pub on_car: Lamp,
    /// Its positions in their order: numbers by number, other names behind them in the order in which the job first names
    /// them.
    pub stops: Vec<Stop>,
}

impl Stops {
    /// All lamps and stages of a job. A photo with a pump at work shows no position.
    pub fn all(readings: &[ShotReading]) -> Vec<Self> {
        by_lamp_and_stage(readings, |r| {
            r.shot.position.is_some() && !r.shot.is_pumped() && r.result.is_ok()
        })
        .into_iter()
        .map(|((lamp, stage), members)| {
            let mut photos: Vec<(&str, Vec<&Aim>)> = Vec::new();
            for reading in &members {
                let (Ok(measured), Some(position)) = (&reading.result, &reading.shot.position) else {
                    continue;
                };
                match photos.iter_mut().find(|(name, _)| name == position) {
                    Some((_, aims)) => aims.push(&measured.aim),
                    None => photos.push((position, vec![&measured.aim])),
                }
            }
            in_order(&mut photos, |(position, _)| position);
            let stops = photos.iter().map(|(position, aims)| Stop {
                position: (*position).to_owned(),
                mean: Mean::of(aims),
            });
            Self {
                lamp,
                stage,
                on_car: members[0].lamp,
                stops: stops.collect(),
            }
        })
        .collect()
    }

    /// The stop of a position.
    pub fn at(&self, position: &str) -> Option<&Stop> {
        self.stops.iter().find(|stop| stop.position == position)
    }
}

/// The change from one state of a lamp to another, in the three measures that people use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Position that it starts from.
    pub from: String,
    /// Position that it ends at.
    pub to: String,
    /// Change of the inclination, per cent; positive when the beam went down.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent.
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

impl Step {
    fn new(from: &Stop, to: &Stop, lamp: &Lamp, least_travel_percent: f64, tests: usize) -> Self {
        let (percent, variance) = to.mean.difference(&from.mean);
        let u95_percent = COVERAGE_FACTOR_95 * variance.sqrt();
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ExpectedOutcome {
    /// Expected travel from the lamp's first position, per cent.
    pub travel_percent: f64,
    /// How far it may be off, per cent.
    pub tolerance_percent: f64,
    /// Inside, outside, or undecided where the interval straddles a limit.
    pub outcome: Outcome,
}

/// What is wrong with the travel over several positions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TravelFault {
    /// Which fault.
    pub kind: FaultKind,
    /// The positions it is about.
    pub positions: Vec<String>,
    /// The same in plain words.
    pub message: String,
}

/// Kinds of [`TravelFault`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// The beam moves at no step: the lamp does not follow the control.
    NoStep,
    /// One step does not move the beam, others do.
    DeadPosition,
    /// One step moves the beam against the direction of the whole.
    OrderWrong,
    /// Two positions have each other's aim.
    PositionsSwapped,
    /// The beam goes up where the control's number rises.
    Reversed,
}

/// What the range control does to one lamp at one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
    pub steps: Vec<Step>,
    /// From the first position to the last.
    pub total: Option<Step>,
    /// What is wrong with the order or the steps.
    pub faults: Vec<TravelFault>,
    /// Where it cannot be told whether the lamp moves: what would help.
    pub mend: Option<String>,
}

impl LampTravel {
    /// The travel of each lamp at each stage.
    #[must_use]
    pub fn all(readings: &[ShotReading], limits: &AdjusterLimits) -> Vec<Self> {
        Stops::all(readings).iter().map(|s| Self::new(s, limits)).collect()
    }

    pub(super) fn new(of: &Stops, limits: &AdjusterLimits) -> Self {
        let least = limits.least_travel_percent;
        let stops = &of.stops;
        let count = stops.len();
        let tests = pairs(count);
        let steps: Vec<Step> = stops
            .windows(2)
            .map(|pair| Step::new(&pair[0], &pair[1], &of.on_car, least, tests))
            .collect();
        let judged: Vec<Step> = (0..count)
            .flat_map(|a| (a + 1..count).map(move |b| (a, b)))
            .map(|(a, b)| Step::new(&stops[a], &stops[b], &of.on_car, least, tests))
            .collect();
        let movement = overall(&judged);
        let total = match (stops.first(), stops.last()) {
            (Some(first), Some(last)) if count > 1 => Some(Step::new(first, last, &of.on_car, least, tests)),
            _ => None,
        };
        let positions = stops.iter().map(|stop| position(stop, &stops[0], limits)).collect();
        let mend = (movement == Some(Movement::CannotTell)).then(|| mend(&judged, stops, least));
        Self {
            lamp: of.lamp,
            stage: of.stage,
            movement,
            faults: faults(movement, &steps, total.as_ref(), stops, least),
            positions,
            steps,
            total,
            mend,
        }
    }
}

/// A lamp moves where any pair of its positions does, and stands still where all pairs do.
fn overall(pairs: &[Step]) -> Option<Movement> {
    if pairs.is_empty() {
        None
    } else if pairs.iter().any(|p| p.movement == Movement::Moves) {
        Some(Movement::Moves)
    } else if pairs.iter().all(|p| p.movement == Movement::Still) {
        Some(Movement::Still)
    } else {
        Some(Movement::CannotTell)
    }
}

fn position(stop: &Stop, first: &Stop, limits: &AdjusterLimits) -> PositionTravel {
    let (travel_percent, variance) = if stop.position == first.position {
        (0.0, 0.0)
    } else {
        stop.mean.difference(&first.mean)
    };
    let travel_u95_percent = COVERAGE_FACTOR_95 * variance.sqrt();
    let expected = limits.expected.iter().find(|e| e.position == stop.position);
    PositionTravel {
        position: stop.position.clone(),
        photos: stop.mean.photos,
        percent: stop.mean.percent,
        u95_percent: COVERAGE_FACTOR_95 * stop.mean.variance_percent2().sqrt(),
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

/// More photos than this nobody takes of one position.
const MOST_PHOTOS: f64 = 12.0;

/// What would help where it cannot be told whether a lamp moves. Photos are counted by the root of their number, and an
/// interval of half the least travel leaves the other half for the travel itself.
fn mend(pairs: &[Step], stops: &[Stop], least_percent: f64) -> String {
    let widest_percent = pairs.iter().map(|p| p.u95_percent).fold(0.0, f64::max);
    let taken = stops.iter().map(|s| s.mean.photos).max().unwrap_or(1) as f64;
    let photos = (taken * (2.0 * widest_percent / least_percent).powi(2)).ceil();
    if widest_percent <= 0.5 * least_percent {
        format!(
            "the beam's change lies too near to the least travel of interest, {least_percent} %, to be told from it"
        )
    } else if photos <= MOST_PHOTOS {
        format!("take {photos} photos at each position, with nothing moved between them; they are averaged")
    } else {
        "the photos do not say enough: mend what widens their ± (measure --explain), and take 4 of each position"
            .to_owned()
    }
}

/// Faults of order. They are stated from steps that surely move or surely do not; where a step cannot be told, nothing
/// is said of it.
fn faults(
    movement: Option<Movement>,
    steps: &[Step],
    total: Option<&Step>,
    stops: &[Stop],
    least_percent: f64,
) -> Vec<TravelFault> {
    let mut faults = Vec::new();
    match movement {
        None | Some(Movement::CannotTell) => return faults,
        Some(Movement::Still) => {
            faults.push(TravelFault {
                kind: FaultKind::NoStep,
                positions: stops.iter().map(|s| s.position.clone()).collect(),
                message: "no step: the beam does not follow the control at any position".to_owned(),
            });
            return faults;
        }
        Some(Movement::Moves) => {}
    }
    let both = |step: &Step| vec![step.from.clone(), step.to.clone()];
    for step in steps.iter().filter(|s| s.movement == Movement::Still) {
        faults.push(TravelFault {
            kind: FaultKind::DeadPosition,
            positions: both(step),
            message: format!(
                "dead position: from {} to {} the beam does not move, at other steps it does",
                step.from, step.to
            ),
        });
    }
    let moving: Vec<&Step> = steps.iter().filter(|s| s.movement == Movement::Moves).collect();
    let mixed = moving.iter().any(|s| s.percent > 0.0) && moving.iter().any(|s| s.percent < 0.0);
    let ascends = |order: &[&Stop]| order.windows(2).all(|p| p[1].mean.percent >= p[0].mean.percent);
    let swapped = if mixed {
        swapped(stops, least_percent, &ascends)
    } else {
        None
    };
    if let Some((a, b)) = swapped {
        let (a, b) = (stops[a].position.clone(), stops[b].position.clone());
        faults.push(TravelFault {
            kind: FaultKind::PositionsSwapped,
            message: format!(
                "positions {a} and {b} look swapped: each has the other's aim; check the lines at the control, and                  which photo is of which position"
            ),
            positions: vec![a, b],
        });
    } else if mixed {
        let down = total.is_none_or(|t| t.percent >= 0.0);
        for step in moving.iter().filter(|s| (s.percent >= 0.0) != down) {
            let (way, whole) = if down { ("up", "down") } else { ("down", "up") };
            faults.push(TravelFault {
                kind: FaultKind::OrderWrong,
                positions: both(step),
                message: format!(
                    "order wrong: from {} to {} the beam goes {way}, on the whole it goes {whole}",
                    step.from, step.to
                ),
            });
        }
    }
    let numbers = stops.iter().all(|s| s.position.trim().parse::<f64>().is_ok());
    let rises = total.filter(|t| t.movement == Movement::Moves && t.percent < 0.0);
    if let Some(total) = rises.filter(|_| numbers && swapped.is_none()) {
        faults.push(TravelFault {
            kind: FaultKind::Reversed,
            positions: both(total),
            message: format!(
                "reversed: from {} to {} the beam goes up; a range control's 0 is its highest aim, and the other positions                  lower it (UN R48, from memory)",
                total.from, total.to
            ),
        });
    }
    faults
}

/// The one pair of positions whose exchange sets the order right, by index: with it every step goes one way, downward by
/// preference, and moves.
fn swapped(stops: &[Stop], least_percent: f64, ascends: &dyn Fn(&[&Stop]) -> bool) -> Option<(usize, usize)> {
    if stops.len() < 3 {
        return None;
    }
    let one_way = |reverse: bool| {
        for a in 0..stops.len() {
            for b in a + 1..stops.len() {
                let mut order: Vec<&Stop> = stops.iter().collect();
                order.swap(a, b);
                let sure = order.windows(2).all(|pair| {
                    let (percent, variance) = pair[1].mean.difference(&pair[0].mean);
                    let u95_percent = COVERAGE_FACTOR_95 * variance.sqrt();
                    Movement::judge(percent, u95_percent, least_percent, pairs(stops.len())) == Movement::Moves
                });
                if reverse {
                    order.reverse();
                }
                if sure && ascends(&order) {
                    return Some((a, b));
                }
            }
        }
        None
    };
    one_way(false).or_else(|| one_way(true))
}

/// Mean of a position's readings and its variance. `samples`: inclination and its standard deviation, per cent.
///
/// Photos of one position that differ by more than their readings' uncertainty say that the position, not the reading,
/// is uncertain: the larger of the two variances counts (JCGM 100:2008, 4.2.3, for the variance of a mean).
fn pooled(samples: &[(f64, f64)]) -> (f64, f64) {
    let count = samples.len() as f64;
    let mean = samples.iter().map(|s| s.0).sum::<f64>() / count;
    let read = samples.iter().map(|s| s.1.powi(2)).sum::<f64>() / count.powi(2);
    let seen = if samples.len() > 1 {
        samples.iter().map(|s| (s.0 - mean).powi(2)).sum::<f64>() / (count * (count - 1.0))
    } else {
        0.0
    };
    (mean, read.max(seen))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aim(percent: f64, photo_sd: f64, lamp: &[f64], bay: &[f64]) -> Aim {
        let common = Common {
            lamp: lamp.to_vec(),
            bay: bay.to_vec(),
        };
        Aim::made_with(percent, photo_sd, common)
    }

    #[test]
    fn of_what_photos_share_only_the_difference_counts_in_a_travel() {
        let first = aim(1.0, 0.03, &[0.05, -0.02], &[0.10]);
        let second = aim(1.5, 0.04, &[0.05, -0.03], &[0.10]);
        // By hand: 0.03² + 0.04² + (0.03 − 0.02)² = 0.0026.
        let (percent, variance) = Mean::of(&[&second]).difference(&Mean::of(&[&first]));
        assert!(
            (percent - 0.5).abs() < 1e-12 && (variance - 0.0026).abs() < 1e-12,
            "{variance}"
        );
        let u95 = first.difference_u95_percent(&second);
        assert!((u95 - COVERAGE_FACTOR_95 * 0.0026f64.sqrt()).abs() < 1e-12);
        // var(a − b) = var(a) + var(b) − 2 cov(a, b) (JCGM 100:2008, 5.2.2).
        let variance_of = |aim: &Aim| (aim.u95_percent() / COVERAGE_FACTOR_95).powi(2);
        let covariance = first.covariance_percent2(&second, true);
        assert!((variance_of(&first) + variance_of(&second) - 2.0 * covariance - 0.0026).abs() < 1e-12);
        // Two lamps share the bay only.
        assert!((first.covariance_percent2(&second, false) - 0.01).abs() < 1e-12);
        // Two photos of the first stop, one of which shares nothing of the bay: by hand (0.10 / 2)² is left of it, and
        // the photos' own 0.03² / 2 + 0.04².
        let stray = aim(1.0, 0.03, &[0.05, -0.02], &[0.0]);
        let (_, variance) = Mean::of(&[&second]).difference(&Mean::of(&[&first, &stray]));
        let expected = 0.0025 + 0.00045 + 0.0016 + 0.0001;
        assert!((variance - expected).abs() < 1e-12, "{variance} and {expected}");
    }

    #[test]
    fn repeated_photos_that_agree_gain_and_that_disagree_do_not() {
        let (mean, variance) = pooled(&[(1.00, 0.02), (1.01, 0.02)]);
        assert!((mean - 1.005).abs() < 1e-12 && (variance.sqrt() - 0.02 / 2f64.sqrt()).abs() < 1e-9);
        // By hand: 1.2 and 2.4 have the mean 1.8 and, as a mean of two, the standard deviation 0.6.
        let (mean, variance) = pooled(&[(1.2, 0.02), (2.4, 0.02)]);
        assert!((mean - 1.8).abs() < 1e-12 && (variance.sqrt() - 0.6).abs() < 1e-9);
        assert_eq!(pooled(&[(1.0, 0.5)]), (1.0, 0.25));
    }
}
