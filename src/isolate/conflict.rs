//! Trials that cannot all be right, and the least that explains those that are.

use super::belief::{Belief, Hypothesis, NONE, likelihood};
use super::evidence::Evidence;
use super::model::{Effect, Model, OUTCOMES};

/// Trials that no combination of up to three faults explains together.
#[derive(Debug, Clone, PartialEq)]
pub struct Contradiction {
    /// A least set of trials that cannot all be right, by number in the evidence; without any one of them the others can.
    pub trials: Vec<usize>,
    /// Probability of each of them that it was erroneous.
    pub erroneous: Vec<f64>,
    /// The one to repeat: the most probably erroneous, of equals the quickest.
    pub repeat: usize,
}

/// Sets of trials larger than this are not searched for the smallest conflict; any least one does.
const SEARCHED_SIZE: usize = 4;
/// With more trials than this only pairs are searched: the sets of four would be millions.
const MANY_TRIALS: usize = 40;

/// Whether the trial's outcome is what the test can show under the combination.
fn agrees(model: &Model<'_>, h: &Hypothesis, one: &Evidence) -> bool {
    let shown = h.shows(model, one.test).outcomes();
    (0..3).any(|n| shown[n] > 0.0 && one.allows(OUTCOMES[n]))
}

/// For each way in which combinations agree with the trials, the trials that they agree with.
fn agreements(model: &Model<'_>, belief: &Belief, evidence: &[Evidence]) -> Vec<Vec<bool>> {
    let mut ways: Vec<Vec<bool>> = belief
        .hypotheses
        .iter()
        .map(|h| evidence.iter().map(|one| agrees(model, h, one)).collect())
        .collect();
    ways.sort_unstable();
    ways.dedup();
    ways
}

/// The trials that cannot all be right, if there are such.
pub(super) fn contradiction(model: &Model<'_>, belief: &Belief, evidence: &[Evidence]) -> Option<Contradiction> {
    let explained = |h: &Hypothesis| evidence.iter().all(|one| agrees(model, h, one));
    if belief.hypotheses.iter().any(explained) {
        return None;
    }
    let ways = agreements(model, belief, evidence);
    let possible = |trials: &[usize]| ways.iter().any(|way| trials.iter().all(|&t| way[t]));
    let erroneous: Vec<f64> = evidence
        .iter()
        .map(|one| error_probability(model, belief, one))
        .collect();
    let doubt = |trials: &[usize]| trials.iter().map(|&t| erroneous[t]).sum::<f64>();
    let largest = if evidence.len() > MANY_TRIALS { 2 } else { SEARCHED_SIZE };
    let mut trials = (1..=largest.min(evidence.len())).find_map(|size| {
        let mut found: Option<Vec<usize>> = None;
        subsets(evidence.len(), size, &mut Vec::new(), &mut |set| {
            // Of several the one with the most doubt on it; of equals the first.
            if !possible(set) && found.as_ref().is_none_or(|best| doubt(set) > doubt(best) + 1e-12) {
                found = Some(set.to_vec());
            }
        });
        found
    });
    if trials.is_none() {
        // Take away what is not needed for the contradiction.
        let mut left: Vec<usize> = (0..evidence.len()).collect();
        for trial in 0..evidence.len() {
            let without: Vec<usize> = left.iter().copied().filter(|&t| t != trial).collect();
            if !possible(&without) {
                left = without;
            }
        }
        trials = Some(left);
    }
    let trials = trials?;
    let minutes = |t: usize| model.system.tests[evidence[t].test].minutes;
    let repeat = trials.iter().copied().reduce(|best, t| {
        let clearer = erroneous[t] > erroneous[best] + 1e-9;
        let as_clear = (erroneous[t] - erroneous[best]).abs() <= 1e-9;
        if clearer || (as_clear && minutes(t) < minutes(best)) {
            t
        } else {
            best
        }
    })?;
    Some(Contradiction {
        erroneous: trials.iter().map(|&t| erroneous[t]).collect(),
        trials,
        repeat,
    })
}

/// Probability that a trial was erroneous: that what it would have shown, done rightly, is not what was seen.
pub(super) fn error_probability(model: &Model<'_>, belief: &Belief, one: &Evidence) -> f64 {
    let rate = model.system.tests[one.test].error_probability;
    let right: f64 = belief
        .hypotheses
        .iter()
        .map(|h| {
            let effect: Effect = h.shows(model, one.test);
            let all = likelihood(model, one, effect as usize) / one.by_effect[effect as usize].max(f64::MIN_POSITIVE);
            let shown = effect.outcomes();
            let rightly: f64 = (0..3).map(|n| shown[n] * (1.0 - rate) * one.fits[n]).sum();
            if all > 0.0 { h.probability * rightly / all } else { 0.0 }
        })
        .sum();
    (1.0 - right).clamp(0.0, 1.0)
}

fn subsets(count: usize, size: usize, set: &mut Vec<usize>, found: &mut dyn FnMut(&[usize])) {
    if set.len() == size {
        found(set);
        return;
    }
    for next in set.last().map_or(0, |last| last + 1)..count {
        set.push(next);
        subsets(count, size, set, found);
        set.pop();
    }
}

/// The minimal diagnoses: sets of components that explain all trials, of which no part does (J. de Kleer and
/// B. C. Williams, *Artificial Intelligence* 32, 1987). By number, the smallest first; of up to three components.
pub(super) fn minimal_diagnoses(model: &Model<'_>, belief: &Belief, evidence: &[Evidence]) -> Vec<Vec<usize>> {
    let mut sets: Vec<Vec<usize>> = belief
        .hypotheses
        .iter()
        .filter(|h| evidence.iter().all(|one| agrees(model, h, one)))
        .map(|h| {
            h.faulty
                .iter()
                .take_while(|c| **c != NONE)
                .map(|&c| usize::from(c))
                .collect()
        })
        .collect();
    sets.sort_by(|a, b| a.len().cmp(&b.len()).then_with(|| a.cmp(b)));
    sets.dedup();
    let mut minimal: Vec<Vec<usize>> = Vec::new();
    for set in sets {
        if !minimal.iter().any(|part| part.iter().all(|c| set.contains(c))) {
            minimal.push(set);
        }
    }
    minimal
}
