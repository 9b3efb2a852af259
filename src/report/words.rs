//! What is said in words, and the same in the terminal and on the page: reasons, outcomes, whether a beam moves.

use super::results::VerdictResult;
use crate::adjuster::Travel;
use crate::aim::Outcome;
use crate::record::{Branch, Side, Stage};
use crate::refusal::Reason;

/// Least travel that is of interest, per cent: a range adjuster's steps are several times as large, and a settling
/// suspension or a shifted tripod hides less.
pub const LEAST_TRAVEL_PERCENT: f64 = 0.05;

/// Whether a beam moves from one position to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Movement {
    /// The whole 95 % interval lies beyond the least travel of interest.
    Moves,
    /// The whole 95 % interval lies within it.
    Still,
    /// The interval straddles it.
    CannotTell,
}

impl Movement {
    /// Judges a travel with its 95 % half-width, both per cent, against [`LEAST_TRAVEL_PERCENT`].
    #[must_use]
    pub fn of(percent: f64, u95_percent: f64) -> Self {
        if percent.abs() - u95_percent >= LEAST_TRAVEL_PERCENT {
            Self::Moves
        } else if percent.abs() + u95_percent < LEAST_TRAVEL_PERCENT {
            Self::Still
        } else {
            // Also what is no number: nothing can be told from it.
            Self::CannotTell
        }
    }

    /// One statement over several travels of one lamp: `None` where there are none.
    #[must_use]
    pub fn of_all(travels: &[&Travel]) -> Option<(Self, &'static str)> {
        let judged: Vec<Self> = travels.iter().map(|t| Self::of(t.percent, t.u95_percent)).collect();
        let all = |what| judged.iter().all(|m| *m == what);
        if judged.is_empty() {
            None
        } else if all(Self::Moves) {
            Some((
                Self::Moves,
                if judged.len() > 1 {
                    "moves at every step"
                } else {
                    "moves"
                },
            ))
        } else if all(Self::Still) {
            Some((Self::Still, "does not move"))
        } else if judged.contains(&Self::Moves) {
            Some((Self::Moves, "moves, but not at every step"))
        } else {
            Some((Self::CannotTell, "cannot tell whether it moves"))
        }
    }
}

impl std::fmt::Display for Movement {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Moves => "moves",
            Self::Still => "does not move",
            Self::CannotTell => "cannot tell",
        })
    }
}

/// The sign that stands before an outcome's word, so that neither colour nor reading is needed to tell them apart.
pub(crate) fn glyph(outcome: Outcome) -> char {
    match outcome {
        Outcome::Inside => '✓',
        Outcome::Outside => '✗',
        Outcome::Undecided => '?',
    }
}

/// A probability as a per cent without places; what rounds to all or nothing is said to be near it.
pub(crate) fn likely(probability: f64) -> String {
    match (100.0 * probability).round() {
        percent if percent >= 100.0 => "more than 99 %".to_owned(),
        percent if percent < 1.0 => "less than 1 %".to_owned(),
        percent => format!("{percent:.0} %"),
    }
}

/// What an undecided verdict leaves open, and what would settle it; `None` for a decided one.
pub(crate) fn undecided(verdict: &VerdictResult) -> Option<String> {
    (verdict.outcome == Outcome::Undecided).then(|| {
        let open = format!("undecided, {} likely to be inside", likely(verdict.probability_inside));
        match &verdict.settle {
            Some(settle) => format!("{open}; to settle it, {settle}"),
            None => open,
        }
    })
}

/// A refusal's reason in plain words.
pub(crate) fn reason(reason: Reason) -> &'static str {
    match reason {
        Reason::UnreadablePhoto => "the file is no photo that can be read",
        Reason::MarksMissing => "too few of the marks were found",
        Reason::MarksDisagree => "the marks do not hang where the bay file says",
        Reason::Overexposed => "too much light at the cut-off",
        Reason::Underexposed => "too little light at the cut-off",
        Reason::Blurred => "out of focus, or shaken",
        Reason::NoCutoff => "there is no cut-off where there should be one",
        Reason::CutoffUnsharp => "the cut-off is too soft to say where it is",
        Reason::SecondCutoff => "a second edge of light lies beside the first",
        Reason::CutoffOutOfFrame => "the cut-off leaves the photo where it must be read",
        Reason::NotLevel => "the edge is too far from level to be a cut-off",
    }
}

/// "left lamp, before the repair".
pub(crate) fn lamp_and_stage(lamp: Side, stage: Option<Stage>) -> String {
    match stage {
        Some(Stage::Before) => format!("{lamp} lamp, before the repair"),
        Some(Stage::After) => format!("{lamp} lamp, after the repair"),
        None => format!("{lamp} lamp"),
    }
}

/// Where the range control stood or what the pump's gauge showed, in words.
pub(crate) fn setting(
    position: Option<&str>,
    vacuum_mbar: Option<f64>,
    branch: Option<Branch>,
    sealed: bool,
) -> String {
    let mut parts = Vec::new();
    if let Some(position) = position {
        parts.push(format!("position {position}"));
    }
    if let Some(vacuum_mbar) = vacuum_mbar {
        parts.push(format!("{vacuum_mbar:.0} mbar"));
    }
    if let Some(branch) = branch {
        parts.push(branch.to_string());
    }
    if sealed {
        parts.push("pump's valve shut".to_owned());
    }
    if parts.is_empty() {
        "no position given".to_owned()
    } else {
        parts.join(", ")
    }
}

/// Which way a beam went.
pub(crate) fn direction(percent: f64) -> &'static str {
    if percent >= 0.0 { "down" } else { "up" }
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
            assert_eq!(
                Movement::of(percent, u95_percent),
                movement,
                "{percent} ± {u95_percent}"
            );
        }
    }
}
