//! What reflects: the wall with its texture, the sheets taped to it, and the floor.

use super::beam::smooth_step;
use crate::record::Bay;
use crate::wall::tag_cells;
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use serde::{Deserialize, Serialize};

/// What the wall is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WallKind {
    /// Even all over.
    Plain,
    /// Blotches of the grain's size and finer.
    Plaster,
    /// Paint put on with a roller: fine strokes, drawn out upright.
    Roller,
    /// Bricks of 240 mm × 71 mm with 12 mm joints of mortar.
    Brick,
    /// Boards of 1250 mm × 600 mm with dark joints 5 mm wide.
    Panel,
}

/// The wall of a scene, and the floor that it stands on.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Wall {
    /// What the wall is made of.
    pub kind: WallKind,
    /// Mean reflectance, 0 to 1; every surface here is an even (Lambertian) diffuser.
    pub reflectance: f64,
    /// Standard deviation of the texture, as a share of the reflectance; of a brick's or board's own shade too.
    pub contrast: f64,
    /// Size of the coarsest grain of plaster or roller texture, mm.
    pub grain_mm: f64,
    /// Reflectance of mortar or joints.
    pub joint_reflectance: f64,
    /// Height of the floor, mm above the height reference.
    pub floor_y_mm: f64,
    /// Reflectance of the floor.
    pub floor_reflectance: f64,
    /// Level bands painted over it, the first that a place lies in counting.
    pub paint: Vec<Paint>,
}

/// A level band painted on the wall over its whole width.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Paint {
    /// Its lower edge, mm above the height reference.
    pub from_y_mm: f64,
    /// Its upper edge, mm above the height reference.
    pub to_y_mm: f64,
    /// Its mean reflectance.
    pub reflectance: f64,
}

impl Default for Wall {
    fn default() -> Self {
        Self {
            kind: WallKind::Plaster,
            reflectance: 0.7,
            contrast: 0.02,
            grain_mm: 40.0,
            joint_reflectance: 0.4,
            floor_y_mm: 0.0,
            floor_reflectance: 0.12,
            paint: Vec::new(),
        }
    }
}

/// How the sheets are printed and how well they were put up.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Paper {
    /// Printed size over wanted size.
    pub scale: f64,
    /// White around the tag's black border, in modules of an eighth of the tag.
    pub margin_modules: f64,
    /// Reflectance of the paper.
    pub reflectance: f64,
    /// Reflectance of the ink.
    pub ink_reflectance: f64,
    /// Standard deviation of each sheet's true place about the bay's, in x and in y, mm.
    pub offset_sd_mm: f64,
    /// Standard deviation of each sheet's turn, degrees.
    pub rotation_sd_deg: f64,
    /// Seed of the places and turns; the scene's where left out. Scenes of one wall name the same.
    pub seed: Option<u64>,
}

impl Default for Paper {
    fn default() -> Self {
        Self {
            scale: 1.0,
            margin_modules: 1.5,
            reflectance: 0.85,
            ink_reflectance: 0.05,
            offset_sd_mm: 0.0,
            rotation_sd_deg: 0.0,
            seed: None,
        }
    }
}

/// One sheet's own fate, on top of what is drawn for it.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct MadeSheet {
    /// The tag's number, as in the bay.
    pub id: u32,
    /// How far to the right of the bay's place it hangs, mm.
    #[serde(default)]
    pub dx_mm: f64,
    /// How far above the bay's place it hangs, mm.
    #[serde(default)]
    pub dy_mm: f64,
    /// Turn, degrees anticlockwise as seen facing the wall.
    #[serde(default)]
    pub rotation_deg: f64,
    /// True where the sheet has fallen off.
    #[serde(default)]
    pub missing: bool,
}

/// A sheet as it hangs.
#[derive(Debug, Clone)]
struct Hung {
    centre_mm: [f64; 2],
    cos: f64,
    sin: f64,
    cells: [[bool; 8]; 8],
}

/// Everything that reflects, ready to be sampled.
#[derive(Debug, Clone)]
pub(super) struct Surface {
    pub wall: Wall,
    paper: Paper,
    sheets: Vec<Hung>,
    module_mm: f64,
    half_sheet_mm: f64,
    octaves: [Octave; OCTAVES],
    seed: u64,
}

/// Layers of texture, each half as coarse as the one before.
const OCTAVES: usize = 4;

