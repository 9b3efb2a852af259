//! Response to vacuum: what the beam does as a hand pump applies and releases it.

mod fit;
mod movement;
mod stick_slip;

use super::curve::{DEAD, GAP};
use super::mean::Mean;
use super::positions::{Series, by_lamp_and_stage, is_kept};
use super::posterior::Model;
use super::shape::Shape;
use super::{Interval, Movement, pairs};
use crate::aim::{Aim, COVERAGE_FACTOR_95, ShotReading};
use crate::record::{AdjusterLimits, Branch, Side, Stage, Vacuum};
use crate::warning::Warning;
pub(super) use fit::SCATTERS;
use fit::{fit, points};
pub(super) use movement::WALL_SD_PERCENT;
use movement::{mistyped, movement};
use serde::Serialize;

/// What the pump's test showed of one lamp at one stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Response {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Whether vacuum moves the beam, from all pairs of readings; `None` where there are fewer than two. "Does not move" takes photos up to
    /// 300 mbar at the least.
    pub movement: Option<Movement>,
    /// The readings, in the job's order; photos of one state are averaged.
    pub points: Vec<ResponsePoint>,
    /// From each reading to the next of its branch.
    pub steps: Vec<VacuumStep>,
    /// The fitted curve; `None` where the beam cannot be said to move, or the readings are too few.
    pub curve: Option<Curve>,
    /// Which way vacuum takes the beam; `None` where that is not sure.
    pub polarity: Option<Polarity>,
    /// Whether the movement sticks and slips.
    pub stick_slip: StickSlip,
    /// What one should know of it.
    #[serde(serialize_with = "crate::warning::as_words")]
    #[cfg_attr(test, schemars(with = "Vec<String>"))]
    pub warnings: Vec<Warning>,
}

/// One reading against vacuum.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ResponsePoint {
    /// Gauge, mbar below atmosphere.
    pub vacuum_mbar: f64,
    /// Half-width of its 95 % interval, mbar.
    pub vacuum_u95_mbar: f64,
    /// Which way the vacuum was being changed; left out in the job, it was being applied.
    pub branch: Branch,
    /// Number of photos.
    pub photos: usize,
    /// Inclination, per cent.
    pub percent: f64,
    /// Half-width of the 95 % interval of what differs from photo to photo, per cent.
    pub reading_u95_percent: f64,
    /// The fitted curve at the gauge's reading, per cent.
    pub fitted_percent: Option<f64>,
    /// Reading less curve, per cent.
    pub residual_percent: Option<f64>,
    /// Distance from the curve with both uncertainties, in standard deviations.
    pub residual_sds: Option<f64>,
}

/// Travel from one reading of a branch to the next.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct VacuumStep {
    /// Gauge before, mbar.
    pub from_mbar: f64,
    /// Gauge after, mbar.
    pub to_mbar: f64,
    /// Branch.
    pub branch: Branch,
    /// Change of the inclination, per cent.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
    /// What may be said of it.
    pub movement: Movement,
}

