//! The edge in log light: a parametric model, its inflection and its sharpness; and the plain inflection beside it.
//!
//! The reading is defined as the inflection of log10 E on a vertical scan (UN R112, cut-off quality annex). On a real
//! wall texture and noise ripple that curve's slope, so a smooth edge is fitted and its inflection taken. The family
//! holds both kinds of edge that lamps throw: a sigmoid in log light (q → 0) and a sharp shield's edge blurred in light
//! itself (q = 1), and what lies between, as the power mean of the dark and the bright level:
//! E^q = D^q (1 − F) + B^q F, with F a logistic or a normal distribution, B and D sloping gently.

mod model;

pub(super) use model::{Model, OfParameters};

use super::face::Face;
use super::scan::Profile;
use crate::fit::{Loss, Problem, Slopes, TO_A_THOUSANDTH};
use crate::photo::Nominal;
use nalgebra::DMatrix;
use rayon::prelude::*;

/// ln of light against vertical angle, with the weight of each point.
#[derive(Debug, Clone)]
pub(super) struct Samples {
    pub beta_deg: Vec<f64>,
    pub ln_light: Vec<f64>,
    /// One standard deviation of `ln_light`.
    pub sd: Vec<f64>,
    /// The light is at least this (clipped).
    pub clipped: Vec<bool>,
    /// The face of the lamp that threw it, where the job gives one.
    pub face: Option<Face>,
}

/// How the bright part fades into the dark one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fade {
    Logistic,
    Normal,
}

/// How an edge's light is made: its fade, and the face of the lamp that smears it where the job gives one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Form {
    pub fade: Fade,
    pub face: Option<Face>,
}

/// Parameters: β0 (deg), ln width (deg), q, ln B and its slope and bend below the edge, ln D and its slope.
pub(super) const EDGE_PARAMETERS: usize = 8;
/// A mortar joint or a pipe must not pull: residuals count ever less from about so many standard deviations on (our
/// choice, no source; 2.4 would be as good as least squares on normal noise to 95 %, from memory).
const LOSS: Loss = Loss::Cauchy { scale: 1.5 };
/// Light below and above the edge that the model is fitted to, degrees (our choice, no source): enough for both levels,
/// and no more of the bright side's own shape than a bend holds.
const REACH_DEG: f64 = 1.6;
/// Texture of a wall after pooling, one standard deviation of ln light (our choice, no source).
const TEXTURE_SD: f64 = 0.03;
/// Uncertainty of the black level, linear light: about one code of 8-bit sRGB near black.
pub(super) const BLACK_SD: f64 = 0.000_3;

/// Fewer samples than these, 0.8° of a scan, are no edge with both its levels (our choice, no source).
pub(super) const LEAST_SAMPLES: usize = 40;

/// An edge fitted to samples.
#[derive(Debug, Clone)]
pub(super) struct Edge {
    form: Form,
    parameters: OfParameters,
    /// Half the sum of the loss.
    pub cost: f64,
    /// Vertical angle of the inflection on the wall, degrees.
    pub inflection_deg: f64,
    /// How much higher that is than on the measuring screen, degrees; `None` where the lamp's face is not given.
    pub climb_deg: Option<f64>,
    /// Sharpness G.
    pub sharpness_g: f64,
    /// Light at the inflection, linear.
    pub light_at_inflection: f64,
    /// Bright over dark level at the edge, decades.
    pub step_decades: f64,
}

impl Samples {
    /// Samples of a profile within [`REACH_DEG`] of `about_deg`, of a lamp with a face.
    pub fn of(profile: &Profile, about_deg: f64, face: Option<Face>) -> Self {
        let mut samples = Self {
            beta_deg: Vec::new(),
            ln_light: Vec::new(),
            sd: Vec::new(),
            clipped: Vec::new(),
            face,
        };
        for ((&beta_deg, &light), &clipped) in profile.beta_deg.iter().zip(&profile.light).zip(&profile.clipped) {
            if (beta_deg - about_deg).abs() > REACH_DEG || !light.is_finite() {
                continue;
            }
            let light = light.max(0.1 * BLACK_SD);
            samples.beta_deg.push(beta_deg);
            samples.ln_light.push(light.ln());
            samples.sd.push(TEXTURE_SD.hypot(BLACK_SD / light));
            samples.clipped.push(clipped);
        }
        samples
    }

