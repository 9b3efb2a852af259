//! What the range adjuster does: travel, sides, response to vacuum, leak-down, before and after, with their plots.
//!
//! All figures and words come from the `adjuster` object of `results.json`, so that page and file agree.

use super::super::plots::Figure;
use super::super::results::Results;
use super::super::text::{escape, fixed, signed, u95};
use super::super::words::{curve_words, lamp_and_stage, lamp_and_stage_short, sentence};
use super::{icons, plot_grid};
use crate::adjuster::{
    Adjuster, Change, Curve, Interval, LampTravel, LeakDown, LeakState, Movement, Real, Response, StickSlip,
};
use crate::aim::Outcome;
use crate::record::{Side, Stage};
use std::fmt::Write;

/// A table that becomes a row of cards on a phone: class and title of each column. Columns of class `key` head a card, side by
/// side and without their titles; one of class `end` ends that line.
type Columns<'a> = &'a [(&'a str, &'a str)];

fn table<'a>(page: &mut String, columns: Columns<'_>, rows: impl IntoIterator<Item = Vec<String>> + 'a) {
    put!(page, "<table class=\"cards brief\">\n<thead><tr>");
    for (class, title) in columns {
        let _ = write!(page, "<th scope=\"col\" class=\"{class}\">{title}</th>");
    }
    put!(page, "</tr></thead>\n<tbody>");
    for row in rows {
        page.push_str("<tr>");
        for ((class, title), cell) in columns.iter().zip(row) {
            let _ = write!(page, "<td class=\"{class}\" data-label=\"{title}\">{cell}</td>");
        }
        page.push_str("</tr>\n");
    }
    put!(page, "</tbody>\n</table>");
}

fn word(sign: &str, text: impl std::fmt::Display) -> String {
    format!("<span class=\"word\">{sign}{text}</span>")
}

fn moves(movement: Movement) -> String {
    word(&icons::movement(movement), movement)
}

fn judged(outcome: Option<Outcome>) -> String {
    outcome.map(|o| word(&icons::outcome(o), o)).unwrap_or_default()
}

/// "+0.41 ± 0.03".
fn plus_minus(percent: f64, u95_percent: f64) -> String {
    format!("{} ± {}", signed(percent, 2), u95(u95_percent))
}

/// "+41 ± 3", to the whole unit; an uncertainty below half of it is shown as 1, since "± 0" would claim that there is none.
fn plus_minus_whole(value: f64, u95: f64) -> String {
    format!("{} ± {}", signed(value, 0), fixed(u95.max(1.0), 0))
}

/// A whole lamp's movement in words.
pub(super) fn travel_words(travel: &LampTravel) -> Option<(Movement, &'static str)> {
    let movement = travel.movement?;
    let every = travel.steps.iter().all(|s| s.movement == Movement::Moves);
    Some((
        movement,
        match movement {
            Movement::Moves if every && travel.steps.len() > 1 => "moves at every step",
            Movement::Moves if every => "moves",
            Movement::Moves => "moves, but not surely at every step",
            Movement::Still => "does not move",
            Movement::CannotTell => "cannot be said to move or to stand still",
        },
    ))
}

/// The sign of what a leak-down came to.
pub(super) fn leak_sign(state: LeakState) -> String {
    icons::outcome(match state {
        LeakState::Holds => Outcome::Inside,
        LeakState::Leaks => Outcome::Outside,
        LeakState::CannotTell => Outcome::Undecided,
    })
}

/// What the pump showed, on one line.
pub(super) fn response_words(response: &Response) -> Vec<String> {
    if let Some(curve) = &response.curve {
        return vec![sentence(&curve_words(curve))];
    }
    let step = |s: &crate::adjuster::VacuumStep| {
        format!(
            "Vacuum {} to {} mbar ({}): {} %, {}",
            fixed(s.from_mbar, 0),
            fixed(s.to_mbar, 0),
            s.branch,
            plus_minus(s.percent, s.u95_percent),
            s.movement
        )
    };
    response.steps.iter().map(step).collect()
}

