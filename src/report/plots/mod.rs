//! The plots: inclination and travel at each position, travel against vacuum, leak-down, and what the uncertainty is made
//! of.
//!
//! Down is down: a lower beam stands lower in the plot, so that the axis of the (downward) inclination grows towards the
//! bottom. Nothing is told by colour alone: every series has its own marker, its own dashes and its name in the legend, and
//! the two kinds of zone differ by their hatching and outline.

mod budget;
mod canvas;
mod leak_down;
mod raster;
mod travel;
mod vacuum;

pub use raster::png;

use super::text::{escape, fixed, plain, shorten};
use super::words::sentence;
use super::{Error, Findings};
use crate::aim::ShotReading;
use crate::record::{Band, Side, Stage, is_setting};
use canvas::{Canvas, Dash, HEIGHT_PX, Marker, Scale, WIDTH_PX, ink};

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
}

/// The plots that this job gives cause for.
///
/// # Errors
/// [`Error`] when the drawing library fails.
pub fn figures(findings: &Findings<'_>) -> Result<Vec<Figure>, Error> {
    // The figures of results.json, so that a caption never differs from it by a last digit.
    let adjuster = findings.adjuster.rounded();
    let findings = &Findings {
        adjuster: &adjuster,
        ..*findings
    };
    let mut figures = Vec::new();
    for side in [Side::Left, Side::Right] {
        if at_positions(findings, side).next().is_some() {
            figures.push(inclination_figure(findings, side)?);
        }
    }
    figures.extend(travel::figure(findings)?);
    figures.extend(vacuum::figures(findings)?);
    figures.extend(leak_down::figures(findings)?);
    for side in [Side::Left, Side::Right] {
        figures.extend(budget::figure(findings, side)?);
    }
    Ok(figures)
}

/// How a stage is drawn: before with open markers and dashes, after with filled ones and whole lines.
fn stage_look(stage: Option<Stage>) -> (Marker, Dash, plotters::style::RGBColor) {
    match stage {
        Some(Stage::Before) => (Marker::OpenCircle, Dash::Long, ink::BEFORE),
        Some(Stage::After) => (Marker::Square, Dash::None, ink::AFTER),
        None => (Marker::Diamond, Dash::None, ink::TEXT),
    }
}

fn stage_name(stage: Option<Stage>) -> &'static str {
    match stage {
        Some(Stage::Before) => "before",
        Some(Stage::After) => "after",
        None => "reading",
    }
}

/// Shots of a lamp that belong to the plot over positions: with a position, or without position and vacuum. A leak-down
/// runs over time, not over positions.
fn at_positions<'a>(findings: &Findings<'a>, side: Side) -> impl Iterator<Item = &'a ShotReading> {
    findings.readings.iter().filter(move |r| {
        r.shot.lamp == side && (r.shot.position.is_some() || r.shot.vacuum.is_none()) && !r.shot.sealed
    })
}

/// A figure with its place along the positions.
struct Reading {
    slot: usize,
    stage: Option<Stage>,
    percent: f64,
    u95_percent: f64,
}

/// The positions of both lamps in the order in which the job first names them, so that both plots have the same.
fn slots(findings: &Findings<'_>) -> Vec<Option<String>> {
    let mut slots: Vec<Option<String>> = Vec::new();
    for side in [Side::Left, Side::Right] {
        for reading in at_positions(findings, side) {
            // A refused photo keeps its position's place empty; one without a position has no place to keep.
            if reading.shot.position.is_none() && reading.result.is_err() {
                continue;
            }
            if !slots.contains(&reading.shot.position) {
                slots.push(reading.shot.position.clone());
            }
        }
    }
    slots
}

fn readings(findings: &Findings<'_>, side: Side, slots: &[Option<String>]) -> Vec<Reading> {
    at_positions(findings, side)
        .filter_map(|r| {
            let measured = r.result.as_ref().ok()?;
            Some(Reading {
                slot: slots.iter().position(|s| *s == r.shot.position)?,
                stage: r.shot.stage,
                percent: measured.aim.inclination_percent,
                u95_percent: measured.aim.u95_percent(),
            })
        })
        .filter(|r| r.percent.is_finite() && r.u95_percent.is_finite())
        .collect()
}

