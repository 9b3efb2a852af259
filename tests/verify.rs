//! `beamfall verify` and `beamfall key`: a report that holds, and one that somebody changed.

mod common;

use common::program;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::Output;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-photos");
const PHOTOS: [&str; 3] = ["left-after-0.jpg", "left-after-1.jpg", "right-after-0.jpg"];

/// A job of three photos with its report beside it, signed.
fn reported(folder: &Path) {
    std::fs::create_dir_all(folder.join("photos")).unwrap();
    let copy = |name: &str| std::fs::copy(Path::new(SAMPLE).join(name), folder.join(name)).unwrap();
    copy("bay.toml");
    let (head, _) = std::fs::read_to_string(Path::new(SAMPLE).join("job.toml"))
        .map(|text| {
            text.split_once("[[shot]]")
                .map(|(head, rest)| (head.to_owned(), rest.to_owned()))
        })
        .unwrap()
        .unwrap();
    let mut job = head;
    for (photo, lamp, position) in [
        (PHOTOS[0], "left", "0"),
        (PHOTOS[1], "left", "1"),
        (PHOTOS[2], "right", "0"),
    ] {
        copy(&format!("photos/{photo}"));
        job += &format!(
            "[[shot]]\nphoto = \"photos/{photo}\"\nlamp = \"{lamp}\"\nstage = \"after\"\nposition = \"{position}\"\n\n"
        );
    }
    std::fs::write(folder.join("job.toml"), job).unwrap();
    let run = |arguments: &[&str]| {
        let output = program().args(arguments).current_dir(folder).output().unwrap();
        assert!(
            output.status.success(),
            "{arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
    };
    run(&["key", "-o", "mine.key"]);
    run(&["report", "job.toml", "-o", "report", "--sign", "mine.key"]);
}

fn copied(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copied(&path, &target);
        } else {
            std::fs::copy(&path, &target).unwrap();
        }
    }
}

fn verify(folder: &Path, more: &[&str]) -> Output {
    program().arg("verify").arg(folder).args(more).output().unwrap()
}

