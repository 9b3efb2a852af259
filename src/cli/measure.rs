//! `beamfall measure`: photos to readings.

use super::Status;
use super::kept::Kept;
use super::spoken::Spoken;
use super::terminal::{Progress, colour_allowed, columns, print, print_json};
use crate::error::Error;
use crate::language::Language;
use crate::questions::millimetres;
use crate::record::{Job, Lamp, Shot, Side, Traffic};
use crate::report::results::JSON_SCHEMA;
use crate::report::{Results, csv, terminal};
use crate::run::{Options, Run};
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Arguments of `beamfall measure`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall measure sample-photos/job.toml
  beamfall measure sample-photos/job.toml --explain
  beamfall measure sample-photos/job.toml --json > results.json
  beamfall measure sample-photos/job.toml --lang de
  beamfall measure IMG_1.jpg IMG_2.jpg --bay bay.toml --lamp-height 650 \\
      --distance 10000 --lamp-x -560 --traffic right --tolerance un-r48")]
pub(super) struct Arguments {
    /// A job file (.toml) or the folder of one; or photos, with the options for single photos below
    #[arg(required_unless_present_any = ["check", "json_schema"], value_name = "JOB|PHOTO")]
    inputs: Vec<PathBuf>,
    /// Print JSON
    #[arg(long, conflicts_with = "csv")]
    json: bool,
    /// Print CSV
    #[arg(long)]
    csv: bool,
    /// Print the JSON Schema of what --json prints, and read nothing
    #[arg(long, exclusive = true)]
    json_schema: bool,
    /// Below the table, say what each uncertainty is made of (JSON always does)
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    explain: bool,
    /// Exit with status 4 when a verdict is outside
    #[arg(long)]
    fail_outside: bool,
    #[command(flatten)]
    kept: Kept,
    #[command(flatten)]
    spoken: Spoken,
    /// Photos: the bay file
    #[arg(long, value_name = "BAY", help_heading = "For photos without a job file")]
    bay: Option<PathBuf>,
    /// Photos: height of the lamp's centre, mm
    #[arg(
        long,
        value_name = "MM",
        value_parser = length_mm,
        allow_negative_numbers = true,
        help_heading = "For photos without a job file"
    )]
    lamp_height: Option<f64>,
    /// Photos: from the lamp to the wall, mm
    #[arg(long, value_name = "MM", value_parser = length_mm, help_heading = "For photos without a job file")]
    distance: Option<f64>,
    /// Photos: the lamp's place right of the bay's centre line, mm
    #[arg(
        long,
        value_name = "MM",
        value_parser = length_mm,
        allow_negative_numbers = true,
        help_heading = "For photos without a job file"
    )]
    lamp_x: Option<f64>,
    /// Photos: height of the lens or reflector that throws the dipped beam, mm (matters near the wall)
    #[arg(long, value_name = "MM", value_parser = length_mm, help_heading = "For photos without a job file")]
    face_height: Option<f64>,
    /// Photos: side of the road the car is built for (right or left)
    #[arg(long, value_name = "SIDE", value_parser = traffic, help_heading = "For photos without a job file")]
    traffic: Option<Traffic>,
    /// Photos: tolerance table, by name or path
    #[arg(long, value_name = "TABLE", help_heading = "For photos without a job file")]
    tolerance: Option<String>,
    /// Where the check once was: it says where it is now, whatever options come with it
    #[arg(long, hide = true, num_args = 0.., allow_hyphen_values = true)]
    check: Option<Vec<OsString>>,
}

/// A length in mm, with its unit or without, as the questions for a job take it.
fn length_mm(text: &str) -> Result<f64, String> {
    millimetres(Language::English, text.trim())
}

fn traffic(text: &str) -> Result<Traffic, String> {
    match text {
        "right" => Ok(Traffic::Right),
        "left" => Ok(Traffic::Left),
        _ => Err("give right or left".to_owned()),
    }
}

/// Reads the photos and prints what they gave.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    if arguments.check.is_some() {
        return Err(Error::asked(
            "the check is a command of its own now: beamfall check, with the same options",
        ));
    }
    if arguments.json_schema {
        print(JSON_SCHEMA)?;
        return Ok(Status::Done);
    }
    let language = arguments.spoken.language;
    let run = arguments.run()?;
    let progress = Progress::of_photos(language);
    let show = |done, all| progress.show(done, all);
    let cache = arguments.kept.cache();
    let options = Options::default().with_cache(cache.as_ref()).with_progress(&show);
    let findings = run.measure(&options)?;
    drop(progress);
    if arguments.json {
        print_json(&Results::new(&findings))?;
    } else if arguments.csv {
        print(&csv::readings(&Results::new(&findings)).map_err(|e| Error::make("the CSV", e))?)?;
    } else {
        let (colour, columns) = (colour_allowed(), columns());
        print(&terminal::readings_at(
            language,
            &findings,
            arguments.explain,
            colour,
            columns,
        ))?;
    }
    Ok(Status::of_findings(&findings, arguments.fail_outside))
}

fn is_job(path: &Path) -> bool {
    path.is_dir() || path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"))
}

impl Arguments {
    fn run(&self) -> Result<Run, Error> {
        let photo_options = self.bay.is_some()
            || self.lamp_height.is_some()
            || self.distance.is_some()
            || self.lamp_x.is_some()
            || self.face_height.is_some()
            || self.traffic.is_some()
            || self.tolerance.is_some();
        match self.inputs.as_slice() {
            [job] if is_job(job) && photo_options => Err(Error::asked(
                "a job file says itself where the lamp is; leave --bay, --lamp-height and the like out, or give photos",
            )),
            [job] if is_job(job) => Run::open(job),
            inputs if inputs.iter().any(|path| is_job(path)) => {
                Err(Error::asked("give one job file, or photos, not both"))
            }
            _ => self.run_of_photos(),
        }
    }

    /// A job of nothing but the photos and the lamp given here.
    fn run_of_photos(&self) -> Result<Run, Error> {
        let (Some(bay), Some(height_mm), Some(distance_mm), Some(x_mm), Some(traffic)) =
            (&self.bay, self.lamp_height, self.distance, self.lamp_x, self.traffic)
        else {
            return Err(Error::asked(
                "photos without a job file need --bay, --lamp-height, --distance, --lamp-x and --traffic; or give a job file",
            ));
        };
        let side = if x_mm < 0.0 { Side::Left } else { Side::Right };
        let job = Job {
            tolerance: self.tolerance.clone(),
            lamp: vec![Lamp {
                face_height_mm: self.face_height,
                ..Lamp::of(side, height_mm, x_mm, distance_mm)
            }],
            shot: self.inputs.iter().map(|photo| Shot::of(photo, side)).collect(),
            ..Job::of("photos", bay, traffic)
        };
        Run::of(job, Path::new("the command line"), Path::new(""))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_taken_with_their_unit_or_in_mm() {
        for (text, mm) in [
            ("652", 652.0),
            ("652mm", 652.0),
            ("65.2 cm", 652.0),
            ("10 m", 10_000.0),
            ("-560", -560.0),
        ] {
            assert_eq!(length_mm(text), Ok(mm), "{text}");
        }
        for text in ["25 ft", "high", ""] {
            assert!(!length_mm(text).unwrap_err().contains("float"), "{text}");
        }
    }
}
