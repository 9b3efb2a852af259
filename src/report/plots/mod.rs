//! The plots: inclination and travel at each position, travel against vacuum, leak-down, and what the uncertainty is made
//! of.
//!
//! Down is down: a lower beam stands lower in the plot, so that the axis of the (downward) inclination grows towards the
//! bottom. Nothing is told by colour alone: every series has its own marker, its own dashes and its name in the legend, and
//! the two kinds of zone differ by their hatching and outline.

mod budget;
mod chart;
mod element;
mod inclination;
mod leak_down;
mod png;
mod travel;
mod vacuum;

pub use png::png;

use super::text::escape;
use super::{Error, Findings};
use crate::adjuster::LampTravel;
use crate::aim::ShotReading;
use crate::record::{Side, Stage};
use chart::Chart;

/// A plot, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// The file's name without its ending.
    pub name: String,
    /// What it shows.
    pub title: String,
    /// What one should see in it.
    pub caption: String,
    /// The plot as a whole SVG document, or a sentence in its place.
    pub drawing: Result<String, String>,
}

/// All names that a figure can have, or had in an earlier version; a report writes no plot under any other.
pub const NAMES: [&str; 18] = [
    "inclination-left",
    "inclination-right",
    "travel",
    "vacuum-left",
    "vacuum-left-before",
    "vacuum-left-after",
    "vacuum-right",
    "vacuum-right-before",
    "vacuum-right-after",
    "leak-down-left",
    "leak-down-left-before",
    "leak-down-left-after",
    "leak-down-right",
    "leak-down-right-before",
    "leak-down-right-after",
    "budget-left",
    "budget-right",
    "vacuum",
];

impl Figure {
    /// Whether it shows what the range adjuster does, rather than where the beam is and how well that is known.
    #[must_use]
    pub fn is_of_adjuster(&self) -> bool {
        ["travel", "vacuum", "leak-down"]
            .iter()
            .any(|kind| self.name.starts_with(kind))
    }

    /// A figure with its plot, which carries title and caption, too, for readers that speak.
    fn drawn(name: String, title: String, caption: String, svg: &str) -> Self {
        let (wide, high) = chart::SIZE;
        let inner = format!("<title>{}</title>\n<desc>{}</desc>", escape(&title), escape(&caption));
        let head = format!("<svg width=\"{wide}\" height=\"{high}\"");
        let (wide, high) = (wide / chart::UNITS, high / chart::UNITS);
        let shown = format!("<svg class=\"plot\" role=\"img\" width=\"{wide}\" height=\"{high}\"");
        let svg = svg.trim().replacen(&head, &shown, 1);
        let drawing = Ok(svg.replacen('>', &format!(">\n{inner}"), 1) + "\n");
        Self {
            name,
            title,
            caption,
            drawing,
        }
    }

    fn plotted(name: String, caption: String, chart: Chart) -> Result<Self, Error> {
        let svg = chart.draw()?;
        Ok(Self::drawn(name, chart.title, caption, &svg))
    }

    /// A sentence in place of the plot.
    fn missing(name: String, title: String, sentence: String) -> Self {
        let (caption, drawing) = (String::new(), Err(sentence));
        Self {
            name,
            title,
            caption,
            drawing,
        }
    }
}

/// The plots that this job gives cause for.
///
/// # Errors
/// [`Error`] when the drawing library fails.
pub fn figures(findings: &Findings) -> Result<Vec<Figure>, Error> {
    // The figures of results.json, so that a caption never differs from it by a last digit.
    let adjuster = findings.adjuster.rounded();
    let mut figures = inclination::figures(&findings.readings, &adjuster)?;
    figures.extend(travel::figure(&adjuster)?);
    for response in &adjuster.response {
        figures.push(vacuum::figure(response)?);
    }
    for leak in &adjuster.leak_down {
        figures.push(leak_down::figure(leak)?);
    }
    figures.extend(budget::figures(&findings.readings)?);
    Ok(figures)
}

/// Shots of a lamp that belong to the plot over positions: with a position, or without position and vacuum. A leak-down
/// runs over time, not over positions.
fn at_positions(readings: &[ShotReading], side: Side) -> impl Iterator<Item = &ShotReading> {
    readings.iter().filter(move |r| {
        r.shot.lamp == side && (r.shot.position.is_some() || r.shot.vacuum.is_none()) && !r.shot.sealed
    })
}

/// The positions of all lamps and stages, in the adjuster's order.
fn positions<'a>(lamps: impl IntoIterator<Item = &'a LampTravel>) -> Vec<&'a str> {
    let mut positions: Vec<&str> = Vec::new();
    for position in lamps.into_iter().flat_map(|lamp| &lamp.positions) {
        if !positions.contains(&position.position.as_str()) {
            positions.push(&position.position);
        }
    }
    positions
}

/// Name of a figure of one lamp at one stage.
fn name_of(kind: &str, lamp: Side, stage: Option<Stage>) -> String {
    stage.map_or_else(|| format!("{kind}-{lamp}"), |stage| format!("{kind}-{lamp}-{stage}"))
}
