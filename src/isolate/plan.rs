//! The whole plan as a tree: which test first, and after each outcome what then.

use super::answer::{Done, contradiction_now};
use super::belief::Belief;
use super::evidence::{Evidence, Origin};
use super::model::{Model, outcomes, place};
use super::next::Candidate;
use super::next::{Decision, Progress, Repair, decide};
use crate::record::{FaultKind, Moves, System};

/// An outcome less probable than this, once its test is reached, is not planned for: the trial is then probably erroneous
/// (common practice, no source).
const UNPLANNED: f64 = 0.03;
/// Nor is what so few cars come to; a wall has room for the common ones (common practice, no source). Ask again with the
/// trials written down.
const RARE: f64 = 0.006;
/// A part that may be replaced is named from this probability on, and so many of them (common practice, no source).
const WORTH_NAMING: f64 = 0.15;
const MOST_NAMED: usize = 3;
/// What is mended without a new part is looked for before one is bought, from this share of its component's faults on (common practice,
/// no source).
const WORTH_A_LOOK: f64 = 0.05;
/// From this share on nothing is bought before it is known which fault it is: a part would more probably be bought for nothing.
const MORE_THAN_NOT: f64 = 0.5;
/// Tests in a row after which a plan ends (common practice, no source).
const LONGEST: usize = 12;

/// What to do at a place in the plan.
#[derive(Debug, Clone, PartialEq)]
pub enum PlanStep {
    /// Do this test, then go on by its outcome.
    Test {
        /// The test.
        candidate: Candidate,
        /// What comes after each outcome that is planned for.
        branches: Vec<PlanBranch>,
    },
    /// Stop testing and repair.
    Repair {
        /// What to replace, in this order, the more probable ones only.
        order: Vec<Repair>,
        /// Probability of the first of them.
        probability: f64,
        /// What may be the matter with the first of them that is mended without a new part, the most probable first.
        without_part: Vec<FaultKind>,
        /// That is more probable than what wants a new part: which it is, is found out before one is bought.
        find_out_first: bool,
    },
}

/// An outcome and what to do then.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanBranch {
    /// What came out.
    pub outcome: Moves,
    /// Probability of it, once the test is reached.
    pub probability: f64,
    /// What to do then.
    pub step: PlanStep,
}

/// A plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Where it begins.
    pub step: PlanStep,
    /// Expected minutes of testing, over the cars as the priors have them.
    pub test_minutes: f64,
    /// Expected number of tests.
    pub tests: f64,
}

/// The plan from `evidence` on, with what was mended and what could not be tested.
#[must_use]
pub fn plan(system: &System, evidence: &[Evidence], begun: Done) -> Plan {
    let model = Model::new(system);
    let mut growing = Growing {
        model: &model,
        begun: evidence.len(),
        from: begun,
        evidence: evidence.to_vec(),
        test_minutes: 0.0,
        tests: 0.0,
    };
    let belief = Belief::new(&model, evidence, begun.mended);
    let step = growing.grow(&belief, 1.0);
    Plan {
        step,
        test_minutes: growing.test_minutes,
        tests: growing.tests,
    }
}

/// A plan that is being made.
struct Growing<'m> {
    model: &'m Model<'m>,
    /// What was done before.
    from: Done,
    /// Number of trials that were done before.
    begun: usize,
    /// What is known where the plan has come to.
    evidence: Vec<Evidence>,
    test_minutes: f64,
    tests: f64,
}

impl Growing<'_> {
    /// The plan from here on; `reached`: how many of the cars come here.
    fn grow(&mut self, belief: &Belief, reached: f64) -> PlanStep {
        let (model, done) = (self.model, self.evidence.len() - self.begun);
        let contradiction = contradiction_now(model, belief, &self.evidence, self.from.mended);
        let progress = Progress {
            evidence: &self.evidence,
            mended: self.from.mended,
            not_done: self.from.impossible,
            mended_since: self.from.mended_since,
            contradiction: contradiction.as_ref(),
        };
        let decision = decide(model, belief, progress);
        let candidate = match decision {
            Decision {
                next: Some(next),
                stop: false,
                ..
            } if done < LONGEST => next,
            decision => return repair_step(model, belief, &decision),
        };
        self.test_minutes += reached * candidate.minutes;
        self.tests += reached;
        let predicted = belief.predicted(model, candidate.test);
        let mut branches = Vec::new();
        for &outcome in outcomes(model.system.tests[candidate.test].source) {
            let probability = predicted[place(outcome)];
            if probability < UNPLANNED || reached * probability < RARE {
                continue;
            }
            let origin = Origin::Trial(self.evidence.len());
            let one = Evidence::written(model.system, candidate.test, outcome, origin).with_mended(self.from.mended);
            self.evidence.push(one);
            let after = Belief::new(model, &self.evidence, self.from.mended);
            let step = self.grow(&after, reached * probability);
            self.evidence.pop();
            branches.push(PlanBranch {
                outcome,
                probability,
                step,
            });
        }
        PlanStep::Test { candidate, branches }
    }
}

/// What to replace here: the first, and what else is worth naming.
fn repair_step(model: &Model<'_>, belief: &Belief, decision: &Decision) -> PlanStep {
    let (by_component, nothing) = belief.by_component(model.system.components.len());
    let probability = |repair: &Repair| match repair {
        Repair::Replace(component) => by_component[*component],
        Repair::LookAgain => nothing,
    };
    let repairs = decision.repairs(&by_component, nothing);
    let first = repairs.first().map_or(0.0, &probability);
    let worth_naming = |repair: &Repair| probability(repair) >= WORTH_NAMING.min(first);
    let (without_part, find_out_first) = match repairs.first() {
        Some(Repair::Replace(component)) => without_part(model, belief, *component),
        _ => (Vec::new(), false),
    };
    PlanStep::Repair {
        order: repairs.into_iter().filter(worth_naming).take(MOST_NAMED).collect(),
        probability: first,
        without_part,
        find_out_first,
    }
}

/// The kinds of fault of a component that may be the matter and are mended without a new part, the most probable first, and whether
/// together they are more probable than the others.
fn without_part(model: &Model<'_>, belief: &Belief, component: usize) -> (Vec<FaultKind>, bool) {
    let faults = &model.system.components[component].faults;
    let needs_no_part = |kind: FaultKind| faults.iter().any(|one| one.id == kind && one.mend_minutes.is_some());
    let mut known = belief.by_fault(model);
    known.retain(|one| one.0 == component);
    let all: f64 = known.iter().map(|one| one.2).sum();
    known.retain(|one| needs_no_part(one.1) && one.2 >= WORTH_A_LOOK * all);
    // A stable sort: of equals the one that the file lists first.
    known.sort_by(|a, b| b.2.total_cmp(&a.2));
    let spared: f64 = known.iter().map(|one| one.2).sum();
    (known.iter().map(|one| one.1).collect(), spared > MORE_THAN_NOT * all)
}
