//! The response that readings leave possible, with its intervals.
//!
//! Models with an end stop and without one are both sampled ([`super::super::posterior`]) and weighed by their evidence; each
//! interval is that of both together, so that it holds whichever of the two is right.

use super::super::curve::{GAIN, NO_STOP_MBAR, PARAMETERS, Point, REST, STOP, Theta};
use super::super::fitted::{Data, Fixed};
use super::super::mean::Mean;
use super::super::posterior::{self, Model};
use super::super::sample::{Sample, quantile};
use super::super::shape::Shape;
use super::stick_slip::sticking;
use super::{Curve, Fitted, Hysteresis, Interval, State};
use crate::aim::COVERAGE_FACTOR_95;
use crate::fit::chi_square_tail;
use crate::record::Branch;

/// An end stop is stated where it is this probable.
const SURE_STOP: f64 = 0.95;
/// Below this probability the readings scatter more than they should (R. T. Birge, Phys. Rev. 40 (1932) 207, from memory).
pub(in crate::adjuster) const SCATTERS: f64 = 0.01;
/// Below this one no smooth movement makes them scatter so.
const UNSMOOTH: f64 = 0.0003;
/// Share of the gauge's standard deviation that is independent from reading to reading, where scatter is looked for.
const GAUGE_SCATTER: f64 = 0.6;
/// Scatter of a movement that is smooth, per cent (common practice, no source).
const LEAST_SCATTER_PERCENT: f64 = 0.003;
/// Places of the grid of corners from which the search starts.
const FINENESS: usize = 8;

