//! What a scene file says, and its checks.

use super::beam::{Beam, MadeLamp};
use super::camera::Camera;
use super::surface::{MadeSheet, Paper, Wall};
use super::tone::{Edits, ToneCurve};
use crate::error::Error;
use crate::record::{Bay, HeightsFrom, Marks, SCHEMA, Sheet, Side, read_toml};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Light that does not come from the lamps: the same everywhere on wall and floor.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Ambient {
    /// Illuminance, lx.
    pub lx: f64,
    /// Illuminance as a share of what the first lamp gives the wall above the cut-off (at the point B50L, straight
    /// ahead of the wall); adds to `lx`.
    pub of_dark_side: f64,
}

impl Default for Ambient {
    fn default() -> Self {
        Self {
            lx: 0.0,
            of_dark_side: 0.05,
        }
    }
}

/// How the picture is exposed and developed.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Exposure {
    /// The 99.7th percentile of the pixels' light as a multiple of full scale: above 1, the hot spot is clipped.
    pub p997_of_full_scale: f64,
    /// In place of it: the illuminance, lx, on a perfect diffuser that just reaches full scale.
    pub full_scale_lx: Option<f64>,
    /// True: each photo of the scene is exposed by its own brightness. False: all as the first.
    pub each_photo: bool,
    /// Electrons in a pixel at full scale; their square root is the shot noise.
    pub full_well_electrons: f64,
    /// Standard deviation of the read noise, electrons.
    pub read_noise_electrons: f64,
    /// Red, green and blue light of the picture over its luminance: an imperfect white balance.
    pub tint: [f64; 3],
    /// Strength of a local tone curve as phones put on high-contrast pictures, 0 (none) to 1 (local mean levelled).
    pub tone_map: f64,
    /// How far around a place its surroundings reach for that, over the picture's width, one standard deviation of a bell.
    pub tone_map_reach: f64,
    /// The curve from light to code values.
    pub curve: ToneCurve,
    /// What is done to the coded picture.
    pub edits: Edits,
    /// JPEG quality, 1 to 100.
    pub jpeg_quality: u8,
    /// ISO speed, for EXIF.
    pub iso: u16,
    /// Aperture number, for EXIF.
    pub f_number: f64,
}

impl Default for Exposure {
    fn default() -> Self {
        Self {
            p997_of_full_scale: 0.9,
            full_scale_lx: None,
            each_photo: false,
            full_well_electrons: 6_000.0,
            read_noise_electrons: 3.0,
            tint: [1.04, 1.0, 0.92],
            tone_map: 0.0,
            tone_map_reach: 0.03,
            curve: ToneCurve::Srgb,
            edits: Edits::default(),
            jpeg_quality: 93,
            iso: 100,
            f_number: 1.8,
        }
    }
}

impl Exposure {
    /// As a photo has it.
    fn of_photo(&self, photo: &Photo) -> Self {
        let mut exposure = self.clone();
        if let Some(p997) = photo.p997_of_full_scale {
            exposure.p997_of_full_scale = p997;
            exposure.full_scale_lx = None;
        }
        exposure.full_scale_lx = photo.full_scale_lx.or(exposure.full_scale_lx);
        set(&mut exposure.tone_map, photo.tone_map);
        set(&mut exposure.curve, photo.curve);
        set(&mut exposure.edits, photo.edits);
        set(&mut exposure.jpeg_quality, photo.jpeg_quality);
        exposure
    }
}

impl Camera {
    /// As it stands for a photo.
    fn of_photo(&self, photo: &Photo) -> Self {
        let mut camera = self.clone();
        let shift_mm = photo.camera_shift_mm.unwrap_or_default();
        for (position_mm, shift_mm) in camera.position_mm.iter_mut().zip(shift_mm) {
            *position_mm += shift_mm;
        }
        set(&mut camera.roll_deg, photo.roll_deg);
        set(&mut camera.defocus_px, photo.defocus_px);
        set(&mut camera.motion_px, photo.motion_px);
        camera
    }
}

