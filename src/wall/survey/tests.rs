//! The survey against its reference implementation, and against made sightings with known errors.

mod one_photo;

use super::adjustment::{LENS_PARAMETERS, OWN_AXIS_SD_OF_DIAGONAL, eliminate};
use super::*;
use crate::fit::{Fit, Loss, Problem, Slopes, TO_THE_DIGIT};
use crate::record::Sheet;
use crate::wall::camera::{Camera, camera_steps, facing_wall};
use crate::wall::resection::{AXIS_SD_OF_DIAGONAL, DISTORTION_SD, LN_SIZE_SD, TURN_SD_RAD, corners_mm};
use nalgebra::{DVector, Rotation3, Vector3};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const TAPE_SD_MM: f64 = 1.5;
const CORNER_SD_PX: f64 = 0.1;
const SIZE_PX: (usize, usize) = (3000, 2250);
const SIX: [(u32, f64, f64); 6] = [
    (1, -1200.0, 217.0),
    (2, -400.0, 204.0),
    (3, 400.0, 204.0),
    (4, 1200.0, 217.0),
    (5, -1200.0, 1029.0),
    (6, 1200.0, 1029.0),
];
/// Where the cut-off is read: under the left lamp's flat side.
const PLACE_MM: [f64; 2] = [-1000.0, 560.0];
/// Camera's places (x, y, distance, mm) and turns (rad) as a hand holds it.
const HELD: [([f64; 3], [f64; 3]); 3] = [
    ([300.0, 1500.0, 5500.0], [0.10, -0.05, 0.02]),
    ([-700.0, 1350.0, 4900.0], [0.12, 0.11, -0.03]),
    ([800.0, 1650.0, 5900.0], [0.15, -0.12, 0.01]),
];

fn bay(places: &[(u32, f64, f64)]) -> Bay {
    Bay::taped(places, TAPE_SD_MM)
}

fn size() -> PictureSize {
    PictureSize::of(SIZE_PX)
}

/// The lens as it is: ln focal length, axis, distortion.
type Lens = [f64; LENS_PARAMETERS];

/// A camera at a place (mm), turned (rad) from looking square at the wall.
fn camera(place_mm: [f64; 3], turn_rad: [f64; 3], lens: Lens) -> Camera {
    let rotation = Rotation3::from_scaled_axis(Vector3::from(turn_rad)).matrix() * facing_wall();
    let place = -(rotation * Vector3::from(place_mm));
    let mut parameters = turn_rad.to_vec();
    parameters.extend(place.iter());
    parameters.extend(lens);
    Camera::of(&parameters, size())
}

/// A sheet's mark as a camera sees it without noise.
fn mark(camera: &Camera, sheet: Sheet, size_mm: f64, offset_mm: [f64; 2], turn_rad: f64) -> FoundMark {
    FoundMark {
        id: sheet.id,
        corners_px: corners_mm(sheet, size_mm, offset_mm, turn_rad).map(|corner| camera.project(corner).unwrap()),
        corner_sd_px: [CORNER_SD_PX; 4],
        blur_px: 1.0,
    }
}

/// How the sheets of a bay truly hang: offset (mm) and turn (rad) of each, and ln of their size.
struct Hanging {
    sheets: Vec<([f64; 2], f64)>,
    ln_size: f64,
}

struct Draw(ChaCha8Rng);

impl Draw {
    fn normal(&mut self, sd: f64) -> f64 {
        let unit: f64 = StandardNormal.sample(&mut self.0);
        sd * unit
    }

    fn hanging(&mut self, sheets: usize) -> Hanging {
        Hanging {
            sheets: (0..sheets)
                .map(|_| {
                    (
                        [self.normal(TAPE_SD_MM), self.normal(TAPE_SD_MM)],
                        self.normal(TURN_SD_RAD),
                    )
                })
                .collect(),
            ln_size: self.normal(LN_SIZE_SD),
        }
    }

