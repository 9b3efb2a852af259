//! The wall as all photos of a job show it: one estimate of where the sheets hang, and each photo's view from it.
//!
//! Paper does not move between photos. So each photo has its own camera, but the sheets' offsets and turns, their
//! printed size and, where EXIF shows that it was the same, the lens are common to all: a bundle adjustment (B. Triggs
//! et al., *Bundle adjustment: a modern synthesis*, 2000; from memory). Each camera is eliminated from its photo's
//! normal equations (Schur complement), so that the work grows with the number of photos and not with its cube.
//!
//! Given the common parameters the photos are independent, which makes the errors come apart exactly: each view holds
//! its own covariance with the common parameters known, and what one standard deviation of each independent common
//! source does to it. Between two photos only the difference of the latter counts.

use super::find::FoundMark;
use super::view::{
    AXIS_SD_OF_DIAGONAL, AXIS_X, AXIS_Y, Alone, CAMERA_PARAMETERS, DISTORTION, DISTORTION_SD, Fitter, Hung,
    LEAST_CORNER_SD_PX, LEAST_MARKS, LN_FOCAL, LN_FOCAL_SD, LN_SIZE_SD, SHEET_PARAMETERS, TURN_SD_RAD, View,
    camera_steps, projection,
};
use crate::photo::Capture;
use crate::record::Bay;
use crate::refusal::{Reason, Refusal};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};
use rayon::prelude::*;

/// How much of the lens is the photo's own where several photos were taken with one camera, one standard deviation
/// each (autofocus shifts the focal length a little, a stabiliser the axis); common practice, no source.
const OWN_LN_FOCAL_SD: f64 = 0.003;
const OWN_AXIS_SD_OF_DIAGONAL: f64 = 0.002;
const OWN_DISTORTION_SD: f64 = 0.002;
/// The lens' parameters that photos of one camera share: ln focal length, axis (2), distortion.
const LENS_PARAMETERS: usize = 4;
const LENS: [usize; LENS_PARAMETERS] = [LN_FOCAL, AXIS_X, AXIS_Y, DISTORTION];
/// A photo whose own lens lies further than this from the others', in standard deviations, has another lens after all
/// (a digital zoom that EXIF does not tell).
const OTHER_LENS_SDS: f64 = 5.0;
/// Corners' errors that are alike in all photos and do not average out (cockled paper, the print), as an offset of each
/// sheet, mm; common practice, no source.
const COCKLE_SD_MM: f64 = 0.1;
/// A sheet seen away from where the other photos have it by more than this many standard deviations was moved. With
/// three directions, a chance of 10⁻⁷ each.
const MOVED_SDS: f64 = 6.0;
/// A move smaller than these is not told from the photo's own unevenness, one standard deviation: mm, and the same on
/// the sheet's rim as a turn, rad.
const MOVED_FLOOR_SD_MM: f64 = 0.2;
const MOVED_FLOOR_SD_RAD: f64 = 0.002;
/// Where a sheet's place fits two photos about equally badly, it cannot be told in which it was moved.
const AS_BAD: f64 = 0.8;
/// Where more sheets than this were moved between two photos, the wall was hung anew.
const MOST_MOVED_SHEETS: usize = 1;
const MAX_ITERATIONS: usize = 60;
/// A relative fall of the cost below this ends the iteration.
const COST_TOLERANCE: f64 = 1e-12;

/// What one photo shows of the wall.
#[derive(Debug, Clone, Default)]
pub struct Sighting {
    /// The marks found in it.
    pub found: Vec<FoundMark>,
    /// Its width and height, px.
    pub size_px: (usize, usize),
    /// What EXIF says of it: the focal length is a hint, and photos of one camera and focal length share their lens.
    pub capture: Capture,
}

