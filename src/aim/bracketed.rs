//! A shot's photo with its brackets: which of them fit together, where they lie on each other, and the one photo that
//! they make.

use super::{OtherPhoto, Setting, Use};
use crate::language::said;
use crate::photo::{self, Bracket, Comparison, Merged, Misfit, Photo, exposure_ratio};
use crate::record::{SheetByHand, Shot};
use crate::refusal::{Reason, Refusal};
use crate::wall::{self, FoundMark, Tone};
use crate::warning::{PhotoOfShot, Warning, unprocessed};
use std::path::{Path, PathBuf};

/// A ratio of exposures by EXIF and one by the pixels that differ by more than this factor are not of the same light, or
/// a tone curve was applied. Nominal shutter times, ISO values and f-numbers each stand for true ones within a few per
/// cent (1/60 for 1/64 s is 6 %); common practice, no source.
const MOST_RATIO_OFF: f64 = 1.15;
/// Exposures closer than this factor, a quarter EV, show nothing that the other does not (common practice, no source).
const LEAST_RATIO: f64 = 1.19;
/// Corners that lie further than this off the map between two photos, px root mean square, are not of one plane wall:
/// ten times what they scatter by (common practice, no source).
const MOST_ALIGNMENT_RMS_PX: f64 = 1.5;
/// A photo that lies further than this off the one it is merged with would smear the edge, px (common practice, no
/// source: a lens blurs by about as much).
const MOST_SHIFT_PX: f64 = 1.0;
/// Without marks in common, light alone must tell the shift within this, px: two standard deviations more than the above
/// (common practice, no source).
const MOST_UNSURE_SHIFT_PX: f64 = 2.0;

/// What a shot's photos give together.
pub(super) struct Bracketed {
    pub photo: Photo,
    pub found: Vec<FoundMark>,
    /// Luminance of `photo` over that of the shot's main photo.
    pub scale: f64,
    pub warnings: Vec<Warning>,
    /// The brackets that could be read.
    pub others: Vec<OtherPhoto>,
    /// What the marks say of its response, which is laid on its light already.
    pub tone: Tone,
}

impl Bracketed {
    /// A refusal of the merged photo, with what kept brackets from helping, and a tone curve that may have moved the marks, or HDR
    /// that may have drawn an edge of its own: the marks need not tell of that.
    pub fn explain(&self, refusal: Refusal) -> Refusal {
        let refusal = refusal.reworded(|language, message| match (refusal.reason, self.tone.warning()) {
            (Reason::MarksDisagree, Some(tone)) => {
                let tone = tone.said(language);
                said!(language; "{message}. Or: {tone}", "{message}. Oder: {tone}")
            }
            (Reason::SecondCutoff, _) => {
                let unprocessed = unprocessed(language);
                said!(
                    language;
                    "{message}. Or HDR or a scene optimiser drew it: {unprocessed}",
                    "{message}. Oder HDR oder eine Szenenoptimierung hat sie gezeichnet: {unprocessed}"
                )
            }
            _ => message.to_owned(),
        });
        let of_brackets = |warning: &&Warning| !matches!(warning, Warning::SheetsByHand { .. });
        if self.warnings.iter().filter(of_brackets).count() == 0 {
            return refusal;
        }
        refusal.reworded(|language, message| {
            let warnings = self.warnings.iter().filter(of_brackets);
            let warnings: Vec<String> = warnings.map(|warning| warning.said(language)).collect();
            let warnings = warnings.join("; ");
            said!(language; "{message}. Brackets: {warnings}", "{message}. Belichtungsreihe: {warnings}")
        })
    }
}

/// A photo of the shot with its marks.
struct Exposure<'a> {
    path: &'a Path,
    photo: Photo,
    found: Vec<FoundMark>,
}

