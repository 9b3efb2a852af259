//! The slow, obvious reference implementation of the inference: every combination written out, every test looked up in words. It shares with
//! the library only the system file and the evidence.

use beamfall::isolate::{Evidence, LeakSize, Origin};
use beamfall::record::{FaultKind, Moves, System, VacuumSource};
use rand::RngExt;
use std::collections::{BTreeMap, HashMap};

/// Component, fault, and for a leak its size.
pub type Fault = (usize, FaultKind, LeakSize);

/// A car with its faults.
#[derive(Debug, Clone)]
pub struct Car {
    pub faults: Vec<Fault>,
}

/// What a test shows that needs a part with this fault. Retyped from the agreed form of system files: "A leak in a part
/// under a sealed pump comes out creeps-back or, when large, no; under the running engine, no or, when small, yes. A
/// blocked part or a stuck actuator comes out no."
fn shown(fault: &Fault, source: VacuumSource) -> Moves {
    match fault {
        (_, FaultKind::Leaks, size) => match (source, size) {
            (VacuumSource::Pump, LeakSize::Large) => Moves::No,
            (VacuumSource::Pump, _) => Moves::CreepsBack,
            (VacuumSource::Engine, LeakSize::Small) => Moves::Yes,
            (VacuumSource::Engine, _) => Moves::No,
        },
        _ => Moves::No,
    }
}

pub fn worst(outcomes: &[Moves]) -> Moves {
    for outcome in [Moves::No, Moves::CreepsBack] {
        if outcomes.contains(&outcome) {
            return outcome;
        }
    }
    Moves::Yes
}

impl Car {
    pub fn shows(&self, system: &System, test: usize) -> Moves {
        let asked = &system.tests[test];
        let outcomes: Vec<Moves> = self
            .faults
            .iter()
            .filter(|fault| asked.needs.contains(&fault.0))
            .map(|fault| shown(fault, asked.source))
            .collect();
        worst(&outcomes)
    }

    fn components(&self) -> Vec<usize> {
        self.faults.iter().map(|fault| fault.0).collect()
    }
}

/// Sizes of a fault with their shares; what is no leak has one.
pub fn sizes(system: &System, kind: FaultKind) -> Vec<(LeakSize, f64)> {
    let leak = system.leak;
    if kind == FaultKind::Leaks {
        vec![
            (LeakSize::Small, leak.small),
            (LeakSize::Middling, 1.0 - leak.small - leak.large),
            (LeakSize::Large, leak.large),
        ]
    } else {
        vec![(LeakSize::Small, 1.0)]
    }
}

fn random_size(system: &System, kind: FaultKind, rng: &mut impl RngExt) -> LeakSize {
    let mut left = rng.random_range(0.0..1.0);
    let all = sizes(system, kind);
    for (size, share) in &all {
        left -= share;
        if left < 0.0 {
            return *size;
        }
    }
    all[all.len() - 1].0
}

/// A fault of a component by its priors.
pub fn random_fault(system: &System, component: usize, rng: &mut impl RngExt) -> Fault {
    let faults = &system.components[component].faults;
    let mut left = rng.random_range(0.0..faults.iter().map(|f| f.prior).sum::<f64>());
    let mut kind = faults[0].id;
    for fault in faults {
        kind = fault.id;
        left -= fault.prior;
        if left < 0.0 {
            break;
        }
    }
    (component, kind, random_size(system, kind, rng))
}

/// A car by the priors: each component by itself.
pub fn random_car(system: &System, rng: &mut impl RngExt) -> Car {
    let mut faults = Vec::new();
    for (c, component) in system.components.iter().enumerate() {
        let faulty: f64 = component.faults.iter().map(|f| f.prior).sum();
        if rng.random_range(0.0..1.0) < faulty {
            faults.push(random_fault(system, c, rng));
        }
    }
    Car { faults }
}

