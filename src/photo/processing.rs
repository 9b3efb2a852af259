//! Signs in a file that its picture is not a camera's plain one: merged or tone-mapped, or coded with another curve than
//! sRGB's. The light read from such a picture is wrong, and no pixel need show it.
//!
//! What is looked at: EXIF CustomRendered, a gain map announced in XMP or in an ISO 21496-1 segment, and the tone curve of
//! the ICC profile or, without one, of the colour space that EXIF names. Colours are not looked at: a profile with wider primaries and the sRGB curve reads the same white light
//! the same way. Programs that a file names are not looked at either, since a copy made by one can be as plain as what it
//! was made from. A file without a sign can still have been processed.

use super::srgb::linear_from_srgb;
use crate::language::{Language, said};
use image::ImageDecoder;
use serde::{Deserialize, Serialize};
use std::io::Cursor;

/// What was done to a picture.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub enum Processing {
    /// Several exposures were merged into it.
    MergedExposures,
    /// A gain map beside it says how a brighter rendering differs: it is itself tone-mapped.
    GainMap,
    /// It was joined from several photos.
    Panorama,
    /// It was blurred to look like a photo with a wide aperture.
    SyntheticBlur,
    /// EXIF says that it was specially processed, with this value.
    Custom(u32),
    /// Its code values stand for light by another curve than sRGB's; `light` is what it gives for half of full code, where
    /// sRGB has 0.214.
    ToneCurve {
        /// Linear light, 0 to 1.
        light: f64,
    },
    /// Its code values stand for light by a curve of high dynamic range, or by tables that this program does not read.
    UnreadCurve,
    /// It was coded anew, as a messenger or a program does: it is compressed more than any camera does, or as strongly as
    /// messengers do and has nothing of a camera's data.
    Recoded,
}

impl Processing {
    /// What was done, what that may do to the figure, and how to mend it.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        let (wrong, plainly) = match language {
            Language::English => (
                "so its light, and the figure with it, may be wrong",
                "switch HDR, night mode and effects off (a manual mode often does), and take it again as plain JPEG",
            ),
            Language::German => (
                "sein Licht und damit der Messwert können also falsch sein",
                "HDR, Nachtmodus und Effekte ausschalten (ein manueller Modus tut das oft) und es als einfaches JPEG neu aufnehmen",
            ),
        };
        match self {
            Self::MergedExposures => said!(
                language;
                "the file says that the camera merged several exposures (HDR) and tone-mapped them, {wrong}; {plainly}",
                "laut Datei hat die Kamera mehrere Belichtungen zusammengerechnet (HDR) und ihre Tonwerte angepasst, {wrong}; \
                 {plainly}"
            ),
            Self::GainMap => said!(
                language;
                "the file carries an HDR gain map: the camera tone-mapped the picture, {wrong}; {plainly}",
                "die Datei trägt eine HDR-Verstärkungskarte (Gain Map): die Kamera hat die Tonwerte angepasst, {wrong}; \
                 {plainly}"
            ),
            Self::Panorama => said!(
                language;
                "the file says that it was joined from several photos (panorama), {wrong}; take one plain photo",
                "laut Datei wurde es aus mehreren Fotos zusammengesetzt (Panorama), {wrong}; ein einfaches Foto aufnehmen"
            ),
            Self::SyntheticBlur => said!(
                language;
                "the file says that the camera blurred parts of the picture (portrait effect), {wrong}; {plainly}",
                "laut Datei hat die Kamera Teile des Bildes weichgezeichnet (Porträteffekt), {wrong}; {plainly}"
            ),
            Self::Custom(value) => said!(
                language;
                "the file says that the camera processed the picture specially (CustomRendered {value}), {wrong}; {plainly}",
                "laut Datei hat die Kamera das Bild besonders verarbeitet (CustomRendered {value}), {wrong}; {plainly}"
            ),
            Self::ToneCurve { light } => said!(
                language;
                "the file's colour space has another tone curve than sRGB (half code is {light} of full light, not 0.214), \
                 {wrong}; set the camera to sRGB, or convert a copy of the original to sRGB",
                "der Farbraum der Datei hat eine andere Tonwertkurve als sRGB (halber Code ist {light} des vollen Lichts, \
                 nicht 0,214), {wrong}; die Kamera auf sRGB stellen oder eine Kopie des Originals in sRGB umwandeln";
                light = language.decimal(*light, 3)
            ),
            Self::Recoded => said!(
                language;
                "the file is compressed more strongly than a camera does, as a messenger or a program saves photos: fine detail is gone, black \
                 and white of the sheets may no longer keep one ratio, and the ± is larger for it; hand over the original file",
                "die Datei ist stärker komprimiert, als eine Kamera es tut, wie ein Nachrichtendienst oder ein Programm Fotos speichert: feine \
                 Einzelheiten fehlen, Schwarz und Weiß der Messblätter halten womöglich kein festes Verhältnis mehr, und das ± ist dadurch \
                 größer; die Originaldatei verwenden"
            ),
            Self::UnreadCurve => said!(
                language;
                "the file's colour profile has no tone curve that can be compared with sRGB's, {wrong}; set the camera to sRGB, \
                 without HDR",
                "das Farbprofil der Datei hat keine Tonwertkurve, die sich mit der von sRGB vergleichen lässt, {wrong}; die \
                 Kamera auf sRGB stellen, ohne HDR"
            ),
        }
    }
}