/// What the photo's EXIF data says.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct ExifText {
    /// Maker.
    pub make: String,
    /// Model.
    pub model: String,
    /// EXIF orientation, 1, 3, 6 or 8; the stored pixels are turned so that it shows the picture upright.
    pub orientation: u8,
    /// Local time, `2031-03-04T20:15:00`.
    pub taken: String,
    /// Offset of local time from UTC, `+01:00`.
    pub offset: String,
}

impl Default for ExifText {
    fn default() -> Self {
        Self {
            make: "beamfall".to_owned(),
            model: "render".to_owned(),
            orientation: 1,
            taken: "2031-03-04T20:15:00".to_owned(),
            offset: "+01:00".to_owned(),
        }
    }
}

/// One photo of the scene: what is left out is as the scene says.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// File name, relative to the folder that the photos go to.
    pub file: String,
    /// False: all lamps are off.
    pub lamp_on: Option<bool>,
    /// The lamps that are lit.
    pub lit: Option<Vec<Side>>,
    /// Downward aim of all lit lamps, per cent.
    pub inclination_percent: Option<f64>,
    /// Aim to the right of all lit lamps, per cent.
    pub lateral_percent: Option<f64>,
    /// Turn of all lit lamps about their axes, degrees.
    pub tilt_deg: Option<f64>,
    /// Scale of all intensities.
    pub intensity_scale: Option<f64>,
    /// Ambient light.
    pub ambient: Option<Ambient>,
    /// How far the camera stands from the scene's place, mm: a photo from the hand.
    pub camera_shift_mm: Option<[f64; 3]>,
    /// The camera's turn about its axis, degrees.
    pub roll_deg: Option<f64>,
    /// Defocus blur, px.
    pub defocus_px: Option<f64>,
    /// Motion blur, px.
    pub motion_px: Option<f64>,
    /// As in the exposure; the photo is then exposed by its own brightness.
    pub p997_of_full_scale: Option<f64>,
    /// As in the exposure.
    pub full_scale_lx: Option<f64>,
    /// Local tone curve.
    pub tone_map: Option<f64>,
    /// As in the exposure.
    pub curve: Option<ToneCurve>,
    /// As in the exposure.
    pub edits: Option<Edits>,
    /// JPEG quality.
    pub jpeg_quality: Option<u8>,
    /// Local time.
    pub taken: Option<String>,
    /// EXIF orientation.
    pub orientation: Option<u8>,
}

/// A scene: wall, marks, lamps and camera, and the photos to draw of them.
///
/// Every key but `schema` has a default; [`Scene::default`] is the scene of a file that says nothing else.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scene {
    /// Version of the file format.
    #[serde(default = "no_schema")]
    pub schema: u32,
    /// Seed of everything that is drawn at random.
    pub seed: u64,
    /// The bay file, relative to the scene file; left out, [`Scene::bay`] is the built-in one with six sheets.
    #[serde(rename = "bay")]
    pub bay_file: Option<PathBuf>,
    /// The bay as read.
    #[serde(skip, default = "built_in_bay")]
    pub bay: Bay,
    /// How the sheets are printed and put up.
    pub paper: Paper,
    /// Sheets with a fate of their own.
    pub sheet: Vec<MadeSheet>,
    /// The wall and the floor.
    pub wall: Wall,
    /// The lamps, all lit unless a photo says otherwise; left out, one lamp with all its defaults.
    pub lamp: Vec<MadeLamp>,
    /// False: all lamps are off unless a photo says otherwise.
    pub lamp_on: bool,
    /// Light that does not come from the lamps.
    pub ambient: Ambient,
    /// The camera.
    pub camera: Camera,
    /// Exposure and development.
    pub exposure: Exposure,
    /// EXIF data.
    pub exif: ExifText,
    /// The photos; left out, one, named as the scene file.
    pub photo: Vec<Photo>,
}

/// A file without `schema` is refused, though all else has a default.
fn no_schema() -> u32 {
    0
}

