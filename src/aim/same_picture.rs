//! One picture in two shots of different settings: it must not count as a setting that does nothing.
//!
//! Bytes that are the same are the same picture. A copy that was coded anew has other bytes, but still the noise of the one exposure,
//! which two exposures never share, however still the beam stands: noise is held against noise, in tiles all over the photo. Asked
//! only where the times do not tell the photos apart.

use super::ShotReading;
use crate::language::{Language, said};
use crate::photo::{Capture, Photo, srgb_from_linear};
use crate::record::{Shot, Trial};
use crate::refusal::{Reason, Refusal};
use std::path::PathBuf;

/// Tiles side by side and one above the other, and their side in px.
const TILES: [usize; 2] = [12, 9];
const TILE_PX: usize = 16;
/// How like two photos' noise must be.
#[derive(Debug, Clone, Copy)]
struct Likeness {
    /// Half of what they differ by from pixel to pixel, over what each has of that, as variances, is less than this: it is 1 for two exposures,
    /// 0 for one and the same. Copies of a phone's photo coded anew at 75 of 100 and better come to 0.4, exposures of one unmoved beam to
    /// 1.0 (made photos); a copy that is coded much more coarsely than its original keeps no noise to know it by.
    most: f64,
    /// In this share of the tiles; the rest may be what both photos see of the wall's own grain, which two exposures share.
    share: f64,
}

/// Where EXIF has both of one second and one exposure.
const TIMED: Likeness = Likeness { most: 0.7, share: 0.75 };
/// Where a photo has no time, so that only its noise speaks.
const UNTIMED: Likeness = Likeness { most: 0.5, share: 0.9 };
/// Tiles with less from pixel to pixel than this, in codes squared, hold no noise: black, white, or smoothed away.
const LEAST_GRAIN: f64 = 0.1;
/// Fewer such tiles than these tell nothing.
const LEAST_TILES: usize = 20;

/// What a photo has from pixel to pixel in tiles all over it.
#[derive(Debug, Clone)]
pub(super) struct Grain {
    size_px: [usize; 2],
    /// Tile by tile, in 64ths of a code.
    values: Vec<i16>,
}

impl Grain {
    /// Of a photo as its file has it.
    pub fn of(photo: &Photo) -> Self {
        let size_px = photo.size_px();
        let [width_px, height_px] = size_px;
        let code = |x: usize, y: usize| 255.0 * srgb_from_linear(f64::from(photo.pixels.light(x, y)));
        let mut values = Vec::new();
        for row in 0..TILES[1] {
            for column in 0..TILES[0] {
                let from = |n: usize, of: usize, side_px: usize| {
                    ((2 * n + 1) * side_px / (2 * of)).saturating_sub(TILE_PX / 2).max(1)
                };
                let (left, top) = (from(column, TILES[0], width_px), from(row, TILES[1], height_px));
                for y in top..(top + TILE_PX).min(height_px - 1) {
                    for x in left..(left + TILE_PX).min(width_px - 1) {
                        let round = code(x - 1, y) + code(x + 1, y) + code(x, y - 1) + code(x, y + 1);
                        let grain = 64.0 * (code(x, y) - 0.25 * round);
                        values.push(grain.clamp(f64::from(i16::MIN), f64::from(i16::MAX)) as i16);
                    }
                }
            }
        }
        Self { size_px, values }
    }

    /// Whether two photos have one noise, as like as that.
    fn is_of_one_exposure(&self, other: &Self, likeness: Likeness) -> bool {
        if self.size_px != other.size_px || self.values.len() != other.values.len() {
            return false;
        }
        let tiles = self
            .values
            .chunks(TILE_PX * TILE_PX)
            .zip(other.values.chunks(TILE_PX * TILE_PX));
        let mut ratios: Vec<f64> = tiles
            .filter_map(|(a, b)| {
                let (mut own, mut apart) = (0.0, 0.0);
                for (&a, &b) in a.iter().zip(b) {
                    let (a, b) = (f64::from(a) / 64.0, f64::from(b) / 64.0);
                    own += 0.5 * (a * a + b * b);
                    apart += 0.5 * (a - b).powi(2);
                }
                (own > LEAST_GRAIN * a.len() as f64).then_some(apart / own)
            })
            .collect();
        ratios.sort_by(f64::total_cmp);
        let ranked = ratios.get((likeness.share * ratios.len() as f64) as usize);
        ratios.len() >= LEAST_TILES && ranked.is_some_and(|&ratio| ratio < likeness.most)
    }
}