/// What EXIF CustomRendered (0xA401) says: 0 is normal, 1 custom (JEITA CP-3451). Some phones write more; the meaning of 2
/// to 9 is as a phone platform's programming reference names them (a list of the names, read on 2026-11-25). 4 and 9 are
/// the plain photo that is kept beside a processed one.
pub(super) fn custom_rendered(value: u32) -> Option<Processing> {
    match value {
        0 | 4 | 9 => None,
        2 | 3 => Some(Processing::MergedExposures),
        6 => Some(Processing::Panorama),
        7 | 8 => Some(Processing::SyntheticBlur),
        other => Some(Processing::Custom(other)),
    }
}

/// What EXIF's interoperability index says where the camera was set to the optional colour space of DCF (from memory).
const OPTIONAL_COLOUR_SPACE: &str = "R03";
/// The gamma of that colour space (from memory).
const OPTIONAL_GAMMA: f64 = 563.0 / 256.0;

/// What a file shows outside of EXIF, and what EXIF's `interoperability` index says where there is no ICC profile. A
/// broken file shows nothing here; decoding it will tell.
pub(super) fn outside_exif(bytes: &[u8], interoperability: Option<&str>) -> Vec<Processing> {
    let mut found = Vec::new();
    let decoder = image::ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .ok()
        .and_then(|reader| reader.into_decoder().ok());
    let (mut xmp, mut icc) = (None, None);
    if let Some(mut decoder) = decoder {
        xmp = decoder.xmp_metadata().ok().flatten();
        icc = decoder.icc_profile().ok().flatten();
    }
    if xmp.is_some_and(|xmp| announces_gain_map(&xmp)) || has_gain_map_segment(bytes) {
        found.push(Processing::GainMap);
    }
    match icc {
        Some(profile) => found.extend(curve_of(&profile)),
        None if interoperability == Some(OPTIONAL_COLOUR_SPACE) => found.push(Processing::ToneCurve {
            light: 0.5f64.powf(OPTIONAL_GAMMA),
        }),
        None => {}
    }
    found
}

/// From this mean step of a JPEG's brightness on it was compressed more than cameras do: the tables of ITU-T T.81, K.1, scaled to a quality
/// of 80 of 100 come to 23, and messengers use 70 to 80 (common practice, no source).
const STRONG_STEP: f64 = 20.0;
/// From this one on whatever else the file has: a quality of 60 of 100 comes to 46, and cameras' coarsest are about 75 (common
/// practice, no source).
const STRONGEST_OF_CAMERAS: f64 = 45.0;

