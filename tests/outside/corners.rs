//! Corners of the marks on a picture drawn by OpenCV (`tests/golden/make_marks_golden.py`), against where they were
//! drawn, and against OpenCV's own detector with its corners refined: as it comes, and with the coding (sRGB or linear
//! light) and the window that serve each mark best.

use super::golden;
use beamfall::photo::{Luminance, linear_from_srgb};
use beamfall::wall::find_marks;

fn errors(corners_px: &[[f64; 2]; 4], drawn_px: &[[f64; 2]; 4]) -> Vec<f64> {
    corners_px
        .iter()
        .flatten()
        .zip(drawn_px.iter().flatten())
        .map(|(a, b)| a - b)
        .collect()
}

fn rms(values: &[f64]) -> f64 {
    (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt()
}

#[test]
fn corners_are_no_worse_than_opencvs_own() {
    let picture = image::load_from_memory(include_bytes!("../golden/marks.png"))
        .unwrap()
        .to_luma8();
    let luminance = Luminance {
        width_px: picture.width() as usize,
        height_px: picture.height() as usize,
        values: picture
            .pixels()
            .map(|pixel| linear_from_srgb(f64::from(pixel.0[0]) / 255.0) as f32)
            .collect(),
    };
    let golden = golden("marks.json");
    let marks = golden["marks"].as_array().unwrap();
    let wanted: Vec<u32> = marks.iter().map(|m| m["id"].as_u64().unwrap() as u32).collect();
    assert!(wanted.len() >= 3);
    let found = find_marks(&luminance, &wanted);
    assert_eq!(found.iter().map(|m| m.id).collect::<Vec<_>>(), wanted);
    for (mark, golden) in found.iter().zip(marks) {
        let corners = |key: &str| -> [[f64; 2]; 4] { serde_json::from_value(golden[key].clone()).unwrap() };
        let drawn_px = corners("drawn_px");
        let (ours, opencv) = (
            rms(&errors(&mark.corners_px, &drawn_px)),
            rms(&errors(&corners("opencv_px"), &drawn_px)),
        );
        println!("mark {}: {ours:.3} px rms, OpenCV {opencv:.3} px rms", mark.id);
        assert!(
            ours <= opencv,
            "mark {}: {ours} px rms, OpenCV {opencv} px rms",
            mark.id
        );
        // The names of the corners too: OpenCV's picture of the tag is upright here. Half a turn would miss by a side.
        assert!(ours < 0.06, "mark {}: {ours} px rms", mark.id);
    }
}
