//! Photos of the wall by the room's light: paint and texture are divided out, and what is no such photo is named.

use crate::aim::{ShotReading, Use};
use crate::record::Side;
use crate::render::{Ambient, Paint, Photo, Scene, WallKind};
use crate::warning::Warning;
use std::path::Path;

/// A wall whose lower part is painted darker, up to just below the cut-off, on coarse plaster.
fn painted() -> Scene {
    let mut scene = Scene {
        seed: 5,
        ..Scene::default()
    };
    scene.bay.marks.position_sd_mm = 0.2;
    let lamp = &scene.lamp[0];
    let edge_mm = lamp.centre_height_mm - lamp.inclination_percent / 100.0 * lamp.distance_mm;
    scene.wall.kind = WallKind::Plaster;
    scene.wall.contrast = 0.05;
    scene.wall.paint = vec![Paint {
        from_y_mm: -1_000.0,
        to_y_mm: edge_mm - 25.0,
        reflectance: 0.45,
    }];
    let room = Ambient {
        lx: 150.0,
        of_dark_side: 0.0,
    };
    let photo = |file: &str, lamp_on: bool, ambient: Option<Ambient>| Photo {
        file: file.to_owned(),
        lamp_on: Some(lamp_on),
        ambient,
        ..Photo::default()
    };
    scene.photo = vec![
        photo("lit.jpg", true, None),
        photo("wall.jpg", false, Some(room)),
        photo("forgotten.jpg", true, None),
    ];
    scene.photo[1].camera_shift_mm = Some([120.0, -60.0, 150.0]);
    scene.photo[1].p997_of_full_scale = Some(0.85);
    // The same by the lamp's exposure, far too long for the room's light.
    scene.photo.push(photo("pale.jpg", false, Some(room)));
    scene
}

fn drawn(scene: &Scene, folder: &Path) {
    for (n, photo) in scene.photo.iter().enumerate() {
        std::fs::write(folder.join(&photo.file), scene.jpeg_of(n).unwrap()).unwrap();
    }
}

fn read(scene: &Scene, folder: &Path, walls: &[&str]) -> ShotReading {
    let mut job = super::common::job(scene);
    job.wall_photos = walls.iter().map(Into::into).collect();
    super::common::read_by(&job, scene, folder, &super::common::shot("lit.jpg", Side::Left))
}

#[test]
fn paint_beside_the_cut_off_is_divided_out_and_what_is_no_photo_of_the_wall_is_named() {
    let scene = painted();
    let folder = tempfile::tempdir().unwrap();
    drawn(&scene, folder.path());
    let truth_percent = scene.truth().unwrap()[0].inclination_percent;

    let with = read(&scene, folder.path(), &["wall.jpg"]);
    let aim = &with.result.as_ref().unwrap().aim;
    let error_percent = aim.inclination_percent - truth_percent;
    // 0.03 % is 3 mm of the wall, an eighth of what lies between paint and cut-off.
    assert!(
        error_percent.abs() < 0.03 && error_percent.abs() < aim.u95_percent(),
        "{error_percent} ± {}",
        aim.u95_percent()
    );
    assert!(
        with.others
            .iter()
            .any(|other| other.used_as == Use::Wall && other.sha256.len() == 64)
    );

    // Alone the paint's edge is taken for part of the lamp's: refused, or further off.
    let alone = read(&scene, folder.path(), &[]);
    let worse = alone.result.as_ref().map_or(true, |measured| {
        let alone_percent = measured.aim.inclination_percent - truth_percent;
        alone_percent.abs() > 2.0 * error_percent.abs() || measured.aim.u95_percent() > aim.u95_percent()
    });
    assert!(
        worse,
        "{:?}",
        alone.result.map(|m| m.aim.inclination_percent - truth_percent)
    );

    let spoilt = read(&scene, folder.path(), &["forgotten.jpg", "nowhere.jpg", "pale.jpg"]);
    let measured = spoilt.result.as_ref();
    if let (Ok(spoilt), Ok(alone)) = (measured, &alone.result) {
        assert!(
            spoilt
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::WallPhotoLit { photo } if photo == Path::new("forgotten.jpg")))
        );
        for unused in ["nowhere.jpg", "pale.jpg"] {
            let names = |w: &Warning| matches!(w, Warning::WallPhotoUnused { photo, .. } if photo == Path::new(unused));
            assert!(spoilt.warnings.iter().any(names), "{unused}: {:?}", spoilt.warnings);
        }
        // What the forgotten photo adds is its marks only.
        assert!((spoilt.aim.inclination_percent - alone.aim.inclination_percent).abs() < 0.02);
    } else {
        panic!("{measured:?}");
    }
}
