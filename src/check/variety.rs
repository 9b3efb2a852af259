//! Made cars before made walls, drawn at random from a seed: the variety that a reading has to cope with.

use super::case::{Case, Tape};
use super::seeded;
use crate::error::Error;
use crate::record::{HeightsFrom, Pattern, Sheet, Shot, Side, Traffic};
use crate::render::{Ambient, Camera, EdgeKind, Exposure, MadeLamp, Photo, Scene, WallKind};
use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use std::ops::Range;

/// How often a scene is drawn anew where its cut-off misses the wall or the frame, before that is an error.
const ATTEMPTS: usize = 50;
/// Half of a printed sheet's white, from its centre, mm: a mark of 160 mm with its margin.
const HALF_SHEET_MM: f64 = 115.0;

/// Draws one of `choices`.
pub(super) fn one_of<T: Copy>(rng: &mut ChaCha8Rng, choices: &[T]) -> T {
    choices[rng.random_range(0..choices.len())]
}

/// Draws a number whose logarithm is even over the range.
pub(super) fn log_even(rng: &mut ChaCha8Rng, range: Range<f64>) -> f64 {
    rng.random_range(range.start.ln()..range.end.ln()).exp()
}

/// A wide variety: distance 3 to 25 m, true places written down, a lamp-off photo in a fifth of them.
///
/// # Errors
/// [`Error`] where no scene could be drawn.
pub(crate) fn reading(seed: u64) -> Result<Case, Error> {
    let mut rng = seeded(seed, 0);
    let scene = varied(&mut rng, 3_000.0..25_000.0)?;
    let mut case = Case::new(seed, scene, Tape::True, &mut rng);
    if rng.random_bool(0.2) {
        case.scene.photo.push(Photo {
            file: "off.jpg".to_owned(),
            lamp_on: Some(false),
            ..Photo::default()
        });
        case.job.shot[0].lamp_off = Some("off.jpg".into());
    }
    Ok(case)
}

/// 7.6 to 10 m, with tape errors as the files declare them.
///
/// # Errors
/// As [`reading`].
pub(crate) fn taped(seed: u64) -> Result<Case, Error> {
    let mut rng = seeded(seed, 1);
    let scene = varied(&mut rng, 7_600.0..10_000.0)?;
    Ok(Case::new(seed, scene, Tape::AsDeclared, &mut rng))
}

/// As [`taped`], of lamps with a face 60 to 140 mm high at 5 to 7.6 m from the wall; every other job gives its height.
///
/// # Errors
/// As [`reading`].
pub(crate) fn lamp_faces(seed: u64) -> Result<Case, Error> {
    let mut rng = seeded(seed, 6);
    let mut scene = varied(&mut rng, 5_000.0..7_600.0)?;
    let face_height_mm = rng.random_range(60.0..140.0);
    scene.lamp[0].face_height_mm = face_height_mm;
    let mut case = Case::new(seed, scene, Tape::AsDeclared, &mut rng);
    case.job.lamp[0].face_height_mm = seed.is_multiple_of(2).then_some(face_height_mm);
    Ok(case)
}

/// Four positions of the range control, from a tripod or from the hand; the second value tells which (true: hand). In
/// a quarter of the series the control moves nothing.
///
/// # Errors
/// As [`reading`].
pub(crate) fn series(seed: u64) -> Result<(Case, bool), Error> {
    series_on(seeded(seed, 2), seed, 7_600.0..10_000.0, Tape::AsDeclared, |_, _| ())
}

/// As [`series`], at 5 to 10 m before walls of twice the texture, true places written down; half of the jobs name a photo of the wall by the room's light.
///
/// # Errors
/// As [`reading`].
pub(crate) fn rough_walls(seed: u64) -> Result<(Case, bool), Error> {
    let mut rng = seeded(seed, 5);
    let by_room = rng.random_bool(0.5);
    let (mut case, hand) = series_on(rng, seed, 5_000.0..10_000.0, Tape::True, |scene, rng| {
        let rough = [WallKind::Plaster, WallKind::Roller, WallKind::Brick, WallKind::Panel];
        scene.wall.kind = one_of(rng, &rough);
        scene.wall.contrast = rng.random_range(0.02..0.06);
        scene.wall.grain_mm = rng.random_range(15.0..90.0);
    })?;
    if by_room {
        add_wall_photo(&mut case);
    }
    Ok((case, hand))
}

/// Adds a photo of the wall by the room's light, the lamps off, to a job.
pub(super) fn add_wall_photo(case: &mut Case) {
    /// By which a lit room is exposed, and its light (our choice, no source).
    const ROOM: (f64, f64) = (0.85, 150.0);
    let file = "wall.jpg".to_owned();
    case.job.wall_photos = vec![file.clone().into()];
    case.scene.photo.push(Photo {
        file,
        lamp_on: Some(false),
        ambient: Some(Ambient {
            lx: ROOM.1,
            of_dark_side: 0.0,
        }),
        p997_of_full_scale: Some(ROOM.0),
        ..Photo::default()
    });
}

