//! A pairing as text of at most 80 columns, to be looked at before anything is written.

use super::words::{describe, push_beside};
use super::{Folder, Pairing};
use crate::language::Language;
use crate::report::terminal::COLUMNS;
use crate::report::text::{pad, plain, shorten, shorten_path, width};

/// More than this for what a photo shows would leave no room for its name.
const MOST_SHOWS: usize = 40;
/// Columns of number, time, gap, and the blanks between columns.
const TAKEN: usize = 29;

/// The pairs, what was left out, and the warnings.
#[must_use]
pub fn render(pairing: &Pairing, folder: &Folder) -> String {
    let mut text = String::new();
    // What a photo is taken to be is what has to be checked; names give way to it.
    let widest = |widths: &mut dyn Iterator<Item = usize>| widths.max().unwrap_or(0);
    let shows = widest(
        &mut pairing
            .pairs
            .iter()
            .map(|(planned, _)| width(&describe(Language::English, planned))),
    )
    .min(MOST_SHOWS);
    let file = widest(&mut pairing.pairs.iter().map(|(_, photo)| width(&photo.name))).clamp(4, COLUMNS - TAKEN - shows);
    if !pairing.pairs.is_empty() {
        text.push_str(&format!(
            "{:>4}  {}  {:>9}  {}  taken to be\n",
            "no.",
            pad("time", 8),
            "gap",
            pad("file", file)
        ));
    }
    let (mut date_before, mut time_before) = (String::new(), None);
    for (planned, photo) in &pairing.pairs {
        let taken = photo.capture.taken.clone().unwrap_or_default();
        let (date, time) = taken.split_once('T').unwrap_or((&taken, ""));
        if date != date_before {
            text.push_str(&format!("      {date}\n"));
            date.clone_into(&mut date_before);
        }
        let gap = time_before.map_or(String::new(), |before: f64| gap_words(photo.time_s - before));
        time_before = Some(photo.time_s);
        text.push_str(&format!(
            "{:>4}  {}  {gap:>9}  {}  {}\n",
            planned.number,
            pad(time, 8),
            pad(&shorten_path(&plain(&photo.name), file), file),
            shorten(&describe(Language::English, planned), shows)
        ));
    }
    if !folder.left_out.is_empty() {
        section(&mut text, "Left out");
        push_notes(&mut text, "  - ", &left_out(folder));
    }
    if !pairing.warnings.is_empty() {
        section(&mut text, "Look at these first");
        push_notes(&mut text, "  ! ", &pairing.warnings);
    }
    text
}

fn section(text: &mut String, head: &str) {
    if !text.is_empty() {
        text.push('\n');
    }
    text.push_str(&format!("{head}\n"));
}

/// One note for all files left out for the same reason.
fn left_out(folder: &Folder) -> Vec<String> {
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for out in &folder.left_out {
        match reasons.iter_mut().find(|(why, _)| *why == out.why) {
            Some((_, names)) => names.push(&out.name),
            None => reasons.push((&out.why, vec![&out.name])),
        }
    }
    let note = |(why, names): (&str, Vec<&str>)| format!("{why}: {}", names.join(", "));
    reasons.into_iter().map(note).collect()
}

fn push_notes(text: &mut String, head: &str, notes: &[String]) {
    for note in notes {
        push_beside(text, head, &plain(note));
    }
}

/// A gap in time, s, as one says it: "45 s", "1:05 min", "2:10 h", "3.1 d".
fn gap_words(gap_s: f64) -> String {
    let whole_s = gap_s.round() as i64;
    match whole_s {
        ..60 => format!("{whole_s} s"),
        60..3600 => format!("{}:{:02} min", whole_s / 60, whole_s % 60),
        3600..86_400 => format!("{}:{:02} h", whole_s / 3600, whole_s % 3600 / 60),
        _ => format!("{:.1} d", gap_s / 86_400.0),
    }
}