/// Whether a JPEG is compressed as messengers and programs do, and no camera: by the mean step of its first quantisation table
/// (ITU-T T.81, B.2.4.1). `is_bare`: it has nothing of a camera's data.
pub(super) fn is_strongly_compressed(bytes: &[u8], is_bare: bool) -> bool {
    const QUANTISATION: u8 = 0xDB;
    let Some((_, table)) = segments(bytes).find(|(marker, _)| *marker == QUANTISATION) else {
        return false;
    };
    let wide = table.first().is_some_and(|kind| kind >> 4 == 1);
    let length = if wide { 128 } else { 64 };
    let Some(steps) = table.get(1..1 + length) else {
        return false;
    };
    let sum: u32 = if wide {
        steps
            .chunks_exact(2)
            .map(|step| u32::from(step[0]) << 8 | u32::from(step[1]))
            .sum()
    } else {
        steps.iter().map(|&step| u32::from(step)).sum()
    };
    let least = if is_bare { STRONG_STEP } else { STRONGEST_OF_CAMERAS };
    f64::from(sum) / 64.0 >= least
}

/// A JPEG's segments before its picture data: the marker of each, and the file from its content on. None of another file.
fn segments(bytes: &[u8]) -> impl Iterator<Item = (u8, &[u8])> {
    const START_OF_SCAN: u8 = 0xDA;
    let mut at = if bytes.starts_with(&[0xFF, 0xD8]) {
        2
    } else {
        bytes.len()
    };
    std::iter::from_fn(move || {
        let &[0xFF, marker, high, low] = bytes.get(at..at + 4)? else {
            return None;
        };
        let content = &bytes[at + 4..];
        at += 2 + (usize::from(high) << 8 | usize::from(low));
        (marker != START_OF_SCAN).then_some((marker, content))
    })
}

/// Whether XMP speaks of a gain map, as the open namespace <http://ns.adobe.com/hdr-gain-map/1.0/> does, or another one
/// with a name of its own.
pub(super) fn announces_gain_map(xmp: &[u8]) -> bool {
    let text = String::from_utf8_lossy(xmp).to_lowercase();
    ["hdr-gain-map", "hdrgainmap", "gainmap"]
        .iter()
        .any(|sign| text.contains(sign))
}

/// Name at the head of a JPEG's APP2 segment with ISO 21496-1 data (read in the notes of an open-source codec,
/// 2026-11-25; the standard itself was not read).
const GAIN_MAP_NAME: &[u8] = b"urn:iso:std:iso:ts:21496:-1\0";

/// Whether a JPEG has a segment that announces a gain map by ISO 21496-1, before its picture data.
fn has_gain_map_segment(bytes: &[u8]) -> bool {
    const APP2: u8 = 0xE2;
    segments(bytes).any(|(marker, content)| marker == APP2 && content.starts_with(GAIN_MAP_NAME))
}

/// Where the curve is compared: below a tenth of full code light is lost in noise and stray light (common practice, no
/// source).
const LEAST_CODE: f64 = 0.1;
/// A curve within this share of sRGB's light at every code is sRGB's: tables of few entries are off by less (common
/// practice, no source), and a gamma of 2.2 by a third.
const CURVE_SHARE: f64 = 0.03;

/// What is wrong with the tone curve of an ICC profile (ICC.1, tag table, curveType and parametricCurveType: from memory);
/// `None` where it is sRGB's in every channel.
fn curve_of(profile: &[u8]) -> Option<Processing> {
    /// H.273 transfer characteristics for high dynamic range: perceptual quantiser and hybrid log-gamma (from memory).
    const HIGH_RANGE: [u8; 2] = [16, 18];
    if tag(profile, b"cicp").is_some_and(|data| data.get(9).is_some_and(|transfer| HIGH_RANGE.contains(transfer))) {
        return Some(Processing::UnreadCurve);
    }
    let of_colour: Vec<&[u8]> = [b"rTRC", b"gTRC", b"bTRC"]
        .into_iter()
        .filter_map(|t| tag(profile, t))
        .collect();
    let curves = match (of_colour.len(), tag(profile, b"kTRC")) {
        (3, _) => of_colour,
        (_, Some(grey)) => vec![grey],
        _ => return Some(Processing::UnreadCurve),
    };
    for curve in curves {
        let Some(half) = light_of(curve, 0.5) else {
            return Some(Processing::UnreadCurve);
        };
        let steps = 18;
        let differs = (0..=steps).any(|n| {
            let code = LEAST_CODE + (1.0 - LEAST_CODE) * f64::from(n) / f64::from(steps);
            let srgb = linear_from_srgb(code);
            light_of(curve, code).is_none_or(|light| (light / srgb - 1.0).abs() > CURVE_SHARE)
        });
        if differs {
            return Some(Processing::ToneCurve { light: half });
        }
    }
    None
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(bytes.get(at..at.checked_add(4)?)?.try_into().ok()?))
}

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(bytes.get(at..at.checked_add(2)?)?.try_into().ok()?))
}

