//! Finds the printed marks in a photo and measures where their corners are.
//!
//! Two steps, because they want different things of the picture:
//!
//! 1. *Which tag, roughly where.* The `kornia-apriltag` crate finds and decodes AprilTag 36h11 tags. A photo of a
//!    headlamp's beam holds bright and nearly black tags at once, so it gets the photo at several reductions (block
//!    means in linear light, which also average the dark part's noise away) and in three codings: as a viewer would see
//!    it, in logarithm, and relative to the mean round about.
//! 2. *Where exactly.* Corners are intersections of the black border's four edges, fitted here in linear light at full
//!    resolution. A lens blurs light, not code values, so an edge's half-way point is where the edge is only in linear
//!    light. Each short piece of an edge is fitted with a blurred step times an exponential slope of the light in both
//!    directions, so light that falls off across the sheet shifts nothing.

use super::code::{TAG_SIDE_CELLS, tag_cells};
use crate::fit::normal;
use crate::photo::{Luminance, srgb_from_linear_f32 as srgb_code};
use kornia_apriltag::{AprilTagDecoder, DecodeTagsConfig, family::TagFamilyKind};
use kornia_image::{Image, ImageSize};
use nalgebra::{Matrix2, Matrix3, SMatrix, SVector, Vector2, Vector3};

/// One tag as found in a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundMark {
    /// The tag's id in family 36h11.
    pub id: u32,
    /// The black border's outer corners in px, x to the right and y down, pixel centres at whole numbers. In the order
    /// of the tag as printed upright (see [`tag_cells`]): top left, top right, bottom right, bottom left.
    pub corners_px: [[f64; 2]; 4],
    /// One standard deviation of one coordinate of each corner, px, from the scatter of the edge pieces about their
    /// line. What moves all of an edge together (a print not to size, a sheet not flat, a clipped white) is not in it.
    pub corner_sd_px: [f64; 4],
    /// Standard deviation of the blur of the mark's edges, px.
    pub blur_px: f64,
}

/// Reductions are chosen so that the photo's long side comes to about these many px. Marks then span the sizes that the
/// detector reads well, at whichever distance and with whichever camera the photo was taken.
const REDUCED_LONG_SIDES_PX: [usize; 5] = [2000, 1500, 1000, 750, 500];

/// Below this a reduced photo has no room for a legible tag.
const LEAST_SIDE_PX: usize = 32;

/// Differing bits to forgive. The family's tags differ in 11, so 2 cannot turn one into another.
const MOST_BIT_ERRORS: u8 = 2;

/// How often to try to measure a tag that the detector sees in one place.
const MOST_FAILURES: usize = 2;

/// Finds the marks with the wanted ids.
///
/// `luminance` is the whole photo, upright or not. Returns the marks in order of id. An id that is seen in two places
/// gives two entries: which one to believe is the caller's to decide. A tag that the frame cuts, that is too blurred
/// or too dark to measure, or that has more than two wrong bits is left out. A photo whose `data` does not have
/// `width · height` values has no marks.
#[must_use]
pub fn find_marks(luminance: &Luminance, wanted: &[u32]) -> Vec<FoundMark> {
    if luminance.width_px.checked_mul(luminance.height_px) != Some(luminance.values.len()) {
        return Vec::new();
    }
    let mut candidates: Vec<Candidate> = Vec::new();
    let mut reductions: Vec<usize> = REDUCED_LONG_SIDES_PX
        .iter()
        .map(|target| ((luminance.width_px.max(luminance.height_px) + target / 2) / target).max(1))
        .collect();
    reductions.dedup();
    for factor in reductions {
        let reduced = block_means(luminance, factor);
        if reduced.width_px.min(reduced.height_px) < LEAST_SIDE_PX {
            continue;
        }
        for coding in [Coding::AsViewed, Coding::Logarithm, Coding::Local] {
            candidates.extend(
                detect(&reduced, factor, coding)
                    .into_iter()
                    .filter(|found| wanted.contains(&found.id)),
            );
        }
    }
    // Fine passes and clean readings first: they start the refinement nearest to the edge.
    candidates.sort_by_key(|candidate| (candidate.id, candidate.bit_errors, candidate.factor));
    let mut refined: Vec<(u32, Refined)> = refine_all(luminance, &candidates, None, Vec::new());
    // Where the white is clipped, the step's half-way level is unknown. The same lens and the same printer made the other
    // marks, so what these show of blur and contrast stands in.
    let mut blurs: Vec<f64> = refined.iter().map(|(_, mark)| mark.look.blur_px).collect();
    let mut contrasts: Vec<f64> = refined.iter().map(|(_, mark)| mark.look.contrast).collect();
    let look = median(&mut blurs)
        .zip(median(&mut contrasts))
        .map_or(ASSUMED_LOOK, |(blur_px, contrast)| Look {
            blur_px,
            contrast,
            contrast_sd: CONTRAST_SD * contrast,
        });
    refined = refine_all(luminance, &candidates, Some(look), refined);
    refined.sort_by_key(|&(id, _)| id);
    refined
        .into_iter()
        .map(|(id, mark)| FoundMark {
            id,
            corners_px: mark.corners_px,
            corner_sd_px: mark.corner_sd_px,
            blur_px: mark.look.blur_px,
        })
        .collect()
}

/// Refines those candidates that are not among the marks `known` already, and returns both.
fn refine_all(
    luminance: &Luminance,
    candidates: &[Candidate],
    look: Option<Look>,
    known: Vec<(u32, Refined)>,
) -> Vec<(u32, Refined)> {
    let mut marks = known;
    let mut failures: Vec<&Candidate> = Vec::new();
    for candidate in candidates {
        let is_known = |marks: &[(u32, Refined)], corners_px| {
            marks
                .iter()
                .any(|(id, mark)| *id == candidate.id && overlap(&mark.corners_px, corners_px))
        };
        // Every pass may offer the same tag again; where the best two could not be measured, the others cannot either.
        let failed = failures
            .iter()
            .filter(|failure| failure.id == candidate.id && overlap(&failure.corners_px, &candidate.corners_px))
            .count();
        if failed >= MOST_FAILURES || is_known(&marks, &candidate.corners_px) {
            continue;
        }
        match refine_corners(luminance, candidate.id, candidate.corners_px, look) {
            Some(mark) if !is_known(&marks, &mark.corners_px) => marks.push((candidate.id, mark)),
            Some(_) => {}
            None => failures.push(candidate),
        }
    }
    marks
}

/// What all marks of a photo have in common.
#[derive(Debug, Clone, Copy)]
struct Look {
    /// Standard deviation of the edges' blur, px.
    blur_px: f64,
    /// White level over black level.
    contrast: f64,
    /// How well that is known, one standard deviation.
    contrast_sd: f64,
}

