//! `beamfall isolate` as a user runs it: JSON, words, exit statuses, trials that photos decide, plan and drawings.

mod common;

use common::program;
use std::path::Path;
use std::process::Output;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-photos");

fn isolate(arguments: &[&str]) -> Output {
    program().arg("isolate").args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn json(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|e| panic!("{e}: {}", text(&output.stderr)))
}

/// A job with these trials; its bay need not be there, as no photo is read.
fn job(folder: &Path, trials: &[(&str, &str)]) -> String {
    let mut job =
        "schema = 1\njob = \"T\"\nbay = \"none.toml\"\ntraffic = \"right\"\nsystem = \"vacuum-cabin-control\"\n"
            .to_owned();
    for (test, moves) in trials {
        job.push_str(&format!("[[trial]]\ntest = \"{test}\"\nmoves = \"{moves}\"\n"));
    }
    write(folder, &job)
}

fn write(folder: &Path, job: &str) -> String {
    let path = folder.join("job.toml");
    std::fs::write(&path, job).unwrap();
    path.to_string_lossy().into_owned()
}

#[test]
fn json_has_the_agreed_keys() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(
        folder.path(),
        &[
            ("operate-left", "no"),
            ("operate-right", "no"),
            ("bridge-left-at-control", "yes"),
        ],
    );
    let output = isolate(&[&path, "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let answer = json(&output);
    assert_eq!(answer["schema"], 1);
    assert_eq!(answer["system"], "vacuum-cabin-control");
    let first = &answer["suspects"][0];
    assert_eq!(
        (first["component"].as_str(), first["fault"].as_str()),
        (Some("control"), Some("leaks"))
    );
    assert!(
        first["probability"].as_f64().unwrap() > 0.6 && first["with"].is_array(),
        "{first}"
    );
    let next = &answer["next"];
    assert!(next["test"].is_string() && next["minutes"].is_number(), "{next}");
    assert!(next["expected_bits"].as_f64().unwrap() > 0.0, "{next}");
    assert!(answer["settled"].is_boolean());
    assert!(answer["contradiction"].is_null());
    // The same input gives the same bytes.
    assert_eq!(output.stdout, isolate(&[&path, "--json"]).stdout);
}

#[test]
fn words_fit_a_terminal_and_say_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(folder.path(), &[("operate-left", "no"), ("operate-right", "yes")]);
    let output = isolate(&[&path]);
    assert_eq!(output.status.code(), Some(0));
    let said = text(&output.stdout);
    for part in [
        "Next test: ",
        "Take care",
        "high voltage",
        "Step by step",
        "What counts",
        "To be set up for it",
        "the cover off behind the left lamp",
        "test = \"",
        "\"not-done\"",
        "right-actuator",
        "cleared",
        "no certified instrument",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!said.contains('\u{1b}'), "no colour in a pipe");
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    // Settled: what to replace, and what it must show then.
    let path = job(
        folder.path(),
        &[
            ("operate-left", "no"),
            ("operate-right", "yes"),
            ("pump-at-left-lamp", "no"),
            ("reflector-left-by-hand", "yes"),
        ],
    );
    let said = text(&isolate(&[&path]).stdout);
    for part in [
        "Stop testing: mend or replace the actuator of the left lamp",
        "About 22 minutes",
        "What the repair must show",
        "pump-at-left-lamp: with the hand pump on the left actuator itself, the left",
        "nothing but the actuator of the left lamp",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    // A fault that is mended without a new part names its mend, and is written down as what was seen.
    for (seen, mend) in [
        ("rod-off", "hang the actuator's rod on the reflector again"),
        ("stiff", "free the reflector's pivots"),
    ] {
        let trials = [
            ("operate-left", "no"),
            ("operate-right", "yes"),
            ("pump-at-left-lamp", "no"),
            ("reflector-left-by-hand", seen),
        ];
        let path = job(folder.path(), &trials);
        let said = text(&isolate(&[&path]).stdout)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert!(said.contains(mend) && !said.contains("mend or replace"), "{said}");
        assert_eq!(json(&isolate(&[&path, "--json"]))["suspects"][0]["fault"], seen);
    }
    let path = job(folder.path(), &[("operate-left", "stiff")]);
    let refused = isolate(&[&path]);
    assert!(refused.status.code() == Some(1) && text(&refused.stderr).contains("does not look at such a fault"));
}

#[test]
fn slips_are_errors_that_say_where() {
    let folder = tempfile::tempdir().unwrap();
    let message = |output: Output, status: i32| {
        assert_eq!(output.status.code(), Some(status), "{}", text(&output.stderr));
        assert!(output.stdout.is_empty());
        text(&output.stderr)
    };
    let path = job(folder.path(), &[("bridge", "no")]);
    let said = message(isolate(&[&path]), 1);
    assert!(
        said.contains("\"bridge\"") && said.contains("bridge-left-at-control"),
        "{said}"
    );
    let path = job(folder.path(), &[("operate-left", "sometimes")]);
    assert!(message(isolate(&[&path]), 1).contains("sometimes"));
    let none = write(
        folder.path(),
        "schema = 1\njob = \"T\"\nbay = \"b.toml\"\ntraffic = \"right\"\n",
    );
    let said = message(isolate(&[&none]), 1);
    assert!(
        said.contains("names no system") && said.contains("vacuum-cabin-control"),
        "{said}"
    );
    let said = message(isolate(&["vacuum-boot-control"]), 1);
    assert!(said.contains("no system of this name"), "{said}");
    message(isolate(&[]), 2);
    // A gauge has no photos.
    let gauge = write(
        folder.path(),
        "schema = 1\njob = \"T\"\nbay = \"b.toml\"\ntraffic = \"right\"\nsystem = \"vacuum-cabin-control\"\n[[trial]]\n\
         test = \"gauge-at-control\"\nstill = \"1.jpg\"\ndriven = \"2.jpg\"\n",
    );
    assert!(message(isolate(&[&gauge]), 1).contains("moves no lamp"));
    // Nothing is drawn where it cannot be.
    let path = job(folder.path(), &[("operate-left", "no")]);
    let nowhere = folder.path().join("not/there.svg");
    let said = message(isolate(&[&path, "--svg", &nowhere.to_string_lossy()]), 1);
    assert!(said.contains("there.svg"), "{said}");
}

#[test]
fn a_measure_of_a_job_with_a_wrong_trial_says_so_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(folder.path(), &[("bridge", "no")]).replace("job.toml", "");
    std::fs::copy(format!("{SAMPLE}/bay.toml"), folder.path().join("none.toml")).unwrap();
    let output = program().args(["measure", &path]).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("\"bridge\""), "{}", text(&output.stderr));
}