pub(super) fn section(page: &mut String, results: &Results, figures: &[Figure]) {
    let adjuster = &results.adjuster;
    if adjuster.is_empty() && adjuster.warnings.is_empty() {
        return;
    }
    put!(page, "<section>\n<h2>What the range adjuster does</h2>");
    for warning in &adjuster.warnings {
        put!(page, "<p class=\"note\">Note: {}</p>", escape(&warning.to_string()));
    }
    travel(page, adjuster);
    plot_grid(page, figures.iter().filter(|f| f.name == "travel"));
    sides(page, adjuster);
    stages(page, adjuster);
    let of = |kind: &'static str| figures.iter().filter(move |f| f.name.starts_with(kind));
    if !adjuster.response.is_empty() {
        put!(page, "<h3 class=\"part\">Response to the pump's vacuum</h3>");
        for response in &adjuster.response {
            one_response(page, response);
        }
        plot_grid(page, of("vacuum"));
    }
    if !adjuster.leak_down.is_empty() {
        put!(page, "<h3 class=\"part\">With the pump's valve shut</h3>");
        for leak in &adjuster.leak_down {
            one_leak(page, leak);
        }
        plot_grid(page, of("leak-down"));
    }
    put!(page, "</section>");
}

fn travel(page: &mut String, adjuster: &Adjuster) {
    let stepping: Vec<&LampTravel> = adjuster.travel.iter().filter(|l| !l.steps.is_empty()).collect();
    if stepping.is_empty() {
        return;
    }
    put!(page, "<h3 class=\"part\">Travel from position to position</h3>");
    for lamp in &adjuster.travel {
        for fault in &lamp.faults {
            put!(
                page,
                "<p class=\"fault\">{}<strong>{}:</strong> {}</p>",
                icons::outcome(Outcome::Outside),
                who(lamp.lamp, lamp.stage),
                escape(&fault.to_string())
            );
        }
        if let Some(mend) = &lamp.mend {
            put!(
                page,
                "<p class=\"fault\">{}<strong>{}:</strong> cannot tell whether it moves; {}</p>",
                icons::outcome(Outcome::Undecided),
                who(lamp.lamp, lamp.stage),
                escape(&mend.to_string())
            );
        }
    }
    let rows: Vec<Vec<String>> = stepping
        .iter()
        .flat_map(|lamp| {
            // A single step is the total already.
            let total = lamp.total.iter().filter(|_| lamp.steps.len() > 1);
            let steps = lamp.steps.iter().map(|s| (s, false)).chain(total.map(|s| (s, true)));
            steps.map(|(step, is_total)| {
                let mut from_to = format!("{} to {}", escape(&step.from), escape(&step.to));
                if is_total {
                    from_to = format!("<strong>whole: {from_to}</strong>");
                }
                vec![
                    lamp_and_stage_short(lamp.lamp, lamp.stage),
                    from_to,
                    plus_minus(step.percent, step.u95_percent),
                    plus_minus_whole(step.wall_mm, step.wall_u95_mm),
                    step.reach_change_m
                        .zip(step.reach_change_u95_m)
                        .map(|(change_m, u95_m)| plus_minus_whole(change_m, u95_m))
                        .unwrap_or_default(),
                    moves(step.movement),
                ]
            })
        })
        .collect();
    table(
        page,
        &[
            ("key", "Lamp"),
            ("key", "Position"),
            ("figure", "Travel, %"),
            ("figure", "On the wall, mm"),
            ("figure", "Reach, m"),
            ("end", "Does it move?"),
        ],
        rows,
    );
    put!(
        page,
        "<p class=\"note\">+ means that the beam went down, and − of the reach that it is lost. ± is the half-width of the 95 % \
         interval: what differs from photo to photo, and of the tape measures only what does not cancel. A beam moves when \
         the whole interval lies beyond {} %, and does not move when it lies within; with several positions the rule is \
         stricter, so that a lamp that stands still is said to move once in 200 times at the most.</p>",
        adjuster.least_travel_percent
    );
    let expected: Vec<Vec<String>> = adjuster
        .travel
        .iter()
        .flat_map(|lamp| lamp.positions.iter().map(move |p| (lamp, p)))
        .filter_map(|(lamp, p)| {
            let expected = p.expected?;
            Some(vec![
                lamp_and_stage_short(lamp.lamp, lamp.stage),
                escape(&p.position),
                plus_minus(p.travel_percent, p.travel_u95_percent),
                format!(
                    "{} ± {}",
                    signed(expected.travel_percent, 2),
                    fixed(expected.tolerance_percent, 2)
                ),
                judged(Some(expected.outcome)),
            ])
        })
        .collect();
    if !expected.is_empty() {
        put!(page, "<h3 class=\"part\">Against what the job expects</h3>");
        table(
            page,
            &[
                ("key", "Lamp"),
                ("key", "Position"),
                ("figure", "Travel from the first, %"),
                ("figure", "Expected, %"),
                ("end", "Is it met?"),
            ],
            expected,
        );
    }
}

