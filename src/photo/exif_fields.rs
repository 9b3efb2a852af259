//! The few EXIF fields that are wanted (JEITA CP-3451; TIFF 6.0). A general reader takes up whatever a file holds, which a
//! file of a megabyte can drive to gigabytes: entries may share one value, and folders of entries may overlap.

use exif::Tag;

/// Most bytes of an EXIF block that are looked at, save for a TIFF file, which is one block with its pixels: JPEG holds less
/// than 64 kB, in PNG a camera's is no larger (our choice, no source).
const MOST_BLOCK_BYTES: usize = 256 * 1024;
/// Most entries of one IFD that are looked at, and most bytes of a value (our choice, no source: cameras write some
/// hundred entries, and the values wanted here are short).
const MOST_ENTRIES: usize = 1000;
const MOST_VALUE_BYTES: usize = 1024;

const TYPE_BYTE: u16 = 1;
const TYPE_ASCII: u16 = 2;
const TYPE_SHORT: u16 = 3;
const TYPE_LONG: u16 = 4;
const TYPE_RATIONAL: u16 = 5;

/// The EXIF block of a file and the places of its IFDs.
pub(super) struct ExifFields<'a> {
    block: Block<'a>,
    /// IFD0, EXIF IFD and interoperability IFD, as far as there are; offsets in the block.
    primary: Option<usize>,
    exif: Option<usize>,
    interoperability: Option<usize>,
}

impl<'a> ExifFields<'a> {
    /// Finds the EXIF block of a JPEG, PNG or TIFF file; without one every field is unknown.
    pub fn of_file(bytes: &'a [u8]) -> Option<Self> {
        let block = Block::of(block_of(bytes)?)?;
        let primary = usize::try_from(block.long(4)?).ok();
        let mut fields = Self {
            block,
            primary,
            exif: None,
            interoperability: None,
        };
        let place = |number: Option<u32>| number.and_then(|n| usize::try_from(n).ok());
        fields.exif = place(fields.number(Tag::ExifIFDPointer));
        fields.interoperability = place(fields.number(Tag::InteropIFDPointer));
        Some(fields)
    }

    /// The first number of a whole-numbered field.
    pub fn number(&self, tag: Tag) -> Option<u32> {
        let (kind, value) = self.value(tag)?;
        match kind {
            TYPE_BYTE => value.first().map(|&byte| u32::from(byte)),
            TYPE_SHORT => self.block.within(value).short(0).map(u32::from),
            TYPE_LONG => self.block.within(value).long(0),
            _ => None,
        }
    }

    /// The first ratio of a field, where it is a positive number.
    pub fn rational(&self, tag: Tag) -> Option<f64> {
        let (kind, value) = self.value(tag)?;
        let value = self.block.within(value);
        let ratio = f64::from(value.long(0)?) / f64::from(value.long(4)?);
        (kind == TYPE_RATIONAL && ratio.is_finite() && ratio > 0.0).then_some(ratio)
    }

    /// The text of a field, without blanks around it; `None` where nothing is left.
    pub fn text(&self, tag: Tag) -> Option<String> {
        let (kind, value) = self.value(tag)?;
        let line = value.split(|&byte| byte == 0).next()?;
        let text = String::from_utf8_lossy(line).trim().to_owned();
        (kind == TYPE_ASCII && !text.is_empty()).then_some(text)
    }

    /// Whether there is such a field at all in the main IFD.
    pub fn has(&self, tag: Tag) -> bool {
        self.value(tag).is_some()
    }

    /// Type and value of a field.
    fn value(&self, tag: Tag) -> Option<(u16, &'a [u8])> {
        let ifd = match tag.context() {
            exif::Context::Tiff => self.primary,
            exif::Context::Exif => self.exif,
            exif::Context::Interop => self.interoperability,
            _ => None,
        }?;
        let count = usize::from(self.block.short(ifd)?).min(MOST_ENTRIES);
        let at = (0..count)
            .map(|n| ifd + 2 + 12 * n)
            .find(|&at| self.block.short(at) == Some(tag.number()))?;
        let (kind, count) = (
            self.block.short(at + 2)?,
            usize::try_from(self.block.long(at + 4)?).ok()?,
        );
        let unit_bytes = match kind {
            TYPE_BYTE | TYPE_ASCII => 1,
            TYPE_SHORT => 2,
            TYPE_LONG => 4,
            TYPE_RATIONAL => 8,
            // Of these only their presence is of use.
            _ => return Some((kind, &[])),
        };
        let length = count
            .checked_mul(unit_bytes)
            .filter(|&length| length <= MOST_VALUE_BYTES)?;
        let start = if length <= 4 {
            at + 8
        } else {
            usize::try_from(self.block.long(at + 8)?).ok()?
        };
        Some((kind, self.block.bytes.get(start..start.checked_add(length)?)?))
    }
}

/// Bytes with the order in which their numbers are written.
#[derive(Clone, Copy)]
struct Block<'a> {
    bytes: &'a [u8],
    is_little_endian: bool,
}

impl<'a> Block<'a> {
    /// A block with the head of a TIFF file.
    fn of(bytes: &'a [u8]) -> Option<Self> {
        let is_little_endian = match bytes.get(..4)? {
            b"II*\0" => true,
            b"MM\0*" => false,
            _ => return None,
        };
        Some(Self {
            bytes,
            is_little_endian,
        })
    }

    /// Other bytes in the same order.
    fn within(&self, bytes: &'a [u8]) -> Self {
        Self { bytes, ..*self }
    }

