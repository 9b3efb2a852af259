//! What one should know before relying on a figure: every warning of the program, with the measures that it names, its
//! words, and what can be the cause. Rooms raise them; outputs show them, and group them by kind.

mod grouped;

pub use grouped::Group;

use crate::cutoff::APPROVED_SHARPNESS;
use crate::language::{Language, Said, said};
use crate::photo::{Misfit, Processing};
use crate::record::{Lamp, Pattern, Side, Stage, Traffic};
use crate::refusal::Refusal;
use crate::report::text::date;
use crate::report::words::listed;
use grouped::{Span, place, span};
use serde::{Deserialize, Serialize, Serializer};
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
    /// The car does not stand square to the wall, or the lamp aims sideways.
    Askew,
    /// Light that is no lamp's of the car falls on the wall.
    OtherLight,
    /// The car's other lamp is lit.
    OtherLamp,
    /// A second edge of light, whatever throws it.
    SecondEdge,
    /// What the wall itself is like: paint, a ledge, a pipe.
    Wall,
    /// The distance from the lamp to the wall.
    Distance,
    /// What heights are counted from.
    Heights,
}

/// Which photo of a shot a warning speaks of.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Deserialize, Serialize)]
pub enum PhotoOfShot {
    /// The shot's own.
    Main,
    /// The one with the lamp off.
    LampOff,
    /// One with another exposure, as the job names it.
    Bracket(PathBuf),
}

/// A jump of the cut-off where one lamp's is straight.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct EdgeJump {
    /// Height of the jump, degrees.
    pub by_deg: f64,
    /// Where it is, degrees from V-V.
    pub at_deg: f64,
    /// To which side of the lamp, as seen by who faces the wall.
    pub side: Side,
}

impl EdgeJump {
    /// What was seen, in plain words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        said!(
            language;
            "the cut-off jumps by {} degrees, {:.0} degrees to the {} of the lamp, where one lamp's is straight",
            "die Hell-Dunkel-Grenze springt um {} Grad, {:.0} Grad {} vom Scheinwerfer, wo die eines einzelnen Scheinwerfers gerade ist";
            language.figure(&format!("{:.1}", self.by_deg)),
            self.at_deg,
            self.side.said(language)
        )
    }
}

/// What it means of photos of one lamp, without the pump and from after a repair, that it was set or mended once more between two of them.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Serialize)]
pub struct SetBetween {
    /// The photos that show the lamp as it was before that; none where their times do not tell.
    pub older: Vec<PathBuf>,
    /// Whether the job has a later repair that concerns the lamp.
    pub is_entered: bool,
}

impl SetBetween {
    /// Its words, behind the question whether anything was moved.
    fn said(&self, language: Language) -> String {
        let older: Vec<String> = self.older.iter().map(|photo| photo.display().to_string()).collect();
        let entered = if self.is_entered {
            language.pick(
                "The job has a later repair. If it lies between them,",
                "Der Auftrag hat eine spätere Reparatur. Liegt sie dazwischen,",
            )
        } else {
            language.pick(
                "If the lamp was set or mended between them, enter that as a repair;",
                "Wurde der Scheinwerfer dazwischen eingestellt oder instand gesetzt, das als Reparatur eintragen;",
            )
        };
        let which = match older.as_slice() {
            [] => said!(
                language;
                "all photos of this lamp without the pump from before that",
                "dann alle Fotos dieses Scheinwerfers ohne Pumpe von davor"
            ),
            _ => said!(
                language; "all older photos of this lamp without the pump ({})",
                "dann alle älteren Fotos dieses Scheinwerfers ohne Pumpe ({})"; listed(language, &older)
            ),
        };
        said!(
            language;
            "{entered} {which} show another state, not only the one that differs: take all of them out of the job, and photograph the lamp's \
             positions again",
            "{entered} {which} aus dem Auftrag herausnehmen, nicht nur das abweichende, denn sie zeigen einen anderen Zustand, und die Stellungen \
             des Scheinwerfers neu fotografieren"
        )
    }
}

