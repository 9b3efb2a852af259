//! What the report's outputs must be, on findings built by hand.

mod fixture;
mod german;
mod isolation;
use crate::adjuster::Adjuster;
use crate::aim::{Outcome, ShotReading};
use crate::language::{Language, Said};
use crate::record::{Bay, Bays, Branch, Caution, Moves, RepairEntry, Side, Stage, System, Vacuum, Workshop};
use crate::refusal::Reason;
use crate::report::evidence::Evidence;
use crate::report::text::width;
use crate::report::{self, Results, csv, plots, terminal};
use crate::run::Findings;
use crate::warning::Warning;
use fixture::{LEAK_TIME_CONSTANT_S, at_vacuum, empty, full, isolated, measured, refused, shut};
use serde_json::Value;
use std::path::Path;

/// The contract's example of `measure --json`, retyped.
const CONTRACT: &str = r#"{"schema": 1, "program": "beamfall 0.1.0",
 "shots": [
  {"photo": "photos/0001.jpg", "sha256": "…", "taken": "2031-03-04T20:15:00", "lamp": "left", "stage": "before",
   "position": "0", "vacuum_mbar": null, "status": "measured",
   "inclination": {"percent": 1.02, "u95_percent": 0.05, "reading_u95_percent": 0.02},
   "drop_mm": 102.0, "degrees": 0.584, "reach_m": 63.7,
   "cutoff": {"sharpness_g": 0.21, "linearity_deg": 0.03, "tilt_deg": 0.1,
              "elbow": {"lateral_percent": 0.1, "kick_deg": 15.1}},
   "verdict": {"table": "un-r48", "outcome": "inside", "low_percent": 1.0, "high_percent": 1.5},
   "warnings": []},
  {"photo": "photos/0002.jpg", "status": "refused", "reason": "overexposed", "message": "…what to do about it…"}],
 "travel": [{"lamp": "left", "stage": "before", "from": "0", "to": "1", "percent": 0.41, "u95_percent": 0.02}]}"#;

/// The contract's example as findings.
fn contract_case() -> Findings {
    let mut case = empty();
    case.readings = vec![
        measured("photos/0001.jpg", Side::Left, Some(Stage::Before), Some("0"), 1.02),
        refused(
            "photos/0002.jpg",
            Side::Left,
            None,
            None,
            Reason::Overexposed,
            "less light",
        ),
    ];
    let lower = measured("photos/0003.jpg", Side::Left, Some(Stage::Before), Some("1"), 1.43);
    case.adjuster = Adjuster::of(&[case.readings[0].clone(), lower], &case.job.adjuster, None);
    // The photos' own 0.02 % each would be 0.028 % in the travel.
    case.adjuster.travel[0].steps[0].u95_percent = 0.02;
    case
}

/// A warning that holds what the user wrote.
fn about(position: String) -> Warning {
    Warning::ExpectedPositionUnread { position }
}

fn json(case: &Findings) -> Value {
    serde_json::from_str(&report::json(&Results::new(case)).unwrap()).unwrap()
}

/// Every key of `wanted` is in `got` at the same place with the same type.
fn assert_covers(got: &Value, wanted: &Value, at: &str) {
    match (got, wanted) {
        (Value::Object(got), Value::Object(wanted)) => {
            for (key, value) in wanted {
                let found = got.get(key).unwrap_or_else(|| panic!("{at}.{key} is missing"));
                assert_covers(found, value, &format!("{at}.{key}"));
            }
        }
        (Value::Array(got), Value::Array(wanted)) => {
            assert_eq!(got.len(), wanted.len(), "{at}");
            for (n, (got, wanted)) in got.iter().zip(wanted).enumerate() {
                assert_covers(got, wanted, &format!("{at}[{n}]"));
            }
        }
        (got, wanted) => assert_eq!(
            std::mem::discriminant(got),
            std::mem::discriminant(wanted),
            "{at}: {got} is not of the type of {wanted}"
        ),
    }
}

#[test]
fn json_has_the_contracts_keys_and_its_figures() {
    let got = json(&contract_case());
    let wanted: Value = serde_json::from_str(CONTRACT).unwrap();
    assert_covers(&got, &wanted, "");
    assert_eq!(got["program"], wanted["program"]);
    let shot = &got["shots"][0];
    for key in [
        "photo",
        "taken",
        "lamp",
        "stage",
        "position",
        "vacuum_mbar",
        "status",
        "drop_mm",
        "reach_m",
        "warnings",
    ] {
        assert_eq!(shot[key], wanted["shots"][0][key], "{key}");
    }
    assert_eq!(shot["inclination"]["percent"], 1.02);
    assert_eq!(shot["inclination"]["reading_u95_percent"], 0.02);
    assert_eq!(shot["degrees"], 0.5844);
    assert_eq!(shot["cutoff"]["threshold_percent"], 1.14, "12 mm lower at 10 m");
    assert_eq!(shot["cutoff"]["pattern"], "kick-up");
    assert_eq!(shot["verdict"]["band"], "setting");
    // 1.02 ± 0.05 straddles the limit of 1.0.
    assert_eq!(shot["verdict"]["outcome"], "undecided");
    assert_eq!(shot["budget"][0]["share"], "job");
    // 0.02 % above the limit with u = 0.02502 %: Φ(0.7994) = 0.788, and the other limit is far away.
    let probability = shot["verdict"]["probability_inside"].as_f64().unwrap();
    assert!((probability - 0.788).abs() < 0.0005, "{probability}");
    assert!(
        shot["verdict"]["settle"]
            .as_str()
            .unwrap()
            .contains("turn the beam down by 0.23 % (23 mm")
    );
    let refused = got["shots"][1].as_object().unwrap();
    assert_eq!(refused["message"], "less light");
    assert!(!refused.contains_key("inclination") && !refused.contains_key("verdict"));
    assert_eq!(got["travel"], wanted["travel"]);
}

#[test]
fn the_budget_in_the_json_adds_up_to_the_uncertainty() {
    let got = json(&full());
    let mut counted = 0;
    for shot in got["shots"].as_array().unwrap() {
        let Some(inclination) = shot.get("inclination") else {
            continue;
        };
        let variance = |shares: &[&str]| -> f64 {
            let terms = inclination["budget"].as_array().unwrap().iter();
            let counts = terms.filter(|t| shares.contains(&t["share"].as_str().unwrap()));
            counts.map(|t| t["sd_percent"].as_f64().unwrap().powi(2)).sum()
        };
        for (key, shares) in [
            ("u95_percent", &["job", "photo"][..]),
            ("reading_u95_percent", &["photo"][..]),
        ] {
            let said = inclination[key].as_f64().unwrap();
            assert!((1.96 * variance(shares).sqrt() - said).abs() < 6e-5, "{key}: {said}");
            counted += 1;
        }
    }
    assert!(counted > 20);
}

#[test]
fn the_explanation_adds_up_and_keeps_to_80_columns() {
    let case = full();
    let text = terminal::readings(Language::English, &case, true, false);
    assert_at_most_80_columns(&text);
    for part in [
        "photos/left-after-0.jpg: left lamp, after the repair; position 0",
        "inclination +1.2200 %; 1 % is 100.0 mm at the wall",
        // 0.02² of 0.02502² is 64 % of the variance: ten of fifteen signs.
        "  height of the lamp                 job    0.0200   2.00   64 % ##########",
        "  wall texture and noise             photo  0.0095   0.95   14 % ==",
        "  combined (root sum of squares)            0.0250   2.50  100 %",
        "  x 1.96 = 95 % half-width                  0.0490   4.90",
        "    of it what differs by photo             0.0200   2.00",
        "Travel, left lamp, after the repair: position 0 to 1: +0.4100 ± 0.0283 %",
        // Both ends' 0.0095 %, as squares.
        "  wall texture and noise             photo  0.0134   1.34",
        "  combined (root sum of squares)            0.0144   1.44",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    assert!(
        !text.contains("does not cancel"),
        "one photo each: nothing is left over"
    );
    // Two photos of one position that differ by more than they can: the rest is named.
    let mut twice = empty();
    twice.readings = [("a.jpg", "0", 1.0), ("b.jpg", "0", 1.2), ("c.jpg", "1", 1.6)]
        .into_iter()
        .map(|(photo, at, percent)| measured(photo, Side::Left, None, Some(at), percent))
        .collect();
    twice.adjuster = Adjuster::of(&twice.readings, &twice.job.adjuster, None);
    assert!(terminal::readings(Language::English, &twice, true, false).contains("scatter and what does not cancel"));
}

#[test]
fn json_without_a_table_has_null_verdicts_and_reads_back_the_same() {
    let mut case = full();
    case.table = None;
    for reading in &mut case.readings {
        if let Ok(measured) = &mut reading.result {
            measured.verdict = None;
        }
    }
    let results = Results::new(&case);
    let text = report::json(&results).unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    assert!(value["shots"][0]["verdict"].is_null() && value["table"].is_null());
    let whole = serde_json::to_value(&results).unwrap();
    assert_eq!(value, whole, "nothing is lost on the way");
}

#[test]
fn csv_reads_back_with_awkward_texts_whole() {
    let mut case = contract_case();
    case.readings
        .push(measured("a,\"b\"\n.jpg", Side::Right, None, Some("=1+1"), -0.25));
    let text = csv::readings(&Results::new(&case)).unwrap();
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    let headers: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    let rows: Vec<::csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 3);
    assert_eq!(&rows[0][column("inclination_percent")], "1.02");
    assert_eq!(&rows[0][column("outcome")], "undecided");
    assert!(rows[0][column("probability_inside")].starts_with("0.78"));
    assert!(rows[0][column("settle")].contains("turn the beam"));
    assert_eq!(&rows[1][column("probability_inside")], "");
    assert_eq!(&rows[1][column("reason")], "overexposed");
    assert_eq!(&rows[1][column("inclination_percent")], "");
    assert_eq!(&rows[2][column("photo")], "a,\"b\" .jpg", "a line break steers");
    assert_eq!(&rows[2][column("position")], "'=1+1");
    assert_eq!(&rows[2][column("inclination_percent")], "-0.25");
    assert!(text.lines().next().unwrap().contains("_percent") && text.contains("\r\n"));
}

