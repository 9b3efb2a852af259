//! From a shot's photo to the lamp's aim, through the modules above.

use super::bracketed::Bracketed;
use super::off_photos::OffPhotos;
use super::plausible::unusual_aim;
use super::wall_photos::WallPhotos;
use super::{Aim, COVERAGE_FACTOR_95, Common, Means, Measured, OtherPhoto, Source, Term, Use, Verdict};
use crate::cutoff::{self, CutOff, NEAR_MM, OffLight, Told, unknown_face_sd_percent};
use crate::language::{Said, said};
use crate::photo::{Photo, Processing, exposure_ratio};
use crate::record::{Bay, HeightsFrom, Job, Lamp, Shot, ToleranceTable, is_setting};
use crate::refusal::{Reason, Refusal};
use crate::wall::{self, FoundMark, View, WallPhoto};
use crate::warning::{PhotoOfShot, Warning};
use std::path::Path;

/// Where a lamp stands beside the centre line, and where the sheets hang beside it, one standard deviation together, mm: taped as well
/// as heights are.
const PLACE_SD_MM: f64 = 1.5 * Lamp::HEIGHT_SD_MM;

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

/// More of the lit photo's pattern of light than this in the lamp-off photo is a lamp's. A twentieth, taken away as if it
/// were the room's, is as much as all the light above a cut-off; a room's own light, uneven by half and as bright as that,
/// makes 0.02 (our choice, no source).
const MOST_OFF_PATTERN: f64 = 0.05;
/// The same, of the lamp's pattern beside a room's light that is uneven: its edge tells them apart (our choice, no source). At a
/// thirtieth more than the light above a cut-off is taken away.
const MOST_OFF_LAMP: f64 = 0.03;
/// From this share on the lamp is surely not off: a tripod nudged by 4 mm before a wall that the room lights as bright as above
/// the cut-off makes 0.013 (measured on made photos; our choice, no source).
const LEAST_SURE_OFF_LAMP: f64 = 0.016;
/// Less of it than this moves no figure: a fortieth of the light above a cut-off (our choice, no source).
const LEAST_OFF_LAMP: f64 = 0.0005;
/// With more than this of the lit photo's light at its brightest in the lamp-off photo, most of what is bright is not the
/// lamp's (our choice, no source).
const MOST_OFF_BRIGHT: f64 = 0.5;
/// With more of it than this at full scale a lamp-off photo does not tell the room's light (our choice, no source).
const MOST_OFF_CLIPPED: f64 = 0.05;
/// What coding a photo anew does to the place of an edge, one standard deviation, px (measured on made photos at 1600 px and 1280 px and a
/// quality of 70: 0.2 px).
const RECODED_SD_PX: f64 = 0.25;
/// A tripod that was nudged shifts the picture by less than this share of a mark's side; further off, what sheets hide lies
/// elsewhere in the lamp-off photo (our choice, no source).
const MOST_NUDGE_OF_MARK: f64 = 0.5;

/// The photo with the lamp off that a shot names.
pub(super) struct LampOff<'a> {
    path: &'a Path,
    photo: Photo,
    /// Light of the shot's photo, merged with its brackets, over that of this one at the same place; `None` where the
    /// exposures are not in the files.
    factor: Option<f64>,
}

impl<'a> LampOff<'a> {
    /// Reads it; `None` where the shot names none.
    ///
    /// # Errors
    /// A [`Refusal`] that names it where it cannot be read, or shows another view than the shot's photo.
    pub(super) fn read(
        setting: &Setting<'_>,
        shot: &'a Shot,
        bracketed: &Bracketed,
        photos: &OffPhotos,
    ) -> Result<Option<Self>, Refusal> {
        let Some(path) = &shot.lamp_off else {
            return Ok(None);
        };
        let (photo, marks) = photos.take(setting, path)?;
        // The same camera took it.
        let photo = photo.bent_back(&bracketed.tone.response);
        let factor = exposure_ratio(&bracketed.photo.capture, &photo.capture);
        let off = Self { path, photo, factor };
        off.check_view(bracketed, &marks)?;
        Ok(Some(off))
    }

