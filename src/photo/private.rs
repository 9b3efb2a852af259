//! Photos to hand over: where and by whom they were taken is taken out, and nothing else.
//!
//! In a JPEG the bytes are blanked where they stand, so that the picture and all that a reading needs stay as they were: EXIF's GPS
//! fields, serial numbers, names, comments and maker's notes (CIPA DC-008, 4.6, from memory), XMP and IPTC, and whatever follows the
//! picture's end, where some cameras put a film. Tags are known by their numbers in any TIFF block of the file, thumbnails included.

use super::exif_fields::ExifFields;
use super::processing::announces_gain_map;
use exif::Tag;

/// What stands before an EXIF block, an XMP packet, its continuation, and IPTC.
const EXIF: &[u8] = b"Exif\0\0";
const XMP: &[u8] = b"http://ns.adobe.com/xap/1.0/\0";
const MORE_XMP: &[u8] = b"http://ns.adobe.com/xmp/extension/\0";
const IPTC: &[u8] = b"Photoshop 3.0\0";
const EXIF_IFD: u16 = 0x8769;
const GPS_IFD: u16 = 0x8825;
/// Artist, copyright, maker's note, comment, owner, serial numbers of body and lens, and of the picture.
const PRIVATE: [u16; 8] = [0x013B, 0x8298, 0x927C, 0x9286, 0xA430, 0xA431, 0xA435, 0xA420];

/// The photo's file without place and names; `None` where it has none, and `Err` where it has and they cannot be taken out.
pub(crate) fn without_place(file: &[u8]) -> Result<Option<Vec<u8>>, String> {
    if !file.starts_with(&[0xFF, 0xD8]) {
        let of_exif = ExifFields::of_file(file).is_some_and(|fields| fields.has(Tag(exif::Context::Tiff, GPS_IFD)));
        let names_place = of_exif || places(file, b"exif:GPS").next().is_some();
        return if names_place {
            Err("it says where it was taken, which can be taken out of a JPEG only; save it as JPEG".to_owned())
        } else {
            Ok(None)
        };
    }
    let end = end_of_picture(file).ok_or("its end was not found, and what follows it may say where it was taken")?;
    let mut bytes = file[..end].to_vec();
    for at in places(file, EXIF).filter(|at| at + EXIF.len() < end) {
        if let Some(block) = Block::at(&bytes, at + EXIF.len()) {
            block.blanked(&mut bytes);
        }
    }
    for name in [XMP, MORE_XMP, IPTC] {
        for at in places(file, name).filter(|at| *at < end) {
            blank_segment(&mut bytes, at, name.len());
        }
    }
    Ok((bytes != file).then_some(bytes))
}

/// Where a text stands in a file.
fn places<'a>(file: &'a [u8], text: &'a [u8]) -> impl Iterator<Item = usize> + 'a {
    let windows = file.windows(text.len()).enumerate();
    windows.filter(move |(_, window)| *window == text).map(|(at, _)| at)
}

/// Just behind a JPEG's end-of-image marker (ITU-T T.81, B.1 and B.2).
fn end_of_picture(file: &[u8]) -> Option<usize> {
    const END: u8 = 0xD9;
    const START_OF_SCAN: u8 = 0xDA;
    let mut at = 2;
    loop {
        let &[0xFF, marker] = file.get(at..at + 2)? else {
            return None;
        };
        match marker {
            END => return Some(at + 2),
            // A marker may be led by more of these.
            0xFF => at += 1,
            _ => {
                let length = u16::from_be_bytes(file.get(at + 2..at + 4)?.try_into().ok()?);
                at += 2 + usize::from(length);
                if marker == START_OF_SCAN {
                    // Within coded data, 0xFF stands before 0 or a restart marker.
                    let is_next = |pair: &[u8]| pair[0] == 0xFF && !matches!(pair[1], 0 | 0xD0..=0xD7);
                    at += file.get(at..)?.windows(2).position(is_next)?;
                }
            }
        }
    }
}

/// Blanks the rest of a segment whose content begins with a name.
fn blank_segment(bytes: &mut [u8], at: usize, name: usize) {
    let Some(head) = at.checked_sub(4).and_then(|start| bytes.get(start..at)) else {
        return;
    };
    let &[0xFF, 0xE1 | 0xED, high, low] = head else { return };
    let end = at - 2 + usize::from(u16::from_be_bytes([high, low]));
    let Some(content) = bytes.get_mut(at + name..end) else {
        return;
    };
    // That the photo was put together from several is of the picture, and a reading warns of it.
    let keeps = announces_gain_map(content).then_some(b"hdr-gain-map");
    content.fill(b' ');
    if let Some(kept) = keeps
        && let Some(place) = content.get_mut(..kept.len())
    {
        place.copy_from_slice(kept);
    }
}

