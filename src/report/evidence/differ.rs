//! Where two versions of a file differ, in words that name the figure.

use super::paper;
use crate::language::{Language, said};
use serde::Serialize;
use serde_json::Value;

/// How near figures have to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Closeness {
    /// The same to the last bit: both are of one program.
    Same,
    /// As another build of the program may have them: to a unit of the last digit that is shown.
    LastDigit,
}

/// One place where a file says something else than it should.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Where: a key with its path, a line and a column.
    pub place: String,
    /// What stands there.
    pub stated: String,
    /// What should stand there.
    pub found: String,
}

/// Most differences that are named of one file: the first tell what kind they are.
const MOST: usize = 12;
/// Most letters of a text that are shown.
const MOST_LETTERS: usize = 60;

/// The languages of a comparison.
#[derive(Debug, Clone, Copy)]
pub(super) struct SaidIn {
    /// That of the compared files, whose figures may have a comma.
    pub report: Language,
    /// That in which differences are told.
    pub faults: Language,
}

/// Where a file of a report differs from what it should be; by its name's ending.
pub(super) fn of_file(
    said_in: SaidIn,
    name: &str,
    stated: &[u8],
    found: &[u8],
    closeness: Closeness,
) -> Vec<Difference> {
    if stated == found {
        return Vec::new();
    }
    let language = said_in.faults;
    if name.ends_with(".pdf")
        && let (Some(stated), Some(found)) = (paper::words(stated), paper::words(found))
    {
        let differences = of_text(said_in, &stated, &found, closeness);
        if !differences.is_empty() || closeness != Closeness::Same {
            return differences;
        }
    }
    let text = |bytes| std::str::from_utf8(bytes).ok();
    let (Some(stated_text), Some(found_text)) = (text(stated), text(found)) else {
        // A picture that another build draws may differ by a hair; its drawing is compared.
        let is_paper = name.ends_with(".pdf");
        let (other, this) = if is_paper {
            (
                language.pick("other pages", "andere Seiten"),
                language.pick("these", "diese"),
            )
        } else {
            (
                language.pick("another picture", "ein anderes Bild"),
                language.pick("this one", "dieses"),
            )
        };
        return (closeness == Closeness::Same || is_paper)
            .then(|| difference(whole_file(language), other, this))
            .into_iter()
            .collect();
    };
    if name.ends_with(".json")
        && let (Ok(stated), Ok(found)) = (serde_json::from_str(stated_text), serde_json::from_str(found_text))
    {
        let mut differences = Vec::new();
        of_json(language, "", &stated, &found, closeness, &mut differences);
        if differences.is_empty() && closeness == Closeness::Same {
            differences.push(difference(
                whole_file(language),
                language.pick("the same figures in another form", "dieselben Werte in anderer Form"),
                language.pick("the usual form", "die übliche Form"),
            ));
        }
        return differences;
    }
    // Figures for machines have no comma, and a comma parts them.
    let report = if name.ends_with(".csv") {
        Language::English
    } else {
        said_in.report
    };
    of_text(SaidIn { report, ..said_in }, stated_text, found_text, closeness)
}

fn whole_file(language: Language) -> &'static str {
    language.pick("the whole file", "die ganze Datei")
}

fn difference(place: impl Into<String>, stated: impl Into<String>, found: impl Into<String>) -> Difference {
    let short = |text: String| match text.char_indices().nth(MOST_LETTERS) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text,
    };
    Difference {
        place: place.into(),
        stated: short(stated.into()),
        found: short(found.into()),
    }
}

/// Whether two figures are as near as they have to be. Those of files are shown to four places at the most, per cent.
fn alike(stated: f64, found: f64, closeness: Closeness) -> bool {
    match closeness {
        // Text between keeps a double to its last bit, or next to it.
        Closeness::Same => (stated - found).abs() <= 4.0 * f64::EPSILON * found.abs(),
        Closeness::LastDigit => (stated - found).abs() <= 1.01e-4 * found.abs().max(1.0),
    }
}

