//! Resection: one photo's camera from the corners of the sheets in it, without the other photos of the wall.
//!
//! A pinhole camera with one radial distortion term, not a free homography: its few parameters with weak, stated
//! priors (square pixels, lens axis near the middle of the picture, modest distortion) keep the fit well-conditioned
//! where only four low sheets lie nearly on one line, and its covariance tells the truth about what the marks leave
//! open. Sheets may hang askew (each has its own free turn) and off their place (each has its own offset, held by the
//! tape's standard deviation).
//!
//! This is where the bundle adjustment of all photos starts, and it tells which sheets hang elsewhere. The view that
//! counts comes from there: see [`mod@super::survey`].

use super::camera::{
    AXIS_X, AXIS_Y, CAMERA_PARAMETERS, Camera, DISTORTION, LN_FOCAL, PictureSize, Projection, facing_wall,
};
use super::entered::Slip;
use super::find::FoundMark;
use super::homography::{Homography, homography};
use super::quad::{Quad, centre};
use super::view::{Paper, View};
use crate::fit::{Fit, Loss, Problem, Slopes, TO_THE_DIGIT};
use crate::language::{Language, said};
use crate::record::{Bay, HeightsFrom, Sheet};
use crate::refusal::{Reason, Refusal};
use crate::warning::Warning;
use nalgebra::{DMatrix, Matrix3, Rotation3};

/// After the camera's parameters: ln of the sheets' true size over the size in the bay file.
const LN_SIZE: usize = CAMERA_PARAMETERS;
/// Where the sheets' own parameters begin.
const SHEETS_FROM: usize = LN_SIZE + 1;
/// Each sheet's own parameters: offset (2, mm) and turn (rad).
pub(super) const SHEET_PARAMETERS: usize = 3;
/// Priors on the camera and on the sheets' size.
const COMMON_PRIORS: usize = 5;

/// Priors, one standard deviation each; common practice, no source. Phones put the axis within about a hundredth of the
/// picture's diagonal and keep barrel or pincushion below a few per cent; a printer keeps size to a few parts in a
/// thousand.
/// The focal length in EXIF is only a hint: a crop or a digital zoom leaves it as it was.
pub(super) const LN_FOCAL_SD: f64 = 0.7;
pub(super) const AXIS_SD_OF_DIAGONAL: f64 = 0.004;
/// The same for a photo of which a part was cut off: a third off one side moves the axis by a seventh of what is left.
pub(super) const CROPPED_AXIS_SD_OF_DIAGONAL: f64 = 0.15;
pub(super) const DISTORTION_SD: f64 = 0.02;
pub(super) const LN_SIZE_SD: f64 = 0.004;
/// A sheet is taped by its centre only; it may hang askew by this, one standard deviation, rad (3.4°; common practice, no
/// source).
pub(super) const TURN_SD_RAD: f64 = 0.06;
/// No corner is trusted better than this, px: JPEG and a lens' own unevenness remain when an edge's fit looks perfect
/// (common practice, no source).
const LEAST_CORNER_SD_PX: f64 = 0.05;
/// No sheet is trusted to hang better than this, mm: paper is not flat (common practice, no source).
const LEAST_POSITION_SD_MM: f64 = 0.2;
/// Half of a sheet's paper, width and height, over the tag's size. A4 around a tag of 160 mm is 105 mm × 148.5 mm, 0.66
/// and 0.93; hung askew by 2°, 0.69 and 0.95.
const PAPER_HALF_OF_SIZE: [f64; 2] = [0.7, 1.0];
/// Diagonal of the 36 mm × 24 mm frame that EXIF's 35 mm focal lengths refer to.
const FRAME_DIAGONAL_MM: f64 = 43.27;
/// Without EXIF: the middle of the 35 mm focal lengths of phones' main cameras (common practice, no source).
const USUAL_FOCAL_35MM_MM: f64 = 30.0;
/// Focal lengths to start from, over the expected one; the outer ones stand for a wide lens, a telephoto lens, and a digital
/// zoom that EXIF is silent about. Chosen, no source: the best of the fits counts.
const STARTING_FOCALS: [f64; 4] = [1.0, 0.6, 1.6, 2.5];
/// A fit whose cost (half of chi-square) is less than this for each of its parameters is a good one: there are about as many corners'
/// coordinates to spare (our choice, no source).
const FITS_WELL: f64 = 1.0;
/// Residual of a corner that a trial camera has behind itself, in standard deviations: no fit can keep one.
const BEHIND_CAMERA_SDS: f64 = 1e6;
/// Least number of marks that give a view: the 24 coordinates of three marks' corners for the camera's ten parameters, the
/// sheets' size and nine of the sheets' own.
pub(super) const LEAST_MARKS: usize = 3;
/// A sheet off its place by more than this many standard deviations (of tape and fit together) is taken to hang
/// elsewhere. Beyond 5 a normal error comes once in a million sheets.
const OFF_PLACE_SDS: f64 = 5.0;
/// A sheet off its place drags the fit, so that its own offset shows only in part: from this many of the tape's standard
/// deviations on, each sheet is left out in turn (no source; tried by `a_misplaced_sheet_is_named`).
pub(super) const SUSPECT_SDS: f64 = 0.6 * OFF_PLACE_SDS;
/// A sheet is named only where the fit without it is this much better than without any other: the next best's cost (half
/// of chi-square) must be more than this many times as large and this much more (no source; tried by
/// `a_misplaced_sheet_is_named` and `two_misplaced_sheets_of_four_are_a_refusal`).
const CLEARLY_WORSE: (f64, f64) = (2.0, 8.0);
/// With fewer sheets than this, leaving one out leaves too few to hold the rest against each other: then it cannot be told
/// which one is off.
const LEAST_TO_NAME_ONE: usize = 5;

