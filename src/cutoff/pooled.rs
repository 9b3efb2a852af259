//! The reading itself: the edge pooled over the columns about the reading scan, in both kinds of fade, with its
//! uncertainty.

use super::edge::{Edge, Fade, Samples};
use super::face::Face;
use super::flat::{StripPoint, strips, used_points};
use super::line::Line;
use super::quality::no_cutoff;
use super::scan::{Column, Window, is_pooled, pool};
use super::{FLAT_FROM_DEG, FLAT_TO_DEG, READING_SCAN_DEG};
use crate::language::said;
use crate::photo::{Bend, KNOTS, Nominal, Response};
use crate::refusal::{Reason, Refusal};
use rayon::prelude::*;

/// What a real edge's inflection may lie off the model's, one standard deviation as a share of the edge's width. Found
/// on made photos whose edges follow neither of the model's two fades exactly.
const MODEL_SD_OF_WIDTH: f64 = 0.015;
/// What another lamp's edge that is not told from this one's may draw the inflection off, one standard deviation as a share of the
/// edge's width. On 220 drawn photos of both lamps alight (`tests/rooms/two_lamps.rs` has some of them) the root mean square was 0.06
/// where the light below the cut-off lay aside and 0.04 where a faint second edge was seen, of which 0.03 is other things' share.
const MIXED_SD_OF_WIDTH: f64 = 0.05;
/// Strips of an edge that can be followed, of twelve (our choice, no source).
const LEAST_STRIPS: usize = 4;

/// Light that is not the lamp's, as a share of the dark level: in a darkened room, and what is left where it was measured with
/// the lamp off (common practice, no source).
pub(crate) const STRAY_SHARE_USUAL: f64 = 0.1;
pub(crate) const STRAY_SHARE_LEFT: f64 = 0.04;

/// What light that is not the lamp's, and noise cut off at black, leave open of an edge.
#[derive(Debug, Clone, Copy)]
pub(super) struct StrayLight {
    /// One standard deviation of the inflection, degrees.
    pub sd_deg: f64,
    /// One standard deviation of the sharpness G, by noise alone.
    pub sharpness_sd_g: f64,
    /// By how much more the light may fall across the edge than it seems to, by noise alone, decades.
    pub step_decades: f64,
}

/// The edge as it was read.
pub(super) struct Pooled {
    pub samples: Samples,
    pub edges: Edges,
    pub strips: Vec<StripPoint>,
    /// Of the line through the strips, degrees of β per degree of angle.
    pub slope: f64,
}

impl Pooled {
    /// Pools the columns along `rough`, fits the edge, and does both again along the slope that its strips show.
    ///
    /// # Errors
    /// `no-cutoff` where no edge can be fitted, or it cannot be followed.
    pub fn of(columns: &[Column], window: Window, rough: Line, face: Option<Face>) -> Result<Self, Refusal> {
        let pooled: Vec<&Column> = columns.iter().filter(|c| c.is_pooled()).collect();
        let first = Self::along(
            columns,
            &pooled,
            window,
            rough.slope,
            rough.at_deg(READING_SCAN_DEG),
            face,
        )?;
        let about_deg = first.edges.best().inflection_deg;
        Self::along(columns, &pooled, window, first.slope, about_deg, face)
    }

    fn along(
        columns: &[Column],
        pooled: &[&Column],
        window: Window,
        slope: f64,
        about_deg: f64,
        face: Option<Face>,
    ) -> Result<Self, Refusal> {
        let samples = Samples::of(&pool(pooled, window, slope, READING_SCAN_DEG), about_deg, face);
        let edges = fit_edges(&samples, about_deg)?;
        let strips = strips(columns, window, slope, edges.best());
        let used = used_points(&strips);
        if used.len() < LEAST_STRIPS {
            return Err(Refusal::new(Reason::NoCutoff, |language| {
                said!(
                    language;
                    "the edge cannot be followed from 1.5 to 3.5 degrees beside the lamp; take away what stands in the beam",
                    "die Kante lässt sich von 1,5 bis 3,5 Grad neben dem Scheinwerfer nicht verfolgen; wegräumen, was im \
                     Lichtkegel steht"
                )
            }));
        }
        Ok(Self {
            samples,
            edges,
            strips,
            slope: Line::of_least_squares(&used).slope,
        })
    }

