//! Minutes below which nobody comes with the made cars of a plain world, whatever he does: a bound from below, to hold a policy against.
//!
//! Who is to be beaten is given more than anybody has. He knows how often each fault is made. He is told of a car with two faults
//! which they are. Only the two looks and so many tests after them go wrong as often as in the workshop; from there on no test does,
//! and a test that never goes wrong is worth no less than one that does. What is left is solved exactly.

use super::garage::{MadeCar, World, looks, oracle};
use beamfall::isolate::outcomes;
use beamfall::record::{Moves, System};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use std::collections::HashMap;

/// Cars with one fault that no test tells apart.
struct Case {
    weight: f64,
    component: usize,
    /// Time to mend it, minutes.
    mend_minutes: f64,
    /// What each test shows that is done rightly.
    shows: Vec<Moves>,
}

/// Minutes of the best that can be done, and of what takes part in them.
pub struct Bound {
    /// Who knows the faults: the two looks, the repairs, and a look after each.
    pub knowing: f64,
    /// Who has to find them.
    pub finding: f64,
}

struct Solver<'a> {
    system: &'a System,
    cases: &'a [Case],
    /// How often a test is written down wrongly.
    wrong: &'a [f64],
}

/// A test or a repair that may come next; minutes are times the weights.
struct Action {
    /// The least that it can come to in all.
    least: f64,
    /// What it takes itself.
    minutes: f64,
    /// The weights after each outcome, with the least that these come to.
    after: Vec<(Vec<f64>, f64)>,
    /// What is set up then.
    made: u32,
}

impl Action {
    fn new(minutes: f64, after: Vec<(Vec<f64>, f64)>, made: u32) -> Self {
        let least = minutes + after.iter().map(|(_, least)| least).sum::<f64>();
        Self {
            least,
            minutes,
            after,
            made,
        }
    }
}

/// Least minutes by the cases that are left and what is set up, a bit each.
type Memo = HashMap<(u64, u32), f64>;

impl Solver<'_> {
    fn setup(&self, wanted: &[usize], made: u32) -> (f64, u32) {
        let missing = wanted.iter().filter(|s| made >> **s & 1 == 0);
        let minutes = missing.map(|s| self.system.setups[*s].minutes).sum();
        (minutes, wanted.iter().fold(made, |bits, s| bits | 1 << s))
    }

    /// Minutes, times the weights, of repairing `c` next with a look after it; the weights that are left; what is set up then.
    fn repair(&self, weights: &[f64], c: usize, made: u32) -> (f64, Vec<f64>, u32) {
        let (part, costs) = (&self.system.components[c], &self.system.costs);
        let (setup, made) = self.setup(&part.setup, made);
        let mut minutes = 0.0;
        let mut left = weights.to_vec();
        for (weight, case) in left.iter_mut().zip(self.cases) {
            let is_it = case.component == c;
            let work = if is_it {
                case.mend_minutes
            } else {
                part.replace_minutes + costs.wrong_part_minutes
            };
            minutes += *weight * (setup + work + costs.check_minutes);
            if is_it {
                *weight = 0.0;
            }
        }
        (minutes, left, made)
    }

    /// The least minutes, times the weights, where no test goes wrong.
    fn without_errors(&self, weights: &[f64], left: u64, made: u32, known: &mut Memo) -> f64 {
        if left == 0 {
            return 0.0;
        }
        if let Some(minutes) = known.get(&(left, made)) {
            return *minutes;
        }
        let of = |mask: u64| -> Vec<f64> {
            let each = weights.iter().enumerate();
            each.map(|(n, w)| if mask >> n & 1 == 1 { *w } else { 0.0 }).collect()
        };
        let here = of(left);
        let all: f64 = here.iter().sum();
        let mut best = f64::INFINITY;
        let mut components: Vec<usize> = Vec::new();
        for (n, case) in self.cases.iter().enumerate() {
            if left >> n & 1 == 1 && !components.contains(&case.component) {
                components.push(case.component);
            }
        }
        for &c in &components {
            let (minutes, after, then) = self.repair(&here, c, made);
            let mask = (0..after.len()).filter(|n| left >> n & 1 == 1 && self.cases[*n].component != c);
            let mask = mask.fold(0u64, |bits, n| bits | 1 << n);
            best = best.min(minutes + self.without_errors(weights, mask, then, known));
        }
        for t in 0..self.system.tests.len() {
            if components.len() < 2 {
                break;
            }
            let shown = |moves: Moves| {
                let cases = self.cases.iter().enumerate();
                let those = cases.filter(|(n, case)| left >> n & 1 == 1 && case.shows[t] == moves);
                those.fold(0u64, |bits, (n, _)| bits | 1 << n)
            };
            let parts = [Moves::Yes, Moves::No, Moves::CreepsBack].map(shown);
            if parts.contains(&left) {
                continue;
            }
            let (setup, then) = self.setup(&self.system.tests[t].setup, made);
            let mut minutes = all * (setup + self.system.tests[t].minutes);
            for part in parts {
                if minutes >= best {
                    break;
                }
                minutes += self.without_errors(weights, part, then, known);
            }
            best = best.min(minutes);
        }
        known.insert((left, made), best);
        best
    }

    /// Weights once a test was written down as `seen`.
    fn seen(&self, weights: &[f64], test: usize, seen: Moves) -> Vec<f64> {
        let others = outcomes(self.system.tests[test].source).len() - 1;
        let of = |case: &Case| {
            if case.shows[test] == seen {
                1.0 - self.wrong[test]
            } else {
                self.wrong[test] / others as f64
            }
        };
        weights.iter().zip(self.cases).map(|(w, case)| w * of(case)).collect()
    }

    /// The least minutes, times the weights, where the next `steps` tests or repairs go as in the workshop. Nothing above `bar` counts.
    fn least(&self, weights: &[f64], made: u32, steps: usize, bar: f64) -> f64 {
        let mask = |weights: &[f64]| (0..weights.len()).fold(0u64, |bits, n| bits | u64::from(weights[n] > 0.0) << n);
        let bound = |weights: &[f64], made: u32| self.without_errors(weights, mask(weights), made, &mut Memo::new());
        if steps == 0 || mask(weights) == 0 {
            return bound(weights, made);
        }
        let mut actions: Vec<Action> = Vec::new();
        for c in 0..self.system.components.len() {
            if weights
                .iter()
                .zip(self.cases)
                .any(|(w, case)| *w > 0.0 && case.component == c)
            {
                let (minutes, left, then) = self.repair(weights, c, made);
                let least = bound(&left, then);
                actions.push(Action::new(minutes, vec![(left, least)], then));
            }
        }
        for (t, test) in self.system.tests.iter().enumerate() {
            let (setup, then) = self.setup(&test.setup, made);
            let seen = outcomes(test.source).iter().map(|seen| self.seen(weights, t, *seen));
            let after = seen.map(|left| {
                let least = bound(&left, then);
                (left, least)
            });
            let minutes = weights.iter().sum::<f64>() * (setup + test.minutes);
            actions.push(Action::new(minutes, after.collect(), then));
        }
        // The one that can cost least comes first.
        actions.sort_by(|a, b| a.least.total_cmp(&b.least));
        let mut best = bar;
        for action in actions {
            // What is known of its outcomes so far, the bound standing for the others.
            let mut sum = action.minutes + action.after.iter().map(|(_, least)| least).sum::<f64>();
            for (left, least) in action.after {
                if sum >= best {
                    break;
                }
                sum += self.least(&left, action.made, steps - 1, best - (sum - least)) - least;
            }
            best = best.min(sum);
        }
        best
    }
}

