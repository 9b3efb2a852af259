//! The kink of the edge across the wall, looked for before it is known where the pattern lies: where the flat part ends and the
//! edge rises to a kick or a step.
//!
//! UN R112 measures with the lamp aimed so that its elbow lies on V-V. A car that does not stand square to the wall, or a lamp that
//! aims sideways, throws elbow and flat part beside where the job has the lamp; the scans then belong where the pattern lies.

use super::quality::LEAST_STEP_DECADES;
use super::scan::{STRIPS_REACH_DEG as REACH_DEG, Strip, steps};
use crate::fit::{Fit, Loss, Problem, Slopes, TO_A_THOUSANDTH};
use crate::record::Pattern;
use nalgebra::DMatrix;

/// One standard deviation of where one strip has its edge, degrees; what lies further off is another edge or a mark's (our choice,
/// no source).
const STRIP_SD_DEG: f64 = 0.03;
const LOSS: Loss = Loss::Cauchy { scale: 2.0 };
/// Strips to either side of the kink at the least, and how near to it they must lie, degrees (our choice, no source).
const LEAST_STRIPS: usize = 6;
const NEAR_DEG: f64 = 4.0;
/// Neighbouring strips share what the wall and the model of a sharp kink do to them: the variance counts so many times (our choice,
/// no source).
const STRIPS_ALIKE: f64 = 3.0;
/// An elbow is rounded, and an edge that is not sharp has it a little aside of where its straight parts meet, one standard
/// deviation, degrees (our choice, no source).
const ROUNDING_SD_DEG: f64 = 0.06;
/// Width of a step's ramp, degrees: UN R112's 45° to 0.57°.
const STEP_WIDTH_DEG: f64 = 0.57;
/// What a kink rises by at the least and at the most to be one: a kick's slope (8° to 30°; UN R112's is 15°), a step's height in
/// degrees (UN R112's is 0.57°).
const KICK_RISE: std::ops::RangeInclusive<f64> = 0.14..=0.58;
const STEP_RISE_DEG: std::ops::RangeInclusive<f64> = 0.3..=0.9;
/// A kink leaves less than this share of what a plain line leaves (our choice, no source).
const MOST_LEFT: f64 = 0.4;

/// A kink that is plainly there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Kink {
    /// Where it is, degrees from V-V towards the flat side.
    pub angle_deg: f64,
    /// One standard deviation of that, degrees.
    pub sd_deg: f64,
    /// A kick-up or a step.
    pub pattern: Pattern,
}

/// Elbows of lamps that are aimed at all, before which the car stands square, lie this near to V-V, degrees: 1 % of the distance.
/// From twice as far on the pattern's own V-V counts, and between the two in part, so that no reading jumps (our choice, no source).
const SQUARE_DEG: f64 = 0.573;
/// Further aside it is another lamp's edge, degrees: cars' lamps are 1.1 m apart or more, 5° at 12 m.
const MOST_ASIDE_DEG: f64 = 4.5;

impl Kink {
    /// How far towards the flat side the scans belong from where the job has them, degrees.
    pub fn aside_deg(self) -> f64 {
        let off_deg = self.angle_deg.abs();
        if off_deg > MOST_ASIDE_DEG {
            return 0.0;
        }
        self.angle_deg.signum() * off_deg.min((2.0 * (off_deg - SQUARE_DEG)).max(0.0))
    }

    /// The same from scans that lie so far towards the flat side.
    pub fn seen_from(self, aside_deg: f64) -> Self {
        Self {
            angle_deg: self.angle_deg - aside_deg,
            ..self
        }
    }
}

/// The kink of the edge that strips across the wall show; `None` where none is plain.
pub(super) fn find(strips: &[Strip]) -> Option<Kink> {
    let edges = strips.iter().filter_map(|strip| {
        let (beta_deg, fall) = strip.profile.strongest_fall(None)?;
        (fall > LEAST_STEP_DECADES).then_some((strip.angle_deg, beta_deg))
    });
    in_edges(&edges.collect::<Vec<_>>())
}

