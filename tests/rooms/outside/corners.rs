//! Corners of the marks on a picture drawn by OpenCV (`tests/golden/make_marks_golden.py`), against where they were
//! drawn, and against OpenCV's own detector with its corners refined: as it comes, and with the coding (sRGB or linear
//! light) and the window that serve each mark best.

use super::golden;
use crate::photo::{Luminance, linear_from_srgb};
use crate::wall::find_marks;

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
    let picture = image::load_from_memory(include_bytes!("../../golden/marks.png"))
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
        // OpenCV refines on code values, where a blurred black square looks smaller: its corners sit inside the drawn
        // ones. That cancels in the tag's centre, so there the two must agree closely.
        let apart_px = errors(&mark.corners_px, &corners("opencv_px"));
        assert!(apart_px.iter().all(|v| v.abs() < 1.0), "mark {}: {apart_px:?}", mark.id);
        for axis in [0, 1] {
            let centre_px = apart_px.iter().skip(axis).step_by(2).sum::<f64>() / 4.0;
            assert!(centre_px.abs() < 0.12, "mark {}: centres {centre_px} px apart", mark.id);
        }
        // The names of the corners too: OpenCV's picture of the tag is upright here. Half a turn would miss by a side.
        assert!(ours < 0.06, "mark {}: {ours} px rms", mark.id);
    }
}
