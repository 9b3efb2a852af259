//! What isolation found in plain words: what is suspected and why, what is cleared, what to do next and for how long, and
//! what a repair must show afterwards.

use super::{Isolation, Standing, found, happening, is_failure, is_yes, minutes, percent, phrase};
use crate::DISCLAIMER;
use crate::isolate::{Candidate, Evidence, Observation, Origin, Repair};
use crate::record::{Moves, System, Test};
use crate::report::table::COLUMNS;
use crate::report::text::{pad, plain, width, wrap};

/// Components named at the most, beside those that are suspected.
const MOST_POSSIBLE: usize = 5;

/// A component this probably faulty has to be replaced whatever else comes out.
const SURE: f64 = 0.95;

/// What a section of the answer is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum About {
    /// What was found so far.
    Found,
    /// What is suspected.
    Suspected,
    /// What is cleared.
    Cleared,
    /// Trials that cannot all be right.
    Contradiction,
    /// What to replace.
    Repair,
    /// What the repair must show.
    MustShow,
    /// The next test, or that there is none.
    Next,
}

/// A piece of a section, in an order to be read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Part {
    /// A paragraph.
    Text(String),
    /// A trial: its test, what came out, and what that means.
    Trial(String, String, String),
    /// Something to beware of in the data.
    Warning(String),
    /// A component, or that there is no fault: where it stands, how probable that is, which it is, and why.
    Ranked(Standing, String, String, Option<String>),
    /// A component that is cleared.
    Cleared(String),
    /// What the lines that follow are.
    Label(&'static str),
    /// A caution for a test.
    Hazard(String),
    /// A step of a test, counted from 1.
    Step(usize, String),
    /// What counts as which outcome.
    Look(String),
    /// Lines for the job file.
    Entry(Vec<String>),
    /// A test that must come out yes.
    Must(String),
}

/// A section of the answer.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Section {
    /// What it is about.
    pub about: About,
    /// Its heading; empty where it goes on below the one before.
    pub heading: String,
    /// What it says.
    pub parts: Vec<Part>,
}

/// Sections being written.
struct Page {
    sections: Vec<Section>,
}

impl Page {
    fn heading(&mut self, about: About, text: &str) {
        self.sections.push(Section {
            about,
            heading: text.to_owned(),
            parts: Vec::new(),
        });
    }

    fn part(&mut self, part: Part) {
        if let Some(section) = self.sections.last_mut() {
            section.parts.push(part);
        }
    }

    fn text(&mut self, text: &str) {
        self.part(Part::Text(text.to_owned()));
    }
}

/// What isolation found, in the words that terminal and page have in common. `job` is what the file is called into which
/// the next trial is written.
pub(crate) fn sections(isolation: &Isolation<'_>, job: &str) -> Vec<Section> {
    let mut page = Page { sections: Vec::new() };
    trials(isolation, &mut page);
    suspects(isolation, &mut page);
    contradiction(isolation, &mut page);
    let decision = &isolation.answer.decision;
    if decision.stop {
        repair(isolation, &mut page);
    }
    match &decision.next {
        Some(next) if !decision.stop => next_test(isolation, next, job, &mut page),
        Some(next) => {
            page.heading(About::Next, "");
            page.text(&format!(
                "Another test would cost more than it gains. To be surer all the same: {} ({}).",
                isolation.system.tests[next.test].id,
                minutes(next.minutes)
            ));
        }
        None => {
            page.heading(About::Next, "");
            page.text("No further test of this system can tell more.");
        }
    }
    page.sections
}

/// Lines of a terminal being written.
struct Lines {
    lines: Vec<String>,
    colour: bool,
}

impl Lines {
    fn heading(&mut self, text: &str) {
        if !self.lines.is_empty() {
            self.lines.push(String::new());
        }
        let text = plain(text);
        for line in wrap(&text, COLUMNS, 0) {
            self.lines.push(if self.colour {
                format!("\x1b[1m{line}\x1b[0m")
            } else {
                line
            });
        }
    }

    /// A paragraph, its first line after `mark`, the others as far in.
    fn item(&mut self, mark: &str, text: &str) {
        let far = width(mark);
        for (n, line) in wrap(&plain(text), COLUMNS - far, 0).into_iter().enumerate() {
            self.lines.push(if n == 0 {
                format!("{mark}{line}")
            } else {
                format!("{}{line}", " ".repeat(far))
            });
        }
    }

