//! Which part is at fault: what is suspected and why, what is cleared, what to do next and for how long, and what a repair
//! must show afterwards.

use super::super::document::{Block, Item, List, Margin, Section, Sign, Text};
use super::super::isolation::drawing;
use super::super::text::{date, plain};
use super::super::words::{likely, listed, minutes, percent, sentence, travelled};
use super::answer;
use crate::aim::COVERAGE_FACTOR_95;
use crate::isolate::{
    Candidate, Evidence, Isolated, MOST_FAULTS, Observation, Origin, POSSIBLE, Repair, Standing, outcomes,
};
use crate::language::{Language, Said, said};
use crate::record::{FaultKind, Gauge, Moves, Stage, System, Test, TrialMoves, VacuumSource, Watch};
use crate::run::Findings;
use crate::shot_list::AT_THE_LAMP;

/// From this sum of the shares on it is said why they are more than all.
const MORE_THAN_ALL: f64 = 1.01;
/// A test that tells less than this, bits, makes nobody surer (common practice, no source).
const LEAST_BITS: f64 = 0.1;
/// Components named at the most, beside those that are suspected.
const MOST_POSSIBLE: usize = 5;
/// A component this probably faulty has to be replaced whatever else comes out.
const SURE: f64 = 0.95;
/// Less than this is not said to be saved, minutes.
const LEAST_SAVED_MINUTES: f64 = 0.5;

/// For the terminal: the first suspect and what to do next; `beamfall isolate` and the page say why.
pub(super) fn outline(language: Language, findings: &Findings) -> Section {
    let Some(isolated) = &findings.isolation else {
        return Section::default();
    };
    let none = || {
        if isolated.mended().next().is_some() && isolated.failures().is_empty() {
            language
                .pick("since the repair, no part", "seit der Reparatur kein Bauteil")
                .to_owned()
        } else {
            language
                .pick(
                    "no part more than another yet",
                    "noch kein Bauteil mehr als ein anderes",
                )
                .to_owned()
        }
    };
    let suspected = answer::first_suspect(language, isolated).unwrap_or_else(none);
    let is_cured = isolated.is_cured_by(isolated.answer.first_component());
    let text = if findings.is_repaired() && !goes_on(findings) && is_cured {
        said!(
            language;
            "At fault before the repair, by what that did: {suspected}. `beamfall isolate` says why.",
            "Vor der Reparatur fehlerhaft, nach dem, was sie bewirkt hat: {suspected}. Warum, sagt `beamfall isolate`."
        )
    } else if findings.is_repaired() && !goes_on(findings) {
        said!(
            language;
            "Suspected before the repair: {suspected}. `beamfall isolate` says why.",
            "Verdacht vor der Reparatur: {suspected}. Warum, sagt `beamfall isolate`."
        )
    } else {
        let next = answer::next_step(language, isolated, false, answer::At::File);
        let next = next.map(|next| format!(" {next}.")).unwrap_or_default();
        said!(
            language;
            "Suspected: {suspected}.{next} `beamfall isolate` says why.",
            "Verdacht: {suspected}.{next} Warum, sagt `beamfall isolate`."
        )
    };
    Section::new(heading(language), vec![Block::text(text)])
}

fn heading(language: Language) -> String {
    said!(language; "Which part is at fault", "Welches Bauteil den Fehler hat")
}

/// Whether what is suspected is of the car after a repair: the same job goes on.
pub(super) fn goes_on(findings: &Findings) -> bool {
    let mended = |isolated: &Isolated| isolated.trials.done.mended != 0;
    let followed = findings.job.trial.iter().any(|trial| trial.stage == Some(Stage::After));
    followed || findings.isolation.as_ref().is_some_and(mended)
}

/// For the page: the answer, and the system drawn beside it.
pub(super) fn chapter(language: Language, findings: &Findings) -> Section {
    let blocks = match &findings.isolation {
        None => vec![Block::note(what_to_add(language, findings))],
        Some(isolated) => {
            let mut sections = sections(language, isolated, None);
            let below = sections.split_off(3);
            let drawn = Block::Drawing(
                "system",
                drawing::draw(language, isolated),
                said!(
                    language;
                    "The system, vacuum running from top to bottom: each part with its sign, where it stands, and how probable \
                     a fault of it is.",
                    "Die Anlage, der Unterdruck von oben nach unten: jedes Bauteil mit seinem Zeichen, wo es steht, und wie \
                     wahrscheinlich ein Fehler daran ist."
                ),
            );
            let beside = Block::Group("", sections.into_iter().map(Block::Section).collect());
            let mut blocks = vec![Block::text(how_it_is_worked_out(language, findings, isolated))];
            blocks.push(Block::Group("beside", vec![beside, drawn]));
            blocks.extend(why_repaired(language, isolated, None).map(Block::Section));
            blocks.extend(below.into_iter().map(Block::Section));
            blocks
        }
    };
    Section {
        class: "isolate",
        ..Section::new(heading(language), blocks)
    }
}

/// What a job lacks that says nothing of its system.
fn what_to_add(language: Language, findings: &Findings) -> String {
    match &findings.job.system {
        None => said!(
            language;
            "Not asked: the job does not say which parts the car's range control has (its system), so that no test can point at one.",
            "Nicht gefragt: Der Auftrag sagt nicht, welche Bauteile die Leuchtweitenverstellung des Fahrzeugs hat, deshalb \
             kann keine Prüfung auf eines davon weisen."
        ),
        Some(_) => said!(
            language;
            "Nothing to go by yet: no test was entered that tells the system's parts apart, nor are there photos at two positions of the \
             range control from before the repair, or under a pump with what it was joined to.",
            "Noch kein Anhalt: Weder ist eine Prüfung eingetragen, die die Bauteile der Anlage unterscheidet, noch gibt es Fotos in \
             zwei Stellungen des Leuchtweitenreglers von vor der Reparatur oder unter der Pumpe mit der Angabe, woran sie angeschlossen war."
        ),
    }
}

fn how_it_is_worked_out(language: Language, findings: &Findings, isolated: &Isolated) -> String {
    let after = findings.is_repaired();
    let from = |origin: Origin| isolated.trials.evidence.iter().any(|one| one.origin == origin);
    let by_photos = match (from(Origin::Positions), from(Origin::Pump)) {
        (true, true) => said!(
            language;
            ", by its readings at positions, and by those under the pump",
            ", nach seinen Messwerten in den Stellungen und nach denen unter der Pumpe"
        ),
        (true, false) => {
            said!(language; " and by its readings at positions", " und nach seinen Messwerten in den Stellungen")
        }
        (false, true) => {
            said!(language; " and by its readings under the pump", " und nach seinen Messwerten unter der Pumpe")
        }
        (false, false) => String::new(),
    };
    let before = if goes_on(findings) {
        said!(
            language;
            " What was found before a repair is weighed as of the car before it, what was found after it as of the mended car.",
            " Was vor einer Reparatur gefunden wurde, zählt für das Fahrzeug davor, was danach gefunden wurde, für das reparierte."
        )
    } else if after && !isolated.trials.since_repair.is_empty() {
        said!(
            language;
            " What is said is of the car before the repair; what the photos show after it counts for what was wrong then.",
            " Gesagt wird, wie das Fahrzeug vor der Reparatur war; was die Fotos danach zeigen, zählt mit für das, was damals nicht in \
             Ordnung war."
        )
    } else if after {
        said!(
            language;
            " Only trials of the car before the repair are weighed; what the repair did, the figures above show.",
            " Gewogen werden nur Prüfungen am Fahrzeug vor der Reparatur; was diese bewirkt hat, zeigen die Zahlen oben."
        )
    } else {
        String::new()
    };
    said!(
        language;
        "System: {}. Every combination of up to {MOST_FAULTS} faulty parts is weighed by the trials of the job{by_photos}. A \
         probability rests also on how often each part fails, which the system file gives.{before}",
        "Anlage: {}. Jede Kombination von bis zu {MOST_FAULTS} fehlerhaften Bauteilen wird nach den Prüfungen des \
         Auftrags{by_photos} gewogen. Eine Wahrscheinlichkeit beruht auch darauf, wie oft jedes Bauteil ausfällt; das gibt die \
         Systemdatei an.{before}";
        isolated.system.name.within(language)
    )
}

const fn suspected_before(language: Language) -> &'static str {
    language.pick(
        "What was suspected before the repair",
        "Was vor der Reparatur verdächtig war",
    )
}

/// Why what was mended was mended, where the job goes on after it: what was suspected then, and by what.
pub(crate) fn why_repaired(language: Language, isolated: &Isolated, job: Option<&str>) -> Option<Section> {
    let before = isolated.before_repair()?;
    let mut section = suspected(language, &before, job);
    let tests = before.trials.evidence.iter().map(|one| {
        let test = &before.system.tests[one.test];
        described(language, test, one)
    });
    let tests: Vec<String> = tests.collect();
    section.blocks.push(Block::text(said!(
        language; "By what was found then: {}.", "Nach dem, was damals gefunden wurde: {}."; tests.join("; ")
    )));
    let later = isolated
        .in_hindsight()
        .and_then(|later| answer::first_suspect(language, &later));
    if let Some(later) = later.filter(|later| Some(later) != answer::first_suspect(language, &before).as_ref()) {
        section.blocks.push(Block::text(said!(
            language; "With what was found since the repair it is surer: {later}.", "Mit dem, was seit der Reparatur gefunden wurde, ist es sicherer: {later}."
        )));
    }
    section.heading = suspected_before(language).into();
    section.class = "topic before-repair";
    Some(section)
}

/// The answer, the first three sections what is known so far. `job` is what the file is called into which the reader writes the next
/// trial; `None` where it is asked for by other means.
pub(crate) fn sections(language: Language, isolated: &Isolated, job: Option<&str>) -> Vec<Section> {
    let mut sections = vec![
        found(language, isolated, job),
        suspected(language, isolated, job),
        cleared(language, isolated, job),
    ];
    sections.extend(contradiction(language, isolated, job));
    let decision = &isolated.answer.decision;
    if decision.stop {
        sections.extend(repair(language, isolated, job));
    }
    sections.push(match &decision.next {
        Some(next) if !decision.stop => next_test(language, isolated, next, job),
        Some(next) if is_worth_more(isolated) => {
            let text = said!(
                language;
                "Another test would cost more than it gains. To be surer all the same: {} ({}).",
                "Eine weitere Prüfung würde mehr kosten, als sie bringt. Um trotzdem sicherer zu sein: {} ({}).";
                test_called(language, &isolated.system.tests[next.test], job),
                minutes(language, next.minutes)
            );
            topic("topic next", "", vec![Block::text(text)])
        }
        _ => {
            let text = said!(
                language;
                "No further test of this system can tell much more.",
                "Keine weitere Prüfung dieser Anlage kann viel mehr sagen."
            );
            topic("topic next", "", vec![Block::text(text)])
        }
    });
    sections
}

fn topic(class: &'static str, heading: &str, blocks: Vec<Block>) -> Section {
    Section {
        margin: Margin::Inside,
        ..Section::part(class, heading, blocks)
    }
}

/// A list whose items have signs; nothing where it is empty.
fn signs(class: &'static str, items: Vec<Item>) -> Option<Block> {
    let list = List {
        class,
        items,
        ..List::default()
    };
    (!list.items.is_empty()).then_some(Block::List(list))
}