/// Fits the views of all photos of one wall together. A result for each sighting, in the same order.
///
/// Where several sheets hang otherwise in some photos, these are fitted apart from the first ones, and say so. No photo
/// may be given twice: its marks would count twice.
#[must_use]
pub fn survey(sightings: &[Sighting], bay: &Bay) -> Vec<Result<View, Refusal>> {
    let alone: Vec<Result<Alone, Refusal>> = sightings
        .par_iter()
        .map(|sighting| fitter(bay, sighting).alone(&sighting.found))
        .collect();
    let alone = agree_on_misplaced(sightings, bay, alone);
    let wall_of = |members: &[usize]| Group::new(sightings, bay, &alone, members);
    let mut pending: Vec<usize> = (0..alone.len()).filter(|&n| alone[n].is_ok()).collect();
    let mut hangings: Vec<Vec<(usize, View)>> = Vec::new();
    let mut hopeless = Vec::new();
    while let Some(&first) = pending.first() {
        // In pairs first: where the sheets hang otherwise in many photos, an estimate over all of them is nobody's.
        let agree = |&n: &usize| n == first || wall_of(&[first, n]).agrees();
        let members: Vec<usize> = pending.iter().copied().filter(agree).collect();
        let views = [members, vec![first]]
            .iter()
            .find_map(|members| wall_of(members).views().filter(|views| !views.is_empty()));
        match views {
            Some(views) => {
                pending.retain(|n| views.iter().all(|(done, _)| done != n));
                hangings.push(views);
            }
            None => {
                pending.retain(|&n| n != first);
                hopeless.push(first);
            }
        }
    }
    let mut results: Vec<Result<View, Refusal>> = alone
        .into_iter()
        .map(|one| one.and(Err(Refusal::new(Reason::MarksDisagree, "not fitted"))))
        .collect();
    for n in hopeless {
        results[n] = Err(Refusal::new(
            Reason::MarksDisagree,
            "no places of the sheets fit this photo; check the numbers and places in the bay file",
        ));
    }
    // Sheets hung anew were taped anew: the hangings have no source in common.
    let width = |views: &[(usize, View)]| views.first().map_or(0, |(_, view)| view.common.ncols());
    let sources: usize = hangings.iter().map(|views| width(views)).sum();
    let mut from = 0;
    for (n, views) in hangings.into_iter().enumerate() {
        let own = width(&views);
        for (number, mut view) in views {
            let mut common = DMatrix::zeros(CAMERA_PARAMETERS, sources);
            common.columns_mut(from, own).copy_from(&view.common);
            view.common = common;
            if n > 0 {
                view.warnings.push(REHUNG.to_owned());
            }
            results[number] = Ok(view);
        }
        from += own;
    }
    results
}

/// What is said of a photo whose sheets hang otherwise than in the job's first photos.
const REHUNG: &str = "several sheets hang otherwise than in the job's first photos, as if they had been taken down and put up again; \
                      the photo was read without those, and a travel between them is less certain. Leave the sheets alone between \
                      the photos of a job";

/// Photos that are fitted together, as if the sheets hung alike in them.
struct Group<'a> {
    wall: Wall<'a>,
    stations: Vec<Station<'a>>,
}

impl<'a> Group<'a> {
    /// Of the photos `members`, each of which could be fitted alone.
    fn new(sightings: &[Sighting], bay: &'a Bay, alone: &[Result<Alone, Refusal>], members: &[usize]) -> Self {
        let lenses = lenses(sightings, alone, members);
        let count = lenses.iter().flatten().max().map_or(0, |&most| most + 1);
        let stations = members
            .iter()
            .zip(lenses)
            .filter_map(|(&n, lens)| {
                let one = alone[n].as_ref().ok()?;
                Some(Station::new(fitter(bay, &sightings[n]), one.clone(), lens, n))
            })
            .collect();
        Self {
            wall: Wall::new(bay, count),
            stations,
        }
    }

    /// Fits all photos, leaving a sheet out of those in which it was moved. Photos in which more than
    /// [`MOST_MOVED_SHEETS`] were moved are left out whole. `None` where the normal equations are singular.
    fn settle(&mut self) -> Option<Solution> {
        loop {
            let solution = self.wall.solve(&mut self.stations)?;
            let moved = self.wall.moved(&self.stations, &solution);
            if moved.is_empty() {
                return Some(solution);
            }
            for (n, index, offset_mm) in moved {
                self.stations[n].leave_out(index, offset_mm);
            }
            self.stations
                .retain(|s| s.left_out <= MOST_MOVED_SHEETS && s.alone.used.len() >= LEAST_MARKS);
        }
    }

    /// Whether the sheets hang alike in all of the photos, but for a few that were moved.
    fn agrees(mut self) -> bool {
        let count = self.stations.len();
        self.settle().is_some() && self.stations.len() == count
    }

