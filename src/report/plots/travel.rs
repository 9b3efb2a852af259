//! Travel at each position of the range control: both lamps, before and after side by side.

use super::super::{Error, Findings};
use super::canvas::{Canvas, Dash, Key, Marker, Scale, ink};
use super::{Figure, described};
use crate::adjuster::LampTravel;
use crate::record::{Side, Stage};
use crate::report::text::{fixed, plain, shorten};
use crate::report::words::lamp_and_stage_short;
use plotters::style::RGBColor;

/// How a lamp at a stage is drawn: the shape tells the lamp, filled or open the stage, and each has its own dashes.
fn look(lamp: Side, stage: Option<Stage>) -> (Marker, Dash, RGBColor) {
    match (lamp, stage) {
        (Side::Left, Some(Stage::Before)) => (Marker::OpenCircle, Dash::Long, ink::BEFORE),
        (Side::Left, _) => (Marker::Circle, Dash::None, ink::AFTER),
        (Side::Right, Some(Stage::Before)) => (Marker::OpenTriangle, Dash::Dot, ink::OTHER),
        (Side::Right, _) => (Marker::Triangle, Dash::LongDot, ink::TEXT),
    }
}

/// The plot; `None` where no lamp was read at any position.
pub(super) fn figure(findings: &Findings) -> Result<Option<Figure>, Error> {
    let adjuster = &findings.adjuster;
    if adjuster.travel.is_empty() {
        return Ok(None);
    }
    let name = "travel".to_owned();
    let title = "Travel at each position, both lamps".to_owned();
    let finite = |lamp: &&LampTravel| {
        let all = lamp.positions.iter();
        lamp.positions.len() > 1
            && all
                .clone()
                .all(|p| p.travel_percent.is_finite() && p.travel_u95_percent.is_finite())
    };
    let mut lamps: Vec<&LampTravel> = adjuster.travel.iter().filter(finite).collect();
    lamps.sort_by_key(|l| (l.lamp == Side::Right, l.stage == Some(Stage::After)));
    if lamps.is_empty() {
        return Ok(Some(Figure {
            name,
            title,
            caption: String::new(),
            drawing: Err(
                "There is no plot of the travel: it takes two positions of one lamp at one stage that gave a figure."
                    .to_owned(),
            ),
        }));
    }
    let mut slots: Vec<&str> = Vec::new();
    for position in lamps.iter().flat_map(|l| &l.positions) {
        if !slots.contains(&position.position.as_str()) {
            slots.push(&position.position);
        }
    }
    let slot = |position: &str| slots.iter().position(|s| *s == position).unwrap_or(0) as f64;
    let least = adjuster.least_travel_percent;
    // What is expected of a position is the same for all lamps and stages.
    let expected: Vec<(f64, f64, f64)> = slots
        .iter()
        .filter_map(|name| {
            let of = lamps.iter().flat_map(|l| &l.positions).filter(|p| p.position == *name);
            let expected = of.clone().find_map(|p| p.expected)?;
            let (middle, wide) = (expected.travel_percent, expected.tolerance_percent);
            Some((slot(name), middle - wide, middle + wide))
        })
        .collect();
    let mut ends = vec![-least, least];
    for position in lamps.iter().flat_map(|l| &l.positions) {
        let (travel, u95) = (position.travel_percent, position.travel_u95_percent);
        ends.extend([travel - u95, travel + u95]);
    }
    ends.extend(expected.iter().flat_map(|(_, low, high)| [*low, *high]));

    let mut legend: Vec<(Key, String)> = lamps
        .iter()
        .map(|l| {
            let (marker, dash, colour) = look(l.lamp, l.stage);
            (Key::Series(marker, dash, colour), lamp_and_stage_short(l.lamp, l.stage))
        })
        .collect();
    legend.push((Key::Zone(false), format!("less than {least} %: no travel")));
    if !expected.is_empty() {
        legend.push((Key::Zone(true), "expected".to_owned()));
    }
    let caption = caption(&lamps, least, !expected.is_empty());
    let mut svg = String::new();
    {
        let x = Scale::plain(-0.5, slots.len() as f64 - 0.5);
        let c = Canvas::new(&mut svg, x, Scale::around(&ends))?.below(&legend);
        c.heading(
            &title,
            "travel from the first position, %: lower in the plot = lower beam",
        )?;
        c.legend(&legend)?;
        c.horizontal_grid()?;
        c.zone((x.low, -least), (x.high, least), false)?;
        for (slot, low, high) in expected {
            c.zone((slot - 0.42, low), (slot + 0.42, high), true)?;
        }
        let room = (c.width_of_plot() / slots.len().max(1) as i32 / 15).max(3);
        for (n, position) in slots.iter().enumerate() {
            c.x_label(n as f64, &shorten(&plain(position), usize::try_from(room).unwrap_or(3)))?;
        }
        c.x_title("position of the range control")?;
        for (n, lamp) in lamps.iter().enumerate() {
            let (marker, dash, colour) = look(lamp.lamp, lamp.stage);
            // Side by side about the position's middle.
            let aside = (n as f64 - (lamps.len() as f64 - 1.0) / 2.0) * (0.72 / lamps.len() as f64).min(0.24);
            let places: Vec<(f64, f64)> = lamp
                .positions
                .iter()
                .map(|p| (slot(&p.position) + aside, p.travel_percent))
                .collect();
            c.line(&places, dash, colour)?;
            for (place, position) in places.iter().zip(&lamp.positions) {
                c.point(*place, position.travel_u95_percent, marker, colour)?;
            }
        }
        c.finish()?;
    }
    Ok(Some(Figure {
        drawing: Ok(described(&svg, &title, &caption)),
        name,
        title,
        caption,
    }))
}

fn caption(lamps: &[&LampTravel], least_percent: f64, any_expected: bool) -> String {
    let mut text = format!(
        "How far each beam has travelled since the lamp's first position; the axis points down as the beam does. A range \
         adjuster that works gives a staircase that is alike for both lamps; markers in a row within the hatched band across \
         (less than {least_percent} % up or down) are a beam that does not follow. Circles: left lamp; triangles: right \
         lamp; open: before the repair; filled: after it. Bars show the 95 % interval; the first position is 0 by \
         definition."
    );
    if any_expected {
        text.push_str(
            " The hatched boxes are what the job expects of a position; it is met when a whole bar lies within.",
        );
    }
    let said: Vec<String> = lamps
        .iter()
        .filter_map(|l| {
            let total = l.total.as_ref()?;
            Some(format!(
                "{} {} (from {} to {}: {} %)",
                lamp_and_stage_short(l.lamp, l.stage),
                l.movement?,
                plain(&total.from),
                plain(&total.to),
                fixed(total.percent, 2)
            ))
        })
        .collect();
    if !said.is_empty() {
        text.push_str(&format!(" Here: {}.", said.join("; ")));
    }
    text
}
