//! The response of a vacuum actuator as a curve, and how far a reading lies from it.
//!
//! At rest up to the dead band; from there straight, with the gain; from the end stop on at rest again. While vacuum is
//! released the actuator holds on to its place until the vacuum has fallen by the hysteresis, and then follows the same
//! curve at that much less vacuum: play between two stops, the simplest model of friction and lost motion (Prandtl's or
//! "play" operator; common practice, no source).
//!
//! The gauge is read with an error, too. The distance of a reading from the curve is therefore the orthogonal one: the true
//! vacuum is a latent value for each reading, and the one that makes the sum of both squares least is taken, over each of
//! the curve's three straight parts in closed form. On the slope this comes to York's effective variance, σ² + (gain·σ_p)²
//! (D. York et al., Am. J. Phys. 72 (2004) 367; W. H. Press et al., *Numerical Recipes*, 15.3; both from memory).

/// Number of parameters of a curve.
pub(super) const PARAMETERS: usize = 5;
/// Places of the parameters: inclination without vacuum, per cent.
pub(super) const REST: usize = 0;
/// Gain, per cent per 100 mbar, negative where vacuum raises the beam.
pub(super) const GAIN: usize = 1;
/// Dead band, mbar.
pub(super) const DEAD: usize = 2;
/// End stop, mbar; [`NO_STOP_MBAR`] where there is none.
pub(super) const STOP: usize = 3;
/// Hysteresis, mbar.
pub(super) const GAP: usize = 4;

/// No pump reaches this, so that an end stop here is none.
pub(super) const NO_STOP_MBAR: f64 = 2000.0;

/// The parameters in their places.
pub(super) type Theta = [f64; PARAMETERS];

/// A reading at a gauge reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// Gauge, mbar.
    pub vacuum_mbar: f64,
    /// One standard deviation of it, mbar.
    pub vacuum_sd_mbar: f64,
    /// Inclination, per cent.
    pub percent: f64,
    /// One standard deviation of what differs from photo to photo, per cent.
    pub sd_percent: f64,
    /// Vacuum was being released.
    pub releasing: bool,
}

/// Where the straight parts of a branch meet: end of the dead band and end of the slope, mbar. `turn_mbar` is the vacuum
/// from which it was released.
pub(super) fn breaks_mbar(theta: &Theta, turn_mbar: f64, releasing: bool) -> (f64, f64) {
    let (dead, stop) = (theta[DEAD], theta[STOP].max(theta[DEAD]));
    if releasing {
        (dead - theta[GAP], stop.min(turn_mbar).max(dead) - theta[GAP])
    } else {
        (dead, stop)
    }
}

/// Inclination at a vacuum, per cent.
pub(super) fn inclination_percent(theta: &Theta, turn_mbar: f64, vacuum_mbar: f64, releasing: bool) -> f64 {
    let (low, high) = breaks_mbar(theta, turn_mbar, releasing);
    theta[REST] + theta[GAIN] / 100.0 * (vacuum_mbar.clamp(low, high) - low)
}

/// Orthogonal distance of a reading from the curve in standard deviations, positive where the reading lies above it.
pub(super) fn distance(theta: &Theta, turn_mbar: f64, point: &Point) -> f64 {
    let above = point.percent - inclination_percent(theta, turn_mbar, point.vacuum_mbar, point.releasing);
    if point.vacuum_sd_mbar <= 0.0 {
        return above / point.sd_percent;
    }
    let (low, high) = breaks_mbar(theta, turn_mbar, point.releasing);
    let slope = theta[GAIN] / 100.0;
    let (gauge, var_p, var_y) = (
        point.vacuum_mbar,
        point.vacuum_sd_mbar.powi(2),
        point.sd_percent.powi(2),
    );
    let square = |vacuum: f64| {
        let curve = theta[REST] + slope * (vacuum.clamp(low, high) - low);
        (gauge - vacuum).powi(2) / var_p + (point.percent - curve).powi(2) / var_y
    };
    let off = point.percent - (theta[REST] + slope * (gauge - low));
    let on_slope = gauge + var_p * slope * off / (var_y + slope * slope * var_p);
    let least = square(gauge.min(low))
        .min(square(gauge.max(high)))
        .min(square(on_slope.clamp(low, high)));
    least.sqrt().copysign(above)
}

#[cfg(test)]
mod tests {
    use super::*;

    const THETA: Theta = [2.0, -0.5, 60.0, 360.0, 40.0];

    #[test]
    fn the_branches_are_where_their_parameters_say() {
        // By hand: 100 mbar beyond the dead band is 0.5 %; the whole travel is 3 hundred mbar, 1.5 %.
        let at = |vacuum, releasing| inclination_percent(&THETA, 450.0, vacuum, releasing);
        for (vacuum, applying, releasing) in [
            (0.0, 2.0, 2.0),
            (20.0, 2.0, 2.0),
            (60.0, 2.0, 1.8),
            (160.0, 1.5, 1.3),
            (320.0, 0.7, 0.5),
            (360.0, 0.5, 0.5),
            (450.0, 0.5, 0.5),
        ] {
            assert!((at(vacuum, false) - applying).abs() < 1e-12, "{vacuum}");
            assert!((at(vacuum, true) - releasing).abs() < 1e-12, "{vacuum}");
        }
        // Released from 260 mbar, before the stop: it keeps its 1.0 % until the vacuum has fallen by 40 mbar.
        let early = |vacuum| inclination_percent(&THETA, 260.0, vacuum, true);
        assert!((early(260.0) - 1.0).abs() < 1e-12 && (early(220.0) - 1.0).abs() < 1e-12);
        assert!((early(120.0) - 1.5).abs() < 1e-12);
    }

    /// The slow reference: the least sum of squares over a fine grid of true vacuums.
    #[test]
    fn the_distance_is_the_least_over_all_true_vacuums() {
        for releasing in [false, true] {
            for n in 0..40 {
                let point = Point {
                    vacuum_mbar: f64::from(n) * 12.0,
                    vacuum_sd_mbar: 9.0,
                    percent: 2.1 - f64::from((n * 7) % 40) * 0.045,
                    sd_percent: 0.03,
                    releasing,
                };
                let slow = (-60_000..120_000)
                    .map(|k| {
                        let vacuum = f64::from(k) * 0.01;
                        let curve = inclination_percent(&THETA, 430.0, vacuum, releasing);
                        ((point.vacuum_mbar - vacuum) / 9.0).powi(2) + ((point.percent - curve) / 0.03).powi(2)
                    })
                    .fold(f64::INFINITY, f64::min);
                let fast = distance(&THETA, 430.0, &point).powi(2);
                assert!(
                    (fast - slow).abs() < 1e-3 * (1.0 + slow),
                    "{point:?}: {fast} and {slow}"
                );
            }
        }
    }

    #[test]
    fn on_the_slope_it_is_the_effective_variance() {
        let point = Point {
            vacuum_mbar: 200.0,
            vacuum_sd_mbar: 5.0,
            percent: 1.36,
            sd_percent: 0.02,
            releasing: false,
        };
        // By hand: the curve has 1.30 there; σ = √(0.02² + (0.005 · 5)²) = 0.032 016 %.
        let expected = 0.06 / 0.0320156;
        assert!((distance(&THETA, 450.0, &point) - expected).abs() < 1e-4);
    }
}