    /// The views, with the numbers of their sightings.
    fn views(mut self) -> Option<Vec<(usize, View)>> {
        let solution = self.settle()?;
        let view =
            |(station, reduced): (&Station, &Reduced)| (station.number, self.wall.view(station, reduced, &solution));
        Some(self.stations.iter().zip(&solution.reduced).map(view).collect())
    }
}

fn fitter<'a>(bay: &'a Bay, sighting: &Sighting) -> Fitter<'a> {
    Fitter {
        bay,
        size_px: sighting.size_px,
        focal_length_35mm_mm: sighting.capture.focal_length_35mm_mm,
    }
}

/// A sheet that most photos left out, since it hangs elsewhere, is left out in all: a photo that shows few sheets
/// cannot tell which of them is off.
fn agree_on_misplaced(
    sightings: &[Sighting],
    bay: &Bay,
    mut alone: Vec<Result<Alone, Refusal>>,
) -> Vec<Result<Alone, Refusal>> {
    let left_out = |one: &Alone, id: u32| {
        let hangs = one.hung.iter().position(|h| h.sheet.id == id);
        hangs.map(|n| !one.used.contains(&n))
    };
    let misplaced: Vec<u32> = bay
        .marks
        .sheet
        .iter()
        .map(|sheet| sheet.id)
        .filter(|&id| {
            let votes: Vec<bool> = alone.iter().flatten().filter_map(|one| left_out(one, id)).collect();
            2 * votes.iter().filter(|&&out| out).count() > votes.len()
        })
        .collect();
    if misplaced.is_empty() {
        return alone;
    }
    for (sighting, one) in sightings.iter().zip(&mut alone) {
        let in_use: Vec<u32> = match one {
            Ok(one) => misplaced
                .iter()
                .copied()
                .filter(|&id| left_out(one, id) == Some(false))
                .collect(),
            Err(refusal) if refusal.reason == Reason::MarksDisagree => misplaced
                .iter()
                .copied()
                .filter(|id| sighting.found.iter().any(|mark| mark.id == *id))
                .collect(),
            Err(_) => continue,
        };
        if in_use.is_empty() {
            continue;
        }
        let rest: Vec<FoundMark> = sighting
            .found
            .iter()
            .filter(|mark| !misplaced.contains(&mark.id))
            .cloned()
            .collect();
        // Where too few are left, what the photo said on its own stands.
        if let Ok(mut without) = fitter(bay, sighting).alone(&rest) {
            let ids: Vec<String> = misplaced.iter().map(u32::to_string).collect();
            without.warnings.push(format!(
                "mark {} hangs elsewhere than in the bay file, as other photos of the job show, and was not used; measure it again",
                ids.join(", ")
            ));
            *one = Ok(without);
        }
    }
    alone
}

/// Which lens each of the photos `members` was taken with, from 0; `None` where it shares its lens with no other of them.
fn lenses(sightings: &[Sighting], alone: &[Result<Alone, Refusal>], members: &[usize]) -> Vec<Option<usize>> {
    let same = |a: &Sighting, b: &Sighting| {
        a.size_px == b.size_px
            && a.capture.orientation == b.capture.orientation
            && a.capture.camera.is_some()
            && a.capture.camera == b.capture.camera
            && (a.capture.focal_length_mm.is_some() || a.capture.focal_length_35mm_mm.is_some())
            && a.capture.focal_length_mm == b.capture.focal_length_mm
            && a.capture.focal_length_35mm_mm == b.capture.focal_length_35mm_mm
    };
    let mut lenses = vec![None; sightings.len()];
    let mut count = 0;
    for (n, &first) in members.iter().enumerate() {
        let candidates: Vec<usize> = members[n..]
            .iter()
            .copied()
            .filter(|&n| lenses[n].is_none() && alone[n].is_ok() && same(&sightings[first], &sightings[n]))
            .collect();
        let own = |n: usize, p: usize| {
            alone[n].as_ref().map_or((0.0, f64::INFINITY), |one| {
                (one.fit.parameters[p], one.fit.covariance[(p, p)])
            })
        };
        let alike: Vec<usize> = [(LN_FOCAL, OWN_LN_FOCAL_SD), (DISTORTION, OWN_DISTORTION_SD)]
            .into_iter()
            .fold(candidates, |members, (p, own_sd)| {
                let mut values: Vec<f64> = members.iter().map(|&n| own(n, p).0).collect();
                values.sort_by(f64::total_cmp);
                let Some(&median) = values.get(values.len() / 2) else {
                    return members;
                };
                members
                    .into_iter()
                    .filter(|&n| {
                        let (value, variance) = own(n, p);
                        (value - median).abs() <= OTHER_LENS_SDS * (variance + own_sd.powi(2)).sqrt()
                    })
                    .collect()
            });
        if alike.len() > 1 {
            for n in alike {
                lenses[n] = Some(count);
            }
            count += 1;
        }
    }
    members.iter().map(|&n| lenses[n]).collect()
}

