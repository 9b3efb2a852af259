//! The elbow, and what the edge does beyond it: rises (kick-up), steps up, or runs on flat.

use super::kink::Kink;
use super::line::{FlatPart, Line};
use super::quality::LEAST_STEP_DECADES;
use super::scan::{Scans, steps};
use super::{Elbow, FLAT_FROM_DEG, FLAT_TO_DEG, STRIP_DEG, median};
use crate::record::{Pattern, Traffic};
use crate::warning::Warning;

/// The shape beside the flat part, and its elbow where there is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Found {
    pub pattern: Pattern,
    pub elbow: Option<Elbow>,
    /// What the edge beyond V-V shows that does not fit the job.
    pub odd: Option<Odd>,
}

/// What does not fit the job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Odd {
    /// The edge is plainly of this pattern, and the job states another.
    Pattern(Pattern),
    /// The edge falls towards where it should rise, as seen from the wrong side of the traffic.
    Falls,
}

impl Odd {
    /// What to say of it, by what the job says.
    pub fn warning(self, traffic: Traffic, stated: Pattern) -> Warning {
        match self {
            Self::Pattern(seen) => Warning::PatternUnlike { stated, seen },
            Self::Falls => Warning::EdgeFalls { traffic },
        }
    }
}

/// Beyond V-V the edge is followed this far, degrees, and so many strips of it must be seen to speak of a shape (our
/// choice, no source): a step is over within a degree, and a kick is 0.27° high after one.
const BEYOND_DEG: f64 = 4.0;
const LEAST_STRIPS: usize = 5;
/// An edge that stays this near to the flat line is flat, degrees: a fifth of a step's height, 0.57° by UN R112 (our
/// choice, no source).
const FLAT_WITHIN_DEG: f64 = 0.12;
/// A rise steeper than this is a kick-up; less, with an offset, a step. UN R112's kick-up is 15°.
const LEAST_KICK_DEG: f64 = 5.0;

/// What is plainly a kick or a step, degrees, and plainly none, for a word against the job: half a kick-up and half a step
/// of UN R112, a third of a kick-up (our choice, no source).
const PLAIN_KICK_DEG: f64 = 8.0;
const PLAIN_STEP_DEG: f64 = 0.3;
const NO_KICK_DEG: f64 = 3.0;

/// From one strip to the next the edge stays within this of where it was, degrees below and above: it does not jump by
/// more than a step's height, 0.6° (our choice, no source).
const NEAR_DEG: [f64; 2] = [0.4, 0.9];
/// Strips nearer to V-V than this are still of the elbow's rounding, degrees (our choice, no source).
const PAST_ELBOW_DEG: f64 = 0.5;
/// A kick that rises less than this per degree has no elbow that could be placed (our choice, no source).
const LEAST_RISE: f64 = 0.02;

/// One standard deviation of an elbow that only the edge beyond V-V places, degrees (our choice, no source): a kick rises 0.05°
/// in it, which is how far its strips scatter.
const ELBOW_SD_DEG: f64 = 0.2;

/// Follows the edge beyond V-V. `pattern` from the job decides the shape where it is given.
/// `kink` is where the edge as a whole has its kink, if that is plain: it places the elbow better than what lies beyond V-V.
pub(super) fn find(scans: &Scans<'_>, flat: FlatPart, pattern: Option<Pattern>, kink: Option<Kink>) -> Found {
    let rises = rises(scans, flat);
    let beyond: Vec<(f64, f64)> = rises.iter().copied().filter(|r| r.0 < -PAST_ELBOW_DEG).collect();
    if beyond.len() < LEAST_STRIPS {
        // Too little is seen to contradict the job; without a job's word, say flat only if it looks so.
        let pattern = pattern.unwrap_or(Pattern::Flat);
        let (elbow, odd) = (None, None);
        return Found { pattern, elbow, odd };
    }
    // Angles fall away from the flat side: what rises has a negative slope.
    let line = Line::shared_by_most(&beyond);
    let rise = -line.slope;
    let kick_deg = rise.atan().to_degrees();
    let level_deg = median(&mut beyond.iter().map(|r| r.1).collect::<Vec<_>>());
    let shape = pattern.unwrap_or(if kick_deg >= LEAST_KICK_DEG {
        Pattern::KickUp
    } else if level_deg > FLAT_WITHIN_DEG {
        Pattern::Step
    } else {
        Pattern::Flat
    });
    let beyond_vv = || match shape {
        Pattern::KickUp if rise > LEAST_RISE => Some(line.at_zero_deg / rise),
        Pattern::Step => half_way_up(&rises, level_deg),
        Pattern::KickUp | Pattern::Flat => None,
    };
    let place = match kink.filter(|kink| kink.pattern == shape) {
        Some(kink) => Some((kink.angle_deg, kink.sd_deg)),
        None => beyond_vv().map(|angle_deg| (angle_deg, ELBOW_SD_DEG)),
    };
    let elbow = place
        .filter(|(a, _)| a.abs() < BEYOND_DEG)
        .map(|(angle_deg, sd_deg)| Elbow {
            x_mm: scans.lamp.x_at_mm(angle_deg),
            x_sd_mm: sd_deg.to_radians().tan() * scans.lamp.distance_mm,
            kick_deg: if shape == Pattern::KickUp { kick_deg } else { 0.0 },
        });
    Found {
        pattern: shape,
        elbow,
        odd: odd(kick_deg, level_deg, pattern),
    }
}

