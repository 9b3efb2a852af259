//! Where a short piece of an edge has its step: a blurred step times an exponential slope of the light in both directions,
//! so that light that falls off across the sheet shifts nothing.
//!
//! The model is `exp(g·s + a·u) · (black + (white − black) · T)`, where `s` is the distance outward, `u` along, and
//! `T` is the share of white that the blur brings to the pixel: from outside the edge and, where the data cell
//! behind the border is white, from there. Blurring a step under an exponential slope shifts the Gaussian integral's
//! argument by `g·blur`; the fit takes that shift out again. A clipped pixel only says that the model must not be
//! below the clipping level there; then the contrast of other marks says how bright the white is.

use super::blur::gaussian;
use crate::fit::{Attempt, Ending, Marquardt, median_high};
use crate::wall::code::TAG_SIDE_CELLS;
use nalgebra::{SMatrix, SVector};

/// Parameters of a piece's fit, in this order: white and black level, place of the step (px outward), logarithmic slope
/// of the light across and along the edge (per px), blur (px).
const PARAMETERS: usize = 6;
const WHITE: usize = 0;
const BLACK: usize = 1;
const PLACE: usize = 2;
const BLUR: usize = 5;
type Parameters = SVector<f64, PARAMETERS>;
type Square = SMatrix<f64, PARAMETERS, PARAMETERS>;

/// Light at and above this counts as clipped: how bright it really was is not known. It is what an sRGB code of 253.3 stands
/// for, since JPEG leaves full scale a code or two short (common practice, no source).
pub(super) const CLIPPED: f64 = 0.985;
/// One standard deviation of the levels' prior, in units of the white level: as good as none.
const LEVEL_SD: f64 = 10.0;
/// Light that changes by more than e-fold within two cells is not expected: one standard deviation of the slopes, per cell
/// (no source; `a_cut_off_across_the_sheet_shifts_no_corner` holds it against a sharp cut-off).
const SLOPE_SD_PER_CELL: f64 = 0.5;
/// One standard deviation of a free blur, cells: it is at most the cell (no source).
const BLUR_SD_CELLS: f64 = 0.5;
/// And of a known one, px: as good as fixed.
const KNOWN_BLUR_SD_PX: f64 = 1e-3;
/// Least blur, px, below what there can be: a pixel's own width alone blurs by 1/√12 = 0.29.
const LEAST_BLUR_PX: f64 = 0.2;
/// A step is seen where white less black is this many standard deviations of its mean over the piece (no
/// source).
const SEEN_SDS: f64 = 4.0;
/// Once a step moves place and blur by less than these, px, another would not matter beside what is stated for a corner.
const SETTLED_PLACE_PX: f64 = 1e-4;
const SETTLED_BLUR_PX: f64 = 1e-3;
/// Common practice, no source.
const DAMPING: Marquardt = Marquardt {
    start: 1e-3,
    ease: 0.2,
    stiffen: 8.0,
    least: 1e-9,
    most: 1e6,
    most_steps: 30,
    most_attempts: 30,
};

/// What all marks of a photo have in common.
#[derive(Debug, Clone, Copy)]
pub(in crate::wall) struct Appearance {
    /// Standard deviation of the edges' blur, px.
    pub blur_px: f64,
    /// White level over black level.
    pub contrast: f64,
    /// How well that is known, one standard deviation.
    pub contrast_sd: f64,
}

impl Appearance {
    /// The middle one of several blurs (px) and contrasts, each by itself. How well another mark's contrast is known from it
    /// is not said yet.
    pub fn median(of: impl Iterator<Item = (f64, f64)>) -> Option<Self> {
        let (mut blurs, mut contrasts): (Vec<f64>, Vec<f64>) = of.unzip();
        Some(Self {
            blur_px: median_high(&mut blurs)?,
            contrast: median_high(&mut contrasts)?,
            contrast_sd: f64::INFINITY,
        })
    }
}

/// A pixel near an edge, or the mean of some that lie alike.
#[derive(Clone)]
pub(super) struct EdgePixel {
    /// How many pixels it stands for.
    pub count: f64,
    /// Sum of their squared differences from `light`.
    pub scatter: f64,
    /// Distance from the edge's line as known so far, px, positive outward.
    pub out_px: f64,
    /// Distance along it from its first corner, px.
    pub along_px: f64,
    /// How far it is along the tag's side, in cells from the first corner.
    pub along_cells: f64,
    /// Linear luminance.
    pub light: f64,
}

