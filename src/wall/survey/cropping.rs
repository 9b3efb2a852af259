//! Photos of which a part was cut off. What is left has the lens axis beside its middle, and a camera that is fitted with the axis in the
//! middle stands askew and elsewhere: its view of the wall is wrong by what no sheet shows as its own.
//!
//! The sheets tell it: with the axis left free the corners fit far better. How much better it takes goes by what the file and the job's
//! other photos say.

use super::{Sighting, resector};
use crate::record::Bay;
use crate::refusal::Refusal;
use crate::wall::camera::{AXIS_X, AXIS_Y, PictureSize};
use crate::wall::resection::Resection;

/// Two pictures of one shape have sides whose ratios lie this near to each other, relative.
const SAME_SHAPE: f64 = 0.01;
/// The axis of no camera lies further from the middle than this, over the diagonal: three standard deviations of what phones have, and
/// of what the sheets leave open of it.
const LEAST_ASIDE: f64 = 0.02;
/// With the axis free chi-square falls by more than this where nothing but the sheets tells that a photo was cut: on sound made photos it
/// falls by 2, on cut ones by hundreds (our choice, no source).
const PLAINLY_BETTER: f64 = 30.0;
/// The same where the file or the other photos speak for it, too: a normal error lies beyond once in fifty (chi-square, two degrees of
/// freedom).
const BETTER: f64 = 8.0;
/// Corners that scatter by more than this, as variance over what they should, fit no camera.
const FITS: f64 = 3.0;
/// Where they scatter by less with the axis in its place, and nothing else speaks for a cut, none is looked for.
const FITS_AS_IT_IS: f64 = 1.5;

/// What speaks for it that a photo was cut, beside its sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Evidence {
    /// Nothing does.
    None,
    /// Its camera's other photos have another shape, or the camera wrote more pixels than there are.
    Some,
    /// The camera wrote a picture of another shape.
    Sure,
}

impl Evidence {
    /// Of a photo among those of the job.
    pub fn of(sighting: &Sighting, all: &[Sighting]) -> Self {
        let size_px = [sighting.size_px.0, sighting.size_px.1];
        let same_shape = |other: [usize; 2]| (shape(other) / shape(size_px) - 1.0).abs() < SAME_SHAPE;
        let written_px = sighting.capture.written_px;
        let of_camera =
            |other: &&Sighting| other.capture.camera.is_some() && other.capture.camera == sighting.capture.camera;
        if written_px.is_some_and(|written| !same_shape(written)) {
            return Self::Sure;
        }
        let is_less = written_px.is_some_and(|[width, height]| width * height > size_px[0] * size_px[1]);
        let mut others = all.iter().filter(of_camera);
        if is_less || others.any(|other| !same_shape([other.size_px.0, other.size_px.1])) {
            Self::Some
        } else {
            Self::None
        }
    }
}

/// The long side over the short one.
fn shape([width_px, height_px]: [usize; 2]) -> f64 {
    width_px.max(height_px) as f64 / width_px.min(height_px).max(1) as f64
}

/// A photo with its resection; where a part of it was cut off, with that said and the axis left free.
pub(super) fn told(
    bay: &Bay,
    sighting: &Sighting,
    resection: Result<Resection, Refusal>,
    evidence: Evidence,
) -> (Sighting, Result<Resection, Refusal>) {
    let fits = resection.as_ref().is_ok_and(|one| one.inflation < FITS_AS_IT_IS);
    // What does not fit as it is may be a sheet that hangs elsewhere: a freer camera is no reason to believe it.
    if evidence == Evidence::None && (fits || resection.is_err()) {
        return (sighting.clone(), resection);
    }
    let mut cut = Sighting {
        cropped_aside: Some(0.0),
        ..sighting.clone()
    };
    let Ok(free) = resector(bay, &cut).resect(&sighting.found) else {
        return (sighting.clone(), resection);
    };
    let aside = aside_of_diagonal(&free, sighting);
    let is_cut = match &resection {
        _ if evidence == Evidence::Sure => true,
        Ok(one) => {
            let fall = 2.0 * (one.fit.cost - free.fit.cost) / free.inflation;
            let least = if evidence == Evidence::None {
                PLAINLY_BETTER
            } else {
                BETTER
            };
            // A sheet that was left out in the one and not in the other is an error less to explain.
            one.used.len() <= free.used.len() && fall > least && aside > LEAST_ASIDE && free.inflation < FITS
        }
        Err(_) => aside > LEAST_ASIDE && free.inflation < FITS,
    };
    if !is_cut {
        return (sighting.clone(), resection);
    }
    cut.cropped_aside = Some(aside);
    (cut, Ok(free))
}

/// How far the lens axis lies beside the picture's middle, over its diagonal.
fn aside_of_diagonal(resection: &Resection, sighting: &Sighting) -> f64 {
    let size = PictureSize::of(sighting.size_px);
    let middle_px = size.middle_px();
    let axis_px = [AXIS_X, AXIS_Y].map(|n| resection.fit.parameters[n]);
    (axis_px[0] - middle_px[0]).hypot(axis_px[1] - middle_px[1]) / size.diagonal_px()
}
