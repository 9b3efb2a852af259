//! What photos say of a system's tests, each piece of evidence once.
use crate::adjuster::{Adjuster, LeakState, Movement, TravelFaultKind};
use crate::aim::{Aim, Common, ShotReading};
use crate::isolate::{Evidence, Isolated, Observation, Origin, has_photos};
use crate::language::Language;
use crate::record::{
    Branch, ExpectedTravel, FaultKind, Gauge, Job, Lamp, Moves, RepairEntry, Shot, Side, Stage, System, Traffic, Trial,
    TrialMoves,
};
use crate::report::results::IsolationResult;
use std::path::Path;

/// One standard deviation of what differs from photo to photo, per cent.
const PHOTO_SD_PERCENT: f64 = 0.01;

fn system() -> System {
    System::find("vacuum-cabin-control", Path::new(".")).unwrap()
}

/// A job that grows photo by photo.
struct Made {
    job: Job,
    readings: Vec<ShotReading>,
}

impl Made {
    fn new() -> Self {
        Self {
            job: Job::of("W", "bay.toml", Traffic::Right),
            readings: Vec::new(),
        }
    }

    fn photo(mut self, shot: Shot, percent: f64, taken: Option<&str>) -> Self {
        let lamp = Lamp::of(
            shot.lamp,
            650.0,
            if shot.lamp == Side::Left { -560.0 } else { 560.0 },
            10_000.0,
        );
        let photo = format!("{}.jpg", self.readings.len()).into();
        let shot = Shot { photo, ..shot };
        let aim = Aim::made_with(percent, PHOTO_SD_PERCENT, Common::default());
        self.job.shot.push(shot.clone());
        self.readings.push(ShotReading::made(shot, lamp, aim, taken));
        self
    }

    /// Photos at positions 0, 1, 2 …
    fn positions(mut self, lamp: Side, stage: Stage, percents: &[f64]) -> Self {
        for (n, percent) in percents.iter().enumerate() {
            let shot = Shot {
                stage: Some(stage),
                position: Some(n.to_string()),
                ..Shot::of("", lamp)
            };
            self = self.photo(shot, *percent, None);
        }
        self
    }

    /// Photos while a pump applies vacuum: mbar and inclination in per cent.
    fn pumped(self, lamp: Side, series: Option<&str>, points: &[(f64, f64)]) -> Self {
        self.at_gauge(lamp, series, Branch::Applying, points)
    }

    /// The same while the vacuum is let go at the left lamp.
    fn released(self, points: &[(f64, f64)]) -> Self {
        self.at_gauge(Side::Left, Some("at the lamp"), Branch::Releasing, points)
    }

    fn at_gauge(mut self, lamp: Side, series: Option<&str>, branch: Branch, points: &[(f64, f64)]) -> Self {
        for (mbar, percent) in points {
            let shot = Shot {
                vacuum: Some(format!("{mbar} mbar").parse().unwrap()),
                branch: Some(branch),
                series: series.map(str::to_owned),
                ..Shot::of("", lamp)
            };
            self = self.photo(shot, *percent, None);
        }
        self
    }

    /// Ten photos, one each 30 s, with the valve shut; `at`: inclination, per cent, and what was typed of the gauge, mbar, so many
    /// seconds after the first.
    fn sealed(mut self, lamp: Side, series: Option<&str>, at: impl Fn(f64) -> (f64, Option<f64>)) -> Self {
        for n in 0..10u32 {
            let (percent, mbar) = at(30.0 * f64::from(n));
            let shot = Shot {
                vacuum: mbar.map(|mbar| format!("{mbar} mbar").parse().unwrap()),
                sealed: true,
                series: series.map(str::to_owned),
                ..Shot::of("", lamp)
            };
            // Scatter of the photos' size, the same in every run.
            let scatter = [0.004, -0.006, 0.003, 0.007, -0.005][n as usize % 5];
            let taken = format!("2031-03-04T20:{:02}:{:02}", n / 2, 30 * (n % 2));
            self = self.photo(shot, percent + scatter, Some(&taken));
        }
        self
    }

    fn trial(mut self, test: &str, moves: TrialMoves, gauge: Option<Gauge>) -> Self {
        self.job.trial.push(Trial {
            test: test.to_owned(),
            moves: Some(moves),
            gauge,
            stage: None,
            still: None,
            driven: None,
        });
        self
    }

    /// Two photos of the job, by number, are to decide a test.
    fn decided(mut self, test: &str, photos: [usize; 2], gauge: Option<Gauge>) -> Self {
        let photo = |n: usize| Some(self.job.shot[n].photo.clone());
        let (still, driven) = (photo(photos[0]), photo(photos[1]));
        self.job.trial.push(Trial {
            test: test.to_owned(),
            moves: None,
            gauge,
            stage: None,
            still,
            driven,
        });
        self
    }

    fn isolated(&self) -> Isolated {
        let adjuster = Adjuster::of(&self.readings, &self.job.adjuster, Some(true)).beside_before(&self.readings, &[]);
        Isolated::of_job(system(), &self.job, &self.readings, &adjuster).unwrap_or_else(|| Isolated::untested(system()))
    }

    /// What counts of a test.
    fn of(&self, test: &str) -> Vec<Evidence> {
        let found = self.isolated().trials.evidence;
        let number = system().test(test).unwrap();
        found.into_iter().filter(|one| one.test == number).collect()
    }

    fn one(&self, test: &str) -> Evidence {
        let all = self.of(test);
        assert_eq!(all.len(), 1, "{test}: {all:?}");
        all[0]
    }
}

