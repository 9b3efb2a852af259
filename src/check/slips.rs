//! Slips of whoever enters a job: a sound job is drawn and read, then read again with one thing entered wrongly, and held
//! against itself.

use super::case::{Case, Tape};
use super::seeded;
use super::spoil::add_other_lamp;
use super::trial::Folder;
use super::variety::varied;
use crate::error::Error;
use crate::record::{Bay, Job, Pattern, Shot, Side, Stage, Traffic};
use crate::render::{Photo, Truth};
use crate::run::{Findings, Options, Run};
use crate::warning::{Cause, Warning};
use image::ImageEncoder;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use serde::Serialize;
use std::collections::BTreeSet;
use std::mem::discriminant;
use std::path::Path;

/// A figure that a slip moves by less than this does not count as wrong, per cent; as for photos that are spoilt.
const WRONG_PERCENT: f64 = 0.05;
/// Inclinations of a sound car's beams, per cent: what some rule lets a lamp be set or driven to.
const SOUND_PERCENT: std::ops::RangeInclusive<f64> = 0.3..=3.5;
/// The lamp at position 1 after the repair, dead.
const DEAD: &str = "dead.jpg";
/// The same, moved half as far as the other lamp.
const SHORT: &str = "short.jpg";
/// Slips that are tried on each scene, whose photos are drawn once.
const SLIPS_A_SCENE: usize = 4;

macro_rules! slips {
    ($($slip:ident $name:literal $moves:ident [$($cause:ident)*] $doc:literal;)+) => {
        /// What is entered wrongly.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
        #[serde(rename_all = "kebab-case")]
        pub(crate) enum Slip { $(#[doc = $doc] $slip),+ }

        impl Slip {
            /// All of them, in the order in which the seeds go through them.
            pub const ALL: &'static [Self] = &[$(Self::$slip),+];

            /// Its name in the output.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$slip => $name),+ }
            }

            /// Whether it is the figures that it makes wrong, rather than what they are taken to be figures of.
            fn moves_figures(self) -> bool {
                match self { $(Self::$slip => slips!(@$moves)),+ }
            }

            /// What a warning must give as a cause to name the slip.
            fn causes(self) -> &'static [Cause] {
                match self { $(Self::$slip => &[$(Cause::$cause),*]),+ }
            }
        }
    };
    (@figures) => { true };
    (@meaning) => { false };
}
slips! {
    HeightLess "height-90" figures [Heights Job] "One lamp's height is 90 mm too small.";
    HeightMore "height+100" figures [Heights Job] "One lamp's height is 100 mm too large.";
    HeightsLess "heights-90" figures [Heights Job] "Both lamps' heights are.";
    LastDigits "last-digits" figures [Heights Job] "The last two digits of a lamp's height are exchanged.";
    FirstDigits "first-digits" figures [Heights Job] "The first two are.";
    OneDistance "one-distance" figures [Distance Job] "One lamp's distance is a quarter too large, 10 m for 8 m.";
    Distances "distances" figures [Distance Job] "Both lamps' distances are.";
    DistanceCm "distance-cm" figures [Distance Job] "Distances are in centimetres.";
    OneMetre "one-metre" figures [Distance Job] "Both distances are 1 m too small.";
    PlaceSign "place-sign" figures [OtherLamp Job] "One lamp's place has the other sign.";
    PlacesMirrored "places-mirrored" figures [OtherLamp Job] "Both have: seen from before the car.";
    PlaceOff "place+150" figures [OtherLamp Job] "One lamp's place is 150 mm off.";
    LampSide "lamp-side" figures [OtherLamp Job] "A photo is entered under the other lamp.";
    Traffic "traffic" figures [Job Lean] "The side of the road is the other one.";
    SheetsHigh "sheets+100" figures [Heights Marks] "The sheets' heights are from a floor 100 mm lower.";
    SheetsLow "sheets-150" figures [Heights Marks] "From a step 150 mm high.";
    SheetsCm "sheets-cm" figures [Marks] "The sheets' places are in centimetres.";
    SheetSize "sheet-size" figures [Marks] "The sheets' size is that of the paper, 200 mm for 160.";
    Stages "stages" meaning [Job Time] "Before and after the repair are exchanged.";
    LampOffLit "lamp-off-lit" figures [Exposure] "The lamp is lit in the lamp-off photo.";
    SamePhoto "same-photo" meaning [Job] "One photo is entered twice, under two names.";
    Positions "positions" meaning [Photos Job] "The positions of two photos are exchanged.";
    WrongPattern "pattern" meaning [Job] "The pattern is another one.";
    Disagree "disagree" meaning [Photos] "One photo of a position is of another inclination.";
    Dead "dead-lamp" meaning [Adjuster] "No slip: the lamp does not move after the repair.";
    Short "short-lamp" meaning [Adjuster] "No slip: the lamp moves half as far as the other.";
    Copy "copy" meaning [Photos] "One photo is a copy of half the size, without the camera's data.";
}