/// A warning, with the measures that its words give.
#[derive(Debug, Clone, PartialEq, strum::IntoStaticStr, Deserialize, Serialize)]
#[strum(serialize_all = "kebab-case")]
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
    /// The tolerance table means the cut-off on the side of the lamp on which it is not read.
    TableForOtherSide {
        /// Name of the table.
        table: String,
        /// The side that the table means.
        meant: Side,
    },
    /// A lamp has photos at positions, and none at the one at which it is set.
    SettingNotShown {
        /// The lamp.
        lamp: Side,
        /// Before or after the repair, where the job says.
        stage: Option<Stage>,
        /// The positions that there are, as the job names them.
        positions: Vec<String>,
    },
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
    /// Sheets were placed in the photo by hand.
    SheetsByHand {
        /// Their numbers.
        ids: Vec<u32>,
    },
    /// Which edge is the cut-off was said by hand.
    EdgeByHand {
        /// How far above it the nearest other edge of light lies, degrees; `None` where there is no other.
        other_deg: Option<f64>,
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
    /// A part of the photo was cut off.
    Cropped {
        /// How far the lens axis lies beside its middle, per cent of its diagonal.
        aside_percent: f64,
    },
    /// Few marks hold the view.
    FewMarks {
        /// How many.
        used: usize,
    },
    /// The marks' ink and paper do not keep one ratio: a curve lies over the photo.
    ToneBent {
        /// How much steeper light rises over what the file states where it is bright than where it is dark.
        bright_over_dark: f64,
    },
    /// No single curve explains the marks' ink and paper: what lies over the photo follows the surroundings.
    ToneUneven,
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
    /// The photo with the lamp off has some of the lamp's light.
    LampInLampOff {
        /// That photo.
        photo: PathBuf,
        /// How much of the lit photo's, per cent.
        percent: f64,
    },
    /// A photo of the wall by the room's light that cannot be used.
    WallPhotoUnused {
        /// The photo.
        photo: PathBuf,
        /// Why, and how to mend it.
        why: Said,
    },
    /// A photo that should show the wall by the room's light shows the lamp lit.
    WallPhotoLit {
        /// The photo.
        photo: PathBuf,
    },
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
    /// The job gives another time than EXIF.
    TypedTimeAgainstExif {
        /// The job's, ISO 8601.
        typed: String,
        /// EXIF's, ISO 8601.
        exif: String,
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
    /// A level edge of the wall's own lies near the cut-off.
    PaintNear {
        /// Its height on the wall, mm; of both edges, or more, where there are several.
        heights_mm: Vec<f64>,
    },
    /// The cut-off jumps.
    Jumps(EdgeJump),
    /// The lamp stands so near that it is no point, and its face is not known.
    NearWall {
        /// From the lamp to the wall, mm.
        distance_mm: f64,
        /// Half-width of the 95 % interval of what that does to the aim, per cent.
        u95_percent: f64,
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
    StillUnderVacuum {
        /// As far as it was pumped, mbar.
        mbar: f64,
    },
    /// The beam stands still, and it was pumped to so little that it may lie in its dead band.
    UnmovedUpTo {
        /// As far as it was pumped, mbar.
        mbar: f64,
    },
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
    /// With the pump's valve shut the beam moves in jumps and stands still between.
    JumpsWhileShut {
        /// The largest jump, per cent.
        jump_percent: f64,
    },
    /// Released, the beam does not come back to where it lay without vacuum.
    NotBackAtRest {
        /// By how much it hangs back, per cent.
        percent: f64,
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
    /// Of several repairs the file does not tell which of them the trials of the stage after follow.
    RepairsNotInTurn,
    /// A repair is of a part of one lamp, and all that failed before it of the other.
    RepairOfOtherLamp {
        /// The component.
        component: String,
        /// The lamp that it belongs to.
        lamp: Side,
    },
    /// One reading of a response lies where all others have the beam at another vacuum.
    VacuumMistyped {
        /// As typed.
        mbar: f64,
        /// Where it would lie with the others.
        fits_mbar: f64,
    },
    /// More vacuum than any pump makes.
    VacuumBeyondPumps {
        /// As typed.
        mbar: f64,
    },
    /// A gap in a leak-down is as long as where the clock was put forward.
    ClockPutForward {
        /// The two photos, as the job names them, in order of time.
        photos: [String; 2],
        /// What the clock shows between them.
        minutes: f64,
    },
    /// The gauge was typed alike at all photos of a leak-down in which the beam creeps.
    GaugeSteady {
        /// What it showed.
        mbar: f64,
    },
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
    /// Of one trial beam and gauge cannot both be as they are written.
    GaugeAgainstBeam {
        /// Number of the trial in the job, from 1.
        trial: usize,
        /// Its test.
        test: String,
        /// The beam crept back, while the gauge held; else it moved, while the gauge would not rise.
        creeps: bool,
    },
    /// Trials are of after the repair, and which part was mended is not known.
    RepairNotEntered {
        /// So much was found before, and does not count for the car as it is.
        before: usize,
        /// A repair is entered, without its component.
        named: bool,
    },
    /// A beam was driven and did not come back.
    BeamStaysHigh {
        /// Number of the trial in the job, from 1.
        trial: usize,
        /// Its test.
        test: String,
    },
    /// A beam that the pump drove surely stays there with the vacuum let go.
    BeamStaysDriven {
        /// Which series, where the job names it.
        series: Option<String>,
        /// The highest vacuum, mbar.
        mbar: f64,
        /// Its way, per cent, positive downward.
        percent: f64,
        /// What of that is left at none, per cent.
        kept_percent: f64,
    },
    /// The same as a warning of what was found so far: photos under the pump left it up there.
    BeamLeftHigh {
        /// The test that the photos stand for.
        test: String,
    },
    /// Under the control a beam stands at every position where the pump's vacuum drives it.
    StandsDriven {
        /// The test that the photos at positions stand for.
        test: String,
        /// The lamp.
        lamp: Side,
        /// The vacuum that holds it there under the pump, mbar.
        mbar: f64,
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
    /// A leak that photos with the valve shut show, and that counts for no test.
    LeakNotWeighed {
        /// At which lamp.
        lamp: Side,
        /// Whether it is of the car after a repair.
        after: bool,
    },
    /// A trial's photos were taken with so little vacuum that a beam that stands still says nothing: it does not count.
    TrialPumpedLow {
        /// The test.
        test: String,
        /// The photo of the beam driven.
        driven: PathBuf,
        /// What the gauge showed at it, mbar.
        mbar: f64,
    },
    /// Readings at positions that would count as a test of which there is a trial.
    PositionsBesideTrial {
        /// The test.
        test: String,
    },
    /// Photos that say otherwise of a test than a trial that is written down.
    PhotosAgainstTrial {
        /// The test.
        test: String,
        /// Whether they are of positions of the control; else they are under a pump.
        positions: bool,
    },
    /// Photos that show a leak too slow for the test's minute, beside a trial in which the beam stayed.
    LeakOutlastsTest {
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

    // Contradictions: what photos say against each other, or against the job.
    /// Two photos of one lamp, stage and position, or vacuum and branch, differ by more than chance.
    RepeatsDiffer {
        /// The photos.
        photos: [PathBuf; 2],
        /// Inclination of the second less that of the first, per cent.
        difference_percent: f64,
        /// Half-width of its 95 % interval, per cent.
        u95_percent: f64,
        /// Of photos without the pump from after a repair: what a later one between them would mean.
        set_between: Option<SetBetween>,
    },
    /// Photos of one lamp's positions from after a repair lie in two bouts, between which a later repair may lie.
    TravelAcrossRepair {
        /// The lamp.
        lamp: Side,
        /// The photos of the first bout.
        older: Vec<PathBuf>,
        /// Those of the second.
        newer: Vec<PathBuf>,
        /// From the last of the first to the first of the second, minutes.
        apart_min: f64,
    },
    /// A photo from after the repair is older than one from before it.
    StagesAgainstClock {
        /// The lamp.
        lamp: Side,
        /// The photo said to be from before.
        before: PathBuf,
        /// The older one, said to be from after.
        after: PathBuf,
    },
    /// The day of the repair lies before a photo from before it, or behind one from after it.
    RepairAgainstClock {
        /// The day that the job gives, ISO 8601.
        repaired: String,
        /// The photo.
        photo: PathBuf,
        /// What the job says of it.
        stage: Stage,
        /// The day on which it was taken, ISO 8601.
        taken: String,
    },
    /// The elbow lies elsewhere on the wall after the repair than before.
    ElbowJumped {
        /// The lamp.
        lamp: Side,
        /// How far it lies to the right, mm.
        right_mm: f64,
    },
    /// Some photos are copies made smaller, others the camera's own.
    Copies {
        /// The copies.
        photos: Vec<PathBuf>,
    },
    /// The edge is not of the pattern that the job states.
    PatternUnlike {
        /// The job's.
        stated: Pattern,
        /// What the edge plainly is.
        seen: Pattern,
    },
    /// The edge falls towards where a cut-off rises.
    EdgeFalls {
        /// The side of the road that the job says.
        traffic: Traffic,
    },

    // Entries: what was measured by tape and typed.
    /// The car's two lamps are entered as they are on no car.
    LampsUnlike {
        /// The stage that these entries hold for; `None` where they hold for all that have none of their own.
        stage: Option<Stage>,
        /// Which measure.
        measure: LampMeasure,
        /// The left lamp's, mm.
        left_mm: f64,
        /// The right lamp's, mm.
        right_mm: f64,
    },
    /// A lamp is entered at another height after the repair than before it.
    LampHeightChanged {
        /// The lamp.
        lamp: Side,
        /// Its height before the repair, mm.
        before_mm: f64,
        /// Its height after it, mm.
        after_mm: f64,
    },
    /// The lamps are entered further apart, or nearer to each other, after the repair than before it.
    LampSpacingChanged {
        /// From the left lamp to the right one before the repair, mm.
        before_mm: f64,
        /// After it, mm.
        after_mm: f64,
    },
    /// A distance at which nobody photographs a beam.
    DistanceUnlikely {
        /// The lamp.
        lamp: Side,
        /// From the lamp to the wall, mm.
        distance_mm: f64,
    },
    /// Heights are from a level line, and the lamp's cannot be one above the ground.
    GroundHeightUnlikely {
        /// The lamp.
        lamp: Side,
        /// Its height above the ground, as entered, mm.
        height_mm: f64,
    },
    /// A sheet would hang in the floor.
    SheetInFloor {
        /// Its number.
        id: u32,
        /// Height of its centre, mm.
        y_mm: f64,
    },
    /// By the sheets' heights the camera stood where no camera does.
    CameraHeightUnlikely {
        /// The first such photo.
        photo: PathBuf,
        /// Height of the camera above the floor, mm.
        height_mm: f64,
    },
    /// The cut-off lies above the lamp.
    BeamRises {
        /// Inclination, per cent; negative.
        percent: f64,
    },
    /// The cut-off lies lower than any rule lets it.
    BeamLow {
        /// Inclination, per cent.
        percent: f64,
    },
    /// The elbow lies far beside the lamp.
    ElbowAside {
        /// How far to the right, per cent of the distance.
        percent: f64,
        /// Half-width of its 95 % interval, per cent.
        u95_percent: f64,
    },
    /// The elbows of both lamps lie aside alike.
    CarAskew {
        /// Before or after the repair, where the job says.
        stage: Option<Stage>,
        /// How far to the right on the average, per cent of the distance.
        percent: f64,
        /// Half-width of its 95 % interval, per cent.
        u95_percent: f64,
    },
}

/// A measure of a lamp as the job gives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum LampMeasure {
    /// `centre_height_mm`.
    Height,
    /// `distance_mm`.
    Distance,
    /// `centre_x_mm`.
    Place,
}

impl Warning {
    /// Whether it holds for the lamp as it was entered, whatever a photo of it shows: it is said once for all of them.
    #[must_use]
    pub const fn is_of_lamp(&self) -> bool {
        matches!(self, Self::NearWall { .. })
    }

    /// The key of a job file that its mend is entered under, where its words do not name it.
    pub(crate) const fn key(&self) -> Option<&'static str> {
        match self {
            Self::NearWall { .. } => Some("face_height_mm"),
            _ => None,
        }
    }

    /// What can be behind it; more than one where the photo cannot tell.
    #[must_use]
    pub fn causes(&self) -> &'static [Cause] {
        match self {
            Self::TrialsWithoutSystem { .. }
            | Self::NoTolerance
            | Self::TableForOtherSide { .. }
            | Self::SettingNotShown { .. }
            | Self::NoShots
            | Self::SamePhoto { .. } => &[Cause::Job],
            Self::MarkMisplaced { .. } | Self::MarksMisplacedElsewhere { .. } | Self::SheetSize { .. } => {
                &[Cause::Marks]
            }
            Self::MarkSeenTwice { .. }
            | Self::SheetsByHand { .. }
            | Self::MarkMoved { .. }
            | Self::SheetsRehung
            | Self::FewMarks { .. } => &[Cause::Marks],
            Self::ToneBent { .. } | Self::ToneUneven | Self::InkUnusual { .. } => &[Cause::Tone],
            Self::ExpectedPositionUnread { .. }
            | Self::PositionsBesideTrial { .. }
            | Self::PhotosAgainstTrial { .. }
            | Self::LeakOutlastsTest { .. }
            | Self::RepairNotEntered { .. }
            | Self::CreepUnderEngine { .. } => &[Cause::Job],
            Self::GaugeAgainstBeam { .. } => &[Cause::Pump, Cause::Job],
            Self::BeamStaysHigh { .. }
            | Self::BeamStaysDriven { .. }
            | Self::BeamLeftHigh { .. }
            | Self::StandsDriven { .. } => &[Cause::Adjuster],
            Self::TypedTimeAgainstExif { .. } => &[Cause::Time],
            Self::VacuumFallsUnnamed | Self::BranchesExchanged | Self::TrialWrongWay { .. } => &[Cause::Job],
            Self::MovementUnderVacuumUnknown
            | Self::UnmovedUpTo { .. }
            | Self::TrialPumpedLow { .. }
            | Self::LeakNotWeighed { .. }
            | Self::TooFewVacuums { .. }
            | Self::NoReadingAtRest
            | Self::ResponseWithoutReleasing
            | Self::LeakDownUntimed { .. }
            | Self::TooFewPositions { .. } => &[Cause::Photos],
            Self::NoCurve => &[Cause::Job, Cause::Adjuster],
            Self::StillUnderVacuum { .. }
            | Self::StickSlip { .. }
            | Self::JumpsWhileShut { .. }
            | Self::NotBackAtRest { .. }
            | Self::VacuumLowersBeam => &[Cause::Adjuster],
            Self::PolarityAgainstSystem { .. } => &[Cause::Job, Cause::Adjuster],
            Self::ResponseScatters { .. } => &[Cause::Pump, Cause::Adjuster],
            Self::CreepUnexplained | Self::CourseUneven => &[Cause::Pump, Cause::Adjuster, Cause::Job],
            Self::RepairsNotInTurn | Self::RepairOfOtherLamp { .. } => &[Cause::Job],
            Self::VacuumMistyped { .. } | Self::VacuumBeyondPumps { .. } => &[Cause::Job, Cause::Pump],
            Self::ClockPutForward { .. } => &[Cause::Time, Cause::Job],
            Self::GaugeSteady { .. } => &[Cause::Pump, Cause::Job],
            Self::ComponentUntested { .. } | Self::ComponentsAlike { .. } => &[Cause::System],
            Self::Processed {
                sign: Processing::SyntheticBlur,
                ..
            } => &[Cause::Blur, Cause::Tone],
            Self::Processed {
                sign: Processing::Recoded,
                ..
            } => &[Cause::Photos],
            Self::Processed { .. } => &[Cause::Tone],
            Self::LampOffExposureUnknown => &[Cause::Exposure],
            Self::LampInLampOff { .. } | Self::WallPhotoUnused { .. } | Self::WallPhotoLit { .. } => &[Cause::Photos],
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
            Self::Leans { .. } => &[Cause::Lean, Cause::Heights, Cause::OtherLamp],
            Self::Blurred { .. } => &[Cause::Blur],
            Self::LittleContrast { .. } => &[Cause::OtherLight],
            Self::BrightestAside { .. } => &[Cause::OtherLamp, Cause::Askew],
            Self::Jumps(_) => &[Cause::OtherLamp],
            Self::TwoBrightPlaces { .. } => &[Cause::OtherLamp, Cause::OtherLight],
            Self::EdgeByHand { other_deg: None } => &[Cause::Job],
            Self::EdgeByHand { .. } => &[Cause::SecondEdge],
            Self::EdgeBelowKick => &[Cause::OtherLamp, Cause::SecondEdge],
            Self::PaintNear { .. } => &[Cause::Wall],
            Self::NearWall { .. } => &[Cause::Distance],
            Self::NoMountingHeight => &[Cause::Heights],
            Self::RepeatsDiffer { .. } | Self::TravelAcrossRepair { .. } | Self::ElbowJumped { .. } => {
                &[Cause::Photos, Cause::Job]
            }
            Self::StagesAgainstClock { .. } | Self::RepairAgainstClock { .. } => &[Cause::Job, Cause::Time],
            Self::Copies { .. } | Self::Cropped { .. } => &[Cause::Photos],
            Self::PatternUnlike { .. } | Self::EdgeFalls { .. } => &[Cause::Job],
            Self::ElbowAside { .. } => &[Cause::Askew, Cause::Job],
            Self::CarAskew { .. } => &[Cause::Askew, Cause::Job],
            Self::LampsUnlike { measure, .. } => match measure {
                LampMeasure::Height => &[Cause::Job, Cause::Heights],
                LampMeasure::Distance => &[Cause::Job, Cause::Distance],
                LampMeasure::Place => &[Cause::Job],
            },
            Self::LampHeightChanged { .. } => &[Cause::Job, Cause::Heights],
            Self::LampSpacingChanged { .. } => &[Cause::Job],
            Self::DistanceUnlikely { .. } => &[Cause::Job, Cause::Distance],
            Self::GroundHeightUnlikely { .. } => &[Cause::Job, Cause::Heights],
            Self::SheetInFloor { .. } | Self::CameraHeightUnlikely { .. } => &[Cause::Marks, Cause::Heights],
            Self::BeamRises { .. } | Self::BeamLow { .. } => &[Cause::Job, Cause::Heights, Cause::Distance],
        }
    }
}

/// What mends a photo that was processed.
pub(crate) fn unprocessed(language: Language) -> &'static str {
    match language {
        Language::English => {
            "take it without HDR, night mode, filters or automatic enhancement, and give the camera's own file, unedited"
        }
        Language::German => {
            "ohne HDR, Nachtmodus, Filter und automatische Verbesserung aufnehmen und die Datei der Kamera unbearbeitet verwenden"
        }
    }
}

impl std::fmt::Display for Warning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.said(Language::English))
    }
}

