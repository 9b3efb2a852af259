//! Whether the photo with the lamp off is one: how much of its light follows the lamp's.

use super::scan::{Column, LampPlace, STEP_DEG, Scans, steps};
use super::{FLAT_FROM_DEG, FLAT_TO_DEG};
use crate::photo::Photo;
use crate::record::{Lamp, Traffic};
use crate::wall::View;
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

/// Light of a lamp-off photo beside that of the lit one, over the scans that the cut-off is read from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct OffLight {
    /// The part of the lit photo's pattern of light that is in it too: 0 for light that is the same everywhere, 1 where
    /// the lamp shines as in the lit photo, wherever its cut-off then lies.
    pub of_pattern: f64,
    /// As that, but beside light that changes evenly over the wall, as a room's does, and wherever up or down the lamp's
    /// cut-off lies in it: so much of the lamp's light may be in it.
    pub of_lamp: f64,
    /// Whether most of what is uneven in it is of the lamp's pattern, so that it is surely the lamp's.
    pub surely_lamp: bool,
    /// The lit photo's mean light over its own.
    pub lit_over_off: f64,
    /// Its light over the lit photo's where that one is bright.
    pub of_bright: f64,
    /// Share of the places where it is clipped, so that its light is more than it says.
    pub clipped: f64,
}

/// Places where the lit photo has this share of its brightest light or more are bright (our choice, no source).
const BRIGHT_SHARE: f64 = 0.5;
/// Fewer places that both photos show tell nothing.
const LEAST_PLACES: usize = 200;
/// The lamp's pattern is looked for as far as this above and below where the lit photo has it, degrees, in such steps: a range
/// control's travel (our choice, no source).
const MOST_SHIFT_DEG: f64 = 1.5;
const SHIFT_DEG: f64 = 0.1;
/// With this share of what is uneven in it the pattern is surely there (our choice, no source).
const SURE_SHARE: f64 = 0.5;
/// What a room's light is made of: even, leaning and bent, up and aside.
const ROOM_TERMS: usize = 6;
/// The room's terms, the lamp's pattern, and the light that they make up.
const COLUMNS: usize = ROOM_TERMS + 2;

/// The light of both photos along one vertical line: lit, and off at the lit one's exposure.
struct Pair {
    /// Where the line is, from −1 to 1 over the scans.
    aside: f64,
    lit: Vec<f64>,
    off: Vec<f64>,
}

/// Holds the photo with the lamp off against the lit one, seen in the same `view`; `factor` brings its light to the lit
/// photo's exposure. `None` where too little is seen of both.
#[must_use]
pub(crate) fn off_light(
    photo: &Photo,
    (off, factor): (&Photo, f64),
    view: &View,
    lamp: &Lamp,
    traffic: Traffic,
) -> Option<OffLight> {
    let place = LampPlace::new(lamp, traffic.flat_side_sign());
    let scans = Scans::new(photo, view, place, None, &[]);
    let angles_deg = steps(FLAT_FROM_DEG, FLAT_TO_DEG, 0.1);
    let dark = Scans { photo: off, ..scans }.columns(&angles_deg);
    let clipped = super::quality::clipped_share(&dark);
    let pair = |(lit, dark): (Column, Column)| Pair {
        aside: 2.0 * (lit.angle_deg - FLAT_FROM_DEG) / (FLAT_TO_DEG - FLAT_FROM_DEG) - 1.0,
        lit: lit.light,
        off: dark.light.iter().map(|light| factor * light).collect(),
    };
    let pairs: Vec<Pair> = scans.columns(&angles_deg).into_iter().zip(dark).map(pair).collect();
    OffLight::of(&pairs, clipped)
}

