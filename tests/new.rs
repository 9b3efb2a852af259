//! `beamfall new` as a technician uses it: answers piped in, slips, an end half-way, and files that are there already.

mod common;

use common::program;
use std::io::Write;
use std::path::Path;
use std::process::{Output, Stdio};

/// Runs it in `folder` with these lines typed.
fn new(folder: &Path, typed: &str) -> Output {
    let mut child = program()
        .arg("new")
        .arg(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Where it ends before it has read all, the rest is not wanted.
    match child.stdin.take().unwrap().write_all(typed.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => panic!("{error}"),
        _ => {}
    }
    child.wait_with_output().unwrap()
}

/// Text of both streams with its line breaks taken out.
fn said(output: &Output) -> String {
    let all = String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr);
    all.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The sample's wall: name, floor, floor's evenness, size, tape, count, then each sheet's number, x and y.
const WALL: &str =
    "Back wall\n\n\n\n\n\n\n-1500\n212\n\n-600\n205\n\n550\n208\n\n1,45 m\n215\n\n-150 cm\n1120\n\n540\n1130\n";
/// Its car: the table is the only one of the optional answers.
const CAR: &str = "W-0117\nright\n\n\n\n\nun-r48\n\n\nboth\n652\n\n-560\n10 m\n\n\n655\n\n565\n10000\n\n\n";

#[test]
fn the_answers_make_both_files_and_the_next_command_takes_them() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("made");
    let output = new(&inside, &(WALL.to_owned() + CAR));
    let all = said(&output);
    assert_eq!(output.status.code(), Some(0), "{all}");
    assert!(all.contains("fit together. Next: beamfall shots"), "{all}");
    let read = |name: &str| std::fs::read_to_string(inside.join(name)).unwrap();
    let parsed = |name: &str| toml::from_str::<toml::Value>(&read(name)).unwrap();
    let (bay, job) = (parsed("bay.toml"), parsed("job.toml"));
    let sheets = bay["marks"]["sheet"].as_array().unwrap();
    let place = |n: usize| {
        (
            sheets[n]["x_mm"].as_float().unwrap(),
            sheets[n]["y_mm"].as_float().unwrap(),
        )
    };
    assert_eq!(
        (sheets.len(), place(3), place(4)),
        (6, (1450.0, 215.0), (-1500.0, 1120.0))
    );
    assert_eq!(bay["marks"]["size_mm"].as_float(), Some(160.0));
    assert_eq!(job["lamp"][0]["distance_mm"].as_float(), Some(10_000.0));
    assert_eq!(job["lamp"][1]["centre_x_mm"].as_float(), Some(565.0));
    assert_eq!(job["tolerance"].as_str(), Some("un-r48"));
    assert!(job.get("system").is_none() && job.get("vehicle").is_none());
    let next = program().arg("shots").arg(inside.join("job.toml")).output().unwrap();
    assert_eq!(next.status.code(), Some(0), "{}", said(&next));
}

/// Whether and by what a car is judged is chosen, here as on the page; of a stamp nobody has to know tolerances.
#[test]
fn the_table_is_chosen_and_a_stamp_stands_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    for (name, typed, table, mark) in [
        (
            "un",
            "\nun-r48\n1.2\n",
            "un-r48",
            "\n[lamp_mark]\nset_percent = 1.2\n\n",
        ),
        (
            "stamp",
            "lamp-mark\n\n1,2 %\n\n\n\n\n",
            "lamp-mark",
            "\n[lamp_mark]\nset_percent = 1.2\n\n",
        ),
        (
            "own",
            "lamp-mark\n1.2\n0.1\n\n0.2\n\n\n",
            "lamp-mark",
            "\n[lamp_mark]\nset_percent = 1.2\nsetting_tolerance_percent = [0.1, 0.2]\n\n",
        ),
    ] {
        let inside = folder.path().join(name);
        let output = new(&inside, &(WALL.to_owned() + &CAR.replace("un-r48\n\n", typed)));
        let all = said(&output);
        assert_eq!(
            (output.status.code(), all.matches("No: ").count()),
            (Some(0), 1),
            "{all}"
        );
        let job = std::fs::read_to_string(inside.join("job.toml")).unwrap();
        assert!(
            job.contains(&format!("tolerance = \"{table}\"")) && job.contains(mark),
            "{job}"
        );
    }
    let none = folder.path().join("none");
    let output = new(&none, &(WALL.to_owned() + &CAR.replace("un-r48\n\n", "none\n")));
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(
        !std::fs::read_to_string(none.join("job.toml"))
            .unwrap()
            .contains("tolerance")
    );
}

