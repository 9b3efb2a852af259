//! The last change that the page made to a file, kept beside it so that it can be taken back, after a reload or a restart too.

use super::jobs::{self, BAY, is_own_file};
use crate::bounded_file;
use crate::digest;
use crate::error::Error;
use crate::language::{Language, Said, said};
use crate::record::{Changed, Kept, put_back, read_text};
use crate::whole_file;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// What is kept of a change in the job's folder, and of one in the wall's.
pub(super) const OF_JOB: &str = ".beamfall-undo";
pub(super) const OF_WALL: &str = ".beamfall-undo-wall";
/// A job file twice over, written as JSON.
const MOST_BYTES: u64 = 16 * 1024 * 1024;

/// The last change.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Last {
    /// What was done, in words.
    pub what: Said,
    /// It was taken back: what can be done now is to do it again.
    pub is_undone: bool,
    /// Digest of the file as the change left it: another program's change shows by it.
    pub left_as: String,
    /// The file's text before.
    earlier: String,
    /// Of a wall's change: the jobs that were there, as the page names them. What was made for them is not offered on a job that came later.
    #[serde(default)]
    jobs: Vec<String>,
}

impl Last {
    /// Whether this job was there when the change was made.
    pub(super) fn was_there(&self, job: &str) -> bool {
        self.jobs.iter().any(|there| there == job)
    }
}

/// The jobs that a change of the file may concern, where it is a wall's.
fn jobs_at(file: &Path, kind: Kept) -> Vec<String> {
    let folder = file.parent().filter(|_| kind == Kept::Bay);
    let places = folder.map(jobs::all).unwrap_or_default();
    places.into_iter().map(|place| place.id).collect()
}

fn beside(file: &Path, kind: Kept) -> PathBuf {
    // Of several walls in one folder each has its own.
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    file.with_file_name(match kind {
        Kept::Job => OF_JOB.to_owned(),
        Kept::Bay if name == BAY => OF_WALL.to_owned(),
        Kept::Bay => format!("{OF_WALL}-{name}"),
    })
}

/// Lets a change made by `record::edit` stand and keeps what is wanted to take it back: all of the page's changes come through here. Where that
/// cannot be kept the change stands all the same, and what was kept before no longer fits the file.
///
/// # Errors
/// That of the change, of which then nothing is kept.
pub(super) fn change(
    file: &Path,
    kind: Kept,
    what: impl Fn(Language) -> String,
    changed: Result<Changed, Error>,
) -> Result<(), Error> {
    let changed = changed?;
    let last = Last {
        what: Said::of(what),
        is_undone: false,
        left_as: digest::of(changed.after.as_bytes()),
        earlier: changed.before,
        jobs: jobs_at(file, kind),
    };
    let _ = write(file, kind, &last);
    Ok(())
}

/// When the last change was made or taken back, by which the newest of several files is found.
pub(super) fn time(file: &Path, kind: Kept) -> Option<SystemTime> {
    let path = beside(file, kind);
    let metadata = path.symlink_metadata().ok()?;
    metadata.modified().ok().filter(|_| metadata.is_file())
}

fn write(file: &Path, kind: Kept, last: &Last) -> Result<(), Error> {
    let path = beside(file, kind);
    let text = serde_json::to_vec(last).map_err(|e| Error::make("what is kept of the change", e))?;
    whole_file::write(&path, &text)
}

/// The last change, if the file still is as it left it.
pub(super) fn last(file: &Path, kind: Kept) -> Option<Last> {
    let last = kept(file, kind)?;
    let now = read_text(file).ok()?;
    (digest::of(now.as_bytes()) == last.left_as).then_some(last)
}

fn kept(file: &Path, kind: Kept) -> Option<Last> {
    let path = beside(file, kind);
    if !is_own_file(&path) {
        return None;
    }
    let bytes = bounded_file::read(&path, MOST_BYTES).ok()?;
    serde_json::from_slice(&bytes).ok()
}

/// Takes the last change back, or does it again; `left_as` says which change was shown to who asked.
///
/// # Errors
/// [`Error`] where there is no such change any more, or the file was changed since.
pub(super) fn take_back(file: &Path, kind: Kept, left_as: &str) -> Result<(), Error> {
    let last = kept(file, kind).filter(|last| last.left_as == left_as);
    let Some(last) = last else {
        return Err(Error::said(|language| {
            said!(
                language;
                "this is not the last change any more; load the page again",
                "das ist nicht mehr die letzte Änderung; die Seite neu laden"
            )
        }));
    };
    let now = read_text(file)?;
    if digest::of(now.as_bytes()) != last.left_as {
        return Err(Error::said(|language| {
            said!(
                language;
                "{}: was changed by another program since, so that nothing is taken back; change it there by hand",
                "{}: wurde seither von einem anderen Programm geändert, darum wird nichts zurückgenommen; es dort von Hand ändern";
                file.display()
            )
        }));
    }
    let changed = put_back(file, kind, &now, &last.earlier)?;
    let back = Last {
        what: last.what,
        is_undone: !last.is_undone,
        left_as: digest::of(changed.after.as_bytes()),
        earlier: changed.before,
        jobs: jobs_at(file, kind),
    };
    write(file, kind, &back)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::append;

    const JOB: &str = "# mine\nschema = 1\njob = \"W\" # number\nbay = \"bay.toml\"\ntraffic = \"right\"\n";
    const REPAIR: &str = "\n[[repair]]\ndate = \"2031-03-05\"\nwords = \"replaced\"\n";

    #[test]
    fn a_change_is_taken_back_and_done_again_byte_for_byte() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.toml");
        std::fs::write(&file, JOB).unwrap();
        assert!(last(&file, Kept::Job).is_none());
        let words = |words: &'static str| move |_| words.to_owned();
        change(&file, Kept::Job, words("a repair"), append(&file, JOB, REPAIR)).unwrap();
        // What was refused is not kept.
        change(&file, Kept::Job, words("another"), append(&file, JOB, REPAIR)).unwrap_err();
        let now = || std::fs::read_to_string(&file).unwrap();
        let changed = now();
        for undone in [false, true, false] {
            let shown = last(&file, Kept::Job).unwrap();
            assert_eq!(
                (shown.what.within(Language::English), shown.is_undone),
                ("a repair", undone)
            );
            take_back(&file, Kept::Job, &shown.left_as).unwrap();
            assert_eq!(now(), if undone { changed.as_str() } else { JOB });
            take_back(&file, Kept::Job, &shown.left_as).unwrap_err();
        }
        // Another program's change is not undone with ours.
        let shown = last(&file, Kept::Job).unwrap();
        std::fs::write(&file, format!("{}# theirs\n", now())).unwrap();
        assert!(last(&file, Kept::Job).is_none());
        let said = take_back(&file, Kept::Job, &shown.left_as).unwrap_err().to_string();
        assert!(said.contains("another program"), "{said}");
        assert!(now().ends_with("# theirs\n"));
    }
}