fn who(lamp: Side, stage: Option<Stage>) -> String {
    sentence(&lamp_and_stage(lamp, stage))
}

fn sides(page: &mut String, adjuster: &Adjuster) {
    if adjuster.sides.is_empty() {
        return;
    }
    put!(page, "<h3 class=\"part\">Left lamp against right lamp</h3>");
    let is_judged = adjuster.sides.iter().any(|s| s.outcome.is_some());
    let mut columns = vec![
        ("key", "At"),
        ("figure", "Left less right, %"),
        ("", "Within the limit?"),
        ("figure", "Travel, left less right, %"),
        ("", "Travel within?"),
    ];
    if !is_judged {
        columns.retain(|(_, title)| !title.contains("ithin"));
    }
    let first = |stage| adjuster.sides.iter().position(|s| s.stage == stage);
    let rows: Vec<Vec<String>> = adjuster
        .sides
        .iter()
        .enumerate()
        .map(|(n, s)| {
            // At the first position the travels are 0 by definition.
            let travels = first(s.stage) != Some(n);
            let mut row = vec![
                s.stage.map_or_else(
                    || escape(&s.position),
                    |stage| format!("{stage}, {}", escape(&s.position)),
                ),
                plus_minus(s.difference_percent, s.u95_percent),
            ];
            if is_judged {
                row.push(judged(s.outcome));
            }
            row.push(if travels {
                plus_minus(s.travel_difference_percent, s.travel_u95_percent)
            } else {
                String::new()
            });
            if is_judged {
                row.push(judged(s.travel_outcome.filter(|_| travels)));
            }
            row
        })
        .collect();
    table(page, &columns, rows);
    put!(
        page,
        "<p class=\"note\">+ means that the left beam is lower, or has travelled further down. {}</p>",
        if is_judged {
            "The limit is the job's."
        } else {
            "The job sets no limit (left_right_limit_percent), so that nothing is judged."
        }
    );
}

fn real(real: Real) -> String {
    word(
        &icons::movement(match real {
            Real::Real => Movement::Moves,
            Real::NoChange => Movement::Still,
            Real::CannotTell => Movement::CannotTell,
        }),
        real,
    )
}

