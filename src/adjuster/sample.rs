//! Draws from a posterior by adaptive importance sampling.
//!
//! Parameters are drawn from a multivariate t distribution, weighted by density over proposal, and the next round draws about
//! the weighted mean with the weighted covariance ("population Monte Carlo": O. Cappé et al., J. Comput. Graph. Stat. 13 (2004)
//! 907, from memory). Rounds whose weights rest on few draws count tempered, so that the proposal closes in from outside. The
//! mean of the last round's weights is the evidence by which two models are weighed. Weights are truncated at √n times their
//! mean (E. L. Ionides, J. Comput. Graph. Stat. 17 (2008) 295, from memory).
//!
//! Nothing is accepted or rejected by a comparison, so that a last digit of the input stays a last digit of the result; the
//! stream of random numbers is always the same.

use nalgebra::{DMatrix, DVector};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

/// Degrees of freedom of the proposal: tails heavier than those of what is sampled (common practice, no source).
const FREEDOM: usize = 6;
/// Rounds of adapting at the most, and draws of each and of the last one.
const ROUNDS: usize = 14;
const ROUND_DRAWS: usize = 900;
const LAST_DRAWS: usize = 3000;
/// Draws that the weights of an adapting round must rest on, for each dimension.
const LEAST_EFFECTIVE: f64 = 5.0;
/// Share of the draws that the weights rest on, from which the proposal is near enough.
const NEAR_ENOUGH: f64 = 0.2;

/// Weighted draws.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    /// Parameters of each draw.
    pub draws: Vec<Vec<f64>>,
    /// Weight of each; they sum to 1.
    pub weights: Vec<f64>,
    /// Natural logarithm of the evidence.
    pub log_evidence: f64,
    /// Parameters of the draw with the highest density.
    pub best: Vec<f64>,
}

/// Where to look: a place, and a covariance about it.
#[derive(Debug, Clone)]
pub(super) struct Proposal {
    /// The place.
    pub mean: DVector<f64>,
    /// The covariance.
    pub covariance: DMatrix<f64>,
}

/// One round: draws with the logarithms of their weights and densities.
struct Round {
    draws: Vec<DVector<f64>>,
    log_weights: Vec<f64>,
    log_densities: Vec<f64>,
}

impl Sample {
    /// Samples `log_density`, which is −∞ where nothing can be, from a first `proposal`. `None` where that leads nowhere.
    pub fn of(log_density: &(dyn Fn(&[f64]) -> f64 + Sync), proposal: Proposal) -> Option<Self> {
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let mut proposal = proposal;
        let least = LEAST_EFFECTIVE * proposal.mean.len() as f64;
        for _ in 0..ROUNDS {
            let round = Round::of(log_density, &proposal, &mut random, ROUND_DRAWS)?;
            let (weights, tempered) = round.weights(least);
            proposal = round.adapted(&weights);
            if !tempered && effective(&weights) > NEAR_ENOUGH * ROUND_DRAWS as f64 {
                break;
            }
        }
        let round = Round::of(log_density, &proposal, &mut random, LAST_DRAWS)?;
        let most = round.most();
        let mut weights: Vec<f64> = round.log_weights.iter().map(|w| (w - most).exp()).collect();
        let mean = weights.iter().sum::<f64>() / weights.len() as f64;
        let cap = mean * (weights.len() as f64).sqrt();
        weights.iter_mut().for_each(|w| *w = w.min(cap));
        let sum: f64 = weights.iter().sum();
        weights.iter_mut().for_each(|w| *w /= sum);
        let by_density = |a: &usize, b: &usize| round.log_densities[*a].total_cmp(&round.log_densities[*b]);
        let best = (0..round.draws.len()).max_by(by_density)?;
        Some(Self {
            best: round.draws[best].as_slice().to_vec(),
            draws: round.draws.iter().map(|d| d.as_slice().to_vec()).collect(),
            weights,
            log_evidence: most + mean.ln(),
        })
    }

    /// The values of `of` with their weights, those times `share`.
    pub fn values(&self, share: f64, of: impl Fn(&[f64]) -> f64) -> Vec<(f64, f64)> {
        let values = self.draws.iter().map(|draw| of(draw));
        values.zip(self.weights.iter().map(|w| share * w)).collect()
    }
}

impl Round {
    fn of(
        log_density: &(dyn Fn(&[f64]) -> f64 + Sync),
        proposal: &Proposal,
        random: &mut ChaCha8Rng,
        count: usize,
    ) -> Option<Self> {
        let lower = proposal.covariance.clone().cholesky()?.l();
        let dimensions = proposal.mean.len();
        let log_root: f64 = lower.diagonal().iter().map(|d| d.ln()).sum();
        let freedom = FREEDOM as f64;
        let log_peak = statrs::function::gamma::ln_gamma(0.5 * (freedom + dimensions as f64))
            - statrs::function::gamma::ln_gamma(0.5 * freedom)
            - 0.5 * dimensions as f64 * (freedom * std::f64::consts::PI).ln()
            - log_root;
        let mut normal = || -> f64 { StandardNormal.sample(random) };
        let mut draws = Vec::with_capacity(count);
        let mut log_proposals = Vec::with_capacity(count);
        for _ in 0..count {
            let direction = DVector::from_fn(dimensions, |_, _| normal());
            let spread: f64 = (0..FREEDOM).map(|_| normal().powi(2)).sum::<f64>() / freedom;
            let distance2 = direction.norm_squared() / spread;
            log_proposals.push(log_peak - 0.5 * (freedom + dimensions as f64) * (distance2 / freedom).ln_1p());
            draws.push(&proposal.mean + &lower * direction / spread.sqrt());
        }
        let log_densities: Vec<f64> = draws.par_iter().map(|draw| log_density(draw.as_slice())).collect();
        let log_weights: Vec<f64> = log_densities.iter().zip(&log_proposals).map(|(p, q)| p - q).collect();
        let round = Self {
            draws,
            log_weights,
            log_densities,
        };
        round.most().is_finite().then_some(round)
    }