fn assert_at_most_80_columns(text: &str) {
    for line in text.lines() {
        let columns = line
            .chars()
            .filter_map(unicode_width::UnicodeWidthChar::width)
            .sum::<usize>();
        assert!(columns <= 80, "{columns} columns: {line}");
        assert_eq!(line, line.trim_end());
    }
}

/// The figures of [`full`]'s vacuum series are by hand: 0.35 % per 150 mbar from 150 to 450 mbar, released later.
#[test]
fn the_adjuster_in_the_json_carries_units_and_rounded_figures() {
    let got = json(&full());
    let adjuster = &got["adjuster"];
    assert_eq!(adjuster["least_travel_percent"], 0.05);
    let still = &adjuster["travel"][0];
    assert_eq!((&still["lamp"], &still["stage"]), (&"left".into(), &"before".into()));
    assert_eq!(still["movement"], "does-not-move");
    assert_eq!(still["faults"][0]["kind"], "no-step");
    let moves = &adjuster["travel"][1];
    assert_eq!(moves["movement"], "moves");
    assert_eq!(moves["total"]["percent"], 0.83);
    assert_eq!(moves["total"]["wall_mm"], 83.0);
    assert_eq!(adjuster["sides"][0]["difference_percent"], 0.59);
    assert_eq!(adjuster["stages"][0]["total"]["real"], "real");
    let curve = &adjuster["response"][0]["curve"];
    let gain = &curve["gain_percent_per_100_mbar"];
    let [low, value, high] = ["low", "value", "high"].map(|key| gain[key].as_f64().unwrap());
    assert!(low < value && value < high && low < -0.2333 && -0.2333 < high, "{gain}");
    assert!(
        curve["hysteresis"]["gap_mbar"]["value"].as_f64().unwrap() > 10.0,
        "{curve}"
    );
    assert_eq!(adjuster["response"][0]["polarity"]["vacuum_raises"], true);
    assert_eq!(adjuster["leak_down"], Value::Array(Vec::new()));
    // No figure carries more digits than its unit can: five places are the most.
    fn longest(value: &Value) -> usize {
        match value {
            Value::Object(map) => map.values().map(longest).max().unwrap_or(0),
            Value::Array(list) => list.iter().map(longest).max().unwrap_or(0),
            Value::Number(n) => n.to_string().split_once('.').map_or(0, |(_, places)| places.len()),
            _ => 0,
        }
    }
    assert!(longest(adjuster) <= 5, "{adjuster}");
}

#[test]
fn table_says_what_the_adjuster_does() {
    let text = terminal::readings(Language::English, &full(), true, false);
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "left lamp as entered: centre",
        "left before: = did not move; 0 to 2: +0.00",
        "left before: no step: the beam did not follow the control",
        "left after: ↕ moves; 0 to 2: +0.83",
        "left beam against right, before: at 0 0.59 ± 0.03 % lower",
        "left after, pump: ↕ moves; vacuum raises the beam by",
        "repair: left lamp: before the repair the beam did not move; after it, it moves by +0.83",
    ] {
        assert!(joined.contains(part), "{part}: {text}");
    }
}

/// A job of 44 photos as a workshop takes them: four positions of both lamps at both stages, a pump's sweep, two series with
/// the valve shut, and one photo that is refused though its position was photographed again.
fn many() -> Findings {
    let mut case = full();
    case.readings.clear();
    case.job.repair = vec![RepairEntry {
        component: Some("left-actuator".to_owned()),
        date: "2031-03-04".to_owned(),
        words: "replaced".to_owned(),
        extent: None,
    }];
    let mut add = |reading| case.readings.push(reading);
    for (side, stage, at) in [
        (Side::Left, Stage::Before, [1.22, 1.22, 1.21, 1.21]),
        (Side::Right, Stage::Before, [1.18, 1.60, 2.05, 2.43]),
        (Side::Left, Stage::After, [1.18, 1.63, 2.05, 2.43]),
        (Side::Right, Stage::After, [1.19, 1.61, 2.06, 2.44]),
    ] {
        for (n, percent) in at.into_iter().enumerate() {
            let mut one = measured(
                &format!("photos/{side}-{stage}-{n}.jpg"),
                side,
                Some(stage),
                Some(&n.to_string()),
                percent,
            );
            if let (Side::Left, Ok(measured)) = (side, &mut one.result) {
                measured.warnings.push(Warning::Leans {
                    tilt_deg: 1.0 + 0.04 * n as f64,
                });
            }
            add(one);
        }
    }
    let first_try = "the cut-off lies in clipped light; turn the exposure down by 2 EV and take it again";
    let after = Some(Stage::After);
    add(refused(
        "photos/left-after-1-first-try.jpg",
        Side::Left,
        after,
        Some("1"),
        Reason::Overexposed,
        first_try,
    ));
    let applied = [2.61, 2.41, 1.92, 1.41, 1.11, 1.10];
    let released = [1.10, 1.33, 1.84, 2.33, 2.58];
    let sweep = applied
        .into_iter()
        .enumerate()
        .map(|(n, percent)| (100 * n, percent, Branch::Applying));
    let back = released
        .into_iter()
        .enumerate()
        .map(|(n, percent)| (400 - 100 * n, percent, Branch::Releasing));
    for (n, (mbar, percent, branch)) in sweep.chain(back).enumerate() {
        let one = measured(&format!("photos/left-pump-{n}.jpg"), Side::Left, after, None, percent);
        add(at_vacuum(one, &format!("{mbar} mbar"), branch));
    }
    for n in 0..8u32 {
        for (side, percent) in [(Side::Left, 1.72), (Side::Right, 1.54 + 0.14 * f64::from(n))] {
            let mut one = measured(&format!("photos/{side}-shut-{n}.jpg"), side, after, None, percent);
            one.shot.sealed = true;
            // What holds says so by its gauge too.
            one.shot.vacuum = (side == Side::Left).then(|| "240 mbar".parse().unwrap());
            one.capture.taken = Some(format!("2031-03-04T21:{:02}:00", 30 + n));
            add(one);
        }
    }
    for reading in &mut case.readings {
        if let (true, Ok(measured)) = (reading.shot.is_pumped(), &mut reading.result) {
            measured.verdict = None;
        }
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, Some(true));
    isolated(
        case,
        System::find("vacuum-cabin-control", Path::new(".")).unwrap(),
        &[("pump-at-left-lamp", Moves::No)],
    )
}

#[test]
fn many_photos_are_read_in_seconds() {
    let case = many();
    assert_eq!(case.readings.len(), 44);
    let text = terminal::readings(Language::English, &case, false, false);
    println!("{text}");
    assert_at_most_80_columns(&text);
    assert!(text.lines().count() <= 74, "{} lines:\n{text}", text.lines().count());
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "left before 1.22 ✓ 1.22 = 1.21 = 1.21 = ± 0.02",
        "left after 1.18 ✓ 1.63 ✓ 2.05 ✓ 2.43 ✓ ± 0.02",
        "left after +0.45 ↕ +0.42 ↕ +0.38 ↕ +1.25 ± 0.03 ↕ moves",
        "∅ photos/left-after-1-first-try.jpg: the cut-off lies in clipped light",
        "! left lamp, 8 photos: the cut-off leans by 1.0 to 1.1 degrees: the",
        "left after, pump: 11 photos from 0 to 500 mbar and down again, 1.10 to 2.61 %",
        "right after, valve shut: 8 photos, 1.54 to 2.52 %",
        "left beam against right, before: at 0 0.04",
    ] {
        assert!(joined.contains(part), "{part} is not in\n{text}");
    }
    // The end is what a terminal shows.
    let answer = joined.split_once("What was wrong: ").unwrap().1;
    for part in [
        "the left beam did not follow the range control (−0.01 ± 0.03 % from 0 to 3). Probably at fault: the actuator of the left lamp (",
        "What was done: the actuator of the left lamp: replaced (2031-03-04). Since then: the left beam's travel from 0 to 3 went from −0.01 ± 0.03 to 1.25 ± 0.03 %; the right beam's is as before",
        "the right beam's is as before, 1.25 ± 0.03 %. What is wrong now: ✗ a leak at the right lamp's actuator or hose, unless the pump's own joint let air in: with the pump's valve shut its beam creeps down by 0.98 ± 0.02 % in 7 minutes",
    ] {
        assert!(answer.contains(part), "{part} is not in\n{text}");
    }
    assert!(!answer.contains("first-try"), "that position was photographed again");
    // A wider terminal takes fewer lines, and nothing is beyond its edge; with --explain each photo has its line.
    let wide = terminal::readings_at(Language::English, &case, false, false, 120);
    println!("{wide}");
    assert!(wide.lines().count() < text.lines().count() && wide.lines().all(|line| width(line) <= 120));
    let explained = terminal::readings_at(Language::English, &case, true, false, 120);
    assert!(
        case.readings
            .iter()
            .all(|one| explained.contains(&one.shot.photo.display().to_string()))
    );
    // The page opens with the same three sentences, and has the groups; so has the file.
    let page = page(&case);
    let (opening, _) = page.split_once("What was found").unwrap();
    assert!(opening.contains("did not follow the range control") && opening.contains("What is wrong now: "));
    assert!(page.contains("Note, left lamp, 8 photos: the cut-off leans by 1.0 to 1.1 degrees"));
    let groups = &json(&case)["warning_groups"];
    assert_eq!(
        (&groups[0]["kind"], &groups[0]["lamp"], &groups[0]["photos"]),
        (&"leans".into(), &"left".into(), &8.into())
    );
    assert_eq!(groups[0]["photo_names"][7], "photos/left-after-3.jpg");
}

