//! Response to vacuum: what the beam does as a hand pump applies and releases it.

use super::curve::{self, DEAD, GAIN, GAP, NO_STOP_MBAR, PARAMETERS, Point, REST, STOP, Theta, inclination_percent};
use super::fitted::{Best, Data, Fixed, RISE_95};
use super::motion::two_sided_quantile;
use super::travel::{Mean, Series, by_lamp_and_stage};
use super::{FALSE_MOVES, Interval, Movement, pairs};
use crate::aim::{Aim, COVERAGE_FACTOR_95, ShotReading};
use crate::fit::normal;
use crate::record::{AdjusterLimits, Branch, Side, Stage, Vacuum};
use serde::{Deserialize, Serialize};

/// What the pump's test showed of one lamp at one stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Response {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Whether vacuum moves the beam, from all pairs of readings; `None` where there are fewer than two.
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
    /// What one should know of it, in plain words.
    pub warnings: Vec<String>,
}

/// One reading against vacuum.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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

/// The fitted curve: at rest up to the dead band, straight with the gain, at rest from the end stop on; released, the same
/// at less vacuum by the hysteresis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// Inclination without vacuum, per cent; its interval has everything in it.
    pub rest_percent: Interval,
    /// Gain, per cent per 100 mbar, negative where vacuum raises the beam.
    pub gain_percent_per_100_mbar: Interval,
    /// Vacuum below which the beam does not move, mbar; `None` where no photo shows the beam without vacuum.
    pub dead_band_mbar: Option<Interval>,
    /// Vacuum above which it moves no further, mbar; `None` where the readings do not show one.
    pub end_stop_mbar: Option<Interval>,
    /// With 95 % certainty there is no end stop below this, mbar.
    pub no_end_stop_below_mbar: Option<f64>,
    /// Highest vacuum of the readings, from which it was released, mbar.
    pub highest_mbar: f64,
    /// Inclination at that vacuum less the one at rest, per cent.
    pub travel_percent: Interval,
    /// Releasing against applying; `None` without photos of both branches.
    pub hysteresis: Option<Hysteresis>,
    /// Sum of the squared distances in standard deviations.
    pub chi_square: f64,
    /// Readings less parameters.
    pub degrees_of_freedom: usize,
    /// Probability of a chi-square at least as large where curve and uncertainties are right.
    pub fit_probability: f64,
    /// Factor by which the intervals were widened because the readings scatter more than they should; else 1.
    pub widened_by: f64,
}

/// How far the releasing branch lies from the applying one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Hysteresis {
    /// Less vacuum at one inclination, mbar.
    pub gap_mbar: Interval,
    /// Largest difference of inclination at one vacuum, per cent.
    pub gap_percent: Interval,
    /// Area between the branches, per cent times mbar: what is lost to friction in one cycle.
    pub loss_area_percent_mbar: Interval,
}

/// Which way vacuum takes the beam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Polarity {
    /// True where vacuum raises the beam, so that it comes down when vacuum is lost.
    pub vacuum_raises: bool,
    /// Whether that is what the system file says; `None` without one.
    pub as_system_says: Option<bool>,
}

/// Whether a movement sticks and slips.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StickSlip {
    /// A step that should move the beam does not, and one beside it moves it by more than it should, both surely.
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
        let releasing = branch == Branch::Releasing;
        inclination_percent(&self.theta(), self.highest_mbar, vacuum_mbar, releasing)
    }

    /// Vacuums at which the curve's straight parts meet, with both its ends, mbar, rising: from none to the highest of the
    /// readings.
    #[must_use]
    pub fn corners_mbar(&self, branch: Branch) -> Vec<f64> {
        let releasing = branch == Branch::Releasing;
        let (low, high) = curve::breaks_mbar(&self.theta(), self.highest_mbar, releasing);
        let inner = [low, high]
            .into_iter()
            .filter(|c| (0.0..=self.highest_mbar).contains(c));
        [0.0].into_iter().chain(inner).chain([self.highest_mbar]).collect()
    }

    fn theta(&self) -> Theta {
        let mut theta = [0.0; PARAMETERS];
        theta[REST] = self.rest_percent.value;
        theta[GAIN] = self.gain_percent_per_100_mbar.value;
        theta[DEAD] = self.dead_band_mbar.map_or(0.0, |i| i.value);
        theta[STOP] = self.end_stop_mbar.map_or(NO_STOP_MBAR, |i| i.value);
        theta[GAP] = self.hysteresis.map_or(0.0, |h| h.gap_mbar.value);
        theta
    }
}

