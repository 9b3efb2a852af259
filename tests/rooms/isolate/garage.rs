//! Made cars in made workshops, mended twice: once by doing what the program says, once by a mechanic's plain half-split. What a
//! car shows is worked out here, part by part, and shares nothing with the program but the system file.
//!
//! Both are charged alike: the minutes of each test; what has to be opened or set up, once; the minutes of each repair, and the look at
//! the beams after it; the price of a part fitted for nothing; and all that comes after a repair that did not help.

use beamfall::isolate::{Answer, Done, Evidence, Origin, Repair, isolate_from};
use beamfall::record::{FaultKind, Moves, Side, System, Test, VacuumSource, Watch};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use std::collections::BTreeMap;

/// Answers that are wrong, whatever the system file says of its tests (a test that it calls worse is as bad as it says).
pub const WRONG: f64 = 0.05;
/// After so many minutes a car counts as never mended.
const PATIENCE_MINUTES: f64 = 600.0;

/// How parts fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum World {
    /// One fault, seldom two, that shows the same in each test; leaks, blocked and stuck parts, hoses that are off.
    Plain,
    /// The same, and: a large leak beside one lamp drains the other; a control leaks at one port only; a check valve is blocked and
    /// holds its reservoir; what sticks comes free now and then; a large leak under a hard-worked pump moves and creeps.
    Workshop,
    /// As the system file has them: each part by itself, by its own priors, in a workshop as above.
    Priors,
    /// Nothing is at fault.
    Sound,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Leak {
    Small,
    Middling,
    Large,
}

/// One fault of a car.
#[derive(Debug, Clone)]
struct Broken {
    component: usize,
    kind: FaultKind,
    leak: Leak,
    /// It takes the other lamp's vacuum.
    drains: bool,
    /// Of a hose that is off: which of its ends, by a number of its own.
    end: usize,
}

/// A car with its faults, of which repairs take some away.
#[derive(Debug, Clone)]
pub struct MadeCar {
    world: World,
    broken: Vec<Broken>,
    /// Repairs of a broken part, the first of them, after which what was fitted is at fault: a bad new part, or a hose left off.
    pub bungled: usize,
}

impl MadeCar {
    /// A car that comes in because a beam does not follow; or a sound one.
    pub fn draw(system: &System, world: World, rng: &mut ChaCha8Rng) -> Self {
        loop {
            let car = Self {
                world,
                broken: Self::faults(system, world, rng),
                bungled: 0,
            };
            if world == World::Sound || !car.works(system) {
                return car;
            }
        }
    }

    fn faults(system: &System, world: World, rng: &mut ChaCha8Rng) -> Vec<Broken> {
        let kinds = |c: usize| {
            let all = system.components[c].faults.iter();
            // A plain world has the plain faults only.
            let plain = |kind: FaultKind| {
                matches!(
                    kind,
                    FaultKind::Leaks | FaultKind::Blocked | FaultKind::Sticks | FaultKind::Off
                )
            };
            all.filter(|f| world != World::Plain || plain(f.id))
                .map(|f| (f.id, f.prior))
                .collect::<Vec<_>>()
        };
        if world == World::Sound {
            return Vec::new();
        }
        if world == World::Priors {
            let mut all = Vec::new();
            for c in 0..system.components.len() {
                let sum: f64 = kinds(c).iter().map(|k| k.1).sum();
                if rng.random_range(0.0..1.0) < sum {
                    all.push(Self::fault(system, world, c, pick(&kinds(c), rng), rng));
                }
            }
            return all;
        }
        // This workshop's parts fail by up to twice or half as often as the system file has it.
        let weights: Vec<(usize, f64)> = (0..system.components.len())
            .map(|c| {
                (
                    c,
                    kinds(c).iter().map(|k| k.1).sum::<f64>() * 2f64.powf(rng.random_range(-1.0..1.0)),
                )
            })
            .collect();
        let mut parts = vec![pick(&weights, rng)];
        if rng.random_range(0.0..1.0) < 0.15 {
            let second = pick(&weights, rng);
            if !parts.contains(&second) {
                parts.push(second);
            }
        }
        let of = |c: usize, rng: &mut ChaCha8Rng| Self::fault(system, world, c, pick(&kinds(c), rng), rng);
        parts.into_iter().map(|c| of(c, rng)).collect()
    }

