//! Made photos read as a job is: shared by the tests that draw them.
#![allow(dead_code, reason = "each test uses its own part")]

use crate::aim::{Setting, ShotReading, measure_shot};
use crate::record::{Job, Lamp, Shot, Side};
use crate::render::{Scene, WallKind};
use std::path::Path;

/// A left lamp before the wall, straight ahead.
pub fn lamp(distance_mm: f64, distance_sd_mm: f64) -> Lamp {
    Lamp {
        distance_sd_mm,
        ..Lamp::of(Side::Left, 650.0, 0.0, distance_mm)
    }
}

/// The usual lamp before an even wall, sheets well taped, in a photo of 3 megapixels.
pub fn plain_scene(seed: u64) -> Scene {
    let mut scene = Scene {
        seed,
        ..Scene::default()
    };
    scene.bay.marks.position_sd_mm = 0.2;
    scene.wall.kind = WallKind::Plain;
    scene.camera.width_px = 2000;
    scene.camera.height_px = 1500;
    scene
}

/// A shot that says nothing but its photo and its lamp.
pub fn shot(photo: &str, lamp: Side) -> Shot {
    Shot::of(photo, lamp)
}

/// A job of made photos that says nothing but the scene's traffic side and its first lamp, measured with care.
pub fn job(scene: &Scene) -> Job {
    let made = &scene.lamp[0];
    Job {
        made_photos: true,
        lamp: vec![Lamp {
            centre_height_sd_mm: 0.2,
            distance_sd_mm: 1.0,
            ..Lamp::of(made.side, made.centre_height_mm, made.centre_x_mm, made.distance_mm)
        }],
        ..Job::of("made", "bay.toml", made.traffic)
    }
}

/// Reads one shot of a scene's first lamp, its photos in `folder`.
pub fn read(scene: &Scene, folder: &Path, shot: &Shot) -> ShotReading {
    read_by(&job(scene), scene, folder, shot)
}

/// As [`read`], by a job of the scene that says more.
pub fn read_by(job: &Job, scene: &Scene, folder: &Path, shot: &Shot) -> ShotReading {
    let setting = Setting {
        job,
        bay: &scene.bay,
        table: None,
        folder,
        pictures: false,
    };
    measure_shot(&setting, shot, &job.lamp[0])
}
