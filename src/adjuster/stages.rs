//! Before the repair against after it.

use super::Interval;
use super::leak::LeakDown;
use super::mean::Mean;
use super::motion::{FALSE_MOVES, Movement, pairs, two_sided_quantile};
use super::positions::{LampPositions, PositionMean};
use super::response::{Curve, Response};
use crate::aim::{COVERAGE_FACTOR_95, Common};
use crate::language::{Language, said};
use crate::record::{AdjusterLimits, Side, Stage, said_as_written};
use serde::Serialize;

/// What the repair changed at one lamp.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StageChange {
    /// Which lamp.
    pub lamp: Side,
    /// Its positions, at each of which it was read at both stages.
    pub positions: Vec<PositionChange>,
    /// Travel from the first of these positions to the last.
    pub total: Option<Change>,
    /// What the pump showed, where it was used at both stages.
    pub figures: Vec<FigureChange>,
    /// What is to be said of it.
    pub words: Vec<StageSentence>,
}

/// One position before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PositionChange {
    /// The position.
    pub position: String,
    /// Inclination.
    pub inclination: Change,
    /// Travel from the first of the positions; `None` at that one.
    pub travel: Option<Change>,
}

/// A figure before and after, per cent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Change {
    /// Before the repair, per cent.
    pub before_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub before_u95_percent: f64,
    /// After it, per cent.
    pub after_percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub after_u95_percent: f64,
    /// After less before, per cent.
    pub change_percent: f64,
    /// Half-width of its 95 % interval, per cent: of what both stages share, only the difference counts.
    pub change_u95_percent: f64,
    /// Whether the change is real, by the rule of [`Movement`].
    pub real: Real,
}

/// Whether a change is real.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Real {
    /// Its whole interval lies beyond the least that is of interest.
    Real,
    /// Its whole interval lies within that.
    NoChange,
    /// Neither.
    CannotTell,
}

impl From<Movement> for Real {
    fn from(movement: Movement) -> Self {
        match movement {
            Movement::Moves => Self::Real,
            Movement::Still => Self::NoChange,
            Movement::CannotTell => Self::CannotTell,
        }
    }
}

said_as_written! {
    Real {
        Real => "changed", "geändert";
        NoChange => "as before", "wie vorher";
        CannotTell => "cannot tell", "nicht feststellbar";
    }
}

/// A figure of the pump's tests before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FigureChange {
    /// Which figure.
    pub figure: PumpFigure,
    /// Before the repair.
    pub before: Interval,
    /// After it.
    pub after: Interval,
    /// After less before.
    pub change: f64,
    /// Whether zero lies outside of the change's interval at 1 in 200.
    pub real: bool,
}

/// A figure of the pump's tests that can be held against itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PumpFigure {
    /// Gain, per cent per 100 mbar.
    Gain,
    /// Dead band, mbar.
    DeadBand,
    /// End stop, mbar.
    EndStop,
    /// Hysteresis, mbar.
    Hysteresis,
    /// Time constant of a leak-down, s.
    TimeConstant,
    /// Loss of vacuum at the start of a leak-down, mbar per minute.
    StartRate,
}

said_as_written! {
    PumpFigure {
        Gain => "gain, % per 100 mbar", "Steilheit, % je 100 mbar";
        DeadBand => "dead band, mbar", "Totbereich, mbar";
        EndStop => "end stop, mbar", "Anschlag, mbar";
        Hysteresis => "hysteresis, mbar", "Hysterese, mbar";
        TimeConstant => "time constant, s", "Zeitkonstante, s";
        StartRate => "loss at the start, mbar per minute", "Verlust am Anfang, mbar je Minute";
    }
}

impl StageChange {
    /// How the lamp moved before, and moves after, where that is known of both.
    #[must_use]
    pub fn moved(&self) -> Option<&StageSentence> {
        let mut words = self.words.iter();
        words.find(|said| matches!(said, StageSentence::Movement { .. }))
    }
}

/// Something to say of a repair; outputs for machines have its words.
#[derive(Debug, Clone, PartialEq)]
pub enum StageSentence {
    /// How the lamp moved before, and moves after.
    Movement {
        /// Which lamp.
        lamp: Side,
        /// Before and after.
        stages: [StageTravel; 2],
        /// How the travel changed, where both are of the same positions.
        change: Option<Change>,
    },
    /// The travel over the positions that both stages have, where one was moved further than the other.
    Travel {
        /// Which lamp.
        lamp: Side,
        /// First and last position.
        between: [String; 2],
        /// Before and after.
        change: Change,
    },
    /// The inclination, where there is only one position.
    Inclination {
        /// Which lamp.
        lamp: Side,
        /// The position.
        position: String,
        /// Before and after.
        change: Change,
    },
    /// A figure of the pump's tests that surely changed.
    Figure {
        /// Which lamp.
        lamp: Side,
        /// Before and after.
        figure: FigureChange,
    },
}

