//! The `beamfall` program; all the work is in the library.
fn main() {}
