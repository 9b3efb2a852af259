//! Inside or outside of a tolerance band, or undecided where the interval straddles a limit.

use crate::record::{Band, said_as_written};
use serde::{Deserialize, Serialize};

/// What a reading says about a tolerance band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Outcome {
    /// The whole 95 % interval lies within the band.
    Inside,
    /// The whole 95 % interval lies outside of the band.
    Outside,
    /// The 95 % interval straddles a limit.
    Undecided,
}

said_as_written! {
    Outcome {
        Inside => "inside", "innerhalb";
        Outside => "outside", "außerhalb";
        Undecided => "undecided", "offen";
    }
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
