//! The photos to take: checks become a list in the order of work, and afterwards the photos of a folder, in the order of
//! their clock, become the `[[shot]]` entries of the job.
//!
//! Nothing here measures. What a photo is taken to be comes from its place in the order alone, so every doubt about that
//! order is said, and where the numbers do not match nothing is written.

mod entry;
mod folder;
mod json;
mod pairing;
mod plan;
mod table;
mod words;

pub(crate) use entry::AT_THE_LAMP;
pub use entry::{entries, entry};
pub(crate) use folder::names_of_photos;
pub use folder::{Folder, Numbers, TakenPhoto, read_folder};
pub(crate) use json::{ListJson, PairingJson};
pub use pairing::{Pairing, pair};
pub use plan::{GaugeStep, Wanted, gauge_steps, list, select};

use plan::{numbers_of, too_high};
pub use table::render as render_pairing;
pub use words::{Said, afterwards, describe, render as render_list, set_for, steps, steps_anew};

use crate::record::{Branch, Job, Side, Stage};

/// Positions of the range control where nothing else is asked for.
pub const USUAL_POSITIONS: &str = "0,1,2,3";
/// Steps of the pump's gauge where nothing else is asked for.
pub const USUAL_GAUGE: &str = "0,50,100,150,200,250,300,350,400 mbar";
/// Length of a leak-down where nothing else is asked for, minutes.
pub const USUAL_MINUTES: u16 = 10;
/// Time between its photos, s.
pub const USUAL_EVERY_S: u32 = 60;

/// A question that photos are to answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Check {
    /// Where each beam lies, range control at 0: one photo a lamp.
    Aim,
    /// What the range control does: one photo a position.
    Positions,
    /// What vacuum does: a photo at each step of a hand pump, up and down again.
    Vacuum,
    /// Whether it holds: a series in time with the pump's valve shut.
    LeakDown,
    /// The other checks before and again after the repair; by itself, the positions.
    BeforeAfter,
}

impl Check {
    /// All of them, as they are listed in messages.
    pub const ALL: [Self; 5] = [
        Self::Aim,
        Self::Positions,
        Self::Vacuum,
        Self::LeakDown,
        Self::BeforeAfter,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::Aim => "aim",
            Self::Positions => "positions",
            Self::Vacuum => "vacuum",
            Self::LeakDown => "leak-down",
            Self::BeforeAfter => "before-after",
        }
    }
}

impl std::fmt::Display for Check {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.name())
    }
}

impl std::str::FromStr for Check {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let known = Self::ALL.into_iter().find(|check| check.name() == text);
        known.ok_or_else(|| format!("give one of {}", Self::ALL.map(Self::name).join(", ")))
    }
}

/// What drives the beam while a photo is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drive {
    /// The driver's range control.
    Control,
    /// A hand pump with a gauge, at the lamp.
    Pump,
}

/// One photo to take.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPhoto {
    /// Its number in the list, from 1; it stays the same when only some are chosen.
    pub number: usize,
    /// The lamp that is lit and not covered.
    pub lamp: Side,
    /// Before or after the repair, where that is told.
    pub stage: Option<Stage>,
    /// What drives the beam.
    pub drive: Drive,
    /// Photos with the same number show one lamp without a change of covers between them, so that one photo with the lamp
    /// off serves all of them.
    pub view: usize,
    /// What it is to show.
    pub shows: Shows,
}

/// What a photo is to show.
#[derive(Debug, Clone, PartialEq)]
pub enum Shows {
    /// A position of the range control.
    Position(String),
    /// A step of the pump.
    Vacuum {
        /// As read from the gauge.
        gauge: GaugeStep,
        /// Which way it is being changed.
        branch: Branch,
    },
    /// A moment of a leak-down.
    Sealed {
        /// Time since the valve was shut, s; 0 for the first of the series. Where it starts depends on the lamp, so that no
        /// vacuum is planned: the gauge is read as the valve is shut.
        after_s: u32,
        /// Time between the photos of the series, s.
        every_s: u32,
        /// The highest step of the pump, at which the beam has its whole travel.
        reaches: GaugeStep,
    },
    /// The same view with the lamp off.
    LampOff,
}

impl PlannedPhoto {
    /// Whether the job holds a shot of this state already.
    #[must_use]
    pub fn is_in(&self, job: &Job) -> bool {
        job.shot
            .iter()
            .filter(|shot| shot.lamp == self.lamp && shot.stage == self.stage)
            .any(|shot| match &self.shows {
                Shows::Position(position) => {
                    !shot.sealed && shot.vacuum.is_none() && shot.position.as_deref() == Some(position)
                }
                Shows::Vacuum { gauge, branch } => {
                    !shot.sealed && shot.vacuum == Some(gauge.vacuum) && shot.branch == Some(*branch)
                }
                Shows::Sealed { .. } => shot.sealed,
                Shows::LampOff => shot.lamp_off.is_some(),
            })
    }
}