/// A system drawn at random, for sizes that no car has.
pub fn made_system(components: usize, tests: usize, rng: &mut impl RngExt) -> System {
    let mut text = String::from("schema = 1\nname = \"made\"\nvacuum_raises = true\n");
    for c in 0..components {
        let sticks = if c % 3 == 0 {
            ", { id = \"sticks\", prior = 0.02 }"
        } else {
            ""
        };
        text.push_str(&format!(
            "[[component]]\nid = \"c{c}\"\nlabel = \"part {c}\"\nfaults = [{{ id = \"leaks\", prior = {:.3} }}, {{ id = \
             \"blocked\", prior = 0.01 }}{sticks}]\nreplace_minutes = {}\n",
            rng.random_range(0.01..0.1),
            rng.random_range(10..40)
        ));
    }
    for t in 0..tests {
        let mut needs: Vec<usize> = (0..components).filter(|_| rng.random_range(0.0..1.0) < 0.2).collect();
        if !needs.contains(&(t % components)) {
            needs.push(t % components);
        }
        let needs: Vec<String> = needs.iter().map(|c| format!("\"c{c}\"")).collect();
        text.push_str(&format!(
            "[[test]]\nid = \"t{t}\"\nask = \"Test {t}.\"\nlamp = \"left\"\nneeds = [{}]\nsource = \"{}\"\nminutes = {}\n",
            needs.join(", "),
            if t % 2 == 0 { "engine" } else { "pump" },
            rng.random_range(2..9)
        ));
    }
    System::parse("made", std::path::Path::new("made.toml"), &text).unwrap()
}

/// Probability that a test comes out as `seen` when it shows `truth`.
fn likelihood(system: &System, test: usize, truth: Moves, seen: Moves) -> f64 {
    let asked = &system.tests[test];
    let others = match asked.source {
        VacuumSource::Engine if seen == Moves::CreepsBack => return 0.0,
        VacuumSource::Engine => 1.0,
        VacuumSource::Pump => 2.0,
    };
    if truth == seen {
        1.0 - asked.error_probability
    } else {
        asked.error_probability / others
    }
}

pub struct Reference<'a> {
    system: &'a System,
    cars: Vec<(Car, f64)>,
}

/// Cars with their probabilities.
pub struct Believed {
    cars: Vec<(Car, f64)>,
}

impl<'a> Reference<'a> {
    /// All cars with up to three faulty components.
    pub fn new(system: &'a System) -> Self {
        let mut cars = vec![(Car { faults: Vec::new() }, 1.0)];
        for component in &system.components {
            cars[0].1 *= 1.0 - component.faults.iter().map(|f| f.prior).sum::<f64>();
        }
        let mut smaller = 0..1;
        for _ in 0..3 {
            let until = cars.len();
            for n in smaller.clone() {
                let (car, probability) = cars[n].clone();
                let first = car.faults.last().map_or(0, |fault| fault.0 + 1);
                for c in first..system.components.len() {
                    let faults = &system.components[c].faults;
                    let sound = 1.0 - faults.iter().map(|f| f.prior).sum::<f64>();
                    for fault in faults {
                        for (size, share) in sizes(system, fault.id) {
                            let mut car = car.clone();
                            car.faults.push((c, fault.id, size));
                            cars.push((car, probability / sound * fault.prior * share));
                        }
                    }
                }
            }
            smaller = until..cars.len();
        }
        Self { system, cars }
    }

    pub fn believe(&self, evidence: &[Evidence]) -> Believed {
        let mut cars = self.cars.clone();
        for (car, probability) in &mut cars {
            for one in evidence {
                let truth = car.shows(self.system, one.test);
                *probability *= [Moves::Yes, Moves::No, Moves::CreepsBack]
                    .iter()
                    .zip(one.fits)
                    .map(|(seen, fit)| likelihood(self.system, one.test, truth, *seen) * fit)
                    .sum::<f64>();
            }
        }
        let sum: f64 = cars.iter().map(|car| car.1).sum();
        cars.iter_mut().for_each(|car| car.1 /= sum);
        Believed { cars }
    }

    fn believe_written(&self, trials: &[(usize, Moves)]) -> Believed {
        let evidence: Vec<Evidence> = trials
            .iter()
            .enumerate()
            .map(|(n, (test, moves))| Evidence::written(self.system, *test, *moves, Origin::Trial(n)))
            .collect();
        self.believe(&evidence)
    }

    /// Probability that a car comes out like this.
    pub fn probability(&self, trials: &[(usize, Moves)]) -> f64 {
        let all: f64 = self.cars.iter().map(|car| car.1).sum();
        let such: f64 = self
            .cars
            .iter()
            .map(|(car, probability)| {
                let of = |(test, seen): &(usize, Moves)| {
                    likelihood(self.system, *test, car.shows(self.system, *test), *seen)
                };
                probability * trials.iter().map(of).product::<f64>()
            })
            .sum();
        such / all
    }