    /// The marks, where the room lights them, must lie where the lit photo has them.
    fn check_view(&self, bracketed: &Bracketed, marks: &[FoundMark]) -> Result<(), Refusal> {
        let (size_px, off_size_px) = (bracketed.photo.size_px(), self.photo.size_px());
        let elsewhere = if size_px != off_size_px {
            let ([width, height], [off_width, off_height]) = (size_px, off_size_px);
            Said::of(|language| {
                said!(
                    language;
                    "is {off_width} x {off_height} px, and this one {width} x {height} px",
                    "hat {off_width} x {off_height} px, und dieses {width} x {height} px"
                )
            })
        } else {
            let sides_px = bracketed.found.iter().map(FoundMark::side_px);
            let most_px = MOST_NUDGE_OF_MARK * sides_px.sum::<f64>() / bracketed.found.len().max(1) as f64;
            match wall::align(&bracketed.found, marks).filter(|aligned| aligned.moved_px > most_px) {
                None => return Ok(()),
                Some(aligned) => Said::of(|language| {
                    said!(
                        language;
                        "shows the sheets {:.0} px from where this one has them",
                        "zeigt die Messblätter {:.0} px neben der Stelle, an der dieses sie hat";
                        aligned.moved_px
                    )
                }),
            }
        };
        Err(Refusal::new(Reason::MarksDisagree, |language| {
            said!(
                language;
                "the lamp-off photo {} {}: it is not of the same view; take one from the same place with the lamp off, or take \
                 lamp_off out of this shot",
                "das Foto ohne Licht {} {}: es zeigt nicht dieselbe Ansicht; eines vom selben Ort ohne Licht aufnehmen oder \
                 lamp_off aus dieser Aufnahme nehmen";
                self.path.display(),
                elsewhere.within(language)
            )
        }))
    }

    /// The lamp must be off in it: what light it has must not follow the lit photo's. What it has, where enough is seen of it.
    fn check_light(
        &self,
        setting: &Setting<'_>,
        lamp: &Lamp,
        bracketed: &Bracketed,
        view: &View,
    ) -> Result<Option<OffLight>, Refusal> {
        let off = (&self.photo, self.factor_to(bracketed));
        let Some(light) = cutoff::off_light(&bracketed.photo, off, view, lamp, setting.job.traffic) else {
            return Ok(None);
        };
        let path = self.path.display();
        let of_lamp = if light.surely_lamp { light.of_lamp } else { 0.0 };
        // Clipped light is more than it says, so that a lit lamp is none the less one.
        let (reason, message) = if light.of_pattern > MOST_OFF_PATTERN || of_lamp > MOST_OFF_LAMP {
            let message = Said::of(|language| {
                said!(
                    language;
                    "the lamp-off photo {path} is not dark: {:.0} % of the lamp's pattern of light is in it too, and would be taken away \
                     with the room's. Was the lamp lit in it, or are the two photos exchanged? Take one with the lamp off, or take \
                     lamp_off out of this shot",
                    "das Foto ohne Licht {path} ist nicht dunkel: {:.0} % des Lichtbilds des Scheinwerfers sind auch darin und \
                     würden mit dem Raumlicht abgezogen. Brannte der Scheinwerfer darin, oder sind die beiden Fotos vertauscht? \
                     Eines ohne Licht aufnehmen oder lamp_off aus dieser Aufnahme nehmen";
                    100.0 * light.of_pattern.max(of_lamp).min(1.0)
                )
            });
            (Reason::NoCutoff, message)
        } else if light.clipped > MOST_OFF_CLIPPED {
            let message = Said::of(|language| {
                said!(
                    language;
                    "the lamp-off photo {path} is at full scale over {:.0} % of the place where the cut-off is read, so that its light \
                     is not known; is the lamp off in it? If so, turn its exposure down",
                    "das Foto ohne Licht {path} ist an {:.0} % der Stelle, an der die Hell-Dunkel-Grenze gelesen wird, am \
                     Anschlag, deshalb ist sein Licht nicht bekannt; ist der Scheinwerfer darin aus? Wenn ja, seine Belichtung \
                     verringern";
                    100.0 * light.clipped
                )
            });
            (Reason::Overexposed, message)
        } else if light.of_bright > MOST_OFF_BRIGHT {
            let message = Said::of(|language| {
                said!(
                    language;
                    "the lamp-off photo {path} has {:.0} % of the light that this one has at its brightest: most of that is not the lamp's. \
                     Darken the room, and take both again",
                    "das Foto ohne Licht {path} hat {:.0} % des Lichts, das dieses an seiner hellsten Stelle hat: das meiste \
                     davon stammt nicht vom Scheinwerfer. Den Raum abdunkeln und beide neu aufnehmen";
                    100.0 * light.of_bright.min(1.0)
                )
            });
            (Reason::NoCutoff, message)
        } else {
            return Ok(Some(light));
        };
        Err(Refusal { reason, message })
    }

