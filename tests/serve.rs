//! `beamfall serve` as a browser talks to it: the whole work from an empty folder, and requests that mean harm.

mod common;
#[path = "common/words.rs"]
mod words;

use beamfall::steps::{Photo, find_in};
use common::program;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};
use words::{counted, english_in, numbers, text_of};

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
        Self::with(folder, &[]).0
    }

    /// With further arguments; also gives the second line that it says.
    fn with(folder: &Path, arguments: &[&str]) -> (Self, String) {
        let mut child = program()
            .args(["serve", "--port", "0"])
            .arg(folder)
            .args(arguments)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut said = BufReader::new(child.stdout.take().unwrap());
        let (mut line, mut second) = (String::new(), String::new());
        said.read_line(&mut line).unwrap();
        if !arguments.is_empty() {
            said.read_line(&mut second).unwrap();
        }
        let address = line
            .split("http://")
            .nth(1)
            .unwrap()
            .split('/')
            .next()
            .unwrap()
            .to_owned();
        assert!(address.starts_with("127.0.0.1:"), "loopback alone: {line}");
        (Self { child, address }, second)
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

    /// Sends a sample photo, to be entered later.
    fn take_in(&self, job: &str, name: &str) {
        let photo = std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
        assert_eq!(self.post(&format!("{job}/take-in"), "image/jpeg", &photo).status, 201);
    }

    /// The same once more by who was asked and means it.
    fn surely(&self, path: &str, body: &serde_json::Value) -> Answer {
        let (at, body) = (&self.address, body.to_string());
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nConnection: close\r\nContent-Type: application/json\r\n\
             Beamfall-Sure: yes\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        self.raw(&[head.as_bytes(), body.as_bytes()].concat()).unwrap()
    }

    /// As a browser asks that is set to German.
    fn german(&self, path: &str) -> Answer {
        self.liking("de-DE,de;q=0.9,en;q=0.5", "", path)
    }

    /// As a browser asks that likes these languages and keeps this cookie.
    fn liking(&self, languages: &str, cookie: &str, path: &str) -> Answer {
        let cookie = if cookie.is_empty() {
            String::new()
        } else {
            format!("Cookie: {cookie}\n")
        };
        self.text(&format!(
            "GET {path} HTTP/1.1\nHost: HOST\nAccept-Language: {languages}\n{cookie}Connection: close\n\n"
        ))
        .unwrap()
    }

    fn post_german(&self, path: &str, kind: &str, body: &[u8]) -> Answer {
        let at = &self.address;
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nConnection: close\r\nAccept-Language: de\r\n\
             Content-Type: {kind}\r\nContent-Length: {}\r\n\r\n",
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
    let heads = heads.to_lowercase();
    let body = if heads.contains("transfer-encoding: chunked") {
        unchunked(body)
    } else {
        body.to_owned()
    };
    Some(Answer { status, heads, body })
}

/// A body that came in parts (RFC 9112, 7.1), as far as it came.
fn unchunked(mut body: &str) -> String {
    let mut whole = String::new();
    while let Some((size, rest)) = body.split_once("\r\n") {
        let size = usize::from_str_radix(size, 16).unwrap_or(0);
        let Some(part) = rest.get(..size).filter(|part| !part.is_empty()) else {
            break;
        };
        whole.push_str(part);
        body = rest.get(size + 2..).unwrap_or_default();
    }
    whole
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

/// A slip is told for its field alone, as `beamfall new` tells it, and nothing is written with an answer amiss.
fn slips_are_told(bench: &Bench, folder: &Path) {
    let mut slip = answers("W-0117");
    slip["left.distance_mm"] = "10".into();
    let check = |keys: &[&str], typed: &serde_json::Value| {
        let one = serde_json::json!({ "keys": keys, "typed": typed });
        bench.post("/check", "application/json", one.to_string().as_bytes())
    };
    let told = check(&["left.distance_mm", "job.job"], &slip);
    assert!(
        told.status == 200 && told.body.contains("looks like metres") && !told.body.contains("_mm ="),
        "without the key of a file: {told:?}"
    );
    assert!(
        check(&["job.job"], &slip).body.starts_with("{\"faults\":{}"),
        "only where somebody was"
    );
    assert_eq!(check(&["no.such"], &slip).status, 404);
    // The fault is that of the place along the wall, though it shows with the height; and it goes with the minus.
    let mut slip_of_wall = answers("W-0117");
    slip_of_wall["sheet1.x_mm"] = "1450".into();
    let faults = |typed: &serde_json::Value| {
        let told = check(&["sheet1.x_mm", "sheet1.y_mm", "sheet4.x_mm", "sheet4.y_mm"], typed);
        let told: serde_json::Value = serde_json::from_str(&told.body).unwrap();
        let faults = told["faults"].as_object().unwrap().clone();
        faults.into_iter().map(|(key, _)| key).collect::<Vec<_>>()
    };
    assert_eq!(faults(&slip_of_wall), ["sheet1.x_mm"]);
    slip_of_wall["sheet1.x_mm"] = "-1450".into();
    assert_eq!(faults(&slip_of_wall), [""; 0]);
    let mut slip_of_lamps = answers("W-0117");
    slip_of_lamps["left.centre_x_mm"] = "560".into();
    let told = check(&["left.centre_x_mm", "right.centre_x_mm"], &slip_of_lamps);
    assert!(
        told.body.starts_with("{\"faults\":{\"left.centre_x_mm\":") && told.body.contains("minus"),
        "{told:?}"
    );
    let told = bench.post("/new", "application/json", slip.to_string().as_bytes());
    assert!(told.status == 422 && told.body.contains("left.distance_mm"), "{told:?}");
    assert!(photos_in(folder).is_empty());
}

/// Said wherever figures of such photos stand.
const MADE: &str = "The photos are made (drawn by a program), not taken.";

fn photos_are_taken(bench: &Bench, job: &str, own: &Path) {
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
        assert!(read.body.contains(MADE), "{}", read.body);
        let (figure, button) = (read.body.find("\u{a0}±\u{a0}"), read.body.find("class=\"big\""));
        assert!(
            figure.is_some() && figure < button,
            "the figure stands above what is done next: {}",
            read.body
        );
        let asked = bench.get(&format!("{job}/shot?{CHOICE}&n={}", n + 1)).body;
        let set = asked.find(&format!("Turn the control to {n}, wait"));
        let steps = asked.find("class=\"signs\"").unwrap_or(asked.len());
        assert!(set.is_some_and(|set| set < steps), "what to set stands first: {asked}");
    }
    let again = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let again = bench.post(&format!("{job}/photo?{CHOICE}&n=2"), "image/jpeg", &again);
    assert!(
        again.status == 409 && again.body.contains("photos/0001.jpg"),
        "{again:?}"
    );
    let list = bench.get(&format!("{job}/shots?{CHOICE}")).body;
    assert!(list.contains("In the job: 4 of 4"), "{list}");
    // What is to be put back is said where the last photo is in.
    assert!(
        list.contains("Afterwards") && list.contains("Light switch, engine and ignition off."),
        "{list}"
    );
    let third = bench.get(&format!("{job}/shot?{CHOICE}&n=3")).body;
    assert!(
        third.contains("From the start") && third.contains("Start the engine"),
        "who comes back later sets all up again: {third}"
    );
}

/// An entry is taken out, whichever, and the same photo entered again under its name; one that is not where it is said to be stays.
fn one_is_taken_out_and_entered_again(bench: &Bench, job: &str, own: &Path) {
    let file = own.join("job.toml");
    let all = std::fs::read_to_string(&file).unwrap();
    for (n, name, status) in [
        (1, "photos/0001.jpg", 422),
        (9, "photos/0001.jpg", 422),
        (0, "../../etc/passwd", 422),
        (1, "photos/0002.jpg", 201),
        (1, "photos/0002.jpg", 422),
    ] {
        let before = std::fs::read_to_string(&file).unwrap();
        let order = serde_json::json!({ "kind": "shot", "n": n, "name": name }).to_string();
        let told = bench.post(&format!("{job}/undo"), "application/json", order.as_bytes());
        assert_eq!(told.status, status, "{n} {name}");
        assert_eq!(
            std::fs::read_to_string(&file).unwrap() == before,
            status != 201,
            "{n} {name}"
        );
    }
    let second = std::fs::read(sample("photos/left-before-1.jpg")).unwrap();
    let again = bench.post(&format!("{job}/photo?{CHOICE}&n=2"), "image/jpeg", &second);
    assert_eq!(again.status, 201, "{}", again.body);
    // It stands last now; the lines are the same.
    let sorted = |text: &str| {
        let mut lines: Vec<&str> = text.lines().collect();
        lines.sort_unstable();
        lines.join("\n")
    };
    assert_eq!(sorted(&std::fs::read_to_string(&file).unwrap()), sorted(&all));
    assert_eq!(photos_in(&own.join("photos")).len(), 4);
}

fn readings_and_report_are_those_of_the_command(bench: &Bench, job: &str, own: &Path) {
    let measured = program()
        .args(["measure", "--json"])
        .arg(own.join("job.toml"))
        .output()
        .unwrap();
    let measured: serde_json::Value = serde_json::from_slice(&measured.stdout).unwrap();
    assert_eq!(measured["shots"].as_array().unwrap().len(), 4);
    assert!(
        bench
            .get(&format!("{job}/readings"))
            .body
            .contains(&format!("{job}/reading"))
    );
    let shown = bench.get(&format!("{job}/reading"));
    assert!(
        shown.heads.contains("content-type: text/event-stream"),
        "{}",
        shown.heads
    );
    let (steps, shown) = shown.body.split_once("event: done\n").expect("an end");
    assert!(steps.contains("event: progress\ndata: {\"done\":"), "{steps}");
    // The answer stands first, as in the report, then the lamps; what is to be known of the figures stands behind them.
    let at = |what: &str| shown.find(what).unwrap_or_else(|| panic!("{what} is not in {shown}"));
    assert!(at("What is wrong:") < at("What to do next:"));
    assert!(
        at("What is wrong:") < at(MADE),
        "it is said of made photos, behind the answer"
    );
    assert!(at("What to do next:") < at("What was found") && at("What was found") < at("Inclination is how far"));
    assert!(
        !shown.contains("beamfall isolate") && !shown.contains("[[trial]]"),
        "{shown}"
    );
    for shot in measured["shots"].as_array().unwrap() {
        let figure = format!("{:.2}\u{a0}±\u{a0}", shot["inclination"]["percent"].as_f64().unwrap());
        assert!(shown.contains(&figure), "{figure}: {shown}");
    }
    let made = bench.post(&format!("{job}/report"), "text/plain", b"");
    let end = format!("event: done\ndata: {{\"go\":\"{job}/report\"}}\n\n");
    assert!(made.body.ends_with(&end), "{}", made.body);
    let results = std::fs::read(own.join("beamfall-report/results.json")).unwrap();
    let results: serde_json::Value = serde_json::from_slice(&results).unwrap();
    assert_eq!(results["shots"], measured["shots"]);
    let report = bench.get(&format!("{job}/report"));
    assert!(
        report.heads.contains("content-security-policy: sandbox"),
        "{}",
        report.heads
    );
    // It runs nothing; of its links one is to a file to keep.
    let policy = report.heads.split_once("content-security-policy: ").unwrap().1;
    let sandbox = policy.split(';').next().unwrap();
    assert_eq!(sandbox, "sandbox allow-popups allow-same-origin allow-downloads");
    let pdf = bench.get(&format!("{job}/report.pdf"));
    assert!(
        pdf.status == 200 && pdf.heads.contains("application/pdf") && pdf.heads.contains("attachment"),
        "{}",
        pdf.heads
    );
    let written = std::fs::read_to_string(own.join("beamfall-report/report.html")).unwrap();
    // As it was written, but for the way back to its job.
    let (above, rest) = report.body.split_once("<style>@media print { #back-to-job").unwrap();
    assert!(
        rest.contains(&format!("href=\"{job}/report.pdf\"")),
        "the PDF is at hand"
    );
    let (way_back, below) = rest.split_once("</nav>").unwrap();
    assert!(way_back.contains(&format!("href=\"{job}\"")), "{way_back}");
    assert_eq!([above, below].concat(), written);
    assert!(
        written.contains("Not photographed: the right lamp."),
        "the job lists it"
    );
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
    slips_are_told(&bench, folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    assert!(folder.path().join("bay.toml").is_file() && own.join("job.toml").is_file());
    assert!(
        !bench.get("/new").body.contains("bay.name"),
        "the wall is asked for once"
    );
    let list = bench.get(&format!("{job}/shots?{CHOICE}")).body;
    assert!(
        list.contains("In the job: 0 of 4") && list.contains("left before, control at 3"),
        "{list}"
    );
    let step = bench.get(&format!("{job}/shot?{CHOICE}&n=1")).body;
    assert!(
        step.contains("Board before the right lamp") && step.contains("capture=\"environment\""),
        "{step}"
    );
    photos_are_taken(&bench, &job, &own);
    one_is_taken_out_and_entered_again(&bench, &job, &own);
    readings_and_report_are_those_of_the_command(&bench, &job, &own);
}

/// A photo whose sheets but two have lost their numbers is refused, and read once somebody has said where they are; nothing but photos of
/// the job is ever shown for that.
#[test]
fn a_refused_photo_is_mended_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    let name = Path::new("photos/left-before-0.jpg");
    let photo = Photo::read(&sample(""), name).unwrap();
    let found = find_in(&photo, &[1, 2, 3, 4, 5, 6]);
    assert!(found.len() >= 6, "{}", found.len());
    let mut picture = image::open(sample("").join(name)).unwrap().to_rgb8();
    for mark in &found[2..] {
        let [a, _, c, _] = mark.corners_px;
        let within = |low: f64, high: f64| (low + 0.2 * (high - low)) as u32..(low + 0.8 * (high - low)) as u32;
        for x in within(a[0], c[0]) {
            for y in within(a[1], c[1]) {
                picture.put_pixel(x, y, image::Rgb([90, 90, 90]));
            }
        }
    }
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    let png = png.into_inner();
    let refused = bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/png", &png);
    assert!(
        refused.status == 201 && refused.body.contains(&format!("{job}/place?")),
        "{refused:?}"
    );
    let about = |what: &str, photo: &str| bench.get(&format!("{job}/{what}?{CHOICE}&n=1&photo={photo}"));
    let shown = about("place", "photos/0001.png");
    assert!(shown.status == 200 && shown.body.contains("by-hand?"), "{shown:?}");
    let file = about("photo-file", "photos/0001.png");
    assert!(
        file.heads.contains("content-type: image/png")
            && file.heads.contains(&format!("content-length: {}", png.len()))
    );
    for photo in [
        "job.toml",
        "photos/../job.toml",
        "../bay.toml",
        "/etc/passwd",
        "photos/0002.png",
        "photos",
    ] {
        assert_eq!(about("photo-file", photo).status, 404, "{photo}");
    }
    let send = |photo: &str, sheets: serde_json::Value| {
        let order = serde_json::json!({ "photo": photo, "sheets": sheets }).to_string();
        bench.post(
            &format!("{job}/by-hand?{CHOICE}&n=1"),
            "application/json",
            order.as_bytes(),
        )
    };
    let all: Vec<serde_json::Value> = found[2..]
        .iter()
        .map(|mark| serde_json::json!({"id": mark.id, "corners_px": mark.corners_px.map(|at| at.map(f64::round))}))
        .collect();
    assert_eq!(send("../bay.toml", all.clone().into()).status, 422);
    assert_eq!(
        send("photos/0001.png", serde_json::json!([{"id": "1", "corners_px": []}])).status,
        400
    );
    let mut turned = all.clone();
    turned[0]["corners_px"].as_array_mut().unwrap().reverse();
    let odd = send("photos/0001.png", turned.into());
    assert!(odd.status == 422 && odd.body.contains("out of order"), "{odd:?}");
    assert!(
        !std::fs::read_to_string(own.join("job.toml"))
            .unwrap()
            .contains("[[shot]]")
    );
    let read = send("photos/0001.png", all.into());
    assert!(
        read.status == 201 && read.body.contains("entered in the job"),
        "{read:?}"
    );
    assert!(read.body.contains("placed in the photo by hand"), "{}", read.body);
    assert!(
        read.body.contains("✓ Read as you showed it") && !read.body.contains("Read by itself"),
        "{}",
        read.body
    );
    let held = bench.get(&format!("{job}/entries"));
    assert!(held.body.contains(", sheets shown by hand"), "{held:?}");
    let measured = program()
        .args(["measure", "--json"])
        .arg(own.join("job.toml"))
        .output()
        .unwrap();
    let measured: serde_json::Value = serde_json::from_slice(&measured.stdout).unwrap();
    let shot = &measured["shots"][0];
    // The truth that was drawn (left-before.truth.json).
    let off = shot["inclination"]["percent"].as_f64().unwrap() - 1.2258;
    assert!(
        off.abs() < shot["inclination"]["u95_percent"].as_f64().unwrap(),
        "{shot}"
    );
}

/// Photos that were taken before they were sent, in a heap and in any order, are put in order by their own times; nothing is entered
/// until they fit the list.
#[test]
fn a_heap_is_put_in_order_by_its_times() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    for name in [
        "left-before-2",
        "right-before-0",
        "left-before-0",
        "left-before-3",
        "left-before-1",
    ] {
        let photo = std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
        let sent = bench.post(&format!("{job}/take-in"), "image/jpeg", &photo);
        assert!(sent.status == 201 && sent.body.contains("photos/000"), "{sent:?}");
        assert!(
            bench.post(&format!("{job}/take-in"), "image/jpeg", &photo).status < 400,
            "sent twice"
        );
    }
    // One is missing from the list: of a photo behind it somebody says what it shows, and those behind it move along.
    let behind = bench
        .get(&format!("{job}/heap?{CHOICE}&sent=1-1&sent=3-4&is=0001.jpg:3"))
        .body;
    for (number, name) in [(1, "0003.jpg"), (3, "0001.jpg"), (4, "0004.jpg")] {
        let (_, row) = behind
            .split_once(&format!("<strong>{number}. "))
            .expect("a line of its own");
        assert!(
            row.split("</li>").next().unwrap().contains(name),
            "{number} {name}: {row}"
        );
    }
    assert!(
        behind.contains("Not among them, by what you said: 2. left before, control at 1")
            && behind.contains("Enter these 3"),
        "{behind}"
    );
    let moved = bench.get(&format!("{job}/heap?{CHOICE}&sent=1-1&is=0001.jpg:2")).body;
    let (_, row) = moved.split_once("<strong>2. ").expect("it stands for the second");
    let row = row.split("</li>").next().unwrap();
    assert!(
        row.contains("as you said") && row.contains("<option value=\"0001.jpg:2\" selected>"),
        "{row}"
    );
    let shown = bench.get(&format!("{job}/heap?{CHOICE}&sent=1-5")).body;
    assert!(
        shown.contains("Open on the list: 4. Sent and not entered yet: 5"),
        "{shown}"
    );
    assert!(
        shown.contains("without those that are ticked") && !shown.contains("to come"),
        "{shown}"
    );
    // Whether more is to come is asked by itself, not by a tick among those that leave photos out.
    let few = bench.get(&format!("{job}/heap?{CHOICE}&sent=1-2")).body;
    assert!(
        few.contains("The last 2 of the list are to come")
            && few.contains("rest=later")
            && few.contains("rest=none")
            && few.contains("Nothing is to come: these are all")
            && !few.contains("name=\"rest\""),
        "{few}"
    );
    let rest = bench.get(&format!("{job}/heap?{CHOICE}&sent=1-2&rest=later")).body;
    assert!(
        rest.contains("Enter these 2") && rest.contains("these are all"),
        "{rest}"
    );
    // A series that ended early is all there is, and that is said at once.
    let all = bench.get(&format!("{job}/heap?{CHOICE}&sent=1-2&rest=none")).body;
    assert!(
        all.contains("Enter these 2")
            && all.contains("these are all: the rest of the list was not taken")
            && all.contains("rest=later"),
        "{all}"
    );
    let enter = |query: &str| {
        bench.post(
            &format!("{job}/heap?{CHOICE}&sent=1-5{query}"),
            "application/json",
            b"{}",
        )
    };
    assert_eq!(enter("").status, 422);
    assert_eq!(enter("&skip=0009.jpg").status, 422);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    let shown = bench.get(&format!("{job}/heap?{CHOICE}&sent=1-5&skip=0002.jpg")).body;
    let places: Vec<usize> = ["0003.jpg", "0005.jpg", "0001.jpg", "0004.jpg"]
        .iter()
        .map(|name| {
            shown
                .find(&format!("Leave this photo out (<code>{name}"))
                .expect("each is shown")
        })
        .collect();
    assert!(
        !shown.contains("by the number in its name"),
        "the numbers are those of their arrival"
    );
    assert!(places.is_sorted(), "by the times at which they were taken: {places:?}");
    assert!(
        shown.matches("class=\"thumb\"").count() == 5,
        "what is left out is seen, too: {shown}"
    );
    assert_eq!(enter("&skip=0002.jpg").status, 201);
    let measured = program().args(["measure", "--json"]).arg(&file).output().unwrap();
    let measured: serde_json::Value = serde_json::from_slice(&measured.stdout).unwrap();
    let alone = program()
        .args(["measure", "--json"])
        .arg(sample("job.toml"))
        .output()
        .unwrap();
    let alone: serde_json::Value = serde_json::from_slice(&alone.stdout).unwrap();
    let shots = measured["shots"].as_array().unwrap();
    assert_eq!(shots.len(), 4);
    for shot in shots {
        let same = |other: &&serde_json::Value| other["sha256"] == shot["sha256"];
        let known = alone["shots"].as_array().unwrap().iter().find(same).unwrap();
        assert_eq!(shot["position"], known["position"], "as the sample's job has it");
    }
    assert!(enter("&skip=0002.jpg").status == 422, "entered once");
}

/// Once something is known of the mended car, what was done is asked for before anything else is tested; and after a repair of a part that both
/// lamps share the pump's photos are not asked for once more.
#[test]
fn a_mended_car_without_its_repair_is_asked_what_was_done() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let system = serde_json::json!({ "system": "vacuum-cabin-control" });
    assert_eq!(bench.surely(&format!("{job}/system"), &system).status, 201);
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    let shots: String = [("0", ""), ("1", ""), ("", "0 mbar"), ("", "90 mbar"), ("", "180 mbar")]
        .iter()
        .map(|(position, vacuum)| match vacuum.is_empty() {
            true => format!("[[shot]]\nphoto = \"p{position}.jpg\"\nlamp = \"left\"\nstage = \"before\"\nposition = \"{position}\"\n"),
            false => format!("[[shot]]\nphoto = \"{vacuum}.jpg\"\nlamp = \"left\"\nstage = \"before\"\nvacuum = \"{vacuum}\"\n"),
        })
        .collect();
    let asks = "Enter what was done first";
    let trial = |stage: &str| format!("[[trial]]\ntest = \"operate-left\"\nmoves = \"no\"\nstage = \"{stage}\"\n");
    std::fs::write(&file, format!("{before}\n{shots}{}", trial("before"))).unwrap();
    let shown = bench.get(&format!("{job}/fault")).body;
    assert!(!shown.contains(asks) && !shown.contains("value=\"after\""), "{shown}");
    std::fs::write(&file, format!("{before}\n{shots}{}{}", trial("before"), trial("after"))).unwrap();
    let shown = bench.get(&format!("{job}/fault")).body;
    assert!(
        shown.contains(asks) && shown.contains("value=\"after\" checked"),
        "{shown}"
    );
    // With the repair entered it is not asked for, and the list goes by what was mended.
    let mended = |part: &str| {
        let repair = format!("[[repair]]\ncomponent = \"{part}\"\ndate = \"2031-03-05\"\nwords = \"replaced\"\n");
        std::fs::write(&file, format!("{before}\n{shots}{}{repair}", trial("before"))).unwrap();
        bench.get(&job).body
    };
    let shared = mended("supply-line");
    assert!(
        shared.contains("/shots?check=positions&amp;stage=after\">Take the photos after"),
        "{shared}"
    );
    // How far the broken one went is no plan for the new one.
    let of_one = mended("left-actuator");
    assert!(
        of_one.contains("check=positions&amp;check=vacuum&amp;stage=after\">Take the photos after"),
        "{of_one}"
    );
    assert!(!bench.get(&format!("{job}/fault")).body.contains(asks));
}

/// Where one is missing in the middle, those behind it are taken for what they are not: what is read as the other lamp's gives it away, and
/// nothing is entered.
#[test]
fn of_a_heap_whose_order_slipped_nothing_is_entered() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    for name in [
        "left-before-0",
        "left-before-1",
        "left-before-2",
        "right-before-0",
        "right-before-1",
    ] {
        bench.take_in(&job, name);
    }
    let heap = format!("{job}/heap?check=positions&stage=before&positions=0%2C1%2C2%2C3&sent=1-5");
    let shown = bench.get(&format!("{heap}&rest=later")).body;
    assert!(shown.contains("Enter these 5"), "{shown}");
    let entered = bench.post(&format!("{heap}&rest=later"), "application/json", b"{}");
    assert!(
        entered.status == 422
            && entered
                .body
                .contains("the order slipped: 4. left before, control at 3 (0004.jpg) shows the other lamp's beam"),
        "{entered:?}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    // Said of that one what it shows, those behind it move along, and all are entered as what they are.
    let said = bench.post(&format!("{heap}&rest=later&is=0004.jpg:5"), "application/json", b"{}");
    assert!(said.status == 201 && said.body.contains("/readings"), "{said:?}");
    let text = std::fs::read_to_string(&file).unwrap();
    assert_eq!(text.matches("lamp = \"right\"").count(), 2, "{text}");
}

/// As with a photo that comes alone, what gives no figure is not entered: it is told beside it, with what mends it.
#[test]
fn of_a_heap_what_gives_no_figure_is_not_entered() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let after = "check=positions&lamp=left&stage=after&positions=0%2C1%2C2%2C3";
    for name in ["left-after-0", "left-after-1-first-try", "left-after-2", "left-after-3"] {
        bench.take_in(&job, name);
    }
    let heap = format!("{job}/heap?{after}&sent=1-4");
    let before = bench.get(&heap).body;
    assert!(before.contains("Enter these 4") && !before.contains('∅'), "{before}");
    let entered = bench.post(&heap, "application/json", b"{}");
    assert!(entered.status == 201 && entered.body.contains(&heap), "{entered:?}");
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(
        text.matches("[[shot]]").count() == 3 && !text.contains("0002.jpg"),
        "{text}"
    );
    let left = bench.get(&heap).body;
    let (_, row) = left.split_once("<strong>2. ").expect("its place is open");
    let row = row.split("</li>").next().unwrap();
    assert!(
        left.contains("One of these photos gave no figure and is not entered")
            && row.contains("0002.jpg")
            && row.contains("∅ no figure: ")
            && row.contains(&format!("{job}/shot?"))
            && row.contains(">Take it again<")
            && !left.contains("Enter these"),
        "{left}"
    );
    assert!(
        bench
            .german(&heap)
            .body
            .contains("gab keinen Wert und ist nicht eingetragen")
    );
    // Pressed all the same, nothing comes of it.
    assert_eq!(bench.post(&heap, "application/json", b"{}").status, 201);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
    let list = bench.get(&format!("{job}/shots?{after}")).body;
    assert!(
        list.contains("In the job: 3 of 4") && list.contains("Go on with photo 2"),
        "{list}"
    );
    // The good one taken in, all are there, and the readings follow.
    let good = std::fs::read(sample("photos/left-after-1.jpg")).unwrap();
    assert_eq!(bench.post(&format!("{job}/take-in"), "image/jpeg", &good).status, 201);
    let mended = bench.post(&format!("{job}/heap?{after}&sent=5-5"), "application/json", b"{}");
    assert!(mended.status == 201 && mended.body.contains("/readings"), "{mended:?}");
    let list = bench.get(&format!("{job}/shots?{after}")).body;
    assert!(list.contains("All are there"), "{list}");
}

