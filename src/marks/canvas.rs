//! One page being drawn: lengths in mm from the page's lower left corner, y upward, as a ruler laid on the paper.

use super::Paper;
use super::helvetica::{Font, win_ansi};
use pdf_writer::{Content, Name, Str};

/// Points in a millimetre: a PDF point is 1/72 inch (ISO 32000-1, 8.3.2.3), an inch is 25.4 mm.
const PT_PER_MM: f64 = 72.0 / 25.4;

/// Height of a capital letter of Helvetica over its size (AFM `CapHeight`).
const CAP_HEIGHT: f64 = 0.718;

/// Baseline to baseline over the font size.
const LEADING: f64 = 1.22;

/// Millimetres in points, as the PDF wants them. 32 bits hold a page's length to better than 0.0001 mm.
pub(super) fn pt(length_mm: f64) -> f32 {
    (length_mm * PT_PER_MM) as f32
}

/// Where a line of text hangs from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    /// Its left end.
    Left,
    /// Its middle.
    Centre,
}

/// A page being drawn, black on white.
pub(super) struct Canvas {
    content: Content,
    paper: Paper,
    /// Left, bottom, right and top of everything drawn so far, mm.
    inked_mm: [f64; 4],
}

impl Canvas {
    /// An empty page.
    pub(super) fn new(paper: Paper) -> Self {
        Self {
            content: Content::new(),
            paper,
            inked_mm: [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY],
        }
    }

    /// The paper drawn on.
    pub(super) fn paper(&self) -> Paper {
        self.paper
    }

    /// Left, bottom, right and top of everything drawn so far, mm.
    #[cfg(test)]
    pub(super) fn inked_mm(&self) -> [f64; 4] {
        self.inked_mm
    }

    /// The page's content stream.
    pub(super) fn finish(self) -> Vec<u8> {
        self.content.finish().into_vec()
    }

    fn note_ink(&mut self, x_mm: f64, y_mm: f64) {
        let [left, bottom, right, top] = self.inked_mm;
        self.inked_mm = [left.min(x_mm), bottom.min(y_mm), right.max(x_mm), top.max(y_mm)];
    }

    fn trace(&mut self, loops_mm: &[Vec<[f64; 2]>]) {
        for corners in loops_mm {
            for (n, &[x_mm, y_mm]) in corners.iter().enumerate() {
                self.note_ink(x_mm, y_mm);
                if n == 0 {
                    self.content.move_to(pt(x_mm), pt(y_mm));
                } else {
                    self.content.line_to(pt(x_mm), pt(y_mm));
                }
            }
            self.content.close_path();
        }
    }

    /// Fills closed outlines as one shape, even-odd, so that no hairline gap can open between its parts. `gray` is 0
    /// for black and 1 for white.
    pub(super) fn fill(&mut self, loops_mm: &[Vec<[f64; 2]>], gray: f32) {
        self.content.set_fill_gray(gray);
        self.trace(loops_mm);
        self.content.fill_even_odd();
    }

    /// Fills a rectangle given by its lower left corner and its size, mm.
    pub(super) fn fill_rect(&mut self, x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64, gray: f32) {
        self.fill(&[rect(x_mm, y_mm, width_mm, height_mm)], gray);
    }

    /// Draws the outline of a rectangle given by its lower left corner and its size, mm.
    pub(super) fn frame(&mut self, x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64, line_mm: f64) {
        self.set_line(line_mm, &[]);
        self.trace(&[rect(x_mm, y_mm, width_mm, height_mm)]);
        self.content.stroke();
    }

    fn set_line(&mut self, line_mm: f64, dashes_mm: &[f64]) {
        self.content.set_stroke_gray(0.0).set_line_width(pt(line_mm));
        self.content
            .set_dash_pattern(dashes_mm.iter().map(|&dash_mm| pt(dash_mm)), 0.0);
    }

    /// Draws a line through the points; `dashes_mm` empty for a full line.
    pub(super) fn line(&mut self, points_mm: &[[f64; 2]], line_mm: f64, dashes_mm: &[f64]) {
        self.set_line(line_mm, dashes_mm);
        for (n, &[x_mm, y_mm]) in points_mm.iter().enumerate() {
            self.note_ink(x_mm, y_mm);
            if n == 0 {
                self.content.move_to(pt(x_mm), pt(y_mm));
            } else {
                self.content.line_to(pt(x_mm), pt(y_mm));
            }
        }
        self.content.stroke();
    }