/// A series with the scene as `alter` makes it of one that was drawn.
fn series_on(
    mut rng: ChaCha8Rng,
    seed: u64,
    distance_mm: Range<f64>,
    tape: Tape,
    alter: impl Fn(&mut Scene, &mut ChaCha8Rng),
) -> Result<(Case, bool), Error> {
    for _ in 0..ATTEMPTS {
        let mut scene = varied(&mut rng, distance_mm.clone())?;
        alter(&mut scene, &mut rng);
        let mut case = Case::new(seed, scene, tape, &mut rng);
        let hand = rng.random_bool(0.5);
        let step_percent = if rng.random_bool(0.25) {
            0.0
        } else {
            rng.random_range(0.1..0.6)
        };
        let start_percent = case.scene.lamp[0].inclination_percent.min(0.8);
        let shot = case.job.shot[0].clone();
        // A camera in the hand meters each photo anew; one on a tripod is left as it is.
        case.scene.exposure.each_photo = hand;
        case.scene.photo.clear();
        case.job.shot.clear();
        for position in 0..4 {
            let file = format!("position-{position}.jpg");
            let mut shift_mm = || rng.random_range(-250.0..250.0);
            let camera_shift_mm = hand.then(|| [shift_mm(), shift_mm(), shift_mm()]);
            case.scene.photo.push(Photo {
                file: file.clone(),
                inclination_percent: Some(start_percent + step_percent * f64::from(position)),
                camera_shift_mm,
                roll_deg: hand.then(|| rng.random_range(-3.0..3.0)),
                ..Photo::default()
            });
            case.job.shot.push(Shot {
                photo: file.into(),
                position: Some(position.to_string()),
                ..shot.clone()
            });
        }
        let in_frame = (0..4).all(|index| frame_holds_all(&case.scene, index));
        if in_frame && case.scene.truth().is_ok() {
            return Ok((case, hand));
        }
    }
    Err(Error::asked(format!(
        "no series could be drawn from seed {seed} whose photos hold all marks; choose another seed"
    )))
}

/// A scene drawn at random whose lamp stands `distance_mm` from the wall, whose cut-off falls on the wall, and whose
/// frame holds all marks and the whole scan.
pub(crate) fn varied(rng: &mut ChaCha8Rng, distance_mm: Range<f64>) -> Result<Scene, Error> {
    for _ in 0..ATTEMPTS {
        let mut scene = draw(rng, distance_mm.clone());
        if stand_back(&mut scene) && scene.truth().is_ok() {
            return Ok(scene);
        }
    }
    Err(Error::asked(
        "no scene could be drawn whose frame holds the marks and the cut-off; choose another seed",
    ))
}

/// Draws all of a scene; the order of the draws is what a seed stands for.
fn draw(rng: &mut ChaCha8Rng, distance_mm: Range<f64>) -> Scene {
    let mut scene = Scene {
        seed: rng.random(),
        ..Scene::default()
    };
    draw_lamp(&mut scene.lamp[0], rng, distance_mm);
    scene.wall.kind = one_of(
        rng,
        &[
            WallKind::Plain,
            WallKind::Plaster,
            WallKind::Roller,
            WallKind::Brick,
            WallKind::Panel,
        ],
    );
    scene.wall.reflectance = rng.random_range(0.5..0.85);
    scene.wall.contrast = rng.random_range(0.01..0.03);
    scene.wall.grain_mm = rng.random_range(20.0..80.0);
    scene.ambient.of_dark_side = rng.random_range(0.0..0.1);
    scene.paper.rotation_sd_deg = 1.5;
    draw_camera(&mut scene.camera, rng);
    draw_exposure(&mut scene.exposure, rng);
    hang(&mut scene, rng);
    scene
}

