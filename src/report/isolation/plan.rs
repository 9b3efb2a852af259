//! The plan for the garage wall: as a tree in text, and as sheets of A4 in SVG.

use super::sheet::{self, Boxed, wrapped};
use super::{minutes, percent, sentence};
use crate::isolate::{Isolated, Plan, PlanStep, Repair};
use crate::language::{Language, said};
use crate::record::{FaultKind, System, Test};
use crate::report::say::isolation::{answer_words, meanings};
use crate::report::say::{first_suspect, happening, mending};
use crate::report::terminal::COLUMNS;
use crate::report::text::{fixed, plain, width, wrap};
use svg::node::element::Definitions;

/// The plan as text of at most 80 columns: the tree, then each of its tests in words.
#[must_use]
pub fn render(language: Language, isolated: &Isolated, plan: &Plan) -> String {
    let system = &isolated.system;
    let mut lines: Vec<String> = wrap(&plain(&title(language, system)), COLUMNS, 2);
    lines.extend(
        begun(language, isolated)
            .into_iter()
            .flat_map(|text| wrap(&plain(&text), COLUMNS, 2)),
    );
    lines.push(String::new());
    lines.extend(wrap(&step_words(language, system, &plan.step, &[]), COLUMNS, 2));
    branches(language, system, &plan.step, &mut Vec::new(), "", &mut lines);
    lines.push(String::new());
    lines.extend(wrap(&summary(language, plan), COLUMNS, 0));
    for test in tests_of(system, &plan.step) {
        lines.push(String::new());
        lines.extend(wrap(
            &plain(&format!("{} ({})", test.id, minutes(language, test.minutes))),
            COLUMNS,
            2,
        ));
        for (mark, text) in words_of(language, test) {
            let wrapped = wrap(&plain(&format!("{mark}{text}")), COLUMNS - 2, width(&mark).min(3));
            lines.extend(wrapped.into_iter().map(|line| format!("  {line}")));
        }
    }
    let mut text = lines.join("\n");
    text.push('\n');
    text
}

fn title(language: Language, system: &System) -> String {
    said!(language; "{}: which test when", "{}: welche Prüfung wann"; system.name.within(language))
}

/// Where the plan begins, where the job holds something already.
fn begun(language: Language, isolated: &Isolated) -> Option<String> {
    let suspect = first_suspect(language, isolated)
        .unwrap_or_else(|| said!(language; "no part more than another yet", "noch kein Bauteil mehr als ein anderes"));
    let is_begun = !isolated.trials.evidence.is_empty();
    is_begun.then(|| {
        said!(
            language;
            "From what the job holds so far. Suspected: {suspect}.",
            "Nach dem, was der Auftrag bisher enthält. Verdacht: {suspect}."
        )
    })
}

fn summary(language: Language, plan: &Plan) -> String {
    said!(
        language;
        "On average {} tests, {}. Outcomes that are left out are rare: then write the trials into the job and ask `beamfall \
         isolate JOB`. After each part, look whether both beams follow again.",
        "Im Mittel {} Prüfungen, {}. Ausgelassene Ergebnisse sind selten: dann die Versuche in den Auftrag eintragen und `beamfall \
         isolate AUFTRAG` fragen. Nach jedem Bauteil prüfen, ob beide Lichtkegel wieder folgen.";
        fixed(language, plan.tests, 1),
        minutes(language, plan.test_minutes)
    )
}

/// What is said of a test below the tree: what to do, what can hurt, what counts.
fn words_of(language: Language, test: &Test) -> Vec<(String, String)> {
    let mut words = vec![(String::new(), test.ask.within(language).to_owned())];
    let hazards = test.hazards.iter();
    words.extend(hazards.map(|hazard| ("! ".to_owned(), hazard.within(language).to_owned())));
    let steps = test.steps.iter().enumerate();
    words.extend(steps.map(|(n, step)| (format!("{}. ", n + 1), step.within(language).to_owned())));
    let (each, rest) = meanings(language, test);
    // Under the word at the tree's branches, and what it stands for.
    words.extend(each.into_iter().map(|(moves, means)| {
        let (branch, happens) = (sentence(moves.said(language)), answer_words(language, test, moves));
        (format!("{branch} ({happens}): "), means.to_owned())
    }));
    words.extend((!rest.is_empty()).then_some((String::new(), rest)));
    words
}

