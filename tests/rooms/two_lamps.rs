//! Photos in which the other lamp was left alight: drawn in many ways, each must be refused or read to within its ±; and the same lamp
//! alone must be read without a word of another.

use crate::record::{Pattern, Side};
use crate::refusal::Reason;
use crate::render::{EdgeKind, MadeLamp, Scene};
use crate::warning::{Cause, Warning};

/// Pattern, edge, sharpness G, how much lower the other lamp is set (per cent) and how much brighter it is.
const CASES: &[(Pattern, EdgeKind, f64, f64, f64)] = &[
    (Pattern::KickUp, EdgeKind::Blurred, 0.29, -0.5, 2.5),
    (Pattern::KickUp, EdgeKind::Blurred, 0.16, 0.5, 1.0),
    (Pattern::KickUp, EdgeKind::Skewed, 0.21, -0.5, 1.0),
    (Pattern::KickUp, EdgeKind::LogLinear, 0.21, -0.5, 0.7),
    (Pattern::KickUp, EdgeKind::Skewed, 0.18, -0.3, 0.6),
    (Pattern::Step, EdgeKind::LogLinear, 0.27, -0.3, 1.0),
    (Pattern::Step, EdgeKind::LogLinear, 0.26, -0.5, 1.0),
    (Pattern::Step, EdgeKind::Skewed, 0.32, 0.8, 1.0),
    (Pattern::Flat, EdgeKind::Blurred, 0.18, 0.2, 1.0),
    (Pattern::Flat, EdgeKind::Skewed, 0.19, 0.3, 1.0),
    (Pattern::Flat, EdgeKind::LogLinear, 0.21, -0.8, 0.6),
    (Pattern::Flat, EdgeKind::Skewed, 0.17, -0.1, 1.0),
];

/// Lamps of a car 1.12 m apart, 10 m from a plastered wall.
fn scene(
    seed: u64,
    &(pattern, edge, sharpness_g, lower_percent, brighter): &(Pattern, EdgeKind, f64, f64, f64),
) -> Scene {
    let mut scene = super::common::plain_scene(seed);
    scene.exposure.p997_of_full_scale = 0.8;
    scene.camera.look_at_mm = Some([-60.0, 640.0]);
    let own = MadeLamp {
        side: Side::Left,
        centre_x_mm: -560.0,
        pattern,
        edge,
        sharpness_g,
        ..scene.lamp[0].clone()
    };
    let other = MadeLamp {
        side: Side::Right,
        centre_x_mm: 560.0,
        inclination_percent: own.inclination_percent + lower_percent,
        intensity_scale: brighter,
        ..own.clone()
    };
    scene.lamp = vec![own, other];
    scene
}

fn tells_of_another_lamp(warning: &Warning) -> bool {
    warning.causes().contains(&Cause::OtherLamp)
}

#[test]
fn with_the_other_lamp_alight_a_photo_is_refused_or_read_to_within_its_u95() {
    let folder = tempfile::tempdir().unwrap();
    let mut wrong = Vec::new();
    let mut refused = 0;
    for (seed, case) in (1..).zip(CASES) {
        let both = scene(seed, case);
        let truth = both.truth().unwrap()[0].inclination_percent;
        let read = |scene: &Scene| {
            std::fs::write(folder.path().join("photo.jpg"), scene.jpeg().unwrap()).unwrap();
            super::common::read(scene, folder.path(), &super::common::shot("photo.jpg", Side::Left)).result
        };
        match read(&both) {
            Ok(measured) => {
                let (miss, u95) = (measured.aim.inclination_percent - truth, measured.aim.u95_percent());
                println!("{case:?}: {miss:+.3} ± {u95:.3} %, {:?}", measured.warnings);
                if miss.abs() > u95 {
                    wrong.push(format!("{case:?}: {miss:+.3} ± {u95:.3} %"));
                }
            }
            Err(refusal) => {
                println!("{case:?}: {refusal}");
                refused += 1;
                assert!(
                    matches!(refusal.reason, Reason::SecondCutoff | Reason::NoCutoff),
                    "{refusal}"
                );
            }
        }
        let mut alone = both;
        alone.lamp.truncate(1);
        let measured = read(&alone).unwrap();
        assert!((measured.aim.inclination_percent - truth).abs() <= measured.aim.u95_percent());
        assert!(
            !measured.warnings.iter().any(tells_of_another_lamp),
            "{:?}",
            measured.warnings
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(
        refused >= 3,
        "two kicks or steps beside each other are plain: {refused} refused"
    );
}
