//! Which part is at fault, on the page and in results.json.

use super::fixture::{empty, full, isolated, measured, shut, with_system};
use super::{assert_at_most_80_columns, json, page};
use crate::adjuster::Adjuster;
use crate::isolate::Isolated;
use crate::language::{Language, Said};
use crate::record::{Extent, FaultKind, Gauge, Moves, RepairEntry, Side, Stage, System, Trial, TrialMoves};
use crate::report::results::IsolationResult;
use crate::report::say::isolation::test_name;
use crate::report::{Results, terminal};
use crate::run::Findings;
use serde_json::Value;

const CABIN: &str = "vacuum-cabin-control";

/// The page's section.
fn section(case: &Findings) -> String {
    let page = page(case);
    let (_, rest) = page
        .split_once("<section class=\"isolate\">")
        .expect("every page has the section");
    rest.split_once("</section>").unwrap().0.to_owned()
}

/// What stands between two marks, for each place where they stand.
fn between<'a>(text: &'a str, from: &str, to: &str) -> Vec<&'a str> {
    text.split(from)
        .skip(1)
        .map(|rest| rest.split_once(to).unwrap().0)
        .collect()
}

/// Text without its markup.
pub fn words(html: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for c in html.chars() {
        match c {
            '<' => inside = true,
            '>' => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    let out = out
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&");
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What the page calls a part.
fn label_of<'a>(case: &'a Findings, id: &str) -> &'a str {
    let system = &case.isolation.as_ref().unwrap().system;
    system.components[system.component(id).unwrap()]
        .label
        .within(Language::English)
}

/// What the page calls a test.
fn name_of(case: &Findings, id: &str) -> String {
    let system = &case.isolation.as_ref().unwrap().system;
    test_name(Language::English, &system.tests[system.test(id).unwrap()])
}

/// As the page writes a probability.
fn percent(probability: &Value) -> String {
    match (100.0 * probability.as_f64().unwrap()).round() {
        whole if whole >= 100.0 => ">99 %".to_owned(),
        whole if whole < 1.0 => "<1 %".to_owned(),
        whole => format!("{whole:.0} %"),
    }
}

/// As [`full`], the left beam following the control before the repair, too.
fn both_follow() -> Findings {
    let mut case = full();
    for (reading, percent) in case.readings.iter_mut().zip([1.22, 1.63, 2.05]) {
        reading.result.as_mut().unwrap().aim.inclination_percent = percent;
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    case
}

/// Jobs that come to different ends: a test to do next, a repair, a contradiction, nothing at fault; two systems.
fn cases() -> Vec<Findings> {
    let cabin = || System::find(CABIN, std::path::Path::new(".")).unwrap();
    vec![
        with_system(CABIN, &[]),
        with_system(CABIN, &[("pump-at-left-lamp", Moves::No)]),
        isolated(
            both_follow(),
            cabin(),
            &[
                ("pump-at-left-lamp", Moves::CreepsBack),
                ("operate-left", Moves::Yes),
                ("pump-at-left-line", Moves::Yes),
            ],
        ),
        isolated(
            both_follow(),
            cabin(),
            &[("operate-left", Moves::Yes), ("operate-right", Moves::Yes)],
        ),
        with_system("vacuum-bonnet-control", &[]),
    ]
}

#[test]
fn the_pages_suspects_are_those_of_the_json() {
    let (mut listed, mut kinds) = (0, 0);
    for case in cases() {
        let (section, found) = (section(&case), json(&case)["isolate"].clone());
        let mut wanted: Vec<Value> = found["components"].as_array().unwrap().clone();
        wanted.sort_by(|a, b| {
            b["probability"]
                .as_f64()
                .unwrap()
                .total_cmp(&a["probability"].as_f64().unwrap())
        });
        wanted.retain(|c| c["standing"] == "suspected" || c["standing"] == "possible");
        // Suspects come first, then the possible ones, each by probability.
        wanted.sort_by_key(|c| c["standing"] != "suspected");
        let ranked = between(&section, "<ol class=\"signs ranked\">", "</ol>");
        let items: Vec<String> = ranked
            .iter()
            .flat_map(|list| between(list, "<li>", "</li>"))
            .map(words)
            .filter(|item| !item.contains("nothing is at fault") && !item.contains("no part: what failed"))
            .collect();
        // All that are suspected, and the first five of the possible ones.
        let possible = wanted.iter().filter(|c| c["standing"] == "possible").count();
        assert_eq!(
            items.len(),
            wanted.len() - possible + possible.min(5),
            "{items:?} {wanted:?}"
        );
        for (item, wanted) in items.iter().zip(&wanted) {
            let (id, standing) = (
                wanted["component"].as_str().unwrap(),
                wanted["standing"].as_str().unwrap(),
            );
            let sign = if standing == "suspected" { "✗" } else { "?" };
            // Its reader is told no ids.
            let label = label_of(&case, id);
            let start = format!("{sign} {} {standing}: {label} [", percent(&wanted["probability"]));
            assert!(item.starts_with(&start), "{item} does not start with {start}");
            listed += 1;
            for suspect in found["suspects"].as_array().unwrap() {
                if suspect["component"] == *id && suspect["probability"].as_f64().unwrap() >= 0.005 {
                    // In words, where the JSON has its code.
                    let fault: FaultKind = serde_json::from_value(suspect["fault"].clone()).unwrap();
                    let kind = format!("{} {}", fault.said(Language::English), percent(&suspect["probability"]));
                    assert!(item.contains(&kind), "{item} lacks {kind}");
                    kinds += 1;
                }
            }
        }
        // What is cleared, too.
        let cleared: Vec<&Value> = found["components"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|c| c["standing"] == "cleared")
            .collect();
        let topic = between(&section, "<div class=\"topic cleared\">", "</div>")[0];
        assert_eq!(topic.matches("<li>").count(), cleared.len());
        for one in cleared {
            let begins = format!("✓ {}, by ", label_of(&case, one["component"].as_str().unwrap()));
            let said = format!("(left that it is at fault: {})", percent(&one["probability"]));
            let line = words(topic)
                .split('✓')
                .any(|line| format!("✓{line}").starts_with(&begins) && line.contains(&said));
            assert!(line, "{begins}… {said}: {topic}");
        }
    }
    assert!(listed > 5 && kinds > 12, "{listed} {kinds}");
}

#[test]
fn the_json_has_the_object_of_the_isolate_command() {
    for case in cases() {
        let wanted = serde_json::to_value(IsolationResult::new(case.isolation.as_ref().unwrap())).unwrap();
        let results = Results::new(&case);
        let written = crate::report::json(&results).unwrap();
        let got: Value = serde_json::from_str(&written).unwrap();
        assert_eq!(got["isolate"], wanted);
        for key in ["schema", "system", "suspects", "next", "settled", "contradiction"] {
            assert!(wanted.get(key).is_some(), "{key} of the agreed form");
        }
        let first = wanted["components"]
            .as_array()
            .unwrap()
            .iter()
            .find(|c| c["standing"] == "suspected");
        let said = terminal::readings(Language::English, &case, false, false);
        assert_at_most_80_columns(&said);
        let heading = said.split_once("Which part is at fault\n").unwrap().1;
        match first {
            Some(first) => {
                let components = &case.isolation.as_ref().unwrap().system.components;
                let label = components
                    .iter()
                    .find(|c| first["component"] == c.id.as_str())
                    .unwrap()
                    .label
                    .within(Language::English);
                let heading = heading.split_whitespace().collect::<Vec<_>>().join(" ");
                assert!(
                    heading.starts_with(&format!("Suspected before the repair: the {label} (")),
                    "{said}"
                );
            }
            None => assert!(
                heading.starts_with("Suspected before the repair: no part more than another yet"),
                "{said}"
            ),
        }
    }
}

/// Each box by itself says which part it is and where it stands, in words and by its sign and border.
#[test]
fn the_drawing_has_each_part_with_its_label_and_standing() {
    for case in cases() {
        let (section, found) = (section(&case), json(&case)["isolate"].clone());
        let drawings = between(&section, "<svg ", "</svg>");
        assert_eq!(drawings.len(), 1);
        let boxes = between(drawings[0], "<g>", "</g>");
        let system = &case.isolation.as_ref().unwrap().system;
        assert_eq!(boxes.len(), system.components.len());
        let mut looks = std::collections::BTreeMap::new();
        for ((drawn, component), result) in boxes
            .iter()
            .zip(&system.components)
            .zip(found["components"].as_array().unwrap())
        {
            let standing = result["standing"].as_str().unwrap();
            let title = words(between(drawn, "<title>", "</title>")[0]);
            let probability = percent(&result["probability"]);
            let label = component.label.within(Language::English);
            assert_eq!(title, format!("{label}: {standing}, {probability}"));
            let lines: Vec<String> = drawn
                .split("<text ")
                .skip(1)
                .map(|line| words(&format!("<{line}")))
                .collect();
            let sign = match standing {
                "suspected" => '✗',
                "possible" => '?',
                "cleared" => '✓',
                _ => '·',
            };
            let shown = match standing {
                "cleared" => format!("({probability})"),
                _ => probability.clone(),
            };
            assert_eq!(lines[0], format!("{sign} {standing} {shown}"));
            assert_eq!(lines[1..].join(" "), label);
            let rect = between(drawn, "<rect ", "/>")[0];
            let look = ["stroke-width=\"", "stroke-dasharray=\""].map(|name| {
                between(rect, name, "\"")
                    .first()
                    .map_or(String::new(), |value| (*value).to_owned())
            });
            looks.insert(standing.to_owned(), look);
        }
        // Where a part stands shows in its border alone, too.
        let mut borders: Vec<_> = looks.values().collect();
        borders.sort();
        borders.dedup();
        assert_eq!(borders.len(), looks.len(), "{looks:?}");
    }
}

#[test]
fn the_next_test_comes_with_its_cautions_before_its_steps() {
    let case = with_system(CABIN, &[]);
    let found = json(&case)["isolate"].clone();
    assert_eq!(found["settled"], false);
    let next = found["next"]["test"].as_str().unwrap();
    let system = &case.isolation.as_ref().unwrap().system;
    let test = &system.tests[system.test(next).unwrap()];
    assert!(!test.hazards.is_empty() && test.steps.len() > 2);
    let section = section(&case);
    let topic = section.split_once("<div class=\"topic next\">").unwrap().1;
    let heading = words(between(topic, "<h3 class=\"part\">", "</h3>")[0]);
    let begins = format!(
        "Next test: {}, about {:.0} minutes",
        name_of(&case, next),
        found["next"]["minutes"].as_f64().unwrap()
    );
    assert!(heading.starts_with(&begins), "{heading}");
    let list = |open: &str, close: &str| -> (usize, Vec<String>) {
        let at = topic.find(open).unwrap();
        let list = topic[at..].split_once(close).unwrap().0;
        (at, between(list, "<li>", "</li>").into_iter().map(words).collect())
    };
    let (cautions_at, cautions) = list("<ul class=\"signs hazards\">", "</ul>");
    let (steps_at, steps) = list("<ol class=\"steps\">", "</ol>");
    assert!(cautions_at < steps_at);
    let english = |said: &[Said]| -> Vec<String> {
        said.iter()
            .map(|one| one.within(Language::English).to_owned())
            .collect()
    };
    let wanted: Vec<String> = english(&test.hazards)
        .iter()
        .map(|hazard| format!("! {hazard}"))
        .collect();
    assert_eq!(cautions, wanted);
    // The car stands where its lamps were measured.
    let stands =
        |step: &String| step.replacen("Stand the car 5 to 10 m from a wall:", "The car stays on its marks:", 1);
    assert_eq!(steps, english(&test.steps).iter().map(stands).collect::<Vec<_>>());
    let said = words(topic);
    assert!(said.contains(test.ask.within(Language::English)), "{said}");
    // What counts stands under the answers' own words.
    for sentence in test.look.within(Language::English).split(". ") {
        let means = sentence.trim_end_matches('.');
        let means = ["yes: ", "no: ", "creeps-back: "]
            .iter()
            .fold(means, |means, outcome| means.trim_start_matches(outcome));
        assert!(said.contains(means), "{means}: {said}");
    }
}

/// Who reads a report meets neither keys of the job's file nor ids of tests and parts.
#[test]
fn the_reports_reader_meets_no_key_and_no_id() {
    let mut all = cases();
    // Series that are named for a test.
    let mut sealed = shut();
    for reading in sealed.readings.iter_mut().filter(|reading| reading.shot.sealed) {
        reading.shot.series = Some(format!("pump-at-{}-lamp", reading.shot.lamp));
    }
    sealed.adjuster = Adjuster::of(&sealed.readings, &sealed.job.adjuster, None);
    sealed
        .adjuster
        .leak_down
        .iter_mut()
        .for_each(|leak| leak.series = Some(format!("pump-at-{}-lamp", leak.lamp)));
    assert!(!sealed.adjuster.leak_down.is_empty());
    let cabin = System::find(CABIN, std::path::Path::new(".")).unwrap();
    let leaks = sealed.adjuster.leak_down.clone();
    let mut sealed = isolated(sealed, cabin, &[("operate-left", Moves::Yes)]);
    sealed.adjuster.leak_down = leaks;
    all.push(sealed);
    all.extend([
        full(),
        isolated(empty(), System::find(CABIN, std::path::Path::new(".")).unwrap(), &[]),
    ]);
    for case in all {
        let page = page(&case);
        let (_, main) = page.split_once("<main").unwrap_or(("", &page));
        let mut shown = main.to_owned();
        // Drawings are seen by their words, and style is not seen at all.
        for (from, to) in [("<style", "</style>"), ("<svg", "</svg>")] {
            while let Some(at) = shown.find(from) {
                let end = shown[at..].find(to).unwrap() + to.len();
                shown.replace_range(at..at + end, "");
            }
        }
        let said = words(&shown);
        let mut ids = vec!["[[", "left_right_limit_percent", "tolerance_choice", "stage = "];
        if let Some(isolated) = &case.isolation {
            let parts = isolated.system.components.iter().map(|part| part.id.as_str());
            let tests = isolated.system.tests.iter().map(|test| test.id.as_str());
            // Those that are words of their own are no ids to who reads them.
            ids.extend(parts.chain(tests).filter(|id| id.contains('-') && *id != "check-valve"));
        }
        for id in ids {
            assert!(!said.contains(id), "{id} in {said}");
        }
    }
}

#[test]
fn what_the_job_says_was_mended_is_not_to_be_replaced_again() {
    let mut case = full();
    case.job.repair = vec![RepairEntry {
        component: Some("left-actuator".to_owned()),
        date: "2031-03-04".to_owned(),
        words: "replaced".to_owned(),
        extent: None,
    }];
    let system = System::find(CABIN, std::path::Path::new(".")).unwrap();
    let mended = isolated(case, system, &[("pump-at-left-lamp", Moves::No)]);
    let text = section(&mended);
    assert!(
        text.contains("Mended since, by the job: the actuator of the left lamp"),
        "{text}"
    );
    assert!(
        !text.contains("Stop testing") && !text.contains("Write the repair"),
        "{text}"
    );
    assert!(text.contains("What the repair must show"));
}

#[test]
fn a_repair_says_what_it_must_show_and_a_contradiction_names_its_trials() {
    let settled = with_system(
        CABIN,
        &[("pump-at-left-lamp", Moves::No), ("reflector-left-by-hand", Moves::Yes)],
    );
    let found = json(&settled)["isolate"].clone();
    assert_eq!(found["settled"], true);
    let text = section(&settled);
    assert!(text.contains("Stop testing: mend or replace the actuator of the left lamp"));
    let must = between(&text, "<ul class=\"signs must\">", "</ul>")[0];
    for test in ["operate-left", "operate-right", "pump-at-left-lamp"] {
        let system = &settled.isolation.as_ref().unwrap().system;
        let with = system.tests[system.test(test).unwrap()].with.within(Language::English);
        assert!(words(must).contains(with), "{must}");
    }
    // The readings at positions are named as what they are, and that they are of the time before.
    assert!(text.contains("(readings at positions)") && text.contains("the car before the repair"));

    let torn = &cases()[2];
    let found = json(torn)["isolate"].clone();
    let trials = found["contradiction"]["trials"]
        .as_array()
        .unwrap_or_else(|| panic!("{found:#}"));
    let text = section(torn);
    let topic = between(&text, "<div class=\"topic contradiction\">", "</div>")[0];
    assert!(trials.len() > 1 && topic.matches("<li>").count() == trials.len());
    for trial in trials {
        // By its words, each once: what the pump was joined to, then what came of it.
        let (_, with) = name_of(torn, trial.as_str().unwrap())
            .split_once(", ")
            .map(|(a, b)| (a.to_owned(), b.to_owned()))
            .unwrap();
        assert_eq!(words(topic).matches(&format!("{with}, ")).count(), 1, "{topic}");
    }
    let repeat = found["contradiction"]["repeat"].as_str().unwrap();
    // It is asked for once more only where it comes next: one thing to do, not two.
    let is_next = found["next"]["test"] == repeat && found["settled"] == false;
    let repeat = name_of(torn, repeat);
    let topic = words(topic);
    assert_eq!(topic.contains(&format!("Do “{repeat}” once more")), is_next, "{topic}");
    assert!(topic.contains(&repeat), "{topic}");
}

/// Where the engine gives no vacuum, the brakes may lack it too: that stands with the repair, not only with the test.
#[test]
fn a_repair_of_the_source_is_said_with_its_dangers() {
    let failed = [
        ("operate-left", Moves::No),
        ("operate-right", Moves::No),
        ("gauge-at-control", Moves::No),
        ("gauge-at-source", Moves::No),
    ];
    let text = section(&with_system(CABIN, &failed));
    let repair = between(&text, "<div class=\"topic repair\">", "</div>");
    let [repair] = repair.as_slice() else { panic!("{text}") };
    let repair = words(repair);
    assert!(repair.contains("vacuum source at the engine"), "{repair}");
    assert!(
        repair.contains("brake servo") && repair.contains("engine and brakes checked"),
        "{repair}"
    );
    let settled = [("pump-at-left-lamp", Moves::No), ("reflector-left-by-hand", Moves::Yes)];
    let text = section(&with_system(CABIN, &settled));
    let actuator = between(&text, "<div class=\"topic repair\">", "</div>");
    assert!(
        !words(actuator[0]).contains("brake"),
        "an actuator is no brake's vacuum"
    );
}

/// One line, and neither table nor drawing.
#[test]
fn a_job_that_says_nothing_of_its_system_is_told_what_to_add() {
    let system = System::find(CABIN, std::path::Path::new(".")).unwrap();
    for (case, wanted) in [
        (full(), "which parts the car's range control has"),
        (isolated(empty(), system, &[]), "no test was entered"),
    ] {
        assert!(json(&case)["isolate"].is_null());
        let section = section(&case);
        assert!(words(&section).contains(wanted), "{section}");
        assert_eq!(section.matches("<p").count(), 1);
        for none in ["<svg", "<table", "<ul", "<ol", "<h3"] {
            assert!(!section.contains(none), "{none}");
        }
        assert!(!terminal::readings(Language::English, &case, false, false).contains("at fault"));
    }
}

/// The left beam is as dead after its actuator was replaced: what is suspected then is of the car with the new part.
#[test]
fn after_a_repair_that_did_not_help_what_is_suspected_is_of_the_car_now() {
    let mut case = full();
    for (reading, percent) in case.readings[3..].iter_mut().zip([1.62, 1.63, 1.62]) {
        reading.result.as_mut().unwrap().aim.inclination_percent = percent;
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    case.job.repair = vec![RepairEntry {
        component: Some("left-actuator".to_owned()),
        date: "2031-03-05".to_owned(),
        words: "replaced".to_owned(),
        extent: None,
    }];
    let case = isolated(case, System::find(CABIN, std::path::Path::new(".")).unwrap(), &[]);
    let found = json(&case)["isolate"].clone();
    let stages: Vec<&str> = (found["trials"].as_array().unwrap().iter())
        .map(|trial| trial["stage"].as_str().unwrap())
        .collect();
    assert_eq!(stages, ["before", "before", "after"]);
    let found_so_far = words(&section(&case));
    assert!(
        found_so_far
            .matches("after the repair: the actuator of the left lamp")
            .count()
            == 1,
        "{found_so_far}"
    );
    let said = terminal::readings(Language::English, &case, false, false);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let next = found["next"]["test"].as_str().unwrap();
    assert!(
        said.contains("Suspected: ") && !said.contains("Suspected before the repair"),
        "{said}"
    );
    // The answer names the step, too; the actuator is new.
    assert!(said.matches(&format!("({next}, about")).count() > 1, "{said}");
    // Why the actuator was replaced stays said, of the car as it was.
    assert!(
        said.contains("Probably at fault: the actuator of the left lamp") || said.contains("Suspected, not shown yet"),
        "{said}"
    );
    let section = section(&case);
    let (_, before) = section
        .split_once("What was suspected before the repair")
        .unwrap_or_else(|| panic!("{section}"));
    let before = words(before);
    assert!(
        before.contains("By what was found then: ") && before.contains("the left beam does not move"),
        "{before}"
    );
    assert!(page(&case).contains("as of the mended car"));
}

/// A part that is at fault with three quarters or less is not called the probable cause.
#[test]
fn a_weak_suspicion_is_called_no_more_than_that() {
    let said_of = |trials: &[(&str, Moves)]| {
        let case = with_system(CABIN, trials);
        terminal::readings(Language::English, &case, false, false)
    };
    let probable = |said: &str| said.contains("Probably at fault: ");
    let said = said_of(&[("pump-at-left-lamp", Moves::No)]);
    assert!(probable(&said) && !said.contains("Suspected, not shown yet"), "{said}");
    let case = with_system(CABIN, &[]);
    let most = case
        .isolation
        .as_ref()
        .unwrap()
        .answer
        .by_component
        .iter()
        .copied()
        .fold(0.0, f64::max);
    let said = said_of(&[]);
    assert_eq!(probable(&said), most > 0.75, "{most}: {said}");
}

/// The answer, as the end of what a terminal shows.
fn answer_of(case: &Findings) -> String {
    let text = terminal::readings_at(Language::English, case, false, false, 80);
    assert_at_most_80_columns(&text);
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    joined.split_once("The answer").unwrap().1.to_owned()
}

fn replaced(component: &str) -> RepairEntry {
    RepairEntry {
        component: Some(component.to_owned()),
        date: "2031-03-05".to_owned(),
        words: "replaced".to_owned(),
        extent: None,
    }
}

/// What is no part has no piece, whatever a job file says of it.
#[test]
fn a_lamp_that_was_set_is_no_piece() {
    let mut case = empty();
    for (n, percent) in [1.24, 1.64].into_iter().enumerate() {
        let position = n.to_string();
        let one = measured(
            &format!("{n}.jpg"),
            Side::Left,
            Some(Stage::After),
            Some(&position),
            percent,
        );
        case.readings.push(one);
    }
    let piece = |component: Option<&str>, words: &str| RepairEntry {
        component: component.map(str::to_owned),
        words: words.to_owned(),
        extent: Some(Extent::Piece),
        ..replaced("left-line")
    };
    case.job.repair = vec![piece(Some("left-line"), "new hose"), piece(None, "aim set anew")];
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let answer = answer_of(&case);
    assert!(
        answer.contains("new hose (a piece of it, 2031-03-05); aim set anew (2031-03-05)"),
        "{answer}"
    );
}

/// What a repair came to at a lamp is not known until that lamp is looked at.
#[test]
fn a_lamp_that_failed_and_was_not_looked_at_since_comes_first() {
    let made = |component: &str, left_after: bool| {
        let mut case = empty();
        let mut add = |side: Side, stage: Stage, percents: [f64; 4]| {
            for (n, percent) in percents.into_iter().enumerate() {
                let (photo, position) = (format!("{side}-{stage}-{n}.jpg"), n.to_string());
                case.readings
                    .push(measured(&photo, side, Some(stage), Some(&position), percent));
            }
        };
        add(Side::Left, Stage::Before, [1.24; 4]);
        add(Side::Right, Stage::After, [1.24, 1.64, 2.04, 2.44]);
        if left_after {
            add(Side::Left, Stage::After, [1.24, 1.64, 2.04, 2.44]);
        }
        case.job.repair = vec![replaced(component)];
        case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
        isolated(case, System::find(CABIN, std::path::Path::new(".")).unwrap(), &[])
    };
    let unseen = "did not follow the range control before the repair, and was not looked at since";
    for (component, of_other) in [("left-actuator", false), ("right-actuator", true)] {
        let case = made(component, false);
        let answer = answer_of(&case);
        let now = answer.split_once("What is wrong now: ").unwrap().1;
        assert!(
            now.starts_with(&format!("? not known: the left beam {unseen}")),
            "{answer}"
        );
        assert!(!now.contains("nothing that the photos show"), "{answer}");
        assert!(
            now.contains("What to do next: Photograph the left beam at 0, 1, 2 and 3 once more"),
            "{answer}"
        );
        assert_eq!(answer.contains("serves the right lamp alone"), of_other, "{answer}");
        let page = words(&page(&case));
        assert!(page.contains(unseen) && page.contains("Photograph the left beam at"));
        assert_eq!(page.contains("serves the right lamp alone"), of_other);
    }
    let answer = answer_of(&made("left-actuator", true));
    assert!(
        !answer.contains("not looked at since") && !answer.contains("What to do next"),
        "{answer}"
    );
}

/// Whether a leak is mended shows only where vacuum was shut in at that lamp again, or a gauge was watched there.
#[test]
fn a_leak_that_nobody_looked_for_since_is_not_said_to_be_gone() {
    let made = || {
        let mut case = shut();
        let pumped = (case.readings.iter_mut()).filter(|one| one.shot.lamp == Side::Left && one.shot.is_pumped());
        pumped.for_each(|reading| reading.shot.stage = Some(Stage::Before));
        case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
        case.job.repair = vec![replaced("left-actuator")];
        isolated(case, System::find(CABIN, std::path::Path::new(".")).unwrap(), &[])
    };
    let now = |trial: Option<(TrialMoves, Option<Gauge>)>| {
        let mut case = made();
        case.job.trial = Vec::from_iter(trial.map(|(moves, gauge)| Trial {
            test: "pump-at-left-lamp".to_owned(),
            moves: Some(moves),
            gauge,
            stage: Some(Stage::After),
            still: None,
            driven: None,
        }));
        answer_of(&case).split_once("What is wrong now: ").unwrap().1.to_owned()
    };
    let unseen = "the left lamp lost its vacuum before the repair, and whether it holds now was not seen";
    for trial in [None, Some((TrialMoves::Yes, None)), Some((TrialMoves::NotDone, None))] {
        let said = now(trial);
        assert!(
            said.contains(unseen) && said.contains("once more with the pump"),
            "{trial:?}: {said}"
        );
    }
    for trial in [
        (TrialMoves::Yes, Some(Gauge::RisesAndHolds)),
        (TrialMoves::CreepsBack, None),
    ] {
        let said = now(Some(trial));
        assert!(!said.contains(unseen), "{trial:?}: {said}");
    }
}

/// Photos that show nothing do not speak against a test that failed in the same breath.
#[test]
fn where_a_test_failed_nobody_is_told_that_nothing_is_wrong() {
    let mut case = full();
    case.job.repair = vec![replaced("left-actuator")];
    case = isolated(
        case,
        System::find(CABIN, std::path::Path::new(".")).unwrap(),
        &[("operate-left", Moves::No)],
    );
    let now = |case: &Findings| answer_of(case).split_once("What is wrong now: ").unwrap().1.to_owned();
    assert!(!now(&case).contains("by the tests"), "{}", now(&case));
    case.job.trial[0].stage = Some(Stage::After);
    let system = case.isolation.as_ref().unwrap().system.clone();
    case.isolation = Isolated::of_job(system, &case.job, &case.readings, &case.adjuster);
    let said = now(&case);
    assert!(
        said.contains("the left beam does not move") && !said.contains("nothing that the photos show"),
        "{said}"
    );
}
