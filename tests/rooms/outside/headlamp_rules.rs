//! Angles and percentages of the headlamp rules.

use crate::aim::{Setting, inclination_at_percent, measure_shot};
use crate::record::{Bay, Job};
use std::path::Path;

fn sample() -> (std::path::PathBuf, Job, Bay) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos");
    let job = Job::read(&folder.join("job.toml")).unwrap();
    let bay = Bay::read(&folder.join("bay.toml")).unwrap();
    (folder, job, bay)
}

/// UN Regulation No. 112, cut-off quality annex, 3.1 (CELEX 42014X0822(02), read on 2026-11-25 at lexaris.io): the
/// inflection is put on line B, one per cent below H-H. That is the 0.57° of GRE informal document No. 9, 50th session
/// (2003; read on 2026-11-25 at documents.pub), and 25 cm on a screen at 25 m.
#[test]
fn line_b_of_regulation_112_is_one_per_cent_or_0_57_degrees_down() {
    let (_, job, bay) = sample();
    let mut lamp = job.lamp[0].clone();
    lamp.distance_mm = 25_000.0;
    let by_angle_mm = lamp.centre_height_mm - 25_000.0 * 0.57f64.to_radians().tan();
    let percent = inclination_at_percent(by_angle_mm, &lamp, &bay);
    assert!((percent - 1.0).abs() < 0.01, "0.57 degrees down is {percent} %");
    let percent = inclination_at_percent(lamp.centre_height_mm - 250.0, &lamp, &bay);
    assert!((percent - 1.0).abs() < 1e-12, "25 cm at 25 m is {percent} %");
}

/// ISO 10604 (wording): inclination is the tangent, in per cent, of the downward angle; the angle beside it must be its
/// arc tangent, and the drop its product with the distance. Held on a whole reading of a sample photo.
#[test]
fn a_readings_angle_and_drop_are_its_percentage() {
    let (folder, job, bay) = sample();
    let shot = job.shot.iter().find(|s| s.photo.ends_with("left-after-0.jpg")).unwrap();
    let lamp = job.lamp(shot.lamp).unwrap().clone();
    let setting = Setting {
        job: &job,
        bay: &bay,
        table: None,
        folder: &folder,
        pictures: false,
    };
    let aim = measure_shot(&setting, shot, &lamp).result.unwrap().aim;
    let percent = aim.inclination_percent;
    assert!((0.3..3.0).contains(&percent), "{percent} %");
    assert!(
        (100.0 * aim.angle_deg.to_radians().tan() - percent).abs() < 1e-9,
        "{percent} %"
    );
    assert!(
        (aim.drop_mm - percent / 100.0 * lamp.distance_mm).abs() < 1e-9,
        "{} mm",
        aim.drop_mm
    );
}
