//! The program among files that are not what they should be: pipes, devices, hostile names, full disks.

mod common;

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-photos");
/// Nothing here reads more than a photo; what takes this long hangs.
const HANGS: Duration = Duration::from_secs(120);

fn program(arguments: &[&str]) -> Command {
    let mut command = common::program();
    command.args(arguments);
    command
}

fn beamfall(arguments: &[&str]) -> Output {
    let mut child = program(arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let start = Instant::now();
    while child.try_wait().unwrap().is_none() {
        if start.elapsed() > HANGS {
            child.kill().unwrap();
            panic!("{arguments:?} hangs");
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    child.wait_with_output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn job(folder: &Path, extra: &str, shots: &[&str]) -> String {
    let mut job = format!(
        "schema = 1\njob = \"T\"\nbay = \"{SAMPLE}/bay.toml\"\ntraffic = \"right\"\n{extra}\n\
         [[lamp]]\nside = \"left\"\ncentre_height_mm = 652.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n"
    );
    for shot in shots {
        job.push_str(&format!(
            "[[shot]]\nphoto = {}\nlamp = \"left\"\nposition = \"0\"\n",
            toml_text(shot)
        ));
    }
    let path = folder.join("job.toml");
    std::fs::write(&path, job).unwrap();
    path.to_string_lossy().into_owned()
}

fn toml_text(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

#[cfg(unix)]
#[test]
fn pipes_devices_and_folders_are_named_and_nothing_hangs() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let pipe = pipe.to_string_lossy().into_owned();
    for (path, what) in [
        (pipe.as_str(), "a device or a pipe"),
        ("/dev/zero", "a device or a pipe"),
    ] {
        // As the job itself, its bay, its table and its system: an error.
        let measure = |extra: &str, bay: &str| {
            let path = job(folder.path(), extra, &[]);
            let written = std::fs::read_to_string(&path).unwrap();
            std::fs::write(&path, written.replace(&format!("{SAMPLE}/bay.toml"), bay)).unwrap();
            beamfall(&["measure", &path])
        };
        let bay = format!("{SAMPLE}/bay.toml");
        for output in [
            beamfall(&["report", path, "-o", &folder.path().join("r").to_string_lossy()]),
            measure("", path),
            measure(&format!("tolerance = \"{path}\""), &bay),
            measure(&format!("system = \"{path}\""), &bay),
        ] {
            assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
            assert!(text(&output.stderr).contains(what), "{}", text(&output.stderr));
        }
        // As a photo: a refusal.
        let output = beamfall(&["measure", &job(folder.path(), "", &[path]), "--json"]);
        assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
        assert!(text(&output.stdout).contains(what), "{}", text(&output.stdout));
    }
    let output = beamfall(&["measure", &job(folder.path(), "", &["."]), "--json"]);
    assert!(output.status.code() == Some(3) && text(&output.stdout).contains("is a folder"));
}

/// Outputs name photos as the job does.
#[test]
fn refusals_name_no_place_of_this_machine() {
    let folder = tempfile::tempdir().unwrap();
    let output = beamfall(&["measure", &job(folder.path(), "", &["photos/none.jpg"]), "--json"]);
    let results: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let said = results["shots"][0].to_string();
    let place = folder.path().to_string_lossy().into_owned();
    assert!(
        said.contains("\"there is no such file") && !said.contains(&place),
        "{said}"
    );
    assert_eq!(said.matches("none.jpg").count(), 1, "the path is said once: {said}");
}

#[test]
fn nothing_hostile_reaches_terminal_csv_or_drawings() {
    let folder = tempfile::tempdir().unwrap();
    let name = "=a\u{1b}[31m\u{202e}\u{9b}\n.jpg";
    let path = job(
        folder.path(),
        "[vehicle]\ndescription = \"car\\u001b[2J\\u202e\"",
        &[name],
    );
    let out = folder.path().join("report").to_string_lossy().into_owned();
    let hostile = |c: char| (c.is_control() && !"\n\r\t".contains(c)) || ('\u{202a}'..='\u{202e}').contains(&c);
    for arguments in [
        vec!["measure", &path],
        vec!["measure", &path, "--csv"],
        vec!["measure", &path, "--json"],
        vec!["report", &path, "-o", &out],
        vec!["measure", "no\u{1b}[31m such.toml"],
    ] {
        let output = beamfall(&arguments);
        for stream in [&output.stdout, &output.stderr] {
            let stream = text(stream);
            assert!(!stream.contains(hostile), "{arguments:?}: {stream:?}");
        }
    }
    let csv = text(&std::fs::read(Path::new(&out).join("readings.csv")).unwrap());
    assert!(!csv.contains(hostile) && csv.contains("\n'=a"), "{csv:?}");
    let page = text(&std::fs::read(Path::new(&out).join("report.html")).unwrap());
    assert!(!page.contains(hostile));
}

#[cfg(target_os = "linux")]
#[test]
fn full_and_closed_streams_are_no_panic() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(folder.path(), "", &["none.jpg"]);
    let full = || std::fs::File::options().write(true).open("/dev/full").unwrap();
    let status = |arguments: &[&str]| {
        program(arguments)
            .stdout(full())
            .stderr(full())
            .status()
            .unwrap()
            .code()
    };
    assert_eq!(status(&["measure", &path]), Some(1));
    assert_eq!(status(&["measure", &path, "--json"]), Some(1));
    assert_eq!(status(&["measure", "no-such.toml"]), Some(1));
    assert_eq!(status(&["--help"]), Some(1));
}

/// The photo is a pipe's name that is not there: had it been looked at, the place for the output was asked too late.
#[test]
fn a_place_that_cannot_be_written_is_said_before_the_photos_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(folder.path(), "", &["none.jpg"]);
    let file = folder.path().join("file");
    std::fs::write(&file, "x").unwrap();
    // The bay is read after the place is asked for.
    let written = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, written.replace("bay.toml", "no-bay.toml")).unwrap();
    let output = beamfall(&["report", &path, "-o", &file.to_string_lossy()]);
    let said = text(&output.stderr);
    assert!(
        output.status.code() == Some(1) && said.contains("is a file where the folder belongs"),
        "{said}"
    );
    let svg = file.join("plan.svg").to_string_lossy().into_owned();
    let output = beamfall(&["isolate", "no-such-system", "--svg", &svg]);
    let said = text(&output.stderr);
    assert!(
        output.status.code() == Some(1) && said.contains("plan.svg: cannot write"),
        "{said}"
    );
}

#[test]
fn a_report_over_another_is_whole_and_keeps_what_is_not_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let path = job(folder.path(), "", &["none.jpg"]);
    let out = folder.path().join("report");
    let out_text = out.to_string_lossy().into_owned();
    let report = || beamfall(&["report", &path, "-o", &out_text]);
    assert_eq!(report().status.code(), Some(3));
    let page = std::fs::read(out.join("report.html")).unwrap();
    std::fs::write(out.join("notes.txt"), "mine").unwrap();
    // A folder in the place of the file that is written last: nothing may have changed.
    std::fs::remove_file(out.join("readings.csv")).unwrap();
    std::fs::create_dir(out.join("readings.csv")).unwrap();
    std::fs::write(out.join("results.json"), "old").unwrap();
    let failed = report();
    assert_eq!(failed.status.code(), Some(1), "{}", text(&failed.stderr));
    assert!(
        text(&failed.stderr).contains("readings.csv"),
        "{}",
        text(&failed.stderr)
    );
    assert_eq!(std::fs::read(out.join("results.json")).unwrap(), b"old");
    std::fs::remove_dir(out.join("readings.csv")).unwrap();
    assert_eq!(report().status.code(), Some(3));
    assert_eq!(std::fs::read(out.join("report.html")).unwrap(), page);
    assert_eq!(std::fs::read(out.join("notes.txt")).unwrap(), b"mine");
    let hidden = std::fs::read_dir(folder.path()).unwrap().flatten();
    assert!(
        hidden
            .into_iter()
            .all(|entry| !entry.file_name().to_string_lossy().starts_with('.'))
    );
}