#[test]
fn slips_are_told_at_once_and_asked_again() {
    let folder = tempfile::tempdir().unwrap();
    let slips = [
        (
            "Back wall\n\n",
            "Back wall\nceiling\n\n",
            "give one of: floor, level-line",
        ),
        ("\n\n-1500\n", "\n\n-1 500\n-1500\n", "this is no number"),
        ("-1500\n212\n", "-1500\n-212\n212\n", "lies above the floor"),
        (
            "\n-600\n205\n",
            "1\n\n-600\n205\n",
            "number 1 was given to another sheet",
        ),
        ("-600\n205\n", "-600\n20.5\n205\n", "would reach below the floor"),
        (
            "550\n208\n",
            "550\n208 ft\n208\n",
            "the unit \"ft\" is not known here; give mm, cm, m, or in",
        ),
        ("-150 cm\n1120\n", "-1450\n215\n1120\n", "lie on each other (-1500, 212"),
        ("540\n1130\n", "540\n1130 m\n1130\n", "between -3000 and 6000"),
        ("W-0117\nright\n", "\nW-0117\nright\n", "cannot be left out"),
        ("652\n\n", "0.652\n652\n\n", "300 to 2500 mm above the floor"),
        (
            "10 m\n",
            "8.05\n10 m\n",
            "8.05 looks like metres; give it in mm (8050), or with its unit",
        ),
        ("565\n", "-565\n565\n", "is a minus missing, or one too many?"),
    ];
    let mut typed = WALL.to_owned() + CAR;
    for (right, with_slip, _) in &slips {
        assert_eq!(typed.matches(right).count(), 1, "{right:?}");
        typed = typed.replace(right, with_slip);
    }
    let output = new(folder.path(), &typed);
    let all = said(&output);
    for (_, _, told) in slips {
        assert_eq!(all.matches(told).count(), 1, "{told}: {all}");
    }
    assert_eq!(
        (output.status.code(), all.matches("No: ").count()),
        (Some(0), slips.len()),
        "{all}"
    );
}

/// A minus that was left out shows three sheets later: the sheet that lacks it is asked for again, and then it goes on where it was.
#[test]
fn an_earlier_answer_is_mended() {
    let folder = tempfile::tempdir().unwrap();
    let whole = WALL.to_owned() + CAR;
    let text = |inside: &Path| std::fs::read_to_string(inside.join("bay.toml")).unwrap();
    let right = folder.path().join("right");
    assert_eq!(new(&right, &whole).status.code(), Some(0));
    // Sheet 1 at +1450 beside sheet 4 at 1450, told once sheet 4's height is known.
    let slipped = whole.replacen("-1500\n212\n", "1500\n212\n", 1);
    let slipped = slipped.replacen("1,45 m\n215\n", "1,45 m\n215\n-1500\n215\n", 1);
    let mended = folder.path().join("mended");
    let output = new(&mended, &slipped);
    let all = said(&output);
    assert_eq!(output.status.code(), Some(0), "{all}");
    assert!(
        all.matches("No: ").count() == 1 && all.contains("is sheet 1: is its minus missing?") && !all.contains("?."),
        "{all}"
    );
    assert_eq!(text(&mended), text(&right));
    // Back by hand: one question, and one further; what lies between is asked again.
    let back = whole.replacen("-1500\n212\n", "-1600\n215\n<\n<\n-1500\n212\n", 1);
    let gone_back = folder.path().join("back");
    let output = new(&gone_back, &format!("<\n{back}"));
    let all = said(&output);
    assert_eq!(output.status.code(), Some(0), "{all}");
    assert!(
        all.contains("this is the first question") && all.contains("[215"),
        "{all}"
    );
    // An answer that is asked again stands in brackets, and an empty line keeps it.
    let kept = whole.replacen("-1500\n212\n", "-1500\n212\n<\n\n", 1);
    let output = new(&folder.path().join("kept"), &kept);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert_eq!(text(&folder.path().join("kept")), text(&right));
    assert_eq!(text(&gone_back), text(&right));
}

#[test]
fn where_the_answers_end_half_way_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("made");
    let all = WALL.to_owned() + CAR;
    let ends: Vec<usize> = all.match_indices('\n').map(|(at, _)| at).collect();
    for &end in ends[..ends.len() - 1].iter().step_by(4) {
        let output = new(&inside, &all[..=end]);
        let told = said(&output);
        assert_eq!(output.status.code(), Some(1), "{told}");
        assert!(
            told.contains("the answers end before the last question; nothing is written"),
            "{told}"
        );
        assert!(!inside.exists());
    }
}

#[test]
fn what_is_there_stays() {
    let folder = tempfile::tempdir().unwrap();
    let [bay, job] = ["bay.toml", "job.toml"].map(|name| folder.path().join(name));
    std::fs::write(&job, "mine").unwrap();
    let output = new(folder.path(), &(WALL.to_owned() + CAR));
    assert_eq!(output.status.code(), Some(1));
    assert!(said(&output).contains("is there already"), "{}", said(&output));
    assert_eq!(std::fs::read_to_string(&job).unwrap(), "mine");
    assert!(!bay.exists());
    std::fs::remove_file(&job).unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos/bay.toml");
    std::fs::copy(&sample, &bay).unwrap();
    let output = new(folder.path(), CAR);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert_eq!(
        std::fs::read(&bay).unwrap(),
        std::fs::read(&sample).unwrap(),
        "a bay that is there is taken as it is"
    );
}

#[test]
fn sheets_on_one_line_and_lines_that_are_no_answers_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let on_a_line = "Wall\n\n\n\n\n4\n\n-1500\n200\n\n-500\n200\n\n500\n200\n\n1500\n200\n";
    let output = new(folder.path(), on_a_line);
    assert!(
        said(&output).contains("all sheets hang on one line"),
        "{}",
        said(&output)
    );
    for (typed, told) in [
        ("x".repeat(5000), "too long to be an answer"),
        ("a\u{1b}[2J\n".to_owned(), "cannot be seen"),
    ] {
        let output = new(folder.path(), &typed);
        assert!(said(&output).contains(told), "{}", said(&output));
        assert!(!output.stdout.contains(&0x1b));
    }
}