    /// What photos of one camera have in common, and what is each one's own.
    fn lenses(&mut self, photos: usize) -> Vec<Lens> {
        let diagonal_px = 3000f64.hypot(2250.0);
        let sds = [
            // The focal length's prior is too wide to draw from: a made camera has one.
            (0.0, OWN_LN_FOCAL_SD),
            (AXIS_SD_OF_DIAGONAL * diagonal_px, OWN_AXIS_SD_OF_DIAGONAL * diagonal_px),
            (AXIS_SD_OF_DIAGONAL * diagonal_px, OWN_AXIS_SD_OF_DIAGONAL * diagonal_px),
            (DISTORTION_SD, OWN_DISTORTION_SD),
        ];
        let common = sds.map(|(all, own)| self.normal((all * all - own * own).max(0.0).sqrt()));
        let mean = [3600f64.ln(), 1499.5, 1124.5, 0.0];
        (0..photos)
            .map(|_| std::array::from_fn(|k| mean[k] + common[k] + self.normal(sds[k].1)))
            .collect()
    }

    /// The marks of the sheets `seen` (numbers from 0) as a camera sees them.
    fn sighting(&mut self, bay: &Bay, hanging: &Hanging, camera: &Camera, seen: &[usize]) -> Sighting {
        let found = seen
            .iter()
            .map(|&n| {
                let (offset_mm, turn_rad) = hanging.sheets[n];
                let size_mm = bay.marks.size_mm * hanging.ln_size.exp();
                let mut mark = mark(camera, bay.marks.sheet[n], size_mm, offset_mm, turn_rad);
                for value in mark.corners_px.iter_mut().flatten() {
                    *value += self.normal(CORNER_SD_PX);
                }
                mark
            })
            .collect();
        Sighting {
            found,
            size_px: SIZE_PX,
            capture: Capture {
                camera: Some("made camera".to_owned()),
                focal_length_mm: Some(5.0),
                ..Capture::default()
            },
            ..Sighting::default()
        }
    }
}

fn draw(seed: u64) -> Draw {
    Draw(ChaCha8Rng::seed_from_u64(seed))
}

const ALL: [usize; 6] = [0, 1, 2, 3, 4, 5];

/// Sightings by hand, and the cameras that they were made with.
fn by_hand(draw: &mut Draw, bay: &Bay, hanging: &Hanging, seen: &[&[usize]]) -> (Vec<Sighting>, Vec<Camera>) {
    let lenses = draw.lenses(seen.len());
    seen.iter()
        .zip(lenses)
        .enumerate()
        .map(|(n, (seen, lens))| {
            let (place_mm, turn_rad) = HELD[n % HELD.len()];
            let camera = camera(place_mm, turn_rad, lens);
            (draw.sighting(bay, hanging, &camera, seen), camera)
        })
        .unzip()
}

/// Height that a view gives to the pixel that truly shows `PLACE_MM`, less the true height, mm.
fn height_error_mm(view: &View, camera: &Camera) -> f64 {
    let px = camera.project(PLACE_MM).unwrap();
    view.to_wall(px).unwrap()[1] - PLACE_MM[1]
}

/// Standard deviation of one view's height, and of the difference of two, mm.
fn stated_mm(view: &View) -> f64 {
    let sd = view.height_sd(PLACE_MM).unwrap();
    sd.photo_mm.hypot(sd.tape_mm)
}

fn stated_difference_mm(a: &View, b: &View) -> f64 {
    let (common_a, common_b) = (
        a.height_common_mm(PLACE_MM).unwrap(),
        b.height_common_mm(PLACE_MM).unwrap(),
    );
    let left: f64 = common_a.iter().zip(&common_b).map(|(a, b)| (a - b).powi(2)).sum();
    let photo = [a, b].map(|view| view.height_sd(PLACE_MM).unwrap().photo_mm.powi(2));
    (left + photo[0] + photo[1]).sqrt()
}

