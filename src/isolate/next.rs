//! What to do next: the test or the repair with which the car is expected to work again soonest.
//!
//! Weighed as in decision-theoretic troubleshooting (D. Heckerman, J. S. Breese and K. Rommelse, *Communications of the ACM*
//! 38 (3), 1995, from memory): a repair with a look at the beams after it is an action among the tests, for the look tells, too.
//! A few actions are looked ahead; where that ends stands an estimate of what is still to come.

use super::belief::{Belief, Hypothesis, NONE, entropy_bits};
use super::conflict::{Contradiction, error_probability as doubt};
use super::evidence::Evidence;
use super::model::{Model, outcomes, place};
use crate::record::{FaultKind, Moves};

// What looking ahead leaves out saves time; what it comes to in minutes until the car works is held against a mechanic's
// half-split in tests/rooms/isolate/. The limits themselves have no other source.
/// What is left out in looking ahead, of the whole probability.
const DROPPED: f64 = 4e-3;
/// Most combinations kept in looking ahead.
const MOST_KEPT: usize = 600;
/// What comes to pass less often than this, seen from now, is not looked into further: there the estimate stands.
const UNLIKELY: f64 = 0.02;
/// A combination less probable than this after a further test is left out, too.
const NEGLIGIBLE: f64 = 1e-5;
/// Information below this, bits, is none: no test can tell more.
const NO_BITS: f64 = 1e-4;
/// Tests looked into at the first step, and at each further one; and repairs.
const BREADTH: (usize, usize) = (5, 3);
const REPAIRS: usize = 3;
/// Actions in a row that are looked ahead, and so many in a system of more tests than [`MANY_TESTS`]: what it costs grows with them.
const AHEAD: (usize, usize) = (3, 2);
const MANY_TESTS: usize = 40;
/// What it takes to tell one bit where looking ahead ends, beside the minutes of a usual test with what it has set up: much of that
/// is set up by then. Chosen by made workshops.
const TESTS_A_BIT: f64 = 1.0;
/// A part is not bought while it is less probably at fault than this and an open test tells it from what else it may be: a wrong part is
/// dearer than minutes (common practice, no source).
const SURE_ENOUGH: f64 = 0.75;
/// From this on a test tells a part from what else it may be: bits, and share of what is not known of the part (common practice, no
/// source).
const TELLS: (f64, f64) = (0.05, 0.15);
/// From this probability of being erroneous on a trial gainsays the others, so that doing it once more settles something: it is more
/// probably wrong than right.
const DOUBTFUL: f64 = 0.5;

/// A test that could be done next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// The test, by number.
    pub test: usize,
    /// Time it takes, with what is not set up for it yet, minutes.
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
    /// Mend or replace this component, by number, then look whether the beams follow.
    Replace(usize),
    /// Nothing is at fault: look once more whether the beams follow.
    LookAgain,
}

/// What to do next and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// The test to do next, should one go on; `None` where no test can tell more.
    pub next: Option<Candidate>,
    /// The test with the most information a minute, where looking ahead preferred another.
    pub instead_of: Option<Candidate>,
    /// The component, by number, that would be bought now were the next test not to tell it from what else it may be.
    pub before_part: Option<usize>,
    /// Testing on costs more than it gains: repair.
    pub stop: bool,
    /// Expected minutes of repairing from now on, without another test.
    pub repair_minutes: f64,
    /// What to replace, in this order, were no further test done, looking at the beams after each.
    pub order: Vec<Repair>,
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

/// How far a job has come.
#[derive(Debug, Clone, Copy)]
pub(super) struct Progress<'e> {
    /// The trials.
    pub evidence: &'e [Evidence],
    /// The components that were replaced or mended, a bit each.
    pub mended: u128,
    /// Tests that cannot be done, a bit each.
    pub not_done: u128,
    /// Components that were mended since all this was found, a bit each.
    pub mended_since: u128,
    /// Trials that cannot all be right.
    pub contradiction: Option<&'e Contradiction>,
}

