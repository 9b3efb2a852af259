//! Where exactly a mark's corners are: intersections of the black border's four edges, fitted in linear light at full
//! resolution. A lens blurs light, not code values, so an edge's half-way point is where the edge is only in linear light.

mod edge;
mod step;

use super::code::{TAG_SIDE_CELLS, tag_cells};
use super::light::Light;
use super::quad::{Quad, mean_side_px, square_to_quad};
use edge::BorderEdge;
use nalgebra::Vector2;
pub(super) use step::Appearance;

/// Rounds of refinement. Each starts from the last one's corners; the third moves them by less than 0.01 px.
const ROUNDS: usize = 3;

/// A mark's corners as fitted.
pub(super) struct RefinedMark {
    pub corners_px: Quad,
    pub corner_sd_px: [f64; 4],
    pub appearance: Appearance,
}

/// Fits the border's edges and intersects them.
///
/// Takes the corners as the detector found them, in px. `common` is what is known from the photo's other marks: without it,
/// pieces with clipped white are left out. `None` where an edge cannot be measured or the fit leaves the neighbourhood.
pub(super) fn refine(light: Light<'_>, id: u32, detected_px: Quad, common: Option<Appearance>) -> Option<RefinedMark> {
    let cells = tag_cells(id)?;
    let mut corners_px = detected_px;
    let mut corner_sd_px = [0.0; 4];
    let mut appearances: [Option<Appearance>; 4] = [None; 4];
    for round in 0..ROUNDS {
        let to_cells = square_to_quad(&corners_px)?.try_inverse()?;
        let mut lines = [None; 4];
        for (side, (line, appearance)) in lines.iter_mut().zip(&mut appearances).enumerate() {
            let edge = BorderEdge::new(side, &corners_px, &cells)?;
            let pieces = edge.collect(light, &to_cells)?;
            // The blur is the same all along an edge but not on all edges (a hand moves the camera one way).
            if round <= 1 {
                *appearance = Some(match (edge.measure_appearance(&pieces), common) {
                    (Some(seen), Some(told)) => Appearance {
                        contrast: told.contrast,
                        contrast_sd: told.contrast_sd,
                        ..seen
                    },
                    (Some(seen), None) => seen,
                    (None, told) => told?,
                });
            }
            *line = Some(edge.fit_line(&pieces, (*appearance)?, common.is_some())?);
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
    if strayed(&corners_px, &detected_px) || outside(&corners_px, light) {
        return None;
    }
    let sides = appearances.iter().flatten();
    let appearance = Appearance::median(sides.map(|side| (side.blur_px, side.contrast)))?;
    Some(RefinedMark {
        corners_px,
        corner_sd_px,
        appearance,
    })
}

/// Whether a corner lies further from where it was detected than a cell is wide.
fn strayed(corners_px: &Quad, detected_px: &Quad) -> bool {
    let cell_px = mean_side_px(detected_px) / TAG_SIDE_CELLS as f64;
    corners_px
        .iter()
        .zip(detected_px)
        .any(|(&fitted, &detected)| (Vector2::from(fitted) - Vector2::from(detected)).norm() > cell_px)
}

/// Whether a corner lies outside of the picture.
fn outside(corners_px: &Quad, light: Light<'_>) -> bool {
    let [right_px, bottom_px] = light.size_px().map(|side_px| side_px as f64 - 1.0);
    corners_px
        .iter()
        .any(|&[x, y]| !(0.0..=right_px).contains(&x) || !(0.0..=bottom_px).contains(&y))
}
