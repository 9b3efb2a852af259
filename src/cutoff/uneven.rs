//! Bands of a lamp's own that run along its cut-off: how far they may carry the inflection.
//!
//! A soft edge falls nearly as steeply over a stretch of tenths of a degree, and a band of one per cent decides where in it the
//! steepest place is, by definition. The edge's model knows no bands. What they do is taken from what the model leaves of the light,
//! as far as it is alike all along the edge (the wall's texture and noise are not): had the same bands lain a little higher or lower,
//! the inflection would have been elsewhere by so much (block bootstrap; H. R. Künsch, *Annals of Statistics* 17 (1989) 1217).

use super::edge::{Edge, inflection};
use super::line::Line;
use super::scan::{Column, Window, pool};
use super::{READING_SCAN_DEG, STRIP_DEG, median};

/// What is looked at above and below the edge, degrees; and in stretches of what length (our choice, no source).
const REACH_DEG: f64 = 1.0;
const STRETCH_DEG: f64 = 0.08;
/// Strips at the least (our choice, no source).
const LEAST_STRIPS: usize = 4;
/// What lies further off than so many times the middle is a joint's or a wire's, which the fit leaves out too (our choice, no
/// source).
const MOST_OF_MIDDLE: f64 = 4.0;

/// What the model leaves of ln light on each stretch, each strip's level and slope taken out; NaN where it is not known.
fn left_over(columns: &[&Column], window: Window, slope: f64, edge: &Edge) -> Vec<f64> {
    let profile = pool(columns, window, slope, READING_SCAN_DEG);
    let count = (2.0 * REACH_DEG / STRETCH_DEG).round() as usize;
    let mut sums = vec![(0.0, 0.0); count];
    for ((&beta_deg, &light), &clipped) in profile.beta_deg.iter().zip(&profile.light).zip(&profile.clipped) {
        let at = (beta_deg - edge.inflection_deg + REACH_DEG) / STRETCH_DEG;
        if light > 0.0 && !clipped && at >= 0.0 && (at as usize) < count {
            let (sum, number) = &mut sums[at as usize];
            *sum += (light / edge.light(beta_deg)).ln();
            *number += 1.0;
        }
    }
    let means: Vec<f64> = sums.into_iter().map(|(sum, number)| sum / number).collect();
    let known = means.iter().enumerate().filter(|(_, mean)| mean.is_finite());
    let points: Vec<(f64, f64)> = known.map(|(n, &mean)| (n as f64, mean)).collect();
    if points.len() < count / 2 {
        return vec![f64::NAN; count];
    }
    let line = Line::of_least_squares(&points);
    means
        .iter()
        .enumerate()
        .map(|(n, mean)| mean - line.at_deg(n as f64))
        .collect()
}

/// The bands that all strips have in common, ln light on each stretch, as large as they are beside what differs from strip to strip;
/// `None` where there are none.
fn bands(strips: &[Vec<f64>]) -> Option<Vec<f64>> {
    let count = strips.iter().map(Vec::len).min()?;
    let number = strips.len() as f64;
    if strips.len() < LEAST_STRIPS {
        return None;
    }
    let (mut means, mut noise) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for n in 0..count {
        let mean = strips.iter().map(|strip| strip[n]).sum::<f64>() / number;
        let variance = strips.iter().map(|strip| (strip[n] - mean).powi(2)).sum::<f64>() / (number - 1.0);
        means.push(mean);
        noise.push(variance / number);
    }
    let mut sizes: Vec<f64> = means
        .iter()
        .map(|mean| mean.abs())
        .filter(|size| size.is_finite())
        .collect();
    let most = MOST_OF_MIDDLE * median(&mut sizes);
    let counts = |n: &usize| means[*n].abs() <= most;
    let known: Vec<usize> = (0..count).filter(counts).collect();
    let square = known.iter().map(|&n| means[n] * means[n]).sum::<f64>();
    let by_noise = known.iter().map(|&n| noise[n]).sum::<f64>();
    let share = ((square - by_noise) / square).max(0.0).sqrt();
    let of = |n: usize| if counts(&n) { share * means[n] } else { 0.0 };
    (share > 0.0).then(|| (0..count).map(of).collect())
}

/// Edges as sharp as this, G, and sharper do not show them: there the model's own uncertainty holds what it leaves. From the first to
/// the second, where approval begins (UN R112), they count in part, so that nothing jumps (our choice, no source).
const SHARP_G: [f64; 2] = [0.16, 0.13];

