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
mod photographed;
mod plan;
mod standing;
mod touched;
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

pub(crate) use touched::{concerns, is_outdated_by};
pub(crate) use trials::{has_photos, lamp_of, photos_of};

use photographed::Photos;
use trials::evidence_of;

use crate::adjuster::Adjuster;
use crate::aim::ShotReading;
use crate::record::{FaultKind, Job, Setup, System};

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
        let later = trials.later();
        let answer = answer::isolate_in_hindsight(&system, &trials.evidence, trials.done, later);
        Self { system, trials, answer }
    }

    /// Whether the trials have set this up, by number of the set-up.
    fn is_set_up(&self, setup: usize) -> bool {
        let tests = &self.system.tests;
        self.trials
            .evidence
            .iter()
            .any(|one| tests[one.test].setup.contains(&setup))
    }

    /// What has to be set up yet for a test.
    pub fn still_to_set_up(&self, test: usize) -> impl Iterator<Item = &Setup> {
        let wanted = self.system.tests[test].setup.iter().copied();
        wanted
            .filter(|setup| !self.is_set_up(*setup))
            .map(|setup| &self.system.setups[setup])
    }

    /// Time to replace components, with what is to be set up yet for it, minutes.
    #[must_use]
    pub fn replace_minutes(&self, components: &[usize]) -> f64 {
        let parts = || components.iter().map(|&c| &self.system.components[c]);
        let wanted = |setup: &usize| parts().any(|part| part.setup.contains(setup)) && !self.is_set_up(*setup);
        let setup = (0..self.system.setups.len())
            .filter(wanted)
            .map(|setup| self.system.setups[setup].minutes);
        parts().map(|part| part.replace_minutes).sum::<f64>() + setup.sum::<f64>()
    }

    /// Time to mend a component without a new part, whichever of these kinds of fault it has, with what is to be set up yet for it,
    /// minutes.
    #[must_use]
    pub fn mend_minutes(&self, component: usize, kinds: &[FaultKind]) -> f64 {
        let part = &self.system.components[component];
        let setup = self.replace_minutes(&[component]) - part.replace_minutes;
        let of_kinds = part.faults.iter().filter(|one| kinds.contains(&one.id));
        setup + of_kinds.filter_map(|one| one.mend_minutes).fold(0.0, f64::max)
    }

    /// What is known of a system before any test.
    #[must_use]
    pub fn untested(system: System) -> Self {
        Self::new(system, JobTrials::default())
    }

    /// What follows from all that a job says of its system: by trials, by readings at positions, and by those under a hand
    /// pump where the job says what it was joined to. `readings` are those of the job's shots and of the trials' photos,
    /// `adjuster` what the shots came to. `None` where there is nothing to go by: the ranking would only be how often each
    /// part fails.
    #[must_use]
    pub fn of_job(system: System, job: &Job, readings: &[ShotReading], adjuster: &Adjuster) -> Option<Self> {
        let trials = evidence_of(&Photos::new(&system, job, readings, adjuster));
        let silent = trials.evidence.is_empty() && trials.unread.is_empty() && trials.warnings.is_empty();
        (!silent).then(|| Self::new(system, trials))
    }
}
