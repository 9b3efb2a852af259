//! Which of the bay's sheets is where, roughly: dark square outlines on light paper, whose cells spell a wanted number.
//!
//! A photo of a headlamp's beam holds bright and nearly black sheets at once. Ink is therefore told from paper in the
//! logarithm of the light and against the mean round about ([`outline`]), where the light's level and its slope cancel, on
//! block means of the photo ([`reduced`]), which take the noise of the dark parts down. The cells are then read against the
//! ink and the paper of the same sheet ([`cells`]).

mod cells;
mod darkness;
mod outline;
mod reduced;

use super::quad::Quad;
use crate::photo::Pixels;
use cells::Numbers;
use reduced::Finest;

/// A tag as found on a reduced photo, in the photo's px.
pub(super) struct Detection {
    pub id: u32,
    bit_errors: u32,
    /// How many px of the photo one of the reduced photo spans.
    factor: usize,
    pub corners_px: Quad,
}

/// One reduction of the photo, and by how many e-folds of light ink is to be darker there than the mean round about: less, the
/// better the means take noise down. A sheet behind a veil of stray light has a tenth of an e-fold between ink and paper.
struct Pass {
    /// How many px of the finest reduction one of these spans.
    by: usize,
    smoothed: bool,
    darker_by: &'static [f64],
}

/// In this order until all numbers are found. The first finds what is well lit; what is nearly black, blurred or veiled takes
/// means over more px, and what is small the finest of them (tried on made photos, no source).
const PASSES: [Pass; 7] = [
    Pass::new(2, false, &[0.32]),
    Pass::new(2, true, &[0.18, 0.06, 0.03]),
    Pass::new(4, false, &[0.18]),
    Pass::new(4, true, &[0.12, 0.06]),
    Pass::new(3, false, &[0.18]),
    Pass::new(3, true, &[0.1, 0.03]),
    Pass::new(1, true, &[0.25, 0.08]),
];

impl Pass {
    const fn new(by: usize, smoothed: bool, darker_by: &'static [f64]) -> Self {
        Self {
            by,
            smoothed,
            darker_by,
        }
    }
}

/// How long a search goes on.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Effort {
    /// Until each number was read once.
    UntilAllAreRead,
    /// To the last pass, for more readings to start from.
    ToTheEnd,
}

/// The tags with the wanted ids, in order of id, and for each the readings with few wrong bits and from a fine picture
/// first: they start the refinement nearest to the edge. One tag may be seen several times.
pub(super) fn detect(pixels: &Pixels, wanted: &[u32], effort: Effort) -> Vec<Detection> {
    let numbers = Numbers::of(wanted);
    let mut detections: Vec<Detection> = Vec::new();
    let Some(finest) = Finest::of(pixels) else {
        return detections;
    };
    let mut last = None;
    'all: for (n, pass) in PASSES.iter().enumerate() {
        // Where the photo itself is hardly larger than the first reduction, each pass takes half of what it would.
        let by = if finest.is_small() {
            pass.by.div_ceil(2)
        } else {
            pass.by
        };
        let (darkness, factor) = if n == 0 {
            // Most photos want no second pass: beside what the first takes, its means would be the largest.
            let Some(found) = finest.darkness(by) else {
                continue;
            };
            found
        } else {
            // Passes that follow each other often want the same means.
            let Some(reduced) = finest.reduced_from(last.take(), by) else {
                continue;
            };
            let darkness = if pass.smoothed {
                reduced.smoothed().darkness()
            } else {
                reduced.darkness()
            };
            let factor = reduced.factor;
            last = Some(reduced);
            (darkness, factor)
        };
        for &darker_by in pass.darker_by {
            let quads = outline::quads(&darkness, darker_by);
            let readings = quads.iter().filter_map(|quad_px| numbers.read(&darkness, quad_px));
            detections.extend(readings.map(|reading| Detection {
                id: reading.id,
                bit_errors: reading.bit_errors,
                factor,
                corners_px: reading.corners_px.map(|corner| reduced::in_photo(corner, factor)),
            }));
            if effort == Effort::UntilAllAreRead && numbers.all_among(&detections) {
                break 'all;
            }
        }
    }
    detections.sort_by_key(|detection| (detection.id, detection.bit_errors, detection.factor));
    detections
}

/// How many px the reduction has on which a search in a photo begins.
pub(super) fn reduced_px(pixels: &Pixels) -> usize {
    Finest::of(pixels).map_or(0, |finest| finest.reduced(2).map_or(0, |reduced| reduced.size()))
}