#[test]
fn eliminating_the_camera_leaves_the_same_covariance_as_the_dense_inverse() {
    // Schur's complement: the lower right block of the inverse of the whole normal matrix is the inverse of what
    // elimination leaves (any text on linear algebra; nalgebra's LU inverse stands against our Cholesky).
    let mut draw = draw(1);
    let (rows, cameras, commons) = (60, CAMERA_PARAMETERS, 7);
    let mut random = |columns| DMatrix::from_fn(rows, columns, |_, _| draw.normal(1.0));
    let (a, b, r) = (random(cameras), random(commons), random(1).column(0).into_owned());
    let reduced = eliminate(&a, &b, &r, 0.0).unwrap();
    let whole = DMatrix::from_fn(rows, cameras + commons, |i, j| {
        if j < cameras { a[(i, j)] } else { b[(i, j - cameras)] }
    });
    let inverse = (whole.transpose() * &whole).lu().try_inverse().unwrap();
    let step = -(&inverse * whole.transpose() * &r);
    let of_commons = reduced.information.clone().lu().try_inverse().unwrap();
    assert!((&of_commons - inverse.view((cameras, cameras), (commons, commons))).norm() < 1e-12);
    let common_step = -(&of_commons * &reduced.gradient);
    assert!((&common_step - step.rows(cameras, commons)).norm() < 1e-12);
    let camera_step = &reduced.step + &reduced.response * &common_step;
    assert!((&camera_step - step.rows(0, cameras)).norm() < 1e-12);
    // Law of total covariance: the camera's is what is left with the commons known, and what the commons bring.
    let of_camera = &reduced.camera_covariance + &reduced.response * of_commons * reduced.response.transpose();
    assert!((of_camera - inverse.view((0, 0), (cameras, cameras))).norm() < 1e-12);
}

/// The reference implementation: one dense fit of all cameras and common parameters.
fn dense(adjustment: &BundleAdjustment, stations: &[Station]) -> Fit {
    let cameras = CAMERA_PARAMETERS * stations.len();
    let residuals = |p: &[f64]| {
        let common = DVector::from_column_slice(&p[cameras..]);
        let mut all = Vec::new();
        for (station, camera) in stations.iter().zip(p.chunks_exact(CAMERA_PARAMETERS)) {
            all.extend(
                adjustment
                    .residuals(station, &Camera::of(camera, size()), &common)
                    .iter(),
            );
        }
        all.extend(common.iter());
        all
    };
    // From what each photo gives alone, and from sheets hung as the bay file has them.
    let mut start: Vec<f64> = stations
        .iter()
        .flat_map(|s| s.resection.fit.parameters[..CAMERA_PARAMETERS].to_vec())
        .collect();
    let mut steps: Vec<f64> = start
        .chunks_exact(CAMERA_PARAMETERS)
        .flat_map(|camera| camera_steps(camera[5]))
        .collect();
    start.resize(cameras + adjustment.common.len(), 0.0);
    steps.resize(start.len(), 1e-3);
    let problem = Problem {
        residuals: &residuals,
        priors: 0,
        slopes: Slopes::Differences(&steps),
        loss: Loss::Square,
        settled: TO_THE_DIGIT,
    };
    problem.solve(&start).unwrap()
}

#[test]
fn the_survey_agrees_with_one_dense_fit_of_everything() {
    let four = bay(&[SIX[0], SIX[3], SIX[4], SIX[5]]);
    let mut draw = draw(2);
    let hanging = draw.hanging(4);
    let (sightings, _) = by_hand(&mut draw, &four, &hanging, &[&[0, 1, 2, 3], &[0, 1, 2, 3], &[0, 2, 3]]);
    let resections = resections(&sightings, &four);
    let lenses = lenses(&sightings, &resections, &[0, 1, 2]);
    assert_eq!(lenses, [Some(0); 3], "one camera, one focal length");
    let mut stations: Vec<Station> = resections
        .into_iter()
        .enumerate()
        .map(|(n, one)| Station::new(resector(&four, &sightings[n]), one.unwrap(), lenses[n], n))
        .collect();
    let mut adjustment = BundleAdjustment::new(&four, 1);
    let adjusted = adjustment.solve(&mut stations).unwrap();
    let reference = dense(&adjustment, &stations);
    let cameras = CAMERA_PARAMETERS * stations.len();
    // In the prior's standard deviations.
    for (fast, slow) in adjustment.common.iter().zip(&reference.parameters[cameras..]) {
        assert!((fast - slow).abs() < 1e-4, "{fast} and {slow}");
    }
    let count = adjustment.common.len();
    let slow = reference.covariance.view((cameras, cameras), (count, count));
    assert!((&adjusted.covariance - slow).norm() < 1e-4 * slow.norm());
    // The views, and what they share: heights' variances and covariances from the dense fit's covariance.
    let views: Vec<View> = stations
        .iter()
        .zip(&adjusted.reduced)
        .map(|(s, r)| adjustment.view(s, r, &adjusted))
        .collect();
    let at = |n: usize| CAMERA_PARAMETERS * n;
    for i in 0..views.len() {
        let camera = Camera::of(&reference.parameters[at(i)..], size());
        let px = camera.project(PLACE_MM).unwrap();
        let there = views[i].to_wall(px).unwrap();
        assert!((there[1] - PLACE_MM[1]).abs() < 1e-3, "{there:?}");
        for j in 0..views.len() {
            let block = reference
                .covariance
                .view((at(i), at(j)), (CAMERA_PARAMETERS, CAMERA_PARAMETERS));
            // Without the cockle, which no fit knows of.
            let (ci, cj) = (views[i].common.columns(0, count), views[j].common.columns(0, count));
            let mut ours = ci * cj.transpose();
            if i == j {
                ours += &views[i].photo_covariance;
            }
            let row = |n: usize| views[n].height_sensitivity(PLACE_MM).unwrap();
            let (fast, slow) = (
                (row(i) * ours * row(j).transpose())[(0, 0)],
                (row(i) * block * row(j).transpose())[(0, 0)],
            );
            assert!((fast / slow - 1.0).abs() < 1e-3, "{i} {j}: {fast} and {slow} mm²");
        }
    }
}

