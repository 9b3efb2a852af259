//! A made-up workshop: simulated cars are isolated by doing what the program says.

use super::reference::{self, Car};
use crate::isolate::{Answer, Evidence, Origin, isolate};
use crate::record::{Moves, System};
use std::collections::BTreeMap;

/// Answers by what has been found so far: simulated cars come by the same places again and again.
pub struct Workshop<'a> {
    system: &'a System,
    answers: BTreeMap<Vec<(usize, usize)>, Answer>,
}

/// How a simulated car was isolated.
pub struct Course {
    pub answer: Answer,
    pub tests: usize,
    pub minutes: f64,
}

impl<'a> Workshop<'a> {
    pub fn new(system: &'a System) -> Self {
        Self {
            system,
            answers: BTreeMap::new(),
        }
    }

    pub fn answer(&mut self, trials: &[(usize, Moves)]) -> Answer {
        let mut key: Vec<(usize, usize)> = trials.iter().map(|(t, m)| (*t, *m as usize)).collect();
        key.sort_unstable();
        let system = self.system;
        self.answers
            .entry(key.clone())
            .or_insert_with(|| {
                let evidence: Vec<Evidence> = key
                    .iter()
                    .enumerate()
                    .map(|(n, &(test, moves))| {
                        let moves = [Moves::Yes, Moves::No, Moves::CreepsBack][moves];
                        Evidence::written(system, test, moves, Origin::Trial(n))
                    })
                    .collect();
                isolate(system, &evidence)
            })
            .clone()
    }

    /// Works both lamps' control, then does what the program says until it says stop.
    pub fn isolate(&mut self, mut outcome: impl FnMut(usize) -> Moves) -> Course {
        let mut trials: Vec<(usize, Moves)> = Vec::new();
        for id in ["operate-left", "operate-right"] {
            let test = self.system.test(id).unwrap();
            trials.push((test, outcome(test)));
        }
        let mut minutes = 0.0;
        loop {
            let answer = self.answer(&trials);
            let next = answer.decision.next.filter(|_| !answer.decision.stop);
            let Some(next) = next else {
                return Course {
                    answer,
                    tests: trials.len() - 2,
                    minutes,
                };
            };
            assert!(trials.len() < 60, "it never settles: {trials:?}");
            minutes += next.minutes;
            trials.push((next.test, outcome(next.test)));
        }
    }
}

pub fn is_right(answer: &Answer, car: &Car) -> bool {
    car.faults.iter().any(|fault| fault.0 == answer.suspects[0].component)
}

/// Every single fault that shows when the control is worked, with each size of leak, and its prior.
pub fn single_faults(system: &System) -> Vec<(Car, f64)> {
    let mut cars = Vec::new();
    for (c, component) in system.components.iter().enumerate() {
        for fault in &component.faults {
            for (size, share) in reference::sizes(system, fault.id) {
                cars.push((
                    Car {
                        faults: vec![(c, fault.id, size)],
                    },
                    fault.prior * share,
                ));
            }
        }
    }
    cars.retain(|(car, _)| shows_at_the_control(system, car));
    cars
}

pub fn shows_at_the_control(system: &System, car: &Car) -> bool {
    ["operate-left", "operate-right"]
        .iter()
        .any(|id| car.shows(system, system.test(id).unwrap()) != Moves::Yes)
}