/// What an edge that rises so steeply, and lies so far above the flat line in the middle, plainly shows against the job.
fn odd(kick_deg: f64, level_deg: f64, stated: Option<Pattern>) -> Option<Odd> {
    if level_deg < -PLAIN_STEP_DEG {
        return Some(Odd::Falls);
    }
    let seen = if kick_deg > PLAIN_KICK_DEG {
        Pattern::KickUp
    } else if kick_deg.abs() > NO_KICK_DEG {
        return None;
    } else if level_deg > PLAIN_STEP_DEG {
        Pattern::Step
    } else if level_deg.abs() < FLAT_WITHIN_DEG {
        Pattern::Flat
    } else {
        return None;
    };
    stated.filter(|stated| *stated != seen).map(|_| Odd::Pattern(seen))
}

/// Heights of the edge over the flat line, strip by strip, from the flat side across V-V: angle and height, degrees.
///
/// An edge's strongest fall is not quite its inflection; how far the two lie apart is taken from the flat part itself.
fn rises(scans: &Scans<'_>, flat: FlatPart) -> Vec<(f64, f64)> {
    let mut rises = Vec::new();
    let fall_above_deg = fall_above_deg(scans, flat);
    let mut previous_deg = 0.0;
    let count = ((BEYOND_DEG + 1.0) / STRIP_DEG) as usize;
    for n in 0..count {
        let middle_deg = 1.0 - STRIP_DEG * (n as f64 + 0.5);
        let line_deg = flat.at_deg(middle_deg) + fall_above_deg;
        let near_deg = line_deg + previous_deg;
        let near_deg = (near_deg - NEAR_DEG[0], near_deg + NEAR_DEG[1]);
        if let Some((beta_deg, fall)) = strongest_fall(scans, middle_deg, near_deg)
            && fall > LEAST_STEP_DECADES
        {
            previous_deg = beta_deg - line_deg;
            rises.push((middle_deg, previous_deg));
        }
    }
    rises
}

/// The strongest fall of a strip within bounds, degrees: where, and how many decades.
fn strongest_fall(scans: &Scans<'_>, middle_deg: f64, within_deg: (f64, f64)) -> Option<(f64, f64)> {
    let scans = scans.within(within_deg.0, within_deg.1);
    scans
        .strip(middle_deg, 0.5 * STRIP_DEG, 0.05)
        .strongest_fall(Some(within_deg))
}

/// How far the flat part's strongest falls lie above its line, degrees: in the middle over its strips.
fn fall_above_deg(scans: &Scans<'_>, flat: FlatPart) -> f64 {
    let strips = steps(
        FLAT_FROM_DEG + 0.5 * STRIP_DEG,
        FLAT_TO_DEG - 0.5 * STRIP_DEG,
        STRIP_DEG,
    );
    let above = strips.into_iter().filter_map(|middle_deg| {
        let line_deg = flat.at_deg(middle_deg);
        let near_deg = (line_deg - NEAR_DEG[0], line_deg + NEAR_DEG[0]);
        let (beta_deg, fall) = strongest_fall(scans, middle_deg, near_deg)?;
        (fall > LEAST_STEP_DECADES).then_some(beta_deg - line_deg)
    });
    crate::fit::median(&mut above.collect::<Vec<_>>()).unwrap_or(0.0)
}

/// The middle of a step so high: where the edge is half-way up, degrees from V-V.
fn half_way_up(rises: &[(f64, f64)], level_deg: f64) -> Option<f64> {
    let half_deg = 0.5 * level_deg;
    let pair = rises
        .windows(2)
        .find(|pair| pair[0].1 < half_deg && pair[1].1 >= half_deg)?;
    let fraction = (half_deg - pair[0].1) / (pair[1].1 - pair[0].1);
    Some(pair[0].0 + fraction * (pair[1].0 - pair[0].0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_plain_is_held_against_the_job() {
        use Pattern::{Flat, KickUp, Step};
        for (kick_deg, level_deg, stated, expected) in [
            (15.0, 0.5, Some(KickUp), None),
            (15.0, 0.5, None, None),
            (15.0, 0.5, Some(Flat), Some(Odd::Pattern(KickUp))),
            (6.0, 0.2, Some(Flat), None),
            (0.5, 0.55, Some(KickUp), Some(Odd::Pattern(Step))),
            (0.5, 0.2, Some(Flat), None),
            (0.5, 0.02, Some(Step), Some(Odd::Pattern(Flat))),
            (0.5, -0.25, Some(Flat), None),
            (-0.5, -0.55, None, Some(Odd::Falls)),
        ] {
            assert_eq!(
                odd(kick_deg, level_deg, stated),
                expected,
                "{kick_deg} {level_deg} {stated:?}"
            );
        }
    }
}
