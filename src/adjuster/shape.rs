//! The response of a vacuum actuator as it is in life: corners that are soft, and a slope that bends.
//!
//! **Dead band** and **end stop** are where the straight parts beside a corner would meet. **Gain** is the mean slope between
//! them: the beam's travel from rest to the end stop, or to the highest vacuum of the readings where no stop comes before it,
//! by the vacuum from the dead band to there. The slope falls or grows evenly along the way, by `bend` of itself on either side
//! of the middle; each corner is a softplus, w·ln(1 + exp(p/w)), that comes to its straight parts within some w.
//!
//! Released, the actuator keeps its place until the vacuum has fallen by the hysteresis: the play operator, as in
//! [`super::curve`].

use super::curve::NO_STOP_MBAR;

/// A response.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    /// Inclination without vacuum where the corner is sharp, per cent.
    pub rest_percent: f64,
    /// Per cent per 100 mbar, negative where vacuum raises the beam.
    pub gain_percent_per_100_mbar: f64,
    /// Dead band, mbar.
    pub dead_mbar: f64,
    /// End stop, mbar; [`NO_STOP_MBAR`] where there is none.
    pub stop_mbar: f64,
    /// Hysteresis, mbar.
    pub gap_mbar: f64,
    /// Softness of both corners, mbar.
    pub soft_mbar: [f64; 2],
    /// Change of the slope from the middle to either end, as a share of the gain.
    pub bend: f64,
    /// Vacuum from which it was released, mbar.
    pub turn_mbar: f64,
}

/// w·ln(1 + exp(x/w)).
fn soft(x_mbar: f64, w_mbar: f64) -> f64 {
    let z = x_mbar / w_mbar;
    if z > 30.0 {
        x_mbar
    } else if z < -30.0 {
        0.0
    } else {
        w_mbar * z.exp().ln_1p()
    }
}

impl Shape {
    /// Vacuum between the corners, mbar.
    fn length_mbar(&self) -> f64 {
        (self.stop_mbar.min(self.turn_mbar) - self.dead_mbar).max(1.0)
    }

    /// Inclination where this much vacuum was applied, per cent.
    pub fn applied_percent(&self, vacuum_mbar: f64) -> f64 {
        let mut along = soft(vacuum_mbar - self.dead_mbar, self.soft_mbar[0]);
        if self.stop_mbar < NO_STOP_MBAR {
            along -= soft(vacuum_mbar - self.stop_mbar, self.soft_mbar[1]);
        }
        let length = self.length_mbar();
        let bent = if along < length {
            along * (along - length) / length
        } else {
            along - length
        };
        self.rest_percent + self.gain_percent_per_100_mbar / 100.0 * (along + self.bend * bent)
    }

    /// The applied vacuum that has the beam where it is at a vacuum of a branch, mbar.
    pub fn place_mbar(&self, vacuum_mbar: f64, releasing: bool) -> f64 {
        if releasing {
            (vacuum_mbar + self.gap_mbar).min(self.turn_mbar)
        } else {
            vacuum_mbar
        }
    }

    /// Inclination at a vacuum of a branch, per cent.
    pub fn percent(&self, vacuum_mbar: f64, releasing: bool) -> f64 {
        self.applied_percent(self.place_mbar(vacuum_mbar, releasing))
    }

    /// Mean slope within `about_mbar` on either side, per cent per mbar.
    pub fn slope(&self, place_mbar: f64, about_mbar: f64) -> f64 {
        (self.applied_percent(place_mbar + about_mbar) - self.applied_percent(place_mbar - about_mbar))
            / (2.0 * about_mbar)
    }

    /// Inclination at the highest vacuum less the one without, per cent.
    pub fn travel_percent(&self) -> f64 {
        self.applied_percent(self.turn_mbar) - self.applied_percent(0.0)
    }

    /// Largest difference of inclination between the branches at one vacuum, per cent, and the area between them from none to
    /// the highest vacuum, per cent times mbar.
    pub fn hysteresis_loop(&self) -> (f64, f64) {
        /// Places at which the branches are held against each other.
        const PLACES: usize = 100;
        let sign = self.gain_percent_per_100_mbar.signum();
        let step = self.turn_mbar / PLACES as f64;
        let apart = |n: usize| {
            let vacuum = step * (n as f64 + 0.5);
            sign * (self.percent(vacuum, true) - self.percent(vacuum, false))
        };
        (0..PLACES)
            .map(apart)
            .fold((0.0, 0.0), |(largest, area): (f64, f64), apart| {
                let larger = if apart.abs() > largest.abs() { apart } else { largest };
                (larger, area + step * apart)
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHARP: Shape = Shape {
        rest_percent: 2.0,
        gain_percent_per_100_mbar: -0.5,
        dead_mbar: 60.0,
        stop_mbar: 360.0,
        gap_mbar: 40.0,
        soft_mbar: [0.01, 0.01],
        bend: 0.0,
        turn_mbar: 450.0,
    };

    #[test]
    fn with_sharp_corners_it_is_the_curve_with_corners() {
        let theta = [2.0, -0.5, 60.0, 360.0, 40.0];
        for n in 0..=450 {
            for releasing in [false, true] {
                let vacuum = f64::from(n);
                let sharp = super::super::curve::inclination_percent(&theta, 450.0, vacuum, releasing);
                assert!((SHARP.percent(vacuum, releasing) - sharp).abs() < 1e-4, "{vacuum}");
            }
        }
    }

    #[test]
    fn the_gain_is_the_mean_slope_whatever_the_bend() {
        for bend in [-0.4, 0.3] {
            let shape = Shape {
                bend,
                soft_mbar: [12.0, 8.0],
                ..SHARP
            };
            // By hand: 300 mbar at 0.5 % per 100 mbar; slopes of the middle part less and more by the bend.
            let whole = shape.applied_percent(900.0) - shape.applied_percent(-500.0);
            assert!((whole + 1.5).abs() < 1e-9, "{whole}");
            let sharp = Shape { bend, ..SHARP };
            assert!((sharp.slope(70.0, 1.0) / -0.005 - (1.0 + bend * (20.0 / 300.0 - 1.0))).abs() < 1e-6);
        }
    }

    #[test]
    fn the_loop_is_that_of_a_parallelogram() {
        // By hand: 40 mbar at 0.5 % per 100 mbar are 0.2 %; a parallelogram 40 mbar wide and 1.5 % high has 60 % mbar.
        let (gap, area) = SHARP.hysteresis_loop();
        assert!((gap - 0.2).abs() < 1e-3 && (area - 60.0).abs() < 0.2, "{gap} {area}");
        let early = Shape {
            turn_mbar: 260.0,
            gain_percent_per_100_mbar: 0.5,
            ..SHARP
        };
        // Turned at 260 mbar the travel is 1.0 %, and the area 40.
        let (gap, area) = early.hysteresis_loop();
        assert!((gap - 0.2).abs() < 1e-3 && (area - 40.0).abs() < 0.2, "{gap} {area}");
    }
}