    /// Draws an arrow along x or y with its head at `to_mm`.
    pub(super) fn arrow(&mut self, from_mm: [f64; 2], to_mm: [f64; 2], line_mm: f64, head_mm: f64) {
        let [dx, dy] = [to_mm[0] - from_mm[0], to_mm[1] - from_mm[1]];
        let length_mm = dx.hypot(dy);
        if length_mm <= head_mm {
            return;
        }
        let [ux, uy] = [dx / length_mm, dy / length_mm];
        let neck = [to_mm[0] - ux * head_mm, to_mm[1] - uy * head_mm];
        let half_mm = head_mm * 0.45;
        self.line(&[from_mm, neck], line_mm, &[]);
        self.fill(
            &[vec![
                to_mm,
                [neck[0] - uy * half_mm, neck[1] + ux * half_mm],
                [neck[0] + uy * half_mm, neck[1] - ux * half_mm],
            ]],
            0.0,
        );
    }

    /// Writes one line; `y_mm` is its baseline. Returns the line's width, mm.
    pub(super) fn text(&mut self, x_mm: f64, y_mm: f64, align: Align, font: Font, size_pt: f64, text: &str) -> f64 {
        self.text_gray(x_mm, y_mm, align, font, size_pt, 0.0, text)
    }

    /// As [`Self::text`], in `gray` from 0 for black to 1 for white.
    #[expect(
        clippy::too_many_arguments,
        reason = "a line of text has a place, a hang, a font, a size and a shade"
    )]
    pub(super) fn text_gray(
        &mut self,
        x_mm: f64,
        y_mm: f64,
        align: Align,
        font: Font,
        size_pt: f64,
        gray: f32,
        text: &str,
    ) -> f64 {
        let width_mm = font.width_pt(text, size_pt) / PT_PER_MM;
        let left_mm = match align {
            Align::Left => x_mm,
            Align::Centre => x_mm - width_mm / 2.0,
        };
        let size_mm = size_pt / PT_PER_MM;
        self.note_ink(left_mm, y_mm - 0.21 * size_mm);
        self.note_ink(left_mm + width_mm, y_mm + CAP_HEIGHT * size_mm);
        self.content.set_fill_gray(gray).begin_text();
        self.content
            .set_font(Name(font.names().0), size_pt as f32)
            .next_line(pt(left_mm), pt(y_mm))
            .show(Str(&win_ansi(text)))
            .end_text();
        width_mm
    }

    /// Writes a text wrapped to `width_mm`, its first line's top at `top_mm`. Returns where the next text's top may be.
    pub(super) fn paragraph(
        &mut self,
        x_mm: f64,
        top_mm: f64,
        width_mm: f64,
        font: Font,
        size_pt: f64,
        text: &str,
    ) -> f64 {
        let line_mm = size_pt * LEADING / PT_PER_MM;
        let mut top_mm = top_mm;
        for line in wrap(text, font, size_pt, width_mm * PT_PER_MM) {
            let baseline_mm = top_mm - CAP_HEIGHT * size_pt / PT_PER_MM;
            self.text(x_mm, baseline_mm, Align::Left, font, size_pt, &line);
            top_mm -= line_mm;
        }
        top_mm
    }
}

fn rect(x_mm: f64, y_mm: f64, width_mm: f64, height_mm: f64) -> Vec<[f64; 2]> {
    let [right_mm, top_mm] = [x_mm + width_mm, y_mm + height_mm];
    vec![[x_mm, y_mm], [right_mm, y_mm], [right_mm, top_mm], [x_mm, top_mm]]
}

/// Breaks a text at its spaces into lines no wider than `width_pt`; a word wider than that has its own line.
fn wrap(text: &str, font: Font, size_pt: f64, width_pt: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if font.width_pt(&format!("{line} {word}"), size_pt) <= width_pt => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_wrap_at_the_width() {
        // "aa" is 2 x 556, a space 278: at 10 pt "aa aa" is 25.02 pt wide, "aa aa aa" 38.92 pt.
        assert_eq!(wrap("aa aa aa", Font::Regular, 10.0, 38.93), ["aa aa aa"]);
        assert_eq!(wrap("aa aa aa", Font::Regular, 10.0, 38.91), ["aa aa", "aa"]);
        assert_eq!(wrap("aaaa a", Font::Regular, 10.0, 5.0), ["aaaa", "a"]);
        assert!(wrap(" ", Font::Regular, 10.0, 5.0).is_empty());
    }

    #[test]
    fn points_are_72_to_the_inch() {
        assert_eq!(pt(25.4), 72.0);
        assert!((f64::from(pt(297.0)) - 841.889_764).abs() < 1e-4);
    }
}