/// What came of a slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Fate {
    /// The job is not read at all.
    Error,
    /// A photo gives no figure that gave one.
    Refused,
    /// A new warning names the cause.
    Named,
    /// There is a new warning, and it names another cause.
    Warned,
    /// Every figure stays within 0.05 %, so that nothing is wrong.
    Harmless,
    /// Figures are wrong, or stand for what they are not, and nothing is said.
    Silent,
}

/// One slip on a scene.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Tried {
    /// The slip.
    pub slip: Slip,
    /// What came of it.
    pub fate: Fate,
    /// How far the figure that moved farthest did, per cent.
    pub moved_percent: f64,
    /// What was said that is not said of the sound job.
    pub said: Vec<String>,
}

/// A sound job, and the slips that were tried on it.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Slipped {
    /// The scene's own seed.
    pub seed: u64,
    /// What is said of the sound job that accuses whoever entered it.
    pub accused: Vec<String>,
    /// Its photos that give no figure.
    pub refused: usize,
    /// The slips.
    pub slips: Vec<Tried>,
}

/// Draws a job, reads it as it is, and with the slips that are the seed's turn.
///
/// # Errors
/// [`Error`] where no scene could be drawn, or a photo cannot be written to the temporary folder.
pub(crate) fn slipped(seed: u64) -> Result<Slipped, Error> {
    let mut rng = seeded(seed, 4);
    let case = draw(seed, &mut rng)?;
    let folder = Folder::new()?;
    for (index, photo) in case.scene.photo.iter().enumerate() {
        folder.write(&photo.file, &case.scene.jpeg_of(index)?)?;
    }
    let sound = read(&case.job, &case.bay, &folder)?;
    let accuses = |warning: &&Warning| {
        const WITHOUT: [Cause; 5] = [
            Cause::Job,
            Cause::Photos,
            Cause::Heights,
            Cause::Distance,
            Cause::OtherLamp,
        ];
        warning.causes().iter().any(|cause| WITHOUT.contains(cause))
    };
    let slips = (0..SLIPS_A_SCENE as u64).map(|n| {
        let turn = seed.wrapping_mul(SLIPS_A_SCENE as u64).wrapping_add(n);
        let slip = Slip::ALL[(turn % Slip::ALL.len() as u64) as usize];
        let (mut job, mut bay) = (case.job.clone(), case.bay.clone());
        make(slip, &mut job, &mut bay, case.scene.lamp[0].pattern, &folder)?;
        Ok(held_against(slip, &sound, read(&job, &bay, &folder), &folder))
    });
    Ok(Slipped {
        seed,
        accused: (warnings(&sound).filter(accuses).map(ToString::to_string))
            .chain(faults(&sound))
            .map(|said| folder.without(&said))
            .collect(),
        refused: sound.readings.iter().filter(|reading| reading.result.is_err()).count(),
        slips: slips.collect::<Result<_, Error>>()?,
    })
}

/// How far the control's position 1 lowers a sound beam after the repair, per cent.
const TRAVEL_PERCENT: f64 = 0.6;

