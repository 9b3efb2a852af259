//! Noise that was cut off at black: a dark place whose noise would go below nothing comes out brighter than it is.
//!
//! Many cameras smooth before they cut off, or keep black above zero, so that this is the most it can be: it widens the
//! interval, and the light is left as it is.

use super::READING_SCAN_DEG;
use super::scan::{Scans, steps};
use crate::photo::mean_before_black;

/// Where the dark is looked at, above the edge and to either side of the reading scan, degrees (our choice, no source).
const ABOVE_DEG: [f64; 2] = [0.4, 1.4];
const ASIDE_DEG: f64 = 1.0;
const SPACING_DEG: f64 = 0.04;
/// Pixels that are compared lie so many apart: beyond what interpolating the colours joins (our choice, no source).
const APART_PX: usize = 3;
/// Fewer pairs tell no scatter.
const LEAST_PAIRS: usize = 100;

/// By how much, at the most, noise lifted the dark above an edge at `edge_deg`, linear light; 0 where too little of it is seen.
pub(super) fn lift(scans: &Scans<'_>, edge_deg: f64) -> f64 {
    let angles_deg = steps(READING_SCAN_DEG - ASIDE_DEG, READING_SCAN_DEG + ASIDE_DEG, SPACING_DEG);
    let heights_deg = steps(edge_deg + ABOVE_DEG[0], edge_deg + ABOVE_DEG[1], SPACING_DEG);
    let pixels = &scans.photo.pixels;
    let [width_px, height_px] = pixels.size_px();
    let pair = |angle_deg: f64, beta_deg: f64| {
        let wall_mm = [scans.lamp.x_at_mm(angle_deg), scans.lamp.y_at_mm(beta_deg)];
        if scans.view.hidden(wall_mm) {
            return None;
        }
        let [x_px, y_px] = scans.view.to_photo(wall_mm)?;
        let inside =
            (0.0..(width_px - APART_PX) as f64 - 1.0).contains(&x_px) && (0.0..height_px as f64 - 1.0).contains(&y_px);
        let (x, y) = (x_px.round() as usize, y_px.round() as usize);
        inside.then(|| [x, x + APART_PX].map(|x| f64::from(pixels.light(x, y))))
    };
    let pairs: Vec<[f64; 2]> = angles_deg
        .iter()
        .flat_map(|&angle_deg| {
            heights_deg
                .iter()
                .filter_map(move |&beta_deg| pair(angle_deg, beta_deg))
        })
        .collect();
    if pairs.len() < LEAST_PAIRS {
        return 0.0;
    }
    let count = pairs.len() as f64;
    let mean = pairs.iter().map(|[a, b]| 0.5 * (a + b)).sum::<f64>() / count;
    let sd = (pairs.iter().map(|[a, b]| (a - b).powi(2)).sum::<f64>() / (2.0 * count)).sqrt();
    mean - mean_before_black(mean, sd).max(0.0)
}
