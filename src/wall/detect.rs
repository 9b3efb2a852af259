//! Which of the bay's sheets is where, roughly: dark square outlines on light paper, whose cells spell a wanted number.
//!
//! A photo of a headlamp's beam holds bright and nearly black sheets at once. Ink is therefore told from paper in the
//! logarithm of the light and against the mean round about ([`outline`]), where the light's level and its slope cancel, on
//! block means of the photo ([`pyramid`]), which take the noise of the dark parts down. The cells are then read against the
//! ink and the paper of the same sheet ([`cells`]).

mod cells;
mod outline;
mod pyramid;

use super::light::Light;
use super::quad::Quad;
use cells::Numbers;
use pyramid::Reduced;

/// A tag as found on a reduced photo, in the photo's px.
pub(crate) struct Detection {
    pub id: u32,
    bit_errors: u32,
    /// How many px of the photo one of the reduced photo spans.
    factor: usize,
    pub corners_px: Quad,
}

/// The tags with the wanted ids, in order of id, and for each the readings with few wrong bits and from a fine picture
/// first: they start the refinement nearest to the edge. One tag may be seen several times.
pub(crate) fn detect(light: Light<'_>, wanted: &[u32]) -> Vec<Detection> {
    let numbers = Numbers::of(wanted);
    let mut detections: Vec<Detection> = Vec::new();
    let Some(finest) = Reduced::finest(light) else {
        return detections;
    };
    let first = if finest.long_side_px() < 1400 { 1 } else { 2 };
    let passes = if first == 1 { vec![(1, false, 9), (1, true, 5), (2, false, 5), (2, true, 4), (3, true, 4)] } else
     { vec![(2, false, 9), (2, true, 5), (4, false, 5), (4, true, 4), (3, false, 5), (3, true, 4), (1, true, 7)] };
    for (by, smooth, margin) in passes {
        let Some(reduced) = finest.reduced(by) else { continue };
        let darkness = if smooth { reduced.smoothed().darkness() } else { reduced.darkness() };
        let found = outline::quads(&darkness, margin).into_iter().filter_map(|quad_px| {
            let reading = numbers.read(&darkness, &quad_px)?;
            Some(Detection {
                id: reading.id,
                bit_errors: reading.bit_errors,
                factor: reduced.factor,
                corners_px: reading.corners_px.map(|corner| reduced.in_photo(corner)),
            })
        });
        detections.extend(found);
        if numbers.all_among(&detections) {
            break;
        }
    }
    detections.sort_by_key(|detection| (detection.id, detection.bit_errors, detection.factor));
    detections
}
