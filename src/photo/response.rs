//! A camera's response, as far as it is not what the file states: the slope of ln light over ln nominal light.
//!
//! What a file gives as light is nominal: read by the curve that it states. A camera or a program that laid another curve over
//! it left light whose logarithm is some smooth, rising function of the nominal one's (P. E. Debevec and J. Malik, SIGGRAPH 1997;
//! T. Mitsunaga and S. K. Nayar, CVPR 1999; M. D. Grossberg and S. K. Nayar, PAMI 2004; all from memory). A power alone, the same
//! slope everywhere, moves no inflection of ln light; only where the slope changes does it.

use super::bent::Bent;

/// Knots of the slope, evenly spaced in ln nominal light from black to full scale: 1.2 exposure values apart, closer than
/// curves bend (our choice, no source).
pub(crate) const KNOTS: usize = 11;
const SPACING: f64 = 0.85;
const LOWEST: f64 = -SPACING * (KNOTS - 1) as f64;

/// ln of the slope at each knot.
pub(crate) type Bend = [f64; KNOTS];

/// A response with what is unsure of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    curve: Curve,
    /// What one standard deviation of each independent source adds to the bend; the sources' directions stand at right angles.
    pub(crate) effects: Vec<Bend>,
    /// Whether what is unsure is the camera's own, the same in all photos that it took; else an edit or a mapping of one photo.
    pub(crate) of_camera: bool,
}

/// ln light over ln nominal light, both 0 at full scale; below the lowest knot they run side by side.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve {
    bend: Bend,
    /// ln light at each knot.
    at: Bend,
    /// What the two knots of each stretch do to the rise over it.
    rise_by: [[f64; 2]; KNOTS - 1],
}

/// ln light and ln of its slope at one place of a curve, with what each knot's ln slope does to them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OfKnots {
    pub ln_light: f64,
    pub ln_light_by: Bend,
    pub ln_slope: f64,
    pub ln_slope_by: Bend,
}

/// ln nominal light at a knot.
pub(crate) fn knot(n: usize) -> f64 {
    LOWEST + SPACING * n as f64
}

impl Curve {
    pub fn new(bend: Bend) -> Self {
        let mut at = [0.0; KNOTS];
        let mut rise_by = [[0.0; 2]; KNOTS - 1];
        for n in (1..KNOTS).rev() {
            let change = (bend[n] - bend[n - 1]) / SPACING;
            at[n - 1] = at[n] - risen(bend[n - 1], change, SPACING);
            rise_by[n - 1] = risen_by(bend[n - 1], change, SPACING);
        }
        Self { bend, at, rise_by }
    }

    /// ln light of ln nominal light, and the slope there.
    pub fn ln_light(&self, ln_nominal: f64) -> (f64, f64) {
        if ln_nominal <= LOWEST {
            return (self.at[0] + ln_nominal - LOWEST, 1.0);
        }
        if ln_nominal >= 0.0 {
            // Merged photos hold light above full scale.
            let slope = self.bend[KNOTS - 1].exp();
            return (slope * ln_nominal, slope);
        }
        let below = (((ln_nominal - LOWEST) / SPACING) as usize).min(KNOTS - 2);
        let past = ln_nominal - knot(below);
        let change = (self.bend[below + 1] - self.bend[below]) / SPACING;
        let light = self.at[below] + risen(self.bend[below], change, past);
        (light, (self.bend[below] + change * past).exp())
    }

    /// ln light of ln nominal light and ln of the slope there, with what each knot does to them.
    pub fn with_slopes(&self, ln_nominal: f64) -> OfKnots {
        let mut of = OfKnots {
            ln_light: 0.0,
            ln_light_by: [0.0; KNOTS],
            ln_slope: 0.0,
            ln_slope_by: [0.0; KNOTS],
        };
        if ln_nominal >= 0.0 {
            let last = KNOTS - 1;
            (of.ln_slope, of.ln_slope_by[last]) = (self.bend[last], 1.0);
            of.ln_light = self.bend[last].exp() * ln_nominal;
            of.ln_light_by[last] = of.ln_light;
            return of;
        }
        let beyond = ln_nominal <= LOWEST;
        let below = ((((ln_nominal - LOWEST) / SPACING).max(0.0)) as usize).min(KNOTS - 2);
        // From full scale down: each stretch between knots takes away what rises over it.
        for n in below..KNOTS - 1 {
            let [low, high] = self.rise_by[n];
            of.ln_light_by[n] -= low;
            of.ln_light_by[n + 1] -= high;
        }
        if beyond {
            of.ln_light = self.at[0] + ln_nominal - LOWEST;
            return of;
        }
        let past = ln_nominal - knot(below);
        let change = (self.bend[below + 1] - self.bend[below]) / SPACING;
        let share = past / SPACING;
        of.ln_light = self.at[below] + risen(self.bend[below], change, past);
        let [low, high] = risen_by(self.bend[below], change, past);
        of.ln_light_by[below] += low;
        of.ln_light_by[below + 1] += high;
        of.ln_slope = self.bend[below] + change * past;
        (of.ln_slope_by[below], of.ln_slope_by[below + 1]) = (1.0 - share, share);
        of
    }

