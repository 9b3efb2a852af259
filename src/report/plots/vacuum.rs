//! Travel against the pump's vacuum, with the fitted response.

use super::super::Error;
use super::chart::{Area, Axis, Chart, Note, Series, Zone};
use super::element::{Dash, Look, Point, Shape};
use super::ink;
use super::{Figure, Subject, name_of, titled};
use crate::adjuster::{Curve, Movement, Response, ResponsePoint};
use crate::language::{Language, said};
use crate::record::Branch;
use crate::report::text::signed;
use crate::report::words::{curve_words, lamp_and_stage};

/// How a branch is drawn.
fn look(branch: Branch) -> Look {
    match branch {
        Branch::Applying => Look::filled(Shape::Circle, Dash::None, ink::AFTER),
        Branch::Releasing => Look::open(Shape::Diamond, Dash::Long, ink::BEFORE),
    }
}

/// The plot of a lamp at a stage.
pub(super) fn figure(language: Language, response: &Response) -> Result<Figure, Error> {
    let name = name_of(Subject::Vacuum, response.lamp, response.stage);
    let who = lamp_and_stage(language, response.lamp, response.stage);
    let answer = match (response.movement, response.unmoved_up_to_mbar()) {
        (Some(Movement::Still), _) => said!(
            language; "up to {:.0} mbar the beam does not move", "Lichtkegel folgt bis {:.0} mbar nicht";
            response.highest_mbar()
        ),
        (_, Some(mbar)) => said!(
            language; "not known beyond {mbar:.0} mbar", "über {mbar:.0} mbar nicht bekannt"
        ),
        (Some(Movement::Moves), None) => {
            said!(language; "the beam moves with the vacuum", "Lichtkegel folgt dem Unterdruck")
        }
        (Some(Movement::CannotTell) | None, None) => said!(
            language; "whether vacuum moves the beam is open", "offen, ob er dem Unterdruck folgt"
        ),
    };
    let title = format!("{}: {answer}", titled(language, response.lamp, response.stage));
    let finite = |p: &&ResponsePoint| p.percent.is_finite() && p.reading_u95_percent.is_finite();
    let points: Vec<_> = response.points.iter().filter(finite).collect();
    let Some(first) = points.first().filter(|_| points.len() > 1) else {
        let sentence = said!(
            language; "There is no plot of the travel against vacuum ({who}): it takes two photos that gave a figure, at two \
             settings of the pump.",
            "Ein Diagramm des Stellwegs über dem Unterdruck ({who}) gibt es nicht: Nötig sind zwei Fotos mit Messwert, bei zwei \
             Einstellungen der Pumpe."
        );
        return Ok(Figure::missing(Subject::Vacuum, name, title, sentence));
    };
    let curve = response.curve.as_ref();
    let rest_percent = curve.map_or(first.percent, |c| c.rest_percent.value);
    let series: Vec<Series> = [Branch::Applying, Branch::Releasing]
        .into_iter()
        .filter_map(|branch| series(language, &points, curve, branch, rest_percent))
        .collect();
    let caption = caption(language, response, series.len());
    let most_mbar = points
        .iter()
        .map(|p| p.vacuum_mbar + p.vacuum_u95_mbar)
        .fold(0.0, f64::max);
    let x = Axis::from_zero(language, most_mbar, 6).with_air();
    let title_y = if curve.is_some() {
        language.pick(
            "travel from the beam's rest, %: lower in the plot = lower beam",
            "Stellweg ab der Ruhelage, %: tiefer im Bild = tieferer Lichtkegel",
        )
    } else {
        language.pick(
            "travel from the first photo, %: lower in the plot = lower beam",
            "Stellweg ab dem ersten Foto, %: tiefer im Bild = tieferer Lichtkegel",
        )
    };
    let mut area = Area::of_beam(language, title_y, series, Vec::new());
    if let Some(curve) = curve {
        area.notes.extend(notes(language, curve));
        corners(language, &mut area, curve, &x);
    }
    let chart = Chart {
        title,
        x_title: language.pick("vacuum, mbar below atmosphere", "Unterdruck, mbar unter Atmosphäre"),
        x,
        area,
        below: None,
    };
    Figure::plotted(Subject::Vacuum, name, caption, chart)
}

/// A branch's photos with the fitted curve, or where there is none a line that joins them.
fn series(
    language: Language,
    points: &[&ResponsePoint],
    curve: Option<&Curve>,
    branch: Branch,
    rest_percent: f64,
) -> Option<Series> {
    let points: Vec<Point> = points
        .iter()
        .filter(|p| p.branch == branch)
        .map(|p| Point {
            at: (p.vacuum_mbar, p.percent - rest_percent),
            u95: (p.vacuum_u95_mbar, p.reading_u95_percent),
        })
        .collect();
    let line = match curve {
        Some(curve) => curve
            .places_mbar()
            .into_iter()
            .map(|mbar| (mbar, curve.inclination_percent(mbar, branch) - rest_percent))
            .collect(),
        None => points.iter().map(|point| point.at).collect(),
    };
    (!points.is_empty()).then(|| Series {
        look: look(branch),
        label: branch.said(language).to_owned(),
        line,
        points,
    })
}

