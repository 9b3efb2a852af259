//! The facts of a capture, from EXIF (JEITA CP-3451). Absent or broken EXIF is no error: the facts are then unknown.

use exif::{Exif, In, Tag, Value};
use serde::Serialize;
use std::io::Cursor;

/// What EXIF says about a photo; `None` where it says nothing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Capture {
    /// Local time of the capture, `YYYY-MM-DDThh:mm:ss`.
    pub taken: Option<String>,
    /// Offset of that time from UTC, `+hh:mm`.
    pub utc_offset: Option<String>,
    /// Exposure time, s.
    pub exposure_s: Option<f64>,
    /// Relative aperture (f-number).
    pub f_number: Option<f64>,
    /// ISO speed.
    pub iso: Option<u32>,
    /// Focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// Focal length as on a 36 mm × 24 mm frame, mm.
    pub focal_length_35mm_mm: Option<f64>,
    /// Maker and model of the camera.
    pub camera: Option<String>,
    /// Orientation of the stored picture, 1 to 8; 1 where unknown.
    #[serde(skip)]
    pub orientation: u8,
    /// The file holds unprocessed sensor data.
    #[serde(skip)]
    pub raw_sensor_data: bool,
}

impl Default for Capture {
    fn default() -> Self {
        Self {
            taken: None,
            utc_offset: None,
            exposure_s: None,
            f_number: None,
            iso: None,
            focal_length_mm: None,
            focal_length_35mm_mm: None,
            camera: None,
            orientation: 1,
            raw_sensor_data: false,
        }
    }
}

/// TIFF value of PhotometricInterpretation for a colour filter array (TIFF/EP, ISO 12234-2).
const PHOTOMETRIC_CFA: u32 = 32803;
/// TIFF tag that only raw files in the open digital-negative form carry: its version.
const TAG_RAW_VERSION: u16 = 0xC612;

impl Capture {
    /// Reads what EXIF there is in a file's bytes.
    #[must_use]
    pub fn from_file(bytes: &[u8]) -> Self {
        let mut reader = exif::Reader::new();
        // One broken field must not hide the others.
        reader.continue_on_error(true);
        match reader.read_from_container(&mut Cursor::new(bytes)) {
            Ok(exif) => Self::from_exif(&exif),
            Err(e) => e
                .distill_partial_result(|_| {})
                .map(|exif| Self::from_exif(&exif))
                .unwrap_or_default(),
        }
    }

    fn from_exif(exif: &Exif) -> Self {
        let field = |tag| exif.get_field(tag, In::PRIMARY);
        let number = |tag| field(tag).and_then(|f| f.value.get_uint(0));
        let rational = |tag| match field(tag).map(|f| &f.value) {
            Some(Value::Rational(values)) => values
                .first()
                .map(exif::Rational::to_f64)
                .filter(|v| v.is_finite() && *v > 0.0),
            _ => None,
        };
        let text = |tag| match field(tag).map(|f| &f.value) {
            Some(Value::Ascii(lines)) => lines
                .first()
                .map(|line| {
                    String::from_utf8_lossy(line)
                        .trim_matches(|c: char| c.is_whitespace() || c == '\0')
                        .to_owned()
                })
                .filter(|line| !line.is_empty()),
            _ => None,
        };
        let camera: Vec<String> = [Tag::Make, Tag::Model].into_iter().filter_map(text).collect();
        Self {
            taken: text(Tag::DateTimeOriginal)
                .or_else(|| text(Tag::DateTime))
                .and_then(|t| iso_time(&t)),
            utc_offset: text(Tag::OffsetTimeOriginal).or_else(|| text(Tag::OffsetTime)),
            exposure_s: rational(Tag::ExposureTime),
            f_number: rational(Tag::FNumber),
            iso: number(Tag::PhotographicSensitivity),
            focal_length_mm: rational(Tag::FocalLength),
            focal_length_35mm_mm: number(Tag::FocalLengthIn35mmFilm).filter(|&mm| mm > 0).map(f64::from),
            camera: (!camera.is_empty()).then(|| camera.join(" ")),
            orientation: number(Tag::Orientation)
                .and_then(|n| u8::try_from(n).ok())
                .filter(|n| (1..=8).contains(n))
                .unwrap_or(1),
            raw_sensor_data: number(Tag::PhotometricInterpretation) == Some(PHOTOMETRIC_CFA)
                || exif
                    .fields()
                    .any(|f| f.tag == Tag(exif::Context::Tiff, TAG_RAW_VERSION)),
        }
    }
}

/// `YYYY-MM-DDThh:mm:ss` from EXIF's `YYYY:MM:DD hh:mm:ss`; `None` for a clock that was never set.
fn iso_time(text: &str) -> Option<String> {
    let time = exif::DateTime::from_ascii(text.as_bytes()).ok()?;
    let possible = time.year > 0
        && (1..=12).contains(&time.month)
        && (1..=31).contains(&time.day)
        && time.hour < 24
        && time.minute < 60
        && time.second < 61;
    possible.then(|| {
        format!(
            "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}",
            time.year, time.month, time.day, time.hour, time.minute, time.second
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_become_iso_8601_and_unset_clocks_are_unknown() {
        assert_eq!(iso_time("2031:03:04 20:15:00").as_deref(), Some("2031-03-04T20:15:00"));
        assert_eq!(iso_time("0000:00:00 00:00:00"), None);
        assert_eq!(iso_time("    :  :     :  :  "), None);
    }

    #[test]
    fn no_exif_and_broken_exif_are_no_errors() {
        assert_eq!(Capture::from_file(b"no photo"), Capture::default());
        let broken = b"\xff\xd8\xff\xe1\x00\x10Exif\0\0MM\0*\0\0\0\x08\xff\xff\xff\xd9";
        assert_eq!(Capture::from_file(broken).orientation, 1);
    }
}
