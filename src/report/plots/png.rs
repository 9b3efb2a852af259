//! A plot as PNG, for programs that show no SVG: made from the SVG itself by `resvg`, so that both are of one drawing.
//!
//! Letters are those that the program carries, since a machine's own would make the bytes differ from place to place.

use super::super::Error;
use super::chart::SIZE;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};
use std::sync::{Arc, LazyLock};

/// Letters of DejaVu Sans Condensed, whose licence lies beside them.
const LETTERS: [&[u8]; 2] = [
    include_bytes!("letters/regular.ttf"),
    include_bytes!("letters/bold.ttf"),
];
/// The family's name within them.
const FAMILY: &str = "DejaVu Sans Condensed";

static OPTIONS: LazyLock<Options<'static>> = LazyLock::new(|| {
    let mut fonts = fontdb::Database::new();
    for letters in LETTERS {
        fonts.load_font_data(letters.to_vec());
    }
    fonts.set_sans_serif_family(FAMILY);
    Options {
        fontdb: Arc::new(fonts),
        font_family: FAMILY.to_owned(),
        ..Options::default()
    }
});

/// The plot as PNG, a pixel for each of its units.
///
/// # Errors
/// [`Error`] for what is no SVG, and where the encoder fails.
pub fn png(svg: &str) -> Result<Vec<u8>, Error> {
    let fault = |error: &dyn std::fmt::Display| Error::make("a plot as PNG", error);
    let tree = Tree::from_str(svg, &OPTIONS).map_err(|e| fault(&e))?;
    let (wide, high) = (SIZE.0 as u32, SIZE.1 as u32);
    let mut picture = Pixmap::new(wide, high).ok_or_else(|| fault(&"it has no size"))?;
    picture.fill(resvg::tiny_skia::Color::WHITE);
    let scale = Transform::from_scale(wide as f32 / tree.size().width(), high as f32 / tree.size().height());
    resvg::render(&tree, scale, &mut picture.as_mut());
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
