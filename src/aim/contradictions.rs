//! Photos of one job that contradict each other: what no single photo shows.

use super::COVERAGE_FACTOR_95;
use super::ShotReading;
use super::plausible::MOST_ELBOW_ASIDE_PERCENT;
use crate::fit::median;
use crate::photo::Capture;
use crate::record::{Job, Side, Stage, State};
use crate::warning::{SetBetween, Warning};
use std::collections::{BTreeMap, HashSet};
use std::path::{Path, PathBuf};

/// Two photos of one state differ by more than their interval once in twenty, by more than this many times it (three
/// standard deviations) once in four hundred.
const MOST_U95S: f64 = 1.5;
/// The elbow of a lamp that is moved up and down stays where it is to a tenth of a per cent; screws, a new bulb and a car
/// that stands a hand's breadth aside move it by more (common practice, no source).
const LEAST_ELBOW_JUMP_PERCENT: f64 = 0.5;
/// So many times as far as it scatters within the stages it must have moved.
const LEAST_JUMP_OF_SCATTER: f64 = 3.0;
/// Two lamps of a car that are aimed at all have their elbows as far from V-V as one another within this, per cent (common
/// practice, no source).
const MOST_ELBOWS_APART_PERCENT: f64 = 1.0;
/// A photo with less than this share of another's pixels was made smaller (our choice, no source).
const SMALLER_SHARE: f64 = 0.8;
/// Two photos of one camera have one shape within this, relative.
const SAME_SHAPE: f64 = 0.02;

/// More than this no vacuum range adjuster moves a beam, per cent a mbar: a whole travel of 3 % over 300 mbar (common practice,
/// no source).
const MOST_GAIN_PERCENT_PER_MBAR: f64 = 0.01;

/// What photos of a job say against each other, or against what the job says of them. `mended_again`: the lamps that a repair behind the first concerns.
#[must_use]
pub(crate) fn contradictions(job: &Job, readings: &[ShotReading], mended_again: &[Side]) -> Vec<Warning> {
    [
        repeats(job, readings, mended_again),
        stages_against_clock(readings),
        repairs_against_clock(job, readings),
        elbow_jumps(readings),
        car_askew(readings),
        copies(readings).into_iter().collect(),
    ]
    .concat()
}

