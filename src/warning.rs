//! What one should know before relying on a figure: every warning of the program, with the measures that it names, its
//! words, and what can be the cause. Rooms raise them; outputs show them, and group them by kind.

use crate::photo::{Misfit, Processing};
use crate::record::{Side, Stage};
use crate::refusal::Refusal;
use serde::{Serialize, Serializer};
use std::path::PathBuf;

/// What can be behind a warning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Cause {
    /// What the job file says, or leaves out.
    Job,
    /// Which photos were taken, and of what.
    Photos,
    /// What moves the beam: the range adjuster itself.
    Adjuster,
    /// The hand pump: how it was worked, and its gauge.
    Pump,
    /// The system file.
    System,
    /// How a photo is exposed.
    Exposure,
    /// The photo is out of focus or shaken.
    Blur,
    /// A tone curve, HDR or an edit was laid over the photo.
    Tone,
    /// The photos of a bracket do not help each other.
    Bracket,
    /// The camera moved between photos.
    CameraMoved,
    /// The photo carries no time.
    Time,
    /// The marks: where they hang, how they are printed, how many are seen.
    Marks,
    /// The edge is softer or sharper than approved lamps' edges.
    Sharpness,
    /// The edge is not of the shape that a cut-off has.
    Shape,
    /// The edge leans.
    Lean,
    /// Light that is no lamp's of the car falls on the wall.
    OtherLight,
    /// The car's other lamp is lit.
    OtherLamp,
    /// A second edge of light, whatever throws it.
    SecondEdge,
    /// The distance from the lamp to the wall.
    Distance,
    /// What heights are counted from.
    Heights,
}

/// Which photo of a shot a warning speaks of.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum PhotoOfShot {
    /// The shot's own.
    Main,
    /// The one with the lamp off.
    LampOff,
    /// One with another exposure, as the job names it.
    Bracket(PathBuf),
}

/// A jump of the cut-off where one lamp's is straight; displayed in plain words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeJump {
    /// Height of the jump, degrees.
    pub by_deg: f64,
    /// Where it is, degrees from V-V.
    pub at_deg: f64,
    /// To which side of the lamp, as seen by who faces the wall.
    pub side: Side,
}

impl std::fmt::Display for EdgeJump {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "the cut-off jumps by {:.1} degrees, {:.0} degrees to the {} of the lamp, where one lamp's is straight",
            self.by_deg, self.at_deg, self.side
        )
    }
}

