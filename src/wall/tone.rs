//! What the marks' ink and paper say of a photo's response.
//!
//! Paper and ink lie side by side in the same light E, so that the photo shows W = r E + V and K = ρ r E + V, V being a veil of
//! stray light in the lens, ρ the same in all sheets of one print (common practice, no source): in true light K is a straight line
//! in W, but for noise that was cut off at black and lifts what is darkest. Sheets in the beam and above it, their paper and their
//! ink, have between them the light that a cut-off runs through, and a curve that lies over the photo bends the line. What curve is
//! not known beforehand, so that photos that are plain, published curves that the file does not state, shoulders, and bends of three
//! sizes are weighed by how likely they make what is seen, for patches that are more or less uneven (Laplace's approximation; C. E. Rasmussen and C. K. I. Williams, *Gaussian Processes for
//! Machine Learning*, 2006, 3.4; averaged as by J. A. Hoeting et al., *Statistical Science* 14 (1999) 382). What stays open widens
//! the reading's interval.

use super::ink::Patch;
use crate::fit::{Fit, Loss, Problem, Slopes, TO_A_THOUSANDTH, normal_density, normal_tail};
use crate::photo::{Bend, Curve, KNOTS, OfKnots, Response, knot, srgb_from_linear};
use crate::warning::Warning;
use nalgebra::{DMatrix, SMatrix, SVector};
use rayon::prelude::*;

/// How likely each kind of response is beforehand (our choice, no source): just what the file states; ITU-R BT.709's camera curve
/// and a plain power, which files are coded with and do not say; the bright alone compressed; and bends of any form with a standard
/// deviation of ln slope of these sizes (film's toe and shoulder are of the largest).
const PLAIN: f64 = 0.66;
const PUBLISHED: [(CodedLight, f64); 2] = [(light_by_bt709, 0.04), (light_by_power, 0.06)];
const SHOULDER: f64 = 0.06;
const SIZES: [(f64, f64); 3] = [(0.12, 0.1), (0.3, 0.1), (0.7, 0.05)];
/// No camera keeps to a curve altogether: the first three kinds bend by this size all the same (our choice, no source).
const NEAR: f64 = 0.015;
/// Over how far in ln light the slope hangs together, and how much more it bends at full scale than in the dark, dying away over so
/// much of ln light: cameras save their highlights (our choice, no source).
const REACH: f64 = 3.0;
const MORE_AT_FULL: f64 = 2.0;
const HIGHLIGHTS: f64 = 0.8;
/// A shoulder's ln slope at full scale, one standard deviation, and over how far it dies away.
const SHOULDER_SIZE: f64 = 0.5;
const SHOULDER_REACHES: [f64; 2] = [0.6, 1.3];
/// How uneven paper, ink and light are differs from photo to photo, and the patches tell: they are weighed with their standard
/// deviations times each of these, which are as likely.
const UNEVENNESS: [f64; 3] = [0.35, 0.7, 1.4];
/// A mild size is kept also for what the surroundings change: where one curve does not do.
const LOCAL_SIZE: f64 = 0.15;
/// No single curve does where it leaves more misfit (half of the loss) than this for each patch and this beside, and more than this
/// share of what no curve at all leaves (our choice, no source). Of 30 made photos that nothing was done to, none was taken for such.
const MISFIT_OF_PATCH: f64 = 0.25;
const MISFIT_BESIDE: f64 = 2.0;
const MISFIT_OF_STRAIGHT: f64 = 0.25;

