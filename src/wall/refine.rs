//! Where exactly a mark's corners are: intersections of the black border's four edges, fitted in linear light at full
//! resolution. A lens blurs light, not code values, so an edge's half-way point is where the edge is only in linear light.

mod bins;
mod blur;
mod edge;
mod step;

use super::code::{TAG_SIDE_CELLS, tag_cells};
use super::quad::{Quad, mean_side_px, square_to_quad};
use crate::photo::Pixels;
use edge::{BorderEdge, EdgeLine, Gathering};
use nalgebra::Vector2;
use rayon::prelude::*;
pub(super) use step::Appearance;
use step::EdgePixel;

/// What a round of refinement does; each starts from the last one's corners.
#[derive(Clone, Copy, PartialEq)]
enum Round {
    /// Lines without a fit: they take the corners to within a tenth of a cell.
    Rough,
    /// The blur is measured, and the lines beside it; of a large sheet some of the pixels tell enough.
    Measure,
    /// The same from all pixels.
    MeasureWhole,
    /// The lines from all pixels, with the blur as it was measured.
    Settle,
}

/// The rounds, and whether pixels that lie alike are one.
struct Method {
    rounds: &'static [Round],
    bins: bool,
}

/// The last round is left out where the one before moved the corners by less than [`STILL_PX`].
const QUICK: Method = Method {
    rounds: &[Round::Measure, Round::Settle, Round::Settle],
    bins: true,
};

/// Where that is too little in noise.
const WHOLE: Method = Method {
    rounds: &[Round::MeasureWhole, Round::MeasureWhole, Round::Settle],
    bins: true,
};

/// Where neither gets hold of an edge: the corners were found too far off. A steep slope of the light leads it astray, so
/// that it is not taken at once.
const FROM_FAR: Method = Method {
    rounds: &[Round::Rough, Round::MeasureWhole, Round::Settle],
    bins: true,
};

/// Corners that moved by less than this, px, leave the pieces and their bins as good as they were.
const STILL_PX: f64 = 0.25;

/// A mark's corners as fitted.
pub(super) struct RefinedMark {
    pub corners_px: Quad,
    pub corner_sd_px: [f64; 4],
    pub appearance: Appearance,
}

/// How the four edges of a border are measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edges {
    /// Each in its turn: where other photos are read beside this one.
    InTurn,
    /// On several threads.
    SideBySide,
}

/// Fits the border's edges and intersects them.
///
/// Takes the corners as the detector found them, in px. `common` is what is known from the photo's other marks: without it,
/// pieces with clipped white are left out. `None` where an edge cannot be measured or the fit leaves the neighbourhood.
pub(super) fn refine(
    pixels: &Pixels,
    id: u32,
    detected_px: Quad,
    common: Option<Appearance>,
    edges: Edges,
) -> Option<RefinedMark> {
    let by = |method| refine_by(method, pixels, id, detected_px, common, edges);
    by(&QUICK).or_else(|| by(&WHOLE)).or_else(|| by(&FROM_FAR))
}

