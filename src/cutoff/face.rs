//! A lamp is no point: each part of its lens or reflector throws the whole pattern from where it is, so that on a near wall the
//! patterns of all parts lie side by side, a face's height apart, and on a far one they fall together.
//!
//! The light at height β of a wall at distance D is E(β) = ∫ w(v) I(β − v/D) dv, with v the height of a part of the face over the
//! lamp's centre, w how much of the face lies there, and I what each part throws (derived here; that all parts of a round, evenly
//! bright face throw the same: our choice, no source; a lens whose parts are aimed at each other is smeared less). Since the dark
//! side is a hundredth of the bright one, the steepest place of log E climbs towards where the highest part throws its edge: the
//! aim of a near lamp is read too high.

use super::edge::Edge;
use crate::record::Lamp;
use serde::{Deserialize, Serialize};

/// From here UN R112's measuring screen is seen, mm: what an aim is carried over to where the face is known.
const SCREEN_MM: f64 = 25_000.0;
/// On a wall nearer than this a lamp must not be taken for a point, mm; from here on an aim is what a check from there takes it for
/// (common practice, no source: aiming screens stand at 7.5 m, at 25 ft, which is 7.62 m, or at 10 m).
pub(crate) const NEAR_MM: f64 = 7_500.0;
/// Nearer than this an aim is held against the measuring screen alone, mm. Between the two it passes over from the one to the other, so
/// that a hand's breadth of distance does not change what a figure is worth (our choice, no source).
const WHOLLY_NEAR_MM: f64 = 7_000.0;
/// As sharp as an edge is taken to be as each part throws it, where the face is not known (our choice, no source: UN R112 allows 0.13
/// to 0.40).
const USUAL_SHARPNESS_G: f64 = 0.3;
/// Where the job gives none, a face is anything up to this high, all alike likely, mm (from memory: what throws the dipped
/// beam of cars' reflectors, whole or the upper half).
const LARGEST_FACE_MM: f64 = 150.0;
/// What of the climb is left unsure where the face's height is known, one standard deviation: its parts are neither alike nor
/// alike bright (our choice, no source).
const CLIMB_SD: f64 = 0.15;

/// How high a lamp's face is, as an angle at the place that it lights, degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Face {
    at_wall_deg: f64,
    at_screen_deg: f64,
}

/// How much higher a cut-off lies on the wall, since the lamp is no point, than its aim on the measuring screen.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct Climb {
    /// So much, mm on the wall.
    pub climb_mm: f64,
    /// One standard deviation of it, mm.
    pub sd_mm: f64,
}

impl Face {
    /// Of a lamp whose face the job gives, where that is no point.
    pub fn of(lamp: &Lamp) -> Option<Self> {
        let face_mm = lamp.face_height_mm.filter(|&mm| mm > 0.0)?;
        Some(Self {
            at_wall_deg: (face_mm / lamp.distance_mm).to_degrees(),
            at_screen_deg: (face_mm / SCREEN_MM).to_degrees(),
        })
    }

    /// How it smears what its parts throw on the wall.
    pub fn on_wall(self) -> Smear {
        Smear::of(self.at_wall_deg)
    }

    /// The same on the measuring screen.
    pub fn on_screen(self) -> Smear {
        Smear::of(self.at_screen_deg)
    }
}

/// How a round face smears the light that its parts throw: parts of it, each with its share of the light, and how much higher than
/// the middle's its own light lies, degrees.
pub(super) struct Smear(Vec<(f64, f64)>);

impl Smear {
    /// Of a face `size_deg` high. The share of a disc at height v goes with √(1 − v²): Gauss–Chebyshev quadrature of the second kind
    /// (Abramowitz and Stegun, 25.4.40; from memory).
    fn of(size_deg: f64) -> Self {
        /// As many nodes as keep them nearer to each other than edges are wide, for faces up to this size and larger.
        const SMALL_DEG: f64 = 0.6;
        const NODES: [u32; 2] = [9, 15];
        let nodes = NODES[usize::from(size_deg > SMALL_DEG)];
        let parts: Vec<(f64, f64)> = (1..=nodes)
            .map(|k| {
                let (sin, cos) = (std::f64::consts::PI * f64::from(k) / f64::from(nodes + 1)).sin_cos();
                (sin * sin, 0.5 * size_deg * cos)
            })
            .collect();
        let total: f64 = parts.iter().map(|(share, _)| share).sum();
        Self(
            parts
                .into_iter()
                .map(|(share, from_deg)| (share / total, from_deg))
                .collect(),
        )
    }

