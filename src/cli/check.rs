//! `beamfall measure --check`: what this build does on made photos.

use super::Status;
use super::session::print;
use crate::check::{Kind, Wanted, render, run};
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
    /// Check: scenes of each kind (24; of the mix's travel a quarter, since a series has four photos)
    #[arg(long, value_name = "N", requires = "check", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    scenes: Option<u32>,
    /// Check: seed of the first scene; the next ones count on from it (1)
    #[arg(long, value_name = "S", requires = "check")]
    seed: Option<u64>,
    /// Check: readings, taped or travel; left out, a mix of all
    #[arg(long, value_name = "KIND", requires = "check")]
    kind: Option<Kind>,
    /// Check: lines for each scene too
    #[arg(long, requires = "check", conflicts_with = "json")]
    each: bool,
}

/// Scenes of a kind where the user names no number.
const SCENES: usize = 24;

impl Arguments {
    fn wanted(&self) -> Vec<Wanted> {
        let scenes = self.scenes.map_or(SCENES, |n| n as usize);
        match self.kind {
            Some(kind) => vec![Wanted { kind, scenes }],
            None => Kind::ALL
                .map(|kind| Wanted {
                    kind,
                    scenes: if kind == Kind::Travel {
                        scenes.div_ceil(4)
                    } else {
                        scenes
                    },
                })
                .to_vec(),
        }
    }
}

/// Runs the check and prints it. Whatever the errors, that is information: the status is that of work done.
pub(super) fn run_check(arguments: &Arguments, json: bool) -> anyhow::Result<Status> {
    let wanted = arguments.wanted();
    let progress = progress(wanted.iter().map(|w| w.scenes).sum());
    let checked = run(arguments.seed.unwrap_or(1), &wanted, &|| progress.inc(1));
    progress.finish_and_clear();
    let checked = checked.map_err(anyhow::Error::msg)?;
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
