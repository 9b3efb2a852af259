//! The beam while the pump's valve is shut, and the vacuum where the lamp's response to it is known.

use super::super::{Error, Findings};
use super::canvas::{Canvas, Dash, Key, Marker, Scale, ink};
use super::{Figure, described, name_of};
use crate::adjuster::{LeakDown, LeakState};
use crate::report::words::{lamp_and_stage, sentence};

/// One plot for each lamp and stage with a leak-down.
pub(super) fn figures(findings: &Findings<'_>) -> Result<Vec<Figure>, Error> {
    findings.adjuster.leak_down.iter().map(figure).collect()
}

fn figure(leak: &LeakDown) -> Result<Figure, Error> {
    let name = name_of("leak-down", leak.lamp, leak.stage);
    let who = lamp_and_stage(leak.lamp, leak.stage);
    let title = format!("{}: pump's valve shut", sentence(&who));
    let finite = |p: &&crate::adjuster::LeakPoint| p.percent.is_finite() && p.reading_u95_percent.is_finite();
    let points: Vec<_> = leak.points.iter().filter(finite).collect();
    if points.len() < 2 || leak.duration_s <= 0.0 {
        return Ok(Figure {
            name,
            title,
            caption: String::new(),
            drawing: Err(format!(
                "There is no plot of the leak-down ({who}): it takes two timed photos that gave a figure."
            )),
        });
    }
    let minutes = leak.duration_s / 60.0;
    let course: Vec<(f64, f64)> = leak.course.iter().map(|s| (s.elapsed_s / 60.0, s.percent)).collect();
    let vacuum: Vec<(f64, f64)> = leak
        .course
        .iter()
        .filter_map(|s| Some((s.elapsed_s / 60.0, s.vacuum_mbar?)))
        .collect();
    let holds = leak.state == LeakState::Holds;
    let start_percent = course.first().map_or(points[0].percent, |(_, y)| *y);
    // Within it a beam that holds surely stays.
    let limit_percent = leak.creep_below_percent.filter(|_| holds);
    let limit_mbar = leak.loss_below_mbar.filter(|_| holds);
    let mut ends: Vec<f64> = course.iter().map(|(_, y)| *y).collect();
    for p in &points {
        ends.extend([p.percent - p.reading_u95_percent, p.percent + p.reading_u95_percent]);
    }
    ends.extend(
        limit_percent
            .iter()
            .flat_map(|l| [start_percent - l, start_percent + l]),
    );

    let mut legend = vec![(
        Key::Series(Marker::Circle, Dash::None, ink::AFTER),
        if course.is_empty() {
            "photos"
        } else {
            "photos, fitted course"
        }
        .to_owned(),
    )];
    if !vacuum.is_empty() {
        legend.push((Key::Line(Dash::Long, ink::BEFORE), "vacuum by the response".to_owned()));
    }
    let half_min = leak
        .half_time_s
        .map(|i| i.value / 60.0)
        .filter(|half| (0.0..=minutes).contains(half));
    if half_min.is_some() {
        legend.push((Key::Line(Dash::LongDot, ink::TEXT), "half is lost".to_owned()));
    }
    if limit_percent.is_some() || limit_mbar.is_some() {
        legend.push((Key::Zone(false), "surely stays within".to_owned()));
    }
    let caption = caption(leak, !vacuum.is_empty());
    let x = Scale::nice(0.0, minutes);
    let x = Scale {
        low: -0.04 * x.high,
        ..x
    };
    let rises = course.last().is_some_and(|(_, y)| *y < start_percent);
    let mut svg = String::new();
    {
        let whole = Canvas::new(&mut svg, x, Scale::around(&ends))?.below(&legend);
        whole.heading(&title, "inclination, %: lower in the plot = lower beam")?;
        whole.legend(&legend)?;
        let most_mbar = vacuum.iter().map(|(_, y)| *y).fold(0.0, f64::max);
        let (c, lower) = if most_mbar > 0.0 {
            let (upper, lower) = whole.split(0.58, Scale::nice_by(0.0, most_mbar, 3.0));
            (upper, Some(lower))
        } else {
            (whole, None)
        };
        c.horizontal_grid()?;
        if let Some(limit) = limit_percent {
            c.zone((0.0, start_percent - limit), (minutes, start_percent + limit), false)?;
        }
        c.line(&course, Dash::None, ink::AFTER)?;
        for p in &points {
            let at = (p.elapsed_s / 60.0, p.percent);
            c.point(at, p.reading_u95_percent, Marker::Circle, ink::AFTER)?;
        }
        if let Some(half) = half_min {
            c.upright(half, Dash::LongDot)?;
        }
        // A course that falls leaves the corner at top right free, one that rises the one at bottom right.
        c.note(c.corner(true, !rises), &figures_of(leak), false, !rises)?;
        let last = lower.as_ref().unwrap_or(&c);
        if let Some(lower) = &lower {
            lower.y_title("vacuum, mbar below atmosphere")?;
            lower.horizontal_grid()?;
            if let (Some(limit), Some(start)) = (limit_mbar, leak.start_vacuum_mbar) {
                lower.zone((0.0, (start - limit).max(0.0)), (minutes, start), false)?;
            }
            lower.line(&vacuum, Dash::Long, ink::BEFORE)?;
            if let Some(half) = half_min {
                lower.upright(half, Dash::LongDot)?;
            }
        }
        last.vertical_ticks()?;
        last.x_title("time since the first photo, minutes")?;
        c.finish()?;
    }
    Ok(Figure {
        drawing: Ok(described(&svg, &title, &caption)),
        name,
        title,
        caption,
    })
}

/// The figures in a few short lines.
fn figures_of(leak: &LeakDown) -> Vec<String> {
    let mut lines = Vec::new();
    match leak.state {
        LeakState::Leaks => {
            if let Some(rate) = &leak.start_rate_mbar_per_min {
                lines.push(format!("loses {} mbar/min", rate.text(1)));
            }
            if let Some(half) = &leak.half_time_s {
                lines.push(format!("half in {} s", half.text(0)));
            }
            if lines.is_empty()
                && let Some(creep) = &leak.creep_percent
            {
                lines.push(format!("creeps by {} %", creep.text(2)));
            }
            if let Some(time) = &leak.creep_time_constant_s {
                lines.push(format!("time constant {} s", time.text(0)));
            }
        }
        LeakState::Holds => {
            lines.push("holds: loses".to_owned());
            let minutes = leak.duration_s / 60.0;
            if let Some(below) = leak.loss_below_mbar {
                lines.push(format!("less than {below:.0} mbar"));
                lines.push(format!("in {minutes:.1} minutes"));
            } else if let Some(below) = leak.creep_below_percent {
                lines = vec![
                    "holds: changes by".to_owned(),
                    format!("less than {below:.2} %"),
                    format!("in {minutes:.1} minutes"),
                ];
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
            " Below, dashed: the vacuum that the lamp's measured response makes of the course above; a leak lets it fall \
             towards 0.",
        );
    }
    text.push_str(&format!(" Here: {}.", leak.finding));
    text
}
