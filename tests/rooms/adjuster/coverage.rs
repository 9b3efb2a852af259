//! How often the intervals hold the truth of made adjusters ([`super::made`]).
//!
//! The large run, by which the figures are judged:
//! `BEAMFALL_CASES=400 BEAMFALL_SEED=200000 cargo test --release --lib rooms::adjuster::coverage::large -- --ignored --nocapture`

use super::made::{KINDS, Kind, Made, MadeLeak, Site};
use super::{Draw, Tape, cases, first_seed, share};
use crate::adjuster::{Adjuster, Interval, LeakState, Movement, Response, StickSlip};
use crate::record::AdjusterLimits;
use crate::warning::Warning;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Of one parameter: how often it was there to be told, told, and told with an interval that holds the truth.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    there: usize,
    told: usize,
    held: usize,
}

#[derive(Debug, Default)]
pub struct Tally {
    parameters: BTreeMap<&'static str, Count>,
    by_kind: BTreeMap<(Kind, &'static str), Count>,
    /// Said, by truth.
    movement: BTreeMap<(&'static str, String), usize>,
    leak: BTreeMap<(&'static str, String), usize>,
    pub wrong: Vec<String>,
    slips: BTreeMap<(Kind, &'static str), usize>,
    /// Leak-downs of movements that do not stick, and how many of them are said to be uneven.
    courses: usize,
    uneven: usize,
}

impl Tally {
    pub fn of(all: &[Case]) -> Self {
        let mut tally = Self::default();
        for case in all {
            response(&mut tally, case);
            leak_down(&mut tally, case);
        }
        tally
    }

    fn count(&mut self, kind: Kind, what: &'static str, seed: u64, told: Option<Interval>, truth: f64) {
        let held = told.is_some_and(|interval| interval.holds(truth));
        if let Some(missed) = told.filter(|_| !held) {
            let (low, high) = (missed.low.unwrap_or(f64::NAN), missed.high.unwrap_or(f64::NAN));
            println!("missed: {seed} {kind:?} {what}: {truth:.3} not in {low:.3} to {high:.3}");
        }
        for count in [
            self.parameters.entry(what).or_default(),
            self.by_kind.entry((kind, what)).or_default(),
        ] {
            count.there += 1;
            count.told += usize::from(told.is_some());
            count.held += usize::from(held);
        }
    }

    pub fn print(&self) {
        for (what, c) in &self.parameters {
            println!(
                "{what}: told in {} of {}, holds in {:.3}",
                c.told,
                c.there,
                share(c.held, c.told)
            );
        }
        for ((kind, what), c) in &self.by_kind {
            println!("  {kind:?}, {what}: told in {} of {}, held {}", c.told, c.there, c.held);
        }
        println!(
            "movement {:?}\nleak-down {:?}\nstick-slip {:?}\nuneven {} of {}",
            self.movement, self.leak, self.slips, self.uneven, self.courses
        );
        for wrong in &self.wrong {
            println!("wrong: {wrong}");
        }
    }
}

/// A made adjuster and what is said of it.
pub struct Case {
    pub seed: u64,
    pub made: Made,
    pub leak: MadeLeak,
    /// True travel at the highest vacuum, per cent.
    pub highest_percent: f64,
    pub adjuster: Adjuster,
}

fn run(seed: u64) -> Case {
    let mut draw = Draw::new(seed);
    let made = Made::draw(&mut draw, KINDS[(seed % KINDS.len() as u64) as usize]);
    let (site, tape) = (Site::draw(&mut draw), Tape::draw(&mut draw));
    let steps = draw.between(8.0, 13.0) as usize;
    let (mut readings, highest_percent) = site.respond(&made, steps, &tape, &mut draw);
    let leak = MadeLeak::draw(&mut draw, &made);
    readings.extend(site.leak_down(&made, &leak, &tape, &mut draw));
    Case {
        seed,
        adjuster: Adjuster::of(&readings, &AdjusterLimits::default(), None),
        made,
        leak,
        highest_percent,
    }
}

fn tally(first_seed: u64, count: u64) -> Tally {
    let all: Vec<Case> = (0..count).into_par_iter().map(|n| run(first_seed + n)).collect();
    Tally::of(&all)
}

fn response(tally: &mut Tally, case: &Case) {
    let (made, found, seed) = (&case.made, &case.adjuster.response[0], case.seed);
    let stuck = made.kind == Kind::Stuck;
    let said = found.movement.map_or("none".to_owned(), |m| m.to_string());
    let truth = if stuck { "still" } else { "moves" };
    *tally.movement.entry((truth, said.clone())).or_default() += 1;
    let wrong = if stuck { Movement::Moves } else { Movement::Still };
    if found.movement == Some(wrong) {
        tally.wrong.push(format!("{seed} {:?}: movement {said}", made.kind));
    }
    if stuck {
        return;
    }
    let slip = match found.stick_slip {
        StickSlip::Seen => "seen",
        StickSlip::NotSeen => "not seen",
        StickSlip::CannotTell => "cannot tell",
    };
    *tally.slips.entry((made.kind, slip)).or_default() += 1;
    let curve = found.curve.as_ref();
    let mut count = |what, told: Option<Interval>, truth| tally.count(made.kind, what, seed, told, truth);
    let gain = curve.map(|c| c.gain_percent_per_100_mbar);
    count("gain", gain, made.gain_percent_per_100_mbar);
    count("dead band", curve.and_then(|c| c.dead_band_mbar), made.dead_band_mbar);
    count(
        "hysteresis gap",
        curve.and_then(|c| c.hysteresis).map(|h| h.gap_mbar),
        made.play_mbar,
    );
    count("whole travel", curve.map(|c| c.travel_percent), case.highest_percent);
    count("rest", curve.map(|c| c.rest_percent), made.rest_percent);
    if made.has_stop() {
        count("end stop", curve.and_then(|c| c.end_stop_mbar), made.end_stop_mbar);
    } else if curve.is_some_and(|c| c.end_stop_mbar.is_some()) {
        tally
            .wrong
            .push(format!("{seed} {:?}: an end stop where there is none", made.kind));
    }
    if curve
        .and_then(|c| c.no_end_stop_below_mbar)
        .is_some_and(|below| below > made.end_stop_mbar)
    {
        tally.wrong.push(format!(
            "{seed} {:?}: no end stop below {}",
            made.kind, made.end_stop_mbar
        ));
    }
}

fn leak_down(tally: &mut Tally, case: &Case) {
    let (made, leak, found, seed) = (&case.made, &case.leak, &case.adjuster.leak_down[0], case.seed);
    // A beam that does not move, or sticks, shows nothing that could be held against the truth but the verdict.
    let truth = match (leak.leaks(), made.kind) {
        (_, Kind::Stuck) => "stuck",
        (true, _) => "leaks",
        (false, _) => "tight",
    };
    *tally.leak.entry((truth, found.state.to_string())).or_default() += 1;
    if !matches!(made.kind, Kind::Slipping | Kind::Stuck) {
        tally.courses += 1;
        tally.uneven += usize::from(found.warnings.iter().any(|w| matches!(w, Warning::CourseUneven)));
    }
    let wrong = match found.state {
        LeakState::Leaks => !leak.leaks() || made.kind == Kind::Stuck,
        LeakState::Holds => !leak.gauge_is_typed || found.loss_below_mbar.is_none_or(|below| below < leak.lost_mbar()),
        LeakState::CannotTell => false,
    };
    if wrong {
        let (kind, words) = (made.kind, &found.finding);
        tally.wrong.push(format!(
            "{seed} {kind:?}: {words}; lost {:.1} mbar; {leak:?}",
            leak.lost_mbar()
        ));
    }
    if made.kind != Kind::Stuck && leak.leaks() {
        tally.count(
            made.kind,
            "time constant",
            seed,
            found.time_constant_s,
            leak.time_constant_s,
        );
        let rate = leak.start_rate_mbar_per_min();
        tally.count(made.kind, "start rate", seed, found.start_rate_mbar_per_min, rate);
        if let Some(residual) = found.residual_vacuum_mbar {
            tally.count(made.kind, "residual", seed, Some(residual), leak.residual_mbar);
        }
    }
}

/// Movement and leak-down are never wrong, and what is stated is stated often enough to be of use.
pub fn check(tally: &Tally, least_held: f64) {
    tally.print();
    assert!(tally.wrong.is_empty(), "{:?}", tally.wrong);
    let said = |truth: &str, movement: Movement| {
        let of: usize = tally
            .movement
            .iter()
            .filter(|((t, _), _)| *t == truth)
            .map(|(_, n)| n)
            .sum();
        let right = tally
            .movement
            .iter()
            .filter(|((t, m), _)| *t == truth && *m == movement.to_string());
        if of == 0 {
            1.0
        } else {
            share(right.map(|(_, n)| n).sum(), of)
        }
    };
    assert!(said("still", Movement::Still) >= 0.8 && said("moves", Movement::Moves) >= 0.95);
    for (what, count) in &tally.parameters {
        assert!(share(count.held, count.told) >= least_held, "{what}: {count:?}");
        assert!(share(count.told, count.there) >= 0.6, "{what}: {count:?}");
    }
    let (held, told) = (tally.parameters.values()).fold((0, 0), |(held, told), c| (held + c.held, told + c.told));
    assert!(share(held, told) >= 0.9, "all intervals: {held} of {told}");
    assert!(
        tally.uneven * 20 <= tally.courses,
        "{} of {}",
        tally.uneven,
        tally.courses
    );
}

/// In so few cases a true 95 % falls below 0.8 once in 1000 runs; with the wall's error counted as independent, sharp corners
/// or a release that is taken for granted, they do.
#[test]
fn made_adjusters_keep_within_their_intervals() {
    check(&tally(100_000, 42), 0.8);
}

/// The responses of adjusters of one kind.
fn responses(kind: Kind, count: u64) -> Vec<Response> {
    let kinds = KINDS.len() as u64;
    let place = KINDS.iter().position(|k| *k == kind).unwrap() as u64;
    let seeds = (0..count).map(|n| 300_000 / kinds * kinds + n * kinds + place);
    seeds.map(|seed| run(seed).adjuster.response[0].clone()).collect()
}

#[test]
fn a_stuck_lamp_is_said_not_to_move_by_all_photos_together() {
    let all = responses(Kind::Stuck, 12);
    let still = all.iter().filter(|r| r.movement == Some(Movement::Still)).count();
    assert!(still >= 11, "{still} of {}", all.len());
}

/// A jump lags like play: what is told of a smooth movement is not told of one that sticks, and that it sticks is said.
#[test]
fn a_movement_that_sticks_hides_its_hysteresis() {
    let count = |kind| {
        let all = responses(kind, 10);
        let told = |r: &&Response| r.curve.as_ref().is_some_and(|c| c.hysteresis.is_some());
        let warned = |r: &&Response| {
            let sticks =
                |w: &Warning| w.to_string().contains("moves in jumps") || w.to_string().contains("movement sticks");
            r.stick_slip == StickSlip::Seen && r.warnings.iter().any(sticks)
        };
        [all.iter().filter(told).count(), all.iter().filter(warned).count()]
    };
    let (sticks, smooth) = (count(Kind::Slipping), count(Kind::SoftAndBent));
    assert!(sticks[0] <= 1 && sticks[1] >= 8, "told and warned: {sticks:?}");
    assert!(smooth[0] >= 9 && smooth[1] == 0, "told and warned: {smooth:?}");
}

/// Behind a jump the vacuum is not known: it is lost, but how fast is not told.
#[test]
fn a_leak_behind_a_movement_that_sticks_has_no_time_constant() {
    let kinds = KINDS.len() as u64;
    let place = KINDS.iter().position(|k| *k == Kind::Slipping).unwrap() as u64;
    let leaking = (0..).map(|n| run(310_000 / kinds * kinds + n * kinds + place));
    let leaking: Vec<Case> = leaking.filter(|case| case.leak.leaks()).take(6).collect();
    let found = || leaking.iter().map(|case| &case.adjuster.leak_down[0]);
    let said = found().filter(|leak| leak.state == LeakState::Leaks).count();
    let timed = found().filter(|leak| leak.time_constant_s.is_some()).count();
    assert!(
        said >= 5 && timed <= 1,
        "{said} said to leak, {timed} with a time constant"
    );
}

/// With the leak taken to go on to nothing, 100 s were read as several times as much.
#[test]
fn a_leak_that_stops_is_read_with_what_is_left() {
    let mut held = 0;
    for seed in 0..6 {
        let mut draw = Draw::new(400_000 + seed);
        let made = Made::draw(&mut draw, Kind::Sharp);
        let (site, tape) = (Site::draw(&mut draw), Tape::draw(&mut draw));
        let (mut readings, _) = site.respond(&made, 10, &tape, &mut draw);
        let leak = MadeLeak {
            start_mbar: made.dead_band_mbar + 170.0,
            release_mbar: [0.0, 100.0][seed as usize % 2],
            time_constant_s: 100.0,
            residual_mbar: made.dead_band_mbar + 60.0,
            duration_s: 500.0,
            photos: 16,
            gauge_is_typed: true,
        };
        readings.extend(site.leak_down(&made, &leak, &tape, &mut draw));
        let found = Adjuster::of(&readings, &AdjusterLimits::default(), None).leak_down[0].clone();
        let holds = |of: Option<Interval>, truth: f64| of.is_some_and(|interval| interval.holds(truth));
        println!("{}", found.finding);
        held +=
            usize::from(holds(found.time_constant_s, 100.0) && holds(found.residual_vacuum_mbar, leak.residual_mbar));
    }
    assert!(held >= 5, "{held} of 6");
}

/// The goal: each interval holds in 92 to 98 of 100.
#[test]
#[ignore = "minutes"]
fn large() {
    check(&tally(first_seed(200_000), cases(140)), 0.88);
}