impl OffLight {
    /// From the light of both photos at the same places.
    fn of(pairs: &[Pair], clipped: f64) -> Option<Self> {
        let places: Vec<(f64, f64)> = pairs
            .iter()
            .flat_map(|pair| pair.lit.iter().zip(&pair.off))
            .filter(|(lit, off)| lit.is_finite() && off.is_finite())
            .map(|(lit, off)| (*lit, *off))
            .collect();
        if places.len() < LEAST_PLACES {
            return None;
        }
        let count = places.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| places.iter().map(of).sum::<f64>() / count;
        let (lit_mean, off_mean) = (mean(|p| p.0), mean(|p| p.1));
        let (mut squares, mut products, mut most) = (0.0, 0.0, 0.0_f64);
        for (lit, off) in &places {
            squares += (lit - lit_mean).powi(2);
            products += (lit - lit_mean) * (off - off_mean);
            most = most.max(*lit);
        }
        let bright = places.iter().filter(|place| place.0 >= BRIGHT_SHARE * most);
        let (lit, off) = bright.fold((0.0, 0.0), |sums, place| (sums.0 + place.0, sums.1 + place.1));
        let found = found_pattern(pairs).unwrap_or_default();
        (squares > 0.0 && lit > 0.0).then(|| Self {
            of_pattern: products / squares,
            of_lamp: found.of_lamp,
            surely_lamp: found.explained > SURE_SHARE,
            lit_over_off: if off_mean > 0.0 { lit_mean / off_mean } else { 0.0 },
            of_bright: off / lit,
            clipped,
        })
    }
}

/// The lamp's pattern in the photo with the lamp off.
#[derive(Debug, Clone, Copy, Default)]
struct FoundPattern {
    /// How much of the lit photo's, 0 or more.
    of_lamp: f64,
    /// Its share of the squares that the room's terms leave, 0 to 1.
    explained: f64,
}

/// The pattern where it explains most of the light, over the shifts up and down.
fn found_pattern(pairs: &[Pair]) -> Option<FoundPattern> {
    let most = (MOST_SHIFT_DEG / STEP_DEG).round() as isize;
    let step = (SHIFT_DEG / STEP_DEG).round() as usize;
    let shifts: Vec<isize> = (-most..=most).step_by(step).collect();
    let room = RoomSums::of(pairs);
    let found = shifts
        .into_par_iter()
        .filter_map(|shift| pattern_at(pairs, &room, shift))
        .collect::<Vec<_>>();
    found.into_iter().max_by(|a, b| a.explained.total_cmp(&b.explained))
}

/// A row of the least squares without the pattern: the room's terms, and the light with the lamp off.
type RoomRow = SVector<f64, { ROOM_TERMS + 1 }>;

/// The room's terms at a step of a line, and the light with the lamp off there.
fn room_row(pair: &Pair, n: usize, off: f64) -> RoomRow {
    let half = 0.5 * pair.off.len() as f64;
    let (up, aside) = (n as f64 / half - 1.0, pair.aside);
    SVector::from([1.0, up, aside, up * up, up * aside, aside * aside, off])
}

/// Sums over all places where there is light with the lamp off: what no shift of the pattern changes.
struct RoomSums {
    normal: SMatrix<f64, { ROOM_TERMS + 1 }, { ROOM_TERMS + 1 }>,
    places: usize,
}

impl RoomSums {
    fn of(pairs: &[Pair]) -> Self {
        let mut sums = Self {
            normal: SMatrix::zeros(),
            places: 0,
        };
        for pair in pairs {
            for (n, &off) in pair.off.iter().enumerate().filter(|(_, off)| off.is_finite()) {
                let row = room_row(pair, n, off);
                sums.normal += row * row.transpose();
                sums.places += 1;
            }
        }
        sums
    }
}

