//! The program as a user runs it: exit statuses, streams, wrong files, half-way.

mod common;

use common::program;
use std::path::Path;
use std::process::Output;

fn beamfall(arguments: &[&str]) -> Output {
    program().args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-photos");

/// A folder with the sample bay and a job of one photo.
fn small_job(folder: &Path, photo: &str, extra: &str) -> String {
    let job = format!(
        "schema = 1\njob = \"T\"\nbay = \"{SAMPLE}/bay.toml\"\ntraffic = \"right\"\ntolerance = \"un-r48\"\n{extra}\n\
         [[lamp]]\nside = \"left\"\ncentre_height_mm = 652.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n\
         [[shot]]\nphoto = \"{photo}\"\nlamp = \"left\"\nposition = \"0\"\n"
    );
    let path = folder.join("job.toml");
    std::fs::write(&path, job).unwrap();
    path.to_string_lossy().into_owned()
}

#[test]
fn json_has_the_agreed_keys_and_status_0() {
    let folder = tempfile::tempdir().unwrap();
    let job = small_job(folder.path(), &format!("{SAMPLE}/photos/left-after-0.jpg"), "");
    let output = beamfall(&["measure", &job, "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let results: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let shot = &results["shots"][0];
    assert_eq!(shot["status"], "measured");
    for key in [
        "inclination",
        "drop_mm",
        "degrees",
        "reach_m",
        "cutoff",
        "verdict",
        "warnings",
        "sha256",
        "taken",
    ] {
        assert!(!shot[key].is_null(), "{key}");
    }
    let truth: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(format!("{SAMPLE}/photos/left-after.truth.json")).unwrap())
            .unwrap();
    let made = truth["truth"]
        .as_array()
        .unwrap()
        .iter()
        .find(|t| t["photo"] == "left-after-0.jpg")
        .unwrap();
    let error = shot["inclination"]["percent"].as_f64().unwrap() - made["inclination_percent"].as_f64().unwrap();
    assert!(
        error.abs() <= shot["inclination"]["u95_percent"].as_f64().unwrap(),
        "off by {error} %"
    );
}

/// From a level line the grade adds to the inclination; what a tape finds at the wall stays what it was.
#[test]
fn the_drop_at_the_wall_is_what_a_tape_finds() {
    let folder = tempfile::tempdir().unwrap();
    let bay = std::fs::read_to_string(format!("{SAMPLE}/bay.toml")).unwrap();
    let of_grade = |grade: &str| {
        let path = folder.path().join("bay.toml");
        let from = bay.replace(
            "heights_from = \"floor\"",
            &format!("heights_from = \"level-line\"\ngrade_percent = {grade}"),
        );
        assert!(from.contains(grade), "{from}");
        std::fs::write(&path, from).unwrap();
        let photo = format!("{SAMPLE}/photos/left-after-0.jpg");
        let (bay, lamp) = (path.to_string_lossy().into_owned(), "--lamp-height=652");
        let arguments = [
            "measure",
            &photo,
            "--bay",
            &bay,
            lamp,
            "--lamp-x=-560",
            "--distance=10000",
            "--traffic=right",
        ];
        let output = beamfall(&[&arguments[..], &["--json"]].concat());
        let results: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let shot = &results["shots"][0];
        let shown = beamfall(&arguments);
        let figure = |value: &serde_json::Value| value.as_f64().expect("a figure");
        (
            [
                &shot["inclination"]["percent"],
                &shot["drop_mm"],
                &shot["drop_at_wall_mm"],
            ]
            .map(figure),
            text(&shown.stdout),
        )
    };
    let ([level_percent, level_mm, level_at_wall_mm], _) = of_grade("0.0");
    let ([percent, mm, at_wall_mm], _) = of_grade("0.4");
    assert_eq!(level_mm, level_at_wall_mm);
    for (is, was, more) in [
        (percent, level_percent, 0.4),
        (mm, level_mm, 40.0),
        (at_wall_mm, level_at_wall_mm, 0.0),
    ] {
        assert!((is - was - more).abs() < 0.02, "{is} {was}");
    }
}

/// A photo was left out, so that all behind it stand for another position: neither a lamp nor a part is blamed for it.
#[test]
fn photos_one_position_off_are_told_and_nothing_is_blamed() {
    let folder = tempfile::tempdir().unwrap();
    let photos = |order: [u32; 4]| -> String {
        let shot = |(position, photo): (usize, u32)| {
            format!(
                "[[shot]]\nphoto = \"{SAMPLE}/photos/left-after-{photo}.jpg\"\nlamp = \"left\"\nposition = \"{position}\"\n"
            )
        };
        order.into_iter().enumerate().map(shot).collect()
    };
    let job = |order: [u32; 4]| {
        let path = small_job(folder.path(), "none.jpg", "system = \"vacuum-cabin-control\"");
        let whole = std::fs::read_to_string(&path).unwrap();
        let (head, _) = whole.split_once("[[shot]]").unwrap();
        std::fs::write(&path, format!("{head}{}", photos(order))).unwrap();
        let json = beamfall(&["measure", &path, "--json"]);
        let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
        (
            json,
            text(
                &beamfall(&[
                    "report",
                    &path,
                    "--lang",
                    "en",
                    "-o",
                    &folder.path().join("out").to_string_lossy(),
                ])
                .stderr,
            ),
        )
    };
    let kinds = |json: &serde_json::Value| -> Vec<String> {
        let faults = json["adjuster"]["travel"][0]["faults"].as_array().unwrap();
        faults
            .iter()
            .map(|fault| fault["kind"].as_str().unwrap().to_owned())
            .collect()
    };
    let page = || {
        let page = std::fs::read_to_string(folder.path().join("out/report.html")).unwrap();
        page.split_once("<body").unwrap().1.to_owned()
    };
    let (right, errors) = job([0, 1, 2, 3]);
    assert!(kinds(&right).is_empty(), "{right} {errors}");
    assert!(!page().contains("which photo of the left lamp"));
    let (shifted, errors) = job([1, 2, 3, 0]);
    assert_eq!(kinds(&shifted), ["positions-one-off"], "{errors}");
    let page = page();
    assert!(
        page.contains("which photo of the left lamp is of which position")
            && page.contains("look one off")
            && !page.contains("by its own adjusters")
            && !page.contains("beam as set is too low")
            && page.contains("See which photo is of which position, and enter it so")
            && !page.contains("hardly moves"),
        "{page}"
    );
}

#[test]
fn photos_without_a_job_give_the_same_figure() {
    let folder = tempfile::tempdir().unwrap();
    let photo = format!("{SAMPLE}/photos/left-after-0.jpg");
    let job = small_job(folder.path(), &photo, "");
    let figure = |output: Output| -> serde_json::Value {
        serde_json::from_slice::<serde_json::Value>(&output.stdout).unwrap()["shots"][0]["inclination"].clone()
    };
    let from_job = figure(beamfall(&["measure", &job, "--json"]));
    let bay = format!("{SAMPLE}/bay.toml");
    let single = figure(beamfall(&[
        "measure",
        &photo,
        "--bay",
        &bay,
        "--lamp-height",
        "652",
        "--distance",
        "10000",
        "--lamp-x",
        "-560",
        "--traffic",
        "right",
        "--json",
    ]));
    assert_eq!(from_job, single);
}

#[test]
fn a_refused_shot_is_status_3_and_says_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let job = small_job(
        folder.path(),
        &format!("{SAMPLE}/photos/left-after-1-first-try.jpg"),
        "",
    );
    let output = beamfall(&["measure", &job]);
    assert_eq!(output.status.code(), Some(3));
    let table = text(&output.stdout);
    // Where the lines break depends on how long the path of this checkout is.
    let words = table.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("overexposed") && words.contains("turn the exposure down"),
        "{table}"
    );
    assert!(!table.contains('\u{1b}'), "no colour in a pipe");
    assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
    assert!(
        output.stderr.is_empty(),
        "no progress in a pipe: {}",
        text(&output.stderr)
    );
}

