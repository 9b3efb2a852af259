//! The readings of a job by lamp and stage, and by position of the range control.

use super::SURE_SDS;
use super::mean::Mean;
use crate::aim::{Aim, Common, ShotReading};
use crate::record::{Lamp, Side, Stage, in_order};

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

/// A position of the range control and the mean of its readings.
#[derive(Debug, Clone)]
pub(super) struct PositionMean {
    /// The position.
    pub position: String,
    /// Its readings.
    pub mean: Mean,
}

/// The positions of one lamp at one stage, in order.
#[derive(Debug, Clone)]
pub(super) struct LampPositions {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// The lamp as measured on the car.
    pub on_car: Lamp,
    /// Its positions in their order: numbers by number, other names behind them in the order in which the job first names
    /// them.
    pub positions: Vec<PositionMean>,
    /// The first position was photographed once more after all others, and the beam surely lay where the last had it. Those photos
    /// say nothing of where the first position has it, and are left out of its mean.
    pub does_not_return: bool,
}

impl LampPositions {
    /// All lamps and stages of a job. A photo with a pump at work shows no position.
    pub fn all(readings: &[ShotReading]) -> Vec<Self> {
        by_lamp_and_stage(readings, |r| {
            r.shot.position.is_some() && !r.shot.is_pumped() && r.result.is_ok()
        })
        .into_iter()
        .map(|((lamp, stage), members)| {
            let back = not_back(&members);
            let counts = |one: &&&ShotReading| !back.iter().any(|other| std::ptr::eq(*other, **one));
            Self {
                lamp,
                stage,
                on_car: members[0].lamp.clone(),
                positions: means(&members.iter().filter(counts).copied().collect::<Vec<_>>()),
                does_not_return: !back.is_empty(),
            }
        })
        .collect()
    }

    /// A position by its name.
    pub fn at(&self, position: &str) -> Option<&PositionMean> {
        self.positions.iter().find(|one| one.position == position)
    }

    /// The positions that both lamps, or stages, have.
    pub fn shared<'a>(&'a self, other: &'a Self) -> Vec<(&'a PositionMean, &'a PositionMean)> {
        self.positions
            .iter()
            .filter_map(|one| Some((one, other.at(&one.position)?)))
            .collect()
    }
}

/// A beam that keeps more than this of its way when it is let go has not come back (our choice: what holds keeps as much).
const KEPT_OF_WAY: f64 = 2.0 / 3.0;

/// Whether a beam that lay at `rest`, went to `driven` and was let go surely kept its place: what is left of its way less
/// [`KEPT_OF_WAY`] of that way.
pub(super) fn is_kept(rest: &Mean, driven: &Mean, back: &Mean) -> bool {
    let (way_percent, way_variance) = driven.difference(rest);
    let weighted = [(1.0, back), (KEPT_OF_WAY - 1.0, rest), (-KEPT_OF_WAY, driven)];
    let beyond: f64 = weighted.iter().map(|(weight, mean)| weight * mean.percent).sum();
    let own: f64 = (weighted.iter())
        .map(|(weight, mean)| weight.powi(2) * mean.own_variance_percent2)
        .sum();
    let shared = Common::sum(weighted.iter().map(|(weight, mean)| (*weight, &mean.common)));
    let sd_percent = (own + shared.variance_percent2()).sqrt();
    way_percent.abs() > SURE_SDS * way_variance.sqrt() && way_percent.signum() * beyond > SURE_SDS * sd_percent
}

/// The photos of the first position that were surely taken after all others, where the beam surely lay as the last position had it;
/// none where the times do not tell.
fn not_back<'a>(members: &[&'a ShotReading]) -> Vec<&'a ShotReading> {
    let mut names: Vec<(&str, ())> = Vec::new();
    for name in members.iter().filter_map(|one| one.shot.position.as_deref()) {
        if !names.iter().any(|(known, ())| *known == name) {
            names.push((name, ()));
        }
    }
    in_order(&mut names, |(position, ())| position);
    let (Some((first, ())), Some((last, ()))) = (names.first(), names.last()) else {
        return Vec::new();
    };
    let timed: Option<Vec<(f64, &ShotReading)>> = (members.iter())
        .map(|one| Some((one.capture.clock_s()?, *one)))
        .collect();
    let Some(timed) = timed.filter(|_| names.len() > 1) else {
        return Vec::new();
    };
    let at = |reading: &ShotReading, name: &str| reading.shot.position.as_deref() == Some(name);
    let others = || timed.iter().filter(|(_, one)| !at(one, first)).map(|(at_s, _)| *at_s);
    let (begun_s, ended_s) = (
        others().fold(f64::INFINITY, f64::min),
        others().fold(f64::NEG_INFINITY, f64::max),
    );
    let those = |counts: &dyn Fn(f64, &ShotReading) -> bool| -> Vec<&'a ShotReading> {
        let all = members.iter().zip(&timed);
        all.filter(|(_, (at_s, one))| counts(*at_s, one))
            .map(|(one, _)| *one)
            .collect()
    };
    let before = those(&|at_s, one| at(one, first) && at_s < begun_s);
    let after = those(&|at_s, one| at(one, first) && at_s > ended_s);
    let driven = those(&|_, one| at(one, last));
    let mean = Mean::of_readings;
    match (mean(&before), mean(&driven), mean(&after)) {
        (Some(rest), Some(driven), Some(back)) if is_kept(&rest, &driven, &back) => after,
        _ => Vec::new(),
    }
}

fn means(members: &[&ShotReading]) -> Vec<PositionMean> {
    let mut photos: Vec<(&str, Vec<&Aim>)> = Vec::new();
    for reading in members {
        let (Ok(measured), Some(position)) = (&reading.result, &reading.shot.position) else {
            continue;
        };
        match photos.iter_mut().find(|(name, _)| name == position) {
            Some((_, aims)) => aims.push(&measured.aim),
            None => photos.push((position, vec![&measured.aim])),
        }
    }
    in_order(&mut photos, |(position, _)| position);
    photos
        .into_iter()
        .map(|(position, aims)| PositionMean {
            position: position.to_owned(),
            mean: Mean::of(&aims),
        })
        .collect()
}
