use super::made::{PLAIN, Scene, quad};
use super::*;
use crate::wall::quad::Quad;

/// Finds a scene's marks, which must be all that were drawn. Gives each one's number and the root mean square of its corners'
/// misses, px.
fn misses_px(scene: &Scene<'_>) -> Vec<(u32, f64)> {
    let found = find_marks(&scene.draw(), &ALL);
    assert_eq!(
        ids(&found),
        scene.marks.iter().map(|mark| mark.0).collect::<Vec<_>>(),
        "seed {}",
        scene.seed
    );
    let miss = |(mark, (id, corners_px)): (&FoundMark, &(u32, _))| (*id, rms(&misses(mark, corners_px)));
    found.iter().zip(&scene.marks).map(miss).collect()
}

/// Found minus true, x and y of each corner, px.
fn misses(found: &FoundMark, corners_px: &Quad) -> Vec<f64> {
    found
        .corners_px
        .iter()
        .flatten()
        .zip(corners_px.iter().flatten())
        .map(|(found, drawn)| found - drawn)
        .collect()
}

fn rms(values: &[f64]) -> f64 {
    (values.iter().map(|value| value * value).sum::<f64>() / values.len() as f64).sqrt()
}

fn ids(marks: &[FoundMark]) -> Vec<u32> {
    marks.iter().map(|mark| mark.id).collect()
}

const ALL: [u32; 12] = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12];

#[test]
fn bright_and_dark_marks_of_one_photo_are_found_in_place() {
    let scene = Scene {
        size_px: [760, 480],
        marks: vec![
            (1, quad([130.3, 140.8], 120.0, 3.0)),
            (2, quad([140.6, 350.2], 100.0, -4.0)),
            (5, quad([520.4, 150.7], 110.0, 2.0)),
            (6, quad([620.9, 360.1], 100.0, -2.5)),
        ],
        // White at codes around 230 on the left, 25 on the right: a hundredth of the light.
        light: &|x, _| if x < 380.0 { 0.98 } else { 0.012 },
        blur_px: 1.3,
        seed: 1,
        ..PLAIN
    };
    for (id, rms_px) in misses_px(&scene) {
        let limit_px = if id < 5 { 0.06 } else { 0.2 };
        assert!(rms_px < limit_px, "id {id}: {rms_px} px");
    }
}

#[test]
fn a_cut_off_across_the_sheet_shifts_no_corner() {
    // The light drops 25-fold, most of it within two cells, half-way down the sheet.
    for (seed, middle_px) in [(2, 190.0), (3, 215.0), (4, 240.0), (5, 265.0), (6, 290.0)] {
        let scene = Scene {
            size_px: [520, 480],
            marks: vec![(9, quad([250.2, 250.6], 130.0, -3.0))],
            light: &|x, y| 0.9 * (0.04 + 0.96 / (1.0 + ((middle_px + 0.1 * x - y) / 12.0).exp())),
            blur_px: 1.4,
            seed,
            ..PLAIN
        };
        let rms_px = misses_px(&scene)[0].1;
        assert!(rms_px < 0.15, "cut-off at {middle_px} px: {rms_px} px");
    }
}

#[test]
fn a_steady_slope_of_light_shifts_no_corner() {
    // Ten-fold over the sheet, in a direction of its own for each run.
    for (seed, turn_deg) in [(7, 0.0_f64), (8, 70.0), (9, 140.0), (10, 250.0)] {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let scene = Scene {
            size_px: [500, 480],
            marks: vec![(4, quad([250.4, 240.3], 120.0, 5.0))],
            light: &|x, y| 0.3 * (((x - 250.0) * cos + (y - 240.0) * sin) / 120.0 * 10.0_f64.ln() / 2.0).exp(),
            blur_px: 1.6,
            seed,
            ..PLAIN
        };
        let rms_px = misses_px(&scene)[0].1;
        assert!(rms_px < 0.06, "slope towards {turn_deg}°: {rms_px} px");
    }
}

#[test]
fn blur_a_third_as_wide_as_a_cell_is_measured_through() {
    let scene = Scene {
        size_px: [420, 380],
        marks: vec![(11, quad([200.7, 190.2], 112.0, 8.0))],
        light: &|_, _| 0.7,
        blur_px: 4.5,
        noise: 0.008,
        seed: 11,
        ..PLAIN
    };
    let rms_px = misses_px(&scene)[0].1;
    assert!(rms_px < 0.2, "{rms_px} px");
}

#[test]
fn clipped_white_shifts_no_corner_where_another_mark_tells_the_contrast() {
    let scene = Scene {
        size_px: [540, 300],
        marks: vec![
            (1, quad([130.3, 150.8], 110.0, 3.0)),
            (2, quad([400.6, 150.2], 110.0, -4.0)),
        ],
        light: &|x, _| if x < 260.0 { 0.9 } else { 2.5 },
        blur_px: 1.5,
        noise: 0.008,
        seed: 12,
        ..PLAIN
    };
    let rms_px = misses_px(&scene)[1].1;
    assert!(rms_px < 0.15, "{rms_px} px");
}

