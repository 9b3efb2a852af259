//! One lamp's edge in several photos of one wall, read together: the beam moves over a wall that stands still, so that what the
//! wall reflects and what the lamp throws come apart, as gain and object do in flat fields from displaced exposures (J. R. Kuhn,
//! H. Lin and D. Loranz, *Publications of the Astronomical Society of the Pacific* 103 (1991) 1097).
//!
//! In ln light, photo j at height β shows m(β; θ_j) + r(β) + s(β − β_j) + noise: its own edge; the wall, the same in all photos;
//! and what the lamp's edge has that the model has not, the same in all photos but carried along with the beam. Wall and misfit
//! are random functions whose neighbours hang together (Ornstein and Uhlenbeck's), which is what tells a slope of the wall from one
//! of the beam where the photos cannot. How large they are is taken from the photos, by the largest marginal likelihood (Laplace's
//! approximation; C. E. Rasmussen and C. K. I. Williams, *Gaussian Processes for Machine Learning*, 2006, 3.4 and 5.4).

mod normal;
#[cfg(test)]
mod tests;

use super::CutOff;
use super::edge::{EDGE_PARAMETERS, Edge, Fade, Form, Samples};
use super::face::Climb;
use super::scan::LampPlace;
use crate::record::{Lamp, Traffic};
use nalgebra::{DMatrix, DVector};
use normal::{Point, Scales, Solved, State, Unknowns};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// More photos than these are not solved together at once: what each adds to what is known of the wall grows small, and the
/// work does not (our choice, no source).
const MOST_TOGETHER: usize = 24;
/// Width of a node of the wall, degrees: two steps of a scan, some two pixels.
const WALL_NODE_DEG: f64 = 0.04;
/// Of the beam's misfit, which is smoother (our choice, no source).
const BEAM_NODE_DEG: f64 = 0.08;
/// Over how far the beam's misfit hangs together, degrees (our choice, no source): as far as an edge is wide.
const BEAM_REACH_DEG: f64 = 0.2;
/// Photos whose edges, read together, lie further from those read one by one than so many standard deviations of both are not
/// of one wall and lamp (our choice, no source).
const MOST_APART_SDS: f64 = 5.0;

/// What the fit over several photos needs of one photo's edge.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct EdgeProfile {
    points: Vec<Point>,
    /// The photo's own edge, in each kind of fade that could be fitted.
    alone: Vec<(Form, [f64; EDGE_PARAMETERS])>,
    /// The photo's own inflection and its standard deviation, degrees.
    inflection_deg: f64,
    sd_deg: f64,
}

/// What the wall's texture and noise do to a cut-off that was read together with others.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub(crate) struct SharedScatter {
    /// One standard deviation of the height that no other photo has a part in, mm.
    pub own_sd_mm: f64,
    /// What one standard deviation of each independent source does to the height, mm, signed: the same sources in the same
    /// order in all cut-offs that were read together.
    pub effects_mm: Vec<f64>,
    /// One standard deviation of what moves all of them alike, mm.
    pub alike_sd_mm: f64,
}

/// The edges of several photos as read together.
#[derive(Debug, Clone)]
struct Together {
    /// The inflection of each photo, degrees.
    inflection_deg: Vec<f64>,
    /// Their covariance from the wall's texture, noise and the choice of the edge's shape, degrees squared.
    covariance_deg2: DMatrix<f64>,
}

impl EdgeProfile {
    /// Of an edge as read from its photo alone.
    pub(super) fn of<'a>(
        samples: &Samples,
        edges: impl Iterator<Item = &'a Edge>,
        inflection_deg: f64,
        sd_deg: f64,
    ) -> Self {
        Self {
            points: points(samples),
            alone: edges.map(Edge::form_and_parameters).collect(),
            inflection_deg,
            sd_deg,
        }
    }

    fn alone_in(&self, fade: Fade) -> Option<(Form, [f64; EDGE_PARAMETERS])> {
        self.alone.iter().find(|(form, _)| form.fade == fade).copied()
    }
}

/// Neighbouring samples brought together on the nodes of the wall. Clipped light tells nothing of the wall and is left out.
fn points(samples: &Samples) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::new();
    let mut node = (i64::MIN, 0.0);
    for i in (0..samples.beta_deg.len()).filter(|&i| !samples.clipped[i]) {
        let (beta_deg, ln_light) = (samples.beta_deg[i], samples.ln_light[i]);
        // A quarter of a node off, so that steps of half a node never lie between two.
        let at = (beta_deg / WALL_NODE_DEG - 0.25).round() as i64;
        match points.last_mut().filter(|_| node.0 == at) {
            Some(last) => {
                node.1 += 1.0;
                last.beta_deg += (beta_deg - last.beta_deg) / node.1;
                last.ln_light += (ln_light - last.ln_light) / node.1;
            }
            None => {
                node = (at, 1.0);
                points.push(Point { beta_deg, ln_light });
            }
        }
    }
    points
}

