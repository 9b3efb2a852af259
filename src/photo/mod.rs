//! What the camera saw: a file becomes linear light, read where it is asked for, with the facts of its capture. Photos are never changed.

mod bent;
mod black;
mod bracket;
mod capture;
mod exif_fields;
mod misfit;
mod pixels;
mod planes;
mod private;
mod processing;
mod response;
mod srgb;

use crate::language::{Language, said};
pub(crate) use black::mean_before_black;
pub(crate) use bracket::{Bracket, Comparison, Merged, compare, merge};
pub use capture::Capture;
pub(crate) use capture::{MADE, exposure_ratio};
pub use misfit::Misfit;
pub(crate) use pixels::{Pixels, Sampler};
use planes::Planes;
pub(crate) use private::without_place;
pub use processing::Processing;
pub use response::Response;
pub(crate) use response::{Bend, Curve, KNOTS, Nominal, OfKnots, knot};
pub(crate) use srgb::{LUMINANCE_WEIGHTS, linear_of_codes};
pub use srgb::{linear_from_srgb, srgb_from_linear};

use crate::bounded_file;
use crate::digest;
use crate::refusal::{Reason, Refusal};
use image::ImageDecoder;
use image::metadata::Orientation;
use std::io::{BufRead, BufReader, Cursor, Read, Seek, SeekFrom};
use std::ops::Range;
use std::path::Path;

/// Linear relative luminance, row by row from the top left; 1 is a pixel at full scale in every channel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Luminance {
    /// Width, px.
    pub width_px: usize,
    /// Height, px.
    pub height_px: usize,
    /// `width_px * height_px` values.
    pub values: Vec<f32>,
}

/// A photo as read: its pixels upright, and the facts of its capture. A copy shares the pixels.
#[derive(Debug, Clone)]
pub struct Photo {
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
    /// The pixels, with the EXIF orientation applied.
    pub(crate) pixels: Pixels,
    /// What EXIF says of the capture; empty where there is none.
    pub capture: Capture,
}

/// A channel from this code value on counts as clipped: full scale is 255, and JPEG rounds a clipped plain to a few
/// codes less.
const CLIPPED_CODE: u8 = 251;

impl Photo {
    /// Reads the photo that is named `name` from `folder`. What is said of it does not name it: a reading stands with its
    /// photo's name, and who reads another photo names it by [`Photo::read_beside`].
    ///
    /// # Errors
    /// A [`Refusal`] for `unreadable-photo` that says what the file is and how to set the phone or convert it.
    pub fn read(folder: &Path, name: &Path) -> Result<Self, Refusal> {
        Self::decode(&contents(folder, name)?)
    }

    /// As [`Photo::read`], with two threads where that helps: for a photo beside which there is no other to read.
    ///
    /// # Errors
    /// As [`Photo::read`].
    pub fn read_alone(folder: &Path, name: &Path) -> Result<Self, Refusal> {
        let bytes = contents(folder, name)?;
        std::thread::scope(|scope| {
            let digest = scope.spawn(|| digest::of(&bytes));
            // A thread fails only where it panics.
            let digest = || digest.join().unwrap_or_else(|_| digest::of(&bytes));
            Self::decode_by(planes::decode_on_two_threads, &bytes, digest)
        })
    }

    /// As [`Photo::read`], for a photo beside that of the shot: messages have it by its name.
    ///
    /// # Errors
    /// As [`Photo::read`].
    pub fn read_beside(folder: &Path, name: &Path) -> Result<Self, Refusal> {
        Self::read(folder, name)
            .map_err(|refusal| refusal.reworded(|_, message| format!("{}: {message}", name.display())))
    }

    /// Decodes a photo that is already in memory.
    ///
    /// # Errors
    /// As [`Photo::read`].
    pub fn decode(bytes: &[u8]) -> Result<Self, Refusal> {
        Self::decode_by(planes::decode, bytes, || digest::of(bytes))
    }