/// What a test is called: by its id for who writes a job file, else by what is done and watched, since nobody else meets the ids.
fn test_called(language: Language, test: &Test, job: Option<&str>) -> String {
    if job.is_some() {
        test.id.clone()
    } else {
        test_name(language, test)
    }
}

/// Whether a further test would make anybody surer.
pub(crate) fn is_worth_more(isolated: &Isolated) -> bool {
    let next = isolated.answer.decision.next.as_ref();
    next.is_some_and(|next| next.expected_bits >= LEAST_BITS)
}

/// The same within a sentence: its words are a name there, whatever case a sentence would want.
fn test_quoted(language: Language, test: &Test, job: Option<&str>) -> String {
    let called = test_called(language, test, job);
    if job.is_some() {
        called
    } else {
        said!(language; "“{called}”", "„{called}“")
    }
}

/// A test by what is done and what is watched: "the left beam, with the control bridged".
pub(crate) fn test_name(language: Language, test: &Test) -> String {
    let with = test.with.within(language);
    if with.is_empty() {
        test.id.clone()
    } else if test.watch == Watch::Part {
        with.to_owned()
    } else {
        format!("{}, {with}", subject(language, test))
    }
}

/// What a series of photos under the pump is called that may be named for a test: by what the pump was joined to, as nobody who reads a report
/// meets the ids.
pub(super) fn series_called(language: Language, findings: &Findings, name: &str) -> String {
    let system = findings.isolation.as_ref().map(|isolated| &isolated.system);
    let test = system.and_then(|system| system.test(name.trim()).map(|t| &system.tests[t]));
    let with = test
        .map(|test| test.with.within(language))
        .filter(|with| !with.is_empty());
    // What the list of photos writes is said in the reader's language; other names are the writer's own.
    let own = (name == AT_THE_LAMP).then(|| language.pick("at the lamp", "am Scheinwerfer"));
    with.or(own).unwrap_or(name).to_owned()
}

/// What a component is called, as [`test_called`] has it of a test.
fn part_called<'a>(language: Language, system: &'a System, c: usize, job: Option<&str>) -> &'a str {
    let part = &system.components[c];
    if job.is_some() {
        &part.id
    } else {
        part.label.within(language)
    }
}

/// "the left beam".
fn subject(language: Language, test: &Test) -> String {
    match (test.watch, test.lamp) {
        (Watch::Gauge, _) => said!(language; "the gauge", "der Unterdruckmesser"),
        (Watch::Part, _) => said!(language; "all", "alles"),
        (Watch::Beam, Some(side)) => {
            let stem = side.stem();
            said!(language; "the {side} beam", "der {stem}e Lichtkegel")
        }
        (Watch::Beam, None) => said!(language; "the beam", "der Lichtkegel"),
    }
}

/// "the left beam does not move".
pub(in crate::report) fn happening(language: Language, test: &Test, outcome: Moves) -> String {
    let subject = subject(language, test);
    match (test.watch, outcome) {
        (Watch::Beam, Moves::Yes) => said!(language; "{subject} moves", "{subject} bewegt sich"),
        (Watch::Beam, Moves::No) => said!(language; "{subject} does not move", "{subject} bewegt sich nicht"),
        (Watch::Beam, Moves::CreepsBack) => {
            said!(language; "{subject} moves and creeps back", "{subject} bewegt sich und kriecht zurück")
        }
        (Watch::Gauge, Moves::Yes) if test.follows => said!(
            language; "{subject} rises and follows the control", "{subject} steigt und folgt dem Regler"
        ),
        (Watch::Gauge, Moves::No) if test.follows => said!(
            language; "{subject} does not rise, or does not follow the control", "{subject} steigt nicht oder folgt dem Regler nicht"
        ),
        (Watch::Gauge, Moves::Yes) => said!(language; "{subject} rises and holds", "{subject} steigt und hält"),
        (Watch::Gauge, Moves::No) => said!(language; "{subject} does not rise", "{subject} steigt nicht"),
        (Watch::Gauge, Moves::CreepsBack) => {
            said!(language; "{subject} rises and falls back", "{subject} steigt und fällt zurück")
        }
        (Watch::Part, Moves::Yes) if is_moved_by_hand(test) => said!(
            language;
            "the rod is on, and the reflector moves freely", "die Stange ist eingehängt, und der Reflektor bewegt sich frei"
        ),
        (Watch::Part, _) if is_moved_by_hand(test) => said!(
            language;
            "the rod is off, or the reflector is stiff", "die Stange ist ab, oder der Reflektor geht schwer"
        ),
        (Watch::Part, Moves::Yes) => said!(language; "{subject} is as it should be", "{subject} ist, wie es sein soll"),
        (Watch::Part, _) => {
            said!(language; "{subject} is not as it should be", "nicht {subject} ist, wie es sein soll")
        }
    }
}

/// Whether a test moves the reflector by hand and looks at the rod that holds it.
fn is_moved_by_hand(test: &Test) -> bool {
    let seen = |kind: TrialMoves| test.seen_faults().any(|moves| moves == kind);
    seen(TrialMoves::RodOff) && seen(TrialMoves::Stiff)
}

/// What can be answered to a test, each in the test's own words. Where each fault that a test shows is an answer of its own, a bare "no" is
/// none: it would leave open what is mended.
pub(crate) fn answers(language: Language, test: &Test) -> Vec<(TrialMoves, String)> {
    let plain = outcomes(test.source).iter().map(|&moves| TrialMoves::from(moves));
    let told = test.seen_faults().count() == test.shows.len() && !test.shows.is_empty();
    let mut answers: Vec<TrialMoves> = plain.filter(|moves| !(told && *moves == TrialMoves::No)).collect();
    answers.extend(test.seen_faults());
    if test.watch == Watch::Beam {
        answers.extend([TrialMoves::Partly, TrialMoves::DoesNotReturn]);
    }
    answers.push(TrialMoves::NotDone);
    answers
        .into_iter()
        .map(|moves| (moves, answer_words(language, test, moves)))
        .collect()
}

/// An answer to a test in the test's own words.
pub(crate) fn answer_words(language: Language, test: &Test, moves: TrialMoves) -> String {
    match moves {
        TrialMoves::Yes => happening(language, test, Moves::Yes),
        TrialMoves::No => happening(language, test, Moves::No),
        TrialMoves::CreepsBack => happening(language, test, Moves::CreepsBack),
        TrialMoves::Partly => falls_short(language, test),
        TrialMoves::DoesNotReturn => does_not_return(language, test),
        TrialMoves::RodOff => said!(
            language; "the rod is off the reflector", "die Stange hängt nicht am Reflektor"
        ),
        TrialMoves::Stiff => said!(
            language; "the reflector is stiff, or stuck in its pivots",
            "der Reflektor geht schwer oder klemmt in seinen Lagern"
        ),
        TrialMoves::NotDone => said!(language; "it was not done", "nicht gemacht"),
    }
}

fn falls_short(language: Language, test: &Test) -> String {
    let subject = subject(language, test);
    said!(
        language;
        "{subject} moves, but short of what it should", "{subject} bewegt sich, aber weniger, als er soll"
    )
}

fn does_not_return(language: Language, test: &Test) -> String {
    let subject = subject(language, test);
    said!(
        language; "{subject} moves and does not come back", "{subject} bewegt sich und kommt nicht zurück"
    )
}

/// What was seen, in the words of the test.
fn seen(language: Language, test: &Test, one: &Evidence) -> String {
    let subject = subject(language, test);
    match (test.watch, one.seen) {
        (Watch::Beam, Observation::Written(TrialMoves::Partly) | Observation::Short { .. }) => {
            falls_short(language, test)
        }
        (Watch::Beam, Observation::Written(TrialMoves::DoesNotReturn)) => does_not_return(language, test),
        (Watch::Beam, Observation::Sealed { holds: true }) => {
            said!(language; "{subject} moves and stays", "{subject} bewegt sich und bleibt stehen")
        }
        (Watch::Part, Observation::Written(moves)) => answer_words(language, test, moves),
        _ => happening(language, test, one.outcome()),
    }
}

fn within_test(language: Language, test: &Test, what: &str) -> String {
    let with = test.with.within(language);
    if with.is_empty() {
        said!(language; "in the test {}, {what}", "in der Prüfung {}: {what}"; test.id)
    } else {
        said!(language; "{with}, {what}", "{with}: {what}")
    }
}

/// "with the control bridged, the left beam does not move".
fn phrase(language: Language, test: &Test, outcome: Moves) -> String {
    within_test(language, test, &happening(language, test, outcome))
}

/// The same of what was seen.
pub(super) fn phrase_of(language: Language, test: &Test, one: &Evidence) -> String {
    within_test(language, test, &seen(language, test, one))
}

/// What came out, in a word or a figure.
fn came_out(language: Language, one: &Evidence) -> String {
    match one.seen {
        Observation::Written(moves) => moves.said(language).to_owned(),
        Observation::Sealed { holds: true } => said!(language; "holds", "hält"),
        Observation::Sealed { holds: false } => said!(language; "leaks", "ist undicht"),
        Observation::Travel { percent, sd_percent } | Observation::Short { percent, sd_percent } => {
            travelled(language, percent, COVERAGE_FACTOR_95 * sd_percent)
        }
    }
}

/// What can be answered of a pump's gauge, in words. One that stays low however one pumps tells of a large leak, as one that does not rise at
/// all: what lets in as much as the pump takes out. One that rises all the way and falls tells of a small one.
pub(crate) const fn gauge_words(language: Language, gauge: Gauge) -> &'static str {
    match gauge {
        Gauge::RisesAndHolds => language.pick("rises and holds", "steigt und hält"),
        Gauge::WillNotRise => language.pick(
            "will not rise, or stops short of 400 mbar however one pumps",
            "steigt nicht oder bleibt unter 400 mbar stehen, wie viel man auch pumpt",
        ),
        Gauge::Falls => language.pick("rises all the way, and falls back", "steigt ganz und fällt zurück"),
    }
}

/// What the gauge did beside the beam; nothing where it was not read.
pub(crate) fn beside_beam(language: Language, gauge: Option<Gauge>) -> String {
    match gauge {
        Some(Gauge::RisesAndHolds) => said!(language; ", and the gauge holds", ", und der Unterdruckmesser hält"),
        Some(Gauge::WillNotRise) => said!(
            language; ", and the gauge will not rise, or stops short", ", und der Unterdruckmesser steigt nicht oder bleibt zu niedrig stehen"
        ),
        Some(Gauge::Falls) => said!(language; ", and the gauge falls", ", und der Unterdruckmesser fällt"),
        None => String::new(),
    }
}

/// A piece of evidence in words, with where it comes from.
fn described(language: Language, test: &Test, one: &Evidence) -> String {
    let what = phrase_of(language, test, one);
    let moved = !one.allows(Moves::No) && one.allows(Moves::Yes) && one.allows(Moves::CreepsBack);
    let mut text = match one.seen {
        Observation::Travel { .. } if one.is_firm() => said!(language; "measured: {what}", "gemessen, {what}"),
        Observation::Travel { .. } if moved => said!(
            language;
            "measured: {}; whether it stays the photos do not show",
            "gemessen, {}; ob er dort bleibt, zeigen die Fotos nicht";
            phrase(language, test, Moves::Yes)
        ),
        Observation::Travel { .. } => said!(
            language;
            "measured, and not clear: it counts by how well it fits each outcome",
            "gemessen und nicht eindeutig: es zählt, wie gut es zu jedem Ergebnis passt"
        ),
        Observation::Short { .. } => said!(language; "measured: {what}", "gemessen, {what}"),
        Observation::Sealed { .. } => {
            said!(language; "measured with the valve shut: {what}", "bei geschlossenem Ventil gemessen, {what}")
        }
        Observation::Written(_) => what,
    };
    text.push_str(&beside_beam(language, one.gauge));
    text.push_str(&match one.origin {
        Origin::Trial(_) => String::new(),
        Origin::Positions => said!(language; " (readings at positions)", " (Messwerte in den Stellungen)"),
        Origin::Pump => said!(language; " (readings under the pump)", " (Messwerte unter der Pumpe)"),
    });
    text
}

