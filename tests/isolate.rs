//! Fault isolation held against a slow, obvious twin, published examples, simulated cars, and the program as it is run.

#[path = "isolate/twin.rs"]
mod twin;
#[path = "isolate/workshop.rs"]
mod workshop;

use beamfall::isolate::{Evidence, LeakSize, Origin, isolate};
use beamfall::record::{FaultKind, Moves, System, VacuumSource};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use twin::{Car, Twin, worst};
use workshop::{Workshop, is_right, shows_at_the_control, single_faults};

fn shipped(name: &str) -> System {
    System::find(name, Path::new(".")).unwrap()
}

fn cabin() -> System {
    shipped("vacuum-cabin-control")
}

/// Trials as written down, by the tests' names.
fn written(system: &System, trials: &[(&str, Moves)]) -> Vec<Evidence> {
    trials
        .iter()
        .enumerate()
        .map(|(n, (id, moves))| Evidence::written(system, system.test(id).unwrap(), *moves, Origin::Trial(n)))
        .collect()
}

#[test]
fn every_single_fault_told_truthfully_is_found_in_three_tests() {
    let system = cabin();
    let mut workshop = Workshop::new(&system);
    let cars = single_faults(&system);
    // Seven parts; middling and large leaks, blocked, and two actuators that stick.
    assert_eq!(cars.len(), 7 * 3 + 2);
    let (mut tests, mut most, mut minutes) = (0, 0, 0.0);
    for (car, _) in &cars {
        let course = workshop.isolate(|test| car.shows(&system, test));
        assert!(
            is_right(&course.answer, car),
            "{car:?}: {:?}",
            course.answer.suspects[0]
        );
        assert!(course.answer.contradiction.is_none(), "{car:?}");
        tests += course.tests;
        most = most.max(course.tests);
        minutes += course.minutes;
    }
    let mean = tests as f64 / cars.len() as f64;
    println!(
        "{} single faults: first suspect right in all; further tests {mean:.2} on average, {most} at the most, {:.1} min",
        cars.len(),
        minutes / cars.len() as f64
    );
    assert!(mean <= 3.0, "{mean}");
}

#[test]
fn of_two_random_faults_one_is_named_first() {
    let system = cabin();
    let mut workshop = Workshop::new(&system);
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let (mut right, mut cars, mut tests) = (0, 0, 0);
    while cars < 2000 {
        let first = rng.random_range(0..system.components.len());
        let second = rng.random_range(0..system.components.len());
        if first == second {
            continue;
        }
        let faults = [first, second]
            .map(|c| twin::random_fault(&system, c, &mut rng))
            .to_vec();
        let car = Car { faults };
        if !shows_at_the_control(&system, &car) {
            continue;
        }
        let course = workshop.isolate(|test| car.shows(&system, test));
        cars += 1;
        tests += course.tests;
        right += usize::from(is_right(&course.answer, &car));
    }
    println!(
        "{cars} random double faults: a true part first in {:.2} %, {:.2} further tests on average",
        100.0 * right as f64 / cars as f64,
        tests as f64 / cars as f64
    );
    assert!(right as f64 >= 0.95 * cars as f64, "{right} of {cars}");
}

#[test]
fn with_one_trial_in_twenty_botched_nine_of_ten_settled_cars_are_right() {
    let system = cabin();
    let mut workshop = Workshop::new(&system);
    let mut rng = ChaCha8Rng::seed_from_u64(2);
    let (mut right, mut cars, mut botched, mut tests) = (0, 0, 0, 0);
    while cars < 2000 {
        let car = twin::random_car(&system, &mut rng);
        if !shows_at_the_control(&system, &car) {
            continue;
        }
        let course = workshop.isolate(|test| {
            let truth = car.shows(&system, test);
            if rng.random_range(0.0..1.0) >= 0.05 {
                return truth;
            }
            botched += 1;
            let mut wrong = vec![Moves::Yes, Moves::No];
            if system.tests[test].source == VacuumSource::Pump {
                wrong.push(Moves::CreepsBack);
            }
            wrong.retain(|outcome| *outcome != truth);
            wrong[rng.random_range(0..wrong.len())]
        });
        cars += 1;
        tests += course.tests;
        right += usize::from(is_right(&course.answer, &car));
    }
    println!(
        "{cars} cars, {botched} botched trials: right part first in {:.2} % when settled, {:.2} further tests on average",
        100.0 * right as f64 / cars as f64,
        tests as f64 / cars as f64
    );
    assert!(right as f64 >= 0.90 * cars as f64, "{right} of {cars}");
}

