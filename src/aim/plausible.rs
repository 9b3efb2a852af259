//! What was typed that cannot well be so: lamps that hang unlike each other, heights and distances out of the ordinary, a
//! beam that no car has. Digits that were exchanged within the ordinary show nowhere; outputs give what was entered beside
//! what follows from it.

use super::{Aim, ShotReading};
use crate::record::{Bay, Bays, HeightsFrom, Job, Lamp, Side, Stage};
use crate::warning::{LampMeasure, Warning};
use std::ops::RangeInclusive;

// Bounds: our choice, no source.

/// A car's two lamps hang alike within this, mm: flat tyres, a tired spring and an uneven floor make less.
const MOST_HEIGHT_APART_MM: f64 = 30.0;
/// A car that stands square has its lamps equally far from the wall within this, mm: 7° askew.
const MOST_DISTANCE_APART_MM: f64 = 150.0;
/// The lamps' middle lies this near to the bay's centre line, mm.
const MOST_OFF_CENTRE_MM: f64 = 50.0;
/// Two tape measures of one height differ by chance by less than this many of their joint standard deviations, once in four
/// hundred, and tyres and load make less than this, mm.
const MOST_TAPE_SDS: f64 = 3.0;
const MOST_TAPED_APART_MM: f64 = 15.0;
/// Distances at which somebody would photograph a beam, mm: a garage's length, and the 25 m of the rules.
const DISTANCES_MM: RangeInclusive<f64> = 3_000.0..=27_000.0;
/// Heights of a camera above the floor, mm, each with what the marks leave open of it.
const CAMERA_HEIGHTS_MM: RangeInclusive<f64> = -200.0..=4_000.0;
/// Lower than this no tolerance table lets a dipped beam hang, per cent.
const LOWEST_PERCENT: f64 = 4.0;
/// Elbows of lamps that are aimed at all lie this near to V-V, per cent.
pub(super) const MOST_ELBOW_ASIDE_PERCENT: f64 = 1.0;

/// And those of lamps that are aimed well this near, per cent (common practice, no source): what is not surely further is not told.
const USUAL_ELBOW_ASIDE_PERCENT: f64 = 0.5;

/// What of a job's and a bay's entries cannot well be so, with what the photos say of them together.
#[must_use]
pub(crate) fn implausible(job: &Job, bays: &Bays, readings: &[ShotReading]) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for lamp in &job.lamp {
        if !DISTANCES_MM.contains(&lamp.distance_mm) {
            warnings.push(Warning::DistanceUnlikely {
                lamp: lamp.side,
                distance_mm: lamp.distance_mm,
            });
        }
        let height_mm = lamp.height_above_ground_mm();
        if bays.of(lamp).heights_from == HeightsFrom::LevelLine && lamp.known_height_above_ground_mm().is_none() {
            warnings.push(Warning::GroundHeightUnlikely {
                lamp: lamp.side,
                height_mm,
            });
        }
    }
    for (stage, left, right) in together(job) {
        warnings.extend(unlike(stage, left, right));
    }
    warnings.extend(moved_in_car(job, bays));
    let from_floor = |bay: &&Bay| bay.heights_from == HeightsFrom::Floor;
    warnings.extend(bays.all().filter(from_floor).filter_map(sheet_in_floor));
    let readings = readings.iter().filter(|r| from_floor(&bays.of(&r.lamp)));
    warnings.extend(camera_height(readings));
    warnings
}

/// The entries of both lamps that hold for one stage, each pair once, with the stage where a lamp has several entries.
fn together(job: &Job) -> Vec<(Option<Stage>, &Lamp, &Lamp)> {
    let mut pairs: Vec<(Option<Stage>, &Lamp, &Lamp)> = Vec::new();
    for stage in [None, Some(Stage::Before), Some(Stage::After)] {
        let (Some(left), Some(right)) = (job.lamp_at(Side::Left, stage), job.lamp_at(Side::Right, stage)) else {
            continue;
        };
        let known = |(_, l, r): &(Option<Stage>, &Lamp, &Lamp)| std::ptr::eq(*l, left) && std::ptr::eq(*r, right);
        if !pairs.iter().any(known) {
            pairs.push((stage, left, right));
        }
    }
    pairs
}

