//! By what each photo can be known again.

use super::super::document::{Block, Cell, Section, Table, Text};
use super::super::text::shortest;
use super::readings::taken;
use crate::aim::{OtherPhoto, Use};
use crate::language::{Language, said};
use crate::photo::Capture;
use crate::run::Findings;
use std::path::Path;

/// The digest of each photo's file, with when and how it was taken.
pub(super) fn digests(language: Language, findings: &Findings) -> Option<Section> {
    let mut table = Table::new(
        "cards stack",
        [
            ("name", language.pick("Photo", "Foto")),
            ("", language.pick("Taken", "Aufgenommen")),
            ("", language.pick("Exposure", "Belichtung")),
            ("", "SHA-256"),
        ],
    );
    for reading in &findings.readings {
        let photo = reading.shot.photo.display().to_string();
        let digest = reading
            .sha256
            .as_deref()
            .unwrap_or(language.pick("could not be read", "nicht lesbar"));
        table.row([
            photo.as_str().into(),
            taken(language, reading)
                .unwrap_or_else(|| said!(language; "not known", "nicht bekannt"))
                .into(),
            exposure(language, &reading.capture).into(),
            Text::default().code(digest).into(),
        ]);
    }
    for (other, of) in others(findings) {
        let used = match other.used_as {
            Use::Bracket => language.pick("at another exposure", "mit anderer Belichtung"),
            Use::LampOff => language.pick("with the lamp off", "ohne Licht"),
            Use::Wall => language.pick("of the wall by the room's light", "von der Wand bei Raumlicht"),
        };
        let of = match of[..] {
            [photo] => photo.display().to_string(),
            _ => said!(language; "{} photos", "{} Fotos"; of.len()),
        };
        table.row([
            other.photo.display().to_string().into(),
            Cell {
                span: 2,
                label: Some(language.pick("Use", "Verwendung")),
                ..Cell::from(said!(language; "{used}, for {of}", "{used}, zu {of}"))
            },
            Text::default().code(other.sha256.as_str()).into(),
        ]);
    }
    let about = language.pick(
        "The SHA-256 digest of each photo's file. A photo that was changed afterwards has another one.",
        "Die SHA-256-Prüfsumme der Datei jedes Fotos. Ein nachträglich verändertes Foto hat eine andere.",
    );
    let blocks = vec![Block::text(about), Block::Table(table)];
    (!findings.readings.is_empty()).then(|| Section::new(language.pick("Evidence", "Nachweis"), blocks))
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

fn exposure(language: Language, capture: &Capture) -> String {
    let mut parts = Vec::new();
    if let Some(s) = capture.exposure_s {
        parts.push(if s < 0.3 && s > 0.0 {
            format!("1/{:.0} s", 1.0 / s)
        } else {
            format!("{} s", shortest(language, s, 6))
        });
    }
    if let Some(f) = capture.f_number {
        parts.push(format!("f/{}", shortest(language, f, 2)));
    }
    if let Some(iso) = capture.iso {
        parts.push(format!("ISO {iso}"));
    }
    if parts.is_empty() {
        said!(language; "not known", "nicht bekannt")
    } else {
        parts.join(", ")
    }
}
