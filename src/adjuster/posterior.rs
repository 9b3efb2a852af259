//! What readings say of a response to vacuum, and of a leak-down that is read through it: the density that is sampled.
//!
//! Errors of readings are not independent, and what is common to several does not average out:
//! - **the wall**: a coarse wall shifts a reading by the same amount at the same height, on either branch and with the valve
//!   shut. It is a smooth function of height (a Gaussian process with a rational quadratic covariance, a mixture of all
//!   lengths about [`WALL_LENGTH_PERCENT`]; C. E. Rasmussen and C. K. I. Williams, *Gaussian Processes for Machine Learning*,
//!   2006, 4.2; from memory), whose size is estimated from the readings themselves;
//! - **the gauge**: its scale is wrong by the same amount at the same reading, smoothly and not at all at 0; by the slope that
//!   is an error of the inclination, too. Its size is the job's `vacuum_sd`, since no reading tells it from the response;
//! - **scatter**: what is left and independent, the rounding of the gauge or a movement that is not smooth; its size is
//!   estimated. It counts by the slope.
//!
//! Sizes, softness and bend have weak priors (common practice, no source); what is asked for has a flat one.

use super::curve::{NO_STOP_MBAR, Point};
use super::leak::Timed;
use super::sample::{Proposal, Sample};
use super::shape::Shape;
use crate::fit::{Loss, Problem, Slopes, TO_THE_DIGIT};
use nalgebra::{DMatrix, DVector};

/// Places of the parameters, those of every model first.
pub(super) const REST: usize = 0;
pub(super) const GAIN: usize = 1;
pub(super) const DEAD: usize = 2;
pub(super) const GAP: usize = 3;
pub(super) const BEND: usize = 4;
/// Natural logarithms of the dead band's softness, mbar, and of the wall's and the scatter's standard deviations, per cent.
pub(super) const SOFT: usize = 5;
pub(super) const WALL: usize = 6;
pub(super) const SCATTER: usize = 7;
/// Parameters of a response without an end stop; with one, its place and its softness follow.
const PLAIN: usize = 8;

/// Length along the height over which the wall's error repeats, per cent of inclination: some courses of brick or strokes of a
/// float at the usual distance (common practice, no source).
const WALL_LENGTH_PERCENT: f64 = 0.1;
/// Length along the scale over which the gauge's error repeats, mbar (common practice, no source).
const GAUGE_LENGTH_MBAR: f64 = 150.0;
/// Priors of the normal kind: centre and standard deviation.
const BEND_PRIOR: (f64, f64) = (0.0, 0.3);
const LOG_SOFT_PRIOR: (f64, f64) = (1.8, 1.0);
const LOG_WALL_PRIOR: (f64, f64) = (-4.4, 0.5);
/// No wall on which a cut-off is read shifts it by more, per cent: what seems to is a movement that is not smooth (common
/// practice, no source).
const MOST_WALL_PERCENT: f64 = 0.03;
const LOG_SCATTER_SD: f64 = 0.7;
/// What cannot be told from the readings is held at 0 within this, mbar.
const HELD_SD_MBAR: f64 = 0.5;
/// A preload takes a dead band below zero; more than this is none, mbar.
const MOST_PRELOAD_MBAR: f64 = 20.0;

/// How far beyond the response's highest vacuum a leak-down is begun, as a share of it (common practice, no source).
const BEYOND_SHARE: f64 = 0.1;
/// More than this share of a vacuum is not lost to any end that could be told, and less than the whole.
const MOST_SHARE: f64 = 0.99999;

/// What the model takes the pump's valve for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Valve {
    /// Shut, and nothing is lost.
    Tight,
    /// Shut, and vacuum is lost.
    Leaks,
}

/// A leak-down that is read through the response.
#[derive(Debug, Clone)]
pub(super) struct Shut {
    /// The photos, in order of time.
    pub series: Vec<Timed>,
    /// What it is taken for.
    pub valve: Valve,
    /// The most vacuum that there can be at the first photo, mbar.
    pub most_mbar: f64,
    /// Whether the movement scatters, as where it sticks.
    pub scatters: bool,
}

