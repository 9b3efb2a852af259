//! One edge of a mark's black border: the pixels beside it in short pieces, and the line through the pieces' steps.

use super::bins::{Binned, Bins, PARTS};
use super::step::{Appearance, BlurPrior, Border, EdgePixel, EdgePoint, fit_step, is_clipped, rough_step};
use crate::fit::median_high;
use crate::photo::Pixels;
use crate::wall::code::TAG_SIDE_CELLS;
use crate::wall::quad::Quad;
use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};

/// How far outside the black border's edge its fit looks, in cells. A sheet has at least one cell of white.
const REACH_OUT_CELLS: f64 = 0.75;
/// How far inside. The data cells begin at 1; where they are white, the fit knows of them.
const REACH_IN_CELLS: f64 = 0.75;
/// What a piece of an edge may be off by whatever its own fit says, px: the print's and the pixel grid's raggedness (no
/// source; `standard_deviations_are_honest` holds what comes of it against made photos).
const RAGGED_PX: f64 = 0.03;
/// Pixels that a piece of an edge should have: eight for each of a step's six parameters.
const PIECE_PIXELS: f64 = 48.0;
/// Pieces that an edge needs for a line with a scatter: two fix the line, and three are to spare.
const LEAST_PIECES: usize = 5;
/// A border narrower than this, px, is not resolved (no source): its step and the data cells' run into one another.
const LEAST_CELL_PX: f64 = 1.5;
/// In a border wider than this, px, a piece of its edge tells its blur and its place at once (tried on made photos, no source).
const WELL_RESOLVED_CELL_PX: f64 = 7.0;
/// A border is taken thinly by the times that it is wider than this, px: a piece keeps [`PIECE_PIXELS`], and more.
const THIN_CELL_PX: f64 = 8.0;
/// A piece whose step is known less well than this, one standard deviation in cells, was led by noise (no source).
const MOST_STEP_SD_CELLS: f64 = 0.3;
/// Tukey's biweight keeps 95 % efficiency on clean data with this (P. W. Holland and R. E. Welsch, Commun. Statist. A 6
/// (1977) 813).
const TUKEY: f64 = 4.685;
/// Rounds of reweighting; from all pieces alike, the weights settle in a few (common practice, no source).
const REWEIGHTINGS: usize = 10;
/// Makes the median of absolute values a standard deviation for a Gaussian: 1 / Φ⁻¹(3/4).
const SD_OF_MEDIAN_ABSOLUTE: f64 = 1.4826;
/// A piece of this biweight still counts as one that agrees: it lies within 3.5 scales of the line, (1 − (3.5/4.685)²)².
const AGREES: f64 = 0.2;

/// A straight line in the photo with the covariance of its fit.
#[derive(Clone, Copy)]
pub(super) struct EdgeLine {
    /// A point that offsets and slopes are counted from, px.
    origin: Vector2<f64>,
    /// Unit vector along the line before the fit's small turn.
    along: Vector2<f64>,
    /// Unit vector outward.
    out: Vector2<f64>,
    /// Offset outward at the origin, px, and its change per px along.
    offset: Vector2<f64>,
    /// Their covariance.
    covariance: Matrix2<f64>,
}

impl EdgeLine {
    /// The point where two lines meet, px, and the standard deviation of one coordinate of it.
    pub fn intersect(&self, other: &EdgeLine) -> Option<(Vector2<f64>, f64)> {
        // On each line out·(p − origin) − slope · along·(p − origin) = offset: two equations in the point.
        let row = |line: &EdgeLine| line.out - line.along * line.offset.y;
        let (first, second) = (row(self), row(other));
        let matrix = Matrix2::new(first.x, first.y, second.x, second.y);
        let inverse = matrix.try_inverse()?;
        let right = |line: &EdgeLine, row: Vector2<f64>| line.offset.x + row.dot(&line.origin);
        let point = inverse * Vector2::new(right(self, first), right(other, second));
        let variance = |line: &EdgeLine| {
            let lever = Vector2::new(1.0, line.along.dot(&(point - line.origin)));
            lever.dot(&(line.covariance * lever))
        };
        let scatter = Matrix2::from_diagonal(&Vector2::new(variance(self), variance(other)));
        let covariance = inverse * scatter * inverse.transpose();
        let sd_px = (covariance.trace() / 2.0).sqrt();
        (point.iter().all(|value| value.is_finite()) && sd_px.is_finite()).then_some((point, sd_px))
    }
}

