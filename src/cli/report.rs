//! `beamfall report`: the whole job.

use super::Status;
use super::session::{Session, colour_allowed, print};
use crate::report::{Results, table};
use std::path::PathBuf;

/// Arguments of `beamfall report`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall report sample-photos/job.toml
  beamfall report job.toml -o W-0117-report")]
pub(super) struct Arguments {
    /// The job file, or the folder of a job.toml
    job: PathBuf,
    /// Folder for the report; made if it is not there
    #[arg(short, long, value_name = "DIR", default_value = "beamfall-report")]
    out: PathBuf,
    /// Exit with status 4 when a verdict is outside
    #[arg(long)]
    fail_outside: bool,
}

/// Reads the photos, writes the report, and says where it lies.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Status> {
    let session = Session::of_job(&arguments.job, true)?;
    let findings = session.findings();
    let files = crate::report::write(&arguments.out, &findings)?;
    print(&table::render(&Results::new(&findings), colour_allowed()))?;
    let mut text = String::from("\nWritten:\n");
    for file in files {
        text.push_str(&format!("  {}\n", file.display()));
    }
    print(&text)?;
    Ok(session.status(arguments.fail_outside))
}
