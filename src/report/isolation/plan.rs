//! The plan for the garage wall: as a tree in text, and as sheets of A4 in SVG.

use super::sheet::{self, Boxed, wrapped};
use super::{minutes, percent, sentence};
use crate::isolate::{Isolated, Plan, PlanStep, Repair};
use crate::language::Language;
use crate::record::{System, Test};
use crate::report::say::{first_suspect, happening};
use crate::report::terminal::COLUMNS;
use crate::report::text::{fixed, plain, width, wrap};
use svg::node::element::Definitions;

/// The plan as text of at most 80 columns: the tree, then each of its tests in words.
#[must_use]
pub fn render(isolated: &Isolated, plan: &Plan) -> String {
    let system = &isolated.system;
    let mut lines: Vec<String> = wrap(&plain(&format!("{}: which test when", system.name)), COLUMNS, 2);
    lines.extend(
        begun(isolated)
            .into_iter()
            .flat_map(|text| wrap(&plain(&text), COLUMNS, 2)),
    );
    lines.push(String::new());
    lines.extend(wrap(&step_words(system, &plan.step, &[]), COLUMNS, 2));
    branches(system, &plan.step, &mut Vec::new(), "", &mut lines);
    lines.push(String::new());
    lines.extend(wrap(&summary(plan), COLUMNS, 0));
    for test in tests_of(system, &plan.step) {
        lines.push(String::new());
        lines.extend(wrap(
            &plain(&format!("{} ({})", test.id, minutes(Language::English, test.minutes))),
            COLUMNS,
            2,
        ));
        for (mark, text) in words_of(test) {
            let wrapped = wrap(&plain(&format!("{mark}{text}")), COLUMNS - 2, width(&mark).min(3));
            lines.extend(wrapped.into_iter().map(|line| format!("  {line}")));
        }
    }
    let mut text = lines.join("\n");
    text.push('\n');
    text
}

/// Where the plan begins, where the job holds something already.
fn begun(isolated: &Isolated) -> Option<String> {
    let suspect =
        first_suspect(Language::English, isolated).unwrap_or_else(|| "no part more than another yet".to_owned());
    let is_begun = !isolated.trials.evidence.is_empty();
    is_begun.then(|| format!("From what the job holds so far. Suspected: {suspect}."))
}

fn summary(plan: &Plan) -> String {
    format!(
        "On average {} tests, {}. Outcomes that are left out are rare: then write the trials into the job and ask `beamfall \
         isolate JOB`. After each part, look whether both beams follow again.",
        fixed(Language::English, plan.tests, 1),
        minutes(Language::English, plan.test_minutes)
    )
}

/// What is said of a test below the tree: what to do, what can hurt, what counts.
fn words_of(test: &Test) -> Vec<(String, String)> {
    let mut words = vec![(String::new(), test.ask.clone())];
    words.extend(test.hazards.iter().map(|hazard| ("! ".to_owned(), hazard.clone())));
    words.extend(
        test.steps
            .iter()
            .enumerate()
            .map(|(n, step)| (format!("{}. ", n + 1), step.clone())),
    );
    if !test.look.is_empty() {
        words.push(("What counts: ".to_owned(), test.look.clone()));
    }
    words
}

/// A test's name, and whether it is done once more on this way through the plan.
fn test_name(system: &System, test: usize, path: &[usize]) -> String {
    let again = if path.contains(&test) { " once more" } else { "" };
    plain(&format!("{}{again}", system.tests[test].id))
}

/// A step in a few words; `path`: the tests before it.
fn step_words(system: &System, step: &PlanStep, path: &[usize]) -> String {
    match step {
        PlanStep::Test { candidate, branches } => {
            let name = test_name(system, candidate.test, path);
            let then = if branches.is_empty() { ", then ask anew" } else { "" };
            format!("{name} ({}){then}", minutes(Language::English, candidate.minutes))
        }
        PlanStep::Repair { order, probability } => {
            let names: Vec<String> = order
                .iter()
                .map(|repair| plain(&repair_words(system, repair)))
                .collect();
            let first = names
                .first()
                .cloned()
                .unwrap_or_else(|| "nothing is left to do".to_owned());
            let then = if names.len() > 1 {
                format!("; if that is not all, {}", names[1..].join(", "))
            } else {
                String::new()
            };
            format!("■ {first} ({}){then}", percent(*probability))
        }
    }
}

fn repair_words(system: &System, repair: &Repair) -> String {
    match repair {
        Repair::Replace(c) => format!("replace {}", system.components[*c].id),
        Repair::LookAgain => "look at both beams again".to_owned(),
    }
}

fn branches(system: &System, step: &PlanStep, path: &mut Vec<usize>, indent: &str, lines: &mut Vec<String>) {
    let PlanStep::Test {
        candidate,
        branches: all,
    } = step
    else {
        return;
    };
    path.push(candidate.test);
    for (n, branch) in all.iter().enumerate() {
        let last = n + 1 == all.len();
        let (corner, below) = if last { ("└─ ", "   ") } else { ("├─ ", "│  ") };
        let room = COLUMNS.saturating_sub(width(indent) + 3);
        let text = format!("{}: {}", branch.outcome, step_words(system, &branch.step, path));
        for (k, line) in wrap(&text, room, 2).into_iter().enumerate() {
            let mark = if k == 0 { corner } else { below };
            lines.push(format!("{indent}{mark}{line}"));
        }
        self::branches(system, &branch.step, path, &format!("{indent}{below}"), lines);
    }
    path.pop();
}