/// A test's name, and whether it is done once more on this way through the plan.
fn test_name(language: Language, system: &System, test: usize, path: &[usize]) -> String {
    let id = &system.tests[test].id;
    plain(&if path.contains(&test) {
        said!(language; "{id} once more", "noch einmal {id}")
    } else {
        id.clone()
    })
}

/// A step in a few words; `path`: the tests before it.
fn step_words(language: Language, system: &System, step: &PlanStep, path: &[usize]) -> String {
    match step {
        PlanStep::Test { candidate, branches } => {
            let name = test_name(language, system, candidate.test, path);
            let test = format!("{name} ({})", minutes(language, candidate.minutes));
            if branches.is_empty() {
                said!(language; "{test}, then ask anew", "{test}, dann neu fragen")
            } else {
                test
            }
        }
        PlanStep::Repair {
            order,
            probability,
            without_part,
            find_out_first,
        } => {
            let mut names: Vec<String> = order
                .iter()
                .map(|repair| plain(&repair_words(language, system, repair)))
                .collect();
            if let (true, Some(Repair::Replace(c)), Some(name)) = (*find_out_first, order.first(), names.first_mut()) {
                let (id, which) = (&system.components[*c].id, mending(language, without_part));
                *name = plain(&said!(
                    language;
                    "{id}: buy nothing yet, look whether it is enough to {which}; replace it only if not",
                    "{id}: noch nichts kaufen, erst prüfen, ob das genügt: {which}; nur ersetzen, wenn nicht"
                ));
            }
            let look = look_first(language, without_part, *find_out_first);
            let first = names
                .first()
                .cloned()
                .unwrap_or_else(|| said!(language; "nothing is left to do", "nichts mehr zu tun"));
            let then = if names.len() > 1 {
                let rest = names[1..].join(", ");
                said!(language; "; if that is not all, {rest}", "; genügt das nicht, {rest}")
            } else {
                String::new()
            };
            format!("■ {first} ({}){look}{then}", percent(*probability))
        }
    }
}

/// What of the first part is mended without a new one and is to be looked for before, where it is not what is said already.
fn look_first(language: Language, without_part: &[FaultKind], is_said: bool) -> String {
    if without_part.is_empty() || is_said {
        return String::new();
    }
    let ways = mending(language, without_part);
    said!(
        language;
        ", unless it is enough to {ways}: look for that first", ", wenn nicht das genügt: {ways}; das zuerst prüfen"
    )
}

fn repair_words(language: Language, system: &System, repair: &Repair) -> String {
    match repair {
        Repair::Replace(c) => said!(language; "replace {}", "{} ersetzen"; system.components[*c].id),
        Repair::LookAgain => said!(language; "look at both beams again", "beide Lichtkegel noch einmal ansehen"),
    }
}

fn branches(
    language: Language,
    system: &System,
    step: &PlanStep,
    path: &mut Vec<usize>,
    indent: &str,
    lines: &mut Vec<String>,
) {
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
        let then = step_words(language, system, &branch.step, path);
        let text = format!("{}: {then}", branch.outcome.said(language));
        for (k, line) in wrap(&text, room, 2).into_iter().enumerate() {
            let mark = if k == 0 { corner } else { below };
            lines.push(format!("{indent}{mark}{line}"));
        }
        let indent = format!("{indent}{below}");
        self::branches(language, system, &branch.step, path, &indent, lines);
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
pub fn draw(language: Language, isolated: &Isolated, plan: &Plan) -> String {
    let system = &isolated.system;
    let mut boxes = dangers(language, isolated, plan);
    let mut steps = Steps {
        language,
        system,
        boxes: Vec::new(),
        path: Vec::new(),
    };
    steps.add(&plan.step);
    boxes.extend(steps.boxes);
    let heights: Vec<usize> = boxes.iter().map(Boxed::height).collect();
    let (tops, count) = sheet::places(&heights);
    let name = system.name.within(language);
    let mut drawing = sheet::document(language, count, name, &title(language, system), Definitions::new());
    for (boxed, top) in boxes.iter().zip(tops) {
        drawing = drawing.add(boxed.drawn(top));
    }
    format!("{drawing}\n")
}

/// All that can hurt in the plan's tests, each once, and what the plan comes to.
fn dangers(language: Language, isolated: &Isolated, plan: &Plan) -> Vec<Boxed> {
    let tests = tests_of(&isolated.system, &plan.step);
    let mut lines = sheet::take_care(language, tests.iter().flat_map(|test| &test.hazards));
    lines.extend(
        begun(language, isolated)
            .into_iter()
            .flat_map(|text| wrapped(&text, 0, false)),
    );
    lines.extend(wrapped(&summary(language, plan), 0, false));
    lines.push((said!(language; "Begin with 1.", "Mit 1 beginnen."), true));
    Boxed::of_many(&lines)
}

/// The steps of a plan, numbered as they come.
struct Steps<'a> {
    language: Language,
    system: &'a System,
    boxes: Vec<Boxed>,
    /// Tests on the way to the step that is being added.
    path: Vec<usize>,
}