    /// With a decoder of plain JPEGs, and the digest of `bytes`.
    fn decode_by(
        plain: fn(&[u8], u64) -> Option<Planes>,
        bytes: &[u8],
        digest: impl FnOnce() -> String,
    ) -> Result<Self, Refusal> {
        if let Some(foreign) = foreign_format(bytes) {
            return Err(foreign);
        }
        if jpeg_is_cut_short(bytes) {
            return Err(unreadable(|language| {
                said!(
                    language;
                    "is incomplete: the file ends before the picture does; copy it from the phone again",
                    "ist unvollständig: die Datei endet vor dem Bild; noch einmal vom Telefon kopieren"
                )
            }));
        }
        let mut capture = Capture::from_file(bytes);
        if capture.raw_sensor_data {
            return Err(unreadable(|language| {
                said!(
                    language;
                    "is a raw sensor file; set the camera to JPEG, or convert it to a 16-bit TIFF with the sRGB curve",
                    "ist eine Rohdatei des Sensors; die Kamera auf JPEG stellen oder in ein 16-Bit-TIFF mit der sRGB-Kurve \
                     umwandeln"
                )
            }));
        }
        let reader = image::ImageReader::new(Cursor::new(bytes))
            .with_guessed_format()
            .map_err(|e| {
                unreadable(|language| {
                    said!(
                        language;
                        "cannot be read: {e}",
                        "ist nicht lesbar: {e}"
                    )
                })
            })?;
        if reader.format().is_none() {
            return Err(unreadable(|language| {
                said!(
                    language;
                    "is not a JPEG, PNG or TIFF photo; set the camera to JPEG, or give the file as the camera wrote it",
                    "ist kein Foto in JPEG, PNG oder TIFF; die Kamera auf JPEG stellen oder die Datei angeben, wie die Kamera sie \
                     geschrieben hat"
                )
            }));
        }
        // The encoder's own orientation wins over none; a broken one means "as stored".
        let orientation = Orientation::from_exif(capture.orientation).unwrap_or(Orientation::NoTransforms);
        let pixels = match plain(bytes, MOST_PX) {
            Some(planes) => Pixels::of_planes(planes, orientation),
            None => Pixels::of_picture(decoded(reader)?, orientation),
        };
        let [width_px, height_px] = pixels.size_px();
        if width_px < 320 || height_px < 240 {
            return Err(unreadable(|language| {
                said!(
                    language;
                    "is only {width_px} x {height_px} px; send the original photo, not a preview",
                    "hat nur {width_px} x {height_px} px; das Originalfoto verwenden, keine Vorschau"
                )
            }));
        }
        capture.size_px = Some([width_px, height_px]);
        Ok(Self {
            sha256: digest(),
            pixels,
            capture,
        })
    }

    /// Width and height of the upright photo, px.
    #[must_use]
    pub fn size_px(&self) -> [usize; 2] {
        self.pixels.size_px()
    }

    /// The upright photo in small, at the most `side_px` on its longer side: width and height, and sRGB codes of its brightness row by row.
    #[must_use]
    pub(crate) fn in_small(&self, side_px: usize) -> ([usize; 2], Vec<u8>) {
        let [width_px, height_px] = self.size_px();
        let block_px = width_px.max(height_px).div_ceil(side_px.max(1)).max(1);
        let code = |light: f32| (255.0 * srgb_from_linear(f64::from(light))).round() as u8;
        self.pixels.block_means_as(block_px, 1, code)
    }

    /// Bytes of memory that its pixels take.
    #[must_use]
    pub(crate) fn bytes(&self) -> usize {
        self.pixels.bytes()
    }

    /// The same photo with its light as it was before the camera bent it.
    #[must_use]
    pub(crate) fn bent_back(mut self, response: &Response) -> Self {
        if let Some(bent) = response.as_laid_on() {
            self.pixels = self.pixels.bent_by(bent);
        }
        self
    }

    /// Linear light at a place in px (centre of the top left pixel = 0, 0), bilinear, 1 at full scale of every channel; `None`
    /// outside the outermost pixel centres.
    #[must_use]
    pub fn light_at(&self, x_px: f64, y_px: f64) -> Option<f64> {
        Some(self.pixels.seen_at(x_px, y_px)?.0)
    }

