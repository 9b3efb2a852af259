//! One photo on its own: its view, and which sheets it finds misplaced.

use super::*;

const TAPE_SD_MM: f64 = 1.0;

const SIX: [(u32, f64, f64); 6] = [
    (1, -800.0, 217.0),
    (2, -267.0, 204.0),
    (3, 267.0, 204.0),
    (4, 800.0, 217.0),
    (5, -800.0, 1029.0),
    (6, 800.0, 1029.0),
];
/// A camera 4.5 m off, turned and tilted, with a barrel lens.
fn camera() -> Camera {
    let lens = [3600f64.ln(), 1499.5, 1124.5, -0.012];
    super::camera([500.0, 1500.0, 4500.0], [0.05, -0.12, 0.03], lens)
}

fn bay(places: &[(u32, f64, f64)]) -> Bay {
    Bay::taped(places, TAPE_SD_MM)
}

/// Marks as that camera sees them, each sheet askew, some moved.
fn seen(places: &[(u32, f64, f64)], moved: &[(u32, f64, f64)]) -> Vec<FoundMark> {
    bay(places)
        .marks
        .sheet
        .iter()
        .map(|sheet| {
            let moved = moved.iter().find(|m| m.0 == sheet.id);
            let offset_mm = moved.map_or([0.0, 0.0], |m| [m.1, m.2]);
            let turn_rad = 0.03 * (f64::from(sheet.id) - 3.0);
            mark(&camera(), *sheet, 160.0, offset_mm, turn_rad)
        })
        .collect()
}

#[test]
fn the_view_is_found_again_and_goes_both_ways() {
    let view = View::fit(&seen(&SIX, &[]), &bay(&SIX), SIZE_PX, None).unwrap();
    for wall_mm in [[0.0, 600.0], [-900.0, 100.0], [700.0, 1100.0]] {
        let truth = camera().project(wall_mm).unwrap();
        let back = view.to_wall(truth).unwrap();
        assert!(
            (back[0] - wall_mm[0]).hypot(back[1] - wall_mm[1]) < 0.4,
            "{wall_mm:?} came back as {back:?}"
        );
        let there = view.to_photo(wall_mm).unwrap();
        let again = view.to_wall(there).unwrap();
        assert!((again[0] - wall_mm[0]).hypot(again[1] - wall_mm[1]) < 1e-6);
    }
    assert!(view.warnings.is_empty(), "{:?}", view.warnings);
    assert!((view.eye_mm()[2] - 4500.0).abs() < 100.0, "{:?}", view.eye_mm());
}

#[test]
fn without_the_high_sheets_the_height_is_less_certain_and_says_so() {
    let four = &SIX[..4];
    let sd = |places: &[(u32, f64, f64)]| {
        let view = View::fit(&seen(places, &[]), &bay(places), SIZE_PX, None).unwrap();
        let wall_mm = [300.0, 650.0];
        let error = view.to_wall(camera().project(wall_mm).unwrap()).unwrap()[1] - wall_mm[1];
        let sd = view.height_sd(wall_mm).unwrap();
        let total = sd.photo_mm.hypot(sd.tape_mm);
        assert!(error.abs() < 2.0 * total, "error {error} with sd {total}");
        total
    };
    let (six, four) = (sd(&SIX), sd(four));
    assert!(four > 1.3 * six && four.is_finite(), "{six} and {four}");
}

#[test]
fn a_misplaced_sheet_is_named() {
    for (id, dx, dy) in [(2, 0.0, 40.0), (6, 25.0, -30.0)] {
        let view = View::fit(&seen(&SIX, &[(id, dx, dy)]), &bay(&SIX), SIZE_PX, None).unwrap();
        assert!(
            view.warnings
                .iter()
                .any(|w| matches!(w, Warning::MarkMisplaced { id: named, .. } if *named == id)),
            "{id}: {:?}",
            view.warnings
        );
        assert!(view.marks.iter().all(|m| m.id != id));
        let wall_mm = [300.0, 650.0];
        let back = view.to_wall(camera().project(wall_mm).unwrap()).unwrap();
        assert!((back[1] - wall_mm[1]).abs() < 1.0, "{back:?}");
    }
}

#[test]
fn two_misplaced_sheets_of_four_are_a_refusal() {
    let four: Vec<_> = [SIX[0], SIX[3], SIX[4], SIX[5]].to_vec();
    let refusal = View::fit(
        &seen(&four, &[(4, 0.0, 60.0), (5, 50.0, 0.0)]),
        &bay(&four),
        SIZE_PX,
        None,
    )
    .unwrap_err();
    assert_eq!(refusal.reason, Reason::MarksDisagree);
}

#[test]
fn too_few_marks_are_named() {
    let refusal = View::fit(&seen(&SIX, &[])[..2], &bay(&SIX), SIZE_PX, None).unwrap_err();
    assert_eq!(refusal.reason, Reason::MarksMissing);
    assert!(refusal.english().contains("3, 4, 5, 6"), "{}", refusal.english());
}

#[test]
fn sheets_printed_half_a_turn_round_do_no_harm() {
    let mut marks = seen(&SIX, &[]);
    for mark in marks.iter_mut().skip(2) {
        mark.corners_px.rotate_left(2);
    }
    let view = View::fit(&marks, &bay(&SIX), SIZE_PX, None).unwrap();
    assert!(
        view.rms_px < 0.1 && view.warnings.is_empty(),
        "{} {:?}",
        view.rms_px,
        view.warnings
    );
}

#[test]
fn a_mark_seen_twice_is_not_used() {
    let mut marks = seen(&SIX, &[]);
    let mut second = marks[1].clone();
    second.corners_px = second.corners_px.map(|[x, y]| [x, y + 300.0]);
    marks.push(second);
    let view = View::fit(&marks, &bay(&SIX), SIZE_PX, None).unwrap();
    assert!(view.warnings.contains(&Warning::MarkSeenTwice { id: 2 }) && view.marks.len() == 5);
}