/// Two lamps and eight photos: the first lamp before the repair at 0 twice and at 1, after it at 0 and 1; the other lamp
/// after it at 0 and 1; and one with the lamps off. Beside them two that no sound job lists: the first lamp after the repair at
/// 1, not moved, and half moved.
fn draw(seed: u64, rng: &mut ChaCha8Rng) -> Result<Case, Error> {
    const ATTEMPTS: usize = 50;
    for _ in 0..ATTEMPTS {
        let mut scene = varied(rng, 7_600.0..10_000.0)?;
        scene.exposure.p997_of_full_scale = rng.random_range(0.5..1.1);
        scene.camera.motion_px = 0.0;
        let start_percent = rng.random_range(0.5..1.6);
        let mut case = Case::new(seed, scene, Tape::AsDeclared, rng);
        let Some(other) = add_other_lamp(&mut case, rng) else {
            continue;
        };
        let mut made = case.scene.lamp[0].clone();
        made.side = other.side;
        made.centre_x_mm = other.centre_x_mm;
        made.centre_height_mm = other.centre_height_mm;
        case.scene.lamp.push(made);
        case.job.tolerance = Some("un-r48".to_owned());
        let first = case.job.lamp[0].side;
        let entries = [
            ("1.jpg", first, Stage::Before, "0", 0.0),
            ("2.jpg", first, Stage::Before, "0", 0.0),
            ("3.jpg", first, Stage::Before, "1", 0.2),
            ("4.jpg", first, Stage::After, "0", 0.0),
            ("5.jpg", first, Stage::After, "1", TRAVEL_PERCENT),
            ("6.jpg", other.side, Stage::After, "0", 0.1),
            ("7.jpg", other.side, Stage::After, "1", 0.1 + TRAVEL_PERCENT),
            (DEAD, first, Stage::After, "1", 0.0),
            (SHORT, first, Stage::After, "1", 0.5 * TRAVEL_PERCENT),
        ];
        let photo = |file: &str, minute: usize| Photo {
            file: file.to_owned(),
            taken: Some(format!("2031-03-04T20:{minute:02}:00")),
            ..Photo::default()
        };
        let lit = entries
            .iter()
            .enumerate()
            .map(|(n, (file, side, _, _, percent))| Photo {
                lit: Some(vec![*side]),
                inclination_percent: Some(start_percent + percent),
                ..photo(file, 10 + n)
            });
        let off = Photo {
            lamp_on: Some(false),
            ..photo("off.jpg", 20)
        };
        case.scene.photo = lit.chain([off]).collect();
        let listed = entries.iter().filter(|entry| ![DEAD, SHORT].contains(&entry.0));
        let shots = listed.map(|(file, side, stage, position, _)| Shot {
            stage: Some(*stage),
            position: Some((*position).to_owned()),
            lamp_off: (*stage == Stage::Before).then(|| "off.jpg".into()),
            ..Shot::of(*file, *side)
        });
        case.job.shot = shots.collect();
        // A soft edge's inflection lies well above the aim that was drawn; a sound car's beam does not rise.
        let sound = |truth: &Truth| SOUND_PERCENT.contains(&truth.inclination_percent);
        if case.scene.truth().is_ok_and(|truths| truths.iter().all(sound)) {
            return Ok(case);
        }
    }
    Err(Error::asked(format!(
        "no job could be drawn from seed {seed}; choose another"
    )))
}

/// Reads a job as any is read.
fn read(job: &Job, bay: &Bay, folder: &Folder) -> Result<Findings, Error> {
    let text = toml::to_string(bay).map_err(|e| Error::make("the made bay", e))?;
    folder.write("bay.toml", text.as_bytes())?;
    Run::of(job.clone(), Path::new("job.toml"), folder.path())?.measure(&Options::default())
}

/// All that is warned of, of the job and of its photos.
fn warnings(findings: &Findings) -> impl Iterator<Item = &Warning> {
    let measured = findings
        .readings
        .iter()
        .filter_map(|reading| reading.result.as_ref().ok());
    (findings.warnings.iter()).chain(measured.flat_map(|measured| &measured.warnings))
}

/// What is said to be wrong with the range adjuster.
fn faults(findings: &Findings) -> Vec<String> {
    let travel = findings.adjuster.travel.iter();
    let travel = travel.flat_map(|travel| {
        travel
            .faults
            .iter()
            .map(move |fault| format!("{}: {fault}", travel.lamp))
    });
    let short = findings.adjuster.short_travels().map(|(_, short)| short.to_string());
    travel.chain(short).collect()
}

/// What came of a slip, beside the sound job.
fn held_against(slip: Slip, sound: &Findings, slipped: Result<Findings, Error>, folder: &Folder) -> Tried {
    let tried = |fate, moved_percent, said: Vec<String>| Tried {
        slip,
        fate,
        moved_percent,
        said: said.iter().map(|text| folder.without(text)).collect(),
    };
    let slipped = match slipped {
        Ok(slipped) => slipped,
        Err(error) => return tried(Fate::Error, 0.0, vec![error.to_string()]),
    };
    let pairs = || sound.readings.iter().zip(&slipped.readings);
    let refusals: Vec<String> = pairs()
        .filter(|(before, _)| before.result.is_ok())
        .filter_map(|(_, after)| Some(after.result.as_ref().err()?.to_string()))
        .collect();
    let moved_percent = pairs()
        .filter_map(|(before, after)| Some((before.result.as_ref().ok()?, after.result.as_ref().ok()?)))
        .map(|(before, after)| (after.aim.inclination_percent - before.aim.inclination_percent).abs())
        .fold(0.0, f64::max);
    if !refusals.is_empty() {
        return tried(Fate::Refused, moved_percent, refusals);
    }
    let known: Vec<_> = warnings(sound).map(discriminant).collect();
    let new: Vec<&Warning> = warnings(&slipped)
        .filter(|warning| !known.contains(&discriminant(*warning)))
        .collect();
    let names = |warning: &&Warning| warning.causes().iter().any(|cause| slip.causes().contains(cause));
    let known_faults = faults(sound);
    let mut found = faults(&slipped);
    found.retain(|fault| !known_faults.contains(fault));
    let fate = if new.iter().any(names) || (slip.causes() == [Cause::Adjuster] && !found.is_empty()) {
        Fate::Named
    } else if !new.is_empty() || !found.is_empty() {
        Fate::Warned
    } else if slip.moves_figures() && moved_percent <= WRONG_PERCENT {
        Fate::Harmless
    } else {
        Fate::Silent
    };
    let said: BTreeSet<String> = new.iter().map(ToString::to_string).chain(found).collect();
    tried(fate, moved_percent, said.into_iter().collect())
}

