//! Exit statuses, as scripts rely on them.

use crate::error::Error;
use crate::run::Findings;
use std::process::ExitCode;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    /// All was read.
    Done,
    /// Something went wrong; nothing was half-written.
    Error,
    /// The arguments do not fit.
    Usage,
    /// Some shot was refused.
    Refused,
    /// Some verdict is outside, and `--fail-outside` was given.
    Outside,
}

impl Status {
    /// How a command ended that read a job. Refused shots come before verdicts, since what could not be read may be
    /// outside too.
    pub(super) fn of_findings(findings: &Findings, fail_outside: bool) -> Self {
        if findings.any_refused() {
            Self::Refused
        } else if fail_outside && findings.any_outside() {
            Self::Outside
        } else {
            Self::Done
        }
    }

    /// How a command ended that failed: what was asked for on the command line cannot be, or something went wrong.
    pub(super) fn of(error: &Error) -> Self {
        match error {
            Error::Asked(_) | Error::Said(_) => Self::Usage,
            _ => Self::Error,
        }
    }
}

impl From<Status> for ExitCode {
    fn from(status: Status) -> Self {
        Self::from(match status {
            Status::Done => 0u8,
            Status::Error => 1,
            Status::Usage => 2,
            Status::Refused => 3,
            Status::Outside => 4,
        })
    }
}
