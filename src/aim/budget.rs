//! The uncertainty budget of an inclination (JCGM 100:2008): where it comes from, and how much each source gives.

use crate::record::said_as_written;
use serde::{Deserialize, Serialize};

/// What an uncertainty term has in common between the photos of one job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Share {
    /// Its source is the same in every photo of the job (a tape measure's error): of it, only the difference counts in a
    /// travel.
    Job,
    /// It differs from photo to photo.
    Photo,
}

/// A source of uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
pub enum Source {
    /// The wall's texture and the camera's noise under the edge.
    Texture,
    /// Which of the edge's shapes fits best.
    EdgeShape,
    /// No real edge has quite the shape of the model.
    EdgeModel,
    /// Light that is not the lamp's.
    StrayLight,
    /// What the camera or a program made of the light, as far as the marks do not tell.
    Tone,
    /// Where the corners of the marks lie in the photo.
    Corners,
    /// Where the sheets hang on the wall, as taped.
    Sheets,
    /// Height of the lamp's centre, as taped.
    LampHeight,
    /// Distance from the lamp to the wall, as taped.
    Distance,
    /// Grade, or flatness, of the standing area.
    Floor,
    /// The lamp is no point, so that its pattern lies higher on a near wall; only where its face is given, or the wall is near.
    LampFace,
    /// The lamp's own light in the photo that should show it off; only where there is some.
    LampOff,
    /// What the wall's texture does to all photos of a lamp that were read together; only where there are several.
    SharedTexture,
    /// What the camera makes of the light, as far as the marks do not tell, where nothing was laid over its photos.
    SharedTone,
    /// Which V-V is meant, the lamp's as the job has it or the pattern's own; only where the pattern lies plainly aside.
    Aside,
    /// The photo was coded anew, which smooths and shifts what was fine in it; only where the file shows it.
    Recoding,
}

impl Source {
    /// Those of every budget, in its order.
    pub const ALL: [Self; 10] = [
        Self::Texture,
        Self::EdgeShape,
        Self::EdgeModel,
        Self::StrayLight,
        Self::Tone,
        Self::Corners,
        Self::Sheets,
        Self::LampHeight,
        Self::Distance,
        Self::Floor,
    ];

    /// Whether the photos of a job share it.
    #[must_use]
    pub fn share(self) -> Share {
        match self {
            Self::Texture | Self::EdgeShape | Self::Tone | Self::Corners | Self::LampOff | Self::Recoding => {
                Share::Photo
            }
            Self::EdgeModel
            | Self::StrayLight
            | Self::Sheets
            | Self::LampHeight
            | Self::Distance
            | Self::Floor
            | Self::LampFace
            | Self::SharedTexture
            | Self::SharedTone
            | Self::Aside => Share::Job,
        }
    }
}

said_as_written! {
    Source {
        Texture => "wall texture and noise", "Wandstruktur und Rauschen";
        EdgeShape => "choice of the edge's shape", "Wahl der Kantenform";
        EdgeModel => "edge against its model", "Kante gegen ihr Modell";
        StrayLight => "stray light", "Streulicht";
        Tone => "tone curve of the photo", "Tonwertkurve des Fotos";
        Corners => "corners of the sheets in the photo", "Ecken der Messblätter im Foto";
        Sheets => "places of the sheets on the wall", "Lage der Messblätter an der Wand";
        LampHeight => "height of the lamp", "Höhe des Scheinwerfers";
        Distance => "distance to the wall", "Abstand zur Wand";
        Floor => "grade or flatness of the floor", "Gefälle oder Ebenheit des Bodens";
        LampFace => "height of the lamp's face", "Höhe der Lichtaustrittsfläche";
        LampOff => "the lamp's light in the lamp-off photo", "Scheinwerferlicht im Foto ohne Licht";
        SharedTexture => "wall texture, alike in all photos", "Wandstruktur, allen Fotos gemein";
        SharedTone => "tone curve of the camera", "Tonwertkurve der Kamera";
        Recoding => "coding of the photo anew", "Neukodierung des Fotos";
        Aside => "pattern beside the lamp's V-V", "Lichtbild neben V-V des Scheinwerfers";
    }
}

/// One term of a budget.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct Term {
    /// What it comes from.
    pub source: Source,
    /// Its share of the inclination's standard uncertainty, per cent of inclination.
    pub sd_percent: f64,
}

/// What the readings of a job have in common: what one standard deviation of each independent source does to the
/// inclination, per cent, with its sign. All readings of one job list the same sources in the same order.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, Serialize)]
pub struct Common {
    /// Sources that readings of the same lamp share: edge against its model, stray light, the lamp's height, the
    /// distance, which V-V is meant, and the camera's tone curve, a source for each knot of it.
    pub lamp: Vec<f64>,
    /// What the wall's texture does to readings of the same lamp whose photos were read together; empty where they were not.
    pub wall: Vec<f64>,
    /// Sources that all readings share: the floor, the lamps' face, then how the sheets hang and the lens.
    pub bay: Vec<f64>,
}

impl Common {
    /// The weighted sum of several readings' sources, for readings of one lamp: what the sources do to the same sum of
    /// their inclinations. Where a reading lists fewer sources, it has nothing of the rest.
    #[must_use]
    pub fn sum<'a>(weighted: impl IntoIterator<Item = (f64, &'a Self)>) -> Self {
        let mut total = Self::default();
        for (weight, one) in weighted {
            let lists = [
                (&mut total.lamp, &one.lamp),
                (&mut total.wall, &one.wall),
                (&mut total.bay, &one.bay),
            ];
            for (to, from) in lists {
                to.resize(to.len().max(from.len()), 0.0);
                for (sum, value) in to.iter_mut().zip(from) {
                    *sum += weight * value;
                }
            }
        }
        total
    }

    /// Variance, per cent squared.
    #[must_use]
    pub fn variance_percent2(&self) -> f64 {
        let lists = [&self.lamp, &self.wall, &self.bay];
        lists.into_iter().flatten().map(|v| v * v).sum()
    }
}