/// Six sheets in two rows about a left lamp's scan at 10 m, heights from the floor.
fn built_in_bay() -> Bay {
    let sheet = |id, x_mm, y_mm| Sheet { id, x_mm, y_mm };
    Bay {
        schema: SCHEMA,
        name: "built-in".to_owned(),
        heights_from: HeightsFrom::Floor,
        grade_percent: 0.0,
        grade_sd_percent: 0.02,
        marks: Marks {
            family: "tag36h11".to_owned(),
            size_mm: 160.0,
            position_sd_mm: Marks::POSITION_SD_MM,
            sheet: vec![
                sheet(1, -1_600.0, 210.0),
                sheet(2, -900.0, 220.0),
                sheet(3, -150.0, 205.0),
                sheet(4, 600.0, 215.0),
                sheet(5, -1_500.0, 1_060.0),
                sheet(6, 500.0, 1_050.0),
            ],
        },
    }
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            schema: SCHEMA,
            seed: 1,
            bay_file: None,
            bay: built_in_bay(),
            paper: Paper::default(),
            sheet: Vec::new(),
            wall: Wall::default(),
            lamp: vec![MadeLamp::default()],
            lamp_on: true,
            ambient: Ambient::default(),
            camera: Camera::default(),
            exposure: Exposure::default(),
            exif: ExifText::default(),
            photo: Vec::new(),
        }
    }
}

/// One photo with everything settled that the scene and the photo say.
#[derive(Debug, Clone)]
pub(super) struct SettledPhoto {
    pub file: String,
    /// The lamps as they are when lit.
    pub beams: Vec<Beam>,
    pub lamp_on: bool,
    pub ambient_lx: f64,
    pub camera: Camera,
    pub exposure: Exposure,
    /// Exposed by its own brightness, not as the first photo.
    pub own_exposure: bool,
    pub exif: ExifText,
}