/// The invented job's left beam does not follow the control before the repair: photos say so, once as a trial of two
/// photos and once as readings at positions. A photo that is refused leaves its trial out, with status 3.
#[test]
fn photos_decide_trials_and_refused_ones_do_not_count() {
    let folder = tempfile::tempdir().unwrap();
    let head = format!(
        "schema = 1\njob = \"T\"\nbay = \"{SAMPLE}/bay.toml\"\ntraffic = \"right\"\nsystem = \"vacuum-cabin-control\"\n\
         [[lamp]]\nside = \"left\"\ncentre_height_mm = 652.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n"
    );
    let photo = |name: &str| format!("\"{SAMPLE}/photos/{name}.jpg\"");
    let shots: String = ["0", "3"]
        .iter()
        .map(|position| {
            format!(
                "[[shot]]\nphoto = {}\nlamp = \"left\"\nstage = \"before\"\nposition = \"{position}\"\n",
                photo(&format!("left-before-{position}"))
            )
        })
        .collect();
    let trial = format!(
        "[[trial]]\ntest = \"pump-at-left-lamp\"\nstill = {}\ndriven = {}\n[[trial]]\ntest = \"pump-at-left-line\"\nstill = {}\n\
         driven = {}\n",
        photo("left-before-0"),
        photo("left-before-3"),
        photo("left-before-0"),
        photo("left-after-1-first-try"),
    );
    let path = write(folder.path(), &format!("{head}{shots}{trial}"));
    let output = isolate(&[&path, "--json"]);
    assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
    let answer = json(&output);
    let trials = answer["trials"].as_array().unwrap();
    assert_eq!(trials.len(), 2, "{answer}");
    for (trial, (test, from)) in trials
        .iter()
        .zip([("pump-at-left-lamp", "trial"), ("operate-left", "positions")])
    {
        assert_eq!(
            (trial["test"].as_str(), trial["from"].as_str()),
            (Some(test), Some(from))
        );
        assert_eq!(trial["outcome"], "no", "{trial}");
        // The truth of these made photos is 0: the actuator does not move.
        let travel = trial["travel_percent"].as_f64().unwrap();
        assert!(
            travel.abs() <= trial["u95_percent"].as_f64().unwrap() && travel.abs() < 0.05,
            "{trial}"
        );
    }
    assert_eq!(answer["suspects"][0]["component"], "left-actuator");
    let unread = answer["unread"].as_array().unwrap();
    assert_eq!(unread.len(), 1);
    assert!(
        unread[0]["message"].as_str().unwrap().contains("overexposed"),
        "{unread:?}"
    );
    // The right lamp has no readings: said, not passed over.
    assert!(
        answer["warnings"]
            .as_array()
            .unwrap()
            .iter()
            .any(|w| w.as_str().unwrap().contains("operate-right"))
    );
    // The readings of the job carry the same object: the trials' photos are read with the shots, and are not among them.
    let output = program().args(["measure", &path, "--json"]).output().unwrap();
    assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
    let results = json(&output);
    assert_eq!(results["isolate"], answer);
    assert_eq!(results["shots"].as_array().unwrap().len(), 2);
}

