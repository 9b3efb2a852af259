//! Sticking and slipping.

use super::super::curve::{GAIN, Point, inclination_percent};
use super::super::motion::{FALSE_MOVES, two_sided_quantile};
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

/// Whether the movement sticks and slips: of two steps side by side on the slope, one moves the beam by less than half of
/// what the curve says, the other by more than it says, each beyond what its uncertainty allows once in 200 runs over all
/// steps.
pub(super) fn stick_slip(fitted: &Fitted) -> (StickSlip, Option<Warning>) {
    let branches = [false, true].map(|releasing| branch_steps(fitted, releasing));
    let count = branches.iter().flatten().count();
    let sure = two_sided_quantile(FALSE_MOVES / count.max(1) as f64);
    let testable = |s: &CurveStep| 0.5 * s.expected > sure * s.sd;
    let stuck = |s: &CurveStep| testable(s) && s.seen < 0.5 * s.expected && s.expected - s.seen > sure * s.sd;
    let slipped = |s: &CurveStep| s.seen - s.expected > sure * s.sd;
    for pair in branches.iter().flat_map(|steps| steps.windows(2)) {
        let (a, b) = (&pair[0], &pair[1]);
        let (plateau, jump) = if stuck(a) && slipped(b) {
            (a, b)
        } else if stuck(b) && slipped(a) {
            (b, a)
        } else {
            continue;
        };
        let warning = Warning::StickSlip {
            still_mbar: plateau.vacuums,
            jump_mbar: jump.vacuums,
            jump_percent: jump.seen,
            share_percent: jump.expected,
        };
        return (StickSlip::Seen, Some(warning));
    }
    if branches.iter().flatten().filter(|s| testable(s)).count() >= 2 {
        (StickSlip::NotSeen, None)
    } else {
        (StickSlip::CannotTell, None)
    }
}

fn branch_steps(fitted: &Fitted, releasing: bool) -> Vec<CurveStep> {
    let (theta, turn) = (&fitted.theta, fitted.data.turn_mbar);
    let of: Vec<&Point> = fitted.data.points.iter().filter(|p| p.releasing == releasing).collect();
    let slope = theta[GAIN] / 100.0;
    let step = |pair: &[&Point]| {
        let at = |p: &Point| inclination_percent(theta, turn, p.vacuum_mbar, releasing);
        let expected = at(pair[1]) - at(pair[0]);
        let sign = if expected < 0.0 { -1.0 } else { 1.0 };
        let variance: f64 = pair
            .iter()
            .map(|p| p.sd_percent.powi(2) + (slope * p.vacuum_sd_mbar).powi(2))
            .sum();
        CurveStep {
            expected: expected.abs(),
            seen: sign * (pair[1].percent - pair[0].percent),
            sd: variance.sqrt(),
            vacuums: [pair[0].vacuum_mbar, pair[1].vacuum_mbar],
        }
    };
    of.windows(2).map(step).collect()
}