fn resections(sightings: &[Sighting], bay: &Bay) -> Vec<Result<Resection, Refusal>> {
    sightings
        .iter()
        .map(|sighting| resector(bay, sighting).resect(&sighting.found))
        .collect()
}

/// Root mean square of ratios.
fn rms(ratios: &[f64]) -> f64 {
    (ratios.iter().map(|r| r * r).sum::<f64>() / ratios.len() as f64).sqrt()
}

#[test]
fn heights_and_their_differences_scatter_as_stated() {
    const DRAWS: u64 = 200;
    let bay = bay(&SIX);
    // Three photos by hand; the last does not show two sheets.
    let ratios: Vec<[f64; 5]> = (0..DRAWS)
        .into_par_iter()
        .map(|seed| {
            let mut draw = draw(1000 + seed);
            let hanging = draw.hanging(6);
            let (sightings, cameras) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL, &[0, 1, 4, 5]]);
            let views: Vec<View> = survey(&sightings, &bay).into_iter().map(|v| v.unwrap()).collect();
            let errors_mm: Vec<f64> = views.iter().zip(&cameras).map(|(v, c)| height_error_mm(v, c)).collect();
            let difference =
                |i: usize, j: usize| (errors_mm[i] - errors_mm[j]) / stated_difference_mm(&views[i], &views[j]);
            [
                errors_mm[0] / stated_mm(&views[0]),
                errors_mm[1] / stated_mm(&views[1]),
                errors_mm[2] / stated_mm(&views[2]),
                difference(0, 1),
                difference(0, 2),
            ]
        })
        .collect();
    for (k, what) in ["first", "second", "third", "first less second", "first less third"]
        .into_iter()
        .enumerate()
    {
        let ratio = rms(&ratios.iter().map(|r| r[k]).collect::<Vec<_>>());
        println!("{what}: errors are {ratio:.3} of what is stated");
        assert!((0.85..1.15).contains(&ratio), "{what}: {ratio}");
    }
}

#[test]
fn a_difference_profits_from_what_the_photos_share() {
    let bay = bay(&SIX);
    let mut draw = draw(5);
    let hanging = draw.hanging(6);
    let (hand, _) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL]);
    let together: Vec<View> = survey(&hand, &bay).into_iter().map(|v| v.unwrap()).collect();
    let apart: Vec<View> = hand
        .iter()
        .map(|sighting| survey(std::slice::from_ref(sighting), &bay).pop().unwrap().unwrap())
        .collect();
    let unrelated = stated_mm(&apart[0]).hypot(stated_mm(&apart[1]));
    let by_hand_mm = stated_difference_mm(&together[0], &together[1]);
    println!(
        "alone {:.3} and {:.3} mm, together {:.3} and {:.3} mm; their difference {by_hand_mm:.3} mm, unrelated {unrelated:.3} mm",
        stated_mm(&apart[0]),
        stated_mm(&apart[1]),
        stated_mm(&together[0]),
        stated_mm(&together[1])
    );
    assert!(by_hand_mm < 0.5 * unrelated, "{by_hand_mm} and {unrelated}");
    assert!(stated_mm(&together[0]) <= 1.01 * stated_mm(&apart[0]));
    // From one tripod the sheets' part cancels all but wholly; the corners' noise stays.
    let lens = draw.lenses(1)[0];
    let still = camera(HELD[0].0, HELD[0].1, lens);
    let sightings = [0, 1].map(|_| draw.sighting(&bay, &hanging, &still, &ALL));
    let views: Vec<View> = survey(&sightings, &bay).into_iter().map(|v| v.unwrap()).collect();
    let photo_mm = views[0]
        .height_sd(PLACE_MM)
        .unwrap()
        .photo_mm
        .hypot(views[1].height_sd(PLACE_MM).unwrap().photo_mm);
    let tripod_mm = stated_difference_mm(&views[0], &views[1]);
    assert!(tripod_mm < 1.02 * photo_mm, "{tripod_mm} and {photo_mm}");
}