/// Photos of a leak-down are known by their times: one that was not taken leaves its own place open, not the last one's.
#[test]
fn a_leak_down_knows_its_photos_by_their_times() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let choice = "check=leak-down&lamp=right&stage=after&minutes=5&every=40";
    for n in [1, 2, 4, 5, 6, 7, 8] {
        let photo = std::fs::read(sample(&format!("photos/right-creep-{n}.jpg"))).unwrap();
        let sent = bench.post(&format!("{job}/photo?{choice}&n={n}"), "image/jpeg", &photo);
        assert!(sent.body.contains("entered in the job"), "{sent:?}");
    }
    let list = bench.get(&format!("{job}/shots?{choice}")).body;
    let rows: Vec<&str> = list.split("<li>").skip(1).collect();
    let row = |n: usize| {
        rows.iter()
            .find(|row| row.contains(&format!("<span>{n}. ")))
            .expect("listed")
    };
    assert!(
        list.contains("In the job: 7 of 8. One of a leak-down is not, and its time is over")
            && list.contains("All are there: readings"),
        "{list}"
    );
    assert!(
        row(3).contains("its time is over")
            && row(4).contains("✓ in the job, 21:37:00")
            && row(8).contains("✓ in the job, 21:40:50"),
        "{list}"
    );
    let screen = |n: usize| bench.get(&format!("{job}/shot?{choice}&n={n}")).body;
    assert!(
        screen(3).contains("its time is over") && !screen(3).contains("id=\"held\""),
        "{}",
        screen(3)
    );
    assert!(
        screen(4).contains("The job has this one, 21:37:00.") && screen(4).contains("photos/0003.jpg"),
        "the third that was sent: {}",
        screen(4)
    );
    assert!(
        bench
            .german(&format!("{job}/shots?{choice}"))
            .body
            .contains("seine Zeit ist vorbei")
    );
    // Sent in a heap afterwards it takes its own place.
    let photo = std::fs::read(sample("photos/right-creep-3.jpg")).unwrap();
    assert_eq!(bench.post(&format!("{job}/take-in"), "image/jpeg", &photo).status, 201);
    let heap = bench.get(&format!("{job}/heap?{choice}&sent=8-8")).body;
    assert!(heap.contains("Enter these 1") && heap.contains("<strong>3. "), "{heap}");
}

/// A figure of the gauge that was mistyped is mended where it stands; the photo and all else of its entry stay.
#[test]
fn what_the_gauge_showed_is_changed() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let file = folder.path().join("job-T/job.toml");
    let choice = "check=vacuum&lamp=left&stage=before&vacuum=0%2C10+mbar";
    let photo = std::fs::read(sample("photos/left-pump-02-100mbar.jpg")).unwrap();
    assert_eq!(
        bench
            .post(&format!("{job}/photo?{choice}&n=2"), "image/jpeg", &photo)
            .status,
        201
    );
    let before = std::fs::read_to_string(&file).unwrap();
    assert!(before.contains("vacuum = \"10 mbar\""), "{before}");
    let entries = bench.get(&format!("{job}/entries")).body;
    assert!(entries.contains(&format!("{job}/gauge?n=0")), "{entries}");
    let form = bench.get(&format!("{job}/gauge?n=0")).body;
    assert!(
        form.contains("value=\"10 mbar\"") && form.contains("photos/0001.jpg"),
        "{form}"
    );
    let say = |n: usize, photo: &str, vacuum: &str| {
        let body = serde_json::json!({ "photo": photo, "vacuum": vacuum }).to_string();
        bench.post(&format!("{job}/gauge?n={n}"), "application/json", body.as_bytes())
    };
    for (photo, vacuum) in [
        ("photos/0001.jpg", "100"),
        ("photos/0001.jpg", "2000 mbar"),
        ("photos/0001.jpg", "10 mbar"),
        ("photos/0002.jpg", "100 mbar"),
    ] {
        let refused = say(0, photo, vacuum);
        assert!(refused.status == 422, "{photo} {vacuum}: {refused:?}");
    }
    assert_eq!(say(7, "photos/0001.jpg", "100 mbar").status, 422);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    assert_eq!(say(0, "photos/0001.jpg", "100 mbar").status, 201);
    let after = std::fs::read_to_string(&file).unwrap();
    assert_eq!(after, before.replace("\"10 mbar\"", "\"100 mbar\""));
    let entries = bench.get(&format!("{job}/entries")).body;
    assert!(
        entries.contains("the gauge showed 100 mbar at photos/0001.jpg"),
        "{entries}"
    );
    assert_eq!(bench.get(&format!("{job}/gauge?n=3")).status, 404);
    // A leak-down that came without the gauge's figure gets it there, too.
    let sealed = "check=leak-down&lamp=right&stage=after&minutes=1&every=40&vacuum=0";
    let photo = std::fs::read(sample("photos/right-creep-1.jpg")).unwrap();
    assert_eq!(
        bench
            .post(&format!("{job}/photo?{sealed}&n=1"), "image/jpeg", &photo)
            .status,
        201
    );
    let entries = bench.get(&format!("{job}/entries")).body;
    assert!(entries.contains("Enter the gauge's figure"), "{entries}");
    let screen = bench.get(&format!("{job}/shot?{sealed}&n=1")).body;
    assert!(screen.contains(&format!("{job}/gauge?n=1")), "{screen}");
    assert_eq!(say(1, "photos/0002.jpg", "180 mbar").status, 201);
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(
        text.contains("[[shot]]\nvacuum = \"180 mbar\"\nphoto = \"photos/0002.jpg\""),
        "{text}"
    );
    // Who goes straight to a photo of a lamp that has none yet is told all that can hurt.
    let straight = "check=positions&lamp=right&stage=before&positions=0%2C1%2C2";
    let screen = bench.get(&format!("{job}/shot?{straight}&n=3")).body;
    assert!(
        screen.contains("The car must not roll") && screen.contains("carbon monoxide"),
        "{screen}"
    );
}

/// A step of the pump that cannot be is told in the form, beside its field, with all else as it was sent.
#[test]
fn a_step_that_cannot_be_is_told_at_its_field() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let shots = |query: &str| bench.get(&format!("{job}/shots?{query}"));
    let odd = shots("check=vacuum&positions=0%2C1&vacuum=0&minutes=7&every=60&lamp=left&stage=&off=1");
    let (_, field) = odd.body.split_once("id=\"vacuum\"").expect("the form");
    let field = field.split("</div>").next().unwrap();
    assert!(
        odd.status == 422
            && field.contains("aria-invalid=\"true\"")
            && field.contains("value=\"0\"")
            && field.contains("a vacuum of 0 alone is the lamp at rest"),
        "{odd:?}"
    );
    let body = &odd.body;
    assert!(
        body.contains("name=\"check\" value=\"vacuum\" checked>")
            && body.contains("name=\"lamp\" value=\"left\" checked>")
            && body.contains("name=\"off\" value=\"1\" checked>")
            && body.contains("value=\"7\"")
            && body.matches("aria-invalid").count() == 1,
        "as it was sent: {body}"
    );
    for (query, id) in [
        ("check=vacuum&vacuum=100%2C200", "vacuum-fault"),
        ("check=leak-down&minutes=some", "minutes-fault"),
        ("check=leak-down&every=1.5", "every-fault"),
    ] {
        let odd = shots(query);
        assert!(
            odd.status == 422 && odd.body.contains(&format!("class=\"fault\" id=\"{id}\"")),
            "{query}: {odd:?}"
        );
    }
    // Of no one field, it stands above the form.
    let one = shots("check=positions&positions=0");
    assert!(
        one.status == 422 && one.body.contains("one position shows no travel") && one.body.contains("class=\"choose\""),
        "{one:?}"
    );
    assert_eq!(
        shots("check=positions&positions=0%2C1&vacuum=0").status,
        200,
        "no check asks for it"
    );
}

/// What was sent before and lies there outside the job takes no place in a heap that is sent later, so that no photo is entered as another.
#[test]
fn a_heap_is_what_was_sent_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    // Taken before all others, and of no list.
    for name in [
        "right-before-0",
        "left-before-2",
        "left-before-0",
        "left-before-3",
        "left-before-1",
    ] {
        bench.take_in(&job, name);
    }
    let heap = format!("{job}/heap?{CHOICE}&sent=2-5");
    let shown = bench.get(&heap).body;
    let (proposed, before) = shown.split_once("Sent before, and not entered: 1").expect("folded");
    assert!(
        shown.contains("Enter these 4") && !shown.contains("Open on the list") && !proposed.contains("0001.jpg"),
        "{shown}"
    );
    assert!(
        before.contains("Take in 0001.jpg")
            && before.contains("take=0001.jpg")
            && shown.matches("class=\"thumb\"").count() == 5,
        "{before}"
    );
    assert!(
        proposed.contains("name=\"sent\" value=\"2-5\""),
        "kept where more is ticked: {proposed}"
    );
    let taken = bench.get(&format!("{heap}&take=0001.jpg")).body;
    assert!(
        taken.contains("Open on the list: 4. Sent and not entered yet: 5")
            && taken.contains("type=\"hidden\" name=\"take\" value=\"0001.jpg\"")
            && taken.matches("type=\"checkbox\" name=\"skip\"").count() == 5
            && taken.matches("type=\"checkbox\"").count() == 5
            && taken.matches("class=\"thumb\"").count() == 5
            && !taken.contains("Sent before"),
        "{taken}"
    );
    let none = bench.get(&format!("{job}/heap?{CHOICE}")).body;
    assert!(
        none.contains("not entered: 5") && !none.contains("Enter these") && !none.contains("that are ticked"),
        "nothing is taken in unasked: {none}"
    );
    assert_eq!(bench.get(&format!("{job}/heap?{CHOICE}&sent=2")).status, 400);
    assert_eq!(bench.post(&heap, "application/json", b"{}").status, 201);
    let job: toml::Table = std::fs::read_to_string(&file).unwrap().parse().unwrap();
    let shots = job["shot"].as_array().unwrap();
    let mut entered: Vec<(&str, &str)> = shots
        .iter()
        .map(|shot| (shot["position"].as_str().unwrap(), shot["photo"].as_str().unwrap()))
        .collect();
    entered.sort_unstable();
    assert_eq!(
        entered,
        [
            ("0", "photos/0003.jpg"),
            ("1", "photos/0005.jpg"),
            ("2", "photos/0002.jpg"),
            ("3", "photos/0004.jpg")
        ]
    );
}

/// A photo of a heap that the job has already is told with what it is there, also where more is chosen of the heap, and one that gave no figure when
/// it was read is marked.
#[test]
fn a_heap_tells_what_is_in_the_job_already_and_what_was_refused() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let bytes = |name: &str| std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
    let take = |name: &str, n: usize| bench.post(&format!("{job}/photo?{CHOICE}&n={n}"), "image/jpeg", &bytes(name));
    assert!(take("left-before-2", 3).body.contains("entered in the job"));
    assert!(take("left-after-1-first-try", 1).body.contains("not entered"));
    let send = |name: &str, query: &str| bench.post(&format!("{job}/take-in{query}"), "image/jpeg", &bytes(name));
    let had = send("left-before-2", "?heap=1");
    assert!(had.status == 200 && had.body.contains("photos/0001.jpg"), "{had:?}");
    assert_eq!(
        send("left-before-2", "").status,
        409,
        "of no heap it is refused as before"
    );
    let again = send("left-after-1-first-try", "?heap=1");
    assert!(
        again.status == 201 && again.body.contains("photos/0002.jpg"),
        "{again:?}"
    );
    assert_eq!(send("left-before-3", "?heap=1").status, 201);
    let heap = format!("{job}/heap?{CHOICE}&sent=2-3");
    let shown = bench.get(&format!("{heap}&had=0001.jpg&had=0009.jpg")).body;
    assert!(
        shown.contains("One of the photos sent is in the job already")
            && shown.contains("<strong>left lamp, before the repair; position 2</strong> (<code>0001.jpg</code>)")
            && shown.contains("type=\"hidden\" name=\"had\" value=\"0001.jpg\"")
            && shown.matches("in the job already: ").count() == 1,
        "{shown}"
    );
    // It was read as another setting than it is taken to be now.
    assert!(!shown.contains("∅ no figure"), "{shown}");
    let alone = bench.get(&format!("{job}/heap?{CHOICE}&sent=2-2")).body;
    let (_, marked) = alone
        .split_once("control at 0</strong><br><span class=\"note\">∅ no figure: ")
        .expect("marked");
    assert!(
        marked.split("</li>").next().unwrap().contains("0002.jpg") && !marked.contains("∅ no figure"),
        "that one alone: {alone}"
    );
    assert!(
        bench
            .german(&format!("{heap}&had=0001.jpg"))
            .body
            .contains("schon im Auftrag und wird nicht noch einmal eingetragen")
    );
    assert!(!bench.get(&heap).body.contains("in the job already:"));
}

/// A photo without a time wrecks no heap: it is marked, and nothing is entered until somebody says what it shows or leaves it out.
#[test]
fn a_photo_without_a_time_is_marked_in_its_heap() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    for name in ["left-before-0", "left-before-1", "left-before-2", "left-before-3"] {
        let mut photo = std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
        if name == "left-before-1" {
            let bare = image::load_from_memory(&photo).unwrap().to_rgb8();
            photo.clear();
            bare.write_to(&mut std::io::Cursor::new(&mut photo), image::ImageFormat::Jpeg)
                .unwrap();
        }
        assert_eq!(bench.post(&format!("{job}/take-in"), "image/jpeg", &photo).status, 201);
    }
    let heap = format!("{job}/heap?{CHOICE}&sent=1-4");
    let shown = bench.get(&heap);
    assert_eq!(shown.status, 200, "{shown:?}");
    let (_, marked) = shown
        .body
        .split_once("! no time in it: say what it shows")
        .expect("marked");
    let row = marked.split("</li>").next().unwrap();
    assert!(
        row.contains("class=\"thumb\"")
            && row.contains("value=\"0002.jpg:2\"")
            && row.contains("data-sent-as=\"0002.jpg\""),
        "{row}"
    );
    assert!(
        !marked.contains("! no time") && shown.body.matches("class=\"thumb\"").count() == 4,
        "that one alone, and all four are seen: {}",
        shown.body
    );
    assert!(!shown.body.contains("Enter these"), "{}", shown.body);
    assert!(
        bench
            .german(&heap)
            .body
            .contains("keine Zeit darin: sagen, was es zeigt")
    );
    let refused = bench.post(&heap, "application/json", b"{}");
    assert_eq!(refused.status, 422, "{refused:?}");
    assert!(
        refused.body.contains(&format!("{job}/shots?")),
        "the way back is the list: {refused:?}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    let without = bench.get(&format!("{heap}&skip=0002.jpg")).body;
    assert!(
        without.contains("Open on the list: 4. Sent and not entered yet: 3"),
        "{without}"
    );
    let said = format!("{heap}&is=0002.jpg%3A2");
    let shown = bench.get(&said).body;
    assert!(
        shown.contains("Enter these 4") && shown.contains("<option value=\"0002.jpg:2\" selected>"),
        "{shown}"
    );
    assert_eq!(bench.post(&said, "application/json", b"{}").status, 201);
    let entered: toml::Table = std::fs::read_to_string(&file).unwrap().parse().unwrap();
    let entered: Vec<(&str, &str)> = entered["shot"]
        .as_array()
        .unwrap()
        .iter()
        .map(|shot| (shot["position"].as_str().unwrap(), shot["photo"].as_str().unwrap()))
        .collect();
    let meant = [
        ("0", "photos/0001.jpg"),
        ("1", "photos/0002.jpg"),
        ("2", "photos/0003.jpg"),
        ("3", "photos/0004.jpg"),
    ];
    assert_eq!(entered, meant);
}

/// A black photo that came in the place of a lit one is seen by its light, marked, and asked about before anything is entered.
#[test]
fn a_dark_photo_of_a_heap_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    for name in ["left-before-0", "left-before-1", "left-before-2", "left-before-3"] {
        let mut photo = std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
        if name == "left-before-2" {
            photo = blackened(&photo);
        }
        assert_eq!(bench.post(&format!("{job}/take-in"), "image/jpeg", &photo).status, 201);
    }
    let heap = format!("{job}/heap?{CHOICE}&sent=1-4");
    let shown = bench.get(&heap).body;
    let (_, marked) = shown.split_once("! much darker than the others").expect("marked");
    assert!(
        marked.split("</li>").next().unwrap().contains("0003.jpg") && !marked.contains("! much darker"),
        "that one alone: {shown}"
    );
    assert!(
        shown.contains("0003.jpg is much darker than the others, and is taken to be number 3"),
        "{shown}"
    );
    let asked = bench.post(&heap, "application/json", b"{}");
    assert!(
        asked.status == 409 && asked.body.contains("0003.jpg is much darker") && asked.body.contains("all the same?"),
        "{asked:?}"
    );
    let asked = bench.post_german(&heap, "application/json", b"{}");
    assert!(
        asked.status == 409 && asked.body.contains("viel dunkler als die anderen"),
        "{asked:?}"
    );
    assert_eq!(
        std::fs::read_to_string(&file).unwrap(),
        before,
        "nothing is entered unasked"
    );
    assert_eq!(bench.surely(&heap, &serde_json::json!({})).status, 201);
}

/// The photo with nothing to be seen in it, and the times and exposure that the camera wrote.
fn blackened(jpeg: &[u8]) -> Vec<u8> {
    let read = image::load_from_memory(jpeg).unwrap().to_rgb8();
    let mut black = Vec::new();
    image::RgbImage::from_pixel(read.width(), read.height(), image::Rgb([1, 1, 1]))
        .write_to(&mut std::io::Cursor::new(&mut black), image::ImageFormat::Jpeg)
        .unwrap();
    let at = jpeg.windows(6).position(|bytes| bytes == b"Exif\0\0").expect("EXIF") - 4;
    let length = usize::from(u16::from_be_bytes([jpeg[at + 2], jpeg[at + 3]])) + 2;
    [&black[..2], &jpeg[at..at + length], &black[2..]].concat()
}

/// The one filled button of a job leads to what is next: the rest of the list, the report, and the report anew after any change.
#[test]
fn the_job_leads_on_and_says_where_its_report_is_old() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    let take = |n: usize| {
        let photo = std::fs::read(sample(&format!("photos/left-before-{n}.jpg"))).unwrap();
        let read = bench.post(&format!("{job}/photo?{CHOICE}&n={}", n + 1), "image/jpeg", &photo);
        assert!(read.body.contains("entered in the job"), "{}", read.body);
    };
    let filled = |shown: &str| {
        let tags: Vec<&str> = shown.split("class=\"big\"").skip(1).collect();
        assert_eq!(tags.len(), 1, "one filled button: {shown}");
        let words = tags[0].split_once('>').unwrap().1.split('<').next().unwrap();
        (words.to_owned(), tags[0].split('>').next().unwrap().to_owned())
    };
    (0..2).for_each(take);
    let (words, tag) = filled(&bench.get(&job).body);
    assert_eq!(words, "Go on: 2 of 4 photos are there");
    let list = tag.split('"').nth(1).unwrap().replace("&amp;", "&");
    assert!(
        bench.get(&list).body.contains("In the job: 2 of 4"),
        "it leads to the list: {list}"
    );
    (2..4).for_each(take);
    assert_eq!(filled(&bench.get(&job).body).0, "Readings");
    let report = || {
        let made = bench.post(&format!("{job}/report"), "text/plain", b"");
        assert!(made.body.contains("event: done"), "{}", made.body);
        let shown = bench.get(&job).body;
        assert!(!shown.contains("made before"), "{shown}");
        assert_eq!(filled(&shown).0, "Last report");
    };
    for changed in [
        own.join("job.toml"),
        folder.path().join("bay.toml"),
        own.join("photos/0003.jpg"),
    ] {
        report();
        let bytes = std::fs::read(&changed).unwrap();
        std::fs::write(&changed, bytes).unwrap();
        let shown = bench.get(&job).body;
        assert_eq!(filled(&shown).0, "Make the report anew", "{}", changed.display());
        assert_eq!(
            shown.matches(", made before the last change<").count(),
            2,
            "at both buttons: {shown}"
        );
        let packed = "All of the job in one file; the report in it was made before the last change<";
        assert!(shown.contains(packed), "{shown}");
        let german = bench.german(&job).body;
        assert!(
            german
                .contains("Der ganze Auftrag in einer Datei; der Bericht darin ist vor der letzten Änderung erstellt<")
        );
    }
}

/// Jobs are found by a plate however it is written, and those that were put away stand by themselves.
#[test]
fn jobs_are_found_and_put_away() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let (first, second) = (bench.job("W-0117"), bench.job("K-0042"));
    let file = folder.path().join("job-K-0042/job.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let text = text.replacen("[[lamp]]", "[vehicle]\nregistration = \"XX-AB 12\"\n\n[[lamp]]", 1);
    std::fs::write(&file, text).unwrap();
    let listed = |query: &str| {
        let shown = bench.get(&format!("/{query}")).body;
        (
            shown.contains(&format!("href=\"{first}\"")),
            shown.contains(&format!("href=\"{second}\"")),
        )
    };
    assert_eq!(listed(""), (true, true));
    assert_eq!(listed("?find=xxab12"), (false, true));
    assert_eq!(listed("?find=w+01"), (true, false));
    assert_eq!(listed("?find=%3Czz%3E"), (false, false));
    let away = |job: &str, away: bool| {
        let order = serde_json::json!({ "away": away }).to_string();
        bench
            .post(&format!("{job}/put-away"), "application/json", order.as_bytes())
            .status
    };
    assert_eq!(away(&second, true), 201);
    assert_eq!((listed(""), listed("?away=1")), ((true, false), (false, true)));
    assert_eq!(bench.get(&second).status, 200, "it is there all the same");
    // Who looks for one that was put away is told so, and led to it.
    let found = bench.get("/?find=xxab12").body;
    assert!(
        found.contains("One that was put away has it")
            && found.contains(&format!("href=\"{second}\""))
            && !found.contains("No job has that"),
        "{found}"
    );
    assert!(
        bench
            .german("/?find=xxab12")
            .body
            .contains("Ein weggelegter enthält es")
    );
    assert_eq!(listed("?find=w+01"), (true, false), "no other is listed for that");
    assert!(bench.get("/?find=zz").body.contains("No job has that."));
    assert_eq!((away(&second, false), away(&second, false)), (201, 201));
    assert_eq!(listed(""), (true, true));
}

