//! What the range adjuster does to the beam: travel, response to vacuum, hysteresis, leak-down.

mod curve;
mod fitted;
mod interval;
mod leak;
mod motion;
mod response;
mod sides;
mod stages;
mod travel;

pub use interval::Interval;
pub use leak::LeakDown;
pub use motion::{FALSE_MOVES, LEAST_TRAVEL_PERCENT, Movement};
pub use response::{Curve, Hysteresis, Polarity, Response, ResponsePoint, StickSlip, VacuumStep};
pub use sides::SideDifference;
pub use stages::{Change, FigureChange, PositionChange, Real, StageChange};
pub use travel::{
    ExpectedOutcome, FaultKind, LampTravel, PositionTravel, Step, Travel, TravelFault, travels,
};
