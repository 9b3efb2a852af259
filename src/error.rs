//! Why something could not be done. A photo that gives no figure is no error: see [`crate::refusal`].

use crate::language::{Language, Said};
use std::io;
use std::path::{Path, PathBuf};

/// What went wrong: what, where, and how to mend it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A file that is not as it must be: the key and the line where that is known, and the mend.
    #[error("{}: {message}", path.display())]
    File {
        /// The file at fault.
        path: PathBuf,
        /// What is wrong in it and how to mend it.
        message: String,
    },
    /// A file or folder that could not be written.
    #[error("{}: {what}: {source}; check that the folder is there and can be written to, and that the disk is not full", path.display())]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// What was tried.
        what: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// What was asked for cannot be, or does not fit together.
    #[error("{0}")]
    Asked(String),
    /// The same in each language, where the page shows it.
    #[error("{}", .0.within(Language::English))]
    Said(Said),
    /// What is wrong with a file or folder and how to mend it, in each language.
    #[error("{}", .0.within(Language::English))]
    FileSaid(Said),
    /// A part of an output could not be made.
    #[error("{part} could not be made: {message}; this is a fault of the program, please report it with the job file")]
    Make {
        /// The part.
        part: &'static str,
        /// What went wrong.
        message: String,
    },
    /// An error in something that another file or command named.
    #[error("{what}: {inner}")]
    Within {
        /// What named it.
        what: String,
        /// The error.
        inner: Box<Self>,
    },
}

impl Error {
    pub(crate) fn in_file(path: &Path, message: impl Into<String>) -> Self {
        Self::File {
            path: path.to_owned(),
            message: message.into(),
        }
    }

    /// What is wrong and how to mend it, without the file at fault.
    pub(crate) fn message(&self) -> String {
        match self {
            Self::File { message, .. } => message.clone(),
            other => other.to_string(),
        }
    }

    pub(crate) fn asked(message: impl Into<String>) -> Self {
        Self::Asked(message.into())
    }

    /// As [`Self::asked`], in the language of who reads it.
    pub(crate) fn said(say: impl Fn(Language) -> String) -> Self {
        Self::Said(Said::of(say))
    }

    /// As [`Self::in_file`], in the language of who reads it; `say` names the file.
    pub(crate) fn file_said(say: impl Fn(Language) -> String) -> Self {
        Self::FileSaid(Said::of(say))
    }

    /// For `map_err` of what writes `path`.
    pub(crate) fn write(path: &Path, what: &'static str) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Write { path, what, source }
    }

    pub(crate) fn make(part: &'static str, error: impl std::fmt::Display) -> Self {
        Self::Make {
            part,
            message: error.to_string(),
        }
    }

    /// The error with what named the thing at fault before it.
    #[must_use]
    pub(crate) fn within(self, what: impl Into<String>) -> Self {
        Self::Within {
            what: what.into(),
            inner: Box::new(self),
        }
    }
}