impl StageSentence {
    /// Its words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        let figure = |percent: f64, u95: f64| {
            // Adding zero turns −0 into 0.
            let shown = (100.0 * percent).round() / 100.0 + 0.0;
            language.shown(&format!("{shown:+.2} ± {:.2} %", u95.max(0.005)))
        };
        let changed = |c: &Change| {
            let by = figure(c.change_percent, c.change_u95_percent);
            match c.real {
                Real::Real => said!(language; "it changed ({by})", "geändert ({by})"),
                Real::NoChange => said!(language; "as before ({by})", "wie vorher ({by})"),
                Real::CannotTell => said!(
                    language;
                    "whether it changed, the photos do not tell ({by})",
                    "ob es sich geändert hat, sagen die Fotos nicht ({by})"
                ),
            }
        };
        let told = |c: &Change| {
            said!(
                language;
                "before {}, after {}: {}",
                "vorher {}, nachher {}: {}";
                figure(c.before_percent, c.before_u95_percent),
                figure(c.after_percent, c.after_u95_percent),
                changed(c)
            )
        };
        let lamp_said = |lamp: &Side| {
            let stem = lamp.stem();
            said!(language; "{lamp} lamp", "{stem}er Scheinwerfer")
        };
        match self {
            Self::Movement {
                lamp,
                stages: [before, after],
                change,
            } => {
                let size = |t: &StageTravel| figure(t.percent, t.u95_percent);
                let was = match before.movement {
                    Movement::Moves => {
                        said!(language; "the beam moved by {}", "bewegte sich der Lichtkegel um {}"; size(before))
                    }
                    Movement::Still => said!(language; "the beam did not move", "bewegte sich der Lichtkegel nicht"),
                    Movement::CannotTell => said!(
                        language;
                        "the beam could not be said to move or to stand still",
                        "war nicht feststellbar, ob sich der Lichtkegel bewegt"
                    ),
                };
                let is = match after.movement {
                    Movement::Moves => said!(language; "it moves by {}", "bewegt er sich um {}"; size(after)),
                    Movement::Still => said!(language; "it does not move", "bewegt er sich nicht"),
                    Movement::CannotTell => said!(
                        language;
                        "it cannot be said to move or to stand still",
                        "ist nicht feststellbar, ob er sich bewegt"
                    ),
                };
                let over =
                    |t: &StageTravel| said!(language; " from {} to {}", " von {} bis {}"; t.between[0], t.between[1]);
                let of_before = if before.between == after.between {
                    String::new()
                } else {
                    over(before)
                };
                let change = change
                    .map(|change| format!(": {}", changed(&change)))
                    .unwrap_or_default();
                said!(
                    language;
                    "{}: before the repair {was}{of_before}; after it, {is}{}{change}",
                    "{}: vor der Reparatur {was}{of_before}; danach {is}{}{change}";
                    lamp_said(lamp),
                    over(after)
                )
            }
            Self::Travel {
                lamp,
                between: [first, last],
                change,
            } => said!(
                language;
                "{}, travel from {first} to {last}: {}",
                "{}, Stellweg von {first} bis {last}: {}";
                lamp_said(lamp),
                told(change)
            ),
            Self::Inclination { lamp, position, change } => said!(
                language;
                "{}, inclination at {position}: {}",
                "{}, Neigung bei {position}: {}";
                lamp_said(lamp),
                told(change)
            ),
            Self::Figure { lamp, figure: of } => said!(
                language;
                "{}, {}: before {}, after {}; it surely changed",
                "{}, {}: vorher {}, nachher {}; sicher geändert";
                lamp_said(lamp),
                of.figure.said(language),
                language.decimal(of.before.value, 2),
                language.decimal(of.after.value, 2)
            ),
        }
    }
}

impl std::fmt::Display for StageSentence {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.said(Language::English))
    }
}

/// How a lamp moves over some of its positions.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StageTravel {
    /// What may be said of it.
    pub movement: Movement,
    /// The two positions that it is largest between, or the first and the last where it is not said to move.
    pub between: [String; 2],
    /// Travel between them, per cent.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
}