    fn fault(system: &System, world: World, component: usize, kind: FaultKind, rng: &mut ChaCha8Rng) -> Broken {
        let size = rng.random_range(0.0..1.0);
        let leak = if size < system.leak.small {
            Leak::Small
        } else if size < 1.0 - system.leak.large {
            Leak::Middling
        } else {
            Leak::Large
        };
        let has_ports = system.components[component]
            .faults
            .iter()
            .any(|f| f.id == FaultKind::LeaksLeft);
        let kind = match (kind, world) {
            // Every third control that leaks does so at one port only.
            (FaultKind::Leaks, World::Workshop) if has_ports && rng.random_range(0..3) == 0 => {
                [FaultKind::LeaksLeft, FaultKind::LeaksRight][rng.random_range(0..2)]
            }
            // And every third that lets nothing through.
            (FaultKind::Blocked, World::Workshop) if has_ports && rng.random_range(0..3) == 0 => {
                [FaultKind::BlockedLeft, FaultKind::BlockedRight][rng.random_range(0..2)]
            }
            (kind, _) => kind,
        };
        Broken {
            component,
            kind,
            leak,
            drains: world != World::Plain && rng.random_range(0.0..1.0) < 0.5,
            end: rng.random_range(0..12),
        }
    }

    /// What one fault lets a test show.
    fn shown(&self, system: &System, broken: &Broken, test: &Test, mut rng: Option<&mut ChaCha8Rng>) -> Moves {
        let leaks = matches!(
            broken.kind,
            FaultKind::Leaks | FaultKind::LeaksLeft | FaultKind::LeaksRight
        );
        if !test.shows.is_empty() && !test.shows.contains(&broken.kind) {
            return Moves::Yes;
        }
        if leaks && broken.drains && broken.leak == Leak::Large && test.drained_by.contains(&broken.component) {
            return Moves::No;
        }
        if !test.needs.contains(&broken.component) {
            return Moves::Yes;
        }
        // A check valve that does not hold shows only where nothing draws any more.
        let still = ["engine-off-left", "check-valve-alone", "pump-at-reservoir"];
        if system.components[broken.component].id == "check-valve"
            && (leaks && !still.contains(&test.id.as_str())
                || broken.kind == FaultKind::Off && test.id == "check-valve-alone")
        {
            return Moves::Yes;
        }
        let pumped = test.source == VacuumSource::Pump;
        let mut chance = |share: f64| rng_or(rng.as_deref_mut(), share);
        match broken.kind {
            FaultKind::LeaksLeft | FaultKind::BlockedLeft if test.port == Some(Side::Right) => Moves::Yes,
            FaultKind::LeaksRight | FaultKind::BlockedRight if test.port == Some(Side::Left) => Moves::Yes,
            FaultKind::Leaks | FaultKind::LeaksLeft | FaultKind::LeaksRight => match broken.leak {
                Leak::Small if pumped => Moves::CreepsBack,
                Leak::Small => Moves::Yes,
                Leak::Middling if pumped => Moves::CreepsBack,
                Leak::Large if pumped && self.world != World::Plain && chance(0.5) => Moves::CreepsBack,
                _ => Moves::No,
            },
            // A valve that lets nothing in from the engine holds what a pump puts behind it.
            FaultKind::Blocked
                if system.components[broken.component].id == "check-valve" && test.id == "pump-at-reservoir" =>
            {
                if self.world == World::Plain {
                    Moves::No
                } else {
                    Moves::Yes
                }
            }
            FaultKind::Sticks | FaultKind::Stiff if self.world != World::Plain && chance(0.2) => Moves::Yes,
            FaultKind::Restricted if pumped || test.watch == Watch::Gauge || chance(0.2) => Moves::Yes,
            _ => Moves::No,
        }
    }

