//! From a job's shots to their aims: one photo after the other through the modules above.

use super::{Aim, Measured, Outcome, Share, ShotReading, Term, Verdict};
use crate::cutoff::{self, CutOff};
use crate::photo::{Capture, Photo};
use crate::record::{Bay, HeightsFrom, Job, Lamp, Shot, ToleranceTable};
use crate::refusal::{Reason, Refusal};
use crate::wall::{self, View};
use std::path::Path;

/// A lamp nearer than this shows a pattern that has not formed yet, mm (common practice, no source: aiming screens
/// stand at 25 ft or 10 m).
const NEAR_MM: f64 = 4_900.0;
/// Name of the range control's position that the `setting` band judges.
const POSITION_ZERO: &str = "0";

/// Everything that a job's readings need, read and checked.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// The job.
    pub job: &'a Job,
    /// The bay.
    pub bay: &'a Bay,
    /// The tolerance table, where the job names one.
    pub table: Option<&'a ToleranceTable>,
    /// Folder that the job's photo paths are relative to.
    pub folder: &'a Path,
    /// Whether to keep a picture of each photo, square to the wall.
    pub pictures: bool,
}

/// Reads one shot of a job. What cannot be read is a refusal within the reading, never an error.
#[must_use]
pub fn measure_shot(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp) -> ShotReading {
    let mut reading = ShotReading {
        shot: shot.clone(),
        lamp: *lamp,
        sha256: None,
        capture: Capture::default(),
        result: Err(Refusal::new(Reason::UnreadablePhoto, "not read yet")),
        picture: None,
    };
    reading.result = measure_into(setting, shot, lamp, &mut reading);
    reading
}

fn measure_into(
    setting: &Setting<'_>,
    shot: &Shot,
    lamp: &Lamp,
    reading: &mut ShotReading,
) -> Result<Measured, Refusal> {
    let photo = Photo::read(&setting.folder.join(&shot.photo))?;
    reading.sha256 = Some(photo.sha256.clone());
    reading.capture = photo.capture.clone();
    let wanted: Vec<u32> = setting.bay.marks.sheet.iter().map(|sheet| sheet.id).collect();
    let found = wall::find_in(&photo, &wanted);
    let size_px = (photo.luminance.width_px, photo.luminance.height_px);
    let view = View::fit(&found, setting.bay, size_px, photo.capture.focal_length_35mm_mm).map_err(|refusal| {
        exposure_refusal(&photo)
            .filter(|_| refusal.reason == Reason::MarksMissing)
            .unwrap_or(refusal)
    })?;
    if setting.pictures {
        reading.picture = Some(wall::rectify(&photo, &view, lamp));
    }
    let mut warnings = view.warnings.clone();
    let off = match &shot.lamp_off {
        None => None,
        Some(path) => {
            let off = Photo::read(&setting.folder.join(path))?;
            let factor = exposure_ratio(&photo.capture, &off.capture);
            if factor.is_none() {
                warnings.push(
                    "the lamp-off photo's exposure is unknown; it was taken to be that of the lit photo".to_owned(),
                );
            }
            Some((off, factor.unwrap_or(1.0)))
        }
    };
    let cutoff = cutoff::read(
        &photo,
        off.as_ref().map(|(p, f)| (p, *f)),
        &view,
        lamp,
        setting.job.traffic,
        setting.job.pattern,
    )?;
    warnings.extend(cutoff.warnings.iter().cloned());
    if lamp.distance_mm < NEAR_MM {
        warnings.push(
            "the lamp is nearer than 5 m to the wall: its pattern may not have formed; 7.5 to 10 m is better"
                .to_owned(),
        );
    }
    if setting.bay.heights_from == HeightsFrom::LevelLine && lamp.mounting_height_mm.is_none() {
        warnings.push(
            "heights are from a level line: the tolerance row and the reach take the lamp's centre height as its height above the ground; \
             give mounting_height_mm where that is not so"
                .to_owned(),
        );
    }
    let aim = aim(cutoff, lamp, setting.bay, &view);
    let verdict = setting.table.and_then(|table| {
        let is_setting = shot.position.as_deref().is_none_or(|p| p.trim() == POSITION_ZERO);
        let band = table.band(
            is_setting,
            lamp.height_above_ground_mm(),
            setting.job.tolerance_choice.as_deref(),
        )?;
        Some(Verdict {
            table: table.name.clone(),
            setting: is_setting,
            band,
            outcome: Outcome::of(aim.inclination_percent, aim.u95_percent(), band),
        })
    });
    Ok(Measured { aim, verdict, warnings })
}

