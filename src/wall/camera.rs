//! How a camera projects the wall: a pinhole with one radial distortion term, r_d = r_u (1 + k (r_u / R)²), where R is
//! half of the picture's diagonal.

use nalgebra::{Matrix2, Matrix3, Rotation3, Vector2, Vector3};

/// Camera parameters: turn (3, rad), place (3, mm), ln focal length, lens axis (2, px), distortion at the
/// half-diagonal.
pub(super) const CAMERA_PARAMETERS: usize = 10;
const PLACE: std::ops::Range<usize> = 3..6;
pub(super) const LN_FOCAL: usize = 6;
pub(super) const AXIS_X: usize = 7;
pub(super) const AXIS_Y: usize = 8;
pub(super) const DISTORTION: usize = 9;

/// Width and height of a photo.
#[derive(Debug, Clone, Copy)]
pub(super) struct PictureSize {
    pub width_px: f64,
    pub height_px: f64,
}

impl PictureSize {
    /// From whole numbers of px.
    pub fn of((width_px, height_px): (usize, usize)) -> Self {
        Self {
            width_px: width_px as f64,
            height_px: height_px as f64,
        }
    }

    pub fn diagonal_px(self) -> f64 {
        self.width_px.hypot(self.height_px)
    }

    /// The middle of the picture; pixel centres are at whole numbers.
    pub fn middle_px(self) -> [f64; 2] {
        [self.width_px, self.height_px].map(|side_px| 0.5 * (side_px - 1.0))
    }
}

/// A camera before the wall, whose points have the coordinates x (right), y (up) and 0, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Camera {
    /// As [`CAMERA_PARAMETERS`] lists them.
    pub parameters: [f64; CAMERA_PARAMETERS],
    pub size: PictureSize,
}

impl Camera {
    /// The camera whose parameters are the first of `parameters`, of which there must be enough.
    pub fn of(parameters: &[f64], size: PictureSize) -> Self {
        Self {
            parameters: std::array::from_fn(|i| parameters[i]),
            size,
        }
    }

    /// From the wall's directions to the camera's.
    fn rotation(&self) -> Matrix3<f64> {
        let [x, y, z, ..] = self.parameters;
        Rotation3::from_scaled_axis(Vector3::new(x, y, z)).matrix() * facing_wall()
    }

    /// The wall's origin in the camera's frame, mm.
    fn place_mm(&self) -> Vector3<f64> {
        Vector3::from_column_slice(&self.parameters[PLACE])
    }

    fn axis_px(&self) -> Vector2<f64> {
        Vector2::new(self.parameters[AXIS_X], self.parameters[AXIS_Y])
    }

    /// Where a place on the wall (mm) lies in the photo (px); `None` behind the camera.
    pub fn project(&self, wall_mm: [f64; 2]) -> Option<[f64; 2]> {
        self.projection()(wall_mm)
    }

    /// As [`Self::project`], for many places on the wall: the camera's rotation is worked out once.
    pub fn projection(&self) -> impl Fn([f64; 2]) -> Option<[f64; 2]> + use<> {
        let (rotation, place, axis) = (self.rotation(), self.place_mm(), self.axis_px());
        let (focal_px, distortion) = (self.parameters[LN_FOCAL].exp(), self.parameters[DISTORTION]);
        let half_diagonal_px = 0.5 * self.size.diagonal_px();
        move |wall_mm| {
            let seen = rotation * Vector3::new(wall_mm[0], wall_mm[1], 0.0) + place;
            if seen.z <= 0.0 || !seen.z.is_finite() {
                return None;
            }
            let (x, y) = (focal_px * seen.x / seen.z, focal_px * seen.y / seen.z);
            let bend = 1.0 + distortion * (x * x + y * y) / half_diagonal_px.powi(2);
            Some([axis.x + x * bend, axis.y + y * bend])
        }
    }

    /// Where the sight line of a place in the photo (px) meets the wall (mm); `None` when it misses.
    pub fn to_wall(self, photo_px: [f64; 2]) -> Option<[f64; 2]> {
        let half_diagonal_px = 0.5 * self.size.diagonal_px();
        let focal_px = self.parameters[LN_FOCAL].exp();
        let distorted = Vector2::from(photo_px) - self.axis_px();
        // Solved for r_u by fixed-point steps, which shrink the error k-fold each.
        let mut ideal = distorted;
        for _ in 0..30 {
            ideal = distorted / (1.0 + self.parameters[DISTORTION] * ideal.norm_squared() / half_diagonal_px.powi(2));
        }
        let to_wall = self.rotation().transpose();
        let ray = to_wall * Vector3::new(ideal.x / focal_px, ideal.y / focal_px, 1.0);
        let eye = -(to_wall * self.place_mm());
        let along = -eye.z / ray.z;
        (along.is_finite() && along > 0.0).then(|| [eye.x + along * ray.x, eye.y + along * ray.y])
    }

    /// The camera's place in the wall frame: x, y, and distance from the wall, mm.
    pub fn eye_mm(&self) -> [f64; 3] {
        (-(self.rotation().transpose() * self.place_mm())).into()
    }

    /// ∂(px)/∂(mm) at a place on the wall, by central differences.
    pub fn wall_jacobian(&self, wall_mm: [f64; 2]) -> Option<Matrix2<f64>> {
        const STEP_MM: f64 = 0.1;
        let difference = |dx: f64, dy: f64| {
            let up = self.project([wall_mm[0] + dx, wall_mm[1] + dy])?;
            let down = self.project([wall_mm[0] - dx, wall_mm[1] - dy])?;
            Some(Vector2::new(up[0] - down[0], up[1] - down[1]) / (2.0 * STEP_MM))
        };
        Some(Matrix2::from_columns(&[
            difference(STEP_MM, 0.0)?,
            difference(0.0, STEP_MM)?,
        ]))
    }

    /// For central differences in each parameter in turn: this camera a step above, a step below, and the step.
    pub fn neighbours(self) -> impl Iterator<Item = (Self, Self, f64)> {
        let steps = camera_steps(self.parameters[PLACE.end - 1]);
        steps.into_iter().enumerate().map(move |(i, step)| {
            let (mut up, mut down) = (self, self);
            up.parameters[i] += step;
            down.parameters[i] -= step;
            (up, down, step)
        })
    }
}

/// A camera that looks square at the wall: its x to the right, its y down, its z into the wall.
pub(super) fn facing_wall() -> Matrix3<f64> {
    Matrix3::new(1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, -1.0)
}

/// Steps for numerical derivatives of the camera parameters; `distance_mm` is the camera's distance.
pub(super) fn camera_steps(distance_mm: f64) -> [f64; CAMERA_PARAMETERS] {
    let place_mm = 1e-6 * distance_mm.abs().max(1.0);
    [1e-6, 1e-6, 1e-6, place_mm, place_mm, place_mm, 1e-6, 1e-3, 1e-3, 1e-5]
}

#[cfg(test)]
mod against_opencv;