    /// The same without those between two angles.
    pub fn without(&self, from_deg: f64, to_deg: f64) -> Self {
        self.keep(|beta| !(from_deg..to_deg).contains(&beta))
    }

    /// The samples at those angles for which `wanted` holds.
    fn keep(&self, wanted: impl Fn(f64) -> bool) -> Self {
        let keep: Vec<usize> = (0..self.beta_deg.len()).filter(|&i| wanted(self.beta_deg[i])).collect();
        Self {
            beta_deg: keep.iter().map(|&i| self.beta_deg[i]).collect(),
            ln_light: keep.iter().map(|&i| self.ln_light[i]).collect(),
            sd: keep.iter().map(|&i| self.sd[i]).collect(),
            clipped: keep.iter().map(|&i| self.clipped[i]).collect(),
            face: self.face,
        }
    }

    /// The level of the dark side, linear light: a tenth of the samples lies below it.
    fn dark_level(&self) -> f64 {
        let mut sorted = self.ln_light.clone();
        sorted.sort_by(f64::total_cmp);
        sorted.get(sorted.len() / 10).map_or(0.0, |ln| ln.exp())
    }

    /// The same with `share` of the dark level taken away as stray light.
    pub fn less_floor(&self, share: f64) -> Self {
        let dark = self.dark_level();
        let mut less = self.clone();
        for ln in &mut less.ln_light {
            *ln = (ln.exp() - share * dark).max(0.05 * dark).ln();
        }
        less
    }

    /// The same in other light: `change` gives ln of it, and its slope at ln of this one, by what stands for each sample's light.
    pub fn in_light(&self, nominal: &[Nominal], change: impl Fn(Nominal) -> (f64, f64)) -> Self {
        let mut other = self.clone();
        for ((ln_light, sd), nominal) in other.ln_light.iter_mut().zip(&mut other.sd).zip(nominal) {
            let (changed, slope) = change(*nominal);
            *ln_light = changed;
            *sd *= slope;
        }
        other
    }

    /// Half an 8-bit code near black, as a share of the dark level: what rounding and the camera's black level may be off.
    pub fn half_code_share(&self) -> f64 {
        self.share_of_dark(0.5 * BLACK_SD)
    }

    /// So much linear light as a share of the dark level.
    pub fn share_of_dark(&self, light: f64) -> f64 {
        light / self.dark_level().max(0.1 * BLACK_SD)
    }
}

/// How much higher the inflection of an edge with these parameters is than on the measuring screen, degrees; `None` where the face is
/// not given, or there is none.
fn climb_deg(form: Form, p: &OfParameters, inflection_deg: f64) -> Option<f64> {
    Some(inflection_deg - Model::on_screen(form, p)?.inflection()?)
}

/// What a model leaves of each sample, in standard deviations. Clipped light may be brighter than it looks, never
/// darker: there only a model that lies below counts.
fn residuals_of(model: &Model, samples: &Samples) -> Vec<f64> {
    (0..samples.beta_deg.len())
        .map(|i| {
            let residual = (model.ln_light(samples.beta_deg[i]) - samples.ln_light[i]) / samples.sd[i];
            if samples.clipped[i] {
                residual.min(0.0)
            } else {
                residual
            }
        })
        .collect()
}

/// [`residuals_of`], with what each of these parameters does to them, a row a sample; below there is room for so many priors.
fn residuals_and_slopes_of(
    model: &Model,
    samples: &Samples,
    parameters: &[usize],
    priors: usize,
) -> (Vec<f64>, DMatrix<f64>) {
    let count = samples.beta_deg.len();
    let mut residuals = Vec::with_capacity(count + priors);
    let mut slopes = DMatrix::zeros(count + priors, parameters.len());
    for i in 0..count {
        let (ln_light, of_parameters) = model.ln_light_and_slopes(samples.beta_deg[i]);
        let residual = (ln_light - samples.ln_light[i]) / samples.sd[i];
        if samples.clipped[i] && residual > 0.0 {
            residuals.push(0.0);
            continue;
        }
        residuals.push(residual);
        for (column, &n) in parameters.iter().enumerate() {
            slopes[(i, column)] = of_parameters[n] / samples.sd[i];
        }
    }
    (residuals, slopes)
}