impl Scene {
    /// Reads and checks a scene file, and the bay file that it names.
    ///
    /// # Errors
    /// [`Error`] for a file that cannot be read, an unknown key, or a value that cannot be.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let mut scene: Self = read_toml(path)?;
        if let Some(bay) = &scene.bay_file {
            scene.bay = Bay::read(&path.parent().unwrap_or(Path::new("")).join(bay))?;
        }
        if scene.photo.is_empty() {
            let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or("scene");
            scene.photo.push(Photo {
                file: format!("{stem}.jpg"),
                ..Photo::default()
            });
        }
        scene.check().map_err(|error| Error::in_file(path, error.message()))?;
        Ok(scene)
    }

    /// How many photos the scene has; one, where it lists none.
    #[must_use]
    pub fn photo_count(&self) -> usize {
        self.photo.len().max(1)
    }

    /// The point that the camera looks at where it says no direction: the middle of the marks, mm.
    pub(super) fn middle_of_marks_mm(&self) -> [f64; 2] {
        let sheets = &self.bay.marks.sheet;
        if sheets.is_empty() {
            return [0.0, 600.0];
        }
        let count = sheets.len() as f64;
        [
            sheets.iter().map(|sheet| sheet.x_mm).sum::<f64>() / count,
            sheets.iter().map(|sheet| sheet.y_mm).sum::<f64>() / count,
        ]
    }

    /// Settles photo `index`.
    pub(super) fn settled(&self, index: usize) -> Result<SettledPhoto, Error> {
        let plain = Photo {
            file: "scene.jpg".to_owned(),
            ..Photo::default()
        };
        let photo = match self.photo.get(index) {
            Some(photo) => photo,
            None if index == 0 => &plain,
            None => {
                return Err(Error::asked(format!(
                    "there is no photo {}: the scene has {}",
                    index + 1,
                    self.photo_count()
                )));
            }
        };
        let exposure = self.exposure.of_photo(photo);
        let mut exif = self.exif.clone();
        set(&mut exif.taken, photo.taken.clone());
        set(&mut exif.orientation, photo.orientation);
        Ok(SettledPhoto {
            file: photo.file.clone(),
            beams: self.beams(photo)?,
            lamp_on: photo.lamp_on.unwrap_or(self.lamp_on),
            ambient_lx: self.ambient_lx(photo),
            camera: self.camera.of_photo(photo),
            own_exposure: exposure.each_photo || photo.p997_of_full_scale.is_some(),
            exposure,
            exif,
        })
    }

    /// The beams of the lamps that are lit in a photo.
    fn beams(&self, photo: &Photo) -> Result<Vec<Beam>, Error> {
        let lit = |lamp: &&MadeLamp| photo.lit.as_ref().is_none_or(|lit| lit.contains(&lamp.side));
        let beam = |lamp: &MadeLamp| {
            let mut lamp = lamp.clone();
            set(&mut lamp.inclination_percent, photo.inclination_percent);
            set(&mut lamp.lateral_percent, photo.lateral_percent);
            set(&mut lamp.tilt_deg, photo.tilt_deg);
            set(&mut lamp.intensity_scale, photo.intensity_scale);
            Beam::new(&lamp, self.bay.grade_percent).map_err(|e| e.within(format!("{} lamp", lamp.side)))
        };
        self.lamp.iter().filter(lit).map(beam).collect()
    }

    /// Illuminance of a photo that does not come from the lamps, lx.
    fn ambient_lx(&self, photo: &Photo) -> f64 {
        let ambient = photo.ambient.unwrap_or(self.ambient);
        let dark_side_lx = self.lamp.first().map_or(0.0, |lamp| {
            lamp.dark_cd * lamp.intensity_scale * 1e6 / (lamp.distance_mm * lamp.distance_mm)
        });
        ambient.lx + ambient.of_dark_side * dark_side_lx
    }

    /// Checks what the types cannot.
    ///
    /// # Errors
    /// [`Error`] that names the key, what is wrong with it and how to mend it.
    pub fn check(&self) -> Result<(), Error> {
        if self.schema != SCHEMA {
            return Err(Error::asked(format!(
                "schema = {} is not known; write schema = {SCHEMA} in the scene's first line",
                self.schema
            )));
        }
        self.check_surfaces()?;
        if self.lamp.len() > 2 {
            return Err(Error::asked("more than two [[lamp]]: a car has a left and a right one"));
        }
        for (n, lamp) in self.lamp.iter().enumerate() {
            if self.lamp[..n].iter().any(|other| other.side == lamp.side) {
                return Err(Error::asked(format!(
                    "two [[lamp]] have side = \"{}\"; change one of them",
                    lamp.side
                )));
            }
            check_lamp(lamp)?;
        }
        self.check_files()?;
        for index in 0..self.photo_count() {
            let photo = self.settled(index)?;
            let wrap = |e: Error| e.within(photo.file.clone());
            check_camera(&photo.camera).map_err(wrap)?;
            check_exposure(&photo.exposure).map_err(wrap)?;
            check_exif(&photo.exif).map_err(wrap)?;
            within("ambient light (lx)", photo.ambient_lx, 0.0, 1e5).map_err(wrap)?;
        }
        Ok(())
    }

    fn check_files(&self) -> Result<(), Error> {
        for (n, photo) in self.photo.iter().enumerate() {
            let path = Path::new(&photo.file);
            let inside = path
                .components()
                .all(|part| matches!(part, std::path::Component::Normal(_)));
            if photo.file.is_empty() || !inside {
                return Err(Error::asked(format!(
                    "[[photo]] file = \"{}\" cannot be: give a file name, inside the folder that the photos go to",
                    photo.file
                )));
            }
            if self.photo[..n].iter().any(|other| other.file == photo.file) {
                return Err(Error::asked(format!(
                    "two [[photo]] have file = \"{}\"; give each its own",
                    photo.file
                )));
            }
        }
        Ok(())
    }

    fn check_surfaces(&self) -> Result<(), Error> {
        let (paper, wall) = (&self.paper, &self.wall);
        within("paper.scale", paper.scale, 0.1, 10.0)?;
        within("paper.margin_modules", paper.margin_modules, 0.0, 8.0)?;
        within("paper.reflectance", paper.reflectance, 0.0, 1.0)?;
        within("paper.ink_reflectance", paper.ink_reflectance, 0.0, 1.0)?;
        within("paper.offset_sd_mm", paper.offset_sd_mm, 0.0, 1_000.0)?;
        within("paper.rotation_sd_deg", paper.rotation_sd_deg, 0.0, 90.0)?;
        within("wall.reflectance", wall.reflectance, 0.0, 1.0)?;
        within("wall.contrast", wall.contrast, 0.0, 1.0)?;
        within("wall.grain_mm", wall.grain_mm, 0.5, 10_000.0)?;
        within("wall.joint_reflectance", wall.joint_reflectance, 0.0, 1.0)?;
        within("wall.floor_y_mm", wall.floor_y_mm, -50_000.0, 50_000.0)?;
        within("wall.floor_reflectance", wall.floor_reflectance, 0.0, 1.0)?;
        for band in &wall.paint {
            within("wall.paint.reflectance", band.reflectance, 0.0, 1.0)?;
            within("wall.paint.from_y_mm", band.from_y_mm, -1e5, 1e5)?;
            within("wall.paint.to_y_mm", band.to_y_mm, band.from_y_mm, 1e5)?;
        }
        for sheet in &self.sheet {
            if !self.bay.marks.sheet.iter().any(|known| known.id == sheet.id) {
                return Err(Error::asked(format!(
                    "[[sheet]] id = {} is not in the bay; give the id of one of its marks",
                    sheet.id
                )));
            }
            for (key, value) in [
                ("dx_mm", sheet.dx_mm),
                ("dy_mm", sheet.dy_mm),
                ("rotation_deg", sheet.rotation_deg),
            ] {
                within(&format!("[[sheet]] {}: {key}", sheet.id), value, -50_000.0, 50_000.0)?;
            }
        }
        Ok(())
    }
}

