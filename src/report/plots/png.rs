//! A plot as PNG, for programs that show no SVG: drawn from the SVG itself, so that both are of one drawing.
//!
//! `plotters` writes six kinds of shape, which `tiny-skia` fills and strokes; whatever else stands in a plot is an error
//! that names it. Letters are those that the program carries (`letters.rs`), since a machine's own would make the bytes
//! differ from place to place.

use super::super::Error;
use super::chart::SIZE;
use super::letters::{Anchor, Letters};
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};
use roxmltree::{Document, Node};
use std::str::FromStr;
use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, Transform};

/// The plot as PNG, a pixel for each of its units.
///
/// # Errors
/// [`Error`] for what is no SVG as plots are, and where the encoder fails.
pub fn png(svg: &str) -> Result<Vec<u8>, Error> {
    let (wide, high) = (SIZE.0 as u32, SIZE.1 as u32);
    let fault = |error: &dyn std::fmt::Display| Error::make("a plot as PNG", error);
    let picture = painted(svg, wide, high).map_err(|e| fault(&e))?;
    // On a white ground nothing is left to see through.
    let rgb: Vec<u8> = picture
        .data()
        .chunks_exact(4)
        .flat_map(|pixel| [pixel[0], pixel[1], pixel[2]])
        .collect();
    let mut bytes = Vec::new();
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Default, FilterType::Adaptive)
        .write_image(&rgb, wide, high, ExtendedColorType::Rgb8)
        .map_err(|e| fault(&e))?;
    Ok(bytes)
}

/// The drawing on a white ground, or what in it cannot be drawn.
fn painted(svg: &str, wide: u32, high: u32) -> Result<Pixmap, String> {
    let document = Document::parse(svg).map_err(|e| e.to_string())?;
    let letters = Letters::carried()?;
    let mut picture = Pixmap::new(wide, high).ok_or("it has no size")?;
    picture.fill(Color::WHITE);
    for element in document.root_element().children().filter(Node::is_element) {
        let Some(path) = outline(element, &letters)? else {
            continue;
        };
        if let Some(paint) = paint(element, "fill", Some("#000000"))? {
            picture.fill_path(&path, &paint, FillRule::Winding, Transform::identity(), None);
        }
        if let Some(paint) = paint(element, "stroke", None)? {
            let width = number(element, "stroke-width")?;
            let stroke = Stroke {
                width,
                ..Stroke::default()
            };
            picture.stroke_path(&path, &paint, &stroke, Transform::identity(), None);
        }
    }
    Ok(picture)
}

/// The shape of an element; `None` where nothing of it is seen.
fn outline(element: Node<'_, '_>, letters: &Letters) -> Result<Option<Path>, String> {
    if element.has_attribute("transform") {
        return Err("a plot's element is turned or moved".to_owned());
    }
    let of = |name| number(element, name);
    let name = element.tag_name().name();
    Ok(match name {
        "title" | "desc" => None,
        "rect" => Rect::from_xywh(of("x")?, of("y")?, of("width")?, of("height")?).map(PathBuilder::from_rect),
        "circle" => PathBuilder::from_circle(of("cx")?, of("cy")?, of("r")?),
        "line" => through([(of("x1")?, of("y1")?), (of("x2")?, of("y2")?)], false),
        "polyline" => through(points(element)?, false),
        "polygon" => through(points(element)?, true),
        "text" => {
            let anchor = match element.attribute("text-anchor") {
                None | Some("start") => Anchor::Start,
                Some("middle") => Anchor::Middle,
                Some("end") => Anchor::End,
                Some(other) => return Err(format!("a plot's words are anchored at {other:?}")),
            };
            let size = of("font-size")?;
            let down = element.attribute("dy").map_or(Ok(0.0), ems)? * size;
            let bold = element.attribute("font-weight") == Some("bold");
            let text = element.text().unwrap_or_default().trim();
            letters.line(text, bold, size, anchor, (of("x")?, of("y")? + down))
        }
        other => return Err(format!("a plot has a <{other}>, which has no way to be drawn")),
    })
}

/// A line through places.
fn through(points: impl IntoIterator<Item = (f32, f32)>, closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (x, y) in points {
        if path.is_empty() {
            path.move_to(x, y);
        } else {
            path.line_to(x, y);
        }
    }
    if closed {
        path.close();
    }
    path.finish()
}

/// How an element is filled or stroked; `None` where it is not.
fn paint(element: Node<'_, '_>, name: &str, otherwise: Option<&str>) -> Result<Option<Paint<'static>>, String> {
    let Some(colour) = element.attribute(name).or(otherwise).filter(|colour| *colour != "none") else {
        return Ok(None);
    };
    let code = colour.strip_prefix('#').filter(|code| code.len() == 6);
    let code = code.and_then(|code| u32::from_str_radix(code, 16).ok());
    let [_, red, green, blue] = code
        .ok_or_else(|| format!("a plot's {name} is {colour:?}"))?
        .to_be_bytes();
    let opacity = element.attribute("opacity").map_or(Ok(1.0), read::<f32>)?;
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, (opacity.clamp(0.0, 1.0) * 255.0).round() as u8);
    Ok(Some(paint))
}

