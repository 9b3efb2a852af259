//! The wall as all photos of a job show it: one estimate of where the sheets hang, and each photo's view from it.
//!
//! Paper does not move between photos. So each photo has its own camera, but the sheets' offsets and turns, their
//! printed size and, where EXIF shows that it was the same, the lens are common to all: a bundle adjustment, see
//! [`adjustment`]. Here it is decided which photos are adjusted together, and which sheets are left out.
//!
//! Given the common parameters the photos are independent, which makes the errors come apart exactly: each view holds
//! its own covariance with the common parameters known, and what one standard deviation of each independent common
//! source does to it. Between two photos only the difference of the latter counts.

mod adjustment;
mod cropping;

use super::camera::{CAMERA_PARAMETERS, DISTORTION, LN_FOCAL, PictureSize};
use super::find::FoundMark;
use super::resection::{AXIS_SD_OF_DIAGONAL, CROPPED_AXIS_SD_OF_DIAGONAL, LEAST_MARKS, Resection, Resector};
use super::view::View;
use crate::fit::median_high;
use crate::language::said;
use crate::photo::Capture;
use crate::record::Bay;
use crate::refusal::{Reason, Refusal};
use crate::warning::Warning;
use adjustment::{Adjusted, BundleAdjustment, OWN_DISTORTION_SD, OWN_LN_FOCAL_SD, ReducedNormals, Station};
use nalgebra::DMatrix;
use rayon::prelude::*;

/// A photo whose own lens lies further than this from the others', in standard deviations, has another lens after all
/// (a digital zoom that EXIF does not tell). A normal error lies beyond 5 once in two million photos.
const OTHER_LENS_SDS: f64 = 5.0;
/// Where more sheets than this were moved between two photos, the wall was hung anew: one is
/// knocked by chance, two are not (no source).
const MOST_MOVED_SHEETS: usize = 1;

/// What one photo shows of the wall.
#[derive(Debug, Clone, Default)]
pub struct Sighting {
    /// The marks found in it.
    pub found: Vec<FoundMark>,
    /// Its width and height, px.
    pub size_px: (usize, usize),
    /// What EXIF says of it: the focal length is a hint, and photos of one camera and focal length share their lens.
    pub capture: Capture,
    /// Where a part of it was cut off: how far the lens axis lies beside its middle, over its diagonal. Found by the survey.
    pub cropped_aside: Option<f64>,
}

impl Sighting {
    /// Whether EXIF says that two photos were taken with one camera at one focal length, the same way up.
    fn may_share_lens(&self, other: &Self) -> bool {
        let (a, b) = (&self.capture, &other.capture);
        self.size_px == other.size_px
            && self.cropped_aside.is_none()
            && other.cropped_aside.is_none()
            && a.orientation == b.orientation
            && a.camera.is_some()
            && a.camera == b.camera
            && (a.focal_length_mm.is_some() || a.focal_length_35mm_mm.is_some())
            && a.focal_length_mm == b.focal_length_mm
            && a.focal_length_35mm_mm == b.focal_length_35mm_mm
    }
}

/// Fits the views of all photos of one wall together. A result for each sighting, in the same order.
///
/// Where several sheets hang otherwise in some photos, these are fitted apart from the first ones, and say so. No photo
/// may be given twice: its marks would count twice.
#[must_use]
pub fn survey(sightings: &[Sighting], bay: &Bay) -> Vec<Result<View, Refusal>> {
    let (sightings, resections): (Vec<Sighting>, Vec<Result<Resection, Refusal>>) = sightings
        .par_iter()
        .map(|sighting| {
            let resection = resector(bay, sighting).resect(&sighting.found);
            cropping::told(bay, sighting, resection, cropping::Evidence::of(sighting, sightings))
        })
        .unzip();
    let sightings = sightings.as_slice();
    let resections = agree_on_misplaced(sightings, bay, resections);
    let mut views: Vec<Option<View>> = vec![None; sightings.len()];
    for (number, mut view) in independent(layouts(sightings, bay, &resections)) {
        let aside = sightings[number].cropped_aside;
        view.warnings.extend(aside.map(|of_diagonal| Warning::Cropped {
            aside_percent: 100.0 * of_diagonal,
        }));
        views[number] = Some(view);
    }
    let no_fit = || {
        Refusal::new(Reason::MarksDisagree, |language| {
            said!(
                language;
                "no places of the sheets fit this photo; check the numbers and places in the bay file",
                "keine Lage der Messblätter passt zu diesem Foto; Nummern und Plätze in der Messplatzdatei prüfen"
            )
        })
    };
    resections
        .into_iter()
        .zip(views)
        .map(|(resection, view)| resection.and_then(|_| view.ok_or_else(no_fit)))
        .collect()
}

