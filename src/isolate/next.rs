//! What to do next: the test with the most information a minute, looking ahead where that changes the answer, or to stop
//! and repair.
//!
//! Stopping is weighed as in decision-theoretic troubleshooting (D. Heckerman, J. S. Breese and K. Rommelse,
//! *Communications of the ACM* 38 (3), 1995, from memory): the expected minutes of repairing now, in the best order, with
//! a look at the beams after each part, against those of testing first.

use super::belief::{Belief, NONE};
use super::evidence::Evidence;
use super::model::{Model, outcomes, place};

// What looking ahead leaves out saves time; what it costs the cars in minutes, beside the optimum over all plans, is held in
// tests/isolate.rs. The limits themselves have no other source.
/// What is left out in looking ahead, of the whole probability.
const DROPPED: f64 = 4e-3;
/// Most combinations kept in looking ahead.
const MOST_KEPT: usize = 2000;
/// What comes to pass less often than this, seen from now, is not looked into further: there the cost of repairing stands.
const UNLIKELY: f64 = 5e-3;
/// A combination less probable than this after a further test is left out, too.
const NEGLIGIBLE: f64 = 2e-6;
/// Information below this, bits, is none: no test can tell more.
const NO_BITS: f64 = 1e-6;
/// Another test is preferred to the one with the most bits a minute only if it saves at least this much, minutes
/// (common practice, no source).
const WORTH_CHANGING_MINUTES: f64 = 0.25;

/// A test that could be done next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// The test, by number.
    pub test: usize,
    /// Time it takes, minutes.
    pub minutes: f64,
    /// Information that it is expected to give about which components are faulty, bits.
    pub expected_bits: f64,
    /// Expected minutes from now until the car is right when it comes first, testing and repairing together; `None`
    /// where it was not looked into.
    pub expected_minutes: Option<f64>,
}

/// One thing to do in a repair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Repair {
    /// Replace this component, by number, then look whether the beams follow.
    Replace(usize),
    /// Nothing is at fault: look once more whether the beams follow.
    LookAgain,
}

impl Decision {
    /// What to do in a repair, the first thing being what most probably is the matter: a quick look comes early in `order`
    /// for being quick, and is left out where something is more probably at fault than nothing.
    #[must_use]
    pub fn repairs(&self, by_component: &[f64], nothing: f64) -> Vec<Repair> {
        let mut repairs = self.order.clone();
        let first = repairs.iter().find_map(|repair| match repair {
            Repair::Replace(component) => Some(by_component[*component]),
            Repair::LookAgain => None,
        });
        if first.is_some_and(|probability| probability > nothing) {
            repairs.retain(|repair| *repair != Repair::LookAgain);
        }
        repairs
    }
}

/// What to do next and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// The test to do next, should one go on; `None` where no test can tell more.
    pub next: Option<Candidate>,
    /// The test with the most information a minute, where looking ahead preferred another.
    pub instead_of: Option<Candidate>,
    /// Testing on costs more than it gains: repair.
    pub stop: bool,
    /// Expected minutes of repairing now.
    pub repair_minutes: f64,
    /// What to replace, in this order, looking at the beams after each.
    pub order: Vec<Repair>,
}

/// How far to look ahead: tests in a row, and how many of the best at each step.
#[derive(Debug, Clone, Copy)]
struct Horizon {
    tests: usize,
    breadth: usize,
    /// Probability of coming to where one looks from.
    reached: f64,
}

impl Horizon {
    /// Deeper for small systems: what a look ahead costs grows with the number of tests at each step.
    fn of(model: &Model<'_>) -> Self {
        let (tests, breadth) = match model.tables.len() {
            ..=12 => (3, 5),
            13..=24 => (3, 4),
            _ => (2, 4),
        };
        Self {
            tests,
            breadth,
            reached: 1.0,
        }
    }

    /// How far to look once an outcome of this probability has come to pass.
    fn after(self, probability: f64) -> Self {
        let reached = self.reached * probability;
        Self {
            tests: if reached < UNLIKELY { 0 } else { self.tests - 1 },
            reached,
            ..self
        }
    }
}

