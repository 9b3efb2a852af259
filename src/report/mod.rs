//! What others read: `results.json`, `readings.csv`, the table for the terminal, plots and `report.html`.
//!
//! All of it is made from [`Findings`] alone, and holds nothing of the run itself (no time, no machine), so that the
//! same photos give the same bytes.

pub mod csv;
pub mod explain;
pub mod html;
pub mod isolation;
pub mod plots;
pub mod results;
pub mod table;
pub(crate) mod text;
mod words;

pub use results::Results;

use crate::adjuster::Adjuster;
use crate::aim::ShotReading;
use crate::error::Error;
use crate::record::{Bay, Job, ToleranceTable};
use std::path::{Path, PathBuf};

/// Everything that a report is made from.
#[derive(Debug, Clone, Copy)]
pub struct Findings<'a> {
    /// The job as read.
    pub job: &'a Job,
    /// Its bay.
    pub bay: &'a Bay,
    /// Its tolerance table, where it names one.
    pub table: Option<&'a ToleranceTable>,
    /// What came of each shot, in the job's order.
    pub readings: &'a [ShotReading],
    /// What the range adjuster does.
    pub adjuster: &'a Adjuster,
    /// Which part is at fault, where the job names its system and says something of it.
    pub isolation: Option<isolation::Isolation<'a>>,
    /// What one should know of the job as a whole.
    pub warnings: &'a [String],
}

/// Writes the whole report into `folder`, which is made if need be: `results.json`, `readings.csv`, `plots/*.svg` and `.png`, and
/// `report.html`. Returns the files' paths, in that order.
///
/// Every file is first written beside its place and all are renamed at the end, so that a failure leaves an earlier
/// report whole.
///
/// # Errors
/// [`Error`] for a folder or file that cannot be written.
pub fn write(folder: &Path, findings: &Findings<'_>) -> Result<Vec<PathBuf>, Error> {
    let results = Results::new(findings);
    let json = results.to_json().map_err(|e| Error::make("results.json", e))?;
    let table = csv::readings(&results).map_err(|e| Error::make("readings.csv", e))?;
    let figures = plots::figures(findings)?;
    let page = html::render(findings, &figures)?;
    let plot_path = |name: &str, ending: &str| folder.join("plots").join(format!("{name}.{ending}"));
    let mut files = vec![
        (folder.join("results.json"), json.into_bytes()),
        (folder.join("readings.csv"), table.into_bytes()),
    ];
    for figure in &figures {
        if let Ok(svg) = &figure.drawing {
            files.push((plot_path(&figure.name, "svg"), svg.clone().into_bytes()));
            files.push((plot_path(&figure.name, "png"), plots::png(svg)?));
        }
    }
    files.push((folder.join("report.html"), page.into_bytes()));
    let written = write_all(files)?;
    let possible = |name: &str| ["svg", "png"].map(|ending| plot_path(name, ending));
    for path in plots::NAMES.into_iter().flat_map(possible) {
        // A plot that an earlier run left here shows what is no longer found; beside the new report it would mislead.
        if !written.contains(&path) && path.is_file() {
            std::fs::remove_file(&path).map_err(|source| Error::Write {
                path: path.clone(),
                what: "cannot take away an earlier run's plot",
                source,
            })?;
        }
    }
    Ok(written)
}

/// Writes each file beside its place, then renames them all.
fn write_all(files: Vec<(PathBuf, Vec<u8>)>) -> Result<Vec<PathBuf>, Error> {
    let mut parts: Vec<(PathBuf, PathBuf)> = Vec::new();
    let written = write_parts(files, &mut parts);
    if let Err(error) = written {
        for (part, _) in &parts {
            // The error to tell of is the first one; a part that stays behind does no harm.
            let _ = std::fs::remove_file(part);
        }
        return Err(error);
    }
    Ok(parts.into_iter().map(|(_, path)| path).collect())
}

fn write_parts(files: Vec<(PathBuf, Vec<u8>)>, parts: &mut Vec<(PathBuf, PathBuf)>) -> Result<(), Error> {
    for (path, content) in files {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(|source| Error::Write {
                path: folder.to_owned(),
                what: "cannot make the folder",
                source,
            })?;
        }
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(format!(".part-{}", std::process::id()));
        let part = path.with_file_name(name);
        let result = std::fs::write(&part, content);
        parts.push((part.clone(), path));
        result.map_err(|source| Error::Write {
            path: part,
            what: "cannot write",
            source,
        })?;
    }
    for (part, path) in parts.iter() {
        std::fs::rename(part, path).map_err(|source| Error::Write {
            path: path.clone(),
            what: "cannot put the new file in its place",
            source,
        })?;
    }
    Ok(())
}