/// Differences of two values, key by key.
pub(super) fn of_json(
    language: Language,
    place: &str,
    stated: &Value,
    found: &Value,
    closeness: Closeness,
    into: &mut Vec<Difference>,
) {
    if into.len() >= MOST {
        return;
    }
    match (stated, found) {
        (Value::Object(a), Value::Object(b)) => {
            let keys = a.keys().chain(b.keys().filter(|key| !a.contains_key(*key)));
            for key in keys {
                let place = if place.is_empty() {
                    key.clone()
                } else {
                    format!("{place}.{key}")
                };
                match (a.get(key), b.get(key)) {
                    (Some(a), Some(b)) => of_json(language, &place, a, b, closeness, into),
                    (a, b) => into.push(difference(place, shown(language, a), shown(language, b))),
                }
            }
        }
        (Value::Array(a), Value::Array(b)) => {
            for n in 0..a.len().max(b.len()) {
                match (a.get(n), b.get(n)) {
                    (Some(one), Some(other)) => {
                        of_json(
                            language,
                            &format!("{place}{}", entry(n, other)),
                            one,
                            other,
                            closeness,
                            into,
                        );
                    }
                    (one, other) => into.push(difference(
                        format!("{place}[{n}]"),
                        shown(language, one),
                        shown(language, other),
                    )),
                }
            }
        }
        (Value::Number(a), Value::Number(b)) => {
            let both = a.as_f64().zip(b.as_f64());
            if !both.is_some_and(|(a, b)| alike(a, b, closeness)) {
                into.push(difference(place, a.to_string(), b.to_string()));
            }
        }
        _ if stated == found => {}
        (Value::String(a), Value::String(b)) => {
            let said_in = SaidIn {
                report: Language::English,
                faults: language,
            };
            let mut inner = of_text(said_in, a, b, closeness);
            if let Some(first) = inner.drain(..).next() {
                into.push(difference(place, first.stated, first.found));
            }
        }
        _ => into.push(difference(
            place,
            shown(language, Some(stated)),
            shown(language, Some(found)),
        )),
    }
}

/// An entry of a list: by what it is of, a photo, a part or a test, where it says so.
fn entry(n: usize, value: &Value) -> String {
    let mut names = ["photo", "component", "test"].into_iter();
    match names.find_map(|key| value.get(key)?.as_str()) {
        Some(name) => format!("[{name}]"),
        None => format!("[{n}]"),
    }
}

fn shown(language: Language, value: Option<&Value>) -> String {
    value.map_or_else(|| language.pick("nothing", "nichts").to_owned(), ToString::to_string)
}

/// The first place in each of the first lines that differ.
fn of_text(said_in: SaidIn, stated: &str, found: &str, closeness: Closeness) -> Vec<Difference> {
    let language = said_in.faults;
    let mut differences = Vec::new();
    let (mut a, mut b) = (stated.lines(), found.lines());
    let mut number = 0;
    loop {
        number += 1;
        let (one, other) = match (a.next(), b.next()) {
            (None, None) => break,
            (one, other) => (one.unwrap_or_default(), other.unwrap_or_default()),
        };
        let Some(at) = first_apart(said_in.report, one, other, closeness) else {
            continue;
        };
        differences.push(difference(
            said!(language; "line {number}", "Zeile {number}"),
            around(one, at),
            around(other, at),
        ));
        if differences.len() >= MOST {
            break;
        }
    }
    if differences.is_empty() && closeness == Closeness::Same && stated != found {
        differences.push(difference(
            whole_file(language),
            language.pick("other line ends", "andere Zeilenenden"),
            language.pick("the usual ones", "die üblichen"),
        ));
    }
    differences
}

