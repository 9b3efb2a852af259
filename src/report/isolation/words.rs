//! What isolation found in plain words: what is suspected and why, what is cleared, what to do next and for how long, and
//! what a repair must show afterwards.

use super::{Isolation, Standing, found, happening, is_failure, is_yes, minutes, percent, phrase};
use crate::isolate::{Candidate, Evidence, Origin, Repair, Seen};
use crate::record::{Moves, System, Test};
use crate::report::table::COLUMNS;
use crate::report::text::{pad, plain, width, wrap};

/// Components named at the most, beside those that are suspected.
const MOST_POSSIBLE: usize = 5;

/// A component this probably faulty has to be replaced whatever else comes out.
const SURE: f64 = 0.95;

/// Lines being written.
struct Page {
    lines: Vec<String>,
    colour: bool,
}

impl Page {
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
}

/// What isolation found, as plain text of at most 80 columns. `job` is the file into which the next trial is written. With
/// `colour`, ANSI sequences are added; they only repeat what words and signs say.
#[must_use]
pub fn render(isolation: &Isolation<'_>, job: &str, colour: bool) -> String {
    let mut page = Page {
        lines: Vec::new(),
        colour,
    };
    page.heading(&isolation.system.name);
    trials(isolation, &mut page);
    suspects(isolation, &mut page);
    contradiction(isolation, &mut page);
    let decision = &isolation.answer.decision;
    if decision.stop {
        repair(isolation, &mut page);
    }
    match &decision.next {
        Some(next) if !decision.stop => next_test(isolation, next, job, &mut page),
        Some(next) => page.item(
            "",
            &format!(
                "Another test would cost more than it gains. To be surer all the same: {} ({}).",
                isolation.system.tests[next.test].id,
                minutes(next.minutes)
            ),
        ),
        None => page.item("", "No further test of this system can tell more."),
    }
    page.lines.push(String::new());
    page.item(
        "",
        "beamfall is no certified instrument; local rules and a licensed inspection decide.",
    );
    let mut text = page.lines.join("\n");
    text.push('\n');
    text
}