    /// One standard deviation of the flat part's lean by the scatter of its strips, degrees, and by bands of the lamp's own, which may
    /// carry the edge off by `by_bands_deg` (one standard deviation) at either end.
    pub fn tilt_sd_deg(&self, by_bands_deg: f64) -> f64 {
        let used = used_points(&self.strips);
        let line = Line::of_least_squares(&used);
        let n = used.len() as f64;
        let mean_deg = used.iter().map(|p| p.0).sum::<f64>() / n;
        let square = used.iter().map(|p| (p.1 - line.at_deg(p.0)).powi(2)).sum::<f64>() / (n - 2.0).max(1.0);
        let slope_sd = (square / used.iter().map(|p| (p.0 - mean_deg).powi(2)).sum::<f64>()).sqrt();
        let by_bands = std::f64::consts::SQRT_2 * by_bands_deg / (FLAT_TO_DEG - FLAT_FROM_DEG);
        slope_sd.hypot(by_bands).atan().to_degrees()
    }

    /// One standard deviation of the inflection from no real edge having quite the shape of the model, degrees.
    pub fn model_sd_deg(&self) -> f64 {
        MODEL_SD_OF_WIDTH * self.width_deg()
    }

    /// One standard deviation of the inflection where what is seen across the wall tells of another lamp that is lit too, degrees: its
    /// edge may lie within this one's width, and then the two are read as one.
    pub fn mixed_sd_deg(&self) -> f64 {
        MIXED_SD_OF_WIDTH * self.width_deg()
    }

    /// Width of the edge: its whole step at its steepest slope, degrees.
    fn width_deg(&self) -> f64 {
        let edge = self.edges.best();
        0.1 * edge.step_decades / edge.sharpness_g
    }

    /// Scatter of the pooled inflection: between strips (texture and noise), and what the fit owes to what runs along the
    /// edge (joints of a brick wall), which pooling over the strips does not take away. That is the larger of two figures:
    /// what any short stretch of β does, by the delete-a-block jackknife (B. Efron, 1982), and what the residuals would
    /// have done had the wall hung a little higher or lower, by moving them round under the same edge (block bootstrap;
    /// H. R. Künsch, *Annals of Statistics* 17 (1989) 1217).
    pub fn scatter_sd_deg(&self) -> f64 {
        /// Width and number of the stretches that are left out in turn; together they cover the edge.
        const BLOCK_DEG: f64 = 0.15;
        const BLOCKS: i32 = 8;
        let (samples, edge) = (&self.samples, self.edges.best());
        let used: Vec<(f64, f64)> = used_points(&self.strips)
            .into_iter()
            .filter(|p| is_pooled(p.0))
            .collect();
        let line = Line::of_least_squares(&used);
        let n = used.len() as f64;
        let between =
            used.iter().map(|p| (p.1 - line.at_deg(p.0)).powi(2)).sum::<f64>() / (n - 2.0).max(1.0) / n.max(1.0);
        let shifted: Vec<f64> = (0..BLOCKS)
            .into_par_iter()
            .filter_map(|k| {
                let from = edge.inflection_deg + BLOCK_DEG * f64::from(k - BLOCKS / 2);
                edge.refit(&samples.without(from, from + BLOCK_DEG))
                    .map(|e| e.inflection_deg)
            })
            .collect();
        let count = shifted.len() as f64;
        let mean = shifted.iter().sum::<f64>() / count.max(1.0);
        let along = (count - 1.0).max(0.0) / count.max(1.0) * shifted.iter().map(|s| (s - mean).powi(2)).sum::<f64>();
        let moved: Vec<f64> = (1..=BLOCKS as usize)
            .into_par_iter()
            .filter_map(|k| {
                edge.refit(&edge.with_residuals_moved(samples, k * samples.beta_deg.len() / (BLOCKS as usize + 1)))
            })
            .map(|e| (e.inflection_deg - edge.inflection_deg).powi(2))
            .collect();
        let round = moved.iter().sum::<f64>() / moved.len().max(1) as f64;
        (between + along.max(round)).sqrt()
    }