/// Reads the cut-offs of one lamp, that stood still before one wall, together, and moves them to where they then lie. One that
/// does not look as if it were of the same lamp and wall is left as it is, as all are where they cannot be read together. Their
/// shared sources are numbered from `first_source` on, one at the most for each cut-off.
pub(crate) fn read_together(cutoffs: &mut [&mut CutOff], lamp: &Lamp, traffic: Traffic, first_source: usize) {
    share_climb(cutoffs);
    // Photos of a sweep follow one another: every part has some of all heights.
    let count = cutoffs.len().div_ceil(MOST_TOGETHER);
    let mut parts: Vec<Vec<&mut CutOff>> = (0..count).map(|_| Vec::with_capacity(MOST_TOGETHER)).collect();
    for (n, cutoff) in cutoffs.iter_mut().enumerate() {
        parts[n % count].push(cutoff);
    }
    let mut from = first_source;
    let numbered: Vec<(usize, Vec<&mut CutOff>)> = parts
        .into_iter()
        .map(|part| {
            let own = from;
            from += part.len();
            (own, part)
        })
        .collect();
    let place = LampPlace::new(lamp, traffic.flat_side_sign());
    numbered
        .into_par_iter()
        .for_each(|(from, mut part)| read_part(&mut part, place, from));
}

/// What the lamp's face does is the lamp's, and the same in all its photos.
fn share_climb(cutoffs: &mut [&mut CutOff]) {
    let climbs: Vec<Climb> = cutoffs.iter().filter_map(|cutoff| cutoff.climb).collect();
    let mean = Climb::mean(&climbs);
    for cutoff in cutoffs.iter_mut().filter(|cutoff| cutoff.climb.is_some()) {
        cutoff.climb = mean;
    }
}

fn read_part(cutoffs: &mut [&mut CutOff], place: LampPlace, first_source: usize) {
    let mut taken: Vec<usize> = (0..cutoffs.len()).filter(|&n| cutoffs[n].profile.is_some()).collect();
    while taken.len() > 1 {
        let profiles: Vec<&EdgeProfile> = taken.iter().filter_map(|&n| cutoffs[n].profile.as_ref()).collect();
        let Some(together) = together(&profiles) else {
            return;
        };
        let Some(odd) = odd_one(&together, &profiles) else {
            let moved = together.inflection_deg.iter().zip(together.scatters());
            for (n, (inflection_deg, scatter)) in taken.iter().zip(moved) {
                scatter.lay_on(cutoffs[*n], place, *inflection_deg, first_source);
            }
            return;
        };
        taken.remove(odd);
    }
}

/// What the wall's texture and noise do to one of several photos, one standard deviation each, degrees.
struct Scatter {
    /// What differs from photo to photo, and what moves all alike: together all there is.
    differing_deg: f64,
    alike_deg: f64,
    /// The same apart otherwise, without correlation: what is this photo's alone, and what each shared source does to it.
    own_deg: f64,
    effects_deg: Vec<f64>,
}

impl Scatter {
    fn lay_on(self, cutoff: &mut CutOff, place: LampPlace, inflection_deg: f64, first_source: usize) {
        let mm_per_deg = place.mm_per_deg_at(inflection_deg);
        cutoff.y_mm = place.y_at_mm(inflection_deg);
        cutoff.scatter_sd_mm = self.differing_deg * mm_per_deg;
        // The choice of the edge's shape is in the covariance of all.
        cutoff.shape_sd_mm = 0.0;
        cutoff.shared = Some(SharedScatter {
            own_sd_mm: self.own_deg * mm_per_deg,
            effects_mm: std::iter::repeat_n(0.0, first_source)
                .chain(self.effects_deg.iter().map(|deg| deg * mm_per_deg))
                .collect(),
            alike_sd_mm: self.alike_deg * mm_per_deg,
        });
    }
}

impl Together {
    /// What the wall's texture and noise do to each photo.
    fn scatters(&self) -> Vec<Scatter> {
        let covariance = &self.covariance_deg2;
        let count = covariance.nrows();
        let eigen = covariance.clone().symmetric_eigen();
        let least = eigen.eigenvalues.min().max(0.0);
        // The variance of the best mean: as much of the covariance as moves all photos alike.
        let ones = DVector::from_element(count, 1.0);
        let alike = covariance
            .clone()
            .cholesky()
            .map_or(0.0, |factor| 1.0 / ones.dot(&factor.solve(&ones)).max(1e-300));
        let effects = DMatrix::from_fn(count, count, |photo, source| {
            eigen.eigenvectors[(photo, source)] * (eigen.eigenvalues[source] - least).max(0.0).sqrt()
        });
        let each = (0..count).map(|photo| Scatter {
            differing_deg: (covariance[(photo, photo)] - alike).max(0.0).sqrt(),
            alike_deg: alike.sqrt(),
            own_deg: least.sqrt(),
            effects_deg: effects.row(photo).iter().copied().collect(),
        });
        each.collect()
    }
}