/// Ink over paper of office prints: a reflectance of 3 to 8 % over one of 80 to 90 %, and some to spare (from memory).
const USUAL_RATIO: std::ops::RangeInclusive<f64> = 0.033..=0.13;
/// The middle of it, and one standard deviation of its logarithm between prints.
const RATIO: f64 = 0.06;
const LN_RATIO_SD: f64 = 0.4;
/// Unevenness of paper, ink and light, relative (common practice, no source); and what 8-bit codes near black leave in the mean of
/// many pixels, linear: a third of a code, which there is 1 / (255 · 12.92) = 0.0003.
const UNEVEN_SD: f64 = 0.02;
const STEP_SD: f64 = 0.000_1;
/// A lens's veil, linear light, and one standard deviation of its logarithm (common practice, no source).
const VEIL: f64 = 0.000_4;
const LN_VEIL_SD: f64 = 1.0;
/// Noise that was cut off at black, one standard deviation of it in linear light, and of its logarithm (common practice, no source):
/// smoothing and JPEG hide the noise that lifted what is dark, so that its pixels do not tell.
const CUT_NOISE: f64 = 0.000_3;
const LN_CUT_NOISE_SD: f64 = 1.2;
/// Numbers beside those of the bend: ink over paper, the veil, the noise that was cut off.
const BESIDE: usize = 3;
/// A photo that is as likely plain as this is not taken to be bent (our choice, no source).
const LEAST_PLAIN: f64 = 0.05;
/// Light below this counts as this in a logarithm.
const LEAST_LIGHT: f64 = 1e-4;
/// The lamp gives paper this much light at the least.
const LEAST_LIT: f64 = 1e-7;

/// Light of a code, both 0 to 1.
type CodedLight = fn(f64) -> f64;
type Covariance = SMatrix<f64, KNOTS, KNOTS>;

/// A photo's response, and what there is to say of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tone {
    pub(crate) response: Response,
    /// Ink over paper, and one standard deviation of its logarithm, where the photo is plain.
    ratio: f64,
    ln_ratio_sd: f64,
    /// Misfit that the best curve leaves over the most that a single curve leaves, where no single curve does.
    beyond: Option<f64>,
}

/// One kind of response before anything is seen: a bend about a mean one, by `free` numbers of unit size that `root` makes it of.
struct Kind {
    likely: f64,
    about: SVector<f64, KNOTS>,
    root: Covariance,
    free: usize,
}

/// A kind of response with its fit, for one unevenness.
#[derive(Clone)]
struct Weighed {
    is_plain: bool,
    ln_weight: f64,
    bend: SVector<f64, KNOTS>,
    covariance: Covariance,
}

impl Kind {
    /// What the file states comes first.
    fn all() -> Vec<Self> {
        let smooth = |about, size: f64, likely| {
            Some(Self {
                likely,
                about,
                root: beforehand(size).cholesky()?.l(),
                free: KNOTS,
            })
        };
        let none = SVector::zeros();
        let shoulder = Self {
            likely: SHOULDER,
            about: none,
            root: Covariance::from_fn(|knot_of, n| {
                let reach = SHOULDER_REACHES.get(n);
                reach.map_or(0.0, |reach| SHOULDER_SIZE * (knot(knot_of) / reach).exp())
            }),
            free: SHOULDER_REACHES.len(),
        };
        let near = std::iter::once((none, PLAIN)).chain(PUBLISHED.map(|(light, likely)| (bend_of(light), likely)));
        near.map(|(about, likely)| smooth(about, NEAR, likely))
            .chain(SIZES.map(|(size, likely)| smooth(none, size, likely)))
            .flatten()
            .chain([shoulder])
            .collect()
    }

    fn weighed(&self, fit: &Fit, patches: usize, unevenness: f64, is_plain: bool) -> Weighed {
        let numbers = SVector::from_fn(|n, _| if n < self.free { fit.parameters[BESIDE + n] } else { 0.0 });
        let free = Covariance::from_fn(|a, b| {
            if a.max(b) < self.free {
                fit.covariance[(BESIDE + a, BESIDE + b)]
            } else {
                0.0
            }
        });
        Weighed {
            is_plain,
            ln_weight: self.likely.ln() + ln_evidence(fit) - patches as f64 * unevenness.ln(),
            bend: self.about + self.root * numbers,
            covariance: self.root * free * self.root.transpose(),
        }
    }
}

