//! A tag as a quadrilateral.

use nalgebra::{Matrix2, Matrix3, Vector2};

/// A tag's corners, in the order of [`super::FoundMark::corners_px`].
pub(super) type Quad = [[f64; 2]; 4];

/// The mean of the corners.
pub(super) fn centre(corners: &Quad) -> [f64; 2] {
    corners.iter().fold([0.0; 2], |sum, corner| {
        [sum[0] + 0.25 * corner[0], sum[1] + 0.25 * corner[1]]
    })
}

/// Whether two quadrilaterals' centres are nearer than half of the first one's mean side.
pub(super) fn overlap(first: &Quad, second: &Quad) -> bool {
    let apart_px = Vector2::from(centre(first)) - Vector2::from(centre(second));
    apart_px.norm() < 0.5 * mean_side_px(first)
}

/// The mean length of a quadrilateral's sides, px.
pub(super) fn mean_side_px(corners: &Quad) -> f64 {
    let [a, b, c, d] = corners.map(Vector2::from);
    ((b - a).norm() + (c - b).norm() + (d - c).norm() + (a - d).norm()) / 4.0
}

/// The projective map from the unit square (corners in the same order) to four points.
///
/// P. Heckbert, "Fundamentals of texture mapping and image warping", 1989, section 2.2.3. `None` where three of the
/// points are on a line.
pub(super) fn square_to_quad(corners: &Quad) -> Option<Matrix3<f64>> {
    let [p0, p1, p2, p3] = corners.map(Vector2::from);
    let (d1, d2, sum) = (p1 - p2, p3 - p2, p0 - p1 + p2 - p3);
    let inverse = Matrix2::new(d1.x, d2.x, d1.y, d2.y).try_inverse()?;
    let far = inverse * sum;
    let (a, b) = (p1 - p0 + p1 * far.x, p3 - p0 + p3 * far.y);
    Some(Matrix3::new(a.x, b.x, p0.x, a.y, b.y, p0.y, far.x, far.y, 1.0))
}
