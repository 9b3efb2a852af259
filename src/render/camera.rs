//! A made camera: where a pixel looks, and where a point of the world comes to lie in the picture.

use super::beam::{combine, cross, dot, unit};
use serde::{Deserialize, Serialize};

/// Diagonal of the 36 mm × 24 mm frame, mm, to which the 35 mm equivalent focal length refers (CIPA DCG-001; from
/// memory).
const FULL_FRAME_DIAGONAL_MM: f64 = 43.266_615_305_567_87;

/// The camera of a scene. The picture's size is that of the upright picture, whatever way the pixels are stored.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Camera {
    /// The lens, wall frame, mm: right, up, away from the wall.
    pub position_mm: [f64; 3],
    /// The point of the wall that the optical axis meets, mm; left out, with yaw and pitch left out too, it is the
    /// middle of the marks.
    pub look_at_mm: Option<[f64; 2]>,
    /// In place of `look_at_mm`: turn to the right from facing the wall squarely, degrees.
    pub yaw_deg: Option<f64>,
    /// In place of `look_at_mm`: turn upward, degrees.
    pub pitch_deg: Option<f64>,
    /// Turn about the optical axis, degrees; positive is clockwise from behind the camera.
    pub roll_deg: f64,
    /// 35 mm equivalent focal length, by the picture's diagonal, mm.
    pub focal_35mm: f64,
    /// Width of the upright picture, px.
    pub width_px: usize,
    /// Height of the upright picture, px.
    pub height_px: usize,
    /// Radial distortion per (half-diagonal)²: r_distorted = r·(1 + k1·(r/half-diagonal)²), both in px.
    pub k1: f64,
    /// Where the optical axis lies from the picture's centre, px right and down.
    pub principal_offset_px: [f64; 2],
    /// How much of the natural cos⁴ fall-off towards the corners is left in the picture, 0 to 1.
    pub vignetting: f64,
    /// Standard deviation of the defocus blur, a Gaussian, px.
    pub defocus_px: f64,
    /// Length of the motion blur, px.
    pub motion_px: f64,
    /// Direction of the motion, degrees anticlockwise from the picture's right.
    pub motion_direction_deg: f64,
    /// Share of the picture's mean light that the lens spreads evenly over it, per cent.
    pub veil_percent: f64,
}

impl Default for Camera {
    fn default() -> Self {
        Self {
            position_mm: [-300.0, 1_400.0, 2_700.0],
            look_at_mm: None,
            yaw_deg: None,
            pitch_deg: None,
            roll_deg: 0.0,
            focal_35mm: 26.0,
            width_px: 3_000,
            height_px: 2_250,
            k1: 0.0,
            principal_offset_px: [0.0, 0.0],
            vignetting: 0.5,
            defocus_px: 0.7,
            motion_px: 0.0,
            motion_direction_deg: 0.0,
            veil_percent: 0.2,
        }
    }
}

/// A camera set up in the wall frame: a pinhole with radial distortion. Pixel centres lie at whole coordinates, so
/// that the picture reaches from −0.5 to `width_px` − 0.5.
#[derive(Debug, Clone)]
pub struct Pinhole {
    position_mm: [f64; 3],
    forward: [f64; 3],
    right: [f64; 3],
    down: [f64; 3],
    focal_px: f64,
    centre_px: [f64; 2],
    half_diagonal_px: f64,
    k1: f64,
}

