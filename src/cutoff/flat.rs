//! The flat part of the cut-off, strip by strip: where it is, roughly and then by the pooled edge, and how bent.

use super::edge::{Edge, LEAST_SAMPLES, Samples};
use super::line::Line;
use super::quality::{LEAST_STEP_DECADES, no_cutoff};
use super::scan::{Column, LEAST_LOG_LIGHT, Profile, STEP_NEAR_DEG, Window, pool};
use super::{FLAT_FROM_DEG, FLAT_TO_DEG, LINEARITY_SCANS_DEG, READING_SCAN_DEG, STRIP_DEG, median};
use crate::language::said;
use crate::refusal::{Reason, Refusal};
use image::{GrayImage, Luma};
use rayon::prelude::*;

/// Strips, of twelve, that a line is sought in (our choice, no source).
const LEAST_STRIPS: usize = 5;
/// How near an edge is looked for to where somebody saw it, degrees, the nearest first: a finger on a phone's picture of a wall is
/// within the first, and an edge further off than the last is not the one that was meant (our choice, no source).
pub(super) const NEAR_HAND_DEG: [f64; 3] = [0.3, 0.6, 1.0];
/// Above and below the lit region's upper edge the cut-off is looked for so far, degrees (our choice, no source).
const ABOUT_LIT_DEG: f64 = 2.0;

/// A strip's inflection as seen from the lamp.
#[derive(Debug, Clone, Copy)]
pub(super) struct StripPoint {
    pub angle_deg: f64,
    pub beta_deg: f64,
    pub used: bool,
}

/// Angle and β, degrees, of the strips that are used.
pub(super) fn used_points(strips: &[StripPoint]) -> Vec<(f64, f64)> {
    let used = strips.iter().filter(|s| s.used);
    used.map(|s| (s.angle_deg, s.beta_deg)).collect()
}

/// The columns by strips: each strip's middle angle and its columns.
fn strip_columns(columns: &[Column]) -> Vec<(f64, Vec<&Column>)> {
    let count = ((FLAT_TO_DEG - FLAT_FROM_DEG) / STRIP_DEG).round() as usize;
    (0..count)
        .map(|n| {
            let from = FLAT_FROM_DEG + STRIP_DEG * n as f64;
            let inside = columns
                .iter()
                .filter(|c| (from - 1e-9..from + STRIP_DEG + 1e-9).contains(&c.angle_deg))
                .collect();
            (from + 0.5 * STRIP_DEG, inside)
        })
        .collect()
}

/// Where to look: the lit region by a threshold on log light, then each strip's strongest fall near its upper edge,
/// and the line that most of them share.
pub(super) fn rough_line(columns: &[Column], window: Window) -> Result<Line, Refusal> {
    let strips: Vec<(f64, Profile)> = strip_columns(columns)
        .into_iter()
        .map(|(angle_deg, inside)| (angle_deg, pool(&inside, window, 0.0, angle_deg)))
        .collect();
    let falls_within = |bounds: Option<(f64, f64)>| -> Vec<(f64, f64)> {
        strips
            .iter()
            .filter_map(|(angle_deg, profile)| {
                let (beta_deg, step) = profile.strongest_fall(bounds)?;
                (step > LEAST_STEP_DECADES).then_some((*angle_deg, beta_deg))
            })
            .collect()
    };
    let mut points =
        falls_within(lit_bounds(&strips, window).map(|top_deg| (top_deg - ABOUT_LIT_DEG, top_deg + ABOUT_LIT_DEG)));
    if points.len() < LEAST_STRIPS {
        // A threshold can be led astray by a bright floor or lamp; then the whole scan is looked through.
        points = falls_within(None);
    }
    if points.len() < LEAST_STRIPS {
        return Err(soft_edge(&strips).unwrap_or_else(no_cutoff));
    }
    Ok(Line::shared_by_most(&points))
}

/// The line of the edge that lies nearest to where somebody saw it, `near_deg` on the reading scan: the first distance within which
/// enough strips fall as far as at a cut-off. `None` where nothing does within [`NEAR_HAND_DEG`].
pub(super) fn rough_line_near(columns: &[Column], window: Window, near_deg: f64) -> Option<Line> {
    let strips: Vec<(f64, Profile)> = strip_columns(columns)
        .into_iter()
        .map(|(angle_deg, inside)| (angle_deg, pool(&inside, window, 0.0, angle_deg)))
        .collect();
    NEAR_HAND_DEG.into_iter().find_map(|within_deg| {
        let bounds = Some((near_deg - within_deg, near_deg + within_deg));
        let falls = strips.iter().filter_map(|(angle_deg, profile)| {
            let (beta_deg, step) = profile.strongest_fall(bounds)?;
            (step > LEAST_STEP_DECADES).then_some((*angle_deg, beta_deg))
        });
        let points: Vec<(f64, f64)> = falls.collect();
        (points.len() >= LEAST_STRIPS).then(|| Line::shared_by_most(&points))
    })
}

