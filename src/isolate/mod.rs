//! Which part is at fault: what the trials say about every combination of up to three faulty components, what to test
//! next, and when to stop and repair.
//!
//! A test comes out yes when everything that it needs is sound; what it shows otherwise stands in `model::shows`. Each trial is
//! erroneous with a small probability that the system file gives, so that nothing is ever impossible; trials that cannot all
//! be right are named all the same.

mod answer;
mod belief;
mod conflict;
mod evidence;
mod model;
mod next;
mod plan;
mod standing;
mod trials;

pub use answer::{Answer, Done, Suspect, isolate, isolate_from};
pub use belief::Explanation;
pub use conflict::Contradiction;
pub use evidence::{Evidence, Observation, Origin};
pub(crate) use model::place;
pub use model::{LeakSize, MOST_FAULTS, outcomes};
pub use next::{Candidate, Decision, Repair};
pub use plan::{Plan, PlanBranch, PlanStep, plan};
pub use standing::{POSSIBLE, Standing};
pub use trials::{JobTrials, Unread};

pub(crate) use trials::{has_positions, photos_of};

use trials::evidence_of;

use crate::aim::ShotReading;
use crate::record::{Job, System};

/// A system with its trials and what follows from them.
#[derive(Debug, Clone, PartialEq)]
pub struct Isolated {
    /// The system.
    pub system: System,
    /// What is known of it.
    pub trials: JobTrials,
    /// What follows.
    pub answer: Answer,
}

impl Isolated {
    /// What follows from trials.
    #[must_use]
    pub fn new(system: System, trials: JobTrials) -> Self {
        let answer = isolate_from(&system, &trials.evidence, trials.done);
        Self { system, trials, answer }
    }

    /// What is known of a system before any test.
    #[must_use]
    pub fn untested(system: System) -> Self {
        let trials = JobTrials {
            evidence: Vec::new(),
            unread: Vec::new(),
            warnings: Vec::new(),
            done: Done::default(),
        };
        Self::new(system, trials)
    }

    /// What follows from all that a job says of its system, by trials and, where it has them, by readings at positions
    /// before the repair. `readings` are those of the job's shots and of the trials' photos. `None` where there is
    /// nothing to go by: the ranking would only be how often each part fails.
    #[must_use]
    pub fn of_job(system: System, job: &Job, readings: &[ShotReading]) -> Option<Self> {
        let trials = evidence_of(&system, job, has_positions(&system, job), readings);
        let silent = trials.evidence.is_empty() && trials.unread.is_empty();
        (!silent).then(|| Self::new(system, trials))
    }
}
