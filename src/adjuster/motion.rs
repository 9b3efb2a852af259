//! Whether a beam moves: what may be said of a travel with its uncertainty.
//!
//! Three statements, and the rule for each. *d* is the travel, *u95* the half-width of its 95 % interval, σ = u95 / 1.96,
//! *L* the least travel of interest, *n* the number of travels of one lamp that are judged at once: all pairs of its positions.
//!
//! - **moves**: the whole interval lies beyond L, |d| − u95 ≥ L, and |d| ≥ z σ, where z is the two-sided quantile of
//!   (1/200)/n. The second part (Bonferroni's bound) keeps the chance that a lamp which stands still is said to move at any
//!   of its n travels at 1 in 200, also where the interval is so wide that L is little beside it.
//! - **does not move**: the whole interval lies within L, |d| + u95 < L. A step of 0.2 % can then be passed over only by
//!   an error of more than 0.15 % + u95 with u95 < L: beyond 7 σ at L = 0.05 %.
//! - **cannot tell**: neither. More photos, or sharper ones, make the interval narrower.
//!
//! The rule is the interval form of two one-sided tests (equivalence testing, from memory: D. J. Schuirmann,
//! J. Pharmacokin. Biopharm. 15 (1987) 657).

use crate::aim::COVERAGE_FACTOR_95;
use crate::language::Language;
use crate::record::said_as_written;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// How often, at the most, a lamp that stands still may be said to move.
pub(super) const FALSE_MOVES: f64 = 1.0 / 200.0;

/// Whether a beam moves from one state to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Movement {
    /// The whole 95 % interval lies beyond the least travel of interest.
    Moves,
    /// The whole 95 % interval lies within it.
    #[serde(rename = "does-not-move")]
    Still,
    /// The interval straddles it.
    CannotTell,
}

impl Movement {
    /// Judges a travel with its 95 % half-width, both per cent, against the least travel of interest, per cent, as one of
    /// `tests` travels that are judged at once; see the module for the rule.
    #[must_use]
    pub fn judge(percent: f64, u95_percent: f64, least_travel_percent: f64, tests: usize) -> Self {
        let sd_percent = u95_percent / COVERAGE_FACTOR_95;
        let sure_percent = two_sided_quantile(FALSE_MOVES / tests.max(1) as f64) * sd_percent;
        if percent.abs() >= (least_travel_percent + u95_percent).max(sure_percent) {
            Self::Moves
        } else if percent.abs() + u95_percent < least_travel_percent {
            Self::Still
        } else {
            // Also what is no number: nothing can be told from it.
            Self::CannotTell
        }
    }

    /// One statement over several: it moves where any does, and stands still where all do; `None` where there are none.
    #[must_use]
    pub(super) fn of_all(judged: impl IntoIterator<Item = Self>) -> Option<Self> {
        judged.into_iter().reduce(|all, one| match (all, one) {
            (Self::Moves, _) | (_, Self::Moves) => Self::Moves,
            (Self::Still, Self::Still) => Self::Still,
            _ => Self::CannotTell,
        })
    }
}

said_as_written! {
    Movement {
        Moves => "moves", "bewegt sich";
        Still => "does not move", "bewegt sich nicht";
        CannotTell => "cannot tell", "nicht feststellbar";
    }
}

impl Movement {
    /// Its words, of the car as it is, or as it was before a repair.
    #[must_use]
    pub fn told(self, language: Language, past: bool) -> &'static str {
        match (self, past) {
            (Self::Moves, true) => language.pick("moved", "bewegte sich"),
            (Self::Still, true) => language.pick("did not move", "bewegte sich nicht"),
            (Self::CannotTell, true) | (_, false) => self.said(language),
        }
    }
}

/// Number of travels between so many positions, each with each: as many statements can be made of them.
#[must_use]
pub(super) fn pairs(positions: usize) -> usize {
    positions * positions.saturating_sub(1) / 2
}

/// Number of standard deviations beyond which, on both sides together, a normal deviate lies with `probability`.
pub(super) fn two_sided_quantile(probability: f64) -> f64 {
    -Normal::standard().inverse_cdf(0.5 * probability)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn movement_is_judged_on_both_sides_of_its_limits() {
        for (percent, u95_percent, movement) in [
            (0.08, 0.02, Movement::Moves),
            (-0.08, 0.02, Movement::Moves),
            (0.06, 0.02, Movement::CannotTell),
            (0.04, 0.02, Movement::CannotTell),
            (0.02, 0.02, Movement::Still),
            (-0.02, 0.02, Movement::Still),
            (0.0, 0.06, Movement::CannotTell),
            (f64::NAN, 0.02, Movement::CannotTell),
        ] {
            let said = Movement::judge(percent, u95_percent, 0.05, 1);
            assert_eq!(said, movement, "{percent} ± {u95_percent}");
        }
    }

    #[test]
    fn a_wide_interval_needs_more_and_many_tests_need_still_more() {
        // 0.5 % ± 0.4 % lies beyond 0.05 %, but it is 2.45 standard deviations, less than the 2.807 of 1 in 200.
        assert_eq!(Movement::judge(0.5, 0.4, 0.05, 1), Movement::CannotTell);
        assert_eq!(Movement::judge(0.58, 0.4, 0.05, 1), Movement::Moves);
        assert_eq!(Movement::judge(0.58, 0.4, 0.05, 6), Movement::CannotTell);
    }

    #[test]
    fn quantiles_are_those_of_the_tables() {
        // 5 % and 1 %, two-sided: 1.959 964 and 2.575 829 (any table of the normal distribution; from memory).
        for (probability, z) in [(0.05, 1.959_964), (0.01, 2.575_829)] {
            assert!((two_sided_quantile(probability) - z).abs() < 1e-6);
        }
    }
}
