//! What spoils a photo, and what the reading of a spoilt photo came to.

use super::trial::Outcome;
use crate::warning::{Cause, Warning};
use serde::Serialize;

/// A figure further off than this, per cent, and than its u95, is wrong: half of the least step in the usual
/// tolerances (0.1 %; common practice, no source).
const WRONG_PERCENT: f64 = 0.05;

macro_rules! ways {
    ($($way:ident $name:literal [$($cause:ident)*] $doc:literal;)+) => {
        /// What spoils a photo.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
        #[serde(rename_all = "kebab-case")]
        pub(crate) enum Way { $(#[doc = $doc] $way),+ }

        impl Way {
            /// All of them, in the order in which the seeds go through them.
            pub const ALL: &'static [Self] = &[$(Self::$way),+];

            /// Its name in the output.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$way => $name),+ }
            }

            /// What a warning must give as a cause to name what is wrong; none where no warning speaks of it, and only a
            /// refusal does.
            fn causes(self) -> &'static [Cause] {
                match self { $(Self::$way => &[$(Cause::$cause),*]),+ }
            }
        }
    };
}
ways! {
    NoMarks "no-marks" [Marks] "No mark is in the photo.";
    TwoMarks "two-marks" [Marks] "Only two marks are.";
    MovedSheet "moved-sheet" [Marks] "One or two sheets hang 30 to 150 mm from where the bay file has them.";
    Overexposed "overexposed" [Exposure] "Much too bright.";
    Underexposed "underexposed" [Exposure] "Much too dark.";
    Defocused "defocused" [Blur] "Out of focus.";
    Shaken "shaken" [Blur] "Moved while the shutter was open.";
    LampOff "lamp-off" [] "The lamp is off.";
    BothLamps "both-lamps" [OtherLamp SecondEdge] "Both lamps are lit, their cut-offs 0.05 to 1.5 % apart.";
    OutOfFrame "out-of-frame" [] "The cut-off lies outside the photo where it is read.";
    TooSoft "too-soft" [Sharpness] "An edge far too soft.";
    Leaning "leaning" [Lean] "The cut-off leans by more than 5 degrees.";
    WrongLamp "wrong-lamp" [OtherLamp] "The job names the lamp that is not lit.";
    ToneMapped "tone-mapped" [Tone] "A local tone curve lifts what is dark.";
    Curve "curve" [Tone] "A curve over the whole picture bends its light.";
    BrightLight "bright-light" [OtherLight] "A ceiling light or a window is in the photo, and glares.";
    SoftLight "soft-light" [OtherLight SecondEdge] "A second soft light ends near the cut-off.";
    CutShort "cut-short" [] "The file ends too early.";
    Hidden "hidden" [] "Something dark stands before the flat side.";
}

/// What a spoilt photo came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Class {
    /// No figure.
    Refused,
    /// A figure within its u95, or within 0.05 %, of the truth.
    Right,
    /// A wrong figure with a warning that names the cause.
    WrongNamed,
    /// A wrong figure with warnings, none of which names the cause.
    WrongWarned,
    /// A wrong figure without a warning.
    WrongSilent,
}

impl Class {
    /// Judges what came of a photo that was spoilt in a `way`. A figure where there is no cut-off at all is wrong.
    #[must_use]
    pub fn of(way: Way, outcome: &Outcome) -> Self {
        let Outcome::Measured(figures) = outcome else {
            return Self::Refused;
        };
        let allowed_percent = figures.u95_percent.max(WRONG_PERCENT);
        if figures
            .error_percent
            .is_some_and(|error| error.abs() <= allowed_percent)
        {
            return Self::Right;
        }
        let named = |warning: &Warning| warning.causes().iter().any(|cause| way.causes().contains(cause));
        if figures.warnings.iter().any(named) {
            Self::WrongNamed
        } else if figures.warnings.is_empty() {
            Self::WrongSilent
        } else {
            Self::WrongWarned
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::trial::Figures;
    use crate::record::Pattern;
    use crate::refusal::Reason;

    fn measured(error_percent: Option<f64>, u95_percent: f64, warnings: &[Warning]) -> Outcome {
        Outcome::Measured(Figures {
            percent: 1.0,
            error_percent,
            u95_percent,
            reading_u95_percent: u95_percent,
            sharpness_error_g: None,
            tilt_error_deg: None,
            pattern: Pattern::Flat,
            warnings: warnings.to_vec(),
        })
    }

    #[test]
    fn wrong_is_further_off_than_u95_and_than_the_least_error_that_counts() {
        let class = |outcome: &Outcome| Class::of(Way::Leaning, outcome);
        assert_eq!(class(&measured(Some(-0.049), 0.01, &[])), Class::Right);
        assert_eq!(class(&measured(Some(-0.09), 0.1, &[])), Class::Right);
        assert_eq!(class(&measured(Some(0.051), 0.01, &[])), Class::WrongSilent);
        assert_eq!(
            class(&measured(Some(0.2), 0.1, &[Warning::Leans { tilt_deg: 6.0 }])),
            Class::WrongNamed
        );
        assert_eq!(
            class(&measured(
                Some(0.2),
                0.1,
                &[Warning::NearWall {
                    distance_mm: 3_000.0,
                    u95_percent: 0.1,
                }]
            )),
            Class::WrongWarned
        );
        assert_eq!(
            class(&measured(None, 0.1, &[])),
            Class::WrongSilent,
            "a figure of nothing"
        );
        let by_kick = [Warning::EdgeBelowKick];
        for (way, named) in [
            (Way::BothLamps, true),
            (Way::SoftLight, true),
            (Way::BrightLight, false),
            (Way::MovedSheet, false),
            (Way::LampOff, false),
        ] {
            let class = Class::of(way, &measured(Some(0.2), 0.1, &by_kick));
            assert_eq!(class == Class::WrongNamed, named, "{way:?}");
        }
        let refused = Outcome::Refused {
            reason: Reason::NotLevel,
            message: String::new(),
        };
        assert_eq!(class(&refused), Class::Refused);
    }
}