fn found(language: Language, isolated: &Isolated, job: Option<&str>) -> Section {
    let (system, trials) = (&isolated.system, &isolated.trials);
    let (key, entries) = (key_of_after(job), entries(language, job));
    let mut blocks = Vec::new();
    if !trials.repaired_since.is_empty() {
        let parts = trials.repaired_since.iter().map(|&c| named(language, system, c));
        blocks.push(Block::text(said!(
            language;
            "By the job, mended since: {}. All that stands here is of the car before that; enter what you find now as {entries} \
             after the repair{key}.",
            "Laut Auftrag inzwischen repariert: {}. Alles hier gilt für das Fahrzeug davor; was jetzt gefunden wird, als {entries} \
             nach der Reparatur{key} eintragen.";
            listed(language, &parts.collect::<Vec<_>>())
        )));
    }
    if trials.evidence.is_empty() {
        blocks.push(Block::text(said!(
            language;
            "Nothing yet: the ranking below is only how often each part fails.",
            "Noch nichts: die Reihenfolge unten sagt nur, wie oft jedes Bauteil ausfällt."
        )));
    }
    let items = trials.evidence.iter().map(|one| {
        let test = &system.tests[one.test];
        let answer = came_out(language, one);
        let came_out = (Text::default().strong(answer), "; ");
        let lead = match job {
            Some(_) => vec![(Text::default().code(test.id.as_str()), ": "), came_out],
            // "no; the gauge does not rise" is one no too many for who reads no file.
            None if matches!(one.seen, Observation::Written(_)) => Vec::new(),
            None => vec![came_out],
        };
        let described = described(language, test, one);
        let after = after_repair(language, isolated, one);
        let item: Item = format!("{described}{}", after.unwrap_or_default()).into();
        Item { lead, ..item }
    });
    blocks.extend(signs("trials", items.collect()));
    let unread = trials.unread.iter().map(|one| {
        let test = system.test(&one.test).map(|test| &system.tests[test]);
        said!(
            language;
            "{}: {} gives no figure, so that this trial does not count; {}",
            "{}: {} gibt keinen Messwert, deshalb zählt dieser Versuch nicht; {}";
            test.map_or_else(|| one.test.clone(), |test| test_called(language, test, job)),
            one.photo.display(),
            one.message.within(language)
        )
    });
    let warnings = system.warnings.iter().chain(&trials.warnings);
    // Who meets no ids elsewhere is not told them in a warning.
    let named = |words: String| match job {
        Some(_) => words,
        None => {
            let words = (system.components.iter()).fold(words, |words, part| {
                words.replace(&format!("\"{}\"", part.id), part.label.within(language))
            });
            (system.tests.iter()).fold(words, |words, test| words.replace(&test.id, &test_name(language, test)))
        }
    };
    let warnings = warnings.map(|warning| named(warning.said(language)));
    let all = unread
        .chain(warnings)
        .map(|warning| Item::signed(Sign::Beware, warning));
    blocks.extend(signs("signs warnings", all.collect()));
    let heading = said!(language; "What was found so far", "Was bisher gefunden wurde");
    topic("topic found", &heading, blocks)
}

/// "; after the repair: the actuator of the left lamp", of what was found after one; of several, after which of them.
fn after_repair(language: Language, isolated: &Isolated, one: &Evidence) -> Option<String> {
    let (system, repairs) = (&isolated.system, &isolated.trials.repairs);
    if one.mended == 0 {
        return None;
    }
    let last = one.repairs.checked_sub(1).and_then(|n| repairs.get(n));
    if let (Some(last), true) = (last, repairs.len() > 1) {
        let part = last.component.as_deref().and_then(|id| system.component(id));
        let part = part.map_or_else(|| last.words.clone(), |c| named(language, system, c));
        return Some(said!(
            language; "; after repair {} of {}: {part}, {}", "; nach Reparatur {} von {}: {part}, {}";
            one.repairs, repairs.len(), date(language, &last.date)
        ));
    }
    let parts = (0..system.components.len()).filter(|c| one.mended >> c & 1 == 1);
    let parts: Vec<String> = parts.map(|c| named(language, system, c)).collect();
    Some(said!(
        language; "; after the repair: {}", "; nach der Reparatur: {}"; listed(language, &parts)
    ))
}

/// How a job file says that something is of after the repair, for who writes into it.
fn key_of_after(job: Option<&str>) -> &'static str {
    job.map_or("", |_| " (stage = \"after\")")
}

/// What is entered of a test: the file's own word beside its keys, else the reader's.
fn entries(language: Language, job: Option<&str>) -> &'static str {
    match job {
        Some(_) => language.pick("trials", "Versuche"),
        None => language.pick("tests", "Prüfungen"),
    }
}

/// "the line to the left lamp"; German leaves the article out, since a system file does not say which it is.
fn named(language: Language, system: &System, c: usize) -> String {
    let label = system.components[c].label.within(language);
    said!(language; "the {label}", "{label}")
}

/// Components that stand somewhere, the most probable first.
fn standing(isolated: &Isolated, where_: Standing) -> Vec<usize> {
    let standings = isolated.standings();
    let ranked = isolated.answer.ranked_components();
    ranked.into_iter().filter(|&c| standings[c] == where_).collect()
}

fn suspected(language: Language, isolated: &Isolated, job: Option<&str>) -> Section {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let mut blocks = Vec::new();
    let suspected = standing(isolated, Standing::Suspected);
    if suspected.is_empty() {
        let none = said!(language; "No part stands out yet.", "Noch sticht kein Bauteil heraus.");
        blocks.push(Block::text(none));
    }
    let probable = |probability: f64| vec![(Text::default().strong(percent(probability)), " ")];
    let ranked = |c: usize, standing: Standing| {
        let (stands, kinds) = (standing.said(language), kinds(language, isolated, c));
        // Nobody who has just fitted a part thinks of it first.
        let renewed = if isolated.trials.done.mended >> c & 1 == 1 {
            said!(
                language;
                "; mended already, so look first whether it sits right and its hoses are on",
                "; schon instand gesetzt, also zuerst prüfen, ob es richtig sitzt und die Schläuche stecken"
            )
        } else {
            String::new()
        };
        let text = match job {
            Some(_) => format!("{}, {stands}: {kinds}{renewed}", system.components[c].id),
            None => format!("{stands}: {kinds}{renewed}"),
        };
        Item {
            lead: probable(answer.by_component[c]),
            ..Item::signed(standing, text)
        }
    };
    let mut items: Vec<Item> = suspected
        .into_iter()
        .map(|c| {
            let item = ranked(c, Standing::Suspected);
            Item {
                text: Text::default().strong(item.text.to_string()),
                more: said!(language; "Why: {}{}", "Warum: {}{}"; why(language, isolated, c), cured(language, isolated, c)).into(),
                ..item
            }
        })
        .collect();
    let possible = standing(isolated, Standing::Possible).into_iter().take(MOST_POSSIBLE);
    items.extend(possible.map(|c| ranked(c, Standing::Possible)));
    if answer.nothing >= POSSIBLE {
        items.push(Item {
            lead: probable(answer.nothing),
            ..Item::signed(Standing::Open, nothing(language, isolated))
        });
    }
    if !items.is_empty() {
        blocks.push(Block::List(List {
            class: "signs ranked",
            ordered: true,
            // ">99 %" and all that is shorter.
            lead_columns: 5,
            items,
        }));
    }
    let sum: f64 = answer.by_component.iter().sum::<f64>() + answer.nothing;
    if sum > MORE_THAN_ALL {
        blocks.push(Block::note(language.pick(
            "Two parts can be at fault at once: added up, these shares need not come to 100 %.",
            "Zwei Bauteile können zugleich fehlerhaft sein: Zusammengezählt müssen diese Anteile nicht 100 % ergeben.",
        )));
    }
    let together = |one: &&crate::isolate::Explanation| one.faults.len() > 1 && one.probability >= 0.1;
    if let Some(best) = answer.explanations.iter().find(together) {
        let faults = best
            .faults
            .iter()
            .map(|&(c, fault)| format!("{} {}", part_called(language, system, c, job), fault.said(language)));
        let faults: Vec<String> = faults.collect();
        blocks.push(Block::text(said!(
            language;
            "Together: {} ({}).",
            "Zusammen: {} ({}).";
            faults.join(&said!(language; " and ", " und ")),
            percent(best.probability)
        )));
    }
    // A part that was mended since is suspected no more.
    let is_past = standing(isolated, Standing::Suspected)
        .into_iter()
        .any(|c| isolated.is_mended_since(c));
    let heading = if is_past {
        suspected_before(language)
    } else {
        language.pick("What is suspected", "Was verdächtig ist")
    };
    topic("topic suspected", heading, blocks)
}

/// What it is called that no part is faulty; not that nothing is, while something stands that failed.
fn nothing(language: Language, isolated: &Isolated) -> String {
    if isolated.failures().is_empty() {
        said!(language; "nothing is at fault", "kein Fehler")
    } else {
        said!(
            language;
            "no part: what failed was done or seen wrongly",
            "kein Bauteil: was misslang, wurde falsch gemacht oder gesehen"
        )
    }
}

/// A component's label with its kinds of fault.
fn kinds(language: Language, isolated: &Isolated, c: usize) -> String {
    let kinds: Vec<String> = isolated
        .answer
        .suspects
        .iter()
        .filter(|s| s.component == c && s.probability >= 0.005)
        .map(|s| format!("{} {}", s.fault.said(language), percent(s.probability)))
        .collect();
    let label = isolated.system.components[c].label.within(language);
    format!("{label} [{}]", kinds.join(", "))
}

fn cleared(language: Language, isolated: &Isolated, job: Option<&str>) -> Section {
    let system = &isolated.system;
    let items = standing(isolated, Standing::Cleared).into_iter().map(|c| {
        let passes = isolated.trials.evidence.iter().filter(|one| isolated.clears(one, c));
        // A test that was done before and after a repair is one test.
        let mut by: Vec<String> = Vec::new();
        for called in passes.map(|one| test_called(language, &system.tests[one.test], job)) {
            if !by.contains(&called) {
                by.push(called);
            }
        }
        let probability = percent(isolated.answer.by_component[c]);
        let id = part_called(language, system, c, job);
        let by = by.join(if job.is_some() { ", " } else { "; " });
        let text = said!(
            language;
            "{id}, by {by} (left that it is at fault: {probability})",
            "{id}; bestandene Prüfung: {by} (Rest an Verdacht: {probability})"
        );
        Item::signed(Standing::Cleared, text)
    });
    let list =
        signs("signs", items.collect()).unwrap_or_else(|| Block::text(said!(language; "Nothing yet.", "Noch nichts.")));
    let heading = said!(language; "What is cleared", "Was entlastet ist");
    topic("topic cleared", &heading, vec![list])
}

