//! Exact inference: every combination of up to three faulty components with their faults, weighed by the trials.
//!
//! Faults that no test tells apart are counted as one ([`super::model::Mode`]). The reference implementation, which writes every
//! combination out and looks each test up in the words of the system, stands in the tests.

use super::evidence::{Evidence, Origin};
use super::model::{EFFECTS, Effect, MOST_FAULTS, Mode, Model};
use crate::record::FaultKind;
use std::collections::{BTreeMap, BTreeSet};

/// In place of a component's or a mode's number where there is none.
pub(super) const NONE: u8 = u8::MAX;
/// In place of a mode's number where there is none.
pub(super) const NO_MODE: u16 = u16::MAX;

/// One combination of faults.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hypothesis {
    /// Its probability.
    pub probability: f64,
    /// The faulty components, in rising order, then [`NONE`].
    pub faulty: [u8; MOST_FAULTS],
    /// The mode of each, by number in the model, then [`NO_MODE`].
    pub modes: [u16; MOST_FAULTS],
}

impl Hypothesis {
    /// The modes of its faults.
    pub fn faults<'m>(&self, model: &'m Model<'_>) -> impl Iterator<Item = &'m Mode> {
        let modes = self.modes;
        modes
            .into_iter()
            .take_while(|&m| m != NO_MODE)
            .map(|m| &model.modes[usize::from(m)])
    }

    /// What shows in a test: the worst of its faults.
    pub fn shows(&self, model: &Model<'_>, test: usize) -> Effect {
        let effects = self.faults(model).map(|mode| mode.effects[test]);
        effects.max().unwrap_or(Effect::Sound)
    }

    /// Whether both beams follow the control.
    pub fn works(&self, model: &Model<'_>) -> bool {
        !self.faults(model).any(|mode| mode.is_felt)
    }

    /// The same car with the components of a bit set mended.
    pub fn mended(&self, mended: u128) -> Self {
        let mut left = Self {
            probability: self.probability,
            faulty: [NONE; MOST_FAULTS],
            modes: [NO_MODE; MOST_FAULTS],
        };
        let mut count = 0;
        for (&component, &mode) in self.faulty.iter().zip(&self.modes).take_while(|(c, _)| **c != NONE) {
            if mended >> component & 1 == 0 {
                left.faulty[count] = component;
                left.modes[count] = mode;
                count += 1;
            }
        }
        left
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

/// What belongs to the car and not to the part that is replaced, the reflector's pivots, is as it was after so many repairs of that part: a
/// new actuator frees no pivots, and who frees them enters the same part (from memory).
const STAYS: f64 = 0.3;

/// Logarithms of the likelihood of all trials of one test that were done with the same components mended, by what shows.
struct TestLikelihood {
    test: usize,
    mended: u128,
    mended_again: u128,
    ln: [f64; EFFECTS],
}

/// Which of the parts that stood in a component's place one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fitted {
    /// The one with which the car came.
    First,
    /// One that was fitted or mended, and again since.
    Between,
    /// The one that stands there after the repair.
    Last,
}

/// A part that was in the car while trials were done. A component that was mended has been two parts, or more: what is found of one
/// says nothing of the next.
struct Part {
    component: usize,
    fitted: Fitted,
    /// For each mode of the component the odds of it.
    odds: Vec<f64>,
}

impl Part {
    /// Whether it was in the car when something was found.
    fn was_there(&self, mended: u128, mended_again: u128) -> bool {
        let at = |bits: u128| bits >> self.component & 1 == 1;
        self.fitted
            == match (at(mended), at(mended_again)) {
                (false, _) => Fitted::First,
                (true, true) => Fitted::Between,
                (true, false) => Fitted::Last,
            }
    }

    /// Whether it is in the car now, with `mended` components.
    fn is_there(&self, mended: u128) -> bool {
        self.was_there(mended, 0)
    }

