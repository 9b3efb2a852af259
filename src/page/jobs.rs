//! What is in the folder: its jobs, each known by a digest of its folder's name.

use super::guard::Refused;
use super::undo;
use crate::bounded_file;
use crate::digest;
use crate::error::Error;
use crate::language::said;
use crate::questions::{Answers, bay_text, job_text};
use crate::record::{Bay, Job};
use crate::whole_file;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// More folders than this are not looked at.
const MOST_JOBS: usize = 2_000;
const JOB: &str = "job.toml";
/// The first wall's file; further ones are called bay-2.toml and so on.
pub(super) const BAY: &str = "bay.toml";
/// Where a job's photos go.
pub(super) const PHOTOS: &str = "photos";
/// Where its report goes, as `beamfall report` has it.
pub(super) const REPORT: &str = "beamfall-report";
/// Which phones are paired.
pub(super) const PHONES: &str = ".beamfall-phones";
/// Stands in the folder of a job that is put away.
const PUT_AWAY: &str = ".beamfall-put-away";
/// Which list of photos somebody took photos of last, as the page's address has it.
const LIST: &str = ".beamfall-list";
/// Far longer than any choice that the page writes.
const MOST_LIST_BYTES: u64 = 64 * 1024;
/// Of a file that was being written when a program was ended, after this time.
const LEFT_OVER: Duration = Duration::from_secs(3600);

/// A job's place in the folder.
#[derive(Debug, Clone)]
pub(super) struct Place {
    /// By what the page names it: sixteen hexadecimal digits.
    pub id: String,
    /// Its folder.
    pub folder: PathBuf,
}

impl Place {
    /// `name` tells it from all others: no folder inside is called by a full stop, as the folder itself is here.
    fn of(folder: PathBuf, name: &str) -> Self {
        let mut id = digest::of(name.as_bytes());
        id.truncate(16);
        Self { id, folder }
    }

    /// The last name of its folder's path, as the reader finds it on the disk.
    pub(super) fn folder_name(&self) -> String {
        self.folder
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned()
    }

    fn inside(folder: PathBuf) -> Self {
        let name = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        Self::of(folder, &name)
    }

    pub fn file(&self) -> PathBuf {
        self.folder.join(JOB)
    }

    /// Whether the job was put away: it is not listed with the others.
    pub fn is_put_away(&self) -> bool {
        is_own_file(&self.folder.join(PUT_AWAY))
    }

    /// Puts the job away, or back among the others; its files stay where they are.
    ///
    /// # Errors
    /// [`Error`] where the folder cannot be written to.
    pub fn put_away(&self, away: bool) -> Result<(), Error> {
        let mark = self.folder.join(PUT_AWAY);
        if away {
            whole_file::write(&mark, b"")
        } else if is_own_file(&mark) {
            std::fs::remove_file(&mark).map_err(Error::write(&mark, "cannot take the mark away"))
        } else {
            Ok(())
        }
    }

    /// Keeps which list somebody takes photos of. Where it cannot be kept the photos count all the same; the job's page then leads on
    /// without it.
    pub fn keep_list(&self, query: &str) {
        let _ = whole_file::write(&self.folder.join(LIST), query.as_bytes());
    }

    /// Keeps no list any more, where that can be.
    pub fn forget_list(&self) {
        let path = self.folder.join(LIST);
        if is_own_file(&path) {
            let _ = std::fs::remove_file(path);
        }
    }

    /// The list that somebody took photos of last.
    pub fn list(&self) -> Option<String> {
        let path = self.folder.join(LIST);
        let path = Some(path).filter(|path| is_own_file(path))?;
        String::from_utf8(bounded_file::read(&path, MOST_LIST_BYTES).ok()?).ok()
    }

    /// Reads its job file.
    ///
    /// # Errors
    /// As [`Job::read`].
    pub fn job(&self) -> Result<Job, Error> {
        Job::read(&self.file())
    }
}

