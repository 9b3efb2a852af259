//! A folder of files that is whole or as it was: the new one is made beside the old and they change places, by one exchange
//! where the system has it. What others put into the old folder goes on in the new one.

use crate::error::Error;
use std::io::{Error as IoError, ErrorKind};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Fails unless [`replace`] can make or replace `folder`: asked before long work. Puts an earlier folder back that a killed
/// run left beside its place.
///
/// # Errors
/// [`Error::Write`].
pub(crate) fn can_replace(folder: &Path) -> Result<(), Error> {
    let place = Place::of(folder)?;
    let known = place
        .parent
        .ancestors()
        .find(|one| one.exists())
        .unwrap_or(Path::new("."));
    drop(beside(known, folder)?);
    Ok(())
}

/// Puts `files`, named relative to `folder`, into it in place of all earlier ones for which `is_ours` holds. Others stay. Gives
/// the files' paths.
///
/// # Errors
/// [`Error::Write`]; the folder is then as it was.
pub(crate) fn replace(
    folder: &Path,
    files: Vec<(PathBuf, Vec<u8>)>,
    is_ours: &dyn Fn(&Path) -> bool,
) -> Result<Vec<PathBuf>, Error> {
    let place = Place::of(folder)?;
    std::fs::create_dir_all(&place.parent).map_err(Error::write(&place.parent, "cannot make the folder"))?;
    let new = beside(&place.parent, folder)?;
    for (name, bytes) in &files {
        let path = new.path().join(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent).map_err(Error::write(parent, "cannot make the folder"))?;
        }
        std::fs::write(&path, bytes).map_err(Error::write(&folder.join(name), "cannot write"))?;
    }
    if place.path.exists() {
        carry_over(&place.path, new.path(), Path::new(""), is_ours)?;
    }
    place
        .swap_in(new.path(), &|from, to| std::fs::rename(from, to))
        .map_err(Error::write(folder, "cannot put the new folder in its place"))?;
    Ok(files.into_iter().map(|(name, _)| folder.join(name)).collect())
}

/// A new folder in `parent`, which goes away unless it changes its place.
fn beside(parent: &Path, folder: &Path) -> Result<TempDir, Error> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".beamfall-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o777));
    }
    builder.tempdir_in(parent).map_err(Error::write(folder, "cannot write"))
}

/// Links what is not ours from the old folder into the new one, where there is nothing of that name yet.
fn carry_over(old: &Path, new: &Path, within: &Path, is_ours: &dyn Fn(&Path) -> bool) -> Result<(), Error> {
    let failed = |path: &Path, e: IoError| Error::write(path, "cannot be taken over into the new report")(e);
    let from = old.join(within);
    for entry in std::fs::read_dir(&from).map_err(|e| failed(&from, e))? {
        let entry = entry.map_err(|e| failed(&from, e))?;
        let (path, name) = (entry.path(), within.join(entry.file_name()));
        let (target, is_folder) = (
            new.join(&name),
            entry.file_type().map_err(|e| failed(&path, e))?.is_dir(),
        );
        let clash = |what| Err(Error::write(&path, what)(IoError::from(ErrorKind::AlreadyExists)));
        if is_folder && (is_ours(&name) || target.is_file()) {
            return clash("is a folder where a file of the report belongs");
        } else if !is_folder && target.is_dir() {
            return clash("is a file where a folder of the report belongs");
        } else if is_folder {
            std::fs::create_dir_all(&target).map_err(|e| failed(&path, e))?;
            carry_over(old, new, &name, is_ours)?;
        } else if !is_ours(&name) && !target.exists() {
            // Some file systems know no links; a copy of a pipe would wait for ever.
            let linked = std::fs::hard_link(&path, &target);
            if linked.is_err() && path.is_file() {
                std::fs::copy(&path, &target).map_err(|e| failed(&path, e))?;
            } else {
                linked.map_err(|e| failed(&path, e))?;
            }
        }
    }
    Ok(())
}

/// Where the folder is or will be.
struct Place {
    path: PathBuf,
    parent: PathBuf,
    /// Where the old folder stands while two renames take the place of one exchange.
    aside: PathBuf,
}

impl Place {
    fn of(folder: &Path) -> Result<Self, Error> {
        let unfit = |what, kind| Err(Error::write(folder, what)(IoError::from(kind)));
        // A link stays a link: what it points to is replaced.
        let path = match folder.canonicalize() {
            Ok(path) => path,
            Err(_) => std::path::absolute(folder).map_err(Error::write(folder, "cannot write"))?,
        };
        let (Some(parent), Some(name)) = (path.parent(), path.file_name()) else {
            return unfit("is no folder that a report can replace", ErrorKind::InvalidInput);
        };
        let place = Self {
            parent: parent.to_owned(),
            aside: parent.join(format!(".{}.earlier", name.to_string_lossy())),
            path: path.clone(),
        };
        if !path.exists() && place.aside.is_dir() {
            std::fs::rename(&place.aside, &path).map_err(Error::write(folder, "cannot put the earlier folder back"))?;
        }
        if path.exists() && !path.is_dir() {
            return unfit("is a file where the folder belongs", ErrorKind::NotADirectory);
        }
        // The old folder goes away, and whoever stands in it would stand nowhere.
        let stands_in = |here: PathBuf| here.canonicalize().is_ok_and(|here| here.starts_with(&path));
        if std::env::current_dir().is_ok_and(stands_in) {
            return unfit(
                "is the folder that you are in; give one of its own",
                ErrorKind::InvalidInput,
            );
        }
        Ok(place)
    }

