//! ln of the light across an edge by its parameters, and what each of these does to it.

use super::{EDGE_PARAMETERS, Fade, Form};
use crate::cutoff::face::Smear;
use crate::fit::{normal_density, normal_tail};

/// Scaled by this, both fades have about the same slope for the same width.
const NORMAL_SCALE: f64 = 0.588;
/// A smaller power than this is a divisor that loses digits: the power mean is then had by its series about the geometric mean.
const LEAST_POWER: f64 = 1e-3;

/// What each parameter of an edge does to a value.
pub(in crate::cutoff) type OfParameters = [f64; EDGE_PARAMETERS];

/// An edge with its parameters.
pub(in crate::cutoff) struct Model {
    fade: Fade,
    /// How the lamp's face smears what its parts throw, where the job gives one.
    smear: Option<Smear>,
    p: OfParameters,
    width_deg: f64,
}

/// The share of the bright side where it has faded so far, in widths, and the rest, with the logarithms of both; and its slope.
struct Share {
    ln_bright: f64,
    ln_dark: f64,
    bright: f64,
    dark: f64,
    slope: f64,
}

impl Model {
    /// On the wall.
    pub fn on_wall(form: Form, p: &OfParameters) -> Self {
        Self::smeared(form.fade, form.face.map(|face| face.on_wall()), p)
    }

    /// On the measuring screen; `None` where the lamp's face is not known.
    pub fn on_screen(form: Form, p: &OfParameters) -> Option<Self> {
        Some(Self::smeared(form.fade, Some(form.face?.on_screen()), p))
    }

    fn smeared(fade: Fade, smear: Option<Smear>, p: &OfParameters) -> Self {
        Self {
            fade,
            smear,
            p: *p,
            width_deg: p[1].exp(),
        }
    }

    /// ln of the light at a height, degrees.
    pub fn ln_light(&self, beta_deg: f64) -> f64 {
        match &self.smear {
            Some(smear) => smear.ln_light(|beta_deg| self.ln_thrown(beta_deg), beta_deg),
            None => self.ln_thrown(beta_deg),
        }
    }

    /// The same with what each parameter does to it.
    pub fn ln_light_and_slopes(&self, beta_deg: f64) -> (f64, OfParameters) {
        let Some(smear) = &self.smear else {
            return self.ln_thrown_and_slopes(beta_deg);
        };
        // The light is a sum over the face's parts: each has a part in the slopes by its light.
        let (mut sum, mut slopes) = (0.0, [0.0; EDGE_PARAMETERS]);
        for (share, from_deg) in smear.parts() {
            let (ln_thrown, of_part) = self.ln_thrown_and_slopes(beta_deg - from_deg);
            let light = share * ln_thrown.exp();
            sum += light;
            for (slope, of_part) in slopes.iter_mut().zip(of_part) {
                *slope += light * of_part;
            }
        }
        (sum.ln(), slopes.map(|slope| slope / sum))
    }

    /// ln of the light as each part of the lamp throws it.
    fn ln_thrown(&self, beta_deg: f64) -> f64 {
        let from_edge = beta_deg - self.p[0];
        let share = share(self.fade, from_edge / self.width_deg);
        let [ln_bright, ln_dark] = self.ln_levels(from_edge);
        let power = self.p[2];
        if power.abs() < LEAST_POWER {
            return Mean::about_geometric(power, &share, ln_bright, ln_dark).ln;
        }
        sum(power * ln_dark + share.ln_dark, power * ln_bright + share.ln_bright).ln / power
    }

    /// ln of the bright and of the dark level so far above the edge, degrees.
    fn ln_levels(&self, from_edge: f64) -> [f64; 2] {
        let p = &self.p;
        [
            p[3] + p[4] * from_edge + p[5] * from_edge.min(0.0).powi(2),
            p[6] + p[7] * from_edge,
        ]
    }

    fn ln_thrown_and_slopes(&self, beta_deg: f64) -> (f64, OfParameters) {
        let p = &self.p;
        let from_edge = beta_deg - p[0];
        let widths = from_edge / self.width_deg;
        let share = share(self.fade, widths);
        let [ln_bright, ln_dark] = self.ln_levels(from_edge);
        let mean = if p[2].abs() < LEAST_POWER {
            Mean::about_geometric(p[2], &share, ln_bright, ln_dark)
        } else {
            Mean::of(p[2], &share, ln_bright, ln_dark)
        };
        let (of_bright, of_dark) = (mean.by_bright, 1.0 - mean.by_bright);
        let below = from_edge.min(0.0);
        let levels_rise = of_bright * (p[4] + 2.0 * p[5] * below) + of_dark * p[7];
        let fades = mean.by_share * share.slope;
        let slopes = [
            -levels_rise - fades / self.width_deg,
            -fades * widths,
            mean.by_power,
            of_bright,
            of_bright * from_edge,
            of_bright * below * below,
            of_dark,
            of_dark * from_edge,
        ];
        (mean.ln, slopes)
    }