const LEFT_PUMP: &str = "pump-at-left-lamp";
/// A beam that vacuum lifts by 0.25 % per 100 mbar from 50 mbar on.
fn lifted(mbar: f64) -> f64 {
    2.0 - 0.0025 * (mbar - 50.0).max(0.0)
}
fn steps(of: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    (0..10)
        .map(|n| 45.0 * f64::from(n))
        .map(|mbar| (mbar, of(mbar)))
        .collect()
}

#[test]
fn a_travel_surely_short_of_the_other_lamp_s_is_partly() {
    let made = |left: f64| {
        Made::new()
            .positions(Side::Left, Stage::Before, &[1.0, 1.0 + left])
            .positions(Side::Right, Stage::Before, &[1.0, 2.2])
    };
    let short = made(0.6).one("operate-left");
    assert!(
        short.is_short() && short.is_failure() && short.outcome() == Moves::No,
        "{short:?}"
    );
    assert!(made(0.6).one("operate-right").is_yes());
    // As likely as not: 0.83 of 1.2 is not surely less than 0.7 of it.
    assert!(made(0.83).one("operate-left").is_yes());
    let still = made(0.01).one("operate-left");
    assert!(matches!(still.seen, Observation::Travel { .. }) && still.is_failure());
    let shown = IsolationResult::new(&made(0.6).isolated());
    let trial = shown.trials.iter().find(|trial| trial.test == "operate-left").unwrap();
    assert_eq!(
        (trial.seen, trial.from.as_str()),
        (Some(TrialMoves::Partly), "positions")
    );
    assert!((trial.travel_percent.unwrap() - 0.6).abs() < 1e-9);
}

/// Nobody photographed the other lamp once more, and no repair touched it: what it did before is still the measure.
#[test]
fn a_travel_after_the_repair_is_held_against_the_other_lamp_s_before_it() {
    let made = |left: f64| {
        let mut made = Made::new()
            .positions(Side::Left, Stage::Before, &[1.0, 1.0, 1.0])
            .positions(Side::Right, Stage::Before, &[1.0, 1.6, 2.2])
            .positions(Side::Left, Stage::After, &[1.0, 1.0 + left / 2.0, 1.0 + left]);
        made.job.repair.push(RepairEntry {
            component: Some("left-actuator".to_owned()),
            date: "2031-03-05".to_owned(),
            words: "replaced".to_owned(),
            extent: None,
        });
        made
    };
    for (left, is_short) in [(0.2, true), (0.6, true), (0.83, false), (1.2, false)] {
        let isolated = made(left).isolated();
        let after = |one: &&Evidence| one.mended != 0;
        let all = isolated.trials.evidence.iter().chain(&isolated.trials.since_repair);
        let after: Vec<&Evidence> = all.filter(after).collect();
        assert_eq!(after.len(), 1, "{left}: {after:?}");
        assert_eq!(after[0].is_short(), is_short, "{left}: {after:?}");
        // A repair that did not help: the same job goes on.
        assert_eq!(isolated.trials.since_repair.is_empty(), is_short, "{left}");
    }
    let made = made(0.2);
    let adjuster = Adjuster::of(&made.readings, &made.job.adjuster, Some(true));
    let short = |repaired: &[Side]| -> Vec<String> {
        let beside = adjuster.clone().beside_before(&made.readings, repaired);
        let after = beside.short_travels().filter(|(stage, _)| *stage == Some(Stage::After));
        after.map(|(_, short)| short.to_string()).collect()
    };
    let words =
        "the left beam moves by 0.20 % only from 0 to 2, where the other lamp's moved by 1.20 % before the repair";
    assert_eq!(short(&[Side::Left]), [words]);
    // What was mended itself is no measure of what it was before.
    assert!(short(&[Side::Right]).is_empty());
}

#[test]
fn a_travel_short_of_what_is_expected_or_dead_at_a_step_is_partly() {
    let both = |percents: &[f64]| {
        Made::new()
            .positions(Side::Left, Stage::Before, percents)
            .positions(Side::Right, Stage::Before, percents)
    };
    let mut made = both(&[1.0, 1.5]);
    assert!(made.one("operate-left").is_yes());
    let expected = |travel_percent| ExpectedTravel {
        position: "1".to_owned(),
        travel_percent,
        tolerance_percent: 0.15,
    };
    made.job.adjuster.expected = vec![expected(1.0)];
    assert!(made.one("operate-left").is_short());
    // More than is expected is not short, nor is what lies on the limit.
    for enough in [0.3, 0.65] {
        made.job.adjuster.expected = vec![expected(enough)];
        assert!(made.one("operate-left").is_yes(), "{enough}");
    }
    assert!(
        both(&[1.0, 1.4, 1.4, 1.8]).one("operate-right").is_short(),
        "dead from 1 to 2"
    );
    assert!(both(&[1.0, 1.3, 1.5, 1.8]).one("operate-right").is_yes());
}

