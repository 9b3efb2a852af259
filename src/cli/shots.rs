//! `beamfall shots`: which photos to take, and afterwards their entries in the job.

use super::Status;
use super::terminal::{Progress, print, print_json};
use crate::error::Error;
use crate::language::Language;
use crate::record::{Job, Shot, Side, Stage, append, parse_toml, read_text};
use crate::report::terminal::COLUMNS;
use crate::report::text::{plain, width, wrap};
use crate::report::words::{lamp_and_stage, listed};
use crate::run::job_file;
use crate::shot_list::{
    Check, Folder, ListJson, Numbers, Pairing, PairingJson, PlannedPhoto, Shows, TakenPhoto, USUAL_EVERY_S,
    USUAL_GAUGE, USUAL_MINUTES, USUAL_POSITIONS, Wanted, entries, gauge_steps, list, pair, read_folder, render_list,
    render_pairing, select,
};
use std::path::{Path, PathBuf};

const CHECK: &str = "positions";

/// Arguments of `beamfall shots`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall shots job.toml
  beamfall shots job.toml --check positions,vacuum --lamp left --stage before
  beamfall shots job.toml --check leak-down --minutes 10 --every 30
  beamfall shots job.toml --check positions --from photos
  beamfall shots job.toml --check positions --from photos --skip IMG_7.jpg --write

First it prints which photos to take, in order. With --from, and the same choice
of photos, it shows what each photo of the folder is taken to be, by the order
in time, and the entries for the job. Only --write adds them, behind what is
there.")]
pub(super) struct Arguments {
    /// The job file, or the folder of a job.toml
    job: PathBuf,
    /// aim, positions, vacuum, leak-down; before-after doubles the others
    #[arg(long, value_name = "CHECK,…", value_delimiter = ',', default_value = CHECK)]
    check: Vec<Check>,
    /// left, right or both; left out, the lamps that the job lists
    #[arg(long, value_name = "SIDE")]
    lamp: Option<Lamps>,
    /// before or after the repair
    #[arg(long, value_name = "STAGE", value_parser = stage)]
    stage: Option<Stage>,
    /// Positions of the range control, in the order in which it is turned
    #[arg(long, value_name = "NAME,…", value_delimiter = ',', default_value = USUAL_POSITIONS)]
    positions: Vec<String>,
    /// Steps of the pump's gauge, rising, with their unit; 400 mbar is enough
    #[arg(long, value_name = "STEPS", default_value = USUAL_GAUGE)]
    vacuum: String,
    /// Length of a leak-down, minutes
    #[arg(long, value_name = "MIN", default_value_t = USUAL_MINUTES)]
    minutes: u16,
    /// Time between the photos of a leak-down, s
    #[arg(long, value_name = "S", default_value_t = USUAL_EVERY_S)]
    every: u32,
    /// Also take each view with the lamp off
    #[arg(long)]
    lamp_off: bool,
    /// Only these numbers of the list, as in 1-4,7
    #[arg(long, value_name = "NUMBERS")]
    only: Option<String>,
    /// Folder with the photos that were taken
    #[arg(long, value_name = "FOLDER")]
    from: Option<PathBuf>,
    /// With --from: leave this photo out; may be repeated
    #[arg(long, value_name = "FILE", requires = "from")]
    skip: Vec<PathBuf>,
    /// With --from: add the entries to the job file
    #[arg(long, requires = "from")]
    write: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Which lamps are to be photographed.
#[derive(Debug, Clone, Copy)]
enum Lamps {
    One(Side),
    Both,
}

impl std::str::FromStr for Lamps {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "left" => Ok(Self::One(Side::Left)),
            "right" => Ok(Self::One(Side::Right)),
            "both" => Ok(Self::Both),
            _ => Err("give left, right or both".to_owned()),
        }
    }
}

fn stage(text: &str) -> Result<Stage, String> {
    match text {
        "before" => Ok(Stage::Before),
        "after" => Ok(Stage::After),
        _ => Err("give before or after".to_owned()),
    }
}

/// Prints the list, or pairs the photos of a folder with it.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let path = job_file(&arguments.job)?;
    let job = Job::read(&path)?;
    let mut photos = list(&wanted(arguments, &job, &path)?)?;
    if let Some(only) = &arguments.only {
        photos = select(&photos, only).map_err(|e| Error::asked(format!("--only: {e}")))?;
    }
    match &arguments.from {
        None => print_list(arguments, &photos, &job),
        Some(folder) => from_folder(arguments, &photos, &path, folder),
    }
}

