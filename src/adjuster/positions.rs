//! The readings of a job by lamp and stage, and by position of the range control.

use super::mean::Mean;
use crate::aim::{Aim, ShotReading};
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
}

impl LampPositions {
    /// All lamps and stages of a job. A photo with a pump at work shows no position.
    pub fn all(readings: &[ShotReading]) -> Vec<Self> {
        by_lamp_and_stage(readings, |r| {
            r.shot.position.is_some() && !r.shot.is_pumped() && r.result.is_ok()
        })
        .into_iter()
        .map(|((lamp, stage), members)| Self {
            lamp,
            stage,
            on_car: members[0].lamp.clone(),
            positions: means(&members),
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
