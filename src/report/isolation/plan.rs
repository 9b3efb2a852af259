//! The plan for the garage wall: as a tree in text, and as sheets of A4 in SVG.

use super::drawing::{document, rectangle, words};
use super::{minutes, percent, sentence};
use crate::isolate::{Plan, PlanStep, Repair};
use crate::record::{System, Test};
use crate::report::say::happening;
use crate::report::terminal::COLUMNS;
use crate::report::text::{fixed, plain, shorten, width, wrap};
use svg::node::element::{Definitions, Group};

/// The plan as text of at most 80 columns: the tree, then each of its tests in words.
#[must_use]
pub fn render(system: &System, plan: &Plan) -> String {
    let mut lines: Vec<String> = wrap(&plain(&format!("{}: which test when", system.name)), COLUMNS, 2);
    lines.push(String::new());
    lines.extend(wrap(&step_words(system, &plan.step, &[]), COLUMNS, 2));
    branches(system, &plan.step, &mut Vec::new(), "", &mut lines);
    lines.push(String::new());
    lines.extend(wrap(&summary(plan), COLUMNS, 0));
    for test in tests_of(system, &plan.step) {
        lines.push(String::new());
        lines.extend(wrap(
            &plain(&format!("{} ({})", test.id, minutes(test.minutes))),
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

fn summary(plan: &Plan) -> String {
    format!(
        "On average {} tests, {}. Outcomes that are left out are rare: then write the trials into the job and ask `beamfall \
         isolate JOB`. After each part, look whether both beams follow again.",
        fixed(plan.tests, 1),
        minutes(plan.test_minutes)
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
            format!("{name} ({}){then}", minutes(candidate.minutes))
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

// The sheets are A4, in tenths of a millimetre.
/// Width and height of a sheet.
const SHEET: (usize, usize) = (2100, 2970);
/// Around what stands on a sheet.
const MARGIN: usize = 130;
/// Size of the letters: capitals are 3 mm high, to be read from an arm's length.
const LETTERS: usize = 43;
/// From one line to the next.
const LINE: usize = 55;
/// Letters that fit on a line: a bold one is as broad as 0.58 of its size, about.
const LINE_LETTERS: usize = (SHEET.0 - 2 * MARGIN - 80) * 100 / (58 * LETTERS);
/// Below a box, and within it above and below its lines.
const GAP: usize = 26;
/// Room for boxes on a sheet, below its heading.
const ROOM: usize = SHEET.1 - 2 * MARGIN - 3 * LINE;

/// A numbered step of the plan, or what can hurt: lines in one box that is not torn apart.
struct Boxed {
    lines: Vec<(String, bool)>,
    is_repair: bool,
}

impl Boxed {
    fn height(&self) -> usize {
        self.lines.len() * LINE + 2 * GAP
    }
}

/// The plan as a whole SVG document, sheets of A4 one below the other: first what can hurt, then each step in sentences with its
/// number, and after each outcome the number to go on with. Boxes of tests are rounded; those of repairs have corners and a heavy
/// border.
#[must_use]
pub fn draw(system: &System, plan: &Plan) -> String {
    let title = format!("{}: which test when", system.name);
    let mut boxes = dangers(system, plan);
    let mut steps = Steps {
        system,
        boxes: Vec::new(),
        path: Vec::new(),
    };
    steps.add(&plan.step);
    boxes.extend(steps.boxes);
    let mut sheets: Vec<Vec<Boxed>> = vec![Vec::new()];
    let mut filled = 0;
    for boxed in boxes {
        let high = boxed.height() + GAP;
        if filled + high > ROOM && filled > 0 {
            sheets.push(Vec::new());
            filled = 0;
        }
        filled += high;
        if let Some(sheet) = sheets.last_mut() {
            sheet.push(boxed);
        }
    }
    let count = sheets.len();
    let mut drawing = document((SHEET.0, SHEET.1 * count), &title, Definitions::new())
        .set("width", format!("{}mm", SHEET.0 / 10))
        .set("height", format!("{}mm", SHEET.1 * count / 10));
    for (n, sheet) in sheets.iter().enumerate() {
        let top = n * SHEET.1 + MARGIN;
        let heading = format!(
            "Sheet {} of {count}: {}",
            n + 1,
            shorten(&plain(&system.name), LINE_LETTERS - 18)
        );
        drawing = drawing.add(words(&heading, (MARGIN, top + LETTERS), LETTERS, true));
        drawing = drawing.add(drawn(sheet, top + 2 * LINE));
    }
    format!("{drawing}\n")
}

/// The boxes of a sheet, from `top` down.
fn drawn(sheet: &[Boxed], mut top: usize) -> Group {
    let mut group = Group::new();
    for boxed in sheet {
        let (round, stroke) = if boxed.is_repair { (0, 10) } else { (30, 4) };
        group = group.add(
            rectangle((MARGIN, top), (SHEET.0 - 2 * MARGIN, boxed.height()), "#ffffff")
                .set("rx", round)
                .set("stroke", "#000000")
                .set("stroke-width", stroke),
        );
        for (n, (text, bold)) in boxed.lines.iter().enumerate() {
            let base = top + GAP + LETTERS + n * LINE;
            group = group.add(words(text, (MARGIN + 40, base), LETTERS, *bold));
        }
        top += boxed.height() + GAP;
    }
    group
}

/// All that can hurt in the plan's tests, each once, and what the plan comes to.
fn dangers(system: &System, plan: &Plan) -> Vec<Boxed> {
    let mut hazards: Vec<&str> = Vec::new();
    for test in tests_of(system, &plan.step) {
        for hazard in &test.hazards {
            if !hazards.contains(&hazard.as_str()) {
                hazards.push(hazard);
            }
        }
    }
    let mut lines = vec![("Before all else, take care:".to_owned(), true)];
    for hazard in hazards {
        lines.extend(wrapped(&format!("! {hazard}"), 2, true));
    }
    lines.extend(wrapped(&summary(plan), 0, false));
    lines.push(("Begin with 1.".to_owned(), true));
    // More than a sheet holds goes on with the next.
    let boxed = |lines: &[(String, bool)]| Boxed {
        lines: lines.to_vec(),
        is_repair: false,
    };
    lines.chunks((ROOM - 3 * GAP) / LINE).map(boxed).collect()
}

fn wrapped(text: &str, indent: usize, bold: bool) -> impl Iterator<Item = (String, bool)> {
    wrap(&plain(text), LINE_LETTERS, indent)
        .into_iter()
        .map(move |line| (line, bold))
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
                let about = minutes(candidate.minutes);
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
                Repair::LookAgain => "look at both beams at each position: if both follow, there is nothing to replace".to_owned(),
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