/// Why a component is suspected: the narrowest test that fails and needs it, beside one that passes without it.
fn why(language: Language, isolated: &Isolated, c: usize) -> String {
    let (system, evidence) = (&isolated.system, &isolated.trials.evidence);
    let label = system.components[c].label.within(language);
    let test = |one: &Evidence| -> &Test { &system.tests[one.test] };
    // What was found of a part that was replaced since says nothing of the new one.
    let is_same = |one: &Evidence| one.mended_since(isolated.trials.done.mended) >> c & 1 == 0;
    let needs = |one: &Evidence| test(one).needs.contains(&c) && is_same(one);
    // A gauge that does not hold speaks, whatever the beam does.
    let leaks = |one: &Evidence| matches!(one.gauge, Some(Gauge::Falls | Gauge::WillNotRise));
    let speaks = |one: &&Evidence| (one.is_failure() || leaks(one)) && needs(one);
    let failures: Vec<&Evidence> = evidence.iter().filter(speaks).collect();
    // Of equals the first.
    let Some(narrowest) = failures.iter().copied().min_by_key(|one| test(one).needs.len()) else {
        return said!(
            language;
            "no test so far speaks against the {label}; it is only one that fails often.",
            "keine Prüfung spricht bisher dagegen ({label}); es fällt nur oft aus."
        );
    };
    let failed = |one: &Evidence| {
        let gauge = if leaks(one) {
            beside_beam(language, one.gauge)
        } else {
            String::new()
        };
        phrase_of(language, test(one), one) + &gauge
    };
    let fails = failed(narrowest);
    if test(narrowest).needs.len() == 1 {
        return said!(
            language;
            "{fails}; that test needs nothing but the {label}.",
            "{fails}; diese Prüfung braucht nichts weiter als: {label}."
        );
    }
    // The pass that leaves least of a failure to be at fault.
    let mut best: Option<(&Evidence, &Evidence, usize)> = None;
    for &failure in &failures {
        let needed = &test(failure).needs;
        let spares = |one: &&Evidence| one.is_yes() && !test(one).needs.contains(&c);
        for pass in evidence.iter().filter(spares) {
            let left = needed.iter().filter(|n| !test(pass).needs.contains(n)).count();
            if left < needed.len() && best.is_none_or(|b| left < b.2) {
                best = Some((pass, failure, left));
            }
        }
    }
    match best {
        Some((pass, failure, _)) => said!(
            language;
            "{}; {}. The first goes without the {label}, the second needs it.",
            "{}; {}. Das Erste geht ohne dieses Bauteil ({label}), das Zweite braucht es.";
            phrase(language, test(pass), Moves::Yes),
            failed(failure)
        ),
        None => said!(language; "{fails}, and that needs the {label}.", "{fails}, und dafür ist nötig: {label}."),
    }
}

/// What came of mending a component, where what had failed passes since.
fn cured(language: Language, isolated: &Isolated, c: usize) -> String {
    if isolated.is_cured_by(c) {
        said!(language; " Since that was mended, the test passes.", " Seit das instand gesetzt ist, gelingt die Prüfung.")
    } else {
        String::new()
    }
}

fn contradiction(language: Language, isolated: &Isolated, job: Option<&str>) -> Option<Section> {
    let (system, evidence) = (&isolated.system, &isolated.trials.evidence);
    let contradiction = isolated.answer.contradiction.as_ref()?;
    let items = contradiction
        .trials
        .iter()
        .zip(&contradiction.erroneous)
        .map(|(&t, erroneous)| {
            let test = &system.tests[evidence[t].test];
            // Without an id the words say which test it was.
            let what = phrase_of(language, test, &evidence[t]);
            let what = match job {
                Some(_) => said!(language; "{}: {what}", "{}, {what}"; test.id),
                None => what,
            };
            Item::signed(
                Sign::Beware,
                said!(
                    language;
                    "{what} ({} likely to be the wrong one)",
                    "{what} (zu {} die falsche)";
                    likely(language, *erroneous)
                ),
            )
        });
    let repeat = evidence[contradiction.repeat].test;
    let id = &test_quoted(language, &system.tests[repeat], job);
    let twice = isolated.is_seen_twice(repeat);
    let repeated = evidence.iter().filter(|one| one.test == repeat).count() > 1;
    let decision = &isolated.answer.decision;
    let asked = !decision.stop && decision.next.is_some_and(|next| next.test == repeat);
    let advice = if twice {
        said!(
            language;
            "{id} was written down and photographed, and the two differ: take the trial out of the job, or the photos, once you \
             know which went wrong.",
            "Die Prüfung {id} wurde aufgeschrieben und fotografiert, und beides weicht voneinander ab: die Antwort oder die Fotos aus dem \
             Auftrag nehmen, sobald klar ist, was falsch war."
        )
    } else if !repeated && !asked {
        // Said once what comes next, and that is said below.
        said!(
            language;
            "Most in doubt is {id}; what follows counts each by how probably it is right.",
            "Am zweifelhaftesten ist die Prüfung {id}; im Folgenden zählt jede so viel, wie sie wahrscheinlich stimmt."
        )
    } else if repeated {
        said!(
            language;
            "{id} has been done again, and came out otherwise: the last answer counts for more. Take out of the job the one that went \
             wrong, once you know which.",
            "Die Prüfung {id} wurde wiederholt und ergab etwas anderes: Die letzte Antwort zählt mehr. Die falsche aus dem Auftrag nehmen, \
             sobald klar ist, welche es war."
        )
    } else {
        let entry = job.map_or_else(
            || said!(language; "another answer", "weitere Antwort"),
            |_| said!(language; "another [[trial]]", "weiteres [[trial]]"),
        );
        said!(
            language;
            "Do {id} once more, watch each step, and add what comes out as {entry}; where you know what went \
             wrong, take the wrong trial out.",
            "Die Prüfung {id} noch einmal machen, dabei auf jeden Schritt achten, und das Ergebnis als {entry} eintragen; wo klar \
             ist, was falsch war, die falsche Antwort herausnehmen."
        )
    };
    let mut blocks: Vec<Block> = signs("signs warnings", items.collect()).into_iter().collect();
    blocks.push(Block::text(said!(
        language;
        "No faults of up to {MOST_FAULTS} parts at once explain them together. {advice}",
        "Keine Fehler von bis zu {MOST_FAULTS} Bauteilen zugleich erklären sie gemeinsam. {advice}"
    )));
    let heading = said!(language; "These trials cannot all be right", "Diese Prüfungen können nicht alle stimmen");
    Some(topic("topic contradiction", &heading, blocks))
}

/// Where something else was mended since: that what follows was found before it, and what tells whether it helped.
fn since(language: Language, isolated: &Isolated, key: &str) -> Option<Block> {
    let mended = &isolated.trials.repaired_since;
    let parts: Vec<String> = mended.iter().map(|&c| named(language, &isolated.system, c)).collect();
    (!parts.is_empty()).then(|| {
        Block::text(said!(
            language;
            "By the job, mended since: {}. What stands here was found before that: look at both beams first, do again the test that had \
             failed, and enter what comes out as after the repair{key}.",
            "Laut Auftrag inzwischen repariert: {}. Was hier steht, wurde davor gefunden: zuerst beide Lichtkegel ansehen, die \
             fehlgeschlagene Prüfung noch einmal machen und das Ergebnis als nach der Reparatur{key} eintragen.";
            listed(language, &parts)
        ))
    })
}

/// What to replace, and what that must show.
fn repair(language: Language, isolated: &Isolated, job: Option<&str>) -> Vec<Section> {
    let key = key_of_after(job);
    let (system, answer) = (&isolated.system, &isolated.answer);
    let repairs = answer.decision.repairs(&answer.by_component, answer.nothing);
    let Some(Repair::Replace(first)) = repairs.first() else {
        return nothing_stands_out(language, isolated, job);
    };
    let order = repairs.iter().filter_map(|repair| match repair {
        Repair::Replace(c) => Some(*c),
        Repair::LookAgain => None,
    });
    // All that are more probably faulty than not are replaced; the first in any case.
    let (now, later): (Vec<usize>, Vec<usize>) = order.partition(|c| c == first || answer.by_component[*c] >= 0.5);
    let label = |c: usize| named(language, system, c);
    let names: Vec<String> = now.iter().map(|&c| label(c)).collect();
    let names = names.join(&said!(language; " and ", " und "));
    if now.iter().all(|&c| isolated.is_mended_since(c)) {
        let heading =
            said!(language; "Mended since, by the job: {names}", "Laut Auftrag inzwischen repariert: {names}");
        let text = if isolated.trials.is_photographed {
            said!(
                language;
                "What was found before the repair is explained by that. The photos of both beams from after it are in the job: what they \
                 show stands among the readings. A fault that shows since is entered as of after the repair{key}, and the job goes on.",
                "Was vor der Reparatur gefunden wurde, ist damit erklärt. Die Fotos beider Lichtkegel von danach sind im Auftrag: Was sie \
                 zeigen, steht bei den Messwerten. Ein Fehler, der sich seither zeigt, wird als nach der Reparatur{key} eingetragen, und \
                 der Auftrag geht weiter."
            )
        } else {
            said!(
            language;
            "What was found before the repair is explained by that. Look whether both beams follow the range control now, over the \
             whole travel. One that does not, or a leak that shows since, is entered as of after the repair{key}, and the job goes on.",
            "Was vor der Reparatur gefunden wurde, ist damit erklärt. Prüfen, ob jetzt beide Lichtkegel dem Leuchtweitenregler über \
             den ganzen Stellweg folgen. Einer, der es nicht tut, oder eine Undichtigkeit, die sich seither zeigt, wird als \
             nach der Reparatur{key} eingetragen, und der Auftrag geht weiter."
            )
        };
        return vec![
            topic("topic repair", &heading, vec![Block::text(text)]),
            must_show(language, isolated, &now, job),
        ];
    }
    // What is mended without a new part: then no part is spoken of.
    let mends: Vec<Vec<FaultKind>> = now.iter().map(|&c| isolated.mended_without_part(c)).collect();
    if let ([c], [kinds]) = (now.as_slice(), mends.as_slice())
        && !kinds.is_empty()
    {
        let ways = mending(language, kinds);
        let mut blocks: Vec<Block> = since(language, isolated, key).into_iter().collect();
        blocks.push(Block::text(said!(
            language;
            "About {}, without a new part: {ways}. Then work the range control and look at the beam; only if it still stands, the part \
             itself comes into question.",
            "Etwa {}, ohne Neuteil: {ways}. Dann den Regler durchstellen und den Lichtkegel ansehen; erst wenn er immer noch steht, \
             kommt das Bauteil selbst in Frage.";
            minutes(language, isolated.mend_minutes(*c, kinds))
        )));
        let heading = said!(
            language;
            "Stop testing: {ways} ({names}; no new part)",
            "Genug geprüft: {ways} ({names}; kein Neuteil)"
        );
        return vec![
            topic("topic repair", &heading, blocks),
            must_show(language, isolated, &now, job),
        ];
    }
    let work: f64 = isolated.replace_minutes(&now);
    let mut blocks: Vec<Block> = since(language, isolated, key).into_iter().collect();
    blocks.push(Block::text(said!(
        language;
        "About {}. Before you do, look for what can be mended without a new part: a hose that is off, split or kinked, a plug \
         that is loose{}.",
        "Etwa {}. Vorher nachsehen, was sich ohne Neuteil beheben lässt: ein Schlauch, der ab, gerissen oder geknickt ist, ein \
         Stopfen, der lose sitzt{}.";
        minutes(language, work),
        without_a_part(language, isolated, &now)
    )));
    let mut hazards: Vec<&str> = Vec::new();
    for hazard in now.iter().flat_map(|&c| &system.components[c].hazards) {
        let hazard = hazard.within(language);
        if !hazards.contains(&hazard) {
            hazards.push(hazard);
        }
    }
    let hazards = hazards.into_iter().map(|hazard| Item::signed(Sign::Beware, hazard));
    blocks.extend(signs("signs hazards", hazards.collect()));
    // More than one kind of fault of a component is left.
    let kinds_alike = |&c: &usize| {
        let left = answer
            .suspects
            .iter()
            .filter(|s| s.component == c && s.probability >= 0.1);
        left.count() > 1
    };
    if now.iter().any(kinds_alike) {
        let text = said!(
            language;
            "Which fault it is, these tests do not tell for certain; the part is the same.",
            "Welcher Fehler es ist, sagen diese Prüfungen nicht sicher; das Bauteil ist dasselbe."
        );
        blocks.push(Block::text(text));
    }
    let standings = isolated.standings();
    let later = later
        .into_iter()
        .filter(|&c| answer.by_component[c] >= POSSIBLE && !isolated.is_mended_since(c))
        .filter(|&c| standings[c] != Standing::Cleared)
        .take(3);
    let later: Vec<String> = later
        .map(|c| format!("{} ({})", label(c), percent(answer.by_component[c])))
        .collect();
    if !later.is_empty() {
        blocks.push(Block::text(said!(
            language;
            "If a beam still does not follow then, next in line: {}.",
            "Folgt ein Lichtkegel dann immer noch nicht, ist als Nächstes dran: {}.";
            later.join(&said!(language; ", then ", ", dann "))
        )));
    }
    let heading = said!(
        language;
        "Stop testing: mend or replace {names}",
        "Genug geprüft; instand setzen oder ersetzen: {names}"
    );
    vec![
        topic("topic repair", &heading, blocks),
        must_show(language, isolated, &now, job),
    ]
}

