//! `beamfall check`: what this build does on made photos.

use super::Status;
use super::terminal::{Progress, print, print_json};
use crate::check::{Kind, Wanted, Way, render, run as run_check};
use crate::error::Error;

/// Arguments of `beamfall check`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall check
  beamfall check --kind readings --scenes 100 --seed 1
  beamfall check --kind unreadable --each
  beamfall check --kind slips --scenes 12

Whatever the errors, they are information: the exit status is that of work done. Made
photos are no evidence of how a real lamp is read.")]
pub(super) struct Arguments {
    /// Scenes of each kind (24; unreadable: two of each way); in the mix a quarter of it for travel, whose series have
    /// four photos
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    scenes: Option<u32>,
    /// Seed of the first scene; the next ones count on from it
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// readings, taped, lamp-faces (near the wall), travel, rough-walls, unreadable, conditions (askew, painted, soft,
    /// noisy), tones (curves other than sRGB's), local-tones (mapping by the surroundings) or slips (jobs entered
    /// wrongly, six photos each); left out, a mix of readings, taped, travel and unreadable
    #[arg(long, value_name = "KIND")]
    kind: Option<Kind>,
    /// Lines for each scene too
    #[arg(long, conflicts_with = "json")]
    each: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Scenes of a kind where the user names no number.
const SCENES: usize = 24;

impl Arguments {
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
            None => Kind::MIX.map(of_mix).to_vec(),
        }
    }
}

/// Runs the check and prints it.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let wanted = arguments.wanted();
    let progress = Progress::new("scenes {pos}/{len} {wide_bar} {eta} left");
    progress.show(0, wanted.iter().map(|w| w.scenes).sum());
    let checked = run_check(arguments.seed, &wanted, &|| progress.step());
    drop(progress);
    // What the check cannot draw is no slip of the command line.
    let checked = checked.map_err(|e| e.within("the made photos"))?;
    if arguments.json {
        print_json(&checked)?;
    } else {
        print(&render(&checked, arguments.each))?;
    }
    Ok(Status::Done)
}