/// A sheet, and the mark in the photo that is its image.
#[derive(Debug, Clone)]
pub(super) struct Correspondence {
    pub mark: FoundMark,
    pub sheet: Sheet,
    /// The sheet's number in the bay file, from 0.
    pub index: usize,
}

impl Correspondence {
    /// One standard deviation of a corner's coordinates, px.
    pub fn corner_sd_px(&self, corner: usize) -> f64 {
        self.mark.corner_sd_px[corner].max(LEAST_CORNER_SD_PX)
    }

    /// Appends the corners' distances from where a camera has them, x and y of each, in `spread` times their standard
    /// deviations.
    pub fn extend_residuals(&self, residuals: &mut Vec<f64>, corners_mm: Quad, camera: &Projection, spread: f64) {
        for (i, corner_mm) in corners_mm.into_iter().enumerate() {
            let sd_px = spread * self.corner_sd_px(i);
            match camera.project(corner_mm) {
                Some(seen) => residuals.extend((0..2).map(|c| (seen[c] - self.mark.corners_px[i][c]) / sd_px)),
                None => residuals.extend([BEHIND_CAMERA_SDS; 2]),
            }
        }
    }
}

/// What moves a corner of a sheet: its distance from where a camera has it, x or y, in standard deviations.
pub(super) struct OfCorner {
    /// By the camera's parameters.
    pub camera: [f64; CAMERA_PARAMETERS],
    /// By the sheet's own: its offset, mm, and its turn, rad.
    pub sheet: [f64; SHEET_PARAMETERS],
    /// By ln of the sheets' size.
    pub ln_size: f64,
}

impl Correspondence {
    /// What moves each of the residuals of [`Self::extend_residuals`], in their order. A corner behind the camera is moved by nothing.
    pub fn slopes(&self, corners_mm: Quad, camera: &Projection, spread: f64) -> impl Iterator<Item = OfCorner> {
        let centre_mm = centre(&corners_mm);
        corners_mm.into_iter().enumerate().flat_map(move |(i, corner_mm)| {
            let sd_px = spread * self.corner_sd_px(i);
            let from_centre = [corner_mm[0] - centre_mm[0], corner_mm[1] - centre_mm[1]];
            let sight = camera.sight(corner_mm);
            [0, 1].map(|c| {
                let mut of = OfCorner {
                    camera: [0.0; CAMERA_PARAMETERS],
                    sheet: [0.0; SHEET_PARAMETERS],
                    ln_size: 0.0,
                };
                if let Some(sight) = sight {
                    let by_wall = [sight.by_wall[(c, 0)] / sd_px, sight.by_wall[(c, 1)] / sd_px];
                    of.camera = std::array::from_fn(|n| sight.by_camera[(c, n)] / sd_px);
                    of.sheet = [
                        by_wall[0],
                        by_wall[1],
                        by_wall[1] * from_centre[0] - by_wall[0] * from_centre[1],
                    ];
                    of.ln_size = by_wall[0] * from_centre[0] + by_wall[1] * from_centre[1];
                }
                of
            })
        })
    }
}

