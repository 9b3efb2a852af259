//! Shots with several exposures: made photos that cannot be read alone are read together.

use crate::aim::{ShotReading, Use};
use crate::record::{Shot, Side};
use crate::refusal::Reason;
use crate::render::{Ambient, Scene};
use crate::warning::Warning;
use std::path::Path;

/// Writes the scene's photo at an exposure, with its own noise.
fn expose(scene: &Scene, p997_of_full_scale: f64, folder: &Path, name: &str) {
    let mut scene = scene.clone();
    scene.exposure.p997_of_full_scale = p997_of_full_scale;
    std::fs::write(folder.join(name), scene.jpeg().unwrap()).unwrap();
}

fn read(scene: &Scene, folder: &Path, photo: &str, brackets: &[&str], lamp_off: Option<&str>) -> ShotReading {
    let shot = Shot {
        lamp_off: lamp_off.map(Into::into),
        brackets: brackets.iter().map(Into::into).collect(),
        ..super::common::shot(photo, Side::Left)
    };
    super::common::read(scene, folder, &shot)
}

fn scene() -> Scene {
    super::common::plain_scene(11)
}

/// Error of a reading, per cent, and what was told with it.
fn error(reading: ShotReading, scene: &Scene) -> (f64, Vec<Warning>) {
    let measured = reading.result.unwrap_or_else(|refusal| panic!("{refusal}"));
    let truth = scene.truth().unwrap()[0].inclination_percent;
    (measured.aim.inclination_percent - truth, measured.warnings)
}

/// Exposes ever more (or less) until the photo is refused alone for `reason`, and gives its name.
fn first_refused(scene: &Scene, folder: &Path, series: &[f64], reason: Reason) -> String {
    for p997 in series {
        let name = format!("{p997}.jpg");
        expose(scene, *p997, folder, &name);
        match read(scene, folder, &name, &[], None).result {
            Err(refusal) => {
                assert_eq!(refusal.reason, reason, "{name}: {refusal}");
                return name;
            }
            Ok(_) => println!("{name} can be read alone"),
        }
    }
    panic!("none of {series:?} is refused");
}

#[test]
fn photos_that_are_refused_alone_are_read_together() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut scene = scene();
    scene.lamp[0].sharpness_g = 0.38;
    let bright = first_refused(&scene, folder, &[5.0, 5.5, 6.0], Reason::Overexposed);
    let dark = first_refused(&scene, folder, &[0.011, 0.01, 0.009], Reason::Underexposed);
    for (main, other) in [(&bright, &dark), (&dark, &bright)] {
        let (error, warnings) = error(read(&scene, folder, main, &[other], None), &scene);
        println!("{main} with {other}: {error:.4} %");
        assert!(error.abs() <= 0.02, "{main} with {other}: {error} % {warnings:?}");
        assert!(warnings.is_empty(), "{warnings:?}");
    }
}

#[test]
fn a_camera_that_moved_between_the_exposures_is_followed() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let scene = scene();
    expose(&scene, 8.0, folder, "main.jpg");
    let mut moved = scene.clone();
    moved.camera.roll_deg += 1.5;
    for (place, by_mm) in moved.camera.position_mm.iter_mut().zip([40.0, -60.0, 80.0]) {
        *place += by_mm;
    }
    expose(&moved, 0.3, folder, "moved.jpg");
    let (error, warnings) = error(read(&scene, folder, "main.jpg", &["moved.jpg"], None), &scene);
    println!("moved: {error:.4} %");
    assert!(error.abs() <= 0.02 && warnings.is_empty(), "{error} % {warnings:?}");
}

