//! Files from outside, read whole: regular files under a stated size, so that nothing that is named can hang the program or
//! fill its memory.

use crate::language::{Language, Said, said};
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// Most bytes of a text file (TOML): a job of 10 000 shots takes 0.6 to 1.3 MB.
pub(crate) const MOST_TEXT_BYTES: u64 = 2_000_000;
/// Most bytes of a photo: a JPEG or a PNG of the largest size that is read takes less, save for a PNG of noise with 16 bits a
/// channel.
pub(crate) const MOST_PHOTO_BYTES: u64 = 200_000_000;

/// Why a file was not read: what it is, and how to mend that.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NotRead(pub Said);

impl NotRead {
    /// Why, as errors say it.
    pub fn english(&self) -> &str {
        self.0.within(Language::English)
    }

    fn of(error: &std::io::Error) -> Self {
        Self(Said::of(|language| match error.kind() {
            ErrorKind::NotFound => {
                said!(language; "there is no such file; check the path", "die Datei gibt es nicht; den Pfad prüfen")
            }
            _ => said!(language; "cannot be read: {error}", "ist nicht lesbar: {error}"),
        }))
    }
}

/// Reads a file of at most `most` bytes.
///
/// # Errors
/// [`NotRead`] for what is not there, is no regular file, or is larger.
pub(crate) fn read(path: &Path, most: u64) -> Result<Vec<u8>, NotRead> {
    let (file, length) = open(path, most)?;
    let mut bytes = Vec::with_capacity(usize::try_from(length).unwrap_or(0));
    // Its length may be another by now, or be told as nothing (as in /proc).
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| NotRead::of(&e))?;
    if bytes.len() as u64 > most {
        return Err(too_large(most));
    }
    Ok(bytes)
}

/// Opens a file of at most `most` bytes; with its length as it is told.
///
/// # Errors
/// As [`read`].
pub(crate) fn open(path: &Path, most: u64) -> Result<(File, u64), NotRead> {
    // Asked before opening, since opening a named pipe waits for its writer.
    regular(&std::fs::metadata(path).map_err(|e| NotRead::of(&e))?)?;
    let file = File::open(path).map_err(|e| NotRead::of(&e))?;
    let metadata = file.metadata().map_err(|e| NotRead::of(&e))?;
    regular(&metadata)?;
    if metadata.len() > most {
        return Err(too_large(most));
    }
    Ok((file, metadata.len()))
}

fn too_large(most: u64) -> NotRead {
    NotRead(Said::of(|language| {
        said!(
            language;
            "is larger than {} MB; give the file itself",
            "ist größer als {} MB; die Datei selbst angeben";
            most / 1_000_000
        )
    }))
}

fn regular(metadata: &std::fs::Metadata) -> Result<(), NotRead> {
    if metadata.is_file() {
        return Ok(());
    }
    Err(NotRead(Said::of(|language| {
        let what = match (language, metadata.is_dir()) {
            (Language::English, true) => "a folder",
            (Language::English, false) => "a device or a pipe",
            (Language::German, true) => "ein Ordner",
            (Language::German, false) => "ein Gerät oder eine Pipe",
        };
        said!(
            language;
            "is {what}, not a file; give the file itself",
            "ist {what}, keine Datei; die Datei selbst angeben"
        )
    })))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_regular_files_under_the_limit_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        std::fs::write(&path, b"12345").unwrap();
        assert_eq!(read(&path, 5).unwrap(), b"12345");
        let refused = |path: &Path, most| read(path, most).unwrap_err().english().to_owned();
        assert!(refused(&path, 4).contains("larger than"));
        assert!(refused(folder.path(), 5).contains("is a folder"));
        assert!(refused(&folder.path().join("none"), 5).contains("no such file"));
        #[cfg(unix)]
        assert!(refused(Path::new("/dev/zero"), 5).contains("is a device"));
    }
}
