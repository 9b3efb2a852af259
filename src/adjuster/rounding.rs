//! The places that each figure carries in outputs: page, plots and JSON all take the rounded figures, so that none differs
//! from another by a last digit.

use super::leak::{LeakDown, LeakPoint, LeakSample};
use super::response::{Curve, Response, ResponsePoint, VacuumStep};
use super::stages::{Change, FigureChange, StageChange};
use super::travel::{LampTravel, PositionTravel, TravelStep};
use super::{Adjuster, Interval, SideDifference};
use crate::record::{Figure, Places};

impl Figure for Interval {
    fn round_to(&mut self, decimals: i32) {
        self.value.round_to(decimals);
        for end in [&mut self.u95, &mut self.low, &mut self.high] {
            end.round_to(decimals);
        }
    }
}

impl Adjuster {
    /// The same with each figure rounded to what it can carry.
    #[must_use]
    pub fn rounded(&self) -> Self {
        let mut all = self.clone();
        Places::PERCENT.round([&mut all.least_travel_percent]);
        all.travel.iter_mut().for_each(LampTravel::round);
        all.sides.iter_mut().for_each(SideDifference::round);
        all.response.iter_mut().for_each(Response::round);
        all.leak_down.iter_mut().for_each(LeakDown::round);
        all.stages.iter_mut().for_each(StageChange::round);
        all
    }
}

impl LampTravel {
    fn round(&mut self) {
        self.positions.iter_mut().for_each(PositionTravel::round);
        self.steps.iter_mut().chain(&mut self.total).for_each(TravelStep::round);
    }
}

impl PositionTravel {
    fn round(&mut self) {
        Places::PERCENT.round([
            &mut self.percent,
            &mut self.u95_percent,
            &mut self.travel_percent,
            &mut self.travel_u95_percent,
        ]);
        if let Some(expected) = &mut self.expected {
            Places::PERCENT.round([&mut expected.travel_percent, &mut expected.tolerance_percent]);
        }
    }
}

impl TravelStep {
    fn round(&mut self) {
        Places::PERCENT.round([&mut self.percent, &mut self.u95_percent]);
        Places::MM.round([&mut self.wall_mm, &mut self.wall_u95_mm]);
        Places::M.round([&mut self.reach_change_m, &mut self.reach_change_u95_m]);
    }
}

impl SideDifference {
    fn round(&mut self) {
        Places::PERCENT.round([
            &mut self.difference_percent,
            &mut self.u95_percent,
            &mut self.travel_difference_percent,
            &mut self.travel_u95_percent,
        ]);
    }
}

impl Response {
    fn round(&mut self) {
        self.points.iter_mut().for_each(ResponsePoint::round);
        self.steps.iter_mut().for_each(VacuumStep::round);
        if let Some(curve) = &mut self.curve {
            curve.round();
        }
    }
}

impl ResponsePoint {
    fn round(&mut self) {
        Places::MBAR.round([&mut self.vacuum_mbar, &mut self.vacuum_u95_mbar]);
        Places::PERCENT.round([
            &mut self.percent,
            &mut self.reading_u95_percent,
            &mut self.fitted_percent,
            &mut self.residual_percent,
        ]);
        Places::SDS.round([&mut self.residual_sds]);
    }
}

impl VacuumStep {
    fn round(&mut self) {
        Places::MBAR.round([&mut self.from_mbar, &mut self.to_mbar]);
        Places::PERCENT.round([&mut self.percent, &mut self.u95_percent]);
    }
}

impl Curve {
    fn round(&mut self) {
        Places::PERCENT.round([
            &mut self.rest_percent,
            &mut self.travel_percent,
            &mut self.fit_probability,
        ]);
        Places::PERCENT_PER_100_MBAR.round([&mut self.gain_percent_per_100_mbar]);
        Places::MBAR.round([
            &mut self.dead_band_mbar,
            &mut self.end_stop_mbar,
            &mut self.no_end_stop_below_mbar,
            &mut self.highest_mbar,
        ]);
        if let Some(hysteresis) = &mut self.hysteresis {
            Places::MBAR.round([&mut hysteresis.gap_mbar]);
            Places::PERCENT.round([&mut hysteresis.gap_percent]);
            Places::PERCENT_MBAR.round([&mut hysteresis.loss_area_percent_mbar]);
        }
        Places::RATIO.round([&mut self.chi_square, &mut self.widened_by]);
    }
}

impl LeakDown {
    fn round(&mut self) {
        Places::S.round([
            &mut self.duration_s,
            &mut self.time_constant_s,
            &mut self.half_time_s,
            &mut self.creep_time_constant_s,
        ]);
        Places::PERCENT.round([&mut self.creep_percent, &mut self.creep_below_percent]);
        Places::MBAR.round([&mut self.start_vacuum_mbar, &mut self.loss_below_mbar]);
        Places::MBAR_PER_MIN.round([&mut self.start_rate_mbar_per_min]);
        self.points.iter_mut().for_each(LeakPoint::round);
        self.course.iter_mut().for_each(LeakSample::round);
    }
}

impl LeakPoint {
    fn round(&mut self) {
        Places::S.round([&mut self.elapsed_s]);
        Places::PERCENT.round([
            &mut self.percent,
            &mut self.reading_u95_percent,
            &mut self.residual_percent,
        ]);
    }
}

impl LeakSample {
    fn round(&mut self) {
        Places::S.round([&mut self.elapsed_s]);
        Places::PERCENT.round([&mut self.percent]);
        Places::MBAR.round([&mut self.vacuum_mbar]);
    }
}

impl StageChange {
    fn round(&mut self) {
        for position in &mut self.positions {
            position.inclination.round();
            position.travel.iter_mut().for_each(Change::round);
        }
        self.total.iter_mut().for_each(Change::round);
        self.figures.iter_mut().for_each(FigureChange::round);
    }
}

impl Change {
    fn round(&mut self) {
        Places::PERCENT.round([
            &mut self.before_percent,
            &mut self.before_u95_percent,
            &mut self.after_percent,
            &mut self.after_u95_percent,
            &mut self.change_percent,
            &mut self.change_u95_percent,
        ]);
    }
}

impl FigureChange {
    fn round(&mut self) {
        // As for a figure in per cent, whatever its unit.
        Places::PERCENT.round([&mut self.before, &mut self.after, &mut self.change]);
    }
}