    /// Puts the whole folder `new` into the place. `rename` is the system's, save in tests.
    fn swap_in(&self, new: &Path, rename: &dyn Fn(&Path, &Path) -> std::io::Result<()>) -> std::io::Result<()> {
        if !self.path.exists() {
            return rename(new, &self.path);
        }
        let permissions = std::fs::metadata(&self.path)?.permissions();
        std::fs::set_permissions(new, permissions)?;
        if exchange(new, &self.path) {
            return Ok(());
        }
        self.swap_by_two(new, rename)
    }

    /// Killed between the two renames, the old folder is whole beside the place, and the next run puts it back.
    fn swap_by_two(&self, new: &Path, rename: &dyn Fn(&Path, &Path) -> std::io::Result<()>) -> std::io::Result<()> {
        // Both stand: a run was killed after its last rename.
        if self.aside.exists() {
            std::fs::remove_dir_all(&self.aside)?;
        }
        rename(&self.path, &self.aside)?;
        if let Err(e) = rename(new, &self.path) {
            rename(&self.aside, &self.path)?;
            return Err(e);
        }
        // The report is in place; what cannot be taken away now is by the next run.
        let _ = std::fs::remove_dir_all(&self.aside);
        Ok(())
    }
}

/// Exchanges two folders at once; `false` where the system or the file system cannot.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchange(a: &Path, b: &Path) -> bool {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).is_ok()
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchange(_: &Path, _: &Path) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    const OURS: [&str; 2] = ["a", "b"];

    fn files(text: &str) -> Vec<(PathBuf, Vec<u8>)> {
        OURS.map(|name| (PathBuf::from(name), text.as_bytes().to_vec()))
            .to_vec()
    }

    fn is_ours(name: &Path) -> bool {
        OURS.iter().any(|one| name == Path::new(one))
    }

    fn content(folder: &Path) -> Vec<String> {
        OURS.map(|name| std::fs::read_to_string(folder.join(name)).unwrap())
            .to_vec()
    }

    #[test]
    fn what_is_not_ours_goes_on_in_the_new_folder() {
        let root = tempfile::tempdir().unwrap();
        let folder = root.path().join("deep/report");
        replace(&folder, files("old"), &is_ours).unwrap();
        std::fs::create_dir(folder.join("more")).unwrap();
        std::fs::write(folder.join("more/mine"), "mine").unwrap();
        replace(&folder, files("new"), &is_ours).unwrap();
        assert_eq!(content(&folder), ["new", "new"]);
        assert_eq!(std::fs::read_to_string(folder.join("more/mine")).unwrap(), "mine");
        let beside: Vec<_> = std::fs::read_dir(root.path().join("deep")).unwrap().collect();
        assert_eq!(beside.len(), 1, "nothing is left beside: {beside:?}");
    }

    #[test]
    fn a_folder_in_the_place_of_a_file_leaves_all_as_it_was() {
        let root = tempfile::tempdir().unwrap();
        let folder = root.path().join("report");
        replace(&folder, files("old"), &is_ours).unwrap();
        std::fs::remove_file(folder.join("b")).unwrap();
        std::fs::create_dir(folder.join("b")).unwrap();
        let message = replace(&folder, files("new"), &is_ours).unwrap_err().to_string();
        assert!(message.contains("a file of the report belongs"), "{message}");
        assert_eq!(std::fs::read_to_string(folder.join("a")).unwrap(), "old");
    }

    /// Without the exchange: each rename in turn fails, or is the last one before the program is killed.
    #[test]
    fn a_fault_in_the_middle_leaves_one_whole_folder() {
        for (fails_at, is_killed) in [(0, false), (1, false), (0, true), (1, true)] {
            let root = tempfile::tempdir().unwrap();
            let folder = root.path().join("report");
            replace(&folder, files("old"), &is_ours).unwrap();
            let new = beside(root.path(), &folder).unwrap();
            for (name, bytes) in files("new") {
                std::fs::write(new.path().join(name), bytes).unwrap();
            }
            let calls = std::cell::Cell::new(0);
            let rename = |from: &Path, to: &Path| {
                let call = calls.replace(calls.get() + 1);
                if call == fails_at || (is_killed && call > fails_at) {
                    return Err(IoError::from(ErrorKind::PermissionDenied));
                }
                std::fs::rename(from, to)
            };
            let place = Place::of(&folder).unwrap();
            place.swap_by_two(new.path(), &rename).unwrap_err();
            // As the next run begins.
            can_replace(&folder).unwrap();
            assert_eq!(content(&folder), ["old", "old"], "{fails_at} {is_killed}");
            replace(&folder, files("new"), &is_ours).unwrap();
            assert_eq!(content(&folder), ["new", "new"]);
        }
    }

    #[test]
    fn a_place_that_cannot_be_written_is_known_beforehand() {
        let root = tempfile::tempdir().unwrap();
        let file = root.path().join("file");
        std::fs::write(&file, "x").unwrap();
        assert!(can_replace(&file).is_err() && can_replace(&file.join("report")).is_err());
        assert!(can_replace(&root.path().join("not/yet/there")).is_ok());
        assert_eq!(
            std::fs::read_dir(root.path()).unwrap().count(),
            1,
            "asking leaves nothing"
        );
    }
}
