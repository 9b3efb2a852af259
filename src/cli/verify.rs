//! `beamfall verify`: a report's evidence, read again.

use super::Status;
use super::spoken::Spoken;
use super::terminal::{Progress, print};
use crate::error::Error;
use crate::language::Language;
use crate::report::evidence::{PublicKey, Verified, verify};
use crate::report::terminal;
use crate::run::Options;
use std::path::PathBuf;

/// Arguments of `beamfall verify`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Exit status 0 where all is as it was and every figure came out again, else 1. All photos are read anew.

Examples:
  beamfall verify W-0117-report
  beamfall verify W-0117-report --job W-0117/job.toml --key workshop.key.pub")]
pub(super) struct Arguments {
    /// The folder that `beamfall report` wrote
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Where the job file lies now, if it was moved against the report
    #[arg(long, value_name = "JOB")]
    job: Option<PathBuf>,
    /// The public half of the key that the evidence is to be signed by
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    /// Write JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    spoken: Spoken,
}

/// Reads the evidence again, and says what is not as it was.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    // What a machine reads is English.
    let language = if arguments.json {
        Language::English
    } else {
        arguments.spoken.language
    };
    let key = arguments.key.as_deref().map(PublicKey::read).transpose()?;
    let progress = Progress::of_photos(language);
    let show = |done, all| progress.show(done, all);
    let options = Options::default().with_progress(&show);
    let verified = verify(
        language,
        &arguments.folder,
        arguments.job.as_deref(),
        key.as_ref(),
        &options,
    )?;
    drop(progress);
    print(&if arguments.json {
        crate::report::json(&verified)?
    } else {
        terminal::verified(language, &verified)
    })?;
    Ok(status(&verified))
}

fn status(verified: &Verified) -> Status {
    if verified.faults.is_empty() {
        Status::Done
    } else {
        Status::Error
    }
}
