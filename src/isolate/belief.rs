//! Exact inference: every combination of up to three faulty components with their faults, weighed by the trials.
//!
//! The fast path counts faults that no test tells apart as one ([`Mode`]) and keeps for each combination two bit sets
//! over the tests: those that show no, and those that show creeps-back. Its reference implementation, which writes every
//! combination out and looks each test up in the words of the system, stands in the tests.

use super::evidence::Evidence;
use super::model::{MOST_FAULTS, Mode, Model};
use crate::record::{FaultKind, System};
use std::collections::{BTreeMap, BTreeSet};

/// In place of a component's or a mode's number where there is none.
pub(super) const NONE: u8 = u8::MAX;

/// One combination of faults.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hypothesis {
    /// Its probability.
    pub probability: f64,
    /// Bit t: test t shows no.
    pub no: u128,
    /// Bit t: test t shows creeps-back, or no.
    pub not_yes: u128,
    /// The faulty components, in rising order, then [`NONE`].
    pub faulty: [u8; MOST_FAULTS],
    /// The mode of each.
    pub modes: [u8; MOST_FAULTS],
    /// Those of the faulty components whose fault some test shows, then [`NONE`].
    pub to_mend: [u8; MOST_FAULTS],
    /// Time to replace these, with a look at the beams after each, minutes.
    pub mending_minutes: f64,
}

impl Hypothesis {
    /// What test `t` shows, as a place in the table of outcomes.
    pub fn shows(&self, test: usize) -> usize {
        let bit = |mask: u128| (mask >> test & 1) as usize;
        // Yes is 0, no 1, creeps-back 2: a test that is not yes is 2, less one where it is no.
        2 * bit(self.not_yes) - bit(self.no)
    }
}

/// What is believed after the trials: the combinations with their probabilities, those of one set of components side by
/// side.
#[derive(Debug, Clone)]
pub(super) struct Belief {
    pub hypotheses: Vec<Hypothesis>,
}

/// A joint explanation: faulty components with their kinds of fault, and its probability.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// Components by number with the kind of fault; empty: nothing is at fault.
    pub faults: Vec<(usize, FaultKind)>,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// Logarithms of the likelihood of all trials of one test, by what the test shows.
struct TestLikelihood {
    test: usize,
    ln: [f64; 3],
}

fn likelihoods(model: &Model<'_>, evidence: &[Evidence]) -> Vec<TestLikelihood> {
    let mut all: Vec<TestLikelihood> = Vec::new();
    for one in evidence {
        let table = &model.tables[one.test];
        // What cannot be at all still has a logarithm that can be added.
        let ln = [0, 1, 2].map(|truth| {
            let sum: f64 = (0..3).map(|seen| table[truth][seen] * one.fits[seen]).sum();
            sum.max(f64::MIN_POSITIVE).ln()
        });
        match all.iter_mut().find(|known| known.test == one.test) {
            Some(known) => (0..3).for_each(|n| known.ln[n] += ln[n]),
            None => all.push(TestLikelihood { test: one.test, ln }),
        }
    }
    all
}

/// One component's fault within a combination that is being put together.
#[derive(Clone, Copy)]
struct Chosen<'m> {
    component: u8,
    number: u8,
    mode: &'m Mode,
}

impl Belief {
    /// What to believe after `evidence`, in any order.
    pub fn new(model: &Model<'_>, evidence: &[Evidence]) -> Self {
        let likelihoods = likelihoods(model, evidence);
        let mut hypotheses = Vec::new();
        combine(model, 0, &mut Vec::new(), &mut |chosen| {
            hypotheses.push(hypothesis(model.system, chosen, &likelihoods));
        });
        // Logarithms until here: a hundred trials would underflow.
        let best = hypotheses.iter().map(|h| h.probability).fold(f64::MIN, f64::max);
        for hypothesis in &mut hypotheses {
            hypothesis.probability = (hypothesis.probability - best).exp();
        }
        let mut belief = Self { hypotheses };
        belief.normalise();
        belief
    }

    fn normalise(&mut self) {
        let sum: f64 = self.hypotheses.iter().map(|h| h.probability).sum();
        for hypothesis in &mut self.hypotheses {
            hypothesis.probability /= sum;
        }
    }

    /// The belief without its least probable combinations: what is left holds all but `dropped` of the probability, in at
    /// most `most` combinations. For looking ahead only.
    pub fn pruned(&self, dropped: f64, most: usize) -> Self {
        let mut sorted: Vec<f64> = self.hypotheses.iter().map(|h| h.probability).collect();
        sorted.sort_unstable_by(|a, b| b.total_cmp(a));
        let mut kept = 0.0;
        let mut least = 0.0;
        for &probability in sorted.iter().take(most) {
            least = probability;
            kept += probability;
            if kept >= 1.0 - dropped {
                break;
            }
        }
        let keep = |h: &&Hypothesis| h.probability >= least && h.probability > 0.0;
        let mut belief = Self {
            hypotheses: self.hypotheses.iter().filter(keep).copied().collect(),
        };
        belief.normalise();
        belief
    }