    /// As [`Self::item`], after a sign that colour may repeat.
    fn signed(&mut self, standing: Standing, columns: &str, text: &str) {
        let at = self.lines.len();
        let gap = format!("  {} {columns}", standing.sign());
        self.item(&gap, text);
        if self.colour {
            let code = match standing {
                Standing::Suspected => "31",
                Standing::Possible => "33",
                Standing::Cleared => "32",
                Standing::Open => "2",
            };
            let sign = standing.sign().to_string();
            let painted = format!("\x1b[{code}m{sign}\x1b[0m");
            self.lines[at] = self.lines[at].replacen(&sign, &painted, 1);
        }
    }

    fn section(&mut self, section: &Section) {
        // A section without a heading goes on at the margin.
        let margin = if section.heading.is_empty() { "" } else { "  " };
        if !section.heading.is_empty() {
            self.heading(&section.heading);
        }
        let widest = |of: fn(&Part) -> usize| section.parts.iter().map(of).max().unwrap_or(0);
        let ids = widest(|part| if let Part::Trial(id, ..) = part { width(id) } else { 0 });
        let outcomes = widest(|part| {
            if let Part::Trial(_, found, _) = part {
                width(found)
            } else {
                0
            }
        });
        for part in &section.parts {
            match part {
                Part::Text(text) => self.item(margin, text),
                Part::Trial(id, found, text) => {
                    self.item(&format!("  {}  {}  ", pad(id, ids), pad(found, outcomes)), text);
                }
                Part::Warning(text) => self.item("  ! ", text),
                Part::Ranked(standing, probability, text, why) => {
                    self.signed(*standing, &format!("{}  ", pad(probability, 5)), text);
                    if let Some(why) = why {
                        self.item("      ", &format!("Why: {why}"));
                    }
                }
                Part::Cleared(text) => self.signed(Standing::Cleared, "", text),
                Part::Label(text) => self.item("  ", text),
                Part::Hazard(text) => self.item("    ! ", text),
                Part::Step(n, text) => self.item(&format!("    {n}. "), text),
                Part::Look(text) => self.item("    ", text),
                Part::Entry(entry) => self.lines.extend(entry.iter().map(|line| format!("    {line}"))),
                Part::Must(text) => self.item("  - ", text),
            }
        }
    }
}

/// What isolation found, as plain text of at most 80 columns. `job` is the file into which the next trial is written. With
/// `colour`, ANSI sequences are added; they only repeat what words and signs say.
#[must_use]
pub fn render(isolation: &Isolation<'_>, job: &str, colour: bool) -> String {
    let mut lines = Lines {
        lines: Vec::new(),
        colour,
    };
    lines.heading(&isolation.system.name);
    for section in sections(isolation, job) {
        lines.section(&section);
    }
    lines.lines.push(String::new());
    lines.item("", DISCLAIMER);
    let mut text = lines.lines.join("\n");
    text.push('\n');
    text
}

fn trials(isolation: &Isolation<'_>, page: &mut Page) {
    let Isolation { system, trials, .. } = *isolation;
    page.heading(About::Found, "What was found so far");
    if trials.evidence.is_empty() {
        page.text("Nothing yet: the ranking below is only how often each part fails.");
    }
    for one in &trials.evidence {
        let test = &system.tests[one.test];
        let mut text = phrase(test, one.outcome());
        if let Observation::Travel { .. } = one.seen {
            text = if one.is_firm() {
                format!("measured: {text}")
            } else {
                "measured, and not clear: it counts by how well it fits each outcome".to_owned()
            };
        }
        if one.origin == Origin::Positions {
            text.push_str(" (readings at positions)");
        }
        page.part(Part::Trial(test.id.clone(), found(one), text));
    }
    for one in &trials.unread {
        page.part(Part::Warning(format!(
            "{}: {} gives no figure, so that this trial does not count; {}",
            one.test,
            one.photo.display(),
            one.message
        )));
    }
    for warning in system.warnings.iter().chain(&trials.warnings) {
        page.part(Part::Warning(warning.to_string()));
    }
}