/// Of several photos of a position the mean counts, with their spread, whatever the order of the list; where that cannot tell whether the
/// beam moves, it neither accuses nor clears.
#[test]
fn the_adjuster_s_travel_is_the_isolation_s() {
    let at = |photos: &[(&str, f64, Option<&str>)]| {
        photos.iter().fold(Made::new(), |made, (position, percent, taken)| {
            let shot = Shot {
                position: Some((*position).to_owned()),
                ..Shot::of("", Side::Left)
            };
            made.photo(shot, *percent, *taken)
        })
    };
    for spread in [
        [("0", 1.0, None), ("3", 2.2, None), ("0", 2.2, None)],
        [("0", 2.2, None), ("0", 1.0, None), ("3", 2.2, None)],
    ] {
        let one = at(&spread).one("operate-left");
        assert!(!one.is_failure() && !one.is_yes() && !one.is_firm(), "{one:?}");
        assert!(matches!(one.seen, Observation::Travel { percent, .. } if (percent - 0.6).abs() < 1e-9));
    }
    // Times tell that the beam did not come back: that is no spread.
    let timed = |back: f64, last: &'static str| {
        [
            ("0", 1.0, Some("2031-03-04T20:01:00")),
            ("3", 2.2, Some("2031-03-04T20:03:00")),
            ("1", 1.4, Some("2031-03-04T20:02:00")),
            ("0", back, Some(last)),
        ]
    };
    let stays = at(&timed(2.19, "2031-03-04T20:04:00"));
    assert_eq!(
        stays.one("operate-left").seen,
        Observation::Written(TrialMoves::DoesNotReturn)
    );
    let adjuster = Adjuster::of(&stays.readings, &stays.job.adjuster, Some(true));
    assert_eq!(adjuster.travel[0].faults[0].kind, TravelFaultKind::DoesNotReturn);
    assert!((adjuster.travel[0].total.as_ref().unwrap().percent - 1.2).abs() < 1e-9);
    // Back where it was, or taken before the last position was: nothing stays.
    assert!(at(&timed(1.01, "2031-03-04T20:04:00")).one("operate-left").is_yes());
    let earlier = at(&timed(2.19, "2031-03-04T20:02:30")).one("operate-left");
    assert!(matches!(earlier.seen, Observation::Travel { .. }), "{earlier:?}");
}

/// A beam that the pump drove, and that stays there with the vacuum let go, sticks; up there it dazzles.
#[test]
fn a_beam_that_stays_where_the_pump_drove_it_is_told() {
    let made = |back: f64, raises: f64| {
        let way = |mbar: f64| 2.0 + raises * (lifted(mbar) - 2.0);
        let let_go = [(200.0, way(400.0)), (0.0, back)];
        let pumped = Made::new().pumped(Side::Left, Some("at the lamp"), &steps(way));
        pumped.released(&let_go)
    };
    let high = lifted(400.0);
    let stays = made(high, 1.0);
    assert_eq!(
        stays.one(LEFT_PUMP).seen,
        Observation::Written(TrialMoves::DoesNotReturn)
    );
    let isolated = stays.isolated();
    let first = isolated.trials.warnings[0].to_string();
    assert!(first.contains("dazzles") && first.contains(LEFT_PUMP), "{first}");
    let component = &isolated.system.components[isolated.answer.first_component()];
    assert_eq!(component.id, "left-actuator");
    // Most of the way back is a play, and no beam that stays.
    let back = made(1.9, 1.0);
    assert!(!back.one(LEFT_PUMP).is_failure());
    assert!(
        back.isolated()
            .trials
            .warnings
            .iter()
            .all(|one| !one.to_string().contains("dazzles"))
    );
    // One that stays low dazzles nobody.
    let low = made(4.0 - high, -1.0).isolated();
    assert!(
        low.trials
            .warnings
            .iter()
            .all(|one| !one.to_string().contains("dazzles"))
    );
}

/// Where a beam stands under the control tells whether vacuum is there: by its own curve under the pump, and not by guess.
#[test]
fn a_beam_that_stands_where_vacuum_holds_it_is_no_leak() {
    let standing = |percent: f64| {
        Made::new().positions(Side::Left, Stage::Before, &[percent; 4]).pumped(
            Side::Left,
            Some("at the lamp"),
            &steps(lifted),
        )
    };
    // The share that leaks, hoses that are off and the rest have of the belief.
    let leaking = |made: &Made| {
        let isolated = made.isolated();
        let of_leak = isolated
            .answer
            .suspects
            .iter()
            .filter(|one| one.fault.is_leak() || one.fault == FaultKind::Off);
        of_leak.map(|one| one.probability).sum::<f64>()
    };
    let told = |made: &Made| {
        let isolated = made.isolated();
        isolated
            .trials
            .warnings
            .iter()
            .map(ToString::to_string)
            .find(|one| one.contains("is not let off"))
    };
    let (held, hangs) = (standing(lifted(350.0)), standing(lifted(0.0)));
    assert!(!held.one("operate-left").is_yes() && hangs.one("operate-left").is_failure());
    let words = told(&held).expect("it stands where vacuum holds it");
    assert!(words.contains("the left beam stands where 350 mbar"), "{words}");
    assert_eq!(told(&hangs), None);
    assert!(
        leaking(&held) < 0.5 * leaking(&hangs),
        "{} {}",
        leaking(&held),
        leaking(&hangs)
    );
    // A little off rest decides nothing, and neither does a height without a curve to hold it against.
    assert_eq!(told(&standing(lifted(150.0))), None);
    let alone = Made::new().positions(Side::Left, Stage::Before, &[lifted(350.0); 4]);
    assert_eq!(told(&alone), None);
    assert!(
        (leaking(&alone) - leaking(&Made::new().positions(Side::Left, Stage::Before, &[lifted(0.0); 4]))).abs() < 1e-12
    );
}

