//! What a workshop has and a plain scene has not: a car that stands askew, paint on the wall, a soft lamp, strong noise from far
//! off. Figure, interval and warnings are held against the truth, and a warning that names what is not there counts.

use super::case::{Case, Tape};
use super::seeded;
use super::summary::Errors;
use super::trial::{Outcome, Scored, score_against};
use super::variety::{add_wall_photo, frame_holds_all, log_even, one_of, stand_back, varied};
use crate::error::Error;
use crate::render::{Paint, Scene};
use crate::warning::{Cause, Warning};
use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use serde::Serialize;
use std::ops::Range;

/// What is other than in a plain scene.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Condition {
    /// Nothing.
    Sound,
    /// The car stands 2° to 3° askew.
    Askew,
    /// A stripe, or paint of two colours, near the cut-off.
    Painted,
    /// A lamp softer than approved, uneven along its cut-off.
    Soft,
    /// Strong noise, 20 to 25 m off.
    Noisy,
}

impl Condition {
    /// All of them, in the order in which the seeds go through them.
    pub const ALL: [Self; 5] = [Self::Sound, Self::Askew, Self::Painted, Self::Soft, Self::Noisy];

    /// Its name in the output.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::Askew => "askew",
            Self::Painted => "painted",
            Self::Soft => "soft",
            Self::Noisy => "noisy",
        }
    }

    /// The causes that its warnings may give.
    fn may_name(self) -> &'static [Cause] {
        match self {
            Self::Sound | Self::Noisy => &[],
            // A flat pattern shows only where its light is brightest, which can be another lamp's.
            Self::Askew => &[Cause::Askew, Cause::Job],
            Self::Painted => &[Cause::Wall],
            Self::Soft => &[Cause::Sharpness],
        }
    }

    fn distance_mm(self) -> Range<f64> {
        match self {
            Self::Noisy => 20_000.0..25_000.0,
            _ => 5_000.0..10_000.0,
        }
    }

    /// Makes a plain scene into one of these.
    fn lay_on(self, scene: &mut Scene, rng: &mut ChaCha8Rng) -> Result<(), Error> {
        let lamp = &mut scene.lamp[0];
        match self {
            Self::Sound => {}
            Self::Askew => {
                lamp.lateral_percent = one_of(rng, &[-1.0, 1.0]) * rng.random_range(3.5..5.2);
                let aside_mm = 0.01 * lamp.lateral_percent * lamp.distance_mm;
                // Who takes the photo stands before the light.
                scene.camera.position_mm[0] += 0.5 * aside_mm;
                if let Some(look_at) = &mut scene.camera.look_at_mm {
                    look_at[0] += 0.5 * aside_mm;
                }
            }
            Self::Painted => {
                let from_mm = scene.truth()?[0].edge_y_mm + rng.random_range(-90.0..70.0);
                scene.wall.paint = vec![Paint {
                    from_y_mm: from_mm,
                    to_y_mm: from_mm + log_even(rng, 30.0..1_500.0),
                    reflectance: (scene.wall.reflectance * one_of(rng, &[0.3, 0.5, 0.7, 1.25])).min(0.95),
                }];
            }
            Self::Soft => {
                lamp.sharpness_g = rng.random_range(0.08..0.13);
                lamp.streak_contrast = rng.random_range(0.02..0.1);
                lamp.band_contrast = rng.random_range(0.0..0.02);
                lamp.streak_deg = rng.random_range(0.5..1.5);
            }
            Self::Noisy => {
                let exposure = &mut scene.exposure;
                exposure.iso = one_of(rng, &[800, 1_600]);
                exposure.full_well_electrons = 8_000.0 * 50.0 / f64::from(exposure.iso);
                exposure.read_noise_electrons = rng.random_range(1.5..4.0);
            }
        }
        Ok(())
    }
}

/// A photo with its condition and what came of it.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Conditioned {
    /// What is other than in a plain scene.
    pub condition: Condition,
    /// Whether the job names a photo of the wall by the room's light.
    pub wall_photo: bool,
    /// Wrong, and no warning names the cause.
    pub silent: bool,
    /// Kinds of the warnings that name what is not there.
    pub false_warnings: Vec<&'static str>,
    /// Its figures; the truth is the inclination 2.5° beside the pattern's own V-V.
    #[serde(flatten)]
    pub scored: Scored,
}

/// Draws a scene of one of the conditions, by turns, and reads it.
///
/// # Errors
/// [`Error`] where no scene could be drawn.
pub(crate) fn conditioned(seed: u64) -> Result<Conditioned, Error> {
    let (condition, case) = draw(seed)?;
    // Seen from a car that stands askew, its lamp aims straight ahead.
    let mut straight = case.scene.clone();
    straight.lamp[0].lateral_percent = 0.0;
    let truth_percent = straight.truth()?[0].inclination_percent;
    let scored = score_against(&case, truth_percent)?;
    let (mut silent, mut false_warnings) = (false, Vec::new());
    if let Outcome::Measured(figures) = &scored.outcome {
        let meant = |warning: &&Warning| (warning.causes().iter()).any(|cause| condition.may_name().contains(cause));
        silent = figures.is_far_off() && !figures.warnings.iter().any(|warning| meant(&warning));
        false_warnings = figures
            .warnings
            .iter()
            .filter(|one| !meant(one))
            .map(Into::into)
            .collect();
    }
    Ok(Conditioned {
        condition,
        wall_photo: !case.job.wall_photos.is_empty(),
        silent,
        false_warnings,
        scored,
    })
}