impl Tone {
    /// Of the patches of a photo; with none, what is known beforehand.
    #[must_use]
    pub fn of(patches: &[Patch]) -> Self {
        let patches: Vec<Seen> = patches.iter().map(Seen::of).collect();
        let kinds = Kind::all();
        let [.., most_uneven] = UNEVENNESS;
        let straight = Kind {
            likely: 1.0,
            about: SVector::zeros(),
            root: Covariance::zeros(),
            free: 0,
        };
        let best = |fits: Vec<Fit>| fits.into_iter().min_by(|a, b| a.cost.total_cmp(&b.cost));
        let straight = best(fits(&patches, &straight, most_uneven, &starts()));
        let (ratio, ln_ratio_sd) = straight.as_ref().map_or((RATIO, LN_RATIO_SD), |fit| {
            (
                Print::of(&fit.parameters).ratio,
                LN_RATIO_SD * fit.covariance[(0, 0)].sqrt(),
            )
        });
        let straight_cost = straight.as_ref().map_or(0.0, |fit| fit.cost);
        let of_kind = |(n, kind): (usize, &Kind)| {
            let (mut least_cost, mut weighed) = (f64::INFINITY, Vec::new());
            let mut from = starts();
            for unevenness in UNEVENNESS.into_iter().rev() {
                // Where patches are taken to be more even, the minima lie near those where they are less so.
                let found = fits(&patches, kind, unevenness, &from);
                from = found.iter().map(|fit| fit.parameters.clone()).collect();
                let Some(fit) = best(found) else {
                    continue;
                };
                if unevenness == most_uneven {
                    least_cost = fit.cost;
                }
                weighed.push(kind.weighed(&fit, patches.len(), unevenness, n == 0));
            }
            (least_cost, weighed)
        };
        let (costs, weighed): (Vec<f64>, Vec<Vec<Weighed>>) = kinds.par_iter().enumerate().map(of_kind).unzip();
        let cost = costs.into_iter().fold(straight_cost, f64::min);
        let weighed = weighed.concat();
        let most = MISFIT_BESIDE + MISFIT_OF_PATCH * patches.len() as f64;
        let beyond = (cost > most && cost > MISFIT_OF_STRAIGHT * straight_cost).then_some(cost / most);
        let response = response(&weighed, beyond);
        Self {
            response,
            ratio,
            ln_ratio_sd,
            beyond,
        }
    }

    /// What there is to say, where the photo is not plain.
    #[must_use]
    pub fn warning(&self) -> Option<Warning> {
        if self.beyond.is_some() {
            return Some(Warning::ToneUneven);
        }
        if self.response.is_bent() {
            return Some(Warning::ToneBent {
                bright_over_dark: self.response.bright_over_dark(),
            });
        }
        let spread = self.ln_ratio_sd.exp();
        let unusual = self.ratio * spread < *USUAL_RATIO.start() || self.ratio / spread > *USUAL_RATIO.end();
        unusual.then_some(Warning::InkUnusual { ratio: self.ratio })
    }
}

/// Covariance of the bend at its knots before anything is seen: neighbours hang together by Matérn's function of order 3/2 (Rasmussen
/// and Williams, as above, 4.2), in which small turns are as usual as real curves have them.
fn beforehand(size: f64) -> Covariance {
    let at = |n: usize| size * (1.0 + MORE_AT_FULL * (knot(n) / HIGHLIGHTS).exp());
    Covariance::from_fn(|a, b| {
        let apart = 3f64.sqrt() * (knot(a) - knot(b)).abs() / REACH;
        at(a) * at(b) * (1.0 + apart) * (-apart).exp()
    })
}

/// Light of a code, both 0 to 1, by ITU-R BT.709's camera curve (from memory).
fn light_by_bt709(code: f64) -> f64 {
    if code < 0.081 {
        code / 4.5
    } else {
        ((code + 0.099) / 1.099).powf(1.0 / 0.45)
    }
}

/// By a power; which, moves no inflection.
fn light_by_power(code: f64) -> f64 {
    code.powf(2.2)
}

/// ln slope of ln light over ln nominal light where codes stand for light by another curve than sRGB's.
fn bend_of(light: CodedLight) -> SVector<f64, KNOTS> {
    const STEP: f64 = 0.01;
    SVector::from_fn(|n, _| {
        // At full scale from below.
        let high = (knot(n) + STEP).min(0.0);
        let [above, below] = [high, high - 2.0 * STEP].map(|ln| light(srgb_from_linear(ln.exp())).ln());
        ((above - below) / (2.0 * STEP)).ln()
    })
}