/// A beam that goes up and down again in steps, as its curve says, does not stick; going up alone tells less.
#[test]
fn steps_up_and_down_again_clear_what_would_stick() {
    let way = |mbar: f64| 2.6 - 0.004 * (mbar - 50.0).max(0.0);
    let points: Vec<(f64, f64)> = [0.0, 100.0, 200.0, 300.0, 400.0].map(|mbar| (mbar, way(mbar))).to_vec();
    let up = || {
        let still = Made::new().positions(Side::Left, Stage::Before, &[way(0.0); 4]);
        still.pumped(Side::Left, Some("at the lamp"), &points)
    };
    let down: Vec<(f64, f64)> = points.iter().rev().skip(1).copied().collect();
    let (both, up) = (up().released(&down), up());
    let sticking = |made: &Made| {
        let isolated = made.isolated();
        let sticks = |one: &&crate::isolate::Suspect| matches!(one.fault, FaultKind::Sticks | FaultKind::Stiff);
        isolated
            .answer
            .suspects
            .iter()
            .filter(sticks)
            .map(|one| one.probability)
            .sum::<f64>()
    };
    assert!(
        sticking(&both) < 0.7 * sticking(&up),
        "{} {}",
        sticking(&both),
        sticking(&up)
    );
}

/// A steady fall of what was typed of the gauge is a fall, also where the beam lies on its stop; what a gauge is misread by is none.
#[test]
fn a_steady_fall_of_the_gauge_is_told() {
    let at = |per_min: f64| {
        Made::new()
            .pumped(Side::Left, Some("at the lamp"), &steps(|mbar| lifted(mbar.min(350.0))))
            .sealed(Side::Left, Some("at the lamp"), move |s| {
                (lifted(350.0), Some((450.0 - per_min * s / 60.0).round()))
            })
    };
    let rate = |per_min: f64| {
        let made = at(per_min);
        let adjuster = Adjuster::of(&made.readings, &made.job.adjuster, Some(true));
        adjuster.leak_down[0].gauge_fall_mbar_per_min
    };
    assert!((rate(12.0).unwrap() - 12.0).abs() < 0.5, "{:?}", rate(12.0));
    assert_eq!(at(12.0).one(LEFT_PUMP).gauge, Some(Gauge::Falls));
    assert_eq!((rate(1.0), rate(0.0)), (None, None));
    assert_eq!(at(0.0).one(LEFT_PUMP).gauge, Some(Gauge::RisesAndHolds));
}

/// What adds up to something over two steps is a movement for all, and no following; of no step is said that others move.
#[test]
fn a_beam_that_hardly_moves_is_called_so_by_all() {
    // Four photos of each.
    let made = (0..4).fold(Made::new(), |made, _| {
        made.positions(Side::Left, Stage::Before, &[1.25, 1.285, 1.32])
    });
    let adjuster = Adjuster::of(&made.readings, &made.job.adjuster, Some(true));
    let travel = &adjuster.travel[0];
    let kinds: Vec<TravelFaultKind> = travel.faults.iter().map(|fault| fault.kind).collect();
    assert_eq!(
        (travel.movement, kinds),
        (Some(Movement::Moves), vec![TravelFaultKind::HardlyMoves])
    );
    let one = made.one("operate-left");
    assert!(one.is_short() && one.is_failure(), "{one:?}");
}

#[test]
fn photos_under_the_pump_count_only_where_the_job_says_what_it_was_joined_to() {
    let at = |series: Option<&str>| Made::new().pumped(Side::Left, series, &steps(lifted));
    assert!(at(None).isolated().trials.evidence.is_empty());
    assert!(at(Some("second try")).isolated().trials.evidence.is_empty());
    assert!(at(Some("at the right lamp")).isolated().trials.evidence.is_empty());
    for (series, test) in [
        ("at the lamp", LEFT_PUMP),
        (LEFT_PUMP, LEFT_PUMP),
        ("pump-at-left-line", "pump-at-left-line"),
        ("At the left line", "pump-at-left-line"),
    ] {
        let made = at(Some(series));
        assert!(has_photos(&system(), &made.job), "{series}");
        assert_eq!(made.isolated().trials.evidence.len(), 1, "{series}");
        let one = made.one(test);
        // It moves; whether it stays nobody watched.
        assert!(
            one.origin == Origin::Pump && one.allows(Moves::Yes) && one.allows(Moves::CreepsBack),
            "{one:?}"
        );
        assert!(!one.allows(Moves::No), "{one:?}");
    }
    let still = |most: f64| {
        let points: Vec<(f64, f64)> = (0..5).map(|n| (most * f64::from(n) / 4.0, 1.5)).collect();
        Made::new().pumped(Side::Left, Some("at the lamp"), &points)
    };
    let one = still(400.0).one(LEFT_PUMP);
    assert!(one.outcome() == Moves::No && one.is_firm(), "{one:?}");
    assert!(still(150.0).of(LEFT_PUMP).is_empty(), "it may lie in its dead band yet");
    let short = at(Some("at the lamp")).pumped(
        Side::Right,
        Some("at the lamp"),
        &steps(|mbar| 2.0 + 0.4 * (lifted(mbar) - 2.0)),
    );
    let one = short.one("pump-at-right-lamp");
    assert!(one.is_short() && one.is_failure(), "{one:?}");
    assert!(!short.one(LEFT_PUMP).is_failure());
}

/// The valve shut at 300 mbar on a beam whose response is known.
fn shut(time_constant_s: f64) -> Made {
    shut_beside(time_constant_s, |_| None)
}

/// As [`shut`] on what holds, with a gauge that says so too.
fn held() -> Made {
    shut_beside(1e9, |mbar| Some(mbar.round()))
}

fn shut_beside(time_constant_s: f64, typed_mbar: impl Fn(f64) -> Option<f64>) -> Made {
    let at = move |seconds: f64| {
        let mbar = 300.0 * (-seconds / time_constant_s).exp();
        (lifted(mbar), typed_mbar(mbar))
    };
    Made::new()
        .pumped(Side::Left, Some("at the lamp"), &steps(lifted))
        .sealed(Side::Left, Some("at the lamp"), at)
}