/// One photo in the survey.
struct Station<'a> {
    fitter: Fitter<'a>,
    alone: Alone,
    camera: Vec<f64>,
    lens: Option<usize>,
    /// Its number among the sightings.
    number: usize,
    /// How many sheets were left out of it, since they were moved.
    left_out: usize,
}

impl<'a> Station<'a> {
    fn new(fitter: Fitter<'a>, alone: Alone, lens: Option<usize>, number: usize) -> Self {
        Self {
            fitter,
            camera: alone.fit.parameters[..CAMERA_PARAMETERS].to_vec(),
            alone,
            lens,
            number,
            left_out: 0,
        }
    }

    fn used(&self) -> impl Iterator<Item = &Hung> {
        self.alone.used.iter().map(|&n| &self.alone.hung[n])
    }

    /// Leaves the sheet `index` of the bay out of this photo.
    fn leave_out(&mut self, index: usize, offset_mm: [f64; 2]) {
        let hung = &self.alone.hung;
        let Some(&n) = self.alone.used.iter().find(|&&n| hung[n].index == index) else {
            return;
        };
        self.alone.warnings.push(format!(
            "mark {} lies {:.1} mm to the right of and {:.1} mm above where the job's other photos have it (negative: left, below) and was \
             not used in this one; leave the sheets alone between the photos, and press them flat",
            hung[n].sheet.id, offset_mm[0], offset_mm[1]
        ));
        self.alone.used.retain(|&other| other != n);
        self.left_out += 1;
    }

    /// What the lens' four parameters are expected to be, and one standard deviation of the photo's own and of the
    /// common part.
    fn lens_prior(&self) -> [(f64, f64, f64); LENS_PARAMETERS] {
        let diagonal_px = self.fitter.diagonal_px();
        let axis_sds = [AXIS_SD_OF_DIAGONAL, OWN_AXIS_SD_OF_DIAGONAL].map(|sd| sd * diagonal_px);
        [
            (self.fitter.expected_focal_px().ln(), LN_FOCAL_SD, OWN_LN_FOCAL_SD),
            (0.5 * (self.fitter.width_px() - 1.0), axis_sds[0], axis_sds[1]),
            (0.5 * (self.fitter.height_px() - 1.0), axis_sds[0], axis_sds[1]),
            (0.0, DISTORTION_SD, OWN_DISTORTION_SD),
        ]
        .map(|(mean, sd, own_sd)| match self.lens {
            // Own and common parts together are as wide as the prior of a lone photo.
            Some(_) => (mean, own_sd, (sd * sd - own_sd * own_sd).sqrt()),
            None => (mean, sd, 0.0),
        })
    }
}

/// What is common to the photos, in units of its prior's standard deviation: for each sheet of the bay its offset (2)
/// and turn, then ln of the sheets' size, then each lens.
struct Wall<'a> {
    bay: &'a Bay,
    common: DVector<f64>,
}

/// A photo's normal equations with its camera eliminated.
struct Reduced {
    /// Which common parameters the photo depends on.
    active: Vec<usize>,
    /// Covariance of the camera, the common parameters known.
    camera_covariance: DMatrix<f64>,
    /// How the camera answers to the active common parameters, d camera / d common.
    answer: DMatrix<f64>,
    /// Step of the camera with the common parameters held.
    step: DVector<f64>,
    /// What the photo tells of the active common parameters, inverse of a covariance.
    information: DMatrix<f64>,
    /// Gradient of the photo's cost in the active common parameters.
    gradient: DVector<f64>,
}