    /// Probability that test `t` comes out as each outcome, done once more.
    pub fn predicted(&self, model: &Model<'_>, test: usize) -> [f64; 3] {
        let mut shown = [0.0; 3];
        for hypothesis in &self.hypotheses {
            shown[hypothesis.shows(test)] += hypothesis.probability;
        }
        come_out(&model.tables[test], shown)
    }

    /// What to believe once test `t` has come out as the outcome at `place`; combinations below `least` of the whole are
    /// dropped.
    pub fn updated(&self, model: &Model<'_>, test: usize, place: usize, least: f64) -> Self {
        let table = &model.tables[test];
        let weight = |h: &Hypothesis| h.probability * table[h.shows(test)][place];
        let sum: f64 = self.hypotheses.iter().map(weight).sum();
        let hypotheses = self
            .hypotheses
            .iter()
            .filter_map(|h| {
                let probability = weight(h) / sum;
                (probability > least).then_some(Hypothesis { probability, ..*h })
            })
            .collect();
        Self { hypotheses }
    }

    /// For each test the information, bits, that doing it once more is expected to give about which components are
    /// faulty.
    pub fn expected_bits(&self, model: &Model<'_>) -> Vec<f64> {
        let tests = model.tables.len();
        let mut whole = vec![[0.0; 3]; tests];
        let mut within = vec![0.0; tests];
        let (mut no, mut not_yes) = (vec![0.0; tests], vec![0.0; tests]);
        for set in self.hypotheses.chunk_by(|a, b| a.faulty == b.faulty) {
            no.fill(0.0);
            not_yes.fill(0.0);
            let mut probability = 0.0;
            for hypothesis in set {
                let p = hypothesis.probability;
                probability += p;
                add_bits(&mut no, hypothesis.no, p);
                add_bits(&mut not_yes, hypothesis.not_yes, p);
            }
            if probability <= 0.0 {
                continue;
            }
            for t in 0..tests {
                let shown = [probability - not_yes[t], no[t], not_yes[t] - no[t]];
                (0..3).for_each(|n| whole[t][n] += shown[n]);
                within[t] += probability * entropy_bits(come_out(&model.tables[t], shown.map(|s| s / probability)));
            }
        }
        (0..tests)
            .map(|t| (entropy_bits(come_out(&model.tables[t], whole[t])) - within[t]).max(0.0))
            .collect()
    }

    /// For each component the probability that it is faulty, and at the end that nothing is.
    pub fn by_component(&self, components: usize) -> (Vec<f64>, f64) {
        let mut faulty = vec![0.0; components];
        let mut none = 0.0;
        for hypothesis in &self.hypotheses {
            for &component in hypothesis.faulty.iter().take_while(|c| **c != NONE) {
                faulty[usize::from(component)] += hypothesis.probability;
            }
            if hypothesis.faulty[0] == NONE {
                none += hypothesis.probability;
            }
        }
        (faulty, none)
    }

    /// Probability of each kind of fault of each component.
    pub fn by_fault(&self, model: &Model<'_>) -> Vec<(usize, FaultKind, f64)> {
        let mut by_mode: Vec<Vec<f64>> = model.modes.iter().map(|modes| vec![0.0; modes.len()]).collect();
        for h in &self.hypotheses {
            for (&component, &mode) in h.faulty.iter().zip(&h.modes).take_while(|(c, _)| **c != NONE) {
                by_mode[usize::from(component)][usize::from(mode)] += h.probability;
            }
        }
        let mut faults = Vec::new();
        for (c, component) in model.system.components.iter().enumerate() {
            for fault in &component.faults {
                let probability = model.modes[c]
                    .iter()
                    .zip(&by_mode[c])
                    .map(|(mode, p)| p * share(mode, fault.id))
                    .sum();
                faults.push((c, fault.id, probability));
            }
        }
        faults
    }

    /// The most probable joint explanations, at most `most` of them, best first.
    pub fn explanations(&self, model: &Model<'_>, most: usize) -> Vec<Explanation> {
        let mut sorted: Vec<&Hypothesis> = self.hypotheses.iter().collect();
        // A kind of fault is spread over a few modes at most; a good many combinations hold all that can come first.
        let looked_at = (most * 64).min(sorted.len());
        if looked_at < sorted.len() {
            sorted.select_nth_unstable_by(looked_at, |a, b| b.probability.total_cmp(&a.probability));
            sorted.truncate(looked_at);
        }
        let sets: BTreeSet<[u8; MOST_FAULTS]> = sorted.iter().map(|h| h.faulty).collect();
        let mut known: BTreeMap<Vec<(usize, FaultKind)>, f64> = BTreeMap::new();
        // Of the sets of components found so, every combination counts: sums are whole.
        for hypothesis in self.hypotheses.iter().filter(|h| sets.contains(&h.faulty)) {
            spread(model, hypothesis, &mut |faults, probability| {
                *known.entry(faults.to_vec()).or_default() += probability;
            });
        }
        let mut explanations: Vec<Explanation> = known
            .into_iter()
            .map(|(faults, probability)| Explanation { faults, probability })
            .collect();
        explanations.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        explanations.truncate(most);
        explanations
    }
}