    /// ln nominal light of ln light: the inverse, by bisection between two knots.
    pub fn ln_nominal(&self, ln_light: f64) -> f64 {
        if ln_light <= self.at[0] {
            return LOWEST + ln_light - self.at[0];
        }
        let above = self.at.partition_point(|&at| at < ln_light).clamp(1, KNOTS - 1);
        if ln_light >= 0.0 {
            return ln_light / self.bend[KNOTS - 1].exp();
        }
        let (mut low, mut high) = (knot(above - 1), knot(above));
        for _ in 0..50 {
            let middle = 0.5 * (low + high);
            if self.ln_light(middle).0 < ln_light {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }
}

/// The integral of exp(bend + change · x) from 0 to `past`.
fn risen(bend: f64, change: f64, past: f64) -> f64 {
    let turn = change * past;
    // (eᵗ − 1)/t, which is 1 at t = 0.
    let mean = if turn.abs() < 1e-9 { 1.0 } else { turn.exp_m1() / turn };
    bend.exp() * past * mean
}

/// What the bends at the knots on either side do to it, with `change` following from them.
fn risen_by(bend: f64, change: f64, past: f64) -> [f64; 2] {
    let turn = change * past;
    let mean = if turn.abs() < 1e-9 { 1.0 } else { turn.exp_m1() / turn };
    // What one of `turn` does to it: (eᵗ (t − 1) + 1)/t², by its series where that loses its digits.
    let by_turn = if turn.abs() < 1e-3 {
        0.5 + turn * (1.0 / 3.0 + turn * (0.125 + turn / 30.0))
    } else {
        (turn.exp() - mean) / turn
    };
    let size = bend.exp() * past;
    let by_high = size * by_turn * past / SPACING;
    [size * mean - by_high, by_high]
}

impl Response {
    pub(crate) fn new(bend: Bend, effects: Vec<Bend>, of_camera: bool) -> Self {
        Self {
            curve: Curve::new(bend),
            effects,
            of_camera,
        }
    }

    /// Just what the file states, surely.
    #[must_use]
    pub fn plain() -> Self {
        Self::new([0.0; KNOTS], Vec::new(), true)
    }

    /// Whether light is taken to be other than the file states.
    pub(crate) fn is_bent(&self) -> bool {
        self.curve.bend.iter().any(|&bend| bend != 0.0)
    }

    /// Light's mean slope over nominal light in the brightest and in the darkest third of what is seen: their ratio. Above 1 the
    /// bright was compressed.
    pub(crate) fn bright_over_dark(&self) -> f64 {
        const BRIGHT: [f64; 2] = [-1.5, -0.2];
        const DARK: [f64; 2] = [-5.0, -3.7];
        let rise = |[from, to]: [f64; 2]| self.curve.ln_light(to).0 - self.curve.ln_light(from).0;
        rise(BRIGHT) / rise(DARK)
    }

    /// Nominal light into light, as it is laid on a photo's pixels; `None` where they are the same.
    pub(crate) fn as_laid_on(&self) -> Option<Bent> {
        self.is_bent().then(|| Bent::by(self.curve.clone()))
    }

    /// What stands for light in the file.
    pub(crate) fn nominal(&self, ln_light: f64) -> Nominal {
        let ln_nominal = if self.is_bent() {
            self.curve.ln_nominal(ln_light)
        } else {
            ln_light
        };
        Nominal {
            ln_nominal,
            slope: self.curve.ln_light(ln_nominal).1,
        }
    }

    /// What of this response may be, `by` standard deviations along one source: what stands for light as it was taken to be goes in, ln
    /// light as it then is comes out, with the slope between.
    pub(crate) fn moved(&self, effect: &Bend, by: f64) -> impl Fn(Nominal) -> (f64, f64) + use<> {
        let other = Curve::new(std::array::from_fn(|n| self.curve.bend[n] + by * effect[n]));
        move |nominal| {
            let (moved, slope) = other.ln_light(nominal.ln_nominal);
            (moved, slope / nominal.slope)
        }
    }
}

/// ln nominal light, and the slope of ln light there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nominal {
    ln_nominal: f64,
    slope: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bent() -> Bend {
        std::array::from_fn(|n| 0.3 * (0.9 * n as f64).sin())
    }

    #[test]
    fn the_curve_is_the_integral_of_its_slope() {
        // Reference implementation: the slope, linear in ln between the knots, summed in very small steps.
        let (bend, curve) = (bent(), Curve::new(bent()));
        let slope = |at: f64| {
            let n = (((at - LOWEST) / SPACING) as usize).min(KNOTS - 2);
            let share = (at - knot(n)) / SPACING;
            (bend[n] * (1.0 - share) + bend[n + 1] * share).exp()
        };
        let (mut sum, steps) = (0.0, 100_000);
        let width = -LOWEST / f64::from(steps);
        for step in 0..steps {
            let at = -width * (f64::from(step) + 0.5);
            sum -= width * slope(at);
            if step % 9_999 == 0 {
                let (light, steep) = curve.ln_light(at - 0.5 * width);
                assert!(
                    (light - sum).abs() < 1e-6 && (steep / slope(at) - 1.0).abs() < 1e-3,
                    "{at}: {light} {sum}"
                );
            }
        }
        for at in [-12.0, -8.5, -6.1, -2.0, -0.01, 0.0] {
            assert!((curve.ln_nominal(curve.ln_light(at).0) - at).abs() < 1e-9, "{at}");
        }
    }

    /// Against central differences.
    #[test]
    fn what_each_knot_does_is_told() {
        const STEP: f64 = 1e-5;
        for size in [0.0, 1e-4, 0.3, 1.0] {
            let bend = bent().map(|ln| size * ln);
            for at in [-12.0, -8.5, -8.2, -6.1, -2.0, -0.01, 0.0, 0.4] {
                let of = Curve::new(bend).with_slopes(at);
                let (ln_light, slope) = Curve::new(bend).ln_light(at);
                assert!((of.ln_light - ln_light).abs() < 1e-12 && (of.ln_slope - slope.ln()).abs() < 1e-12);
                for n in 0..KNOTS {
                    let [up, down] = [STEP, -STEP].map(|by| {
                        let mut moved = bend;
                        moved[n] += by;
                        Curve::new(moved).ln_light(at)
                    });
                    let by_light = (up.0 - down.0) / (2.0 * STEP);
                    let by_slope = (up.1.ln() - down.1.ln()) / (2.0 * STEP);
                    assert!(
                        (of.ln_light_by[n] - by_light).abs() < 1e-8 && (of.ln_slope_by[n] - by_slope).abs() < 1e-8,
                        "{size} {at} {n}: {of:?} {by_light} {by_slope}"
                    );
                }
            }
        }
    }

    #[test]
    fn no_bend_changes_nothing_to_the_last_bit_and_full_scale_stays() {
        assert!(Response::plain().as_laid_on().is_none());
        let response = Response::new(bent(), vec![[0.1; KNOTS]], false);
        let laid_on = response.as_laid_on().unwrap();
        let changed = [0.0, 1e-6, 0.003, 0.2, 1.0].map(|nominal| laid_on.light(nominal));
        assert_eq!((changed[0], changed[4]), (0.0, 1.0));
        assert!(changed.is_sorted() && (changed[3] - 0.2).abs() > 1e-3);
        let moved = response.moved(&response.effects[0], 1.0);
        // Every slope e^0.1 times as steep, from full scale down: by hand.
        let (light, slope) = moved(response.nominal(-3.0));
        assert!(
            (light + 3.0 * 0.1f64.exp()).abs() < 1e-9 && (slope - 0.1f64.exp()).abs() < 1e-9,
            "{light} {slope}"
        );
    }
}
