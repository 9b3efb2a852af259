//! The answer in three sentences: what was wrong, what was done, and what is still wrong or to be done next.

use super::super::document::{Block, Section, Sign, Text};
use super::super::text::{fixed, u95};
use super::super::words::{likely, listed, minutes, sentence, within};
use super::isolation::goes_on;
use super::{made_photos, readings};
use crate::adjuster::{Change, LampTravel, LeakState, Movement, Real};
use crate::aim::{Outcome, ShotReading, Verdict};
use crate::isolate::{Isolated, Repair, Standing};
use crate::language::Language;
use crate::record::{RepairEntry, Side, Stage, is_setting};
use crate::run::Findings;
use crate::warning::Warning;
use std::collections::HashSet;

/// For the terminal, whose end is what one sees.
pub(super) fn section(findings: &Findings) -> Section {
    let said = sentences(findings);
    let heading = said.as_ref().map_or("", |_| "The answer");
    let made = findings.job.made_photos.then(|| Block::text(made_photos("")));
    let said = said.into_iter().flatten();
    let said = said.map(|(about, text)| Block::Remark(about.to_owned(), text));
    Section::new(heading, made.into_iter().chain(said).collect())
}

/// For the page, which it opens.
pub(super) fn opening(findings: &Findings) -> Vec<Block> {
    let said = sentences(findings).into_iter().flatten();
    said.map(|(about, text)| Block::Paragraph("lead", Text::default().strong(format!("{about}: ")).then(text)))
        .collect()
}

