//! Tests of the rooms from inside the crate: each holds a room, or several together, against something outside it. They are
//! part of the library's own tests (`cargo test --lib rooms::`), since the rooms are private; the tests beside this folder run
//! the program as a user does.

mod adjuster;
mod askew;
mod brackets;
mod common;
mod isolate;
mod jcgm_106;
mod marks_sheets;
mod monte_carlo;
mod outside;
mod photographed;
mod refusals;
mod render_files;
mod report_outputs;
mod round_trip;
mod tones;
mod two_lamps;
mod wall_photos;
