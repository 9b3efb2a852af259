//! From a job's trials and photos to evidence.

use super::Done;
use super::evidence::{Evidence, Origin};
use crate::aim::{Aim, COVERAGE_FACTOR_95, ShotReading};
use crate::error::Error;
use crate::record::{Job, Moves, Shot, Stage, System, Test, Trial, TrialMoves, VacuumSource, in_order};
use crate::warning::Warning;
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// Most trials of one job: more than anybody does on one car.
const MOST_TRIALS: usize = 200;
/// A travel beyond this, per cent, in the direction that vacuum does not move a beam, is worth a warning: far
/// beyond what a car settles, far below what a beam travels (common practice, no source).
const WRONG_WAY_PERCENT: f64 = 0.2;

/// What a job says about its system.
#[derive(Debug, Clone, PartialEq)]
pub struct JobTrials {
    /// What each trial says, in the job's order, then what readings at positions say.
    pub evidence: Vec<Evidence>,
    /// Trials whose photos gave no figure; they do not count.
    pub unread: Vec<Unread>,
    /// What one should know of them.
    pub warnings: Vec<Warning>,
    /// What was mended, and what could not be tested.
    pub done: Done,
    /// Components that the job says were mended, where no trial follows on that: what is weighed is the car before it.
    pub repaired_since: Vec<usize>,
}

/// A trial whose photo gave no figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Unread {
    /// The test, as the job names it.
    pub test: String,
    /// The photo.
    pub photo: PathBuf,
    /// Why there is no figure, and how to mend the photo.
    pub message: String,
}

/// Checks the job's trials against the system, and gives their photos as shots. A photo that stands in a `[[shot]]`, too, is
/// measured as it says there.
///
/// # Errors
/// [`Error`] for a test or a repaired component that the system does not have, photos for a test that moves no lamp, or a
/// photo of another lamp.
pub(crate) fn photos_of(system: &System, job: &Job, path: &Path) -> Result<Vec<Shot>, Error> {
    if job.trial.len() > MOST_TRIALS {
        let count = job.trial.len();
        return Err(Error::in_file(
            path,
            format!("there are {count} trials; {MOST_TRIALS} at the most are read"),
        ));
    }
    check_repairs(job, system, path)?;
    let (mut shots, mut seen) = (Vec::new(), HashSet::new());
    for trial in &job.trial {
        let test = test_of(system, trial, path)?;
        for photo in photos(trial) {
            let shot = shot_of(job, trial, test, photo, path)?;
            if seen.insert(shot.photo.clone()) {
                shots.push(shot);
            }
        }
    }
    if !shots.is_empty() {
        let measured = Job {
            shot: shots.clone(),
            ..job.clone()
        };
        measured.check(path)?;
    }
    Ok(shots)
}

/// Repairs of components that the system does not have are an error.
fn check_repairs(job: &Job, system: &System, path: &Path) -> Result<(), Error> {
    let known = |id: &String| system.component(id).is_some();
    match job
        .repair
        .iter()
        .filter_map(|repair| repair.component.as_ref())
        .find(|id| !known(id))
    {
        None => Ok(()),
        Some(id) => {
            let ids: Vec<&str> = system
                .components
                .iter()
                .map(|component| component.id.as_str())
                .collect();
            Err(Error::in_file(
                path,
                format!(
                    "component = \"{id}\" of a [[repair]] is none of the system {}; its components are {}",
                    system.id,
                    ids.join(", ")
                ),
            ))
        }
    }
}

/// The test of a trial.
fn test_of<'s>(system: &'s System, trial: &Trial, path: &Path) -> Result<&'s Test, Error> {
    system.test(&trial.test).map(|t| &system.tests[t]).ok_or_else(|| {
        let known: Vec<&str> = system.tests.iter().map(|t| t.id.as_str()).collect();
        Error::in_file(
            path,
            format!(
                "the trial \"{}\" is no test of the system {}; its tests are {}",
                trial.test,
                system.id,
                known.join(", ")
            ),
        )
    })
}

