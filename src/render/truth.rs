//! What a made photo shows: inclination, sharpness and linearity, by definition, from the clean beam on the wall.

use super::beam::Beam;
use crate::record::{Pattern, Side};
use serde::{Deserialize, Serialize};

/// The truth about one lit lamp in one made photo, by the definitions of UN R112's cut-off quality annex.
///
/// It is worked out from the lamp's own light on the bare, even wall (no texture, marks, ambient light, camera): the
/// aim that a scene asks for is where it starts, not what is copied here.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct Truth {
    /// The photo's file name.
    pub photo: String,
    /// The lamp.
    pub lamp: Side,
    /// 100·(h − y)/D, plus the grade of the standing area, per cent, where y is the height of the steepest inflection
    /// d²(log10 E)/dβ² = 0 on the scan 2.5° from V-V on the flat side.
    pub inclination_percent: f64,
    /// h − y, mm.
    pub drop_mm: f64,
    /// The scan's place on the wall, mm.
    pub scan_x_mm: f64,
    /// The inflection's height on the wall, mm.
    pub edge_y_mm: f64,
    /// G, the largest log10 E(β) − log10 E(β + 0.1°) on that scan.
    pub sharpness_g: f64,
    /// The largest vertical distance between the inflections at 1.5°, 2.5° and 3.5° from V-V, degrees: UN R112's
    /// linearity, of which at most 0.2° is allowed (from memory). A tilted lamp counts in it.
    pub linearity_deg: f64,
    /// How far the inflection at 2.5° lies below the middle between those at 1.5° and 3.5°, degrees; tilt does not
    /// count in it.
    pub bow_deg: f64,
    /// Turn of the line through the inflections at 1.5° and 3.5°, on the wall, degrees; positive is anticlockwise as
    /// seen facing the wall.
    pub tilt_deg: f64,
    /// The elbow; none where the pattern is flat.
    pub elbow: Option<TruthElbow>,
}

/// Where the two straight parts of the cut-off meet.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct TruthElbow {
    /// To the right of the lamp's V-V, per cent of the distance.
    pub lateral_percent: f64,
    /// Slope of the edge on the far side of the elbow on the wall, degrees against the wall's horizontal.
    pub kick_deg: f64,
    /// The elbow's place on the wall, mm.
    pub x_mm: f64,
    /// The elbow's height on the wall, mm.
    pub y_mm: f64,
}

/// What a scan can give no reading for.
const NO_EDGE: &str = "the cut-off does not lie on the wall where it is read (2.5° from V-V): aim the lamp so that it \
                       falls above the floor and less than 5° above the lamp";

impl Truth {
    /// The truth of one beam on a wall that begins at `floor_y_mm`.
    pub(super) fn of(beam: &Beam, photo: &str, floor_y_mm: f64, grade_percent: f64) -> Result<Self, String> {
        let distance_mm = beam.position_mm[2];
        let lowest_deg = ((floor_y_mm - beam.position_mm[1]) / distance_mm).atan().to_degrees();
        let low_deg = lowest_deg.max(-8.0);
        let inflection = |from_vv_deg: f64| {
            let clean = |beta_deg: f64| beam.scan_log10_lx(from_vv_deg, beta_deg);
            steepest_inflection_deg(&clean, low_deg, 5.0, 0.001).ok_or(NO_EDGE)
        };
        let [near_deg, beta_deg, far_deg] = [inflection(1.5)?, inflection(2.5)?, inflection(3.5)?];
        let clean = |beta_deg: f64| beam.scan_log10_lx(2.5, beta_deg);
        let [scan_x_mm, edge_y_mm] = beam.scan_point_mm(2.5, beta_deg);
        let drop_mm = beam.position_mm[1] - edge_y_mm;
        let near_mm = beam.scan_point_mm(1.5, near_deg);
        let far_mm = beam.scan_point_mm(3.5, far_deg);
        let highest_deg = near_deg.max(beta_deg).max(far_deg);
        let lowest_deg = near_deg.min(beta_deg).min(far_deg);
        Ok(Self {
            photo: photo.to_owned(),
            lamp: beam.lamp.side,
            inclination_percent: 100.0 * drop_mm / distance_mm + grade_percent,
            drop_mm,
            scan_x_mm,
            edge_y_mm,
            sharpness_g: sharpness_g(&clean, low_deg, 5.0, 0.001).ok_or(NO_EDGE)?,
            linearity_deg: highest_deg - lowest_deg,
            bow_deg: 0.5 * (near_deg + far_deg) - beta_deg,
            tilt_deg: ((near_mm[1] - far_mm[1]) / (near_mm[0] - far_mm[0]))
                .atan()
                .to_degrees(),
            elbow: elbow(beam),
        })
    }
}