    /// Shares of the light, and how much higher each lies, degrees.
    pub fn parts(&self) -> impl Iterator<Item = (f64, f64)> {
        self.0.iter().copied()
    }

    /// ln of the light at a height, of what each part throws.
    pub fn ln_light(&self, ln_thrown: impl Fn(f64) -> f64, beta_deg: f64) -> f64 {
        let light = |(share, from_deg)| share * ln_thrown(beta_deg - from_deg).exp();
        self.parts().map(light).sum::<f64>().ln()
    }
}

impl Climb {
    /// Of an edge that was fitted with a face, in each kind of fade with its weight; `None` of one fitted without.
    pub(super) fn of<'a>(edges: impl Iterator<Item = (&'a Edge, f64)> + Clone, mm_per_deg: f64) -> Option<Self> {
        let climbs: Option<Vec<(f64, f64)>> = edges.map(|(edge, weight)| Some((edge.climb_deg?, weight))).collect();
        let climbs = climbs?;
        let mean_deg: f64 = climbs.iter().map(|(deg, weight)| deg * weight).sum();
        let spread_deg = climbs
            .iter()
            .map(|(deg, weight)| weight * (deg - mean_deg).powi(2))
            .sum::<f64>()
            .sqrt();
        Some(Self {
            climb_mm: mean_deg * mm_per_deg,
            sd_mm: (CLIMB_SD * mean_deg).hypot(spread_deg) * mm_per_deg,
        })
    }

    /// What several photos of one lamp that stood still say together: their mean, so that it cancels in every travel.
    pub(super) fn mean(climbs: &[Self]) -> Option<Self> {
        let count = climbs.len() as f64;
        let mean = |of: fn(&Self) -> f64| climbs.iter().map(of).sum::<f64>() / count;
        (!climbs.is_empty()).then(|| Self {
            climb_mm: mean(|climb| climb.climb_mm),
            sd_mm: mean(|climb| climb.sd_mm),
        })
    }
}

/// One standard deviation, per cent of inclination, of what a face that is not known does to an aim read from a near wall, against
/// that on the measuring screen: the root mean square over faces of all heights up to the largest. Zero where the wall is not near.
pub(crate) fn unknown_face_sd_percent(distance_mm: f64) -> f64 {
    const HEIGHTS: u32 = 14;
    let by_nearness_deg = |n: u32| {
        let face_mm = LARGEST_FACE_MM * (f64::from(n) + 0.5) / f64::from(HEIGHTS);
        about_climb_deg(face_mm / distance_mm) - about_climb_deg(face_mm / SCREEN_MM)
    };
    let near = ((NEAR_MM - distance_mm) / (NEAR_MM - WHOLLY_NEAR_MM)).clamp(0.0, 1.0);
    let squares: f64 = (0..HEIGHTS).map(|n| by_nearness_deg(n).powi(2)).sum();
    near * 100.0 * (squares / f64::from(HEIGHTS)).sqrt().to_radians()
}

