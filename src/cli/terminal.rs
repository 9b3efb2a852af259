//! The terminal: what is printed, whether in colour, and how far a long work is.

use crate::error::Error;
use crate::language::Language;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{ErrorKind, IsTerminal, Write};
use std::path::Path;

/// Prints to standard output; a pipe that was closed on the way (as by `head`) is no error.
pub(super) fn print(text: &str) -> Result<(), Error> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => {
            Err(Error::write(Path::new("standard output"), "cannot write")(e))
        }
        _ => Ok(()),
    }
}

/// Prints what a machine is to read.
pub(super) fn print_json(value: &impl serde::Serialize) -> Result<(), Error> {
    print(&crate::report::json(value)?)
}

/// Whether output may be coloured: a terminal, and neither `NO_COLOR` nor a dumb terminal.
pub(super) fn colour_allowed() -> bool {
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    !no_colour && !dumb && std::io::stdout().is_terminal()
}

/// Columns of the terminal; in a pipe those of one that nobody has widened.
pub(super) fn columns() -> usize {
    let out = std::io::stdout();
    let size = if out.is_terminal() {
        terminal_size::terminal_size_of(&out)
    } else {
        None
    };
    size.map_or(
        crate::report::terminal::COLUMNS,
        |(terminal_size::Width(columns), _)| usize::from(columns),
    )
}

/// A progress bar at a terminal; silent in a pipe.
pub(super) struct Progress(ProgressBar);

impl Progress {
    /// A bar in the given form.
    pub fn new(template: &str) -> Self {
        let bar = ProgressBar::no_length();
        if !std::io::stderr().is_terminal() {
            bar.set_draw_target(ProgressDrawTarget::hidden());
        }
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style);
        }
        Self(bar)
    }

    /// A bar over the photos of a job.
    pub fn of_photos(language: Language) -> Self {
        Self::new(language.pick(
            "reading photos {percent} % {wide_bar} {eta} left",
            "liest Fotos {percent} % {wide_bar} noch {eta}",
        ))
    }

    /// Shows that `done` steps of `all` are done.
    pub fn show(&self, done: usize, all: usize) {
        self.0.set_length(all as u64);
        self.0.set_position(done as u64);
    }

    /// Shows that one more step is done.
    pub fn step(&self) {
        self.0.inc(1);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