/// Byte at which two lines begin to differ, each counted in letters that both share up to there.
fn first_apart(report: Language, stated: &str, found: &str, closeness: Closeness) -> Option<usize> {
    if stated == found {
        return None;
    }
    if closeness == Closeness::LastDigit {
        let [stated, found] = [stated, found].map(|line| with_points(report, line));
        let (a, b) = (pieces(&stated), pieces(&found));
        let mut at = 0;
        for (one, other) in a.iter().zip(&b) {
            if !pieces_alike(one, other) {
                return Some(at);
            }
            at += one.len();
        }
        return (a.len() != b.len()).then_some(at);
    }
    let same = stated.char_indices().zip(found.chars()).find(|((_, a), b)| a != b);
    Some(same.map_or(stated.len().min(found.len()), |((at, _), _)| at))
}

/// A line with a point in each figure that has a comma: between digits, behind which no point follows as in two places of a drawing.
fn with_points(report: Language, line: &str) -> String {
    if report == Language::English {
        return line.to_owned();
    }
    let bytes = line.as_bytes();
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let digits_before = |at: usize| (0..at).rev().take_while(|&n| is_digit(n)).count();
    let digits_after = |at: usize| (at + 1..bytes.len()).take_while(|&n| is_digit(n)).count();
    let is_decimal = |at: usize| {
        let (before, after) = (digits_before(at), digits_after(at));
        let parted = |n: Option<usize>| {
            n.and_then(|n| bytes.get(n))
                .is_some_and(|byte| matches!(byte, b'.' | b','))
        };
        before > 0 && after > 0 && !parted((at - before).checked_sub(1)) && bytes.get(at + after + 1) != Some(&b'.')
    };
    line.char_indices()
        .map(|(at, c)| if c == ',' && is_decimal(at) { '.' } else { c })
        .collect()
}

/// A line in numbers and what stands between them.
fn pieces(line: &str) -> Vec<&str> {
    let is_of_number = |c: char| c.is_ascii_digit() || c == '.';
    let mut pieces = Vec::new();
    let mut rest = line;
    while let Some(first) = rest.chars().next() {
        let kind = is_of_number(first);
        let end = rest.find(|c| is_of_number(c) != kind).unwrap_or(rest.len());
        let (piece, after) = rest.split_at(end);
        pieces.push(piece);
        rest = after;
    }
    pieces
}

/// Whether two pieces say the same: numbers of as many decimals to a unit of the last.
fn pieces_alike(stated: &str, found: &str) -> bool {
    if stated == found {
        return true;
    }
    let decimals = |piece: &str| piece.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let unit = 10_f64.powi(-i32::try_from(decimals(stated)).unwrap_or(0));
    let both = stated.parse::<f64>().ok().zip(found.parse::<f64>().ok());
    decimals(stated) == decimals(found)
        && decimals(stated) > 0
        && both.is_some_and(|(a, b)| (a - b).abs() <= 1.01 * unit)
}