/// Makes a slip in a sound job whose lamps throw `pattern`.
fn make(slip: Slip, job: &mut Job, bay: &mut Bay, pattern: Pattern, folder: &Folder) -> Result<(), Error> {
    let each = |job: &mut Job, change: fn(&mut crate::record::Lamp)| job.lamp.iter_mut().for_each(change);
    match slip {
        Slip::HeightLess => job.lamp[0].centre_height_mm -= 90.0,
        Slip::HeightMore => job.lamp[0].centre_height_mm += 100.0,
        Slip::HeightsLess => each(job, |lamp| lamp.centre_height_mm -= 90.0),
        Slip::LastDigits | Slip::FirstDigits => {
            let height_mm = &mut job.lamp[0].centre_height_mm;
            *height_mm = exchanged(*height_mm, if slip == Slip::LastDigits { 1.0 } else { 10.0 });
        }
        Slip::OneDistance => job.lamp[0].distance_mm *= 1.25,
        Slip::Distances => each(job, |lamp| lamp.distance_mm *= 1.25),
        Slip::DistanceCm => each(job, |lamp| lamp.distance_mm /= 10.0),
        Slip::OneMetre => each(job, |lamp| lamp.distance_mm -= 1_000.0),
        Slip::PlaceSign => job.lamp[0].centre_x_mm *= -1.0,
        Slip::PlacesMirrored => each(job, |lamp| lamp.centre_x_mm *= -1.0),
        Slip::PlaceOff => job.lamp[0].centre_x_mm += 150.0,
        Slip::LampSide => job.shot[2].lamp = other(job.shot[2].lamp),
        Slip::Traffic => {
            job.traffic = match job.traffic {
                Traffic::Left => Traffic::Right,
                Traffic::Right => Traffic::Left,
            };
        }
        Slip::SheetsHigh => bay.marks.sheet.iter_mut().for_each(|sheet| sheet.y_mm += 100.0),
        Slip::SheetsLow => bay.marks.sheet.iter_mut().for_each(|sheet| sheet.y_mm -= 150.0),
        Slip::SheetsCm => bay.marks.sheet.iter_mut().for_each(|sheet| {
            sheet.x_mm /= 10.0;
            sheet.y_mm /= 10.0;
        }),
        Slip::SheetSize => bay.marks.size_mm = 200.0,
        Slip::Stages => job.shot.iter_mut().for_each(|shot| {
            shot.stage = shot.stage.map(|stage| match stage {
                Stage::Before => Stage::After,
                Stage::After => Stage::Before,
            });
        }),
        Slip::LampOffLit => (job.shot.iter_mut().filter(|shot| shot.lamp_off.is_some()))
            .for_each(|shot| shot.lamp_off = Some("5.jpg".into())),
        Slip::SamePhoto => {
            folder.copy("4.jpg", "4b.jpg", Ok)?;
            job.shot[4].photo = "4b.jpg".into();
        }
        Slip::Positions => {
            let position = job.shot[1].position.take();
            job.shot[1].position = std::mem::replace(&mut job.shot[2].position, position);
        }
        Slip::WrongPattern => {
            job.pattern = Some(match pattern {
                Pattern::KickUp => Pattern::Flat,
                Pattern::Step | Pattern::Flat => Pattern::KickUp,
            });
        }
        Slip::Disagree => job.shot[1].photo = SHORT.into(),
        Slip::Dead => job.shot[4].photo = DEAD.into(),
        Slip::Short => job.shot[4].photo = SHORT.into(),
        Slip::Copy => {
            folder.copy("3.jpg", "3b.jpg", |bytes| half_size(&bytes))?;
            job.shot[2].photo = "3b.jpg".into();
        }
    }
    Ok(())
}

