//! The probability of conformity against JCGM 106:2012, *Evaluation of measurement data – The role of measurement
//! uncertainty in conformity assessment*.
//!
//! The guide itself could not be read when this was written: its figures below are from memory, and so are the clauses'
//! numbers, unless another source stands beside them.

use crate::aim::probability_inside;
use crate::record::Band;

fn band(low_percent: f64, high_percent: f64) -> Band {
    Band {
        low_percent,
        high_percent,
    }
}

/// One-sided, clause 7.3 (from memory): a Zener diode's breakdown voltage, −5.47 V with u = 0.05 V, specified to be at
/// most −5.40 V: p_c = Φ(1.4) = 0.92.
#[test]
fn breakdown_voltage_of_a_zener_diode() {
    let p = probability_inside(-5.47, 0.05, band(f64::NEG_INFINITY, -5.40));
    assert!((p - 0.92).abs() < 0.005, "{p}");
    assert!(
        (p - 0.919_243).abs() < 5e-7,
        "Φ(1.4), Abramowitz and Stegun, table 26.1: {p}"
    );
}

/// One-sided, clause 7.3, table 1 (from memory; that such a table of z = (T_U − y)/u stands there was read in a public
/// demonstration program of an uncertainty package): p_c 0.80, 0.90, 0.95, 0.99, 0.999 at z = 0.84, 1.28, 1.64, 2.33,
/// 3.09. The z are rounded to two places, which the tolerance allows for.
#[test]
fn one_sided_limits_by_the_guides_table() {
    let (y, u) = (3.0, 0.2);
    for (z, conforms) in [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99), (3.09, 0.999)] {
        // The density at z, times half of the last place of z.
        let rounding = 0.005 * (-0.5_f64 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let below = probability_inside(y, u, band(f64::NEG_INFINITY, y + z * u));
        let above = probability_inside(y, u, band(y - z * u, f64::INFINITY));
        assert!((below - conforms).abs() < rounding, "{z}: {below}");
        assert!(
            (below - above).abs() < 1e-12,
            "an upper and a lower limit are one matter"
        );
    }
}

/// Two-sided: resistors of 1500 Ω ± 0.2 Ω with a standard deviation of 0.12 Ω. The figures, and the name "conformance
/// probability" for this integral, were read in a public program, which does not say where it has them from; that they
/// are the guide's and that about nine in ten conform is from memory. The wanted figure is summed here by that program's
/// way, a plain sum over the density.
#[test]
fn resistors_between_two_limits() {
    let (y, u, low, high) = (1500.0, 0.12, 1499.8, 1500.2);
    let p = probability_inside(y, u, band(low, high));
    assert!((p - 0.90).abs() < 0.005, "{p}");
    let parts = 400_000;
    let step = (high - low) / f64::from(parts);
    let sum: f64 = (0..parts)
        .map(|n| {
            let z = (low + (f64::from(n) + 0.5) * step - y) / u;
            (-0.5 * z * z).exp()
        })
        .sum();
    let wanted = sum * step / (u * (2.0 * std::f64::consts::PI).sqrt());
    assert!((p - wanted).abs() < 1e-9, "{p}, {wanted}");
}

/// Coverage: an interval of 1.96 standard uncertainties to either side holds 95 % (JCGM 100:2008, table G.1).
#[test]
fn the_interval_of_95_per_cent_holds_95_per_cent() {
    let p = probability_inside(1.02, 0.05, band(1.02 - 1.96 * 0.05, 1.02 + 1.96 * 0.05));
    assert!((p - 0.95).abs() < 5e-5, "{p}");
    // On a limit, with the other far away, it is even.
    assert!((probability_inside(1.0, 0.01, band(1.0, 1.5)) - 0.5).abs() < 1e-12);
}

#[test]
fn a_figure_without_uncertainty_is_inside_or_not() {
    for (y, p) in [(1.0, 1.0), (1.25, 1.0), (1.5, 1.0), (0.999, 0.0), (1.501, 0.0)] {
        assert_eq!(probability_inside(y, 0.0, band(1.0, 1.5)), p, "{y}");
    }
    assert_eq!(
        probability_inside(1.2, f64::INFINITY, band(1.0, 1.5)),
        0.0,
        "who knows nothing claims nothing"
    );
}
