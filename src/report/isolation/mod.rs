//! What isolation found, drawn: the system with where each part stands, and the plan; for the wall as sheets of A4.

pub mod drawing;
pub mod plan;
mod sheet;

use super::document::Sign;
use super::words::{minutes, percent, sentence};
use crate::isolate::Standing;

impl Standing {
    /// The sign that stands before the word, so that neither colour nor reading is needed to tell them apart.
    #[must_use]
    pub fn sign(self) -> char {
        Sign::from(self).letter()
    }
}