/// The picture is the same to the last bit; only a segment says that a gain map goes with it.
#[test]
fn a_photo_that_says_it_was_tone_mapped_is_warned_of() {
    let folder = tempfile::tempdir().unwrap();
    let plain = format!("{SAMPLE}/photos/left-after-0.jpg");
    let bytes = std::fs::read(&plain).unwrap();
    let name = b"urn:iso:std:iso:ts:21496:-1\0\0\0\0\0";
    let head = [0xFF, 0xE2, 0, u8::try_from(name.len() + 2).unwrap()];
    let mapped = folder.path().join("mapped.jpg");
    std::fs::write(&mapped, [&bytes[..2], &head, name, &bytes[2..]].concat()).unwrap();
    let shot = |photo: &str| -> serde_json::Value {
        let output = beamfall(&["measure", &small_job(folder.path(), photo, ""), "--json"]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        serde_json::from_slice::<serde_json::Value>(&output.stdout).unwrap()["shots"][0].clone()
    };
    let (plain, mapped) = (shot(&plain), shot("mapped.jpg"));
    assert_eq!(plain["inclination"], mapped["inclination"]);
    let warned = |shot: &serde_json::Value| shot["warnings"].to_string().contains("gain map");
    assert!(warned(&mapped) && !warned(&plain), "{}", mapped["warnings"]);
}

#[test]
fn fail_outside_is_status_4() {
    let folder = tempfile::tempdir().unwrap();
    let photo = format!("{SAMPLE}/photos/left-pump-01-0mbar.jpg");
    let job = small_job(folder.path(), &photo, "");
    assert_eq!(beamfall(&["measure", &job]).status.code(), Some(0));
    assert_eq!(beamfall(&["measure", &job, "--fail-outside"]).status.code(), Some(4));
}

#[test]
fn wrong_files_say_what_where_and_how_to_mend() {
    let folder = tempfile::tempdir().unwrap();
    let photo = format!("{SAMPLE}/photos/left-after-0.jpg");
    for (extra, part) in [
        ("colour = \"red\"", "colour"),
        ("tolerance_choice = \"x\"", "steeper"),
        ("schema = 1", "a second time"),
        (
            "[[shot]]\nphoto = \"a.jpg\"\nlamp = \"left\"\nlamp_off = \"a.jpg\"",
            "itself",
        ),
        (
            "[[shot]]\nphoto = \"a.jpg\"\nlamp = \"left\"\n[[shot]]\nphoto = \"a.jpg\"\nlamp = \"left\"",
            "two [[shot]]",
        ),
    ] {
        let job = small_job(folder.path(), &photo, extra);
        let output = beamfall(&["measure", &job]);
        let message = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{message}");
        assert!(message.contains(part) && message.contains("job.toml"), "{message}");
        assert!(output.stdout.is_empty());
    }
    let missing = beamfall(&[
        "report",
        "no-such-job.toml",
        "-o",
        &folder.path().join("r").to_string_lossy(),
    ]);
    assert_eq!(missing.status.code(), Some(1));
    assert!(text(&missing.stderr).contains("no such file"));
    assert!(!folder.path().join("r").exists(), "nothing is half-written");
    assert_eq!(beamfall(&["measure"]).status.code(), Some(2));
    assert_eq!(beamfall(&["measure", &photo]).status.code(), Some(2));
    // A photo in the job's place, and a job in the photo's.
    assert_eq!(beamfall(&["report", &photo]).status.code(), Some(1));
    let swapped = small_job(folder.path(), &format!("{SAMPLE}/job.toml"), "");
    assert_eq!(beamfall(&["measure", &swapped]).status.code(), Some(3));
}

/// What is stamped on lamp or car stands with the limits, in the terminal, the report and the JSON, whichever table has them.
#[test]
fn a_stamped_figure_stands_beside_its_limits() {
    let folder = tempfile::tempdir().unwrap();
    let photo = format!("{SAMPLE}/photos/left-after-0.jpg");
    let out = folder.path().join("report").to_string_lossy().into_owned();
    let said = "Stamped on lamp or car: 1.2 %. Allowed: as set 1.00 to 1.50 %, over all loads 0.50 to 2.50 %.";
    for table in ["un-r48", "lamp-mark"] {
        let job = small_job(folder.path(), &photo, "[lamp_mark]\nset_percent = 1.2\n");
        let with_table = text(&std::fs::read(&job).unwrap()).replace("un-r48", table);
        std::fs::write(&job, with_table).unwrap();
        let ran = beamfall(&["report", &job, "-o", &out]);
        assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
        let flat = |text: &str| {
            text.replace('\u{a0}', " ")
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
        };
        assert!(flat(&text(&ran.stdout)).contains(said), "{}", text(&ran.stdout));
        let page = flat(&text(&std::fs::read(format!("{out}/report.html")).unwrap()));
        assert!(
            page.contains(said) && !page.contains("Wert, none") && !page.contains("car, none"),
            "{table}"
        );
        assert!(
            page.contains("near what an eye takes for the edge"),
            "half brightness says what it is"
        );
        let results: serde_json::Value =
            serde_json::from_slice(&std::fs::read(format!("{out}/results.json")).unwrap()).unwrap();
        assert_eq!(results["table"]["marked_percent"], 1.2);
        assert_eq!(results["shots"][0]["verdict"]["low_percent"], 1.0);
    }
    // A stamp that the rows do not have is judged by none.
    let job = small_job(folder.path(), &photo, "[lamp_mark]\nset_percent = 2.2\n");
    let with_table = text(&std::fs::read(&job).unwrap()).replace("un-r48", "lamp-mark");
    std::fs::write(&job, with_table).unwrap();
    let ran = text(&beamfall(&["measure", &job]).stdout);
    let ran = ran.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        ran.contains("no row of UN R48") && !ran.contains("outside") && !ran.contains("inside"),
        "{ran}"
    );
}

