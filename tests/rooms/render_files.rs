//! Scene files in, photos and truth out.

use crate::render::{Scene, render_file};
use std::path::Path;

const SCENE: &str = r#"
schema = 1
bay = "bay.toml"
[camera]
width_px = 160
height_px = 120
[[photo]]
file = "0.jpg"
[[photo]]
file = "1.jpg"
inclination_percent = 9.0
[[photo]]
file = "off.jpg"
lamp_on = false
"#;

const BAY: &str = r#"
schema = 1
name = "w"
heights_from = "floor"
[marks]
family = "tag36h11"
size_mm = 160.0
[[marks.sheet]]
id = 1
x_mm = -800.0
y_mm = 210.0
"#;

#[test]
fn a_scene_file_gives_its_photos_and_their_truth() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("wall.toml"), SCENE).unwrap();
    std::fs::write(folder.path().join("bay.toml"), BAY).unwrap();
    let out = folder.path().join("photos");
    let written = render_file(&folder.path().join("wall.toml"), Some(&out)).unwrap();
    let names: Vec<_> = written
        .iter()
        .map(|path| path.strip_prefix(&out).unwrap().to_str().unwrap())
        .collect();
    assert_eq!(names, ["0.jpg", "1.jpg", "off.jpg", "wall.truth.json"]);
    assert_eq!(
        std::fs::read_dir(&out).unwrap().count(),
        4,
        "no half-written file is left"
    );
    let photo = image::open(&written[0]).unwrap();
    assert_eq!((photo.width(), photo.height()), (160, 120));
    let truth: serde_json::Value = serde_json::from_slice(&std::fs::read(&written[3]).unwrap()).unwrap();
    assert_eq!(truth["photos"].as_array().unwrap().len(), 3);
    assert_eq!(truth["truth"].as_array().unwrap().len(), 1);
    let percent = truth["truth"][0]["inclination_percent"].as_f64().unwrap();
    assert!((percent - 1.0).abs() < 0.03, "{percent}");
    // Aimed at the floor: drawn, but without a reading.
    assert_eq!(truth["no_truth"][0]["photo"], "1.jpg");
    // Again: the same bytes.
    let first = std::fs::read(&written[0]).unwrap();
    render_file(&folder.path().join("wall.toml"), Some(&out)).unwrap();
    assert!(first == std::fs::read(&written[0]).unwrap());
}

#[test]
fn a_scene_that_cannot_be_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wall.toml");
    std::fs::write(&path, SCENE).unwrap();
    let message = render_file(&path, None).unwrap_err().to_string();
    assert!(
        message.contains("bay.toml") && message.contains("no such file"),
        "{message}"
    );
    std::fs::write(&path, SCENE.replace("width_px = 160", "width_px = 1")).unwrap();
    std::fs::write(folder.path().join("bay.toml"), BAY).unwrap();
    let message = render_file(&path, None).unwrap_err().to_string();
    assert!(
        message.contains("wall.toml") && message.contains("width_px"),
        "{message}"
    );
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[test]
fn every_shipped_scene_reads_and_has_a_truth() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos/scenes");
    let mut count = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if name.ends_with(".toml") && !name.starts_with("bay") {
            let truth = Scene::read(&path).unwrap().truth().unwrap();
            assert!(!truth.is_empty(), "{name}");
            count += 1;
        }
    }
    assert!(count > 0);
}
