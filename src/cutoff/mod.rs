//! The edge of the light: where it is, how sharp, how level, and whether it can be read at all.

mod across;
#[cfg(test)]
mod against_outside;
mod black;
mod by_hand;
mod edge;
mod elbow;
mod face;
mod flat;
mod kink;
mod lamp_off;
mod left_open;
mod line;
mod paint;
mod pooled;
mod quality;
mod scan;
mod together;
mod uneven;

pub use face::Climb;
pub(crate) use face::{NEAR_MM, unknown_face_sd_percent};
pub(crate) use lamp_off::{OffLight, off_light};
pub(crate) use pooled::{STRAY_SHARE_LEFT, STRAY_SHARE_USUAL};

use crate::photo::{Photo, Response};
use crate::record::{Lamp, Pattern, Traffic};
use crate::refusal::Refusal;
use crate::wall::{View, WallPhoto};
use crate::warning::Warning;
use kink::Kink;
use left_open::Seen;
use line::FlatPart;
use pooled::{Pooled, StrayLight};
pub(crate) use quality::APPROVED_SHARPNESS;
use quality::overexposed;
use scan::{LampPlace, Scans, steps};
use serde::{Deserialize, Serialize};
pub(crate) use together::{EdgeProfile, SharedScatter, read_together};

/// What is told of an edge besides the photo.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Told {
    /// Shape beside the flat part; `None` lets the photo decide.
    pub pattern: Option<Pattern>,
    /// About where on the wall somebody who looked at the photo saw the cut-off, mm.
    pub near_mm: Option<f64>,
}

/// The elbow between the flat part of a cut-off and its other side.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct Elbow {
    /// Where the elbow lies, mm on the wall (bay's frame).
    pub x_mm: f64,
    /// One standard deviation of that, mm.
    pub x_sd_mm: f64,
    /// Angle of the edge beyond the elbow against the flat part, degrees; 0 for a step.
    pub kick_deg: f64,
}

/// The cut-off's height on one vertical scan.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct ScanPoint {
    /// Angle of the scan from the lamp's V-V, degrees, positive towards the flat side.
    pub angle_deg: f64,
    /// Place of the scan on the wall, mm.
    pub x_mm: f64,
    /// Height of the inflection, mm.
    pub y_mm: f64,
    /// Whether the scan was used in the reading; one that a mark or a pipe spoils is not.
    pub used: bool,
}

/// A cut-off as read from one photo, in the bay's wall frame.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct CutOff {
    /// Place of the reading scan on the wall, 2.5° from V-V on the flat side, mm; from the elbow's where that lies plainly aside.
    pub x_mm: f64,
    /// Height of the inflection of log10 E on that scan, mm.
    pub y_mm: f64,
    /// One standard deviation of that height from texture, noise and the scans' scatter, mm.
    pub scatter_sd_mm: f64,
    /// One standard deviation of that height from which shape of the edge fits this photo best, mm.
    pub shape_sd_mm: f64,
    /// One standard deviation of that height from no real edge having quite the shape of the model, mm; the same in all
    /// photos of a lamp.
    pub model_sd_mm: f64,
    /// One standard deviation of that height from light that is not the lamp's (ambient, veil), mm.
    pub stray_light_sd_mm: f64,
    /// How much higher it lies, since the lamp is no point, than its aim; `None` where the job gives no face.
    pub climb: Option<Climb>,
    /// What one standard deviation of which V-V is meant does to that height, mm, signed: the lamp's own, from which the elbow shows
    /// the pattern to lie aside, or the elbow's. 0 where both are the same.
    pub aside_sd_mm: f64,
    /// What one standard deviation of each source of the photo's response does to that height, mm, signed: the same sources in the
    /// same order in all photos.
    pub tone_mm: Vec<f64>,
    /// Whether that is the camera's own, alike in all photos that it took.
    pub tone_alike: bool,
    /// Shape beside the flat part.
    pub pattern: Pattern,
    /// Sharpness G: max over β of log10 E(β) − log10 E(β + 0.1°) on the reading scan (UN R112).
    pub sharpness_g: f64,
    /// Largest departure of the inflections at 1.5° and 3.5° from that at 2.5°, the flat part's tilt taken out, degrees
    /// (UN R112 linearity).
    pub linearity_deg: f64,
    /// Angle of the flat part against the wall's horizontal, degrees, positive when the right end is higher.
    pub tilt_deg: f64,
    /// The elbow; `None` for a flat pattern.
    pub elbow: Option<Elbow>,
    /// Height where the light crosses half of the bright level on the reading scan, mm; for comparison only.
    pub threshold_y_mm: Option<f64>,
    /// Height of the plain inflection (no edge model) on the reading scan, mm; for comparison only.
    pub plain_y_mm: Option<f64>,
    /// What the user should know about the edge.
    pub warnings: Vec<Warning>,
    /// The single scans that the flat line was fitted to.
    pub scans: Vec<ScanPoint>,
    /// Light across the edge, for a reading together with other photos of the lamp.
    #[serde(skip)]
    pub(crate) profile: Option<EdgeProfile>,
    /// What of `scatter_sd_mm` and beside it is shared with the photos that this one was read together with.
    pub(crate) shared: Option<SharedScatter>,
}