/// Where no part stands out; after a repair that is what it was to come to.
fn nothing_stands_out(language: Language, isolated: &Isolated, job: Option<&str>) -> Vec<Section> {
    let mended: Vec<usize> = isolated.mended().collect();
    if mended.is_empty() || !isolated.failures().is_empty() {
        return vec![look_again(language, isolated)];
    }
    let parts: Vec<String> = mended.iter().map(|&c| named(language, &isolated.system, c)).collect();
    let heading = said!(
        language; "Nothing seems to be at fault since the repair", "Seit der Reparatur scheint kein Bauteil mehr einen Fehler zu haben"
    );
    let looks = isolated
        .system
        .tests
        .iter()
        .enumerate()
        .filter(|(_, test)| test.by_positions);
    let open = looks
        .filter(|(t, _)| !isolated.found_since(*t).is_some_and(Evidence::is_yes))
        .count();
    let parts = listed(language, &parts);
    let text = if open == 0 {
        said!(
            language;
            "Mended: {parts}. What was looked at since passes, and both beams follow the range control.",
            "Repariert: {parts}. Was seitdem angesehen wurde, gelingt, und beide Lichtkegel folgen dem Leuchtweitenregler."
        )
    } else {
        said!(
            language;
            "Mended: {parts}. What was looked at since passes. Work the range control once more and look at both beams: what follows over \
             the whole travel is sound.",
            "Repariert: {parts}. Was seitdem angesehen wurde, gelingt. Den Leuchtweitenregler noch einmal durchstellen und beide Lichtkegel \
             ansehen: Was über den ganzen Stellweg folgt, ist in Ordnung."
        )
    };
    vec![
        topic("topic repair", &heading, vec![Block::text(text)]),
        must_show(language, isolated, &mended, job),
    ]
}

/// Where no part stands out: nothing at fault, or, while something stands that failed, what is left and what would settle it.
fn look_again(language: Language, isolated: &Isolated) -> Section {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let failures = isolated.failures();
    if failures.is_empty() {
        let heading = said!(
            language;
            "Stop testing: nothing seems to be at fault",
            "Genug geprüft: es scheint kein Bauteil einen Fehler zu haben"
        );
        let text = said!(
            language;
            "Work the range control once more and look at both beams. If they follow, there is nothing to replace.",
            "Den Leuchtweitenregler noch einmal durchstellen und beide Lichtkegel ansehen. Folgen sie, gibt es nichts zu ersetzen."
        );
        return topic("topic repair", &heading, vec![Block::text(text)]);
    }
    let failed: Vec<String> = failures
        .iter()
        .map(|one| phrase_of(language, &system.tests[one.test], one))
        .collect();
    let left: Vec<String> = (answer.ranked_components().into_iter())
        .filter(|&c| answer.by_component[c] >= POSSIBLE)
        .take(MOST_POSSIBLE)
        .map(|c| {
            let name = named(language, system, c);
            format!("{name} ({})", percent(answer.by_component[c]))
        })
        .collect();
    let left = if left.is_empty() {
        said!(
            language;
            "no part that a test of this system shows",
            "kein Bauteil, das eine Prüfung dieser Anlage zeigt"
        )
    } else {
        listed(language, &left)
    };
    let failed = failed.join("; ");
    let blocks = vec![
        Block::text(said!(
            language; "It failed: {failed}. What is left: {left}.", "Es misslang: {failed}. Was bleibt: {left}."
        )),
        Block::text(if isolated.trials.is_photographed {
            said!(
                language;
                "The photos of both beams at each position are in the job. Where by them both follow over the whole travel, what failed \
                 was done or seen wrongly, and there is nothing to replace.",
                "Die Fotos beider Lichtkegel in jeder Stellung sind im Auftrag. Folgen danach beide über den ganzen Stellweg, wurde falsch \
                 gemacht oder gesehen, was misslang, und es gibt nichts zu ersetzen."
            )
        } else {
            said!(
            language;
            "What would settle it: photograph both beams at each position of the range control, engine running. If they follow \
             over the whole travel, what failed was done or seen wrongly, and there is nothing to replace; if not, enter the \
             photos in the job and run this again.",
            "Was es entscheiden würde: beide Lichtkegel bei laufendem Motor in jeder Stellung des Leuchtweitenreglers fotografieren. \
             Folgen sie über den ganzen Stellweg, wurde falsch gemacht oder gesehen, was misslang, und es gibt nichts zu ersetzen; \
             wenn nicht, die Fotos in den Auftrag eintragen und dies noch einmal laufen lassen."
            )
        }),
    ];
    let heading = said!(
        language;
        "Look at both beams before any part is replaced",
        "Beide Lichtkegel ansehen, bevor ein Bauteil ersetzt wird"
    );
    topic("topic repair", &heading, blocks)
}

/// How a kind of fault is mended without a new part; in German behind "genügen".
fn mend_of(language: Language, kind: FaultKind) -> Option<String> {
    match kind {
        FaultKind::Off => Some(said!(language; "push its hose home", "den Schlauch fest aufzustecken")),
        FaultKind::RodOff => Some(said!(language; "hang its rod on again", "die Stange wieder einzuhängen")),
        FaultKind::Stiff => Some(said!(
            language; "free the pivots of what it moves", "gängig zu machen, was bewegt wird"
        )),
        _ => None,
    }
}

/// How kinds of fault are mended without a new part, as what is to be done.
pub(in crate::report) fn mending(language: Language, kinds: &[FaultKind]) -> String {
    let ways = kinds.iter().filter_map(|kind| match kind {
        FaultKind::Off => Some(said!(language; "push the hose home", "den Schlauch fest aufstecken")),
        FaultKind::RodOff => Some(said!(
            language; "hang the actuator's rod on the reflector again", "die Stange der Unterdruckdose wieder am Reflektor einhängen"
        )),
        FaultKind::Stiff => Some(said!(
            language; "free the reflector's pivots", "die Lager des Reflektors gängig machen"
        )),
        _ => None,
    });
    let ways: Vec<String> = ways.collect();
    ways.join(&said!(language; ", or ", " oder "))
}

/// What of the suspected faults is mended without a new part, to be looked for first.
fn without_a_part(language: Language, isolated: &Isolated, now: &[usize]) -> String {
    let likely = |c: usize, fault: FaultKind| {
        let suspects = &isolated.answer.suspects;
        suspects
            .iter()
            .any(|s| s.component == c && s.fault == fault && s.probability >= 0.05)
    };
    let ways = now.iter().flat_map(|&c| {
        let faults = isolated.system.components[c].faults.iter();
        let free = faults.filter(move |fault| fault.mend_minutes.is_some() && likely(c, fault.id));
        free.filter_map(|fault| mend_of(language, fault.id))
    });
    let ways: Vec<String> = ways.collect();
    if ways.is_empty() {
        return String::new();
    }
    let ways = ways.join(&said!(language; ", or to ", " oder "));
    said!(language; "; here it may be enough to {ways}", "; hier kann es genügen, {ways}")
}

/// The tests that must come out yes after a repair: those that failed and need a replaced part, and working the control.
fn must_show(language: Language, isolated: &Isolated, replaced: &[usize], job: Option<&str>) -> Section {
    let key = key_of_after(job);
    let System { tests, .. } = &isolated.system;
    let must = isolated.must_show(replaced).into_iter();
    let items = must.map(|t| {
        let test = &tests[t];
        let passed = phrase(language, test, Moves::Yes);
        let passed = match job {
            Some(_) => said!(language; "{}: {passed}", "{}, {passed}"; test.id),
            None => passed,
        };
        // What is known since the repair is ticked; what failed then is told among the tests, and is still to be shown here.
        match isolated.found_since(t).filter(|one| !one.is_failure()) {
            Some(one) if !one.is_yes() => Item::signed(
                Sign::Open,
                said!(
                    language;
                    "{passed} (the photos after the repair show that it moves; whether it holds for a minute is still to be seen)",
                    "{passed} (die Fotos nach der Reparatur zeigen die Bewegung; ob es eine Minute hält, ist noch nicht gesehen)"
                ),
            ),
            Some(one) if matches!(one.origin, Origin::Trial(_)) => Item::signed(
                Sign::Good,
                said!(language; "{passed} (found after the repair)", "{passed} (nach der Reparatur gefunden)"),
            ),
            Some(_) => Item::signed(
                Sign::Good,
                said!(language; "{passed} (the photos after the repair show it)", "{passed} (das zeigen die Fotos nach der Reparatur)"),
            ),
            None => Item::signed(Sign::Faint, passed),
        }
    });
    let mut blocks: Vec<Block> = signs("signs must", items.collect()).into_iter().collect();
    let entry = job.map_or("", |_| " ([[repair]] with its component)");
    let entry = match language {
        Language::English => entry.to_owned(),
        Language::German => entry.replace("with its component", "mit component"),
    };
    let entries = entries(language, job);
    let is_entered = replaced.iter().all(|&c| isolated.is_mended(c));
    let enter = if is_entered {
        said!(
            language;
            "Enter what you find in the job as {entries} after the repair{key}",
            "Was dabei herauskommt, als {entries} nach der Reparatur{key} in den Auftrag eintragen"
        )
    } else {
        said!(
            language;
            "Enter the repair in the job{entry}, and what you find then as {entries} after it{key}",
            "Die Reparatur{entry} in den Auftrag eintragen und was dann herauskommt als {entries} danach{key}"
        )
    };
    if is_entered && isolated.trials.is_photographed {
        blocks.push(Block::text(said!(
            language;
            "{enter}; what was found before stays in the job, and the photos from after the repair are in it, for the report.",
            "{enter}; was vorher gefunden wurde, bleibt im Auftrag, und die Fotos von nach der Reparatur sind darin, für den Bericht."
        )));
    } else {
        blocks.push(Block::text(said!(
        language;
        "{enter}; what was found before stays in the job. Photograph both beams at each position of the control again, \
         as of after the repair{key}, for the report.",
        "{enter}; was vorher gefunden wurde, bleibt im Auftrag. Für den Bericht beide Lichtkegel in jeder Stellung des Reglers noch \
         einmal fotografieren, als nach der Reparatur{key}."
    )));
    }
    let heading = said!(language; "What the repair must show", "Was die Reparatur zeigen muss");
    topic("topic must-show", &heading, blocks)
}