impl Warning {
    /// Its words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        self.say(language, &[self])
    }

    /// Its words over `all` that are said together: each with this one's [`Self::subject`], measures as the range of
    /// theirs.
    fn say(&self, language: Language, all: &[&Self]) -> String {
        let as_written = match language {
            Language::English => "give the files as the camera wrote them, not as a message or an editor sent them on",
            Language::German => {
                "die Dateien so verwenden, wie die Kamera sie geschrieben hat, nicht wie ein Nachrichtendienst oder Bildprogramm \
                 sie weitergibt"
            }
        };
        let unprocessed = unprocessed(language);
        match self {
            Self::TrialsWithoutSystem { trials } => said!(
                language;
                "{trials} trials are recorded, but the job names no system, so that nothing follows from them; add system = \
                 \"NAME\"",
                "{trials} Versuche sind eingetragen, aber der Auftrag nennt keine Anlage, deshalb folgt nichts daraus; system \
                 = \"NAME\" ergänzen"
            ),
            Self::TableForOtherSide { table, meant } => {
                let read = match meant {
                    Side::Left => Side::Right,
                    Side::Right => Side::Left,
                };
                let (meant_stem, read_stem) = (meant.stem(), read.stem());
                said!(
                    language;
                    "the job's tolerance table {table} means the cut-off on the {meant} of the lamp, and by its traffic the job reads \
                     it at 2.5° on the {read}; traffic = \"{read}\" reads the {meant}",
                    "die Toleranztabelle {table} des Auftrags meint die Hell-Dunkel-Grenze auf der {meant_stem}en Seite des \
                     Scheinwerfers, und wegen der Verkehrsseite liest der Auftrag sie bei 2,5° auf der {read_stem}en; traffic \
                     = \"{read}\" liest die {meant_stem}e"
                )
            }
            Self::NoTolerance => said!(
                language;
                "the job names no tolerance table, so there are no verdicts",
                "der Auftrag nennt keine Toleranztabelle, deshalb gibt es keine Urteile"
            ),
            Self::SettingNotShown { lamp, stage, positions } => {
                let (stem, repair, names) = (
                    lamp.stem(),
                    about_the_repair(language, *stage),
                    listed(language, positions),
                );
                said!(
                    language;
                    "no photo of the {lamp} lamp{repair} is named position 0 in the job; there are {names}. The aim as set, for which the limits \
                     are closer, was not judged: name the rest position 0, or photograph the lamp there too",
                    "im Auftrag heißt kein Foto des {stem}en Scheinwerfers{repair} Stellung 0; es gibt {names}. Die Einstellung, für die engere \
                     Grenzen gelten, wurde nicht beurteilt: die Ruhestellung 0 nennen oder den Scheinwerfer auch dort fotografieren"
                )
            }
            Self::NoShots => said!(
                language;
                "the job has no photo yet; take some, and list each of them in the job's file as a [[shot]]",
                "der Auftrag hat noch kein Foto; welche aufnehmen und jedes in der Auftragsdatei als [[shot]] aufführen"
            ),
            Self::SamePhoto {
                photos: [first, second],
            } => said!(
                language;
                "{} and {} are the same photo under two names; each photo shows one state of the car, so one is wrong",
                "{} und {} sind dasselbe Foto unter zwei Namen; jedes Foto zeigt einen Zustand des Fahrzeugs, also ist eines \
                 falsch";
                first.display(),
                second.display()
            ),
            Self::EdgeByHand { other_deg: None } => said!(
                language;
                "the job says by hand which edge is the cut-off; look in its picture whether the line lies on it",
                "welche Kante die Hell-Dunkel-Grenze ist, gibt der Auftrag von Hand an; im Bild nachsehen, ob die Linie \
                 darauf liegt"
            ),
            Self::EdgeByHand {
                other_deg: Some(other_deg),
            } => said!(
                language;
                "the job says by hand which edge is the cut-off, and a second edge lies {} degrees {} it; look in its \
                 picture whether the line lies on the lamp's own, and better cover the other lamp and take the photo again",
                "welche Kante die Hell-Dunkel-Grenze ist, gibt der Auftrag von Hand an, und eine zweite Kante liegt {} \
                 Grad {}; im Bild nachsehen, ob die Linie auf der des Scheinwerfers liegt, und besser den anderen Scheinwerfer abdecken und \
                 das Foto neu aufnehmen";
                language.decimal(other_deg.abs(), 1),
                match (language, *other_deg > 0.0) {
                    (Language::English, true) => "above",
                    (Language::English, false) => "below",
                    (Language::German, true) => "darüber",
                    (Language::German, false) => "darunter",
                }
            ),
            Self::SheetsByHand { ids } => {
                let all = ids.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
                match ids.len() {
                    1 => said!(
                        language;
                        "sheet {all} was placed in the photo by hand; look in its picture whether the outline lies on the sheet",
                        "Messblatt {all} wurde von Hand ins Foto gesetzt; im Bild nachsehen, ob der Umriss auf dem Blatt liegt"
                    ),
                    _ => said!(
                        language;
                        "sheets {all} were placed in the photo by hand; look in its picture whether the outlines lie on the sheets",
                        "die Messblätter {all} wurden von Hand ins Foto gesetzt; im Bild nachsehen, ob die Umrisse auf den Blättern liegen"
                    ),
                }
            }
            Self::MarkSeenTwice { id } => said!(
                language;
                "sheet {id} is seen in two places, so neither was used; take the second one with this number away",
                "Messblatt {id} ist an zwei Stellen zu sehen, deshalb wurde keines verwendet; das zweite Blatt mit dieser \
                 Nummer abnehmen"
            ),
            Self::MarkMisplaced { id, .. } => said!(
                language;
                "sheet {id} hangs {} its place in the bay file and was not used; measure it again",
                "Messblatt {id} hängt {} seinem Platz in der Messplatzdatei und wurde nicht verwendet; neu einmessen";
                place(language, all, 0, |w| match w {
                    Self::MarkMisplaced { offset_mm, .. } => Some(*offset_mm),
                    _ => None,
                })
            ),
            Self::MarksMisplacedElsewhere { ids } => {
                let ids: Vec<String> = ids.iter().map(u32::to_string).collect();
                said!(
                    language;
                    "sheet {} hangs elsewhere than in the bay file, as other photos of the job show, and was not used; measure it \
                     again",
                    "Messblatt {} hängt anders als in der Messplatzdatei, wie andere Fotos des Auftrags zeigen, und wurde \
                     nicht verwendet; neu einmessen";
                    ids.join(", ")
                )
            }
            Self::MarkMoved { id, .. } => said!(
                language;
                "sheet {id} lies {} where the job's other photos have it and was not used in this one; leave the sheets alone \
                 between the photos, and press them flat",
                "Messblatt {id} liegt {} der Stelle, an der die anderen Fotos des Auftrags es haben, und wurde in diesem \
                 nicht verwendet; die Blätter zwischen den Fotos nicht anrühren und flach andrücken";
                place(language, all, 1, |w| match w {
                    Self::MarkMoved { offset_mm, .. } => Some(*offset_mm),
                    _ => None,
                })
            ),
            Self::SheetsRehung => said!(
                language;
                "several sheets hang otherwise than in the job's first photos, as if they had been taken down and put up again; \
                 the photo was read without those, and a travel between them is less certain. Leave the sheets alone between \
                 the photos of a job",
                "mehrere Messblätter hängen anders als in den ersten Fotos des Auftrags, als wären sie abgenommen und neu \
                 aufgehängt worden; das Foto wurde ohne sie gelesen, und ein Stellweg dazwischen ist weniger sicher. Die \
                 Blätter zwischen den Fotos eines Auftrags nicht anrühren"
            ),
            Self::SheetSize { .. } => said!(
                language;
                "the sheets look {} % of the size that their distances from one another say: either they were not printed at \
                 100 %, or the distances were measured wrong. Measure a black square and the places of the centres again before \
                 you rely on the figures",
                "die Messblätter sehen {} % so groß aus, wie ihre Abstände voneinander besagen: entweder wurden sie nicht mit \
                 100 % gedruckt, oder die Abstände wurden falsch gemessen. Ein schwarzes Quadrat und die Lage der Mitten neu \
                 messen, bevor den Zahlen zu trauen ist";
                span(language, all, 1, |w| match w {
                    Self::SheetSize { excess } => Some(100.0 * (1.0 + excess)),
                    _ => None,
                })
            ),
            Self::Cropped { .. } => said!(
                language;
                "a part of the photo was cut off, or it was stretched: by the sheets the middle of the lens lies {} % of the picture's diagonal beside its middle. The \
                 reading allows for that, and its ± is larger; give the photo as the camera wrote it",
                "vom Foto wurde ein Teil abgeschnitten, oder es wurde verzerrt: Nach den Messblättern liegt die Mitte des Objektivs {} % der Bilddiagonale neben der \
                 Bildmitte. Der Messwert berücksichtigt das, mit größerem ±; das Foto so verwenden, wie die Kamera es geschrieben hat";
                span(language, all, 0, |w| match w {
                    Self::Cropped { aside_percent } => Some(*aside_percent),
                    _ => None,
                })
            ),
            Self::FewMarks { .. } => said!(
                language;
                "only {} sheets were used; four or more, not all on one line, hold the view better",
                "verwendet wurden nur {} Messblätter; vier oder mehr, nicht alle auf einer Linie, halten die Ansicht besser";
                span(language, all, 0, |w| match w {
                    Self::FewMarks { used } => Some(*used as f64),
                    _ => None,
                })
            ),
            Self::ToneBent { .. } => said!(
                language;
                "black and white of the sheets do not keep one ratio from the dark sheets to the bright ones: a tone curve lies over \
                 this photo (its bright light is compressed {} times as much as its dark). The sheets tell the curve, and it was taken \
                 out; u95 holds what they leave open. For a surer figure {unprocessed}",
                "Schwarz und Weiß der Messblätter halten von den dunklen zu den hellen Blättern kein festes Verhältnis: über \
                 diesem Foto liegt eine Tonwertkurve (sein helles Licht ist {} mal so stark gestaucht wie sein dunkles). Die \
                 Blätter verraten die Kurve, und sie wurde herausgerechnet; u95 enthält, was sie offen lassen. Für einen \
                 sichereren Messwert {unprocessed}";
                span(language, all, 2, |w| match w {
                    Self::ToneBent { bright_over_dark } => Some(*bright_over_dark),
                    _ => None,
                })
            ),
            Self::ToneUneven => said!(
                language;
                "black and white of the sheets do not keep one ratio from sheet to sheet, and no tone curve explains it: HDR, a scene \
                 optimiser or an edit follows the surroundings, and the reading may be off by more than its u95; switch them off: \
                 {unprocessed}",
                "Schwarz und Weiß der Messblätter halten von Blatt zu Blatt kein festes Verhältnis, und keine Tonwertkurve \
                 erklärt es: HDR, eine Szenenoptimierung oder eine Bearbeitung richtet sich nach der Umgebung, und der \
                 Messwert kann um mehr als sein u95 falsch sein; ausschalten: {unprocessed}"
            ),
            Self::InkUnusual { .. } => said!(
                language;
                "the sheets' black is {} % of their white; prints have 3.3 to 13 %: a tone curve, HDR or an edit may have been \
                 laid over this photo, and the reading may be off by more than its u95; {unprocessed}",
                "das Schwarz der Messblätter hat {} % ihres Weiß; Drucke haben 3,3 bis 13 %: über diesem Foto kann eine \
                 Tonwertkurve, HDR oder eine Bearbeitung liegen, und der Messwert kann um mehr als sein u95 falsch sein; \
                 {unprocessed}";
                span(language, all, 1, |w| match w {
                    Self::InkUnusual { ratio } => Some(100.0 * ratio),
                    _ => None,
                })
            ),
            Self::ExpectedPositionUnread { position } => said!(
                language;
                "adjuster.expected names position {position}, of which no photo gave a figure",
                "adjuster.expected nennt Stellung {position}, von der kein Foto einen Messwert gab"
            ),
            Self::VacuumFallsUnnamed => said!(
                language;
                "the vacuum falls from one photo to the next, and the job does not say so: give branch = \"releasing\" to \
                 those photos, or their hysteresis counts as scatter",
                "der Unterdruck fällt von einem Foto zum nächsten, und der Auftrag sagt es nicht: diesen Fotos branch = \
                 \"releasing\" geben, sonst zählt ihre Hysterese als Streuung"
            ),
            Self::StillUnderVacuum { mbar } => {
                said!(
                    language;
                    "the beam does not move with vacuum up to {mbar:.0} mbar, so that there is no response to fit",
                    "der Lichtkegel bewegt sich mit dem Unterdruck bis {mbar:.0} mbar nicht, es gibt also keine Kennlinie zu bestimmen"
                )
            }
            Self::UnmovedUpTo { mbar } => said!(
                language;
                "the beam does not move up to {mbar:.0} mbar, where a sound one may lie in its dead band; whether vacuum moves it is not known \
                 beyond {mbar:.0} mbar: take photos up to 400 mbar, or to the maker's figure",
                "der Lichtkegel bewegt sich bis {mbar:.0} mbar nicht, wo auch ein gesunder in seinem Totbereich liegen kann; ob der Unterdruck ihn \
                 bewegt, ist über {mbar:.0} mbar hinaus nicht bekannt: Fotos bis 400 mbar oder bis zum Wert des Herstellers aufnehmen"
            ),
            Self::MovementUnderVacuumUnknown => said!(
                language;
                "it cannot be told whether the beam moves with vacuum: take photos from 0 mbar to 400 mbar, or to the maker's figure",
                "ob der Unterdruck den Lichtkegel bewegt, ist nicht feststellbar: Fotos von 0 mbar bis 400 mbar oder bis zum \
                 Wert des Herstellers aufnehmen"
            ),
            Self::TooFewVacuums {
                readings,
                vacuums,
                least,
            } => said!(
                language;
                "{readings} readings at {vacuums} vacuums do not hold a curve: take at least {least}, better 8, from 0 mbar \
                 up, and the same down again",
                "{readings} Messwerte bei {vacuums} Unterdrücken tragen keine Kennlinie: mindestens {least}, besser 8 \
                 aufnehmen, von 0 mbar aufwärts und ebenso wieder abwärts"
            ),
            Self::NoCurve => said!(
                language;
                "no curve could be fitted; look whether a photo stands at the wrong vacuum in the job file",
                "keine Kennlinie ließ sich bestimmen; nachsehen, ob in der Auftragsdatei ein Foto beim falschen Unterdruck \
                 steht"
            ),
            Self::StickSlip {
                still_mbar,
                jump_mbar,
                jump_percent,
                share_percent,
            } => said!(
                language;
                "moves in jumps (stick-slip): from {:.0} to {:.0} mbar the beam stands still, from {:.0} to {:.0} mbar it jumps by \
                 {jump_percent} % where {share_percent} % would be its share; look for a joint that binds. Dead band, end \
                 stop and hysteresis cannot be told from that",
                "bewegt sich ruckweise (Haftgleiten): von {:.0} bis {:.0} mbar steht der Lichtkegel, von {:.0} bis {:.0} mbar \
                 springt er um {jump_percent} %, wo {share_percent} % sein Anteil wäre; nach einem schwergängigen Gelenk \
                 suchen. Totbereich, Anschlag und Hysterese sind daraus nicht zu erkennen";
                still_mbar[0],
                still_mbar[1],
                jump_mbar[0],
                jump_mbar[1],
                jump_percent = language.decimal(*jump_percent, 2),
                share_percent = language.decimal(*share_percent, 2)
            ),
            Self::JumpsWhileShut { jump_percent } => said!(
                language;
                "moves in jumps (stick-slip): with the valve shut the beam jumps by up to {jump_percent} % and stands still \
                 between; look for a joint that binds. Dead band, end stop and hysteresis cannot be told from that",
                "bewegt sich ruckweise (Haftgleiten): bei geschlossenem Ventil springt der Lichtkegel um bis zu \
                 {jump_percent} % und steht dazwischen still; nach einem schwergängigen Gelenk suchen. Totbereich, Anschlag \
                 und Hysterese sind daraus nicht zu erkennen";
                jump_percent = language.decimal(*jump_percent, 2)
            ),
            Self::NotBackAtRest { percent } => said!(
                language;
                "the movement sticks: released to no vacuum, the beam hangs {percent} % from where it lay before; look for a \
                 joint that binds. Dead band, end stop and hysteresis cannot be told from that",
                "die Bewegung klemmt: ganz belüftet bleibt der Lichtkegel {percent} % von seiner früheren Lage entfernt; nach \
                 einem schwergängigen Gelenk suchen. Totbereich, Anschlag und Hysterese sind daraus nicht zu erkennen";
                percent = language.decimal(*percent, 2)
            ),
            Self::PolarityAgainstSystem { raises } => {
                let way = match (language, raises) {
                    (Language::English, true) => "raises",
                    (Language::English, false) => "lowers",
                    (Language::German, true) => "hebt",
                    (Language::German, false) => "senkt",
                };
                said!(
                    language;
                    "vacuum {way} the beam, and the system file says the opposite: check which system it is, and that the \
                 vacuums in the job are those of their photos",
                    "Unterdruck {way} den Lichtkegel, und die Systemdatei sagt das Gegenteil: prüfen, welche Anlage es ist \
                     und ob die Unterdrücke im Auftrag die ihrer Fotos sind"
                )
            }
            Self::VacuumLowersBeam => said!(
                language;
                "vacuum lowers the beam, so that it comes up when vacuum is lost: on a failure the beam must not come up \
                 (UN R48 and 76/756/EEC, from memory)",
                "Unterdruck senkt den Lichtkegel, er kommt also hoch, wenn der Unterdruck ausfällt: bei einem Ausfall darf \
                 der Lichtkegel nicht hochkommen (UN R48 und 76/756/EWG, aus dem Gedächtnis)"
            ),
            Self::NoReadingAtRest => said!(
                language;
                "no photo shows the beam without vacuum, so that the dead band cannot be told; add one at 0 mbar",
                "kein Foto zeigt den Lichtkegel ohne Unterdruck, deshalb ist der Totbereich nicht feststellbar; eines bei 0 \
                 mbar ergänzen"
            ),
            Self::ResponseScatters { factor } => said!(
                language;
                "the readings scatter about the curve {factor} times as much as their uncertainties say: the gauge may be \
                 coarser than the job says, or the movement not smooth; what such scatter hides is not stated",
                "die Messwerte streuen um die Kennlinie {factor} mal so stark, wie ihre Messunsicherheiten besagen: der \
                 Unterdruckmesser kann gröber sein, als der Auftrag sagt, oder die Bewegung nicht gleichmäßig; was solche Streuung \
                 verdeckt, wird nicht angegeben";
                factor = language.decimal(*factor, 1)
            ),
            Self::BranchesExchanged => said!(
                language;
                "released, the beam lies behind where it was when vacuum was applied, which friction cannot do; are the \
                 branches in the job file exchanged?",
                "beim Nachlassen liegt der Lichtkegel hinter dem, wo er beim Anlegen des Unterdrucks war, was Reibung nicht \
                 bewirken kann; sind die Richtungen (branch) in der Auftragsdatei vertauscht?"
            ),
            Self::LeakDownUntimed { photos } => said!(
                language;
                "{photos} photos with the pump's valve shut carry no time (EXIF) and are left out; give the files as the \
                 camera wrote them",
                "{photos} Fotos mit geschlossenem Ventil der Pumpe tragen keine Uhrzeit (EXIF) und bleiben weg; die Dateien \
                 so verwenden, wie die Kamera sie geschrieben hat"
            ),
            Self::CreepUnexplained => said!(
                language;
                "the beam creeps in a way that the lamp's response to vacuum does not explain, so that the response is left \
                 out: the pump was worked in between, something was changed after the response was photographed, or a photo \
                 stands in the wrong series",
                "der Lichtkegel kriecht auf eine Weise, die die Kennlinie des Scheinwerfers nicht erklärt, deshalb bleibt sie \
                 weg: zwischendurch wurde gepumpt, nach dem Fotografieren der Kennlinie wurde etwas verändert, oder ein Foto \
                 steht in der falschen Reihe"
            ),
            Self::ResponseWithoutReleasing => said!(
                language;
                "the response was photographed only while vacuum was applied; with hysteresis the beam answers a loss later \
                 than these figures assume: add photos with branch = \"releasing\"",
                "die Kennlinie wurde nur bei steigendem Unterdruck fotografiert; mit Hysterese antwortet der Lichtkegel \
                 später auf einen Verlust, als diese Zahlen annehmen: Fotos mit branch = \"releasing\" ergänzen"
            ),
            Self::CourseUneven => said!(
                language;
                "the beam does not follow one smooth course: it may stick, or the pump was worked in between, or a photo \
                 stands in the wrong series, or the camera's clock was set in between",
                "der Lichtkegel folgt keinem glatten Verlauf: er kann klemmen, oder zwischendurch wurde gepumpt, oder ein \
                 Foto steht in der falschen Reihe, oder die Uhr der Kamera wurde dazwischen gestellt"
            ),
            Self::RepairOfOtherLamp { component, lamp } => {
                let other = lamp.other();
                let (stem, other_stem) = (lamp.stem(), other.stem());
                said!(
                    language;
                    "the repair is of \"{component}\", which serves the {lamp} lamp alone, while all that failed before it is of the \
                     {other} lamp: was the part of the {other} lamp mended, then correct the component of the repair; was it this \
                     one, then add to the job what failed at the {lamp} lamp before the repair",
                    "die Reparatur nennt \"{component}\", das nur zum {stem}en Scheinwerfer gehört, und alles, was vorher misslang, gehört zum \
                     {other_stem}en: Wurde das Bauteil des {other_stem}en Scheinwerfers instand gesetzt, das Bauteil der Reparatur berichtigen; war es \
                     dieses, im Auftrag ergänzen, was vor der Reparatur am {stem}en Scheinwerfer misslang"
                )
            }
            Self::RepairsNotInTurn => said!(
                language;
                "there are several repairs, and which of them was done when a test after them was done is not known: all but the first \
                 are taken as done since, so that both beams are to be looked at once more; in the job file a test follows the repairs \
                 that stand above it, so write down what was done in its order",
                "es gibt mehrere Reparaturen, und welche davon bei einer Prüfung danach schon getan waren, ist nicht bekannt: alle außer \
                 der ersten gelten als seitdem getan, deshalb sind beide Lichtkegel noch einmal anzusehen; in der Auftragsdatei folgt eine \
                 Prüfung auf die Reparaturen, die über ihr stehen, also alles in der Reihenfolge eintragen, in der es getan wurde"
            ),
            Self::VacuumMistyped { mbar, fits_mbar } => said!(
                language;
                "the beam at {mbar:.0} mbar lies where all other readings have it at about {fits_mbar:.0} mbar: hold what was typed \
                 against what the gauge showed (a digit too few, or the wrong photo), or take this photo again; until then no response is \
                 stated",
                "der Lichtkegel bei {mbar:.0} mbar liegt da, wo ihn alle anderen Messwerte bei etwa {fits_mbar:.0} mbar haben: prüfen, ob \
                 eingetragen ist, was der Unterdruckmesser zeigte (eine Ziffer zu wenig oder das falsche Foto), oder dieses Foto neu \
                 aufnehmen; bis dahin wird keine Kennlinie angegeben"
            ),
            Self::VacuumBeyondPumps { mbar } => said!(
                language;
                "{mbar:.0} mbar below atmosphere is more than a hand pump or an engine makes: if the gauge shows the pressure itself, enter \
                 what it lacks to the outside air (about 1000 less what it shows); until then no response is stated",
                "{mbar:.0} mbar Unterdruck sind mehr, als eine Handpumpe oder ein Motor erzeugt: zeigt das Messgerät den Druck selbst, \
                 eintragen, was ihm zur Außenluft fehlt (etwa 1000 weniger die Anzeige); bis dahin wird keine Kennlinie angegeben"
            ),
            Self::ClockPutForward {
                photos: [before, after],
                minutes,
            } => said!(
                language;
                "between {before} and {after} the camera's clock shows {minutes:.0} minutes, and all other photos follow each other \
                 much faster: if the clock was put forward in between, all that is said of time is wrong; enter the times by hand then \
                 (taken = \"…\")",
                "zwischen {before} und {after} zeigt die Uhr der Kamera {minutes:.0} Minuten, und alle anderen Fotos folgen viel \
                 schneller aufeinander: wurde die Uhr dazwischen vorgestellt, so stimmt nichts, was über die Zeit gesagt ist; die Zeiten \
                 dann von Hand eintragen (taken = \"…\")"
            ),
            Self::GaugeSteady { mbar } => said!(
                language;
                "the gauge is entered as {mbar:.0} mbar with each photo, and the beam creeps: if that is what it showed at first, enter it \
                 with the first photo only; if it was read each time, no vacuum was lost at the pump, and the beam creeps by itself",
                "der Unterdruckmesser ist bei jedem Foto mit {mbar:.0} mbar eingetragen, und der Lichtkegel kriecht: zeigte er das nur am \
                 Anfang, dann nur beim ersten Foto eintragen; wurde er jedes Mal abgelesen, so ging an der Pumpe kein Unterdruck verloren, \
                 und der Lichtkegel kriecht von selbst"
            ),
            Self::ComponentUntested { component } => said!(
                language;
                "no test needs the component \"{component}\", so that none can tell whether it is at fault; add such a \
                 test, or take the component out",
                "keine Prüfung braucht das Bauteil \"{component}\", deshalb kann keine sagen, ob es an ihm liegt; eine solche \
                 Prüfung ergänzen oder das Bauteil herausnehmen"
            ),
            Self::ComponentsAlike {
                components: [first, second],
            } => said!(
                language;
                "the components \"{first}\" and \"{second}\" are needed by the same tests, so that none can tell one from \
                 the other; add a test that needs only one of them",
                "die Bauteile \"{first}\" und \"{second}\" werden von denselben Prüfungen gebraucht, deshalb kann keine sie \
                 unterscheiden; eine Prüfung ergänzen, die nur eines davon braucht"
            ),
            Self::CreepUnderEngine { trial, test } => said!(
                language;
                "trial {trial}, {test}: nothing can creep back while the engine keeps pulling; a beam that does not keep its \
                 height counts as no",
                "Versuch {trial}, {test}: solange der Motor zieht, kann nichts zurückkriechen; ein Lichtkegel, der seine Höhe \
                 nicht hält, zählt als nein (no)"
            ),
            Self::GaugeAgainstBeam { trial, test, creeps } => {
                let (what, what_de) = if *creeps {
                    (
                        "the beam creeps back while the gauge holds: what keeps its vacuum keeps its beam",
                        "der Lichtkegel kriecht zurück, während der Unterdruckmesser hält: was seinen Unterdruck behält, hält den Lichtkegel",
                    )
                } else {
                    (
                        "the beam moves and stays while the gauge will not rise: nothing holds it without vacuum",
                        "der Lichtkegel bewegt sich und bleibt, während der Unterdruckmesser nicht steigt: ohne Unterdruck hält ihn nichts",
                    )
                };
                said!(
                    language;
                    "trial {trial}, {test}: {what}, so one of the two is written down wrongly; do the test once more, the pump tried by \
                     itself first, and take the wrong trial out",
                    "Versuch {trial}, {test}: {what_de}; eines von beiden ist falsch eingetragen: die Prüfung noch einmal machen, vorher die \
                     Pumpe allein erproben, und den falschen Versuch herausnehmen"
                )
            }
            Self::RepairNotEntered { before, named } => {
                let (what, what_de) = if *named {
                    ("the repair names no part", "die Reparatur nennt kein Bauteil")
                } else {
                    ("no repair is entered", "es ist keine Reparatur eingetragen")
                };
                let (found, found_de) = match before {
                    1 => ("the one trial".to_owned(), "der eine Versuch".to_owned()),
                    many => (format!("the {many} trials"), format!("die {many} Versuche")),
                };
                let (count, count_de) = if *before == 1 {
                    ("does", "zählt")
                } else {
                    ("do", "zählen")
                };
                said!(
                    language;
                    "there are trials of after the repair, and {what}: which part is new is not known, so that {found} of before it {count} \
                     not count for the car as it is now; enter the repair ([[repair]] with its component), or, where nothing was mended, \
                     take the stage out of these trials: then all count",
                    "es gibt Versuche von nach der Reparatur, und {what_de}: welches Bauteil neu ist, ist nicht bekannt, deshalb {count_de} \
                     {found_de} von davor nicht für das Fahrzeug, wie es jetzt ist; die Reparatur eintragen ([[repair]] mit component), \
                     oder, wo nichts repariert wurde, stage bei diesen Versuchen herausnehmen: dann zählen alle"
                )
            }
            Self::BeamStaysHigh { trial, test } => said!(
                language;
                "trial {trial}, {test}: a beam that stays high dazzles others; lower it before the car is driven",
                "Versuch {trial}, {test}: ein Lichtkegel, der oben bleibt, blendet andere; ihn absenken, bevor gefahren wird"
            ),
            Self::BeamLeftHigh { test } => said!(
                language;
                "{test}, by the photos: a beam that stays high dazzles others; lower it before the car is driven",
                "{test}, nach den Fotos: ein Lichtkegel, der oben bleibt, blendet andere; ihn absenken, bevor gefahren wird"
            ),
            Self::StandsDriven { test, lamp, mbar } => {
                let (stem, mbar) = (lamp.stem(), 10.0 * (mbar / 10.0).round());
                said!(
                    language;
                    "{test}, by the photos: at every position the {lamp} beam stands where {mbar:.0} mbar of the pump or more hold it; vacuum \
                     is there and is not let off, or something sticks, whereas a leak, or a hose that is off, would leave it at rest",
                    "{test}, nach den Fotos: In jeder Stellung steht der {stem}e Lichtkegel dort, wo ihn {mbar:.0} mbar der Pumpe oder mehr halten; \
                     Unterdruck ist da und wird nicht abgelassen, oder etwas klemmt; bei einer Undichtigkeit oder einem losen Schlauch stünde er \
                     in Ruhe"
                )
            }
            Self::BeamStaysDriven {
                mbar,
                percent,
                kept_percent,
                ..
            } => {
                let size = |percent: f64| language.decimal((100.0 * percent.abs()).round() / 100.0, 2);
                let dazzles = if *percent < 0.0 {
                    said!(
                        language;
                        "; a beam that stays high dazzles others: lower it before the car is driven",
                        "; ein Lichtkegel, der oben bleibt, blendet andere: ihn absenken, bevor gefahren wird"
                    )
                } else {
                    String::new()
                };
                said!(
                    language;
                    "does not return: driven by {} % at {mbar:.0} mbar, the beam keeps {} % of it with the vacuum let go; what sticks or \
                     is stiff keeps it there, or a hose that lets no air back{dazzles}",
                    "kommt nicht zurück: um {} % bewegt bei {mbar:.0} mbar, behält der Lichtkegel davon {} % ohne Unterdruck; das macht, was \
                     klemmt oder schwergängig ist, oder ein Schlauch, der keine Luft zurücklässt{dazzles}";
                    size(*percent),
                    size(*kept_percent)
                )
            }
            Self::TypedTimeAgainstExif { .. } if all.len() > 1 => said!(
                language;
                "the files have other times of capture (EXIF) than are typed; the typed ones count: mend those that are wrong",
                "die Dateien haben andere Aufnahmezeiten (EXIF) als eingetragen; die eingetragenen zählen: die falschen \
                 berichtigen"
            ),
            Self::TypedTimeAgainstExif { typed, exif } => said!(
                language;
                "the file has another time of capture (EXIF), {}; the typed one, {} counts: mend the one that is wrong",
                "die Datei hat eine andere Aufnahmezeit (EXIF), {}; die eingetragene, {}, zählt: die falsche berichtigen";
                exif.replace('T', " "),
                typed.replace('T', " ")
            ),
            Self::TrialWrongWay {
                test,
                still,
                driven,
                down,
            } => said!(
                language;
                "{test}: from {} to {} the beam went {}, and in this system vacuum moves it the other way; were still and \
                 driven swapped?",
                "{test}: von {} zu {} ging der Lichtkegel {}, und in dieser Anlage bewegt Unterdruck ihn andersherum; sind \
                 still und driven vertauscht?";
                still.display(),
                driven.display(),
                match (language, down) {
                    (Language::English, true) => "down",
                    (Language::English, false) => "up",
                    (Language::German, true) => "nach unten",
                    (Language::German, false) => "nach oben",
                }
            ),
            Self::LeakNotWeighed { lamp, .. } => {
                let stem = lamp.stem();
                said!(
                    language;
                    "the photos with the pump's valve shut show that vacuum is lost at the {lamp} lamp, and no test counts it, as it is so slow, or \
                     the series does not say what the pump was joined to: pump there once more, watch the gauge for ten minutes with the valve \
                     shut, and enter what it does",
                    "die Fotos bei geschlossenem Pumpenventil zeigen, dass am {stem}en Scheinwerfer Unterdruck verloren geht, und keine Prüfung \
                     zählt es, weil es so langsam geht oder die Reihe nicht sagt, wo die Pumpe saß: dort noch einmal pumpen, den \
                     Unterdruckmesser zehn Minuten bei geschlossenem Ventil beobachten und eintragen, was er tut"
                )
            }
            Self::TrialPumpedLow { test, driven, mbar } => said!(
                language;
                "{test}: {} was taken with {mbar:.0} mbar, with which the beam of a sound unit may lie in its dead band, so that this trial does \
                 not count; pump to 400 mbar, or to the maker's figure, and take it again, or answer by what the gauge does",
                "{test}: {} wurde bei {mbar:.0} mbar aufgenommen, bei denen auch der Lichtkegel einer gesunden Dose in seinem Totbereich liegen \
                 kann, deshalb zählt dieser Versuch nicht; bis 400 mbar oder bis zum Wert des Herstellers pumpen und neu aufnehmen, oder nach dem \
                 antworten, was der Unterdruckmesser tut";
                driven.display()
            ),
            Self::PositionsBesideTrial { test } => said!(
                language;
                "{test}: the job has a trial of it, so that the readings at positions are not counted as another",
                "{test}: der Auftrag hat eine Antwort darauf, deshalb zählen die Messwerte in den Stellungen nicht als weitere"
            ),
            Self::PhotosAgainstTrial { test, positions } => said!(
                language;
                "{test}: the photos {} say otherwise than the trial that the job has of it; both count until the one that is \
                 wrong is taken out",
                "{test}: die Fotos {} sagen etwas anderes als die Antwort, die der Auftrag darauf hat; beide zählen, bis die \
                 falsche herausgenommen ist";
                match (language, positions) {
                    (Language::English, true) => "at positions of the control",
                    (Language::English, false) => "under the pump",
                    (Language::German, true) => "in Stellungen des Reglers",
                    (Language::German, false) => "unter der Pumpe",
                }
            ),
            Self::LeakOutlastsTest { test } => said!(
                language;
                "{test}: that the beam stayed for its minute and that the photos with the valve shut show a leak go together: so slow a leak \
                 shows in the beam only later; the photos stand for both",
                "{test}: dass der Lichtkegel seine Minute lang stand und dass die Fotos bei geschlossenem Ventil ein Leck zeigen, passt \
                 zusammen: ein so langsames Leck zeigt sich am Lichtkegel erst später; die Fotos stehen für beides"
            ),
            Self::TooFewPositions { test, lamp } => {
                let stem = lamp.stem();
                said!(
                    language;
                    "{test}: the {lamp} lamp has no readings at two positions of the range control before the repair, so that \
                 none count as this test",
                    "{test}: der {stem}e Scheinwerfer hat vor der Reparatur keine Messwerte in zwei Stellungen des \
                     Leuchtweitenreglers, deshalb zählt keiner als diese Prüfung"
                )
            }
            Self::Processed { photo, sign } => {
                let sign = sign.said(language);
                match photo {
                    PhotoOfShot::Main => sign,
                    PhotoOfShot::LampOff => said!(language; "lamp-off photo: {sign}", "Foto ohne Licht: {sign}"),
                    PhotoOfShot::Bracket(bracket) => {
                        said!(language; "bracket {}: {sign}", "Belichtungsreihe, {}: {sign}"; bracket.display())
                    }
                }
            }
            Self::LampOffExposureUnknown => {
                said!(
                    language;
                    "the lamp-off photo's exposure is unknown; it was taken to be that of the lit photo",
                    "die Belichtung des Fotos ohne Licht ist nicht bekannt; angenommen wurde die des Fotos mit Licht"
                )
            }
            Self::LampInLampOff { photo, percent } => said!(
                language;
                "the lamp-off photo {} is not quite dark: up to about {percent:.0} % of the lamp's light is in it too, and is taken away with the \
                 room's; the ± holds that. Was the lamp still glowing, or the other lamp or a side lamp lit? Take one with all lamps off",
                "das Foto ohne Licht {} ist nicht ganz dunkel: bis etwa {percent:.0} % des Scheinwerferlichts sind auch darin \
                 und werden mit dem Raumlicht abgezogen; das ± enthält das. Glühte die Lampe noch, oder brannte der andere \
                 Scheinwerfer oder ein Standlicht? Eines mit allen Lampen aus aufnehmen";
                photo.display()
            ),
            Self::WallPhotoUnused { photo, why } => said!(
                language;
                "the wall photo {} is not used: {}",
                "das Wandfoto {} wird nicht verwendet: {}";
                photo.display(),
                why.within(language)
            ),
            Self::WallPhotoLit { photo } => said!(
                language;
                "the wall photo {} is not used: what it shows divided out, no cut-off is left, so that the lamp seems lit in it too; take \
                 it by the room's light with all lamps of the car off",
                "das Wandfoto {} wird nicht verwendet: teilt man heraus, was es zeigt, bleibt keine Hell-Dunkel-Grenze, die \
                 Lampe scheint also auch darin zu brennen; im Raumlicht aufnehmen, alle Lampen des Fahrzeugs aus";
                photo.display()
            ),
            Self::BracketUnreadable { refusal } => said!(
                language;
                "bracket left out: {}",
                "aus der Belichtungsreihe weggelassen: {}";
                refusal.message.within(language)
            ),
            Self::BracketTwice { bracket, other } => said!(
                language;
                "bracket {} left out: it is the same file as {}; add a photo with another exposure",
                "{} aus der Belichtungsreihe bleibt weg: es ist dieselbe Datei wie {}; ein Foto mit anderer Belichtung ergänzen";
                bracket.display(),
                other.display()
            ),
            Self::BracketSize {
                bracket,
                size_px: [width, height],
                main_size_px: [main_width, main_height],
            } => said!(
                language;
                "bracket {} left out: it is {width} x {height} px, the shot's photo {main_width} x {main_height} px; take both with the \
                 same camera, held the same way, without zoom",
                "{} aus der Belichtungsreihe bleibt weg: es hat {width} x {height} px, das Foto der Aufnahme {main_width} x \
                 {main_height} px; beide mit derselben Kamera aufnehmen, gleich gehalten, ohne Zoom";
                bracket.display()
            ),
            Self::BracketAddsLittle { bracket } => said!(
                language;
                "bracket {} adds little: its exposure is that of another photo of the shot; vary it by 2 EV",
                "{} bringt in der Belichtungsreihe wenig: seine Belichtung ist die eines anderen Fotos der Aufnahme; um 2 EV \
                 ändern";
                bracket.display()
            ),
            Self::NotMerged { photo, why } => said!(
                language;
                "{} is not merged: {}",
                "{} wird nicht dazugerechnet: {}";
                photo.display(),
                why.said(language)
            ),
            Self::ExposureFromLight { photo, base, ratio } => said!(
                language;
                "the exposure of {} against that of {} is not in the files; it was taken from what both show, {ratio} times",
                "die Belichtung von {} gegen die von {} steht nicht in den Dateien; sie wurde aus dem genommen, was beide \
                 zeigen, {ratio} mal";
                photo.display(),
                base.display(),
                ratio = language.decimal(*ratio, 3)
            ),
            Self::PlaceFromLight { photo, base } => said!(
                language;
                "{} shares fewer than two readable sheets with {}; it is taken to be from the very same place, as the light that both \
                 show confirms",
                "{} hat weniger als zwei lesbare Messblätter mit {} gemeinsam; angenommen wird genau derselbe Ort, wie das \
                 Licht, das beide zeigen, bestätigt";
                photo.display(),
                base.display()
            ),
            Self::UntimedLeakDown { first, more } => said!(
                language;
                "{}, and a leak-down with the pump's valve shut is timed by it; {as_written}",
                "{}, und eine Dichtheitsprüfung mit geschlossenem Ventil der Pumpe wird danach gestoppt; {as_written}";
                untimed(language, first, *more)
            ),
            Self::UntimedStages { first, more } => said!(
                language;
                "{}, so that only the job file says which are from before the repair and which from after it; {as_written}",
                "{}, deshalb sagt nur die Auftragsdatei, welche von vor der Reparatur sind und welche von danach; {as_written}";
                untimed(language, first, *more)
            ),
            Self::CameraMoved { lamp, stage, moved_mm } => {
                let stage = at_stage(language, *stage);
                let stem = lamp.stem();
                said!(
                    language;
                    "the camera moved by up to {} m between the photos of the {lamp} lamp{stage}: allowed, but a tripod gives a \
                     steadier travel",
                    "die Kamera hat sich zwischen den Fotos des {stem}en Scheinwerfers{stage} um bis zu {} m bewegt: erlaubt, \
                     aber ein Stativ gibt einen sichereren Stellweg";
                    language.decimal(moved_mm / 1000.0, 1)
                )
            }
            Self::Sharpness { sharpness_g } => {
                let (than, looks_like) = match (language, *sharpness_g < *APPROVED_SHARPNESS.start()) {
                    (Language::English, true) => (
                        "softer",
                        "A worn reflector or lens, or a bulb that sits wrong, looks like this; the ± is the wider for it",
                    ),
                    (Language::English, false) => (
                        "harder",
                        "The upper limit is one at 25 m; sharpening by the camera, too, makes an edge look harder than it is",
                    ),
                    (Language::German, true) => (
                        "weicher",
                        "So sieht ein verbrauchter Reflektor, eine verbrauchte Streuscheibe oder eine schief sitzende Lampe aus; das ± ist \
                         deshalb größer",
                    ),
                    (Language::German, false) => (
                        "härter",
                        "Die obere Grenze gilt bei 25 m; auch das Schärfen in der Kamera lässt eine Kante härter aussehen, als sie ist",
                    ),
                };
                said!(
                    language;
                    "the cut-off is {than} than an approved lamp's: sharpness G = {}, and approved are 0.13 to 0.40 (UN R112). {looks_like}",
                    "die Hell-Dunkel-Grenze ist {than} als die eines zugelassenen Scheinwerfers: Schärfe G = {}, zugelassen \
                     sind 0,13 bis 0,40 (UN R112). {looks_like}";
                    span(language, all, 3, |w| match w {
                        Self::Sharpness { sharpness_g } => Some(*sharpness_g),
                        _ => None,
                    })
                )
            }
            Self::Bent { .. } => said!(
                language;
                "the cut-off is bent: linearity {} degrees; approved lamps keep to 0.2 (UN R112)",
                "die Hell-Dunkel-Grenze ist krumm: Geradheit {} Grad; zugelassene Scheinwerfer halten 0,2 ein (UN R112)";
                span(language, all, 2, |w| match w {
                    Self::Bent { linearity_deg } => Some(*linearity_deg),
                    _ => None,
                })
            ),
            Self::Leans { .. } => said!(
                language;
                "the cut-off leans by {} degrees: the lamp sits turned in its seat, or the sheets' heights lean (a level line that is not level), \
                 which moves the figure by 17 mm a degree and metre from where the heights are right. If neither is so, is it this lamp's edge, \
                 and the other lamp covered?",
                "die Hell-Dunkel-Grenze liegt um {} Grad schräg: der Scheinwerfer sitzt verdreht, oder die Höhen der \
                 Messblätter hängen schief (eine Waagerechte, die keine ist), was den Messwert um 17 mm je Grad und Meter von \
                 dort aus verschiebt, wo die Höhen stimmen. Ist beides nicht so: ist es die Kante dieses Scheinwerfers, und \
                 ist der andere abgedeckt?";
                span(language, all, 1, |w| match w {
                    Self::Leans { tilt_deg } => Some(tilt_deg.abs()),
                    _ => None,
                })
            ),
            Self::Blurred { .. } => said!(
                language;
                "the photo is blurred by {} degrees as seen from the lamp, which softens and shifts the cut-off; hold the camera on something \
                 firm and focus on a sheet",
                "das Foto ist, vom Scheinwerfer aus gesehen, um {} Grad unscharf, was die Hell-Dunkel-Grenze weicher macht \
                 und verschiebt; die Kamera fest auflegen und auf ein Messblatt scharf stellen";
                span(language, all, 2, |w| match w {
                    Self::Blurred { blur_deg } => Some(*blur_deg),
                    _ => None,
                })
            ),
            Self::LittleContrast { .. } => said!(
                language;
                "the dark side is less than sixteen times darker than the bright one: other light may fall on the wall, which drags the \
                 reading down, or the lamp itself throws so much; a photo with the lamp off tells which, else darken the room",
                "die dunkle Seite ist weniger als sechzehnmal dunkler als die helle: auf die Wand kann anderes Licht fallen, \
                 das den Messwert nach unten zieht, oder der Scheinwerfer selbst wirft so viel; ein Foto ohne Licht \
                 sagt, was es ist, sonst den Raum abdunkeln"
            ),
            Self::BrightestAside { side, .. } => {
                let side = side.said(language);
                said!(
                    language;
                    "the light below the edge is brightest {} degrees to the {side} of the lamp: the car may not stand square to the wall, the lamp \
                 may aim sideways, or the other lamp is lit too. Check that it is covered, and the lamp's place beside the centre line and the traffic side in the job",
                    "das Licht unter der Kante ist {} Grad {side} vom Scheinwerfer am hellsten: das Fahrzeug steht vielleicht \
                     nicht gerade zur Wand, der Scheinwerfer zielt seitlich, oder der andere brennt auch. Prüfen, ob er \
                     abgedeckt ist, sowie die Lage des Scheinwerfers zur Mittellinie und die Verkehrsseite im Auftrag";
                    span(language, all, 1, |w| match w {
                    Self::BrightestAside { off_deg, .. } => Some(*off_deg),
                    _ => None,
                })
                )
            }
            Self::TwoBrightPlaces { .. } => said!(
                language;
                "the light below the edge has two bright places, {} % brighter than what lies between: is the other lamp lit too, or does other \
                 light fall on the wall? Cover the other lamp and take the photo again",
                "das Licht unter der Kante hat zwei helle Stellen, {} % heller als dazwischen: brennt der andere Scheinwerfer \
                 auch, oder fällt anderes Licht auf die Wand? Den anderen Scheinwerfer abdecken und das Foto neu aufnehmen";
                span(language, all, 0, |w| match w {
                    Self::TwoBrightPlaces { brighter_percent } => Some(*brighter_percent),
                    _ => None,
                })
            ),
            Self::EdgeBelowKick => said!(
                language;
                "a faint second edge of light runs on near the cut-off's height where the cut-off itself has risen: is the other lamp lit too? Cover it \
                 and take the photo again",
                "eine schwache zweite Lichtkante läuft nahe der Höhe der Hell-Dunkel-Grenze weiter, wo diese selbst schon \
                 angestiegen ist: brennt der andere Scheinwerfer auch? Ihn abdecken und das Foto neu aufnehmen"
            ),
            Self::PaintNear { .. } => {
                let heights = all.iter().flat_map(|w| match w {
                    Self::PaintNear { heights_mm } => heights_mm.as_slice(),
                    _ => &[],
                });
                said!(
                    language;
                    "the wall itself has a level edge near the cut-off, at {} mm height (paint, a ledge or a pipe; it is as sharp as the photo, and runs \
                     on along the wall): it was divided out, and the ± holds what that leaves open. Photograph the wall by the room's light and \
                     name it in wall_photos",
                    "die Wand selbst hat nahe der Hell-Dunkel-Grenze eine waagerechte Kante, in {} mm Höhe (Farbe, ein Absatz \
                     oder ein Rohr; sie ist so scharf wie das Foto und läuft an der Wand weiter): sie wurde herausgerechnet, \
                     und das ± enthält, was das offen lässt. Die Wand im Raumlicht fotografieren und in wall_photos nennen";
                    Span::over(heights.copied(), 0).said(language)
                )
            }
            Self::Jumps(jump) => {
                let jumps = all.iter().filter_map(|w| match w {
                    Self::Jumps(jump) => Some(jump),
                    _ => None,
                });
                let largest = jumps.max_by(|a, b| a.by_deg.total_cmp(&b.by_deg)).unwrap_or(jump);
                let largest = largest.said(language);
                let of_several = if all.len() > 1 {
                    said!(language; " (the largest)", " (die größte Stelle)")
                } else {
                    String::new()
                };
                said!(
                    language;
                    "{largest}{of_several}: is the other lamp lit too? Cover it and take the photo again",
                    "{largest}{of_several}: brennt der andere Scheinwerfer auch? Ihn abdecken und das Foto neu aufnehmen"
                )
            }
            Self::NearWall {
                distance_mm,
                u95_percent,
            } => said!(
                language;
                "the lamp's distance of {} m is small, and a lamp is no point: on a near wall its light reaches higher, and the aim \
                 reads up to some {u95_percent} % too little (the ± allows for it; travels are not moved); give the {}, \
                 or aim from 10 m",
                "der Abstand des Scheinwerfers von {} m ist klein, und ein Scheinwerfer ist kein Punkt: an einer nahen Wand \
                 reicht sein Licht höher, und die Neigung wird um bis zu etwa {u95_percent} % zu klein gelesen (das ± \
                 berücksichtigt es; Stellwege verschiebt es nicht); die {} angeben oder aus 10 m \
                 messen";
                language.decimal(distance_mm / 1000.0, 1),
                Lamp::face_height(language),
                u95_percent = language.decimal(*u95_percent, 1)
            ),
            Self::NoMountingHeight => said!(
                language;
                "heights are from a level line: the tolerance row and the reach take the lamp's centre height as its height above the ground; \
                 give its height above the ground where that is not so",
                "die Höhen gelten ab einer Waagerechten: Toleranzzeile und Reichweite nehmen die Höhe der Scheinwerfermitte \
                 als Höhe über dem Boden; diese angeben, wo das nicht stimmt"
            ),
            Self::RepeatsDiffer {
                photos: [first, second],
                difference_percent,
                u95_percent,
                set_between,
            } => {
                let between = set_between
                    .as_ref()
                    .map_or_else(String::new, |between| format!(" {}", between.said(language)));
                said!(
                    language;
                    "the photos {} and {} are of one lamp in one state, and differ by {} % ± {u95_percent} %: does the job give both their \
                     right lamp, stage, position and vacuum, and was nothing moved between them?{between}",
                    "die Fotos {} und {} zeigen einen Scheinwerfer in einem Zustand und unterscheiden sich um {} % ± \
                     {u95_percent} %: gibt der Auftrag bei beiden Scheinwerfer, Stufe (vor oder nach der Reparatur), Stellung und \
                     Unterdruck richtig an, und wurde dazwischen nichts bewegt?{between}";
                    first.display(),
                    second.display(),
                    language.decimal(difference_percent.abs(), 2),
                    u95_percent = language.decimal(*u95_percent, 2)
                )
            }
            Self::TravelAcrossRepair {
                lamp,
                older,
                newer,
                apart_min,
            } => {
                let stem = lamp.stem();
                let named = |photos: &[PathBuf]| {
                    let names: Vec<String> = photos.iter().map(|photo| photo.display().to_string()).collect();
                    listed(language, &names)
                };
                let (older, newer) = (named(older), named(newer));
                // Beyond two hours nobody counts in minutes.
                let apart = if *apart_min < 120.0 {
                    format!("{apart_min:.0} min")
                } else {
                    format!("{} h", language.decimal(apart_min / 60.0, 1))
                };
                said!(
                    language;
                    "the {lamp} lamp's photos at its positions after the repair were taken in two bouts, {apart} apart, and the job has a later \
                     repair that concerns this lamp. If it lies between them, {older} show another state than {newer}, and a travel from one bout \
                     to the other counts what was set or mended, too: no such travel is told, and the first bout is left out. Take its photos out \
                     of the job, and photograph these positions again",
                    "die Fotos des {stem}en Scheinwerfers in seinen Stellungen nach der Reparatur wurden in zwei Durchgängen aufgenommen, {apart} \
                     auseinander, und der Auftrag hat eine spätere Reparatur, die diesen Scheinwerfer betrifft. Liegt sie dazwischen, zeigen {older} \
                     einen anderen Zustand als {newer}, und ein Stellweg von einem Durchgang zum anderen enthält auch, was eingestellt oder instand \
                     gesetzt wurde: Solche Stellwege werden nicht angegeben, und der erste Durchgang bleibt außer Betracht. Seine Fotos aus dem \
                     Auftrag herausnehmen und diese Stellungen neu fotografieren"
                )
            }
            Self::StagesAgainstClock { lamp, before, after } => said!(
                language;
                "{}: {}, which the job says is from after the repair, was taken before {}, which it says is from before it; \
                 are the stages exchanged?",
                "{}: {}, laut Auftrag von nach der Reparatur, wurde vor {} aufgenommen, laut Auftrag von davor; sind die \
                 Angaben vertauscht?";
                lamp_said(language, *lamp),
                after.display(),
                before.display()
            ),
            Self::RepairAgainstClock {
                repaired,
                photo,
                stage,
                taken,
            } => {
                let (photo, taken, repaired) = (photo.display(), date(language, taken), date(language, repaired));
                match stage {
                    Stage::Before => said!(
                        language;
                        "the job says that the repair was done on {repaired}, and that {photo}, taken on {taken}, is from before it; is \
                         the date of the repair mistyped, or the camera's clock wrong?",
                        "laut Auftrag wurde am {repaired} repariert, und {photo}, aufgenommen am {taken}, ist von davor; ist das Datum der \
                         Reparatur vertippt, oder geht die Uhr der Kamera falsch?"
                    ),
                    Stage::After => said!(
                        language;
                        "the job says that the repair was done on {repaired}, and that {photo}, taken on {taken}, is from after it; is \
                         the date of the repair mistyped, or the camera's clock wrong?",
                        "laut Auftrag wurde am {repaired} repariert, und {photo}, aufgenommen am {taken}, ist von danach; ist das Datum \
                         der Reparatur vertippt, oder geht die Uhr der Kamera falsch?"
                    ),
                }
            }
            Self::ElbowJumped { lamp, right_mm } => said!(
                language;
                "{}: in the photos from after the repair the elbow lies {:.0} mm further to the {} than in those from before: \
                 a range adjuster moves the beam up and down only. Where the car was moved, the job's place, height and distance hold \
                 for one of the two stages; where the lamp was turned aside, nothing is wrong",
                "{}: in den Fotos von nach der Reparatur liegt der Knick {:.0} mm weiter {} als in denen von davor: eine \
                 Leuchtweitenverstellung bewegt den Lichtkegel nur auf und ab. Wurde das Fahrzeug umgestellt, gelten Lage, \
                 Höhe und Abstand des Auftrags nur für einen der beiden Zustände; wurde der Scheinwerfer seitlich verstellt, \
                 ist nichts falsch";
                lamp_said(language, *lamp),
                right_mm.abs(),
                side_of(*right_mm).said(language)
            ),
            Self::Copies { photos } => said!(
                language;
                "{}: made smaller than the camera's own photos in this job, as a message or an editor does; copies are read less \
                 surely, and a travel between a copy and an original can leave its interval; {as_written}",
                "{}: kleiner als die Fotos, die die Kamera selbst in diesem Auftrag schrieb, wie ein Nachrichtendienst oder \
                 ein Bildprogramm es macht; Kopien werden weniger sicher gelesen, und ein Stellweg zwischen Kopie und \
                 Original kann sein Intervall verlassen; {as_written}";
                photos.iter().map(|photo| photo.display().to_string()).collect::<Vec<_>>().join(", ")
            ),
            Self::PatternUnlike { stated, seen } => said!(
                language;
                "the job says pattern = \"{stated}\", and the edge looks like \"{seen}\"; check it, or leave pattern out",
                "der Auftrag sagt pattern = \"{stated}\", und die Kante sieht nach \"{seen}\" aus; prüfen oder pattern \
                 weglassen"
            ),
            Self::EdgeFalls { traffic } => {
                let driven = match traffic {
                    Traffic::Right => "Rechtsverkehr",
                    Traffic::Left => "Linksverkehr",
                };
                said!(
                    language;
                    "beyond the lamp the edge falls, where a cut-off rises or runs on level: is the car built for {traffic}-hand traffic, as \
                 the job says, and is the lamp's place right? On the wrong side the figure is that of the raised part",
                    "jenseits des Scheinwerfers fällt die Kante, wo eine Hell-Dunkel-Grenze ansteigt oder eben weiterläuft: \
                     ist das Fahrzeug für {driven} gebaut, wie der Auftrag sagt, und stimmt die Lage des Scheinwerfers? Auf \
                     der falschen Seite gilt der Messwert dem angehobenen Teil"
                )
            }
            Self::LampsUnlike {
                stage,
                measure,
                left_mm,
                right_mm,
            } => {
                let at = about_the_repair(language, *stage);
                let what = match measure {
                    LampMeasure::Height => language.pick("a height", "eine Höhe"),
                    LampMeasure::Distance => language.pick("a distance to the wall", "einen Abstand zur Wand"),
                    LampMeasure::Place => language.pick("a place beside the centre line", "eine Lage zur Mittellinie"),
                };
                let usual = match (language, measure) {
                    (Language::English, LampMeasure::Height) => "a car's lamps hang alike in height; measure again",
                    (Language::English, LampMeasure::Distance) => {
                        "a car that stands square has both at one distance; measure again, or set it square"
                    }
                    (Language::English, LampMeasure::Place) => {
                        "of a car that stands in the middle they lie alike to either side of the centre line, the left one \
                         negative; measure again, unless it stands aside"
                    }
                    (Language::German, LampMeasure::Height) => {
                        "die Scheinwerfer eines Fahrzeugs sitzen gleich hoch; neu messen"
                    }
                    (Language::German, LampMeasure::Distance) => {
                        "bei einem Fahrzeug, das gerade steht, sind beide gleich weit entfernt; neu messen oder gerade stellen"
                    }
                    (Language::German, LampMeasure::Place) => {
                        "bei einem Fahrzeug, das in der Mitte steht, liegen sie gleich weit zu beiden Seiten der Mittellinie, der linke \
                         negativ; neu messen, falls es nicht seitlich steht"
                    }
                };
                said!(
                    language;
                    "the job gives {what} of {} mm for the left lamp and of {} mm for the right one{at}, and {usual}",
                    "der Auftrag gibt{at} {what} von {} mm für den linken Scheinwerfer und von {} mm für den rechten an, und {usual}";
                    tenth(language, *left_mm),
                    tenth(language, *right_mm)
                )
            }
            Self::LampHeightChanged {
                lamp,
                before_mm,
                after_mm,
            } => {
                let stem = lamp.stem();
                said!(
                    language;
                    "the job has the {lamp} lamp {} mm high before the repair and {} mm after it, and a lamp does not move in the car; \
                 measure the height of its centre again, unless tyres, springs or load were changed",
                    "der Auftrag hat den {stem}en Scheinwerfer vor der Reparatur {} mm hoch und danach {} mm, und ein \
                     Scheinwerfer wandert nicht im Fahrzeug; die Höhe seiner Mitte neu messen, falls nicht Reifen, Federn oder \
                     Beladung geändert wurden";
                    tenth(language, *before_mm),
                    tenth(language, *after_mm)
                )
            }
            Self::LampSpacingChanged { before_mm, after_mm } => said!(
                language;
                "by their places in the job the lamps are {} mm apart before the repair and {} mm after it, and a lamp does not move in \
                 the car; measure again",
                "nach ihren Lagen im Auftrag liegen die Scheinwerfer vor der Reparatur {} mm auseinander und danach {} mm, \
                 und ein Scheinwerfer wandert nicht im Fahrzeug; neu messen";
                tenth(language, *before_mm),
                tenth(language, *after_mm)
            ),
            Self::DistanceUnlikely { lamp, distance_mm } => {
                let stem = lamp.stem();
                said!(
                    language;
                    "the job gives a distance of {} m from the {lamp} lamp to the wall; 7.5 to 10 m is usual. Check that distance, and that \
                 it is in millimetres",
                    "der Auftrag gibt vom {stem}en Scheinwerfer zur Wand einen Abstand von {} m an; üblich sind 7,5 bis 10 m. \
                     Diesen Abstand prüfen, und ob es Millimeter sind";
                    language.decimal(distance_mm / 1000.0, 1)
                )
            }
            Self::GroundHeightUnlikely { lamp, height_mm } => {
                let stem = lamp.stem();
                said!(
                    language;
                    "by the job the {lamp} lamp's centre lies {} mm above the ground, which no car's does: heights are from a level \
                 line, so give mounting_height_mm, which chooses the tolerance row and gives the reach; without it there is neither",
                    "nach dem Auftrag liegt die Mitte des {stem}en Scheinwerfers {} mm über dem Boden, wie bei keinem \
                     Fahrzeug: die Höhen gelten ab einer Waagerechten, also die Höhe über dem Boden angeben, die die Toleranzzeile \
                     bestimmt und die Reichweite gibt; ohne sie gibt es beides nicht";
                    tenth(language, *height_mm)
                )
            }
            Self::SheetInFloor { id, y_mm } => said!(
                language;
                "sheet {id} would hang in the floor: y, {} mm, is less than half of its size. Measure the sheets' heights to their \
                 centres, from the floor, as the lamps' heights",
                "Messblatt {id} hinge im Boden: y, {} mm, ist weniger als seine halbe Größe. Die Höhen der Blätter bis zu \
                 ihren Mitten messen, vom Boden aus wie die Höhen der Scheinwerfer";
                tenth(language, *y_mm)
            ),
            Self::CameraHeightUnlikely { photo, height_mm } => said!(
                language;
                "by the sheets the camera of {} stood {} m above the floor; are the sheets' heights measured from the same floor as \
                 the lamps' heights?",
                "nach den Messblättern stand die Kamera von {} {} m über dem Boden; sind die Höhen der Blätter vom selben \
                 Boden aus gemessen wie die der Scheinwerfer?";
                photo.display(),
                language.decimal(height_mm / 1000.0, 1)
            ),
            Self::BeamRises { percent } => said!(
                language;
                "the cut-off lies above the lamp's centre: the beam rises by {} %, and dazzles. If it does not on the road, check the \
                 job's height of the lamp, the distance, and what the sheets' heights are measured from",
                "die Hell-Dunkel-Grenze liegt über der Mitte des Scheinwerfers: der Lichtkegel steigt um {} % und blendet. \
                 Tut er das auf der Straße nicht, die Höhe des Scheinwerfers im Auftrag prüfen, den Abstand, und wovon aus die Höhen \
                 der Blätter gemessen sind";
                language.decimal(percent.abs(), 2)
            ),
            Self::BeamLow { percent } => said!(
                language;
                "the beam falls by {percent} %, lower than any rule lets it; check the lamp's height and distance in the job, and what \
                 the sheets' heights are measured from",
                "der Lichtkegel fällt um {percent} %, tiefer als jede Vorschrift es zulässt; Höhe und Abstand des Scheinwerfers \
                 des Auftrags prüfen, und wovon aus die Höhen der Blätter gemessen sind";
                percent = language.decimal(*percent, 2)
            ),
            Self::ElbowAside { percent, .. } => said!(
                language;
                "the elbow lies {} % of the distance to the {} of the lamp: the car may not stand square to the wall, or the lamp aims sideways; \
                 else check the lamp's place beside the centre line and the traffic side in the job. The cut-off is read 2.5° beside the elbow, and the ± holds what \
                 that leaves open",
                "der Knick liegt {} % des Abstands {} vom Scheinwerfer: das Fahrzeug steht vielleicht nicht gerade zur Wand, \
                 oder der Scheinwerfer zielt seitlich; sonst die Lage des Scheinwerfers zur Mittellinie und die Verkehrsseite im Auftrag prüfen. Die \
                 Hell-Dunkel-Grenze wird 2,5° neben dem Knick gelesen, und das ± enthält, was das offen lässt";
                asides(language, all),
                side_of(*percent).said(language)
            ),
            Self::CarAskew {
                stage,
                percent,
                u95_percent,
            } => said!(
                language;
                "the elbows of both lamps lie to the {}{}, by {} % ± {u95_percent} % of the distance on the average: the car does not stand square to the \
                 wall, by {} degrees, or the job's centre_x_mm are not from the bay's centre line. Set it square, and measure again",
                "die Knicke beider Scheinwerfer liegen {}{}, im Mittel um {} % ± {u95_percent} % des Abstands: das Fahrzeug \
                 steht um {} Grad nicht gerade zur Wand, oder die Lage des Scheinwerfers im Auftrag ist nicht von der Mittellinie des \
                 Messplatzes aus gemessen. Gerade stellen und neu messen";
                side_of(*percent).said(language),
                about_the_repair(language, *stage),
                language.decimal(percent.abs(), 1),
                language.decimal((percent.abs() / 100.0).atan().to_degrees(), 1),
                u95_percent = language.decimal(*u95_percent, 1)
            ),
        }
    }
}

