//! Why one photo of a bracket must not be merged with another.

use crate::language::{Language, said};
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Why a photo must not be merged with the one that the others are laid on, and what to do about it.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
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

impl Misfit {
    /// Why not, and what to do about it.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        let edited = match language {
            Language::English => {
                "keep the lamp's state, and take the photos without HDR, night mode or automatic enhancement, unedited"
            }
            Language::German => {
                "am Scheinwerfer nichts ändern und die Fotos ohne HDR, Nachtmodus oder automatische Verbesserung aufnehmen, unbearbeitet"
            }
        };
        match self {
            Self::MarksApart { rms_px, base } => said!(
                language;
                "its sheets lie {rms_px} px off where {} has them, however the camera moved; was a sheet moved, or the picture stitched or \
                 stabilised? Take the exposures again, one after the other, with nothing else changed",
                "seine Messblätter liegen {rms_px} px neben denen von {}, wie auch immer sich die Kamera bewegt hat; wurde \
                 ein Blatt bewegt oder das Bild zusammengesetzt oder stabilisiert? Die Belichtungen neu aufnehmen, eine nach \
                 der anderen, ohne sonst etwas zu ändern";
                base.display(),
                rms_px = language.decimal(*rms_px, 1)
            ),
            Self::NothingShared { base } => said!(
                language;
                "hardly a place is exposed in both this photo and {}, so that neither light nor place can be compared; add an exposure \
                 between them (steps of 2 to 4 EV)",
                "kaum eine Stelle ist sowohl in diesem Foto als auch in {} belichtet, deshalb lassen sich weder Licht noch \
                 Ort vergleichen; eine Belichtung dazwischen ergänzen (Schritte von 2 bis 4 EV)";
                base.display()
            ),
            Self::Shifted { shift_px, base } => said!(
                language;
                "its light lies {shift_px} px off that of {}; the beam or the camera moved between them. Take the exposures one after \
                 the other, the camera on something firm, the car untouched",
                "sein Licht liegt {shift_px} px neben dem von {}; der Lichtkegel oder die Kamera hat sich dazwischen bewegt. \
                 Die Belichtungen eine nach der anderen aufnehmen, die Kamera fest aufgelegt, das Fahrzeug unberührt";
                base.display(),
                shift_px = language.decimal(*shift_px, 1)
            ),
            Self::PlaceUnknown { base } => said!(
                language;
                "it shares fewer than two readable sheets with {}, and too little light to tell whether the camera moved; add an \
                 exposure between them (steps of 2 to 4 EV)",
                "es hat weniger als zwei lesbare Messblätter mit {} gemeinsam und zu wenig Licht, um zu sagen, ob sich die \
                 Kamera bewegt hat; eine Belichtung dazwischen ergänzen (Schritte von 2 bis 4 EV)";
                base.display()
            ),
            Self::RatioVaries { in_dark, in_bright } => said!(
                language;
                "its light is {in_dark} times that of the other photo in the dark but {in_bright} times in the bright, so a tone curve was applied or \
                 the light changed; {edited}",
                "sein Licht ist im Dunklen {in_dark} mal das des anderen Fotos, im Hellen aber {in_bright} mal, also liegt \
                 eine Tonwertkurve darüber, oder das Licht hat sich geändert; {edited}";
                in_bright = language.decimal(*in_bright, 2),
                in_dark = language.decimal(*in_dark, 2)
            ),
            Self::RatioOff { by_light, by_exif } => said!(
                language;
                "its light is {by_light} times that of the other photo, but {by_exif} times by the exposures in the files, so a tone curve was \
                 applied or the light changed; {edited}",
                "sein Licht ist {by_light} mal das des anderen Fotos, nach den Belichtungen in den Dateien aber {by_exif} \
                 mal, also liegt eine Tonwertkurve darüber, oder das Licht hat sich geändert; {edited}";
                by_exif = language.decimal(*by_exif, 3),
                by_light = language.decimal(*by_light, 3)
            ),
            Self::ExposureUnknown => said!(
                language;
                "its exposure is not in the file, and too little is exposed in both photos to tell it; add an exposure between them, or the \
                 original file with its EXIF data",
                "seine Belichtung steht nicht in der Datei, und in beiden Fotos ist zu wenig belichtet, um sie zu bestimmen; \
                 eine Belichtung dazwischen ergänzen oder die Originaldatei mit ihren EXIF-Daten verwenden"
            ),
        }
    }
}