/// What stands around a place in a line, without the page's marks and on one line.
fn around(line: &str, at: usize) -> String {
    const BEFORE: usize = 24;
    let start = line.floor_char_boundary(at.saturating_sub(BEFORE));
    let end = line.ceil_char_boundary((at + BEFORE).min(line.len()));
    let part = line.get(start..end).unwrap_or_default();
    // A mark that the part begins or ends within is cut off too.
    let part = part
        .split_once('>')
        .filter(|(head, _)| !head.contains('<'))
        .map_or(part, |(_, rest)| rest);
    let mut text = String::new();
    let mut inside = false;
    for c in part.chars() {
        match c {
            '<' => inside = true,
            '>' if inside => {
                inside = false;
                text.push(' ');
            }
            c if !inside => text.push(c),
            _ => {}
        }
    }
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if text.is_empty() { part.to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ENGLISH: SaidIn = SaidIn {
        report: Language::English,
        faults: Language::English,
    };

    fn first(name: &str, stated: &str, found: &str, closeness: Closeness) -> Option<Difference> {
        of_file(ENGLISH, name, stated.as_bytes(), found.as_bytes(), closeness)
            .into_iter()
            .next()
    }

    #[test]
    fn a_comma_of_a_figure_is_no_comma_of_a_list() {
        let points = |line: &str| with_points(Language::German, line);
        assert_eq!(points("1,22 % ± 0,07 %, dann 3,45"), "1.22 % ± 0.07 %, dann 3.45");
        for as_is in ["1.50,2.50 3.25,4.75", "1, 2 und 3", "a,1", "1,2.5", "1.2,5"] {
            assert_eq!(points(as_is), as_is);
        }
        assert_eq!(with_points(Language::English, "1,22"), "1,22");
        let german = SaidIn {
            report: Language::German,
            faults: Language::German,
        };
        let page = "<p>1,22 % ± 0,07 %";
        let of = |other: &str| {
            of_file(
                german,
                "report.html",
                other.as_bytes(),
                page.as_bytes(),
                Closeness::LastDigit,
            )
        };
        assert!(of("<p>1,23 % ± 0,07 %").is_empty());
        assert_eq!(of("<p>1,24 % ± 0,07 %")[0].place, "Zeile 1");
    }

    #[test]
    fn a_changed_figure_is_named_by_its_place() {
        let found = r#"{"shots": [{"photo": "a.jpg", "inclination": {"percent": 1.2, "u95_percent": 0.06}}], "n": 2}"#;
        let stated = found.replace("1.2,", "1.4,");
        let seen = first("results.json", &stated, found, Closeness::Same).unwrap();
        assert_eq!(seen.place, "shots[a.jpg].inclination.percent");
        assert_eq!((seen.stated.as_str(), seen.found.as_str()), ("1.4", "1.2"));
        let gone = first("results.json", r#"{"shots": []}"#, found, Closeness::Same).unwrap();
        assert_eq!((gone.place.as_str(), gone.stated.as_str()), ("shots[0]", "nothing"));
        let page = "<p>Left\n<td>1.22 % ± 0.07 %</td><td>inside</td>\n";
        let seen = first("report.html", &page.replace("1.22", "1.32"), page, Closeness::Same).unwrap();
        assert_eq!(seen.place, "line 2");
        assert!(
            seen.stated.contains("1.32 %") && seen.found.contains("1.22 %"),
            "{seen:?}"
        );
    }

    #[test]
    fn another_build_may_have_other_last_digits_and_no_more() {
        let page = "<p>1.22 % ± 0.07 % on 3 photos";
        for (other, same) in [
            ("<p>1.23 % ± 0.07 % on 3 photos", true),
            ("<p>1.24 % ± 0.07 % on 3 photos", false),
            ("<p>1.22 % ± 0.07 % on 4 photos", false),
            ("<p>1.22 % ± 0.07 % on 3 pictures", false),
            ("<p>1.220 % ± 0.07 % on 3 photos", false),
            ("<p>1.22 % ± 0.07 %", false),
        ] {
            assert_eq!(
                first("report.html", other, page, Closeness::LastDigit).is_none(),
                same,
                "{other}"
            );
            assert!(first("report.html", other, page, Closeness::Same).is_some());
        }
        let json = |percent: f64| format!(r#"{{"percent": {percent}}}"#);
        assert!(first("a.json", &json(1.2001), &json(1.2), Closeness::LastDigit).is_none());
        assert!(first("a.json", &json(1.2003), &json(1.2), Closeness::LastDigit).is_some());
        assert!(first("a.json", &json(1.2 + 1e-9), &json(1.2), Closeness::Same).is_some());
        assert!(first("a.png", "", "", Closeness::Same).is_none());
        let picture = |last| [0xFF, 0xFE, last];
        assert_eq!(
            of_file(ENGLISH, "a.png", &picture(1), &picture(2), Closeness::Same).len(),
            1
        );
    }

    #[test]
    fn the_same_in_another_form_is_told_too() {
        let seen = first("results.json", "{\"a\":1}", "{\"a\": 1}\n", Closeness::Same).unwrap();
        assert_eq!(seen.place, "the whole file");
        assert!(first("readings.csv", "a,b\r\n", "a,b\n", Closeness::Same).is_some());
    }
}
