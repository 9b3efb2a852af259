//! Whether readings of earlier runs are taken up.

use crate::run::Cache;

/// The option of every command that reads a job's photos.
#[derive(Debug, clap::Args)]
pub(super) struct Kept {
    /// Read all photos anew, and keep no readings for the next run
    #[arg(long)]
    read_anew: bool,
}

impl Kept {
    /// Where readings are kept; `None` where none are wanted, or no place is known.
    pub fn cache(&self) -> Option<Cache> {
        (!self.read_anew).then(Cache::of_user).flatten()
    }
}
