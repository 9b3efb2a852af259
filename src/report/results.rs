//! The objects of `results.json` and of `measure --json`: what was read from each photo, and each travel.
//!
//! Figures are rounded to what they can carry (per cent to four places, mm to two), so that the file can be read by
//! people and two runs over the same photos give the same bytes.

mod isolation;

pub use isolation::{IsolationResult, PlanResult};

use super::Findings;
use super::text::round;
use crate::adjuster::Adjuster;
use crate::aim::{COVERAGE_FACTOR_95, Measured, OtherPhoto, Outcome, Share, ShotReading, inclination_at_percent};
use crate::language::Language;
use crate::photo::Capture;
use crate::record::{
    Bay, Bays, Branch, HeightsFrom, Lamp, Pattern, RepairEntry, SCHEMA, Side, Stage, Traffic, Vehicle, Workshop,
};
use crate::refusal::Reason;
use crate::warning::Group;
use serde::{Deserialize, Serialize};

/// The JSON Schema (draft 2020-12) of [`Results`]: it is made from these types, and a test holds it against them.
pub const JSON_SCHEMA: &str = include_str!("results/schema.json");

/// Everything that one run found.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Results {
    /// Version of this format.
    pub schema: u32,
    /// Name and version of the program.
    pub program: String,
    /// The job's own number or name.
    pub job: String,
    /// True when the photos were drawn by a program.
    pub made_photos: bool,
    /// The side of the road that the car is built for.
    pub traffic: Traffic,
    /// What the car is.
    pub vehicle: Option<String>,
    /// All that the job says of the car, in its own keys; null where it says nothing.
    pub vehicle_facts: Option<Vehicle>,
    /// Who measured, and with what; left out where the job says nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub workshop: Option<Workshop>,
    /// What was done to the car between before and after.
    pub repair: Vec<RepairEntry>,
    /// The bay.
    pub bay: BayFacts,
    /// Those of lamps that have another.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub other_bays: Vec<BayFacts>,
    /// The lamps as the job describes them.
    pub lamps: Vec<LampFacts>,
    /// The tolerance table, where the job names one.
    pub table: Option<TableFacts>,
    /// What one should know of the job as a whole.
    pub warnings: Vec<String>,
    /// The warnings of all shots and of the job, each kind once a lamp.
    pub warning_groups: Vec<WarningGroup>,
    /// What came of each shot, in the job's order.
    pub shots: Vec<ShotResult>,
    /// Travel from each position of the range control to the next.
    pub travel: Vec<TravelResult>,
    /// What the range adjuster does; its keys carry their units, and the figure of an interval that of the key above it.
    pub adjuster: Adjuster,
    /// Which part is at fault, as `isolate --json` has it; null where the job names no system, or says nothing of it.
    pub isolate: Option<IsolationResult>,
}

/// Warnings of one kind about one lamp, or about the job as a whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct WarningGroup {
    /// The kind of warning.
    pub kind: &'static str,
    /// Which lamp; null where they speak of the job as a whole.
    pub lamp: Option<Side>,
    /// Number of photos that have it.
    pub photos: usize,
    /// Those photos, as the job names them.
    pub photo_names: Vec<String>,
    /// What is said, measures from the least to the largest.
    pub text: String,
}

impl WarningGroup {
    fn new(group: Group) -> Self {
        Self {
            kind: group.kind,
            lamp: group.lamp,
            photos: group.photos.len(),
            photo_names: group.photos.iter().map(|photo| photo.display().to_string()).collect(),
            text: group.words,
        }
    }
}

/// The bay, as far as it bears on the figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BayFacts {
    /// What it is called.
    pub name: String,
    /// What heights are measured from.
    pub heights_from: HeightsFrom,
    /// Rise of the standing area towards the wall, per cent.
    pub grade_percent: f64,
    /// One standard deviation of the grade, per cent.
    pub grade_sd_percent: f64,
    /// Number of sheets on the wall.
    pub sheets: usize,
    /// One standard deviation of a sheet's place, mm.
    pub position_sd_mm: f64,
}