fn suspects(isolation: &Isolation<'_>, page: &mut Page) {
    let Isolation { system, answer, .. } = *isolation;
    let standings = isolation.standings();
    let of = |standing: Standing| {
        let ranked = answer.ranked_components();
        ranked
            .into_iter()
            .filter(|&c| standings[c] == standing)
            .collect::<Vec<usize>>()
    };
    let suspected = of(Standing::Suspected);
    page.heading(About::Suspected, "What is suspected");
    if suspected.is_empty() {
        page.text("No part stands out yet.");
    }
    for &c in &suspected {
        ranked(isolation, c, Standing::Suspected, Some(why(isolation, c)), page);
    }
    for &c in of(Standing::Possible).iter().take(MOST_POSSIBLE) {
        ranked(isolation, c, Standing::Possible, None, page);
    }
    if answer.nothing >= super::POSSIBLE {
        page.part(Part::Ranked(
            Standing::Open,
            percent(answer.nothing),
            "nothing is at fault".to_owned(),
            None,
        ));
    }
    if let Some(best) = answer
        .explanations
        .iter()
        .find(|one| one.faults.len() > 1 && one.probability >= 0.1)
    {
        let faults: Vec<String> = best
            .faults
            .iter()
            .map(|&(c, fault)| format!("{} {fault}", system.components[c].id))
            .collect();
        page.text(&format!(
            "Together: {} ({}).",
            faults.join(" and "),
            percent(best.probability)
        ));
    }
    let cleared = of(Standing::Cleared);
    page.heading(About::Cleared, "What is cleared");
    if cleared.is_empty() {
        page.text("Nothing yet.");
    }
    for c in cleared {
        let by: Vec<&str> = isolation
            .trials
            .evidence
            .iter()
            .filter(|one| is_yes(one) && system.tests[one.test].needs.contains(&c))
            .map(|one| system.tests[one.test].id.as_str())
            .collect();
        page.part(Part::Cleared(format!(
            "{} ({}), by {}",
            system.components[c].id,
            percent(answer.by_component[c]),
            by.join(", ")
        )));
    }
}

fn ranked(isolation: &Isolation<'_>, c: usize, standing: Standing, why: Option<String>, page: &mut Page) {
    let Isolation { system, answer, .. } = *isolation;
    let component = &system.components[c];
    let kinds: Vec<String> = answer
        .suspects
        .iter()
        .filter(|s| s.component == c && s.probability >= 0.005)
        .map(|s| format!("{} {}", s.fault, percent(s.probability)))
        .collect();
    page.part(Part::Ranked(
        standing,
        percent(answer.by_component[c]),
        format!(
            "{}, {standing}: {} [{}]",
            component.id,
            component.label,
            kinds.join(", ")
        ),
        why,
    ));
}

/// Why a component is suspected: the narrowest test that fails and needs it, beside one that passes without it.
fn why(isolation: &Isolation<'_>, c: usize) -> String {
    let Isolation { system, trials, .. } = *isolation;
    let label = &system.components[c].label;
    let needs = |one: &Evidence| system.tests[one.test].needs.contains(&c);
    let test = |one: &Evidence| -> &Test { &system.tests[one.test] };
    let failures: Vec<&Evidence> = trials
        .evidence
        .iter()
        .filter(|one| is_failure(one) && needs(one))
        .collect();
    let Some(narrowest) = failures.iter().copied().reduce(|best, one| {
        if test(one).needs.len() < test(best).needs.len() {
            one
        } else {
            best
        }
    }) else {
        return format!("no test so far speaks against the {label}; it is only one that fails often.");
    };
    let fails = phrase(test(narrowest), narrowest.outcome());
    if test(narrowest).needs.len() == 1 {
        return format!("{fails}; that test needs nothing but the {label}.");
    }
    // The pass that leaves least of a failure to be at fault.
    let mut best: Option<(&Evidence, &Evidence, usize)> = None;
    for &failure in &failures {
        let needed = &test(failure).needs;
        for pass in trials.evidence.iter().filter(|one| is_yes(one) && !needs(one)) {
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
            phrase(test(failure), failure.outcome())
        ),
        None => format!("{fails}, and that needs the {label}."),
    }
}

