//! `beamfall marks`: the sheets to print.

use super::Status;
use super::terminal::print;
use crate::error::Error;
use crate::marks::{DEFAULT_SIZE_MM, Paper, SHEETS, write_sheets};
use crate::report::text::plain;
use crate::wall::tag_cells;
use std::path::PathBuf;

/// Arguments of `beamfall marks`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall marks --paper a4
  beamfall marks --paper letter --ids 1,2,3,4,5,6 -o sheets")]
pub(super) struct Arguments {
    /// Paper: a4 or letter
    #[arg(long, default_value = "a4")]
    paper: Paper,
    /// Numbers of the marks, one sheet each
    #[arg(long, value_delimiter = ',', default_values_t = SHEETS, value_name = "N,N,…")]
    ids: Vec<u32>,
    /// Outer edge of the black square, mm
    #[arg(long, default_value_t = DEFAULT_SIZE_MM, value_name = "MM")]
    size: f64,
    /// Folder to write to; made if it is not there
    #[arg(short, long, value_name = "DIR", default_value = ".")]
    out: PathBuf,
}

/// Writes the sheets and says where they lie.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let path = write_sheets(
        &arguments.out,
        arguments.paper,
        arguments.size,
        &arguments.ids,
        tag_cells,
    )?;
    print(&format!(
        "{}\nPrint at 100 %, then measure the 100 mm bar on each sheet. The first page says how to hang them.\n",
        plain(&path.display().to_string())
    ))?;
    Ok(Status::Done)
}