#[test]
fn a_leak_down_says_whether_what_moved_stays() {
    let holds = held().one(LEFT_PUMP);
    assert_eq!(holds.seen, Observation::Sealed { holds: true }, "{holds:?}");
    assert!(holds.is_yes() && holds.gauge == Some(Gauge::RisesAndHolds));
    // A beam may keep its place on its stop while the vacuum goes: without a gauge nobody knows.
    let untyped = shut(1e9).one(LEFT_PUMP);
    assert!(
        untyped.allows(Moves::Yes) && untyped.allows(Moves::CreepsBack) && untyped.gauge.is_none(),
        "{untyped:?}"
    );
    let leaks = shut(120.0).one(LEFT_PUMP);
    assert_eq!(leaks.seen, Observation::Sealed { holds: false }, "{leaks:?}");
    assert_eq!(leaks.outcome(), Moves::CreepsBack);
    let isolated = shut(120.0).isolated();
    assert_eq!(
        isolated.system.components[isolated.answer.first_component()].id,
        "left-actuator"
    );
    // A third lost in a quarter of an hour is neither.
    let slow = shut(2500.0).one(LEFT_PUMP);
    assert!(slow.allows(Moves::Yes) && slow.gauge.is_none(), "{slow:?}");
}

#[test]
fn what_was_typed_of_the_gauge_counts_and_nothing_is_guessed() {
    let gauge = |at: &dyn Fn(f64) -> Option<f64>| {
        let made = Made::new()
            .pumped(Side::Left, Some("at the lamp"), &steps(lifted))
            .sealed(Side::Left, Some("at the lamp"), |s| {
                (lifted(at(s).unwrap_or(300.0)), at(s))
            });
        made.one(LEFT_PUMP).gauge
    };
    assert_eq!(gauge(&|s| Some(300.0 * (-s / 200.0).exp())), Some(Gauge::Falls));
    assert_eq!(gauge(&|s| Some(300.0 - 0.01 * s)), Some(Gauge::RisesAndHolds));
    // Never above none over three strokes, and again with the valve shut.
    let none: Vec<(f64, f64)> = (0..4).map(|n| (2.0 * f64::from(n), 1.5)).collect();
    let made = |points: &[(f64, f64)]| Made::new().pumped(Side::Left, Some("at the lamp"), points);
    let one = made(&none).one(LEFT_PUMP);
    assert_eq!((one.outcome(), one.gauge), (Moves::No, Some(Gauge::WillNotRise)));
    assert!(
        made(&none[..2]).of(LEFT_PUMP).is_empty(),
        "two photos at rest say nothing"
    );
    assert!(made(&[(0.0, 1.5), (40.0, 1.5), (80.0, 1.5)]).of(LEFT_PUMP).is_empty());
    // One gauge that fell to nothing did rise.
    let fell = Made::new().sealed(Side::Left, Some("at the lamp"), |s| (1.5, (s > 200.0).then_some(0.0)));
    assert!(fell.of(LEFT_PUMP).is_empty());
}

/// Two series of one test, each pumped to its own vacuum: nothing fell from the one to the other.
#[test]
fn a_gauge_is_held_against_its_own_series() {
    let held_at = |mbar: f64| move |_: f64| (lifted(mbar), Some(mbar));
    let twice = |second_mbar: f64| {
        Made::new()
            .pumped(Side::Left, Some("at the lamp"), &steps(lifted))
            .sealed(Side::Left, Some("at the lamp"), held_at(300.0))
            .sealed(Side::Left, Some(LEFT_PUMP), held_at(second_mbar))
    };
    assert_eq!(twice(200.0).one(LEFT_PUMP).gauge, Some(Gauge::RisesAndHolds));
    // One that holds and one that falls say nothing together.
    let falls = |s: f64| {
        let mbar = 300.0 * (-s / 100.0).exp();
        (lifted(mbar), Some(mbar))
    };
    let differ = Made::new()
        .pumped(Side::Left, Some("at the lamp"), &steps(lifted))
        .sealed(Side::Left, Some("at the lamp"), held_at(300.0))
        .sealed(Side::Left, Some(LEFT_PUMP), falls)
        .one(LEFT_PUMP);
    assert!(
        differ.gauge.is_none() && !matches!(differ.seen, Observation::Sealed { .. }),
        "{differ:?}"
    );
}

/// A beam that creeps while the gauge was typed alike all the time: the report leaves that open, and so does the isolation.
#[test]
fn a_creep_that_the_gauge_does_not_bear_out_accuses_and_clears_nothing() {
    let made = shut_beside(120.0, |_| Some(300.0));
    let adjuster = Adjuster::of(&made.readings, &made.job.adjuster, Some(true));
    assert!(
        adjuster.leak_down.iter().any(|leak| leak.doubt().is_some()),
        "{:?}",
        adjuster.leak_down
    );
    let one = made.one(LEFT_PUMP);
    assert!(
        one.gauge.is_none() && !matches!(one.seen, Observation::Sealed { .. }),
        "{one:?}"
    );
    assert!(one.allows(Moves::Yes) && one.allows(Moves::CreepsBack), "{one:?}");
}