/// How far elbows lie aside, "4.0 % ± 0.2" or, of several, "3.9 to 4.1".
fn asides(language: Language, all: &[&Warning]) -> String {
    match all {
        [Warning::ElbowAside { percent, u95_percent }] => {
            language.figure(&format!("{:.1} % ± {u95_percent:.1}", percent.abs()))
        }
        all => span(language, all, 1, |w| match w {
            Warning::ElbowAside { percent, .. } => Some(percent.abs()),
            _ => None,
        }),
    }
}

/// A length to the tenth of a millimetre, mm.
fn tenth(language: Language, mm: f64) -> String {
    language.figure(&((10.0 * mm).round() / 10.0).to_string())
}

/// "left lamp".
fn lamp_said(language: Language, lamp: Side) -> String {
    let stem = lamp.stem();
    said!(language; "{lamp} lamp", "{stem}er Scheinwerfer")
}

/// " before the repair", where the stage is known.
fn about_the_repair(language: Language, stage: Option<Stage>) -> &'static str {
    match (language, stage) {
        (_, None) => "",
        (Language::English, Some(Stage::Before)) => " before the repair",
        (Language::English, Some(Stage::After)) => " after the repair",
        (Language::German, Some(Stage::Before)) => " vor der Reparatur",
        (Language::German, Some(Stage::After)) => " nach der Reparatur",
    }
}

