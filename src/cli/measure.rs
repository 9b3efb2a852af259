//! `beamfall measure`: photos to readings.

use super::session::{Session, colour_allowed, print};
use super::{Status, Usage};
use crate::record::{Bay, Job, Lamp, SCHEMA, Shot, Side, Traffic};
use crate::report::{Results, csv, explain, table};
use anyhow::Context;
use std::path::{Path, PathBuf};

/// Arguments of `beamfall measure`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall measure sample-photos/job.toml
  beamfall measure sample-photos/job.toml --explain
  beamfall measure sample-photos/job.toml --json > results.json
  beamfall measure IMG_1.jpg IMG_2.jpg --bay bay.toml --lamp-height 650 \\
      --distance 10000 --lamp-x -560 --traffic right --tolerance un-r48
  beamfall measure --check --kind readings --scenes 100 --seed 1")]
pub(super) struct Arguments {
    /// A job file (.toml) or the folder of one; or photos, with the options for single photos below
    #[arg(required_unless_present = "check", value_name = "JOB|PHOTO")]
    inputs: Vec<PathBuf>,
    /// Print JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print CSV
    #[arg(long)]
    csv: bool,
    /// Below the table, say what each uncertainty is made of (JSON always does)
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    explain: bool,
    /// Exit with status 4 when a verdict is outside
    #[arg(long)]
    fail_outside: bool,
    /// Photos: the bay file
    #[arg(long, value_name = "BAY", help_heading = "For photos without a job file")]
    bay: Option<PathBuf>,
    /// Photos: height of the lamp's centre, mm
    #[arg(
        long,
        value_name = "MM",
        allow_negative_numbers = true,
        help_heading = "For photos without a job file"
    )]
    lamp_height: Option<f64>,
    /// Photos: from the lamp to the wall, mm
    #[arg(long, value_name = "MM", help_heading = "For photos without a job file")]
    distance: Option<f64>,
    /// Photos: the lamp's place right of the bay's centre line, mm
    #[arg(
        long,
        value_name = "MM",
        allow_negative_numbers = true,
        help_heading = "For photos without a job file"
    )]
    lamp_x: Option<f64>,
    /// Photos: side of the road the car is built for (right or left)
    #[arg(long, value_name = "SIDE", value_parser = traffic, help_heading = "For photos without a job file")]
    traffic: Option<Traffic>,
    /// Photos: tolerance table, by name or path
    #[arg(long, value_name = "TABLE", help_heading = "For photos without a job file")]
    tolerance: Option<String>,
    #[command(flatten)]
    check: super::check::Arguments,
}

fn traffic(text: &str) -> Result<Traffic, String> {
    match text {
        "right" => Ok(Traffic::Right),
        "left" => Ok(Traffic::Left),
        _ => Err("give right or left".to_owned()),
    }
}

/// Reads the photos and prints what they gave.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Status> {
    if arguments.check.is_misplaced() {
        return Err(Usage(
            "--scenes, --seed, --kind and --each go with --check; add it and leave the job out".to_owned(),
        )
        .into());
    }
    if arguments.check.check {
        return super::check::run_check(&arguments.check, arguments.json);
    }
    let session = session(arguments)?;
    let findings = session.findings();
    let results = Results::new(&findings);
    if arguments.json {
        print(&results.to_json().context("results as JSON")?)?;
    } else if arguments.csv {
        print(&csv::readings(&results).context("readings as CSV")?)?;
    } else {
        print(&table::render(&results, colour_allowed()))?;
        if arguments.explain {
            print(&explain::render(&findings))?;
        }
    }
    Ok(session.status(arguments.fail_outside))
}

fn is_job(path: &Path) -> bool {
    path.is_dir() || path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

fn session(arguments: &Arguments) -> anyhow::Result<Session> {
    let photo_options = arguments.bay.is_some()
        || arguments.lamp_height.is_some()
        || arguments.distance.is_some()
        || arguments.lamp_x.is_some()
        || arguments.traffic.is_some()
        || arguments.tolerance.is_some();
    match arguments.inputs.as_slice() {
        [job] if is_job(job) => {
            if photo_options {
                return Err(Usage("a job file says itself where the lamp is; leave --bay, --lamp-height and the like out, or give photos".to_owned()).into());
            }
            Session::of_job(job, false)
        }
        inputs if inputs.iter().any(|path| is_job(path)) => {
            Err(Usage("give one job file, or photos, not both".to_owned()).into())
        }
        photos => {
            let missing = "photos without a job file need --bay, --lamp-height, --distance, --lamp-x and --traffic";
            let (Some(bay_path), Some(centre_height_mm), Some(distance_mm), Some(centre_x_mm), Some(traffic)) = (
                &arguments.bay,
                arguments.lamp_height,
                arguments.distance,
                arguments.lamp_x,
                arguments.traffic,
            ) else {
                return Err(Usage(format!("{missing}; or give a job file")).into());
            };
            let side = if centre_x_mm < 0.0 { Side::Left } else { Side::Right };
            let job = Job {
                schema: SCHEMA,
                job: "photos".to_owned(),
                bay: bay_path.clone(),
                traffic,
                pattern: None,
                tolerance: arguments.tolerance.clone(),
                tolerance_choice: None,
                lamp_mark: None,
                system: None,
                made_photos: false,
                vehicle: None,
                lamp: vec![Lamp::of(side, centre_height_mm, centre_x_mm, distance_mm)],
                shot: photos.iter().map(|photo| Shot::of(photo, side)).collect(),
                trial: Vec::new(),
                adjuster: crate::record::AdjusterLimits::default(),
            };
            Session::new(
                job,
                Bay::read(bay_path)?,
                Path::new("command line"),
                Path::new(""),
                false,
            )
        }
    }
}