#[test]
fn a_sheet_misplaced_in_all_photos_is_named_in_each() {
    let bay = bay(&SIX);
    let mut draw = draw(6);
    let mut hanging = draw.hanging(6);
    hanging.sheets[1].0 = [0.0, 45.0];
    // The last photo shows four sheets, and could not tell by itself which of them is off.
    let (sightings, cameras) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL, &[0, 1, 4, 5]]);
    let lone = survey(&sightings[2..], &bay).pop().unwrap();
    assert_eq!(lone.unwrap_err().reason, Reason::MarksDisagree);
    for (view, camera) in survey(&sightings, &bay).into_iter().zip(&cameras) {
        let view = view.unwrap();
        assert!(view.marks.iter().all(|m| m.id != 2));
        assert!(
            view.warnings.iter().any(|w| w.to_string().contains("sheet 2 ")),
            "{:?}",
            view.warnings
        );
        let (error_mm, sd_mm) = (height_error_mm(&view, camera), stated_mm(&view));
        assert!(error_mm.abs() < 3.0 * sd_mm, "{error_mm} mm with {sd_mm} mm");
    }
}

#[test]
fn a_sheet_moved_between_photos_is_named_where_it_moved() {
    let bay = bay(&SIX);
    let mut draw = draw(7);
    let hanging = draw.hanging(6);
    let mut moved = draw.hanging(0);
    moved.ln_size = hanging.ln_size;
    moved.sheets = hanging.sheets.clone();
    // Too little for one photo alone to see against a tape of 1.5 mm.
    moved.sheets[4].0[1] += 5.0;
    let lens = draw.lenses(1)[0];
    let cameras: Vec<Camera> = (0..4).map(|n| camera(HELD[n % 3].0, HELD[n % 3].1, lens)).collect();
    let mut sightings = |from: usize| -> Vec<Sighting> {
        (0..4)
            .map(|n| draw.sighting(&bay, if n < from { &hanging } else { &moved }, &cameras[n], &ALL))
            .collect()
    };
    // Moved before the last of four: the last one is told so.
    let views: Vec<View> = survey(&sightings(3), &bay).into_iter().map(|v| v.unwrap()).collect();
    for (n, view) in views.iter().enumerate() {
        let named = view
            .warnings
            .iter()
            .any(|w| matches!(w, Warning::MarkMoved { id: 5, .. }));
        assert_eq!(named, n == 3, "{n}: {:?}", view.warnings);
        assert_eq!(view.marks.iter().all(|m| m.id != 5), n == 3);
        let (error_mm, sd_mm) = (height_error_mm(view, &cameras[n]), stated_mm(view));
        assert!(error_mm.abs() < 3.0 * sd_mm, "{n}: {error_mm} mm with {sd_mm} mm");
    }
    // Half before, half after: it cannot be told which, so that all four do without it.
    for view in survey(&sightings(2), &bay) {
        assert!(view.unwrap().marks.iter().all(|m| m.id != 5));
    }
    // Nothing moved: nobody is warned.
    for view in survey(&sightings(4), &bay) {
        let view = view.unwrap();
        assert!(view.warnings.is_empty() && view.marks.len() == 6, "{:?}", view.warnings);
    }
}

