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
    /// Where the bay file has the sheets.
    Bay,
    /// How the sheets were printed, or how they hang.
    Sheets,
    /// What was done to the photo between sensor and file.
    Processing,
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
    /// Two sheets carry one number.
    MarkSeenTwice {
        /// The number.
        id: u32,
    },
    /// A sheet hangs elsewhere than in the bay file.
    MarkMisplaced {
        /// Its number.
        id: u32,
        /// How far to the right and up.
        offset_mm: [f64; 2],
    },
    /// Sheets hang elsewhere than in the bay file, as other photos show.
    MarksMisplacedElsewhere {
        /// Their numbers.
        ids: Vec<u32>,
    },
    /// A sheet was moved between the photos.
    MarkMoved {
        /// Its number.
        id: u32,
        /// How far to the right and up of where the other photos have it.
        offset_mm: [f64; 2],
    },
    /// Several sheets hang otherwise than in the first photos.
    SheetsRehung,
    /// The sheets' size and their distances from one another do not go together.
    SheetSize {
        /// The size over the size in the bay file, less 1.
        excess: f64,
    },
    /// Few marks hold the view.
    FewMarks {
        /// How many.
        used: usize,
    },
    /// The marks' ink and paper do not keep one ratio.
    ToneBent {
        /// The power by which ink follows paper; 1 where they keep it.
        exponent: f64,
    },
    /// The marks' ink is too bright or too dark for a print.
    InkUnusual {
        /// Ink over paper.
        ratio: f64,
    },
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
            Self::MarkMisplaced { .. } | Self::MarksMisplacedElsewhere { .. } | Self::SheetSize { .. } => {
                &[Cause::Bay, Cause::Sheets]
            }
            Self::MarkSeenTwice { .. } | Self::MarkMoved { .. } | Self::SheetsRehung | Self::FewMarks { .. } => {
                &[Cause::Sheets]
            }
            Self::ToneBent { .. } | Self::InkUnusual { .. } => &[Cause::Processing],
        }
    }
}

/// What mends a photo that was processed.
const UNPROCESSED: &str =
    "take it without HDR, night mode, filters or automatic enhancement, and give the camera's own file, unedited";

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
            Self::MarkSeenTwice { id } => write!(
                f,
                "mark {id} is seen in two places, so neither was used; take the second sheet with this number away"
            ),
            Self::MarkMisplaced {
                id,
                offset_mm: [right_mm, up_mm],
            } => write!(
                f,
                "mark {id} hangs {right_mm:.0} mm to the right of and {up_mm:.0} mm above its place in the bay file (negative: left, \
                 below) and was not used; measure it again"
            ),
            Self::MarksMisplacedElsewhere { ids } => {
                let ids: Vec<String> = ids.iter().map(u32::to_string).collect();
                write!(
                    f,
                    "mark {} hangs elsewhere than in the bay file, as other photos of the job show, and was not used; measure it \
                     again",
                    ids.join(", ")
                )
            }
            Self::MarkMoved {
                id,
                offset_mm: [right_mm, up_mm],
            } => write!(
                f,
                "mark {id} lies {right_mm:.1} mm to the right of and {up_mm:.1} mm above where the job's other photos have it \
                 (negative: left, below) and was not used in this one; leave the sheets alone between the photos, and press them \
                 flat"
            ),
            Self::SheetsRehung => f.write_str(
                "several sheets hang otherwise than in the job's first photos, as if they had been taken down and put up again; \
                 the photo was read without those, and a travel between them is less certain. Leave the sheets alone between \
                 the photos of a job",
            ),
            Self::SheetSize { excess } => write!(
                f,
                "the sheets look {:.1} % of the size that their distances from one another say: either they were not printed at \
                 100 %, or the distances were measured wrong. Measure a black square and the places of the centres again before \
                 you rely on the figures",
                100.0 * (1.0 + excess)
            ),
            Self::FewMarks { used } => write!(
                f,
                "only {used} marks were used; four or more, not all on one line, hold the view better"
            ),
            Self::ToneBent { exponent } => write!(
                f,
                "black and white of the marks do not keep one ratio from the dark sheets to the bright ones (it goes by the power \
                 {exponent:.2}, not 1): a tone curve, HDR or an edit was laid over this photo, and the reading may be off by more \
                 than its u95; {UNPROCESSED}"
            ),
            Self::InkUnusual { ratio } => write!(
                f,
                "the marks' black is {:.1} % of their white; prints have 3.3 to 13 %: a tone curve, HDR or an edit may have been \
                 laid over this photo, and the reading may be off by more than its u95; {UNPROCESSED}",
                100.0 * ratio
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
