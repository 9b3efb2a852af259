//! Made photos with a known truth: a dipped beam on a wall with marks, as a camera would see it.
//!
//! A [`Scene`] says what stands where; its beam is given in candela over angles, so that the wall's light follows
//! from I·cos(incidence)/r² ([`MadeLamp`]), the picture from a pinhole with radial distortion ([`Pinhole`]), and the
//! file from exposure, noise and the sRGB curve ([`Exposure`]). The [`Truth`] is worked out by definition from the
//! clean beam on the wall, before any of that. Nothing here knows how a photo is read.

mod beam;
mod camera;
mod develop;
mod file;
mod raster;
mod scene;
mod surface;
mod truth;

pub use beam::{EdgeKind, MadeLamp};
pub use camera::{Camera, Pinhole};
pub use develop::{linear_from_srgb, srgb_from_linear};
pub use scene::{Ambient, ExifText, Exposure, Photo, Scene};
pub use surface::{MadeSheet, Paper, Wall, WallKind};
pub use truth::{Truth, TruthElbow};

use crate::record::RecordError;
use beam::Beam;
use scene::View;
use std::path::{Path, PathBuf};
use surface::Surface;

/// Every how many-th pixel the exposure is metered on.
const METER_STRIDE: usize = 4;

/// A drawn picture, upright.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// sRGB code values, three a pixel, row by row from the top left.
    pub rgb: Vec<u8>,
}

impl Scene {
    /// Draws the first photo.
    ///
    /// # Errors
    /// A message where the scene cannot be ([`Scene::check`]).
    pub fn draw(&self) -> Result<Picture, String> {
        self.draw_photo(0)
    }

    /// Draws photo `index`, counted from 0.
    ///
    /// # Errors
    /// A message where the scene cannot be ([`Scene::check`]) or has no such photo.
    pub fn draw_photo(&self, index: usize) -> Result<Picture, String> {
        self.check()?;
        let (picture, _) = self.draw_view(index, &self.view(index)?)?;
        Ok(picture)
    }

    /// The first photo as the bytes of a JPEG file.
    ///
    /// # Errors
    /// As [`Scene::draw`].
    pub fn jpeg(&self) -> Result<Vec<u8>, String> {
        self.check()?;
        self.jpeg_of(0)
    }

    fn jpeg_of(&self, index: usize) -> Result<Vec<u8>, String> {
        let view = self.view(index)?;
        let (picture, full_scale_lx) = self.draw_view(index, &view)?;
        file::jpeg(
            &picture,
            &view.exif,
            &view.exposure,
            view.camera.focal_35mm,
            full_scale_lx,
        )
    }

    /// The light of photo `index` before the lens blurs it, one value a pixel, row by row: the illuminance, lx, on a
    /// perfect diffuser that would look as bright.
    ///
    /// # Errors
    /// As [`Scene::draw_photo`].
    pub fn light_lx(&self, index: usize) -> Result<Vec<f32>, String> {
        self.check()?;
        let view = self.view(index)?;
        Ok(self.raster(&view, &self.surface(), view.lamp_on).light_lx(1))
    }

    /// The camera of photo `index` as it stands.
    ///
    /// # Errors
    /// As [`Scene::draw_photo`].
    pub fn pinhole(&self, index: usize) -> Result<Pinhole, String> {
        Ok(Pinhole::new(&self.view(index)?.camera, self.middle_of_marks_mm()))
    }

    /// What all photos show, lamp by lamp; a photo with its lamps off has no entry.
    ///
    /// # Errors
    /// A message where the scene cannot be, or a cut-off does not fall on the wall where it is read.
    pub fn truth(&self) -> Result<Vec<Truth>, String> {
        self.check()?;
        let mut truths = Vec::new();
        for index in 0..self.photo_count() {
            let view = self.view(index)?;
            for beam in view.beams.iter().filter(|_| view.lamp_on) {
                let truth = Truth::of(beam, &view.file, self.wall.floor_y_mm, self.bay.grade_percent);
                truths.push(truth.map_err(|e| format!("{}, {} lamp: {e}", view.file, beam.lamp.side))?);
            }
        }
        Ok(truths)
    }