/// Tests that are not worth doing once more: done twice with the same outcome, or three times. What is wrong so often is
/// no slip, which is all that the error rates speak of; else a car with more faults than are reckoned with would be tested
/// for ever.
fn worn_out(evidence: &[Evidence], test: usize) -> bool {
    let mut outcomes = evidence.iter().filter(|one| one.test == test).map(Evidence::outcome);
    match (outcomes.next(), outcomes.next()) {
        (Some(first), Some(second)) => first == second || outcomes.next().is_some(),
        _ => false,
    }
}

/// Decides what to do next. `evidence`: what the belief is built on.
pub(super) fn decide(model: &Model<'_>, belief: &Belief, evidence: &[Evidence]) -> Decision {
    let mut candidates = by_bits_a_minute(model, belief);
    candidates.retain(|candidate| !worn_out(evidence, candidate.test));
    let horizon = Horizon::of(model);
    let pruned = belief.pruned(DROPPED, MOST_KEPT);
    let (repair_minutes, order) = repair(model, belief);
    let mut looked_into: Vec<Candidate> = candidates.into_iter().take(horizon.breadth).collect();
    let mut least = f64::INFINITY;
    for candidate in &mut looked_into {
        let minutes = minutes_with(model, &pruned, candidate, horizon, least);
        candidate.expected_minutes = minutes.is_finite().then_some(minutes);
        least = least.min(minutes);
    }
    let total = |c: &Candidate| c.expected_minutes.unwrap_or(f64::INFINITY);
    let first = looked_into.first().copied();
    let cheapest = looked_into
        .iter()
        .copied()
        .reduce(|best, c| if total(&c) < total(&best) { c } else { best });
    let next = match (first, cheapest) {
        (Some(first), Some(cheapest)) if total(&first) > total(&cheapest) + WORTH_CHANGING_MINUTES => Some(cheapest),
        (first, _) => first,
    };
    // Held against what the pruned belief gives, so that both sides of the comparison leave out the same.
    let stop = next.is_none_or(|next| repair(model, &pruned).0 <= total(&next));
    Decision {
        next,
        instead_of: first.filter(|first| next.is_some_and(|next| next.test != first.test)),
        stop,
        repair_minutes,
        order,
    }
}

/// The tests that can tell something, the one with the most information a minute first.
fn by_bits_a_minute(model: &Model<'_>, belief: &Belief) -> Vec<Candidate> {
    let bits = belief.expected_bits(model);
    let mut candidates: Vec<Candidate> = bits
        .into_iter()
        .enumerate()
        .filter(|(_, bits)| *bits > NO_BITS)
        .map(|(test, expected_bits)| Candidate {
            test,
            minutes: model.system.tests[test].minutes,
            expected_bits,
            expected_minutes: None,
        })
        .collect();
    // A stable sort: of equals the one that the file lists first.
    candidates.sort_by(|a, b| (b.expected_bits / b.minutes).total_cmp(&(a.expected_bits / a.minutes)));
    candidates
}

/// Expected minutes until the car is right, when `candidate` is done first; infinite where that is not below `limit`.
fn minutes_with(model: &Model<'_>, belief: &Belief, candidate: &Candidate, horizon: Horizon, limit: f64) -> f64 {
    let mut minutes = candidate.minutes;
    // No plan beats knowing each car's faults; what of that is still to come bounds the sum from below.
    let mut left = least_possible_minutes(belief);
    if minutes + left >= limit {
        return f64::INFINITY;
    }
    let predicted = belief.predicted(model, candidate.test);
    for &outcome in outcomes(model.system.tests[candidate.test].source) {
        let probability = predicted[place(outcome)];
        if probability <= 0.0 {
            continue;
        }
        let next = belief.updated(model, candidate.test, place(outcome), NEGLIGIBLE);
        let deeper = horizon.after(probability);
        left = (left - probability * least_possible_minutes(&next)).max(0.0);
        let room = (limit - minutes - left) / probability;
        minutes += probability * least_minutes(model, &next, deeper, room);
        if minutes + left >= limit {
            return f64::INFINITY;
        }
    }
    minutes
}