/// Dead band and end stop as upright lines, each with its interval.
fn corners(language: Language, area: &mut Area, curve: &Curve, x: &Axis) {
    for corner in [&curve.dead_band_mbar, &curve.end_stop_mbar].into_iter().flatten() {
        let low = corner.low.unwrap_or(x.low).max(x.low);
        let high = corner.high.unwrap_or(x.high).min(x.high);
        area.zones.push(Zone {
            corners: [(low, area.y.low), (high, area.y.high)],
            dense: false,
            label: language
                .pick("their 95 % intervals", "deren 95-%-Intervalle")
                .to_owned(),
        });
        area.upright(
            corner.value,
            language.pick("dead band, end stop", "Totbereich, Anschlag"),
        );
    }
}

/// The figures, in the two corners that the curve leaves free: a beam that vacuum raises runs from bottom left to top
/// right.
fn notes(language: Language, curve: &Curve) -> [Note; 2] {
    let gain = &curve.gain_percent_per_100_mbar;
    let raises = gain.value < 0.0;
    let mut first: Vec<String> = Vec::new();
    if let Some(dead_band) = &curve.dead_band_mbar {
        first.extend([
            language.pick("dead band", "Totbereich").to_owned(),
            format!("{} mbar", dead_band.text(language, 0)),
        ]);
    }
    let gain = gain.text(language, 2);
    let lines = said!(language; "gain {gain} %\nper 100 mbar", "Steilheit\n{gain} %\nje 100 mbar");
    first.extend(lines.lines().map(str::to_owned));
    let (at, words) = match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
        (Some(stop), _) => (
            stop.low.unwrap_or(stop.value),
            vec![
                language.pick("end stop", "Anschlag").to_owned(),
                format!("{} mbar", stop.text(language, 0)),
            ],
        ),
        (None, Some(below)) => (
            curve.highest_mbar,
            vec![
                language.pick("no end stop", "kein Anschlag").to_owned(),
                said!(language; "below {below:.0} mbar", "unter {below:.0} mbar"),
            ],
        ),
        (None, None) => (
            curve.highest_mbar,
            vec![
                language.pick("end stop:", "Anschlag:").to_owned(),
                language.pick("cannot tell", "nicht feststellbar").to_owned(),
            ],
        ),
    };
    [
        Note {
            // Beside the corner's interval, so that both can be read.
            x: curve.dead_band_mbar.map_or(0.0, |i| i.high.unwrap_or(i.value)),
            right: true,
            top: raises,
            lines: first,
        },
        Note {
            x: at,
            right: false,
            top: !raises,
            lines: words,
        },
    ]
}

fn caption(language: Language, response: &Response, branches: usize) -> String {
    let mut text = String::from(language.pick(
        "A sound actuator gives a flat start (dead band), a straight slope whose steepness is the gain, and where the pump \
         reaches it a flat end (end stop); a flat row throughout is an actuator that does not move. The axis points down as \
         the beam does. Bars show 95 % intervals: upright what differs from photo to photo, across the gauge.",
        "Eine intakte Unterdruckdose gibt einen flachen Anfang (Totbereich), eine gerade Flanke, deren Steilheit zählt, \
         und, wo die Pumpe so weit kommt, ein flaches Ende (Anschlag); eine durchgehend flache Reihe ist eine Unterdruckdose, die \
         sich nicht bewegt. Die Achse zeigt nach unten wie der Lichtkegel. Striche zeigen 95-%-Intervalle: senkrecht das, was sich \
         von Foto zu Foto unterscheidet, waagerecht das des Unterdruckmessers.",
    ));
    if branches > 1 {
        text.push_str(language.pick(
            " Filled circles, whole line: vacuum being applied. Open diamonds, dashes: being released. The gap between the \
             lines is the hysteresis, what the mechanism loses to friction.",
            " Gefüllte Kreise, durchgezogene Linie: steigender Unterdruck. Offene Rauten, gestrichelt: fallender. Der Abstand der \
             Linien ist die Hysterese: was die Mechanik durch Reibung verliert.",
        ));
    }
    match &response.curve {
        Some(curve) => text.push_str(&said!(
            language; " Here: {}; travel {} % at {:.0} mbar.", " Hier: {}; Stellweg {} % bei {:.0} mbar.";
            curve_words(language, curve),
            signed(language, curve.travel_percent.value, 2),
            curve.highest_mbar
        )),
        None => text.push_str(language.pick(
            " No curve was fitted; the lines only join the readings.",
            " Es wurde keine Kurve angepasst; die Linien verbinden nur die Messwerte.",
        )),
    }
    text
}
