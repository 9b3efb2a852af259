//! What came of reading a report's evidence again.

use super::super::document::{Block, Item, List, Margin, Section, Sign, Text};
use super::super::evidence::{Fault, SignatureState, Verified};
use crate::language::{Language, said};

/// Most faults that are said one by one; a file that is not the job's at all has hundreds.
const MOST_FAULTS: usize = 40;
/// The same of figures beside something that was changed, and from which they may follow.
const MOST_EXPLAINED: usize = 8;

/// The answer, and what it rests on.
pub(super) fn sections(language: Language, verified: &Verified) -> Vec<Section> {
    let (figures, causes): (Vec<&Fault>, Vec<&Fault>) =
        (verified.faults.iter()).partition(|fault| matches!(fault, Fault::Says { .. }));
    // A figure says more than a digest.
    let is_digest = |stated: &str| stated.len() >= 12 && stated.bytes().all(|byte| byte.is_ascii_hexdigit());
    let (digests, figures): (Vec<&Fault>, Vec<&Fault>) = (figures.into_iter())
        .partition(|fault| matches!(fault, Fault::Says { difference, .. } if is_digest(&difference.stated)));
    let figures = [figures, digests].concat();
    let signed = |fault: &&Fault| Item::signed(Sign::Bad, fault.said(language));
    let mut faults: Vec<Item> = causes.iter().take(MOST_FAULTS).map(signed).collect();
    let left = causes.len().saturating_sub(MOST_FAULTS);
    let is_explained = !causes.is_empty() && !figures.is_empty();
    if is_explained {
        faults.push(Item::from(said!(
            language; "figures that may differ for that alone:", "Werte, die allein deshalb abweichen können:"
        )));
    }
    let most = if is_explained { MOST_EXPLAINED } else { MOST_FAULTS };
    faults.extend(figures.iter().take(most).map(signed));
    let more = left + figures.len().saturating_sub(most);
    if more > 0 {
        faults.push(Item::from(
            said!(language; "and {more} more; --json has them all", "und {more} weitere; --json nennt alle"),
        ));
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
            "It is signed; whose signature it is was not looked at: give the public key by --key.",
            "Er ist signiert; von wem, wurde nicht geprüft: den öffentlichen Schlüssel mit --key angeben.",
        ),
        SignatureState::NotByKey => language.pick(
            "It is signed, but not by the key that was given, or it was changed since.",
            "Er ist signiert, aber nicht mit dem angegebenen Schlüssel, oder er wurde seitdem geändert.",
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
