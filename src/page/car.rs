//! What a job says of its car and of how it is judged, to be changed: by the questions that a new job asks.

use super::figures::changed_since;
use super::jobs::{Place, wall_as_listed};
use super::undo;
use crate::digest;
use crate::error::Error;
use crate::language::{Language, said};
use crate::questions::{Answers, Question, in_words, of_job, take};
use crate::record::{
    Bay, Job, Kept, NewValue, Odometer, append_lamps, parse_toml, places_after, read_text, set_values,
};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The questions whose answers can be changed, each with where its answer stands in the job's file.
const CHANGED: [(&str, &str, &str); 7] = [
    ("vehicle.description", "[vehicle]", "description"),
    ("vehicle.registration", "[vehicle]", "registration"),
    ("vehicle.odometer", "[vehicle]", "odometer"),
    ("workshop.measured_by", "[workshop]", "measured_by"),
    ("job.traffic", "", "traffic"),
    ("job.tolerance", "", "tolerance"),
    ("lamp_mark.set_percent", "[lamp_mark]", "set_percent"),
];
/// Those of the value stamped on a lamp, which stand two by two.
const OF_MARK: [(&str, [&str; 2]); 2] = [
    ("setting_tolerance_percent", ["lamp_mark.below", "lamp_mark.above"]),
    ("range_percent", ["lamp_mark.low", "lamp_mark.high"]),
];

/// A job's car and its table, as they stand.
pub(super) struct Car {
    pub questions: Vec<Question>,
    /// What stands there now, by the questions' keys.
    pub shown: Answers,
    /// Digest of the file that they were read from.
    pub was: String,
    file: PathBuf,
    text: String,
    tolerance_choice: Option<String>,
}

/// The car and the table of a job.
///
/// # Errors
/// As [`Job::read`].
pub(super) fn of_job_file(language: Language, file: &Path) -> Result<Car, Error> {
    let text = read_text(file)?;
    let job: Job = parse_toml(file, &text)?;
    job.check(file)?;
    let mut questions = of_job(language);
    let is_changed =
        |key: &str| CHANGED.iter().any(|(of, ..)| *of == key) || OF_MARK.iter().any(|(_, keys)| keys.contains(&key));
    questions.retain(|question| is_changed(&question.key));
    let vehicle = job.vehicle.unwrap_or_default();
    let odometer = vehicle.odometer.as_ref().map(Odometer::to_string);
    let mut shown = Answers::new();
    let mut show = |key: &str, value: Option<String>| drop(shown.insert(key.to_owned(), value.unwrap_or_default()));
    show("vehicle.description", vehicle.description);
    show("vehicle.registration", vehicle.registration);
    show("vehicle.odometer", odometer);
    show(
        "workshop.measured_by",
        job.workshop.and_then(|workshop| workshop.measured_by),
    );
    show("job.traffic", Some(job.traffic.to_string()));
    let tolerance = job.tolerance.unwrap_or_else(|| "none".to_owned());
    if let Some(mark) = &job.lamp_mark {
        let (setting, range) = (mark.setting_tolerance_percent, mark.range_percent);
        let figures = [
            ("set_percent", mark.set_percent),
            ("below", setting.map(|[below, _]| below)),
            ("above", setting.map(|[_, above]| above)),
            ("low", range.map(|[low, _]| low)),
            ("high", range.map(|[_, high]| high)),
        ];
        for (key, value) in figures {
            show(&format!("lamp_mark.{key}"), value.map(|value| value.to_string()));
        }
    }
    for question in &mut questions {
        // What is asked of every new job is seen here, too.
        question.is_rare = false;
        let crate::questions::Kind::Choice(words) = &mut question.kind else {
            continue;
        };
        // A table of the workshop's own is none of those that are shipped, and stays what it is.
        if question.key == "job.tolerance" && !words.iter().any(|(word, _)| *word == tolerance.to_lowercase()) {
            words.push((tolerance.to_lowercase(), tolerance.clone()));
        }
    }
    shown.insert("job.tolerance".to_owned(), tolerance.to_lowercase());
    Ok(Car {
        questions,
        shown,
        was: digest::of(text.as_bytes()),
        file: file.to_owned(),
        text,
        tolerance_choice: job.tolerance_choice,
    })
}

impl Car {
    /// By field what is wrong with what is typed so far.
    pub fn faults(&self, language: Language, typed: &Answers) -> BTreeMap<String, String> {
        take(language, &self.questions, typed, Answers::new()).1
    }