/// Eliminates the camera: `a` and `b` are the Jacobians of the residuals `r` in camera and common parameters. With
/// `damping` the camera's normal matrix is stiffened (Marquardt). `None` where it is singular.
fn eliminate(a: &DMatrix<f64>, b: &DMatrix<f64>, r: &DVector<f64>, damping: f64) -> Option<Reduced> {
    let mut normal = a.transpose() * a;
    for i in 0..normal.nrows() {
        normal[(i, i)] *= 1.0 + damping;
    }
    let factor = normal.cholesky()?;
    let cross = a.transpose() * b;
    let solved = factor.solve(&cross);
    let pull = factor.solve(&(a.transpose() * r));
    Some(Reduced {
        active: Vec::new(),
        information: b.transpose() * b - cross.transpose() * &solved,
        gradient: b.transpose() * r - cross.transpose() * &pull,
        camera_covariance: factor.inverse(),
        answer: -solved,
        step: -pull,
    })
}

/// The joint minimum.
struct Solution {
    reduced: Vec<Reduced>,
    /// Covariance of the common parameters after all photos.
    covariance: DMatrix<f64>,
}

impl<'a> Wall<'a> {
    fn new(bay: &'a Bay, lenses: usize) -> Self {
        let count = SHEET_PARAMETERS * bay.marks.sheet.len() + 1 + LENS_PARAMETERS * lenses;
        Self {
            bay,
            common: DVector::zeros(count),
        }
    }

    fn size_at(&self) -> usize {
        SHEET_PARAMETERS * self.bay.marks.sheet.len()
    }

    fn lens_at(&self, lens: usize) -> usize {
        self.size_at() + 1 + LENS_PARAMETERS * lens
    }

    /// Common parameters that a photo depends on.
    fn active(&self, station: &Station) -> Vec<usize> {
        let mut active: Vec<usize> = station
            .used()
            .flat_map(|h| SHEET_PARAMETERS * h.index..SHEET_PARAMETERS * (h.index + 1))
            .collect();
        active.push(self.size_at());
        if let Some(lens) = station.lens {
            active.extend(self.lens_at(lens)..self.lens_at(lens) + LENS_PARAMETERS);
        }
        active
    }

    /// Residuals of a photo in standard deviations: its corners (8 a sheet), then its lens' priors.
    fn residuals(&self, station: &Station, camera: &[f64], common: &DVector<f64>) -> DVector<f64> {
        let fitter = &station.fitter;
        let mut residuals = Vec::with_capacity(8 * station.alone.used.len() + LENS_PARAMETERS);
        let size_mm = self.bay.marks.size_mm * (LN_SIZE_SD * common[self.size_at()]).exp();
        let spread = station.alone.inflation.sqrt();
        let project = projection(camera, fitter.width_px(), fitter.height_px());
        for hung in station.used() {
            let at = SHEET_PARAMETERS * hung.index;
            let offset_mm = [common[at], common[at + 1]].map(|c| c * fitter.position_sd_mm());
            let corners_mm = fitter.corners_mm(hung.sheet, size_mm, offset_mm, TURN_SD_RAD * common[at + 2]);
            for (i, corner_mm) in corners_mm.into_iter().enumerate() {
                let sd_px = spread * hung.mark.corner_sd_px[i].max(LEAST_CORNER_SD_PX);
                match project(corner_mm) {
                    Some(seen) => residuals.extend((0..2).map(|c| (seen[c] - hung.mark.corners_px[i][c]) / sd_px)),
                    None => residuals.extend([1e6; 2]),
                }
            }
        }
        for (k, (mean, own_sd, common_sd)) in station.lens_prior().into_iter().enumerate() {
            let shared = station
                .lens
                .map_or(0.0, |lens| common_sd * common[self.lens_at(lens) + k]);
            residuals.push((camera[LENS[k]] - mean - shared) / own_sd);
        }
        DVector::from_vec(residuals)
    }

    /// Half the sum of squares over all photos, with the common parameters' prior.
    fn cost(&self, stations: &[Station], cameras: &[Vec<f64>], common: &DVector<f64>) -> f64 {
        let photos: f64 = stations
            .iter()
            .zip(cameras)
            .map(|(station, camera)| self.residuals(station, camera, common).norm_squared())
            .sum();
        0.5 * (photos + common.norm_squared())
    }