/// Reads a shot's photo, finds the marks in it, and merges it with its brackets. A bracket that cannot be used is a
/// warning, and the rest is merged without it.
pub(super) fn look(setting: &Setting<'_>, shot: &Shot) -> Result<Bracketed, Refusal> {
    let is_alone = setting.job.shot.len() == 1 && rayon::current_num_threads() > 1;
    let read = if is_alone { Photo::read_alone } else { Photo::read };
    let find = if is_alone { wall::find_in_alone } else { wall::find_in };
    let photo = read(setting.folder, &shot.photo)?;
    let wanted: Vec<u32> = setting.bay.marks.sheet.iter().map(|sheet| sheet.id).collect();
    let mut exposures = vec![Exposure {
        path: &shot.photo,
        found: find(&photo, &wanted),
        photo,
    }];
    let mut warnings = Vec::new();
    let others = read_brackets(setting.folder, &shot.brackets, &wanted, &mut exposures, &mut warnings);
    let merged = merge_all(&exposures, &wanted, &mut warnings);
    let main = exposures.swap_remove(0);
    // A curve bends each exposure's own light: patches of the merged photo would mix several.
    let tone = Tone::of(&wall::patches(&main.photo, &main.found));
    let (mut photo, mut found, scale) = match merged {
        Some(merged) => {
            let photo = Photo {
                sha256: main.photo.sha256,
                capture: main.photo.capture,
                ..merged.photo
            };
            (photo, merged.found, merged.scale)
        }
        None => (main.photo, main.found, 1.0),
    };
    if tone.response.is_bent() {
        photo = photo.bent_back(&tone.response);
        // Half of a step's light lies elsewhere along a blurred edge than half of its nominal light.
        let again = find(&photo, &wanted);
        if again.len() >= found.len() {
            found = again;
        }
    }
    warnings.extend(place_by_hand(&photo, &shot.sheets_by_hand, &wanted, &mut found)?);
    Ok(Bracketed {
        photo,
        found,
        scale,
        warnings,
        others,
        tone,
    })
}

/// Adds the sheets that somebody placed in the photo, but for those that were found: these are surer.
fn place_by_hand(
    photo: &Photo,
    sheets: &[SheetByHand],
    wanted: &[u32],
    found: &mut Vec<FoundMark>,
) -> Result<Option<Warning>, Refusal> {
    let mut ids = Vec::new();
    for sheet in sheets {
        if !wanted.contains(&sheet.id) {
            let id = sheet.id;
            return Err(Refusal::new(Reason::MarksMissing, |language| {
                said!(
                    language;
                    "sheet {id} is placed by hand, and the bay has no sheet of this number; mend the number, or take it out",
                    "Messblatt {id} ist von Hand gesetzt, und der Messplatz hat kein Blatt mit dieser Nummer; die Nummer berichtigen oder \
                     den Eintrag herausnehmen"
                )
            }));
        }
        if found.iter().all(|mark| mark.id != sheet.id) {
            found.push(wall::place(photo, sheet.id, sheet.corners_px, found));
            ids.push(sheet.id);
        }
    }
    found.sort_by_key(|mark| mark.id);
    Ok((!ids.is_empty()).then_some(Warning::SheetsByHand { ids }))
}