/// The response with its intervals.
pub(super) fn fit(
    states: &[State<'_>],
    means: &[Mean],
    distance_mm: f64,
    jump_percent: Option<f64>,
) -> Option<(Curve, Fitted)> {
    let readings = Readings::of(states, means);
    let models = [true, false].map(|has_stop| readings.sampled(has_stop));
    let weighed = Weighed::of(models.into_iter().flatten().collect())?;
    let fitted = weighed.fitted(&readings, jump_percent);
    let curve = weighed.curve(&readings, &fitted, means, distance_mm);
    Some((curve, fitted))
}

/// The readings, and what they can hold.
struct Readings {
    data: Data,
    has_rest: bool,
    has_releasing: bool,
    fixed: Fixed,
}

impl Readings {
    fn of(states: &[State<'_>], means: &[Mean]) -> Self {
        let points: Vec<Point> = super::points(states, means);
        let has_releasing = points.iter().any(|p| p.releasing) && points.iter().any(|p| !p.releasing);
        let has_rest = points
            .iter()
            .any(|p| p.vacuum_mbar <= (2.0 * p.vacuum_sd_mbar).max(1.0));
        let mut fixed: Fixed = [None; PARAMETERS];
        if !has_releasing {
            fixed[super::GAP] = Some(0.0);
        }
        if !has_rest {
            fixed[super::DEAD] = Some(0.0);
        }
        let turn_mbar = points.iter().map(|p| p.vacuum_mbar).fold(0.0, f64::max);
        Self {
            data: Data { points, turn_mbar },
            has_rest,
            has_releasing,
            fixed,
        }
    }

    /// The gauge's independent error as one of the inclination on a slope of `gain`, per cent.
    fn scatter_percent(&self, gain_percent_per_100_mbar: f64, share: f64) -> f64 {
        let count = self.data.points.len() as f64;
        let sd_mbar = self.data.points.iter().map(|p| p.vacuum_sd_mbar).sum::<f64>() / count;
        (share * gain_percent_per_100_mbar / 100.0 * sd_mbar).hypot(LEAST_SCATTER_PERCENT)
    }

    fn sampled(&self, has_stop: bool) -> Option<(Model, Sample)> {
        let mut fixed = self.fixed;
        if !has_stop {
            fixed[STOP] = Some(NO_STOP_MBAR);
        }
        let best = self.data.minimise(&fixed, FINENESS)?;
        let scatter = self.scatter_percent(best.theta[GAIN], GAUGE_SCATTER);
        let has = (self.has_rest, self.has_releasing);
        let model = Model::new(self.data.points.clone(), has_stop, has, scatter);
        let sample = model.sample(&[model.start(&best.theta)])?;
        Some((model, sample))
    }
}

/// The models with their probabilities.
struct Weighed {
    models: Vec<(Model, Sample, f64)>,
    /// Probability that there is an end stop among the readings.
    stop_probability: f64,
    /// The one that is stated.
    chosen: usize,
}

impl Weighed {
    fn of(models: Vec<(Model, Sample)>) -> Option<Self> {
        let most = models
            .iter()
            .map(|(_, s)| s.log_evidence)
            .fold(f64::NEG_INFINITY, f64::max);
        let odds = |sample: &Sample| (sample.log_evidence - most).exp();
        let sum: f64 = models.iter().map(|(_, sample)| odds(sample)).sum();
        let models: Vec<(Model, Sample, f64)> = models
            .into_iter()
            .map(|(model, sample)| {
                let probability = odds(&sample) / sum;
                (model, sample, probability)
            })
            .collect();
        let stop_probability = models.iter().filter(|(m, ..)| m.has_stop).map(|(.., p)| p).sum();
        let wanted = stop_probability > SURE_STOP;
        let chosen = models
            .iter()
            .position(|(m, ..)| m.has_stop == wanted)
            .or((!models.is_empty()).then_some(0))?;
        Some(Self {
            models,
            stop_probability,
            chosen,
        })
    }

    /// Median of the model that is stated, and the interval of all of them.
    fn interval(&self, of: &dyn Fn(&Shape) -> f64) -> Interval {
        let mut all = Vec::new();
        for (model, sample, probability) in &self.models {
            all.extend(sample.values(*probability, |p| of(&model.shape(p))));
        }
        let (low, high) = (quantile(&mut all, 0.025), quantile(&mut all, 0.975));
        let value = self.median(of);
        Interval::new(value, low.map(|low| low.min(value)), high.map(|high| high.max(value)))
    }

    /// As [`Weighed::interval`], of what a movement that lags by jumps shows as larger by `lags` of its mean lag's vacuum: half of
    /// the probability is that what scatters beyond `gauge_percent` lags.
    fn interval_with_lag(&self, of: &dyn Fn(&Shape) -> f64, lags: f64, gauge_percent: f64) -> Interval {
        let plain = self.interval(of);
        let mut all = Vec::new();
        for (model, sample, probability) in &self.models {
            let less = |p: &[f64]| {
                let shape = model.shape(p);
                let scatter2 = (2.0 * p[posterior::SCATTER]).exp() - gauge_percent.powi(2);
                let lag_percent = 3f64.sqrt() * scatter2.max(0.0).sqrt();
                of(&shape) - lags * 100.0 * lag_percent / shape.gain_percent_per_100_mbar.abs()
            };
            all.extend(sample.values(0.5 * probability, |p| of(&model.shape(p))));
            all.extend(sample.values(0.5 * probability, less));
        }
        let low = quantile(&mut all, 0.025).map(|low| low.min(plain.value));
        Interval::new(plain.value, low, plain.high)
    }

    fn median(&self, of: &dyn Fn(&Shape) -> f64) -> f64 {
        let (model, sample, _) = &self.models[self.chosen];
        quantile(&mut sample.values(1.0, |p| of(&model.shape(p))), 0.5).unwrap_or(f64::NAN)
    }

    fn fitted(&self, readings: &Readings, jump_percent: Option<f64>) -> Fitted {
        let (model, sample, _) = &self.models[self.chosen];
        let middle = |k: usize| quantile(&mut sample.values(1.0, |p| p[k]), 0.5).unwrap_or(sample.best[k]);
        let parameters: Vec<f64> = (0..model.own()).map(middle).collect();
        let full = readings.scatter_percent(parameters[posterior::GAIN], 1.0);
        let chi_square = model.chi_square(&parameters, full);
        let freedom = readings.data.points.len().saturating_sub(readings.free(model.has_stop));
        let scatters = freedom > 0 && chi_square_tail(chi_square, freedom) < SCATTERS;
        let mut scatter = sample.values(1.0, |p| p[posterior::SCATTER].exp());
        let surely = quantile(&mut scatter, 0.02).is_some_and(|least| least > full);
        let excess = surely || chi_square_tail(chi_square, freedom) < UNSMOOTH;
        let by_scatter = parameters[posterior::SCATTER].exp() / full;
        let scale = match (scatters, excess) {
            (true, _) => (chi_square / freedom as f64).sqrt(),
            (false, true) => by_scatter.max(1.0),
            (false, false) => 1.0,
        };
        let (sticking, slip) = sticking(model, &parameters, excess, jump_percent);
        Fitted {
            model: model.clone(),
            shape: model.shape(&parameters),
            parameters,
            has_releasing: readings.has_releasing,
            chi_square,
            freedom,
            scale,
            sticking,
            slip,
            jump_percent,
            excess,
        }
    }

    fn curve(&self, readings: &Readings, fitted: &Fitted, means: &[Mean], distance_mm: f64) -> Curve {
        let reach = readings.data.turn_mbar;
        let shifts = shifts(&readings.data, &fitted.shape, readings, means);
        let common_u95 = |k: usize| {
            let variance: f64 = shifts.iter().map(|shift| shift[k].powi(2)).sum();
            COVERAGE_FACTOR_95 * variance.sqrt()
        };
        let has_stop = self.models[self.chosen].0.has_stop && self.stop_probability > SURE_STOP;
        // A beam that sticks lies behind what the corners say, by more than can be told.
        let smooth = !fitted.sticks();
        let gauge_percent = readings.scatter_percent(fitted.shape.gain_percent_per_100_mbar, GAUGE_SCATTER);
        let mut stops = Vec::new();
        for (model, sample, probability) in &self.models {
            let stop = |p: &[f64]| model.shape(p).stop_mbar.min(reach);
            stops.extend(sample.values(*probability, stop));
        }
        let no_stop_below = quantile(&mut stops, 0.025);
        let positive = |interval: Interval| {
            let at_least = |v: f64| v.max(0.0);
            Interval::new(
                at_least(interval.value),
                interval.low.map(at_least),
                interval.high.map(at_least),
            )
        };
        let lag_u95_percent = if smooth { 0.0 } else { fitted.lag_u95_percent() };
        let travel_percent = self.interval(&|s: &Shape| s.travel_percent()).widened(lag_u95_percent);
        Curve {
            rest_percent: self
                .interval(&|s| s.applied_percent(0.0))
                .widened(common_u95(REST))
                .widened(lag_u95_percent),
            gain_percent_per_100_mbar: self
                .interval(&|s| s.gain_percent_per_100_mbar)
                .widened(common_u95(GAIN))
                .widened(if smooth { 0.0 } else { fitted.lag_gain() }),
            dead_band_mbar: (readings.has_rest && smooth)
                .then(|| positive(self.interval_with_lag(&|s| s.dead_mbar, 1.0, gauge_percent))),
            end_stop_mbar: (has_stop && smooth).then(|| self.stop()),
            no_end_stop_below_mbar: no_stop_below.filter(|_| !has_stop && smooth),
            highest_mbar: reach,
            travel_percent: travel_percent.widened(common_u95(GAIN) * reach / 100.0),
            travel_wall_mm: travel_percent.scaled(distance_mm / 100.0),
            hysteresis: (readings.has_releasing && smooth).then(|| Hysteresis {
                gap_mbar: self.interval_with_lag(&|s| s.gap_mbar, 2.0, gauge_percent),
                gap_percent: self.interval(&|s| s.hysteresis_loop().0),
                loss_area_percent_mbar: self.interval(&|s| s.hysteresis_loop().1),
            }),
            shape: fitted.shape,
            chi_square: fitted.chi_square,
            degrees_of_freedom: fitted.freedom,
            fit_probability: chi_square_tail(fitted.chi_square, fitted.freedom),
            widened_by: fitted.scale,
        }
    }

    /// Of the models with a stop alone.
    fn stop(&self) -> Interval {
        let (model, sample, _) = &self.models[self.chosen];
        let mut values = sample.values(1.0, |p| model.shape(p).stop_mbar);
        let at = [0.5, 0.025, 0.975].map(|share| quantile(&mut values, share));
        Interval::new(at[0].unwrap_or(f64::NAN), at[1], at[2])
    }
}

impl Fitted {
    /// How far a movement that sticks may jump, per cent: what scatters as lags do that are evenly spread up to one jump, whose
    /// standard deviation is 1/√12 of it, or what was seen with the valve shut.
    fn most_jump_percent(&self) -> f64 {
        let by_scatter = 12f64.sqrt() * self.parameters[posterior::SCATTER].exp();
        self.jump_percent.unwrap_or(0.0).max(by_scatter)
    }

    /// 95 % of what such a lag makes of one inclination, per cent.
    fn lag_u95_percent(&self) -> f64 {
        COVERAGE_FACTOR_95 * self.most_jump_percent() / 12f64.sqrt()
    }

    /// What a beam that lags by up to one jump makes of the gain, per cent per 100 mbar: each corner is met a jump late.
    fn lag_gain(&self) -> f64 {
        let jump_percent = self.most_jump_percent();
        let travel_percent = self.shape.travel_percent().abs().max(jump_percent);
        (self.shape.gain_percent_per_100_mbar * jump_percent / travel_percent).abs()
    }
}

impl Readings {
    /// Parameters of a curve with corners that the readings hold.
    fn free(&self, has_stop: bool) -> usize {
        self.fixed.iter().filter(|f| f.is_none()).count() - usize::from(!has_stop)
    }
}

/// What one standard deviation of each source that the readings share does to rest and gain: the curve with corners once more
/// with all readings shifted by it.
fn shifts(data: &Data, shape: &Shape, readings: &Readings, means: &[Mean]) -> Vec<Theta> {
    let list = |mean: &Mean| -> Vec<f64> {
        let common = mean.common.lamp.iter().chain(&mean.common.bay);
        std::iter::once(&mean.alike_sd_percent).chain(common).copied().collect()
    };
    let effects: Vec<Vec<f64>> = means.iter().map(list).collect();
    let sources = effects.iter().map(Vec::len).max().unwrap_or(0);
    // Corners stay where they are: what is shared moves none of them.
    let mut fixed = readings.fixed;
    (fixed[super::DEAD], fixed[super::GAP]) = (Some(shape.dead_mbar.max(0.0)), Some(shape.gap_mbar));
    fixed[STOP] = Some(shape.stop_mbar);
    let start: Theta = [
        shape.rest_percent,
        shape.gain_percent_per_100_mbar,
        shape.dead_mbar.max(0.0),
        shape.stop_mbar,
        shape.gap_mbar,
    ];
    let Some((unshifted, _)) = data.descend_within(&start, &fixed) else {
        return Vec::new();
    };
    (0..sources)
        .filter_map(|source| {
            let mut shifted = data.clone();
            for (point, effects) in shifted.points.iter_mut().zip(&effects) {
                point.percent += effects.get(source).copied().unwrap_or(0.0);
            }
            let (found, _) = shifted.descend_within(&unshifted.theta, &fixed)?;
            let mut shift = found.theta;
            shift
                .iter_mut()
                .zip(&unshifted.theta)
                .for_each(|(to, from)| *to -= from);
            Some(shift)
        })
        .collect()
}

/// The readings against the gauge.
pub(super) fn points(states: &[State<'_>], means: &[Mean]) -> Vec<Point> {
    states
        .iter()
        .zip(means)
        .map(|(state, mean)| Point {
            vacuum_mbar: state.vacuum.mbar(),
            vacuum_sd_mbar: state.sd.mbar(),
            percent: mean.percent,
            // A reading without any uncertainty would take the whole fit.
            sd_percent: mean.differing_variance_percent2.sqrt().max(1e-4),
            releasing: state.branch == Branch::Releasing,
        })
        .collect()
}