/// The band that judges a position, with whether it is the one for the setting: position 0, or none, is judged by the
/// setting, the others by the range (the contract's rule).
fn band(findings: &Findings<'_>, side: Side, position: Option<&str>) -> Option<(Band, bool)> {
    let judged = at_positions(findings, side)
        .filter(|r| r.shot.position.as_deref() == position)
        .find_map(|r| r.result.as_ref().ok()?.verdict.as_ref());
    if let Some(verdict) = judged {
        return Some((verdict.band, verdict.setting));
    }
    let setting = is_setting(position);
    let height_mm = findings.job.lamp(side)?.height_above_ground_mm();
    let choice = findings.job.tolerance_choice.as_deref();
    Some((findings.table?.band(setting, height_mm, choice)?, setting))
}

fn inclination_figure(findings: &Findings<'_>, side: Side) -> Result<Figure, Error> {
    let slots = slots(findings);
    let shown = readings(findings, side, &slots);
    let title = format!("{} lamp: inclination at each position", sentence(&side.to_string()));
    let name = format!("inclination-{side}");
    if shown.len() < 2 {
        return Ok(Figure {
            name,
            title,
            caption: String::new(),
            drawing: Err(format!(
                "There is no plot of the {side} lamp's inclination: it takes two photos that gave a figure, and there {}.",
                if shown.is_empty() { "is none" } else { "is one" }
            )),
        });
    }
    let bands: Vec<Option<(Band, bool)>> = slots.iter().map(|s| band(findings, side, s.as_deref())).collect();

    // One scale for both lamps, so that the plots can be compared side by side.
    let mut ends: Vec<f64> = Vec::new();
    for side in [Side::Left, Side::Right] {
        for r in readings(findings, side, &slots) {
            ends.extend([r.percent - r.u95_percent, r.percent + r.u95_percent]);
        }
        for slot in &slots {
            if at_positions(findings, side).next().is_some()
                && let Some((band, _)) = band(findings, side, slot.as_deref())
            {
                ends.extend([band.low_percent, band.high_percent]);
            }
        }
    }
    let y = Scale::around(&ends);
    let x = Scale::plain(-0.5, slots.len() as f64 - 0.5);

    let stages: Vec<Option<Stage>> = [None, Some(Stage::Before), Some(Stage::After)]
        .into_iter()
        .filter(|stage| shown.iter().any(|r| r.stage == *stage))
        .collect();
    let caption = inclination_caption(&stages, &bands);
    let mut svg = String::new();
    {
        let c = Canvas::new(&mut svg, x, y)?;
        c.heading(&title, "downward inclination, %: lower in the plot = lower beam")?;
        let mut legend: Vec<(canvas::Key, String)> = stages
            .iter()
            .map(|stage| {
                let (marker, dash, colour) = stage_look(*stage);
                (canvas::Key::Series(marker, dash, colour), stage_name(*stage).to_owned())
            })
            .collect();
        for (setting, text) in [(true, "allowed: setting"), (false, "allowed: range")] {
            if bands.iter().flatten().any(|(_, s)| *s == setting) {
                legend.push((canvas::Key::Zone(setting), text.to_owned()));
            }
        }
        c.legend(&legend)?;
        c.horizontal_grid()?;
        for (slot, band) in bands.iter().enumerate() {
            if let Some((band, setting)) = band {
                let centre = slot as f64;
                c.zone(
                    (centre - 0.42, band.low_percent),
                    (centre + 0.42, band.high_percent),
                    *setting,
                )?;
            }
        }
        let room = (c.width_of_plot() / slots.len().max(1) as i32 / 15).max(3);
        for (slot, position) in slots.iter().enumerate() {
            let text = position.as_deref().map_or_else(|| "none".to_owned(), plain);
            c.x_label(slot as f64, &shorten(&text, usize::try_from(room).unwrap_or(3)))?;
        }
        c.x_title("position of the range control")?;
        for stage in &stages {
            let (marker, dash, colour) = stage_look(*stage);
            let placed = place(&shown, *stage);
            let means: Vec<(f64, f64)> = (0..slots.len())
                .filter_map(|slot| {
                    let of_slot: Vec<f64> = shown
                        .iter()
                        .filter(|r| r.stage == *stage && r.slot == slot)
                        .map(|r| r.percent)
                        .collect();
                    let mean = of_slot.iter().sum::<f64>() / of_slot.len() as f64;
                    (!of_slot.is_empty()).then_some((slot as f64 + offset(*stage), mean))
                })
                .collect();
            c.line(&means, dash, colour)?;
            for (x, reading) in placed {
                c.point((x, reading.percent), reading.u95_percent, marker, colour)?;
            }
        }
        c.finish()?;
    }
    Ok(Figure {
        drawing: Ok(described(&svg, &title, &caption)),
        name,
        title,
        caption,
    })
}

