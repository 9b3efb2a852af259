//! Where one photo of the wall lies on another, from the marks that both show. The wall is plane, so that a homography
//! is all there is to it, wherever the camera went; a lens' distortion is the same in both and cancels for small moves.

use super::find::FoundMark;
use super::homography::{Homography, homography};

/// Marks that two photos must share: eight corners for a homography's eight unknowns leave it eight to spare.
const LEAST_COMMON_MARKS: usize = 2;
/// Corners that lie this close to each other, px root mean square, are those of a camera that was held still: the
/// corners' own noise would only be carried into the map. Three times the 0.05 px that a corner is trusted to (no source).
const STILL_PX: f64 = 0.15;

/// How the pixels of one photo lie on another's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alignment {
    /// Takes the first photo's px to the second's; `None` where the camera was held still.
    pub map: Option<Homography>,
    /// Root mean square of the corners' distances from where the map has them, px.
    pub rms_px: f64,
    /// How far the corners moved, px root mean square.
    pub moved_px: f64,
}

/// Aligns a photo to another by the corners of the marks, those that either shows twice left out. `None` with fewer than
/// two in common.
#[must_use]
pub fn align(first: &[FoundMark], second: &[FoundMark]) -> Option<Alignment> {
    let once = |marks: &[FoundMark], id: u32| marks.iter().filter(|mark| mark.id == id).count() == 1;
    let pairs: Vec<([f64; 2], [f64; 2])> = first
        .iter()
        .filter(|mark| once(first, mark.id) && once(second, mark.id))
        .filter_map(|mark| Some((mark, second.iter().find(|other| other.id == mark.id)?)))
        .flat_map(|(mark, other)| mark.corners_px.into_iter().zip(other.corners_px))
        .collect();
    if pairs.len() < 4 * LEAST_COMMON_MARKS {
        return None;
    }
    let rms = |map: &dyn Fn([f64; 2]) -> [f64; 2]| {
        let sum: f64 = pairs
            .iter()
            .map(|(a, b)| {
                let at = map(*a);
                (at[0] - b[0]).powi(2) + (at[1] - b[1]).powi(2)
            })
            .sum();
        (sum / pairs.len() as f64).sqrt()
    };
    let moved_px = rms(&|point| point);
    if moved_px < STILL_PX {
        return Some(Alignment {
            map: None,
            rms_px: moved_px,
            moved_px,
        });
    }
    let map = homography(&pairs)?;
    Some(Alignment {
        map: Some(map),
        rms_px: rms(&|point| map.map(point)),
        moved_px,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(id: u32, [x, y]: [f64; 2]) -> FoundMark {
        FoundMark {
            id,
            corners_px: [[x, y], [x + 90.0, y + 1.0], [x + 91.0, y + 88.0], [x + 1.0, y + 90.0]],
            corner_sd_px: [0.05; 4],
            blur_px: 1.0,
        }
    }

    fn moved(mark: &FoundMark, map: impl Fn([f64; 2]) -> [f64; 2]) -> FoundMark {
        FoundMark {
            corners_px: mark.corners_px.map(map),
            ..mark.clone()
        }
    }

    #[test]
    fn a_moved_camera_is_followed_from_two_marks() {
        let first = [mark(1, [100.0, 200.0]), mark(2, [900.0, 700.0]), mark(3, [400.0, 50.0])];
        let map = |[x, y]: [f64; 2]| {
            let w = 1.0 + 1e-5 * x - 2e-5 * y;
            [(x + 0.01 * y + 12.0) / w, (y - 0.01 * x - 7.0) / w]
        };
        let second: Vec<FoundMark> = first[..2].iter().map(|m| moved(m, map)).collect();
        let alignment = align(&first, &second).unwrap();
        assert!(alignment.rms_px < 1e-6 && alignment.moved_px > 5.0, "{alignment:?}");
        let (at, truth) = (alignment.map.unwrap().map([600.0, 400.0]), map([600.0, 400.0]));
        assert!((at[0] - truth[0]).hypot(at[1] - truth[1]) < 1e-4);
        assert_eq!(align(&first, &second[..1]), None);
        // A mark that is seen twice says nothing of where it is.
        let doubled = [second[0].clone(), second[1].clone(), mark(2, [20.0, 20.0])];
        assert_eq!(align(&first, &doubled), None);
    }

    #[test]
    fn corners_within_their_noise_are_a_still_camera() {
        let first = [mark(1, [100.0, 200.0]), mark(2, [900.0, 700.0])];
        let second: Vec<FoundMark> = first
            .iter()
            .map(|m| moved(m, |[x, y]| [x + 0.05 * (0.7 * y).sin(), y + 0.05 * (0.9 * x).cos()]))
            .collect();
        assert_eq!(align(&first, &second).unwrap().map, None);
    }
}
