//! Made readings: a known inclination with a known uncertainty and no photo behind it, for tests and simulations of
//! what follows from readings. Nothing that is measured passes through here.

use super::{Aim, Common, Measured, ShotReading, Source, Term};
use crate::cutoff::{CutOff, SharedScatter};
use crate::photo::Capture;
use crate::record::{Lamp, Pattern, Shot};

impl CutOff {
    /// A cut-off at the wall's origin, without uncertainty, elbow and scans.
    #[must_use]
    pub fn made() -> Self {
        Self {
            x_mm: 0.0,
            y_mm: 0.0,
            scatter_sd_mm: 0.0,
            shape_sd_mm: 0.0,
            model_sd_mm: 0.0,
            stray_light_sd_mm: 0.0,
            climb: None,
            aside_sd_mm: 0.0,
            tone_mm: Vec::new(),
            tone_alike: false,
            warnings: Vec::new(),
            pattern: Pattern::Flat,
            sharpness_g: 0.2,
            linearity_deg: 0.0,
            tilt_deg: 0.0,
            elbow: None,
            threshold_y_mm: None,
            plain_y_mm: None,
            scans: Vec::new(),
            profile: None,
            shared: None,
        }
    }
}

impl Aim {
    /// An aim of `percent` with these terms (source, one standard deviation in per cent) and common sources, and with
    /// nothing known of the cut-off that it would have been read from.
    #[must_use]
    pub fn made(percent: f64, terms: &[(Source, f64)], common: Common) -> Self {
        let term = |&(source, sd_percent): &(Source, f64)| Term { source, sd_percent };
        Self {
            inclination_percent: percent,
            budget: terms.iter().map(term).collect(),
            common,
            drop_mm: 0.0,
            drop_at_wall_mm: 0.0,
            angle_deg: (percent / 100.0).atan().to_degrees(),
            reach_m: None,
            cutoff: CutOff::made(),
            elbow_lateral_percent: None,
            elbow_lateral_u95_percent: None,
        }
    }

    /// As [`Aim::made`], with one term that differs from photo to photo, and one for what the common sources come to.
    #[must_use]
    pub fn made_with(percent: f64, photo_sd_percent: f64, common: Common) -> Self {
        let job_sd_percent = common.variance_percent2().sqrt();
        let terms = [(Source::Texture, photo_sd_percent), (Source::Sheets, job_sd_percent)];
        Self::made(percent, &terms, common)
    }
}

impl Aim {
    /// As [`Aim::made_with`], of a photo that was read together with others: one standard deviation, in per cent, of what differs
    /// from photo to photo, of what no other photo has a part in, and of what the wall does to all of them alike.
    #[must_use]
    pub fn made_together(percent: f64, differing_sd: f64, own_sd: f64, alike_sd: f64, common: Common) -> Self {
        let mut aim = Self::made_with(percent, differing_sd, common);
        let sources = [(Source::SharedTexture, alike_sd)];
        aim.budget
            .extend(sources.map(|(source, sd_percent)| Term { source, sd_percent }));
        // Only their ratio counts.
        aim.cutoff.scatter_sd_mm = differing_sd;
        aim.cutoff.shared = Some(SharedScatter {
            own_sd_mm: own_sd,
            effects_mm: Vec::new(),
            alike_sd_mm: alike_sd,
        });
        aim
    }
}

impl ShotReading {
    /// The reading of `shot` that gave `aim`, with a photo taken at `taken` (`YYYY-MM-DDThh:mm:ss`).
    #[must_use]
    pub fn made(shot: Shot, lamp: Lamp, aim: Aim, taken: Option<&str>) -> Self {
        Self {
            shot,
            lamp,
            sha256: None,
            capture: Capture {
                taken: taken.map(str::to_owned),
                ..Capture::default()
            },
            result: Ok(Measured {
                aim,
                verdict: None,
                warnings: Vec::new(),
            }),
            others: Vec::new(),
            picture: None,
            eye_mm: None,
        }
    }
}
