//! Inclination of a lamp at each position of the range control, with what the tolerance table allows.

use super::super::Error;
use super::chart::{Area, Axis, Chart, Series, Zone};
use super::element::{Dash, Look, Point, Shape};
use super::ink;
use super::{Figure, Subject, at_positions, positions, staircase};
use crate::adjuster::Adjuster;
use crate::aim::{Measured, Outcome, ShotReading};
use crate::language::{Language, said};
use crate::record::{Band, Side, Stage};
use crate::report::words::{lamp_and_stage, sentence};
use std::collections::BTreeMap;

const SIDES: [Side; 2] = [Side::Left, Side::Right];
const STAGES: [Option<Stage>; 3] = [None, Some(Stage::Before), Some(Stage::After)];

/// How a stage is drawn, where it stands beside its position's middle, and its name.
fn look(language: Language, stage: Option<Stage>) -> (Look, f64, &'static str) {
    match stage {
        Some(Stage::Before) => (
            Look::open(Shape::Circle, Dash::Long, ink::BEFORE),
            -0.16,
            language.pick("before", "vorher"),
        ),
        Some(Stage::After) => (
            Look::filled(Shape::Square, Dash::None, ink::AFTER),
            0.16,
            language.pick("after", "nachher"),
        ),
        None => (
            Look::filled(Shape::Diamond, Dash::None, ink::TEXT),
            0.0,
            language.pick("reading", "Messwert"),
        ),
    }
}

/// One plot for each lamp with photos at positions; both have the same axes, so that they can be compared.
pub(super) fn figures(language: Language, readings: &[ShotReading], adjuster: &Adjuster) -> Result<Vec<Figure>, Error> {
    let places = places(readings, adjuster);
    let lamps = SIDES.map(|side| {
        let of_stage = |stage| series(language, readings, adjuster, (side, stage), &places);
        Area::of_beam(
            language,
            language.pick(
                "downward inclination, %: lower in the plot = lower beam",
                "Neigung nach unten, %: tiefer im Bild = tieferer Lichtkegel",
            ),
            STAGES.into_iter().filter_map(of_stage).collect(),
            zones(language, readings, side, &places),
        )
    });
    let ends: Vec<f64> = lamps.iter().flat_map(Area::ends).collect();
    let mut figures = Vec::new();
    for (side, mut area) in SIDES.into_iter().zip(lamps) {
        if at_positions(readings, side).next().is_some() {
            area.y = Axis::around(language, ends.iter().copied());
            figures.push(figure(language, side, title(language, readings, side), area, &places)?);
        }
    }
    Ok(figures)
}

/// How many of a lamp's photos are inside what is allowed.
fn title(language: Language, readings: &[ShotReading], side: Side) -> String {
    let lamp = sentence(&lamp_and_stage(language, side, None));
    let measured = at_positions(readings, side).filter_map(|reading| reading.result.as_ref().ok());
    let outcomes: Vec<Outcome> = measured
        .filter_map(|measured| Some(measured.verdict.as_ref()?.unloaded()))
        .collect();
    if outcomes.is_empty() {
        return said!(
            language; "{lamp}: inclination at each position", "{lamp}: Neigung in jeder Stellung"
        );
    }
    let of = |outcome: Outcome| outcomes.iter().filter(|one| **one == outcome).count();
    let others = [
        (Outcome::Outside, language.pick("outside", "außerhalb")),
        (Outcome::Undecided, language.pick("undecided", "offen")),
    ];
    let others = others
        .into_iter()
        .map(|(outcome, word)| (of(outcome), word))
        .filter(|(count, _)| *count > 0);
    let others: String = others.map(|(count, word)| format!(", {count} {word}")).collect();
    said!(
        language; "{lamp}: {} of {} photos are inside{others}", "{lamp}: {} von {} Fotos innerhalb{others}";
        of(Outcome::Inside),
        outcomes.len()
    )
}

fn figure(language: Language, side: Side, title: String, area: Area, places: &[Option<&str>]) -> Result<Figure, Error> {
    let name = format!("inclination-{side}");
    let count = area.series.iter().map(|series| series.points.len()).sum::<usize>();
    if count < 2 {
        let there = if count == 0 {
            language.pick("is none", "ist keines")
        } else {
            language.pick("is one", "ist eines")
        };
        let stem = side.stem();
        let sentence = said!(
            language;
            "There is no plot of the {side} lamp's inclination: it takes two photos that gave a figure, and there {there}.",
            "Ein Diagramm der Neigung des {stem}en Scheinwerfers gibt es nicht: Nötig sind zwei Fotos mit Messwert, da {there}."
        );
        return Ok(Figure::missing(Subject::Inclination, name, title, sentence));
    }
    let caption = caption(language, &area);
    let chart = Chart {
        title,
        x_title: language.pick("position of the range control", "Stellung des Leuchtweitenreglers"),
        x: Axis::named(
            places
                .iter()
                .map(|place| place.unwrap_or(language.pick("none", "keine"))),
        ),
        area,
        below: None,
    };
    Figure::plotted(Subject::Inclination, name, caption, chart)
}