/// Reads the brackets and adds those that can be used to `exposures`, whose first is the main photo. Gives all that
/// could be read.
fn read_brackets<'a>(
    folder: &Path,
    paths: &'a [PathBuf],
    wanted: &[u32],
    exposures: &mut Vec<Exposure<'a>>,
    warnings: &mut Vec<Warning>,
) -> Vec<OtherPhoto> {
    let mut others = Vec::new();
    let main_size_px = exposures[0].photo.size_px();
    for path in paths {
        let held_px: u64 = exposures
            .iter()
            .map(|one| {
                one.photo
                    .size_px()
                    .map(|side_px| side_px as u64)
                    .iter()
                    .product::<u64>()
            })
            .sum();
        if held_px + photo::size_px(&folder.join(path)) > photo::MOST_SIDE_BY_SIDE_PX {
            let refusal = Refusal::new(Reason::UnreadablePhoto, |language| {
                said!(
                    language;
                    "{}: a shot's photos together have more than {} megapixels; list fewer brackets, or reduce all of them",
                    "{}: die Fotos einer Aufnahme haben zusammen mehr als {} Megapixel; weniger für die Belichtungsreihe angeben oder \
                     alle verkleinern";
                    path.display(),
                    photo::MOST_SIDE_BY_SIDE_PX / 1_000_000
                )
            });
            warnings.push(Warning::BracketUnreadable { refusal });
            continue;
        }
        let photo = match Photo::read_beside(folder, path) {
            Ok(photo) => photo,
            Err(refusal) => {
                warnings.push(Warning::BracketUnreadable { refusal });
                continue;
            }
        };
        others.push(OtherPhoto {
            photo: path.clone(),
            used_as: Use::Bracket,
            sha256: photo.sha256.clone(),
        });
        if let Some(same) = exposures.iter().find(|other| other.photo.sha256 == photo.sha256) {
            warnings.push(Warning::BracketTwice {
                bracket: path.clone(),
                other: same.path.to_owned(),
            });
        } else if photo.size_px() != main_size_px {
            warnings.push(Warning::BracketSize {
                bracket: path.clone(),
                size_px: photo.size_px(),
                main_size_px,
            });
        } else {
            let signs = photo.capture.processing.iter();
            warnings.extend(signs.map(|&sign| Warning::Processed {
                photo: PhotoOfShot::Bracket(path.clone()),
                sign,
            }));
            let found = wall::find_in(&photo, wanted);
            exposures.push(Exposure { path, photo, found });
        }
    }
    others
}

/// A merged photo with its marks.
struct MergedExposures {
    photo: Photo,
    found: Vec<FoundMark>,
    /// Its luminance over that of the main photo.
    scale: f64,
}

/// Merges the exposures that fit together; `None` where the main photo, the first of them, stays alone.
fn merge_all(exposures: &[Exposure<'_>], wanted: &[u32], warnings: &mut Vec<Warning>) -> Option<MergedExposures> {
    // The others are laid on the photo that shows most marks, the main photo where it is as good as any.
    let mut base = 0;
    for (n, exposure) in exposures.iter().enumerate() {
        if exposure.found.len() > exposures[base].found.len() {
            base = n;
        }
    }
    let mut brackets = vec![Bracket {
        photo: &exposures[base].photo,
        ratio: 1.0,
        from_base: None,
    }];
    let mut main_ratio = (base == 0).then_some(1.0);
    for (n, exposure) in exposures.iter().enumerate().filter(|(n, _)| *n != base) {
        match fit_to(&exposures[base], exposure, warnings) {
            Ok(bracket) => {
                if n == 0 {
                    main_ratio = Some(bracket.ratio);
                }
                if brackets
                    .iter()
                    .any(|other| factor_apart(bracket.ratio, other.ratio) < LEAST_RATIO)
                {
                    warnings.push(Warning::BracketAddsLittle {
                        bracket: exposure.path.to_owned(),
                    });
                }
                brackets.push(bracket);
            }
            Err(why) => warnings.push(Warning::NotMerged {
                photo: exposure.path.to_owned(),
                why,
            }),
        }
    }
    let main_ratio = main_ratio.filter(|_| brackets.len() > 1)?;
    let Merged { photo, scale } = photo::merge(&brackets)?;
    // The merged photo shows what any of them shows; where the seams cost a mark, the base photo's own stand in.
    let mut found = wall::find_in(&photo, wanted);
    if found.len() < exposures[base].found.len() {
        found.clone_from(&exposures[base].found);
    }
    Some(MergedExposures {
        photo,
        found,
        scale: scale / main_ratio,
    })
}

/// The factor between two ratios, 1 or more.
fn factor_apart(a: f64, b: f64) -> f64 {
    (a / b).max(b / a)
}

/// How a photo fits the base photo; otherwise why it must not be merged with it.
fn fit_to<'a>(
    base: &Exposure<'_>,
    exposure: &'a Exposure<'_>,
    warnings: &mut Vec<Warning>,
) -> Result<Bracket<'a>, Misfit> {
    let (photo_path, base_path) = (|| exposure.path.to_owned(), || base.path.to_owned());
    let alignment = wall::align(&base.found, &exposure.found);
    if let Some(alignment) = alignment.filter(|a| a.rms_px > MOST_ALIGNMENT_RMS_PX) {
        return Err(Misfit::MarksApart {
            rms_px: alignment.rms_px,
            base: base_path(),
        });
    }
    let mut bracket = Bracket {
        photo: &exposure.photo,
        ratio: 1.0,
        from_base: alignment.and_then(|a| a.map).map(|map| map.matrix()),
    };
    let seen = photo::compare(&base.photo, &bracket).ok_or_else(|| Misfit::NothingShared { base: base_path() })?;
    let by_exif = exposure_ratio(&exposure.photo.capture, &base.photo.capture);
    bracket.ratio = settled_ratio(by_exif, &seen)?;
    if by_exif.is_none() {
        warnings.push(Warning::ExposureFromLight {
            photo: photo_path(),
            base: base_path(),
            ratio: seen.ratio,
        });
    }
    let shift = seen.shift.map(|shift| shift.length_px());
    if let Some((shift_px, sd_px)) = shift
        && shift_px > MOST_SHIFT_PX + 2.0 * sd_px
    {
        return Err(Misfit::Shifted {
            shift_px,
            base: base_path(),
        });
    }
    if alignment.is_none() {
        if shift.is_none_or(|(length_px, sd_px)| length_px + 2.0 * sd_px > MOST_UNSURE_SHIFT_PX) {
            return Err(Misfit::PlaceUnknown { base: base_path() });
        }
        warnings.push(Warning::PlaceFromLight {
            photo: photo_path(),
            base: base_path(),
        });
    }
    Ok(bracket)
}