/// The fitted response: at rest up to the dead band, then moving with the gain, at rest from the end stop on, with corners
/// that may be soft and a slope that may bend; released, the same at less vacuum by the hysteresis. Figures are medians and
/// intervals of what the readings leave possible.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Curve {
    /// Inclination without vacuum, per cent; its interval has everything in it.
    pub rest_percent: Interval,
    /// Gain, per cent per 100 mbar, negative where vacuum raises the beam: the mean slope between the corners, which is the
    /// travel from rest to the end stop, or to the highest vacuum where no stop comes before it, by the vacuum from the dead
    /// band to there.
    pub gain_percent_per_100_mbar: Interval,
    /// Vacuum below which the beam does not move, mbar, at a soft corner where the straight parts would meet; `None` where no
    /// photo shows the beam without vacuum, or the movement sticks.
    pub dead_band_mbar: Option<Interval>,
    /// Vacuum above which it moves no further, mbar; `None` where the readings do not show one, or the movement sticks.
    pub end_stop_mbar: Option<Interval>,
    /// With 95 % certainty there is no end stop below this, mbar.
    pub no_end_stop_below_mbar: Option<f64>,
    /// Highest vacuum of the readings, from which it was released, mbar.
    pub highest_mbar: f64,
    /// Inclination at that vacuum less the one at rest, per cent.
    pub travel_percent: Interval,
    /// The same on the wall, mm.
    pub travel_wall_mm: Interval,
    /// Releasing against applying; `None` without photos of both branches, or where the movement sticks: what sticks lags
    /// behind like play.
    pub hysteresis: Option<Hysteresis>,
    /// The course itself, for a plot.
    #[serde(skip)]
    pub(in crate::adjuster) shape: Shape,
    /// Squared distance of the readings from the course in standard deviations, with the errors that they share.
    pub chi_square: f64,
    /// Readings less parameters.
    pub degrees_of_freedom: usize,
    /// Probability of a chi-square at least as large where curve and uncertainties are right.
    pub fit_probability: f64,
    /// Factor by which the readings scatter more than their uncertainties say, which the intervals hold; else 1.
    pub widened_by: f64,
}

/// How far the releasing branch lies from the applying one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Hysteresis {
    /// Less vacuum at one inclination, mbar.
    pub gap_mbar: Interval,
    /// Largest difference of inclination at one vacuum, per cent.
    pub gap_percent: Interval,
    /// Area between the branches, per cent times mbar: what is lost to friction in one cycle.
    pub loss_area_percent_mbar: Interval,
}

/// Which way vacuum takes the beam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Polarity {
    /// True where vacuum raises the beam, so that it comes down when vacuum is lost.
    pub vacuum_raises: bool,
    /// Whether that is what the system file says; `None` without one.
    pub as_system_says: Option<bool>,
}

/// Whether a movement sticks and slips.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum StickSlip {
    /// The beam stands still where it should move, and jumps elsewhere, or does not come back to rest, surely.
    Seen,
    /// All steps on the slope are as the curve says, within their uncertainties.
    NotSeen,
    /// There is no curve, or too few steps lie on its slope.
    CannotTell,
}

impl Curve {
    /// The curve at a vacuum, per cent, for a plot.
    #[must_use]
    pub fn inclination_percent(&self, vacuum_mbar: f64, branch: Branch) -> f64 {
        self.shape.percent(vacuum_mbar, branch == Branch::Releasing)
    }

    /// Vacuums at which a plot of the curve takes its places, mbar, rising: from none to the highest of the readings.
    #[must_use]
    pub fn places_mbar(&self) -> Vec<f64> {
        const PLACES: usize = 91;
        (0..PLACES)
            .map(|n| self.highest_mbar * n as f64 / (PLACES - 1) as f64)
            .collect()
    }
}

/// What the leak-down needs of a fitted response.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    /// The model that is stated, with its readings.
    pub model: Model,
    /// The medians of its parameters.
    pub parameters: Vec<f64>,
    /// The course that they make.
    pub shape: Shape,
    /// Whether there are photos of the releasing branch.
    pub has_releasing: bool,
    /// Squared distance of the readings from it, and the degrees of freedom.
    pub chi_square: f64,
    /// Readings less parameters.
    pub freedom: usize,
    /// Factor by which the readings scatter more than they should, at least 1.
    pub scale: f64,
    /// Whether it sticks and slips.
    pub sticking: StickSlip,
    /// What shows that it does.
    pub slip: Option<Warning>,
    /// The largest jump with the valve shut, per cent, where it moves in jumps there.
    pub jump_percent: Option<f64>,
    /// Whether the readings scatter more than a smooth movement and the gauge explain.
    pub excess: bool,
}

impl Fitted {
    /// Whether the movement may stick: a beam that stands still then says nothing, and what lags looks like play.
    pub fn sticks(&self) -> bool {
        self.excess || self.sticking == StickSlip::Seen
    }
}

/// A state of the pump and its photos.
struct State<'a> {
    vacuum: Vacuum,
    sd: Vacuum,
    branch: Branch,
    aims: Vec<&'a Aim>,
}