    /// What a test shows that is done rightly; without `rng` nothing comes free by chance.
    pub fn shows(&self, system: &System, test: usize, mut rng: Option<&mut ChaCha8Rng>) -> Moves {
        let mut worst = Moves::Yes;
        for broken in &self.broken {
            match self.shown(system, broken, &system.tests[test], rng.as_deref_mut()) {
                Moves::No => return Moves::No,
                Moves::CreepsBack => worst = Moves::CreepsBack,
                Moves::Yes => {}
            }
        }
        worst
    }

    /// What is written down of a test.
    fn written(&self, system: &System, test: usize, rng: &mut ChaCha8Rng) -> Moves {
        let truth = self.shows(system, test, Some(rng));
        if rng.random_range(0.0..1.0) >= WRONG.max(system.tests[test].error_probability) {
            return truth;
        }
        let mut others = vec![Moves::Yes, Moves::No];
        if system.tests[test].source == VacuumSource::Pump {
            others.push(Moves::CreepsBack);
        }
        others.retain(|one| *one != truth);
        others[rng.random_range(0..others.len())]
    }

    /// The component that is broken, with the minutes of mending it, where only one is.
    pub fn only_fault(&self, system: &System) -> Option<(usize, f64)> {
        match self.broken.as_slice() {
            [one] => Some((one.component, mend_minutes(system, one.component, one.kind))),
            _ => None,
        }
    }

    /// A hose that is off at an end that the steps of a test look at.
    fn off_in_sight(&self, system: &System, test: usize) -> Option<usize> {
        let is_seen = |broken: &&Broken| {
            let mut ends: Vec<&str> = Vec::new();
            let all = system.tests.iter().flat_map(|test| &test.ends);
            for end in all.filter(|end| end.component == broken.component) {
                if !ends.contains(&end.at.as_str()) {
                    ends.push(&end.at);
                }
            }
            let count = ends.len().max(2);
            let at = ends.get(broken.end % count);
            let mut in_sight = system.tests[test].ends.iter();
            broken.kind == FaultKind::Off
                && in_sight.any(|end| end.component == broken.component && Some(&end.at.as_str()) == at)
        };
        self.broken.iter().find(is_seen).map(|broken| broken.component)
    }

    fn works(&self, system: &System) -> bool {
        looks(system)
            .into_iter()
            .all(|test| self.shows(system, test, None) == Moves::Yes)
    }
}

fn rng_or(rng: Option<&mut ChaCha8Rng>, share: f64) -> bool {
    rng.is_some_and(|rng| rng.random_range(0.0..1.0) < share)
}

fn pick<T: Copy>(weighted: &[(T, f64)], rng: &mut ChaCha8Rng) -> T {
    let mut left = rng.random_range(0.0..weighted.iter().map(|w| w.1).sum::<f64>());
    for &(one, weight) in weighted {
        left -= weight;
        if left < 0.0 {
            return one;
        }
    }
    weighted[0].0
}

pub fn looks(system: &System) -> Vec<usize> {
    ["operate-left", "operate-right"]
        .map(|id| system.test(id).unwrap())
        .to_vec()
}

/// Time to mend a fault, by a new part or without one, minutes.
fn mend_minutes(system: &System, c: usize, kind: FaultKind) -> f64 {
    let part = &system.components[c];
    let of_kind = part.faults.iter().find(|f| f.id == kind);
    of_kind.and_then(|f| f.mend_minutes).unwrap_or(part.replace_minutes)
}

/// What a car cost until it was mended.
#[derive(Debug, Clone, Default)]
pub struct Bill {
    pub minutes: f64,
    pub wrong_parts: usize,
    pub tests: usize,
    pub repeats: usize,
    pub mended: bool,
    /// The last word was that nothing is at fault.
    pub nothing: bool,
}