/// One layer of texture.
#[derive(Debug, Clone, Copy)]
struct Octave {
    size_mm: f64,
    /// Sine and cosine of the lattice's turn, over its size: lattices that line up would show.
    sin_per_mm: f64,
    cos_per_mm: f64,
    shift: f64,
    seed: u64,
}

/// Pitch of the bricks, and of the boards, with their joints, mm, and the joint's width: bricks of 240 mm × 71 mm (DIN
/// 105, from memory), boards of our choice.
const BRICK_MM: [f64; 3] = [252.0, 83.0, 12.0];
const PANEL_MM: [f64; 3] = [1_255.0, 605.0, 5.0];

impl Surface {
    pub fn new(wall: &Wall, paper: &Paper, bay: &Bay, fates: &[MadeSheet], seed: u64) -> Self {
        let module_mm = bay.marks.size_mm / 8.0 * paper.scale;
        let mut sheets = Vec::new();
        for sheet in &bay.marks.sheet {
            // Each sheet draws from its own stream, so that leaving one out moves no other.
            let mut rng = ChaCha8Rng::seed_from_u64(paper.seed.unwrap_or(seed));
            rng.set_stream(u64::from(sheet.id));
            let mut draw = || -> f64 { rng.sample(StandardNormal) };
            let mut centre_mm = [
                sheet.x_mm + paper.offset_sd_mm * draw(),
                sheet.y_mm + paper.offset_sd_mm * draw(),
            ];
            let mut rotation_deg = paper.rotation_sd_deg * draw();
            if let Some(fate) = fates.iter().find(|fate| fate.id == sheet.id) {
                if fate.missing {
                    continue;
                }
                centre_mm = [centre_mm[0] + fate.dx_mm, centre_mm[1] + fate.dy_mm];
                rotation_deg += fate.rotation_deg;
            }
            let Some(cells) = tag_cells(sheet.id) else { continue };
            let (sin, cos) = rotation_deg.to_radians().sin_cos();
            sheets.push(Hung {
                centre_mm,
                cos,
                sin,
                cells,
            });
        }
        let seed = seed ^ 0x5eed_5eed_5eed_5eed;
        let octaves = std::array::from_fn(|n| {
            let size_mm = wall.grain_mm * 0.5_f64.powi(n as i32);
            let (sin, cos) = (0.7 * n as f64 + 0.3).sin_cos();
            Octave {
                size_mm,
                sin_per_mm: sin / size_mm,
                cos_per_mm: cos / size_mm,
                shift: 17.31 * (n + 1) as f64,
                seed: seed.wrapping_add(n as u64),
            }
        });
        Self {
            wall: wall.clone(),
            paper: paper.clone(),
            sheets,
            module_mm,
            half_sheet_mm: module_mm * (4.0 + paper.margin_modules),
            octaves,
            seed,
        }
    }

    /// Reflectance at a point of the wall, sheets included; texture finer than about `footprint_mm` is left out.
    pub fn reflectance_at(&self, x_mm: f64, y_mm: f64, footprint_mm: f64) -> f64 {
        self.reflectance_with(x_mm, y_mm, self.texture(x_mm, y_mm, footprint_mm))
    }

    /// As [`Surface::reflectance_at`], given the wall's [`Surface::texture`] there: within a pixel that is even, while
    /// edges are not.
    pub fn reflectance_with(&self, x_mm: f64, y_mm: f64, blotch: f64) -> f64 {
        for sheet in &self.sheets {
            let [u_mm, v_mm] = sheet.own_mm(x_mm, y_mm);
            if u_mm.abs() < self.half_sheet_mm && v_mm.abs() < self.half_sheet_mm {
                let inked = self
                    .module_of(u_mm, v_mm)
                    .is_some_and(|[row, column]| sheet.cells[row][column]);
                return if inked {
                    self.paper.ink_reflectance
                } else {
                    self.paper.reflectance
                };
            }
        }
        self.bare_reflectance(x_mm, y_mm, blotch)
    }

    /// The tag's cell (row from the top, column) at a point of the sheet.
    fn module_of(&self, u_mm: f64, v_mm: f64) -> Option<[usize; 2]> {
        let (column, row) = (4.0 + u_mm / self.module_mm, 4.0 - v_mm / self.module_mm);
        let inside = (0.0..8.0).contains(&column) && (0.0..8.0).contains(&row);
        inside.then_some([row as usize, column as usize])
    }

