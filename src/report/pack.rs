//! All of a job in one file to hand over: job, bays, photos without place and names, and the report made of these.
//!
//! The report in it is made anew from the photos in it, so that whoever unpacks it can have all of it checked as it lies there
//! (`beamfall verify`); its evidence names each photo that was changed for it, with the digest of the one that was taken.
//!
//! What lies outside of the job's folder, as a wall that several jobs share, or is called by what another system takes for a path, is
//! put inside under a name of its own, and the packed job file, with all of its comments, names it there. Nothing of the user's is changed.

use super::evidence::{self, SecretKey, WithoutPlace};
use super::text::plain;
use crate::digest;
use crate::error::Error;
use crate::language::Language;
use crate::photo::without_place;
use crate::record::{read_text, with_paths};
use crate::run::{Findings, Options, Run};
use std::collections::{BTreeMap, HashSet};
use std::io::{Cursor, Seek, Write};
use std::path::{Component, Path, PathBuf};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Where the report of the packed job goes.
const REPORT: &str = "report";
/// Where photos go that did not lie in the job's folder.
const PHOTOS: &str = "photos";
/// A name at most so long, characters, is given to what is put inside; photos' names tell them apart within far fewer.
const MOST_NAME: usize = 80;

/// The archive of the job of `findings`, its report in `language`, signed by `key` where there is one. Writes nothing but in a folder for
/// what passes, which goes away again.
///
/// # Errors
/// [`Error`] for a file of the job that cannot be read, or whose place cannot be taken out, and for a job file that is written in a way in
/// which its paths cannot be changed.
pub fn packed(
    language: Language,
    findings: &Findings,
    key: Option<&SecretKey>,
    options: &Options<'_>,
) -> Result<Vec<u8>, Error> {
    let staging = tempfile::tempdir().map_err(|e| Error::make("the packed job", e))?;
    let job_folder = staging
        .path()
        .join(name_of(&findings.job.job).unwrap_or_else(|| "job".to_owned()));
    let from = findings.path.parent().unwrap_or(Path::new(""));
    let job_file = "job.toml";
    let papers = evidence::papers_of(&findings.job, from);
    let photos: Vec<&PathBuf> = evidence::photos(&findings.job).collect();
    let inside = inside(&papers, &photos, job_file);
    let place_of = |path: &Path| inside.get(path).map_or(path, PathBuf::as_path).to_owned();
    let text = with_paths(&findings.path, &read_text(&findings.path)?, &|path| {
        inside.get(path).map(|place| evidence::slashed(place))
    })?;
    copied(&job_folder, Path::new(job_file), text.as_bytes())?;
    for path in &papers {
        copied(&job_folder, &place_of(path), &read(&from.join(path))?)?;
    }
    let mut changed = Vec::new();
    for photo in photos {
        let path = from.join(photo);
        // A photo that is missing was refused, and is so again.
        if !path.exists() {
            continue;
        }
        let bytes = read(&path)?;
        let blanked = without_place(&bytes).map_err(|why| Error::in_file(&path, format!("cannot be packed: {why}")))?;
        let place = place_of(photo);
        copied(&job_folder, &place, blanked.as_ref().unwrap_or(&bytes))?;
        changed.extend(blanked.map(|blanked| WithoutPlace {
            photo: evidence::slashed(&place),
            sha256: digest::of(&blanked),
            as_taken: digest::of(&bytes),
        }));
    }
    let again = Run::read(job_folder.join(job_file), options)?;
    super::written(language, &job_folder.join(REPORT), &again, key, changed)?;
    zipped(staging.path())
}

fn read(path: &Path) -> Result<Vec<u8>, Error> {
    std::fs::read(path).map_err(|e| Error::in_file(path, format!("cannot be read: {e}")))
}

/// Where the packed job has the files that cannot stay where the job has them: beside the job file, and photos among its photos.
fn inside(papers: &[PathBuf], photos: &[&PathBuf], job_file: &str) -> BTreeMap<PathBuf, PathBuf> {
    let all: Vec<(&Path, &str)> = (papers.iter().map(|path| (path.as_path(), "")))
        .chain(photos.iter().map(|path| (path.as_path(), PHOTOS)))
        .collect();
    // Some systems take capitals and small letters for the same.
    let known = |path: &Path| evidence::slashed(path).to_lowercase();
    let mut taken: HashSet<String> = [job_file, REPORT].map(str::to_owned).into();
    taken.extend(
        all.iter()
            .map(|(path, _)| path)
            .filter(|path| can_stay(path))
            .map(|path| known(path)),
    );
    let mut inside = BTreeMap::new();
    for (path, folder) in all {
        if can_stay(path) || inside.contains_key(path) {
            continue;
        }
        let mut name = clean_name(path);
        // By itself it could be the name of a table or a system that comes with the program, which would then be read in its place.
        if folder.is_empty() && !name.contains('.') {
            name.push_str(".toml");
        }
        let (stem, ending) = name.rsplit_once('.').unwrap_or((&name, ""));
        let numbered = (1..).map(|n| match (n, ending) {
            (1, _) => name.clone(),
            (_, "") => format!("{stem}-{n}"),
            _ => format!("{stem}-{n}.{ending}"),
        });
        let mut places = numbered.map(|name| Path::new(folder).join(name));
        if let Some(place) = places.find(|place| taken.insert(known(place))) {
            inside.insert(path.to_owned(), place);
        }
    }
    inside
}

