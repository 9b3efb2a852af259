//! From scene to light in the picture's plane: one value a pixel, averaged over the pixel's square.

use super::beam::Beam;
use super::camera::Pinhole;
use super::surface::Surface;
use rayon::prelude::*;

/// Points of a pixel that holds an edge: a Fibonacci lattice of 89 points, on which every direction sees 89 evenly
/// spread places, so that an edge is right to about 0.01 px whatever its slope. (A square grid of as many points
/// would see only nine along its rows.)
const LATTICE_POINTS: u32 = 89;
const LATTICE_TURN: u32 = 55;

/// Points and share of a pixel's side, ±, of the two-point Gauss-Legendre rule.
const GAUSS_PX: f64 = 0.288_675_134_594_812_9;

/// What is to be drawn, settled and ready.
pub(super) struct Raster<'a> {
    pub surface: &'a Surface,
    pub beams: &'a [Beam],
    pub ambient_lx: f64,
    pub pinhole: Pinhole,
    pub vignetting: f64,
    pub width_px: usize,
    pub height_px: usize,
}

impl Raster<'_> {
    /// The light of every `stride`-th pixel in both directions, row by row: the illuminance, lx, on a perfect
    /// diffuser that would look as bright.
    pub fn light_lx(&self, stride: usize) -> Vec<f32> {
        let columns = self.width_px.div_ceil(stride);
        let rows = self.height_px.div_ceil(stride);
        let mut light_lx = vec![0.0_f32; columns * rows];
        light_lx.par_chunks_mut(columns).enumerate().for_each(|(row, row_lx)| {
            let y_px = (row * stride) as f64;
            let corners = |x_px: f64| {
                [
                    self.pinhole.wall_point_mm(x_px, y_px - 0.5),
                    self.pinhole.wall_point_mm(x_px, y_px + 0.5),
                ]
            };
            let mut left = corners(-0.5);
            for (column, value) in row_lx.iter_mut().enumerate() {
                let x_px = (column * stride) as f64;
                if stride > 1 {
                    left = corners(x_px - 0.5);
                }
                let right = corners(x_px + 0.5);
                *value = (self.pixel_lx(x_px, y_px, left, right) * self.fall_off(x_px, y_px)) as f32;
                left = right;
            }
        });
        light_lx
    }

    fn pixel_lx(&self, x_px: f64, y_px: f64, left: [Option<[f64; 2]>; 2], right: [Option<[f64; 2]>; 2]) -> f64 {
        let floor_y_mm = self.surface.wall.floor_y_mm;
        let on_wall = |corner: Option<[f64; 2]>| corner.is_some_and(|[_, y_mm]| y_mm >= floor_y_mm);
        let count = [left[0], left[1], right[0], right[1]]
            .into_iter()
            .filter(|&c| on_wall(c))
            .count();
        match (left, right) {
            ([Some(a), Some(b)], [Some(c), Some(d)]) if count == 4 => self.wall_lx(a, b, c, d),
            _ if count == 0 => self.point_lx(x_px, y_px),
            _ => mean_over_pixel(|du, dv| self.point_lx(x_px + du, y_px + dv)),
        }
    }

    /// A pixel that sees the wall only, from its corners on the wall: upper and lower left, upper and lower right.
    fn wall_lx(&self, a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> f64 {
        let centre_mm = [0.25 * (a[0] + b[0] + c[0] + d[0]), 0.25 * (a[1] + b[1] + c[1] + d[1])];
        let across_mm = [0.5 * (c[0] + d[0] - a[0] - b[0]), 0.5 * (c[1] + d[1] - a[1] - b[1])];
        let down_mm = [0.5 * (b[0] + d[0] - a[0] - c[0]), 0.5 * (b[1] + d[1] - a[1] - c[1])];
        let at = |du: f64, dv: f64| {
            [
                centre_mm[0] + du * across_mm[0] + dv * down_mm[0],
                centre_mm[1] + du * across_mm[1] + dv * down_mm[1],
            ]
        };
        let sides_mm = [across_mm[0].hypot(across_mm[1]), down_mm[0].hypot(down_mm[1])];
        let footprint_mm = sides_mm[0].max(sides_mm[1]);
        let reach_mm = 0.51 * (sides_mm[0] + sides_mm[1]);
        let reflectance = if self.surface.has_edge_near(centre_mm[0], centre_mm[1], reach_mm) {
            mean_over_pixel(|du, dv| {
                let [x_mm, y_mm] = at(du, dv);
                self.surface.reflectance_at(x_mm, y_mm, footprint_mm)
            })
        } else {
            self.surface.reflectance_at(centre_mm[0], centre_mm[1], footprint_mm)
        };
        let mut lx = self.ambient_lx;
        for beam in self.beams {
            let shine = |[x_mm, y_mm]: [f64; 2]| beam.illuminance_lx([x_mm, y_mm, 0.0], [0.0, 0.0, 1.0]);
            let edge_mm = beam.width_deg.to_radians() * beam.lamp.distance_mm;
            lx += if footprint_mm > 0.3 * edge_mm {
                // An edge about as narrow as a pixel: its mean is not its middle.
                0.25 * (shine(at(-GAUSS_PX, -GAUSS_PX))
                    + shine(at(GAUSS_PX, -GAUSS_PX))
                    + shine(at(-GAUSS_PX, GAUSS_PX))
                    + shine(at(GAUSS_PX, GAUSS_PX)))
            } else {
                shine(centre_mm)
            };
        }
        reflectance * lx
    }

    /// The light from one point of the picture: wall, floor, or nothing.
    fn point_lx(&self, x_px: f64, y_px: f64) -> f64 {
        let floor_y_mm = self.surface.wall.floor_y_mm;
        if let Some([x_mm, y_mm]) = self.pinhole.wall_point_mm(x_px, y_px)
            && y_mm >= floor_y_mm
        {
            let lx = self.ambient_lx + self.beams_lx([x_mm, y_mm, 0.0], [0.0, 0.0, 1.0]);
            return self.surface.reflectance_at(x_mm, y_mm, 1.0) * lx;
        }
        let ray = self.pinhole.ray(x_px, y_px);
        let lens_mm = self.pinhole.position_mm();
        let reach = (floor_y_mm - lens_mm[1]) / ray[1];
        if !reach.is_finite() || reach <= 0.0 {
            return 0.0;
        }
        let point_mm = [lens_mm[0] + reach * ray[0], floor_y_mm, lens_mm[2] + reach * ray[2]];
        self.surface.wall.floor_reflectance * (self.ambient_lx + self.beams_lx(point_mm, [0.0, 1.0, 0.0]))
    }

    fn beams_lx(&self, point_mm: [f64; 3], normal: [f64; 3]) -> f64 {
        self.beams
            .iter()
            .map(|beam| beam.illuminance_lx(point_mm, normal))
            .sum()
    }

    /// The lens's natural fall-off, cos⁴ of the angle from its axis, or as much of it as is left in the picture.
    fn fall_off(&self, x_px: f64, y_px: f64) -> f64 {
        if self.vignetting == 0.0 {
            return 1.0;
        }
        let ray = self.pinhole.ray(x_px, y_px);
        super::beam::dot(ray, ray).powf(-2.0 * self.vignetting)
    }
}

/// The mean of `value` over a pixel's square, given the places within it, px from its centre.
fn mean_over_pixel(value: impl Fn(f64, f64) -> f64) -> f64 {
    let count = f64::from(LATTICE_POINTS);
    let sum: f64 = (0..LATTICE_POINTS)
        .map(|i| {
            let across = (f64::from(i) + 0.5) / count - 0.5;
            let down = (f64::from(i * LATTICE_TURN % LATTICE_POINTS) + 0.5) / count - 0.5;
            value(across, down)
        })
        .sum();
    sum / count
}
