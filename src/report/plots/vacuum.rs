//! Travel against the pump's vacuum, with the fitted response.

use super::super::{Error, Findings};
use super::canvas::{Canvas, Dash, Key, Marker, Scale, ink};
use super::{Figure, described, name_of};
use crate::adjuster::{Curve, Response};
use crate::record::Branch;
use crate::report::text::signed;
use crate::report::words::{curve_words, lamp_and_stage, sentence};
use plotters::style::RGBColor;

/// How a branch is drawn.
fn look(branch: Branch) -> (Marker, Dash, RGBColor) {
    match branch {
        Branch::Applying => (Marker::Circle, Dash::None, ink::AFTER),
        Branch::Releasing => (Marker::OpenDiamond, Dash::Long, ink::BEFORE),
    }
}

/// One plot for each lamp and stage with a pump.
pub(super) fn figures(findings: &Findings) -> Result<Vec<Figure>, Error> {
    findings.adjuster.response.iter().map(figure).collect()
}

fn figure(response: &Response) -> Result<Figure, Error> {
    let name = name_of("vacuum", response.lamp, response.stage);
    let who = lamp_and_stage(response.lamp, response.stage);
    let title = format!("{}: response to vacuum", sentence(&who));
    let finite = |p: &&crate::adjuster::ResponsePoint| p.percent.is_finite() && p.reading_u95_percent.is_finite();
    let points: Vec<_> = response.points.iter().filter(finite).collect();
    let Some(first) = points.first().filter(|_| points.len() > 1) else {
        return Ok(Figure {
            name,
            title,
            caption: String::new(),
            drawing: Err(format!(
                "There is no plot of the travel against vacuum ({who}): it takes two photos that gave a figure, at two \
                 settings of the pump."
            )),
        });
    };
    let curve = response.curve.as_ref();
    let rest_percent = curve.map_or(first.percent, |c| c.rest_percent.value);
    let branches: Vec<Branch> = [Branch::Applying, Branch::Releasing]
        .into_iter()
        .filter(|b| points.iter().any(|p| p.branch == *b))
        .collect();
    let most_mbar = points
        .iter()
        .map(|p| p.vacuum_mbar + p.vacuum_u95_mbar)
        .fold(0.0, f64::max);
    let drawn = |c: &Curve, branch: Branch| -> Vec<(f64, f64)> {
        c.corners_mbar(branch)
            .into_iter()
            .map(|mbar| (mbar, c.inclination_percent(mbar, branch) - rest_percent))
            .collect()
    };
    let mut ends = vec![0.0];
    for p in &points {
        let travel = p.percent - rest_percent;
        ends.extend([travel - p.reading_u95_percent, travel + p.reading_u95_percent]);
    }
    ends.extend(curve.iter().flat_map(|c| drawn(c, Branch::Applying)).map(|(_, y)| y));

    let mut legend: Vec<(Key, String)> = branches
        .iter()
        .map(|branch| {
            let (marker, dash, colour) = look(*branch);
            (Key::Series(marker, dash, colour), branch.to_string())
        })
        .collect();
    if curve.is_some_and(|c| c.dead_band_mbar.is_some() || c.end_stop_mbar.is_some()) {
        legend.push((Key::Line(Dash::LongDot, ink::TEXT), "dead band, end stop".to_owned()));
        legend.push((Key::Zone(false), "their 95 % intervals".to_owned()));
    }
    let caption = caption(response, &branches);
    let x = Scale::nice(0.0, if most_mbar > 0.0 { most_mbar } else { 1.0 });
    // Bars at 0 mbar must not run into the vertical axis's figures.
    let x = Scale {
        low: -0.04 * x.high,
        ..x
    };
    let mut svg = String::new();
    {
        let c = Canvas::new(&mut svg, x, Scale::around(&ends))?.below(&legend);
        c.heading(
            &title,
            if curve.is_some() {
                "travel from the beam's rest, %: lower in the plot = lower beam"
            } else {
                "travel from the first photo, %: lower in the plot = lower beam"
            },
        )?;
        c.legend(&legend)?;
        c.horizontal_grid()?;
        c.vertical_ticks()?;
        c.x_title("vacuum, mbar below atmosphere")?;
        if let Some(curve) = curve {
            corners(&c, curve, x)?;
        }
        for branch in &branches {
            let (marker, dash, colour) = look(*branch);
            let of_branch: Vec<_> = points.iter().filter(|p| p.branch == *branch).collect();
            let places: Vec<(f64, f64)> = of_branch
                .iter()
                .map(|p| (p.vacuum_mbar, p.percent - rest_percent))
                .collect();
            match curve {
                Some(curve) => c.line(&drawn(curve, *branch), dash, colour)?,
                None => c.line(&places, dash, colour)?,
            }
            for (place, p) in places.iter().zip(&of_branch) {
                c.cross(*place, (p.vacuum_u95_mbar, p.reading_u95_percent), marker, colour)?;
            }
        }
        if let Some(curve) = curve {
            notes(&c, curve)?;
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

/// Dead band and end stop as upright lines, each with its interval.
fn corners(c: &Canvas<'_>, curve: &Curve, x: Scale) -> Result<(), Error> {
    for corner in [&curve.dead_band_mbar, &curve.end_stop_mbar].into_iter().flatten() {
        let low = corner.low.unwrap_or(x.low).max(x.low);
        let high = corner.high.unwrap_or(x.high).min(x.high);
        let ((_, top), (_, bottom)) = (c.corner(false, true), c.corner(false, false));
        c.zone((low, top), (high, bottom), false)?;
        c.upright(corner.value, Dash::LongDot)?;
    }
    Ok(())
}

/// The figures, in the two corners that the curve leaves free: a beam that vacuum raises runs from bottom left to top
/// right.
fn notes(c: &Canvas<'_>, curve: &Curve) -> Result<(), Error> {
    let gain = &curve.gain_percent_per_100_mbar;
    let raises = gain.value < 0.0;
    let (_, free) = c.corner(false, raises);
    let mut first: Vec<String> = Vec::new();
    if let Some(dead_band) = &curve.dead_band_mbar {
        first.extend(["dead band".to_owned(), format!("{} mbar", dead_band.text(0))]);
    }
    first.extend([
        format!("gain {} %", gain.text(2).replace('-', "−")),
        "per 100 mbar".to_owned(),
    ]);
    // Beside the corner's interval, so that both can be read.
    let from = curve.dead_band_mbar.map_or(0.0, |i| i.high.unwrap_or(i.value));
    c.note((from, free), &first, true, raises)?;
    let (_, free) = c.corner(true, !raises);
    let (at, words) = match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
        (Some(stop), _) => (
            stop.low.unwrap_or(stop.value),
            vec!["end stop".to_owned(), format!("{} mbar", stop.text(0))],
        ),
        (None, Some(below)) => (
            curve.highest_mbar,
            vec!["no end stop".to_owned(), format!("below {below:.0} mbar")],
        ),
        (None, None) => (
            curve.highest_mbar,
            vec!["end stop:".to_owned(), "cannot tell".to_owned()],
        ),
    };
    c.note((at, free), &words, false, !raises)
}

fn caption(response: &Response, branches: &[Branch]) -> String {
    let mut text = String::from(
        "A sound actuator gives a flat start (dead band), a straight slope whose steepness is the gain, and where the pump \
         reaches it a flat end (end stop); a flat row throughout is an actuator that does not move. The axis points down as \
         the beam does. Bars show 95 % intervals: upright what differs from photo to photo, across the gauge.",
    );
    if branches.len() > 1 {
        text.push_str(
            " Filled circles, whole line: vacuum being applied. Open diamonds, dashes: being released. The gap between the \
             lines is the hysteresis, what the mechanism loses to friction.",
        );
    }
    match &response.curve {
        Some(curve) => text.push_str(&format!(
            " Here: {}; travel {} % at {:.0} mbar.",
            curve_words(curve),
            signed(curve.travel_percent.value, 2),
            curve.highest_mbar
        )),
        None => text.push_str(" No curve was fitted; the lines only join the readings."),
    }
    text
}
