//! Text into lines: what fits, and where each run of letters begins.

use super::super::document::{Run, Sign, Text};
use super::super::drawn::circle;
use super::super::drawn::{Colour, Stroke, way};
use super::super::letters::Letters;
use super::super::signs::{Manner, Part, SIDE, parts};
use super::super::text::kept_together;
use super::ink::{Ink, Row};
use super::tags::Tag;

pub(super) const INK: Colour = [0x1b, 0x1f, 0x24];
pub(super) const FAINT: Colour = [0x55, 0x5d, 0x66];
pub(super) const RULE: Colour = [0xc9, 0xce, 0xd3];
pub(super) const ACCENT: Colour = [0x0b, 0x48, 0x63];
const BAD: Colour = [0x8f, 0x2a, 0x0e];
const OPEN: Colour = [0x5e, 0x4b, 0x00];
const PAPER: Colour = [0xff, 0xff, 0xff];

/// How text is set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    /// Size of the letters, pt.
    pub size: f32,
    pub bold: bool,
    pub colour: Colour,
}

impl Look {
    pub fn plain(size: f32) -> Self {
        Self {
            size,
            bold: false,
            colour: INK,
        }
    }

    pub fn bold(size: f32) -> Self {
        Self {
            bold: true,
            ..Self::plain(size)
        }
    }

    pub fn faint(size: f32) -> Self {
        Self {
            colour: FAINT,
            ..Self::plain(size)
        }
    }

    /// From one baseline to the next, pt.
    pub fn leading(self) -> f32 {
        1.3 * self.size
    }
}

/// A run of letters of one kind, or a sign.
#[derive(Debug, Clone, PartialEq)]
enum Bit {
    Letters { text: String, bold: bool, low: bool },
    Sign(Sign),
}

/// What no line's end parts.
#[derive(Debug, Clone, Default)]
struct Word(Vec<Bit>);

/// A line as set.
#[derive(Debug, Clone, Default)]
pub(super) struct Line {
    parts: Vec<Bit>,
    pub width: f32,
}

/// Sets text in the letters that the program carries.
pub(super) struct Setter(pub Letters);

impl Setter {
    /// Width of a line of letters, pt.
    pub fn width(&self, text: &str, bold: bool, size: f32) -> f32 {
        self.0.width(text, bold, size)
    }

    fn part_width(&self, part: &Bit, look: Look) -> f32 {
        match part {
            Bit::Letters { text, bold, low } => {
                let size = if *low { 0.75 * look.size } else { look.size };
                self.width(text, *bold || look.bold, size)
            }
            Bit::Sign(_) => 1.15 * look.size,
        }
    }

    fn word_width(&self, word: &Word, look: Look) -> f32 {
        word.0.iter().map(|part| self.part_width(part, look)).sum()
    }

    /// The widest word, pt: narrower no column can be.
    pub fn least_width(&self, text: &Text, look: Look) -> f32 {
        let widths = words(text).into_iter().map(|word| self.word_width(&word, look));
        widths.fold(0.0, f32::max)
    }

    /// The whole text on one line, pt.
    pub fn full_width(&self, text: &Text, look: Look) -> f32 {
        let lines = self.lines(text, look, f32::INFINITY);
        lines.iter().map(|line| line.width).fold(0.0, f32::max)
    }