/// ln of the likelihood with all parameters averaged out, but for a constant that all sizes share; priors have unit size.
fn ln_evidence(fit: &Fit) -> f64 {
    let determinant = fit
        .covariance
        .clone()
        .cholesky()
        .map_or(1.0, |factor| factor.l().determinant());
    determinant.max(1e-300).ln() - fit.cost
}

/// What holds for all patches beside the curve, all in linear light.
#[derive(Debug, Clone, Copy)]
struct Print {
    /// Ink over paper.
    ratio: f64,
    veil: f64,
    /// One standard deviation of the noise that was cut off at black.
    cut_noise: f64,
}

impl Print {
    /// Of numbers of unit size.
    fn of(p: &[f64]) -> Self {
        Self {
            ratio: (RATIO.ln() + LN_RATIO_SD * p[0]).exp(),
            veil: (VEIL.ln() + LN_VEIL_SD * p[1]).exp(),
            cut_noise: (CUT_NOISE.ln() + LN_CUT_NOISE_SD * p[2]).exp(),
        }
    }

    /// Light that is as bright as this, with the noise below black gone; and what one more of the light and of the noise does to it: by
    /// a censored variable's mean, z + φ(z) − z Q(z), as for [`crate::fit::lift_at_zero`].
    fn lifted(&self, light: f64) -> Lifted {
        /// From so many standard deviations on nothing is cut off, to the last digit.
        const FAR: f64 = 9.0;
        let z = light / self.cut_noise;
        if z > FAR {
            return Lifted {
                light,
                by_light: 1.0,
                by_noise: 0.0,
            };
        }
        let (density, tail) = (normal_density(z), normal_tail(z));
        Lifted {
            light: light + self.cut_noise * (density - z * tail),
            by_light: 1.0 - tail,
            by_noise: density,
        }
    }
}

/// Light with the noise below black gone, and what one more of the light and of one standard deviation of the noise adds to it.
struct Lifted {
    light: f64,
    by_light: f64,
    by_noise: f64,
}

/// Where a fit begins: the veil, noise and a bend can stand for each other, so that there may be more than one minimum.
fn starts() -> Vec<Vec<f64>> {
    [[-1.4, 0.9], [0.9, -1.0]]
        .map(|[veil, cut_noise]| vec![0.0, veil, cut_noise])
        .to_vec()
}

/// Fits ln of ink over paper, of the veil and of the noise that was cut off, and the numbers of a kind of bend: the minima that are
/// reached from these starts, whose last numbers may be left out for 0.
fn fits(patches: &[Seen], kind: &Kind, unevenness: f64, starts: &[Vec<f64>]) -> Vec<Fit> {
    /// Minima this close are one, in units of the priors' standard deviations.
    const SAME: f64 = 1e-3;
    let count = BESIDE + kind.free;
    let curve = |p: &[f64]| {
        let numbers = SVector::<f64, KNOTS>::from_fn(|n, _| p.get(BESIDE + n).copied().unwrap_or(0.0));
        Curve::new((kind.about + kind.root * numbers).into())
    };
    let residuals = |p: &[f64]| {
        let (curve, print) = (curve(p), Print::of(p));
        let mut residuals: Vec<f64> = patches
            .iter()
            .map(|&patch| Miss::of(patch, &curve, &print).sds / unevenness)
            .collect();
        residuals.extend_from_slice(p);
        residuals
    };
    let both = |p: &[f64]| {
        let (curve, print) = (curve(p), Print::of(p));
        let mut residuals = Vec::with_capacity(patches.len() + count);
        let mut slopes = DMatrix::zeros(patches.len() + count, count);
        for (row, &patch) in patches.iter().enumerate() {
            let miss = Miss::of(patch, &curve, &print);
            residuals.push(miss.sds / unevenness);
            let (by_print, by_knots) = miss.slopes(&print, &curve);
            for (n, by) in by_print.into_iter().enumerate() {
                slopes[(row, n)] = by / unevenness;
            }
            let by_numbers = kind.root.tr_mul(&SVector::from(by_knots));
            for n in 0..kind.free {
                slopes[(row, BESIDE + n)] = by_numbers[n] / unevenness;
            }
        }
        for n in 0..count {
            slopes[(patches.len() + n, n)] = 1.0;
        }
        residuals.extend_from_slice(p);
        (residuals, slopes)
    };
    let problem = Problem {
        residuals: &residuals,
        priors: count,
        slopes: Slopes::Together(&both),
        loss: Loss::Cauchy { scale: 2.0 },
        settled: TO_A_THOUSANDTH,
    };
    let mut found: Vec<Fit> = Vec::new();
    for start in starts {
        let mut start = start.clone();
        start.resize(count, 0.0);
        let Some(fit) = problem.solve(&start) else {
            continue;
        };
        let apart = |other: &Fit| {
            let parameters = other.parameters.iter().zip(&fit.parameters);
            parameters.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
        };
        if found.iter().all(|other| apart(other) > SAME) {
            found.push(fit);
        }
    }
    found
}

