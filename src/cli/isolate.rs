//! `beamfall isolate`: what can be at fault, and which test comes next.

use super::Status;
use super::kept::Kept;
use super::spoken::Spoken;
use super::terminal::{Progress, colour_allowed, print};
use crate::error::Error;
use crate::isolate::{Isolated, plan};
use crate::language::Language;
use crate::record::{System, read_text, system_names};
use crate::report::results::{IsolationResult, PlanResult};
use crate::report::terminal;
use crate::report::{self, isolation};
use crate::run::{Options, Run};
use std::path::{Path, PathBuf};

/// Arguments of `beamfall isolate`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall isolate job.toml
  beamfall isolate job.toml --json
  beamfall isolate vacuum-cabin-control --plan --svg plan.svg

The job names its system (system = \"vacuum-cabin-control\") and lists what was done:
  [[trial]]
  test = \"operate-left\"
  moves = \"no\"            # yes, no, creeps-back; or two photos: still = \"1.jpg\", driven = \"2.jpg\"

Photos count as trials where none is written down: those at positions of the control as
working it, those under a pump whose series is named for the test. Exit status 3: a photo of a trial was refused, and that trial does not count.")]
pub(super) struct Arguments {
    /// A job file (.toml) or the folder of one; or a system, by name or path
    #[arg(value_name = "JOB|SYSTEM")]
    input: PathBuf,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Readings at positions count without being asked for; accepted for the sake of scripts
    #[arg(long, hide = true)]
    positions: bool,
    /// Print the whole plan from here on as a tree
    #[arg(long)]
    plan: bool,
    /// Draw into this file, too: with --plan the tree, else the system with each part marked
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    #[command(flatten)]
    kept: Kept,
    #[command(flatten)]
    spoken: Spoken,
}

/// Ranks what can be at fault, and says what to do next.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    if let Some(path) = &arguments.svg {
        crate::whole_file::can_write(path)?;
    }
    let language = arguments.spoken.language;
    let (isolated, file) = arguments.isolated()?;
    let (text, drawing) = if arguments.plan {
        planned(language, &isolated, arguments.json)?
    } else {
        answered(language, &isolated, &file, arguments.json)?
    };
    if let Some(path) = &arguments.svg {
        crate::whole_file::write(path, drawing.as_bytes())?;
    }
    print(&text)?;
    Ok(if isolated.trials.unread.is_empty() {
        Status::Done
    } else {
        Status::Refused
    })
}

/// The whole plan from here on, as text and drawn.
fn planned(language: Language, isolated: &Isolated, json: bool) -> Result<(String, String), Error> {
    let system = &isolated.system;
    let plan = plan(system, &isolated.trials.evidence, isolated.trials.done);
    let text = if json {
        report::json(&PlanResult::new(system, &plan))?
    } else {
        isolation::plan::render(language, isolated, &plan)
    };
    Ok((text, isolation::plan::draw(language, isolated, &plan)))
}

/// The suspects and the next test, as text, and the system drawn.
fn answered(language: Language, isolated: &Isolated, file: &str, json: bool) -> Result<(String, String), Error> {
    let text = if json {
        report::json(&IsolationResult::new(isolated))?
    } else {
        terminal::isolation(language, isolated, file, colour_allowed())
    };
    Ok((text, isolation::drawing::draw_sheets(language, isolated)))
}

impl Arguments {
    /// What is known, and the file that the next trial is written into.
    fn isolated(&self) -> Result<(Isolated, String), Error> {
        let name = self.input.to_string_lossy();
        if system_names().iter().any(|shipped| *shipped == name) && !self.input.exists() {
            return Ok(of_system(self.spoken.language, System::find(&name, Path::new(""))?));
        }
        if !self.input.exists() {
            return Err(Error::in_file(
                &self.input,
                format!(
                    "there is no such file, and no system of this name; shipped are {}",
                    system_names().join(", ")
                ),
            ));
        }
        if is_system(&self.input) {
            return Ok(of_system(self.spoken.language, System::find(&name, Path::new(""))?));
        }
        let run = Run::open(&self.input)?;
        let progress = Progress::of_photos(self.spoken.language);
        let show = |done, all| progress.show(done, all);
        let cache = self.kept.cache();
        let options = Options::default().with_cache(cache.as_ref()).with_progress(&show);
        let (isolated, file) = run.isolate(&options)?;
        Ok((isolated, file.display().to_string()))
    }
}

/// A system by itself: no trials yet.
fn of_system(language: Language, system: System) -> (Isolated, String) {
    (
        Isolated::untested(system),
        language.pick("the job file", "die Auftragsdatei").to_owned(),
    )
}

/// Whether a file is a system rather than a job. What cannot be read is left to the job's reader, whose message it is.
fn is_system(path: &Path) -> bool {
    let Ok(text) = read_text(path) else {
        return false;
    };
    let table: Result<toml::Table, _> = text.parse();
    table.is_ok_and(|table| table.contains_key("component") && !table.contains_key("job"))
}
