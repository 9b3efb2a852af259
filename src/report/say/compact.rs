//! For the terminal: a job of many photos on one screen, states of the lamps for photos.

use super::super::document::{Block, Cell, Column, Margin, Section, Sign, Table, Text};
use super::super::text::{fixed, shorten, signed};
use super::super::words::lamp_stage;
use super::readings;
use crate::adjuster::{LampTravel, Movement};
use crate::aim::{Outcome, ShotReading, Verdict};
use crate::language::{Language, said};
use crate::record::{Branch, Side, Stage, in_order, is_setting};
use crate::run::Findings;

/// More photos than these are not shown a line each.
const MOST_LINES: usize = 12;
/// Columns of a position's name.
const MOST_NAME: usize = 11;

type LampStage = (Side, Option<Stage>);

/// Whether a job is shown this way.
pub(super) fn is_wanted(findings: &Findings) -> bool {
    findings.readings.len() > MOST_LINES
}

/// The lines that stand for the photos: those without a position one each, the others by lamp and stage.
pub(super) fn sections(language: Language, findings: &Findings) -> Vec<Section> {
    let alone = |reading: &&ShotReading| reading.shot.position.is_none() && !reading.shot.is_pumped();
    let alone: Vec<&ShotReading> = findings.readings.iter().filter(alone).collect();
    let mut sections = Vec::new();
    if !alone.is_empty() {
        sections.push(Section::new(
            "",
            vec![Block::Table(readings::shot_table(language, &alone))],
        ));
    }
    sections.extend(positions(language, findings));
    sections.extend(travels(language, findings));
    sections.extend(pumped(language, findings));
    sections
}

/// Lamps and stages, each once, as the job lists them.
fn lamp_stages<'a>(readings: impl Iterator<Item = &'a ShotReading>) -> Vec<LampStage> {
    let mut all = Vec::new();
    for reading in readings {
        let of = (reading.shot.lamp, reading.shot.stage);
        if !all.contains(&of) {
            all.push(of);
        }
    }
    all
}

fn at_position(reading: &&ShotReading) -> bool {
    reading.shot.position.is_some() && !reading.shot.is_pumped()
}

fn name(reading: &ShotReading) -> &str {
    reading.shot.position.as_deref().unwrap_or_default()
}

/// A table whose first row names its columns.
fn table(columns: usize, titles: Vec<Cell>) -> Table {
    Table {
        columns: vec![Column::default(); columns],
        rows: vec![titles],
        ..Table::default()
    }
}

/// The inclination of each lamp at each position.
fn positions(language: Language, findings: &Findings) -> Option<Section> {
    let shown = || findings.readings.iter().filter(at_position);
    let mut names: Vec<String> = Vec::new();
    for reading in shown() {
        if !names.iter().any(|known| known == name(reading)) {
            names.push(name(reading).to_owned());
        }
    }
    in_order(&mut names, |name| name);
    let mut titles: Vec<Cell> = vec![language.pick("position", "Stellung").into()];
    titles.extend(names.iter().map(|name| Cell::from(shorten(name, MOST_NAME))));
    let mut table = table(names.len() + 2, [titles, vec!["".into()]].concat());
    for key in lamp_stages(shown()) {
        let travel = findings.adjuster.travel.iter().find(|t| (t.lamp, t.stage) == key);
        let mut row: Vec<Cell> = vec![lamp_stage(language, key.0, key.1).into()];
        for position in &names {
            let here = shown().filter(|r| (r.shot.lamp, r.shot.stage) == key && name(r) == position);
            row.push(cell(language, &here.collect::<Vec<_>>(), travel, position));
        }
        row.push(travel.map(|travel| widths(language, travel)).unwrap_or_default().into());
        table.rows.push(row);
    }
    let heading = language.pick(
        "Inclination at each position, % (more is lower)",
        "Neigung in jeder Stellung, % (mehr ist tiefer)",
    );
    let mut blocks = vec![Block::Table(table)];
    blocks.extend(allowed(language, shown()).map(Block::text));
    (!names.is_empty()).then(|| Section {
        margin: Margin::Hanging,
        ..Section::new(heading, blocks)
    })
}