    /// The text in lines of at most this width; a word that is wider is parted between its letters.
    pub fn lines(&self, text: &Text, look: Look, width: f32) -> Vec<Line> {
        let space = self.width(" ", look.bold, look.size);
        let mut lines: Vec<Line> = Vec::new();
        let mut line = Line::default();
        for word in words(text).into_iter().flat_map(|word| self.parted(word, look, width)) {
            let wide = self.word_width(&word, look);
            let is_first = line.parts.is_empty();
            if !is_first && line.width + space + wide > width {
                lines.push(std::mem::take(&mut line));
            }
            if line.parts.is_empty() {
                line.width = wide;
            } else {
                line.width += space + wide;
                line.push(Bit::Letters {
                    text: " ".to_owned(),
                    bold: false,
                    low: false,
                });
            }
            word.0.into_iter().for_each(|part| line.push(part));
        }
        if !line.parts.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// A word in pieces that fit.
    fn parted(&self, word: Word, look: Look, width: f32) -> Vec<Word> {
        if self.word_width(&word, look) <= width {
            return vec![word];
        }
        let mut pieces = vec![Word::default()];
        let mut wide = 0.0;
        for part in word.0 {
            let letters: Vec<Bit> = match part {
                Bit::Letters { text, bold, low } => {
                    let one = |letter: char| Bit::Letters {
                        text: letter.to_string(),
                        bold,
                        low,
                    };
                    text.chars().map(one).collect()
                }
                sign => vec![sign],
            };
            for letter in letters {
                let more = self.part_width(&letter, look);
                if wide > 0.0 && wide + more > width {
                    pieces.push(Word::default());
                    wide = 0.0;
                }
                wide += more;
                if let Some(last) = pieces.last_mut() {
                    last.0.push(letter);
                }
            }
        }
        pieces
    }

    /// A line's inks, its baseline and start at a place.
    pub fn set(&self, line: &Line, look: Look, (mut x, y): (f32, f32), tag: Tag) -> Vec<(Tag, Ink)> {
        let mut inks = Vec::new();
        for part in &line.parts {
            let width = self.part_width(part, look);
            match part {
                Bit::Letters { text, bold, low } => {
                    let (size, down) = if *low {
                        (0.75 * look.size, 0.2 * look.size)
                    } else {
                        (look.size, 0.0)
                    };
                    inks.push((
                        tag,
                        Ink::Words {
                            at: (x, y + down),
                            size,
                            bold: *bold || look.bold,
                            colour: look.colour,
                            text: text.clone(),
                        },
                    ));
                }
                Bit::Sign(sign) => inks.extend(sign_at(*sign, (x, y), look.size, tag)),
            }
            x += width;
        }
        inks
    }

    /// A paragraph as one row.
    pub fn paragraph(&self, text: &Text, look: Look, width: f32, tag: Tag) -> Row {
        let lines = self.lines(text, look, width);
        let inks = lines.iter().enumerate().flat_map(|(n, line)| {
            let y = n as f32 * look.leading() + look.size;
            self.set(line, look, (0.0, y), tag)
        });
        Row {
            inks: inks.collect(),
            height: lines.len() as f32 * look.leading(),
            ..Row::default()
        }
    }
}

impl Line {
    /// Adds a part, to the one before where both are set alike.
    fn push(&mut self, part: Bit) {
        if let (
            Some(Bit::Letters { text, bold, low }),
            Bit::Letters {
                text: more,
                bold: more_bold,
                low: more_low,
            },
        ) = (self.parts.last_mut(), &part)
            && (*bold, *low) == (*more_bold, *more_low)
        {
            text.push_str(more);
            return;
        }
        // A space belongs to what stands before it, however that is set.
        if let (Some(Bit::Letters { text, .. }), Bit::Letters { text: more, .. }) = (self.parts.last_mut(), &part)
            && more == " "
        {
            text.push(' ');
            return;
        }
        self.parts.push(part);
    }
}

fn words(text: &Text) -> Vec<Word> {
    let mut words = Vec::new();
    let mut word = Word::default();
    for run in &text.0 {
        let (said, bold, low) = match run {
            Run::Plain(said) | Run::Emphasis(said) | Run::Code(said) => (said.as_str(), false, false),
            Run::Strong(said) => (said.as_str(), true, false),
            Run::Low(said) => (said.as_str(), false, true),
            Run::Word(sign, said) => {
                word.0.extend(sign.map(Bit::Sign));
                (said.as_str(), true, false)
            }
            Run::Sign(sign) => {
                word.0.push(Bit::Sign(*sign));
                ("", false, false)
            }
        };
        let said = kept_together(&said.replace('\n', " "));
        for (n, piece) in said.split(' ').enumerate() {
            if n > 0 && !word.0.is_empty() {
                words.push(std::mem::take(&mut word));
            }
            let mut letters = String::new();
            for letter in piece.chars() {
                // Words that come as plain text hold signs as letters.
                let Some(sign) = Sign::drawn_for(letter) else {
                    letters.push(letter);
                    continue;
                };
                push_letters(&mut word, &mut letters, bold, low);
                word.0.push(Bit::Sign(sign));
            }
            push_letters(&mut word, &mut letters, bold, low);
        }
    }
    if !word.0.is_empty() {
        words.push(word);
    }
    words
}

fn push_letters(word: &mut Word, letters: &mut String, bold: bool, low: bool) {
    if !letters.is_empty() {
        let text = std::mem::take(letters);
        word.0.push(Bit::Letters { text, bold, low });
    }
}

/// A sign as high as letters of a size, on their baseline.
pub(super) fn sign_at(sign: Sign, (x, y): (f32, f32), size: f32, tag: Tag) -> Vec<(Tag, Ink)> {
    let colour = match sign {
        Sign::Good | Sign::Moves => ACCENT,
        Sign::Bad | Sign::Still => BAD,
        Sign::Open => OPEN,
        Sign::Refused | Sign::Faint | Sign::Beware => FAINT,
    };
    let side = 0.85 * size;
    let scale = side / SIDE;
    let shape = |part: &Part| {
        let (steps, manner) = match *part {
            Part::Disc(radius, manner) => (circle((SIDE / 2.0, SIDE / 2.0), radius), manner),
            // The outlines are our own, and a test draws all of them.
            Part::Way(d, manner) => (way(d).unwrap_or_default(), manner),
        };
        let line = |colour| Stroke {
            colour,
            width: 1.8 * scale,
            dashes: Vec::new(),
            round: true,
        };
        let (fill, stroke) = match manner {
            Manner::Filled => (Some(colour), None),
            Manner::Cut => (None, Some(line(PAPER))),
            Manner::Line => (None, Some(line(colour))),
        };
        let at = |x0: f32, y0: f32| (x + scale * x0, y - 0.9 * side + scale * y0);
        let outline = super::placed(&steps, at);
        let ink = Ink::Shape {
            outline,
            fill,
            stroke,
            opacity: 1.0,
            clip: None,
        };
        (tag, ink)
    };
    parts(sign).iter().map(shape).collect()
}