/// A warning, with the measures that its words give.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Warning {
    // Job: what the files say.
    /// Trials are recorded, but no system is named.
    TrialsWithoutSystem {
        /// How many trials.
        trials: usize,
    },
    /// The job names no tolerance table.
    NoTolerance,
    /// The job lists no shot.
    NoShots,
    /// One photo stands in the job under two names.
    SamePhoto {
        /// The photos as the job names them.
        photos: [PathBuf; 2],
    },

    // Photo: what the camera made of the light.
    // Wall: where the sheets hang.
    /// Two sheets carry one number.
    MarkSeenTwice {
        /// The number.
        id: u32,
    },
    /// A sheet hangs elsewhere than in the bay file.
    MarkMisplaced {
        /// Its number.
        id: u32,
        /// How far to the right and up.
        offset_mm: [f64; 2],
    },
    /// Sheets hang elsewhere than in the bay file, as other photos show.
    MarksMisplacedElsewhere {
        /// Their numbers.
        ids: Vec<u32>,
    },
    /// A sheet was moved between the photos.
    MarkMoved {
        /// Its number.
        id: u32,
        /// How far to the right and up of where the other photos have it.
        offset_mm: [f64; 2],
    },
    /// Several sheets hang otherwise than in the first photos.
    SheetsRehung,
    /// The sheets' size and their distances from one another do not go together.
    SheetSize {
        /// The size over the size in the bay file, less 1.
        excess: f64,
    },
    /// Few marks hold the view.
    FewMarks {
        /// How many.
        used: usize,
    },
    /// The marks' ink and paper do not keep one ratio.
    ToneBent {
        /// The power by which ink follows paper; 1 where they keep it.
        exponent: f64,
    },
    /// The marks' ink is too bright or too dark for a print.
    InkUnusual {
        /// Ink over paper.
        ratio: f64,
    },
    /// The file shows that its picture is not the camera's plain one.
    Processed {
        /// The photo.
        photo: PhotoOfShot,
        /// What was done to it.
        sign: Processing,
    },
    /// The exposure of the photo with the lamp off is not in the files.
    LampOffExposureUnknown,
    /// A bracket that cannot be read.
    BracketUnreadable {
        /// Why; it names the file.
        refusal: Refusal,
    },
    /// A bracket that is the same file as another photo of the shot.
    BracketTwice {
        /// The bracket.
        bracket: PathBuf,
        /// The other photo.
        other: PathBuf,
    },
    /// A bracket of another size than the shot's photo.
    BracketSize {
        /// The bracket.
        bracket: PathBuf,
        /// Its width and height, px.
        size_px: [usize; 2],
        /// Those of the shot's photo, px.
        main_size_px: [usize; 2],
    },
    /// A bracket with the exposure of another photo of the shot.
    BracketAddsLittle {
        /// The bracket.
        bracket: PathBuf,
    },
    /// A photo of the shot that must not be merged with the others.
    NotMerged {
        /// The photo.
        photo: PathBuf,
        /// Why.
        why: Misfit,
    },
    /// The exposure of one photo against another was taken from what both show.
    ExposureFromLight {
        /// The photo.
        photo: PathBuf,
        /// The other one.
        base: PathBuf,
        /// Light of the photo over that of the other one.
        ratio: f64,
    },
    /// Two photos share too few marks to tell whether the camera moved; their light says that it did not.
    PlaceFromLight {
        /// The photo.
        photo: PathBuf,
        /// The other one.
        base: PathBuf,
    },
    /// Photos that time a leak-down carry no time.
    UntimedLeakDown {
        /// The first of them.
        first: PathBuf,
        /// How many more.
        more: usize,
    },
    /// Photos from before and after the repair carry no time.
    UntimedStages {
        /// The first of them.
        first: PathBuf,
        /// How many more.
        more: usize,
    },
    /// The camera moved between the photos of a series.
    CameraMoved {
        /// The lamp.
        lamp: Side,
        /// Before or after the repair, where the job says.
        stage: Option<Stage>,
        /// How far at the most, mm.
        moved_mm: f64,
    },

    // Cut-off and aim: the edge of the light.
    /// The edge is softer or sharper than those of approved lamps.
    Sharpness {
        /// Sharpness G.
        sharpness_g: f64,
    },
    /// The flat part is bent.
    Bent {
        /// Linearity, degrees.
        linearity_deg: f64,
    },
    /// The flat part leans.
    Leans {
        /// Its angle against the wall's horizontal, degrees, positive when the right end is higher.
        tilt_deg: f64,
    },
    /// The photo is blurred so far that the reading may suffer.
    Blurred {
        /// Blur as seen from the lamp, one standard deviation, degrees.
        blur_deg: f64,
    },
    /// The dark side is hardly darker than the bright one.
    LittleContrast {
        /// Fall of the light, decades.
        step_decades: f64,
    },
    /// The light below the edge is brightest beside its place under the lamp.
    BrightestAside {
        /// How far, degrees.
        off_deg: f64,
        /// To which side, as seen by who faces the wall.
        side: Side,
    },
    /// The light below the edge has two bright places.
    TwoBrightPlaces {
        /// How much brighter they are than what lies between, per cent.
        brighter_percent: f64,
    },
    /// A faint edge runs on below a kick.
    EdgeBelowKick,
    /// The cut-off jumps.
    Jumps(EdgeJump),
    /// The lamp stands so near that its pattern may not have formed.
    NearWall {
        /// From the lamp to the wall, mm.
        distance_mm: f64,
    },
    /// Heights are from a level line, and the lamp's height above the ground is not given.
    NoMountingHeight,
    // Adjuster: what moves the beam.
    /// The job expects something of a position of which no photo gave a figure.
    ExpectedPositionUnread {
        /// The position.
        position: String,
    },
    /// The vacuum falls from one photo to the next, and the job names no branch.
    VacuumFallsUnnamed,
    /// Vacuum does not move the beam.
    StillUnderVacuum,
    /// Whether vacuum moves the beam is not known.
    MovementUnderVacuumUnknown,
    /// Too few readings for a curve.
    TooFewVacuums {
        /// How many readings.
        readings: usize,
        /// At how many different vacuums.
        vacuums: usize,
        /// How many readings a curve takes.
        least: usize,
    },
    /// No curve could be fitted.
    NoCurve,
    /// The movement sticks and slips.
    StickSlip {
        /// Between which vacuums the beam stands still, mbar.
        still_mbar: [f64; 2],
        /// Between which it jumps, mbar.
        jump_mbar: [f64; 2],
        /// By how much it jumps, per cent.
        jump_percent: f64,
        /// What would be that step's share, per cent.
        share_percent: f64,
    },
    /// Vacuum moves the beam the other way than the system file says.
    PolarityAgainstSystem {
        /// Whether vacuum raises the beam.
        raises: bool,
    },
    /// Vacuum lowers the beam, so that it comes up when vacuum is lost.
    VacuumLowersBeam,
    /// No photo shows the beam without vacuum.
    NoReadingAtRest,
    /// The readings scatter about the curve more than they should.
    ResponseScatters {
        /// How many times as much.
        factor: f64,
    },
    /// The branches lie the wrong way round.
    BranchesExchanged,
    /// Photos of a leak-down without a time.
    LeakDownUntimed {
        /// How many.
        photos: usize,
    },
    /// The beam creeps as its response to vacuum does not explain.
    CreepUnexplained,
    /// A leak-down is read through a response without its releasing branch.
    ResponseWithoutReleasing,
    /// The beam of a leak-down does not follow one smooth course.
    CourseUneven,
    // Isolation: what the trials say.
    /// A component that no test needs.
    ComponentUntested {
        /// The component.
        component: String,
    },
    /// Two components that the same tests need.
    ComponentsAlike {
        /// The components.
        components: [String; 2],
    },
    /// A trial under the running engine that is said to creep back.
    CreepUnderEngine {
        /// Number of the trial in the job, from 1.
        trial: usize,
        /// Its test.
        test: String,
    },
    /// A trial's photos show the beam going the way that vacuum does not move it.
    TrialWrongWay {
        /// The test.
        test: String,
        /// The photo of the beam at rest.
        still: PathBuf,
        /// The photo of the beam driven.
        driven: PathBuf,
        /// Whether the beam went down.
        down: bool,
    },
    /// Readings at positions that would count as a test of which there is a trial.
    PositionsBesideTrial {
        /// The test.
        test: String,
    },
    /// Readings at positions that are too few to count as a test.
    TooFewPositions {
        /// The test.
        test: String,
        /// Its lamp.
        lamp: Side,
    },
}

