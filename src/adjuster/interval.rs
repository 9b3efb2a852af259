//! A figure with its 95 % interval.

use serde::{Deserialize, Serialize};

/// A figure with its 95 % interval, in the unit that the key or field that holds it names. The interval need not lie evenly
/// about the figure, and where the data set no limit on a side, there is none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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

    /// Distance from the figure to an end, the upper one where `up`; `None` where that side is open.
    pub(super) fn side(&self, up: bool) -> Option<f64> {
        if up {
            self.high.map(|h| h - self.value)
        } else {
            self.low.map(|l| self.value - l)
        }
    }

    /// The interval with an independent source of `u95` more, added to both sides in quadrature.
    pub(super) fn widened(&self, u95: f64) -> Self {
        let low = self.side(false).map(|side| self.value - side.hypot(u95));
        let high = self.side(true).map(|side| self.value + side.hypot(u95));
        Self::new(self.value, low, high)
    }
}
