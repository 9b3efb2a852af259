//! The inflection against SciPy (golden vectors by `tests/golden/make_edges_golden.py`), and the constants against UN
//! Regulation No. 112.

use super::edge::{Edge, Fade, Samples, plain_inflection};

struct Case {
    name: String,
    /// Without noise.
    clean: bool,
    samples: Samples,
    golden: serde_json::Value,
}

fn cases() -> Vec<Case> {
    let golden: serde_json::Value = serde_json::from_str(include_str!("../../tests/golden/edges.json")).unwrap();
    let number = |key: &str| golden[key].as_f64().unwrap();
    let cases: Vec<Case> = golden["cases"]
        .as_array()
        .unwrap()
        .iter()
        .map(|case| {
            let ln_light: Vec<f64> = serde_json::from_value(case["ln_light"].clone()).unwrap();
            let count = ln_light.len();
            Case {
                name: case["name"].as_str().unwrap().to_owned(),
                clean: case["noise_sd"] == 0.0,
                samples: Samples {
                    face: None,
                    beta_deg: (0..count)
                        .map(|n| number("first_beta_deg") + number("step_deg") * n as f64)
                        .collect(),
                    ln_light,
                    sd: vec![number("sd"); count],
                    clipped: vec![false; count],
                },
                golden: case.clone(),
            }
        })
        .collect();
    assert!(cases.len() >= 6);
    cases
}

/// The straight-line slope over ±0.1° is `scipy.signal.savgol_filter` with 11 points of 0.02° and order 1, made smooth by a
/// spline; the middle of its peak's upper fifth is where the plain inflection is put. The peak itself lies near by.
#[test]
fn plain_inflection_is_that_of_scipys_smoothed_slope() {
    for case in cases() {
        let scipy = |key: &str| case.golden[key].as_f64().unwrap();
        let (peak_deg, fifth_deg) = (scipy("savgol_peak_deg"), scipy("savgol_upper_fifth_deg"));
        let ours_deg = plain_inflection(&case.samples, (10.0 * peak_deg).round() / 10.0, 0.1).unwrap();
        println!(
            "{}: {ours_deg:.4} deg, SciPy's upper fifth {fifth_deg:.4} deg, its peak {peak_deg:.4} deg",
            case.name
        );
        assert!(
            (ours_deg - fifth_deg).abs() < 0.006 && (ours_deg - peak_deg).abs() < 0.02,
            "{}: {ours_deg} deg, SciPy's upper fifth {fifth_deg} deg, its peak {peak_deg} deg",
            case.name
        );
    }
}

/// The same form, priors and loss, minimised by `scipy.optimize.least_squares`.
#[test]
fn fitted_edges_are_those_that_scipy_finds() {
    for case in cases() {
        for form in case.golden["same_form"].as_array().unwrap() {
            let number = |key: &str| form[key].as_f64().unwrap();
            let fade = match form["fade"].as_str().unwrap() {
                "logistic" => Fade::Logistic,
                _ => Fade::Normal,
            };
            let about_deg = case.golden["definition"]["inflection_deg"].as_f64().unwrap();
            let edge = Edge::fit(&case.samples, fade, (10.0 * about_deg).round() / 10.0).unwrap();
            println!(
                "{}, {fade:?}: {:.5} deg, SciPy {:.5}; G {:.5}, SciPy {:.5}; cost {:.6}, SciPy {:.6}",
                case.name,
                edge.inflection_deg,
                number("inflection_deg"),
                edge.sharpness_g,
                number("sharpness_g"),
                edge.cost,
                number("cost"),
            );
            // No worse a minimum than SciPy's.
            assert!(
                edge.cost < 1.001 * number("cost") + 1e-6,
                "{}, {fade:?}: cost {}, SciPy {}",
                case.name,
                edge.cost,
                number("cost")
            );
            assert!(
                (edge.inflection_deg - number("inflection_deg")).abs() < 0.001,
                "{}, {fade:?}: {} deg",
                case.name,
                edge.inflection_deg
            );
            assert!(
                (edge.sharpness_g - number("sharpness_g")).abs() < 0.001,
                "{}, {fade:?}: G {}",
                case.name,
                edge.sharpness_g
            );
        }
    }
}

/// Where the form fits the profile, its inflection and G are those of the definition on the clean curve, which
/// `scipy.optimize.minimize_scalar` finds.
#[test]
fn the_better_fitting_edge_meets_the_definition_on_the_clean_curve() {
    for case in cases() {
        let definition = |key: &str| case.golden["definition"][key].as_f64().unwrap();
        let about_deg = (10.0 * definition("inflection_deg")).round() / 10.0;
        let best = [Fade::Logistic, Fade::Normal]
            .into_iter()
            .filter_map(|fade| Edge::fit(&case.samples, fade, about_deg))
            .min_by(|a, b| a.cost.total_cmp(&b.cost))
            .unwrap();
        let (off_deg, off_g) = (
            best.inflection_deg - definition("inflection_deg"),
            best.sharpness_g - definition("sharpness_g"),
        );
        println!("{}: off by {off_deg:+.5} deg, G by {off_g:+.5}", case.name);
        let (limit_deg, limit_g) = if case.clean { (0.001, 0.001) } else { (0.01, 0.01) };
        assert!(
            off_deg.abs() < limit_deg && off_g.abs() < limit_g,
            "{}: off by {off_deg} deg, G by {off_g}",
            case.name
        );
    }
}

/// UN Regulation No. 112, cut-off quality annex, as the Official Journal has it (CELEX 42014X0822(02), read on 2026-11-25
/// at lexaris.io): 2.2, G on the vertical scan at 2.5° from V-V, not less than 0.13
/// and not greater than 0.40; 2.3, inflections at 1.5°, 2.5° and 3.5° apart by no more than 0.2°.
#[test]
fn limits_are_those_of_regulation_112() {
    assert_eq!(super::quality::APPROVED_SHARPNESS, 0.13..=0.40);
    assert_eq!(super::quality::APPROVED_LINEARITY_DEG.to_bits(), 0.2f64.to_bits());
    assert_eq!(super::READING_SCAN_DEG.to_bits(), 2.5f64.to_bits());
    assert_eq!(super::LINEARITY_SCANS_DEG, [1.5, 3.5]);
}
