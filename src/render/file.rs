//! From picture to file: JPEG with EXIF, and the truth beside it.

use super::scene::{ExifText, Exposure};
use super::{NoTruth, Picture, Truth};
use crate::error::Error;
use crate::photo::MADE;
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder};

/// What the photo says of itself, in the EXIF fields for it.
pub(super) const MADE_BY: &str = concat!("beamfall ", env!("CARGO_PKG_VERSION"), " render");
const MADE_PHOTO: &str = "the made photo";

/// The picture as a JPEG file with EXIF data, its pixels stored as the orientation says.
pub(super) fn jpeg(
    picture: &Picture,
    exif: &ExifText,
    exposure: &Exposure,
    focal_35mm: f64,
    full_scale_lx: f64,
) -> Result<Vec<u8>, Error> {
    let (width, height, rgb) = stored(picture, exif.orientation);
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, exposure.jpeg_quality);
    let exif = exif_bytes(exif, exposure, focal_35mm, full_scale_lx).map_err(|e| Error::make("EXIF data", e))?;
    encoder
        .set_exif_metadata(exif)
        .map_err(|e| Error::make("EXIF data", e))?;
    let side = |px: usize| u32::try_from(px).map_err(|e| Error::make(MADE_PHOTO, e));
    encoder
        .write_image(&rgb, side(width)?, side(height)?, ExtendedColorType::Rgb8)
        .map_err(|e| Error::make(MADE_PHOTO, e))?;
    Ok(bytes)
}

/// The pixels turned so that a viewer which follows the EXIF orientation shows them upright: width, height, RGB.
fn stored(picture: &Picture, orientation: u8) -> (usize, usize, std::borrow::Cow<'_, [u8]>) {
    let (width, height) = (picture.width, picture.height);
    let turned = |columns: usize, rows: usize, upright: &dyn Fn(usize, usize) -> (usize, usize)| {
        let mut rgb = Vec::with_capacity(picture.rgb.len());
        for row in 0..rows {
            for column in 0..columns {
                let (x, y) = upright(row, column);
                let at = 3 * (y * width + x);
                rgb.extend_from_slice(&picture.rgb[at..at + 3]);
            }
        }
        (columns, rows, rgb.into())
    };
    // Exif 2.3, Orientation: which visual side the stored row 0 and column 0 are.
    match orientation {
        // Row 0 is the bottom, column 0 the right-hand side.
        3 => turned(width, height, &|row, column| (width - 1 - column, height - 1 - row)),
        // Row 0 is the right-hand side, column 0 the top.
        6 => turned(height, width, &|row, column| (width - 1 - row, column)),
        // Row 0 is the left-hand side, column 0 the bottom.
        8 => turned(height, width, &|row, column| (row, height - 1 - column)),
        _ => (width, height, picture.rgb.as_slice().into()),
    }
}

/// Exposure time, s, at which the sensor just saturates: 78/S lx·s (ISO 12232, saturation-based speed), with
/// E = π·L/(4·N²) in the picture's plane and L = E/π from a perfect diffuser (both from memory).
fn exposure_time_s(iso: u16, f_number: f64, full_scale_lx: f64) -> f64 {
    78.0 / f64::from(iso) * 4.0 * f_number * f_number / full_scale_lx
}

fn exif_bytes(
    text: &ExifText,
    exposure: &Exposure,
    focal_35mm: f64,
    full_scale_lx: f64,
) -> Result<Vec<u8>, exif::Error> {
    let ascii = |text: &str| Value::Ascii(vec![text.as_bytes().to_vec()]);
    let ratio = |value: f64, denom: u32| {
        let num = (value * f64::from(denom)).round().clamp(0.0, f64::from(u32::MAX)) as u32;
        Value::Rational(vec![Rational { num, denom }])
    };
    let taken = text.taken.replace('-', ":").replace('T', " ");
    let time_s = exposure_time_s(exposure.iso, exposure.f_number, full_scale_lx);
    // A small sensor, its diagonal a sixth of the full frame's.
    let focal_mm = focal_35mm / 6.0;
    let fields: Vec<Field> = [
        (Tag::ImageDescription, ascii(MADE)),
        (Tag::Make, ascii(&text.make)),
        (Tag::Model, ascii(&text.model)),
        (Tag::Orientation, Value::Short(vec![u16::from(text.orientation)])),
        (Tag::Software, ascii(MADE_BY)),
        (Tag::DateTime, ascii(&taken)),
        (Tag::ExifVersion, Value::Undefined(b"0231".to_vec(), 0)),
        (Tag::DateTimeOriginal, ascii(&taken)),
        (Tag::OffsetTimeOriginal, ascii(&text.offset)),
        (Tag::ExposureTime, ratio(time_s, 1_000_000)),
        (Tag::FNumber, ratio(exposure.f_number, 100)),
        (Tag::PhotographicSensitivity, Value::Short(vec![exposure.iso])),
        (Tag::FocalLength, ratio(focal_mm, 1_000)),
        (
            Tag::FocalLengthIn35mmFilm,
            Value::Short(vec![focal_35mm.round() as u16]),
        ),
        (Tag::ColorSpace, Value::Short(vec![1])),
    ]
    .into_iter()
    .map(|(tag, value)| Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    })
    .collect();
    let mut writer = Writer::new();
    for field in &fields {
        writer.push_field(field);
    }
    let mut bytes = std::io::Cursor::new(Vec::new());
    writer.write(&mut bytes, false)?;
    Ok(bytes.into_inner())
}

/// What is written beside the photos of a scene.
#[derive(serde::Serialize)]
pub(super) struct TruthFile<'a> {
    pub schema: u32,
    pub program: &'a str,
    /// All photos of the scene, those with the lamps off too.
    pub photos: Vec<&'a str>,
    pub truth: &'a [Truth],
    /// Lit lamps without a reading.
    pub no_truth: &'a [NoTruth],
}