    /// All parts that were in the car, components in rising order.
    fn all(model: &Model<'_>, evidence: &[Evidence], mended: u128) -> Vec<Self> {
        let between = evidence.iter().fold(0, |all, one| all | one.mended & one.mended_again);
        let mut parts = Vec::new();
        for (component, modes) in model.of_component.iter().enumerate() {
            let mut add = |fitted: Fitted, odds: Vec<f64>| {
                parts.push(Self {
                    component,
                    fitted,
                    odds,
                })
            };
            add(
                Fitted::First,
                model.modes[modes.clone()].iter().map(|mode| mode.odds).collect(),
            );
            if between >> component & 1 == 1 {
                add(Fitted::Between, model.renewed_odds(component));
            }
            if mended >> component & 1 == 1 {
                add(Fitted::Last, model.renewed_odds(component));
            }
        }
        for part in &mut parts {
            let fits = ends_looked_at(model, part, evidence);
            let modes = &model.modes[model.of_component[part.component].clone()];
            for (odds, mode) in part.odds.iter_mut().zip(modes) {
                if mode.kinds.iter().all(|(kind, _)| *kind == FaultKind::Off) {
                    *odds *= fits;
                }
            }
        }
        parts
    }
}

/// A hose's end that the steps of a test have looked at, and that was off all the same, in so many cars: it was not looked at, or was pushed
/// home and not written down (from memory).
const END_OVERLOOKED: f64 = 0.1;

/// How well it fits that the ends of a part were looked at, and none written down as off, were its hose off at one of them.
fn ends_looked_at(model: &Model<'_>, part: &Part, evidence: &[Evidence]) -> f64 {
    let of_part = evidence
        .iter()
        .filter(|one| matches!(one.origin, Origin::Trial(_)) && part.was_there(one.mended, one.mended_again));
    let ends = of_part.flat_map(|one| &model.system.tests[one.test].ends);
    let seen: BTreeSet<&str> = ends
        .filter(|end| end.component == part.component)
        .map(|end| end.at.as_str())
        .collect();
    let share = seen.len() as f64 / model.system.ends_of(part.component) as f64;
    1.0 - share * (1.0 - END_OVERLOOKED)
}

/// A fault of a part, by the part's number and the mode's.
type PartFault = (usize, u16);

/// How likely a trial is by what its test shows.
pub(super) fn likelihood(model: &Model<'_>, one: &Evidence, effect: usize) -> f64 {
    let table = &model.tables[one.test][effect];
    let fits = one.fits_counted(model.system.tests[one.test].source);
    let sum: f64 = (0..3).map(|seen| table[seen] * fits[seen]).sum();
    sum * one.by_effect[effect]
}

/// How well a beam that follows fits a part that sticks, where the same beam stayed where it was driven in one test and, driven more
/// directly, came back: what holds a beam so seldom lets it go at the next test, as what only catches now and then does (from memory).
const FREE_AFTER_STAYING: f64 = 0.1;
/// How well a beam that stays once more where it was driven fits what is blocked: what keeps the air from coming back keeps it (from memory).
const STAYS_AGAIN: f64 = 0.8;

/// Whether a beam followed that stayed where it was driven in another test of the same car, which needs more than one in which it followed, too.
fn is_let_go(model: &Model<'_>, one: &Evidence, evidence: &[Evidence]) -> bool {
    let test = |one: &Evidence| &model.system.tests[one.test];
    let Some(lamp) = test(one).lamp.filter(|_| one.is_yes()) else {
        return false;
    };
    let of_car = |other: &&Evidence| {
        let same = (other.mended, other.mended_again) == (one.mended, one.mended_again);
        same && test(other).lamp == Some(lamp)
    };
    let followed = |stayed: &Evidence| {
        let needs = &test(stayed).needs;
        let is_less = |other: &Evidence| {
            let less = &test(other).needs;
            less.len() < needs.len() && less.iter().all(|c| needs.contains(c))
        };
        let mut others = evidence.iter().filter(of_car);
        others.any(|other| other.is_yes() && is_less(other))
    };
    let mut stayed = evidence.iter().filter(of_car).filter(|other| other.stays());
    stayed.any(followed)
}

/// Whether the beam had stayed where it was driven in an earlier test of the same car, too.
fn stays_again(model: &Model<'_>, (n, one): (usize, &Evidence), evidence: &[Evidence]) -> bool {
    let lamp = |one: &Evidence| model.system.tests[one.test].lamp;
    let of_car = |other: &&Evidence| {
        let same = (other.mended, other.mended_again) == (one.mended, one.mended_again);
        same && lamp(other) == lamp(one)
    };
    one.stays() && evidence[..n].iter().filter(of_car).any(Evidence::stays)
}

fn likelihoods(model: &Model<'_>, evidence: &[Evidence]) -> Vec<TestLikelihood> {
    let mut all: Vec<TestLikelihood> = Vec::new();
    for (place, one) in evidence.iter().enumerate() {
        // What cannot be at all still has a logarithm that can be added.
        let mut ln: [f64; EFFECTS] = std::array::from_fn(|n| likelihood(model, one, n).max(f64::MIN_POSITIVE).ln());
        if is_let_go(model, one, evidence) {
            ln[Effect::Catches as usize] += FREE_AFTER_STAYING.ln();
        }
        if stays_again(model, (place, one), evidence) {
            let still = Effect::Still as usize;
            ln[still] += (STAYS_AGAIN / one.by_effect[still]).ln().max(0.0);
        }
        match all
            .iter_mut()
            .find(|known| (known.test, known.mended, known.mended_again) == (one.test, one.mended, one.mended_again))
        {
            Some(known) => (0..EFFECTS).for_each(|n| known.ln[n] += ln[n]),
            None => all.push(TestLikelihood {
                test: one.test,
                mended: one.mended,
                mended_again: one.mended_again,
                ln,
            }),
        }
    }
    all
}

impl Belief {
    /// What to believe after `evidence`, in any order, of the car as it is now, with `mended` components (a bit each).
    pub fn new(model: &Model<'_>, evidence: &[Evidence], mended: u128) -> Self {
        Self::of_car(model, evidence, mended, mended)
    }

