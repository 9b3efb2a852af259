//! Our own drawings, read again from their SVG as shapes and words, for printers that know no SVG.
//!
//! Plots and the system's drawing are made of few kinds of element; whatever else stands in one is an error that names it, so that
//! nothing is left out in silence.

use super::letters::Anchor;
use roxmltree::{Document, Node};
use std::str::FromStr;

/// Red, green, blue, 0 to 255.
pub(super) type Colour = [u8; 3];

/// A step of an outline; places in the drawing's units, x to the right and y down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Step {
    Move(f32, f32),
    Line(f32, f32),
    /// Two control points and the end.
    Cubic([(f32, f32); 3]),
    Close,
}

/// How an outline is filled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Fill {
    Plain(Colour),
    /// Slanted lines on a ground; their width, and from one to the next.
    Hatched {
        ground: Colour,
        line: Colour,
        width: f32,
        pitch: f32,
    },
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stroke {
    pub colour: Colour,
    pub width: f32,
    pub dashes: Vec<f32>,
    pub round: bool,
}

impl Stroke {
    /// A whole line with flat ends.
    pub fn plain(colour: Colour, width: f32) -> Self {
        Self {
            colour,
            width,
            dashes: Vec::new(),
            round: false,
        }
    }
}

/// A piece of a drawing, in the order in which they are laid on each other.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Piece {
    Shape {
        outline: Vec<Step>,
        fill: Option<Fill>,
        stroke: Option<Stroke>,
        /// 0 to 1.
        opacity: f32,
    },
    Words {
        text: String,
        at: (f32, f32),
        size: f32,
        bold: bool,
        anchor: Anchor,
        colour: Colour,
    },
}

/// A drawing's size and pieces.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Drawing {
    pub size: (f32, f32),
    pub pieces: Vec<Piece>,
}

/// Reads a drawing again; `Err` says what in it is not known.
pub(super) fn read(svg: &str) -> Result<Drawing, String> {
    let document = Document::parse(svg).map_err(|e| e.to_string())?;
    let root = document.root_element();
    let size = match root.attribute("viewBox") {
        Some(view) => {
            let sizes: Vec<f32> = view.split_whitespace().map(figure).collect::<Result<_, _>>()?;
            let [_, _, width, height] = sizes[..] else {
                return Err(format!("a drawing's viewBox is {view:?}"));
            };
            (width, height)
        }
        None => (0.0, 0.0),
    };
    let mut pieces = Vec::new();
    inside(root, &mut pieces)?;
    Ok(Drawing { size, pieces })
}

fn inside(parent: Node<'_, '_>, pieces: &mut Vec<Piece>) -> Result<(), String> {
    for element in parent.children().filter(Node::is_element) {
        if element.has_attribute("transform") {
            return Err("an element of a drawing is turned or moved".to_owned());
        }
        match element.tag_name().name() {
            // Patterns are looked up where they are used.
            "title" | "desc" | "defs" => {}
            "g" => inside(element, pieces)?,
            "text" => pieces.extend(words(element)?),
            _ => pieces.extend(shape(element)?),
        }
    }
    Ok(())
}

fn shape(element: Node<'_, '_>) -> Result<Option<Piece>, String> {
    let outline = outline(element)?;
    let (fill, stroke) = (fill(element)?, stroke(element)?);
    let opacity = element
        .attribute("opacity")
        .map_or(Ok(1.0), figure::<f32>)?
        .clamp(0.0, 1.0);
    let is_seen = !outline.is_empty() && (fill.is_some() || stroke.is_some());
    Ok(is_seen.then_some(Piece::Shape {
        outline,
        fill,
        stroke,
        opacity,
    }))
}

fn words(element: Node<'_, '_>) -> Result<Option<Piece>, String> {
    let anchor = match element.attribute("text-anchor") {
        None | Some("start") => Anchor::Start,
        Some("middle") => Anchor::Middle,
        Some("end") => Anchor::End,
        Some(other) => return Err(format!("words of a drawing are anchored at {other:?}")),
    };
    let size = number(element, "font-size")?;
    let down = element.attribute("dy").map_or(Ok(0.0), ems)? * size;
    let text = element.text().unwrap_or_default().trim().to_owned();
    let colour = element
        .attribute("fill")
        .map_or(Ok([0; 3]), |code| colour("fill", code))?;
    Ok((!text.is_empty()).then_some(Piece::Words {
        at: (number(element, "x")?, number(element, "y")? + down),
        size,
        bold: element.attribute("font-weight") == Some("bold"),
        anchor,
        colour,
        text,
    }))
}