    /// Linear light of every pixel once, in the order in which the file holds them.
    pub fn all_light(&self) -> impl Iterator<Item = f32> {
        self.pixels.all_light()
    }

    /// The light below which this share of all pixels lies, from 0 to below 1.
    #[must_use]
    pub(crate) fn light_ranked(&self, share: f64) -> f64 {
        let [width_px, height_px] = self.size_px();
        let place = ((width_px * height_px) as f64 * share) as usize;
        f64::from(self.pixels.light_ranked(place))
    }

    /// Share of its pixels that are at full scale, 0 to 1.
    #[must_use]
    pub(crate) fn clipped_share(&self) -> f64 {
        let [width_px, height_px] = self.size_px();
        self.pixels.clipped_count() as f64 / (width_px * height_px).max(1) as f64
    }

    /// As [`Photo::seen_at`], for who asks for many places.
    pub(crate) fn sampler(&self) -> Sampler<'_> {
        self.pixels.sampler()
    }

    /// As [`Photo::light_at`], with whether any of the four pixels around the place is clipped: any channel of it is at, or after JPEG
    /// next to, full scale, so that the true light may be more than is read.
    #[must_use]
    pub fn seen_at(&self, x_px: f64, y_px: f64) -> Option<(f64, bool)> {
        let (light, highest_code) = self.pixels.seen_at(x_px, y_px)?;
        Some((light, highest_code >= CLIPPED_CODE))
    }
}

/// Most px of a photo that is read: the 108 MP of a phone, and some to spare. A phone's 200 MP hold no more of the wall.
/// Reading a photo takes some 4 bytes for each px at its height, 8 where its codes have 16 bits.
const MOST_PX: u64 = 110_000_000;
/// Most px of photos that are in memory side by side while they are read, whatever the number of cores: one of the largest
/// photos, ten of a phone's usual ones.
pub(crate) const MOST_SIDE_BY_SIDE_PX: u64 = 128_000_000;

/// All of a photo's file.
fn contents(folder: &Path, name: &Path) -> Result<Vec<u8>, Refusal> {
    bounded_file::read(&folder.join(name), bounded_file::MOST_PHOTO_BYTES).map_err(|why| Refusal {
        reason: Reason::UnreadablePhoto,
        message: why.0,
    })
}

/// The picture in a file, once its header says that it is not too large.
fn decoded(mut reader: image::ImageReader<Cursor<&[u8]>>) -> Result<image::DynamicImage, Refusal> {
    let fail = |e: image::ImageError| {
        unreadable(|language| {
            said!(
                language;
                "cannot be decoded ({e}); copy it from the phone again, as JPEG",
                "ist nicht zu entschlüsseln ({e}); noch einmal vom Telefon kopieren, als JPEG"
            )
        })
    };
    // Colour and opacity of 16 bits each.
    let mut limits = image::Limits::default();
    limits.max_alloc = Some(8 * MOST_PX);
    reader.limits(limits);
    let decoder = reader.into_decoder().map_err(fail)?;
    let (width_px, height_px) = decoder.dimensions();
    let px = u64::from(width_px) * u64::from(height_px);
    if px > MOST_PX {
        return Err(unreadable(|language| {
            said!(
                language;
                "has {:.0} megapixels, and {} are read at the most; set the camera to fewer, or reduce the photo to {} and keep its \
                 EXIF",
                "hat {:.0} Megapixel, und höchstens {} werden gelesen; die Kamera auf weniger stellen oder das Foto auf {} \
                 verkleinern und sein EXIF behalten";
                px as f64 / 1e6,
                MOST_PX / 1_000_000,
                MOST_PX / 2_000_000
            )
        }));
    }
    image::DynamicImage::from_decoder(decoder).map_err(fail)
}

/// Size of a photo by its header, px; 0 for what is not read.
pub(crate) fn size_px(path: &Path) -> u64 {
    let Ok((file, _)) = bounded_file::open(path, bounded_file::MOST_PHOTO_BYTES) else {
        return 0;
    };
    let px = header_px(BufReader::new(file)).unwrap_or(0);
    if px > MOST_PX { 0 } else { px }
}