/// A patch as fits need it.
#[derive(Debug, Clone, Copy)]
struct Seen {
    /// ln nominal light of paper and ink.
    ln_paper: f64,
    ln_ink: f64,
    /// What one of ln of the ink's nominal light is, in standard deviations.
    unit: f64,
    /// How much darker the ink is than what counts as light, in ln light.
    darker: f64,
    blurred: f64,
}

impl Seen {
    fn of(patch: &Patch) -> Self {
        let (paper, ink) = (patch.paper.max(2.0 * LEAST_LIGHT), patch.ink.max(LEAST_LIGHT));
        let sd = (UNEVEN_SD * ink)
            .hypot(STEP_SD)
            .hypot(patch.ink_sd)
            .hypot(ink * patch.paper_sd / paper);
        Self {
            ln_paper: paper.ln(),
            ln_ink: ink.ln(),
            unit: ink / sd,
            darker: (patch.ink - ink) / ink,
            blurred: patch.blurred,
        }
    }
}

/// How far a patch's ink is from where its paper puts it.
struct Miss {
    /// In standard deviations of its nominal light.
    sds: f64,
    seen: Seen,
    /// What the ink's light, expected from the paper's, is off by, over its slope: in ln light; half of what one more of ln light does.
    off: f64,
    half_by_ln: f64,
    /// The paper's light as seen, and as lit; the share of the paper's light that the ink has; and its light.
    paper: f64,
    paper_lifted: Lifted,
    lit: f64,
    share: f64,
    ink_lifted: Lifted,
}

impl Miss {
    fn of(seen: Seen, curve: &Curve, print: &Print) -> Self {
        let (ln_ink_light, slope) = curve.ln_light(seen.ln_ink);
        let paper = curve.ln_light(seen.ln_paper).0.exp();
        let paper_lifted = print.lifted(paper);
        let lit = (2.0 * paper - paper_lifted.light - print.veil).max(LEAST_LIT);
        let share = print.ratio * (1.0 - seen.blurred) + seen.blurred;
        let ink_lifted = print.lifted(share * lit + print.veil);
        let root = (ln_ink_light.exp() / ink_lifted.light).sqrt();
        let off = (root - 1.0 / root) / slope;
        Self {
            // A patch darker than what counts as light is as dark as it says.
            sds: (off + seen.darker) * seen.unit,
            seen,
            off,
            half_by_ln: 0.5 * (root + 1.0 / root) / slope,
            paper,
            paper_lifted,
            lit,
            share,
            ink_lifted,
        }
    }

