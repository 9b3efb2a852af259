//! A plot as PNG, for programs that show no SVG: drawn from the SVG itself, so that both are of one drawing.
//!
//! Its shapes ([`drawn`]) are filled and stroked by `tiny-skia`. Letters are those that the program carries (`letters.rs`), since a machine's own would make the bytes
//! differ from place to place.

use super::super::Error;
use super::super::drawn::{self, Colour, Fill, Piece, Step};
use super::super::letters::Letters;
use super::chart::SIZE;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};
use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Transform};

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
    let letters = Letters::carried()?;
    let mut picture = Pixmap::new(wide, high).ok_or("it has no size")?;
    picture.fill(Color::WHITE);
    for piece in drawn::read(svg)?.pieces {
        match piece {
            Piece::Words {
                text,
                at,
                size,
                bold,
                anchor,
                colour,
            } => {
                if let Some(path) = letters.line(&text, bold, size, anchor, at) {
                    fill(&mut picture, &path, &paint(colour, 1.0));
                }
            }
            Piece::Shape {
                outline,
                fill: filled,
                stroke,
                opacity,
            } => {
                let Some(path) = path(&outline) else { continue };
                match filled {
                    None => {}
                    Some(Fill::Plain(colour)) => fill(&mut picture, &path, &paint(colour, opacity)),
                    Some(Fill::Hatched { .. }) => return Err("a plot is hatched".to_owned()),
                }
                if let Some(stroke) = stroke {
                    let as_wide = tiny_skia::Stroke {
                        width: stroke.width,
                        ..tiny_skia::Stroke::default()
                    };
                    let paint = paint(stroke.colour, opacity);
                    picture.stroke_path(&path, &paint, &as_wide, Transform::identity(), None);
                }
            }
        }
    }
    Ok(picture)
}

fn fill(picture: &mut Pixmap, path: &Path, paint: &Paint<'_>) {
    picture.fill_path(path, paint, FillRule::Winding, Transform::identity(), None);
}

/// `None` where nothing of it is seen.
fn path(outline: &[Step]) -> Option<Path> {
    let mut path = PathBuilder::new();
    for step in outline {
        match *step {
            Step::Move(x, y) => path.move_to(x, y),
            Step::Line(x, y) => path.line_to(x, y),
            Step::Cubic([(x1, y1), (x2, y2), (x, y)]) => path.cubic_to(x1, y1, x2, y2, x, y),
            Step::Close => path.close(),
        }
    }
    path.finish()
}

fn paint([red, green, blue]: Colour, opacity: f32) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, (opacity * 255.0).round() as u8);
    paint
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
