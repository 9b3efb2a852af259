//! Which part is at fault: what is suspected and why, what is cleared, what to do next and for how long, and what a repair
//! must show afterwards.

use super::super::document::{Block, Item, List, Margin, Section, Sign, Text};
use super::super::isolation::drawing;
use super::super::text::{plain, signed, u95};
use super::super::words::{likely, listed, minutes, percent};
use super::answer;
use crate::aim::COVERAGE_FACTOR_95;
use crate::isolate::{
    Candidate, Evidence, Isolated, MOST_FAULTS, Observation, Origin, POSSIBLE, Repair, Standing, outcomes,
};
use crate::language::Language;
use crate::record::{FaultKind, Gauge, Moves, Stage, System, Test, TrialMoves, VacuumSource, Watch, system_names};
use crate::run::Findings;

/// Components named at the most, beside those that are suspected.
const MOST_POSSIBLE: usize = 5;
/// A component this probably faulty has to be replaced whatever else comes out.
const SURE: f64 = 0.95;

/// For the terminal: the first suspect and what to do next; `beamfall isolate` and the page say why.
pub(super) fn outline(findings: &Findings) -> Section {
    let Some(isolated) = &findings.isolation else {
        return Section::default();
    };
    let suspected = answer::first_suspect(Language::English, isolated)
        .unwrap_or_else(|| "no part more than another yet".to_owned());
    let text = if findings.is_repaired() && !goes_on(findings) {
        format!("Suspected before the repair: {suspected}. `beamfall isolate` says why.")
    } else {
        let next = answer::next_step(Language::English, isolated);
        format!("Suspected: {suspected}. {next}. `beamfall isolate` says why.")
    };
    Section::new("Which part is at fault", vec![Block::text(text)])
}

/// Whether what is suspected is of the car after a repair: the same job goes on.
pub(super) fn goes_on(findings: &Findings) -> bool {
    let mended = |isolated: &Isolated| isolated.trials.done.mended != 0;
    let followed = findings.job.trial.iter().any(|trial| trial.stage == Some(Stage::After));
    followed || findings.isolation.as_ref().is_some_and(mended)
}

/// For the page: the answer, and the system drawn beside it.
pub(super) fn chapter(findings: &Findings) -> Section {
    let blocks = match &findings.isolation {
        None => vec![Block::note(what_to_add(findings))],
        Some(isolated) => {
            let mut sections = sections(isolated, "the job file");
            let below = sections.split_off(3);
            let drawn = Block::Drawing(
                "system",
                drawing::draw(isolated),
                "The system, vacuum running from top to bottom: each part with its sign, where it stands, and how probable \
                 a fault of it is."
                    .to_owned(),
            );
            let beside = Block::Group("", sections.into_iter().map(Block::Section).collect());
            let mut blocks = vec![Block::text(how_it_is_worked_out(findings, isolated))];
            blocks.push(Block::Group("beside", vec![beside, drawn]));
            blocks.extend(below.into_iter().map(Block::Section));
            blocks
        }
    };
    Section {
        class: "isolate",
        ..Section::new("Which part is at fault", blocks)
    }
}

/// What a job lacks that says nothing of its system.
fn what_to_add(findings: &Findings) -> String {
    match &findings.job.system {
        None => format!(
            "Not asked: to have it worked out, name the car's system in the job (system = \"NAME\"; shipped are {}) and add a \
             [[trial]] for each test that was done.",
            system_names().join(", ")
        ),
        Some(name) => format!(
            "Nothing to go by yet: add to the job a [[trial]] for each test of the system {name} that was done, or photos at \
             two positions of the range control before the repair, or under a pump, their series named for the test."
        ),
    }
}

fn how_it_is_worked_out(findings: &Findings, isolated: &Isolated) -> String {
    let after = findings.is_repaired();
    let from = |origin: Origin| isolated.trials.evidence.iter().any(|one| one.origin == origin);
    let by_photos = match (from(Origin::Positions), from(Origin::Pump)) {
        (true, true) => ", by its readings at positions, and by those under the pump",
        (true, false) => " and by its readings at positions",
        (false, true) => " and by its readings under the pump",
        (false, false) => "",
    };
    let before = if goes_on(findings) {
        " What was found before a repair is weighed as of the car before it, what was found after it as of the mended car."
    } else if after {
        " Only trials of the car before the repair are weighed; what the repair did, the figures above show."
    } else {
        ""
    };
    format!(
        "System: {}. Every combination of up to {MOST_FAULTS} faulty parts is weighed by the trials of the job{by_photos}. A \
         probability rests also on how often each part fails, which the system file gives.{before}",
        isolated.system.name
    )
}