    /// What brings its light to that of the photo that is read.
    fn factor_to(&self, bracketed: &Bracketed) -> f64 {
        self.factor.unwrap_or(1.0) * bracketed.scale
    }

    pub(super) fn as_other(&self) -> OtherPhoto {
        OtherPhoto {
            photo: self.path.to_owned(),
            used_as: Use::LampOff,
            sha256: self.photo.sha256.clone(),
        }
    }

    fn warnings(&self, light: Option<OffLight>) -> impl Iterator<Item = Warning> {
        let unknown = self.factor.is_none().then_some(Warning::LampOffExposureUnknown);
        let lamp = light.and_then(|light| self.lamp_in_it(light));
        processed(&self.photo, PhotoOfShot::LampOff).chain(unknown).chain(lamp)
    }

    /// That some of the lamp's light is surely in it.
    fn lamp_in_it(&self, light: OffLight) -> Option<Warning> {
        (light.surely_lamp && light.of_lamp > LEAST_SURE_OFF_LAMP).then(|| Warning::LampInLampOff {
            photo: self.path.to_owned(),
            percent: 100.0 * light.of_lamp,
        })
    }
}

/// The signs of processing that a photo shows.
fn processed(photo: &Photo, which: PhotoOfShot) -> impl Iterator<Item = Warning> {
    photo.capture.processing.iter().map(move |&sign| Warning::Processed {
        photo: which.clone(),
        sign,
    })
}

/// A cut-off as read from a shot's photo, and all that its aim is worked out from.
pub(super) struct Edge {
    pub cutoff: CutOff,
    view: View,
    /// What the lamp's own light in the lamp-off photo does to the height, one standard deviation, mm.
    by_off_mm: Option<f64>,
    /// What its coding anew does to the height, one standard deviation, mm; where it was.
    by_coding_mm: Option<f64>,
    /// What is known before the aim is.
    warnings: Vec<Warning>,
}

/// Reads the cut-off in a shot's photo once its view is known.
pub(super) fn read_edge(
    setting: &Setting<'_>,
    (shot, lamp): (&Shot, &Lamp),
    bracketed: &Bracketed,
    view: View,
    off: Option<&LampOff<'_>>,
    walls: &WallPhotos,
) -> Result<Edge, Refusal> {
    let photo = &bracketed.photo;
    let off_light = match off {
        Some(off) => off.check_light(setting, lamp, bracketed, &view)?,
        None => None,
    };
    let read_on = |of_off: f64, walls: &[&WallPhoto]| {
        let off = off.map(|off| (&off.photo, of_off * off.factor_to(bracketed)));
        let job = setting.job;
        cutoff::read(
            (photo, &bracketed.tone.response),
            off,
            &view,
            lamp,
            job.traffic,
            Told {
                pattern: job.pattern,
                near_mm: shot
                    .edge_near_percent
                    .map(|percent| height_at_mm(percent, lamp, setting.bay)),
            },
            walls,
        )
    };
    let (walls, cutoff) = walls.divide_out(|walls| read_on(1.0, walls));
    let read = |of_off: f64| read_on(of_off, &walls.used);
    let cutoff = cutoff.map_err(|refusal| {
        let lamp_in_it = off.zip(off_light).and_then(|(off, light)| off.lamp_in_it(light));
        bracketed.explain(match lamp_in_it {
            Some(warning) => refusal.reworded(|language, message| {
                let warning = warning.said(language);
                said!(language; "{message}. Or: {warning}", "{message}. Oder: {warning}")
            }),
            None => refusal,
        })
    })?;
    let by_off_mm = off_light.and_then(|light| lamp_off_sd_mm(cutoff.y_mm, light, read));
    let mut warnings = bracketed.warnings.clone();
    warnings.extend(processed(photo, PhotoOfShot::Main));
    warnings.extend(view.warnings.iter().cloned());
    warnings.extend(off.into_iter().flat_map(|off| off.warnings(off_light)));
    warnings.extend(cutoff.warnings.iter().cloned());
    warnings.extend(walls.warnings);
    // Of a height that no lamp has, the job as a whole is warned.
    let taken_for_height = lamp.mounting_height_mm.is_none() && lamp.known_height_above_ground_mm().is_some();
    if setting.bay.heights_from == HeightsFrom::LevelLine && taken_for_height {
        warnings.push(Warning::NoMountingHeight);
    }
    let recoded = photo.capture.processing.contains(&Processing::Recoded);
    // Coding anew upsets black and white, too: it is then no sign of anything else.
    let by_coding = |warning: &Warning| recoded && matches!(warning, Warning::ToneUneven | Warning::InkUnusual { .. });
    warnings.extend(
        bracketed
            .tone
            .warning()
            .into_iter()
            .filter(|warning| !by_coding(warning)),
    );
    let by_coding_mm =
        recoded.then(|| RECODED_SD_PX * view.mm_per_px([cutoff.x_mm, cutoff.y_mm]).unwrap_or(f64::INFINITY));
    Ok(Edge {
        cutoff,
        view,
        by_off_mm,
        by_coding_mm,
        warnings,
    })
}