fn check_lamp(lamp: &MadeLamp) -> Result<(), Error> {
    for (key, value, low, high) in [
        ("centre_x_mm", lamp.centre_x_mm, -50_000.0, 50_000.0),
        ("centre_height_mm", lamp.centre_height_mm, -50_000.0, 50_000.0),
        ("distance_mm", lamp.distance_mm, 500.0, 100_000.0),
        ("inclination_percent", lamp.inclination_percent, -20.0, 20.0),
        ("lateral_percent", lamp.lateral_percent, -20.0, 20.0),
        ("tilt_deg", lamp.tilt_deg, -30.0, 30.0),
        ("sharpness_g", lamp.sharpness_g, 0.01, 3.0),
        ("kick_deg", lamp.kick_deg(), 0.0, 60.0),
        ("step_deg", lamp.step_deg, 0.0, 5.0),
        ("elbow_radius_deg", lamp.elbow_radius_deg, 0.001, 1.0),
        ("bow_deg", lamp.bow_deg, -1.0, 1.0),
        ("intensity_scale", lamp.intensity_scale, 1e-3, 1e3),
        ("dark_cd", lamp.dark_cd, 1e-3, 1e5),
        ("glow_of_dark", lamp.glow_of_dark, 0.0, 10.0),
        ("glow_reach_deg", lamp.glow_reach_deg, 0.05, 5.0),
        ("hot_cd", lamp.hot_cd, 0.0, 1e6),
        ("spread_cd", lamp.spread_cd, 1.0, 1e6),
        ("face_height_mm", lamp.face_height_mm, 0.0, 400.0),
        ("streak_contrast", lamp.streak_contrast, 0.0, 1.0),
        ("band_contrast", lamp.band_contrast, 0.0, 1.0),
        ("streak_deg", lamp.streak_deg, 0.05, 20.0),
    ] {
        within(&format!("{} lamp: {key}", lamp.side), value, low, high)?;
    }
    if lamp.pattern == crate::record::Pattern::Step && lamp.kick_deg() < 1.0 {
        return Err(Error::asked(format!(
            "{} lamp: a step needs kick_deg of 1 or more; 45 is usual",
            lamp.side
        )));
    }
    Ok(())
}

