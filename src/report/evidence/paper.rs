//! The words of a `report.pdf`, to be compared with those of another.

use crate::report::letters::Letters;
use flate2::read::ZlibDecoder;
use std::collections::BTreeMap;
use std::io::Read;

/// More than the pages of any report hold; a file that claims more was not written by this program.
const MOST_BYTES: u64 = 64_000_000;

/// Each run of words on a line, in the file's order, as the program's own writer sets them; `None` where the file is none of its kind.
pub(super) fn words(pdf: &[u8]) -> Option<String> {
    let letters = Letters::carried().ok()?;
    let fonts = [false, true].map(|bold| letters.by_glyph(bold));
    let mut rest = pdf.starts_with(b"%PDF").then_some(pdf)?;
    let (mut said, mut left) = (String::new(), MOST_BYTES);
    while let Some(start) = find(rest, b"stream\n") {
        rest = &rest[start + b"stream\n".len()..];
        let end = find(rest, b"\nendstream")?;
        let mut content = Vec::new();
        let inflated = ZlibDecoder::new(&rest[..end]).take(left).read_to_end(&mut content);
        // Pictures are not pressed again, and fonts hold no words.
        if inflated.is_ok() {
            left = left.saturating_sub(content.len() as u64);
            of_content(&content, &fonts, &mut said);
        }
        rest = &rest[end + b"\nendstream".len()..];
    }
    Some(said)
}

fn find(bytes: &[u8], what: &[u8]) -> Option<usize> {
    bytes.windows(what.len()).position(|window| window == what)
}

/// The words of a content stream: strings before the operator Tj, in the font that stands before them (ISO 32000-1, 7.3.4 and 9.4).
fn of_content(content: &[u8], fonts: &[BTreeMap<u16, char>; 2], said: &mut String) {
    let (mut at, mut font, mut string) = (0, 0, None);
    while let Some(&byte) = content.get(at) {
        match (byte, content.get(at + 1)) {
            (b'/', Some(b'F')) => {
                font = usize::from(content.get(at + 2) == Some(&b'1'));
                at += 3;
            }
            (b'<' | b'>', Some(next)) if *next == byte => at += 2,
            (b'<', _) => string = Some(hexadecimal(content, &mut at)),
            (b'(', _) => string = Some(literal(content, &mut at)),
            (b'T', Some(b'j')) => {
                let glyphs = string.take().unwrap_or_default();
                let glyphs = glyphs
                    .chunks_exact(2)
                    .map(|pair| u16::from_be_bytes([pair[0], pair[1]]));
                said.extend(glyphs.map(|glyph| fonts[font].get(&glyph).copied().unwrap_or('\u{fffd}')));
                said.push('\n');
                at += 2;
            }
            _ => at += 1,
        }
    }
}

fn hexadecimal(content: &[u8], at: &mut usize) -> Vec<u8> {
    *at += 1;
    let digits: Vec<u8> = (content[*at..].iter())
        .take_while(|byte| **byte != b'>')
        .filter_map(|byte| Some(char::from(*byte).to_digit(16)? as u8))
        .collect();
    *at += find(&content[*at..], b">").map_or(content.len(), |end| end + 1);
    digits
        .chunks(2)
        .map(|pair| pair[0] << 4 | pair.get(1).unwrap_or(&0))
        .collect()
}

fn literal(content: &[u8], at: &mut usize) -> Vec<u8> {
    let (mut bytes, mut depth) = (Vec::new(), 1);
    *at += 1;
    while let Some(&byte) = content.get(*at) {
        *at += 1;
        match byte {
            b'\\' => bytes.push(escaped(content, at)),
            b')' if depth == 1 => break,
            b'(' | b')' => {
                depth = if byte == b'(' { depth + 1 } else { depth - 1 };
                bytes.push(byte);
            }
            _ => bytes.push(byte),
        }
    }
    bytes
}

/// What stands behind a backslash.
fn escaped(content: &[u8], at: &mut usize) -> u8 {
    let Some(&byte) = content.get(*at) else { return 0 };
    *at += 1;
    match byte {
        b'n' => b'\n',
        b'r' => b'\r',
        b't' => b'\t',
        b'b' => 8,
        b'f' => 12,
        b'0'..=b'7' => {
            let mut value = u32::from(byte - b'0');
            for _ in 0..2 {
                let Some(&digit @ b'0'..=b'7') = content.get(*at) else {
                    break;
                };
                value = 8 * value + u32::from(digit - b'0');
                *at += 1;
            }
            value as u8
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strings_are_read_in_each_of_their_forms() {
        let letters = Letters::carried().unwrap();
        let fonts = [false, true].map(|bold| letters.by_glyph(bold));
        let hex: String = letters
            .glyphs("1.22 %", false)
            .map(|glyph| format!("{glyph:04x}"))
            .collect();
        // Two glyphs whose numbers hold bytes that a literal string escapes: 0x0028 "(", 0x0029 ")" and 0x005C "\".
        let content =
            format!("/Span <</MCID 0>> BDC BT /F0 7 Tf <{hex}> Tj /F1 8 Tf (\\000\\050\\000\\)\\0\\\\) Tj ET EMC");
        let mut said = String::new();
        of_content(content.as_bytes(), &fonts, &mut said);
        let escaped: String = [0x28u16, 0x29, 0x5C].iter().map(|glyph| fonts[1][glyph]).collect();
        assert_eq!(said, format!("1.22 %\n{escaped}\n"));
    }

    #[test]
    fn what_is_no_pdf_has_no_words_and_broken_ones_do_no_harm() {
        assert_eq!(words(b"no PDF"), None);
        assert_eq!(words(b"%PDF-1.7\nstream\nno end"), None);
        assert_eq!(words(b"%PDF-1.7\nstream\nnot pressed\nendstream"), Some(String::new()));
        let letters = Letters::carried().unwrap();
        let fonts = [false, true].map(|bold| letters.by_glyph(bold));
        for content in ["<", "(", "(\\", "(\\7", "/F", "<12", "((", "Tj", ">>"] {
            of_content(content.as_bytes(), &fonts, &mut String::new());
        }
    }
}