#[test]
fn a_report_is_whole_and_the_same_twice() {
    let folder = tempfile::tempdir().unwrap();
    let job = small_job(folder.path(), &format!("{SAMPLE}/photos/left-after-0.jpg"), "");
    let out = folder.path().join("report");
    let out_text = out.to_string_lossy().into_owned();
    let ran = beamfall(&["report", &job, "-o", &out_text]);
    assert_eq!(ran.status.code(), Some(0));
    let first = std::fs::read(out.join("report.html")).unwrap();
    assert!(text(&first).contains("no certified instrument"));
    // The photo says of itself that it is drawn; the job file need not.
    let made = "are made (drawn by a program), not taken.";
    assert!(text(&first).contains(made) && text(&ran.stdout).replace('\n', " ").contains(made));
    for name in ["results.json", "evidence.json"] {
        let json = std::fs::read(out.join(name)).unwrap();
        assert!(text(&json).contains("\"made_photos\": true"), "{name}");
    }
    assert_eq!(beamfall(&["report", &job, "-o", &out_text]).status.code(), Some(0));
    assert_eq!(std::fs::read(out.join("report.html")).unwrap(), first);
    for name in ["results.json", "readings.csv"] {
        assert!(out.join(name).is_file(), "{name}");
    }
}

#[test]
fn every_command_shows_an_example() {
    for command in [
        "marks", "measure", "report", "shots", "isolate", "verify", "key", "check", "render",
    ] {
        let output = beamfall(&[command, "--help"]);
        assert_eq!(output.status.code(), Some(0));
        assert!(
            text(&output.stdout).contains(&format!("beamfall {command} ")),
            "{command}"
        );
    }
}