fn wanted(arguments: &Arguments, job: &Job, path: &Path) -> Result<Wanted, Error> {
    let listed: Vec<Side> = [Side::Left, Side::Right]
        .into_iter()
        .filter(|&side| job.lamp(side).is_some())
        .collect();
    let lamps = match arguments.lamp {
        None => listed.clone(),
        Some(Lamps::One(side)) => vec![side],
        Some(Lamps::Both) => vec![Side::Left, Side::Right],
    };
    let missing = lamps.iter().find(|lamp| !listed.contains(lamp));
    if missing.is_some() || lamps.is_empty() {
        let which = missing.map_or(String::new(), |side| format!("{side} "));
        return Err(Error::in_file(
            path,
            format!(
                "lists no {which}lamp; add a [[lamp]] with its side, centre_height_mm, centre_x_mm and distance_mm"
            ),
        ));
    }
    Ok(Wanted {
        checks: arguments.check.clone(),
        lamps,
        stage: arguments.stage,
        positions: arguments.positions.clone(),
        gauge: gauge_steps(&arguments.vacuum).map_err(|e| Error::asked(format!("--vacuum: {e}")))?,
        leak_down_s: 60 * u32::from(arguments.minutes),
        every_s: arguments.every,
        lamp_off: arguments.lamp_off,
    })
}

fn print_list(arguments: &Arguments, photos: &[PlannedPhoto], job: &Job) -> Result<Status, Error> {
    if arguments.json {
        print_json(&ListJson::new(photos, job))?;
        return Ok(Status::Done);
    }
    let mut text = render_list(Language::English, photos, job);
    text.push_str(
        "\nCopy the photos into the job's folder, into photos/, say, then look at what each\nis taken to be:\n",
    );
    text.push_str(&same_choice(arguments));
    print(&text)?;
    Ok(Status::Done)
}

/// The command that reads the photos of the list just printed: the choice must be the same before and after. Lines of at
/// most 80 columns, as a shell joins them.
fn same_choice(arguments: &Arguments) -> String {
    let checks: Vec<String> = arguments.check.iter().map(ToString::to_string).collect();
    let lamp = arguments.lamp.map(|lamps| match lamps {
        Lamps::One(side) => side.to_string(),
        Lamps::Both => "both".to_owned(),
    });
    let unless = |default: &str, value: String| (value != default).then_some(value);
    let options = [
        ("--check", unless(CHECK, checks.join(","))),
        ("--lamp", lamp),
        ("--stage", arguments.stage.map(|stage| stage.to_string())),
        ("--positions", unless(USUAL_POSITIONS, arguments.positions.join(","))),
        ("--vacuum", unless(USUAL_GAUGE, arguments.vacuum.clone())),
        (
            "--minutes",
            unless(&USUAL_MINUTES.to_string(), arguments.minutes.to_string()),
        ),
        (
            "--every",
            unless(&USUAL_EVERY_S.to_string(), arguments.every.to_string()),
        ),
        ("--only", arguments.only.clone()),
    ];
    let mut words = vec![format!("beamfall shots {}", shell_path(&arguments.job))];
    words.extend(options.into_iter().filter_map(|(name, value)| {
        let value = value?;
        let joint = if value.starts_with('-') { "=" } else { " " };
        Some(format!("{name}{joint}{}", shell_word(&value)))
    }));
    if arguments.lamp_off {
        words.push("--lamp-off".to_owned());
    }
    words.push("--from FOLDER".to_owned());
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        match lines.last_mut() {
            // Room for the sign that the line goes on.
            Some(line) if width(line) + 1 + width(&word) + 2 <= COLUMNS => line.push_str(&format!(" {word}")),
            Some(_) => lines.push(format!("      {word}")),
            None => lines.push(format!("  {word}")),
        }
    }
    format!("{}\n", lines.join(" \\\n"))
}

/// A path as a word for a shell; one that begins with a dash is not taken for an option.
pub(super) fn shell_path(path: &Path) -> String {
    let path = path.to_string_lossy();
    shell_word(&if path.starts_with('-') {
        format!("./{path}")
    } else {
        path.into_owned()
    })
}

