//! The camera's view of the wall: where a pixel lies on it, and how well that is known.

use super::camera::{CAMERA_PARAMETERS, Projection};
use super::find::FoundMark;
use crate::warning::Warning;
use nalgebra::DMatrix;

/// The camera's view of the wall.
#[derive(Debug, Clone)]
pub struct View {
    pub(super) camera: Projection,
    /// Covariance of the camera parameters were the sheets and the lens known: this photo's own.
    pub(super) photo_covariance: DMatrix<f64>,
    /// What one standard deviation of each source that the job's photos share does to the camera parameters, a column
    /// for each source. The sources are independent; all views of one survey have the same ones in the same order.
    pub(super) common: DMatrix<f64>,
    /// The marks that the view rests on.
    pub marks: Vec<FoundMark>,
    /// Where the bay has sheets; the wall is hidden there.
    pub(super) papers: Vec<Paper>,
    /// Where the wall ends and the floor begins, as far as the bay says, mm.
    pub(super) foot_mm: f64,
    /// Root mean square of the corners' distances from where the view has them, px.
    pub rms_px: f64,
    /// What the user should know about the marks.
    pub warnings: Vec<Warning>,
}

/// Where a sheet's paper hangs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Paper {
    pub centre_mm: [f64; 2],
    /// Half of its width and height.
    pub half_mm: [f64; 2],
}

/// One standard deviation of a height on the wall, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeightSd {
    /// From the corners found in this photo, were the sheets' places known.
    pub photo_mm: f64,
    /// From what the photos of the job have in common: where the sheets hang, as tape and photos together leave it
    /// open, and the lens.
    pub tape_mm: f64,
}

impl View {
    /// Where a place on the wall (mm) lies in the photo (px); `None` behind the camera.
    #[must_use]
    pub fn to_photo(&self, wall_mm: [f64; 2]) -> Option<[f64; 2]> {
        self.camera.project(wall_mm)
    }

    /// Where a place in the photo (px) lies on the wall (mm); `None` when the sight line misses the wall.
    #[must_use]
    pub fn to_wall(&self, photo_px: [f64; 2]) -> Option<[f64; 2]> {
        self.camera.to_wall(photo_px)
    }

    /// Wall length of one pixel's height at a place on the wall, mm; `None` where it cannot be seen.
    #[must_use]
    pub fn mm_per_px(&self, wall_mm: [f64; 2]) -> Option<f64> {
        Some(1.0 / self.camera.sight(wall_mm)?.by_wall.determinant().abs().sqrt())
    }

    /// One standard deviation of the wall height that the view assigns to the pixel at `wall_mm`.
    #[must_use]
    pub fn height_sd(&self, wall_mm: [f64; 2]) -> Option<HeightSd> {
        let sensitivity = self.height_sensitivity(wall_mm)?;
        let photo_variance = (&sensitivity * &self.photo_covariance * sensitivity.transpose())[(0, 0)];
        Some(HeightSd {
            photo_mm: photo_variance.max(0.0).sqrt(),
            tape_mm: (sensitivity * &self.common).norm(),
        })
    }

    /// What one standard deviation of each source that the job's photos share does to the wall height that the view
    /// assigns to the pixel at `wall_mm`, mm. Views of one survey list the same independent sources in the same order,
    /// so that the covariance of two heights is the sum of the products.
    #[must_use]
    pub fn height_common_mm(&self, wall_mm: [f64; 2]) -> Option<Vec<f64>> {
        let row = self.height_sensitivity(wall_mm)? * &self.common;
        Some(row.iter().copied().collect())
    }

    /// Whether the wall cannot be seen at a place, mm: a sheet of the bay hides it, or it is below the floor.
    #[must_use]
    pub fn hidden(&self, wall_mm: [f64; 2]) -> bool {
        wall_mm[1] < self.foot_mm
            || (self.papers.iter())
                .any(|paper| (0..2).all(|c| (wall_mm[c] - paper.centre_mm[c]).abs() < paper.half_mm[c]))
    }

    /// Where the places of the wall that can be seen lie in the photo (px), by their height, mm, on an upright line `x_mm` to the right
    /// of the wall's origin; `None` where [`View::hidden`] or behind the camera.
    pub(crate) fn upright(&self, x_mm: f64) -> impl Fn(f64) -> Option<[f64; 2]> {
        let project = self.camera.upright(x_mm);
        let papers: Vec<[f64; 2]> = (self.papers.iter())
            .filter(|paper| (x_mm - paper.centre_mm[0]).abs() < paper.half_mm[0])
            .map(|paper| [paper.centre_mm[1], paper.half_mm[1]])
            .collect();
        move |y_mm| {
            let hidden = y_mm < self.foot_mm || papers.iter().any(|[centre, half]| (y_mm - centre).abs() < *half);
            if hidden { None } else { project(y_mm) }
        }
    }

    /// Camera's place in the wall frame: x, y, and distance from the wall, mm.
    #[must_use]
    pub fn eye_mm(&self) -> [f64; 3] {
        self.camera.eye_mm()
    }

    /// How the wall height of a fixed pixel changes with each camera parameter, a row.
    pub(super) fn height_sensitivity(&self, wall_mm: [f64; 2]) -> Option<DMatrix<f64>> {
        // A pixel u = P(X, p) stays: dX = −(∂P/∂X)⁻¹ ∂P/∂p dp.
        let sight = self.camera.sight(wall_mm)?;
        let moved = -sight.by_wall.try_inverse()? * sight.by_camera;
        Some(DMatrix::from_row_slice(
            1,
            CAMERA_PARAMETERS,
            moved.row(1).transpose().as_slice(),
        ))
    }
}
