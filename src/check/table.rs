//! What a check found, as text of at most 80 columns.

use super::spoil::{Class, Spoilt};
use super::trial::{Character, Outcome, Scored, Series};
use super::{Checked, Errors, ReadingSummary, TravelSummary, UnreadableSummary};
use std::collections::BTreeMap;

/// The check as a readable table; with `each`, a line or two for each scene as well.
#[must_use]
pub fn render(checked: &Checked, each: bool) -> String {
    let mut lines = vec![
        format!(
            "{} on made photos, seed {}. Errors are reading minus truth,",
            checked.program, checked.seed
        ),
        "in per cent of inclination; positive says lower than it is.".to_owned(),
    ];
    let groups = [
        (
            "readings: wide variety, 3 to 25 m, true places given",
            &checked.readings,
        ),
        ("taped: 7.6 to 10 m, tape errors as declared", &checked.taped),
    ];
    for (title, group) in groups {
        if let Some(group) = group {
            lines.extend([String::new(), title.to_owned()]);
            readings(&group.summary, &mut lines);
            if each {
                lines.extend(group.scenes.iter().flat_map(scene_lines));
            }
        }
    }
    if let Some(group) = &checked.travel {
        lines.extend([
            String::new(),
            "travel: steps of the range control, four photos a series".to_owned(),
        ]);
        travel(&group.summary, &mut lines);
        if each {
            lines.extend(group.scenes.iter().flat_map(series_lines));
        }
    }
    if let Some(group) = &checked.unreadable {
        lines.extend([
            String::new(),
            "unreadable: photos that should be refused, or read right all the same".to_owned(),
        ]);
        unreadable(&group.summary, &mut lines);
        let listed = |one: &&Spoilt| each || matches!(one.class, Class::WrongWarned | Class::WrongSilent);
        let wrong: Vec<&Spoilt> = group.scenes.iter().filter(listed).collect();
        if !wrong.is_empty() && !each {
            lines.push("  wrong, and no warning that names the cause:".to_owned());
        }
        lines.extend(wrong.into_iter().flat_map(spoilt_lines));
    }
    lines.extend([
        String::new(),
        "Made photos show what the program can do, not how a real lamp is read.".to_owned(),
    ]);
    let mut text = lines.join("\n");
    text.push('\n');
    text
}

const HEADER: &str = "              n   median      rms    worst     mean  covered      u95  scatter";

fn errors_line(name: &str, errors: &Errors) -> String {
    format!(
        "  {name:<8}{:>5} {:>8.4} {:>8.4} {:>8.4} {:>+8.4} {:>6.1} % {:>8.4} {:>8}",
        errors.count,
        errors.median_percent,
        errors.rms_percent,
        errors.worst_percent,
        errors.mean_percent,
        100.0 * errors.covered,
        errors.median_u95_percent,
        errors
            .seen_over_stated
            .map_or("-".to_owned(), |ratio| format!("{ratio:.2}")),
    )
}

fn refusals(refused: &BTreeMap<String, usize>) -> Vec<String> {
    let count: usize = refused.values().sum();
    let mut lines = vec![format!("  refused {count}")];
    lines.extend(refused.iter().map(|(reason, count)| format!("    {count} {reason}")));
    lines
}

fn readings(summary: &ReadingSummary, lines: &mut Vec<String>) {
    lines.push(HEADER.to_owned());
    match &summary.inclination {
        Some(errors) => lines.push(errors_line("aim", errors)),
        None => lines.push("  no photo gave a figure".to_owned()),
    }
    let number = |value: Option<f64>, digits: usize| value.map_or("-".to_owned(), |v| format!("{v:.digits$}"));
    lines.push(format!(
        "  sharpness G rms {}, tilt rms {}°, pattern told right {} %",
        number(summary.sharpness_rms_g, 3),
        number(summary.tilt_rms_deg, 3),
        number(summary.pattern_right.map(|share| 100.0 * share), 0),
    ));
    lines.extend(refusals(&summary.refused));
}

