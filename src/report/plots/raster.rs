//! A plot as PNG, for programs that show no SVG: the few elements that [`super::canvas`] draws with, filled by scan lines.
//!
//! It reads the SVG itself, so that both pictures are of one drawing, and knows no other SVG. Letters are outlines that the
//! program carries, since a machine's own would make the bytes differ from place to place.

use super::super::Error;
use super::canvas::{HEIGHT_PX, WIDTH_PX};
use image::{
    ExtendedColorType, ImageEncoder,
    codecs::png::{CompressionType, FilterType, PngEncoder},
};
use std::collections::HashMap;
use std::sync::LazyLock;

/// Pixels for each unit of the SVG.
const SCALE: f64 = 2.0;
/// Scan lines in each row of pixels.
const LINES: usize = 4;
/// Units of [`GLYPHS`] in a letter's height.
const EM: f64 = 500.0;
/// Half the height of a small x, as a share of the letter's height: `dy="0.5ex"` puts the middle of the text there.
const HALF_EX: f64 = 0.273;
const GLYPHS: &str = include_str!("glyphs.txt");

type Contour = Vec<(f64, f64)>;

/// A letter.
struct Glyph {
    advance: f64,
    contours: Vec<Contour>,
}

/// Letters by boldness and character.
static LETTERS: LazyLock<HashMap<(bool, char), Glyph>> = LazyLock::new(|| {
    let glyph = |line: &str| -> Option<((bool, char), Glyph)> {
        let mut parts = line.splitn(4, ' ');
        let is_bold = parts.next()? == "b";
        let letter = char::from_u32(u32::from_str_radix(parts.next()?, 16).ok()?)?;
        let advance = parts.next()?.parse().ok()?;
        let contours = parts.next().unwrap_or_default();
        let contours = contours.split(';').map(points).filter(|c| c.len() > 2).collect();
        Some(((is_bold, letter), Glyph { advance, contours }))
    };
    GLYPHS
        .lines()
        .filter(|l| !l.starts_with('#'))
        .filter_map(glyph)
        .collect()
});

/// "x,y x,y …"
fn points(text: &str) -> Contour {
    let pair = |p: &str| {
        p.split_once(',')
            .and_then(|(x, y)| Some((x.parse().ok()?, y.parse().ok()?)))
    };
    text.split_whitespace().filter_map(pair).collect()
}

/// The PNG of a plot's SVG, two pixels for each of its units.
///
/// # Errors
/// [`Error::Make`] when it cannot be encoded.
pub fn png(svg: &str) -> Result<Vec<u8>, Error> {
    let size = |units: u32| (f64::from(units) * SCALE) as usize;
    let mut sheet = Sheet::new(size(WIDTH_PX), size(HEIGHT_PX));
    for element in svg.split('<').skip(1) {
        sheet.draw(element);
    }
    let mut bytes = Vec::new();
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Best, FilterType::Up)
        .write_image(
            &sheet.rgb,
            sheet.width as u32,
            sheet.height as u32,
            ExtendedColorType::Rgb8,
        )
        .map_err(|e| Error::make("a plot's PNG", e))?;
    Ok(bytes)
}

/// An attribute's text.
fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let (_, rest) = element.split_once(&format!(" {name}=\""))?;
    rest.split('"').next()
}

fn number(element: &str, name: &str) -> f64 {
    attribute(element, name).and_then(|v| v.parse().ok()).unwrap_or(0.0)
}

/// "#RRGGBB"; `None` for "none".
fn colour(element: &str, name: &str) -> Option<[u8; 3]> {
    let hex = attribute(element, name)?.strip_prefix('#')?;
    let byte = |n: usize| u8::from_str_radix(hex.get(2 * n..2 * n + 2)?, 16).ok();
    Some([byte(0)?, byte(1)?, byte(2)?])
}

/// Text with XML's five entities put back.
fn unescaped(text: &str) -> String {
    [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&apos;", "'"),
        ("&#39;", "'"),
        ("&amp;", "&"),
    ]
    .iter()
    .fold(text.to_owned(), |text, (entity, letter)| text.replace(entity, letter))
}

fn circle(x: f64, y: f64, radius: f64) -> Contour {
    let corner = |n: u32| {
        let (sine, cosine) = (f64::from(n) * std::f64::consts::TAU / 32.0).sin_cos();
        (x + radius * cosine, y + radius * sine)
    };
    (0..32).map(corner).collect()
}