/// What of a car's lamps was entered otherwise for after the repair than for before it, and cannot have changed: their heights,
/// and how far they lie from one another. Where the car stands may differ, and so may a level line.
fn moved_in_car(job: &Job, bays: &Bays) -> Vec<Warning> {
    let of = |side: Side| {
        let [before, after] = [Stage::Before, Stage::After].map(|stage| job.lamp_at(side, Some(stage)));
        before
            .zip(after)
            .filter(|(before, after)| !std::ptr::eq(*before, *after))
    };
    let from_floor = |lamp: &Lamp| bays.of(lamp).heights_from == HeightsFrom::Floor;
    let differs = |before_mm: f64, after_mm: f64, sd_mm: f64| {
        (after_mm - before_mm).abs() > (MOST_TAPE_SDS * sd_mm).max(MOST_TAPED_APART_MM)
    };
    let height = |side: Side| {
        let (before, after) = of(side)?;
        let heights_mm = if from_floor(before) && from_floor(after) {
            [before.centre_height_mm, after.centre_height_mm]
        } else {
            [before.mounting_height_mm?, after.mounting_height_mm?]
        };
        let [before_mm, after_mm] = heights_mm;
        let sd_mm = before.centre_height_sd_mm.hypot(after.centre_height_sd_mm);
        differs(before_mm, after_mm, sd_mm).then_some(Warning::LampHeightChanged {
            lamp: side,
            before_mm,
            after_mm,
        })
    };
    let spacing = || {
        let (left, right) = (of(Side::Left)?, of(Side::Right)?);
        let before_mm = right.0.centre_x_mm - left.0.centre_x_mm;
        let after_mm = right.1.centre_x_mm - left.1.centre_x_mm;
        // Each is the difference of two places, taped as well as a height is.
        differs(before_mm, after_mm, 2.0 * Lamp::HEIGHT_SD_MM)
            .then_some(Warning::LampSpacingChanged { before_mm, after_mm })
    };
    let heights = [Side::Left, Side::Right].into_iter().filter_map(height);
    heights.chain(spacing()).collect()
}

/// What sets a car's two lamps apart by more than cars do.
fn unlike(stage: Option<Stage>, left: &Lamp, right: &Lamp) -> impl Iterator<Item = Warning> {
    let measures = [
        (
            LampMeasure::Height,
            [left, right].map(|lamp| lamp.centre_height_mm),
            MOST_HEIGHT_APART_MM,
        ),
        (
            LampMeasure::Distance,
            [left, right].map(|lamp| lamp.distance_mm),
            MOST_DISTANCE_APART_MM,
        ),
    ];
    let apart = measures
        .into_iter()
        .filter_map(move |(measure, [left_mm, right_mm], most_mm)| {
            ((left_mm - right_mm).abs() > most_mm).then_some(Warning::LampsUnlike {
                stage,
                measure,
                left_mm,
                right_mm,
            })
        });
    let (left_mm, right_mm) = (left.centre_x_mm, right.centre_x_mm);
    let off_mm = 0.5 * (left_mm + right_mm);
    let aside = (off_mm.abs() > MOST_OFF_CENTRE_MM || left_mm >= right_mm).then_some(Warning::LampsUnlike {
        stage,
        measure: LampMeasure::Place,
        left_mm,
        right_mm,
    });
    apart.chain(aside)
}

/// The lowest sheet, where half of it would hang below the floor that heights are counted from.
fn sheet_in_floor(bay: &Bay) -> Option<Warning> {
    let lowest = bay.marks.sheet.iter().min_by(|a, b| a.y_mm.total_cmp(&b.y_mm))?;
    (lowest.y_mm < 0.5 * bay.marks.size_mm).then_some(Warning::SheetInFloor {
        id: lowest.id,
        y_mm: lowest.y_mm,
    })
}

/// The first photo whose camera stands, by the sheets' heights, where no camera does.
fn camera_height<'a>(readings: impl Iterator<Item = &'a ShotReading>) -> Option<Warning> {
    let mut heights = readings
        .filter(|r| !r.is_cropped())
        .filter_map(|r| Some((r, r.eye_mm?[1])));
    let (reading, height_mm) =
        heights.find(|(_, height_mm)| height_mm.is_finite() && !CAMERA_HEIGHTS_MM.contains(height_mm))?;
    Some(Warning::CameraHeightUnlikely {
        photo: reading.shot.photo.clone(),
        height_mm,
    })
}