/// A trial's photo as a shot: as the job lists it, or of the test's lamp.
fn shot_of(job: &Job, trial: &Trial, test: &Test, photo: &Path, path: &Path) -> Result<Shot, Error> {
    let Some(side) = test.lamp else {
        return Err(Error::in_file(
            path,
            format!(
                "the trial \"{}\" moves no lamp, so that photos cannot decide it; write moves = \"yes\" or \"no\"",
                trial.test
            ),
        ));
    };
    match job.shot.iter().find(|shot| shot.photo == photo) {
        None => Ok(Shot {
            stage: Some(trial.stage.unwrap_or(Stage::Before)),
            ..Shot::of(photo, side)
        }),
        Some(shot) if shot.lamp == side => Ok(shot.clone()),
        Some(shot) => Err(Error::in_file(
            path,
            format!(
                "the trial \"{}\" is of the {side} lamp, and its photo {} is listed as a [[shot]] of the {} lamp",
                trial.test,
                photo.display(),
                shot.lamp
            ),
        )),
    }
}

fn photos(trial: &Trial) -> impl Iterator<Item = &PathBuf> {
    trial.still.iter().chain(&trial.driven)
}

/// Whether a shot says how the beam followed the control before, or after, the repair.
fn counts(shot: &Shot, stage: Stage) -> bool {
    shot.position.is_some() && !shot.is_pumped() && shot.stage.unwrap_or(Stage::Before) == stage
}

/// Whether a shot can be part of the readings that stand for a test.
fn stands_for_a_test(system: &System, shot: &Shot) -> bool {
    counts(shot, Stage::Before) && system.tests.iter().any(|t| t.by_positions && t.lamp == Some(shot.lamp))
}

/// Whether the job lists photos at positions of the range control, before the repair, that can stand for a test.
pub(crate) fn has_positions(system: &System, job: &Job) -> bool {
    job.shot.iter().any(|shot| stands_for_a_test(system, shot))
}

/// Change of the inclination between two photos of one lamp, per cent, positive when the beam went down, and its standard
/// uncertainty, per cent.
fn travel(still: &Aim, driven: &Aim) -> (f64, f64) {
    (
        driven.inclination_percent - still.inclination_percent,
        still.difference_u95_percent(driven) / COVERAGE_FACTOR_95,
    )
}

/// What the job's trials say, and with `positions` what its readings at positions say, from the readings of the shots
/// that [`photos_of`] asked for. Trials of tests that the system does not have are left out; [`photos_of`] turns them
/// down.
#[must_use]
pub(super) fn evidence_of(system: &System, job: &Job, positions: bool, readings: &[ShotReading]) -> JobTrials {
    let mut found = JobTrials {
        evidence: Vec::new(),
        unread: Vec::new(),
        warnings: Vec::new(),
        done: Done::default(),
        repaired_since: Vec::new(),
    };
    from_stage(system, job, Stage::Before, positions, readings, &mut found);
    let repaired = || {
        let named = job.repair.iter().filter_map(|repair| repair.component.as_deref());
        named.filter_map(|id| system.component(id))
    };
    // Where trials follow on a repair, the same job goes on: what was found before tells of the car as it was then.
    if job.trial.iter().any(|trial| trial.stage == Some(Stage::After)) {
        found.done.mended = repaired().fold(0, |mended, c| mended | 1 << c);
        if found.done.mended == 0 {
            // What was mended is not known, and with it not what still holds of what was found.
            found.evidence.clear();
        }
        from_stage(system, job, Stage::After, positions, readings, &mut found);
    } else {
        found.repaired_since = repaired().collect();
        found.repaired_since.dedup();
    }
    found
}

/// What trials and readings at positions of one stage say.
fn from_stage(
    system: &System,
    job: &Job,
    stage: Stage,
    positions: bool,
    readings: &[ShotReading],
    found: &mut JobTrials,
) {
    let first = found.evidence.len();
    for (n, trial) in job.trial.iter().enumerate() {
        let Some(test) = system.test(&trial.test) else { continue };
        if trial.stage.unwrap_or(Stage::Before) == stage {
            from_trial(system, (n, trial), test, readings, found);
        }
    }
    if positions {
        for test in 0..system.tests.len() {
            from_positions(system, test, stage, readings, (first, &mut *found));
        }
    }
    if stage == Stage::After {
        let mended = found.done.mended;
        found.evidence[first..].iter_mut().for_each(|one| one.mended = mended);
    }
}

