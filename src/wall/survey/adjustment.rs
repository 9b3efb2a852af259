//! The bundle adjustment: all photos' cameras, and what they have in common, fitted together (B. Triggs et al., *Bundle
//! adjustment: a modern synthesis*, 2000; from memory). Each camera is eliminated from its photo's normal equations (Schur
//! complement), so that the work grows with the number of photos and not with its cube.

use crate::fit::{Attempt, Marquardt};
use crate::record::Bay;
use crate::wall::camera::{AXIS_X, AXIS_Y, CAMERA_PARAMETERS, Camera, DISTORTION, LN_FOCAL};
use crate::wall::quad::Quad;
use crate::wall::resection::{
    Correspondence, DISTORTION_SD, LN_FOCAL_SD, LN_SIZE_SD, Resection, Resector, SHEET_PARAMETERS, TURN_SD_RAD,
    corners_mm, foot_mm, papers, position_sd_mm,
};
use crate::wall::view::View;
use crate::warning::Warning;
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// How much of the lens is the photo's own where several photos were taken with one camera, one standard deviation
/// each (autofocus shifts the focal length a little, a stabiliser the axis); common practice, no source.
pub(super) const OWN_LN_FOCAL_SD: f64 = 0.003;
pub(super) const OWN_AXIS_SD_OF_DIAGONAL: f64 = 0.002;
pub(super) const OWN_DISTORTION_SD: f64 = 0.002;
/// The lens' parameters that photos of one camera share: ln focal length, axis (2), distortion.
pub(super) const LENS_PARAMETERS: usize = 4;
const LENS: [usize; LENS_PARAMETERS] = [LN_FOCAL, AXIS_X, AXIS_Y, DISTORTION];
/// Corners' errors that are alike in all photos and do not average out (cockled paper, the print), as an offset of each
/// sheet, mm; common practice, no source.
const COCKLE_SD_MM: f64 = 0.1;
/// A sheet seen away from where the other photos have it by more than this many standard deviations was moved. Chi-square
/// with three degrees of freedom lies above 6² once in 13 million (1 − erf(r/√2) + r √(2/π) e^(−r²/2) at r = 6 is 7.5·10⁻⁸).
const MOVED_SDS: f64 = 6.0;
/// A move smaller than these is not told from the photo's own unevenness, one standard deviation: mm, and the same on
/// the sheet's rim as a turn, rad (common practice, no source).
const MOVED_FLOOR_SD_MM: f64 = 0.2;
const MOVED_FLOOR_SD_RAD: f64 = 0.002;
/// Where a sheet's place fits two photos about equally badly, it cannot be told in which it was moved: this share of the
/// worst misfit (no source; tried by `a_sheet_moved_between_photos_is_named_where_it_moved`).
const AS_BAD: f64 = 0.8;
/// Sheets printed off their size by more than this are told to the user: 2.5 standard deviations of a printer's size.
const SIZE_OFF: f64 = 0.01;
/// With fewer marks the user is told that more hold the view better: with three, one that hangs elsewhere cannot show.
const ENOUGH_MARKS: usize = 4;
/// A relative fall of the cost below this ends the iteration.
const COST_TOLERANCE: f64 = 1e-12;
/// Common practice, no source: it starts low, since the resections are near.
const DAMPING: Marquardt = Marquardt {
    start: 1e-6,
    ease: 0.1,
    stiffen: 10.0,
    least: 1e-12,
    most: 1e9,
    most_steps: 60,
    most_attempts: 60,
};

/// One photo in the adjustment.
pub(super) struct Station<'a> {
    pub resector: Resector<'a>,
    pub resection: Resection,
    camera: Camera,
    pub lens: Option<usize>,
    /// Its number among the sightings.
    pub number: usize,
    /// How many sheets were left out of it, since they were moved.
    pub left_out: usize,
}

impl<'a> Station<'a> {
    pub fn new(resector: Resector<'a>, resection: Resection, lens: Option<usize>, number: usize) -> Self {
        Self {
            resector,
            camera: resection.camera(resector.size),
            resection,
            lens,
            number,
            left_out: 0,
        }
    }

    fn used(&self) -> impl Iterator<Item = &Correspondence> {
        self.resection.used.iter().map(|&n| &self.resection.correspondences[n])
    }