/// A car in the workshop: what is done to it is charged.
struct Job<'a> {
    system: &'a System,
    car: MadeCar,
    rng: ChaCha8Rng,
    set_up: Vec<bool>,
    /// For each test the components that were mended when it was last done.
    done: BTreeMap<usize, Vec<usize>>,
    mended: Vec<usize>,
    bill: Bill,
}

impl<'a> Job<'a> {
    fn new(system: &'a System, car: MadeCar, seed: u64) -> Self {
        Self {
            system,
            car,
            rng: ChaCha8Rng::seed_from_u64(seed),
            set_up: vec![false; system.setups.len()],
            done: BTreeMap::new(),
            mended: Vec::new(),
            bill: Bill::default(),
        }
    }

    fn set_up(&mut self, wanted: &[usize]) {
        for &s in wanted {
            if !self.set_up[s] {
                self.set_up[s] = true;
                self.bill.minutes += self.system.setups[s].minutes;
            }
        }
    }

    fn minutes_of(&self, test: usize) -> f64 {
        let open = |s: &&usize| !self.set_up[**s];
        let setup: f64 = self.system.tests[test]
            .setup
            .iter()
            .filter(open)
            .map(|s| self.system.setups[*s].minutes)
            .sum();
        self.system.tests[test].minutes + setup
    }

    /// What one sees on the way to a test, its parts laid open: a hose that is off, nine times in ten. It is pushed home.
    fn found_off(&mut self, test: usize) -> Option<usize> {
        let c = self.car.off_in_sight(self.system, test)?;
        if self.rng.random_range(0.0..1.0) < 0.1 {
            return None;
        }
        let setup = self.system.tests[test].setup.clone();
        self.set_up(&setup);
        self.bill.minutes += mend_minutes(self.system, c, FaultKind::Off);
        self.car.broken.retain(|b| b.component != c);
        self.mended.push(c);
        Some(c)
    }

    fn test(&mut self, test: usize) -> Moves {
        let entry = &self.system.tests[test];
        self.set_up(&entry.setup.clone());
        self.bill.minutes += entry.minutes;
        self.bill.tests += 1;
        // A test is a repeat where nothing that it needs was mended since.
        if let Some(then) = self.done.insert(test, self.mended.clone()) {
            let since = self.mended.iter().filter(|c| !then.contains(c));
            let touched = since
                .into_iter()
                .any(|c| entry.needs.contains(c) || entry.drained_by.contains(c));
            self.bill.repeats += usize::from(!touched);
        }
        self.car.written(self.system, test, &mut self.rng)
    }

    /// Mends or replaces a part, and looks at both beams; what they show then.
    fn repair(&mut self, c: usize) -> Vec<Moves> {
        let part = &self.system.components[c];
        self.set_up(&part.setup.clone());
        let of: Vec<FaultKind> = self
            .car
            .broken
            .iter()
            .filter(|b| b.component == c)
            .map(|b| b.kind)
            .collect();
        self.bill.minutes += match of.first() {
            Some(kind) => mend_minutes(self.system, c, *kind),
            None => part.replace_minutes + self.system.costs.wrong_part_minutes,
        };
        self.bill.wrong_parts += usize::from(of.is_empty());
        let (was_felt, was_broken) = (!self.car.works(self.system), !of.is_empty());
        self.car.broken.retain(|b| b.component != c);
        if self.car.bungled > 0 && was_felt && was_broken {
            self.car.bungled -= 1;
            let kinds: Vec<(FaultKind, f64)> = part.faults.iter().map(|f| (f.id, 1.0)).collect();
            while self.car.works(self.system) {
                let kind = pick(&kinds, &mut self.rng);
                let fault = MadeCar::fault(self.system, self.car.world, c, kind, &mut self.rng);
                self.car.broken.retain(|b| b.component != c);
                self.car.broken.push(fault);
            }
        }
        self.mended.push(c);
        self.look()
    }

    /// Works the control with care after a repair: what a car does then is seen rightly.
    fn look(&mut self) -> Vec<Moves> {
        self.bill.minutes += self.system.costs.check_minutes;
        self.bill.mended = self.car.works(self.system);
        looks(self.system)
            .into_iter()
            .map(|test| self.car.shows(self.system, test, None))
            .collect()
    }

