//! What others read: `results.json`, `readings.csv`, the text for the terminal, plots, `report.html` and `report.pdf`.
//!
//! [`say`] writes what is to be read into a [`document`], once; [`terminal`], [`html`] and [`pdf`] print it. Machine formats are
//! [`results`] and [`csv`]; [`plots`] and [`isolation`] draw. [`evidence`] says what all of it rests on, and checks that again.
//!
//! All but the evidence is made from [`Findings`] alone, and holds nothing of the run itself (no time, no machine), so that the
//! same photos give the same bytes.

pub mod csv;
mod document;
mod drawn;
pub mod evidence;
pub mod html;
pub mod isolation;
mod letters;
pub(crate) mod pack;
mod pdf;
pub(crate) mod picture;
pub mod plots;
pub mod results;
pub(crate) mod say;
mod signs;
pub mod terminal;
pub(crate) mod text;
pub(crate) mod words;

pub use pack::packed;
pub use results::Results;

use crate::error::Error;
use crate::language::{Language, said};
use crate::run::Findings;
use crate::whole_folder;
use evidence::{Evidence, SecretKey, WithoutPlace};
use rayon::prelude::*;
use std::path::{Path, PathBuf};

/// What a machine is to read, indented, with a line feed at its end; what would steer a terminal is escaped.
///
/// # Errors
/// [`Error::Make`], which the program's own types give no cause for.
pub fn json(value: &impl serde::Serialize) -> Result<String, Error> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Error::make("the JSON", e))?;
    Ok(text::escaped_json(&text) + "\n")
}

/// Writes the whole report, in `language`, into `folder`, which is made if need be: `results.json`, `readings.csv`, `plots/*.svg` and `.png`,
/// `report.html`, `report.pdf`, `evidence.json`, and its signature by `key` where there is one. Returns the files' paths, in that order.
///
/// The folder is made anew beside an earlier one and takes its place, so that a failure leaves the earlier report whole. What
/// others put into it stays.
///
/// # Errors
/// [`Error`] for a folder or file that cannot be written, and for a photo that changed since it was read.
pub fn write(
    language: Language,
    folder: &Path,
    findings: &Findings,
    key: Option<&SecretKey>,
) -> Result<Vec<PathBuf>, Error> {
    written(language, folder, findings, key, Vec::new())
}

/// As [`write()`], of photos out of which these had place and names taken.
fn written(
    language: Language,
    folder: &Path,
    findings: &Findings,
    key: Option<&SecretKey>,
    without_place: Vec<WithoutPlace>,
) -> Result<Vec<PathBuf>, Error> {
    let mut files = files(language, findings)?;
    let evidence = Evidence {
        without_place,
        ..Evidence::of(language, findings, folder, &files)?
    };
    let evidence = json(&evidence)?.into_bytes();
    let signature = key.map(|key| (PathBuf::from(evidence::SIGNATURE), key.sign(&evidence)));
    files.push((PathBuf::from(evidence::FILE), evidence));
    files.extend(signature);
    let plots: Vec<PathBuf> = plots::names()
        .iter()
        .flat_map(|name| ["svg", "png"].map(|ending| plot_path(name, ending)))
        .collect();
    // A plot that an earlier run left here shows what is no longer found, and its signature signs nothing more; beside the new report
    // they would mislead.
    let is_ours = |name: &Path| {
        let mut ours = FILES.iter().chain([&evidence::FILE, &evidence::SIGNATURE]);
        ours.any(|file| name == Path::new(file)) || plots.iter().any(|plot| name == plot)
    };
    whole_folder::replace(folder, files, &is_ours)
}

/// All files of a report but its evidence, by their paths in its folder.
///
/// # Errors
/// [`Error::Make`], which the program's own types give no cause for.
pub(crate) fn files(language: Language, findings: &Findings) -> Result<Vec<(PathBuf, Vec<u8>)>, Error> {
    let results = Results::new(findings);
    let json = json(&results)?;
    let table = csv::readings(&results).map_err(|e| Error::make("readings.csv", e))?;
    let figures = plots::figures(language, findings)?;
    let (page, paper) = page(language, findings, &figures)?;
    let mut files = vec![
        (PathBuf::from(FILES[0]), json.into_bytes()),
        (PathBuf::from(FILES[1]), table.into_bytes()),
    ];
    let drawn: Vec<[(PathBuf, Vec<u8>); 2]> = figures
        .par_iter()
        .filter_map(|figure| Some((&figure.name, figure.drawing.as_ref().ok()?)))
        .map(|(name, svg)| {
            let png = plots::png(svg)?;
            Ok([
                (plot_path(name, "svg"), svg.clone().into_bytes()),
                (plot_path(name, "png"), png),
            ])
        })
        .collect::<Result<_, Error>>()?;
    files.extend(drawn.into_iter().flatten());
    files.push((PathBuf::from(FILES[2]), page.into_bytes()));
    files.push((PathBuf::from(FILES[3]), paper));
    Ok(files)
}

/// The report as one HTML document and as PDF; `figures` are those of [`plots::figures`], in the same language.
///
/// # Errors
/// [`Error::Make`], which the program's own types give no cause for.
pub(crate) fn page(
    language: Language,
    findings: &Findings,
    figures: &[plots::Figure],
) -> Result<(String, Vec<u8>), Error> {
    let document = say::page(language, findings, figures)?;
    let job = said!(language; "job {}", "Auftrag {}"; text::harmless(&findings.job.job));
    let (page, paper) = rayon::join(|| html::print(&document), || pdf::print(&document, &job));
    Ok((page, paper?))
}

/// Files of a report beside its plots and its evidence.
const FILES: [&str; 4] = ["results.json", "readings.csv", "report.html", "report.pdf"];

fn plot_path(name: &str, ending: &str) -> PathBuf {
    Path::new("plots").join(format!("{name}.{ending}"))
}

/// Fails where [`write()`] could not put a report into `folder`: asked before the photos are read.
///
/// # Errors
/// [`Error`] that names the folder.
pub fn can_write(folder: &Path) -> Result<(), Error> {
    whole_folder::can_replace(folder)
}
