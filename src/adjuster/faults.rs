//! What is wrong with the order or the steps of a lamp's positions.

use super::positions::{LampPositions, PositionMean};
use super::step::TravelStep;
use super::{Movement, pairs};
use crate::language::{Language, said};
use crate::record::AdjusterLimits;
use serde::Serialize;

/// What is wrong with the travel over several positions.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(into = "FaultForMachines")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TravelFault {
    /// Which fault.
    pub kind: TravelFaultKind,
    /// The positions it is about.
    pub positions: Vec<String>,
    /// Whether the beam goes down from the first position to the last.
    pub whole_down: bool,
}

/// Kinds of [`TravelFault`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum TravelFaultKind {
    /// The beam moves at no step: the lamp does not follow the control.
    NoStep,
    /// One step does not move the beam, others do.
    DeadPosition,
    /// One step moves the beam against the direction of the whole.
    OrderWrong,
    /// Two positions have each other's aim.
    PositionsSwapped,
    /// Each position has the aim of the one beside it: photos assigned one off.
    PositionsOneOff,
    /// The beam goes up where the control's number rises.
    Reversed,
    /// The whole travel surely moves the beam, and surely by less than any range control means to.
    HardlyMoves,
    /// Set back from the last position to the first, the beam stays where the last had it.
    DoesNotReturn,
}

/// A beam that surely goes less than this over all positions, per cent, does not follow its control: a car that settles shifts it by
/// nearly as much (our choice, no source).
const HARDLY_PERCENT: f64 = 0.15;

impl TravelFault {
    /// Its words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        self.told(language, false)
    }

    /// Its words, of the car as it is, or as it was before a repair.
    #[must_use]
    pub fn told(&self, language: Language, past: bool) -> String {
        let tense = |now: &'static str, then: &'static str| if past { then } else { now };
        let (does, goes, stays) = (tense("does", "did"), tense("goes", "went"), tense("stays", "stayed"));
        let (looks, has, moves) = (tense("look", "looked"), tense("has", "had"), tense("moves", "moved"));
        let (folgt, bewegt, geht) = (
            tense("folgt", "folgte"),
            tense("bewegt", "bewegte"),
            tense("geht", "ging"),
        );
        let (bleibt, hat, sehen) = (tense("bleibt", "blieb"), tense("hat", "hatte"), tense("sehen", "sahen"));
        let kommt = tense("kommt", "kam");
        let name = |n: usize| self.positions.get(n).map_or("", String::as_str);
        let (from, to) = (name(0), name(1));
        match self.kind {
            TravelFaultKind::NoStep => said!(
                language;
                "no step: the beam {does} not follow the control at any position photographed",
                "kein Schritt: der Lichtkegel {folgt} dem Regler in keiner fotografierten Stellung"
            ),
            TravelFaultKind::DeadPosition => said!(
                language;
                "dead position: from {from} to {to} the beam {does} not move, at other steps it {does}",
                "tote Stellung: von {from} bis {to} {bewegt} sich der Lichtkegel nicht, bei anderen Schritten schon"
            ),
            TravelFaultKind::HardlyMoves => said!(
                language;
                "hardly {moves}: from {from} to {to} the beam {goes} less than {} %, which is no following of the control",
                "{bewegt} sich kaum: von {from} bis {to} {geht} der Lichtkegel weniger als {} %, und das heißt nicht, dass er dem Regler {folgt}";
                language.figure(&HARDLY_PERCENT.to_string())
            ),
            TravelFaultKind::DoesNotReturn => said!(
                language;
                "{does} not return: set back from {from} to {to}, the beam {stays} where {from} had it",
                "{kommt} nicht zurück: von {from} auf {to} zurückgestellt, {bleibt} der Lichtkegel, wo {from} ihn hatte"
            ),
            TravelFaultKind::OrderWrong => {
                let (up, down) = match language {
                    Language::English => ("up", "down"),
                    Language::German => ("nach oben", "nach unten"),
                };
                let (way, whole) = if self.whole_down { (up, down) } else { (down, up) };
                said!(
                    language;
                    "order wrong: from {from} to {to} the beam {goes} {way}, at other steps it {goes} {whole}; see first whether each photo is of the \
                     position that it is said to be",
                    "Reihenfolge falsch: von {from} bis {to} {geht} der Lichtkegel {way}, bei anderen Schritten {geht} er {whole}; zuerst nachsehen, ob jedes \
                     Foto zu der Stellung gehört, für die es steht"
                )
            }
            TravelFaultKind::PositionsSwapped => said!(
                language;
                "positions {from} and {to} {looks} swapped: each {has} the other's aim; check the lines at the control, and \
                 which photo is of which position",
                "Stellungen {from} und {to} {sehen} vertauscht aus: jede {hat} die Neigung der anderen; die Leitungen am Regler prüfen und \
                 welches Foto zu welcher Stellung gehört"
            ),
            TravelFaultKind::PositionsOneOff => said!(
                language;
                "positions {looks} one off: each {has} the aim of the one beside it; see which photo is of which position before \
                 anything is set or replaced",
                "Stellungen {sehen} um eine verschoben aus: jede {hat} die Neigung der nächsten; nachsehen, welches Foto zu welcher Stellung \
                 gehört, bevor etwas eingestellt oder ersetzt wird"
            ),
            TravelFaultKind::Reversed => said!(
                language;
                "reversed: from {from} to {to} the beam {goes} up; a range control's 0 is its highest aim, and the other \
                 positions lower it (UN R48, from memory)",
                "umgekehrt: von {from} bis {to} {geht} der Lichtkegel nach oben; die 0 eines Leuchtweitenreglers ist seine höchste \
                 Einstellung, und die anderen Stellungen senken sie (UN R48, aus dem Gedächtnis)"
            ),
        }
    }
}