    fn is_out_of_patience(&self) -> bool {
        self.bill.minutes > PATIENCE_MINUTES
    }
}

/// What the program has answered to what was found: cars come by the same places again and again.
pub type Answers = BTreeMap<(Vec<(usize, usize, u128, u128)>, u128), Answer>;

fn ask(system: &System, evidence: &[Evidence], mended: u128, known: &mut Answers) -> Answer {
    let key = evidence
        .iter()
        .map(|one| (one.test, one.outcome() as usize, one.mended, one.mended_again))
        .collect();
    let done = Done {
        mended,
        ..Done::default()
    };
    known
        .entry((key, mended))
        .or_insert_with(|| isolate_from(system, evidence, done))
        .clone()
}

/// Does what the program says until the car works; `believed` is the system as the program has it.
pub fn by_the_program(system: &System, believed: &System, car: &MadeCar, seed: u64, known: &mut Answers) -> Bill {
    let mut job = Job::new(system, car.clone(), seed);
    let (mut evidence, mut mended): (Vec<Evidence>, u128) = (Vec::new(), 0);
    let note = |test: usize, moves: Moves, mended: u128, evidence: &mut Vec<Evidence>| {
        let one = Evidence::written(believed, test, moves, Origin::Trial(evidence.len()));
        evidence.push(one.with_mended(mended));
    };
    let trace = std::env::var("BEAMFALL_TRACE").is_ok();
    if trace {
        println!(
            "car {:?}",
            car.broken
                .iter()
                .map(|b| (&system.components[b.component].id, b.kind, b.leak, b.drains))
                .collect::<Vec<_>>()
        );
    }
    while !job.is_out_of_patience() {
        let answer = ask(believed, &evidence, mended, known);
        let decision = &answer.decision;
        if let (Some(next), false) = (decision.next, decision.stop) {
            if let Some(c) = job.found_off(next.test) {
                // He writes it down as the steps say, and goes on.
                let hoses = system.test("look-at-hoses").unwrap();
                note(hoses, Moves::No, mended, &mut evidence);
                for one in evidence.iter_mut().filter(|one| one.mended >> c & 1 == 1) {
                    one.mended_again |= 1 << c;
                }
                mended |= 1 << c;
                if trace {
                    println!("  {} was off ({:.0} min)", system.components[c].id, job.bill.minutes);
                }
            }
            let moves = job.test(next.test);
            if trace {
                println!("  {} {moves} ({:.0} min)", system.tests[next.test].id, job.bill.minutes);
            }
            note(next.test, moves, mended, &mut evidence);
            continue;
        }
        let said = decision.repairs(&answer.by_component, answer.nothing);
        let seen = match said.first() {
            Some(Repair::Replace(c)) => {
                // What was found of a part that is mended once more was found of another.
                for one in evidence.iter_mut().filter(|one| one.mended >> c & 1 == 1) {
                    one.mended_again |= 1 << c;
                }
                mended |= 1 << c;
                let seen = job.repair(*c);
                if trace {
                    println!("  replace {} ({:.0} min)", system.components[*c].id, job.bill.minutes);
                }
                seen
            }
            _ => {
                job.bill.nothing = true;
                job.look()
            }
        };
        if job.bill.mended {
            return job.bill;
        }
        job.bill.nothing = false;
        for (test, moves) in looks(system).into_iter().zip(seen) {
            note(test, moves, mended, &mut evidence);
        }
    }
    job.bill
}