/// The data of a tag: behind a header of 128 bytes stand the number of tags and, for each, its name, place and length.
fn tag<'a>(profile: &'a [u8], name: &[u8; 4]) -> Option<&'a [u8]> {
    // More tags than any profile has would only cost time.
    let count = (u32_at(profile, 128)? as usize).min(200);
    let entry = (0..count)
        .map(|n| 132 + 12 * n)
        .find(|&at| profile.get(at..at + 4) == Some(name))?;
    let (start, length) = (
        u32_at(profile, entry + 4)? as usize,
        u32_at(profile, entry + 8)? as usize,
    );
    profile.get(start..start.checked_add(length)?)
}

/// Linear light, 0 to 1, that a curve gives for a code, 0 to 1; `None` for what is no curve.
fn light_of(curve: &[u8], code: f64) -> Option<f64> {
    let light = match curve.get(..4)? {
        b"curv" => match u32_at(curve, 8)? as usize {
            0 => code,
            // A gamma as u8Fixed8Number.
            1 => code.powf(f64::from(u16_at(curve, 12)?) / 256.0),
            count => {
                let place = code * (count - 1) as f64;
                let below = (place.floor() as usize).min(count - 2);
                let entry = |n: usize| Some(f64::from(u16_at(curve, 12 + 2 * n)?) / 65_535.0);
                let (low, high) = (entry(below)?, entry(below + 1)?);
                low + (high - low) * (place - below as f64)
            }
        },
        b"para" => {
            // Parameters as s15Fixed16Number.
            let p = |n: usize| Some(f64::from(u32_at(curve, 12 + 4 * n)?.cast_signed()) / 65_536.0);
            let gamma = p(0)?;
            match u16_at(curve, 8)? {
                0 => code.powf(gamma),
                1 | 2 => {
                    let (a, b) = (p(1)?, p(2)?);
                    let c = if u16_at(curve, 8)? == 2 { p(3)? } else { 0.0 };
                    (a * code + b).max(0.0).powf(gamma) + c
                }
                kind @ (3 | 4) => {
                    let (a, b, c, d) = (p(1)?, p(2)?, p(3)?, p(4)?);
                    let (e, f) = if kind == 4 { (p(5)?, p(6)?) } else { (0.0, 0.0) };
                    if code >= d {
                        (a * code + b).powf(gamma) + e
                    } else {
                        c * code + f
                    }
                }
                _ => return None,
            }
        }
        _ => return None,
    };
    light.is_finite().then_some(light)
}

#[cfg(test)]
mod tests {
    use super::super::Capture;
    use super::*;
    use exif::experimental::Writer;
    use exif::{Field, In, Tag, Value};
    use image::codecs::jpeg::JpegEncoder;
    use image::codecs::png::PngEncoder;
    use image::{ExtendedColorType, ImageEncoder};

    /// A profile whose channels share one curve, as displays' do.
    fn profile(tags: &[&[u8; 4]], data: &[u8]) -> Vec<u8> {
        let mut bytes = vec![0u8; 128];
        bytes.extend((tags.len() as u32).to_be_bytes());
        let start = 132 + 12 * tags.len();
        for name in tags {
            bytes.extend(*name);
            bytes.extend((start as u32).to_be_bytes());
            bytes.extend((data.len() as u32).to_be_bytes());
        }
        bytes.extend(data);
        bytes
    }

