//! The camera's view of the wall, fitted to the corners of the marks.
//!
//! A pinhole camera with one radial distortion term, not a free homography: its few parameters with weak, stated
//! priors (square pixels, lens axis near the middle of the picture, modest distortion) keep the fit well-conditioned
//! where only four low sheets lie nearly on one line, and its covariance tells the truth about what the marks leave
//! open. Sheets may hang askew (each has its own free turn) and off their place (each has its own offset, held by the
//! tape's standard deviation).
//!
//! What is fitted here is one photo on its own: where to start, and which sheets hang elsewhere. The view that counts
//! comes from all photos of the job together: see [`super::survey`].

use super::find::FoundMark;
use super::homography::{Homography, homography};
use super::survey::{Sighting, survey};
use crate::fit::{Fit, Loss, Problem};
use crate::photo::Capture;
use crate::record::{Bay, Sheet};
use crate::refusal::{Reason, Refusal};
use nalgebra::{DMatrix, Matrix2, Matrix3, Rotation3, Vector2, Vector3};

/// Camera parameters: turn (3, rad), place (3, mm), ln focal length, lens axis (2, px), distortion at the
/// half-diagonal.
pub(super) const CAMERA_PARAMETERS: usize = 10;
pub(super) const LN_FOCAL: usize = 6;
pub(super) const AXIS_X: usize = 7;
pub(super) const AXIS_Y: usize = 8;
pub(super) const DISTORTION: usize = 9;
/// After the camera's parameters: ln of the sheets' true size over the size in the bay file.
const LN_SIZE: usize = 10;
/// Where the sheets' own parameters begin in the fit of one photo.
const SHEETS_FROM: usize = LN_SIZE + 1;
/// Each sheet's own parameters: offset (2, mm) and turn (rad).
pub(super) const SHEET_PARAMETERS: usize = 3;

/// Priors, one standard deviation each; common practice, no source. Phones put the axis within about a hundredth of the
/// picture's diagonal and keep barrel or pincushion below a few per cent; a printer keeps size to a few parts in a
/// thousand.
/// The focal length in EXIF is only a hint: a crop or a digital zoom leaves it as it was.
pub(super) const LN_FOCAL_SD: f64 = 0.7;
pub(super) const AXIS_SD_OF_DIAGONAL: f64 = 0.004;
pub(super) const DISTORTION_SD: f64 = 0.02;
pub(super) const LN_SIZE_SD: f64 = 0.004;
/// A sheet is taped by its centre only; it may hang askew by this, one standard deviation, rad.
pub(super) const TURN_SD_RAD: f64 = 0.06;
/// No corner is trusted better than this, px: JPEG and a lens' own unevenness remain when an edge's fit looks perfect.
pub(super) const LEAST_CORNER_SD_PX: f64 = 0.05;
/// No sheet is trusted to hang better than this, mm: paper is not flat.
const LEAST_POSITION_SD_MM: f64 = 0.2;
/// Half of a sheet's paper, width and height, over the tag's size: A4 around a tag of 160 mm, a little askew.
const PAPER_HALF_OF_SIZE: [f64; 2] = [0.7, 1.0];
/// Least number of marks that give a view.
pub const LEAST_MARKS: usize = 3;
/// A sheet off its place by more than this many standard deviations (of tape and fit together) is taken to hang
/// elsewhere. Beyond 5 a normal error comes once in a million sheets.
const OFF_PLACE_SDS: f64 = 5.0;
/// Sheets printed off their size by more than this are told to the user.
const SIZE_OFF: f64 = 0.01;

/// The camera's view of the wall.
#[derive(Debug, Clone)]
pub struct View {
    pub(super) camera: Vec<f64>,
    pub(super) width_px: f64,
    pub(super) height_px: f64,
    /// Covariance of the camera parameters were the sheets and the lens known: this photo's own.
    pub(super) photo_covariance: DMatrix<f64>,
    /// What one standard deviation of each source that the job's photos share does to the camera parameters, a column
    /// for each source. The sources are independent; all views of one survey have the same ones in the same order.
    pub(super) common: DMatrix<f64>,
    /// The marks that the view rests on.
    pub marks: Vec<FoundMark>,
    /// Where the bay has sheets: centre and half of the paper's width and height, mm. The wall is hidden there.
    pub(super) papers: Vec<([f64; 2], [f64; 2])>,
    /// Root mean square of the corners' distances from where the view has them, px.
    pub rms_px: f64,
    /// What the user should know about the marks.
    pub warnings: Vec<String>,
}

/// One standard deviation of a height on the wall, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeightSd {
    /// From the corners found in this photo, were the sheets' places known.
    pub photo_mm: f64,
    /// From what the photos of the job have in common: where the sheets hang, as tape and photos together leave it
    /// open, and the lens.
    pub tape_mm: f64,
}

