//! Why a photo gives no figure. A refusal says how to mend the photo; it is not an error of the program.

use serde::{Deserialize, Serialize};

/// The reasons for which a photo is refused, as the output names them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Reason {
    /// The file is no photo that can be decoded.
    UnreadablePhoto,
    /// Too few of the bay's marks were found.
    MarksMissing,
    /// The marks do not lie where the bay file says.
    MarksDisagree,
    /// The cut-off lies in clipped light.
    Overexposed,
    /// The cut-off drowns in the camera's dark level.
    Underexposed,
    /// The photo is out of focus or shaken.
    Blurred,
    /// There is no edge of light where the lamp should throw one.
    NoCutoff,
    /// The edge is too soft to say where it is.
    CutoffUnsharp,
    /// A second edge of light lies beside the first.
    SecondCutoff,
    /// The cut-off leaves the photo where it must be read.
    CutoffOutOfFrame,
    /// The edge is so far from level that it cannot be a cut-off.
    NotLevel,
}

impl std::fmt::Display for Reason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::UnreadablePhoto => "unreadable-photo",
            Self::MarksMissing => "marks-missing",
            Self::MarksDisagree => "marks-disagree",
            Self::Overexposed => "overexposed",
            Self::Underexposed => "underexposed",
            Self::Blurred => "blurred",
            Self::NoCutoff => "no-cutoff",
            Self::CutoffUnsharp => "cutoff-unsharp",
            Self::SecondCutoff => "second-cutoff",
            Self::CutoffOutOfFrame => "cutoff-out-of-frame",
            Self::NotLevel => "not-level",
        })
    }
}

/// A photo that gives no figure: why, and how to mend it.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Deserialize, Serialize)]
#[error("{reason}: {message}")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Refusal {
    /// The reason.
    pub reason: Reason,
    /// What was seen, with its measure, and what to do about it.
    pub message: String,
}

impl Refusal {
    /// A refusal for `reason`; `message` says what was seen and what to do about it.
    pub fn new(reason: Reason, message: impl Into<String>) -> Self {
        Self {
            reason,
            message: message.into(),
        }
    }
}
