//! `beamfall serve` as a browser talks to it: the whole work from an empty folder, and requests that mean harm.

mod common;

use common::program;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

/// The running program, ended with the test.
struct Bench {
    child: Child,
    address: String,
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A status with the heads and the body of an answer.
#[derive(Debug)]
struct Answer {
    status: u16,
    heads: String,
    body: String,
}

impl Bench {
    fn over(folder: &Path) -> Self {
        let mut child = program()
            .args(["serve", "--port", "0"])
            .arg(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let address = line
            .split("http://")
            .nth(1)
            .unwrap()
            .split('/')
            .next()
            .unwrap()
            .to_owned();
        assert!(address.starts_with("127.0.0.1:"), "loopback alone: {line}");
        Self { child, address }
    }

    fn connected(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
        stream
    }

    /// Sends bytes as they are; `None` where the connection is closed without a word.
    fn raw(&self, request: &[u8]) -> Option<Answer> {
        let mut stream = self.connected();
        // It may be closed before all is sent.
        let _ = stream.write_all(request);
        answer(stream)
    }

    /// With `\n` for line ends and `HOST` for the address; the connection is to be closed.
    fn text(&self, request: &str) -> Option<Answer> {
        let request = request.replace('\n', "\r\n").replace("HOST", &self.address);
        self.raw(request.as_bytes())
    }

    fn get(&self, path: &str) -> Answer {
        self.text(&format!("GET {path} HTTP/1.1\nHost: HOST\nConnection: close\n\n"))
            .unwrap()
    }

    fn post(&self, path: &str, kind: &str, body: &[u8]) -> Answer {
        let at = &self.address;
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nConnection: close\r\nContent-Type: {kind}\r\n\
             Content-Length: {}\r\n\r\n",
            body.len()
        );
        self.raw(&[head.as_bytes(), body].concat()).unwrap()
    }

    /// Makes the sample's job, and gives its address.
    fn job(&self, name: &str) -> String {
        let made = self.post("/new", "application/json", answers(name).to_string().as_bytes());
        assert_eq!(made.status, 201, "{}", made.body);
        let told: serde_json::Value = serde_json::from_str(&made.body).unwrap();
        told["go"].as_str().unwrap().to_owned()
    }
}

fn answer(mut stream: TcpStream) -> Option<Answer> {
    let mut bytes = Vec::new();
    // What came before a reset counts.
    let _ = stream.read_to_end(&mut bytes);
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (heads, body) = text.split_once("\r\n\r\n")?;
    let status = heads.split(' ').nth(1)?.parse().ok()?;
    Some(Answer {
        status,
        heads: heads.to_lowercase(),
        body: body.to_owned(),
    })
}

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos").join(name)
}

/// The sample's wall and car, as a form sends them: all fields, most as they stood.
fn answers(job: &str) -> serde_json::Value {
    let mut typed = serde_json::json!({
        "bay.name": "Back wall", "bay.heights_from": "floor", "bay.grade_percent": "0.0", "bay.grade_sd_percent": "0.02",
        "bay.size_mm": "160", "bay.position_sd_mm": "1.5", "bay.sheets": "6",
        "job.job": job, "job.traffic": "right", "job.tolerance": "un-r48", "job.system": "none", "job.lamps": "both",
        "left.centre_height_mm": "652", "left.centre_x_mm": "-560", "left.distance_mm": "10 m",
        "right.centre_height_mm": "655", "right.centre_x_mm": "565", "right.distance_mm": "10000",
    });
    let places = [
        (-1500, 212),
        (-600, 205),
        (550, 208),
        (1450, 215),
        (-1500, 1120),
        (540, 1130),
    ];
    for (n, (x_mm, y_mm)) in places.iter().enumerate() {
        let n = n + 1;
        typed[format!("sheet{n}.id")] = n.to_string().into();
        typed[format!("sheet{n}.x_mm")] = x_mm.to_string().into();
        typed[format!("sheet{n}.y_mm")] = y_mm.to_string().into();
    }
    typed
}