impl Edge {
    /// Judges the lamp's aim. `photos`: how many of the job's photos show its lamp in the same state, this one among them.
    pub fn judge(self, setting: &Setting<'_>, shot: &Shot, lamp: &Lamp, photos: usize) -> Measured {
        let mut aim = aim(self.cutoff, lamp, setting.bay, &self.view);
        aim.budget.extend(self.by_off_mm.map(|sd_mm| Term {
            source: Source::LampOff,
            sd_percent: 100.0 / lamp.distance_mm * sd_mm,
        }));
        aim.budget.extend(self.by_coding_mm.map(|sd_mm| Term {
            source: Source::Recoding,
            sd_percent: 100.0 / lamp.distance_mm * sd_mm,
        }));
        let mut warnings = self.warnings;
        warnings.extend(unusual_aim(&aim));
        warnings.extend(near_wall(lamp));
        let verdict = verdict(setting, shot, lamp, &aim, photos);
        Measured { aim, verdict, warnings }
    }
}

/// A lamp near the wall whose face is not known.
fn near_wall(lamp: &Lamp) -> Option<Warning> {
    let is_unknown = lamp.face_height_mm.is_none() && lamp.distance_mm < NEAR_MM;
    is_unknown.then(|| Warning::NearWall {
        distance_mm: lamp.distance_mm,
        u95_percent: COVERAGE_FACTOR_95 * unknown_face_sd_percent(lamp.distance_mm),
    })
}

/// One standard deviation of the cut-off's height from what of the lamp's light may be in the lamp-off photo, mm: anything from
/// none of it to all that is found is as likely (JCGM 100:2008, 4.3.7). `read` reads the cut-off with a share of the lamp-off
/// photo's light taken away. `None` where next to nothing is found.
fn lamp_off_sd_mm(y_mm: f64, light: OffLight, read: impl Fn(f64) -> Result<CutOff, Refusal>) -> Option<f64> {
    if light.of_lamp < LEAST_OFF_LAMP {
        return None;
    }
    let of_off = 1.0 - (light.of_lamp * light.lit_over_off).min(1.0);
    let without = read(of_off).ok()?;
    Some((without.y_mm - y_mm).abs() / 3f64.sqrt())
}

/// Holds an aim against the job's tolerance table; `None` where there is none for this lamp, where a pump drove the beam,
/// which no rule judges, and where the table means the cut-off on the side of the lamp on which it is not read.
fn verdict(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp, aim: &Aim, photos: usize) -> Option<Verdict> {
    let is_read = |table: &&ToleranceTable| table.side.is_none_or(|meant| meant == setting.job.traffic.flat_side());
    let table = setting.table.filter(|_| !shot.is_pumped()).filter(is_read)?;
    let is_setting = is_setting(shot.position.as_deref());
    // Of a height that no lamp has, which a level line can give, no row of the table can be chosen.
    if table.goes_by_height() && lamp.known_height_above_ground_mm().is_none() {
        return None;
    }
    let band = table.band(
        is_setting,
        lamp.height_above_ground_mm(),
        setting.job.tolerance_choice.as_deref(),
    )?;
    let means = Means {
        lamp,
        bay: setting.bay,
        has_lamp_off: shot.lamp_off.is_some(),
        photos,
    };
    Some(Verdict::of(aim, &table.name, is_setting, band, &means))
}