/// The jobs: the folder itself, where it holds one, and those of its own folders that do, by name. Links are not followed.
pub(super) fn all(folder: &Path) -> Vec<Place> {
    let own = Place::of(folder.to_owned(), ".");
    let mut inside: Vec<PathBuf> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .take(MOST_JOBS)
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_dir()))
        .map(|entry| entry.path())
        .collect();
    inside.sort();
    let holds_job = |place: &Place| is_own_file(&place.file());
    let inside = inside.into_iter().map(Place::inside);
    std::iter::once(own).chain(inside).filter(holds_job).collect()
}

/// Whether there is a file of the folder's own, not a link to another place.
pub(super) fn is_own_file(path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|metadata| metadata.is_file())
}

/// The job that the page names so.
///
/// # Errors
/// [`Refused`] where there is none.
pub(super) fn find(folder: &Path, id: &str) -> Result<Place, Refused> {
    let mut jobs = all(folder).into_iter();
    jobs.find(|place| place.id == id).ok_or_else(Refused::not_there)
}

/// A wall of the folder.
pub(super) struct Wall {
    /// Its file's name.
    pub name: String,
    pub bay: Result<Bay, Error>,
}

/// More walls than any workshop has.
const MOST_WALLS: usize = 50;

/// What the wall `n` of a folder is called, counted from 1.
fn name_of_wall(n: usize) -> String {
    if n == 1 {
        BAY.to_owned()
    } else {
        format!("bay-{n}.toml")
    }
}

/// The names of the walls' files of the folder.
pub(super) fn names_of_walls(folder: &Path) -> Vec<String> {
    let is_there = |name: &String| folder.join(name).symlink_metadata().is_ok();
    (1..=MOST_WALLS).map(name_of_wall).filter(is_there).collect()
}

/// The walls of the folder.
pub(super) fn walls(folder: &Path) -> Vec<Wall> {
    let read = |name: String| Wall {
        bay: Bay::read(&folder.join(&name)),
        name,
    };
    names_of_walls(folder).into_iter().map(read).collect()
}

/// How the job names a wall of the folder of all jobs in its file.
pub(super) fn wall_as_listed(folder: &Path, place: &Place, name: &str) -> PathBuf {
    if place.folder == folder {
        PathBuf::from(name)
    } else {
        Path::new("..").join(name)
    }
}

/// The names of those walls' files of the folder that the job names, as its own or as a lamp's.
pub(super) fn walls_of(folder: &Path, place: &Place, job: &Job) -> Vec<String> {
    let mut walls = names_of_walls(folder);
    walls.retain(|name| {
        let listed = wall_as_listed(folder, place, name);
        job.walls().any(|named| *named == listed)
    });
    walls
}

/// How many jobs of the folder name this wall's file.
pub(super) fn count_at_wall(folder: &Path, wall: &str) -> usize {
    let names_it = |place: &Place| {
        let job = place.job();
        job.is_ok_and(|job| walls_of(folder, place, &job).iter().any(|name| name == wall))
    };
    all(folder).iter().filter(|place| names_it(place)).count()
}

/// The name of a further wall's file.
fn new_wall(folder: &Path) -> Result<String, Error> {
    let there = names_of_walls(folder);
    let new = (1..=MOST_WALLS).map(name_of_wall).find(|name| !there.contains(name));
    new.ok_or_else(|| {
        Error::said(|language| {
            said!(
                language;
                "this folder holds {MOST_WALLS} walls already; take away those that no job names any more",
                "dieser Ordner enthält schon {MOST_WALLS} Wände; die wegnehmen, die kein Auftrag mehr nennt"
            )
        })
    })
}

/// Makes a further wall's file without a job.
///
/// # Errors
/// [`Error`] for answers that do not make a wall, and what cannot be written.
pub(super) fn make_wall(folder: &Path, answers: &Answers) -> Result<(), Error> {
    let new = new_wall(folder)?;
    let text = bay_text(answers, Path::new(&new))?;
    whole_file::write_new(&[(folder.join(&new), text)])
}

