//! The languages that what is said comes in, and how a sentence is written: once in each, beside each other, where it is said.
//!
//! A sentence is written with `said!`, English first: a language left out does not compile, and who changes the one sees the
//! other. What is kept with a reading before it is known who reads it, such as a refusal's words, is [`Said`]: both at once.
//! Words that hold nothing that changes are picked by [`Language::pick`]. Figures go through [`Language::figure`], since German
//! writes a decimal comma. Machine forms (JSON, CSV) are English always.

use serde::{Deserialize, Serialize};

/// A language of the report and of the terminal.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize, clap::ValueEnum)]
pub enum Language {
    /// English, with decimal points.
    #[default]
    #[serde(rename = "en")]
    #[value(name = "en")]
    English,
    /// German, with decimal commas.
    #[serde(rename = "de")]
    #[value(name = "de")]
    German,
}

impl Language {
    /// Its tag by BCP 47, as pages and PDFs name it.
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// A figure with so many places, as this language writes it.
    pub fn decimal(self, value: f64, places: usize) -> String {
        self.figure(&format!("{value:.places$}"))
    }

    /// Words that hold nothing that changes, in this language.
    pub const fn pick(self, english: &'static str, german: &'static str) -> &'static str {
        match self {
            Self::English => english,
            Self::German => german,
        }
    }

    /// A figure that was written with a decimal point and a hyphen for a minus, as people read it in this language.
    pub fn shown(self, written: &str) -> String {
        self.figure(written).replace('-', "−")
    }

    /// A figure that was written with a decimal point, as this language writes it, and as it can be typed again.
    pub fn figure(self, written: &str) -> String {
        match self {
            Self::English => written.to_owned(),
            Self::German => written.replace('.', ","),
        }
    }
}

/// Words in every language at once.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Said {
    english: String,
    german: String,
}

impl Said {
    /// What `say` says in each language.
    pub fn of(say: impl Fn(Language) -> String) -> Self {
        Self {
            english: say(Language::English),
            german: say(Language::German),
        }
    }

    /// Words that stand in every language as they are: a name, a path, what the user wrote.
    pub fn as_written(words: impl Into<String>) -> Self {
        let words = words.into();
        Self {
            english: words.clone(),
            german: words,
        }
    }

    /// The words in this language.
    pub fn within(&self, language: Language) -> &str {
        match language {
            Language::English => &self.english,
            Language::German => &self.german,
        }
    }
}

/// The same said in each language: `said!(language; "{lamp} is lit", "{lamp} leuchtet")`, or with arguments behind a further
/// semicolon. Both see the same variables.
macro_rules! said {
    ($language:expr; $english:literal, $german:literal $(; $($argument:tt)+)?) => {
        match $language {
            $crate::language::Language::English => format!($english $(, $($argument)+)?),
            $crate::language::Language::German => format!($german $(, $($argument)+)?),
        }
    };
}
pub(crate) use said;

/// Runs of digits, in order of size, so that a date may be turned round: a sentence has the same ones in each language.
#[cfg(test)]
pub(crate) fn digits(text: &str) -> Vec<&str> {
    let mut runs: Vec<&str> = text.split(|c: char| !c.is_ascii_digit()).collect();
    runs.retain(|run| !run.is_empty());
    runs.sort_unstable();
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_comes_in_each_language_with_its_figures() {
        let lamp = 3;
        let say = |language: Language| said!(language; "lamp {lamp} hangs {} %", "Lampe {lamp} steht {} %"; language.figure("1.20"));
        let said = Said::of(say);
        assert_eq!(said.within(Language::English), "lamp 3 hangs 1.20 %");
        assert_eq!(said.within(Language::German), "Lampe 3 steht 1,20 %");
    }
}