/// The corners of a sheet's tag on the wall, in the order of [`FoundMark::corners_px`].
pub(super) fn corners_mm(sheet: Sheet, size_mm: f64, offset_mm: [f64; 2], turn_rad: f64) -> Quad {
    let half_mm = 0.5 * size_mm;
    let (sin, cos) = turn_rad.sin_cos();
    [[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]].map(|[x, y]| {
        let (x_mm, y_mm) = (x * half_mm, y * half_mm);
        [
            sheet.x_mm + offset_mm[0] + cos * x_mm - sin * y_mm,
            sheet.y_mm + offset_mm[1] + sin * x_mm + cos * y_mm,
        ]
    })
}

/// Where the bay's sheets hide the wall.
pub(super) fn papers(bay: &Bay) -> Vec<Paper> {
    let half_mm = PAPER_HALF_OF_SIZE.map(|h| h * bay.marks.size_mm);
    bay.marks
        .sheet
        .iter()
        .map(|sheet| Paper {
            centre_mm: [sheet.x_mm, sheet.y_mm],
            half_mm,
        })
        .collect()
}

/// Where the wall ends: where heights are measured from the floor, the floor runs on to it. Of a level line that is not known.
pub(super) fn foot_mm(bay: &Bay) -> f64 {
    match bay.heights_from {
        HeightsFrom::Floor => 0.0,
        HeightsFrom::LevelLine => f64::NEG_INFINITY,
    }
}

/// One standard deviation of a coordinate of a sheet's centre, mm.
pub(super) fn position_sd_mm(bay: &Bay) -> f64 {
    bay.marks.position_sd_mm.max(LEAST_POSITION_SD_MM)
}

/// One photo fitted on its own.
#[derive(Debug, Clone)]
pub(super) struct Resection {
    pub correspondences: Vec<Correspondence>,
    /// Which of them the fit rests on.
    pub used: Vec<usize>,
    pub fit: Fit,
    /// Factor on the corners' variance: how much more they scatter than their own standard deviations say.
    pub inflation: f64,
    pub warnings: Vec<Warning>,
}

impl Resection {
    /// The camera as fitted.
    pub fn camera(&self, size: PictureSize) -> Camera {
        Camera::of(&self.fit.parameters, size)
    }
}

/// What the resection of one photo needs to know beside its marks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Resector<'a> {
    pub bay: &'a Bay,
    pub size: PictureSize,
    pub focal_length_35mm_mm: Option<f64>,
    /// How far the lens axis may lie from the picture's middle, one standard deviation over the diagonal.
    pub axis_sd_of_diagonal: f64,
}

/// What the photo says when one sheet is left out of its fit.
struct LeftOut {
    /// Which one, among the correspondences.
    number: usize,
    /// The fit of the others.
    fit: Fit,
    /// Where these have it: right of and above its place in the bay file.
    offset_mm: [f64; 2],
    /// The length of that in standard deviations.
    sds: f64,
    /// The largest offset among the others, in the tape's standard deviations.
    remaining_sds: f64,
}