/// What the page suggests is done on a car whose control leaks: whatever needs the control fails, all else works. The answers are
/// worked out from the system file alone, by its `needs`.
#[test]
fn the_part_at_fault_is_found_by_tests_and_its_repair_entered() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let send = |what: &str, value: serde_json::Value| {
        bench.post(
            &format!("{job}/{what}"),
            "application/json",
            value.to_string().as_bytes(),
        )
    };
    assert!(
        bench
            .get(&format!("{job}/fault"))
            .body
            .contains("Which parts does the car")
    );
    // Where another system is written is the job's own folder.
    assert!(
        bench
            .get(&format!("{job}/fault"))
            .body
            .contains("<code>job-W-0117/job.toml")
    );
    let early = send("trial", serde_json::json!({"test": "operate-left", "moves": "no"}));
    assert!(early.status == 422 && early.body.contains("system first"), "{early:?}");
    assert_eq!(send("system", serde_json::json!({"system": "../bay"})).status, 422);
    let system = "vacuum-cabin-control";
    assert_eq!(send("system", serde_json::json!({ "system": system })).status, 201);
    assert_eq!(
        send("system", serde_json::json!({ "system": system })).status,
        422,
        "once"
    );
    let known = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/calibration/systems/vacuum-cabin-control.toml"
    );
    let known: toml::Table = std::fs::read_to_string(known).unwrap().parse().unwrap();
    let fails = |id: &str| {
        let tests = known["test"].as_array().unwrap();
        let test = tests.iter().find(|test| test["id"].as_str() == Some(id)).unwrap();
        let needs = test["needs"].as_array().unwrap();
        needs.iter().any(|part| part.as_str() == Some("control"))
    };
    // What the driver complained of.
    assert_eq!(
        send("trial", serde_json::json!({"test": "operate-left", "moves": "no"})).status,
        201
    );
    assert_eq!(
        send("trial", serde_json::json!({"test": "operate-left", "moves": "perhaps"})).status,
        400
    );
    assert_eq!(
        send("trial", serde_json::json!({"test": "no-such", "moves": "no"})).status,
        422
    );
    let gone = serde_json::json!({"test": "operate-left", "still": "../bay.toml", "driven": "photos/1.jpg"});
    assert_eq!(send("trial", gone).status, 422);
    // A slip is seen where it was made, and taken back there.
    let before = std::fs::read_to_string(&file).unwrap();
    assert!(!before.is_empty());
    let slip = serde_json::json!({"test": "pump-at-left-lamp", "moves": "yes"});
    assert_eq!(send("trial", slip).status, 201);
    let shown = bench.get(&format!("{job}/fault")).body;
    let (above, rest) = shown.split_once("Entered: ").expect("what was entered");
    assert!(
        !above.contains("<h2>") && rest.contains("Take it back") && !shown.contains("Entered: entered"),
        "{shown}"
    );
    let (_, left_as) = shown.split_once("&quot;left_as&quot;:&quot;").unwrap();
    let left_as = left_as.split('&').next().unwrap();
    let back = send("back?to=fault", serde_json::json!({ "left_as": left_as }));
    assert!(
        back.status == 201 && back.body.contains(&format!("{job}/fault")),
        "{back:?}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    let mut done = 1;
    loop {
        let shown = bench.get(&format!("{job}/fault")).body;
        if shown.contains("Enter what was done") {
            break;
        }
        let (_, rest) = shown
            .split_once("name=\"test\" value=\"")
            .expect("the next test's answers");
        let (id, _) = rest.split_once('"').unwrap();
        let moves = if fails(id) { "no" } else { "yes" };
        assert!(shown.contains(&format!("name=\"moves\" value=\"{moves}\"")), "{shown}");
        assert_eq!(
            send("trial", serde_json::json!({"test": id, "moves": moves})).status,
            201
        );
        done += 1;
        assert!(done < 10, "{shown}");
    }
    let isolated = program().args(["isolate", "--json"]).arg(&file).output().unwrap();
    let isolated: serde_json::Value = serde_json::from_slice(&isolated.stdout).unwrap();
    assert_eq!(isolated["suspects"][0]["component"], "control");
    // A further test that is named in words is a tap away.
    let fault = bench.get(&format!("{job}/fault")).body;
    let is_named = fault.contains("To be surer all the same");
    assert!(
        is_named && fault.contains(&format!("href=\"{job}/test?n=")) && fault.contains(">To be surer: "),
        "{fault}"
    );
    // The part that the tests point at is chosen beforehand, and no code stands where a name can.
    let asked = bench.get(&format!("{job}/repair")).body;
    let chosen = "name=\"component\" value=\"control\" checked";
    assert!(
        asked.contains(chosen) && asked.matches(" checked").count() == 1,
        "{asked}"
    );
    for code in [
        "operate-left<",
        ">operate-left",
        "operate-left:",
        "pump-at-left-lamp:",
        "control, suspected",
    ] {
        assert!(!bench.get(&format!("{job}/fault")).body.contains(code), "{code}");
    }
    let empty = send("repair", serde_json::json!({"date": "2031-03-05", "words": " "}));
    assert!(
        empty.status == 422 && empty.body.contains("say what was done"),
        "{empty:?}"
    );
    let odd = serde_json::json!({"component": "control", "date": "tomorrow", "words": "replaced"});
    let odd = send("repair", odd);
    assert!(
        odd.status == 422 && odd.body.contains("“tomorrow” is no day") && !odd.body.contains("job.toml"),
        "{odd:?}"
    );
    assert!(
        asked.contains("name=\"date\" type=\"date\""),
        "no other form of a day can be typed: {asked}"
    );
    assert_eq!(
        asked.matches("name=\"extent\"").count(),
        2,
        "whether all of it is new is asked: {asked}"
    );
    let repair =
        serde_json::json!({"component": "control", "date": "2031-03-05", "words": "replaced", "extent": "piece"});
    assert_eq!(send("repair", repair).status, 201);
    let held = bench.get(&format!("{job}/entries")).body;
    assert!(
        held.contains("2031-03-05: range control (switch) in the cabin, a piece of it: replaced")
            && held.matches("Take it out").count() == done + 1,
        "{held}"
    );
    // A slip in it is mended without taking it out.
    assert!(held.contains(&format!("href=\"{job}/repair?n=0\"")), "{held}");
    let asked = bench.get(&format!("{job}/repair?n=0")).body;
    assert!(
        asked.contains("value=\"replaced\"") && asked.contains("value=\"2031-03-05\""),
        "{asked}"
    );
    assert_eq!(bench.get(&format!("{job}/repair?n=1")).status, 404);
    let anew = |words: &str, date: &str| {
        let said = serde_json::json!({"was_words": "replaced", "was_date": "2031-03-05", "words": words, "date": date});
        send("repair?n=0", said)
    };
    for (words, date, why) in [
        ("replaced", "2031-03-05", "nothing is written"),
        (" ", "2031-03-05", "say what was done"),
        ("hose on", "soon", "no day"),
    ] {
        let refused = anew(words, date);
        assert!(refused.status == 422 && refused.body.contains(why), "{refused:?}");
    }
    let as_entered = std::fs::read_to_string(&file).unwrap();
    assert_eq!(anew("hose <on>", "2031-03-06").status, 201);
    assert!(
        anew("once more", "2031-03-06").status == 422,
        "that is not what stands there"
    );
    let mended = std::fs::read_to_string(&file).unwrap();
    assert_eq!(
        mended,
        as_entered
            .replace("\"2031-03-05\"", "\"2031-03-06\"")
            .replace("\"replaced\"", "\"hose <on>\"")
    );
    let held = bench.get(&format!("{job}/entries")).body;
    assert!(
        held.contains("2031-03-06: range control (switch) in the cabin, a piece of it: hose &lt;on&gt;"),
        "{held}"
    );
    let (_, left_as) = held.split_once("&quot;left_as&quot;:&quot;").unwrap();
    let back = serde_json::json!({ "left_as": left_as.split('&').next().unwrap() });
    assert_eq!(send("back", back).status, 201);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), as_entered);
    let before = std::fs::read_to_string(&file).unwrap();
    let out = serde_json::json!({"kind": "repair", "n": 0, "name": "replaced"});
    assert_eq!(send("undo", out).status, 201);
    let after = std::fs::read_to_string(&file).unwrap();
    assert_eq!(after, before.split_once("\n[[repair]]").unwrap().0);
}

/// A job may stand before another wall than the first: one of those that are there, or a new one, which gets a file of its own.
#[test]
fn a_job_is_made_before_another_wall() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    bench.job("First");
    let first = std::fs::read_to_string(folder.path().join("bay.toml")).unwrap();
    let send =
        |path: &str, value: &serde_json::Value| bench.post(path, "application/json", value.to_string().as_bytes());
    let go = |made: &Answer| {
        assert_eq!(made.status, 201, "{made:?}");
        let told: serde_json::Value = serde_json::from_str(&made.body).unwrap();
        told["go"].as_str().unwrap().to_owned()
    };
    let asked = bench.get("/new").body;
    assert!(
        asked.contains("as bay.toml has it")
            && asked.contains("href=\"/new?wall=new\"")
            && !asked.contains("sheet1.x_mm"),
        "{asked}"
    );
    let asked = bench.get("/new?wall=new").body;
    assert!(
        asked.contains("data-to=\"/new?wall=new\"")
            && asked.contains("sheet1.x_mm")
            && asked.contains("value=\"Bay 2\""),
        "{asked}"
    );
    let mut hung_anew = answers("Second");
    hung_anew["bay.name"] = "Side wall".into();
    hung_anew["sheet3.x_mm"] = "560".into();
    let one = serde_json::json!({ "keys": ["sheet3.x_mm"], "typed": hung_anew });
    assert!(send("/check?wall=new", &one).body.starts_with("{\"faults\":{}"));
    let second = go(&send("/new?wall=new", &hung_anew));
    let text = |path: &str| std::fs::read_to_string(folder.path().join(path)).unwrap();
    assert_eq!(text("bay.toml"), first, "the first stays as it is");
    assert!(
        text("bay-2.toml").contains("x_mm = 560.0") && text("job-Second/job.toml").contains("bay = \"../bay-2.toml\"")
    );
    // One of those that are there is chosen.
    let asked = bench.get("/new").body;
    assert!(
        asked.contains("href=\"/new?wall=bay-2.toml\"") && asked.contains("Before the wall Side wall"),
        "{asked}"
    );
    go(&send("/new?wall=bay-2.toml", &answers("Third")));
    assert!(text("job-Third/job.toml").contains("bay = \"../bay-2.toml\""));
    assert!(!folder.path().join("bay-3.toml").exists());
    for odd in ["../job-First/job.toml", "bay-3.toml", "%2Fetc%2Fpasswd"] {
        assert_eq!(bench.get(&format!("/new?wall={odd}")).status, 404, "{odd}");
        assert_eq!(bench.get(&format!("/wall?file={odd}")).status, 404, "{odd}");
    }
    // Each wall has its own figures and its own last change; from a job one comes to its own.
    let id = second.strip_prefix("/job/").unwrap();
    let shown = bench.get(&format!("/wall?from={id}")).body;
    assert!(
        shown.contains("Side wall") && shown.contains("(bay-2.toml)") && shown.contains("value=\"560\""),
        "{shown}"
    );
    let listed = bench.get("/").body;
    assert!(
        listed.contains("href=\"/wall?file=bay-2.toml\"") && listed.contains("href=\"/wall\""),
        "{listed}"
    );
    let mut typed = serde_json::Map::new();
    for field in shown.split("<input").skip(1) {
        let of = |key: &str| {
            field
                .split_once(&format!(" {key}=\""))
                .map(|(_, rest)| rest.split('"').next().unwrap())
        };
        if let Some((name, value)) = of("name").zip(of("value")) {
            typed.insert(name.to_owned(), value.into());
        }
    }
    typed["sheet3.x_mm"] = "561".into();
    let typed = serde_json::Value::Object(typed);
    let changed = send(&format!("/wall?from={id}"), &typed);
    assert_eq!(go(&changed), second);
    assert!(text("bay-2.toml").contains("x_mm = 561.0") && text("bay.toml") == first);
    let shown = bench.get("/wall?file=bay-2.toml").body;
    let (_, left_as) = shown.split_once("&quot;left_as&quot;:&quot;").unwrap();
    let back = serde_json::json!({ "left_as": left_as.split('&').next().unwrap() });
    assert!(
        !bench.get("/wall").body.contains("left_as"),
        "the first was not changed"
    );
    assert_eq!(go(&send("/wall-back?to=jobs&file=bay-2.toml", &back)), "/");
    assert!(text("bay-2.toml").contains("x_mm = 560.0"));
    assert!(bench.german("/new?wall=new").body.contains("value=\"Wand 3\""));
}

/// Two repairs of the same words are told apart by their parts wherever they stand, and the same part is not entered twice of one day unasked.
#[test]
fn a_repair_names_its_part_and_is_not_entered_twice() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let system = serde_json::json!({"system": "vacuum-cabin-control"}).to_string();
    let chosen = bench.post(&format!("{job}/system"), "application/json", system.as_bytes());
    assert_eq!(chosen.status, 201);
    let repair = |part: Option<&str>, date: &str, words: &str| {
        let mut value = serde_json::json!({"date": date, "words": words, "extent": "all"});
        if let Some(part) = part {
            value["component"] = part.into();
        }
        value
    };
    let send = |value: &serde_json::Value| {
        bench.post(
            &format!("{job}/repair"),
            "application/json",
            value.to_string().as_bytes(),
        )
    };
    assert_eq!(send(&repair(Some("control"), "2031-03-05", "replaced")).status, 201);
    let wide = "range control (switch) in the cabin: replaced";
    let shown = bench.get(&job).body;
    assert!(
        shown.contains(&format!("✓ Repaired 2031-03-05: {wide}"))
            && shown.contains(&format!("entered a repair, {wide}")),
        "{shown}"
    );
    assert!(
        bench
            .get(&format!("{job}/repair"))
            .body
            .contains(&format!("✓ 2031-03-05: {wide}"))
    );
    assert!(
        bench
            .get(&format!("{job}/repair?n=0"))
            .body
            .contains(&format!("2031-03-05: {wide}"))
    );
    let german = bench.german(&job).body;
    assert!(
        german.contains(": replaced") && !german.contains("2031: replaced"),
        "{german}"
    );
    // The same part of the same day, in whatever words: asked, and entered where it is meant.
    let before = std::fs::read_to_string(&file).unwrap();
    let again = repair(Some("control"), "2031-03-05", "fitted a new one");
    let asked = send(&again);
    assert!(
        asked.status == 409 && asked.body.contains(wide) && asked.body.contains("fitted a new one"),
        "{asked:?}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    // Another part, another day, and something else done to no part are no slips.
    for other in [
        repair(Some("supply-line"), "2031-03-05", "replaced"),
        repair(Some("control"), "2031-03-06", "replaced"),
        repair(None, "2031-03-05", "bulb replaced"),
        repair(None, "2031-03-05", "level set"),
    ] {
        assert_eq!(send(&other).status, 201, "{other}");
    }
    assert_eq!(send(&repair(None, "2031-03-05", "Bulb replaced")).status, 409);
    assert_eq!(bench.surely(&format!("{job}/repair"), &again).status, 201);
    let out = serde_json::json!({"kind": "repair", "n": 0, "name": "replaced"}).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/undo"), "application/json", out.as_bytes())
            .status,
        201
    );
    let shown = bench.get(&job).body;
    assert!(shown.contains(&format!("took out the repair: {wide}")), "{shown}");
}

/// An answer's status and its body as bytes, whether it came whole or in parts.
fn bytes_of(bench: &Bench, path: &str) -> (u16, Vec<u8>) {
    let mut stream = bench.connected();
    let head = format!(
        "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        bench.address
    );
    stream.write_all(head.as_bytes()).unwrap();
    let mut all = Vec::new();
    stream.read_to_end(&mut all).unwrap();
    let end = all.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
    let heads = String::from_utf8_lossy(&all[..end]).to_lowercase();
    let status = heads.split(' ').nth(1).unwrap().parse().unwrap();
    let mut rest = &all[end + 4..];
    if !heads.contains("transfer-encoding: chunked") {
        return (status, rest.to_vec());
    }
    let mut body = Vec::new();
    while let Some(at) = rest.windows(2).position(|two| two == b"\r\n") {
        let size = usize::from_str_radix(std::str::from_utf8(&rest[..at]).unwrap(), 16).unwrap();
        body.extend_from_slice(&rest[at + 2..at + 2 + size]);
        rest = &rest[(at + size + 4).min(rest.len())..];
    }
    (status, body)
}

/// All of a job in one file holds what lies in its folder and its wall, byte for byte, and nothing else.
#[test]
fn a_job_is_taken_along_in_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    bench.job("Another");
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    assert_eq!(
        bench
            .post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", &photo)
            .status,
        201
    );
    // More than is ever held of it at once, and what does not belong to a job.
    let large = [&photo[..], &vec![7; 3_000_000]].concat();
    std::fs::write(own.join("photos/0002.jpg"), &large).unwrap();
    std::fs::write(own.join("photos/notes.txt"), "x").unwrap();
    std::fs::write(own.join("private.txt"), "x").unwrap();
    std::fs::write(folder.path().join("private.txt"), "x").unwrap();
    std::fs::create_dir_all(own.join("beamfall-report/plots")).unwrap();
    std::fs::write(own.join("beamfall-report/report.html"), "<p>").unwrap();
    std::fs::write(own.join("beamfall-report/plots/a.svg"), "<svg/>").unwrap();
    std::fs::write(own.join("beamfall-report/other.html"), "x").unwrap();
    assert!(bench.get(&job).body.contains(&format!("href=\"{job}/all.zip\"")));
    let head = bench.get(&format!("{job}/all.zip")).heads;
    assert!(
        head.contains("content-disposition: attachment; filename=\"job-w-0117.zip\"")
            && head.contains("default-src 'none'"),
        "{head}"
    );
    let (status, body) = bytes_of(&bench, &format!("{job}/all.zip"));
    assert_eq!(status, 200);
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(body)).unwrap();
    let mut names: Vec<String> = archive.file_names().map(str::to_owned).collect();
    names.sort();
    assert_eq!(
        names,
        [
            "bay.toml",
            "job-W-0117/beamfall-report/plots/a.svg",
            "job-W-0117/beamfall-report/report.html",
            "job-W-0117/job.toml",
            "job-W-0117/photos/0001.jpg",
            "job-W-0117/photos/0002.jpg",
        ]
    );
    let unpacked = tempfile::tempdir().unwrap();
    for name in &names {
        let mut bytes = Vec::new();
        archive.by_name(name).unwrap().read_to_end(&mut bytes).unwrap();
        assert_eq!(bytes, std::fs::read(folder.path().join(name)).unwrap(), "{name}");
        let to = unpacked.path().join(name);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::write(to, bytes).unwrap();
    }
    let read = program()
        .arg("measure")
        .arg(unpacked.path().join("job-W-0117/job.toml"))
        .output()
        .unwrap();
    assert!(read.status.success(), "it is read where it is unpacked: {read:?}");
    // Whatever the job file calls its files, nothing of elsewhere goes out, and no name that another system takes for a path.
    let file = own.join("job.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(own.join("photos/a\\b.jpg"), "x").unwrap();
    let odd = bench.get(&format!("{job}/all.zip"));
    assert!(odd.status == 422 && odd.body.contains("rename that file"), "{odd:?}");
    std::fs::remove_file(own.join("photos/a\\b.jpg")).unwrap();
    for name in ["../private.txt", "/etc/passwd", "../../x", "../job-Another/job.toml"] {
        std::fs::write(&file, text.replace("photos/0001.jpg", name)).unwrap();
        let refused = bench.get(&format!("{job}/all.zip"));
        assert!(
            refused.status == 422 && refused.body.contains("does not lie in the job's folder"),
            "{name}: {refused:?}"
        );
    }
    std::fs::write(&file, text.replace("../bay.toml", "../../bay.toml")).unwrap();
    assert_eq!(bench.get(&format!("{job}/all.zip")).status, 422);
    std::fs::write(&file, &text).unwrap();
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/passwd", own.join("photos/0003.jpg")).unwrap();
        std::fs::write(&file, text.replace("photos/0001.jpg", "photos/0003.jpg")).unwrap();
        assert_eq!(
            bench.get(&format!("{job}/all.zip")).status,
            422,
            "a link leads elsewhere"
        );
    }
}

/// The car and its table are changed on the page, as a new job asks for them; whether the car is judged is chosen, and where a table's limits
/// come from stands beside it.
#[test]
fn the_car_and_its_table_are_changed() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let new = bench.get("/new").body;
    let (_, select) = new.split_once("<select id=\"job.tolerance\"").unwrap();
    let (select, notes) = select.split_once("</select>").unwrap();
    assert!(
        select.contains("<option value=\"\" selected>Please choose") && select.matches(" selected").count() == 1,
        "{select}"
    );
    let (_, of_un) = notes
        .split_once("[[&quot;job.tolerance&quot;,[&quot;un-r48&quot;]]]")
        .unwrap();
    assert!(of_un.split("</p>").next().unwrap().contains("from memory"), "{of_un}");
    let mut without = answers("W-0116");
    without["job.tolerance"] = "".into();
    let told = bench.post("/new", "application/json", without.to_string().as_bytes());
    assert!(told.status == 422 && told.body.contains("job.tolerance"), "{told:?}");
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let text =
        std::fs::read_to_string(&file).unwrap() + "\n[[shot]] # a comment\nphoto = \"photos/1.jpg\"\nlamp = \"left\"\n";
    let text = text.replace("traffic = \"right\"", "traffic = \"right\"   # by its papers");
    std::fs::write(&file, &text).unwrap();
    let page = format!("{job}/car");
    assert!(bench.get(&job).body.contains(&format!("href=\"{page}\"")));
    let shown = bench.get(&page).body;
    let (_, was) = shown.split_once("name=\"was\" value=\"").unwrap();
    let mut typed = serde_json::json!({
        "was": was.split('"').next().unwrap(), "job.traffic": "right", "job.tolerance": "un-r48", "vehicle.description": "",
        "vehicle.registration": "", "vehicle.odometer": "", "workshop.measured_by": "",
    });
    assert!(shown.contains("value=\"un-r48\" selected"), "{shown}");
    let send = |typed: &serde_json::Value| bench.post(&page, "application/json", typed.to_string().as_bytes());
    let same = send(&typed);
    assert!(
        same.status == 422 && same.body.contains("nothing is written"),
        "{same:?}"
    );
    typed["job.tolerance"] = "lamp-mark".into();
    typed["lamp_mark.set_percent"] = "12".into();
    let told = send(&typed);
    assert!(
        told.status == 422 && told.body.contains("lamp_mark.set_percent"),
        "{told:?}"
    );
    let one = serde_json::json!({ "keys": ["lamp_mark.set_percent"], "typed": typed });
    let told = bench.post(&format!("{page}/check"), "application/json", one.to_string().as_bytes());
    assert!(told.status == 200 && told.body.contains("cannot be"), "{told:?}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
    for (key, value) in [
        ("lamp_mark.set_percent", "1.2"),
        ("lamp_mark.below", "0.2"),
        ("lamp_mark.above", "0.5"),
        ("lamp_mark.low", "0.5"),
        ("lamp_mark.high", "2.5"),
        ("vehicle.description", "a \"grey\" one # 2"),
        ("vehicle.odometer", "181 000 km"),
        ("job.traffic", "left"),
    ] {
        typed[key] = value.into();
    }
    let done = send(&typed);
    assert_eq!(done.status, 201, "{}", done.body);
    let now = std::fs::read_to_string(&file).unwrap();
    let read: toml::Table = now.parse().unwrap();
    assert_eq!(read["tolerance"].as_str(), Some("lamp-mark"));
    assert_eq!(read["traffic"].as_str(), Some("left"));
    assert_eq!(read["vehicle"]["description"].as_str(), Some("a \"grey\" one # 2"));
    assert_eq!(read["vehicle"]["odometer"].as_str(), Some("181 000 km"));
    assert_eq!(read["lamp_mark"]["range_percent"].as_array().unwrap().len(), 2);
    assert!(
        now.contains("traffic = \"left\"   # by its papers") && now.contains("[[shot]] # a comment\nphoto"),
        "{now}"
    );
    assert!(send(&typed).body.contains("another phone"), "it is another file by now");
    // Taken back whole.
    let held = bench.get(&format!("{job}/entries")).body;
    let (_, left_as) = held.split_once("&quot;left_as&quot;:&quot;").unwrap();
    let back = serde_json::json!({ "left_as": left_as.split('&').next().unwrap() });
    let back = bench.post(&format!("{job}/back"), "application/json", back.to_string().as_bytes());
    assert_eq!(back.status, 201, "{}", back.body);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
    // With a table of its own limits the stamp stands beside them, and its tolerances do not.
    let is_now = || {
        let shown = bench.get(&page).body;
        let (_, was) = shown.split_once("name=\"was\" value=\"").unwrap();
        was.split('"').next().unwrap().to_owned()
    };
    typed["was"] = is_now().into();
    typed["job.tolerance"] = "un-r48".into();
    assert_eq!(send(&typed).status, 201);
    let beside: toml::Table = std::fs::read_to_string(&file).unwrap().parse().unwrap();
    assert_eq!(beside["tolerance"].as_str(), Some("un-r48"));
    let mark = beside["lamp_mark"].as_table().unwrap();
    assert!(
        mark["set_percent"].as_float() == Some(1.2) && mark.len() == 1,
        "{mark:?}"
    );
    // Without a verdict is a choice, too.
    typed["was"] = is_now().into();
    typed["job.tolerance"] = "none".into();
    assert_eq!(send(&typed).status, 201);
    assert!(!std::fs::read_to_string(&file).unwrap().contains("tolerance ="));
}

/// A car that stands elsewhere after the repair gets entries of its own, whose figures are changed like the others.
#[test]
fn a_car_gets_another_place_after_the_repair() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    let page = format!("{job}/lamps");
    assert!(
        bench
            .get(&page)
            .body
            .contains("It stands elsewhere before the same wall")
    );
    let made = bench.post(&format!("{page}/after"), "application/json", b"{}");
    assert!(made.status == 201 && made.body.contains(&page), "{made:?}");
    let now = std::fs::read_to_string(&file).unwrap();
    assert!(now.starts_with(&before), "{now}");
    let read: toml::Table = now.parse().unwrap();
    let lamps = read["lamp"].as_array().unwrap();
    assert_eq!(lamps.len(), 4);
    for (n, lamp) in lamps.iter().enumerate() {
        assert_eq!(
            lamp.get("stage").and_then(|stage| stage.as_str()),
            (n >= 2).then_some("after")
        );
        assert_eq!(lamp["distance_mm"].as_float(), Some(10000.0));
    }
    let shown = bench.get(&page).body;
    assert!(
        shown.contains("name=\"lamp2.distance_mm\"") && shown.contains("The left lamp, after the repair"),
        "{shown}"
    );
    assert!(!shown.contains("It stands elsewhere before the same wall"));
    assert_eq!(
        bench.post(&format!("{page}/after"), "application/json", b"{}").status,
        422,
        "once"
    );
}

/// After the repair the car may stand before another wall: one of those that are there, or one that is entered for it without a job of its own.
#[test]
fn a_car_stands_before_another_wall_after_the_repair() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    let id = job.strip_prefix("/job/").unwrap();
    let send =
        |path: &str, value: &serde_json::Value| bench.post(path, "application/json", value.to_string().as_bytes());
    let lamps = format!("{job}/lamps");
    let shown = bench.get(&lamps).body;
    let new = format!("/new-wall?from={id}");
    assert!(
        shown.contains(&new) && !shown.contains("It stands before the wall"),
        "{shown}"
    );
    let asked = bench.get(&new).body;
    assert!(
        asked.contains("sheet1.x_mm")
            && asked.contains("value=\"Bay 2\"")
            && !asked.contains("distance_mm")
            && !asked.contains("job.job"),
        "{asked}"
    );
    let mut wall = answers("W-0117");
    wall["bay.name"] = "Side wall".into();
    let all = wall.as_object_mut().unwrap();
    all.retain(|key, _| key.starts_with("bay.") || key.starts_with("sheet"));
    let one = serde_json::json!({ "keys": ["sheet3.x_mm"], "typed": wall });
    let checked = send(&format!("/new-wall/check?from={id}"), &one).body;
    assert!(checked.starts_with("{\"faults\":{}"), "{checked}");
    let mut amiss = wall.clone();
    amiss["sheet3.x_mm"] = "wide".into();
    let refused = send(&new, &amiss);
    assert!(
        refused.status == 422 && refused.body.contains("sheet3.x_mm"),
        "{refused:?}"
    );
    assert!(!folder.path().join("bay-2.toml").exists());
    let made = send(&new, &wall);
    assert!(made.status == 201 && made.body.contains(&lamps), "{made:?}");
    assert_eq!(
        std::fs::read_to_string(&file).unwrap(),
        before,
        "the job is not touched yet"
    );
    let shown = bench.get(&lamps).body;
    assert!(shown.contains("It stands before the wall Side wall"), "{shown}");
    let after = |wall: &str| send(&format!("{lamps}/after"), &serde_json::json!({ "wall": wall }));
    for odd in ["bay-3.toml", "../bay.toml", ""] {
        assert_eq!(after(odd).status, 404, "{odd}");
    }
    // Heights from a level line are none from the floor.
    let second = folder.path().join("bay-2.toml");
    let text = std::fs::read_to_string(&second).unwrap();
    std::fs::write(&second, text.replace("\"floor\"", "\"level-line\"")).unwrap();
    let refused = after("bay-2.toml");
    assert!(
        refused.status == 422 && refused.body.contains("from elsewhere"),
        "{refused:?}"
    );
    std::fs::write(&second, text).unwrap();
    assert_eq!(after("bay-2.toml").status, 201);
    let now: toml::Table = std::fs::read_to_string(&file).unwrap().parse().unwrap();
    let walls: Vec<_> = now["lamp"]
        .as_array()
        .unwrap()
        .iter()
        .map(|lamp| lamp.get("bay").cloned())
        .collect();
    let side = Some(toml::Value::from("../bay-2.toml"));
    assert_eq!(walls, [None, None, side.clone(), side]);
    let shown = bench.get(&lamps).body;
    assert!(
        shown.contains("The left lamp, after the repair, before the wall Side wall"),
        "{shown}"
    );
    let read = program().args(["shots"]).arg(&file).output().unwrap();
    assert!(read.status.success(), "{}", String::from_utf8_lossy(&read.stderr));
    assert_eq!(bench.get("/new-wall?from=nobody").status, 404);
    assert_eq!(bench.get("/new-wall").status, 404);
}

