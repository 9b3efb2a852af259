//! The system drawn: each part a box, vacuum running from left to right or from top to bottom, and where each part stands after the trials.
//!
//! Nothing is told by colour alone: each box has a sign and a word, and its border and hatching differ, too.

use super::percent;
use crate::isolate::{Isolated, Standing};
use crate::record::System;
use crate::report::text::{plain, wrap};
use svg::Document;
use svg::node::element::{Definitions, Group, Path, Pattern, Rectangle, Text, Title};

/// Width of a box, px.
const BOX_PX: usize = 178;
/// Height of a box, px.
const HIGH_PX: usize = 84;
/// Between a component and the next that its vacuum goes to, px.
const STEP_PX: usize = 40;
/// Between components that stand side by side, px.
const GAP_PX: usize = 28;
/// Around the drawing, px.
const MARGIN_PX: usize = 20;
/// Letters of a box's line.
const LETTERS: usize = 23;

/// Which way the vacuum runs in a drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// From left to right, with the system's name above: a sheet by itself.
    Right,
    /// From top to bottom and narrow, so that it can be read on a phone and beside text; the name is left to the caption.
    Down,
}

/// Step of each component, counted from the source: one to the right of the last that its vacuum comes from. A ring, which no car has, ends
/// after as many steps as there are components.
fn steps(system: &System, flow: Flow) -> Vec<usize> {
    let count = system.components.len();
    let mut steps = vec![0; count];
    for _ in 0..count {
        for c in 0..count {
            let before = system.components[c].after.iter().map(|&a| steps[a] + 1).max();
            steps[c] = before.unwrap_or(0).min(count);
        }
    }
    if steps.iter().all(|step| *step == 0) {
        // Nothing says how they are connected: in rows.
        return match flow {
            Flow::Right => (0..count).map(|c| c % 4).collect(),
            Flow::Down => (0..count).map(|c| c / 2).collect(),
        };
    }
    steps
}

/// Where the components stand.
struct Layout {
    flow: Flow,
    /// Each component's step, and its place among those of the step.
    places: Vec<(usize, usize)>,
    /// Components of each step.
    filled: Vec<usize>,
}

impl Layout {
    fn new(system: &System, flow: Flow) -> Self {
        let steps = steps(system, flow);
        let mut filled = vec![0; steps.iter().max().map_or(0, |step| step + 1)];
        let place = |step: usize| {
            filled[step] += 1;
            (step, filled[step] - 1)
        };
        Self {
            flow,
            places: steps.into_iter().map(place).collect(),
            filled,
        }
    }

    fn broadest(&self) -> usize {
        self.filled.iter().copied().max().unwrap_or(1).max(1)
    }

    /// Sizes of a box along the flow and across it, px.
    fn box_px(&self) -> (usize, usize) {
        match self.flow {
            Flow::Right => (BOX_PX, HIGH_PX),
            Flow::Down => (HIGH_PX, BOX_PX),
        }
    }

    /// Left of and above the boxes, px.
    fn margins_px(&self) -> (usize, usize) {
        match self.flow {
            Flow::Right => (MARGIN_PX, 60),
            Flow::Down => (4, MARGIN_PX / 2),
        }
    }

    /// The upper left corner of a component's box, px.
    fn at(&self, c: usize) -> (usize, usize) {
        let ((along_px, across_px), (left, top)) = (self.box_px(), self.margins_px());
        let (step, place) = self.places[c];
        // Steps with few parts stand in the middle of those with many.
        let slack = (self.broadest() - self.filled[step]) * (across_px + GAP_PX) / 2;
        let along = step * (along_px + STEP_PX);
        let across = slack + place * (across_px + GAP_PX);
        match self.flow {
            Flow::Right => (left + along, top + across),
            Flow::Down => (left + across, top + along),
        }
    }

    /// Width and height of the drawing, px.
    fn size(&self) -> (usize, usize) {
        let ((along_px, across_px), (left, top)) = (self.box_px(), self.margins_px());
        let length = self.filled.len().max(1) * (along_px + STEP_PX) - STEP_PX;
        let breadth = self.broadest() * (across_px + GAP_PX) - GAP_PX;
        match self.flow {
            Flow::Right => (2 * left + length, top + breadth + 44),
            // As broad as two parts at the least, for the signs' meaning below.
            Flow::Down => (2 * left + breadth.max(2 * BOX_PX + GAP_PX), top + length + 40),
        }
    }

    /// A line from one box to the next that its vacuum goes to.
    fn line(&self, before: usize, after: usize) -> Path {
        let ((x1, y1), (x2, y2)) = (self.at(before), self.at(after));
        let way = match self.flow {
            Flow::Right => {
                let (from, turn) = (x1 + BOX_PX, x1 + BOX_PX + STEP_PX / 2);
                format!("M{from} {} H{turn} V{} H{x2}", y1 + HIGH_PX / 2, y2 + HIGH_PX / 2)
            }
            Flow::Down => {
                let (from, turn) = (y1 + HIGH_PX, y1 + HIGH_PX + STEP_PX / 2);
                format!("M{} {from} V{turn} H{} V{y2}", x1 + BOX_PX / 2, x2 + BOX_PX / 2)
            }
        };
        path(&way, "#333333", 3.0)
    }
}

