//! German words of what the files in `calibration/` say: looked up by the sentence, which is how a text that was changed is
//! found to have none, and how a file that was copied and edited keeps those of what it left as it was.

use crate::error::Error;
use crate::language::{Language, Said};
use serde::Deserialize;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::LazyLock;

/// The words travel inside the program.
const SHIPPED: &str = include_str!("../../calibration/words.de.toml");

static GERMAN: LazyLock<BTreeMap<String, String>> =
    LazyLock::new(|| toml::from_str::<WordsFile>(SHIPPED).map_or_else(|_| BTreeMap::new(), |file| file.words));

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WordsFile {
    #[serde(rename = "schema")]
    _schema: u32,
    words: BTreeMap<String, String>,
}

/// Words that a user's own file has for its own texts, each beside the text or one of its sentences: its table `[words.de]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct OwnWords {
    #[serde(default)]
    de: BTreeMap<String, String>,
    /// Those that a text was given.
    #[serde(skip)]
    used: RefCell<BTreeSet<String>>,
}

impl OwnWords {
    /// A file's text in each language: its own words, else those that the program has, for the whole of it or for each of
    /// its sentences; a sentence without any stays as it is written.
    pub fn said(&self, text: &str) -> Said {
        let own = |part: &str| {
            let words = self.de.get(part)?;
            self.used.borrow_mut().insert(part.to_owned());
            Some(words)
        };
        let german = |part: &str| own(part).or_else(|| GERMAN.get(part)).cloned();
        let by_sentence = || {
            let parts = sentences(text).map(|part| german(part).unwrap_or_else(|| part.to_owned()));
            parts.collect::<Vec<_>>().join(" ")
        };
        Said::of(|language| match language {
            Language::English => text.to_owned(),
            Language::German => german(text).unwrap_or_else(by_sentence),
        })
    }

    /// Fails where a word belongs to none of the texts that were said: a slip, or what was left when a text was changed.
    ///
    /// # Errors
    /// [`Error`] that names it.
    pub fn check_all_used(&self, path: &Path) -> Result<(), Error> {
        let used = self.used.borrow();
        self.de.keys().find(|words| !used.contains(*words)).map_or(Ok(()), |words| {
            let message = format!(
                "words.de has words for \"{words}\", and no text of this file is that, nor has it as a sentence; write it as the \
                 text is written, or take it out"
            );
            Err(Error::in_file(path, message))
        })
    }

    /// The same of several texts.
    pub fn all_said(&self, texts: &[String]) -> Vec<Said> {
        texts.iter().map(|text| self.said(text)).collect()
    }
}

/// A text's sentences: each ends in a full stop or a mark, before a capital or the name of an outcome.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    let begins = |rest: &str| {
        rest.starts_with(char::is_uppercase)
            || ["yes:", "no:", "creeps-back:", "rod-off:", "stiff:"]
                .iter()
                .any(|outcome| rest.starts_with(outcome))
    };
    let ends = text.match_indices(['.', '?', '!']).filter_map(move |(at, _)| {
        let rest = text[at + 1..].strip_prefix(' ')?;
        begins(rest).then_some(at + 1)
    });
    let mut from = 0;
    ends.chain([text.len()]).map(move |to| {
        let sentence = text[from..to].trim_start();
        from = to;
        sentence
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::digits;
    use crate::record::{Caution, LampMark, System, ToleranceTable, system_names, table_names};

    /// Every text of the shipped files that anyone can be shown.
    fn shown() -> Vec<String> {
        let mut all: Vec<Said> = Vec::new();
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            all.extend([system.name, system.figures]);
            all.extend(system.setups.into_iter().map(|setup| setup.label));
            all.extend(system.components.into_iter().map(|component| component.label));
            for test in system.tests {
                all.extend([test.ask, test.look, test.with]);
                all.extend(test.kit.into_iter().chain(test.steps).chain(test.hazards));
            }
        }
        let mark = LampMark {
            set_percent: Some(1.0),
            ..LampMark::default()
        };
        for name in table_names() {
            let table = ToleranceTable::find(&name, Path::new("."), Some(&mark)).unwrap();
            all.extend([table.title, table.source, table.edition, table.confidence, table.note]);
        }
        let english = |said: &Said| said.within(Language::English).to_owned();
        let cautions = Caution::ALL.iter().map(|caution| caution.text().to_owned());
        all.iter().map(english).chain(cautions).collect()
    }

    #[test]
    fn every_shipped_text_has_its_german_words_and_no_word_is_left_over() {
        let mut used = BTreeSet::new();
        for text in shown() {
            let parts: Vec<&str> = if GERMAN.contains_key(&text) {
                vec![&text]
            } else {
                sentences(&text).collect()
            };
            for part in parts.into_iter().filter(|part| !part.is_empty()) {
                assert!(GERMAN.contains_key(part), "no German for \"{part}\"");
                used.insert(part.to_owned());
            }
        }
        for (english, german) in GERMAN.iter() {
            assert!(used.contains(english), "no shipped file says \"{english}\"");
            assert_eq!(digits(english), digits(german), "{english}");
            assert!(!german.trim().is_empty(), "{english}");
            let mark = |text: &str| text.chars().next_back().filter(|c| ".?!".contains(*c));
            assert_eq!(mark(english), mark(german), "{english}");
            for (left, links) in [("left", "link"), ("right", "recht")] {
                let told = |text: &str, word: &str| text.to_lowercase().contains(word);
                let both = told(english, &format!(" {left} ")) && !told(german, links);
                assert!(!both, "{english}: {german}");
            }
        }
    }

    #[test]
    fn what_a_copied_file_left_as_it_was_keeps_its_words_and_its_own_are_taken_first() {
        let own: OwnWords = toml::from_str("[de]\n\"Stop the engine.\" = \"Motor aus!\"").unwrap();
        let text = "Open the bonnet. Stop the engine. Mind the cat.";
        let said = own.said(text);
        assert_eq!(said.within(Language::English), text);
        assert_eq!(
            said.within(Language::German),
            "Die Motorhaube öffnen. Motor aus! Mind the cat."
        );
        assert!(own.check_all_used(Path::new("s.toml")).is_ok());
        assert!(toml::from_str::<OwnWords>("[fr]\n").is_err());
        let slip: OwnWords = toml::from_str("[de]\n\"Stop the enigne.\" = \"Motor aus!\"").unwrap();
        slip.said(text);
        let message = slip.check_all_used(Path::new("s.toml")).unwrap_err().to_string();
        assert!(message.contains("Stop the enigne."), "{message}");
    }

    #[test]
    fn sentences_end_before_a_capital_or_an_outcome() {
        let text = "yes: it rises. no: Nr. 4 falls (S10. of 0.4). Not sure? Then stop.";
        let parts: Vec<&str> = sentences(text).collect();
        assert_eq!(
            parts,
            [
                "yes: it rises.",
                "no: Nr. 4 falls (S10. of 0.4).",
                "Not sure?",
                "Then stop."
            ]
        );
    }
}
