//! Figures over many scenes: how large the errors are, and whether the stated uncertainty tells of them.

use super::class::{Class, Way};
use super::spoil::Spoilt;
use super::trial::{Outcome, Scored, Series};
use crate::aim::COVERAGE_FACTOR_95;
use crate::fit::median;
use serde::Serialize;
use std::collections::BTreeMap;

/// Errors of figures against their truth, all in the figure's own unit (per cent of inclination).
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct Errors {
    /// How many figures.
    pub count: usize,
    /// Median of |error|.
    pub median_percent: f64,
    /// Root mean square of the errors.
    pub rms_percent: f64,
    /// Largest |error|.
    pub worst_percent: f64,
    /// Mean error, with its sign: positive where the figures say "lower" than the truth.
    pub mean_percent: f64,
    /// Share of figures with |error| ≤ u95; about 0.95 where the uncertainty is honest.
    pub covered: f64,
    /// Median of u95.
    pub median_u95_percent: f64,
    /// Standard deviation of error / (u95/1.96): scatter seen over scatter stated; 1 where it is honest. `None` for
    /// fewer than two figures.
    pub seen_over_stated: Option<f64>,
}

impl Errors {
    /// Sums up `(error, u95)` pairs, per cent; `None` where there are none.
    #[must_use]
    pub fn of(pairs: &[(f64, f64)]) -> Option<Self> {
        if pairs.is_empty() {
            return None;
        }
        let count = pairs.len() as f64;
        let mut absolute: Vec<f64> = pairs.iter().map(|(error, _)| error.abs()).collect();
        let errors: Vec<f64> = pairs.iter().map(|(error, _)| *error).collect();
        let ratios: Vec<f64> = pairs.iter().map(|(e, u95)| e / (u95 / COVERAGE_FACTOR_95)).collect();
        let mut u95s: Vec<f64> = pairs.iter().map(|(_, u95)| *u95).collect();
        Some(Self {
            count: pairs.len(),
            median_percent: median(&mut absolute)?,
            rms_percent: rms(&errors)?,
            worst_percent: absolute.iter().copied().fold(0.0, f64::max),
            mean_percent: errors.iter().sum::<f64>() / count,
            covered: pairs.iter().filter(|(error, u95)| error.abs() <= *u95).count() as f64 / count,
            median_u95_percent: median(&mut u95s)?,
            seen_over_stated: standard_deviation(&ratios),
        })
    }
}

/// Root mean square; `None` for none.
fn rms(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt())
}

/// Standard deviation about the mean, with n − 1; `None` for fewer than two.
fn standard_deviation(values: &[f64]) -> Option<f64> {
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    (values.len() > 1).then(|| (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (count - 1.0)).sqrt())
}

/// What single photos gave.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ReadingSummary {
    /// Photos.
    pub scenes: usize,
    /// Refused ones, by reason.
    pub refused: BTreeMap<String, usize>,
    /// Errors of the inclination; none where every photo was refused.
    pub inclination: Option<Errors>,
    /// Root mean square of the error of sharpness G.
    pub sharpness_rms_g: Option<f64>,
    /// Root mean square of the error of the flat part's tilt, degrees.
    pub tilt_rms_deg: Option<f64>,
    /// Share of photos whose pattern was told right, among those whose job does not state it.
    pub pattern_right: Option<f64>,
}

impl ReadingSummary {
    /// Sums up readings.
    #[must_use]
    pub fn of(scored: &[Scored]) -> Self {
        let mut refused = BTreeMap::new();
        let (mut pairs, mut sharpness, mut tilt, mut patterns) = (vec![], vec![], vec![], vec![]);
        for one in scored {
            match &one.outcome {
                Outcome::Refused { reason, .. } => *refused.entry(reason.to_string()).or_insert(0) += 1,
                Outcome::Measured(figures) => {
                    pairs.extend(figures.error_percent.map(|error| (error, figures.u95_percent)));
                    sharpness.extend(figures.sharpness_error_g);
                    tilt.extend(figures.tilt_error_deg);
                    if !one.scene.pattern_stated {
                        patterns.push(figures.pattern == one.scene.pattern);
                    }
                }
            }
        }
        Self {
            scenes: scored.len(),
            refused,
            inclination: Errors::of(&pairs),
            sharpness_rms_g: rms(&sharpness),
            tilt_rms_deg: rms(&tilt),
            pattern_right: (!patterns.is_empty())
                .then(|| patterns.iter().filter(|right| **right).count() as f64 / patterns.len() as f64),
        }
    }
}

/// What series over the range control's positions gave.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct TravelSummary {
    /// Series.
    pub series: usize,
    /// Refused photos, by reason.
    pub refused: BTreeMap<String, usize>,
    /// Errors of the single photos' inclination.
    pub readings: Option<Errors>,
    /// Photos that were warned of anything.
    pub warned: usize,
    /// Errors of all steps.
    pub all: Option<Errors>,
    /// Of those from a tripod.
    pub tripod: Option<Errors>,
    /// Of those from the hand.
    pub hand: Option<Errors>,
    /// Of those whose job names a photo of the wall by the room's light.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wall_photo: Option<Errors>,
}