fn refine_by(
    method: &Method,
    pixels: &Pixels,
    id: u32,
    detected_px: Quad,
    common: Option<Appearance>,
    edges: Edges,
) -> Option<RefinedMark> {
    let cells = tag_cells(id)?;
    let mut corners_px = detected_px;
    let mut corner_sd_px = [0.0; 4];
    let mut appearances: [Option<Appearance>; 4] = [None; 4];
    let mut moved_px = f64::INFINITY;
    for (n, &round) in method.rounds.iter().enumerate() {
        if method.bins && n + 1 == method.rounds.len() && moved_px < STILL_PX {
            break;
        }
        let to_cells = square_to_quad(&corners_px)?.try_inverse()?;
        let measure = |side: usize, appearance: &mut Option<Appearance>| {
            let edge = BorderEdge::new(side, &corners_px, &cells)?;
            let gathering = match round {
                _ if !method.bins => Gathering::One,
                Round::Measure => Gathering::Thin,
                Round::Rough | Round::MeasureWhole | Round::Settle => Gathering::Alike,
            };
            let pieces = edge.collect(pixels, &to_cells, gathering, *appearance);
            line_of(round, &edge, &pieces, appearance, common)
        };
        let lines: Option<Vec<EdgeLine>> = match edges {
            Edges::InTurn => {
                let each = appearances.iter_mut().enumerate();
                each.map(|(side, appearance)| measure(side, appearance)).collect()
            }
            Edges::SideBySide => {
                let each = appearances.par_iter_mut().enumerate();
                each.map(|(side, appearance)| measure(side, appearance)).collect()
            }
        };
        let [top, right, bottom, left] = <[EdgeLine; 4]>::try_from(lines?).ok()?;
        moved_px = 0.0;
        let met = [(left, top), (top, right), (right, bottom), (bottom, left)];
        for ((corner, sd), (before, after)) in corners_px.iter_mut().zip(&mut corner_sd_px).zip(met) {
            let (at, sd_px) = before.intersect(&after)?;
            moved_px = moved_px.max((at - Vector2::from(*corner)).norm());
            *corner = [at.x, at.y];
            *sd = sd_px;
        }
    }
    if strayed(&corners_px, &detected_px) || outside(&corners_px, pixels) {
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

/// The line of one edge, and how it appears where the round measures that. `common` is what other marks say.
fn line_of(
    round: Round,
    edge: &BorderEdge,
    pieces: &[Vec<EdgePixel>],
    appearance: &mut Option<Appearance>,
    common: Option<Appearance>,
) -> Option<EdgeLine> {
    if round == Round::Rough {
        return edge.rough_line(pieces);
    }
    // Where the first round resolved the blur well, the small move of the frame since does not matter to it.
    let is_known = round == Round::Settle && edge.is_well_resolved();
    if let Some(known) = appearance.filter(|_| is_known) {
        return edge.fit_line(pieces, known, common.is_some());
    }
    // The blur is the same all along an edge but not on all edges (a hand moves the camera one way).
    let (seen, seen_line) = edge.measure_appearance(pieces).unzip();
    let measured = match (seen, common) {
        (Some(seen), Some(told)) => Appearance {
            contrast: told.contrast,
            contrast_sd: told.contrast_sd,
            ..seen
        },
        (Some(seen), None) => seen,
        (None, told) => told?,
    };
    *appearance = Some(measured);
    let line = seen_line.flatten().filter(|_| edge.is_well_resolved());
    line.or_else(|| edge.fit_line(pieces, measured, common.is_some()))
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
fn outside(corners_px: &Quad, pixels: &Pixels) -> bool {
    let [right_px, bottom_px] = pixels.size_px().map(|side_px| side_px as f64 - 1.0);
    corners_px
        .iter()
        .any(|&[x, y]| !(0.0..=right_px).contains(&x) || !(0.0..=bottom_px).contains(&y))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wall::find::made::{PLAIN, Scene, quad};

    /// Every pixel by itself.
    const PLAIN_FIT: Method = Method { bins: false, ..QUICK };

    #[test]
    fn the_quick_way_agrees_with_the_plain_fit() {
        let mut apart_px = Vec::new();
        for seed in 40..56 {
            let shift = f64::from(seed - 48);
            let light: &dyn Fn(f64, f64) -> f64 = match seed % 4 {
                0 => &|_, _| 0.8,
                1 => &|_, _| 0.02,
                2 => &|x, _| 0.3 * ((x - 250.0) / 80.0).exp().min(3.0),
                _ => &|_, y| 0.9 * (0.04 + 0.96 / (1.0 + ((210.0 - y) / 12.0).exp())),
            };
            let drawn_px = quad([250.2 + shift, 210.6 - 0.7 * shift], 130.0 + 3.0 * shift, 2.0 * shift);
            let scene = Scene {
                size_px: [520, 420],
                marks: vec![(9, drawn_px)],
                light,
                blur_px: 1.2 + 0.1 * shift.abs(),
                seed: 1000 + seed as u64,
                ..PLAIN
            };
            let picture = scene.draw();
            let pixels = Pixels::of_light(picture, vec![false; 520 * 420]).unwrap();
            // A fifth of a cell off, as a sheet is found on a reduced picture.
            let start_px = drawn_px.map(|[x, y]| [x + 0.02 * (x - 250.0), y - 3.0]);
            let corners = |method: &Method| refine_by(method, &pixels, 9, start_px, None, Edges::InTurn).unwrap();
            let (quick, plain) = (corners(&QUICK), corners(&PLAIN_FIT));
            for (n, (a, b)) in quick.corners_px.iter().zip(&plain.corners_px).enumerate() {
                let apart = (Vector2::from(*a) - Vector2::from(*b)).norm();
                assert!(
                    apart < 0.02_f64.max(plain.corner_sd_px[n]),
                    "seed {seed}, corner {n}: {apart} px apart, sd {}",
                    plain.corner_sd_px[n]
                );
                apart_px.push(apart);
            }
        }
        let rms_px = (apart_px.iter().map(|apart| apart * apart).sum::<f64>() / apart_px.len() as f64).sqrt();
        println!("{rms_px:.4} px rms apart");
        assert!(rms_px < 0.02, "{rms_px} px");
    }
}