fn next_test(language: Language, isolated: &Isolated, next: &Candidate, job: Option<&str>) -> Section {
    let test = &isolated.system.tests[next.test];
    let whys = why_this_test(language, isolated, next, job);
    let mut blocks: Vec<Block> = whys.into_iter().map(Block::text).collect();
    blocks.extend(how_it_is_done(language, isolated, next.test, job.is_none()));
    blocks.extend(job.into_iter().flat_map(|job| {
        [
            Block::text(said!(
                language;
                "Then write into {job}, and run this again:",
                "Dann in {job} eintragen und dies noch einmal laufen lassen:"
            )),
            Block::Entry(entry_of(language, isolated, test)),
        ]
    }));
    blocks.extend(predictions(language, isolated, test, job).map(Block::text));
    let setup: f64 = isolated.still_to_set_up(next.test).map(|setup| setup.minutes).sum();
    let with_setup = if job.is_none() && setup > 0.0 {
        said!(
            language; " ({} of it to get at it)", " (davon {}, um heranzukommen)"; minutes(language, setup)
        )
    } else {
        String::new()
    };
    let heading = said!(
        language;
        "Next test: {}, about {}{with_setup}",
        "Nächste Prüfung: {}, etwa {}{with_setup}";
        test_called(language, test, job),
        minutes(language, next.minutes)
    );
    topic("topic next", &heading, blocks)
}

/// "8 minutes, with what is to be opened for it", for a test that need not come next.
pub(crate) fn whole_minutes(language: Language, isolated: &Isolated, test: usize) -> String {
    let setup: f64 = isolated.still_to_set_up(test).map(|setup| setup.minutes).sum();
    let all = minutes(language, isolated.system.tests[test].minutes + setup);
    if setup > 0.0 {
        said!(
            language; "about {all}, {} of it to get at it", "etwa {all}, davon {}, um heranzukommen"; minutes(language, setup)
        )
    } else {
        said!(language; "about {all}", "etwa {all}")
    }
}

/// A test, whether it comes next or not.
pub(crate) fn test(language: Language, isolated: &Isolated, test: usize) -> Section {
    topic("topic next", "", how_it_is_done(language, isolated, test, true))
}

/// How the steps begin of a test whose car need not stand before the bay's wall, and what is said in its place where it does.
const fn stand(language: Language) -> &'static str {
    language.pick(
        "Stand the car 5 to 10 m from a wall:",
        "Das Fahrzeug 5 bis 10 m vor eine Wand stellen:",
    )
}

const fn stands(language: Language) -> &'static str {
    language.pick(
        "The car stays on its marks:",
        "Das Fahrzeug bleibt auf seinen Markierungen:",
    )
}

/// What is done in a test, with what it takes, what can hurt, and what counts. `is_page`: it is answered by buttons, for a job that is open.
fn how_it_is_done(language: Language, isolated: &Isolated, t: usize, is_page: bool) -> Vec<Block> {
    let test = &isolated.system.tests[t];
    let mut blocks = vec![Block::text(test.ask.within(language))];
    let setup: Vec<&str> = isolated
        .still_to_set_up(t)
        .map(|setup| setup.label.within(language))
        .collect();
    if !setup.is_empty() {
        blocks.push(Block::text(said!(
            language;
            "To be set up for it, and left so for what follows: {}.",
            "Dafür herzurichten und für das Folgende so zu lassen: {}.";
            setup.join("; ")
        )));
    }
    if !test.kit.is_empty() {
        let kit: Vec<&str> = test.kit.iter().map(|one| one.within(language)).collect();
        blocks.push(Block::text(
            said!(language; "You need: {}.", "Nötig sind: {}."; kit.join("; ")),
        ));
    }
    let cools = |step: &Said| step.within(Language::English).contains("quarter of an hour");
    if is_page && test.steps.iter().any(cools) {
        blocks.push(Block::note(language.pick(
            "Lamps that were lit want up to a quarter of an hour more, to cool: that is not in the minutes.",
            "Scheinwerfer, die an waren, brauchen bis zu einer Viertelstunde mehr zum Abkühlen: die steckt nicht in den Minuten.",
        )));
    }
    let under = |label: String, block: Block| Block::Labelled(Text::default().strong(label), vec![block]);
    let hazards = test
        .hazards
        .iter()
        .map(|hazard| Item::signed(Sign::Beware, hazard.within(language)));
    let care = |list| under(said!(language; "Take care:", "Zu beachten:"), list);
    blocks.extend(signs("signs hazards", hazards.collect()).map(care));
    let stays = is_page && isolated.trials.stands_on_marks;
    let said_of = |step: &str| {
        if stays {
            step.replacen(stand(language), stands(language), 1)
        } else {
            step.to_owned()
        }
    };
    if !test.steps.is_empty() {
        let steps = Block::List(List {
            class: "steps",
            ordered: true,
            items: test
                .steps
                .iter()
                .map(|step| said_of(step.within(language)).into())
                .collect(),
            ..List::default()
        });
        blocks.push(under(said!(language; "Step by step:", "Schritt für Schritt:"), steps));
    }
    let look = test.look.within(language);
    if !look.is_empty() {
        let heading = said!(language; "What counts:", "Was zählt:");
        let words = |moves| {
            if is_page {
                sentence(&answer_words(language, test, moves))
            } else {
                file_word(language, moves)
            }
        };
        match by_answers(language, test, words) {
            Some((list, rest)) => {
                blocks.push(under(heading, list));
                blocks.extend((!rest.is_empty()).then(|| Block::text(rest)));
            }
            None => blocks.push(under(heading, Block::text(look))),
        }
    }
    blocks
}

/// A look's sentences by the answer that each explains, and what is said of all.
pub(crate) fn meanings(language: Language, test: &Test) -> (Vec<(TrialMoves, &str)>, String) {
    let answer_of = |sentence: &str| {
        let plain = outcomes(test.source).iter().map(|&moves| TrialMoves::from(moves));
        let mut outcomes = plain.chain(test.seen_faults());
        outcomes.find(|outcome| sentence.starts_with(&format!("{}: ", outcome.said(language))))
    };
    let (mut each, mut rest): (Vec<(TrialMoves, &str)>, Vec<&str>) = (Vec::new(), Vec::new());
    for sentence in test.look.within(language).split_inclusive(". ").map(str::trim_end) {
        match answer_of(sentence).zip(sentence.split_once(": ")) {
            Some((outcome, (_, means))) if rest.is_empty() => each.push((outcome, means)),
            _ => rest.push(sentence),
        }
    }
    (each, rest.join(" "))
}

/// What a job file says for an answer, in quotes as there, and what that means where the reader's language is another.
fn file_word(language: Language, moves: TrialMoves) -> String {
    let word = moves.said(Language::German);
    said!(language; "\"{moves}\"", "\"{moves}\" ({word})")
}

/// What counts as each of the answers, under `words` of it, and what is said of all; `None` where a file says it in another way.
fn by_answers(language: Language, test: &Test, words: impl Fn(TrialMoves) -> String) -> Option<(Block, String)> {
    let item = |moves, means: &str| Item::from(Text::default().strong(format!("{}: ", words(moves))).plain(means));
    let (each, rest) = meanings(language, test);
    let mut items: Vec<Item> = each.iter().map(|(moves, means)| item(*moves, means)).collect();
    if items.is_empty() {
        return None;
    }
    // Every answer has its meaning here.
    let told = |moves: TrialMoves| moves != TrialMoves::NotDone && each.iter().any(|(known, _)| *known == moves);
    let more = |moves: TrialMoves| {
        let means = match moves {
            _ if told(moves) => return None,
            TrialMoves::CreepsBack => said!(
                language; "it moves, and then loses a third of the way or more.",
                "er bewegt sich und verliert dann ein Drittel des Wegs oder mehr."
            ),
            TrialMoves::Partly => said!(
                language; "it moves and stays, but by less than the other beam does, or than the maker gives.",
                "er bewegt sich und bleibt, aber weniger als der andere Lichtkegel oder als der Hersteller angibt."
            ),
            TrialMoves::DoesNotReturn => said!(
                language; "it moves, and stays where it was driven once the vacuum is gone.",
                "er bewegt sich und bleibt, wohin er gestellt wurde, auch wenn der Unterdruck weg ist."
            ),
            TrialMoves::NotDone => said!(
                language; "it counts for nothing, and is not asked for again.",
                "es zählt nicht, und es wird nicht mehr danach gefragt."
            ),
            _ => return None,
        };
        Some(item(moves, &means))
    };
    let moves = answers(language, test).into_iter().map(|(moves, _)| moves);
    items.extend(moves.filter_map(more));
    let list = signs("counts", items)?;
    Some((list, rest))
}

/// The lines that a job file gets for a trial, with what else can have come out.
fn entry_of(language: Language, isolated: &Isolated, test: &Test) -> Vec<String> {
    let possible = answers(language, test).into_iter().map(|(moves, _)| moves);
    let always = [
        TrialMoves::Yes,
        TrialMoves::Partly,
        TrialMoves::DoesNotReturn,
        TrialMoves::NotDone,
    ];
    let choices: Vec<String> = possible
        .filter(|moves| !always.contains(moves))
        .map(|moves| file_word(language, moves))
        .collect();
    let choices = choices.join(", ");
    let mut entry = vec![
        "[[trial]]".to_owned(),
        format!("test = \"{}\"", plain(&test.id)),
        said!(language; "moves = \"yes\"          # or {choices}", "moves = \"yes\"          # (ja) oder {choices}"),
    ];
    let or = said!(language; "or", "oder");
    if test.watch == Watch::Beam {
        entry.push(format!(
            "                       # {or} \"partly\", \"does-not-return\", \"not-done\""
        ));
    } else {
        entry.push(format!("                       # {or} \"not-done\""));
    }
    if test.source == VacuumSource::Pump && test.watch == Watch::Beam {
        entry.push(format!(
            "gauge = \"rises-and-holds\" # {or} \"will-not-rise\", \"falls\""
        ));
        // A line of its own each, so that both fit a terminal.
        entry.push("# \"will-not-rise\":".to_owned());
        entry.push(format!("#   {}", gauge_words(language, Gauge::WillNotRise)));
    }
    if isolated.trials.done.mended != 0 {
        entry.push("stage = \"after\"".to_owned());
    }
    entry
}

fn test_of<'a>(isolated: &'a Isolated, candidate: &Candidate) -> &'a Test {
    &isolated.system.tests[candidate.test]
}

