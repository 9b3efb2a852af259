//! Exit statuses, as scripts rely on them.

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