#[test]
fn marks_are_written_and_mistakes_named() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_string_lossy().into_owned();
    let output = beamfall(&["marks", "--paper", "letter", "--ids", "1,2", "-o", &out]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(
        std::fs::read(folder.path().join("marks-letter.pdf"))
            .unwrap()
            .starts_with(b"%PDF")
    );
    assert_eq!(beamfall(&["marks", "--size", "400", "-o", &out]).status.code(), Some(2));
    assert_eq!(beamfall(&["marks", "--paper", "a0", "-o", &out]).status.code(), Some(2));
}

/// The whole sample job: one shot refused, the rest near the truth of the scenes they were drawn from, travels too.
#[test]
fn the_sample_job_reads_as_it_was_made() {
    let output = beamfall(&["measure", &format!("{SAMPLE}/job.toml"), "--json"]);
    assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
    let results: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let mut truth = std::collections::HashMap::new();
    for scene in [
        "left-before",
        "right-before",
        "left-after",
        "right-after",
        "left-pump",
        "left-hold",
        "right-creep",
    ] {
        let path = format!("{SAMPLE}/photos/{scene}.truth.json");
        let made: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        for entry in made["truth"].as_array().unwrap() {
            truth.insert(
                format!("photos/{}", entry["photo"].as_str().unwrap()),
                entry["inclination_percent"].as_f64().unwrap(),
            );
        }
    }
    let shots = results["shots"].as_array().unwrap();
    let (mut measured, mut at) = (0, std::collections::HashMap::new());
    for shot in shots.iter().filter(|shot| shot["status"] == "measured") {
        let photo = shot["photo"].as_str().unwrap();
        let error = shot["inclination"]["percent"].as_f64().unwrap() - truth[photo];
        let u95 = shot["inclination"]["u95_percent"].as_f64().unwrap();
        assert!(error.abs() <= u95, "{photo}: off by {error} % with u95 {u95} %");
        measured += 1;
        if let Some(position) = shot["position"].as_str() {
            let key = format!("{} {} {position}", shot["lamp"], shot["stage"]);
            at.insert(key, truth[photo]);
        }
    }
    assert_eq!((measured, shots.len()), (43, 44));
    let travels = results["travel"].as_array().unwrap();
    assert_eq!(travels.len(), 12);
    for travel in travels {
        let made = |end: &str| {
            at[&format!(
                "{} {} {}",
                travel["lamp"],
                travel["stage"],
                travel[end].as_str().unwrap()
            )]
        };
        let error = travel["percent"].as_f64().unwrap() - (made("to") - made("from"));
        assert!(error.abs() <= 0.03, "{travel}: off by {error} %");
    }
    let holds = |interval: &serde_json::Value, made: f64| {
        let [low, high] = ["low", "high"].map(|end| interval[end].as_f64().unwrap());
        assert!(low <= made && made <= high, "{interval} does not hold {made}");
    };
    // As left-pump.toml was made.
    let adjuster = &results["adjuster"];
    let curve = &adjuster["response"][0]["curve"];
    holds(&curve["gain_percent_per_100_mbar"], -0.5);
    holds(&curve["dead_band_mbar"], 60.0);
    holds(&curve["end_stop_mbar"], 360.0);
    holds(&curve["hysteresis"]["gap_mbar"], 16.0);
    // As left-hold.toml and right-creep.toml: tight, and a time constant of 240 s.
    let leaks = adjuster["leak_down"].as_array().unwrap();
    assert_eq!(
        (leaks.len(), &leaks[0]["state"], &leaks[1]["state"]),
        (2, &"holds".into(), &"leaks".into())
    );
    assert!(leaks[0]["loss_below_mbar"].as_f64().unwrap() < 20.0, "{}", leaks[0]);
    holds(&leaks[1]["creep_time_constant_s"], 240.0);
    let made = truth["photos/right-creep-8.jpg"] - truth["photos/right-creep-1.jpg"];
    let error = leaks[1]["creep_percent"]["value"].as_f64().unwrap() - made;
    assert!(error.abs() <= 0.03, "{}: off by {error} %", leaks[1]);
}

