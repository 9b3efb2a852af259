//! The German report: no English sentence is left in it, its figures are those of the English one, and it holds when it is verified.

mod common;
#[path = "common/words.rs"]
mod words;

use common::program;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::LazyLock;
use words::{counted, english_in, numbers, text_of};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const JOB: &str = "sample-photos/job.toml";
const SYSTEM: &str = "vacuum-cabin-control";

/// Sentences of the user and of published rules, which stand as they were written.
const AS_WRITTEN: [&str; 3] = [
    "Invented estate car with a vacuum range adjuster; the left beam did not follow the control, its actuator was replaced",
    "beamfall isolate",
    "left-actuator",
];

/// What the sample job gave in each language: the reports in folders that last as long as the test.
struct Said {
    folder: tempfile::TempDir,
    printed: BTreeMap<&'static str, [String; 2]>,
}

/// The commands whose words are compared.
const COMMANDS: [(&str, &[&str]); 5] = [
    ("measure", &["measure", JOB]),
    ("measure --explain", &["measure", JOB, "--explain"]),
    ("isolate", &["isolate", JOB]),
    ("isolate of a system", &["isolate", SYSTEM]),
    ("isolate --plan", &["isolate", SYSTEM, "--plan"]),
];

fn run(arguments: &[&str]) -> Output {
    program().args(arguments).current_dir(ROOT).output().unwrap()
}

fn printed(output: &Output) -> String {
    assert!(
        matches!(output.status.code(), Some(0 | 3)),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout.clone()).unwrap()
}

static SAMPLE: LazyLock<Said> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let mut all = BTreeMap::new();
    for (name, arguments) in COMMANDS {
        let of = |language: &str| printed(&run(&[arguments, &["--lang", language]].concat()));
        all.insert(name, ["en", "de"].map(of));
    }
    let report = |language: &str| {
        let out = folder.path().join(language).display().to_string();
        let said = printed(&run(&["report", JOB, "-o", &out, "--lang", language]));
        said.replace(&out, "FOLDER")
    };
    all.insert("report", ["en", "de"].map(report));
    let drawn = |language: &str| {
        let path = folder.path().join(format!("{language}.svg")).display().to_string();
        printed(&run(&["isolate", SYSTEM, "--plan", "--svg", &path, "--lang", language]));
        text_of(&std::fs::read_to_string(path).unwrap())
    };
    all.insert("the drawn plan", ["en", "de"].map(drawn));
    let page = |language: &str| {
        let path = folder.path().join(language).join("report.html");
        text_of(&std::fs::read_to_string(path).unwrap())
    };
    all.insert("the page", ["en", "de"].map(page));
    Said { folder, printed: all }
});

#[test]
fn no_english_sentence_is_left() {
    let mut left = Vec::new();
    for (name, [_, german]) in &SAMPLE.printed {
        let german = AS_WRITTEN
            .iter()
            .fold(german.clone(), |said, words| said.replace(words, ""));
        // A terminal breaks a sentence anywhere; a piece of a page is by itself.
        let is_page = name.starts_with("the ");
        left.extend(
            english_in(&german, is_page)
                .into_iter()
                .map(|place| format!("{name}: {place}")),
        );
    }
    left.sort();
    left.dedup();
    assert!(left.is_empty(), "{} places:\n{}", left.len(), left.join("\n"));
}

#[test]
fn the_german_figures_are_the_english_ones() {
    assert_eq!(
        numbers("am 05.03.2031 um 8:00, 1,22 % und 0,5", true),
        ["0.5", "00", "1.22", "2031-03-05", "8"]
    );
    assert_eq!(
        numbers("on 2031-03-05 at 8:00, 1.22 % and 0.5.", false),
        ["0.5", "00", "1.22", "2031-03-05", "8"]
    );
    // A drawing is on as many sheets as its words need.
    let numbers_of = |text: &str, german: bool, [sheet, of]: [&str; 2]| {
        let lines = text
            .lines()
            .filter(|line| !(line.trim_start().starts_with(sheet) && line.contains(of)));
        numbers(&lines.collect::<Vec<_>>().join("\n"), german)
    };
    // Of 80 columns of a table one may be left out, by how long a language's words are.
    let compared = SAMPLE.printed.iter().filter(|(name, _)| **name != "measure --explain");
    for (name, [english, german]) in compared {
        let (english, german) = (
            numbers_of(english, false, ["Sheet ", " of "]),
            numbers_of(german, true, ["Blatt ", " von "]),
        );
        assert!(english.len() > 10 || *name == "report", "{name}");
        let (english, german) = (counted(english), counted(german));
        let all: BTreeSet<&String> = english.keys().chain(german.keys()).collect();
        let apart: Vec<_> = (all.into_iter())
            .map(|one| (one, english.get(one), german.get(one)))
            .filter(|(_, english, german)| english != german)
            .collect();
        assert!(apart.is_empty(), "{name}: how often in each: {apart:?}");
    }
}

#[test]
fn a_german_terminal_has_no_more_columns() {
    for (name, [_, german]) in &SAMPLE.printed {
        if name.starts_with("the ") {
            continue;
        }
        let widest = german.lines().max_by_key(|line| line.chars().count()).unwrap();
        assert!(widest.chars().count() <= 80, "{name}: {widest}");
    }
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let read = |path: PathBuf| {
        (
            path.file_name().unwrap().to_string_lossy().into_owned(),
            std::fs::read(&path).unwrap(),
        )
    };
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.filter(|path| path.is_file()).map(read).collect()
}

#[test]
fn what_machines_read_is_english_and_the_page_names_its_language() {
    let [english, german] = ["en", "de"].map(|language| files(&SAMPLE.folder.path().join(language)));
    for name in ["results.json", "readings.csv"] {
        assert!(english[name] == german[name], "{name}");
    }
    let text = |name: &str| String::from_utf8_lossy(&german[name]).into_owned();
    assert!(text("report.html").contains("<html lang=\"de\">"));
    assert!(text("report.pdf").contains("/Lang (de)"));
    assert!(text("evidence.json").contains("\"language\": \"de\""));
    assert!(String::from_utf8_lossy(&english["report.pdf"]).contains("/Lang (en)"));
    for arguments in [
        ["measure", JOB, "--json"],
        ["measure", JOB, "--csv"],
        ["isolate", JOB, "--json"],
    ] {
        let [english, german] = ["en", "de"].map(|of| printed(&run(&[&arguments[..], &["--lang", of]].concat())));
        assert!(english == german, "{arguments:?}");
    }
}

#[test]
fn a_german_report_holds_and_its_words_are_worked_out_again() {
    let german = SAMPLE.folder.path().join("de");
    let verified = |more: &[&str]| {
        let output = run(&[&["verify", &german.display().to_string()], more].concat());
        let said = String::from_utf8(output.stdout).unwrap();
        (
            output.status.code(),
            said.split_whitespace().collect::<Vec<_>>().join(" "),
        )
    };
    let (status, said) = verified(&["--lang", "de"]);
    assert!(status == Some(0) && said.contains("hält stand"), "{said}");
    let packed = SAMPLE.folder.path().join("packed").display().to_string();
    let said = printed(&run(&["report", JOB, "-o", &packed, "--pack", "--lang", "de"]));
    assert!(said.contains("Gepackt"), "{said}");
    let archive = std::fs::read(format!("{packed}.zip")).unwrap();
    let page = b"<html lang=\"de\">";
    assert!(archive.windows(page.len()).any(|window| window == page));
    let (status, said) = verified(&[]);
    assert!(status == Some(0) && said.contains("W-0117 holds"), "{said}");
}
