//! How many places a figure of each unit can carry in an output, so that people can read it and two runs give the same
//! bytes.

/// Rounds to `decimals` places and turns −0 into 0, so that what is printed is short and the same everywhere.
pub(crate) fn round(value: f64, decimals: i32) -> f64 {
    let scale = 10f64.powi(decimals);
    // Adding zero turns −0 into 0.
    (value * scale).round() / scale + 0.0
}

/// A figure, or several of one unit.
pub(crate) trait Figure {
    /// Rounds to `decimals` places.
    fn round_to(&mut self, decimals: i32);
}

impl Figure for f64 {
    fn round_to(&mut self, decimals: i32) {
        *self = round(*self, decimals);
    }
}

impl<F: Figure> Figure for Option<F> {
    fn round_to(&mut self, decimals: i32) {
        if let Some(figure) = self {
            figure.round_to(decimals);
        }
    }
}

/// The decimal places that figures of a unit carry.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Places(i32);

impl Places {
    /// Inclinations and travels, per cent.
    pub(crate) const PERCENT: Self = Self(4);
    /// Per cent per 100 mbar.
    pub(crate) const PERCENT_PER_100_MBAR: Self = Self(5);
    /// Per cent times mbar.
    pub(crate) const PERCENT_MBAR: Self = Self(2);
    /// Millibar.
    pub(crate) const MBAR: Self = Self(1);
    /// Millibar per minute.
    pub(crate) const MBAR_PER_MIN: Self = Self(2);
    /// Millimetres on the wall.
    pub(crate) const MM: Self = Self(2);
    /// Metres of reach.
    pub(crate) const M: Self = Self(2);
    /// Seconds.
    pub(crate) const S: Self = Self(1);
    /// Chi-square, and factors.
    pub(crate) const RATIO: Self = Self(3);
    /// Probabilities.
    pub(crate) const PROBABILITY: Self = Self(4);
    /// Figures of several units in one list.
    pub(crate) const MIXED: Self = Self(4);
    /// Standard deviations.
    pub(crate) const SDS: Self = Self(2);

    /// Rounds each of the figures.
    pub(crate) fn round<const N: usize>(self, figures: [&mut dyn Figure; N]) {
        for figure in figures {
            figure.round_to(self.0);
        }
    }
}
