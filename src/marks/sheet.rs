//! One sheet: a tag with what is needed to hang it and to measure it.

use super::canvas::{Align, Canvas};
use super::helvetica::Font;
use super::outline::outlines;
use super::{Paper, TagCells};

/// Edge that a printer may leave blank, mm; nothing is printed there. Common printers need up to 5 mm.
const UNPRINTABLE_MM: f64 = 5.0;
/// From the paper's edge to the words, mm.
const EDGE_MM: f64 = 6.0;
/// Height of the words above the white margin, mm.
const HEAD_MM: f64 = 22.0;
/// Height of the words below the white margin, mm.
const FOOT_MM: f64 = 42.0;
/// Modules (cells) across the tag with one white module on either side, over the modules across the tag.
const WITH_WHITE: f64 = 10.0 / 8.0;
/// Length of the check bar, mm.
const CHECK_BAR_MM: f64 = 100.0;

/// See [`Paper::largest_size_mm`].
pub(super) fn largest_size_mm(paper: Paper) -> f64 {
    let [width_mm, height_mm] = paper.size_mm();
    let across_mm = width_mm - 2.0 * UNPRINTABLE_MM;
    let up_mm = height_mm - 2.0 * EDGE_MM - HEAD_MM - FOOT_MM;
    // Down to whole tenths, so that the limit an error names is one that can be typed.
    (across_mm.min(up_mm) / WITH_WHITE * 10.0 + 1e-6).floor() / 10.0
}

/// Draws the sheet of tag `id`, `size_mm` over its black border.
pub(super) fn draw(paper: Paper, size_mm: f64, id: u32, cells: &TagCells) -> Canvas {
    let mut canvas = Canvas::new(paper);
    let [width_mm, height_mm] = paper.size_mm();
    let centre_mm = [
        width_mm / 2.0,
        (EDGE_MM + FOOT_MM + height_mm - EDGE_MM - HEAD_MM) / 2.0,
    ];
    head(&mut canvas, id);
    tag(&mut canvas, centre_mm, size_mm, cells);
    centre_lines(&mut canvas, centre_mm, size_mm);
    foot(&mut canvas, size_mm);
    canvas
}

fn tag(canvas: &mut Canvas, centre_mm: [f64; 2], size_mm: f64, cells: &TagCells) {
    let module_mm = size_mm / 8.0;
    let loops_mm: Vec<Vec<[f64; 2]>> = outlines(cells)
        .into_iter()
        .map(|corners| {
            let place = |[x, y]: [u8; 2]| {
                [
                    centre_mm[0] + (f64::from(x) - 4.0) * module_mm,
                    centre_mm[1] - (f64::from(y) - 4.0) * module_mm,
                ]
            };
            corners.into_iter().map(place).collect()
        })
        .collect();
    canvas.fill(&loops_mm, 0.0);
}

/// Four fine lines that point at the tag's centre. They keep to the outer part of the white margin: a detector looks
/// for white half a module from the black.
fn centre_lines(canvas: &mut Canvas, [x_mm, y_mm]: [f64; 2], size_mm: f64) {
    let module_mm = size_mm / 8.0;
    let [near_mm, far_mm] = [4.6 * module_mm, 4.95 * module_mm];
    for [across, up] in [[0.0, 1.0], [0.0, -1.0], [1.0, 0.0], [-1.0, 0.0]] {
        let at = |from_centre_mm: f64| [x_mm + across * from_centre_mm, y_mm + up * from_centre_mm];
        canvas.line(&[at(near_mm), at(far_mm)], 0.25, &[]);
    }
}

fn head(canvas: &mut Canvas, id: u32) {
    let [width_mm, height_mm] = canvas.paper().size_mm();
    let base_mm = height_mm - EDGE_MM - 16.0;
    canvas.text(
        EDGE_MM + 6.0,
        base_mm,
        Align::Left,
        Font::Bold,
        54.0,
        &format!("mark {id}"),
    );
    let arrow_mm = width_mm - EDGE_MM - 12.0;
    canvas.text(arrow_mm - 14.0, base_mm, Align::Centre, Font::Bold, 36.0, "up");
    canvas.arrow(
        [arrow_mm, base_mm - 2.5],
        [arrow_mm, height_mm - EDGE_MM - 1.0],
        2.0,
        7.5,
    );
}

fn foot(canvas: &mut Canvas, size_mm: f64) {
    let paper = canvas.paper();
    let middle_mm = paper.size_mm()[0] / 2.0;
    let top_mm = EDGE_MM + FOOT_MM;
    canvas.fill_rect(middle_mm - CHECK_BAR_MM / 2.0, top_mm - 6.0, CHECK_BAR_MM, 3.0, 0.0);
    let lines = [
        (
            Font::Bold,
            "Print at 100 %, not 'fit to page'; this bar must be 100 mm. Measure it with a ruler.".to_owned(),
        ),
        (
            Font::Regular,
            "If it is longer or shorter, set the scale to 100 % in the print window and print again.".to_owned(),
        ),
        (
            Font::Regular,
            "The four fine lines point at the tag's centre: that is where x and y are measured to.".to_owned(),
        ),
        (
            Font::Regular,
            format!("Tag: {size_mm} mm over the black square, tag36h11."),
        ),
        (Font::Regular, format!("Paper: {}.", paper.in_words())),
    ];
    for (n, (font, text)) in (0_u8..).zip(&lines) {
        let base_mm = top_mm - 12.5 - 6.5 * f64::from(n);
        canvas.text(middle_mm, base_mm, Align::Centre, *font, 12.0, text);
    }
}