fn check_camera(camera: &Camera) -> Result<(), Error> {
    for (key, value, low, high) in [
        ("position_mm (x)", camera.position_mm[0], -100_000.0, 100_000.0),
        ("position_mm (y)", camera.position_mm[1], -100_000.0, 100_000.0),
        (
            "position_mm (distance from the wall)",
            camera.position_mm[2],
            100.0,
            100_000.0,
        ),
        ("yaw_deg", camera.yaw_deg.unwrap_or(0.0), -85.0, 85.0),
        ("pitch_deg", camera.pitch_deg.unwrap_or(0.0), -85.0, 85.0),
        ("roll_deg", camera.roll_deg, -180.0, 180.0),
        ("focal_35mm", camera.focal_35mm, 8.0, 1_000.0),
        ("k1", camera.k1, -0.1, 0.1),
        ("vignetting", camera.vignetting, 0.0, 1.0),
        ("defocus_px", camera.defocus_px, 0.0, 200.0),
        ("motion_px", camera.motion_px, 0.0, 500.0),
        ("motion_direction_deg", camera.motion_direction_deg, -360.0, 360.0),
        ("veil_percent", camera.veil_percent, 0.0, 100.0),
    ] {
        within(&format!("camera.{key}"), value, low, high)?;
    }
    for value in camera
        .look_at_mm
        .unwrap_or_default()
        .into_iter()
        .chain(camera.principal_offset_px)
    {
        within("camera.look_at_mm or principal_offset_px", value, -100_000.0, 100_000.0)?;
    }
    for (key, size_px) in [("width_px", camera.width_px), ("height_px", camera.height_px)] {
        if !(16..=20_000).contains(&size_px) {
            return Err(Error::asked(format!(
                "camera.{key} = {size_px} cannot be: between 16 and 20000 is expected"
            )));
        }
    }
    if camera.look_at_mm.is_some() && (camera.yaw_deg.is_some() || camera.pitch_deg.is_some()) {
        return Err(Error::asked(
            "camera.look_at_mm and camera.yaw_deg or pitch_deg are both given; drop one of them",
        ));
    }
    Ok(())
}

fn check_exposure(exposure: &Exposure) -> Result<(), Error> {
    within("exposure.p997_of_full_scale", exposure.p997_of_full_scale, 1e-4, 1e4)?;
    within(
        "exposure.full_scale_lx",
        exposure.full_scale_lx.unwrap_or(1.0),
        1e-6,
        1e9,
    )?;
    within("exposure.full_well_electrons", exposure.full_well_electrons, 10.0, 1e9)?;
    within("exposure.read_noise_electrons", exposure.read_noise_electrons, 0.0, 1e6)?;
    within("exposure.tone_map", exposure.tone_map, 0.0, 1.0)?;
    within("exposure.tone_map_reach", exposure.tone_map_reach, 0.001, 1.0)?;
    if let Some((key, value, [low, high])) = exposure.curve.value_within() {
        within(&format!("exposure.curve, {key}"), value, low, high)?;
    }
    let edits = &exposure.edits;
    within("exposure.edits.denoise_codes", edits.denoise_codes, 0.0, 100.0)?;
    within("exposure.edits.equalise", edits.equalise, 0.0, 1.0)?;
    within("exposure.edits.most_contrast", edits.most_contrast, 1.0, 256.0)?;
    within("exposure.edits.sharpen", edits.sharpen, 0.0, 10.0)?;
    if !(1..=64).contains(&edits.tiles) {
        return Err(Error::asked(format!(
            "exposure.edits.tiles = {} cannot be: between 1 and 64 is expected",
            edits.tiles
        )));
    }
    within("exposure.jpeg_quality", f64::from(exposure.jpeg_quality), 1.0, 100.0)?;
    within("exposure.iso", f64::from(exposure.iso), 1.0, 65_535.0)?;
    within("exposure.f_number", exposure.f_number, 0.5, 64.0)?;
    for tint in exposure.tint {
        within("exposure.tint", tint, 0.1, 10.0)?;
    }
    Ok(())
}

