//! Whether vacuum moves the beam, from all photos together.
//!
//! Pairs of photos say that a beam moves; that it does not move takes the best of all of them. For each course of a grid of
//! dead bands, end stops and plays the travel at the highest vacuum is a linear estimate with its standard deviation; courses
//! count by how well they fit, so that what comes out is one distribution of the travel.

use super::super::curve::{NO_STOP_MBAR, Point, inclination_percent};
use super::super::line::Line;
use super::super::mean::Mean;
use super::super::motion::{FALSE_MOVES, Movement};
use super::super::pairs;
use crate::fit::{median, normal_between};

/// Probability that may lie beyond the least travel where a beam is said not to move: that of a 95 % interval, on one side.
const STILL: f64 = 0.025;
/// With fewer readings a course is not to be told from their errors.
const LEAST_READINGS: usize = 5;
/// Standard deviation of what a coarse wall does to readings at unlike heights, per cent (common practice, no source).
pub(in crate::adjuster) const WALL_SD_PERCENT: f64 = 0.015;
/// Length along the height over which that repeats, per cent (common practice, no source).
const WALL_LENGTH_PERCENT: f64 = 0.1;

/// Whether the readings differ; see [`Movement`].
pub(super) fn movement(points: &[Point], means: &[Mean], least_percent: f64) -> Option<Movement> {
    let tests = pairs(means.len());
    let all = (0..means.len()).flat_map(|a| (a + 1..means.len()).map(move |b| (a, b)));
    let by_pairs = Movement::of_all(all.map(|(a, b)| {
        let (percent, u95_percent) = means[b].travel_from(&means[a]);
        Movement::judge(percent, u95_percent, least_percent, tests)
    }));
    match by_pairs {
        Some(Movement::CannotTell) => by_courses(points, least_percent).or(by_pairs),
        _ => by_pairs,
    }
}

/// A travel with its standard deviation, per cent, the inclination at rest, per cent, and the squared distance of the readings
/// from them.
struct Estimate {
    percent: f64,
    sd_percent: f64,
    rest_percent: f64,
    chi_square: f64,
}

fn by_courses(points: &[Point], least_percent: f64) -> Option<Movement> {
    let turn_mbar = points.iter().map(|p| p.vacuum_mbar).fold(0.0, f64::max);
    if points.len() < LEAST_READINGS || turn_mbar <= 0.0 {
        return None;
    }
    let estimates: Vec<Estimate> = courses(turn_mbar)
        .iter()
        .filter_map(|theta| estimate(points, theta, turn_mbar))
        .collect();
    let least = estimates.iter().map(|e| e.chi_square).fold(f64::INFINITY, f64::min);
    let widened = (least / (points.len() - 2) as f64).max(1.0);
    let (mut within, mut whole) = (0.0, 0.0);
    for e in &estimates {
        let sd = e.sd_percent * widened.sqrt();
        let weight = (-0.5 * (e.chi_square - least) / widened).exp();
        whole += weight;
        within += weight * normal_between((-least_percent - e.percent) / sd, (least_percent - e.percent) / sd);
    }
    let inside = within / whole;
    Some(if inside > 1.0 - STILL {
        Movement::Still
    } else if inside < 0.1 * FALSE_MOVES {
        Movement::Moves
    } else {
        Movement::CannotTell
    })
}

/// The grid of courses up to a highest vacuum: rest at 0, a slope of 1, dead band, end stop and play, mbar.
fn courses(turn_mbar: f64) -> Vec<[f64; 5]> {
    let mut all = Vec::new();
    for dead in [0.0, 0.1, 0.2, 0.3, 0.45, 0.6] {
        for stop in [0.25, 0.4, 0.55, 0.7, 0.85, NO_STOP_MBAR / turn_mbar] {
            for gap in [0.0, 0.05, 0.1] {
                if stop > dead + 0.1 {
                    all.push([0.0, 1.0, dead * turn_mbar, stop * turn_mbar, gap * turn_mbar]);
                }
            }
        }
    }
    all
}

/// Fewer readings show no course that all but one of them follow.
const LEAST_AROUND: usize = 7;
/// A reading that is this share of the travel off a course which all others keep to within [`KEPT_SHARE`] of it stands at another
/// vacuum than was typed (common practice, no source).
const OFF_SHARE: f64 = 0.4;
/// See [`OFF_SHARE`].
const KEPT_SHARE: f64 = 0.05;