    fn outcomes(&self, test: usize) -> Vec<Moves> {
        match self.system.tests[test].source {
            VacuumSource::Engine => vec![Moves::Yes, Moves::No],
            VacuumSource::Pump => vec![Moves::Yes, Moves::No, Moves::CreepsBack],
        }
    }

    pub fn predicted(&self, trials: &[(usize, Moves)], test: usize) -> Vec<(Moves, f64)> {
        let believed = self.believe_written(trials);
        self.outcomes(test)
            .into_iter()
            .map(|seen| (seen, self.comes_out(&believed, test, seen, |_| true)))
            .collect()
    }

    fn comes_out(&self, believed: &Believed, test: usize, seen: Moves, counts: impl Fn(&Car) -> bool) -> f64 {
        believed
            .cars
            .iter()
            .filter(|(car, _)| counts(car))
            .map(|(car, probability)| probability * likelihood(self.system, test, car.shows(self.system, test), seen))
            .sum()
    }

    /// Mutual information between the set of faulty components and the outcome, by its definition: the sum over both of
    /// p(s, o) log2 p(s, o) / p(s) / p(o).
    pub fn expected_bits(&self, believed: &Believed, test: usize) -> f64 {
        let mut sets: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
        let mut joint: BTreeMap<(Vec<usize>, usize), f64> = BTreeMap::new();
        let outcomes = self.outcomes(test);
        for (car, probability) in &believed.cars {
            *sets.entry(car.components()).or_default() += probability;
            for (n, seen) in outcomes.iter().enumerate() {
                *joint.entry((car.components(), n)).or_default() +=
                    probability * likelihood(self.system, test, car.shows(self.system, test), *seen);
            }
        }
        let marginal: Vec<f64> = (0..outcomes.len())
            .map(|n| joint.iter().filter(|(key, _)| key.1 == n).map(|(_, p)| p).sum())
            .collect();
        joint
            .iter()
            .filter(|(_, p)| **p > 0.0)
            .map(|((set, n), p)| p * (p / sets[set] / marginal[*n]).log2())
            .sum()
    }

    pub fn repair_minutes(&self, trials: &[(usize, Moves)]) -> f64 {
        self.minutes_of_repair(&self.believe_written(trials))
    }

    /// Replacing one part after the other, the most probability for its cost first, until all that a test can show is
    /// mended: told as a story for each car. The order is that of the decision; the count is this file's own.
    pub fn minutes_of_repair(&self, believed: &Believed) -> f64 {
        let cars: Vec<(Vec<usize>, f64)> = believed.cars.iter().map(|(car, p)| (self.to_mend(car), *p)).collect();
        self.minutes_of(cars.iter().map(|(broken, p)| (broken.as_slice(), *p)))
    }

    fn to_mend(&self, car: &Car) -> Vec<usize> {
        let seen = |fault: &Fault| {
            self.system
                .tests
                .iter()
                .any(|t| t.needs.contains(&fault.0) && shown(fault, t.source) != Moves::Yes)
        };
        car.faults
            .iter()
            .filter(|fault| seen(fault))
            .map(|fault| fault.0)
            .collect()
    }

