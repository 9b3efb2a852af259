//! Straight lines through an edge's places, in angles as seen from the lamp.

use super::{READING_SCAN_DEG, median};

/// A straight line: β at angle 0, and degrees of β per degree of angle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub at_zero_deg: f64,
    pub slope: f64,
}

impl Line {
    pub fn at_deg(self, angle_deg: f64) -> f64 {
        self.at_zero_deg + self.slope * angle_deg
    }

    /// The line that most points (angle and β, degrees) share: the median of all slopes, then of all offsets; three in ten
    /// points may be wrong (P. K. Sen, *J. Am. Stat. Assoc.* 63 (1968) 1379, from memory). No number for fewer than two.
    pub fn shared_by_most(points: &[(f64, f64)]) -> Self {
        let mut slopes = Vec::new();
        for (n, a) in points.iter().enumerate() {
            slopes.extend(points[n + 1..].iter().map(|b| (b.1 - a.1) / (b.0 - a.0)));
        }
        let slope = median(&mut slopes);
        let mut offsets: Vec<f64> = points.iter().map(|p| p.1 - slope * p.0).collect();
        Self {
            at_zero_deg: median(&mut offsets),
            slope,
        }
    }

    /// The line of a slope that has a height on the reading scan.
    pub fn through(reading_deg: f64, slope: f64) -> Self {
        Self {
            at_zero_deg: reading_deg - slope * READING_SCAN_DEG,
            slope,
        }
    }

    /// The line of least squares through points (angle and β, degrees).
    pub fn of_least_squares(points: &[(f64, f64)]) -> Self {
        let n = points.len() as f64;
        let mean_x = points.iter().map(|p| p.0).sum::<f64>() / n;
        let mean_y = points.iter().map(|p| p.1).sum::<f64>() / n;
        let sxx: f64 = points.iter().map(|p| (p.0 - mean_x).powi(2)).sum();
        let sxy: f64 = points.iter().map(|p| (p.0 - mean_x) * (p.1 - mean_y)).sum();
        let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
        Self {
            at_zero_deg: mean_y - slope * mean_x,
            slope,
        }
    }
}

/// The flat part of a cut-off as it was read: β on the reading scan, and degrees of β per degree of angle.
#[derive(Debug, Clone, Copy)]
pub(super) struct FlatPart {
    pub reading_deg: f64,
    pub slope: f64,
}

impl FlatPart {
    /// β of its line so many degrees from V-V.
    pub fn at_deg(self, angle_deg: f64) -> f64 {
        self.reading_deg + self.slope * (angle_deg - READING_SCAN_DEG)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_shared_by_most_is_not_drawn_off_by_the_rest() {
        let mut points: Vec<(f64, f64)> = (0..10).map(|n| (f64::from(n), 1.0 + 0.5 * f64::from(n))).collect();
        let exact = Line::of_least_squares(&points);
        assert!((exact.at_zero_deg - 1.0).abs() < 1e-12 && (exact.slope - 0.5).abs() < 1e-12);
        points[8].1 = 40.0;
        points[9].1 = -7.0;
        let line = Line::shared_by_most(&points);
        assert!(
            (line.at_deg(4.0) - 3.0).abs() < 1e-12 && (line.slope - 0.5).abs() < 1e-12,
            "{line:?}"
        );
        let drawn = Line::of_least_squares(&points);
        assert!((drawn.at_deg(4.0) - 3.0).abs() > 0.5, "{drawn:?}");
    }
}
