//! What the trials say about a system.

use super::belief::{Belief, Explanation};
use super::conflict::{self, Contradiction};
use super::evidence::Evidence;
use super::model::Model;
use super::next::{self, Decision, Progress};
use crate::record::{FaultKind, System};

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

/// What the trials say about the system, nothing having been mended.
#[must_use]
pub fn isolate(system: &System, evidence: &[Evidence]) -> Answer {
    isolate_from(system, evidence, Done::default())
}

/// What was done to a car beside its trials.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Done {
    /// Components that were replaced or mended, a bit each by number.
    pub mended: u128,
    /// Tests that were tried and could not be done, a bit each by number.
    pub impossible: u128,
    /// Components that were replaced or mended after all that is known was found, a bit each by number: no test comes before that any more.
    pub mended_since: u128,
    /// Components of which no repair renewed more than a piece, a bit each by number.
    pub in_part: u128,
}

/// What the trials say about the system as it is now.
#[must_use]
pub fn isolate_from(system: &System, evidence: &[Evidence], done: Done) -> Answer {
    isolate_in_hindsight(system, evidence, done, (&[], done.mended))
}

/// What the trials say about the system as it was with what `done` says, by what was found later, too, up to where `later.1` components, a
/// bit each, had been mended: what a repair cured was what it mended.
pub(super) fn isolate_in_hindsight(
    system: &System,
    evidence: &[Evidence],
    done: Done,
    later: (&[Evidence], u128),
) -> Answer {
    let model = &Model::new(system).renewed_in_part(done.in_part);
    let belief = Belief::of_car(model, &[evidence, later.0].concat(), later.1, done.mended);
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
    let contradiction = contradiction_now(model, &belief, evidence, done.mended);
    let progress = Progress {
        evidence,
        mended: done.mended,
        not_done: done.impossible,
        mended_since: done.mended_since,
        contradiction: contradiction.as_ref(),
    };
    Answer {
        suspects,
        by_component,
        nothing,
        minimal_diagnoses: conflict::minimal_diagnoses(model, &belief, since_repair(evidence, done.mended)),
        explanations: explanations.into_iter().take(EXPLANATIONS).collect(),
        decision: next::decide(model, &belief, progress),
        contradiction,
    }
}

/// The trials of the car as it is now, which stand at the end: those since the last repair.
fn since_repair(evidence: &[Evidence], mended: u128) -> &[Evidence] {
    let first = evidence
        .iter()
        .rposition(|one| one.mended_since(mended) != 0)
        .map_or(0, |n| n + 1);
    &evidence[first..]
}

/// Trials since the last repair that cannot all be right, by number in all the evidence.
pub(super) fn contradiction_now(
    model: &Model<'_>,
    belief: &Belief,
    evidence: &[Evidence],
    mended: u128,
) -> Option<Contradiction> {
    let now = since_repair(evidence, mended);
    let first = evidence.len() - now.len();
    let mut found = conflict::contradiction(model, belief, now)?;
    found.trials.iter_mut().for_each(|trial| *trial += first);
    found.repeat += first;
    Some(found)
}
