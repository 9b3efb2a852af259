//! `beamfall isolate`: what can be at fault, and which test comes next.

use super::session::{colour_allowed, job_file, print, progress};
use super::{Status, Usage};
use crate::aim::{Setting, ShotReading, measure_job};
use crate::isolate::{Isolated, JobTrials, evidence_of, photos_of, plan};
use crate::record::{Bay, Job, System, system_names};
use crate::report::isolation::drawing::Flow;
use crate::report::isolation::{self, Isolation, IsolationResult, PlanResult};
use anyhow::Context;
use std::path::{Path, PathBuf};

/// Arguments of `beamfall isolate`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall isolate job.toml
  beamfall isolate job.toml --positions --json
  beamfall isolate vacuum-cabin-control --plan --svg plan.svg

The job names its system (system = \"vacuum-cabin-control\") and lists what was done:
  [[trial]]
  test = \"operate-left\"
  moves = \"no\"            # yes, no, creeps-back; or two photos: still = \"1.jpg\", driven = \"2.jpg\"

Exit status 3: a photo of a trial was refused, and that trial does not count.")]
pub(super) struct Arguments {
    /// A job file (.toml) or the folder of one; or a system, by name or path
    #[arg(value_name = "JOB|SYSTEM")]
    input: PathBuf,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Count the job's readings at the first and the last position, before the repair, as trials of working the control
    #[arg(long)]
    positions: bool,
    /// Print the whole plan from here on as a tree
    #[arg(long)]
    plan: bool,
    /// Draw into this file, too: with --plan the tree, else the system with each part marked
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

/// What there is to work on.
struct Input {
    system: System,
    trials: JobTrials,
    /// Where the next trial is written.
    file: String,
}

/// Ranks what can be at fault, and says what to do next.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Status> {
    let Input { system, trials, file } = input(arguments)?;
    let unread = !trials.unread.is_empty();
    let (text, svg) = if arguments.plan {
        let plan = plan(&system, &trials.evidence);
        let text = if arguments.json {
            PlanResult::new(&system, &plan).to_json().context("the plan as JSON")?
        } else {
            isolation::plan::render(&system, &plan)
        };
        (
            text,
            arguments.svg.as_ref().map(|_| isolation::plan::draw(&system, &plan)),
        )
    } else {
        let isolated = Isolated::new(system, trials);
        let isolation = Isolation::from(&isolated);
        let text = if arguments.json {
            IsolationResult::new(&isolation)
                .to_json()
                .context("the answer as JSON")?
        } else {
            isolation::render(&isolation, &file, colour_allowed())
        };
        (
            text,
            arguments
                .svg
                .as_ref()
                .map(|_| isolation::drawing::draw(&isolation, Flow::Right)),
        )
    };
    if let (Some(path), Some(svg)) = (&arguments.svg, svg) {
        crate::whole_file::write(path, svg.as_bytes()).with_context(|| {
            format!(
                "{}: cannot be written; check that its folder is there and the disk not full",
                path.display()
            )
        })?;
    }
    print(&text)?;
    Ok(if unread { Status::Refused } else { Status::Done })
}

fn input(arguments: &Arguments) -> anyhow::Result<Input> {
    let given = &arguments.input;
    let name = given.to_string_lossy();
    if system_names().contains(&name.as_ref().to_owned()) && !given.exists() {
        return of_system(System::find(&name, Path::new(""))?, arguments);
    }
    if !given.exists() {
        anyhow::bail!(
            "{}: there is no such file, and no system of this name; shipped are {}",
            given.display(),
            system_names().join(", ")
        );
    }
    let path = job_file(given)?;
    if is_system(&path) {
        return of_system(System::find(&path.to_string_lossy(), Path::new(""))?, arguments);
    }
    let job = Job::read(&path)?;
    let folder = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
    let Some(system) = &job.system else {
        anyhow::bail!(
            "{}: the job names no system; add system = \"NAME\" above the first [[…]], shipped are {}",
            path.display(),
            system_names().join(", ")
        );
    };
    let system = System::find(system, &folder).with_context(|| format!("the system that {} names", path.display()))?;
    let readings = match photos_of(&system, &job, &path, arguments.positions)? {
        Some(photos) => measured(&photos, &path, &folder)?,
        None => Vec::new(),
    };
    Ok(Input {
        trials: evidence_of(&system, &job, arguments.positions, &readings),
        system,
        file: path.display().to_string(),
    })
}

/// A system by itself: no trials yet.
fn of_system(system: System, arguments: &Arguments) -> anyhow::Result<Input> {
    if arguments.positions {
        return Err(Usage("--positions counts readings of a job; give the job file".to_owned()).into());
    }
    Ok(Input {
        system,
        trials: JobTrials {
            evidence: Vec::new(),
            unread: Vec::new(),
            warnings: Vec::new(),
        },
        file: "the job file".to_owned(),
    })
}

/// Whether a file is a system rather than a job. What cannot be read is left to the job's reader, whose message it is.
fn is_system(path: &Path) -> bool {
    let Ok(text) = std::fs::read_to_string(path) else {
        return false;
    };
    let table: Result<toml::Table, _> = text.parse();
    table.is_ok_and(|table| table.contains_key("component") && !table.contains_key("job"))
}

fn measured(job: &Job, path: &Path, folder: &Path) -> anyhow::Result<Vec<ShotReading>> {
    let bay = Bay::read(&folder.join(&job.bay)).with_context(|| format!("the bay that {} names", path.display()))?;
    let setting = Setting {
        job,
        bay: &bay,
        table: None,
        folder,
        pictures: false,
    };
    let progress = progress(job.shot.len());
    let readings = measure_job(&setting, &|| progress.inc(1));
    progress.finish_and_clear();
    Ok(readings)
}
