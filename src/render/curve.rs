//! The definitions of UN R112's cut-off quality annex on a clean curve of log10 E over the vertical angle.

/// Where log10 E has the inflection at its steepest downward step as β rises, degrees: `None` where the steepest
/// place is an end of the range, or `log10_lx` gives no number.
///
/// `log10_lx`: log10 of the illuminance over β in degrees. Even steps find the steepest place, bisection of the second
/// difference then finds its zero to far below a thousandth of a degree.
pub(super) fn steepest_inflection_deg(
    log10_lx: &impl Fn(f64) -> f64,
    low_deg: f64,
    high_deg: f64,
    step_deg: f64,
) -> Option<f64> {
    let values = at_steps(log10_lx, low_deg, high_deg, step_deg)?;
    let fall = |i: usize| values[i] - values[i + 1];
    let steepest = (0..values.len() - 1).max_by(|&a, &b| fall(a).total_cmp(&fall(b)))?;
    if steepest < 3 || steepest + 5 > values.len() || fall(steepest) <= 0.0 {
        return None;
    }
    let delta_deg = 2.0 * step_deg;
    let bend =
        |beta_deg: f64| log10_lx(beta_deg - delta_deg) - 2.0 * log10_lx(beta_deg) + log10_lx(beta_deg + delta_deg);
    let middle_deg = low_deg + step_deg * (steepest as f64 + 0.5);
    let (mut low, mut high) = (middle_deg - 2.0 * step_deg, middle_deg + 2.0 * step_deg);
    // Below the steepest place the curve bends down, above it up.
    if bend(low) > 0.0 || bend(high) < 0.0 {
        return None;
    }
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if bend(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// G: the largest `log10_lx(β) − log10_lx(β + 0.1°)`; `None` where `log10_lx` gives no number.
pub(super) fn sharpness_g(log10_lx: &impl Fn(f64) -> f64, low_deg: f64, high_deg: f64, step_deg: f64) -> Option<f64> {
    let ahead = (0.1 / step_deg).round() as usize;
    let values = at_steps(log10_lx, low_deg, high_deg, 0.1 / ahead as f64)?;
    let fall = |i: usize| values[i] - values[i + ahead];
    let best = (0..values.len().checked_sub(ahead)?).max_by(|&a, &b| fall(a).total_cmp(&fall(b)))?;
    if best == 0 || best + ahead + 1 >= values.len() {
        return Some(fall(best));
    }
    // The vertex of the parabola through the best point and its neighbours.
    let (before, at, after) = (fall(best - 1), fall(best), fall(best + 1));
    let bend = before - 2.0 * at + after;
    Some(if bend < 0.0 {
        at - (after - before).powi(2) / (8.0 * bend)
    } else {
        at
    })
}

/// Values at even steps; `None` where one is no number.
fn at_steps(log10_lx: &impl Fn(f64) -> f64, low_deg: f64, high_deg: f64, step_deg: f64) -> Option<Vec<f64>> {
    if low_deg.is_nan() || high_deg.is_nan() || low_deg >= high_deg {
        return None;
    }
    let count = ((high_deg - low_deg) / step_deg) as usize;
    let values: Vec<f64> = (0..=count).map(|i| log10_lx(low_deg + step_deg * i as f64)).collect();
    values.iter().all(|value| value.is_finite()).then_some(values)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::beam::{EdgeKind, edge_profile, normal_share};

    #[test]
    fn a_log_linear_edge_between_even_levels_is_read_where_it_is_put() {
        // log10 I = log10 dark + C·logistic((e − β)/w): inflection at e, G = C·tanh(0.1°/(4 w)).
        for (edge_deg, width_deg, dark, bright) in [(-0.573, 0.15, 3.0, 90.0), (0.31, 0.04, 1.0, 20.0)] {
            let curve = |beta_deg: f64| {
                edge_profile(EdgeKind::LogLinear, (edge_deg - beta_deg) / width_deg, dark, bright).log10()
            };
            let found_deg = steepest_inflection_deg(&curve, -8.0, 5.0, 0.001).unwrap();
            assert!((found_deg - edge_deg).abs() < 1e-6, "{found_deg}");
            let contrast: f64 = f64::log10(bright / dark);
            let wanted = contrast * (0.1 / (4.0 * width_deg)).tanh();
            assert!((sharpness_g(&curve, -8.0, 5.0, 0.001).unwrap() / wanted - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn a_blurred_edge_between_even_levels_is_read_above_its_step() {
        // f = d + (b − d)·Φ(t), t = (e − β)/σ. (ln f)'' = 0 where f·f'' = f'²: with f' ∝ (b − d)·φ and f'' ∝ −t·(b − d)·φ
        // that is −t·(d/(b − d) + Φ(t)) = φ(t). Solved here by plain bisection in t.
        for (contrast, width_deg) in [(5.0, 0.1), (40.0, 0.2), (200.0, 0.05)] {
            let (dark, bright) = (1.0, contrast);
            let density = |t: f64| (-0.5 * t * t).exp() / (2.0 * std::f64::consts::PI).sqrt();
            let excess = |t: f64| -t * (dark / (bright - dark) + normal_share(t)) - density(t);
            let (mut low, mut high) = (-6.0, 0.0);
            for _ in 0..80 {
                let middle = 0.5 * (low + high);
                if excess(middle) > 0.0 {
                    low = middle
                } else {
                    high = middle
                }
            }
            let edge_deg = -0.6;
            let curve = |beta_deg: f64| {
                edge_profile(EdgeKind::Blurred, (edge_deg - beta_deg) / width_deg, dark, bright).log10()
            };
            let found_deg = steepest_inflection_deg(&curve, -8.0, 5.0, 0.001).unwrap();
            assert!(low < -0.5, "well above the step: {low} widths");
            // The second difference over ±0.002° stands for the second derivative: an error of its square.
            assert!(
                (found_deg - (edge_deg - low * width_deg)).abs() < 2e-5,
                "{found_deg} {low}"
            );
        }
    }

    #[test]
    fn light_without_an_edge_has_no_inflection() {
        assert_eq!(
            steepest_inflection_deg(&|beta_deg: f64| -0.1 * beta_deg * beta_deg, -3.0, 3.0, 0.001),
            None
        );
        assert_eq!(steepest_inflection_deg(&|_| f64::NEG_INFINITY, -3.0, 3.0, 0.001), None);
    }
}