fn other(side: Side) -> Side {
    match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    }
}

/// A number of millimetres with the digit at `unit` exchanged with the one before it.
fn exchanged(mm: f64, unit: f64) -> f64 {
    let digit = |at: f64| (mm.round() / at).floor() % 10.0;
    let (low, high) = (digit(unit), digit(10.0 * unit));
    mm + (high - low) * unit + (low - high) * 10.0 * unit
}

/// A photo as a message sends it on: half as wide and high, with no word of the camera.
fn half_size(bytes: &[u8]) -> Result<Vec<u8>, Error> {
    let fail = |e: image::ImageError| Error::make("a made photo's copy", e);
    let whole = image::load_from_memory(bytes).map_err(fail)?;
    let small = whole.resize_exact(whole.width() / 2, whole.height() / 2, FilterType::CatmullRom);
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, 75)
        .write_image(
            small.to_rgb8().as_raw(),
            small.width(),
            small.height(),
            image::ExtendedColorType::Rgb8,
        )
        .map_err(fail)?;
    Ok(out)
}

/// What the slips of one kind came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct SlipRow {
    /// The slip.
    pub slip: Slip,
    /// Jobs with it.
    pub jobs: usize,
    /// Told by an error or a refusal.
    pub refused: usize,
    /// Told by a warning that names the cause.
    pub named: usize,
    /// With a warning that names another cause.
    pub warned: usize,
    /// With no figure that is wrong.
    pub harmless: usize,
    /// Wrong, and nothing said.
    pub silent: usize,
}

/// What slips came to, and what was said of sound jobs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct SlipSummary {
    /// Sound jobs.
    pub sound: usize,
    /// Those that a warning accuses of a slip.
    pub accused: usize,
    /// Photos of sound jobs that give no figure.
    pub refused_photos: usize,
    /// A row for each slip that was tried.
    pub slips: Vec<SlipRow>,
}

impl SlipSummary {
    /// Sums up scenes.
    #[must_use]
    pub fn of(scenes: &[Slipped]) -> Self {
        let row = |&slip: &Slip| {
            let mine: Vec<Fate> = (scenes.iter().flat_map(|scene| &scene.slips))
                .filter(|tried| tried.slip == slip)
                .map(|tried| tried.fate)
                .collect();
            let count = |fates: &[Fate]| mine.iter().filter(|fate| fates.contains(fate)).count();
            (!mine.is_empty()).then(|| SlipRow {
                slip,
                jobs: mine.len(),
                refused: count(&[Fate::Error, Fate::Refused]),
                named: count(&[Fate::Named]),
                warned: count(&[Fate::Warned]),
                harmless: count(&[Fate::Harmless]),
                silent: count(&[Fate::Silent]),
            })
        };
        Self {
            sound: scenes.len(),
            accused: scenes.iter().filter(|scene| !scene.accused.is_empty()).count(),
            refused_photos: scenes.iter().map(|scene| scene.refused).sum(),
            slips: Slip::ALL.iter().filter_map(row).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_exchanged_and_the_rest_stays() {
        assert!((exchanged(652.0, 1.0) - 625.0).abs() < 1e-9);
        assert!((exchanged(652.0, 10.0) - 562.0).abs() < 1e-9);
        // 87 of 871.6, rounded to 872, by hand: 782 and 0.4 less.
        assert!((exchanged(871.6, 10.0) - 781.6).abs() < 1e-9);
    }

    /// A sound job of made photos accuses nobody, and its slips that plainly show are told: seed 27 has the first four.
    #[test]
    fn a_sound_job_is_not_accused_and_plain_slips_are_told() {
        let scene = slipped(27).unwrap();
        assert!(scene.accused.is_empty() && scene.refused == 0, "{:?}", scene.accused);
        let fate = |slip: Slip| scene.slips.iter().find(|tried| tried.slip == slip).unwrap().fate;
        for slip in [Slip::HeightLess, Slip::HeightMore] {
            assert!(matches!(fate(slip), Fate::Named | Fate::Refused), "{:?}", scene.slips);
        }
        let summary = SlipSummary::of(std::slice::from_ref(&scene));
        assert_eq!(
            (summary.sound, summary.accused, summary.slips.len()),
            (1, 0, SLIPS_A_SCENE)
        );
        let total = |row: &SlipRow| row.refused + row.named + row.warned + row.harmless + row.silent;
        assert!(summary.slips.iter().all(|row| total(row) == row.jobs));
    }
}
