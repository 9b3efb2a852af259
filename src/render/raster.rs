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
        let length = |side: [f64; 2]| (side[0] * side[0] + side[1] * side[1]).sqrt();
        let sides_mm = [length(across_mm), length(down_mm)];
        let footprint_mm = sides_mm[0].max(sides_mm[1]);
        let reach_mm = 0.51 * (sides_mm[0] + sides_mm[1]);
        let blotch = self.surface.texture(centre_mm[0], centre_mm[1], footprint_mm);
        let reflectance = if self.surface.has_edge_near(centre_mm[0], centre_mm[1], reach_mm) {
            mean_over_pixel(|du, dv| {
                let [x_mm, y_mm] = at(du, dv);
                self.surface.reflectance_with(x_mm, y_mm, blotch)
            })
        } else {
            self.surface.reflectance_with(centre_mm[0], centre_mm[1], blotch)
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

#[cfg(test)]
mod tests {
    use crate::record::{Pattern, Traffic};
    use crate::render::{Ambient, Camera, MadeLamp, Scene, Wall, WallKind};

    /// A bare, even wall, seen squarely.
    fn bare(lamp: Vec<MadeLamp>, ambient_lx: f64) -> Scene {
        let mut scene = Scene {
            lamp,
            wall: Wall {
                kind: WallKind::Plain,
                reflectance: 0.5,
                ..Wall::default()
            },
            ambient: Ambient {
                lx: ambient_lx,
                of_dark_side: 0.0,
            },
            camera: Camera {
                position_mm: [0.0, 650.0, 4_000.0],
                look_at_mm: Some([0.0, 650.0]),
                width_px: 201,
                height_px: 161,
                vignetting: 0.0,
                ..Camera::default()
            },
            ..Scene::default()
        };
        scene.bay.marks.sheet.clear();
        scene
    }

    fn centred(traffic: Traffic, pattern: Pattern) -> MadeLamp {
        MadeLamp {
            centre_x_mm: 0.0,
            traffic,
            pattern,
            ..MadeLamp::default()
        }
    }

    #[test]
    fn pictures_of_both_sides_of_the_road_are_mirror_images() {
        for pattern in [Pattern::KickUp, Pattern::Step, Pattern::Flat] {
            let [right, left] =
                [Traffic::Right, Traffic::Left].map(|t| bare(vec![centred(t, pattern)], 0.3).light_lx(0).unwrap());
            for (i, &lx) in right.iter().enumerate() {
                let mirrored_lx = left[i / 201 * 201 + 200 - i % 201];
                // The row that holds the foot of the wall is sampled on a lattice that is no mirror image of itself.
                let within = if i / 201 == 105 { 1e-3 } else { 1e-5 };
                assert!(
                    (lx / mirrored_lx - 1.0).abs() < within,
                    "{pattern} {i}: {lx} {mirrored_lx}"
                );
            }
        }
    }

    #[test]
    fn a_pixel_holds_the_walls_light_at_its_place() {
        let scene = bare(vec![centred(Traffic::Right, Pattern::KickUp)], 0.3);
        let light_lx = scene.light_lx(0).unwrap();
        let pinhole = scene.pinhole(0).unwrap();
        let photo = scene.settled(0).unwrap();
        for (x_px, y_px) in [(20, 60), (100, 86), (150, 70), (100, 95)] {
            // Reference implementation: the mean over 20 × 20 places in the pixel, which is 22 mm wide here, about as
            // wide as the edge.
            let mut sum_lx = 0.0;
            for i in 0..400 {
                let [du, dv] = [i % 20, i / 20].map(|n| (f64::from(n) + 0.5) / 20.0 - 0.5);
                let [x_mm, y_mm] = pinhole.wall_point_mm(x_px as f64 + du, y_px as f64 + dv).unwrap();
                sum_lx += 0.3 + photo.beams[0].illuminance_lx([x_mm, y_mm, 0.0], [0.0, 0.0, 1.0]);
            }
            let ratio = f64::from(light_lx[y_px * 201 + x_px]) / (0.5 * sum_lx / 400.0);
            assert!((ratio - 1.0).abs() < 0.001, "{x_px} {y_px}: {ratio}");
        }
    }

    #[test]
    fn light_adds_up_and_the_floor_takes_its_share() {
        let both = |lamp: Vec<MadeLamp>, ambient_lx| bare(lamp, ambient_lx).light_lx(0).unwrap();
        let one = centred(Traffic::Right, Pattern::KickUp);
        let other = MadeLamp {
            side: crate::record::Side::Right,
            centre_x_mm: 1_100.0,
            ..one.clone()
        };
        let sum = both(vec![one.clone(), other.clone()], 2.0);
        let parts = [both(vec![one], 0.0), both(vec![other], 0.0), both(Vec::new(), 2.0)];
        for (i, &lx) in sum.iter().enumerate() {
            let added_lx: f32 = parts.iter().map(|part| part[i]).sum();
            assert!((lx / added_lx - 1.0).abs() < 1e-4, "{i}");
        }
        // Ambient light only: the wall shows 0.5, the floor 0.12 of it, to the picture's bottom.
        assert!((parts[2][0] - 1.0).abs() < 1e-6 && (parts[2][201 * 161 - 1] - 0.24).abs() < 1e-6);
    }

    #[test]
    fn corners_darken_with_the_fourth_power_of_the_cosine() {
        let mut scene = bare(Vec::new(), 2.0);
        scene.camera.vignetting = 1.0;
        let light_lx = scene.light_lx(0).unwrap();
        let ray = scene.pinhole(0).unwrap().ray(0.0, 0.0);
        let cos = 1.0 / (ray[0] * ray[0] + ray[1] * ray[1] + ray[2] * ray[2]).sqrt();
        assert!(
            cos < 0.85 && (f64::from(light_lx[0]) - cos.powi(4)).abs() < 1e-6,
            "{cos} {}",
            light_lx[0]
        );
    }
}