/// Where white is clipped on every mark: common paper and ink, with room for a pale print in stray light.
const ASSUMED_LOOK: Look = Look {
    blur_px: 1.5,
    contrast: 12.0,
    contrast_sd: 6.0,
};

/// A mark's corners as fitted.
struct Refined {
    corners_px: [[f64; 2]; 4],
    corner_sd_px: [f64; 4],
    look: Look,
}

/// A tag as the detector gives it, in the photo's px.
struct Candidate {
    id: u32,
    bit_errors: u8,
    factor: usize,
    corners_px: [[f64; 2]; 4],
}

/// How luminance becomes the detector's 8-bit code values.
#[derive(Clone, Copy)]
enum Coding {
    /// sRGB: good where the camera exposed for it.
    AsViewed,
    /// Logarithm over the range of an 8-bit photo: a tag's contrast is the same in any light.
    Logarithm,
    /// Relative to the mean of the neighbourhood: takes out the light's slope.
    Local,
}

/// The mean of each block of `factor` × `factor` px; a remainder at the right and bottom is left out.
fn block_means(image: &Luminance, factor: usize) -> Luminance {
    let (width, height) = (image.width_px / factor, image.height_px / factor);
    let share = 1.0 / (factor * factor) as f32;
    let mut data = vec![0.0_f32; width * height];
    if width == 0 {
        return Luminance {
            width_px: width,
            height_px: height,
            values: data,
        };
    }
    for (row, source) in image.values.chunks_exact(image.width_px).enumerate() {
        let start = row / factor * width;
        let Some(means) = data.get_mut(start..start + width) else {
            break;
        };
        for (mean, block) in means.iter_mut().zip(source.chunks_exact(factor)) {
            *mean += share * block.iter().sum::<f32>();
        }
    }
    Luminance {
        width_px: width,
        height_px: height,
        values: data,
    }
}

/// Runs the detector on one reduction and coding of the photo.
fn detect(reduced: &Luminance, factor: usize, coding: Coding) -> Vec<Candidate> {
    let codes = encode(reduced, coding);
    let size = ImageSize {
        width: reduced.width_px,
        height: reduced.height_px,
    };
    let Ok(mut config) = DecodeTagsConfig::new(vec![TagFamilyKind::Tag36H11]) else {
        return Vec::new();
    };
    // The reduction here averages; the detector's own would skip pixels and keep the noise.
    config.downscale_factor = 1;
    let Ok(picture) = Image::<u8, 1>::new(size, codes) else {
        return Vec::new();
    };
    let Ok(mut decoder) = AprilTagDecoder::new(config, size) else {
        return Vec::new();
    };
    let Ok(detections) = decoder.decode_all(&picture) else {
        return Vec::new();
    };
    let scale = factor as f64;
    detections
        .iter()
        .filter(|detection| detection.hamming <= MOST_BIT_ERRORS)
        .map(|detection| {
            // The detector counts from the pixel's corner, and its upright picture is half a turn from ours.
            let corners_px = [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0_f32]].map(|[x, y]| {
                let corner = detection.quad.homography_project(x, y);
                [corner.x, corner.y].map(|value| f64::from(value) * scale - 0.5)
            });
            Candidate {
                id: u32::from(detection.id),
                bit_errors: detection.hamming,
                factor,
                corners_px,
            }
        })
        .filter(|candidate| candidate.corners_px.iter().flatten().all(|value| value.is_finite()))
        .collect()
}

/// The detector's code values for `image`, 0..=255, row by row.
fn encode(image: &Luminance, coding: Coding) -> Vec<u8> {
    // Floor of the logarithm: about the light of code value 6 in an 8-bit sRGB photo, below which there is only noise.
    const DARK: f32 = 0.002;
    match coding {
        Coding::AsViewed => image
            .values
            .iter()
            .map(|&light| (255.0 * srgb_code(light)).round() as u8)
            .collect(),
        Coding::Logarithm => {
            let range = ((1.0 + DARK) / DARK).ln();
            let level = |light: f32| (light.max(0.0) / DARK).ln_1p() / range;
            image
                .values
                .iter()
                .map(|&light| (255.0 * level(light)).round() as u8)
                .collect()
        }
        Coding::Local => {
            // Wide enough to hold a whole tag of middling size, so that black cells have white ones to compare with.
            let radius = (image.width_px.max(image.height_px) / 33).max(3);
            let around = box_means(image, radius);
            image
                .values
                .iter()
                .zip(&around)
                .map(|(&light, &mean)| (128.0 * light / (mean + DARK / 20.0)).round() as u8)
                .collect()
        }
    }
}

/// The mean over the square of `radius` px round each pixel, cut at the frame. Row by row, as the image.
fn box_means(image: &Luminance, radius: usize) -> Vec<f32> {
    let across: Vec<f32> = image
        .values
        .chunks_exact(image.width_px)
        .flat_map(|row| running_means(row, radius))
        .collect();
    let mut means = vec![0.0; across.len()];
    for column in 0..image.width_px {
        let line: Vec<f32> = across.iter().skip(column).step_by(image.width_px).copied().collect();
        let targets = means.iter_mut().skip(column).step_by(image.width_px);
        for (target, mean) in targets.zip(running_means(&line, radius)) {
            *target = mean;
        }
    }
    means
}

/// The mean over `radius` values to either side of each value, cut at the ends.
fn running_means(values: &[f32], radius: usize) -> Vec<f32> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0_f64;
    sums.push(sum);
    for &value in values {
        sum += f64::from(value);
        sums.push(sum);
    }
    (0..values.len())
        .map(|index| {
            let (from, to) = (index.saturating_sub(radius), (index + radius + 1).min(values.len()));
            let between = sums
                .get(to)
                .zip(sums.get(from))
                .map_or(0.0, |(upper, lower)| upper - lower);
            (between / (to - from) as f64) as f32
        })
        .collect()
}

/// Whether two quadrilaterals' centres are nearer than half of the first one's mean side.
fn overlap(first: &[[f64; 2]; 4], second: &[[f64; 2]; 4]) -> bool {
    let centre = |corners: &[[f64; 2]; 4]| {
        corners
            .iter()
            .map(|&corner| Vector2::from(corner))
            .sum::<Vector2<f64>>()
            / 4.0
    };
    (centre(first) - centre(second)).norm() < 0.5 * mean_side_px(first)
}

/// The mean length of a quadrilateral's sides, px.
fn mean_side_px(corners: &[[f64; 2]; 4]) -> f64 {
    let [a, b, c, d] = corners.map(Vector2::from);
    ((b - a).norm() + (c - b).norm() + (d - c).norm() + (a - d).norm()) / 4.0
}

