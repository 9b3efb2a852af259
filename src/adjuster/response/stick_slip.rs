//! Sticking and slipping.

use super::super::curve::Point;
use super::super::motion::{FALSE_MOVES, two_sided_quantile};
use super::super::posterior::{GAIN, Model, WALL};
use super::StickSlip;
use crate::fit::normal_between;
use crate::warning::Warning;

/// A step along the curve: its expected and its seen change along the movement, per cent, its standard deviation with the
/// gauge's error and the one of the readings alone, per cent, whether it lies on the slope, and its vacuums, mbar.
struct CurveStep {
    expected: f64,
    seen: f64,
    sd: f64,
    own_sd: f64,
    on_slope: bool,
    vacuums: [f64; 2],
}

/// A step that stands still has less than this share of what the curve says.
const STILL_SHARE: f64 = 0.5;
/// Where the readings scatter as no smooth movement does, a step counts that is this many standard deviations off.
const SCATTERED_SDS: f64 = 2.0;
/// A beam stands still from one reading to the next within so many standard deviations of the two.
const STILL_SDS: f64 = 2.0;
/// Only a step that should move it by so many can show that it stands still.
const MOVING_SDS: f64 = 4.0;
/// A step lies on the slope where either end has this share of the gain (common practice, no source).
const SLOPE_SHARE: f64 = 0.7;

/// The steps of one branch, those at which the beam stands still and those at which it jumps.
fn pair(steps: &[CurveStep], sure: f64, side_by_side: bool) -> Option<(&CurveStep, &CurveStep)> {
    let stuck = |s: &CurveStep| s.seen < STILL_SHARE * s.expected && s.expected - s.seen > sure * s.sd;
    let slipped = |s: &CurveStep| s.seen - s.expected > sure * s.sd;
    let all = (0..steps.len()).flat_map(|a| (0..steps.len()).map(move |b| (a, b)));
    let found = all.filter(|(a, b)| !side_by_side || a.abs_diff(*b) == 1);
    found
        .map(|(a, b)| (&steps[a], &steps[b]))
        .find(|(a, b)| stuck(a) && slipped(b))
}

/// The longest stillness and the largest jump, where the beam stands still at more steps of its slope than the gauge's errors
/// make it do once in 200 runs: errors of the gauge make steps unlike, but seldom none at all.
fn stands_still(branches: &[Vec<CurveStep>; 2]) -> Option<(&CurveStep, &CurveStep)> {
    let moving = |s: &&CurveStep| s.on_slope && s.expected > MOVING_SDS * s.own_sd;
    let within = |s: &CurveStep| STILL_SDS * s.own_sd;
    let still = |s: &&CurveStep| s.seen.abs() < within(s);
    // Probability of each number of still steps, one step after the other (the Poisson binomial distribution).
    let mut numbers = vec![1.0];
    for step in branches.iter().flatten().filter(moving) {
        let end = |at: f64| (at - step.expected) / step.sd;
        let probability = normal_between(end(-within(step)), end(within(step)));
        numbers.push(0.0);
        for n in (0..numbers.len()).rev() {
            let fewer = if n > 0 { numbers[n - 1] } else { 0.0 };
            numbers[n] = numbers[n] * (1.0 - probability) + fewer * probability;
        }
    }
    let stood = branches.iter().flatten().filter(moving).filter(still);
    let by_chance: f64 = numbers.iter().skip(stood.clone().count()).sum();
    let stood = stood.max_by(|a, b| a.expected.total_cmp(&b.expected))?;
    let beyond = |s: &CurveStep| s.seen - s.expected;
    let jump = branches
        .iter()
        .flatten()
        .max_by(|a, b| beyond(a).total_cmp(&beyond(b)))?;
    (by_chance < FALSE_MOVES && beyond(jump) > 0.0).then_some((stood, jump))
}

/// The two steps by which the movement sticks and slips: one moves the beam by less than half of what the curve says, the other
/// by more than it says, side by side and each beyond what its uncertainty allows once in 200 runs over all steps; or the beam
/// stands still too often; or, where the readings scatter more than any smooth movement and the gauge explain (`scatters`), such
/// steps anywhere on a branch.
fn found(branches: &[Vec<CurveStep>; 2], scatters: bool) -> Option<(&CurveStep, &CurveStep)> {
    let sure = sure(branches);
    let strict = branches.iter().find_map(|steps| pair(steps, sure, true));
    strict
        .or_else(|| stands_still(branches))
        .or_else(|| (branches.iter().filter(|_| scatters)).find_map(|steps| pair(steps, SCATTERED_SDS, false)))
}