/// The responses of all lamps and stages with a pump. `jumps`: those whose beam moves in jumps with the valve shut, per cent.
pub(super) fn responses(
    readings: &[ShotReading],
    limits: &AdjusterLimits,
    vacuum_raises: Option<bool>,
    jumps: &[(Series, f64)],
) -> Vec<(Response, Option<Fitted>)> {
    let counts = |r: &ShotReading| !r.shot.sealed && r.shot.vacuum.is_some() && r.result.is_ok();
    by_lamp_and_stage(readings, counts)
        .into_iter()
        .map(|(series, members)| {
            let (states, falls) = states(&members, limits);
            let means: Vec<Mean> = states.iter().map(|s| Mean::of(&s.aims)).collect();
            let mut response = Response::unfitted(series, &states, &means, limits);
            response.warnings.extend(not_back(&members, limits));
            if falls {
                response.warnings.push(Warning::VacuumFallsUnnamed);
            }
            let jump = jumps.iter().find(|(of, _)| *of == series).map(|(_, percent)| *percent);
            match response.fitted(&states, &means, members[0].lamp.distance_mm, vacuum_raises, jump) {
                Ok(fitted) => (response, Some(fitted)),
                Err(why) => {
                    response.warnings.push(why);
                    (response, None)
                }
            }
        })
        .collect()
}

/// The series in which the beam surely stays where the pump drove it, though the gauge is back at none.
fn not_back(members: &[&ShotReading], limits: &AdjusterLimits) -> Vec<Warning> {
    let mut names: Vec<Option<&str>> = Vec::new();
    for name in members.iter().map(|one| one.shot.series.as_deref()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let of_series = |name: Option<&str>| {
        let own = || members.iter().filter(move |one| one.shot.series.as_deref() == name);
        let mbar = |one: &ShotReading| one.shot.vacuum.map_or(0.0, |vacuum| vacuum.mbar());
        let is_none = |one: &ShotReading| mbar(one) <= 3.0 * one.shot.vacuum_sd.unwrap_or(limits.vacuum_sd).mbar();
        let most_mbar = own().map(|one| mbar(one)).fold(0.0, f64::max);
        let is_let_go = |one: &ShotReading| one.shot.branch == Some(Branch::Releasing);
        let those = |counts: &dyn Fn(&ShotReading) -> bool| -> Vec<&ShotReading> {
            own().filter(|one| counts(one)).copied().collect()
        };
        let rest = those(&|one| is_none(one) && !is_let_go(one));
        let driven = those(&|one| !is_none(one) && mbar(one) >= most_mbar && !is_let_go(one));
        let back = those(&|one| is_none(one) && is_let_go(one));
        let mean = Mean::of_readings;
        let time = |of: &[&ShotReading], last: bool| {
            let all = of.iter().filter_map(|one| one.capture.clock_s());
            if last {
                all.reduce(f64::max)
            } else {
                all.reduce(f64::min)
            }
        };
        // Where the times say that the branches are exchanged, nothing is sure.
        let is_before = |a: &[&ShotReading], b: &[&ShotReading]| match (time(a, true), time(b, false)) {
            (Some(a), Some(b)) => a <= b,
            _ => true,
        };
        let in_order = is_before(&rest, &driven) && is_before(&driven, &back);
        let (rest, driven, back) = (mean(&rest)?, mean(&driven)?, mean(&back)?);
        let way_percent = driven.difference(&rest).0;
        (in_order && is_kept(&rest, &driven, &back)).then(|| Warning::BeamStaysDriven {
            series: name.map(str::to_owned),
            mbar: most_mbar,
            percent: way_percent,
            kept_percent: back.difference(&rest).0,
        })
    };
    names.into_iter().filter_map(of_series).collect()
}

/// The states of the pump, and whether its vacuum falls between photos that name no branch.
fn states<'a>(members: &[&'a ShotReading], limits: &AdjusterLimits) -> (Vec<State<'a>>, bool) {
    let mut states: Vec<State<'a>> = Vec::new();
    let (mut last, mut falls) = (None::<Vacuum>, false);
    for reading in members {
        let (Ok(measured), Some(vacuum)) = (&reading.result, reading.shot.vacuum) else {
            continue;
        };
        if reading.shot.branch.is_none() {
            falls |= last.is_some_and(|last| vacuum < last);
            last = Some(vacuum);
        }
        let branch = reading.shot.branch.unwrap_or(Branch::Applying);
        match states.iter_mut().find(|s| s.vacuum == vacuum && s.branch == branch) {
            Some(state) => state.aims.push(&measured.aim),
            None => states.push(State {
                vacuum,
                sd: reading.shot.vacuum_sd.unwrap_or(limits.vacuum_sd),
                branch,
                aims: vec![&measured.aim],
            }),
        }
    }
    (states, falls)
}

