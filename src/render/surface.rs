//! What reflects: the wall with its texture, the sheets taped to it, and the floor.

use super::beam::smooth_step;
use crate::record::Bay;
use crate::wall::tag_cells;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
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
    seed: u64,
}

/// Pitch of the bricks, and of the boards, with their joints, mm, and the joint's width.
const BRICK_MM: [f64; 3] = [252.0, 83.0, 12.0];
const PANEL_MM: [f64; 3] = [1_255.0, 605.0, 5.0];

impl Surface {
    pub fn new(wall: &Wall, paper: &Paper, bay: &Bay, fates: &[MadeSheet], seed: u64) -> Self {
        let module_mm = bay.marks.size_mm / 8.0 * paper.scale;
        let mut sheets = Vec::new();
        for sheet in &bay.marks.sheet {
            // Each sheet draws from its own stream, so that leaving one out moves no other.
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
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
        Self {
            wall: wall.clone(),
            paper: paper.clone(),
            sheets,
            module_mm,
            half_sheet_mm: module_mm * (4.0 + paper.margin_modules),
            seed: seed ^ 0x5eed_5eed_5eed_5eed,
        }
    }

    /// Reflectance at a point of the wall, sheets included; texture finer than about `footprint_mm` is left out.
    pub fn reflectance_at(&self, x_mm: f64, y_mm: f64, footprint_mm: f64) -> f64 {
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
        self.bare_reflectance(x_mm, y_mm, footprint_mm)
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

    fn bare_reflectance(&self, x_mm: f64, y_mm: f64, footprint_mm: f64) -> f64 {
        let wall = &self.wall;
        let textured = |share: f64, stretch: f64| {
            let grain_mm = wall.grain_mm;
            let blotch = self.texture(x_mm, y_mm / stretch, grain_mm, footprint_mm);
            (wall.reflectance * (1.0 + wall.contrast * share * blotch)).clamp(0.0, 1.0)
        };
        let laid = |pitch_mm: [f64; 3]| {
            let [column, row, along_mm, up_mm] = course(x_mm, y_mm, pitch_mm);
            if along_mm < pitch_mm[2] || up_mm < pitch_mm[2] {
                return wall.joint_reflectance;
            }
            // An even distribution of ±√3 has a standard deviation of one.
            let shade = 3.0_f64.sqrt() * hashed(column as i64, row as i64, self.seed);
            (textured(0.5, 1.0) * (1.0 + wall.contrast * shade)).clamp(0.0, 1.0)
        };
        match wall.kind {
            WallKind::Plain => wall.reflectance,
            WallKind::Plaster => textured(1.0, 1.0),
            WallKind::Roller => textured(1.0, 3.0),
            WallKind::Brick => laid(BRICK_MM),
            WallKind::Panel => laid(PANEL_MM),
        }
    }

    /// Noise of mean 0 and standard deviation about 1, of the grain's size and three times halved.
    fn texture(&self, x_mm: f64, y_mm: f64, grain_mm: f64, footprint_mm: f64) -> f64 {
        let mut sum = 0.0;
        let mut size_mm = grain_mm;
        for octave in 0..4_u64 {
            // What is finer than a pixel averages out in it.
            let seen = smooth_step(size_mm / footprint_mm - 1.0);
            if seen > 0.0 {
                // Each octave is turned and shifted, lest the lattices line up and show.
                let (sin, cos) = (0.7 * octave as f64 + 0.3).sin_cos();
                let shift = 17.31 * (octave + 1) as f64;
                let (u, v) = ((cos * x_mm - sin * y_mm) / size_mm, (sin * x_mm + cos * y_mm) / size_mm);
                sum += seen * lattice_noise(u + shift, v - shift, self.seed.wrapping_add(octave));
            }
            size_mm *= 0.5;
        }
        // Four octaves, each of standard deviation 0.377: see the test.
        sum / (2.0 * 0.377)
    }
}

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
    let shifted_mm = x_mm + 0.5 * pitch_mm[0] * row.rem_euclid(2.0);
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