#[test]
fn every_source_of_uncertainty_is_in_the_budget() {
    let folder = tempfile::tempdir().unwrap();
    let job = small_job(folder.path(), &format!("{SAMPLE}/photos/left-after-0.jpg"), "");
    let output = beamfall(&["measure", &job, "--json"]);
    let results: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let budget = results["shots"][0]["inclination"]["budget"].as_array().unwrap();
    // A plain photo's: of its tone curve nothing is its own, and what the marks leave open is the camera's.
    let of_plain_photo = beamfall::aim::Source::ALL
        .into_iter()
        .chain([beamfall::aim::Source::SharedTone]);
    let names: Vec<String> = of_plain_photo.map(|source| source.to_string()).collect();
    let told: Vec<&str> = budget.iter().filter_map(|term| term["name"].as_str()).collect();
    assert_eq!(told, names);
    let explained = text(&beamfall(&["measure", &job, "--explain"]).stdout);
    for term in budget {
        assert!(explained.contains(term["name"].as_str().unwrap()), "{term}");
    }
    assert!(explained.contains("combined (root sum of squares)"));
    assert_eq!(
        beamfall(&["measure", &job, "--explain", "--json"]).status.code(),
        Some(2)
    );
}

/// The second time readings come from where the first run kept them: the same bytes, until a photo or the program's answer is asked for
/// anew.
#[test]
fn what_was_read_before_is_not_read_again_and_is_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("kept");
    let photo = folder.path().join("1.jpg");
    std::fs::copy(format!("{SAMPLE}/photos/left-after-0.jpg"), &photo).unwrap();
    let job = small_job(folder.path(), "1.jpg", "");
    let measure = |more: &[&str]| {
        let output = program()
            .env("XDG_CACHE_HOME", &kept)
            .args(["measure", &job, "--json"])
            .args(more)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        text(&output.stdout)
    };
    let entries = || std::fs::read_dir(kept.join("beamfall")).map_or(0, Iterator::count);
    let anew = measure(&["--read-anew"]);
    assert_eq!(entries(), 0, "nothing is kept unless it is wanted");
    let first = measure(&[]);
    assert_eq!((entries(), &first), (1, &anew));
    assert_eq!((measure(&[]), entries()), (anew.clone(), 1));
    // A half of what was kept is nothing, and is made good.
    let entry = std::fs::read_dir(kept.join("beamfall"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let whole = std::fs::read(&entry).unwrap();
    std::fs::write(&entry, &whole[..whole.len() / 2]).unwrap();
    assert_eq!(measure(&[]), anew);
    assert_eq!(std::fs::read(&entry).unwrap().len(), whole.len());
    // Another photo under the same name is another reading.
    std::fs::copy(format!("{SAMPLE}/photos/left-after-3.jpg"), &photo).unwrap();
    let other = measure(&[]);
    assert!(other != anew && entries() == 2);
    assert_eq!(other, measure(&["--read-anew"]));
}