impl Resector<'_> {
    /// Fits the camera to the marks found, leaving sheets out that hang elsewhere.
    ///
    /// # Errors
    /// As [`View::fit`].
    pub fn resect(&self, found: &[FoundMark]) -> Result<Resection, Refusal> {
        let mut warnings = Vec::new();
        let mut correspondences = self.correspondences(found, &mut warnings);
        right_way_up(&mut correspondences);
        if correspondences.len() < LEAST_MARKS {
            return Err(too_few_marks(&correspondences, self.bay));
        }
        let all: Vec<usize> = (0..correspondences.len()).collect();
        let fit = self.fit(&correspondences, &all).ok_or_else(|| {
            self.slip(&correspondences).unwrap_or_else(|| Refusal::new(Reason::MarksDisagree, |language| said!(
                    language;
                    "no camera could see the sheets where the bay file has them; check the numbers and places in the bay file",
                    "keine Kamera könnte die Messblätter dort sehen, wo die Messplatzdatei sie hat; Nummern und Plätze in der \
                     Messplatzdatei prüfen"
                )))
        })?;
        let (fit, used) = self.without_misplaced(&correspondences, all, fit, &mut warnings)?;
        let inflation = inflation(&fit, 8 * used.len());
        Ok(Resection {
            correspondences,
            used,
            fit,
            inflation,
            warnings,
        })
    }

    /// The sheets of the bay with their marks; a mark that is seen twice says nothing of where its sheet is.
    fn correspondences(&self, found: &[FoundMark], warnings: &mut Vec<Warning>) -> Vec<Correspondence> {
        let mut correspondences = Vec::new();
        for (index, sheet) in self.bay.marks.sheet.iter().enumerate() {
            let mut same = found.iter().filter(|mark| mark.id == sheet.id);
            match (same.next(), same.next()) {
                (Some(mark), None) => correspondences.push(Correspondence {
                    mark: mark.clone(),
                    sheet: *sheet,
                    index,
                }),
                (Some(_), Some(_)) => warnings.push(Warning::MarkSeenTwice { id: sheet.id }),
                (None, _) => {}
            }
        }
        correspondences
    }

    /// From EXIF, or what phones have.
    pub fn expected_focal_px(&self) -> f64 {
        self.size.diagonal_px() * self.focal_length_35mm_mm.unwrap_or(USUAL_FOCAL_35MM_MM) / FRAME_DIAGONAL_MM
    }

    /// Fits the camera to the sheets `used`, from several starting focal lengths; the best counts.
    fn fit(&self, correspondences: &[Correspondence], used: &[usize]) -> Option<Fit> {
        let expected_focal_px = self.expected_focal_px();
        let pairs: Vec<([f64; 2], [f64; 2])> = used
            .iter()
            .flat_map(|&n| {
                let corners_mm = corners_mm(correspondences[n].sheet, self.bay.marks.size_mm, [0.0; 2], 0.0);
                corners_mm.into_iter().zip(correspondences[n].mark.corners_px)
            })
            .collect();
        let plane = homography(&pairs)?;
        let residuals = |p: &[f64]| self.residuals(correspondences, used, p, expected_focal_px);
        let slopes = |p: &[f64]| self.slopes(correspondences, used, p);
        let problem = Problem {
            residuals: &residuals,
            priors: prior_count(used.len()),
            slopes: Slopes::Closed(&slopes),
            loss: Loss::Square,
            settled: TO_THE_DIGIT,
        };
        let count = SHEETS_FROM + SHEET_PARAMETERS * used.len();
        let from = |factor: f64| {
            let mut start = self.start(&plane, factor * expected_focal_px)?.to_vec();
            start.resize(count, 0.0);
            problem.solve(&start)
        };
        // Where the first has the corners as well as they are known, no other start can tell of a better camera.
        let well = |fit: &Fit| fit.cost < FITS_WELL * count as f64;
        let mut best: Option<Fit> = None;
        for factor in STARTING_FOCALS {
            best = best
                .into_iter()
                .chain(from(factor))
                .min_by(|a, b| a.cost.total_cmp(&b.cost));
            if best.as_ref().is_some_and(well) {
                break;
            }
        }
        best
    }

    /// Camera parameters from a plane's homography and a focal length.
    fn start(&self, plane: &Homography, focal_px: f64) -> Option<[f64; CAMERA_PARAMETERS]> {
        let axis = self.size.middle_px();
        let lens = Matrix3::new(focal_px, 0.0, axis[0], 0.0, focal_px, axis[1], 0.0, 0.0, 1.0);
        let seen = lens.try_inverse()? * plane.matrix();
        let mut scale = 2.0 / (seen.column(0).norm() + seen.column(1).norm());
        if seen[(2, 2)] * scale < 0.0 {
            scale = -scale;
        }
        let (first, second) = (seen.column(0) * scale, seen.column(1) * scale);
        let rough = Matrix3::from_columns(&[first.into_owned(), second.into_owned(), first.cross(&second)]);
        let svd = rough.svd(true, true);
        let turned = svd.u? * svd.v_t?;
        let turn = Rotation3::from_matrix_unchecked(turned * facing_wall().transpose()).scaled_axis();
        let place = seen.column(2) * scale;
        Some([
            turn.x,
            turn.y,
            turn.z,
            place.x,
            place.y,
            place.z,
            focal_px.ln(),
            axis[0],
            axis[1],
            0.0,
        ])
    }

    fn residuals(
        &self,
        correspondences: &[Correspondence],
        used: &[usize],
        p: &[f64],
        expected_focal_px: f64,
    ) -> Vec<f64> {
        let mut residuals = Vec::with_capacity(8 * used.len() + prior_count(used.len()));
        let size_mm = self.bay.marks.size_mm * p[LN_SIZE].exp();
        let camera = Camera::of(p, self.size).projection();
        for (&n, own) in used.iter().zip(p[SHEETS_FROM..].chunks_exact(SHEET_PARAMETERS)) {
            let corners_mm = corners_mm(correspondences[n].sheet, size_mm, [own[0], own[1]], own[2]);
            correspondences[n].extend_residuals(&mut residuals, corners_mm, &camera, 1.0);
        }
        let axis_sd_px = self.axis_sd_of_diagonal * self.size.diagonal_px();
        let middle_px = self.size.middle_px();
        residuals.extend([
            (p[LN_FOCAL] - expected_focal_px.ln()) / LN_FOCAL_SD,
            (p[AXIS_X] - middle_px[0]) / axis_sd_px,
            (p[AXIS_Y] - middle_px[1]) / axis_sd_px,
            p[DISTORTION] / DISTORTION_SD,
            p[LN_SIZE] / LN_SIZE_SD,
        ]);
        for own in p[SHEETS_FROM..].chunks_exact(SHEET_PARAMETERS) {
            residuals.push(own[2] / TURN_SD_RAD);
        }
        let position_sd_mm = position_sd_mm(self.bay);
        for own in p[SHEETS_FROM..].chunks_exact(SHEET_PARAMETERS) {
            residuals.extend([own[0] / position_sd_mm, own[1] / position_sd_mm]);
        }
        residuals
    }

    /// What each parameter does to each of [`Self::residuals`].
    fn slopes(&self, correspondences: &[Correspondence], used: &[usize], p: &[f64]) -> DMatrix<f64> {
        let corners = 8 * used.len();
        let mut slopes = DMatrix::zeros(corners + prior_count(used.len()), p.len());
        let size_mm = self.bay.marks.size_mm * p[LN_SIZE].exp();
        let camera = Camera::of(p, self.size).projection();
        let position_sd_mm = position_sd_mm(self.bay);
        let turns_from = corners + COMMON_PRIORS;
        let offsets_from = turns_from + used.len();
        for (k, (&n, own)) in used
            .iter()
            .zip(p[SHEETS_FROM..].chunks_exact(SHEET_PARAMETERS))
            .enumerate()
        {
            let corners_mm = corners_mm(correspondences[n].sheet, size_mm, [own[0], own[1]], own[2]);
            let own_from = SHEETS_FROM + SHEET_PARAMETERS * k;
            for (row, of) in correspondences[n].slopes(corners_mm, &camera, 1.0).enumerate() {
                let mut row = slopes.row_mut(8 * k + row);
                for (column, slope) in of.camera.into_iter().enumerate() {
                    row[column] = slope;
                }
                row[LN_SIZE] = of.ln_size;
                for (c, slope) in of.sheet.into_iter().enumerate() {
                    row[own_from + c] = slope;
                }
            }
            slopes[(turns_from + k, own_from + 2)] = 1.0 / TURN_SD_RAD;
            for c in 0..2 {
                slopes[(offsets_from + 2 * k + c, own_from + c)] = 1.0 / position_sd_mm;
            }
        }
        let axis_sd_px = self.axis_sd_of_diagonal * self.size.diagonal_px();
        let priors: [(usize, f64); COMMON_PRIORS] = [
            (LN_FOCAL, LN_FOCAL_SD),
            (AXIS_X, axis_sd_px),
            (AXIS_Y, axis_sd_px),
            (DISTORTION, DISTORTION_SD),
            (LN_SIZE, LN_SIZE_SD),
        ];
        for (row, (column, sd)) in priors.into_iter().enumerate() {
            slopes[(corners + row, column)] = 1.0 / sd;
        }
        slopes
    }

    /// Looks for sheets that hang elsewhere: each sheet's place as the other sheets' view has it, against the tape.
    fn without_misplaced(
        &self,
        correspondences: &[Correspondence],
        mut used: Vec<usize>,
        mut fit: Fit,
        warnings: &mut Vec<Warning>,
    ) -> Result<(Fit, Vec<usize>), Refusal> {
        let mut worst_sds = self.largest_offset_sds(&fit);
        while worst_sds >= SUSPECT_SDS {
            let mut trials: Vec<LeftOut> = used
                .iter()
                .filter_map(|&n| self.leave_out(correspondences, &used, n))
                .collect();
            if !trials.iter().any(|trial| trial.sds > OFF_PLACE_SDS) {
                break;
            }
            trials.sort_by(|a, b| a.fit.cost.total_cmp(&b.fit.cost));
            let (factor, more) = CLEARLY_WORSE;
            let clear = trials.len() < 2 || trials[1].fit.cost > factor * trials[0].fit.cost + more;
            let Some(best) = trials.into_iter().next() else {
                break;
            };
            let (id, [right_mm, up_mm]) = (correspondences[best.number].sheet.id, best.offset_mm);
            if !clear || best.sds <= OFF_PLACE_SDS || used.len() < LEAST_TO_NAME_ONE {
                if let Some(refusal) = self.slip(correspondences) {
                    return Err(refusal);
                }
                let ids: Vec<String> = used.iter().map(|&n| correspondences[n].sheet.id.to_string()).collect();
                return Err(Refusal::new(Reason::MarksDisagree, |language| {
                    said!(
                        language;
                        "sheets {} do not lie as the bay file has them, and it cannot be told which is off (first suspect: sheet {id}, \
                         by {right_mm:.0} mm to the right and {up_mm:.0} mm up); measure the sheets' centres again",
                        "die Messblätter {} liegen nicht so, wie die Messplatzdatei sie hat, und es ist nicht zu sagen, \
                         welches danebenliegt (erster Verdacht: Messblatt {id}, um {right_mm:.0} mm nach rechts und \
                         {up_mm:.0} mm nach oben); die Mitten der Blätter neu einmessen";
                        ids.join(", ")
                    )
                }));
            }
            warnings.push(Warning::MarkMisplaced {
                id,
                offset_mm: best.offset_mm,
            });
            used.retain(|&other| other != best.number);
            (fit, worst_sds) = (best.fit, best.remaining_sds);
        }
        Ok((fit, used))
    }

    /// The slip in the bay's entries that explains how the sheets lie, as a refusal.
    fn slip(&self, correspondences: &[Correspondence]) -> Option<Refusal> {
        let slip = Slip::of(self, correspondences)?;
        Some(Refusal::new(Reason::MarksDisagree, |language| {
            slip.said(language, self.bay)
        }))
    }

    /// Whether all sheets lie where another bay has them, none further off than so many of the tape's standard deviations.
    pub(super) fn agree_in(&self, bay: &Bay, correspondences: &[Correspondence], most_sds: f64) -> bool {
        let resector = Resector { bay, ..*self };
        let marks: Vec<FoundMark> = correspondences.iter().map(|one| one.mark.clone()).collect();
        let mut of_bay = resector.correspondences(&marks, &mut Vec::new());
        right_way_up(&mut of_bay);
        let all: Vec<usize> = (0..of_bay.len()).collect();
        let fit = resector.fit(&of_bay, &all);
        fit.is_some_and(|fit| resector.largest_offset_sds(&fit) < most_sds)
    }

    /// Leaves one of the sheets `used` out, and asks where the others have it. `None` where these give no view of it.
    fn leave_out(&self, correspondences: &[Correspondence], used: &[usize], number: usize) -> Option<LeftOut> {
        let rest: Vec<usize> = used.iter().copied().filter(|&other| other != number).collect();
        if rest.len() < LEAST_MARKS {
            return None;
        }
        let fit = self.fit(correspondences, &rest)?;
        let view = self.view(correspondences, &rest, &fit);
        let (offset_mm, sds) = self.offset_against(&view, &correspondences[number])?;
        let remaining_sds = self.largest_offset_sds(&fit);
        Some(LeftOut {
            number,
            fit,
            offset_mm,
            sds,
            remaining_sds,
        })
    }

    /// Where a view has a sheet, against where the bay file has it: offset, mm, and that in standard deviations.
    fn offset_against(&self, view: &View, correspondence: &Correspondence) -> Option<([f64; 2], f64)> {
        let [a, b, c, d] = correspondence.mark.corners_px.map(|corner| view.to_wall(corner));
        let centre_mm = centre(&[a?, b?, c?, d?]);
        let sheet = correspondence.sheet;
        let offset_mm = [centre_mm[0] - sheet.x_mm, centre_mm[1] - sheet.y_mm];
        let view_sd = view.height_sd(centre_mm)?;
        // The height's uncertainty stands for both directions; far from the other sheets it is the larger.
        let sd_mm = (position_sd_mm(self.bay).powi(2) + view_sd.photo_mm.powi(2) + view_sd.tape_mm.powi(2)).sqrt();
        Some((offset_mm, offset_mm[0].hypot(offset_mm[1]) / sd_mm))
    }

    /// The view of one photo on its own: all that is uncertain counts as the photo's.
    fn view(&self, correspondences: &[Correspondence], used: &[usize], fit: &Fit) -> View {
        let corners = 8 * used.len();
        let gain = fit.gain().rows(0, CAMERA_PARAMETERS).into_owned();
        let part = |range: std::ops::Range<usize>| {
            let columns = gain.columns(range.start, range.len());
            columns * columns.transpose()
        };
        View {
            camera: Camera::of(&fit.parameters, self.size).projection(),
            photo_covariance: part(0..corners) * inflation(fit, corners) + part(corners..fit.residuals.len()),
            common: DMatrix::zeros(CAMERA_PARAMETERS, 0),
            marks: used.iter().map(|&n| correspondences[n].mark.clone()).collect(),
            rms_px: 0.0,
            papers: papers(self.bay),
            foot_mm: foot_mm(self.bay),
            warnings: Vec::new(),
        }
    }

    /// Largest offset of a sheet from its place as fitted, in the tape's standard deviations.
    fn largest_offset_sds(&self, fit: &Fit) -> f64 {
        fit.parameters[SHEETS_FROM..]
            .chunks_exact(SHEET_PARAMETERS)
            .map(|own| own[0].hypot(own[1]) / position_sd_mm(self.bay))
            .fold(0.0, f64::max)
    }
}