/// Adds `p` to the tests whose bit is set.
fn add_bits(sums: &mut [f64], mask: u128, p: f64) {
    // Half words: shifts of whole ones are several instructions each.
    for (half, sums) in sums.chunks_mut(64).enumerate() {
        let word = (mask >> (64 * half)) as u64;
        if word == 0 {
            continue;
        }
        for (t, sum) in sums.iter_mut().enumerate() {
            *sum += p * (word >> t & 1) as f64;
        }
    }
}

/// Share of a kind of fault in a mode.
fn share(mode: &Mode, kind: FaultKind) -> f64 {
    mode.kinds
        .iter()
        .find(|(k, _)| *k == kind)
        .map_or(0.0, |(_, share)| *share)
}

/// What is called with faults, components by number, and their probability.
type Found<'f> = &'f mut dyn FnMut(&[(usize, FaultKind)], f64);

/// A combination spread over the kinds of fault that its modes stand for.
fn spread(model: &Model<'_>, hypothesis: &Hypothesis, found: Found<'_>) {
    fn deeper(
        model: &Model<'_>,
        h: &Hypothesis,
        faults: &mut Vec<(usize, FaultKind)>,
        probability: f64,
        found: Found<'_>,
    ) {
        let n = faults.len();
        if n == MOST_FAULTS || h.faulty[n] == NONE {
            found(faults, probability);
            return;
        }
        let component = usize::from(h.faulty[n]);
        for &(kind, share) in &model.modes[component][usize::from(h.modes[n])].kinds {
            faults.push((component, kind));
            deeper(model, h, faults, probability * share, found);
            faults.pop();
        }
    }
    deeper(model, hypothesis, &mut Vec::new(), hypothesis.probability, found);
}

/// Calls `found` with every combination of faults of up to three components from `first` on.
fn combine<'m>(model: &'m Model<'_>, first: usize, chosen: &mut Vec<Chosen<'m>>, found: &mut dyn FnMut(&[Chosen<'m>])) {
    // All combinations of one set of components come side by side: components first, modes within.
    fn modes_of<'m>(
        model: &'m Model<'_>,
        set: &[usize],
        chosen: &mut Vec<Chosen<'m>>,
        found: &mut dyn FnMut(&[Chosen<'m>]),
    ) {
        let Some(&component) = set.get(chosen.len()) else {
            found(chosen);
            return;
        };
        for (number, mode) in model.modes[component].iter().enumerate() {
            chosen.push(Chosen {
                component: component as u8,
                number: number as u8,
                mode,
            });
            modes_of(model, set, chosen, found);
            chosen.pop();
        }
    }
    fn sets_of<'m>(
        model: &'m Model<'_>,
        first: usize,
        set: &mut Vec<usize>,
        chosen: &mut Vec<Chosen<'m>>,
        found: &mut dyn FnMut(&[Chosen<'m>]),
    ) {
        modes_of(model, set, chosen, found);
        if set.len() == MOST_FAULTS {
            return;
        }
        for component in first..model.modes.len() {
            set.push(component);
            sets_of(model, component + 1, set, chosen, found);
            set.pop();
        }
    }
    sets_of(model, first, &mut Vec::new(), chosen, found);
}

/// The combination with the logarithm of its weight in place of its probability.
fn hypothesis(system: &System, chosen: &[Chosen<'_>], likelihoods: &[TestLikelihood]) -> Hypothesis {
    let mut h = Hypothesis {
        probability: 0.0,
        no: 0,
        not_yes: 0,
        faulty: [NONE; MOST_FAULTS],
        modes: [NONE; MOST_FAULTS],
        to_mend: [NONE; MOST_FAULTS],
        mending_minutes: 0.0,
    };
    let mut odds = 1.0;
    let mut mended = 0;
    for (n, fault) in chosen.iter().enumerate() {
        odds *= fault.mode.odds;
        h.no |= fault.mode.no;
        h.not_yes |= fault.mode.creeps | fault.mode.no;
        h.faulty[n] = fault.component;
        h.modes[n] = fault.number;
        if fault.mode.shows_somewhere() {
            h.to_mend[mended] = fault.component;
            let component = &system.components[usize::from(fault.component)];
            h.mending_minutes += component.replace_minutes + system.costs.check_minutes;
            mended += 1;
        }
    }
    h.probability = odds.ln() + likelihoods.iter().map(|l| l.ln[h.shows(l.test)]).sum::<f64>();
    h
}

/// Probabilities of the outcomes from those of what the test shows.
fn come_out(table: &[[f64; 3]; 3], shown: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|seen| (0..3).map(|truth| shown[truth] * table[truth][seen]).sum())
}

fn entropy_bits(probabilities: [f64; 3]) -> f64 {
    probabilities
        .iter()
        .map(|&p| if p > 0.0 { -p * p.log2() } else { 0.0 })
        .sum()
}