fn draw(seed: u64) -> Result<(Condition, Case), Error> {
    const ATTEMPTS: usize = 40;
    /// A beam that does not fall is warned of, and a blurred edge's inflection lies above the aim that was drawn, per cent.
    const FALLS_PERCENT: f64 = 0.3;
    let condition = Condition::ALL[(seed % Condition::ALL.len() as u64) as usize];
    let mut rng = seeded(seed, 8);
    let by_room = rng.random_bool(0.5);
    for _ in 0..ATTEMPTS {
        let mut scene = varied(&mut rng, condition.distance_mm())?;
        scene.exposure.p997_of_full_scale = rng.random_range(0.4..1.1);
        condition.lay_on(&mut scene, &mut rng)?;
        let falls = |scene: &Scene| {
            scene
                .truth()
                .is_ok_and(|truth| truth[0].inclination_percent > FALLS_PERCENT)
        };
        if !falls(&scene) || !stand_back(&mut scene) {
            continue;
        }
        let mut case = Case::new(seed, scene, Tape::True, &mut rng);
        if by_room {
            add_wall_photo(&mut case);
        }
        if frame_holds_all(&case.scene, 0) {
            return Ok((condition, case));
        }
    }
    Err(Error::asked(format!(
        "no {} scene could be drawn from seed {seed}; choose another",
        condition.name()
    )))
}

/// What photos of one condition gave.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ConditionRow {
    /// The condition; those with a wall photo apart.
    pub condition: String,
    /// Photos.
    pub scenes: usize,
    /// Without a figure.
    pub refused: usize,
    /// Wrong, and no warning names the cause.
    pub silent: usize,
    /// With a warning that names what is not there.
    pub falsely_warned: usize,
    /// Errors of the figures.
    pub inclination: Option<Errors>,
}

/// What photos of all conditions gave.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ConditionSummary {
    /// A row for each condition that was drawn, then one for all photos with a wall photo and one for those without.
    pub rows: Vec<ConditionRow>,
}

impl ConditionSummary {
    /// Sums up photos.
    #[must_use]
    pub fn of(all: &[Conditioned]) -> Self {
        let each = Condition::ALL
            .iter()
            .map(|&condition| row(condition.name(), all, |one| one.condition == condition));
        let by_wall = [
            row("wall photo", all, |one| one.wall_photo),
            row("no wall ph.", all, |one| !one.wall_photo),
        ];
        Self {
            rows: each.chain(by_wall).filter(|row| row.scenes > 0).collect(),
        }
    }
}

fn row(name: &str, all: &[Conditioned], wanted: impl Fn(&Conditioned) -> bool) -> ConditionRow {
    let mine: Vec<&Conditioned> = all.iter().filter(|one| wanted(one)).collect();
    let pairs: Vec<(f64, f64)> = mine
        .iter()
        .filter_map(|one| one.scored.outcome.error_and_u95())
        .collect();
    ConditionRow {
        condition: name.to_owned(),
        scenes: mine.len(),
        refused: mine.len() - pairs.len(),
        silent: mine.iter().filter(|one| one.silent).count(),
        falsely_warned: mine.iter().filter(|one| !one.false_warnings.is_empty()).count(),
        inclination: Errors::of(&pairs),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_condition_comes_up_as_its_name_says() {
        for seed in 0..10 {
            let (condition, case) = draw(seed).unwrap();
            let (lamp, wall) = (&case.scene.lamp[0], &case.scene.wall);
            let seen = [
                lamp.lateral_percent.abs() > 3.0,
                !wall.paint.is_empty(),
                lamp.sharpness_g < 0.13,
                case.scene.lamp[0].distance_mm > 15_000.0,
            ];
            let meant = [Condition::Askew, Condition::Painted, Condition::Soft, Condition::Noisy];
            assert_eq!(seen, meant.map(|one| one == condition), "{seed} {condition:?}");
            let text = |case: &Case| serde_json::to_string(&case.scene).unwrap();
            assert_eq!(text(&case), text(&draw(seed).unwrap().1));
        }
    }

    #[test]
    fn a_warning_of_what_is_not_there_counts() {
        // Sound, 5 to 10 m: nothing may be warned of, and nothing is.
        let one = conditioned(5).unwrap();
        assert_eq!((one.condition, one.silent), (Condition::Sound, false));
        let summary = ConditionSummary::of(std::slice::from_ref(&one));
        assert_eq!(
            (summary.rows[0].falsely_warned, summary.rows[0].refused),
            (0, 0),
            "{one:?}"
        );
        let mut accused = one;
        accused.false_warnings.push("leans");
        assert_eq!(ConditionSummary::of(&[accused]).rows[0].falsely_warned, 1);
    }
}