/// The words of a drawing, without its markup.
fn drawn_words(drawn: &str) -> String {
    let texts = drawn
        .split('<')
        .filter_map(|tag| tag.starts_with("text").then(|| tag.split_once('>')).flatten());
    texts
        .flat_map(|(_, text)| text.split_whitespace())
        .collect::<Vec<_>>()
        .join(" ")
}

/// Height of the capitals of a sheet, mm: 0.7 of a letter's size, which is in tenths of a millimetre.
fn letters_mm(drawn: &str) -> Vec<f64> {
    let sizes = drawn.split("font-size=\"").skip(1);
    let size = |rest: &str| rest.split('"').next().unwrap().parse::<f64>().unwrap();
    sizes.map(|rest| 0.07 * size(rest)).collect()
}

/// What is repaired first at each end of a plan.
fn first_repairs(step: &serde_json::Value, ends: &mut Vec<String>) {
    ends.extend(step["repair"][0].as_str().map(str::to_owned));
    for (_, then) in step["then"].as_object().into_iter().flatten() {
        first_repairs(then, ends);
    }
}

#[test]
fn the_plan_is_a_tree_in_text_and_json_and_sheets_in_svg() {
    let folder = tempfile::tempdir().unwrap();
    let svg = folder.path().join("plan.svg");
    let output = isolate(&["vacuum-cabin-control", "--plan", "--svg", &svg.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    assert!(
        said.contains("└─ no: operate-right") && said.contains("■ replace left-actuator"),
        "{said}"
    );
    // A reflector that is not right by hand has its rod off or is stiff: which it is, is found out before a part is bought.
    let words = said
        .split_whitespace()
        .filter(|word| *word != "│")
        .collect::<Vec<_>>()
        .join(" ");
    let after = words.split("reflector-left-by-hand (1 minute)").nth(1).unwrap();
    let no = after.split("no: ").nth(1).unwrap();
    assert!(
        no.starts_with("■ left-actuator: buy nothing yet, look whether it is enough to hang the actuator's rod on the reflector again, or free"),
        "{no}"
    );
    assert!(
        // Its ends were in the hand on the way, so that a hose that is off is what is left of an oversight.
        words.contains("replace left-line (94 %), unless it is enough to push the hose home: look for that first"),
        "{words}"
    );
    assert!(said.lines().all(|line| line.chars().count() <= 80), "{said}");
    let drawn = std::fs::read_to_string(&svg).unwrap();
    assert!(drawn.starts_with("<svg") && drawn.trim_end().ends_with("</svg>"));
    // Sentences in letters of 3 mm at the least (0.7 of a letter's size is a capital), on sheets of A4, what can hurt first.
    let sheet = drawn_words(&drawn);
    for part in [
        "mend or replace the actuator of the left lamp",
        "turn the range control from 0",
        "The left beam does not move: go on with",
    ] {
        assert!(sheet.to_lowercase().contains(&part.to_lowercase()), "{part}: {sheet}");
    }
    assert!(
        sheet.find("exhaust gas kills").unwrap() < sheet.find("1. ").unwrap(),
        "{sheet}"
    );
    assert!(!sheet.contains("operate-left"), "no ids: {sheet}");
    assert!(letters_mm(&drawn).iter().all(|mm| *mm >= 3.0));
    assert!(
        drawn.contains("width=\"210mm\"") && sheet.contains("Sheet 1 of"),
        "{sheet}"
    );
    assert_eq!(drawn.matches("<text").count(), drawn.matches("</text>").count());
    let plan = json(&isolate(&["vacuum-cabin-control", "--plan", "--json"]));
    assert_eq!(plan["plan"]["test"], "operate-left");
    for first in ["yes", "no"] {
        assert_eq!(
            plan["plan"]["then"][first]["test"], "operate-right",
            "both looks come first"
        );
    }
    let mut ends = Vec::new();
    first_repairs(&plan["plan"], &mut ends);
    for part in ["left-actuator", "right-actuator", "control", "look-again"] {
        assert!(ends.iter().any(|end| end == part), "{part}: {ends:?}");
    }
    // Wherever it ends by replacing one part, that part explains the way there.
    let (mean, minutes) = (
        plan["expected_tests"].as_f64().unwrap(),
        plan["expected_test_minutes"].as_f64().unwrap(),
    );
    assert!((2.0..8.0).contains(&mean) && minutes > 2.0 * mean, "{mean} {minutes}");
}

#[test]
fn the_system_is_drawn_with_each_part_marked_and_nothing_from_outside_is_markup() {
    let folder = tempfile::tempdir().unwrap();
    let system = "schema = 1\nname = \"<script>&\"\nvacuum_raises = true\n[[component]]\nid = \"a\"\nlabel = \"a <b> & 'c'\"\n\
                  faults = [{ id = \"leaks\", prior = 0.1 }]\nreplace_minutes = 3\n[[component]]\nid = \"b\"\nlabel = \"second\"\n\
                  faults = [{ id = \"leaks\", prior = 0.1 }]\nreplace_minutes = 3\nafter = [\"a\"]\n[[test]]\nid = \"t\"\n\
                  ask = \"Try <it>.\"\nneeds = [\"a\"]\nsource = \"pump\"\nminutes = 2\n";
    std::fs::write(folder.path().join("own.toml"), system).unwrap();
    let path = write(
        folder.path(),
        "schema = 1\njob = \"T\"\nbay = \"b.toml\"\ntraffic = \"right\"\nsystem = \"own.toml\"\n[[trial]]\ntest = \"t\"\nmoves = \"no\"\n",
    );
    let svg = folder.path().join("system.svg");
    let output = isolate(&[&path, "--svg", &svg.to_string_lossy()]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    // The component that no test needs is warned of by name.
    assert!(
        text(&output.stdout).contains("no test needs the component \"b\""),
        "{}",
        text(&output.stdout)
    );
    let drawn = std::fs::read_to_string(&svg).unwrap();
    assert!(drawn.contains("✗ suspected") && drawn.contains("? possible"), "{drawn}");
    assert!(
        letters_mm(&drawn).iter().all(|mm| *mm >= 3.0) && drawn.contains("width=\"210mm\""),
        "{drawn}"
    );
    assert!(
        drawn.contains("a &lt;b&gt; &amp;") && !drawn.contains("<script>") && !drawn.contains("<b>"),
        "{drawn}"
    );
    let plan = isolate(&[
        &folder.path().join("own.toml").to_string_lossy(),
        "--plan",
        "--svg",
        &svg.to_string_lossy(),
    ]);
    assert_eq!(plan.status.code(), Some(0), "{}", text(&plan.stderr));
    assert!(!std::fs::read_to_string(&svg).unwrap().contains("<it>"));
}

/// The parts for the wall: what can hurt, then what comes next, then each part in words; letters as on the plan.
#[test]
fn the_parts_stand_on_sheets_with_what_can_hurt_first_and_no_ids() {
    let folder = tempfile::tempdir().unwrap();
    let svg = folder.path().join("parts.svg");
    for (trials, next) in [
        (&[("operate-left", "no"), ("operate-right", "yes")][..], "Next: "),
        (
            &[
                ("operate-left", "no"),
                ("operate-right", "yes"),
                ("pump-at-left-lamp", "no"),
                ("reflector-left-by-hand", "yes"),
            ],
            "Mend or replace the actuator of the left lamp (",
        ),
        (
            &[
                ("operate-left", "no"),
                ("operate-right", "yes"),
                ("pump-at-left-lamp", "no"),
                ("reflector-left-by-hand", "rod-off"),
            ],
            "Hang the actuator's rod on the reflector again",
        ),
        (
            &[("operate-left", "yes"), ("operate-right", "yes")],
            "Work the range control once more",
        ),
    ] {
        let path = job(folder.path(), trials);
        let output = isolate(&[&path, "--svg", &svg.to_string_lossy()]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let drawn = std::fs::read_to_string(&svg).unwrap();
        let mm = letters_mm(&drawn);
        assert!(mm.len() > 20 && mm.iter().all(|mm| *mm >= 3.0), "{mm:?}");
        let sheet = drawn_words(&drawn);
        let at = |part: &str| sheet.find(part).unwrap_or_else(|| panic!("{part}: {sheet}"));
        assert!(at("take care:") < at("Lamps get hot"), "{sheet}");
        assert!(at("take care:") < at(next) && at(next) < at("✗ suspected"), "{sheet}");
        for part in [
            "actuator of the left lamp",
            "range control (switch) in the cabin",
            "Sheet 1 of",
        ] {
            at(part);
        }
        for id in ["left-actuator", "operate-left", "pump-at", "supply-line"] {
            assert!(!drawn.contains(id), "{id}: {drawn}");
        }
    }
}

/// The lamps of the sample's car.
fn sample_lamps() -> String {
    [("left", 652, -560), ("right", 655, 565)]
        .iter()
        .map(|(side, height, x)| {
            format!(
                "[[lamp]]\nside = \"{side}\"\ncentre_height_mm = {height}.0\ncentre_x_mm = {x}.0\ndistance_mm = 10000.0\n"
            )
        })
        .collect()
}

/// What the report, the answer and the plan say of one job with photos: the same step next, the same part first.
#[test]
fn report_answer_and_plan_agree_on_a_job_with_photos() {
    let folder = tempfile::tempdir().unwrap();
    let lamps = sample_lamps();
    let shots: String = ["left", "right"]
        .iter()
        .flat_map(|lamp| ["0", "3"].map(|position| (lamp, position)))
        .map(|(lamp, position)| {
            format!(
                "[[shot]]\nphoto = \"{SAMPLE}/photos/{lamp}-before-{position}.jpg\"\nlamp = \"{lamp}\"\nstage = \"before\"\n\
                 position = \"{position}\"\n"
            )
        })
        .collect();
    let head = format!(
        "schema = 1\njob = \"T\"\nbay = \"{SAMPLE}/bay.toml\"\ntraffic = \"right\"\nsystem = \"vacuum-cabin-control\"\n{lamps}{shots}"
    );
    let unfolded = |output: &Output| {
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        text(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for (trials, stops) in [
        ("", false),
        (
            "[[trial]]\ntest = \"pump-at-left-lamp\"\nmoves = \"no\"\n[[trial]]\ntest = \"reflector-left-by-hand\"\nmoves = \"yes\"\n",
            true,
        ),
    ] {
        let path = write(folder.path(), &format!("{head}{trials}"));
        let answer = json(&isolate(&[&path, "--json"]));
        assert_eq!(answer["settled"], stops, "{answer}");
        let (plan, plan_said) = (
            json(&isolate(&[&path, "--plan", "--json"])),
            unfolded(&isolate(&[&path, "--plan"])),
        );
        let said = unfolded(&isolate(&[&path]));
        let report = program()
            .args(["report", &path, "-o", &folder.path().join("report").to_string_lossy()])
            .output()
            .unwrap();
        let report = unfolded(&report);
        let (in_answer, in_report) = if stops {
            let part = answer["repair"]["order"][0].as_str().unwrap();
            assert_eq!(plan["plan"]["repair"][0], part);
            assert!(plan_said.contains(&format!("■ replace {part}")), "{plan_said}");
            (
                "Stop testing: mend or replace the actuator of the left lamp".to_owned(),
                "mend or replace the actuator".to_owned(),
            )
        } else {
            let test = answer["next"]["test"].as_str().unwrap();
            assert_eq!(plan["plan"]["test"], test);
            assert!(
                plan_said.contains(&format!("yet. {test} (")) || plan_said.contains(&format!("). {test} (")),
                "{plan_said}"
            );
            (format!("Next test: {test},"), format!("({test}, about"))
        };
        assert!(said.contains(&in_answer), "{in_answer}: {said}");
        assert!(report.to_lowercase().contains(&in_report), "{in_report}: {report}");
        assert!(!(said.contains("once more") && said.contains("Stop testing")), "{said}");
        // The same part first.
        let components = answer["components"].as_array().unwrap();
        let probability = |c: &serde_json::Value| c["probability"].as_f64().unwrap();
        let first = components
            .iter()
            .max_by(|a, b| probability(a).total_cmp(&probability(b)))
            .unwrap();
        if first["standing"] == "suspected" {
            let start = said.find("What is suspected").unwrap();
            let named = said[start..].find(first["component"].as_str().unwrap()).unwrap();
            assert!(said[start..].find(", suspected").unwrap() < named + 40, "{said}");
            assert_eq!(first["component"], "left-actuator", "{answer}");
            for whole in [&report, &plan_said] {
                assert!(whole.contains("Suspected: the actuator of the left lamp ("), "{whole}");
            }
        } else {
            for whole in [&report, &plan_said] {
                assert!(whole.contains("Suspected: no part more than another yet"), "{whole}");
            }
        }
    }
}

/// Two series of one lamp and stage, photos with a stage and without, and photos from after a repair: what the report counts, the answer
/// counts, figure by figure.
#[test]
fn report_and_answer_count_the_same_series() {
    let folder = tempfile::tempdir().unwrap();
    let lamps = sample_lamps();
    let shot = |photo: &str, more: &str| {
        let lamp = photo.split('-').next().unwrap();
        format!("[[shot]]\nphoto = \"{SAMPLE}/photos/{photo}.jpg\"\nlamp = \"{lamp}\"\n{more}")
    };
    let series = |name: &str, numbers: [u32; 4], stage: &str| -> String {
        let of = |n: &u32| {
            let gauge = if *n == numbers[0] {
                "vacuum = \"220 mbar\"\n"
            } else {
                ""
            };
            shot(
                &format!("left-hold-{n}"),
                &format!("sealed = true\nseries = \"{name}\"\n{gauge}{stage}"),
            )
        };
        numbers.iter().map(of).collect()
    };
    let before = "stage = \"before\"\n";
    let shots = [
        series("at the lamp", [1, 2, 3, 4], before),
        // One without a stage is of before, too.
        series("pump-at-left-lamp", [5, 6, 7, 8], ""),
        shot("left-before-0", "position = \"0\"\n"),
        shot("left-before-3", &format!("position = \"3\"\n{before}")),
    ]
    .concat();
    let after = ["0", "3"]
        .map(|n| {
            shot(
                &format!("left-after-{n}"),
                &format!("position = \"{n}\"\nstage = \"after\"\n"),
            )
        })
        .concat();
    let repair = "[[repair]]\ndate = \"2031-03-05\"\nwords = \"mended\"\n";
    for (name, rest) in [
        ("before", String::new()),
        ("after a repair without its part", after + repair),
    ] {
        let path = write(
            folder.path(),
            &format!(
                "schema = 1\njob = \"T\"\nbay = \"{SAMPLE}/bay.toml\"\ntraffic = \"right\"\nsystem = \"vacuum-cabin-control\"\n\
                 {lamps}{shots}{rest}"
            ),
        );
        let answer = json(&isolate(&[&path, "--json"]));
        let out = folder.path().join("report");
        let report = program()
            .args(["report", &path, "-o", &out.to_string_lossy()])
            .output()
            .unwrap();
        assert_eq!(report.status.code(), Some(0), "{}", text(&report.stderr));
        let results: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(out.join("results.json")).unwrap()).unwrap();
        let of_report = &results["isolate"];
        let told = |of: &serde_json::Value, key: &str| of[key].clone();
        for key in [
            "suspects",
            "components",
            "trials",
            "next",
            "settled",
            "repair",
            "contradiction",
        ] {
            assert_eq!(told(of_report, key), told(&answer, key), "{name}: {key}");
        }
        let trials = answer["trials"].as_array().unwrap();
        let of_test = |test: &str| trials.iter().filter(|one| one["test"] == test).count();
        assert_eq!(of_test("operate-left"), 1, "{name}: {trials:?}");
        let leaks = results["adjuster"]["leak_down"].as_array().unwrap();
        let of_before = leaks
            .iter()
            .filter(|leak| leak["lamp"] == "left" && leak["stage"] == "before")
            .count();
        assert_eq!(of_before, 2, "{name}: {leaks:?}");
    }
}

/// A part of the other lamp than the one that failed: asked about, and how to mend it is said.
#[test]
fn a_repair_of_the_other_lamp_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(
        folder.path(),
        &[
            ("operate-left", "no"),
            ("operate-right", "yes"),
            ("pump-at-left-lamp", "no"),
        ],
    );
    let told = std::fs::read_to_string(&path).unwrap();
    for (component, is_asked) in [("right-actuator", true), ("left-actuator", false), ("control", false)] {
        let repair = format!("[[repair]]\ncomponent = \"{component}\"\ndate = \"2031-03-05\"\nwords = \"replaced\"\n");
        let path = write(folder.path(), &(told.clone() + &repair));
        let said = text(&isolate(&[&path]).stdout)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert_eq!(
            said.contains("then correct the component of the repair"),
            is_asked,
            "{component}: {said}"
        );
    }
}

/// A slow leak beside beams that follow: the test that tells the part comes before the part, and why is said.
#[test]
fn a_part_is_not_bought_at_a_third_while_a_test_tells_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(
        folder.path(),
        &[
            ("pump-at-left-line", "creeps-back"),
            ("operate-left", "yes"),
            ("operate-right", "yes"),
        ],
    );
    let answer = json(&isolate(&[&path, "--json"]));
    assert_eq!(answer["settled"], false);
    for (language, told) in [("en", "before a part is bought"), ("de", "bevor ein Teil gekauft wird")] {
        let said = text(&isolate(&[&path, "--lang", language]).stdout);
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(told), "{said}");
        let called_over = [
            "Stop testing",
            "No further test",
            "Nicht weiter prüfen",
            "Keine weitere Prüfung",
        ];
        assert!(!called_over.iter().any(|words| said.contains(words)), "{said}");
    }
}

/// A beam that stays for the minute beside a gauge that falls: the gauge is what speaks against the part.
#[test]
fn a_gauge_that_falls_is_named_as_what_speaks_against_a_part() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(
        folder.path(),
        &[
            ("operate-left", "yes"),
            ("operate-right", "yes"),
            ("pump-at-left-lamp", "yes"),
            ("pump-at-left-line", "yes"),
        ],
    );
    let written = std::fs::read_to_string(&path).unwrap();
    // Twice: once may be a joint of the pump's.
    let (before, under_pump) = written.split_at(written.find("[[trial]]\ntest = \"pump").unwrap());
    let under_pump = under_pump.replace("moves = \"yes\"", "moves = \"yes\"\ngauge = \"falls\"");
    write(folder.path(), &format!("{before}{under_pump}"));
    let said = text(&isolate(&[&path]).stdout);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("Why: with the hand pump on the left actuator itself"),
        "{said}"
    );
    assert!(
        said.contains("and the gauge falls; that test needs nothing but"),
        "{said}"
    );
    assert!(!said.contains("no test so far speaks against"), "{said}");
}

