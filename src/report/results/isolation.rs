//! The objects of `isolate --json`.

use crate::PROGRAM;
use crate::aim::COVERAGE_FACTOR_95;
use crate::isolate::{
    Candidate, Evidence, Explanation, Isolated, Observation, Origin, Plan, PlanStep, Repair, Unread, outcomes, place,
};
use crate::language::Language;
use crate::record::{FaultKind, Gauge, Moves, SCHEMA, Stage, System, TrialMoves};
use crate::report::text::round;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Suspects below this probability are not listed, unless they are the first.
const LEAST: f64 = 5e-5;

/// What isolation found. Probabilities are rounded to four places.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct IsolationResult {
    /// Version of this format.
    pub schema: u32,
    /// Name and version of the program.
    pub program: String,
    /// The system's name.
    pub system: String,
    /// Components with their faults, the most probable first.
    pub suspects: Vec<SuspectResult>,
    /// The best further test, also where testing can stop; null where no test can tell more.
    pub next: Option<NextResult>,
    /// Testing on costs more than it gains: repair.
    pub settled: bool,
    /// Components that the job says were mended, where no trial follows on that: all this is of the car before it.
    pub repaired_since: Vec<String>,
    /// Trials that cannot all be right; else null.
    pub contradiction: Option<ContradictionResult>,
    /// Each component's probability of being faulty by any fault, in the system's order, and where it stands.
    pub components: Vec<ComponentResult>,
    /// Probability that nothing is at fault.
    pub nothing_at_fault: f64,
    /// The best joint explanations.
    pub explanations: Vec<ExplanationResult>,
    /// Least sets of components that explain all trials, were none in error.
    pub minimal_diagnoses: Vec<Vec<String>>,
    /// What to replace, should one stop here.
    pub repair: RepairResult,
    /// What was counted.
    pub trials: Vec<TrialResult>,
    /// Trials whose photos gave no figure.
    pub unread: Vec<UnreadResult>,
    /// What one should know of system and trials.
    pub warnings: Vec<String>,
}

/// A component with a kind of fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SuspectResult {
    /// The component.
    pub component: String,
    /// The kind of fault.
    pub fault: FaultKind,
    /// Probability, 0 to 1, that the component has this fault, alone or with others.
    pub probability: f64,
    /// The other components that are faulty in the most probable explanation with this fault.
    pub with: Vec<String>,
}

/// A test to do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextResult {
    /// The test.
    pub test: String,
    /// What is to be done.
    pub ask: String,
    /// Time it takes, with what is to be set up yet, minutes.
    pub minutes: f64,
    /// What is to be set up yet, and then stays so.
    pub setup: Vec<String>,
    /// Expected information about which components are faulty, bits.
    pub expected_bits: f64,
    /// Expected minutes until the car is right, tests and repair, when it comes first; null where not worked out.
    pub expected_minutes: Option<f64>,
    /// The test with the most bits a minute, where looking ahead or a contradiction preferred this one; else null.
    pub instead_of: Option<String>,
    /// It has been done before and is to be repeated.
    pub repeat: bool,
}

/// Trials that cannot all be right.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ContradictionResult {
    /// Their tests; without any one of them the others can be right.
    pub trials: Vec<String>,
    /// Probability of each that it was in error.
    pub botched: Vec<f64>,
    /// The test to repeat.
    pub repeat: String,
}

/// A component and where it stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ComponentResult {
    /// The component.
    pub component: String,
    /// Probability of being faulty, 0 to 1.
    pub probability: f64,
    /// suspected, possible, cleared, not suspected.
    pub standing: String,
}

/// A joint explanation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ExplanationResult {
    /// The faults; empty: nothing is at fault.
    pub faults: Vec<FaultResult>,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// A component and its fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FaultResult {
    /// The component.
    pub component: String,
    /// The kind of fault.
    pub fault: FaultKind,
}

/// What to replace.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RepairResult {
    /// Components in this order, were no further test done, looking at the beams after each; "look-again" where nothing may be at fault. The
    /// next test comes before all of it until all is settled.
    pub order: Vec<String>,
    /// Expected minutes until the car is right.
    pub expected_minutes: f64,
}