fn said(output: &Output) -> String {
    let printed = [&output.stdout, &output.stderr].map(|bytes| String::from_utf8_lossy(bytes).into_owned());
    // As one line, since a terminal breaks it anywhere.
    printed.concat().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Changes a text file.
fn edit(path: &Path, change: impl Fn(&str) -> String) {
    let text = std::fs::read_to_string(path).unwrap();
    let changed = change(&text);
    assert_ne!(changed, text, "{} was not changed", path.display());
    std::fs::write(path, changed).unwrap();
}

fn edit_evidence(folder: &Path, change: impl Fn(&mut Value)) {
    edit(&folder.join("report/evidence.json"), |text| {
        let mut evidence: Value = serde_json::from_str(text).unwrap();
        change(&mut evidence);
        serde_json::to_string_pretty(&evidence).unwrap() + "\n"
    });
}

/// Changes a file of the report, and its digest in the evidence too.
fn forge(folder: &Path, name: &str, change: impl Fn(&str) -> String) {
    edit(&folder.join("report").join(name), change);
    digest_anew(folder, name);
}

/// Changes digits in the words of a PDF's page, and the digest of the file in the evidence too.
fn forge_pdf(folder: &Path) {
    let path = folder.join("report/report.pdf");
    let bytes = std::fs::read(&path).unwrap();
    let find = |from: usize, what: &[u8]| from + bytes[from..].windows(what.len()).position(|w| w == what).unwrap();
    let mut from = 0;
    let (start, end, page) = loop {
        let start = find(from, b"stream\n") + 7;
        let end = find(start, b"\nendstream");
        let mut page = Vec::new();
        let read = flate2::read::ZlibDecoder::new(&bytes[start..end]).read_to_end(&mut page);
        if read.is_ok() && page.windows(2).any(|w| w == b"Tj") {
            break (start, end, page);
        }
        from = end;
    };
    // The last glyph of the last words.
    let mut edited = page;
    let at = edited.windows(2).rposition(|w| w == b"Tj").unwrap();
    let glyph = at - 3;
    edited[glyph] = if edited[glyph] == b'A' { b'B' } else { b'A' };
    let mut squeezed = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    squeezed.write_all(&edited).unwrap();
    let whole = [&bytes[..start], &squeezed.finish().unwrap(), &bytes[end..]].concat();
    std::fs::write(&path, whole).unwrap();
    digest_anew(folder, "report.pdf");
}

fn digest_anew(folder: &Path, name: &str) {
    let path = folder.join("report").join(name);
    let digest: String = Sha256::digest(std::fs::read(&path).unwrap())
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    edit_evidence(folder, |evidence| {
        let files = evidence["written"].as_array_mut().unwrap();
        files.iter_mut().find(|file| file["path"] == name).unwrap()["sha256"] = digest.clone().into();
    });
}

fn photo(folder: &Path, n: usize) -> PathBuf {
    folder.join("photos").join(PHOTOS[n])
}

/// A figure of the first photo, as it stands in the report's files to two places.
fn first_percent(folder: &Path) -> f64 {
    let text = std::fs::read_to_string(folder.join("report/results.json")).unwrap();
    let results: Value = serde_json::from_str(&text).unwrap();
    results["shots"][0]["inclination"]["percent"].as_f64().unwrap()
}

/// What is done to a report, and words that must be said of it.
type Deed<'a> = (&'a str, &'a dyn Fn(&Path), &'a [&'a str]);

#[test]
fn whatever_is_changed_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let whole = folder.path().join("whole");
    reported(&whole);
    let percent = first_percent(&whole);
    let (shown, other) = (format!("{percent:.2} %"), format!("{:.2} %", percent + 0.21));
    let deeds: [Deed<'_>; 22] = [
        (
            "a byte behind a photo's end",
            &|f| {
                let mut bytes = std::fs::read(photo(f, 0)).unwrap();
                bytes.push(0);
                std::fs::write(photo(f, 0), bytes).unwrap();
            },
            &["the photo photos/left-after-0.jpg: has changed"],
        ),
        (
            "a photo saved anew",
            &|f| {
                let picture = image::open(photo(f, 1)).unwrap();
                picture.save_with_format(photo(f, 1), image::ImageFormat::Jpeg).unwrap();
            },
            &["the photo photos/left-after-1.jpg: has changed"],
        ),
        (
            "two photos swapped",
            &|f| {
                let [a, b] = [0, 1].map(|n| std::fs::read(photo(f, n)).unwrap());
                std::fs::write(photo(f, 0), b).unwrap();
                std::fs::write(photo(f, 1), a).unwrap();
            },
            &[
                "photos/left-after-0.jpg: has changed",
                "photos/left-after-1.jpg: has changed",
                "worked out anew",
            ],
        ),
        (
            "a photo renamed",
            &|f| std::fs::rename(photo(f, 2), f.join("photos/other.jpg")).unwrap(),
            &["the photo photos/right-after-0.jpg: is not there"],
        ),
        (
            "a photo gone",
            &|f| std::fs::remove_file(photo(f, 0)).unwrap(),
            &["the photo photos/left-after-0.jpg: is not there"],
        ),
        (
            "the job says another distance",
            &|f| {
                edit(&f.join("job.toml"), |text| {
                    text.replacen("distance_mm = 10000", "distance_mm = 9000", 1)
                })
            },
            &["the job file ../job.toml: has changed", "worked out anew"],
        ),
        (
            "the bay says another place",
            &|f| {
                edit(&f.join("bay.toml"), |text| {
                    text.replacen("position_sd_mm = ", "position_sd_mm = 1", 1)
                })
            },
            &["the bay file bay.toml: has changed", "u95_percent"],
        ),
        (
            "the job is gone",
            &|f| std::fs::remove_file(f.join("job.toml")).unwrap(),
            &["the job file ../job.toml: is not there", "not worked out again"],
        ),
        (
            "a figure in results.json",
            &|f| {
                edit(&f.join("report/results.json"), |text| {
                    text.replacen(&format!("\"percent\": {percent}"), "\"percent\": 1.01", 1)
                })
            },
            &[
                "the report's results.json: has changed",
                "results.json, shots[photos/left-after-0.jpg].inclination.percent: says 1.01, worked out anew it is",
            ],
        ),
        (
            "a figure in results.json, and its digest",
            &|f| {
                forge(f, "results.json", |text| {
                    text.replacen(&format!("\"percent\": {percent}"), "\"percent\": 1.01", 1)
                })
            },
            &[
                "inclination.percent: says 1.01, worked out anew it is",
                "the digest of results.json",
            ],
        ),
        (
            "a figure in readings.csv, and its digest",
            &|f| forge(f, "readings.csv", |text| text.replacen(&percent.to_string(), "1.01", 1)),
            &["readings.csv, line 2: says", "1.01"],
        ),
        (
            "a figure in the page, and its digest",
            &|f| forge(f, "report.html", |text| text.replacen(&shown, &other, 1)),
            &["report.html, line", &other, &shown],
        ),
        (
            "a verdict in the page, and its digest",
            &|f| forge(f, "report.html", |text| text.replacen("inside", "outside", 1)),
            &["report.html, line", "outside"],
        ),
        (
            "a PDF that is none",
            &|f| std::fs::write(f.join("report/report.pdf"), b"%PDF-1.7").unwrap(),
            &["report.pdf: has changed"],
        ),
        (
            "words in the PDF, and its digest",
            &forge_pdf,
            &["report.pdf", "worked out anew"],
        ),
        (
            "a figure in the evidence",
            &|f| {
                edit_evidence(f, |evidence| {
                    evidence["figures"]["readings"][0]["percent"] = 1.01.into()
                })
            },
            &["evidence.json, figures.readings[photos/left-after-0.jpg].percent: says 1.01"],
        ),
        (
            "a line of a plot, and its digest",
            &|f| {
                forge(f, "plots/inclination-left.svg", |text| {
                    text.replacen("Left lamp", "Right lamp", 1)
                })
            },
            &["plots/inclination-left.svg, line"],
        ),
        (
            "a plot's picture",
            &|f| {
                let plots = ["left", "right"].map(|side| f.join(format!("report/plots/budget-{side}.png")));
                std::fs::copy(&plots[1], &plots[0]).unwrap();
            },
            &["the report's plots/budget-left.png: has changed", "another picture"],
        ),
        (
            "a digest that is none",
            &|f| {
                edit_evidence(f, |evidence| {
                    evidence["written"][0]["sha256"] = "\u{20ac}".repeat(20).into();
                });
            },
            &["the report's results.json: has changed", "the digest of results.json"],
        ),
        (
            "a file of the report gone",
            &|f| std::fs::remove_file(f.join("report/readings.csv")).unwrap(),
            &["the report's readings.csv: is not there"],
        ),
        (
            "a photo left out of the evidence",
            &|f| {
                edit_evidence(f, |evidence| {
                    evidence["read"]
                        .as_array_mut()
                        .unwrap()
                        .retain(|read| read["path"] != "photos/left-after-1.jpg");
                })
            },
            &["the photo photos/left-after-1.jpg: is not the same in the evidence and in the job"],
        ),
        (
            "figures of another version",
            &|f| {
                edit_evidence(f, |evidence| {
                    evidence["program"] = "beamfall 0.0.9".into();
                    evidence["figures"]["readings"][1]["u95_percent"] = 0.31.into();
                })
            },
            &[
                "figures.readings[photos/left-after-1.jpg].u95_percent: says 0.31",
                "made by beamfall 0.0.9",
            ],
        ),
    ];
    for (n, (what, deed, words)) in deeds.iter().enumerate() {
        let copy = folder.path().join(format!("copy-{n}"));
        copied(&whole, &copy);
        deed(&copy);
        let output = verify(&copy.join("report"), &[]);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(1), "{what}: {said}");
        for word in *words {
            assert!(said.contains(word), "{what}: not said “{word}” in: {said}");
        }
        // Whatever else is signed, the evidence itself is told apart by its signature.
        let key = copy.join("mine.key.pub").display().to_string();
        let signed = self::said(&verify(&copy.join("report"), &["--key", &key]));
        let is_evidence = std::fs::read(copy.join("report/evidence.json")).unwrap()
            != std::fs::read(whole.join("report/evidence.json")).unwrap();
        assert_eq!(
            signed.contains("has changed since it was signed"),
            is_evidence,
            "{what}: {signed}"
        );
    }
}

