//! The elbow, and what the edge does beyond it: rises (kick-up), steps up, or runs on flat.

use super::profile::{self, Lens, Window};
use super::{Elbow, STRIP_DEG, grid, median, strongest_fall};
use crate::photo::Photo;
use crate::record::Pattern;
use crate::wall::View;

/// The shape beside the flat part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Found {
    pub pattern: Pattern,
    pub elbow: Option<Elbow>,
}

/// Beyond V-V the edge is followed this far, degrees, and at least this much of it must be seen to speak of a shape.
const BEYOND_DEG: f64 = 4.0;
const LEAST_STRIPS: usize = 5;
/// An edge that stays this near to the flat line is flat, degrees.
const FLAT_WITHIN_DEG: f64 = 0.12;
/// A rise steeper than this is a kick-up; less, with an offset, a step. UN R112's kick-up is 15°.
const LEAST_KICK_DEG: f64 = 5.0;

/// Follows the edge beyond V-V. `flat_deg` and `slope` are the flat line's β at the reading scan and its slope there.
/// `pattern` from the job decides the shape where it is given.
#[allow(clippy::too_many_arguments)]
pub(super) fn find(
    photo: &Photo,
    view: &View,
    lens: Lens,
    window: Window,
    floor: f64,
    flat_deg: f64,
    slope: f64,
    pattern: Option<Pattern>,
) -> Found {
    let flat = Found {
        pattern: Pattern::Flat,
        elbow: None,
    };
    if pattern == Some(Pattern::Flat) {
        return flat;
    }
    // Heights over the flat line, strip by strip, from the flat side across V-V.
    let mut rises: Vec<(f64, f64)> = Vec::new();
    let mut previous_deg = 0.0;
    let count = ((BEYOND_DEG + 1.0) / STRIP_DEG) as usize;
    for n in 0..count {
        let middle_deg = 1.0 - STRIP_DEG * (n as f64 + 0.5);
        let angles_deg = grid(middle_deg - 0.5 * STRIP_DEG, middle_deg + 0.5 * STRIP_DEG, 0.05);
        let columns = profile::columns(photo, view, lens, window, &angles_deg, floor);
        let strip = profile::pool(&columns.iter().collect::<Vec<_>>(), window, 0.0, middle_deg);
        let line_deg = flat_deg + slope * (middle_deg - super::READING_SCAN_DEG);
        // The edge does not jump by more than a step's height from one strip to the next.
        let near_deg = line_deg + previous_deg;
        if let Some((beta_deg, fall)) = strongest_fall(&strip, Some((near_deg - 0.4, near_deg + 0.9)))
            && fall > super::LEAST_STEP_DECADES
        {
            previous_deg = beta_deg - line_deg;
            rises.push((middle_deg, previous_deg));
        }
    }
    let beyond: Vec<(f64, f64)> = rises.iter().copied().filter(|r| r.0 < -0.5).collect();
    if beyond.len() < LEAST_STRIPS {
        // Too little is seen to contradict the job; without a job's word, say flat only if it looks so.
        return pattern.map_or(flat, |p| Found {
            pattern: p,
            elbow: None,
        });
    }
    let mut slopes = Vec::new();
    for (n, a) in beyond.iter().enumerate() {
        slopes.extend(beyond[n + 1..].iter().map(|b| (b.1 - a.1) / (a.0 - b.0)));
    }
    let rise = median(&mut slopes);
    let kick_deg = rise.atan().to_degrees();
    let mut offsets: Vec<f64> = beyond.iter().map(|r| r.1 + rise * r.0).collect();
    let offset_deg = median(&mut offsets);
    let mut levels: Vec<f64> = beyond.iter().map(|r| r.1).collect();
    let level_deg = median(&mut levels);
    let shape = pattern.unwrap_or(if kick_deg >= LEAST_KICK_DEG {
        Pattern::KickUp
    } else if level_deg > FLAT_WITHIN_DEG {
        Pattern::Step
    } else {
        Pattern::Flat
    });
    let elbow_angle_deg = match shape {
        Pattern::Flat => return flat,
        Pattern::KickUp if rise > 0.02 => Some(offset_deg / rise),
        Pattern::KickUp => None,
        // The middle of the step: where the edge is half-way up.
        Pattern::Step => rises
            .windows(2)
            .find(|pair| pair[0].1 < 0.5 * level_deg && pair[1].1 >= 0.5 * level_deg)
            .map(|pair| {
                let fraction = (0.5 * level_deg - pair[0].1) / (pair[1].1 - pair[0].1);
                pair[0].0 + fraction * (pair[1].0 - pair[0].0)
            }),
    };
    let elbow = elbow_angle_deg.filter(|a| a.abs() < BEYOND_DEG).map(|angle_deg| Elbow {
        x_mm: lens.x_at_mm(angle_deg),
        kick_deg: if shape == Pattern::KickUp { kick_deg } else { 0.0 },
    });
    Found { pattern: shape, elbow }
}
