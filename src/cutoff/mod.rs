//! The edge of the light: where it is, how sharp, how level, and whether it can be read at all.

use crate::record::Pattern;

/// The elbow between the flat part of a cut-off and its other side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elbow {
    /// Where the elbow lies, mm on the wall (bay's frame).
    pub x_mm: f64,
    /// Angle of the edge beyond the elbow against the flat part, degrees; 0 for a step.
    pub kick_deg: f64,
}

/// The cut-off's height on one vertical scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanPoint {
    /// Angle of the scan from the lamp's V-V, degrees, positive towards the flat side.
    pub angle_deg: f64,
    /// Place of the scan on the wall, mm.
    pub x_mm: f64,
    /// Height of the inflection, mm.
    pub y_mm: f64,
    /// Whether the scan was used in the reading; one that a mark or a pipe spoils is not.
    pub used: bool,
}

/// A cut-off as read from one photo, in the bay's wall frame.
#[derive(Debug, Clone, PartialEq)]
pub struct CutOff {
    /// Place of the reading scan on the wall, 2.5° from V-V on the flat side, mm.
    pub x_mm: f64,
    /// Height of the inflection of log10 E on that scan, mm.
    pub y_mm: f64,
    /// One standard deviation of that height from texture, noise and the scans' scatter, mm.
    pub scatter_sd_mm: f64,
    /// One standard deviation of that height from what shape the edge is taken to have, mm.
    pub shape_sd_mm: f64,
    /// Shape beside the flat part.
    pub pattern: Pattern,
    /// Sharpness G: max over β of log10 E(β) − log10 E(β + 0.1°) on the reading scan (UN R112).
    pub sharpness_g: f64,
    /// Largest departure of the inflections at 1.5° and 3.5° from that at 2.5°, degrees (UN R112 linearity).
    pub linearity_deg: f64,
    /// Angle of the flat part against the wall's horizontal, degrees, positive when the right end is higher.
    pub tilt_deg: f64,
    /// The elbow; `None` for a flat pattern.
    pub elbow: Option<Elbow>,
    /// Height where the light crosses half of the bright level on the reading scan, mm; for comparison only.
    pub threshold_y_mm: Option<f64>,
    /// Height of the plain inflection (no edge model) on the reading scan, mm; for comparison only.
    pub plain_y_mm: Option<f64>,
    /// The single scans that the flat line was fitted to.
    pub scans: Vec<ScanPoint>,
}