impl StageTravel {
    /// Over these positions; `None` of fewer than two.
    fn of(positions: &[&PositionMean], least_percent: f64) -> Option<Self> {
        let count = positions.len();
        let travel = |a: usize, b: usize| positions[b].mean.travel_from(&positions[a].mean);
        let all: Vec<(usize, usize)> = (0..count).flat_map(|a| (a + 1..count).map(move |b| (a, b))).collect();
        let judge = |&(a, b): &(usize, usize)| {
            let (percent, u95_percent) = travel(a, b);
            Movement::judge(percent, u95_percent, least_percent, pairs(count))
        };
        let movement = Movement::of_all(all.iter().map(judge))?;
        let size = |&&(a, b): &&(usize, usize)| travel(a, b).0.abs();
        let largest = all.iter().max_by(|x, y| size(x).total_cmp(&size(y)));
        let (a, b) = *largest
            .filter(|_| movement == Movement::Moves)
            .unwrap_or(&(0, count - 1));
        let (percent, u95_percent) = travel(a, b);
        Some(Self {
            movement,
            between: [positions[a].position.clone(), positions[b].position.clone()],
            percent,
            u95_percent,
        })
    }
}

/// How a lamp moved before and moves after: over the positions that both stages have, or, where those are fewer than two,
/// each over its own.
fn movements(before: &LampPositions, after: &LampPositions, least_percent: f64) -> Option<[StageTravel; 2]> {
    let shared = before.shared(after);
    let (of_before, of_after): (Vec<&PositionMean>, Vec<&PositionMean>) = if shared.len() > 1 {
        shared.into_iter().unzip()
    } else {
        (before.positions.iter().collect(), after.positions.iter().collect())
    };
    Some([
        StageTravel::of(&of_before, least_percent)?,
        StageTravel::of(&of_after, least_percent)?,
    ])
}

/// Weighted sum of readings of one lamp, per cent, and the half-width of its 95 % interval.
fn sum_u95(weighted: &[(f64, &Mean)]) -> (f64, f64) {
    let percent = weighted.iter().map(|(w, m)| w * m.percent).sum();
    let own: f64 = weighted.iter().map(|(w, m)| w * w * m.own_variance_percent2).sum();
    let shared = Common::sum(weighted.iter().map(|(w, m)| (*w, &m.common)));
    (percent, COVERAGE_FACTOR_95 * (own + shared.variance_percent2()).sqrt())
}

/// `measured_anew`: the lamp's height and distance were taped once for each stage, so that their errors do not cancel.
fn change(
    before: &[(f64, &Mean)],
    after: &[(f64, &Mean)],
    measured_anew: bool,
    least_percent: f64,
    tests: usize,
) -> Change {
    let turned: Vec<(f64, &Mean)> = before
        .iter()
        .map(|(w, m)| (-w, *m))
        .chain(after.iter().copied())
        .collect();
    let (change_percent, mut change_u95_percent) = sum_u95(&turned);
    if measured_anew {
        let own: f64 = turned.iter().map(|(w, m)| w * w * m.own_variance_percent2).sum();
        let of = |stage: &[(f64, &Mean)]| Common::sum(stage.iter().map(|(w, m)| (*w, &m.common)));
        let squares = |v: &[f64]| v.iter().map(|v| v * v).sum::<f64>();
        let bay = Common::sum(turned.iter().map(|(w, m)| (*w, &m.common))).bay;
        let variance = own + squares(&of(before).lamp) + squares(&of(after).lamp) + squares(&bay);
        change_u95_percent = COVERAGE_FACTOR_95 * variance.sqrt();
    }
    let ((before_percent, before_u95_percent), (after_percent, after_u95_percent)) = (sum_u95(before), sum_u95(after));
    Change {
        before_percent,
        before_u95_percent,
        after_percent,
        after_u95_percent,
        change_percent,
        change_u95_percent,
        real: Movement::judge(change_percent, change_u95_percent, least_percent, tests).into(),
    }
}

/// What changed at each lamp that was read at both stages.
pub(super) fn stages(
    all: &[LampPositions],
    responses: &[Response],
    leaks: &[LeakDown],
    limits: &AdjusterLimits,
) -> Vec<StageChange> {
    [Side::Left, Side::Right]
        .into_iter()
        .filter_map(|lamp| {
            let of = |stage| all.iter().find(|s| s.lamp == lamp && s.stage == Some(stage));
            let both = of(Stage::Before).zip(of(Stage::After));
            let positions = both
                .map(|(before, after)| positions(before, after, limits))
                .unwrap_or_default();
            let movements = both.and_then(|(before, after)| movements(before, after, limits.least_travel_percent));
            let figures = figures(lamp, responses, leaks);
            if positions.0.is_empty() && figures.is_empty() && movements.is_none() {
                return None;
            }
            let words = words(lamp, &positions.0, positions.1.as_ref(), movements, &figures);
            Some(StageChange {
                lamp,
                positions: positions.0,
                total: positions.1,
                figures,
                words,
            })
        })
        .collect()
}