/// What is out of the ordinary about a lamp's aim.
pub(super) fn unusual_aim(aim: &Aim) -> impl Iterator<Item = Warning> {
    let (percent, u95_percent) = (aim.inclination_percent, aim.u95_percent());
    let rises = (percent + u95_percent < 0.0).then_some(Warning::BeamRises { percent });
    let low = (percent - u95_percent > LOWEST_PERCENT).then_some(Warning::BeamLow { percent });
    let elbow = aim.elbow_lateral_percent.zip(aim.elbow_lateral_u95_percent);
    let aside = elbow
        .filter(|(percent, u95_percent)| {
            percent.abs() > MOST_ELBOW_ASIDE_PERCENT && percent.abs() - u95_percent > USUAL_ELBOW_ASIDE_PERCENT
        })
        .map(|(percent, u95_percent)| Warning::ElbowAside { percent, u95_percent });
    [rises, low, aside].into_iter().flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::{Common, Source};
    use crate::record::{Shot, Traffic};
    use crate::render::Scene;

    /// A job of two lamps that hang alike, and its bay.
    fn sound() -> (Job, Bay) {
        let mut job = Job::of("test", "bay.toml", Traffic::Right);
        job.lamp = vec![
            Lamp::of(Side::Left, 652.0, -560.0, 10_000.0),
            Lamp::of(Side::Right, 655.0, 565.0, 10_000.0),
        ];
        (job, Scene::default().bay)
    }

    fn said(change: impl FnOnce(&mut Job, &mut Bay)) -> Vec<String> {
        let (mut job, mut bay) = sound();
        change(&mut job, &mut bay);
        implausible(&job, &Bays::of_job(bay), &[])
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn a_sound_car_gives_no_cause() {
        assert!(said(|_, _| ()).is_empty(), "{:?}", said(|_, _| ()));
        // As far apart as cars' lamps are seen to be.
        let apart = said(|job, _| {
            job.lamp[0].centre_height_mm += 25.0;
            job.lamp[0].distance_mm += 120.0;
            job.lamp[0].centre_x_mm += 80.0;
        });
        assert!(apart.is_empty(), "{apart:?}");
        assert!(said(|job, _| job.lamp.truncate(1)).is_empty());
    }

    #[test]
    fn slips_of_the_pen_are_told_with_both_figures() {
        type Slip = fn(&mut Job, &mut Bay);
        let slips: [(Slip, &str); 9] = [
            (
                |job, _| job.lamp[0].centre_height_mm = 562.0,
                "562 mm for the left lamp and of 655 mm",
            ),
            (
                |job, _| job.lamp[0].distance_mm = 8_000.0,
                "8000 mm for the left lamp and of 10000 mm",
            ),
            (
                |job, _| job.lamp[0].centre_x_mm = 560.0,
                "560 mm for the left lamp and of 565 mm",
            ),
            (
                |job, _| job.lamp[1].centre_x_mm = 665.0 + 5.0,
                "-560 mm for the left lamp and of 670 mm",
            ),
            (
                |job, _| {
                    job.lamp[0].centre_x_mm = 560.0;
                    job.lamp[1].centre_x_mm = -560.0;
                },
                "560 mm for the left lamp and of -560 mm",
            ),
            (
                |job, _| job.lamp.iter_mut().for_each(|lamp| lamp.distance_mm = 2_500.0),
                "2.5 m",
            ),
            (
                |job, _| job.lamp.iter_mut().for_each(|lamp| lamp.distance_mm = 33_000.0),
                "33.0 m",
            ),
            (|_, bay| bay.marks.sheet[2].y_mm = 60.0, "sheet 3"),
            (
                |job, bay| {
                    bay.heights_from = HeightsFrom::LevelLine;
                    job.lamp.iter_mut().for_each(|lamp| lamp.centre_height_mm -= 500.0);
                },
                "152 mm",
            ),
        ];
        for (slip, part) in slips {
            let warned = said(slip);
            assert!(warned.iter().any(|text| text.contains(part)), "{part}: {warned:?}");
        }
    }

    #[test]
    fn each_stage_is_held_against_itself_and_a_lamp_does_not_move_in_the_car() {
        // The car stood 10 mm aside and 800 mm nearer after the repair, and each height was taped anew.
        let anew = |job: &mut Job| {
            for lamp in job.lamp.clone() {
                job.lamp.push(Lamp {
                    stage: Some(Stage::After),
                    centre_height_mm: lamp.centre_height_mm + 6.0,
                    centre_x_mm: lamp.centre_x_mm + 10.0,
                    distance_mm: lamp.distance_mm - 800.0,
                    ..lamp
                });
            }
        };
        let sound = said(|job, _| anew(job));
        assert!(sound.is_empty(), "{sound:?}");
        type Slip<'a> = (fn(&mut Lamp), &'a [&'a str]);
        let slips: [Slip<'_>; 4] = [
            (
                |lamp| lamp.centre_height_mm = 568.0,
                &[
                    "568 mm for the left lamp and of 661 mm for the right one after the repair",
                    "652 mm high before the repair and 568 mm",
                ],
            ),
            (
                |lamp| lamp.centre_height_mm += 20.0,
                &["652 mm high before the repair and 678 mm after it"],
            ),
            (
                |lamp| lamp.distance_mm = 8_200.0,
                &["8200 mm for the left lamp and of 9200 mm for the right one after the repair"],
            ),
            (
                |lamp| lamp.centre_x_mm += 30.0,
                &["1125 mm apart before the repair and 1095 mm"],
            ),
        ];
        for (slip, parts) in slips {
            let warned = said(|job, _| {
                anew(job);
                slip(&mut job.lamp[2]);
            });
            assert_eq!(warned.len(), parts.len(), "{warned:?}");
            for part in parts {
                assert!(warned.iter().any(|text| text.contains(part)), "{part}: {warned:?}");
            }
        }
        // A level line set up anew has heights of its own.
        let level = said(|job, bay| {
            bay.heights_from = HeightsFrom::LevelLine;
            anew(job);
            job.lamp
                .iter_mut()
                .for_each(|lamp| lamp.mounting_height_mm = Some(650.0));
            job.lamp[2..].iter_mut().for_each(|lamp| lamp.centre_height_mm -= 100.0);
        });
        assert!(level.is_empty(), "{level:?}");
    }

    #[test]
    fn a_camera_below_the_floor_is_told_and_one_on_the_ground_is_not() {
        let (job, bay) = sound();
        let told_of = |height_mm: f64, warning: Option<Warning>| {
            let aim = Aim::made(1.0, &[(Source::Texture, 0.01)], Common::default());
            let mut reading = ShotReading::made(Shot::of("a.jpg", Side::Left), job.lamp[0].clone(), aim, None);
            reading.eye_mm = Some([0.0, height_mm, 6_000.0]);
            reading.result.as_mut().unwrap().warnings.extend(warning);
            implausible(&job, &Bays::of_job(bay.clone()), &[reading]).len()
        };
        assert_eq!(
            [-900.0, 0.0, 1_500.0, 4_500.0].map(|mm| told_of(mm, None)),
            [1, 0, 0, 1]
        );
        // Of a photo that was cut the sheets do not tell it.
        assert_eq!(told_of(4_500.0, Some(Warning::Cropped { aside_percent: 12.0 })), 0);
    }

    #[test]
    fn a_beam_that_no_car_has_is_told() {
        let told = |percent: f64, lateral_percent: Option<f64>| {
            let mut aim = Aim::made(percent, &[(Source::Texture, 0.1)], Common::default());
            aim.elbow_lateral_percent = lateral_percent;
            aim.elbow_lateral_u95_percent = lateral_percent.map(|_| 0.2);
            unusual_aim(&aim).count()
        };
        assert_eq!(
            [-0.3, -0.1, 0.5, 3.9, 4.1, 4.3].map(|percent| told(percent, None)),
            [1, 0, 0, 0, 0, 1]
        );
        assert_eq!(
            [0.9, -0.9, 1.1, -1.1].map(|lateral| told(1.0, Some(lateral))),
            [0, 0, 1, 1]
        );
    }
}
