//! Made pictures of sheets, for tests: drawn without anything that reads them.

use crate::photo::{Luminance, linear_from_srgb, srgb_from_linear};
use crate::wall::code::tag_cells;
use crate::wall::quad::{Quad, square_to_quad};
use nalgebra::Vector3;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const PAPER: f64 = 0.8;
const INK: f64 = 0.05;

/// A made photo: marks on a wall under a light that varies from place to place, blurred, noisy and coded as a camera
/// would.
#[derive(Clone)]
pub(in crate::wall) struct Scene<'a> {
    pub size_px: [usize; 2],
    pub marks: Vec<(u32, Quad)>,
    pub light: &'a dyn Fn(f64, f64) -> f64,
    pub blur_px: f64,
    /// Noise at full light; it falls with the root of the light to a hundredth of that in the dark.
    pub noise: f64,
    pub seed: u64,
    /// Stray light from the lens, the same everywhere.
    pub veil: f64,
    /// Points to a pixel's side at which the sheets are looked at.
    pub fine: usize,
}

/// Most scenes: two sheets' room, even light, a sharp lens.
pub(in crate::wall) const PLAIN: Scene<'_> = Scene {
    size_px: [520, 300],
    marks: Vec::new(),
    light: &|_, _| 0.8,
    blur_px: 1.2,
    noise: 0.01,
    seed: 14,
    veil: 0.0,
    fine: 5,
};

impl Scene<'_> {
    pub fn draw(&self) -> Luminance {
        let fine = self.fine;
        let [width, height] = self.size_px;
        let sheets: Vec<_> = self
            .marks
            .iter()
            .map(|(id, corners)| {
                (
                    square_to_quad(corners).unwrap().try_inverse().unwrap(),
                    tag_cells(*id).unwrap(),
                )
            })
            .collect();
        let reflectance = |x: f64, y: f64| {
            for (to_square, cells) in &sheets {
                let at = to_square * Vector3::new(x, y, 1.0);
                let [column, row] = [at.x / at.z * 8.0, at.y / at.z * 8.0];
                if [column, row].iter().all(|place| (-1.25..9.25).contains(place)) {
                    let inside = [column, row].iter().all(|place| (0.0..8.0).contains(place));
                    return if inside && cells[row as usize][column as usize] {
                        INK
                    } else {
                        PAPER
                    };
                }
            }
            0.45
        };
        let place = |pixel: usize, part: usize| pixel as f64 + (part as f64 + 0.5) / fine as f64 - 0.5;
        let mut light = vec![0.0; width * height];
        for (index, value) in light.iter_mut().enumerate() {
            for (part_x, part_y) in (0..fine * fine).map(|part| (part % fine, part / fine)) {
                let (x, y) = (place(index % width, part_x), place(index / width, part_y));
                *value += reflectance(x, y) * (self.light)(x, y) / (fine * fine) as f64;
            }
        }
        let light = self.blurred(&light);
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let data = light
            .iter()
            .map(|&value| {
                let sway: f64 = StandardNormal.sample(&mut rng);
                let value = value + self.veil;
                let seen = value + self.noise * (value + 1e-4).sqrt() * sway;
                linear_from_srgb((255.0 * srgb_from_linear(seen)).round() / 255.0) as f32
            })
            .collect();
        Luminance {
            width_px: width,
            height_px: height,
            values: data,
        }
    }

    fn blurred(&self, light: &[f64]) -> Vec<f64> {
        let [width, height] = self.size_px;
        let radius = (4.0 * self.blur_px).ceil() as isize;
        let kernel: Vec<f64> = (-radius..=radius)
            .map(|step| (-0.5 * (step as f64 / self.blur_px).powi(2)).exp())
            .collect();
        let total: f64 = kernel.iter().sum();
        let pass = |source: &[f64], count: usize, at: &dyn Fn(usize, usize) -> usize| -> Vec<f64> {
            (0..source.len())
                .map(|index| {
                    let place = if count == width { index % width } else { index / width };
                    let weighed = kernel.iter().zip(-radius..=radius).map(|(weight, step)| {
                        let there = (place as isize + step).clamp(0, count as isize - 1) as usize;
                        weight * source[at(index, there)]
                    });
                    weighed.sum::<f64>() / total
                })
                .collect()
        };
        assert_ne!(width, height, "the pass tells rows from columns by their length");
        let across = pass(light, width, &|index, column| index / width * width + column);
        pass(&across, height, &|index, row| row * width + index % width)
    }
}

/// The corners of a tag `side_px` wide, turned, and a little narrower at its far end.
pub(in crate::wall) fn quad(centre_px: [f64; 2], side_px: f64, turn_deg: f64) -> Quad {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[x, y]: [f64; 2]| {
        let shrink = side_px * (1.0 - 0.06 * y + 0.03 * x);
        [
            centre_px[0] + shrink * (x * cos - y * sin),
            centre_px[1] + shrink * (x * sin + y * cos),
        ]
    })
}
