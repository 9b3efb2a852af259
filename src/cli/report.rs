//! `beamfall report`: the whole job.

use super::Status;
use super::kept::Kept;
use super::spoken::Spoken;
use super::terminal::{Progress, colour_allowed, columns, print};
use crate::error::Error;
use crate::language::said;
use crate::report::evidence::SecretKey;
use crate::report::terminal;
use crate::report::text::plain;
use crate::run::{Options, Run};
use crate::whole_file;
use std::path::{Path, PathBuf};

/// Arguments of `beamfall report`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall report sample-photos/job.toml
  beamfall report job.toml -o W-0117-report --sign workshop.key
  beamfall report job.toml -o W-0117-report --pack
  beamfall report sample-photos/job.toml --lang de")]
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
    /// Also pack job, photos without place and names, and the report of these into DIR.zip, to hand over
    #[arg(long)]
    pack: bool,
    #[command(flatten)]
    kept: Kept,
    #[command(flatten)]
    spoken: Spoken,
}

/// Beside a folder, under its name.
fn packed_beside(folder: &Path) -> PathBuf {
    let mut name = folder.file_name().unwrap_or("report".as_ref()).to_owned();
    name.push(".zip");
    folder
        .file_name()
        .map_or_else(|| folder.join(&name), |_| folder.with_file_name(&name))
}

/// Reads the photos, writes the report, and says where it lies.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let language = arguments.spoken.language;
    let run = Run::open(&arguments.job)?;
    crate::report::can_write(&arguments.out)?;
    let key = arguments.sign.as_deref().map(SecretKey::read).transpose()?;
    let packed = arguments.pack.then(|| packed_beside(&arguments.out));
    // A folder that is not there yet is made for the report.
    let is_there = |file: &&PathBuf| {
        file.parent()
            .is_none_or(|folder| folder.as_os_str().is_empty() || folder.is_dir())
    };
    if let Some(packed) = packed.as_ref().filter(is_there) {
        whole_file::can_write(packed)?;
    }
    let progress = Progress::of_photos(language);
    let show = |done, all| progress.show(done, all);
    let cache = arguments.kept.cache();
    let options = Options::default()
        .with_cache(cache.as_ref())
        .with_pictures()
        .with_progress(&show);
    let findings = run.measure(&options)?;
    // What cannot be packed is known before anything is written.
    let packed = match packed {
        None => None,
        Some(path) => Some((
            crate::report::packed(language, &findings, key.as_ref(), &options)?,
            path,
        )),
    };
    drop(progress);
    let files = crate::report::write(language, &arguments.out, &findings, key.as_ref())?;
    print(&terminal::readings_at(
        language,
        &findings,
        false,
        colour_allowed(),
        columns(),
    ))?;
    let page = arguments.out.join("report.html");
    let others = files.len().saturating_sub(1);
    print(&said!(
        language; "\nWritten: {} and {others} files beside it\n",
        "\nGeschrieben: {} und daneben {others} weitere Dateien\n";
        plain(&page.display().to_string())
    ))?;
    if let Some((archive, packed)) = packed {
        whole_file::write(&packed, &archive)?;
        print(&said!(
            language; "Packed, the photos without place and names: {}\n", "Gepackt, die Fotos ohne Ort und Namen: {}\n";
            plain(&packed.display().to_string())
        ))?;
    }
    Ok(Status::of_findings(&findings, arguments.fail_outside))
}