impl Warning {
    /// What can be behind it; more than one where the photo cannot tell.
    #[must_use]
    pub fn causes(&self) -> &'static [Cause] {
        match self {
            Self::TrialsWithoutSystem { .. } | Self::NoTolerance | Self::NoShots | Self::SamePhoto { .. } => {
                &[Cause::Job]
            }
            Self::MarkMisplaced { .. } | Self::MarksMisplacedElsewhere { .. } | Self::SheetSize { .. } => {
                &[Cause::Marks]
            }
            Self::MarkSeenTwice { .. } | Self::MarkMoved { .. } | Self::SheetsRehung | Self::FewMarks { .. } => {
                &[Cause::Marks]
            }
            Self::ToneBent { .. } | Self::InkUnusual { .. } => &[Cause::Tone],
            Self::ExpectedPositionUnread { .. } | Self::PositionsBesideTrial { .. } | Self::CreepUnderEngine { .. } => {
                &[Cause::Job]
            }
            Self::VacuumFallsUnnamed | Self::BranchesExchanged | Self::TrialWrongWay { .. } => &[Cause::Job],
            Self::MovementUnderVacuumUnknown
            | Self::TooFewVacuums { .. }
            | Self::NoReadingAtRest
            | Self::ResponseWithoutReleasing
            | Self::LeakDownUntimed { .. }
            | Self::TooFewPositions { .. } => &[Cause::Photos],
            Self::NoCurve => &[Cause::Job, Cause::Adjuster],
            Self::StillUnderVacuum | Self::StickSlip { .. } | Self::VacuumLowersBeam => &[Cause::Adjuster],
            Self::PolarityAgainstSystem { .. } => &[Cause::Job, Cause::Adjuster],
            Self::ResponseScatters { .. } => &[Cause::Pump, Cause::Adjuster],
            Self::CreepUnexplained | Self::CourseUneven => &[Cause::Pump, Cause::Adjuster, Cause::Job],
            Self::ComponentUntested { .. } | Self::ComponentsAlike { .. } => &[Cause::System],
            Self::Processed {
                sign: Processing::SyntheticBlur,
                ..
            } => &[Cause::Blur, Cause::Tone],
            Self::Processed { .. } => &[Cause::Tone],
            Self::LampOffExposureUnknown => &[Cause::Exposure],
            Self::BracketUnreadable { .. } | Self::BracketTwice { .. } | Self::BracketSize { .. } => &[Cause::Bracket],
            Self::BracketAddsLittle { .. } | Self::ExposureFromLight { .. } => &[Cause::Bracket, Cause::Exposure],
            Self::PlaceFromLight { .. } => &[Cause::Bracket, Cause::Marks],
            Self::NotMerged { why, .. } => match why {
                Misfit::MarksApart { .. } => &[Cause::Bracket, Cause::Marks],
                Misfit::NothingShared { .. } | Misfit::ExposureUnknown => &[Cause::Bracket, Cause::Exposure],
                Misfit::Shifted { .. } => &[Cause::Bracket, Cause::CameraMoved],
                Misfit::PlaceUnknown { .. } => &[Cause::Bracket, Cause::Marks, Cause::Exposure],
                Misfit::RatioVaries { .. } | Misfit::RatioOff { .. } => &[Cause::Bracket, Cause::Tone],
            },
            Self::UntimedLeakDown { .. } | Self::UntimedStages { .. } => &[Cause::Time],
            Self::CameraMoved { .. } => &[Cause::CameraMoved],
            Self::Sharpness { .. } => &[Cause::Sharpness],
            Self::Bent { .. } => &[Cause::Shape],
            Self::Leans { .. } => &[Cause::Lean, Cause::OtherLamp, Cause::OtherLight],
            Self::Blurred { .. } => &[Cause::Blur],
            Self::LittleContrast { .. } => &[Cause::OtherLight],
            Self::BrightestAside { .. } | Self::Jumps(_) => &[Cause::OtherLamp],
            Self::TwoBrightPlaces { .. } => &[Cause::OtherLamp, Cause::OtherLight],
            Self::EdgeBelowKick => &[Cause::OtherLamp, Cause::SecondEdge],
            Self::NearWall { .. } => &[Cause::Distance],
            Self::NoMountingHeight => &[Cause::Heights],
        }
    }
}