/// For each lamp and stage, at each position, at each vacuum of a branch, and of those that name neither: the two photos that
/// differ most, where that is more than chance, and more than a stick or a hysteresis makes.
fn repeats(job: &Job, readings: &[ShotReading], mended_again: &[Side]) -> Vec<Warning> {
    // The photos of a trial show a beam at rest and driven, whatever else the job says of them.
    let trials = job
        .trial
        .iter()
        .flat_map(|trial| trial.still.iter().chain(&trial.driven));
    let of_trials: HashSet<&Path> = trials.map(PathBuf::as_path).collect();
    let mut worst: Vec<(State<'_>, f64, Warning)> = Vec::new();
    let stated: Vec<(State<'_>, &ShotReading)> = readings
        .iter()
        .filter(|r| !of_trials.contains(r.shot.photo.as_path()))
        .filter_map(|r| Some((repeated_state(r)?, r)))
        .collect();
    for (n, (state, first)) in stated.iter().enumerate() {
        for (_, second) in stated[n + 1..].iter().filter(|(other, _)| other == state) {
            let Some((excess, mut warning)) =
                apart(first, second, moved_by_gauge_percent(job, readings, first, second))
            else {
                continue;
            };
            if let Warning::RepeatsDiffer { set_between, .. } = &mut warning {
                *set_between = what_if_set(readings, first, second, mended_again);
            }
            match worst.iter().position(|(other, ..)| other == state) {
                Some(k) if worst[k].1 < excess => worst[k] = (*state, excess, warning),
                Some(_) => {}
                None => worst.push((*state, excess, warning)),
            }
        }
    }
    worst.into_iter().map(|(.., warning)| warning).collect()
}

/// The state of which several photos must agree; `None` in a leak-down, whose beam creeps, and at a vacuum without a branch,
/// since hysteresis sets the branches apart.
fn repeated_state(reading: &ShotReading) -> Option<State<'_>> {
    let shot = &reading.shot;
    let comparable = !shot.sealed && (shot.vacuum.is_none() || shot.branch.is_some());
    comparable.then(|| shot.state_or_aim_check())
}

/// How far two photos at one vacuum and branch can lie apart by a gauge that was misread, or by a beam that sticks, per cent:
/// as far as the readings at the next lower and the next higher vacuum of their branch do; where there are none, as far as the
/// gauge's error goes. 0 without a pump.
fn moved_by_gauge_percent(job: &Job, readings: &[ShotReading], first: &ShotReading, second: &ShotReading) -> f64 {
    let Some(vacuum_mbar) = first.shot.vacuum.map(|vacuum| vacuum.mbar()) else {
        return 0.0;
    };
    let sd_mbar = |r: &ShotReading| r.shot.vacuum_sd.unwrap_or(job.adjuster.vacuum_sd).mbar();
    let by_error = COVERAGE_FACTOR_95 * sd_mbar(first).hypot(sd_mbar(second)) * MOST_GAIN_PERCENT_PER_MBAR;
    let same = |r: &&ShotReading| {
        let (a, b) = (&r.shot, &first.shot);
        !a.sealed && (a.lamp, a.stage, a.branch) == (b.lamp, b.stage, b.branch)
    };
    let others = readings.iter().filter(same).filter_map(|r| {
        let percent = r.result.as_ref().ok()?.aim.inclination_percent;
        Some((r.shot.vacuum?.mbar() - vacuum_mbar, percent))
    });
    let near: Vec<(f64, f64)> = others.filter(|(apart_mbar, _)| *apart_mbar != 0.0).collect();
    let nearest = |sign: f64| {
        let of_side = near.iter().filter(|(apart_mbar, _)| sign * apart_mbar > 0.0);
        of_side.min_by(|a, b| a.0.abs().total_cmp(&b.0.abs())).map(|one| one.1)
    };
    let own = [first, second]
        .into_iter()
        .filter_map(|r| Some(r.result.as_ref().ok()?.aim.inclination_percent));
    let own: Vec<f64> = own.collect();
    let middle = own.iter().sum::<f64>() / own.len().max(1) as f64;
    let by_neighbours = match (nearest(-1.0), nearest(1.0)) {
        (Some(lower), Some(higher)) => (higher - lower).abs(),
        // At an end of the branch the step to the one neighbour stands for both.
        (Some(one), None) | (None, Some(one)) => 2.0 * (one - middle).abs(),
        (None, None) => 0.0,
    };
    by_error.max(by_neighbours)
}

/// How many times their interval two photos of one state differ, where that is more than chance and than what moved the beam
/// itself by `moved_percent`, and what to say.
fn apart(first: &ShotReading, second: &ShotReading, moved_percent: f64) -> Option<(f64, Warning)> {
    let (a, b) = (&first.result.as_ref().ok()?.aim, &second.result.as_ref().ok()?.aim);
    let difference_percent = b.inclination_percent - a.inclination_percent;
    let u95_percent = a.difference_u95_percent(b);
    let excess = (difference_percent.abs() - moved_percent) / u95_percent;
    (first.sha256 != second.sha256 && excess > MOST_U95S).then(|| {
        let photos = [first.shot.photo.clone(), second.shot.photo.clone()];
        let warning = Warning::RepeatsDiffer {
            photos,
            difference_percent,
            u95_percent,
            set_between: None,
        };
        (excess, warning)
    })
}

/// What it would mean that the lamp was set or mended between two photos without the pump from after a repair: which of its photos are older, by
/// the longest pause between the two.
fn what_if_set(
    readings: &[ShotReading],
    first: &ShotReading,
    second: &ShotReading,
    mended_again: &[Side],
) -> Option<SetBetween> {
    let shot = &first.shot;
    if shot.is_pumped() || shot.stage != Some(Stage::After) {
        return None;
    }
    let is_of =
        |one: &&ShotReading| (one.shot.lamp, one.shot.stage) == (shot.lamp, shot.stage) && !one.shot.is_pumped();
    let older = || {
        let times_s = [first.capture.clock_s()?, second.capture.clock_s()?];
        let (from_s, to_s) = (times_s[0].min(times_s[1]), times_s[0].max(times_s[1]));
        let of_lamp = readings.iter().filter(is_of);
        let mut timed: Vec<(f64, &ShotReading)> =
            of_lamp.filter_map(|one| Some((one.capture.clock_s()?, one))).collect();
        timed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let between = timed.windows(2).filter(|two| two[0].0 >= from_s && two[1].0 <= to_s);
        let last_s = between.max_by(|a, b| (a[1].0 - a[0].0).total_cmp(&(b[1].0 - b[0].0)))?[0].0;
        let older = timed.iter().filter(|(time_s, _)| *time_s <= last_s);
        Some(older.map(|(_, one)| one.shot.photo.clone()).collect())
    };
    Some(SetBetween {
        older: older().unwrap_or_default(),
        is_entered: mended_again.contains(&shot.lamp),
    })
}

/// The lamps of the readings, each once.
fn lamps(readings: &[ShotReading]) -> impl Iterator<Item = Side> {
    [Side::Left, Side::Right]
        .into_iter()
        .filter(|side| readings.iter().any(|reading| reading.shot.lamp == *side))
}

/// For each lamp, photos said to be from after the repair that one camera took before one said to be from before it.
fn stages_against_clock(readings: &[ShotReading]) -> Vec<Warning> {
    let of_lamp = |lamp: Side| {
        let timed = |stage: Stage| {
            readings.iter().filter_map(move |r| {
                let is_of = r.shot.lamp == lamp && r.shot.stage == Some(stage);
                Some((r, r.capture.clock_s().filter(|_| is_of)?))
            })
        };
        let mut farthest: Option<(f64, Warning)> = None;
        for (before, before_s) in timed(Stage::Before) {
            for (after, after_s) in timed(Stage::After) {
                let early_s = before_s - after_s;
                let one_clock = before.capture.camera == after.capture.camera;
                if early_s > 0.0 && one_clock && farthest.as_ref().is_none_or(|(most_s, _)| early_s > *most_s) {
                    let warning = Warning::StagesAgainstClock {
                        lamp,
                        before: before.shot.photo.clone(),
                        after: after.shot.photo.clone(),
                    };
                    farthest = Some((early_s, warning));
                }
            }
        }
        farthest.map(|(_, warning)| warning)
    };
    lamps(readings).filter_map(of_lamp).collect()
}

/// The first repair whose day lies before that of a photo said to be from before it, or behind that of one from after it, with the
/// photo that lies farthest off. Days are compared as they are written (ISO 8601), so that what is no date says nothing.
fn repairs_against_clock(job: &Job, readings: &[ShotReading]) -> Vec<Warning> {
    let is_day = |text: &str| {
        let digit = |at: usize| text.as_bytes().get(at).is_some_and(u8::is_ascii_digit);
        let hyphens = [4, 7].iter().all(|&at| text.as_bytes().get(at) == Some(&b'-'));
        hyphens && [0, 1, 2, 3, 5, 6, 8, 9].into_iter().all(digit)
    };
    let day_of = |r: &ShotReading| {
        let day = r.capture.taken.as_deref()?.get(..10)?.to_owned();
        is_day(&day).then_some(day)
    };
    let days = || {
        job.repair
            .iter()
            .map(|repair| repair.date.as_str())
            .filter(|date| is_day(date))
    };
    let photos = |stage: Stage| {
        readings
            .iter()
            .filter(move |r| r.shot.stage == Some(stage))
            .filter_map(|r| Some((day_of(r)?, r)))
    };
    // Of several repairs the first is behind the photos from before, the first again before those from after.
    let Some(first) = days().min() else { return Vec::new() };
    let late = photos(Stage::Before)
        .max_by(|a, b| a.0.cmp(&b.0))
        .filter(|(day, _)| day.as_str() > first);
    let early = photos(Stage::After)
        .min_by(|a, b| a.0.cmp(&b.0))
        .filter(|(day, _)| day.as_str() < first);
    late.or(early)
        .map(|(taken, reading)| Warning::RepairAgainstClock {
            repaired: first.to_owned(),
            photo: reading.shot.photo.clone(),
            stage: reading.shot.stage.unwrap_or(Stage::Before),
            taken,
        })
        .into_iter()
        .collect()
}

/// For each lamp, how far its elbow lies elsewhere beside the lamp's place after the repair than before, where that is plain.
/// Range adjusters move beams up and down only.
fn elbow_jumps(readings: &[ShotReading]) -> Vec<Warning> {
    let of_lamp = |lamp: Side| {
        let elbows = |stage: Stage| -> Vec<f64> {
            let of_stage = readings
                .iter()
                .filter(|r| r.shot.lamp == lamp && r.shot.stage == Some(stage));
            of_stage
                .filter_map(|r| Some(r.result.as_ref().ok()?.aim.cutoff.elbow?.x_mm - r.lamp.centre_x_mm))
                .collect()
        };
        let distance_mm = readings.iter().find(|r| r.shot.lamp == lamp)?.lamp.distance_mm;
        let middle_and_scatter = |mut x_mm: Vec<f64>| {
            let middle_mm = median(&mut x_mm)?;
            let mut off: Vec<f64> = x_mm.iter().map(|x| (x - middle_mm).abs()).collect();
            // One photo tells no scatter.
            (x_mm.len() > 1).then_some((middle_mm, median(&mut off)?))
        };
        let (before_mm, before_scatter_mm) = middle_and_scatter(elbows(Stage::Before))?;
        let (after_mm, after_scatter_mm) = middle_and_scatter(elbows(Stage::After))?;
        let right_mm = after_mm - before_mm;
        let least_mm = (LEAST_ELBOW_JUMP_PERCENT / 100.0 * distance_mm)
            .max(LEAST_JUMP_OF_SCATTER * before_scatter_mm.hypot(after_scatter_mm));
        (right_mm.abs() > least_mm).then_some(Warning::ElbowJumped { lamp, right_mm })
    };
    lamps(readings).filter_map(of_lamp).collect()
}

/// For each stage, how far the elbows of both lamps lie aside, where they do alike: the car then stands askew, since two lamps
/// hardly aim sideways by as much.
fn car_askew(readings: &[ShotReading]) -> Vec<Warning> {
    let of_stage = |stage: Option<Stage>| {
        let middle = |lamp: Side| {
            let of = readings.iter().filter(|r| r.shot.lamp == lamp && r.shot.stage == stage);
            let aims: Vec<_> = of.filter_map(|r| Some(&r.result.as_ref().ok()?.aim)).collect();
            let mut laterals: Vec<f64> = aims.iter().filter_map(|aim| aim.elbow_lateral_percent).collect();
            let mut u95s: Vec<f64> = aims.iter().filter_map(|aim| aim.elbow_lateral_u95_percent).collect();
            median(&mut laterals).zip(median(&mut u95s))
        };
        let ((left, left_u95), (right, right_u95)) = (middle(Side::Left)?, middle(Side::Right)?);
        let alike = (left - right).abs() < MOST_ELBOWS_APART_PERCENT;
        (alike && left.signum() == right.signum() && left.abs().min(right.abs()) > MOST_ELBOW_ASIDE_PERCENT).then(
            || Warning::CarAskew {
                stage,
                percent: 0.5 * (left + right),
                // Two lamps' elbows are placed apart, their lateral aims not known: what they differ by is theirs.
                u95_percent: (0.5 * left_u95.hypot(right_u95)).hypot(0.5 * (left - right)),
            },
        )
    };
    [None, Some(Stage::Before), Some(Stage::After)]
        .into_iter()
        .filter_map(of_stage)
        .collect()
}

/// Photos that are smaller than the job's others of the same camera, or smaller and without any of a camera's data.
fn copies(readings: &[ShotReading]) -> Option<Warning> {
    let mut largest: BTreeMap<&str, [usize; 2]> = BTreeMap::new();
    for capture in readings.iter().map(|reading| &reading.capture) {
        if let (Some(camera), Some(size_px)) = (&capture.camera, capture.size_px) {
            let most = largest.entry(camera.as_str()).or_insert(size_px);
            *most = if pixels(size_px) > pixels(*most) {
                size_px
            } else {
                *most
            };
        }
    }
    let is_copy = |capture: &Capture| {
        let Some(size_px) = capture.size_px else { return false };
        let smaller = |than: &[usize; 2]| pixels(size_px) < SMALLER_SHARE * pixels(*than);
        match &capture.camera {
            Some(camera) => largest
                .get(camera.as_str())
                .is_some_and(|most| smaller(most) && (shape(size_px) / shape(*most) - 1.0).abs() < SAME_SHAPE),
            None => {
                let bare = capture.taken.is_none() && capture.exposure_s.is_none();
                bare && !largest.is_empty() && largest.values().all(smaller)
            }
        }
    };
    let photos: Vec<PathBuf> = readings
        .iter()
        .filter(|reading| is_copy(&reading.capture))
        .map(|reading| reading.shot.photo.clone())
        .collect();
    (!photos.is_empty()).then_some(Warning::Copies { photos })
}

fn pixels([width_px, height_px]: [usize; 2]) -> f64 {
    width_px as f64 * height_px as f64
}

/// The long side over the short one.
fn shape([width_px, height_px]: [usize; 2]) -> f64 {
    width_px.max(height_px) as f64 / width_px.min(height_px).max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::{Aim, Common, Source};
    use crate::cutoff::Elbow;
    use crate::record::{Branch, Lamp, RepairEntry, Shot, Traffic, Trial, Vacuum};

    fn reading(photo: &str, stage: Stage, position: &str, percent: f64, taken: Option<&str>) -> ShotReading {
        let shot = Shot {
            stage: Some(stage),
            position: Some(position.to_owned()),
            ..Shot::of(photo, Side::Left)
        };
        let aim = Aim::made(percent, &[(Source::Texture, 0.01)], Common::default());
        let lamp = Lamp::of(Side::Left, 650.0, -560.0, 10_000.0);
        let mut reading = ShotReading::made(shot, lamp, aim, taken);
        reading.sha256 = Some(photo.to_owned());
        reading
    }

    fn said(readings: &[ShotReading]) -> Vec<String> {
        let job = Job::of("test", "bay.toml", Traffic::Right);
        contradictions(&job, readings, &[])
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn two_photos_of_one_position_must_agree() {
        // Each ± 0.0196, so that the difference has ± 0.0277: 0.03 can be chance, 0.06 is not.
        let pair = |second: f64| {
            [
                reading("1.jpg", Stage::Before, "0", 1.0, None),
                reading("2.jpg", Stage::Before, "0 ", second, None),
            ]
        };
        assert!(said(&pair(1.03)).is_empty());
        let warned = said(&pair(1.06));
        assert!(
            warned.len() == 1 && warned[0].contains("1.jpg and 2.jpg") && warned[0].contains("0.06 % ± 0.03 %"),
            "{warned:?}"
        );
        for change in [
            |r: &mut ShotReading| r.shot.position = Some("1".to_owned()),
            |r: &mut ShotReading| r.shot.stage = Some(Stage::After),
            |r: &mut ShotReading| r.shot.sealed = true,
            |r: &mut ShotReading| r.sha256 = Some("1.jpg".to_owned()),
        ] {
            let mut other = pair(1.06);
            change(&mut other[1]);
            assert!(said(&other).is_empty(), "{:?}", said(&other));
        }
    }

    /// What is to be done is not taking out the two that differ, but all that show the lamp as it was.
    #[test]
    fn where_a_lamp_was_set_between_photos_all_older_ones_are_named() {
        let at = |time: &str| format!("2031-09-03T{time}");
        let after = |photo: &str, position: &str, percent: f64, time: &str| {
            reading(photo, Stage::After, position, percent, Some(&at(time)))
        };
        let readings = [
            after("11.jpg", "0", 0.72, "20:40:00"),
            after("12.jpg", "1", 1.17, "20:40:50"),
            after("13.jpg", "2", 1.62, "20:41:40"),
            after("14.jpg", "3", 2.10, "20:42:30"),
            after("23.jpg", "0", 1.23, "21:20:00"),
        ];
        let job = Job::of("T", "bay.toml", Traffic::Right);
        let said = |mended_again: &[Side], readings: &[ShotReading]| {
            let warnings = contradictions(&job, readings, mended_again);
            warnings.iter().map(ToString::to_string).collect::<Vec<_>>()
        };
        let all = "11.jpg, 12.jpg, 13.jpg and 14.jpg";
        let one = said(&[Side::Right], &readings);
        assert!(
            one.len() == 1 && one[0].contains("enter that as a repair") && one[0].contains(all),
            "{one:?}"
        );
        let two = said(&[Side::Left], &readings);
        assert!(
            two.len() == 1 && two[0].contains("The job has a later repair") && two[0].contains(all),
            "{two:?}"
        );
        assert!(!two[0].contains("enter that as a repair"), "it is entered: {two:?}");
        let mut untimed = readings.clone();
        untimed[4].capture.taken = None;
        let untimed = said(&[Side::Left], &untimed);
        assert!(
            untimed[0].contains("all photos of this lamp without the pump from before"),
            "{untimed:?}"
        );
        let before = readings.map(|mut one| {
            one.shot.stage = Some(Stage::Before);
            one
        });
        assert!(
            !said(&[Side::Left], &before)[0].contains("take all of them out"),
            "of before a repair"
        );
    }

    #[test]
    fn two_aim_checks_of_one_lamp_must_agree() {
        let check = |photo: &str, percent: f64| {
            let mut one = reading(photo, Stage::Before, "", percent, None);
            one.shot.position = None;
            one
        };
        assert!(said(&[check("1.jpg", 1.0), check("2.jpg", 1.03)]).is_empty());
        let warned = said(&[check("1.jpg", 1.0), check("2.jpg", 1.3)]);
        assert!(
            warned.len() == 1 && warned[0].contains("1.jpg and 2.jpg") && warned[0].contains("0.30 %"),
            "{warned:?}"
        );
        let mut other = [check("1.jpg", 1.0), check("2.jpg", 1.3)];
        other[1].shot.stage = Some(Stage::After);
        assert!(said(&other).is_empty());
        // Photos of a trial show a beam at rest and driven.
        let mut job = Job::of("test", "bay.toml", Traffic::Right);
        job.trial.push(Trial {
            test: "pump-at-left-lamp".to_owned(),
            moves: None,
            gauge: None,
            stage: None,
            still: Some("1.jpg".into()),
            driven: Some("2.jpg".into()),
        });
        assert!(contradictions(&job, &[check("1.jpg", 1.0), check("2.jpg", 1.3)], &[]).is_empty());
    }

    #[test]
    fn two_photos_at_one_vacuum_and_branch_must_agree() {
        let pumped = |photo: &str, mbar: f64, branch: Option<Branch>, percent: f64| {
            let mut one = reading(photo, Stage::Before, "", percent, None);
            one.shot.position = None;
            one.shot.vacuum = Some(Vacuum::from_mbar(mbar));
            one.shot.branch = branch;
            one
        };
        let applying = Some(Branch::Applying);
        // A gauge read to 5 mbar moves two photos apart by 0.14 % at the most, ± 0.03 %.
        let pair = |percent: f64| {
            [
                pumped("1.jpg", 300.0, applying, 1.0),
                pumped("2.jpg", 300.0, applying, percent),
            ]
        };
        assert!(said(&pair(1.15)).is_empty());
        let warned = said(&pair(1.4));
        assert!(
            warned.len() == 1 && warned[0].contains("1.jpg and 2.jpg") && warned[0].contains("0.40 %"),
            "{warned:?}"
        );
        // Where the beam jumps between the next vacuums by as much, it sticks.
        let steep = |low: f64, high: f64| {
            let [a, b] = pair(1.4);
            said(&[
                a,
                b,
                pumped("3.jpg", 250.0, applying, low),
                pumped("4.jpg", 350.0, applying, high),
            ])
        };
        assert!(steep(0.95, 1.45).is_empty());
        assert_eq!(steep(0.95, 1.05).len(), 1);
        for change in [
            |r: &mut ShotReading| r.shot.branch = Some(Branch::Releasing),
            |r: &mut ShotReading| r.shot.vacuum = Some(Vacuum::from_mbar(310.0)),
            |r: &mut ShotReading| r.shot.sealed = true,
        ] {
            let mut other = pair(1.4);
            change(&mut other[1]);
            assert!(said(&other).is_empty(), "{:?}", said(&other));
        }
        let unnamed = [pumped("1.jpg", 300.0, None, 1.0), pumped("2.jpg", 300.0, None, 1.4)];
        assert!(said(&unnamed).is_empty(), "hysteresis");
    }

    #[test]
    fn of_many_repeats_the_two_farthest_apart_are_named() {
        let photos = [("a", 1.0), ("b", 1.5), ("c", 1.1), ("d", 1.05)];
        let readings = photos.map(|(photo, percent)| reading(photo, Stage::Before, "0", percent, None));
        let warned = said(&readings);
        assert!(warned.len() == 1 && warned[0].contains("a and b"), "{warned:?}");
    }

    #[test]
    fn a_photo_from_after_the_repair_is_not_older_than_one_from_before() {
        let at = |hour: u8| format!("2031-03-04T{hour:02}:15:00");
        let readings = |before: u8, after: u8| {
            [
                reading("old.jpg", Stage::Before, "0", 1.0, Some(&at(before))),
                reading("new.jpg", Stage::After, "0", 1.0, Some(&at(after))),
            ]
        };
        assert!(said(&readings(20, 21)).is_empty());
        let warned = said(&readings(21, 20));
        assert!(
            warned.len() == 1 && warned[0].contains("new.jpg") && warned[0].contains("old.jpg"),
            "{warned:?}"
        );
        // Two cameras, two clocks; and the other lamp may have been mended another day.
        let mut other = readings(21, 20);
        other[0].capture.camera = Some("another".to_owned());
        assert!(said(&other).is_empty());
        let mut other = readings(21, 20);
        other[0].shot.lamp = Side::Right;
        assert!(said(&other).is_empty());
    }

    #[test]
    fn a_repair_is_not_older_than_the_photos_from_before_it() {
        let readings = [
            reading("old.jpg", Stage::Before, "0", 1.0, Some("2031-03-04T20:15:00")),
            reading("new.jpg", Stage::After, "0", 1.0, Some("2031-03-06T20:15:00")),
        ];
        let said = |dates: &[&str]| {
            let mut job = Job::of("T", "bay.toml", Traffic::Right);
            job.repair = dates
                .iter()
                .map(|date| RepairEntry {
                    component: None,
                    date: (*date).to_owned(),
                    words: "replaced".to_owned(),
                    extent: None,
                })
                .collect();
            let warnings = contradictions(&job, &readings, &[]);
            warnings.iter().map(ToString::to_string).collect::<Vec<_>>()
        };
        for right in [
            &["2031-03-04"][..],
            &["2031-03-06"],
            &["2031-03-05", "2031-04-01"],
            &["in March"],
            &[],
        ] {
            assert!(said(right).is_empty(), "{right:?}: {:?}", said(right));
        }
        let early = said(&["2031-03-03"]);
        assert!(
            early.len() == 1 && early[0].contains("2031-03-03") && early[0].contains("old.jpg"),
            "{early:?}"
        );
        let late = said(&["2032-03-05"]);
        assert!(late.len() == 1 && late[0].contains("new.jpg"), "{late:?}");
    }

    #[test]
    fn an_elbow_that_jumps_aside_between_the_stages_is_told() {
        let readings = |after_mm: [f64; 2]| {
            let places = [(Stage::Before, -560.0), (Stage::Before, -552.0)];
            let after = after_mm.map(|x_mm| (Stage::After, x_mm));
            let all = places.into_iter().chain(after).enumerate();
            all.map(|(n, (stage, x_mm))| {
                let mut one = reading(&n.to_string(), stage, &n.to_string(), 1.0, None);
                if let Ok(measured) = &mut one.result {
                    measured.aim.cutoff.elbow = Some(Elbow {
                        x_mm,
                        x_sd_mm: 10.0,
                        kick_deg: 15.0,
                    });
                }
                one
            })
            .collect::<Vec<_>>()
        };
        assert!(said(&readings([-520.0, -515.0])).is_empty(), "40 mm at 10 m");
        let warned = said(&readings([-490.0, -485.0]));
        assert!(
            warned.len() == 1 && warned[0].contains("68 mm further to the right"),
            "{warned:?}"
        );
        assert!(said(&readings([-400.0, -580.0])).is_empty(), "it scatters by as much");
    }

    #[test]
    fn elbows_of_both_lamps_aside_alike_are_the_car_s() {
        let readings = |laterals: [f64; 2]| {
            let each = [Side::Left, Side::Right].into_iter().zip(laterals);
            let one = |(lamp, percent): (Side, f64)| {
                let mut one = reading(&format!("{lamp}.jpg"), Stage::Before, "0", 1.0, None);
                one.shot.lamp = lamp;
                if let Ok(measured) = &mut one.result {
                    measured.aim.elbow_lateral_percent = Some(percent);
                    measured.aim.elbow_lateral_u95_percent = Some(0.2);
                }
                one
            };
            each.map(one).collect::<Vec<_>>()
        };
        let warned = said(&readings([-4.1, -4.5]));
        assert!(
            warned.len() == 1
                && warned[0].contains("to the left before the repair, by 4.3 %")
                && warned[0].contains("2.5 degrees"),
            "{warned:?}"
        );
        for laterals in [[-4.1, 4.5], [0.3, -0.2], [-4.1, -0.3], [0.8, 0.9]] {
            assert!(said(&readings(laterals)).is_empty(), "{laterals:?}");
        }
    }

    #[test]
    fn copies_among_originals_are_named() {
        let photo = |name: &str, camera: Option<&str>, size_px: [usize; 2]| {
            let mut one = reading(name, Stage::Before, name, 1.0, None);
            one.capture.camera = camera.map(str::to_owned);
            one.capture.size_px = Some(size_px);
            one
        };
        let (full, small) = ([4000, 3000], [1600, 1200]);
        let original = || photo("a.jpg", Some("phone"), full);
        assert!(
            said(&[original(), photo("b.jpg", Some("phone"), [3000, 4000])]).is_empty(),
            "held upright"
        );
        assert!(
            said(&[original(), photo("b.jpg", Some("other"), small)]).is_empty(),
            "another camera"
        );
        assert!(
            said(&[original(), photo("b.jpg", Some("phone"), [3264, 1836])]).is_empty(),
            "another shape"
        );
        assert!(
            said(&[photo("a.jpg", None, full), photo("b.jpg", None, small)]).is_empty(),
            "no original"
        );
        assert!(
            said(&[original(), photo("b.png", None, full)]).is_empty(),
            "converted, not made smaller"
        );
        for copy in [photo("b.jpg", None, small), photo("b.jpg", Some("phone"), small)] {
            let warned = said(&[original(), copy]);
            assert!(warned.len() == 1 && warned[0].starts_with("b.jpg"), "{warned:?}");
        }
    }
}