    /// Height of the inflection on the wall, degrees.
    ///
    /// What [`super::inflection`] finds among closely spaced places, looked for first among places further apart: an edge has one
    /// steepest place, and none narrower than these.
    pub fn inflection(&self) -> Option<f64> {
        const COARSE_DEG: f64 = 0.02;
        const REACH: i32 = 50;
        let place = |n: i32| self.p[0] + COARSE_DEG * f64::from(n);
        let falls = |n: i32| self.ln_light(place(n) - 0.5 * COARSE_DEG) - self.ln_light(place(n) + 0.5 * COARSE_DEG);
        let steepest = (-REACH..=REACH)
            .map(|n| (n, falls(n)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        if steepest.0.abs() == REACH || !steepest.1.is_finite() {
            return None;
        }
        let half_width = 2 * (COARSE_DEG / super::FINE_DEG).round() as i32;
        super::inflection_within(|beta_deg| self.ln_light(beta_deg), place(steepest.0), half_width)
    }
}

/// ln of a power mean of the bright and the dark level, and what one more of ln of the bright level, of the bright share and of the
/// power does to it.
struct Mean {
    ln: f64,
    by_bright: f64,
    by_share: f64,
    by_power: f64,
}

impl Mean {
    fn of(power: f64, share: &Share, ln_bright: f64, ln_dark: f64) -> Self {
        /// A share from here on keeps its digits as a divisor.
        const PLAIN_SHARE: f64 = 1e-12;
        let Sum {
            ln: both,
            first: of_dark,
            second: of_bright,
        } = sum(power * ln_dark + share.ln_dark, power * ln_bright + share.ln_bright);
        // What each level's ln counts for, over its share, is the level over both.
        let level_over_both = |counts: f64, share: f64, ln_level: f64| {
            if share > PLAIN_SHARE {
                counts / share
            } else {
                (power * ln_level - both).exp()
            }
        };
        let by_share =
            level_over_both(of_bright, share.bright, ln_bright) - level_over_both(of_dark, share.dark, ln_dark);
        Self {
            ln: both / power,
            by_bright: of_bright,
            by_share: by_share / power,
            by_power: (of_dark * ln_dark + of_bright * ln_bright - both / power) / power,
        }
    }

    /// For a power next to 0: ln of it is the series of the levels' cumulants in the power.
    fn about_geometric(power: f64, share: &Share, ln_bright: f64, ln_dark: f64) -> Self {
        let (bright, apart) = (share.bright, ln_bright - ln_dark);
        let variance = bright * share.dark;
        let skew = 1.0 - 2.0 * bright;
        let (second, third) = (variance * apart * apart, variance * skew * apart.powi(3));
        Self {
            ln: ln_dark + bright * apart + power * (0.5 * second + power * third / 6.0),
            by_bright: bright + power * variance * apart * (1.0 + 0.5 * power * skew * apart),
            by_share: apart * (1.0 + power * apart * (0.5 * skew + power * apart * (1.0 - 6.0 * variance) / 6.0)),
            by_power: 0.5 * second + power * third / 3.0,
        }
    }
}

/// ln of a sum of two terms, and the share of it that each is.
struct Sum {
    ln: f64,
    first: f64,
    second: f64,
}

/// Of eᵃ and eᵇ, with the larger taken out so that it cannot overflow.
fn sum(a: f64, b: f64) -> Sum {
    let smaller = (-(a - b).abs()).exp();
    let (larger, smaller_share) = (1.0 / (1.0 + smaller), smaller / (1.0 + smaller));
    let (first, second) = if a > b {
        (larger, smaller_share)
    } else {
        (smaller_share, larger)
    };
    Sum {
        ln: a.max(b) + smaller.ln_1p(),
        first,
        second,
    }
}

/// Of a fade, at so many widths above the edge.
fn share(fade: Fade, widths: f64) -> Share {
    /// Smaller shares count as this.
    const LEAST: f64 = 1e-300;
    match fade {
        Fade::Logistic => {
            let at = widths.clamp(-60.0, 60.0);
            // 1 / (1 + eᵗ) and eᵗ / (1 + eᵗ).
            let Sum { ln, first, second } = sum(0.0, at);
            Share {
                ln_bright: -ln,
                ln_dark: at - ln,
                bright: first,
                dark: second,
                slope: if at == widths { -first * second } else { 0.0 },
            }
        }
        Fade::Normal => {
            let at = NORMAL_SCALE * widths;
            // The smaller of both keeps its digits.
            let smaller = normal_tail(at.abs()).max(LEAST);
            let (bright, dark) = if at > 0.0 {
                (smaller, 1.0 - smaller)
            } else {
                (1.0 - smaller, smaller)
            };
            Share {
                ln_bright: bright.ln(),
                ln_dark: dark.ln(),
                bright,
                dark,
                slope: -NORMAL_SCALE * normal_density(at),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cutoff::edge::inflection;
    use crate::cutoff::face::Face;
    use crate::record::{Lamp, Side};
    use rand::{RngExt, SeedableRng};

    fn forms() -> Vec<Form> {
        let lamp = Lamp {
            face_height_mm: Some(110.0),
            ..Lamp::of(Side::Left, 650.0, 0.0, 5_000.0)
        };
        [Fade::Logistic, Fade::Normal]
            .into_iter()
            .flat_map(|fade| [None, Face::of(&lamp)].map(|face| Form { fade, face }))
            .collect()
    }

    /// Edges of many shapes: places, widths, powers, levels and their slopes.
    ///
    /// The power of one in four lies next to 0.
    fn drawn(count: usize) -> Vec<OfParameters> {
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(11);
        let mut within = |low: f64, high: f64| rng.random_range(low..high);
        let draw = |n| {
            [
                within(-0.5, 0.5),
                within(-3.3, -0.7),
                if n % 4 == 0 {
                    within(-0.002, 0.002)
                } else {
                    within(-0.5, 1.5)
                },
                within(-1.5, 0.0),
                within(-0.8, 0.8),
                within(-0.4, 0.4),
                within(-6.0, -3.0),
                within(-0.5, 0.5),
            ]
        };
        (0..count).map(draw).collect()
    }

    /// The definition, term by term.
    fn plain_ln_thrown(fade: Fade, p: &OfParameters, beta_deg: f64) -> f64 {
        let from_edge = beta_deg - p[0];
        let t = from_edge / p[1].exp();
        let bright = match fade {
            Fade::Logistic => 1.0 / (1.0 + t.exp()),
            Fade::Normal => normal_tail(0.588 * t),
        };
        let ln_bright = p[3] + p[4] * from_edge + p[5] * from_edge.min(0.0).powi(2);
        let ln_dark = p[6] + p[7] * from_edge;
        let q = p[2];
        (((q * ln_dark).exp() * (1.0 - bright) + (q * ln_bright).exp() * bright).ln()) / q
    }

    #[test]
    fn light_is_the_power_mean_of_both_levels() {
        for form in forms().into_iter().filter(|form| form.face.is_none()) {
            for p in drawn(40) {
                let model = Model::on_wall(form, &p);
                for n in -16..=16 {
                    let beta_deg = 0.1 * f64::from(n);
                    let (quick, plain) = (model.ln_light(beta_deg), plain_ln_thrown(form.fade, &p, beta_deg));
                    // Where the bright share is all but one, the plain form has lost the rest's digits.
                    assert!(
                        (quick - plain).abs() < 1e-8,
                        "{form:?} {p:?} {beta_deg}: {quick} {plain}"
                    );
                    assert!((model.ln_light_and_slopes(beta_deg).0 - quick).abs() < 1e-14);
                }
            }
        }
    }

    /// Against central differences of the light itself.
    #[test]
    fn slopes_are_those_of_the_light() {
        const STEP: f64 = 1e-5;
        for form in forms() {
            for p in drawn(40) {
                let model = Model::on_wall(form, &p);
                for n in -16..=16 {
                    // A quarter of a step off, since the bright level's bend begins at the edge.
                    let beta_deg = 0.1 * f64::from(n) + 0.025;
                    let (_, slopes) = model.ln_light_and_slopes(beta_deg);
                    for (k, slope) in slopes.into_iter().enumerate() {
                        let [up, down] = [STEP, -STEP].map(|by| {
                            let mut moved = p;
                            moved[k] += by;
                            Model::on_wall(form, &moved).ln_light(beta_deg)
                        });
                        let difference = (up - down) / (2.0 * STEP);
                        assert!(
                            (slope - difference).abs() < 1e-5 * (1.0 + difference.abs()),
                            "{form:?} {p:?} {beta_deg} {k}: {slope} {difference}"
                        );
                    }
                }
            }
        }
    }

    /// Against the full grid.
    #[test]
    fn the_quick_inflection_is_the_plain_one() {
        let mut found = 0;
        for form in forms() {
            for p in drawn(60) {
                let model = Model::on_wall(form, &p);
                let plain = inflection(|beta_deg| model.ln_light(beta_deg), p[0]);
                let quick = model.inflection();
                match (quick, plain) {
                    (Some(quick), Some(plain)) => {
                        assert!((quick - plain).abs() < 1e-4, "{form:?} {p:?}: {quick} {plain}");
                        found += 1;
                    }
                    (quick, plain) => assert_eq!(quick, plain, "{form:?} {p:?}"),
                }
            }
        }
        assert!(found > 200, "{found} of 240 have an inflection");
    }
}