/// What the terminal says last, on one line.
fn answer_of(readings: Vec<ShotReading>) -> String {
    let mut case = empty();
    case.readings = readings;
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let text = terminal::readings(Language::English, &case, false, false);
    let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
    joined.split_once("The answer ").unwrap().1.to_owned()
}

/// On top stands the surest of several photos of one setting, and nobody who photographed one setting is told that movement is not known.
#[test]
fn of_several_photos_of_one_setting_the_surest_is_shown() {
    let mut case = empty();
    for (photo, percent) in [("unsure.jpg", 1.27), ("sure.jpg", 1.18)] {
        let mut one = fixture::with_picture(measured(photo, Side::Left, None, Some("0"), percent));
        if let (true, Ok(measured)) = (photo == "unsure.jpg", &mut one.result) {
            measured.aim.budget.iter_mut().for_each(|term| term.sd_percent *= 1.5);
        }
        case.readings.push(one);
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let page = isolation::words(&page(&case));
    let top = page.split_once("What was found").unwrap().0;
    assert!(top.contains("1.18 %") && !top.contains("1.27 %"), "{top}");
    assert!(!page.contains("whether the beam moves: fewer than two"), "{page}");
}

/// What a limit of the job or the lamp's other photos have beyond is in the answer, not in the body alone.
#[test]
fn the_answer_tells_what_goes_against_the_job_and_what_was_not_read() {
    let both = |left: f64, right: f64| {
        [("0", 0.0), ("1", 0.4), ("2", 0.8)].map(|(at, more)| {
            [
                measured(&format!("l{at}.jpg"), Side::Left, None, Some(at), left + more),
                measured(&format!("r{at}.jpg"), Side::Right, None, Some(at), right + more),
            ]
        })
    };
    let answer = |readings: Vec<ShotReading>, limits: &dyn Fn(&mut crate::record::AdjusterLimits)| {
        let mut case = empty();
        limits(&mut case.job.adjuster);
        case.readings = readings;
        case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
        let text = terminal::readings(Language::English, &case, false, false);
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        joined.split_once("The answer ").unwrap().1.to_owned()
    };
    let sound = answer(both(1.2, 1.2).concat(), &|_| ());
    assert!(sound.contains("✓ nothing that the photos show"), "{sound}");
    let expects = |travel_percent| {
        move |limits: &mut crate::record::AdjusterLimits| {
            limits.expected = vec![crate::record::ExpectedTravel {
                position: "2".to_owned(),
                travel_percent,
                tolerance_percent: 0.15,
            }];
        }
    };
    assert_eq!(answer(both(1.2, 1.2).concat(), &expects(0.8)), sound);
    let said = answer(both(1.2, 1.2).concat(), &expects(2.0));
    assert!(
        said.contains(
            "✗ the left beam's travel to 2 is +0.80 %, where the job expects +2.00 ± 0.15 %; the right beam's"
        ),
        "{said}"
    );
    let said = answer(both(1.1, 1.4).concat(), &|limits| {
        limits.left_right_limit_percent = Some(0.1)
    });
    assert!(
        said.contains(
            "✗ the left beam lies up to 0.30 % higher than the right one (at 0, 1 and 2), more than the job allows"
        ),
        "{said}"
    );
    // None of the left lamp's photos was read.
    let mut readings = both(1.2, 1.2).concat();
    for reading in readings.iter_mut().filter(|one| one.shot.lamp == Side::Left) {
        let name = reading.shot.photo.display().to_string();
        let position = reading.shot.position.clone();
        *reading = refused(
            &name,
            Side::Left,
            None,
            position.as_deref(),
            Reason::NoCutoff,
            "look for it",
        );
    }
    let said = answer(readings, &|_| ());
    assert!(
        !said.contains('✓')
            && said.contains("? Not yet sure: how the left beam lies: none of its photos could be read"),
        "{said}"
    );
    assert!(
        said.contains("Not read: l0.jpg, l1.jpg and l2.jpg; mend what is said"),
        "{said}"
    );
}

/// Nothing of what the photos show is left out of the answer, and none of it is said more surely than it is known.
#[test]
fn the_answer_tells_all_that_is_wrong_and_what_is_not_known() {
    let left = |name: &str, position: Option<&str>, percent| measured(name, Side::Left, None, position, percent);
    let right = |name: &str, position: &str, percent| measured(name, Side::Right, None, Some(position), percent);
    // A lamp that the pump does not move.
    let pumped = (0..8).map(|n| {
        let reading = left(&format!("{n}.jpg"), None, [1.300, 1.301, 1.299, 1.302][n % 4]);
        at_vacuum(reading, &format!("{} mbar", 50 * n), Branch::Applying)
    });
    let said = answer_of(pumped.collect());
    assert!(
        said.contains("✗ the left beam does not move with the pump's vacuum up to 350 mbar."),
        "{said}"
    );
    assert!(
        said.contains("Find the part at fault") && !said.contains("nothing"),
        "{said}"
    );
    // One lamp travels half as far as the other.
    let half = [("0", 1.2, 1.2), ("1", 1.4, 1.6), ("2", 1.6, 2.0)];
    let half = half.map(|(at, l, r)| {
        [
            left(&format!("l{at}.jpg"), Some(at), l),
            right(&format!("r{at}.jpg"), at, r),
        ]
    });
    let said = answer_of(half.concat());
    let short = "the left beam moves by 0.40 % only from 0 to 2, where the other lamp's moves by 0.80 %";
    assert!(
        said.contains(short) && said.contains("Find the part at fault"),
        "{said}"
    );
    // Aim alone is no reason to look for a part.
    let said = answer_of(vec![left("a.jpg", None, 0.7)]);
    assert!(said.contains("✗ the left beam as set is too high, 0.70 %"), "{said}");
    assert!(
        said.contains("\"as entered\"") && !said.to_lowercase().contains("find the part"),
        "{said}"
    );
    // By how much, where that was worked out.
    let mut outside = left("a.jpg", None, 0.7);
    if let Ok(measured) = &mut outside.result
        && let Some(verdict) = &mut measured.verdict
    {
        verdict.turn = Some(crate::aim::LampTurn {
            down_percent: Some(0.55),
            words: crate::language::Said::of(|_| "turn the beam down by 0.55 %".to_owned()),
        });
    }
    let said = answer_of(vec![outside]);
    assert!(
        said.contains("have the lamp set by its own adjusters")
            && said.contains("Left lamp: turn the beam down by 0.55 %."),
        "{said}"
    );
    // Another position counts, too; but how low it hangs there only a car with the load that the position is for tells.
    let said = answer_of(vec![left("b.jpg", Some("3"), 0.4)]);
    assert!(said.contains("✗ the left beam at 3 is too high, 0.40 %"), "{said}");
    let said = answer_of(vec![left("a.jpg", Some("0"), 1.2), left("b.jpg", Some("3"), 2.9)]);
    assert!(
        !said.contains('✗')
            && !said.contains("too low")
            && said.contains("The left beam at 3 (2.90 %) hangs lower than 2.50 %, which is the limit with the load"),
        "{said}"
    );
    // Two photos of one state that disagree decide nothing, and what is not known gets no good mark.
    let said = answer_of(vec![left("a.jpg", None, 1.25), left("b.jpg", None, 1.7)]);
    let open = "? Not yet sure: whether the left beam as set is inside: its photos disagree.";
    assert!(
        said.contains(open) && !said.contains('✓') && !said.contains('✗'),
        "{said}"
    );
    assert!(
        said.contains("Where photos of one setting disagree: if anything was set or mended between them"),
        "{said}"
    );
    // A sound aim check.
    let said = answer_of(vec![left("a.jpg", None, 1.25)]);
    assert!(
        said.contains("✓ nothing that the photos show; the left beam is inside the limits as set."),
        "{said}"
    );
    assert!(
        said.contains("What to do next: nothing, as far as the photos show."),
        "{said}"
    );
}

/// No lamp is raised by its screw whose beam may hang low for want of vacuum: that would dazzle once it is back.
#[test]
fn nothing_is_turned_before_what_moves_the_beam_is_known_to_be_sound() {
    use crate::isolate::{JobTrials, Origin};
    use crate::record::{Moves, System};
    let low = |position: &str, down_percent: f64| {
        let at = if down_percent < 0.0 { 2.7 } else { 0.7 };
        let mut one = measured(&format!("{position}.jpg"), Side::Left, None, Some(position), at);
        if let Ok(measured) = &mut one.result
            && let Some(verdict) = &mut measured.verdict
        {
            verdict.turn = Some(crate::aim::LampTurn {
                down_percent: Some(down_percent),
                words: crate::language::Said::of(|_| format!("turn the beam by {down_percent}")),
            });
        }
        one
    };
    let system = System::find("vacuum-cabin-control", std::path::Path::new(".")).unwrap();
    let answer = |mut readings: Vec<ShotReading>, test: Option<(&str, Moves)>, vacuum_raises: Option<bool>| {
        let mut case = empty();
        case.adjuster = Adjuster::of(&readings, &case.job.adjuster, vacuum_raises);
        let tests = test.map(|(id, moves)| {
            let evidence =
                crate::isolate::Evidence::written(&system, system.test(id).unwrap(), moves, Origin::Trial(0));
            let trials = JobTrials {
                evidence: vec![evidence],
                ..JobTrials::default()
            };
            crate::isolate::Isolated::new(system.clone(), trials)
        });
        crate::run::hold_turns(&mut readings, &case.job, &case.adjuster, tests.as_ref(), vacuum_raises);
        case.readings = readings;
        let text = terminal::readings(Language::English, &case, false, false);
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        joined.split_once("The answer ").unwrap().1.to_owned()
    };
    let (up, down) = (-1.1, 0.55);
    let set = "have the lamp set by its own adjusters";
    // A system is named, and the beam hangs low at the only position: it may want vacuum.
    let said = answer(vec![low("0", up)], None, Some(true));
    assert!(
        said.contains("photograph the beam at another position")
            && !said.contains(set)
            && !said.contains("turn the beam by"),
        "{said}"
    );
    // Too high it is not for want of vacuum; and where nothing is known of a vacuum, the screw is what there is.
    for (readings, vacuum_raises) in [(vec![low("0", down)], Some(true)), (vec![low("0", up)], None)] {
        let said = answer(readings, None, vacuum_raises);
        assert!(said.contains(set) && said.contains("turn the beam by"), "{said}");
    }
    // Seen to follow, by a test.
    let said = answer(vec![low("0", up)], Some(("operate-left", Moves::Yes)), Some(true));
    assert!(said.contains(set), "{said}");
    // A test failed, of this lamp or of both; of the other lamp's it says nothing.
    for test in ["operate-left", "gauge-at-control"] {
        let said = answer(vec![low("0", down)], Some((test, Moves::No)), Some(true));
        assert!(
            said.contains("what moves the beam is mended first")
                && !said.contains(set)
                && !said.contains("turn the beam by"),
            "{said}"
        );
    }
    let said = answer(vec![low("0", down)], Some(("operate-right", Moves::No)), Some(true));
    assert!(said.contains(set), "{said}");
    // A beam that stands still at all positions is said once, and is not set.
    let said = answer(["0", "1", "2", "3"].map(|at| low(at, up)).to_vec(), None, None);
    assert!(
        said.contains("does not follow") && said.contains("what moves the beam is mended first"),
        "{said}"
    );
    assert!(
        !said.contains(set) && !said.contains("at 1 is too low") && said.contains("as set is too low"),
        "{said}"
    );
}

/// Before and after with hardly a position in common: each stage speaks of its own range.
#[test]
fn the_answer_tells_a_repair_without_common_positions() {
    let at = |stage, position: &str, percent| {
        measured(
            &format!("{stage}{position}.jpg"),
            Side::Left,
            Some(stage),
            Some(position),
            percent,
        )
    };
    let before = ["0", "1", "2"].map(|position| at(Stage::Before, position, 1.2));
    let after = [at(Stage::After, "0", 1.2), at(Stage::After, "3", 2.4)];
    let said = answer_of([before.to_vec(), after.to_vec()].concat());
    assert!(
        said.contains("What to do next: Not photographed: the right lamp"),
        "{said}"
    );
    assert!(
        said.contains("the left beam follows the range control and is inside the limits as set."),
        "{said}"
    );
    let later = [at(Stage::After, "0", 0.7), at(Stage::After, "3", 1.9)];
    let outside = answer_of([before.to_vec(), later.to_vec()].concat());
    let next = outside.split_once("What to do next: ").map(|(_, next)| next.to_owned());
    assert!(
        next.is_some_and(|next| next.starts_with("Hold the heights") && next.contains("have the lamp set")),
        "{outside}"
    );
    // A beam that was outside and was not looked at since is not mended by being silent of it.
    let other = |stage, percent| {
        measured(
            &format!("right{stage}.jpg"),
            Side::Right,
            Some(stage),
            Some("0"),
            percent,
        )
    };
    let untold = answer_of([before.to_vec(), after.to_vec(), vec![other(Stage::Before, 1.9)]].concat());
    let unseen = "the right beam as set was outside before the repair, and was not photographed since";
    assert!(
        untold.contains(unseen) && untold.contains("hotograph the right beam as set once more"),
        "{untold}"
    );
    let both = vec![other(Stage::Before, 1.9), other(Stage::After, 1.9)];
    let told = answer_of([before.to_vec(), after.to_vec(), both].concat());
    assert!(!told.contains("not photographed since"), "{told}");
    let moved = "left lamp: before the repair the beam did not move from 0 to 2; after it, it moves by +1.20";
    assert!(said.contains(moved) && !said.contains("cannot be told"), "{said}");
}

/// A position's name, or their number, never takes a line over the edge.
#[test]
fn many_photos_of_odd_positions_keep_to_80_columns() {
    let mut case = empty();
    for n in 0..20 {
        let position = format!("half way to notch number {n}");
        case.readings.push(measured(
            &format!("{n}.jpg"),
            Side::Left,
            None,
            Some(&position),
            1.0 + 0.1 * f64::from(n),
        ));
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    assert_at_most_80_columns(&terminal::readings(Language::English, &case, false, false));
}

/// One lamp was photographed at fewer positions, so that its step is not the other's: a figure is told by the step that it is of.
#[test]
fn a_travel_names_its_step_where_the_table_is_too_wide() {
    let of = |side: Side, positions: &[(&str, f64)]| {
        let shots = [Stage::Before, Stage::After].into_iter().flat_map(|stage| {
            positions.iter().map(move |&(position, percent)| {
                let photo = format!("{side}{position}{stage}.jpg");
                measured(&photo, side, Some(stage), Some(position), percent)
            })
        });
        shots.collect::<Vec<_>>()
    };
    let mut case = empty();
    case.readings = of(
        Side::Left,
        &[
            ("0", 1.2),
            ("1", 1.6),
            ("2", 2.0),
            ("3", 2.4),
            ("4", 2.45),
            ("5", 2.46),
            ("6", 2.47),
        ],
    );
    case.readings.extend(of(Side::Right, &[("0", 1.3), ("6", 2.4)]));
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let said = terminal::readings(Language::English, &case, false, false);
    assert_at_most_80_columns(&said);
    assert!(
        said.contains("right after: 0 → 6 +1.10 ↕; in all +1.10") && said.contains("left after: 0 → 1 +0.40 ↕; 1 → 2"),
        "{said}"
    );
}

#[test]
fn table_keeps_to_80_columns_whatever_comes() {
    let mut odd = full();
    odd.readings.push(measured(
        "a/very/long/folder/of/photos/that/nobody/should/have/made/IMG_20310304_201500_0001.jpeg",
        Side::Right,
        Some(Stage::After),
        Some("half way between the first and the second notch"),
        -12.345,
    ));
    odd.readings.push(at_vacuum(
        refused(
            "写真/照明/左側/零一二三四五六七八九.jpg",
            Side::Left,
            None,
            Some("零一二三四五六七八九"),
            Reason::CutoffOutOfFrame,
            &"x".repeat(300),
        ),
        "999 mbar",
        Branch::Releasing,
    ));
    odd.readings.push(refused(
        "\u{1b}[2Jbell\u{7}\nline",
        Side::Left,
        None,
        None,
        Reason::NotLevel,
        "a\nb\u{1b}[0m",
    ));
    odd.job.adjuster.left_right_limit_percent = Some(0.2);
    odd.adjuster = Adjuster::of(&odd.readings, &odd.job.adjuster, Some(false));
    odd.adjuster.travel[0].steps[0].from = "z".repeat(200);
    odd.adjuster.warnings.push(about("\u{1b}[2Jwide".repeat(40)));
    let mut sixty = empty();
    sixty.readings = (0..60)
        .map(|n| measured(&format!("{n}.jpg"), Side::Left, None, None, 1.0))
        .collect();
    for case in [full(), contract_case(), empty(), sixty, odd] {
        let text = terminal::readings(Language::English, &case, true, false);
        assert_at_most_80_columns(&text);
        assert!(!text.contains('\u{1b}') && !text.contains('\u{7}'));
        assert!(text.lines().count() > case.readings.len());
    }
    assert!(terminal::readings(Language::English, &empty(), false, false).starts_with("No shots"));
}

#[test]
fn table_says_what_was_found() {
    let case = full();
    let text = terminal::readings(Language::English, &case, true, false);
    for part in [
        "left-after-0.jpg left  after  0            +1.22",
        "+1.22 ± 0.05",
        "1.00…1.50",
        "✓ inside",
        "✗ outside",
        "? undecided",
        "photos/right-before-0.jpg: undecided, 88 % likely to be inside; to settle it,",
        "∅ refused: overexposed",
        "photos/right-after-0.jpg: the cut-off lies in clipped light",
        "! job: 2 trials are recorded",
        "left after    0 → 1                      +0.41 ± 0.03  ↕ moves (down)",
        "= does not move",
        "made (drawn by a program)",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    let coloured = terminal::readings(Language::English, &case, true, true);
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        stripped.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    stripped.push_str(rest);
    assert_eq!(stripped, text, "colour adds sequences and nothing else");
}

#[test]
fn outcomes_of_the_fixture_are_the_ones_meant() {
    let results = Results::new(&full());
    let outcome = |n: usize| results.shots[n].measured().unwrap().verdict.as_ref().unwrap().outcome;
    assert_eq!(
        (outcome(0), outcome(3), outcome(6)),
        (Outcome::Outside, Outcome::Inside, Outcome::Undecided)
    );
}

/// The page, with blanks that may break for those that keep a figure and its % together.
fn page(case: &Findings) -> String {
    let figures = plots::figures(Language::English, case).unwrap();
    report::page(Language::English, case, &figures)
        .unwrap()
        .0
        .replace('\u{a0}', " ")
}

/// A page's head, and what follows it.
fn case_head(page: &str) -> (String, String) {
    let (head, rest) = page.split_once("</header>").unwrap();
    (head.to_owned(), rest.to_owned())
}

#[test]
fn who_measured_and_with_what_stands_on_the_page_with_a_place_to_sign() {
    let mut case = full();
    let (head, _) = case_head(&page(&case));
    let to_sign = "<p class=\"sign-here\">Signature</p>";
    assert!(head.contains(to_sign), "also where nobody is named");
    // Nobody typed a day: the photos have one.
    assert!(head.contains("<dt>Date</dt><dd>photos of 2031-03-04</dd>"), "{head}");
    case.readings[0].capture.taken = Some("2031-03-02T08:00:00".to_owned());
    case.readings[1].capture.taken = None;
    let (head, _) = case_head(&page(&case));
    assert!(
        head.contains("<dt>Date</dt><dd>photos of 2031-03-02 to 2031-03-04; without a time: 1</dd>"),
        "{head}"
    );
    let figures = plots::figures(Language::German, &case).unwrap();
    let german = report::page(Language::German, &case, &figures).unwrap().0;
    assert!(german.contains("<dd>Fotos vom 02.03.2031 bis 04.03.2031; ohne Zeit: 1</dd>"));
    case.job.vehicle.as_mut().unwrap().load = Some("driver, half a tank".to_owned());
    case.job.workshop = Some(Workshop {
        name: Some("Invented workshop".to_owned()),
        measured_by: Some("A. Nobody <b>".to_owned()),
        date: Some("4 March 2031".to_owned()),
        tape: Some("steel tape 2".to_owned()),
        gauge: Some("gauge 7".to_owned()),
    });
    let text = page(&case);
    for said in [
        "<dt>Load</dt><dd>driver, half a tank</dd>",
        "<dt>Measured by</dt><dd>A. Nobody &lt;b&gt;</dd>",
        "<dt>Date</dt><dd>4 March 2031</dd>",
        "steel tape 2; taken as sure to",
        "gauge 7; taken as sure to 5 mbar, one standard deviation",
        to_sign,
    ] {
        assert!(text.contains(said), "{said}");
    }
    assert_eq!(text.matches(to_sign).count(), 1);
    let json = serde_json::to_value(Results::new(&case)).unwrap();
    assert_eq!(json["workshop"]["tape"], "steel tape 2");
}

#[test]
fn page_escapes_whatever_the_user_writes() {
    const EVIL: &str = "<script>alert(\"1\")</script>'&";
    let mut case = full();
    case.job.job = EVIL.to_owned();
    case.job.vehicle.as_mut().unwrap().description = Some(EVIL.to_owned());
    case.bays = Bays::of_job(Bay {
        name: EVIL.to_owned(),
        ..case.bays.own().clone()
    });
    case.warnings = vec![Warning::SamePhoto {
        photos: [EVIL.into(), EVIL.into()],
    }];

    for reading in &mut case.readings {
        reading.shot.photo = EVIL.into();
        reading.capture.taken = Some(EVIL.to_owned());
        reading.sha256 = Some(EVIL.to_owned());
        if reading.shot.position.is_some() {
            let position = reading.shot.position.take().unwrap();
            reading.shot.position = Some(format!("{position}{EVIL}"));
        }
        match &mut reading.result {
            Ok(measured) => {
                measured.warnings = vec![Warning::BracketAddsLittle { bracket: EVIL.into() }];
            }
            Err(refusal) => refusal.message = Said::as_written(EVIL),
        }
    }
    let table = case.table.as_mut().unwrap();
    for text in [
        &mut table.title,
        &mut table.source,
        &mut table.edition,
        &mut table.confidence,
        &mut table.note,
    ] {
        *text = Said::as_written(EVIL);
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    case.adjuster.warnings = vec![about(EVIL.to_owned())];
    case.adjuster.response[0].warnings = vec![about(EVIL.to_owned())];
    let mut system = System::find("vacuum-cabin-control", std::path::Path::new(".")).unwrap();
    system.name = Said::as_written(EVIL);
    system.warnings = vec![about(EVIL.to_owned())];
    for component in &mut system.components {
        component.label = Said::as_written(EVIL);
    }
    for test in &mut system.tests {
        for text in [&mut test.ask, &mut test.look, &mut test.with] {
            *text = Said::as_written(EVIL);
        }
        let evil = vec![Said::as_written(EVIL)];
        (test.steps, test.hazards, test.kit) = (evil.clone(), evil.clone(), evil);
    }
    let case = isolated(case, system, &[]);
    let text = page(&case);
    assert!(
        text.contains("<h3 class=\"part\">Next test: "),
        "its words are on the page"
    );
    assert!(!text.contains("<script"), "markup got through");
    // A quote may stand bare in text, but not in a tag, where it would end an attribute.
    for (at, _) in text.match_indices("alert(\"") {
        let tag = text[..at].rfind(['<', '>']).unwrap();
        assert_eq!(&text[tag..=tag], ">", "an attribute is left at {}", &text[tag..at]);
    }
    // An apostrophe harms nothing between tags; drawings write it as a reference all the same.
    let escaped = "&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt;'&amp;";
    assert!(text.replace("&#39;", "'").matches(escaped).count() > 60);
    for figure in plots::figures(Language::English, &case).unwrap() {
        assert!(!figure.drawing.unwrap_or_default().contains("<script"));
    }
}

#[test]
fn page_says_what_every_report_must_say() {
    let mut case = full();
    let made = page(&case);
    assert_eq!(
        made.matches("The photos in this report are made (drawn by a program), not taken.")
            .count(),
        1
    );
    case.job.made_photos = false;
    let mut bare = empty();
    bare.table = None;
    bare.job.made_photos = false;
    // How sure the verdicts' figures are stands with what was found, and at the end in the terminal.
    let sure = "Limits: table un-r48; how sure they are: from memory";
    let found = made.split("<h2>How it was measured").next().unwrap();
    assert!(found.contains(sure) && !page(&bare).contains("how sure they are"));
    let said = terminal::readings(Language::English, &case, false, false);
    assert!(
        said.split_whitespace().collect::<Vec<_>>().join(" ").contains(sure),
        "{said}"
    );
    for text in [made.clone(), page(&case), page(&bare)] {
        assert!(text.contains("beamfall is no certified instrument; local rules and a licensed inspection decide."));
        for caution in [
            Caution::Exhaust,
            Caution::Rolling,
            Caution::Wall,
            Caution::MovingParts,
            Caution::HotLamps,
            Caution::HighVoltage,
            Caution::Glare,
            Caution::Covers,
            Caution::Airbags,
        ] {
            // The page writes some signs as entities.
            let said = maud::html! { (caution.text()) }.into_string();
            assert!(text.contains(&said), "{caution:?}");
        }
        assert!(text.starts_with("<!DOCTYPE html>\n<html lang=\"en\">") && text.ends_with("</html>\n"));
        let loads = text.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
        assert!(
            !loads.contains("http://") && !loads.contains("https://"),
            "everything is inside"
        );
        assert!(
            !text.contains("<link") && !text.contains("src=\"http"),
            "everything is inside"
        );
    }
    for text in [page(&case), page(&bare)] {
        assert!(!text.contains("drawn by a program"));
    }
    // Where a pump was used, its gauge was read.
    let of_gauge = maud::html! { (Caution::LowVacuum.text()) }.into_string();
    let mut pumped = full();
    pumped.job.shot = pumped.readings.iter().map(|reading| reading.shot.clone()).collect();
    assert!(page(&pumped).contains(&of_gauge) && !page(&bare).contains(&of_gauge));
    for part in [
        "the beam <strong>does not move</strong>",
        "the beam <strong>moves at every step that was measured</strong>",
        "Position 0 to 1: down 0.41 % ± 0.03 %",
        "With the pump: the beam <strong>moves</strong>",
        "<li>Vacuum raises the beam by 0.",
        "outside, too low",
        "Shorten the exposure to a quarter",
        "2 of 6 marks were found and 4 are needed",
        "from memory; compare with the regulation in force",
        "wall texture and noise",
        "(a limit lies within the interval; 88 % likely to be inside)<br><strong>To settle it:</strong>",
        "Right lamp: most of the ± is the ",
        "2 trials are recorded, but the job names no system",
    ] {
        assert!(made.contains(part), "{part}");
    }
    for reading in &case.readings {
        assert!(made.contains(reading.sha256.as_ref().unwrap()));
    }
    let [bracket, off] = &case.readings[0].others[..] else {
        panic!("a bracket and a lamp-off photo");
    };
    for (other, words) in [(bracket, "at another exposure, for "), (off, "with the lamp off, for ")] {
        assert!(made.contains(&other.sha256) && made.contains(words), "{words}");
    }
}

#[test]
fn overlay_lies_where_the_wall_does() {
    let mut case = full();
    case.readings = case.readings.split_off(3);
    case.readings.truncate(1);
    let text = page(&case);
    // The picture starts at (-1560, 1050) mm and has 2 mm a pixel; the reading is at (-996.6, 528) mm, the lamp's
    // centre at (-560, 650) mm, and 1.00 % and 1.50 % at 10 m are 550 mm and 500 mm high.
    for part in [
        "<path class=\"reading over\" d=\"M281.70 261.00h0\"></path>",
        "<polyline class=\"centre over\" points=\"0.00,200.00 900.00,200.00\"></polyline>",
        "<polyline class=\"vv over\" points=\"500.00,0.00 500.00,480.00\"></polyline>",
        "<polyline class=\"limit over\" points=\"0.00,250.00 900.00,250.00\"></polyline>",
        "<polyline class=\"limit over\" points=\"0.00,275.00 900.00,275.00\"></polyline>",
        "top:52.08%\">limit 1.00 %</span>",
        // Mark 4 is at (-1300, 900) mm and 160 mm wide.
        "<polyline class=\"mark over\" points=\"90.00,35.00 170.00,35.00 170.00,115.00 90.00,115.00 90.00,35.00\"></polyline>",
        "src=\"data:image/jpeg;base64,/9j/",
    ] {
        assert!(text.contains(part), "{part}");
    }
    // ± 0.04904 % at 10 m is ± 4.904 mm, over 400 mm.
    let photos = text.split("class=\"shots\"").nth(1).unwrap();
    let band = photos
        .split("<rect ")
        .find(|rect| rect.starts_with("class=\"u95\""))
        .unwrap();
    for (name, wanted) in [("x", 181.7), ("y", 258.548), ("width", 200.0), ("height", 4.904)] {
        let got = attribute(band, &format!(" {name}"));
        assert!((got - wanted).abs() < 0.011, "{name}: {got} and not {wanted}");
    }
}

/// All polylines of a plot, and for each label its place.
fn polylines(svg: &str) -> Vec<Vec<(f64, f64)>> {
    svg.split("points=\"")
        .skip(1)
        .map(|rest| {
            let points = rest.split('"').next().unwrap();
            points
                .split_whitespace()
                .map(|p| {
                    p.split_once(',')
                        .map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()))
                        .unwrap()
                })
                .collect()
        })
        .collect()
}

fn label_y(svg: &str, label: &str) -> f64 {
    let text = svg.split("<text ").find(|t| {
        t.split_once('>')
            .is_some_and(|(_, t)| t.trim_start().starts_with(label))
    });
    let text = text.unwrap_or_else(|| panic!("no label {label}"));
    text.split(" y=\"")
        .nth(1)
        .or_else(|| text.split("y=\"").nth(1))
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .parse()
        .unwrap()
}

fn label_x(svg: &str, label: &str) -> f64 {
    let text = svg.split("<text ").find(|t| {
        let body = t.split_once('>').map(|(_, t)| t.split('<').next().unwrap().trim());
        body == Some(label)
    });
    let text = text.unwrap_or_else(|| panic!("no label {label}"));
    attribute(text, "x")
}

/// As [`label_y`], of the first label that is nothing else.
fn label_y_exact(svg: &str, label: &str) -> f64 {
    let is_label = |t: &&str| t.split_once('>').map(|(_, t)| t.split('<').next().unwrap().trim()) == Some(label);
    attribute(svg.split("<text ").find(is_label).unwrap(), "y")
}

/// A number among an element's attributes.
fn attribute(element: &str, name: &str) -> f64 {
    let value = element.split(&format!("{name}=\"")).nth(1);
    let value = value.unwrap_or_else(|| panic!("no {name} in {element}"));
    value.split('"').next().unwrap().parse().unwrap()
}

/// Whether a bar from one value to the other stands in the plot, by the scale that two tick labels give.
/// Places are whole units, of which the shown plot has two to a pixel.
fn has_bar(svg: &str, ticks: [(&str, f64); 2], from: f64, to: f64) -> bool {
    let [(a, at_a), (b, at_b)] = ticks;
    let (y_a, y_b) = (label_y(svg, a), label_y(svg, b));
    let px = |value: f64| y_a + (value - at_a) / (at_b - at_a) * (y_b - y_a);
    assert!(px(2.0) > px(1.0), "down is down");
    polylines(svg).iter().any(|line| {
        line.len() == 2
            && line[0].0 == line[1].0
            && (line[0].1 - px(from)).abs() < 1.2
            && (line[1].1 - px(to)).abs() < 1.2
    })
}

#[test]
fn plots_have_their_bars_at_the_right_values() {
    let figures = plots::figures(Language::English, &full()).unwrap();
    let names: Vec<&str> = figures.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "inclination-left",
            "inclination-right",
            "travel",
            "vacuum-left-after",
            "budget-left",
            "budget-right"
        ]
    );
    assert!(
        names
            .iter()
            .all(|name| plots::names().iter().any(|known| known == name))
    );
    let left = figures[0].drawing.as_ref().unwrap();
    let ticks = [("0.5", 0.5), ("2.5", 2.5)];
    for percent in [1.22, 1.63, 2.05, 1.62] {
        assert!(has_bar(left, ticks, percent - 0.0496, percent + 0.0496), "{percent}");
    }
    assert!(
        !has_bar(left, ticks, 1.80 - 0.0496, 1.80 + 0.0496),
        "that is the right lamp's"
    );
    // A travel's bar holds the photo's share of both photos: 0.02 % times the root of two.
    let travel = figures[2].drawing.as_ref().unwrap();
    let u95 = 0.01998 * 2f64.sqrt();
    for percent in [0.01, 0.41, 0.83, 0.39, 0.77] {
        let ticks = [("0.2", 0.2), ("0.8", 0.8)];
        assert!(has_bar(travel, ticks, percent - u95, percent + u95), "{percent}");
    }
    // Against vacuum each photo has its own, upright and across.
    let vacuum = figures[3].drawing.as_ref().unwrap();
    let got = json(&full());
    let response = &got["adjuster"]["response"][0];
    let rest = response["curve"]["rest_percent"]["value"].as_f64().unwrap();
    let ticks = [("−0.8", -0.8), ("−0.2", -0.2)];
    let points = response["points"].as_array().unwrap();
    assert_eq!(points.len(), 7);
    for point in points {
        let [percent, u95, mbar, mbar_u95] = ["percent", "reading_u95_percent", "vacuum_mbar", "vacuum_u95_mbar"]
            .map(|key| point[key].as_f64().unwrap());
        let travel = percent - rest;
        assert!(has_bar(vacuum, ticks, travel - u95, travel + u95), "{point}");
        let (x_0, x_400) = (label_x(vacuum, "0"), label_x(vacuum, "400"));
        let px = |mbar: f64| x_0 + mbar / 400.0 * (x_400 - x_0);
        let across = polylines(vacuum).into_iter().any(|line| {
            line.len() == 2
                && line[0].1 == line[1].1
                && (line[0].0 - px(mbar - mbar_u95)).abs() < 1.2
                && (line[1].0 - px(mbar + mbar_u95)).abs() < 1.2
        });
        assert!(across, "{point}");
    }
    assert!(left.contains("sans-serif") && left.contains("%") && vacuum.contains("mbar"));
}

