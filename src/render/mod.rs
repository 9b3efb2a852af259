//! Made photos with a known truth: a dipped beam on a wall with marks, as a camera would see it.
//!
//! A [`Scene`] says what stands where; its beam is given in candela over angles, so that the wall's light follows
//! from I·cos(incidence)/r² ([`MadeLamp`]), the picture from a pinhole with radial distortion ([`Pinhole`]), and the
//! file from exposure, noise and a tone curve ([`Exposure`]). The [`Truth`] is worked out by definition from the
//! clean beam on the wall, before any of that. Nothing here knows how a photo is read.

mod beam;
mod camera;
mod curve;
mod develop;
mod file;
mod raster;
mod scene;
mod surface;
mod tone;
mod truth;

pub use beam::{EdgeKind, MadeLamp};
pub use camera::{Camera, Pinhole};
pub use scene::{Ambient, Exposure, Photo, Scene};
pub(crate) use surface::Paint;
#[cfg(test)]
pub(crate) use surface::Wall;
pub use surface::{MadeSheet, WallKind};
pub use tone::ToneCurve;
pub use truth::{NoTruth, Truth};

use crate::error::Error;
use beam::Beam;
use scene::SettledPhoto;
use std::path::{Path, PathBuf};
use surface::Surface;

/// Every how many-th pixel the exposure is metered on (our choice, no source).
const METER_STRIDE: usize = 4;

/// A drawn picture, upright.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Picture {
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// sRGB code values, three a pixel, row by row from the top left.
    pub rgb: Vec<u8>,
}

impl Scene {
    /// Draws photo `index`, counted from 0.
    #[cfg(test)]
    fn draw_photo(&self, index: usize) -> Result<Picture, Error> {
        self.check()?;
        let (picture, _) = self.draw_settled(index, &self.settled(index)?)?;
        Ok(picture)
    }

    /// The first photo as the bytes of a JPEG file.
    ///
    /// # Errors
    /// [`Error`] where the scene cannot be ([`Scene::check`]).
    #[cfg(test)]
    pub fn jpeg(&self) -> Result<Vec<u8>, Error> {
        self.check()?;
        self.jpeg_of(0)
    }

    /// Photo `index` as the bytes of a JPEG file, of a scene that was checked.
    pub(crate) fn jpeg_of(&self, index: usize) -> Result<Vec<u8>, Error> {
        let photo = self.settled(index)?;
        let (picture, full_scale_lx) = self.draw_settled(index, &photo)?;
        file::jpeg(
            &picture,
            &photo.exif,
            &photo.exposure,
            photo.camera.focal_35mm,
            full_scale_lx,
        )
    }

    /// The light of photo `index` before the lens blurs it, one value a pixel, row by row: the illuminance, lx, on a
    /// perfect diffuser that would look as bright.
    #[cfg(test)]
    fn light_lx(&self, index: usize) -> Result<Vec<f32>, Error> {
        self.check()?;
        let photo = self.settled(index)?;
        Ok(self.raster(&photo, &self.surface(), photo.lamp_on).light_lx(1))
    }

    /// The camera of photo `index` as it stands.
    ///
    /// # Errors
    /// [`Error`] where the scene has no such photo, or it cannot be.
    pub(crate) fn pinhole(&self, index: usize) -> Result<Pinhole, Error> {
        Ok(Pinhole::new(&self.settled(index)?.camera, self.middle_of_marks_mm()))
    }

    /// What all photos show, lamp by lamp; a photo with its lamps off has no entry.
    ///
    /// # Errors
    /// [`Error`] where the scene cannot be, or a cut-off does not fall on the wall where it is read.
    pub fn truth(&self) -> Result<Vec<Truth>, Error> {
        let (truths, without) = self.truth_and_gaps()?;
        match without.first() {
            Some(gap) => Err(Error::asked(format!(
                "{}, {} lamp: {}",
                gap.photo, gap.lamp, gap.reason
            ))),
            None => Ok(truths),
        }
    }

    /// As [`Scene::truth`], with the lit lamps whose cut-off does not fall on the wall set apart.
    ///
    /// # Errors
    /// [`Error`] where the scene cannot be.
    pub fn truth_and_gaps(&self) -> Result<(Vec<Truth>, Vec<NoTruth>), Error> {
        self.check()?;
        let (mut truths, mut without) = (Vec::new(), Vec::new());
        for index in 0..self.photo_count() {
            let photo = self.settled(index)?;
            for beam in photo.beams.iter().filter(|_| photo.lamp_on) {
                match Truth::of(beam, &photo.file, self.wall.floor_y_mm, self.bay.grade_percent) {
                    Some(truth) => truths.push(truth),
                    None => without.push(NoTruth {
                        photo: photo.file.clone(),
                        lamp: beam.lamp.side,
                        reason: truth::NO_EDGE.to_owned(),
                    }),
                }
            }
        }
        Ok((truths, without))
    }

    fn surface(&self) -> Surface {
        Surface::new(&self.wall, &self.paper, &self.bay, &self.sheet, self.seed)
    }