fn contradiction(isolation: &Isolation<'_>, page: &mut Page) {
    let Isolation { system, trials, answer } = *isolation;
    let Some(contradiction) = &answer.contradiction else {
        return;
    };
    page.heading(About::Contradiction, "These trials cannot all be right");
    for (&t, erroneous) in contradiction.trials.iter().zip(&contradiction.erroneous) {
        let one = &trials.evidence[t];
        let test = &system.tests[one.test];
        page.part(Part::Warning(format!(
            "{}: {} (wrong with {})",
            test.id,
            phrase(test, one.outcome()),
            percent(*erroneous)
        )));
    }
    let repeat = trials.evidence[contradiction.repeat].test;
    let id = &system.tests[repeat].id;
    let repeated = trials.evidence.iter().filter(|one| one.test == repeat).count() > 1;
    let advice = if repeated {
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
    page.text(&format!(
        "No faults of up to {} parts at once explain them together. {advice}",
        crate::isolate::MOST_FAULTS
    ));
}

fn repair(isolation: &Isolation<'_>, page: &mut Page) {
    let Isolation { system, answer, .. } = *isolation;
    let repairs = answer.decision.repairs(&answer.by_component, answer.nothing);
    let first = match repairs.first() {
        Some(Repair::Replace(c)) => *c,
        _ => {
            page.heading(About::Repair, "Stop testing: nothing seems to be at fault");
            page.text(
                "Work the range control once more and look at both beams. If they follow, there is nothing to replace.",
            );
            return;
        }
    };
    let order: Vec<usize> = repairs
        .iter()
        .filter_map(|repair| match repair {
            Repair::Replace(c) => Some(*c),
            Repair::LookAgain => None,
        })
        .collect();
    // All that are more probably faulty than not are replaced; the first in any case.
    let (now, later): (Vec<usize>, Vec<usize>) = order
        .into_iter()
        .partition(|&c| c == first || answer.by_component[c] >= 0.5);
    let label = |c: usize| &system.components[c].label;
    let names: Vec<String> = now.iter().map(|&c| format!("the {}", label(c))).collect();
    page.heading(About::Repair, &format!("Stop testing: replace {}", names.join(" and ")));
    let work: f64 = now.iter().map(|&c| system.components[c].replace_minutes).sum();
    page.text(&format!(
        "About {}. Before you do, look for what can be mended without a new part: a hose that is off, split or kinked, \
             a plug that is loose.",
        minutes(work)
    ));
    if now.iter().any(|&c| kinds_alike(isolation, c)) {
        page.text("Which fault it is, these tests do not tell for certain; the part is the same.");
    }
    let later: Vec<String> = later
        .iter()
        .filter(|&&c| answer.by_component[c] >= super::POSSIBLE)
        .take(3)
        .map(|&c| format!("the {} ({})", label(c), percent(answer.by_component[c])))
        .collect();
    if !later.is_empty() {
        page.text(&format!(
            "If a beam still does not follow then, next in line: {}.",
            later.join(", then ")
        ));
    }
    page.heading(About::MustShow, "What the repair must show");
    for test in must_show(system, &now, &isolation.trials.evidence) {
        page.part(Part::Must(format!("{}: {}", test.id, phrase(test, Moves::Yes))));
    }
    page.text(
        "Trials made before the repair no longer speak of this car: take them out of the job before you add new ones. \
         Photograph both beams at each position of the control again, with stage = \"after\", for the report.",
    );
}

/// Whether more than one kind of fault of a component is left.
fn kinds_alike(isolation: &Isolation<'_>, c: usize) -> bool {
    let of = |s: &&crate::isolate::Suspect| s.component == c && s.probability >= 0.1;
    isolation.answer.suspects.iter().filter(of).count() > 1
}

/// The tests that must come out yes after a repair: those that failed and need a replaced part, and working the control.
fn must_show<'a>(system: &'a System, replaced: &[usize], evidence: &[Evidence]) -> Vec<&'a Test> {
    system
        .tests
        .iter()
        .enumerate()
        .filter(|(t, test)| {
            let failed = evidence.iter().any(|one| one.test == *t && is_failure(one));
            test.by_positions || (failed && test.needs.iter().any(|c| replaced.contains(c)))
        })
        .map(|(_, test)| test)
        .collect()
}