    /// Factor on the corners' standard deviations.
    fn spread(&self) -> f64 {
        self.resection.inflation.sqrt()
    }

    /// Leaves a sheet that was moved out of this photo.
    pub fn leave_out(&mut self, moved: &MovedSheet) {
        let all = &self.resection.correspondences;
        let Some(&n) = self.resection.used.iter().find(|&&n| all[n].index == moved.index) else {
            return;
        };
        self.resection.warnings.push(Warning::MarkMoved {
            id: all[n].sheet.id,
            offset_mm: moved.offset_mm,
        });
        self.resection.used.retain(|&other| other != n);
        self.left_out += 1;
    }

    /// What the lens' parameters are expected to be.
    fn lens_priors(&self) -> [LensPrior; LENS_PARAMETERS] {
        let size = self.resector.size;
        let axis_sds = [self.resector.axis_sd_of_diagonal, OWN_AXIS_SD_OF_DIAGONAL].map(|sd| sd * size.diagonal_px());
        let [x_px, y_px] = size.middle_px();
        [
            (self.resector.expected_focal_px().ln(), LN_FOCAL_SD, OWN_LN_FOCAL_SD),
            (x_px, axis_sds[0], axis_sds[1]),
            (y_px, axis_sds[0], axis_sds[1]),
            (0.0, DISTORTION_SD, OWN_DISTORTION_SD),
        ]
        .map(|(mean, sd, own_sd)| match self.lens {
            // Own and common parts together are as wide as the prior of a lone photo.
            Some(_) => LensPrior {
                mean,
                own_sd,
                common_sd: (sd * sd - own_sd * own_sd).sqrt(),
            },
            None => LensPrior {
                mean,
                own_sd: sd,
                common_sd: 0.0,
            },
        })
    }
}

/// What is expected of one of the lens' parameters, in its own unit.
struct LensPrior {
    mean: f64,
    /// One standard deviation of what is this photo's own.
    own_sd: f64,
    /// And of what it has in common with others.
    common_sd: f64,
}

/// A sheet that lies elsewhere in one photo than the others say.
pub(super) struct MovedSheet {
    /// Number of the photo among the stations.
    pub station: usize,
    /// The sheet's number in the bay file, from 0.
    pub index: usize,
    /// How far it lies to the right and up.
    pub offset_mm: [f64; 2],
    /// Its move, turn included, in standard deviations.
    sds: f64,
}

/// What is common to the photos, in units of its prior's standard deviation: for each sheet of the bay its offset (2)
/// and turn, then ln of the sheets' size, then each lens.
pub(super) struct BundleAdjustment<'a> {
    bay: &'a Bay,
    pub common: DVector<f64>,
}

/// A photo's normal equations with its camera eliminated.
pub(super) struct ReducedNormals {
    /// Which common parameters the photo depends on.
    active: Vec<usize>,
    /// Covariance of the camera, the common parameters known.
    pub camera_covariance: DMatrix<f64>,
    /// How the camera follows the active common parameters, d camera / d common.
    pub response: DMatrix<f64>,
    /// Step of the camera with the common parameters held.
    pub step: DVector<f64>,
    /// What the photo tells of the active common parameters, inverse of a covariance.
    pub information: DMatrix<f64>,
    /// Gradient of the photo's cost in the active common parameters.
    pub gradient: DVector<f64>,
}

/// Eliminates the camera: `a` and `b` are the Jacobians of the residuals `r` in camera and common parameters. With
/// `damping` the camera's normal matrix is stiffened (Marquardt). `None` where it is singular.
pub(super) fn eliminate(a: &DMatrix<f64>, b: &DMatrix<f64>, r: &DVector<f64>, damping: f64) -> Option<ReducedNormals> {
    let mut normal = a.transpose() * a;
    for i in 0..normal.nrows() {
        normal[(i, i)] *= 1.0 + damping;
    }
    let factor = normal.cholesky()?;
    let cross = a.transpose() * b;
    let solved = factor.solve(&cross);
    let pull = factor.solve(&(a.transpose() * r));
    Some(ReducedNormals {
        active: Vec::new(),
        information: b.transpose() * b - cross.transpose() * &solved,
        gradient: b.transpose() * r - cross.transpose() * &pull,
        camera_covariance: factor.inverse(),
        response: -solved,
        step: -pull,
    })
}