/// A photo that was entered for a position is seen on that position's own screen, with its figure, and is taken out there.
#[test]
fn a_photo_is_taken_out_on_its_own_screen() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    let screen = format!("{job}/shot?{CHOICE}&n=2");
    assert!(!bench.get(&screen).body.contains("id=\"held\""));
    std::fs::create_dir_all(own.join("photos")).unwrap();
    std::fs::copy(sample("photos/left-before-1.jpg"), own.join("photos/0001.jpg")).unwrap();
    let file = own.join("job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    let shot = "\n[[shot]]\nphoto = \"photos/0001.jpg\"\nlamp = \"left\"\nstage = \"before\"\nposition = \"1\"\n";
    std::fs::write(&file, format!("{before}{shot}")).unwrap();
    let shown = bench.get(&screen).body;
    let (_, held) = shown.split_once("id=\"held\"").expect("what the position has");
    let address_of = |name: &str| {
        let (_, rest) = held.split_once(&format!("{name}=\"")).unwrap();
        rest.split('"')
            .next()
            .unwrap()
            .replace("&amp;", "&")
            .replace("&quot;", "\"")
    };
    assert_eq!(bench.get(&address_of("src")).status, 200, "in small");
    let read = bench.get(&address_of("data-later"));
    assert!(
        read.status == 200 && text_of(&read.body).contains(" % ± ") && read.body.contains("<svg"),
        "{}",
        text_of(&read.body)
    );
    assert!(
        !bench
            .get(&format!("{job}/shot?{CHOICE}&n=1"))
            .body
            .contains("id=\"held\"")
    );
    let out = bench.post(
        &address_of("data-post"),
        "application/json",
        address_of("data-body").as_bytes(),
    );
    assert!(
        out.status == 201 && out.body.contains(&format!("{job}/shot?")),
        "{out:?}"
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
}

/// A further photo that another of the same state contradicts says so at once, with the way to the repair that may lie between them; the photos after
/// that are those from before it.
#[test]
fn a_photo_that_contradicts_another_says_so_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let send = |what: &str, value: serde_json::Value| {
        bench.post(
            &format!("{job}/{what}"),
            "application/json",
            value.to_string().as_bytes(),
        )
    };
    let aim = "check=aim&lamp=left&n=1";
    let photo = |name: &str| std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
    assert!(
        !bench
            .get(&format!("{job}/shot?{aim}"))
            .body
            .contains("Was the lamp set")
    );
    let first = bench.post(&format!("{job}/photo?{aim}"), "image/jpeg", &photo("left-after-0"));
    assert!(
        first.body.contains("id=\"entered\"") && !first.body.contains("/beside?"),
        "{}",
        first.body
    );
    // Where the job has one already the way to a repair stands beside it.
    let shown = bench.get(&format!("{job}/shot?{aim}")).body;
    let repair = format!("href=\"{job}/repair?set=left\"");
    assert!(
        shown.contains("Was the lamp set, or anything else mended, since? Then enter that first")
            && shown.contains(&repair)
            && shown.contains(&format!("href=\"{job}/repair\"")),
        "{shown}"
    );
    let second = bench.post(&format!("{job}/photo?{aim}"), "image/jpeg", &photo("left-after-3"));
    // The figure does not wait for it: what it comes to beside the other is fetched behind it.
    let beside = |outcome: &Answer| {
        let (above, rest) = outcome.body.split_once("data-later=\"").expect("what is fetched later");
        assert!(above.contains("id=\"entered\"") && above.contains(" ± "), "{above}");
        let address = rest.split('"').next().unwrap().replace("&amp;", "&");
        assert!(address.contains("/beside?"), "{address}");
        address
    };
    let told = bench.get(&beside(&second)).body;
    assert!(
        told.contains("! The photos photos/0001.jpg and photos/0002.jpg are of one lamp in one state")
            && told.contains(&repair)
            && told.contains("Take one of them out"),
        "{told}"
    );
    let third = bench.post(&format!("{job}/photo?{aim}"), "image/jpeg", &photo("left-after-2"));
    // By itself a photo does not know whether its beam follows the control: what is to be turned the whole job tells.
    assert!(
        third.body.contains("outside, too low") && !third.body.contains("turn the beam"),
        "{}",
        third.body
    );
    let german = bench.german(&beside(&third)).body;
    assert!(
        german.contains("zeigen einen Scheinwerfer in einem Zustand") && german.contains("Wurde seither"),
        "{german}"
    );
    // The same but for its last bytes agrees with itself.
    let again = [photo("left-after-1").as_slice(), b"1"].concat();
    let of_one = "check=positions&lamp=left&positions=0%2C1&n=2";
    for (sent, has_others) in [(photo("left-after-1"), false), (again, true)] {
        let told = bench.post(&format!("{job}/photo?{of_one}"), "image/jpeg", &sent);
        assert_eq!(told.body.contains("/beside?"), has_others, "{}", told.body);
        if has_others {
            let told = bench.get(&beside(&told)).body;
            assert!(
                told.contains("do not contradict it") && !told.contains("set=left"),
                "{told}"
            );
        }
    }
    let text = std::fs::read_to_string(&file).unwrap();
    let (text, _) = text.rsplit_once("\n[[shot]]").unwrap();
    let (text, _) = text.rsplit_once("\n[[shot]]").unwrap();
    std::fs::write(&file, text).unwrap();
    // The repair is proposed, and is none of the range control's.
    let asked = bench.get(&format!("{job}/repair?set=left")).body;
    assert!(
        asked.contains("value=\"left lamp set by its adjusters\"") && asked.contains("data-today"),
        "{asked}"
    );
    assert_eq!(bench.get(&format!("{job}/repair?set=both")).status, 404);
    let system = serde_json::json!({ "system": "vacuum-cabin-control" });
    assert_eq!(send("system", system).status, 201);
    let asked = bench.german(&format!("{job}/repair?set=right")).body;
    assert!(
        asked.contains("value=\"rechter Scheinwerfer an seinen Einstellschrauben eingestellt\"")
            && asked.contains("name=\"component\" value=\"\" checked")
            // Of what is no part it is not asked how much of it is new.
            && asked.contains("<fieldset data-of-part hidden disabled>")
            && !asked.contains("value=\"piece\" checked"),
        "{asked}"
    );
    let entered = serde_json::json!({
        "date": "2031-03-05", "words": "left lamp set by its adjusters", "extent": "piece"
    });
    let entered = bench.surely(&format!("{job}/repair"), &entered);
    assert_eq!(entered.status, 201, "{entered:?}");
    // What was photographed before is photographed after it: one lamp, at 0.
    let shown = bench.get(&job).body;
    let next = "shots?check=aim&amp;lamp=left&amp;stage=after\">Take the photos after the repair";
    assert!(
        shown.contains(next) && shown.contains("value=\"aim\" checked"),
        "{shown}"
    );
    let list = bench.get(&format!("{job}/shots?check=aim&lamp=left&stage=after")).body;
    assert!(list.contains("In the job: 0 of 1"), "{list}");
    let after = "check=aim&lamp=left&stage=after&n=1";
    let told = bench.post(&format!("{job}/photo?{after}"), "image/jpeg", &photo("left-after-1"));
    assert!(
        told.body.contains("id=\"entered\"") && !told.body.contains("/beside?"),
        "{}",
        told.body
    );
    // It can be set once more, which the job does not know either.
    let shown = bench.get(&format!("{job}/shot?{after}")).body;
    assert!(shown.contains("Was the lamp set") && shown.contains(&repair), "{shown}");
    // A part of the range control is another matter: whether the beams follow is photographed position by position.
    let text = std::fs::read_to_string(&file).unwrap();
    let (text, _) = text.rsplit_once("\n[[shot]]").unwrap();
    let part = "\n[[repair]]\ndate = \"2031-03-05\"\ncomponent = \"control\"\nwords = \"replaced\"\n";
    std::fs::write(&file, format!("{text}{part}")).unwrap();
    let shown = bench.get(&job).body;
    assert!(shown.contains("shots?check=positions&amp;stage=after"), "{shown}");
}

/// Two photos that cannot decide a test are told beside it, and nothing is entered; one that was entered all the same is told above the question.
#[test]
fn photos_that_cannot_decide_a_test_are_not_entered() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let system = serde_json::json!({ "system": "vacuum-cabin-control" }).to_string();
    let chosen = bench.post(&format!("{job}/system"), "application/json", system.as_bytes());
    assert_eq!(chosen.status, 201);
    let shown = bench.get(&format!("{job}/test?n=0")).body;
    for part in ["still", "driven"] {
        let tag = |what: &str| {
            let (_, rest) = shown.split_once(&format!("id=\"{part}-{what}\"")).expect(what);
            rest.split('>').next().unwrap().to_owned()
        };
        assert!(
            tag("camera").contains("capture=") && !tag("chosen").contains("capture="),
            "{part}"
        );
    }
    let (_, form) = shown.split_once("Or let two photos decide").unwrap();
    assert!(
        form.contains("half a minute after") && !form.contains("name=\"gauge\""),
        "no pump, no gauge: {form}"
    );
    let system: toml::Table = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/calibration/systems/vacuum-cabin-control.toml"
    ))
    .unwrap()
    .parse()
    .unwrap();
    let tests = system["test"].as_array().unwrap();
    let pump = (tests.iter()).position(|test| test["id"].as_str() == Some("pump-at-left-lamp"));
    let pumped = bench.get(&format!("{job}/test?n={}", pump.unwrap())).body;
    let (_, form) = pumped.split_once("Or let two photos decide").unwrap();
    assert!(
        form.contains("a minute after pumping") && form.matches("name=\"gauge\"").count() == 4,
        "a leak shows at the gauge before the beam: {form}"
    );
    assert!(
        form.contains("data-said"),
        "what is amiss is told beside the button: {form}"
    );
    let sent: Vec<String> = ["left-after-0", "left-after-3", "left-after-1-first-try"]
        .iter()
        .map(|name| {
            let photo = std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
            let sent = bench.post(&format!("{job}/take-in"), "image/jpeg", &photo);
            let told: serde_json::Value = serde_json::from_str(&sent.body).unwrap();
            told["photo"].as_str().unwrap().to_owned()
        })
        .collect();
    let trial = |still: Option<usize>, driven: Option<usize>| {
        let mut value = serde_json::json!({ "test": "operate-left" });
        for (key, n) in [("still", still), ("driven", driven)] {
            if let Some(n) = n {
                value[key] = sent[n].as_str().into();
            }
        }
        value.to_string()
    };
    let before = std::fs::read_to_string(&file).unwrap();
    for (still, driven, english, german) in [
        (None, None, "Both photos are missing.", "Beide Fotos fehlen."),
        (None, Some(0), "The first photo is missing.", "Das erste Foto fehlt."),
        (Some(0), None, "The second photo is missing.", "Das zweite Foto fehlt."),
        (
            Some(0),
            Some(0),
            "Both are the same photo.",
            "Beide sind dasselbe Foto.",
        ),
        (
            Some(0),
            Some(2),
            "The photo with the test applied gives no figure: ",
            "Das Foto bei der Prüfung gibt keinen Wert: ",
        ),
        (
            Some(2),
            Some(0),
            "The photo at rest gives no figure: ",
            "Das Foto in Ruhe gibt keinen Wert: ",
        ),
    ] {
        let body = trial(still, driven);
        let at = format!("{job}/trial");
        let told = bench.post(&at, "application/json", body.as_bytes());
        assert!(
            told.status == 422 && text_of(&told.body).contains(english) && !told.body.contains("job.toml"),
            "{english}: {told:?}"
        );
        let told = bench.post_german(&at, "application/json", body.as_bytes());
        assert!(
            told.status == 422 && text_of(&told.body).contains(german),
            "{german}: {told:?}"
        );
    }
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before, "nothing is written");
    let good = bench.post(
        &format!("{job}/trial"),
        "application/json",
        trial(Some(0), Some(1)).as_bytes(),
    );
    assert_eq!(good.status, 201, "{good:?}");
    let shown = bench.get(&format!("{job}/fault")).body;
    assert!(
        shown.contains("by two photos") && !shown.contains("this test does not count"),
        "{shown}"
    );
    // Written by hand, or entered before.
    let amiss = format!(
        "\n[[trial]]\ntest = \"operate-left\"\nstill = \"{}\"\ndriven = \"{}\"\n",
        sent[0], sent[2]
    );
    std::fs::write(&file, format!("{before}{amiss}")).unwrap();
    let shown = bench.get(&format!("{job}/fault")).body;
    let (above, _) = shown.split_once("What to do now").unwrap();
    assert!(
        above.contains("this test does not count, as photos/0003.jpg gives no figure") && above.contains("/entries\""),
        "{above}"
    );
    let german = bench.german(&format!("{job}/fault")).body;
    assert!(german.contains("diese Prüfung zählt nicht, weil photos/0003.jpg keinen Wert gibt"));
}

/// Tests that leave no part but the control.
const POINT_AT_THE_CONTROL: [(&str, &str); 5] = [
    ("operate-left", "no"),
    ("operate-right", "no"),
    ("gauge-at-control", "yes"),
    ("bridge-left-at-control", "yes"),
    ("bridge-right-at-control", "yes"),
];

/// Writes into a job which parts its car has, and those tests; gives the text as it is then.
fn tests_point_at_the_control(file: &Path) -> String {
    let trials: String = POINT_AT_THE_CONTROL
        .iter()
        .map(|(test, moves)| format!("\n[[trial]]\ntest = \"{test}\"\nmoves = \"{moves}\"\n"))
        .collect();
    let text = std::fs::read_to_string(file).unwrap();
    let text = text.replacen("traffic =", "system = \"vacuum-cabin-control\"\ntraffic =", 1) + &trials;
    std::fs::write(file, &text).unwrap();
    text
}

/// A repair of a part that the tests have cleared is asked about, and entered where it is meant; one of the suspect is not.
#[test]
fn a_repair_of_a_cleared_part_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let text = tests_point_at_the_control(&file);
    let repair = |part: &str, words: &str| serde_json::json!({ "component": part, "date": "2031-03-05", "words": words, "extent": "all" });
    let at = format!("{job}/repair");
    let cleared = repair("left-actuator", "replaced").to_string();
    let asked = bench.post(&at, "application/json", cleared.as_bytes());
    assert!(
        asked.status == 409
            && asked.body.contains("The tests clear the ")
            && asked
                .body
                .contains("(left that it is at fault: 2 %). Was it this part?"),
        "{asked:?}"
    );
    let german = bench.post_german(&at, "application/json", cleared.as_bytes());
    assert!(
        german.status == 409 && german.body.contains("Die Prüfungen entlasten dieses Bauteil: "),
        "{german:?}"
    );
    assert_eq!(
        std::fs::read_to_string(&file).unwrap(),
        text,
        "nothing is written until then"
    );
    assert_eq!(bench.surely(&at, &repair("left-actuator", "replaced")).status, 201);
    std::fs::write(&file, &text).unwrap();
    let suspect = repair("control", "replaced").to_string();
    assert_eq!(bench.post(&at, "application/json", suspect.as_bytes()).status, 201);
}

/// The answers of a test are a tap away from the top of its page, and each has its meaning there.
#[test]
fn the_answers_of_a_test_are_at_hand() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let system = serde_json::json!({ "system": "vacuum-cabin-control" }).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/system"), "application/json", system.as_bytes())
            .status,
        201
    );
    for page in [format!("{job}/fault"), format!("{job}/test?n=2")] {
        let shown = bench.get(&page).body;
        let (above, below) = shown.split_once("href=\"#answers\"").unwrap();
        assert!(
            !above.contains("signs hazards") && below.contains("id=\"answers\""),
            "{page}"
        );
        let (_, counts) = below.split_once("<ul class=\"counts\">").unwrap();
        let meanings = counts.split("</ul>").next().unwrap().matches("<li>").count();
        assert_eq!(meanings, below.matches("name=\"moves\"").count(), "{page}");
    }
    // A gauge that is to follow the control has no answer that fits one which stands high everywhere.
    let pages = (0..40).map(|n| bench.get(&format!("{job}/test?n={n}")).body);
    let hose = pages
        .into_iter()
        .find(|page| page.contains("value=\"gauge-on-left-hose\""))
        .expect("its page");
    assert!(
        hose.contains("follows the control") && !hose.contains("The gauge rises and holds"),
        "{hose}"
    );
}

/// A second answer to a test that has one, and a gauge that does not go with the beam, are asked about, and entered where they are meant.
#[test]
fn an_answer_beside_another_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let send = |what: &str, value: &serde_json::Value| {
        bench.post(
            &format!("{job}/{what}"),
            "application/json",
            value.to_string().as_bytes(),
        )
    };
    let system = serde_json::json!({ "system": "vacuum-cabin-control" });
    assert_eq!(send("system", &system).status, 201);
    let answer = |moves: &str| serde_json::json!({ "test": "operate-left", "moves": moves });
    // That it was not done is no answer.
    assert_eq!(send("trial", &answer("not-done")).status, 201);
    assert_eq!(send("trial", &answer("no")).status, 201);
    let before = std::fs::read_to_string(&file).unwrap();
    for moves in ["yes", "no"] {
        let asked = send("trial", &answer(moves));
        assert!(
            asked.status == 409
                && asked.body.contains("answered in the job already")
                && asked.body.contains("beside it: both count"),
            "{asked:?}"
        );
    }
    let german = bench.post_german(
        &format!("{job}/trial"),
        "application/json",
        answer("yes").to_string().as_bytes(),
    );
    assert!(
        german.status == 409 && german.body.contains("schon beantwortet"),
        "{german:?}"
    );
    assert_eq!(
        send("trial", &answer("perhaps")).status,
        400,
        "what cannot be entered is not asked about"
    );
    assert_eq!(
        std::fs::read_to_string(&file).unwrap(),
        before,
        "nothing is written until then"
    );
    let mut after = answer("yes");
    after["stage"] = "after".into();
    assert_ne!(send("trial", &after).status, 409, "another stage is another answer");
    assert_eq!(bench.surely(&format!("{job}/trial"), &answer("yes")).status, 201);
    // The gauge says that it is tight, the beam that it is not.
    let odd = serde_json::json!({ "test": "pump-at-left-lamp", "moves": "creeps-back", "gauge": "rises-and-holds" });
    let asked = send("trial", &odd);
    assert!(
        asked.status == 409 && asked.body.contains("do not go together") && !asked.body.contains("already"),
        "{asked:?}"
    );
    // Nor does a beam move where there is no vacuum.
    let vain = serde_json::json!({ "test": "pump-at-right-lamp", "moves": "yes", "gauge": "will-not-rise" });
    let asked = send("trial", &vain);
    assert!(asked.status == 409 && asked.body.contains("will not rise"), "{asked:?}");
    let mut falls = odd.clone();
    falls["gauge"] = "falls".into();
    assert_eq!(send("trial", &falls).status, 201);
    // What was entered of the gauge is repeated where it can be taken back.
    let shown = bench.get(&format!("{job}/fault")).body;
    let entered = shown.split_once("Entered: ").expect("what was entered").1;
    assert!(entered.contains("and the gauge falls"), "{shown}");
    let asked = send("trial", &odd);
    assert!(
        asked.status == 409 && asked.body.contains("do not go together") && asked.body.contains("already"),
        "{asked:?}"
    );
    assert_eq!(bench.surely(&format!("{job}/trial"), &odd).status, 201);
}

/// A shot as a job file has it, taken at a time that is typed.
fn timed_shot(n: usize, lamp: &str, stage: &str, what: &str, time: &str) -> String {
    format!(
        "\n[[shot]]\nphoto = \"photos/{n:04}.jpg\"\nlamp = \"{lamp}\"\nstage = \"{stage}\"\n{what}\ntaken = \"2031-09-03T{time}\"\n"
    )
}

/// A lamp whose screw was turned after its repair is in another state: its photos without the pump from before that go out with it, in one change, are
/// asked for again, and come back where the change is taken back. Those with the pump tell of the unit.
#[test]
fn a_later_repair_takes_out_the_photos_from_before_it() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let file = folder.path().join("job-T/job.toml");
    let send = |what: &str, value: &serde_json::Value| bench.surely(&format!("{job}/{what}"), value);
    let system = serde_json::json!({ "system": "vacuum-cabin-control" });
    assert_eq!(send("system", &system).status, 201);
    let unit = serde_json::json!({
        "component": "right-actuator", "date": "2031-09-03", "words": "replaced", "extent": "all"
    });
    assert_eq!(
        send("repair", &unit).status,
        201,
        "of the first repair nothing is asked of photos"
    );
    let at = |position: usize| format!("position = \"{position}\"");
    let mut shots = String::new();
    for n in 0..4 {
        shots += &timed_shot(1 + n, "right", "before", &at(n), &format!("19:1{n}:00"));
        shots += &timed_shot(11 + n, "right", "after", &at(n), &format!("20:4{n}:00"));
    }
    shots += &timed_shot(15, "right", "after", "sealed = true\nvacuum = \"240 mbar\"", "20:55:00");
    shots += &timed_shot(22, "left", "after", &at(0), "21:05:00");
    let text = std::fs::read_to_string(&file).unwrap() + &shots;
    std::fs::write(&file, &text).unwrap();
    let now = || std::fs::read_to_string(&file).unwrap();
    let asked = bench.get(&format!("{job}/repair?set=right")).body;
    let (_, of_right) = asked
        .split_once("<fieldset data-of-lamp=\"right\">")
        .expect("of the right lamp");
    let of_right = of_right.split("</fieldset>").next().unwrap();
    assert!(
        of_right
            .contains("without the pump, 4 photos (2031-09-03 20:40 to 2031-09-03 20:43); with the pump, one photo")
            && of_right.matches("required").count() == 2
            && !of_right.contains("checked"),
        "nothing is preset: {of_right}"
    );
    assert!(asked.contains("<fieldset data-of-lamp=\"left\">"), "{asked}");
    let german = bench.german(&format!("{job}/repair?set=right")).body;
    assert!(
        german.contains("ohne Pumpe 4 Fotos") && german.contains("vor dieser Reparatur"),
        "{german}"
    );
    let turned = |photos: &[(&str, &str)]| {
        let mut said =
            serde_json::json!({ "date": "2031-09-03", "words": "right lamp: aim set anew", "extent": "piece" });
        for (lamp, taken) in photos {
            said[format!("{lamp}_photos")] = (*taken).into();
        }
        said
    };
    for unsaid in [
        turned(&[]),
        turned(&[("left", "after")]),
        turned(&[("right", "before")]),
    ] {
        let refused = send("repair", &unsaid);
        assert!(
            refused.status == 422 && refused.body.contains("lamp were taken before this repair or after it"),
            "{refused:?}"
        );
    }
    assert_eq!(now(), text);
    let entered = send("repair", &turned(&[("left", "after"), ("right", "before")]));
    assert_eq!(entered.status, 201, "{entered:?}");
    let listed = |n: usize| now().contains(&format!("{n:04}.jpg"));
    assert!(
        (11..15).all(|n| !listed(n)) && [1, 2, 3, 4, 15, 22].into_iter().all(listed),
        "{}",
        now()
    );
    let (_, last) = now()
        .rsplit_once("[[repair]]")
        .map(|(a, b)| (a.to_owned(), b.to_owned()))
        .unwrap();
    assert!(
        last.contains("aim set anew") && !last.contains("extent"),
        "no piece of no part: {last}"
    );
    let shown = bench.get(&job).body;
    assert!(
        shown.contains(
            "taken out of the job with it, as from before it: 4 photos of the right lamp (the files stay in the folder)"
        ) && shown.contains("Take the photos after the last repair: 4")
            && shown.contains("lamp=right&amp;stage=after&amp;positions=0%2C1%2C2%2C3"),
        "{shown}"
    );
    let list = "check=positions&lamp=right&stage=after&positions=0%2C1%2C2%2C3";
    assert!(
        bench
            .get(&format!("{job}/shots?{list}"))
            .body
            .contains("In the job: 0 of 4")
    );
    let (_, left_as) = shown.split_once("&quot;left_as&quot;:&quot;").unwrap();
    let back = serde_json::json!({ "left_as": left_as.split('&').next().unwrap() });
    assert_eq!(send("back", &back).status, 201);
    assert_eq!(now(), text, "one change");
    // What was taken after it stays; of a part of the lamp the pump's photos are outdated too, and the other lamp is not asked about.
    assert_eq!(
        send("repair", &turned(&[("left", "after"), ("right", "after")])).status,
        201
    );
    assert!(now().starts_with(&text), "{}", now());
    std::fs::write(&file, &text).unwrap();
    let mut unit = unit;
    unit["right_photos"] = "before".into();
    assert_eq!(send("repair", &unit).status, 201);
    assert!((11..16).all(|n| !listed(n)) && listed(22), "{}", now());
    // Two bouts: the first goes, the second stays.
    let again =
        timed_shot(23, "right", "after", &at(0), "21:20:00") + &timed_shot(24, "right", "after", &at(3), "21:21:00");
    std::fs::write(&file, text + &again).unwrap();
    let asked = bench.get(&format!("{job}/repair")).body;
    assert!(asked.contains("up to 2031-09-03 20:43 before it"), "{asked}");
    let entered = send("repair", &turned(&[("left", "after"), ("right", "first-before")]));
    assert_eq!(entered.status, 201, "{entered:?}");
    assert!(
        (11..15).all(|n| !listed(n)) && [15, 22, 23, 24].into_iter().all(listed),
        "{}",
        now()
    );
}

/// How far a broken unit went under the pump is no plan for the new one.
#[test]
fn a_new_unit_is_pumped_as_is_usual() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let file = folder.path().join("job-T/job.toml");
    let system = serde_json::json!({ "system": "vacuum-cabin-control" });
    assert_eq!(bench.surely(&format!("{job}/system"), &system).status, 201);
    let before = std::fs::read_to_string(&file).unwrap();
    let list = |highest_mbar: usize, part: Option<&str>| {
        let step = |n, mbar: usize| {
            let what = format!("vacuum = \"{mbar} mbar\"\nbranch = \"applying\"\nseries = \"at the lamp\"");
            timed_shot(n, "right", "before", &what, &format!("19:2{n}:00"))
        };
        let part = part.map_or_else(String::new, |part| format!("component = \"{part}\"\n"));
        let repair = format!("\n[[repair]]\ndate = \"2031-09-03\"\nwords = \"replaced\"\n{part}");
        std::fs::write(
            &file,
            format!("{before}{}{}{repair}", step(1, 0), step(2, highest_mbar)),
        )
        .unwrap();
        let shown = bench.get(&job).body;
        let (_, list) = shown.split_once("/shots?").unwrap();
        list.split('"').next().unwrap().replace("&amp;", "&")
    };
    let steps = "vacuum=0%2C+90+mbar";
    assert!(list(90, None).contains(steps), "nothing of the unit is new");
    assert!(list(90, Some("left-actuator")).contains(steps), "the other lamp's");
    let usual = list(90, Some("right-actuator"));
    assert!(usual.contains("check=vacuum") && !usual.contains("vacuum=0"), "{usual}");
    assert!(
        list(400, Some("right-actuator")).contains("vacuum=0%2C+400+mbar"),
        "it went all the way"
    );
    let shown = bench
        .get(&format!("{job}/shot?check=leak-down&lamp=right&stage=after&n=1"))
        .body;
    assert!(shown.contains("where at 400\u{a0}mbar"), "{shown}");
}

