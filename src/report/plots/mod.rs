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
mod ink;
mod leak_down;
mod png;
mod travel;
mod vacuum;

pub use png::png;

use super::text::escape;
use super::words::{lamp_and_stage, lamp_and_stage_short, sentence};
use super::{Error, Findings};
use crate::adjuster::LampTravel;
use crate::aim::ShotReading;
use crate::language::Language;
use crate::record::{Side, Stage};
use chart::Chart;

/// What a plot is about: where it stands in the report follows from it, and its file is named after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Where the beam is at each position.
    Inclination,
    /// What the range control does.
    Travel,
    /// What a pump's vacuum does.
    Vacuum,
    /// What the beam does with the pump's valve shut.
    LeakDown,
    /// What the uncertainty is made of.
    Budget,
}

impl Subject {
    const ALL: [Self; 5] = [
        Self::Inclination,
        Self::Travel,
        Self::Vacuum,
        Self::LeakDown,
        Self::Budget,
    ];
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Inclination => "inclination",
            Self::Travel => "travel",
            Self::Vacuum => "vacuum",
            Self::LeakDown => "leak-down",
            Self::Budget => "budget",
        })
    }
}

/// A plot, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it is about.
    pub subject: Subject,
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
pub fn names() -> Vec<String> {
    let of_lamps = |subject: Subject, stages: &[Option<Stage>]| -> Vec<String> {
        let lamps = [Side::Left, Side::Right].into_iter();
        lamps
            .flat_map(|lamp| stages.iter().map(move |&stage| name_of(subject, lamp, stage)))
            .collect()
    };
    let (plain, staged) = ([None], [None, Some(Stage::Before), Some(Stage::After)]);
    let of = |subject| match subject {
        Subject::Travel => vec![subject.to_string()],
        Subject::Inclination | Subject::Budget => of_lamps(subject, &plain),
        Subject::LeakDown => of_lamps(subject, &staged),
        // One plot held both lamps in an earlier version.
        Subject::Vacuum => [vec![subject.to_string()], of_lamps(subject, &staged)].concat(),
    };
    Subject::ALL.into_iter().flat_map(of).collect()
}

impl Figure {
    /// Whether it shows what the range adjuster does, rather than where the beam is and how well that is known.
    #[must_use]
    pub fn is_of_adjuster(&self) -> bool {
        match self.subject {
            Subject::Travel | Subject::Vacuum | Subject::LeakDown => true,
            Subject::Inclination | Subject::Budget => false,
        }
    }

    /// A figure with its plot, which carries title and caption, too, for readers that speak.
    fn drawn(subject: Subject, name: String, title: String, caption: String, svg: &str) -> Self {
        let (wide, high) = chart::SIZE;
        let inner = format!("<title>{}</title>\n<desc>{}</desc>", escape(&title), escape(&caption));
        let head = format!("<svg width=\"{wide}\" height=\"{high}\"");
        let (wide, high) = (wide / chart::UNITS, high / chart::UNITS);
        let shown = format!("<svg class=\"plot\" role=\"img\" width=\"{wide}\" height=\"{high}\"");
        let svg = svg.trim().replacen(&head, &shown, 1);
        let drawing = Ok(svg.replacen('>', &format!(">\n{inner}"), 1) + "\n");
        Self {
            subject,
            name,
            title,
            caption,
            drawing,
        }
    }

    fn plotted(subject: Subject, name: String, caption: String, chart: Chart) -> Result<Self, Error> {
        let svg = chart.draw()?;
        Ok(Self::drawn(subject, name, chart.title, caption, &svg))
    }

    /// A sentence in place of the plot.
    fn missing(subject: Subject, name: String, title: String, sentence: String) -> Self {
        let (caption, drawing) = (String::new(), Err(sentence));
        Self {
            subject,
            name,
            title,
            caption,
            drawing,
        }
    }
}

/// The plots that this job gives cause for, with their words in `language`.
///
/// # Errors
/// [`Error`] when the drawing library fails.
pub fn figures(language: Language, findings: &Findings) -> Result<Vec<Figure>, Error> {
    // Unrounded, as the words beside the plots take them, so that a caption never differs from these by a last digit.
    let adjuster = &findings.adjuster;
    let mut figures = inclination::figures(language, &findings.readings, adjuster)?;
    figures.extend(travel::figure(language, adjuster)?);
    for response in &adjuster.response {
        figures.push(vacuum::figure(language, response)?);
    }
    for leak in &adjuster.leak_down {
        figures.push(leak_down::figure(language, leak)?);
    }
    figures.extend(budget::figures(language, &findings.readings)?);
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
fn name_of(subject: Subject, lamp: Side, stage: Option<Stage>) -> String {
    stage.map_or_else(
        || format!("{subject}-{lamp}"),
        |stage| format!("{subject}-{lamp}-{stage}"),
    )
}

/// Whose plot it is, before its title; in German short, since a long title is set in small letters.
fn titled(language: Language, lamp: Side, stage: Option<Stage>) -> String {
    sentence(&match language {
        Language::English => lamp_and_stage(language, lamp, stage),
        Language::German => lamp_and_stage_short(language, lamp, stage),
    })
}

/// Half of a tread's width, of the way from one position to the next.
const HALF_TREAD: f64 = 0.36;

/// A staircase with a level tread at each place: markers of several lamps stand side by side on it, and where two are alike their
/// lines lie on each other.
fn staircase(values: impl Iterator<Item = (usize, f64)>) -> Vec<(f64, f64)> {
    values
        .flat_map(|(place, value)| [-HALF_TREAD, HALF_TREAD].map(|aside| (place as f64 + aside, value)))
        .collect()
}
