//! The German report: no English sentence is left in it, its figures are those of the English one, and it holds when it is verified.

mod common;

use common::program;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::LazyLock;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const JOB: &str = "sample-photos/job.toml";
const SYSTEM: &str = "vacuum-cabin-control";

/// Words that hardly an English sentence does without, and that no German one has.
const ENGLISH_WORDS: [&str; 44] = [
    "a", "and", "are", "as", "at", "be", "beam", "been", "but", "by", "each", "for", "from", "has", "have", "if", "is",
    "it", "its", "lamp", "not", "of", "on", "one", "only", "or", "photo", "photos", "still", "than", "that", "the",
    "then", "there", "these", "this", "to", "which", "while", "where", "with", "without", "inside", "outside",
];
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

/// What a page says, to the eye and to the ear, a piece a line.
fn text_of(page: &str) -> String {
    const SPOKEN: [&str; 3] = [" alt=\"", " data-label=\"", " aria-label=\""];
    let mut said = String::new();
    let mut rest = page;
    while let Some(start) = rest.find('<') {
        said.push_str(&rest[..start]);
        said.push('\n');
        let end = start + rest[start..].find('>').unwrap();
        let tag = &rest[start..end];
        for name in SPOKEN {
            if let Some((_, value)) = tag.split_once(name) {
                said.push_str(value.split('"').next().unwrap());
                said.push('\n');
            }
        }
        rest = &rest[end + 1..];
        if tag.starts_with("<style") {
            rest = &rest[rest.find("</style>").unwrap()..];
        }
    }
    for (entity, letter) in [
        ("&quot;", "\""),
        ("&#39;", "'"),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&amp;", "&"),
        ("\u{a0}", " "),
    ] {
        said = said.replace(entity, letter);
    }
    said
}

#[test]
fn no_english_sentence_is_left() {
    let mut left = Vec::new();
    for (name, [_, german]) in &SAMPLE.printed {
        // As one line, since a terminal breaks it anywhere; a piece of a page is by itself.
        let german = if name.starts_with("the ") {
            german.clone()
        } else {
            german.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let german = AS_WRITTEN.iter().fold(german, |said, words| said.replace(words, ""));
        for piece in german.lines().filter(|piece| !piece.trim().is_empty()) {
            // A path's or a key's parts are no words.
            let words: Vec<&str> = piece
                .split_whitespace()
                .map(|word| word.trim_matches(|c: char| !c.is_alphanumeric() && c != '-'))
                .filter(|word| word.contains(char::is_alphabetic))
                .collect();
            for (n, word) in words.iter().enumerate() {
                if ENGLISH_WORDS.contains(word) {
                    let around = &words[n.saturating_sub(3)..(n + 4).min(words.len())];
                    left.push(format!("{name}: … {} …", around.join(" ")));
                }
            }
        }
    }
    left.sort();
    left.dedup();
    assert!(left.is_empty(), "{} places:\n{}", left.len(), left.join("\n"));
}

/// The numbers of a text in their order of size, dates as machines write them, with decimal points.
fn numbers(text: &str, german: bool) -> Vec<String> {
    let mut all = Vec::new();
    let mut number = String::new();
    for c in text.chars().chain([' ']) {
        if c.is_ascii_digit() || (matches!(c, '.' | ',' | '-') && number.ends_with(|c: char| c.is_ascii_digit())) {
            number.push(c);
            continue;
        }
        let said = number.trim_end_matches(['.', ',', '-']);
        if !said.is_empty() {
            let parts: Vec<&str> = said.split('.').collect();
            all.push(match parts.as_slice() {
                [day, month, year] if german && year.len() == 4 => format!("{year}-{month}-{day}"),
                _ if german => said.replace(',', "."),
                _ => said.to_owned(),
            });
        }
        number.clear();
    }
    all.sort();
    all
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
    for (name, [english, german]) in &SAMPLE.printed {
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

fn counted(all: Vec<String>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for one in all {
        *counts.entry(one).or_insert(0) += 1;
    }
    counts
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