/// A pixel stands for each unit of the SVG: its bars and its words are where it has them, and the rest is white.
#[test]
fn the_png_shows_what_the_svg_does() {
    for figure in plots::figures(Language::English, &shut()).unwrap() {
        let svg = figure.drawing.unwrap();
        let bytes = plots::png(&svg).unwrap();
        assert_eq!(bytes, plots::png(&svg).unwrap(), "{}: not the same twice", figure.name);
        let picture = image::load_from_memory(&bytes).unwrap().to_luma8();
        assert_eq!(picture.dimensions(), (1800, 1360));
        let ink = |xs: [f64; 2], ys: [f64; 2]| {
            let all = (ys[0] as u32..ys[1] as u32).flat_map(|y| (xs[0] as u32..xs[1] as u32).map(move |x| (x, y)));
            all.filter(|(x, y)| picture.get_pixel(*x, *y).0[0] < 160).count()
        };
        // A short dash may lie under a marker.
        let long =
            |line: &Vec<(f64, f64)>| line.len() == 2 && (line[0].0 - line[1].0).hypot(line[0].1 - line[1].1) > 40.0;
        for line in polylines(&svg).into_iter().filter(long) {
            // A marker may lie on a part of it.
            let along = (0..=8).map(|n| {
                let at = |from: f64, to: f64| (from + f64::from(n) / 8.0 * (to - from)) as u32;
                let (x, y) = (at(line[0].0, line[1].0), at(line[0].1, line[1].1));
                picture.get_pixel(x.min(1799), y.min(1359)).0[0]
            });
            assert!(along.min().unwrap() < 250, "{}: no line {line:?}", figure.name);
        }
        for text in svg.split("<text ").skip(1) {
            let (x, y) = (attribute(text, "x"), attribute(text, "y"));
            let (from, to) = match text {
                _ if text.contains("text-anchor=\"start\"") => (x, x + 30.0),
                _ if text.contains("text-anchor=\"end\"") => (x - 30.0, x),
                _ => (x - 60.0, x + 60.0),
            };
            assert!(
                ink([from, to], [y - 50.0, (y + 50.0).min(1360.0)]) > 20,
                "{}: no words at {text}",
                figure.name
            );
        }
        assert_eq!(
            ink([0.0, 1800.0], [0.0, 16.0]) + ink([0.0, 24.0], [0.0, 1360.0]),
            0,
            "{}",
            figure.name
        );
        let dark = ink([0.0, 1800.0], [0.0, 1360.0]) as f64 / (1800.0 * 1360.0);
        assert!((0.01..0.2).contains(&dark), "{}: {dark}", figure.name);
    }
    assert!(plots::png("no picture").is_err());
}

