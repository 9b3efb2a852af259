//! Photos with what is drawn over them, and drawings.

use super::super::document::Sign;
use super::super::drawn::{self, Colour, Fill, Piece, Step, Stroke};
use super::super::letters::Anchor;
use super::super::picture::{Edge, Label, Look, Picture, Shape, Stand};
use super::super::text::{harmless, kept_together};
use super::ink::{Ink, Row};
use super::placed;
use super::setter::{Setter, sign_at};
use super::tags::Tag;
use std::rc::Rc;

const BLACK: Colour = [0; 3];
const WHITE: Colour = [255; 3];
const YELLOW: Colour = [0xff, 0xd2, 0x8a];
const BLUE: Colour = [0x9f, 0xd6, 0xff];
const CREAM: Colour = [0xff, 0xe9, 0xc2];
const ACCENT: Colour = super::setter::ACCENT;

/// Breadth of a picture over its height.
pub(super) fn aspect(picture: &Picture) -> f32 {
    picture.width_px.max(1) as f32 / picture.height_px.max(1) as f32
}

/// A photo's picture of this size, pt.
pub(super) fn photo(picture: &Picture, setter: &Setter, tag: Tag, (width, height): (f32, f32)) -> Row {
    let scale = width / picture.width_px.max(1) as f32;
    let at = |&(x, y): &(f64, f64)| (scale * x as f32, scale * y as f32);
    let mut inks = vec![(
        tag,
        Ink::Jpeg {
            at: (0.0, 0.0),
            size: (width, height),
            px: picture.jpeg_px,
            jpeg: Rc::from(picture.jpeg.as_slice()),
        },
    )];
    let clip = Some([0.0, 0.0, width, height]);
    for shape in &picture.shapes {
        match shape {
            Shape::Line(look, points) => {
                let places: Vec<(f32, f32)> = points.iter().map(at).collect();
                let steps = places.iter().enumerate().map(|(n, &(x, y))| match n {
                    0 => Step::Move(x, y),
                    _ => Step::Line(x, y),
                });
                let outline: Vec<Step> = steps.collect();
                inks.extend(strokes(*look).map(|(stroke, opacity)| {
                    let outline = outline.clone();
                    (
                        tag,
                        Ink::Shape {
                            outline,
                            fill: None,
                            stroke: Some(stroke),
                            opacity,
                            clip,
                        },
                    )
                }));
            }
            Shape::Dot(look, place) => {
                let middle = at(place);
                inks.extend(dots(*look).map(|(radius, colour)| {
                    let outline = drawn::circle(middle, radius);
                    (
                        tag,
                        Ink::Shape {
                            outline,
                            fill: Some(colour),
                            stroke: None,
                            opacity: 1.0,
                            clip,
                        },
                    )
                }));
            }
            Shape::Interval(corner, size) => {
                let outline = super::ink::rectangle(at(corner), at(size));
                inks.push((
                    tag,
                    Ink::Shape {
                        outline,
                        fill: Some(WHITE),
                        stroke: None,
                        opacity: 0.4,
                        clip,
                    },
                ));
            }
        }
    }
    for label in &picture.labels {
        inks.extend(words(label, setter, tag, scale, (width, height)));
    }
    Row {
        inks,
        height,
        ..Row::default()
    }
}

/// The dark line below and the light one above it.
fn strokes(look: Look) -> impl Iterator<Item = (Stroke, f32)> {
    let (colour, dashes): (Colour, &[f32]) = match look {
        Look::Mark => (YELLOW, &[]),
        Look::Centre => (BLUE, &[5.0, 2.0]),
        Look::Vv => (BLUE, &[5.0, 1.5, 1.0, 1.5]),
        Look::Limit => (YELLOW, &[0.8, 1.4]),
        Look::Flat | Look::Scan | Look::LeftOut | Look::Reading => (WHITE, &[]),
    };
    let over = Stroke {
        dashes: dashes.to_vec(),
        ..Stroke::plain(colour, 0.55)
    };
    [(Stroke::plain(BLACK, 1.2), 0.75), (over, 1.0)].into_iter()
}

/// The discs of a dot.
fn dots(look: Look) -> impl Iterator<Item = (f32, Colour)> {
    match look {
        Look::Reading => [(2.0, WHITE), (1.2, ACCENT)],
        Look::LeftOut => [(1.1, CREAM), (0.6, BLACK)],
        _ => [(1.0, BLACK), (0.6, CREAM)],
    }
    .into_iter()
}

fn words(label: &Label, setter: &Setter, tag: Tag, scale: f32, (width, height): (f32, f32)) -> Vec<(Tag, Ink)> {
    let size = 4.8;
    let (x, y) = (scale * label.at_px.0 as f32, scale * label.at_px.1 as f32);
    let text = kept_together(&label.text);
    let wide = setter.width(&text, false, size) + 2.0;
    let high = 1.25 * size;
    let left = match (label.edge, label.look) {
        (Some(Edge::Left), _) => 0.5,
        (Some(Edge::Right), _) => width - wide - 0.5,
        (None, Look::Mark) => x - wide / 2.0,
        (None, _) => x + 1.0,
    };
    let top = match label.stand {
        Stand::Above => y - high - 1.0,
        Stand::Below => y + 1.0,
        Stand::Centre => y - high / 2.0,
    };
    let (left, top) = (
        left.clamp(0.0, (width - wide).max(0.0)),
        top.clamp(0.0, (height - high).max(0.0)),
    );
    let words = Ink::Words {
        at: (left + 1.0, top + size),
        size,
        bold: false,
        colour: WHITE,
        text,
    };
    vec![(tag, Ink::field((left, top), (wide, high), BLACK, 0.72)), (tag, words)]
}

