//! Finds the printed marks in a photo and measures where their corners are.
//!
//! Two steps, because they want different things of the picture: [`super::detect`] tells which tag is where, roughly, on
//! reduced copies of the photo; [`super::refine`] measures the corners in linear light at full resolution.

use super::code::TAG_SIDE_CELLS;
use super::detect::{Detection, Effort, detect};
use super::quad::{Quad, overlap};
use super::refine::{Appearance, Edges, RefinedMark, refine};
#[cfg(test)]
use crate::photo::Luminance;
use crate::photo::{Photo, Pixels};
use rayon::prelude::*;

/// One tag as found in a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundMark {
    /// The tag's id in family 36h11.
    pub id: u32,
    /// The black border's outer corners in px, x to the right and y down, pixel centres at whole numbers. In the order
    /// of the tag as printed upright (see [`super::tag_cells`]): top left, top right, bottom right, bottom left.
    pub corners_px: [[f64; 2]; 4],
    /// One standard deviation of one coordinate of each corner, px, from the scatter of the edge pieces about their
    /// line. What moves all of an edge together (a print not to size, a sheet not flat, a clipped white) is not in it.
    pub corner_sd_px: [f64; 4],
    /// Standard deviation of the blur of the mark's edges, px.
    pub blur_px: f64,
}

impl FoundMark {
    /// Mean side of the tag's border, from a diagonal of it, px.
    pub(crate) fn side_px(&self) -> f64 {
        let [a, _, c, _] = self.corners_px;
        (c[0] - a[0]).hypot(c[1] - a[1]) / 2f64.sqrt()
    }

    /// Mean side of one of the tag's cells, px.
    pub(super) fn cell_px(&self) -> f64 {
        self.side_px() / TAG_SIDE_CELLS as f64
    }
}

/// How often to try to measure a tag that the detector sees in one place: the other passes only see it worse (no source).
const MOST_FAILURES: usize = 4;
/// How well one mark's contrast is known from another's, relative: ink and paper are the same, stray light is not (common
/// practice, no source).
const CONTRAST_SD: f64 = 0.2;
/// Where white is clipped on every mark: common paper and ink, with room for a pale print in stray light (common
/// practice, no source).
const ASSUMED_APPEARANCE: Appearance = Appearance {
    blur_px: 1.5,
    contrast: 12.0,
    contrast_sd: 6.0,
};

/// Finds the bay's marks in a photo. Clipped pixels go in as full scale: where one colour is clipped, the light there is
/// unknown.
#[must_use]
pub fn find_in(photo: &Photo, wanted: &[u32]) -> Vec<FoundMark> {
    marks_in(&photo.pixels, wanted, Edges::InTurn)
}

/// As [`find_in`], corners of several marks at a time: for a photo beside which there is no other to read.
#[must_use]
pub(crate) fn find_in_alone(photo: &Photo, wanted: &[u32]) -> Vec<FoundMark> {
    marks_in(&photo.pixels, wanted, Edges::SideBySide)
}

/// A corner that a finger or a pointer put on a photo on a screen lies this far off, one standard deviation: px, and as a share of a cell
/// of the tag, whichever is more (our choice, no source).
const HAND_SD_PX: f64 = 2.0;
const HAND_SD_CELLS: f64 = 0.2;

/// A mark where somebody saw it. Its edges are measured from there as those of any other mark; where that cannot be, its corners are
/// as good as a hand is.
#[must_use]
pub(crate) fn place(photo: &Photo, id: u32, corners_px: Quad, known: &[FoundMark]) -> FoundMark {
    let seen = known.iter().map(|mark| (mark.blur_px, ASSUMED_APPEARANCE.contrast));
    let blur_px = Appearance::median(seen).map_or(ASSUMED_APPEARANCE.blur_px, |common| common.blur_px);
    let by_hand = FoundMark {
        id,
        corners_px,
        corner_sd_px: [0.0; 4],
        blur_px,
    };
    let sd_px = HAND_SD_PX.max(HAND_SD_CELLS * by_hand.cell_px());
    match refine(&photo.pixels, id, corners_px, None, Edges::InTurn) {
        Some(mark) => FoundMark {
            corners_px: mark.corners_px,
            corner_sd_px: mark.corner_sd_px,
            blur_px: mark.appearance.blur_px,
            ..by_hand
        },
        None => FoundMark {
            corner_sd_px: [sd_px; 4],
            ..by_hand
        },
    }
}

/// How many px the reduced picture has on which a search in a photo begins: the first step of [`find_in`], for `benches/`.
#[must_use]
pub fn reduced_px(photo: &Photo) -> usize {
    super::detect::reduced_px(&photo.pixels)
}