fn positions(
    before: &LampPositions,
    after: &LampPositions,
    limits: &AdjusterLimits,
) -> (Vec<PositionChange>, Option<Change>) {
    let least = limits.least_travel_percent;
    let measured_anew = before.on_car.stage != after.on_car.stage;
    let pairs = before.shared(after);
    // As many changes of this lamp are judged at once: its inclinations and its travels.
    let tests = (2 * pairs.len()).saturating_sub(1);
    let travel = |n: usize| {
        let ((b0, a0), (b, a)) = (pairs[0], pairs[n]);
        change(
            &[(1.0, &b.mean), (-1.0, &b0.mean)],
            &[(1.0, &a.mean), (-1.0, &a0.mean)],
            measured_anew,
            least,
            tests,
        )
    };
    let changes = pairs
        .iter()
        .enumerate()
        .map(|(n, (b, a))| PositionChange {
            position: b.position.clone(),
            inclination: change(&[(1.0, &b.mean)], &[(1.0, &a.mean)], measured_anew, least, tests),
            travel: (n > 0).then(|| travel(n)),
        })
        .collect();
    let total = (pairs.len() > 1).then(|| travel(pairs.len() - 1));
    (changes, total)
}

fn figures(lamp: Side, responses: &[Response], leaks: &[LeakDown]) -> Vec<FigureChange> {
    let response = |stage| responses.iter().find(|r| r.lamp == lamp && r.stage == Some(stage));
    // Of several series only those of one name are held against each other.
    let leaks_of = |stage| leaks.iter().filter(move |l| l.lamp == lamp && l.stage == Some(stage));
    let of_one_name = leaks_of(Stage::Before).find_map(|before| {
        Some((
            before,
            leaks_of(Stage::After).find(|after| after.series == before.series)?,
        ))
    });
    let mut pairs: Vec<(PumpFigure, [Option<Interval>; 2])> = Vec::new();
    if let (Some(before), Some(after)) = (response(Stage::Before), response(Stage::After)) {
        let both = |of: fn(&Curve) -> Option<Interval>| [before, after].map(|r| r.curve.as_ref().and_then(of));
        pairs.extend([
            (PumpFigure::Gain, both(|c| Some(c.gain_percent_per_100_mbar))),
            (PumpFigure::DeadBand, both(|c| c.dead_band_mbar)),
            (PumpFigure::EndStop, both(|c| c.end_stop_mbar)),
            (PumpFigure::Hysteresis, both(|c| c.hysteresis.map(|h| h.gap_mbar))),
        ]);
    }
    if let Some((before, after)) = of_one_name {
        let both = [before, after];
        pairs.extend([
            (PumpFigure::TimeConstant, both.map(|l| l.time_constant_s)),
            (PumpFigure::StartRate, both.map(|l| l.start_rate_mbar_per_min)),
        ]);
    }
    pairs
        .into_iter()
        .filter_map(|(figure, [before, after])| FigureChange::of(figure, before?, after?))
        .collect()
}

impl FigureChange {
    /// `None` where an interval is open on the side of the other.
    fn of(figure: PumpFigure, before: Interval, after: Interval) -> Option<Self> {
        let change = after.value - before.value;
        // Each stage has its own photos; what its gauge and tape share is left in, which makes this rather too wide.
        let wide = if change > 0.0 {
            before.side(true)?.hypot(after.side(false)?)
        } else {
            before.side(false)?.hypot(after.side(true)?)
        };
        let sure = two_sided_quantile(FALSE_MOVES) / COVERAGE_FACTOR_95;
        Some(Self {
            figure,
            before,
            after,
            change,
            real: change.abs() > sure * wide,
        })
    }
}

fn words(
    lamp: Side,
    positions: &[PositionChange],
    total: Option<&Change>,
    movements: Option<[StageTravel; 2]>,
    figures: &[FigureChange],
) -> Vec<StageSentence> {
    let alike = movements
        .as_ref()
        .is_some_and(|[before, after]| before.between == after.between);
    let moved = movements.map(|stages| StageSentence::Movement {
        lamp,
        stages,
        change: total.filter(|_| alike).copied(),
    });
    let beam = match (total, positions) {
        // Said with the movement.
        (Some(_), _) if alike => None,
        (Some(total), [first, .., last]) => Some(StageSentence::Travel {
            lamp,
            between: [first.position.clone(), last.position.clone()],
            change: *total,
        }),
        (_, [only, ..]) => Some(StageSentence::Inclination {
            lamp,
            position: only.position.clone(),
            change: only.inclination,
        }),
        _ => None,
    };
    let real = figures.iter().filter(|f| f.real).cloned();
    let pump = real.map(|figure| StageSentence::Figure { lamp, figure });
    moved.into_iter().chain(beam).chain(pump).collect()
}
