//! Phrases that several texts and plots have in common: figures with their intervals, lamps and settings, ways to move.

use super::text::{fixed, signed, u95};
use crate::adjuster::{Curve, Interval};
use crate::record::{Shot, Side, Stage};

/// A probability as a per cent without places; what rounds to all or nothing is said to be near it.
pub(crate) fn likely(probability: f64) -> String {
    match (100.0 * probability).round() {
        percent if percent >= 100.0 => "more than 99 %".to_owned(),
        percent if percent < 1.0 => "less than 1 %".to_owned(),
        percent => format!("{percent:.0} %"),
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

/// "a, b and c".
pub(crate) fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}

/// "left before".
pub(crate) fn lamp_stage(lamp: Side, stage: Option<Stage>) -> String {
    stage.map_or_else(|| lamp.to_string(), |stage| format!("{lamp} {stage}"))
}

/// "left, before".
pub(crate) fn lamp_and_stage_short(lamp: Side, stage: Option<Stage>) -> String {
    stage.map_or_else(|| lamp.to_string(), |stage| format!("{lamp}, {stage}"))
}

/// Where the range control stood or what the pump's gauge showed, in words.
pub(crate) fn setting(shot: &Shot) -> String {
    let mut parts = Vec::new();
    if let Some(position) = &shot.position {
        parts.push(format!("position {position}"));
    }
    if let Some(vacuum) = &shot.vacuum {
        parts.push(format!("{:.0} mbar", vacuum.mbar()));
    }
    if let Some(branch) = shot.branch {
        parts.push(branch.to_string());
    }
    if shot.sealed {
        parts.push("pump's valve shut".to_owned());
    }
    if parts.is_empty() {
        "no position given".to_owned()
    } else {
        parts.join(", ")
    }
}

/// "left lamp, after the repair; position 1".
pub(crate) fn what_it_shows(shot: &Shot) -> String {
    format!("{}; {}", lamp_and_stage(shot.lamp, shot.stage), setting(shot))
}

/// "1.22 ± 0.07".
pub(crate) fn within(percent: f64, u95_percent: f64) -> String {
    format!("{} ± {}", fixed(percent, 2), u95(u95_percent))
}

/// "+0.41 ± 0.03", of what goes one way or the other.
pub(crate) fn plus_minus(percent: f64, u95_percent: f64) -> String {
    format!("{} ± {}", signed(percent, 2), u95(u95_percent))
}

/// "+41 ± 3", to the whole unit; an uncertainty below half of it is shown as 1, since "± 0" would claim that there is none.
pub(crate) fn plus_minus_whole(value: f64, u95: f64) -> String {
    format!("{} ± {}", signed(value, 0), fixed(u95.max(1.0), 0))
}

/// Minutes as people say them.
pub(crate) fn minutes(value: f64) -> String {
    let whole = (value - value.round()).abs() < 0.05;
    let text = fixed(value, usize::from(!whole));
    if text == "1" {
        "1 minute".to_owned()
    } else {
        format!("{text} minutes")
    }
}

/// A probability in whole per cent, never quite all or nothing.
pub(crate) fn percent(probability: f64) -> String {
    match (100.0 * probability).round() {
        rounded if rounded >= 100.0 => ">99 %".to_owned(),
        rounded if rounded < 1.0 => "<1 %".to_owned(),
        rounded => format!("{rounded:.0} %"),
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
            "hysteresis {} mbar (most {} %)",
            hysteresis.gap_mbar.text(0),
            hysteresis.gap_percent.text(2),
        ));
    }
    parts.join(", ")
}
