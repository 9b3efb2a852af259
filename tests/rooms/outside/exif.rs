//! EXIF against a second reader, Pillow (`tests/golden/make_exif_golden.py`): two of the sample photos, one photo with
//! little-endian and one with big-endian EXIF.

use super::golden;
use crate::photo::Photo;
use std::path::Path;

#[test]
fn capture_facts_are_those_that_pillow_reads() {
    let golden = golden("exif.json");
    let files = golden["files"].as_array().unwrap();
    assert_eq!(files.len(), 4);
    for file in files {
        let name = file["file"].as_str().unwrap();
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden");
        let photo = Photo::read(&folder, Path::new(name)).unwrap();
        let capture = &photo.capture;
        // Pillow gives EXIF's own text, YYYY:MM:DD hh:mm:ss.
        let taken = file["date_time_original"].as_str().map(|text| {
            let (date, time) = text.split_once(' ').unwrap();
            format!("{}T{time}", date.replace(':', "-"))
        });
        assert_eq!(capture.taken, taken, "{name}");
        assert_eq!(capture.utc_offset.as_deref(), file["utc_offset"].as_str(), "{name}");
        assert_eq!(capture.iso.map(u64::from), file["iso"].as_u64(), "{name}");
        assert_eq!(
            u64::from(capture.orientation),
            file["orientation"].as_u64().unwrap(),
            "{name}"
        );
        assert_eq!(capture.camera.as_deref(), file["camera"].as_str(), "{name}");
        for (key, ours) in [
            ("exposure_s", capture.exposure_s),
            ("f_number", capture.f_number),
            ("focal_length_mm", capture.focal_length_mm),
            ("focal_length_35mm_mm", capture.focal_length_35mm_mm),
        ] {
            let (ours, pillow) = (ours.unwrap(), file[key].as_f64().unwrap());
            assert!(
                (ours / pillow - 1.0).abs() < 1e-12,
                "{name}: {key} {ours} against {pillow}"
            );
        }
        let stored: (usize, usize) = serde_json::from_value(file["size_px"].clone()).unwrap();
        // EXIF 2.3 (JEITA CP-3451), Orientation: 5 to 8 swap width and height.
        let upright = if capture.orientation >= 5 {
            (stored.1, stored.0)
        } else {
            stored
        };
        assert_eq!(photo.size_px(), <[usize; 2]>::from(upright), "{name}");
    }
}

/// The ramp was drawn brighter to the right and, less so, downward. Orientation 6 stores the top on the right, 3 turns
/// by half (JEITA CP-3451, Orientation).
#[test]
fn orientation_turns_the_photo_upright() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden");
    let steps = |name: &str| {
        let photo = Photo::read(&folder, Path::new(name)).unwrap();
        let [width_px, height_px] = photo.size_px();
        let (right, bottom) = ((width_px - 40) as f64, (height_px - 40) as f64);
        let at = |x, y| photo.light_at(x, y).unwrap();
        (at(right, 40.0) - at(40.0, 40.0), at(40.0, bottom) - at(40.0, 40.0))
    };
    // 6: turned by a quarter clockwise for viewing, the stored right becomes the bottom and the stored bottom the left.
    let (across, down) = steps("exif_little.jpg");
    assert!(
        down > 0.2 && across < 0.0,
        "orientation 6: {across} across, {down} down"
    );
    let (across, down) = steps("exif_big.jpg");
    assert!(
        across < -0.2 && down < 0.0,
        "orientation 3: {across} across, {down} down"
    );
}
