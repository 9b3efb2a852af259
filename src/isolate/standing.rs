//! Where each component stands after the trials.

use super::{Evidence, Isolated, Origin, Suspect};
use crate::record::{FaultKind, Moves, said_as_written};

/// Below this probability a component that a test has found sound counts as cleared.
const CLEARED: f64 = 0.05;
/// From this probability on a component is named among the possible ones.
pub const POSSIBLE: f64 = 0.02;
/// From this probability on the most probable component is a suspect.
const SUSPECTED: f64 = 0.2;
/// From this share of a component's faults on they are hardly anything else (common practice, no source).
const HARDLY_ELSE: f64 = 0.9;

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

said_as_written! {
    Standing {
        Suspected => "suspected", "verdächtig";
        Possible => "possible", "möglich";
        Cleared => "cleared", "entlastet";
        Open => "not suspected", "kein Verdacht";
    }
}

impl Isolated {
    /// Whether readings at positions of the range control were counted.
    #[must_use]
    pub fn from_positions(&self) -> bool {
        self.trials.evidence.iter().any(|one| one.origin == Origin::Positions)
    }

    /// Whether a trial found a component sound as it is now: its test needs it, and shows every fault of it, and it was not replaced or
    /// mended since.
    #[must_use]
    pub fn clears(&self, one: &Evidence, component: usize) -> bool {
        let test = &self.system.tests[one.test];
        let is_same = one.mended_since(self.trials.done.mended) >> component & 1 == 0;
        // An engine that runs says nothing of a valve that does not hold once it stops.
        let shows_all =
            !(self.system.components[component].faults.iter()).any(|fault| fault.spares.contains(&one.test));
        is_same && one.is_yes() && test.shows.is_empty() && test.needs.contains(&component) && shows_all
    }

    /// The kinds of fault of a component that are mended without a new part, the most probable first, where its fault is hardly anything
    /// else.
    #[must_use]
    pub fn mended_without_part(&self, component: usize) -> Vec<FaultKind> {
        let faults = &self.system.components[component].faults;
        let needs_no_part = |kind: FaultKind| faults.iter().any(|one| one.id == kind && one.mend_minutes.is_some());
        let spared = |one: &&Suspect| one.component == component && needs_no_part(one.fault);
        let spared: Vec<&Suspect> = self.answer.suspects.iter().filter(spared).collect();
        let share: f64 = spared.iter().map(|one| one.probability).sum();
        if share < HARDLY_ELSE * self.answer.by_component[component] {
            return Vec::new();
        }
        let named = spared.iter().filter(|one| one.probability >= SUSPECTED);
        named.map(|one| one.fault).collect()
    }

    /// Where each component stands, in the system's order.
    #[must_use]
    pub fn standings(&self) -> Vec<Standing> {
        let first = self.answer.first_component();
        (0..self.system.components.len())
            .map(|c| {
                let probability = self.answer.by_component[c];
                let examined = self.trials.evidence.iter().any(|one| self.clears(one, c));
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

impl Evidence {
    /// Whether it came out yes, and is clear.
    #[must_use]
    pub fn is_yes(&self) -> bool {
        self.outcome() == Moves::Yes && self.is_firm()
    }

    /// Whether it cannot have come out yes.
    #[must_use]
    pub fn is_failure(&self) -> bool {
        !self.allows(Moves::Yes)
    }
}