/// Across a repair the same test has two answers, and neither is a slip; within one state of the car the second is asked about.
#[test]
fn an_answer_after_a_repair_is_no_slip() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let send = |what: &str, value: serde_json::Value| {
        let body = value.to_string();
        bench.post(&format!("{job}/{what}"), "application/json", body.as_bytes())
    };
    let answer = |moves: &str, stage: &str| {
        send(
            "trial",
            serde_json::json!({ "test": "operate-left", "moves": moves, "stage": stage }),
        )
    };
    let repair = |part: &str| {
        let value = serde_json::json!({ "component": part, "date": "2031-03-05", "words": "replaced" });
        assert_eq!(send("repair", value).status, 201);
    };
    let system = serde_json::json!({ "system": "vacuum-cabin-control" });
    assert_eq!(send("system", system).status, 201);
    assert_eq!(answer("no", "before").status, 201);
    repair("control");
    assert_eq!(answer("no", "after").status, 201, "the first after the repair");
    let twice = answer("no", "after");
    assert!(
        twice.status == 409 && twice.body.contains("If the first was a slip, take it out"),
        "{twice:?}"
    );
    repair("supply-line");
    assert_eq!(answer("no", "after").status, 201, "the first after the second repair");
    assert_eq!(answer("yes", "after").status, 409, "twice in one state");
    assert_eq!(answer("yes", "before").status, 409, "that of before stays of before");
}

/// Once a repair is entered, the photos after it come first.
#[test]
fn after_a_repair_photos_come_first_on_the_fault_page() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    tests_point_at_the_control(&file);
    let shown = bench.get(&format!("{job}/fault")).body;
    assert!(
        shown.contains(&format!("<a class=\"big\" href=\"{job}/repair\">Enter what was done")),
        "{shown}"
    );
    // Who wants to be surer goes on with any test that has no answer yet; the others are folded away.
    let (open, answered) = shown
        .split_once("Other tests, still open")
        .unwrap()
        .1
        .split_once("Tests that were answered")
        .unwrap();
    let ways = |part: &str| part.matches(&format!("href=\"{job}/test?n=")).count();
    assert_eq!(ways(answered), POINT_AT_THE_CONTROL.len(), "{answered}");
    assert!(ways(open) > 5 && open.contains("class=\"row\""), "{open}");
    let repair = serde_json::json!({"component": "control", "date": "2031-03-05", "words": "replaced"}).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/repair"), "application/json", repair.as_bytes())
            .status,
        201
    );
    let shown = bench.get(&format!("{job}/fault")).body;
    // What was suspected is said to be of then where it stands.
    assert!(
        shown.contains("What was suspected before the repair") && !shown.contains("What is suspected"),
        "{shown}"
    );
    // What was answered of the car before the repair is open again, and each test has its way in.
    let (_, open) = shown.split_once("Other tests, still open").expect("open tests");
    assert!(!shown.contains("Tests that were answered"), "{shown}");
    let ways = open.matches(&format!("href=\"{job}/test?n=")).count();
    assert!(ways > POINT_AT_THE_CONTROL.len(), "{ways}: {open}");
    let photos = format!(
        "<a class=\"big\" href=\"{job}/shots?check=positions&amp;stage=after\">Take the photos after the repair"
    );
    assert!(shown.contains(&photos), "{shown}");
    // What the repair must show is a tap away, test by test.
    let (_, must) = shown.split_once("What the repair must show").unwrap();
    let (must, _) = must.split_once("Say it without photos").unwrap();
    for n in [0, 1] {
        assert!(
            must.contains(&format!("class=\"row\" href=\"{job}/test?n={n}\"")),
            "{must}"
        );
    }
    // Whether it follows can be said without photos, too, and stands open.
    let (above, _) = shown
        .split_once("What the tests say so far")
        .expect("what is to be done stands first");
    assert_eq!(
        above.matches("Say it without photos: ").count(),
        2,
        "both lamps: {above}"
    );
    assert!(
        bench
            .german(&format!("{job}/fault"))
            .body
            .contains("Ohne Fotos angeben: ")
    );
    assert!(
        !shown.contains("Enter what was done") && shown.contains("Enter another repair"),
        "{shown}"
    );
}

/// From a job to the wall's figures and back to that job; the drawing of the sheets in the page's language; one photo is no "1 photos".
#[test]
fn the_wall_is_reached_from_a_job_and_leads_back() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    assert!(bench.german("/new").body.contains("src=\"/bay-de.svg\""));
    let drawn = |name: &str| bench.get(&format!("/{name}.svg")).body;
    let labels = |drawing: &str| -> Vec<String> {
        let texts = drawing.split("<text").skip(1);
        texts
            .map(|text| text.split_once('>').unwrap().1.split('<').next().unwrap().to_owned())
            .filter(|label| label.len() > 1)
            .collect()
    };
    let (english, german) = (labels(&drawn("bay")), labels(&drawn("bay-de")));
    assert!(english.len() > 5 && english.len() == german.len(), "{german:?}");
    assert!(english.iter().all(|label| !german.contains(label)), "{german:?}");
    let job = bench.job("W-0117");
    let id = job.rsplit('/').next().unwrap();
    assert!(
        bench
            .get(&format!("{job}/wall"))
            .body
            .contains(&format!("href=\"/wall?from={id}\""))
    );
    let shown = bench.get(&format!("/wall?from={id}")).body;
    assert!(
        shown.contains(&format!("class=\"back\" href=\"{job}\""))
            && shown.contains(&format!("data-to=\"/wall?from={id}\"")),
        "{shown}"
    );
    let mut typed = serde_json::Map::new();
    for tag in shown.split("<input").skip(1) {
        let of = |key: &str| Some(tag.split_once(key)?.1.split('"').next()?.to_owned());
        if let (Some(name), Some(value)) = (of("name=\""), of("value=\"")) {
            typed.insert(name, value.into());
        }
    }
    typed["sheet1.y_mm"] = "214 mm".into();
    let body = serde_json::Value::Object(typed).to_string();
    let changed = bench.post(&format!("/wall?from={id}"), "application/json", body.as_bytes());
    assert!(
        changed.status == 201 && changed.body.contains(&format!("\"{job}\"")),
        "{changed:?}"
    );
    assert_eq!(bench.get("/wall?from=0000000000000000").status, 404);
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    assert_eq!(
        bench
            .post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", &photo)
            .status,
        201
    );
    let listed = bench.get("/").body;
    assert!(
        listed.contains("1 photo; folder") && !listed.contains("1 photos"),
        "{listed}"
    );
}

/// Where no part is suspected there is no repair to enter first: the photos settle it, and with photos after a repair the report.
#[test]
fn where_nothing_is_suspected_photos_or_the_report_come_first() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let text = text.replacen("traffic =", "system = \"vacuum-cabin-control\"\ntraffic =", 1);
    let both = |stage: &str, moves: &str| -> String {
        ["operate-left", "operate-right"]
            .iter()
            .map(|test| format!("\n[[trial]]\ntest = \"{test}\"\nmoves = \"{moves}\"\nstage = \"{stage}\"\n"))
            .collect()
    };
    std::fs::write(&file, text.clone() + &both("before", "yes")).unwrap();
    let shown = bench.get(&format!("{job}/fault")).body;
    assert!(
        shown.contains(&format!(
            "<a class=\"big\" href=\"{job}/shots?check=positions\">Take the photos<"
        )),
        "{shown}"
    );
    let repair = "\n[[repair]]\ndate = \"2031-03-05\"\ncomponent = \"control\"\nwords = \"replaced\"\n";
    std::fs::write(&file, text + &both("before", "no") + repair + &both("after", "yes")).unwrap();
    let shown = bench.get(&format!("{job}/fault")).body;
    let photos = format!("<a class=\"big\" href=\"{job}/shots?check=positions&amp;stage=after\">Take the photos after");
    assert!(
        shown.contains(&photos) && shown.contains(">Make the report<") && !shown.contains("Enter what was done"),
        "{shown}"
    );
    let shown = bench.german(&format!("{job}/fault")).body;
    assert!(shown.contains(">Bericht erstellen<"), "{shown}");
}

/// What is possible and hardly so is asked, and done where somebody says that it is meant.
#[test]
fn what_is_hardly_so_is_asked() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let surely = |path: &str, body: &serde_json::Value| bench.surely(path, body);
    let send = |path: &str, body: &serde_json::Value| bench.post(path, "application/json", body.to_string().as_bytes());
    let mut askew = answers("W-0117");
    askew["left.distance_mm"] = "9000".into();
    let asked = send("/new", &askew);
    assert!(
        asked.status == 409
            && asked.body.contains("9000 mm")
            && asked.body.contains("10000 mm")
            && asked.body.contains('?'),
        "{asked:?}"
    );
    assert!(photos_in(folder.path()).is_empty(), "nothing is written until then");
    let made = surely("/new", &askew);
    assert_eq!(made.status, 201, "{}", made.body);
    // The same where a figure is changed later.
    let job = bench.job("W-0118");
    let file = folder.path().join("job-W-0118/job.toml");
    let shown = bench.get(&format!("{job}/lamps")).body;
    let mut typed = serde_json::Map::new();
    for tag in shown.split("<input").skip(1) {
        let of = |key: &str| Some(tag.split_once(key)?.1.split('"').next()?.to_owned());
        if let (Some(name), Some(value)) = (of("name=\""), of("value=\"")) {
            typed.insert(name, value.into());
        }
    }
    typed["lamp1.distance_mm"] = "9 m".into();
    let typed = serde_json::Value::Object(typed);
    let before = std::fs::read_to_string(&file).unwrap();
    let asked = send(&format!("{job}/lamps"), &typed);
    assert!(asked.status == 409 && asked.body.contains("9000 mm"), "{asked:?}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    let mut uneven = typed.clone();
    uneven["lamp1.centre_height_mm"] = "900 mm".into();
    let asked = send(&format!("{job}/lamps"), &uneven);
    assert!(
        asked.status == 409 && asked.body.contains("9000 mm") && asked.body.contains("the right one's 900 mm"),
        "both at once: {asked:?}"
    );
    assert_eq!(surely(&format!("{job}/lamps"), &typed).status, 201);
    // Two lamps of one car that differ in their heights, where two digits were swapped and where not.
    let heights = |left: &str, right: &str| {
        let mut typed = answers("W-0119");
        typed["left.centre_height_mm"] = left.into();
        typed["right.centre_height_mm"] = right.into();
        typed
    };
    let asked = send("/new", &heights("562", "652"));
    assert!(
        asked.status == 409
            && asked.body.contains("562 mm high, the right one's 652 mm: 90 mm apart")
            && asked.body.contains("With two digits swapped 562 is 652"),
        "{asked:?}"
    );
    let asked = bench.post_german("/new", "application/json", heights("562", "652").to_string().as_bytes());
    assert!(
        asked.status == 409 && asked.body.contains("vertauschten Ziffern wird aus 562 652"),
        "{asked:?}"
    );
    // Two digits swapped that lie beside each other in size, too; who means it enters it at the second press.
    let asked = send("/new", &heights("625", "655"));
    assert!(
        asked.status == 409
            && asked.body.contains("625 mm high, the right one's 655 mm: 30 mm apart")
            && asked.body.contains("With two digits swapped 625 is 652"),
        "{asked:?}"
    );
    assert_eq!(surely("/new", &heights("630", "655")).status, 201);
    let asked = send("/new", &heights("700", "800"));
    assert!(
        asked.status == 409 && asked.body.contains("100 mm apart") && !asked.body.contains("swapped"),
        "{asked:?}"
    );
    assert_eq!(
        send("/new", &heights("652", "676")).status,
        201,
        "24 mm are not asked about"
    );
    // A repair's day beside the photos' own times.
    let of_photos = "\n[[shot]]\nphoto = \"photos/1.jpg\"\nlamp = \"left\"\nstage = \"before\"\ntaken = \"2031-03-04T20:15:00\"\n\
                     [[shot]]\nphoto = \"photos/2.jpg\"\nlamp = \"left\"\nstage = \"after\"\ntaken = \"2031-03-06T08:00:00\"\n";
    let with_photos = std::fs::read_to_string(&file).unwrap() + of_photos;
    std::fs::write(&file, &with_photos).unwrap();
    // Of the second repair on it is asked when the photos were taken that are from after the first.
    let repair = |date: &str| serde_json::json!({"date": date, "words": "replaced", "left_photos": "after"});
    for (date, told) in [
        ("2021-03-05", "2031-03-04"),
        ("2031-03-03", "2031-03-04"),
        ("2041-03-05", "2031-03-06"),
    ] {
        let asked = send(&format!("{job}/repair"), &repair(date));
        assert!(
            asked.status == 409 && asked.body.contains(date) && asked.body.contains(told),
            "{date}: {asked:?}"
        );
        assert_eq!(std::fs::read_to_string(&file).unwrap(), with_photos);
    }
    for date in ["2031-03-04", "2031-03-05", "2031-03-06"] {
        assert_eq!(send(&format!("{job}/repair"), &repair(date)).status, 201, "{date}");
    }
    assert_eq!(
        surely(&format!("{job}/repair"), &repair("2021-03-05")).status,
        201,
        "where it is meant"
    );
}

/// The drawing of a wall calls its sheets by the numbers that are typed, and has them where they hang once all places are typed.
#[test]
fn the_drawing_shows_the_wall_that_is_typed() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let form = bench.get("/new").body;
    let (_, drawing) = form.split_once("<div class=\"wall\">").unwrap();
    let (above_the_floor, _) = drawing.split_once("class=\"floor\"").unwrap();
    for n in 1..=12 {
        let number = format!("class=\"number\" aria-hidden=\"true\" data-number=\"sheet{n}.id\"");
        assert!(above_the_floor.contains(&number), "{n}: {above_the_floor}");
    }
    assert!(form.contains("The drawing is a sketch"));
    // Four high and three low.
    let mut typed = answers("W-0117");
    typed["bay.sheets"] = "7".into();
    let places = [
        (0, 300),
        (-1400, 1300),
        (-1300, 310),
        (1400, 1290),
        (-500, 1310),
        (1300, 290),
        (500, 1300),
    ];
    for (n, (x_mm, y_mm)) in (1..).zip(places) {
        typed[format!("sheet{n}.id")] = (10 + n).to_string().into();
        typed[format!("sheet{n}.x_mm")] = x_mm.to_string().into();
        typed[format!("sheet{n}.y_mm")] = y_mm.to_string().into();
    }
    let checked = |typed: &serde_json::Value| {
        let one = serde_json::json!({ "keys": ["sheet7.y_mm"], "typed": typed }).to_string();
        let told = bench.post("/check", "application/json", one.as_bytes());
        serde_json::from_str::<serde_json::Value>(&told.body).unwrap()
    };
    let told = checked(&typed);
    assert_eq!(told["faults"], serde_json::json!({}), "{told}");
    for (sheet, at) in [
        ("sheet2", [1, 1]),
        ("sheet5", [1, 2]),
        ("sheet7", [1, 3]),
        ("sheet4", [1, 4]),
        ("sheet3", [2, 1]),
    ] {
        assert_eq!(told["places"][sheet], serde_json::json!(at), "{told}");
    }
    typed["sheet7.y_mm"] = "".into();
    assert!(
        checked(&typed).get("places").is_none(),
        "before all are typed it is a sketch"
    );
}

/// What holds for a lamp as it was entered is said once, by one name, with the way to where it is entered.
#[test]
fn a_note_on_a_lamp_stands_once_and_leads_to_its_figures() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let text = std::fs::read_to_string(&file).unwrap().replace("10000", "7400");
    std::fs::write(&file, text).unwrap();
    let name = "height of the lens or reflector that throws its dipped beam";
    let lamps = format!("href=\"{job}/lamps\"");
    let taken = |n: usize| {
        let photo = std::fs::read(sample(&format!("photos/left-before-{n}.jpg"))).unwrap();
        let read = bench.post(&format!("{job}/photo?{CHOICE}&n={}", n + 1), "image/jpeg", &photo);
        assert!(read.body.contains("entered in the job"), "{}", read.body);
        read.body
    };
    let (first, second) = (taken(0), taken(1));
    assert!(
        first.matches(name).count() == 1 && first.contains(&lamps) && !first.contains("face_height_mm"),
        "{first}"
    );
    assert!(!second.contains(name), "{second}");
    let readings = bench.get(&format!("{job}/reading")).body.replace("\\\"", "\"");
    assert!(
        readings.matches(name).count() == 1 && readings.contains(&lamps) && readings.contains("Note, left lamp: "),
        "{readings}"
    );
    let form = bench.get(&format!("{job}/lamps")).body;
    let shown = form
        .split("<label for=\"")
        .filter(|label| label.contains("Height of the lens or reflector that throws its dipped beam,\u{a0}mm"));
    assert_eq!(shown.count(), 2);
    let measured = program().arg("measure").arg(&file).output().unwrap();
    let measured = String::from_utf8_lossy(&measured.stdout)
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(
        measured.matches(name).count() == 1 && measured.contains("in a job file: face_height_mm"),
        "{measured}"
    );
}

/// A minus that is missing is told at the sheet that hangs on the other side as sheets are drawn, whichever of the two was typed last; where the
/// drawing does not tell, both are named.
#[test]
fn a_missing_minus_is_told_at_its_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let told = |slip: &serde_json::Value| {
        let told = bench.post("/new", "application/json", slip.to_string().as_bytes());
        let told: serde_json::Value = serde_json::from_str(&told.body).unwrap();
        told["faults"].as_object().unwrap().clone()
    };
    let mut slip = answers("W-0117");
    slip["sheet2.x_mm"] = "600".into();
    let faults = told(&slip);
    assert_eq!(faults.keys().collect::<Vec<_>>(), ["sheet2.x_mm"], "{faults:?}");
    let why = faults["sheet2.x_mm"].as_str().unwrap();
    assert!(
        why.contains("sheets 2 and 3") && why.contains("it is sheet 2: is its minus missing"),
        "{why}"
    );
    let mut slip = answers("W-0117");
    slip["sheet6.x_mm"] = "-1500".into();
    let faults = told(&slip);
    assert_eq!(faults.keys().collect::<Vec<_>>(), ["sheet6.x_mm"], "{faults:?}");
    assert!(
        faults["sheet6.x_mm"].as_str().unwrap().contains("minus too much"),
        "{faults:?}"
    );
}

/// What stands on the screens of a photo: who knows the system starts the engine, every photo warns alike, limits are spoken of where there are
/// any, and a photo is left out of a heap in words.
#[test]
fn a_photos_screen_speaks_of_this_job() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let mut plain = answers("W-0117");
    plain["job.tolerance"] = "none".into();
    let made = bench.post("/new", "application/json", plain.to_string().as_bytes());
    assert_eq!(made.status, 201, "{}", made.body);
    let job = serde_json::from_str::<serde_json::Value>(&made.body).unwrap()["go"]
        .as_str()
        .unwrap()
        .to_owned();
    let screen = |n: usize| bench.get(&format!("{job}/shot?{CHOICE}&n={n}")).body;
    assert!(screen(1).contains("Start the engine, if the control works by its vacuum"));
    let system = serde_json::json!({ "system": "vacuum-cabin-control" }).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/system"), "application/json", system.as_bytes())
            .status,
        201
    );
    let first = screen(1);
    assert!(
        first.contains("Start the engine.") && !first.contains("if the control works"),
        "{first}"
    );
    let warned = |shown: &str| {
        let wall = shown
            .split("Nobody stands between")
            .next()
            .filter(|above| above.len() < shown.len())
            .unwrap();
        wall.rsplit("<li").next().unwrap().to_owned()
    };
    assert_eq!(warned(&first), warned(&screen(2)), "the same look");
    assert!(warned(&first).contains("beware"));
    let read = |job: &str| {
        let photo = std::fs::read(sample("photos/left-before-1.jpg")).unwrap();
        bench
            .post(&format!("{job}/photo?{CHOICE}&n=2"), "image/jpeg", &photo)
            .body
    };
    let without = read(&job);
    assert!(
        without.contains("id=\"entered\"") && !without.contains("“Inside” or “outside”"),
        "{without}"
    );
    let judged = bench.job("W-0118");
    assert!(read(&judged).contains("“Inside” or “outside”"));
    // A heap's photo.
    std::fs::copy(
        sample("photos/left-before-0.jpg"),
        folder.path().join("job-W-0118/photos/0005.jpg"),
    )
    .unwrap();
    let heap = bench.get(&format!("{judged}/heap?{CHOICE}&sent=5-5")).body;
    assert!(
        heap.contains("Leave this photo out (<code>0005.jpg</code>") && !heap.contains("skip:"),
        "{heap}"
    );
    // What is asked before a test is taken out is called by its words.
    let trial = serde_json::json!({"test": "operate-left", "moves": "no"}).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/trial"), "application/json", trial.as_bytes())
            .status,
        201
    );
    let held = bench.get(&format!("{job}/entries")).body;
    let asks: Vec<&str> = held
        .split("data-asks=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    assert!(
        asks.contains(&"Take out of the job: the left beam, under the range control: the left beam does not move?")
            && !asks.iter().any(|asks| asks.contains("operate-left")),
        "{asks:?}"
    );
}

/// A figure of the wall or of a lamp is changed on the page: what is wrong is told at its field, comments stay, another program's change is
/// noticed, and the change is taken back and done again.
#[test]
fn figures_are_changed_and_the_change_is_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    for (page, file, field, key, wrong, right, back) in [
        (
            "/wall".to_owned(),
            folder.path().join("bay.toml"),
            "sheet2.x_mm",
            "x_mm = -600.0",
            "1450",
            ("-620", "x_mm = -620.0"),
            "/wall-back".to_owned(),
        ),
        (
            format!("{job}/lamps"),
            own.join("job.toml"),
            "lamp0.centre_height_mm",
            "centre_height_mm = 652.0",
            "0.652",
            ("65.4 cm", "centre_height_mm = 654.0"),
            format!("{job}/back"),
        ),
    ] {
        // Somebody's own comments.
        let text = std::fs::read_to_string(&file).unwrap();
        let text = text.replacen(key, &format!("{key}   # taped twice"), 1);
        std::fs::write(&file, &text).unwrap();
        let now = || std::fs::read_to_string(&file).unwrap();
        let shown = bench.get(&page).body;
        let value_of = |name: &str| {
            let (_, rest) = shown.split_once(&format!("name=\"{name}\"")).unwrap();
            let (tag, _) = rest.split_once('>').unwrap();
            tag.split_once("value=\"")
                .unwrap()
                .1
                .split('"')
                .next()
                .unwrap()
                .to_owned()
        };
        // As the browser sends it: all fields, as they stand.
        let names = shown
            .split("<input")
            .skip(1)
            .filter_map(|tag| tag.split("name=\"").nth(1)?.split('"').next());
        let mut typed = serde_json::Map::new();
        for name in names {
            typed.insert(name.to_owned(), value_of(name).into());
        }
        let send = |typed: &serde_json::Map<String, serde_json::Value>| {
            bench.post(
                &page,
                "application/json",
                serde_json::to_string(typed).unwrap().as_bytes(),
            )
        };
        assert_eq!(send(&typed).status, 422, "nothing was changed");
        typed[field] = wrong.into();
        let faults = send(&typed);
        assert!(faults.status == 422 && faults.body.contains("faults"), "{faults:?}");
        assert_eq!(now(), text);
        typed[field] = right.0.into();
        let changed = send(&typed);
        assert_eq!(changed.status, 201, "{changed:?}");
        let after = text.replacen(&format!("{key} "), &format!("{} ", right.1), 1);
        assert_eq!(now(), after);
        // The form is of before that.
        let stale = send(&typed);
        assert!(
            stale.status == 422 && stale.body.contains("another program"),
            "{stale:?}"
        );
        let button = |page: &str| {
            let shown = bench.get(page).body;
            let (_, rest) = shown
                .split_once("&quot;left_as&quot;:&quot;")
                .expect("a change to take back");
            rest.split('&').next().unwrap().to_owned()
        };
        let place = if page == "/wall" { "/" } else { job.as_str() };
        let take_back = |left_as: &str| {
            let order = serde_json::json!({ "left_as": left_as }).to_string();
            bench.post(&back, "application/json", order.as_bytes())
        };
        let first = button(place);
        assert_eq!(take_back("0").status, 422);
        assert_eq!(take_back(&first).status, 201);
        assert_eq!(now(), text, "byte for byte");
        assert_eq!(take_back(&first).status, 422, "that is not the last change any more");
        assert!(bench.get(place).body.contains("Do it again"));
        let again = button(place);
        assert_eq!(take_back(&again).status, 201);
        assert_eq!(now(), after);
        let last = button(place);
        std::fs::write(&file, format!("{after}# theirs\n")).unwrap();
        let refused = take_back(&last);
        assert!(
            refused.status == 422 && refused.body.contains("another program"),
            "{refused:?}"
        );
        assert!(!bench.get(place).body.contains("left_as"), "it is not offered either");
        assert!(now().ends_with("# theirs\n"));
    }
}