#[test]
fn budget_bars_are_as_long_as_their_terms() {
    let figures = plots::figures(Language::English, &full()).unwrap();
    let budget = figures.iter().find(|f| f.name == "budget-left").unwrap();
    let svg = budget.drawing.as_ref().unwrap();
    // Outlines start at the left edge, 32; the longest is all together, 0.02502 %, 1736 units.
    let longest = |name: &str| -> f64 {
        let y = label_y(svg, name);
        let outline = polylines(svg)
            .into_iter()
            .find(|line| line.len() == 5 && line[0].0 == 32.0 && line[0].1 > y && line[0].1 < y + 60.0)
            .unwrap_or_else(|| panic!("no bar under {name}"));
        outline[1].0 - outline[0].0
    };
    let all = 0.025_019;
    for (name, sd_percent) in [
        ("all together", all),
        ("height of the lamp (job)", 0.0200),
        ("places of the sheets on the wall (job)", 0.0110),
        ("wall texture and noise (photo)", 0.0095),
    ] {
        let wanted = 1736.0 * sd_percent / all;
        assert!(
            (longest(name) - wanted).abs() < 1.5,
            "{name}: {} and not {wanted}",
            longest(name)
        );
    }
    assert!(budget.caption.contains("cancel in a travel"));
}

#[test]
fn too_few_points_give_a_sentence_and_no_plot() {
    let mut case = empty();
    case.readings = vec![
        measured("1.jpg", Side::Left, None, Some("0"), 1.2),
        at_vacuum(
            measured("2.jpg", Side::Left, None, None, 1.2),
            "10 inHg",
            Branch::Applying,
        ),
    ];
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let mut figures = plots::figures(Language::English, &case).unwrap();
    // One figure has a budget, too, and only then.
    let budget = figures.pop().unwrap();
    assert!(budget.name == "budget-left" && budget.drawing.is_ok());
    let names: Vec<&str> = figures.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names, ["inclination-left", "travel", "vacuum-left"]);
    let text = page(&case);
    for figure in figures {
        let sentence = figure.drawing.unwrap_err();
        assert!(
            sentence.starts_with("There is no plot of") && text.contains(&sentence),
            "{sentence}"
        );
    }
    assert!(plots::figures(Language::English, &empty()).unwrap().is_empty());
}