#[test]
fn a_typed_trial_and_its_photos_count_once_and_are_named_where_they_differ() {
    let once = held().trial(LEFT_PUMP, TrialMoves::Yes, None);
    let one = once.one(LEFT_PUMP);
    assert_eq!((one.origin, one.gauge), (Origin::Trial(0), Some(Gauge::RisesAndHolds)));
    let own = held()
        .trial(LEFT_PUMP, TrialMoves::Yes, Some(Gauge::Falls))
        .one(LEFT_PUMP);
    assert_eq!(own.gauge, Some(Gauge::Falls), "what was written down stands");
    let torn = held().trial(LEFT_PUMP, TrialMoves::No, None);
    assert_eq!(torn.of(LEFT_PUMP).len(), 2);
    let warned = |isolated: &Isolated| {
        isolated
            .trials
            .warnings
            .iter()
            .filter(|w| w.to_string().contains("say otherwise"))
            .count()
    };
    // What sticks can do both; what stays cannot creep back.
    assert!(warned(&torn.isolated()) == 1 && torn.isolated().answer.contradiction.is_none());
    let isolated = shut(120.0).trial(LEFT_PUMP, TrialMoves::Yes, None).isolated();
    assert_eq!(isolated.answer.contradiction.as_ref().unwrap().trials, [0, 1]);
    assert_eq!(warned(&isolated), 1);
    let said = crate::report::terminal::isolation(Language::English, &isolated, "job.toml", false);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("was written down and photographed"), "{said}");
    // At positions alike; a beam that did not come back was driven.
    let both = |moves| {
        Made::new()
            .positions(Side::Left, Stage::Before, &[1.0, 2.2])
            .trial("operate-left", moves, None)
    };
    assert_eq!(both(TrialMoves::Yes).of("operate-left").len(), 1);
    assert_eq!(both(TrialMoves::DoesNotReturn).of("operate-left").len(), 1);
    assert_eq!(both(TrialMoves::No).of("operate-left").len(), 2);
    assert_eq!(
        (
            warned(&both(TrialMoves::Yes).isolated()),
            warned(&both(TrialMoves::No).isolated())
        ),
        (0, 1)
    );
}

/// A leak that takes longer than a test's minute to show, and one that a gauge shows and a beam at its stop hides, go together with a beam
/// that stayed: nothing is contradicted, and the leak stays what it was.
#[test]
fn a_beam_that_stayed_for_its_minute_does_not_clear_a_slower_leak() {
    let told = |seconds: f64, gauge: Option<Gauge>| shut(seconds).trial(LEFT_PUMP, TrialMoves::Yes, gauge).isolated();
    for (seconds, gauge) in [(300.0, None), (300.0, Some(Gauge::Falls)), (120.0, Some(Gauge::Falls))] {
        let isolated = told(seconds, gauge);
        let [one] = isolated.trials.evidence[..] else {
            panic!("{seconds} {gauge:?}: {:?}", isolated.trials.evidence)
        };
        assert_eq!((one.seen, one.gauge), (Observation::Sealed { holds: false }, gauge));
        assert!(isolated.answer.contradiction.is_none());
        let warned = |part: &str| {
            isolated
                .trials
                .warnings
                .iter()
                .any(|one| one.to_string().contains(part))
        };
        assert!(warned("so slow a leak") && !warned("say otherwise"));
        let alone = shut(seconds).isolated();
        let actuator = isolated.system.component("left-actuator").unwrap();
        let [beside, alone] = [&isolated, &alone].map(|one| one.answer.by_component[actuator]);
        assert!(beside >= alone - 1e-9, "{seconds} {gauge:?}: {beside} {alone}");
    }
    // A gauge that was seen to hold gainsays them.
    assert_eq!(told(300.0, Some(Gauge::RisesAndHolds)).trials.evidence.len(), 2);
}

/// A repair that did not help, by the photos after it, goes on with the same job; one that did stays told as it was.
#[test]
fn photos_after_a_repair_that_did_not_help_tell_of_the_mended_car() {
    let made = |after: &[f64]| {
        let mut made = Made::new()
            .positions(Side::Left, Stage::Before, &[1.0, 1.0])
            .positions(Side::Right, Stage::Before, &[1.0, 2.2])
            .positions(Side::Left, Stage::After, after)
            .positions(Side::Right, Stage::After, &[1.0, 2.2]);
        made.job.repair.push(RepairEntry {
            component: Some("left-actuator".to_owned()),
            date: "2031-03-04".to_owned(),
            words: "replaced".to_owned(),
            extent: None,
        });
        made.isolated()
    };
    let helped = made(&[1.0, 2.2]);
    let actuator = helped.system.component("left-actuator").unwrap();
    assert_eq!(
        (helped.trials.repaired_since.clone(), helped.trials.done.mended),
        (vec![actuator], 0)
    );
    assert_eq!(helped.trials.evidence.len(), 2);
    let failed = made(&[1.0, 1.0]);
    assert_eq!(
        (failed.trials.evidence.len(), failed.trials.done.mended),
        (4, 1 << actuator)
    );
    let probability = failed.answer.by_component[actuator];
    assert!(
        (0.02..0.3).contains(&probability),
        "it is new, and may sit wrongly: {probability}"
    );
    assert_eq!(failed.failures().len(), 1);
}

