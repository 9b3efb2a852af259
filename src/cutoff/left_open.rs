//! What a reading leaves open where it is not plain what to read: which V-V is meant when the pattern lies aside, and how much of
//! the light is the wall's paint.

use super::kink::Kink;
use super::line::{FlatPart, Line};
use super::paint::Paint;
use super::pooled::Pooled;
use super::scan::{LampPlace, Scans, steps};
use super::{COLUMN_DEG, FLAT_FROM_DEG, FLAT_TO_DEG, READING_SCAN_DEG};
use crate::record::Side;
use crate::warning::Warning;

/// What is seen of where the pattern lies.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub flat: FlatPart,
    /// The kink of the edge, from the job's V-V, where it is plain.
    pub kink: Option<Kink>,
    /// How far towards the flat side of the job's V-V the scans were laid, degrees.
    pub aside_deg: f64,
}

/// What one standard deviation of which V-V is meant does to the cut-off's height, mm, signed. `by_job` are the scans from the job's V-V,
/// `scans` those that were read; `light`: what the light across the wall told.
pub(super) fn aside_sd_mm(by_job: &Scans<'_>, scans: &Scans<'_>, seen: Seen, light: Option<&Warning>) -> f64 {
    let Seen { flat, kink, aside_deg } = seen;
    let left_open_deg = match light {
        _ if aside_deg != 0.0 => by_job_above_deg(by_job, aside_deg, flat),
        // Without an elbow, light that is brightest aside is all that there is to go by.
        Some(&Warning::BrightestAside { off_deg, side }) if kink.is_none() => {
            let right = if side == Side::Right { 1.0 } else { -1.0 };
            let read_deg = read_at_deg(scans, off_deg * right * scans.lamp.flat_sign, flat);
            read_deg.map_or(0.0, |deg| deg - flat.reading_deg)
        }
        // Nothing tells where a pattern without an elbow lies.
        _ if kink.is_none() => return flat.slope * SQUARE_SD_DEG * scans.lamp.mm_per_deg_at(flat.reading_deg),
        _ => 0.0,
    };
    LEFT_OPEN * scans.lamp.mm_per_deg_at(flat.reading_deg) * left_open_deg
}

/// How square to a wall cars are set by eye, one standard deviation, degrees (common practice, no source).
const SQUARE_SD_DEG: f64 = 1.5;

/// Of what lies between the readings by two definitions of V-V, one standard deviation: both are within a 95 % interval about
/// either (our choice, no source).
const LEFT_OPEN: f64 = 0.5;

/// How far the edge as read 2.5° from the job's V-V lies above that 2.5° from the pattern's own, degrees, where the pattern lies
/// `aside_deg` towards the flat side. Where the job's scans miss the flat part, which ends at the elbow, its line is drawn on.
fn by_job_above_deg(by_job: &Scans<'_>, aside_deg: f64, flat: FlatPart) -> f64 {
    let line_deg = flat.at_deg(READING_SCAN_DEG - aside_deg);
    let read_deg = if aside_deg < 0.0 {
        read_at_deg(
            by_job,
            0.0,
            FlatPart {
                reading_deg: line_deg,
                ..flat
            },
        )
    } else {
        None
    };
    read_deg.unwrap_or(line_deg) - flat.reading_deg
}

/// The edge as read from a V-V so far towards the flat side of the scans', degrees, near where `about` has it.
fn read_at_deg(scans: &Scans<'_>, aside_deg: f64, about: FlatPart) -> Option<f64> {
    let scans = Scans {
        lamp: scans.lamp.aside(aside_deg),
        ..*scans
    };
    let columns = scans.columns(&steps(FLAT_FROM_DEG, FLAT_TO_DEG, COLUMN_DEG));
    let rough = Line::through(about.reading_deg, about.slope);
    let pooled = Pooled::of(&columns, scans.window, rough, scans.lamp.face).ok()?;
    Some(pooled.edges.mean(|e| e.inflection_deg))
}

/// Whether a level edge of the wall lies near enough to the cut-off for it to matter, degrees (our choice, no source): as far as an
/// edge is fitted to, less a cut-off's own width.
fn is_near(paint: Paint, lamp: LampPlace, flat: FlatPart) -> bool {
    const NEAR_DEG: f64 = 1.1;
    (paint.y_mm - lamp.y_at_mm(flat.reading_deg)).abs() < NEAR_DEG * lamp.mm_per_deg_at(flat.reading_deg)
}

/// The level edges of the wall that lie near the cut-off.
pub(super) fn near(painted: &[Paint], lamp: LampPlace, flat: FlatPart) -> Vec<Paint> {
    painted
        .iter()
        .copied()
        .filter(|one| is_near(*one, lamp, flat))
        .collect()
}

/// What paint `near` the cut-off that was divided out leaves open, one standard deviation, mm: how far the edge moves with so much of
/// it left in as may be.
pub(super) fn paint_sd_mm(scans: &Scans<'_>, near: &[Paint], flat: FlatPart) -> f64 {
    /// What the edge is taken to move by where none is found then, degrees (our choice, no source).
    const UNKNOWN_DEG: f64 = 0.05;
    if near.is_empty() {
        return 0.0;
    }
    let (paint, share) = scans.paint;
    let less = Scans {
        paint: (paint, share - near.iter().map(|one| one.sd_share).fold(0.0, f64::max)),
        ..*scans
    };
    let moved_deg = read_at_deg(&less, 0.0, flat).map_or(UNKNOWN_DEG, |deg| (deg - flat.reading_deg).abs());
    moved_deg * scans.lamp.mm_per_deg_at(flat.reading_deg)
}
