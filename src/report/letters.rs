//! Letters of DejaVu Sans Condensed, which the program carries for its plots and its PDF; their licence lies beside them.
//!
//! They have no kerning and no ligatures: a line of them is one after the other, each as wide as it is.

use std::collections::BTreeMap;
use tiny_skia::{Path, PathBuilder};
use ttf_parser::{Face, GlyphId, OutlineBuilder};

const REGULAR: &[u8] = include_bytes!("letters/regular.ttf");
const BOLD: &[u8] = include_bytes!("letters/bold.ttf");
/// Stands for what the letters do not have.
const UNKNOWN: char = '\u{FFFD}';

/// Which point of a line of text lies at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// The letters, plain and bold.
pub(super) struct Letters {
    regular: Face<'static>,
    bold: Face<'static>,
}

impl Letters {
    /// Those that the program carries; `Err` says what is wrong with them.
    pub fn carried() -> Result<Self, String> {
        let face = |bytes| Face::parse(bytes, 0).map_err(|e| format!("the letters: {e}"));
        Ok(Self {
            regular: face(REGULAR)?,
            bold: face(BOLD)?,
        })
    }

    /// A face of the letters.
    pub fn face(&self, bold: bool) -> &Face<'static> {
        if bold { &self.bold } else { &self.regular }
    }

    /// A face's file.
    pub fn file(&self, bold: bool) -> &'static [u8] {
        if bold { BOLD } else { REGULAR }
    }

    /// The numbers of a text's glyphs.
    pub fn glyphs(&self, text: &str, bold: bool) -> impl Iterator<Item = u16> {
        let face = self.face(bold);
        let glyph = |letter| face.glyph_index(letter).or_else(|| face.glyph_index(UNKNOWN));
        text.chars().filter_map(glyph).map(|glyph| glyph.0)
    }

    /// The width of a line of text of a size, in the size's unit.
    pub fn width(&self, text: &str, bold: bool, size: f32) -> f32 {
        let face = self.face(bold);
        let units = self
            .glyphs(text, bold)
            .map(|glyph| face.glyph_hor_advance(GlyphId(glyph)).unwrap_or(0));
        units.map(f32::from).sum::<f32>() * size / f32::from(face.units_per_em())
    }

    /// Each glyph's letter, by their numbers; of letters that share one, the first.
    pub fn by_glyph(&self, bold: bool) -> BTreeMap<u16, char> {
        let face = self.face(bold);
        let mut letters = BTreeMap::new();
        for table in face
            .tables()
            .cmap
            .iter()
            .flat_map(|cmap| cmap.subtables)
            .filter(|table| table.is_unicode())
        {
            table.codepoints(|code| {
                if let (Some(letter), Some(glyph)) = (char::from_u32(code), table.glyph_index(code)) {
                    letters.entry(glyph.0).or_insert(letter);
                }
            });
        }
        letters
    }

    /// The outline of a line of text of a size (px an em), whose baseline and anchor lie at a place (px); `None` where it
    /// leaves no ink.
    pub fn line(&self, text: &str, bold: bool, size: f32, anchor: Anchor, (x, y): (f32, f32)) -> Option<Path> {
        let face = self.face(bold);
        let px_per_unit = size / f32::from(face.units_per_em());
        let glyphs: Vec<GlyphId> = self.glyphs(text, bold).map(GlyphId).collect();
        let width_px = |glyph| f32::from(face.glyph_hor_advance(glyph).unwrap_or(0)) * px_per_unit;
        let wide_px: f32 = glyphs.iter().map(|&glyph| width_px(glyph)).sum();
        let before = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => wide_px / 2.0,
            Anchor::End => wide_px,
        };
        let mut pen = Pen {
            path: PathBuilder::new(),
            x: x - before,
            y,
            px_per_unit,
        };
        for glyph in glyphs {
            face.outline_glyph(glyph, &mut pen);
            pen.x += width_px(glyph);
        }
        pen.path.finish()
    }
}

/// Writes glyphs, whose units run upwards, into a path, whose px run downwards.
struct Pen {
    path: PathBuilder,
    x: f32,
    y: f32,
    px_per_unit: f32,
}

impl Pen {
    fn at(&self, x: f32, y: f32) -> (f32, f32) {
        (self.x + x * self.px_per_unit, self.y - y * self.px_per_unit)
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.path.move_to(x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.path.line_to(x, y);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let ((x1, y1), (x, y)) = (self.at(x1, y1), self.at(x, y));
        self.path.quad_to(x1, y1, x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let ((x1, y1), (x2, y2), (x, y)) = (self.at(x1, y1), self.at(x2, y2), self.at(x, y));
        self.path.cubic_to(x1, y1, x2, y2, x, y);
    }

    fn close(&mut self) {
        self.path.close();
    }
}