/// What mends a photo that was processed.
const UNPROCESSED: &str =
    "take it without HDR, night mode, filters or automatic enhancement, and give the camera's own file, unedited";

impl std::fmt::Display for Warning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        const AS_WRITTEN: &str = "give the files as the camera wrote them, not as a message or an editor sent them on";
        match self {
            Self::TrialsWithoutSystem { trials } => write!(
                f,
                "{trials} trials are recorded, but the job names no system, so that nothing follows from them; add system = \
                 \"NAME\""
            ),
            Self::NoTolerance => f.write_str("the job names no tolerance table, so there are no verdicts"),
            Self::NoShots => f.write_str("the job lists no [[shot]] yet; add one for each photo"),
            Self::SamePhoto {
                photos: [first, second],
            } => write!(
                f,
                "{} and {} are the same photo under two names; each photo shows one state of the car, so one is wrong",
                first.display(),
                second.display()
            ),
            Self::MarkSeenTwice { id } => write!(
                f,
                "mark {id} is seen in two places, so neither was used; take the second sheet with this number away"
            ),
            Self::MarkMisplaced {
                id,
                offset_mm: [right_mm, up_mm],
            } => write!(
                f,
                "mark {id} hangs {right_mm:.0} mm to the right of and {up_mm:.0} mm above its place in the bay file (negative: left, \
                 below) and was not used; measure it again"
            ),
            Self::MarksMisplacedElsewhere { ids } => {
                let ids: Vec<String> = ids.iter().map(u32::to_string).collect();
                write!(
                    f,
                    "mark {} hangs elsewhere than in the bay file, as other photos of the job show, and was not used; measure it \
                     again",
                    ids.join(", ")
                )
            }
            Self::MarkMoved {
                id,
                offset_mm: [right_mm, up_mm],
            } => write!(
                f,
                "mark {id} lies {right_mm:.1} mm to the right of and {up_mm:.1} mm above where the job's other photos have it \
                 (negative: left, below) and was not used in this one; leave the sheets alone between the photos, and press them \
                 flat"
            ),
            Self::SheetsRehung => f.write_str(
                "several sheets hang otherwise than in the job's first photos, as if they had been taken down and put up again; \
                 the photo was read without those, and a travel between them is less certain. Leave the sheets alone between \
                 the photos of a job",
            ),
            Self::SheetSize { excess } => write!(
                f,
                "the sheets look {:.1} % of the size that their distances from one another say: either they were not printed at \
                 100 %, or the distances were measured wrong. Measure a black square and the places of the centres again before \
                 you rely on the figures",
                100.0 * (1.0 + excess)
            ),
            Self::FewMarks { used } => write!(
                f,
                "only {used} marks were used; four or more, not all on one line, hold the view better"
            ),
            Self::ToneBent { exponent } => write!(
                f,
                "black and white of the marks do not keep one ratio from the dark sheets to the bright ones (it goes by the power \
                 {exponent:.2}, not 1): a tone curve, HDR or an edit was laid over this photo, and the reading may be off by more \
                 than its u95; {UNPROCESSED}"
            ),
            Self::InkUnusual { ratio } => write!(
                f,
                "the marks' black is {:.1} % of their white; prints have 3.3 to 13 %: a tone curve, HDR or an edit may have been \
                 laid over this photo, and the reading may be off by more than its u95; {UNPROCESSED}",
                100.0 * ratio
            ),
            Self::ExpectedPositionUnread { position } => write!(
                f,
                "adjuster.expected names position {position}, of which no photo gave a figure"
            ),
            Self::VacuumFallsUnnamed => f.write_str(
                "the vacuum falls from one photo to the next, and the job does not say so: give branch = \"releasing\" to \
                 those photos, or their hysteresis counts as scatter",
            ),
            Self::StillUnderVacuum => {
                f.write_str("the beam does not move with vacuum, so that there is no response to fit")
            }
            Self::MovementUnderVacuumUnknown => f.write_str(
                "it cannot be told whether the beam moves with vacuum: take photos from 0 mbar to the pump's highest vacuum",
            ),
            Self::TooFewVacuums {
                readings,
                vacuums,
                least,
            } => write!(
                f,
                "{readings} readings at {vacuums} vacuums do not hold a curve: take at least {least}, better 8, from 0 mbar \
                 up, and the same down again"
            ),
            Self::NoCurve => f.write_str(
                "no curve could be fitted; look whether a photo stands at the wrong vacuum in the job file",
            ),
            Self::StickSlip {
                still_mbar,
                jump_mbar,
                jump_percent,
                share_percent,
            } => write!(
                f,
                "stick-slip: from {:.0} to {:.0} mbar the beam stands still, from {:.0} to {:.0} mbar it jumps by \
                 {jump_percent:.2} % where {share_percent:.2} % would be its share; look for a joint that binds",
                still_mbar[0], still_mbar[1], jump_mbar[0], jump_mbar[1]
            ),
            Self::PolarityAgainstSystem { raises } => write!(
                f,
                "vacuum {} the beam, and the system file says the opposite: check which system it is, and that the \
                 vacuums in the job are those of their photos",
                if *raises { "raises" } else { "lowers" }
            ),
            Self::VacuumLowersBeam => f.write_str(
                "vacuum lowers the beam, so that it comes up when vacuum is lost: on a failure the beam must not come up \
                 (UN R48 and 76/756/EEC, from memory)",
            ),
            Self::NoReadingAtRest => f.write_str(
                "no photo shows the beam without vacuum, so that the dead band cannot be told; add one at 0 mbar",
            ),
            Self::ResponseScatters { factor } => write!(
                f,
                "the readings scatter about the curve {factor:.1} times as much as their uncertainties say, and the \
                 intervals were widened by that; the gauge may be coarser than vacuum_sd, or the movement not smooth"
            ),
            Self::BranchesExchanged => f.write_str(
                "released, the beam lies behind where it was when vacuum was applied, which friction cannot do; are the \
                 branches in the job file exchanged?",
            ),
            Self::LeakDownUntimed { photos } => write!(
                f,
                "{photos} photos with the pump's valve shut carry no time (EXIF) and are left out; give the files as the \
                 camera wrote them"
            ),
            Self::CreepUnexplained => f.write_str(
                "the beam creeps in a way that the lamp's response to vacuum does not explain, so that the response is left \
                 out: the pump was worked in between, something was changed after the response was photographed, or a photo \
                 stands in the wrong series",
            ),
            Self::ResponseWithoutReleasing => f.write_str(
                "the response was photographed only while vacuum was applied; with hysteresis the beam answers a loss later \
                 than these figures assume: add photos with branch = \"releasing\"",
            ),
            Self::CourseUneven => f.write_str(
                "the beam does not follow one smooth course: it may stick, or the pump was worked in between, or a photo \
                 stands in the wrong series",
            ),
            Self::ComponentUntested { component } => write!(
                f,
                "no test needs the component \"{component}\", so that none can tell whether it is at fault; add such a \
                 test, or take the component out"
            ),
            Self::ComponentsAlike {
                components: [first, second],
            } => write!(
                f,
                "the components \"{first}\" and \"{second}\" are needed by the same tests, so that none can tell one from \
                 the other; add a test that needs only one of them"
            ),
            Self::CreepUnderEngine { trial, test } => write!(
                f,
                "trial {trial}, {test}: nothing can creep back while the engine keeps pulling; a beam that does not keep its \
                 height counts as no"
            ),
            Self::TrialWrongWay {
                test,
                still,
                driven,
                down,
            } => write!(
                f,
                "{test}: from {} to {} the beam went {}, and in this system vacuum moves it the other way; were still and \
                 driven swapped?",
                still.display(),
                driven.display(),
                if *down { "down" } else { "up" }
            ),
            Self::PositionsBesideTrial { test } => write!(
                f,
                "{test}: the job has a trial of it, so that the readings at positions are not counted as another"
            ),
            Self::TooFewPositions { test, lamp } => write!(
                f,
                "{test}: the {lamp} lamp has no readings at two positions of the range control before the repair, so that \
                 none count as this test"
            ),
            Self::Processed { photo, sign } => match photo {
                PhotoOfShot::Main => write!(f, "{sign}"),
                PhotoOfShot::LampOff => write!(f, "lamp-off photo: {sign}"),
                PhotoOfShot::Bracket(bracket) => write!(f, "bracket {}: {sign}", bracket.display()),
            },
            Self::LampOffExposureUnknown => {
                f.write_str("the lamp-off photo's exposure is unknown; it was taken to be that of the lit photo")
            }
            Self::BracketUnreadable { refusal } => write!(f, "bracket left out: {}", refusal.message),
            Self::BracketTwice { bracket, other } => write!(
                f,
                "bracket {} left out: it is the same file as {}; add a photo with another exposure",
                bracket.display(),
                other.display()
            ),
            Self::BracketSize {
                bracket,
                size_px: [width, height],
                main_size_px: [main_width, main_height],
            } => write!(
                f,
                "bracket {} left out: it is {width} x {height} px, the shot's photo {main_width} x {main_height} px; take both with the \
                 same camera, held the same way, without zoom",
                bracket.display()
            ),
            Self::BracketAddsLittle { bracket } => write!(
                f,
                "bracket {} adds little: its exposure is that of another photo of the shot; vary it by 2 EV",
                bracket.display()
            ),
            Self::NotMerged { photo, why } => write!(f, "{} is not merged: {why}", photo.display()),
            Self::ExposureFromLight { photo, base, ratio } => write!(
                f,
                "the exposure of {} against that of {} is not in the files; it was taken from what both show, {ratio:.3} times",
                photo.display(),
                base.display()
            ),
            Self::PlaceFromLight { photo, base } => write!(
                f,
                "{} shares fewer than two readable marks with {}; it is taken to be from the very same place, as the light that both \
                 show confirms",
                photo.display(),
                base.display()
            ),
            Self::UntimedLeakDown { first, more } => write!(
                f,
                "{}, and a leak-down with the pump's valve shut is timed by it; {AS_WRITTEN}",
                untimed(first, *more)
            ),
            Self::UntimedStages { first, more } => write!(
                f,
                "{}, so that only the job file says which are from before the repair and which from after it; {AS_WRITTEN}",
                untimed(first, *more)
            ),
            Self::CameraMoved { lamp, stage, moved_mm } => {
                let stage = stage.map(|stage| format!(", {stage} the repair")).unwrap_or_default();
                write!(
                    f,
                    "the camera moved by up to {:.1} m between the photos of the {lamp} lamp{stage}: allowed, but a tripod gives a \
                     steadier travel",
                    moved_mm / 1000.0
                )
            }
            Self::Sharpness { sharpness_g } => write!(
                f,
                "sharpness G = {sharpness_g:.3}; approved lamps have 0.13 to 0.40 (UN R112). A worn reflector or lens, or a bulb that sits wrong, looks like this"
            ),
            Self::Bent { linearity_deg } => write!(
                f,
                "the cut-off is bent: linearity {linearity_deg:.2} degrees; approved lamps keep to 0.2 (UN R112)"
            ),
            Self::Leans { tilt_deg } => write!(
                f,
                "the cut-off leans by {tilt_deg:.1} degrees; check the lamp's seat and the wall's level, and that neither the other lamp nor other \
                 light falls on the wall: what leans may not be this lamp's edge"
            ),
            Self::Blurred { blur_deg } => write!(
                f,
                "the photo is blurred by {blur_deg:.2} degrees as seen from the lamp, which softens and shifts the cut-off; hold the camera on something \
                 firm and focus on a mark"
            ),
            Self::LittleContrast { .. } => f.write_str(
                "the dark side is less than twenty-five times darker than the bright one: other light may fall on the wall, and drags the \
                 reading down; darken the room, or add a photo with the lamp off (lamp_off)",
            ),
            Self::BrightestAside { off_deg, side } => write!(
                f,
                "the light below the edge is brightest {off_deg:.1} degrees to the {side} of the lamp: is the other lamp lit too? Cover it and take the \
                 photo again; else check centre_x_mm, the traffic side and the lamp's lateral aim"
            ),
            Self::TwoBrightPlaces { brighter_percent } => write!(
                f,
                "the light below the edge has two bright places, {brighter_percent:.0} % brighter than what lies between: is the other lamp lit too, or does other \
                 light fall on the wall? Cover the other lamp and take the photo again"
            ),
            Self::EdgeBelowKick => f.write_str(
                "a faint second edge of light runs on near the cut-off's height where the cut-off itself has risen: is the other lamp lit too? Cover it \
                 and take the photo again",
            ),
            Self::Jumps(jump) => write!(f, "{jump}: is the other lamp lit too? Cover it and take the photo again"),
            Self::NearWall { .. } => f.write_str(
                "the lamp is nearer than 5 m to the wall: its pattern may not have formed; 7.5 to 10 m is better",
            ),
            Self::NoMountingHeight => f.write_str(
                "heights are from a level line: the tolerance row and the reach take the lamp's centre height as its height above the ground; \
                 give mounting_height_mm where that is not so",
            ),
        }
    }
}

