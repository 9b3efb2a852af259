//! What a check found, as text of at most 80 columns.

use super::Checked;
use super::character::Character;
use super::class::Class;
use super::conditions::{ConditionSummary, Conditioned};
use super::slips::{SlipSummary, Slipped};
use super::spoil::Spoilt;
use super::summary::{Errors, ReadingSummary, TravelSummary, UnreadableSummary};
use super::tones::{ToneSummary, Toned};
use super::trial::{Outcome, Scored, Series};
use crate::render::EdgeKind;
use crate::report::text::wrap;
use std::collections::BTreeMap;

/// The check as a readable table; with `each`, a line or two for each scene as well.
#[must_use]
pub(crate) fn render(checked: &Checked, each: bool) -> String {
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
        (
            "lamp faces of 60 to 140 mm, 5 to 7.6 m; given in every other job",
            &checked.lamp_faces,
        ),
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
    let series = [
        (
            "travel: steps of the range control, four photos a series",
            &checked.travel,
        ),
        (
            "rough walls: the same at 5 to 10 m before walls of twice the texture",
            &checked.rough_walls,
        ),
    ];
    for (title, group) in series {
        let Some(group) = group else { continue };
        lines.extend([String::new(), title.to_owned()]);
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
    if let Some(group) = &checked.conditions {
        lines.extend([
            String::new(),
            "conditions: what a workshop has; half of the jobs have a photo of the wall".to_owned(),
        ]);
        conditions(&group.summary, &mut lines);
        let listed = |one: &&Conditioned| each || one.silent || !one.false_warnings.is_empty();
        lines.extend(group.scenes.iter().filter(listed).flat_map(conditioned_lines));
    }
    let toned = [
        ("tones: curves over the whole picture", &checked.tones),
        (
            "local tones: mapping that follows the surroundings",
            &checked.local_tones,
        ),
    ];
    for (title, group) in toned {
        let Some(group) = group else { continue };
        lines.extend([String::new(), title.to_owned()]);
        tones(&group.summary, &mut lines);
        let listed = group.scenes.iter().filter(|one| each || one.silent);
        lines.extend(listed.flat_map(toned_lines));
    }
    if let Some(group) = &checked.slips {
        lines.extend([
            String::new(),
            "slips: jobs of six photos with one thing entered wrongly".to_owned(),
        ]);
        slips(&group.summary, &mut lines);
        lines.extend(group.scenes.iter().flat_map(|scene| slipped_lines(scene, each)));
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
        scatter(errors),
    )
}

fn scatter(errors: &Errors) -> String {
    let ratio = errors.seen_over_stated;
    ratio.map_or("-".to_owned(), |ratio| format!("{ratio:.2}"))
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
        ("aim", &summary.readings),
        ("all", &summary.all),
        ("tripod", &summary.tripod),
        ("hand", &summary.hand),
        ("wall ph.", &summary.wall_photo),
    ] {
        lines.extend(errors.as_ref().map(|errors| errors_line(name, errors)));
    }
    lines.push("  aim: single photos; the others: steps between them".to_owned());
    lines.push(format!("  photos with a warning: {}", summary.warned));
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
    let readings = series.readings.iter().map(|one| {
        let off = one.error_percent.abs() > one.u95_percent;
        let kinds: Vec<&str> = one.warnings.iter().map(Into::into).collect();
        format!(
            "    {}: error {:+.4} ± {:.3}{}{}{}",
            one.position,
            one.error_percent,
            one.u95_percent,
            if off { " beyond u95" } else { "" },
            if kinds.is_empty() { "" } else { ", warned: " },
            kinds.join(", ")
        )
    });
    let refused = series
        .refused
        .iter()
        .map(|refused| format!("    {} refused: {}", refused.photo, refused.reason));
    std::iter::once(format!("  seed {:<6} {hand}", series.seed))
        .chain(readings)
        .chain(steps)
        .chain(refused)
        .chain([format!("    {}", character(&series.scene))])
        .collect()
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

fn conditions(summary: &ConditionSummary, lines: &mut Vec<String>) {
    lines.push("                  n refused   false  silent    rms  worst covered    u95 scatter".to_owned());
    lines.extend(summary.rows.iter().map(|row| {
        let counts = [row.scenes, row.refused, row.falsely_warned, row.silent];
        row_line(&row.condition, counts, row.inclination.as_ref())
    }));
    lines.push("  false: a warning names what is not there. silent: off by more than 1.3 u95 and".to_owned());
    lines.push("  than 0.06 %, and no warning names the cause.".to_owned());
}

fn conditioned_lines(one: &Conditioned) -> Vec<String> {
    let mut lines = scene_lines(&one.scored);
    let silent = if one.silent { " silent" } else { "" };
    let wall = if one.wall_photo { ", wall photo" } else { "" };
    let warned: Vec<String> = one
        .false_warnings
        .iter()
        .map(|kind| format!(", false: {kind}"))
        .collect();
    lines[0] = format!(
        "  {:<13}{}{silent}{wall}{}",
        one.condition.name(),
        lines[0].trim_start(),
        warned.concat()
    );
    lines
}

/// A line of a table: name; scenes, refused, warned, silent; errors.
fn row_line(name: &str, counts: [usize; 4], errors: Option<&Errors>) -> String {
    let [scenes, refused, warned, silent] = counts;
    let errors = errors.map_or(String::new(), |errors| {
        format!(
            "{:>7.4}{:>7.4}{:>6.1} %{:>7.4}{:>8}",
            errors.rms_percent,
            errors.worst_percent,
            100.0 * errors.covered,
            errors.median_u95_percent,
            scatter(errors),
        )
    });
    format!("  {name:<13}{scenes:>4}{refused:>8}{warned:>8}{silent:>8}{errors}")
}

fn tones(summary: &ToneSummary, lines: &mut Vec<String>) {
    lines.push("                  n refused  warned  silent    rms  worst covered    u95 scatter".to_owned());
    lines.extend(summary.rows.iter().map(|row| {
        let counts = [row.scenes, row.refused, row.warned, row.silent];
        row_line(&row.form, counts, row.inclination.as_ref())
    }));
    lines.push("  warned: a warning speaks of processing. silent: off by more than 1.3 u95 and".to_owned());
    lines.push("  than 0.06 %, and no warning speaks of it.".to_owned());
}

fn toned_lines(toned: &Toned) -> Vec<String> {
    let mut lines = scene_lines(&toned.scored);
    let silent = if toned.silent { " silent" } else { "" };
    lines[0] = format!("  {:<13}{}{silent}", toned.form.name(), lines[0].trim_start());
    lines
}

fn slips(summary: &SlipSummary, lines: &mut Vec<String>) {
    let line = |name: &str, counts: [usize; 6]| {
        let [jobs, refused, named, warned, harmless, silent] = counts;
        format!("  {name:<16}{jobs:>5}{refused:>9}{named:>8}{warned:>8}{harmless:>10}{silent:>8}")
    };
    lines.push("                      n  refused   named   other  harmless  silent".to_owned());
    let mut total = [0; 6];
    for row in &summary.slips {
        let counts = [row.jobs, row.refused, row.named, row.warned, row.harmless, row.silent];
        for (sum, count) in total.iter_mut().zip(counts) {
            *sum += count;
        }
        lines.push(line(row.slip.name(), counts));
    }
    lines.push(line("all", total));
    lines.push(format!(
        "  of {} sound jobs {} accused, {} photos refused",
        summary.sound, summary.accused, summary.refused_photos
    ));
    lines.push("  refused: no figure, or the job is not read. named, other: a warning speaks of".to_owned());
    lines.push("  the slip, or of something else. harmless: no figure moves by 0.05 %.".to_owned());
}

/// What sound jobs are accused of, and with `each` what is said of each slip.
fn slipped_lines(scene: &Slipped, each: bool) -> Vec<String> {
    let mut lines: Vec<String> = (scene.accused.iter())
        .flat_map(|said| folded(&format!("seed {}, sound, accused: {said}", scene.seed)))
        .collect();
    for tried in scene.slips.iter().filter(|_| each) {
        let fate = format!("{:?}", tried.fate).to_lowercase();
        lines.push(format!(
            "  seed {:<6} {:<16} {fate}, figures move by {:.2} %",
            scene.seed,
            tried.slip.name(),
            tried.moved_percent
        ));
        lines.extend(tried.said.iter().flat_map(|said| folded(said)));
    }
    lines
}

/// A text in lines of 80 columns, four of them a margin.
fn folded(text: &str) -> Vec<String> {
    wrap(text, 76, 2)
        .into_iter()
        .map(|line| format!("    {line}"))
        .collect()
}

fn spoilt_lines(spoilt: &Spoilt) -> Vec<String> {
    let mut lines = scene_lines(&spoilt.scored);
    lines[0] = format!("  {:<13}{}", spoilt.way.name(), lines[0].trim_start());
    lines
}

/// What a scene is like, in at most 76 columns.
fn character(scene: &Character) -> String {
    let edge = match scene.edge {
        EdgeKind::LogLinear => "log",
        EdgeKind::Blurred => "blur",
        EdgeKind::Skewed => "skew",
        EdgeKind::TwoBlurs => "two",
    };
    let wall = format!("{:?}", scene.wall).to_lowercase();
    format!(
        "{:.1} m {} {edge} {wall} G {:.2} tilt {:+.1}° light {:.2} p997 {:.2} iso {}",
        scene.distance_mm / 1000.0,
        scene.pattern,
        scene.sharpness_g,
        scene.tilt_deg,
        scene.ambient_of_dark_side,
        scene.p997_of_full_scale,
        scene.iso,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::class::Way;
    use crate::check::trial::Figures;
    use crate::check::{Group, variety};
    use crate::record::Pattern;
    use crate::warning::Warning;

    #[test]
    fn the_longest_lines_keep_to_80_columns() {
        let mut scene = Character::of(&variety::taped(1).unwrap());
        (scene.distance_mm, scene.pattern, scene.edge) = (24_999.0, Pattern::KickUp, EdgeKind::Blurred);
        (scene.wall, scene.tilt_deg) = (crate::render::WallKind::Plaster, -10.0);
        (scene.p997_of_full_scale, scene.iso) = (20.0, 800);
        let scored = Scored {
            seed: 100_000,
            truth_percent: Some(1.0),
            outcome: Outcome::Measured(Figures {
                percent: -9.0,
                error_percent: Some(-10.0),
                u95_percent: 0.1,
                reading_u95_percent: 0.1,
                sharpness_error_g: Some(-0.123),
                tilt_error_deg: Some(-12.3),
                pattern: Pattern::Flat,
                warnings: vec![Warning::NoMountingHeight; 10],
            }),
            scene,
        };
        let spoilt: Vec<Spoilt> = Way::ALL
            .iter()
            .map(|&way| Spoilt {
                way,
                class: Class::WrongWarned,
                scored: scored.clone(),
            })
            .collect();
        let scenes = vec![scored];
        let checked = Checked {
            schema: 1,
            program: "beamfall 10.10.10",
            seed: 100_000,
            readings: Some(Group {
                summary: ReadingSummary::of(&scenes),
                scenes,
            }),
            taped: None,
            lamp_faces: None,
            travel: None,
            rough_walls: None,
            unreadable: Some(Group {
                summary: UnreadableSummary::of(&spoilt),
                scenes: spoilt,
            }),
            conditions: None,
            tones: None,
            local_tones: None,
            slips: None,
        };
        for each in [false, true] {
            let text = render(&checked, each);
            for line in text.lines() {
                assert!(line.chars().count() <= 80, "{}: {line}", line.chars().count());
            }
            // Every wrong photo is listed with its seed, and the one good group only where each scene is asked for.
            let seeds = text.matches("seed 100000 ").count();
            assert_eq!(seeds, Way::ALL.len() + usize::from(each), "{text}");
        }
    }
}
