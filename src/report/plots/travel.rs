//! Travel at each position of the range control: both lamps, before and after side by side.

use super::super::Error;
use super::chart::{Area, Axis, Chart, Series, Zone};
use super::element::{Dash, Look, Point, Shape};
use super::ink;
use super::{Figure, Subject, positions, staircase};
use crate::adjuster::{Adjuster, LampTravel, PositionTravel};
use crate::language::{Language, said};
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
pub(super) fn figure(language: Language, adjuster: &Adjuster) -> Result<Option<Figure>, Error> {
    if adjuster.travel.is_empty() {
        return Ok(None);
    }
    let (name, title) = ("travel".to_owned(), title(language, adjuster));
    let finite = |lamp: &&LampTravel| {
        let mut all = lamp.positions.iter();
        lamp.positions.len() > 1 && all.all(|p| p.travel_percent.is_finite() && p.travel_u95_percent.is_finite())
    };
    let mut lamps: Vec<&LampTravel> = adjuster.travel.iter().filter(finite).collect();
    lamps.sort_by_key(|l| (l.lamp == Side::Right, l.stage == Some(Stage::After)));
    if lamps.is_empty() {
        let sentence = language.pick(
            "There is no plot of the travel: it takes two positions of one lamp at one stage that gave a figure.",
            "Ein Diagramm des Stellwegs gibt es nicht: Nötig sind zwei Stellungen eines Scheinwerfers mit Messwert, beide vor oder \
             beide nach der Reparatur.",
        );
        return Ok(Some(Figure::missing(Subject::Travel, name, title, sentence.to_owned())));
    }
    let positions = positions(lamps.iter().copied());
    let x = Axis::named(positions.iter().copied());
    let mut zones = vec![still(language, adjuster.least_travel_percent, &x)];
    zones.extend(expected(language, &lamps, &positions));
    let caption = caption(language, &lamps, adjuster.least_travel_percent, zones.len() > 1);
    let chart = Chart {
        title,
        x_title: language.pick("position of the range control", "Stellung des Leuchtweitenreglers"),
        x,
        area: Area::of_beam(
            language,
            language.pick(
                "travel from the first position, %: lower in the plot = lower beam",
                "Stellweg ab der ersten Stellung, %: tiefer im Bild = tieferer Lichtkegel",
            ),
            (0..lamps.len())
                .map(|n| series(language, &lamps, n, &positions))
                .collect(),
            zones,
        ),
        below: None,
    };
    Figure::plotted(Subject::Travel, name, caption, chart).map(Some)
}

/// How far each beam went in all, before and after.
fn title(language: Language, adjuster: &Adjuster) -> String {
    let of = |side: Side| {
        let lamps = adjuster.travel.iter().filter(|lamp| lamp.lamp == side);
        let said: Vec<String> = lamps
            .filter_map(|lamp| Some(fixed(language, lamp.total.as_ref()?.percent, 2)))
            .collect();
        (!said.is_empty()).then(|| format!("{} {} %", side.said(language), said.join(" → ")))
    };
    let said: Vec<String> = [Side::Left, Side::Right].into_iter().filter_map(of).collect();
    if said.is_empty() {
        language
            .pick("Travel at each position", "Stellweg in jeder Stellung")
            .to_owned()
    } else {
        said!(language; "Travel: {}", "Stellweg: {}"; said.join(", "))
    }
}

/// The band across within which a beam does not follow.
fn still(language: Language, least_percent: f64, x: &Axis) -> Zone {
    Zone {
        corners: [(x.low, -least_percent), (x.high, least_percent)],
        dense: false,
        label: said!(
            language; "less than {} %: no travel", "unter {} %: kein Stellweg";
            language.figure(&least_percent.to_string())
        ),
    }
}

/// What is expected of each position; it is the same for all lamps and stages.
fn expected(language: Language, lamps: &[&LampTravel], positions: &[&str]) -> Vec<Zone> {
    let zone = |(n, name): (usize, &&str)| {
        let mut of = lamps.iter().flat_map(|l| &l.positions).filter(|p| p.position == **name);
        let expected = of.find_map(|p| p.expected)?;
        let (middle, wide) = (expected.travel_percent, expected.tolerance_percent);
        Some(Zone::at(
            n,
            (middle - wide, middle + wide),
            true,
            language.pick("expected", "erwartet"),
        ))
    };
    positions.iter().enumerate().filter_map(zone).collect()
}

/// One of the lamps, which stand side by side about a position's middle.
fn series(language: Language, lamps: &[&LampTravel], n: usize, positions: &[&str]) -> Series {
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
        label: lamp_and_stage_short(language, lamp.lamp, lamp.stage),
        line: staircase(placed.clone().map(|(place, p)| (place, p.travel_percent))),
        points: placed.map(point).collect(),
    }
}

fn caption(language: Language, lamps: &[&LampTravel], least_percent: f64, any_expected: bool) -> String {
    let least_percent = language.figure(&least_percent.to_string());
    let mut text = said!(
        language; "How far each beam has travelled since the lamp's first position; the axis points down as the beam does. A range \
         adjuster that works gives a staircase that is alike for both lamps; markers in a row within the hatched band across \
         (less than {least_percent} % up or down) are a beam that does not follow. Circles: left lamp; triangles: right \
         lamp; open: before the repair; filled: after it. Bars show the 95 % interval; the first position is 0 by \
         definition.",
        "Wie weit jeder Lichtkegel seit der ersten Stellung seines Scheinwerfers gewandert ist; die Achse zeigt nach unten wie der \
         Lichtkegel. Eine Leuchtweitenverstellung, die arbeitet, gibt eine Treppe, die bei beiden Scheinwerfern gleich ist; Zeichen \
         in einer Reihe im schraffierten Band (unter {least_percent} % nach oben oder unten) sind ein Lichtkegel, der nicht folgt. \
         Kreise: linker Scheinwerfer; Dreiecke: rechter Scheinwerfer; offen: vor der Reparatur; gefüllt: danach. Striche zeigen das \
         95-%-Intervall; die erste Stellung ist nach Festlegung 0."
    );
    if any_expected {
        text.push_str(language.pick(
            " The hatched boxes are what the job expects of a position; it is met when a whole bar lies within.",
            " Die schraffierten Kästen sind, was der Auftrag von einer Stellung erwartet; es ist erfüllt, wenn ein ganzer Strich darin \
             liegt.",
        ));
    }
    let said: Vec<String> = lamps
        .iter()
        .filter_map(|l| {
            let total = l.total.as_ref()?;
            Some(said!(
                language; "{} {} (from {} to {}: {} %)", "{}: {} (von {} bis {}: {} %)";
                lamp_and_stage_short(language, l.lamp, l.stage),
                l.movement?.said(language),
                plain(&total.from),
                plain(&total.to),
                fixed(language, total.percent, 2)
            ))
        })
        .collect();
    if !said.is_empty() {
        text.push_str(&said!(language; " Here: {}.", " Hier: {}."; said.join("; ")));
    }
    text
}