/// The bound, by so many made cars of a plain world, with errors in the looks and in so many steps after them.
pub fn bound(system: &System, cars: usize, seed: u64, steps: usize) -> Bound {
    let mut cases: Vec<Case> = Vec::new();
    let (mut knowing, mut of_two) = (0.0, 0.0);
    for n in 0..cars as u64 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(n));
        let car = MadeCar::draw(system, World::Plain, &mut rng);
        let least = oracle(system, &car).minutes / cars as f64;
        knowing += least;
        let Some((component, mend_minutes)) = car.only_fault(system) else {
            of_two += least;
            continue;
        };
        let shows: Vec<Moves> = (0..system.tests.len()).map(|t| car.shows(system, t, None)).collect();
        let weight = 1.0 / cars as f64;
        let alike =
            |case: &&mut Case| (case.component, case.mend_minutes) == (component, mend_minutes) && case.shows == shows;
        match cases.iter_mut().find(alike) {
            Some(case) => case.weight += weight,
            None => cases.push(Case {
                weight,
                component,
                mend_minutes,
                shows,
            }),
        }
    }
    assert!(cases.len() <= 64, "one bit each: {}", cases.len());
    let wrong: Vec<f64> = system
        .tests
        .iter()
        .map(|t| t.error_probability.max(super::garage::WRONG))
        .collect();
    let solver = Solver {
        system,
        cases: &cases,
        wrong: &wrong,
    };
    let mut weights = vec![cases.iter().map(|case| case.weight).collect::<Vec<f64>>()];
    let (mut made, mut minutes) = (0, 0.0);
    for test in looks(system) {
        let (setup, then) = solver.setup(&system.tests[test].setup, made);
        made = then;
        minutes += setup + system.tests[test].minutes;
        let both = |w: &Vec<f64>| [Moves::Yes, Moves::No].map(|seen| solver.seen(w, test, seen));
        weights = weights.iter().flat_map(both).collect();
    }
    let of_one: f64 = weights
        .iter()
        .map(|w| solver.least(w, made, steps, f64::INFINITY))
        .sum();
    let share: f64 = cases.iter().map(|case| case.weight).sum();
    Bound {
        knowing,
        finding: of_two + of_one + minutes * share,
    }
}
