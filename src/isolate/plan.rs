//! The whole plan as a tree: which test first, and after each outcome what then.

use super::evidence::{Evidence, Origin};
use super::model::{Model, outcomes, place};
use super::next::{Repair, decide};
use super::{Belief, Candidate};
use crate::record::{Moves, System};

/// An outcome less probable than this is not planned for: the trial is then probably botched, or the car has several
/// faults; ask again with the trials written down.
const UNPLANNED: f64 = 0.02;
/// Tests in a row after which a plan ends.
const LONGEST: usize = 12;

/// What to do at a place in the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// Do this test, then go on by its outcome.
    Test {
        /// The test.
        candidate: Candidate,
        /// What comes after each outcome that is planned for.
        branches: Vec<Branch>,
    },
    /// Stop testing and repair.
    Repair {
        /// What to replace, in this order, the more probable ones only.
        order: Vec<Repair>,
        /// Probability of the first of them.
        probability: f64,
    },
}

/// An outcome and what to do then.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// What came out.
    pub outcome: Moves,
    /// Probability of it, once the test is reached.
    pub probability: f64,
    /// What to do then.
    pub step: Step,
}

/// A plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Where it begins.
    pub step: Step,
    /// Expected minutes of testing, over the cars as the priors have them.
    pub test_minutes: f64,
    /// Expected number of tests.
    pub tests: f64,
}

/// The plan from `evidence` on.
#[must_use]
pub fn plan(system: &System, evidence: &[Evidence]) -> Plan {
    let model = Model::new(system);
    let mut evidence = evidence.to_vec();
    let belief = Belief::new(&model, &evidence);
    let mut totals = (0.0, 0.0);
    let step = grow(&model, &belief, &mut evidence, LONGEST, 1.0, &mut totals);
    Plan {
        step,
        test_minutes: totals.0,
        tests: totals.1,
    }
}

fn grow(
    model: &Model<'_>,
    belief: &Belief,
    evidence: &mut Vec<Evidence>,
    left: usize,
    reached: f64,
    totals: &mut (f64, f64),
) -> Step {
    let decision = decide(model, belief, evidence);
    let next = decision.next.filter(|_| !decision.stop && left > 0);
    let Some(candidate) = next else {
        let (by_component, nothing) = belief.by_component(model.system.components.len());
        let probability = |repair: &Repair| match repair {
            Repair::Replace(component) => by_component[*component],
            Repair::LookAgain => nothing,
        };
        let first = decision.order.first().map_or(0.0, &probability);
        let worth_naming = |repair: &Repair| probability(repair) >= 0.1_f64.min(first);
        return Step::Repair {
            order: decision.order.iter().copied().filter(worth_naming).collect(),
            probability: first,
        };
    };
    totals.0 += reached * candidate.minutes;
    totals.1 += reached;
    let predicted = belief.predicted(model, candidate.test);
    let mut branches = Vec::new();
    for &outcome in outcomes(model.system.tests[candidate.test].source) {
        let probability = predicted[place(outcome)];
        if probability < UNPLANNED {
            continue;
        }
        evidence.push(Evidence::written(
            model.system,
            candidate.test,
            outcome,
            Origin::Trial(evidence.len()),
        ));
        let after = Belief::new(model, evidence);
        let step = grow(model, &after, evidence, left - 1, reached * probability, totals);
        evidence.pop();
        branches.push(Branch {
            outcome,
            probability,
            step,
        });
    }
    Step::Test { candidate, branches }
}
