//! What one should know of the photos of a job together, rather than of each by itself.

use super::ShotReading;
use crate::record::{Side, Stage};
use crate::warning::Warning;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A camera that moves by less between two photos stood on something: a view's own uncertainty and a nudge of the
/// tripod are smaller (common practice, no source).
const TRIPOD_MOVES_MM: f64 = 300.0;

/// Warnings that need several photos: photos without a time where the order in time counts, and a camera that moved
/// within a series (one lamp at one stage).
#[must_use]
pub(crate) fn series_warnings(readings: &[ShotReading]) -> Vec<Warning> {
    let all = [untimed_leak_down(readings), untimed_stages(readings), moved(readings)];
    all.into_iter().flatten().collect()
}

/// Photos that could be read and carry no time: the first, and how many more. Where order does not count that bears on no
/// figure; the report's evidence shows it as not known, and nothing is said.
fn untimed(readings: &[ShotReading], counts: impl Fn(&ShotReading) -> bool) -> Option<(PathBuf, usize)> {
    let mut without = readings
        .iter()
        .filter(|r| counts(r) && r.sha256.is_some() && r.capture.taken.is_none());
    let first = without.next()?.shot.photo.clone();
    Some((first, without.count()))
}

fn untimed_leak_down(readings: &[ShotReading]) -> Option<Warning> {
    let (first, more) = untimed(readings, |r| r.shot.sealed)?;
    Some(Warning::UntimedLeakDown { first, more })
}

fn untimed_stages(readings: &[ShotReading]) -> Option<Warning> {
    let has = |lamp: Side, stage: Stage| {
        readings
            .iter()
            .any(|r| r.shot.lamp == lamp && r.shot.stage == Some(stage))
    };
    let both = |lamp: Side| has(lamp, Stage::Before) && has(lamp, Stage::After);
    let (first, more) = untimed(readings, |r| {
        r.shot.stage.is_some() && !r.shot.sealed && both(r.shot.lamp)
    })?;
    Some(Warning::UntimedStages { first, more })
}

/// The series in which the camera moved farthest, where it moved. Photos held by hand are allowed, so that this is said
/// once and not for each photo.
fn moved(readings: &[ShotReading]) -> Option<Warning> {
    let mut eyes: BTreeMap<(Side, Option<Stage>), Vec<[f64; 3]>> = BTreeMap::new();
    for reading in readings.iter().filter(|reading| !reading.is_cropped()) {
        if let Some(eye_mm) = reading.eye_mm.filter(|eye| eye.iter().all(|v| v.is_finite())) {
            eyes.entry((reading.shot.lamp, reading.shot.stage))
                .or_default()
                .push(eye_mm);
        }
    }
    let apart = |a: &[f64; 3], b: &[f64; 3]| a.iter().zip(b).map(|(p, q)| (p - q).powi(2)).sum::<f64>().sqrt();
    let farthest = |places: &[[f64; 3]]| {
        let pairs = places.iter().enumerate();
        pairs
            .flat_map(|(n, a)| places[n + 1..].iter().map(move |b| apart(a, b)))
            .fold(0.0, f64::max)
    };
    let ((lamp, stage), moved_mm) = eyes
        .into_iter()
        .map(|(series, places)| (series, farthest(&places)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, moved_mm)| *moved_mm > TRIPOD_MOVES_MM)?;
    Some(Warning::CameraMoved { lamp, stage, moved_mm })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::Capture;
    use crate::record::{Lamp, Shot};
    use crate::refusal::{Reason, Refusal};

    fn reading(photo: &str, lamp: Side, sealed: bool, taken: Option<&str>, eye_mm: Option<[f64; 3]>) -> ShotReading {
        ShotReading {
            shot: Shot {
                stage: Some(Stage::After),
                sealed,
                ..Shot::of(photo, lamp)
            },
            lamp: Lamp {
                side: lamp,
                stage: None,
                bay: None,
                centre_height_mm: 650.0,
                centre_height_sd_mm: 2.0,
                centre_x_mm: 0.0,
                distance_mm: 10_000.0,
                distance_sd_mm: 10.0,
                face_height_mm: None,
                mounting_height_mm: None,
            },
            sha256: Some("0".repeat(64)),
            capture: Capture {
                taken: taken.map(str::to_owned),
                ..Capture::default()
            },
            result: Err(Refusal::new(Reason::NoCutoff, |_| "none".to_owned())),
            others: Vec::new(),
            picture: None,
            eye_mm,
        }
    }

    #[test]
    fn a_camera_on_a_tripod_or_one_photo_is_no_matter() {
        let at = |x, z| Some([x, 1400.0, z]);
        let still = [
            reading("1", Side::Left, false, None, at(0.0, 6000.0)),
            reading("2", Side::Left, false, None, at(100.0, 6200.0)),
            // The other lamp's photos are another series: the tripod may be carried over.
            reading("3", Side::Right, false, None, at(1500.0, 6000.0)),
            reading("4", Side::Right, false, None, None),
        ];
        assert!(series_warnings(&still).is_empty(), "{:?}", series_warnings(&still));
    }

    #[test]
    fn a_camera_that_moved_is_told_once_with_the_farthest_pair() {
        let at = |x, z| Some([x, 1400.0, z]);
        let moved = [
            reading("1", Side::Left, false, None, at(0.0, 6000.0)),
            reading("2", Side::Left, false, None, at(-480.0, 6000.0)),
            reading("3", Side::Left, false, None, at(0.0, 6640.0)),
            reading("4", Side::Right, false, None, at(0.0, 6000.0)),
            reading("5", Side::Right, false, None, at(400.0, 6000.0)),
        ];
        // 480 mm and 640 mm at right angles: 800 mm between the second and the third.
        let said: Vec<String> = series_warnings(&moved).iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            [
                "the camera moved by up to 0.8 m between the photos of the left lamp, after the repair: allowed, but a \
              tripod gives a steadier travel"
            ]
        );
    }

    #[test]
    fn a_missing_time_matters_in_a_leak_down() {
        let none = [
            reading("1", Side::Left, false, None, None),
            reading("2", Side::Left, true, Some("2031-03-04T20:15:00"), None),
        ];
        assert!(series_warnings(&none).is_empty());
        let sealed = [
            reading("a.png", Side::Left, true, None, None),
            reading("b.png", Side::Left, true, None, None),
        ];
        let said = series_warnings(&sealed);
        assert!(
            said.len() == 1
                && said[0]
                    .to_string()
                    .starts_with("a.png and 1 more: the photos carry no time (EXIF), and a leak-down"),
            "{said:?}"
        );
    }

    #[test]
    fn a_missing_time_matters_where_before_and_after_are_told_apart() {
        let mut photos = [
            reading("before.jpg", Side::Left, false, Some("2031-03-04T20:15:00"), None),
            reading("after.jpg", Side::Left, false, None, None),
            reading("other.jpg", Side::Right, false, None, None),
        ];
        photos[0].shot.stage = Some(Stage::Before);
        let said = series_warnings(&photos);
        assert!(
            said.len() == 1
                && said[0]
                    .to_string()
                    .starts_with("after.jpg: the photo carries no time (EXIF), so that only the job"),
            "the other lamp has one stage only: {said:?}"
        );
        photos[1].capture.taken = Some("2031-03-04T21:15:00".to_owned());
        assert!(series_warnings(&photos).is_empty());
    }
}