/// Of a change to the wall and one to a job the newest is offered, wherever it is looked for, and which it is is said.
#[test]
fn the_newest_change_is_offered() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let repair = |words: &str| {
        let one = serde_json::json!({"date": "2031-03-05", "words": words}).to_string();
        bench
            .post(&format!("{job}/repair"), "application/json", one.as_bytes())
            .status
    };
    let change_wall = |x_mm: &str| {
        let shown = bench.get("/wall").body;
        let mut typed = serde_json::Map::new();
        for tag in shown.split("<input").skip(1) {
            let of = |key: &str| Some(tag.split_once(key)?.1.split('"').next()?.to_owned());
            if let (Some(name), Some(value)) = (of("name=\""), of("value=\"")) {
                typed.insert(name, value.into());
            }
        }
        typed["sheet2.x_mm"] = x_mm.into();
        let typed = serde_json::to_string(&typed).unwrap();
        bench.post("/wall", "application/json", typed.as_bytes()).status
    };
    let offered = |page: &str| {
        let shown = bench.get(page).body;
        assert!(shown.matches("left_as").count() <= 1, "one alone: {shown}");
        let (_, rest) = shown.split_once("Last change, ").expect("a change");
        rest.split_once('<').unwrap().0.to_owned()
    };
    let all = |what: &str| {
        for page in ["/", job.as_str()] {
            let told = offered(page);
            assert!(told.starts_with(what) && !told.contains("_mm"), "{page}: {told}");
            // Two changes of one moment have no order.
            std::thread::sleep(Duration::from_millis(20));
        }
    };
    assert_eq!(repair("replaced"), 201);
    all("of job W-0117: entered a repair, replaced");
    assert_eq!(change_wall("-605"), 201);
    all("of the wall Back wall: changed Sheet 2: x (mm), -605 instead of -600");
    assert_eq!(repair("again"), 201);
    all("of job W-0117: entered a repair, again");
    // Taken back from the job's page, that is where one comes to again.
    assert_eq!(change_wall("-607"), 201);
    // It is said what else the button changes; a job that came after the change is not offered it, until another is made.
    let one = "how the one job on it is read.";
    assert!(bench.get(&job).body.contains(one) && bench.get("/").body.contains(one));
    assert!(
        bench
            .german(&job)
            .body
            .contains("wie der eine Auftrag an ihr gelesen wird.")
    );
    let later = bench.job("Later");
    let two = "how all 2 jobs on it are read.";
    assert!(!bench.get(&later).body.contains("left_as"));
    assert!(bench.get(&job).body.contains(two) && bench.get("/").body.contains(two));
    std::thread::sleep(Duration::from_millis(20));
    assert_eq!(change_wall("-608"), 201);
    assert!(bench.get(&later).body.contains(two));
    let shown = bench.get(&job).body;
    let (to, left_as) = shown
        .split_once("data-post=\"/wall-back")
        .unwrap()
        .1
        .split_once("left_as&quot;:&quot;")
        .unwrap();
    let to = to.split('"').next().unwrap().replace("&amp;", "&");
    let order = serde_json::json!({ "left_as": left_as.split('&').next().unwrap() }).to_string();
    let back = bench.post(&format!("/wall-back{to}"), "application/json", order.as_bytes());
    assert!(back.status == 201 && back.body.contains(&job), "{back:?}");
    assert_eq!(
        bench
            .post("/wall-back?to=job-..", "application/json", order.as_bytes())
            .status,
        404
    );
}

/// What a form sends as it stands.
fn fields_of(shown: &str) -> serde_json::Map<String, serde_json::Value> {
    let fields = shown.split("<input").skip(1).filter_map(|tag| {
        let of = |key: &str| Some(tag.split_once(key)?.1.split('"').next()?.to_owned());
        Some((of(" name=\"")?, of(" value=\"")?.into()))
    });
    fields.collect()
}

/// On a job's page stand changes of its own walls alone, each by its name: of its own, and of that before which a lamp stands.
#[test]
fn a_job_offers_changes_of_its_own_walls_alone() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let first = bench.job("First");
    let mut hung_anew = answers("Second");
    hung_anew["bay.name"] = "Side wall".into();
    let made = bench.post("/new?wall=new", "application/json", hung_anew.to_string().as_bytes());
    let made: serde_json::Value = serde_json::from_str(&made.body).unwrap();
    let second = made["go"].as_str().unwrap().to_owned();
    let change = |page: &str, x_mm: &str| {
        let mut typed = fields_of(&bench.get(page).body);
        typed["sheet2.x_mm"] = x_mm.into();
        let typed = serde_json::Value::Object(typed).to_string();
        assert_eq!(bench.post(page, "application/json", typed.as_bytes()).status, 201);
        // Two changes of one moment have no order.
        std::thread::sleep(Duration::from_millis(20));
    };
    let offered = |page: &str| {
        let shown = bench.get(page).body;
        let rest = shown.split_once("Last change, ")?.1;
        Some(rest.split_once(':')?.0.to_owned())
    };
    change("/wall?file=bay-2.toml", "-605");
    let side = Some("of the wall Side wall".to_owned());
    assert_eq!(
        (offered(&first), offered(&second), offered("/")),
        (None, side.clone(), side.clone())
    );
    change("/wall", "-607");
    let back = Some("of the wall Back wall".to_owned());
    assert_eq!(
        (offered(&first), offered(&second), offered("/")),
        (back.clone(), side, back.clone())
    );
    assert!(
        bench
            .german(&first)
            .body
            .contains("Letzte Änderung der Wand Back wall: ")
    );
    // A lamp that stands before the first wall brings that wall's change, and the button means that wall.
    let file = folder.path().join("job-Second/job.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(
        &file,
        text.replacen("side = \"right\"", "side = \"right\"\nbay = \"../bay.toml\"", 1),
    )
    .unwrap();
    assert_eq!(offered(&second), back);
    let shown = bench.get(&second).body;
    let (to, rest) = shown
        .split_once("data-post=\"/wall-back")
        .unwrap()
        .1
        .split_once('"')
        .unwrap();
    let left_as = rest
        .split_once("left_as&quot;:&quot;")
        .unwrap()
        .1
        .split('&')
        .next()
        .unwrap();
    let order = serde_json::json!({ "left_as": left_as }).to_string();
    let taken = bench.post(
        &format!("/wall-back{}", to.replace("&amp;", "&")),
        "application/json",
        order.as_bytes(),
    );
    assert!(taken.status == 201 && taken.body.contains(&second), "{taken:?}");
    let wall = |name: &str| std::fs::read_to_string(folder.path().join(name)).unwrap();
    assert!(wall("bay.toml").contains("x_mm = -600.0") && wall("bay-2.toml").contains("x_mm = -605.0"));
}

/// The sheets are had from the page as the command writes them.
#[test]
fn sheets_are_those_of_the_command() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let written = tempfile::tempdir().unwrap();
    for paper in ["a4", "letter"] {
        let made = program()
            .args(["marks", "--paper", paper, "-o"])
            .arg(written.path())
            .output()
            .unwrap();
        assert!(made.status.success());
        let path = String::from_utf8_lossy(&made.stdout).lines().next().unwrap().to_owned();
        let served = bench.get(&format!("/sheets.pdf?paper={paper}"));
        let there = std::fs::read(&path).unwrap();
        assert!(
            served.status == 200 && served.heads.contains("application/pdf") && served.heads.contains("attachment")
        );
        assert_eq!(served.body, String::from_utf8_lossy(&there), "{paper}");
    }
    assert_eq!(bench.get("/sheets.pdf?paper=a3").status, 404);
    for page in ["/", "/new"] {
        let shown = bench.get(page).body;
        assert!(
            shown.contains("/sheets.pdf?paper=letter") && shown.contains("at 100 %") && shown.contains("100 mm bar")
        );
        assert!(!shown.contains("beamfall marks"), "no command on the page");
    }
    bench.job("W-0117");
    assert!(bench.get("/wall").body.contains("/sheets.pdf?paper=a4"));
}

/// What is in the job is seen in small: never the photo itself, and of nothing that is not in its folder of photos.
#[test]
fn photos_are_seen_in_small() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    photos_are_taken(&bench, &job, &folder.path().join("job-W-0117"));
    let shown = bench.get(&format!("{job}/entries")).body;
    let small: Vec<&str> = shown
        .split("class=\"thumb\"")
        .skip(1)
        .map(|tag| tag.split_once("src=\"").unwrap().1.split('"').next().unwrap())
        .collect();
    assert!(
        !small.is_empty() && shown.matches("loading=\"lazy\"").count() == small.len(),
        "{shown}"
    );
    let length = |seen: &Answer| {
        seen.heads
            .split("content-length: ")
            .nth(1)
            .unwrap()
            .lines()
            .next()
            .unwrap()
            .parse::<usize>()
    };
    for address in &small {
        let seen = bench.get(address);
        assert!(
            seen.status == 200 && seen.heads.contains("image/jpeg") && seen.heads.contains("max-age"),
            "{}",
            seen.heads
        );
        assert!(length(&seen).unwrap() <= 32 * 1024, "{}", seen.heads);
        let again = bench.get(address);
        assert_eq!(again.body, seen.body);
    }
    for photo in [
        "../bay.toml",
        "job.toml",
        "photos/../job.toml",
        "/etc/passwd",
        "photos/none.jpg",
    ] {
        assert_eq!(bench.get(&format!("{job}/thumb?photo={photo}")).status, 404, "{photo}");
    }
    std::fs::write(folder.path().join("job-W-0117/photos/odd.jpg"), b"no photo").unwrap();
    assert_eq!(bench.get(&format!("{job}/thumb?photo=photos/odd.jpg")).status, 404);
}

/// Two sheets of which one lost its minus are both named, whichever is typed last.
/// A length may be typed with its unit, and what it is taken for is shown; a unit that is not known names those that are. A stamp's minus is named.
#[test]
fn a_length_is_typed_in_its_own_unit() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let key = "left.centre_height_mm";
    let checked = |value: &str, key: &str| {
        let mut typed = answers("W-0117");
        typed["job.tolerance"] = "lamp-mark".into();
        typed[key] = value.into();
        let one = serde_json::json!({ "keys": [key], "typed": typed }).to_string();
        let told = bench.post("/check", "application/json", one.as_bytes());
        serde_json::from_str::<serde_json::Value>(&told.body).unwrap()
    };
    for (typed, taken) in [
        ("25.6 in", "= 650.24 mm"),
        ("25,5\"", "= 647.7 mm"),
        ("26 \u{2033}", "= 660.4 mm"),
        ("65 cm", "= 650 mm"),
        ("0.65 m", "= 650 mm"),
    ] {
        let told = checked(typed, key);
        assert!(
            told["taken"][key] == taken && told["faults"].as_object().unwrap().is_empty(),
            "{typed}: {told}"
        );
    }
    for typed in ["652", "652 mm"] {
        assert!(checked(typed, key).get("taken").is_none(), "{typed} is in mm");
    }
    for typed in ["2 ft", "2' 1\""] {
        let told = checked(typed, key);
        let fault = told["faults"][key].as_str().unwrap();
        assert!(
            fault.contains("give mm, cm, m, or in") && told.get("taken").is_none(),
            "{told}"
        );
    }
    let stamped = checked("-1.0 %", "lamp_mark.set_percent");
    let fault = stamped["faults"]["lamp_mark.set_percent"].as_str().unwrap();
    assert!(fault.contains("type 1 without a minus"), "{stamped}");
    assert!(
        checked("1.0 %", "lamp_mark.set_percent")["faults"]
            .as_object()
            .unwrap()
            .is_empty()
    );
    // Said once beside the fields, each of which has a place for it.
    let shown = bench.get("/new").body;
    assert_eq!(shown.matches("25.6\u{a0}in").count(), 1);
    assert!(shown.contains("id=\"left.centre_height_mm-took\"") && shown.contains("id=\"sheet5.y_mm-took\""));
    let mut typed = answers("W-0117");
    typed["left.distance_mm"] = "400 in".into();
    typed["right.distance_mm"] = "400\"".into();
    assert_eq!(
        bench
            .post("/new", "application/json", typed.to_string().as_bytes())
            .status,
        201
    );
    let job = std::fs::read_to_string(folder.path().join("job-W-0117/job.toml")).unwrap();
    assert_eq!(job.matches("distance_mm = 10160.0").count(), 2, "{job}");
    // The same where figures are changed later.
    let own = bench
        .get("/")
        .body
        .split_once("/job/")
        .unwrap()
        .1
        .split('"')
        .next()
        .unwrap()
        .to_owned();
    let one =
        serde_json::json!({ "keys": ["lamp0.distance_mm"], "typed": { "lamp0.distance_mm": "401 in" } }).to_string();
    let told = bench.post(&format!("/job/{own}/lamps/check"), "application/json", one.as_bytes());
    assert!(
        told.body.contains("\"taken\":{\"lamp0.distance_mm\":\"= 10185.4 mm\"}"),
        "{told:?}"
    );
}

/// A job with one photo that is read, and one with the lamp off in the place of a lit one, which is refused; both from before a repair.
fn with_a_refused_photo(bench: &Bench, folder: &Path) -> (String, PathBuf) {
    let job = bench.job("W-0117");
    let own = folder.join("job-W-0117");
    std::fs::create_dir_all(own.join("photos")).unwrap();
    let mut shots = String::new();
    for (n, name) in ["left-before-0", "left-before-off"].iter().enumerate() {
        std::fs::copy(
            sample(&format!("photos/{name}.jpg")),
            own.join(format!("photos/{n}.jpg")),
        )
        .unwrap();
        shots += &format!(
            "\n[[shot]]\nphoto = \"photos/{n}.jpg\"\nlamp = \"left\"\nstage = \"before\"\nposition = \"{n}\"\n"
        );
    }
    let file = own.join("job.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text + &shots).unwrap();
    (job, file)
}

/// Words for who reads, and the codes for machines alone.
#[test]
fn a_refused_photo_is_said_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let (job, file) = with_a_refused_photo(&bench, folder.path());
    let measured = |arguments: &[&str]| {
        let output = program().arg("measure").arg(&file).args(arguments).output().unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(
        measured(&["--json"]).contains("\"reason\": \"no-cutoff\"") && measured(&["--csv"]).contains(",no-cutoff,")
    );
    for words in [measured(&["--explain"]), bench.get(&format!("{job}/reading")).body] {
        assert!(words.contains("no cut-off") && !words.contains("no-cutoff"), "{words}");
    }
    assert!(
        bench
            .post(&format!("{job}/report"), "text/plain", b"")
            .body
            .contains("event: done")
    );
    let report = text_of(&bench.get(&format!("{job}/report")).body);
    assert!(
        report.contains("no cut-off") && !report.contains("no-cutoff"),
        "{report}"
    );
    // Of the table's note what its reader can use, and the whole of it for machines.
    let results = std::fs::read_to_string(file.with_file_name("beamfall-report/results.json")).unwrap();
    assert!(
        report.contains("the maker may choose the steeper bands (not taken here).")
            && !report.contains("choice \"")
            && !report.contains("was looked for"),
        "{report}"
    );
    assert!(
        results.contains("choice \\\"steeper\\\"") && results.contains("was looked for on"),
        "{results}"
    );
    let german = bench.post_german(&format!("{job}/report"), "text/plain", b"");
    assert!(german.body.contains("event: done"), "{german:?}");
    let report = text_of(&bench.german(&format!("{job}/report")).body);
    assert!(
        report.contains("die steileren Grenzen wählen (hier nicht gewählt).")
            && !report.contains("Auswahl „")
            && !report.contains("nicht gefunden."),
        "{report}"
    );
}

/// What an earlier run of the program read is known to the next, without reading it anew.
#[test]
fn after_a_restart_the_list_knows_what_gave_no_figure() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let (job, _) = with_a_refused_photo(&bench, folder.path());
    let shots = format!("{job}/shots?{CHOICE}");
    assert!(bench.get(&format!("{job}/reading")).body.contains("event: done"));
    drop(bench);
    let bench = Bench::over(folder.path());
    let begun = Instant::now();
    let shown = bench.get(&shots).body;
    assert!(shown.contains("One of them gives no figure: take it again."), "{shown}");
    assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
}

/// Of further photos it is preset when they are taken, and a form without a tick says so.
#[test]
fn when_further_photos_are_taken_is_preset() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let (job, file) = with_a_refused_photo(&bench, folder.path());
    let preset = || {
        let shown = bench.get(&job).body;
        let of = |tag: &&str| tag.contains("name=\"stage\"") && tag.split('>').next().unwrap().contains("checked");
        let checked: Vec<&str> = shown.split("<input").filter(of).collect();
        assert_eq!(checked.len(), 1, "{shown}");
        checked[0]
            .split_once("value=\"")
            .unwrap()
            .1
            .split('"')
            .next()
            .unwrap()
            .to_owned()
    };
    assert_eq!(preset(), "before", "as the photos that are there");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, text.replace("stage = \"before\"\n", "")).unwrap();
    assert_eq!(preset(), "", "nothing is known");
    // A photo taken by a list makes it the one that stands.
    let photo = std::fs::read(sample("photos/left-before-2.jpg")).unwrap();
    assert_eq!(
        bench
            .post(&format!("{job}/photo?{CHOICE}&n=3"), "image/jpeg", &photo)
            .status,
        201
    );
    assert_eq!(preset(), "before");
    let repair = serde_json::json!({"date": "2031-03-05", "words": "replaced"});
    assert_eq!(bench.surely(&format!("{job}/repair"), &repair).status, 201);
    assert_eq!(preset(), "after", "the car is another now");
    let ticked = bench.get(&format!("{job}/shots?{CHOICE}")).body;
    assert!(!ticked.contains("Nothing was ticked"));
    let unticked = bench
        .get(&format!("{job}/shots?positions=0%2C1&lamp=left&stage=after"))
        .body;
    assert!(
        unticked.contains("Nothing was ticked") && unticked.contains(&format!("href=\"{job}\">Choose anew")),
        "{unticked}"
    );
    assert!(
        bench
            .german(&format!("{job}/shots?positions=0%2C1&stage="))
            .body
            .contains("war nichts angekreuzt")
    );
}

/// Nothing that is refused tells where the jobs lie on the disk.
#[test]
fn no_refusal_tells_the_folders_path() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    let file = own.join("job.toml");
    let hidden = folder.path().canonicalize().unwrap().display().to_string();
    let mut refusals = 0;
    let mut is_bare = |what: &str, answer: &Answer| {
        assert!(
            !answer.body.contains(&hidden) && !answer.body.contains(folder.path().to_str().unwrap()),
            "{what}: {answer:?}"
        );
        refusals += usize::from(answer.status >= 400 || answer.body.contains("event: refused"));
    };
    let send = |path: &str, body: &serde_json::Value| bench.surely(&format!("{job}/{path}"), body);
    // A tab that is older than the file.
    let stale = serde_json::json!({ "was": "0", "lamp0.distance_mm": "9000", "bay.size_mm": "160" });
    let answer = send("lamps", &stale);
    assert!(
        answer.status == 422 && answer.body.contains("job-W-0117/job.toml: was changed"),
        "{answer:?}"
    );
    is_bare("lamps", &answer);
    is_bare("car", &send("car", &stale));
    let wall = bench.surely("/wall", &stale);
    assert!(wall.body.contains("bay.toml: was changed"), "{wall:?}");
    is_bare("wall", &wall);
    let german = bench.post_german(
        &format!("{job}/lamps"),
        "application/json",
        stale.to_string().as_bytes(),
    );
    assert!(german.body.contains("geändert"), "{german:?}");
    is_bare("in German", &german);
    is_bare(
        "undo",
        &send(
            "undo",
            &serde_json::json!({ "kind": "shot", "n": 3, "name": "photos/9.jpg" }),
        ),
    );
    is_bare("back", &send("back", &serde_json::json!({ "left_as": "0" })));
    is_bare("system", &send("system", &serde_json::json!({ "system": "none" })));
    is_bare(
        "trial",
        &send("trial", &serde_json::json!({ "test": "operate-left", "moves": "no" })),
    );
    is_bare(
        "repair",
        &send("repair", &serde_json::json!({ "date": "soon", "words": "x" })),
    );
    is_bare(
        "place",
        &bench.get(&format!("{job}/place?{CHOICE}&n=1&photo=photos/9.jpg")),
    );
    is_bare("heap", &bench.get(&format!("{job}/heap?{CHOICE}&sent=1-2")));
    is_bare(
        "photo",
        &bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", b"none"),
    );
    std::fs::create_dir_all(own.join("photos")).unwrap();
    std::fs::write(own.join("photos/0001.jpg"), b"no photo").unwrap();
    is_bare("no photo", &bench.get(&format!("{job}/heap?{CHOICE}&sent=1-2")));
    is_bare("wall check", &bench.get(&format!("{job}/wall?photo=photos/0001.jpg")));
    let text = std::fs::read_to_string(&file).unwrap();
    // Files that somebody wrote wrongly, or that are not there.
    std::fs::write(&file, text.replace("[[lamp]]", "colour = \"red\"\n[[lamp]]")).unwrap();
    for page in [
        "",
        "/shots",
        "/fault",
        "/entries",
        "/lamps",
        "/car",
        "/readings",
        "/reading",
        "/repair",
    ] {
        is_bare(page, &bench.get(&format!("{job}{page}")));
    }
    is_bare("the jobs", &bench.get("/"));
    assert!(
        bench.get("/").body.contains("job-W-0117/job.toml: "),
        "it is said all the same"
    );
    std::fs::write(&file, format!("system = \"own.toml\"\n{text}")).unwrap();
    is_bare("no such system", &bench.get(&format!("{job}/fault")));
    std::fs::write(&file, &text).unwrap();
    std::fs::write(folder.path().join("bay.toml"), "schema = 9\n").unwrap();
    for page in ["/reading", "/lamps", "/shots"] {
        is_bare(page, &bench.get(&format!("{job}{page}")));
    }
    for page in ["/", "/wall", "/new"] {
        is_bare(page, &bench.get(page));
    }
    is_bare("report", &bench.post(&format!("{job}/report"), "text/plain", b""));
    assert!(refusals > 15, "{refusals} were refused");
}

#[test]
fn a_digit_too_few_or_too_many_names_the_height_that_was_meant() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let faults = |typed: &serde_json::Value, keys: &[&str]| {
        let one = serde_json::json!({ "keys": keys, "typed": typed }).to_string();
        let told = bench.post("/check", "application/json", one.as_bytes());
        let told: serde_json::Value = serde_json::from_str(&told.body).unwrap();
        told["faults"].as_object().unwrap().clone()
    };
    let all = [
        "sheet1.y_mm",
        "sheet5.x_mm",
        "sheet5.y_mm",
        "sheet6.x_mm",
        "sheet6.y_mm",
    ];
    let mut slip = answers("W-0117");
    slip["sheet5.y_mm"] = "112".into();
    let told = faults(&slip, &all);
    assert!(
        told.len() == 1
            && told["sheet5.y_mm"].as_str().unwrap().contains("is 1120 meant?")
            && !told["sheet5.y_mm"].as_str().unwrap().contains("minus"),
        "{told:?}"
    );
    slip["sheet6.y_mm"] = "113".into();
    assert!(
        faults(&slip, &all)["sheet6.y_mm"]
            .as_str()
            .unwrap()
            .contains("is 1130 meant?")
    );
    // Where it lies on no other it is possible, and asked when it is sent.
    let mut slip = answers("W-0117");
    slip["sheet1.y_mm"] = "2120".into();
    assert!(faults(&slip, &all).is_empty());
    let send = |typed: &serde_json::Value| bench.post("/new", "application/json", typed.to_string().as_bytes());
    let asked = send(&slip);
    assert!(
        asked.status == 409 && asked.body.contains("2120 mm") && asked.body.contains("212 mm"),
        "{asked:?}"
    );
    assert!(photos_in(folder.path()).is_empty());
    // The figure of the field at which it is told is the one that is here.
    let mut slip = answers("W-0117");
    slip["left.centre_x_mm"] = "560".into();
    let told = faults(&slip, &["left.centre_x_mm"]);
    let told = told["left.centre_x_mm"].as_str().unwrap();
    assert!(
        told.contains("with 560 here and 565 there the lamps are 5 mm apart"),
        "{told}"
    );
    slip["left.centre_x_mm"] = "570".into();
    let told = faults(&slip, &["left.centre_x_mm"]);
    let told = told["left.centre_x_mm"].as_str().unwrap();
    assert!(told.contains("570 does not fit the right lamp's 565"), "{told}");
    // The wall as it stands is changed by the same questions.
    bench.job("W-0117");
    let shown = bench.get("/wall").body;
    let mut typed = serde_json::Map::new();
    for tag in shown.split("<input").skip(1) {
        let of = |key: &str| Some(tag.split_once(key)?.1.split('"').next()?.to_owned());
        if let (Some(name), Some(value)) = (of("name=\""), of("value=\"")) {
            typed.insert(name, value.into());
        }
    }
    typed["sheet1.y_mm"] = "2120".into();
    let asked = bench.post(
        "/wall",
        "application/json",
        serde_json::Value::Object(typed).to_string().as_bytes(),
    );
    assert!(asked.status == 409 && asked.body.contains("212 mm"), "{asked:?}");
}

#[test]
fn a_missing_minus_names_both_sheets() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    for (sheet, x_mm) in [("sheet1.x_mm", "1500"), ("sheet4.x_mm", "-1450")] {
        let mut slip = answers("W-0117");
        slip[sheet] = x_mm.into();
        let told = bench.post("/new", "application/json", slip.to_string().as_bytes());
        assert!(
            told.status == 422 && told.body.contains("sheets 1 and 4 lie on each other") && told.body.contains("minus"),
            "{told:?}"
        );
    }
}

/// What is taken out of a job is brought back, by a button that is there after a reload too; and the first photo says what the wall is worth,
/// as a photo of the wall alone does, which is not kept.
#[test]
fn a_photo_that_was_taken_out_is_brought_back_and_the_first_tells_of_the_wall() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let own = folder.path().join("job-W-0117");
    let photo = |name: &str| std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
    let told = bench.post(&format!("{job}/wall"), "image/jpeg", &photo("left-before-0"));
    assert!(
        told.status == 201 && told.body.contains("All sheets are seen") && told.body.contains("of an aim"),
        "{told:?}"
    );
    assert!(photos_in(&own.join("photos")).is_empty(), "it is not kept");
    let first = bench.post(
        &format!("{job}/photo?{CHOICE}&n=1"),
        "image/jpeg",
        &photo("left-before-0"),
    );
    let address = first.body.split("data-later=\"").find_map(|rest| {
        let address = rest.split('"').next()?;
        address.contains("/wall?").then(|| address.replace("&amp;", "&"))
    });
    let wall = bench.get(&address.expect("the first photo tells of the wall")).body;
    assert!(
        wall.contains("All sheets are seen: 1, 2, 3, 4, 5 and 6") && wall.contains("root mean square"),
        "{wall}"
    );
    let second = bench.post(
        &format!("{job}/photo?{CHOICE}&n=2"),
        "image/jpeg",
        &photo("left-before-1"),
    );
    assert!(second.status == 201 && !second.body.contains("/wall?"), "{second:?}");
    let file = own.join("job.toml");
    let before = std::fs::read_to_string(&file).unwrap();
    let out = serde_json::json!({"kind": "shot", "n": 0, "name": "photos/0001.jpg"}).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/undo"), "application/json", out.as_bytes())
            .status,
        201
    );
    let shown = bench.get(&format!("{job}/entries")).body;
    assert!(shown.contains("took out photos/0001.jpg"), "{shown}");
    let (_, rest) = shown.split_once("&quot;left_as&quot;:&quot;").unwrap();
    let order = serde_json::json!({ "left_as": rest.split('&').next().unwrap() }).to_string();
    assert_eq!(
        bench
            .post(&format!("{job}/back"), "application/json", order.as_bytes())
            .status,
        201
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
}

