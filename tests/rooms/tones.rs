//! Photos whose file is not plain sRGB, read as any other.

use crate::aim::{Measured, ShotReading, Source, Term};
use crate::record::Side;
use crate::render::{Scene, ToneCurve};
use crate::warning::Cause;

fn scene() -> Scene {
    super::common::plain_scene(21)
}

fn read(scene: &Scene) -> ShotReading {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("1.jpg"), scene.jpeg().unwrap()).unwrap();
    super::common::read(scene, folder.path(), &super::common::shot("1.jpg", Side::Left))
}

/// The reading and its error, per cent.
fn measured(scene: &Scene) -> (Measured, f64) {
    let measured = read(scene).result.unwrap_or_else(|refusal| panic!("{refusal}"));
    let error = measured.aim.inclination_percent - scene.truth().unwrap()[0].inclination_percent;
    (measured, error)
}

fn tone_sd_percent(measured: &Measured) -> f64 {
    let of_tone = |term: &&Term| matches!(term.source, Source::Tone | Source::SharedTone);
    let terms = measured.aim.budget.iter().filter(of_tone);
    terms.map(|term| term.sd_percent.powi(2)).sum::<f64>().sqrt()
}

fn speaks_of_tone(measured: &Measured) -> bool {
    measured
        .warnings
        .iter()
        .any(|warning| warning.causes().contains(&Cause::Tone))
}

#[test]
fn a_plain_photo_is_left_plain_and_hardly_less_sure() {
    let (measured, error) = measured(&scene());
    let sd = tone_sd_percent(&measured);
    assert!(!speaks_of_tone(&measured), "{:?}", measured.warnings);
    assert!(sd > 0.0 && sd < 0.01, "{sd}");
    assert!(error.abs() < measured.aim.u95_percent(), "{error}");
}

#[test]
fn curves_over_the_whole_photo_are_taken_out() {
    for curve in [
        ToneCurve::Filmic(0.8),
        ToneCurve::Sigmoid(1.5),
        ToneCurve::Shoulder(3.0),
        ToneCurve::Contrast(0.6),
    ] {
        let mut scene = scene();
        scene.exposure.curve = curve;
        let (measured, error) = measured(&scene);
        let u95 = measured.aim.u95_percent();
        assert!(error.abs() < 1.3 * u95 && u95 < 0.2, "{curve:?}: {error} ± {u95}");
        assert!(speaks_of_tone(&measured), "{curve:?}: {:?}", measured.warnings);
    }
}

/// Videos' curve read as sRGB: whether it is told or not, the interval knows of it.
#[test]
fn a_still_from_a_video_is_read_within_its_interval() {
    let mut scene = scene();
    scene.exposure.curve = ToneCurve::Rec709;
    let (measured, error) = measured(&scene);
    assert!(
        error.abs() < 1.3 * measured.aim.u95_percent(),
        "{error} ± {}",
        measured.aim.u95_percent()
    );
}

#[test]
fn what_follows_the_surroundings_is_named() {
    let mut scene = scene();
    scene.exposure.edits.equalise = 0.5;
    match read(&scene).result {
        Ok(measured) => assert!(speaks_of_tone(&measured), "{:?}", measured.warnings),
        Err(refusal) => assert!(
            refusal.english().contains("HDR") || refusal.english().contains("tone"),
            "{refusal}"
        ),
    }
}

/// Noise of the highest speeds, cut off at black.
#[test]
fn noise_is_no_edit() {
    for seed in [31, 32] {
        let mut scene = scene();
        scene.seed = seed;
        scene.exposure.iso = 3_200;
        scene.exposure.full_well_electrons = 250.0;
        scene.exposure.read_noise_electrons = 3.5;
        let (measured, _) = measured(&scene);
        assert!(!speaks_of_tone(&measured), "{:?}", measured.warnings);
    }
}
