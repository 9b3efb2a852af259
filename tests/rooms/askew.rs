//! Cars that stand askew, lamps that lean or are soft and streaky, and walls with paint near the cut-off: figure, ± and warnings
//! against the truth, and that no warning names what is not there.

use crate::aim::{Measured, ShotReading};
use crate::record::Pattern;
use crate::render::{MadeLamp, Paint, Scene};
use crate::warning::{Cause, Warning};

/// A scene whose camera stands back far enough for a pattern that lies aside.
fn scene(lamp: MadeLamp) -> Scene {
    let mut scene = Scene {
        seed: 11,
        ..Scene::default()
    };
    scene.bay.marks.position_sd_mm = 0.2;
    scene.wall.contrast = 0.015;
    scene.camera.position_mm = [-500.0, 1_300.0, 3_900.0];
    scene.camera.look_at_mm = Some([-500.0, 600.0]);
    scene.lamp = vec![lamp];
    scene
}

/// The first photo of a scene, as read.
fn read(scene: &Scene) -> ShotReading {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("lit.jpg"), scene.jpeg_of(0).unwrap()).unwrap();
    let shot = super::common::shot("lit.jpg", scene.lamp[0].side);
    super::common::read(scene, folder.path(), &shot)
}

/// Inclination 2.5° beside the pattern's own V-V: of the same lamp as it would be aimed straight ahead, per cent.
fn own_truth_percent(scene: &Scene) -> f64 {
    let mut straight = scene.clone();
    straight.lamp[0].lateral_percent = 0.0;
    straight.truth().unwrap()[0].inclination_percent
}

/// Error of a figure and its u95, per cent.
fn error_and_u95(scene: &Scene, measured: &Measured) -> (f64, f64) {
    let aim = &measured.aim;
    (aim.inclination_percent - own_truth_percent(scene), aim.u95_percent())
}

fn names(measured: &Measured, cause: Cause) -> bool {
    measured
        .warnings
        .iter()
        .any(|warning| warning.causes().contains(&cause))
}

#[test]
fn a_car_that_stands_askew_is_read_beside_its_elbow_and_told_as_such() {
    // 2.5° to either side: towards the flat side the job's scan would fall on the elbow.
    for (lateral_percent, pattern) in [(-4.4, Pattern::KickUp), (4.4, Pattern::KickUp), (-4.4, Pattern::Step)] {
        let scene = scene(MadeLamp {
            lateral_percent,
            pattern,
            tilt_deg: 0.3,
            bow_deg: 0.02,
            ..MadeLamp::default()
        });
        let reading = read(&scene);
        let measured = reading.result.as_ref().unwrap();
        let (error, u95) = error_and_u95(&scene, measured);
        assert!(
            error.abs() < u95 && u95 < 0.1,
            "{lateral_percent} {pattern}: {error} ± {u95}"
        );
        let (elbow, elbow_u95) = (
            measured.aim.elbow_lateral_percent,
            measured.aim.elbow_lateral_u95_percent,
        );
        let off = elbow.unwrap() - lateral_percent;
        assert!(
            off.abs() < elbow_u95.unwrap() && elbow_u95.unwrap() < 0.6,
            "{lateral_percent} {pattern}: {off}"
        );
        assert!(
            names(measured, Cause::Askew) && !names(measured, Cause::OtherLamp),
            "{:?}",
            measured.warnings
        );
    }
}

#[test]
fn a_stripe_at_the_cut_off_is_the_wall_s_and_a_lean_of_a_degree_is_nothing() {
    let lamp = MadeLamp {
        tilt_deg: 1.3,
        ..MadeLamp::default()
    };
    let mut scene = scene(lamp);
    let plain = read(&scene);
    assert!(
        plain.result.as_ref().unwrap().warnings.is_empty(),
        "{:?}",
        plain.result.map(|m| m.warnings)
    );
    let edge_mm = scene.truth().unwrap()[0].edge_y_mm;
    scene.wall.paint = vec![Paint {
        from_y_mm: edge_mm - 50.0,
        to_y_mm: edge_mm + 15.0,
        reflectance: 0.4,
    }];
    let striped = read(&scene);
    let measured = striped.result.as_ref().unwrap();
    let (error, u95) = error_and_u95(&scene, measured);
    assert!(error.abs() < u95 && u95 < 0.15, "{error} ± {u95}");
    let told = |warning: &Warning| matches!(warning, Warning::PaintNear { heights_mm } if heights_mm.len() == 2);
    assert!(
        measured.warnings.iter().all(told) && names(measured, Cause::Wall),
        "{:?}",
        measured.warnings
    );
}

#[test]
fn a_soft_lamp_with_bands_has_a_wider_interval_and_no_other_light() {
    let soft = |band_contrast: f64| {
        let scene = scene(MadeLamp {
            sharpness_g: 0.1,
            streak_contrast: 0.05,
            band_contrast,
            ..MadeLamp::default()
        });
        let measured = read(&scene).result.unwrap();
        let (error, u95) = error_and_u95(&scene, &measured);
        assert!(error.abs() < u95, "{band_contrast}: {error} ± {u95}");
        assert!(names(&measured, Cause::Sharpness), "{:?}", measured.warnings);
        assert!(
            !names(&measured, Cause::OtherLight) && !names(&measured, Cause::OtherLamp),
            "{:?}",
            measured.warnings
        );
        u95
    };
    assert!(soft(0.015) > 1.3 * soft(0.0));
}