/// A mark that was found and its sheet.
#[derive(Debug, Clone)]
pub(super) struct Hung {
    pub mark: FoundMark,
    pub sheet: Sheet,
    /// The sheet's number in the bay file, from 0.
    pub index: usize,
}

/// One photo fitted on its own.
#[derive(Debug, Clone)]
pub(super) struct Alone {
    pub hung: Vec<Hung>,
    /// Which of them the fit rests on.
    pub used: Vec<usize>,
    pub fit: Fit,
    /// Factor on the corners' variance: how much more they scatter than their own standard deviations say.
    pub inflation: f64,
    pub warnings: Vec<String>,
}

/// Turns the corners' names of sheets that were printed or hung upside down: the top edge must run the way that the
/// sheets' centres say. (Two pictures of each tag are about, half a turn apart; see [`super::tag_cells`].)
fn right_way_up(hung: &mut [Hung]) {
    let count = hung.len() as f64;
    let centre = |mark: &FoundMark| {
        mark.corners_px
            .iter()
            .fold([0.0; 2], |sum, c| [sum[0] + 0.25 * c[0], sum[1] + 0.25 * c[1]])
    };
    let (mut mean_mm, mut mean_px) = ([0.0; 2], [0.0; 2]);
    for h in hung.iter() {
        let at_px = centre(&h.mark);
        mean_mm = [mean_mm[0] + h.sheet.x_mm / count, mean_mm[1] + h.sheet.y_mm / count];
        mean_px = [mean_px[0] + at_px[0] / count, mean_px[1] + at_px[1] / count];
    }
    // The similarity that takes centres to centres, y turned down: its first column is where the wall's x runs.
    let mut along = [0.0; 2];
    for h in hung.iter() {
        let (x, y) = (h.sheet.x_mm - mean_mm[0], mean_mm[1] - h.sheet.y_mm);
        let at_px = centre(&h.mark);
        let (u, v) = (at_px[0] - mean_px[0], at_px[1] - mean_px[1]);
        along = [along[0] + x * u + y * v, along[1] + x * v - y * u];
    }
    for h in hung.iter_mut() {
        let [top_left, top_right, ..] = h.mark.corners_px;
        let agrees = (top_right[0] - top_left[0]) * along[0] + (top_right[1] - top_left[1]) * along[1];
        if agrees < 0.0 {
            h.mark.corners_px.rotate_left(2);
            h.mark.corner_sd_px.rotate_left(2);
        }
    }
}

impl View {
    /// Fits the view to the marks found in one photo of `size_px` (width, height), without other photos of the wall.
    ///
    /// # Errors
    /// [`Refusal`] `marks-missing` with fewer than [`LEAST_MARKS`] marks; `marks-disagree`, naming the sheet where one
    /// can be named, when they do not lie where the bay file says.
    pub fn fit(
        found: &[FoundMark],
        bay: &Bay,
        size_px: (usize, usize),
        focal_length_35mm_mm: Option<f64>,
    ) -> Result<Self, Refusal> {
        let lone = Sighting {
            found: found.to_vec(),
            size_px,
            capture: Capture {
                focal_length_35mm_mm,
                ..Capture::default()
            },
        };
        survey(&[lone], bay)
            .pop()
            .unwrap_or_else(|| Err(Refusal::new(Reason::MarksMissing, missing_message(&[], bay))))
    }

    /// Where a place on the wall (mm) lies in the photo (px); `None` behind the camera.
    #[must_use]
    pub fn to_photo(&self, wall_mm: [f64; 2]) -> Option<[f64; 2]> {
        project(&self.camera, wall_mm, self.width_px, self.height_px)
    }

    /// Where a place in the photo (px) lies on the wall (mm); `None` when the sight line misses the wall.
    #[must_use]
    pub fn to_wall(&self, photo_px: [f64; 2]) -> Option<[f64; 2]> {
        let camera = &self.camera;
        let half_diagonal_px = 0.5 * self.width_px.hypot(self.height_px);
        let focal_px = camera[LN_FOCAL].exp();
        let seen = Vector2::new(photo_px[0] - camera[AXIS_X], photo_px[1] - camera[AXIS_Y]);
        // r_d = r_u (1 + k (r_u / R)²): solved for r_u by fixed-point steps, which shrink the error k-fold each.
        let mut ideal = seen;
        for _ in 0..30 {
            ideal = seen / (1.0 + camera[DISTORTION] * ideal.norm_squared() / half_diagonal_px.powi(2));
        }
        let rotation = rotation(camera);
        let ray = rotation.transpose() * Vector3::new(ideal.x / focal_px, ideal.y / focal_px, 1.0);
        let eye = -(rotation.transpose() * Vector3::new(camera[3], camera[4], camera[5]));
        let along = -eye.z / ray.z;
        (along.is_finite() && along > 0.0).then(|| [eye.x + along * ray.x, eye.y + along * ray.y])
    }

