//! One step of a travel: from one position of the range control to another.

use super::Movement;
use super::mean::Mean;
use super::positions::PositionMean;
use crate::aim::{COVERAGE_FACTOR_95, Common, reach_m};
use crate::record::Lamp;
use serde::Serialize;

/// The change from one position of a lamp to another, in the three measures that people use.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TravelStep {
    /// Position that it starts from.
    pub from: String,
    /// Position that it ends at.
    pub to: String,
    /// Change of the inclination, per cent; positive when the beam went down.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent: what differs from photo to photo, and of the common sources (tape,
    /// sheets, lamp) what does not cancel between the two.
    pub u95_percent: f64,
    /// How far the cut-off went down on the wall, mm: the change at the lamp's distance.
    pub wall_mm: f64,
    /// Half-width of its 95 % interval, mm; it holds the tape's share of the change too, so that it is rather too wide.
    pub wall_u95_mm: f64,
    /// Change of the reach, m, negative where reach is lost; `None` where one of the two beams lies so flat that its
    /// reach is not known to a third.
    pub reach_change_m: Option<f64>,
    /// Half-width of its 95 % interval, m.
    pub reach_change_u95_m: Option<f64>,
    /// What may be said of it.
    pub movement: Movement,
}

impl TravelStep {
    pub(super) fn new(
        from: &PositionMean,
        to: &PositionMean,
        lamp: &Lamp,
        least_travel_percent: f64,
        tests: usize,
    ) -> Self {
        let (percent, u95_percent) = to.mean.travel_from(&from.mean);
        let mm_per_percent = lamp.distance_mm / 100.0;
        let reach = reach_change(&from.mean, &to.mean, lamp);
        Self {
            from: from.position.clone(),
            to: to.position.clone(),
            percent,
            u95_percent,
            wall_mm: percent * mm_per_percent,
            wall_u95_mm: u95_percent * mm_per_percent,
            reach_change_m: reach.map(|(change_m, _)| change_m),
            reach_change_u95_m: reach.map(|(_, u95_m)| u95_m),
            movement: Movement::judge(percent, u95_percent, least_travel_percent, tests),
        }
    }
}

/// A beam whose inclination is not known to this share of itself has no reach worth stating: 1/inclination is then no
/// longer nearly straight over the interval, and the derivative no measure of its uncertainty.
const MOST_RELATIVE_U95: f64 = 1.0 / 3.0;

/// Change of the reach from one mean to another, m, and its 95 % half-width, m.
///
/// The reach is `aim::reach_m`'s h / (inclination / 100); its change has the variance that the derivatives give (JCGM
/// 100:2008, 5.2.2): the sources that both readings share, each with its sign, then the photos' own, then the height that
/// the reach is counted from. That height also stands in the inclination with the opposite effect; adding both makes the
/// interval rather too wide.
fn reach_change(from: &Mean, to: &Mean, lamp: &Lamp) -> Option<(f64, f64)> {
    for mean in [from, to] {
        let u95_percent = COVERAGE_FACTOR_95 * mean.variance_percent2().sqrt();
        if mean.percent <= 0.0 || u95_percent > MOST_RELATIVE_U95 * mean.percent {
            return None;
        }
    }
    let (from_m, to_m) = (reach_m(from.percent, lamp)?, reach_m(to.percent, lamp)?);
    let slope_m = |reach_m: f64, percent: f64| -reach_m / percent;
    let (from_slope, to_slope) = (slope_m(from_m, from.percent), slope_m(to_m, to.percent));
    let shared = Common::sum([(to_slope, &to.common), (-from_slope, &from.common)]);
    let height = (to_m - from_m) * lamp.centre_height_sd_mm / lamp.height_above_ground_mm();
    let variance_m2 = shared.variance_percent2()
        + to_slope.powi(2) * to.own_variance_percent2
        + from_slope.powi(2) * from.own_variance_percent2
        + height.powi(2);
    Some((to_m - from_m, COVERAGE_FACTOR_95 * variance_m2.sqrt()))
}