/// Least squares of the light with the lamp off by the room's terms and the lit photo's light `shift` steps further down. Places where
/// that lies outside, which are few, are taken from the sums over all.
fn pattern_at(pairs: &[Pair], room: &RoomSums, shift: isize) -> Option<FoundPattern> {
    let (mut of_room, mut places) = (room.normal, room.places);
    let (mut crossed, mut squares) = (RoomRow::zeros(), 0.0);
    for pair in pairs {
        for (n, &off) in pair.off.iter().enumerate().filter(|(_, off)| off.is_finite()) {
            let row = room_row(pair, n, off);
            let lit = n.checked_add_signed(shift).and_then(|at| pair.lit.get(at));
            match lit.filter(|lit| lit.is_finite()) {
                Some(&lit) => {
                    crossed += lit * row;
                    squares += lit * lit;
                }
                None => {
                    of_room -= row * row.transpose();
                    places -= 1;
                }
            }
        }
    }
    let mut normal = SMatrix::<f64, COLUMNS, COLUMNS>::zeros();
    // The pattern stands between the room's terms and the light.
    let at = |n: usize| if n < ROOM_TERMS { n } else { n + 1 };
    for n in 0..=ROOM_TERMS {
        for m in 0..=ROOM_TERMS {
            normal[(at(n), at(m))] = of_room[(n, m)];
        }
        normal[(at(n), ROOM_TERMS)] = crossed[n];
        normal[(ROOM_TERMS, at(n))] = crossed[n];
    }
    normal[(ROOM_TERMS, ROOM_TERMS)] = squares;
    explained_by(&normal, places)
}