const CHOICE: &str = "check=positions&lamp=left&stage=before&positions=0%2C1%2C2%2C3";

fn photos_in(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn from_an_empty_folder_to_the_report() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    assert!(bench.get("/").body.contains("No job is in this folder yet"));
    let form = bench.get("/new").body;
    for field in [
        "name=\"bay.name\"",
        "name=\"sheet12.y_mm\"",
        "name=\"right.distance_mm\"",
    ] {
        assert!(form.contains(field), "{field}");
    }
    // A slip is told for its field alone, as `beamfall new` tells it.
    let mut slip = answers("W-0117");
    slip["left.distance_mm"] = "10".into();
    let field = serde_json::json!({"key": "left.distance_mm", "typed": slip});
    let told = bench.post("/check", "application/json", field.to_string().as_bytes());
    assert!(
        told.status == 200 && told.body.contains("looks like metres"),
        "{told:?}"
    );
    let told = bench.post("/new", "application/json", slip.to_string().as_bytes());
    assert!(told.status == 422 && told.body.contains("left.distance_mm"), "{told:?}");
    assert!(
        photos_in(folder.path()).is_empty(),
        "nothing is written with an answer amiss"
    );

    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    assert!(folder.path().join("bay.toml").is_file() && own.join("job.toml").is_file());
    assert!(
        !bench.get("/new").body.contains("bay.name"),
        "the wall is asked for once"
    );
    let list = bench.get(&format!("{job}/shots?{CHOICE}")).body;
    assert!(
        list.contains("0 of 4 are in the job") && list.contains("left before, control at 3"),
        "{list}"
    );
    let step = bench.get(&format!("{job}/shot?{CHOICE}&n=1")).body;
    assert!(
        step.contains("Board before the right lamp") && step.contains("capture=\"environment\""),
        "{step}"
    );

    for n in 0..4 {
        let photo = std::fs::read(sample(&format!("photos/left-before-{n}.jpg"))).unwrap();
        let read = bench.post(&format!("{job}/photo?{CHOICE}&n={}", n + 1), "image/jpeg", &photo);
        assert_eq!(read.status, 201, "{}", read.body);
        let listed = format!("photos/{:04}.jpg", n + 1);
        assert!(
            read.body.contains(&listed) && read.body.contains("entered in the job"),
            "{}",
            read.body
        );
        assert_eq!(std::fs::read(own.join(&listed)).unwrap(), photo, "as it was taken");
    }
    let again = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let again = bench.post(&format!("{job}/photo?{CHOICE}&n=2"), "image/jpeg", &again);
    assert!(
        again.status == 409 && again.body.contains("photos/0001.jpg"),
        "{again:?}"
    );
    assert!(
        bench
            .get(&format!("{job}/shots?{CHOICE}"))
            .body
            .contains("4 of 4 are in the job")
    );

    // Readings and report are those of the command on the same job.
    let measured = program()
        .args(["measure", "--json"])
        .arg(own.join("job.toml"))
        .output()
        .unwrap();
    let measured: serde_json::Value = serde_json::from_slice(&measured.stdout).unwrap();
    assert_eq!(measured["shots"].as_array().unwrap().len(), 4);
    let shown = bench.get(&format!("{job}/readings")).body;
    for shot in measured["shots"].as_array().unwrap() {
        let figure = format!("{:.2} ± ", shot["inclination"]["percent"].as_f64().unwrap());
        assert!(shown.contains(&figure), "{figure}: {shown}");
    }
    let made = bench.post(&format!("{job}/report"), "text/plain", b"");
    assert_eq!(made.status, 201, "{}", made.body);
    let results = std::fs::read(own.join("beamfall-report/results.json")).unwrap();
    let results: serde_json::Value = serde_json::from_slice(&results).unwrap();
    assert_eq!(results["shots"], measured["shots"]);
    let report = bench.get(&format!("{job}/report"));
    assert!(
        report.heads.contains("content-security-policy: sandbox"),
        "{}",
        report.heads
    );
    assert!(
        report
            .body
            .contains(&std::fs::read_to_string(own.join("beamfall-report/report.html")).unwrap()[..2000])
    );
}

