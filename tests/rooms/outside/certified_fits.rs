//! The least squares of `fit` against the NIST Statistical Reference Datasets (StRD), whose results are certified to 11
//! or more digits. Data sets and certified values: NIST StRD, Norris.dat (linear, lower difficulty) and Misra1a.dat
//! (non-linear, lower difficulty), https://www.itl.nist.gov/div898/strd/, read on 2026-11-25 as public repositories
//! carry them; SciPy gets the certified values from these data. BoxBOD.dat (non-linear, higher difficulty) was
//! typed from memory and agrees with public copies of NIST's file (as quoted to us, read on 2026-11-26).

use crate::fit::{Fit, Loss, Problem, Slopes, TO_THE_DIGIT};

/// Norris, J., NIST: calibration of ozone monitors; y, x.
#[rustfmt::skip]
const NORRIS: [(f64, f64); 36] = [
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5),
    (668.5, 666.3), (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4),
    (0.1, 0.6), (778.1, 775.5), (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6),
    (557.7, 556.0), (228.3, 228.1), (998.0, 995.8), (888.8, 887.6), (119.6, 120.2), (0.3, 0.3),
    (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2), (998.5, 999.0), (778.9, 779.0),
    (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9), (0.2, 0.5),
];

/// Misra, D., NIST (1978): dental research, monomolecular adsorption; y = b1 (1 − exp(−b2 x)); y, x.
#[rustfmt::skip]
const MISRA_1A: [(f64, f64); 14] = [
    (10.07, 77.6), (14.73, 114.9), (17.94, 141.1), (23.93, 190.8), (29.61, 239.9), (35.18, 289.0), (40.02, 332.8),
    (44.82, 378.4), (50.76, 434.8), (55.05, 477.3), (61.01, 536.8), (66.40, 593.1), (75.47, 689.1), (81.78, 760.0),
];

/// Bates and Watts (1988), *Nonlinear Regression Analysis and Its Applications*: biochemical oxygen demand; NIST StRD
/// BoxBOD.dat (higher difficulty); y = b1 (1 − exp(−b2 x)); y, x. Data and certified values were typed from
/// memory and agree with public copies of NIST's file (as quoted to us, read on 2026-11-26).
const BOX_BOD: [(f64, f64); 6] = [
    (109.0, 1.0),
    (149.0, 2.0),
    (149.0, 3.0),
    (191.0, 5.0),
    (213.0, 7.0),
    (224.0, 10.0),
];

/// A certified estimate and its standard deviation.
struct Certified {
    estimate: f64,
    sd: f64,
}

/// Least number of significant digits in which two values agree: −log10 of the relative difference (NIST's LRE).
fn digits(found: f64, certified: f64) -> f64 {
    -((found - certified).abs() / certified.abs()).max(1e-16).log10()
}

fn check(name: &str, fit: &Fit, certified: &[Certified], residual_sd: f64, least_digits: f64) {
    assert!(fit.converged, "{name}");
    let freedom = (fit.residuals.len() - certified.len()) as f64;
    let found_sd = (fit.residuals.iter().map(|r| r * r).sum::<f64>() / freedom).sqrt();
    let mut pairs = vec![("residual sd", found_sd, residual_sd)];
    for (i, c) in certified.iter().enumerate() {
        pairs.push(("estimate", fit.parameters[i], c.estimate));
        pairs.push(("its sd", found_sd * fit.covariance[(i, i)].sqrt(), c.sd));
    }
    for (what, found, certified) in pairs {
        let digits = digits(found, certified);
        println!("{name}: {what} {found:.12e}, certified {certified:.12e}, {digits:.1} digits");
        assert!(
            digits >= least_digits,
            "{name}: {what} {found} against {certified}: {digits:.1} digits"
        );
    }
}

#[test]
fn norris_line_has_its_certified_values() {
    let residuals = |p: &[f64]| NORRIS.iter().map(|(y, x)| p[0] + p[1] * x - y).collect::<Vec<f64>>();
    let problem = Problem {
        residuals: &residuals,
        priors: 0,
        slopes: Slopes::Differences(&[1e-3, 1e-4]),
        loss: Loss::Square,
        settled: TO_THE_DIGIT,
    };
    let fit = problem.solve(&[0.0, 0.0]).unwrap();
    let certified = [
        Certified {
            estimate: -0.262_323_073_774_029,
            sd: 0.232_818_234_301_152,
        },
        Certified {
            estimate: 1.002_116_818_020_45,
            sd: 0.429_796_848_199_937e-3,
        },
    ];
    check("Norris", &fit, &certified, 0.884_796_396_144_373, 6.0);
}

/// The model of both data sets, b1 (1 − exp(−b2 x)), from both certified starts.
fn check_exponential(
    name: &str,
    data: &[(f64, f64)],
    step: f64,
    starts: [[f64; 2]; 2],
    certified: &[Certified],
    residual_sd: f64,
) {
    let model = |p: &[f64], x: f64| p[0] * (1.0 - (-p[1] * x).exp());
    let residuals = |p: &[f64]| data.iter().map(|(y, x)| model(p, *x) - y).collect::<Vec<f64>>();
    let problem = Problem {
        residuals: &residuals,
        priors: 0,
        slopes: Slopes::Differences(&[1e-2, step]),
        loss: Loss::Square,
        settled: TO_THE_DIGIT,
    };
    for start in starts {
        let fit = problem.solve(&start).unwrap();
        check(&format!("{name} from {start:?}"), &fit, certified, residual_sd, 6.0);
    }
}

#[test]
fn misra_1a_has_its_certified_values_from_both_starts() {
    let certified = [
        Certified {
            estimate: 2.389_421_291_8e2,
            sd: 2.707_007_524_1,
        },
        Certified {
            estimate: 5.501_564_318_1e-4,
            sd: 7.266_868_843_6e-6,
        },
    ];
    let starts = [[500.0, 1e-4], [250.0, 5e-4]];
    check_exponential("Misra1a", &MISRA_1A, 1e-8, starts, &certified, 1.018_787_633_0e-1);
}

#[test]
fn box_bod_has_its_certified_values_from_both_starts() {
    let certified = [
        Certified {
            estimate: 2.138_094_088_9e2,
            sd: 1.235_451_517_6e1,
        },
        Certified {
            estimate: 5.472_374_854_2e-1,
            sd: 1.045_599_323_7e-1,
        },
    ];
    let starts = [[1.0, 1.0], [100.0, 0.75]];
    check_exponential("BoxBOD", &BOX_BOD, 1e-5, starts, &certified, 1.708_807_242_3e1);
}