/// Where somebody points at the cut-off of a photo, the nearest edge is read and the job says so; where there is none nothing is entered,
/// and a place beside the wall is refused.
#[test]
fn the_cut_off_is_pointed_at() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("W-0117");
    let file = folder.path().join("job-W-0117/job.toml");
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let read = bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", &photo);
    assert!(read.status == 201 && read.body.contains("/look?"), "{read:?}");
    let before = std::fs::read_to_string(&file).unwrap();
    let page = bench.get(&format!("{job}/look?{CHOICE}&n=1&photo=photos/0001.jpg"));
    assert!(page.status == 200 && page.body.contains("near?"), "{page:?}");
    let measured = program().args(["measure", "--json"]).arg(&file).output().unwrap();
    let measured: serde_json::Value = serde_json::from_slice(&measured.stdout).unwrap();
    let percent = measured["shots"][0]["inclination"]["percent"].as_f64().unwrap();
    // Where its cut-off is by the sheets: 652 mm less the drop, between the two low sheets at 205 mm and the high one at 1120 mm.
    let found = find_in(
        &Photo::read(&sample(""), Path::new("photos/left-before-0.jpg")).unwrap(),
        &[1, 2, 5],
    );
    let centre = |id: u32| {
        let corners = found.iter().find(|mark| mark.id == id).unwrap().corners_px;
        [0, 1].map(|axis| corners.iter().map(|corner| corner[axis]).sum::<f64>() / 4.0)
    };
    let (low, high) = (centre(1), centre(5));
    let share = (652.0 - 100.0 * percent - 212.0) / (1120.0 - 212.0);
    let at_px = [0, 1].map(|axis| low[axis] + share * (high[axis] - low[axis]));
    let send = |photo: &str, at_px: [f64; 2]| {
        let order = serde_json::json!({ "photo": photo, "at_px": at_px }).to_string();
        bench.post(
            &format!("{job}/near?{CHOICE}&n=1"),
            "application/json",
            order.as_bytes(),
        )
    };
    assert_eq!(send("../bay.toml", at_px).status, 422);
    let none = send("photos/0001.jpg", [at_px[0], high[1]]);
    assert!(none.status == 201 && none.body.contains("by hand"), "{none:?}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before, "no figure, no change");
    let chosen = send("photos/0001.jpg", at_px);
    assert!(
        chosen.status == 201 && chosen.body.contains("says by hand which edge"),
        "{chosen:?}"
    );
    let after = std::fs::read_to_string(&file).unwrap();
    let (line, near) = after
        .lines()
        .find_map(|line| Some((line, line.strip_prefix("edge_near_percent = ")?)))
        .expect("it stands in the job");
    assert!(
        (near.parse::<f64>().unwrap() - percent).abs() < 0.3,
        "{near} beside {percent}"
    );
    assert_eq!(after.replacen(&format!("{line}\n"), "", 1), before);
    let again = program().args(["measure", "--json"]).arg(&file).output().unwrap();
    let again: serde_json::Value = serde_json::from_slice(&again.stdout).unwrap();
    assert!((again["shots"][0]["inclination"]["percent"].as_f64().unwrap() - percent).abs() < 0.005);
    let warnings = again["shots"][0]["warnings"].to_string();
    assert!(warnings.contains("by hand which edge"), "{warnings}");
}

/// The view's photos get the one with the lamp off; one that is lit is refused by name, and a refused photo can be entered for it.
#[test]
fn a_view_gets_its_photo_with_the_lamp_off() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let file = folder.path().join("job-T/job.toml");
    let choice = format!("{CHOICE}&off=1");
    let send = |name: &str, n: usize| {
        let photo = std::fs::read(sample(&format!("photos/{name}.jpg"))).unwrap();
        bench.post(&format!("{job}/photo?{choice}&n={n}"), "image/jpeg", &photo)
    };
    assert_eq!(
        send("left-before-off", 5).status,
        422,
        "there is nothing yet that wants it"
    );
    assert_eq!(
        (send("left-before-0", 1).status, send("left-before-1", 2).status),
        (201, 201)
    );
    let without = std::fs::read_to_string(&file).unwrap();
    let lit = send("left-before-2", 5);
    assert!(
        lit.status == 201 && lit.body.contains("is not entered") && !lit.body.contains("/enter?"),
        "{}",
        lit.body
    );
    assert_eq!(std::fs::read_to_string(&file).unwrap(), without);
    let off = send("left-before-off", 5);
    assert!(
        off.status == 201 && off.body.contains("entered in the job"),
        "{}",
        off.body
    );
    let with = std::fs::read_to_string(&file).unwrap();
    let line = "lamp_off = \"photos/0001.jpg\"\n";
    assert_eq!(
        (with.matches(line).count(), with.replace(line, "")),
        (2, without),
        "{with}"
    );
    assert!(
        bench
            .get(&format!("{job}/shots?{choice}"))
            .body
            .contains("In the job: 3 of 5")
    );
    // What is refused is entered only where a photo with the lamp off mends it and that is asked for, and only a photo of the job's own.
    let dark = send("left-after-1-first-try", 3);
    assert!(
        dark.status == 201 && dark.body.contains("Take it again") && !dark.body.contains("/enter?"),
        "{}",
        dark.body
    );
    let lit_room = in_a_lit_room("photos/left-before-2.jpg");
    let again = bench.post(&format!("{job}/photo?{CHOICE}&n=3"), "image/png", &lit_room);
    assert!(
        again.status == 201
            && again.body.contains("most of that is not the lamp")
            && again.body.contains("Take it again")
            && again.body.contains("/enter?"),
        "{}",
        again.body
    );
    for (photo, status) in [
        ("photos/../job.toml", 422),
        ("/etc/passwd", 422),
        ("photos/0006.png", 201),
    ] {
        let order = serde_json::json!({ "photo": photo }).to_string();
        let told = bench.post(
            &format!("{job}/enter?{CHOICE}&n=3"),
            "application/json",
            order.as_bytes(),
        );
        assert_eq!(told.status, status, "{photo}: {}", told.body);
        assert!(
            status != 201 || told.body.contains("off=1"),
            "the photo that it waits for is on the list: {}",
            told.body
        );
    }
    assert!(
        std::fs::read_to_string(&file)
            .unwrap()
            .ends_with("photo = \"photos/0006.png\"\nlamp = \"left\"\nstage = \"before\"\nposition = \"2\"\n")
    );
}

/// A photo in the job that gives no figure does not count as taken: the list says so and leads there, and the job's page to the list.
#[test]
fn a_photo_without_a_figure_is_to_be_taken_again() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let two = "check=positions&lamp=left&stage=before&positions=0%2C1";
    let send = |photo: &[u8], kind: &str, n: usize| bench.post(&format!("{job}/photo?{two}&n={n}"), kind, photo);
    let good = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    assert_eq!(send(&good, "image/jpeg", 1).status, 201);
    let lit_room = in_a_lit_room("photos/left-before-1.jpg");
    assert!(send(&lit_room, "image/png", 2).body.contains("/enter?"));
    let order = serde_json::json!({ "photo": "photos/0002.png" }).to_string();
    let entered = bench.post(&format!("{job}/enter?{two}&n=2"), "application/json", order.as_bytes());
    assert_eq!(entered.status, 201, "{entered:?}");
    let list = bench.get(&format!("{job}/shots?{two}")).body;
    assert!(
        list.contains("In the job: 2 of 2. One of them gives no figure")
            && list.contains("Take photo 2 again")
            && !list.contains("All are there"),
        "{list}"
    );
    assert_eq!(
        (
            list.matches("∅ in the job, gives no figure: take again").count(),
            list.matches("✓ in the job").count()
        ),
        (1, 1),
        "{list}"
    );
    assert!(
        bench
            .german(&format!("{job}/shots?{two}"))
            .body
            .contains("gibt keinen Wert: neu aufnehmen")
    );
    // Among the entries it says why, and its own screen does not count it beside another.
    let entries = bench.get(&format!("{job}/entries")).body;
    let (_, why) = entries.split_once("∅ gives no figure: ").expect("marked");
    let row = why.split("</li>").next().unwrap();
    assert!(
        row.contains("0002.png") && text_of(row).trim().len() > 40 && !why.contains("∅ gives"),
        "that one, in words: {entries}"
    );
    let screen = |n: usize| bench.get(&format!("{job}/shot?{two}&n={n}")).body;
    assert!(
        screen(2).contains("that gives no figure: take it again") && !screen(2).contains("counts beside it"),
        "{}",
        screen(2)
    );
    assert!(screen(1).contains("A further one counts beside it"), "{}", screen(1));
    // Taken again, the place has a figure, whatever else it holds.
    let again = std::fs::read(sample("photos/left-before-1.jpg")).unwrap();
    assert!(send(&again, "image/jpeg", 2).body.contains("entered in the job"));
    let list = bench.get(&format!("{job}/shots?{two}")).body;
    assert!(list.contains("All are there") && !list.contains("no figure"), "{list}");
}

/// A photo of the sample as a PNG, with so much light of the room added that the lamp's is the lesser part of it.
fn in_a_lit_room(name: &str) -> Vec<u8> {
    let mut picture = image::open(sample(name)).unwrap().to_rgb8();
    for value in picture.iter_mut() {
        let light = (f64::from(*value) / 255.0).powf(2.2) + ROOM_LIGHT;
        *value = (255.0 * light.min(1.0).powf(1.0 / 2.2)).round() as u8;
    }
    let mut png = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    png.into_inner()
}

/// Light of a room, as a share of full scale.
const ROOM_LIGHT: f64 = 0.1;

#[test]
fn a_leak_down_is_entered_with_what_the_gauge_showed() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let choice = "check=leak-down&lamp=left&minutes=1&every=30";
    let step = bench.get(&format!("{job}/shot?{choice}&n=2")).body;
    assert!(
        step.contains("data-after=\"30\"") && step.contains("Photo 2 of 3"),
        "{step}"
    );
    let send = |n: usize, gauge: &str| {
        let photo = std::fs::read(sample(&format!("photos/left-after-{n}.jpg"))).unwrap();
        bench.post(&format!("{job}/photo?{choice}&n={n}{gauge}"), "image/jpeg", &photo)
    };
    for amiss in ["&gauge=180", "&gauge=2000+mbar", "&gauge=0,100+mbar"] {
        assert_eq!(send(1, amiss).status, 422, "{amiss}");
    }
    let photos = folder.path().join("job-T/photos");
    assert!(
        photos_in(&photos).is_empty(),
        "a slip is told before the photo is taken in"
    );
    assert_eq!((send(1, "&gauge=180+mbar").status, send(2, "").status), (201, 201));
    let text = std::fs::read_to_string(folder.path().join("job-T/job.toml")).unwrap();
    assert_eq!(
        (
            text.matches("sealed = true").count(),
            text.matches("vacuum = \"180 mbar\"").count()
        ),
        (2, 1),
        "{text}"
    );
    assert!(
        bench
            .get(&format!("{job}/shots?{choice}"))
            .body
            .contains("In the job: 2 of 3")
    );
    // After a repair the same is asked for, and the pump's steps by which it is read.
    let repair = serde_json::json!({ "date": "2031-03-05", "words": "replaced" }).to_string();
    let repaired = bench.surely(&format!("{job}/repair"), &serde_json::from_str(&repair).unwrap());
    assert_eq!(repaired.status, 201, "{repaired:?}");
    let shown = bench.get(&job).body;
    assert!(
        shown.contains("/shots?check=vacuum&amp;check=leak-down&amp;lamp=left&amp;stage=after\">Take the photos after")
            && shown.contains("value=\"leak-down\" checked")
            && !shown.contains("value=\"positions\" checked"),
        "{shown}"
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
        read.body.contains("is not entered in the job") && read.body.contains("too few of the sheets"),
        "{}",
        read.body
    );
    let mend = read
        .body
        .split("class=\"banner\"")
        .nth(1)
        .unwrap()
        .split("</p>")
        .next()
        .unwrap();
    assert!(mend.contains("sheets"), "the mend comes first: {mend}");
    let again = "class=\"big\" type=\"button\" data-press=\"camera\">Take it again<";
    assert!(
        read.body.contains(again) && read.body.matches("class=\"big\"").count() == 1,
        "one tap to take it again: {}",
        read.body
    );
    assert!(
        !read.body.contains("all the same") && !read.body.contains("lamp off"),
        "no photo with the lamp off mends that: {}",
        read.body
    );
    // The field that it opens.
    assert!(
        bench
            .get(&format!("{job}/shot?{CHOICE}&n=1"))
            .body
            .contains("id=\"camera\"")
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

/// Ended at a hundred moments, from the photo's first byte to long after its answer: each file that has a name is whole, the job reads
/// and names only photos that are there, and whatever was answered for is in it.
#[test]
fn a_program_ended_at_any_moment_loses_no_finished_photo() {
    const MOMENTS: usize = 100;
    // So many photos at the least, of those that were cut off and of those that were answered for.
    const LEAST: usize = 5;
    let folder = tempfile::tempdir().unwrap();
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let own = folder.path().join("job-T");
    let mut bench = Bench::over(folder.path());
    let job = bench.job("T");
    // One in peace first: how long it takes depends on the machine.
    let begun = Instant::now();
    let first = bench.post(
        &format!("{job}/photo?{CHOICE}&n=1"),
        "image/jpeg",
        &[photo.as_slice(), b"999"].concat(),
    );
    assert_eq!(first.status, 201);
    let step = begun.elapsed().mul_f64(1.6 / MOMENTS as f64);
    let (mut answered, mut cut) = (vec![999], 0);
    for moment in 0.. {
        // A machine that is busy otherwise since may be all too slow for these moments, or all too quick: then there are more of them.
        let after = match moment {
            _ if moment < MOMENTS => step * moment as u32,
            _ if moment >= 2 * MOMENTS => break,
            _ if answered.len() <= LEAST => step * (MOMENTS + 10 * (moment - MOMENTS)) as u32,
            _ if cut <= LEAST => step * (moment - MOMENTS) as u32 / 10,
            _ => break,
        };
        if moment > 0 {
            bench = Bench::over(folder.path());
        }
        // What follows the picture makes each photo another one.
        let sent = [photo.as_slice(), format!("{moment:03}").as_bytes()].concat();
        let at = bench.address.clone();
        let head = format!(
            "POST {job}/photo?{CHOICE}&n=1 HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nConnection: close\r\n\
             Content-Type: image/jpeg\r\nContent-Length: {}\r\n\r\n",
            sent.len()
        );
        let mut stream = bench.connected();
        let sender = std::thread::spawn(move || {
            let _ = stream.write_all(&[head.as_bytes(), &sent].concat());
            answer(stream)
        });
        std::thread::sleep(after);
        bench.child.kill().unwrap();
        bench.child.wait().unwrap();
        match sender.join().unwrap() {
            Some(told) if told.status == 201 && told.body.contains("entered in the job") => answered.push(moment),
            _ => cut += 1,
        }
    }
    let files: Vec<String> = photos_in(&own.join("photos"));
    let whole = files.iter().filter(|name| !name.starts_with('.'));
    for name in whole {
        let bytes = std::fs::read(own.join("photos").join(name)).unwrap();
        assert!(
            bytes.len() == photo.len() + 3 && bytes.starts_with(&photo),
            "{name} is not whole"
        );
    }
    let job: toml::Table = std::fs::read_to_string(own.join("job.toml")).unwrap().parse().unwrap();
    let none = Vec::new();
    let shots = job.get("shot").and_then(|shots| shots.as_array()).unwrap_or(&none);
    let entered: Vec<usize> = shots
        .iter()
        .map(|shot| {
            let bytes = std::fs::read(own.join(shot["photo"].as_str().unwrap())).unwrap();
            std::str::from_utf8(&bytes[photo.len()..]).unwrap().parse().unwrap()
        })
        .collect();
    for moment in &answered {
        assert_eq!(entered.iter().filter(|one| *one == moment).count(), 1, "{moment}");
    }
    assert!(
        cut > LEAST && answered.len() > LEAST,
        "both were met: {cut}, {}",
        answered.len()
    );
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

/// A request that means harm, or is broken: with `\n` for line ends and `HOST` for the address, and the statuses that refuse it; 0 is
/// a connection that is closed without a word.
struct Hostile {
    what: &'static str,
    request: String,
    refused_by: &'static [u16],
}

fn hostile(what: &'static str, request: impl Into<String>, refused_by: &'static [u16]) -> Hostile {
    Hostile {
        what,
        request: request.into(),
        refused_by,
    }
}

const OWN: &str = "Host: HOST\nOrigin: http://HOST\nConnection: close\n";

/// Ways out of the folder, and to files that are not shown.
fn escapes(job: &str) -> Vec<Hostile> {
    let paths = [
        ("dots", "/../secret.txt".to_owned()),
        ("dots behind a job", format!("{job}/../../secret.txt")),
        ("dots in percent", "/job/%2e%2e%2fsecret.txt".to_owned()),
        ("dots in percent, twice", "/job/%252e%252e%252fsecret.txt".to_owned()),
        ("a backslash", "/job/..\\secret.txt".to_owned()),
        ("an absolute path", "//etc/passwd".to_owned()),
        ("a job by its folder's name", "/job/job-T".to_owned()),
        ("a link for a job", "/job/linked".to_owned()),
        ("the folder's own file", "/bay.toml".to_owned()),
        ("a job's own file", format!("{job}/job.toml")),
        ("a photo by its path", format!("{job}/photos/0001.jpg")),
        ("a name for a device", "/job/CON".to_owned()),
        ("a nought", "/job/%00".to_owned()),
        ("a file of a report", format!("{job}/report/../job.toml")),
        ("a query for a path", format!("{job}/report?file=/etc/passwd&x=../..")),
    ];
    let get = |(what, path): (&'static str, String)| {
        hostile(
            what,
            format!("GET {path} HTTP/1.1\nHost: HOST\nConnection: close\n\n"),
            &[404, 400],
        )
    };
    paths.map(get).into()
}

/// Other sites, by whatever name.
fn strangers(job: &str) -> Vec<Hostile> {
    let get = |heads: &str| format!("GET / HTTP/1.1\n{heads}Connection: close\n\n");
    let post = |heads: &str| format!("POST {job}/report HTTP/1.1\n{heads}Connection: close\nContent-Length: 0\n\n");
    vec![
        hostile("another name (DNS rebinding)", get("Host: evil.example\n"), &[403]),
        hostile("another name with our port", get("Host: evil.example:8017\n"), &[403]),
        hostile("our name without its port", get("Host: 127.0.0.1\n"), &[403]),
        hostile("our name at another port", get("Host: localhost:1\n"), &[403]),
        hostile("our name as part of another", get("Host: HOST.evil.example\n"), &[403]),
        hostile("no name", get(""), &[403, 400]),
        hostile("two names", get("Host: HOST\nHost: evil.example\n"), &[400]),
        hostile("no name, as long ago", "GET / HTTP/1.0\n\n", &[403]),
        hostile(
            "another name in the line",
            "GET http://evil.example/ HTTP/1.1\nHost: HOST\nConnection: close\n\n",
            &[403],
        ),
        hostile(
            "a read for another site",
            get("Host: HOST\nOrigin: http://evil.example\n"),
            &[403],
        ),
        hostile(
            "a read for another page",
            get("Host: HOST\nSec-Fetch-Site: cross-site\n"),
            &[403],
        ),
        hostile(
            "a read for a neighbour's port",
            get("Host: HOST\nSec-Fetch-Site: same-site\n"),
            &[403],
        ),
        hostile("an order without a sender", post("Host: HOST\n"), &[403]),
        hostile(
            "an order by another site",
            post("Host: HOST\nOrigin: http://evil.example\n"),
            &[403],
        ),
        hostile("an order by nobody", post("Host: HOST\nOrigin: null\n"), &[403]),
        hostile(
            "an order over another scheme",
            post("Host: HOST\nOrigin: https://HOST\n"),
            &[403],
        ),
        hostile(
            "an order by two",
            post("Host: HOST\nOrigin: http://HOST\nOrigin: http://evil.example\n"),
            &[400],
        ),
        hostile(
            "an order by a page beside",
            post("Host: HOST\nOrigin: http://HOST\nSec-Fetch-Site: same-site\n"),
            &[403],
        ),
        hostile(
            "leave to ask across sites",
            format!("OPTIONS /new HTTP/1.1\n{OWN}\n"),
            &[405],
        ),
        hostile("another method", format!("DELETE {job} HTTP/1.1\n{OWN}\n"), &[405]),
        hostile(
            "a tunnel",
            "CONNECT example.org:80 HTTP/1.1\nHost: HOST\n\n",
            &[400, 403, 405],
        ),
        hostile(
            "an order as a read",
            format!("GET {job}/photo HTTP/1.1\n{OWN}\n"),
            &[404],
        ),
    ]
}

/// Photos that are too large, of another kind, or broken.
fn photos(job: &str) -> Vec<Hostile> {
    let photo = format!("POST {job}/photo?{CHOICE}&n=1 HTTP/1.1\n{OWN}");
    let image = "Content-Type: image/jpeg\n";
    let with = |body: &str| format!("{photo}{image}Content-Length: {}\n\n{body}", body.len());
    let part = "--x\nContent-Disposition: form-data; name=\"f\"; filename=\"../../job.toml\"\n\nschema = 1\n--x";
    vec![
        hostile(
            "a photo of 5 GB",
            format!("{photo}{image}Content-Length: 5000000000\n\n"),
            &[413],
        ),
        hostile(
            "a length that is none",
            format!("{photo}{image}Content-Length: -1\n\n"),
            &[400],
        ),
        hostile(
            "two lengths",
            format!("{photo}{image}Content-Length: 3\nContent-Length: 4\n\nabcd"),
            &[400],
        ),
        hostile(
            "a length and pieces (smuggling)",
            format!("{photo}{image}Content-Length: 4\nTransfer-Encoding: chunked\n\n0\n\nGET / HTTP/1.1\n\n"),
            &[400, 415],
        ),
        hostile(
            "a piece that is none",
            format!("{photo}{image}Transfer-Encoding: chunked\n\nzz\nxx\n0\n\n"),
            &[400],
        ),
        hostile("no photo at all", with(""), &[415]),
        hostile(
            "a page for a photo",
            with("<html><script>alert(1)</script></html>"),
            &[415],
        ),
        hostile(
            "a drawing with a script",
            with("<svg xmlns=\"http://www.w3.org/2000/svg\" onload=\"alert(1)\"/>"),
            &[415],
        ),
        hostile(
            "a page behind a GIF's head",
            with("GIF89a/*<script>alert(1)</script>*/"),
            &[415],
        ),
        hostile(
            "a photo in parts, with a path for a name",
            {
                let length = part.len() + 2 * part.matches('\n').count();
                format!("{photo}Content-Type: multipart/form-data; boundary=x\nContent-Length: {length}\n\n{part}")
            },
            &[415],
        ),
        hostile("a photo of no type", format!("{photo}Content-Length: 3\n\nabc"), &[415]),
        hostile(
            "a photo that the list has not",
            photo.replace("n=1", "n=99") + image + "Content-Length: 0\n\n",
            &[404],
        ),
        hostile(
            "a photo for number nought",
            photo.replace("n=1", "n=0") + image + "Content-Length: 0\n\n",
            &[404],
        ),
        hostile(
            "a key that is none",
            photo.replace("n=1", "path=/etc") + image + "Content-Length: 0\n\n",
            &[400],
        ),
        hostile(
            "a choice that is too long",
            format!("GET {job}/shots?positions={} HTTP/1.1\n{OWN}\n", "1,".repeat(2000)),
            &[414],
        ),
    ]
}

/// Forms that are none, and what is no HTTP.
fn forms() -> Vec<Hostile> {
    let form = |kind: &str, body: &str| {
        let length = body.len();
        format!("POST /new HTTP/1.1\n{OWN}Content-Type: {kind}\nContent-Length: {length}\n\n{body}")
    };
    vec![
        hostile(
            "a form as a browser's own",
            form("application/x-www-form-urlencoded", "job.job=x"),
            &[415],
        ),
        hostile("a form as plain text", form("text/plain", "{}"), &[415]),
        hostile(
            "a form that is none",
            form("application/json", "{\"job.job\": \"x\""),
            &[400],
        ),
        hostile(
            "a form with a list in it",
            form("application/json", "{\"job.job\": [\"x\"]}"),
            &[400],
        ),
        hostile(
            "a form of brackets",
            form("application/json", &"[".repeat(60_000)),
            &[400],
        ),
        hostile(
            "a form that is too long",
            form(
                "application/json",
                &format!("{{\"job.job\": \"{}\"}}", "x".repeat(70_000)),
            ),
            &[413],
        ),
        hostile("no HTTP", "\u{16}\u{3}\u{1}\u{2}\u{0}\u{1}\n\n", &[0, 400]),
        hostile(
            "a line that never ends",
            format!("GET /{} HTTP/1.1\n{OWN}\n", "x".repeat(200_000)),
            &[0, 400, 414, 431],
        ),
        hostile(
            "heads without end",
            format!("GET / HTTP/1.1\n{}{OWN}\n", "X: y\n".repeat(500)),
            &[0, 400, 431],
        ),
    ]
}

/// Each of them is refused, nothing outside is shown, and nothing in the folder changes.
#[test]
fn hostile_requests_are_refused() {
    let outside = tempfile::tempdir().unwrap();
    std::fs::write(outside.path().join("secret.txt"), "SECRET").unwrap();
    let folder = outside.path().join("jobs");
    let bench = Bench::over(&folder);
    let job = bench.job("T");
    #[cfg(unix)]
    {
        std::fs::create_dir(outside.path().join("other")).unwrap();
        std::fs::copy(folder.join("job-T/job.toml"), outside.path().join("other/job.toml")).unwrap();
        std::os::unix::fs::symlink(outside.path().join("other"), folder.join("linked")).unwrap();
        assert_eq!(
            bench.get("/").body.matches("href=\"/job/").count(),
            1,
            "a link is no job of the folder"
        );
    }
    let state = || {
        let files = ["bay.toml", "job-T/job.toml"].map(|name| std::fs::read_to_string(folder.join(name)).unwrap());
        (photos_in(&folder), photos_in(&folder.join("job-T/photos")), files)
    };
    let before = state();
    let all: Vec<Hostile> = [escapes(&job), strangers(&job), photos(&job), forms()]
        .into_iter()
        .flatten()
        .collect();
    assert!(all.len() >= 60, "{}", all.len());
    for one in &all {
        let told = bench.text(&one.request);
        let status = told.as_ref().map_or(0, |answer| answer.status);
        let body = told.as_ref().map_or("", |answer| answer.body.as_str());
        assert!(one.refused_by.contains(&status), "{}: {status} {body}", one.what);
        assert!(
            !body.contains("SECRET") && !body.contains("schema = 1") && !body.contains("root:"),
            "{}: {body}",
            one.what
        );
    }
    assert_eq!(state(), before);
    assert_eq!(bench.get("/").status, 200, "it still answers");
}

/// Files that are a photo only at first sight, or two things at once.
#[test]
fn photos_that_are_none_are_refused_and_do_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let send = |bytes: &[u8]| bench.post(&format!("{job}/photo?{CHOICE}&n=1"), "image/jpeg", bytes);
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    // A PNG's head that claims 60 000 px by 60 000 px.
    let mut bomb = std::io::Cursor::new(Vec::new());
    image::GrayImage::new(8, 8)
        .write_to(&mut bomb, image::ImageFormat::Png)
        .unwrap();
    let mut bomb = bomb.into_inner();
    bomb[16..24].copy_from_slice(&[0, 0, 0xEA, 0x60, 0, 0, 0xEA, 0x60]);
    for (what, bytes) in [
        (
            "a JPEG's first bytes and a page",
            [&[0xFF, 0xD8, 0xFF][..], b"<script>alert(1)</script>"].concat(),
        ),
        ("a TIFF's first bytes and nothing", b"II*\0\xFF\xFF\xFF\xFF".to_vec()),
        ("more pixels than are read", bomb),
    ] {
        let told = send(&bytes);
        assert_eq!(told.status, 415, "{what}: {}", told.body);
        assert!(photos_in(&folder.path().join("job-T/photos")).is_empty(), "{what}");
    }
    // Cut short: a photo by its head, and refused in the library's words.
    let told = send(&photo[..photo.len() / 2]);
    assert!(
        told.status == 201 && told.body.contains("is not entered"),
        "{}",
        told.body
    );
    // A photo with a page behind its end is read as the photo that it is, and never shown as a page.
    let told = send(&[&photo[..], b"<html><script>alert(1)</script></html>"].concat());
    assert_eq!(told.status, 201);
    assert!(!told.body.contains("alert(1)"), "{}", told.body);
    for heads in [
        told.heads,
        bench.get("/page.js").heads,
        bench.get("/new").heads,
        bench.get("/nothing").heads,
    ] {
        assert!(
            heads.contains("x-content-type-options: nosniff") && heads.contains("cache-control: no-store"),
            "{heads}"
        );
        assert!(
            heads.contains("default-src 'none'; script-src 'self'") && heads.contains("frame-ancestors 'none'"),
            "{heads}"
        );
    }
}

/// Names with a script in them stand as text wherever they are shown, and no page has a script of its own in it.
#[test]
fn names_are_text() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let evil = "<script>alert('x')</script>\"'&";
    let mut typed = answers(evil);
    typed["bay.name"] = evil.into();
    typed["vehicle.description"] = "<img src=x onerror=alert(1)>".into();
    let made = bench.post("/new", "application/json", typed.to_string().as_bytes());
    let told: serde_json::Value = serde_json::from_str(&made.body).unwrap();
    let job = told["go"].as_str().unwrap().to_owned();
    let names = photos_in(folder.path());
    assert!(
        names
            .iter()
            .all(|name| name.chars().all(|c| c.is_ascii_alphanumeric() || "-.".contains(c))),
        "{names:?}"
    );
    let position = "%3Cscript%3Ealert(1)%3C%2Fscript%3E,%22onload%3D1";
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let choice = format!("check=positions&lamp=left&stage=before&positions={position}");
    let read = bench.post(&format!("{job}/photo?{choice}&n=1"), "image/jpeg", &photo);
    assert!(
        read.status == 201 && read.body.contains("entered in the job"),
        "{}",
        read.body
    );
    let pages = [
        "/",
        "/new",
        &job,
        &format!("{job}/shots?{choice}"),
        &format!("{job}/shot?{choice}&n=1"),
        &format!("{job}/readings"),
    ]
    .map(|path| bench.get(path));
    for page in pages.iter().chain([&read]) {
        assert!([200, 201].contains(&page.status), "{}", page.body);
        let body = page.body.replace("<script src=\"/page.js\" defer></script>", "");
        assert!(
            !body.contains("<script") && !body.contains("<img src=x") && !body.contains("\"onload"),
            "{body}"
        );
    }
    assert!(
        pages[0].body.contains("&lt;script&gt;alert('x')&lt;/script&gt;&quot;"),
        "{}",
        pages[0].body
    );
}