/// Which pixels of an edge are taken.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Gathering {
    /// Each by itself: the plain way.
    One,
    /// Those that lie alike as one.
    Alike,
    /// The same, and of a wide border's only some along it: enough to know where the edge is.
    Thin,
}

/// One side of the black border, from the corner with its number clockwise to the next.
pub(super) struct BorderEdge {
    side: usize,
    origin: Vector2<f64>,
    along: Vector2<f64>,
    out: Vector2<f64>,
    length_px: f64,
    border: Border,
}

impl BorderEdge {
    /// The side numbered `side`, 0 to 3 from the top clockwise, of a tag with these corners.
    pub fn new(side: usize, corners_px: &Quad, cells: &[[bool; TAG_SIDE_CELLS]; TAG_SIDE_CELLS]) -> Option<Self> {
        let origin = Vector2::from(*corners_px.get(side)?);
        let step = Vector2::from(*corners_px.get((side + 1) % 4)?) - origin;
        let length_px = step.norm();
        let along = step.try_normalize(1.0)?;
        let last = TAG_SIDE_CELLS - 1;
        let mut white_behind = [false; TAG_SIDE_CELLS];
        for (index, white) in white_behind.iter_mut().enumerate() {
            let (row, column) = match side {
                0 => (1, index),
                1 => (index, last - 1),
                2 => (last - 1, last - index),
                _ => (last - index, 1),
            };
            *white = !*cells.get(row)?.get(column)?;
        }
        // The border's width as seen along the normal: the two neighbouring sides' mean, over eight cells.
        let out = Vector2::new(along.y, -along.x);
        let before = Vector2::from(*corners_px.get((side + 3) % 4)?);
        let after = Vector2::from(*corners_px.get((side + 2) % 4)?);
        let depth_px = -(out.dot(&(before - origin)) + out.dot(&(after - origin))) / 2.0;
        let cell_px = depth_px / TAG_SIDE_CELLS as f64;
        (cell_px > LEAST_CELL_PX).then_some(Self {
            side,
            origin,
            along,
            out,
            length_px,
            border: Border { cell_px, white_behind },
        })
    }

    /// The pixels near the edge, in pieces along it, those that lie alike as one where `gathering` says so. `measured` is what is known of
    /// the edge's blur. The ends, where the next side's edge comes in, are left out.
    pub fn collect(
        &self,
        pixels: &Pixels,
        to_cells: &Matrix3<f64>,
        gathering: Gathering,
        measured: Option<Appearance>,
    ) -> Vec<Vec<EdgePixel>> {
        let along_cells = |along_px: f64, out_px: f64| self.along_cells(to_cells, along_px, out_px);
        let count = self.pieces();
        if gathering == Gathering::One {
            let mut pieces: Vec<Vec<EdgePixel>> = vec![Vec::new(); count];
            self.each_pixel(pixels, 1, |part, out_px, along_px, light| {
                if let Some(piece) = pieces.get_mut(part / PARTS) {
                    piece.push(EdgePixel {
                        count: 1.0,
                        scatter: 0.0,
                        out_px,
                        along_px,
                        along_cells: along_cells(along_px, out_px),
                        light,
                    });
                }
            });
            return pieces;
        }
        let [reach_in_px, reach_out_px] = self.reach_px();
        let bins = Bins::new(
            [-reach_in_px, reach_out_px],
            self.border.cell_px,
            self.blur_px(measured),
            self.is_well_resolved(),
        );
        let mut binned = Binned::new(&bins, count);
        let every = match gathering {
            Gathering::Thin => (self.border.cell_px / THIN_CELL_PX) as usize,
            _ => 1,
        };
        self.each_pixel(pixels, every.max(1), |part, out_px, along_px, light| {
            binned.add(part, out_px, along_px, light);
        });
        binned.into_pieces(along_cells)
    }

    /// How far the pixels near the edge reach inward and outward, px.
    fn reach_px(&self) -> [f64; 2] {
        [REACH_IN_CELLS, REACH_OUT_CELLS].map(|cells| cells * self.border.cell_px)
    }

    /// What is left out at either end, px.
    fn end_px(&self) -> f64 {
        0.5 * self.border.cell_px
    }

