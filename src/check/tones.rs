//! Photos whose file is not plain sRGB: curves over the whole picture, and tone mapping that follows the surroundings.

use super::case::{Case, Tape};
use super::seeded;
use super::summary::Errors;
use super::trial::{Outcome, Scored, score};
use super::variety::{log_even, varied};
use crate::error::Error;
use crate::render::{Exposure, ToneCurve};
use crate::warning::Cause;
use rand::RngExt;
use rand::rngs::ChaCha8Rng;
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

    /// What of this form a photo is given; curves have their number drawn from a range.
    fn lay_on(self, [from, to]: [f64; 2], exposure: &mut Exposure, rng: &mut ChaCha8Rng) {
        match self {
            Self::Plain => {}
            Self::Rec709 => exposure.curve = ToneCurve::Rec709,
            Self::Gamma => exposure.curve = ToneCurve::Gamma(rng.random_range(from..to)),
            Self::Filmic => exposure.curve = ToneCurve::Filmic(rng.random_range(from..to)),
            Self::Sigmoid => exposure.curve = ToneCurve::Sigmoid(rng.random_range(from..to)),
            Self::Shoulder => exposure.curve = ToneCurve::Shoulder(log_even(rng, from..to)),
            Self::Contrast => exposure.curve = ToneCurve::Contrast(rng.random_range(from..to)),
            Self::Surroundings => {
                exposure.tone_map = rng.random_range(from..to);
                exposure.tone_map_reach = log_even(rng, 0.015..0.1);
            }
            Self::Tiles => {
                exposure.edits.equalise = rng.random_range(from..to);
                exposure.edits.tiles = rng.random_range(4..=12);
                exposure.edits.most_contrast = rng.random_range(2.0..4.0);
            }
        }
    }
}

/// Curves over the whole picture, from mild to full, with the range of each one's number: the seeds go through them in turn.
const CURVES: [(Form, [f64; 2]); 15] = [
    (Form::Plain, [0.0, 0.0]),
    (Form::Rec709, [0.0, 0.0]),
    (Form::Gamma, [1.8, 2.2]),
    (Form::Gamma, [2.2, 2.6]),
    (Form::Filmic, [0.2, 0.5]),
    (Form::Filmic, [0.5, 0.8]),
    (Form::Filmic, [0.8, 1.0]),
    (Form::Sigmoid, [0.8, 1.1]),
    (Form::Sigmoid, [1.1, 1.4]),
    (Form::Sigmoid, [1.4, 1.7]),
    (Form::Shoulder, [0.5, 1.3]),
    (Form::Shoulder, [1.3, 3.2]),
    (Form::Shoulder, [3.2, 8.0]),
    (Form::Contrast, [0.15, 0.5]),
    (Form::Contrast, [0.5, 0.9]),
];
/// Tone mapping that follows the surroundings, likewise.
const LOCAL: [(Form, [f64; 2]); 2] = [(Form::Surroundings, [0.1, 0.6]), (Form::Tiles, [0.15, 0.6])];

/// A photo with its curve and what came of it.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Toned {
    /// What lies over its light.
    pub form: Form,
    /// The curve with its number.
    pub curve: ToneCurve,
    /// Wrong, and no warning speaks of it.
    pub silent: bool,
    /// Its figures.
    #[serde(flatten)]
    pub scored: Scored,
}

/// Draws a scene at 5 to 12 m, lays a curve over the whole of it, and reads it.
///
/// # Errors
/// [`Error`] where no scene could be drawn.
pub(crate) fn toned(seed: u64) -> Result<Toned, Error> {
    read(draw(seed, 6, &CURVES)?)
}

/// The same with a local tone mapping.
///
/// # Errors
/// As [`toned`].
pub(crate) fn locally_toned(seed: u64) -> Result<Toned, Error> {
    read(draw(seed, 7, &LOCAL)?)
}

fn read((form, case): (Form, Case)) -> Result<Toned, Error> {
    let scored = score(&case)?;
    Ok(Toned {
        form,
        curve: case.scene.exposure.curve,
        silent: is_silent(&scored.outcome),
        scored,
    })
}

/// A third of the photos is sharpened or smoothed as well.
fn draw(seed: u64, stream: u64, forms: &[(Form, [f64; 2])]) -> Result<(Form, Case), Error> {
    let mut rng = seeded(seed, stream);
    let mut scene = varied(&mut rng, 5_000.0..12_000.0)?;
    let (form, range) = forms[(seed % forms.len() as u64) as usize];
    let exposure = &mut scene.exposure;
    exposure.p997_of_full_scale = rng.random_range(0.5..1.1);
    form.lay_on(range, exposure, &mut rng);
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
    /// What lies over their light, or `all`.
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
    /// A row for each form that was drawn, then one for all.
    pub rows: Vec<ToneRow>,
}

impl ToneSummary {
    /// Sums up photos.
    #[must_use]
    pub fn of(toned: &[Toned]) -> Self {
        let each = Form::ALL.iter().map(|form| row(form.name(), toned, |of| of == form));
        Self {
            rows: each
                .chain([row("all", toned, |_| true)])
                .filter(|row| row.scenes > 0)
                .collect(),
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
    fn the_seeds_go_through_all_forms_in_turn() {
        let global: Vec<(Form, Case)> = (30..45).map(|seed| draw(seed, 6, &CURVES).unwrap()).collect();
        for ((form, case), (wanted, [from, to])) in global.iter().zip(CURVES) {
            assert_eq!(*form, wanted);
            let exposure = &case.scene.exposure;
            assert!(exposure.tone_map == 0.0 && exposure.edits.equalise == 0.0);
            if let ToneCurve::Gamma(number) | ToneCurve::Filmic(number) | ToneCurve::Shoulder(number) = exposure.curve {
                assert!((from..to).contains(&number), "{wanted:?}: {number}");
            }
        }
        let forms: Vec<Form> = CURVES.iter().chain(&LOCAL).map(|(form, _)| *form).collect();
        assert!(Form::ALL.iter().all(|form| forms.contains(form)), "{forms:?}");
        for seed in [4, 5] {
            let (_, case) = draw(seed, 7, &LOCAL).unwrap();
            let exposure = &case.scene.exposure;
            assert!(exposure.curve == ToneCurve::Srgb && (exposure.tone_map > 0.0) != (exposure.edits.equalise > 0.0));
            assert_eq!(*exposure, draw(seed, 7, &LOCAL).unwrap().1.scene.exposure);
        }
    }
}