/// How high an edge lies over its flat part, per unit of what it rises by, so many degrees towards the kick from the kink.
fn rise(pattern: Pattern, past_deg: f64) -> f64 {
    match pattern {
        Pattern::Step => (past_deg / STEP_WIDTH_DEG).clamp(0.0, 1.0),
        Pattern::KickUp | Pattern::Flat => past_deg.max(0.0),
    }
}

/// How that changes with the place.
fn rise_slope(pattern: Pattern, past_deg: f64) -> f64 {
    match pattern {
        Pattern::Step if (0.0..STEP_WIDTH_DEG).contains(&past_deg) => 1.0 / STEP_WIDTH_DEG,
        Pattern::KickUp | Pattern::Flat if past_deg > 0.0 => 1.0,
        _ => 0.0,
    }
}

/// Fits height and slope of the flat part, and, but for a flat pattern, how much the edge rises and from where.
fn fit(edges: &[(f64, f64)], pattern: Pattern, start: &[f64]) -> Option<Fit> {
    let residuals = |p: &[f64]| -> Vec<f64> {
        let rises = |angle_deg: f64| {
            if let [_, _, by, from_deg] = p {
                by * rise(pattern, from_deg - angle_deg)
            } else {
                0.0
            }
        };
        let line = |angle_deg: f64| p[0] + p[1] * angle_deg;
        (edges.iter())
            .map(|&(angle_deg, beta_deg)| (beta_deg - line(angle_deg) - rises(angle_deg)) / STRIP_SD_DEG)
            .collect()
    };
    let slopes = |p: &[f64]| {
        DMatrix::from_fn(edges.len(), p.len(), |row, column| {
            let angle_deg = edges[row].0;
            let past_deg = p.get(3).map_or(0.0, |from_deg| from_deg - angle_deg);
            let slope = match column {
                0 => 1.0,
                1 => angle_deg,
                2 => rise(pattern, past_deg),
                _ => p[2] * rise_slope(pattern, past_deg),
            };
            -slope / STRIP_SD_DEG
        })
    };
    let problem = Problem {
        residuals: &residuals,
        priors: 0,
        slopes: Slopes::Closed(&slopes),
        loss: LOSS,
        settled: TO_A_THOUSANDTH,
    };
    problem.solve(start)
}

/// The kink in the heights of an edge: degrees from V-V towards the flat side, and degrees of height.
fn in_edges(edges: &[(f64, f64)]) -> Option<Kink> {
    /// Where the kink is looked for from, degrees apart.
    const STARTS_DEG: f64 = 1.0;
    let about_deg = crate::fit::median(&mut edges.iter().map(|edge| edge.1).collect::<Vec<_>>())?;
    let line = fit(edges, Pattern::Flat, &[about_deg, 0.0])?;
    let froms_deg = steps(-REACH_DEG + 2.0, REACH_DEG - 2.0, STARTS_DEG);
    let tried = [(Pattern::KickUp, 0.27), (Pattern::Step, 0.57)]
        .into_iter()
        .flat_map(|(pattern, by)| {
            let fits = froms_deg.iter().filter_map(move |&from_deg| {
                let level_deg = level_beyond(edges, from_deg)?;
                fit(edges, pattern, &[level_deg, 0.0, by, from_deg])
            });
            fits.map(move |fit| (pattern, fit)).collect::<Vec<_>>()
        });
    let (pattern, best) = tried.min_by(|a, b| a.1.cost.total_cmp(&b.1.cost))?;
    let &[_, _, by, angle_deg] = best.parameters.as_slice() else {
        return None;
    };
    let plain = match pattern {
        Pattern::Step => STEP_RISE_DEG.contains(&by),
        Pattern::KickUp | Pattern::Flat => KICK_RISE.contains(&by),
    };
    let on = |side: f64| {
        let near = |edge: &&(f64, f64)| (0.0..NEAR_DEG).contains(&(side * (edge.0 - angle_deg)));
        edges.iter().filter(near).count()
    };
    let seen = on(1.0) >= LEAST_STRIPS && on(-1.0) >= LEAST_STRIPS;
    let spread = best
        .residuals
        .iter()
        .zip(&best.weights)
        .map(|(r, w)| w * r * r)
        .sum::<f64>();
    let unit = (spread / best.weights.iter().sum::<f64>().max(1.0)).max(0.1);
    let sd_deg = (STRIPS_ALIKE * unit * best.covariance[(3, 3)])
        .sqrt()
        .hypot(ROUNDING_SD_DEG);
    (plain && seen && best.cost < MOST_LEFT * line.cost).then_some(Kink {
        angle_deg,
        sd_deg,
        pattern,
    })
}