/// Fewer readings than this hold no curve: it has five parameters with both branches.
const LEAST_READINGS: usize = 5;
/// At fewer vacuums than this neither do they: rest, two on the slope, stop.
const LEAST_VACUUMS: usize = 4;

/// No hand pump or engine comes nearer to an empty vessel than this, mbar below atmosphere: 960 of 1013 (common practice, no
/// source). What is typed as more is mostly the pressure itself.
const MOST_OF_A_PUMP_MBAR: f64 = 960.0;

/// With less vacuum than this on the gauge, mbar, a beam that stands still says nothing, as it may lie in its dead band: the tests ask for
/// 400 mbar, or what the maker gives (common practice, no source).
pub(crate) const LEAST_PUMPED_MBAR: f64 = 300.0;

impl Response {
    /// The highest vacuum of the readings, mbar.
    #[must_use]
    pub fn highest_mbar(&self) -> f64 {
        self.points.iter().map(|point| point.vacuum_mbar).fold(0.0, f64::max)
    }

    /// The vacuum, mbar, up to which the beam stands still, where that is too little to say that vacuum does not move it.
    #[must_use]
    pub fn unmoved_up_to_mbar(&self) -> Option<f64> {
        self.warnings.iter().find_map(|warning| match warning {
            Warning::UnmovedUpTo { mbar } => Some(*mbar),
            _ => None,
        })
    }

    /// Whether its branches are as friction can make them, so that a leak-down may be read through it.
    pub(super) fn is_ordered(&self) -> bool {
        !self.warnings.contains(&Warning::BranchesExchanged)
    }