    fn rgb(data: &[u8]) -> Vec<u8> {
        profile(&[b"rXYZ", b"rTRC", b"gTRC", b"bTRC"], data)
    }

    fn parametric(kind: u16, parameters: &[f64]) -> Vec<u8> {
        let mut data = b"para\0\0\0\0".to_vec();
        data.extend(kind.to_be_bytes());
        data.extend([0, 0]);
        for value in parameters {
            data.extend(((value * 65_536.0).round() as i32).to_be_bytes());
        }
        data
    }

    fn table(light: impl Fn(f64) -> f64, count: u32) -> Vec<u8> {
        let mut data = b"curv\0\0\0\0".to_vec();
        data.extend(count.to_be_bytes());
        for n in 0..count {
            let code = f64::from(n) / f64::from(count - 1);
            data.extend(((65_535.0 * light(code)).round() as u16).to_be_bytes());
        }
        data
    }

    /// IEC 61966-2-1 in the form of ICC.1: exponent 2.4, 1/1.055, 0.055/1.055, 1/12.92, and the joint at 0.04045.
    const SRGB: [f64; 5] = [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.040_45];

    #[test]
    fn the_srgb_curve_in_each_of_its_forms_is_no_sign() {
        let with_zeros = [&SRGB[..], &[0.0, 0.0]].concat();
        for (what, data) in [
            ("parametric", parametric(3, &SRGB)),
            ("parametric with offsets", parametric(4, &with_zeros)),
            ("table of 1024", table(linear_from_srgb, 1024)),
            ("table of 64", table(linear_from_srgb, 64)),
        ] {
            assert_eq!(curve_of(&rgb(&data)), None, "{what}");
            assert_eq!(curve_of(&profile(&[b"kTRC"], &data)), None, "{what}, grey");
        }
    }

    #[test]
    fn other_curves_are_told_with_their_light_at_half_code() {
        let gamma = |value: f64| {
            let mut data = b"curv\0\0\0\0\0\0\0\x01".to_vec();
            data.extend(((value * 256.0).round() as u16).to_be_bytes());
            data
        };
        // ITU-R BT.709: L = ((V + 0.099)/1.099)^(1/0.45) from V = 0.081 up (from memory).
        let film = parametric(3, &[1.0 / 0.45, 1.0 / 1.099, 0.099 / 1.099, 1.0 / 4.5, 0.081]);
        let film_at_half = ((0.5f64 + 0.099) / 1.099).powf(1.0 / 0.45);
        for (what, data, at_half) in [
            ("gamma 2.2", gamma(563.0 / 256.0), 0.5f64.powf(563.0 / 256.0)),
            ("gamma 1.8, parametric", parametric(0, &[1.8]), 0.5f64.powf(1.8)),
            ("linear", b"curv\0\0\0\0\0\0\0\0".to_vec(), 0.5),
            ("film", film, film_at_half),
            ("shifted", parametric(1, &[2.0, 0.9, 0.1]), 0.55f64.powi(2)),
            ("lifted", parametric(2, &[2.0, 0.8, 0.0, 0.2]), 0.36),
            ("table", table(|code| code * code, 256), 0.25),
        ] {
            match curve_of(&rgb(&data)) {
                Some(Processing::ToneCurve { light }) => assert!((light - at_half).abs() < 1e-4, "{what}: {light}"),
                other => panic!("{what}: {other:?}"),
            }
        }
    }

    #[test]
    fn profiles_that_cannot_be_compared_say_so_and_broken_ones_do_no_harm() {
        let good = rgb(&parametric(3, &SRGB));
        let high_range = profile(&[b"cicp", b"rTRC", b"gTRC", b"bTRC"], b"cicp\0\0\0\0\x09\x10\0\x01");
        for bytes in [
            profile(&[b"A2B0"], b"mAB "),
            profile(&[b"rTRC"], &parametric(3, &SRGB)),
            rgb(&parametric(9, &SRGB)),
            rgb(b"curv\0\0\0\0\xff\xff\xff\xff"),
            rgb(b"text"),
            high_range,
        ] {
            assert_eq!(curve_of(&bytes), Some(Processing::UnreadCurve));
        }
        for length in 0..good.len() {
            assert_eq!(
                curve_of(&good[..length]),
                Some(Processing::UnreadCurve),
                "cut at {length}"
            );
        }
    }

