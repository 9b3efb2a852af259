//! Shots with several exposures: made photos that cannot be read alone are read together.

use beamfall::aim::{Setting, ShotReading, measure_shot};
use beamfall::record::{Job, Lamp, SCHEMA, Shot, Side};
use beamfall::refusal::Reason;
use beamfall::render::{Ambient, Scene, WallKind};
use std::path::Path;

/// Writes the scene's photo at an exposure, with its own noise.
fn expose(scene: &Scene, p997_of_full_scale: f64, folder: &Path, name: &str) {
    let mut scene = scene.clone();
    scene.exposure.p997_of_full_scale = p997_of_full_scale;
    std::fs::write(folder.join(name), scene.jpeg().unwrap()).unwrap();
}

fn read(scene: &Scene, folder: &Path, photo: &str, brackets: &[&str], lamp_off: Option<&str>) -> ShotReading {
    let made = &scene.lamp[0];
    let lamp = Lamp {
        side: Side::Left,
        centre_height_mm: made.centre_height_mm,
        centre_height_sd_mm: 0.2,
        centre_x_mm: made.centre_x_mm,
        distance_mm: made.distance_mm,
        distance_sd_mm: 1.0,
        mounting_height_mm: None,
    };
    let shot = Shot {
        photo: photo.into(),
        lamp: Side::Left,
        stage: None,
        position: None,
        vacuum: None,
        branch: None,
        sealed: false,
        lamp_off: lamp_off.map(Into::into),
        brackets: brackets.iter().map(Into::into).collect(),
    };
    let job = Job {
        schema: SCHEMA,
        job: "brackets".to_owned(),
        bay: "bay.toml".into(),
        traffic: made.traffic,
        pattern: None,
        tolerance: None,
        tolerance_choice: None,
        lamp_mark: None,
        system: None,
        made_photos: true,
        vehicle: None,
        lamp: vec![lamp],
        shot: vec![],
        trial: vec![],
    };
    let setting = Setting {
        job: &job,
        bay: &scene.bay,
        table: None,
        folder,
        pictures: false,
    };
    measure_shot(&setting, &shot, &lamp)
}

fn scene() -> Scene {
    let mut scene = Scene {
        seed: 11,
        ..Scene::default()
    };
    scene.bay.marks.position_sd_mm = 0.2;
    scene.wall.kind = WallKind::Plain;
    scene
}

#[test]
#[ignore]
fn look() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let base_scene = scene();
    let truth = base_scene.truth().unwrap()[0].inclination_percent;
    let show = |set: &[&str]| {
        let r = read(&base_scene, folder, set[0], &set[1..], None);
        println!(
            "{set:?}: {:?}",
            r.result
                .map(|m| (m.aim.inclination_percent - truth, m.aim.u95_percent(), m.warnings))
        );
    };
    for p in [9.0, 8.0, 7.0, 6.0, 0.9, 0.013, 0.0125, 0.012] {
        expose(&base_scene, p, folder, &format!("{p}.jpg"));
        show(&[&format!("{p}.jpg")]);
    }
    for a in [9.0, 8.0, 7.0, 6.0] {
        for b in [0.0125, 0.013] {
            show(&[&format!("{a}.jpg"), &format!("{b}.jpg")]);
        }
    }
    // Moved.
    for (name, shift, roll) in [
        ("m1", [10.0, 5.0, 0.0], 0.0),
        ("m2", [40.0, -60.0, 80.0], 1.5),
        ("m3", [0.0, 0.0, 0.0], 0.2),
        ("m4", [0.0, 1.0, 0.0], 0.0),
    ] {
        let mut s = base_scene.clone();
        for k in 0..3 {
            s.camera.position_mm[k] += shift[k];
        }
        s.camera.roll_deg += roll;
        for p in [9.0, 0.2] {
            expose(&s, p, folder, &format!("{name}-{p}.jpg"));
            show(&["0.9.jpg", &format!("{name}-{p}.jpg")]);
            if p < 1.0 {
                show(&["8.jpg", &format!("{name}-{p}.jpg")]);
                show(&["0.013.jpg", &format!("{name}-{p}.jpg")]);
            }
        }
        expose(&s, 6.0, folder, &format!("{name}-6.jpg"));
        show(&["0.013.jpg", &format!("{name}-6.jpg")]);
    }
    // Edited.
    for t in [0.05, 0.1, 0.3, 0.5] {
        let mut s = base_scene.clone();
        s.exposure.tone_map = t;
        expose(&s, 4.0, folder, "tone.jpg");
        show(&["0.9.jpg", "tone.jpg"]);
    }
    for k in [0.8, 0.9, 1.1, 1.2] {
        let mut s = base_scene.clone();
        s.exposure.full_scale_lx = Some(30.0);
        s.lamp[0].intensity_scale = k;
        expose(&s, 4.0, folder, "light.jpg");
        show(&["0.9.jpg", "light.jpg"]);
    }
    for d in [0.02, 0.05, 0.2] {
        let mut s = base_scene.clone();
        s.lamp[0].inclination_percent += d;
        expose(&s, 4.0, folder, "beam.jpg");
        show(&["0.9.jpg", "beam.jpg"]);
    }
}