    fn surface(&self) -> Surface {
        Surface::new(&self.wall, &self.paper, &self.bay, &self.sheet, self.seed)
    }

    fn raster<'a>(&self, view: &'a View, surface: &'a Surface, lit: bool) -> raster::Raster<'a> {
        let beams: &[Beam] = if lit { &view.beams } else { &[] };
        raster::Raster {
            surface,
            beams,
            ambient_lx: view.ambient_lx,
            pinhole: Pinhole::new(&view.camera, self.middle_of_marks_mm()),
            vignetting: view.camera.vignetting,
            width_px: view.camera.width_px,
            height_px: view.camera.height_px,
        }
    }

    /// The illuminance on a perfect diffuser that reaches full scale in a photo, lx, as metered with the lamps lit:
    /// a photo with the lamps off must be exposed as the lit ones are, to be taken away from them.
    fn full_scale_lx(&self, view: &View, surface: &Surface) -> Result<f64, String> {
        if let Some(full_scale_lx) = view.exposure.full_scale_lx {
            return Ok(full_scale_lx);
        }
        let first;
        let metered = if view.own_exposure {
            view
        } else {
            first = self.view(0)?;
            if let Some(full_scale_lx) = first.exposure.full_scale_lx {
                return Ok(full_scale_lx);
            }
            &first
        };
        let mut light_lx = self.raster(metered, surface, true).light_lx(METER_STRIDE);
        let bright_lx = develop::percentile(&mut light_lx, 0.997);
        // Where there is no light at all, any exposure gives the same black.
        Ok((bright_lx / metered.exposure.p997_of_full_scale).max(1e-6))
    }

    fn draw_view(&self, index: usize, view: &View) -> Result<(Picture, f64), String> {
        let surface = self.surface();
        let full_scale_lx = self.full_scale_lx(view, &surface)?;
        let mut light_lx = self.raster(view, &surface, view.lamp_on).light_lx(1);
        develop::through_lens(&mut light_lx, &view.camera);
        let (width, height) = (view.camera.width_px, view.camera.height_px);
        // Each photo has its own noise, and the whole series follows from the scene's seed.
        let noise_seed = self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(index as u64);
        let rgb = develop::develop(&light_lx, width, full_scale_lx, &view.exposure, noise_seed);
        Ok((Picture { width, height, rgb }, full_scale_lx))
    }
}

/// Draws all photos of a scene file and writes them with their truth, `SCENE.truth.json`.
///
/// `out`: the folder that they go to; left out, the scene file's own. Gives the files written, the truth last.
/// A photo in which no cut-off falls on the wall is drawn all the same only if its lamps are off.
///
/// # Errors
/// [`RecordError`] for a scene that cannot be read or drawn, or a file that cannot be written.
pub fn render_file(scene_path: &Path, out: Option<&Path>) -> Result<Vec<PathBuf>, RecordError> {
    let scene = Scene::read(scene_path)?;
    let fail = |message: String| RecordError::new(scene_path, message);
    let folder = out.unwrap_or_else(|| scene_path.parent().unwrap_or(Path::new("")));
    let truth = scene.truth().map_err(fail)?;
    let mut written = Vec::new();
    for (index, photo) in scene.photo.iter().enumerate() {
        let path = folder.join(&photo.file);
        file::write_whole(&path, &scene.jpeg_of(index).map_err(fail)?)?;
        written.push(path);
    }
    let names = scene.photo.iter().map(|photo| photo.file.as_str()).collect();
    let mut json = serde_json::to_vec_pretty(&file::TruthFile::new(names, &truth)).map_err(|e| fail(e.to_string()))?;
    json.push(b'\n');
    let stem = scene_path.file_stem().and_then(|stem| stem.to_str()).unwrap_or("scene");
    let path = folder.join(format!("{stem}.truth.json"));
    file::write_whole(&path, &json)?;
    written.push(path);
    Ok(written)
}