/// The ground that a pen of a width covers along a path: a strip for each stretch, a round joint at each corner; all turn the
/// same way round, so that they join to one.
fn stroked(path: &[(f64, f64)], width: f64) -> Vec<Contour> {
    let mut contours = Vec::new();
    for pair in path.windows(2) {
        let [(xa, ya), (xb, yb)] = [pair[0], pair[1]];
        let long = (xb - xa).hypot(yb - ya);
        if long > 0.0 {
            let (nx, ny) = (-(yb - ya) / long * width / 2.0, (xb - xa) / long * width / 2.0);
            contours.push(vec![
                (xa - nx, ya - ny),
                (xb - nx, yb - ny),
                (xb + nx, yb + ny),
                (xa + nx, ya + ny),
            ]);
        }
    }
    for (x, y) in path.iter().skip(1).take(path.len().saturating_sub(2)) {
        contours.push(circle(*x, *y, width / 2.0));
    }
    contours
}

struct Sheet {
    width: usize,
    height: usize,
    rgb: Vec<u8>,
}

impl Sheet {
    fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            rgb: vec![255; 3 * width * height],
        }
    }

    fn draw(&mut self, element: &str) {
        let kind = element.split([' ', '>']).next().unwrap_or_default();
        let shape: Vec<Contour> = match kind {
            "rect" => {
                let (x, y) = (number(element, "x"), number(element, "y"));
                let (right, bottom) = (x + number(element, "width"), y + number(element, "height"));
                vec![vec![(x, y), (right, y), (right, bottom), (x, bottom)]]
            }
            "circle" => vec![circle(
                number(element, "cx"),
                number(element, "cy"),
                number(element, "r"),
            )],
            "polygon" | "polyline" => vec![points(attribute(element, "points").unwrap_or_default())],
            "text" => self::text(element),
            _ => return,
        };
        let opacity = attribute(element, "opacity")
            .and_then(|v| v.parse().ok())
            .unwrap_or(1.0);
        if let Some(ink) = colour(element, "fill") {
            self.fill(&shape, ink, opacity);
        }
        if let Some(ink) = colour(element, "stroke") {
            let width = attribute(element, "stroke-width")
                .and_then(|v| v.parse().ok())
                .unwrap_or(1.0);
            for contour in &shape {
                self.fill(&stroked(contour, width), ink, opacity);
            }
        }
    }

    /// Fills what the contours wind round, in the SVG's units.
    fn fill(&mut self, contours: &[Contour], ink: [u8; 3], opacity: f64) {
        let ys = || contours.iter().flatten().map(|(_, y)| y * SCALE);
        let (top, bottom) = (ys().fold(f64::INFINITY, f64::min), ys().fold(0.0, f64::max));
        let rows = (top.max(0.0).floor() as usize)..(bottom.ceil().max(0.0) as usize).min(self.height);
        let mut covered = vec![0.0; self.width];
        for row in rows {
            covered.fill(0.0);
            for line in 0..LINES {
                let y = (row as f64 + (line as f64 + 0.5) / LINES as f64) / SCALE;
                for (from, to) in spans(contours, y) {
                    cover(&mut covered, from * SCALE, to * SCALE);
                }
            }
            for (column, covered) in covered.iter().enumerate().filter(|(_, c)| **c > 0.0) {
                let share = (covered / LINES as f64).min(1.0) * opacity;
                let at = 3 * (row * self.width + column);
                for (code, ink) in self.rgb[at..at + 3].iter_mut().zip(ink) {
                    *code = (f64::from(*code) * (1.0 - share) + f64::from(ink) * share).round() as u8;
                }
            }
        }
    }
}

/// Where a level line lies inside of what the contours wind round.
fn spans(contours: &[Contour], y: f64) -> Vec<(f64, f64)> {
    let mut crossings: Vec<(f64, i32)> = Vec::new();
    for contour in contours {
        for (n, &(xa, ya)) in contour.iter().enumerate() {
            let (xb, yb) = contour[(n + 1) % contour.len()];
            if (ya <= y) != (yb <= y) {
                let x = xa + (y - ya) / (yb - ya) * (xb - xa);
                crossings.push((x, if yb > ya { 1 } else { -1 }));
            }
        }
    }
    crossings.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut spans, mut winding, mut from) = (Vec::new(), 0, 0.0);
    for (x, turn) in crossings {
        if winding == 0 {
            from = x;
        }
        winding += turn;
        if winding == 0 {
            spans.push((from, x));
        }
    }
    spans
}