/// A lamp as measured on the car.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LampFacts {
    /// Which lamp.
    pub side: Side,
    /// The only stage that these hold for; null where they hold for all that have none of their own.
    pub stage: Option<Stage>,
    /// Name of the bay of its photos, where the job has more than one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bay: Option<String>,
    /// Height of its centre, mm.
    pub centre_height_mm: f64,
    /// One standard deviation of the height, mm.
    pub centre_height_sd_mm: f64,
    /// Place to the right of the bay's centre line, mm.
    pub centre_x_mm: f64,
    /// Distance to the wall, mm.
    pub distance_mm: f64,
    /// One standard deviation of the distance, mm.
    pub distance_sd_mm: f64,
    /// Height of its face, mm, where the job gives it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face_height_mm: Option<f64>,
}

/// Where the tolerances come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TableFacts {
    /// Name by which the job asks for it.
    pub name: String,
    /// What it is called in full.
    pub title: String,
    /// Where the figures stand.
    pub source: String,
    /// Edition of the source.
    pub edition: String,
    /// Date on which the source was read, ISO 8601.
    pub read: String,
    /// How sure it is that the figures are the source's.
    pub confidence: String,
    /// What else one should know; may be empty.
    pub note: String,
    /// What is stamped on lamp or car, per cent; left out where the job does not give it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub marked_percent: Option<f64>,
}

/// One shot and what came of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ShotResult {
    /// The photo, as the job names it.
    pub photo: String,
    /// SHA-256 of the file, hexadecimal; null where it could not be read.
    pub sha256: Option<String>,
    /// The brackets and the lamp-off photo that were read with it.
    pub other_photos: Vec<OtherPhoto>,
    /// Local time of the capture, ISO 8601; null where EXIF does not say.
    pub taken: Option<String>,
    /// Which lamp is lit.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Name of the bay that it was read against, where the job has more than one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bay: Option<String>,
    /// Position of the range control.
    pub position: Option<String>,
    /// Vacuum on the pump's gauge, mbar.
    pub vacuum_mbar: Option<f64>,
    /// Which way the vacuum was being changed.
    pub branch: Option<Branch>,
    /// The shot belongs to a leak-down series.
    pub sealed: bool,
    /// The figure, or why there is none; its keys stand beside the others, with `status` to tell which.
    #[serde(flatten)]
    pub result: ReadingResult,
    /// What EXIF says of the capture.
    pub capture: CaptureFacts,
}

/// The figure from a photo, or why there is none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(tag = "status", rename_all = "kebab-case")]
pub enum ReadingResult {
    /// The photo gave a figure.
    Measured(Box<MeasuredResult>),
    /// The photo gave none.
    Refused {
        /// The reason.
        reason: Reason,
        /// What was seen and what to do about it.
        message: String,
    },
}

/// The aim as read from one photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MeasuredResult {
    /// The cut-off's downward inclination.
    pub inclination: Inclination,
    /// Drop of the cut-off at the wall below the vehicle's reference plane through the lamp's centre, mm: the inclination at the lamp's distance.
    pub drop_mm: f64,
    /// Drop of the cut-off at the wall below the height of the lamp's centre, mm, as a tape finds it; it is `drop_mm` where there is no grade.
    pub drop_at_wall_mm: f64,
    /// The inclination as an angle, degrees.
    pub degrees: f64,
    /// Where the cut-off meets the road, m from the lamp; null when it does not come down.
    pub reach_m: Option<f64>,
    /// What was found of the cut-off.
    pub cutoff: CutOffResult,
    /// The verdict; null where the job names no tolerance table, and where a pump drove the beam.
    pub verdict: Option<VerdictResult>,
    /// What the uncertainty is made of.
    pub budget: Vec<BudgetTerm>,
    /// What one should know before relying on the figure.
    pub warnings: Vec<String>,
}

/// An inclination with its uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Inclination {
    /// Per cent, positive downward.
    pub percent: f64,
    /// Half-width of the 95 % interval with everything in it, per cent.
    pub u95_percent: f64,
    /// Half-width of the 95 % interval of what differs from photo to photo, per cent.
    pub reading_u95_percent: f64,
    /// The standard uncertainties that it is made of; 1.96 times the root of the sum of their squares is `u95_percent`.
    pub budget: Vec<StandardTerm>,
}

/// One term of the budget as a standard uncertainty.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StandardTerm {
    /// What it comes from.
    pub name: String,
    /// Whether the photos of a job have it in common.
    pub share: ShareName,
    /// One standard deviation, per cent of inclination.
    pub sd_percent: f64,
}