#[test]
fn a_report_holds_wherever_it_lies() {
    let folder = tempfile::tempdir().unwrap();
    let whole = folder.path().join("whole");
    reported(&whole);
    let moved = folder.path().join("elsewhere/deep");
    copied(&whole, &moved);
    let key = moved.join("mine.key.pub").display().to_string();
    let output = verify(&moved.join("report"), &["--key", &key]);
    let text = said(&output);
    assert_eq!(output.status.code(), Some(0), "{text}");
    assert!(
        text.contains("holds") && text.contains("signed by the key that was given"),
        "{text}"
    );

    // The report alone, its job elsewhere.
    let alone = folder.path().join("alone");
    std::fs::rename(moved.join("report"), &alone).unwrap();
    assert_eq!(verify(&alone, &[]).status.code(), Some(1));
    let job = moved.join("job.toml").display().to_string();
    let output = verify(&alone, &["--job", &job, "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let verified: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(verified["faults"], Value::Array(Vec::new()));
    assert!(
        verified["figures"].as_u64().unwrap() > 20 && verified["signature"] == "unchecked",
        "{verified}"
    );

    // Another key, and none where one is expected.
    let made = program()
        .args(["key", "-o"])
        .arg(folder.path().join("other.key"))
        .output()
        .unwrap();
    assert!(made.status.success());
    let other = folder.path().join("other.key.pub").display().to_string();
    let text = said(&verify(&alone, &["--job", &job, "--key", &other]));
    assert!(
        text.contains("is not by this key")
            && text.contains("not by the key that was given")
            && !text.contains("--key"),
        "{text}"
    );
    std::fs::remove_file(alone.join("evidence.sig")).unwrap();
    let text = said(&verify(&alone, &["--job", &job, "--key", &other]));
    assert!(text.contains("one was expected"), "{text}");
}

#[test]
fn what_is_no_report_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let output = verify(folder.path(), &[]);
    let text = said(&output);
    assert_eq!(output.status.code(), Some(1));
    assert!(text.contains("give the folder that beamfall report wrote"), "{text}");
    std::fs::write(folder.path().join("evidence.json"), "{}").unwrap();
    assert!(said(&verify(&folder.path().join("evidence.json"), &[])).contains("unpack it first"));
    assert!(said(&verify(folder.path(), &[])).contains("is no evidence of a report"));
    // A way out of the folder is not followed.
    let text = r#"{"schema":1,"program":"x","build":"","job":"x","made_photos":true,"job_file":"none.toml","read":[],
        "written":[{"path":"../secret","sha256":""}],"figures":{"readings":[],"adjuster":null}}"#;
    std::fs::write(folder.path().join("evidence.json"), text).unwrap();
    let text = said(&verify(folder.path(), &[]));
    assert!(text.contains("../secret: is not there"), "{text}");
}

