//! Widths of Helvetica's glyphs, so that lines can be wrapped and centred without embedding a font.
//!
//! Helvetica is one of the 14 fonts that every PDF reader has (ISO 32000-1, 9.6.2.2), so that nothing is embedded and
//! the sheets stay small. Source of the widths: the published "Core 14" AFM files, WX column, for the characters of
//! WinAnsi encoding that the sheets use.

/// A font of the sheets, one of the 14 that every PDF reader has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Font {
    /// Running text.
    Regular,
    /// Headings and the sheet's number.
    Bold,
    /// Lines to be typed into a file, every glyph as wide as the next.
    Typewriter,
}

impl Font {
    /// All fonts, in the order of their PDF objects.
    pub(super) const ALL: [Self; 3] = [Self::Regular, Self::Bold, Self::Typewriter];

    /// The name that the page content calls the font by, and the font's own name.
    pub(super) fn names(self) -> (&'static [u8], &'static [u8]) {
        match self {
            Self::Regular => (b"R", b"Helvetica"),
            Self::Bold => (b"B", b"Helvetica-Bold"),
            Self::Typewriter => (b"T", b"Courier"),
        }
    }

    /// Width of `text` set at `size_pt`, pt.
    pub(super) fn width_pt(self, text: &str, size_pt: f64) -> f64 {
        let thousandths: u32 = text.chars().map(|c| self.glyph_width(c)).sum();
        f64::from(thousandths) * size_pt / 1000.0
    }

    /// Width of one glyph in thousandths of the font size.
    fn glyph_width(self, c: char) -> u32 {
        let widths = match self {
            Self::Regular => &REGULAR,
            Self::Bold => &BOLD,
            Self::Typewriter => return 600,
        };
        let index = (c as usize).checked_sub(32);
        if let Some(width) = index.and_then(|n| widths.get(n)) {
            return u32::from(*width);
        }
        match c {
            '°' => 400,
            '±' | '×' => 584,
            // En dash, and whatever is missing here: as wide as a figure.
            _ => 556,
        }
    }
}

/// `text` in WinAnsi encoding (ISO 32000-1, annex D). A character that the sheets' texts have no use for becomes "?".
pub(super) fn win_ansi(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| match c {
            ' '..='~' => c as u8,
            '–' => 0x96,
            '°' | '±' | '×' => c as u32 as u8,
            _ => b'?',
        })
        .collect()
}

/// Helvetica, characters 32 to 126.
#[rustfmt::skip]
const REGULAR: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
];

/// Helvetica-Bold, characters 32 to 126.
#[rustfmt::skip]
const BOLD: [u16; 95] = [
    278, 333, 474, 556, 556, 889, 722, 238, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 333, 333, 584, 584, 584, 611,
    975, 722, 722, 722, 722, 667, 611, 778, 722, 278, 556, 722, 611, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 333, 278, 333, 584, 556,
    333, 556, 611, 556, 611, 556, 333, 611, 611, 278, 278, 556, 278, 889, 611, 611,
    611, 611, 389, 556, 333, 611, 556, 778, 556, 556, 500, 389, 280, 389, 584,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_follow_the_afm_files() {
        // By hand from the AFM files: m 833, a 556, r 333, k 500, space 278, 3 556; bold m 889, r 389, k 556.
        assert!((Font::Regular.width_pt("mark 3", 10.0) - 30.56).abs() < 1e-9);
        assert!((Font::Bold.width_pt("mark 3", 10.0) - 32.24).abs() < 1e-9);
        assert!((Font::Typewriter.width_pt("mark 3", 10.0) - 36.0).abs() < 1e-9);
        assert!((Font::Regular.width_pt("1°~", 10.0) - 15.4).abs() < 1e-9);
    }

    #[test]
    fn encoding_is_win_ansi() {
        assert_eq!(win_ansi("a–°±×~"), [b'a', 0x96, 0xb0, 0xb1, 0xd7, b'~']);
        assert_eq!(win_ansi("≥"), b"?");
    }
}