fn elbow(beam: &Beam) -> Option<TruthElbow> {
    if beam.lamp.pattern == Pattern::Flat {
        return None;
    }
    let [x_mm, y_mm] = beam.wall_point_mm(0.0, 0.0)?;
    let rise_deg = beam.lamp.kick_deg().to_radians().tan();
    let along_mm = beam.wall_point_mm(beam.mirror(), rise_deg)?;
    Some(TruthElbow {
        lateral_percent: 100.0 * (x_mm - beam.position_mm[0]) / beam.position_mm[2],
        kick_deg: ((along_mm[1] - y_mm) / (along_mm[0] - x_mm).abs()).atan().to_degrees(),
        x_mm,
        y_mm,
    })
}

/// Where log10 E has the inflection at its steepest downward step as β rises, degrees: `None` where the steepest
/// place is an end of the range, or `log10_lx` gives no number.
///
/// `log10_lx`: log10 of the illuminance over β in degrees. The grid finds the steepest place, bisection of the second
/// difference then finds its zero to far below a thousandth of a degree.
pub(super) fn steepest_inflection_deg(
    log10_lx: &impl Fn(f64) -> f64,
    low_deg: f64,
    high_deg: f64,
    step_deg: f64,
) -> Option<f64> {
    let values = on_grid(log10_lx, low_deg, high_deg, step_deg)?;
    let fall = |i: usize| values[i] - values[i + 1];
    let steepest = (0..values.len() - 1).max_by(|&a, &b| fall(a).total_cmp(&fall(b)))?;
    if steepest < 3 || steepest + 5 > values.len() || fall(steepest) <= 0.0 {
        return None;
    }
    let delta_deg = 2.0 * step_deg;
    let bend =
        |beta_deg: f64| log10_lx(beta_deg - delta_deg) - 2.0 * log10_lx(beta_deg) + log10_lx(beta_deg + delta_deg);
    let middle_deg = low_deg + step_deg * (steepest as f64 + 0.5);
    let (mut low, mut high) = (middle_deg - 2.0 * step_deg, middle_deg + 2.0 * step_deg);
    // Below the steepest place the curve bends down, above it up.
    if bend(low) > 0.0 || bend(high) < 0.0 {
        return None;
    }
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if bend(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// G: the largest `log10_lx(β) − log10_lx(β + 0.1°)`; `None` where `log10_lx` gives no number.
pub(super) fn sharpness_g(log10_lx: &impl Fn(f64) -> f64, low_deg: f64, high_deg: f64, step_deg: f64) -> Option<f64> {
    let ahead = (0.1 / step_deg).round() as usize;
    let values = on_grid(log10_lx, low_deg, high_deg, 0.1 / ahead as f64)?;
    let fall = |i: usize| values[i] - values[i + ahead];
    let best = (0..values.len().checked_sub(ahead)?).max_by(|&a, &b| fall(a).total_cmp(&fall(b)))?;
    if best == 0 || best + ahead + 1 >= values.len() {
        return Some(fall(best));
    }
    // The vertex of the parabola through the best point and its neighbours.
    let (before, at, after) = (fall(best - 1), fall(best), fall(best + 1));
    let bend = before - 2.0 * at + after;
    Some(if bend < 0.0 {
        at - (after - before).powi(2) / (8.0 * bend)
    } else {
        at
    })
}

fn on_grid(log10_lx: &impl Fn(f64) -> f64, low_deg: f64, high_deg: f64, step_deg: f64) -> Option<Vec<f64>> {
    if low_deg.is_nan() || high_deg.is_nan() || low_deg >= high_deg {
        return None;
    }
    let count = ((high_deg - low_deg) / step_deg) as usize;
    let values: Vec<f64> = (0..=count).map(|i| log10_lx(low_deg + step_deg * i as f64)).collect();
    values.iter().all(|value| value.is_finite()).then_some(values)
}