/// What the leak-down needs of a fitted response.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    /// The readings.
    pub data: Data,
    /// The best parameters.
    pub theta: Theta,
    /// Which of them the readings do not hold.
    pub fixed: Fixed,
    /// Whether there are photos of the releasing branch.
    pub has_releasing: bool,
    /// Factor by which the readings scatter more than they should, at least 1.
    pub scale: f64,
}

/// A state of the pump and its photos.
struct State<'a> {
    vacuum: Vacuum,
    sd: Vacuum,
    branch: Branch,
    aims: Vec<&'a Aim>,
}

/// The responses of all lamps and stages with a pump.
pub(super) fn responses(
    readings: &[ShotReading],
    limits: &AdjusterLimits,
    vacuum_raises: Option<bool>,
) -> Vec<(Response, Option<Fitted>)> {
    by_lamp_and_stage(readings, |r| {
        !r.shot.sealed && r.shot.vacuum.is_some() && r.result.is_ok()
    })
    .into_iter()
    .map(|(series, members)| {
        let (states, falls) = states(&members, limits);
        response(series, &states, falls, limits, vacuum_raises)
    })
    .collect()
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

/// Fewer readings than this hold no curve.
const LEAST_READINGS: usize = 5;
/// At fewer vacuums than this neither do they.
const LEAST_VACUUMS: usize = 4;
/// An end stop is stated where it lowers chi-square by this many times ln n: the Bayesian information criterion (G. Schwarz,
/// Ann. Statist. 6 (1978) 461, from memory) with a corner counted as two parameters, since its place was searched for, too.
const STOP_COSTS: f64 = 2.0;
/// Below this probability the readings scatter more than they should, and the intervals are widened by the root of chi-square
/// per degree of freedom (R. T. Birge, Phys. Rev. 40 (1932) 207, from memory).
const SCATTERS: f64 = 0.01;

fn response(
    (lamp, stage): Series,
    states: &[State<'_>],
    falls: bool,
    limits: &AdjusterLimits,
    vacuum_raises: Option<bool>,
) -> (Response, Option<Fitted>) {
    let means: Vec<Mean> = states.iter().map(|s| Mean::of(&s.aims)).collect();
    let mut response = Response {
        lamp,
        stage,
        movement: movement(&means, limits.least_travel_percent),
        points: states
            .iter()
            .zip(&means)
            .map(|(state, mean)| ResponsePoint {
                vacuum_mbar: state.vacuum.mbar(),
                vacuum_u95_mbar: COVERAGE_FACTOR_95 * state.sd.mbar(),
                branch: state.branch,
                photos: mean.photos,
                percent: mean.percent,
                reading_u95_percent: COVERAGE_FACTOR_95 * mean.own_variance_percent2.sqrt(),
                fitted_percent: None,
                residual_percent: None,
                residual_sds: None,
            })
            .collect(),
        steps: vacuum_steps(states, &means, limits.least_travel_percent),
        curve: None,
        polarity: None,
        stick_slip: StickSlip::CannotTell,
        warnings: Vec::new(),
    };
    if falls {
        response.warnings.push(
            "the vacuum falls from one photo to the next, and the job does not say so: give branch = \"releasing\" to those \
             photos, or their hysteresis counts as scatter"
                .to_owned(),
        );
    }
    match response.movement {
        Some(Movement::Moves) => {}
        Some(Movement::Still) => {
            response
                .warnings
                .push("the beam does not move with vacuum, so that there is no response to fit".to_owned());
            return (response, None);
        }
        Some(Movement::CannotTell) | None => {
            response.warnings.push(
                "it cannot be told whether the beam moves with vacuum: take photos from 0 mbar to the pump's highest vacuum"
                    .to_owned(),
            );
            return (response, None);
        }
    }
    let mut vacuums: Vec<f64> = response.points.iter().map(|p| p.vacuum_mbar).collect();
    vacuums.sort_by(f64::total_cmp);
    vacuums.dedup();
    if response.points.len() < LEAST_READINGS || vacuums.len() < LEAST_VACUUMS {
        response.warnings.push(format!(
            "{} readings at {} vacuums do not hold a curve: take at least {LEAST_READINGS}, better 8, from 0 mbar up, and \
             the same down again",
            response.points.len(),
            vacuums.len()
        ));
        return (response, None);
    }
    let Some((curve, fitted)) = fit(states, &means) else {
        response.warnings.push(
            "no curve could be fitted; look whether a photo stands at the wrong vacuum in the job file".to_owned(),
        );
        return (response, None);
    };
    for (shown, point) in response.points.iter_mut().zip(&fitted.data.points) {
        let turn = fitted.data.turn_mbar;
        let at = inclination_percent(&fitted.theta, turn, point.vacuum_mbar, point.releasing);
        shown.fitted_percent = Some(at);
        shown.residual_percent = Some(point.percent - at);
        shown.residual_sds = Some(curve::distance(&fitted.theta, turn, point));
    }
    let slips;
    (response.stick_slip, slips) = stick_slip(&fitted);
    response.warnings.extend(slips);
    response.polarity = polarity(&curve, vacuum_raises);
    response.warnings.extend(warnings(&curve, response.polarity));
    response.curve = Some(curve);
    (response, Some(fitted))
}

/// Whether any two of the readings differ; see [`Movement`].
fn movement(means: &[Mean], least_percent: f64) -> Option<Movement> {
    let tests = pairs(means.len());
    let mut all: Option<Movement> = None;
    for (n, from) in means.iter().enumerate() {
        for to in &means[n + 1..] {
            let (percent, variance) = to.difference(from);
            let one = Movement::judge(percent, COVERAGE_FACTOR_95 * variance.sqrt(), least_percent, tests);
            if one == Movement::Moves {
                return Some(Movement::Moves);
            }
            all = Some(match all {
                None | Some(Movement::Still) => one,
                Some(other) => other,
            });
        }
    }
    all
}

fn vacuum_steps(states: &[State<'_>], means: &[Mean], least_percent: f64) -> Vec<VacuumStep> {
    let mut steps = Vec::new();
    for branch in [Branch::Applying, Branch::Releasing] {
        let of: Vec<usize> = (0..states.len()).filter(|&n| states[n].branch == branch).collect();
        for pair in of.windows(2) {
            let (percent, variance) = means[pair[1]].difference(&means[pair[0]]);
            let u95_percent = COVERAGE_FACTOR_95 * variance.sqrt();
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

/// The best curve with its intervals.
fn fit(states: &[State<'_>], means: &[Mean]) -> Option<(Curve, Fitted)> {
    let points: Vec<Point> = states
        .iter()
        .zip(means)
        .map(|(state, mean)| Point {
            vacuum_mbar: state.vacuum.mbar(),
            vacuum_sd_mbar: state.sd.mbar(),
            percent: mean.percent,
            // A reading without any uncertainty would take the whole fit.
            sd_percent: mean.own_variance_percent2.sqrt().max(1e-4),
            releasing: state.branch == Branch::Releasing,
        })
        .collect();
    let reach = points.iter().map(|p| p.vacuum_mbar).fold(0.0, f64::max);
    let has_releasing = points.iter().any(|p| p.releasing) && points.iter().any(|p| !p.releasing);
    let has_rest = points
        .iter()
        .any(|p| p.vacuum_mbar <= (2.0 * p.vacuum_sd_mbar).max(1.0));
    let data = Data {
        points,
        turn_mbar: reach,
    };
    let mut fixed: Fixed = [None; PARAMETERS];
    if !has_releasing {
        fixed[GAP] = Some(0.0);
    }
    if !has_rest {
        fixed[DEAD] = Some(0.0);
    }
    let mut no_stop = fixed;
    no_stop[STOP] = Some(NO_STOP_MBAR);
    // Intervals are those of the full model, so that they hold whichever of the two is right.
    let mut full = data.minimise(&fixed, 14, &[])?;
    let mut plain = data.minimise(&no_stop, 14, &[full.theta])?;
    let mut profiles = [(None, None); PARAMETERS];
    let mut scale2 = 1.0;
    'again: for _ in 0..5 {
        if plain.chi_square < full.chi_square {
            full = plain;
        }
        let freedom = degrees_of_freedom(data.points.len(), &fixed);
        scale2 = if freedom > 0 && chi_square_tail(full.chi_square, freedom) < SCATTERS {
            full.chi_square / freedom as f64
        } else {
            1.0
        };
        // Steps of the profile start from the covariance; where there is no stop, none of its own is needed.
        if let Some((best, _)) = data.descend_within(&full.theta, &fixed) {
            full.sd = best.sd;
        }
        for k in (0..PARAMETERS).filter(|&k| fixed[k].is_none()) {
            let bounds = match k {
                REST => ((full.theta[REST] - 5.0, full.theta[REST] + 5.0), (false, false)),
                GAIN => ((full.theta[GAIN] - 20.0, full.theta[GAIN] + 20.0), (false, false)),
                DEAD => ((0.0, reach), (true, false)),
                STOP => ((0.02 * reach, NO_STOP_MBAR), (false, false)),
                _ => ((-reach, reach), (false, false)),
            };
            match data.profile(k, &full, &fixed, RISE_95 * scale2, bounds) {
                Ok(ends) => profiles[k] = ends,
                Err(better) => {
                    full = *better;
                    continue 'again;
                }
            }
        }
        break;
    }
    if let Some(again) = data.minimise(&no_stop, 7, &[full.theta, plain.theta]) {
        plain = again;
    }
    let count = data.points.len() as f64;
    let has_stop = plain.chi_square - full.chi_square > STOP_COSTS * count.ln() * scale2 && full.theta[STOP] < reach;
    let (chosen, chosen_fixed) = if has_stop { (full, fixed) } else { (plain, no_stop) };
    let freedom = degrees_of_freedom(data.points.len(), &chosen_fixed);
    let shifts = shifts(&data, &chosen, &chosen_fixed, means);
    let theta = chosen.theta;
    let common_u95 = |of: &dyn Fn(&Theta) -> f64| {
        let variance: f64 = shifts.iter().map(|shifted| (of(shifted) - of(&theta)).powi(2)).sum();
        COVERAGE_FACTOR_95 * variance.sqrt()
    };
    let interval = |k: usize| {
        // Where the simpler curve is taken although the other fits a little better, the interval holds both.
        let low = profiles[k].0.map(|low| low.min(theta[k]));
        let high = profiles[k].1.map(|high| high.max(theta[k]));
        Interval::new(theta[k], low, high).widened(common_u95(&|theta: &Theta| theta[k]))
    };
    let covariance = data.descend_within(&theta, &chosen_fixed).map(|(_, c)| c)?;
    // By the derivatives (JCGM 100:2008, 5.1.2), for what is no parameter itself.
    let derived = |of: &dyn Fn(&Theta) -> f64| {
        let slope = |k: usize| {
            let step = super::fitted::STEPS[k];
            let (mut up, mut down) = (theta, theta);
            up[k] += step;
            down[k] -= step;
            (of(&up) - of(&down)) / (2.0 * step)
        };
        let slopes: Vec<f64> = (0..PARAMETERS).map(slope).collect();
        let mut variance = 0.0;
        for k in 0..PARAMETERS {
            for l in 0..PARAMETERS {
                variance += slopes[k] * covariance[k][l] * slopes[l];
            }
        }
        Interval::even(of(&theta), COVERAGE_FACTOR_95 * (scale2 * variance).sqrt()).widened(common_u95(of))
    };
    let loss = |theta: &Theta| loop_of(theta, reach);
    let curve = Curve {
        rest_percent: interval(REST),
        gain_percent_per_100_mbar: interval(GAIN),
        dead_band_mbar: has_rest.then(|| interval(DEAD)),
        end_stop_mbar: has_stop.then(|| interval(STOP)),
        no_end_stop_below_mbar: if has_stop {
            None
        } else {
            profiles[STOP].0.map(|low| low.min(reach))
        },
        highest_mbar: reach,
        travel_percent: derived(&|theta: &Theta| inclination_percent(theta, reach, reach, false) - theta[REST]),
        hysteresis: has_releasing.then(|| Hysteresis {
            gap_mbar: interval(GAP),
            gap_percent: derived(&|theta: &Theta| loss(theta).0),
            loss_area_percent_mbar: derived(&|theta: &Theta| loss(theta).1),
        }),
        chi_square: chosen.chi_square,
        degrees_of_freedom: freedom,
        fit_probability: chi_square_tail(chosen.chi_square, freedom),
        widened_by: scale2.sqrt(),
    };
    let fitted = Fitted {
        data,
        theta,
        fixed: chosen_fixed,
        has_releasing,
        scale: scale2.sqrt(),
    };
    Some((curve, fitted))
}

fn degrees_of_freedom(readings: usize, fixed: &Fixed) -> usize {
    readings.saturating_sub(fixed.iter().filter(|f| f.is_none()).count())
}

/// What one standard deviation of each source that the readings share does to the parameters: the fit once more with all
/// readings shifted by it.
fn shifts(data: &Data, best: &Best, fixed: &Fixed, means: &[Mean]) -> Vec<Theta> {
    let list = |mean: &Mean| {
        mean.common
            .lamp
            .iter()
            .chain(&mean.common.bay)
            .copied()
            .collect::<Vec<f64>>()
    };
    let effects: Vec<Vec<f64>> = means.iter().map(list).collect();
    let sources = effects.iter().map(Vec::len).max().unwrap_or(0);
    (0..sources)
        .filter_map(|source| {
            let mut shifted = data.clone();
            for (point, effects) in shifted.points.iter_mut().zip(&effects) {
                point.percent += effects.get(source).copied().unwrap_or(0.0);
            }
            shifted.descend_within(&best.theta, fixed).map(|(b, _)| b.theta)
        })
        .collect()
}

/// Largest difference of inclination between the branches at one vacuum, per cent, and the area between them from none to
/// the highest vacuum, per cent times mbar. Both branches are straight between their corners, so that corners are enough.
fn loop_of(theta: &Theta, highest_mbar: f64) -> (f64, f64) {
    let mut corners = vec![0.0, highest_mbar];
    for releasing in [false, true] {
        let (low, high) = curve::breaks_mbar(theta, highest_mbar, releasing);
        corners.extend([low, high]);
    }
    corners.retain(|c| (0.0..=highest_mbar).contains(c));
    corners.sort_by(f64::total_cmp);
    let sign = theta[GAIN].signum();
    let apart = |vacuum: f64| {
        let at = |releasing| inclination_percent(theta, highest_mbar, vacuum, releasing);
        sign * (at(true) - at(false))
    };
    let largest = corners
        .iter()
        .map(|&c| apart(c))
        .max_by(|a, b| a.abs().total_cmp(&b.abs()))
        .unwrap_or(0.0);
    let area = corners
        .windows(2)
        .map(|c| 0.5 * (c[1] - c[0]) * (apart(c[0]) + apart(c[1])))
        .sum();
    (largest, area)
}

/// Probability of a chi-square at least this large (M. Abramowitz and I. A. Stegun, *Handbook of Mathematical Functions*,
/// 26.4.17: Wilson and Hilferty's cube root; good to some 0.005, which is enough for a warning).
fn chi_square_tail(chi_square: f64, degrees_of_freedom: usize) -> f64 {
    if degrees_of_freedom == 0 {
        return 1.0;
    }
    let spread = 2.0 / (9.0 * degrees_of_freedom as f64);
    let root = (chi_square / degrees_of_freedom as f64).cbrt();
    normal::upper_tail((root - (1.0 - spread)) / spread.sqrt())
}

/// Sticking and slipping: of two steps side by side on the slope, one moves the beam by less than half of what the curve
/// says, the other by more than it says, each beyond what its uncertainty allows once in 200 runs over all steps.
fn stick_slip(fitted: &Fitted) -> (StickSlip, Option<String>) {
    let (theta, turn) = (&fitted.theta, fitted.data.turn_mbar);
    /// A step's expected and seen change along the movement, per cent, its standard deviation, and its vacuums.
    struct Seen {
        expected: f64,
        seen: f64,
        sd: f64,
        vacuums: [f64; 2],
    }
    let mut runs: Vec<Vec<Seen>> = Vec::new();
    for releasing in [false, true] {
        let of: Vec<&Point> = fitted.data.points.iter().filter(|p| p.releasing == releasing).collect();
        let steps = of.windows(2).map(|pair| {
            let at = |p: &Point| inclination_percent(theta, turn, p.vacuum_mbar, releasing);
            let expected = at(pair[1]) - at(pair[0]);
            let sign = if expected < 0.0 { -1.0 } else { 1.0 };
            let slope = theta[GAIN] / 100.0;
            let variance: f64 = pair
                .iter()
                .map(|p| p.sd_percent.powi(2) + (slope * p.vacuum_sd_mbar).powi(2))
                .sum();
            Seen {
                expected: expected.abs(),
                seen: sign * (pair[1].percent - pair[0].percent),
                sd: variance.sqrt(),
                vacuums: [pair[0].vacuum_mbar, pair[1].vacuum_mbar],
            }
        });
        runs.push(steps.collect());
    }
    let count = runs.iter().flatten().count();
    let sure = two_sided_quantile(FALSE_MOVES / count.max(1) as f64);
    let testable = |s: &Seen| 0.5 * s.expected > sure * s.sd;
    let stuck = |s: &Seen| testable(s) && s.seen < 0.5 * s.expected && s.expected - s.seen > sure * s.sd;
    let slipped = |s: &Seen| s.seen - s.expected > sure * s.sd;
    for pair in runs.iter().flat_map(|run| run.windows(2)) {
        let (a, b) = (&pair[0], &pair[1]);
        let (plateau, jump) = if stuck(a) && slipped(b) {
            (a, b)
        } else if stuck(b) && slipped(a) {
            (b, a)
        } else {
            continue;
        };
        let words = format!(
            "stick-slip: from {:.0} to {:.0} mbar the beam stands still, from {:.0} to {:.0} mbar it jumps by {:.2} % where \
             {:.2} % would be its share; look for a joint that binds",
            plateau.vacuums[0], plateau.vacuums[1], jump.vacuums[0], jump.vacuums[1], jump.seen, jump.expected
        );
        return (StickSlip::Seen, Some(words));
    }
    if runs.iter().flatten().filter(|s| testable(s)).count() >= 2 {
        (StickSlip::NotSeen, None)
    } else {
        (StickSlip::CannotTell, None)
    }
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

fn warnings(curve: &Curve, polarity: Option<Polarity>) -> Vec<String> {
    let mut warnings = Vec::new();
    if let Some(polarity) = polarity {
        let way = if polarity.vacuum_raises { "raises" } else { "lowers" };
        if polarity.as_system_says == Some(false) {
            warnings.push(format!(
                "vacuum {way} the beam, and the system file says the opposite: check which system it is, and that the \
                 vacuums in the job are those of their photos"
            ));
        }
        if !polarity.vacuum_raises {
            warnings.push(
                "vacuum lowers the beam, so that it comes up when vacuum is lost: on a failure the beam must not come up \
                 (UN R48 and 76/756/EEC, from memory)"
                    .to_owned(),
            );
        }
    }
    if curve.dead_band_mbar.is_none() {
        warnings.push(
            "no photo shows the beam without vacuum, so that the dead band cannot be told; add one at 0 mbar"
                .to_owned(),
        );
    }
    if curve.widened_by > 1.0 {
        warnings.push(format!(
            "the readings scatter about the curve {:.1} times as much as their uncertainties say, and the intervals were \
             widened by that; the gauge may be coarser than vacuum_sd, or the movement not smooth",
            curve.widened_by
        ));
    }
    if let Some(hysteresis) = &curve.hysteresis
        && hysteresis.gap_mbar.high.is_some_and(|high| high < 0.0)
    {
        warnings.push(
            "released, the beam lies behind where it was when vacuum was applied, which friction cannot do; are the \
             branches in the job file exchanged?"
                .to_owned(),
        );
    }
    warnings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loop_is_that_of_a_parallelogram() {
        // By hand: 40 mbar at 0.5 % per 100 mbar are 0.2 %; a parallelogram 40 mbar wide and 1.5 % high has 60 % mbar.
        let (gap, area) = loop_of(&[2.0, -0.5, 60.0, 360.0, 40.0], 450.0);
        assert!((gap - 0.2).abs() < 1e-12 && (area - 60.0).abs() < 1e-9, "{gap} {area}");
        // Turned at 260 mbar the travel is 1.0 %, and the area 40.
        let (gap, area) = loop_of(&[2.0, 0.5, 60.0, 360.0, 40.0], 260.0);
        assert!((gap - 0.2).abs() < 1e-12 && (area - 40.0).abs() < 1e-9, "{gap} {area}");
    }

    #[test]
    fn the_tail_of_chi_square_is_near_the_tables() {
        // Upper 5 % and 1 % points (any table; from memory): 18.307 and 23.209 for 10, 11.070 and 15.086 for 5.
        for (chi_square, freedom, tail) in [
            (18.307, 10, 0.05),
            (23.209, 10, 0.01),
            (11.070, 5, 0.05),
            (15.086, 5, 0.01),
        ] {
            let found = chi_square_tail(chi_square, freedom);
            assert!((found - tail).abs() < 0.0015, "{chi_square}: {found}");
        }
    }
}