/// How far a round face moves an inflection up, degrees, to about a quarter: `of_distance` is its height over the distance.
///
/// A face that looks H high smears by a variance of s² = H²/16 (a disc's), and such a smear moves the inflection of ln E up by
/// s² times its slope there, to the first order (from E + s²E″/2 at the inflection of an edge alike on both sides). Where that is
/// much, the edge comes to lie near the top of the face, some 2 s up.
fn about_climb_deg(of_distance: f64) -> f64 {
    const OF_TOP: f64 = 0.45;
    let smear_deg = 0.25 * of_distance.to_degrees();
    let falls = smear_deg * USUAL_SHARPNESS_G * std::f64::consts::LN_10 / 0.1;
    smear_deg * falls / (1.0 + OF_TOP * falls)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cutoff::edge::{Fade, Samples, inflection};
    use crate::record::Side;
    use std::f64::consts::{LN_10, PI};

    /// ln of the light of an edge at 0°: two decades, a logistic curve in log light of G about 0.3.
    fn thrown(beta_deg: f64) -> f64 {
        2.0 * LN_10 / (1.0 + (beta_deg / 0.167).exp())
    }

    fn lamp(face_mm: f64, distance_mm: f64) -> Lamp {
        Lamp {
            face_height_mm: Some(face_mm),
            ..Lamp::of(Side::Left, 650.0, 0.0, distance_mm)
        }
    }

    /// Reference implementation: the light of very many parts of a round face, in rings, as they lie side by side on the wall.
    fn ln_of_parts(face_mm: f64, distance_mm: f64, beta_deg: f64) -> f64 {
        let (mut sum, mut area) = (0.0, 0.0);
        for ring in 0..40 {
            let radius_mm = 0.5 * face_mm * (f64::from(ring) + 0.5) / 40.0;
            for part in 0..90 {
                let up_mm = radius_mm * (2.0 * PI * (f64::from(part) + 0.5) / 90.0).sin();
                let on_wall_mm = distance_mm * beta_deg.to_radians().tan();
                let from_part_deg = ((on_wall_mm - up_mm) / distance_mm).atan().to_degrees();
                sum += radius_mm * thrown(from_part_deg).exp();
                area += radius_mm;
            }
        }
        (sum / area).ln()
    }

    #[test]
    fn a_round_face_smears_as_its_parts_do() {
        for (face_mm, distance_mm) in [(60.0, 7_600.0), (100.0, 5_000.0), (140.0, 5_000.0)] {
            let face = Face::of(&lamp(face_mm, distance_mm)).unwrap();
            for n in -15..=15 {
                let beta_deg = 0.1 * f64::from(n);
                let parts = ln_of_parts(face_mm, distance_mm, beta_deg);
                let smeared = face.on_wall().ln_light(thrown, beta_deg);
                assert!(
                    (parts - smeared).abs() < 0.01,
                    "{face_mm} {beta_deg}: {parts} {smeared}"
                );
            }
        }
    }

    /// The edge is fitted to light that parts threw, and must tell how much lower the measuring screen would have it.
    #[test]
    fn the_aim_on_the_screen_is_found_on_a_near_wall() {
        for (face_mm, distance_mm) in [(60.0, 5_000.0), (100.0, 7_600.0), (140.0, 5_000.0)] {
            let beta_deg: Vec<f64> = (0..=160).map(|n| -1.4 + 0.02 * f64::from(n)).collect();
            let samples = Samples {
                ln_light: beta_deg.iter().map(|&b| ln_of_parts(face_mm, distance_mm, b)).collect(),
                sd: vec![0.03; beta_deg.len()],
                clipped: vec![false; beta_deg.len()],
                face: Face::of(&lamp(face_mm, distance_mm)),
                beta_deg,
            };
            let on_screen_deg = inflection(|b| ln_of_parts(face_mm, SCREEN_MM, b), 0.0).unwrap();
            let on_wall_deg = inflection(|b| ln_of_parts(face_mm, distance_mm, b), 0.2).unwrap();
            assert!(on_wall_deg - on_screen_deg > 0.08, "{face_mm}: {on_wall_deg}");
            // The other fade is not that of the light; it may lie off by what `EdgeShape` counts for.
            for (fade, within_deg) in [(Fade::Logistic, 0.006), (Fade::Normal, 0.03)] {
                let edge = Edge::fit(&samples, fade, on_wall_deg).unwrap();
                let read_deg = edge.inflection_deg - edge.climb_deg.unwrap();
                assert!(
                    (read_deg - on_screen_deg).abs() < within_deg,
                    "{fade:?} {face_mm}: {read_deg} {on_screen_deg}"
                );
            }
        }
    }

    /// Against the inflection of the light of parts, for heights evenly spread up to the largest: the square root of the mean
    /// square of what they do, to a quarter.
    #[test]
    fn what_an_unknown_face_does_is_of_the_size_stated() {
        for distance_mm in [5_000.0, 7_000.0] {
            let climb_deg =
                |face_mm: f64, distance_mm: f64| inflection(|b| ln_of_parts(face_mm, distance_mm, b), 0.1).unwrap();
            let heights_mm: Vec<f64> = (0..6).map(|n| LARGEST_FACE_MM * (f64::from(n) + 0.5) / 6.0).collect();
            let squares = heights_mm
                .iter()
                .map(|&h| (climb_deg(h, distance_mm) - climb_deg(h, SCREEN_MM)).powi(2));
            let expected = 100.0 * (squares.sum::<f64>() / 6.0).sqrt().to_radians();
            let stated = unknown_face_sd_percent(distance_mm);
            assert!(
                (0.8..1.25).contains(&(stated / expected)),
                "{distance_mm}: {stated} {expected}"
            );
        }
        assert_eq!(unknown_face_sd_percent(NEAR_MM), 0.0);
        // Nowhere does a centimetre count for much.
        for cm in 300..1_100 {
            let [here, there] = [cm, cm + 1].map(|cm| 1.96 * unknown_face_sd_percent(10.0 * f64::from(cm)));
            assert!((here - there).abs() < 0.015, "{cm} cm: {here} {there}");
        }
        assert_eq!(unknown_face_sd_percent(20_000.0), 0.0);
    }
}