    fn short(&self, at: usize) -> Option<u16> {
        let two = self.bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.is_little_endian {
            u16::from_le_bytes(two)
        } else {
            u16::from_be_bytes(two)
        })
    }

    fn long(&self, at: usize) -> Option<u32> {
        let four = self.bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if self.is_little_endian {
            u32::from_le_bytes(four)
        } else {
            u32::from_be_bytes(four)
        })
    }
}

/// The EXIF block in a file's bytes.
fn block_of(bytes: &[u8]) -> Option<&[u8]> {
    let block = if bytes.starts_with(&[0xFF, 0xD8]) {
        block_of_jpeg(bytes)
    } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        block_of_png(bytes)
    } else {
        return Some(bytes);
    };
    block.map(|block| &block[..block.len().min(MOST_BLOCK_BYTES)])
}

/// The APP1 segment of EXIF before a JPEG's picture data (JEITA CP-3451, 4.7.2, from memory).
fn block_of_jpeg(bytes: &[u8]) -> Option<&[u8]> {
    const APP1: u8 = 0xE1;
    const START_OF_SCAN: u8 = 0xDA;
    let mut at = 2;
    loop {
        let &[0xFF, marker, high, low] = bytes.get(at..at + 4)? else {
            return None;
        };
        let end = at + 2 + (usize::from(high) << 8 | usize::from(low));
        if marker == START_OF_SCAN {
            return None;
        }
        let content = bytes.get(at + 4..end)?;
        if let Some(block) = content.strip_prefix(b"Exif\0\0").filter(|_| marker == APP1) {
            return Some(block);
        }
        at = end;
    }
}

/// The chunk eXIf of a PNG (PNG, third edition, 11.3.4.5, from memory).
fn block_of_png(bytes: &[u8]) -> Option<&[u8]> {
    let mut at = 8;
    loop {
        let length = usize::try_from(u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?)).ok()?;
        let content = bytes.get(at + 8..at.checked_add(8)?.checked_add(length)?)?;
        if bytes.get(at + 4..at + 8)? == b"eXIf" {
            return Some(content);
        }
        // The check sum is four bytes more.
        at += 12 + length;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A big-endian block of one IFD.
    fn block(entries: &[(u16, u16, u32, u32)]) -> Vec<u8> {
        let mut bytes = b"MM\0*\0\0\0\x08".to_vec();
        bytes.extend(u16::try_from(entries.len()).unwrap().to_be_bytes());
        for (tag, kind, count, value) in entries {
            bytes.extend(tag.to_be_bytes());
            bytes.extend(kind.to_be_bytes());
            bytes.extend(count.to_be_bytes());
            bytes.extend(value.to_be_bytes());
        }
        bytes
    }

    #[test]
    fn only_wanted_fields_of_a_plain_size_are_taken() {
        let mut bytes = block(&[
            // Text behind the entries, text that is too long, and text that ends beyond the block.
            (0x010F, TYPE_ASCII, 6, 58),
            (0x0110, TYPE_ASCII, 60_000, 0),
            (0x0132, TYPE_ASCII, 20, 1_000_000),
            (0x0112, TYPE_SHORT, 1, 6 << 16),
        ]);
        bytes.extend(b"Maker\0");
        bytes.extend(vec![b'x'; 70_000]);
        let fields = ExifFields::of_file(&bytes).unwrap();
        assert_eq!(fields.text(Tag::Make).as_deref(), Some("Maker"));
        assert_eq!((fields.text(Tag::Model), fields.text(Tag::DateTime)), (None, None));
        assert_eq!(fields.number(Tag::Orientation), Some(6));
        assert!(fields.has(Tag::Make) && !fields.has(Tag::Software));
    }

    /// A PNG's block of 1.5 MB with 62,500 entries that all share one value of 700 kB: a general reader takes them 62,500
    /// times.
    #[test]
    fn a_block_of_many_large_fields_is_no_burden() {
        let mut entries = vec![(0x0112, TYPE_SHORT, 1, 3 << 16)];
        entries.extend((0..62_499u32).map(|n| (0x8000 + (n % 0x3000) as u16, TYPE_BYTE, 700_000, 8)));
        let exif = block(&entries);
        let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
        png.extend(u32::try_from(exif.len() + 750_000).unwrap().to_be_bytes());
        png.extend(b"eXIf");
        png.extend(&exif);
        png.extend(vec![0; 750_004]);
        let fields = ExifFields::of_file(&png).unwrap();
        assert_eq!(fields.number(Tag::Orientation), Some(3));
        assert_eq!(fields.block.bytes.len(), MOST_BLOCK_BYTES);
    }

    #[test]
    fn broken_blocks_say_nothing_and_end() {
        for bytes in [
            &b""[..],
            b"II*\0",
            b"MM\0*\0\0\0\x08",
            b"MM\0*\xff\xff\xff\xff",
            b"\xff\xd8\xff\xe1\0\0",
            b"\x89PNG\r\n\x1a\n\xff\xff\xff\xffeXIf",
        ] {
            let text = ExifFields::of_file(bytes).and_then(|fields| fields.text(Tag::Make));
            assert_eq!(text, None, "{bytes:?}");
        }
        // An IFD of EXIF that is the main IFD itself.
        let bytes = block(&[(0x8769, TYPE_LONG, 1, 8)]);
        assert_eq!(ExifFields::of_file(&bytes).unwrap().rational(Tag::ExposureTime), None);
    }
}