fn from_trial(
    system: &System,
    (n, trial): (usize, &Trial),
    test: usize,
    readings: &[ShotReading],
    found: &mut JobTrials,
) {
    let origin = Origin::Trial(n);
    let Some(moves) = trial.moves else {
        if let (Some(still), Some(driven)) = (&trial.still, &trial.driven) {
            from_photos(system, test, (still, driven), origin, readings, found);
        }
        return;
    };
    let Some(one) = Evidence::noted(system, test, moves, trial.gauge, origin) else {
        found.done.impossible |= 1 << test;
        return;
    };
    if moves == TrialMoves::CreepsBack && one.outcome() == Moves::No {
        found.warnings.push(Warning::CreepUnderEngine {
            trial: n + 1,
            test: trial.test.clone(),
        });
    }
    if moves == TrialMoves::DoesNotReturn {
        // A beam that dazzles comes before all else.
        found.warnings.insert(
            0,
            Warning::BeamStaysHigh {
                trial: n + 1,
                test: trial.test.clone(),
            },
        );
    }
    found.evidence.push(one);
}

fn from_photos(
    system: &System,
    test: usize,
    (still, driven): (&PathBuf, &PathBuf),
    origin: Origin,
    readings: &[ShotReading],
    found: &mut JobTrials,
) {
    let mut aims = Vec::new();
    for photo in [still, driven] {
        match readings
            .iter()
            .find(|reading| reading.shot.photo == *photo)
            .map(|reading| &reading.result)
        {
            Some(Ok(measured)) => aims.push(&measured.aim),
            other => found.unread.push(Unread {
                test: system.tests[test].id.clone(),
                photo: photo.clone(),
                message: match other {
                    Some(Err(refusal)) => refusal.to_string(),
                    _ => "was not measured".to_owned(),
                },
            }),
        }
    }
    let [still_aim, driven_aim] = aims[..] else { return };
    let (percent, sd_percent) = travel(still_aim, driven_aim);
    let vacuum_applied = system.tests[test].source == VacuumSource::Pump;
    let wrong_way = if system.vacuum_raises { percent } else { -percent };
    if vacuum_applied && wrong_way > WRONG_WAY_PERCENT {
        found.warnings.push(Warning::TrialWrongWay {
            test: system.tests[test].id.clone(),
            still: still.clone(),
            driven: driven.clone(),
            down: percent > 0.0,
        });
    }
    found
        .evidence
        .push(Evidence::travel(system, test, percent, sd_percent, origin));
}