/// The scans of UN R112's cut-off quality annex, degrees from V-V on the flat side: the middle one is the reading.
pub(crate) const READING_SCAN_DEG: f64 = 2.5;
const LINEARITY_SCANS_DEG: [f64; 2] = [1.5, 3.5];
/// Scans run from here to there, and are pooled in strips of this width, degrees (our choice, no source): UN R112's scans
/// for linearity with half a degree beside them.
const FLAT_FROM_DEG: f64 = 1.0;
const FLAT_TO_DEG: f64 = 4.0;
const STRIP_DEG: f64 = 0.25;
/// Spacing of columns, degrees: about two pixels of an ordinary photo.
const COLUMN_DEG: f64 = 0.025;

/// Reads the cut-off of `lamp` from a photo whose view of the wall is known, and whose response is laid on its light already.
///
/// `lamp_off` is the same scene with the lamp off and the factor that brings its light to this photo's exposure.
/// `told` is what the job says of the edge. `walls` show the wall by the room's light, lamps off.
///
/// # Errors
/// A [`Refusal`] that says what was seen and how to mend the photo.
pub fn read(
    (photo, response): (&Photo, &Response),
    lamp_off: Option<(&Photo, f64)>,
    view: &View,
    lamp: &Lamp,
    traffic: Traffic,
    told: Told,
    walls: &[&WallPhoto],
) -> Result<CutOff, Refusal> {
    let pattern = told.pattern;
    let ambient_known = lamp_off.is_some();
    let place = LampPlace::new(lamp, traffic.flat_side_sign());
    let by_job = Scans::new(photo, view, place, lamp_off, walls);
    let strips = by_job.strips();
    let painted = paint::find(&by_job, &strips);
    let by_job = Scans {
        paint: (&painted, 1.0),
        ..by_job
    };
    let kink = kink::find(&by_job.less_paint(&strips));
    let aside_deg = kink.map_or(0.0, Kink::aside_deg);
    let place = place.aside(aside_deg);
    let scans = if aside_deg == 0.0 {
        by_job
    } else {
        Scans {
            paint: by_job.paint,
            ..Scans::new(photo, view, place, lamp_off, walls)
        }
    };
    let mut columns = scans.columns(&steps(FLAT_FROM_DEG, FLAT_TO_DEG, COLUMN_DEG));
    quality::check_frame(&columns, view, aside_deg)?;
    let clipped = quality::clipped_share(&columns);
    if clipped > quality::CLIPPED_EVERYWHERE {
        return Err(overexposed(clipped));
    }
    // No edge in a photo that is clipped in good part: the exposure hides it.
    let near_deg = told.near_mm.map(|y_mm| place.beta_at_deg(y_mm));
    let rough = match near_deg {
        Some(near_deg) => by_hand::rough_line(&columns, scans.window, near_deg),
        None => flat::rough_line(&columns, scans.window),
    };
    let rough = rough.map_err(|refusal| {
        if clipped > quality::CLIPPED_IN_PART {
            overexposed(clipped)
        } else {
            refusal
        }
    })?;
    let mut pooled = Pooled::of(&columns, scans.window, rough, place.face)?;
    let chosen = match near_deg {
        Some(near_deg) => Some(by_hand::choose(
            &mut columns,
            scans.window,
            &mut pooled,
            place,
            near_deg,
        )?),
        None => None,
    };
    let best = pooled.edges.best();
    let blur_deg = quality::blur_deg(&scans, best.inflection_deg);
    quality::check_edge(best, &pooled.samples, blur_deg, ambient_known)?;
    quality::check_second_edge(&columns, scans.window, pooled.slope, best)?;
    // The scans' angles run towards the flat side; a tilt is counted along x.
    let tilt_deg = place.flat_sign * pooled.slope.atan().to_degrees();
    quality::check_level(tilt_deg)?;
    let flat = FlatPart {
        reading_deg: pooled.edges.mean(|e| e.inflection_deg),
        slope: pooled.slope,
    };
    let mm_per_deg = place.mm_per_deg_at(flat.reading_deg);
    // What lies beside the edge, and the edge itself: neither waits for the other.
    let ((other_lamp, found), (mut cutoff, stray)) = rayon::join(
        || {
            let other_lamp = across::check(&scans, flat, chosen.is_some());
            (
                other_lamp,
                elbow::find(&scans, flat, pattern, kink.map(|kink| kink.seen_from(aside_deg))),
            )
        },
        || {
            let stray = pooled.stray_light(ambient_known, black::lift(&scans, flat.reading_deg));
            let mut cutoff = figures(&pooled, place, flat, tilt_deg, stray);
            cutoff.tone_mm = pooled.tone_deg(response).map(|deg| deg * mm_per_deg).to_vec();
            (cutoff, stray)
        },
    );
    let other_lamp = other_lamp?;
    cutoff.tone_alike = response.of_camera;
    let by_bands_deg = uneven::sd_deg(&columns, scans.window, pooled.slope, best);
    cutoff.model_sd_mm = cutoff
        .model_sd_mm
        .hypot(by_bands_deg * place.mm_per_deg_at(flat.reading_deg));
    let seen = Seen { flat, kink, aside_deg };
    cutoff.aside_sd_mm = left_open::aside_sd_mm(&by_job, &scans, seen, other_lamp.as_ref());
    let near = left_open::near(&painted, place, flat);
    cutoff.scatter_sd_mm = cutoff.scatter_sd_mm.hypot(left_open::paint_sd_mm(&scans, &near, flat));
    cutoff.scatter_sd_mm = cutoff
        .scatter_sd_mm
        .hypot(chosen.as_ref().map_or(0.0, |chosen| chosen.by_others_deg) * mm_per_deg)
        .hypot(other_lamp_sd_deg(&pooled, other_lamp.as_ref(), chosen.is_some()) * mm_per_deg);
    (cutoff.pattern, cutoff.elbow) = (found.pattern, found.elbow);
    let tilt_sd_deg = pooled.tilt_sd_deg(by_bands_deg);
    let mut warnings: Vec<Warning> = quality::shape_warnings(&cutoff, tilt_sd_deg, stray.sharpness_sd_g).collect();
    warnings.extend(other_lamp);
    warnings.extend(chosen.map(by_hand::Chosen::warning));
    warnings.extend((!near.is_empty()).then(|| Warning::PaintNear {
        heights_mm: near.iter().map(|one| one.y_mm).collect(),
    }));
    warnings.extend(quality::light_warnings(
        best,
        blur_deg,
        ambient_known,
        stray.step_decades,
    ));
    warnings.extend(
        found
            .odd
            .map(|odd| odd.warning(traffic, pattern.unwrap_or(found.pattern))),
    );
    cutoff.warnings = warnings;
    Ok(cutoff)
}

