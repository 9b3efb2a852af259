//! What came of reading a report's evidence again.

use super::super::document::{Block, Item, List, Margin, Section, Sign, Text};
use super::super::evidence::{SignatureState, Verified};
use crate::language::{Language, said};

/// Most faults that are said one by one; a file that is not the job's at all has hundreds.
const MOST_FAULTS: usize = 40;

/// The answer, and what it rests on.
pub(super) fn sections(language: Language, verified: &Verified) -> Vec<Section> {
    let mut faults: Vec<Item> = verified
        .faults
        .iter()
        .take(MOST_FAULTS)
        .map(|fault| Item::signed(Sign::Bad, fault.said(language)))
        .collect();
    let more = verified.faults.len().saturating_sub(MOST_FAULTS);
    if more > 0 {
        faults.push(Item::from(said!(language; "and {more} more", "und {more} weitere")));
    }
    let mut blocks = vec![Block::text(answer(language, verified))];
    if !faults.is_empty() {
        blocks.push(Block::List(List {
            items: faults,
            ..List::default()
        }));
    }
    blocks.push(Block::text(rests_on(language, verified)));
    blocks.extend(verified.other_program.as_ref().map(|program| {
        Block::text(said!(
            language; "The report was made by {program}, and read again by {} here: figures were compared to a unit of their last \
             digit, and pictures by their digests alone.",
            "Der Bericht wurde mit {program} erstellt und hier mit {} nachgeprüft: Werte wurden bis auf eine Einheit ihrer letzten \
             Stelle verglichen, Bilder nur anhand ihrer Prüfsummen.";
            crate::PROGRAM
        ))
    }));
    vec![Section {
        margin: Margin::Flush,
        ..Section::new("", blocks)
    }]
}

fn answer(language: Language, verified: &Verified) -> Text {
    let job = &verified.job;
    if verified.faults.is_empty() {
        let said = said!(
            language; "The report of job {job} holds: the photos give its figures again.",
            "Der Bericht zum Auftrag {job} hält stand: Die Fotos ergeben seine Werte noch einmal."
        );
        return Text::default().sign(Sign::Good).strong(format!(" {said}"));
    }
    let things = if verified.faults.len() == 1 {
        language.pick("one thing is not as it was", "Eines ist nicht mehr so")
    } else {
        language.pick("these are not as they were", "Folgendes ist nicht mehr so")
    };
    let said = said!(
        language; "The report of job {job} does not hold: {things} when it was made.",
        "Der Bericht zum Auftrag {job} hält nicht stand: {things} wie bei seiner Erstellung."
    );
    Text::default().sign(Sign::Bad).strong(format!(" {said}"))
}

fn rests_on(language: Language, verified: &Verified) -> String {
    let [read, written] = verified.unchanged;
    let signature = match verified.signature {
        SignatureState::None => language.pick(
            "It is not signed: whoever changes a photo and makes the report anew is not found out.",
            "Er ist nicht signiert: Wer ein Foto ändert und den Bericht neu erstellt, wird nicht entdeckt.",
        ),
        SignatureState::Unchecked => language.pick(
            "It is signed, and the signature was not found to be by a key: give the public one by --key.",
            "Er ist signiert, doch wurde die Signatur an keinem Schlüssel geprüft: den öffentlichen mit --key angeben.",
        ),
        SignatureState::ByKey => language.pick(
            "It is signed by the key that was given.",
            "Er ist mit dem angegebenen Schlüssel signiert.",
        ),
    };
    said!(
        language; "As they were: {read} files that were read (photos, job, bay, tables) and {written} of the report. Worked out anew and \
         the same: {} figures. {signature}",
        "Unverändert: {read} gelesene Dateien (Fotos, Auftrag, Messplatz, Tabellen) und {written} des Berichts. Neu berechnet und \
         gleich: {} Werte. {signature}";
        verified.figures
    )
}
