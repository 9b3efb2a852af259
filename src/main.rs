//! The `beamfall` program; all the work is in the library.

fn main() -> std::process::ExitCode {
    beamfall::cli::run(std::env::args_os())
}