    /// Changes what was typed otherwise than it stands; gives by field what is wrong with what was typed, and then nothing is changed.
    ///
    /// # Errors
    /// [`Error`] where the file is not the one that was shown, nothing was changed, or as [`set_values`].
    pub fn change(self, language: Language, typed: &Answers) -> Result<BTreeMap<String, String>, Error> {
        if typed.get("was") != Some(&self.was) {
            return Err(changed_since(&self.file));
        }
        let (answers, faults) = take(language, &self.questions, typed, Answers::new());
        if !faults.is_empty() {
            return Ok(faults);
        }
        let given = |key: &str| answers.get(key).map(String::as_str).unwrap_or_default();
        let is_new = |key: &str| given(key) != self.shown.get(key).map_or("", String::as_str);
        let mut values = Vec::new();
        let mut named: Vec<&Question> = Vec::new();
        for (key, table, name) in CHANGED.into_iter().filter(|(key, ..)| is_new(key)) {
            if key == "lamp_mark.set_percent" {
                continue;
            }
            let text = Some(given(key)).filter(|text| !text.is_empty() && (key != "job.tolerance" || *text != "none"));
            values.push(NewValue {
                table,
                key: name,
                value: text.map(|text| toml::Value::String(text.to_owned())),
            });
            named.extend(self.questions.iter().find(|question| question.key == key));
        }
        if is_new("job.tolerance") && self.tolerance_choice.is_some() {
            // Which bands were chosen holds for the table that offers them.
            values.push(NewValue {
                table: "",
                key: "tolerance_choice",
                value: None,
            });
        }
        let of_mark = |key: &str| given(key).parse::<f64>().ok();
        let marks = [
            "lamp_mark.set_percent",
            "lamp_mark.below",
            "lamp_mark.above",
            "lamp_mark.low",
            "lamp_mark.high",
        ];
        let is_other = |key: &&str| of_mark(key) != self.shown.get(*key).and_then(|shown| shown.parse().ok());
        // Of a table that asks for none of them they are taken out: what does not count is not kept as if it did.
        if marks.iter().any(is_other) {
            let set = of_mark("lamp_mark.set_percent").map(toml::Value::Float);
            values.push(NewValue {
                table: "[lamp_mark]",
                key: "set_percent",
                value: set,
            });
            for (key, of) in OF_MARK {
                let both: Vec<toml::Value> = of
                    .iter()
                    .filter_map(|key| of_mark(key))
                    .map(toml::Value::Float)
                    .collect();
                values.push(NewValue {
                    table: "[lamp_mark]",
                    key,
                    value: (both.len() == of.len()).then_some(toml::Value::Array(both)),
                });
            }
            named.extend(
                self.questions
                    .iter()
                    .find(|question| question.key == "lamp_mark.set_percent"),
            );
        }
        if values.is_empty() {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "nothing is another than before; nothing is written",
                    "nichts ist anders als vorher; nichts wird geschrieben"
                )
            }));
        }
        let keys: Vec<String> = named.iter().map(|question| question.key.clone()).collect();
        let changed = set_values(&self.file, &self.text, &values);
        let what = |language| {
            let all: Vec<&str> = keys.iter().map(|key| called(language, key)).collect();
            said!(language; "changed {}", "geändert: {}"; all.join(", "))
        };
        undo::change(&self.file, Kept::Job, what, changed)?;
        Ok(faults)
    }
}

/// What an answer is called in few words.
fn called(language: Language, key: &str) -> &'static str {
    match key {
        "vehicle.description" => language.pick("what car it is", "was für ein Fahrzeug es ist"),
        "vehicle.registration" => language.pick("the registration", "das Kennzeichen"),
        "vehicle.odometer" => language.pick("the odometer", "der Kilometerstand"),
        "workshop.measured_by" => language.pick("who measures", "wer misst"),
        "job.traffic" => language.pick("the side of the road", "die Straßenseite"),
        "job.tolerance" => language.pick("the table of limits", "die Toleranztabelle"),
        _ => in_words(language, key),
    }
}

/// Gives each lamp of the job an entry of its own for after the repair, as the car may stand elsewhere then, before another wall, too: `wall`, by
/// its file's name in `folder`. Its figures are those from before until they are changed.
///
/// # Errors
/// As [`append_lamps`] and [`Bay::read`], and for a wall whose heights are not measured as those of the lamps are.
pub(super) fn stand_elsewhere_after(folder: &Path, place: &Place, wall: Option<&str>) -> Result<(), Error> {
    let file = &place.file();
    let text = read_text(file)?;
    let job: Job = parse_toml(file, &text)?;
    let listed = wall.map(|wall| wall_as_listed(folder, place, wall));
    let mut name = None;
    if let Some(listed) = &listed {
        let (other, own) = (
            Bay::read(&place.folder.join(listed))?,
            Bay::read(&place.folder.join(&job.bay))?,
        );
        if other.heights_from != own.heights_from {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "the heights of the lamps are measured as the job's wall has it, and the wall {} has its heights from elsewhere (floor or level \
                     line); hang it by the same, or make a job of its own before it",
                    "die Höhen der Scheinwerfer sind so gemessen wie die der Wand des Auftrags, und die Wand {} misst sie anders (vom Boden oder von \
                     einer waagerechten Linie); sie ebenso vermessen oder vor ihr einen eigenen Auftrag anlegen";
                    other.name
                )
            }));
        }
        name = Some(other.name);
    }
    let changed = places_after(file, &job, listed.as_deref()).and_then(|added| append_lamps(file, &text, &added));
    let what = |language: Language| match &name {
        None => language
            .pick(
                "gave the car a place of its own after the repair",
                "dem Fahrzeug nach der Reparatur einen eigenen Platz gegeben",
            )
            .to_owned(),
        Some(wall) => said!(
            language;
            "gave the car a place of its own after the repair, before the wall {wall}",
            "dem Fahrzeug nach der Reparatur einen eigenen Platz gegeben, vor der Wand {wall}"
        ),
    };
    undo::change(file, Kept::Job, what, changed)
}

/// Whether a lamp of the job has no entry of its own for after the repair.
pub(super) fn may_stand_elsewhere(job: &Job) -> bool {
    places_after(Path::new(""), job, None).is_ok()
}
