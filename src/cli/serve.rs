//! `beamfall serve`: the same work on a page in the browser.

use super::Status;
use super::kept::Kept;
use super::terminal::print;
use crate::error::Error;
use crate::page;
use std::path::PathBuf;

/// Arguments of `beamfall serve`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall serve jobs
  beamfall serve jobs --port 0

The page is for the browser of this computer alone, and works offline. A folder
holds one wall and many jobs; each new job gets a folder of its own in it. The
files are those that every other command reads.")]
pub(super) struct Arguments {
    /// The folder of the jobs, or of one job; made if it is not there
    #[arg(default_value = ".")]
    folder: PathBuf,
    /// Where the page is found; 0: at any free port
    #[arg(long, value_name = "N", default_value_t = 8017)]
    port: u16,
    #[command(flatten)]
    kept: Kept,
}

/// Serves until the program is ended.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    page::serve(&arguments.folder, arguments.port, arguments.kept.cache(), |address| {
        print(&format!(
            "The page is at http://{address}/ for this computer's browser. End it with Ctrl-C.\n"
        ))
    })?;
    Ok(Status::Done)
}