#[test]
fn a_refused_photo_says_its_mend_and_is_not_entered() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let file = folder.path().join("job-T/job.toml");
    let mut text = std::fs::read_to_string(&file).unwrap();
    text.insert_str(0, "# my own note\n");
    std::fs::write(&file, &text).unwrap();
    // A grey photo of nothing.
    let mut png = std::io::Cursor::new(Vec::new());
    let grey = image::GrayImage::from_pixel(800, 600, image::Luma([40]));
    grey.write_to(&mut png, image::ImageFormat::Png).unwrap();
    let read = bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/png", png.get_ref());
    assert_eq!(read.status, 201);
    assert!(
        read.body.contains("is not entered in the job") && read.body.contains("too few of the marks"),
        "{}",
        read.body
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text, "byte for byte");
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let read = bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", &photo);
    assert!(read.body.contains("photos/0002.jpg"), "{}", read.body);
    let after = std::fs::read_to_string(&file).unwrap();
    assert!(
        after.starts_with(&text) && after.contains("photos/0002.jpg") && !after.contains("photos/0001"),
        "{after}"
    );
}

#[test]
fn a_program_ended_while_a_photo_arrives_leaves_no_half_photo() {
    let folder = tempfile::tempdir().unwrap();
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let photos = folder.path().join("job-T/photos");
    let mut bench = Bench::over(folder.path());
    let job = bench.job("T");
    for (round, share) in [0, 1, 30, 60, 99].iter().enumerate() {
        if round > 0 {
            bench = Bench::over(folder.path());
        }
        let mut stream = bench.connected();
        let at = &bench.address;
        let head = format!(
            "POST {job}/photo?{CHOICE}&n=1 HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: image/jpeg\r\n\
             Content-Length: {}\r\n\r\n",
            photo.len()
        );
        stream.write_all(head.as_bytes()).unwrap();
        stream.write_all(&photo[..photo.len() * share / 100]).unwrap();
        // Until what was sent has arrived.
        let begun = Instant::now();
        while photos_in(&photos).len() <= round && begun.elapsed() < Duration::from_secs(20) {
            std::thread::sleep(Duration::from_millis(10));
        }
        bench.child.kill().unwrap();
        bench.child.wait().unwrap();
        let names = photos_in(&photos);
        assert!(
            names.iter().all(|name| name.starts_with('.')) && names.len() == round + 1,
            "{names:?}"
        );
        let text = std::fs::read_to_string(folder.path().join("job-T/job.toml")).unwrap();
        assert!(!text.contains("[[shot]]"));
    }
    // Long after, what was left is taken away; and the job goes on as if nothing had been.
    let old = std::time::SystemTime::now() - Duration::from_secs(4000);
    for name in photos_in(&photos) {
        let file = std::fs::File::options().append(true).open(photos.join(name)).unwrap();
        file.set_modified(old).unwrap();
    }
    let bench = Bench::over(folder.path());
    assert!(photos_in(&photos).is_empty());
    let read = bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", &photo);
    assert_eq!((read.status, photos_in(&photos)), (201, vec!["0001.jpg".to_owned()]));
}

#[test]
fn an_upload_that_breaks_off_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let mut stream = bench.connected();
    let at = &bench.address;
    let head = format!(
        "POST {job}/photo?{CHOICE}&n=1 HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: image/jpeg\r\n\
         Content-Length: {}\r\n\r\n",
        photo.len()
    );
    stream.write_all(head.as_bytes()).unwrap();
    stream.write_all(&photo[..photo.len() / 2]).unwrap();
    stream.shutdown(Shutdown::Both).unwrap();
    let photos = folder.path().join("job-T/photos");
    let begun = Instant::now();
    while !(photos.is_dir() && photos_in(&photos).is_empty()) {
        assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", photos_in(&photos));
        std::thread::sleep(Duration::from_millis(20));
    }
}
