//! Which part is at fault: what the trials say about every combination of up to three faulty components, what to test
//! next, and when to stop and repair.
//!
//! A test comes out yes when everything that it needs is sound; what it shows otherwise stands in `model::shows`. Each trial is
//! erroneous with a small probability that the system file gives, so that nothing is ever impossible; trials that cannot all
//! be right are named all the same.

mod belief;
mod conflict;
mod evidence;
mod model;
mod next;
mod plan;
mod standing;
mod trials;

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
use crate::record::{FaultKind, Job, System};
use belief::Belief;
use model::Model;

/// Joint explanations that an answer lists.
const EXPLANATIONS: usize = 8;

/// A component with a kind of fault, and how probable that is.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspect {
    /// The component, by number.
    pub component: usize,
    /// The kind of fault.
    pub fault: FaultKind,
    /// Probability that the component has this fault, 0 to 1, alone or with others.
    pub probability: f64,
    /// The other components that are faulty in the most probable explanation with this fault.
    pub with: Vec<usize>,
}

/// What the trials say.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The suspects, the most probable first.
    pub suspects: Vec<Suspect>,
    /// For each component the probability that it is faulty, 0 to 1.
    pub by_component: Vec<f64>,
    /// Probability that nothing is at fault.
    pub nothing: f64,
    /// The best joint explanations, the most probable first.
    pub explanations: Vec<Explanation>,
    /// Least sets of components that explain all trials, were none erroneous; empty where none does.
    pub minimal_diagnoses: Vec<Vec<usize>>,
    /// What to do next.
    pub decision: Decision,
    /// Trials that cannot all be right.
    pub contradiction: Option<Contradiction>,
}

impl Answer {
    /// The component that is most probably faulty, all its faults together.
    #[must_use]
    pub fn first_component(&self) -> usize {
        let best = |best: usize, c: usize| {
            if self.by_component[c] > self.by_component[best] {
                c
            } else {
                best
            }
        };
        (0..self.by_component.len()).fold(0, best)
    }

    /// The components in the order of their probability.
    #[must_use]
    pub fn ranked_components(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.by_component.len()).collect();
        order.sort_by(|a, b| self.by_component[*b].total_cmp(&self.by_component[*a]));
        order
    }
}

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
        let answer = isolate(&system, &trials.evidence);
        Self { system, trials, answer }
    }

    /// What is known of a system before any test.
    #[must_use]
    pub fn untested(system: System) -> Self {
        let trials = JobTrials {
            evidence: Vec::new(),
            unread: Vec::new(),
            warnings: Vec::new(),
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

/// What the trials say about the system.
#[must_use]
pub fn isolate(system: &System, evidence: &[Evidence]) -> Answer {
    answer(&Model::new(system), evidence)
}

fn answer(model: &Model<'_>, evidence: &[Evidence]) -> Answer {
    let belief = Belief::new(model, evidence);
    let (by_component, nothing) = belief.by_component(model.system.components.len());
    let mut faults = belief.by_fault(model);
    // A stable sort: of equals the one that the file lists first.
    faults.sort_by(|a, b| b.2.total_cmp(&a.2));
    let explanations = belief.explanations(model, EXPLANATIONS.max(model.system.components.len()));
    let suspects = faults
        .into_iter()
        .map(|(component, fault, probability)| Suspect {
            component,
            fault,
            probability,
            with: explanations
                .iter()
                .find(|one| one.faults.contains(&(component, fault)))
                .map(|one| one.faults.iter().map(|f| f.0).filter(|&c| c != component).collect())
                .unwrap_or_default(),
        })
        .collect();
    let contradiction = conflict::contradiction(model, &belief, evidence);
    let mut decision = next::decide(model, &belief, evidence);
    if let (Some(contradiction), false) = (&contradiction, decision.stop) {
        prefer_repeat(model, &belief, evidence, contradiction, &mut decision);
    }
    Answer {
        suspects,
        by_component,
        nothing,
        minimal_diagnoses: conflict::minimal_diagnoses(&belief, evidence),
        explanations: explanations.into_iter().take(EXPLANATIONS).collect(),
        decision,
        contradiction,
    }
}

/// Where trials cannot all be right, the one in most doubt is done again first, unless that has been done already: all
/// else would be built on it.
fn prefer_repeat(
    model: &Model<'_>,
    belief: &Belief,
    evidence: &[Evidence],
    contradiction: &Contradiction,
    decision: &mut Decision,
) {
    let test = evidence[contradiction.repeat].test;
    let repeated = evidence.iter().filter(|one| one.test == test).count() > 1;
    if repeated || decision.next.is_some_and(|next| next.test == test) {
        return;
    }
    decision.instead_of = decision.next;
    decision.next = Some(Candidate {
        test,
        minutes: model.system.tests[test].minutes,
        expected_bits: belief.expected_bits(model)[test],
        expected_minutes: None,
    });
}