impl TravelFault {
    /// Whether it speaks of which photo shows which position before it speaks of the car.
    #[must_use]
    pub const fn is_mix_up(&self) -> bool {
        matches!(
            self.kind,
            TravelFaultKind::PositionsSwapped | TravelFaultKind::PositionsOneOff
        )
    }
}

impl std::fmt::Display for TravelFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.said(Language::English))
    }
}

/// What outputs for machines have of a [`TravelFault`].
#[derive(Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
struct FaultForMachines {
    /// Which fault.
    kind: TravelFaultKind,
    /// The positions it is about.
    positions: Vec<String>,
    /// Its words.
    message: String,
}

impl From<TravelFault> for FaultForMachines {
    fn from(fault: TravelFault) -> Self {
        Self {
            message: fault.to_string(),
            kind: fault.kind,
            positions: fault.positions,
        }
    }
}

/// Faults of order. They are stated from steps that surely move or surely do not; where a step cannot be told, nothing
/// is said of it.
pub(super) fn faults(
    movement: Option<Movement>,
    steps: &[TravelStep],
    total: Option<&TravelStep>,
    of: &LampPositions,
    limits: &AdjusterLimits,
) -> Vec<TravelFault> {
    let (positions, least_percent) = (of.positions.as_slice(), limits.least_travel_percent);
    // By what is sure: from the first to the last, and where that is not, most of the steps.
    let moving: Vec<&TravelStep> = steps.iter().filter(|s| s.movement == Movement::Moves).collect();
    let down = moving.iter().filter(|s| s.percent >= 0.0).count();
    let whole_down = match total.filter(|t| t.movement == Movement::Moves) {
        Some(total) => total.percent >= 0.0,
        None => down >= moving.len() - down,
    };
    let fault = |kind, positions: &[&String]| TravelFault {
        kind,
        positions: positions.iter().map(|name| (*name).clone()).collect(),
        whole_down,
    };
    match movement {
        None | Some(Movement::CannotTell) => return Vec::new(),
        Some(Movement::Still) => {
            let all: Vec<&String> = positions.iter().map(|one| &one.position).collect();
            return vec![fault(TravelFaultKind::NoStep, &all)];
        }
        Some(Movement::Moves) => {}
    }
    // A step is dead where another moves: where none does by itself, they only add up to something.
    let dead = steps
        .iter()
        .filter(|s| !moving.is_empty() && s.movement == Movement::Still);
    let mut faults: Vec<TravelFault> = dead
        .map(|s| fault(TravelFaultKind::DeadPosition, &[&s.from, &s.to]))
        .collect();
    let mixed = down > 0 && down < moving.len();
    let numbers = positions.iter().all(|one| one.position.trim().parse::<f64>().is_ok());
    let mix_up = mixed.then(|| mix_up(positions, least_percent, numbers)).flatten();
    // What the job expects is judged by itself; and how far it is from the first to the last says nothing where it goes both ways between them.
    let is_expected = |at: &str| limits.expected.iter().any(|one| one.position == at);
    let hardly = total.filter(|t| {
        !mixed
            && t.movement == Movement::Moves
            && t.percent.abs() + t.u95_percent < HARDLY_PERCENT
            && !is_expected(&t.to)
    });
    faults.extend(hardly.map(|t| fault(TravelFaultKind::HardlyMoves, &[&t.from, &t.to])));
    let stays = total.filter(|t| of.does_not_return && t.movement == Movement::Moves);
    faults.extend(stays.map(|t| fault(TravelFaultKind::DoesNotReturn, &[&t.to, &t.from])));
    match mix_up {
        Some(MixUp::Swapped(a, b)) => {
            let exchanged = [&positions[a].position, &positions[b].position];
            faults.push(fault(TravelFaultKind::PositionsSwapped, &exchanged));
        }
        Some(MixUp::OneOff) => {
            let all: Vec<&String> = positions.iter().map(|one| &one.position).collect();
            faults.push(fault(TravelFaultKind::PositionsOneOff, &all));
        }
        None if mixed => {
            let against = moving.iter().filter(|s| (s.percent >= 0.0) != whole_down);
            faults.extend(against.map(|s| fault(TravelFaultKind::OrderWrong, &[&s.from, &s.to])));
        }
        None => {}
    }
    let rises = total.filter(|t| t.movement == Movement::Moves && t.percent < 0.0);
    if let Some(total) = rises.filter(|_| numbers && mix_up.is_none()) {
        faults.push(fault(TravelFaultKind::Reversed, &[&total.from, &total.to]));
    }
    faults
}