/// Expected minutes until the car is right, when the best is done from here on, as far as `horizon` goes. What is not
/// below `limit` need not be exact.
fn least_minutes(model: &Model<'_>, belief: &Belief, horizon: Horizon, limit: f64) -> f64 {
    let mut best = repair(model, belief).0;
    if horizon.tests == 0 {
        return best;
    }
    for candidate in by_bits_a_minute(model, belief).iter().take(horizon.breadth) {
        best = best.min(minutes_with(model, belief, candidate, horizon, best.min(limit)));
    }
    best
}

/// Expected minutes of replacing what is faulty and nothing else, a look at the beams after each.
fn least_possible_minutes(belief: &Belief) -> f64 {
    belief
        .hypotheses
        .iter()
        .map(|h| h.probability * h.mending_minutes)
        .sum()
}

/// Expected minutes of replacing parts one after the other until the car is right, looking at the beams after each; and
/// the order: the most probability for its cost first, which for a single fault is the best one. A part replaced for
/// nothing costs its price, too.
pub(super) fn repair(model: &Model<'_>, belief: &Belief) -> (f64, Vec<Repair>) {
    let costs = RepairCosts { model };
    let components = model.system.components.len();
    let probability = mending_probabilities(belief, components);
    let worth: Vec<f64> = (0..=components)
        .map(|item| {
            let expected = costs.work(item) + costs.price(item) * (1.0 - probability[item]);
            probability[item] / expected.max(1e-9)
        })
        .collect();
    let mut order: Vec<usize> = (0..=components).collect();
    order.sort_by(|a, b| worth[*b].total_cmp(&worth[*a]));
    let minutes = costs.expected_minutes(belief, &order);
    let order = order.into_iter().filter(|&item| probability[item] > 0.0);
    let repair = |item| {
        if item < components {
            Repair::Replace(item)
        } else {
            Repair::LookAgain
        }
    };
    (minutes, order.map(repair).collect())
}

/// For each component the probability that it is to be mended, and last that nothing is.
fn mending_probabilities(belief: &Belief, components: usize) -> Vec<f64> {
    let mut probability = vec![0.0; components + 1];
    for h in &belief.hypotheses {
        for &component in h.to_mend.iter().take_while(|c| **c != NONE) {
            probability[usize::from(component)] += h.probability;
        }
        if h.to_mend[0] == NONE {
            probability[components] += h.probability;
        }
    }
    probability
}

/// What the items of a repair cost: the components by number, and last another look.
struct RepairCosts<'m> {
    model: &'m Model<'m>,
}