/// That `first` and so many more photos carry no time.
fn untimed(first: &std::path::Path, more: usize) -> String {
    match more {
        0 => format!("{}: the photo carries no time (EXIF)", first.display()),
        n => format!("{} and {n} more: the photos carry no time (EXIF)", first.display()),
    }
}

/// In outputs for machines a warning is its words.
impl Serialize for Warning {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a warning's words must hold for a cause that it gives.
    fn words_of(cause: Cause) -> &'static [&'static str] {
        match cause {
            Cause::Job => &["job", "photo"],
            Cause::Exposure => &["expos"],
            Cause::Blur => &["blur"],
            Cause::Tone => &["tone", "HDR", "joined"],
            Cause::Bracket => &["bracket", "merged", "against that of", "shares fewer"],
            Cause::CameraMoved => &["camera moved"],
            Cause::Time => &["no time"],
            Cause::Marks => &["mark"],
            Cause::Sharpness => &["sharpness"],
            Cause::Shape => &["bent"],
            Cause::Lean => &["leans"],
            Cause::OtherLight => &["other light"],
            Cause::OtherLamp => &["other lamp"],
            Cause::SecondEdge => &["second edge"],
            Cause::Distance => &["nearer than"],
            Cause::Heights => &["height"],
            Cause::Photos => &["photo", "reading"],
            Cause::Adjuster => &["beam", "movement", "readings", "curve"],
            Cause::Pump => &["pump", "gauge"],
            Cause::System => &["component"],
        }
    }

    #[test]
    fn words_speak_of_each_cause_that_is_given() {
        let (photo, base) = (|| PathBuf::from("a.jpg"), || PathBuf::from("b.jpg"));
        let merged = |why| Warning::NotMerged { photo: photo(), why };
        let processed = |sign| Warning::Processed {
            photo: PhotoOfShot::Main,
            sign,
        };
        let jump = EdgeJump {
            by_deg: 0.2,
            at_deg: 6.0,
            side: Side::Left,
        };
        for warning in [
            Warning::SamePhoto {
                photos: [photo(), base()],
            },
            processed(Processing::MergedExposures),
            processed(Processing::GainMap),
            processed(Processing::Panorama),
            processed(Processing::SyntheticBlur),
            processed(Processing::ToneCurve { light: 0.5 }),
            processed(Processing::UnreadCurve),
            Warning::LampOffExposureUnknown,
            Warning::BracketTwice {
                bracket: photo(),
                other: base(),
            },
            Warning::BracketAddsLittle { bracket: photo() },
            merged(Misfit::MarksApart {
                rms_px: 2.0,
                base: base(),
            }),
            merged(Misfit::NothingShared { base: base() }),
            merged(Misfit::Shifted {
                shift_px: 3.0,
                base: base(),
            }),
            merged(Misfit::PlaceUnknown { base: base() }),
            merged(Misfit::RatioVaries {
                in_dark: 1.0,
                in_bright: 2.0,
            }),
            merged(Misfit::RatioOff {
                by_light: 1.0,
                by_exif: 2.0,
            }),
            merged(Misfit::ExposureUnknown),
            Warning::ExposureFromLight {
                photo: photo(),
                base: base(),
                ratio: 2.0,
            },
            Warning::PlaceFromLight {
                photo: photo(),
                base: base(),
            },
            Warning::UntimedLeakDown {
                first: photo(),
                more: 0,
            },
            Warning::CameraMoved {
                lamp: Side::Left,
                stage: None,
                moved_mm: 700.0,
            },
            Warning::Sharpness { sharpness_g: 0.1 },
            Warning::Bent { linearity_deg: 0.3 },
            Warning::Leans { tilt_deg: 2.0 },
            Warning::Blurred { blur_deg: 0.05 },
            Warning::LittleContrast { step_decades: 1.2 },
            Warning::BrightestAside {
                off_deg: 3.0,
                side: Side::Right,
            },
            Warning::TwoBrightPlaces { brighter_percent: 12.0 },
            Warning::EdgeBelowKick,
            Warning::Jumps(jump),
            Warning::NearWall { distance_mm: 4_000.0 },
            Warning::NoMountingHeight,
        ] {
            let said = warning.to_string();
            assert!(!warning.causes().is_empty(), "{said}");
            for &cause in warning.causes() {
                let words = words_of(cause);
                assert!(words.iter().any(|word| said.contains(word)), "{cause:?}: {said}");
            }
            assert_eq!(serde_json::to_value(&warning).unwrap(), said);
        }
    }
}
