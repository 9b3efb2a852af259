//! All of a job in one file to keep or to send on: what lies in its folder, and its wall, just as they are.
//!
//! The archive is written as it is sent, so that nothing of it is held but the part that is on its way. All that can be found amiss is found
//! before the first byte goes out; what fails later breaks the connection, and what has arrived does not open.

use super::guard::{OF_REPORT, Reply, download};
use super::jobs::{PHOTOS, Place, REPORT, is_own_file};
use crate::error::Error;
use crate::language::{Language, said};
use crate::record::Job;
use crate::report::evidence::{papers_of, photos};
use crate::report::pack::{Files, fill, is_clean, name_of};
use crate::report::text::plain;
use http_body_util::channel::{Channel, Sender};
use hyper::body::Bytes;
use std::io::{BufWriter, Write};
use std::path::{Component, Path};
use tokio::runtime::Handle;
use zip::ZipWriter;

/// Parts of the archive that wait to be sent, and the size of each, bytes.
const MOST_WAITING: usize = 4;
const PART_BYTES: usize = 64 * 1024;
/// Endings of photos as the page takes them in, and as other programs write them.
const PHOTO_ENDINGS: [&str; 5] = ["jpg", "jpeg", "png", "tif", "tiff"];
/// What a report consists of, besides its plots.
const OF_A_REPORT: [&str; 6] = [
    "report.html",
    "report.pdf",
    "results.json",
    "readings.csv",
    "evidence.json",
    "evidence.sig",
];
const PLOTS: &str = "plots";
const PLOT_ENDINGS: [&str; 2] = ["svg", "png"];

/// What goes into the archive of a job: its folder and, beside it as on the disk, its wall, so that it is read where it is unpacked and the report
/// in it holds; `jobs` is the folder of all jobs.
///
/// # Errors
/// [`Error`] where the job names a file that lies elsewhere, or a name cannot stand in an archive that is unpacked anywhere.
pub(super) fn files(jobs: &Path, place: &Place, job: &Job) -> Result<Files, Error> {
    let packing = Packing { jobs, place };
    let mut files = Files::new();
    for path in papers_of(job, &place.folder) {
        packing.take(&mut files, &path, Reach::Beside)?;
    }
    packing.take(&mut files, Path::new("job.toml"), Reach::Inside)?;
    for path in photos(job) {
        packing.take(&mut files, path, Reach::Inside)?;
    }
    for name in names_in(&place.folder.join(PHOTOS)) {
        if has_ending(&name, &PHOTO_ENDINGS) {
            packing.take(&mut files, &Path::new(PHOTOS).join(name), Reach::Inside)?;
        }
    }
    for name in OF_A_REPORT {
        packing.take(&mut files, &Path::new(REPORT).join(name), Reach::Inside)?;
    }
    let plots = Path::new(REPORT).join(PLOTS);
    for name in names_in(&place.folder.join(&plots)) {
        if has_ending(&name, &PLOT_ENDINGS) {
            packing.take(&mut files, &plots.join(name), Reach::Inside)?;
        }
    }
    Ok(files)
}

/// How far from its job a file may lie.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reach {
    /// In the job's folder.
    Inside,
    /// There, or in the folder of all jobs, as their wall does.
    Beside,
}

struct Packing<'a> {
    jobs: &'a Path,
    place: &'a Place,
}

impl Packing<'_> {
    /// Takes the file in that the job calls so. One that is not there is left out, as the job is read without it, too.
    fn take(&self, files: &mut Files, path: &Path, reach: Reach) -> Result<(), Error> {
        let of_job = self.place.folder.strip_prefix(self.jobs).unwrap_or(Path::new(""));
        let mut parts: Vec<String> = names(of_job);
        let depth = parts.len();
        for name in &parts {
            clean(of_job, name)?;
        }
        for part in path.components() {
            match part {
                Component::Normal(name) => parts.push(clean(path, &name.to_string_lossy())?),
                Component::CurDir => {}
                Component::ParentDir if parts.pop().is_some() => {}
                _ => return Err(elsewhere(path)),
            }
        }
        let is_inside = parts.len() > depth && parts[..depth] == names(of_job)[..];
        let is_beside = reach == Reach::Beside && parts.len() == 1;
        if !is_inside && !is_beside {
            return Err(elsewhere(path));
        }
        let file = parts.iter().fold(self.jobs.to_owned(), |at, part| at.join(part));
        let Ok(whole) = file.canonicalize() else {
            return Ok(());
        };
        // A link may lead anywhere.
        if whole != file || !is_own_file(&file) {
            return Err(elsewhere(path));
        }
        files.insert(parts.join("/"), file);
        Ok(())
    }
}