/// What was found of the cut-off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CutOffResult {
    /// Sharpness G (UN R112).
    pub sharpness_g: f64,
    /// Largest departure at 1.5° and 3.5° from the reading at 2.5°, degrees (UN R112).
    pub linearity_deg: f64,
    /// Angle of the flat part against the horizontal, degrees, positive when the right end is higher.
    pub tilt_deg: f64,
    /// The elbow; null for a flat pattern.
    pub elbow: Option<ElbowResult>,
    /// The shape beside the flat part.
    pub pattern: Pattern,
    /// Inclination at half of the bright level on the reading scan, per cent; for comparison only.
    pub threshold_percent: Option<f64>,
    /// Inclination of the plain inflection, without an edge model, per cent; for comparison only.
    pub plain_percent: Option<f64>,
    /// By how much the lamp's face makes the cut-off lie higher on this wall than on a measuring screen at 25 m, per cent, which
    /// the inclination has taken out; left out where the job does not give the face's height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub climb_percent: Option<f64>,
}

/// The elbow of a cut-off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ElbowResult {
    /// Its place, per cent of the distance, positive to the right of the lamp's V-V.
    pub lateral_percent: Option<f64>,
    /// Half-width of its 95 % interval, per cent.
    pub lateral_u95_percent: Option<f64>,
    /// Angle of the edge beyond it against the flat part, degrees.
    pub kick_deg: f64,
}

/// A reading held against a band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct VerdictResult {
    /// The tolerance table's name.
    pub table: String,
    /// Inside, outside or undecided.
    pub outcome: Outcome,
    /// Least inclination allowed, per cent.
    pub low_percent: f64,
    /// Greatest inclination allowed, per cent.
    pub high_percent: f64,
    /// Which of the table's bands.
    pub band: BandName,
    /// Probability that the inclination lies within the band, 0 to 1 (JCGM 106:2012).
    pub probability_inside: f64,
    /// Not inside by the low end of what must be kept to over all loads, at a position for a load: no fault of a car without that load.
    pub load_decides: bool,
    /// Where undecided: what would settle it; where outside, what brings the beam inside, unless the adjuster or its photos come first;
    /// else null.
    pub settle: Option<String>,
}

/// The two bands of a tolerance table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum BandName {
    /// As set up, lightly loaded, range control at 0.
    Setting,
    /// What the beam must keep to over all loads.
    Range,
}

impl std::fmt::Display for BandName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Setting => "setting",
            Self::Range => "range",
        })
    }
}

/// One term of an uncertainty budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BudgetTerm {
    /// What it comes from.
    pub name: String,
    /// Whether the photos of a job have it in common.
    pub share: ShareName,
    /// Half-width of its 95 % interval, per cent of inclination.
    pub u95_percent: f64,
}

/// Which photos have an uncertainty term in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ShareName {
    /// All photos of the job; it cancels in a travel.
    Job,
    /// It differs from photo to photo.
    Photo,
}

impl From<Share> for ShareName {
    fn from(share: Share) -> Self {
        match share {
            Share::Job => Self::Job,
            Share::Photo => Self::Photo,
        }
    }
}

impl std::fmt::Display for ShareName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Job => "job",
            Self::Photo => "photo",
        })
    }
}

/// What EXIF says of a capture, beside its time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CaptureFacts {
    /// Offset of the time from UTC, `+hh:mm`.
    pub utc_offset: Option<String>,
    /// Exposure time, s.
    pub exposure_s: Option<f64>,
    /// Relative aperture (f-number).
    pub f_number: Option<f64>,
    /// ISO speed.
    pub iso: Option<u32>,
    /// Focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// Focal length as on a 36 mm × 24 mm frame, mm.
    pub focal_length_35mm_mm: Option<f64>,
    /// Maker and model of the camera.
    pub camera: Option<String>,
}

/// How far a beam travelled between two positions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TravelResult {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Position that it starts from.
    pub from: String,
    /// Position that it ends at.
    pub to: String,
    /// Change of the inclination, per cent; positive when the beam went down.
    pub percent: f64,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: f64,
}

