//! What is said of findings built by hand, in German: no English is left, and the figures are the English ones.

#[path = "../../common/words.rs"]
mod words;

use super::fixture::{empty, full, shut, with_system};
use super::{contract_case, many};
use crate::language::{Language, Said};
use crate::record::{Moves, Pattern, RepairEntry, Stage};
use crate::report::{self, plots, terminal};
use crate::run::Findings;
use words::{counted, english_in, numbers, text_of};

/// What the fixtures have of a user.
const AS_WRITTEN: [&str; 2] = ["beamfall isolate", "Grey three-door car, invented for this example"];

/// Jobs in as many states as there are sentences for.
fn cases() -> Vec<(&'static str, Findings)> {
    let mut cases = vec![
        ("contract", contract_case()),
        ("full", full()),
        ("shut", shut()),
        ("many", many()),
        ("empty", empty()),
        ("untested", with_system("vacuum-cabin-control", &[])),
        (
            "bonnet",
            with_system(
                "vacuum-bonnet-control",
                &[("operate-left", Moves::No), ("operate-right", Moves::Yes)],
            ),
        ),
    ];
    let mut before = many();
    before
        .readings
        .retain(|reading| reading.shot.stage == Some(Stage::Before));
    before.job.repair = Vec::new();
    cases.push(("before", before));
    let mut soft = full();
    for (n, reading) in soft.readings.iter_mut().enumerate() {
        reading.shot.stage = None;
        if let Ok(measured) = &mut reading.result {
            let cutoff = &mut measured.aim.cutoff;
            cutoff.sharpness_g = if n % 2 == 0 { 0.1 } else { 0.5 };
            cutoff.pattern = [Pattern::Step, Pattern::Flat][n % 2];
            measured.aim.reach_m = None;
        }
    }
    soft.table = None;
    soft.job.made_photos = true;
    soft.job.repair = vec![RepairEntry {
        component: None,
        date: "2031-03-05".to_owned(),
        words: "ersetzt".to_owned(),
        extent: None,
    }];
    cases.push(("soft", soft));
    for (_, case) in &mut cases {
        for reading in &mut case.readings {
            if let Err(refusal) = &mut reading.result {
                refusal.message = Said::as_written("wie geschrieben");
            }
        }
    }
    cases
}

/// All that is said of a case, and whether each line is by itself.
fn said(language: Language, case: &Findings) -> [(String, bool); 3] {
    // Of narrower terminals a column may be left out, by how long a language's words are.
    let columns = terminal::MOST_COLUMNS;
    let figures = plots::figures(language, case).unwrap();
    let page = report::page(language, case, &figures).unwrap().0;
    [
        (terminal::readings_at(language, case, false, false, columns), false),
        (terminal::readings_at(language, case, true, false, columns), false),
        (text_of(&page), true),
    ]
}

#[test]
fn no_english_is_left_and_the_figures_are_the_same() {
    let mut left = Vec::new();
    for (name, case) in cases() {
        let [english, german] = [Language::English, Language::German].map(|language| said(language, &case));
        for ((english, _), (german, by_line)) in english.into_iter().zip(german) {
            let ours = AS_WRITTEN
                .iter()
                .fold(german.clone(), |said, words| said.replace(words, ""));
            left.extend(
                english_in(&ours, by_line)
                    .into_iter()
                    .map(|place| format!("{name}: {place}")),
            );
            let (english, german) = (counted(numbers(&english, false)), counted(numbers(&german, true)));
            for (number, times) in &english {
                if german.get(number) != Some(times) {
                    left.push(format!(
                        "{name}: {number} {times} times, in German {:?}",
                        german.get(number)
                    ));
                }
            }
            let more = german.keys().filter(|number| !english.contains_key(*number));
            left.extend(more.map(|number| format!("{name}: {number} only in German")));
        }
    }
    left.sort();
    left.dedup();
    assert!(left.is_empty(), "{} places:\n{}", left.len(), left.join("\n"));
}