/// Trials after a first repair that did not help, photos after a second one of the same part: they are of two cars, so that neither says
/// otherwise than the other, and neither stands for the other.
#[test]
fn photos_after_a_second_repair_are_of_another_car_than_trials_after_the_first() {
    let made = |dates: &[&str]| {
        let mut made = Made::new()
            .trial("operate-left", TrialMoves::No, None)
            .trial("operate-right", TrialMoves::Yes, None)
            .trial("operate-left", TrialMoves::No, None)
            .trial("operate-right", TrialMoves::Yes, None);
        for trial in &mut made.job.trial[2..] {
            trial.stage = Some(Stage::After);
        }
        for lamp in [Side::Left, Side::Right] {
            for (position, percent) in [("0", 1.0), ("3", 2.2)] {
                let shot = Shot {
                    stage: Some(Stage::After),
                    position: Some(position.to_owned()),
                    ..Shot::of("", lamp)
                };
                made = made.photo(shot, percent, Some("2031-03-06T10:00:00"));
            }
        }
        made.job.repair = (dates.iter())
            .map(|date| RepairEntry {
                component: Some("left-line".to_owned()),
                date: (*date).to_owned(),
                words: "renewed".to_owned(),
                extent: None,
            })
            .collect();
        made.job.repairs_above = vec![0, 0, 1, 1];
        made.isolated()
    };
    let kinds = |isolated: &Isolated| {
        let warnings = isolated.trials.warnings.iter();
        warnings
            .filter_map(|w| {
                let said = w.to_string();
                ["say otherwise", "not counted as another"]
                    .into_iter()
                    .find(|words| said.contains(words))
            })
            .collect::<Vec<_>>()
    };
    // After one repair trial and photos are of one car.
    assert_eq!(
        kinds(&made(&["2031-03-04"])),
        ["say otherwise", "not counted as another"]
    );
    let mended = made(&["2031-03-04", "2031-03-05"]);
    assert_eq!(kinds(&mended), [] as [&str; 0]);
    assert_eq!(mended.trials.evidence.len(), 6);
    // Both beams follow now, by the photos: nobody looks at them once more.
    let next = mended
        .answer
        .decision
        .next
        .as_ref()
        .map(|next| mended.system.tests[next.test].id.clone());
    assert!(!next.is_some_and(|id| id.starts_with("operate-")));
}

/// Whatever comes out of the tests, while one stands that failed nobody is told that nothing is at fault.
#[test]
fn nothing_is_never_at_fault_while_a_reading_shows_a_dead_or_short_beam() {
    let all_sound = [
        "pump-at-left-lamp",
        "pump-at-left-line",
        "bridge-left-at-control",
        "gauge-at-control",
        "gauge-at-source",
        "gauge-at-left-outlet",
        "gauge-on-left-hose",
        "swap-hoses-watch-left",
        "listen-at-control",
        "listen-under-bonnet",
        "look-at-hoses",
        "left-line-alone",
        "vent-left",
        "reflector-left-by-hand",
        "pinch-right-hose-watch-left",
    ];
    let mut told = 0;
    for left in [[1.0, 1.0], [1.0, 1.5]] {
        let mut made =
            Made::new()
                .positions(Side::Left, Stage::Before, &left)
                .positions(Side::Right, Stage::Before, &[1.0, 2.2]);
        for test in all_sound {
            made = made.trial(test, TrialMoves::Yes, None);
            let isolated = made.isolated();
            assert!(!isolated.failures().is_empty());
            let said = crate::report::terminal::isolation(Language::English, &isolated, "job.toml", false);
            assert!(
                !said.contains("nothing is at fault") && !said.contains("nothing seems"),
                "{said}"
            );
            told += usize::from(said.contains("before any part is replaced"));
            if let Some(stop) = said.find("Stop testing") {
                assert!(!said[..stop].contains("once more"), "{said}");
            }
        }
    }
    assert!(told > 0, "what is left, and what would settle it");
}

/// Two photos of the left beam at rest and with the pump at a vacuum, mbar.
fn two_photos(mbar: f64, driven_percent: f64, gauge: Option<Gauge>) -> Made {
    Made::new()
        .pumped(Side::Left, None, &[(0.0, 1.5), (mbar, driven_percent)])
        .decided(LEFT_PUMP, [0, 1], gauge)
}

/// What the dead band may hide says nothing, whether the photos stand as a series or as a test's two.
#[test]
fn two_photos_with_too_little_vacuum_say_as_little_as_a_series_of_them() {
    let found = two_photos(90.0, 1.5, None).isolated();
    assert!(found.trials.evidence.is_empty(), "{:?}", found.trials.evidence);
    let told: Vec<String> = found.trials.warnings.iter().map(ToString::to_string).collect();
    let why = told.join("; ");
    assert!(why.contains("90 mbar") && why.contains("400 mbar"), "{why}");
    let series = Made::new().pumped(Side::Left, Some("at the lamp"), &[(0.0, 1.5), (90.0, 1.5)]);
    assert!(series.of(LEFT_PUMP).is_empty());
    // Of a gauge that stops there, however one pumps, there is no more to be had: as where it is answered by eye.
    let short = two_photos(90.0, 1.5, Some(Gauge::WillNotRise)).one(LEFT_PUMP);
    assert!(
        short.outcome() == Moves::No && short.gauge == Some(Gauge::WillNotRise),
        "{short:?}"
    );
    let enough = two_photos(400.0, 1.5, None).one(LEFT_PUMP);
    assert!(enough.outcome() == Moves::No && enough.is_firm(), "{enough:?}");
}

#[test]
fn a_gauge_beside_two_photos_counts_as_beside_a_typed_answer() {
    let of = |made: Made| {
        let found = made.isolated();
        let left = found.system.component("left-actuator").unwrap();
        let leaks = (found.answer.suspects.iter()).filter(|one| one.component == left && one.fault == FaultKind::Leaks);
        leaks.map(|one| one.probability).sum::<f64>()
    };
    let mut told = Vec::new();
    for gauge in [
        None,
        Some(Gauge::WillNotRise),
        Some(Gauge::Falls),
        Some(Gauge::RisesAndHolds),
    ] {
        let photographed = of(two_photos(400.0, 1.5, gauge));
        let typed = of(Made::new().trial(LEFT_PUMP, TrialMoves::No, gauge));
        println!("{gauge:?}: {photographed:.3} by photos, {typed:.3} typed");
        assert!((photographed - typed).abs() < 0.08, "{gauge:?}: {photographed} {typed}");
        told.push(photographed);
    }
    assert!(told[3] < told[0] && told[0] < told[1].min(told[2]), "{told:?}");
}