/// A drawing of this width, pt; it is not set larger than its letters need.
pub(super) fn drawing(svg: &str, setter: &Setter, tag: Tag, width: f32) -> Result<Row, String> {
    let drawing = drawn::read(svg)?;
    let scale = width / drawing.size.0.max(1.0);
    let at = |x: f32, y: f32| (scale * x, scale * y);
    let mut inks = Vec::new();
    for piece in drawing.pieces {
        match piece {
            Piece::Shape {
                outline,
                fill,
                stroke,
                opacity,
            } => {
                let outline = placed(&outline, at);
                let stroke = stroke.map(|stroke| Stroke {
                    width: scale * stroke.width,
                    dashes: stroke.dashes.iter().map(|dash| scale * dash).collect(),
                    ..stroke
                });
                let plain = match fill {
                    Some(Fill::Plain(colour)) => Some(colour),
                    Some(Fill::Hatched { ground, .. }) => Some(ground),
                    None => None,
                };
                if let Some(Fill::Hatched { line, width, pitch, .. }) = fill {
                    let ground = Ink::Shape {
                        outline: outline.clone(),
                        fill: plain,
                        stroke: None,
                        opacity,
                        clip: None,
                    };
                    inks.push((tag, ground));
                    inks.push((tag, hatching(&outline, (scale * width, scale * pitch), line)));
                    inks.push((
                        tag,
                        Ink::Shape {
                            outline,
                            fill: None,
                            stroke,
                            opacity,
                            clip: None,
                        },
                    ));
                } else {
                    inks.push((
                        tag,
                        Ink::Shape {
                            outline,
                            fill: plain,
                            stroke,
                            opacity,
                            clip: None,
                        },
                    ));
                }
            }
            Piece::Words {
                text,
                at: (x, y),
                size,
                bold,
                anchor,
                colour,
            } => {
                let size = scale * size;
                let line = Set {
                    size,
                    bold,
                    colour,
                    tag,
                };
                inks.extend(line.words(setter, &text, anchor, at(x, y)));
            }
        }
    }
    Ok(Row {
        inks,
        height: scale * drawing.size.1,
        ..Row::default()
    })
}

/// How a line of a drawing's words is set.
struct Set {
    size: f32,
    bold: bool,
    colour: Colour,
    tag: Tag,
}

impl Set {
    /// The words, in which signs stand as letters.
    fn words(&self, setter: &Setter, text: &str, anchor: Anchor, (x, y): (f32, f32)) -> Vec<(Tag, Ink)> {
        let text = harmless(text);
        let mut pieces: Vec<Result<Sign, String>> = Vec::new();
        for letter in text.chars() {
            match (Sign::drawn_for(letter), pieces.last_mut()) {
                (Some(sign), _) => pieces.push(Ok(sign)),
                (None, Some(Err(letters))) => letters.push(letter),
                (None, _) => pieces.push(Err(letter.to_string())),
            }
        }
        let wide = |piece: &Result<Sign, String>| match piece {
            Ok(_) => 0.9 * self.size,
            Err(letters) => setter.width(letters, self.bold, self.size),
        };
        let all: f32 = pieces.iter().map(wide).sum();
        let mut x = x - match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => all / 2.0,
            Anchor::End => all,
        };
        let mut inks = Vec::new();
        for piece in pieces {
            let step = wide(&piece);
            match piece {
                Ok(sign) => inks.extend(sign_at(sign, (x, y), self.size, self.tag)),
                Err(text) => {
                    let (at, size, bold, colour) = ((x, y), self.size, self.bold, self.colour);
                    inks.push((
                        self.tag,
                        Ink::Words {
                            at,
                            size,
                            bold,
                            colour,
                            text,
                        },
                    ));
                }
            }
            x += step;
        }
        inks
    }
}

/// Slanted lines over an outline's extent, which is a rectangle's.
fn hatching(outline: &[Step], (width, pitch): (f32, f32), colour: Colour) -> Ink {
    let (mut least, mut most) = ((f32::INFINITY, f32::INFINITY), (f32::NEG_INFINITY, f32::NEG_INFINITY));
    for step in outline {
        if let Step::Move(x, y) | Step::Line(x, y) = *step {
            least = (least.0.min(x), least.1.min(y));
            most = (most.0.max(x), most.1.max(y));
        }
    }
    let (wide, high) = (most.0 - least.0, most.1 - least.1);
    // At 45°, lines this far apart along an edge lie a pitch from each other.
    let step = (pitch * std::f32::consts::SQRT_2).max(0.5);
    let count = ((wide + high) / step).clamp(0.0, 1000.0) as usize;
    let lines = (1..=count).flat_map(|n| {
        let along = n as f32 * step;
        [
            Step::Move(least.0 + along, least.1),
            Step::Line(least.0 + along - high, least.1 + high),
        ]
    });
    Ink::Shape {
        outline: lines.collect(),
        fill: None,
        stroke: Some(Stroke::plain(colour, width)),
        opacity: 1.0,
        clip: Some([least.0, least.1, wide, high]),
    }
}