    fn raster<'a>(&self, photo: &'a SettledPhoto, surface: &'a Surface, lit: bool) -> raster::Raster<'a> {
        let beams: &[Beam] = if lit { &photo.beams } else { &[] };
        raster::Raster {
            surface,
            beams,
            ambient_lx: photo.ambient_lx,
            pinhole: Pinhole::new(&photo.camera, self.middle_of_marks_mm()),
            vignetting: photo.camera.vignetting,
            width_px: photo.camera.width_px,
            height_px: photo.camera.height_px,
        }
    }

    /// The illuminance on a perfect diffuser that reaches full scale in a photo, lx, as metered with the lamps lit:
    /// a photo with the lamps off must be exposed as the lit ones are, to be taken away from them.
    fn full_scale_lx(&self, photo: &SettledPhoto, surface: &Surface) -> Result<f64, Error> {
        if let Some(full_scale_lx) = photo.exposure.full_scale_lx {
            return Ok(full_scale_lx);
        }
        let first;
        let metered = if photo.own_exposure {
            photo
        } else {
            first = self.settled(0)?;
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

    fn draw_settled(&self, index: usize, photo: &SettledPhoto) -> Result<(Picture, f64), Error> {
        let surface = self.surface();
        let full_scale_lx = self.full_scale_lx(photo, &surface)?;
        let mut light_lx = self.raster(photo, &surface, photo.lamp_on).light_lx(1);
        develop::through_lens(&mut light_lx, &photo.camera);
        let (width, height) = (photo.camera.width_px, photo.camera.height_px);
        // Each photo has its own noise, and the whole series follows from the scene's seed.
        let noise_seed = self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15).wrapping_add(index as u64);
        let rgb = develop::develop(&light_lx, width, full_scale_lx, &photo.exposure, noise_seed);
        Ok((Picture { width, height, rgb }, full_scale_lx))
    }
}

/// Draws all photos of a scene file and writes them with their truth, `SCENE.truth.json`.
///
/// `out`: the folder that they go to; left out, the scene file's own. Gives the files written, the truth last.
/// A lit lamp whose cut-off does not fall on the wall is drawn all the same; the truth file lists it apart.
///
/// # Errors
/// [`Error`] for a scene that cannot be read or drawn, or a file that cannot be written.
pub fn render_file(scene_path: &Path, out: Option<&Path>) -> Result<Vec<PathBuf>, Error> {
    let scene = Scene::read(scene_path)?;
    let fail = |error: Error| Error::in_file(scene_path, error.message());
    let folder = out.unwrap_or_else(|| scene_path.parent().unwrap_or(Path::new("")));
    let (truth, no_truth) = scene.truth_and_gaps().map_err(fail)?;
    let mut files = Vec::new();
    for (index, photo) in scene.photo.iter().enumerate() {
        files.push((folder.join(&photo.file), scene.jpeg_of(index).map_err(fail)?));
    }
    let file = file::TruthFile {
        schema: crate::record::SCHEMA,
        program: file::MADE_BY,
        photos: scene.photo.iter().map(|photo| photo.file.as_str()).collect(),
        truth: &truth,
        no_truth: &no_truth,
    };
    let mut json = serde_json::to_vec_pretty(&file).map_err(|e| Error::make("the truth file", e))?;
    json.push(b'\n');
    let stem = scene_path.file_stem().and_then(|stem| stem.to_str()).unwrap_or("scene");
    files.push((folder.join(format!("{stem}.truth.json")), json));
    crate::whole_file::write_all(files)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Side;
    use image::ImageDecoder;

    fn small() -> Scene {
        let mut scene = Scene::default();
        scene.camera.width_px = 240;
        scene.camera.height_px = 180;
        scene.paper.offset_sd_mm = 2.0;
        scene
    }

    #[test]
    fn the_same_scene_gives_the_same_bytes_on_any_number_of_threads() {
        let draw = |threads: usize, scene: &Scene| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| scene.jpeg().unwrap())
        };
        let scene = small();
        let first = draw(1, &scene);
        assert!(first == draw(3, &scene) && first == draw(1, &scene));
        let reseeded = Scene { seed: 2, ..scene };
        assert!(first != draw(1, &reseeded), "another seed draws other noise");
    }

    #[test]
    fn exif_tells_what_the_scene_says() {
        let mut scene = small();
        scene.exif.orientation = 6;
        scene.exposure.full_scale_lx = Some(100.0);
        let bytes = scene.jpeg().unwrap();
        let exif = exif::Reader::new()
            .read_from_container(&mut std::io::Cursor::new(&bytes))
            .unwrap();
        let text = |tag| {
            exif.get_field(tag, exif::In::PRIMARY)
                .unwrap()
                .display_value()
                .to_string()
        };
        assert_eq!(text(exif::Tag::Make), "\"beamfall\"");
        assert_eq!(text(exif::Tag::Model), "\"render\"");
        assert!(text(exif::Tag::ImageDescription).contains("Made photo"));
        assert!(text(exif::Tag::Software).starts_with("\"beamfall"));
        assert_eq!(text(exif::Tag::DateTimeOriginal), "2031-03-04 20:15:00");
        assert_eq!(text(exif::Tag::OffsetTimeOriginal), "\"+01:00\"");
        assert_eq!(text(exif::Tag::FocalLengthIn35mmFilm), "26");
        assert_eq!(text(exif::Tag::PhotographicSensitivity), "100");
        assert_eq!(text(exif::Tag::FNumber), "1.8");
        let number = |tag| match &exif.get_field(tag, exif::In::PRIMARY).unwrap().value {
            exif::Value::Rational(ratios) => ratios[0].to_f64(),
            other => f64::from(other.get_uint(0).unwrap()),
        };
        // By hand: 78/100 lx·s · 4·1.8² / 100 lx = 0.101088 s.
        assert!((number(exif::Tag::ExposureTime) - 0.101_088).abs() < 1e-6);
        assert_eq!(number(exif::Tag::Orientation), 6.0);
    }

    #[test]
    fn a_viewer_that_follows_the_orientation_shows_the_picture_upright() {
        for orientation in [1, 3, 6, 8] {
            let mut scene = small();
            scene.exposure.jpeg_quality = 100;
            scene.exif.orientation = orientation;
            let upright = scene.draw_photo(0).unwrap();
            let bytes = scene.jpeg().unwrap();
            let mut decoder = image::codecs::jpeg::JpegDecoder::new(std::io::Cursor::new(bytes)).unwrap();
            let turn = decoder.orientation().unwrap();
            assert_eq!(turn.to_exif(), orientation);
            let mut shown = image::DynamicImage::from_decoder(decoder).unwrap();
            shown.apply_orientation(turn);
            let shown = shown.to_rgb8();
            assert_eq!((shown.width(), shown.height()), (240, 180));
            let off: f64 = shown
                .as_raw()
                .iter()
                .zip(&upright.rgb)
                .map(|(&a, &b)| (f64::from(a) - f64::from(b)).abs())
                .sum();
            let mean = off / upright.rgb.len() as f64;
            assert!(
                mean < 1.5,
                "orientation {orientation}: codes differ by {mean} on the mean"
            );
        }
    }

    #[test]
    fn a_photo_with_the_lamp_off_is_exposed_as_the_lit_one() {
        let mut scene = small();
        scene.ambient.of_dark_side = 1.0;
        let photo = |lamp_on| Photo {
            file: format!("{lamp_on}.jpg"),
            lamp_on: Some(lamp_on),
            ..Photo::default()
        };
        scene.photo = vec![photo(false), photo(true)];
        let surface = scene.surface();
        let [off_lx, on_lx] = [0, 1].map(|n| scene.full_scale_lx(&scene.settled(n).unwrap(), &surface).unwrap());
        assert_eq!(off_lx, on_lx);
        let [off, on] = [0, 1].map(|n| scene.draw_photo(n).unwrap());
        let brightest = |picture: &Picture| picture.rgb.iter().copied().max().unwrap();
        assert!(
            brightest(&off) < 80 && brightest(&on) > 230,
            "{} {}",
            brightest(&off),
            brightest(&on)
        );
        assert_eq!(
            scene.truth().unwrap().len(),
            1,
            "no truth for the one with the lamp off"
        );
    }

    #[test]
    fn the_exposure_puts_the_bright_end_where_asked() {
        for (p997, clipped) in [(0.5, false), (2.0, true)] {
            let mut scene = small();
            scene.exposure.p997_of_full_scale = p997;
            scene.exposure.tint = [1.0; 3];
            let mut codes: Vec<f32> = scene
                .draw_photo(0)
                .unwrap()
                .rgb
                .iter()
                .map(|&code| f32::from(code))
                .collect();
            let linear = crate::photo::linear_from_srgb(develop::percentile(&mut codes, 0.997) / 255.0);
            let wanted = if clipped { 1.0 } else { 0.5 };
            assert!((linear / wanted - 1.0).abs() < 0.06, "{p997}: {linear}");
        }
    }

    #[test]
    fn photos_of_a_scene_change_only_what_they_say() {
        let mut scene = small();
        scene.lamp.push(MadeLamp {
            side: Side::Right,
            centre_x_mm: 560.0,
            ..MadeLamp::default()
        });
        scene.photo = vec![
            Photo {
                file: "both.jpg".to_owned(),
                ..Photo::default()
            },
            Photo {
                file: "right.jpg".to_owned(),
                lit: Some(vec![Side::Right]),
                inclination_percent: Some(2.0),
                ..Photo::default()
            },
        ];
        let truth = scene.truth().unwrap();
        let told: Vec<_> = truth.iter().map(|t| (t.photo.as_str(), t.lamp)).collect();
        assert_eq!(
            told,
            [
                ("both.jpg", Side::Left),
                ("both.jpg", Side::Right),
                ("right.jpg", Side::Right)
            ]
        );
        assert!((truth[2].inclination_percent - truth[1].inclination_percent - 1.0).abs() < 0.002);
    }
}