fn outline(element: Node<'_, '_>) -> Result<Vec<Step>, String> {
    let of = |name| number(element, name);
    let name = element.tag_name().name();
    Ok(match name {
        "rect" => {
            let (x, y, width, height) = (of("x")?, of("y")?, of("width")?, of("height")?);
            let corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)];
            through(&corners, true)
        }
        "circle" => circle((of("cx")?, of("cy")?), of("r")?),
        "line" => through(&[(of("x1")?, of("y1")?), (of("x2")?, of("y2")?)], false),
        "polyline" => through(&points(element)?, false),
        "polygon" => through(&points(element)?, true),
        "path" => way(attribute(element, "d")?)?,
        other => return Err(format!("a drawing has a <{other}>, which has no way to be drawn")),
    })
}

/// A line through places.
fn through(points: &[(f32, f32)], closed: bool) -> Vec<Step> {
    let mut steps: Vec<Step> = points.iter().map(|&(x, y)| Step::Line(x, y)).collect();
    if let Some(first) = steps.first_mut()
        && let Step::Line(x, y) = *first
    {
        *first = Step::Move(x, y);
    }
    if closed {
        steps.push(Step::Close);
    }
    steps
}

/// A circle of four arcs, each within 0.03 % of the radius.
pub(super) fn circle((x, y): (f32, f32), radius: f32) -> Vec<Step> {
    /// 4/3 (√2 − 1): control points of a quarter circle.
    const QUARTER: f32 = 0.552_284_8;
    let (r, c) = (radius, QUARTER * radius);
    vec![
        Step::Move(x + r, y),
        Step::Cubic([(x + r, y + c), (x + c, y + r), (x, y + r)]),
        Step::Cubic([(x - c, y + r), (x - r, y + c), (x - r, y)]),
        Step::Cubic([(x - r, y - c), (x - c, y - r), (x, y - r)]),
        Step::Cubic([(x + c, y - r), (x + r, y - c), (x + r, y)]),
        Step::Close,
    ]
}

/// A path of straight lines, whose letters stand before each place and whose places are absolute but for h, v, l, m.
pub(super) fn way(d: &str) -> Result<Vec<Step>, String> {
    let unknown = || format!("a drawing's path is {d:?}");
    let mut steps = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    let mut rest = d.trim();
    while let Some(letter) = rest.chars().next() {
        let after = &rest[letter.len_utf8()..];
        let end = after.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(after.len());
        let figures = figures(&after[..end]).ok_or_else(unknown)?;
        rest = &after[end..];
        let from = |relative: bool, at: f32| if relative { at } else { 0.0 };
        let relative = letter.is_ascii_lowercase();
        match letter.to_ascii_uppercase() {
            'M' | 'L' if figures.len() % 2 == 0 && !figures.is_empty() => {
                for (n, place) in figures.chunks_exact(2).enumerate() {
                    (x, y) = (from(relative, x) + place[0], from(relative, y) + place[1]);
                    let moves = n == 0 && letter.eq_ignore_ascii_case(&'M');
                    steps.push(if moves { Step::Move(x, y) } else { Step::Line(x, y) });
                }
            }
            'H' if figures.len() == 1 => {
                x = from(relative, x) + figures[0];
                steps.push(Step::Line(x, y));
            }
            'V' if figures.len() == 1 => {
                y = from(relative, y) + figures[0];
                steps.push(Step::Line(x, y));
            }
            'Z' if figures.is_empty() => steps.push(Step::Close),
            _ => return Err(unknown()),
        }
    }
    Ok(steps)
}

/// Figures that commas, spaces or a minus part.
fn figures(text: &str) -> Option<Vec<f32>> {
    let parted = text.replace('-', " -").replace(',', " ");
    parted.split_whitespace().map(|part| part.parse().ok()).collect()
}

fn fill(element: Node<'_, '_>) -> Result<Option<Fill>, String> {
    let code = element.attribute("fill").unwrap_or("#000000");
    if code == "none" {
        return Ok(None);
    }
    let Some(id) = code.strip_prefix("url(#").and_then(|rest| rest.strip_suffix(')')) else {
        return Ok(Some(Fill::Plain(colour("fill", code)?)));
    };
    let pattern = (element.document().descendants()).find(|node| node.attribute("id") == Some(id));
    let pattern = pattern.ok_or_else(|| format!("a drawing has no pattern {id:?}"))?;
    let of = |name: &str| {
        pattern
            .children()
            .find(|node| node.has_tag_name(name) || node.tag_name().name() == name)
    };
    let (Some(ground), Some(line)) = (of("rect"), of("path")) else {
        return Err(format!("the pattern {id:?} is no hatching"));
    };
    Ok(Some(Fill::Hatched {
        ground: colour("fill", attribute(ground, "fill")?)?,
        line: colour("stroke", attribute(line, "stroke")?)?,
        width: number(line, "stroke-width")?,
        pitch: number(pattern, "width")?,
    }))
}

