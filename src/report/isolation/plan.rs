//! The plan as a tree for the garage wall: as text, and drawn as SVG.

use super::{minutes, percent, sentence};
use crate::isolate::{Plan, Repair, Step};
use crate::record::{System, Test};
use crate::report::terminal::COLUMNS;
use crate::report::text::{escape, fixed, plain, shorten, width, wrap};

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
fn step_words(system: &System, step: &Step, path: &[usize]) -> String {
    match step {
        Step::Test { candidate, branches } => {
            let name = test_name(system, candidate.test, path);
            let then = if branches.is_empty() { ", then ask anew" } else { "" };
            format!("{name} ({}){then}", minutes(candidate.minutes))
        }
        Step::Repair { order, probability } => {
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

fn branches(system: &System, step: &Step, path: &mut Vec<usize>, indent: &str, lines: &mut Vec<String>) {
    let Step::Test {
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
fn tests_of<'a>(system: &'a System, step: &Step) -> Vec<&'a Test> {
    fn collect(step: &Step, used: &mut Vec<usize>) {
        if let Step::Test { candidate, branches } = step {
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
    let mut tree = Tree {
        system,
        path: Vec::new(),
        leaves: 0,
        deepest: 0,
        out: String::new(),
    };
    tree.place(&plan.step);
    let Tree {
        leaves,
        deepest,
        out: boxes,
        ..
    } = tree;
    let wide = (2 * MARGIN_PX + deepest * COLUMN_PX + BOX_PX).max(900);
    let top = 56;
    let letters = (wide - 2 * MARGIN_PX) / LETTER_PX;
    let mut y = top + leaves * ROW_PX + 30;
    let mut words = String::new();
    let mut line = |text: &str, bold: bool| {
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        words.push_str(&format!(
            "<text x=\"{MARGIN_PX}\" y=\"{y}\" font-size=\"14\"{weight} xml:space=\"preserve\">{}</text>\n",
            escape(text)
        ));
        y += LINE_PX;
    };
    wrap(&summary(plan), letters, 0)
        .iter()
        .for_each(|text| line(text, false));
    let tests = tests_of(system, &plan.step);
    let mut hazards: Vec<&str> = Vec::new();
    for test in &tests {
        for text in wrap(&plain(&format!("{}: {}", test.id, test.ask)), letters, 2) {
            line(&text, false);
        }
        for hazard in &test.hazards {
            // Said once, not with each test: a wall has room for few words.
            if !hazards.contains(&hazard.as_str()) {
                hazards.push(hazard);
            }
        }
    }
    line("Take care:", true);
    for hazard in hazards {
        for text in wrap(&plain(&format!("! {hazard}")), letters, 2) {
            line(&text, true);
        }
    }
    let high = y + MARGIN_PX;
    let title = escape(&format!("{}: which test when", system.name));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" height=\"{high}\" \
         font-family=\"sans-serif\" role=\"img\">\n<title>{title}</title>\n<rect width=\"{wide}\" height=\"{high}\" \
         fill=\"#ffffff\"/>\n<text x=\"{MARGIN_PX}\" y=\"36\" font-size=\"20\" font-weight=\"bold\">{title}</text>\n\
         <g transform=\"translate({MARGIN_PX} {top})\">\n{boxes}</g>\n{words}</svg>\n"
    )
}

/// A tree being drawn.
struct Tree<'a> {
    system: &'a System,
    /// Tests on the way to the box that is being drawn.
    path: Vec<usize>,
    leaves: usize,
    deepest: usize,
    out: String,
}

impl Tree<'_> {
    /// Draws a step and all after it; gives the height of its middle, px.
    fn place(&mut self, step: &Step) -> usize {
        let depth = self.path.len();
        self.deepest = self.deepest.max(depth);
        let left = depth * COLUMN_PX;
        let lines = self.box_lines(step);
        let middle = match step {
            Step::Test { candidate, branches } if !branches.is_empty() => {
                self.path.push(candidate.test);
                let heights: Vec<usize> = branches.iter().map(|branch| self.place(&branch.step)).collect();
                self.path.pop();
                let middle = (heights[0] + heights[heights.len() - 1]) / 2;
                for (branch, &height) in branches.iter().zip(&heights) {
                    let (from, to) = (left + BOX_PX, left + COLUMN_PX);
                    self.out.push_str(&format!(
                        "<path d=\"M{from} {middle} H{} V{height} H{to}\" fill=\"none\" stroke=\"#333333\" \
                         stroke-width=\"1.5\"/>\n<text x=\"{}\" y=\"{}\" font-size=\"12\" \
                         text-anchor=\"end\">{}</text>\n",
                        from + 14,
                        to - 3,
                        height.saturating_sub(4),
                        short_outcome(&branch.outcome.to_string())
                    ));
                }
                middle
            }
            _ => {
                self.leaves += 1;
                (self.leaves - 1) * ROW_PX + HIGH_PX / 2
            }
        };
        let (round, stroke) = match step {
            Step::Test { .. } => (10, 1),
            Step::Repair { .. } => (0, 3),
        };
        self.out.push_str(&format!(
            "<rect x=\"{left}\" y=\"{}\" width=\"{BOX_PX}\" height=\"{HIGH_PX}\" rx=\"{round}\" fill=\"#ffffff\" \
             stroke=\"#000000\" stroke-width=\"{stroke}\"/>\n",
            middle - HIGH_PX / 2
        ));
        for (n, text) in lines.iter().enumerate() {
            self.out.push_str(&format!(
                "<text x=\"{}\" y=\"{}\" font-size=\"12\">{}</text>\n",
                left + 8,
                middle + 5 + 16 * n - 8 * (lines.len() - 1),
                escape(text)
            ));
        }
        middle
    }

    /// What stands in a box: two lines at the most.
    fn box_lines(&self, step: &Step) -> Vec<String> {
        let (first, second) = match step {
            Step::Test { candidate, branches } => {
                let then = if branches.is_empty() { ", then ask" } else { "" };
                let name = test_name(self.system, candidate.test, &self.path);
                (name, Some(format!("{}{then}", minutes(candidate.minutes))))
            }
            Step::Repair { order, .. } => {
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