impl Progress<'_> {
    /// Whether a trial tells of the car as it is now: nothing that its test needs was mended since.
    fn still_tells(&self, model: &Model<'_>, one: &Evidence) -> bool {
        one.still_tells(model.system, self.mended)
    }

    /// Whether what was written of a test is to be seen once more by itself: its gauge says something else than its beam.
    fn asks_again(&self, one: &Evidence) -> bool {
        one.leaks_unseen() || one.gauge_gainsays()
    }

    /// A test of which beam and gauge cannot both be as they are written, and that was not done once more.
    fn impossible(&self, model: &Model<'_>) -> Option<usize> {
        let now = |one: &&Evidence| self.still_tells(model, one);
        let once = |test: usize| self.evidence.iter().filter(now).filter(|one| one.test == test).count() == 1;
        let mut all = self.evidence.iter().filter(now);
        all.find(|one| one.gauge_gainsays() && once(one.test))
            .map(|one| one.test)
    }

    /// Tests that were done on the car as it is now, a bit each.
    fn still_told(&self, model: &Model<'_>) -> u128 {
        let told = self.evidence.iter().filter(|one| self.still_tells(model, one));
        told.fold(0, |told, one| told | 1 << one.test)
    }

    /// Tests that are not to be done now, a bit each: done already, or impossible. One that a contradiction leaves in doubt may be
    /// done once more.
    fn closed(&self, model: &Model<'_>, belief: &Belief) -> u128 {
        let mut closed = self.not_done | self.still_told(model);
        for (n, one) in self.evidence.iter().enumerate() {
            // What was found of a part that is no longer there is no first time.
            let now = |other: &&Evidence| other.test == one.test && self.still_tells(model, other);
            let once = self.evidence.iter().filter(now).count() == 1;
            let gainsaid = self
                .contradiction
                .is_some_and(|contradiction| contradiction.repeat == n);
            if once
                && self.still_tells(model, one)
                && (gainsaid || self.asks_again(one) || doubt(model, belief, one) >= DOUBTFUL)
            {
                closed &= !(1 << one.test);
            }
        }
        closed | self.not_done
    }

    /// A test that failed and tells of the car as it is, of which nothing later says the contrary, and which is no look at a beam.
    fn unsettled(&self, model: &Model<'_>) -> Option<usize> {
        let fails = |n: &usize| {
            let one = &self.evidence[*n];
            let passed =
                |later: &Evidence| later.test == one.test && later.outcome() == Moves::Yes && !later.leaks_unseen();
            let is_look = model.system.tests[one.test].by_positions;
            !is_look
                && (!one.allows(Moves::Yes) || one.leaks_unseen())
                && self.still_tells(model, one)
                && !self.evidence[n + 1..].iter().any(passed)
        };
        (0..self.evidence.len()).find(fails).map(|n| self.evidence[n].test)
    }

    /// A test that failed before a repair of what it needs, and was not done since, of which the looks at the beams tell nothing, for they
    /// were as they should be then: what the repair was for shows in that test alone.
    fn unproven(&self, model: &Model<'_>) -> Option<usize> {
        let tests = &model.system.tests;
        let of_lamp =
            |look: &Evidence, test: usize| tests[test].lamp.is_none() || tests[look.test].lamp == tests[test].lamp;
        let felt = |n: usize| {
            let looks = self.evidence.iter().filter(|one| tests[one.test].by_positions);
            let mut before = looks.filter(|one| one.mended == self.evidence[n].mended);
            before.any(|one| of_lamp(one, self.evidence[n].test) && !one.allows(Moves::Yes))
        };
        let fails = |n: &usize| {
            let one = &self.evidence[*n];
            let done_since = |later: &Evidence| later.test == one.test && self.still_tells(model, later);
            !tests[one.test].by_positions
                && tests[one.test].shows.is_empty()
                && self.not_done >> one.test & 1 == 0
                && !one.allows(Moves::Yes)
                && !self.still_tells(model, one)
                && self.mended_since == 0
                && !self.evidence.iter().any(done_since)
                && !felt(*n)
        };
        (0..self.evidence.len()).find(fails).map(|n| self.evidence[n].test)
    }

    /// The look at a beam that is still to be had: both beams come before all else.
    fn look(&self, model: &Model<'_>) -> Option<usize> {
        let had = |test: usize| {
            self.evidence
                .iter()
                .any(|one| one.test == test && one.mended_since(self.mended) == 0)
        };
        model.looks().find(|&test| !had(test) && self.not_done >> test & 1 == 0)
    }
}

