//! Why one photo of a bracket must not be merged with another.

use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Why a photo must not be merged with the one that the others are laid on, and what to do about it; displayed in plain
/// words.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Misfit {
    /// The marks do not lie as in the other photo, however the camera moved.
    MarksApart {
        /// How far they lie off, px root mean square.
        rms_px: f64,
        /// The other photo.
        base: PathBuf,
    },
    /// Hardly a place is exposed in both.
    NothingShared {
        /// The other photo.
        base: PathBuf,
    },
    /// The light lies elsewhere in the picture.
    Shifted {
        /// How far, px.
        shift_px: f64,
        /// The other photo.
        base: PathBuf,
    },
    /// Too few marks are common to both, and too little light, to tell whether the camera moved.
    PlaceUnknown {
        /// The other photo.
        base: PathBuf,
    },
    /// The ratio of the light is another in the dark than in the bright.
    RatioVaries {
        /// The ratio in the darker half of the places that both show.
        in_dark: f64,
        /// The ratio in the brighter half.
        in_bright: f64,
    },
    /// The ratio of the light is not that of the exposures.
    RatioOff {
        /// The ratio by what both show.
        by_light: f64,
        /// The ratio by the exposures in the files.
        by_exif: f64,
    },
    /// The exposure is neither in the file, nor can it be told from the light.
    ExposureUnknown,
}

impl std::fmt::Display for Misfit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        const EDITED: &str =
            "keep the lamp's state, and take the photos without HDR, night mode or automatic enhancement, unedited";
        match self {
            Self::MarksApart { rms_px, base } => write!(
                f,
                "its marks lie {rms_px:.1} px off where {} has them, however the camera moved; was a sheet moved, or the picture stitched or \
                 stabilised? Take the exposures again, one after the other, with nothing else changed",
                base.display()
            ),
            Self::NothingShared { base } => write!(
                f,
                "hardly a place is exposed in both this photo and {}, so that neither light nor place can be compared; add an exposure \
                 between them (steps of 2 to 4 EV)",
                base.display()
            ),
            Self::Shifted { shift_px, base } => write!(
                f,
                "its light lies {shift_px:.1} px off that of {}; the beam or the camera moved between them. Take the exposures one after \
                 the other, the camera on something firm, the car untouched",
                base.display()
            ),
            Self::PlaceUnknown { base } => write!(
                f,
                "it shares fewer than two readable marks with {}, and too little light to tell whether the camera moved; add an \
                 exposure between them (steps of 2 to 4 EV)",
                base.display()
            ),
            Self::RatioVaries { in_dark, in_bright } => write!(
                f,
                "its light is {in_dark:.2} times that of the other photo in the dark but {in_bright:.2} times in the bright, so a tone curve was applied or \
                 the light changed; {EDITED}"
            ),
            Self::RatioOff { by_light, by_exif } => write!(
                f,
                "its light is {by_light:.3} times that of the other photo, but {by_exif:.3} times by the exposures in the files, so a tone curve was \
                 applied or the light changed; {EDITED}"
            ),
            Self::ExposureUnknown => f.write_str(
                "its exposure is not in the file, and too little is exposed in both photos to tell it; add an exposure between them, or the \
                 original file with its EXIF data",
            ),
        }
    }
}