/// A course of the grid through readings.
struct Course {
    theta: [f64; 5],
    /// The highest vacuum.
    turn_mbar: f64,
    rest_percent: f64,
    /// From rest to the highest vacuum.
    change_percent: f64,
    /// Its size.
    travel_percent: f64,
    /// Of the readings from it.
    rms_percent: f64,
}

impl Course {
    fn through(points: &[Point], theta: [f64; 5], turn_mbar: f64) -> Option<Self> {
        let best = estimate(points, &theta, turn_mbar)?;
        let mut course = Self {
            theta,
            turn_mbar,
            rest_percent: best.rest_percent,
            change_percent: best.percent,
            travel_percent: best.percent.abs(),
            rms_percent: 0.0,
        };
        let squares: f64 = points.iter().map(|point| course.off(point).powi(2)).sum();
        course.rms_percent = (squares / points.len() as f64).sqrt();
        Some(course)
    }

    fn percent(&self, mbar: f64, releasing: bool) -> f64 {
        let whole = inclination_percent(&self.theta, self.turn_mbar, self.turn_mbar, false);
        let share = inclination_percent(&self.theta, self.turn_mbar, mbar, releasing) / whole;
        self.rest_percent + self.change_percent * share
    }

    fn off(&self, point: &Point) -> f64 {
        point.percent - self.percent(point.vacuum_mbar, point.releasing)
    }
}

/// The one reading that all others do without, and the vacuum at which it would lie with them, mbar.
pub(super) fn mistyped(points: &[Point]) -> Option<(usize, f64)> {
    if points.len() < LEAST_AROUND {
        return None;
    }
    let found: Vec<(usize, f64)> = (0..points.len())
        .filter_map(|odd| {
            let others: Vec<Point> = (0..points.len()).filter(|n| *n != odd).map(|n| points[n]).collect();
            let turn_mbar = others.iter().map(|p| p.vacuum_mbar).fold(0.0, f64::max);
            let fitted: Vec<Course> = (courses(turn_mbar).into_iter())
                .filter_map(|theta| Course::through(&others, theta, turn_mbar))
                .collect();
            let course = fitted.iter().min_by(|a, b| a.rms_percent.total_cmp(&b.rms_percent))?;
            let odd_one = &points[odd];
            // Where the others leave open how the beam goes between them, the one may lie on any course that they keep to.
            let keeps = |course: &&Course| course.rms_percent <= KEPT_SHARE * course.travel_percent;
            let is_off = |course: &Course| course.off(odd_one).abs() >= OFF_SHARE * course.travel_percent;
            if !keeps(&course) || !fitted.iter().filter(keeps).all(is_off) {
                return None;
            }
            const PLACES: usize = 100;
            let places = (0..=PLACES).map(|n| turn_mbar * n as f64 / PLACES as f64);
            let away = |mbar: f64| (odd_one.percent - course.percent(mbar, odd_one.releasing)).abs();
            let mbar = places.min_by(|a, b| away(*a).total_cmp(&away(*b)))?;
            (away(mbar) < OFF_SHARE * course.travel_percent).then_some((odd, mbar))
        })
        .collect();
    match found.as_slice() {
        [one] => Some(*one),
        _ => None,
    }
}

/// The travel by weighted least squares on one course.
fn estimate(points: &[Point], theta: &[f64; 5], turn_mbar: f64) -> Option<Estimate> {
    let whole = inclination_percent(theta, turn_mbar, turn_mbar, false);
    let course = |p: &Point| inclination_percent(theta, turn_mbar, p.vacuum_mbar, p.releasing) / whole;
    // What the wall does grows with how far the beam went; a beam that stands still it does not touch.
    let mut percents: Vec<f64> = points.iter().map(|p| p.percent).collect();
    let middle = median(&mut percents)?;
    let weight = |p: &Point| {
        let far = 1.0 - 1.0 / (1.0 + 0.5 * ((p.percent - middle) / WALL_LENGTH_PERCENT).powi(2));
        1.0 / (p.sd_percent.powi(2) + 2.0 * far * WALL_SD_PERCENT.powi(2))
    };
    if whole <= 0.0 {
        return None;
    }
    let line = Line::through(points.iter().map(|p| (weight(p), course(p), p.percent)))?;
    let (percent, rest) = (line.slope, line.intercept);
    let off = |p: &Point| weight(p) * (p.percent - rest - percent * course(p)).powi(2);
    Some(Estimate {
        percent,
        sd_percent: line.slope_sd,
        rest_percent: rest,
        chi_square: points.iter().map(off).sum(),
    })
}