impl Edge {
    /// Fits an edge of one kind of fade, from an inflection near `about_deg`.
    pub fn fit(samples: &Samples, fade: Fade, about_deg: f64) -> Option<Self> {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for &ln in &samples.ln_light {
            low = low.min(ln);
            high = high.max(ln);
        }
        if samples.beta_deg.len() < LEAST_SAMPLES {
            return None;
        }
        let form = Form {
            fade,
            face: samples.face,
        };
        // Near both archetypes, and one between them (our choice, no source); the lowest cost counts.
        let starts = [(0.05, 0.15), (0.6, 0.15), (0.9, 0.3)]
            .map(|(q, width_deg): (f64, f64)| [about_deg, width_deg.ln(), q, high, 0.0, 0.0, low, 0.0]);
        let fits: Vec<Self> = starts
            .par_iter()
            .filter_map(|start| Self::solve(samples, form, start))
            .collect();
        fits.into_iter().min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    /// Fits again without what lies far off this edge and its neighbours: a mortar joint's blurred shoulders pull even
    /// where the joint itself no longer counts.
    pub fn refit_clean(&self, samples: &Samples) -> Option<Self> {
        /// As far as this from what lies off, samples share in it, degrees: the next on either side.
        const NEIGHBOUR_DEG: f64 = 0.03;
        /// So many standard deviations, by the median's scale, lie off; and never less than the second (our choice, no
        /// source; 1.4826 times the median distance is a normal distribution's standard deviation).
        const OFF_SDS: f64 = 4.0;
        const LEAST_OFF_SDS: f64 = 3.0;
        let residuals = residuals_of(&self.model(), samples);
        let mut sizes: Vec<f64> = (0..residuals.len())
            .filter(|&i| !samples.clipped[i])
            .map(|i| residuals[i].abs())
            .collect();
        let limit = (OFF_SDS * 1.4826 * super::median(&mut sizes)).max(LEAST_OFF_SDS);
        let off: Vec<f64> = (0..residuals.len())
            .filter(|&i| !samples.clipped[i] && residuals[i].abs() > limit)
            .map(|i| samples.beta_deg[i])
            .collect();
        if off.is_empty() {
            return Some(self.clone());
        }
        let clean = samples.keep(|beta| off.iter().all(|o| (o - beta).abs() > NEIGHBOUR_DEG + 1e-9));
        // Where most lies off, it is the edge that is off (our choice, no source).
        if 2 * clean.beta_deg.len() < samples.beta_deg.len() {
            Some(self.clone())
        } else {
            self.refit(&clean)
        }
    }

    /// Fits again from this edge's own parameters, to slightly other samples.
    pub fn refit(&self, samples: &Samples) -> Option<Self> {
        Self::solve(samples, self.form, &self.parameters)
    }

    fn solve(samples: &Samples, form: Form, start: &OfParameters) -> Option<Self> {
        // Weak priors keep what the data leave open from running away: q between the two archetypes, levels that
        // slope by no more than a factor of about e per degree, widths from 0.03° to 1° (our choice, no source; the
        // golden vectors of `against_outside` are made with the same priors). Parameter, mean, standard deviation.
        let priors: [(usize, f64, f64); 5] = [
            (2, 0.5, 1.0),
            (4, 0.0, 1.0),
            (5, 0.0, 0.5),
            (7, 0.0, 1.0),
            (1, 0.18f64.ln(), 0.8),
        ];
        let model = |p: &[f64]| Model::on_wall(form, &std::array::from_fn(|n| p[n]));
        let of_priors = |p: &[f64]| priors.map(|(n, mean, sd)| (p[n] - mean) / sd);
        let residuals = |p: &[f64]| {
            let mut residuals = residuals_of(&model(p), samples);
            residuals.extend(of_priors(p));
            residuals
        };
        let all: [usize; EDGE_PARAMETERS] = std::array::from_fn(|n| n);
        let both = |p: &[f64]| {
            let (mut residuals, mut slopes) = residuals_and_slopes_of(&model(p), samples, &all, priors.len());
            residuals.extend(of_priors(p));
            for (row, (n, _, sd)) in priors.iter().enumerate() {
                slopes[(samples.beta_deg.len() + row, *n)] = 1.0 / sd;
            }
            (residuals, slopes)
        };
        let problem = Problem {
            residuals: &residuals,
            priors: priors.len(),
            slopes: Slopes::Together(&both),
            loss: LOSS,
            settled: TO_A_THOUSANDTH,
        };
        let (lowest, cost) = problem.lowest(start)?;
        let parameters: OfParameters = std::array::from_fn(|n| lowest[n]);
        let model = Model::on_wall(form, &parameters);
        let inflection_deg = model.inflection()?;
        Some(Self {
            form,
            cost,
            inflection_deg,
            climb_deg: climb_deg(form, &parameters, inflection_deg),
            sharpness_g: sharpness(|beta| model.ln_light(beta), inflection_deg),
            light_at_inflection: model.ln_light(inflection_deg).exp(),
            step_decades: (parameters[3] - parameters[6]) / std::f64::consts::LN_10,
            parameters,
        })
    }

    fn model(&self) -> Model {
        Model::on_wall(self.form, &self.parameters)
    }

    /// The lamp's face with which it was fitted.
    pub fn face(&self) -> Option<Face> {
        self.form.face
    }

    /// Its form and its parameters.
    pub fn form_and_parameters(&self) -> (Form, [f64; EDGE_PARAMETERS]) {
        (self.form, self.parameters)
    }

    /// This edge's own light with the samples' residuals laid on it `by` samples further up, those at the end coming
    /// round to the start. Clipped samples tell nothing of the wall; they neither give nor take.
    pub fn with_residuals_moved(&self, samples: &Samples, by: usize) -> Samples {
        let free: Vec<usize> = (0..samples.beta_deg.len()).filter(|&i| !samples.clipped[i]).collect();
        let curve = self.model();
        let model = |i: usize| curve.ln_light(samples.beta_deg[i]);
        let mut moved = samples.clone();
        for (n, &i) in free.iter().enumerate() {
            let from = free[(n + by) % free.len()];
            // In units of each sample's own standard deviation: the dark side is noisier than the bright one.
            let residual = (samples.ln_light[from] - model(from)) / samples.sd[from];
            moved.ln_light[i] = model(i) + residual * samples.sd[i];
        }
        moved
    }

    /// Light of the model, linear; beyond the reach of the fit, as at its end.
    pub fn light(&self, beta_deg: f64) -> f64 {
        let about = self.parameters[0];
        self.model()
            .ln_light(beta_deg.clamp(about - REACH_DEG, about + REACH_DEG))
            .exp()
    }

    /// How far the samples' inflection lies above this edge's, degrees: place and both levels are free, the shape is
    /// kept.
    ///
    /// The inflection itself is compared, not the place of the shape: where the bright level falls to the side, the
    /// inflection of a blurred edge moves against its step.
    pub fn shift_deg(&self, samples: &Samples) -> Option<f64> {
        /// A degree of shift; a factor of e^0.5 in either level, which matters where the bright side is clipped: the parameters that
        /// move, with one standard deviation of each.
        const MOVES: [(usize, f64); 3] = [(0, 1.0), (3, 0.5), (6, 0.5)];
        let moved = |s: &[f64]| {
            let mut p = self.parameters;
            for ((n, _), by) in MOVES.iter().zip(s) {
                p[*n] += by;
            }
            p
        };
        let model = |s: &[f64]| Model::on_wall(self.form, &moved(s));
        let residuals = |s: &[f64]| {
            let mut residuals = residuals_of(&model(s), samples);
            residuals.extend(MOVES.iter().zip(s).map(|((_, sd), by)| by / sd));
            residuals
        };
        let both = |s: &[f64]| {
            let (mut residuals, mut slopes) =
                residuals_and_slopes_of(&model(s), samples, &MOVES.map(|(n, _)| n), MOVES.len());
            residuals.extend(MOVES.iter().zip(s).map(|((_, sd), by)| by / sd));
            for (row, (_, sd)) in MOVES.iter().enumerate() {
                slopes[(samples.beta_deg.len() + row, row)] = 1.0 / sd;
            }
            (residuals, slopes)
        };
        let problem = Problem {
            residuals: &residuals,
            priors: MOVES.len(),
            slopes: Slopes::Together(&both),
            loss: LOSS,
            settled: TO_A_THOUSANDTH,
        };
        let there = model(&problem.lowest(&[0.0; 3])?.0);
        Some(there.inflection()? - self.inflection_deg)
    }
}

/// How closely places lie where an inflection is looked for, degrees.
const FINE_DEG: f64 = 0.004;

/// Where a smooth curve of ln light falls most steeply with β, near `about_deg`, degrees: closely spaced places, then a
/// parabola through the three best.
pub(super) fn inflection(ln_light: impl Fn(f64) -> f64, about_deg: f64) -> Option<f64> {
    inflection_within(ln_light, about_deg, 250)
}

/// The same within so many places of `about_deg`.
fn inflection_within(ln_light: impl Fn(f64) -> f64, about_deg: f64, half_width: i32) -> Option<f64> {
    let slope = |n: i32| {
        let beta = about_deg + FINE_DEG * f64::from(n);
        (ln_light(beta - 0.5 * FINE_DEG) - ln_light(beta + 0.5 * FINE_DEG)) / FINE_DEG
    };
    let best = (-half_width..=half_width)
        .map(|n| (n, slope(n)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    if best.0.abs() == half_width || !best.1.is_finite() {
        return None;
    }
    let (left, right) = (slope(best.0 - 1), slope(best.0 + 1));
    let bend = left - 2.0 * best.1 + right;
    let shift = if bend < 0.0 { 0.5 * (left - right) / bend } else { 0.0 };
    Some(about_deg + FINE_DEG * (f64::from(best.0) + shift))
}

/// G = max over β of log10 E(β) − log10 E(β + 0.1°) (UN R112), for a curve whose steepest place is known.
fn sharpness(ln_light: impl Fn(f64) -> f64, inflection_deg: f64) -> f64 {
    /// Places lie this close, so that so many of them span 0.1°.
    const STEP_DEG: f64 = 0.002;
    const SPAN: usize = 50;
    let ln: Vec<f64> = (0..=3 * SPAN)
        .map(|n| ln_light(inflection_deg - 0.15 + STEP_DEG * n as f64))
        .collect();
    let falls = ln.iter().zip(&ln[SPAN..]).map(|(above, below)| above - below);
    falls.fold(f64::NEG_INFINITY, f64::max) / std::f64::consts::LN_10
}

/// The definition itself, without a model: the slope of log light by a straight line over ±`half_width_deg`, and the
/// steepest fall within ±0.5° of `about_deg`; degrees.
pub(super) fn plain_inflection(samples: &Samples, about_deg: f64, half_width_deg: f64) -> Option<f64> {
    let slope = |beta: f64| {
        // Least-squares cubic's slope at its middle would follow the bend; a straight line's slope suffices for a peak.
        let (mut n, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for i in 0..samples.beta_deg.len() {
            let x = samples.beta_deg[i] - beta;
            if x.abs() <= half_width_deg && !samples.clipped[i] {
                n += 1.0;
                sx += x;
                sy += samples.ln_light[i];
                sxx += x * x;
                sxy += x * samples.ln_light[i];
            }
        }
        let bottom = n * sxx - sx * sx;
        (n >= 5.0 && bottom > 0.0).then(|| -(n * sxy - sx * sy) / bottom)
    };
    let slopes: Vec<(f64, f64)> = (-50..=50)
        .filter_map(|n| {
            let beta = about_deg + 0.01 * f64::from(n);
            slope(beta).map(|s| (beta, s))
        })
        .collect();
    let best = slopes.iter().map(|g| g.1).fold(f64::NEG_INFINITY, f64::max);
    // Middle of the peak's upper fifth: steadier than its single highest point.
    let (mut weight, mut sum) = (0.0, 0.0);
    for (beta, s) in slopes {
        let w = (s - 0.8 * best).max(0.0);
        weight += w;
        sum += w * beta;
    }
    (weight > 0.0).then(|| sum / weight)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::normal_tail;

    fn samples_of(curve: impl Fn(f64) -> f64) -> Samples {
        let beta_deg: Vec<f64> = (0..=160).map(|n| -1.6 + 0.02 * f64::from(n)).collect();
        Samples {
            ln_light: beta_deg.iter().map(|&b| curve(b)).collect(),
            sd: vec![0.03; beta_deg.len()],
            clipped: vec![false; beta_deg.len()],
            face: None,
            beta_deg,
        }
    }

    /// log10 E = −1 − tanh((β − β0)/w): inflection at β0; G = tanh(0.05/w) · 2, in closed form.
    #[test]
    fn tanh_edge_has_its_inflection_and_g_in_closed_form() {
        let (centre, width) = (0.137, 0.35);
        let samples = samples_of(|b| std::f64::consts::LN_10 * (-1.0 - ((b - centre) / width).tanh()));
        let edge = Edge::fit(&samples, Fade::Logistic, 0.0).unwrap();
        assert!((edge.inflection_deg - centre).abs() < 0.002, "{}", edge.inflection_deg);
        let g = 2.0 * (0.05f64 / width).tanh();
        assert!((edge.sharpness_g - g).abs() < 0.004, "{} against {g}", edge.sharpness_g);
        let plain = plain_inflection(&samples, 0.1, 0.1).unwrap();
        assert!((plain - centre).abs() < 0.008, "{plain}");
    }

    /// E = d + (1 − d) Φ(−(β − β0)/σ): the inflection of log E is where φ(u)/(d/(1 − d) + Φ(−u)) is greatest. For
    /// d = 0.01 that is u = 1.6449 to 1e-3, found with SciPy 1.x by `scipy.optimize.minimize_scalar` (by hand).
    #[test]
    fn blurred_edge_has_its_inflection_above_the_half_level() {
        let (centre, sigma, dark) = (-0.08, 0.2, 0.01);
        let samples = samples_of(|b| (dark + (1.0 - dark) * normal_tail((b - centre) / sigma)).ln());
        // Reference implementation: the greatest slope at very many places of the clean curve.
        let slow = (0..200_000)
            .map(|n| -0.5 + 1e-5 * f64::from(n))
            .max_by(|&a, &b| {
                let slope = |x: f64| {
                    let u = (x - centre) / sigma;
                    (-0.5 * u * u).exp() / (dark + (1.0 - dark) * normal_tail(u))
                };
                slope(a).total_cmp(&slope(b))
            })
            .unwrap();
        let edge = Edge::fit(&samples, Fade::Normal, 0.1).unwrap();
        assert!(
            slow > centre + 0.2,
            "the inflection lies well above the half level: {slow}"
        );
        assert!(
            (edge.inflection_deg - slow).abs() < 0.003,
            "{} against {slow}",
            edge.inflection_deg
        );
        assert!((plain_inflection(&samples, 0.2, 0.06).unwrap() - slow).abs() < 0.02);
    }

    #[test]
    fn clipped_light_does_not_drag_the_edge() {
        let centre = 0.05;
        let clean = samples_of(|b| std::f64::consts::LN_10 * (-1.0 - ((b - centre) / 0.35).tanh()));
        let mut clipped = clean.clone();
        for i in 0..clipped.ln_light.len() {
            if clipped.ln_light[i] > -0.9 {
                clipped.ln_light[i] = -0.9;
                clipped.clipped[i] = true;
            }
        }
        let edge = Edge::fit(&clipped, Fade::Logistic, 0.0).unwrap();
        assert!((edge.inflection_deg - centre).abs() < 0.02, "{}", edge.inflection_deg);
    }

    #[test]
    fn a_shift_is_found() {
        let curve = |b: f64| std::f64::consts::LN_10 * (-1.0 - (b / 0.3).tanh());
        let edge = Edge::fit(&samples_of(curve), Fade::Logistic, 0.0).unwrap();
        let moved = samples_of(|b| curve(b - 0.06) + 0.2);
        assert!((edge.shift_deg(&moved).unwrap() - 0.06).abs() < 0.003);
    }
}
