//! Photos that cannot be read as they are, or should not be: what spoils them, one way after the other.

use super::case::{Case, Tape};
use super::class::{Class, Way};
use super::picture::{Light, edited};
use super::place::Place;
use super::seeded;
use super::trial::{Scored, score_edited};
use super::variety::{log_even, one_of, stand_back, varied};
use crate::error::Error;
use crate::record::Side;
use crate::render::{MadeSheet, Scene};
use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use serde::Serialize;

/// A spoilt photo and what came of it.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Spoilt {
    /// What spoils it.
    pub way: Way,
    /// What it came to.
    pub class: Class,
    /// Its figures.
    #[serde(flatten)]
    pub scored: Scored,
}

/// Draws a scene, spoils it in the way that is the seed's turn, and reads it.
///
/// # Errors
/// [`Error`] where no scene could be drawn.
pub(crate) fn spoilt(seed: u64) -> Result<Spoilt, Error> {
    let way = Way::ALL[(seed % Way::ALL.len() as u64) as usize];
    let mut rng = seeded(seed, 3);
    const ATTEMPTS: usize = 50;
    for _ in 0..ATTEMPTS {
        let mut scene = varied(&mut rng, 5_000.0..12_000.0)?;
        // All else is as the README asks for, so that one thing is wrong at a time.
        scene.exposure.p997_of_full_scale = rng.random_range(0.5..1.1);
        scene.camera.motion_px = 0.0;
        let mut case = Case::new(seed, scene, Tape::AsDeclared, &mut rng);
        let edit = spoil(&mut case, way, &mut rng);
        let truth = case.scene.truth();
        let Some(edit) = edit.filter(|_| truth.is_ok()) else {
            continue;
        };
        let scored = score_edited(&case, edit)?;
        return Ok(Spoilt {
            way,
            class: Class::of(way, &scored.outcome),
            scored,
        });
    }
    Err(Error::asked(format!(
        "no \"{}\" photo could be drawn; choose another seed",
        way.name()
    )))
}

/// A change to a photo's file.
type Edit = Box<dyn FnOnce(Vec<u8>) -> Result<Vec<u8>, Error>>;

/// Spoils a case; `None` where this scene cannot be spoilt so.
fn spoil(case: &mut Case, way: Way, rng: &mut ChaCha8Rng) -> Option<Edit> {
    let scene = &mut case.scene;
    let sign = one_of(rng, &[-1.0, 1.0]);
    // Blur is seen in degrees of the picture, and pictures are of three sizes.
    let size = scene.camera.width_px as f64 / 3_000.0;
    let quality = scene.exposure.jpeg_quality;
    match way {
        Way::NoMarks => take_sheets_off(scene, &[]),
        Way::TwoMarks => take_sheets_off(scene, &two_of_six(rng)),
        Way::MovedSheet => move_sheets(scene, rng),
        Way::Overexposed => scene.exposure.p997_of_full_scale = log_even(rng, 6.0..20.0),
        Way::Underexposed => scene.exposure.p997_of_full_scale = log_even(rng, 0.002..0.03),
        Way::Defocused => scene.camera.defocus_px = size * log_even(rng, 5.0..25.0),
        Way::Shaken => {
            scene.camera.motion_px = size * log_even(rng, 12.0..80.0);
            scene.camera.motion_direction_deg = rng.random_range(0.0..180.0);
        }
        Way::LampOff => switch_off(scene, rng),
        Way::BothLamps => light_both(case, sign, rng)?,
        Way::WrongLamp => case.job.shot[0].lamp = add_other_lamp(case, rng)?.side,
        Way::OutOfFrame => look_past(scene, sign > 0.0, rng)?,
        Way::TooSoft => scene.lamp[0].sharpness_g = log_even(rng, 0.015..0.07),
        Way::Leaning => scene.lamp[0].tilt_deg = sign * rng.random_range(5.5..10.0),
        Way::ToneMapped => {
            let (strength, reach) = (rng.random_range(0.15..0.6), rng.random_range(0.02..0.08));
            let gamma = rng.random_range(0.85..1.15);
            return changed(quality, move |light| {
                light.level_locally(strength, reach);
                light.bend(gamma, 0.0);
            });
        }
        Way::Curve => {
            let gamma = if sign > 0.0 {
                rng.random_range(1.15..1.5)
            } else {
                rng.random_range(0.6..0.87)
            };
            let contrast = rng.random_range(0.0..0.8);
            return changed(quality, move |light| light.bend(gamma, contrast));
        }
        Way::BrightLight | Way::SoftLight | Way::Hidden => {
            let place = Place::of(scene)?;
            let draws: [f64; 6] = std::array::from_fn(|_| rng.random());
            return changed(quality, move |light| match way {
                Way::BrightLight => place.bright_light(light, draws),
                Way::SoftLight => place.soft_light(light, draws, sign),
                _ => place.hide(light, draws),
            });
        }
        Way::CutShort => {
            let share = rng.random_range(0.3..0.98);
            return Some(Box::new(move |mut bytes| {
                bytes.truncate((share * bytes.len() as f64) as usize);
                Ok(bytes)
            }));
        }
    }
    Some(Box::new(Ok))
}

/// Takes all six sheets off but those `kept`.
fn take_sheets_off(scene: &mut Scene, kept: &[u32]) {
    let gone = (1..=6).filter(|id| !kept.contains(id));
    scene.sheet = gone.map(|id| fate(id, [0.0, 0.0], true)).collect();
}