fn stages(page: &mut String, adjuster: &Adjuster) {
    if adjuster.stages.is_empty() {
        return;
    }
    put!(page, "<h3 class=\"part\">Before and after the repair</h3>\n<ul>");
    for words in adjuster.stages.iter().flat_map(|s| &s.words) {
        put!(page, "<li>{}</li>", escape(&sentence(&words.to_string())));
    }
    put!(page, "</ul>");
    let row = |lamp: Side, position: String, what: &str, c: &Change| {
        vec![
            lamp.to_string(),
            format!("{what} {position}"),
            plus_minus(c.before_percent, c.before_u95_percent),
            plus_minus(c.after_percent, c.after_u95_percent),
            plus_minus(c.change_percent, c.change_u95_percent),
            real(c.real),
        ]
    };
    let rows: Vec<Vec<String>> = adjuster
        .stages
        .iter()
        .flat_map(|s| s.positions.iter().map(move |p| (s.lamp, p)))
        .flat_map(|(lamp, p)| {
            let at = escape(&p.position);
            let travel = p.travel.as_ref().map(|t| row(lamp, at.clone(), "travel to", t));
            [row(lamp, at.clone(), "inclination at", &p.inclination)]
                .into_iter()
                .chain(travel)
        })
        .collect();
    if !rows.is_empty() {
        table(
            page,
            &[
                ("key", "Lamp"),
                ("key", "What"),
                ("figure", "Before, %"),
                ("figure", "After, %"),
                ("figure", "Change, %"),
                ("end", "Is it real?"),
            ],
            rows,
        );
        put!(
            page,
            "<p class=\"note\">Travel is from the lamp's first position. A change is real when its whole interval lies beyond \
             {} %, and there is no change when it lies within.</p>",
            adjuster.least_travel_percent
        );
    }
    let figures: Vec<Vec<String>> = adjuster
        .stages
        .iter()
        .flat_map(|s| s.figures.iter().map(move |f| (s.lamp, f)))
        .map(|(lamp, f)| {
            vec![
                lamp.to_string(),
                escape(&f.figure.to_string()),
                f.before.text(2),
                f.after.text(2),
                signed(f.change, 2),
                if f.real { "real" } else { "not sure" }.to_owned(),
            ]
        })
        .collect();
    if !figures.is_empty() {
        table(
            page,
            &[
                ("key", "Lamp"),
                ("key", "Figure"),
                ("figure", "Before"),
                ("figure", "After"),
                ("figure", "Change"),
                ("end", "Is it real?"),
            ],
            figures,
        );
    }
}

fn facts(page: &mut String, facts: Vec<(&str, String)>) {
    if facts.is_empty() {
        return;
    }
    put!(page, "<dl class=\"facts\">");
    for (name, value) in facts {
        put!(page, "<div><dt>{name}</dt><dd>{value}</dd></div>");
    }
    put!(page, "</dl>");
}

fn one_response(page: &mut String, response: &Response) {
    put!(page, "<div class=\"finding\">");
    let movement = response.movement.map_or_else(
        || "too few photos gave a figure".to_owned(),
        |m| format!("{} the beam <strong>{m}</strong>", icons::movement(m)),
    );
    put!(
        page,
        "<p class=\"lead\">{}: {movement}.</p>",
        who(response.lamp, response.stage)
    );
    for words in response_words(response) {
        put!(page, "<p>{}.</p>", escape(&words));
    }
    if let Some(polarity) = &response.polarity {
        let way = if polarity.vacuum_raises {
            "Vacuum raises the beam, so that it comes down when vacuum is lost"
        } else {
            "Vacuum lowers the beam, so that it comes up when vacuum is lost"
        };
        let held = match polarity.as_system_says {
            Some(true) => ", as the system file says",
            Some(false) => ", against what the system file says",
            None => "",
        };
        put!(page, "<p>{way}{held}.</p>");
    }
    for warning in &response.warnings {
        put!(page, "<p><strong>Note:</strong> {}</p>", escape(&warning.to_string()));
    }
    if let Some(curve) = &response.curve {
        facts(page, curve_facts(curve, response.stick_slip));
    }
    put!(page, "<details><summary>Each reading against vacuum</summary>");
    let rows: Vec<Vec<String>> = response
        .points
        .iter()
        .map(|p| {
            vec![
                p.branch.to_string(),
                Interval::even(p.vacuum_mbar, p.vacuum_u95_mbar).text(0),
                Interval::even(p.percent, p.reading_u95_percent).text(2),
                p.fitted_percent.map(|v| fixed(v, 2)).unwrap_or_default(),
                p.residual_percent.map(|v| signed(v, 3)).unwrap_or_default(),
                p.residual_sds.map(|v| signed(v, 1)).unwrap_or_default(),
            ]
        })
        .collect();
    table(
        page,
        &[
            ("key", "Branch"),
            ("figure", "Vacuum, mbar"),
            ("figure", "Inclination, %"),
            ("figure", "Curve, %"),
            ("figure", "Less curve, %"),
            ("figure", "In standard deviations"),
        ],
        rows,
    );
    put!(page, "</details>\n</div>");
}