/// Readings at the first and the last position of the range control stand for working it. A trial that is written down
/// counts for itself, and readings are then not counted a second time.
/// `first`: where the evidence of this stage begins.
fn from_positions(
    system: &System,
    test: usize,
    stage: Stage,
    readings: &[ShotReading],
    (first, found): (usize, &mut JobTrials),
) {
    let (asked, Some(side)) = (&system.tests[test], system.tests[test].lamp) else {
        return;
    };
    if !asked.by_positions {
        return;
    }
    if found.evidence[first..].iter().any(|one| one.test == test) {
        found
            .warnings
            .push(Warning::PositionsBesideTrial { test: asked.id.clone() });
        return;
    }
    // Of several photos of a position the last, which is the one taken again.
    let mut aims: Vec<(&str, &Aim)> = Vec::new();
    for reading in readings
        .iter()
        .filter(|r| r.shot.lamp == side && counts(&r.shot, stage))
    {
        if let (Some(position), Ok(measured)) = (&reading.shot.position, &reading.result) {
            match aims.iter_mut().find(|(name, _)| name == position) {
                Some((_, aim)) => *aim = &measured.aim,
                None => aims.push((position, &measured.aim)),
            }
        }
    }
    in_order(&mut aims, |(position, _)| position);
    match aims[..] {
        [(_, first), .., (_, last)] => {
            let (percent, sd_percent) = travel(first, last);
            found
                .evidence
                .push(Evidence::travel(system, test, percent, sd_percent, Origin::Positions));
        }
        // After a repair they are no duty: a trial may say it.
        _ if stage == Stage::After => {}
        _ => found.warnings.push(Warning::TooFewPositions {
            test: asked.id.clone(),
            lamp: side,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::Common;
    use crate::isolate::Observation;
    use crate::record::{Lamp, Side, parse_toml};

    fn system() -> System {
        System::find("vacuum-cabin-control", Path::new(".")).unwrap()
    }

    fn job(rest: &str) -> Job {
        let head = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n";
        let lamps = "[[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n[[lamp]]\n\
                     side = \"right\"\ncentre_height_mm = 650.0\ncentre_x_mm = 560.0\ndistance_mm = 10000.0\n";
        parse_toml(Path::new("job.toml"), &format!("{head}{lamps}{rest}")).unwrap()
    }

    fn shot(photo: &str, lamp: &str, more: &str) -> String {
        format!("[[shot]]\nphoto = \"{photo}\"\nlamp = \"{lamp}\"\n{more}\n")
    }

    #[test]
    fn only_the_photos_that_isolation_needs_are_measured() {
        let trial = "[[trial]]\ntest = \"operate-left\"\nstill = \"a.jpg\"\ndriven = \"b.jpg\"\n[[trial]]\ntest = \
                     \"operate-right\"\nmoves = \"no\"\n";
        let shots = [
            shot("a.jpg", "left", "lamp_off = \"off.jpg\""),
            shot("c.jpg", "left", "position = \"0\"\nstage = \"before\""),
            shot("d.jpg", "right", "position = \"1\""),
            shot("e.jpg", "left", "position = \"0\"\nstage = \"after\""),
            shot("f.jpg", "left", "vacuum = \"300 mbar\""),
        ]
        .concat();
        let job = job(&format!("{shots}{trial}"));
        let name = |shot: &Shot| shot.photo.display().to_string();
        let photos = photos_of(&system(), &job, Path::new("job.toml")).unwrap();
        assert_eq!(photos.iter().map(name).collect::<Vec<_>>(), ["a.jpg", "b.jpg"]);
        let standing = job.shot.iter().filter(|shot| stands_for_a_test(&system(), shot));
        assert_eq!(
            standing.map(name).collect::<Vec<_>>(),
            ["c.jpg", "d.jpg"],
            "before the repair, at positions"
        );
        assert!(photos[0].lamp_off.is_some(), "as its [[shot]] says");
        assert_eq!((photos[1].lamp, photos[1].lamp_off.is_some()), (Side::Left, false));
        // No photo is needed for what is written down.
        let written = self::job("[[trial]]\ntest = \"operate-right\"\nmoves = \"no\"\n");
        assert!(
            photos_of(&system(), &written, Path::new("job.toml"))
                .unwrap()
                .is_empty()
        );
        // A photo of the other lamp decides nothing.
        let crossed = self::job(&format!("{}{trial}", shot("a.jpg", "right", "")));
        let message = photos_of(&system(), &crossed, Path::new("job.toml"))
            .unwrap_err()
            .to_string();
        assert!(message.contains("a.jpg") && message.contains("right lamp"), "{message}");
    }

    /// From the first position to the last, whatever the job's order, without photos that a pump drove.
    #[test]
    fn readings_at_positions_go_from_the_first_to_the_last() {
        let read = |position: &str, percent: f64, sealed: bool| {
            let shot = Shot {
                position: Some(position.to_owned()),
                sealed,
                ..Shot::of(format!("{position}.jpg"), Side::Left)
            };
            let aim = Aim::made_with(percent, 0.01, Common::default());
            ShotReading::made(shot, Lamp::of(Side::Left, 650.0, -560.0, 10_000.0), aim, None)
        };
        let readings = [
            read("2", 1.7, false),
            read("0", 1.0, false),
            read("1", 1.4, false),
            read("3", 1.9, true),
        ];
        let found = evidence_of(&system(), &job(""), true, &readings);
        let [one] = found.evidence[..] else { panic!("{found:?}") };
        let Observation::Travel { percent, .. } = one.seen else {
            panic!("{one:?}")
        };
        assert!((percent - 0.7).abs() < 1e-12, "{percent}");
    }

    #[test]
    fn what_was_seen_and_the_gauge_count_and_what_was_not_done_does_not() {
        let job = job(&[
            "partly",
            "does-not-return",
            "not-done",
            "no\"\ngauge = \"rises-and-holds",
        ]
        .iter()
        .zip(["left-lamp", "right-lamp", "left-line", "right-line"])
        .map(|(moves, at)| format!("[[trial]]\ntest = \"pump-at-{at}\"\nmoves = \"{moves}\"\n"))
        .collect::<String>());
        let system = system();
        let found = evidence_of(&system, &job, false, &[]);
        let of: Vec<_> = found.evidence.iter().map(|one| (one.origin, one.outcome())).collect();
        assert_eq!(of, [0, 1, 3].map(|n| (Origin::Trial(n), Moves::No)));
        assert_eq!(found.done.impossible, 1 << system.test("pump-at-left-line").unwrap());
        let said: Vec<String> = found.warnings.iter().map(ToString::to_string).collect();
        assert!(said.len() == 1 && said[0].contains("dazzles"), "{said:?}");
    }

    /// The same job goes on after a repair: what was found before tells of the car as it was then.
    #[test]
    fn trials_after_a_repair_tell_of_the_car_with_the_new_part() {
        let before = "[[trial]]\ntest = \"operate-left\"\nmoves = \"no\"\n[[trial]]\ntest = \"pump-at-left-lamp\"\nmoves = \"no\"\n";
        let after = "[[trial]]\ntest = \"operate-left\"\nmoves = \"no\"\nstage = \"after\"\n";
        let repair = "[[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n";
        let system = system();
        let found = evidence_of(&system, &job(&[before, after, repair].concat()), false, &[]);
        let actuator = system.component("left-actuator").unwrap();
        assert_eq!(found.done.mended, 1 << actuator);
        assert_eq!(
            found.evidence.iter().map(|one| one.mended).collect::<Vec<_>>(),
            [0, 0, 1 << actuator]
        );
        let answer = crate::isolate::isolate_from(&system, &found.evidence, found.done);
        assert_eq!(answer.by_component[actuator], 0.0, "it is new");
        // Without a trial after it what was found stays that of the car before.
        let found = evidence_of(&system, &job(&[before, repair].concat()), false, &[]);
        assert_eq!((found.repaired_since, found.done.mended), (vec![actuator], 0));
        // Without the part's name what was found before tells nothing.
        let nameless = repair.replace("component = \"left-actuator\"\n", "");
        let found = evidence_of(&system, &job(&[before, after, &nameless].concat()), false, &[]);
        assert_eq!(found.evidence.len(), 1);
        let unknown = repair.replace("left-actuator", "left-motor");
        let message = photos_of(&system, &job(&[before, &unknown].concat()), Path::new("job.toml")).unwrap_err();
        assert!(message.to_string().contains("left-motor"), "{message}");
    }

    #[test]
    fn a_written_trial_is_not_counted_again_from_positions() {
        let job = job("[[trial]]\ntest = \"operate-right\"\nmoves = \"no\"\n");
        let found = evidence_of(&system(), &job, true, &[]);
        assert_eq!(found.evidence.len(), 1);
        let about = |id: &str, part: &str| {
            found
                .warnings
                .iter()
                .any(|w| w.to_string().contains(id) && w.to_string().contains(part))
        };
        assert!(about("operate-right", "not counted as another"), "{:?}", found.warnings);
        assert!(
            about("operate-left", "no readings at two positions"),
            "{:?}",
            found.warnings
        );
    }
}
