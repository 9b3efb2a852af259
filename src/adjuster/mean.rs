//! The mean of the readings of one state, and what it shares with others.

use crate::aim::{Aim, COVERAGE_FACTOR_95, Common, ShotReading, Source};

/// Mean of the readings of one state.
#[derive(Debug, Clone)]
pub(super) struct Mean {
    /// Inclination, per cent.
    pub percent: f64,
    /// Variance of what no other reading has a part in, per cent squared.
    pub own_variance_percent2: f64,
    /// Variance of what differs from photo to photo, per cent squared: with it, for photos that were read together, what the
    /// wall's texture does to each; for fits that take their readings as independent but for [`Common::lamp`] and
    /// [`Common::bay`].
    pub differing_variance_percent2: f64,
    /// One standard deviation of what the wall's texture does to all readings alike that were read together, per cent; it is in
    /// [`Common::wall`] too.
    pub alike_sd_percent: f64,
    /// What it shares with other readings.
    pub common: Common,
    /// Number of photos.
    pub photos: usize,
}

impl Mean {
    /// Mean of at least one reading.
    pub fn of(aims: &[&Aim]) -> Self {
        let pooled_with = |variance_percent2: fn(&Aim) -> f64| {
            let sample = |aim: &&Aim| (aim.inclination_percent, variance_percent2(aim));
            pooled(&aims.iter().map(sample).collect::<Vec<(f64, f64)>>())
        };
        let (percent, own_variance_percent2) = pooled_with(Aim::own_variance_percent2);
        let (_, differing_variance_percent2) =
            pooled_with(|aim| (aim.reading_u95_percent() / COVERAGE_FACTOR_95).powi(2));
        let weight = 1.0 / aims.len().max(1) as f64;
        Self {
            percent,
            own_variance_percent2,
            differing_variance_percent2,
            alike_sd_percent: weight * aims.iter().map(|aim| alike_sd_percent(aim)).sum::<f64>(),
            common: Common::sum(aims.iter().map(|aim| (weight, &aim.common))),
            photos: aims.len(),
        }
    }

    /// Mean of those of the readings that have a figure; `None` where none has.
    pub fn of_readings(readings: &[&ShotReading]) -> Option<Self> {
        let aims: Vec<&Aim> = (readings.iter())
            .filter_map(|one| Some(&one.result.as_ref().ok()?.aim))
            .collect();
        (!aims.is_empty()).then(|| Self::of(&aims))
    }

    /// Variance with everything in it, per cent squared.
    pub fn variance_percent2(&self) -> f64 {
        self.own_variance_percent2 + self.common.variance_percent2()
    }

    /// This mean less another of the same lamp, per cent, and the variance of that, per cent squared: the photos' own in
    /// both, and of the common sources what does not cancel.
    pub fn difference(&self, from: &Self) -> (f64, f64) {
        let left = Common::sum([(1.0, &self.common), (-1.0, &from.common)]);
        (
            self.percent - from.percent,
            self.own_variance_percent2 + from.own_variance_percent2 + left.variance_percent2(),
        )
    }

    /// As [`Mean::difference`], per cent, with the half-width of its 95 % interval, per cent.
    pub fn travel_from(&self, from: &Self) -> (f64, f64) {
        let (percent, variance) = self.difference(from);
        (percent, COVERAGE_FACTOR_95 * variance.sqrt())
    }
}

fn alike_sd_percent(aim: &Aim) -> f64 {
    let mut terms = aim.budget.iter();
    terms
        .find(|term| term.source == Source::SharedTexture)
        .map_or(0.0, |term| term.sd_percent)
}

/// Mean of a position's readings and its variance. `samples`: inclination, per cent, and its variance, per cent squared.
///
/// Photos of one position that differ by more than their readings' uncertainty say that the position, not the reading,
/// is uncertain: the larger of the two variances counts (JCGM 100:2008, 4.2.3, for the variance of a mean).
fn pooled(samples: &[(f64, f64)]) -> (f64, f64) {
    let count = samples.len() as f64;
    let mean = samples.iter().map(|s| s.0).sum::<f64>() / count;
    let read = samples.iter().map(|s| s.1).sum::<f64>() / count.powi(2);
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

    fn aim(percent: f64, photo_sd: f64, lamp: &[f64], bay: &[f64]) -> Aim {
        let common = Common {
            lamp: lamp.to_vec(),
            bay: bay.to_vec(),
            ..Common::default()
        };
        Aim::made_with(percent, photo_sd, common)
    }

    #[test]
    fn of_what_photos_share_only_the_difference_counts_in_a_travel() {
        let first = aim(1.0, 0.03, &[0.05, -0.02], &[0.10]);
        let second = aim(1.5, 0.04, &[0.05, -0.03], &[0.10]);
        // By hand: 0.03² + 0.04² + (0.03 − 0.02)² = 0.0026.
        let (percent, variance) = Mean::of(&[&second]).difference(&Mean::of(&[&first]));
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
        let (_, variance) = Mean::of(&[&second]).difference(&Mean::of(&[&first, &stray]));
        let expected = 0.0025 + 0.00045 + 0.0016 + 0.0001;
        assert!((variance - expected).abs() < 1e-12, "{variance} and {expected}");
    }

    #[test]
    fn repeated_photos_that_agree_gain_and_that_disagree_do_not() {
        let (mean, variance) = pooled(&[(1.00, 0.02f64.powi(2)), (1.01, 0.02f64.powi(2))]);
        assert!((mean - 1.005).abs() < 1e-12 && (variance.sqrt() - 0.02 / 2f64.sqrt()).abs() < 1e-9);
        // By hand: 1.2 and 2.4 have the mean 1.8 and, as a mean of two, the standard deviation 0.6.
        let (mean, variance) = pooled(&[(1.2, 0.02f64.powi(2)), (2.4, 0.02f64.powi(2))]);
        assert!((mean - 1.8).abs() < 1e-12 && (variance.sqrt() - 0.6).abs() < 1e-9);
        assert_eq!(pooled(&[(1.0, 0.25)]), (1.0, 0.25));
    }
}
