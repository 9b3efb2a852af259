//! What the range adjuster does to the beam.

use crate::aim::{Aim, COVERAGE_FACTOR_95, Common, ShotReading};
use crate::record::{Side, Stage};

/// How far a beam travelled between two positions of the range control.
#[derive(Debug, Clone, PartialEq)]
pub struct Travel {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Position that it starts from.
    pub from: String,
    /// Position that it ends at.
    pub to: String,
    /// Change of the inclination, per cent; positive when the beam went down.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent: what differs from photo to photo, and of the common sources (tape,
    /// sheets, lamp) what does not cancel between the two.
    pub u95_percent: f64,
}

/// Photos of one lamp at one stage.
type Series = (Side, Option<Stage>);
/// A position and its photos.
type Stop<'a> = (String, Vec<&'a Aim>);

/// Travel from each position to the next, for each lamp and stage, in the order in which the job lists them. Several
/// photos of one position are averaged.
#[must_use]
pub fn travels(readings: &[ShotReading]) -> Vec<Travel> {
    let mut groups: Vec<(Series, Vec<Stop<'_>>)> = Vec::new();
    for reading in readings {
        let (Ok(measured), Some(position)) = (&reading.result, &reading.shot.position) else {
            continue;
        };
        let key: Series = (reading.shot.lamp, reading.shot.stage);
        let group = match groups.iter().position(|(k, _)| *k == key) {
            Some(n) => n,
            None => {
                groups.push((key, Vec::new()));
                groups.len() - 1
            }
        };
        let positions = &mut groups[group].1;
        match positions.iter_mut().find(|(name, _)| name == position) {
            Some((_, aims)) => aims.push(&measured.aim),
            None => positions.push((position.clone(), vec![&measured.aim])),
        }
    }
    let mut travels = Vec::new();
    for ((lamp, stage), positions) in groups {
        for pair in positions.windows(2) {
            let ((from, from_aims), (to, to_aims)) = (&pair[0], &pair[1]);
            let (percent, variance) = difference(from_aims, to_aims);
            travels.push(Travel {
                lamp,
                stage,
                from: from.clone(),
                to: to.clone(),
                percent,
                u95_percent: COVERAGE_FACTOR_95 * variance.sqrt(),
            });
        }
    }
    travels
}

/// Mean of the readings `to` less that of the readings `from`, per cent, and its variance, per cent squared.
fn difference(from: &[&Aim], to: &[&Aim]) -> (f64, f64) {
    let own = |aims: &[&Aim]| {
        let samples: Vec<(f64, f64)> = aims
            .iter()
            .map(|aim| (aim.inclination_percent, aim.reading_u95_percent() / COVERAGE_FACTOR_95))
            .collect();
        pooled(&samples)
    };
    let weight = |aims: &[&Aim]| 1.0 / aims.len().max(1) as f64;
    let (from_weight, to_weight) = (-weight(from), weight(to));
    let left = Common::sum(
        from.iter()
            .map(|aim| (from_weight, &aim.common))
            .chain(to.iter().map(|aim| (to_weight, &aim.common))),
    );
    let ((from_mean, from_variance), (to_mean, to_variance)) = (own(from), own(to));
    (
        to_mean - from_mean,
        from_variance + to_variance + left.variance_percent2(),
    )
}

/// Mean of a position's readings and its variance. `samples`: inclination and its standard deviation, per cent.
///
/// Photos of one position that differ by more than their readings' uncertainty say that the position, not the reading,
/// is uncertain: the larger of the two variances counts (JCGM 100:2008, 4.2.3, for the variance of a mean).
fn pooled(samples: &[(f64, f64)]) -> (f64, f64) {
    let count = samples.len() as f64;
    let mean = samples.iter().map(|s| s.0).sum::<f64>() / count;
    let read = samples.iter().map(|s| s.1.powi(2)).sum::<f64>() / count.powi(2);
    let seen = if samples.len() > 1 {
        samples.iter().map(|s| (s.0 - mean).powi(2)).sum::<f64>() / (count * (count - 1.0))
    } else {
        0.0
    };
    (mean, read.max(seen))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::{Share, Term};
    use crate::cutoff::CutOff;
    use crate::record::Pattern;

    fn aim(percent: f64, photo_sd: f64, lamp: &[f64], bay: &[f64]) -> Aim {
        let common = Common {
            lamp: lamp.to_vec(),
            bay: bay.to_vec(),
        };
        let job_sd = common.variance_percent2().sqrt();
        let term = |name, share, sd_percent| Term {
            name,
            share,
            sd_percent,
        };
        Aim {
            inclination_percent: percent,
            budget: vec![term("photo", Share::Photo, photo_sd), term("job", Share::Job, job_sd)],
            common,
            drop_mm: 0.0,
            angle_deg: 0.0,
            reach_m: None,
            cutoff: CutOff {
                x_mm: 0.0,
                y_mm: 0.0,
                scatter_sd_mm: 0.0,
                shape_sd_mm: 0.0,
                model_sd_mm: 0.0,
                stray_light_sd_mm: 0.0,
                warnings: Vec::new(),
                pattern: Pattern::Flat,
                sharpness_g: 0.2,
                linearity_deg: 0.0,
                tilt_deg: 0.0,
                elbow: None,
                threshold_y_mm: None,
                plain_y_mm: None,
                scans: Vec::new(),
            },
            elbow_lateral_percent: None,
        }
    }

    #[test]
    fn of_what_photos_share_only_the_difference_counts_in_a_travel() {
        let first = aim(1.0, 0.03, &[0.05, -0.02], &[0.10]);
        let second = aim(1.5, 0.04, &[0.05, -0.03], &[0.10]);
        // By hand: 0.03² + 0.04² + (0.03 − 0.02)² = 0.0026.
        let (percent, variance) = difference(&[&first], &[&second]);
        assert!(
            (percent - 0.5).abs() < 1e-12 && (variance - 0.0026).abs() < 1e-12,
            "{variance}"
        );
        let u95 = first.difference_u95_percent(&second);
        assert!((u95 - COVERAGE_FACTOR_95 * 0.0026f64.sqrt()).abs() < 1e-12);
        // var(a − b) = var(a) + var(b) − 2 cov(a, b) (JCGM 100:2008, 5.2.2).
        let variance_of = |aim: &Aim| (aim.u95_percent() / COVERAGE_FACTOR_95).powi(2);
        let covariance = first.covariance_percent2(&second, true);
        assert!((variance_of(&first) + variance_of(&second) - 2.0 * covariance - 0.0026).abs() < 1e-12);
        // Two lamps share the bay only.
        assert!((first.covariance_percent2(&second, false) - 0.01).abs() < 1e-12);
        // Two photos of the first stop, one of which shares nothing of the bay: by hand (0.10 / 2)² is left of it, and
        // the photos' own 0.03² / 2 + 0.04².
        let stray = aim(1.0, 0.03, &[0.05, -0.02], &[0.0]);
        let (_, variance) = difference(&[&first, &stray], &[&second]);
        let expected = 0.0025 + 0.00045 + 0.0016 + 0.0001;
        assert!((variance - expected).abs() < 1e-12, "{variance} and {expected}");
    }

    #[test]
    fn repeated_photos_that_agree_gain_and_that_disagree_do_not() {
        let (mean, variance) = pooled(&[(1.00, 0.02), (1.01, 0.02)]);
        assert!((mean - 1.005).abs() < 1e-12 && (variance.sqrt() - 0.02 / 2f64.sqrt()).abs() < 1e-9);
        // By hand: 1.2 and 2.4 have the mean 1.8 and, as a mean of two, the standard deviation 0.6.
        let (mean, variance) = pooled(&[(1.2, 0.02), (2.4, 0.02)]);
        assert!((mean - 1.8).abs() < 1e-12 && (variance.sqrt() - 0.6).abs() < 1e-9);
        assert_eq!(pooled(&[(1.0, 0.5)]), (1.0, 0.25));
    }
}