impl TravelSummary {
    /// Sums up series.
    #[must_use]
    pub fn of(series: &[Series]) -> Self {
        let steps = |wanted: &dyn Fn(&Series) -> bool| {
            let pairs: Vec<(f64, f64)> = series
                .iter()
                .filter(|one| wanted(one))
                .flat_map(|one| one.steps.iter().map(|step| (step.error_percent, step.u95_percent)))
                .collect();
            Errors::of(&pairs)
        };
        let readings = || series.iter().flat_map(|one| &one.readings);
        let pairs: Vec<(f64, f64)> = readings().map(|one| (one.error_percent, one.u95_percent)).collect();
        let mut refused = BTreeMap::new();
        for refusal in series.iter().flat_map(|one| &one.refused) {
            *refused.entry(refusal.reason.to_string()).or_insert(0) += 1;
        }
        Self {
            series: series.len(),
            refused,
            readings: Errors::of(&pairs),
            warned: readings().filter(|one| !one.warnings.is_empty()).count(),
            all: steps(&|_| true),
            tripod: steps(&|one| !one.hand),
            hand: steps(&|one| one.hand),
            wall_photo: steps(&|one| one.scene.wall_photo),
        }
    }
}

/// What photos that were spoilt in one way came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct UnreadableRow {
    /// What spoils them.
    pub way: Way,
    /// Photos.
    pub scenes: usize,
    /// Without a figure.
    pub refused: usize,
    /// Those, by reason.
    pub reasons: BTreeMap<String, usize>,
    /// With a figure that is right all the same.
    pub right: usize,
    /// Wrong, with a warning that names the cause.
    pub wrong_named: usize,
    /// Wrong, with warnings that do not name it.
    pub wrong_warned: usize,
    /// Wrong, without a warning.
    pub wrong_silent: usize,
}

/// What spoilt photos came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct UnreadableSummary {
    /// Photos.
    pub scenes: usize,
    /// A row for each way that was drawn.
    pub ways: Vec<UnreadableRow>,
}

impl UnreadableSummary {
    /// Sums up spoilt photos.
    #[must_use]
    pub fn of(spoilt: &[Spoilt]) -> Self {
        let row = |&way: &Way| {
            let mine: Vec<&Spoilt> = spoilt.iter().filter(|one| one.way == way).collect();
            let count = |class| mine.iter().filter(|one| one.class == class).count();
            let mut reasons = BTreeMap::new();
            for one in &mine {
                if let Outcome::Refused { reason, .. } = &one.scored.outcome {
                    *reasons.entry(reason.to_string()).or_insert(0) += 1;
                }
            }
            (!mine.is_empty()).then(|| UnreadableRow {
                way,
                scenes: mine.len(),
                refused: count(Class::Refused),
                reasons,
                right: count(Class::Right),
                wrong_named: count(Class::WrongNamed),
                wrong_warned: count(Class::WrongWarned),
                wrong_silent: count(Class::WrongSilent),
            })
        };
        Self {
            scenes: spoilt.len(),
            ways: Way::ALL.iter().filter_map(row).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_are_summed_up_as_by_hand() {
        // By hand: |e| 0.01, 0.02, 0.03, 0.08, median 0.025; squares 1 + 4 + 9 + 64 = 78 in 1e-4, rms √(78/4)·0.01 =
        // 0.0441588; mean (1 − 2 + 3 − 8)/4 = −0.015; u95 holds 0.01, 0.02 (just) and 0.03, not 0.08.
        let errors = Errors::of(&[(0.01, 0.05), (-0.02, 0.02), (0.03, 0.04), (-0.08, 0.06)]).unwrap();
        assert_eq!(errors.count, 4);
        assert!((errors.median_percent - 0.025).abs() < 1e-12);
        assert!((errors.rms_percent - 0.044_158_8).abs() < 1e-7);
        assert!((errors.worst_percent - 0.08).abs() < 1e-12);
        assert!((errors.mean_percent + 0.015).abs() < 1e-12);
        assert!((errors.covered - 0.75).abs() < 1e-12);
        assert!((errors.median_u95_percent - 0.045).abs() < 1e-12);
        // e/(u95/1.96) = 1.96·(0.2, −1, 0.75, −4/3): mean of the bracket −0.345833; squares about it 0.297917 + 0.427934 +
        // 1.200851 + 0.975156 = 2.901858; √(2.901858/3) = 0.983507, times 1.96 = 1.927674.
        assert!(
            (errors.seen_over_stated.unwrap() - 1.927_674).abs() < 2e-5,
            "{errors:?}"
        );
    }

    #[test]
    fn an_odd_number_has_its_middle_and_none_has_nothing() {
        let errors = Errors::of(&[(0.5, 1.0), (-0.1, 3.0), (0.2, 2.0)]).unwrap();
        assert_eq!((errors.median_percent, errors.median_u95_percent), (0.2, 2.0));
        assert_eq!(Errors::of(&[]), None);
        let one = Errors::of(&[(0.1, 0.05)]).unwrap();
        assert_eq!((one.covered, one.seen_over_stated), (0.0, None));
    }

    #[test]
    fn an_honest_uncertainty_is_seen_as_such() {
        // Errors drawn from a normal distribution with u95 = 1.96 sd: 95 % are covered, and the scatter is 1. Four
        // standard errors: √(0.95·0.05/20000) and 1/√(2·20000).
        use rand::RngExt;
        let mut rng = crate::check::seeded(3, 9);
        let pairs: Vec<(f64, f64)> = (0..20_000)
            .map(|n| {
                let sd = 0.01 + 0.01 * f64::from(n % 3);
                (
                    sd * rng.sample::<f64, _>(rand_distr::StandardNormal),
                    COVERAGE_FACTOR_95 * sd,
                )
            })
            .collect();
        let errors = Errors::of(&pairs).unwrap();
        assert!((errors.covered - 0.95).abs() < 4.0 * 0.001_54, "{errors:?}");
        assert!(
            (errors.seen_over_stated.unwrap() - 1.0).abs() < 4.0 * 0.005,
            "{errors:?}"
        );
    }
}
