//! A reading held against a tolerance table, with its probability of conformity.

use super::outcome::Outcome;
use super::settle::{Means, what_would_settle};
use super::{Aim, COVERAGE_FACTOR_95};
use crate::fit::normal_between;
use crate::language::Said;
use crate::record::Band;
use serde::{Deserialize, Serialize};

/// A reading held against a tolerance table.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
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
    /// Where undecided: what would settle it; where outside, what brings it inside; in plain words.
    pub settle: Option<Said>,
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
            settle: what_would_settle(aim, setting, band, means),
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
    normal_between(deviations_to(band.low_percent), deviations_to(band.high_percent))
}