/// Decides what to do next. `belief`: what follows from the evidence of `progress`.
pub(super) fn decide(model: &Model<'_>, belief: &Belief, progress: Progress<'_>) -> Decision {
    let made = model.made(progress.evidence);
    let closed = progress.closed(model, belief);
    let by_kind = &belief.pruned(DROPPED, 2 * MOST_KEPT);
    let pruned = belief.of_outcomes(model).pruned(DROPPED, MOST_KEPT);
    let outlook = Outlook {
        model,
        bit_minutes: bit_minutes(model),
    };
    let (repair_minutes, mut order) = outlook.repair(&pruned, made);
    if progress.unsettled(model).is_some() {
        // What failed may be what no look at a beam shows: a part goes by all that may be wrong with it, not only by what a beam feels.
        let (mut by_component, nothing) = belief.by_component(model.system.components.len());
        by_component.push(nothing);
        order = outlook.in_order(&by_component, made).0;
    }
    let at = Place {
        made,
        closed,
        done: progress.still_told(model) | progress.not_done,
        renewed: progress.mended,
        ahead: if model.tables.len() > MANY_TESTS {
            AHEAD.1
        } else {
            AHEAD.0
        },
        reached: 1.0,
    };
    if let Some(test) = progress.look(model).or_else(|| progress.impossible(model)) {
        return Decision {
            next: Some(Candidate {
                expected_minutes: None,
                ..outlook.candidate(belief, test, made)
            }),
            instead_of: None,
            before_part: None,
            stop: false,
            repair_minutes,
            order,
        };
    }
    let mut candidates = outlook.by_bits_a_minute(&pruned, at);
    let first = candidates.first().copied();
    outlook.nearest_first(&pruned, &mut candidates, at);
    candidates.truncate(BREADTH.0);
    for candidate in &mut candidates {
        candidate.expected_minutes = Some(outlook.minutes_with(&pruned, candidate.test, at));
    }
    let total = |c: &Candidate| c.expected_minutes.unwrap_or(f64::INFINITY);
    let next = candidates.iter().copied().min_by(|a, b| total(a).total_cmp(&total(b)));
    let repairs = outlook.repairs_worth_a_look(&pruned, at);
    let cheapest = repairs
        .into_iter()
        .map(|repair| (repair, outlook.minutes_of_repair(&pruned, repair, at)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let stop = match (&next, &cheapest) {
        (None, _) => true,
        (Some(next), Some((_, minutes))) => *minutes < total(next),
        (Some(_), None) => false,
    };
    let mut first_repair = cheapest.map(|(repair, _)| repair);
    let mut before_part = None;
    let (mut next, mut stop) = (next, stop);
    if let (true, Some(Repair::LookAgain), Some(failed)) = (stop, first_repair, progress.unsettled(model)) {
        // Never "nothing" beside a test that failed: done once more it is settled, or else its part stands.
        // It may be none that a beam tells of: a slow leak is the first suspect, whatever the engine outdoes.
        let (by_component, nothing) = belief.by_component(model.system.components.len());
        let part = (0..by_component.len()).max_by(|a, b| by_component[*a].total_cmp(&by_component[*b]));
        if closed >> failed & 1 == 0 {
            next = Some(outlook.candidate(&pruned, failed, made));
            stop = false;
        } else if let Some(part) = part {
            if let Some(test) = outlook.telling(by_kind, part, at) {
                next = Some(outlook.candidate(&pruned, test, made));
                before_part = Some(part);
                stop = false;
            } else if by_component[part] > nothing {
                first_repair = Some(Repair::Replace(part));
            }
        }
    }
    if let (true, Some(Repair::LookAgain), Some(unproven)) = (stop, first_repair, progress.unproven(model)) {
        next = Some(outlook.candidate(&pruned, unproven, made));
        stop = false;
    }
    if let (true, Some(Repair::LookAgain), Some(proof)) = (stop, first_repair, outlook.proof_wanted(&pruned, at)) {
        // A look had already is not had again for being quick, while a part is more probably at fault than nothing.
        next = Some(outlook.candidate(&pruned, proof, made));
        stop = false;
    }
    if let (true, Some(Repair::Replace(c))) = (stop, first_repair)
        && progress.mended_since >> c & 1 == 0
        && let Some(test) = outlook.telling(by_kind, c, at)
    {
        let known = candidates.iter().copied().find(|one| one.test == test);
        next = Some(known.unwrap_or_else(|| outlook.candidate(&pruned, test, made)));
        before_part = Some(c);
        stop = false;
    }
    if let (true, Some(Repair::Replace(c))) = (stop, first_repair)
        && progress.mended_since >> c & 1 == 0
        && let Some(look) = outlook.look_before_a_part(by_kind, c, at)
    {
        next = Some(outlook.candidate(&pruned, look, made));
        stop = false;
    }
    if stop && next.is_none_or(|next| belief.bits_of(model, next.test) < TELLS.0) {
        // "No further test can tell more" is only said where none can.
        let bits = |one: &Candidate| one.expected_bits;
        next = outlook
            .by_bits_a_minute(by_kind, at)
            .into_iter()
            .max_by(|a, b| bits(a).total_cmp(&bits(b)))
            .or(next);
    }
    if let (true, Some(repair)) = (stop, first_repair) {
        order.retain(|one| *one != repair);
        order.insert(0, repair);
    }
    // What is shown is of the whole belief; what was compared, of the probable part of it.
    let next = next.map(|next| Candidate {
        expected_bits: belief.bits_of(model, next.test),
        ..next
    });
    let instead_of = first.and_then(|first| candidates.iter().copied().find(|c| c.test == first.test));
    Decision {
        next,
        instead_of: instead_of.filter(|first| next.is_some_and(|next| next.test != first.test)),
        before_part,
        stop,
        repair_minutes,
        order,
    }
}

/// Minutes that it takes to tell one bit, as the system's tests go.
fn bit_minutes(model: &Model<'_>) -> f64 {
    let mut minutes: Vec<f64> = (0..model.tables.len()).map(|t| model.test_minutes(t, 0)).collect();
    minutes.sort_by(f64::total_cmp);
    TESTS_A_BIT * minutes.get(minutes.len() / 2).copied().unwrap_or(0.0)
}

/// A place in looking ahead.
#[derive(Debug, Clone, Copy)]
struct Place {
    /// What is set up, a bit each.
    made: u32,
    /// Tests that are not to be done, a bit each.
    closed: u128,
    /// Tests that were done, or cannot be done, a bit each.
    done: u128,
    /// Components that were replaced or mended, a bit each.
    renewed: u128,
    /// Actions that may still be looked ahead.
    ahead: usize,
    /// Probability of coming here.
    reached: f64,
}

impl Place {
    /// Once something of this probability has come to pass.
    fn after(self, probability: f64) -> Self {
        let reached = self.reached * probability;
        Self {
            ahead: if reached < UNLIKELY { 0 } else { self.ahead - 1 },
            reached,
            ..self
        }
    }
}

/// What is to come, in minutes.
struct Outlook<'m> {
    model: &'m Model<'m>,
    bit_minutes: f64,
}

impl Outlook<'_> {
    fn candidate(&self, belief: &Belief, test: usize, made: u32) -> Candidate {
        Candidate {
            test,
            minutes: self.model.test_minutes(test, made),
            expected_bits: belief.bits_of(self.model, test),
            expected_minutes: None,
        }
    }

    /// The open tests that can tell something, the one with the most information a minute first.
    fn by_bits_a_minute(&self, belief: &Belief, at: Place) -> Vec<Candidate> {
        let mut candidates: Vec<Candidate> = (0..self.model.tables.len())
            .filter(|test| at.closed >> test & 1 == 0)
            .map(|test| self.candidate(belief, test, at.made))
            .filter(|candidate| candidate.expected_bits > NO_BITS)
            .collect();
        // A stable sort: of equals the one that the file lists first.
        candidates.sort_by(|a, b| (b.expected_bits / b.minutes).total_cmp(&(a.expected_bits / a.minutes)));
        candidates
    }

    /// Puts the tests first with which the car is nearest to working, one step ahead.
    fn nearest_first(&self, belief: &Belief, candidates: &mut [Candidate], at: Place) {
        let one_step = Place { ahead: 1, ..at };
        for candidate in candidates.iter_mut() {
            candidate.expected_minutes = Some(self.minutes_with(belief, candidate.test, one_step));
        }
        candidates.sort_by(|a, b| {
            a.expected_minutes
                .partial_cmp(&b.expected_minutes)
                .unwrap_or(std::cmp::Ordering::Equal)
        });
        candidates
            .iter_mut()
            .for_each(|candidate| candidate.expected_minutes = None);
    }

    /// Expected minutes until the car works, when `test` is done first.
    fn minutes_with(&self, belief: &Belief, test: usize, at: Place) -> f64 {
        let model = self.model;
        let mut minutes = model.test_minutes(test, at.made);
        let predicted = belief.predicted(model, test);
        for &outcome in outcomes(model.system.tests[test].source) {
            let probability = predicted[place(outcome)];
            if probability <= 1e-9 {
                continue;
            }
            let next = belief.updated(model, test, place(outcome), NEGLIGIBLE);
            let then = Place {
                made: at.made | model.test_setup[test],
                closed: at.closed | 1 << test,
                done: at.done | 1 << test,
                ..at.after(probability)
            };
            minutes += probability * self.least_minutes(&next, then);
        }
        minutes
    }

    /// Expected minutes until the car works, when this repair comes first, with a look at the beams after it.
    fn minutes_of_repair(&self, belief: &Belief, repair: Repair, at: Place) -> f64 {
        let (model, costs) = (self.model, &self.model.system.costs);
        let (component, mut made) = match repair {
            Repair::Replace(c) => (Some(c as u8), at.made),
            Repair::LookAgain => (None, at.made),
        };
        let mut minutes = costs.check_minutes;
        if let Repair::Replace(c) = repair {
            minutes += model.setup_minutes(model.component_setup[c], made);
            made |= model.component_setup[c];
            minutes += belief
                .hypotheses
                .iter()
                .map(|h| h.probability * self.repair_cost(h, c))
                .sum::<f64>();
        }
        let (left, probability) = belief.still_failing(model, component);
        if probability > 1e-6 {
            let then = Place {
                made,
                ..at.after(probability)
            };
            minutes += probability * self.least_minutes(&left, then);
        }
        minutes
    }

    /// Minutes of mending or replacing a component in a car, with the price of a part fitted for nothing.
    fn repair_cost(&self, h: &Hypothesis, c: usize) -> f64 {
        match h.faults(self.model).find(|mode| usize::from(mode.component) == c) {
            Some(mode) => mode.mend_minutes,
            None => self.model.system.components[c].replace_minutes + self.model.system.costs.wrong_part_minutes,
        }
    }

    /// Expected minutes until the car works, when the best is done from here on.
    fn least_minutes(&self, belief: &Belief, at: Place) -> f64 {
        if at.ahead == 0 {
            return self.estimate(belief, at);
        }
        let tests = self.by_bits_a_minute(belief, at);
        let with = tests
            .iter()
            .take(BREADTH.1)
            .map(|test| self.minutes_with(belief, test.test, at));
        let repairs = self.repairs_worth_a_look(belief, at).into_iter();
        let mended = repairs.map(|repair| self.minutes_of_repair(belief, repair, at));
        let best = with.chain(mended).fold(f64::INFINITY, f64::min);
        if best.is_finite() {
            best
        } else {
            self.estimate(belief, at)
        }
    }

    /// The repairs that may come first: the most probability for their minutes; one that wants proof only once it has it.
    fn repairs_worth_a_look(&self, belief: &Belief, at: Place) -> Vec<Repair> {
        let system = self.model.system;
        let (felt, works) = self.felt(belief);
        let is_done = |t: usize| at.done >> t & 1 == 1;
        // Who has just fitted a part does not fit another because of a beam alone: the new one is tested first.
        let is_tested = |c: usize| {
            let tests = system.tests.iter().enumerate();
            let mut own = tests.filter(|(_, test)| !test.by_positions && test.needs.contains(&c));
            own.any(|(t, _)| is_done(t))
        };
        let proven = |c: usize| {
            let proofs = &system.components[c].proven_by;
            let is_renewed = at.renewed >> c & 1 == 1;
            (proofs.is_empty() || proofs.iter().any(|t| is_done(*t))) && (!is_renewed || is_tested(c))
        };
        let cost = |c: usize| {
            let setup = self.model.setup_minutes(self.model.component_setup[c], at.made);
            system.components[c].replace_minutes + setup + system.costs.wrong_part_minutes * (1.0 - felt[c])
        };
        let mut repairs: Vec<(Repair, f64)> = (0..felt.len())
            .filter(|&c| felt[c] > 0.01 && proven(c))
            .map(|c| (Repair::Replace(c), felt[c] / cost(c).max(1e-9)))
            .collect();
        repairs.sort_by(|a, b| b.1.total_cmp(&a.1));
        repairs.truncate(REPAIRS);
        let mut repairs: Vec<Repair> = repairs.into_iter().map(|(repair, _)| repair).collect();
        if works > 0.01 {
            repairs.push(Repair::LookAgain);
        }
        repairs
    }

    /// For each component the probability that a beam does not follow because of it, and that both follow.
    fn felt(&self, belief: &Belief) -> (Vec<f64>, f64) {
        let mut felt = vec![0.0; self.model.system.components.len()];
        let mut works = 0.0;
        for h in &belief.hypotheses {
            let mut any = false;
            for mode in h.faults(self.model).filter(|mode| mode.is_felt) {
                felt[usize::from(mode.component)] += h.probability;
                any = true;
            }
            if !any {
                works += h.probability;
            }
        }
        (felt, works)
    }

    /// The open test that the component wants before it is replaced which is most probably why a beam does not follow, where that is
    /// more probable than that nothing is at fault.
    fn proof_wanted(&self, belief: &Belief, at: Place) -> Option<usize> {
        let (felt, works) = self.felt(belief);
        let (component, probability) = felt.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
        let proof = self.open_proof(component, at)?;
        (*probability > works).then_some(proof.0)
    }

    /// The quickest open test that a component still wants before it is replaced, and its minutes, its own set-up made.
    fn open_proof(&self, c: usize, at: Place) -> Option<(usize, f64)> {
        let proofs = &self.model.system.components[c].proven_by;
        if proofs.iter().any(|t| at.done >> t & 1 == 1) {
            return None;
        }
        let made = at.made | self.model.component_setup[c];
        let open = proofs.iter().filter(|t| at.closed >> **t & 1 == 0);
        let timed = open.map(|&t| (t, self.model.test_minutes(t, made)));
        timed.min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Minutes of that test; none where nothing is wanted, or open.
    fn proof_minutes(&self, c: usize, at: Place) -> f64 {
        self.open_proof(c, at).map_or(0.0, |(_, minutes)| minutes)
    }

    /// The open test, if any, that shows whether a component can be mended without a new part: looking ahead takes it for seen as soon as
    /// the component is mended, but by then the part is bought. It is worth its minutes while the part would be bought for nothing in
    /// so many cars that its price comes to more.
    fn look_before_a_part(&self, belief: &Belief, c: usize, at: Place) -> Option<usize> {
        let system = self.model.system;
        let faults = &system.components[c].faults;
        let needs_no_part = |kind: &FaultKind| faults.iter().any(|one| one.id == *kind && one.mend_minutes.is_some());
        let known = belief.by_fault(self.model);
        let spared = |kinds: &[FaultKind]| -> f64 {
            let of_kinds = known.iter().filter(|one| one.0 == c && kinds.contains(&one.1));
            of_kinds.map(|one| one.2).sum()
        };
        let faulty: f64 = known.iter().filter(|one| one.0 == c).map(|one| one.2).sum();
        let looks = system.tests.iter().enumerate().filter(|(t, test)| {
            let minutes = self.model.test_minutes(*t, at.made);
            let share = spared(&test.shows);
            at.closed >> t & 1 == 0
                && test.needs == [c]
                && !test.shows.is_empty()
                && test.shows.iter().all(needs_no_part)
                && share * system.costs.wrong_part_minutes > minutes
                // What is surely mended without a part is looked for on the way.
                && (faulty - share) * system.costs.wrong_part_minutes > minutes
        });
        let looks = looks.map(|(t, _)| (t, self.model.test_minutes(t, at.made)));
        looks.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(t, _)| t)
    }

    /// The open test, if any, that has to come before a part is bought: while the part is not probable enough for that, the one that tells
    /// most a minute whether it is that part. Not where its fault is mended without a new part.
    fn telling(&self, belief: &Belief, c: usize, at: Place) -> Option<usize> {
        let (by_component, _) = belief.by_component(self.model.system.components.len());
        let faults = &self.model.system.components[c].faults;
        let needs_part = |kind: FaultKind| !faults.iter().any(|one| one.id == kind && one.mend_minutes.is_some());
        let known = belief.by_fault(self.model);
        let bought: f64 = known
            .iter()
            .filter(|one| one.0 == c && needs_part(one.1))
            .map(|one| one.2)
            .sum();
        if by_component[c] >= SURE_ENOUGH || bought < 0.5 * by_component[c] {
            return None;
        }
        let unknown = entropy_bits(&[by_component[c], 1.0 - by_component[c]]);
        let open = (0..self.model.tables.len()).filter(|test| at.closed >> test & 1 == 0);
        let told = open.filter_map(|test| {
            let bits = belief.bits_of_part(self.model, test, c);
            (bits >= TELLS.0 && bits >= TELLS.1 * unknown)
                .then(|| (test, bits / self.model.test_minutes(test, at.made)))
        });
        told.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(test, _)| test)
    }

    /// What is still to come, about: mending what is faulty and nothing else, and the tests that tell which it is, or going on
    /// from part to part without a test, whichever is less.
    fn estimate(&self, belief: &Belief, at: Place) -> f64 {
        let (model, costs) = (self.model, &self.model.system.costs);
        let (mut knowing, mut set_probability, mut bits) = (0.0, 0.0, 0.0);
        let mut set = [NONE; 3];
        let mut add = |probability: f64| {
            if probability > 0.0 {
                bits -= probability * probability.log2();
            }
        };
        for h in &belief.hypotheses {
            if h.faulty != set {
                add(set_probability);
                (set, set_probability) = (h.faulty, 0.0);
            }
            set_probability += h.probability;
            let mut minutes = 0.0;
            for mode in h.faults(model).filter(|mode| mode.is_felt) {
                let c = usize::from(mode.component);
                let setup = model.setup_minutes(model.component_setup[c], at.made);
                minutes += mode.mend_minutes + setup + costs.check_minutes + self.proof_minutes(c, at);
            }
            knowing += h.probability * if minutes > 0.0 { minutes } else { costs.check_minutes };
        }
        add(set_probability);
        (knowing + self.bit_minutes * bits).min(self.repair(belief, at.made).0)
    }

    /// Expected minutes of mending one part after the other until the car works, looking at the beams after each; and the
    /// order: the most probability for its cost first, which for a single fault is the best one.
    fn repair(&self, belief: &Belief, made: u32) -> (f64, Vec<Repair>) {
        let (model, costs) = (self.model, &self.model.system.costs);
        let components = model.system.components.len();
        let (mut probability, works) = self.felt(belief);
        probability.push(works);
        let (order, spent) = self.in_order(&probability, made);
        let mut minutes = 0.0;
        for h in &belief.hypotheses {
            let (mut last, mut saved) = (0.0, 0.0);
            for mode in h.faults(model).filter(|mode| mode.is_felt) {
                let c = usize::from(mode.component);
                last = f64::max(last, spent[c]);
                saved += costs.wrong_part_minutes + model.system.components[c].replace_minutes - mode.mend_minutes;
            }
            let until = if last > 0.0 { last - saved } else { spent[components] };
            minutes += h.probability * until;
        }
        (minutes, order)
    }

    /// The repairs in the order of the most probability for their cost, by the probability of each component and, at the end, that nothing
    /// is at fault; and what has been spent, every part for nothing, when each is done.
    fn in_order(&self, probability: &[f64], made: u32) -> (Vec<Repair>, Vec<f64>) {
        let (model, costs) = (self.model, &self.model.system.costs);
        let components = model.system.components.len();
        let setup = |c: usize| model.setup_minutes(model.component_setup[c], made);
        let work = |item: usize| match model.system.components.get(item) {
            Some(part) => part.replace_minutes + setup(item) + costs.check_minutes,
            None => costs.check_minutes,
        };
        let price = |item: usize| {
            if item < components {
                costs.wrong_part_minutes
            } else {
                0.0
            }
        };
        let worth: Vec<f64> = (0..=components)
            .map(|item| probability[item] / (work(item) + price(item) * (1.0 - probability[item])).max(1e-9))
            .collect();
        let mut order: Vec<usize> = (0..=components).collect();
        order.sort_by(|a, b| worth[*b].total_cmp(&worth[*a]));
        // What has been spent, every part for nothing, when an item is done.
        let mut spent = vec![0.0; components + 1];
        let mut sum = 0.0;
        for &item in &order {
            sum += work(item) + price(item);
            spent[item] = sum;
        }
        let order = order.into_iter().filter(|&item| probability[item] > 0.0);
        let repair = |item| {
            if item < components {
                Repair::Replace(item)
            } else {
                Repair::LookAgain
            }
        };
        (order.map(repair).collect(), spent)
    }
}