impl View {
    /// Fits the view to the marks found in one photo of `size_px` (width, height), without other photos of the wall.
    /// `focal_length_35mm_mm` is what EXIF says, as equivalent for a frame of 36 mm × 24 mm.
    ///
    /// # Errors
    /// [`Refusal`] `marks-missing` with fewer than three marks; `marks-disagree`, naming the sheet where one
    /// can be named, when they do not lie where the bay file says.
    pub fn fit(
        found: &[FoundMark],
        bay: &Bay,
        size_px: (usize, usize),
        focal_length_35mm_mm: Option<f64>,
    ) -> Result<Self, Refusal> {
        let sighting = Sighting {
            found: found.to_vec(),
            size_px,
            capture: Capture {
                focal_length_35mm_mm,
                ..Capture::default()
            },
            cropped_aside: None,
        };
        survey(&[sighting], bay).swap_remove(0)
    }
}

/// The views of photos in which the sheets hang alike, with the photos' numbers.
type Layout = Vec<(usize, View)>;

/// Sorts the photos by how the sheets hang in them, the first photo's layout first, and adjusts those of each layout
/// together. A photo that fits nowhere is in none.
fn layouts(sightings: &[Sighting], bay: &Bay, resections: &[Result<Resection, Refusal>]) -> Vec<Layout> {
    let block_of = |members: &[usize]| Block::new(sightings, bay, resections, members);
    let mut pending: Vec<usize> = (0..resections.len()).filter(|&n| resections[n].is_ok()).collect();
    let mut layouts: Vec<Layout> = Vec::new();
    while let Some(&first) = pending.first() {
        // In pairs first: where the sheets hang otherwise in many photos, an estimate over all of them is nobody's.
        let agree = |&n: &usize| n == first || block_of(&[first, n]).agrees();
        let members: Vec<usize> = pending.par_iter().copied().filter(agree).collect();
        let views = [members, vec![first]]
            .iter()
            .find_map(|members| block_of(members).views().filter(|views| !views.is_empty()));
        match views {
            Some(views) => {
                pending.retain(|n| views.iter().all(|(done, _)| done != n));
                layouts.push(views);
            }
            None => pending.retain(|&n| n != first),
        }
    }
    layouts
}

/// The views of all layouts with one list of common sources. Sheets hung anew were taped anew: the layouts have no source in
/// common.
fn independent(layouts: Vec<Layout>) -> Vec<(usize, View)> {
    let width = |views: &Layout| views.first().map_or(0, |(_, view)| view.common.ncols());
    let sources: usize = layouts.iter().map(width).sum();
    let mut all = Vec::new();
    let mut from = 0;
    for (n, views) in layouts.into_iter().enumerate() {
        let own = width(&views);
        for (number, mut view) in views {
            let mut common = DMatrix::zeros(CAMERA_PARAMETERS, sources);
            common.columns_mut(from, own).copy_from(&view.common);
            view.common = common;
            if n > 0 {
                view.warnings.push(Warning::SheetsRehung);
            }
            all.push((number, view));
        }
        from += own;
    }
    all
}

/// Photos that are fitted together, as if the sheets hung alike in them.
struct Block<'a> {
    adjustment: BundleAdjustment<'a>,
    stations: Vec<Station<'a>>,
}

impl<'a> Block<'a> {
    /// Of the photos `members`, each of which has a resection.
    fn new(sightings: &[Sighting], bay: &'a Bay, resections: &[Result<Resection, Refusal>], members: &[usize]) -> Self {
        let lenses = lenses(sightings, resections, members);
        let count = lenses.iter().flatten().max().map_or(0, |&most| most + 1);
        let stations = members
            .iter()
            .zip(lenses)
            .filter_map(|(&n, lens)| {
                let one = resections[n].as_ref().ok()?;
                Some(Station::new(resector(bay, &sightings[n]), one.clone(), lens, n))
            })
            .collect();
        Self {
            adjustment: BundleAdjustment::new(bay, count),
            stations,
        }
    }

    /// Fits all photos, leaving a sheet out of those in which it was moved. Photos in which more than
    /// [`MOST_MOVED_SHEETS`] were moved are left out whole. `None` where the normal equations are singular.
    fn adjust(&mut self) -> Option<Adjusted> {
        loop {
            let adjusted = self.adjustment.solve(&mut self.stations)?;
            let moved = self.adjustment.moved(&self.stations, &adjusted);
            if moved.is_empty() {
                return Some(adjusted);
            }
            for sheet in moved {
                self.stations[sheet.station].leave_out(&sheet);
            }
            self.stations
                .retain(|s| s.left_out <= MOST_MOVED_SHEETS && s.resection.used.len() >= LEAST_MARKS);
        }
    }