/// A word that a shell takes as one and does nothing with.
fn shell_word(word: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "-_./,:=+".contains(c);
    let word = plain(word);
    if !word.is_empty() && word.chars().all(is_plain) && !word.starts_with('=') {
        word
    } else if word.chars().all(|c| is_plain(c) || " ()'".contains(c)) {
        // So every shell takes it.
        format!("\"{word}\"")
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

fn from_folder(arguments: &Arguments, photos: &[PlannedPhoto], path: &Path, from: &Path) -> Result<Status, Error> {
    // The job comes from the very text behind which the entries go.
    let before = read_text(path)?;
    let job: Job = parse_toml(path, &before)?;
    job.check(path)?;
    let progress = Progress::new("photos read: {pos}");
    let folder = read_folder(
        Language::English,
        from,
        &job,
        path,
        &arguments.skip,
        Numbers::OfCamera,
        &|| progress.step(),
    )?;
    drop(progress);
    let nothing_new = folder.photos.is_empty();
    let pairing = if nothing_new {
        Pairing {
            pairs: Vec::new(),
            list_left: Vec::new(),
            photos_left: Vec::new(),
            faults: Vec::new(),
            warnings: folder.warnings.clone(),
            doubts: Vec::new(),
            pauses: Vec::new(),
        }
    } else {
        let mut pairing = pair(Language::English, photos, &folder, &job);
        pairing.warnings.extend(had_already(&pairing.pairs, &job));
        pairing
    };
    let fits = pairing.faults.is_empty();
    let added = if fits { entries(&pairing.pairs) } else { String::new() };
    if !arguments.json {
        show(&pairing, &folder, &added)?;
    }
    let writes = arguments.write && fits && !added.is_empty();
    if writes {
        append(path, &before, &added)?;
    }
    if arguments.json {
        print_json(&PairingJson::new(&pairing, &folder, &added, &job, writes))?;
    } else {
        print(&outcome(&pairing, fits, nothing_new, writes, path))?;
    }
    if fits {
        Ok(Status::Done)
    } else {
        let faults = pairing.faults.join("\n  ");
        Err(Error::in_file(from, format!("{faults}. Nothing is written")))
    }
}

/// What to look at where the job has photos of the same lamp, stage and setting already: they count together with these, as of one state of the car.
fn had_already(pairs: &[(PlannedPhoto, TakenPhoto)], job: &Job) -> Vec<String> {
    let mut warnings = Vec::new();
    for lamp in [Side::Left, Side::Right] {
        for stage in [None, Some(Stage::Before), Some(Stage::After)] {
            let of = |shows: &Shows| matches!(shows, Shows::Position(_) | Shows::Vacuum { .. });
            let had = |shot: &Shot| {
                let one = Job {
                    shot: vec![shot.clone()],
                    ..Job::of(job.job.clone(), job.bay.clone(), job.traffic)
                };
                let mut new = pairs.iter().map(|(planned, _)| planned);
                new.any(|planned| of(&planned.shows) && planned.is_in(&one))
            };
            let of_state = |shot: &&Shot| (shot.lamp, shot.stage) == (lamp, stage);
            let there: Vec<&Shot> = job.shot.iter().filter(of_state).filter(|shot| had(shot)).collect();
            if there.is_empty() {
                continue;
            }
            let named = |shots: &[&Shot]| {
                let names: Vec<String> = shots.iter().map(|shot| shot.photo.display().to_string()).collect();
                listed(Language::English, &names)
            };
            let photos = lamp_and_stage(Language::English, lamp, stage);
            let all: Vec<&Shot> = (job.shot.iter().filter(of_state))
                .filter(|shot| shot.is_pumped() == there.iter().all(|there| there.is_pumped()))
                .collect();
            // Before a repair and after it are told apart by the stage; a later repair only by taking out what is from before it.
            let mend = if stage == Some(Stage::After) {
                format!(
                    "was this lamp set or mended between them, take all its [[shot]] entries from before that out of the job first: {}",
                    named(&all)
                )
            } else {
                "was this lamp set or mended between them, enter that as a [[repair]], and these with --stage after"
                    .to_owned()
            };
            warnings.push(format!(
                "{photos}: the job has {} of the same already, and these count together with them, as of one state of the car; {mend}",
                named(&there)
            ));
        }
    }
    warnings
}

/// Shows what each photo is taken to be, and what would be added.
fn show(pairing: &Pairing, folder: &Folder, added: &str) -> Result<(), Error> {
    let mut text = render_pairing(pairing, folder);
    if !added.is_empty() {
        text.push_str("\nEntries for the job file\n");
        // Photos' names are the only text here that comes from outside.
        text.extend(added.lines().map(|line| format!("{}\n", plain(line))));
        text.push('\n');
    }
    print(&text)
}

/// What was done, and what comes next.
fn outcome(pairing: &Pairing, fits: bool, nothing_new: bool, writes: bool, path: &Path) -> String {
    let shots = pairing.pairs.iter().filter(|(p, _)| p.shows != Shows::LampOff).count();
    let entries = format!("{shots} {}", if shots == 1 { "entry" } else { "entries" });
    let job = plain(&path.display().to_string());
    let text = if !fits {
        return String::new();
    } else if nothing_new {
        format!("Nothing to add: every photo there is in {job} already, or was skipped.")
    } else if writes {
        // The command stands by itself, since a word in quotes must not be wrapped.
        let done = wrap(&format!("{entries} added to {job}. Next:"), COLUMNS, 0).join("\n");
        return format!("{done}\n  beamfall measure {}\n", shell_path(path));
    } else {
        format!("Nothing is written yet. If this is right, the same command with --write adds {entries} to {job}.")
    };
    let lines = wrap(&text, COLUMNS, 0);
    format!("{}\n", lines.join("\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_for_a_shell_do_nothing() {
        for (word, quoted) in [
            ("job.toml", "job.toml"),
            ("my job.toml", "\"my job.toml\""),
            ("", "\"\""),
            ("$(touch x).toml", "'$(touch x).toml'"),
            ("`id`", "'`id`'"),
            ("a\"b", "'a\"b'"),
            ("it's $HOME", "'it'\\''s $HOME'"),
            ("a\nb\u{1b}", "'a b\u{fffd}'"),
        ] {
            assert_eq!(shell_word(word), quoted);
        }
        assert_eq!(shell_path(Path::new("-rf.toml")), "./-rf.toml");
    }
}
