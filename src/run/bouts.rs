//! Photos from after a repair that may lie on both sides of a later one: what they show together is no state of the car.

use crate::aim::ShotReading;
use crate::isolate::concerns;
use crate::record::{Job, RepairEntry, Side, Stage, System};
use crate::warning::Warning;
use std::borrow::Cow;
use std::collections::{BTreeSet, HashSet};
use std::path::Path;

/// Positions of one lamp are photographed within a minute or two of one another; in a longer pause than this a lamp can have been set, s (our choice,
/// no source).
pub(crate) const PAUSE_S: f64 = 15.0 * 60.0;
/// Two photos of one state differ by more than so many times their 95 % interval once in four hundred.
const MOST_U95S: f64 = 1.5;

/// Photos of one lamp's positions that were taken in two bouts, between which the last repair may lie.
pub(super) struct TwoBouts {
    lamp: Side,
    /// The readings of the first bout, by their numbers.
    older: Vec<usize>,
    pub warning: Warning,
}

impl TwoBouts {
    /// The readings without those of first bouts.
    pub fn left_out<'a>(all: &[Self], readings: &'a [ShotReading]) -> Cow<'a, [ShotReading]> {
        if all.is_empty() {
            return Cow::Borrowed(readings);
        }
        let is_older = |n: usize| all.iter().any(|one| one.older.contains(&n));
        let counted = readings.iter().enumerate().filter(|(n, _)| !is_older(*n));
        Cow::Owned(counted.map(|(_, reading)| reading.clone()).collect())
    }

    /// Takes back the advice to turn a lamp: it was worked out from the photos of both bouts.
    pub fn hold_turns(all: &[Self], readings: &mut [ShotReading]) {
        for (n, reading) in readings.iter_mut().enumerate() {
            let shot = &reading.shot;
            let of = all
                .iter()
                .find(|one| one.lamp == shot.lamp && shot.stage == Some(Stage::After));
            if let (Some(of), Ok(measured)) = (of, &mut reading.result) {
                if of.older.contains(&n) {
                    measured.do_not_settle();
                } else {
                    measured.do_not_turn(None);
                }
            }
        }
    }
}

/// Where the last pause lies among photos in order of time: the number of the first photo behind it.
pub(crate) fn behind_last_pause(times_s: &[f64]) -> Option<usize> {
    (1..times_s.len())
        .rev()
        .find(|&n| times_s[n] - times_s[n - 1] > PAUSE_S)
}

/// Each lamp of which photos at positions, from after a repair, lie in two bouts while a later repair concerns it: nobody knows then on which side of
/// it the first bout lies. Not where that repair is of an earlier day, or where the second bout shows all of the first again.
pub(super) fn in_two_bouts(job: &Job, system: Option<&System>, readings: &[ShotReading]) -> Vec<TwoBouts> {
    let of_trials: HashSet<&Path> = (job.trial.iter())
        .flat_map(|trial| trial.still.iter().chain(&trial.driven))
        .map(|photo| photo.as_path())
        .collect();
    let of_lamp = |lamp: Side| {
        let mut later = job.repair.iter().skip(1).rev();
        let repair = later.find(|repair| concerns(system, repair, lamp))?;
        let counts = |reading: &ShotReading| {
            let shot = &reading.shot;
            let is_meant = shot.lamp == lamp && shot.stage == Some(Stage::After) && shot.position.is_some();
            is_meant && !shot.is_pumped() && reading.result.is_ok() && !of_trials.contains(shot.photo.as_path())
        };
        let all = readings.iter().enumerate().filter(|(_, reading)| counts(reading));
        // Without its time a photo is of neither bout.
        let timed: Option<Vec<(f64, usize)>> = all.map(|(n, reading)| Some((reading.capture.clock_s()?, n))).collect();
        let mut timed = timed?;
        timed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let times_s: Vec<f64> = timed.iter().map(|(time_s, _)| *time_s).collect();
        let second = behind_last_pause(&times_s)?;
        let photos = |of: &[(f64, usize)]| -> Vec<usize> { of.iter().map(|(_, n)| *n).collect() };
        let (older, newer) = (photos(&timed[..second]), photos(&timed[second..]));
        let of = |bout: &[usize]| -> Vec<&ShotReading> { bout.iter().map(|&n| &readings[n]).collect() };
        let (before, since) = (of(&older), of(&newer));
        let positions: BTreeSet<&str> = before.iter().chain(&since).filter_map(|one| at(one)).collect();
        if positions.len() < 2 || is_of_earlier_day(repair, &before) || is_shown_again(&before, &since) {
            return None;
        }
        let named = |of: &[&ShotReading]| of.iter().map(|one| one.shot.photo.clone()).collect();
        let warning = Warning::TravelAcrossRepair {
            lamp,
            older: named(&before),
            newer: named(&since),
            apart_min: (times_s[second] - times_s[second - 1]) / 60.0,
        };
        Some(TwoBouts { lamp, older, warning })
    };
    [Side::Left, Side::Right].into_iter().filter_map(of_lamp).collect()
}

fn at(reading: &ShotReading) -> Option<&str> {
    reading.shot.position.as_deref().map(str::trim)
}

/// Whether a repair is of a day before that of all these photos. Days are compared as they are written (ISO 8601).
fn is_of_earlier_day(repair: &RepairEntry, photos: &[&ShotReading]) -> bool {
    let day = |reading: &&ShotReading| reading.capture.taken.as_deref()?.get(..10).map(str::to_owned);
    let first = photos.iter().map(day).min().flatten();
    repair.has_day() && first.is_some_and(|first| repair.date.trim() < first.as_str())
}