/// What the pattern explains, by the normal equations of room, pattern and light over so many places.
fn explained_by(normal: &SMatrix<f64, COLUMNS, COLUMNS>, places: usize) -> Option<FoundPattern> {
    if places < LEAST_PLACES {
        return None;
    }
    // What the room's terms leave of pattern and light: the Schur complement.
    let room = normal.fixed_view::<ROOM_TERMS, ROOM_TERMS>(0, 0).into_owned();
    let by_room = normal.fixed_view::<ROOM_TERMS, 2>(0, ROOM_TERMS).into_owned();
    let left =
        normal.fixed_view::<2, 2>(ROOM_TERMS, ROOM_TERMS) - by_room.transpose() * room.cholesky()?.solve(&by_room);
    let (pattern, both, light) = (left[(0, 0)], left[(0, 1)], left[(1, 1)]);
    (pattern > 0.0 && light > 0.0 && both > 0.0).then(|| FoundPattern {
        of_lamp: both / pattern,
        explained: both * both / (pattern * light),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Light of a cut-off on 400 places, with what the room adds.
    fn lit(lamp: f64, edge: usize, room: f64) -> Vec<f64> {
        let at = |n: usize| room + lamp * if n < edge { 1.0 } else { 0.02 };
        (0..400).map(at).collect()
    }

    /// Both photos on five lines, the lit one's edge in the middle; `off` has the line's place and the light.
    fn beside(off: impl Fn(f64) -> Vec<f64>) -> OffLight {
        let pair = |aside: f64| Pair {
            aside,
            lit: lit(1.0, 200, 0.05),
            off: off(aside),
        };
        OffLight::of(&[-1.0, -0.5, 0.0, 0.5, 1.0].map(pair), 0.0).unwrap()
    }

    fn off_light(off: &[f64]) -> OffLight {
        beside(|_| off.to_vec())
    }

    /// Reference implementation: all places summed for each shift.
    fn pattern_place_by_place(pairs: &[Pair], shift: isize) -> Option<FoundPattern> {
        let mut normal = SMatrix::<f64, COLUMNS, COLUMNS>::zeros();
        let mut places = 0;
        for pair in pairs {
            let half = 0.5 * pair.off.len() as f64;
            for (n, off) in pair.off.iter().enumerate() {
                let lit = n.checked_add_signed(shift).and_then(|at| pair.lit.get(at));
                let Some(lit) = lit.filter(|lit| lit.is_finite() && off.is_finite()) else {
                    continue;
                };
                let (up, aside) = (n as f64 / half - 1.0, pair.aside);
                let row = SVector::from([1.0, up, aside, up * up, up * aside, aside * aside, *lit, *off]);
                normal += row * row.transpose();
                places += 1;
            }
        }
        explained_by(&normal, places)
    }

    #[test]
    fn sums_that_no_shift_changes_give_what_place_by_place_gives() {
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(12);
        let mut told = 0;
        for holes in [0.0, 0.05, 0.6, 0.99] {
            let mut light = |of: Vec<f64>| -> Vec<f64> {
                let each = of.into_iter().map(|light| {
                    if rng.random_bool(holes) {
                        f64::NAN
                    } else {
                        light * rng.random_range(0.98..1.02)
                    }
                });
                each.collect()
            };
            let pairs = [-1.0, -0.5, 0.0, 0.5, 1.0].map(|aside| Pair {
                aside,
                lit: light(lit(1.0, 200, 0.05)),
                off: light(lit(0.03, 180, 0.02)),
            });
            let room = RoomSums::of(&pairs);
            for shift in [-450, -75, -20, 0, 20, 75, 450] {
                let (quick, slow) = (pattern_at(&pairs, &room, shift), pattern_place_by_place(&pairs, shift));
                assert_eq!(quick.is_some(), slow.is_some(), "{holes} {shift}");
                if let (Some(quick), Some(slow)) = (quick, slow) {
                    told += 1;
                    assert!((quick.of_lamp - slow.of_lamp).abs() < 1e-9, "{holes} {shift}");
                    assert!((quick.explained - slow.explained).abs() < 1e-9, "{holes} {shift}");
                }
            }
        }
        assert!(told > 8, "{told}");
    }

    #[test]
    fn a_hundredth_of_the_lamp_is_told_from_a_room_s_uneven_light_wherever_its_cut_off_lies() {
        for share in [0.01, 0.02, 0.04] {
            for edge in [170, 200, 230] {
                let dimmed = off_light(&lit(share, edge, 0.02));
                assert!(
                    (dimmed.of_lamp - share).abs() < 0.1 * share && dimmed.surely_lamp,
                    "{share} {edge}: {dimmed:?}"
                );
            }
        }
        // A room as bright as what is above the edge and more, falling steeply and bent.
        let room = beside(|aside| {
            let at = |n: usize| {
                let up = n as f64 / 200.0 - 1.0;
                0.05 * (1.0 - 0.8 * up + 0.1 * aside) / (1.0 + 0.2 * up * up)
            };
            (0..400).map(at).collect()
        });
        assert!(
            room.of_pattern > 0.02,
            "all by itself it would look like the lamp: {room:?}"
        );
        assert!(room.of_lamp < 0.005, "{room:?}");
    }

    #[test]
    fn a_room_s_even_light_follows_no_lamp_and_a_lit_lamp_does() {
        let dark = off_light(&lit(0.0, 200, 0.05));
        assert!(dark.of_pattern.abs() < 1e-12, "{dark:?}");
        // By hand: 0.05 over 1.05.
        assert!((dark.of_bright - 0.05 / 1.05).abs() < 1e-12, "{dark:?}");
        let same = off_light(&lit(1.0, 200, 0.05));
        assert!((same.of_pattern - 1.0).abs() < 1e-12 && (same.of_bright - 1.0).abs() < 1e-12);
        let dimmed = off_light(&lit(0.1, 200, 0.05));
        assert!((dimmed.of_pattern - 0.1).abs() < 1e-12, "{dimmed:?}");
        // Its cut-off elsewhere, as in a photo of another position: half of the lit places are the same.
        let lower = off_light(&lit(1.0, 150, 0.05));
        assert!((0.7..1.0).contains(&lower.of_pattern), "{lower:?}");
        let few = Pair {
            aside: 0.0,
            lit: vec![1.0; 10],
            off: vec![0.5; 10],
        };
        assert_eq!(OffLight::of(&[few], 0.0), None);
    }
}
