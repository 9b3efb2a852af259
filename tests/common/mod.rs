//! What all tests of the program have in common.

use std::process::Command;

/// The program, with the readings that it keeps in the tests' own folder.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_beamfall"));
    command.env("XDG_CACHE_HOME", env!("CARGO_TARGET_TMPDIR"));
    command
}
