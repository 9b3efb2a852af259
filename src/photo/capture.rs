//! The facts of a capture, from EXIF (JEITA CP-3451). Absent or broken EXIF is no error: the facts are then unknown.

use super::exif_fields::ExifFields;
use super::processing::{Processing, custom_rendered, is_strongly_compressed, outside_exif};
use exif::{Context, Tag};
use serde::{Deserialize, Serialize};

/// What EXIF says about a photo; `None` where it says nothing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Capture {
    /// Local time of the capture, `YYYY-MM-DDThh:mm:ss`.
    pub taken: Option<String>,
    /// What the camera's clock showed beyond the second in `taken`, s, from 0 to below 1; few cameras write it.
    pub subsecond_s: Option<f64>,
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
    /// Width and height of the upright picture, px; `None` until it is decoded.
    pub size_px: Option<[usize; 2]>,
    /// Width and height that the camera wrote, px, as EXIF has them, whichever way up.
    pub written_px: Option<[usize; 2]>,
    /// Orientation of the stored picture, 1 to 8; 1 where unknown.
    pub orientation: u8,
    /// The file holds unprocessed sensor data.
    pub raw_sensor_data: bool,
    /// The file says that a program drew the photo (`beamfall render` writes so).
    pub is_made: bool,
    /// Signs that the picture is not the camera's plain one; empty where the file shows none.
    pub processing: Vec<Processing>,
}

impl Default for Capture {
    fn default() -> Self {
        Self {
            taken: None,
            subsecond_s: None,
            utc_offset: None,
            exposure_s: None,
            f_number: None,
            iso: None,
            focal_length_mm: None,
            focal_length_35mm_mm: None,
            camera: None,
            size_px: None,
            written_px: None,
            orientation: 1,
            raw_sensor_data: false,
            is_made: false,
            processing: Vec::new(),
        }
    }
}

/// What made photos say of themselves (EXIF ImageDescription).
pub(crate) const MADE: &str = "Made photo: drawn by a program, not taken by a camera";
/// TIFF value of PhotometricInterpretation for a colour filter array (TIFF/EP, ISO 12234-2).
const PHOTOMETRIC_CFA: u32 = 32803;
/// TIFF tag that only raw files in the open digital-negative form carry: its version.
const TAG_RAW_VERSION: u16 = 0xC612;

impl Capture {
    /// Reads what EXIF there is in a file's bytes, and other signs of processing.
    #[must_use]
    pub fn from_file(bytes: &[u8]) -> Self {
        let exif = ExifFields::of_file(bytes);
        let mut capture = exif.as_ref().map(Self::from_exif).unwrap_or_default();
        let interoperability = exif.as_ref().and_then(|exif| exif.text(Tag::InteroperabilityIndex));
        capture
            .processing
            .extend(outside_exif(bytes, interoperability.as_deref()));
        let bare = capture.taken.is_none() && capture.exposure_s.is_none() && capture.camera.is_none();
        if is_strongly_compressed(bytes, bare) {
            capture.processing.push(Processing::Recoded);
        }
        capture
    }

    fn from_exif(exif: &ExifFields<'_>) -> Self {
        let (number, rational, text) = (|tag| exif.number(tag), |tag| exif.rational(tag), |tag| exif.text(tag));
        let (taken, subsecond) = match text(Tag::DateTimeOriginal) {
            Some(original) => (Some(original), text(Tag::SubSecTimeOriginal)),
            None => (text(Tag::DateTime), text(Tag::SubSecTime)),
        };
        let camera: Vec<String> = [Tag::Make, Tag::Model].into_iter().filter_map(text).collect();
        Self {
            taken: taken.and_then(|t| iso_time(&t)),
            subsecond_s: subsecond.and_then(|digits| subsecond_s(&digits)),
            utc_offset: text(Tag::OffsetTimeOriginal).or_else(|| text(Tag::OffsetTime)),
            exposure_s: rational(Tag::ExposureTime),
            f_number: rational(Tag::FNumber),
            iso: number(Tag::PhotographicSensitivity),
            focal_length_mm: rational(Tag::FocalLength),
            focal_length_35mm_mm: number(Tag::FocalLengthIn35mmFilm).filter(|&mm| mm > 0).map(f64::from),
            camera: (!camera.is_empty()).then(|| camera.join(" ")),
            size_px: None,
            written_px: written_px(number(Tag::PixelXDimension), number(Tag::PixelYDimension)),
            orientation: number(Tag::Orientation)
                .and_then(|n| u8::try_from(n).ok())
                .filter(|n| (1..=8).contains(n))
                .unwrap_or(1),
            raw_sensor_data: number(Tag::PhotometricInterpretation) == Some(PHOTOMETRIC_CFA)
                || exif.has(Tag(Context::Tiff, TAG_RAW_VERSION)),
            is_made: text(Tag::ImageDescription).is_some_and(|says| says == MADE),
            processing: number(Tag::CustomRendered)
                .and_then(custom_rendered)
                .into_iter()
                .collect(),
        }
    }
}

impl Capture {
    /// Time of the capture on the camera's own clock, s since 1970-01-01T00:00:00 on that clock (no offset from UTC is
    /// taken off); to the second, or finer where the camera writes it.
    #[must_use]
    pub fn clock_s(&self) -> Option<f64> {
        Some(clock_s(self.taken.as_deref()?)? as f64 + self.subsecond_s.unwrap_or(0.0))
    }