/// How far outside the black border's edge its fit looks, in cells. A sheet has at least one cell of white.
const REACH_OUT_CELLS: f64 = 0.75;
/// How far inside. The data cells begin at 1; where they are white, the fit knows of them.
const REACH_IN_CELLS: f64 = 0.75;
/// Light at and above this counts as clipped: how bright it really was is not known.
const CLIPPED: f64 = 0.985;
/// How well one mark's contrast is known from another's, relative: ink and paper are the same, stray light is not.
const CONTRAST_SD: f64 = 0.2;
/// Rounds of refinement. Each starts from the last one's corners; the third moves them by less than 0.01 px.
const ROUNDS: usize = 3;
/// What a piece of an edge may be off by whatever its own fit says, px: the print's and the pixel grid's raggedness.
const RAGGED_PX: f64 = 0.03;
/// Pixels that a piece of an edge should have: eight for each parameter.
const PIECE_PIXELS: f64 = 48.0;
/// Pieces that an edge needs for a line with a scatter.
const LEAST_PIECES: usize = 5;

/// Fits the border's edges and intersects them.
///
/// Takes the corners as the detector found them, in px. `look` is what is known from the photo's other marks: without it,
/// pieces with clipped white are left out. `None` where an edge cannot be measured or the fit leaves the neighbourhood.
fn refine_corners(image: &Luminance, id: u32, detected_px: [[f64; 2]; 4], look: Option<Look>) -> Option<Refined> {
    let cells = tag_cells(id)?;
    let cell_px = mean_side_px(&detected_px) / TAG_SIDE_CELLS as f64;
    let mut corners_px = detected_px;
    let mut corner_sd_px = [0.0; 4];
    let mut looks: [Option<Look>; 4] = [None; 4];
    for round in 0..ROUNDS {
        let to_cells = square_to_quad(&corners_px)?.try_inverse()?;
        let mut lines = [None; 4];
        for (side, (line, side_look)) in lines.iter_mut().zip(&mut looks).enumerate() {
            let edge = Edge::new(side, &corners_px, &cells)?;
            let pieces = edge.collect(image, &to_cells)?;
            // The blur is the same all along an edge but not on all edges (a hand moves the camera one way).
            if round <= 1 {
                *side_look = Some(match (edge.measure_look(&pieces), look) {
                    (Some(seen), Some(told)) => Look {
                        contrast: told.contrast,
                        contrast_sd: told.contrast_sd,
                        ..seen
                    },
                    (Some(seen), None) => seen,
                    (None, told) => told?,
                });
            }
            *line = Some(edge.fit_line(&pieces, (*side_look)?, look.is_some())?);
        }
        let [Some(top), Some(right), Some(bottom), Some(left)] = lines else {
            return None;
        };
        let met = [(left, top), (top, right), (right, bottom), (bottom, left)];
        for ((corner, sd), (before, after)) in corners_px.iter_mut().zip(&mut corner_sd_px).zip(met) {
            let (at, sd_px) = before.intersect(&after)?;
            *corner = [at.x, at.y];
            *sd = sd_px;
        }
    }
    let strayed = corners_px
        .iter()
        .zip(&detected_px)
        .any(|(&fitted, &detected)| (Vector2::from(fitted) - Vector2::from(detected)).norm() > cell_px);
    let (right_px, bottom_px) = (image.width_px as f64 - 1.0, image.height_px as f64 - 1.0);
    let outside = corners_px
        .iter()
        .any(|&[x, y]| !(0.0..=right_px).contains(&x) || !(0.0..=bottom_px).contains(&y));
    if strayed || outside {
        return None;
    }
    let mut blurs: Vec<f64> = looks.iter().flatten().map(|look| look.blur_px).collect();
    let mut contrasts: Vec<f64> = looks.iter().flatten().map(|look| look.contrast).collect();
    let look = Look {
        blur_px: median(&mut blurs)?,
        contrast: median(&mut contrasts)?,
        contrast_sd: f64::INFINITY,
    };
    Some(Refined {
        corners_px,
        corner_sd_px,
        look,
    })
}

/// One pixel near an edge.
struct Sample {
    /// Distance from the edge's line as known so far, px, positive outward.
    out_px: f64,
    /// Distance along it from its first corner, px.
    along_px: f64,
    /// How far it is along the tag's side, in cells from the first corner.
    along_cells: f64,
    /// Linear luminance.
    light: f64,
}

/// A straight line in the photo with the covariance of its fit.
#[derive(Clone, Copy)]
struct Line {
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

impl Line {
    /// The point where two lines meet, px, and the standard deviation of one coordinate of it.
    fn intersect(&self, other: &Line) -> Option<(Vector2<f64>, f64)> {
        // On each line out·(p − origin) − slope · along·(p − origin) = offset: two equations in the point.
        let row = |line: &Line| line.out - line.along * line.offset.y;
        let (first, second) = (row(self), row(other));
        let matrix = Matrix2::new(first.x, first.y, second.x, second.y);
        let inverse = matrix.try_inverse()?;
        let right = |line: &Line, row: Vector2<f64>| line.offset.x + row.dot(&line.origin);
        let point = inverse * Vector2::new(right(self, first), right(other, second));
        let variance = |line: &Line| {
            let lever = Vector2::new(1.0, line.along.dot(&(point - line.origin)));
            lever.dot(&(line.covariance * lever))
        };
        let scatter = Matrix2::from_diagonal(&Vector2::new(variance(self), variance(other)));
        let covariance = inverse * scatter * inverse.transpose();
        let sd_px = (covariance.trace() / 2.0).sqrt();
        (point.iter().all(|value| value.is_finite()) && sd_px.is_finite()).then_some((point, sd_px))
    }
}

/// One side of the black border, from the corner with its number clockwise to the next.
struct Edge {
    side: usize,
    origin: Vector2<f64>,
    along: Vector2<f64>,
    out: Vector2<f64>,
    length_px: f64,
    /// The border's width, px.
    cell_px: f64,
    /// Whether the cell behind the border is white, cell by cell along the side.
    white_behind: [bool; TAG_SIDE_CELLS],
}

impl Edge {
    /// The side numbered `side`, 0 to 3 from the top clockwise, of a tag with these corners.
    fn new(side: usize, corners_px: &[[f64; 2]; 4], cells: &[[bool; TAG_SIDE_CELLS]; TAG_SIDE_CELLS]) -> Option<Self> {
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
        (cell_px > 1.5).then_some(Self {
            side,
            origin,
            along,
            out,
            length_px,
            cell_px,
            white_behind,
        })
    }