/// The middle height of the edge over four degrees to the flat side of a place.
fn level_beyond(edges: &[(f64, f64)], from_deg: f64) -> Option<f64> {
    let beyond = edges
        .iter()
        .filter(|edge| (0.0..NEAR_DEG).contains(&(edge.0 - from_deg)));
    let mut heights_deg: Vec<f64> = beyond.map(|edge| edge.1).collect();
    crate::fit::median(&mut heights_deg)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cutoff::STRIP_DEG;

    /// Against central differences.
    #[test]
    fn the_slope_of_a_rise_is_that_of_its_height() {
        const STEP: f64 = 1e-6;
        for pattern in [Pattern::KickUp, Pattern::Step] {
            for past_deg in [-1.0, -0.1, 0.1, 0.3, 0.5, 0.7, 2.0] {
                let plain = (rise(pattern, past_deg + STEP) - rise(pattern, past_deg - STEP)) / (2.0 * STEP);
                let told = rise_slope(pattern, past_deg);
                assert!((told - plain).abs() < 1e-6, "{pattern} {past_deg}: {told} {plain}");
            }
        }
    }

    /// Heights of an edge with a kink at `at_deg`, each strip off by a little.
    fn edges(pattern: Pattern, at_deg: f64, by: f64) -> Vec<(f64, f64)> {
        let strips = steps(-REACH_DEG, REACH_DEG, STRIP_DEG).into_iter();
        let height = |a: f64| -0.6 + 0.01 * a + by * rise(pattern, at_deg - a) + 0.01 * (7.0 * a).sin();
        strips.map(|a| (a, height(a))).collect()
    }

    #[test]
    fn a_kink_is_found_wherever_it_lies() {
        for at_deg in [-3.4, -0.2, 0.0, 1.3, 3.1] {
            for (pattern, by) in [(Pattern::KickUp, 0.268), (Pattern::Step, 0.573)] {
                let found = in_edges(&edges(pattern, at_deg, by)).unwrap();
                assert_eq!(found.pattern, pattern, "{at_deg}");
                assert!((found.angle_deg - at_deg).abs() < 0.06, "{pattern} {at_deg}: {found:?}");
            }
        }
    }

    #[test]
    fn strips_that_show_another_edge_do_not_move_it() {
        let mut spoilt = edges(Pattern::KickUp, -2.0, 0.268);
        for n in [3, 20, 21, 40, 55] {
            spoilt[n].1 += 0.9;
        }
        let found = in_edges(&spoilt).unwrap();
        assert!((found.angle_deg + 2.0).abs() < 0.06, "{found:?}");
    }

    #[test]
    fn what_is_flat_or_falls_has_none() {
        assert_eq!(in_edges(&edges(Pattern::Flat, 0.0, 0.0)), None);
        assert_eq!(
            in_edges(&edges(Pattern::KickUp, 0.0, -0.268)),
            None,
            "the wrong side of the road"
        );
        let few: Vec<(f64, f64)> = edges(Pattern::KickUp, 0.0, 0.268)
            .into_iter()
            .filter(|e| e.0 > -0.6)
            .collect();
        assert_eq!(in_edges(&few), None, "too little of the kick");
        assert_eq!(in_edges(&[]), None);
    }
}