#[test]
fn photos_without_facts_and_of_other_zoom_share_no_lens() {
    let bay = bay(&SIX);
    let mut draw = draw(8);
    let hanging = draw.hanging(6);
    let (mut sightings, _) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL, &ALL]);
    assert_eq!(
        lenses(&sightings, &resections(&sightings, &bay), &[0, 1, 2]),
        [Some(0); 3]
    );
    sightings[1].capture = Capture::default();
    assert_eq!(
        lenses(&sightings, &resections(&sightings, &bay), &[0, 1, 2]),
        [Some(0), None, Some(0)]
    );
    sightings[2].capture.focal_length_mm = Some(9.0);
    assert_eq!(lenses(&sightings, &resections(&sightings, &bay), &[0, 1, 2]), [None; 3]);
    // A digital zoom that EXIF keeps silent about.
    let lens = draw.lenses(1)[0];
    let zoomed = camera(HELD[2].0, HELD[2].1, [lens[0] + 1.3f64.ln(), lens[1], lens[2], lens[3]]);
    let (mut sightings, _) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL]);
    sightings.push(draw.sighting(&bay, &hanging, &zoomed, &ALL));
    assert_eq!(
        lenses(&sightings, &resections(&sightings, &bay), &[0, 1, 2]),
        [Some(0), Some(0), None]
    );
}

#[test]
fn no_photos_and_refused_ones_keep_their_places() {
    let bay = bay(&SIX);
    assert!(survey(&[], &bay).is_empty());
    let mut draw = draw(9);
    let hanging = draw.hanging(6);
    let (mut sightings, _) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL]);
    sightings.insert(
        1,
        Sighting {
            size_px: SIZE_PX,
            ..Sighting::default()
        },
    );
    let results = survey(&sightings, &bay);
    assert!(results[0].is_ok() && results[2].is_ok());
    assert_eq!(results[1].as_ref().unwrap_err().reason, Reason::MarksMissing);
}

#[test]
fn a_wall_hung_anew_is_fitted_anew_and_shares_nothing() {
    let bay = bay(&SIX);
    let mut draw = draw(10);
    let (before, after) = (draw.hanging(6), draw.hanging(6));
    let lens = draw.lenses(1)[0];
    let still = camera(HELD[0].0, HELD[0].1, lens);
    let sightings: Vec<Sighting> = [&before, &before, &after, &after]
        .into_iter()
        .map(|hanging| draw.sighting(&bay, hanging, &still, &ALL))
        .collect();
    let views: Vec<View> = survey(&sightings, &bay).into_iter().map(|v| v.unwrap()).collect();
    for (n, view) in views.iter().enumerate() {
        assert_eq!(view.marks.len(), 6, "{n}");
        assert_eq!(
            view.warnings.contains(&Warning::SheetsRehung),
            n > 1,
            "{n}: {:?}",
            view.warnings
        );
        let (error_mm, sd_mm) = (height_error_mm(view, &still), stated_mm(view));
        assert!(error_mm.abs() < 3.0 * sd_mm, "{n}: {error_mm} mm with {sd_mm} mm");
    }
    let apart_mm = stated_difference_mm(&views[1], &views[2]);
    assert!((apart_mm - stated_mm(&views[1]).hypot(stated_mm(&views[2]))).abs() < 1e-9);
    assert!(stated_difference_mm(&views[2], &views[3]) < 0.2 * apart_mm);
    // The error that such a travel has is within what it states.
    let difference_mm = height_error_mm(&views[1], &still) - height_error_mm(&views[2], &still);
    assert!(difference_mm.abs() < 3.0 * apart_mm);
}

/// A sighting of what is left of the photo when so much was cut off on the left and at the top, px.
fn cut(whole: &Sighting, left_px: usize, top_px: usize) -> Sighting {
    let mut cut = whole.clone();
    for corner in cut.found.iter_mut().flat_map(|mark| &mut mark.corners_px) {
        *corner = [corner[0] - left_px as f64, corner[1] - top_px as f64];
    }
    cut.size_px = (whole.size_px.0 - left_px, whole.size_px.1 - top_px);
    cut
}