    /// The pixels near the edge, in pieces along it. The ends, where the next side's edge comes in, are left out.
    fn collect(&self, image: &Luminance, to_cells: &Matrix3<f64>) -> Option<Vec<Vec<Sample>>> {
        let side_cells = TAG_SIDE_CELLS as f64;
        let (reach_out_px, reach_in_px) = (REACH_OUT_CELLS * self.cell_px, REACH_IN_CELLS * self.cell_px);
        let end_px = 0.5 * self.cell_px;
        let used_px = self.length_px - 2.0 * end_px;
        // Half a cell, or more of a small tag: enough pixels for a fit of its own. Shorter would only be noisier.
        let piece_px = (0.5 * self.cell_px).max(PIECE_PIXELS / (reach_out_px + reach_in_px));
        let count = ((used_px / piece_px).floor() as usize).max(LEAST_PIECES);
        let mut pieces: Vec<Vec<Sample>> = (0..count).map(|_| Vec::new()).collect();
        let corners = [
            (0.0, reach_out_px),
            (0.0, -reach_in_px),
            (self.length_px, reach_out_px),
            (self.length_px, -reach_in_px),
        ]
        .map(|(along_px, out_px)| self.origin + self.along * along_px + self.out * out_px);
        let least = corners
            .iter()
            .fold(Vector2::repeat(f64::INFINITY), |least, corner| least.inf(corner));
        let most = corners
            .iter()
            .fold(Vector2::repeat(f64::NEG_INFINITY), |most, corner| most.sup(corner));
        let columns = pixel_range(least.x, most.x, image.width_px);
        for row in pixel_range(least.y, most.y, image.height_px) {
            let line = image.values.get(row * image.width_px..(row + 1) * image.width_px)?;
            for column in columns.clone() {
                let at = Vector2::new(column as f64, row as f64);
                let (along_px, out_px) = (self.along.dot(&(at - self.origin)), self.out.dot(&(at - self.origin)));
                if out_px > reach_out_px || out_px < -reach_in_px || along_px < end_px || along_px >= end_px + used_px {
                    continue;
                }
                let projected = to_cells * Vector3::new(at.x, at.y, 1.0);
                let (x, y) = (
                    projected.x / projected.z * side_cells,
                    projected.y / projected.z * side_cells,
                );
                let along_cells = match self.side {
                    0 => x,
                    1 => y,
                    2 => side_cells - x,
                    _ => side_cells - y,
                };
                let index = ((along_px - end_px) / used_px * count as f64) as usize;
                let light = f64::from(*line.get(column)?);
                if let Some(piece) = pieces.get_mut(index) {
                    piece.push(Sample {
                        out_px,
                        along_px,
                        along_cells,
                        light,
                    });
                }
            }
        }
        Some(pieces)
    }

    /// How blurred the edge is and how white against black: the middle of the pieces' own values.
    ///
    /// `None` where hardly a piece is free of clipped white.
    fn measure_look(&self, pieces: &[Vec<Sample>]) -> Option<Look> {
        let start = Look {
            blur_px: 1.0 + 0.05 * self.cell_px,
            contrast: 1.0,
            contrast_sd: f64::INFINITY,
        };
        let steps: Vec<Step> = pieces
            .iter()
            .filter(|piece| !is_clipped(piece))
            .filter_map(|piece| self.fit_piece(piece, start, Blur::Free))
            .collect();
        if steps.len() < LEAST_PIECES {
            return None;
        }
        let mut blurs: Vec<f64> = steps.iter().map(|step| step.blur_px).collect();
        let mut contrasts: Vec<f64> = steps.iter().map(|step| step.contrast).collect();
        Some(Look {
            blur_px: median(&mut blurs)?,
            contrast: median(&mut contrasts)?,
            contrast_sd: f64::INFINITY,
        })
    }

    /// The line through the pieces' steps, with those that do not fit it discounted.
    fn fit_line(&self, pieces: &[Vec<Sample>], look: Look, with_clipped: bool) -> Option<Line> {
        let steps: Vec<Step> = pieces
            .iter()
            .filter(|piece| with_clipped || !is_clipped(piece))
            .filter_map(|piece| self.fit_piece(piece, look, Blur::Known))
            .filter(|step| step.sd_px < 0.3 * self.cell_px)
            .collect();
        if steps.len() < LEAST_PIECES {
            return None;
        }
        let middle_px = self.length_px / 2.0;
        let origin = self.origin + self.along * middle_px;
        let mut trust = vec![1.0; steps.len()];
        let mut offset = Vector2::zeros();
        let mut covariance = Matrix2::identity();
        // Iteratively reweighted least squares with Tukey's biweight; 4.685 keeps 95 % efficiency on clean data (Holland
        // and Welsch 1977). It starts from all pieces alike.
        for _ in 0..10 {
            let mut normal = Matrix2::zeros();
            let mut right = Vector2::zeros();
            for (step, weight) in steps.iter().zip(&trust) {
                let lever = Vector2::new(1.0, step.along_px - middle_px);
                let weight = weight / (step.sd_px.powi(2) + RAGGED_PX.powi(2));
                normal += weight * lever * lever.transpose();
                right += weight * step.out_px * lever;
            }
            let inverse = normal.try_inverse()?;
            offset = inverse * right;
            let off: Vec<f64> = steps
                .iter()
                .map(|step| {
                    let miss_px = step.out_px - offset.x - offset.y * (step.along_px - middle_px);
                    miss_px / step.sd_px.hypot(RAGGED_PX)
                })
                .collect();
            let mut sizes: Vec<f64> = off.iter().map(|miss| miss.abs()).collect();
            // 1.4826 makes the median of absolute values a standard deviation for a Gaussian; two parameters are fitted.
            let freedom = steps.len() as f64 / (steps.len() as f64 - 2.0);
            let scale = (1.4826 * median(&mut sizes)? * freedom.sqrt()).max(1.0);
            for (weight, miss) in trust.iter_mut().zip(&off) {
                let part = miss / (4.685 * scale);
                *weight = if part.abs() < 1.0 {
                    (1.0 - part * part).powi(2)
                } else {
                    0.0
                };
            }
            covariance = inverse * scale * scale;
        }
        let trusted = trust.iter().filter(|&&weight| weight > 0.2).count();
        // An edge of which most pieces disagree is no straight edge.
        (trusted >= LEAST_PIECES && 2 * trusted >= pieces.len()).then_some(Line {
            origin,
            along: self.along,
            out: self.out,
            offset,
            covariance,
        })
    }