/// How far words are moved down, in em.
fn ems(dy: &str) -> Result<f32, String> {
    match dy.strip_suffix("ex") {
        // Of letters that do not say how high their x is, CSS takes half an em.
        Some(ex) => Ok(read::<f32>(ex)? / 2.0),
        None => read(
            dy.strip_suffix("em")
                .ok_or_else(|| format!("a plot's words are moved by {dy:?}"))?,
        ),
    }
}

fn points(element: Node<'_, '_>) -> Result<Vec<(f32, f32)>, String> {
    attribute(element, "points")?
        .split_whitespace()
        .map(|point| {
            let (x, y) = point
                .split_once(',')
                .ok_or_else(|| format!("a plot's place is {point:?}"))?;
            Ok((read(x)?, read(y)?))
        })
        .collect()
}

fn number(element: Node<'_, '_>, name: &str) -> Result<f32, String> {
    read(attribute(element, name)?)
}

fn attribute<'a>(element: Node<'a, '_>, name: &str) -> Result<&'a str, String> {
    element
        .attribute(name)
        .ok_or_else(|| format!("a plot's <{}> has no {name}", element.tag_name().name()))
}

fn read<T: FromStr>(text: &str) -> Result<T, String> {
    text.parse().map_err(|_| format!("a plot's figure is {text:?}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How dark each pixel of a drawing is, 0 white to 255 black, as rows of 40.
    fn darkness(shapes: &str) -> Vec<Vec<u8>> {
        let picture = painted(&format!("<svg>{shapes}</svg>"), 40, 20).unwrap();
        let dark: Vec<u8> = picture.data().chunks_exact(4).map(|pixel| 255 - pixel[0]).collect();
        dark.chunks_exact(40).map(<[u8]>::to_vec).collect()
    }

    fn sum(rows: &[Vec<u8>]) -> f64 {
        rows.iter().flatten().map(|&dark| f64::from(dark) / 255.0).sum()
    }

    #[test]
    fn shapes_cover_their_areas() {
        let black = "fill=\"#000000\" stroke=\"none\"";
        let line = "fill=\"none\" stroke=\"#000000\" stroke-width=\"3\"";
        for (shape, area) in [
            (format!("<rect x='4' y='5' width='8' height='6' {black}/>"), 48.0),
            (
                format!("<rect x='4' y='5' width='8' height='6' opacity='0.5' {black}/>"),
                24.0,
            ),
            (
                format!("<circle cx='20' cy='10' r='7' {black}/>"),
                49.0 * std::f64::consts::PI,
            ),
            (format!("<polygon points='2,2 22,2 22,18 ' {black}/>"), 160.0),
            (format!("<polyline points='2,10 32,10 ' {line}/>"), 90.0),
            (format!("<line x1='6' y1='2' x2='18' y2='18' {line}/>"), 60.0),
        ] {
            let drawn = sum(&darkness(&shape));
            // Edges are smoothed in quarters of a pixel.
            assert!((drawn - area).abs() < 0.03 * area, "{shape}: {drawn}, not {area}");
        }
    }

    #[test]
    fn words_stand_where_their_anchor_says() {
        let columns = |anchor: &str| {
            let rows = darkness(&format!(
                "<text x='20' y='10' dy='0.5ex' text-anchor='{anchor}' font-size='16'>HH</text>"
            ));
            let inked = (0..40).filter(|&x| rows.iter().any(|row| row[x] > 100));
            (inked.clone().min().unwrap(), inked.max().unwrap())
        };
        let (start, middle, end) = (columns("start"), columns("middle"), columns("end"));
        assert!(start.0 > 20 && end.1 < 20, "{start:?} {end:?}");
        assert!((20 - middle.0).abs_diff(middle.1 - 19) <= 1, "{middle:?}");
        assert_eq!(start.1 - start.0, end.1 - end.0);
    }

    #[test]
    fn what_cannot_be_drawn_is_named() {
        for (shape, word) in [
            ("<ellipse rx='3'/>", "<ellipse>"),
            ("<circle cx='2' cy='2'/>", "no r"),
            ("<rect x='4' y='5' width='8' height='six'/>", "six"),
            ("<rect x='4' y='5' width='8' height='6' fill='red'/>", "red"),
            (
                "<rect x='4' y='5' width='8' height='6' transform='rotate(3)'/>",
                "turned",
            ),
            ("<polyline points='2;10 32;10'/>", "2;10"),
            ("<text x='2' y='9' font-size='12' text-anchor='left'>H</text>", "left"),
        ] {
            let said = painted(&format!("<svg>{shape}</svg>"), 40, 20).unwrap_err();
            assert!(said.contains(word), "{shape}: {said}");
        }
    }
}