    /// What the numbers of a print, and each knot of a curve, do to it, in standard deviations.
    fn slopes(&self, print: &Print, curve: &Curve) -> ([f64; BESIDE], Bend) {
        let (of_ink, of_paper) = (
            curve.with_slopes(self.seen.ln_ink),
            curve.with_slopes(self.seen.ln_paper),
        );
        // What one more of ln of the expected light does.
        let by_expected = -self.seen.unit * self.half_by_ln / self.ink_lifted.light;
        let by_uncut = by_expected * self.ink_lifted.by_light;
        let by_lit = if self.lit > LEAST_LIT {
            by_uncut * self.share
        } else {
            0.0
        };
        let by_print = [
            by_uncut * (1.0 - self.seen.blurred) * self.lit * print.ratio * LN_RATIO_SD,
            (by_uncut - by_lit) * print.veil * LN_VEIL_SD,
            (by_expected * self.ink_lifted.by_noise - by_lit * self.paper_lifted.by_noise)
                * print.cut_noise
                * LN_CUT_NOISE_SD,
        ];
        let by_ln_paper = by_lit * (2.0 - self.paper_lifted.by_light) * self.paper;
        let by_knots =
            |OfKnots {
                 ln_light_by,
                 ln_slope_by,
                 ..
             }: &OfKnots,
             n: usize| { self.seen.unit * (self.half_by_ln * ln_light_by[n] - self.off * ln_slope_by[n]) };
        let bend = std::array::from_fn(|n| by_knots(&of_ink, n) + by_ln_paper * of_paper.ln_light_by[n]);
        (by_print, bend)
    }
}