    /// Fits one piece: white and black level, place, blur, and the light's slope across and along the edge.
    ///
    /// The model is `exp(g·s + a·u) · (black + (white − black) · T)`, where `s` is the distance outward, `u` along, and
    /// `T` is the share of white that the blur brings to the pixel: from outside the edge and, where the data cell
    /// behind the border is white, from there. Blurring a step under an exponential slope shifts the Gaussian integral's
    /// argument by `g·blur`; the fit takes that shift out again. A clipped pixel only says that the model must not be
    /// below the clipping level there; then `look.contrast` says how bright the white is. Levenberg–Marquardt.
    fn fit_piece(&self, samples: &[Sample], look: Look, blur: Blur) -> Option<Step> {
        let blur_sd_px = match blur {
            Blur::Free => 0.5 * self.cell_px,
            Blur::Known => 1e-3,
        };
        if samples.iter().filter(|sample| sample.light < CLIPPED).count() < 3 * PARAMETERS {
            return None;
        }
        let contrast_sd = if is_clipped(samples) {
            look.contrast_sd
        } else {
            f64::INFINITY
        };
        let count = samples.len() as f64;
        let along_px = samples.iter().map(|sample| sample.along_px).sum::<f64>() / count;
        // Starting levels: the outermost and innermost thirds. The share of light between them places the step.
        // Reaches that the piece really has: the frame may cut the sheet's white short.
        let reach = samples.iter().fold((0.0_f64, 0.0_f64), |(out_px, in_px), sample| {
            (out_px.max(sample.out_px), in_px.max(-sample.out_px))
        });
        let mean_where = |keep: &dyn Fn(f64) -> bool| {
            let (sum, number) = samples
                .iter()
                .filter(|sample| keep(sample.out_px))
                .fold((0.0, 0.0), |(sum, number), sample| (sum + sample.light, number + 1.0));
            (number > 0.0).then(|| sum / number)
        };
        let white = mean_where(&|out_px| out_px > 0.6 * reach.0)?;
        let black = mean_where(&|out_px| out_px < -0.6 * reach.1)?;
        if white <= black || white <= 0.0 {
            return None;
        }
        let mean = samples.iter().map(|sample| sample.light).sum::<f64>() / count;
        let share = ((mean - black) / (white - black)).clamp(0.1, 0.9);
        let start_px = reach.0 - share * (reach.0 + reach.1);
        let unit = white;
        // Priors keep a parameter that the piece does not show (a slope in a noisy dark piece) from running away: light
        // that changes by more than e-fold within two cells is not expected, and the blur is at most the cell.
        let slope_sd = 0.5 / self.cell_px;
        let prior_mean = SVector::<f64, PARAMETERS>::from([1.0, black / unit, start_px, 0.0, 0.0, look.blur_px]);
        let prior_sd = SVector::<f64, PARAMETERS>::from([10.0, 10.0, self.cell_px, slope_sd, slope_sd, blur_sd_px]);
        // The black level in the tie's standard deviation stays the starting one, so that the fit cannot loosen it.
        let tie_sd = (contrast_sd * black / unit).max(1e-6);
        let mut tie = SVector::<f64, PARAMETERS>::zeros();
        tie[WHITE] = 1.0;
        tie[BLACK] = -look.contrast;
        let mut state = prior_mean;
        let mut damping = 1e-3;
        let mut best = self.normal_equations(samples, along_px, unit, &state);
        let mut noise = (best.squares / count).max(1e-12);
        let mut inverse = SMatrix::<f64, PARAMETERS, PARAMETERS>::identity();
        for _ in 0..30 {
            let cost = |equations: &Equations, state: &SVector<f64, PARAMETERS>| {
                equations.squares / noise
                    + (state - prior_mean).component_div(&prior_sd).norm_squared()
                    + (tie.dot(state) / tie_sd).powi(2)
            };
            let mut matrix = best.matrix / noise;
            let mut right = best.right / noise;
            for index in 0..PARAMETERS {
                let weight = 1.0 / prior_sd[index].powi(2);
                matrix[(index, index)] += weight;
                right[index] -= weight * (state[index] - prior_mean[index]);
            }
            // One more observation: white − contrast · black = 0.
            matrix += tie * tie.transpose() / (tie_sd * tie_sd);
            right -= tie * tie.dot(&state) / (tie_sd * tie_sd);
            let plain = matrix;
            for index in 0..PARAMETERS {
                matrix[(index, index)] *= 1.0 + damping;
            }
            let change = matrix.cholesky()?.solve(&right);
            let mut next = state + change;
            next[BLUR] = next[BLUR].clamp(0.2, self.cell_px);
            let trial = self.normal_equations(samples, along_px, unit, &next);
            if cost(&trial, &next) <= cost(&best, &state) {
                let settled = change[PLACE].abs() < 1e-4 && change[BLUR].abs() < 1e-3;
                state = next;
                best = trial;
                damping = (damping * 0.2).max(1e-9);
                noise = (best.squares / (count - PARAMETERS as f64)).max(1e-12);
                if settled {
                    inverse = plain.cholesky()?.inverse();
                    break;
                }
            } else {
                damping *= 8.0;
                if damping > 1e6 {
                    inverse = plain.cholesky()?.inverse();
                    break;
                }
            }
        }
        let sd_px = inverse[(PLACE, PLACE)].sqrt();
        let contrast = state[WHITE] - state[BLACK];
        // A step that its noise could have made, or that lies outside the window, is none.
        let seen = contrast > 0.0 && contrast * count.sqrt() > 4.0 * noise.sqrt();
        let within = state[PLACE] < reach.0 && state[PLACE] > -reach.1;
        (seen && within && sd_px.is_finite() && sd_px > 0.0).then_some(Step {
            along_px,
            out_px: state[PLACE],
            sd_px,
            blur_px: state[BLUR],
            contrast: state[WHITE] / state[BLACK].max(1e-3),
        })
    }

    /// The normal equations of a piece's fit at `state`; light is counted in `unit`s.
    fn normal_equations(
        &self,
        samples: &[Sample],
        along_px: f64,
        unit: f64,
        state: &SVector<f64, PARAMETERS>,
    ) -> Equations {
        let [white, black, place, across, along, blur] = [state[0], state[1], state[2], state[3], state[4], state[5]];
        let mut equations = Equations {
            matrix: SMatrix::zeros(),
            right: SVector::zeros(),
            squares: 0.0,
        };
        for sample in samples {
            let slope = (across * sample.out_px + along * (sample.along_px - along_px)).exp();
            let outer = (sample.out_px - place) / blur;
            let (outer_share, outer_rise) = gaussian(outer + across * blur);
            let inner = (place - self.cell_px - sample.out_px) / blur;
            // Only where the blur reaches over the border is it worth asking what lies behind it.
            let behind = if inner > -4.0 {
                self.white_share_behind(sample.along_cells, blur / self.cell_px)
            } else {
                0.0
            };
            let (inner_share, inner_rise) = gaussian(inner - across * blur);
            let share = outer_share + behind * inner_share;
            let level = black + (white - black) * share;
            let miss = sample.light / unit - slope * level;
            if sample.light >= CLIPPED && miss <= 0.0 {
                continue;
            }
            let step = slope * (white - black);
            let gradient = SVector::<f64, PARAMETERS>::from([
                slope * share,
                slope * (1.0 - share),
                step * (behind * inner_rise - outer_rise) / blur,
                step * (outer_rise - behind * inner_rise) * blur + slope * level * sample.out_px,
                slope * level * (sample.along_px - along_px),
                step * (outer_rise * (across - outer / blur) - behind * inner_rise * (across + inner / blur)),
            ]);
            equations.matrix += gradient * gradient.transpose();
            equations.right += gradient * miss;
            equations.squares += miss * miss;
        }
        equations
    }