/// Why this test comes next, where that is not plain.
fn why_this_test(language: Language, isolated: &Isolated, next: &Candidate, job: Option<&str>) -> Vec<String> {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let mut whys = Vec::new();
    if !isolated.is_repeat(next.test) && isolated.trials.evidence.iter().any(|one| one.test == next.test) {
        whys.push(said!(
            language;
            "It was done before, and the car was mended since: what it found then no longer tells of the car as it is, so it is to be done anew.",
            "Sie wurde schon gemacht, und das Fahrzeug wurde seither instand gesetzt: Was sie damals ergab, gilt für das Fahrzeug, wie es ist, \
             nicht mehr; sie ist also neu zu machen."
        ));
    }
    if isolated.is_repeat(next.test) {
        whys.push(said!(
            language;
            "It was done before; do it once more, with care.",
            "Sie wurde schon gemacht; noch einmal machen, mit Sorgfalt."
        ));
        if test_of(isolated, next).source == VacuumSource::Pump {
            whys.push(said!(
                language;
                "Look at the pump's own joint first: a hose that sits loosely on the port leaks as the part would.",
                "Zuerst den Anschluss der Pumpe ansehen: Ein Schlauch, der locker auf dem Stutzen sitzt, ist so undicht, wie es das Bauteil wäre."
            ));
        }
    }
    if let (true, &[c]) = (
        is_moved_by_hand(test_of(isolated, next)),
        &test_of(isolated, next).needs[..],
    ) {
        whys.push(said!(
            language;
            "It comes before a new part is bought ({}): it is quick, and a rod that is off or a stiff reflector, if it is that after all, is \
             mended without one.",
            "Sie kommt, bevor ein Neuteil gekauft wird ({}): Sie geht schnell, und eine Stange, die ab ist, oder ein Reflektor, der schwer \
             geht, ist, wenn es doch das ist, ohne Neuteil behoben.";
            system.components[c].label.within(language)
        ));
    }
    if let Some(c) = answer.decision.before_part {
        whys.push(said!(
            language;
            "It comes before a part is bought: that {} is at fault has a probability of {} only, and this test tells it from what else it \
             may be.",
            "Sie kommt, bevor ein Teil gekauft wird: {} ist erst mit einer Wahrscheinlichkeit von {} der Fehler, und diese Prüfung \
             unterscheidet das von dem, was es sonst sein kann.";
            named(language, system, c),
            percent(answer.by_component[c])
        ));
        return whys;
    }
    // A repeat that a contradiction asks for comes first for its own reason, and without expected minutes.
    let Some(with) = next.expected_minutes else { return whys };
    // One that was answered already is no other way.
    if let Some(other) = answer
        .decision
        .instead_of
        .filter(|other| !isolated.is_repeat(other.test))
    {
        let saved = other.expected_minutes.map_or(0.0, |m| m - with);
        // What is less than half a minute is no reason to anybody.
        if saved < LEAST_SAVED_MINUTES {
            whys.push(said!(
                language;
                "{} would tell more a minute by itself; on the whole way it comes to the same, as things stand.",
                "Die Prüfung {} würde für sich allein je Minute mehr sagen; auf dem ganzen Weg kommt es nach jetzigem Stand auf dasselbe heraus.";
                test_quoted(language, &system.tests[other.test], job)
            ));
        } else {
            whys.push(said!(
            language;
            "{} would tell more a minute by itself; this one first saves {} on the whole way, as things stand.",
            "Die Prüfung {} würde für sich allein je Minute mehr sagen; diese zuerst spart nach jetzigem Stand auf dem ganzen Weg {}.";
            test_quoted(language, &system.tests[other.test], job),
            minutes(language, saved)
        ));
        }
    }
    let sure: Vec<&str> = (0..system.components.len())
        .filter(|&c| answer.by_component[c] >= SURE)
        .map(|c| system.components[c].label.within(language))
        .collect();
    if !sure.is_empty() {
        whys.push(said!(
            language;
            "The {} must be replaced in any case; you may do that first and look at the beams again. This test is for what \
             else may be at fault.",
            "Auf jeden Fall zu ersetzen: {}; das kann auch zuerst geschehen, dann die Lichtkegel wieder ansehen. Diese Prüfung gilt \
             dem, woran es sonst noch liegen kann.";
            sure.join(&said!(language; " and the ", " und "))
        ));
    }
    whys
}

/// What a yes and what a no would speak for.
fn predictions(language: Language, isolated: &Isolated, test: &Test, job: Option<&str>) -> Option<String> {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let number = system.test(&test.id)?;
    let open = || {
        let ranked = answer.ranked_components().into_iter();
        ranked.filter(|&c| answer.by_component[c] >= 0.05)
    };
    let named = |which: &dyn Fn(usize) -> bool| {
        let ids: Vec<&str> = open()
            .filter(|&c| which(c))
            .map(|c| part_called(language, system, c, job))
            .take(4)
            .collect();
        ids.join(", ")
    };
    // The share of what a part is suspected of that a test of it leaves unseen.
    let unseen = |c: usize| {
        let of_part = || answer.suspects.iter().filter(|suspect| suspect.component == c);
        let spared = of_part().filter(|suspect| {
            let mut faults = system.components[c].faults.iter();
            faults.any(|fault| fault.id == suspect.fault && fault.spares.contains(&number))
        });
        let sum = |of: f64| if of > 0.0 { of } else { 1.0 };
        spared.map(|suspect| suspect.probability).sum::<f64>() / sum(of_part().map(|suspect| suspect.probability).sum())
    };
    let needs = |c: usize| test.needs.contains(&c);
    let with = named(&|c| needs(c) && unseen(c) < 0.5);
    let without = named(&|c| !needs(c));
    let hidden = named(&|c| needs(c) && unseen(c) >= 0.5);
    let hidden = if hidden.is_empty() {
        String::new()
    } else {
        said!(language; " Of this it shows little: {hidden}.", " Hiervon zeigt sie wenig: {hidden}.")
    };
    if with.is_empty() {
        return None;
    }
    if let (true, &[c]) = (is_moved_by_hand(test), &test.needs[..]) {
        return Some(said!(
            language;
            "What it tells: a rod that is off and a stiff reflector are mended without a new part; if {}, what is left of this is the part \
             itself ({}).",
            "Was sie sagt: Eine Stange, die ab ist, und ein schwergängiger Reflektor sind ohne Neuteil behoben; wenn {}, bleibt davon nur \
             das Bauteil selbst ({}).";
            passed(language, test),
            part_called(language, system, c, job)
        ));
    }
    if !test.shows.is_empty() {
        let kinds: Vec<&str> = test.shows.iter().map(|kind| kind.said(language)).collect();
        let (not, one) = if with.contains(',') {
            ("do not", "at least one of them has it")
        } else {
            ("does not", "it has that fault")
        };
        return Some(said!(
            language;
            "What it tells: if {}, {with} probably {not} have this fault: {}; others it does not show. If not, {one}.",
            "Was sie sagt: Wenn {}, liegt das hier wahrscheinlich nicht vor ({}): {with}. Andere Fehler zeigt sie nicht. Wenn nicht, liegt es \
             dort vor.";
            passed(language, test),
            kinds.join(&said!(language; " or ", " oder "))
        ));
    }
    let is_several = with.contains(',');
    Some(match language {
        Language::English => {
            let (verb, one) = if is_several {
                ("are", format!("at least one of these is at fault: {with}"))
            } else {
                ("is", format!("{with} is at fault"))
            };
            let left = if without.is_empty() {
                String::new()
            } else {
                format!(", and what is left is {without}")
            };
            format!(
                "What it tells: if {}, {with} {verb} probably sound{left}; if not, {one}.{hidden}",
                passed(language, test)
            )
        }
        // Behind a colon a name stands as it is.
        Language::German => {
            let verb = if is_several { "sind" } else { "ist" };
            let one = if is_several {
                format!("mindestens eines davon: {with}")
            } else {
                with.clone()
            };
            let left = if without.is_empty() {
                String::new()
            } else {
                format!("; es bleibt: {without}")
            };
            format!(
                "Was sie sagt: Wenn {}, {verb} wahrscheinlich in Ordnung: {with}{left}. Wenn nicht, ist fehlerhaft: {one}.{hidden}",
                passed(language, test)
            )
        }
    })
}