/// The positions of all lamps, and after them a place for photos without one.
fn places<'a>(readings: &[ShotReading], adjuster: &'a Adjuster) -> Vec<Option<&'a str>> {
    let mut places: Vec<Option<&str>> = positions(&adjuster.travel).into_iter().map(Some).collect();
    let mut shots = SIDES.into_iter().flat_map(|side| at_positions(readings, side));
    if shots.any(|r| r.shot.position.is_none() && r.result.is_ok()) {
        places.push(None);
    }
    places
}

/// The photos of a lamp that gave a figure, each with its place.
fn measured<'a>(
    readings: &'a [ShotReading],
    side: Side,
    places: &[Option<&str>],
) -> impl Iterator<Item = (usize, &'a ShotReading, &'a Measured)> {
    at_positions(readings, side).filter_map(|reading| {
        let measured = reading.result.as_ref().ok()?;
        let place = places
            .iter()
            .position(|place| *place == reading.shot.position.as_deref())?;
        Some((place, reading, measured)).filter(|_| measured.aim.inclination_percent.is_finite())
    })
}

/// The bands that the photos were judged by, that of the setting first.
fn zones(language: Language, readings: &[ShotReading], side: Side, places: &[Option<&str>]) -> Vec<Zone> {
    let judged: BTreeMap<(bool, usize), Band> = measured(readings, side, places)
        .filter_map(|(place, _, measured)| {
            let verdict = measured.verdict.as_ref()?;
            Some(((!verdict.setting, place), verdict.band))
        })
        .collect();
    let zone = |((range, place), band): ((bool, usize), Band)| {
        let label = if range {
            language.pick("allowed: range", "zulässig: Bereich")
        } else {
            language.pick("allowed: setting", "zulässig: Einstellung")
        };
        Zone::at(place, (band.low_percent, band.high_percent), !range, label)
    };
    judged.into_iter().map(zone).collect()
}

/// Each photo's reading; photos of one place stand beside each other, in the job's order. The line has a tread at
/// each position's mean.
fn series(
    language: Language,
    readings: &[ShotReading],
    adjuster: &Adjuster,
    (side, stage): (Side, Option<Stage>),
    places: &[Option<&str>],
) -> Option<Series> {
    let (look, aside, label) = look(language, stage);
    let all: Vec<(usize, &Measured)> = measured(readings, side, places)
        .filter(|(_, reading, _)| reading.shot.stage == stage)
        .map(|(place, _, measured)| (place, measured))
        .collect();
    let points: Vec<Point> = all
        .iter()
        .enumerate()
        .map(|(n, (place, measured))| {
            let beside = |all: &[(usize, &Measured)]| all.iter().filter(|(other, _)| other == place).count() as f64;
            let (before, count) = (beside(&all[..n]), beside(&all));
            let step = (0.2 / count).min(0.06);
            let x = *place as f64 + aside + step * (before - (count - 1.0) / 2.0);
            Point {
                at: (x, measured.aim.inclination_percent),
                u95: (0.0, measured.aim.u95_percent()),
            }
        })
        .collect();
    let of_stage = adjuster
        .travel
        .iter()
        .filter(|lamp| (lamp.lamp, lamp.stage) == (side, stage));
    let line = of_stage.flat_map(|lamp| &lamp.positions).filter_map(|p| {
        let place = places.iter().position(|place| *place == Some(p.position.as_str()))?;
        Some((place, p.percent))
    });
    let label = label.to_owned();
    (!points.is_empty()).then_some(Series {
        look,
        label,
        line: staircase(line),
        points,
    })
}

fn caption(language: Language, shown: &Area) -> String {
    let mut text = String::from(language.pick(
        "The axis points down as the beam does: a marker that stands lower is a lower beam. A range adjuster that works \
         gives markers that step from position to position; markers in a level row are a beam that stands still. Bars \
         show the 95 % interval with everything in it.",
        "Die Achse zeigt nach unten wie der Lichtkegel: Ein Zeichen, das tiefer steht, ist ein tieferer Lichtkegel. Eine \
         Leuchtweitenverstellung, die arbeitet, gibt Zeichen, die von Stellung zu Stellung eine Stufe machen; Zeichen auf einer Höhe \
         sind ein Lichtkegel, der stillsteht. Striche zeigen das 95-%-Intervall mit allem darin.",
    ));
    if shown.series.len() > 1 {
        text.push_str(language.pick(
            " Before the repair: open circles and dashes; after it: filled squares and a whole line.",
            " Vor der Reparatur: offene Kreise, gestrichelt; danach: gefüllte Quadrate, durchgezogene Linie.",
        ));
    }
    if !shown.zones.is_empty() {
        text.push_str(language.pick(
            " The hatched zone is what the tolerance table allows: densely hatched within a whole outline for the \
             setting, thinly hatched within a dashed outline for the range. A reading is inside when its whole bar is.",
            " Die schraffierte Fläche ist, was die Toleranztabelle zulässt: dicht schraffiert mit durchgezogenem Rand für die \
             Einstellung, dünn schraffiert mit gestricheltem Rand für den Bereich. Ein Messwert ist innerhalb, wenn sein ganzer \
             Strich es ist.",
        ));
    }
    text
}