    /// How white the data cells behind the border are at a place along the side, blurred along it; 0..1.
    fn white_share_behind(&self, along_cells: f64, blur_cells: f64) -> f64 {
        self.white_behind
            .iter()
            .enumerate()
            .filter(|&(_, &white)| white)
            .map(|(index, _)| {
                let from = index as f64 - along_cells;
                gaussian((from + 1.0) / blur_cells).0 - gaussian(from / blur_cells).0
            })
            .sum()
    }
}

/// Parameters of a piece's fit, in this order: white and black level, place of the step (px outward), logarithmic slope
/// of the light across and along the edge (per px), blur (px).
const PARAMETERS: usize = 6;
const WHITE: usize = 0;
const BLACK: usize = 1;
const PLACE: usize = 2;
const BLUR: usize = 5;

/// What a piece's fit knows about the blur.
#[derive(Clone, Copy)]
enum Blur {
    /// To be found, from the given start.
    Free,
    /// Found already.
    Known,
}

/// Whether enough of a piece's white is clipped to hide how bright the white is.
fn is_clipped(piece: &[Sample]) -> bool {
    20 * piece.iter().filter(|sample| sample.light >= CLIPPED).count() > piece.len()
}

/// Where a piece of an edge has its step.
struct Step {
    along_px: f64,
    out_px: f64,
    sd_px: f64,
    blur_px: f64,
    /// White level over black level.
    contrast: f64,
}

/// Sums of a least-squares fit: Gauss–Newton matrix, right-hand side, squared misses.
struct Equations {
    matrix: SMatrix<f64, PARAMETERS, PARAMETERS>,
    right: SVector<f64, PARAMETERS>,
    squares: f64,
}

/// The standard Gaussian's integral up to `z`, and its density there.
fn gaussian(z: f64) -> (f64, f64) {
    (normal::lower_tail(z), normal::density(z))
}

/// The middle value; `None` of no values. Sorts them.
fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// The whole numbers from `least` to `most` that are below `count`.
fn pixel_range(least: f64, most: f64, count: usize) -> std::ops::Range<usize> {
    // A float outside usize's range saturates, which is what is wanted here.
    least.ceil() as usize..((most.floor() + 1.0) as usize).min(count)
}

/// The projective map from the unit square (corners in the order of [`FoundMark::corners_px`]) to four points.
///
/// P. Heckbert, "Fundamentals of texture mapping and image warping", 1989, section 2.2.3. `None` where three of the
/// points are on a line.
fn square_to_quad(corners: &[[f64; 2]; 4]) -> Option<Matrix3<f64>> {
    let [p0, p1, p2, p3] = corners.map(Vector2::from);
    let (d1, d2, sum) = (p1 - p2, p3 - p2, p0 - p1 + p2 - p3);
    let inverse = Matrix2::new(d1.x, d2.x, d1.y, d2.y).try_inverse()?;
    let far = inverse * sum;
    let (a, b) = (p1 - p0 + p1 * far.x, p3 - p0 + p3 * far.y);
    Some(Matrix3::new(a.x, b.x, p0.x, a.y, b.y, p0.y, far.x, far.y, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    const PAPER: f64 = 0.8;
    const INK: f64 = 0.05;

    /// A made photo: marks on a wall under a light that varies from place to place, blurred, noisy and coded as a camera
    /// would.
    struct Scene<'a> {
        size_px: [usize; 2],
        marks: Vec<(u32, [[f64; 2]; 4])>,
        light: &'a dyn Fn(f64, f64) -> f64,
        blur_px: f64,
        /// Noise at full light; it falls with the root of the light to a hundredth of that in the dark.
        noise: f64,
        seed: u64,
    }

    impl Scene<'_> {
        fn draw(&self) -> Luminance {
            const FINE: usize = 5;
            let [width, height] = self.size_px;
            let sheets: Vec<_> = self
                .marks
                .iter()
                .map(|(id, corners)| {
                    (
                        square_to_quad(corners).unwrap().try_inverse().unwrap(),
                        tag_cells(*id).unwrap(),
                    )
                })
                .collect();
            let reflectance = |x: f64, y: f64| {
                for (to_square, cells) in &sheets {
                    let at = to_square * Vector3::new(x, y, 1.0);
                    let [column, row] = [at.x / at.z * 8.0, at.y / at.z * 8.0];
                    if [column, row].iter().all(|place| (-1.25..9.25).contains(place)) {
                        let inside = [column, row].iter().all(|place| (0.0..8.0).contains(place));
                        return if inside && cells[row as usize][column as usize] {
                            INK
                        } else {
                            PAPER
                        };
                    }
                }
                0.45
            };
            let place = |pixel: usize, part: usize| pixel as f64 + (part as f64 + 0.5) / FINE as f64 - 0.5;
            let mut light = vec![0.0; width * height];
            for (index, value) in light.iter_mut().enumerate() {
                for (part_x, part_y) in (0..FINE * FINE).map(|part| (part % FINE, part / FINE)) {
                    let (x, y) = (place(index % width, part_x), place(index / width, part_y));
                    *value += reflectance(x, y) * (self.light)(x, y) / (FINE * FINE) as f64;
                }
            }
            let light = self.blurred(&light);
            let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
            let data = light
                .iter()
                .map(|&value| {
                    let sway: f64 = StandardNormal.sample(&mut rng);
                    let seen = value + self.noise * (value + 1e-4).sqrt() * sway;
                    let code = (255.0 * srgb_code(seen.clamp(0.0, 1.0) as f32)).round() / 255.0;
                    if code <= 0.04045 {
                        code / 12.92
                    } else {
                        ((code + 0.055) / 1.055).powf(2.4)
                    }
                })
                .collect();
            Luminance {
                width_px: width,
                height_px: height,
                values: data,
            }
        }

        fn blurred(&self, light: &[f64]) -> Vec<f64> {
            let [width, height] = self.size_px;
            let radius = (4.0 * self.blur_px).ceil() as isize;
            let kernel: Vec<f64> = (-radius..=radius)
                .map(|step| gaussian(step as f64 / self.blur_px).1)
                .collect();
            let total: f64 = kernel.iter().sum();
            let pass = |source: &[f64], count: usize, at: &dyn Fn(usize, usize) -> usize| -> Vec<f64> {
                (0..source.len())
                    .map(|index| {
                        let place = if count == width { index % width } else { index / width };
                        let weighed = kernel.iter().zip(-radius..=radius).map(|(weight, step)| {
                            let there = (place as isize + step).clamp(0, count as isize - 1) as usize;
                            weight * source[at(index, there)]
                        });
                        weighed.sum::<f64>() / total
                    })
                    .collect()
            };
            assert_ne!(width, height, "the pass tells rows from columns by their length");
            let across = pass(light, width, &|index, column| index / width * width + column);
            pass(&across, height, &|index, row| row * width + index % width)
        }
    }

    /// The corners of a tag `side_px` wide, turned, and a little narrower at its far end.
    fn quad(centre_px: [f64; 2], side_px: f64, turn_deg: f64) -> [[f64; 2]; 4] {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[x, y]: [f64; 2]| {
            let shrink = side_px * (1.0 - 0.06 * y + 0.03 * x);
            [
                centre_px[0] + shrink * (x * cos - y * sin),
                centre_px[1] + shrink * (x * sin + y * cos),
            ]
        })
    }

