//! The language of what is printed.

use crate::language::Language;

/// The option of every command that says what was found.
#[derive(Debug, Clone, Copy, clap::Args)]
pub(super) struct Spoken {
    /// Language of what was found, with its way to write figures and dates; JSON and CSV are English always
    #[arg(long = "lang", value_name = "LANGUAGE", value_enum, default_value_t = Language::English)]
    pub language: Language,
}