/// A photo so bright or so dark that its marks cannot be read: the exposure is then the thing to mend.
fn exposure_refusal(photo: &Photo) -> Option<Refusal> {
    const CLIPPED_SHARE: f64 = 0.3;
    const DARK_LIGHT: f32 = 0.02;
    let total = photo.clipped.len().max(1) as f64;
    let clipped = photo.clipped.iter().filter(|&&c| c).count() as f64 / total;
    let lit = photo.luminance.values.iter().filter(|&&v| v > DARK_LIGHT).count() as f64 / total;
    if clipped > CLIPPED_SHARE {
        return Some(Refusal::new(
            Reason::Overexposed,
            format!(
                "{:.0} % of the photo is at full scale and marks are lost in it; turn the exposure down by 2 EV and take it again",
                100.0 * clipped
            ),
        ));
    }
    (lit < 0.001).then(|| {
        Refusal::new(
            Reason::Underexposed,
            "the whole photo is nearly black and no marks can be read in it; is the lamp on? Else turn the exposure up by 2 EV",
        )
    })
}

/// How much longer `lit` was exposed than `off`: time × ISO / f-number². `None` where EXIF does not tell for both.
fn exposure_ratio(lit: &Capture, off: &Capture) -> Option<f64> {
    let amount = |c: &Capture| Some(c.exposure_s? * f64::from(c.iso?) / c.f_number?.powi(2));
    let ratio = amount(lit)? / amount(off)?;
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

/// The inclination of a cut-off for a lamp, with its budget.
///
/// Inclination (wording of ISO 10604): the tangent, in per cent, of the cut-off's downward angle against the vehicle's
/// reference plane; 100 (h − y)/D, plus the standing area's grade where heights are from a level line.
#[must_use]
pub fn aim(cutoff: CutOff, lamp: &Lamp, bay: &Bay, view: &View) -> Aim {
    let place_mm = [cutoff.x_mm, cutoff.y_mm];
    let marks_sd = view.height_sd(place_mm);
    let (photo_mm, tape_mm) = marks_sd.map_or((f64::INFINITY, f64::INFINITY), |sd| (sd.photo_mm, sd.tape_mm));
    let per_mm = 100.0 / lamp.distance_mm;
    let on_wall_percent = per_mm * (lamp.centre_height_mm - cutoff.y_mm);
    let grade_percent = if bay.heights_from == HeightsFrom::LevelLine {
        bay.grade_percent
    } else {
        0.0
    };
    let inclination_percent = on_wall_percent + grade_percent;
    let term = |name, share, sd_percent| Term {
        name,
        share,
        sd_percent,
    };
    let budget = vec![
        term("wall texture and noise", Share::Photo, per_mm * cutoff.scatter_sd_mm),
        term("choice of the edge's shape", Share::Photo, per_mm * cutoff.shape_sd_mm),
        term("edge against its model", Share::Job, per_mm * cutoff.model_sd_mm),
        term("stray light", Share::Photo, per_mm * cutoff.stray_light_sd_mm),
        term("corners of the marks in the photo", Share::Photo, per_mm * photo_mm),
        term("places of the marks on the wall", Share::Job, per_mm * tape_mm),
        term("height of the lamp", Share::Job, per_mm * lamp.centre_height_sd_mm),
        term(
            "distance to the wall",
            Share::Job,
            on_wall_percent.abs() * lamp.distance_sd_mm / lamp.distance_mm,
        ),
        term("grade or flatness of the floor", Share::Job, bay.grade_sd_percent),
    ];
    let reach_m =
        (inclination_percent > 0.0).then(|| lamp.height_above_ground_mm() / 1000.0 / (inclination_percent / 100.0));
    Aim {
        inclination_percent,
        budget,
        drop_mm: inclination_percent / 100.0 * lamp.distance_mm,
        angle_deg: (inclination_percent / 100.0).atan().to_degrees(),
        reach_m,
        elbow_lateral_percent: cutoff.elbow.map(|elbow| per_mm * (elbow.x_mm - lamp.centre_x_mm)),
        cutoff,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exposure_ratio_is_time_times_speed_over_aperture_squared() {
        let capture = |exposure_s, iso, f_number| Capture {
            exposure_s: Some(exposure_s),
            iso: Some(iso),
            f_number: Some(f_number),
            ..Capture::default()
        };
        let ratio = exposure_ratio(&capture(0.1, 200, 2.0), &capture(0.05, 100, 4.0)).unwrap();
        assert!((ratio - 16.0).abs() < 1e-9, "{ratio}");
        assert_eq!(exposure_ratio(&capture(0.1, 200, 2.0), &Capture::default()), None);
    }
}
