//! What lies on a page: inks at places in points, x to the right and y down, and the rows that are stacked into pages.

use super::super::drawn::{Colour, Step, Stroke};
use super::tags::Tag;
use std::rc::Rc;

/// A piece that is inked at once.
#[derive(Debug, Clone)]
pub(super) enum Ink {
    /// A line of text from its baseline's start.
    Words {
        at: (f32, f32),
        size: f32,
        bold: bool,
        colour: Colour,
        text: String,
    },
    Shape {
        outline: Vec<Step>,
        fill: Option<Colour>,
        stroke: Option<Stroke>,
        opacity: f32,
        /// What of it is seen: left, top, width, height.
        clip: Option<[f32; 4]>,
    },
    Jpeg {
        at: (f32, f32),
        size: (f32, f32),
        px: (u32, u32),
        jpeg: Rc<[u8]>,
    },
    /// The number of the page on which a chapter begins, from its end to the left.
    PageOf { end: (f32, f32), size: f32, chapter: usize },
    /// A place to press, which leads to a chapter.
    Link {
        at: (f32, f32),
        size: (f32, f32),
        chapter: usize,
    },
}

impl Ink {
    /// A rectangle, filled.
    pub fn field((x, y): (f32, f32), (width, height): (f32, f32), colour: Colour, opacity: f32) -> Self {
        Self::Shape {
            outline: rectangle((x, y), (width, height)),
            fill: Some(colour),
            stroke: None,
            opacity,
            clip: None,
        }
    }

    /// A thin line.
    pub fn rule(from: (f32, f32), to: (f32, f32), width: f32, colour: Colour) -> Self {
        Self::Shape {
            outline: vec![Step::Move(from.0, from.1), Step::Line(to.0, to.1)],
            fill: None,
            stroke: Some(Stroke::plain(colour, width)),
            opacity: 1.0,
            clip: None,
        }
    }

    fn moved(&mut self, (right, down): (f32, f32)) {
        let moved = |at: &mut (f32, f32)| *at = (at.0 + right, at.1 + down);
        match self {
            Self::Words { at, .. } | Self::Jpeg { at, .. } | Self::Link { at, .. } => moved(at),
            Self::PageOf { end, .. } => moved(end),
            Self::Shape { outline, clip, .. } => {
                for step in outline {
                    match step {
                        Step::Move(x, y) | Step::Line(x, y) => (*x, *y) = (*x + right, *y + down),
                        Step::Cubic(places) => places.iter_mut().for_each(moved),
                        Step::Close => {}
                    }
                }
                if let Some([x, y, ..]) = clip {
                    (*x, *y) = (*x + right, *y + down);
                }
            }
        }
    }
}

/// A rectangle's outline.
pub(super) fn rectangle((x, y): (f32, f32), (width, height): (f32, f32)) -> Vec<Step> {
    vec![
        Step::Move(x, y),
        Step::Line(x + width, y),
        Step::Line(x + width, y + height),
        Step::Line(x, y + height),
        Step::Close,
    ]
}

/// What no page's end parts.
#[derive(Debug, Clone, Default)]
pub(super) struct Row {
    pub height: f32,
    /// Left free above it, but not at the top of a page.
    pub above: f32,
    /// The next row stands on the same page.
    pub keeps_next: bool,
    /// It begins a page.
    pub new_page: bool,
    /// The chapter that it begins.
    pub begins: Option<usize>,
    /// What is repeated above it where it comes first on a page.
    pub head: Option<Rc<Row>>,
    pub inks: Vec<(Tag, Ink)>,
}

impl Row {
    pub fn moved(mut self, by: (f32, f32)) -> Self {
        self.inks.iter_mut().for_each(|(_, ink)| ink.moved(by));
        self
    }

    /// These rows as one, the space above the first left out.
    pub fn stacked(rows: Vec<Self>) -> Self {
        let mut whole = Self::default();
        for (n, row) in rows.into_iter().enumerate() {
            let top = whole.height + if n == 0 { 0.0 } else { row.above };
            whole.height = top + row.height;
            whole.inks.extend(row.moved((0.0, top)).inks);
        }
        whole
    }

    /// These rows side by side, each this far from the one before.
    pub fn abreast(rows: Vec<Self>, step: f32) -> Self {
        let mut whole = Self::default();
        for (n, row) in rows.into_iter().enumerate() {
            whole.height = whole.height.max(row.height);
            whole.inks.extend(row.moved((step * n as f32, 0.0)).inks);
        }
        whole
    }
}