/// A TIFF block within a file (TIFF 6.0, section 2).
#[derive(Clone, Copy)]
struct Block {
    start: usize,
    is_little: bool,
}

impl Block {
    fn at(bytes: &[u8], start: usize) -> Option<Self> {
        match bytes.get(start..start + 4)? {
            b"II*\0" => Some(Self { start, is_little: true }),
            b"MM\0*" => Some(Self {
                start,
                is_little: false,
            }),
            _ => None,
        }
    }

    fn short(self, bytes: &[u8], at: usize) -> Option<u16> {
        let two = bytes.get(at..at + 2)?.try_into().ok()?;
        Some(if self.is_little {
            u16::from_le_bytes(two)
        } else {
            u16::from_be_bytes(two)
        })
    }

    fn long(self, bytes: &[u8], at: usize) -> Option<usize> {
        let four = bytes.get(at..at + 4)?.try_into().ok()?;
        let value = if self.is_little {
            u32::from_le_bytes(four)
        } else {
            u32::from_be_bytes(four)
        };
        usize::try_from(value).ok()
    }

    /// Blanks what is private in all directories of the block.
    fn blanked(self, bytes: &mut [u8]) {
        /// Directories that lead to each other in a ring would never end.
        const MOST: usize = 32;
        let mut waiting: Vec<(usize, bool)> = self
            .long(bytes, self.start + 4)
            .map(|at| (at, false))
            .into_iter()
            .collect();
        for _ in 0..MOST {
            let Some((offset, of_place)) = waiting.pop() else {
                return;
            };
            let at = self.start + offset;
            let Some(count) = self.short(bytes, at).map(usize::from) else {
                continue;
            };
            for entry in (0..count).map(|n| at + 2 + 12 * n) {
                let (Some(tag), Some(value)) = (self.short(bytes, entry), self.long(bytes, entry + 8)) else {
                    break;
                };
                match tag {
                    EXIF_IFD => waiting.push((value, false)),
                    GPS_IFD => waiting.push((value, true)),
                    tag if of_place || PRIVATE.contains(&tag) => self.blank(bytes, entry),
                    _ => {}
                }
            }
            let next = self
                .long(bytes, at + 2 + 12 * count)
                .filter(|next| *next != 0 && !of_place);
            waiting.extend(next.map(|next| (next, false)));
        }
    }

