//! Made photos read as a job is: shared by the tests that draw them.
#![allow(dead_code, reason = "each test uses its own part")]

use crate::aim::{Setting, ShotReading, measure_shot};
use crate::record::{AdjusterLimits, Job, Lamp, SCHEMA, Shot, Side};
use crate::render::Scene;
use std::path::Path;

/// A left lamp before the wall, straight ahead.
pub fn lamp(distance_mm: f64, distance_sd_mm: f64) -> Lamp {
    Lamp {
        side: Side::Left,
        stage: None,
        centre_height_mm: 650.0,
        centre_height_sd_mm: 2.0,
        centre_x_mm: 0.0,
        distance_mm,
        distance_sd_mm,
        mounting_height_mm: None,
    }
}

/// A shot that says nothing but its photo and its lamp.
pub fn shot(photo: &str, lamp: Side) -> Shot {
    Shot {
        photo: photo.into(),
        lamp,
        stage: None,
        position: None,
        vacuum: None,
        vacuum_sd: None,
        branch: None,
        sealed: false,
        series: None,
        taken: None,
        lamp_off: None,
        brackets: Vec::new(),
    }
}

/// A job of made photos that says nothing but the scene's traffic side and its first lamp, measured with care.
pub fn job(scene: &Scene) -> Job {
    let made = &scene.lamp[0];
    Job {
        schema: SCHEMA,
        job: "made".to_owned(),
        bay: "bay.toml".into(),
        traffic: made.traffic,
        pattern: None,
        tolerance: None,
        tolerance_choice: None,
        lamp_mark: None,
        system: None,
        made_photos: true,
        vehicle: None,
        lamp: vec![Lamp {
            side: made.side,
            stage: None,
            centre_height_mm: made.centre_height_mm,
            centre_height_sd_mm: 0.2,
            centre_x_mm: made.centre_x_mm,
            ..lamp(made.distance_mm, 1.0)
        }],
        shot: Vec::new(),
        trial: Vec::new(),
        repair: Vec::new(),
        adjuster: AdjusterLimits::default(),
    }
}

/// Reads one shot of a scene's first lamp, its photos in `folder`.
pub fn read(scene: &Scene, folder: &Path, shot: &Shot) -> ShotReading {
    let job = job(scene);
    let setting = Setting {
        job: &job,
        bay: &scene.bay,
        table: None,
        folder,
        pictures: false,
    };
    measure_shot(&setting, shot, &job.lamp[0])
}