#[test]
fn a_report_is_written_whole_and_the_same_twice() {
    let folder = tempfile::tempdir().unwrap();
    let case = full();
    let read_all = |name: &str, case: &Findings| -> Vec<(String, Vec<u8>)> {
        let root = folder.path().join(name);
        let written = report::write(Language::English, &root, case, None).unwrap();
        let relative = |p: &std::path::Path| p.strip_prefix(&root).unwrap().to_string_lossy().replace('\\', "/");
        written
            .iter()
            .map(|p| (relative(p), std::fs::read(p).unwrap()))
            .collect()
    };
    let first = read_all("new/folder", &case);
    let names: Vec<&str> = first.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names,
        [
            "results.json",
            "readings.csv",
            "plots/inclination-left.svg",
            "plots/inclination-left.png",
            "plots/inclination-right.svg",
            "plots/inclination-right.png",
            "plots/travel.svg",
            "plots/travel.png",
            "plots/vacuum-left-after.svg",
            "plots/vacuum-left-after.png",
            "plots/budget-left.svg",
            "plots/budget-left.png",
            "plots/budget-right.svg",
            "plots/budget-right.png",
            "report.html",
            "report.pdf",
            "evidence.json"
        ]
    );
    let other = read_all("other", &case);
    // The evidence says where the job file lies as seen from the report.
    assert_eq!(other[..other.len() - 1], first[..first.len() - 1]);
    let evidence = |files: &[(String, Vec<u8>)]| -> Evidence {
        let mut evidence: Evidence = serde_json::from_slice(&files.last().unwrap().1).unwrap();
        evidence.job_file.clear();
        evidence.read[0].path.clear();
        evidence
    };
    assert_eq!(evidence(&other), evidence(&first));

    // Over an earlier report: no plot stays that the new one does not have, what is not ours stays.
    std::fs::write(folder.path().join("other/plots/mine.svg"), "x").unwrap();
    for ending in ["svg", "png"] {
        let stale = format!("other/plots/leak-down-left-after.{ending}");
        std::fs::write(folder.path().join(stale), "x").unwrap();
    }
    assert_eq!(read_all("other", &empty()).len(), 5);
    let left: Vec<_> = std::fs::read_dir(folder.path().join("other/plots"))
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(left, ["mine.svg"]);
}