/// The black border at an edge.
pub(super) struct Border {
    /// Its width, px.
    pub cell_px: f64,
    /// Whether the cell behind it is white, cell by cell along the side.
    pub white_behind: [bool; TAG_SIDE_CELLS],
}

/// What a piece's fit knows about the blur.
#[derive(Clone, Copy)]
pub(super) enum BlurPrior {
    /// To be found, from the given start.
    Free,
    /// Found already.
    Known,
}

/// Where a piece of an edge has its step.
pub(super) struct EdgePoint {
    /// Along the edge from its first corner, px.
    pub along_px: f64,
    /// Outward from the edge's line as known so far, px.
    pub out_px: f64,
    /// One standard deviation of that, px.
    pub sd_px: f64,
    /// Standard deviation of the blur, px.
    pub blur_px: f64,
    /// White level over black level.
    pub contrast: f64,
}

/// Whether enough of a piece's white is clipped to hide how bright the white is: a twentieth of all pixels (no source).
pub(super) fn is_clipped(piece: &[EdgePixel]) -> bool {
    20.0 * count(piece.iter().filter(|pixel| pixel.light >= CLIPPED)) > count(piece.iter())
}

/// How many pixels these stand for.
fn count<'a>(pixels: impl Iterator<Item = &'a EdgePixel>) -> f64 {
    pixels.map(|pixel| pixel.count).sum()
}

/// Fits one piece by Levenberg–Marquardt: white and black level, place, blur, and the light's slope across and along the
/// edge. `None` where it shows no step within it.
pub(super) fn fit_step(
    border: &Border,
    pixels: &[EdgePixel],
    appearance: Appearance,
    blur: BlurPrior,
) -> Option<EdgePoint> {
    if count(pixels.iter().filter(|pixel| pixel.light < CLIPPED)) < 3.0 * PARAMETERS as f64 {
        return None;
    }
    let levels = Levels::of(pixels)?;
    let mut fit = StepFit::new(border, pixels, &levels, appearance, blur);
    let inverse = match DAMPING.minimise(|damping| fit.attempt(damping))? {
        Ending::StepsRanOut => Square::identity(),
        Ending::Settled | Ending::NoStepHelps => fit.undamped.cholesky()?.inverse(),
    };
    let state = fit.state;
    let sd_px = inverse[(PLACE, PLACE)].sqrt();
    let contrast = state[WHITE] - state[BLACK];
    // A step that its noise could have made, or that lies outside the window, is none.
    let seen = contrast > 0.0 && contrast * fit.count.sqrt() > SEEN_SDS * fit.noise.sqrt();
    let within = state[PLACE] < levels.reach_out_px && state[PLACE] > -levels.reach_in_px;
    (seen && within && sd_px.is_finite() && sd_px > 0.0).then_some(EdgePoint {
        along_px: fit.along_px,
        out_px: state[PLACE],
        sd_px,
        blur_px: state[BLUR],
        contrast: state[WHITE] / state[BLACK].max(1e-3),
    })
}

/// Where a piece has its step by its share of white alone, without a fit: in a tenth of a cell or so. `None` where it shows none.
pub(super) fn rough_step(piece: &[EdgePixel]) -> Option<EdgePoint> {
    let levels = Levels::of(piece)?;
    let number = count(piece.iter());
    Some(EdgePoint {
        along_px: piece.iter().map(|pixel| pixel.count * pixel.along_px).sum::<f64>() / number,
        out_px: levels.start_px,
        sd_px: 0.1 * (levels.reach_out_px + levels.reach_in_px),
        blur_px: f64::NAN,
        contrast: levels.white / levels.black.max(1e-3),
    })
}

/// Where a piece's fit starts.
struct Levels {
    /// How far the piece really reaches: the frame may cut the sheet's white short.
    reach_out_px: f64,
    reach_in_px: f64,
    /// Light of its outermost and innermost parts.
    white: f64,
    black: f64,
    /// Where their shares of the mean light put the step, px outward.
    start_px: f64,
}

impl Levels {
    /// Beyond this share of the reach on either side is where a level is taken.
    const OUTERMOST: f64 = 0.6;