/// The course of a leak-down.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leak {
    /// Vacuum at the first photo, mbar.
    pub start_mbar: f64,
    /// Applied vacuum that has the beam where it is then, mbar: with play it may have been released from more.
    pub place_mbar: f64,
    /// Where the leak stops, mbar.
    pub residual_mbar: f64,
    /// Per minute.
    pub rate_per_min: f64,
}

impl Leak {
    /// Vacuum so many minutes after the first photo, mbar.
    pub fn vacuum_mbar(&self, minutes: f64) -> f64 {
        self.residual_mbar + (self.start_mbar - self.residual_mbar) * (-self.rate_per_min * minutes).exp()
    }

    /// The beam then, per cent.
    pub fn percent(&self, shape: &Shape, minutes: f64) -> f64 {
        let held = self.vacuum_mbar(minutes) + shape.gap_mbar.max(0.0);
        shape.applied_percent(held.min(self.place_mbar))
    }
}

/// A model of readings: with an end stop or without, with a leak-down or without.
#[derive(Debug, Clone)]
pub(super) struct Model {
    /// The response's readings.
    pub points: Vec<Point>,
    pub has_stop: bool,
    pub has_rest: bool,
    pub has_releasing: bool,
    pub turn_mbar: f64,
    /// Where the scatter is looked for, per cent.
    pub scatter_percent: f64,
    shut: Option<Shut>,
    /// The wall's correlations between all readings, and the gauge's covariances, mbar², between the response's.
    wall: DMatrix<f64>,
    gauge: DMatrix<f64>,
}

impl Model {
    /// The model of a response. `scatter_percent`: what independent errors of the gauge come to on the slope.
    pub fn new(points: Vec<Point>, has_stop: bool, has: (bool, bool), scatter_percent: f64) -> Self {
        let turn_mbar = points.iter().map(|p| p.vacuum_mbar).fold(1.0, f64::max);
        let near = |apart: f64| (-0.5 * (apart / GAUGE_LENGTH_MBAR).powi(2)).exp();
        let gauge = DMatrix::from_fn(points.len(), points.len(), |i, j| {
            let (a, b) = (&points[i], &points[j]);
            let pinned = near(a.vacuum_mbar - b.vacuum_mbar) - near(a.vacuum_mbar) * near(b.vacuum_mbar);
            a.vacuum_sd_mbar * b.vacuum_sd_mbar * pinned
        });
        let wall = wall(&points.iter().map(|p| p.percent).collect::<Vec<f64>>());
        Self {
            points,
            has_stop,
            has_rest: has.0,
            has_releasing: has.1,
            turn_mbar,
            scatter_percent,
            shut: None,
            wall,
            gauge,
        }
    }

    /// The same with a leak-down.
    pub fn with(&self, shut: Shut) -> Self {
        let heights = self.points.iter().map(|p| p.percent);
        let all: Vec<f64> = heights.chain(shut.series.iter().map(|t| t.percent)).collect();
        Self {
            wall: wall(&all),
            shut: Some(shut),
            ..self.clone()
        }
    }

    /// Number of parameters of the response alone.
    pub fn own(&self) -> usize {
        PLAIN + if self.has_stop { 2 } else { 0 }
    }

    pub fn parameters(&self) -> usize {
        self.own()
            + match self.shut.as_ref().map(|shut| shut.valve) {
                None => 0,
                Some(Valve::Tight) => 2,
                Some(Valve::Leaks) => 4,
            }
    }

    pub fn shape(&self, p: &[f64]) -> Shape {
        let (stop_mbar, stop_soft) = if self.has_stop {
            (p[PLAIN], p[PLAIN + 1].exp())
        } else {
            (NO_STOP_MBAR, 1.0)
        };
        Shape {
            rest_percent: p[REST],
            gain_percent_per_100_mbar: p[GAIN],
            dead_mbar: p[DEAD],
            stop_mbar,
            gap_mbar: p[GAP],
            soft_mbar: [p[SOFT].exp(), stop_soft],
            bend: p[BEND],
            turn_mbar: self.turn_mbar,
        }
    }

