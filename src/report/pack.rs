//! All of a job in one file to hand over: job, bays, photos without place and names, and the report made of these.
//!
//! The report in it is made anew from the photos in it, so that whoever unpacks it can have all of it checked as it lies there
//! (`beamfall verify`); its evidence names each photo that was changed for it, with the digest of the one that was taken.

use super::evidence::{self, SecretKey, WithoutPlace};
use crate::digest;
use crate::error::Error;
use crate::language::Language;
use crate::photo::without_place;
use crate::run::{Findings, Options, Run};
use crate::whole_file;
use std::io::{Cursor, Write};
use std::path::{Component, Path, PathBuf};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Packs the job of `findings` into the file `packed`, its report in `language`, signed by `key` where there is one.
///
/// # Errors
/// [`Error`] for a file of the job that does not lie below the job file's folder, that cannot be read, or whose place cannot be taken
/// out, and where `packed` cannot be written.
pub fn pack(
    language: Language,
    packed: &Path,
    findings: &Findings,
    key: Option<&SecretKey>,
    options: &Options<'_>,
) -> Result<(), Error> {
    whole_file::can_write(packed)?;
    let staging = tempfile::tempdir().map_err(|e| Error::make("the packed job", e))?;
    let top = name_of(&findings.job.job);
    let job_folder = staging.path().join(&top);
    let from = findings.path.parent().unwrap_or(Path::new(""));
    let mut changed = Vec::new();
    let job_file = PathBuf::from(findings.path.file_name().unwrap_or("job.toml".as_ref()));
    let papers = evidence::papers_of(&findings.job, from)
        .into_iter()
        .chain([job_file.clone()]);
    for path in papers {
        copied(from, &job_folder, &path, &read(&from.join(&path))?)?;
    }
    for photo in evidence::photos(&findings.job) {
        let path = from.join(photo);
        // A photo that is missing was refused, and is so again.
        if !path.exists() {
            continue;
        }
        let bytes = read(&path)?;
        let blanked = without_place(&bytes).map_err(|why| Error::in_file(&path, format!("cannot be packed: {why}")))?;
        copied(from, &job_folder, photo, blanked.as_ref().unwrap_or(&bytes))?;
        changed.extend(blanked.map(|blanked| WithoutPlace {
            photo: evidence::slashed(photo),
            sha256: digest::of(&blanked),
            as_taken: digest::of(&bytes),
        }));
    }
    let again = Run::read(job_folder.join(job_file), options)?;
    super::written(language, &job_folder.join("report"), &again, key, changed)?;
    whole_file::write(packed, &zipped(staging.path())?)
}

fn read(path: &Path) -> Result<Vec<u8>, Error> {
    std::fs::read(path).map_err(|e| Error::in_file(path, format!("cannot be read: {e}")))
}

/// Writes a file of the job at the same place below another folder.
fn copied(from: &Path, to: &Path, path: &Path, bytes: &[u8]) -> Result<(), Error> {
    if !path
        .components()
        .all(|part| matches!(part, Component::Normal(_) | Component::CurDir))
    {
        let why = "lies outside of the job file's folder, and could not be found again where the job is unpacked; put it there";
        return Err(Error::in_file(&from.join(path), why));
    }
    let place = to.join(path);
    let made = place.parent().map_or(Ok(()), std::fs::create_dir_all);
    made.and_then(|()| std::fs::write(&place, bytes))
        .map_err(|e| Error::make("the packed job", e))
}

/// A folder's name after the job's.
fn name_of(job: &str) -> String {
    let name: String = job
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    let name = name.trim_matches('-');
    if name.is_empty() {
        "job".to_owned()
    } else {
        name.to_owned()
    }
}

/// All files below a folder as a ZIP archive, by their names; photos and plots are pressed already, and none has a time.
fn zipped(folder: &Path) -> Result<Vec<u8>, Error> {
    let fault = |error: &dyn std::fmt::Display| Error::make("the packed job", error);
    let mut files = Vec::new();
    below(folder, &mut files).map_err(|e| fault(&e))?;
    files.sort();
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644);
    for file in files {
        let name = evidence::slashed(file.strip_prefix(folder).unwrap_or(&file));
        archive.start_file(name, options).map_err(|e| fault(&e))?;
        archive.write_all(&read(&file)?).map_err(|e| fault(&e))?;
    }
    Ok(archive.finish().map_err(|e| fault(&e))?.into_inner())
}

fn below(folder: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            below(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}