#[test]
fn a_photo_of_which_a_part_was_cut_off_is_told_and_read_within_its_interval() {
    let bay = bay(&SIX);
    for seed in 20..26 {
        let mut draw = draw(seed);
        let hanging = draw.hanging(6);
        let (mut sightings, cameras) = by_hand(&mut draw, &bay, &hanging, &[&ALL, &ALL, &ALL]);
        let is_told = |view: &View| view.warnings.iter().any(|w| matches!(w, Warning::Cropped { .. }));
        for view in survey(&sightings, &bay) {
            let view = view.unwrap();
            assert!(view.warnings.is_empty(), "{seed}: {:?}", view.warnings);
        }
        let (left_px, top_px) = (700, 0);
        sightings[1] = cut(&sightings[1], left_px, top_px);
        let views: Vec<View> = survey(&sightings, &bay).into_iter().map(|view| view.unwrap()).collect();
        assert_eq!([0, 1, 2].map(|n| is_told(&views[n])), [false, true, false], "{seed}");
        // Nobody moved a sheet.
        assert!(
            views.iter().all(|view| !view.warnings.contains(&Warning::SheetsRehung)),
            "{seed}"
        );
        let px = cameras[1].project(PLACE_MM).unwrap();
        let error_mm = views[1]
            .to_wall([px[0] - left_px as f64, px[1] - top_px as f64])
            .unwrap()[1]
            - PLACE_MM[1];
        let sd_mm = stated_mm(&views[1]);
        assert!(error_mm.abs() < 3.0 * sd_mm, "{seed}: {error_mm} mm with {sd_mm} mm");
    }
}

#[test]
fn what_the_file_says_of_its_size_tells_a_cut_by_itself() {
    let bay = bay(&SIX);
    let mut draw = draw(30);
    let hanging = draw.hanging(6);
    let (mut sightings, _) = by_hand(&mut draw, &bay, &hanging, &[&ALL]);
    let cropped = |sightings: &[Sighting]| {
        let view = survey(sightings, &bay).remove(0).unwrap();
        view.warnings.iter().any(|w| matches!(w, Warning::Cropped { .. }))
    };
    for (written_px, is_cropped) in [
        (None, false),
        (Some([3000, 2250]), false),
        // Stored lying, and made smaller as a whole.
        (Some([2250, 3000]), false),
        (Some([4000, 3000]), false),
        (Some([4000, 2250]), true),
    ] {
        sightings[0].capture.written_px = written_px;
        assert_eq!(cropped(&sightings), is_cropped, "{written_px:?}");
    }
}

#[test]
fn a_slip_in_the_bays_entries_is_named_before_any_sheet() {
    let taped = bay(&SIX);
    let mut draw = draw(31);
    let hanging = draw.hanging(6);
    let (sightings, _) = by_hand(&mut draw, &taped, &hanging, &[&ALL]);
    let refused = |change: &dyn Fn(&mut Bay)| {
        let mut wrong = taped.clone();
        change(&mut wrong);
        let refusal = survey(&sightings, &wrong).remove(0).unwrap_err();
        assert_eq!(refusal.reason, Reason::MarksDisagree);
        refusal.english().to_owned()
    };
    let scaled = |bay: &mut Bay, by: f64| {
        for sheet in &mut bay.marks.sheet {
            // To a tenth, as one types.
            (sheet.x_mm, sheet.y_mm) = (
                (sheet.x_mm * by * 10.0).round() / 10.0,
                (sheet.y_mm * by * 10.0).round() / 10.0,
            );
        }
    };
    let size_mm = taped.marks.size_mm;
    type Slip<'a> = (&'a dyn Fn(&mut Bay), String);
    let slips: [Slip<'_>; 5] = [
        (
            &|bay| bay.marks.size_mm = 100.0,
            format!("look about {size_mm:.0} mm large"),
        ),
        (&|bay| scaled(bay, 0.1), "look like centimetres".to_owned()),
        (&|bay| scaled(bay, 1.0 / 25.4), "look like inches".to_owned()),
        (
            &|bay| bay.marks.sheet.iter_mut().for_each(|sheet| sheet.x_mm = -sheet.x_mm),
            "lie mirrored".to_owned(),
        ),
        (
            &|bay| {
                let sheets = &mut bay.marks.sheet;
                (sheets[0].id, sheets[1].id) = (sheets[1].id, sheets[0].id);
            },
            "sheets 1 and 2 hang at each other's place".to_owned(),
        ),
    ];
    for (slip, words) in slips {
        let said = refused(slip);
        assert!(
            said.contains(&words) || said.contains(&words.replace("1 and 2", "2 and 1")),
            "{words}: {said}"
        );
    }
    // What no slip explains is not explained by one.
    let said = refused(&|bay| {
        bay.marks.sheet[0].x_mm += 80.0;
        bay.marks.sheet[3].y_mm += 60.0;
        bay.marks.sheet[4].x_mm -= 70.0;
    });
    assert!(said.contains("first suspect"), "{said}");
}