/// Adds to each pixel the share of it between `from` and `to`.
fn cover(pixels: &mut [f64], from: f64, to: f64) {
    let (from, to) = (from.max(0.0), to.min(pixels.len() as f64));
    if to <= from {
        return;
    }
    let first = from as usize;
    for (n, pixel) in pixels.iter_mut().enumerate().skip(first) {
        let (left, right) = (n as f64, n as f64 + 1.0);
        if left >= to {
            break;
        }
        *pixel += to.min(right) - from.max(left);
    }
}

/// The outlines of a text, placed.
fn text(element: &str) -> Vec<Contour> {
    let words = unescaped(element.split_once('>').map_or("", |(_, words)| words).trim());
    let is_bold = attribute(element, "font-weight") == Some("bold");
    let size = number(element, "font-size") / EM;
    let letter = |c: char| {
        LETTERS
            .get(&(is_bold, c))
            .or_else(|| LETTERS.get(&(is_bold, '\u{fffd}')))
    };
    let wide: f64 = words.chars().filter_map(letter).map(|g| g.advance * size).sum();
    let mut x = number(element, "x")
        - match attribute(element, "text-anchor") {
            Some("middle") => wide / 2.0,
            Some("end") => wide,
            _ => 0.0,
        };
    let y = number(element, "y") + HALF_EX * size * EM;
    let mut contours = Vec::new();
    for glyph in words.chars().filter_map(letter) {
        let placed = |contour: &Contour| contour.iter().map(|(px, py)| (x + px * size, y + py * size)).collect();
        contours.extend(glyph.contours.iter().map(placed));
        x += glyph.advance * size;
    }
    contours
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Darkness of a rectangle of pixels, in whole black pixels.
    fn ink(sheet: &Sheet, (x0, x1): (usize, usize), (y0, y1): (usize, usize)) -> f64 {
        let mut sum = 0.0;
        for y in y0..y1 {
            for x in x0..x1 {
                sum += 1.0 - f64::from(sheet.rgb[3 * (y * sheet.width + x)]) / 255.0;
            }
        }
        sum
    }

    #[test]
    fn shapes_have_their_areas_in_their_places() {
        let mut sheet = Sheet::new(400, 200);
        sheet
            .draw("rect x=\"10\" y=\"20\" width=\"5.5\" height=\"4\" opacity=\"1\" fill=\"#000000\" stroke=\"none\"/>");
        // 5.5 by 4 units, two pixels each.
        assert!((ink(&sheet, (20, 31), (40, 48)) - 88.0).abs() < 0.5);
        assert_eq!(ink(&sheet, (0, 400), (0, 200)), ink(&sheet, (20, 31), (40, 48)));
        sheet.draw("circle cx=\"100\" cy=\"50\" r=\"20\" opacity=\"1\" fill=\"#000000\" stroke=\"none\"/>");
        let area = std::f64::consts::PI * 40.0f64.powi(2);
        assert!((ink(&sheet, (160, 240), (60, 140)) / area - 1.0).abs() < 0.01);
        // A corner and a crossing are not painted twice, and half the opacity is half the ink.
        let mut lines = Sheet::new(400, 200);
        lines.draw(
            "polyline fill=\"none\" opacity=\"0.5\" stroke=\"#000000\" stroke-width=\"3\" points=\"10,50 60,50 60,20 40,20 40,80\"/>",
        );
        assert!(lines.rgb.iter().all(|code| *code == 255 || *code >= 127));
        let area = 4.0 * 3.0 * (50.0 + 30.0 + 20.0 + 60.0 - 3.0);
        assert!((ink(&lines, (0, 400), (0, 200)) / (0.5 * area) - 1.0).abs() < 0.03);
    }

    #[test]
    fn text_stands_where_its_anchor_says() {
        for (anchor, from, to) in [("start", 200, 400), ("middle", 90, 310), ("end", 0, 200)] {
            let mut sheet = Sheet::new(400, 100);
            sheet.draw(&format!(
                "text x=\"100\" y=\"25\" dy=\"0.5ex\" text-anchor=\"{anchor}\" font-size=\"24\" opacity=\"1\" \
                 fill=\"#000000\">\nxxx&amp;xxx\n"
            ));
            let all = ink(&sheet, (0, 400), (0, 100));
            assert!(
                all > 300.0 && (ink(&sheet, (from, to), (0, 100)) - all).abs() < 3.0,
                "{anchor}"
            );
            if anchor == "middle" {
                let left = ink(&sheet, (0, 200), (0, 100)) / all;
                assert!((left - 0.5).abs() < 0.1, "{left}");
            }
        }
        assert!(
            "−±°…→AZaz09%"
                .chars()
                .all(|c| LETTERS.contains_key(&(false, c)) && LETTERS.contains_key(&(true, c)))
        );
    }
}