/// The refusal of an edge that falls as far as a cut-off does, but so slowly that no steep place is found in it.
fn soft_edge(strips: &[(f64, Profile)]) -> Option<Refusal> {
    /// Means of log light over so much above and below a place are compared, degrees.
    const REACH_DEG: f64 = 1.5;
    /// Lamps fall by more (our choice, no source).
    const LEAST_FALL_DECADES: f64 = 0.5;
    let mut falls: Vec<f64> = strips
        .iter()
        .filter_map(|(_, profile)| {
            profile
                .falls_over(STEP_NEAR_DEG, REACH_DEG)
                .into_iter()
                .filter(|f| f.is_finite())
                .max_by(f64::total_cmp)
        })
        .collect();
    let fall = median(&mut falls);
    (fall > LEAST_FALL_DECADES).then(|| {
        Refusal::new(Reason::CutoffUnsharp, |language| said!(
                language;
                "the light fades by {fall} decades over three degrees, without a place that could be called an edge; clean the lens, check the bulb's \
                 seat, and move the car to 7.5 to 10 m from the wall",
                "das Licht nimmt über drei Grad um {fall} Dekaden ab, ohne eine Stelle, die eine Kante zu nennen wäre; die \
                 Streuscheibe reinigen, den Sitz der Lampe prüfen und das Fahrzeug 7,5 bis 10 m vor die Wand stellen";
                fall = language.decimal(fall, 1)
            ))
    })
}

/// Upper edge of the lit region, degrees: Otsu's threshold on the strips' log light, the median over the strips. Only a
/// stretch of lit wall counts, not a speck of noise.
fn lit_bounds(strips: &[(f64, Profile)], window: Window) -> Option<f64> {
    /// Steps of a stretch, 0.3°, and the range of ln light below which there is nothing lit (our choice, no source).
    const STRETCH: usize = 15;
    const LEAST_RANGE: f64 = 0.5;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for &light in strips.iter().flat_map(|s| &s.1.light).filter(|v| v.is_finite()) {
        let ln = light.max(LEAST_LOG_LIGHT).ln();
        low = low.min(ln);
        high = high.max(ln);
    }
    if !(high - low).is_finite() || high - low < LEAST_RANGE {
        return None;
    }
    let code = |light: f64| {
        if light.is_finite() {
            (255.0 * (light.max(LEAST_LOG_LIGHT).ln() - low) / (high - low)) as u8
        } else {
            0
        }
    };
    let picture = GrayImage::from_fn(strips.len() as u32, window.count as u32, |x, y| {
        Luma([code(strips[x as usize].1.light[y as usize])])
    });
    let level = imageproc::contrast::otsu_level(&picture);
    let mut tops: Vec<f64> = strips
        .iter()
        .filter_map(|(_, profile)| {
            let lit: Vec<bool> = profile.light.iter().map(|&v| code(v) > level).collect();
            (STRETCH..lit.len())
                .rev()
                .find(|&n| lit[n - STRETCH..=n].iter().all(|&l| l))
                .map(|n| window.at_deg(n))
        })
        .collect();
    (!tops.is_empty()).then(|| median(&mut tops))
}

/// Each strip's inflection: the pooled edge shifted to the strip's own light. Strips that a mark or a pipe throws off
/// the others' line are kept but not used.
pub(super) fn strips(columns: &[Column], window: Window, slope: f64, edge: &Edge) -> Vec<StripPoint> {
    /// A strip so many standard deviations off the line is thrown off, by the median's scale (1.4826 times the median
    /// distance is a normal distribution's standard deviation), and never one nearer than the second (our choice, no source).
    const OFF_SDS: f64 = 4.0;
    const LEAST_OFF_DEG: f64 = 0.06;
    let mut strips: Vec<StripPoint> = strip_columns(columns)
        .into_par_iter()
        .filter_map(|(angle_deg, inside)| {
            let expected_deg = slope * (angle_deg - READING_SCAN_DEG);
            // Pooling at the strip's own middle and moving it by the expected slope brings it onto the pooled edge.
            let mut profile = pool(&inside, window, slope, angle_deg);
            for beta in &mut profile.beta_deg {
                *beta -= expected_deg;
            }
            let samples = Samples::of(&profile, edge.inflection_deg, edge.face());
            if samples.beta_deg.len() < LEAST_SAMPLES {
                return None;
            }
            let shift_deg = edge.shift_deg(&samples)?;
            Some(StripPoint {
                angle_deg,
                beta_deg: edge.inflection_deg + shift_deg + expected_deg,
                used: true,
            })
        })
        .collect();
    for _ in 0..3 {
        let used = used_points(&strips);
        if used.len() < LEAST_STRIPS {
            break;
        }
        let line = Line::of_least_squares(&used);
        let mut distances: Vec<f64> = used.iter().map(|p| (p.1 - line.at_deg(p.0)).abs()).collect();
        let limit_deg = (OFF_SDS * 1.4826 * median(&mut distances)).max(LEAST_OFF_DEG);
        for strip in &mut strips {
            strip.used = (strip.beta_deg - line.at_deg(strip.angle_deg)).abs() <= limit_deg;
        }
    }
    strips
}

/// Largest difference between the inflections at 1.5°, 2.5° and 3.5° (UN R112), from the strips' smooth curve, with the
/// flat part's own tilt taken out: the lamp on its stand is levelled first.
pub(super) fn linearity_deg(strips: &[StripPoint]) -> f64 {
    let used = used_points(strips);
    let line = Line::of_least_squares(&used);
    // The line leaves a bend; its size at the three scans by least squares on the centred square.
    let mean_square = used.iter().map(|p| (p.0 - READING_SCAN_DEG).powi(2)).sum::<f64>() / used.len().max(1) as f64;
    let (mut top, mut bottom) = (0.0, 0.0);
    for (angle_deg, beta_deg) in used {
        let square = (angle_deg - READING_SCAN_DEG).powi(2) - mean_square;
        top += square * (beta_deg - line.at_deg(angle_deg));
        bottom += square * square;
    }
    let bend = if bottom > 0.0 { top / bottom } else { 0.0 };
    LINEARITY_SCANS_DEG
        .iter()
        .map(|scan| (bend * (scan - READING_SCAN_DEG).powi(2)).abs())
        .fold(0.0, f64::max)
}
