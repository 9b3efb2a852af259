//! What the range adjuster does: travel, sides, response to vacuum, leak-down, before and after.

use super::super::document::{Block, List, Section, Sign, Table, Text};
use super::super::plots::{Figure, Subject};
use super::super::text::{fixed, shorten, signed};
use super::super::words::{
    curve_words, direction, lamp_and_stage, lamp_and_stage_short, lamp_stage, plus_minus, plus_minus_whole, sentence,
    travelled, within,
};
use super::isolation::series_called;
use super::plot_grid;
use crate::adjuster::{
    Adjuster, Change, Curve, Interval, LampTravel, LeakDown, Movement, Response, SideDifference, StickSlip,
    TravelFault, VacuumStep,
};
use crate::aim::Outcome;
use crate::language::{Language, said};
use crate::record::{Side, Stage};
use crate::run::Findings;
use crate::warning::Warning;

type Facts = Vec<(&'static str, Text)>;

/// For the terminal: each travel from one position to the next.
pub(super) fn travels(language: Language, findings: &Findings) -> Section {
    let mut table = Table::new("", [("", ""); 4]);
    // German words leave less room to the names of positions.
    let between = match language {
        Language::English => 25,
        Language::German => 18,
    };
    (table.columns[0].least, table.columns[1].least) = (12, between);
    for lamp in &findings.adjuster.travel {
        for step in &lamp.steps {
            let movement = step.movement.said(language);
            let words = match step.movement {
                Movement::Moves => format!("{movement} ({})", direction(language, step.percent)),
                Movement::Still | Movement::CannotTell => movement.to_owned(),
            };
            table.row([
                lamp_stage(language, lamp.lamp, lamp.stage).into(),
                format!("{} → {}", shorten(&step.from, 11), shorten(&step.to, 11)).into(),
                plus_minus(language, step.percent, step.u95_percent).into(),
                Text::default().word(step.movement, words).into(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Section::default();
    }
    let heading = language.pick(
        "Travel between positions, % (+ = the beam went down)",
        "Stellweg zwischen Stellungen, % (+ = der Lichtkegel ging nach unten)",
    );
    Section::new(heading, vec![Block::Table(table)])
}

/// For the terminal: all that the adjuster does, each lamp with what is said of it; the whole travel with its measures where
/// `totals`.
pub(super) fn remarks(language: Language, findings: &Findings, totals: bool) -> Section {
    let adjuster = &findings.adjuster;
    let travels = adjuster
        .travel
        .iter()
        .flat_map(|lamp| travel_remarks(language, lamp, totals, is_past(findings, lamp.stage)));
    let mut said: Vec<(String, Text)> = travels.collect();
    said.extend(side_remarks(language, adjuster));
    for response in &adjuster.response {
        let about = lamp_stage(language, response.lamp, response.stage);
        let about = said!(language; "{about}, pump", "{about}, Pumpe");
        if let Some(movement) = response.movement {
            let curve = response.curve.as_ref();
            let curve =
                curve.map(|curve| format!("; {}, {}", curve_words(language, curve), travel_words(language, curve)));
            let text = Text::default()
                .word(movement, movement.told(language, is_past(findings, response.stage)))
                .plain(curve.unwrap_or_else(|| up_to(language, response)));
            said.push((about.clone(), text));
        }
        said.extend(
            response
                .warnings
                .iter()
                .map(|warning| (about.clone(), warning.said(language).into())),
        );
    }
    for leak in &adjuster.leak_down {
        let series = (leak.series.as_deref())
            .map(|name| format!(", {}", series_called(language, findings, name)))
            .unwrap_or_default();
        let about = lamp_stage(language, leak.lamp, leak.stage);
        let about = said!(language; "{about}, valve shut{series}", "{about}, Ventil zu{series}");
        said.push((about.clone(), leak.finding.said(language).into()));
        let falls = leak
            .gauge_fall_mbar_per_min
            .map(|rate| gauge_falls(language, rate, is_past(findings, leak.stage)));
        said.extend(falls.map(|falls| (about.clone(), Text::default().sign(Sign::Bad).plain(falls))));
        said.extend(
            leak.warnings
                .iter()
                .map(|warning| (about.clone(), warning.said(language).into())),
        );
    }
    let repairs = adjuster.stages.iter().flat_map(|change| &change.words);
    let repair = language.pick("repair", "Reparatur");
    said.extend(repairs.map(|words| (repair.to_owned(), words.said(language).into())));
    if said.is_empty() {
        return Section::default();
    }
    let blocks = said.into_iter().map(|(about, text)| Block::Remark(about, text));
    let heading = language.pick("What the adjuster does", "Was die Leuchtweitenverstellung tut");
    Section::new(heading, blocks.collect())
}

/// Whether what was photographed at a stage is said of the car as it was before a repair.
pub(super) fn is_past(findings: &Findings, stage: Option<Stage>) -> bool {
    stage != Some(Stage::After) && (findings.is_repaired() || !findings.job.repair.is_empty())
}

/// "the gauge, as typed, falls by 12 mbar a minute"; `past`: before a repair.
pub(super) fn gauge_falls(language: Language, mbar_per_min: f64, past: bool) -> String {
    let rate = fixed(language, mbar_per_min, 0);
    let (falls, fällt) = if past { ("fell", "fiel") } else { ("falls", "fällt") };
    said!(
        language; "the gauge, as typed, {falls} steadily by {rate} mbar a minute",
        "der Unterdruckmesser {fällt} nach dem, was eingetragen ist, stetig um {rate} mbar in der Minute"
    )
}

fn travel_remarks(language: Language, lamp: &LampTravel, totals: bool, past: bool) -> Vec<(String, Text)> {
    let mut said: Vec<Text> = Vec::new();
    if let (Some(movement), Some(total), true) = (lamp.movement, &lamp.total, totals) {
        let reach = total.reach_change_m.zip(total.reach_change_u95_m);
        let reach = reach
            .map(|(change_m, u95_m)| plus_minus_whole(language, change_m, u95_m))
            .map(|reach| said!(language; ", reach {reach} m", ", Reichweite {reach} m"));
        said.push(
            Text::default()
                .word(movement, movement.told(language, past))
                .plain(said!(
                    language;
                    "; {} to {}: {} %, {} mm on the wall{}",
                    "; {} bis {}: {} %, {} mm an der Wand{}";
                    total.from,
                    total.to,
                    plus_minus(language, total.percent, total.u95_percent),
                    plus_minus_whole(language, total.wall_mm, total.wall_u95_mm),
                    reach.unwrap_or_default()
                )),
        );
    }
    said.extend(lamp.faults.iter().map(|fault| fault.told(language, past).into()));
    said.extend(lamp.mend.iter().map(|mend| mend.said(language).into()));
    let short = lamp.short.iter().map(|short| short.said(language));
    said.extend(short.map(|short| Text::default().sign(Sign::Bad).plain(short)));
    for position in &lamp.positions {
        if let Some(expected) = &position.expected {
            let held = said!(
                language;
                "position {}: travel {} %, expected {} ± {} %: ",
                "Stellung {}: Stellweg {} %, erwartet {} ± {} %: ";
                position.position,
                plus_minus(language, position.travel_percent, position.travel_u95_percent),
                signed(language, expected.travel_percent, 2),
                fixed(language, expected.tolerance_percent, 2)
            );
            said.push(Text::from(held).word(expected.outcome, expected.outcome.said(language)));
        }
    }
    let about = lamp_stage(language, lamp.lamp, lamp.stage);
    said.into_iter().map(|text| (about.clone(), text)).collect()
}

/// All positions of a stage in one remark.
fn side_remarks(language: Language, adjuster: &Adjuster) -> Vec<(String, Text)> {
    let of_stage = |sides: &[SideDifference]| {
        let mut text = alike(language, sides).map(Text::from).unwrap_or_default();
        let told = if text.is_empty() { sides } else { &[] };
        for (n, side) in told.iter().enumerate() {
            let between = if n == 0 { "" } else { "; " };
            let way = if side.difference_percent < 0.0 {
                language.pick("higher", "höher")
            } else {
                language.pick("lower", "tiefer")
            };
            let figure = within(language, side.difference_percent.abs(), side.u95_percent);
            let position = &side.position;
            text = text.plain(said!(
                language; "{between}at {position} {figure} % {way}", "{between}bei {position} {figure} % {way}"
            ));
            if let Some(outcome) = side.outcome {
                text = text.plain(" ").word(outcome, outcome.said(language));
            }
        }
        for short in sides.iter().filter_map(|side| side.short.as_ref()) {
            text = text.plain("; ").sign(Sign::Bad).plain(short.said(language));
        }
        let stage = sides.first().and_then(|side| side.stage);
        let stage = stage.map(|stage| format!(", {}", stage.said(language)));
        let stage = stage.unwrap_or_default();
        let about = said!(language; "left beam against right{stage}", "linker Lichtkegel gegen rechten{stage}");
        (about, text)
    };
    adjuster
        .sides
        .chunk_by(|a, b| a.stage == b.stage)
        .map(of_stage)
        .collect()
}

/// Where no limit is set and no photo tells the beams apart: the largest difference alone.
fn alike(language: Language, sides: &[SideDifference]) -> Option<String> {
    // By the figures as they are shown: of 0.09 ± 0.09 nobody is told that it is a difference.
    let shown = |percent: f64| fixed(language, percent.abs(), 2);
    let is_beyond = |side: &SideDifference| {
        let (difference, half) = (side.difference_percent, side.u95_percent);
        difference.abs() > half && shown(difference) != shown(half)
    };
    let told_apart = |side: &SideDifference| side.outcome.is_some() || is_beyond(side);
    let largest =
        |a: &&SideDifference, b: &&SideDifference| (a.difference_percent.abs()).total_cmp(&b.difference_percent.abs());
    let most = sides.iter().max_by(largest)?;
    (sides.len() > 1 && !sides.iter().any(told_apart)).then(|| {
        let figure = within(language, most.difference_percent.abs(), most.u95_percent);
        said!(language; "alike (at the most {figure} %)", "gleich (höchstens {figure} %)")
    })
}

/// The whole travel in both measures.
fn travel_words(language: Language, curve: &Curve) -> String {
    said!(
        language;
        "in all {} % by {} mbar ({} mm on the wall)",
        "insgesamt {} % bis {} mbar ({} mm an der Wand)";
        curve.travel_percent.text(language, 2),
        fixed(language, curve.highest_mbar, 0),
        curve.travel_wall_mm.text(language, 0)
    )
}

/// How far was pumped, where the beam is not seen to move.
pub(super) fn up_to(language: Language, response: &Response) -> String {
    match (response.movement, response.unmoved_up_to_mbar()) {
        (Some(Movement::Still), _) => {
            said!(language; " up to {:.0} mbar", " bis {:.0} mbar"; response.highest_mbar())
        }
        (_, Some(mbar)) => said!(
            language; ": not known beyond {mbar:.0} mbar", ": über {mbar:.0} mbar hinaus nicht bekannt"
        ),
        _ => String::new(),
    }
}

/// What the pump showed, on one line, or a line for each step where no response could be fitted.
pub(super) fn response_words(language: Language, response: &Response) -> Vec<String> {
    if let Some(curve) = &response.curve {
        return vec![sentence(&format!(
            "{}, {}",
            curve_words(language, curve),
            travel_words(language, curve)
        ))];
    }
    response.steps.iter().map(|step| step_words(language, step)).collect()
}

/// "Vacuum 0 to 90 mbar (applying): up 0.03 % ± 0.02 %, does not move": which way as of a step of the range control.
fn step_words(language: Language, step: &VacuumStep) -> String {
    said!(
        language;
        "Vacuum {} to {} mbar ({}): {}, {}",
        "Unterdruck {} bis {} mbar ({}): {}, {}";
        fixed(language, step.from_mbar, 0),
        fixed(language, step.to_mbar, 0),
        step.branch.said(language),
        travelled(language, step.percent, step.u95_percent),
        step.movement.said(language)
    )
}

/// For the page: all of it, with the plots.
pub(super) fn chapter(language: Language, findings: &Findings, figures: &[Figure]) -> Option<Section> {
    let adjuster = &findings.adjuster;
    if adjuster.is_empty() && adjuster.warnings.is_empty() {
        return None;
    }
    let warnings = adjuster.warnings.iter();
    let mut blocks: Vec<Block> = warnings
        .map(|w| Block::note(said!(language; "Note: {}", "Hinweis: {}"; w.said(language))))
        .collect();
    let part = |english, german, blocks: Vec<Block>| {
        (!blocks.is_empty()).then(|| Block::Section(Section::part("", language.pick(english, german), blocks)))
    };
    blocks.extend(part(
        "Travel from position to position",
        "Stellweg von Stellung zu Stellung",
        travel(language, findings),
    ));
    blocks.extend(part(
        "Against what the job expects",
        "Gegen das, was der Auftrag erwartet",
        expected(language, adjuster),
    ));
    blocks.extend(part(
        "Left lamp against right lamp",
        "Linker Scheinwerfer gegen rechten",
        sides(language, adjuster),
    ));
    blocks.extend(part(
        "Before and after the repair",
        "Vor und nach der Reparatur",
        stages(language, adjuster),
    ));
    let responses = adjuster.response.iter().map(|one| response(language, one));
    blocks.extend(part(
        "Response to the pump's vacuum",
        "Antwort auf den Unterdruck der Pumpe",
        responses.collect(),
    ));
    let leaks = adjuster.leak_down.iter().map(|one| leak(language, findings, one));
    blocks.extend(part(
        "With the pump's valve shut",
        "Bei geschlossenem Ventil der Pumpe",
        leaks.collect(),
    ));
    let of_pump = [Subject::Vacuum, Subject::LeakDown];
    blocks.extend(plot_grid(figures.iter().filter(|f| of_pump.contains(&f.subject))));
    let heading = language.pick("What the range adjuster does", "Was die Leuchtweitenverstellung tut");
    Some(Section::new(heading, blocks))
}

fn who(language: Language, lamp: Side, stage: Option<Stage>) -> String {
    sentence(&lamp_and_stage(language, lamp, stage))
}

fn note(language: Language, warning: &Warning) -> Block {
    let lead = Text::default().strong(language.pick("Note:", "Hinweis:"));
    Block::text(lead.plain(format!(" {}", warning.said(language))))
}

/// A word with its sign, or nothing.
fn judged(language: Language, outcome: Option<Outcome>) -> Text {
    outcome
        .map(|o| Text::default().word(o, o.said(language)))
        .unwrap_or_default()
}

fn travel(language: Language, findings: &Findings) -> Vec<Block> {
    let adjuster = &findings.adjuster;
    let mut blocks = Vec::new();
    for lamp in &adjuster.travel {
        let past = is_past(findings, lamp.stage);
        let about = |sign: Sign, text: String| {
            let who = format!("{}:", who(language, lamp.lamp, lamp.stage));
            Block::Paragraph("fault", Text::default().sign(sign).strong(who).plain(text))
        };
        let sign = |fault: &TravelFault| if fault.is_mix_up() { Sign::Open } else { Sign::Bad };
        blocks.extend((lamp.faults.iter()).map(|fault| about(sign(fault), format!(" {}", fault.told(language, past)))));
        let mend = lamp.mend.as_ref();
        blocks.extend(mend.map(|mend| {
            let mend = mend.said(language);
            let text = said!(
                language;
                " cannot tell whether it moves; {mend}",
                " ob er sich bewegt, ist nicht feststellbar; {mend}"
            );
            about(Sign::Open, text)
        }));
    }
    let mut table = Table::new(
        "cards brief",
        [
            ("key", language.pick("Lamp", "Scheinwerfer")),
            ("key", language.pick("Position", "Stellung")),
            ("figure", language.pick("Travel, %", "Stellweg, %")),
            ("figure", language.pick("On the wall, mm", "An der Wand, mm")),
            ("figure", language.pick("Reach, m", "Reichweite, m")),
            ("end", language.pick("Does it move?", "Bewegt er sich?")),
        ],
    );
    for lamp in &adjuster.travel {
        // A single step is the total already.
        let total = lamp.total.iter().filter(|_| lamp.steps.len() > 1);
        let steps = lamp.steps.iter().map(|s| (s, false)).chain(total.map(|s| (s, true)));
        for (step, whole) in steps {
            let from_to = said!(language; "{} to {}", "{} bis {}"; step.from, step.to);
            let reach = step.reach_change_m.zip(step.reach_change_u95_m);
            table.row([
                lamp_and_stage_short(language, lamp.lamp, lamp.stage).into(),
                if whole {
                    Text::default()
                        .strong(said!(language; "whole: {from_to}", "ganz: {from_to}"))
                        .into()
                } else {
                    from_to.into()
                },
                plus_minus(language, step.percent, step.u95_percent).into(),
                plus_minus_whole(language, step.wall_mm, step.wall_u95_mm).into(),
                reach
                    .map(|(change_m, u95_m)| plus_minus_whole(language, change_m, u95_m))
                    .unwrap_or_default()
                    .into(),
                Text::default().word(step.movement, step.movement.said(language)).into(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Vec::new();
    }
    blocks.extend(table.noted(said!(
        language;
        "+ means that the beam went down, and − of the reach that it is lost. ± is the half-width of the 95 % interval: what \
         differs from photo to photo, and of the tape measures only what does not cancel. A beam moves when the whole \
         interval lies beyond {} %, and does not move when it lies within; with several positions the rule is stricter, so \
         that a lamp that stands still is said to move once in 200 times at the most.",
        "+ heißt, dass der Lichtkegel nach unten ging, und − bei der Reichweite, dass sie abnahm. ± ist die halbe Breite des \
         95-%-Intervalls: was sich von Foto zu Foto unterscheidet, und von den Maßen nur, was sich nicht aufhebt. Ein Lichtkegel bewegt \
         sich, wenn das ganze Intervall jenseits von {} % liegt, und bewegt sich nicht, wenn es darin liegt; bei mehreren Stellungen ist \
         die Regel strenger, sodass von einem stehenden höchstens einmal in 200 Fällen gesagt wird, er bewege sich.";
        language.figure(&adjuster.least_travel_percent.to_string())
    )));
    blocks
}

fn expected(language: Language, adjuster: &Adjuster) -> Vec<Block> {
    let mut table = Table::new(
        "cards brief",
        [
            ("key", language.pick("Lamp", "Scheinwerfer")),
            ("key", language.pick("Position", "Stellung")),
            (
                "figure",
                language.pick("Travel from the first, %", "Stellweg ab der ersten, %"),
            ),
            ("figure", language.pick("Expected, %", "Erwartet, %")),
            ("end", language.pick("Is it met?", "Erfüllt?")),
        ],
    );
    for lamp in adjuster.travel.iter().filter(|lamp| !lamp.steps.is_empty()) {
        for at in &lamp.positions {
            let Some(expected) = at.expected else { continue };
            let tolerance = fixed(language, expected.tolerance_percent, 2);
            table.row([
                lamp_and_stage_short(language, lamp.lamp, lamp.stage).into(),
                at.position.as_str().into(),
                plus_minus(language, at.travel_percent, at.travel_u95_percent).into(),
                format!("{} ± {tolerance}", signed(language, expected.travel_percent, 2)).into(),
                judged(language, Some(expected.outcome)).into(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Vec::new();
    }
    vec![Block::Table(table)]
}

fn sides(language: Language, adjuster: &Adjuster) -> Vec<Block> {
    let is_judged = adjuster.sides.iter().any(|s| s.outcome.is_some());
    let mut table = Table::new(
        "cards brief",
        [
            ("key", language.pick("At", "Bei")),
            ("figure", language.pick("Left beam lower by, %", "Linker tiefer um, %")),
            ("", language.pick("Within the limit?", "In der Grenze?")),
            (
                "figure",
                language.pick("Left beam went further down by, %", "Linker weiter nach unten um, %"),
            ),
            ("", language.pick("Travel within?", "Stellweg darin?")),
        ],
    );
    for of_stage in adjuster.sides.chunk_by(|a, b| a.stage == b.stage) {
        for (n, s) in of_stage.iter().enumerate() {
            let stage = s
                .stage
                .map(|stage| format!("{}, ", stage.said(language)))
                .unwrap_or_default();
            let mut travel = plus_minus(language, s.travel_difference_percent, s.travel_u95_percent);
            let mut travel_within = judged(language, s.travel_outcome);
            if n == 0 {
                // At the first position the travels are 0 by definition.
                (travel, travel_within) = (String::new(), Text::default());
            }
            table.row([
                format!("{stage}{}", s.position).into(),
                plus_minus(language, s.difference_percent, s.u95_percent).into(),
                judged(language, s.outcome).into(),
                travel.into(),
                travel_within.into(),
            ]);
        }
    }
    if !is_judged {
        for column in [4, 2] {
            table.columns.remove(column);
            for row in &mut table.rows {
                row.remove(column);
            }
        }
    }
    table.noted(said!(
        language;
        "− means that the left beam is higher, or has travelled less far down. {}",
        "− heißt, dass der linke Lichtkegel höher liegt oder weniger weit nach unten gegangen ist. {}";
        if is_judged {
            language.pick("The limit is the job's.", "Die Grenze ist die des Auftrags.")
        } else {
            language.pick(
                "The job sets no limit for it, so that nothing is judged.",
                "Der Auftrag setzt dafür keine Grenze, deshalb wird nichts beurteilt.",
            )
        }
    ))
}

fn stages(language: Language, adjuster: &Adjuster) -> Vec<Block> {
    if adjuster.stages.is_empty() {
        return Vec::new();
    }
    let words = adjuster.stages.iter().flat_map(|s| &s.words);
    let mut blocks = vec![Block::List(List {
        items: words.map(|words| sentence(&words.said(language)).into()).collect(),
        ..List::default()
    })];
    let columns = |what: &'static str, in_percent: bool| {
        let titles = match (language, in_percent) {
            (Language::English, true) => ["Before, %", "After, %", "Change, %"],
            (Language::English, false) => ["Before", "After", "Change"],
            (Language::German, true) => ["Vorher, %", "Nachher, %", "Änderung, %"],
            (Language::German, false) => ["Vorher", "Nachher", "Änderung"],
        };
        let [before, after, change] = titles.map(|title| ("figure", title));
        let (first, last) = (
            ("key", language.pick("Lamp", "Scheinwerfer")),
            ("end", language.pick("Did it change?", "Geändert?")),
        );
        Table::new("cards brief", [first, ("key", what), before, after, change, last])
    };
    // Each figure is rounded for itself, and a change can so differ by one in its last digit from that of the two beside it.
    let rounded = |value: f64| (value * 100.0).round();
    let differs =
        |c: &Change| (rounded(c.after_percent) - rounded(c.before_percent) - rounded(c.change_percent)).abs() > 0.5;
    let mut are_apart = false;
    let mut table = columns(language.pick("What", "Was"), true);
    let mut figures = columns(language.pick("Figure", "Größe"), false);
    for stage in &adjuster.stages {
        let mut row = |what: String, c: &Change| {
            are_apart |= differs(c);
            table.row([
                stage.lamp.said(language).into(),
                what.into(),
                plus_minus(language, c.before_percent, c.before_u95_percent).into(),
                plus_minus(language, c.after_percent, c.after_u95_percent).into(),
                plus_minus(language, c.change_percent, c.change_u95_percent).into(),
                Text::default().word(c.real, c.real.said(language)).into(),
            ]);
        };
        for at in &stage.positions {
            row(
                said!(language; "inclination at {}", "Neigung bei {}"; at.position),
                &at.inclination,
            );
            if let Some(travel) = &at.travel {
                row(said!(language; "travel to {}", "Stellweg bis {}"; at.position), travel);
            }
        }
        for f in &stage.figures {
            figures.row([
                stage.lamp.said(language).into(),
                f.figure.said(language).into(),
                f.before.text(language, 2).into(),
                f.after.text(language, 2).into(),
                signed(language, f.change, 2).into(),
                if f.real {
                    language.pick("changed", "geändert")
                } else {
                    language.pick("not sure", "nicht sicher")
                }
                .into(),
            ]);
        }
    }
    let rounding = if are_apart {
        language.pick(
            " Each figure is rounded for itself: a change can differ by 0.01 from what the two beside it give.",
            " Jeder Wert ist für sich gerundet: Eine Änderung kann um 0,01 von dem abweichen, was die beiden daneben ergeben.",
        )
    } else {
        ""
    };
    blocks.extend(table.noted(said!(
        language;
        "Travel is from the lamp's first position. Something changed when the whole interval of the change lies beyond {} %, and is as \
         before when it lies within.{rounding}",
        "Der Stellweg zählt ab der ersten Stellung des Scheinwerfers. Geändert hat sich etwas, wenn das ganze Intervall der Änderung \
         jenseits von {} % liegt, und wie vorher ist es, wenn es darin liegt.{rounding}";
        language.figure(&adjuster.least_travel_percent.to_string())
    )));
    if !figures.rows.is_empty() {
        blocks.push(Block::Table(figures));
    }
    blocks
}

fn response(language: Language, response: &Response) -> Block {
    let lead = Text::from(format!("{}: ", who(language, response.lamp, response.stage)));
    let lead = match response.movement {
        Some(movement) => {
            let lead = lead.sign(movement);
            match (language, movement) {
                // In German that is no way to end "the beam …".
                (Language::German, Movement::CannotTell) => lead
                    .plain(" ob sich der Lichtkegel bewegt, ist ")
                    .strong(movement.said(language)),
                _ => lead
                    .plain(language.pick(" the beam ", " der Lichtkegel "))
                    .strong(movement.said(language)),
            }
        }
        None => lead.plain(language.pick("too few photos gave a figure", "zu wenige Fotos gaben einen Messwert")),
    };
    let lead = lead.plain(up_to(language, response));
    let mut blocks = vec![Block::Paragraph("lead", lead.plain("."))];
    blocks.extend(
        response_words(language, response)
            .into_iter()
            .map(|words| Block::text(format!("{words}."))),
    );
    if let Some(polarity) = &response.polarity {
        let way = if polarity.vacuum_raises {
            language.pick(
                "Vacuum raises the beam, so that it comes down when vacuum is lost",
                "Unterdruck hebt den Lichtkegel, er kommt also herunter, wenn der Unterdruck ausfällt",
            )
        } else {
            language.pick(
                "Vacuum lowers the beam, so that it comes up when vacuum is lost",
                "Unterdruck senkt den Lichtkegel, er kommt also hoch, wenn der Unterdruck ausfällt",
            )
        };
        let held = match polarity.as_system_says {
            Some(true) => language.pick(", as the system file says", ", wie die Systemdatei sagt"),
            Some(false) => language.pick(
                ", against what the system file says",
                ", entgegen dem, was die Systemdatei sagt",
            ),
            None => "",
        };
        blocks.push(Block::text(format!("{way}{held}.")));
    }
    blocks.extend(response.warnings.iter().map(|warning| note(language, warning)));
    if let Some(curve) = &response.curve {
        blocks.push(Block::Facts("facts", curve_facts(language, curve, response.stick_slip)));
    }
    let mut table = Table::new(
        "cards brief",
        [
            ("key", language.pick("Branch", "Richtung")),
            ("figure", language.pick("Vacuum, mbar", "Unterdruck, mbar")),
            ("figure", language.pick("Inclination, %", "Neigung, %")),
            ("figure", language.pick("Curve, %", "Kennlinie, %")),
            ("figure", language.pick("Beside the curve, %", "Neben der Kennlinie, %")),
            (
                "figure",
                language.pick("In standard deviations", "In Standardabweichungen"),
            ),
        ],
    );
    for p in &response.points {
        table.row([
            p.branch.said(language).into(),
            Interval::even(p.vacuum_mbar, p.vacuum_u95_mbar)
                .text(language, 0)
                .into(),
            Interval::even(p.percent, p.reading_u95_percent)
                .text(language, 2)
                .into(),
            p.fitted_percent
                .map(|v| fixed(language, v, 2))
                .unwrap_or_default()
                .into(),
            p.residual_percent
                .map(|v| signed(language, v, 3))
                .unwrap_or_default()
                .into(),
            p.residual_sds
                .map(|v| signed(language, v, 1))
                .unwrap_or_default()
                .into(),
        ]);
    }
    blocks.push(Block::Details(
        language.pick("Each reading against vacuum", "Jeder Messwert über dem Unterdruck"),
        vec![Block::Table(table)],
    ));
    Block::Group("finding", blocks)
}

fn curve_facts(language: Language, curve: &Curve, stick_slip: StickSlip) -> Facts {
    let mbar = |of: &Interval| Text::from(format!("{} mbar", of.text(language, 0)));
    let highest = fixed(language, curve.highest_mbar, 0);
    let mut facts: Facts = vec![
        (
            language.pick("Gain", "Steilheit"),
            said!(
                language;
                "{} % per 100 mbar",
                "{} % je 100 mbar";
                curve.gain_percent_per_100_mbar.text(language, 3)
            )
            .into(),
        ),
        (
            language.pick("Without vacuum", "Ohne Unterdruck"),
            format!("{} %", curve.rest_percent.text(language, 2)).into(),
        ),
        (
            language.pick("Whole travel", "Ganzer Stellweg"),
            said!(
                language;
                "{} % at {highest} mbar, {} mm on the wall",
                "{} % bei {highest} mbar, {} mm an der Wand";
                curve.travel_percent.text(language, 2),
                curve.travel_wall_mm.text(language, 0)
            )
            .into(),
        ),
    ];
    facts.extend(
        curve
            .dead_band_mbar
            .iter()
            .map(|band| (language.pick("Dead band", "Totbereich"), mbar(band))),
    );
    facts.push((
        language.pick("End stop", "Anschlag"),
        match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
            (Some(stop), _) => mbar(stop),
            (None, Some(below)) => {
                said!(language; "none below {} mbar", "keiner unter {} mbar"; fixed(language, below, 0)).into()
            }
            (None, None) => language.pick("cannot tell", "nicht feststellbar").into(),
        },
    ));
    if let Some(h) = &curve.hysteresis {
        facts.push((language.pick("Hysteresis", "Hysterese"), mbar(&h.gap_mbar)));
        facts.push((
            language.pick("Largest gap", "Größter Abstand"),
            format!("{} %", h.gap_percent.text(language, 2)).into(),
        ));
        let area = h.loss_area_percent_mbar.text(language, 0);
        facts.push((
            language.pick("Lost to friction in one cycle", "Reibungsverlust in einem Umlauf"),
            said!(language; "{area} % times mbar", "{area} % mal mbar").into(),
        ));
    }
    let sticks = match stick_slip {
        StickSlip::Seen => language.pick("seen", "gesehen"),
        StickSlip::NotSeen => language.pick("not seen", "nicht gesehen"),
        StickSlip::CannotTell => language.pick("cannot tell", "nicht feststellbar"),
    };
    facts.push((language.pick("Sticks and slips", "Haftgleiten"), sticks.into()));
    let chi_square = fixed(language, curve.chi_square, 1);
    facts.push((
        language.pick("Chi-square of the fit", "Chi-Quadrat der Anpassung"),
        said!(language; "{chi_square} for {}", "{chi_square} bei {}"; curve.degrees_of_freedom).into(),
    ));
    if curve.widened_by > 1.0 {
        facts.push((
            language.pick("Scatter, times what is stated", "Streuung, Vielfaches der angegebenen"),
            fixed(language, curve.widened_by, 2).into(),
        ));
    }
    facts
}

fn leak(language: Language, findings: &Findings, leak: &LeakDown) -> Block {
    let series = (leak.series.as_deref())
        .map(|name| format!(", {}", series_called(language, findings, name)))
        .unwrap_or_default();
    let lead = Text::from(format!("{}{series}: ", who(language, leak.lamp, leak.stage)));
    let lead = lead.sign(leak.state).strong(leak.state.said(language)).plain(".");
    let mut blocks = vec![
        Block::Paragraph("lead", lead),
        Block::text(format!("{}.", sentence(&leak.finding.said(language)))),
    ];
    if leak.through_response {
        blocks.push(Block::note(language.pick(
            "What is lost in mbar is worked out from where the beam lies in the photos, by this lamp's response to the pump's steps.",
            "Was in mbar verloren geht, ist aus der Lage des Lichtkegels in den Fotos errechnet, nach der Kennlinie dieses Scheinwerfers aus den \
             Pumpenschritten.",
        )));
    }
    blocks.extend(leak.warnings.iter().map(|warning| note(language, warning)));
    let minutes = fixed(language, leak.duration_s / 60.0, 1);
    let mut facts: Facts = vec![(
        language.pick("Timed photos", "Fotos mit Uhrzeit"),
        said!(language; "{} in {minutes} minutes", "{} in {minutes} Minuten"; leak.points.len()).into(),
    )];
    let interval =
        |of: &Option<Interval>, places: usize, unit: &str| of.map(|i| format!("{} {unit}", i.text(language, places)));
    let figure =
        |of: Option<f64>, places: usize, unit: &str| of.map(|v| format!("{} {unit}", fixed(language, v, places)));
    for (name, value) in [
        (
            language.pick("Change of the inclination", "Änderung der Neigung"),
            interval(&leak.creep_percent, 2, "%"),
        ),
        (
            language.pick(
                "Gauge at the first photo, as typed",
                "Unterdruckmesser beim ersten Foto, wie eingetragen",
            ),
            figure(leak.gauge_at_first_mbar, 0, "mbar"),
        ),
        (
            language.pick(
                "Vacuum at the first photo, worked out from the beam",
                "Unterdruck beim ersten Foto, aus dem Lichtkegel errechnet",
            ),
            figure(leak.start_vacuum_mbar, 0, "mbar"),
        ),
        (
            language.pick("Loss at the first photo", "Verlust beim ersten Foto"),
            interval(&leak.start_rate_mbar_per_min, 1, "mbar/min"),
        ),
        (
            language.pick("The leak stops at", "Die Undichtigkeit endet bei"),
            interval(&leak.residual_vacuum_mbar, 0, "mbar"),
        ),
        (
            language.pick("Half of the loss takes", "Die Hälfte des Verlusts dauert"),
            interval(&leak.half_time_s, 0, "s"),
        ),
        (
            language.pick("Time constant", "Zeitkonstante"),
            interval(&leak.time_constant_s, 0, "s"),
        ),
        (
            language.pick("Time constant of the beam", "Zeitkonstante des Lichtkegels"),
            interval(&leak.creep_time_constant_s, 0, "s"),
        ),
        (
            language.pick("Surely lost less than", "Sicher weniger verloren als"),
            figure(leak.loss_below_mbar, 0, "mbar"),
        ),
        (
            language.pick("Surely changed less than", "Sicher weniger geändert als"),
            figure(leak.creep_below_percent, 2, "%"),
        ),
    ] {
        facts.extend(value.map(|value| (name, value.into())));
    }
    blocks.push(Block::Facts("facts", facts));
    let mut table = Table::new(
        "cards brief",
        [
            ("key", language.pick("Time", "Zeit")),
            ("figure", language.pick("Inclination, %", "Neigung, %")),
            (
                "figure",
                language.pick("Beside the fitted course, %", "Neben dem Verlauf, %"),
            ),
        ],
    );
    for p in &leak.points {
        table.row([
            format!("{} s", fixed(language, p.elapsed_s, 1)).into(),
            Interval::even(p.percent, p.reading_u95_percent)
                .text(language, 2)
                .into(),
            p.residual_percent
                .map(|v| signed(language, v, 3))
                .unwrap_or_default()
                .into(),
        ]);
    }
    blocks.push(Block::Details(
        language.pick("Each photo of the series", "Jedes Foto der Reihe"),
        vec![Block::Table(table)],
    ));
    Block::Group("finding", blocks)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Branch;

    #[test]
    fn a_step_of_the_pump_goes_up_or_down_in_words() {
        let said = |percent| {
            let step = VacuumStep {
                from_mbar: 0.0,
                to_mbar: 90.0,
                branch: Branch::Applying,
                percent,
                u95_percent: 0.02,
                movement: Movement::Still,
            };
            step_words(Language::English, &step)
        };
        assert_eq!(
            said(-0.03),
            "Vacuum 0 to 90 mbar (applying): up 0.03 % ± 0.02 %, does not move"
        );
        assert_eq!(
            said(0.001),
            "Vacuum 0 to 90 mbar (applying): 0.00 % ± 0.02 %, does not move"
        );
    }
}