/// The system as a whole SVG document.
#[must_use]
pub fn draw(isolation: &Isolated, flow: Flow) -> String {
    let system = &isolation.system;
    let layout = Layout::new(system, flow);
    let (size, (left, _)) = (layout.size(), layout.margins_px());
    let mut drawing = document(size, &system.name, hatching());
    if flow == Flow::Right {
        drawing = drawing.add(words(&system.name, (left, 34), 18, true));
    }
    for (c, component) in system.components.iter().enumerate() {
        for &before in &component.after {
            drawing = drawing.add(layout.line(before, c));
        }
    }
    for (c, standing) in isolation.standings().into_iter().enumerate() {
        drawing = drawing.add(part(isolation, c, standing, layout.at(c)));
    }
    let legend = [
        Standing::Suspected,
        Standing::Possible,
        Standing::Cleared,
        Standing::Open,
    ]
    .map(|standing| format!("{} {standing}", standing.sign()))
    .join("    ");
    drawing = drawing.add(words(&legend, (left, size.1 - 16), 13, false));
    format!("{drawing}\n")
}

/// A component's box: where it stands, its probability, and what it is.
fn part(isolation: &Isolated, c: usize, standing: Standing, (x, y): (usize, usize)) -> Group {
    let component = &isolation.system.components[c];
    let probability = percent(isolation.answer.by_component[c]);
    let (fill, stroke, dash) = match standing {
        Standing::Suspected => ("url(#isolate-hatch)", 5, ""),
        Standing::Possible => ("#ffffff", 3, "9 5"),
        Standing::Cleared => ("#ffffff", 2, ""),
        Standing::Open => ("#f2f2f2", 1, "2 4"),
    };
    let mut border = rectangle((x, y), (BOX_PX, HIGH_PX), fill)
        .set("stroke", "#000000")
        .set("stroke-width", stroke);
    if !dash.is_empty() {
        border = border.set("stroke-dasharray", dash);
    }
    let title = format!("{}: {standing}, {probability}", component.id);
    let mut part = Group::new().add(Title::new(clean(&title))).add(border);
    if standing == Standing::Suspected {
        // Words stand on white; the hatching is left as a frame.
        part = part.add(rectangle((x + 8, y + 7), (BOX_PX - 16, HIGH_PX - 14), "#ffffff"));
    }
    let first = format!("{} {standing} {probability}", standing.sign());
    part = part.add(words(&first, (x + 12, y + 23), 13, true));
    for (n, line) in wrap(&plain(&component.label), LETTERS, 0).iter().take(3).enumerate() {
        part = part.add(words(line, (x + 12, y + 40 + 17 * n), 13, false));
    }
    part
}

fn hatching() -> Definitions {
    let pattern = Pattern::new()
        .set("id", "isolate-hatch")
        .set("width", 9)
        .set("height", 9)
        .set("patternUnits", "userSpaceOnUse")
        .set("patternTransform", "rotate(45)")
        .add(rectangle((0, 0), (9, 9), "#fff0dc"))
        .add(path("M0 0V9", "#c46200", 2.0));
    Definitions::new().add(pattern)
}

/// A white sheet of some px with a title for readers that speak.
pub(super) fn document((wide, high): (usize, usize), title: &str, definitions: Definitions) -> Document {
    Document::new()
        .set("viewBox", format!("0 0 {wide} {high}"))
        .set("width", wide)
        .set("height", high)
        .set("font-family", "sans-serif")
        .set("role", "img")
        .add(Title::new(clean(title)))
        .add(definitions)
        .add(rectangle((0, 0), (wide, high), "#ffffff"))
}

/// A line of text whose blanks count.
pub(super) fn words(text: &str, (x, y): (usize, usize), size: usize, bold: bool) -> Text {
    let words = Text::new(clean(text))
        .set("x", x)
        .set("y", y)
        .set("font-size", size)
        .set("xml:space", "preserve");
    if bold { words.set("font-weight", "bold") } else { words }
}

/// One line without characters that XML does not know; markup in it is the `svg` crate's to escape.
fn clean(text: &str) -> String {
    plain(text).replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}")
}

pub(super) fn rectangle((x, y): (usize, usize), (wide, high): (usize, usize), fill: &str) -> Rectangle {
    Rectangle::new()
        .set("x", x)
        .set("y", y)
        .set("width", wide)
        .set("height", high)
        .set("fill", fill)
}

/// A line along a way, unfilled.
pub(super) fn path(way: &str, stroke: &str, width: f64) -> Path {
    Path::new()
        .set("d", way)
        .set("fill", "none")
        .set("stroke", stroke)
        .set("stroke-width", width)
}
