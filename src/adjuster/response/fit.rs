//! The best curve of a response, with its intervals.

use super::super::curve::{
    self, DEAD, GAIN, GAP, NO_STOP_MBAR, PARAMETERS, Point, REST, STOP, Theta, inclination_percent,
};
use super::super::fitted::{Best, Bound, Data, Fixed, RISE_95, STEPS};
use super::super::interval::propagated;
use super::super::mean::Mean;
use super::{Curve, Fitted, Hysteresis, Interval, State};
use crate::aim::COVERAGE_FACTOR_95;
use crate::fit::chi_square_tail;
use crate::record::Branch;

/// An end stop is stated where it lowers chi-square by this many times ln n: the Bayesian information criterion (G. Schwarz,
/// Ann. Statist. 6 (1978) 461, from memory) with a corner counted as two parameters, since its place was searched for, too.
const STOP_COSTS: f64 = 2.0;
/// Below this probability the readings scatter more than they should, and the intervals are widened by the root of chi-square
/// per degree of freedom (R. T. Birge, Phys. Rev. 40 (1932) 207, from memory).
pub(in crate::adjuster) const SCATTERS: f64 = 0.01;

/// The best curve with its intervals.
pub(super) fn fit(states: &[State<'_>], means: &[Mean]) -> Option<(Curve, Fitted)> {
    let model = Model::of(states, means);
    let minima = model.minima()?;
    let chosen = model.chosen(&minima);
    let curve = model.curve(&minima, &chosen, means)?;
    let fitted = Fitted {
        theta: chosen.best.theta,
        fixed: chosen.fixed,
        has_releasing: model.has_releasing,
        scale: minima.scale2.sqrt(),
        data: model.data,
    };
    Some((curve, fitted))
}

/// The readings, and which parameters they hold.
struct Model {
    data: Data,
    has_rest: bool,
    has_releasing: bool,
    /// What is held with an end stop, and without one.
    with_stop: Fixed,
    without_stop: Fixed,
}

/// The minima of chi-square with an end stop and without one.
struct Minima {
    with_stop: Best,
    without_stop: Best,
    /// Ends of each parameter's interval, with an end stop.
    ends: [(Option<f64>, Option<f64>); PARAMETERS],
    /// Chi-square per degree of freedom where the readings scatter, else 1.
    scale2: f64,
}

/// The curve that is stated.
struct Chosen {
    has_stop: bool,
    best: Best,
    fixed: Fixed,
}

impl Model {
    fn of(states: &[State<'_>], means: &[Mean]) -> Self {
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
        let has_releasing = points.iter().any(|p| p.releasing) && points.iter().any(|p| !p.releasing);
        let has_rest = points
            .iter()
            .any(|p| p.vacuum_mbar <= (2.0 * p.vacuum_sd_mbar).max(1.0));
        let mut with_stop: Fixed = [None; PARAMETERS];
        if !has_releasing {
            with_stop[GAP] = Some(0.0);
        }
        if !has_rest {
            with_stop[DEAD] = Some(0.0);
        }
        let mut without_stop = with_stop;
        without_stop[STOP] = Some(NO_STOP_MBAR);
        let turn_mbar = points.iter().map(|p| p.vacuum_mbar).fold(0.0, f64::max);
        Self {
            data: Data { points, turn_mbar },
            has_rest,
            has_releasing,
            with_stop,
            without_stop,
        }
    }

    fn minima(&self) -> Option<Minima> {
        let data = &self.data;
        // Intervals are those of the full model, so that they hold whichever of the two is right.
        let with_stop = data.minimise(&self.with_stop, 14, &[])?;
        let without_stop = data.minimise(&self.without_stop, 14, &[with_stop.theta])?;
        let mut minima = Minima {
            with_stop,
            without_stop,
            ends: [(None, None); PARAMETERS],
            scale2: 1.0,
        };
        // A better minimum that is met in following a parameter is gone on from.
        for _ in 0..5 {
            if minima.without_stop.chi_square < minima.with_stop.chi_square {
                minima.with_stop = minima.without_stop;
            }
            minima.scale2 = self.scale2(minima.with_stop.chi_square);
            // Steps of the profile start from the covariance; where there is no stop, none of its own is needed.
            if let Some((best, _)) = data.descend_within(&minima.with_stop.theta, &self.with_stop) {
                minima.with_stop.sd = best.sd;
            }
            match self.follow_all(&mut minima) {
                Ok(()) => break,
                Err(better) => minima.with_stop = *better,
            }
        }
        let warm = [minima.with_stop.theta, minima.without_stop.theta];
        if let Some(again) = data.minimise(&self.without_stop, 7, &warm) {
            minima.without_stop = again;
        }
        Some(minima)
    }

    fn scale2(&self, chi_square: f64) -> f64 {
        let freedom = self.degrees_of_freedom(&self.with_stop);
        if freedom > 0 && chi_square_tail(chi_square, freedom) < SCATTERS {
            chi_square / freedom as f64
        } else {
            1.0
        }
    }

    /// Finds the ends of each free parameter's interval.
    fn follow_all(&self, minima: &mut Minima) -> Result<(), Box<Best>> {
        let (reach, best) = (self.data.turn_mbar, minima.with_stop);
        for k in (0..PARAMETERS).filter(|&k| self.with_stop[k].is_none()) {
            let about = |wide: f64| [Bound::open(best.theta[k] - wide), Bound::open(best.theta[k] + wide)];
            let bounds = match k {
                REST => about(5.0),
                GAIN => about(20.0),
                DEAD => [
                    Bound {
                        value: 0.0,
                        of_nature: true,
                    },
                    Bound::open(reach),
                ],
                STOP => [Bound::open(0.02 * reach), Bound::open(NO_STOP_MBAR)],
                _ => [Bound::open(-reach), Bound::open(reach)],
            };
            let rise = RISE_95 * minima.scale2;
            minima.ends[k] = self.data.profile(k, &best, &self.with_stop, rise, bounds)?;
        }
        Ok(())
    }

    fn chosen(&self, minima: &Minima) -> Chosen {
        let (full, plain) = (minima.with_stop, minima.without_stop);
        let count = self.data.points.len() as f64;
        let gained = plain.chi_square - full.chi_square;
        let has_stop = gained > STOP_COSTS * count.ln() * minima.scale2 && full.theta[STOP] < self.data.turn_mbar;
        let (best, fixed) = if has_stop {
            (full, self.with_stop)
        } else {
            (plain, self.without_stop)
        };
        Chosen { has_stop, best, fixed }
    }

    fn curve(&self, minima: &Minima, chosen: &Chosen, means: &[Mean]) -> Option<Curve> {
        let (reach, scale2) = (self.data.turn_mbar, minima.scale2);
        let theta = chosen.best.theta;
        let shifts = shifts(&self.data, &chosen.best, &chosen.fixed, means);
        let common_u95 = |of: &dyn Fn(&Theta) -> f64| {
            let variance: f64 = shifts.iter().map(|shifted| (of(shifted) - of(&theta)).powi(2)).sum();
            COVERAGE_FACTOR_95 * variance.sqrt()
        };
        let interval = |k: usize| {
            // Where the simpler curve is taken although the other fits a little better, the interval holds both.
            let low = minima.ends[k].0.map(|low| low.min(theta[k]));
            let high = minima.ends[k].1.map(|high| high.max(theta[k]));
            Interval::new(theta[k], low, high).widened(common_u95(&|theta: &Theta| theta[k]))
        };
        let covariance = self.data.descend_within(&theta, &chosen.fixed).map(|(_, c)| c)?;
        // For what is no parameter itself.
        let derived = |of: &dyn Fn(&Theta) -> f64| {
            let variance = propagated(of, &theta, &STEPS, &|k, l| covariance[k][l]);
            Interval::even(of(&theta), COVERAGE_FACTOR_95 * (scale2 * variance).sqrt()).widened(common_u95(of))
        };
        let freedom = self.degrees_of_freedom(&chosen.fixed);
        let no_stop_below = minima.ends[STOP].0.map(|low| low.min(reach));
        Some(Curve {
            rest_percent: interval(REST),
            gain_percent_per_100_mbar: interval(GAIN),
            dead_band_mbar: self.has_rest.then(|| interval(DEAD)),
            end_stop_mbar: chosen.has_stop.then(|| interval(STOP)),
            no_end_stop_below_mbar: no_stop_below.filter(|_| !chosen.has_stop),
            highest_mbar: reach,
            travel_percent: derived(&|theta: &Theta| inclination_percent(theta, reach, reach, false) - theta[REST]),
            hysteresis: self.has_releasing.then(|| Hysteresis {
                gap_mbar: interval(GAP),
                gap_percent: derived(&|theta: &Theta| loop_of(theta, reach).0),
                loss_area_percent_mbar: derived(&|theta: &Theta| loop_of(theta, reach).1),
            }),
            chi_square: chosen.best.chi_square,
            degrees_of_freedom: freedom,
            fit_probability: chi_square_tail(chosen.best.chi_square, freedom),
            widened_by: scale2.sqrt(),
        })
    }

    fn degrees_of_freedom(&self, fixed: &Fixed) -> usize {
        let free = fixed.iter().filter(|f| f.is_none()).count();
        self.data.points.len().saturating_sub(free)
    }
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
}