impl RepairCosts<'_> {
    /// Minutes of work, with a look at the beams.
    fn work(&self, item: usize) -> f64 {
        let system = self.model.system;
        match system.components.get(item) {
            Some(component) => component.replace_minutes + system.costs.check_minutes,
            None => system.costs.check_minutes,
        }
    }

    /// Minutes of work that the price of a part replaced for nothing is worth.
    fn price(&self, item: usize) -> f64 {
        if item < self.model.system.components.len() {
            self.model.system.costs.wrong_part_minutes
        } else {
            0.0
        }
    }

    /// Expected minutes of going through the items in this order until the car is right.
    fn expected_minutes(&self, belief: &Belief, order: &[usize]) -> f64 {
        let components = self.model.system.components.len();
        // What has been spent, every part for nothing, when an item is done.
        let mut spent = vec![0.0; components + 1];
        let mut at = vec![0; components + 1];
        let mut sum = 0.0;
        for (n, &item) in order.iter().enumerate() {
            sum += self.work(item) + self.price(item);
            spent[item] = sum;
            at[item] = n;
        }
        let mut minutes = 0.0;
        for h in &belief.hypotheses {
            let mut last = components;
            let mut faulty = 0;
            for &component in h.to_mend.iter().take_while(|c| **c != NONE) {
                let component = usize::from(component);
                if faulty == 0 || at[component] > at[last] {
                    last = component;
                }
                faulty += 1;
            }
            minutes += h.probability * (spent[last] - f64::from(faulty) * self.model.system.costs.wrong_part_minutes);
        }
        minutes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::isolate::Origin;
    use crate::record::{Moves, System};
    use std::path::Path;

    /// The slow, obvious reference for [`minutes_with`]: every test looked into to the end, no bounds.
    fn plainly(model: &Model<'_>, belief: &Belief, candidate: &Candidate, horizon: Horizon) -> f64 {
        let mut minutes = candidate.minutes;
        for &outcome in outcomes(model.system.tests[candidate.test].source) {
            let probability = belief.predicted(model, candidate.test)[place(outcome)];
            let next = belief.updated(model, candidate.test, place(outcome), NEGLIGIBLE);
            let deeper = horizon.after(probability);
            let stopping = repair(model, &next).0;
            let best = if deeper.tests == 0 {
                stopping
            } else {
                by_bits_a_minute(model, &next)
                    .iter()
                    .take(horizon.breadth)
                    .map(|further| plainly(model, &next, further, deeper))
                    .fold(stopping, f64::min)
            };
            minutes += probability * best;
        }
        minutes
    }

    #[test]
    fn bounds_change_nothing_in_looking_ahead() {
        for name in ["vacuum-cabin-control", "vacuum-bonnet-control"] {
            let system = System::find(name, Path::new(".")).unwrap();
            let model = Model::new(&system);
            let trials = [
                ("operate-left", Moves::No),
                ("operate-right", Moves::No),
                ("bridge-left-at-control", Moves::Yes),
                ("pump-at-right-line", Moves::CreepsBack),
            ];
            for known in 0..=trials.len() {
                let evidence: Vec<Evidence> = trials[..known]
                    .iter()
                    .map(|(id, moves)| Evidence::written(&system, system.test(id).unwrap(), *moves, Origin::Trial(0)))
                    .collect();
                let belief = Belief::new(&model, &evidence).pruned(DROPPED, MOST_KEPT);
                let horizon = Horizon {
                    tests: 2,
                    breadth: 4,
                    reached: 1.0,
                };
                let mut least = f64::INFINITY;
                for candidate in by_bits_a_minute(&model, &belief).iter().take(4) {
                    let minutes = minutes_with(&model, &belief, candidate, horizon, least);
                    let slow = plainly(&model, &belief, candidate, horizon);
                    if minutes.is_finite() {
                        assert!(
                            (minutes - slow).abs() < 1e-6 * slow,
                            "{name} {candidate:?}: {minutes} and {slow}"
                        );
                    } else {
                        assert!(slow >= least - 1e-3, "{name} {candidate:?}: {slow} is below {least}");
                    }
                    least = least.min(minutes);
                }
            }
        }
    }

    #[test]
    fn a_test_done_twice_alike_or_three_times_is_not_asked_for_again() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let done = |outcomes: &[Moves]| {
            let all: Vec<Evidence> = outcomes
                .iter()
                .map(|moves| Evidence::written(&system, 3, *moves, Origin::Trial(0)))
                .collect();
            worn_out(&all, 3)
        };
        assert!(!done(&[]) && !done(&[Moves::No]) && !done(&[Moves::No, Moves::Yes]));
        assert!(done(&[Moves::No, Moves::No]) && done(&[Moves::No, Moves::Yes, Moves::No]));
    }

    #[test]
    fn the_cheaper_of_two_alike_suspects_is_replaced_first() {
        let text = |minutes: u32| {
            format!(
                "schema = 1\nname = \"n\"\nvacuum_raises = true\n[[component]]\nid = \"a\"\nlabel = \"a\"\nfaults = [{{ id = \
                 \"leaks\", prior = 0.1 }}]\nreplace_minutes = 30\n[[component]]\nid = \"b\"\nlabel = \"b\"\nfaults = [{{ id = \
                 \"leaks\", prior = 0.1 }}]\nreplace_minutes = {minutes}\n[[test]]\nid = \"t\"\nask = \"t\"\nneeds = [\"a\", \
                 \"b\"]\nsource = \"pump\"\nminutes = 2\n"
            )
        };
        for (minutes, first) in [(29, 1), (31, 0)] {
            let system = System::parse("n", Path::new("n.toml"), &text(minutes)).unwrap();
            let model = Model::new(&system);
            let evidence = [Evidence::written(&system, 0, Moves::No, Origin::Trial(0))];
            let (_, order) = repair(&model, &Belief::new(&model, &evidence));
            let replaced = order.iter().find(|repair| **repair != Repair::LookAgain);
            assert_eq!(replaced, Some(&Repair::Replace(first)));
        }
    }
}