/// The answer, the first three sections what is known so far. `job` is what the file is called into which the next trial is
/// written.
pub(super) fn sections(isolated: &Isolated, job: &str) -> Vec<Section> {
    let mut sections = vec![found(isolated), suspected(isolated), cleared(isolated)];
    sections.extend(contradiction(isolated));
    let decision = &isolated.answer.decision;
    if decision.stop {
        sections.extend(repair(isolated));
    }
    sections.push(match &decision.next {
        Some(next) if !decision.stop => next_test(isolated, next, job),
        Some(next) => {
            let text = format!(
                "Another test would cost more than it gains. To be surer all the same: {} ({}).",
                isolated.system.tests[next.test].id,
                minutes(Language::English, next.minutes)
            );
            topic("topic next", "", vec![Block::text(text)])
        }
        None => {
            let text = "No further test of this system can tell more.";
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

/// "the left beam".
fn subject(test: &Test) -> String {
    match (test.watch, test.lamp) {
        (Watch::Gauge, _) => "the gauge".to_owned(),
        (Watch::Part, _) => "all".to_owned(),
        (Watch::Beam, Some(side)) => format!("the {side} beam"),
        (Watch::Beam, None) => "the beam".to_owned(),
    }
}

/// "the left beam does not move".
pub(in crate::report) fn happening(test: &Test, outcome: Moves) -> String {
    let verb = match (test.watch, outcome) {
        (Watch::Beam, Moves::Yes) => "moves",
        (Watch::Beam, Moves::No) => "does not move",
        (Watch::Beam, Moves::CreepsBack) => "moves and creeps back",
        (Watch::Gauge, Moves::Yes) => "rises and holds",
        (Watch::Gauge, Moves::No) => "does not rise",
        (Watch::Gauge, Moves::CreepsBack) => "rises and falls back",
        (Watch::Part, Moves::Yes) => "is as it should be",
        (Watch::Part, _) => "is not as it should be",
    };
    format!("{} {verb}", subject(test))
}

/// What was seen, in the words of the test.
fn seen(test: &Test, one: &Evidence) -> String {
    let verb = match (test.watch, one.seen) {
        (Watch::Beam, Observation::Written(TrialMoves::Partly) | Observation::Short { .. }) => {
            "moves, but short of what it should"
        }
        (Watch::Beam, Observation::Written(TrialMoves::DoesNotReturn)) => "moves and does not come back",
        (Watch::Beam, Observation::Sealed { holds: true }) => "moves and stays",
        _ => return happening(test, one.outcome()),
    };
    format!("{} {verb}", subject(test))
}

fn within_test(test: &Test, said: &str) -> String {
    if test.with.is_empty() {
        format!("in the test {}, {said}", test.id)
    } else {
        format!("{}, {said}", test.with)
    }
}

/// "with the control bridged, the left beam does not move".
fn phrase(test: &Test, outcome: Moves) -> String {
    within_test(test, &happening(test, outcome))
}

/// The same of what was seen.
pub(super) fn phrase_of(test: &Test, one: &Evidence) -> String {
    within_test(test, &seen(test, one))
}

/// What came out, in a word or a figure.
fn came_out(one: &Evidence) -> String {
    match one.seen {
        Observation::Written(moves) => moves.to_string(),
        Observation::Sealed { holds: true } => "holds".to_owned(),
        Observation::Sealed { holds: false } => "leaks".to_owned(),
        Observation::Travel { percent, sd_percent } | Observation::Short { percent, sd_percent } => {
            let u95_percent = COVERAGE_FACTOR_95 * sd_percent;
            format!(
                "{} % ± {} %",
                signed(Language::English, percent, 2),
                u95(Language::English, u95_percent)
            )
        }
    }
}

/// A piece of evidence in words, with where it comes from.
fn described(test: &Test, one: &Evidence) -> String {
    let said = phrase_of(test, one);
    let moved = !one.allows(Moves::No) && one.allows(Moves::Yes) && one.allows(Moves::CreepsBack);
    let mut text = match one.seen {
        Observation::Travel { .. } if one.is_firm() => format!("measured: {said}"),
        Observation::Travel { .. } if moved => {
            format!(
                "measured: {}; whether it stays the photos do not show",
                phrase(test, Moves::Yes)
            )
        }
        Observation::Travel { .. } => "measured, and not clear: it counts by how well it fits each outcome".to_owned(),
        Observation::Short { .. } => format!("measured: {said}"),
        Observation::Sealed { .. } => format!("measured with the valve shut: {said}"),
        Observation::Written(_) => said,
    };
    text.push_str(match one.gauge {
        Some(Gauge::RisesAndHolds) => ", and the gauge holds",
        Some(Gauge::WillNotRise) => ", and the gauge will not rise",
        Some(Gauge::Falls) => ", and the gauge falls",
        None => "",
    });
    text.push_str(match one.origin {
        Origin::Trial(_) => "",
        Origin::Positions => " (readings at positions)",
        Origin::Pump => " (readings under the pump)",
    });
    text
}

fn found(isolated: &Isolated) -> Section {
    let (system, trials) = (&isolated.system, &isolated.trials);
    let mut blocks = Vec::new();
    if !trials.repaired_since.is_empty() {
        let parts = trials
            .repaired_since
            .iter()
            .map(|&c| format!("the {}", system.components[c].label));
        blocks.push(Block::text(format!(
            "By the job, mended since: {}. All that stands here is of the car before that; enter what you find now as trials \
             with stage = \"after\".",
            listed(Language::English, &parts.collect::<Vec<_>>())
        )));
    }
    if trials.evidence.is_empty() {
        blocks.push(Block::text(
            "Nothing yet: the ranking below is only how often each part fails.",
        ));
    }
    let items = trials.evidence.iter().map(|one| {
        let test = &system.tests[one.test];
        let id = Text::default().code(test.id.as_str());
        Item {
            lead: vec![(id, ": "), (Text::default().strong(came_out(one)), "; ")],
            ..described(test, one).into()
        }
    });
    blocks.extend(signs("trials", items.collect()));
    let unread = trials.unread.iter().map(|one| {
        format!(
            "{}: {} gives no figure, so that this trial does not count; {}",
            one.test,
            one.photo.display(),
            one.message
        )
    });
    let warnings = system.warnings.iter().chain(&trials.warnings).map(ToString::to_string);
    let all = unread
        .chain(warnings)
        .map(|warning| Item::signed(Sign::Beware, warning));
    blocks.extend(signs("signs warnings", all.collect()));
    topic("topic found", "What was found so far", blocks)
}

/// Components that stand somewhere, the most probable first.
fn standing(isolated: &Isolated, where_: Standing) -> Vec<usize> {
    let standings = isolated.standings();
    let ranked = isolated.answer.ranked_components();
    ranked.into_iter().filter(|&c| standings[c] == where_).collect()
}

fn suspected(isolated: &Isolated) -> Section {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let mut blocks = Vec::new();
    let suspected = standing(isolated, Standing::Suspected);
    if suspected.is_empty() {
        blocks.push(Block::text("No part stands out yet."));
    }
    let probable = |probability: f64| vec![(Text::default().strong(percent(probability)), " ")];
    let ranked = |c: usize, standing: Standing| {
        let text = format!("{}, {standing}: {}", system.components[c].id, kinds(isolated, c));
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
                more: format!("Why: {}", why(isolated, c)).into(),
                ..item
            }
        })
        .collect();
    let possible = standing(isolated, Standing::Possible).into_iter().take(MOST_POSSIBLE);
    items.extend(possible.map(|c| ranked(c, Standing::Possible)));
    if answer.nothing >= POSSIBLE {
        items.push(Item {
            lead: probable(answer.nothing),
            ..Item::signed(Standing::Open, nothing(isolated))
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
    let together = |one: &&crate::isolate::Explanation| one.faults.len() > 1 && one.probability >= 0.1;
    if let Some(best) = answer.explanations.iter().find(together) {
        let faults = best
            .faults
            .iter()
            .map(|&(c, fault)| format!("{} {fault}", system.components[c].id));
        let faults: Vec<String> = faults.collect();
        blocks.push(Block::text(format!(
            "Together: {} ({}).",
            faults.join(" and "),
            percent(best.probability)
        )));
    }
    topic("topic suspected", "What is suspected", blocks)
}

/// What it is called that no part is faulty; not that nothing is, while something stands that failed.
fn nothing(isolated: &Isolated) -> &'static str {
    if isolated.failures().is_empty() {
        "nothing is at fault"
    } else {
        "no part: what failed was done or seen wrongly"
    }
}

/// A component's label with its kinds of fault.
fn kinds(isolated: &Isolated, c: usize) -> String {
    let kinds: Vec<String> = isolated
        .answer
        .suspects
        .iter()
        .filter(|s| s.component == c && s.probability >= 0.005)
        .map(|s| format!("{} {}", s.fault, percent(s.probability)))
        .collect();
    format!("{} [{}]", isolated.system.components[c].label, kinds.join(", "))
}

fn cleared(isolated: &Isolated) -> Section {
    let system = &isolated.system;
    let items = standing(isolated, Standing::Cleared).into_iter().map(|c| {
        let passes = isolated.trials.evidence.iter().filter(|one| isolated.clears(one, c));
        let by: Vec<&str> = passes.map(|one| system.tests[one.test].id.as_str()).collect();
        let probability = percent(isolated.answer.by_component[c]);
        let text = format!("{} ({probability}), by {}", system.components[c].id, by.join(", "));
        Item::signed(Standing::Cleared, text)
    });
    let list = signs("signs", items.collect()).unwrap_or_else(|| Block::text("Nothing yet."));
    topic("topic cleared", "What is cleared", vec![list])
}

/// Why a component is suspected: the narrowest test that fails and needs it, beside one that passes without it.
fn why(isolated: &Isolated, c: usize) -> String {
    let (system, evidence) = (&isolated.system, &isolated.trials.evidence);
    let label = &system.components[c].label;
    let test = |one: &Evidence| -> &Test { &system.tests[one.test] };
    let needs = |one: &Evidence| test(one).needs.contains(&c);
    let failures: Vec<&Evidence> = evidence.iter().filter(|one| one.is_failure() && needs(one)).collect();
    // Of equals the first.
    let Some(narrowest) = failures.iter().copied().min_by_key(|one| test(one).needs.len()) else {
        return format!("no test so far speaks against the {label}; it is only one that fails often.");
    };
    let fails = phrase_of(test(narrowest), narrowest);
    if test(narrowest).needs.len() == 1 {
        return format!("{fails}; that test needs nothing but the {label}.");
    }
    // The pass that leaves least of a failure to be at fault.
    let mut best: Option<(&Evidence, &Evidence, usize)> = None;
    for &failure in &failures {
        let needed = &test(failure).needs;
        for pass in evidence.iter().filter(|one| one.is_yes() && !needs(one)) {
            let left = needed.iter().filter(|n| !test(pass).needs.contains(n)).count();
            if left < needed.len() && best.is_none_or(|b| left < b.2) {
                best = Some((pass, failure, left));
            }
        }
    }
    match best {
        Some((pass, failure, _)) => format!(
            "{}; {}. The first goes without the {label}, the second needs it.",
            phrase(test(pass), Moves::Yes),
            phrase_of(test(failure), failure)
        ),
        None => format!("{fails}, and that needs the {label}."),
    }
}

fn contradiction(isolated: &Isolated) -> Option<Section> {
    let (system, evidence) = (&isolated.system, &isolated.trials.evidence);
    let contradiction = isolated.answer.contradiction.as_ref()?;
    let items = contradiction
        .trials
        .iter()
        .zip(&contradiction.erroneous)
        .map(|(&t, erroneous)| {
            let test = &system.tests[evidence[t].test];
            let said = phrase_of(test, &evidence[t]);
            Item::signed(
                Sign::Beware,
                format!(
                    "{}: {said} ({} likely to be the wrong one)",
                    test.id,
                    likely(Language::English, *erroneous)
                ),
            )
        });
    let repeat = evidence[contradiction.repeat].test;
    let id = &system.tests[repeat].id;
    let twice = isolated.is_seen_twice(repeat);
    let repeated = evidence.iter().filter(|one| one.test == repeat).count() > 1;
    let decision = &isolated.answer.decision;
    let asked = !decision.stop && decision.next.is_some_and(|next| next.test == repeat);
    let advice = if twice {
        format!(
            "{id} was written down and photographed, and the two differ: take the trial out of the job, or the photos, once you \
             know which went wrong."
        )
    } else if !repeated && !asked {
        // Said once what comes next, and that is said below.
        format!("Most in doubt is {id}; what follows counts each by how probably it is right.")
    } else if repeated {
        format!(
            "{id} has been done again, and the trial above counts for little now; take it out of the job if you agree that \
             it went wrong."
        )
    } else {
        format!(
            "Do {id} once more, watch each step, and add what comes out as another [[trial]]; where you know what went \
             wrong, take the wrong trial out."
        )
    };
    let mut blocks: Vec<Block> = signs("signs warnings", items.collect()).into_iter().collect();
    blocks.push(Block::text(format!(
        "No faults of up to {MOST_FAULTS} parts at once explain them together. {advice}"
    )));
    Some(topic("topic contradiction", "These trials cannot all be right", blocks))
}

/// What to replace, and what that must show.
fn repair(isolated: &Isolated) -> Vec<Section> {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let repairs = answer.decision.repairs(&answer.by_component, answer.nothing);
    let Some(Repair::Replace(first)) = repairs.first() else {
        return vec![look_again(isolated)];
    };
    let order = repairs.iter().filter_map(|repair| match repair {
        Repair::Replace(c) => Some(*c),
        Repair::LookAgain => None,
    });
    // All that are more probably faulty than not are replaced; the first in any case.
    let (now, later): (Vec<usize>, Vec<usize>) = order.partition(|c| c == first || answer.by_component[*c] >= 0.5);
    let label = |c: usize| format!("the {}", system.components[c].label);
    let names: Vec<String> = now.iter().map(|&c| label(c)).collect();
    if now.iter().all(|&c| isolated.is_mended_since(c)) {
        let heading = format!("Mended since, by the job: {}", names.join(" and "));
        let text = "What was found before the repair is explained by that. Look whether both beams follow the range control now, over the \
                    whole travel. One that does not, or a leak that shows since, is entered with stage = \"after\", and the job goes on.";
        return vec![
            topic("topic repair", &heading, vec![Block::text(text)]),
            must_show(isolated, &now),
        ];
    }
    let work: f64 = isolated.replace_minutes(&now);
    let mut blocks = vec![Block::text(format!(
        "About {}. Before you do, look for what can be mended without a new part: a hose that is off, split or kinked, a plug \
         that is loose{}.",
        minutes(Language::English, work),
        without_a_part(isolated, &now)
    ))];
    // More than one kind of fault of a component is left.
    let kinds_alike = |&c: &usize| {
        let left = answer
            .suspects
            .iter()
            .filter(|s| s.component == c && s.probability >= 0.1);
        left.count() > 1
    };
    if now.iter().any(kinds_alike) {
        let text = "Which fault it is, these tests do not tell for certain; the part is the same.";
        blocks.push(Block::text(text));
    }
    let later = later
        .into_iter()
        .filter(|&c| answer.by_component[c] >= POSSIBLE)
        .take(3);
    let later: Vec<String> = later
        .map(|c| format!("{} ({})", label(c), percent(answer.by_component[c])))
        .collect();
    if !later.is_empty() {
        blocks.push(Block::text(format!(
            "If a beam still does not follow then, next in line: {}.",
            later.join(", then ")
        )));
    }
    let heading = format!("Stop testing: replace {}", names.join(" and "));
    vec![topic("topic repair", &heading, blocks), must_show(isolated, &now)]
}

/// Where no part stands out: nothing at fault, or, while something stands that failed, what is left and what would settle it.
fn look_again(isolated: &Isolated) -> Section {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let failures = isolated.failures();
    if failures.is_empty() {
        let heading = "Stop testing: nothing seems to be at fault";
        let text =
            "Work the range control once more and look at both beams. If they follow, there is nothing to replace.";
        return topic("topic repair", heading, vec![Block::text(text)]);
    }
    let failed: Vec<String> = failures
        .iter()
        .map(|one| phrase_of(&system.tests[one.test], one))
        .collect();
    let left: Vec<String> = (answer.ranked_components().into_iter())
        .filter(|&c| answer.by_component[c] >= POSSIBLE)
        .take(MOST_POSSIBLE)
        .map(|c| {
            format!(
                "the {} ({})",
                system.components[c].label,
                percent(answer.by_component[c])
            )
        })
        .collect();
    let left = if left.is_empty() {
        "no part that a test of this system shows".to_owned()
    } else {
        listed(Language::English, &left)
    };
    let blocks = vec![
        Block::text(format!("It failed: {}. What is left: {left}.", failed.join("; "))),
        Block::text(
            "What would settle it: photograph both beams at each position of the range control, engine running. If they follow \
             over the whole travel, what failed was done or seen wrongly, and there is nothing to replace; if not, enter the \
             photos in the job and run this again.",
        ),
    ];
    topic("topic repair", "Look at both beams before any part is replaced", blocks)
}

/// What of the suspected faults is mended without a new part, to be looked for first.
fn without_a_part(isolated: &Isolated, now: &[usize]) -> String {
    let likely = |c: usize, fault: FaultKind| {
        let suspects = &isolated.answer.suspects;
        suspects
            .iter()
            .any(|s| s.component == c && s.fault == fault && s.probability >= 0.05)
    };
    let said = now.iter().flat_map(|&c| {
        let faults = isolated.system.components[c].faults.iter();
        let free = faults.filter(move |fault| fault.mend_minutes.is_some() && likely(c, fault.id));
        free.filter_map(|fault| match fault.id {
            FaultKind::Off => Some("push its hose home"),
            FaultKind::RodOff => Some("hang its rod on again"),
            FaultKind::Stiff => Some("free what it moves"),
            _ => None,
        })
    });
    let said: Vec<&str> = said.collect();
    if said.is_empty() {
        return String::new();
    }
    format!("; here it may be enough to {}", said.join(", or to "))
}

/// The tests that must come out yes after a repair: those that failed and need a replaced part, and working the control.
fn must_show(isolated: &Isolated, replaced: &[usize]) -> Section {
    let System { tests, .. } = &isolated.system;
    let failed = |t: usize| {
        isolated
            .trials
            .evidence
            .iter()
            .any(|one| one.test == t && one.is_failure())
    };
    let must = |(t, test): &(usize, &Test)| {
        test.by_positions || (failed(*t) && test.needs.iter().any(|c| replaced.contains(c)))
    };
    let tests = tests.iter().enumerate().filter(must);
    let items = tests.map(|(_, test)| format!("{}: {}", test.id, phrase(test, Moves::Yes)).into());
    let mut blocks: Vec<Block> = signs("must", items.collect()).into_iter().collect();
    let enter = if replaced.iter().all(|&c| isolated.is_mended_since(c)) {
        "Write what you find into the job as trials with stage"
    } else {
        "Write the repair into the job as a [[repair]] with component = \"…\", and what you find then as trials with stage"
    };
    blocks.push(Block::text(format!(
        "{enter} = \"after\"; what was found before stays in the job. Photograph both beams at each position of the control again, \
         with stage = \"after\", for the report."
    )));
    topic("topic must-show", "What the repair must show", blocks)
}

fn next_test(isolated: &Isolated, next: &Candidate, job: &str) -> Section {
    let test = &isolated.system.tests[next.test];
    let mut blocks: Vec<Block> = why_this_test(isolated, next).into_iter().map(Block::text).collect();
    blocks.push(Block::text(test.ask.as_str()));
    let setup: Vec<&str> = isolated
        .still_to_set_up(next.test)
        .map(|setup| setup.label.as_str())
        .collect();
    if !setup.is_empty() {
        blocks.push(Block::text(format!(
            "To be set up for it, and left so for what follows: {}.",
            setup.join("; ")
        )));
    }
    if !test.kit.is_empty() {
        blocks.push(Block::text(format!("You need: {}.", test.kit.join("; "))));
    }
    let under = |label: &str, block: Block| Block::Labelled(Text::default().strong(label), vec![block]);
    let hazards = test
        .hazards
        .iter()
        .map(|hazard| Item::signed(Sign::Beware, hazard.as_str()));
    blocks.extend(signs("signs hazards", hazards.collect()).map(|list| under("Take care:", list)));
    if !test.steps.is_empty() {
        let steps = Block::List(List {
            class: "steps",
            ordered: true,
            items: test.steps.iter().map(|step| step.as_str().into()).collect(),
            ..List::default()
        });
        blocks.push(under("Step by step:", steps));
    }
    if !test.look.is_empty() {
        blocks.push(under("What counts:", Block::text(test.look.as_str())));
    }
    blocks.push(Block::text(format!("Then write into {job}, and run this again:")));
    let choices: Vec<String> = outcomes(test.source)[1..]
        .iter()
        .map(|outcome| format!("\"{outcome}\""))
        .collect();
    let mut entry = vec![
        "[[trial]]".to_owned(),
        format!("test = \"{}\"", plain(&test.id)),
        format!("moves = \"yes\"          # or {}", choices.join(", ")),
    ];
    if test.watch == Watch::Beam {
        entry.push("                       # or \"partly\", \"does-not-return\", \"not-done\"".to_owned());
    } else {
        entry.push("                       # or \"not-done\"".to_owned());
    }
    if test.source == VacuumSource::Pump && test.watch == Watch::Beam {
        entry.push("gauge = \"rises-and-holds\" # or \"will-not-rise\", \"falls\"".to_owned());
    }
    if isolated.trials.done.mended != 0 {
        entry.push("stage = \"after\"".to_owned());
    }
    blocks.push(Block::Entry(entry));
    blocks.extend(predictions(isolated, test).map(Block::text));
    let heading = format!(
        "Next test: {}, about {}",
        test.id,
        minutes(Language::English, next.minutes)
    );
    topic("topic next", &heading, blocks)
}

/// Why this test comes next, where that is not plain.
fn why_this_test(isolated: &Isolated, next: &Candidate) -> Vec<String> {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let mut said = Vec::new();
    if isolated.trials.evidence.iter().any(|one| one.test == next.test) {
        said.push("It was done before; do it once more, with care.".to_owned());
    }
    // A repeat that a contradiction asks for comes first for its own reason, and without expected minutes.
    let Some(with) = next.expected_minutes else { return said };
    if let Some(other) = answer.decision.instead_of {
        let saved = other.expected_minutes.map_or(0.0, |m| m - with);
        said.push(format!(
            "{} would tell more a minute by itself; this one first saves {} on the whole way, as things stand.",
            system.tests[other.test].id,
            minutes(Language::English, saved)
        ));
    }
    let sure: Vec<&str> = (0..system.components.len())
        .filter(|&c| answer.by_component[c] >= SURE)
        .map(|c| system.components[c].label.as_str())
        .collect();
    if !sure.is_empty() {
        said.push(format!(
            "The {} must be replaced in any case; you may do that first and look at the beams again. This test is for what \
             else may be at fault.",
            sure.join(" and the ")
        ));
    }
    said
}

/// What a yes and what a no would speak for.
fn predictions(isolated: &Isolated, test: &Test) -> Option<String> {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let list = |needed: bool| {
        let open = answer
            .ranked_components()
            .into_iter()
            .filter(|&c| answer.by_component[c] >= 0.05);
        let ids: Vec<&str> = open
            .filter(|c| test.needs.contains(c) == needed)
            .map(|c| system.components[c].id.as_str())
            .take(4)
            .collect();
        ids.join(", ")
    };
    let (with, without) = (list(true), list(false));
    if with.is_empty() {
        return None;
    }
    if !test.shows.is_empty() {
        let kinds: Vec<String> = test.shows.iter().map(ToString::to_string).collect();
        return Some(format!(
            "What it tells: if {}, none of {with} is probably at fault by this: {}; other faults it does not show. If not, one of \
             them is at fault.",
            happening(test, Moves::Yes),
            kinds.join(", ")
        ));
    }
    let (verb, one) = if with.contains(',') {
        ("are", format!("one of {with}"))
    } else {
        ("is", with.clone())
    };
    let left = if without.is_empty() {
        String::new()
    } else {
        format!(", and what is left is {without}")
    };
    Some(format!(
        "What it tells: if {}, {with} {verb} probably sound{left}; if not, {one} is at fault.",
        happening(test, Moves::Yes)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::isolate::JobTrials;
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
                        warnings: vec![crate::warning::Warning::PositionsBesideTrial {
                            test: "a word of warning ".repeat(9),
                        }],
                    };
                    let isolated = Isolated::new(system.clone(), trials);
                    let job = "a/rather/long/path/to/the/folder/of/some/job.toml";
                    let plain = isolation(Language::English, &isolated, job, false);
                    for line in plain.lines() {
                        assert!(width(line) <= COLUMNS, "{line}");
                    }
                    let mut stripped = isolation(Language::English, &isolated, job, true);
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