/// Hangs one or two sheets elsewhere.
fn move_sheets(scene: &mut Scene, rng: &mut ChaCha8Rng) {
    let ids = two_of_six(rng);
    let count = rng.random_range(1..=2);
    for id in ids.into_iter().take(count) {
        let moved_mm = rng.random_range(30.0..150.0);
        let (sin, cos) = rng.random_range(0.0..std::f64::consts::TAU).sin_cos();
        scene.sheet.push(fate(id, [moved_mm * cos, moved_mm * sin], false));
    }
}

/// Switches the lamp off in a room that is not quite dark.
fn switch_off(scene: &mut Scene, rng: &mut ChaCha8Rng) {
    scene.photo[0].lamp_on = Some(false);
    scene.ambient.of_dark_side = rng.random_range(0.02..0.3);
    if rng.random_bool(0.5) {
        // The camera opens up for what little light there is.
        let lamp = &scene.lamp[0];
        let dark_lx = lamp.dark_cd * lamp.intensity_scale * 1e6 / lamp.distance_mm.powi(2);
        scene.exposure.full_scale_lx = Some(2.0 * dark_lx * scene.ambient.of_dark_side);
    }
}

/// Lights the car's other lamp too, aimed higher or lower by `sign`; `None` where the camera does not see all.
fn light_both(case: &mut Case, sign: f64, rng: &mut ChaCha8Rng) -> Option<()> {
    let other = add_other_lamp(case, rng)?;
    let mut lamp = case.scene.lamp[0].clone();
    lamp.side = other.side;
    lamp.centre_x_mm = other.centre_x_mm;
    lamp.centre_height_mm = other.centre_height_mm;
    lamp.inclination_percent += sign * log_even(rng, 0.05..1.5);
    lamp.tilt_deg = rng.random_range(-0.5..0.5);
    lamp.lateral_percent = rng.random_range(-0.5..0.5);
    lamp.intensity_scale *= log_even(rng, 0.5..2.0);
    case.scene.lamp.push(lamp);
    Some(())
}

fn changed(quality: u8, change: impl FnOnce(&mut Light) + 'static) -> Option<Edit> {
    Some(Box::new(move |bytes| edited(&bytes, quality, change)))
}

fn two_of_six(rng: &mut ChaCha8Rng) -> Vec<u32> {
    let first = rng.random_range(1..=6);
    let second = (first + rng.random_range(0..5)) % 6 + 1;
    vec![first, second]
}

/// Adds the car's other lamp to the job, hangs the sheets about both, and lets the camera see them all.
pub(super) fn add_other_lamp(case: &mut Case, rng: &mut ChaCha8Rng) -> Option<crate::record::Lamp> {
    let mut other = case.job.lamp[0].clone();
    let offset_mm = -2.0 * other.centre_x_mm;
    other.side = match other.side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    };
    other.centre_x_mm = -other.centre_x_mm;
    other.centre_height_mm += rng.random_range(-5.0..5.0);
    case.job.lamp.push(other.clone());
    let middle_mm = case.scene.lamp[0].centre_x_mm;
    for sheets in [&mut case.scene.bay.marks.sheet, &mut case.bay.marks.sheet] {
        for sheet in sheets.iter_mut() {
            // Sheets are apart by much more than their tape errors, so both lists take the same turn.
            if (sheet.x_mm - middle_mm) * offset_mm.signum() > 150.0 {
                sheet.x_mm += offset_mm;
            }
        }
    }
    let [x_mm, y_mm] = case.scene.camera.look_at_mm?;
    case.scene.camera.look_at_mm = Some([x_mm + 0.5 * offset_mm, y_mm]);
    case.scene.camera.position_mm[0] += 0.5 * offset_mm;
    stand_back(&mut case.scene).then_some(other)
}

/// Turns the camera so that the cut-off lies above the picture, or the scan beside it, with four sheets left in view.
fn look_past(scene: &mut Scene, below: bool, rng: &mut ChaCha8Rng) -> Option<()> {
    let place = Place::of(scene)?;
    let right_px = scene.camera.width_px as f64;
    scene.camera.roll_deg *= 0.3;
    for _ in 0..200 {
        let pinhole = scene.pinhole(0).ok()?;
        let [edge_x_px, edge_y_px] = pinhole.project(place.wall_mm(2.5, 0.0))?;
        let look_at_mm = scene.camera.look_at_mm.as_mut()?;
        if below {
            if edge_y_px < -rng.random_range(10.0..60.0) {
                return Some(());
            }
            look_at_mm[1] -= 20.0;
        } else {
            if !(-30.0..right_px + 30.0).contains(&edge_x_px) {
                return Some(());
            }
            look_at_mm[0] -= place.flat * 20.0;
        }
    }
    None
}

/// A sheet's fate: how far it hangs to the right of and above its place, mm, and whether it has fallen off.
fn fate(id: u32, [dx_mm, dy_mm]: [f64; 2], missing: bool) -> MadeSheet {
    MadeSheet {
        id,
        dx_mm,
        dy_mm,
        rotation_deg: 0.0,
        missing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_different_sheets_are_drawn() {
        let mut rng = seeded(1, 0);
        for _ in 0..200 {
            let ids = two_of_six(&mut rng);
            assert!(ids[0] != ids[1] && ids.iter().all(|id| (1..=6).contains(id)), "{ids:?}");
        }
    }
}
