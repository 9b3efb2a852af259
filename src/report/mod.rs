//! What others read: `results.json`, `readings.csv`, the text for the terminal, plots and `report.html`.
//!
//! [`say`] writes what is to be read into a [`document`], once; [`terminal`] and [`html`] print it. Machine formats are
//! [`results`] and [`csv`]; [`plots`] and [`isolation`] draw.
//!
//! All of it is made from [`Findings`] alone, and holds nothing of the run itself (no time, no machine), so that the
//! same photos give the same bytes.

pub mod csv;
mod document;
pub mod html;
pub mod isolation;
pub mod plots;
pub mod results;
mod say;
pub mod terminal;
pub(crate) mod text;
mod words;

pub use results::Results;

use crate::error::Error;
use crate::run::Findings;
use std::path::{Path, PathBuf};

/// What a machine is to read, indented, with a line feed at its end.
///
/// # Errors
/// [`Error::Make`], which the program's own types give no cause for.
pub fn json(value: &impl serde::Serialize) -> Result<String, Error> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Error::make("the JSON", e))?;
    Ok(text + "\n")
}

/// Writes the whole report into `folder`, which is made if need be: `results.json`, `readings.csv`, `plots/*.svg` and `.png`, and
/// `report.html`. Returns the files' paths, in that order.
///
/// Every file is first written beside its place and all are renamed at the end, so that a failure leaves an earlier
/// report whole.
///
/// # Errors
/// [`Error`] for a folder or file that cannot be written.
pub fn write(folder: &Path, findings: &Findings) -> Result<Vec<PathBuf>, Error> {
    let results = Results::new(findings);
    let json = json(&results)?;
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
    let written = crate::whole_file::write_all(files)?;
    let possible = |name: &str| ["svg", "png"].map(|ending| plot_path(name, ending));
    for path in plots::names().iter().flat_map(|name| possible(name)) {
        // A plot that an earlier run left here shows what is no longer found; beside the new report it would mislead.
        if !written.contains(&path) && path.is_file() {
            std::fs::remove_file(&path).map_err(Error::write(&path, "cannot take away an earlier run's plot"))?;
        }
    }
    Ok(written)
}
