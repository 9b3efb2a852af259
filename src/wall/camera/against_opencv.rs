//! The lens against OpenCV's `projectPoints` and `undistortPoints`; golden vectors by
//! `tests/golden/make_lens_golden.py`. The lens here is r_d = r_u (1 + k (r_u / R)²) with R half of the picture's
//! diagonal; OpenCV's k1 counts in focal lengths, so that k1 = k (f / R)² (OpenCV, "Camera Calibration and 3D
//! Reconstruction", the radial model).

use super::*;

struct Case {
    camera: Camera,
    wall_mm: Vec<[f64; 2]>,
    projected_px: Vec<[f64; 2]>,
    probes_px: Vec<[f64; 2]>,
    met_mm: Vec<[f64; 2]>,
}

fn cases() -> Vec<Case> {
    let golden: serde_json::Value = serde_json::from_str(include_str!("../../../tests/golden/lens.json")).unwrap();
    let [width_px, height_px]: [f64; 2] = serde_json::from_value(golden["size_px"].clone()).unwrap();
    let size = PictureSize { width_px, height_px };
    golden["cases"]
        .as_array()
        .unwrap()
        .iter()
        .map(|case| {
            let number = |key: &str| case[key].as_f64().unwrap();
            let list = |key: &str| -> Vec<f64> { serde_json::from_value(case[key].clone()).unwrap() };
            let points = |key: &str| -> Vec<[f64; 2]> { serde_json::from_value(case[key].clone()).unwrap() };
            let half_diagonal_px = 0.5 * size.diagonal_px();
            let k = number("k1") * (half_diagonal_px / number("focal_px")).powi(2);
            let mut parameters = list("turn_rad");
            parameters.extend(list("place_mm"));
            parameters.push(number("focal_px").ln());
            parameters.extend(list("axis_px"));
            parameters.push(k);
            assert_eq!(parameters.len(), CAMERA_PARAMETERS);
            Case {
                camera: Camera::of(&parameters, size),
                wall_mm: points("wall_mm"),
                projected_px: points("projected_px"),
                probes_px: points("probes_px"),
                met_mm: points("met_mm"),
            }
        })
        .collect()
}

fn largest_distance(found: impl Iterator<Item = [f64; 2]>, expected: &[[f64; 2]]) -> f64 {
    let distances: Vec<f64> = found
        .zip(expected)
        .map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]))
        .collect();
    assert!(distances.len() >= 12 && distances.len() == expected.len());
    distances.into_iter().fold(0.0, f64::max)
}

#[test]
fn places_on_the_wall_fall_on_opencvs_pixels() {
    let cases = cases();
    assert!(cases.len() >= 4);
    for case in cases {
        let found = case.wall_mm.iter().map(|&place| case.camera.project(place).unwrap());
        let worst_px = largest_distance(found, &case.projected_px);
        println!("k {:+.3}: {worst_px:.1e} px", case.camera.parameters[DISTORTION]);
        assert!(worst_px < 1e-8, "{worst_px} px");
    }
}

#[test]
fn pixels_meet_the_wall_where_opencv_undistorts_them_to() {
    for case in cases() {
        let found = case
            .probes_px
            .iter()
            .map(|&pixel| case.camera.projection().to_wall(pixel).unwrap());
        let worst_mm = largest_distance(found, &case.met_mm);
        println!("k {:+.3}: {worst_mm:.1e} mm", case.camera.parameters[DISTORTION]);
        // The probes reach into the corners of the picture, some of them metres beyond the marks.
        assert!(worst_mm < 1e-5, "{worst_mm} mm");
    }
}