    /// What light that is not the lamp's can do, and a black level that is off by half a code: how far the inflection moves
    /// when a share of the dark level is taken away, as two standard deviations. Ambient and veil are taken to be a tenth of the dark level; more, where no lamp-off photo
    /// is at hand and the dark level is higher than the lamps of a dark garage leave it (common practice, no source); and a
    /// twenty-fifth where ambient light was measured with the lamp off.
    ///
    /// `black_lift`: what noise that was cut off at black adds to the dark at the most, linear light; that is taken for one standard
    /// deviation, since the whole of it may be there.
    pub fn stray_light(&self, ambient_known: bool, black_lift: f64) -> StrayLight {
        /// More of the dark level is not taken away: what is left would be noise (our choice, no source).
        const MOST_SHARE: f64 = 0.8;
        /// What the inflection is taken to move by where no edge is found without that light, degrees (our choice, no source).
        const UNKNOWN_DEG: f64 = 0.02;
        /// Less than this share of the dark is not looked at (our choice, no source).
        const LEAST_LIFTED: f64 = 0.005;
        /// Bright over dark level of lamps in a dark garage, decades: at the least.
        const DARK_GARAGE_DECADES: f64 = 1.6;
        let (samples, edge) = (&self.samples, self.edges.best());
        let share = if ambient_known {
            STRAY_SHARE_LEFT
        } else {
            (1.0 - 10f64.powf(edge.step_decades - DARK_GARAGE_DECADES)).clamp(STRAY_SHARE_USUAL, MOST_SHARE)
        };
        let refit = |share: f64| edge.refit(&samples.less_floor(share.min(MOST_SHARE)));
        let moved = |refit: Option<Edge>| {
            refit.map_or((UNKNOWN_DEG, 0.0), |e| {
                (
                    (e.inflection_deg - edge.inflection_deg).abs(),
                    (e.sharpness_g - edge.sharpness_g).abs(),
                )
            })
        };
        // The black level is unsure too: where the dark side is a few codes above black, that counts for more.
        let known = 0.5 * moved(refit(share)).0.hypot(moved(refit(samples.half_code_share())).0);
        let lifted_share = samples.share_of_dark(black_lift);
        let (by_lift_deg, sharpness_g) = if lifted_share > LEAST_LIFTED {
            moved(refit(lifted_share))
        } else {
            (0.0, 0.0)
        };
        StrayLight {
            sd_deg: known.hypot(by_lift_deg),
            sharpness_sd_g: sharpness_g,
            step_decades: -(1.0 - lifted_share.min(MOST_SHARE)).log10(),
        }
    }

    /// One standard deviation of the inflection where another edge in the photo, which begins `reach_deg` off, shows that another lamp is
    /// lit, degrees: nearly all of the dark side's light may be that one's, and what of it lies beside the edge bends the levels, so that
    /// a fit to half as much tells otherwise. Either is taken for one standard deviation, since the whole of it may be there.
    pub fn other_lamp_sd_deg(&self, reach_deg: f64) -> f64 {
        /// All of it would leave no dark side (our choice, no source).
        const MOST_SHARE: f64 = 0.8;
        /// What the inflection is taken to move by where no edge is found without that light, degrees (our choice, no source).
        const UNKNOWN_DEG: f64 = 0.2;
        let edge = self.edges.best();
        let moved = |refit: Option<Edge>| refit.map_or(UNKNOWN_DEG, |e| (e.inflection_deg - edge.inflection_deg).abs());
        let near = |sign: f64| {
            let from_deg = edge.inflection_deg + sign * 0.5 * reach_deg;
            let (low, high) = if sign > 0.0 {
                (from_deg, f64::INFINITY)
            } else {
                (f64::NEG_INFINITY, from_deg)
            };
            moved(edge.refit(&self.samples.without(low, high)))
        };
        let of_dark = moved(edge.refit(&self.samples.less_floor(MOST_SHARE)));
        of_dark.hypot(near(1.0).max(near(-1.0)))
    }