/// Refuses both shots of each pair that shows one picture and should show two settings of one lamp. `grains`: of each reading's photo,
/// where it could be read by itself. A trial's photo of the beam driven should show another setting than that of the beam at rest.
pub(super) fn refuse_copies(readings: &mut [ShotReading], grains: &[Option<Grain>], trials: &[Trial]) {
    let of_trial = |a: &Shot, b: &Shot| {
        let photos = |still: &Shot, driven: &Shot| {
            let is = |trial: &&Trial| {
                trial.still.as_ref() == Some(&still.photo) && trial.driven.as_ref() == Some(&driven.photo)
            };
            trials.iter().any(|trial| is(&trial))
        };
        photos(a, b) || photos(b, a)
    };
    let mut copies = Vec::new();
    for (n, one) in readings.iter().enumerate() {
        for (m, other) in readings.iter().enumerate().skip(n + 1) {
            let differ = are_two_settings(&one.shot, &other.shot) || of_trial(&one.shot, &other.shot);
            if differ && is_one_picture((one, &grains[n]), (other, &grains[m])) {
                copies.extend([(n, m), (m, n)]);
            }
        }
    }
    let refusals: Vec<(usize, Refusal)> = copies
        .into_iter()
        .map(|(n, m)| {
            let (shot, other) = (&readings[n].shot, &readings[m].shot);
            let refusal = Refusal::new(Reason::OnePicture, |language| {
                said!(
                    language;
                    "this is the same picture as {}, of which the job says {}, and of this one {}: which of them it shows is not known, so \
                     that it counts for neither. Take both again, or name the right files in the job",
                    "dies ist dasselbe Bild wie {}, von dem der Auftrag sagt: {}; von diesem sagt er: {}. Was davon es zeigt, ist nicht \
                     bekannt, deshalb zählt es für keines. Beide neu aufnehmen oder im Auftrag die richtigen Dateien nennen";
                    other.photo.display(),
                    setting_of(language, other, trials),
                    setting_of(language, shot, trials)
                )
            });
            (n, refusal)
        })
        .collect();
    for (n, refusal) in refusals {
        // A photo that gives no figure of its own needs no further reason.
        if readings[n].result.is_ok() {
            readings[n].result = Err(refusal);
        }
    }
}

/// Whether the job says of two shots of one lamp that they show different settings of what moves its beam.
fn are_two_settings(a: &Shot, b: &Shot) -> bool {
    if a.lamp != b.lamp || a.is_pumped() != b.is_pumped() {
        return false;
    }
    let position = |shot: &Shot| shot.position.as_deref().map(|name| name.trim().to_owned());
    let by_position = || matches!((position(a), position(b)), (Some(a), Some(b)) if a != b);
    let by_vacuum = || matches!((a.vacuum, b.vacuum), (Some(a), Some(b)) if a != b);
    // With the pump's valve shut it is the time that passes.
    a.stage != b.stage || by_position() || by_vacuum() || (a.sealed && b.sealed)
}

/// Whether two photos are one of a camera in two sizes, by their EXIF: no camera takes two of unlike size within a second, each as it
/// does the other. Its noise is gone with the pixels.
pub(crate) fn is_shrunk_copy(a: &Capture, b: &Capture) -> bool {
    /// Sides are whole px, so that the shape of a copy is not quite its original's.
    const SHAPE: f64 = 0.01;
    let shape = |[width_px, height_px]: [usize; 2]| width_px as f64 / height_px.max(1) as f64;
    let sizes = match (a.size_px, b.size_px) {
        (Some(one), Some(other)) => one != other && (shape(one) / shape(other) - 1.0).abs() < SHAPE,
        _ => false,
    };
    let told = a.camera.is_some() && a.taken.is_some() && a.exposure_s.is_some();
    let of = |one: &Capture| {
        (
            one.camera.clone(),
            one.taken.clone(),
            one.subsecond_s,
            one.exposure_s,
            one.iso,
        )
    };
    sizes && told && of(a) == of(b)
}

fn is_one_picture((a, of_a): (&ShotReading, &Option<Grain>), (b, of_b): (&ShotReading, &Option<Grain>)) -> bool {
    if a.sha256.is_some() && a.sha256 == b.sha256 {
        return true;
    }
    if is_shrunk_copy(&a.capture, &b.capture) {
        return true;
    }
    let (Some(of_a), Some(of_b)) = (of_a, of_b) else {
        return false;
    };
    match (&a.capture.taken, &b.capture.taken) {
        (Some(one), Some(other)) => {
            one == other && a.capture.exposure_s == b.capture.exposure_s && of_a.is_of_one_exposure(of_b, TIMED)
        }
        _ => of_a.is_of_one_exposure(of_b, UNTIMED),
    }
}

