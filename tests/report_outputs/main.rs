//! What the report's outputs must be, on findings built by hand.

mod fixture;

use beamfall::aim::Outcome;
use beamfall::record::{Branch, Side, Stage};
use beamfall::refusal::Reason;
use beamfall::report::{Results, csv, table};
use fixture::{Case, at_vacuum, empty, full, measured, refused};
use serde_json::Value;

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
fn contract_case() -> Case {
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
    case.travels = vec![beamfall::adjuster::Travel {
        lamp: Side::Left,
        stage: Some(Stage::Before),
        from: "0".to_owned(),
        to: "1".to_owned(),
        percent: 0.41,
        u95_percent: 0.02,
    }];
    case
}

fn json(case: &Case) -> Value {
    serde_json::from_str(&Results::new(&case.findings()).to_json().unwrap()).unwrap()
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
    let refused = got["shots"][1].as_object().unwrap();
    assert_eq!(refused["message"], "less light");
    assert!(!refused.contains_key("inclination") && !refused.contains_key("verdict"));
    assert_eq!(got["travel"], wanted["travel"]);
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
    let results = Results::new(&case.findings());
    let text = results.to_json().unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    assert!(value["shots"][0]["verdict"].is_null() && value["table"].is_null());
    let back: Results = serde_json::from_str(&text).unwrap();
    assert_eq!(back, results);
    assert_eq!(back.to_json().unwrap(), text);
}

#[test]
fn csv_reads_back_with_awkward_texts_whole() {
    let mut case = contract_case();
    case.readings
        .push(measured("a,\"b\"\n.jpg", Side::Right, None, Some("=1+1"), -0.25));
    let text = csv::readings(&Results::new(&case.findings())).unwrap();
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    assert_eq!(reader.headers().unwrap().iter().collect::<Vec<_>>(), csv::HEADER);
    let column = |name: &str| csv::HEADER.iter().position(|h| *h == name).unwrap();
    let rows: Vec<::csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 3);
    assert_eq!(&rows[0][column("inclination_percent")], "1.02");
    assert_eq!(&rows[0][column("outcome")], "undecided");
    assert_eq!(&rows[1][column("reason")], "overexposed");
    assert_eq!(&rows[1][column("inclination_percent")], "");
    assert_eq!(&rows[2][column("photo")], "a,\"b\"\n.jpg");
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
    odd.travels = beamfall::adjuster::travels(&odd.readings);
    odd.travels[0].from = "z".repeat(200);
    let mut sixty = empty();
    sixty.readings = (0..60)
        .map(|n| measured(&format!("{n}.jpg"), Side::Left, None, None, 1.0))
        .collect();
    for case in [full(), contract_case(), empty(), sixty, odd] {
        let results = Results::new(&case.findings());
        let text = table::render(&results, false);
        assert_at_most_80_columns(&text);
        assert!(!text.contains('\u{1b}') && !text.contains('\u{7}'));
        assert!(text.lines().count() > case.readings.len());
    }
    assert!(table::render(&Results::new(&empty().findings()), false).starts_with("No shots"));
}

#[test]
fn table_says_what_was_found() {
    let case = full();
    let results = Results::new(&case.findings());
    let text = table::render(&results, false);
    for part in [
        "left-after-0.jpg left  after  0            +1.22",
        "+1.22 ± 0.05",
        "1.00…1.50",
        "✓ inside",
        "✗ outside",
        "? undecided",
        "∅ refused: overexposed",
        "photos/right-after-0.jpg: the cut-off lies in clipped light",
        "job: trials are recorded",
        "left after    0 → 1                      +0.41 ± 0.03  ↕ moves (down)",
        "= does not move",
        "made (drawn by a program)",
    ] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
    let coloured = table::render(&results, true);
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
    let results = Results::new(&full().findings());
    let outcome = |n: usize| results.shots[n].measured().unwrap().verdict.as_ref().unwrap().outcome;
    assert_eq!(
        (outcome(0), outcome(3), outcome(6)),
        (Outcome::Outside, Outcome::Inside, Outcome::Undecided)
    );
}