    /// The leak-down's course. Its parameters: the vacuum at the start, mbar; how far of the play it lies from the applying
    /// branch, from 0 to 1 with a quarter of the prior at either end, since a pump is often not released at all, or by more
    /// than the play; the share of what is to be lost that is lost over the series; and where the leak stops, as a share of the
    /// start, with half of the prior at none.
    pub fn leak(&self, p: &[f64]) -> Option<Leak> {
        let shut = self.shut.as_ref()?;
        let of = &p[self.own()..];
        let start_mbar = of[0];
        let lead = (2.0 * of[1] - 0.5).clamp(0.0, 1.0);
        let (share, residual) = match shut.valve {
            Valve::Tight => (0.0, 0.0),
            Valve::Leaks => (of[2].clamp(0.0, MOST_SHARE), 0.8 * (2.0 * of[3] - 1.0).max(0.0)),
        };
        let minutes = shut.series.last().map_or(1.0, |t| t.minutes);
        Some(Leak {
            start_mbar,
            place_mbar: start_mbar + lead * p[GAP].max(0.0),
            residual_mbar: residual * start_mbar,
            rate_per_min: -(-share).ln_1p() / minutes,
        })
    }

    /// Readings less model, per cent, and their covariance.
    fn errors(&self, p: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
        let shape = self.shape(p);
        let (wall2, scatter) = ((2.0 * p[WALL]).exp(), p[SCATTER].exp());
        let count = self.wall.nrows();
        let mut covariance = &self.wall * wall2;
        let mut off = DVector::zeros(count);
        let mut slopes = Vec::with_capacity(self.points.len());
        let even = (shape.gain_percent_per_100_mbar / 100.0).abs().max(1e-9);
        for (i, point) in self.points.iter().enumerate() {
            let place = shape.place_mbar(point.vacuum_mbar, point.releasing);
            let slope = shape.slope(place, point.vacuum_sd_mbar.max(1.0));
            off[i] = point.percent - shape.applied_percent(place);
            covariance[(i, i)] += point.sd_percent.powi(2) + (scatter * slope / even).powi(2);
            slopes.push(slope);
        }
        for i in 0..slopes.len() {
            for j in 0..slopes.len() {
                covariance[(i, j)] += slopes[i] * slopes[j] * self.gauge[(i, j)];
            }
        }
        if let (Some(shut), Some(leak)) = (&self.shut, self.leak(p)) {
            for (i, t) in (self.points.len()..).zip(&shut.series) {
                let at = |minutes| leak.percent(&shape, minutes);
                let moved = 0.5 * (at(t.minutes + t.clock_sd_min) - at(t.minutes - t.clock_sd_min));
                off[i] = t.percent - at(t.minutes);
                let scattered = if shut.scatters { scatter } else { 0.0 };
                covariance[(i, i)] += t.sd_percent.powi(2) + moved.powi(2) + scattered.powi(2);
            }
        }
        (off, covariance)
    }

    /// Natural logarithm of prior times likelihood; −∞ where nothing can be.
    pub fn log_density(&self, p: &[f64]) -> f64 {
        let prior = self.log_prior(p);
        if !prior.is_finite() {
            return f64::NEG_INFINITY;
        }
        let (off, covariance) = self.errors(p);
        let Some(root) = covariance.cholesky() else {
            return f64::NEG_INFINITY;
        };
        let lower = root.l_dirty();
        let Some(white) = lower.solve_lower_triangular(&off) else {
            return f64::NEG_INFINITY;
        };
        let log_root: f64 = (0..off.len()).map(|i| lower[(i, i)].ln()).sum();
        let density = prior - 0.5 * white.norm_squared() - log_root;
        if density.is_finite() {
            density
        } else {
            f64::NEG_INFINITY
        }
    }

