//! `beamfall render`: made photos with a known truth.

use super::Status;
use super::terminal::print;
use crate::error::Error;
use crate::report::text::plain;
use std::path::PathBuf;

/// Arguments of `beamfall render`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall render sample-photos/scenes/left-before.toml -o made
  beamfall render scene.toml

Made photos show what a reading can do; they are no evidence of a real lamp. The truth is written beside them.")]
pub(super) struct Arguments {
    /// The scene file
    scene: PathBuf,
    /// Folder for the photos; left out, the scene file's own
    #[arg(short, long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// Draws the scene's photos and says where they lie.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let files = crate::render::render_file(&arguments.scene, arguments.out.as_deref())?;
    let lines: String = files
        .iter()
        .map(|file| format!("{}\n", plain(&file.display().to_string())))
        .collect();
    print(&lines)?;
    Ok(Status::Done)
}