/// Turns the corners' names of sheets that were printed or hung upside down: the top edge must run the way that the
/// sheets' centres say. (Two pictures of each tag are about, half a turn apart; see [`super::tag_cells`].)
fn right_way_up(correspondences: &mut [Correspondence]) {
    let count = correspondences.len() as f64;
    let (mut mean_mm, mut mean_px) = ([0.0; 2], [0.0; 2]);
    for one in correspondences.iter() {
        let at_px = centre(&one.mark.corners_px);
        mean_mm = [mean_mm[0] + one.sheet.x_mm / count, mean_mm[1] + one.sheet.y_mm / count];
        mean_px = [mean_px[0] + at_px[0] / count, mean_px[1] + at_px[1] / count];
    }
    // The similarity that takes centres to centres, y turned down: its first column is where the wall's x runs.
    let mut along = [0.0; 2];
    for one in correspondences.iter() {
        let (x, y) = (one.sheet.x_mm - mean_mm[0], mean_mm[1] - one.sheet.y_mm);
        let at_px = centre(&one.mark.corners_px);
        let (u, v) = (at_px[0] - mean_px[0], at_px[1] - mean_px[1]);
        along = [along[0] + x * u + y * v, along[1] + x * v - y * u];
    }
    for one in correspondences.iter_mut() {
        let [top_left, top_right, ..] = one.mark.corners_px;
        let agrees = (top_right[0] - top_left[0]) * along[0] + (top_right[1] - top_left[1]) * along[1];
        if agrees < 0.0 {
            one.mark.corners_px.rotate_left(2);
            one.mark.corner_sd_px.rotate_left(2);
        }
    }
}