    /// `None` where the outside is not brighter than the inside.
    fn of(pixels: &[EdgePixel]) -> Option<Self> {
        let (reach_out_px, reach_in_px) = pixels.iter().fold((0.0_f64, 0.0_f64), |(out_px, in_px), pixel| {
            (out_px.max(pixel.out_px), in_px.max(-pixel.out_px))
        });
        let mean_where = |keep: &dyn Fn(f64) -> bool| {
            let (sum, number) = pixels
                .iter()
                .filter(|pixel| keep(pixel.out_px))
                .fold((0.0, 0.0), |(sum, number), pixel| {
                    (sum + pixel.count * pixel.light, number + pixel.count)
                });
            (number > 0.0).then(|| sum / number)
        };
        let white = mean_where(&|out_px| out_px > Self::OUTERMOST * reach_out_px)?;
        let black = mean_where(&|out_px| out_px < -Self::OUTERMOST * reach_in_px)?;
        let mean = mean_where(&|_| true)?;
        let share = ((mean - black) / (white - black)).clamp(0.1, 0.9);
        (white > black && white > 0.0).then_some(Self {
            reach_out_px,
            reach_in_px,
            white,
            black,
            start_px: reach_out_px - share * (reach_out_px + reach_in_px),
        })
    }
}

/// The fit of one piece on its way.
struct StepFit<'a> {
    border: &'a Border,
    pixels: &'a [EdgePixel],
    /// How many there are.
    count: f64,
    /// The middle of them along the edge, px.
    along_px: f64,
    /// What light is counted in: the white level to start with.
    unit: f64,
    /// Priors keep a parameter that the piece does not show (a slope in a noisy dark piece) from running away.
    prior_mean: Parameters,
    prior_sd: Parameters,
    /// One more observation, white − contrast · black = 0, and its standard deviation, in units. The black level in that
    /// stays the starting one, so that the fit cannot loosen it.
    tie: Parameters,
    tie_sd: f64,
    state: Parameters,
    /// The normal equations there, of the data alone.
    equations: Equations,
    /// Variance of a pixel about the model, units².
    noise: f64,
    /// The normal matrix that the last attempt started from, with priors, before damping.
    undamped: Square,
}

impl<'a> StepFit<'a> {
    fn new(
        border: &'a Border,
        pixels: &'a [EdgePixel],
        levels: &Levels,
        appearance: Appearance,
        blur: BlurPrior,
    ) -> Self {
        let unit = levels.white;
        let blur_sd_px = match blur {
            BlurPrior::Free => BLUR_SD_CELLS * border.cell_px,
            BlurPrior::Known => KNOWN_BLUR_SD_PX,
        };
        let contrast_sd = if is_clipped(pixels) {
            appearance.contrast_sd
        } else {
            f64::INFINITY
        };
        let slope_sd = SLOPE_SD_PER_CELL / border.cell_px;
        let prior_mean = [1.0, levels.black / unit, levels.start_px, 0.0, 0.0, appearance.blur_px].into();
        let prior_sd = [LEVEL_SD, LEVEL_SD, border.cell_px, slope_sd, slope_sd, blur_sd_px].into();
        let mut tie = Parameters::zeros();
        tie[WHITE] = 1.0;
        tie[BLACK] = -appearance.contrast;
        let count = count(pixels.iter());
        let along_px = pixels.iter().map(|pixel| pixel.count * pixel.along_px).sum::<f64>() / count;
        let equations = normal_equations(border, pixels, along_px, unit, &prior_mean);
        Self {
            border,
            pixels,
            count,
            along_px,
            unit,
            prior_mean,
            prior_sd,
            tie,
            tie_sd: (contrast_sd * levels.black / unit).max(1e-6),
            state: prior_mean,
            noise: (equations.squares / count).max(1e-12),
            equations,
            undamped: Square::identity(),
        }
    }

    /// Chi-square of data and priors.
    fn cost(&self, equations: &Equations, state: &Parameters) -> f64 {
        equations.squares / self.noise
            + (state - self.prior_mean).component_div(&self.prior_sd).norm_squared()
            + (self.tie.dot(state) / self.tie_sd).powi(2)
    }

