//! `beamfall new`: asks for bay and job, and writes both files.

use super::Status;
use super::shots::shell_path;
use super::terminal::print;
use crate::error::Error;
use crate::language::Language;
use crate::questions::{Answers, Kind, Question, bay_text, check, job_text, of_bay, of_job};
use crate::record::Bay;
use crate::report::terminal::COLUMNS;
use crate::report::text::{plain, wrap};
use crate::run::Run;
use crate::whole_file;
use std::io::{BufRead, Read};
use std::path::PathBuf;

const BAY: &str = "bay.toml";
const JOB: &str = "job.toml";
/// A line that is longer is no answer.
const MOST_LINE_BYTES: u64 = 4_000;

/// Arguments of `beamfall new`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall new W-0117
  beamfall new W-0117 < answers.txt

Each question says where to measure and why, and each answer is checked as it
comes. An empty line takes what stands in brackets; < alone goes back to the
question before. A bay.toml that is there already is taken as it is, and only
the car is asked for. Nothing is written before the last answer, and never over
a file.")]
pub(super) struct Arguments {
    /// Folder for bay.toml and job.toml; made if it is not there
    #[arg(default_value = ".")]
    folder: PathBuf,
}

/// Asks, writes, and says what comes next.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let folder = &arguments.folder;
    let (bay, job) = (folder.join(BAY), folder.join(JOB));
    if job.symlink_metadata().is_ok() {
        return Err(Error::in_file(
            &job,
            "is there already, and is not written over; give another folder, or edit it",
        ));
    }
    let mut answers = Answers::new();
    let mut files = Vec::new();
    let input = &mut std::io::stdin().lock();
    print(
        "An empty line takes what stands in brackets; < alone goes back to the question before.\nNothing is written before the last answer.\n",
    )?;
    if bay.symlink_metadata().is_ok() {
        let there = Bay::read(&bay)?;
        let says = format!("The wall is that of {}: {}.", bay.display(), there.name);
        print(&format!("\n{}\n", wrap(&plain(&says), COLUMNS, 0).join("\n")))?;
        answers.insert("bay.heights_from".to_owned(), there.heights_from.to_string());
    } else {
        ask_all(of_bay(Language::English), &mut answers, input)?;
        files.push((bay.clone(), bay_text(&answers, &bay)?));
    }
    ask_all(of_job(Language::English), &mut answers, input)?;
    files.push((job.clone(), job_text(&answers, BAY, &job)?));
    std::fs::create_dir_all(folder).map_err(Error::write(folder, "cannot make the folder"))?;
    whole_file::write_new(&files)?;
    Run::open(&job)?.check_bays()?;
    let written: Vec<String> = files
        .iter()
        .map(|(path, _)| plain(&path.display().to_string()))
        .collect();
    print(&format!(
        "\nWritten: {}\nThe files were read again and fit together. Next:\n  beamfall shots {}\n",
        written.join(", "),
        shell_path(&job)
    ))?;
    Ok(Status::Done)
}

/// Asks what applies, each until its answer can be.
fn ask_all(questions: Vec<Question>, answers: &mut Answers, input: &mut impl BufRead) -> Result<(), Error> {
    let mut about = String::new();
    // What was answered is asked again only where somebody goes back to it.
    let first_open = |answers: &Answers| {
        let mut open = questions.iter().enumerate();
        open.find_map(|(n, question)| (question.applies(answers) && !answers.contains_key(&question.key)).then_some(n))
    };
    let mut next = first_open(answers);
    // From where somebody went back: what lies between is asked again, as it may be what was to be changed.
    let mut until = 0;
    while let Some(at) = next {
        let question = &questions[at];
        if question.about != about {
            print(&format!("\n{}\n", question.about))?;
            about.clone_from(&question.about);
        }
        let was = answers.get(&question.key).cloned();
        // One that is asked again stands as it was answered.
        let question = Question {
            usual: was.or_else(|| question.usual.clone()),
            ..question.clone()
        };
        print(&worded(&question))?;
        next = loop {
            let typed = line(input, &question)?;
            if typed.trim() == BACK {
                let before = (0..at).rev().find(|&n| questions[n].applies(answers));
                if before.is_some() {
                    until = until.max(at);
                    break before;
                }
                print("  No: this is the first question.\n> ")?;
                continue;
            }
            let fault = match check(Language::English, &question, &typed, answers) {
                Ok(answer) => {
                    answers.insert(question.key, answer);
                    let between = (at + 1..until).find(|&n| questions[n].applies(answers));
                    break between.or_else(|| first_open(answers));
                }
                Err(fault) => fault,
            };
            let of = fault.of.as_ref().filter(|of| **of != question.key);
            // What is wrong may be of another sheet or lamp: that is asked again, and stands if it was right.
            let group = |key: &str| key.split('.').next().map(str::to_owned);
            let other = of.filter(|of| group(of) != group(&question.key));
            let earlier = other.and_then(|of| questions[..at].iter().position(|question| question.key == *of));
            let end = match (earlier.is_some(), fault.why.ends_with('?'), of) {
                (true, ..) | (false, true, None) => "",
                (false, false, None) => ".",
                (false, true, Some(_)) => " A line with < alone goes back to it.",
                (false, false, Some(_)) => "; a line with < alone goes back to it.",
            };
            let why = wrap(&plain(&format!("  No: {}{end}", fault.why)), COLUMNS, 2).join("\n");
            if earlier.is_some() {
                print(&format!("{why}\n\n"))?;
                break earlier;
            }
            print(&format!("{why}\n> "))?;
        };
    }
    Ok(())
}

/// Alone on a line it goes back to the question before.
const BACK: &str = "<";

/// The question with where to measure, what may be answered, and what counts if nothing is.
fn worded(question: &Question) -> String {
    let usual = match question.usual.as_deref() {
        Some("") => " [left out]".to_owned(),
        Some(usual) => format!(" [{usual}]"),
        None => String::new(),
    };
    let mut lines = wrap(&format!("- {}{usual}", question.ask), COLUMNS, 2);
    let mut beside = |text: &str| lines.extend(wrap(text, COLUMNS - 2, 0).iter().map(|line| format!("  {line}")));
    if !question.why.is_empty() {
        beside(&question.why);
    }
    if let Kind::Choice(words) = &question.kind {
        words
            .iter()
            .for_each(|(word, meaning)| beside(&format!("{word}: {meaning}")));
    }
    format!("{}\n> ", lines.join("\n"))
}

/// The next line that is typed.
fn line(input: &mut impl BufRead, question: &Question) -> Result<String, Error> {
    let unread = |why: String| {
        let ask = &question.ask;
        Error::within(
            Error::asked(format!("{why}; nothing is written")),
            format!("at the question \"{ask}\""),
        )
    };
    let mut bytes = Vec::new();
    let taken = input.take(MOST_LINE_BYTES).read_until(b'\n', &mut bytes);
    taken.map_err(|e| unread(format!("the answer cannot be read: {e}")))?;
    if bytes.is_empty() {
        return Err(unread("the answers end before the last question".to_owned()));
    }
    if bytes.len() as u64 == MOST_LINE_BYTES {
        return Err(unread("the line is too long to be an answer".to_owned()));
    }
    String::from_utf8(bytes).map_err(|_| unread("the answer is no text".to_owned()))
}
