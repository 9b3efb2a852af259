//! What one should know before relying on a figure: every warning of the program, with the measures that it names, its
//! words, and what can be the cause. Rooms raise them; outputs show them, and group them by kind.

use serde::{Serialize, Serializer};
use std::path::PathBuf;

/// What can be behind a warning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Cause {
    /// What the job file says, or leaves out.
    Job,
}

/// A warning, with the measures that its words give.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Warning {
    // Job: what the files say.
    /// Trials are recorded, but no system is named.
    TrialsWithoutSystem {
        /// How many trials.
        trials: usize,
    },
    /// The job names no tolerance table.
    NoTolerance,
    /// The job lists no shot.
    NoShots,
    /// One photo stands in the job under two names.
    SamePhoto {
        /// The photos as the job names them.
        photos: [PathBuf; 2],
    },
    // Photo: what the camera made of the light.
    /// Of the photos of a series together.
    Series(String),
    // Wall: where the sheets hang.
    // Cut-off and aim: the edge of the light.
    // Adjuster: what moves the beam.
    // Isolation: what the trials say.
}

impl Warning {
    /// What can be behind it; more than one where the photo cannot tell.
    #[must_use]
    pub fn causes(&self) -> &'static [Cause] {
        match self {
            Self::TrialsWithoutSystem { .. }
            | Self::NoTolerance
            | Self::NoShots
            | Self::SamePhoto { .. }
            | Self::Series(_) => &[Cause::Job],
        }
    }
}

impl std::fmt::Display for Warning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TrialsWithoutSystem { trials } => write!(
                f,
                "{trials} trials are recorded, but the job names no system, so that nothing follows from them; add system = \
                 \"NAME\""
            ),
            Self::Series(text) => f.write_str(text),
            Self::NoTolerance => f.write_str("the job names no tolerance table, so there are no verdicts"),
            Self::NoShots => f.write_str("the job lists no [[shot]] yet; add one for each photo"),
            Self::SamePhoto {
                photos: [first, second],
            } => write!(
                f,
                "{} and {} are the same photo under two names; each photo shows one state of the car, so one is wrong",
                first.display(),
                second.display()
            ),
        }
    }
}

/// In outputs for machines a warning is its words.
impl Serialize for Warning {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