    /// True where an edge between two reflectances may run within `reach_mm` of the point.
    pub fn has_edge_near(&self, x_mm: f64, y_mm: f64, reach_mm: f64) -> bool {
        for sheet in &self.sheets {
            let [u_mm, v_mm] = sheet.own_mm(x_mm, y_mm);
            let out_mm = u_mm.abs().max(v_mm.abs()) - self.half_sheet_mm;
            if out_mm < reach_mm {
                if out_mm > -reach_mm {
                    return true;
                }
                // Turned, a pixel reaches further along the sheet's own axes.
                let near = |along_mm: f64| {
                    let module = along_mm / self.module_mm;
                    (module - module.round()).abs() * self.module_mm < reach_mm
                };
                let half_tag_mm = 4.0 * self.module_mm + reach_mm;
                return u_mm.abs() < half_tag_mm && v_mm.abs() < half_tag_mm && (near(u_mm) || near(v_mm));
            }
        }
        let paint = self.wall.paint.iter().flat_map(|band| [band.from_y_mm, band.to_y_mm]);
        if paint.into_iter().any(|edge_mm| (y_mm - edge_mm).abs() < reach_mm) {
            return true;
        }
        let near_joint = |pitch_mm: [f64; 3]| {
            let [_, _, along_mm, up_mm] = course(x_mm, y_mm, pitch_mm);
            let near = |at_mm: f64, pitch: f64| {
                at_mm < reach_mm || (at_mm - pitch_mm[2]).abs() < reach_mm || pitch - at_mm < reach_mm
            };
            near(along_mm, pitch_mm[0]) || near(up_mm, pitch_mm[1])
        };
        match self.wall.kind {
            WallKind::Brick => near_joint(BRICK_MM),
            WallKind::Panel => near_joint(PANEL_MM),
            WallKind::Plain | WallKind::Plaster | WallKind::Roller => false,
        }
    }

    fn bare_reflectance(&self, x_mm: f64, y_mm: f64, blotch: f64) -> f64 {
        let wall = &self.wall;
        let painted = wall
            .paint
            .iter()
            .find(|band| (band.from_y_mm..band.to_y_mm).contains(&y_mm));
        let reflectance = painted.map_or(wall.reflectance, |band| band.reflectance);
        // Paint darkens a joint as it does the brick.
        let joint_reflectance = painted.map_or(wall.joint_reflectance, |band| {
            wall.joint_reflectance * band.reflectance / wall.reflectance.max(1e-9)
        });
        let textured = |share: f64| (reflectance * (1.0 + wall.contrast * share * blotch)).clamp(0.0, 1.0);
        let laid = |pitch_mm: [f64; 3]| {
            let [column, row, along_mm, up_mm] = course(x_mm, y_mm, pitch_mm);
            if along_mm < pitch_mm[2] || up_mm < pitch_mm[2] {
                return joint_reflectance.min(1.0);
            }
            // An even distribution of ±√3 has a standard deviation of one.
            let shade = 3.0_f64.sqrt() * hashed(column as i64, row as i64, self.seed);
            (textured(0.5) * (1.0 + wall.contrast * shade)).clamp(0.0, 1.0)
        };
        match wall.kind {
            WallKind::Plain => reflectance,
            WallKind::Plaster | WallKind::Roller => textured(1.0),
            WallKind::Brick => laid(BRICK_MM),
            WallKind::Panel => laid(PANEL_MM),
        }
    }

    /// Noise of mean 0 and standard deviation about 1, of the grain's size and three times halved.
    pub fn texture(&self, x_mm: f64, y_mm: f64, footprint_mm: f64) -> f64 {
        let y_mm = match self.wall.kind {
            WallKind::Plain => return 0.0,
            // Strokes three times as long as wide.
            WallKind::Roller => y_mm / 3.0,
            WallKind::Plaster | WallKind::Brick | WallKind::Panel => y_mm,
        };
        let mut sum = 0.0;
        for octave in &self.octaves {
            // What is finer than a pixel averages out in it.
            let seen = smooth_step(octave.size_mm / footprint_mm - 1.0);
            if seen > 0.0 {
                let u = octave.cos_per_mm * x_mm - octave.sin_per_mm * y_mm;
                let v = octave.sin_per_mm * x_mm + octave.cos_per_mm * y_mm;
                sum += seen * lattice_noise(u + octave.shift, v - octave.shift, octave.seed);
            }
        }
        sum / ((OCTAVES as f64).sqrt() * LATTICE_NOISE_SD)
    }
}

