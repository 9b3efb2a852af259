//! A made job: what stands there, and what somebody wrote down of it.

use crate::record::{Bay, Job, Lamp, Marks, Shot};
use crate::render::{Photo, Scene};
use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use rand_distr::StandardNormal;

/// One made job: the scene as it is, and the bay and the job as somebody wrote them down.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    /// The seed that it was drawn from.
    pub seed: u64,
    /// What stands there, with the photos to draw.
    pub scene: Scene,
    /// The bay file's content.
    pub bay: Bay,
    /// The job file's content; its shots are the scene's photos.
    pub job: Job,
}

/// How well the tape measure was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tape {
    /// The true places are written down, with small uncertainties.
    True,
    /// Errors are drawn from just the uncertainties that are written down.
    AsDeclared,
}

/// Uncertainties that the files declare, one standard deviation each.
struct TapeSd {
    marks_mm: f64,
    height_mm: f64,
    distance_mm: f64,
    grade_percent: f64,
}

impl Tape {
    fn sd(self) -> TapeSd {
        match self {
            Self::True => TapeSd {
                marks_mm: 0.2,
                height_mm: 0.2,
                distance_mm: 1.0,
                grade_percent: 0.0,
            },
            // What the files' defaults say.
            Self::AsDeclared => TapeSd {
                marks_mm: Marks::POSITION_SD_MM,
                height_mm: Lamp::HEIGHT_SD_MM,
                distance_mm: Lamp::DISTANCE_SD_MM,
                grade_percent: 0.02,
            },
        }
    }
}

impl Case {
    /// Writes down a scene of one lamp: bay, job and one shot, `lit.jpg`.
    pub(crate) fn new(seed: u64, mut scene: Scene, tape: Tape, rng: &mut ChaCha8Rng) -> Self {
        let sd = tape.sd();
        let mut slip = |sd: f64| match tape {
            Tape::True => 0.0,
            Tape::AsDeclared => sd * rng.sample::<f64, _>(StandardNormal),
        };
        let mut bay = scene.bay.clone();
        bay.marks.position_sd_mm = sd.marks_mm;
        bay.grade_sd_percent = sd.grade_percent;
        for sheet in &mut bay.marks.sheet {
            sheet.x_mm += slip(sd.marks_mm);
            sheet.y_mm += slip(sd.marks_mm);
        }
        // The floor that the heights are measured from is not quite the plane that the car stands on.
        scene.bay.grade_percent = slip(sd.grade_percent);
        let made = &scene.lamp[0];
        let lamp = Lamp {
            side: made.side,
            stage: None,
            bay: None,
            centre_height_mm: made.centre_height_mm + slip(sd.height_mm),
            centre_height_sd_mm: sd.height_mm,
            centre_x_mm: made.centre_x_mm,
            distance_mm: made.distance_mm + slip(sd.distance_mm),
            distance_sd_mm: sd.distance_mm,
            // Written down, so that a check of something else is none of what an unknown face leaves open.
            face_height_mm: Some(made.face_height_mm),
            mounting_height_mm: None,
        };
        let job = Job {
            pattern: rng.random_bool(0.5).then_some(made.pattern),
            made_photos: true,
            lamp: vec![lamp],
            shot: vec![Shot::of("lit.jpg", made.side)],
            ..Job::of(format!("check {seed}"), "bay.toml", made.traffic)
        };
        scene.photo = vec![Photo {
            file: "lit.jpg".to_owned(),
            ..Photo::default()
        }];
        Self { seed, scene, bay, job }
    }
}

#[cfg(test)]
mod tests {
    use crate::check::variety::taped;

    #[test]
    fn tape_errors_have_the_spread_that_is_declared() {
        let mut squares = [0.0; 3];
        let count = 100;
        for seed in 0..count {
            let case = taped(seed).unwrap();
            let (made, told) = (&case.scene.lamp[0], &case.job.lamp[0]);
            assert_eq!((told.centre_height_sd_mm, told.distance_sd_mm), (2.0, 10.0));
            assert_eq!(case.bay.marks.position_sd_mm, 1.5);
            let marks = case.bay.marks.sheet.iter().zip(&case.scene.bay.marks.sheet);
            squares[0] += marks
                .map(|(told, made)| (told.x_mm - made.x_mm).powi(2) + (told.y_mm - made.y_mm).powi(2))
                .sum::<f64>()
                / 12.0;
            squares[1] += (told.centre_height_mm - made.centre_height_mm).powi(2);
            squares[2] += (told.distance_mm - made.distance_mm).powi(2);
        }
        // Four standard errors of a standard deviation: 4/√(2n), n = 100, and 1200 for the sheets' places.
        for (square, sd_mm, within) in [
            (squares[0], 1.5, 0.082),
            (squares[1], 2.0, 0.283),
            (squares[2], 10.0, 0.283),
        ] {
            let seen_mm = (square / count as f64).sqrt();
            assert!((seen_mm / sd_mm - 1.0).abs() < within, "{seen_mm} of {sd_mm}");
        }
    }
}