fn draw_lamp(lamp: &mut MadeLamp, rng: &mut ChaCha8Rng, distance_mm: Range<f64>) {
    lamp.distance_mm = log_even(rng, distance_mm);
    lamp.side = one_of(rng, &[Side::Left, Side::Right]);
    lamp.traffic = one_of(rng, &[Traffic::Right, Traffic::Left]);
    lamp.pattern = one_of(rng, &[Pattern::KickUp, Pattern::Step, Pattern::Flat]);
    // A third of the edges are none of those that the reader's own model can be.
    lamp.edge = one_of(
        rng,
        &[
            EdgeKind::LogLinear,
            EdgeKind::LogLinear,
            EdgeKind::Blurred,
            EdgeKind::Blurred,
            EdgeKind::Skewed,
            EdgeKind::TwoBlurs,
        ],
    );
    if rng.random_bool(0.25) {
        lamp.glow_of_dark = rng.random_range(0.1..0.6);
        lamp.glow_reach_deg = rng.random_range(0.2..0.8);
    }
    let outward = if lamp.side == Side::Left { -1.0 } else { 1.0 };
    lamp.centre_x_mm = outward * rng.random_range(450.0..650.0);
    lamp.centre_height_mm = rng.random_range(580.0..950.0);
    // From far off, a low lamp aimed low lights the floor and no wall: some light must be left below the cut-off.
    const LIT_WALL_DEG: f64 = 0.8;
    let lowest_percent = 100.0 * (lamp.centre_height_mm / lamp.distance_mm - LIT_WALL_DEG.to_radians().tan());
    lamp.inclination_percent = rng.random_range(-0.3..lowest_percent.min(2.2));
    lamp.lateral_percent = rng.random_range(-0.5..0.5);
    lamp.tilt_deg = rng.random_range(-0.5..0.5);
    lamp.sharpness_g = rng.random_range(0.13..0.40);
    lamp.bow_deg = rng.random_range(0.0..0.03);
    lamp.dark_cd = rng.random_range(120.0..300.0);
    lamp.hot_cd = rng.random_range(9_000.0..18_000.0);
    lamp.spread_cd = rng.random_range(5_000.0..9_000.0);
}

fn draw_camera(camera: &mut Camera, rng: &mut ChaCha8Rng) {
    // Small pictures are quicker to draw; phones' own, and those that a messenger made smaller, are about as large.
    camera.width_px = one_of(rng, &[2_000, 2_400, 3_000]);
    camera.height_px = camera.width_px * 3 / 4;
    camera.focal_35mm = rng.random_range(24.0..29.0);
    camera.roll_deg = rng.random_range(-3.0..3.0);
    camera.k1 = rng.random_range(-0.02..0.02);
    camera.principal_offset_px = [rng.random_range(-12.0..12.0), rng.random_range(-12.0..12.0)];
    camera.veil_percent = rng.random_range(0.0..0.5);
    camera.defocus_px = rng.random_range(0.5..1.3);
    if rng.random_bool(0.3) {
        camera.motion_px = rng.random_range(0.5..2.0);
        camera.motion_direction_deg = rng.random_range(0.0..180.0);
    }
}

fn draw_exposure(exposure: &mut Exposure, rng: &mut ChaCha8Rng) {
    exposure.p997_of_full_scale = log_even(rng, 0.3..2.0);
    exposure.jpeg_quality = rng.random_range(80..=97);
    exposure.iso = one_of(rng, &[50, 100, 200, 400, 800]);
    // A small sensor: the electrons that full scale stands for fall as the ISO speed rises.
    exposure.full_well_electrons = 8_000.0 * 50.0 / f64::from(exposure.iso).max(50.0);
    exposure.read_noise_electrons = rng.random_range(1.5..4.0);
}

/// Hangs six sheets about the lamp, four low and two high, wide enough that none lies where the cut-off is read, and
/// puts the camera before their middle.
fn hang(scene: &mut Scene, rng: &mut ChaCha8Rng) {
    let lamp = &scene.lamp[0];
    let half_span_mm = (0.075 * lamp.distance_mm + 180.0).max(700.0);
    // Nearer than 11 m the cut-off lies far enough above the low sheets for one to hang below the scan.
    let low = if lamp.distance_mm < 11_000.0 && rng.random_bool(0.5) {
        [1.0, 0.35, -0.3, -1.0]
    } else {
        [1.0, 0.0, -0.5, -1.0]
    };
    let high_y_mm = lamp.centre_height_mm + 300.0 + 0.02 * lamp.distance_mm;
    let flat = lamp.traffic.flat_side_sign();
    let mut places: Vec<[f64; 2]> = low
        .iter()
        .map(|share| [*share, rng.random_range(180.0..230.0)])
        .collect();
    places.extend([0.85, -0.85].map(|share| [share, high_y_mm + rng.random_range(-20.0..20.0)]));
    let sheets = places.iter().zip(1..).map(|([share, y_mm], id)| Sheet {
        id,
        x_mm: (lamp.centre_x_mm + flat * share * half_span_mm + rng.random_range(-15.0..15.0)).round(),
        y_mm: y_mm.round(),
    });
    scene.bay.marks.sheet = sheets.collect();
    scene.bay.heights_from = HeightsFrom::Floor;
    let away_mm = rng.random_range(1.05..1.5) * 1.5 * (half_span_mm + HALF_SHEET_MM);
    scene.camera.look_at_mm = Some([
        lamp.centre_x_mm + rng.random_range(-0.08..0.08) * half_span_mm,
        0.5 * high_y_mm + rng.random_range(-60.0..100.0),
    ]);
    scene.camera.position_mm = [
        lamp.centre_x_mm + rng.random_range(-0.3..0.3) * away_mm,
        rng.random_range(1_000.0..1_700.0),
        away_mm,
    ];
}

