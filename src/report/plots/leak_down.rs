//! The beam while the pump's valve is shut, and the vacuum where the lamp's response to it is known.

use super::super::Error;
use super::chart::{Area, Axis, Chart, Note, Series, Zone};
use super::element::{Dash, Look, Point, Shape};
use super::ink;
use super::{Figure, Subject, name_of, titled};
use crate::adjuster::{LeakDown, LeakPoint, LeakState};
use crate::language::{Language, said};
use crate::report::words::lamp_and_stage;

/// The plot of a lamp at a stage.
pub(super) fn figure(language: Language, leak: &LeakDown) -> Result<Figure, Error> {
    let name = name_of(Subject::LeakDown, leak.lamp, leak.stage);
    let who = lamp_and_stage(language, leak.lamp, leak.stage);
    let answer = match leak.state {
        LeakState::Holds => language.pick("vacuum holds with the pump's valve shut", "Ventil zu, Unterdruck hält"),
        LeakState::Leaks => language.pick(
            "vacuum leaks with the pump's valve shut",
            "Ventil zu, Unterdruck entweicht",
        ),
        LeakState::CannotTell => language.pick("whether vacuum leaks is open", "offen, ob Unterdruck entweicht"),
    };
    let title = format!("{}: {answer}", titled(language, leak.lamp, leak.stage));
    let finite = |p: &&LeakPoint| p.percent.is_finite() && p.reading_u95_percent.is_finite();
    let points: Vec<_> = leak.points.iter().filter(finite).collect();
    if points.len() < 2 || leak.duration_s <= 0.0 {
        let sentence = said!(
            language; "There is no plot of the leak-down ({who}): it takes two timed photos that gave a figure.",
            "Ein Diagramm der Dichtheitsprüfung ({who}) gibt es nicht: Nötig sind zwei Fotos mit Uhrzeit und Messwert."
        );
        return Ok(Figure::missing(Subject::LeakDown, name, title, sentence));
    }
    let (mut area, mut below) = (beam(language, leak, &points), vacuum(language, leak));
    if let Some(half) = leak
        .half_time_s
        .filter(|half| (0.0..=leak.duration_s).contains(&half.value))
    {
        for area in [Some(&mut area), below.as_mut()].into_iter().flatten() {
            area.upright(half.value / 60.0, language.pick("half is lost", "Hälfte verloren"));
        }
    }
    let caption = caption(language, leak, below.is_some());
    let chart = Chart {
        title,
        x_title: language.pick(
            "time since the first photo, minutes",
            "Zeit seit dem ersten Foto, Minuten",
        ),
        x: Axis::from_zero(language, leak.duration_s / 60.0, 6).with_air(),
        area,
        below,
    };
    Figure::plotted(Subject::LeakDown, name, caption, chart)
}

/// What a beam or a vacuum that holds surely stays within, from the first photo to the last.
fn held(language: Language, leak: &LeakDown, low: f64, high: f64) -> Zone {
    Zone {
        corners: [(0.0, low), (leak.duration_s / 60.0, high)],
        dense: false,
        label: language.pick("surely stays within", "bleibt sicher darin").to_owned(),
    }
}

fn beam(language: Language, leak: &LeakDown, points: &[&LeakPoint]) -> Area {
    let course: Vec<(f64, f64)> = leak.course.iter().map(|s| (s.elapsed_s / 60.0, s.percent)).collect();
    let start_percent = course.first().map_or(points[0].percent, |(_, percent)| *percent);
    let limit_percent = leak.creep_below_percent.filter(|_| leak.state == LeakState::Holds);
    let zone = limit_percent.map(|limit| held(language, leak, start_percent - limit, start_percent + limit));
    let photo = |p: &&LeakPoint| Point {
        at: (p.elapsed_s / 60.0, p.percent),
        u95: (0.0, p.reading_u95_percent),
    };
    // A course that falls leaves the corner at top right free, one that rises the one at bottom right.
    let rises = course.last().is_some_and(|(_, percent)| *percent < start_percent);
    let photos = Series {
        look: Look::filled(Shape::Circle, Dash::None, ink::AFTER),
        label: if course.is_empty() {
            language.pick("photos", "Fotos")
        } else {
            language.pick("photos, fitted course", "Fotos, angepasster Verlauf")
        }
        .to_owned(),
        line: course,
        points: points.iter().map(photo).collect(),
    };
    let title = language.pick(
        "inclination, %: lower in the plot = lower beam",
        "Neigung, %: tiefer im Bild = tieferer Lichtkegel",
    );
    let mut area = Area::of_beam(language, title, vec![photos], zone.into_iter().collect());
    area.notes.push(Note {
        x: f64::INFINITY,
        right: false,
        top: !rises,
        lines: figures_of(language, leak),
    });
    area
}

