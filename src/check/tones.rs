//! Photos whose file is not plain sRGB: curves over the whole picture, and tone mapping that follows the surroundings.

use super::case::{Case, Tape};
use super::seeded;
use super::summary::Errors;
use super::trial::{Outcome, Scored, score};
use super::variety::{log_even, one_of, varied};
use crate::error::Error;
use crate::render::{Exposure, ToneCurve};
use crate::warning::Cause;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use serde::Serialize;

/// What lies over a photo's light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Form {
    /// Nothing but sRGB.
    Plain,
    /// ITU-R BT.709, read as sRGB.
    Rec709,
    /// A power.
    Gamma,
    /// Toe and shoulder.
    Filmic,
    /// A logistic in log light.
    Sigmoid,
    /// The dark lifted, the bright compressed.
    Shoulder,
    /// An S over the codes.
    Contrast,
    /// Each place lifted by how dark its surroundings are.
    Surroundings,
    /// Each tile by its histogram.
    Tiles,
}

impl Form {
    /// All of them, in the order of the output.
    pub const ALL: [Self; 9] = [
        Self::Plain,
        Self::Rec709,
        Self::Gamma,
        Self::Filmic,
        Self::Sigmoid,
        Self::Shoulder,
        Self::Contrast,
        Self::Surroundings,
        Self::Tiles,
    ];
    /// Those that follow the surroundings.
    const LOCAL: [Self; 2] = [Self::Surroundings, Self::Tiles];

    /// Its name in the output.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Rec709 => "rec709",
            Self::Gamma => "gamma",
            Self::Filmic => "filmic",
            Self::Sigmoid => "sigmoid",
            Self::Shoulder => "shoulder",
            Self::Contrast => "contrast",
            Self::Surroundings => "surroundings",
            Self::Tiles => "tiles",
        }
    }

    fn lay_on(self, exposure: &mut Exposure, rng: &mut ChaCha8Rng) {
        match self {
            Self::Plain => {}
            Self::Rec709 => exposure.curve = ToneCurve::Rec709,
            Self::Gamma => exposure.curve = ToneCurve::Gamma(rng.random_range(1.8..2.6)),
            Self::Filmic => exposure.curve = ToneCurve::Filmic(rng.random_range(0.2..1.0)),
            Self::Sigmoid => exposure.curve = ToneCurve::Sigmoid(rng.random_range(0.8..1.7)),
            Self::Shoulder => exposure.curve = ToneCurve::Shoulder(log_even(rng, 0.5..8.0)),
            Self::Contrast => exposure.curve = ToneCurve::Contrast(rng.random_range(0.15..0.9)),
            Self::Surroundings => {
                exposure.tone_map = rng.random_range(0.1..0.6);
                exposure.tone_map_reach = log_even(rng, 0.015..0.1);
            }
            Self::Tiles => {
                exposure.edits.equalise = rng.random_range(0.15..0.6);
                exposure.edits.tiles = rng.random_range(4..=12);
                exposure.edits.most_contrast = rng.random_range(2.0..4.0);
            }
        }
    }
}

/// A photo with its curve and what came of it.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Toned {
    /// What lies over its light.
    pub form: Form,
    /// Wrong, and no warning speaks of it.
    pub silent: bool,
    /// Its figures.
    #[serde(flatten)]
    pub scored: Scored,
}

/// Draws a scene at 5 to 12 m, lays a curve or a local tone mapping over it, and reads it.
///
/// # Errors
/// [`Error`] where no scene could be drawn.
pub(crate) fn toned(seed: u64) -> Result<Toned, Error> {
    let (form, case) = draw(seed)?;
    let scored = score(&case)?;
    Ok(Toned {
        form,
        silent: is_silent(&scored.outcome),
        scored,
    })
}