/// Where the corners scatter more than their own standard deviations say, these were too small: factor on their
/// variance, at least 1. `corners`: how many of the fit's first residuals are theirs.
fn inflation(fit: &Fit, corners: usize) -> f64 {
    let spread: f64 = fit
        .residuals
        .iter()
        .zip(&fit.weights)
        .take(corners)
        .map(|(r, w)| w * r * r)
        .sum();
    // What the parameters took up of the corners' scatter: the trace of the hat matrix over their rows. With
    // gain = C Jᵀ, a residual's leverage J C Jᵀ is gainᵀ C⁻¹ gain.
    let Some(information) = fit.covariance.clone().cholesky() else {
        return 1.0;
    };
    let gain = fit.gain().columns(0, corners).into_owned();
    let taken_up = gain.dot(&information.solve(&gain));
    let freedom = (corners as f64 - taken_up).max(1.0);
    (spread / freedom).max(1.0)
}

fn prior_count(sheets: usize) -> usize {
    COMMON_PRIORS + SHEET_PARAMETERS * sheets
}

/// Blur of a mark's edges from which its code begins to be lost, as a share of a cell's side (common practice, no source).
const MOST_BLUR_CELLS: f64 = 0.3;

/// Why too few marks were found: where those that were are badly blurred, the others are lost in blur.
fn too_few_marks(correspondences: &[Correspondence], bay: &Bay) -> Refusal {
    let blur_cells = correspondences
        .iter()
        .map(|one| one.mark.blur_px / one.mark.cell_px().max(1e-9))
        .fold(0.0, f64::max);
    if blur_cells > MOST_BLUR_CELLS {
        return Refusal::new(Reason::Blurred, |language| {
            said!(
                language;
                "the sheets' edges are blurred by {blur_cells} of a cell's side, and only {} of {} sheets can be read; hold the camera on something \
                 firm and focus on a sheet",
                "die Kanten der Messblätter sind um {blur_cells} einer Zellenbreite unscharf, und nur {} von {} Messblättern \
                 sind lesbar; die Kamera fest auflegen und auf ein Messblatt scharf stellen";
                correspondences.len(),
                bay.marks.sheet.len(),
                blur_cells = language.decimal(blur_cells, 1)
            )
        });
    }
    Refusal::new(Reason::MarksMissing, |language| {
        missing_message(language, correspondences, bay)
    })
}