/// Moves the camera away from the wall until the frame holds all; false where it never does.
pub(super) fn stand_back(scene: &mut Scene) -> bool {
    for _ in 0..12 {
        if frame_holds_all(scene, 0) {
            return true;
        }
        scene.camera.position_mm[2] *= 1.06;
    }
    false
}

/// Whether photo `index` shows all sheets whole, and the scan from V-V to 4.3° with a degree above and below, where the job has it and
/// where the pattern lies.
pub(super) fn frame_holds_all(scene: &Scene, index: usize) -> bool {
    const MARGIN_PX: f64 = 25.0;
    let Ok(pinhole) = scene.pinhole(index) else {
        return false;
    };
    let lamp = &scene.lamp[0];
    let edge_y_mm = lamp.centre_height_mm - lamp.inclination_percent / 100.0 * lamp.distance_mm;
    let degree_mm = lamp.distance_mm * 1.0_f64.to_radians().tan();
    let aside_mm = lamp.lateral_percent / 100.0 * lamp.distance_mm;
    let scan_x_mm = |from_vv: f64| lamp.centre_x_mm + lamp.traffic.flat_side_sign() * from_vv * degree_mm;
    let corners = |x_mm: f64, y_mm: f64, half_mm: f64| {
        [[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]]
            .map(|[right, up]| [x_mm + right * half_mm, y_mm + up * half_mm])
    };
    let sheets = scene
        .bay
        .marks
        .sheet
        .iter()
        .flat_map(|sheet| corners(sheet.x_mm, sheet.y_mm, HALF_SHEET_MM));
    let ends = [-0.5, 4.3].map(|from_vv| [0.0, aside_mm].map(|aside_mm| scan_x_mm(from_vv) + aside_mm));
    let scans = ends.into_iter().flatten();
    let scans = scans.map(|x_mm| [1.0, -1.0].map(|up| [x_mm, edge_y_mm + up * degree_mm]));
    let (right_px, bottom_px) = (scene.camera.width_px as f64, scene.camera.height_px as f64);
    sheets
        .chain(scans.flatten().map(|[x_mm, y_mm]| [x_mm, y_mm.max(0.0)]))
        .all(|[x_mm, y_mm]| {
            pinhole.project([x_mm, y_mm, 0.0]).is_some_and(|[x_px, y_px]| {
                (MARGIN_PX..right_px - MARGIN_PX).contains(&x_px) && (MARGIN_PX..bottom_px - MARGIN_PX).contains(&y_px)
            })
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All that a case holds, as text.
    fn told(case: &Case) -> String {
        let parts = [
            serde_json::to_string(&case.scene).unwrap(),
            serde_json::to_string(&case.scene.bay).unwrap(),
            serde_json::to_string(&case.bay).unwrap(),
            serde_json::to_string(&case.job).unwrap(),
        ];
        parts.join("\n")
    }

    #[test]
    fn the_same_seed_gives_the_same_scene_and_another_seed_another() {
        for draw in [reading, taped, |seed| series(seed).map(|(case, _)| case)] {
            let case = draw(7).unwrap();
            assert_eq!(told(&case), told(&draw(7).unwrap()));
            assert_ne!(told(&case), told(&draw(8).unwrap()));
        }
    }

    #[test]
    fn readings_span_their_ranges_and_write_down_the_truth() {
        let cases: Vec<Case> = (1..=60).map(|seed| reading(seed).unwrap()).collect();
        let distances_mm: Vec<f64> = cases.iter().map(|case| case.scene.lamp[0].distance_mm).collect();
        assert!(distances_mm.iter().all(|d| (3_000.0..25_000.0).contains(d)));
        assert!(distances_mm.iter().any(|d| *d < 4_000.0) && distances_mm.iter().any(|d| *d > 20_000.0));
        for case in &cases {
            assert_eq!(case.bay.marks.sheet, case.scene.bay.marks.sheet);
            assert_eq!(case.job.lamp[0].distance_mm, case.scene.lamp[0].distance_mm);
            assert!((0..case.scene.photo_count()).all(|index| frame_holds_all(&case.scene, index)));
        }
        let count = |wanted: &dyn Fn(&Case) -> bool| cases.iter().filter(|case| wanted(case)).count();
        // Four standard deviations about a half and a fifth of 60.
        assert!((15..=45).contains(&count(&|case| case.job.pattern.is_some())));
        assert!((1..=24).contains(&count(&|case| case.job.shot[0].lamp_off.is_some())));
    }
}