#[test]
fn a_packed_job_tells_no_place_and_holds_where_it_is_unpacked() {
    let folder = tempfile::tempdir().unwrap();
    let whole = folder.path().join("whole");
    reported(&whole);
    // A packet of XMP behind the start of the first photo.
    let taken = std::fs::read(photo(&whole, 0)).unwrap();
    let xmp = b"http://ns.adobe.com/xap/1.0/\0<x exif:GPSLatitude='48,8.1N' aux:SerialNumber='4711'/>";
    let length = ((xmp.len() + 2) as u16).to_be_bytes();
    let told = [&taken[..2], &[0xFF, 0xE1], &length, xmp, &taken[2..]].concat();
    std::fs::write(photo(&whole, 0), &told).unwrap();
    let pack = || {
        let out = whole.join("report/");
        let ran = program()
            .arg("report")
            .arg(whole.join("job.toml"))
            .arg("-o")
            .arg(out)
            .arg("--pack")
            .output()
            .unwrap();
        assert!(
            String::from_utf8_lossy(&ran.stdout).contains("Packed, the photos without place and names"),
            "{ran:?}"
        );
        std::fs::read(whole.join("report.zip")).unwrap()
    };
    let packed = pack();
    assert_eq!(packed, pack(), "the same bytes each time");
    assert_eq!(
        std::fs::read(photo(&whole, 0)).unwrap(),
        told,
        "photos are never changed"
    );

    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(packed)).unwrap();
    let elsewhere = folder.path().join("elsewhere");
    archive.extract(&elsewhere).unwrap();
    let top = std::fs::read_dir(&elsewhere).unwrap().next().unwrap().unwrap().path();
    let handed_over = std::fs::read(photo(&top, 0)).unwrap();
    let says = |bytes: &[u8], word: &[u8]| bytes.windows(word.len()).any(|window| window == word);
    assert!(says(&told, b"48,8.1N") && !says(&handed_over, b"48,8.1N") && !says(&handed_over, b"4711"));
    let evidence: Value = serde_json::from_slice(&std::fs::read(top.join("report/evidence.json")).unwrap()).unwrap();
    let changed = evidence["without_place"].as_array().unwrap();
    let hex = |bytes: &[u8]| {
        Sha256::digest(bytes)
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect::<String>()
    };
    assert_eq!(changed.len(), 1);
    assert_eq!(changed[0]["photo"], format!("photos/{}", PHOTOS[0]));
    assert_eq!(
        (&changed[0]["as_taken"], &changed[0]["sha256"]),
        (&hex(&told).into(), &hex(&handed_over).into())
    );
    let verified = program().arg("verify").arg(top.join("report")).output().unwrap();
    assert!(verified.status.success(), "{verified:?}");
    let figures = |folder: &Path| first_percent(folder);
    assert_eq!(figures(&top), figures(&whole));

    // What lies elsewhere, as the wall of all jobs does, is put in with it; and the user's own files stay as they are.
    std::fs::rename(whole.join("bay.toml"), folder.path().join("bay.toml")).unwrap();
    std::fs::rename(photo(&whole, 1), folder.path().join(PHOTOS[0])).unwrap();
    edit(&whole.join("job.toml"), |text| {
        text.replacen("bay = \"bay.toml\"", "bay = \"../bay.toml\" # of ../all", 1)
            .replacen(&format!("\"photos/{}\"", PHOTOS[1]), &format!("'../{}'", PHOTOS[0]), 1)
    });
    let job = std::fs::read_to_string(whole.join("job.toml")).unwrap();
    let packed = pack();
    assert_eq!(std::fs::read_to_string(whole.join("job.toml")).unwrap(), job);
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(packed)).unwrap();
    let again = folder.path().join("again");
    archive.extract(&again).unwrap();
    assert_eq!(std::fs::read_dir(&again).unwrap().count(), 1);
    let top = std::fs::read_dir(&again).unwrap().next().unwrap().unwrap().path();
    let text = std::fs::read_to_string(top.join("job.toml")).unwrap();
    assert!(text.contains("bay = \"bay.toml\" # of ../all"), "{text}");
    let verified = program().arg("verify").arg(top.join("report")).output().unwrap();
    assert!(verified.status.success(), "{verified:?}");
    let results = |folder: &Path| -> Value {
        serde_json::from_slice(&std::fs::read(folder.join("report/results.json")).unwrap()).unwrap()
    };
    let percents = |folder: &Path| -> Vec<Value> {
        let shots = results(folder)["shots"].as_array().unwrap().clone();
        shots
            .iter()
            .map(|shot| shot["inclination"]["percent"].clone())
            .collect()
    };
    assert_eq!(percents(&top), percents(&whole));

    // What cannot be packed leaves nothing half-written.
    std::fs::create_dir(whole.join("other.zip")).unwrap();
    let ran = program()
        .arg("report")
        .arg(whole.join("job.toml"))
        .arg("-o")
        .arg(whole.join("other"))
        .arg("--pack")
        .output()
        .unwrap();
    assert_eq!(ran.status.code(), Some(1), "{ran:?}");
    assert!(!whole.join("other").exists());
}
