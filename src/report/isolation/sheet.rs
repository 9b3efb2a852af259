//! Sheets of A4 for the garage wall: letters to be read from an arm's length, in boxes that are not torn apart.

use super::drawing::{rectangle, white, words};
use crate::language::{Language, Said, said};
use crate::report::text::{plain, shorten, wrap};
use svg::Document;
use svg::node::element::{Definitions, Group};

// A4, in tenths of a millimetre.
/// Width and height of a sheet.
const SHEET: (usize, usize) = (2100, 2970);
/// Around what stands on a sheet.
pub(super) const MARGIN: usize = 130;
/// Room from margin to margin.
pub(super) const BREADTH: usize = SHEET.0 - 2 * MARGIN;
/// Size of the letters: capitals are 3 mm high.
pub(super) const LETTERS: usize = 43;
/// From one line to the next.
pub(super) const LINE: usize = 55;
/// From a box's edge to its words.
pub(super) const PADDING: usize = 40;
/// Below a box, and within it above and below its lines.
pub(super) const GAP: usize = 26;
/// Room for boxes on a sheet, below its heading.
pub(super) const ROOM: usize = SHEET.1 - 2 * MARGIN - 3 * LINE;

/// Letters that fit on a line of a box: a bold one is as broad as 0.58 of its size, about.
pub(super) const fn line_letters(box_breadth: usize) -> usize {
    (box_breadth - 2 * PADDING) * 100 / (58 * LETTERS)
}

/// A line, and whether it is bold.
pub(super) type Line = (String, bool);

/// Lines in one box that is not torn apart.
pub(super) struct Boxed {
    pub lines: Vec<Line>,
    /// Repairs have corners and a heavy border.
    pub is_repair: bool,
}

impl Boxed {
    /// Lines in as many boxes as they need: more than a sheet holds goes on with the next.
    pub fn of_many(lines: &[Line]) -> Vec<Self> {
        let boxed = |lines: &[Line]| Self {
            lines: lines.to_vec(),
            is_repair: false,
        };
        lines.chunks((ROOM - 3 * GAP) / LINE).map(boxed).collect()
    }

    pub fn height(&self) -> usize {
        self.lines.len() * LINE + 2 * GAP
    }

    /// The box from `top` down.
    pub fn drawn(&self, top: usize) -> Group {
        let (round, stroke) = if self.is_repair { (0, 10) } else { (30, 4) };
        let mut group = Group::new().add(
            rectangle((MARGIN, top), (BREADTH, self.height()), "#ffffff")
                .set("rx", round)
                .set("stroke", "#000000")
                .set("stroke-width", stroke),
        );
        for (n, (text, bold)) in self.lines.iter().enumerate() {
            let base = top + GAP + LETTERS + n * LINE;
            group = group.add(words(text, (MARGIN + PADDING, base), LETTERS, *bold));
        }
        group
    }
}

/// A text in lines of a box.
pub(super) fn wrapped(text: &str, indent: usize, bold: bool) -> impl Iterator<Item = Line> + use<> {
    wrap(&plain(text), line_letters(BREADTH), indent)
        .into_iter()
        .map(move |line| (line, bold))
}

/// What can hurt, each once.
pub(super) fn take_care<'a>(language: Language, hazards: impl Iterator<Item = &'a Said>) -> Vec<Line> {
    let mut each: Vec<&str> = Vec::new();
    for hazard in hazards.map(|hazard| hazard.within(language)) {
        if !each.contains(&hazard) {
            each.push(hazard);
        }
    }
    let before = said!(language; "Before all else, take care:", "Vor allem anderen beachten:");
    let mut lines = vec![(before, true)];
    lines.extend(
        each.into_iter()
            .flat_map(|hazard| wrapped(&format!("! {hazard}"), 2, true)),
    );
    lines
}

/// Where things of these heights stand, one below the other, none across the end of a sheet; and the number of sheets.
pub(super) fn places(heights: &[usize]) -> (Vec<usize>, usize) {
    let (mut sheets, mut filled) = (1, 0);
    let mut tops = Vec::new();
    for height in heights {
        let high = height + GAP;
        if filled + high > ROOM && filled > 0 {
            sheets += 1;
            filled = 0;
        }
        tops.push((sheets - 1) * SHEET.1 + MARGIN + 2 * LINE + filled);
        filled += high;
    }
    (tops, sheets)
}

/// So many empty sheets, one below the other, each with its heading.
pub(super) fn document(
    language: Language,
    count: usize,
    name: &str,
    title: &str,
    definitions: Definitions,
) -> Document {
    let mut drawing = white((SHEET.0, SHEET.1 * count), title, definitions)
        .set("width", format!("{}mm", SHEET.0 / 10))
        .set("height", format!("{}mm", SHEET.1 * count / 10));
    for n in 0..count {
        // The heading has two lines; a name of the reader's own may be longer than both.
        let name = shorten(&plain(name), 2 * line_letters(BREADTH) - 30);
        let heading = said!(language; "Sheet {} of {count}: {name}", "Blatt {} von {count}: {name}"; n + 1);
        for (line, text) in wrap(&heading, line_letters(BREADTH), 0).iter().take(2).enumerate() {
            let at = (MARGIN, n * SHEET.1 + MARGIN + LETTERS + line * LINE);
            drawing = drawing.add(words(text, at, LETTERS, true));
        }
    }
    drawing
}