    /// Offset of the camera's clock from UTC, s, where EXIF tells it.
    #[must_use]
    pub fn utc_offset_s(&self) -> Option<f64> {
        let text = self.utc_offset.as_deref()?;
        if text == "Z" {
            return Some(0.0);
        }
        let (sign, rest) = match text.split_at_checked(1)? {
            ("+", rest) => (1.0, rest),
            ("-", rest) => (-1.0, rest),
            _ => return None,
        };
        let (hours, minutes) = rest.split_once(':')?;
        let (hours, minutes): (u8, u8) = (hours.parse().ok()?, minutes.parse().ok()?);
        (hours < 24 && minutes < 60).then(|| sign * (3600.0 * f64::from(hours) + 60.0 * f64::from(minutes)))
    }
}

fn written_px(width: Option<u32>, height: Option<u32>) -> Option<[usize; 2]> {
    let [width, height] = [usize::try_from(width?).ok()?, usize::try_from(height?).ok()?];
    (width > 0 && height > 0).then_some([width, height])
}

/// How much longer `lit` was exposed than `off`: time × ISO / f-number². `None` where EXIF does not tell for both.
pub(crate) fn exposure_ratio(lit: &Capture, off: &Capture) -> Option<f64> {
    let amount = |c: &Capture| Some(c.exposure_s? * f64::from(c.iso?) / c.f_number?.powi(2));
    let ratio = amount(lit)? / amount(off)?;
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

/// Seconds since 1970-01-01T00:00:00 of a time as [`iso_time`] writes it (POSIX.1, "seconds since the Epoch", formula
/// from memory).
fn clock_s(iso: &str) -> Option<i64> {
    const BEFORE_MONTH: [i64; 12] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
    let number = |range: std::ops::Range<usize>| iso.get(range)?.parse::<i64>().ok();
    let (year, month, day) = (number(0..4)?, number(5..7)?, number(8..10)?);
    let (hour, minute, second) = (number(11..13)?, number(14..16)?, number(17..19)?);
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let before_month = BEFORE_MONTH.get(usize::try_from(month).ok()?.checked_sub(1)?)?;
    let day_of_year = before_month + i64::from(is_leap && month > 2) + day - 1;
    let leap_days = |years: i64| years.div_euclid(4) - years.div_euclid(100) + years.div_euclid(400);
    let days = 365 * (year - 1970) + leap_days(year - 1) - leap_days(1969) + day_of_year;
    Some(((days * 24 + hour) * 60 + minute) * 60 + second)
}

/// EXIF's SubSecTime: the digits behind the decimal point of the second, as many as the camera has.
fn subsecond_s(digits: &str) -> Option<f64> {
    let is_fraction = digits.chars().all(|c| c.is_ascii_digit());
    is_fraction.then(|| format!("0.{digits}").parse().ok()).flatten()
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

    /// Unix times as GNU `date -u -d … +%s` gives them.
    #[test]
    fn clock_counts_the_seconds_across_leap_days() {
        for (iso, seconds) in [
            ("1970-01-01T00:00:00", 0),
            ("1999-12-31T23:59:59", 946_684_799),
            ("2000-02-29T12:00:00", 951_825_600),
            ("2000-03-01T00:00:00", 951_868_800),
            ("2031-03-04T20:15:00", 1_930_421_700),
            ("2100-03-01T00:00:00", 4_107_542_400),
        ] {
            assert_eq!(clock_s(iso), Some(seconds), "{iso}");
        }
        let capture = |subsecond_s, utc_offset: Option<&str>| Capture {
            taken: Some("1970-01-01T00:01:00".to_owned()),
            subsecond_s,
            utc_offset: utc_offset.map(str::to_owned),
            ..Capture::default()
        };
        assert_eq!(capture(subsecond_s("045"), None).clock_s(), Some(60.045));
        assert_eq!((subsecond_s("x"), subsecond_s("-1")), (None, None));
        for (text, seconds) in [
            ("+01:00", Some(3600.0)),
            ("-03:30", Some(-12_600.0)),
            ("Z", Some(0.0)),
            ("   :  ", None),
            ("é1:00", None),
        ] {
            assert_eq!(capture(None, Some(text)).utc_offset_s(), seconds, "{text}");
        }
        assert_eq!(Capture::default().clock_s(), None);
    }

    #[test]
    fn no_exif_and_broken_exif_are_no_errors() {
        assert_eq!(Capture::from_file(b"no photo"), Capture::default());
        let broken = b"\xff\xd8\xff\xe1\x00\x10Exif\0\0MM\0*\0\0\0\x08\xff\xff\xff\xd9";
        assert_eq!(Capture::from_file(broken).orientation, 1);
    }

    #[test]
    fn exposure_ratio_is_time_times_speed_over_aperture_squared() {
        let capture = |exposure_s, iso, f_number| Capture {
            exposure_s: Some(exposure_s),
            iso: Some(iso),
            f_number: Some(f_number),
            ..Capture::default()
        };
        let ratio = exposure_ratio(&capture(0.1, 200, 2.0), &capture(0.05, 100, 4.0)).unwrap();
        assert!((ratio - 16.0).abs() < 1e-9, "{ratio}");
        assert_eq!(exposure_ratio(&capture(0.1, 200, 2.0), &Capture::default()), None);
    }
}