/// Who sends slowly, or nothing, is let go, and holds nobody else up meanwhile.
#[test]
fn the_slow_are_let_go() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let job = bench.job("T");
    let at = &bench.address;
    let halves = [
        "".to_owned(),
        "GET / HT".to_owned(),
        format!("GET / HTTP/1.1\r\nHost: {at}\r\nX-"),
        format!(
            "POST {job}/photo?{CHOICE}&n=1 HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: image/jpeg\r\n\
             Content-Length: 1000\r\n\r\nabc"
        ),
        format!(
            "POST /new HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: application/json\r\nContent-Length: 9\r\n\r\n{{"
        ),
    ];
    let begun = Instant::now();
    let mut waiting = Vec::new();
    for half in halves {
        let mut stream = bench.connected();
        stream.write_all(half.as_bytes()).unwrap();
        waiting.push((half, stream));
    }
    assert_eq!(bench.get("/").status, 200);
    assert!(begun.elapsed() < Duration::from_secs(5), "others are answered at once");
    for (half, stream) in waiting {
        let told = answer(stream);
        assert!(told.as_ref().is_none_or(|told| told.status == 408), "{half}: {told:?}");
        assert!(
            begun.elapsed() < Duration::from_secs(40),
            "{half}: {:?}",
            begun.elapsed()
        );
    }
    assert!(
        photos_in(&folder.path().join("job-T/photos")).is_empty(),
        "nothing of it is left"
    );
    // More at a time than are taken in: the next waits, and is answered as soon as they are gone.
    let idle: Vec<TcpStream> = (0..100).map(|_| bench.connected()).collect();
    assert_eq!(bench.get("/").status, 200);
    drop(idle);
    // Of photos that arrive side by side only some are taken in.
    let head = format!(
        "POST {job}/photo?{CHOICE}&n=1 HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nConnection: close\r\nContent-Type: image/jpeg\r\n\
         Content-Length: 1000\r\n\r\nabc"
    );
    let statuses: Vec<u16> = (0..8)
        .map(|_| {
            let mut stream = bench.connected();
            stream.write_all(head.as_bytes()).unwrap();
            stream
        })
        .collect::<Vec<_>>()
        .into_iter()
        .map(|stream| answer(stream).map_or(0, |told| told.status))
        .collect();
    let of = |wanted: u16| statuses.iter().filter(|status| **status == wanted).count();
    assert_eq!((of(503), of(408)), (4, 4), "{statuses:?}");
}

/// A phone in the shop's network.
#[cfg(target_os = "linux")]
struct Phone {
    /// Where it finds the page.
    lan: String,
    /// Heads of what was given to it.
    cookie: String,
}

#[cfg(target_os = "linux")]
impl Phone {
    fn ask(&self, line: &str, kind: &str, body: &[u8]) -> Answer {
        let heads = format!(
            "Host: {0}\r\nOrigin: http://{0}\r\nContent-Type: {kind}\r\n{1}",
            self.lan, self.cookie
        );
        ask(&self.lan, line, &heads, body)
    }

    fn get(&self, path: &str) -> Answer {
        self.ask(&format!("GET {path}"), "text/plain", b"")
    }

    fn pair(&mut self, code: &str) -> Answer {
        let typed = serde_json::json!({ "code": code }).to_string();
        let told = self.ask("POST /pair", "application/json", typed.as_bytes());
        if let Some(cookie) = told.heads.lines().find_map(|line| line.strip_prefix("set-cookie: ")) {
            assert!(cookie.contains("httponly; samesite=strict"), "{cookie}");
            self.cookie = format!("Cookie: other=1; {}\r\n", cookie.split(';').next().unwrap());
        }
        told
    }
}

/// Asks at a door with these heads.
#[cfg(target_os = "linux")]
fn ask(door: &str, line: &str, heads: &str, body: &[u8]) -> Answer {
    let mut stream = TcpStream::connect(door).unwrap();
    let length = body.len();
    let head = format!("{line} HTTP/1.1\r\nConnection: close\r\n{heads}Content-Length: {length}\r\n\r\n");
    let _ = stream.write_all(&[head.as_bytes(), body].concat());
    answer(stream).unwrap()
}

/// A bench for phones with a job in it, a phone that was not paired, and the code. The address beside loopback stands for the shop's
/// network: Linux answers on all of 127/8.
#[cfg(target_os = "linux")]
fn networked(folder: &Path) -> (Bench, String, Phone, String) {
    let (bench, second) = Bench::with(folder, &["--lan", "--address", "127.0.0.2"]);
    let job = bench.job("W-0117");
    let lan = second
        .split("http://")
        .nth(1)
        .unwrap()
        .split('/')
        .next()
        .unwrap()
        .to_owned();
    assert!(lan.starts_with("127.0.0.2:"), "{second}");
    let code = second.split("the code ").nth(1).unwrap()[..6].to_owned();
    let phone = Phone {
        lan,
        cookie: String::new(),
    };
    (bench, job, phone, code)
}

/// Whoever does not know the code sees nothing and changes nothing, whatever cookie is made up.
#[cfg(target_os = "linux")]
#[test]
fn over_the_network_nobody_gets_in_without_the_code() {
    let folder = tempfile::tempdir().unwrap();
    let (bench, job, mut phone, code) = networked(folder.path());
    let state = || (photos_in(folder.path()), photos_in(&folder.path().join("job-W-0117")));
    let before = state();
    let made_up = [
        "",
        "Cookie: beamfall=\r\n",
        "Cookie: beamfall=*; x=y\r\n",
        &format!("Cookie: beamfall={code}\r\n"),
    ];
    for cookie in made_up {
        cookie.clone_into(&mut phone.cookie);
        for path in [
            "",
            "new",
            "phones",
            "bay.svg",
            &job[1..],
            &format!("{job}/readings")[1..],
            &format!("{job}/report")[1..],
        ] {
            let told = phone.get(&format!("/{path}"));
            assert!(
                told.status == 401 && !told.body.contains("W-0117"),
                "{path}: {}",
                told.body
            );
        }
        let orders = ["report", "undo", &format!("photo?{CHOICE}&n=1")].map(|order| format!("{job}/{order}"));
        for path in orders.iter().map(String::as_str).chain(["/new", "/check", "/phones"]) {
            let told = phone.ask(
                &format!("POST {path}"),
                "application/json",
                answers("X").to_string().as_bytes(),
            );
            assert_eq!(told.status, 401, "{path}: {}", told.body);
        }
    }
    assert_eq!(state(), before);
    // Nobody reaches one door by the other's name, and no other site pairs.
    assert_eq!(
        ask(&phone.lan, "GET /", &format!("Host: {}\r\n", bench.address), b"").status,
        403
    );
    assert_eq!(
        ask(&bench.address, "GET /", &format!("Host: {}\r\n", phone.lan), b"").status,
        403
    );
    let evil = format!(
        "Host: {}\r\nOrigin: http://evil.example\r\nContent-Type: application/json\r\n",
        phone.lan
    );
    let typed = serde_json::json!({ "code": code }).to_string();
    assert_eq!(ask(&phone.lan, "POST /pair", &evil, typed.as_bytes()).status, 403);
}

#[cfg(target_os = "linux")]
#[test]
fn a_paired_phone_takes_photos_and_guessing_ends_soon() {
    let folder = tempfile::tempdir().unwrap();
    let (bench, job, mut phone, code) = networked(folder.path());
    // Typed in two groups, as figures are read aloud.
    let told = phone.pair(&format!(" {} {}\u{a0}", &code[..3], &code[3..]));
    assert_eq!(told.status, 201, "{}", told.body);
    let inside = phone.get("/");
    assert!(
        inside.status == 200 && inside.body.contains("W-0117") && !inside.body.contains("/phones"),
        "{}",
        inside.body
    );
    assert_eq!(phone.get("/phones").status, 404, "the code stays on the computer");
    let photo = std::fs::read(sample("photos/left-before-0.jpg")).unwrap();
    let read = phone.ask(&format!("POST {job}/photo?{CHOICE}&n=1"), "image/jpeg", &photo);
    assert!(
        read.status == 201 && read.body.contains("entered in the job"),
        "{}",
        read.body
    );
    let mut other = Phone {
        lan: phone.lan.clone(),
        cookie: phone.cookie.trim_end().to_owned() + "0\r\n",
    };
    assert_eq!(other.get("/").status, 401, "what one was given is not another's");

    // The right code comes too late after five wrong ones, until the computer makes another.
    let wrong = if code == "000000" { "000001" } else { "000000" };
    other.cookie.clear();
    for _ in 0..5 {
        assert_eq!(other.pair(wrong).status, 401);
    }
    let late = other.pair(&code);
    assert!(
        late.status == 401 && late.body.contains("Too many wrong codes"),
        "{}",
        late.body
    );
    assert!(bench.get("/phones").body.contains("Too many wrong codes"));
    assert_eq!(phone.get("/").status, 200, "who is paired stays so");
    assert_eq!(bench.post("/phones", "application/json", b"{}").status, 201);
    assert_eq!(phone.get("/").status, 401, "a new code forgets all phones");
    let shown = bench.get("/phones").body;
    let code = shown.split("<p class=\"code\">").nth(1).unwrap()[..6].to_owned();
    assert!(
        shown.contains("<svg") && shown.contains("No phone is paired"),
        "{shown}"
    );
    assert_eq!(phone.pair(&code).status, 201);
}

#[test]
fn an_address_that_is_not_this_computers_is_an_error() {
    for (address, told) in [
        ("192.0.2.1", "cannot be used"),
        ("0.0.0.0", "one of this computer's own"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let ended = program()
            .args(["serve", "--port", "0", "--lan", "--address", address])
            .arg(folder.path())
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert!(ended.status.code() == Some(2) && said.contains(told), "{said}");
    }
}

#[test]
fn a_job_is_served_by_its_file_too_and_no_other_file_is() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job.toml");
    std::fs::copy(sample("job.toml"), &job).unwrap();
    let bench = Bench::over(&job);
    let home = bench.get("/");
    assert_eq!(home.status, 200);
    assert!(home.body.contains("W-0117"), "{}", home.body);
    let other = folder.path().join("other.toml");
    std::fs::rename(&job, &other).unwrap();
    let ended = program().args(["serve", "--port", "0"]).arg(&other).output().unwrap();
    assert_eq!(ended.status.code(), Some(1));
    assert!(
        String::from_utf8_lossy(&ended.stderr).contains("no job.toml"),
        "{ended:?}"
    );
}

/// A page without what it marks as English.
fn without_english(page: &str) -> String {
    let (mut rest, mut kept) = (page, String::new());
    while let Some(at) = rest.find(" lang=\"en\"") {
        let start = rest[..at].rfind('<').unwrap();
        let name: String = rest[start + 1..]
            .chars()
            .take_while(char::is_ascii_alphanumeric)
            .collect();
        assert_ne!(name, "html", "{page}");
        kept.push_str(&rest[..start]);
        let close = format!("</{name}>");
        let end = rest[at..].find(&close).unwrap();
        rest = &rest[at + end + close.len()..];
    }
    kept + rest
}

/// What the script says, and what stands in fields that are empty.
fn words_of_script(page: &str) -> String {
    let mut said = String::new();
    for part in page.split(" data-").chain(page.split(" placeholder")).skip(1) {
        let value = part.split_once("=\"").and_then(|(_, rest)| rest.split('"').next());
        // Neither an address nor what is sent.
        let words = value.filter(|value| value.contains(' ') && !value.contains("&quot;"));
        said.extend(words.map(|words| format!("{words}\n")));
    }
    said
}

/// No English word is left in a page that is said in German.
fn is_german(what: &str, page: &str) {
    let page = without_english(page);
    let left = english_in(&(text_of(&page) + "\n" + &words_of_script(&page)), true);
    assert!(left.is_empty(), "{what}: {left:?} in {page}");
}

/// The screens of the whole work, each with a word that stands on it in German.
#[test]
fn each_screen_is_said_in_german() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let screen = |path: &str, word: &str| {
        let got = bench.german(path);
        assert!(got.status == 200, "{path}: {got:?}");
        assert!(
            got.body.contains("<html lang=\"de\">") && got.heads.contains("content-language: de"),
            "{path}: {got:?}"
        );
        assert!(got.body.contains(word), "{path}: {word}: {}", got.body);
        is_german(path, &got.body);
        got.body
    };
    // What is looked for is found where it is.
    let english = bench.get("/new").body;
    assert!(
        english_in(&text_of(&english), true).len() > 50 && !english_in(&words_of_script(&english), true).is_empty()
    );
    screen("/", "In diesem Ordner ist noch kein Auftrag");
    let new = screen("/new", "Für welche Straßenseite ist das Fahrzeug gebaut?");
    assert!(
        new.contains("value=\"0,02\"") && new.contains("Großbritannien: wiederkehrende Prüfung"),
        "{new}"
    );
    let mut slip = answers("T");
    slip["left.distance_mm"] = "10,5".into();
    let slip = bench.post_german("/new", "application/json", slip.to_string().as_bytes());
    assert!(
        slip.status == 422 && slip.body.contains("10,5 sieht nach Metern aus"),
        "{slip:?}"
    );
    // Thousands are not taken for tenths, whichever sign stands in them.
    for thousands in ["10.000", "10,000", "-1.450"] {
        let mut slip = answers("T");
        slip["left.centre_x_mm"] = thousands.into();
        let slip = bench.post_german("/new", "application/json", slip.to_string().as_bytes());
        assert!(slip.status == 422 && slip.body.contains("Tausender"), "{slip:?}");
    }
    // A comma for the point, as the form shows it.
    let mut typed = answers("T");
    typed["left.centre_height_mm"] = "652,5".into();
    let made = bench.post_german("/new", "application/json", typed.to_string().as_bytes());
    let made: serde_json::Value = serde_json::from_str(&made.body).unwrap();
    let job = made["go"].as_str().unwrap();
    let own = folder.path().join("job-T");
    let text = std::fs::read_to_string(own.join("job.toml")).unwrap();
    assert!(text.contains("centre_height_mm = 652.5"), "{text}");
    screen("/", "Suchen nach Kennzeichen");
    screen("/?find=nothing+of+that+kind", "Kein Auftrag enthält das.");
    screen("/wall", "Außenkante des schwarzen Quadrats");
    screen(job, "Was herauszufinden ist");
    screen(&format!("{job}/shots?{CHOICE}"), "links vorher, Regler auf 0");
    for list in [
        "check=positions",
        "check=vacuum&off=1",
        "check=leak-down",
        "check=before-after",
    ] {
        for n in 1..=4 {
            screen(&format!("{job}/shot?{list}&lamp=left&n={n}"), "Foto aufnehmen");
        }
    }
    screen(&format!("{job}/wall"), "Es sagt, welche Messblätter zu sehen sind");
    let lamps = screen(&format!("{job}/lamps"), "Der linke Scheinwerfer");
    assert!(lamps.contains("value=\"652,5\""), "{lamps}");
    // What a photo gave, and why one gave nothing.
    for (n, photo, word) in [
        (1, "left-before-0", "in den Auftrag eingetragen"),
        (2, "left-after-1-first-try", "Es liefert keinen Wert"),
        (2, "left-before-1", "in den Auftrag eingetragen"),
    ] {
        let bytes = std::fs::read(sample(&format!("photos/{photo}.jpg"))).unwrap();
        let got = bench.post_german(&format!("{job}/photo?{CHOICE}&n={n}"), "image/jpeg", &bytes);
        assert!(got.status == 201 && got.body.contains(word), "{got:?}");
        is_german(photo, &got.body);
        if got.body.contains("id=\"entered\"") {
            let again = bench.post_german(&format!("{job}/photo?{CHOICE}&n={n}"), "image/jpeg", &bytes);
            assert!(
                again.status == 409 && again.body.contains("schon im Auftrag"),
                "{again:?}"
            );
            is_german(photo, &again.body);
        }
    }
    let wall = bench.german(&format!("{job}/wall?{CHOICE}&photo=photos/0001.jpg")).body;
    assert!(wall.contains("Messblätter"), "{wall}");
    is_german("a photo of the wall", &wall);
    screen(job, "photos/0003.jpg eingetragen");
    screen(
        &format!("{job}/place?{CHOICE}&n=2&photo=photos/0002.jpg"),
        "seine obere linke Ecke antippen",
    );
    screen(
        &format!("{job}/look?{CHOICE}&n=1&photo=photos/0001.jpg"),
        "Auf die Hell-Dunkel-Grenze tippen.",
    );
    screen(
        &format!("{job}/heap?{CHOICE}&take=0002.jpg"),
        "Wofür jedes Foto gehalten wird",
    );
    // The part at fault: the system, a test, the next one, the repair.
    screen(
        &format!("{job}/fault"),
        "Welche Bauteile hat die Leuchtweitenverstellung",
    );
    let order = |path: &str, body: serde_json::Value| {
        let got = bench.post_german(
            &format!("{job}/{path}"),
            "application/json",
            body.to_string().as_bytes(),
        );
        assert_eq!(got.status, 201, "{got:?}");
    };
    order("system", serde_json::json!({ "system": "vacuum-cabin-control" }));
    screen(&format!("{job}/fault"), "Was jetzt zu tun ist");
    for n in 0..5 {
        screen(&format!("{job}/test?n={n}"), "Was kam heraus?");
    }
    order("trial", serde_json::json!({ "test": "operate-left", "moves": "no" }));
    screen(&format!("{job}/fault"), "Eingetragen: ");
    let no_day = bench.post_german(
        &format!("{job}/repair"),
        "application/json",
        br#"{"component":"control","words":"ersetzt","date":"gestern"}"#,
    );
    assert!(
        no_day.status == 422 && no_day.body.contains("ist kein Tag"),
        "{no_day:?}"
    );
    is_german("a day that is none", &no_day.body);
    screen(&format!("{job}/repair"), "Was getan wurde");
    order(
        "repair",
        serde_json::json!({ "component": "control", "words": "ersetzt", "date": "2031-03-05" }),
    );
    screen(&format!("{job}/repair?n=0"), "Reparatur ändern");
    screen(
        &format!("{job}/entries"),
        "05.03.2031: Leuchtweitenregler (Schalter) im Innenraum: ersetzt",
    );
    screen(job, "Repariert am 05.03.2031");
    // Readings and the report, whose figures are those of English.
    screen(&format!("{job}/readings"), "Die Fotos werden gelesen");
    let part = |got: Answer| {
        let (_, done) = got.body.split_once("event: done\ndata: ").expect("an end");
        let done: serde_json::Value = serde_json::from_str(done.trim()).unwrap();
        done["html"].as_str().unwrap().to_owned()
    };
    let path = format!("{job}/reading");
    let (german, english) = (part(bench.german(&path)), part(bench.get(&path)));
    is_german("the readings", &german);
    let of = |html: &str, is_german| counted(numbers(&text_of(html), is_german));
    assert_eq!(of(&german, true), of(&english, false));
    let made = bench.post_german(&format!("{job}/report"), "text/plain", b"");
    assert!(made.body.contains("event: done"), "{made:?}");
    let report = std::fs::read_to_string(own.join("beamfall-report/report.html")).unwrap();
    assert!(report.contains("lang=\"de\""), "as the page was read");
    let shown = bench.german(&format!("{job}/report")).body;
    assert!(shown.contains("‹ Der Auftrag"), "{shown}");
    let results = std::fs::read_to_string(own.join("beamfall-report/results.json")).unwrap();
    assert!(
        results.contains("\"left\"") && !results.contains("\"links\""),
        "machines read English"
    );
    // What is refused; and a file that cannot be read, in the library's English, which is marked.
    let nothing = bench.german("/job/0000000000000000");
    assert!(
        nothing.status == 404 && nothing.body.contains("Hier ist nichts."),
        "{nothing:?}"
    );
    is_german("nothing", &nothing.body);
    std::fs::write(own.join("job.toml"), "schema = 1\njob = \"T\"\nbay = 7\n").unwrap();
    let unread = bench.german(job);
    assert!(
        unread.status == 422 && unread.body.contains("id=\"said\" lang=\"en\""),
        "{unread:?}"
    );
    is_german("a file that cannot be read", &unread.body);
}

/// What was chosen counts before what the browser likes; English is what nobody asked for.
#[test]
fn the_language_is_chosen_on_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::over(folder.path());
    let tag = |got: &Answer| {
        let (_, rest) = got.body.split_once("<html lang=\"").unwrap();
        rest[..2].to_owned()
    };
    let plain = bench.get("/new");
    assert_eq!(tag(&plain), "en");
    assert!(
        plain.heads.contains("content-language: en") && plain.heads.contains("vary: accept-language, cookie"),
        "{}",
        plain.heads
    );
    for (languages, cookie, wanted) in [
        ("de", "", "de"),
        ("fr", "", "en"),
        ("en,de;q=0.5", "", "en"),
        ("en", "beamfall-language=de", "de"),
        ("de", "beamfall-language=en", "en"),
        ("de", "beamfall-language=xx", "de"),
    ] {
        let got = bench.liking(languages, cookie, "/new");
        assert_eq!(tag(&got), wanted, "{languages} {cookie}");
    }
    // The link of a page leads to the same page, with all that was chosen on it.
    let job = bench.job("T");
    let page = bench.get(&format!("{job}/shots?{CHOICE}")).body;
    let at = page.find("hreflang=\"de\"").expect("a link");
    let link = page[..at].rsplit("href=\"").next().unwrap().split('"').next().unwrap();
    let led = bench.get(&link.replace("&amp;", "&"));
    assert_eq!(led.status, 303, "{led:?}");
    let head = |name: &str| {
        led.heads
            .lines()
            .find_map(|line| line.strip_prefix(name))
            .unwrap()
            .trim()
            .to_owned()
    };
    assert_eq!(head("location:"), format!("{job}/shots?{CHOICE}").to_lowercase());
    assert!(
        head("set-cookie:").starts_with("beamfall-language=de; httponly; samesite=strict; path=/; max-age="),
        "{}",
        led.heads
    );
    for address in ["//elsewhere.example/?lang=de", "/\\elsewhere.example/?lang=de"] {
        let led = bench.get(address);
        assert!(!led.heads.contains("location:"), "{led:?}");
    }
    // Another site's page does not choose.
    let other = bench
        .text("GET /?lang=de HTTP/1.1\nHost: HOST\nSec-Fetch-Site: cross-site\nConnection: close\n\n")
        .unwrap();
    assert!(other.status == 403 && !other.heads.contains("set-cookie"), "{other:?}");
}

/// Also who is not paired yet is told what to do in their language.
#[test]
#[cfg(target_os = "linux")]
fn a_phone_is_paired_in_german() {
    let folder = tempfile::tempdir().unwrap();
    let (bench, _, phone, _) = networked(folder.path());
    let door = phone.lan.clone();
    let likes = format!("Host: {door}\r\nAccept-Language: de\r\n");
    let asked = ask(&door, "GET /", &likes, b"");
    assert!(
        asked.status == 401 && asked.body.contains("Dieses Telefon koppeln"),
        "{asked:?}"
    );
    is_german("the code", &asked.body);
    let heads = format!("{likes}Origin: http://{door}\r\nContent-Type: application/json\r\n");
    let wrong = ask(&door, "POST /pair", &heads, b"{\"code\":\"none\"}");
    assert!(
        wrong.status == 401 && wrong.body.contains("Das ist nicht der Code"),
        "{wrong:?}"
    );
    is_german("a wrong code", &wrong.body);
    let shown = bench.german("/phones").body;
    assert!(shown.contains("Kein Telefon ist gekoppelt."), "{shown}");
    is_german("the phones", &shown);
}
