//! Before the repair against after it.

use super::response::Response;
use super::travel::{Mean, Stops};
use super::{Interval, LeakDown, Movement};
use crate::aim::{COVERAGE_FACTOR_95, Common};
use crate::record::{AdjusterLimits, Side, Stage};
use serde::{Deserialize, Serialize};

/// What the repair changed at one lamp.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StageChange {
    /// Which lamp.
    pub lamp: Side,
    /// Its positions, at each of which it was read at both stages.
    pub positions: Vec<PositionChange>,
    /// Travel from the first of these positions to the last.
    pub total: Option<Change>,
    /// What the pump showed, where it was used at both stages.
    pub figures: Vec<FigureChange>,
    /// The same in plain words.
    pub words: Vec<String>,
}

/// One position before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PositionChange {
    /// The position.
    pub position: String,
    /// Inclination.
    pub inclination: Change,
    /// Travel from the first of the positions; `None` at that one.
    pub travel: Option<Change>,
}

/// A figure before and after, per cent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
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

impl std::fmt::Display for Real {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Real => "real",
            Self::NoChange => "no change",
            Self::CannotTell => "cannot tell",
        })
    }
}

/// A figure of the pump's tests before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FigureChange {
    /// Which figure, with its unit.
    pub figure: String,
    /// Before the repair.
    pub before: Interval,
    /// After it.
    pub after: Interval,
    /// After less before.
    pub change: f64,
    /// Whether zero lies outside of the change's interval at 1 in 200.
    pub real: bool,
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
    all: &[Stops],
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

fn positions(before: &Stops, after: &Stops, limits: &AdjusterLimits) -> (Vec<PositionChange>, Option<Change>) {
    let least = limits.least_travel_percent;
    let pairs: Vec<_> = before
        .stops
        .iter()
        .filter_map(|stop| Some((stop, after.at(&stop.position)?)))
        .collect();
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
    let mut pairs: Vec<(&str, Option<Interval>, Option<Interval>)> = Vec::new();
    if let (Some(before), Some(after)) = (response(Stage::Before), response(Stage::After)) {
        let fit = |r: &Response, of: fn(&super::Curve) -> Option<Interval>| r.curve.as_ref().and_then(of);
        for (name, of) in [
            (
                "gain, % per 100 mbar",
                (|c| Some(c.gain_percent_per_100_mbar)) as fn(&super::Curve) -> Option<Interval>,
            ),
            ("dead band, mbar", |c| c.dead_band_mbar),
            ("end stop, mbar", |c| c.end_stop_mbar),
            ("hysteresis, mbar", |c| c.hysteresis.as_ref().map(|h| h.gap_mbar)),
        ] {
            pairs.push((name, fit(before, of), fit(after, of)));
        }
    }
    if let (Some(before), Some(after)) = (leak(Stage::Before), leak(Stage::After)) {
        pairs.push(("time constant, s", before.time_constant_s, after.time_constant_s));
        pairs.push((
            "loss at the start, mbar per minute",
            before.start_rate_mbar_per_min,
            after.start_rate_mbar_per_min,
        ));
    }
    pairs
        .into_iter()
        .filter_map(|(figure, before, after)| {
            let (before, after) = (before?, after?);
            let change = after.value - before.value;
            // Each stage has its own photos; what its gauge and tape share is left in, which makes this rather too wide.
            let side = |i: &Interval, up: bool| i.side(up);
            let wide = if change > 0.0 {
                side(&before, true)?.hypot(side(&after, false)?)
            } else {
                side(&before, false)?.hypot(side(&after, true)?)
            };
            let sure = super::motion::two_sided_quantile(super::motion::FALSE_MOVES) / COVERAGE_FACTOR_95;
            Some(FigureChange {
                figure: figure.to_owned(),
                before,
                after,
                change,
                real: change.abs() > sure * wide,
            })
        })
        .collect()
}

fn words(lamp: Side, positions: &[PositionChange], total: Option<&Change>, figures: &[FigureChange]) -> Vec<String> {
    let mut words = Vec::new();
    let figure = |percent: f64, u95: f64| {
        // Adding zero turns −0 into 0.
        let shown = (100.0 * percent).round() / 100.0 + 0.0;
        format!("{shown:+.2} ± {:.2} %", u95.max(0.005))
    };
    if let (Some(total), Some(first), Some(last)) = (total, positions.first(), positions.last()) {
        words.push(format!(
            "{lamp} lamp, travel from {} to {}: before {}, after {}; change {}, {}",
            first.position,
            last.position,
            figure(total.before_percent, total.before_u95_percent),
            figure(total.after_percent, total.after_u95_percent),
            figure(total.change_percent, total.change_u95_percent),
            total.real
        ));
    } else if let Some(only) = positions.first() {
        let c = &only.inclination;
        words.push(format!(
            "{lamp} lamp, inclination at {}: before {}, after {}; change {}, {}",
            only.position,
            figure(c.before_percent, c.before_u95_percent),
            figure(c.after_percent, c.after_u95_percent),
            figure(c.change_percent, c.change_u95_percent),
            c.real
        ));
    }
    for f in figures.iter().filter(|f| f.real) {
        words.push(format!(
            "{lamp} lamp, {}: before {:.2}, after {:.2}; the change is real",
            f.figure, f.before.value, f.after.value
        ));
    }
    words
}