    fn minutes_of<'c>(&self, cars: impl Iterator<Item = (&'c [usize], f64)> + Clone) -> f64 {
        let costs = self.system.costs;
        let count = self.system.components.len();
        let mut probability = vec![0.0; count + 1];
        for (broken, p) in cars.clone() {
            broken.iter().for_each(|&c| probability[c] += p);
            if broken.is_empty() {
                probability[count] += p;
            }
        }
        let expected_cost = |item: usize| match self.system.components.get(item) {
            Some(part) => {
                part.replace_minutes + costs.check_minutes + costs.wrong_part_minutes * (1.0 - probability[item])
            }
            None => costs.check_minutes,
        };
        let mut order: Vec<usize> = (0..=count).collect();
        order.sort_by(|a, b| (probability[*b] / expected_cost(*b)).total_cmp(&(probability[*a] / expected_cost(*a))));
        let mut minutes = 0.0;
        for (broken, p) in cars {
            let mut left = broken.len();
            for &item in &order {
                let looks_right = item == count;
                minutes += p * costs.check_minutes;
                if !looks_right {
                    minutes += p * self.system.components[item].replace_minutes;
                    if broken.contains(&item) {
                        left -= 1;
                    } else {
                        minutes += p * costs.wrong_part_minutes;
                    }
                }
                // A sound car is known to be sound when one looks, not when something else was replaced.
                if left == 0 && (looks_right || !broken.is_empty()) {
                    break;
                }
            }
        }
        minutes
    }

    /// Least expected minutes from `start` on, each test not in it at most once.
    pub fn optimum(&self, start: &[(usize, Moves)]) -> f64 {
        // Cars that no test tells apart and that want the same parts are one.
        let mut classes: BTreeMap<(Vec<usize>, Vec<usize>), f64> = BTreeMap::new();
        for (car, probability) in self.believe_written(start).cars {
            let shows = (0..self.system.tests.len())
                .map(|t| car.shows(self.system, t) as usize)
                .collect();
            *classes.entry((self.to_mend(&car), shows)).or_default() += probability;
        }
        let tests: Vec<usize> = (0..self.system.tests.len())
            .filter(|t| start.iter().all(|trial| trial.0 != *t))
            .collect();
        let classes: Vec<Class<'_>> = classes
            .iter()
            .map(|((broken, shows), probability)| Class {
                broken,
                shows,
                probability: *probability,
            })
            .collect();
        self.best(&classes, &tests, 0, 1.0, &mut HashMap::new())
    }

    /// `done`: two bits a test, 0 where it is not done yet, else its outcome's place and one.
    fn best(
        &self,
        classes: &[Class<'_>],
        tests: &[usize],
        done: u64,
        reached: f64,
        known: &mut HashMap<u64, f64>,
    ) -> f64 {
        if let Some(minutes) = known.get(&done) {
            return *minutes;
        }
        let mut best = self.minutes_of(classes.iter().map(|class| (class.broken, class.probability)));
        for (n, &test) in tests.iter().enumerate() {
            // What is hardly ever reached hardly counts; stopping there costs a little more than the best.
            if done >> (2 * n) & 3 != 0 || reached < 2e-3 {
                continue;
            }
            let mut minutes = self.system.tests[test].minutes;
            for (k, seen) in self.outcomes(test).into_iter().enumerate() {
                if minutes >= best {
                    break;
                }
                let weight = |class: &Class<'_>| {
                    let truth = [Moves::Yes, Moves::No, Moves::CreepsBack][class.shows[test]];
                    class.probability * likelihood(self.system, test, truth, seen)
                };
                let sum: f64 = classes.iter().map(weight).sum();
                let after: Vec<Class<'_>> = classes
                    .iter()
                    .map(|class| Class {
                        probability: weight(class) / sum,
                        ..*class
                    })
                    .filter(|class| class.probability > 1e-5)
                    .collect();
                let then = done | (k as u64 + 1) << (2 * n);
                minutes += sum * self.best(&after, tests, then, reached * sum, known);
            }
            best = best.min(minutes);
        }
        known.insert(done, best);
        best
    }
}

/// Cars that want the same parts and show the same, with their probability.
#[derive(Clone, Copy)]
struct Class<'c> {
    broken: &'c [usize],
    shows: &'c [usize],
    probability: f64,
}

impl Believed {
    pub fn by_component(&self, count: usize) -> Vec<f64> {
        (0..count)
            .map(|c| self.sum(|car| car.faults.iter().any(|fault| fault.0 == c)))
            .collect()
    }

    pub fn nothing(&self) -> f64 {
        self.sum(|car| car.faults.is_empty())
    }

    pub fn of_fault(&self, component: usize, kind: FaultKind) -> f64 {
        self.sum(|car| car.faults.iter().any(|fault| fault.0 == component && fault.1 == kind))
    }

    pub fn of_explanation(&self, faults: &[(usize, FaultKind)]) -> f64 {
        self.sum(|car| car.faults.iter().map(|f| (f.0, f.1)).eq(faults.iter().copied()))
    }

    fn sum(&self, counts: impl Fn(&Car) -> bool) -> f64 {
        self.cars.iter().filter(|(car, _)| counts(car)).map(|(_, p)| p).sum()
    }
}
