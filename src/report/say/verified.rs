//! What came of reading a report's evidence again.

use super::super::document::{Block, Item, List, Margin, Section, Sign, Text};
use super::super::evidence::{SignatureState, Verified};

/// Most faults that are said one by one; a file that is not the job's at all has hundreds.
const MOST_FAULTS: usize = 40;

/// The answer, and what it rests on.
pub(super) fn sections(verified: &Verified) -> Vec<Section> {
    let mut faults: Vec<Item> = verified
        .faults
        .iter()
        .take(MOST_FAULTS)
        .map(|fault| Item::signed(Sign::Bad, fault.to_string()))
        .collect();
    let more = verified.faults.len().saturating_sub(MOST_FAULTS);
    if more > 0 {
        faults.push(Item::from(format!("and {more} more")));
    }
    let mut blocks = vec![Block::text(answer(verified))];
    if !faults.is_empty() {
        blocks.push(Block::List(List {
            items: faults,
            ..List::default()
        }));
    }
    blocks.push(Block::text(rests_on(verified)));
    blocks.extend(verified.other_program.as_ref().map(|program| {
        Block::text(format!(
            "The report was made by {program}, and read again by {} here: figures were compared to a unit of their last digit, and \
             pictures by their digests alone.",
            crate::PROGRAM
        ))
    }));
    vec![Section {
        margin: Margin::Flush,
        ..Section::new("", blocks)
    }]
}

fn answer(verified: &Verified) -> Text {
    let job = &verified.job;
    if verified.faults.is_empty() {
        let said = format!("The report of job {job} holds: the photos give its figures again.");
        return Text::default().sign(Sign::Good).strong(format!(" {said}"));
    }
    let things = if verified.faults.len() == 1 {
        "one thing is not as it was"
    } else {
        "these are not as they were"
    };
    let said = format!("The report of job {job} does not hold: {things} when it was made.");
    Text::default().sign(Sign::Bad).strong(format!(" {said}"))
}

fn rests_on(verified: &Verified) -> String {
    let [read, written] = verified.unchanged;
    let signature = match verified.signature {
        SignatureState::None => "It is not signed: whoever changes a photo and makes the report anew is not found out.",
        SignatureState::Unchecked => {
            "It is signed, and the signature was not found to be by a key: give the public one by --key."
        }
        SignatureState::ByKey => "It is signed by the key that was given.",
    };
    format!(
        "As they were: {read} files that were read (photos, job, bay, tables) and {written} of the report. Worked out anew and the same: \
         {} figures. {signature}",
        verified.figures
    )
}