#[test]
fn brackets_that_do_not_fit_are_named_and_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let scene = scene();
    expose(&scene, 0.9, folder, "main.jpg");
    let alone = error(read(&scene, folder, "main.jpg", &[], None), &scene).0;
    let check = |bracket: &str, part: &str| {
        let (error, warnings) = error(read(&scene, folder, "main.jpg", &[bracket], None), &scene);
        assert_eq!(error, alone, "{bracket} changed the reading");
        let named = |w: &Warning| [bracket, part].iter().all(|part| w.to_string().contains(part));
        assert!(warnings.iter().any(named), "{bracket}: {warnings:?}");
    };
    // More light than the files' exposures say.
    let mut brighter = scene.clone();
    brighter.lamp[0].intensity_scale = 1.3;
    brighter.exposure.full_scale_lx = Some(30.0);
    expose(&brighter, 1.0, folder, "brighter.jpg");
    check("brighter.jpg", "by the exposures in the files");
    // A local tone curve.
    let mut mapped = scene.clone();
    mapped.exposure.tone_map = 0.2;
    expose(&mapped, 3.6, folder, "mapped.jpg");
    check("mapped.jpg", "tone curve");
    // A beam that moved by a tenth of a per cent, 10 mm.
    let mut lower = scene.clone();
    lower.lamp[0].inclination_percent += 0.1;
    expose(&lower, 3.6, folder, "lower.jpg");
    check("lower.jpg", "moved between them");
    // Nothing that both show.
    expose(&scene, 0.0004, folder, "black.jpg");
    check("black.jpg", "add an exposure between them");
    std::fs::copy(folder.join("main.jpg"), folder.join("copy.jpg")).unwrap();
    check("copy.jpg", "the same file as main.jpg");
    let mut small = scene.clone();
    small.camera.width_px = 1000;
    small.camera.height_px = 750;
    expose(&small, 0.3, folder, "small.jpg");
    check("small.jpg", "1000 x 750 px");
    std::fs::write(folder.join("broken.jpg"), b"no photo").unwrap();
    check("broken.jpg", "is not a JPEG");
    // A refusal tells of them too.
    expose(&scene, 40.0, folder, "white.jpg");
    let refusal = read(&scene, folder, "white.jpg", &["broken.jpg"], None)
        .result
        .unwrap_err();
    assert_eq!(refusal.reason, Reason::Overexposed);
    assert!(refusal.english().contains("broken.jpg"), "{refusal}");
}

#[test]
fn without_exif_the_exposure_is_taken_from_the_pixels() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let scene = scene();
    expose(&scene, 8.0, folder, "main.jpg");
    expose(&scene, 0.5, folder, "other.jpg");
    expose(&scene, 7.8, folder, "again.jpg");
    // PNG as written here has no EXIF.
    image::open(folder.join("other.jpg"))
        .unwrap()
        .save(folder.join("other.png"))
        .unwrap();
    let (with, warnings) = error(read(&scene, folder, "main.jpg", &["other.jpg"], None), &scene);
    assert!(with.abs() <= 0.02 && warnings.is_empty(), "{with} % {warnings:?}");
    let (without, warnings) = error(read(&scene, folder, "main.jpg", &["other.png"], None), &scene);
    println!("with EXIF {with:.4} %, without {without:.4} %");
    assert!((without - with).abs() < 0.001, "{without} % against {with} %");
    assert!(
        warnings.iter().any(|w| w.to_string().contains("is not in the files")),
        "{warnings:?}"
    );
    let (_, warnings) = error(
        read(&scene, folder, "main.jpg", &["other.jpg", "again.jpg"], None),
        &scene,
    );
    assert!(
        warnings.iter().any(|w| w.to_string().contains("again.jpg adds little")),
        "{warnings:?}"
    );
}

/// The lamp-off photo's exposure is compared with the shot's own photo, whichever the merged light rests on.
#[test]
fn ambient_light_is_taken_away_from_merged_photos_too() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut scene = scene();
    scene.lamp[0].sharpness_g = 0.15;
    scene.ambient = Ambient {
        lx: 0.0,
        of_dark_side: 1.5,
    };
    scene.camera.veil_percent = 0.0;
    expose(&scene, 8.0, folder, "main.jpg");
    expose(&scene, 0.5, folder, "other.jpg");
    let mut off = scene.clone();
    off.lamp_on = false;
    expose(&off, 2.0, folder, "off.jpg");
    let others: Vec<_> = read(&scene, folder, "main.jpg", &["other.jpg"], Some("off.jpg"))
        .others
        .into_iter()
        .map(|other| (other.photo, other.used_as, other.sha256))
        .collect();
    let own = |name: &str, used_as| {
        let photo = crate::photo::Photo::read(folder, std::path::Path::new(name)).unwrap();
        (name.into(), used_as, photo.sha256)
    };
    assert_eq!(others, [own("other.jpg", Use::Bracket), own("off.jpg", Use::LampOff)]);
    let reading =
        |photo: &str, brackets: &[&str], off: Option<&str>| error(read(&scene, folder, photo, brackets, off), &scene).0;
    let single = reading("other.jpg", &[], Some("off.jpg"));
    let merged = reading("main.jpg", &["other.jpg"], Some("off.jpg"));
    let turned = reading("other.jpg", &["main.jpg"], Some("off.jpg"));
    let without = reading("main.jpg", &["other.jpg"], None);
    println!("one photo {single:.4} %, merged {merged:.4} %, turned {turned:.4} %, without lamp_off {without:.4} %");
    assert!(
        (merged - single).abs() <= 0.02 && (turned - merged).abs() <= 0.005,
        "{merged} {turned} {single}"
    );
    assert!(
        merged.abs() <= 0.05 && without.abs() > 2.0 * merged.abs(),
        "{without} {merged}"
    );
}
