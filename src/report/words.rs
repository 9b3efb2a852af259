//! Phrases that several texts and plots have in common: figures with their intervals, lamps and settings, ways to move.

use super::text::{fixed, signed, u95};
use crate::adjuster::{Curve, Interval};
use crate::language::{Language, said};
use crate::record::{Shot, Side, Stage};

/// A probability as a per cent without places; what rounds to all or nothing is said to be near it.
pub(crate) fn likely(language: Language, probability: f64) -> String {
    match (100.0 * probability).round() {
        percent if percent >= 100.0 => said!(language; "more than 99 %", "mehr als 99 %"),
        percent if percent < 1.0 => said!(language; "less than 1 %", "weniger als 1 %"),
        percent => format!("{percent:.0} %"),
    }
}

/// "left lamp, before the repair".
pub(crate) fn lamp_and_stage(language: Language, lamp: Side, stage: Option<Stage>) -> String {
    let stem = lamp.stem();
    let lamp = said!(language; "{lamp} lamp", "{stem}er Scheinwerfer");
    match stage {
        Some(Stage::Before) => said!(language; "{lamp}, before the repair", "{lamp}, vor der Reparatur"),
        Some(Stage::After) => said!(language; "{lamp}, after the repair", "{lamp}, nach der Reparatur"),
        None => lamp,
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
pub(crate) fn listed(language: Language, names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [before @ .., last] => said!(language; "{} and {last}", "{} und {last}"; before.join(", ")),
    }
}

/// "left before".
pub(crate) fn lamp_stage(language: Language, lamp: Side, stage: Option<Stage>) -> String {
    let (lamp, stage) = (lamp.said(language), stage.map(|stage| stage.said(language)));
    stage.map_or_else(|| lamp.to_owned(), |stage| format!("{lamp} {stage}"))
}

/// "left, before".
pub(crate) fn lamp_and_stage_short(language: Language, lamp: Side, stage: Option<Stage>) -> String {
    let (lamp, stage) = (lamp.said(language), stage.map(|stage| stage.said(language)));
    stage.map_or_else(|| lamp.to_owned(), |stage| format!("{lamp}, {stage}"))
}

/// Where the range control stood or what the pump's gauge showed, in words.
pub(crate) fn setting(language: Language, shot: &Shot) -> String {
    let mut parts = Vec::new();
    if let Some(position) = &shot.position {
        parts.push(said!(language; "position {position}", "Stellung {position}"));
    }
    if let Some(vacuum) = &shot.vacuum {
        parts.push(format!("{:.0} mbar", vacuum.mbar()));
    }
    if let Some(branch) = shot.branch {
        parts.push(branch.said(language).to_owned());
    }
    if shot.sealed {
        parts.push(said!(language; "pump's valve shut", "Pumpenventil geschlossen"));
    }
    if parts.is_empty() {
        said!(language; "no position given", "keine Stellung angegeben")
    } else {
        parts.join(", ")
    }
}

/// "left lamp, after the repair; position 1".
pub(crate) fn what_it_shows(language: Language, shot: &Shot) -> String {
    format!(
        "{}; {}",
        lamp_and_stage(language, shot.lamp, shot.stage),
        setting(language, shot)
    )
}

/// "1.22 ± 0.07".
pub(crate) fn within(language: Language, percent: f64, u95_percent: f64) -> String {
    format!("{} ± {}", fixed(language, percent, 2), u95(language, u95_percent))
}

/// "+0.41 ± 0.03", of what goes one way or the other.
pub(crate) fn plus_minus(language: Language, percent: f64, u95_percent: f64) -> String {
    format!("{} ± {}", signed(language, percent, 2), u95(language, u95_percent))
}

/// "+41 ± 3", to the whole unit; an uncertainty below half of it is shown as 1, since "± 0" would claim that there is none.
pub(crate) fn plus_minus_whole(language: Language, value: f64, u95: f64) -> String {
    format!("{} ± {}", signed(language, value, 0), fixed(language, u95.max(1.0), 0))
}

/// Minutes as people say them.
pub(crate) fn minutes(language: Language, value: f64) -> String {
    let whole = (value - value.round()).abs() < 0.05;
    let text = fixed(language, value, usize::from(!whole));
    if text == "1" {
        said!(language; "1 minute", "1 Minute")
    } else {
        said!(language; "{text} minutes", "{text} Minuten")
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

/// "down 0.41 % ± 0.02 %"; to the two places that are shown, nothing goes no way.
pub(crate) fn travelled(language: Language, percent: f64, u95_percent: f64) -> String {
    let way = match percent.abs() < 0.005 {
        true => String::new(),
        false => format!("{} ", direction(language, percent)),
    };
    format!(
        "{way}{} % ± {} %",
        fixed(language, percent.abs(), 2),
        u95(language, u95_percent)
    )
}

/// Which way a beam went.
pub(crate) fn direction(language: Language, percent: f64) -> &'static str {
    match (language, percent >= 0.0) {
        (Language::English, true) => "down",
        (Language::English, false) => "up",
        (Language::German, true) => "nach unten",
        (Language::German, false) => "nach oben",
    }
}

/// A fitted response in words, with its figures.
pub(crate) fn curve_words(language: Language, curve: &Curve) -> String {
    let gain = &curve.gain_percent_per_100_mbar;
    // Its size: the sign is said in words.
    let size = if gain.value < 0.0 {
        Interval::new(-gain.value, gain.high.map(|v| -v), gain.low.map(|v| -v))
    } else {
        *gain
    };
    let size = size.text(language, 2);
    let mut parts = vec![if gain.value < 0.0 {
        said!(language; "vacuum raises the beam by {size} % per 100 mbar", "Unterdruck hebt den Lichtkegel um {size} % je 100 mbar")
    } else {
        said!(language; "vacuum lowers the beam by {size} % per 100 mbar", "Unterdruck senkt den Lichtkegel um {size} % je 100 mbar")
    }];
    if let Some(dead_band) = &curve.dead_band_mbar {
        parts.push(said!(language; "dead band {} mbar", "Totbereich {} mbar"; dead_band.text(language, 0)));
    }
    match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
        (Some(stop), _) => parts.push(said!(language; "end stop {} mbar", "Anschlag {} mbar"; stop.text(language, 0))),
        (None, Some(below)) => {
            parts.push(said!(language; "no end stop below {below:.0} mbar", "kein Anschlag unter {below:.0} mbar"))
        }
        (None, None) => parts.push(said!(language; "end stop: cannot tell", "Anschlag: nicht feststellbar")),
    }
    if let Some(hysteresis) = &curve.hysteresis {
        parts.push(said!(
            language; "hysteresis {} mbar (most {} %)", "Hysterese {} mbar (größte {} %)";
            hysteresis.gap_mbar.text(language, 0),
            hysteresis.gap_percent.text(language, 2),
        ));
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rounds_to_nothing_goes_no_way() {
        let said = |percent, u95_percent| travelled(Language::English, percent, u95_percent);
        assert_eq!(said(-0.034, 0.02), "up 0.03 % ± 0.02 %");
        assert_eq!(said(0.41, 0.03), "down 0.41 % ± 0.03 %");
        for percent in [0.0, -0.004, 0.004] {
            assert_eq!(said(percent, 0.02), "0.00 % ± 0.02 %");
        }
        assert_eq!(travelled(Language::German, -0.034, 0.02), "nach oben 0,03 % ± 0,02 %");
    }
}