fn next_test(isolation: &Isolation<'_>, next: &Candidate, job: &str, page: &mut Page) {
    let Isolation { system, trials, answer } = *isolation;
    let test = &system.tests[next.test];
    page.heading(
        About::Next,
        &format!("Next test: {}, about {}", test.id, minutes(next.minutes)),
    );
    if trials.evidence.iter().any(|one| one.test == next.test) {
        page.text("It was done before; do it once more, with care.");
    }
    // A repeat that a contradiction asks for comes first for its own reason, and without expected minutes.
    if let (Some(other), Some(with)) = (answer.decision.instead_of, next.expected_minutes) {
        let saved = other.expected_minutes.map_or(0.0, |m| m - with);
        page.text(&format!(
            "{} would tell more a minute by itself; this one first saves {} on the whole way, as things stand.",
            system.tests[other.test].id,
            minutes(saved)
        ));
    }
    let sure: Vec<&str> = (0..system.components.len())
        .filter(|&c| answer.by_component[c] >= SURE && next.expected_minutes.is_some())
        .map(|c| system.components[c].label.as_str())
        .collect();
    if !sure.is_empty() {
        page.text(&format!(
            "The {} must be replaced in any case; you may do that first and look at the beams again. This test is for \
                 what else may be at fault.",
            sure.join(" and the ")
        ));
    }
    page.text(&test.ask);
    if !test.kit.is_empty() {
        page.text(&format!("You need: {}.", test.kit.join("; ")));
    }
    if !test.hazards.is_empty() {
        page.part(Part::Label("Take care:"));
        for hazard in &test.hazards {
            page.part(Part::Hazard(hazard.clone()));
        }
    }
    if !test.steps.is_empty() {
        page.part(Part::Label("Step by step:"));
        for (n, step) in test.steps.iter().enumerate() {
            page.part(Part::Step(n + 1, step.clone()));
        }
    }
    if !test.look.is_empty() {
        page.part(Part::Label("What counts:"));
        page.part(Part::Look(test.look.clone()));
    }
    page.text(&format!("Then write into {job}, and run this again:"));
    let choices: Vec<String> = crate::isolate::outcomes(test.source)[1..]
        .iter()
        .map(|outcome| format!("\"{outcome}\""))
        .collect();
    page.part(Part::Entry(vec![
        "[[trial]]".to_owned(),
        format!("test = \"{}\"", plain(&test.id)),
        format!("moves = \"yes\"          # or {}", choices.join(", ")),
    ]));
    let meaning = predictions(isolation, test);
    if !meaning.is_empty() {
        page.text(&meaning);
    }
}

/// What a yes and what a no would speak for.
fn predictions(isolation: &Isolation<'_>, test: &Test) -> String {
    let Isolation { system, answer, .. } = *isolation;
    let open: Vec<usize> = answer
        .ranked_components()
        .into_iter()
        .filter(|&c| answer.by_component[c] >= 0.05)
        .collect();
    let list = |needed: bool| {
        let ids: Vec<&str> = open
            .iter()
            .filter(|c| test.needs.contains(c) == needed)
            .map(|&c| system.components[c].id.as_str())
            .take(4)
            .collect();
        ids.join(", ")
    };
    let (with, without) = (list(true), list(false));
    if with.is_empty() {
        return String::new();
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
    format!(
        "What it tells: if {}, {with} {verb} probably sound{left}; if not, {one} is at fault.",
        happening(test, Moves::Yes)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::isolate::{JobTrials, isolate};
    use crate::warning::Warning;
    use std::path::Path;

    /// Every line that anyone can be shown of the shipped systems: settled or not, contradicted or not, of each test.
    #[test]
    fn colour_only_repeats_and_no_line_is_wider_than_a_terminal() {
        for name in crate::record::system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            for test in 0..system.tests.len() {
                for outcomes in [&[Moves::No][..], &[Moves::Yes], &[Moves::No, Moves::Yes]] {
                    let evidence: Vec<Evidence> = outcomes
                        .iter()
                        .enumerate()
                        .map(|(n, moves)| Evidence::written(&system, test, *moves, Origin::Trial(n)))
                        .collect();
                    let answer = isolate(&system, &evidence);
                    let trials = JobTrials {
                        evidence,
                        unread: Vec::new(),
                        warnings: vec![Warning::PositionsBesideTrial {
                            test: "a word of warning ".repeat(9),
                        }],
                    };
                    let isolation = Isolation {
                        system: &system,
                        trials: &trials,
                        answer: &answer,
                    };
                    let plain = render(&isolation, "a/rather/long/path/to/the/folder/of/some/job.toml", false);
                    for line in plain.lines() {
                        assert!(width(line) <= COLUMNS, "{line}");
                    }
                    let mut stripped = render(&isolation, "a/rather/long/path/to/the/folder/of/some/job.toml", true);
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