impl Steps<'_> {
    /// Adds a step and all after it; gives its number.
    fn add(&mut self, step: &PlanStep) -> usize {
        let language = self.language;
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
                    said!(language; "Once more, with care: ", "Noch einmal, mit Sorgfalt: ")
                } else {
                    String::new()
                };
                let (ask, about) = (test.ask.within(language), minutes(language, candidate.minutes));
                let asked = said!(
                    language; "{number}. {again}{ask} About {about}.", "{number}. {again}{ask} Etwa {about}."
                );
                lines.extend(wrapped(&asked, 4, true));
                self.path.push(candidate.test);
                for branch in branches {
                    let to = self.add(&branch.step);
                    let happens = sentence(&happening(language, test, branch.outcome));
                    let on = said!(language; "→ {happens}: go on with {to}.", "→ {happens}: weiter mit {to}.");
                    lines.extend(wrapped(&on, 2, false));
                }
                self.path.pop();
                let rest = if branches.is_empty() {
                    said!(
                        language;
                        "→ Write down what comes out: write it into the job and ask anew.",
                        "→ Aufschreiben, was herauskommt: in den Auftrag eintragen und neu fragen."
                    )
                } else {
                    said!(
                        language;
                        "→ Anything else: write it into the job and ask anew.",
                        "→ Alles andere: in den Auftrag eintragen und neu fragen."
                    )
                };
                lines.extend(wrapped(&rest, 2, false));
            }
            PlanStep::Repair {
                order,
                probability,
                without_part,
                find_out_first,
            } => {
                let look = self.look(without_part, *find_out_first);
                let repair = self.repair(order, *probability);
                lines.extend(wrapped(&format!("{number}. {repair}{look}"), 4, true));
            }
        }
        self.boxes[place].lines = lines;
        number
    }

    /// What is to be found out before a part is bought.
    fn look(&self, without_part: &[FaultKind], find_out_first: bool) -> String {
        let language = self.language;
        let ways = mending(language, without_part);
        match (without_part.is_empty(), find_out_first) {
            (true, _) => String::new(),
            (false, true) => said!(
                language;
                " Buy nothing yet: more probably it is enough to {ways}. Look for that; a new part only if it is not.",
                " Noch nichts kaufen, wahrscheinlich genügt das: {ways}. Erst das prüfen; ein Neuteil nur, wenn es nicht genügt."
            ),
            (false, false) => said!(
                language;
                " Before you buy a part, look whether it is enough to {ways}.",
                " Bevor ein Teil gekauft wird, prüfen, ob das genügt: {ways}."
            ),
        }
    }

    fn repair(&self, order: &[Repair], probability: f64) -> String {
        let language = self.language;
        let label = |c: usize| self.system.components[c].label.within(language);
        let said: Vec<String> = order
            .iter()
            .map(|repair| match repair {
                Repair::Replace(c) => {
                    said!(language; "mend or replace the {}", "instand setzen oder ersetzen: {}"; label(*c))
                }
                Repair::LookAgain => said!(
                    language;
                    "look at both beams at each position: if both follow, there is nothing to replace",
                    "beide Lichtkegel in jeder Stellung ansehen: folgen beide, gibt es nichts zu ersetzen"
                ),
            })
            .collect();
        match said.split_first() {
            None => said!(language; "Nothing is left to do.", "Nichts mehr zu tun."),
            Some((first, [])) => format!("{} ({}).", sentence(first), percent(probability)),
            Some((first, then)) => said!(
                language;
                "{} ({}). If a beam still does not follow, {}.",
                "{} ({}). Folgt ein Lichtkegel dann immer noch nicht: {}.";
                sentence(first),
                percent(probability),
                then.join(&said!(language; ", then ", ", dann "))
            ),
        }
    }
}