/// The ratio of two exposures, from EXIF and from the pixels; otherwise why neither can be trusted.
fn settled_ratio(by_exif: Option<f64>, seen: &Comparison) -> Result<f64, Misfit> {
    let [in_dark, in_bright] = seen.halves;
    if seen.well_exposed && factor_apart(in_dark, in_bright) > MOST_RATIO_OFF {
        return Err(Misfit::RatioVaries { in_dark, in_bright });
    }
    match by_exif {
        Some(by_exif) if factor_apart(by_exif, seen.ratio) > MOST_RATIO_OFF => Err(Misfit::RatioOff {
            by_light: seen.ratio,
            by_exif,
        }),
        // Shutter times are nominal; where both show enough, the pixels know better.
        _ if seen.well_exposed => Ok(seen.ratio),
        Some(by_exif) => Ok(by_exif),
        None => Err(Misfit::ExposureUnknown),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::measure_shot;
    use crate::record::{Bay, Job};
    use image::{Rgb, RgbImage};

    const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-photos");

    /// The sample's first photo with its sheets but two spoilt; gives where they were.
    fn spoilt(folder: &Path, spoil: impl Fn(&mut RgbImage, &FoundMark)) -> Vec<FoundMark> {
        let name = Path::new("photos/left-before-0.jpg");
        let photo = Photo::read(Path::new(SAMPLE), name).unwrap();
        let bay = Bay::read(&Path::new(SAMPLE).join("bay.toml")).unwrap();
        let wanted: Vec<u32> = bay.marks.sheet.iter().map(|sheet| sheet.id).collect();
        let found = wall::find_in(&photo, &wanted);
        assert!(found.len() >= 6, "all are found as it was taken");
        let mut picture = image::open(Path::new(SAMPLE).join(name)).unwrap().to_rgb8();
        for mark in &found[2..] {
            spoil(&mut picture, mark);
        }
        picture.save(folder.join("1.png")).unwrap();
        found
    }

    /// Where a point of a sheet lies in the photo, by its share of the sheet's width and height; good enough for a sheet seen
    /// nearly square.
    fn inside(mark: &FoundMark, right: f64, down: f64) -> [f64; 2] {
        let [a, b, c, d] = mark.corners_px;
        std::array::from_fn(|n| {
            let (top, bottom) = (a[n] + right * (b[n] - a[n]), d[n] + right * (c[n] - d[n]));
            top + down * (bottom - top)
        })
    }

    /// Paints over part of a sheet and its border, in steps finer than a pixel.
    fn paint(picture: &mut RgbImage, mark: &FoundMark, from: f64, to: f64, colour: Rgb<u8>) {
        let steps = 4 * mark.side_px() as i32;
        for right in 0..=steps {
            for down in 0..=steps {
                let share = |n: i32| from + (to - from) * f64::from(n) / f64::from(steps);
                let [x, y] = inside(mark, share(right), share(down));
                picture.put_pixel(x.round() as u32, y.round() as u32, colour);
            }
        }
    }

    fn read(folder: &Path, sheets_by_hand: Vec<SheetByHand>) -> crate::aim::ShotReading {
        let bay = Bay::read(&Path::new(SAMPLE).join("bay.toml")).unwrap();
        let sample = Job::read(&Path::new(SAMPLE).join("job.toml")).unwrap();
        let shot = Shot {
            sheets_by_hand,
            position: Some("0".to_owned()),
            ..Shot::of("1.png", crate::record::Side::Left)
        };
        let job = Job {
            shot: vec![shot.clone()],
            wall_photos: Vec::new(),
            ..sample
        };
        let setting = Setting {
            job: &job,
            bay: &bay,
            table: None,
            folder,
            pictures: false,
        };
        let lamp = job.lamp_of(&shot).unwrap();
        measure_shot(&setting, &shot, lamp)
    }

    #[test]
    fn sheets_placed_by_hand_mend_a_refused_photo_within_its_uncertainty() {
        let folder = tempfile::tempdir().unwrap();
        let grey = Rgb([90, 90, 90]);
        // The number painted over, the border as it was: its edges are measured. All of it painted over: the hand alone is left.
        for (what, from, to, is_gone) in [("number", 0.2, 0.8, false), ("sheet", -0.15, 1.15, true)] {
            let found = spoilt(folder.path(), |picture, mark| paint(picture, mark, from, to, grey));
            let whole = {
                let picture = image::open(Path::new(SAMPLE).join("photos/left-before-0.jpg")).unwrap();
                let other = tempfile::tempdir().unwrap();
                picture.save(other.path().join("1.png")).unwrap();
                read(other.path(), Vec::new()).result.unwrap().aim
            };
            let refused = read(folder.path(), Vec::new()).result.unwrap_err();
            assert_eq!(refused.reason, Reason::MarksMissing, "{what}: {refused}");
            // A hand that is off by up to 2 px, as a finger on a phone is.
            let off = |n: usize, c: usize| [1.6, -1.2, 0.4, -2.0, 1.9][(n + 3 * c) % 5];
            let by_hand = |mark: &FoundMark| SheetByHand {
                id: mark.id,
                corners_px: std::array::from_fn(|n| {
                    std::array::from_fn(|c| mark.corners_px[n][c] + off(n + mark.id as usize, c))
                }),
            };
            let mended = read(folder.path(), found[2..].iter().map(by_hand).collect());
            let measured = mended.result.unwrap();
            let aim = &measured.aim;
            let miss = aim.inclination_percent - whole.inclination_percent;
            assert!(
                miss.abs() < aim.u95_percent(),
                "{what}: off by {miss} where ± {}",
                aim.u95_percent()
            );
            let photo = Photo::read(folder.path(), Path::new("1.png")).unwrap();
            let placed = found[2..].iter().map(|mark| {
                let corners_px = by_hand(mark).corners_px;
                wall::place(&photo, mark.id, corners_px, &found[..2])
            });
            for mark in placed {
                assert_eq!(
                    mark.corner_sd_px.iter().all(|&sd| sd >= 2.0),
                    is_gone,
                    "{what}: {:?}",
                    mark.corner_sd_px
                );
            }
            assert!(
                !is_gone || aim.reading_u95_percent() > whole.reading_u95_percent(),
                "{what}"
            );
            let says =
                |warning: &Warning| matches!(warning, Warning::SheetsByHand { ids } if ids.len() == found.len() - 2);
            assert!(measured.warnings.iter().any(says), "{what}: {:?}", measured.warnings);
            let wrong = SheetByHand {
                id: 586,
                ..by_hand(&found[2])
            };
            let refused = read(folder.path(), vec![wrong]).result.unwrap_err();
            assert!(refused.english().contains("586"), "{refused}");
        }
    }
}
