//! The edge that somebody who looked at the photo pointed at, where there are several.
//!
//! A hand only chooses: the edge must be one, and pass every check that it would have to pass alone in its photo.

use super::flat;
use super::line::Line;
use super::pooled::Pooled;
use super::quality::{self, LEAST_MARGIN_DEG};
use super::scan::{Column, LampPlace, Window};
use crate::language::said;
use crate::refusal::{Reason, Refusal};
use crate::warning::Warning;

/// Of the way to another edge so much is looked at: what lies nearer to that is its own (our choice, no source).
const SHARE_OF_WAY: f64 = 0.6;

/// What a hand's choice left.
pub(super) struct Chosen {
    /// One standard deviation of the inflection by what throws the other edges, degrees: as far as they moved it before their light was
    /// left out, and what of their light lies on the dark side.
    pub by_others_deg: f64,
    /// How far above the chosen one the nearest other edge lies, degrees.
    other_deg: Option<f64>,
}

impl Chosen {
    pub fn warning(self) -> Warning {
        Warning::EdgeByHand {
            other_deg: self.other_deg,
        }
    }
}

/// The line of the edge nearest to `near_deg`.
///
/// # Errors
/// `no-cutoff` where there is none.
pub(super) fn rough_line(columns: &[Column], window: Window, near_deg: f64) -> Result<Line, Refusal> {
    flat::rough_line_near(columns, window, near_deg).ok_or_else(none_near)
}

fn none_near() -> Refusal {
    Refusal::new(Reason::NoCutoff, |language| {
        said!(
            language;
            "no edge of light is found within {} degree of where the job says by hand that the cut-off is; look at the photo \
             again, or say it anew",
            "im Umkreis von {} Grad um die Stelle, an der laut Auftrag von Hand die Hell-Dunkel-Grenze liegt, ist \
             keine Lichtkante zu finden; das Foto noch einmal ansehen oder den Eintrag herausnehmen";
            flat::NEAR_HAND_DEG[flat::NEAR_HAND_DEG.len() - 1]
        )
    })
}

/// Holds the pooled edge against where it was said to be, and where others lie beside it takes it anew without their light.
///
/// # Errors
/// `no-cutoff` where the fit ran off to another place, `second-cutoff` where another edge lies too near to be told from it.
pub(super) fn choose(
    columns: &mut [Column],
    window: Window,
    pooled: &mut Pooled,
    place: LampPlace,
    near_deg: f64,
) -> Result<Chosen, Refusal> {
    let at_deg = |pooled: &Pooled| pooled.edges.best().inflection_deg;
    let others = quality::second_edges_deg(columns, window, pooled.slope, pooled.edges.best());
    let nearest = |of: &dyn Fn(f64) -> bool| {
        let side = others.iter().copied().filter(|&apart_deg| of(apart_deg));
        side.min_by(|a, b| a.abs().total_cmp(&b.abs()))
    };
    let (above, below) = (nearest(&|deg| deg > 0.0), nearest(&|deg| deg < 0.0));
    let mut by_others_deg = 0.0;
    if above.is_some() || below.is_some() {
        let too_near = |apart_deg: &f64| SHARE_OF_WAY * apart_deg.abs() < LEAST_MARGIN_DEG;
        if let Some(apart_deg) = [above, below].into_iter().flatten().find(too_near) {
            return Err(quality::second_cutoff(apart_deg));
        }
        let (before_deg, slope) = (at_deg(pooled), pooled.slope);
        let rough = Line::through(before_deg, slope);
        let high_deg = above.map_or(f64::INFINITY, |apart_deg| SHARE_OF_WAY * apart_deg);
        let low_deg = below.map_or(f64::NEG_INFINITY, |apart_deg| SHARE_OF_WAY * apart_deg);
        for column in columns.iter_mut() {
            let edge_deg = rough.at_deg(column.angle_deg);
            for (n, light) in column.light.iter_mut().enumerate() {
                if !(low_deg..=high_deg).contains(&(window.at_deg(n) - edge_deg)) {
                    *light = f64::NAN;
                }
            }
        }
        *pooled = Pooled::of(columns, window, rough, place.face)?;
        let reach_deg = high_deg.min(-low_deg);
        by_others_deg = (at_deg(pooled) - before_deg).hypot(pooled.other_lamp_sd_deg(reach_deg));
    }
    if (at_deg(pooled) - near_deg).abs() > flat::NEAR_HAND_DEG[flat::NEAR_HAND_DEG.len() - 1] {
        return Err(none_near());
    }
    Ok(Chosen {
        by_others_deg,
        other_deg: nearest(&|_| true),
    })
}