impl Pinhole {
    /// Sets up `camera`; where it says no direction, it looks at `default_look_at_mm` on the wall.
    #[must_use]
    pub fn new(camera: &Camera, default_look_at_mm: [f64; 2]) -> Self {
        let position_mm = camera.position_mm;
        let forward = if camera.yaw_deg.is_some() || camera.pitch_deg.is_some() {
            let (yaw_sin, yaw_cos) = camera.yaw_deg.unwrap_or(0.0).to_radians().sin_cos();
            let (pitch_sin, pitch_cos) = camera.pitch_deg.unwrap_or(0.0).to_radians().sin_cos();
            [yaw_sin * pitch_cos, pitch_sin, -yaw_cos * pitch_cos]
        } else {
            let [x_mm, y_mm] = camera.look_at_mm.unwrap_or(default_look_at_mm);
            unit([x_mm - position_mm[0], y_mm - position_mm[1], -position_mm[2]])
        };
        let level = unit(cross(forward, [0.0, 1.0, 0.0]));
        let below = cross(forward, level);
        let (sin, cos) = camera.roll_deg.to_radians().sin_cos();
        let (width_px, height_px) = (camera.width_px as f64, camera.height_px as f64);
        let diagonal_px = width_px.hypot(height_px);
        Self {
            position_mm,
            forward,
            right: combine(level, cos, below, sin),
            down: combine(below, cos, level, -sin),
            focal_px: camera.focal_35mm / FULL_FRAME_DIAGONAL_MM * diagonal_px,
            centre_px: [
                0.5 * (width_px - 1.0) + camera.principal_offset_px[0],
                0.5 * (height_px - 1.0) + camera.principal_offset_px[1],
            ],
            half_diagonal_px: 0.5 * diagonal_px,
            k1: camera.k1,
        }
    }

    /// The lens, wall frame, mm.
    #[must_use]
    pub fn position_mm(&self) -> [f64; 3] {
        self.position_mm
    }

    /// Direction that the picture point (`x`, `y`) px looks in, wall frame; its length is 1/cos of the angle from the
    /// optical axis.
    #[must_use]
    pub fn ray(&self, x_px: f64, y_px: f64) -> [f64; 3] {
        let (dx_px, dy_px) = (x_px - self.centre_px[0], y_px - self.centre_px[1]);
        let scale = self.undistorted_share(dx_px, dy_px) / self.focal_px;
        combine(
            self.forward,
            1.0,
            combine(self.right, dx_px * scale, self.down, dy_px * scale),
            1.0,
        )
    }

    /// Undistorted over distorted distance from the centre, by Newton's method.
    fn undistorted_share(&self, dx_px: f64, dy_px: f64) -> f64 {
        if self.k1 == 0.0 {
            return 1.0;
        }
        let distorted2 = (dx_px * dx_px + dy_px * dy_px) / (self.half_diagonal_px * self.half_diagonal_px);
        // share·(1 + k1·distorted2·share²) = 1
        let k = self.k1 * distorted2;
        let mut share = 1.0 - k + 3.0 * k * k;
        for _ in 0..3 {
            share -= (share * (1.0 + k * share * share) - 1.0) / (1.0 + 3.0 * k * share * share);
        }
        share
    }

    /// Where a point of the wall frame, mm, lies in the picture, px; `None` behind the camera.
    #[must_use]
    pub fn project(&self, point_mm: [f64; 3]) -> Option<[f64; 2]> {
        let from_lens = combine(point_mm, 1.0, self.position_mm, -1.0);
        let ahead = dot(from_lens, self.forward);
        if ahead <= 0.0 {
            return None;
        }
        let dx_px = self.focal_px * dot(from_lens, self.right) / ahead;
        let dy_px = self.focal_px * dot(from_lens, self.down) / ahead;
        let radius2 = (dx_px * dx_px + dy_px * dy_px) / (self.half_diagonal_px * self.half_diagonal_px);
        let stretch = 1.0 + self.k1 * radius2;
        Some([self.centre_px[0] + dx_px * stretch, self.centre_px[1] + dy_px * stretch])
    }