    /// Normal equations of one photo, by central differences.
    fn reduce(&self, station: &Station, damping: f64) -> Option<Reduced> {
        const COMMON_STEP: f64 = 1e-3;
        let active = self.active(station);
        let mut camera = station.camera.clone();
        let mut camera_columns = Vec::with_capacity(CAMERA_PARAMETERS);
        for (i, step) in camera_steps(camera[5]).into_iter().enumerate() {
            camera[i] = station.camera[i] + step;
            let up = self.residuals(station, &camera, &self.common);
            camera[i] = station.camera[i] - step;
            let down = self.residuals(station, &camera, &self.common);
            camera[i] = station.camera[i];
            camera_columns.push((up - down) / (2.0 * step));
        }
        let mut common = self.common.clone();
        let mut common_columns = Vec::with_capacity(active.len());
        for &i in &active {
            common[i] = self.common[i] + COMMON_STEP;
            let up = self.residuals(station, &camera, &common);
            common[i] = self.common[i] - COMMON_STEP;
            let down = self.residuals(station, &camera, &common);
            common[i] = self.common[i];
            common_columns.push((up - down) / (2.0 * COMMON_STEP));
        }
        let residuals = self.residuals(station, &camera, &self.common);
        let a = DMatrix::from_columns(&camera_columns);
        let b = DMatrix::from_columns(&common_columns);
        let mut reduced = eliminate(&a, &b, &residuals, damping)?;
        reduced.active = active;
        Some(reduced)
    }

    /// Sum of what prior and photos tell of the common parameters: normal matrix and gradient.
    fn gather(&self, reduced: &[Reduced]) -> (DMatrix<f64>, DVector<f64>) {
        let count = self.common.len();
        let (mut normal, mut gradient) = (DMatrix::identity(count, count), self.common.clone());
        for one in reduced {
            for (j, &to) in one.active.iter().enumerate() {
                gradient[to] += one.gradient[j];
                for (i, &from) in one.active.iter().enumerate() {
                    normal[(from, to)] += one.information[(i, j)];
                }
            }
        }
        (normal, gradient)
    }

    /// Minimises over all cameras and the common parameters (Levenberg–Marquardt). `None` where the normal equations
    /// are singular.
    fn solve(&mut self, stations: &mut [Station]) -> Option<Solution> {
        let mut cameras: Vec<Vec<f64>> = stations.iter().map(|s| s.camera.clone()).collect();
        let mut cost = self.cost(stations, &cameras, &self.common);
        let mut damping = 1e-6;
        for _ in 0..MAX_ITERATIONS {
            let reduced: Vec<Reduced> = stations
                .iter()
                .map(|s| self.reduce(s, damping))
                .collect::<Option<_>>()?;
            let (normal, gradient) = self.gather(&reduced);
            let step = -normal.cholesky()?.solve(&gradient);
            let common = &self.common + &step;
            for ((camera, station), one) in cameras.iter_mut().zip(stations.iter()).zip(&reduced) {
                let shared = DVector::from_iterator(one.active.len(), one.active.iter().map(|&i| step[i]));
                let own = &one.step + &one.answer * shared;
                for (to, (from, by)) in camera.iter_mut().zip(station.camera.iter().zip(own.iter())) {
                    *to = from + by;
                }
            }
            let trial = self.cost(stations, &cameras, &common);
            if trial.is_nan() || trial > cost {
                damping *= 10.0;
                if damping > 1e9 {
                    // No step helps any more: the minimum, as far as the numbers go.
                    break;
                }
                continue;
            }
            let fall = cost - trial;
            cost = trial;
            self.common = common;
            for (station, camera) in stations.iter_mut().zip(&cameras) {
                station.camera.clone_from(camera);
            }
            damping = (damping * 0.1).max(1e-12);
            if fall <= COST_TOLERANCE * (cost + 1e-30) {
                break;
            }
        }
        let reduced: Vec<Reduced> = stations.iter().map(|s| self.reduce(s, 0.0)).collect::<Option<_>>()?;
        let (normal, _) = self.gather(&reduced);
        let covariance = normal.cholesky()?.inverse();
        Some(Solution { reduced, covariance })
    }

