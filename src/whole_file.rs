//! Files that are whole or not there: written beside their place, then renamed.

use crate::error::Error;
use std::io::Write;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// How the name of a file begins that is not whole yet.
pub(crate) const PREFIX: &str = ".beamfall-";

/// Writes `bytes` to `path`. A failure, or a second run at the same time, never leaves a half-written file there; an
/// earlier file stays until the new one is whole. The folder must be there.
///
/// # Errors
/// [`Error::Write`].
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    beside(path, bytes, USUAL_MODE)?
        .persist(path)
        .map_err(|e| in_place(path)(e.error))?;
    Ok(())
}

/// As [`write()`], for its owner alone to read where the system knows owners, and only where there is no file yet.
///
/// # Errors
/// [`Error::Write`].
pub(crate) fn write_secret(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    beside(path, bytes, 0o600)?
        .persist_noclobber(path)
        .map_err(|e| in_place(path)(e.error))?;
    Ok(())
}

/// As any file is made, less what the user's mask takes away; a temporary file would else be its maker's alone.
const USUAL_MODE: u32 = 0o666;

/// Fails where [`write()`] could not put a file at `path`: asked before long work.
///
/// # Errors
/// [`Error::Write`].
pub(crate) fn can_write(path: &Path) -> Result<(), Error> {
    if path.is_dir() {
        return Err(in_place(path)(std::io::ErrorKind::IsADirectory.into()));
    }
    beside(path, b"", USUAL_MODE).map(drop)
}

/// Writes several files, making their folders where need be: all are whole beside their places before the first is put
/// there. Gives their paths, in the same order.
///
/// # Errors
/// [`Error::Write`].
pub(crate) fn write_all(files: Vec<(PathBuf, Vec<u8>)>) -> Result<Vec<PathBuf>, Error> {
    let mut parts = Vec::with_capacity(files.len());
    for (path, bytes) in files {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).map_err(Error::write(folder, "cannot make the folder"))?;
        }
        parts.push((beside(&path, &bytes, USUAL_MODE)?, path));
    }
    let put = |(part, path): (NamedTempFile, PathBuf)| {
        part.persist(&path).map_err(|e| in_place(&path)(e.error))?;
        Ok(path)
    };
    parts.into_iter().map(put).collect()
}

/// Writes several files, each only where there is none yet: all are whole beside their places before the first is put there, and
/// where one cannot be put there, none is.
///
/// # Errors
/// [`Error::Write`].
pub(crate) fn write_new(files: &[(PathBuf, String)]) -> Result<(), Error> {
    let parts = (files.iter())
        .map(|(path, text)| Ok((beside(path, text.as_bytes(), USUAL_MODE)?, path)))
        .collect::<Result<Vec<_>, Error>>()?;
    let mut put: Vec<&PathBuf> = Vec::new();
    for (part, path) in parts {
        if let Err(failed) = part.persist_noclobber(path) {
            // They are our own, made a moment ago; one that cannot be taken away again is whole at the least.
            put.iter().for_each(|path| drop(std::fs::remove_file(path)));
            return Err(in_place(path)(failed.error));
        }
        put.push(path);
    }
    Ok(())
}

fn in_place(path: &Path) -> impl FnOnce(std::io::Error) -> Error {
    Error::write(path, "cannot put the new file in its place")
}

/// A file with `bytes` beside `path`, of this mode where the system has modes, which goes away unless it is put into its place.
fn beside(path: &Path, bytes: &[u8], mode: u32) -> Result<NamedTempFile, Error> {
    let folder = match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(PREFIX);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(mode));
    }
    #[cfg(not(unix))]
    let _ = mode;
    let failed = |source| Error::write(path, "cannot write")(source);
    let mut part = builder.tempfile_in(folder).map_err(failed)?;
    part.write_all(bytes).map_err(failed)?;
    Ok(part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_cannot_be_put_in_place_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let taken = folder.path().join("taken");
        std::fs::create_dir_all(taken.join("inside")).unwrap();
        let error = write(&taken, b"text").unwrap_err().to_string();
        assert!(error.contains("taken") && error.contains("cannot put"), "{error}");
        assert_eq!(
            std::fs::read_dir(folder.path()).unwrap().count(),
            1,
            "only the folder itself"
        );
    }

    #[test]
    fn new_files_are_put_all_or_none_and_over_none() {
        let folder = tempfile::tempdir().unwrap();
        let [a, b] = ["a", "b"].map(|name| folder.path().join(name));
        std::fs::write(&b, "old").unwrap();
        let both = [(a.clone(), "new a".to_owned()), (b.clone(), "new b".to_owned())];
        write_new(&both).unwrap_err();
        assert!(!a.exists() && std::fs::read_to_string(&b).unwrap() == "old");
        std::fs::remove_file(&b).unwrap();
        write_new(&both).unwrap();
        assert_eq!(
            std::fs::read_to_string(&a).unwrap() + &std::fs::read_to_string(&b).unwrap(),
            "new anew b"
        );
    }

    #[cfg(unix)]
    #[test]
    fn files_have_the_usual_permissions() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let mode = |name: &str| {
            std::fs::metadata(folder.path().join(name))
                .unwrap()
                .permissions()
                .mode()
        };
        std::fs::write(folder.path().join("plain"), b"").unwrap();
        write(&folder.path().join("ours"), b"").unwrap();
        assert_eq!(mode("ours"), mode("plain"));
    }
}
