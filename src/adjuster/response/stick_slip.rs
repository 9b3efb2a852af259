//! Sticking and slipping.

use super::super::motion::{FALSE_MOVES, two_sided_quantile};
use super::super::posterior::{Model, WALL};
use super::{Fitted, StickSlip};
use crate::warning::Warning;

/// A step along the curve: its expected and its seen change along the movement, per cent, its standard deviation, per
/// cent, and its vacuums, mbar.
struct CurveStep {
    expected: f64,
    seen: f64,
    sd: f64,
    vacuums: [f64; 2],
}

/// A step that stands still has less than this share of what the curve says.
const STILL_SHARE: f64 = 0.5;
/// Where the readings scatter as no smooth movement does, a step counts that is this many standard deviations off.
const SCATTERED_SDS: f64 = 2.0;

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

/// The two steps by which the movement sticks and slips: one moves the beam by less than half of what the curve says, the other
/// by more than it says, side by side and each beyond what its uncertainty allows once in 200 runs over all steps; or, where the
/// readings scatter more than any smooth movement and the gauge explain (`scatters`), anywhere on a branch.
fn found(branches: &[Vec<CurveStep>; 2], scatters: bool) -> Option<(&CurveStep, &CurveStep)> {
    let sure = sure(branches);
    let strict = branches.iter().find_map(|steps| pair(steps, sure, true));
    strict.or_else(|| (branches.iter().filter(|_| scatters)).find_map(|steps| pair(steps, SCATTERED_SDS, false)))
}

fn sure(branches: &[Vec<CurveStep>; 2]) -> f64 {
    let count = branches.iter().flatten().count();
    two_sided_quantile(FALSE_MOVES / count.max(1) as f64)
}

/// Whether the movement sticks and slips.
pub(super) fn sticking(model: &Model, parameters: &[f64], scatters: bool) -> StickSlip {
    let branches = [false, true].map(|releasing| branch_steps(model, parameters, releasing));
    let sure = sure(&branches);
    let testable = |s: &&CurveStep| 0.5 * s.expected > sure * s.sd;
    if found(&branches, scatters).is_some() {
        StickSlip::Seen
    } else if branches.iter().flatten().filter(testable).count() >= 2 {
        StickSlip::NotSeen
    } else {
        StickSlip::CannotTell
    }
}

/// The warning of a movement that sticks.
pub(super) fn slips(fitted: &Fitted) -> Option<Warning> {
    let branches = [false, true].map(|releasing| branch_steps(&fitted.model, &fitted.parameters, releasing));
    let (plateau, jump) = found(&branches, true).filter(|_| fitted.sticking == StickSlip::Seen)?;
    Some(Warning::StickSlip {
        still_mbar: plateau.vacuums,
        jump_mbar: jump.vacuums,
        jump_percent: jump.seen,
        share_percent: jump.expected,
    })
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
            let own = pair.iter().map(|p| {
                let slope = shape.slope(shape.place_mbar(p.vacuum_mbar, releasing), p.vacuum_sd_mbar.max(1.0));
                p.sd_percent.powi(2) + (slope * p.vacuum_sd_mbar).powi(2) + wall_sd.powi(2)
            });
            CurveStep {
                expected: expected.abs(),
                seen: sign * (pair[1].percent - pair[0].percent),
                sd: own.sum::<f64>().sqrt(),
                vacuums: [pair[0].vacuum_mbar, pair[1].vacuum_mbar],
            }
        })
        .collect()
}