    /// Sheets that lie elsewhere in one photo than the others say: number of the station, of the sheet, and how far it
    /// lies to the right and up, mm. Only the worst sheet is named, in each photo where it fits about as badly.
    ///
    /// A score test: each sheet of each photo is given a move of its own, the common parameters and the camera are
    /// eliminated, and the move's estimate is held against its covariance.
    fn moved(&self, stations: &[Station], solution: &Solution) -> Vec<(usize, usize, [f64; 2])> {
        if stations.len() < 2 {
            return Vec::new();
        }
        let mut moves: Vec<(usize, usize, [f64; 2], f64)> = Vec::new();
        for (n, (station, one)) in stations.iter().zip(&solution.reduced).enumerate() {
            let unit = [
                station.fitter.position_sd_mm(),
                station.fitter.position_sd_mm(),
                TURN_SD_RAD,
            ];
            let within = DMatrix::from_fn(one.active.len(), one.active.len(), |i, j| {
                solution.covariance[(one.active[i], one.active[j])]
            });
            let left = &one.information - &one.information * within * &one.information;
            for (k, hung) in station.used().enumerate() {
                let at = SHEET_PARAMETERS * k;
                let information: Matrix3<f64> = left.fixed_view::<3, 3>(at, at).into_owned();
                let Some(own) = information.try_inverse() else {
                    continue;
                };
                let estimate = -(own * one.gradient.fixed_rows::<3>(at));
                let moved = Vector3::from_fn(|i, _| estimate[i] * unit[i]);
                let mut covariance = Matrix3::from_fn(|i, j| own[(i, j)] * unit[i] * unit[j]);
                for (i, floor) in [MOVED_FLOOR_SD_MM, MOVED_FLOOR_SD_MM, MOVED_FLOOR_SD_RAD]
                    .into_iter()
                    .enumerate()
                {
                    covariance[(i, i)] += floor.powi(2);
                }
                let Some(inverse) = covariance.try_inverse() else {
                    continue;
                };
                let sds = moved.dot(&(inverse * moved)).sqrt();
                moves.push((n, hung.index, [moved[0], moved[1]], sds));
            }
        }
        let Some(&(_, sheet, _, worst)) = moves
            .iter()
            .filter(|m| m.3 > MOVED_SDS)
            .max_by(|a, b| a.3.total_cmp(&b.3))
        else {
            return Vec::new();
        };
        moves
            .into_iter()
            .filter(|m| m.1 == sheet && m.3 >= AS_BAD * worst)
            .map(|(n, sheet, offset_mm, _)| (n, sheet, offset_mm))
            .collect()
    }

    /// A photo's view from the joint minimum.
    fn view(&self, station: &Station, reduced: &Reduced, solution: &Solution) -> View {
        let fitter = &station.fitter;
        // Independent common sources of unit variance: the columns of the covariance's Cholesky factor; then each
        // sheet's cockle, across and up.
        let sources = self.common.len();
        let sheets = self.bay.marks.sheet.len();
        let mut common = DMatrix::zeros(CAMERA_PARAMETERS, sources + 2 * sheets);
        match solution.covariance.clone().cholesky() {
            Some(factor) => {
                let rows = factor.l().select_rows(&reduced.active);
                common.columns_mut(0, sources).copy_from(&(&reduced.answer * rows));
            }
            None => common.fill(f64::INFINITY),
        }
        let cockle = COCKLE_SD_MM / fitter.position_sd_mm();
        for (k, hung) in station.used().enumerate() {
            for c in 0..2 {
                let column = reduced.answer.column(SHEET_PARAMETERS * k + c) * cockle;
                common.set_column(sources + 2 * hung.index + c, &column);
            }
        }
        let residuals = self.residuals(station, &station.camera, &self.common);
        let spread = station.alone.inflation.sqrt();
        let mut sum_px = 0.0;
        for (k, hung) in station.used().enumerate() {
            for i in 0..4 {
                let sd_px = spread * hung.mark.corner_sd_px[i].max(LEAST_CORNER_SD_PX);
                sum_px += (0..2)
                    .map(|c| (residuals[8 * k + 2 * i + c] * sd_px).powi(2))
                    .sum::<f64>();
            }
        }
        let used = station.alone.used.len();
        let mut warnings = station.alone.warnings.clone();
        warnings.extend(Fitter::size_and_number_warnings(
            LN_SIZE_SD * self.common[self.size_at()],
            used,
        ));
        View {
            camera: station.camera.clone(),
            width_px: fitter.width_px(),
            height_px: fitter.height_px(),
            photo_covariance: reduced.camera_covariance.clone(),
            common,
            marks: station.used().map(|h| h.mark.clone()).collect(),
            rms_px: (sum_px / (4 * used).max(1) as f64).sqrt(),
            papers: fitter.papers(),
            warnings,
        }
    }
}

#[cfg(test)]
mod tests;