/// The vacuum that the lamp's response makes of the course; `None` where it is not known.
fn vacuum(language: Language, leak: &LeakDown) -> Option<Area> {
    let sample = |s: &crate::adjuster::LeakSample| Some((s.elapsed_s / 60.0, s.vacuum_mbar?));
    let line: Vec<(f64, f64)> = leak.course.iter().filter_map(sample).collect();
    let most_mbar = line.iter().map(|(_, mbar)| *mbar).fold(0.0, f64::max);
    let limit_mbar = leak.loss_below_mbar.filter(|_| leak.state == LeakState::Holds);
    let zone = |(limit, start): (f64, f64)| held(language, leak, (start - limit).max(0.0), start);
    (most_mbar > 0.0).then(|| Area {
        title: language.pick("vacuum, mbar below atmosphere", "Unterdruck, mbar unter Atmosphäre"),
        y: Axis::from_zero(language, most_mbar, 4),
        down: false,
        zones: limit_mbar.zip(leak.start_vacuum_mbar).map(zone).into_iter().collect(),
        series: vec![Series {
            look: Look::line(Dash::Long, ink::BEFORE),
            label: language
                .pick("vacuum, from the beam", "Unterdruck, aus dem Lichtkegel")
                .to_owned(),
            line,
            points: Vec::new(),
        }],
        notes: Vec::new(),
    })
}

/// The figures in a few short lines.
fn figures_of(language: Language, leak: &LeakDown) -> Vec<String> {
    let mut lines = Vec::new();
    match leak.state {
        LeakState::Leaks => {
            if let Some(rate) = &leak.start_rate_mbar_per_min {
                lines.push(said!(language; "loses {} mbar/min", "verliert {} mbar/min"; rate.text(language, 1)));
            }
            if let Some(half) = &leak.half_time_s {
                lines.push(said!(language; "half in {} s", "Hälfte in {} s"; half.text(language, 0)));
            }
            if let Some(residual) = &leak.residual_vacuum_mbar {
                lines.push(said!(language; "stops at {} mbar", "endet bei {} mbar"; residual.text(language, 0)));
            }
            if lines.is_empty()
                && let Some(creep) = &leak.creep_percent
            {
                lines.push(said!(language; "creeps by {} %", "kriecht um {} %"; creep.text(language, 2)));
            }
            if let Some(time) = &leak.creep_time_constant_s {
                lines.push(said!(language; "time constant {} s", "Zeitkonstante {} s"; time.text(language, 0)));
            }
        }
        LeakState::Holds => {
            lines.push(language.pick("holds: loses", "hält: verliert").to_owned());
            let minutes = language.decimal(leak.duration_s / 60.0, 1);
            if let Some(below) = leak.loss_below_mbar {
                lines.push(said!(language; "less than {below:.0} mbar", "unter {below:.0} mbar"));
                lines.push(said!(language; "in {minutes} minutes", "in {minutes} Minuten"));
            }
        }
        LeakState::CannotTell => lines.push(language.pick("cannot tell", "nicht feststellbar").to_owned()),
    }
    lines
}

fn caption(language: Language, leak: &LeakDown, has_vacuum: bool) -> String {
    let mut text = String::from(language.pick(
        "The beam after the pump's valve was shut. A tight actuator gives a level row; a leak lets the beam creep back, fast \
         at first and slower later. The axis of the inclination points down as the beam does. Bars show the 95 % interval of \
         what differs from photo to photo.",
        "Der Lichtkegel, nachdem das Ventil der Pumpe geschlossen wurde. Eine dichte Unterdruckdose gibt eine waagerechte Reihe; ein \
         Leck lässt den Lichtkegel zurückkriechen, erst schnell, dann langsamer. Die Achse der Neigung zeigt nach unten wie der \
         Lichtkegel. Striche zeigen das 95-%-Intervall dessen, was sich von Foto zu Foto unterscheidet.",
    ));
    if has_vacuum {
        text.push_str(language.pick(
            " Below, dashed: the vacuum that the lamp's measured response makes of the course above; a leak lets it fall, \
             towards 0 or to where the leak stops.",
            " Darunter, gestrichelt: der Unterdruck, der nach dem gemessenen Verhalten des Scheinwerfers zum Verlauf darüber gehört; \
             ein Leck lässt ihn fallen, gegen 0 oder bis dorthin, wo das Leck schließt.",
        ));
    }
    text.push_str(&said!(language; " Here: {}.", " Hier: {}."; leak.finding.said(language)));
    text
}