    fn log_prior(&self, p: &[f64]) -> f64 {
        let normal = |value: f64, (centre, sd): (f64, f64)| -0.5 * ((value - centre) / sd).powi(2);
        let within = |value: f64, low: f64, high: f64| low <= value && value <= high;
        let reach = self.turn_mbar;
        let mut log = normal(p[BEND], BEND_PRIOR)
            + normal(p[SOFT], LOG_SOFT_PRIOR)
            + normal(p[WALL], LOG_WALL_PRIOR)
            + normal(p[SCATTER], (self.scatter_percent.ln(), LOG_SCATTER_SD));
        let mut can_be = within(p[BEND], -0.9, 0.9)
            && within(p[GAP], -0.5 * reach, 0.5 * reach)
            && within(p[DEAD], -MOST_PRELOAD_MBAR, 0.95 * reach)
            && p[GAIN] != 0.0
            && p[WALL] <= MOST_WALL_PERCENT.ln();
        if !self.has_rest {
            log += normal(p[DEAD], (0.0, HELD_SD_MBAR));
        }
        if !self.has_releasing {
            log += normal(p[GAP], (0.0, HELD_SD_MBAR));
        }
        if self.has_stop {
            // A corner's density is over the vacuum that was reached; its softness' is a normal one with its integral.
            log += normal(p[PLAIN + 1], LOG_SOFT_PRIOR) - 0.919 - LOG_SOFT_PRIOR.1.ln() - reach.ln();
            can_be &= within(p[PLAIN], p[DEAD] + 0.05 * reach, reach);
        }
        if let Some(shut) = &self.shut {
            let of = &p[self.own()..];
            // The same pump seldom goes beyond what it reached in the response.
            log += normal(of[0].max(reach), (reach, BEYOND_SHARE * reach));
            can_be &= within(of[0], 1.0, shut.most_mbar) && of[1..].iter().all(|v| within(*v, 0.0, MOST_SHARE));
        }
        if can_be { log } else { f64::NEG_INFINITY }
    }

    /// Readings' squared distance from the model in standard deviations, with the scatter as the job's gauge has it.
    pub fn chi_square(&self, p: &[f64], scatter_percent: f64) -> f64 {
        let mut stated = p.to_vec();
        stated[SCATTER] = scatter_percent.max(1e-4).ln();
        let (off, covariance) = self.errors(&stated);
        covariance
            .cholesky()
            .map_or(f64::INFINITY, |root| off.dot(&root.solve(&off)))
    }

    /// Readings less model, per cent, and each one's own standard deviation, per cent.
    pub fn residuals(&self, p: &[f64]) -> Vec<(f64, f64)> {
        let (off, covariance) = self.errors(p);
        (off.iter().zip(covariance.diagonal().iter()))
            .map(|(off, variance)| (*off, variance.sqrt()))
            .collect()
    }

    /// A start for the response from the curve with corners: rest, gain, dead band, end stop, hysteresis.
    pub fn start(&self, theta: &super::curve::Theta) -> Vec<f64> {
        let mut start = vec![
            theta[super::curve::REST],
            theta[super::curve::GAIN],
            theta[super::curve::DEAD].max(1.0),
            theta[super::curve::GAP],
            0.0,
            LOG_SOFT_PRIOR.0,
            LOG_WALL_PRIOR.0,
            self.scatter_percent.ln(),
        ];
        if self.has_stop {
            let stop = theta[super::curve::STOP].clamp(start[DEAD] + 0.1 * self.turn_mbar, 0.97 * self.turn_mbar);
            start.extend([stop, LOG_SOFT_PRIOR.0]);
        }
        start
    }

    /// Starts for the leak-down behind a response's parameters: the most promising of a grid.
    pub fn leak_starts(&self, response: &[f64]) -> Vec<Vec<f64>> {
        /// Starts that are taken on.
        const KEPT: usize = 4;
        let Some(shut) = &self.shut else { return Vec::new() };
        let mut starts: Vec<(f64, Vec<f64>)> = Vec::new();
        let (shares, stops): (&[f64], &[f64]) = match shut.valve {
            Valve::Tight => (&[0.0], &[0.0]),
            Valve::Leaks => (
                &[0.05, 0.15, 0.3, 0.5, 0.65, 0.8, 0.9, 0.96, 0.985, 0.995],
                &[0.4, 0.65, 0.8],
            ),
        };
        let shape = self.shape(response);
        for n in 1..=30 {
            for lead in [0.15, 0.5, 0.85] {
                for share in shares {
                    for stop in stops {
                        let mut all = response.to_vec();
                        all.extend([
                            shut.most_mbar.min(1.3 * self.turn_mbar) * f64::from(n) / 30.0,
                            lead,
                            *share,
                            *stop,
                        ]);
                        all.truncate(self.parameters());
                        let Some(leak) = self.leak(&all) else { continue };
                        let off = |t: &Timed| ((t.percent - leak.percent(&shape, t.minutes)) / t.sd_percent).powi(2);
                        starts.push((shut.series.iter().map(off).sum(), all));
                    }
                }
            }
        }
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        starts.into_iter().take(KEPT).map(|(_, start)| start).collect()
    }