/// A trial as it was counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrialResult {
    /// The test.
    pub test: String,
    /// trial, positions (of the control), or pump (photos under it).
    pub from: String,
    /// before, or after the repair.
    pub stage: Stage,
    /// What was written down, or partly where a measured travel is surely short; null for all else that was measured.
    pub seen: Option<TrialMoves>,
    /// What the pump's gauge did, as it was written down or typed with the photos; null where nothing is known of it.
    pub gauge: Option<Gauge>,
    /// Photographed with the pump's valve shut: whether vacuum holds, true, or leaks, false; else null.
    pub holds: Option<bool>,
    /// The outcome that fits best.
    pub outcome: Moves,
    /// How well each outcome fits, the best with 1.
    pub fits: BTreeMap<String, f64>,
    /// Measured travel, per cent, positive when the beam went down; null where the outcome was written down.
    pub travel_percent: Option<f64>,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: Option<f64>,
}

/// A trial whose photo gave no figure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct UnreadResult {
    /// The test.
    pub test: String,
    /// The photo.
    pub photo: String,
    /// Why, and how to mend it.
    pub message: String,
}

impl IsolationResult {
    /// The result, rounded for output.
    #[must_use]
    pub fn new(isolated: &Isolated) -> Self {
        let Isolated { system, trials, answer } = isolated;
        let name = |c: usize| system.components[c].id.clone();
        let names = |set: &[usize]| set.iter().map(|&c| name(c)).collect::<Vec<_>>();
        let next = |candidate: &Candidate| NextResult {
            test: system.tests[candidate.test].id.clone(),
            ask: system.tests[candidate.test].ask.within(Language::English).to_owned(),
            minutes: candidate.minutes,
            setup: isolated
                .still_to_set_up(candidate.test)
                .map(|setup| setup.id.clone())
                .collect(),
            expected_bits: round(candidate.expected_bits, 4),
            expected_minutes: candidate.expected_minutes.map(|m| round(m, 2)),
            instead_of: answer.decision.instead_of.map(|c| system.tests[c.test].id.clone()),
            repeat: isolated.is_repeat(candidate.test),
        };
        let trial = |one| TrialResult::new(system, one);
        let standings = isolated.standings();
        Self {
            schema: SCHEMA,
            program: PROGRAM.to_owned(),
            system: system.id.clone(),
            suspects: answer
                .suspects
                .iter()
                .enumerate()
                .filter(|(n, suspect)| *n == 0 || suspect.probability >= LEAST)
                .map(|(_, suspect)| SuspectResult {
                    component: name(suspect.component),
                    fault: suspect.fault,
                    probability: round(suspect.probability, 4),
                    with: names(&suspect.with),
                })
                .collect(),
            next: answer.decision.next.as_ref().map(next),
            settled: answer.decision.stop,
            repaired_since: (isolated.trials.repaired_since.iter())
                .map(|&c| isolated.system.components[c].id.clone())
                .collect(),
            contradiction: answer.contradiction.as_ref().map(|c| ContradictionResult {
                trials: c.trials.iter().map(|&t| test_of(system, &trials.evidence[t])).collect(),
                botched: c.erroneous.iter().map(|p| round(*p, 4)).collect(),
                repeat: test_of(system, &trials.evidence[c.repeat]),
            }),
            components: standings
                .iter()
                .enumerate()
                .map(|(c, standing)| ComponentResult {
                    component: name(c),
                    probability: round(answer.by_component[c], 4),
                    standing: standing.to_string(),
                })
                .collect(),
            nothing_at_fault: round(answer.nothing, 4),
            explanations: answer
                .explanations
                .iter()
                .map(|one| ExplanationResult::new(system, one))
                .collect(),
            minimal_diagnoses: answer.minimal_diagnoses.iter().map(|set| names(set)).collect(),
            repair: RepairResult {
                order: (answer.decision.repairs(&answer.by_component, answer.nothing))
                    .iter()
                    .map(|repair| repair_name(system, repair))
                    .collect(),
                expected_minutes: round(answer.decision.repair_minutes, 2),
            },
            trials: trials.evidence.iter().map(trial).collect(),
            unread: trials.unread.iter().map(UnreadResult::new).collect(),
            warnings: system
                .warnings
                .iter()
                .chain(&trials.warnings)
                .map(ToString::to_string)
                .collect(),
        }
    }
}