/// Standard deviation of [`lattice_noise`]: the root of 1/3 (an even distribution from −1 to 1) times the mean of
/// s² + (1 − s)² over the joining curve s, 1 − 2·(1/2 − ∫s²), for each of the two directions; ∫s² = 181/462.
const LATTICE_NOISE_SD: f64 = 0.577_350_269_189_625_8 * (181.0 / 231.0);

impl Hung {
    /// A point of the wall in the sheet's own axes, mm from its centre.
    fn own_mm(&self, x_mm: f64, y_mm: f64) -> [f64; 2] {
        let (dx_mm, dy_mm) = (x_mm - self.centre_mm[0], y_mm - self.centre_mm[1]);
        [self.cos * dx_mm + self.sin * dy_mm, self.cos * dy_mm - self.sin * dx_mm]
    }
}

/// Column and row of the brick at a point, and how far it lies to the right and up in the brick's pitch, mm; every
/// other row is shifted by half a brick.
fn course(x_mm: f64, y_mm: f64, pitch_mm: [f64; 3]) -> [f64; 4] {
    let row = (y_mm / pitch_mm[1]).floor();
    let shifted_mm = if row as i64 & 1 == 1 {
        x_mm + 0.5 * pitch_mm[0]
    } else {
        x_mm
    };
    let column = (shifted_mm / pitch_mm[0]).floor();
    [column, row, shifted_mm - column * pitch_mm[0], y_mm - row * pitch_mm[1]]
}

/// Smooth noise between −1 and 1 with features of size 1: values at whole points, joined with two continuous
/// derivatives.
fn lattice_noise(u: f64, v: f64, seed: u64) -> f64 {
    let (left, below) = (u.floor(), v.floor());
    let (across, upward) = (smooth_step(u - left), smooth_step(v - below));
    let (i, j) = (left as i64, below as i64);
    let row = |j: i64| {
        let start = hashed(i, j, seed);
        start + across * (hashed(i + 1, j, seed) - start)
    };
    let start = row(j);
    start + upward * (row(j + 1) - start)
}

