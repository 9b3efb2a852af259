//! What may be said of a leak-down, with its figures.

use super::super::Interval;
use super::{LEAST_PHOTOS, LeakState};
use crate::language::Language;

/// What may be said of a leak-down, with its figures; outputs for machines have its words.
#[derive(Debug, Clone, PartialEq)]
pub enum LeakFinding {
    /// Too few timed photos, or over too short a time.
    TooShort {
        /// Photos with a time.
        photos: usize,
        /// From the first to the last, s.
        duration_s: f64,
    },
    /// The beam creeps, and there is no response to tell the vacuum from.
    Creeps {
        /// Change of the inclination, per cent.
        creep_percent: Interval,
        /// In so many minutes.
        minutes: f64,
        /// Time constant of the beam's course, s.
        time_constant_s: Option<Interval>,
    },
    /// The beam keeps its place, and there is no response to tell the vacuum from.
    BeamKept {
        /// What it surely did not change by, per cent.
        below_percent: f64,
        /// In so many minutes.
        minutes: f64,
    },
    /// The photos hold no course.
    NoCourse,
    /// Vacuum is lost.
    Leaks {
        /// Loss at the first photo, mbar per minute.
        start_rate_mbar_per_min: Interval,
        /// Half of what is lost in the end is lost in this time, s.
        half_time_s: Interval,
        /// Time constant, s.
        time_constant_s: Interval,
        /// Where the leak stops, mbar, if it surely does before nothing is left.
        residual_mbar: Option<Interval>,
    },
    /// Vacuum holds.
    Holds {
        /// What is surely not lost, mbar.
        below_mbar: f64,
        /// In so many minutes.
        minutes: f64,
    },
    /// The beam lies elsewhere than the response has it at what the gauge showed.
    GaugeAgainstResponse {
        /// What the gauge showed, mbar.
        gauge_mbar: f64,
        /// The vacuum at which the response has the beam there, mbar.
        response_mbar: f64,
    },
    /// The beam keeps its place on the slope of its response, and no gauge was typed to bear out that vacuum keeps it there.
    NoGauge {
        /// For so many minutes.
        minutes: f64,
    },
    /// The gauge's readings within the series go against a shut valve, or against a beam that keeps its place.
    GaugeAgainstValve {
        /// The two photos, as the job names them, in order of time.
        photos: [String; 2],
        /// What the gauge showed at each, mbar.
        mbar: [f64; 2],
    },
    /// The beam lies where it does not answer a loss.
    BeamWouldNotAnswer {
        /// Whether the play of the hysteresis can be why.
        has_play: bool,
        /// Whether the movement sticks, so that a beam that stands still says nothing.
        sticks: bool,
    },
}

impl LeakFinding {
    /// What it comes to.
    pub(super) fn state(&self) -> LeakState {
        match self {
            Self::Creeps { .. } | Self::Leaks { .. } => LeakState::Leaks,
            Self::Holds { .. } => LeakState::Holds,
            Self::TooShort { .. }
            | Self::BeamKept { .. }
            | Self::NoCourse
            | Self::NoGauge { .. }
            | Self::BeamWouldNotAnswer { .. }
            | Self::GaugeAgainstResponse { .. }
            | Self::GaugeAgainstValve { .. } => LeakState::CannotTell,
        }
    }
}

impl std::fmt::Display for LeakFinding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooShort { photos, duration_s } => write!(
                f,
                "cannot tell: {photos} timed photos over {duration_s:.0} s; take at least {LEAST_PHOTOS}, better 10, spread \
                 over some minutes"
            ),
            Self::Creeps {
                creep_percent,
                minutes,
                time_constant_s,
            } => {
                write!(f, "creeps by {} % in {minutes:.1} minutes", creep_percent.text(Language::English, 2))?;
                if let Some(time) = time_constant_s {
                    write!(f, ", with a time constant of the beam of {} s", time.text(Language::English, 0))?;
                }
                f.write_str("; without a response to vacuum that it follows it is not known how much vacuum that is")
            }
            Self::BeamKept { below_percent, minutes } => write!(
                f,
                "cannot tell: the beam kept its place within {below_percent:.2} % for {minutes:.1} minutes, but whether the \
                 vacuum held cannot be told without the lamp's response to it: it may stand on its end stop"
            ),
            Self::GaugeAgainstResponse {
                gauge_mbar,
                response_mbar,
            } => write!(
                f,
                "cannot tell: the gauge showed {gauge_mbar:.0} mbar, and by the lamp's response the beam lies where about \
                 {response_mbar:.0} mbar would take it; read the gauge again, or photograph the response anew"
            ),
            Self::GaugeAgainstValve { photos, mbar } => write!(
                f,
                "cannot tell: the gauge showed {:.0} mbar at {} and {:.0} mbar at {}, {}",
                mbar[0],
                photos[0],
                mbar[1],
                photos[1],
                if mbar[1] > mbar[0] {
                    "which no shut valve lets rise: the pump was worked in between, a reading is wrong, or a photo stands in the \
                     wrong series"
                } else {
                    "so that vacuum was lost, though the beam kept its place: a reading is wrong, or the beam does not answer"
                }
            ),
            Self::NoGauge { minutes } => write!(
                f,
                "cannot tell: the beam kept its place on the slope of its response for {minutes:.1} minutes, but no gauge reading \
                 bears out that vacuum kept it there, since a beam that is jammed keeps its place, too; enter what the gauge \
                 showed as the valve was shut (vacuum = \"…\") with the first photo"
            ),
            Self::NoCourse => f.write_str("cannot tell: the photos hold no course in time; take more of them"),
            Self::Leaks {
                start_rate_mbar_per_min,
                half_time_s,
                time_constant_s,
                residual_mbar,
            } => {
                write!(
                    f,
                    "leaks: {} mbar per minute at the start, half of it lost in {} s (time constant {} s)",
                    start_rate_mbar_per_min.text(Language::English, 1),
                    half_time_s.text(Language::English, 0),
                    time_constant_s.text(Language::English, 0)
                )?;
                match residual_mbar {
                    Some(residual) => write!(f, "; it stops at {} mbar", residual.text(Language::English, 0)),
                    None => Ok(()),
                }
            }
            Self::Holds { below_mbar, minutes } => {
                write!(f, "holds: less than {below_mbar:.0} mbar lost in {minutes:.1} minutes")
            }
            Self::BeamWouldNotAnswer { sticks: true, .. } => f.write_str(
                "cannot tell: the movement sticks, so that a beam that stands still says nothing of the vacuum; mend what binds, \
                 or watch a gauge",
            ),
            Self::BeamWouldNotAnswer { has_play, .. } => write!(
                f,
                "cannot tell: the beam lies where it does not answer a loss ({}); pump only to the middle of the travel, \
                 release a little, shut the valve, and take photos for longer",
                if *has_play {
                    "end stop, dead band, or the play of its hysteresis"
                } else {
                    "end stop or dead band"
                }
            ),
        }
    }
}