/// What was found before is not taken away without a word where no repair is entered.
#[test]
fn trials_of_after_without_a_repair_are_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(folder.path(), &[("operate-left", "no"), ("operate-right", "yes")]);
    let told = std::fs::read_to_string(&path).unwrap();
    let after = "[[trial]]\ntest = \"pump-at-left-lamp\"\nmoves = \"no\"\nstage = \"after\"\n";
    let path = write(folder.path(), &(told + after));
    let output = isolate(&[&path]);
    let said = text(&output.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(
        said.contains("no repair is entered") && said.contains("enter the repair"),
        "{said}"
    );
}

/// What was found before a repair of something else says so where it says what to do; and what a test leaves unseen is no promise of it.
#[test]
fn advice_from_before_a_repair_says_so_and_a_test_promises_no_more_than_it_shows() {
    let folder = tempfile::tempdir().unwrap();
    let bonnet = |trials: &[(&str, &str)]| {
        let text = std::fs::read_to_string(job(folder.path(), trials)).unwrap();
        text.replace("vacuum-cabin-control", "vacuum-bonnet-control")
    };
    let said = |text: &str| {
        let file = write(folder.path(), text);
        text_of(&isolate(&[&file]).stdout)
    };
    let first = said(&bonnet(&[]));
    let (_, tells) = first.split_once("What it tells: ").unwrap();
    let (sound, rest) = tells.split_once(" are probably sound").unwrap();
    assert!(
        !sound.contains("check-valve") && rest.contains("shows little: check-valve"),
        "{tells}"
    );
    let found = bonnet(&[
        ("operate-left", "yes"),
        ("operate-right", "yes"),
        ("engine-off-left", "no"),
        ("check-valve-alone", "no"),
    ]);
    assert!(!said(&found).contains("mended since"));
    let repaired =
        format!("{found}\n[[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n");
    let after = said(&repaired);
    let (_, advice) = after.split_once("Stop testing: ").unwrap();
    assert!(
        advice.contains("the check valve") && advice.contains("mended since: the actuator of the left lamp"),
        "{advice}"
    );
}

/// On one line.
fn text_of(bytes: &[u8]) -> String {
    text(bytes).split_whitespace().collect::<Vec<_>>().join(" ")
}