/// A photo so bright or so dark that its marks cannot be read: the exposure is then the thing to mend.
pub(super) fn exposure_refusal(photo: &Photo) -> Option<Refusal> {
    /// Share of the photo that must be clipped, and of the photo that must be lit at all, and from which light on a place
    /// is lit (our choice, no source).
    const CLIPPED_SHARE: f64 = 0.3;
    const LIT_SHARE: f64 = 0.001;
    const DARK_LIGHT: f32 = 0.02;
    let clipped = photo.clipped_share();
    let [width_px, height_px] = photo.size_px();
    let lit = photo.all_light().filter(|&light| light > DARK_LIGHT).count() as f64 / (width_px * height_px) as f64;
    if clipped > CLIPPED_SHARE {
        return Some(Refusal::new(Reason::Overexposed, |language| {
            said!(
                language;
                "{:.0} % of the photo is at full scale and sheets are lost in it; turn the exposure down by 2 EV and take it again",
                "{:.0} % des Fotos sind am Anschlag, und Messblätter gehen darin verloren; die Belichtung um 2 EV verringern \
                 und neu aufnehmen";
                100.0 * clipped
            )
        }));
    }
    (lit < LIT_SHARE).then(|| {
        Refusal::new(Reason::Underexposed, |language| said!(
                language;
                "the whole photo is nearly black and no sheets can be read in it; is the lamp on? Else turn the exposure up by 2 EV",
                "das ganze Foto ist fast schwarz, und keine Messblätter sind darin lesbar; ist der Scheinwerfer an? Sonst die \
                 Belichtung um 2 EV erhöhen"
            ))
    })
}

/// Inclination, per cent, of what lies at height `y_mm` on the wall.
///
/// Inclination (wording of ISO 10604): the tangent, in per cent, of the downward angle against the vehicle's reference
/// plane: 100 (h − y)/D, plus the standing area's grade where heights are from a level line. With heights from the
/// floor the bay's grade is zero: [`Bay::read`] sees to it.
#[must_use]
pub fn inclination_at_percent(y_mm: f64, lamp: &Lamp, bay: &Bay) -> f64 {
    100.0 * (lamp.centre_height_mm - y_mm) / lamp.distance_mm + bay.grade_percent
}

/// Height on the wall, mm, at which a cut-off of this inclination lies: the inverse of [`inclination_at_percent`].
#[must_use]
pub(crate) fn height_at_mm(percent: f64, lamp: &Lamp, bay: &Bay) -> f64 {
    lamp.centre_height_mm - lamp.distance_mm * (percent - bay.grade_percent) / 100.0
}

/// Where a beam of this inclination meets a level road, m from the lamp; `None` when it does not come down, or where the lamp's height
/// above the ground is not known.
#[must_use]
pub(crate) fn reach_m(inclination_percent: f64, lamp: &Lamp) -> Option<f64> {
    let height_mm = lamp.known_height_above_ground_mm()?;
    (inclination_percent > 0.0).then(|| height_mm / 1000.0 / (inclination_percent / 100.0))
}

/// What a reading shares with the job's others. `edge_sds_mm`: the edge against its model, stray light, which V-V is meant, this one
/// signed, and the lamp's face; room, lamp and where the car stands stay the same over a job, so that they move all its readings
/// alike. `marks_mm`: what each source that the views share does to the height, mm.
///
/// Signs: a cut-off that lies lower, a lamp that hangs higher and a wall that is nearer all mean more inclination.
fn common(inclination_percent: f64, edge_sds_mm: [f64; 4], lamp: &Lamp, bay: &Bay, marks_mm: &[f64]) -> Common {
    let per_mm = 100.0 / lamp.distance_mm;
    let on_wall_percent = inclination_percent - bay.grade_percent;
    Common {
        lamp: vec![
            per_mm * edge_sds_mm[0],
            per_mm * edge_sds_mm[1],
            per_mm * lamp.centre_height_sd_mm,
            -on_wall_percent * lamp.distance_sd_mm / lamp.distance_mm,
            -per_mm * edge_sds_mm[2],
        ],
        wall: Vec::new(),
        // The two lamps of a car are built alike, so that what their faces do is gone from left against right as well.
        bay: [bay.grade_sd_percent, per_mm * edge_sds_mm[3]]
            .into_iter()
            .chain(marks_mm.iter().map(|mm| -per_mm * mm))
            .collect(),
    }
}