fn stroke(element: Node<'_, '_>) -> Result<Option<Stroke>, String> {
    let Some(code) = element.attribute("stroke").filter(|code| *code != "none") else {
        return Ok(None);
    };
    let dashes = element.attribute("stroke-dasharray").unwrap_or_default();
    let dashes = figures(dashes).ok_or_else(|| format!("a drawing's dashes are {dashes:?}"))?;
    Ok(Some(Stroke {
        colour: colour("stroke", code)?,
        width: number(element, "stroke-width")?,
        dashes,
        round: element.attribute("stroke-linecap") == Some("round"),
    }))
}

fn colour(name: &str, code: &str) -> Result<Colour, String> {
    let digits = code.strip_prefix('#').filter(|digits| digits.len() == 6);
    let number = digits.and_then(|digits| u32::from_str_radix(digits, 16).ok());
    let [_, red, green, blue] = number
        .ok_or_else(|| format!("a drawing's {name} is {code:?}"))?
        .to_be_bytes();
    Ok([red, green, blue])
}

/// How far words are moved down, in em.
fn ems(dy: &str) -> Result<f32, String> {
    match dy.strip_suffix("ex") {
        // Of letters that do not say how high their x is, CSS takes half an em.
        Some(ex) => Ok(figure::<f32>(ex)? / 2.0),
        None => figure(
            dy.strip_suffix("em")
                .ok_or_else(|| format!("words of a drawing are moved by {dy:?}"))?,
        ),
    }
}

fn points(element: Node<'_, '_>) -> Result<Vec<(f32, f32)>, String> {
    attribute(element, "points")?
        .split_whitespace()
        .map(|point| {
            let (x, y) = point
                .split_once(',')
                .ok_or_else(|| format!("a drawing's place is {point:?}"))?;
            Ok((figure(x)?, figure(y)?))
        })
        .collect()
}

fn number(element: Node<'_, '_>, name: &str) -> Result<f32, String> {
    figure(attribute(element, name)?)
}

fn attribute<'a>(element: Node<'a, '_>, name: &str) -> Result<&'a str, String> {
    element
        .attribute(name)
        .ok_or_else(|| format!("a drawing's <{}> has no {name}", element.tag_name().name()))
}

fn figure<T: FromStr>(text: &str) -> Result<T, String> {
    text.parse().map_err(|_| format!("a drawing's figure is {text:?}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_goes_where_its_letters_say() {
        let steps = way("M4 8.5l3 3 5-6.5H20v-2Z").unwrap();
        let wanted = [
            Step::Move(4.0, 8.5),
            Step::Line(7.0, 11.5),
            Step::Line(12.0, 5.0),
            Step::Line(20.0, 5.0),
            Step::Line(20.0, 3.0),
            Step::Close,
        ];
        assert_eq!(steps, wanted);
        for wrong in ["M4", "Q1 2 3 4", "M1 2 x", "M1 2 H", "h1 2"] {
            assert!(way(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_circles_arcs_are_round() {
        let mut from = (13.0_f32, 7.0_f32);
        for step in circle((3.0, 7.0), 10.0) {
            let Step::Cubic([a, b, end]) = step else { continue };
            for n in 0..=20 {
                let t = n as f32 / 20.0;
                let bezier = |p: [f32; 4]| {
                    let u = 1.0 - t;
                    u * u * u * p[0] + 3.0 * u * u * t * p[1] + 3.0 * u * t * t * p[2] + t * t * t * p[3]
                };
                let (x, y) = (bezier([from.0, a.0, b.0, end.0]), bezier([from.1, a.1, b.1, end.1]));
                assert!(((x - 3.0).hypot(y - 7.0) - 10.0).abs() < 0.003);
            }
            from = end;
        }
    }

    #[test]
    fn hatching_is_looked_up_and_what_is_none_is_named() {
        let drawn = |fill: &str| {
            read(&format!(
                "<svg viewBox='0 0 9 9'><defs><pattern id='h' width='9' height='9'><rect fill='#fff0dc' width='9' height='9'/>\
                 <path d='M0 0V9' stroke='#c46200' stroke-width='2'/></pattern><pattern id='e'/></defs>\
                 <g><rect x='0' y='0' width='9' height='9' fill='{fill}'/></g></svg>"
            ))
        };
        let pieces = drawn("url(#h)").unwrap().pieces;
        let Piece::Shape { fill, .. } = &pieces[0] else {
            panic!("a shape")
        };
        let hatched = Fill::Hatched {
            ground: [0xff, 0xf0, 0xdc],
            line: [0xc4, 0x62, 0],
            width: 2.0,
            pitch: 9.0,
        };
        assert_eq!(*fill, Some(hatched));
        assert!(drawn("url(#e)").unwrap_err().contains("no hatching"));
        assert!(drawn("url(#x)").unwrap_err().contains("no pattern"));
    }
}