fn check_exif(exif: &ExifText) -> Result<(), Error> {
    if !matches!(exif.orientation, 1 | 3 | 6 | 8) {
        return Err(Error::asked(format!(
            "orientation = {} is not drawn; 1, 3, 6 and 8 are",
            exif.orientation
        )));
    }
    if !has_form(&exif.taken, "0000-00-00T00:00:00") {
        return Err(Error::asked(format!(
            "taken = \"{}\" is no time; write it as \"2031-03-04T20:15:00\"",
            exif.taken
        )));
    }
    if !has_form(&exif.offset.replace('-', "+"), "+00:00") {
        return Err(Error::asked(format!(
            "exif.offset = \"{}\" is none; write it as \"+01:00\"",
            exif.offset
        )));
    }
    for text in [&exif.make, &exif.model] {
        if !text.is_ascii() || text.contains('\0') {
            return Err(Error::asked(format!(
                "exif.make or exif.model = \"{text}\": EXIF takes ASCII text only"
            )));
        }
    }
    Ok(())
}

/// True where `text` has a digit wherever `form` has one, and is the same elsewhere.
fn has_form(text: &str, form: &str) -> bool {
    text.len() == form.len()
        && text.bytes().zip(form.bytes()).all(|(is, wanted)| {
            if wanted == b'0' {
                is.is_ascii_digit()
            } else {
                is == wanted
            }
        })
}

fn set<T>(value: &mut T, by: Option<T>) {
    if let Some(by) = by {
        *value = by;
    }
}

fn within(key: &str, value: f64, low: f64, high: f64) -> Result<(), Error> {
    if value.is_finite() && (low..=high).contains(&value) {
        return Ok(());
    }
    Err(Error::asked(format!(
        "{key} = {value} cannot be: between {low} and {high} is expected"
    )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::parse_toml;

    fn parse(text: &str) -> Result<Scene, Error> {
        let scene: Scene = parse_toml(Path::new("scene.toml"), text)?;
        scene.check().map(|()| scene)
    }

    #[test]
    fn a_scene_of_one_line_is_the_default_one() {
        let scene = parse("schema = 1\n").unwrap();
        let [read, built] = [&scene, &Scene::default()].map(|scene| serde_json::to_string(scene).unwrap());
        assert_eq!(read, built);
        assert_eq!(scene.bay.marks.sheet.len(), 6);
    }

    #[test]
    fn slips_are_named_with_their_mend() {
        for (text, part) in [
            ("", "schema = 1"),
            ("schema = 2", "schema = 2"),
            ("schema = 1\n[camera]\nfocal_mm = 3.0", "focal_mm"),
            ("schema = 1\n[[lamp]]\nsharpness_g = 2.9", "sharpness_g"),
            ("schema = 1\n[[lamp]]\ndistance_mm = nan", "distance_mm"),
            ("schema = 1\n[[lamp]]\n[[lamp]]", "two [[lamp]]"),
            ("schema = 1\n[[sheet]]\nid = 99", "99"),
            ("schema = 1\n[exif]\norientation = 2", "orientation"),
            ("schema = 1\n[exif]\ntaken = \"4 March\"", "4 March"),
            (
                "schema = 1\n[camera]\nyaw_deg = 1.0\nlook_at_mm = [0.0, 0.0]",
                "drop one",
            ),
            ("schema = 1\n[[photo]]\nfile = \"../a.jpg\"", "../a.jpg"),
            (
                "schema = 1\n[[photo]]\nfile = \"a.jpg\"\n[[photo]]\nfile = \"a.jpg\"",
                "each its own",
            ),
            (
                "schema = 1\n[[photo]]\nfile = \"a.jpg\"\ndefocus_px = -1.0",
                "a.jpg: camera.defocus_px",
            ),
        ] {
            let message = parse(text).unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }
}