    /// How many pieces it has: of half a cell, or more of a small tag's, so that each has pixels enough for a fit of its own. Shorter would
    /// only be noisier.
    fn pieces(&self) -> usize {
        let [reach_in_px, reach_out_px] = self.reach_px();
        let piece_px = (0.5 * self.border.cell_px).max(PIECE_PIXELS / (reach_out_px + reach_in_px));
        let used_px = self.length_px - 2.0 * self.end_px();
        ((used_px / piece_px).floor() as usize).max(LEAST_PIECES)
    }

    /// Calls `take` with the part, px outward and px along, and light of the pixels near the edge: all across it, and each `every`th
    /// along it.
    fn each_pixel(&self, pixels: &Pixels, every: usize, mut take: impl FnMut(usize, f64, f64, f64)) {
        let [reach_in_px, reach_out_px] = self.reach_px();
        let end_px = self.end_px();
        let used_px = self.length_px - 2.0 * end_px;
        let parts_a_px = (PARTS * self.pieces()) as f64 / used_px;
        let ends_px = [0.0, self.length_px];
        let corners = ends_px.map(|along_px| {
            [-reach_in_px, reach_out_px].map(|out_px| self.origin + self.along * along_px + self.out * out_px)
        });
        let corners = corners.as_flattened();
        let far = Vector2::repeat(f64::INFINITY);
        let least = corners.iter().fold(far, |least, corner| least.inf(corner));
        let most = corners.iter().fold(-far, |most, corner| most.sup(corner));
        let [width_px, height_px] = pixels.size_px();
        let [every_column, every_row] = if self.along.x.abs() > self.along.y.abs() {
            [every, 1]
        } else {
            [1, every]
        };
        let columns = pixel_range(least.x, most.x, width_px);
        let rows = pixel_range(least.y, most.y, height_px);
        let part = pixels.part(columns.clone(), rows.clone(), 1.0);
        let lines = rows.zip(part.values.chunks_exact(part.width_px.max(1)));
        for (row, line) in lines.step_by(every_row) {
            for (column, &light) in columns.clone().zip(line).step_by(every_column) {
                let from_origin = Vector2::new(column as f64, row as f64) - self.origin;
                let (along_px, out_px) = (self.along.dot(&from_origin), self.out.dot(&from_origin));
                let used_px_along = along_px - end_px;
                if out_px > reach_out_px || out_px < -reach_in_px || !(0.0..used_px).contains(&used_px_along) {
                    continue;
                }
                take(
                    (used_px_along * parts_a_px) as usize,
                    out_px,
                    along_px,
                    f64::from(light),
                );
            }
        }
    }

    /// How far a place is along the tag's side, in cells from the first corner.
    fn along_cells(&self, to_cells: &Matrix3<f64>, along_px: f64, out_px: f64) -> f64 {
        let at = self.origin + self.along * along_px + self.out * out_px;
        let projected = to_cells * Vector3::new(at.x, at.y, 1.0);
        let [x, y] = [projected.x, projected.y].map(|share| share / projected.z);
        let share = match self.side {
            0 => x,
            1 => y,
            2 => 1.0 - x,
            _ => 1.0 - y,
        };
        share * TAG_SIDE_CELLS as f64
    }

    /// Whether a piece of the edge has pixels enough for its blur, place and slopes together.
    pub fn is_well_resolved(&self) -> bool {
        self.border.cell_px > WELL_RESOLVED_CELL_PX
    }

    /// The edge's blur as measured, or as it may be before, px.
    fn blur_px(&self, measured: Option<Appearance>) -> f64 {
        measured.map_or(1.0 + 0.05 * self.border.cell_px, |appearance| appearance.blur_px)
    }

    /// How blurred the edge is and how white against black: the middle of the pieces' own values; and the line through their steps,
    /// where they have one, before the blur is known.
    ///
    /// `None` where hardly a piece is free of clipped white.
    pub fn measure_appearance(&self, pieces: &[Vec<EdgePixel>]) -> Option<(Appearance, Option<EdgeLine>)> {
        let start = Appearance {
            blur_px: self.blur_px(None),
            contrast: 1.0,
            contrast_sd: f64::INFINITY,
        };
        let steps: Vec<EdgePoint> = pieces
            .iter()
            .filter(|piece| !is_clipped(piece))
            .filter_map(|piece| fit_step(&self.border, piece, start, BlurPrior::Free))
            .collect();
        if steps.len() < LEAST_PIECES {
            return None;
        }
        let appearance = Appearance::median(steps.iter().map(|step| (step.blur_px, step.contrast)))?;
        Some((appearance, self.line_through(steps, pieces.len())))
    }

