//! Before the repair against after it.

use super::Interval;
use super::leak::LeakDown;
use super::mean::Mean;
use super::motion::{FALSE_MOVES, Movement, two_sided_quantile};
use super::positions::LampPositions;
use super::response::{Curve, Response};
use crate::aim::{COVERAGE_FACTOR_95, Common};
use crate::record::{AdjusterLimits, Side, Stage, display_as_written};
use serde::Serialize;

/// What the repair changed at one lamp.
#[derive(Debug, Clone, PartialEq, Serialize)]
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

display_as_written! {
    Real {
        Real => "real",
        NoChange => "no change",
        CannotTell => "cannot tell",
    }
}

/// A figure of the pump's tests before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
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

display_as_written! {
    PumpFigure {
        Gain => "gain, % per 100 mbar",
        DeadBand => "dead band, mbar",
        EndStop => "end stop, mbar",
        Hysteresis => "hysteresis, mbar",
        TimeConstant => "time constant, s",
        StartRate => "loss at the start, mbar per minute",
    }
}

/// Something to say of a repair; outputs for machines have its words.
#[derive(Debug, Clone, PartialEq)]
pub enum StageSentence {
    /// The whole travel.
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

impl std::fmt::Display for StageSentence {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let figure = |percent: f64, u95: f64| {
            // Adding zero turns −0 into 0.
            let shown = (100.0 * percent).round() / 100.0 + 0.0;
            format!("{shown:+.2} ± {:.2} %", u95.max(0.005))
        };
        let told = |c: &Change| {
            format!(
                "before {}, after {}; change {}, {}",
                figure(c.before_percent, c.before_u95_percent),
                figure(c.after_percent, c.after_u95_percent),
                figure(c.change_percent, c.change_u95_percent),
                c.real
            )
        };
        match self {
            Self::Travel {
                lamp,
                between: [first, last],
                change,
            } => write!(f, "{lamp} lamp, travel from {first} to {last}: {}", told(change)),
            Self::Inclination { lamp, position, change } => {
                write!(f, "{lamp} lamp, inclination at {position}: {}", told(change))
            }
            Self::Figure { lamp, figure: of } => write!(
                f,
                "{lamp} lamp, {}: before {:.2}, after {:.2}; the change is real",
                of.figure, of.before.value, of.after.value
            ),
        }
    }
}

/// Weighted sum of readings of one lamp, per cent, and the half-width of its 95 % interval.
fn sum_u95(weighted: &[(f64, &Mean)]) -> (f64, f64) {
    let percent = weighted.iter().map(|(w, m)| w * m.percent).sum();
    let own: f64 = weighted.iter().map(|(w, m)| w * w * m.own_variance_percent2).sum();
    let shared = Common::sum(weighted.iter().map(|(w, m)| (*w, &m.common)));
    (percent, COVERAGE_FACTOR_95 * (own + shared.variance_percent2()).sqrt())
}

fn change(before: &[(f64, &Mean)], after: &[(f64, &Mean)], least_percent: f64, tests: usize) -> Change {
    let turned: Vec<(f64, &Mean)> = before
        .iter()
        .map(|(w, m)| (-w, *m))
        .chain(after.iter().copied())
        .collect();
    let (change_percent, change_u95_percent) = sum_u95(&turned);
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
            let positions = match (of(Stage::Before), of(Stage::After)) {
                (Some(before), Some(after)) => positions(before, after, limits),
                _ => (Vec::new(), None),
            };
            let figures = figures(lamp, responses, leaks);
            if positions.0.is_empty() && figures.is_empty() {
                return None;
            }
            let words = words(lamp, &positions.0, positions.1.as_ref(), &figures);
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
    let pairs = before.shared(after);
    // As many changes of this lamp are judged at once: its inclinations and its travels.
    let tests = (2 * pairs.len()).saturating_sub(1);
    let travel = |n: usize| {
        let ((b0, a0), (b, a)) = (pairs[0], pairs[n]);
        change(
            &[(1.0, &b.mean), (-1.0, &b0.mean)],
            &[(1.0, &a.mean), (-1.0, &a0.mean)],
            least,
            tests,
        )
    };
    let changes = pairs
        .iter()
        .enumerate()
        .map(|(n, (b, a))| PositionChange {
            position: b.position.clone(),
            inclination: change(&[(1.0, &b.mean)], &[(1.0, &a.mean)], least, tests),
            travel: (n > 0).then(|| travel(n)),
        })
        .collect();
    let total = (pairs.len() > 1).then(|| travel(pairs.len() - 1));
    (changes, total)
}

fn figures(lamp: Side, responses: &[Response], leaks: &[LeakDown]) -> Vec<FigureChange> {
    let response = |stage| responses.iter().find(|r| r.lamp == lamp && r.stage == Some(stage));
    let leak = |stage| leaks.iter().find(|l| l.lamp == lamp && l.stage == Some(stage));
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
    if let (Some(before), Some(after)) = (leak(Stage::Before), leak(Stage::After)) {
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
    figures: &[FigureChange],
) -> Vec<StageSentence> {
    let beam = match (total, positions) {
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
    beam.into_iter().chain(pump).collect()
}