/// The mean at a position with the sign of what its photos came to.
fn cell(language: Language, here: &[&ShotReading], travel: Option<&LampTravel>, position: &str) -> Cell {
    let mean = travel.and_then(|travel| travel.positions.iter().find(|at| at.position == position));
    let Some(mean) = mean else {
        let refused = here.iter().any(|reading| reading.result.is_err());
        return if refused {
            Text::default()
                .word(Sign::Refused, language.pick("none", "keine"))
                .into()
        } else {
            "".into()
        };
    };
    let verdicts = here.iter().filter_map(|reading| readings::verdict_of(reading));
    let outcomes: Vec<Outcome> = verdicts.map(Verdict::unloaded).collect();
    let worst = [Outcome::Outside, Outcome::Undecided, Outcome::Inside];
    let worst = worst.into_iter().find(|outcome| outcomes.contains(outcome));
    let figure = Text::from(format!("{} ", fixed(language, mean.percent, 2)));
    let still = travel.is_some_and(|travel| travel.movement == Some(Movement::Still));
    match worst {
        // Where the control should have moved the beam, its standing still matters more than where it stands.
        Some(Outcome::Inside) if still && !is_setting(Some(position)) => figure.sign(Movement::Still).into(),
        Some(outcome) => figure.sign(outcome).into(),
        None => figure.into(),
    }
}

/// "± 0.06 to 0.07".
fn widths(language: Language, travel: &LampTravel) -> String {
    let all = travel.positions.iter().map(|at| at.u95_percent);
    let (low, high) = all.fold((f64::INFINITY, 0.0_f64), |(low, high), u95| {
        (low.min(u95), high.max(u95))
    });
    let (low, high) = (
        super::super::text::u95(language, low),
        super::super::text::u95(language, high),
    );
    if low == high {
        format!("± {high}")
    } else {
        said!(language; "± {low} to {high}", "± {low} bis {high}")
    }
}

/// What the signs mean, and what is allowed where.
fn allowed<'a>(language: Language, shown: impl Iterator<Item = &'a ShotReading>) -> Option<String> {
    let mut bands: Vec<(bool, String)> = Vec::new();
    let mut by_load = "";
    for verdict in shown.filter_map(readings::verdict_of) {
        let Verdict { setting, band, .. } = verdict;
        if verdict.load_decides {
            by_load = language.pick(
                "; lower than that elsewhere (?) counts only with the load that the position is for",
                "; tiefer als das zählt sonst (?) nur mit der Beladung, für die die Stellung ist",
            );
        }
        let band = (
            *setting,
            said!(
                language; "{} to {}", "{} bis {}";
                fixed(language, band.low_percent, 2),
                fixed(language, band.high_percent, 2)
            ),
        );
        if !bands.contains(&band) {
            bands.push(band);
        }
    }
    let of = |wanted: bool, words: &str| {
        let bands: Vec<String> = bands
            .iter()
            .filter(|(setting, _)| *setting == wanted)
            .map(|(_, b)| b.clone())
            .collect();
        (!bands.is_empty()).then(|| format!("{} {words}", bands.join(language.pick(" or ", " oder "))))
    };
    let said: Vec<String> = [
        of(
            true,
            language.pick("as set (position 0)", "wie eingestellt (Stellung 0)"),
        ),
        of(false, language.pick("elsewhere", "sonst")),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!said.is_empty()).then(|| {
        said!(
            language; "✓ inside, ✗ outside, ? undecided, = has not moved, ∅ none; allowed: {}{by_load}",
            "✓ innerhalb, ✗ außerhalb, ? offen, = nicht bewegt, ∅ keine; zulässig: {}{by_load}";
            said.join(", ")
        )
    })
}