/// How many readings of the wanted ids a search in a photo gives: [`find_in`] without its corners, for `benches/`.
#[must_use]
pub fn readings_in(photo: &Photo, wanted: &[u32]) -> usize {
    detect(&photo.pixels, wanted, Effort::UntilAllAreRead).len()
}

/// As [`find_in`], where nothing is known of clipped pixels.
#[cfg(test)]
pub(crate) fn find_marks(luminance: &Luminance, wanted: &[u32]) -> Vec<FoundMark> {
    let unclipped = vec![false; luminance.values.len()];
    Pixels::of_light(luminance.clone(), unclipped)
        .map_or_else(Vec::new, |pixels| marks_in(&pixels, wanted, Edges::InTurn))
}

/// Finds the marks with the wanted ids.
///
/// The photo is whole, upright or not. Returns the marks in order of id. An id that is seen in two places
/// gives two entries: which one to believe is the caller's to decide. A tag that the frame cuts, that is too blurred
/// or too dark to measure, or that has more than two wrong bits is left out.
fn marks_in(pixels: &Pixels, wanted: &[u32], edges: Edges) -> Vec<FoundMark> {
    let detections = detect(pixels, wanted, Effort::UntilAllAreRead);
    let first = match edges {
        Edges::InTurn => Vec::new(),
        Edges::SideBySide => side_by_side(pixels, &detections),
    };
    let all = |detections: &[Detection], appearance, known| refine_all(pixels, detections, appearance, known, edges);
    let known = all(&detections, None, first);
    let appearance = common_appearance(&known);
    let mut refined = all(&detections, Some(appearance), known);
    // A search that ended early may have readings of a sheet from which its corners cannot be measured; others can be better.
    let is_read = |id: &u32| detections.iter().any(|detection| detection.id == *id);
    let is_measured = |id: &u32| refined.iter().any(|(known, _)| known == id);
    let missing: Vec<u32> = wanted.iter().copied().filter(|id| !is_measured(id)).collect();
    if !missing.is_empty() && wanted.iter().all(is_read) {
        let more = detect(pixels, &missing, Effort::ToTheEnd);
        refined = all(&more, Some(appearance), refined);
    }
    refined.sort_by_key(|&(id, _)| id);
    refined
        .into_iter()
        .map(|(id, mark)| FoundMark {
            id,
            corners_px: mark.corners_px,
            corner_sd_px: mark.corner_sd_px,
            blur_px: mark.appearance.blur_px,
        })
        .collect()
}

/// The first of each number, on several threads.
fn side_by_side(pixels: &Pixels, detections: &[Detection]) -> Vec<(u32, RefinedMark)> {
    let each: Vec<&Detection> = detections
        .chunk_by(|a, b| a.id == b.id)
        .filter_map(<[_]>::first)
        .collect();
    let refined = |detection: &&Detection| {
        let mark = refine(pixels, detection.id, detection.corners_px, None, Edges::SideBySide)?;
        Some((detection.id, mark))
    };
    each.par_iter().filter_map(refined).collect()
}

/// Where the white is clipped, the step's half-way level is unknown. The same lens and the same printer made the other
/// marks, so what these show of blur and contrast stands in.
fn common_appearance(marks: &[(u32, RefinedMark)]) -> Appearance {
    let seen = marks
        .iter()
        .map(|(_, mark)| (mark.appearance.blur_px, mark.appearance.contrast));
    Appearance::median(seen).map_or(ASSUMED_APPEARANCE, |common| Appearance {
        contrast_sd: CONTRAST_SD * common.contrast,
        ..common
    })
}

/// Refines those detections that are not among the marks `known` already, and returns both.
fn refine_all(
    pixels: &Pixels,
    detections: &[Detection],
    appearance: Option<Appearance>,
    known: Vec<(u32, RefinedMark)>,
    edges: Edges,
) -> Vec<(u32, RefinedMark)> {
    let mut marks = known;
    let mut failures: Vec<&Detection> = Vec::new();
    for detection in detections {
        let is_known = |marks: &[(u32, RefinedMark)], corners_px| {
            marks
                .iter()
                .any(|(id, mark)| *id == detection.id && overlap(&mark.corners_px, corners_px))
        };
        // Every pass may offer the same tag again; where the best few could not be measured, the others cannot either.
        let failed = failures
            .iter()
            .filter(|failure| failure.id == detection.id && overlap(&failure.corners_px, &detection.corners_px))
            .count();
        if failed >= MOST_FAILURES || is_known(&marks, &detection.corners_px) {
            continue;
        }
        match refine(pixels, detection.id, detection.corners_px, appearance, edges) {
            Some(mark) if !is_known(&marks, &mark.corners_px) => marks.push((detection.id, mark)),
            Some(_) => {}
            None => failures.push(detection),
        }
    }
    marks
}

#[cfg(test)]
pub(super) mod made;
#[cfg(test)]
mod recall;
#[cfg(test)]
mod tests;
