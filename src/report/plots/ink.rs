//! Colours that differ in lightness, too, so that they stay apart in grey print.

use plotters::style::RGBColor;

pub(super) const TEXT: RGBColor = RGBColor(29, 33, 38);
pub(super) const FAINT: RGBColor = RGBColor(90, 96, 104);
pub(super) const GRID: RGBColor = RGBColor(222, 225, 228);
pub(super) const ZONE: RGBColor = RGBColor(132, 138, 146);
pub(super) const BEFORE: RGBColor = RGBColor(176, 84, 16);
pub(super) const AFTER: RGBColor = RGBColor(11, 72, 99);
pub(super) const OTHER: RGBColor = RGBColor(110, 62, 128);