/// From each position to the next, and over all.
fn travels(language: Language, findings: &Findings) -> Option<Section> {
    let travels = || {
        findings
            .adjuster
            .travel
            .iter()
            .filter(|travel| !travel.steps.is_empty())
    };
    let step = |from: &str, to: &str| (from.to_owned(), to.to_owned());
    let mut steps: Vec<(String, String)> = Vec::new();
    for one in travels().flat_map(|travel| &travel.steps) {
        if !steps.contains(&step(&one.from, &one.to)) {
            steps.push(step(&one.from, &one.to));
        }
    }
    let mut titles: Vec<Cell> = vec![language.pick("from → to", "von → bis").into()];
    titles.extend(
        steps
            .iter()
            .map(|(from, to)| Cell::from(format!("{} → {}", shorten(from, 6), shorten(to, 6)))),
    );
    titles.extend([language.pick("in all", "gesamt").into(), "".into()]);
    let mut table = table(steps.len() + 3, titles);
    for travel in travels() {
        let mut row: Vec<Cell> = vec![lamp_stage(language, travel.lamp, travel.stage).into()];
        for (from, to) in &steps {
            let here = travel.steps.iter().find(|one| one.from == *from && one.to == *to);
            row.push(here.map_or_else(
                || "".into(),
                |one| {
                    Text::from(format!("{} ", signed(language, one.percent, 2)))
                        .sign(one.movement)
                        .into()
                },
            ));
        }
        let total = travel.total.as_ref();
        row.push(
            total
                .map(|t| super::super::words::plus_minus(language, t.percent, t.u95_percent))
                .unwrap_or_default()
                .into(),
        );
        row.push(
            travel
                .movement
                .map(|m| Text::default().word(m, m.said(language)))
                .unwrap_or_default()
                .into(),
        );
        table.rows.push(row);
    }
    let heading = language.pick(
        "Travel, % (+ is down; ↕ moves, = does not move, ? cannot tell)",
        "Stellweg, % (+ ist abwärts; ↕ bewegt sich, = bewegt sich nicht, ? nicht feststellbar)",
    );
    (!steps.is_empty()).then(|| Section::new(heading, vec![Block::Table(table)]))
}

/// The pump's photos: a line for each sweep and each series with the valve shut.
fn pumped(language: Language, findings: &Findings) -> Option<Section> {
    let mut blocks = Vec::new();
    for sealed in [false, true] {
        let of_pump = |reading: &&ShotReading| reading.shot.is_pumped() && reading.shot.sealed == sealed;
        for key in lamp_stages(findings.readings.iter().filter(of_pump)) {
            let series = findings.readings.iter().filter(of_pump);
            let series: Vec<&ShotReading> = series.filter(|r| (r.shot.lamp, r.shot.stage) == key).collect();
            let shut = if sealed {
                language.pick(", valve shut", ", Ventil zu")
            } else {
                language.pick(", pump", ", Pumpe")
            };
            blocks.push(Block::Remark(
                format!("{}{shut}", lamp_stage(language, key.0, key.1)),
                course(language, &series).into(),
            ));
        }
    }
    (!blocks.is_empty()).then(|| Section::new(language.pick("Photos with the pump", "Fotos mit der Handpumpe"), blocks))
}

/// "11 photos from 0 to 450 mbar and down again, 2.61 to 1.10 %".
fn course(language: Language, series: &[&ShotReading]) -> String {
    let count = |n: usize| {
        if n == 1 {
            said!(language; "1 photo", "1 Foto")
        } else {
            said!(language; "{n} photos", "{n} Fotos")
        }
    };
    let mut said = count(series.len());
    let vacuums: Vec<f64> = series
        .iter()
        .filter_map(|reading| Some(reading.shot.vacuum?.mbar()))
        .collect();
    let ends = |values: &[f64]| {
        let fold = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(*v), high.max(*v))
            });
        (!values.is_empty()).then_some(fold)
    };
    if let Some((low, high)) = ends(&vacuums) {
        let back = series
            .iter()
            .any(|r| r.shot.branch == Some(Branch::Releasing) && !r.shot.sealed);
        let back = if back {
            language.pick(" and down again", " und wieder zurück")
        } else {
            ""
        };
        if low < high {
            said.push_str(&said!(
                language; " from {low:.0} to {high:.0} mbar{back}", " von {low:.0} bis {high:.0} mbar{back}"
            ));
        } else {
            said.push_str(&said!(language; " from {high:.0} mbar on", " ab {high:.0} mbar"));
        }
    }
    let figures = series
        .iter()
        .filter_map(|r| Some(r.result.as_ref().ok()?.aim.inclination_percent));
    let figures: Vec<f64> = figures.collect();
    match ends(&figures) {
        Some((low, high)) if fixed(language, low, 2) == fixed(language, high, 2) => {
            said.push_str(&said!(language; ", steady at {} %", ", gleichbleibend {} %"; fixed(language, low, 2)))
        }
        Some((low, high)) => said.push_str(&said!(
            language; ", {} to {} %", ", {} bis {} %";
            fixed(language, low, 2),
            fixed(language, high, 2)
        )),
        None => said.push_str(language.pick(", none gave a figure", ", keines ergab einen Messwert")),
    }
    let refused = series.len() - figures.len();
    if refused > 0 && !figures.is_empty() {
        said.push_str(&said!(language; ", {refused} refused", ", {refused} abgelehnt"));
    }
    said
}