    /// What to believe of the car as it was with `then` components mended, in hindsight: `evidence` goes on to where `mended` were.
    pub fn of_car(model: &Model<'_>, evidence: &[Evidence], mended: u128, then: u128) -> Self {
        let likelihoods = likelihoods(model, evidence);
        let parts = Part::all(model, evidence, mended);
        let mut hypotheses = Vec::new();
        combine(model, &parts, &mut |faults| {
            hypotheses.push(hypothesis(model, &parts, faults, &likelihoods, then));
        });
        // Logarithms until here: a hundred trials would underflow.
        let best = hypotheses.iter().map(|h| h.probability).fold(f64::MIN, f64::max);
        for hypothesis in &mut hypotheses {
            hypothesis.probability = (hypothesis.probability - best).exp();
        }
        let mut belief = Self { hypotheses };
        if mended != 0 {
            belief = belief.merged();
        }
        belief.normalise();
        belief
    }

    /// Cars that are alike now as one, whatever was in them before.
    fn merged(&self) -> Self {
        let mut known: BTreeMap<([u8; MOST_FAULTS], [u16; MOST_FAULTS]), f64> = BTreeMap::new();
        for h in &self.hypotheses {
            *known.entry((h.faulty, h.modes)).or_default() += h.probability;
        }
        let hypotheses = known.into_iter().map(|((faulty, modes), probability)| Hypothesis {
            probability,
            faulty,
            modes,
        });
        Self {
            hypotheses: hypotheses.collect(),
        }
    }