/// One standard deviation of an edge's inflection by the lamp's own bands, degrees.
pub(super) fn sd_deg(columns: &[Column], window: Window, slope: f64, edge: &Edge) -> f64 {
    let share = ((SHARP_G[0] - edge.sharpness_g) / (SHARP_G[0] - SHARP_G[1])).clamp(0.0, 1.0);
    if share == 0.0 {
        return 0.0;
    }
    let pooled: Vec<&Column> = columns.iter().filter(|column| column.is_pooled()).collect();
    let in_strip = |column: &&Column, n: usize| ((column.angle_deg - READING_SCAN_DEG + 1.0) / STRIP_DEG) as usize == n;
    let strips: Vec<Vec<f64>> = (0..(2.0 / STRIP_DEG) as usize)
        .map(|n| {
            pooled
                .iter()
                .copied()
                .filter(|column| in_strip(column, n))
                .collect::<Vec<_>>()
        })
        .map(|of_strip| left_over(&of_strip, window, slope, edge))
        .collect();
    share * bands(&strips).map_or(0.0, |bands| moved_sd_deg(edge, &bands))
}

/// How far an inflection moves with such bands on its edge, wherever they lie, one standard deviation, degrees.
fn moved_sd_deg(edge: &Edge, bands: &[f64]) -> f64 {
    /// How many places of the bands are tried.
    const PLACES: usize = 8;
    /// By how many stretches the bands are smoothed, one standard deviation: no more than makes them a smooth curve.
    const SMOOTH_STRETCHES: f64 = 0.7;
    let count = bands.len();
    let light_with = |by: usize| {
        move |beta_deg: f64| {
            let at = (beta_deg - edge.inflection_deg + REACH_DEG) / STRETCH_DEG - 0.5;
            let (mut sum, mut weights) = (0.0, 0.0);
            // Beyond three stretches a place has no part in it.
            for n in (at.floor() as i64 - 3)..=(at.floor() as i64 + 4) {
                let weight = (-0.5 * ((at - n as f64) / SMOOTH_STRETCHES).powi(2)).exp();
                sum += weight * bands[(n + by as i64).rem_euclid(count as i64) as usize];
                weights += weight;
            }
            edge.light(beta_deg).ln() + sum / weights
        }
    };
    let moved = (1..=PLACES).filter_map(|k| inflection(light_with(k * count / (PLACES + 1)), edge.inflection_deg));
    let moved: Vec<f64> = moved.map(|at_deg| (at_deg - edge.inflection_deg).powi(2)).collect();
    (moved.iter().sum::<f64>() / moved.len().max(1) as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cutoff::edge::{Fade, Samples};

    /// An edge of a logistic curve so wide.
    fn edge(width_deg: f64) -> Edge {
        let beta_deg: Vec<f64> = (0..160).map(|n| -1.6 + 0.02 * f64::from(n)).collect();
        let samples = Samples {
            ln_light: beta_deg.iter().map(|b| -4.0 / (1.0 + (-b / width_deg).exp())).collect(),
            sd: vec![0.03; beta_deg.len()],
            clipped: vec![false; beta_deg.len()],
            face: None,
            beta_deg,
        };
        Edge::fit(&samples, Fade::Logistic, 0.0).unwrap()
    }

    #[test]
    fn bands_move_a_soft_edge_far_and_a_sharp_one_hardly() {
        let bands: Vec<f64> = (0..25)
            .map(|n| 0.01 * (std::f64::consts::TAU * f64::from(n) / 10.0).sin())
            .collect();
        let [sharp, soft] = [0.15, 0.45].map(|width_deg| moved_sd_deg(&edge(width_deg), &bands));
        assert!(sharp < 0.02 && soft > 0.06, "{sharp} {soft}");
    }

    #[test]
    fn only_what_all_strips_share_are_bands() {
        let band = |n: usize| 0.01 * (n as f64 * 0.8).sin();
        let own = |s: usize, n: usize| 0.02 * ((n * (s + 2)) as f64 * 1.7).sin();
        let strips = |band: &dyn Fn(usize) -> f64| -> Vec<Vec<f64>> {
            (0..8).map(|s| (0..25).map(|n| band(n) + own(s, n)).collect()).collect()
        };
        let size =
            |found: Option<Vec<f64>>| found.map_or(0.0, |b| (b.iter().map(|v| v * v).sum::<f64>() / 25.0).sqrt());
        let with = size(bands(&strips(&band)));
        assert!((0.004..0.010).contains(&with), "of 0.007: {with}");
        assert!(size(bands(&strips(&|_| 0.0))) < 0.004);
    }
}
