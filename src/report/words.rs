//! What is said in words, and the same in the terminal and on the page: reasons, outcomes, whether a beam moves.

use super::results::VerdictResult;
use crate::adjuster::{Curve, Interval};
use crate::aim::Outcome;
use crate::record::{Branch, Side, Stage};
use crate::refusal::Reason;

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

/// Words with a capital at their start.
pub(crate) fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    chars
        .next()
        .map(|first| first.to_uppercase().chain(chars).collect())
        .unwrap_or_default()
}

/// "left, before".
pub(crate) fn lamp_and_stage_short(lamp: Side, stage: Option<Stage>) -> String {
    stage.map_or_else(|| lamp.to_string(), |stage| format!("{lamp}, {stage}"))
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

/// A fitted response in words, with its figures.
pub(crate) fn curve_words(curve: &Curve) -> String {
    let gain = &curve.gain_percent_per_100_mbar;
    let way = if gain.value < 0.0 { "raises" } else { "lowers" };
    // Its size: the sign is said in words.
    let size = if gain.value < 0.0 {
        Interval::new(-gain.value, gain.high.map(|v| -v), gain.low.map(|v| -v))
    } else {
        *gain
    };
    let mut parts = vec![format!("vacuum {way} the beam by {} % per 100 mbar", size.text(2))];
    if let Some(dead_band) = &curve.dead_band_mbar {
        parts.push(format!("dead band {} mbar", dead_band.text(0)));
    }
    match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
        (Some(stop), _) => parts.push(format!("end stop {} mbar", stop.text(0))),
        (None, Some(below)) => parts.push(format!("no end stop below {below:.0} mbar")),
        (None, None) => parts.push("end stop: cannot tell".to_owned()),
    }
    if let Some(hysteresis) = &curve.hysteresis {
        parts.push(format!(
            "hysteresis {} mbar, {} %, loss {} % mbar",
            hysteresis.gap_mbar.text(0),
            hysteresis.gap_percent.text(2),
            hysteresis.loss_area_percent_mbar.text(0)
        ));
    }
    parts.join(", ")
}
