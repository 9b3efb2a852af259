//! The system drawn: each part a box, vacuum running from left to right or from top to bottom, and where each part stands after the trials.
//!
//! Nothing is told by colour alone: each box has a sign and a word, and its border and hatching differ, too.

use super::percent;
use crate::isolate::{Isolated, Standing};
use crate::record::System;
use crate::report::text::{escape, plain, wrap};

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

/// The system as a whole SVG document.
#[must_use]
pub fn draw(isolation: &Isolated, flow: Flow) -> String {
    let Isolated { system, answer, .. } = isolation;
    let standings = isolation.standings();
    let steps = steps(system, flow);
    let most = steps.iter().max().map_or(0, |step| step + 1);
    let mut places = vec![0; steps.len()];
    let mut filled = vec![0; most];
    for (c, &step) in steps.iter().enumerate() {
        places[c] = filled[step];
        filled[step] += 1;
    }
    let broadest = filled.iter().copied().max().unwrap_or(1);
    // Sizes along the flow and across it.
    let (along_px, across_px) = match flow {
        Flow::Right => (BOX_PX, HIGH_PX),
        Flow::Down => (HIGH_PX, BOX_PX),
    };
    let head_px = match flow {
        Flow::Right => 60,
        Flow::Down => MARGIN_PX / 2,
    };
    let margin_px = match flow {
        Flow::Right => MARGIN_PX,
        Flow::Down => 4,
    };
    let at = |c: usize| {
        // Steps with few parts stand in the middle of those with many.
        let slack = (broadest - filled[steps[c]]) * (across_px + GAP_PX) / 2;
        let along = steps[c] * (along_px + STEP_PX);
        let across = slack + places[c] * (across_px + GAP_PX);
        match flow {
            Flow::Right => (margin_px + along, head_px + across),
            Flow::Down => (margin_px + across, head_px + along),
        }
    };
    let length_px = most.max(1) * (along_px + STEP_PX) - STEP_PX;
    let breadth_px = broadest.max(1) * (across_px + GAP_PX) - GAP_PX;
    let (wide, high) = match flow {
        Flow::Right => (2 * margin_px + length_px, head_px + breadth_px + 44),
        // As broad as two parts at the least, for the signs' meaning below.
        Flow::Down => (
            2 * margin_px + breadth_px.max(2 * BOX_PX + GAP_PX),
            head_px + length_px + 40,
        ),
    };
    let mut out = String::new();
    for (c, component) in system.components.iter().enumerate() {
        for &before in &component.after {
            let ((x1, y1), (x2, y2)) = (at(before), at(c));
            let line = match flow {
                Flow::Right => format!(
                    "M{} {} H{} V{} H{x2}",
                    x1 + BOX_PX,
                    y1 + HIGH_PX / 2,
                    x1 + BOX_PX + STEP_PX / 2,
                    y2 + HIGH_PX / 2
                ),
                Flow::Down => format!(
                    "M{} {} V{} H{} V{y2}",
                    x1 + BOX_PX / 2,
                    y1 + HIGH_PX,
                    y1 + HIGH_PX + STEP_PX / 2,
                    x2 + BOX_PX / 2
                ),
            };
            out.push_str(&format!(
                "<path d=\"{line}\" fill=\"none\" stroke=\"#333333\" stroke-width=\"3\"/>\n"
            ));
        }
    }
    for (c, component) in system.components.iter().enumerate() {
        let (x, y) = at(c);
        let standing = standings[c];
        let (fill, stroke, dash) = match standing {
            Standing::Suspected => ("url(#isolate-hatch)", 5, ""),
            Standing::Possible => ("#ffffff", 3, " stroke-dasharray=\"9 5\""),
            Standing::Cleared => ("#ffffff", 2, ""),
            Standing::Open => ("#f2f2f2", 1, " stroke-dasharray=\"2 4\""),
        };
        out.push_str(&format!(
            "<g><title>{}: {standing}, {}</title>\n",
            escape(&plain(&component.id)),
            escape(&percent(answer.by_component[c]))
        ));
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
        out.push_str("</g>\n");
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
    let heading = match flow {
        Flow::Right => {
            format!("<text x=\"{margin_px}\" y=\"34\" font-size=\"18\" font-weight=\"bold\">{title}</text>\n")
        }
        Flow::Down => String::new(),
    };
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" height=\"{high}\" \
         font-family=\"sans-serif\" role=\"img\">\n<title>{title}</title>\n<defs><pattern id=\"isolate-hatch\" width=\"9\" \
         height=\"9\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"9\" height=\"9\" \
         fill=\"#fff0dc\"/><path d=\"M0 0V9\" stroke=\"#c46200\" stroke-width=\"2\"/></pattern></defs>\n<rect \
         width=\"{wide}\" height=\"{high}\" fill=\"#ffffff\"/>\n{heading}{out}<text x=\"{margin_px}\" y=\"{}\" font-size=\"13\" \
         xml:space=\"preserve\">{legend}</text>\n</svg>\n",
        high - 16
    )
}
