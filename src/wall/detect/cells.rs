//! Reads the number that a dark outline's cells spell.

use super::Detection;
use super::darkness::Darkness;
use crate::wall::code::{CODE_SIDE_CELLS, TAG_SIDE_CELLS, tag_code, turned};
use crate::wall::quad::{Quad, centre, square_to_quad};
use nalgebra::{Matrix3, Vector3};

/// Differing bits to forgive. The family's tags differ in 11, so 2 cannot turn one into another.
const MOST_BIT_ERRORS: u32 = 2;
/// Ink is darker than paper by so many e-folds at the least: less is the wall's own texture (no source).
const LEAST_CONTRAST: f64 = 0.05;
/// Where in a cell it is looked at, cells from its middle: away from its rim, which blur mixes with the next.
const PLACES: [f64; 3] = [-0.22, 0.0, 0.22];

/// How much of a cell's difference from its four neighbours blur is taken to have cost it (tried on made photos, no source).
const SHARPENING: f64 = 0.5;
/// A blurred outline looks smaller or larger than it is; these are tried, over its size (no source).
const SIZES: [f64; 3] = [1.0, 0.94, 1.06];

/// A tag's number as read, with its corners in the order of the tag as printed upright, px.
pub(super) struct Reading {
    pub id: u32,
    pub bit_errors: u32,
    pub corners_px: Quad,
}

/// The numbers that are looked for, with their codes.
pub(super) struct Numbers(Vec<(u32, u64)>);

impl Numbers {
    /// Numbers that the family does not have are left out.
    pub fn of(wanted: &[u32]) -> Self {
        Self(wanted.iter().filter_map(|&id| Some((id, tag_code(id)?))).collect())
    }

    /// Whether each is among the detections.
    pub fn all_among(&self, detections: &[Detection]) -> bool {
        self.0
            .iter()
            .all(|(id, _)| detections.iter().any(|detection| detection.id == *id))
    }

    /// What the cells within the outline `quad_px` (clockwise) spell, if one of the numbers.
    pub fn read(&self, darkness: &Darkness, quad_px: &Quad) -> Option<Reading> {
        let sizes = SIZES.iter().map(|&size| resized(quad_px, size));
        sizes
            .filter_map(|quad_px| self.read_within(darkness, &quad_px))
            .min_by_key(|reading| reading.bit_errors)
    }

    /// What the cells within the outline spell, if it is just as large.
    fn read_within(&self, darkness: &Darkness, quad_px: &Quad) -> Option<Reading> {
        let mut code = white_cells(darkness, quad_px)?;
        let mut corners_px = *quad_px;
        for _ in 0..4 {
            let nearest = self
                .0
                .iter()
                .map(|&(id, of_tag)| ((code ^ of_tag).count_ones(), id))
                .min()?;
            if nearest.0 <= MOST_BIT_ERRORS {
                return Some(Reading {
                    id: nearest.1,
                    bit_errors: nearest.0,
                    corners_px,
                });
            }
            code = turned(code);
            corners_px.rotate_left(1);
        }
        None
    }
}

/// The data cells that are white, a bit each, row by row from the first corner; the first cell is the lowest bit. `None` where the
/// outline is no darker than what surrounds it, or reaches out of the picture.
fn white_cells(darkness: &Darkness, quad_px: &Quad) -> Option<u64> {
    let to_px = square_to_quad(quad_px)?;
    let at = |column: f64, row: f64| cell_mean(darkness, &to_px, column, row);
    let last = TAG_SIDE_CELLS as f64 - 1.0;
    let ink = Ring::of(&at, 0.0, last)?;
    let paper = Ring::of(&at, -1.0, last + 1.0)?;
    if ink.mean() - paper.mean() < LEAST_CONTRAST {
        return None;
    }
    let mut white = [[0.0; TAG_SIDE_CELLS]; TAG_SIDE_CELLS];
    for (row, shares) in white.iter_mut().enumerate().skip(1).take(CODE_SIDE_CELLS) {
        for (column, share) in shares.iter_mut().enumerate().skip(1).take(CODE_SIDE_CELLS) {
            let (ink, paper) = (ink.within(column, row), paper.within(column, row));
            let darkness = at(column as f64, row as f64)?;
            // In light, not in its logarithm: that is what blur mixes.
            let black = (paper - ink).exp();
            *share = ((paper - darkness).exp() - black) / (1.0 - black);
        }
    }
    Some(bits(&white))
}