/// Where the readings say that a beam does not move, the test does: one rule, the job's least travel.
#[test]
fn what_does_not_move_by_the_readings_does_not_move_in_a_test() {
    for percent in [1.5, 1.485, 1.515] {
        let made = two_photos(400.0, percent, None);
        let adjuster = Adjuster::of(&made.readings, &made.job.adjuster, Some(true));
        assert_eq!(adjuster.response[0].movement, Some(Movement::Still), "{percent}");
        let one = made.one(LEFT_PUMP);
        assert!(one.outcome() == Moves::No && one.is_firm(), "{percent}: {one:?}");
    }
}

/// A beam that stands still up to 90 mbar may lie in its dead band yet: that is no finding.
#[test]
fn a_beam_that_was_hardly_pumped_is_not_said_to_stand_still() {
    let found = |most: f64| {
        let points: Vec<(f64, f64)> = (0..6).map(|n| (most * f64::from(n) / 5.0, 1.5)).collect();
        let made = Made::new().pumped(Side::Right, Some("at the lamp"), &points);
        let adjuster = Adjuster::of(&made.readings, &made.job.adjuster, Some(true));
        let response = adjuster.response[0].clone();
        let said: Vec<String> = response.warnings.iter().map(ToString::to_string).collect();
        (
            response.movement,
            said.join("; "),
            adjuster.is_at_fault(Side::Right, None),
        )
    };
    let (movement, said, at_fault) = found(90.0);
    assert!(movement == Some(Movement::CannotTell) && !at_fault, "{movement:?}");
    assert!(said.contains("not known beyond 90 mbar"), "{said}");
    let (movement, said, at_fault) = found(400.0);
    assert!(movement == Some(Movement::Still) && at_fault, "{movement:?}");
    assert!(said.contains("up to 400 mbar"), "{said}");
}

/// A leak that the report tells of and that is too slow for any test is named beside the tests, too, with the same next thing to do.
#[test]
fn a_leak_that_counts_for_no_test_is_named_beside_them() {
    let of = |percent_per_s: f64| {
        let made = Made::new().sealed(Side::Left, Some("at the lamp"), move |s| {
            (1.5 + percent_per_s * s, None)
        });
        let found = made.isolated();
        let named = |part: &str| found.trials.warnings.iter().any(|one| one.to_string().contains(part));
        (found.trials.evidence.len(), named("watch the gauge for ten minutes"))
    };
    assert_eq!(of(0.0004), (0, true));
    assert_eq!(of(0.003), (1, false), "it counts");
    assert_eq!(of(0.0001), (0, false), "nothing to speak of");
}

/// A gauge that shows the same at the first photo and at the last bears out a beam that moved by nothing of interest; one that fell does not.
#[test]
fn a_gauge_at_the_first_photo_and_at_the_last_bears_out_that_vacuum_holds() {
    let of = |last: f64, percent: f64| {
        let at = move |s: f64| {
            let mbar = [(0.0, 240.0), (270.0, last)].into_iter().find(|(at, _)| *at == s);
            (1.5 + percent * s / 270.0, mbar.map(|(_, mbar)| mbar))
        };
        let made = Made::new().sealed(Side::Left, Some("at the lamp"), at);
        let leak = Adjuster::of(&made.readings, &made.job.adjuster, Some(true)).leak_down[0].clone();
        (leak.state, leak.finding.to_string())
    };
    for percent in [0.0, 0.02] {
        let (state, words) = of(240.0, percent);
        assert_eq!(state, LeakState::Holds, "{words}");
        let parts = [
            "less than the 0.05 % that counts as moving",
            "240 mbar at the last",
            "mm on the wall",
        ];
        assert!(parts.iter().all(|part| words.contains(part)), "{words}");
        let (state, words) = of(150.0, percent);
        assert!(
            state == LeakState::CannotTell && words.contains("vacuum was lost"),
            "{words}"
        );
    }
    assert_eq!(of(240.0, 0.3).0, LeakState::Leaks);
}

/// A gauge that stops half-way, however one pumps, is that of a large leak, as one that does not rise at all: every answer says which it is.
#[test]
fn a_gauge_that_stops_short_is_answered_as_one_that_will_not_rise() {
    use crate::report::say::isolation::{beside_beam, gauge_words};
    let words = |gauge| gauge_words(Language::English, gauge);
    assert!(words(Gauge::WillNotRise).contains("stops short of 400 mbar"));
    assert!(words(Gauge::Falls).contains("all the way"));
    assert!(gauge_words(Language::German, Gauge::WillNotRise).contains("unter 400 mbar"));
    assert!(beside_beam(Language::English, Some(Gauge::WillNotRise)).contains("stops short"));
    let large = |gauge| {
        let found = Made::new().trial(LEFT_PUMP, TrialMoves::No, Some(gauge)).isolated();
        let left = found.system.component("left-actuator").unwrap();
        let leaks = (found.answer.suspects.iter()).filter(|one| one.component == left && one.fault == FaultKind::Leaks);
        leaks.map(|one| one.probability).sum::<f64>()
    };
    assert!(large(Gauge::WillNotRise) > large(Gauge::Falls));
    let terminal = Made::new()
        .trial(LEFT_PUMP, TrialMoves::No, Some(Gauge::WillNotRise))
        .isolated();
    let said = crate::report::terminal::isolation(Language::English, &terminal, "job.toml", false);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("will not rise, or stops short"), "{said}");
}
