//! The slow, obvious reference implementation of the inference: every combination written out, every test looked up in words. It shares with
//! the library only the system file and the evidence.

use beamfall::isolate::{Evidence, LeakSize};
use beamfall::record::{FaultKind, Moves, Side, System, VacuumSource, Watch};
use rand::RngExt;
use std::collections::BTreeMap;

/// Component, fault, and for a leak its size.
pub type Fault = (usize, FaultKind, LeakSize);

/// A car with its faults.
#[derive(Debug, Clone)]
pub struct Car {
    pub faults: Vec<Fault>,
}

/// What is seen of a fault in a test that is done rightly, the worst last. Retyped from the agreed form of system files: "A leak in
/// a part under a sealed pump comes out creeps-back or, when large, no; under the running engine, no or, when small, yes. A blocked
/// part or a stuck actuator comes out no." Beyond that: a large leak under a pump creeps in two of five; what sticks, is stiff or gets
/// too little vacuum moves in one of five.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
enum Seen {
    Yes,
    Creeps,
    Weak,
    Catches,
    No,
}

impl Seen {
    fn probability(self, moves: Moves) -> f64 {
        match (self, moves) {
            (Self::Yes, Moves::Yes) | (Self::Creeps, Moves::CreepsBack) | (Self::No, Moves::No) => 1.0,
            (Self::Weak, Moves::No) => 0.6,
            (Self::Weak, Moves::CreepsBack) => 0.4,
            (Self::Catches, Moves::No) => 0.8,
            (Self::Catches, Moves::Yes) => 0.2,
            _ => 0.0,
        }
    }

    /// The outcome that is usual.
    fn usual(self) -> Moves {
        match self {
            Self::Yes => Moves::Yes,
            Self::Creeps => Moves::CreepsBack,
            _ => Moves::No,
        }
    }
}

fn seen(system: &System, fault: &Fault, test: usize) -> Seen {
    let (part, kind, size) = *fault;
    let asked = &system.tests[test];
    let leaks = matches!(kind, FaultKind::Leaks | FaultKind::LeaksLeft | FaultKind::LeaksRight);
    if !asked.shows.is_empty() && !asked.shows.contains(&kind) {
        return Seen::Yes;
    }
    if leaks && size == LeakSize::Draining && asked.drained_by.contains(&part) {
        return Seen::No;
    }
    let spared = |f: &beamfall::record::Fault| f.id == kind && f.spares.contains(&test);
    let other_port = match kind {
        FaultKind::LeaksLeft | FaultKind::BlockedLeft => asked.port == Some(Side::Right),
        FaultKind::LeaksRight | FaultKind::BlockedRight => asked.port == Some(Side::Left),
        _ => false,
    };
    if !asked.needs.contains(&part) || system.components[part].faults.iter().any(spared) || other_port {
        return Seen::Yes;
    }
    let pumped = asked.source == VacuumSource::Pump;
    if leaks {
        return match (pumped, size) {
            (true, LeakSize::Small | LeakSize::Middling) => Seen::Creeps,
            (true, _) => Seen::Weak,
            // The engine filled the reservoir against it, and the check valve has shut it off.
            (false, LeakSize::Small)
                if asked.id.starts_with("engine-off")
                    && ["source", "source-hose"].contains(&system.components[part].id.as_str()) =>
            {
                Seen::Yes
            }
            // The engine has stopped, or never ran: nothing outdoes it.
            (false, LeakSize::Small) if asked.id.starts_with("engine-off") || asked.source == VacuumSource::None => {
                Seen::Catches
            }
            (false, LeakSize::Small) => Seen::Yes,
            (false, _) => Seen::No,
        };
    }
    match kind {
        FaultKind::Restricted if pumped || asked.watch == Watch::Gauge => Seen::Yes,
        FaultKind::Restricted | FaultKind::Sticks | FaultKind::Stiff => Seen::Catches,
        _ => Seen::No,
    }
}

impl Car {
    /// What a test usually shows.
    pub fn shows(&self, system: &System, test: usize) -> Moves {
        self.seen(system, test).usual()
    }

    fn seen(&self, system: &System, test: usize) -> Seen {
        let all = self.faults.iter().map(|fault| seen(system, fault, test));
        all.fold(Seen::Yes, |worst, one| if one > worst { one } else { worst })
    }

    fn components(&self) -> Vec<usize> {
        self.faults.iter().map(|fault| fault.0).collect()
    }
}

/// Sizes of a fault with their shares; what is no leak has one.
pub fn sizes(system: &System, kind: FaultKind) -> Vec<(LeakSize, f64)> {
    if matches!(kind, FaultKind::Leaks | FaultKind::LeaksLeft | FaultKind::LeaksRight) {
        let leak = system.leak;
        vec![
            (LeakSize::Small, leak.small),
            (LeakSize::Middling, 1.0 - leak.small - leak.large),
            (LeakSize::Large, leak.large * (1.0 - leak.draining)),
            (LeakSize::Draining, leak.large * leak.draining),
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

/// Probability that a test of a car comes out as `moves`: an erroneous one comes out as any of the others alike.
fn likelihood(system: &System, test: usize, car: &Car, moves: Moves) -> f64 {
    let asked = &system.tests[test];
    let others = match asked.source {
        VacuumSource::Pump => 2.0,
        _ if moves == Moves::CreepsBack => return 0.0,
        _ => 1.0,
    };
    let right = car.seen(system, test).probability(moves);
    right * (1.0 - asked.error_probability) + (1.0 - right) * asked.error_probability / others
}

/// How many ends a hose has.
fn all_ends(system: &System, part: usize) -> f64 {
    let mut ends: Vec<&str> = Vec::new();
    for end in system.tests.iter().flat_map(|test| &test.ends) {
        if end.component == part && !ends.contains(&end.at.as_str()) {
            ends.push(&end.at);
        }
    }
    ends.len().max(2) as f64
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
                            let more = if car.faults.is_empty() { 1.0 } else { system.together };
                            car.faults.push((c, fault.id, size));
                            cars.push((car, probability / sound * fault.prior * share * more));
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
                *probability *= [Moves::Yes, Moves::No, Moves::CreepsBack]
                    .iter()
                    .zip(one.fits)
                    .map(|(seen, fit)| likelihood(self.system, one.test, car, *seen) * fit)
                    .sum::<f64>();
            }
            // An end that was looked at and found off would have been written down, nine times in ten.
            for (part, kind, _) in &car.faults {
                if *kind == FaultKind::Off {
                    let mut ends: Vec<&str> = Vec::new();
                    for end in evidence.iter().flat_map(|one| &self.system.tests[one.test].ends) {
                        if end.component == *part && !ends.contains(&end.at.as_str()) {
                            ends.push(&end.at);
                        }
                    }
                    *probability *= 1.0 - 0.9 * ends.len() as f64 / all_ends(self.system, *part);
                }
            }
        }
        let sum: f64 = cars.iter().map(|car| car.1).sum();
        cars.iter_mut().for_each(|car| car.1 /= sum);
        Believed { cars }
    }

    fn outcomes(&self, test: usize) -> Vec<Moves> {
        match self.system.tests[test].source {
            VacuumSource::Pump => vec![Moves::Yes, Moves::No, Moves::CreepsBack],
            _ => vec![Moves::Yes, Moves::No],
        }
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
                    probability * likelihood(self.system, test, car, *seen);
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