    /// The peak near `start`, by least squares with the errors as they are there, and the covariance about it. Parameters with
    /// a flat prior have one that is wide.
    pub fn near(&self, start: &[f64]) -> Option<Proposal> {
        let wide = |sd: f64, at: f64| (at, sd);
        let mut priors = vec![
            wide(3.0, start[REST]),
            wide(1.0, start[GAIN]),
            if self.has_rest {
                wide(80.0, start[DEAD])
            } else {
                (0.0, HELD_SD_MBAR)
            },
            if self.has_releasing {
                wide(60.0, start[GAP])
            } else {
                (0.0, HELD_SD_MBAR)
            },
            BEND_PRIOR,
            LOG_SOFT_PRIOR,
            (start[WALL], LOG_WALL_PRIOR.1),
            (start[SCATTER], LOG_SCATTER_SD),
        ];
        let mut steps = vec![1e-4, 1e-4, 0.05, 0.05, 1e-3, 1e-2, 1e-2, 1e-2];
        if self.has_stop {
            priors.extend([wide(60.0, start[PLAIN]), LOG_SOFT_PRIOR]);
            steps.extend([0.05, 1e-2]);
        }
        for (place, (sd, step)) in (self.own()..start.len()).zip([(60.0, 0.05), (0.3, 1e-3), (0.3, 1e-4), (0.25, 1e-3)])
        {
            priors.push(wide(sd, start[place]));
            steps.push(step);
        }
        let (_, covariance) = self.errors(start);
        let root = covariance.cholesky()?.l();
        let residuals = |p: &[f64]| {
            let (off, _) = self.errors(p);
            let white = root.solve_lower_triangular(&off).unwrap_or(off);
            let held = p.iter().zip(&priors).map(|(p, (centre, sd))| (p - centre) / sd);
            white.iter().copied().chain(held).collect::<Vec<f64>>()
        };
        let problem = Problem {
            residuals: &residuals,
            priors: priors.len(),
            slopes: Slopes::Differences(&steps),
            loss: Loss::Square,
            settled: TO_THE_DIGIT,
        };
        let fit = problem.solve(start)?;
        let mut mean = fit.parameters;
        // Least squares knows no bounds: a peak beyond one is looked for just inside, or else at the start.
        for value in mean.iter_mut().skip(self.own() + 1) {
            *value = value.clamp(0.002, 0.998);
        }
        if self.log_density(&mean) < self.log_density(start) {
            mean = start.to_vec();
        }
        Some(Proposal {
            mean: DVector::from_vec(mean),
            covariance: fit.covariance * 1.5,
        })
    }

    /// Draws from the posterior, from the best of `starts`.
    pub fn sample(&self, starts: &[Vec<f64>]) -> Option<Sample> {
        let peaks = starts.iter().filter_map(|start| self.near(start));
        let height = |peak: &Proposal| self.log_density(peak.mean.as_slice());
        let best = peaks.max_by(|a, b| height(a).total_cmp(&height(b)))?;
        Sample::of(&|p| self.log_density(p), best)
    }
}

/// Correlations of the wall's error between heights, per cent.
fn wall(heights: &[f64]) -> DMatrix<f64> {
    DMatrix::from_fn(heights.len(), heights.len(), |i, j| {
        1.0 / (1.0 + 0.5 * ((heights[i] - heights[j]) / WALL_LENGTH_PERCENT).powi(2))
    })
}
