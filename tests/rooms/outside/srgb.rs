//! The sRGB curve, IEC 61966-2-1:1999, against colour-science (`tests/golden/make_srgb_golden.py`).

use super::golden;
use crate::photo::{linear_from_srgb, srgb_from_linear};

fn values(key: &str) -> Vec<f64> {
    serde_json::from_value(golden("srgb.json")[key].clone()).unwrap()
}

#[test]
fn all_256_codes_are_linear_light_as_colour_science_has_it() {
    let expected = values("linear_of_code");
    assert_eq!(expected.len(), 256);
    for (code, expected) in expected.into_iter().enumerate() {
        let ours = linear_from_srgb(code as f64 / 255.0);
        assert!(
            (ours - expected).abs() < 1e-14,
            "code {code}: {ours} against {expected}"
        );
    }
}

#[test]
fn linear_light_is_the_code_that_colour_science_has() {
    for (linear, expected) in values("linear").into_iter().zip(values("code_of_linear")) {
        let ours = srgb_from_linear(linear);
        assert!((ours - expected).abs() < 1e-14, "{linear}: {ours} against {expected}");
    }
}

/// A photo's luminance of plain grey patches is that of the table too: decoding and the curve together.
#[test]
fn a_grey_photo_has_the_luminance_of_its_codes() {
    let expected = values("linear_of_code");
    let picture = image::GrayImage::from_fn(512, 256, |x, _| image::Luma([(x / 2) as u8]));
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    let photo = crate::photo::Photo::decode(png.get_ref()).unwrap();
    for (code, expected) in expected.into_iter().enumerate() {
        let ours = f64::from(photo.pixels.light(2 * code, 100));
        assert!((ours - expected).abs() < 1e-6, "code {code}: {ours} against {expected}");
    }
}