/// Before stands to the left of its position, after to the right.
fn offset(stage: Option<Stage>) -> f64 {
    match stage {
        Some(Stage::Before) => -0.16,
        Some(Stage::After) => 0.16,
        None => 0.0,
    }
}

/// Photos of one position and stage stand beside each other, in the job's order.
fn place(readings: &[Reading], stage: Option<Stage>) -> Vec<(f64, &Reading)> {
    let of_stage: Vec<&Reading> = readings.iter().filter(|r| r.stage == stage).collect();
    of_stage
        .iter()
        .enumerate()
        .map(|(n, reading)| {
            let before = of_stage[..n].iter().filter(|r| r.slot == reading.slot).count() as f64;
            let all = of_stage.iter().filter(|r| r.slot == reading.slot).count() as f64;
            let step = (0.2 / all).min(0.06);
            let x = reading.slot as f64 + offset(stage) + step * (before - (all - 1.0) / 2.0);
            (x, *reading)
        })
        .collect()
}

fn inclination_caption(stages: &[Option<Stage>], bands: &[Option<(Band, bool)>]) -> String {
    let mut text = String::from(
        "The axis points down as the beam does: a marker that stands lower is a lower beam. A range adjuster that works \
         gives markers that step from position to position; markers in a level row are a beam that stands still. Bars \
         show the 95 % interval with everything in it.",
    );
    if stages.len() > 1 {
        text.push_str(" Before the repair: open circles and dashes; after it: filled squares and a whole line.");
    }
    if bands.iter().any(Option::is_some) {
        text.push_str(
            " The hatched zone is what the tolerance table allows: densely hatched within a whole outline for the \
             setting, thinly hatched within a dashed outline for the range. A reading is inside when its whole bar is.",
        );
    }
    text
}

/// Name of a figure of one lamp at one stage.
fn name_of(kind: &str, lamp: Side, stage: Option<Stage>) -> String {
    stage.map_or_else(|| format!("{kind}-{lamp}"), |stage| format!("{kind}-{lamp}-{stage}"))
}

/// The document with a title and a description inside, for readers that speak.
fn described(svg: &str, title: &str, caption: &str) -> String {
    let head = format!("<svg width=\"{WIDTH_PX}\" height=\"{HEIGHT_PX}\"");
    let inner = format!("<title>{}</title>\n<desc>{}</desc>\n", escape(title), escape(caption));
    match svg.split_once('>') {
        Some((start, rest)) => format!(
            "{} role=\"img\">\n{inner}{}\n",
            start.replacen(&head, &format!("{head} class=\"plot\""), 1),
            rest.trim()
        ),
        None => svg.to_owned(),
    }
}

/// A tick's label: as many places as the step needs.
fn tick_text(value: f64, step: f64) -> String {
    let places = if step >= 1.0 { 0.0 } else { (-step.log10()).ceil() };
    fixed(value, places.clamp(0.0, 6.0) as usize).replace('-', "−")
}
