//! The places that each figure carries in outputs for machines. What people read is rounded once, from the figure itself: rounded twice,
//! 52.46 would be 52.5 and then 53.

use super::leak::{LeakDown, LeakPoint, LeakSample};
use super::response::{Curve, Hysteresis, Response, ResponsePoint, VacuumStep};
use super::stages::{Change, FigureChange, PositionChange, StageChange};
use super::step::TravelStep;
use super::travel::{ExpectedOutcome, LampTravel, PositionTravel};
use super::{Adjuster, Interval, ShortTravel, SideDifference};
use crate::record::{Figure, Places};

impl Adjuster {
    /// The same with each figure rounded to what it can carry.
    #[must_use]
    pub fn rounded(&self) -> Self {
        let mut all = self.clone();
        all.round();
        all
    }
}

impl Figure for Interval {
    fn round_to(&mut self, decimals: i32) {
        self.value.round_to(decimals);
        for end in [&mut self.u95, &mut self.low, &mut self.high] {
            end.round_to(decimals);
        }
    }
}

/// For each type the unit of its figures, and the lists and options that hold more of them.
macro_rules! rounded {
    ($($type:ty { $($unit:ident: $($figure:ident),+;)* $(=> $($each:ident),+;)? })+) => {$(
        impl $type {
            fn round(&mut self) {
                $(Places::$unit.round([$(&mut self.$figure),+]);)*
                $($(self.$each.iter_mut().for_each(|one| one.round());)+)?
            }
        }
    )+};
}

rounded! {
    Adjuster { PERCENT: least_travel_percent; => travel, sides, response, leak_down, stages; }
    LampTravel { => positions, steps, total, short; }
    PositionTravel { PERCENT: percent, u95_percent, travel_percent, travel_u95_percent; => expected; }
    ExpectedOutcome { PERCENT: travel_percent, tolerance_percent; }
    TravelStep {
        PERCENT: percent, u95_percent;
        MM: wall_mm, wall_u95_mm;
        M: reach_change_m, reach_change_u95_m;
    }
    SideDifference {
        PERCENT: difference_percent, u95_percent, travel_difference_percent, travel_u95_percent;
        => short;
    }
    ShortTravel { PERCENT: percent, other_percent; }
    Response { => points, steps, curve; }
    ResponsePoint {
        MBAR: vacuum_mbar, vacuum_u95_mbar;
        PERCENT: percent, reading_u95_percent, fitted_percent, residual_percent;
        SDS: residual_sds;
    }
    VacuumStep {
        MBAR: from_mbar, to_mbar;
        PERCENT: percent, u95_percent;
    }
    Curve {
        PERCENT: rest_percent, travel_percent;
        MM: travel_wall_mm;
        PERCENT_PER_100_MBAR: gain_percent_per_100_mbar;
        MBAR: dead_band_mbar, end_stop_mbar, no_end_stop_below_mbar, highest_mbar;
        RATIO: chi_square, widened_by;
        PROBABILITY: fit_probability;
        => hysteresis;
    }
    Hysteresis {
        MBAR: gap_mbar;
        PERCENT: gap_percent;
        PERCENT_MBAR: loss_area_percent_mbar;
    }
    LeakDown {
        S: duration_s, time_constant_s, half_time_s, creep_time_constant_s;
        PERCENT: creep_percent, creep_below_percent;
        MBAR: gauge_at_first_mbar, start_vacuum_mbar, residual_vacuum_mbar, loss_below_mbar;
        MBAR_PER_MIN: start_rate_mbar_per_min, gauge_fall_mbar_per_min;
        => points, course;
    }
    LeakPoint {
        S: elapsed_s;
        PERCENT: percent, reading_u95_percent, residual_percent;
    }
    LeakSample {
        S: elapsed_s;
        PERCENT: percent;
        MBAR: vacuum_mbar;
    }
    StageChange { => positions, total, figures; }
    Change {
        PERCENT: before_percent, before_u95_percent, after_percent, after_u95_percent, change_percent, change_u95_percent;
    }
    FigureChange { MIXED: before, after, change; }
}

impl PositionChange {
    fn round(&mut self) {
        self.inclination.round();
        self.travel.iter_mut().for_each(Change::round);
    }
}
