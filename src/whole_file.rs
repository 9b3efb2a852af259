//! Files that are whole or not there: written beside their place, then renamed.

use std::io;
use std::path::Path;

/// Writes `bytes` to `path`. A failure, or a second run at the same time, never leaves a half-written file there; an
/// earlier file stays until the new one is whole. The folder must be there.
///
/// # Errors
/// What the system says of writing or renaming.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut name = std::ffi::OsString::from(".");
    name.push(path.file_name().unwrap_or_default());
    // The process's number keeps two runs at once from writing into the same unfinished file.
    name.push(format!(".{}.tmp", std::process::id()));
    let unfinished = path.with_file_name(name);
    let result = std::fs::write(&unfinished, bytes).and_then(|()| std::fs::rename(&unfinished, path));
    if result.is_err() {
        // What cannot be written can often not be removed either; the first error is the one that tells.
        let _ = std::fs::remove_file(&unfinished);
    }
    result
}