/// ", before the repair", where the stage is known.
fn at_stage(language: Language, stage: Option<Stage>) -> String {
    stage
        .map(|stage| format!(",{}", about_the_repair(language, Some(stage))))
        .unwrap_or_default()
}

/// The side that lies this way along x, as seen by who faces the wall.
fn side_of(x: f64) -> Side {
    if x > 0.0 { Side::Right } else { Side::Left }
}

/// That `first` and so many more photos carry no time.
fn untimed(language: Language, first: &std::path::Path, more: usize) -> String {
    let first = first.display();
    match more {
        0 => said!(
            language; "{first}: the photo carries no time (EXIF)", "{first}: das Foto trägt keine Uhrzeit (EXIF)"
        ),
        n => said!(
            language;
            "{first} and {n} more: the photos carry no time (EXIF)",
            "{first} und {n} weitere: die Fotos tragen keine Uhrzeit (EXIF)"
        ),
    }
}

/// In outputs for machines a warning is its words, in English.
///
/// # Errors
/// The serializer's own.
pub(crate) fn as_words<S: Serializer>(warnings: &[Warning], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(warnings.iter().map(ToString::to_string))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::digits;

    /// What a warning's words must hold for a cause that it gives.
    fn words_of(cause: Cause) -> &'static [&'static str] {
        match cause {
            Cause::Job => &["job", "photo"],
            Cause::Exposure => &["expos"],
            Cause::Blur => &["blur"],
            Cause::Tone => &["tone", "HDR", "joined"],
            Cause::Bracket => &["bracket", "merged", "against that of", "shares fewer"],
            Cause::CameraMoved => &["camera moved"],
            Cause::Time => &["no time", "taken before", "another time", "clock"],
            Cause::Marks => &["sheet"],
            Cause::Sharpness => &["sharpness"],
            Cause::Shape => &["bent"],
            Cause::Lean => &["leans"],
            Cause::Wall => &["the wall itself"],
            Cause::Askew => &["square to the wall"],
            Cause::OtherLight => &["other light"],
            Cause::OtherLamp => &["other lamp"],
            Cause::SecondEdge => &["second edge"],
            Cause::Distance => &["nearer than", "distance"],
            Cause::Heights => &["height"],
            Cause::Photos => &["photo", "reading"],
            Cause::Adjuster => &["beam", "movement", "readings", "curve"],
            Cause::Pump => &["pump", "gauge"],
            Cause::System => &["component"],
        }
    }

    #[test]
    fn a_measure_has_its_comma_and_a_file_its_name() {
        let warning = Warning::RepeatsDiffer {
            photos: [PathBuf::from("a.jpg"), PathBuf::from("b.jpg")],
            difference_percent: -0.3,
            u95_percent: 0.05,
            set_between: None,
        };
        let said = warning.said(Language::German);
        assert!(
            said.starts_with("die Fotos a.jpg und b.jpg") && said.contains("um 0,30 % ± 0,05 %"),
            "{said}"
        );
    }

    #[test]
    fn a_worn_lamp_is_no_cause_of_a_hard_edge() {
        let said = |sharpness_g| Warning::Sharpness { sharpness_g }.to_string();
        assert!(said(0.1).contains("worn reflector") && !said(0.1).contains("25 m"));
        assert!(said(0.45).contains("at 25 m") && !said(0.45).contains("worn"));
    }

    #[test]
    fn words_speak_of_each_cause_that_is_given() {
        let (photo, base) = (|| PathBuf::from("a.jpg"), || PathBuf::from("b.jpg"));
        let merged = |why| Warning::NotMerged { photo: photo(), why };
        let processed = |sign| Warning::Processed {
            photo: PhotoOfShot::Main,
            sign,
        };
        let unlike = |measure| Warning::LampsUnlike {
            stage: None,
            measure,
            left_mm: 560.0,
            right_mm: 650.0,
        };
        let jump = EdgeJump {
            by_deg: 0.2,
            at_deg: 6.0,
            side: Side::Left,
        };
        let repeats = |older, is_entered| Warning::RepeatsDiffer {
            photos: [photo(), base()],
            difference_percent: 0.3,
            u95_percent: 0.05,
            set_between: Some(SetBetween { older, is_entered }),
        };
        for warning in [
            Warning::SamePhoto {
                photos: [photo(), base()],
            },
            Warning::Cropped { aside_percent: 12.0 },
            Warning::SettingNotShown {
                lamp: Side::Left,
                stage: Some(Stage::Before),
                positions: vec!["1".to_owned(), "2".to_owned()],
            },
            processed(Processing::MergedExposures),
            processed(Processing::GainMap),
            processed(Processing::Panorama),
            processed(Processing::SyntheticBlur),
            processed(Processing::ToneCurve { light: 0.5 }),
            processed(Processing::UnreadCurve),
            processed(Processing::Recoded),
            Warning::LampOffExposureUnknown,
            Warning::LampInLampOff {
                photo: photo(),
                percent: 2.0,
            },
            Warning::WallPhotoUnused {
                photo: photo(),
                why: Said::as_written("it shows no sheets; take it again"),
            },
            Warning::WallPhotoLit { photo: photo() },
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
            Warning::TableForOtherSide {
                table: "us-vor".to_owned(),
                meant: Side::Right,
            },
            Warning::Sharpness { sharpness_g: 0.1 },
            Warning::Sharpness { sharpness_g: 0.45 },
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
            Warning::PaintNear {
                heights_mm: vec![560.0, 610.0],
            },
            Warning::Jumps(jump),
            Warning::NearWall {
                distance_mm: 4_000.0,
                u95_percent: 0.8,
            },
            Warning::NoMountingHeight,
            Warning::RepeatsDiffer {
                photos: [photo(), base()],
                difference_percent: 0.3,
                u95_percent: 0.05,
                set_between: None,
            },
            repeats(vec![photo()], true),
            repeats(Vec::new(), false),
            Warning::TravelAcrossRepair {
                lamp: Side::Right,
                older: vec![photo()],
                newer: vec![base()],
                apart_min: 38.0,
            },
            Warning::TravelAcrossRepair {
                lamp: Side::Left,
                older: vec![photo()],
                newer: vec![base()],
                apart_min: 150.0,
            },
            Warning::StagesAgainstClock {
                lamp: Side::Left,
                before: photo(),
                after: base(),
            },
            Warning::EdgeByHand { other_deg: None },
            Warning::EdgeByHand { other_deg: Some(-1.6) },
            Warning::RepairAgainstClock {
                repaired: "2031-03-01".to_owned(),
                photo: photo(),
                stage: Stage::Before,
                taken: "2031-03-04".to_owned(),
            },
            Warning::RepairAgainstClock {
                repaired: "2031-03-05".to_owned(),
                photo: photo(),
                stage: Stage::After,
                taken: "2031-03-04".to_owned(),
            },
            Warning::ElbowJumped {
                lamp: Side::Left,
                right_mm: 80.0,
            },
            Warning::Copies { photos: vec![photo()] },
            Warning::PatternUnlike {
                stated: Pattern::Flat,
                seen: Pattern::KickUp,
            },
            Warning::EdgeFalls {
                traffic: Traffic::Right,
            },
            unlike(LampMeasure::Height),
            unlike(LampMeasure::Distance),
            unlike(LampMeasure::Place),
            Warning::LampHeightChanged {
                lamp: Side::Left,
                before_mm: 650.0,
                after_mm: 560.0,
            },
            Warning::LampSpacingChanged {
                before_mm: 1_120.0,
                after_mm: 1_080.0,
            },
            Warning::DistanceUnlikely {
                lamp: Side::Left,
                distance_mm: 762.0,
            },
            Warning::GroundHeightUnlikely {
                lamp: Side::Left,
                height_mm: -350.0,
            },
            Warning::SheetInFloor { id: 1, y_mm: 20.0 },
            Warning::CameraHeightUnlikely {
                photo: photo(),
                height_mm: -700.0,
            },
            Warning::BeamRises { percent: -0.3 },
            Warning::BeamLow { percent: 4.5 },
            Warning::ElbowAside {
                percent: 1.2,
                u95_percent: 0.2,
            },
            Warning::CarAskew {
                stage: None,
                percent: -4.0,
                u95_percent: 0.2,
            },
        ] {
            let said = warning.to_string();
            let german = warning.said(Language::German);
            assert_eq!(digits(&said), digits(&german), "{said}: {german}");
            for english in [" the ", " and ", " is ", " of ", ": the"] {
                assert!(!german.contains(english), "{german}");
            }
            assert!(!warning.causes().is_empty(), "{said}");
            for &cause in warning.causes() {
                let words = words_of(cause);
                assert!(words.iter().any(|word| said.contains(word)), "{cause:?}: {said}");
            }
            let words = as_words(&[warning], serde_json::value::Serializer).unwrap();
            assert_eq!(words, serde_json::json!([said]));
        }
    }
}