impl ExplanationResult {
    fn new(system: &System, one: &Explanation) -> Self {
        let fault = |&(c, fault): &(usize, FaultKind)| FaultResult {
            component: system.components[c].id.clone(),
            fault,
        };
        Self {
            faults: one.faults.iter().map(fault).collect(),
            probability: round(one.probability, 4),
        }
    }
}

impl UnreadResult {
    fn new(one: &Unread) -> Self {
        Self {
            test: one.test.clone(),
            photo: one.photo.display().to_string(),
            message: one.message.within(Language::English).to_owned(),
        }
    }
}

fn test_of(system: &System, one: &Evidence) -> String {
    system.tests[one.test].id.clone()
}

fn repair_name(system: &System, repair: &Repair) -> String {
    match repair {
        Repair::Replace(component) => system.components[*component].id.clone(),
        Repair::LookAgain => "look-again".to_owned(),
    }
}

impl TrialResult {
    fn new(system: &System, one: &Evidence) -> Self {
        let travel = match one.seen {
            Observation::Travel { percent, sd_percent } | Observation::Short { percent, sd_percent } => {
                Some((percent, COVERAGE_FACTOR_95 * sd_percent))
            }
            Observation::Written(_) | Observation::Sealed { .. } => None,
        };
        Self {
            test: test_of(system, one),
            from: match one.origin {
                Origin::Trial(_) => "trial",
                Origin::Positions => "positions",
                Origin::Pump => "pump",
            }
            .to_owned(),
            stage: if one.mended == 0 { Stage::Before } else { Stage::After },
            seen: match one.seen {
                Observation::Written(moves) => Some(moves),
                Observation::Short { .. } => Some(TrialMoves::Partly),
                Observation::Travel { .. } | Observation::Sealed { .. } => None,
            },
            gauge: one.gauge,
            holds: match one.seen {
                Observation::Sealed { holds } => Some(holds),
                _ => None,
            },
            outcome: one.outcome(),
            fits: outcomes(system.tests[one.test].source)
                .iter()
                .map(|outcome| (outcome.to_string(), round(one.fits[place(*outcome)], 6)))
                .collect(),
            travel_percent: travel.map(|t| round(t.0, 4)),
            u95_percent: travel.map(|t| round(t.1, 4)),
        }
    }
}

/// A plan as JSON.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlanResult {
    /// Version of this format.
    pub schema: u32,
    /// Name and version of the program.
    pub program: String,
    /// The system's name.
    pub system: String,
    /// Expected minutes of testing.
    pub expected_test_minutes: f64,
    /// Expected number of tests.
    pub expected_tests: f64,
    /// Where it begins.
    pub plan: StepResult,
}

/// A place in the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum StepResult {
    /// A test, and what comes after each outcome.
    Test {
        /// The test.
        test: String,
        /// Time it takes, minutes.
        minutes: f64,
        /// By outcome, what then.
        then: BTreeMap<String, StepResult>,
    },
    /// Stop and repair.
    Repair {
        /// Components in this order; "look-again" where nothing may be at fault.
        repair: Vec<String>,
        /// Probability of the first.
        probability: f64,
    },
}

impl PlanResult {
    /// The plan, rounded for output.
    #[must_use]
    pub fn new(system: &System, plan: &Plan) -> Self {
        Self {
            schema: SCHEMA,
            program: PROGRAM.to_owned(),
            system: system.id.clone(),
            expected_test_minutes: round(plan.test_minutes, 2),
            expected_tests: round(plan.tests, 2),
            plan: StepResult::new(system, &plan.step),
        }
    }
}

impl StepResult {
    fn new(system: &System, step: &PlanStep) -> Self {
        match step {
            PlanStep::Test { candidate, branches } => Self::Test {
                test: system.tests[candidate.test].id.clone(),
                minutes: candidate.minutes,
                then: branches
                    .iter()
                    .map(|branch| (branch.outcome.to_string(), Self::new(system, &branch.step)))
                    .collect(),
            },
            PlanStep::Repair { order, probability, .. } => Self::Repair {
                repair: order.iter().map(|repair| repair_name(system, repair)).collect(),
                probability: round(*probability, 4),
            },
        }
    }
}
