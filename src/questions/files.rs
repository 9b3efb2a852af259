//! The files that the answers make.

use super::check::SET_PERCENT;
use super::{Answers, MOST_SHEETS};
use crate::error::Error;
use crate::record::{Bay, Job, parse_toml};
use std::path::Path;

/// The bay file; `path` stands for it in messages.
///
/// # Errors
/// [`Error`] where an answer is missing, or the whole cannot be.
pub(crate) fn bay_text(answers: &Answers, path: &Path) -> Result<String, Error> {
    let of = |key: &str| answer(answers, key);
    let mut text = format!(
        "schema = 1\nname = {}\nheights_from = {}\n",
        quoted(of("bay.name")?),
        quoted(of("bay.heights_from")?)
    );
    push(&mut text, "grade_percent", given(answers, "bay.grade_percent"));
    push(&mut text, "grade_sd_percent", given(answers, "bay.grade_sd_percent"));
    text.push_str("\n[marks]\nfamily = \"tag36h11\"\n");
    push(&mut text, "size_mm", Some(of("bay.size_mm")?));
    push(&mut text, "position_sd_mm", given(answers, "bay.position_sd_mm"));
    let count: u32 = of("bay.sheets")?.parse().unwrap_or(0);
    for n in 1..=count.min(MOST_SHEETS) {
        text.push_str("\n[[marks.sheet]]\n");
        for key in ["id", "x_mm", "y_mm"] {
            push(&mut text, key, Some(of(&format!("sheet{n}.{key}"))?));
        }
    }
    let bay: Bay = parse_toml(path, &text)?;
    bay.check(path)?;
    Ok(text)
}

/// The job file, which names its bay's as `bay`; `path` stands for it in messages.
///
/// # Errors
/// As [`bay_text`].
pub(crate) fn job_text(answers: &Answers, bay: &str, path: &Path) -> Result<String, Error> {
    let of = |key: &str| answer(answers, key);
    let mut text = format!(
        "schema = 1\njob = {}\nbay = {}\ntraffic = {}\n",
        quoted(of("job.job")?),
        quoted(bay),
        quoted(of("job.traffic")?)
    );
    for key in ["tolerance", "system"] {
        if let Some(name) = given(answers, &format!("job.{key}")).filter(|name| *name != "none") {
            push(&mut text, key, Some(&quoted(name)));
        }
    }
    for (table, keys) in [
        ("vehicle", &["description", "registration", "odometer"][..]),
        ("workshop", &["measured_by"][..]),
    ] {
        let filled: Vec<(&str, &str)> = (keys.iter())
            .filter_map(|key| Some((*key, given(answers, &format!("{table}.{key}"))?)))
            .collect();
        if !filled.is_empty() {
            text.push_str(&format!("\n[{table}]\n"));
        }
        for (key, value) in filled {
            push(&mut text, key, Some(&quoted(value)));
        }
    }
    if let Some(set_percent) = given(answers, SET_PERCENT) {
        text.push_str(&format!("\n[lamp_mark]\nset_percent = {set_percent}\n"));
        for (key, [first, second]) in [
            ("setting_tolerance_percent", ["below", "above"]),
            ("range_percent", ["low", "high"]),
        ] {
            let mark = |key: &str| given(answers, &format!("lamp_mark.{key}"));
            if let Some((first, second)) = mark(first).zip(mark(second)) {
                push(&mut text, key, Some(&format!("[{first}, {second}]")));
            }
        }
    }
    let lamps = of("job.lamps")?;
    for side in ["left", "right"]
        .into_iter()
        .filter(|side| lamps == "both" || lamps == *side)
    {
        text.push_str(&format!("\n[[lamp]]\nside = \"{side}\"\n"));
        for key in ["centre_height_mm", "centre_x_mm", "distance_mm"] {
            push(&mut text, key, Some(of(&format!("{side}.{key}"))?));
        }
        for key in [
            "centre_height_sd_mm",
            "distance_sd_mm",
            "face_height_mm",
            "mounting_height_mm",
        ] {
            push(&mut text, key, given(answers, &format!("{side}.{key}")));
        }
    }
    let job: Job = parse_toml(path, &text)?;
    job.check(path)?;
    Ok(text)
}

fn push(text: &mut String, key: &str, value: Option<&str>) {
    if let Some(value) = value {
        text.push_str(&format!("{key} = {value}\n"));
    }
}

/// An answer that is not empty.
fn given<'a>(answers: &'a Answers, key: &str) -> Option<&'a str> {
    answers.get(key).map(String::as_str).filter(|answer| !answer.is_empty())
}

fn answer<'a>(answers: &'a Answers, key: &str) -> Result<&'a str, Error> {
    given(answers, key).ok_or_else(|| Error::asked(format!("{key} is not answered")))
}

/// A TOML string.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}