fn curve_facts(curve: &Curve, stick_slip: StickSlip) -> Vec<(&'static str, String)> {
    let mut facts = vec![
        (
            "Gain",
            format!("{} % per 100 mbar", curve.gain_percent_per_100_mbar.text(3)),
        ),
        ("Rest", format!("{} %", curve.rest_percent.text(2))),
        (
            "Whole travel",
            format!(
                "{} % at {} mbar",
                curve.travel_percent.text(2),
                fixed(curve.highest_mbar, 0)
            ),
        ),
    ];
    if let Some(dead_band) = &curve.dead_band_mbar {
        facts.push(("Dead band", format!("{} mbar", dead_band.text(0))));
    }
    facts.push((
        "End stop",
        match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
            (Some(stop), _) => format!("{} mbar", stop.text(0)),
            (None, Some(below)) => format!("none below {} mbar", fixed(below, 0)),
            (None, None) => "cannot tell".to_owned(),
        },
    ));
    if let Some(h) = &curve.hysteresis {
        facts.push(("Hysteresis", format!("{} mbar", h.gap_mbar.text(0))));
        facts.push(("Largest gap", format!("{} %", h.gap_percent.text(2))));
        facts.push(("Loss area", format!("{} % mbar", h.loss_area_percent_mbar.text(0))));
    }
    facts.push((
        "Sticks and slips",
        match stick_slip {
            StickSlip::Seen => "seen",
            StickSlip::NotSeen => "not seen",
            StickSlip::CannotTell => "cannot tell",
        }
        .to_owned(),
    ));
    facts.push((
        "Chi-square of the fit",
        format!("{} for {}", fixed(curve.chi_square, 1), curve.degrees_of_freedom),
    ));
    if curve.widened_by > 1.0 {
        facts.push(("Intervals widened by", fixed(curve.widened_by, 2)));
    }
    facts
}

fn one_leak(page: &mut String, leak: &LeakDown) {
    put!(page, "<div class=\"finding\">");
    put!(
        page,
        "<p class=\"lead\">{}: {}<strong>{}</strong>.</p>\n<p>{}.</p>",
        who(leak.lamp, leak.stage),
        leak_sign(leak.state),
        leak.state,
        escape(&sentence(&leak.finding.to_string()))
    );
    for warning in &leak.warnings {
        put!(page, "<p><strong>Note:</strong> {}</p>", escape(&warning.to_string()));
    }
    let mut list = vec![(
        "Timed photos",
        format!("{} in {} minutes", leak.points.len(), fixed(leak.duration_s / 60.0, 1)),
    )];
    let interval = |of: &Option<Interval>, places: usize, unit: &str| of.map(|i| format!("{} {unit}", i.text(places)));
    for (name, value) in [
        ("Change of the inclination", interval(&leak.creep_percent, 2, "%")),
        (
            "Vacuum at the first photo",
            leak.start_vacuum_mbar.map(|v| format!("{} mbar", fixed(v, 0))),
        ),
        (
            "Loss at the first photo",
            interval(&leak.start_rate_mbar_per_min, 1, "mbar/min"),
        ),
        ("Half is lost in", interval(&leak.half_time_s, 0, "s")),
        ("Time constant", interval(&leak.time_constant_s, 0, "s")),
        (
            "Time constant of the beam",
            interval(&leak.creep_time_constant_s, 0, "s"),
        ),
        (
            "Surely lost less than",
            leak.loss_below_mbar.map(|v| format!("{} mbar", fixed(v, 0))),
        ),
        (
            "Surely changed less than",
            leak.creep_below_percent.map(|v| format!("{} %", fixed(v, 2))),
        ),
    ] {
        list.extend(value.map(|value| (name, value)));
    }
    facts(page, list);
    put!(page, "<details><summary>Each photo of the series</summary>");
    let rows: Vec<Vec<String>> = leak
        .points
        .iter()
        .map(|p| {
            vec![
                format!("{} s", fixed(p.elapsed_s, 1)),
                Interval::even(p.percent, p.reading_u95_percent).text(2),
                p.residual_percent.map(|v| signed(v, 3)).unwrap_or_default(),
            ]
        })
        .collect();
    table(
        page,
        &[
            ("key", "Time"),
            ("figure", "Inclination, %"),
            ("figure", "Less the fitted course, %"),
        ],
        rows,
    );
    put!(page, "</details>\n</div>");
}