/// Solves the edges of several photos together. `None` where that has no solution.
fn together(profiles: &[&EdgeProfile]) -> Option<Together> {
    let photos: Vec<&[Point]> = profiles.iter().map(|profile| profile.points.as_slice()).collect();
    let unknowns = Unknowns::new(photos)?;
    let start = |fade: Fade| -> Option<State> {
        let alone: Option<Vec<_>> = profiles.iter().map(|profile| profile.alone_in(fade)).collect();
        let (forms, edges): (Vec<Form>, Vec<_>) = alone?.into_iter().unzip();
        Some(State::start(&unknowns, *forms.first()?, &edges))
    };
    let first = |fade: Fade| unknowns.solve(&start(fade)?, Scales::START);
    let mut fits: Vec<Solved> = [Fade::Logistic, Fade::Normal]
        .into_par_iter()
        .filter_map(first)
        .collect();
    fits.sort_by(|a, b| a.misfit.total_cmp(&b.misfit));
    let mut fits = fits.into_iter();
    let mut tried = likely(&unknowns, fits.next()?);
    let scales = tried.last()?.scales;
    tried.extend(fits.next().and_then(|other| unknowns.solve(&other.state, scales)));
    weighed(&unknowns, &tried)
}

/// Looks for the scales that make the photos likeliest, one after the other, by a factor up or down: all that were tried, the
/// likeliest last.
fn likely(unknowns: &Unknowns<'_>, from: Solved) -> Vec<Solved> {
    /// What twice the log likelihood must gain for another scale to be taken, and how often all scales are gone through (our
    /// choice, no source).
    const LEAST_GAIN: f64 = 0.3;
    const SWEEPS: usize = 3;
    let mut best = from;
    let mut passed: Vec<Solved> = Vec::new();
    let mut unsolved: Vec<Scales> = Vec::new();
    for _ in 0..SWEEPS {
        let mut moved = false;
        for which in 0..Scales::COUNT {
            for up in [true, false] {
                while let Some(scales) = best.scales.moved(which, up) {
                    // What was tried before was no better, and does not count twice.
                    let mut known = passed.iter().map(|one| &one.scales).chain(&unsolved);
                    if known.any(|known| known.is(&scales)) {
                        break;
                    }
                    let Some(tried) = unknowns.solve(&best.state, scales) else {
                        unsolved.push(scales);
                        break;
                    };
                    if tried.misfit > best.misfit - LEAST_GAIN {
                        passed.push(tried);
                        break;
                    }
                    passed.push(std::mem::replace(&mut best, tried));
                    moved = true;
                }
            }
        }
        if !moved {
            break;
        }
    }
    passed.push(best);
    passed
}

/// The inflections of solutions with other scales or another kind of fade, weighed by their likelihood, with what they are
/// unsure by and differ in (J. A. Hoeting et al., *Statistical Science* 14 (1999) 382).
fn weighed(unknowns: &Unknowns<'_>, tried: &[Solved]) -> Option<Together> {
    /// What is less likely than the likeliest by more than this, in minus twice the log, counts for nothing.
    const MOST_MISFIT: f64 = 8.0;
    let least = tried.iter().map(|one| one.misfit).min_by(f64::total_cmp)?;
    let each: Vec<(f64, DVector<f64>, DMatrix<f64>)> = tried
        .par_iter()
        .filter(|one| one.misfit - least < MOST_MISFIT)
        .filter_map(|one| {
            let (inflections, covariance) = unknowns.inflections(one)?;
            Some(((-0.5 * (one.misfit - least)).exp(), inflections, covariance))
        })
        .collect();
    let total: f64 = each.iter().map(|(weight, ..)| weight).sum();
    let count = each.first()?.1.len();
    let mean: DVector<f64> = (each.iter()).fold(DVector::zeros(count), |sum, (w, at, _)| sum + w / total * at);
    let covariance_deg2 = each
        .iter()
        .fold(DMatrix::zeros(count, count), |sum, (weight, at, covariance)| {
            let apart = at - &mean;
            sum + weight / total * (covariance + &apart * apart.transpose())
        });
    Some(Together {
        inflection_deg: mean.iter().copied().collect(),
        covariance_deg2,
    })
}

/// The photo whose edge, read together, lies furthest from where its photo alone has it, should that be too far.
fn odd_one(together: &Together, profiles: &[&EdgeProfile]) -> Option<usize> {
    let each = profiles.iter().zip(&together.inflection_deg).enumerate();
    let apart = each.map(|(n, (profile, inflection_deg))| {
        let sd_deg = profile.sd_deg.hypot(together.covariance_deg2[(n, n)].sqrt());
        (n, (inflection_deg - profile.inflection_deg).abs() / sd_deg)
    });
    apart
        .filter(|(_, sds)| sds.is_nan() || *sds > MOST_APART_SDS)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(n, _)| n)
}
