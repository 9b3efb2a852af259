//! Inside or outside of a tolerance band, or undecided where the interval straddles a limit.

use super::settle::{Means, what_would_settle};
use super::{Aim, COVERAGE_FACTOR_95};
use crate::fit::normal;
use crate::record::Band;
use serde::{Deserialize, Serialize};

/// What a reading says about a tolerance band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// The whole 95 % interval lies within the band.
    Inside,
    /// The whole 95 % interval lies outside of the band.
    Outside,
    /// The 95 % interval straddles a limit.
    Undecided,
}

impl std::fmt::Display for Outcome {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Inside => "inside",
            Self::Outside => "outside",
            Self::Undecided => "undecided",
        })
    }
}

/// A reading held against a tolerance table.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// The table's name.
    pub table: String,
    /// True where the `setting` band was used, false for `range`.
    pub setting: bool,
    /// The band.
    pub band: Band,
    /// The outcome.
    pub outcome: Outcome,
    /// Probability that the inclination lies within the band, 0 to 1; see [`probability_inside`].
    pub probability_inside: f64,
    /// Where undecided: what would settle it, in plain words.
    pub settle: Option<String>,
}

impl Verdict {
    /// Holds an aim against a band of a table.
    #[must_use]
    pub fn of(aim: &Aim, table: &str, setting: bool, band: Band, means: &Means<'_>) -> Self {
        let (percent, u95_percent) = (aim.inclination_percent, aim.u95_percent());
        Self {
            table: table.to_owned(),
            setting,
            band,
            outcome: Outcome::of(percent, u95_percent, band),
            probability_inside: probability_inside(percent, u95_percent / COVERAGE_FACTOR_95, band),
            settle: what_would_settle(aim, band, means),
        }
    }
}

/// Probability of conformity of an inclination with its standard uncertainty, both per cent, with a band, whose limits
/// may be infinite: p_c = Φ((T_U − y)/u) − Φ((T_L − y)/u) for a normal state of knowledge (JCGM 106:2012, clause 7;
/// formula from memory).
///
/// A figure without uncertainty is inside or is not: 1 or 0.
#[must_use]
pub fn probability_inside(inclination_percent: f64, sd_percent: f64, band: Band) -> f64 {
    if sd_percent == 0.0 {
        let inside = (band.low_percent..=band.high_percent).contains(&inclination_percent);
        return f64::from(u8::from(inside));
    }
    let deviations_to = |limit_percent: f64| (limit_percent - inclination_percent) / sd_percent;
    normal::between(deviations_to(band.low_percent), deviations_to(band.high_percent))
}

impl Outcome {
    /// Holds an inclination with its 95 % half-width, both per cent, against a band; limits belong to the band.
    #[must_use]
    pub fn of(inclination_percent: f64, u95_percent: f64, band: Band) -> Self {
        let (low, high) = (inclination_percent - u95_percent, inclination_percent + u95_percent);
        if low >= band.low_percent && high <= band.high_percent {
            Self::Inside
        } else if high < band.low_percent || low > band.high_percent {
            Self::Outside
        } else {
            Self::Undecided
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcome_on_both_sides_of_each_limit() {
        let band = Band {
            low_percent: 1.0,
            high_percent: 1.5,
        };
        for (percent, outcome) in [
            (0.89, Outcome::Outside),
            (0.91, Outcome::Undecided),
            (1.09, Outcome::Undecided),
            (1.11, Outcome::Inside),
            (1.39, Outcome::Inside),
            (1.41, Outcome::Undecided),
            (1.59, Outcome::Undecided),
            (1.61, Outcome::Outside),
        ] {
            assert_eq!(Outcome::of(percent, 0.1, band), outcome, "{percent}");
        }
        assert_eq!(
            Outcome::of(1.25, 3.0, band),
            Outcome::Undecided,
            "an interval wider than the band decides nothing"
        );
        assert_eq!(
            Outcome::of(1.0, 0.0, band),
            Outcome::Inside,
            "limits belong to the band"
        );
    }
}