/// The response that follows from all kinds. Unless the photo is surely bent its light is left as it is, so that
/// photos of one camera are read alike, and what it may be bent by all the same goes into the uncertainty.
///
/// `beyond`: as in [`Tone`]. What no single curve explains is not corrected by one.
fn response(weighed: &[Weighed], beyond: Option<f64>) -> Response {
    /// What gives less than this share of the variance is left out.
    const LEAST_SHARE: f64 = 1e-3;
    let most = weighed
        .iter()
        .map(|one| one.ln_weight)
        .fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = weighed.iter().map(|one| (one.ln_weight - most).exp()).sum();
    let shares: Vec<f64> = weighed.iter().map(|one| (one.ln_weight - most).exp() / total).collect();
    let mut bend = SVector::<f64, KNOTS>::zeros();
    let plain: f64 = weighed
        .iter()
        .zip(&shares)
        .filter_map(|(one, share)| one.is_plain.then_some(share))
        .sum();
    let is_bent = plain < LEAST_PLAIN;
    if beyond.is_none() && is_bent {
        for (one, share) in weighed.iter().zip(&shares) {
            bend += *share * one.bend;
        }
    }
    let mut covariance = Covariance::zeros();
    for (one, share) in weighed.iter().zip(&shares) {
        let off = one.bend - bend;
        covariance += *share * (one.covariance + off * off.transpose());
    }
    if let Some(beyond) = beyond {
        covariance += beforehand(LOCAL_SIZE * beyond.sqrt());
    }
    let eigen = covariance.symmetric_eigen();
    let all: f64 = eigen.eigenvalues.iter().map(|value| value.max(0.0)).sum();
    let effects = (0..KNOTS)
        .filter(|&n| eigen.eigenvalues[n] > LEAST_SHARE * all && all > 0.0)
        .map(|n| -> Bend {
            let effect = eigen.eigenvectors.column(n) * eigen.eigenvalues[n].sqrt();
            std::array::from_fn(|k| effect[k])
        });
    let of_camera = !is_bent && beyond.is_none();
    Response::new(bend.into(), effects.collect(), of_camera)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::linear_from_srgb;

    fn patch(paper: f64, ink: f64) -> Patch {
        Patch {
            paper,
            paper_sd: 0.0,
            ink,
            ink_sd: 0.0,
            blurred: 0.0,
        }
    }

    const LIGHT: [f64; 12] = [0.004, 0.005, 0.006, 0.008, 0.06, 0.08, 0.11, 0.16, 0.22, 0.3, 0.4, 0.5];

    /// Patches of a print with ink over paper of 0.06 in light from 0.004 to 0.5, through a curve.
    fn seen(veil: f64, curve: impl Fn(f64) -> f64) -> Vec<Patch> {
        LIGHT
            .map(|light| patch(curve(light + veil), curve(0.06 * light + veil)))
            .to_vec()
    }

    /// One standard deviation of ln slope between two places of ln nominal light.
    fn slope_sd(tone: &Tone, from: f64, to: f64) -> f64 {
        let at = |effect: &Bend, ln: f64| {
            let place = (ln - knot(0)) / (knot(1) - knot(0));
            let below = place as usize;
            effect[below] + (effect[below + 1] - effect[below]) * (place - below as f64)
        };
        let moves = tone
            .response
            .effects
            .iter()
            .map(|effect| (at(effect, to) - at(effect, from)).powi(2));
        moves.sum::<f64>().sqrt()
    }

    /// Against central differences, for patches and numbers of all kinds.
    #[test]
    fn what_each_number_does_to_a_miss_is_told() {
        use rand::{RngExt, SeedableRng};
        const STEP: f64 = 1e-6;
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(3);
        let mut draw = || 2.0 * rng.random::<f64>() - 1.0;
        for _ in 0..200 {
            let paper = (-3.0 + 2.5 * draw()).exp();
            let patch = Patch {
                paper,
                paper_sd: 0.01 * paper,
                ink: paper * (-2.8 + 0.5 * draw()).exp(),
                ink_sd: 0.0005,
                blurred: 0.02 * (1.0 + draw()),
            };
            let p: [f64; BESIDE] = std::array::from_fn(|_| 1.5 * draw());
            let bend: Bend = std::array::from_fn(|_| 0.4 * draw());
            let miss = |p: &[f64; BESIDE], bend: Bend| Miss::of(Seen::of(&patch), &Curve::new(bend), &Print::of(p)).sds;
            let (print, curve) = (Print::of(&p), Curve::new(bend));
            let (by_print, by_knots) = Miss::of(Seen::of(&patch), &curve, &print).slopes(&print, &curve);
            let check = |told: f64, at: &dyn Fn(f64) -> f64| {
                let plain = (at(STEP) - at(-STEP)) / (2.0 * STEP);
                assert!(
                    (told - plain).abs() < 1e-5 * (1.0 + plain.abs()),
                    "{patch:?} {p:?} {bend:?}: {told} {plain}"
                );
            };
            for n in 0..BESIDE {
                check(by_print[n], &|by| {
                    let mut moved = p;
                    moved[n] += by;
                    miss(&moved, bend)
                });
            }
            for n in 0..KNOTS {
                check(by_knots[n], &|by| {
                    let mut moved = bend;
                    moved[n] += by;
                    miss(&p, moved)
                });
            }
        }
    }

    #[test]
    fn plain_light_stays_as_it_is_whatever_the_veil() {
        for veil in [1e-5, 0.000_3, 0.002] {
            let tone = Tone::of(&seen(veil, |light| light));
            assert!(
                !tone.response.is_bent() && tone.warning().is_none(),
                "{tone:?} for {veil}"
            );
            assert!((tone.ratio / 0.06).ln().abs() < 0.15, "{tone:?}");
            assert!(slope_sd(&tone, -4.0, -2.0) < 0.06, "{}", slope_sd(&tone, -4.0, -2.0));
        }
    }

    /// 5x/(1 + 4x): light rises 1 + 4x times as steeply, in logarithms, as what is seen of it, by hand.
    #[test]
    fn a_shoulder_is_undone() {
        let curve = |light: f64| 5.0 * light / (1.0 + 4.0 * light);
        let tone = Tone::of(&seen(0.000_3, curve));
        assert!(
            tone.response.is_bent() && matches!(tone.warning(), Some(Warning::ToneBent { .. })),
            "{tone:?}"
        );
        let found = |light: f64| {
            let nominal = [curve(light) as f32, curve(light * 1.02) as f32];
            let laid_on = tone.response.as_laid_on().unwrap();
            let slope = |[below, above]: [f32; 2]| f64::from(above / below).ln();
            slope(nominal.map(|nominal| laid_on.light(nominal))) / slope(nominal)
        };
        let truth = ((1.0 + 4.0 * 0.25) / (1.0 + 4.0 * 0.03_f64)).ln();
        let told = (found(0.25) / found(0.03)).ln();
        let sd = slope_sd(&tone, curve(0.03).ln(), curve(0.25).ln());
        assert!(
            (told - truth).abs() < 2.0 * sd.max(0.05) && sd < 0.15,
            "{told} for {truth} ± {sd}"
        );
    }

    /// Videos' curve has its published values, and is laid on sRGB's as it should.
    #[test]
    fn published_curves_are_theirs() {
        // BT.709: codes 0.081 and 0.705515 stand for 0.018 and 0.5, by hand.
        assert!((light_by_bt709(0.081) - 0.018).abs() < 1e-4 && (light_by_bt709(0.705_515) - 0.5).abs() < 1e-5);
        // Nominal light of a code and its light by the other curve: the curve's integral must join them.
        let curve = Curve::new(bend_of(light_by_bt709).into());
        for code in [0.3, 0.5, 0.8] {
            let nominal = linear_from_srgb(code).ln();
            let told = curve.ln_light(nominal).0;
            assert!((told - light_by_bt709(code).ln()).abs() < 0.03, "{code}: {told}");
        }
    }

    #[test]
    fn what_marks_do_not_tell_stays_unsure() {
        let sure = slope_sd(&Tone::of(&seen(0.0, |light| light)), -4.0, -2.0);
        let none = Tone::of(&[]);
        assert!(!none.response.is_bent() && none.warning().is_none());
        let alike: Vec<Patch> = (0..12).map(|_| patch(0.2, 0.012)).collect();
        let open = [slope_sd(&none, -4.0, -2.0), slope_sd(&Tone::of(&alike), -4.0, -2.0)];
        assert!(open.iter().all(|sd| *sd > 3.0 * sure), "{open:?} {sure}");
    }

    #[test]
    fn sheets_of_unlike_ratio_are_no_curve() {
        let mut patches = seen(0.000_2, |light| light);
        for (n, patch) in patches.iter_mut().enumerate() {
            patch.ink *= if n % 2 == 0 { 1.12 } else { 0.88 };
        }
        let tone = Tone::of(&patches);
        assert_eq!(tone.warning(), Some(Warning::ToneUneven), "{tone:?}");
    }

    /// Ink of the dark sheets lifted by noise that was cut off at black, with what it is unsure by.
    #[test]
    fn lifted_dark_ink_is_no_edit() {
        let mut patches = seen(0.000_2, |light| light);
        for patch in &mut patches[..4] {
            patch.ink += 0.000_8;
            patch.ink_sd = 0.000_8;
        }
        assert_eq!(Tone::of(&patches).warning(), None);
    }

    /// The same where smoothing has hidden the noise, so that the pixels say that they are sure. The lift is drawn, not worked out.
    #[test]
    fn dark_ink_lifted_by_noise_that_smoothing_hid_is_no_curve() {
        use rand::{RngExt, SeedableRng};
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(5);
        for noise in [0.001, 0.001_5] {
            let mut cut = |light: f64| {
                let count = 20_000;
                let mut drawn = || (light + noise * rng.sample::<f64, _>(rand_distr::StandardNormal)).max(0.0);
                (0..count).map(|_| drawn()).sum::<f64>() / f64::from(count)
            };
            let veil = 0.000_2;
            let patches = LIGHT.map(|light| patch(cut(light + veil), cut(0.06 * light + veil)));
            assert!(patches[0].ink > 0.06 * LIGHT[0] + veil + 0.15 * noise, "{patches:?}");
            let tone = Tone::of(&patches);
            assert!(
                !tone.response.is_bent() && tone.warning().is_none(),
                "{tone:?} for {noise}"
            );
            assert!(slope_sd(&tone, -3.5, -1.5) < 0.08, "{}", slope_sd(&tone, -3.5, -1.5));
        }
    }

    #[test]
    fn uneven_patches_tell_less() {
        let [even, uneven] = [0.003, 0.04].map(|by| {
            let mut patches = seen(0.000_2, |light| light);
            for (n, patch) in patches.iter_mut().enumerate() {
                patch.ink *= 1.0 + if n % 3 == 0 { by } else { -0.5 * by };
            }
            slope_sd(&Tone::of(&patches), -4.0, -1.5)
        });
        assert!(uneven > 1.2 * even, "{even} {uneven}");
    }

    #[test]
    fn a_print_too_black_to_be_one_shows() {
        // A power over all light keeps the ratio one, but takes it to 0.06^1.5 = 0.0147.
        let tone = Tone::of(&seen(0.0, |light: f64| light.powf(1.5)));
        assert!(tone.warning().is_some(), "{tone:?}");
    }
}