/// The optimum over all plans, by dynamic programming with the twin's own belief: each further test at most once, minutes
/// of tests and of the repair together, as the system file has them. The program's plan is costed by the same twin.
#[test]
fn expected_minutes_are_within_five_per_cent_of_the_optimum() {
    let system = cabin();
    let twin = Twin::new(&system);
    let mut workshop = Workshop::new(&system);
    let starts: Vec<Vec<(usize, Moves)>> = [(Moves::Yes, Moves::No), (Moves::No, Moves::Yes), (Moves::No, Moves::No)]
        .iter()
        .map(|(left, right)| {
            vec![
                (system.test("operate-left").unwrap(), *left),
                (system.test("operate-right").unwrap(), *right),
            ]
        })
        .collect();
    let (mut optimum, mut ours, mut myopic) = (0.0, 0.0, 0.0);
    for start in &starts {
        let reached = twin.probability(start);
        let best = twin.optimum(start);
        let taken = policy_minutes(&twin, &mut workshop, &mut start.clone(), 1.0, false);
        let naive = policy_minutes(&twin, &mut workshop, &mut start.clone(), 1.0, true);
        println!(
            "  {start:?}: probability {reached:.3}, optimum {best:.2} min, ours {taken:.2} min, without looking ahead {naive:.2} min"
        );
        optimum += reached * best;
        ours += reached * taken;
        myopic += reached * naive;
    }
    println!(
        "expected minutes after the operate trials: {:.3} of the optimum (without looking ahead {:.3})",
        ours / optimum,
        myopic / optimum
    );
    assert!(ours <= 1.05 * optimum, "{ours} and {optimum}");
}

/// Expected minutes of doing what the program says, with the twin's probabilities.
fn policy_minutes(
    twin: &Twin<'_>,
    workshop: &mut Workshop<'_>,
    trials: &mut Vec<(usize, Moves)>,
    reached: f64,
    by_bits_alone: bool,
) -> f64 {
    let answer = workshop.answer(trials);
    let mut next = answer.decision.next.filter(|_| !answer.decision.stop && reached > 2e-4);
    if by_bits_alone && next.is_some() {
        next = answer.decision.instead_of.or(next);
    }
    let Some(next) = next else {
        return twin.repair_minutes(trials);
    };
    let mut minutes = next.minutes;
    for (outcome, probability) in twin.predicted(trials, next.test) {
        trials.push((next.test, outcome));
        minutes += probability * policy_minutes(twin, workshop, trials, reached * probability, by_bits_alone);
        trials.pop();
    }
    minutes
}

#[test]
fn probabilities_and_bits_are_those_of_the_obvious_twin() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let mut systems = vec![cabin(), shipped("vacuum-bonnet-control")];
    // More tests than one machine word has bits.
    systems.push(twin::made_system(9, 100, &mut rng));
    for system in &systems {
        let twin = Twin::new(system);
        for round in 0..12 {
            let trials: Vec<(usize, Moves)> = (0..round)
                .map(|_| {
                    let test = rng.random_range(0..system.tests.len());
                    let possible = beamfall::isolate::outcomes(system.tests[test].source);
                    (test, possible[rng.random_range(0..possible.len())])
                })
                .collect();
            let mut evidence: Vec<Evidence> = trials
                .iter()
                .enumerate()
                .map(|(n, (test, moves))| Evidence::written(system, *test, *moves, Origin::Trial(n)))
                .collect();
            // Soft evidence, too.
            if let Some(test) = system
                .tests
                .iter()
                .position(|t| t.lamp.is_some())
                .filter(|_| round % 3 == 0)
            {
                evidence.push(Evidence::travel(system, test, 0.35, 0.15, Origin::Trial(round)));
            }
            let answer = isolate(system, &evidence);
            let believed = twin.believe(&evidence);
            for (c, probability) in believed.by_component(system.components.len()).into_iter().enumerate() {
                assert!(
                    (answer.by_component[c] - probability).abs() < 1e-9,
                    "{} {round}: {} {} and {probability}",
                    system.id,
                    system.components[c].id,
                    answer.by_component[c]
                );
            }
            for suspect in &answer.suspects {
                let probability = believed.of_fault(suspect.component, suspect.fault);
                assert!(
                    (suspect.probability - probability).abs() < 1e-9,
                    "{suspect:?} and {probability}"
                );
            }
            assert!((answer.nothing - believed.nothing()).abs() < 1e-9);
            for explanation in &answer.explanations {
                let probability = believed.of_explanation(&explanation.faults);
                assert!(
                    (explanation.probability - probability).abs() < 1e-9,
                    "{explanation:?} and {probability}"
                );
            }
            assert!(
                answer
                    .explanations
                    .windows(2)
                    .all(|pair| pair[0].probability >= pair[1].probability),
                "best first"
            );
            if let Some(next) = answer.decision.next {
                let bits = twin.expected_bits(&believed, next.test);
                assert!((next.expected_bits - bits).abs() < 1e-9, "{next:?} and {bits}");
            }
            let minutes = twin.minutes_of_repair(&believed);
            assert!(
                (answer.decision.repair_minutes - minutes).abs() < 1e-6 * minutes,
                "{minutes}"
            );
        }
    }
}

#[test]
fn of_several_faults_the_worst_shows() {
    let system = cabin();
    let left = |id: &str| system.component(id).unwrap();
    let car = Car {
        faults: vec![
            (left("left-line"), FaultKind::Leaks, LeakSize::Middling),
            (left("left-actuator"), FaultKind::Sticks, LeakSize::Small),
        ],
    };
    assert_eq!(car.shows(&system, system.test("pump-at-left-line").unwrap()), Moves::No);
    assert_eq!(worst(&[Moves::Yes, Moves::CreepsBack]), Moves::CreepsBack);
}