fn names(path: &Path) -> Vec<String> {
    path.components()
        .map(|part| part.as_os_str().to_string_lossy().into_owned())
        .collect()
}

/// A file's or a folder's name, if every system that unpacks the archive takes it for that and nothing else.
fn clean(path: &Path, name: &str) -> Result<String, Error> {
    if !is_clean(name) {
        let path = path.display().to_string();
        return Err(Error::said(|language| {
            said!(
                language;
                "“{}” is a name that cannot be packed: rename that file, in the job file too where it stands there, by letters, digits, hyphens and \
                 full stops",
                "„{}“ ist ein Name, der sich nicht einpacken lässt: die Datei umbenennen, auch in der Datei des Auftrags, wo sie dort steht, mit \
                 Buchstaben, Ziffern, Bindestrichen und Punkten";
                plain(&path)
            )
        }));
    }
    Ok(name.to_owned())
}

fn elsewhere(path: &Path) -> Error {
    let path = path.display().to_string();
    Error::said(|language| {
        said!(
            language;
            "{}: does not lie in the job's folder, so that the job cannot be packed; put the file there and change its name in the job file",
            "{}: liegt nicht im Ordner des Auftrags, darum lässt er sich nicht einpacken; die Datei dorthin legen und ihren Namen in der Datei des \
             Auftrags ändern";
            plain(&path)
        )
    })
}

/// The names of the files of a folder that is no link.
fn names_in(folder: &Path) -> Vec<String> {
    let is_own = folder.symlink_metadata().is_ok_and(|metadata| metadata.is_dir());
    let entries = is_own.then(|| std::fs::read_dir(folder).ok()).flatten();
    let files =
        (entries.into_iter().flatten().flatten()).filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()));
    let names = files.map(|entry| entry.file_name().to_string_lossy().into_owned());
    // What is being written just now is hidden.
    names.filter(|name| !name.starts_with('.')).collect()
}

fn has_ending(name: &str, endings: &[&str]) -> bool {
    let ending = Path::new(name)
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| endings.contains(&ending.as_str()))
}

/// Sends the files as one archive, called after the job's folder.
pub(super) fn send(place: &Place, files: Files) -> Reply {
    let (sender, body) = Channel::new(MOST_WAITING);
    let handle = Handle::current();
    tokio::task::spawn_blocking(move || {
        let mut pipe = BufWriter::with_capacity(PART_BYTES, Pipe { handle, sender });
        let written = write(&mut pipe, &files).and_then(|()| pipe.flush());
        let (pipe, _) = pipe.into_parts();
        if let Err(why) = written {
            // A browser says then that the download failed, and keeps no half of it.
            pipe.sender.abort(why);
        }
    });
    let name = name_of(&place.folder_name()).unwrap_or_default();
    download("application/zip", OF_REPORT, &format!("{name}.zip"), body)
}

/// What is written goes out part by part; who takes none keeps it waiting.
struct Pipe {
    handle: Handle,
    sender: Sender<Bytes, std::io::Error>,
}

impl Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        // No part is larger, whatever is written at once.
        let part = &bytes[..bytes.len().min(PART_BYTES)];
        let sent = self
            .handle
            .block_on(self.sender.send_data(Bytes::copy_from_slice(part)));
        sent.map_err(|_| std::io::ErrorKind::BrokenPipe)?;
        Ok(part.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Writes the archive.
fn write(to: &mut impl Write, files: &Files) -> std::io::Result<()> {
    let mut archive = ZipWriter::new_stream(to);
    fill(&mut archive, files)?;
    archive.finish()?;
    Ok(())
}

/// What the button is called.
pub(super) const fn called(language: Language) -> &'static str {
    language.pick("All of the job in one file", "Der ganze Auftrag in einer Datei")
}