    /// Takes one step where that lowers the cost. `None` where the normal matrix is not positive definite.
    fn attempt(&mut self, damping: f64) -> Option<Attempt> {
        let mut matrix = self.equations.matrix / self.noise;
        let mut right = self.equations.right / self.noise;
        for index in 0..PARAMETERS {
            let weight = 1.0 / self.prior_sd[index].powi(2);
            matrix[(index, index)] += weight;
            right[index] -= weight * (self.state[index] - self.prior_mean[index]);
        }
        matrix += self.tie * self.tie.transpose() / (self.tie_sd * self.tie_sd);
        right -= self.tie * self.tie.dot(&self.state) / (self.tie_sd * self.tie_sd);
        self.undamped = matrix;
        for index in 0..PARAMETERS {
            matrix[(index, index)] *= 1.0 + damping;
        }
        let change = matrix.cholesky()?.solve(&right);
        let mut next = self.state + change;
        next[BLUR] = next[BLUR].clamp(LEAST_BLUR_PX, self.border.cell_px);
        let trial = normal_equations(self.border, self.pixels, self.along_px, self.unit, &next);
        let helps = self.cost(&trial, &next) <= self.cost(&self.equations, &self.state);
        if !helps {
            return Some(Attempt::Worse);
        }
        self.state = next;
        self.equations = trial;
        self.noise = (self.equations.squares / (self.count - PARAMETERS as f64)).max(1e-12);
        let settled = change[PLACE].abs() < SETTLED_PLACE_PX && change[BLUR].abs() < SETTLED_BLUR_PX;
        Some(if settled { Attempt::Settled } else { Attempt::Better })
    }
}

/// Sums of a least-squares fit: Gauss–Newton matrix, right-hand side, squared misses.
struct Equations {
    matrix: Square,
    right: Parameters,
    squares: f64,
}

/// The normal equations of a piece's fit at `state`; light is counted in `unit`s.
fn normal_equations(border: &Border, pixels: &[EdgePixel], along_px: f64, unit: f64, state: &Parameters) -> Equations {
    let [white, black, place, across, along, blur] = [state[0], state[1], state[2], state[3], state[4], state[5]];
    let mut equations = Equations {
        matrix: SMatrix::zeros(),
        right: SVector::zeros(),
        squares: 0.0,
    };
    let gaussian = gaussian();
    let (a_unit, a_blur) = (1.0 / unit, 1.0 / blur);
    for pixel in pixels {
        let slope = (across * pixel.out_px + along * (pixel.along_px - along_px)).exp();
        let outer = (pixel.out_px - place) * a_blur;
        let (outer_share, outer_rise) = gaussian.at(outer + across * blur);
        let inner = (place - border.cell_px - pixel.out_px) * a_blur;
        // Only where the blur reaches over the border is it worth asking what lies behind it.
        let (behind, (inner_share, inner_rise)) = if inner > -4.0 {
            let behind = border.white_share_behind(pixel.along_cells, blur / border.cell_px);
            (behind, gaussian.at(inner - across * blur))
        } else {
            (0.0, (0.0, 0.0))
        };
        let share = outer_share + behind * inner_share;
        let level = black + (white - black) * share;
        let miss = pixel.light * a_unit - slope * level;
        if pixel.light >= CLIPPED && miss <= 0.0 {
            continue;
        }
        let step = slope * (white - black);
        let gradient = Parameters::from([
            slope * share,
            slope * (1.0 - share),
            step * (behind * inner_rise - outer_rise) * a_blur,
            step * (outer_rise - behind * inner_rise) * blur + slope * level * pixel.out_px,
            slope * level * (pixel.along_px - along_px),
            step * (outer_rise * (across - outer * a_blur) - behind * inner_rise * (across + inner * a_blur)),
        ]);
        // Of the symmetric matrix only the lower half is summed.
        for column in 0..PARAMETERS {
            let weighed = pixel.count * gradient[column];
            for row in column..PARAMETERS {
                equations.matrix[(row, column)] += weighed * gradient[row];
            }
            equations.right[column] += weighed * miss;
        }
        equations.squares += pixel.count * miss * miss + pixel.scatter * a_unit * a_unit;
    }
    equations.matrix.fill_upper_triangle_with_lower_triangle();
    equations
}

impl Border {
    /// How white the data cells behind the border are at a place along the side, blurred along it; 0..1.
    fn white_share_behind(&self, along_cells: f64, blur_cells: f64) -> f64 {
        // Where cells side by side are alike, the end of one and the beginning of the next cancel.
        let gaussian = gaussian();
        let (mut share, mut before) = (0.0, false);
        for (index, white) in self.white_behind.into_iter().chain([false]).enumerate() {
            if white != before {
                let below = gaussian.at((index as f64 - along_cells) / blur_cells).0;
                share += if before { below } else { -below };
            }
            before = white;
        }
        share
    }
}
