//! The command line: arguments to library calls to exit status. One file a command.

mod check;
mod exit;
mod isolate;
mod kept;
mod key;
mod marks;
mod measure;
mod new;
mod render;
mod report;
mod serve;
mod shots;
mod spoken;
mod terminal;
mod verify;

pub use exit::Status;

use crate::report::text::harmless;
use clap::{Parser, Subcommand};
use std::ffi::OsString;
use std::io::Write;
use std::process::ExitCode;

/// Measures what a headlamp range adjuster does to the beam, from photos of the cut-off on a wall.
#[derive(Debug, Parser)]
#[command(name = "beamfall", version, max_term_width = 100, after_help = after_help())]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

fn after_help() -> String {
    format!(
        "Exit status: 0 all read; 1 an error; 2 wrong usage; 3 some shot was refused; 4 with --fail-outside, some \
         verdict is outside.\n\n{}",
        crate::disclaimer(crate::language::Language::English)
    )
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write the sheets with the marks to print (PDF, true to size)
    Marks(marks::Arguments),
    /// Ask for bay and job, and write both files
    New(new::Arguments),
    /// Read photos: a table, or JSON or CSV
    Measure(measure::Arguments),
    /// The whole job: results, readings, plots and a page to hand over
    Report(report::Arguments),
    /// Say which photos to take; afterwards enter them in the job
    Shots(shots::Arguments),
    /// The same work on a page in the browser of this computer
    Serve(serve::Arguments),
    /// Rank what can be at fault in the range adjuster, and name the best next test
    Isolate(isolate::Arguments),
    /// Read a report's evidence again: every digest, and every figure from the photos
    Verify(verify::Arguments),
    /// Make a pair of keys to sign evidence with
    Key(key::Arguments),
    /// Draw made photos at random, read them, and hold them against their truth
    Check(check::Arguments),
    /// Draw made photos of a made-up wall, with their truth
    Render(render::Arguments),
}

/// Runs the program with `arguments` (the program's own name first) and gives its exit status.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(error) => {
            // Help and version are answers, not errors; clap chooses the stream and the status.
            let status = u8::try_from(error.exit_code()).unwrap_or(2);
            if error.print().is_err() {
                return ExitCode::from(1);
            }
            return ExitCode::from(status);
        }
    };
    let outcome = match parsed.command {
        Command::Marks(arguments) => marks::run(&arguments),
        Command::New(arguments) => new::run(&arguments),
        Command::Measure(arguments) => measure::run(&arguments),
        Command::Report(arguments) => report::run(&arguments),
        Command::Shots(arguments) => shots::run(&arguments),
        Command::Serve(arguments) => serve::run(&arguments),
        Command::Isolate(arguments) => isolate::run(&arguments),
        Command::Verify(arguments) => verify::run(&arguments),
        Command::Key(arguments) => key::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Render(arguments) => render::run(&arguments),
    };
    outcome
        .unwrap_or_else(|error| {
            // Where even the error's stream is closed, the status still tells.
            let _ = writeln!(std::io::stderr(), "beamfall: {}", harmless(&error.to_string()));
            Status::of(&error)
        })
        .into()
}