    /// Wall length of one pixel's height at a place on the wall, mm; `None` where it cannot be seen.
    #[must_use]
    pub fn mm_per_px(&self, wall_mm: [f64; 2]) -> Option<f64> {
        let jacobian = wall_jacobian(&self.camera, wall_mm, self.width_px, self.height_px)?;
        Some(1.0 / jacobian.determinant().abs().sqrt())
    }

    /// One standard deviation of the wall height that the view assigns to the pixel at `wall_mm`.
    #[must_use]
    pub fn height_sd(&self, wall_mm: [f64; 2]) -> Option<HeightSd> {
        let sensitivity = self.height_sensitivity(wall_mm)?;
        let photo_variance = (&sensitivity * &self.photo_covariance * sensitivity.transpose())[(0, 0)];
        Some(HeightSd {
            photo_mm: photo_variance.max(0.0).sqrt(),
            tape_mm: (sensitivity * &self.common).norm(),
        })
    }

    /// What one standard deviation of each source that the job's photos share does to the wall height that the view
    /// assigns to the pixel at `wall_mm`, mm. Views of one survey list the same independent sources in the same order,
    /// so that the covariance of two heights is the sum of the products.
    #[must_use]
    pub fn height_common_mm(&self, wall_mm: [f64; 2]) -> Option<Vec<f64>> {
        let row = self.height_sensitivity(wall_mm)? * &self.common;
        Some(row.iter().copied().collect())
    }

    /// Whether a sheet of the bay hides the wall at a place, mm.
    #[must_use]
    pub fn hidden(&self, wall_mm: [f64; 2]) -> bool {
        self.papers
            .iter()
            .any(|(centre, half)| (0..2).all(|c| (wall_mm[c] - centre[c]).abs() < half[c]))
    }

    /// Camera's place in the wall frame: x, y, and distance from the wall, mm.
    #[must_use]
    pub fn eye_mm(&self) -> [f64; 3] {
        let eye = -(rotation(&self.camera).transpose() * Vector3::new(self.camera[3], self.camera[4], self.camera[5]));
        [eye.x, eye.y, eye.z]
    }

    /// How the wall height of a fixed pixel changes with each camera parameter, a row.
    pub(super) fn height_sensitivity(&self, wall_mm: [f64; 2]) -> Option<DMatrix<f64>> {
        // A pixel u = P(X, p) stays: dX = −(∂P/∂X)⁻¹ ∂P/∂p dp.
        let to_wall = wall_jacobian(&self.camera, wall_mm, self.width_px, self.height_px)?.try_inverse()?;
        let mut row = DMatrix::zeros(1, CAMERA_PARAMETERS);
        let mut camera = self.camera.clone();
        for (i, step) in camera_steps(self.camera[5]).into_iter().enumerate() {
            camera[i] = self.camera[i] + step;
            let up = project(&camera, wall_mm, self.width_px, self.height_px)?;
            camera[i] = self.camera[i] - step;
            let down = project(&camera, wall_mm, self.width_px, self.height_px)?;
            camera[i] = self.camera[i];
            let moved = Vector2::new(up[0] - down[0], up[1] - down[1]) / (2.0 * step);
            row[(0, i)] = -(to_wall * moved).y;
        }
        Some(row)
    }
}

/// The fit of one photo on its own.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fitter<'a> {
    pub bay: &'a Bay,
    pub size_px: (usize, usize),
    pub focal_length_35mm_mm: Option<f64>,
}