/// A mechanic's half-split. He looks at both lamps first. Where one beam follows, its path is sound; where both fail, it is what they
/// share. Then he tests where it halves what is left, by how often the parts fail, for the least minutes, with what he has open already
/// in mind: a gauge, a bridge, or the pump at the line or the lamp. A test that fails leaves what it needs, one that passes what it
/// does not. He takes no test for it that can miss a fault, or that is often wrong. One part left is replaced, and he looks again; a
/// hose that he finds off he pushes on. Where tests gainsay each other, or nothing is left, he begins again with what is not replaced
/// yet, and where no test halves it, the likeliest part for its minutes goes. So on until the car works.
pub fn by_half_split(system: &System, car: &MadeCar, seed: u64) -> Bill {
    let mut job = Job::new(system, car.clone(), seed);
    let prior: Vec<f64> = system
        .components
        .iter()
        .map(|c| c.faults.iter().map(|f| f.prior).sum())
        .collect();
    let usable: Vec<usize> = (0..system.tests.len())
        .filter(|&t| system.tests[t].shows.is_empty() && system.tests[t].error_probability <= 0.1)
        .filter(|&t| !system.tests[t].by_positions)
        .collect();
    let mut seen: Vec<Moves> = looks(system).into_iter().map(|test| job.test(test)).collect();
    let mut passed: Vec<bool> = vec![false; system.components.len()];
    let mut tried: Vec<usize> = Vec::new();
    let mut left = suspects(system, &seen, &passed, &job.mended, false);
    while !job.is_out_of_patience() {
        if seen.iter().all(|moves| *moves == Moves::Yes) {
            // Nothing to find: he looks once more.
            seen = job.look();
            if job.bill.mended {
                job.bill.nothing = true;
                return job.bill;
            }
            left = suspects(system, &seen, &passed, &job.mended, false);
            continue;
        }
        if left.is_empty() {
            // What both beams share was found sound, or a test was wrong: whatever a failing beam needs, from the start.
            passed.fill(false);
            tried.clear();
            left = suspects(system, &seen, &passed, &job.mended, true);
            if left.is_empty() {
                left = (0..system.components.len()).collect();
            }
        }
        let all: f64 = left.iter().map(|&c| prior[c]).sum();
        let halves = |t: usize| {
            let needed: f64 = left
                .iter()
                .filter(|c| system.tests[t].needs.contains(c))
                .map(|&c| prior[c])
                .sum();
            (needed / all).min(1.0 - needed / all) / job.minutes_of(t)
        };
        let best = usable
            .iter()
            .copied()
            .filter(|t| !tried.contains(t) && halves(*t) > 1e-6)
            .max_by(|a, b| halves(*a).total_cmp(&halves(*b)));
        if let (Some(test), true) = (best, left.len() > 1) {
            tried.push(test);
            if job.found_off(test).is_some() {
                seen = job.look();
                if job.bill.mended {
                    return job.bill;
                }
                left = suspects(system, &seen, &passed, &job.mended, false);
                continue;
            }
            let needs = &system.tests[test].needs;
            if job.test(test) == Moves::Yes {
                needs.iter().for_each(|&c| passed[c] = true);
                left.retain(|c| !needs.contains(c));
            } else {
                left.retain(|c| needs.contains(c));
            }
            continue;
        }
        let worth = |c: usize| prior[c] / system.components[c].replace_minutes;
        let Some(part) = left.iter().copied().max_by(|a, b| worth(*a).total_cmp(&worth(*b))) else {
            break;
        };
        // No actuator and no line goes that the pump has not shown to fail.
        let proof = |t: &usize| {
            let test = &system.tests[*t];
            test.source == VacuumSource::Pump && test.lamp.is_some() && test.needs.contains(&part)
        };
        let narrow = usable
            .iter()
            .copied()
            .filter(proof)
            .min_by_key(|t| system.tests[*t].needs.len());
        if let Some(test) = narrow.filter(|t| !tried.contains(t)) {
            tried.push(test);
            if job.test(test) == Moves::Yes {
                system.tests[test].needs.iter().for_each(|&c| passed[c] = true);
                left.retain(|c| !system.tests[test].needs.contains(c));
                continue;
            }
        }
        seen = job.repair(part);
        if job.bill.mended {
            return job.bill;
        }
        left = suspects(system, &seen, &passed, &job.mended, false);
    }
    job.bill
}

