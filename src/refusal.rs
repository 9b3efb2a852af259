//! Why a photo gives no figure. A refusal says how to mend the photo; it is not an error of the program.

use crate::language::{Language, Said};
use crate::record::said_as_written;
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
    /// Another shot, of another setting, has the same picture.
    OnePicture,
}

said_as_written! {
    Reason {
        UnreadablePhoto => "unreadable-photo" ("photo unreadable"), "Foto unlesbar";
        MarksMissing => "marks-missing" ("sheets missing"), "Messblätter fehlen";
        MarksDisagree => "marks-disagree" ("sheets do not fit"), "Messblätter passen nicht";
        Overexposed => "overexposed", "überbelichtet";
        Underexposed => "underexposed", "unterbelichtet";
        Blurred => "blurred", "unscharf";
        NoCutoff => "no-cutoff" ("no cut-off"), "keine Grenze";
        CutoffUnsharp => "cutoff-unsharp" ("cut-off too soft"), "Grenze zu weich";
        SecondCutoff => "second-cutoff" ("a second edge"), "zweite Kante";
        CutoffOutOfFrame => "cutoff-out-of-frame" ("cut-off not in photo"), "Grenze nicht im Bild";
        NotLevel => "not-level" ("edge not level"), "Kante zu schräg";
        OnePicture => "one-picture" ("one picture twice"), "dasselbe Bild zweimal";
    }
}

/// A photo that gives no figure: why, and how to mend it.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Deserialize, Serialize)]
#[error("{reason}: {}", .message.within(Language::English))]
pub struct Refusal {
    /// The reason.
    pub reason: Reason,
    /// What was seen, with its measure, and what to do about it.
    pub message: Said,
}

impl Refusal {
    /// A refusal for `reason`; `message` says what was seen and what to do about it.
    pub fn new(reason: Reason, message: impl Fn(Language) -> String) -> Self {
        Self {
            reason,
            message: Said::of(message),
        }
    }

    /// The same refusal with its words put into others.
    pub(crate) fn reworded(&self, message: impl Fn(Language, &str) -> String) -> Self {
        Self::new(self.reason, |language| message(language, self.message.within(language)))
    }

    /// What was seen and what to do about it, for machines and for what is said in English only.
    #[must_use]
    pub fn english(&self) -> &str {
        self.message.within(Language::English)
    }

    /// Reason and words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        format!("{}: {}", self.reason.said(language), self.message.within(language))
    }
}