#[test]
fn corners_keep_their_names_however_the_photo_is_turned() {
    for turn_deg in [0.0, 90.0, 180.0, 270.0, 33.0] {
        let scene = Scene {
            size_px: [400, 380],
            marks: vec![(8, quad([200.0, 190.0], 130.0, turn_deg))],
            seed: 13,
            ..PLAIN
        };
        let rms_px = misses_px(&scene)[0].1;
        assert!(rms_px < 0.06, "turned by {turn_deg}°: {rms_px} px");
    }
}

/// The stated standard deviations must be what the corners really scatter by.
#[test]
fn standard_deviations_are_honest() {
    let mut parts = Vec::new();
    for seed in 20..32 {
        let shift = seed as f64 * 0.37;
        let scene = Scene {
            marks: vec![
                (5, quad([170.0 + shift, 150.0 - shift], 100.0, shift)),
                (6, quad([360.0 - shift, 160.0], 90.0, -shift)),
            ],
            light: &|_, _| 0.02,
            blur_px: 1.4,
            noise: 0.015,
            seed,
            ..PLAIN
        };
        let found = find_marks(&scene.draw(), &ALL);
        assert_eq!(ids(&found), [5, 6], "seed {seed}");
        for (mark, (_, corners_px)) in found.iter().zip(&scene.marks) {
            let sds = mark.corner_sd_px.iter().flat_map(|sd| [sd, sd]);
            parts.extend(misses(mark, corners_px).iter().zip(sds).map(|(miss, sd)| miss / sd));
        }
    }
    let ratio = rms(&parts);
    assert!((0.6..1.4).contains(&ratio), "scatter over stated: {ratio}");
}

/// Two sheets side by side, the second of them so far to the right.
fn two(ids: [u32; 2], second_x_px: f64) -> Scene<'static> {
    Scene {
        marks: vec![
            (ids[0], quad([130.0, 150.0], 110.0, 2.0)),
            (ids[1], quad([second_x_px, 160.0], 100.0, -2.0)),
        ],
        ..PLAIN
    }
}

#[test]
fn one_id_in_two_places_gives_two_entries() {
    assert_eq!(ids(&find_marks(&two([3, 3], 390.0).draw(), &ALL)), [3, 3]);
}

#[test]
fn ids_that_are_not_wanted_are_left_out() {
    assert_eq!(ids(&find_marks(&two([3, 4], 390.0).draw(), &[4, 300])), [4]);
}

#[test]
fn a_mark_cut_by_the_frame_is_left_out() {
    assert_eq!(ids(&find_marks(&two([3, 4], 495.0).draw(), &ALL)), [3]);
}

#[test]
fn a_wall_without_marks_has_none() {
    let scene = Scene {
        size_px: [700, 400],
        // Blotches, a sharp cut-off and noise: edges enough, but no tag.
        light: &|x, y| {
            let blotch = ((x / 17.0).sin() * (y / 13.0).cos()).signum();
            (0.6 + 0.3 * blotch) * if y > 200.0 { 1.0 } else { 0.02 }
        },
        blur_px: 1.0,
        noise: 0.02,
        seed: 17,
        ..PLAIN
    };
    assert_eq!(find_marks(&scene.draw(), &(0..587).collect::<Vec<_>>()), []);
}

#[test]
fn odd_pictures_have_no_marks_and_do_no_harm() {
    let picture = |width: usize, height: usize, value: f32, count: usize| Luminance {
        width_px: width,
        height_px: height,
        values: vec![value; count],
    };
    for image in [
        picture(0, 0, 0.0, 0),
        picture(1, 1, 0.5, 1),
        picture(0, 9, 0.5, 0),
        picture(31, 3000, 0.5, 93_000),
        picture(300, 200, 0.0, 60_000),
        picture(300, 200, 1.0, 60_000),
        picture(300, 200, f32::NAN, 60_000),
        picture(300, 200, f32::INFINITY, 60_000),
        picture(300, 200, -3.0, 60_000),
        picture(300, 200, 0.5, 59_999),
        picture(usize::MAX, 2, 0.5, 10),
    ] {
        assert_eq!(find_marks(&image, &ALL), [], "{} × {}", image.width_px, image.height_px);
    }
}

/// Against one by one, with numbers that are there twice and some that cannot be measured.
#[test]
fn side_by_side_is_as_one_by_one() {
    let scenes = [two([3, 7], 400.0), two([5, 5], 400.0), two([3, 7], 470.0)];
    for scene in scenes {
        let picture = scene.draw();
        let unclipped = vec![false; picture.values.len()];
        let pixels = Pixels::of_light(picture, unclipped).unwrap();
        let [slow, quick] = [Edges::InTurn, Edges::SideBySide].map(|edges| marks_in(&pixels, &ALL, edges));
        assert!(!slow.is_empty());
        assert_eq!(slow, quick);
    }
}