/// One standard deviation of the inflection for what the light across the wall tells of another lamp, degrees. `by_hand`: somebody
/// pointed at the edge.
fn other_lamp_sd_deg(pooled: &Pooled, told: Option<&Warning>, by_hand: bool) -> f64 {
    match told {
        None => 0.0,
        Some(Warning::Jumps(jump)) if by_hand => pooled.other_lamp_sd_deg(jump.by_deg),
        Some(_) => pooled.mixed_sd_deg(),
    }
}

/// The figures of a pooled edge, in the bay's wall frame, as of a flat pattern.
fn figures(pooled: &Pooled, lamp: LampPlace, flat: FlatPart, tilt_deg: f64, stray: StrayLight) -> CutOff {
    let edges = &pooled.edges;
    let inflection_deg = flat.reading_deg;
    let mm_per_deg = lamp.mm_per_deg_at(inflection_deg);
    let (scatter_sd_deg, shape_sd_deg) = (pooled.scatter_sd_deg(), edges.spread());
    let own_sd_deg = scatter_sd_deg.hypot(shape_sd_deg);
    let y_at_mm = |beta_deg: f64| lamp.y_at_mm(beta_deg);
    CutOff {
        x_mm: lamp.x_at_mm(READING_SCAN_DEG),
        y_mm: y_at_mm(inflection_deg),
        scatter_sd_mm: scatter_sd_deg * mm_per_deg,
        shape_sd_mm: shape_sd_deg * mm_per_deg,
        model_sd_mm: pooled.model_sd_deg() * mm_per_deg,
        aside_sd_mm: 0.0,
        stray_light_sd_mm: stray.sd_deg * mm_per_deg,
        climb: Climb::of(edges.weighted(), mm_per_deg),
        tone_mm: Vec::new(),
        tone_alike: false,
        pattern: Pattern::Flat,
        sharpness_g: edges.mean(|e| e.sharpness_g),
        linearity_deg: flat::linearity_deg(&pooled.strips),
        tilt_deg,
        elbow: None,
        threshold_y_mm: pooled.threshold_deg().map(y_at_mm),
        plain_y_mm: edge::plain_inflection(&pooled.samples, inflection_deg, 0.1).map(y_at_mm),
        warnings: Vec::new(),
        scans: pooled
            .strips
            .iter()
            .map(|s| ScanPoint {
                angle_deg: s.angle_deg,
                x_mm: lamp.x_at_mm(s.angle_deg),
                y_mm: y_at_mm(s.beta_deg),
                used: s.used,
            })
            .collect(),
        profile: Some(EdgeProfile::of(
            &pooled.samples,
            edges.each(),
            inflection_deg,
            own_sd_deg,
        )),
        shared: None,
    }
}

/// The median; NaN of no values.
fn median(values: &mut [f64]) -> f64 {
    crate::fit::median(values).unwrap_or(f64::NAN)
}