fn sure(branches: &[Vec<CurveStep>; 2]) -> f64 {
    let count = branches.iter().flatten().count();
    two_sided_quantile(FALSE_MOVES / count.max(1) as f64)
}

/// How far the beam hangs back at no vacuum after it was released, per cent, where that is more than its errors come to once in
/// 200 runs: there the gauge has no error, and a smooth movement is where the curve has it.
fn hangs_back_percent(model: &Model, parameters: &[f64]) -> Option<f64> {
    let off = model.residuals(parameters);
    let at_rest = |releasing: bool| {
        let of = (model.points.iter().zip(&off)).filter(|(p, _)| p.releasing == releasing && p.vacuum_mbar < 1.0);
        let (count, sum, own2) = of.fold((0.0, 0.0, 0.0), |(count, sum, own2), (p, (off, _))| {
            (count + 1.0, sum + off, own2 + p.sd_percent.powi(2))
        });
        (count > 0.0).then(|| (sum / count, own2 / f64::powi(count, 2)))
    };
    let ((before, before2), (after, after2)) = (at_rest(false)?, at_rest(true)?);
    let sd = (before2 + after2 + 2.0 * (2.0 * parameters[WALL]).exp()).sqrt();
    let towards_pumped = (after - before) * parameters[GAIN].signum();
    (towards_pumped > two_sided_quantile(FALSE_MOVES) * sd).then_some(towards_pumped)
}

/// Whether the movement sticks and slips, and what shows it. `jump_percent`: the largest jump with the valve shut.
pub(super) fn sticking(
    model: &Model,
    parameters: &[f64],
    scatters: bool,
    jump_percent: Option<f64>,
) -> (StickSlip, Option<Warning>) {
    let branches = [false, true].map(|releasing| branch_steps(model, parameters, releasing));
    let sure = sure(&branches);
    let testable = |s: &&CurveStep| 0.5 * s.expected > sure * s.sd;
    let by_steps = found(&branches, scatters).map(|(plateau, jump)| Warning::StickSlip {
        still_mbar: plateau.vacuums,
        jump_mbar: jump.vacuums,
        jump_percent: jump.seen,
        share_percent: jump.expected,
    });
    let by_leak = jump_percent.map(|jump_percent| Warning::JumpsWhileShut { jump_percent });
    let by_rest = || hangs_back_percent(model, parameters).map(|percent| Warning::NotBackAtRest { percent });
    let shown = by_steps.or(by_leak).or_else(by_rest);
    let state = if shown.is_some() {
        StickSlip::Seen
    } else if branches.iter().flatten().filter(testable).count() >= 2 {
        StickSlip::NotSeen
    } else {
        StickSlip::CannotTell
    };
    (state, shown)
}

fn branch_steps(model: &Model, parameters: &[f64], releasing: bool) -> Vec<CurveStep> {
    let shape = model.shape(parameters);
    let wall_sd = parameters[WALL].exp();
    let of: Vec<_> = model.points.iter().filter(|p| p.releasing == releasing).collect();
    of.windows(2)
        .map(|pair| {
            let expected =
                shape.percent(pair[1].vacuum_mbar, releasing) - shape.percent(pair[0].vacuum_mbar, releasing);
            let sign = if expected < 0.0 { -1.0 } else { 1.0 };
            let slope = |p: &Point| shape.slope(shape.place_mbar(p.vacuum_mbar, releasing), p.vacuum_sd_mbar.max(1.0));
            let even = shape.gain_percent_per_100_mbar / 100.0;
            let own: f64 = pair.iter().map(|p| p.sd_percent.powi(2)).sum();
            let with_gauge = pair
                .iter()
                .map(|p| (slope(p) * p.vacuum_sd_mbar).powi(2) + wall_sd.powi(2));
            CurveStep {
                expected: expected.abs(),
                seen: sign * (pair[1].percent - pair[0].percent),
                sd: (own + with_gauge.sum::<f64>()).sqrt(),
                own_sd: own.sqrt(),
                on_slope: pair.iter().all(|p| slope(p) / even > SLOPE_SHARE),
                vacuums: [pair[0].vacuum_mbar, pair[1].vacuum_mbar],
            }
        })
        .collect()
}
