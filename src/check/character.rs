//! What a made scene is like, in a few figures.

use super::case::Case;
use crate::record::{Pattern, Side, Traffic};
use crate::render::{EdgeKind, WallKind};
use serde::Serialize;

/// What a scene is like, to find what hard ones have in common.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Character {
    /// From the lamp to the wall, mm.
    pub distance_mm: f64,
    /// Height of the lamp's face, mm, and whether the job gives it.
    pub face_height_mm: f64,
    /// As above.
    pub face_stated: bool,
    /// Which lamp.
    pub side: Side,
    /// Side of the road.
    pub traffic: Traffic,
    /// Shape of the cut-off.
    pub pattern: Pattern,
    /// Whether the job states that shape.
    pub pattern_stated: bool,
    /// How its light fades.
    pub edge: EdgeKind,
    /// Sharpness asked for.
    pub sharpness_g: f64,
    /// The lamp's turn, degrees.
    pub tilt_deg: f64,
    /// The flat part's bow, degrees.
    pub bow_deg: f64,
    /// The wall.
    pub wall: WallKind,
    /// Ambient light over the dark side's.
    pub ambient_of_dark_side: f64,
    /// The lens's veil, per cent.
    pub veil_percent: f64,
    /// Exposure.
    pub p997_of_full_scale: f64,
    /// JPEG quality.
    pub jpeg_quality: u8,
    /// ISO speed.
    pub iso: u16,
    /// Defocus, px.
    pub defocus_px: f64,
    /// Motion, px.
    pub motion_px: f64,
    /// Width of the picture, px.
    pub width_px: usize,
    /// Distortion.
    pub k1: f64,
    /// Whether there is a photo with the lamp off.
    pub lamp_off: bool,
    /// Whether there is a photo of the wall by the room's light.
    pub wall_photo: bool,
}

impl Character {
    pub(super) fn of(case: &Case) -> Self {
        let (scene, lamp) = (&case.scene, &case.scene.lamp[0]);
        Self {
            distance_mm: lamp.distance_mm,
            face_height_mm: lamp.face_height_mm,
            face_stated: case.job.lamp[0].face_height_mm.is_some(),
            side: lamp.side,
            traffic: lamp.traffic,
            pattern: lamp.pattern,
            pattern_stated: case.job.pattern.is_some(),
            edge: lamp.edge,
            sharpness_g: lamp.sharpness_g,
            tilt_deg: lamp.tilt_deg,
            bow_deg: lamp.bow_deg,
            wall: scene.wall.kind,
            ambient_of_dark_side: scene.ambient.of_dark_side,
            veil_percent: scene.camera.veil_percent,
            p997_of_full_scale: scene.exposure.p997_of_full_scale,
            jpeg_quality: scene.exposure.jpeg_quality,
            iso: scene.exposure.iso,
            defocus_px: scene.camera.defocus_px,
            motion_px: scene.camera.motion_px,
            width_px: scene.camera.width_px,
            k1: scene.camera.k1,
            lamp_off: case.job.shot.iter().any(|shot| shot.lamp_off.is_some()),
            wall_photo: !case.job.wall_photos.is_empty(),
        }
    }
}
