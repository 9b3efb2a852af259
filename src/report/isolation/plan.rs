//! The plan as a tree for the garage wall: as text, and drawn as SVG.

use super::drawing::{document, path, rectangle, words};
use super::{minutes, percent, sentence};
use crate::isolate::{Plan, PlanStep, Repair};
use crate::record::{System, Test};
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
        Repair::LookAgain => "nothing found, look again".to_owned(),
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

/// From one column of the drawing to the next, px.
const COLUMN_PX: usize = 264;
/// Width of a box, px.
const BOX_PX: usize = 212;
/// Height of a box, px.
const HIGH_PX: usize = 44;
/// From one leaf to the next, px.
const ROW_PX: usize = 58;
/// Around the drawing, px.
const MARGIN_PX: usize = 24;
/// A line of the words below, px.
const LINE_PX: usize = 18;
/// Letters of a box's line, and of a pixel of the words below.
const BOX_LETTERS: usize = 34;
/// Mean width of a letter of the words below, px.
const LETTER_PX: usize = 8;

/// The plan as a whole SVG document: the tree from left to right, and below it each test in a sentence with its hazards.
/// Boxes of tests are rounded; boxes of repairs have corners and a heavy border.
#[must_use]
pub fn draw(system: &System, plan: &Plan) -> String {
    const TOP_PX: usize = 56;
    let mut tree = Tree {
        system,
        path: Vec::new(),
        leaves: 0,
        deepest: 0,
        boxes: Group::new(),
    };
    tree.place(&plan.step);
    let wide = (2 * MARGIN_PX + tree.deepest * COLUMN_PX + BOX_PX).max(900);
    let below = TOP_PX + tree.leaves * ROW_PX + 30;
    let lines = words_below(system, plan, (wide - 2 * MARGIN_PX) / LETTER_PX);
    let high = below + lines.len() * LINE_PX + MARGIN_PX;
    let title = format!("{}: which test when", system.name);
    let mut drawing = document((wide, high), &title, Definitions::new())
        .add(words(&title, (MARGIN_PX, 36), 20, true))
        .add(tree.boxes.set("transform", format!("translate({MARGIN_PX} {TOP_PX})")));
    for (n, (text, bold)) in lines.iter().enumerate() {
        drawing = drawing.add(words(text, (MARGIN_PX, below + n * LINE_PX), 14, *bold));
    }
    format!("{drawing}\n")
}

/// The lines below the tree, with whether each is bold: what the plan comes to, each test, and what can hurt.
fn words_below(system: &System, plan: &Plan, letters: usize) -> Vec<(String, bool)> {
    let tests = tests_of(system, &plan.step);
    let wrapped =
        |text: &str, indent: usize, bold: bool| wrap(text, letters, indent).into_iter().map(move |t| (t, bold));
    let mut lines: Vec<(String, bool)> = wrapped(&summary(plan), 0, false).collect();
    let mut hazards: Vec<&str> = Vec::new();
    for test in &tests {
        lines.extend(wrapped(&plain(&format!("{}: {}", test.id, test.ask)), 2, false));
        for hazard in &test.hazards {
            // Said once, not with each test: a wall has room for few words.
            if !hazards.contains(&hazard.as_str()) {
                hazards.push(hazard);
            }
        }
    }
    lines.push(("Take care:".to_owned(), true));
    for hazard in hazards {
        lines.extend(wrapped(&plain(&format!("! {hazard}")), 2, true));
    }
    lines
}

/// A tree being drawn.
struct Tree<'a> {
    system: &'a System,
    /// Tests on the way to the box that is being drawn.
    path: Vec<usize>,
    leaves: usize,
    deepest: usize,
    boxes: Group,
}

impl Tree<'_> {
    fn add(&mut self, node: impl Into<Box<dyn svg::Node>>) {
        svg::Node::append(&mut self.boxes, node);
    }

    /// Draws a step and all after it; gives the height of its middle, px.
    fn place(&mut self, step: &PlanStep) -> usize {
        let depth = self.path.len();
        self.deepest = self.deepest.max(depth);
        let lines = self.box_lines(step);
        let middle = match step {
            PlanStep::Test { candidate, branches } if !branches.is_empty() => {
                self.path.push(candidate.test);
                let heights: Vec<usize> = branches.iter().map(|branch| self.place(&branch.step)).collect();
                self.path.pop();
                let middle = (heights[0] + heights[heights.len() - 1]) / 2;
                for (branch, height) in branches.iter().zip(heights) {
                    self.branch(depth, middle, height, &branch.outcome.to_string());
                }
                middle
            }
            _ => {
                self.leaves += 1;
                (self.leaves - 1) * ROW_PX + HIGH_PX / 2
            }
        };
        let (round, stroke) = match step {
            PlanStep::Test { .. } => (10, 1),
            PlanStep::Repair { .. } => (0, 3),
        };
        let left = depth * COLUMN_PX;
        self.add(
            rectangle((left, middle - HIGH_PX / 2), (BOX_PX, HIGH_PX), "#ffffff")
                .set("rx", round)
                .set("stroke", "#000000")
                .set("stroke-width", stroke),
        );
        for (n, text) in lines.iter().enumerate() {
            let base = middle + 5 + 16 * n - 8 * (lines.len() - 1);
            self.add(words(text, (left + 8, base), 12, false));
        }
        middle
    }

    /// A line from a box's middle to that of one in the next column, with the outcome that leads there.
    fn branch(&mut self, depth: usize, middle: usize, height: usize, outcome: &str) {
        let (from, to) = (depth * COLUMN_PX + BOX_PX, (depth + 1) * COLUMN_PX);
        let way = format!("M{from} {middle} H{} V{height} H{to}", from + 14);
        self.add(path(&way, "#333333", 1.5));
        let outcome = words(short_outcome(outcome), (to - 3, height.saturating_sub(4)), 12, false);
        self.add(outcome.set("text-anchor", "end"));
    }

    /// What stands in a box: two lines at the most.
    fn box_lines(&self, step: &PlanStep) -> Vec<String> {
        let (first, second) = match step {
            PlanStep::Test { candidate, branches } => {
                let then = if branches.is_empty() { ", then ask" } else { "" };
                let name = test_name(self.system, candidate.test, &self.path);
                (name, Some(format!("{}{then}", minutes(candidate.minutes))))
            }
            PlanStep::Repair { order, .. } => {
                let mut words = order.iter().map(|repair| plain(&repair_words(self.system, repair)));
                let first = words.next().unwrap_or_else(|| "nothing is left to do".to_owned());
                (sentence(&first), words.next().map(|next| format!("then {next}")))
            }
        };
        let fitted = |text: String| shorten(&text, BOX_LETTERS);
        std::iter::once(first).chain(second).map(fitted).collect()
    }
}

/// The outcome as it fits on a line between boxes.
fn short_outcome(outcome: &str) -> &str {
    if outcome == "creeps-back" { "creeps" } else { outcome }
}
