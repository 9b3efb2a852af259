//! The plane-to-plane map of a pinhole camera, by the normalised direct linear transform (R. Hartley and A. Zisserman,
//! *Multiple View Geometry in Computer Vision*, 2nd ed., algorithm 4.2), then least squares on the distances in the
//! picture (there, section 4.2.3).

use crate::fit::{Loss, Problem, Slopes, TO_THE_DIGIT};
use nalgebra::{DMatrix, Matrix3, Vector3};

/// A homography, scaled so that its last element is 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography(Matrix3<f64>);

impl Homography {
    /// The 3 × 3 matrix.
    #[must_use]
    pub fn matrix(&self) -> Matrix3<f64> {
        self.0
    }

    /// Maps a point; the result is not finite for a point on the horizon.
    #[must_use]
    pub fn map(&self, point: [f64; 2]) -> [f64; 2] {
        let at = self.0 * Vector3::new(point[0], point[1], 1.0);
        [at.x / at.z, at.y / at.z]
    }
}

/// The homography that takes the first point of each pair to the second with least squared distance. `None` with fewer
/// than four pairs, or when the points do not determine it.
#[must_use]
pub fn homography(pairs: &[([f64; 2], [f64; 2])]) -> Option<Homography> {
    if pairs.len() < 4 {
        return None;
    }
    let from = normalisation(pairs.iter().map(|pair| pair.0))?;
    let to = normalisation(pairs.iter().map(|pair| pair.1))?;
    let scaled: Vec<([f64; 2], [f64; 2])> = pairs
        .iter()
        .map(|(a, b)| (Homography(from).map(*a), Homography(to).map(*b)))
        .collect();
    // Nine rows at the least: a thin matrix' decomposition leaves the null vector out.
    let mut rows = DMatrix::zeros((2 * scaled.len()).max(9), 9);
    for (n, ([x, y], [u, v])) in scaled.iter().enumerate() {
        rows.row_mut(2 * n)
            .copy_from_slice(&[*x, *y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u]);
        rows.row_mut(2 * n + 1)
            .copy_from_slice(&[0.0, 0.0, 0.0, *x, *y, 1.0, -v * x, -v * y, -v]);
    }
    let svd = rows.svd(false, true);
    let v_t = svd.v_t?;
    let least = (0..9).min_by(|&a, &b| svd.singular_values[a].total_cmp(&svd.singular_values[b]))?;
    let mut next: Vec<f64> = svd.singular_values.iter().copied().collect();
    next.sort_by(f64::total_cmp);
    if next[1] < 1e-9 * next[8] {
        return None;
    }
    let linear: Vec<f64> = v_t.row(least).iter().copied().collect();
    if linear[8].abs() < 1e-12 {
        return None;
    }
    let start: Vec<f64> = linear[..8].iter().map(|h| h / linear[8]).collect();
    let residuals = |h: &[f64]| {
        let map = Homography(Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0));
        scaled
            .iter()
            .flat_map(|(a, b)| {
                let at = map.map(*a);
                [at[0] - b[0], at[1] - b[1]]
            })
            .collect::<Vec<f64>>()
    };
    let problem = Problem {
        residuals: &residuals,
        priors: 0,
        slopes: Slopes::Differences(&[1e-6; 8]),
        loss: Loss::Square,
        settled: TO_THE_DIGIT,
    };
    // With exactly four pairs the start is already exact, and a singular fit is no harm.
    let best = problem.solve(&start).map_or(start, |fit| fit.parameters);
    let h = Matrix3::new(
        best[0], best[1], best[2], best[3], best[4], best[5], best[6], best[7], 1.0,
    );
    let whole = to.try_inverse()? * h * from;
    (whole[(2, 2)].abs() > 1e-12 && whole.iter().all(|v| v.is_finite())).then(|| Homography(whole / whole[(2, 2)]))
}

/// The similarity that puts the points' centre at the origin and their mean distance at √2.
fn normalisation(points: impl Iterator<Item = [f64; 2]> + Clone) -> Option<Matrix3<f64>> {
    let count = points.clone().count() as f64;
    let centre = points
        .clone()
        .fold([0.0; 2], |sum, p| [sum[0] + p[0] / count, sum[1] + p[1] / count]);
    let distance = points.map(|p| (p[0] - centre[0]).hypot(p[1] - centre[1])).sum::<f64>() / count;
    let scale = std::f64::consts::SQRT_2 / distance;
    scale.is_finite().then(|| {
        Matrix3::new(
            scale,
            0.0,
            -scale * centre[0],
            0.0,
            scale,
            -scale * centre[1],
            0.0,
            0.0,
            1.0,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_on_one_line_give_none() {
        let pairs: Vec<_> = (0..6)
            .map(|i| ([f64::from(i), 2.0], [f64::from(i) * 3.0, 1.0]))
            .collect();
        assert_eq!(homography(&pairs), None);
        assert_eq!(homography(&pairs[..3]), None);
    }

    #[test]
    fn four_pairs_are_met_exactly() {
        let truth = Homography(Matrix3::new(1.2, 0.1, 30.0, -0.05, 0.9, 12.0, 1e-4, -2e-4, 1.0));
        let pairs: Vec<_> = [[0.0, 0.0], [800.0, 20.0], [790.0, 600.0], [10.0, 640.0]]
            .map(|p| (p, truth.map(p)))
            .to_vec();
        let found = homography(&pairs).unwrap();
        for (from, to) in pairs {
            let at = found.map(from);
            assert!((at[0] - to[0]).hypot(at[1] - to[1]) < 1e-6);
        }
    }

    /// Golden vectors from OpenCV's `findHomography` (method 0); made by `tests/golden/make_homography_golden.py`.
    #[test]
    fn agrees_with_opencv() {
        let golden: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/golden/homography.json")).unwrap();
        let cases = golden["cases"].as_array().unwrap();
        assert!(cases.len() >= 3);
        for case in cases {
            let points = |key: &str| -> Vec<[f64; 2]> { serde_json::from_value(case[key].clone()).unwrap() };
            let pairs: Vec<_> = points("from").into_iter().zip(points("to")).collect();
            let found = homography(&pairs).unwrap();
            for (probe, opencv) in points("probes").into_iter().zip(points("mapped")) {
                let ours = found.map(probe);
                assert!(
                    (ours[0] - opencv[0]).hypot(ours[1] - opencv[1]) < 1e-3,
                    "{probe:?}: {ours:?} against {opencv:?}"
                );
            }
        }
    }
}