/// Makes a job's folder with its file, and its wall's where that is none of those that are there; gives the job's id. `wall` is the name of one of the
/// walls' files.
///
/// # Errors
/// [`Error`] for answers that do not make a job, and what cannot be written.
pub(super) fn make(folder: &Path, answers: &Answers, wall: Option<&str>) -> Result<String, Error> {
    let mut files = Vec::new();
    let wall = match wall {
        Some(wall) => wall.to_owned(),
        None => {
            let new = new_wall(folder)?;
            files.push((folder.join(&new), bay_text(answers, Path::new(&new))?));
            new
        }
    };
    let text = job_text(answers, &format!("../{wall}"), Path::new(JOB))?;
    let own = new_folder(folder, answers.get("job.job").map_or("", String::as_str))?;
    files.push((own.join(JOB), text));
    if let Err(error) = whole_file::write_new(&files) {
        // Empty, as it was made a moment ago.
        let _ = std::fs::remove_dir(&own);
        return Err(error);
    }
    Ok(Place::inside(own).id)
}

/// Makes a folder that was not there, named after the job by letters, digits and hyphens alone.
fn new_folder(folder: &Path, job: &str) -> Result<PathBuf, Error> {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let name: String = job.chars().take(40).map(plain).collect();
    let name = format!("job-{}", name.trim_matches('-'));
    for n in 1..=MOST_JOBS {
        let path = folder.join(if n == 1 { name.clone() } else { format!("{name}-{n}") });
        match std::fs::create_dir(&path) {
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
            made => {
                return made
                    .map(|()| path.clone())
                    .map_err(Error::write(&path, "cannot make the folder"));
            }
        }
    }
    Err(Error::said(|language| {
        said!(
            language;
            "{}: holds too many jobs of this name; give the job another",
            "{}: enthält zu viele Aufträge dieses Namens; dem Auftrag einen anderen geben";
            folder.display()
        )
    }))
}

/// Takes away what an earlier run left half-written when it was ended: hidden files of ours that nobody writes to any more.
pub(super) fn sweep(folder: &Path) {
    let is_left_over = |entry: &std::fs::DirEntry| {
        let name = entry.file_name().to_string_lossy().into_owned();
        // Those that are meant to stay bear the same beginning.
        let stays = [PHONES, PUT_AWAY, LIST, undo::OF_JOB].contains(&name.as_str()) || name.starts_with(undo::OF_WALL);
        let ours = name.starts_with(whole_file::PREFIX) && !stays;
        let age = entry
            .metadata()
            .ok()
            .filter(std::fs::Metadata::is_file)
            .and_then(|m| m.modified().ok()?.elapsed().ok());
        ours && age.is_some_and(|age| age > LEFT_OVER)
    };
    let places = all(folder).into_iter();
    for place in places
        .flat_map(|place| [place.folder.join(PHOTOS), place.folder])
        .chain([folder.to_owned()])
    {
        for entry in std::fs::read_dir(place).into_iter().flatten().flatten() {
            if is_left_over(&entry) {
                let _ = std::fs::remove_file(entry.path());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_start_takes_away_what_is_half_written_and_nothing_that_is_meant_to_stay() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(JOB), b"").unwrap();
        let of_second = format!("{}-bay-2.toml", undo::OF_WALL);
        let meant = [PHONES, PUT_AWAY, LIST, undo::OF_JOB, undo::OF_WALL, &of_second];
        for (name, age) in meant
            .map(|name| (name, 2))
            .into_iter()
            .chain([(".beamfall-x1", 2), (".beamfall-x2", 0)])
        {
            let file = std::fs::File::create(folder.path().join(name)).unwrap();
            file.set_modified(std::time::SystemTime::now() - age * LEFT_OVER)
                .unwrap();
        }
        sweep(folder.path());
        let is_there = |name: &str| folder.path().join(name).exists();
        assert!(meant.into_iter().all(is_there));
        assert!(!is_there(".beamfall-x1") && is_there(".beamfall-x2") && is_there(JOB));
    }
}