/// A number between −1 and 1 that depends on the three alone (the mixing steps of SplitMix64; from memory).
fn hashed(i: i64, j: i64, seed: u64) -> f64 {
    let mut z = seed
        .wrapping_add((i as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15))
        .wrapping_add((j as u64).wrapping_mul(0xd1b5_4a32_d192_ed03));
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 31;
    (z >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::{Camera, Pinhole, Scene};

    fn surface(kind: WallKind) -> Surface {
        let wall = Wall {
            kind,
            contrast: 0.05,
            ..Wall::default()
        };
        Surface::new(&wall, &Paper::default(), &Scene::default().bay, &[], 3)
    }

    #[test]
    fn textures_have_the_mean_and_contrast_asked_for() {
        for kind in [WallKind::Plaster, WallKind::Roller] {
            let surface = surface(kind);
            let values: Vec<f64> = (0..90_000)
                .map(|i| surface.reflectance_at(9.7 * f64::from(i % 300), 2_000.0 + 11.3 * f64::from(i / 300), 0.1))
                .collect();
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / values.len() as f64;
            assert!((mean / 0.7 - 1.0).abs() < 0.005, "{kind:?}: {mean}");
            assert!(
                (variance.sqrt() / (0.7 * 0.05) - 1.0).abs() < 0.15,
                "{kind:?}: {}",
                variance.sqrt()
            );
        }
        assert_eq!(surface(WallKind::Plain).reflectance_at(123.0, 2_000.0, 1.0), 0.7);
    }

    #[test]
    fn bricks_lie_in_courses_with_mortar_between() {
        let surface = surface(WallKind::Brick);
        let is_joint = |x_mm: f64, y_mm: f64| surface.reflectance_at(x_mm, y_mm, 1.0) == 0.4;
        // Row 24 (from 1992 mm) is not shifted, row 25 (from 2075 mm) is, by half of 252 mm.
        assert!(is_joint(100.0, 1_992.0 + 6.0) && !is_joint(100.0, 1_992.0 + 40.0));
        assert!(is_joint(6.0, 1_992.0 + 40.0) && !is_joint(6.0, 2_075.0 + 40.0) && is_joint(132.0, 2_075.0 + 40.0));
        assert!(
            surface.has_edge_near(100.0, 1_992.0 + 12.5, 1.0) && !surface.has_edge_near(100.0, 1_992.0 + 40.0, 1.0)
        );
    }

    #[test]
    fn sheets_hang_upright_where_the_bay_and_their_fate_say() {
        let bay = Scene::default().bay;
        let fates = [
            MadeSheet {
                id: 1,
                dx_mm: 10.0,
                dy_mm: -5.0,
                rotation_deg: 90.0,
                missing: false,
            },
            MadeSheet {
                id: 2,
                dx_mm: 0.0,
                dy_mm: 0.0,
                rotation_deg: 0.0,
                missing: true,
            },
        ];
        let surface = Surface::new(&Wall::default(), &Paper::default(), &bay, &fates, 3);
        let inked = |x_mm: f64, y_mm: f64| surface.reflectance_at(x_mm, y_mm, 1.0) == 0.05;
        let [first, second, third] = [bay.marks.sheet[0], bay.marks.sheet[1], bay.marks.sheet[2]];
        let cells = |id| tag_cells(id).unwrap();
        for row in 0..8 {
            for column in 0..8 {
                let (right_mm, up_mm) = (20.0 * (f64::from(column) - 3.5), 20.0 * (3.5 - f64::from(row)));
                let [row, column] = [row as usize, column as usize];
                assert_eq!(
                    inked(third.x_mm + right_mm, third.y_mm + up_mm),
                    cells(third.id)[row][column]
                );
                // Turned by 90° anticlockwise, what was to the right is up, what was up is to the left.
                let turned = inked(first.x_mm + 10.0 - up_mm, first.y_mm - 5.0 + right_mm);
                assert_eq!(turned, cells(first.id)[row][column], "{row} {column}");
            }
        }
        let bare = surface.reflectance_at(second.x_mm, second.y_mm, 1.0);
        assert!((0.6..0.8).contains(&bare), "{bare}");
        // White to 4 + 1.5 modules of 20 mm, then wall.
        assert_eq!(surface.reflectance_at(third.x_mm + 109.0, third.y_mm, 1.0), 0.85);
        assert!(surface.reflectance_at(third.x_mm + 111.0, third.y_mm, 1.0) < 0.8);
    }

    #[test]
    fn edges_of_sheets_are_right_to_a_fiftieth_of_a_pixel() {
        // Light even all over: across the left edge of a tag's border, the paper's share of the pixels tells where the
        // edge lies. Square views, in which a square grid of samples would do worst, and turned ones.
        for (aside_mm, roll_deg) in [(0.0, 0.0), (0.37, 0.0), (0.8, 0.4), (3.0, 7.0)] {
            let camera = Camera {
                position_mm: [-150.0 + aside_mm, 210.0, 900.0],
                look_at_mm: Some([-150.0 + aside_mm, 210.0]),
                roll_deg,
                width_px: 600,
                height_px: 400,
                vignetting: 0.0,
                ..Camera::default()
            };
            let scene = Scene {
                lamp: Vec::new(),
                ambient: crate::render::Ambient {
                    lx: 100.0,
                    of_dark_side: 0.0,
                },
                camera: camera.clone(),
                ..Scene::default()
            };
            let light_lx = scene.light_lx(0).unwrap();
            let pinhole = Pinhole::new(&camera, [0.0, 0.0]);
            let third = scene.bay.marks.sheet[2];
            for up_mm in [-31.0, -7.0, 22.0] {
                // The edge's line, from the two ends of the black border's left side.
                let [low_px, high_px] =
                    [-80.0, 80.0].map(|end_mm| pinhole.project([third.x_mm - 80.0, third.y_mm + end_mm, 0.0]).unwrap());
                let [_, y_px] = pinhole.project([third.x_mm - 80.0, third.y_mm + up_mm, 0.0]).unwrap();
                let row = y_px.round();
                let edge_px = low_px[0] + (high_px[0] - low_px[0]) * (row - low_px[1]) / (high_px[1] - low_px[1]);
                let from = (edge_px - 4.0).round() as usize;
                let paper: f64 = light_lx[row as usize * 600 + from..][..9]
                    .iter()
                    .map(|&lx| (f64::from(lx) / 100.0 - 0.05) / 0.8)
                    .sum();
                let found_px = from as f64 - 0.5 + paper;
                assert!(
                    (found_px - edge_px).abs() < 0.02,
                    "{aside_mm} {roll_deg} {up_mm}: {found_px} {edge_px}"
                );
            }
        }
    }
}