    /// Where the picture point (`x`, `y`) px lies on the wall's plane, mm; `None` where it looks away from it.
    #[must_use]
    pub fn wall_point_mm(&self, x_px: f64, y_px: f64) -> Option<[f64; 2]> {
        let ray = self.ray(x_px, y_px);
        (ray[2] < -1e-9).then(|| {
            let reach = -self.position_mm[2] / ray[2];
            [
                self.position_mm[0] + reach * ray[0],
                self.position_mm[1] + reach * ray[1],
            ]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_view_maps_as_worked_out_by_hand() {
        // 4000 × 3000: diagonal 5000 px; f = 26 / 43.2666 · 5000 = 3004.627 px. 3 m off, 1 mm is 1.001542 px; the
        // middle pixel is (1999.5, 1499.5).
        let camera = Camera {
            position_mm: [100.0, 900.0, 3_000.0],
            look_at_mm: Some([100.0, 900.0]),
            width_px: 4_000,
            height_px: 3_000,
            ..Camera::default()
        };
        let pinhole = Pinhole::new(&camera, [0.0, 0.0]);
        assert!((pinhole.focal_px - 3_004.627).abs() < 0.001);
        let [x_px, y_px] = pinhole.project([400.0, 1_100.0, 0.0]).unwrap();
        assert!((x_px - (1_999.5 + 300.462_7)).abs() < 0.001, "{x_px}");
        assert!((y_px - (1_499.5 - 200.308_5)).abs() < 0.001, "up is up: {y_px}");
        // With k1 = 0.02: 361.109 px out, 0.144444 of the half-diagonal, stretch 1 + 0.02·0.0208640 = 1.000417280.
        let bent = Pinhole::new(
            &Camera {
                k1: 0.02,
                ..camera.clone()
            },
            [0.0, 0.0],
        );
        let [x_px, y_px] = bent.project([400.0, 1_100.0, 0.0]).unwrap();
        assert!((x_px - (1_999.5 + 300.588_1)).abs() < 0.001, "{x_px}");
        assert!((y_px - (1_499.5 - 200.392_1)).abs() < 0.001, "{y_px}");
        assert_eq!(pinhole.project([0.0, 0.0, 4_000.0]), None, "behind the camera");
        // Turned clockwise by 90°, what was up lies to the left.
        let turned = Pinhole::new(
            &Camera {
                roll_deg: 90.0,
                ..camera.clone()
            },
            [0.0, 0.0],
        );
        let [x_px, y_px] = turned.project([100.0, 1_100.0, 0.0]).unwrap();
        assert!(
            (x_px - (1_999.5 - 200.308_5)).abs() < 0.001 && (y_px - 1_499.5).abs() < 1e-6,
            "{x_px} {y_px}"
        );
        // Yawed right by atan(300/3000), the axis meets the wall 300 mm further right; pitched up, higher.
        let aside = Camera {
            look_at_mm: None,
            yaw_deg: Some(0.1_f64.atan().to_degrees()),
            pitch_deg: Some(0.0),
            ..camera
        };
        let [x_mm, y_mm] = Pinhole::new(&aside, [0.0, 0.0])
            .wall_point_mm(1_999.5, 1_499.5)
            .unwrap();
        assert!(
            (x_mm - 400.0).abs() < 1e-6 && (y_mm - 900.0).abs() < 1e-6,
            "{x_mm} {y_mm}"
        );
        let up = Camera {
            yaw_deg: None,
            pitch_deg: Some(10.0),
            ..aside
        };
        let [_, y_mm] = Pinhole::new(&up, [0.0, 0.0]).wall_point_mm(1_999.5, 1_499.5).unwrap();
        assert!(
            (y_mm - (900.0 + 3_000.0 * 10.0_f64.to_radians().tan())).abs() < 1e-6,
            "{y_mm}"
        );
    }

    #[test]
    fn there_and_back_is_the_same_place() {
        for k1 in [-0.03, 0.0, 0.03] {
            let camera = Camera {
                k1,
                roll_deg: 3.0,
                principal_offset_px: [12.0, -7.0],
                ..Camera::default()
            };
            let pinhole = Pinhole::new(&camera, [300.0, 500.0]);
            for (x_px, y_px) in [(0.0, 0.0), (2_999.0, 2_249.0), (1_500.0, 40.0), (-0.5, 2_249.5)] {
                let [x_mm, y_mm] = pinhole.wall_point_mm(x_px, y_px).unwrap();
                let [x_back_px, y_back_px] = pinhole.project([x_mm, y_mm, 0.0]).unwrap();
                assert!(
                    (x_back_px - x_px).abs() < 1e-6 && (y_back_px - y_px).abs() < 1e-6,
                    "{k1} {x_px} {y_px}"
                );
            }
        }
    }
}
