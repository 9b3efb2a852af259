//! Each refusal on made photos just inside and just outside of its threshold: the one must give a figure near its truth,
//! the other the reason, with what was measured and the mend. The scenes are our own.

use crate::aim::ShotReading;
use crate::photo::Photo;
use crate::record::{Pattern, Side};
use crate::refusal::{Reason, Refusal};
use crate::render::{EdgeKind, MadeLamp, MadeSheet, Scene, WallKind};
use std::path::Path;

/// A small photo of a plain wall 10 m off, all as the README asks for.
fn scene() -> Scene {
    let mut scene = Scene {
        seed: 11,
        ..Scene::default()
    };
    scene.camera.width_px = 2_000;
    scene.camera.height_px = 1_500;
    scene.wall.kind = WallKind::Plaster;
    scene.lamp[0].pattern = Pattern::Flat;
    scene.exposure.p997_of_full_scale = 0.8;
    scene
}

/// Draws the scene and reads its first lamp.
fn read(scene: &Scene, folder: &Path) -> ShotReading {
    std::fs::write(folder.join("photo.jpg"), scene.jpeg().unwrap()).unwrap();
    super::common::read(scene, folder, &super::common::shot("photo.jpg", scene.lamp[0].side))
}

/// What a case does to the scene.
type Spoil = fn(&mut Scene, f64);

/// Reason, what is done to the scene, its value just inside and just outside, and a word of the mend.
const CASES: &[(Reason, &str, Spoil, f64, f64, &str)] = &[
    (Reason::MarksMissing, "sheets left", leave_sheets, 3.0, 2.0, "marks"),
    (
        Reason::MarksDisagree,
        "one of four sheets moved, mm",
        move_sheet,
        4.0,
        20.0,
        "measure the sheets",
    ),
    (Reason::Overexposed, "exposure", expose, 3.0, 6.0, "exposure down"),
    (Reason::Underexposed, "exposure", expose, 0.03, 0.01, "exposure up"),
    (Reason::Blurred, "defocus, px", defocus, 3.5, 6.0, "focus"),
    (
        Reason::NoCutoff,
        "the room's light over the dark side's",
        light_up,
        1.5,
        12.0,
        "dark",
    ),
    (
        Reason::CutoffUnsharp,
        "sharpness G",
        soften,
        0.075,
        0.05,
        "clean the lens",
    ),
    (
        Reason::SecondCutoff,
        "the other lamp's light",
        other_lamp,
        0.01,
        3.0,
        "cover the other lamp",
    ),
    (
        Reason::SecondCutoff,
        "the other lamp's light, whose step lies over the flat part",
        other_step,
        0.01,
        0.8,
        "cover it",
    ),
    (
        Reason::SecondCutoff,
        "the other lamp's light below the kick",
        other_below_kick,
        0.01,
        1.0,
        "cover it",
    ),
    (
        Reason::CutoffOutOfFrame,
        "looking past, mm",
        look_past,
        1_000.0,
        1_700.0,
        "turn the camera",
    ),
    (Reason::NotLevel, "lean, degrees", lean, 3.8, 4.3, "slopes"),
];

fn leave_sheets(scene: &mut Scene, count: f64) {
    scene.sheet = (1..=6).skip(count as usize).map(|id| fate(id, 0.0, true)).collect();
}

fn move_sheet(scene: &mut Scene, mm: f64) {
    scene.sheet = vec![fate(5, 0.0, true), fate(6, 0.0, true), fate(2, mm, false)];
}

fn fate(id: u32, dy_mm: f64, missing: bool) -> MadeSheet {
    MadeSheet {
        id,
        dx_mm: 0.0,
        dy_mm,
        rotation_deg: 0.0,
        missing,
    }
}

fn expose(scene: &mut Scene, p997: f64) {
    scene.exposure.p997_of_full_scale = p997;
}

fn defocus(scene: &mut Scene, px: f64) {
    scene.camera.defocus_px = px;
}

fn light_up(scene: &mut Scene, of_dark_side: f64) {
    scene.ambient.of_dark_side = of_dark_side;
}

