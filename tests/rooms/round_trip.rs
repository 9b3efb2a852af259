//! Made photos with a known truth, drawn and read again: distances, walls, patterns, both traffic sides, exposures.
//!
//! The renderer knows nothing of how photos are read. Its truth is the definition of UN R112's cut-off quality annex
//! on the clean beam. The scenes are our own; the limits are those that the project sets itself.

use crate::aim::ShotReading;
use crate::record::{Pattern, Shot, Side, Traffic};
use crate::refusal::Reason;
use crate::render::{Ambient, EdgeKind, Scene, WallKind};
use std::path::Path;

/// Draws a scene's first photo and reads it back with the lamp as the scene has it.
fn read(scene: &Scene, folder: &Path, name: &str) -> ShotReading {
    read_with(scene, folder, name, None)
}

/// As [`read`], with a photo of the same view with the lamp off.
fn read_with(scene: &Scene, folder: &Path, name: &str, lamp_off: Option<&str>) -> ShotReading {
    std::fs::write(folder.join(name), scene.jpeg().unwrap()).unwrap();
    let shot = Shot {
        lamp_off: lamp_off.map(Into::into),
        ..super::common::shot(name, Side::Left)
    };
    super::common::read(scene, folder, &shot)
}

/// A value between two ends, spread evenly over the scenes (golden-ratio steps), so that no seed decides the test.
fn spread(n: usize, salt: f64, low: f64, high: f64) -> f64 {
    low + (high - low) * ((n as f64 + 1.0) * 0.618_033_988_749_895 + salt).fract()
}

fn scene(n: usize) -> Scene {
    let mut scene = Scene {
        seed: n as u64,
        ..Scene::default()
    };
    scene.bay.marks.position_sd_mm = 0.2;
    let lamp = &mut scene.lamp[0];
    lamp.distance_mm = [5_000.0, 7_620.0, 10_000.0][n % 3];
    lamp.traffic = [Traffic::Right, Traffic::Left][n % 2];
    lamp.pattern = [Pattern::KickUp, Pattern::Step, Pattern::Flat][(n / 2) % 3];
    lamp.edge = [EdgeKind::LogLinear, EdgeKind::Blurred][(n / 3) % 2];
    lamp.sharpness_g = spread(n, 0.1, 0.14, 0.38);
    lamp.inclination_percent = spread(n, 0.3, 0.0, 2.0);
    lamp.tilt_deg = spread(n, 0.5, -0.5, 0.5);
    lamp.centre_height_mm = spread(n, 0.7, 600.0, 850.0);
    scene.wall.kind = [WallKind::Plain, WallKind::Plaster, WallKind::Brick, WallKind::Panel][n % 4];
    scene.ambient = Ambient {
        lx: 0.0,
        of_dark_side: spread(n, 0.2, 0.0, 0.1),
    };
    scene.camera.k1 = spread(n, 0.4, -0.02, 0.02);
    scene.camera.veil_percent = spread(n, 0.6, 0.0, 0.5);
    scene.camera.roll_deg = spread(n, 0.8, -3.0, 3.0);
    scene.camera.position_mm[0] = spread(n, 0.9, -1_300.0, 500.0);
    scene.exposure.p997_of_full_scale = spread(n, 0.15, 0.4, 1.6);
    scene.exposure.jpeg_quality = spread(n, 0.35, 82.0, 97.0) as u8;
    scene.exif.orientation = [1, 3, 6, 8][(n / 2) % 4];
    scene.paper.rotation_sd_deg = 1.5;
    scene
}

#[test]
fn made_photos_are_read_near_their_truth() {
    let folder = tempfile::tempdir().unwrap();
    let (mut errors, mut covered, mut sharpness) = (Vec::new(), 0, 0.0);
    const SCENES: usize = 16;
    for n in 0..SCENES {
        let scene = scene(n);
        let truth = scene.truth().unwrap()[0].clone();
        let reading = read(&scene, folder.path(), &format!("{n}.jpg"));
        let measured = reading
            .result
            .unwrap_or_else(|refusal| panic!("scene {n} was refused: {refusal}"));
        let error = measured.aim.inclination_percent - truth.inclination_percent;
        covered += usize::from(error.abs() <= measured.aim.u95_percent());
        sharpness += (measured.aim.cutoff.sharpness_g - truth.sharpness_g).powi(2);
        errors.push(error.abs());
    }
    errors.sort_by(f64::total_cmp);
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    let median = errors[errors.len() / 2];
    println!(
        "errors of {SCENES} scenes: median {median:.4} %, rms {rms:.4} %, worst {:.4} %, {covered} covered",
        errors[SCENES - 1]
    );
    assert!(
        median <= 0.03 && rms <= 0.06 && errors[SCENES - 1] <= 0.15,
        "median {median}, rms {rms}, all {errors:?}"
    );
    assert!(
        covered >= SCENES - 2,
        "only {covered} of {SCENES} lie within their 95 % interval"
    );
    assert!((sharpness / SCENES as f64).sqrt() < 0.02);
}

