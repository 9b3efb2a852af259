//! A shot's photo with its brackets: which of them fit together, where they lie on each other, and the one photo that
//! they make.

use super::measure::exposure_ratio;
use super::{OtherPhoto, Use};
use crate::photo::{self, Bracket, Comparison, Photo};
use crate::refusal::Refusal;
use crate::wall::{self, FoundMark};
use std::path::{Path, PathBuf};

/// A ratio of exposures by EXIF and one by the pixels that differ by more than this factor are not of the same light, or
/// a tone curve was applied. Nominal shutter times, ISO values and f-numbers each stand for true ones within a few per
/// cent (1/60 for 1/64 s is 6 %); common practice, no source.
const MOST_RATIO_OFF: f64 = 1.15;
/// Exposures closer than this factor, a quarter EV, show nothing that the other does not.
const LEAST_RATIO: f64 = 1.19;
/// Corners that lie further than this off the map between two photos, px root mean square, are not of one plane wall.
const MOST_ALIGNMENT_RMS_PX: f64 = 1.5;
/// A photo that lies further than this off the one it is merged with would smear the edge, px.
const MOST_SHIFT_PX: f64 = 1.0;
/// Without marks in common, light alone must tell the shift within this, px.
const MOST_UNSURE_SHIFT_PX: f64 = 2.0;

/// What a shot's photos give together.
pub(super) struct Bracketed {
    pub photo: Photo,
    pub found: Vec<FoundMark>,
    /// Luminance of `photo` over that of the shot's main photo.
    pub scale: f64,
    pub warnings: Vec<String>,
    /// The brackets that could be read.
    pub others: Vec<OtherPhoto>,
}

impl Bracketed {
    /// A refusal of the merged photo, with what kept brackets from helping.
    pub fn explain(&self, refusal: Refusal) -> Refusal {
        if self.warnings.is_empty() {
            return refusal;
        }
        Refusal::new(
            refusal.reason,
            format!("{}. Brackets: {}", refusal.message, self.warnings.join("; ")),
        )
    }
}

struct Read<'a> {
    path: &'a Path,
    photo: Photo,
    found: Vec<FoundMark>,
}

/// Merges the main photo, in which `found` are the marks, with the brackets at `paths` (relative to `folder`). What cannot
/// be used is a warning, and the rest is merged without it.
pub(super) fn with_brackets(
    main_path: &Path,
    main: Photo,
    found: Vec<FoundMark>,
    folder: &Path,
    paths: &[PathBuf],
    wanted: &[u32],
) -> Bracketed {
    let mut warnings = Vec::new();
    let mut others = Vec::new();
    let size = |photo: &Photo| (photo.luminance.width_px, photo.luminance.height_px);
    let mut reads = vec![Read {
        path: main_path,
        photo: main,
        found,
    }];
    for path in paths {
        let photo = match Photo::read(&folder.join(path)) {
            Ok(photo) => photo,
            Err(refusal) => {
                warnings.push(format!("bracket left out: {}", refusal.message));
                continue;
            }
        };
        others.push(OtherPhoto {
            photo: path.clone(),
            used_as: Use::Bracket,
            sha256: photo.sha256.clone(),
        });
        if let Some(same) = reads.iter().find(|read| read.photo.sha256 == photo.sha256) {
            warnings.push(format!(
                "bracket {} left out: it is the same file as {}; add a photo with another exposure",
                path.display(),
                same.path.display()
            ));
        } else if size(&photo) != size(&reads[0].photo) {
            let ((width, height), (main_width, main_height)) = (size(&photo), size(&reads[0].photo));
            warnings.push(format!(
                "bracket {} left out: it is {width} x {height} px, the shot's photo {main_width} x {main_height} px; take both with the \
                 same camera, held the same way, without zoom",
                path.display()
            ));
        } else {
            let signs = photo.capture.processing.iter();
            warnings.extend(signs.map(|sign| format!("bracket {}: {sign}", path.display())));
            let found = wall::find_in(&photo, wanted);
            reads.push(Read { path, photo, found });
        }
    }
    // The others are laid on the photo that shows most marks, the main photo where it is as good as any.
    let mut base = 0;
    for (n, read) in reads.iter().enumerate() {
        if read.found.len() > reads[base].found.len() {
            base = n;
        }
    }
    let mut brackets = vec![Bracket {
        photo: &reads[base].photo,
        ratio: 1.0,
        from_base: None,
    }];
    let mut main_ratio = (base == 0).then_some(1.0);
    for (n, read) in reads.iter().enumerate().filter(|(n, _)| *n != base) {
        match fit_to(&reads[base], read, &mut warnings) {
            Ok(bracket) => {
                if n == 0 {
                    main_ratio = Some(bracket.ratio);
                }
                let apart = |other: &Bracket<'_>| (bracket.ratio / other.ratio).max(other.ratio / bracket.ratio);
                if brackets.iter().any(|other| apart(other) < LEAST_RATIO) {
                    warnings.push(format!(
                        "bracket {} adds little: its exposure is that of another photo of the shot; vary it by 2 EV",
                        read.path.display()
                    ));
                }
                brackets.push(bracket);
            }
            Err(why) => warnings.push(format!("{} is not merged: {why}", read.path.display())),
        }
    }
    let merged = main_ratio
        .filter(|_| brackets.len() > 1)
        .and_then(|ratio| Some((photo::merge(&brackets)?, ratio)));
    // The merged photo shows what any of them shows; where the seams cost a mark, the base photo's own stand in.
    let merged = merged.map(|(merged, main_ratio)| {
        let mut found = wall::find_in(&merged.photo, wanted);
        if found.len() < reads[base].found.len() {
            found.clone_from(&reads[base].found);
        }
        (merged, main_ratio, found)
    });
    let main = reads.swap_remove(0);
    let Some((merged, main_ratio, found)) = merged else {
        return Bracketed {
            photo: main.photo,
            found: main.found,
            scale: 1.0,
            warnings,
            others,
        };
    };
    Bracketed {
        photo: Photo {
            sha256: main.photo.sha256,
            capture: main.photo.capture,
            ..merged.photo
        },
        found,
        scale: merged.scale / main_ratio,
        warnings,
        others,
    }
}

