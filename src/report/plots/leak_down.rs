//! The beam while the pump's valve is shut, and the vacuum where the lamp's response to it is known.

use super::super::Error;
use super::chart::{Area, Axis, Chart, Note, Series, Zone};
use super::element::{Dash, Look, Point, Shape};
use super::ink;
use super::{Figure, Subject, name_of};
use crate::adjuster::{LeakDown, LeakPoint, LeakState};
use crate::language::Language;
use crate::report::words::{lamp_and_stage, sentence};

/// The plot of a lamp at a stage.
pub(super) fn figure(leak: &LeakDown) -> Result<Figure, Error> {
    let name = name_of(Subject::LeakDown, leak.lamp, leak.stage);
    let who = lamp_and_stage(Language::English, leak.lamp, leak.stage);
    let answer = match leak.state {
        LeakState::Holds => "vacuum holds with the pump's valve shut",
        LeakState::Leaks => "vacuum leaks with the pump's valve shut",
        LeakState::CannotTell => "whether vacuum leaks is open",
    };
    let title = format!("{}: {answer}", sentence(&who));
    let finite = |p: &&LeakPoint| p.percent.is_finite() && p.reading_u95_percent.is_finite();
    let points: Vec<_> = leak.points.iter().filter(finite).collect();
    if points.len() < 2 || leak.duration_s <= 0.0 {
        let sentence =
            format!("There is no plot of the leak-down ({who}): it takes two timed photos that gave a figure.");
        return Ok(Figure::missing(Subject::LeakDown, name, title, sentence));
    }
    let (mut area, mut below) = (beam(leak, &points), vacuum(leak));
    if let Some(half) = leak
        .half_time_s
        .filter(|half| (0.0..=leak.duration_s).contains(&half.value))
    {
        for area in [Some(&mut area), below.as_mut()].into_iter().flatten() {
            area.upright(half.value / 60.0, "half is lost");
        }
    }
    let caption = caption(leak, below.is_some());
    let chart = Chart {
        title,
        x_title: "time since the first photo, minutes",
        x: Axis::from_zero(leak.duration_s / 60.0, 6).with_air(),
        area,
        below,
    };
    Figure::plotted(Subject::LeakDown, name, caption, chart)
}

/// What a beam or a vacuum that holds surely stays within, from the first photo to the last.
fn held(leak: &LeakDown, low: f64, high: f64) -> Zone {
    Zone {
        corners: [(0.0, low), (leak.duration_s / 60.0, high)],
        dense: false,
        label: "surely stays within".to_owned(),
    }
}

fn beam(leak: &LeakDown, points: &[&LeakPoint]) -> Area {
    let course: Vec<(f64, f64)> = leak.course.iter().map(|s| (s.elapsed_s / 60.0, s.percent)).collect();
    let start_percent = course.first().map_or(points[0].percent, |(_, percent)| *percent);
    let limit_percent = leak.creep_below_percent.filter(|_| leak.state == LeakState::Holds);
    let zone = limit_percent.map(|limit| held(leak, start_percent - limit, start_percent + limit));
    let photo = |p: &&LeakPoint| Point {
        at: (p.elapsed_s / 60.0, p.percent),
        u95: (0.0, p.reading_u95_percent),
    };
    // A course that falls leaves the corner at top right free, one that rises the one at bottom right.
    let rises = course.last().is_some_and(|(_, percent)| *percent < start_percent);
    let photos = Series {
        look: Look::filled(Shape::Circle, Dash::None, ink::AFTER),
        label: if course.is_empty() {
            "photos"
        } else {
            "photos, fitted course"
        }
        .to_owned(),
        line: course,
        points: points.iter().map(photo).collect(),
    };
    let title = "inclination, %: lower in the plot = lower beam";
    let mut area = Area::of_beam(title, vec![photos], zone.into_iter().collect());
    area.notes.push(Note {
        x: f64::INFINITY,
        right: false,
        top: !rises,
        lines: figures_of(leak),
    });
    area
}

/// The vacuum that the lamp's response makes of the course; `None` where it is not known.
fn vacuum(leak: &LeakDown) -> Option<Area> {
    let sample = |s: &crate::adjuster::LeakSample| Some((s.elapsed_s / 60.0, s.vacuum_mbar?));
    let line: Vec<(f64, f64)> = leak.course.iter().filter_map(sample).collect();
    let most_mbar = line.iter().map(|(_, mbar)| *mbar).fold(0.0, f64::max);
    let limit_mbar = leak.loss_below_mbar.filter(|_| leak.state == LeakState::Holds);
    let zone = |(limit, start): (f64, f64)| held(leak, (start - limit).max(0.0), start);
    (most_mbar > 0.0).then(|| Area {
        title: "vacuum, mbar below atmosphere",
        y: Axis::from_zero(most_mbar, 4),
        down: false,
        zones: limit_mbar.zip(leak.start_vacuum_mbar).map(zone).into_iter().collect(),
        series: vec![Series {
            look: Look::line(Dash::Long, ink::BEFORE),
            label: "vacuum, from the beam".to_owned(),
            line,
            points: Vec::new(),
        }],
        notes: Vec::new(),
    })
}

/// The figures in a few short lines.
fn figures_of(leak: &LeakDown) -> Vec<String> {
    let mut lines = Vec::new();
    match leak.state {
        LeakState::Leaks => {
            if let Some(rate) = &leak.start_rate_mbar_per_min {
                lines.push(format!("loses {} mbar/min", rate.text(Language::English, 1)));
            }
            if let Some(half) = &leak.half_time_s {
                lines.push(format!("half in {} s", half.text(Language::English, 0)));
            }
            if let Some(residual) = &leak.residual_vacuum_mbar {
                lines.push(format!("stops at {} mbar", residual.text(Language::English, 0)));
            }
            if lines.is_empty()
                && let Some(creep) = &leak.creep_percent
            {
                lines.push(format!("creeps by {} %", creep.text(Language::English, 2)));
            }
            if let Some(time) = &leak.creep_time_constant_s {
                lines.push(format!("time constant {} s", time.text(Language::English, 0)));
            }
        }
        LeakState::Holds => {
            lines.push("holds: loses".to_owned());
            let minutes = leak.duration_s / 60.0;
            if let Some(below) = leak.loss_below_mbar {
                lines.push(format!("less than {below:.0} mbar"));
                lines.push(format!("in {minutes:.1} minutes"));
            }
        }
        LeakState::CannotTell => lines.push("cannot tell".to_owned()),
    }
    lines
}

fn caption(leak: &LeakDown, has_vacuum: bool) -> String {
    let mut text = String::from(
        "The beam after the pump's valve was shut. A tight actuator gives a level row; a leak lets the beam creep back, fast \
         at first and slower later. The axis of the inclination points down as the beam does. Bars show the 95 % interval of \
         what differs from photo to photo.",
    );
    if has_vacuum {
        text.push_str(
            " Below, dashed: the vacuum that the lamp's measured response makes of the course above; a leak lets it fall, \
             towards 0 or to where the leak stops.",
        );
    }
    text.push_str(&format!(" Here: {}.", leak.finding));
    text
}
