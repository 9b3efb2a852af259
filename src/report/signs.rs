//! Signs that stand before a verdict's word. Each has its own outline, so that they differ in grey and for every eye.

use super::document::Sign;

/// Breadth and height of a sign, in the units of its outlines.
pub(super) const SIDE: f32 = 16.0;

/// How a part of a sign is inked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Manner {
    Filled,
    /// A line in the paper's colour, over what is filled.
    Cut,
    Line,
}

/// A part of a sign.
#[derive(Debug, Clone, Copy)]
pub(super) enum Part {
    /// In the middle, with this radius.
    Disc(f32, Manner),
    /// A path, as SVG writes it.
    Way(&'static str, Manner),
}

/// What a sign is drawn of.
pub(super) fn parts(sign: Sign) -> &'static [Part] {
    use Manner::{Cut, Filled, Line};
    use Part::{Disc, Way};
    match sign {
        Sign::Good => &[Disc(8.0, Filled), Way("M4 8.5l3 3 5-6.5", Cut)],
        Sign::Bad => &[Way("M0 0h16v16H0z", Filled), Way("M4 4l8 8M12 4l-8 8", Cut)],
        Sign::Open => &[Way("M8 1.5l7 13H1z", Line), Way("M8 6v4M8 11.6v1.4", Line)],
        Sign::Refused => &[Disc(6.7, Line), Way("M3.3 12.7l9.4-9.4", Line)],
        Sign::Moves => &[Way("M8 1v14M4 5l4-4 4 4M4 11l4 4 4-4", Line)],
        Sign::Still => &[Way("M1.5 5.5h13M1.5 10.5h13", Line)],
        Sign::Faint => &[Disc(2.0, Filled)],
        Sign::Beware => &[Way("M8 1v9M8 12.5v2.5", Line)],
    }
}
