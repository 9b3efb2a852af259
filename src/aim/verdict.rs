//! A reading held against a tolerance table, with its probability of conformity.

use super::outcome::Outcome;
use super::settle::{Means, what_would_settle};
use super::{Aim, COVERAGE_FACTOR_95};
use crate::fit::normal_between;
use crate::language::{Language, Said};
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
    /// Not inside, by the low end of what must be kept to over all loads: the position is for a load that lifts the beam, and
    /// with less of it the beam hangs lower, so that on a lightly loaded car this is no fault. UN R48 sets its limits for loads, and judges
    /// a control by hand at the position that belongs to each (6.2.6.2 and annex 5; from memory).
    pub load_decides: bool,
    /// Probability that the inclination lies within the band, 0 to 1; see [`probability_inside`].
    pub probability_inside: f64,
    /// Where undecided: what measured or photographed better would settle it, in plain words.
    pub settle: Option<Said>,
    /// Where undecided or outside: what turning the lamp does for it; `None` also where it is not to be turned before something else is
    /// mended or seen.
    pub turn: Option<LampTurn>,
    /// Why the lamp is not to be turned yet, where that is so.
    pub not_yet: Option<NotYet>,
}

/// What comes before a lamp is set by its own screw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
pub enum NotYet {
    /// What moves the beam is at fault, and is mended first: its height tells nothing of how the lamp is set.
    Mend,
    /// The beam stands where it would stand without vacuum, and was not seen to follow the range control.
    SeeItMove {
        /// Vacuum raises the beam.
        vacuum_raises: bool,
    },
}

impl NotYet {
    fn said(self, language: Language) -> &'static str {
        match self {
            Self::Mend => language.pick(
                "what moves the beam is mended first: until then its height tells nothing of how the lamp is set, and the lamp's screw is left \
                 as it is",
                "zuerst wird instand gesetzt, was den Lichtkegel bewegt: Bis dahin sagt seine Höhe nichts darüber, wie der Scheinwerfer \
                 eingestellt ist, und die Einstellschraube bleibt, wie sie ist",
            ),
            Self::SeeItMove { vacuum_raises: true } => language.pick(
                "before the lamp's screw is turned, photograph the beam at another position of the range control too, engine running: without \
                 vacuum a beam hangs low, and raised by its screw it would dazzle once the vacuum is back",
                "bevor die Einstellschraube gedreht wird, den Lichtkegel bei laufendem Motor auch in einer anderen Stellung des \
                 Leuchtweitenreglers fotografieren: Ohne Unterdruck hängt ein Lichtkegel tief, und an der Schraube gehoben würde er blenden, \
                 sobald der Unterdruck wieder da ist",
            ),
            Self::SeeItMove { vacuum_raises: false } => language.pick(
                "before the lamp's screw is turned, photograph the beam at another position of the range control too, engine running: without \
                 vacuum a beam stands high, and lowered by its screw it would be too low once the vacuum is back",
                "bevor die Einstellschraube gedreht wird, den Lichtkegel bei laufendem Motor auch in einer anderen Stellung des \
                 Leuchtweitenreglers fotografieren: Ohne Unterdruck steht ein Lichtkegel hoch, und an der Schraube gesenkt stünde er zu tief, \
                 sobald der Unterdruck wieder da ist",
            ),
        }
    }
}

/// What turning the lamp by its own screw does for a verdict.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct LampTurn {
    /// How far down the beam is to be turned to be clearly inside, per cent; negative: up; `None` where no turn is known that does it.
    pub down_percent: Option<f64>,
    /// The same, or why no turn does it, in plain words.
    pub words: Said,
}

impl Verdict {
    /// Holds an aim against a band of a table.
    #[must_use]
    pub fn of(aim: &Aim, table: &str, setting: bool, band: Band, means: &Means<'_>) -> Self {
        let (percent, u95_percent) = (aim.inclination_percent, aim.u95_percent());
        let (settle, turn) = what_would_settle(aim, setting, band, means);
        let outcome = Outcome::of(percent, u95_percent, band);
        let is_at_low_end = percent - u95_percent >= band.low_percent;
        Self {
            table: table.to_owned(),
            setting,
            band,
            outcome,
            load_decides: !setting && outcome != Outcome::Inside && is_at_low_end,
            probability_inside: probability_inside(percent, u95_percent / COVERAGE_FACTOR_95, band),
            settle,
            turn,
            not_yet: None,
        }
    }

    /// What it says of a car that is lightly loaded, as it is photographed: nothing where the load decides.
    #[must_use]
    pub fn unloaded(&self) -> Outcome {
        if self.load_decides {
            Outcome::Undecided
        } else {
            self.outcome
        }
    }

    /// What would settle it, or brings it inside: measured better, then turned.
    #[must_use]
    pub fn settled(&self) -> Option<Said> {
        // Of a beam that nothing moves rightly there is nothing to measure better.
        let settle = self.settle.as_ref().filter(|_| self.not_yet != Some(NotYet::Mend));
        let joined = |language| {
            let settle = settle.map(|way| way.within(language));
            let turn = self.turn.as_ref().map(|turn| turn.words.within(language));
            let not_yet = self.not_yet.map(|why| why.said(language));
            let ways: Vec<&str> = [settle, turn, not_yet].into_iter().flatten().collect();
            ways.join("; ")
        };
        (!joined(Language::English).is_empty()).then(|| Said::of(joined))
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
