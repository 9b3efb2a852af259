//! What a technician is asked for a bay and a job, one question a key: where to measure and why, what is plausible, and the files
//! that the answers make. The terminal and the page ask by the same questions.

mod ask;
mod check;
mod files;

pub(crate) use ask::{MOST_SHEETS, of_bay, of_job, of_sheet};
pub(crate) use check::{
    check, doubt, doubt_of_distances, doubt_of_heights, doubt_of_lamp_heights, doubt_of_lamp_places, millimetres, take,
    taken_for,
};
pub(crate) use files::{bay_text, job_text};

use crate::language::Language;
use std::collections::BTreeMap;

/// What was answered, by the key of its question, each as [`check()`] gave it back.
pub(crate) type Answers = BTreeMap<String, String>;

/// What an answer may be.
#[derive(Debug, Clone)]
pub(crate) enum Kind {
    /// One line of text.
    Text,
    /// One of these; each with what it means.
    Choice(Vec<(String, String)>),
    /// A length in mm between these; typed with another unit it is converted. The name is the file's key.
    Millimetres(&'static str, f64, f64),
    /// A figure in per cent between these. The name is the file's key.
    PerCent(&'static str, f64, f64),
    /// A whole number between these.
    Whole(u32, u32),
}

/// What a file's key of a figure is called where no file is before one's eyes.
pub(crate) fn in_words(language: Language, key: &str) -> &'static str {
    let say = |english, german| language.pick(english, german);
    match key.rsplit('.').next().unwrap_or_default() {
        "x_mm" => say("x (mm)", "x (mm)"),
        "y_mm" => say("y (mm)", "y (mm)"),
        "size_mm" => say(
            "outer edge of the black square (mm)",
            "Außenkante des schwarzen Quadrats (mm)",
        ),
        "position_sd_mm" => say(
            "how well the sheets are measured (mm)",
            "wie genau die Messblätter vermessen sind (mm)",
        ),
        "grade_percent" => say("rise of the standing area (%)", "Anstieg der Standfläche (%)"),
        "grade_sd_percent" => say("how even the floor is (%)", "wie eben der Boden ist (%)"),
        "centre_height_mm" => say("height of its centre (mm)", "Höhe seiner Mitte (mm)"),
        "centre_height_sd_mm" => say(
            "how well the height is measured (mm)",
            "wie genau die Höhe gemessen ist (mm)",
        ),
        "centre_x_mm" => say(
            "its centre beside the centre line (mm)",
            "seine Mitte neben der Mittellinie (mm)",
        ),
        "distance_mm" => say("distance to the wall (mm)", "Abstand zur Wand (mm)"),
        "distance_sd_mm" => say(
            "how well the distance is measured (mm)",
            "wie genau der Abstand gemessen ist (mm)",
        ),
        "face_height_mm" => say(
            "height of the lens or reflector that throws its dipped beam (mm)",
            "Höhe der Linse oder des Reflektors des Abblendlichts (mm)",
        ),
        "mounting_height_mm" => say("height above the ground (mm)", "Höhe über der Standfläche (mm)"),
        "set_percent" => say(
            "value stamped on the lamp (%)",
            "auf dem Scheinwerfer eingeprägter Wert (%)",
        ),
        "setting_tolerance_percent" => say(
            "by how much the figure may differ from the stamped one (%)",
            "um wie viel der Wert vom eingeprägten abweichen darf (%)",
        ),
        "range_percent" => say("figures over all loads (%)", "Werte über alle Beladungen (%)"),
        _ => say("the figure", "die Zahl"),
    }
}

/// A question.
#[derive(Debug, Clone)]
pub(crate) struct Question {
    /// By what its answer is known: letters, digits and full stops.
    pub key: String,
    /// The heading that it stands under.
    pub about: String,
    /// What is asked, with its unit.
    pub ask: String,
    /// Where to measure it, and why; empty where a question before said it.
    pub why: String,
    /// What counts if nothing is answered; empty where it may be left out, `None` where it must be answered.
    pub usual: Option<String>,
    pub kind: Kind,
    /// Most leave it as it is: a form keeps it folded away.
    pub is_rare: bool,
    /// Asked only where each of these was answered by one of the words beside it.
    pub only_with: Vec<(&'static str, Vec<String>)>,
}

impl Question {
    /// Whether it is to be asked, by what was answered before.
    pub fn applies(&self, answers: &Answers) -> bool {
        let is_one_of =
            |(key, words): &(&str, Vec<String>)| answers.get(*key).is_some_and(|given| words.contains(given));
        self.only_with.iter().all(is_one_of)
    }
}
