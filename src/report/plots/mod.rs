//! The plots: inclination at each position, travel against vacuum, and what the uncertainty is made of.
//!
//! In the first two, down is down: a lower beam stands lower in the plot, so that the axis of the (downward) inclination grows
//! towards the bottom. Nothing is told by colour alone: lamps and stages differ by the markers' shape, stages and
//! branches by dashes and by filled or open markers, and the two kinds of allowed zone by their hatching.

mod budget;
mod canvas;

use super::text::{escape, fixed, plain, shorten};
use super::words::lamp_and_stage;
use super::{Findings, ReportError};
use crate::aim::{Measured, ShotReading};
use crate::record::{Band, Branch, Side, Stage};
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

/// All names that a figure can have; a report writes no plot under any other.
pub const NAMES: [&str; 5] = [
    "inclination-left",
    "inclination-right",
    "vacuum",
    "budget-left",
    "budget-right",
];

/// The plots that this job gives cause for, in the order of [`NAMES`].
///
/// # Errors
/// [`ReportError`] when the drawing library fails.
pub fn figures(findings: &Findings<'_>) -> Result<Vec<Figure>, ReportError> {
    let mut figures = Vec::new();
    for side in [Side::Left, Side::Right] {
        if at_positions(findings, side).next().is_some() {
            figures.push(inclination_figure(findings, side)?);
        }
    }
    if findings.readings.iter().any(in_vacuum_plot) {
        figures.push(vacuum_figure(findings)?);
    }
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

/// Shots of a lamp that belong to the plot over positions: with a position, or without position and vacuum.
fn at_positions<'a>(findings: &Findings<'a>, side: Side) -> impl Iterator<Item = &'a ShotReading> {
    findings
        .readings
        .iter()
        .filter(move |r| r.shot.lamp == side && (r.shot.position.is_some() || r.shot.vacuum.is_none()))
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
    let setting = matches!(position, None | Some("0"));
    let height_mm = findings.job.lamp(side)?.height_above_ground_mm();
    let choice = findings.job.tolerance_choice.as_deref();
    Some((findings.table?.band(setting, height_mm, choice)?, setting))
}