impl Fitter<'_> {
    /// Fits the view to the marks found, leaving sheets out that hang elsewhere.
    ///
    /// # Errors
    /// As [`View::fit`].
    pub fn alone(&self, found: &[FoundMark]) -> Result<Alone, Refusal> {
        let mut warnings = Vec::new();
        let mut hung = Vec::new();
        for (index, sheet) in self.bay.marks.sheet.iter().enumerate() {
            let mut same = found.iter().filter(|mark| mark.id == sheet.id);
            match (same.next(), same.next()) {
                (Some(mark), None) => hung.push(Hung {
                    mark: mark.clone(),
                    sheet: *sheet,
                    index,
                }),
                (Some(_), Some(_)) => warnings.push(format!(
                    "mark {} is seen in two places, so neither was used; take the second sheet with this number away",
                    sheet.id
                )),
                (None, _) => {}
            }
        }
        right_way_up(&mut hung);
        if hung.len() < LEAST_MARKS {
            return Err(missing(&hung, self.bay));
        }
        let all: Vec<usize> = (0..hung.len()).collect();
        let fit = self.fit(&hung, &all).ok_or_else(|| {
            Refusal::new(
                Reason::MarksDisagree,
                "no camera could see the marks where the bay file has them; check the numbers and places in the bay file",
            )
        })?;
        let (fit, used) = self.without_misplaced(&hung, all, fit, &mut warnings)?;
        let inflation = inflation(&fit, 8 * used.len());
        Ok(Alone {
            hung,
            used,
            fit,
            inflation,
            warnings,
        })
    }

    /// Where the bay has sheets: centre and half of the paper's width and height, mm.
    pub fn papers(&self) -> Vec<([f64; 2], [f64; 2])> {
        self.bay
            .marks
            .sheet
            .iter()
            .map(|s| ([s.x_mm, s.y_mm], PAPER_HALF_OF_SIZE.map(|h| h * self.bay.marks.size_mm)))
            .collect()
    }

    /// What the user should know of the sheets' size and number; `ln_size` as fitted.
    pub fn size_and_number_warnings(ln_size: f64, used: usize) -> Vec<String> {
        let mut warnings = Vec::new();
        let size_off = ln_size.exp() - 1.0;
        if size_off.abs() > SIZE_OFF {
            warnings.push(format!(
                "the sheets look {:.1} % of the size that their distances from one another say: either they were not printed at 100 %, or the \
                 distances were measured wrong. Measure a black square and the places of the centres again before you rely on the figures",
                100.0 * (1.0 + size_off)
            ));
        }
        if used < 4 {
            warnings.push(format!(
                "only {used} marks were used; four or more, not all on one line, hold the view better",
            ));
        }
        warnings
    }

    pub fn width_px(&self) -> f64 {
        self.size_px.0 as f64
    }

    pub fn height_px(&self) -> f64 {
        self.size_px.1 as f64
    }

    pub fn diagonal_px(&self) -> f64 {
        self.width_px().hypot(self.height_px())
    }

    /// Diagonal of a 36 mm × 24 mm frame over the EXIF focal length; without EXIF the middle of what phones have.
    pub fn expected_focal_px(&self) -> f64 {
        const FRAME_DIAGONAL_MM: f64 = 43.27;
        self.diagonal_px() * self.focal_length_35mm_mm.unwrap_or(30.0) / FRAME_DIAGONAL_MM
    }

    pub fn position_sd_mm(&self) -> f64 {
        self.bay.marks.position_sd_mm.max(LEAST_POSITION_SD_MM)
    }

    pub fn corners_mm(&self, sheet: Sheet, size_mm: f64, offset_mm: [f64; 2], turn_rad: f64) -> [[f64; 2]; 4] {
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

    /// Fits the view to the sheets `used`, from several starting focal lengths; the best counts.
    fn fit(&self, hung: &[Hung], used: &[usize]) -> Option<Fit> {
        let expected_focal_px = self.expected_focal_px();
        let pairs: Vec<([f64; 2], [f64; 2])> = used
            .iter()
            .flat_map(|&n| {
                let corners_mm = self.corners_mm(hung[n].sheet, self.bay.marks.size_mm, [0.0; 2], 0.0);
                corners_mm.into_iter().zip(hung[n].mark.corners_px)
            })
            .collect();
        let plane = homography(&pairs)?;
        let residuals = |p: &[f64]| self.residuals(hung, used, p, expected_focal_px);
        let count = SHEETS_FROM + SHEET_PARAMETERS * used.len();
        [1.0, 0.6, 1.6, 2.5]
            .into_iter()
            .filter_map(|factor| {
                let mut start = self.start(&plane, factor * expected_focal_px)?;
                let mut steps = camera_steps(start[5]).to_vec();
                start.resize(count, 0.0);
                steps.push(1e-6);
                steps.extend((0..used.len()).flat_map(|_| [1e-2, 1e-2, 1e-5]));
                let problem = Problem {
                    residuals: &residuals,
                    priors: prior_count(used.len()),
                    steps: &steps,
                    loss: Loss::Square,
                };
                problem.solve(&start)
            })
            .min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    /// Camera parameters from a plane's homography and a focal length.
    fn start(&self, plane: &Homography, focal_px: f64) -> Option<Vec<f64>> {
        let axis = [0.5 * (self.width_px() - 1.0), 0.5 * (self.height_px() - 1.0)];
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
        Some(vec![
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

    fn residuals(&self, hung: &[Hung], used: &[usize], p: &[f64], expected_focal_px: f64) -> Vec<f64> {
        let mut residuals = Vec::with_capacity(8 * used.len() + prior_count(used.len()));
        let size_mm = self.bay.marks.size_mm * p[LN_SIZE].exp();
        let project = projection(p, self.width_px(), self.height_px());
        for (k, &n) in used.iter().enumerate() {
            let own = &p[SHEETS_FROM + SHEET_PARAMETERS * k..][..SHEET_PARAMETERS];
            let corners_mm = self.corners_mm(hung[n].sheet, size_mm, [own[0], own[1]], own[2]);
            for (i, corner_mm) in corners_mm.into_iter().enumerate() {
                let sd_px = hung[n].mark.corner_sd_px[i].max(LEAST_CORNER_SD_PX);
                match project(corner_mm) {
                    Some(seen) => residuals.extend((0..2).map(|c| (seen[c] - hung[n].mark.corners_px[i][c]) / sd_px)),
                    None => residuals.extend([1e6; 2]),
                }
            }
        }
        let axis_sd_px = AXIS_SD_OF_DIAGONAL * self.diagonal_px();
        residuals.extend([
            (p[LN_FOCAL] - expected_focal_px.ln()) / LN_FOCAL_SD,
            (p[AXIS_X] - 0.5 * (self.width_px() - 1.0)) / axis_sd_px,
            (p[AXIS_Y] - 0.5 * (self.height_px() - 1.0)) / axis_sd_px,
            p[DISTORTION] / DISTORTION_SD,
            p[LN_SIZE] / LN_SIZE_SD,
        ]);
        for own in p[SHEETS_FROM..].chunks_exact(SHEET_PARAMETERS) {
            residuals.push(own[2] / TURN_SD_RAD);
        }
        for own in p[SHEETS_FROM..].chunks_exact(SHEET_PARAMETERS) {
            residuals.extend([own[0] / self.position_sd_mm(), own[1] / self.position_sd_mm()]);
        }
        residuals
    }

    /// Looks for sheets that hang elsewhere: each sheet's place as the other sheets' view has it, against the tape.
    fn without_misplaced(
        &self,
        hung: &[Hung],
        mut used: Vec<usize>,
        mut fit: Fit,
        warnings: &mut Vec<String>,
    ) -> Result<(Fit, Vec<usize>), Refusal> {
        loop {
            let Some(worst) = largest_offset(&fit, used.len(), self.position_sd_mm()) else {
                return Ok((fit, used));
            };
            if worst < OFF_PLACE_SDS * 0.6 {
                // A sheet off its place drags the fit, so that its own offset shows only in part; but something shows.
                return Ok((fit, used));
            }
            // Leave each out in turn and ask where the others have it.
            let mut trials: Vec<(usize, Fit, f64, [f64; 2], f64)> = Vec::new();
            for &n in &used {
                let rest: Vec<usize> = used.iter().copied().filter(|&other| other != n).collect();
                if rest.len() < LEAST_MARKS {
                    continue;
                }
                let Some(rest_fit) = self.fit(hung, &rest) else {
                    continue;
                };
                let view = self.view(hung, &rest, &rest_fit);
                let Some((offset_mm, sds)) = self.offset_against(&view, &hung[n]) else {
                    continue;
                };
                let remaining = largest_offset(&rest_fit, rest.len(), self.position_sd_mm()).unwrap_or(0.0);
                trials.push((n, rest_fit, sds, offset_mm, remaining));
            }
            if !trials.iter().any(|trial| trial.2 > OFF_PLACE_SDS) {
                return Ok((fit, used));
            }
            trials.sort_by(|a, b| a.1.cost.total_cmp(&b.1.cost));
            let clear = trials.len() < 2 || trials[1].1.cost > 2.0 * trials[0].1.cost + 8.0;
            let Some((n, rest_fit, sds, offset_mm, remaining)) = trials.into_iter().next() else {
                return Ok((fit, used));
            };
            if !clear || sds <= OFF_PLACE_SDS || used.len() <= 4 {
                let ids: Vec<String> = used.iter().map(|&n| hung[n].sheet.id.to_string()).collect();
                return Err(Refusal::new(
                    Reason::MarksDisagree,
                    format!(
                        "marks {} do not lie as the bay file has them, and it cannot be told which is off (first suspect: mark {}, \
                         by {:.0} mm to the right and {:.0} mm up); measure the sheets' centres again",
                        ids.join(", "),
                        hung[n].sheet.id,
                        offset_mm[0],
                        offset_mm[1]
                    ),
                ));
            }
            warnings.push(format!(
                "mark {} hangs {:.0} mm to the right of and {:.0} mm above its place in the bay file (negative: left, below) and was not used; \
                 measure it again",
                hung[n].sheet.id, offset_mm[0], offset_mm[1]
            ));
            used.retain(|&other| other != n);
            fit = rest_fit;
            if remaining < OFF_PLACE_SDS * 0.6 {
                return Ok((fit, used));
            }
        }
    }

    /// Where a view has a sheet, against where the bay file has it: offset, mm, and that in standard deviations.
    fn offset_against(&self, view: &View, hung: &Hung) -> Option<([f64; 2], f64)> {
        let corners = hung.mark.corners_px.map(|corner| view.to_wall(corner));
        let mut centre = [0.0; 2];
        for corner in corners {
            let corner = corner?;
            centre[0] += 0.25 * corner[0];
            centre[1] += 0.25 * corner[1];
        }
        let offset_mm = [centre[0] - hung.sheet.x_mm, centre[1] - hung.sheet.y_mm];
        let view_sd = view.height_sd(centre)?;
        // The height's uncertainty stands for both directions; far from the other sheets it is the larger.
        let sd_mm = (self.position_sd_mm().powi(2) + view_sd.photo_mm.powi(2) + view_sd.tape_mm.powi(2)).sqrt();
        Some((offset_mm, offset_mm[0].hypot(offset_mm[1]) / sd_mm))
    }

    /// The view of one photo on its own: all that is uncertain counts as the photo's.
    fn view(&self, hung: &[Hung], used: &[usize], fit: &Fit) -> View {
        let corners = 8 * used.len();
        let gain = fit.gain.rows(0, CAMERA_PARAMETERS).into_owned();
        let part = |range: std::ops::Range<usize>| {
            let columns = gain.columns(range.start, range.len());
            columns * columns.transpose()
        };
        View {
            camera: fit.parameters[..CAMERA_PARAMETERS].to_vec(),
            width_px: self.width_px(),
            height_px: self.height_px(),
            photo_covariance: part(0..corners) * inflation(fit, corners) + part(corners..fit.residuals.len()),
            common: DMatrix::zeros(CAMERA_PARAMETERS, 0),
            marks: used.iter().map(|&n| hung[n].mark.clone()).collect(),
            rms_px: 0.0,
            papers: self.papers(),
            warnings: Vec::new(),
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
    let gain = fit.gain.columns(0, corners).into_owned();
    let taken_up = gain.dot(&information.solve(&gain));
    let freedom = (corners as f64 - taken_up).max(1.0);
    (spread / freedom).max(1.0)
}

fn prior_count(sheets: usize) -> usize {
    5 + SHEET_PARAMETERS * sheets
}

/// Largest offset of a sheet from its place, in the tape's standard deviations.
fn largest_offset(fit: &Fit, sheets: usize, position_sd_mm: f64) -> Option<f64> {
    fit.parameters[SHEETS_FROM..]
        .chunks_exact(SHEET_PARAMETERS)
        .take(sheets)
        .map(|own| own[0].hypot(own[1]) / position_sd_mm)
        .max_by(f64::total_cmp)
}

/// Blur of a mark's edges from which its code begins to be lost, as a share of a cell's side (common practice, no source).
const MOST_BLUR_CELLS: f64 = 0.3;

/// Why too few marks were found: where those that were are badly blurred, the others are lost in blur.
fn missing(hung: &[Hung], bay: &Bay) -> Refusal {
    let cell_px = |mark: &FoundMark| {
        let [a, _, c, _] = mark.corners_px;
        (a[0] - c[0]).hypot(a[1] - c[1]) / 2f64.sqrt() / super::TAG_SIDE_CELLS as f64
    };
    let blur_cells = hung
        .iter()
        .map(|h| h.mark.blur_px / cell_px(&h.mark).max(1e-9))
        .fold(0.0, f64::max);
    if blur_cells > MOST_BLUR_CELLS {
        return Refusal::new(
            Reason::Blurred,
            format!(
                "the marks' edges are blurred by {blur_cells:.1} of a cell's side, and only {} of {} marks can be read; hold the camera on something \
                 firm and focus on a mark",
                hung.len(),
                bay.marks.sheet.len()
            ),
        );
    }
    Refusal::new(Reason::MarksMissing, missing_message(hung, bay))
}

pub(super) fn missing_message(hung: &[Hung], bay: &Bay) -> String {
    if bay.marks.sheet.is_empty() {
        return "the bay file lists no sheets; print some with `beamfall marks`, tape them to the wall and enter their places".to_owned();
    }
    let found: Vec<String> = hung.iter().map(|h| h.sheet.id.to_string()).collect();
    let lacking: Vec<String> = bay
        .marks
        .sheet
        .iter()
        .filter(|s| !hung.iter().any(|h| h.sheet.id == s.id))
        .map(|s| s.id.to_string())
        .collect();
    format!(
        "{} of the bay's {} marks can be read in the photo ({}); {} or more are needed. Not found: {}. Get all sheets whole \
         into the picture, hold still, and let a little light fall on the dark ones",
        found.len(),
        bay.marks.sheet.len(),
        if found.is_empty() {
            "none".to_owned()
        } else {
            found.join(", ")
        },
        LEAST_MARKS,
        lacking.join(", ")
    )
}

/// A camera that looks square at the wall: its x to the right, its y down, its z into the wall.
fn facing_wall() -> Matrix3<f64> {
    Matrix3::new(1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, -1.0)
}

fn rotation(camera: &[f64]) -> Matrix3<f64> {
    Rotation3::from_scaled_axis(Vector3::new(camera[0], camera[1], camera[2])).matrix() * facing_wall()
}

/// Steps for numerical derivatives of the camera parameters; `distance_mm` is the camera's distance.
pub(super) fn camera_steps(distance_mm: f64) -> [f64; CAMERA_PARAMETERS] {
    let place_mm = 1e-6 * distance_mm.abs().max(1.0);
    [1e-6, 1e-6, 1e-6, place_mm, place_mm, place_mm, 1e-6, 1e-3, 1e-3, 1e-5]
}

pub(super) fn project(camera: &[f64], wall_mm: [f64; 2], width_px: f64, height_px: f64) -> Option<[f64; 2]> {
    projection(camera, width_px, height_px)(wall_mm)
}

/// As [`project`], for many places on the wall: the camera's rotation is worked out once.
pub(super) fn projection(camera: &[f64], width_px: f64, height_px: f64) -> impl Fn([f64; 2]) -> Option<[f64; 2]> {
    let rotation = rotation(camera);
    let place = Vector3::new(camera[3], camera[4], camera[5]);
    let focal_px = camera[LN_FOCAL].exp();
    let half_diagonal_px = 0.5 * width_px.hypot(height_px);
    move |wall_mm| {
        let seen = rotation * Vector3::new(wall_mm[0], wall_mm[1], 0.0) + place;
        if seen.z <= 0.0 || !seen.z.is_finite() {
            return None;
        }
        let (x, y) = (focal_px * seen.x / seen.z, focal_px * seen.y / seen.z);
        let bend = 1.0 + camera[DISTORTION] * (x * x + y * y) / half_diagonal_px.powi(2);
        Some([camera[AXIS_X] + x * bend, camera[AXIS_Y] + y * bend])
    }
}

/// ∂(px)/∂(mm) at a place on the wall.
fn wall_jacobian(camera: &[f64], wall_mm: [f64; 2], width_px: f64, height_px: f64) -> Option<Matrix2<f64>> {
    const STEP_MM: f64 = 0.1;
    let difference = |dx: f64, dy: f64| {
        let up = project(camera, [wall_mm[0] + dx, wall_mm[1] + dy], width_px, height_px)?;
        let down = project(camera, [wall_mm[0] - dx, wall_mm[1] - dy], width_px, height_px)?;
        Some(Vector2::new(up[0] - down[0], up[1] - down[1]) / (2.0 * STEP_MM))
    };
    Some(Matrix2::from_columns(&[
        difference(STEP_MM, 0.0)?,
        difference(0.0, STEP_MM)?,
    ]))
}

#[cfg(test)]
mod against_opencv;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{HeightsFrom, Marks};

    fn bay(places: &[(u32, f64, f64)]) -> Bay {
        Bay {
            schema: 1,
            name: "test".to_owned(),
            heights_from: HeightsFrom::Floor,
            grade_percent: 0.0,
            grade_sd_percent: 0.0,
            marks: Marks {
                family: "tag36h11".to_owned(),
                size_mm: 160.0,
                position_sd_mm: 1.0,
                sheet: places
                    .iter()
                    .map(|&(id, x_mm, y_mm)| Sheet { id, x_mm, y_mm })
                    .collect(),
            },
        }
    }

    const SIX: [(u32, f64, f64); 6] = [
        (1, -800.0, 217.0),
        (2, -267.0, 204.0),
        (3, 267.0, 204.0),
        (4, 800.0, 217.0),
        (5, -800.0, 1029.0),
        (6, 800.0, 1029.0),
    ];
    const SIZE_PX: (usize, usize) = (3000, 2250);

    /// A camera 4.5 m off, turned and tilted, with a barrel lens.
    fn camera() -> Vec<f64> {
        let mut camera = vec![0.05, -0.12, 0.03, 0.0, 0.0, 0.0, 3600f64.ln(), 1499.5, 1124.5, -0.012];
        let place = -(rotation(&camera) * Vector3::new(500.0, 1500.0, 4500.0));
        camera[3..6].copy_from_slice(place.as_slice());
        camera
    }

    /// Marks as that camera sees them, each sheet askew, some moved.
    fn seen(places: &[(u32, f64, f64)], moved: &[(u32, f64, f64)]) -> Vec<FoundMark> {
        let bay = bay(places);
        let fitter = Fitter {
            bay: &bay,
            size_px: SIZE_PX,
            focal_length_35mm_mm: None,
        };
        bay.marks
            .sheet
            .iter()
            .map(|sheet| {
                let (dx, dy) = moved
                    .iter()
                    .find(|m| m.0 == sheet.id)
                    .map_or((0.0, 0.0), |m| (m.1, m.2));
                let turn_rad = 0.03 * (f64::from(sheet.id) - 3.0);
                let corners_mm = fitter.corners_mm(*sheet, 160.0, [dx, dy], turn_rad);
                FoundMark {
                    id: sheet.id,
                    corners_px: corners_mm.map(|c| project(&camera(), c, 3000.0, 2250.0).unwrap()),
                    corner_sd_px: [0.1; 4],
                    blur_px: 1.0,
                }
            })
            .collect()
    }

    #[test]
    fn the_view_is_found_again_and_goes_both_ways() {
        let view = View::fit(&seen(&SIX, &[]), &bay(&SIX), SIZE_PX, None).unwrap();
        for wall_mm in [[0.0, 600.0], [-900.0, 100.0], [700.0, 1100.0]] {
            let truth = project(&camera(), wall_mm, 3000.0, 2250.0).unwrap();
            let back = view.to_wall(truth).unwrap();
            assert!(
                (back[0] - wall_mm[0]).hypot(back[1] - wall_mm[1]) < 0.4,
                "{wall_mm:?} came back as {back:?}"
            );
            let there = view.to_photo(wall_mm).unwrap();
            let again = view.to_wall(there).unwrap();
            assert!((again[0] - wall_mm[0]).hypot(again[1] - wall_mm[1]) < 1e-6);
        }
        assert!(view.warnings.is_empty(), "{:?}", view.warnings);
        assert!((view.eye_mm()[2] - 4500.0).abs() < 100.0, "{:?}", view.eye_mm());
    }

    #[test]
    fn without_the_high_sheets_the_height_is_less_certain_and_says_so() {
        let four = &SIX[..4];
        let sd = |places: &[(u32, f64, f64)]| {
            let view = View::fit(&seen(places, &[]), &bay(places), SIZE_PX, None).unwrap();
            let wall_mm = [300.0, 650.0];
            let error = view
                .to_wall(project(&camera(), wall_mm, 3000.0, 2250.0).unwrap())
                .unwrap()[1]
                - wall_mm[1];
            let sd = view.height_sd(wall_mm).unwrap();
            let total = sd.photo_mm.hypot(sd.tape_mm);
            assert!(error.abs() < 2.0 * total, "error {error} with sd {total}");
            total
        };
        let (six, four) = (sd(&SIX), sd(four));
        assert!(four > 1.3 * six && four.is_finite(), "{six} and {four}");
    }

    #[test]
    fn a_misplaced_sheet_is_named() {
        for (id, dx, dy) in [(2, 0.0, 40.0), (6, 25.0, -30.0)] {
            let view = View::fit(&seen(&SIX, &[(id, dx, dy)]), &bay(&SIX), SIZE_PX, None).unwrap();
            assert!(
                view.warnings.iter().any(|w| w.contains(&format!("mark {id} "))),
                "{id}: {:?}",
                view.warnings
            );
            assert!(view.marks.iter().all(|m| m.id != id));
            let wall_mm = [300.0, 650.0];
            let back = view
                .to_wall(project(&camera(), wall_mm, 3000.0, 2250.0).unwrap())
                .unwrap();
            assert!((back[1] - wall_mm[1]).abs() < 1.0, "{back:?}");
        }
    }

    #[test]
    fn two_misplaced_sheets_of_four_are_a_refusal() {
        let four: Vec<_> = [SIX[0], SIX[3], SIX[4], SIX[5]].to_vec();
        let refusal = View::fit(
            &seen(&four, &[(4, 0.0, 60.0), (5, 50.0, 0.0)]),
            &bay(&four),
            SIZE_PX,
            None,
        )
        .unwrap_err();
        assert_eq!(refusal.reason, Reason::MarksDisagree);
    }

    #[test]
    fn too_few_marks_are_named() {
        let refusal = View::fit(&seen(&SIX, &[])[..2], &bay(&SIX), SIZE_PX, None).unwrap_err();
        assert_eq!(refusal.reason, Reason::MarksMissing);
        assert!(refusal.message.contains("3, 4, 5, 6"), "{}", refusal.message);
    }

    #[test]
    fn sheets_printed_half_a_turn_round_do_no_harm() {
        let mut marks = seen(&SIX, &[]);
        for mark in marks.iter_mut().skip(2) {
            mark.corners_px.rotate_left(2);
        }
        let view = View::fit(&marks, &bay(&SIX), SIZE_PX, None).unwrap();
        assert!(
            view.rms_px < 0.1 && view.warnings.is_empty(),
            "{} {:?}",
            view.rms_px,
            view.warnings
        );
    }

    #[test]
    fn a_mark_seen_twice_is_not_used() {
        let mut marks = seen(&SIX, &[]);
        let mut twin = marks[1].clone();
        twin.corners_px = twin.corners_px.map(|[x, y]| [x, y + 300.0]);
        marks.push(twin);
        let view = View::fit(&marks, &bay(&SIX), SIZE_PX, None).unwrap();
        assert!(view.warnings.iter().any(|w| w.contains("mark 2 ")) && view.marks.len() == 5);
    }
}
