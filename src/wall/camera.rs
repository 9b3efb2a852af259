//! How a camera projects the wall: a pinhole with one radial distortion term, r_d = r_u (1 + k (r_u / R)²), where R is
//! half of the picture's diagonal.

use nalgebra::{Matrix2, Matrix3, Rotation3, SMatrix, Vector2, Vector3};

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

    /// As [`Projection::project`], for one place.
    #[cfg(test)]
    pub fn project(&self, wall_mm: [f64; 2]) -> Option<[f64; 2]> {
        self.projection().project(wall_mm)
    }

    /// For many places: what the parameters mean is worked out once.
    pub fn projection(&self) -> Projection {
        let parameters = &self.parameters;
        Projection {
            rotation: self.rotation(),
            place_mm: self.place_mm(),
            axis_px: Vector2::new(parameters[AXIS_X], parameters[AXIS_Y]),
            focal_px: parameters[LN_FOCAL].exp(),
            distortion: parameters[DISTORTION],
            half_diagonal_px: 0.5 * self.size.diagonal_px(),
            of_turn: left_jacobian(Vector3::from_column_slice(&parameters[..PLACE.start])),
        }
    }
}

/// A camera with all that its parameters mean.
#[derive(Debug, Clone, Copy)]
pub(super) struct Projection {
    rotation: Matrix3<f64>,
    place_mm: Vector3<f64>,
    axis_px: Vector2<f64>,
    focal_px: f64,
    distortion: f64,
    half_diagonal_px: f64,
    /// What one of each turn parameter turns the camera by, rad about each of its axes.
    of_turn: Matrix3<f64>,
}

/// What moves the place in the photo, px, where a place on the wall lies.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sight {
    /// ∂(px)/∂(mm on the wall).
    pub by_wall: Matrix2<f64>,
    /// ∂(px)/∂(camera parameters), in the parameters' own units.
    pub by_camera: SMatrix<f64, 2, CAMERA_PARAMETERS>,
}

impl Projection {
    /// Where a place on the wall (mm) lies in the photo (px); `None` behind the camera.
    pub fn project(&self, wall_mm: [f64; 2]) -> Option<[f64; 2]> {
        self.upright(wall_mm[0])(wall_mm[1])
    }

    /// The same for places straight above each other on the wall: by the height, mm, of one `x_mm` to the right.
    pub fn upright(&self, x_mm: f64) -> impl Fn(f64) -> Option<[f64; 2]> {
        let [right, up] = [0, 1].map(|c| self.rotation.column(c).into_owned());
        let from = right * x_mm + self.place_mm;
        move |y_mm| self.pixel(from + up * y_mm)
    }

    /// The pixel of a place in the camera's frame, mm.
    fn pixel(&self, seen: Vector3<f64>) -> Option<[f64; 2]> {
        if seen.z <= 0.0 || !seen.z.is_finite() {
            return None;
        }
        let (x, y) = (self.focal_px * seen.x / seen.z, self.focal_px * seen.y / seen.z);
        let bend = 1.0 + self.distortion * (x * x + y * y) / self.half_diagonal_px.powi(2);
        Some([self.axis_px.x + x * bend, self.axis_px.y + y * bend])
    }

    /// What moves that, by the chain rule.
    pub fn sight(&self, wall_mm: [f64; 2]) -> Option<Sight> {
        let turned = self.rotation * Vector3::new(wall_mm[0], wall_mm[1], 0.0);
        let seen = turned + self.place_mm;
        self.project(wall_mm)?;
        let of_depth = self.focal_px / seen.z;
        let ideal = Vector2::new(of_depth * seen.x, of_depth * seen.y);
        let squared = self.half_diagonal_px.powi(2);
        let bend = 1.0 + self.distortion * ideal.norm_squared() / squared;
        let by_ideal = Matrix2::identity() * bend + 2.0 * self.distortion / squared * ideal * ideal.transpose();
        let pinhole = SMatrix::<f64, 2, 3>::new(
            of_depth,
            0.0,
            -of_depth * seen.x / seen.z,
            0.0,
            of_depth,
            -of_depth * seen.y / seen.z,
        );
        let by_seen = by_ideal * pinhole;
        let mut by_camera = SMatrix::<f64, 2, CAMERA_PARAMETERS>::zeros();
        by_camera
            .fixed_columns_mut::<3>(0)
            .copy_from(&(-by_seen * turned.cross_matrix() * self.of_turn));
        by_camera.fixed_columns_mut::<3>(PLACE.start).copy_from(&by_seen);
        by_camera.set_column(LN_FOCAL, &(by_ideal * ideal));
        by_camera[(0, AXIS_X)] = 1.0;
        by_camera[(1, AXIS_Y)] = 1.0;
        by_camera.set_column(DISTORTION, &(ideal * (ideal.norm_squared() / squared)));
        Some(Sight {
            by_wall: (by_seen * self.rotation.fixed_columns::<2>(0)),
            by_camera,
        })
    }