    fn exif(tag: Tag, value: Value) -> Vec<u8> {
        let field = Field {
            tag,
            ifd_num: In::PRIMARY,
            value,
        };
        let mut writer = Writer::new();
        writer.push_field(&field);
        let mut bytes = Cursor::new(Vec::new());
        writer.write(&mut bytes, false).unwrap();
        bytes.into_inner()
    }

    fn jpeg(custom_rendered: u16, icc: Option<Vec<u8>>) -> Vec<u8> {
        jpeg_of(exif(Tag::CustomRendered, Value::Short(vec![custom_rendered])), icc)
    }

    fn jpeg_of(exif: Vec<u8>, icc: Option<Vec<u8>>) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = JpegEncoder::new_with_quality(&mut bytes, 90);
        encoder.set_exif_metadata(exif).unwrap();
        if let Some(icc) = icc {
            encoder.set_icc_profile(icc).unwrap();
        }
        encoder
            .write_image(&[90; 16 * 16 * 3], 16, 16, ExtendedColorType::Rgb8)
            .unwrap();
        bytes
    }

    /// A JPEG with one more segment behind its first marker.
    fn with_segment(jpeg: &[u8], marker: u8, data: &[u8]) -> Vec<u8> {
        let length = u16::try_from(data.len() + 2).unwrap().to_be_bytes();
        [&jpeg[..2], &[0xFF, marker], &length, data, &jpeg[2..]].concat()
    }

    fn signs(bytes: &[u8]) -> Vec<Processing> {
        Capture::from_file(bytes).processing
    }

    #[test]
    fn plain_files_show_no_sign() {
        let srgb = rgb(&parametric(3, &SRGB));
        for value in [0, 4, 9] {
            assert_eq!(signs(&jpeg(value, Some(srgb.clone()))), [], "CustomRendered {value}");
        }
        let other_xmp = b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta><rdf:Description xmp:Rating=\"3\"/></x:xmpmeta>";
        assert_eq!(signs(&with_segment(&jpeg(0, None), 0xE1, other_xmp)), []);
        // In the picture's own data the name means nothing.
        let behind = [&jpeg(0, None)[..], GAIN_MAP_NAME].concat();
        assert_eq!(signs(&behind), []);
        assert_eq!(signs(b"no photo"), []);
    }

    #[test]
    fn signs_are_found_in_whole_files() {
        let plain = jpeg(0, None);
        for (value, sign) in [
            (1, Processing::Custom(1)),
            (2, Processing::MergedExposures),
            (3, Processing::MergedExposures),
            (6, Processing::Panorama),
            (8, Processing::SyntheticBlur),
        ] {
            assert_eq!(signs(&jpeg(value, None)), [sign]);
        }
        let xmp = b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta xmlns:hdrgm=\"http://ns.adobe.com/hdr-gain-map/1.0/\" \
                    hdrgm:Version=\"1.0\"></x:xmpmeta>";
        assert_eq!(signs(&with_segment(&plain, 0xE1, xmp)), [Processing::GainMap]);
        let iso = [GAIN_MAP_NAME, &[0, 0, 0, 0]].concat();
        assert_eq!(signs(&with_segment(&plain, 0xE2, &iso)), [Processing::GainMap]);
        let linear = rgb(b"curv\0\0\0\0\0\0\0\0");
        let curve = Processing::ToneCurve { light: 0.5 };
        assert_eq!(
            signs(&jpeg(2, Some(linear.clone()))),
            [Processing::MergedExposures, curve]
        );
        let mut png = Vec::new();
        let mut encoder = PngEncoder::new(&mut png);
        encoder.set_icc_profile(linear).unwrap();
        encoder
            .write_image(&[90; 16 * 16 * 3], 16, 16, ExtendedColorType::Rgb8)
            .unwrap();
        assert_eq!(signs(&png), [curve]);
    }

    #[test]
    fn the_optional_colour_space_counts_where_no_profile_says_more() {
        let index = |text: &str| exif(Tag::InteroperabilityIndex, Value::Ascii(vec![text.as_bytes().to_vec()]));
        // 0.5 to the power of 2.2, near enough.
        let found = signs(&jpeg_of(index("R03"), None));
        assert!(
            matches!(found[..], [Processing::ToneCurve { light }] if (light - 0.2177).abs() < 1e-3),
            "{found:?}"
        );
        assert_eq!(signs(&jpeg_of(index("R03"), Some(rgb(&parametric(3, &SRGB))))), []);
        assert_eq!(signs(&jpeg_of(index("R98"), None)), []);
    }

    #[test]
    fn every_sign_says_what_and_how_to_mend() {
        for sign in [
            Processing::MergedExposures,
            Processing::GainMap,
            Processing::Panorama,
            Processing::SyntheticBlur,
            Processing::Custom(1),
            Processing::ToneCurve { light: 0.5 },
            Processing::UnreadCurve,
        ] {
            let text = sign.said(Language::English);
            assert!(
                text.contains("may be wrong; ") && text.starts_with("the file"),
                "{text}"
            );
        }
    }

    #[test]
    fn what_a_messenger_passed_on_is_told_by_its_coding_and_its_missing_facts() {
        let jpeg = |quality: u8| {
            let mut bytes = Vec::new();
            let picture = image::RgbImage::from_fn(64, 64, |x, y| image::Rgb([(x * 3 + y) as u8; 3]));
            JpegEncoder::new_with_quality(&mut bytes, quality)
                .encode_image(&picture)
                .unwrap();
            bytes
        };
        for (quality, is_strong) in [(95, false), (85, false), (80, true), (70, true)] {
            assert_eq!(is_strongly_compressed(&jpeg(quality), true), is_strong, "{quality}");
            let told = Capture::from_file(&jpeg(quality)).processing;
            assert_eq!(told.contains(&Processing::Recoded), is_strong, "{quality}: {told:?}");
        }
        for broken in [
            &b""[..],
            b"\xFF\xD8\xFF\xDB",
            b"\xFF\xD8\xFF\xDB\x00\x43\x00\x10",
            b"GIF89a",
        ] {
            assert!(!is_strongly_compressed(broken, true));
        }
        // A camera may compress as much: its facts are there.
        let with_facts = |quality: u8| {
            let mut taken = jpeg(quality);
            let block = exif(
                Tag::DateTimeOriginal,
                Value::Ascii(vec![b"2031:03:04 20:15:00".to_vec()]),
            );
            let length = u16::try_from(block.len() + 8).unwrap().to_be_bytes();
            let segment = [&[0xFF, 0xE1][..], &length, b"Exif\0\0", &block].concat();
            taken.splice(2..2, segment);
            Capture::from_file(&taken)
        };
        assert!(with_facts(70).taken.is_some());
        assert!(with_facts(70).processing.is_empty());
        // As much as no camera does was done by a program, which kept them.
        assert_eq!(with_facts(50).processing, [Processing::Recoded]);
    }

    #[test]
    fn the_size_that_the_camera_wrote_is_read() {
        let field = |tag, number: u32| Field {
            tag,
            ifd_num: In::PRIMARY,
            value: Value::Long(vec![number]),
        };
        let written = |fields: &[Field]| {
            let mut writer = Writer::new();
            fields.iter().for_each(|field| writer.push_field(field));
            let mut bytes = Cursor::new(Vec::new());
            writer.write(&mut bytes, false).unwrap();
            Capture::from_file(&jpeg_of(bytes.into_inner(), None)).written_px
        };
        let (width, height) = (field(Tag::PixelXDimension, 4000), field(Tag::PixelYDimension, 3000));
        assert_eq!(written(&[width.clone(), height]), Some([4000, 3000]));
        assert_eq!(written(std::slice::from_ref(&width)), None);
        assert_eq!(written(&[width, field(Tag::PixelYDimension, 0)]), None);
    }
}