    /// What to believe where `component` was mended and a beam still does not follow, and how probable that is.
    pub fn still_failing(&self, model: &Model<'_>, component: Option<u8>) -> (Self, f64) {
        let mended = component.map_or(0, |c| 1u128 << c);
        let left = |h: &Hypothesis| if mended == 0 { *h } else { h.mended(mended) };
        let hypotheses: Vec<Hypothesis> = self.hypotheses.iter().map(left).filter(|h| !h.works(model)).collect();
        let probability: f64 = hypotheses.iter().map(|h| h.probability).sum();
        let mut belief = Self { hypotheses };
        if probability > 0.0 {
            belief.normalise();
        }
        (belief, probability)
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

    /// Combinations as one that come out alike in every test to come: they differ in what is noted beside an outcome only. For looking
    /// ahead only.
    pub fn of_outcomes(&self, model: &Model<'_>) -> Self {
        let first = |m: u16| {
            if m == NO_MODE {
                m
            } else {
                model.modes[usize::from(m)].alike
            }
        };
        let mut place = BTreeMap::new();
        let mut hypotheses: Vec<Hypothesis> = Vec::new();
        for h in &self.hypotheses {
            let modes = h.modes.map(first);
            let n = *place.entry((h.faulty, modes)).or_insert(hypotheses.len());
            match hypotheses.get_mut(n) {
                Some(known) => known.probability += h.probability,
                None => hypotheses.push(Hypothesis { modes, ..*h }),
            }
        }
        Self { hypotheses }
    }

    /// Probability that test `t` comes out as each outcome, done once more.
    pub fn predicted(&self, model: &Model<'_>, test: usize) -> [f64; 3] {
        let mut shown = [0.0; EFFECTS];
        for hypothesis in &self.hypotheses {
            shown[hypothesis.shows(model, test) as usize] += hypothesis.probability;
        }
        come_out(&model.tables[test], shown)
    }

    /// What to believe once test `t` has come out as the outcome at `place`; combinations below `least` of the whole are
    /// dropped.
    pub fn updated(&self, model: &Model<'_>, test: usize, place: usize, least: f64) -> Self {
        let table = &model.tables[test];
        let weight = |h: &Hypothesis| h.probability * table[h.shows(model, test) as usize][place];
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

    /// Information, bits, that a test is expected to give about which components are faulty.
    pub fn bits_of(&self, model: &Model<'_>, test: usize) -> f64 {
        let table = &model.tables[test];
        let (mut whole, mut within) = ([0.0; EFFECTS], 0.0);
        for set in self.hypotheses.chunk_by(|a, b| a.faulty == b.faulty) {
            let mut shown = [0.0; EFFECTS];
            for hypothesis in set {
                shown[hypothesis.shows(model, test) as usize] += hypothesis.probability;
            }
            let probability: f64 = shown.iter().sum();
            if probability <= 0.0 {
                continue;
            }
            (0..EFFECTS).for_each(|n| whole[n] += shown[n]);
            within += probability * entropy_bits(&come_out(table, shown.map(|s| s / probability)));
        }
        (entropy_bits(&come_out(table, whole)) - within).max(0.0)
    }

    /// Information, bits, that a test is expected to give about one component: whether it is faulty.
    pub fn bits_of_part(&self, model: &Model<'_>, test: usize, component: usize) -> f64 {
        let table = &model.tables[test];
        let mut shown = [[0.0; EFFECTS]; 2];
        for h in &self.hypotheses {
            let is_faulty = h.faulty.iter().any(|c| usize::from(*c) == component);
            shown[usize::from(is_faulty)][h.shows(model, test) as usize] += h.probability;
        }
        let whole = std::array::from_fn(|n| shown[0][n] + shown[1][n]);
        let within = shown.map(|shown| {
            let probability: f64 = shown.iter().sum();
            if probability <= 0.0 {
                return 0.0;
            }
            probability * entropy_bits(&come_out(table, shown.map(|s| s / probability)))
        });
        (entropy_bits(&come_out(table, whole)) - within[0] - within[1]).max(0.0)
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
        let mut by_mode = vec![0.0; model.modes.len()];
        for h in &self.hypotheses {
            for &mode in h.modes.iter().take_while(|m| **m != NO_MODE) {
                by_mode[usize::from(mode)] += h.probability;
            }
        }
        let mut faults = Vec::new();
        for (c, component) in model.system.components.iter().enumerate() {
            for fault in &component.faults {
                let modes = model.of_component[c].clone();
                let probability = modes.map(|m| by_mode[m] * share(&model.modes[m], fault.id)).sum();
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
        for &(kind, share) in &model.modes[usize::from(h.modes[n])].kinds {
            faults.push((component, kind));
            deeper(model, h, faults, probability * share, found);
            faults.pop();
        }
    }
    deeper(model, hypothesis, &mut Vec::new(), hypothesis.probability, found);
}

/// Calls `found` with every combination of faults of up to three parts, all combinations of one set of parts side by side.
fn combine(model: &Model<'_>, parts: &[Part], found: &mut dyn FnMut(&[PartFault])) {
    fn modes_of(
        model: &Model<'_>,
        (parts, set): (&[Part], &[usize]),
        chosen: &mut Vec<PartFault>,
        found: &mut dyn FnMut(&[PartFault]),
    ) {
        let Some(&part) = set.get(chosen.len()) else {
            found(chosen);
            return;
        };
        for mode in model.of_component[parts[part].component].clone() {
            chosen.push((part, mode as u16));
            modes_of(model, (parts, set), chosen, found);
            chosen.pop();
        }
    }
    fn sets_of(
        model: &Model<'_>,
        parts: &[Part],
        first: usize,
        set: &mut Vec<usize>,
        found: &mut dyn FnMut(&[PartFault]),
    ) {
        modes_of(model, (parts, set), &mut Vec::new(), found);
        if set.len() == MOST_FAULTS {
            return;
        }
        for part in first..parts.len() {
            set.push(part);
            sets_of(model, parts, part + 1, set, found);
            set.pop();
        }
    }
    sets_of(model, parts, 0, &mut Vec::new(), found);
}

/// The combination as it is now, with the logarithm of its weight in place of its probability.
fn hypothesis(
    model: &Model<'_>,
    parts: &[Part],
    faults: &[PartFault],
    likelihoods: &[TestLikelihood],
    mended: u128,
) -> Hypothesis {
    let mut h = Hypothesis {
        probability: 0.0,
        faulty: [NONE; MOST_FAULTS],
        modes: [NO_MODE; MOST_FAULTS],
    };
    // What is wrong with a part that was fitted since has nothing to do with how many faults the car came in with.
    let came_with = faults.iter().filter(|(part, _)| parts[*part].fitted == Fitted::First);
    let mut odds = (1..came_with.count()).fold(1.0, |odds, _| odds * model.system.together);
    let mut count = 0;
    // What of a part stays in the car when it is mended: the new one is found with it, or it was mended, too.
    let stays = |&(part, mode): &PartFault| {
        let of = |other: &PartFault| parts[other.0].component == parts[part].component;
        let later = faults
            .iter()
            .any(|other| other.0 > part && of(other) && other.1 == mode);
        let followed = (part + 1..parts.len()).any(|next| parts[next].component == parts[part].component);
        (model.modes[usize::from(mode)].stays() && followed).then_some(if later { STAYS } else { 1.0 - STAYS })
    };
    for fault in faults {
        if let Some(share) = stays(fault) {
            odds *= share;
        }
    }
    for &(part, mode) in faults {
        let came_from =
            |other: &PartFault| other.0 < part && parts[other.0].component == parts[part].component && other.1 == mode;
        let stayed = model.modes[usize::from(mode)].stays() && faults.iter().any(came_from);
        let part = &parts[part];
        if stayed {
            if part.is_there(mended) {
                h.faulty[count] = part.component as u8;
                h.modes[count] = mode;
                count += 1;
            }
            continue;
        }
        odds *= part.odds[usize::from(mode) - model.of_component[part.component].start];
        if part.is_there(mended) {
            h.faulty[count] = part.component as u8;
            h.modes[count] = mode;
            count += 1;
        }
    }
    let shows = |l: &TestLikelihood| {
        let there = faults
            .iter()
            .filter(|(part, _)| parts[*part].was_there(l.mended, l.mended_again));
        let effects = there.map(|(_, mode)| model.modes[usize::from(*mode)].effects[l.test]);
        effects.max().unwrap_or(Effect::Sound)
    };
    h.probability = odds.ln() + likelihoods.iter().map(|l| l.ln[shows(l) as usize]).sum::<f64>();
    h
}

/// Probabilities of the outcomes from those of what the test shows.
fn come_out(table: &[[f64; 3]; EFFECTS], shown: [f64; EFFECTS]) -> [f64; 3] {
    [0, 1, 2].map(|seen| (0..EFFECTS).map(|truth| shown[truth] * table[truth][seen]).sum())
}

/// How much is not known, bits, of what has these probabilities.
pub(super) fn entropy_bits(probabilities: &[f64]) -> f64 {
    probabilities
        .iter()
        .map(|&p| if p > 0.0 { -p * p.log2() } else { 0.0 })
        .sum()
}