    /// Whether the sheets hang alike in all of the photos, but for a few that were moved.
    fn agrees(mut self) -> bool {
        let count = self.stations.len();
        self.adjust().is_some() && self.stations.len() == count
    }

    /// The views, with the numbers of their sightings.
    fn views(mut self) -> Option<Vec<(usize, View)>> {
        let adjusted = self.adjust()?;
        let view = |(station, reduced): (&Station, &ReducedNormals)| {
            (station.number, self.adjustment.view(station, reduced, &adjusted))
        };
        Some(self.stations.iter().zip(&adjusted.reduced).map(view).collect())
    }
}

fn resector<'a>(bay: &'a Bay, sighting: &Sighting) -> Resector<'a> {
    Resector {
        bay,
        size: PictureSize::of(sighting.size_px),
        focal_length_35mm_mm: sighting.capture.focal_length_35mm_mm,
        axis_sd_of_diagonal: match sighting.cropped_aside {
            Some(_) => CROPPED_AXIS_SD_OF_DIAGONAL,
            None => AXIS_SD_OF_DIAGONAL,
        },
    }
}

/// A sheet that most photos left out, since it hangs elsewhere, is left out in all: a photo that shows few sheets
/// cannot tell which of them is off.
fn agree_on_misplaced(
    sightings: &[Sighting],
    bay: &Bay,
    mut resections: Vec<Result<Resection, Refusal>>,
) -> Vec<Result<Resection, Refusal>> {
    let left_out = |one: &Resection, id: u32| {
        let hangs = one.correspondences.iter().position(|h| h.sheet.id == id);
        hangs.map(|n| !one.used.contains(&n))
    };
    let misplaced: Vec<u32> = bay
        .marks
        .sheet
        .iter()
        .map(|sheet| sheet.id)
        .filter(|&id| {
            let votes: Vec<bool> = resections
                .iter()
                .flatten()
                .filter_map(|one| left_out(one, id))
                .collect();
            2 * votes.iter().filter(|&&out| out).count() > votes.len()
        })
        .collect();
    if misplaced.is_empty() {
        return resections;
    }
    for (sighting, one) in sightings.iter().zip(&mut resections) {
        let relies_on = |&id: &u32| match &*one {
            Ok(one) => left_out(one, id) == Some(false),
            Err(refusal) if refusal.reason == Reason::MarksDisagree => sighting.found.iter().any(|mark| mark.id == id),
            Err(_) => false,
        };
        if !misplaced.iter().any(relies_on) {
            continue;
        }
        let rest: Vec<FoundMark> = sighting
            .found
            .iter()
            .filter(|mark| !misplaced.contains(&mark.id))
            .cloned()
            .collect();
        // Where too few are left, what the photo said on its own stands.
        if let Ok(mut without) = resector(bay, sighting).resect(&rest) {
            without
                .warnings
                .push(Warning::MarksMisplacedElsewhere { ids: misplaced.clone() });
            *one = Ok(without);
        }
    }
    resections
}

/// Which lens each of the photos `members` was taken with, from 0; `None` where it shares its lens with no other of them.
fn lenses(sightings: &[Sighting], resections: &[Result<Resection, Refusal>], members: &[usize]) -> Vec<Option<usize>> {
    let mut lenses = vec![None; sightings.len()];
    let mut count = 0;
    for (n, &first) in members.iter().enumerate() {
        let candidates: Vec<(usize, &Resection)> = members[n..]
            .iter()
            .filter(|&&n| lenses[n].is_none() && sightings[first].may_share_lens(&sightings[n]))
            .filter_map(|&n| Some((n, resections[n].as_ref().ok()?)))
            .collect();
        let alike = without_other_lens(
            without_other_lens(candidates, LN_FOCAL, OWN_LN_FOCAL_SD),
            DISTORTION,
            OWN_DISTORTION_SD,
        );
        if alike.len() > 1 {
            for (n, _) in alike {
                lenses[n] = Some(count);
            }
            count += 1;
        }
    }
    members.iter().map(|&n| lenses[n]).collect()
}

/// Those photos whose camera parameter `p` lies near the median over all of them; `own_sd` is how far it goes from photo to
/// photo with one lens.
fn without_other_lens(photos: Vec<(usize, &Resection)>, p: usize, own_sd: f64) -> Vec<(usize, &Resection)> {
    let mut values: Vec<f64> = photos.iter().map(|(_, one)| one.fit.parameters[p]).collect();
    let Some(median) = median_high(&mut values) else {
        return photos;
    };
    photos
        .into_iter()
        .filter(|(_, one)| {
            let (value, variance) = (one.fit.parameters[p], one.fit.covariance[(p, p)]);
            (value - median).abs() <= OTHER_LENS_SDS * (variance + own_sd.powi(2)).sqrt()
        })
        .collect()
}

#[cfg(test)]
mod tests;