/// How a photo fits the base photo; otherwise why it must not be merged with it, and what to do.
fn fit_to<'a>(base: &Read<'_>, read: &'a Read<'_>, warnings: &mut Vec<String>) -> Result<Bracket<'a>, String> {
    let (name, base_name) = (read.path.display(), base.path.display());
    let alignment = wall::align(&base.found, &read.found);
    if let Some(alignment) = alignment.filter(|a| a.rms_px > MOST_ALIGNMENT_RMS_PX) {
        return Err(format!(
            "its marks lie {:.1} px off where {base_name} has them, however the camera moved; was a sheet moved, or the picture stitched or \
             stabilised? Take the exposures again, one after the other, with nothing else changed",
            alignment.rms_px
        ));
    }
    let mut bracket = Bracket {
        photo: &read.photo,
        ratio: 1.0,
        from_base: alignment.and_then(|a| a.map).map(|map| map.matrix()),
    };
    let seen = photo::compare(&base.photo, &bracket).ok_or_else(|| {
        format!(
            "hardly a place is exposed in both this photo and {base_name}, so that neither light nor place can be compared; add an exposure \
             between them (steps of 2 to 4 EV)"
        )
    })?;
    let by_exif = exposure_ratio(&read.photo.capture, &base.photo.capture);
    bracket.ratio = settled_ratio(by_exif, &seen)?;
    if by_exif.is_none() {
        warnings.push(format!(
            "the exposure of {name} against that of {base_name} is not in the files; it was taken from what both show, {:.3} times",
            seen.ratio
        ));
    }
    let shift = seen.shift.map(|shift| shift.length_px());
    if let Some((length_px, sd_px)) = shift
        && length_px > MOST_SHIFT_PX + 2.0 * sd_px
    {
        return Err(format!(
            "its light lies {length_px:.1} px off that of {base_name}; the beam or the camera moved between them. Take the exposures one after \
             the other, the camera on something firm, the car untouched"
        ));
    }
    if alignment.is_none() {
        if shift.is_none_or(|(length_px, sd_px)| length_px + 2.0 * sd_px > MOST_UNSURE_SHIFT_PX) {
            return Err(format!(
                "it shares fewer than two readable marks with {base_name}, and too little light to tell whether the camera moved; add an \
                 exposure between them (steps of 2 to 4 EV)"
            ));
        }
        warnings.push(format!(
            "{name} shares fewer than two readable marks with {base_name}; it is taken to be from the very same place, as the light that both \
             show confirms"
        ));
    }
    Ok(bracket)
}

/// The ratio of two exposures, from EXIF and from the pixels; otherwise why neither can be trusted.
fn settled_ratio(by_exif: Option<f64>, seen: &Comparison) -> Result<f64, String> {
    let apart = |a: f64, b: f64| (a / b).max(b / a);
    let edited =
        "keep the lamp's state, and take the photos without HDR, night mode or automatic enhancement, unedited";
    if seen.well_exposed && apart(seen.halves[0], seen.halves[1]) > MOST_RATIO_OFF {
        return Err(format!(
            "its light is {:.2} times that of the other photo in the dark but {:.2} times in the bright, so a tone curve was applied or \
             the light changed; {edited}",
            seen.halves[0], seen.halves[1]
        ));
    }
    match by_exif {
        Some(by_exif) if apart(by_exif, seen.ratio) > MOST_RATIO_OFF => Err(format!(
            "its light is {:.3} times that of the other photo, but {by_exif:.3} times by the exposures in the files, so a tone curve was \
             applied or the light changed; {edited}",
            seen.ratio
        )),
        // Shutter times are nominal; where both show enough, the pixels know better.
        _ if seen.well_exposed => Ok(seen.ratio),
        Some(by_exif) => Ok(by_exif),
        None => Err(
            "its exposure is not in the file, and too little is exposed in both photos to tell it; add an exposure between them, or the \
             original file with its EXIF data"
                .to_owned(),
        ),
    }
}