    /// The line through the pieces' steps, with those that do not fit it discounted.
    pub fn fit_line(&self, pieces: &[Vec<EdgePixel>], appearance: Appearance, with_clipped: bool) -> Option<EdgeLine> {
        let steps: Vec<EdgePoint> = pieces
            .iter()
            .filter(|piece| with_clipped || !is_clipped(piece))
            .filter_map(|piece| fit_step(&self.border, piece, appearance, BlurPrior::Known))
            .collect();
        self.line_through(steps, pieces.len())
    }

    /// The line through the pieces' steps as they show without a fit: where to start one.
    pub fn rough_line(&self, pieces: &[Vec<EdgePixel>]) -> Option<EdgeLine> {
        let steps: Vec<EdgePoint> = pieces.iter().filter_map(|piece| rough_step(piece)).collect();
        self.line_through(steps, pieces.len())
    }

    /// The line through the steps of an edge of so many pieces, as far as they are known.
    fn line_through(&self, mut steps: Vec<EdgePoint>, pieces: usize) -> Option<EdgeLine> {
        steps.retain(|step| step.sd_px < MOST_STEP_SD_CELLS * self.border.cell_px);
        if steps.len() < LEAST_PIECES {
            return None;
        }
        let middle_px = self.length_px / 2.0;
        let (offset, covariance, trusted) = robust_line(&steps, middle_px)?;
        // An edge of which most pieces disagree is no straight edge.
        (trusted >= LEAST_PIECES && 2 * trusted >= pieces).then_some(EdgeLine {
            origin: self.origin + self.along * middle_px,
            along: self.along,
            out: self.out,
            offset,
            covariance,
        })
    }
}

/// The line through the points of an edge, by iteratively reweighted least squares with Tukey's biweight. It starts from all
/// alike. Gives offset and slope about `middle_px`, their covariance, and how many points agree.
fn robust_line(points: &[EdgePoint], middle_px: f64) -> Option<(Vector2<f64>, Matrix2<f64>, usize)> {
    let mut trust = vec![1.0; points.len()];
    let mut offset = Vector2::zeros();
    let mut covariance = Matrix2::identity();
    for _ in 0..REWEIGHTINGS {
        let mut normal = Matrix2::zeros();
        let mut right = Vector2::zeros();
        for (point, weight) in points.iter().zip(&trust) {
            let lever = Vector2::new(1.0, point.along_px - middle_px);
            let weight = weight / (point.sd_px.powi(2) + RAGGED_PX.powi(2));
            normal += weight * lever * lever.transpose();
            right += weight * point.out_px * lever;
        }
        let inverse = normal.try_inverse()?;
        offset = inverse * right;
        let off: Vec<f64> = points
            .iter()
            .map(|point| {
                let miss_px = point.out_px - offset.x - offset.y * (point.along_px - middle_px);
                miss_px / point.sd_px.hypot(RAGGED_PX)
            })
            .collect();
        let mut sizes: Vec<f64> = off.iter().map(|miss| miss.abs()).collect();
        // Two parameters are fitted.
        let freedom = points.len() as f64 / (points.len() as f64 - 2.0);
        let scale = (SD_OF_MEDIAN_ABSOLUTE * median_high(&mut sizes)? * freedom.sqrt()).max(1.0);
        for (weight, miss) in trust.iter_mut().zip(&off) {
            let part = miss / (TUKEY * scale);
            *weight = if part.abs() < 1.0 {
                (1.0 - part * part).powi(2)
            } else {
                0.0
            };
        }
        covariance = inverse * scale * scale;
    }
    let trusted = trust.iter().filter(|&&weight| weight > AGREES).count();
    Some((offset, covariance, trusted))
}

/// The whole numbers from `least` to `most` that are below `count`.
fn pixel_range(least: f64, most: f64, count: usize) -> std::ops::Range<usize> {
    // A float outside usize's range saturates, which is what is wanted here.
    least.ceil() as usize..((most.floor() + 1.0) as usize).min(count)
}