/// The inclination of a cut-off for a lamp, with its budget.
#[must_use]
pub fn aim(cutoff: CutOff, lamp: &Lamp, bay: &Bay, view: &View) -> Aim {
    let place_mm = [cutoff.x_mm, cutoff.y_mm];
    let marks_sd = view.height_sd(place_mm);
    let (photo_mm, tape_mm) = marks_sd.map_or((f64::INFINITY, f64::INFINITY), |sd| (sd.photo_mm, sd.tape_mm));
    let per_mm = 100.0 / lamp.distance_mm;
    let aim_y_mm = cutoff.y_mm - cutoff.climb.map_or(0.0, |climb| climb.climb_mm);
    let face_sd_percent = match cutoff.climb {
        Some(climb) => per_mm * climb.sd_mm,
        None if lamp.face_height_mm.is_some() => 0.0,
        None => unknown_face_sd_percent(lamp.distance_mm),
    };
    let inclination_percent = inclination_at_percent(aim_y_mm, lamp, bay);
    let on_wall_percent = inclination_percent - bay.grade_percent;
    let marks_mm = view.height_common_mm(place_mm).unwrap_or_default();
    let mut common = common(
        inclination_percent,
        [
            cutoff.model_sd_mm,
            cutoff.stray_light_sd_mm,
            cutoff.aside_sd_mm,
            face_sd_percent / per_mm,
        ],
        lamp,
        bay,
        &marks_mm,
    );
    let effects_mm = cutoff.shared.iter().flat_map(|shared| &shared.effects_mm);
    common.wall = effects_mm.map(|mm| -per_mm * mm).collect();
    let tone_sd_percent = per_mm * cutoff.tone_mm.iter().map(|mm| mm * mm).sum::<f64>().sqrt();
    let alike_sd_percent = if cutoff.tone_alike { tone_sd_percent } else { 0.0 };
    if cutoff.tone_alike {
        common.lamp.extend(cutoff.tone_mm.iter().map(|mm| -per_mm * mm));
    }
    let sd_percent = |source| match source {
        Source::Texture => per_mm * cutoff.scatter_sd_mm,
        Source::EdgeShape => per_mm * cutoff.shape_sd_mm,
        Source::EdgeModel => per_mm * cutoff.model_sd_mm,
        Source::StrayLight => per_mm * cutoff.stray_light_sd_mm,
        Source::Tone => tone_sd_percent - alike_sd_percent,
        Source::Corners => per_mm * photo_mm,
        Source::Sheets => per_mm * tape_mm,
        Source::LampHeight => per_mm * lamp.centre_height_sd_mm,
        Source::Distance => on_wall_percent.abs() * lamp.distance_sd_mm / lamp.distance_mm,
        Source::Floor => bay.grade_sd_percent,
        // Known once the photo beside is read, and in a budget only where there are such.
        Source::LampOff
        | Source::LampFace
        | Source::SharedTexture
        | Source::SharedTone
        | Source::Aside
        | Source::Recoding => 0.0,
    };
    let mut budget: Vec<Term> = Source::ALL
        .map(|source| Term {
            source,
            sd_percent: sd_percent(source),
        })
        .to_vec();
    budget.extend((face_sd_percent > 0.0).then_some(Term {
        source: Source::LampFace,
        sd_percent: face_sd_percent,
    }));
    budget.extend(cutoff.shared.as_ref().map(|shared| Term {
        source: Source::SharedTexture,
        sd_percent: per_mm * shared.alike_sd_mm,
    }));
    budget.extend((alike_sd_percent > 0.0).then_some(Term {
        source: Source::SharedTone,
        sd_percent: alike_sd_percent,
    }));
    budget.extend((cutoff.aside_sd_mm != 0.0).then(|| Term {
        source: Source::Aside,
        sd_percent: per_mm * cutoff.aside_sd_mm.abs(),
    }));
    Aim {
        inclination_percent,
        budget,
        common,
        drop_mm: inclination_percent / 100.0 * lamp.distance_mm,
        drop_at_wall_mm: on_wall_percent / 100.0 * lamp.distance_mm,
        angle_deg: (inclination_percent / 100.0).atan().to_degrees(),
        reach_m: reach_m(inclination_percent, lamp),
        elbow_lateral_percent: cutoff.elbow.map(|elbow| per_mm * (elbow.x_mm - lamp.centre_x_mm)),
        elbow_lateral_u95_percent: cutoff
            .elbow
            .map(|elbow| COVERAGE_FACTOR_95 * per_mm * elbow.x_sd_mm.hypot(PLACE_SD_MM)),
        cutoff,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Traffic;

    fn lamp(height_mm: f64, distance_mm: f64) -> Lamp {
        Lamp {
            side: crate::record::Side::Left,
            stage: None,
            bay: None,
            centre_height_mm: height_mm,
            centre_height_sd_mm: 2.0,
            centre_x_mm: 0.0,
            distance_mm,
            distance_sd_mm: 10.0,
            face_height_mm: None,
            mounting_height_mm: None,
        }
    }

    fn bay(heights_from: HeightsFrom, grade_percent: f64) -> Bay {
        Bay {
            schema: 1,
            name: "test".to_owned(),
            heights_from,
            grade_percent,
            grade_sd_percent: 0.0,
            marks: crate::record::Marks {
                family: "tag36h11".to_owned(),
                size_mm: 160.0,
                position_sd_mm: 1.5,
                sheet: Vec::new(),
            },
        }
    }

    #[test]
    fn what_readings_share_has_the_sign_of_its_effect() {
        // Reference implementation: each source moved by a little, and the inclination worked out anew.
        let mut level = bay(HeightsFrom::LevelLine, 0.3);
        level.grade_sd_percent = 0.05;
        let lamp = lamp(650.0, 10_000.0);
        let y_mm = 500.0;
        let here = inclination_at_percent(y_mm, &lamp, &level);
        let (mut higher, mut farther) = (lamp.clone(), lamp.clone());
        higher.centre_height_mm += lamp.centre_height_sd_mm;
        farther.distance_mm += 1e-3 * lamp.distance_sd_mm;
        let by_height = inclination_at_percent(y_mm, &higher, &level) - here;
        let by_distance = 1e3 * (inclination_at_percent(y_mm, &farther, &level) - here);
        let marks_mm = vec![0.7, -0.4];
        let cutoff_sds_mm = [1.1, 0.6, -0.3, 0.9];
        let common = common(here, cutoff_sds_mm, &lamp, &level, &marks_mm);
        let by_edge = inclination_at_percent(y_mm - cutoff_sds_mm[0], &lamp, &level) - here;
        let by_marks: Vec<f64> = marks_mm
            .iter()
            .map(|mm| inclination_at_percent(y_mm + mm, &lamp, &level) - here)
            .collect();
        assert!((common.lamp[0] - by_edge).abs() < 1e-12);
        assert!((common.lamp[2] - by_height).abs() < 1e-12);
        let by_place = inclination_at_percent(y_mm + cutoff_sds_mm[2], &lamp, &level) - here;
        assert!((common.lamp[4] - by_place).abs() < 1e-12);
        assert!((common.lamp[3] - by_distance).abs() < 1e-8, "{:?}", common.lamp);
        let by_face = inclination_at_percent(y_mm - cutoff_sds_mm[3], &lamp, &level) - here;
        assert!((common.bay[1] - by_face).abs() < 1e-12);
        assert!((common.bay[0] - 0.05).abs() < 1e-12);
        for (ours, reference) in common.bay[2..].iter().zip(&by_marks) {
            assert!((ours - reference).abs() < 1e-12);
        }
    }

    #[test]
    fn the_band_goes_by_the_position_and_a_pump_gets_no_verdict() {
        let lamp = lamp(650.0, 10_000.0);
        let floor = bay(HeightsFrom::Floor, 0.0);
        let job = Job::of("W", "bay.toml", crate::record::Traffic::Right);
        let table = ToleranceTable::find("un-r48", Path::new("."), None).unwrap();
        let setting = Setting {
            job: &job,
            bay: &floor,
            table: Some(&table),
            folder: Path::new("."),
            pictures: false,
        };
        let aim = Aim::made(1.2, &[], Common::default());
        let is_setting = |position: Option<&str>, vacuum: Option<&str>, sealed| {
            let shot = Shot {
                position: position.map(str::to_owned),
                vacuum: vacuum.map(|text| text.parse().unwrap()),
                sealed,
                ..Shot::of("1.jpg", lamp.side)
            };
            verdict(&setting, &shot, &lamp, &aim, 1).map(|verdict| verdict.setting)
        };
        assert_eq!(is_setting(Some("0"), None, false), Some(true));
        assert_eq!(is_setting(None, None, false), Some(true), "an aim check");
        assert_eq!(is_setting(Some("2"), None, false), Some(false));
        for (position, vacuum, sealed) in [
            (None, Some("0 mbar"), false),
            (None, Some("300 mbar"), false),
            (None, None, true),
            (Some("0"), Some("300 mbar"), false),
            (Some("0"), None, true),
        ] {
            assert_eq!(
                is_setting(position, vacuum, sealed),
                None,
                "{position:?} {vacuum:?} {sealed}"
            );
        }
    }

    #[test]
    fn a_hundred_millimetres_at_ten_metres_is_one_per_cent() {
        // ISO 10604 (wording): 1 % is a drop of 10 cm over 10 m.
        let floor = bay(HeightsFrom::Floor, 0.0);
        let lamp = lamp(650.0, 10_000.0);
        assert!((inclination_at_percent(550.0, &lamp, &floor) - 1.0).abs() < 1e-12);
        assert!(
            (inclination_at_percent(700.0, &lamp, &floor) + 0.5).abs() < 1e-12,
            "an edge above the lamp is negative"
        );
        assert!((height_at_mm(1.0, &lamp, &floor) - 550.0).abs() < 1e-9);
    }

    #[test]
    fn published_drops_at_twenty_five_feet() {
        // Published vehicle service specifications: 2.1 in at 25 ft is 0.40 deg; 53.2 mm, 50.5 mm and 266.1 mm at
        // 7.62 m are 0.40, 0.38 and 2.0 deg.
        let floor = bay(HeightsFrom::Floor, 0.0);
        for (drop_mm, distance_mm, degrees) in [
            (2.1 * 25.4, 25.0 * 304.8, 0.40),
            (53.2, 7620.0, 0.40),
            (50.5, 7620.0, 0.38),
            (266.1, 7620.0, 2.0),
        ] {
            let percent = inclination_at_percent(650.0 - drop_mm, &lamp(650.0, distance_mm), &floor);
            assert!(
                ((percent / 100.0).atan().to_degrees() - degrees).abs() < 0.005,
                "{drop_mm} mm: {percent} %"
            );
        }
    }

    #[test]
    fn from_a_level_line_the_grade_adds_to_the_drop() {
        let level = bay(HeightsFrom::LevelLine, 0.3);
        assert!((inclination_at_percent(550.0, &lamp(650.0, 10_000.0), &level) - 1.3).abs() < 1e-12);
        assert!((height_at_mm(1.3, &lamp(650.0, 10_000.0), &level) - 550.0).abs() < 1e-9);
    }

    #[test]
    fn a_table_for_the_other_side_of_the_road_gives_no_verdict() {
        let aim = Aim::made(1.2, &[(Source::Texture, 0.01)], Common::default());
        let (bay, lamp) = (bay(HeightsFrom::Floor, 0.0), lamp(650.0, 10_000.0));
        let judged = |table: &str, traffic: Traffic| {
            let job = Job::of("test", "bay.toml", traffic);
            let table = ToleranceTable::find(table, Path::new("."), None).unwrap();
            let setting = Setting {
                job: &job,
                bay: &bay,
                table: Some(&table),
                folder: Path::new("."),
                pictures: false,
            };
            verdict(&setting, &Shot::of("1.jpg", lamp.side), &lamp, &aim, 1).is_some()
        };
        assert!(!judged("us-vor", Traffic::Right) && !judged("us-vol", Traffic::Left));
        assert!(judged("us-vor", Traffic::Left) && judged("us-vol", Traffic::Right));
        assert!(judged("un-r48", Traffic::Left) && judged("un-r48", Traffic::Right));
    }

    #[test]
    fn reach_is_where_the_beam_comes_down() {
        // 650 mm high and 1.02 % down: 63.7 m. A beam that does not come down has no reach.
        assert!((reach_m(1.02, &lamp(650.0, 10_000.0)).unwrap() - 63.7).abs() < 0.05);
        assert_eq!(reach_m(0.0, &lamp(650.0, 10_000.0)), None);
        let mut raised = lamp(150.0, 10_000.0);
        raised.mounting_height_mm = Some(650.0);
        assert!(
            (reach_m(1.0, &raised).unwrap() - 65.0).abs() < 1e-9,
            "the height above the ground counts"
        );
        // From a level line a lamp's height can be anything, and below it.
        for height_mm in [-348.0, 150.0] {
            assert_eq!(reach_m(1.0, &lamp(height_mm, 10_000.0)), None, "{height_mm}");
        }
    }

    #[test]
    fn a_height_that_no_lamp_has_chooses_no_row_of_a_table() {
        let aim = Aim::made(1.2, &[(Source::Texture, 0.01)], Common::default());
        let (bay, job) = (
            bay(HeightsFrom::LevelLine, 0.0),
            Job::of("test", "bay.toml", Traffic::Right),
        );
        let judged = |table: &str, lamp: &Lamp| {
            let table = ToleranceTable::find(table, Path::new("."), None).unwrap();
            let setting = Setting {
                job: &job,
                bay: &bay,
                table: Some(&table),
                folder: Path::new("."),
                pictures: false,
            };
            verdict(&setting, &Shot::of("1.jpg", lamp.side), lamp, &aim, 1).is_some()
        };
        let mut below = lamp(-348.0, 10_000.0);
        assert!(!judged("un-r48", &below));
        assert!(judged("us-vol", &below), "its limits are the same at all heights");
        below.mounting_height_mm = Some(652.0);
        assert!(judged("un-r48", &below));
    }
}
