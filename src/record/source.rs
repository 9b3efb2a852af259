//! Texts that come with the program, or from a file beside the job.

use super::read_text;
use crate::error::Error;
use include_dir::Dir;
use std::path::{Path, PathBuf};

/// A text, and where it is from.
pub(crate) struct Source {
    /// Its name among those that come with the program, or its path as the job has it.
    pub named: String,
    /// For messages.
    pub path: PathBuf,
    pub text: String,
}

impl Source {
    /// The text of that name among those `shipped`, whose place in the program's own tree is `place`, or in a file relative to `folder`.
    ///
    /// # Errors
    /// [`Error`] for a name that is neither, and a file that cannot be read. `what` says what is looked for.
    pub fn find(shipped: &Dir<'_>, place: &str, what: &str, name: &str, folder: &Path) -> Result<Self, Error> {
        let file = format!("{name}.toml");
        if let Some(text) = shipped.get_file(&file).and_then(|file| file.contents_utf8()) {
            return Ok(Self {
                named: name.to_owned(),
                path: Path::new(place).join(file),
                text: text.to_owned(),
            });
        }
        let path = folder.join(name);
        if !path.exists() {
            return Err(Error::in_file(
                &path,
                format!(
                    "there is no {what} of this name or path; shipped are {}",
                    names_in(shipped).join(", ")
                ),
            ));
        }
        Ok(Self {
            named: name.to_owned(),
            text: read_text(&path)?,
            path,
        })
    }
}

/// Names of the files in a folder that the program carries, without their extensions, in alphabetical order.
pub(super) fn names_in(shipped: &Dir<'_>) -> Vec<String> {
    let mut names: Vec<String> = shipped
        .files()
        .filter_map(|file| file.path().file_stem()?.to_str().map(str::to_owned))
        .collect();
    names.sort();
    names
}