    /// Blanks an entry's value, in place or where it is kept.
    fn blank(self, bytes: &mut [u8], entry: usize) {
        /// Bytes of a value of each type, by its number.
        const SIZES: [usize; 13] = [1, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8];
        let (Some(kind), Some(count)) = (self.short(bytes, entry + 2), self.long(bytes, entry + 4)) else {
            return;
        };
        let size = count.saturating_mul(SIZES.get(usize::from(kind)).copied().unwrap_or(1));
        let at = if size <= 4 {
            Some(entry + 8)
        } else {
            self.long(bytes, entry + 8).map(|value| self.start + value)
        };
        let field = at.and_then(|at| bytes.get_mut(at..at.checked_add(size)?));
        if let Some(field) = field {
            field.fill(0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use exif::experimental::Writer;
    use exif::{Field, In, Rational, Value};

    fn jpeg() -> Vec<u8> {
        let mut bytes = Vec::new();
        let grey = image::GrayImage::from_fn(40, 30, |x, y| image::Luma([(7 * x + 5 * y) as u8]));
        image::codecs::jpeg::JpegEncoder::new(&mut bytes)
            .encode_image(&grey)
            .unwrap();
        bytes
    }

    fn with_segment(jpeg: &[u8], marker: u8, content: &[u8]) -> Vec<u8> {
        let length = ((content.len() + 2) as u16).to_be_bytes();
        [&jpeg[..2], &[0xFF, marker], &length, content, &jpeg[2..]].concat()
    }

    fn exif(little: bool) -> Vec<u8> {
        let text = |text: &str| Value::Ascii(vec![text.as_bytes().to_vec()]);
        let degrees = |d: u32| {
            Value::Rational(vec![
                Rational { num: d, denom: 1 },
                Rational { num: 7, denom: 1 },
                Rational { num: 8, denom: 1 },
            ])
        };
        let fields = [
            (Tag::DateTimeOriginal, text("2031:03:04 20:15:00")),
            (Tag::ExposureTime, Value::Rational(vec![Rational { num: 1, denom: 30 }])),
            (Tag::GPSLatitude, degrees(48)),
            (Tag::GPSLatitudeRef, text("N")),
            (Tag::BodySerialNumber, text("SERIAL-12345")),
            (Tag::CameraOwnerName, text("A. Nobody")),
            (Tag::Artist, text("Somebody Else")),
        ]
        .map(|(tag, value)| Field {
            tag,
            ifd_num: In::PRIMARY,
            value,
        });
        let mut writer = Writer::new();
        fields.iter().for_each(|field| writer.push_field(field));
        let mut block = std::io::Cursor::new(Vec::new());
        writer.write(&mut block, little).unwrap();
        [EXIF, &block.into_inner()].concat()
    }

    /// What an EXIF library reads, all fields, as text.
    fn read(file: &[u8]) -> String {
        let exif = exif::Reader::new()
            .read_from_container(&mut std::io::Cursor::new(file))
            .unwrap();
        exif.fields()
            .map(|field| format!("{} {}\n", field.tag, field.display_value()))
            .collect()
    }

    #[test]
    fn place_serials_and_names_go_and_what_a_reading_needs_stays() {
        for little in [false, true] {
            let plain = jpeg();
            let photo = with_segment(&plain, 0xE1, &exif(little));
            let said = read(&photo);
            assert!(
                said.contains("48 deg") && said.contains("SERIAL-12345") && said.contains("Nobody"),
                "{said}"
            );
            let packed = without_place(&photo).unwrap().unwrap();
            assert_eq!(packed.len(), photo.len());
            for private in ["SERIAL", "Nobody", "Somebody"] {
                assert!(places(&packed, private.as_bytes()).next().is_none(), "{private}");
            }
            let said = read(&packed);
            assert!(!said.contains("48 deg"), "{said}");
            assert!(said.contains("2031-03-04 20:15:00") && said.contains("1/30"), "{said}");
            assert_eq!(
                image::load_from_memory(&packed).unwrap(),
                image::load_from_memory(&plain).unwrap()
            );
            assert_eq!(without_place(&packed).unwrap(), None, "nothing is left");
        }
    }

    #[test]
    fn xmp_iptc_and_what_follows_the_picture_go_but_a_gain_map_is_still_told() {
        let plain = jpeg();
        assert_eq!(without_place(&plain).unwrap(), None);
        let xmp = [
            XMP,
            b"<x exif:GPSLatitude='48,8N' xmlns:hdrgm='http://ns.adobe.com/hdr-gain-map/1.0/'/>",
        ]
        .concat();
        let iptc = [IPTC, b"8BIM city"].concat();
        let photo = with_segment(&with_segment(&plain, 0xE1, &xmp), 0xED, &iptc);
        let photo = [&photo[..], b"ftypmp42 film +48.1+011.5/"].concat();
        let packed = without_place(&photo).unwrap().unwrap();
        for private in ["GPS", "city", "film"] {
            assert!(places(&packed, private.as_bytes()).next().is_none(), "{private}");
        }
        assert!(places(&packed, b"hdr-gain-map").next().is_some());
        assert_eq!(
            image::load_from_memory(&packed).unwrap(),
            image::load_from_memory(&plain).unwrap()
        );
    }

    #[test]
    fn broken_files_are_refused_or_left_and_never_stop_the_program() {
        let photo = with_segment(&jpeg(), 0xE1, &exif(true));
        assert!(without_place(&photo[..photo.len() - 2]).is_err());
        for at in 0..photo.len().min(700) {
            for wrong in [0x00, 0x7F, 0xFF] {
                let mut broken = photo.clone();
                broken[at] = wrong;
                let _ = without_place(&broken);
            }
        }
    }

    #[test]
    fn a_png_that_says_where_it_was_taken_is_refused() {
        let mut png = Vec::new();
        let grey = image::DynamicImage::new_luma8(9, 9);
        grey.write_to(&mut std::io::Cursor::new(&mut png), image::ImageFormat::Png)
            .unwrap();
        assert_eq!(without_place(&png).unwrap(), None);
        let block = exif(true).split_off(EXIF.len());
        let chunk = [&(block.len() as u32).to_be_bytes(), &b"eXIf"[..], &block, &[0; 4]].concat();
        let told = [&png[..33], &chunk, &png[33..]].concat();
        assert!(without_place(&told).unwrap_err().contains("JPEG"));
    }
}
