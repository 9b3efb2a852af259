//! A figure with its 95 % interval.

use crate::language::{Language, said};
use serde::Serialize;

/// A figure with its 95 % interval, in the unit that the key or field that holds it names. The interval need not lie evenly
/// about the figure, and where the data set no limit on a side, there is none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Interval {
    /// The figure.
    pub value: f64,
    /// Half-width of the interval; `None` where a side is open.
    pub u95: Option<f64>,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

impl Interval {
    /// A figure with the two ends of its interval.
    #[must_use]
    pub fn new(value: f64, low: Option<f64>, high: Option<f64>) -> Self {
        let (low, high) = (low.filter(|v| v.is_finite()), high.filter(|v| v.is_finite()));
        let u95 = low.zip(high).map(|(low, high)| 0.5 * (high - low));
        Self { value, u95, low, high }
    }

    /// A figure whose interval lies evenly about it.
    #[must_use]
    pub fn even(value: f64, u95: f64) -> Self {
        Self::new(value, Some(value - u95), Some(value + u95))
    }

    /// Whether the interval holds `truth`; an open side holds everything.
    #[must_use]
    pub fn holds(&self, truth: f64) -> bool {
        self.low.is_none_or(|low| low <= truth) && self.high.is_none_or(|high| truth <= high)
    }

    /// "12.3 ± 0.4", with `places`, as `language` writes it; where a side is open, "12.3 (at least 11.9)", "12.3 (at most 12.7)" or "12.3 (no limits)".
    #[must_use]
    pub fn text(&self, language: Language, places: usize) -> String {
        let shown = |value: f64| {
            let scale = 10f64.powi(i32::try_from(places).unwrap_or(0));
            // Adding zero turns −0 into 0.
            language.shown(&format!("{:.places$}", (value * scale).round() / scale + 0.0))
        };
        // "± 0.0" would claim that there is none.
        let least = 10f64.powi(-i32::try_from(places).unwrap_or(0));
        let value = shown(self.value);
        match (self.u95, self.low, self.high) {
            (Some(u95), ..) => format!("{value} ± {}", shown(u95.max(least))),
            (None, Some(low), _) => said!(language; "{value} (at least {})", "{value} (mindestens {})"; shown(low)),
            (None, None, Some(high)) => said!(language; "{value} (at most {})", "{value} (höchstens {})"; shown(high)),
            (None, None, None) => said!(language; "{value} (no limits)", "{value} (ohne Grenzen)"),
        }
    }

    /// Distance from the figure to an end, the upper one where `up`; `None` where that side is open.
    pub(super) fn side(&self, up: bool) -> Option<f64> {
        if up {
            self.high.map(|h| h - self.value)
        } else {
            self.low.map(|l| self.value - l)
        }
    }

    /// The same in a unit of which one is `scale` (above 0) of the other.
    pub(super) fn scaled(&self, scale: f64) -> Self {
        Self::new(
            self.value * scale,
            self.low.map(|low| low * scale),
            self.high.map(|high| high * scale),
        )
    }

    /// The same of its size: with the sign that the figure has taken off.
    pub(super) fn size(&self) -> Self {
        if self.value < 0.0 {
            Self::new(-self.value, self.high.map(|high| -high), self.low.map(|low| -low))
        } else {
            *self
        }
    }

    /// The interval with an independent source of `u95` more, added to both sides in quadrature.
    pub(super) fn widened(&self, u95: f64) -> Self {
        let low = self.side(false).map(|side| self.value - side.hypot(u95));
        let high = self.side(true).map(|side| self.value + side.hypot(u95));
        Self::new(self.value, low, high)
    }
}

/// Variance of what `of` makes of parameters with this covariance, by central differences (JCGM 100:2008, 5.1.2). `steps`:
/// those of the free parameters, which come first.
pub(super) fn propagated<const N: usize>(
    of: &dyn Fn(&[f64; N]) -> f64,
    at: &[f64; N],
    steps: &[f64],
    covariance: &dyn Fn(usize, usize) -> f64,
) -> f64 {
    let slope = |(k, step): (usize, &f64)| {
        let (mut up, mut down) = (*at, *at);
        up[k] += step;
        down[k] -= step;
        (of(&up) - of(&down)) / (2.0 * step)
    };
    let slopes: Vec<f64> = steps.iter().enumerate().map(slope).collect();
    let mut variance = 0.0;
    for (k, slope_k) in slopes.iter().enumerate() {
        for (l, slope_l) in slopes.iter().enumerate() {
            variance += slope_k * covariance(k, l) * slope_l;
        }
    }
    variance
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_reads_with_what_is_known_of_it() {
        assert_eq!(Interval::even(-0.001, 0.0004).text(Language::English, 2), "0.00 ± 0.01");
        assert_eq!(
            Interval::new(12.34, Some(11.9), None).text(Language::English, 1),
            "12.3 (at least 11.9)"
        );
        assert_eq!(
            Interval::new(12.34, None, Some(12.7)).text(Language::English, 1),
            "12.3 (at most 12.7)"
        );
        let german = Interval::new(12.34, Some(11.9), None).text(Language::German, 1);
        assert_eq!(german, "12,3 (mindestens 11,9)");
        assert_eq!(
            Interval::new(12.34, None, Some(f64::INFINITY)).text(Language::English, 0),
            "12 (no limits)"
        );
        let uneven = Interval::new(2.0, Some(1.0), Some(4.0));
        assert_eq!(
            (uneven.u95, uneven.holds(1.0), uneven.holds(4.1)),
            (Some(1.5), true, false)
        );
        // By hand: √(1² + 0.75²) = 1.25 below, √(2² + 1.5²) = 2.5 above, each with its own share of a source.
        assert!((uneven.widened(0.75).low.unwrap() - 0.75).abs() < 1e-12);
        assert!((uneven.widened(1.5).high.unwrap() - 4.5).abs() < 1e-12);
    }

    #[test]
    fn a_variance_is_propagated_with_its_covariances() {
        // By hand: of 2a − 3b with var(a) = 4, var(b) = 9, cov = 1 it is 4·4 + 9·9 − 2·2·3·1 = 85; with b held it is 16.
        let of = |p: &[f64; 2]| 2.0 * p[0] - 3.0 * p[1];
        let covariance = |k: usize, l: usize| [[4.0, 1.0], [1.0, 9.0]][k][l];
        for (steps, variance) in [(&[1e-3, 1e-3][..], 85.0), (&[1e-3], 16.0)] {
            assert!((propagated(&of, &[1.0, 2.0], steps, &covariance) - variance).abs() < 1e-6);
        }
    }
}