/// Whether a file of the job is found at the same place below any folder, on any system.
fn can_stay(path: &Path) -> bool {
    let mut parts = path.components().filter(|part| *part != Component::CurDir).peekable();
    // What the report is to have for itself, nothing of the job's has.
    let is_free = parts
        .peek()
        .is_some_and(|first| !first.as_os_str().eq_ignore_ascii_case(REPORT));
    is_free && parts.all(|part| matches!(part, Component::Normal(name) if is_clean(&name.to_string_lossy())))
}

/// Whether every system that unpacks an archive takes a name for that of a file or a folder, and for nothing else.
pub(crate) fn is_clean(name: &str) -> bool {
    let is_odd = |c: char| c.is_control() || "\\/:*?\"<>|\u{fffd}".contains(c);
    !name.chars().any(is_odd) && plain(name) == name && !name.ends_with(['.', ' '])
}

/// The name of a file in letters that every system has.
fn clean_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let is_kept = |c: char| c.is_ascii_alphanumeric() || "._-".contains(c);
    let name: Vec<char> = name.chars().map(|c| if is_kept(c) { c } else { '-' }).collect();
    // The ending stands last.
    let name: String = name[name.len().saturating_sub(MOST_NAME)..].iter().collect();
    let name = name.trim_matches(['.', '-']);
    if name.is_empty() {
        "file".to_owned()
    } else {
        name.to_owned()
    }
}

/// Writes a file of the job at a place below a folder.
fn copied(to: &Path, path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let place = to.join(path);
    let made = place.parent().map_or(Ok(()), std::fs::create_dir_all);
    made.and_then(|()| std::fs::write(&place, bytes))
        .map_err(|e| Error::make("the packed job", e))
}

/// A folder's or an archive's name after the job's, where anything is left of that in letters that every system has.
pub(crate) fn name_of(job: &str) -> Option<String> {
    let name: String = job
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    Some(name.trim_matches('-').to_owned()).filter(|name| !name.is_empty())
}

/// Files by their names in an archive.
pub(crate) type Files = BTreeMap<String, PathBuf>;

/// Puts files into an archive: photos and plots are pressed already, and none has a time.
pub(crate) fn fill<W: Write + Seek>(archive: &mut ZipWriter<W>, files: &Files) -> std::io::Result<()> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644);
    for (name, path) in files {
        let mut file = std::fs::File::open(path)?;
        archive.start_file(name.as_str(), options)?;
        std::io::copy(&mut file, archive)?;
    }
    Ok(())
}

/// All files below a folder as a ZIP archive.
fn zipped(folder: &Path) -> Result<Vec<u8>, Error> {
    let fault = |error: &dyn std::fmt::Display| Error::make("the packed job", error);
    let mut below = Files::new();
    gather(folder, folder, &mut below).map_err(|e| fault(&e))?;
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    fill(&mut archive, &below).map_err(|e| fault(&e))?;
    Ok(archive.finish().map_err(|e| fault(&e))?.into_inner())
}

fn gather(top: &Path, folder: &Path, files: &mut Files) -> std::io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(top, &path, files)?;
        } else {
            let name = evidence::slashed(path.strip_prefix(top).unwrap_or(&path));
            files.insert(name, path);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_stay_gets_a_name_that_nothing_else_has() {
        let papers = [
            "../bay.toml",
            "bay-2.toml",
            "/a/b/JOB.toml",
            "report/t.toml",
            "../un-r48",
        ]
        .map(PathBuf::from);
        let photos = [
            "photos/1.jpg",
            "../cam/1.JPG",
            "../card/1.jpg",
            "photos/a:b.jpg",
            "../cam/1.JPG",
        ]
        .map(PathBuf::from);
        let photos: Vec<&PathBuf> = photos.iter().collect();
        let inside = inside(&papers, &photos, "job.toml");
        let place = |path: &str| inside.get(Path::new(path)).map(|place| evidence::slashed(place));
        let named = |place: &str| Some(place.to_owned());
        assert_eq!(place("../bay.toml"), named("bay.toml"));
        assert_eq!(
            place("/a/b/JOB.toml"),
            named("JOB-2.toml"),
            "the job file has that name"
        );
        assert_eq!(place("report/t.toml"), named("t.toml"), "the report's own folder");
        assert_eq!(
            place("../un-r48"),
            named("un-r48.toml"),
            "not the table that comes with the program"
        );
        assert_eq!(place("../cam/1.JPG"), named("photos/1-2.JPG"));
        assert_eq!(place("../card/1.jpg"), named("photos/1-3.jpg"));
        assert_eq!(place("photos/a:b.jpg"), named("photos/a-b.jpg"));
        assert_eq!(
            (place("bay-2.toml"), place("photos/1.jpg")),
            (None, None),
            "the rest stays"
        );
    }
}