/// The joint minimum.
pub(super) struct Adjusted {
    pub reduced: Vec<ReducedNormals>,
    /// Covariance of the common parameters after all photos.
    pub covariance: DMatrix<f64>,
    /// What independent common sources of unit variance do to the common parameters, a column each: the covariance's
    /// Cholesky factor.
    sources: DMatrix<f64>,
}

impl<'a> BundleAdjustment<'a> {
    pub fn new(bay: &'a Bay, lenses: usize) -> Self {
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

    /// The corners of a sheet as the common parameters have them.
    fn corners_mm(&self, correspondence: &Correspondence, common: &DVector<f64>) -> Quad {
        let size_mm = self.bay.marks.size_mm * (LN_SIZE_SD * common[self.size_at()]).exp();
        let position_sd_mm = position_sd_mm(self.bay);
        let at = SHEET_PARAMETERS * correspondence.index;
        let offset_mm = [common[at], common[at + 1]].map(|c| c * position_sd_mm);
        corners_mm(correspondence.sheet, size_mm, offset_mm, TURN_SD_RAD * common[at + 2])
    }

    /// Residuals of a photo in standard deviations: its corners (8 a sheet), then its lens' priors.
    pub fn residuals(&self, station: &Station, camera: &Camera, common: &DVector<f64>) -> DVector<f64> {
        let mut residuals = Vec::with_capacity(8 * station.resection.used.len() + LENS_PARAMETERS);
        let (spread, camera_px) = (station.spread(), camera.projection());
        for correspondence in station.used() {
            let corners_mm = self.corners_mm(correspondence, common);
            correspondence.extend_residuals(&mut residuals, corners_mm, &camera_px, spread);
        }
        for (k, prior) in station.lens_priors().into_iter().enumerate() {
            let shared = station
                .lens
                .map_or(0.0, |lens| prior.common_sd * common[self.lens_at(lens) + k]);
            residuals.push((camera.parameters[LENS[k]] - prior.mean - shared) / prior.own_sd);
        }
        DVector::from_vec(residuals)
    }

    /// Half the sum of squares over all photos, with the common parameters' prior.
    fn cost(&self, stations: &[Station], cameras: &[Camera], common: &DVector<f64>) -> f64 {
        let photos: f64 = stations
            .iter()
            .zip(cameras)
            .map(|(station, camera)| self.residuals(station, camera, common).norm_squared())
            .sum();
        0.5 * (photos + common.norm_squared())
    }

    /// What the camera's and the photo's active common parameters do to each of its residuals.
    fn slopes(&self, station: &Station, active: usize) -> (DMatrix<f64>, DMatrix<f64>) {
        let used = station.resection.used.len();
        let corners = 8 * used;
        let mut by_camera = DMatrix::zeros(corners + LENS_PARAMETERS, CAMERA_PARAMETERS);
        let mut by_common = DMatrix::zeros(corners + LENS_PARAMETERS, active);
        let (spread, camera) = (station.spread(), station.camera.projection());
        let position_sd_mm = position_sd_mm(self.bay);
        let units = [position_sd_mm, position_sd_mm, TURN_SD_RAD];
        // As [`Self::active`] has them: the sheets', the size, the lens.
        let size_at = SHEET_PARAMETERS * used;
        for (k, correspondence) in station.used().enumerate() {
            let corners_mm = self.corners_mm(correspondence, &self.common);
            for (row, of) in correspondence.slopes(corners_mm, &camera, spread).enumerate() {
                let row = 8 * k + row;
                for (column, slope) in of.camera.into_iter().enumerate() {
                    by_camera[(row, column)] = slope;
                }
                for (c, slope) in of.sheet.into_iter().enumerate() {
                    by_common[(row, SHEET_PARAMETERS * k + c)] = units[c] * slope;
                }
                by_common[(row, size_at)] = LN_SIZE_SD * of.ln_size;
            }
        }
        for (k, prior) in station.lens_priors().into_iter().enumerate() {
            by_camera[(corners + k, LENS[k])] = 1.0 / prior.own_sd;
            if station.lens.is_some() {
                by_common[(corners + k, size_at + 1 + k)] = -prior.common_sd / prior.own_sd;
            }
        }
        (by_camera, by_common)
    }

    /// Normal equations of one photo.
    fn reduce(&self, station: &Station, damping: f64) -> Option<ReducedNormals> {
        let active = self.active(station);
        let residuals = self.residuals(station, &station.camera, &self.common);
        let (a, b) = self.slopes(station, active.len());
        let mut reduced = eliminate(&a, &b, &residuals, damping)?;
        reduced.active = active;
        Some(reduced)
    }

    /// [`Self::reduce`] for all photos. `None` where one of the cameras is left open.
    fn reduce_all(&self, stations: &[Station], damping: f64) -> Option<Vec<ReducedNormals>> {
        stations.iter().map(|station| self.reduce(station, damping)).collect()
    }

    /// Sum of what prior and photos tell of the common parameters: normal matrix and gradient.
    fn sum_of(&self, reduced: &[ReducedNormals]) -> (DMatrix<f64>, DVector<f64>) {
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
    pub fn solve(&mut self, stations: &mut [Station]) -> Option<Adjusted> {
        let cameras: Vec<Camera> = stations.iter().map(|station| station.camera).collect();
        let mut cost = self.cost(stations, &cameras, &self.common);
        DAMPING.minimise(|damping| self.step(stations, &mut cost, damping))?;
        let reduced = self.reduce_all(stations, 0.0)?;
        let (normal, _) = self.sum_of(&reduced);
        let covariance = normal.cholesky()?.inverse();
        let sources = covariance.clone().cholesky()?.l();
        Some(Adjusted {
            reduced,
            covariance,
            sources,
        })
    }

    /// Takes one step with all cameras and the common parameters where that lowers the `cost`. `None` where the normal
    /// equations are singular.
    fn step(&mut self, stations: &mut [Station], cost: &mut f64, damping: f64) -> Option<Attempt> {
        let reduced = self.reduce_all(stations, damping)?;
        let (normal, gradient) = self.sum_of(&reduced);
        let step = -normal.cholesky()?.solve(&gradient);
        let common = &self.common + &step;
        let cameras: Vec<Camera> = stations
            .iter()
            .zip(&reduced)
            .map(|(station, one)| {
                let shared = DVector::from_iterator(one.active.len(), one.active.iter().map(|&i| step[i]));
                let own = &one.step + &one.response * shared;
                let mut camera = station.camera;
                for (parameter, by) in camera.parameters.iter_mut().zip(own.iter()) {
                    *parameter += by;
                }
                camera
            })
            .collect();
        let trial = self.cost(stations, &cameras, &common);
        if trial.is_nan() || trial > *cost {
            return Some(Attempt::Worse);
        }
        let fall = *cost - trial;
        *cost = trial;
        self.common = common;
        for (station, camera) in stations.iter_mut().zip(cameras) {
            station.camera = camera;
        }
        let settled = fall <= COST_TOLERANCE * (trial + 1e-30);
        Some(if settled { Attempt::Settled } else { Attempt::Better })
    }

    /// Sheets that lie elsewhere in one photo than the others say. Only the worst sheet is named, in each photo where it
    /// fits about as badly.
    pub fn moved(&self, stations: &[Station], adjusted: &Adjusted) -> Vec<MovedSheet> {
        if stations.len() < 2 {
            return Vec::new();
        }
        let mut moves: Vec<MovedSheet> = (0..stations.len())
            .flat_map(|n| self.moves_in(stations, n, adjusted))
            .collect();
        let worst = moves
            .iter()
            .filter(|sheet| sheet.sds > MOVED_SDS)
            .max_by(|a, b| a.sds.total_cmp(&b.sds))
            .map(|sheet| (sheet.index, sheet.sds));
        moves.retain(|sheet| worst.is_some_and(|(index, sds)| sheet.index == index && sheet.sds >= AS_BAD * sds));
        moves
    }

    /// How far each sheet of one photo lies from where the others have it.
    ///
    /// A score test: the sheet is given a move of its own, the common parameters and the camera are eliminated, and the
    /// move's estimate is held against its covariance.
    fn moves_in(&self, stations: &[Station], number: usize, adjusted: &Adjusted) -> Vec<MovedSheet> {
        let (station, reduced) = (&stations[number], &adjusted.reduced[number]);
        let position_sd_mm = position_sd_mm(self.bay);
        let unit = [position_sd_mm, position_sd_mm, TURN_SD_RAD];
        let active = &reduced.active;
        let within = DMatrix::from_fn(active.len(), active.len(), |i, j| {
            adjusted.covariance[(active[i], active[j])]
        });
        let left = &reduced.information - &reduced.information * within * &reduced.information;
        let floor_sds = [MOVED_FLOOR_SD_MM, MOVED_FLOOR_SD_MM, MOVED_FLOOR_SD_RAD];
        let move_of = |(k, correspondence): (usize, &Correspondence)| {
            let at = SHEET_PARAMETERS * k;
            let information: Matrix3<f64> = left.fixed_view::<3, 3>(at, at).into_owned();
            let own = information.try_inverse()?;
            let estimate = -(own * reduced.gradient.fixed_rows::<3>(at));
            let moved = Vector3::from_fn(|i, _| estimate[i] * unit[i]);
            let mut covariance = Matrix3::from_fn(|i, j| own[(i, j)] * unit[i] * unit[j]);
            for (i, floor_sd) in floor_sds.into_iter().enumerate() {
                covariance[(i, i)] += floor_sd.powi(2);
            }
            let inverse = covariance.try_inverse()?;
            Some(MovedSheet {
                station: number,
                index: correspondence.index,
                offset_mm: [moved[0], moved[1]],
                sds: moved.dot(&(inverse * moved)).sqrt(),
            })
        };
        station.used().enumerate().filter_map(move_of).collect()
    }

    /// A photo's view from the joint minimum.
    pub fn view(&self, station: &Station, reduced: &ReducedNormals, adjusted: &Adjusted) -> View {
        let used = station.resection.used.len();
        let mut warnings = station.resection.warnings.clone();
        warnings.extend(size_and_number_warnings(LN_SIZE_SD * self.common[self.size_at()], used));
        View {
            camera: station.camera.projection(),
            photo_covariance: reduced.camera_covariance.clone(),
            common: self.common_effects(station, reduced, adjusted),
            marks: station.used().map(|one| one.mark.clone()).collect(),
            rms_px: self.rms_px(station),
            papers: papers(self.bay),
            foot_mm: foot_mm(self.bay),
            warnings,
        }
    }

    /// What one standard deviation of each independent common source does to a photo's camera, a column each: the common
    /// parameters', then each sheet's cockle, across and up.
    fn common_effects(&self, station: &Station, reduced: &ReducedNormals, adjusted: &Adjusted) -> DMatrix<f64> {
        let sources = self.common.len();
        let mut common = DMatrix::zeros(CAMERA_PARAMETERS, sources + 2 * self.bay.marks.sheet.len());
        let rows = adjusted.sources.select_rows(&reduced.active);
        common.columns_mut(0, sources).copy_from(&(&reduced.response * rows));
        let cockle = COCKLE_SD_MM / position_sd_mm(self.bay);
        for (k, correspondence) in station.used().enumerate() {
            for c in 0..2 {
                let column = reduced.response.column(SHEET_PARAMETERS * k + c) * cockle;
                common.set_column(sources + 2 * correspondence.index + c, &column);
            }
        }
        common
    }

    /// Root mean square of the corners' distances from where the adjustment has them, px.
    fn rms_px(&self, station: &Station) -> f64 {
        let residuals = self.residuals(station, &station.camera, &self.common);
        let spread = station.spread();
        let mut sum_px2 = 0.0;
        for (k, correspondence) in station.used().enumerate() {
            for i in 0..4 {
                let sd_px = spread * correspondence.corner_sd_px(i);
                sum_px2 += (0..2)
                    .map(|c| (residuals[8 * k + 2 * i + c] * sd_px).powi(2))
                    .sum::<f64>();
            }
        }
        let corners = 4 * station.resection.used.len();
        (sum_px2 / corners.max(1) as f64).sqrt()
    }
}

/// What the user should know of the sheets' size and number; `ln_size` as fitted.
fn size_and_number_warnings(ln_size: f64, used: usize) -> Vec<Warning> {
    let excess = ln_size.exp() - 1.0;
    let size = (excess.abs() > SIZE_OFF).then_some(Warning::SheetSize { excess });
    let number = (used < ENOUGH_MARKS).then_some(Warning::FewMarks { used });
    size.into_iter().chain(number).collect()
}