    /// What is unsure of the photo's response does to the inflection, degrees, signed: a source for each knot of the response, the same
    /// ones in all photos. Each source of the response is moved up and down, and the edge fitted anew (JCGM 100:2008, 5.1.3, note 2).
    /// A power alone, or another exposure, moves it not at all.
    pub fn tone_deg(&self, response: &Response) -> Bend {
        /// What a source is taken to do where no edge is found in the moved light, degrees (our choice, no source).
        const UNKNOWN_DEG: f64 = 0.05;
        let nominal: Vec<Nominal> = (self.samples.ln_light.iter()).map(|&ln| response.nominal(ln)).collect();
        let moved_deg = |effect: &Bend| -> Option<f64> {
            let [up, down] = [1.0, -1.0].map(|by| self.samples.in_light(&nominal, response.moved(effect, by)));
            let each = self.edges.edges.iter().map(|(edge, weight)| {
                let [up_deg, down_deg] = [edge.refit(&up)?, edge.refit(&down)?].map(|edge| edge.inflection_deg);
                Some(weight * 0.5 * (up_deg - down_deg))
            });
            each.sum()
        };
        let mut by_knot = [0.0; KNOTS];
        let moved: Vec<f64> = (response.effects.par_iter())
            .map(|effect| moved_deg(effect).unwrap_or(UNKNOWN_DEG))
            .collect();
        for (effect, moved_deg) in response.effects.iter().zip(moved) {
            // The covariance's symmetric root has the same columns in every photo that knows as much, whatever the order and the
            // sign of its eigenvectors.
            let size = effect.iter().map(|part| part * part).sum::<f64>().sqrt();
            for (sum, part) in by_knot.iter_mut().zip(effect) {
                *sum += moved_deg * part / size;
            }
        }
        by_knot
    }

    /// Where light crosses the middle between the bright and the dark level, degrees; for comparison only.
    pub fn threshold_deg(&self) -> Option<f64> {
        let samples = &self.samples;
        let light: Vec<f64> = samples.ln_light.iter().map(|ln| ln.exp()).collect();
        let high = light.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = light.iter().copied().fold(f64::INFINITY, f64::min);
        let half = 0.5 * (high + low);
        (1..light.len())
            .rev()
            .find(|&n| light[n - 1] >= half && light[n] < half)
            .map(|n| {
                let fraction = (light[n - 1] - half) / (light[n - 1] - light[n]);
                samples.beta_deg[n - 1] + fraction * (samples.beta_deg[n] - samples.beta_deg[n - 1])
            })
    }
}

/// The edges of both kinds of fade with their weights.
pub(super) struct Edges {
    edges: Vec<(Edge, f64)>,
}

impl Edges {
    pub fn each(&self) -> impl Iterator<Item = &Edge> {
        self.edges.iter().map(|(edge, _)| edge)
    }

    /// Each with its weight; the weights' sum is one.
    pub fn weighted(&self) -> impl Iterator<Item = (&Edge, f64)> + Clone {
        self.edges.iter().map(|(edge, weight)| (edge, *weight))
    }

    pub fn best(&self) -> &Edge {
        let best = self
            .edges
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.1.total_cmp(&b.1.1))
            .map_or(0, |(n, _)| n);
        &self.edges[best].0
    }

    pub fn mean(&self, value: impl Fn(&Edge) -> f64) -> f64 {
        self.edges.iter().map(|(edge, weight)| weight * value(edge)).sum()
    }

    /// One standard deviation of the inflection over the kinds of fade, by their weights, degrees.
    pub fn spread(&self) -> f64 {
        let mean = self.mean(|e| e.inflection_deg);
        self.mean(|e| (e.inflection_deg - mean).powi(2)).sqrt()
    }
}

/// Fits both kinds of fade and weighs them by how well they fit (J. A. Hoeting et al., *Statistical Science* 14
/// (1999) 382, with the residuals' own scatter as the unit).
fn fit_edges(samples: &Samples, about_deg: f64) -> Result<Edges, Refusal> {
    /// Of so many neighbouring samples one counts, and a smaller mean square of the residuals is not believed (our choice,
    /// no source).
    const SAMPLES_ALIKE: f64 = 4.0;
    const LEAST_MEAN_SQUARE: f64 = 0.05;
    let edges: Vec<Edge> = [Fade::Logistic, Fade::Normal]
        .into_par_iter()
        .filter_map(|fade| Edge::fit(samples, fade, about_deg)?.refit_clean(samples))
        .collect();
    let Some(least) = edges.iter().map(|e| e.cost).min_by(f64::total_cmp) else {
        return Err(no_cutoff());
    };
    // Neighbouring samples share their texture, so the likelihood counts about one in four; and where the residuals
    // are larger than assumed, cost is counted in units of what they are.
    let unit = SAMPLES_ALIKE * (least / (0.5 * samples.beta_deg.len() as f64)).max(LEAST_MEAN_SQUARE);
    let weights: Vec<f64> = edges.iter().map(|e| (-(e.cost - least) / unit).exp()).collect();
    let sum: f64 = weights.iter().sum();
    Ok(Edges {
        edges: edges.into_iter().zip(weights).map(|(e, w)| (e, w / sum)).collect(),
    })
}