/// How positions that go up and down would be in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum MixUp {
    /// With this one pair exchanged, by index.
    Swapped(usize, usize),
    /// With each moved on by one, and the last one first, or the other way round.
    OneOff,
}

/// What sets the order right: the exchange of one pair, or all moved on by one. With it every step goes one way and moves; downward, or where the
/// positions have no numbers, of which 0 is the highest aim, upward too.
fn mix_up(positions: &[PositionMean], least_percent: f64, numbers: bool) -> Option<MixUp> {
    let count = positions.len();
    if count < 3 {
        return None;
    }
    let moves = |to: &PositionMean, from: &PositionMean| {
        let (percent, u95_percent) = to.mean.travel_from(&from.mean);
        Movement::judge(percent, u95_percent, least_percent, pairs(count)) == Movement::Moves
    };
    let is_one_way = |mut order: Vec<&PositionMean>, up: bool| {
        let sure = order.windows(2).all(|pair| moves(pair[1], pair[0]));
        if up {
            order.reverse();
        }
        sure && order.windows(2).all(|p| p[1].mean.percent >= p[0].mean.percent)
    };
    let as_listed = || positions.iter().collect::<Vec<_>>();
    let by_exchange = |up: bool| {
        let mut all = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b)));
        all.find(|&(a, b)| {
            let mut order = as_listed();
            order.swap(a, b);
            is_one_way(order, up)
        })
    };
    let by_moving_on = |up: bool| {
        [1, count - 1].into_iter().any(|places| {
            let mut order = as_listed();
            order.rotate_right(places);
            is_one_way(order, up)
        })
    };
    let ways = if numbers { &[false][..] } else { &[false, true][..] };
    let swapped = ways.iter().find_map(|up| by_exchange(*up));
    let swapped = swapped.map(|(a, b)| MixUp::Swapped(a, b));
    swapped.or_else(|| ways.iter().any(|up| by_moving_on(*up)).then_some(MixUp::OneOff))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What was before a repair is said as it was, in both languages, by every kind.
    #[test]
    fn a_fault_before_a_repair_is_told_in_the_past() {
        for kind in [
            TravelFaultKind::NoStep,
            TravelFaultKind::DeadPosition,
            TravelFaultKind::OrderWrong,
            TravelFaultKind::PositionsSwapped,
            TravelFaultKind::PositionsOneOff,
            TravelFaultKind::Reversed,
            TravelFaultKind::HardlyMoves,
            TravelFaultKind::DoesNotReturn,
        ] {
            let fault = TravelFault {
                kind,
                positions: vec!["0".to_owned(), "3".to_owned()],
                whole_down: true,
            };
            for language in [Language::English, Language::German] {
                let (now, then) = (fault.told(language, false), fault.told(language, true));
                assert_eq!(now, fault.said(language));
                let is_present = |said: &str| {
                    let words = [
                        "does", "goes", "stays", "moves", "has", "look", "folgt", "bewegt", "geht", "bleibt", "hat",
                        "sehen", "kommt",
                    ];
                    said.split(|c: char| !c.is_alphabetic())
                        .any(|word| words.contains(&word))
                };
                assert!(is_present(&now) && !is_present(&then), "{kind:?}: {now} / {then}");
            }
        }
    }
}