fn inclination_figure(findings: &Findings<'_>, side: Side) -> Result<Figure, ReportError> {
    let slots = slots(findings);
    let shown = readings(findings, side, &slots);
    let title = format!("{} lamp: inclination at each position", capital(&side.to_string()));
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

/// A shot of the plot over vacuum. A sealed pump's leak-down runs over time, not over vacuum.
fn in_vacuum_plot(reading: &ShotReading) -> bool {
    reading.shot.vacuum.is_some() && !reading.shot.sealed
}

/// One lamp at one stage against vacuum.
pub(crate) struct VacuumSeries {
    pub lamp: Side,
    pub stage: Option<Stage>,
    /// In the job's order; the first is what the others are held against.
    pub steps: Vec<VacuumStep>,
}

/// One photo of such a series.
pub(crate) struct VacuumStep {
    pub vacuum_mbar: f64,
    pub releasing: bool,
    /// Change of the inclination since the series' first photo, per cent, positive downward.
    pub travel_percent: f64,
    /// Half-width of its 95 % interval, per cent; 0 for the first photo, whose travel is 0 by definition.
    pub u95_percent: f64,
}

/// The series against vacuum. What the photos have in common counts in their uncertainty only where it does not cancel.
pub(crate) fn vacuum_series(readings: &[ShotReading]) -> Vec<VacuumSeries> {
    type Group<'a> = ((Side, Option<Stage>), Vec<(&'a ShotReading, &'a Measured)>);
    let mut groups: Vec<Group<'_>> = Vec::new();
    for reading in readings.iter().filter(|r| in_vacuum_plot(r)) {
        let Ok(measured) = &reading.result else { continue };
        if !measured.aim.inclination_percent.is_finite() || !measured.aim.reading_u95_percent().is_finite() {
            continue;
        }
        let key = (reading.shot.lamp, reading.shot.stage);
        match groups.iter_mut().find(|(k, _)| *k == key) {
            Some((_, members)) => members.push((reading, measured)),
            None => groups.push((key, vec![(reading, measured)])),
        }
    }
    groups
        .into_iter()
        .map(|((lamp, stage), members)| {
            let base = members.first().map(|(_, m)| &m.aim);
            let steps = members
                .iter()
                .enumerate()
                .map(|(n, (reading, measured))| VacuumStep {
                    vacuum_mbar: reading.shot.vacuum.map_or(0.0, crate::record::Vacuum::mbar),
                    releasing: reading.shot.branch == Some(Branch::Releasing),
                    travel_percent: measured.aim.inclination_percent - base.map_or(0.0, |aim| aim.inclination_percent),
                    u95_percent: base
                        .filter(|_| n > 0)
                        .map_or(0.0, |aim| measured.aim.difference_u95_percent(aim)),
                })
                .collect();
            VacuumSeries { lamp, stage, steps }
        })
        .collect()
}

fn series_look(lamp: Side, stage: Option<Stage>) -> ((Marker, Marker), plotters::style::RGBColor) {
    match (lamp, stage) {
        (Side::Left, Some(Stage::Before)) => ((Marker::Circle, Marker::OpenCircle), ink::BEFORE),
        (Side::Left, _) => ((Marker::Square, Marker::OpenSquare), ink::AFTER),
        (Side::Right, Some(Stage::Before)) => ((Marker::Triangle, Marker::OpenTriangle), ink::OTHER),
        (Side::Right, _) => ((Marker::Diamond, Marker::OpenDiamond), ink::TEXT),
    }
}

fn vacuum_figure(findings: &Findings<'_>) -> Result<Figure, ReportError> {
    let name = "vacuum".to_owned();
    let title = "Travel against vacuum".to_owned();
    let series: Vec<VacuumSeries> = vacuum_series(findings.readings)
        .into_iter()
        .filter(|s| s.steps.len() > 1)
        .collect();
    if series.is_empty() {
        return Ok(Figure {
            name,
            title,
            caption: String::new(),
            drawing: Err(
                "There is no plot of the travel against vacuum: it takes two photos of one lamp at one stage that gave \
                 a figure, at two settings of the pump."
                    .to_owned(),
            ),
        });
    }
    let steps = || series.iter().flat_map(|s| &s.steps);
    let most_mbar = steps().map(|s| s.vacuum_mbar).fold(0.0, f64::max);
    let y_ends: Vec<f64> = steps()
        .flat_map(|s| [s.travel_percent - s.u95_percent, s.travel_percent + s.u95_percent])
        .chain([0.0])
        .collect();
    let any_releasing = steps().any(|s| s.releasing);
    let mut caption = String::from(
        "Change of the inclination since the first photo of each series; the axis points down as the beam does, so a \
         line that climbs is a beam that rises. A sound actuator moves with each step of the pump. Bars show the 95 % \
         interval of what differs from photo to photo; the first photo is 0 by definition.",
    );
    if any_releasing {
        caption.push_str(
            " Filled markers and whole lines: vacuum being applied. Open markers and dashes: being released. The gap \
             between the two is what the mechanism loses to friction.",
        );
    }
    let x = Scale::nice(0.0, if most_mbar > 0.0 { most_mbar } else { 1.0 });
    // Bars at 0 mbar must not run into the vertical axis's figures.
    let x = Scale {
        low: -0.04 * x.high,
        ..x
    };
    let mut svg = String::new();
    {
        let c = Canvas::new(&mut svg, x, Scale::around(&y_ends))?;
        c.heading(&title, "change of inclination, %: lower in the plot = lower beam")?;
        let mut legend: Vec<(canvas::Key, String)> = Vec::new();
        for s in &series {
            let ((filled, _), colour) = series_look(s.lamp, s.stage);
            let text = lamp_and_stage(s.lamp, s.stage)
                .replace(" lamp, ", ", ")
                .replace(" the repair", "");
            legend.push((canvas::Key::Series(filled, Dash::None, colour), text));
        }
        if any_releasing {
            legend.push((
                canvas::Key::Series(Marker::OpenCircle, Dash::Long, ink::TEXT),
                "open: releasing".to_owned(),
            ));
        }
        c.legend(&legend)?;
        c.horizontal_grid()?;
        c.vertical_ticks()?;
        c.x_title("vacuum, mbar below atmosphere")?;
        for s in &series {
            let ((filled, open), colour) = series_look(s.lamp, s.stage);
            for pair in s.steps.windows(2) {
                let ends: Vec<(f64, f64)> = pair.iter().map(|p| (p.vacuum_mbar, p.travel_percent)).collect();
                c.line(&ends, if pair[1].releasing { Dash::Long } else { Dash::None }, colour)?;
            }
            for step in &s.steps {
                let marker = if step.releasing { open } else { filled };
                c.point(
                    (step.vacuum_mbar, step.travel_percent),
                    step.u95_percent,
                    marker,
                    colour,
                )?;
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

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|first| first.to_uppercase().chain(chars).collect())
        .unwrap_or_default()
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