#[test]
fn steps_of_one_view_are_read_more_closely_still() {
    let folder = tempfile::tempdir().unwrap();
    let mut errors = Vec::new();
    for (n, percent) in [0.9, 1.3, 1.8].into_iter().enumerate() {
        let mut scene = scene(1);
        scene.lamp[0].inclination_percent = percent;
        let truth = scene.truth().unwrap()[0].inclination_percent;
        let measured = read(&scene, folder.path(), &format!("step-{n}.jpg")).result.unwrap();
        errors.push(measured.aim.inclination_percent - truth);
    }
    for pair in errors.windows(2) {
        assert!((pair[1] - pair[0]).abs() <= 0.03, "{errors:?}");
    }
}

/// Photos that cannot be read: each gives its reason, not a figure.
#[test]
fn spoilt_photos_are_refused_for_their_reason() {
    let folder = tempfile::tempdir().unwrap();
    let check = |name: &str, expected: &[Reason], spoil: &dyn Fn(&mut Scene)| {
        let mut scene = scene(5);
        (scene.camera.width_px, scene.camera.height_px) = (2_000, 1_500);
        spoil(&mut scene);
        match read(&scene, folder.path(), name).result {
            Err(refusal) => {
                assert!(expected.contains(&refusal.reason), "{name}: {refusal}");
                assert!(refusal.english().len() > 40, "{name} says how to mend: {refusal}");
            }
            Ok(measured) => panic!("{name} gave {} %", measured.aim.inclination_percent),
        }
    };
    check("over.jpg", &[Reason::Overexposed], &|s| {
        s.exposure.p997_of_full_scale = 60.0
    });
    check("under.jpg", &[Reason::Underexposed, Reason::MarksMissing], &|s| {
        s.exposure.p997_of_full_scale = 0.004
    });
    check("no-marks.jpg", &[Reason::MarksMissing], &|s| {
        s.sheet = s
            .bay
            .marks
            .sheet
            .iter()
            .map(|sheet| crate::render::MadeSheet {
                id: sheet.id,
                missing: true,
                dx_mm: 0.0,
                dy_mm: 0.0,
                rotation_deg: 0.0,
            })
            .collect();
    });
    check("lamp-off.jpg", &[Reason::NoCutoff, Reason::Overexposed], &|s| {
        s.lamp_on = false;
        s.ambient.lx = 5.0;
        s.exposure.full_scale_lx = Some(8.0);
    });
    check("soft.jpg", &[Reason::CutoffUnsharp, Reason::NoCutoff], &|s| {
        s.lamp[0].sharpness_g = 0.045
    });
    check(
        "out-of-frame.jpg",
        &[Reason::CutoffOutOfFrame, Reason::MarksMissing],
        &|s| {
            s.camera.look_at_mm = Some([1_600.0, 620.0]);
            s.camera.focal_35mm = 34.0;
        },
    );
    check("shaken.jpg", &[Reason::Blurred, Reason::MarksMissing], &|s| {
        s.camera.motion_px = 60.0
    });
    check("leaning.jpg", &[Reason::NotLevel], &|s| s.lamp[0].tilt_deg = 9.0);
}

#[test]
fn a_sheet_that_hangs_elsewhere_is_named_and_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let mut scene = scene(2);
    scene.sheet = vec![crate::render::MadeSheet {
        id: 6,
        dx_mm: 0.0,
        dy_mm: 35.0,
        rotation_deg: 0.0,
        missing: false,
    }];
    let truth = scene.truth().unwrap()[0].inclination_percent;
    let measured = read(&scene, folder.path(), "moved.jpg").result.unwrap();
    assert!(
        measured.warnings.iter().any(|w| w.to_string().contains("sheet 6 ")),
        "{:?}",
        measured.warnings
    );
    assert!((measured.aim.inclination_percent - truth).abs() <= measured.aim.u95_percent());
}

/// Ambient light lifts the dark side and drags the inflection towards the bright one; a lamp-off photo takes it away.
#[test]
fn a_lamp_off_photo_takes_ambient_light_away() {
    let folder = tempfile::tempdir().unwrap();
    let mut lit = scene(0);
    lit.lamp[0].edge = EdgeKind::LogLinear;
    lit.lamp[0].sharpness_g = 0.15;
    lit.wall.kind = WallKind::Plain;
    lit.ambient = Ambient {
        lx: 0.0,
        of_dark_side: 1.5,
    };
    lit.camera.veil_percent = 0.0;
    let mut off = lit.clone();
    off.lamp_on = false;
    std::fs::write(folder.path().join("off.jpg"), off.jpeg().unwrap()).unwrap();
    let truth = lit.truth().unwrap()[0].inclination_percent;
    let error = |reading: ShotReading| (reading.result.unwrap().aim.inclination_percent - truth).abs();
    let with = error(read_with(&lit, folder.path(), "lit.jpg", Some("off.jpg")));
    let without = error(read(&lit, folder.path(), "lit.jpg"));
    assert!(
        with <= 0.03 && without > 2.0 * with,
        "with {with} %, without {without} %"
    );
}
