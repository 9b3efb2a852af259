//! Travel at each position of the range control: both lamps, before and after side by side.

use super::super::Error;
use super::chart::{Area, Axis, Chart, Series, Zone};
use super::element::{Dash, Look, Point, Shape};
use super::ink;
use super::{Figure, Subject, positions, staircase};
use crate::adjuster::{Adjuster, LampTravel, PositionTravel};
use crate::language::Language;
use crate::record::{Side, Stage};
use crate::report::text::{fixed, plain};
use crate::report::words::lamp_and_stage_short;

/// How a lamp at a stage is drawn: the shape tells the lamp, filled or open the stage, and each has its own dashes.
fn look(lamp: Side, stage: Option<Stage>) -> Look {
    match (lamp, stage) {
        (Side::Left, Some(Stage::Before)) => Look::open(Shape::Circle, Dash::Long, ink::BEFORE),
        (Side::Left, _) => Look::filled(Shape::Circle, Dash::None, ink::AFTER),
        (Side::Right, Some(Stage::Before)) => Look::open(Shape::Triangle, Dash::Dot, ink::OTHER),
        (Side::Right, _) => Look::filled(Shape::Triangle, Dash::LongDot, ink::TEXT),
    }
}

/// The plot; `None` where no lamp was read at any position.
pub(super) fn figure(adjuster: &Adjuster) -> Result<Option<Figure>, Error> {
    if adjuster.travel.is_empty() {
        return Ok(None);
    }
    let (name, title) = ("travel".to_owned(), title(adjuster));
    let finite = |lamp: &&LampTravel| {
        let mut all = lamp.positions.iter();
        lamp.positions.len() > 1 && all.all(|p| p.travel_percent.is_finite() && p.travel_u95_percent.is_finite())
    };
    let mut lamps: Vec<&LampTravel> = adjuster.travel.iter().filter(finite).collect();
    lamps.sort_by_key(|l| (l.lamp == Side::Right, l.stage == Some(Stage::After)));
    if lamps.is_empty() {
        let sentence =
            "There is no plot of the travel: it takes two positions of one lamp at one stage that gave a figure.";
        return Ok(Some(Figure::missing(Subject::Travel, name, title, sentence.to_owned())));
    }
    let positions = positions(lamps.iter().copied());
    let x = Axis::named(positions.iter().copied());
    let mut zones = vec![still(adjuster.least_travel_percent, &x)];
    zones.extend(expected(&lamps, &positions));
    let caption = caption(&lamps, adjuster.least_travel_percent, zones.len() > 1);
    let chart = Chart {
        title,
        x_title: "position of the range control",
        x,
        area: Area::of_beam(
            "travel from the first position, %: lower in the plot = lower beam",
            (0..lamps.len()).map(|n| series(&lamps, n, &positions)).collect(),
            zones,
        ),
        below: None,
    };
    Figure::plotted(Subject::Travel, name, caption, chart).map(Some)
}

/// How far each beam went in all, before and after.
fn title(adjuster: &Adjuster) -> String {
    let of = |side: Side| {
        let lamps = adjuster.travel.iter().filter(|lamp| lamp.lamp == side);
        let said: Vec<String> = lamps
            .filter_map(|lamp| Some(fixed(Language::English, lamp.total.as_ref()?.percent, 2)))
            .collect();
        (!said.is_empty()).then(|| format!("{side} {} %", said.join(" → ")))
    };
    let said: Vec<String> = [Side::Left, Side::Right].into_iter().filter_map(of).collect();
    if said.is_empty() {
        "Travel at each position".to_owned()
    } else {
        format!("Travel: {}", said.join(", "))
    }
}

/// The band across within which a beam does not follow.
fn still(least_percent: f64, x: &Axis) -> Zone {
    Zone {
        corners: [(x.low, -least_percent), (x.high, least_percent)],
        dense: false,
        label: format!("less than {least_percent} %: no travel"),
    }
}

/// What is expected of each position; it is the same for all lamps and stages.
fn expected(lamps: &[&LampTravel], positions: &[&str]) -> Vec<Zone> {
    let zone = |(n, name): (usize, &&str)| {
        let mut of = lamps.iter().flat_map(|l| &l.positions).filter(|p| p.position == **name);
        let expected = of.find_map(|p| p.expected)?;
        let (middle, wide) = (expected.travel_percent, expected.tolerance_percent);
        Some(Zone::at(n, (middle - wide, middle + wide), true, "expected"))
    };
    positions.iter().enumerate().filter_map(zone).collect()
}

/// One of the lamps, which stand side by side about a position's middle.
fn series(lamps: &[&LampTravel], n: usize, positions: &[&str]) -> Series {
    let (lamp, count) = (lamps[n], lamps.len() as f64);
    let aside = (n as f64 - (count - 1.0) / 2.0) * (0.72 / count).min(0.24);
    let placed = lamp.positions.iter().filter_map(|p| {
        let place = positions.iter().position(|name| *name == p.position)?;
        Some((place, p))
    });
    let point = |(place, p): (usize, &PositionTravel)| Point {
        at: (place as f64 + aside, p.travel_percent),
        u95: (0.0, p.travel_u95_percent),
    };
    Series {
        look: look(lamp.lamp, lamp.stage),
        label: lamp_and_stage_short(Language::English, lamp.lamp, lamp.stage),
        line: staircase(placed.clone().map(|(place, p)| (place, p.travel_percent))),
        points: placed.map(point).collect(),
    }
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
                lamp_and_stage_short(Language::English, l.lamp, l.stage),
                l.movement?,
                plain(&total.from),
                plain(&total.to),
                fixed(Language::English, total.percent, 2)
            ))
        })
        .collect();
    if !said.is_empty() {
        text.push_str(&format!(" Here: {}.", said.join("; ")));
    }
    text
}