/// "position 1, before the repair", "300 mbar".
fn setting_of(language: Language, shot: &Shot, trials: &[Trial]) -> String {
    let mut parts = Vec::new();
    let photos =
        |of: fn(&Trial) -> &Option<PathBuf>| trials.iter().any(|trial| of(trial).as_ref() == Some(&shot.photo));
    if photos(|trial| &trial.still) {
        parts.push(
            language
                .pick("a trial's beam at rest", "Lichtkegel in Ruhe bei einem Versuch")
                .to_owned(),
        );
    }
    if photos(|trial| &trial.driven) {
        parts.push(
            language
                .pick("a trial's beam driven", "bewegter Lichtkegel bei einem Versuch")
                .to_owned(),
        );
    }
    if let Some(position) = &shot.position {
        parts.push(said!(language; "position {}", "Stellung {}"; position.trim()));
    }
    if let Some(vacuum) = &shot.vacuum {
        parts.push(format!("{:.0} mbar", vacuum.mbar()));
    }
    if shot.sealed {
        parts.push(language.pick("valve shut", "Ventil zu").to_owned());
    }
    if let Some(stage) = shot.stage {
        parts.push(match stage {
            crate::record::Stage::Before => language.pick("before the repair", "vor der Reparatur").to_owned(),
            crate::record::Stage::After => language.pick("after the repair", "nach der Reparatur").to_owned(),
        });
    }
    if parts.is_empty() {
        parts.push(language.pick("no position", "keine Stellung").to_owned());
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::{Aim, Common, Source};
    use crate::record::{Lamp, Side, Stage};
    use image::codecs::jpeg::JpegEncoder;
    use image::{DynamicImage, Rgb, RgbImage};

    /// A beam on a wall that has a grain of its own, with the noise of one exposure, as JPEG of a quality.
    fn photo(exposure: u32, quality: u8) -> Photo {
        // Whole numbers that look random (Knuth's multiplicative hash, from memory).
        let noise = |n: u32| {
            f64::from(
                n.wrapping_mul(2_654_435_761)
                    .rotate_left(13)
                    .wrapping_mul(2_246_822_519)
                    >> 16,
            ) / 65_535.0
                - 0.5
        };
        let mut picture = RgbImage::new(640, 480);
        for (x, y, pixel) in picture.enumerate_pixels_mut() {
            let beam = 90.0 + 80.0 / (1.0 + (-(f64::from(y) - 240.0) / 20.0).exp());
            let wall = 2.0 * noise(x + 641 * y);
            let of_exposure = 7.0 * noise(x + 641 * y + 1_000_003 * (exposure + 1));
            *pixel = Rgb([(beam + wall + of_exposure).round() as u8; 3]);
        }
        coded(&DynamicImage::ImageRgb8(picture), quality)
    }

    fn coded(picture: &DynamicImage, quality: u8) -> Photo {
        let mut bytes = Vec::new();
        picture
            .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, quality))
            .unwrap();
        Photo::decode(&bytes).unwrap()
    }

    /// The photo decoded and coded once more.
    fn again(photo: &Photo, quality: u8) -> Photo {
        let [width_px, height_px] = photo.size_px();
        let code = |x: u32, y: u32| {
            (255.0 * srgb_from_linear(f64::from(photo.pixels.light(x as usize, y as usize)))).round() as u8
        };
        let picture = RgbImage::from_fn(width_px as u32, height_px as u32, |x, y| Rgb([code(x, y); 3]));
        coded(&DynamicImage::ImageRgb8(picture), quality)
    }

    #[test]
    fn a_copy_has_the_noise_of_its_exposure_and_the_next_exposure_has_not() {
        let first = photo(1, 85);
        let grain = Grain::of(&first);
        for quality in [95, 85, 75] {
            let copy = Grain::of(&again(&first, quality));
            assert!(grain.is_of_one_exposure(&copy, TIMED), "coded at {quality}");
        }
        for exposure in 2..5 {
            assert!(
                !grain.is_of_one_exposure(&Grain::of(&photo(exposure, 85)), TIMED),
                "{exposure}"
            );
        }
    }

    #[test]
    fn one_picture_of_two_settings_is_refused_in_both_and_others_are_not() {
        let lamp = Lamp::of(Side::Left, 650.0, -560.0, 10_000.0);
        let reading = |position: &str, taken: Option<&str>| {
            let shot = Shot {
                position: Some(position.to_owned()),
                stage: Some(Stage::Before),
                ..Shot::of(format!("{position}.jpg"), Side::Left)
            };
            let mut reading = ShotReading::made(
                shot,
                lamp.clone(),
                Aim::made(1.2, &[(Source::Texture, 0.01)], Common::default()),
                taken,
            );
            reading.sha256 = Some(position.to_owned());
            reading
        };
        let refused = |readings: &mut [ShotReading], grains: &[Option<Grain>]| -> Vec<bool> {
            refuse_copies(readings, grains, &[]);
            readings.iter().map(|reading| reading.result.is_err()).collect()
        };
        let (a, b) = (photo(1, 85), photo(2, 85));
        let grains = [&a, &again(&a, 85), &b].map(|photo| Some(Grain::of(photo)));
        let at = Some("2031-03-04T20:15:00");
        let burst = || [reading("0", at), reading("1", at), reading("2", at)];
        // An honest burst has equal seconds, too.
        assert_eq!(refused(&mut burst(), &grains), [true, true, false]);
        let mut readings = burst();
        refuse_copies(&mut readings, &grains, &[]);
        let words = readings[1].result.as_ref().unwrap_err().english().to_owned();
        assert!(
            words.contains("same picture as 0.jpg") && words.contains("position 1"),
            "{words}"
        );
        // Another time tells them apart; of a photo without one the noise does.
        let mut timed = [
            reading("0", at),
            reading("1", Some("2031-03-04T20:16:00")),
            reading("2", None),
        ];
        assert_eq!(refused(&mut timed, &grains), [false; 3]);
        let mut untimed = [reading("0", at), reading("1", None), reading("2", None)];
        assert_eq!(refused(&mut untimed, &grains), [true, true, false]);
        // One position photographed twice, or both lamps on one photo, is no contradiction.
        let mut same = burst();
        same[1].shot.position = Some(" 0".to_owned());
        assert_eq!(refused(&mut same, &grains), [false; 3]);
        let mut lamps = burst();
        lamps[1].shot.lamp = Side::Right;
        lamps[1].sha256 = lamps[0].sha256.clone();
        assert_eq!(refused(&mut lamps, &grains), [false; 3]);
        // The same bytes, whatever the times say.
        let mut bytes = [reading("0", at), reading("1", Some("2031-03-04T20:16:00"))];
        bytes[1].sha256 = bytes[0].sha256.clone();
        assert_eq!(refused(&mut bytes, &[None, None]), [true; 2]);
        // A copy of another size has no noise to know it by, but its EXIF.
        let sized = |size_px: [usize; 2], camera: &str| {
            let mut readings = [reading("0", at), reading("1", at)];
            for (one, size_px) in readings.iter_mut().zip([[2400, 1800], size_px]) {
                one.capture.size_px = Some(size_px);
                one.capture.camera = Some("M 1".to_owned());
                one.capture.exposure_s = Some(0.05);
            }
            readings[1].capture.camera = Some(camera.to_owned());
            readings
        };
        assert_eq!(refused(&mut sized([1600, 1200], "M 1"), &[None, None]), [true; 2]);
        assert_eq!(refused(&mut sized([1599, 1200], "M 1"), &[None, None]), [true; 2]);
        for (size_px, camera) in [([1600, 1200], "M 2"), ([2400, 1800], "M 1"), ([1600, 900], "M 1")] {
            assert_eq!(
                refused(&mut sized(size_px, camera), &[None, None]),
                [false; 2],
                "{size_px:?}"
            );
        }
        let mut later = sized([1600, 1200], "M 1");
        later[1].capture.taken = Some("2031-03-04T20:15:01".to_owned());
        assert_eq!(refused(&mut later, &[None, None]), [false; 2]);
        // The photos of a trial show two settings by what they are for.
        let mut trial = [reading("0", at), reading("0", at)];
        trial[1].shot.photo = "driven.jpg".into();
        trial[1].sha256 = trial[0].sha256.clone();
        let trials = [Trial {
            test: "pump-at-left-lamp".to_owned(),
            moves: None,
            gauge: None,
            stage: None,
            still: Some("0.jpg".into()),
            driven: Some("driven.jpg".into()),
        }];
        refuse_copies(&mut trial, &[None, None], &trials);
        let words = trial[1].result.as_ref().unwrap_err().english().to_owned();
        assert!(words.contains("a trial's beam at rest"), "{words}");
    }
}