impl Results {
    /// The results of a job, rounded for output.
    #[must_use]
    pub fn new(findings: &Findings) -> Self {
        let Findings {
            job,
            bays,
            table,
            readings,
            adjuster,
            isolation,
            warnings,
            path: _,
        } = findings;
        Self {
            schema: SCHEMA,
            program: crate::PROGRAM.to_owned(),
            job: job.job.clone(),
            made_photos: job.made_photos,
            traffic: job.traffic,
            vehicle: job.vehicle.as_ref().and_then(|v| v.description.clone()),
            vehicle_facts: job.vehicle.clone(),
            workshop: job.workshop.clone(),
            repair: job.repair.clone(),
            bay: BayFacts::new(bays.own()),
            other_bays: bays.all().skip(1).map(BayFacts::new).collect(),
            lamps: job.lamp.iter().map(|lamp| LampFacts::new(lamp, bays)).collect(),
            table: table.as_ref().map(|t| TableFacts {
                name: t.name.clone(),
                title: t.title.within(Language::English).to_owned(),
                source: t.source.within(Language::English).to_owned(),
                edition: t.edition.within(Language::English).to_owned(),
                read: t.read.clone(),
                confidence: t.confidence.within(Language::English).to_owned(),
                note: t.note.within(Language::English).to_owned(),
                marked_percent: t.marked_percent.map(|percent| round(percent, 4)),
            }),
            warnings: warnings.iter().map(ToString::to_string).collect(),
            warning_groups: findings
                .grouped_warnings(Language::English)
                .into_iter()
                .map(WarningGroup::new)
                .collect(),
            shots: readings.iter().map(|r| ShotResult::new(r, bays)).collect(),
            travel: adjuster
                .travel
                .iter()
                .flat_map(|lamp| lamp.steps.iter().map(move |step| (lamp, step)))
                .map(|(lamp, step)| TravelResult {
                    lamp: lamp.lamp,
                    stage: lamp.stage,
                    from: step.from.clone(),
                    to: step.to.clone(),
                    percent: round(step.percent, 4),
                    u95_percent: round(step.u95_percent, 4),
                })
                .collect(),
            adjuster: adjuster.rounded(),
            isolate: isolation.as_ref().map(IsolationResult::new),
        }
    }
}

impl BayFacts {
    fn new(bay: &Bay) -> Self {
        Self {
            name: bay.name.clone(),
            heights_from: bay.heights_from,
            grade_percent: round(bay.grade_percent, 4),
            grade_sd_percent: round(bay.grade_sd_percent, 4),
            sheets: bay.marks.sheet.len(),
            position_sd_mm: round(bay.marks.position_sd_mm, 2),
        }
    }
}

impl LampFacts {
    fn new(lamp: &Lamp, bays: &Bays) -> Self {
        Self {
            side: lamp.side,
            stage: lamp.stage,
            bay: bays.are_several().then(|| bays.of(lamp).name.clone()),
            centre_height_mm: round(lamp.centre_height_mm, 2),
            centre_height_sd_mm: round(lamp.centre_height_sd_mm, 2),
            centre_x_mm: round(lamp.centre_x_mm, 2),
            distance_mm: round(lamp.distance_mm, 2),
            distance_sd_mm: round(lamp.distance_sd_mm, 2),
            face_height_mm: lamp.face_height_mm.map(|mm| round(mm, 2)),
        }
    }
}

impl ShotResult {
    fn new(reading: &ShotReading, bays: &Bays) -> Self {
        let (shot, bay) = (&reading.shot, bays.of(&reading.lamp));
        Self {
            photo: shot.photo.display().to_string(),
            sha256: reading.sha256.clone(),
            other_photos: reading.others.clone(),
            taken: reading.capture.taken.clone(),
            lamp: shot.lamp,
            stage: shot.stage,
            bay: bays.are_several().then(|| bay.name.clone()),
            position: shot.position.clone(),
            vacuum_mbar: shot.vacuum.map(|v| round(v.mbar(), 1)),
            branch: shot.branch,
            sealed: shot.sealed,
            result: match &reading.result {
                Ok(measured) => ReadingResult::Measured(Box::new(MeasuredResult::new(measured, &reading.lamp, bay))),
                Err(refusal) => ReadingResult::Refused {
                    reason: refusal.reason,
                    message: refusal.english().to_owned(),
                },
            },
            capture: CaptureFacts::new(&reading.capture),
        }
    }

    /// The figure, where there is one.
    #[must_use]
    pub fn measured(&self) -> Option<&MeasuredResult> {
        match &self.result {
            ReadingResult::Measured(measured) => Some(measured),
            ReadingResult::Refused { .. } => None,
        }
    }
}