/// The tests that the plan uses, in the system's order.
fn tests_of<'a>(system: &'a System, step: &PlanStep) -> Vec<&'a Test> {
    fn collect(step: &PlanStep, used: &mut Vec<usize>) {
        if let PlanStep::Test { candidate, branches } = step {
            used.push(candidate.test);
            branches.iter().for_each(|branch| collect(&branch.step, used));
        }
    }
    let mut used = Vec::new();
    collect(step, &mut used);
    used.sort_unstable();
    used.dedup();
    used.into_iter().map(|t| &system.tests[t]).collect()
}

/// The plan as a whole SVG document, sheets of A4 one below the other: first what can hurt, then each step in sentences with its
/// number, and after each outcome the number to go on with. Boxes of tests are rounded; those of repairs have corners and a heavy
/// border.
#[must_use]
pub fn draw(isolated: &Isolated, plan: &Plan) -> String {
    let system = &isolated.system;
    let title = format!("{}: which test when", system.name);
    let mut boxes = dangers(isolated, plan);
    let mut steps = Steps {
        system,
        boxes: Vec::new(),
        path: Vec::new(),
    };
    steps.add(&plan.step);
    boxes.extend(steps.boxes);
    let heights: Vec<usize> = boxes.iter().map(Boxed::height).collect();
    let (tops, count) = sheet::places(&heights);
    let mut drawing = sheet::document(count, &system.name, &title, Definitions::new());
    for (boxed, top) in boxes.iter().zip(tops) {
        drawing = drawing.add(boxed.drawn(top));
    }
    format!("{drawing}\n")
}

/// All that can hurt in the plan's tests, each once, and what the plan comes to.
fn dangers(isolated: &Isolated, plan: &Plan) -> Vec<Boxed> {
    let tests = tests_of(&isolated.system, &plan.step);
    let mut lines = sheet::take_care(tests.iter().flat_map(|test| &test.hazards));
    lines.extend(begun(isolated).into_iter().flat_map(|text| wrapped(&text, 0, false)));
    lines.extend(wrapped(&summary(plan), 0, false));
    lines.push(("Begin with 1.".to_owned(), true));
    Boxed::of_many(&lines)
}

/// The steps of a plan, numbered as they come.
struct Steps<'a> {
    system: &'a System,
    boxes: Vec<Boxed>,
    /// Tests on the way to the step that is being added.
    path: Vec<usize>,
}

impl Steps<'_> {
    /// Adds a step and all after it; gives its number.
    fn add(&mut self, step: &PlanStep) -> usize {
        let place = self.boxes.len();
        let number = place + 1;
        let is_repair = matches!(step, PlanStep::Repair { .. });
        self.boxes.push(Boxed {
            lines: Vec::new(),
            is_repair,
        });
        let mut lines: Vec<(String, bool)> = Vec::new();
        match step {
            PlanStep::Test { candidate, branches } => {
                let test = &self.system.tests[candidate.test];
                let again = if self.path.contains(&candidate.test) {
                    "Once more, with care: "
                } else {
                    ""
                };
                let about = minutes(Language::English, candidate.minutes);
                lines.extend(wrapped(
                    &format!("{number}. {again}{} About {about}.", test.ask),
                    4,
                    true,
                ));
                self.path.push(candidate.test);
                for branch in branches {
                    let to = self.add(&branch.step);
                    let happens = sentence(&happening(test, branch.outcome));
                    lines.extend(wrapped(&format!("→ {happens}: go on with {to}."), 2, false));
                }
                self.path.pop();
                let rest = if branches.is_empty() {
                    "Write down what comes out"
                } else {
                    "Anything else"
                };
                lines.extend(wrapped(
                    &format!("→ {rest}: write it into the job and ask anew."),
                    2,
                    false,
                ));
            }
            PlanStep::Repair { order, probability } => {
                lines.extend(wrapped(
                    &format!("{number}. {}", self.repair(order, *probability)),
                    4,
                    true,
                ));
            }
        }
        self.boxes[place].lines = lines;
        number
    }

    fn repair(&self, order: &[Repair], probability: f64) -> String {
        let label = |c: usize| format!("the {}", self.system.components[c].label);
        let said: Vec<String> = order
            .iter()
            .map(|repair| match repair {
                Repair::Replace(c) => format!("mend or replace {}", label(*c)),
                Repair::LookAgain => {
                    "look at both beams at each position: if both follow, there is nothing to replace".to_owned()
                }
            })
            .collect();
        match said.split_first() {
            None => "Nothing is left to do.".to_owned(),
            Some((first, [])) => format!("{} ({}).", sentence(first), percent(probability)),
            Some((first, then)) => format!(
                "{} ({}). If a beam still does not follow, {}.",
                sentence(first),
                percent(probability),
                then.join(", then ")
            ),
        }
    }
}
