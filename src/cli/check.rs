//! `beamfall measure --check`: what this build does on made photos.

use super::Status;
use super::session::print;
use crate::check::{Kind, Wanted, Way, render, run};
use anyhow::Context;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;

/// Arguments of `beamfall measure --check`.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Check of the program itself, in place of photos")]
pub(super) struct Arguments {
    /// Draw made photos by lot, read them, and print errors against their truth
    #[arg(long, conflicts_with_all = ["inputs", "csv", "fail_outside", "bay", "lamp_height", "distance", "lamp_x", "traffic", "tolerance"])]
    pub check: bool,
    /// Check: scenes of each kind (24; unreadable: two of each way); in the mix a quarter of it for travel, whose series
    /// have four photos
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    scenes: Option<u32>,
    /// Check: seed of the first scene; the next ones count on from it (1)
    #[arg(long, value_name = "S")]
    seed: Option<u64>,
    /// Check: readings, taped, travel or unreadable; left out, a mix of all
    #[arg(long, value_name = "KIND")]
    kind: Option<Kind>,
    /// Check: lines for each scene too
    #[arg(long, conflicts_with = "json")]
    each: bool,
}

/// Scenes of a kind where the user names no number.
const SCENES: usize = 24;

impl Arguments {
    /// Whether an option of the check is given without `--check`. clap's own `requires` does not tell: the check
    /// excludes a job, so that with a job clap takes its absence for allowed.
    pub fn is_misplaced(&self) -> bool {
        !self.check && (self.scenes.is_some() || self.seed.is_some() || self.kind.is_some() || self.each)
    }

    fn wanted(&self) -> Vec<Wanted> {
        let scenes = |kind: Kind| match (self.scenes, kind) {
            (Some(number), _) => number as usize,
            // Two of each way.
            (None, Kind::Unreadable) => 2 * Way::ALL.len(),
            (None, _) => SCENES,
        };
        let of_mix = |kind: Kind| Wanted {
            kind,
            // A series has four photos.
            scenes: scenes(kind).div_ceil(if kind == Kind::Travel { 4 } else { 1 }),
        };
        match self.kind {
            Some(kind) => vec![Wanted {
                kind,
                scenes: scenes(kind),
            }],
            None => Kind::ALL.map(of_mix).to_vec(),
        }
    }
}

/// Runs the check and prints it. Whatever the errors, that is information: the status is that of work done.
pub(super) fn run_check(arguments: &Arguments, json: bool) -> anyhow::Result<Status> {
    let wanted = arguments.wanted();
    let progress = progress(wanted.iter().map(|w| w.scenes).sum());
    let checked = run(arguments.seed.unwrap_or(1), &wanted, &|| progress.inc(1));
    progress.finish_and_clear();
    let checked = checked?;
    if json {
        let text = serde_json::to_string_pretty(&checked).context("the check as JSON")?;
        print(&format!("{text}\n"))?;
    } else {
        print(&render(&checked, arguments.each))?;
    }
    Ok(Status::Done)
}

/// A progress bar over scenes at a terminal; silent in a pipe.
fn progress(scenes: usize) -> ProgressBar {
    let bar = ProgressBar::new(scenes as u64);
    if !std::io::stderr().is_terminal() {
        bar.set_draw_target(ProgressDrawTarget::hidden());
    }
    if let Ok(style) = ProgressStyle::with_template("scenes {pos}/{len} {wide_bar} {eta} left") {
        bar.set_style(style);
    }
    bar
}
