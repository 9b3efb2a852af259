//! The system drawn: each part a box, vacuum running from left to right, and where each part stands after the trials.
//!
//! Nothing is told by colour alone: each box has a sign and a word, and its border and hatching differ, too.

use super::{Isolation, Standing, percent};
use crate::record::System;
use crate::report::text::{escape, plain, wrap};

/// Width of a box, px.
const BOX_PX: usize = 178;
/// Height of a box, px.
const HIGH_PX: usize = 84;
/// From one column to the next, px.
const COLUMN_PX: usize = 218;
/// From one row to the next, px.
const ROW_PX: usize = 112;
/// Around the drawing, px.
const MARGIN_PX: usize = 20;
/// Letters of a box's line.
const LETTERS: usize = 23;

/// Column of each component: one to the right of the last that its vacuum comes from. A ring, which no car has, ends
/// after as many steps as there are components.
fn columns(system: &System) -> Vec<usize> {
    let count = system.components.len();
    let mut columns = vec![0; count];
    for _ in 0..count {
        for c in 0..count {
            let before = system.components[c].after.iter().map(|&a| columns[a] + 1).max();
            columns[c] = before.unwrap_or(0).min(count);
        }
    }
    if columns.iter().all(|column| *column == 0) {
        // Nothing says how they are connected: four in a row.
        return (0..count).map(|c| c % 4).collect();
    }
    columns
}

/// The system as a whole SVG document.
#[must_use]
pub fn draw(isolation: &Isolation<'_>) -> String {
    let Isolation { system, answer, .. } = *isolation;
    let standings = isolation.standings();
    let columns = columns(system);
    let most = columns.iter().max().map_or(0, |column| column + 1);
    let mut rows = vec![0; columns.len()];
    let mut filled = vec![0; most];
    for (c, &column) in columns.iter().enumerate() {
        rows[c] = filled[column];
        filled[column] += 1;
    }
    let tallest = filled.iter().copied().max().unwrap_or(1);
    // Short columns stand in the middle of the tall ones.
    let at = |c: usize| {
        let slack = (tallest - filled[columns[c]]) * ROW_PX / 2;
        (MARGIN_PX + columns[c] * COLUMN_PX, 60 + slack + rows[c] * ROW_PX)
    };
    let (wide, high) = (
        2 * MARGIN_PX + (most - 1) * COLUMN_PX + BOX_PX,
        60 + (tallest - 1) * ROW_PX + HIGH_PX + 44,
    );
    let mut out = String::new();
    for (c, component) in system.components.iter().enumerate() {
        for &before in &component.after {
            let ((x1, y1), (x2, y2)) = (at(before), at(c));
            let (from, to) = ((x1 + BOX_PX, y1 + HIGH_PX / 2), (x2, y2 + HIGH_PX / 2));
            let bend = from.0 + (COLUMN_PX - BOX_PX) / 2;
            out.push_str(&format!(
                "<path d=\"M{} {} H{bend} V{} H{}\" fill=\"none\" stroke=\"#333333\" stroke-width=\"3\"/>\n",
                from.0, from.1, to.1, to.0
            ));
        }
    }
    for (c, component) in system.components.iter().enumerate() {
        let (x, y) = at(c);
        let standing = standings[c];
        let (fill, stroke, dash) = match standing {
            Standing::Suspected => ("url(#hatch)", 5, ""),
            Standing::Possible => ("#ffffff", 3, " stroke-dasharray=\"9 5\""),
            Standing::Cleared => ("#ffffff", 2, ""),
            Standing::Open => ("#f2f2f2", 1, " stroke-dasharray=\"2 4\""),
        };
        out.push_str(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{BOX_PX}\" height=\"{HIGH_PX}\" fill=\"{fill}\" stroke=\"#000000\" \
             stroke-width=\"{stroke}\"{dash}/>\n"
        ));
        if standing == Standing::Suspected {
            // Words stand on white; the hatching is left as a frame.
            out.push_str(&format!(
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#ffffff\"/>\n",
                x + 8,
                y + 7,
                BOX_PX - 16,
                HIGH_PX - 14
            ));
        }
        let (left, mut base) = (x + 12, y + 23);
        let mut line = |text: &str, bold: bool| {
            let weight = if bold { " font-weight=\"bold\"" } else { "" };
            out.push_str(&format!(
                "<text x=\"{left}\" y=\"{base}\" font-size=\"13\"{weight}>{}</text>\n",
                escape(text)
            ));
            base += 17;
        };
        line(
            &format!("{} {standing} {}", standing.sign(), percent(answer.by_component[c])),
            true,
        );
        for text in wrap(&plain(&component.label), LETTERS, 0).iter().take(3) {
            line(text, false);
        }
    }
    let title = escape(&plain(&system.name));
    let legend = [
        Standing::Suspected,
        Standing::Possible,
        Standing::Cleared,
        Standing::Open,
    ]
    .map(|standing| format!("{} {standing}", standing.sign()))
    .join("    ");
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" height=\"{high}\" \
         font-family=\"sans-serif\" role=\"img\">\n<title>{title}</title>\n<defs><pattern id=\"hatch\" width=\"9\" \
         height=\"9\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"9\" height=\"9\" \
         fill=\"#fff0dc\"/><path d=\"M0 0V9\" stroke=\"#c46200\" stroke-width=\"2\"/></pattern></defs>\n<rect \
         width=\"{wide}\" height=\"{high}\" fill=\"#ffffff\"/>\n<text x=\"{MARGIN_PX}\" y=\"34\" font-size=\"18\" \
         font-weight=\"bold\">{title}</text>\n{out}<text x=\"{MARGIN_PX}\" y=\"{}\" font-size=\"13\" \
         xml:space=\"preserve\">{legend}</text>\n</svg>\n",
        high - 16
    )
}