impl MeasuredResult {
    fn new(measured: &Measured, lamp: &Lamp, bay: &Bay) -> Self {
        let aim = &measured.aim;
        let cutoff = &aim.cutoff;
        let percent_at = |y_mm: f64| round(inclination_at_percent(y_mm, lamp, bay), 4);
        Self {
            inclination: Inclination {
                percent: round(aim.inclination_percent, 4),
                u95_percent: round(aim.u95_percent(), 4),
                reading_u95_percent: round(aim.reading_u95_percent(), 4),
                budget: aim
                    .budget
                    .iter()
                    .map(|term| StandardTerm {
                        name: term.source.to_string(),
                        share: term.source.share().into(),
                        // More places than the sum has, so that the terms add up to it as far as it is written.
                        sd_percent: round(term.sd_percent, 6),
                    })
                    .collect(),
            },
            drop_mm: round(aim.drop_mm, 2),
            drop_at_wall_mm: round(aim.drop_at_wall_mm, 2),
            degrees: round(aim.angle_deg, 4),
            reach_m: aim.reach_m.filter(|m| m.is_finite()).map(|m| round(m, 1)),
            cutoff: CutOffResult {
                sharpness_g: round(cutoff.sharpness_g, 4),
                linearity_deg: round(cutoff.linearity_deg, 4),
                tilt_deg: round(cutoff.tilt_deg, 3),
                elbow: cutoff.elbow.map(|elbow| ElbowResult {
                    lateral_percent: aim.elbow_lateral_percent.map(|p| round(p, 3)),
                    lateral_u95_percent: aim.elbow_lateral_u95_percent.map(|p| round(p, 3)),
                    kick_deg: round(elbow.kick_deg, 2),
                }),
                pattern: cutoff.pattern,
                threshold_percent: cutoff.threshold_y_mm.map(percent_at),
                plain_percent: cutoff.plain_y_mm.map(percent_at),
                climb_percent: cutoff
                    .climb
                    .map(|climb| round(100.0 * climb.climb_mm / lamp.distance_mm, 4)),
            },
            verdict: measured.verdict.as_ref().map(|verdict| VerdictResult {
                table: verdict.table.clone(),
                outcome: verdict.outcome,
                low_percent: round(verdict.band.low_percent, 4),
                high_percent: round(verdict.band.high_percent, 4),
                band: if verdict.setting {
                    BandName::Setting
                } else {
                    BandName::Range
                },
                probability_inside: round(verdict.probability_inside, 4),
                load_decides: verdict.load_decides,
                settle: verdict
                    .settled()
                    .map(|settle| settle.within(Language::English).to_owned()),
            }),
            budget: aim
                .budget
                .iter()
                .map(|term| BudgetTerm {
                    name: term.source.to_string(),
                    share: term.source.share().into(),
                    u95_percent: round(COVERAGE_FACTOR_95 * term.sd_percent, 4),
                })
                .collect(),
            warnings: measured.warnings.iter().map(ToString::to_string).collect(),
        }
    }
}

impl CaptureFacts {
    fn new(capture: &Capture) -> Self {
        Self {
            utc_offset: capture.utc_offset.clone(),
            exposure_s: capture.exposure_s.map(|s| round(s, 6)),
            f_number: capture.f_number.map(|f| round(f, 2)),
            iso: capture.iso,
            focal_length_mm: capture.focal_length_mm.map(|mm| round(mm, 2)),
            focal_length_35mm_mm: capture.focal_length_35mm_mm.map(|mm| round(mm, 2)),
            camera: capture.camera.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `BEAMFALL_WRITE_SCHEMA=1` writes it anew. Files of a report are held against it by a validator that is not ours in
    /// `tests/peers/report.py`.
    #[test]
    fn the_schema_is_that_of_the_types() {
        let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
        let schema = settings.into_generator().into_root_schema_for::<Results>();
        let made = serde_json::to_string_pretty(&schema).unwrap() + "\n";
        if std::env::var_os("BEAMFALL_WRITE_SCHEMA").is_some() {
            let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/report/results/schema.json");
            std::fs::write(path, &made).unwrap();
        }
        assert!(
            made == JSON_SCHEMA,
            "run this test with BEAMFALL_WRITE_SCHEMA=1, and look at what changed"
        );
    }
}