    fn most(&self) -> f64 {
        self.log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// Weights that sum to 1 and rest on `least` draws, and whether they had to be tempered for it.
    fn weights(&self, least: f64) -> (Vec<f64>, bool) {
        let most = self.most();
        let at = |exponent: f64| -> Vec<f64> {
            let raw: Vec<f64> = (self.log_weights.iter())
                .map(|w| (exponent * (w - most)).exp())
                .collect();
            let sum: f64 = raw.iter().sum();
            raw.into_iter().map(|w| w / sum).collect()
        };
        let plain = at(1.0);
        if effective(&plain) >= least {
            return (plain, false);
        }
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if effective(&at(middle)) >= least {
                low = middle;
            } else {
                high = middle;
            }
        }
        (at(low), true)
    }

    fn adapted(&self, weights: &[f64]) -> Proposal {
        moments(&self.draws, weights)
    }
}

/// Number of draws that weights rest on, (Σw)²/Σw² (L. Kish, *Survey Sampling*, 1965, from memory).
fn effective(weights: &[f64]) -> f64 {
    1.0 / weights.iter().map(|w| w * w).sum::<f64>()
}

fn moments(draws: &[DVector<f64>], weights: &[f64]) -> Proposal {
    let dimensions = draws.first().map_or(0, DVector::len);
    let mut mean = DVector::zeros(dimensions);
    for (draw, weight) in draws.iter().zip(weights) {
        mean.axpy(*weight, draw, 1.0);
    }
    let mut covariance = DMatrix::zeros(dimensions, dimensions);
    for (draw, weight) in draws.iter().zip(weights).filter(|(_, weight)| **weight > 1e-12) {
        let off = draw - &mean;
        covariance.ger(*weight, &off, &off, 1.0);
    }
    for k in 0..dimensions {
        // A direction that the draws do not hold must not close the proposal.
        covariance[(k, k)] += 1e-6 * covariance[(k, k)] + 1e-16;
    }
    Proposal { mean, covariance }
}

/// Value below which `share` of the weights lie; linear between the middles of neighbours. Sorts `values`.
pub(super) fn quantile(values: &mut [(f64, f64)], share: f64) -> Option<f64> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = values.iter().map(|(_, w)| w).sum();
    let (mut below, mut last) = (0.0, None::<(f64, f64)>);
    for &(value, weight) in values.iter() {
        let middle = (below + 0.5 * weight) / whole;
        if middle >= share {
            return Some(last.map_or(value, |(at, v)| {
                v + (value - v) * (share - at) / (middle - at).max(1e-300)
            }));
        }
        last = Some((middle, value));
        below += weight;
    }
    last.map(|(_, value)| value)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A normal distribution with a known integral, in four dimensions, cut in half: by hand its evidence is half of (2π)²·|S|,
    /// and the mean of the half normal is σ·√(2/π) = 0.797 885 σ.
    #[test]
    fn a_known_density_is_found_from_afar() {
        let sds = [0.01, 1.0, 30.0, 5.0];
        let density = |p: &[f64]| {
            if p[3] < 0.0 {
                return f64::NEG_INFINITY;
            }
            -0.5 * p.iter().zip(sds).map(|(p, sd)| (p / sd).powi(2)).sum::<f64>()
        };
        let far = Proposal {
            mean: DVector::from_column_slice(&[0.1, 3.0, 40.0, 2.0]),
            covariance: DMatrix::from_diagonal(&DVector::from_column_slice(&[0.01, 9.0, 900.0, 100.0])),
        };
        let sample = Sample::of(&density, far).unwrap();
        let expected = (2.0 * std::f64::consts::PI).powi(2) * sds.iter().product::<f64>() / 2.0;
        assert!(
            (sample.log_evidence - expected.ln()).abs() < 0.05,
            "{}",
            sample.log_evidence
        );
        let mean: f64 = sample.values(1.0, |p| p[3]).iter().map(|(v, w)| v * w).sum();
        // About 2000 draws count, so that one standard deviation of the mean is 3 / √2000 = 0.07.
        assert!((mean - 5.0 * 0.797_885).abs() < 0.25, "{mean}");
        let high = quantile(&mut sample.values(1.0, |p| p[1]), 0.975).unwrap();
        assert!((high - 1.96).abs() < 0.12, "{high}");
    }
}
