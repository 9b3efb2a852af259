//! Edges on made walls, read alone and together. Edge, wall and noise are made here, and share nothing with the model that reads
//! them: tanh edges in log light, a wall of random waves, noise that grows in the dark.

use super::super::edge::{Edge, Fade, Samples};
use super::*;
use crate::record::Side;
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;

/// A wall's ln reflectance: waves of random length, phase and size.
struct MadeWall(Vec<[f64; 3]>);

impl MadeWall {
    fn draw(sd: f64, rng: &mut ChaCha8Rng) -> Self {
        const WAVES: usize = 40;
        let wave = |rng: &mut ChaCha8Rng| {
            let length_deg = (rng.random_range(0.06f64.ln()..1.2f64.ln())).exp();
            [
                length_deg,
                rng.random_range(0.0..std::f64::consts::TAU),
                rng.sample::<f64, _>(StandardNormal),
            ]
        };
        let waves: Vec<[f64; 3]> = (0..WAVES).map(|_| wave(rng)).collect();
        Self(
            waves
                .into_iter()
                .map(|[l, p, a]| [l, p, sd * a * (2.0 / WAVES as f64).sqrt()])
                .collect(),
        )
    }

    fn ln_at(&self, beta_deg: f64) -> f64 {
        let waves = self.0.iter();
        waves
            .map(|[length, phase, size]| size * (std::f64::consts::TAU * beta_deg / length + phase).sin())
            .sum()
    }
}

/// ln light of a lamp whose edge is 1.4 decades high.
fn lamp_ln(from_edge_deg: f64) -> f64 {
    -2.3 - 1.6 * (from_edge_deg / 0.22).tanh() + 0.1 * from_edge_deg.min(0.0)
}

/// A photo of the lamp at `edge_deg`, read alone.
fn photo(edge_deg: f64, wall: &MadeWall, noise: f64, rng: &mut ChaCha8Rng) -> CutOff {
    let beta_deg: Vec<f64> = (0..=160)
        .map(|n| (edge_deg / 0.02).round() * 0.02 - 1.6 + 0.02 * f64::from(n))
        .collect();
    let ln_light: Vec<f64> = beta_deg
        .iter()
        .map(|&beta| {
            let ln = lamp_ln(beta - edge_deg) + wall.ln_at(beta);
            let sd = noise.hypot(2e-4 / ln.exp());
            ln + sd * rng.sample::<f64, _>(StandardNormal)
        })
        .collect();
    let samples = Samples {
        face: None,
        sd: vec![0.03; beta_deg.len()],
        clipped: vec![false; beta_deg.len()],
        beta_deg,
        ln_light,
    };
    let edges: Vec<Edge> = [Fade::Logistic, Fade::Normal]
        .into_iter()
        .filter_map(|fade| Edge::fit(&samples, fade, edge_deg))
        .collect();
    let inflection_deg = edges[0].inflection_deg;
    CutOff {
        y_mm: place().y_at_mm(inflection_deg),
        scatter_sd_mm: 3.0,
        profile: Some(EdgeProfile::of(&samples, edges.iter(), inflection_deg, 0.02)),
        ..CutOff::made()
    }
}

fn lamp() -> Lamp {
    Lamp::of(Side::Left, 650.0, 0.0, 10_000.0)
}

fn place() -> LampPlace {
    LampPlace::new(&lamp(), 1.0)
}

/// Errors of the steps from photo to photo, mm.
fn step_errors_mm(cutoffs: &[CutOff], edges_deg: &[f64]) -> Vec<f64> {
    let truth: Vec<f64> = edges_deg.iter().map(|&edge| place().y_at_mm(edge)).collect();
    (1..cutoffs.len())
        .map(|n| cutoffs[n].y_mm - cutoffs[n - 1].y_mm - (truth[n] - truth[n - 1]))
        .collect()
}

/// One standard deviation of a step as the photos read together have it, mm.
fn step_sd_mm(a: &CutOff, b: &CutOff) -> f64 {
    let (a, b) = (a.shared.as_ref().unwrap(), b.shared.as_ref().unwrap());
    let apart: f64 = a
        .effects_mm
        .iter()
        .zip(&b.effects_mm)
        .map(|(a, b)| (a - b).powi(2))
        .sum();
    (apart + a.own_sd_mm.powi(2) + b.own_sd_mm.powi(2)).sqrt()
}