fn trials(isolation: &Isolation<'_>, page: &mut Page) {
    let Isolation { system, trials, .. } = *isolation;
    page.heading("What was found so far");
    if trials.evidence.is_empty() {
        page.item(
            "  ",
            "Nothing yet: the ranking below is only how often each part fails.",
        );
    }
    let ids = trials
        .evidence
        .iter()
        .map(|one| width(&system.tests[one.test].id))
        .max()
        .unwrap_or(0);
    let outcomes = trials.evidence.iter().map(|one| width(&found(one))).max().unwrap_or(0);
    for one in &trials.evidence {
        let test = &system.tests[one.test];
        let mut text = phrase(test, one.outcome());
        if let Seen::Travel { .. } = one.seen {
            text = if one.is_firm() {
                format!("measured: {text}")
            } else {
                "measured, and not clear: it counts by how well it fits each outcome".to_owned()
            };
        }
        if one.origin == Origin::Positions {
            text.push_str(" (readings at positions)");
        }
        let mark = format!("  {}  {}  ", pad(&test.id, ids), pad(&found(one), outcomes));
        page.item(&mark, &text);
    }
    for one in &trials.unread {
        page.item(
            "  ! ",
            &format!(
                "{}: {} gives no figure, so that this trial does not count; {}",
                one.test,
                one.photo.display(),
                one.message
            ),
        );
    }
    for warning in system.warnings.iter().chain(&trials.warnings) {
        page.item("  ! ", warning);
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
    page.heading("What is suspected");
    if suspected.is_empty() {
        page.item("  ", "No part stands out yet.");
    }
    for &c in &suspected {
        component_line(isolation, c, Standing::Suspected, page);
        page.item("      ", &format!("Why: {}", why(isolation, c)));
    }
    for &c in of(Standing::Possible).iter().take(MOST_POSSIBLE) {
        component_line(isolation, c, Standing::Possible, page);
    }
    if answer.nothing >= super::POSSIBLE {
        page.item(
            &format!("  · {}  ", pad(&percent(answer.nothing), 5)),
            "nothing is at fault",
        );
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
        page.item(
            "  ",
            &format!("Together: {} ({}).", faults.join(" and "), percent(best.probability)),
        );
    }
    let cleared = of(Standing::Cleared);
    page.heading("What is cleared");
    if cleared.is_empty() {
        page.item("  ", "Nothing yet.");
    }
    for c in cleared {
        let by: Vec<&str> = isolation
            .trials
            .evidence
            .iter()
            .filter(|one| is_yes(one) && system.tests[one.test].needs.contains(&c))
            .map(|one| system.tests[one.test].id.as_str())
            .collect();
        page.signed(
            Standing::Cleared,
            "",
            &format!(
                "{} ({}), by {}",
                system.components[c].id,
                percent(answer.by_component[c]),
                by.join(", ")
            ),
        );
    }
}

fn component_line(isolation: &Isolation<'_>, c: usize, standing: Standing, page: &mut Page) {
    let Isolation { system, answer, .. } = *isolation;
    let component = &system.components[c];
    let kinds: Vec<String> = answer
        .suspects
        .iter()
        .filter(|s| s.component == c && s.probability >= 0.005)
        .map(|s| format!("{} {}", s.fault, percent(s.probability)))
        .collect();
    page.signed(
        standing,
        &format!("{}  ", pad(&percent(answer.by_component[c]), 5)),
        &format!(
            "{}, {standing}: {} [{}]",
            component.id,
            component.label,
            kinds.join(", ")
        ),
    );
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
    page.heading("These trials cannot all be right");
    for (&t, botched) in contradiction.trials.iter().zip(&contradiction.botched) {
        let one = &trials.evidence[t];
        let test = &system.tests[one.test];
        page.item(
            "  ! ",
            &format!(
                "{}: {} (wrong with {})",
                test.id,
                phrase(test, one.outcome()),
                percent(*botched)
            ),
        );
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
    page.item(
        "  ",
        &format!(
            "No faults of up to {} parts at once explain them together. {advice}",
            crate::isolate::MOST_FAULTS
        ),
    );
}

fn repair(isolation: &Isolation<'_>, page: &mut Page) {
    let Isolation { system, answer, .. } = *isolation;
    let repairs = answer.decision.repairs(&answer.by_component, answer.nothing);
    let first = match repairs.first() {
        Some(Repair::Replace(c)) => *c,
        _ => {
            page.heading("Stop testing: nothing seems to be at fault");
            page.item(
                "  ",
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
    page.heading(&format!("Stop testing: replace {}", names.join(" and ")));
    let work: f64 = now.iter().map(|&c| system.components[c].replace_minutes).sum();
    page.item(
        "  ",
        &format!(
            "About {}. Before you do, look for what can be mended without a new part: a hose that is off, split or kinked, \
             a plug that is loose.",
            minutes(work)
        ),
    );
    if now.iter().any(|&c| kinds_alike(isolation, c)) {
        page.item(
            "  ",
            "Which fault it is, these tests do not tell for certain; the part is the same.",
        );
    }
    let later: Vec<String> = later
        .iter()
        .filter(|&&c| answer.by_component[c] >= super::POSSIBLE)
        .take(3)
        .map(|&c| format!("the {} ({})", label(c), percent(answer.by_component[c])))
        .collect();
    if !later.is_empty() {
        page.item(
            "  ",
            &format!(
                "If a beam still does not follow then, next in line: {}.",
                later.join(", then ")
            ),
        );
    }
    page.heading("What the repair must show");
    for test in must_show(system, &now, &isolation.trials.evidence) {
        page.item("  - ", &format!("{}: {}", test.id, phrase(test, Moves::Yes)));
    }
    page.item(
        "  ",
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
    page.heading(&format!("Next test: {}, about {}", test.id, minutes(next.minutes)));
    if trials.evidence.iter().any(|one| one.test == next.test) {
        page.item("  ", "It was done before; do it once more, with care.");
    }
    // A repeat that a contradiction asks for comes first for its own reason, and without expected minutes.
    if let (Some(other), Some(with)) = (answer.decision.instead_of, next.expected_minutes) {
        let saved = other.expected_minutes.map_or(0.0, |m| m - with);
        page.item(
            "  ",
            &format!(
                "{} would tell more a minute by itself; this one first saves {} on the whole way, as things stand.",
                system.tests[other.test].id,
                minutes(saved)
            ),
        );
    }
    let sure: Vec<&str> = (0..system.components.len())
        .filter(|&c| answer.by_component[c] >= SURE && next.expected_minutes.is_some())
        .map(|c| system.components[c].label.as_str())
        .collect();
    if !sure.is_empty() {
        page.item(
            "  ",
            &format!(
                "The {} must be replaced in any case; you may do that first and look at the beams again. This test is for \
                 what else may be at fault.",
                sure.join(" and the ")
            ),
        );
    }
    page.item("  ", &test.ask);
    if !test.kit.is_empty() {
        page.item("  ", &format!("You need: {}.", test.kit.join("; ")));
    }
    if !test.hazards.is_empty() {
        page.lines.push("  Take care:".to_owned());
        for hazard in &test.hazards {
            page.item("    ! ", hazard);
        }
    }
    if !test.steps.is_empty() {
        page.lines.push("  Step by step:".to_owned());
        for (n, step) in test.steps.iter().enumerate() {
            page.item(&format!("    {}. ", n + 1), step);
        }
    }
    if !test.look.is_empty() {
        page.lines.push("  What counts:".to_owned());
        page.item("    ", &test.look);
    }
    page.item("  ", &format!("Then write into {job}, and run this again:"));
    let choices: Vec<String> = crate::isolate::outcomes(test.source)[1..]
        .iter()
        .map(|outcome| format!("\"{outcome}\""))
        .collect();
    for line in [
        "[[trial]]".to_owned(),
        format!("test = \"{}\"", plain(&test.id)),
        format!("moves = \"yes\"          # or {}", choices.join(", ")),
    ] {
        page.lines.push(format!("    {line}"));
    }
    let meaning = predictions(isolation, test);
    if !meaning.is_empty() {
        page.item("  ", &meaning);
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
                        warnings: vec!["a word of warning ".repeat(9)],
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
