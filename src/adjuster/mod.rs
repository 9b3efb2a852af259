//! What the range adjuster does to the beam: travel, response to vacuum, hysteresis, leak-down.
//!
//! [`Adjuster::of`] takes a job's readings and gives everything that can be said; each part says "cannot tell" where the
//! readings do not hold it. [`Movement`] has the rule by which a beam is said to move.

mod curve;
mod faults;
mod fitted;
mod interval;
mod leak;
mod line;
mod mean;
mod motion;
mod positions;
mod posterior;
mod response;
mod rounding;
mod sample;
mod shape;
mod sides;
mod stages;
mod step;
mod travel;

pub use faults::{TravelFault, TravelFaultKind};
pub use interval::Interval;
pub use leak::{Crept, LeakDown, LeakFinding, LeakPoint, LeakSample, LeakState};
pub use motion::Movement;
pub(crate) use response::LEAST_PUMPED_MBAR;
pub use response::{Curve, Hysteresis, Polarity, Response, ResponsePoint, StickSlip, VacuumStep};
pub(crate) use sides::{SHORT_SHARE, SURE_SDS};
pub use sides::{ShortTravel, SideDifference};
pub use stages::{Change, FigureChange, PositionChange, PumpFigure, Real, StageChange, StageSentence, StageTravel};
pub use step::TravelStep;
pub use travel::{ExpectedOutcome, LampTravel, PositionTravel, TravelMend};

use crate::aim::ShotReading;
use crate::record::{AdjusterLimits, Side, Stage};
use crate::warning::Warning;
use motion::pairs;
use positions::LampPositions;
use serde::Serialize;

/// What the range adjuster does, lamp by lamp and stage by stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Adjuster {
    /// Least travel of interest that "moves" and "does not move" are judged by, per cent.
    pub least_travel_percent: f64,
    /// What the range control does.
    pub travel: Vec<LampTravel>,
    /// The left lamp against the right one.
    pub sides: Vec<SideDifference>,
    /// What a pump's vacuum does.
    pub response: Vec<Response>,
    /// What the beam does with the pump's valve shut.
    pub leak_down: Vec<LeakDown>,
    /// Before the repair against after it.
    pub stages: Vec<StageChange>,
    /// What the job expects and the photos do not show.
    #[serde(serialize_with = "crate::warning::as_words")]
    #[cfg_attr(test, schemars(with = "Vec<String>"))]
    pub warnings: Vec<Warning>,
}

/// In outputs for machines these are their words.
macro_rules! serialize_as_words {
    ($($type:ty),+) => {$(
        impl Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        #[cfg(test)]
        impl schemars::JsonSchema for $type {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                String::schema_name()
            }

            fn inline_schema() -> bool {
                true
            }

            fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                String::json_schema(generator)
            }
        }
    )+};
}
serialize_as_words!(TravelMend, LeakFinding, PumpFigure, StageSentence);

impl Adjuster {
    /// Everything that a job's readings say of its range adjuster. `vacuum_raises`: what the system file says vacuum does to
    /// the beam; `None` without one.
    #[must_use]
    pub fn of(readings: &[ShotReading], limits: &AdjusterLimits, vacuum_raises: Option<bool>) -> Self {
        let positions = LampPositions::all(readings);
        let fitted = response::responses(readings, limits, vacuum_raises, &leak::jumps(readings));
        let leak_down = leak::leaks(readings, &fitted, limits);
        let response: Vec<Response> = fitted.into_iter().map(|(response, _)| response).collect();
        let missing = |position: &&str| !positions.iter().any(|of| of.at(position).is_some());
        let warnings = limits
            .expected
            .iter()
            .map(|e| e.position.as_str())
            .filter(missing)
            .map(|position| Warning::ExpectedPositionUnread {
                position: position.to_owned(),
            })
            .collect();
        Self {
            least_travel_percent: limits.least_travel_percent,
            travel: positions.iter().map(|of| LampTravel::new(of, limits)).collect(),
            sides: sides::sides(&positions, limits),
            stages: stages::stages(&positions, &response, &leak_down, limits),
            response,
            leak_down,
            warnings,
        }
    }

    /// The same, with each travel after the repair held against the other lamp's before it, where no repair touched that lamp.
    /// `repaired`: lamps of which a part was mended.
    #[must_use]
    pub fn beside_before(mut self, readings: &[ShotReading], repaired: &[Side]) -> Self {
        let positions = LampPositions::all(readings);
        for travel in &mut self.travel {
            let said = (self.sides.iter().filter(|side| side.stage == travel.stage))
                .any(|side| side.short.as_ref().is_some_and(|short| short.lamp == travel.lamp));
            let of = positions
                .iter()
                .find(|of| (of.lamp, of.stage) == (travel.lamp, travel.stage));
            travel.short = of
                .filter(|of| !said && !repaired.contains(&of.lamp.other()))
                .and_then(|of| sides::short_of_before(of, &positions));
        }
        self
    }

    /// The travels that are surely short of the other lamp's, each with its stage.
    pub fn short_travels(&self) -> impl Iterator<Item = (Option<Stage>, &ShortTravel)> {
        let beside = (self.sides.iter()).filter_map(|side| Some((side.stage, side.short.as_ref()?)));
        let before = (self.travel.iter()).filter_map(|travel| Some((travel.stage, travel.short.as_ref()?)));
        beside.chain(before)
    }

    /// Whether something is wrong with how a lamp's beam is moved, or with which photo is of which position, so that the lamp is not set
    /// before that is mended.
    #[must_use]
    pub fn is_at_fault(&self, lamp: Side, stage: Option<Stage>) -> bool {
        let stands = |movement: Option<Movement>| movement == Some(Movement::Still);
        let mut travel = self.travel.iter().filter(|one| (one.lamp, one.stage) == (lamp, stage));
        let mut response = self
            .response
            .iter()
            .filter(|one| (one.lamp, one.stage) == (lamp, stage));
        let mut leaks = self
            .leak_down
            .iter()
            .filter(|one| (one.lamp, one.stage) == (lamp, stage));
        travel.any(|one| stands(one.movement) || !one.faults.is_empty())
            || response.any(|one| {
                let stays = |why: &Warning| matches!(why, Warning::BeamStaysDriven { .. });
                stands(one.movement) || one.stick_slip == StickSlip::Seen || one.warnings.iter().any(stays)
            })
            || leaks.any(|one| one.state == LeakState::Leaks)
            || self
                .short_travels()
                .any(|(of, short)| (short.lamp, of) == (lamp, stage))
    }

    /// Whether a lamp's beam was seen to follow the range control as it should.
    #[must_use]
    pub fn follows(&self, lamp: Side, stage: Option<Stage>) -> bool {
        let mut travel = self.travel.iter().filter(|one| (one.lamp, one.stage) == (lamp, stage));
        travel.any(|one| one.movement == Some(Movement::Moves) && one.faults.is_empty())
    }

    /// Whether there is nothing to say.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.travel.is_empty() && self.response.is_empty() && self.leak_down.is_empty()
    }
}