/// The data cells of which more than half is white, once they are freed of what blur brings from their neighbours.
fn bits(white: &[[f64; TAG_SIDE_CELLS]; TAG_SIDE_CELLS]) -> u64 {
    let mut code = 0;
    for row in 0..CODE_SIDE_CELLS {
        for column in 0..CODE_SIDE_CELLS {
            let around = white[row][column + 1]
                + white[row + 2][column + 1]
                + white[row + 1][column]
                + white[row + 1][column + 2];
            let own = white[row + 1][column + 1];
            if own + SHARPENING * (own - 0.25 * around) > 0.5 {
                code |= 1 << (row * CODE_SIDE_CELLS + column);
            }
        }
    }
    code
}

/// An outline so many times as large about the same middle.
fn resized(quad_px: &Quad, size: f64) -> Quad {
    let middle = centre(quad_px);
    quad_px.map(|[x, y]| [middle[0] + size * (x - middle[0]), middle[1] + size * (y - middle[1])])
}

/// The mean darkness of a cell, counted from the tag's first corner.
fn cell_mean(darkness: &Darkness, to_px: &Matrix3<f64>, column: f64, row: f64) -> Option<f64> {
    let mut sum = 0.0;
    for y in PLACES {
        for x in PLACES {
            let [x, y] = [column + 0.5 + x, row + 0.5 + y].map(|cells| cells / TAG_SIDE_CELLS as f64);
            let place = to_px * Vector3::new(x, y, 1.0);
            sum += darkness.at(place.x / place.z, place.y / place.z)?;
        }
    }
    Some(sum / (PLACES.len() * PLACES.len()) as f64)
}

/// Darkness of one colour, ink or paper, all round the data cells, one value for each row or column of the tag.
struct Ring {
    top: [f64; TAG_SIDE_CELLS],
    bottom: [f64; TAG_SIDE_CELLS],
    left: [f64; TAG_SIDE_CELLS],
    right: [f64; TAG_SIDE_CELLS],
}

impl Ring {
    /// The cells in the rows and columns `first` and `last`.
    fn of(at: &dyn Fn(f64, f64) -> Option<f64>, first: f64, last: f64) -> Option<Self> {
        let along = |place: &dyn Fn(f64) -> Option<f64>| -> Option<[f64; TAG_SIDE_CELLS]> {
            let mut cells = [0.0; TAG_SIDE_CELLS];
            for (n, cell) in cells.iter_mut().enumerate() {
                *cell = place(n as f64)?;
            }
            Some(cells)
        };
        Some(Self {
            top: along(&|column| at(column, first))?,
            bottom: along(&|column| at(column, last))?,
            left: along(&|row| at(first, row))?,
            right: along(&|row| at(last, row))?,
        })
    }

    fn mean(&self) -> f64 {
        let sides = [&self.top, &self.bottom, &self.left, &self.right];
        sides.into_iter().flatten().sum::<f64>() / (4 * TAG_SIDE_CELLS) as f64
    }

    /// What this colour would be at a cell within: where the light is a product of one that changes across and one that
    /// changes down, its logarithm is what the ring has at the cell's row and column (a Coons patch: S. Coons, MIT
    /// MAC-TR-41, 1967).
    fn within(&self, column: usize, row: usize) -> f64 {
        let last = TAG_SIDE_CELLS - 1;
        let (x, y) = (column as f64 / last as f64, row as f64 / last as f64);
        let across = self.left[row] * (1.0 - x) + self.right[row] * x;
        let down = self.top[column] * (1.0 - y) + self.bottom[column] * y;
        let corners = (self.top[0] * (1.0 - x) + self.top[last] * x) * (1.0 - y)
            + (self.bottom[0] * (1.0 - x) + self.bottom[last] * x) * y;
        across + down - corners
    }
}