    /// Found minus true, x and y of each corner, px.
    fn misses(found: &FoundMark, corners_px: &[[f64; 2]; 4]) -> Vec<f64> {
        found
            .corners_px
            .iter()
            .flatten()
            .zip(corners_px.iter().flatten())
            .map(|(found, drawn)| found - drawn)
            .collect()
    }

    fn rms(values: &[f64]) -> f64 {
        (values.iter().map(|value| value * value).sum::<f64>() / values.len() as f64).sqrt()
    }

    fn ids(marks: &[FoundMark]) -> Vec<u32> {
        marks.iter().map(|mark| mark.id).collect()
    }

    const ALL: [u32; 12] = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12];

    #[test]
    fn bright_and_dark_marks_of_one_photo_are_found_in_place() {
        // White at codes around 230 on the left, 25 on the right: a hundredth of the light.
        let light = |x: f64, _: f64| if x < 380.0 { 0.98 } else { 0.012 };
        let marks = vec![
            (1, quad([130.3, 140.8], 120.0, 3.0)),
            (2, quad([140.6, 350.2], 100.0, -4.0)),
            (5, quad([520.4, 150.7], 110.0, 2.0)),
            (6, quad([620.9, 360.1], 100.0, -2.5)),
        ];
        let scene = Scene {
            size_px: [760, 480],
            marks,
            light: &light,
            blur_px: 1.3,
            noise: 0.01,
            seed: 1,
        };
        let found = find_marks(&scene.draw(), &ALL);
        assert_eq!(ids(&found), [1, 2, 5, 6]);
        for (mark, (id, corners_px)) in found.iter().zip(&scene.marks) {
            let limit_px = if *id < 5 { 0.06 } else { 0.2 };
            let rms_px = rms(&misses(mark, corners_px));
            assert!(rms_px < limit_px, "id {id}: {rms_px} px");
        }
    }

    #[test]
    fn a_cut_off_across_the_sheet_shifts_no_corner() {
        // The light drops 25-fold, most of it within two cells, half-way down the sheet.
        for (seed, middle_px) in [(2, 190.0), (3, 215.0), (4, 240.0), (5, 265.0), (6, 290.0)] {
            let light = |x: f64, y: f64| 0.9 * (0.04 + 0.96 / (1.0 + ((middle_px + 0.1 * x - y) / 12.0).exp()));
            let marks = vec![(9, quad([250.2, 250.6], 130.0, -3.0))];
            let scene = Scene {
                size_px: [520, 480],
                marks,
                light: &light,
                blur_px: 1.4,
                noise: 0.01,
                seed,
            };
            let found = find_marks(&scene.draw(), &ALL);
            assert_eq!(ids(&found), [9], "cut-off at {middle_px} px");
            let rms_px = rms(&misses(&found[0], &scene.marks[0].1));
            assert!(rms_px < 0.15, "cut-off at {middle_px} px: {rms_px} px");
        }
    }

    #[test]
    fn a_steady_slope_of_light_shifts_no_corner() {
        // Ten-fold over the sheet, in a direction of its own for each run.
        for (seed, turn_deg) in [(7, 0.0_f64), (8, 70.0), (9, 140.0), (10, 250.0)] {
            let (sin, cos) = turn_deg.to_radians().sin_cos();
            let light =
                |x: f64, y: f64| 0.3 * (((x - 250.0) * cos + (y - 240.0) * sin) / 120.0 * 10.0_f64.ln() / 2.0).exp();
            let marks = vec![(4, quad([250.4, 240.3], 120.0, 5.0))];
            let scene = Scene {
                size_px: [500, 480],
                marks,
                light: &light,
                blur_px: 1.6,
                noise: 0.01,
                seed,
            };
            let found = find_marks(&scene.draw(), &ALL);
            assert_eq!(ids(&found), [4], "slope towards {turn_deg}°");
            let rms_px = rms(&misses(&found[0], &scene.marks[0].1));
            assert!(rms_px < 0.06, "slope towards {turn_deg}°: {rms_px} px");
        }
    }

    #[test]
    fn blur_a_third_as_wide_as_a_cell_is_measured_through() {
        let marks = vec![(11, quad([200.7, 190.2], 112.0, 8.0))];
        let scene = Scene {
            size_px: [420, 380],
            marks,
            light: &|_, _| 0.7,
            blur_px: 4.5,
            noise: 0.008,
            seed: 11,
        };
        let found = find_marks(&scene.draw(), &ALL);
        assert_eq!(ids(&found), [11]);
        let rms_px = rms(&misses(&found[0], &scene.marks[0].1));
        assert!(rms_px < 0.2, "{rms_px} px");
    }

    #[test]
    fn clipped_white_shifts_no_corner_where_another_mark_tells_the_contrast() {
        let light = |x: f64, _: f64| if x < 260.0 { 0.9 } else { 2.5 };
        let marks = vec![
            (1, quad([130.3, 150.8], 110.0, 3.0)),
            (2, quad([400.6, 150.2], 110.0, -4.0)),
        ];
        let scene = Scene {
            size_px: [540, 300],
            marks,
            light: &light,
            blur_px: 1.5,
            noise: 0.008,
            seed: 12,
        };
        let found = find_marks(&scene.draw(), &ALL);
        assert_eq!(ids(&found), [1, 2]);
        let rms_px = rms(&misses(&found[1], &scene.marks[1].1));
        assert!(rms_px < 0.15, "{rms_px} px");
    }

    #[test]
    fn corners_keep_their_names_however_the_photo_is_turned() {
        for turn_deg in [0.0, 90.0, 180.0, 270.0, 33.0] {
            let marks = vec![(8, quad([200.0, 190.0], 130.0, turn_deg))];
            let scene = Scene {
                size_px: [400, 380],
                marks,
                light: &|_, _| 0.8,
                blur_px: 1.2,
                noise: 0.01,
                seed: 13,
            };
            let found = find_marks(&scene.draw(), &ALL);
            assert_eq!(ids(&found), [8], "turned by {turn_deg}°");
            let rms_px = rms(&misses(&found[0], &scene.marks[0].1));
            assert!(rms_px < 0.06, "turned by {turn_deg}°: {rms_px} px");
        }
    }

    /// The stated standard deviations must be what the corners really scatter by.
    #[test]
    fn standard_deviations_are_honest() {
        let mut parts = Vec::new();
        for seed in 20..32 {
            let shift = seed as f64 * 0.37;
            let marks = vec![
                (5, quad([170.0 + shift, 150.0 - shift], 100.0, shift)),
                (6, quad([360.0 - shift, 160.0], 90.0, -shift)),
            ];
            let scene = Scene {
                size_px: [520, 300],
                marks,
                light: &|_, _| 0.02,
                blur_px: 1.4,
                noise: 0.015,
                seed,
            };
            let found = find_marks(&scene.draw(), &ALL);
            assert_eq!(ids(&found), [5, 6], "seed {seed}");
            for (mark, (_, corners_px)) in found.iter().zip(&scene.marks) {
                let sds = mark.corner_sd_px.iter().flat_map(|sd| [sd, sd]);
                parts.extend(misses(mark, corners_px).iter().zip(sds).map(|(miss, sd)| miss / sd));
            }
        }
        let ratio = rms(&parts);
        assert!((0.6..1.4).contains(&ratio), "scatter over stated: {ratio}");
    }

    #[test]
    fn one_id_in_two_places_gives_two_entries() {
        let marks = vec![
            (3, quad([130.0, 150.0], 110.0, 2.0)),
            (3, quad([390.0, 160.0], 100.0, -2.0)),
        ];
        let scene = Scene {
            size_px: [520, 300],
            marks,
            light: &|_, _| 0.8,
            blur_px: 1.2,
            noise: 0.01,
            seed: 14,
        };
        assert_eq!(ids(&find_marks(&scene.draw(), &ALL)), [3, 3]);
    }

    #[test]
    fn ids_that_are_not_wanted_are_left_out() {
        let marks = vec![
            (3, quad([130.0, 150.0], 110.0, 2.0)),
            (4, quad([390.0, 160.0], 100.0, -2.0)),
        ];
        let scene = Scene {
            size_px: [520, 300],
            marks,
            light: &|_, _| 0.8,
            blur_px: 1.2,
            noise: 0.01,
            seed: 15,
        };
        assert_eq!(ids(&find_marks(&scene.draw(), &[4, 300])), [4]);
    }

    #[test]
    fn a_mark_cut_by_the_frame_is_left_out() {
        let marks = vec![
            (3, quad([130.0, 150.0], 110.0, 2.0)),
            (4, quad([495.0, 160.0], 100.0, -2.0)),
        ];
        let scene = Scene {
            size_px: [520, 300],
            marks,
            light: &|_, _| 0.8,
            blur_px: 1.2,
            noise: 0.01,
            seed: 16,
        };
        assert_eq!(ids(&find_marks(&scene.draw(), &ALL)), [3]);
    }

    #[test]
    fn a_wall_without_marks_has_none() {
        // Blotches, a sharp cut-off and noise: edges enough, but no tag.
        let light = |x: f64, y: f64| {
            let blotch = ((x / 17.0).sin() * (y / 13.0).cos()).signum();
            (0.6 + 0.3 * blotch) * if y > 200.0 { 1.0 } else { 0.02 }
        };
        let scene = Scene {
            size_px: [700, 400],
            marks: Vec::new(),
            light: &light,
            blur_px: 1.0,
            noise: 0.02,
            seed: 17,
        };
        assert_eq!(find_marks(&scene.draw(), &(0..587).collect::<Vec<_>>()), []);
    }

    #[test]
    fn odd_pictures_have_no_marks_and_do_no_harm() {
        let picture = |width: usize, height: usize, value: f32, count: usize| Luminance {
            width_px: width,
            height_px: height,
            values: vec![value; count],
        };
        for image in [
            picture(0, 0, 0.0, 0),
            picture(1, 1, 0.5, 1),
            picture(0, 9, 0.5, 0),
            picture(31, 3000, 0.5, 93_000),
            picture(300, 200, 0.0, 60_000),
            picture(300, 200, 1.0, 60_000),
            picture(300, 200, f32::NAN, 60_000),
            picture(300, 200, f32::INFINITY, 60_000),
            picture(300, 200, -3.0, 60_000),
            picture(300, 200, 0.5, 59_999),
            picture(usize::MAX, 2, 0.5, 10),
        ] {
            assert_eq!(find_marks(&image, &ALL), [], "{} × {}", image.width_px, image.height_px);
        }
    }

    /// Against OpenCV's own detector on a picture drawn by `golden/make_marks_golden.py`.
    ///
    /// OpenCV refines corners on code values, where a blurred black square looks smaller: its corners sit 0.6 px inside
    /// the drawn ones. That cancels in the tag's centre, so there the two must agree closely.
    #[test]
    fn agrees_with_opencv_and_with_the_drawing() {
        let picture = image::load_from_memory(include_bytes!("../../tests/golden/marks.png"))
            .unwrap()
            .to_luma8();
        let data = picture
            .pixels()
            .map(|pixel| {
                let code = f32::from(pixel.0[0]) / 255.0;
                if code <= 0.04045 {
                    code / 12.92
                } else {
                    ((code + 0.055) / 1.055).powf(2.4)
                }
            })
            .collect();
        let image = Luminance {
            width_px: picture.width() as usize,
            height_px: picture.height() as usize,
            values: data,
        };
        let found = find_marks(&image, &ALL);
        let golden: serde_json::Value = serde_json::from_str(include_str!("../../tests/golden/marks.json")).unwrap();
        let golden = golden["marks"].as_array().unwrap();
        assert_eq!(
            ids(&found),
            golden
                .iter()
                .map(|mark| mark["id"].as_u64().unwrap() as u32)
                .collect::<Vec<_>>()
        );
        for (mark, golden) in found.iter().zip(golden) {
            let corners = |key: &str| -> [[f64; 2]; 4] { serde_json::from_value(golden[key].clone()).unwrap() };
            let (drawn_px, opencv_px) = (corners("drawn_px"), corners("opencv_px"));
            let rms_px = rms(&misses(mark, &drawn_px));
            assert!(rms_px < 0.06, "id {}: {rms_px} px from the drawing", mark.id);
            let apart_px = misses(mark, &opencv_px);
            assert!(
                apart_px.iter().all(|miss| miss.abs() < 1.0),
                "id {}: {apart_px:?}",
                mark.id
            );
            for axis in [0, 1] {
                let centre_px = apart_px.iter().skip(axis).step_by(2).sum::<f64>() / 4.0;
                assert!(centre_px.abs() < 0.12, "id {}: centres {centre_px} px apart", mark.id);
            }
        }
    }
}