fn soften(scene: &mut Scene, sharpness_g: f64) {
    scene.lamp[0].edge = EdgeKind::Blurred;
    scene.lamp[0].sharpness_g = sharpness_g;
}

fn other_lamp(scene: &mut Scene, intensity: f64) {
    let other = MadeLamp {
        side: Side::Right,
        centre_x_mm: -scene.lamp[0].centre_x_mm,
        inclination_percent: scene.lamp[0].inclination_percent + 2.8,
        intensity_scale: intensity,
        ..scene.lamp[0].clone()
    };
    scene.lamp.push(other);
}

/// A second lamp, as far beside the first one as cars' lamps are, set 0.2 % lower.
fn beside(scene: &mut Scene, pattern: Pattern, intensity: f64, away_mm: f64) {
    scene.lamp[0].pattern = pattern;
    let mut other = scene.lamp[0].clone();
    other.side = Side::Right;
    other.centre_x_mm += away_mm;
    other.inclination_percent += 0.2;
    other.intensity_scale = intensity;
    scene.lamp.push(other);
}

fn other_step(scene: &mut Scene, intensity: f64) {
    beside(scene, Pattern::Step, intensity, -900.0);
}

fn other_below_kick(scene: &mut Scene, intensity: f64) {
    beside(scene, Pattern::KickUp, intensity, 1_100.0);
}

fn look_past(scene: &mut Scene, mm: f64) {
    let lamp = &scene.lamp[0];
    scene.camera.look_at_mm = Some([
        lamp.centre_x_mm - lamp.traffic.flat_side_sign() * mm,
        lamp.centre_height_mm - 150.0,
    ]);
}

fn lean(scene: &mut Scene, deg: f64) {
    scene.lamp[0].tilt_deg = deg;
}

#[test]
fn just_inside_is_read_and_just_outside_is_refused_with_the_mend() {
    let folder = tempfile::tempdir().unwrap();
    let mut wrong = Vec::new();
    for &(reason, what, spoil, inside, outside, word) in CASES {
        for (value, refused) in [(inside, false), (outside, true)] {
            let mut scene = scene();
            spoil(&mut scene, value);
            let truth = scene.truth().unwrap()[0].inclination_percent;
            let outcome = read(&scene, folder.path()).result;
            let line = match &outcome {
                Ok(measured) => format!(
                    "{:+.3} ± {:.3} %, {:?}",
                    measured.aim.inclination_percent - truth,
                    measured.aim.u95_percent(),
                    measured.warnings
                ),
                Err(refusal) => refusal.to_string(),
            };
            println!("{reason} ({what} {value}): {line}");
            let as_wanted = match outcome {
                Ok(measured) => {
                    let error = (measured.aim.inclination_percent - truth).abs();
                    !refused && error <= measured.aim.u95_percent().max(0.05)
                }
                Err(refusal) => refused && refusal.reason == reason && refusal.message.contains(word),
            };
            if !as_wanted {
                wrong.push(format!("{reason} ({what} {value}): {line}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A file that ends early, and one too small to be a photo.
#[test]
fn files_that_are_no_whole_photo_are_refused() {
    let whole = scene().jpeg().unwrap();
    assert!(Photo::decode(&whole).is_ok());
    let refusal = |bytes: &[u8]| -> Refusal { Photo::decode(bytes).err().unwrap() };
    let cut = refusal(&whole[..whole.len() * 9 / 10]);
    assert_eq!(cut.reason, Reason::UnreadablePhoto);
    assert!(cut.message.contains("copy it from the phone again"), "{cut}");
    let sized = |width, height| {
        let mut bytes = std::io::Cursor::new(Vec::new());
        image::GrayImage::new(width, height)
            .write_to(&mut bytes, image::ImageFormat::Png)
            .unwrap();
        bytes.into_inner()
    };
    assert!(Photo::decode(&sized(320, 240)).is_ok());
    let small = refusal(&sized(319, 240));
    assert!(
        small.message.contains("319 x 240 px") && small.message.contains("original photo"),
        "{small}"
    );
}