/// What can be at fault by the beams alone, without what was found sound or was replaced.
fn suspects(system: &System, seen: &[Moves], passed: &[bool], mended: &[usize], wide: bool) -> Vec<usize> {
    let tests = looks(system);
    let fails: Vec<&Test> = tests
        .iter()
        .zip(seen)
        .filter(|(_, m)| **m != Moves::Yes)
        .map(|(t, _)| &system.tests[*t])
        .collect();
    let works: Vec<&Test> = tests
        .iter()
        .zip(seen)
        .filter(|(_, m)| **m == Moves::Yes)
        .map(|(t, _)| &system.tests[*t])
        .collect();
    let open = |c: &usize| !passed[*c] && !mended.contains(c);
    let narrow: Vec<usize> = (0..system.components.len())
        .filter(open)
        .filter(|c| fails.iter().all(|t| t.needs.contains(c)) && !works.iter().any(|t| t.needs.contains(c)))
        .collect();
    if !narrow.is_empty() && !wide {
        return narrow;
    }
    // Two faults, or a port of the control: whatever a failing beam needs.
    (0..system.components.len())
        .filter(open)
        .filter(|c| fails.iter().any(|t| t.needs.contains(c)))
        .collect()
}

/// Who knows the faults: he looks at both beams, mends what has to be mended so that they follow, and looks after each.
pub fn oracle(system: &System, car: &MadeCar) -> Bill {
    let sets = (0..1u32 << car.broken.len()).map(|set| {
        let mut job = Job::new(system, car.clone(), 0);
        for test in looks(system) {
            job.test(test);
        }
        if set == 0 {
            job.look();
        }
        for (_, broken) in car.broken.iter().enumerate().filter(|(n, _)| set >> n & 1 == 1) {
            job.repair(broken.component);
        }
        job.bill
    });
    let mended = sets.filter(|bill| bill.mended);
    mended
        .min_by(|a, b| a.minutes.total_cmp(&b.minutes))
        .expect("all repaired, it works")
}

/// A row of the table: means over the cars.
#[derive(Debug, Clone, Default)]
pub struct Row {
    pub minutes: f64,
    pub wrong_parts: f64,
    pub never: usize,
    pub repeats: f64,
    pub tests: f64,
    pub nothing: f64,
}

impl Row {
    fn of(bills: &[Bill]) -> Self {
        let mean = |of: &dyn Fn(&Bill) -> f64| bills.iter().map(of).sum::<f64>() / bills.len() as f64;
        Self {
            minutes: mean(&|b| b.minutes),
            wrong_parts: mean(&|b| b.wrong_parts as f64),
            never: bills.iter().filter(|b| !b.mended).count(),
            repeats: mean(&|b| b.repeats as f64) / mean(&|b| b.tests as f64).max(1e-9),
            tests: mean(&|b| b.tests as f64),
            nothing: mean(&|b| f64::from(u8::from(b.nothing))),
        }
    }
}

/// Cars of which the first repair of what is broken is bungled, mended by what the program says.
pub fn bungled(system: &System, world: World, cars: usize, seed: u64) -> Row {
    let mut known = Answers::new();
    let bills = (0..cars as u64).map(|n| {
        let mut rng = ChaCha8Rng::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(n));
        let mut car = MadeCar::draw(system, world, &mut rng);
        car.bungled = 1;
        by_the_program(system, system, &car, n, &mut known)
    });
    Row::of(&bills.collect::<Vec<_>>())
}

/// The same cars mended both ways: the program's row, and the half-split's. The program believes the system to be as `believed` has it;
/// the cars, the charges and the half-split go by `system`.
pub fn compare(system: &System, believed: &System, world: World, cars: usize, seed: u64) -> (Row, Row) {
    let mut known = Answers::new();
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for n in 0..cars as u64 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(n));
        let car = MadeCar::draw(system, world, &mut rng);
        ours.push(by_the_program(system, believed, &car, n, &mut known));
        theirs.push(by_half_split(system, &car, n));
    }
    (Row::of(&ours), Row::of(&theirs))
}
