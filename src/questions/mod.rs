//! What a technician is asked for a bay and a job, one question a key: where to measure and why, what is plausible, and the files
//! that the answers make. The terminal and the page ask by the same questions.

mod ask;
mod check;
mod files;

pub(crate) use ask::{MOST_SHEETS, of_bay, of_job, of_sheet};
pub(crate) use check::{check, take};
pub(crate) use files::{bay_text, job_text};

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
pub(crate) fn in_words(key: &str) -> &'static str {
    match key.rsplit('.').next().unwrap_or_default() {
        "x_mm" => "x (mm)",
        "y_mm" => "y (mm)",
        "size_mm" => "outer edge of the black square (mm)",
        "position_sd_mm" => "how well the sheets are measured (mm)",
        "grade_percent" => "rise of the standing area (%)",
        "grade_sd_percent" => "how even the floor is (%)",
        "centre_height_mm" => "height of its centre (mm)",
        "centre_height_sd_mm" => "how well the height is measured (mm)",
        "centre_x_mm" => "its centre beside the centre line (mm)",
        "distance_mm" => "distance to the wall (mm)",
        "distance_sd_mm" => "how well the distance is measured (mm)",
        "face_height_mm" => "height of the lens (mm)",
        "mounting_height_mm" => "height above the ground (mm)",
        "set_percent" => "value stamped on the lamp (%)",
        "setting_tolerance_percent" => "tolerance of the setting (%)",
        "range_percent" => "inclination over all loads (%)",
        _ => "the figure",
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
