//! Dark four-sided outlines on a light ground.

use super::darkness::Darkness;
use crate::wall::quad::Quad;
use imageproc::contours::{BorderType, find_contours};
use imageproc::point::Point;
use nalgebra::{Matrix2, Vector2};

/// Ink is darker than the mean of the square of this radius, px. It holds both sides of a border's edge, blurred as it is
/// on a reduced photo, and little of the slope of the light beyond (tried on made photos, no source).
const AROUND_RADIUS_PX: usize = 12;
/// Least length of an outline's side, px: a tag of eight cells, just over a pixel each.
const LEAST_SIDE_PX: f64 = 9.0;
/// An outline fills its four-sided hull by this share at the least; the print of a tag does wholly, but for noise.
const LEAST_FILL: f64 = 0.8;
/// Share of a side left out at either end, where blur rounds the corner.
const END: f64 = 0.12;
/// Points of an outline further than this off their side, px, are no part of it.
const OFF_SIDE_PX: f64 = 1.5;

/// The four-sided dark outlines in a picture of darkness: their outer corners, px, clockwise as seen.
pub(super) fn quads(darkness: &Darkness, darker_by: f64) -> Vec<Quad> {
    let ink = darkness.ink(AROUND_RADIUS_PX, darker_by);
    find_contours::<i32>(&ink)
        .iter()
        .filter(|contour| contour.border_type == BorderType::Outer)
        .filter(|contour| contour.points.len() as f64 > 4.0 * LEAST_SIDE_PX / 2f64.sqrt())
        .filter_map(|contour| quad_of(&contour.points))
        .collect()
}

fn vector(point: &Point<i32>) -> Vector2<f64> {
    Vector2::new(f64::from(point.x), f64::from(point.y))
}

fn cross(a: Vector2<f64>, b: Vector2<f64>) -> f64 {
    a.x * b.y - a.y * b.x
}

/// Twice the signed area of a closed line of points.
fn doubled_area(points: impl Iterator<Item = Vector2<f64>> + Clone) -> f64 {
    let next = points.clone().cycle().skip(1);
    points.zip(next).map(|(a, b)| cross(a, b)).sum()
}

/// The quadrilateral that an outline's pixels are the rim of.
fn quad_of(outline: &[Point<i32>]) -> Option<Quad> {
    let points: Vec<Vector2<f64>> = outline.iter().map(vector).collect();
    let corners = corners_among(&points)?;
    let sides: Vec<f64> = (0..4).map(|n| (corners[(n + 1) % 4] - corners[n]).norm()).collect();
    if sides.iter().any(|&side_px| side_px < LEAST_SIDE_PX) {
        return None;
    }
    let (within, hull) = (
        doubled_area(points.iter().copied()).abs(),
        doubled_area(corners.into_iter()),
    );
    if hull <= 0.0 || within < LEAST_FILL * hull || within * LEAST_FILL > hull {
        return None;
    }
    let lines = [0, 1, 2, 3].map(|n| side_line(&points, corners[n], corners[(n + 1) % 4]));
    let mut quad = [[0.0; 2]; 4];
    for (n, corner) in quad.iter_mut().enumerate() {
        let met = meet(lines[(n + 3) % 4]?, lines[n]?)?;
        // A corner that its sides have elsewhere is none.
        if (met - corners[n]).norm() > 0.25 * sides[n].min(sides[(n + 3) % 4]) {
            return None;
        }
        *corner = [met.x, met.y];
    }
    Some(quad)
}

/// The outline's own corners, clockwise as seen (y down): the ends of its longest chord, and what lies furthest off that on either
/// side.
fn corners_among(points: &[Vector2<f64>]) -> Option<[Vector2<f64>; 4]> {
    let middle = points.iter().sum::<Vector2<f64>>() / points.len() as f64;
    let furthest = |of: &dyn Fn(&Vector2<f64>) -> f64| points.iter().copied().max_by(|a, b| of(a).total_cmp(&of(b)));
    let first = furthest(&|point| (point - middle).norm_squared())?;
    let third = furthest(&|point| (point - first).norm_squared())?;
    let second = furthest(&|point| -cross(third - first, point - first))?;
    let fourth = furthest(&|point| cross(third - first, point - first))?;
    Some([first, second, third, fourth])
}

/// A line as a point and a unit vector along it.
type Line = (Vector2<f64>, Vector2<f64>);

/// The line along the outer rim of the outline's pixels between two of its corners.
fn side_line(points: &[Vector2<f64>], from: Vector2<f64>, to: Vector2<f64>) -> Option<Line> {
    let mut line = (0.5 * (from + to), (to - from).try_normalize(1.0)?);
    let half_px = (0.5 - END) * (to - from).norm();
    let mut off_px = (0.1 * (to - from).norm()).max(OFF_SIDE_PX);
    for _ in 0..2 {
        let (middle, along) = line;
        let near = points.iter().filter(|&point| {
            let apart = point - middle;
            apart.dot(&along).abs() < half_px && cross(along, apart).abs() < off_px
        });
        let (count, sum) = near.clone().fold((0.0, Vector2::zeros()), |(count, sum), point| {
            (count + 1.0, sum + point)
        });
        if count < 3.0 {
            return None;
        }
        let mean: Vector2<f64> = sum / count;
        let scatter: Matrix2<f64> = near.map(|point| (point - mean) * (point - mean).transpose()).sum();
        let turn = 0.5 * (2.0 * scatter.m12).atan2(scatter.m11 - scatter.m22);
        let fitted = Vector2::new(turn.cos(), turn.sin());
        line = (mean, fitted * fitted.dot(&along).signum());
        off_px = OFF_SIDE_PX;
    }
    // Points are the middles of the outermost dark pixels. Clockwise, outside is on the left.
    let (middle, along) = line;
    Some((middle + 0.5 * Vector2::new(along.y, -along.x), along))
}

fn meet(a: Line, b: Line) -> Option<Vector2<f64>> {
    let across = cross(a.1, b.1);
    (across.abs() > 0.2).then(|| a.0 + a.1 * (cross(b.0 - a.0, b.1) / across))
}
