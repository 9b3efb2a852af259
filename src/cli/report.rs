//! `beamfall report`: the whole job.

use super::Status;
use super::kept::Kept;
use super::terminal::{Progress, colour_allowed, columns, print};
use crate::error::Error;
use crate::report::evidence::SecretKey;
use crate::report::terminal;
use crate::report::text::plain;
use crate::run::{Options, Run};
use std::path::PathBuf;

/// Arguments of `beamfall report`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall report sample-photos/job.toml
  beamfall report job.toml -o W-0117-report --sign workshop.key")]
pub(super) struct Arguments {
    /// The job file, or the folder of a job.toml
    job: PathBuf,
    /// Folder for the report; made if it is not there
    #[arg(short, long, value_name = "DIR", default_value = "beamfall-report")]
    out: PathBuf,
    /// Exit with status 4 when a verdict is outside
    #[arg(long)]
    fail_outside: bool,
    /// Sign the evidence with the secret half of a key that `beamfall key` made
    #[arg(long, value_name = "FILE")]
    sign: Option<PathBuf>,
    #[command(flatten)]
    kept: Kept,
}

/// Reads the photos, writes the report, and says where it lies.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let run = Run::open(&arguments.job)?;
    crate::report::can_write(&arguments.out)?;
    let key = arguments.sign.as_deref().map(SecretKey::read).transpose()?;
    let progress = Progress::of_photos();
    let show = |done, all| progress.show(done, all);
    let cache = arguments.kept.cache();
    let options = Options::default()
        .with_cache(cache.as_ref())
        .with_pictures()
        .with_progress(&show);
    let findings = run.measure(&options)?;
    drop(progress);
    let files = crate::report::write(&arguments.out, &findings, key.as_ref())?;
    print(&terminal::readings_at(&findings, false, colour_allowed(), columns()))?;
    let page = arguments.out.join("report.html");
    let others = files.len().saturating_sub(1);
    print(&format!(
        "\nWritten: {} and {others} files beside it\n",
        plain(&page.display().to_string())
    ))?;
    Ok(Status::of_findings(&findings, arguments.fail_outside))
}