#[test]
fn a_failure_is_named_and_leaves_the_earlier_report_whole() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("out");
    report::write(Language::English, &root, &empty(), None).unwrap();
    let before = std::fs::read(root.join("results.json")).unwrap();
    // A file where the folder of plots should go.
    std::fs::write(root.join("plots"), "x").unwrap();
    let message = report::write(Language::English, &root, &full(), None)
        .unwrap_err()
        .to_string();
    assert!(
        message.contains("plots") && message.contains("check that the folder"),
        "{message}"
    );
    assert_eq!(std::fs::read(root.join("results.json")).unwrap(), before);
    let names: Vec<_> = std::fs::read_dir(&root)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(names.iter().all(|n| !n.contains("part")), "{names:?}");
}

/// What stands before a legend's label, without any colour: each element's kind, its corners from the label's place, and
/// whether it is white.
fn legend_sign(svg: &str, label: &str) -> Vec<String> {
    let (x, y) = (label_x(svg, label), label_y(svg, label));
    let inside = |(px, py): (f64, f64)| (x - 136.0..x).contains(&px) && (py - y).abs() <= 32.0;
    let mut sign = Vec::new();
    for element in svg.split('<').skip(1) {
        let kind = element.split_whitespace().next().unwrap();
        let corners: Vec<(f64, f64)> = match kind {
            "circle" => vec![(attribute(element, "cx"), attribute(element, "cy"))],
            "polyline" | "polygon" => polylines(element).concat(),
            _ => continue,
        };
        if !corners.is_empty() && corners.iter().all(|corner| inside(*corner)) {
            let from_label: Vec<(f64, f64)> = corners.iter().map(|(px, py)| (px - x, py - y)).collect();
            let white = element.contains("fill=\"#FFFFFF\"");
            sign.push(format!("{kind} {from_label:?} {white}"));
        }
    }
    sign
}

#[test]
fn every_series_is_told_apart_without_colour() {
    // Only a lamp whose response is known can hold.
    let (of_shut, of_many) = (
        plots::figures(Language::English, &shut()).unwrap(),
        plots::figures(Language::English, &many()).unwrap(),
    );
    for (figures, name, labels, units) in [
        (
            &of_shut,
            "travel",
            &[
                "left, before",
                "left, after",
                "right, before",
                "less than 0.05 %: no travel",
                "expected",
            ][..],
            &["travel from the first position, %", "position of the range control"][..],
        ),
        (
            &of_shut,
            "vacuum-left-after",
            &["applying", "releasing", "dead band, end stop", "their 95 % intervals"],
            &[
                "travel from the beam&apos;s rest, %",
                "vacuum, mbar below atmosphere",
                "gain −0.",
                "per 100 mbar",
            ],
        ),
        (
            &of_shut,
            "leak-down-left-after",
            &["photos, fitted course", "vacuum, from the beam", "half is lost"],
            &[
                "inclination, %",
                "vacuum, mbar below atmosphere",
                "photo, minutes",
                "mbar/min",
            ],
        ),
        (
            &of_shut,
            "leak-down-right-before",
            &["photos, fitted course"],
            &["inclination, %", "photo, minutes"],
        ),
        (
            &of_many,
            "leak-down-left-after",
            &["photos, fitted course", "surely stays within"],
            &["inclination, %", "photo, minutes", "holds: loses", "less than"],
        ),
    ] {
        let figure = figures.iter().find(|f| f.name == name);
        let figure = figure.unwrap_or_else(|| panic!("no {name}"));
        let (svg, caption) = (figure.drawing.as_ref().unwrap().as_str(), figure.caption.as_str());
        let signs: Vec<Vec<String>> = labels.iter().map(|label| legend_sign(svg, label)).collect();
        for (n, sign) in signs.iter().enumerate() {
            assert!(!sign.is_empty(), "{name}: {} has no sign", labels[n]);
            assert!(!signs[..n].contains(sign), "{name}: {} looks like another", labels[n]);
        }
        for unit in units {
            assert!(svg.contains(unit), "{name}: {unit}");
        }
        assert!(
            caption.contains("Here: ") && caption.contains("95 %"),
            "{name}: {caption}"
        );
        assert!(svg.contains("<title>") && svg.contains("<desc>"), "{name}");
    }
}

#[test]
fn a_leak_down_is_drawn_where_its_figures_are() {
    let case = shut();
    let got = json(&case);
    let leaks = got["adjuster"]["leak_down"].as_array().unwrap();
    let leak = leaks.iter().find(|l| l["lamp"] == "left").unwrap();
    assert_eq!(
        (&leak["state"], &leak["through_response"]),
        (&"leaks".into(), &true.into())
    );
    let time = &leak["time_constant_s"];
    let [low, high] = ["low", "high"].map(|end| time[end].as_f64().unwrap());
    assert!(low < LEAK_TIME_CONSTANT_S && LEAK_TIME_CONSTANT_S < high, "{time}");
    let figures = plots::figures(Language::English, &case).unwrap();
    let figure = figures.iter().find(|f| f.name == "leak-down-left-after").unwrap();
    let svg = figure.drawing.as_ref().unwrap();
    assert!(figure.caption.contains(leak["words"].as_str().unwrap()));
    // The line at half: strokes of one x, in both areas.
    let half_s = leak["half_time_s"]["value"].as_f64().unwrap();
    let (x_1, x_4) = (label_x(svg, "1"), label_x(svg, "4"));
    let x_at = |elapsed_s: f64| x_1 + (elapsed_s - 60.0) / 180.0 * (x_4 - x_1);
    let x = x_at(half_s);
    let strokes = polylines(svg);
    let upright = strokes
        .iter()
        .filter(|line| line.iter().all(|(px, _)| (px - x).abs() < 1.2));
    assert!(upright.count() > 10, "{half_s}");
    // The dashed vacuum starts and ends where the course says: 0 and 200 mbar are labelled.
    let samples = leak["course"].as_array().unwrap();
    let (y_0, y_200) = (label_y_exact(svg, "0"), label_y_exact(svg, "200"));
    for (sample, place) in [
        (&samples[0], 0.0),
        (&samples[samples.len() - 1], leak["duration_s"].as_f64().unwrap()),
    ] {
        let y = y_0 + sample["vacuum_mbar"].as_f64().unwrap() / 200.0 * (y_200 - y_0);
        let x = x_at(place);
        let near = |(px, py): &(f64, f64)| (px - x).abs() < 20.0 && (py - y).abs() < 16.0;
        assert!(strokes.iter().any(|line| line.iter().any(near)), "{sample}");
    }
}