fn missing_message(language: Language, correspondences: &[Correspondence], bay: &Bay) -> String {
    if bay.marks.sheet.is_empty() {
        return said!(
            language;
            "the bay file lists no sheets; print some with `beamfall marks`, tape them to the wall and enter their places",
            "die Messplatzdatei führt keine Messblätter auf; mit `beamfall marks` welche drucken, an die Wand kleben und ihre Plätze \
             eintragen"
        );
    }
    let found: Vec<String> = correspondences.iter().map(|one| one.sheet.id.to_string()).collect();
    let lacking: Vec<String> = bay
        .marks
        .sheet
        .iter()
        .filter(|s| !correspondences.iter().any(|one| one.sheet.id == s.id))
        .map(|s| s.id.to_string())
        .collect();
    said!(
        language;
        "{} of the bay's {} sheets can be read in the photo ({}); {} or more are needed. Not found: {}. Get all sheets whole \
         into the picture, focus on one, hold still, and let a little light fall on the dark ones",
        "{} von {} Messblättern des Messplatzes sind im Foto lesbar ({}); nötig sind {} oder mehr. Nicht gefunden: {}. Alle Blätter \
         ganz ins Bild nehmen, auf eines scharf stellen, ruhig halten und etwas Licht auf die dunklen fallen lassen";
        found.len(),
        bay.marks.sheet.len(),
        if found.is_empty() {
            said!(language; "none", "keines")
        } else {
            found.join(", ")
        },
        LEAST_MARKS,
        lacking.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against central differences of the residuals themselves.
    #[test]
    fn slopes_are_those_of_the_residuals() {
        let sheets = [
            (1, -800.0, 210.0),
            (2, 750.0, 240.0),
            (3, -700.0, 900.0),
            (4, 820.0, 950.0),
        ];
        let bay = Bay::taped(&sheets, 1.5);
        let size = PictureSize::of((2400, 1800));
        let resector = Resector {
            bay: &bay,
            size,
            focal_length_35mm_mm: None,
            axis_sd_of_diagonal: AXIS_SD_OF_DIAGONAL,
        };
        let correspondences: Vec<Correspondence> = (0..sheets.len())
            .map(|index| Correspondence {
                mark: FoundMark {
                    id: bay.marks.sheet[index].id,
                    corners_px: [[100.0, 200.0], [150.0, 200.0], [150.0, 250.0], [100.0, 250.0]],
                    corner_sd_px: [0.1; 4],
                    blur_px: 1.0,
                },
                sheet: bay.marks.sheet[index],
                index,
            })
            .collect();
        let used = [0, 1, 3];
        let mut p = vec![0.1, -0.05, 0.02, 100.0, 600.0, 5000.0, 7.4, 1190.0, 910.0, 0.01, 0.003];
        p.extend([1.0, -2.0, 0.03, 0.0, 0.5, -0.01, 2.0, 1.0, 0.02]);
        let residuals = |p: &[f64]| resector.residuals(&correspondences, &used, p, 1700.0);
        let slopes = resector.slopes(&correspondences, &used, &p);
        for n in 0..p.len() {
            let step = 1e-6 * p[n].abs().max(0.1);
            let [up, down] = [step, -step].map(|by| {
                let mut moved = p.clone();
                moved[n] += by;
                residuals(&moved)
            });
            for (row, (up, down)) in up.iter().zip(&down).enumerate() {
                let plain = (up - down) / (2.0 * step);
                let told = slopes[(row, n)];
                assert!(
                    (told - plain).abs() < 1e-4 * (1.0 + plain.abs()),
                    "{row} {n}: {told} {plain}"
                );
            }
        }
    }
}