    /// The readings, and what may be said of them without a curve.
    fn unfitted((lamp, stage): Series, states: &[State<'_>], means: &[Mean], limits: &AdjusterLimits) -> Self {
        let least = limits.least_travel_percent;
        let point = |(state, mean): (&State<'_>, &Mean)| ResponsePoint {
            vacuum_mbar: state.vacuum.mbar(),
            vacuum_u95_mbar: COVERAGE_FACTOR_95 * state.sd.mbar(),
            branch: state.branch,
            photos: mean.photos,
            percent: mean.percent,
            reading_u95_percent: COVERAGE_FACTOR_95 * mean.differing_variance_percent2.sqrt(),
            fitted_percent: None,
            residual_percent: None,
            residual_sds: None,
        };
        Self {
            lamp,
            stage,
            movement: movement(&points(states, means), means, least),
            points: states.iter().zip(means).map(point).collect(),
            steps: vacuum_steps(states, means, least),
            curve: None,
            polarity: None,
            stick_slip: StickSlip::CannotTell,
            warnings: Vec::new(),
        }
    }

    /// Fits the curve and enters what follows from it.
    ///
    /// # Errors
    /// Why there is no curve.
    fn fitted(
        &mut self,
        states: &[State<'_>],
        means: &[Mean],
        distance_mm: f64,
        vacuum_raises: Option<bool>,
        jump_percent: Option<f64>,
    ) -> Result<Fitted, Warning> {
        match self.movement {
            Some(Movement::Moves) => {}
            Some(Movement::Still) if self.highest_mbar() < LEAST_PUMPED_MBAR => {
                self.movement = Some(Movement::CannotTell);
                return Err(Warning::UnmovedUpTo {
                    mbar: self.highest_mbar(),
                });
            }
            Some(Movement::Still) => {
                return Err(Warning::StillUnderVacuum {
                    mbar: self.highest_mbar(),
                });
            }
            Some(Movement::CannotTell) | None => return Err(Warning::MovementUnderVacuumUnknown),
        }
        let mut vacuums: Vec<f64> = self.points.iter().map(|p| p.vacuum_mbar).collect();
        vacuums.sort_by(f64::total_cmp);
        vacuums.dedup();
        if self.points.len() < LEAST_READINGS || vacuums.len() < LEAST_VACUUMS {
            return Err(Warning::TooFewVacuums {
                readings: self.points.len(),
                vacuums: vacuums.len(),
                least: LEAST_READINGS,
            });
        }
        if let Some(odd) = states.iter().find(|state| state.vacuum.mbar() > MOST_OF_A_PUMP_MBAR) {
            return Err(Warning::VacuumBeyondPumps {
                mbar: odd.vacuum.mbar(),
            });
        }
        if let Some((odd, fits_mbar)) = mistyped(&points(states, means)) {
            return Err(Warning::VacuumMistyped {
                mbar: states[odd].vacuum.mbar(),
                fits_mbar,
            });
        }
        let (curve, fitted) = fit(states, means, distance_mm, jump_percent).ok_or(Warning::NoCurve)?;
        let residuals = fitted.model.residuals(&fitted.parameters);
        for (shown, (off, sd)) in self.points.iter_mut().zip(residuals) {
            shown.fitted_percent = Some(shown.percent - off);
            shown.residual_percent = Some(off);
            shown.residual_sds = Some(off / sd);
        }
        self.stick_slip = fitted.sticking;
        self.warnings.extend(fitted.slip.clone());
        self.polarity = polarity(&curve, vacuum_raises);
        self.warnings
            .extend(warnings(&curve, fitted.model.has_rest, self.polarity));
        self.curve = Some(curve);
        Ok(fitted)
    }
}

fn vacuum_steps(states: &[State<'_>], means: &[Mean], least_percent: f64) -> Vec<VacuumStep> {
    let mut steps = Vec::new();
    for branch in [Branch::Applying, Branch::Releasing] {
        let of: Vec<usize> = (0..states.len()).filter(|&n| states[n].branch == branch).collect();
        for pair in of.windows(2) {
            let (percent, u95_percent) = means[pair[1]].travel_from(&means[pair[0]]);
            steps.push(VacuumStep {
                from_mbar: states[pair[0]].vacuum.mbar(),
                to_mbar: states[pair[1]].vacuum.mbar(),
                branch,
                percent,
                u95_percent,
                movement: Movement::judge(percent, u95_percent, least_percent, pairs(states.len())),
            });
        }
    }
    steps
}

fn polarity(curve: &Curve, vacuum_raises: Option<bool>) -> Option<Polarity> {
    let gain = &curve.gain_percent_per_100_mbar;
    if gain.holds(0.0) {
        return None;
    }
    let raises = gain.value < 0.0;
    Some(Polarity {
        vacuum_raises: raises,
        as_system_says: vacuum_raises.map(|stated| stated == raises),
    })
}

fn warnings(curve: &Curve, has_rest: bool, polarity: Option<Polarity>) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if let Some(polarity) = polarity {
        let raises = polarity.vacuum_raises;
        if polarity.as_system_says == Some(false) {
            warnings.push(Warning::PolarityAgainstSystem { raises });
        }
        if !raises {
            warnings.push(Warning::VacuumLowersBeam);
        }
    }
    if !has_rest {
        warnings.push(Warning::NoReadingAtRest);
    }
    if curve.widened_by > 1.0 {
        warnings.push(Warning::ResponseScatters {
            factor: curve.widened_by,
        });
    }
    if let Some(hysteresis) = &curve.hysteresis
        && hysteresis.gap_mbar.high.is_some_and(|high| high < 0.0)
    {
        warnings.push(Warning::BranchesExchanged);
    }
    warnings
}