#[test]
fn page_carries_every_figure_of_the_adjuster() {
    let case = shut();
    let got = json(&case);
    let text = page(&case);
    let adjuster = &got["adjuster"];
    let number = |value: &Value| value.as_f64().unwrap();
    let mut wanted: Vec<String> = Vec::new();
    let signed = |value: &Value, places: usize| {
        let scale = 10f64.powi(i32::try_from(places).unwrap());
        let shown = format!("{:.places$}", (number(value) * scale).round() / scale);
        let shown = if shown.trim_start_matches('-').chars().all(|c| matches!(c, '0' | '.')) {
            shown.trim_start_matches('-').to_owned()
        } else {
            shown
        };
        if shown.starts_with('-') {
            shown.replace('-', "−")
        } else {
            format!("+{shown}")
        }
    };
    let percent =
        |of: &Value, value: &str, u95: &str| format!("{} ± {:.2}", signed(&of[value], 2), number(&of[u95]).max(0.01));
    let list = |value: &Value| value.as_array().unwrap().clone();
    for lamp in list(&adjuster["travel"]) {
        for step in list(&lamp["steps"]).iter().chain([&lamp["total"]]) {
            wanted.push(percent(step, "percent", "u95_percent"));
            let mm = number(&step["wall_u95_mm"]).max(1.0);
            wanted.push(format!("{} ± {mm:.0}", signed(&step["wall_mm"], 0)));
            let m = number(&step["reach_change_u95_m"]).max(1.0);
            wanted.push(format!("{} ± {m:.0}", signed(&step["reach_change_m"], 0)));
        }
        // What was before the repair is said as it was.
        wanted.extend(list(&lamp["faults"]).iter().map(|f| {
            f["message"]
                .as_str()
                .unwrap()
                .replace("does not follow", "did not follow")
        }));
        for position in list(&lamp["positions"]).iter().filter(|p| p["expected"].is_object()) {
            wanted.push(percent(position, "travel_percent", "travel_u95_percent"));
            wanted.push(format!("{}</span>", position["expected"]["outcome"].as_str().unwrap()));
        }
    }
    for side in list(&adjuster["sides"]) {
        wanted.push(percent(&side, "difference_percent", "u95_percent"));
    }
    for stage in list(&adjuster["stages"]) {
        for position in list(&stage["positions"]) {
            let change = &position["inclination"];
            for key in ["before", "after", "change"] {
                wanted.push(percent(
                    change,
                    &format!("{key}_percent"),
                    &format!("{key}_u95_percent"),
                ));
            }
        }
        wanted.extend(
            list(&stage["words"])
                .iter()
                .map(|w| w.as_str().unwrap()[1..].to_owned()),
        );
    }
    let interval = |of: &Value, places: usize| {
        let least = 10f64.powi(-i32::try_from(places).unwrap());
        let u95 = number(&of["u95"]).max(least);
        // Halves away from zero, as the page has them; formatting alone would take them to the even figure.
        let scale = 10f64.powi(i32::try_from(places).unwrap());
        let [value, u95] = [number(&of["value"]), u95].map(|v| (v * scale).round() / scale + 0.0);
        format!("{value:.places$} ± {u95:.places$}").replace('-', "−")
    };
    for response in list(&adjuster["response"]) {
        let curve = &response["curve"];
        wanted.push(interval(&curve["gain_percent_per_100_mbar"], 3) + " % per 100 mbar");
        wanted.push(interval(&curve["rest_percent"], 2) + " %");
        wanted.push(interval(&curve["hysteresis"]["gap_mbar"], 0) + " mbar");
        wanted.push(interval(&curve["hysteresis"]["loss_area_percent_mbar"], 0) + " % times mbar");
        wanted.extend(
            list(&response["warnings"])
                .iter()
                .map(|w| w.as_str().unwrap().to_owned()),
        );
    }
    for leak in list(&adjuster["leak_down"]) {
        wanted.push(leak["words"].as_str().unwrap()[1..].to_owned());
        for (key, places, unit) in [
            ("time_constant_s", 0, "s"),
            ("half_time_s", 0, "s"),
            ("start_rate_mbar_per_min", 1, "mbar/min"),
            ("creep_percent", 2, "%"),
        ] {
            if leak[key].is_object() {
                wanted.push(format!("{} {unit}", interval(&leak[key], places)));
            }
        }
    }
    wanted.extend(
        list(&adjuster["warnings"])
            .iter()
            .map(|w| w.as_str().unwrap().to_owned()),
    );
    assert!(wanted.len() > 60, "{}", wanted.len());
    for part in wanted {
        assert!(text.contains(&part), "{part} is not on the page");
    }
    assert!(
        text.contains("Pump's valve shut: <strong>leaks</strong>")
            && text.contains("Pump's valve shut: <strong>cannot tell</strong>")
    );
}

/// Table, page and file say the same of a travel, also where the job sets another least travel: 0.41 % is then none.
#[test]
fn movement_is_one_word_everywhere() {
    let mut case = full();
    case.job.adjuster.least_travel_percent = 0.6;
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let got = json(&case);
    let after = &got["adjuster"]["travel"][1];
    assert_eq!(
        (&after["movement"], &after["steps"][0]["movement"]),
        (&"moves".into(), &"does-not-move".into())
    );
    let text = page(&case);
    assert!(text.contains("Position 0 to 1: down 0.41 % ± 0.03 %, <span class=\"word\">does not move</span>"));
    assert!(
        text.contains("lies beyond 0.6 %")
            && text.contains("<strong>moves, but not from 0 to 1 and from 1 to 2</strong>")
    );
    assert!(!text.contains("<strong>moves at every step that was measured</strong>"));
    let lines = terminal::readings(Language::English, &case, true, false);
    let line = lines.lines().find(|l| l.starts_with("left after    0 → 1")).unwrap();
    assert!(line.ends_with("= does not move"), "{line}");
    let caption = plots::figures(Language::English, &case).unwrap().swap_remove(2).caption;
    assert!(
        caption.contains("less than 0.6 %") && caption.contains("left, after moves"),
        "{caption}"
    );
}

/// A beam that vacuum lowers cannot sink while vacuum is lost: the response is then left out and its course alone is stated.
#[test]
fn a_creep_against_the_response_is_no_tight_pump() {
    let mut case = shut();
    for reading in &mut case.readings {
        if let (Some(_), Ok(measured)) = (&reading.shot.vacuum, &mut reading.result) {
            measured.aim.inclination_percent = 3.5 - measured.aim.inclination_percent;
        }
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let got = json(&case);
    assert_eq!(got["adjuster"]["response"][0]["polarity"]["vacuum_raises"], false);
    let leak = &got["adjuster"]["leak_down"][0];
    assert_eq!(
        (&leak["state"], &leak["through_response"]),
        (&"leaks".into(), &false.into())
    );
    assert!(leak["words"].as_str().unwrap().starts_with("creeps by 0.6"), "{leak}");
    assert!(leak["warnings"][0].as_str().unwrap().contains("does not explain"));
    assert!(leak["start_vacuum_mbar"].is_null() && leak["loss_below_mbar"].is_null());
    let figures = plots::figures(Language::English, &case).unwrap();
    let figure = figures.iter().find(|f| f.name == "leak-down-left-after").unwrap();
    assert!(!figure.drawing.as_ref().unwrap().contains("vacuum, from the beam"));
}

/// Of a leak-down what is worked out from the beam is said to be that, with the gauge's figure beside it; and where the pump was joined is
/// said in the reader's language.
#[test]
fn a_leak_down_says_where_its_figures_are_from() {
    let mut case = shut();
    let mut first = true;
    for reading in &mut case.readings {
        if reading.shot.sealed && reading.shot.lamp == Side::Left {
            reading.shot.series = Some("at the lamp".to_owned());
            if std::mem::take(&mut first) {
                reading.shot.vacuum = Some(Vacuum::from_mbar(396.0));
            }
        }
    }
    case.adjuster = Adjuster::of(&case.readings, &case.job.adjuster, None);
    let leaks = &json(&case)["adjuster"]["leak_down"];
    let leak = &leaks[0];
    assert!(
        leak["through_response"] == true && leak["gauge_at_first_mbar"] == 396.0,
        "{leak}"
    );
    assert!(leaks[1]["gauge_at_first_mbar"].is_null(), "nothing was typed");
    let start = leak["start_vacuum_mbar"].as_f64().unwrap();
    let text = page(&case);
    for said in [
        "worked out from where the beam lies in the photos".to_owned(),
        "<dt>Gauge at the first photo, as typed</dt><dd>396 mbar</dd>".to_owned(),
        format!("<dt>Vacuum at the first photo, worked out from the beam</dt><dd>{start:.0} mbar</dd>"),
    ] {
        assert!(text.contains(&said), "{said}");
    }
    let german = terminal::readings(Language::German, &case, false, false);
    let german = german.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(german.contains("Ventil zu, am Scheinwerfer: "), "{german}");
    assert!(!german.contains("at the lamp"), "{german}");
}
