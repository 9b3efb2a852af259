//! What isolation found, for others to read: JSON, plain words for a terminal, the system drawn, and the plan as a tree.

pub mod drawing;
mod json;
pub mod plan;
mod words;

pub use json::{IsolationResult, PlanResult};
pub use words::render;
pub(crate) use words::{About, Part, Section, sections};

use super::text::fixed;
use crate::isolate::{Answer, Evidence, Isolated, JobTrials, Observation, Origin};
use crate::record::{Moves, System, Test, Watch};

/// What isolation found.
#[derive(Debug, Clone, Copy)]
pub struct Isolation<'a> {
    /// The system.
    pub system: &'a System,
    /// What the job says about it.
    pub trials: &'a JobTrials,
    /// What follows.
    pub answer: &'a Answer,
}

/// Below this probability a component that a test has found sound counts as cleared.
const CLEARED: f64 = 0.05;
/// From this probability on a component is named among the possible ones.
const POSSIBLE: f64 = 0.02;
/// From this probability on the most probable component is a suspect.
const SUSPECTED: f64 = 0.2;

/// Where a component stands after the trials.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Probably at fault.
    Suspected,
    /// May be at fault.
    Possible,
    /// A test that needs it came out yes.
    Cleared,
    /// No test has said much about it yet.
    Open,
}

impl Standing {
    /// The sign that stands before the word, so that neither colour nor reading is needed to tell them apart.
    #[must_use]
    pub fn sign(self) -> char {
        match self {
            Self::Suspected => '✗',
            Self::Possible => '?',
            Self::Cleared => '✓',
            Self::Open => '·',
        }
    }
}

impl std::fmt::Display for Standing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Suspected => "suspected",
            Self::Possible => "possible",
            Self::Cleared => "cleared",
            Self::Open => "not suspected",
        })
    }
}

impl<'a> From<&'a Isolated> for Isolation<'a> {
    fn from(isolated: &'a Isolated) -> Self {
        Self {
            system: &isolated.system,
            trials: &isolated.trials,
            answer: &isolated.answer,
        }
    }
}

impl Isolation<'_> {
    /// Whether readings at positions of the range control were counted.
    #[must_use]
    pub fn from_positions(&self) -> bool {
        self.trials.evidence.iter().any(|one| one.origin == Origin::Positions)
    }

    /// Where each component stands, in the system's order.
    #[must_use]
    pub fn standings(&self) -> Vec<Standing> {
        let first = self.answer.first_component();
        (0..self.system.components.len())
            .map(|c| {
                let probability = self.answer.by_component[c];
                let sound = |one: &&Evidence| is_yes(one) && self.system.tests[one.test].needs.contains(&c);
                let examined = self.trials.evidence.iter().find(sound).is_some();
                if probability >= 0.5 || (c == first && probability >= SUSPECTED && !self.trials.evidence.is_empty()) {
                    Standing::Suspected
                } else if examined && probability < CLEARED {
                    Standing::Cleared
                } else if probability >= POSSIBLE {
                    Standing::Possible
                } else {
                    Standing::Open
                }
            })
            .collect()
    }
}

fn is_yes(one: &Evidence) -> bool {
    one.outcome() == Moves::Yes && one.is_firm()
}

fn is_failure(one: &Evidence) -> bool {
    !one.allows(Moves::Yes)
}

/// "the left beam does not move".
fn happening(test: &Test, outcome: Moves) -> String {
    let subject = match (test.watch, test.lamp) {
        (Watch::Gauge, _) => "the gauge".to_owned(),
        (Watch::Beam, Some(side)) => format!("the {side} beam"),
        (Watch::Beam, None) => "the beam".to_owned(),
    };
    let verb = match (test.watch, outcome) {
        (Watch::Beam, Moves::Yes) => "moves",
        (Watch::Beam, Moves::No) => "does not move",
        (Watch::Beam, Moves::CreepsBack) => "moves and creeps back",
        (Watch::Gauge, Moves::Yes) => "rises and holds",
        (Watch::Gauge, Moves::No) => "does not rise",
        (Watch::Gauge, Moves::CreepsBack) => "rises and falls back",
    };
    format!("{subject} {verb}")
}

/// "with the control bridged, the left beam does not move".
fn phrase(test: &Test, outcome: Moves) -> String {
    if test.with.is_empty() {
        format!("in the test {}, {}", test.id, happening(test, outcome))
    } else {
        format!("{}, {}", test.with, happening(test, outcome))
    }
}

/// What came out, in a word or a figure.
fn found(one: &Evidence) -> String {
    match one.seen {
        Observation::Written(moves) => moves.to_string(),
        Observation::Travel { percent, sd_percent } => format!(
            "{} % ± {} %",
            super::text::signed(percent, 2),
            super::text::u95(crate::aim::COVERAGE_FACTOR_95 * sd_percent)
        ),
    }
}

/// Minutes as people say them.
fn minutes(value: f64) -> String {
    let whole = (value - value.round()).abs() < 0.05;
    let text = fixed(value, usize::from(!whole));
    if text == "1" {
        "1 minute".to_owned()
    } else {
        format!("{text} minutes")
    }
}

/// A probability in whole per cent, never quite all or nothing.
fn percent(probability: f64) -> String {
    match (100.0 * probability).round() {
        rounded if rounded >= 100.0 => ">99 %".to_owned(),
        rounded if rounded < 1.0 => "<1 %".to_owned(),
        rounded => format!("{rounded:.0} %"),
    }
}

/// The text with its first letter large.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
