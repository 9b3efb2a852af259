//! Fault isolation held against a slow, obvious reference implementation, published examples, simulated cars, and the program as it is run.

mod bound;
mod garage;
mod reference;
mod workshop;

use crate::isolate::{Evidence, Origin, isolate};
use crate::record::{FaultKind, Moves, System, VacuumSource};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use reference::{Car, Reference};
use std::path::Path;
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
fn every_single_fault_told_truthfully_is_found_in_five_tests() {
    let system = cabin();
    let mut workshop = Workshop::new(&system);
    let cars = single_faults(&system);
    // Seven parts, six of which leak middling, large or draining; and every other kind of fault.
    assert!(cars.len() > 7 * 3 + 2, "{}", cars.len());
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
    assert!(mean <= 5.0, "{mean}");
}

#[test]
fn of_two_random_faults_one_is_named_first() {
    let system = cabin();
    let mut workshop = Workshop::new(&system);
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let (mut right, mut cars, mut tests) = (0, 0, 0);
    while cars < 600 {
        let first = rng.random_range(0..system.components.len());
        let second = rng.random_range(0..system.components.len());
        if first == second {
            continue;
        }
        let faults = [first, second]
            .map(|c| reference::random_fault(&system, c, &mut rng))
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

/// Cars by the priors, with as many faults as come, and cars with one fault, each part alike: the second are the harder ones,
/// since there is only one right answer.
#[test]
fn with_one_trial_in_twenty_erroneous_nine_of_ten_settled_cars_are_right() {
    let system = cabin();
    let mut workshop = Workshop::new(&system);
    for (what, single) in [("by the priors", false), ("with one fault", true)] {
        let mut rng = ChaCha8Rng::seed_from_u64(2);
        let (mut right, mut cars, mut erroneous, mut tests) = (0, 0, 0, 0);
        while cars < 600 {
            let car = if single {
                let part = rng.random_range(0..system.components.len());
                Car {
                    faults: vec![reference::random_fault(&system, part, &mut rng)],
                }
            } else {
                reference::random_car(&system, &mut rng)
            };
            if !shows_at_the_control(&system, &car) {
                continue;
            }
            let course = workshop.isolate(|test| {
                let truth = car.shows(&system, test);
                if rng.random_range(0.0..1.0) >= 0.05 {
                    return truth;
                }
                erroneous += 1;
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
            "{cars} cars {what}, {erroneous} erroneous trials: right part first in {:.2} % when settled, {:.2} further tests on \
             average",
            100.0 * right as f64 / cars as f64,
            tests as f64 / cars as f64
        );
        assert!(right as f64 >= 0.90 * cars as f64, "{what}: {right} of {cars}");
    }
}

#[test]
fn probabilities_and_bits_are_those_of_the_obvious_reference() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let mut systems = vec![cabin(), shipped("vacuum-bonnet-control")];
    // More tests than one machine word has bits.
    systems.push(reference::made_system(9, 100, &mut rng));
    for system in &systems {
        let reference = Reference::new(system);
        for round in 0..12 {
            let trials: Vec<(usize, Moves)> = (0..round)
                .map(|_| {
                    let test = rng.random_range(0..system.tests.len());
                    let possible = crate::isolate::outcomes(system.tests[test].source);
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
            let believed = reference.believe(&evidence);
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
                let bits = reference.expected_bits(&believed, next.test);
                assert!((next.expected_bits - bits).abs() < 1e-9, "{next:?} and {bits}");
            }
        }
    }
}

/// J. de Kleer and B. C. Williams, "Diagnosing multiple faults", *Artificial Intelligence* 32 (1987): three multipliers and
/// two adders, F = 10 and G = 12 observed, the conflicts {A1, M1, M2} and {A1, A2, M1, M3}, and the minimal diagnoses {A1},
/// {M1}, {A2, M2} and {M2, M3} (from memory). Here a part that is wrong is blocked, and a conflict is a failed test.
#[test]
fn the_minimal_diagnoses_of_three_multipliers_and_two_adders() {
    let mut text = String::from("schema = 1\nname = \"adders and multipliers\"\nvacuum_raises = true\n");
    for id in ["A1", "A2", "M1", "M2", "M3"] {
        text.push_str(&format!(
            "[[component]]\nid = \"{id}\"\nlabel = \"{id}\"\nfaults = [{{ id = \"blocked\", prior = 0.01 }}]\nreplace_minutes = 1\n"
        ));
    }
    for (id, needs) in [("F", "\"A1\", \"M1\", \"M2\""), ("G", "\"A1\", \"A2\", \"M1\", \"M3\"")] {
        text.push_str(&format!(
            "[[test]]\nid = \"{id}\"\nask = \"Read {id}.\"\nneeds = [{needs}]\nsource = \"engine\"\nminutes = 1\n"
        ));
    }
    let system = System::parse("adders", Path::new("adders.toml"), &text).unwrap();
    let answer = isolate(&system, &written(&system, &[("F", Moves::No), ("G", Moves::No)]));
    let names = |set: &Vec<usize>| {
        set.iter()
            .map(|&c| system.components[c].id.as_str())
            .collect::<Vec<_>>()
    };
    let minimal: Vec<Vec<&str>> = answer.minimal_diagnoses.iter().map(names).collect();
    assert_eq!(minimal, [vec!["A1"], vec!["M1"], vec!["A2", "M2"], vec!["M2", "M3"]]);
    // With F alone wrong, as in the paper's first step: any of its three parts.
    let answer = isolate(&system, &written(&system, &[("F", Moves::No)]));
    let minimal: Vec<Vec<&str>> = answer.minimal_diagnoses.iter().map(names).collect();
    assert_eq!(minimal, [vec!["A1"], vec!["M1"], vec!["M2"]]);
    // The single faults are the probable ones.
    let answer = isolate(&system, &written(&system, &[("F", Moves::No), ("G", Moves::No)]));
    let mut first = [0, 1].map(|n| system.components[answer.suspects[n].component].id.as_str());
    first.sort_unstable();
    assert_eq!(first, ["A1", "M1"]);
}

/// Minimal diagnoses are the minimal sets that hit every failed test's needs and no passed one's, where no fault can hide:
/// by trying every set.
#[test]
fn minimal_diagnoses_are_the_minimal_hitting_sets() {
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for _ in 0..40 {
        let parts = 7;
        let mut text = String::from("schema = 1\nname = \"made\"\nvacuum_raises = true\n");
        for c in 0..parts {
            text.push_str(&format!(
                "[[component]]\nid = \"c{c}\"\nlabel = \"c\"\nfaults = [{{ id = \"blocked\", prior = 0.02 }}]\nreplace_minutes = 1\n"
            ));
        }
        let mut needs: Vec<Vec<usize>> = Vec::new();
        for t in 0..5 {
            let mut needed: Vec<usize> = (0..parts).filter(|_| rng.random_range(0.0..1.0) < 0.4).collect();
            if needed.is_empty() {
                needed.push(t);
            }
            let list: Vec<String> = needed.iter().map(|c| format!("\"c{c}\"")).collect();
            text.push_str(&format!(
                "[[test]]\nid = \"t{t}\"\nask = \"a\"\nneeds = [{}]\nsource = \"pump\"\nminutes = 1\n",
                list.join(", ")
            ));
            needs.push(needed);
        }
        let system = System::parse("made", Path::new("made.toml"), &text).unwrap();
        let failed: Vec<bool> = (0..5).map(|_| rng.random_range(0.0..1.0) < 0.6).collect();
        let evidence: Vec<Evidence> = failed
            .iter()
            .enumerate()
            .map(|(t, failed)| {
                let moves = if *failed { Moves::No } else { Moves::Yes };
                Evidence::written(&system, t, moves, Origin::Trial(t))
            })
            .collect();
        let explains = |set: u32| {
            needs
                .iter()
                .zip(&failed)
                .all(|(needed, failed)| needed.iter().any(|c| set >> c & 1 == 1) == *failed)
        };
        let minimal: Vec<u32> = (0..1u32 << parts)
            .filter(|&set| set.count_ones() <= 3 && explains(set))
            .filter(|&set| !(0..set).any(|part| part & set == part && explains(part)))
            .collect();
        let answer = isolate(&system, &evidence);
        let mut found: Vec<u32> = answer
            .minimal_diagnoses
            .iter()
            .map(|set| set.iter().map(|c| 1 << c).sum())
            .collect();
        found.sort_unstable();
        assert_eq!(found, minimal);
        assert_eq!(
            answer.contradiction.is_some(),
            minimal.is_empty(),
            "{failed:?} {needs:?}"
        );
    }
}

/// Common practice, no source.
#[test]
fn what_mechanics_conclude_is_concluded() {
    let system = cabin();
    let first = |trials: &[(&str, Moves)]| {
        let answer = isolate(&system, &written(&system, trials));
        let suspect = &answer.suspects[0];
        (system.components[suspect.component].id.clone(), answer)
    };
    // Bridging the supply to a lamp's line moves the beam, working the control does not: the control.
    let (part, answer) = first(&[
        ("operate-left", Moves::No),
        ("operate-right", Moves::No),
        ("bridge-left-at-control", Moves::Yes),
    ]);
    assert_eq!(part, "control");
    assert!(
        answer.by_component[system.component("control").unwrap()] > 0.85,
        "{answer:?}"
    );
    // A lamp that does not move with the pump on its own port: that actuator.
    for side in ["left", "right"] {
        let (part, answer) = first(&[(&format!("pump-at-{side}-lamp"), Moves::No)]);
        assert_eq!(part, format!("{side}-actuator"));
        assert!(answer.suspects[0].with.is_empty(), "it explains it alone");
        // One that moves and creeps back: that actuator leaks.
        let (part, answer) = first(&[(&format!("pump-at-{side}-lamp"), Moves::CreepsBack)]);
        assert_eq!(part, format!("{side}-actuator"));
        assert_eq!(answer.suspects[0].fault, FaultKind::Leaks);
    }
    // The actuator holds, the line with it does not: the line.
    let (part, _) = first(&[
        ("operate-left", Moves::No),
        ("pump-at-left-lamp", Moves::Yes),
        ("pump-at-left-line", Moves::CreepsBack),
    ]);
    assert_eq!(part, "left-line");
    // Both beams follow: there is nothing to replace.
    let (_, answer) = first(&[("operate-left", Moves::Yes), ("operate-right", Moves::Yes)]);
    assert!(
        answer.nothing > 0.7 && !answer.suspects.is_empty(),
        "{}",
        answer.nothing
    );
}

#[test]
fn trials_that_cannot_all_be_right_are_named_and_the_one_in_doubt_is_repeated() {
    let system = cabin();
    let mut trials = vec![
        ("operate-left", Moves::No),
        ("operate-right", Moves::No),
        ("gauge-at-control", Moves::No),
        ("bridge-left-at-control", Moves::Yes),
    ];
    let evidence = written(&system, &trials);
    let answer = isolate(&system, &evidence);
    let contradiction = answer
        .contradiction
        .expect("no vacuum at the control moves no beam past it");
    assert_eq!(contradiction.trials, [2, 3]);
    assert!([2, 3].contains(&contradiction.repeat));
    assert!(answer.minimal_diagnoses.is_empty());
    let repeat = evidence[contradiction.repeat].test;
    assert_eq!(answer.decision.next.map(|next| next.test), Some(repeat));
    // Without either of the two there is none.
    for left_out in [2, 3] {
        let mut fewer = trials.clone();
        fewer.remove(left_out);
        assert!(isolate(&system, &written(&system, &fewer)).contradiction.is_none());
    }
    // Done again and found well, the first gauge reading is the one that went wrong, and it is not asked for a third time.
    trials.push(("gauge-at-control", Moves::Yes));
    let answer = isolate(&system, &written(&system, &trials));
    let contradiction = answer.contradiction.unwrap();
    assert!(contradiction.trials.contains(&2), "{contradiction:?}");
    let place = contradiction.trials.iter().position(|&t| t == 2).unwrap();
    assert!(contradiction.erroneous[place] > 0.9, "{contradiction:?}");
    assert_ne!(answer.decision.next.map(|next| next.test), Some(repeat));
    assert_eq!(system.components[answer.suspects[0].component].id, "control");
}

/// Three-way evidence from a vague pair of photos lies between no evidence and a hard outcome.
#[test]
fn a_vague_travel_moves_the_belief_less_than_a_clear_one() {
    let system = cabin();
    let left = system.component("left-actuator").unwrap();
    let test = system.test("pump-at-left-lamp").unwrap();
    let believed = |sd_percent: f64| {
        let mut evidence = written(&system, &[("operate-left", Moves::No), ("operate-right", Moves::Yes)]);
        evidence.push(Evidence::travel(&system, test, 0.02, sd_percent, Origin::Trial(2)));
        isolate(&system, &evidence).by_component[left]
    };
    let before = isolate(
        &system,
        &written(&system, &[("operate-left", Moves::No), ("operate-right", Moves::Yes)]),
    )
    .by_component[left];
    let (clear, vague, useless) = (believed(0.01), believed(1.0), believed(20.0));
    assert!(
        clear > 0.9 && clear > vague + 0.03 && vague > before + 0.02,
        "{clear} {vague} {before}"
    );
    // What is left of a useless pair is that the hose's end at the lamp was in the hand.
    assert!((useless - before).abs() < 0.03, "{useless} {before}");
}

/// What a system file's tests say, and the first suspect then.
fn first_suspect(name: &str, trials: &[(&str, Moves)]) -> (String, FaultKind, crate::isolate::Answer) {
    let system = shipped(name);
    let answer = isolate(&system, &written(&system, trials));
    let part = system.components[answer.first_component()].id.clone();
    let fault = answer.suspects[0].fault;
    (part, fault, answer)
}

#[test]
fn a_blocked_check_valve_holds_its_reservoir_and_never_fills_it() {
    let (part, fault, _) = first_suspect(
        "vacuum-bonnet-control",
        &[
            ("operate-left", Moves::No),
            ("operate-right", Moves::No),
            ("gauge-at-control", Moves::No),
            ("gauge-at-check-valve", Moves::Yes),
            ("pump-at-reservoir", Moves::Yes),
        ],
    );
    assert_eq!((part.as_str(), fault), ("check-valve", FaultKind::Blocked));
}

#[test]
fn a_control_that_leaks_at_one_port_is_the_control() {
    let (part, fault, _) = first_suspect(
        "vacuum-cabin-control",
        &[
            ("operate-left", Moves::No),
            ("operate-right", Moves::Yes),
            ("pump-at-left-lamp", Moves::Yes),
            ("pump-at-left-line", Moves::Yes),
            ("bridge-left-at-control", Moves::Yes),
        ],
    );
    assert_eq!((part.as_str(), fault), ("control", FaultKind::LeaksLeft));
}

/// One beam fails, its line and lamp follow the pump and the short hose past the control: not the line, the control's port.
#[test]
fn a_control_that_lets_nothing_through_at_one_port_is_the_control() {
    for (name, listened) in [
        ("vacuum-cabin-control", "listen-at-control"),
        ("vacuum-bonnet-control", "listen-under-bonnet"),
    ] {
        let trials = [
            ("operate-left", Moves::No),
            ("operate-right", Moves::Yes),
            (listened, Moves::Yes),
            ("pump-at-left-line", Moves::Yes),
            ("bridge-left-at-control", Moves::Yes),
        ];
        let (part, _, answer) = first_suspect(name, &trials);
        assert_eq!(part, "control", "{name}");
        let of = |kind| -> f64 {
            (answer.suspects.iter())
                .filter(|one| one.fault == kind)
                .map(|one| one.probability)
                .sum()
        };
        assert!(
            of(FaultKind::BlockedLeft) > 3.0 * of(FaultKind::BlockedRight) + 0.01,
            "{name}"
        );
        assert!(
            of(FaultKind::BlockedLeft) > of(FaultKind::Blocked),
            "{name}: the other beam follows"
        );
    }
}

/// Both ends of a line were in the hand, and pushed home: that one is off is what is left of an oversight.
#[test]
fn a_hose_whose_ends_were_looked_at_is_hardly_off() {
    let off = |trials: &[(&str, Moves)]| -> f64 {
        let system = cabin();
        let line = system.component("left-line").unwrap();
        let answer = isolate(&system, &written(&system, trials));
        let all = answer.suspects.iter().filter(|one| one.component == line);
        let off = all
            .clone()
            .find(|one| one.fault == FaultKind::Off)
            .map_or(0.0, |one| one.probability);
        off / all.map(|one| one.probability).sum::<f64>()
    };
    let beams = [("operate-left", Moves::No), ("operate-right", Moves::Yes)];
    let one_end = [beams[0], beams[1], ("pump-at-left-lamp", Moves::Yes)];
    let both = [one_end[0], one_end[1], one_end[2], ("pump-at-left-line", Moves::No)];
    let (none, one, both) = (off(&beams), off(&one_end), off(&both));
    assert!(none > 0.2 && both < 0.1, "{none} {one} {both}");
    assert!(one < 0.8 * none, "{none} {one}");
}

/// Both beams fail, all that they share is sound: the large leak beside one lamp.
#[test]
fn a_large_leak_beside_one_lamp_drains_the_other() {
    let (part, fault, _) = first_suspect(
        "vacuum-cabin-control",
        &[
            ("operate-left", Moves::No),
            ("operate-right", Moves::No),
            ("gauge-at-control", Moves::Yes),
            ("pinch-left-hose-watch-right", Moves::Yes),
            ("pump-at-left-lamp", Moves::No),
        ],
    );
    assert_eq!((part.as_str(), fault), ("left-actuator", FaultKind::Leaks));
}

/// A gauge through which nothing flows shows all the vacuum there is; the beams do not get it.
#[test]
fn a_restricted_supply_holds_at_the_gauge_and_moves_no_beam() {
    let (part, fault, _) = first_suspect(
        "vacuum-cabin-control",
        &[
            ("operate-left", Moves::No),
            ("operate-right", Moves::No),
            ("gauge-at-control", Moves::Yes),
            ("bridge-left-at-control", Moves::No),
            ("pump-at-left-line", Moves::Yes),
            ("pump-at-right-line", Moves::Yes),
        ],
    );
    assert_eq!((part.as_str(), fault), ("supply-line", FaultKind::Restricted));
}

/// The engine outdoes a small leak; the pump shows it, and it is never "nothing".
#[test]
fn a_pump_that_creeps_back_under_working_beams_is_that_actuator() {
    for name in ["vacuum-cabin-control", "vacuum-bonnet-control"] {
        for failed in [Moves::CreepsBack, Moves::No] {
            let (part, _, answer) = first_suspect(
                name,
                &[
                    ("operate-left", Moves::Yes),
                    ("operate-right", Moves::Yes),
                    ("pump-at-right-lamp", failed),
                ],
            );
            assert_eq!(part, "right-actuator", "{name} {failed}");
            let decision = &answer.decision;
            let repairs = decision.repairs(&answer.by_component, answer.nothing);
            let says_nothing = decision.stop && repairs.first() == Some(&crate::isolate::Repair::LookAgain);
            assert!(!says_nothing, "{name} {failed}: {answer:?}");
        }
    }
}

/// The gauge tells a part that is blocked or stuck from one that leaks.
#[test]
fn a_gauge_that_holds_while_the_beam_stands_is_no_leak() {
    use crate::record::{Gauge, TrialMoves};
    let system = cabin();
    let test = system.test("pump-at-left-lamp").unwrap();
    let leak = |gauge| {
        let mut evidence = written(&system, &[("operate-left", Moves::No), ("operate-right", Moves::Yes)]);
        evidence.extend(Evidence::noted(&system, test, TrialMoves::No, gauge, Origin::Trial(2)));
        let answer = isolate(&system, &evidence);
        let of = |s: &&crate::isolate::Suspect| {
            s.fault == FaultKind::Leaks && system.components[s.component].id == "left-actuator"
        };
        answer.suspects.iter().find(of).unwrap().probability
    };
    let (holds, none, will_not) = (
        leak(Some(Gauge::RisesAndHolds)),
        leak(None),
        leak(Some(Gauge::WillNotRise)),
    );
    assert!(
        holds < 0.1 && holds < none && none < will_not && will_not > 0.7,
        "{holds} {none} {will_not}"
    );
}

/// Beside a pump whose gauge holds while the beam stands, the reflector is moved by hand before an actuator is bought, and each of the
/// three answers leads to another mend.
#[test]
fn the_reflector_is_moved_by_hand_before_an_actuator_is_bought() {
    use crate::isolate::{Isolated, JobTrials, Repair};
    use crate::record::{Gauge, TrialMoves};
    for (name, side, other) in SYSTEMS
        .iter()
        .flat_map(|name| [(name, "left", "right"), (name, "right", "left")])
    {
        let system = shipped(name);
        let test = |id: String| system.test(&id).unwrap();
        let (part, by_hand) = (
            system.component(&format!("{side}-actuator")).unwrap(),
            test(format!("reflector-{side}-by-hand")),
        );
        let isolated = |seen: Option<TrialMoves>| {
            let noted = |id, moves, gauge| Evidence::noted(&system, test(id), moves, gauge, Origin::Trial(0)).unwrap();
            let mut evidence = vec![
                noted(format!("operate-{side}"), TrialMoves::No, None),
                noted(format!("operate-{other}"), TrialMoves::Yes, None),
                noted(
                    format!("pump-at-{side}-lamp"),
                    TrialMoves::No,
                    Some(Gauge::RisesAndHolds),
                ),
            ];
            evidence.extend(seen.map(|seen| noted(format!("reflector-{side}-by-hand"), seen, None)));
            let trials = JobTrials {
                evidence,
                ..JobTrials::default()
            };
            Isolated::new(system.clone(), trials)
        };
        let decision = isolated(None).answer.decision;
        assert_eq!(decision.next.map(|next| next.test), Some(by_hand), "{name} {side}");
        assert!(!decision.stop, "{name} {side}");
        for (seen, fault, without_part) in [
            (TrialMoves::RodOff, FaultKind::RodOff, true),
            (TrialMoves::Stiff, FaultKind::Stiff, true),
            (TrialMoves::Yes, FaultKind::Sticks, false),
        ] {
            let found = isolated(Some(seen));
            let first = &found.answer.suspects[0];
            assert_eq!((first.component, first.fault), (part, fault), "{name} {side} {seen}");
            assert!(found.answer.decision.stop, "{name} {side} {seen}");
            assert_eq!(
                found.answer.decision.order[0],
                Repair::Replace(part),
                "{name} {side} {seen}"
            );
            let kinds = if without_part { vec![fault] } else { Vec::new() };
            assert_eq!(found.mended_without_part(part), kinds, "{name} {side} {seen}");
        }
    }
}

/// Half as likely as not is too little for a new part, while the pump can tell in some minutes.
#[test]
fn a_beam_that_falls_short_has_its_actuator_pumped_before_it_is_replaced() {
    for name in SYSTEMS {
        let system = shipped(name);
        let short = Evidence::noted(
            &system,
            system.test("operate-left").unwrap(),
            crate::record::TrialMoves::Partly,
            None,
            Origin::Trial(0),
        );
        let mut evidence = vec![short.unwrap()];
        evidence.extend(written(&system, &[("operate-right", Moves::Yes)]));
        let decision = isolate(&system, &evidence).decision;
        let next = &system.tests[decision.next.unwrap().test];
        assert!(
            !decision.stop && next.needs.contains(&system.component("left-actuator").unwrap()),
            "{name}: {}",
            next.id
        );
        assert_ne!(next.id, "operate-left", "{name}");
    }
}

#[test]
fn both_beams_are_looked_at_first_and_hardly_a_test_is_asked_for_twice() {
    for name in ["vacuum-cabin-control", "vacuum-bonnet-control"] {
        let system = shipped(name);
        let next = |trials: &[(&str, Moves)]| {
            let answer = isolate(&system, &written(&system, trials));
            answer.decision.next.map(|next| system.tests[next.test].id.clone())
        };
        assert_eq!(next(&[]).as_deref(), Some("operate-left"));
        assert_eq!(
            next(&[("pump-at-left-lamp", Moves::No)]).as_deref(),
            Some("operate-left")
        );
        assert_eq!(next(&[("operate-left", Moves::No)]).as_deref(), Some("operate-right"));
        let (mut repeats, mut tests) = (0, 0);
        let mut workshop = Workshop::new(&system);
        // Told truthfully, hardly a car is asked twice; a line is pumped before it goes; a sound car takes the two looks.
        for (car, _) in single_faults(&system)
            .iter()
            .chain([&(Car { faults: Vec::new() }, 1.0)])
        {
            let mut asked = Vec::new();
            let course = workshop.isolate(|test| {
                asked.push(test);
                car.shows(&system, test)
            });
            let mut once = asked.clone();
            once.sort_unstable();
            once.dedup();
            repeats += asked.len() - once.len();
            tests += asked.len();
            let answer = &course.answer;
            match answer.decision.repairs(&answer.by_component, answer.nothing).first() {
                Some(crate::isolate::Repair::Replace(c)) => {
                    let proofs = &system.components[*c].proven_by;
                    assert!(
                        proofs.is_empty() || proofs.iter().any(|t| asked.contains(t)),
                        "{name} {car:?}: {asked:?}"
                    );
                }
                _ => assert!(car.faults.is_empty() && asked.len() <= 3, "{name} {car:?}: {asked:?}"),
            }
        }
        assert!(repeats * 50 <= tests, "{name}: {repeats} of {tests}");
    }
}

const SYSTEMS: [&str; 2] = ["vacuum-cabin-control", "vacuum-bonnet-control"];

const BUNGLED_CARS: usize = 40;

/// A small leak of a part, that the running engine outdoes: found by following what is asked, from these trials on, to its end. What is
/// said to be mended then, and the tests that were asked for.
fn followed(system: &System, car: &Car, trials: &[(&str, Moves)]) -> (Option<crate::isolate::Repair>, Vec<String>) {
    let mut evidence = written(system, trials);
    let mut asked = Vec::new();
    while asked.len() < 20 {
        let answer = isolate(system, &evidence);
        let decision = &answer.decision;
        let Some(next) = decision.next.filter(|_| !decision.stop) else {
            let repairs = decision.repairs(&answer.by_component, answer.nothing);
            return (repairs.first().copied(), asked);
        };
        asked.push(system.tests[next.test].id.clone());
        let moves = car.shows(system, next.test);
        evidence.push(Evidence::written(
            system,
            next.test,
            moves,
            Origin::Trial(evidence.len()),
        ));
    }
    (None, asked)
}

/// The pump at the line cannot tell line from actuator, and the engine outdoes the leak: the test that can comes before a part is bought.
#[test]
fn a_slow_leak_is_told_apart_before_a_part_is_bought() {
    use crate::isolate::{LeakSize, Repair};
    for (name, side) in SYSTEMS.iter().flat_map(|name| [(name, "left"), (name, "right")]) {
        let system = shipped(name);
        let pumped = format!("pump-at-{side}-line");
        for part in ["line", "actuator"] {
            let part = system.component(&format!("{side}-{part}")).unwrap();
            let car = Car {
                faults: vec![(part, FaultKind::Leaks, LeakSize::Small)],
            };
            for times in [1, 2] {
                let mut trials = vec![("operate-left", Moves::Yes), ("operate-right", Moves::Yes)];
                trials.extend((0..times).map(|_| (pumped.as_str(), Moves::CreepsBack)));
                let first = isolate(&system, &written(&system, &trials)).decision;
                assert!(!first.stop, "{name} {side} {times}");
                let (repair, asked) = followed(&system, &car, &trials);
                assert_eq!(repair, Some(Repair::Replace(part)), "{name} {side} {times}: {asked:?}");
            }
        }
    }
}

/// The same after a repair: what the beams cannot show the failed test must.
#[test]
fn a_repair_that_beams_cannot_show_is_shown_by_the_test_that_failed() {
    use crate::isolate::{Done, Repair, isolate_from};
    for name in SYSTEMS {
        let system = shipped(name);
        let actuator = system.component("left-actuator").unwrap();
        let looks = [("operate-left", Moves::Yes), ("operate-right", Moves::Yes)];
        let decided = |before: &[(&str, Moves)], after: &[(&str, Moves)]| {
            let mut evidence = written(&system, before);
            evidence.extend(
                written(&system, after)
                    .into_iter()
                    .map(|one| one.with_mended(1 << actuator)),
            );
            let done = Done {
                mended: 1 << actuator,
                ..Done::default()
            };
            isolate_from(&system, &evidence, done)
        };
        let failed = ("pump-at-left-line", Moves::CreepsBack);
        let answer = decided(&[&looks[..], &[failed]].concat(), &looks);
        let next = answer.decision.next.map(|next| system.tests[next.test].id.as_str());
        assert_eq!((answer.decision.stop, next), (false, Some(failed.0)), "{name}");
        // It passes: nothing is at fault.
        let passed = decided(
            &[&looks[..], &[failed]].concat(),
            &[&looks[..], &[(failed.0, Moves::Yes)]].concat(),
        );
        let repairs = passed.decision.repairs(&passed.by_component, passed.nothing);
        assert!(
            passed.decision.stop && repairs.first() == Some(&Repair::LookAgain),
            "{name}"
        );
        // Where the beam itself failed and follows now, that is shown.
        let cured = decided(
            &[("operate-left", Moves::No), looks[1], ("pump-at-left-lamp", Moves::No)],
            &looks,
        );
        assert!(cured.decision.stop, "{name}");
        // The new part's pump test fails while the beam follows: once more, and never the part against its own figures.
        for failed in [Moves::No, Moves::CreepsBack] {
            let pump = ("pump-at-left-lamp", failed);
            let answer = decided(
                &[("operate-left", Moves::No), looks[1], pump],
                &[&looks[..], &[pump]].concat(),
            );
            let next = answer.decision.next.map(|next| system.tests[next.test].id.as_str());
            assert_eq!((answer.decision.stop, next), (false, Some(pump.0)), "{name} {failed}");
            let passed = [&looks[..], &[pump, (pump.0, Moves::Yes)]].concat();
            let answer = decided(&[("operate-left", Moves::No), looks[1], pump], &passed);
            let repairs = answer.decision.repairs(&answer.by_component, answer.nothing);
            assert_eq!(
                (answer.decision.stop, repairs.first()),
                (true, Some(&Repair::LookAgain)),
                "{name} {failed}"
            );
        }
    }
}

/// What holds the vacuum when the engine stops shows only then: a running engine neither accuses nor clears it.
#[test]
fn a_check_valve_that_does_not_hold_shows_with_the_engine_off() {
    use crate::isolate::{Isolated, JobTrials, Repair, Standing};
    let system = shipped("vacuum-bonnet-control");
    let valve = system.component("check-valve").unwrap();
    let isolated = |trials: &[(&str, Moves)]| {
        let trials = JobTrials {
            evidence: written(&system, trials),
            ..JobTrials::default()
        };
        Isolated::new(system.clone(), trials)
    };
    let looks = [("operate-left", Moves::Yes), ("operate-right", Moves::Yes)];
    let engine_off = ("engine-off-left", Moves::No);
    for times in [1, 2, 3] {
        let found = isolated(&[&looks[..], &vec![engine_off; times]].concat());
        let decision = &found.answer.decision;
        assert_eq!(found.answer.first_component(), valve, "{times}");
        assert_eq!(found.answer.suspects[0].fault, FaultKind::Leaks, "{times}");
        let next = decision.next.map(|next| system.tests[next.test].id.as_str());
        assert!(
            !decision.stop && next.is_some_and(|id| ["check-valve-alone", "pump-at-reservoir"].contains(&id)),
            "{times}: {next:?}"
        );
        // Were no test done, the order of repair begins with what is suspected, though no beam shows it with the engine running.
        let repairs = decision.repairs(&found.answer.by_component, found.answer.nothing);
        assert_eq!(repairs.first(), Some(&Repair::Replace(valve)), "{times}: {repairs:?}");
    }
    let lamp_is_sound = [
        ("gauge-on-left-hose", Moves::Yes),
        ("pump-at-left-lamp", Moves::Yes),
        ("reflector-left-by-hand", Moves::Yes),
    ];
    let found = isolated(&[&looks[..], &[engine_off, engine_off], &lamp_is_sound].concat());
    assert_eq!(found.answer.first_component(), valve);
    for proof in [
        &[("check-valve-alone", Moves::No)][..],
        &[
            ("pump-at-reservoir", Moves::No),
            ("pump-at-reservoir-alone", Moves::Yes),
        ],
    ] {
        let found = isolated(&[&looks[..], &[engine_off, engine_off], proof].concat());
        let suspect = &found.answer.suspects[0];
        assert_eq!(
            (suspect.component, suspect.fault),
            (valve, FaultKind::Leaks),
            "{proof:?}"
        );
        assert!(found.answer.by_component[valve] > 0.75, "{proof:?}");
        assert_eq!(
            found.answer.decision.order.first(),
            Some(&Repair::Replace(valve)),
            "{proof:?}"
        );
    }
    // With the engine running it is neither cleared nor, by two beams that follow, suspected.
    let found = isolated(&looks);
    assert!(!matches!(
        found.standings()[valve],
        Standing::Cleared | Standing::Suspected
    ));
    assert!(
        found.answer.decision.stop && found.answer.nothing > 0.7,
        "{}",
        found.answer.nothing
    );
    assert!(found.trials.evidence.iter().all(|one| !found.clears(one, valve)));
}

/// A hose between the engine and the control valve is found as a part of its own, by what lies on either side of it.
#[test]
fn a_split_hose_before_the_control_valve_is_the_hose() {
    let system = shipped("vacuum-bonnet-control");
    let looks = [("operate-left", Moves::No), ("operate-right", Moves::No)];
    for (trials, hose) in [
        (
            &[("gauge-at-source", Moves::Yes), ("gauge-at-check-valve", Moves::No)][..],
            "source-hose",
        ),
        (
            &[
                ("gauge-at-check-valve", Moves::Yes),
                ("pump-at-reservoir", Moves::No),
                ("pump-at-reservoir-alone", Moves::Yes),
                ("check-valve-alone", Moves::Yes),
            ],
            "reservoir-hose",
        ),
    ] {
        let answer = isolate(&system, &written(&system, &[&looks[..], trials].concat()));
        let first = answer.first_component();
        assert_eq!(system.components[first].id, hose);
        assert!(
            // That it is only off counts less: its end was looked at on the way.
            answer.by_component[first] > 0.7,
            "{hose}: {}",
            answer.by_component[first]
        );
    }
    // Done as the program says, whatever of a hose is wrong it is found, and nothing else is bought.
    for hose in ["source-hose", "reservoir-hose"] {
        let component = system.component(hose).unwrap();
        for fault in [FaultKind::Leaks, FaultKind::Off, FaultKind::Blocked] {
            let car = Car {
                faults: vec![(component, fault, crate::isolate::LeakSize::Middling)],
            };
            let (repair, asked) = followed(&system, &car, &[]);
            assert_eq!(
                repair,
                Some(crate::isolate::Repair::Replace(component)),
                "{hose} {fault}: {asked:?}"
            );
        }
    }
    // The check valve cuts off what lies before it once the engine stands: a slow leak there lets no beam down.
    let beams = [
        ("operate-left", Moves::Yes),
        ("operate-right", Moves::Yes),
        ("engine-off-left", Moves::No),
    ];
    let answer = isolate(&system, &written(&system, &beams));
    for part in ["source", "source-hose"] {
        let c = system.component(part).unwrap();
        assert!(answer.by_component[c] < 0.015, "{part}: {}", answer.by_component[c]);
    }
}

/// What a repair cured was what it mended, whatever was suspected before it: by trials after it, and by photos of it alone.
#[test]
fn what_a_repair_cured_is_what_was_wrong() {
    use crate::isolate::{Done, Isolated, JobTrials};
    for name in SYSTEMS {
        let system = shipped(name);
        let line = system.component("left-line").unwrap();
        let before = written(&system, &[("operate-left", Moves::No), ("operate-right", Moves::Yes)]);
        let first = isolate(&system, &before).first_component();
        assert_ne!(first, line, "{name}: it is not what is suspected first");
        for (moves, cured) in [(Moves::Yes, true), (Moves::No, false)] {
            let after: Vec<Evidence> = written(&system, &[("operate-left", moves)])
                .into_iter()
                .map(|one| one.with_mended(1 << line))
                .collect();
            let went_on = Isolated::new(
                system.clone(),
                JobTrials {
                    evidence: [before.clone(), after.clone()].concat(),
                    before_repair: before.clone(),
                    done: Done {
                        mended: 1 << line,
                        ..Done::default()
                    },
                    ..JobTrials::default()
                },
            );
            let by_photos = Isolated::new(
                system.clone(),
                JobTrials {
                    evidence: before.clone(),
                    since_repair: after,
                    repaired_since: vec![line],
                    done: Done {
                        mended_since: 1 << line,
                        ..Done::default()
                    },
                    ..JobTrials::default()
                },
            );
            for found in [went_on.in_hindsight().unwrap(), by_photos] {
                let share = found.answer.by_component[line];
                assert_eq!(
                    found.answer.first_component() == line && share > 0.6,
                    cured,
                    "{name} {moves}: {share}"
                );
                assert_eq!(found.is_cured_by(line), cured, "{name} {moves}");
                assert!(!found.is_cured_by(first), "{name} {moves}");
            }
            // Why it was mended stays as it was.
            assert_eq!(
                went_on.before_repair().unwrap().answer.first_component(),
                first,
                "{name}"
            );
        }
    }
}

/// The gauge of a sealed pump sees a leak that a beam at its stop does not.
#[test]
fn a_gauge_that_falls_beside_a_beam_that_stays_keeps_a_slow_leak_suspected() {
    use crate::isolate::{Isolated, JobTrials, Repair, Standing};
    use crate::record::{Gauge, TrialMoves};
    let system = cabin();
    let test = |id: &str| system.test(id).unwrap();
    let actuator = system.component("left-actuator").unwrap();
    let isolated = |trials: &[(&str, TrialMoves, Option<Gauge>)]| {
        let noted = |(n, one): (usize, &(&str, TrialMoves, Option<Gauge>))| {
            Evidence::noted(&system, test(one.0), one.1, one.2, Origin::Trial(n)).unwrap()
        };
        let trials = JobTrials {
            evidence: trials.iter().enumerate().map(noted).collect(),
            ..JobTrials::default()
        };
        Isolated::new(system.clone(), trials)
    };
    let looks = [
        ("operate-left", TrialMoves::Yes, None),
        ("operate-right", TrialMoves::Yes, None),
    ];
    let falls = ("pump-at-left-lamp", TrialMoves::Yes, Some(Gauge::Falls));
    let of = |trials: &[(&str, TrialMoves, Option<Gauge>)]| isolated(trials).answer.by_component[actuator];
    let (none, once, twice) = (of(&[]), of(&[falls]), of(&[falls, falls]));
    assert!(once > none && twice > once, "{none} {once} {twice}");
    let line = ("pump-at-left-line", TrialMoves::Yes, Some(Gauge::Falls));
    for trials in [&[falls][..], &[falls, line]] {
        let found = isolated(&[&looks[..], trials].concat());
        assert!(!matches!(
            found.standings()[actuator],
            Standing::Cleared | Standing::Open
        ));
        let says_nothing = found.answer.decision.stop && found.failures().is_empty();
        assert!(!says_nothing, "{:?}", found.answer.decision);
    }
    // With the gauge holding it is cleared.
    let holds = ("pump-at-left-lamp", TrialMoves::Yes, Some(Gauge::RisesAndHolds));
    let found = isolated(&[&looks[..], &[holds]].concat());
    assert_eq!(found.standings()[actuator], Standing::Cleared);
    let repairs = found
        .answer
        .decision
        .repairs(&found.answer.by_component, found.answer.nothing);
    assert!(found.answer.decision.stop && repairs.first() == Some(&Repair::LookAgain));
    // Beam and gauge that cannot both be so are seen once more, whichever part they would accuse.
    for (moves, gauge) in [
        (TrialMoves::Yes, Gauge::WillNotRise),
        (TrialMoves::CreepsBack, Gauge::RisesAndHolds),
    ] {
        let found = isolated(&[&looks[..], &[("pump-at-left-lamp", moves, Some(gauge))]].concat());
        let decision = &found.answer.decision;
        assert_eq!(
            decision.next.map(|next| next.test),
            Some(test("pump-at-left-lamp")),
            "{moves}"
        );
        assert!(!decision.stop, "{moves}");
        assert!(
            !found
                .trials
                .evidence
                .iter()
                .any(|one| found.clears(one, actuator) && one.gauge.is_some())
        );
    }
}

/// A new actuator frees no pivots: what was found of the reflector by hand stays with the car; what was found of the old actuator does not.
#[test]
fn a_stiff_reflector_stays_when_its_actuator_is_replaced() {
    use crate::isolate::{Done, isolate_from};
    use crate::record::TrialMoves;
    for name in SYSTEMS {
        let system = shipped(name);
        let actuator = system.component("left-actuator").unwrap();
        let answer = |seen: TrialMoves, after: Moves| {
            let noted = |id: &str, moves| {
                Evidence::noted(&system, system.test(id).unwrap(), moves, None, Origin::Trial(0)).unwrap()
            };
            let mut evidence = vec![
                noted("operate-left", TrialMoves::No),
                noted("operate-right", TrialMoves::Yes),
                noted("pump-at-left-lamp", TrialMoves::No),
                noted("reflector-left-by-hand", seen),
            ];
            evidence.push(noted("operate-left", after.into()).with_mended(1 << actuator));
            let done = Done {
                mended: 1 << actuator,
                ..Done::default()
            };
            isolate_from(&system, &evidence, done)
        };
        let stiff = |answer: &crate::isolate::Answer| {
            let of = |s: &&crate::isolate::Suspect| s.component == actuator && s.fault == FaultKind::Stiff;
            answer.suspects.iter().find(of).unwrap().probability
        };
        let found = answer(TrialMoves::Stiff, Moves::No);
        assert_eq!(found.first_component(), actuator, "{name}");
        assert!(stiff(&found) > 0.4, "{name}: {}", stiff(&found));
        // Freed with the repair, the beam follows, and no more is said of it than of a careless look.
        let freed = stiff(&answer(TrialMoves::Stiff, Moves::Yes));
        assert!(freed < 0.15, "{name}: {freed}");
        let sticks = stiff(&answer(TrialMoves::Yes, Moves::No));
        assert!(sticks < 0.1, "{name}: {sticks}");
    }
}

/// A line of the table: the program's figure, the half-split's.
fn print_row(name: &str, world: garage::World, ours: &garage::Row, theirs: &garage::Row) {
    println!(
        "{name:<22} {world:<9?} minutes {:5.1} {:5.1} ratio {:.2}; wrong parts {:.2} {:.2}; never mended {} {}; repeats {:.1} % {:.1} %; tests \
         {:.1} {:.1}",
        ours.minutes,
        theirs.minutes,
        ours.minutes / theirs.minutes,
        ours.wrong_parts,
        theirs.wrong_parts,
        ours.never,
        theirs.never,
        100.0 * ours.repeats,
        100.0 * theirs.repeats,
        ours.tests,
        theirs.tests
    );
}

/// The whole table, 300 cars a row (some minutes):
/// `cargo test --release --lib rooms::isolate::the_table_of_made_workshops -- --ignored --nocapture`.
#[test]
#[ignore = "some minutes; the next test holds a part of it"]
fn the_table_of_made_workshops() {
    for name in SYSTEMS {
        let system = shipped(name);
        for world in [
            garage::World::Plain,
            garage::World::Workshop,
            garage::World::Priors,
            garage::World::Sound,
        ] {
            let (ours, theirs) = garage::compare(&system, &system, world, 300, 1);
            print_row(name, world, &ours, &theirs);
            assert!(ours.never <= 1, "{name} {world:?}: {ours:?}");
        }
    }
}

/// Fewer cars of the same, with what chance does to so few left open.
#[test]
fn cars_work_sooner_than_by_the_half_split() {
    for name in SYSTEMS {
        let system = shipped(name);
        for (world, ratio, wrong_parts) in [
            (garage::World::Plain, PLAIN_RATIO, 0.15),
            (garage::World::Workshop, 0.95, 0.25),
        ] {
            let (ours, theirs) = garage::compare(&system, &system, world, 25, 2);
            print_row(name, world, &ours, &theirs);
            assert!(
                ours.minutes <= ratio * theirs.minutes,
                "{name} {world:?}: {ours:?} {theirs:?}"
            );
            assert!(
                ours.wrong_parts <= wrong_parts && ours.never == 0,
                "{name} {world:?}: {ours:?}"
            );
            assert!(ours.repeats <= 0.06, "{name} {world:?}: {ours:?}");
        }
        let (ours, _) = garage::compare(&system, &system, garage::World::Sound, 40, 2);
        assert!(ours.nothing >= 0.95 && ours.tests <= 3.0, "{name}: {ours:?}");
    }
}

/// A repair that leaves what was fitted at fault: the part is suspected anew, and the car is mended in the end.
#[test]
fn a_bungled_repair_is_found() {
    for name in SYSTEMS {
        let system = shipped(name);
        let row = garage::bungled(&system, garage::World::Workshop, BUNGLED_CARS, 3);
        println!(
            "{name:<22} bungled minutes {:.1}; wrong parts {:.2}; never mended {}; tests {:.1}; repeats {:.1} %",
            row.minutes,
            row.wrong_parts,
            row.never,
            row.tests,
            100.0 * row.repeats
        );
        assert!(row.never == 0 && row.wrong_parts < 1.0, "{name}: {row:?}");
    }
}

/// A system as another workshop might believe it to be: each kind of fault of each part three times as common or a third so, at random,
/// and errors `errors` times as common.
fn believed_otherwise(system: &System, priors: bool, errors: f64, seed: u64) -> System {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut other = system.clone();
    for component in &mut other.components {
        for fault in component.faults.iter_mut().filter(|_| priors) {
            fault.prior *= if rng.random_range(0..2) == 0 { 1.0 / 3.0 } else { 3.0 };
        }
        // A part is sound more often than once in five.
        let sum: f64 = component.faults.iter().map(|fault| fault.prior).sum();
        let share = (0.8 / sum).min(1.0);
        component.faults.iter_mut().for_each(|fault| fault.prior *= share);
    }
    for test in &mut other.tests {
        test.error_probability = (test.error_probability * errors).min(0.4);
    }
    other
}

/// What the priors and error rates, which are from memory, decide: the program believes other ones, while cars and charges stay:
/// `cargo test --release --lib rooms::isolate::the_table_of_other_beliefs -- --ignored --nocapture`.
#[test]
#[ignore = "a quarter of an hour"]
fn the_table_of_other_beliefs() {
    for name in SYSTEMS {
        let system = shipped(name);
        for world in [garage::World::Plain, garage::World::Workshop] {
            for (what, priors, errors, seed) in [
                ("as they stand", false, 1.0, 0),
                ("priors x3 or x1/3, first draw", true, 1.0, 1),
                ("priors x3 or x1/3, second draw", true, 1.0, 2),
                ("priors x3 or x1/3, third draw", true, 1.0, 3),
                ("errors x1/2", false, 0.5, 0),
                ("errors x2", false, 2.0, 0),
            ] {
                let believed = believed_otherwise(&system, priors, errors, seed);
                let (ours, theirs) = garage::compare(&system, &believed, world, 200, 31);
                println!("{what}:");
                print_row(name, world, &ours, &theirs);
                assert!(ours.never <= 2, "{name} {world:?} {what}: {ours:?}");
            }
        }
    }
}

/// What can be had of plain cars at all, beside what is had:
/// `cargo test --release --lib rooms::isolate::the_least_minutes_of_plain_cars -- --ignored --nocapture`.
#[test]
#[ignore = "ten minutes"]
fn the_least_minutes_of_plain_cars() {
    for (name, steps) in [(SYSTEMS[0], 3), (SYSTEMS[1], 1)] {
        let system = shipped(name);
        let bound = bound::bound(&system, 1500, 11, steps);
        let (ours, theirs) = garage::compare(&system, &system, garage::World::Plain, 1500, 11);
        print_row(name, garage::World::Plain, &ours, &theirs);
        println!(
            "nobody below {:.1} ({:.2} of the half-split); who knows the faults {:.1}",
            bound.finding,
            bound.finding / theirs.minutes,
            bound.knowing
        );
        assert!(bound.knowing < bound.finding && bound.finding < ours.minutes.min(theirs.minutes));
    }
}

/// In a plain world the half-split is near what can be had at all: one fault, and nothing that gainsays its logic.
const PLAIN_RATIO: f64 = 1.1;