/// Whether the second bout shows each position of the first where that has it: whatever was mended between them, both show one state.
fn is_shown_again(before: &[&ShotReading], since: &[&ShotReading]) -> bool {
    before.iter().all(|one| {
        let mut again = since.iter().filter(|other| at(other) == at(one)).peekable();
        again.peek().is_some()
            && again.all(|other| match (&one.result, &other.result) {
                (Ok(a), Ok(b)) => {
                    let apart_percent = (a.aim.inclination_percent - b.aim.inclination_percent).abs();
                    apart_percent <= MOST_U95S * a.aim.difference_u95_percent(&b.aim)
                }
                _ => false,
            })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::adjuster::{Adjuster, Movement};
    use crate::aim::{Aim, Common, Source};
    use crate::language::Language;
    use crate::record::{AdjusterLimits, Lamp, Shot, Traffic};

    fn reading(photo: &str, position: &str, percent: f64, time: &str) -> ShotReading {
        let shot = Shot {
            stage: Some(Stage::After),
            position: Some(position.to_owned()),
            ..Shot::of(photo, Side::Right)
        };
        let aim = Aim::made(percent, &[(Source::Texture, 0.01)], Common::default());
        let lamp = Lamp::of(Side::Right, 650.0, 560.0, 10_000.0);
        ShotReading::made(shot, lamp, aim, Some(&format!("2031-09-03T{time}")))
    }

    fn job(repairs: &[(Option<&str>, &str)]) -> Job {
        let repair = |(component, date): &(Option<&str>, &str)| RepairEntry {
            component: component.map(str::to_owned),
            date: (*date).to_owned(),
            words: "done".to_owned(),
            extent: None,
        };
        Job {
            repair: repairs.iter().map(repair).collect(),
            ..Job::of("T", "bay.toml", Traffic::Right)
        }
    }

    const DAY: &str = "2031-09-03";

    /// As it was set: 0.45 % from 0 to 1, 0.48 % from 2 to 3, and 0.51 % down by the screw between.
    fn mixed() -> [ShotReading; 4] {
        [
            reading("12.jpg", "1", 1.17, "20:40:50"),
            reading("13.jpg", "2", 1.62, "20:41:40"),
            reading("23.jpg", "0", 1.23, "21:20:00"),
            reading("24.jpg", "3", 2.61, "21:21:00"),
        ]
    }

    #[test]
    fn no_travel_is_told_across_a_later_repair() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let readings = mixed();
        let job = job(&[(Some("right-actuator"), DAY), (None, DAY)]);
        let bouts = in_two_bouts(&job, Some(&system), &readings);
        let [one] = bouts.as_slice() else {
            panic!("{}", bouts.len())
        };
        let said = one.warning.said(Language::English);
        assert!(
            said.contains("12.jpg and 13.jpg") && said.contains("23.jpg and 24.jpg") && said.contains("38 min"),
            "{said}"
        );
        let counted = TwoBouts::left_out(&bouts, &readings);
        let adjuster = Adjuster::of(&counted, &AdjusterLimits::default(), None);
        let travel = &adjuster.travel[0];
        let steps: Vec<_> = travel.steps.iter().map(|step| (&*step.from, &*step.to)).collect();
        assert_eq!(steps, [("0", "3")], "none from one bout to the other");
        assert!((travel.steps[0].percent - 1.38).abs() < 1e-9 && travel.movement == Some(Movement::Moves));
    }

    #[test]
    fn what_cannot_lie_on_both_sides_of_a_later_repair_counts_together() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let found = |job: &Job, readings: &[ShotReading]| !in_two_bouts(job, Some(&system), readings).is_empty();
        let unit = (Some("right-actuator"), DAY);
        assert!(found(&job(&[unit, (None, DAY)]), &mixed()));
        assert!(
            found(&job(&[unit, (Some("control"), DAY)]), &mixed()),
            "both lamps' part"
        );
        assert!(!found(&job(&[unit]), &mixed()), "one repair");
        assert!(
            !found(&job(&[(None, DAY), (Some("left-actuator"), DAY)]), &mixed()),
            "the other lamp's"
        );
        assert!(!found(&job(&[unit, (None, "2031-09-02")]), &mixed()), "the day before");
        let job = job(&[unit, (None, DAY)]);
        let mut soon = mixed();
        for (reading, time) in soon[2..].iter_mut().zip(["20:50:00", "20:51:00"]) {
            reading.capture.taken = Some(format!("{DAY}T{time}"));
        }
        assert!(!found(&job, &soon), "within a quarter of an hour");
        let mut untimed = mixed();
        untimed[0].capture.taken = None;
        assert!(!found(&job, &untimed));
        let mut before = mixed();
        before[0].shot.stage = Some(Stage::Before);
        before[1].shot.stage = Some(Stage::Before);
        assert!(!found(&job, &before));
        // Taken again later, and as before: whatever was done, both are of one state.
        let again = [
            reading("1.jpg", "0", 1.23, "20:40:00"),
            reading("2.jpg", "0", 1.24, "21:20:00"),
            reading("3.jpg", "3", 2.61, "21:21:00"),
        ];
        assert!(!found(&job, &again));
        let elsewhere = [
            reading("1.jpg", "0", 0.72, "20:40:00"),
            again[1].clone(),
            again[2].clone(),
        ];
        assert!(found(&job, &elsewhere));
    }
}