/// What a yes looks like, behind an "if": in German the verb comes last.
fn passed(language: Language, test: &Test) -> String {
    let subject = subject(language, test);
    match (language, test.watch) {
        (Language::English, _) => happening(language, test, Moves::Yes),
        (Language::German, Watch::Beam) => format!("{subject} sich bewegt"),
        (Language::German, Watch::Gauge) if test.follows => format!("{subject} steigt und dem Regler folgt"),
        (Language::German, Watch::Gauge) => format!("{subject} steigt und hält"),
        (Language::German, Watch::Part) if is_moved_by_hand(test) => {
            "die Stange eingehängt ist und der Reflektor sich frei bewegt".to_owned()
        }
        (Language::German, Watch::Part) => format!("{subject} ist, wie es sein soll"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::isolate::JobTrials;
    use crate::record::{System, system_names};
    use crate::report::terminal::{COLUMNS, isolation};
    use crate::report::text::width;
    use std::path::Path;

    /// Every line that anyone can be shown of the shipped systems: settled or not, contradicted or not, of each test.
    #[test]
    fn colour_only_repeats_and_no_line_is_wider_than_a_terminal() {
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            for test in 0..system.tests.len() {
                for outcomes in [&[Moves::No][..], &[Moves::Yes], &[Moves::No, Moves::Yes]] {
                    let evidence = outcomes.iter().enumerate();
                    let trials = JobTrials {
                        evidence: evidence
                            .map(|(n, moves)| Evidence::written(&system, test, *moves, Origin::Trial(n)))
                            .collect(),
                        unread: Vec::new(),
                        done: crate::isolate::Done::default(),
                        repaired_since: Vec::new(),
                        since_repair: Vec::new(),
                        before_repair: Vec::new(),
                        repairs: Vec::new(),
                        stands_on_marks: false,
                        is_photographed: false,
                        warnings: vec![crate::warning::Warning::PositionsBesideTrial {
                            test: "a word of warning ".repeat(9),
                        }],
                    };
                    let isolated = Isolated::new(system.clone(), trials);
                    let job = "a/rather/long/path/to/the/folder/of/some/job.toml";
                    for language in [Language::English, Language::German] {
                        let plain = isolation(language, &isolated, job, false);
                        for line in plain.lines() {
                            assert!(width(line) <= COLUMNS, "{line}");
                        }
                        let mut stripped = isolation(language, &isolated, job, true);
                        assert!(stripped.contains('\u{1b}'));
                        for code in ["1", "2", "31", "32", "33", "0"] {
                            stripped = stripped.replace(&format!("\u{1b}[{code}m"), "");
                        }
                        assert_eq!(stripped, plain);
                    }
                }
            }
        }
    }

    /// On the page a test is told for the car as it stands, and what counts by the words of its buttons.
    #[test]
    fn on_the_page_the_car_stays_and_answers_are_called_as_their_buttons() {
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            let mut isolated = Isolated::untested(system);
            let each = [Language::English, Language::German].map(|language| {
                [
                    (language, false, super::stand(language)),
                    (language, true, super::stands(language)),
                ]
            });
            for (language, stays, stands) in each.into_iter().flatten() {
                isolated.trials.stands_on_marks = stays;
                for t in 0..isolated.system.tests.len() {
                    let test = isolated.system.tests[t].clone();
                    let said = format!("{:?}", super::test(language, &isolated, t));
                    let walled = test
                        .steps
                        .iter()
                        .any(|step| step.within(Language::English).contains("from a wall"));
                    assert_eq!(said.contains(stands), walled, "{name} {}: {said}", test.id);
                    assert!(
                        !(stays && (said.contains("from a wall") || said.contains("vor eine Wand"))),
                        "{said}"
                    );
                    for outcome in outcomes(test.source) {
                        assert!(!said.contains(&format!("{outcome}: ")), "{name} {}: {said}", test.id);
                        if !test.look.within(language).contains(&format!("{outcome}: ")) {
                            continue;
                        }
                        let button = happening(language, &test, *outcome);
                        let said = said.to_lowercase();
                        assert!(
                            said.contains(&format!("{button}: ")),
                            "{name} {}: {button} in {said}",
                            test.id
                        );
                    }
                }
            }
        }
    }

    /// What is mended without a new part is named, and no part beside it; a bare "no" is no answer where each fault is one.
    #[test]
    fn a_rod_that_is_off_is_hung_on_and_nothing_is_replaced() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let test = |id: &str| system.test(id).unwrap();
        let of_job = |seen: TrialMoves| {
            let noted = |id, moves, gauge| Evidence::noted(&system, test(id), moves, gauge, Origin::Trial(0)).unwrap();
            let mut isolated = Isolated::untested(system.clone());
            isolated.trials.evidence = vec![
                noted("operate-left", TrialMoves::No, None),
                noted("operate-right", TrialMoves::Yes, None),
                noted("pump-at-left-lamp", TrialMoves::No, Some(Gauge::RisesAndHolds)),
                noted("reflector-left-by-hand", seen, None),
            ];
            Isolated::new(isolated.system, isolated.trials)
        };
        for (seen, language, way) in [
            (
                TrialMoves::RodOff,
                Language::English,
                "hang the actuator's rod on the reflector again",
            ),
            (TrialMoves::Stiff, Language::English, "free the reflector's pivots"),
            (
                TrialMoves::RodOff,
                Language::German,
                "die Stange der Unterdruckdose wieder am Reflektor einhängen",
            ),
            (
                TrialMoves::Stiff,
                Language::German,
                "die Lager des Reflektors gängig machen",
            ),
        ] {
            for job in [None, Some("job.toml")] {
                let said = format!("{:?}", repair(language, &of_job(seen), job));
                assert!(said.contains(way), "{said}");
                assert!(!said.contains("replace") && !said.contains("ersetzen"), "{said}");
            }
            let next = answer::next_step(language, &of_job(seen), false, answer::At::Page).unwrap_or_default();
            assert!(next.to_lowercase().contains(&way.to_lowercase()), "{next}");
        }
        let said = format!("{:?}", repair(Language::English, &of_job(TrialMoves::Yes), None));
        assert!(said.contains("replace"), "{said}");
        let by_hand = &system.tests[test("reflector-left-by-hand")];
        let moves: Vec<TrialMoves> = answers(Language::English, by_hand)
            .into_iter()
            .map(|one| one.0)
            .collect();
        assert_eq!(
            moves,
            [
                TrialMoves::Yes,
                TrialMoves::RodOff,
                TrialMoves::Stiff,
                TrialMoves::NotDone
            ]
        );
    }

    /// What can be pressed is what is explained, one for one.
    #[test]
    fn each_answer_has_its_meaning_under_what_counts() {
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            for test in &system.tests {
                for language in [Language::English, Language::German] {
                    let Some((list, _)) = by_answers(language, test, |moves| file_word(language, moves)) else {
                        panic!("{name} {}", test.id);
                    };
                    let Block::List(list) = list else { panic!("{list:?}") };
                    let all = answers(language, test);
                    assert_eq!(list.items.len(), all.len(), "{name} {} {language:?}: {list:?}", test.id);
                }
            }
        }
    }

    /// What photos from after a repair show is ticked among what it must show, and what they do not show is not.
    #[test]
    fn what_photos_show_after_a_repair_is_ticked() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let (control, test) = (system.component("control").unwrap(), |id: &str| {
            system.test(id).unwrap()
        });
        let mut isolated = Isolated::untested(system.clone());
        isolated.trials.repaired_since = vec![control];
        isolated.trials.evidence = vec![Evidence::written(
            &system,
            test("operate-left"),
            Moves::No,
            Origin::Positions,
        )];
        for language in [Language::English, Language::German] {
            let ticks = |isolated: &Isolated| {
                let Block::List(list) = must_show(language, isolated, &[control], None).blocks.swap_remove(0) else {
                    panic!("a list comes first");
                };
                list.items
                    .iter()
                    .map(|item| item.sign == Some(Sign::Good))
                    .collect::<Vec<_>>()
            };
            isolated.trials.since_repair = Vec::new();
            assert_eq!(ticks(&isolated), [false, false]);
            // What moves, and may yet creep back, is said to move and gets no tick.
            let moved =
                Evidence::travel(&system, test("operate-left"), -1.5, 0.02, Origin::Positions).not_watched(&system);
            assert!(!moved.is_failure());
            isolated.trials.since_repair = vec![moved];
            let said = format!("{:?}", must_show(language, &isolated, &[control], None));
            let still = language.pick("still to be seen", "noch nicht gesehen");
            assert_eq!(ticks(&isolated)[0], moved.is_yes());
            assert_eq!(said.contains(still), !moved.is_yes(), "{said}");
            isolated.trials.since_repair = vec![Evidence::written(
                &system,
                test("operate-right"),
                Moves::Yes,
                Origin::Positions,
            )];
            assert_eq!(ticks(&isolated), [false, true]);
        }
    }

    /// Shares that come to more than all say why, and others do not.
    #[test]
    fn shares_beyond_all_say_why() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let test = |id: &str| system.test(id).unwrap();
        let said = |trials: &[(&str, Moves)]| {
            let mut isolated = Isolated::untested(system.clone());
            let evidence = trials.iter().enumerate();
            isolated.trials.evidence = evidence
                .map(|(n, (id, moves))| Evidence::written(&system, test(id), *moves, Origin::Trial(n)))
                .collect();
            let isolated = Isolated::new(isolated.system, isolated.trials);
            let sum = isolated.answer.by_component.iter().sum::<f64>() + isolated.answer.nothing;
            (sum, format!("{:?}", suspected(Language::English, &isolated, None)))
        };
        let (sum, both) = said(&[("pump-at-left-lamp", Moves::No), ("pump-at-right-lamp", Moves::No)]);
        assert!(sum > 1.5 && both.contains("need not come to 100 %"), "{sum}: {both}");
        let (sum, none) = said(&[("operate-left", Moves::Yes), ("operate-right", Moves::Yes)]);
        assert_eq!(
            sum > MORE_THAN_ALL,
            none.contains("need not come to 100 %"),
            "{sum}: {none}"
        );
    }

    /// In German no name is bent by its sentence: behind a colon, in brackets or as a quotation it stands as it is.
    #[test]
    fn in_german_names_stand_as_they_are() {
        let language = Language::German;
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            for test in 0..system.tests.len() {
                for moves in [Moves::Yes, Moves::No] {
                    let mut isolated = Isolated::untested(system.clone());
                    let look = system.test("operate-right").unwrap();
                    isolated.trials.evidence = vec![
                        Evidence::written(&system, test, moves, Origin::Trial(0)),
                        Evidence::written(&system, look, Moves::Yes, Origin::Trial(1)),
                    ];
                    isolated.trials.warnings = vec![crate::warning::Warning::PositionsBesideTrial {
                        test: system.tests[test].id.clone(),
                    }];
                    let isolated = Isolated::new(isolated.system, isolated.trials);
                    let said = format!("{:?}", sections(language, &isolated, None));
                    for wrong in [
                        "durch der ",
                        "Prüfung der ",
                        "ohne der ",
                        "ist Unterdruckdose",
                        "ist Leitung",
                        "sind Leitung",
                        "an Leitung",
                        "an Unterdruckdose",
                        "bleibt Leitung",
                        "bleibt Unterdruckdose",
                        "für der ",
                        "von der linke",
                        "von der rechte",
                    ] {
                        assert!(!said.contains(wrong), "{name} {test} {moves}: {wrong} in {said}");
                    }
                }
            }
        }
    }

    /// A test that was done before a repair of what it needs is no repeat: it is done anew, since the car is another one; and after several repairs
    /// each test says after which it was done.
    #[test]
    fn after_repairs_a_test_is_done_anew_and_says_after_which() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let (actuator, test) = (system.component("left-actuator").unwrap(), |id: &str| {
            system.test(id).unwrap()
        });
        let noted = |id: &str, repairs: usize, again: bool| {
            let mut one = Evidence::written(&system, test(id), Moves::No, Origin::Trial(repairs));
            one.mended = u128::from(repairs > 0) << actuator;
            one.mended_again = u128::from(again) << actuator;
            one.repairs = repairs;
            one
        };
        let entry = |date: &str| crate::record::RepairEntry {
            extent: None,
            component: Some("left-actuator".to_owned()),
            date: date.to_owned(),
            words: "replaced".to_owned(),
        };
        let mut isolated = Isolated::untested(system.clone());
        isolated.trials.done.mended = 1 << actuator;
        isolated.trials.repairs = vec![entry("2031-03-05"), entry("2031-03-07")];
        isolated.trials.evidence = vec![
            noted("operate-left", 0, false),
            noted("operate-left", 1, true),
            noted("operate-left", 2, false),
            noted("pump-at-left-lamp", 1, true),
        ];
        for (language, labels, anew, again) in [
            (
                Language::English,
                [
                    "after repair 1 of 2: the actuator of the left lamp, 2031-03-05",
                    "after repair 2 of 2: the actuator of the left lamp, 2031-03-07",
                ],
                "the car was mended since",
                "do it once more",
            ),
            (
                Language::German,
                [
                    "nach Reparatur 1 von 2: Unterdruckdose des linken Scheinwerfers, 05.03.2031",
                    "nach Reparatur 2 von 2: Unterdruckdose des linken Scheinwerfers, 07.03.2031",
                ],
                "seither instand gesetzt",
                "noch einmal machen",
            ),
        ] {
            let said = format!("{:?}", found(language, &isolated, None));
            for label in labels {
                assert!(said.contains(label), "{label}: {said}");
            }
            for (id, is_anew) in [("pump-at-left-lamp", true), ("operate-left", false)] {
                let next = Candidate {
                    test: test(id),
                    minutes: 1.0,
                    expected_bits: 0.5,
                    expected_minutes: None,
                };
                let whys = why_this_test(language, &isolated, &next, None).join(" ");
                assert_eq!(whys.contains(anew), is_anew, "{id}: {whys}");
                assert_eq!(whys.contains(again), !is_anew, "{id}: {whys}");
            }
        }
    }

    /// What the job has photos of is not asked for once more.
    #[test]
    fn photos_that_are_there_are_not_asked_for() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let control = system.component("control").unwrap();
        for job in [None, Some("job.toml")] {
            let mut isolated = Isolated::untested(system.clone());
            isolated.trials.repaired_since = vec![control];
            for photographed in [false, true] {
                isolated.trials.is_photographed = photographed;
                let said = format!("{:?}", must_show(Language::English, &isolated, &[control], job));
                assert_eq!(said.contains("Photograph both beams"), !photographed, "{said}");
            }
        }
    }
}