fn travel(summary: &TravelSummary, lines: &mut Vec<String>) {
    lines.push(HEADER.to_owned());
    for (name, errors) in [
        ("all", &summary.all),
        ("tripod", &summary.tripod),
        ("hand", &summary.hand),
    ] {
        lines.extend(errors.as_ref().map(|errors| errors_line(name, errors)));
    }
    lines.extend(refusals(&summary.refused));
}

/// A scene in a line, and what it is like in another.
fn scene_lines(scored: &Scored) -> Vec<String> {
    let figures = match &scored.outcome {
        Outcome::Refused { reason, .. } => format!("refused: {reason}"),
        Outcome::Measured(figures) => {
            let error = figures.error_percent;
            let off = error.is_none_or(|error| error.abs() > figures.u95_percent);
            format!(
                "{} ± {:.3}{}{}",
                error.map_or("no truth".to_owned(), |error| format!("error {error:+.4}")),
                figures.u95_percent,
                if off { " beyond u95" } else { "" },
                match figures.warnings.len() {
                    0 => String::new(),
                    count => format!(", warnings: {count}"),
                },
            )
        }
    };
    vec![
        format!("  seed {:<6} {figures}", scored.seed),
        format!("    {}", character(&scored.scene)),
    ]
}

fn series_lines(series: &Series) -> Vec<String> {
    let hand = if series.hand { "hand" } else { "tripod" };
    let steps = series.steps.iter().map(|step| {
        let off = step.error_percent.abs() > step.u95_percent;
        format!(
            "    {} to {}: true {:+.3}, error {:+.4} ± {:.3}{}",
            step.from,
            step.to,
            step.truth_percent,
            step.error_percent,
            step.u95_percent,
            if off { " beyond u95" } else { "" }
        )
    });
    let refused = series
        .refused
        .iter()
        .map(|refused| format!("    {} refused: {}", refused.photo, refused.reason));
    std::iter::once(format!("  seed {:<6} {hand}", series.seed))
        .chain(steps)
        .chain(refused)
        .chain([format!("    {}", character(&series.scene))])
        .collect()
}

/// What a scene is like, in at most 76 columns.
fn character(scene: &Character) -> String {
    let text = |value: &dyn std::fmt::Debug| format!("{value:?}").to_lowercase();
    format!(
        "{:.1} m {} {} {} G {:.2} tilt {:+.1}° light {:.2} p997 {:.2} iso {} q{}",
        scene.distance_mm / 1000.0,
        scene.pattern,
        text(&scene.edge),
        text(&scene.wall),
        scene.sharpness_g,
        scene.tilt_deg,
        scene.ambient_of_dark_side,
        scene.p997_of_full_scale,
        scene.iso,
        scene.jpeg_quality,
    )
}

fn unreadable(summary: &UnreadableSummary, lines: &mut Vec<String>) {
    let line = |name: &str, counts: [usize; 6]| {
        let [scenes, refused, right, named, warned, silent] = counts;
        format!("  {name:<13}{scenes:>5}{refused:>9}{right:>8}{named:>8}{warned:>8}{silent:>8}")
    };
    lines.push("                                       wrong, and the cause is".to_owned());
    lines.push("                   n  refused   right   named   other  silent".to_owned());
    let mut total = [0; 6];
    for row in &summary.ways {
        let counts = [
            row.scenes,
            row.refused,
            row.right,
            row.wrong_named,
            row.wrong_warned,
            row.wrong_silent,
        ];
        for (sum, count) in total.iter_mut().zip(counts) {
            *sum += count;
        }
        lines.push(line(row.way.name(), counts));
    }
    lines.push(line("all", total));
    lines.push("  right: off by no more than u95 or 0.05 %. named: a warning says what is".to_owned());
    lines.push("  wrong; other: it warns of something else; silent: no warning at all.".to_owned());
}

fn spoilt_lines(spoilt: &Spoilt) -> Vec<String> {
    let mut lines = scene_lines(&spoilt.scored);
    lines[0] = format!("  {:<13}{}", spoilt.way.name(), lines[0].trim_start());
    lines
}