/// What was wrong, what was done, what comes next; `None` for a job of which no photo gave a figure.
fn sentences(findings: &Findings) -> Option<[(&'static str, Text); 3]> {
    if !findings.readings.iter().any(|reading| reading.result.is_ok()) {
        return None;
    }
    let repaired = findings.is_repaired();
    let is_before = |stage: Option<Stage>| stage != Some(Stage::After);
    let first = of_stage(findings, is_before);
    // Once the job goes on after a repair, what is suspected is of the car as it is now.
    let isolation = findings.isolation.as_ref();
    let goes_on = goes_on(findings);
    let suspect = isolation
        .filter(|_| !goes_on)
        .and_then(|isolated| first_suspect(Language::English, isolated));
    let faults = first.all_faults().join("; ");
    let wrong = match (faults.is_empty(), &suspect) {
        (true, _) if first.empty => Text::from("not photographed: there are no photos from before the repair."),
        (true, _) => nothing(&first),
        (false, Some(suspect)) if !first.faults.is_empty() => Text::default()
            .sign(Sign::Bad)
            .strong(format!("{faults}. Probably at fault: {suspect}.")),
        (false, _) => Text::default().sign(Sign::Bad).strong(format!("{faults}.")),
    };
    let about = if repaired { "What was wrong" } else { "What is wrong" };
    let wrong = (about, wrong.then(open(&first)));
    let (done, next) = if repaired {
        let now = of_stage(findings, |stage| !is_before(stage));
        let next = isolation.filter(|_| goes_on).map(still_suspected);
        (done(findings), still(&now).then(next.unwrap_or_default()))
    } else {
        let done = match findings.job.repair.as_slice() {
            [] => Text::from("no repair that the job names or has photos of."),
            repairs => {
                let each: Vec<String> = repairs.iter().map(|repair| repair_words(findings, repair)).collect();
                Text::from(format!("{}. There are no photos from after it.", each.join("; ")))
            }
        };
        (done, next(findings.isolation.as_ref(), &first))
    };
    let again = retake(findings);
    let next = if again.is_empty() {
        next
    } else {
        next.plain(format!(" Take again: {}.", listed(Language::English, &again)))
    };
    let last = if repaired {
        "What is wrong now"
    } else {
        "What to do next"
    };
    Some([wrong, ("What was done", done), (last, next)])
}

/// What the photos of a stage came to.
#[derive(Default)]
struct Stood {
    /// No photo of it gave a figure.
    empty: bool,
    /// What is wrong with the adjuster.
    faults: Vec<String>,
    /// What is wrong with the aim alone.
    aim_faults: Vec<String>,
    /// What cannot be told.
    open: Vec<String>,
    follows: Vec<Side>,
    inside: Vec<Side>,
}

impl Stood {
    /// All that is wrong.
    fn all_faults(&self) -> Vec<&str> {
        self.faults.iter().chain(&self.aim_faults).map(String::as_str).collect()
    }

    /// What is as it should be.
    fn sound(&self) -> String {
        let lamps = |of: &[Side], one: &str, both: &str| match of {
            [] => None,
            [side] => Some(format!("the {side} beam {one}")),
            _ => Some(format!("both beams {both}")),
        };
        let parts = [
            lamps(&self.follows, "follows the range control", "follow the range control"),
            lamps(
                &self.inside,
                "is inside the limits as set",
                "are inside the limits as set",
            ),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        if parts.is_empty() {
            "too little was photographed to say more".to_owned()
        } else {
            listed(Language::English, &parts)
        }
    }
}

fn of_stage(findings: &Findings, stage: impl Fn(Option<Stage>) -> bool) -> Stood {
    let measured = |reading: &&ShotReading| stage(reading.shot.stage) && reading.result.is_ok();
    let mut stood = Stood {
        empty: !findings.readings.iter().any(|reading| measured(&reading)),
        ..Stood::default()
    };
    for travel in findings.adjuster.travel.iter().filter(|travel| stage(travel.stage)) {
        follows(travel, &mut stood);
    }
    for response in findings
        .adjuster
        .response
        .iter()
        .filter(|response| stage(response.stage))
    {
        let lamp = response.lamp;
        match response.movement {
            Some(Movement::Still) => stood
                .faults
                .push(format!("the {lamp} beam does not move with the pump's vacuum")),
            Some(Movement::CannotTell) | None => {
                stood
                    .open
                    .push(format!("whether the {lamp} beam moves with the pump's vacuum"));
            }
            Some(Movement::Moves) => {}
        }
    }
    let sides = findings.adjuster.sides.iter().filter(|side| stage(side.stage));
    let stands = |lamp: Side| {
        let travel = &findings.adjuster.travel;
        travel
            .iter()
            .any(|one| stage(one.stage) && one.lamp == lamp && one.movement == Some(Movement::Still))
    };
    // Of a beam that stands still that is said already.
    for short in sides
        .filter_map(|side| side.short.as_ref())
        .filter(|short| !stands(short.lamp))
    {
        stood.follows.retain(|side| *side != short.lamp);
        stood.faults.push(short.to_string());
    }
    verdicts(findings, &stage, &mut stood);
    stood.open.extend(contradicted(findings));
    for leak in findings.adjuster.leak_down.iter().filter(|leak| stage(leak.stage)) {
        let creep = leak.creep_percent.as_ref().map(|creep| {
            let size = fixed(Language::English, creep.value.abs(), 2);
            let u95 = creep
                .u95
                .map(|half| format!(" ± {}", u95(Language::English, half)))
                .unwrap_or_default();
            format!(
                ", by {size}{u95} % in {}",
                minutes(Language::English, leak.duration_s / 60.0)
            )
        });
        if leak.state == LeakState::Leaks {
            stood.faults.push(format!(
                "vacuum leaks at the {} lamp: with the pump's valve shut its beam creeps{}; the actuator, its hose or the pump's \
                 own joint lets air in",
                leak.lamp,
                creep.unwrap_or_default()
            ));
        }
    }
    stood
}

/// What the photos without the pump came to beside what is allowed: each lamp as set, and at its other positions.
fn verdicts(findings: &Findings, stage: &impl Fn(Option<Stage>) -> bool, stood: &mut Stood) {
    let mut open_at: Vec<(String, Vec<(Side, &Verdict)>)> = Vec::new();
    for side in [Side::Left, Side::Right] {
        let shown = |reading: &&ShotReading| reading.shot.lamp == side && stage(reading.shot.stage);
        let mut at: Vec<(&str, Vec<(f64, &Verdict)>)> = Vec::new();
        for reading in findings.readings.iter().filter(shown) {
            let Some(verdict) = readings::verdict_of(reading) else {
                continue;
            };
            let Ok(measured) = &reading.result else { continue };
            let name = match reading.shot.position.as_deref() {
                position if is_setting(position) => "as set",
                position => position.unwrap_or_default(),
            };
            let one = (measured.aim.inclination_percent, verdict);
            match at.iter_mut().find(|(known, _)| *known == name) {
                Some((_, all)) => all.push(one),
                None => at.push((name, vec![one])),
            }
        }
        for (name, all) in at {
            let place = if name == "as set" {
                name.to_owned()
            } else {
                format!("at {name}")
            };
            let has = |outcome| all.iter().find(|(_, verdict)| verdict.outcome == outcome);
            if has(Outcome::Outside).is_some() && has(Outcome::Inside).is_some() {
                stood.open.push(format!(
                    "whether the {side} beam {place} is inside: its photos disagree"
                ));
            } else if let Some((percent, verdict)) = has(Outcome::Outside) {
                stood.aim_faults.push(outside(side, &place, *percent, verdict));
            } else if let Some((_, verdict)) = has(Outcome::Undecided) {
                match open_at.iter_mut().find(|(known, _)| *known == place) {
                    Some((_, sides)) => sides.push((side, *verdict)),
                    None => open_at.push((place, vec![(side, *verdict)])),
                }
            } else if name == "as set" {
                stood.inside.push(side);
            }
        }
    }
    stood
        .open
        .extend(open_at.into_iter().map(|(place, sides)| match sides.as_slice() {
            [(side, verdict)] => format!(
                "whether the {side} beam {place} is inside the limits ({})",
                readings::likely_inside(verdict)
            ),
            _ => format!("whether both beams {place} are inside the limits"),
        }));
}

/// Where photos contradict the job, so that a stage may not be the one it is called.
fn contradicted(findings: &Findings) -> Option<String> {
    let exchanged = |warning: &Warning| matches!(warning, Warning::StagesAgainstClock { .. });
    let said = "which photos are from before the repair and which from after it: their times contradict the job";
    findings.warnings.iter().any(exchanged).then(|| said.to_owned())
}

/// "the left beam as set is too high, 0.80 % where 1.00 to 1.50 % is allowed".
fn outside(side: Side, place: &str, percent: f64, verdict: &Verdict) -> String {
    let band = verdict.band;
    let way = if percent < band.low_percent { "high" } else { "low" };
    format!(
        "the {side} beam {place} is too {way}, {} % where {} to {} % is allowed",
        fixed(Language::English, percent, 2),
        fixed(Language::English, band.low_percent, 2),
        fixed(Language::English, band.high_percent, 2)
    )
}

/// Whether a lamp follows the range control.
fn follows(travel: &LampTravel, stood: &mut Stood) {
    let side = travel.lamp;
    let figure = travel.total.as_ref().map(|total| {
        let figure = within(Language::English, total.percent, total.u95_percent);
        format!(" ({figure} % from {} to {})", total.from, total.to)
    });
    match travel.movement {
        Some(Movement::Still) => stood.faults.push(format!(
            "the {side} beam does not follow the range control{}",
            figure.unwrap_or_default()
        )),
        Some(Movement::Moves) if travel.faults.is_empty() => stood.follows.push(side),
        Some(Movement::CannotTell) => stood
            .open
            .push(format!("whether the {side} beam follows the range control")),
        Some(Movement::Moves) | None => {}
    }
    if travel.movement != Some(Movement::Still) {
        stood
            .faults
            .extend(travel.faults.iter().map(|fault| format!("{side} beam: {fault}")));
    }
}

fn open(stood: &Stood) -> Text {
    if stood.open.is_empty() {
        return Text::default();
    }
    Text::default()
        .plain(" ")
        .sign(Sign::Open)
        .strong(format!("Not known: {}.", listed(Language::English, &stood.open)))
}

/// "the actuator of the left lamp: replaced (2031-03-05)", by the system's name of the part.
pub(super) fn repair_words(findings: &Findings, repair: &RepairEntry) -> String {
    let component = repair.component.as_ref().map(|id| {
        let components = findings
            .isolation
            .iter()
            .flat_map(|isolated| &isolated.system.components);
        let known = components.into_iter().find(|component| component.id == *id);
        known.map_or_else(
            || format!("{id}: "),
            |component| format!("the {}: ", component.label.within(Language::English)),
        )
    });
    format!("{}{} ({})", component.unwrap_or_default(), repair.words, repair.date)
}

/// What was done, and what that changed by the photos of both stages.
fn done(findings: &Findings) -> Text {
    let repairs: Vec<String> = (findings.job.repair.iter())
        .map(|repair| repair_words(findings, repair))
        .collect();
    let repairs = if repairs.is_empty() {
        "a repair that the job does not name".to_owned()
    } else {
        repairs.join("; ")
    };
    // Where hardly a position is common, each stage speaks of its own range.
    let (apart, shared): (Vec<_>, Vec<_>) =
        (findings.adjuster.stages.iter()).partition(|stage| stage.total.is_none() && stage.moved().is_some());
    let figures = shared.into_iter().filter_map(|stage| {
        let (what, change) = match (&stage.total, stage.positions.as_slice()) {
            (Some(total), [first, .., last]) => (format!("travel from {} to {}", first.position, last.position), total),
            (_, [only, ..]) => (format!("inclination at {}", only.position), &only.inclination),
            _ => return None,
        };
        Some((stage.lamp, what, change))
    });
    let mut known = String::new();
    let mut changes: Vec<String> = (apart.into_iter().filter_map(|stage| stage.moved()))
        .map(ToString::to_string)
        .collect();
    for (lamp, what, change) in figures {
        // Of the other lamp the same need not be named again.
        let subject = if what == known {
            format!("the {lamp} beam's")
        } else {
            format!("the {lamp} beam's {what}")
        };
        changes.push(changed(&subject, change));
        known = what;
    }
    if changes.is_empty() {
        return Text::from(format!(
            "{repairs}. What it changed cannot be told, since no position was photographed before and after it."
        ));
    }
    Text::from(format!("{repairs}. Since then: {}.", changes.join("; ")))
}

/// "the left beam's travel from 0 to 3 went from 0.00 ± 0.02 to 1.26 ± 0.02 %".
fn changed(subject: &str, change: &Change) -> String {
    let before = within(Language::English, change.before_percent, change.before_u95_percent);
    let after = within(Language::English, change.after_percent, change.after_u95_percent);
    match change.real {
        Real::Real => format!("{subject} went from {before} to {after} %"),
        Real::NoChange => format!("{subject} is as before, {after} %"),
        Real::CannotTell => format!("whether {subject} changed ({before}, now {after} %) cannot be told"),
    }
}

/// What is wrong after the repair.
fn still(now: &Stood) -> Text {
    let said = if now.empty {
        Text::from("not known: no photo from after the repair gave a figure.")
    } else if now.all_faults().is_empty() {
        nothing(now)
    } else {
        Text::default()
            .sign(Sign::Bad)
            .strong(format!("{}.", now.all_faults().join("; ")))
    };
    said.then(open(now))
}

/// What is suspected after a repair, and what comes next.
fn still_suspected(isolated: &Isolated) -> Text {
    let suspect =
        first_suspect(Language::English, isolated).map(|suspect| format!(" Probably at fault now: {suspect}."));
    Text::from(format!(
        "{} {}.",
        suspect.unwrap_or_default(),
        next_step(Language::English, isolated)
    ))
}

/// Where nothing is wrong: what is as it should be, without a good mark while something is not known.
fn nothing(stood: &Stood) -> Text {
    let said = format!("nothing that the photos show; {}.", stood.sound());
    if stood.open.is_empty() {
        Text::default().sign(Sign::Good).strong(said)
    } else {
        Text::default().strong(said)
    }
}

/// What comes next on a car that was not repaired yet.
fn next(isolated: Option<&Isolated>, stood: &Stood) -> Text {
    let mut steps: Vec<String> = Vec::new();
    match isolated {
        Some(isolated) => steps.push(next_step(Language::English, isolated)),
        None if !stood.faults.is_empty() => steps.push(
            "find the part at fault: name the system in the job, write down each test as a [[trial]], and run `beamfall \
             isolate`"
                .to_owned(),
        ),
        None => {}
    }
    if !stood.aim_faults.is_empty() {
        steps.push(
            "hold the heights, distances and places \"as entered\" against the car once more; if they are right, have the lamp \
             set by its own adjusters, and photograph it again"
                .to_owned(),
        );
    }
    if !stood.open.is_empty() {
        steps.push("settle what is not known, as is said of the photos named".to_owned());
    }
    if steps.is_empty() {
        return Text::from("nothing, as far as the photos show.");
    }
    Text::from(format!("{}.", steps.join("; ")))
}

/// "the left actuator (97 %)".
pub(in crate::report) fn first_suspect(language: Language, isolated: &Isolated) -> Option<String> {
    let standings = isolated.standings();
    let ranked = isolated.answer.ranked_components();
    let suspected = ranked.into_iter().filter(|&c| standings[c] == Standing::Suspected);
    let named: Vec<String> = suspected
        .map(|c| {
            let component = &isolated.system.components[c];
            format!(
                "the {} ({})",
                component.label.within(language),
                likely(language, isolated.answer.by_component[c])
            )
        })
        .collect();
    (!named.is_empty()).then(|| listed(language, &named))
}

/// The next test, or what to replace.
pub(super) fn next_step(language: Language, isolated: &Isolated) -> String {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let decision = &answer.decision;
    let doubt = if answer.contradiction.is_some() {
        "some trials contradict each other; "
    } else {
        ""
    };
    let step = match &decision.next {
        Some(next) if !decision.stop => {
            let test = &system.tests[next.test].id;
            format!("do the test {test}, about {}", minutes(language, next.minutes))
        }
        _ => match decision.repairs(&answer.by_component, answer.nothing).first() {
            Some(Repair::Replace(c)) => {
                let part = system.components[*c].label.within(language);
                format!("mend or replace the {part}; another test would cost more time than it saves")
            }
            _ if isolated.failures().is_empty() => {
                "work the range control once more and look at both beams; nothing seems to be at fault".to_owned()
            }
            _ => {
                "look at both beams at each position before any part is replaced: a test failed, and no part stands out"
                    .to_owned()
            }
        },
    };
    sentence(&format!("{doubt}{step}"))
}

/// Photos that were refused and of whose state no other photo gave a figure.
fn retake(findings: &Findings) -> Vec<String> {
    let measured = findings.readings.iter().filter(|other| other.result.is_ok());
    let states: HashSet<_> = measured.filter_map(|other| other.shot.state()).collect();
    let read = |refused: &ShotReading| refused.shot.state().is_some_and(|state| states.contains(&state));
    let missing = findings
        .readings
        .iter()
        .filter(|reading| reading.result.is_err() && !read(reading));
    let name = |reading: &ShotReading| {
        let photo = &reading.shot.photo;
        photo
            .file_name()
            .unwrap_or(photo.as_os_str())
            .to_string_lossy()
            .into_owned()
    };
    let mut names: Vec<String> = missing.map(name).collect();
    /// More names than these say less than their number.
    const MOST: usize = 4;
    if names.len() > MOST {
        let more = names.len() - (MOST - 1);
        names.truncate(MOST - 1);
        names.push(format!("{more} more"));
    }
    names
}
