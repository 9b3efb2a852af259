//! Phrases that several texts and plots have in common: figures with their intervals, lamps and settings, ways to move.

use super::text::{fixed, round, signed, u95};
use crate::adjuster::{Curve, Interval};
use crate::aim::{Measured, Outcome, Verdict};
use crate::language::{Language, said};
use crate::record::{Band, Shot, Side, Stage};

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

/// Places of a figure in per cent, unless its verdict could not be followed from them.
const PLACES: usize = 2;
/// JSON and CSV have no more.
const MOST_PLACES: usize = 4;

/// The figure, its ± and its limits as one photo's verdict shows them beside each other, all without their unit.
pub(crate) struct Judged {
    /// "1.22".
    pub percent: String,
    /// "0.07".
    pub u95: String,
    /// The band's limits, where the photo is judged.
    pub band: Option<[String; 2]>,
}

impl Judged {
    /// One more place than two is shown only where what two leave of the interval's end and of the limit looks alike, or says otherwise than the
    /// verdict: who works it out on paper is to come to the same word.
    pub fn of(language: Language, measured: &Measured) -> Self {
        let (percent, u95_percent) = (measured.aim.inclination_percent, measured.aim.u95_percent());
        let verdict = measured.verdict.as_ref();
        let places = verdict.map_or(PLACES, |verdict| places_for(percent, u95_percent, verdict));
        let limit = |limit_percent: f64| {
            // A limit that two places hold whole is no surer with more.
            let is_whole = (limit_percent - round(limit_percent, 2)).abs() < 1e-9;
            fixed(language, limit_percent, if is_whole { PLACES } else { places })
        };
        Self {
            percent: fixed(language, percent, places),
            u95: if places == PLACES {
                u95(language, u95_percent)
            } else {
                fixed(language, u95_percent, places)
            },
            band: verdict.map(|verdict| [verdict.band.low_percent, verdict.band.high_percent].map(limit)),
        }
    }

    /// "1.22 ± 0.07".
    pub fn within(&self) -> String {
        format!("{} ± {}", self.percent, self.u95)
    }

    /// "+1.22 ± 0.07".
    pub fn plus_minus(&self) -> String {
        let sign = if self.percent.starts_with('−') { "" } else { "+" };
        format!("{sign}{}", self.within())
    }

    /// "1.22 % ± 0.07 %".
    pub fn with_unit(&self) -> String {
        format!("{} % ± {} %", self.percent, self.u95)
    }
}

/// The least places, 2 to 4, with which figure, ± and limits as printed give the verdict's own outcome, and no end of the interval lies on a limit.
fn places_for(percent: f64, u95_percent: f64, verdict: &Verdict) -> usize {
    let shows = |places: usize| {
        let scale = 10f64.powi(i32::try_from(places).unwrap_or(0));
        let whole = |value: f64| (value * scale).round();
        // What is too small for the places is printed as the least that they hold.
        let half = whole(u95_percent).max(f64::from(u8::from(u95_percent > 0.0)));
        let [low, high] = [whole(percent) - half, whole(percent) + half];
        let [least, most] = [verdict.band.low_percent, verdict.band.high_percent].map(whole);
        let alike = [low, high].iter().any(|end| *end == least || *end == most);
        let band = Band {
            low_percent: least,
            high_percent: most,
        };
        !alike && Outcome::of(whole(percent), half, band) == verdict.outcome
    };
    (PLACES..MOST_PLACES)
        .find(|&places| shows(places))
        .unwrap_or(MOST_PLACES)
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
    use crate::aim::{Aim, Common, ShotReading, Source};
    use crate::record::Lamp;

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

    fn judged(percent: f64, u95_percent: f64, [low_percent, high_percent]: [f64; 2]) -> (Outcome, String) {
        let terms = [(Source::Texture, u95_percent / crate::aim::COVERAGE_FACTOR_95)];
        let aim = Aim::made(percent, &terms, Common::default());
        let band = Band {
            low_percent,
            high_percent,
        };
        let outcome = Outcome::of(percent, aim.u95_percent(), band);
        let verdict = Verdict {
            table: "un-r48".to_owned(),
            setting: true,
            band,
            outcome,
            load_decides: false,
            probability_inside: 0.5,
            settle: None,
            turn: None,
            not_yet: None,
        };
        let lamp = Lamp::of(Side::Left, 650.0, -560.0, 10_000.0);
        let reading = ShotReading::made(Shot::of("a.jpg", Side::Left), lamp, aim, None);
        let mut measured = reading.result.unwrap();
        measured.verdict = Some(verdict);
        let shown = Judged::of(Language::English, &measured);
        let [low, high] = shown.band.clone().unwrap();
        (outcome, format!("{}, {low} to {high}", shown.within()))
    }

    /// 2.61 ± 0.11 beside 2.50 says neither "undecided" nor "outside"; elsewhere two places are enough.
    #[test]
    fn a_verdict_follows_from_the_figures_as_they_are_printed() {
        let range = [0.5, 2.5];
        let of = |percent, u95| judged(percent, u95, range);
        assert_eq!(
            of(2.614, 0.108),
            (Outcome::Outside, "2.614 ± 0.108, 0.50 to 2.50".to_owned())
        );
        assert_eq!(
            of(2.606, 0.108),
            (Outcome::Undecided, "2.606 ± 0.108, 0.50 to 2.50".to_owned())
        );
        assert_eq!(
            of(0.604, 0.1049),
            (Outcome::Undecided, "0.604 ± 0.105, 0.50 to 2.50".to_owned())
        );
        for (percent, u95, shown) in [
            (1.224, 0.071, "1.22 ± 0.07, 0.50 to 2.50"),
            (2.70, 0.11, "2.70 ± 0.11, 0.50 to 2.50"),
            (2.55, 0.11, "2.55 ± 0.11, 0.50 to 2.50"),
        ] {
            assert_eq!(of(percent, u95).1, shown);
        }
        // Limits that are no whole hundredths carry as many places as the figure.
        let of_drop = judged(1.461, 0.1, [100.0 * 2.7 / 7620.0, 100.0 * 103.7 / 7620.0]);
        assert_eq!(
            of_drop,
            (Outcome::Outside, "1.4610 ± 0.1000, 0.0354 to 1.3609".to_owned())
        );
    }
}