    /// Where the sight line of a place in the photo (px) meets the wall (mm); `None` when it misses.
    pub fn to_wall(self, photo_px: [f64; 2]) -> Option<[f64; 2]> {
        /// Steps below this are none, px.
        const SAME_PX: f64 = 1e-10;
        let distorted = Vector2::from(photo_px) - self.axis_px;
        // Solved for r_u by fixed-point steps, which shrink the error k-fold each.
        let mut ideal = distorted;
        for _ in 0..30 {
            let bend = 1.0 + self.distortion * ideal.norm_squared() / self.half_diagonal_px.powi(2);
            let next = distorted / bend;
            let step = (next - ideal).amax();
            ideal = next;
            if step < SAME_PX {
                break;
            }
        }
        let ray = self
            .rotation
            .tr_mul(&Vector3::new(ideal.x / self.focal_px, ideal.y / self.focal_px, 1.0));
        let eye = Vector3::from(self.eye_mm());
        let along = -eye.z / ray.z;
        (along.is_finite() && along > 0.0).then(|| [eye.x + along * ray.x, eye.y + along * ray.y])
    }

    /// The camera's place in the wall frame: x, y, and distance from the wall, mm.
    pub fn eye_mm(&self) -> [f64; 3] {
        (-self.rotation.tr_mul(&self.place_mm)).into()
    }
}

/// What a small change of a rotation's scaled axis turns by (the left Jacobian of SO(3), from memory), as a matrix: identity for no
/// rotation.
fn left_jacobian(scaled_axis: Vector3<f64>) -> Matrix3<f64> {
    let cross = scaled_axis.cross_matrix();
    let (angle, squared) = (scaled_axis.norm(), scaled_axis.norm_squared());
    // Both by their series where they would lose their digits.
    let (first, second) = if angle < 1e-3 {
        (0.5 - squared / 24.0, 1.0 / 6.0 - squared / 120.0)
    } else {
        ((1.0 - angle.cos()) / squared, (angle - angle.sin()) / (squared * angle))
    };
    Matrix3::identity() + first * cross + second * cross * cross
}

/// A camera that looks square at the wall: its x to the right, its y down, its z into the wall.
pub(super) fn facing_wall() -> Matrix3<f64> {
    Matrix3::new(1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, -1.0)
}

#[cfg(test)]
/// Steps for numerical derivatives of the camera parameters; `distance_mm` is the camera's distance.
pub(super) fn camera_steps(distance_mm: f64) -> [f64; CAMERA_PARAMETERS] {
    let place_mm = 1e-6 * distance_mm.abs().max(1.0);
    [1e-6, 1e-6, 1e-6, place_mm, place_mm, place_mm, 1e-6, 1e-3, 1e-3, 1e-5]
}

#[cfg(test)]
mod against_opencv;

#[cfg(test)]
mod tests {
    use super::*;

    /// Against central differences, for cameras turned and placed in many ways.
    #[test]
    fn slopes_are_those_of_the_projection() {
        let size = PictureSize::of((4000, 3000));
        for (turn, distortion) in [([0.0; 3], 0.0), ([1e-5, 2e-5, 0.0], 0.01), ([0.3, -0.2, 0.1], -0.03)] {
            let camera = Camera {
                parameters: [
                    turn[0], turn[1], turn[2], 200.0, 900.0, 6000.0, 8.0, 1990.0, 1510.0, distortion,
                ],
                size,
            };
            for wall_mm in [[0.0, 0.0], [-800.0, 650.0], [1500.0, -300.0]] {
                let sight = camera.projection().sight(wall_mm).unwrap();
                let apart = |up: Option<[f64; 2]>, down: Option<[f64; 2]>, step: f64| {
                    (Vector2::from(up.unwrap()) - Vector2::from(down.unwrap())) / (2.0 * step)
                };
                for (n, step) in camera_steps(6000.0).into_iter().enumerate() {
                    let [mut up, mut down] = [camera; 2];
                    up.parameters[n] += step;
                    down.parameters[n] -= step;
                    let plain = apart(up.project(wall_mm), down.project(wall_mm), step);
                    let told = sight.by_camera.column(n);
                    let off = (told - plain).norm();
                    assert!(off < 1e-5 * (1.0 + plain.norm()), "{turn:?} {n}: {told} {plain}");
                }
                for c in 0..2 {
                    let at = |by: f64| {
                        let mut moved = wall_mm;
                        moved[c] += by;
                        camera.project(moved)
                    };
                    let plain = apart(at(0.1), at(-0.1), 0.1);
                    assert!((sight.by_wall.column(c) - plain).norm() < 1e-6, "{turn:?} {c}");
                }
                let back = camera.projection().to_wall(camera.project(wall_mm).unwrap()).unwrap();
                assert!((back[0] - wall_mm[0]).hypot(back[1] - wall_mm[1]) < 1e-6, "{back:?}");
            }
        }
    }
}