#[test]
fn together_the_wall_no_longer_moves_the_steps_and_intervals_hold() {
    let mut rng = ChaCha8Rng::seed_from_u64(20);
    let (mut alone, mut joint, mut held, mut count) = (0.0, 0.0, 0, 0);
    for _ in 0..16 {
        let wall = MadeWall::draw(0.04, &mut rng);
        let edges_deg: Vec<f64> = (0..4)
            .map(|n| -0.3 - rng.random_range(0.1..0.3) * f64::from(n))
            .collect();
        let mut cutoffs: Vec<CutOff> = edges_deg
            .iter()
            .map(|&edge| photo(edge, &wall, 0.003, &mut rng))
            .collect();
        alone += step_errors_mm(&cutoffs, &edges_deg).iter().map(|e| e * e).sum::<f64>();
        read_together(&mut cutoffs.iter_mut().collect::<Vec<_>>(), &lamp(), Traffic::Right, 0);
        for (n, error) in step_errors_mm(&cutoffs, &edges_deg).into_iter().enumerate() {
            joint += error * error;
            held += usize::from(error.abs() < 1.96 * step_sd_mm(&cutoffs[n], &cutoffs[n + 1]));
            count += 1;
        }
    }
    let (alone, joint) = ((alone / f64::from(count)).sqrt(), (joint / f64::from(count)).sqrt());
    assert!(joint < 0.6 * alone, "{joint} mm together, {alone} mm alone");
    // Of 48 steps 95 % is 45.6, less four standard deviations.
    assert!(held >= 40, "{held} of {count} hold");
}

#[test]
fn a_beam_that_stands_still_stands_still_though_the_wall_is_uneven() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let wall = MadeWall::draw(0.06, &mut rng);
    let mut cutoffs: Vec<CutOff> = (0..3).map(|_| photo(-0.5, &wall, 0.003, &mut rng)).collect();
    read_together(&mut cutoffs.iter_mut().collect::<Vec<_>>(), &lamp(), Traffic::Right, 0);
    for n in 1..3 {
        let sd = step_sd_mm(&cutoffs[n - 1], &cutoffs[n]);
        // 1 mm at 10 m is a hundredth of a per cent.
        assert!(sd < 1.0, "{sd}");
        assert!((cutoffs[n].y_mm - cutoffs[n - 1].y_mm).abs() < 4.0 * sd);
    }
}

#[test]
fn what_is_apart_and_what_is_shared_add_up() {
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    let wall = MadeWall::draw(0.03, &mut rng);
    let edges_deg = [-0.3, -0.5, -0.9];
    let mut cutoffs: Vec<CutOff> = edges_deg
        .iter()
        .map(|&edge| photo(edge, &wall, 0.003, &mut rng))
        .collect();
    read_together(&mut cutoffs.iter_mut().collect::<Vec<_>>(), &lamp(), Traffic::Right, 2);
    for cutoff in &cutoffs {
        let shared = cutoff.shared.as_ref().unwrap();
        assert_eq!(
            shared.effects_mm[..2],
            [0.0, 0.0],
            "the sources of another stage come first"
        );
        let by_sources: f64 = shared.effects_mm.iter().map(|e| e * e).sum::<f64>() + shared.own_sd_mm.powi(2);
        let by_parts = cutoff.scatter_sd_mm.powi(2) + shared.alike_sd_mm.powi(2);
        // mm for a degree differ between photos, and what is alike is so in degrees.
        assert!((by_sources / by_parts - 1.0).abs() < 1e-3, "{by_sources} {by_parts}");
    }
}

#[test]
fn a_photo_alone_and_photos_without_profiles_stay_as_they_are() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let wall = MadeWall::draw(0.03, &mut rng);
    let mut one = photo(-0.4, &wall, 0.003, &mut rng);
    let (before, mut bare) = (one.clone(), CutOff::made());
    read_together(&mut [&mut one, &mut bare], &lamp(), Traffic::Right, 0);
    assert_eq!((one, bare), (before, CutOff::made()));
}

#[test]
fn a_photo_that_does_not_belong_keeps_its_own_reading() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let wall = MadeWall::draw(0.02, &mut rng);
    let mut cutoffs: Vec<CutOff> = [-0.3, -0.5, -0.7]
        .iter()
        .map(|&edge| photo(edge, &wall, 0.003, &mut rng))
        .collect();
    // Its own reading says something else than its light.
    let profile = cutoffs[1].profile.as_mut().unwrap();
    profile.inflection_deg += 0.4;
    let before = cutoffs[1].clone();
    read_together(&mut cutoffs.iter_mut().collect::<Vec<_>>(), &lamp(), Traffic::Right, 0);
    assert_eq!(cutoffs[1], before);
    assert!(cutoffs[0].shared.is_some() && cutoffs[2].shared.is_some());
}
