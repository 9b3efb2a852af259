//! Cars that stand askew, lamps that lean or are soft and streaky, and walls with paint near the cut-off: figure, ± and warnings
//! against the truth, and that no warning names what is not there.

use crate::aim::{Measured, ShotReading};
use crate::record::{Pattern, Side, Traffic};
use crate::render::{EdgeKind, MadeLamp, Paint, Scene, WallKind};
use crate::warning::{Cause, Warning};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

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

/// What is drawn at random.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Row {
    Sound,
    Askew,
    Paint,
    Soft,
}

fn drawn(row: Row, rng: &mut ChaCha8Rng) -> Scene {
    let side = [Side::Left, Side::Right][rng.random_range(0..2)];
    let sign = [-1.0, 1.0][rng.random_range(0..2)];
    let mut lamp = MadeLamp {
        side,
        centre_x_mm: if side == Side::Left { -560.0 } else { 560.0 },
        traffic: [Traffic::Left, Traffic::Right][rng.random_range(0..2)],
        pattern: [Pattern::KickUp, Pattern::KickUp, Pattern::Step, Pattern::Flat][rng.random_range(0..4)],
        edge: [
            EdgeKind::LogLinear,
            EdgeKind::Blurred,
            EdgeKind::Skewed,
            EdgeKind::TwoBlurs,
        ][rng.random_range(0..4)],
        distance_mm: rng.random_range(7_600.0..10_000.0),
        centre_height_mm: rng.random_range(600.0..900.0),
        inclination_percent: rng.random_range(0.8..2.0),
        lateral_percent: rng.random_range(-0.4..0.4),
        tilt_deg: rng.random_range(-1.0..1.0),
        sharpness_g: rng.random_range(0.14..0.40),
        bow_deg: rng.random_range(0.0..0.03),
        dark_cd: rng.random_range(120.0..300.0),
        hot_cd: rng.random_range(9_000.0..18_000.0),
        ..MadeLamp::default()
    };
    match row {
        Row::Askew => lamp.lateral_percent = sign * rng.random_range(3.5..5.2),
        Row::Soft => {
            lamp.sharpness_g = rng.random_range(0.08..0.13);
            lamp.streak_contrast = rng.random_range(0.02..0.1);
            lamp.band_contrast = rng.random_range(0.0..0.02);
            lamp.streak_deg = rng.random_range(0.5..1.5);
        }
        Row::Sound | Row::Paint => {}
    }
    let x_mm = lamp.centre_x_mm;
    let mut scene = scene(lamp);
    scene.seed = rng.random();
    for sheet in &mut scene.bay.marks.sheet {
        sheet.x_mm += x_mm + 560.0;
    }
    let aside_mm = 0.005 * scene.lamp[0].lateral_percent * scene.lamp[0].distance_mm;
    scene.camera.position_mm[0] = x_mm + aside_mm + rng.random_range(-300.0..300.0);
    scene.camera.look_at_mm = Some([x_mm + aside_mm, 620.0]);
    scene.wall.kind = [WallKind::Plain, WallKind::Plaster, WallKind::Roller][rng.random_range(0..3)];
    scene.wall.contrast = rng.random_range(0.01..0.03);
    scene.exposure.p997_of_full_scale = rng.random_range(0.4..1.1);
    if let (Row::Paint, Ok(truth)) = (row, scene.truth()) {
        let from_mm = truth[0].edge_y_mm + rng.random_range(-90.0..70.0);
        scene.wall.paint = vec![Paint {
            from_y_mm: from_mm,
            to_y_mm: from_mm + rng.random_range(30.0..1_500.0),
            reflectance: scene.wall.reflectance * [0.3, 0.5, 0.7, 1.25][rng.random_range(0..4)],
        }];
    }
    scene
}

/// One whose beam does not rise: a blurred edge has its inflection above the aim that was drawn.
fn sound(row: Row, rng: &mut ChaCha8Rng) -> Scene {
    let falls = |scene: &Scene| scene.truth().is_ok_and(|truth| truth[0].inclination_percent > 0.3);
    loop {
        let scene = drawn(row, rng);
        if falls(&scene) {
            return scene;
        }
    }
}

/// The causes that a row's warnings may name.
fn may_name(row: Row) -> &'static [Cause] {
    match row {
        Row::Sound => &[],
        // A flat pattern shows only where its light is brightest, which can be another lamp's.
        Row::Askew => &[Cause::Askew, Cause::Job],
        Row::Paint => &[Cause::Wall],
        Row::Soft => &[Cause::Sharpness],
    }
}

#[test]
#[ignore = "draws and reads 80 photos; BEAMFALL_SEED chooses others"]
fn the_table_of_askew_painted_and_soft() {
    const PHOTOS: u64 = 20;
    let seed = std::env::var("BEAMFALL_SEED").ok().and_then(|seed| seed.parse().ok());
    let mut rng = ChaCha8Rng::seed_from_u64(seed.unwrap_or(90_417));
    let mut failed = Vec::new();
    for row in [Row::Sound, Row::Askew, Row::Paint, Row::Soft] {
        let (mut held, mut silent, mut beside, mut refused) = (0, 0, 0, 0);
        let mut worst: f64 = 0.0;
        for _ in 0..PHOTOS {
            let scene = sound(row, &mut rng);
            let Ok(measured) = read(&scene).result else {
                refused += 1;
                continue;
            };
            let (error, u95) = error_and_u95(&scene, &measured);
            let named = may_name(row).iter().any(|cause| names(&measured, *cause));
            let meant = |warning: &&Warning| !warning.causes().iter().any(|cause| may_name(row).contains(cause));
            worst = worst.max(error.abs());
            held += u64::from(error.abs() <= u95);
            silent += u64::from(error.abs() > (1.3 * u95).max(0.06) && !named);
            let wrongly: Vec<String> = measured
                .warnings
                .iter()
                .filter(meant)
                .map(ToString::to_string)
                .collect();
            beside += u64::from(!wrongly.is_empty());
            if error.abs() > u95 || !wrongly.is_empty() {
                println!(
                    "  {row:?} {:?}: {error:.3} ± {u95:.3} {wrongly:?}",
                    scene.lamp[0].pattern
                );
            }
        }
        let read = PHOTOS - refused;
        println!(
            "{row:?}: {held} of {read} held, worst {worst:.3}, {silent} silent, {beside} with another warning, {refused} refused"
        );
        // 93 % and 3 % of twenty are 18.6 and 0.6.
        let most_refused = if row == Row::Soft { 2 } else { 1 };
        if silent > 0 || held + 2 < read || beside > 1 || refused > most_refused {
            failed.push(row);
        }
    }
    assert!(failed.is_empty(), "{failed:?}");
}