/// A third of the photos has a local tone mapping, and a third of all is sharpened or smoothed as well.
fn draw(seed: u64) -> Result<(Form, Case), Error> {
    let mut rng = seeded(seed, 6);
    let mut scene = varied(&mut rng, 5_000.0..12_000.0)?;
    let form = if rng.random_bool(1.0 / 3.0) {
        one_of(&mut rng, &Form::LOCAL)
    } else {
        one_of(&mut rng, &Form::ALL[..7])
    };
    let exposure = &mut scene.exposure;
    exposure.p997_of_full_scale = rng.random_range(0.5..1.1);
    form.lay_on(exposure, &mut rng);
    if rng.random_bool(1.0 / 6.0) {
        exposure.edits.sharpen = rng.random_range(0.2..0.8);
    }
    if rng.random_bool(1.0 / 6.0) {
        exposure.edits.denoise_codes = rng.random_range(1.0..4.0);
    }
    let case = Case::new(seed, scene, Tape::True, &mut rng);
    Ok((form, case))
}

/// Whether a figure is far off, with no warning that gives processing as a cause.
fn is_silent(outcome: &Outcome) -> bool {
    let Outcome::Measured(figures) = outcome else {
        return false;
    };
    figures.is_far_off() && !(figures.warnings.iter()).any(|warning| warning.causes().contains(&Cause::Tone))
}

/// What photos of one form, or of several, gave.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ToneRow {
    /// What lies over their light; none for all of them, and for all global ones.
    pub form: String,
    /// Photos.
    pub scenes: usize,
    /// Without a figure.
    pub refused: usize,
    /// With a warning that gives processing as a cause.
    pub warned: usize,
    /// Wrong without one.
    pub silent: usize,
    /// Errors of the figures.
    pub inclination: Option<Errors>,
}

/// What photos with curves gave.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ToneSummary {
    /// A row for each form that was drawn, then one for the curves over the whole picture and one for the local ones.
    pub rows: Vec<ToneRow>,
}

impl ToneSummary {
    /// Sums up photos.
    #[must_use]
    pub fn of(toned: &[Toned]) -> Self {
        let is_local = |form: &Form| Form::LOCAL.contains(form);
        let each = Form::ALL.iter().map(|form| row(form.name(), toned, |of| of == form));
        let groups = [
            row("all global", toned, |form| !is_local(form)),
            row("all local", toned, is_local),
        ];
        Self {
            rows: each.chain(groups).filter(|row| row.scenes > 0).collect(),
        }
    }
}

fn row(name: &str, toned: &[Toned], wanted: impl Fn(&Form) -> bool) -> ToneRow {
    let mine: Vec<&Toned> = toned.iter().filter(|one| wanted(&one.form)).collect();
    let figures = mine.iter().filter_map(|one| match &one.scored.outcome {
        Outcome::Measured(figures) => Some(figures),
        Outcome::Refused { .. } => None,
    });
    let figures: Vec<_> = figures.collect();
    let pairs = figures.iter().filter_map(|f| Some((f.error_percent?, f.u95_percent)));
    let is_warned = |warnings: &[crate::warning::Warning]| warnings.iter().any(|w| w.causes().contains(&Cause::Tone));
    ToneRow {
        form: name.to_owned(),
        scenes: mine.len(),
        refused: mine.len() - figures.len(),
        warned: figures.iter().filter(|f| is_warned(&f.warnings)).count(),
        silent: mine.iter().filter(|one| one.silent).count(),
        inclination: Errors::of(&pairs.collect::<Vec<_>>()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_third_of_the_photos_is_mapped_locally_and_all_forms_come_up() {
        let forms: Vec<Form> = (1..=90).map(|seed| draw(seed).unwrap().0).collect();
        let local = forms.iter().filter(|form| Form::LOCAL.contains(form)).count();
        // Four standard deviations about a third of 90.
        assert!((12..=48).contains(&local), "{local}");
        assert!(Form::ALL.iter().all(|form| forms.contains(form)), "{forms:?}");
        let (_, case) = draw(7).unwrap();
        assert_eq!(case.scene.exposure, draw(7).unwrap().1.scene.exposure);
    }
}
