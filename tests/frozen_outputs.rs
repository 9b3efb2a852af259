//! Every output of the sample job, and of the commands beside it, by its digest: a change of structure must leave them as
//! they are, to the last digit. What changes one on purpose says so in its commit, and writes the list anew with
//! `BEAMFALL_WRITE_DIGESTS=1 cargo test --release --test frozen_outputs`.

mod common;

use common::program;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

fn list() -> PathBuf {
    Path::new(ROOT).join("tests/golden/digests.json")
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// What the program prints, run at the root of the crate, with the folder that it wrote to taken out.
fn printed(arguments: &[&str], folder: &Path, statuses: &[i32]) -> Vec<u8> {
    let output = program().args(arguments).current_dir(ROOT).output().unwrap();
    assert!(
        output.status.code().is_some_and(|code| statuses.contains(&code)),
        "{arguments:?}: {:?} {}",
        output.status,
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout)
        .unwrap()
        .replace(&folder.display().to_string(), "FOLDER")
        .into_bytes()
}

/// The files of a folder, by their names behind `name`. Not the evidence, which has digests of the program and of all these, and figures
/// to the last bit: `tests/verify.rs` is about it.
fn files(folder: &Path, name: &str, outputs: &mut BTreeMap<String, Vec<u8>>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let inner = format!("{name}/{}", path.file_name().unwrap().to_string_lossy());
        if path.is_dir() {
            files(&path, &inner, outputs);
        } else if !inner.ends_with("/evidence.json") {
            outputs.insert(inner, std::fs::read(&path).unwrap());
        }
    }
}

fn outputs() -> BTreeMap<String, Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let (job, report, sheets, letter, photos) = (
        "sample-photos/job.toml",
        at("report"),
        at("a4"),
        at("letter"),
        at("photos"),
    );
    let (parts, plan) = (at("parts.svg"), at("plan.svg"));
    let scene = "sample-photos/scenes/every-key.toml";
    let commands: [(&str, &[&str]); 20] = [
        ("report", &["report", job, "-o", &report]),
        ("measure --explain", &["measure", job, "--explain"]),
        ("measure --json", &["measure", job, "--json"]),
        ("measure --csv", &["measure", job, "--csv"]),
        ("isolate", &["isolate", job]),
        ("isolate --json", &["isolate", job, "--json"]),
        ("isolate --svg", &["isolate", job, "--svg", &parts]),
        (
            "isolate --plan",
            &["isolate", "vacuum-cabin-control", "--plan", "--svg", &plan],
        ),
        (
            "isolate --plan --json",
            &["isolate", "vacuum-bonnet-control", "--plan", "--json"],
        ),
        (
            "shots",
            &["shots", job, "--check", "positions,vacuum,leak-down,before-after"],
        ),
        (
            "shots --json",
            &["shots", job, "--check", "aim,leak-down", "--lamp", "left", "--json"],
        ),
        ("check readings", &check("readings")),
        ("check taped", &check("taped")),
        ("check travel", &check("travel")),
        ("check unreadable", &check("unreadable")),
        ("marks a4", &["marks", "--paper", "a4", "-o", &sheets]),
        (
            "marks letter",
            &["marks", "--paper", "letter", "--ids", "1,2", "-o", &letter],
        ),
        ("render", &["render", scene, "-o", &photos]),
        ("help", &["--help"]),
        ("help measure", &["measure", "--help"]),
    ];
    let mut outputs: BTreeMap<String, Vec<u8>> = commands
        .iter()
        .map(|(name, arguments)| {
            // The sample job holds a photo that must be refused.
            let statuses: &[i32] = if arguments.contains(&job) { &[0, 3] } else { &[0] };
            ((*name).to_owned(), printed(arguments, folder.path(), statuses))
        })
        .collect();
    files(folder.path(), "files", &mut outputs);
    outputs
}

/// Arguments of a small check of one kind.
fn check(kind: &'static str) -> [&'static str; 8] {
    let scenes = if kind == "unreadable" { "6" } else { "2" };
    ["check", "--each", "--kind", kind, "--scenes", scenes, "--seed", "71"]
}

#[test]
fn outputs_are_the_frozen_ones() {
    let outputs = outputs();
    let digests: BTreeMap<&String, String> = outputs.iter().map(|(name, bytes)| (name, hex(bytes))).collect();
    if std::env::var_os("BEAMFALL_WRITE_DIGESTS").is_some() {
        let text = serde_json::to_string_pretty(&digests).unwrap();
        std::fs::write(list(), text + "\n").unwrap();
        return;
    }
    let frozen: BTreeMap<String, String> = serde_json::from_str(&std::fs::read_to_string(list()).unwrap()).unwrap();
    let names: Vec<&String> = frozen
        .keys()
        .chain(outputs.keys().filter(|n| !frozen.contains_key(*n)))
        .collect();
    let changed: Vec<&&String> = names
        .iter()
        .filter(|name| frozen.get(**name) != digests.get(**name))
        .collect();
    if !changed.is_empty() {
        // What came out instead lies where it can be compared.
        let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join("changed-outputs");
        for (name, bytes) in &outputs {
            let path = kept.join(name.replace('/', "_"));
            std::fs::create_dir_all(&kept).unwrap();
            std::fs::write(path, bytes).unwrap();
        }
        panic!("changed: {changed:?}; all outputs lie in {}", kept.display());
    }
}
