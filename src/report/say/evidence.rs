//! By what each photo can be known again.

use super::super::document::{Block, Cell, Section, Table, Text};
use super::readings::taken;
use crate::aim::{OtherPhoto, Use};
use crate::photo::Capture;
use crate::run::Findings;
use std::path::Path;

/// The digest of each photo's file, with when and how it was taken.
pub(super) fn digests(findings: &Findings) -> Option<Section> {
    let mut table = Table::new(
        "cards stack",
        [("name", "Photo"), ("", "Taken"), ("", "Exposure"), ("", "SHA-256")],
    );
    for reading in &findings.readings {
        let photo = reading.shot.photo.display().to_string();
        let digest = reading.sha256.as_deref().unwrap_or("could not be read");
        table.row([
            photo.as_str().into(),
            taken(reading).unwrap_or_else(|| "not known".to_owned()).into(),
            exposure(&reading.capture).into(),
            Text::default().code(digest).into(),
        ]);
    }
    for (other, of) in others(findings) {
        let used = match other.used_as {
            Use::Bracket => "at another exposure",
            Use::LampOff => "with the lamp off",
            Use::Wall => "of the wall by the room's light",
        };
        let of = match of[..] {
            [photo] => photo.display().to_string(),
            _ => format!("{} photos", of.len()),
        };
        table.row([
            other.photo.display().to_string().into(),
            Cell {
                span: 2,
                label: Some("Use"),
                ..Cell::from(format!("{used}, for {of}"))
            },
            Text::default().code(other.sha256.as_str()).into(),
        ]);
    }
    let about = "The SHA-256 digest of each photo's file. A photo that was changed afterwards has another one.";
    let blocks = vec![Block::text(about), Block::Table(table)];
    (!findings.readings.is_empty()).then(|| Section::new("Evidence", blocks))
}

/// The photos that were read with others, each once, with those that it was read with.
fn others(findings: &Findings) -> Vec<(&OtherPhoto, Vec<&Path>)> {
    let mut others: Vec<(&OtherPhoto, Vec<&Path>)> = Vec::new();
    for reading in &findings.readings {
        for other in &reading.others {
            match others.iter_mut().find(|(known, _)| *known == other) {
                Some((_, of)) => of.push(&reading.shot.photo),
                None => others.push((other, vec![&reading.shot.photo])),
            }
        }
    }
    others
}

fn exposure(capture: &Capture) -> String {
    let mut parts = Vec::new();
    if let Some(s) = capture.exposure_s {
        parts.push(if s < 0.3 && s > 0.0 {
            format!("1/{:.0} s", 1.0 / s)
        } else {
            format!("{} s", super::super::text::round(s, 6))
        });
    }
    if let Some(f) = capture.f_number {
        parts.push(format!("f/{}", super::super::text::round(f, 2)));
    }
    if let Some(iso) = capture.iso {
        parts.push(format!("ISO {iso}"));
    }
    if parts.is_empty() {
        "not known".to_owned()
    } else {
        parts.join(", ")
    }
}