/// Size of a photo by its header, px, of which no more is read.
fn header_px(mut file: impl BufRead + Seek) -> Option<u64> {
    if file.fill_buf().ok()?.starts_with(&[0xFF, 0xD8]) {
        return jpeg_px(file);
    }
    let reader = image::ImageReader::new(file).with_guessed_format();
    let (width_px, height_px) = reader.ok()?.into_dimensions().ok()?;
    Some(u64::from(width_px) * u64::from(height_px))
}

/// Size of a JPEG (ITU-T T.81, B.2.2) by its frame header, px: a general reader takes in all of the file.
fn jpeg_px(mut file: impl Read + Seek) -> Option<u64> {
    file.seek(SeekFrom::Start(2)).ok()?;
    // A picture has some tens of segments; each is at least two bytes long, so that the file comes to an end.
    loop {
        let mut segment = [0; 4];
        file.read_exact(&mut segment).ok()?;
        let [0xFF, marker, high, low] = segment else {
            return None;
        };
        match marker {
            0xC4 | 0xC8 | 0xCC => {}
            0xC0..=0xCF => {
                let mut frame = [0; 5];
                file.read_exact(&mut frame).ok()?;
                let [_, height @ .., width_high, width_low] = frame;
                let [height, width] = [height, [width_high, width_low]].map(|side| u64::from(u16::from_be_bytes(side)));
                return Some(width * height);
            }
            0xD8..=0xDA => return None,
            _ => {}
        }
        let length = i64::from(u16::from_be_bytes([high, low]));
        file.seek_relative(length.checked_sub(2).filter(|&rest| rest >= 0)?)
            .ok()?;
    }
}

/// Splits photos of these sizes, px, in their order into runs that are read side by side: what a run holds bounds the
/// memory. Waiting for memory within a run instead could stop all threads, as one that waits for its own parts takes up
/// another photo.
pub(crate) fn side_by_side(sizes_px: &[u64]) -> Vec<Range<usize>> {
    let (mut runs, mut start, mut held_px) = (Vec::new(), 0, 0);
    for (n, &px) in sizes_px.iter().enumerate() {
        if held_px + px > MOST_SIDE_BY_SIDE_PX && n > start {
            runs.push(start..n);
            (start, held_px) = (n, 0);
        }
        held_px += px;
    }
    if start < sizes_px.len() {
        runs.push(start..sizes_px.len());
    }
    runs
}

fn unreadable(message: impl Fn(Language) -> String) -> Refusal {
    Refusal::new(Reason::UnreadablePhoto, message)
}

/// Whether a JPEG (ITU-T T.81) has no end-of-image marker after its picture data began. Decoders fill such a picture up
/// with grey without a word.
fn jpeg_is_cut_short(bytes: &[u8]) -> bool {
    const START_OF_SCAN: u8 = 0xDA;
    if !bytes.starts_with(&[0xFF, 0xD8]) {
        return false;
    }
    let mut at = 2;
    loop {
        let Some(&[0xFF, marker, high, low]) = bytes.get(at..at + 4) else {
            return true;
        };
        let length = usize::from(high) << 8 | usize::from(low);
        at += 2 + length;
        if marker == START_OF_SCAN {
            // Within picture data 0xFF is followed by 0 or a restart marker, so the first 0xFF 0xD9 is the end.
            return !bytes
                .get(at..)
                .is_some_and(|rest| rest.windows(2).any(|pair| pair == [0xFF, 0xD9]));
        }
    }
}

/// What to say of files that phones and cameras write and that no pure decoder here reads.
fn foreign_format(bytes: &[u8]) -> Option<Refusal> {
    let kind = bytes.get(4..8)?;
    if kind != b"ftyp" {
        return None;
    }
    let brand = String::from_utf8_lossy(bytes.get(8..12)?).into_owned();
    Some(match brand.as_str() {
        "heic" | "heix" | "heim" | "heis" | "hevc" | "mif1" | "msf1" | "avif" => unreadable(|language| {
            said!(
                language;
                "is an HEIC/HEIF photo; set the phone's camera to JPEG (often called \"most compatible\"), or convert it to JPEG at full size",
                "ist ein HEIC/HEIF-Foto; die Kamera des Telefons auf JPEG stellen (oft „maximale Kompatibilität“ genannt) \
                 oder es in voller Größe in JPEG umwandeln"
            )
        }),
        _ => unreadable(|language| {
            said!(
                language;
                "is a film or a container, not a photo; take a still photo as JPEG",
                "ist ein Film oder ein Container, kein Foto; ein Standbild als JPEG aufnehmen"
            )
        }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{DynamicImage, ImageFormat, RgbImage};

    fn encode(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    }

    fn gradient() -> DynamicImage {
        DynamicImage::ImageRgb8(RgbImage::from_fn(400, 300, |x, y| {
            image::Rgb([(x % 256) as u8, (y % 256) as u8, 128])
        }))
    }

    #[test]
    fn png_and_tiff_give_the_same_luminance() {
        let png = Photo::decode(&encode(&gradient(), ImageFormat::Png)).unwrap();
        let tiff = Photo::decode(&encode(&gradient(), ImageFormat::Tiff)).unwrap();
        let light = |photo: &Photo| photo.all_light().collect::<Vec<_>>();
        assert_eq!(light(&png), light(&tiff));
        // Pixel (10, 20): codes 10, 20, 128 by hand from IEC 61966-2-1: 10/255/12.92, 20/255 and 128/255 on the curve.
        let by_hand = 0.2126 * 0.003_035_27 + 0.7152 * 0.006_995_41 + 0.0722 * 0.215_860_5;
        assert!((f64::from(png.pixels.light(10, 20)) - by_hand).abs() < 1e-6);
    }

    #[test]
    fn sixteen_bit_keeps_its_steps() {
        let wide = DynamicImage::ImageRgb16(image::ImageBuffer::from_pixel(320, 240, image::Rgb([300u16, 300, 300])));
        let photo = Photo::decode(&encode(&wide, ImageFormat::Png)).unwrap();
        assert!((f64::from(photo.pixels.light(0, 0)) - 300.0 / 65535.0 / 12.92).abs() < 1e-9);
    }

    #[test]
    fn clipped_pixels_are_known() {
        let mut picture = RgbImage::from_pixel(400, 300, image::Rgb([200, 200, 200]));
        picture.put_pixel(100, 50, image::Rgb([255, 200, 200]));
        let photo = Photo::decode(&encode(&DynamicImage::ImageRgb8(picture), ImageFormat::Png)).unwrap();
        assert!(
            photo.seen_at(99.5, 49.5).unwrap().1
                && photo.seen_at(100.0, 50.0).unwrap().1
                && !photo.seen_at(103.0, 50.0).unwrap().1
        );
        assert_eq!(photo.pixels.clipped_count(), 1);
    }

    #[test]
    fn the_bright_of_a_photo_is_that_of_the_brightest_but_a_few() {
        let code = |n| {
            if n < 10 {
                255
            } else {
                180 - if n < 1_000 { 0 } else { 80 }
            }
        };
        let picture = RgbImage::from_fn(400, 300, |x, y| image::Rgb([code(y * 400 + x); 3]));
        let photo = Photo::decode(&encode(&DynamicImage::ImageRgb8(picture), ImageFormat::Png)).unwrap();
        assert!((photo.light_ranked(0.997) - linear_from_srgb(180.0 / 255.0)).abs() < 1e-6);
    }

    #[test]
    fn files_that_are_no_photos_say_what_to_do() {
        for (bytes, part) in [
            (&b"\0\0\0\x18ftypheic\0\0\0\0mif1"[..], "HEIC"),
            (b"\0\0\0\x18ftypmp42\0\0\0\0", "film"),
            (b"schema = 1", "not a JPEG"),
            (b"\xff\xd8\xff\xe0\0\x10JFIF", "incomplete"),
            (b"", "not a JPEG"),
        ] {
            let refusal = Photo::decode(bytes).unwrap_err();
            assert_eq!(refusal.reason, Reason::UnreadablePhoto);
            assert!(refusal.english().contains(part), "{part}: {}", refusal.english());
        }
    }

    #[test]
    fn the_header_alone_has_the_size_that_the_whole_file_has() {
        for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::Tiff] {
            let whole = encode(&gradient(), format);
            assert_eq!(header_px(Cursor::new(&whole)), Some(400 * 300), "{format:?}");
            // EXIF stands before the frame.
            if format == ImageFormat::Jpeg {
                let exif = [&[0xFF, 0xE1, 0x40, 0][..], &[0xFF; 0x3FFE]].concat();
                let with_exif = [&whole[..2], &exif, &whole[2..]].concat();
                assert_eq!(header_px(Cursor::new(&with_exif)), Some(400 * 300));
                for end in 0..600 {
                    let px = header_px(Cursor::new(&whole[..end]));
                    assert!(px.is_none() || px == Some(400 * 300), "cut at {end}");
                }
            }
        }
        assert_eq!(header_px(Cursor::new(b"\xff\xd8\xff\xe0\0\x01abc")), None);
    }

    #[test]
    fn a_jpeg_cut_short_is_not_read() {
        let whole = encode(&gradient(), ImageFormat::Jpeg);
        assert!(Photo::decode(&whole).is_ok());
        let refusal = Photo::decode(&whole[..whole.len() * 97 / 100]).unwrap_err();
        assert!(refusal.english().contains("incomplete"), "{}", refusal.english());
    }

    /// A PNG whose header tells of more than is read: nothing but the header is there.
    #[test]
    fn a_photo_of_too_many_pixels_is_refused_by_its_header() {
        let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        png.extend(16_320u32.to_be_bytes());
        png.extend(12_240u32.to_be_bytes());
        png.extend(b"\x08\x02\0\0\0");
        png.extend(crc32(&png[12..]).to_be_bytes());
        png.extend(b"\0\0\0\x04IDAT\0\0\0\0");
        png.extend(crc32(b"IDAT\0\0\0\0").to_be_bytes());
        let refusal = Photo::decode(&png).unwrap_err();
        assert_eq!(refusal.reason, Reason::UnreadablePhoto);
        assert!(
            refusal.english().contains("200 megapixels") && refusal.english().contains("reduce"),
            "{}",
            refusal.english()
        );
    }

    /// The check sum of PNG (ISO 3309).
    fn crc32(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(u32::MAX, |crc, &byte| {
            (0..8).fold(crc ^ u32::from(byte), |crc, _| (crc >> 1) ^ (0xEDB8_8320 * (crc & 1)))
        })
    }

    #[test]
    fn photos_side_by_side_are_bounded_by_their_size() {
        let runs = side_by_side(&[48_000_000; 8]);
        assert_eq!(runs, [0..2, 2..4, 4..6, 6..8]);
        assert_eq!(side_by_side(&[12_000_000; 25]), [0..10, 10..20, 20..25]);
        let none = side_by_side(&[0; 10_000]);
        assert!(
            none.len() == 1 && none[0] == (0..10_000),
            "files that are not there take nothing"
        );
        assert_eq!(
            side_by_side(&[200_000_000, 1]),
            [0..1, 1..2],
            "what is too large goes alone"
        );
        assert!(side_by_side(&[]).is_empty());
    }

    #[test]
    fn bilinear_reads_between_pixels_and_not_outside() {
        let luminance = Luminance {
            width_px: 2,
            height_px: 2,
            values: vec![0.0, 1.0, 2.0, 5.0],
        };
        let pixels = Pixels::of_light(luminance, vec![false; 4]).unwrap();
        assert_eq!(pixels.seen_at(0.5, 0.5).map(|(light, _)| light), Some(2.0));
        assert_eq!(pixels.seen_at(0.25, 0.0).map(|(light, _)| light), Some(0.25));
        assert_eq!(pixels.seen_at(1.5, 0.0).map(|(light, _)| light), None);
        assert_eq!(pixels.seen_at(-0.1, 0.0).map(|(light, _)| light), None);
        assert_eq!(pixels.seen_at(f64::NAN, 0.0).map(|(light, _)| light), None);
    }
}
