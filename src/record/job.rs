//! The job: one car, what was done to it and what was photographed.

use super::kind::FileKind;
use super::{FaultKind, SCHEMA, Vacuum, check_range, check_schema, is_setting, parse_toml, read_text};
use crate::error::Error;
use crate::language::Language;
use serde::{Deserialize, Serialize};
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

/// A gauge that is read worse than this says nothing about a range adjuster, mbar: the whole travel takes some 300 mbar
/// (common practice, no source).
const MOST_VACUUM_SD_MBAR: f64 = 200.0;

/// The side of the road that the car is built for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Traffic {
    /// Right-hand traffic: the cut-off's flat side is the left.
    Right,
    /// Left-hand traffic: the cut-off's flat side is the right.
    Left,
}

impl Traffic {
    /// Direction along x, +1 or −1, from the lamp's V-V towards the flat side of the cut-off (UN R112, cut-off
    /// quality annex: left for right-hand traffic).
    #[must_use]
    pub fn flat_side_sign(self) -> f64 {
        match self {
            Self::Right => -1.0,
            Self::Left => 1.0,
        }
    }

    /// The side of the lamp, as seen facing the wall, on which the cut-off is flat and is read.
    #[must_use]
    pub fn flat_side(self) -> Side {
        match self {
            Self::Right => Side::Left,
            Self::Left => Side::Right,
        }
    }
}

/// The shape of the cut-off beside the flat part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Pattern {
    /// The edge rises from the elbow, usually at 15°.
    KickUp,
    /// The edge steps up at the elbow and runs on level.
    Step,
    /// The edge is flat on both sides.
    Flat,
}

/// A side of the car, from the driver's seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Side {
    /// The left lamp.
    Left,
    /// The right lamp.
    Right,
}

/// When a photo was taken, in the course of the repair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Stage {
    /// Before the repair.
    Before,
    /// After the repair.
    After,
}

/// Which way the vacuum was being changed when a photo was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Branch {
    /// Vacuum was being applied, step by step.
    Applying,
    /// Vacuum was being released, step by step.
    Releasing,
}

/// What was seen in a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Moves {
    /// The beam moved and stayed.
    Yes,
    /// The beam did not move.
    No,
    /// The beam moved and crept back.
    CreepsBack,
}

/// What a trial's entry says: an outcome of its test, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum TrialMoves {
    /// The beam moved and stayed.
    Yes,
    /// The beam did not move.
    No,
    /// The beam moved and crept back.
    CreepsBack,
    /// The beam moved by less than it should.
    Partly,
    /// The beam moved and did not come back when it was let go.
    DoesNotReturn,
    /// The part was looked at, and its rod hangs on nothing.
    RodOff,
    /// The part was moved by hand, and what it is to move is stiff.
    Stiff,
    /// The test was not done.
    NotDone,
}

impl TrialMoves {
    /// The outcome of the test; `None` where what was seen is none of them.
    #[must_use]
    pub fn outcome(self) -> Option<Moves> {
        match self {
            Self::Yes => Some(Moves::Yes),
            Self::No => Some(Moves::No),
            Self::CreepsBack => Some(Moves::CreepsBack),
            Self::RodOff | Self::Stiff => Some(Moves::No),
            Self::Partly | Self::DoesNotReturn | Self::NotDone => None,
        }
    }

    /// The kind of fault that was seen itself, where a part was looked at or moved by hand.
    #[must_use]
    pub fn fault(self) -> Option<FaultKind> {
        match self {
            Self::RodOff => Some(FaultKind::RodOff),
            Self::Stiff => Some(FaultKind::Stiff),
            _ => None,
        }
    }
}

impl From<Moves> for TrialMoves {
    fn from(moves: Moves) -> Self {
        match moves {
            Moves::Yes => Self::Yes,
            Moves::No => Self::No,
            Moves::CreepsBack => Self::CreepsBack,
        }
    }
}

/// What the pump's gauge did in a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Gauge {
    /// It rose, and stayed.
    RisesAndHolds,
    /// It could not be made to rise.
    WillNotRise,
    /// It rose, and fell back.
    Falls,
}

said_as_written! {
    TrialMoves {
        Yes => "yes", "ja";
        No => "no", "nein";
        CreepsBack => "creeps-back", "kriecht zurück";
        Partly => "partly", "teilweise";
        DoesNotReturn => "does-not-return", "kommt nicht zurück";
        RodOff => "rod-off", "Stange ab";
        Stiff => "stiff", "schwergängig";
        NotDone => "not-done", "nicht gemacht";
    }
    Pattern {
        KickUp => "kick-up", "ansteigend";
        Step => "step", "mit Stufe";
        Flat => "flat", "eben";
    }
    Moves {
        Yes => "yes", "ja";
        No => "no", "nein";
        CreepsBack => "creeps-back", "kriecht zurück";
    }
}

display_as_written! {
    Gauge { RisesAndHolds => "rises-and-holds", WillNotRise => "will-not-rise", Falls => "falls" }
    Extent { All => "all", Piece => "piece" }
    Traffic { Right => "right", Left => "left" }
    Side { Left => "left", Right => "right" }
    Stage { Before => "before", After => "after" }
    Branch { Applying => "applying", Releasing => "releasing" }
}

impl Side {
    /// Where it is: "left", "links".
    #[must_use]
    pub const fn said(self, language: Language) -> &'static str {
        match (language, self) {
            (Language::English, Self::Left) => "left",
            (Language::English, Self::Right) => "right",
            (Language::German, Self::Left) => "links",
            (Language::German, Self::Right) => "rechts",
        }
    }

    /// The other lamp.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
        }
    }

    /// The German adjective without its ending, which the sentence adds: "link" makes linker, linke, linken, linkem.
    #[must_use]
    pub const fn stem(self) -> &'static str {
        match self {
            Self::Left => "link",
            Self::Right => "recht",
        }
    }
}

impl Stage {
    /// When: "before", "vorher".
    #[must_use]
    pub const fn said(self, language: Language) -> &'static str {
        match (language, self) {
            (Language::English, Self::Before) => "before",
            (Language::English, Self::After) => "after",
            (Language::German, Self::Before) => "vorher",
            (Language::German, Self::After) => "nachher",
        }
    }
}

impl Branch {
    /// Which way the vacuum goes: "applying", "steigend".
    #[must_use]
    pub const fn said(self, language: Language) -> &'static str {
        match (language, self) {
            (Language::English, Self::Applying) => "applying",
            (Language::English, Self::Releasing) => "releasing",
            (Language::German, Self::Applying) => "steigend",
            (Language::German, Self::Releasing) => "fallend",
        }
    }
}

/// A job file, its paths as written there.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Version of the file format.
    pub schema: u32,
    /// The job's own number or name.
    pub job: String,
    /// The bay file, relative to the job file.
    pub bay: PathBuf,
    /// The side of the road the car is built for.
    pub traffic: Traffic,
    /// The cut-off's shape; left out, it is found from the photo.
    pub pattern: Option<Pattern>,
    /// A tolerance table's name, or a path to one.
    pub tolerance: Option<String>,
    /// Where a table offers the maker a choice of bands: the choice's name in the table.
    pub tolerance_choice: Option<String>,
    /// The set value stamped on lamp or car, for the `lamp-mark` table.
    pub lamp_mark: Option<LampMark>,
    /// A system's name, or a path to one; for fault isolation.
    pub system: Option<String>,
    /// Photos of the wall by the room's light, lamps off: what it reflects, paint and all, and a well-lit view of the sheets.
    #[serde(default)]
    pub wall_photos: Vec<PathBuf>,
    /// True when the photos were made (rendered), not taken: the report then says so. Of photos that say it themselves it is known without.
    #[serde(default)]
    pub made_photos: bool,
    /// Free text for the report.
    pub vehicle: Option<Vehicle>,
    /// Who measured, and with what; free text for the report.
    pub workshop: Option<Workshop>,
    /// The lamps.
    #[serde(default)]
    pub lamp: Vec<Lamp>,
    /// The photos.
    #[serde(default)]
    pub shot: Vec<Shot>,
    /// Tests done for fault isolation.
    #[serde(default)]
    pub trial: Vec<Trial>,
    /// What was done between before and after.
    #[serde(default)]
    pub repair: Vec<RepairEntry>,
    /// How the range adjuster's movement is judged.
    #[serde(default)]
    pub adjuster: AdjusterLimits,
    /// For each trial, how many repairs stand above it in the file; none where that is not known. It tells which of several repairs a
    /// trial of the stage after them follows.
    #[serde(skip)]
    pub repairs_above: Vec<usize>,
}

/// For each `[[trial]]` of a job's text the number of `[[repair]]` above it.
fn repairs_above(text: &str) -> Vec<usize> {
    let starts = |key: &str| -> Vec<usize> {
        let table = toml::de::DeTable::parse(text).ok();
        let entries = table
            .as_ref()
            .and_then(|table| table.get_ref().get(key)?.get_ref().as_array());
        entries
            .into_iter()
            .flat_map(|all| all.iter().map(|one| one.span().start))
            .collect()
    };
    let repairs = starts("repair");
    let above = |trial: &usize| repairs.iter().filter(|repair| *repair < trial).count();
    starts("trial").iter().map(above).collect()
}

/// How the range adjuster's movement is judged: the job's `[adjuster]` table.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct AdjusterLimits {
    /// Travel that each position of the range control should give.
    #[serde(default)]
    pub expected: Vec<ExpectedTravel>,
    /// Least travel that is of interest, per cent: what is surely less is said not to move.
    #[serde(default = "default_least_travel_percent")]
    pub least_travel_percent: f64,
    /// Largest difference between the left and the right lamp at one position, per cent; left out, it is not judged.
    pub left_right_limit_percent: Option<f64>,
    /// One standard deviation of a gauge reading, for shots that give none.
    #[serde(default = "default_vacuum_sd")]
    pub vacuum_sd: Vacuum,
}

impl Default for AdjusterLimits {
    fn default() -> Self {
        Self {
            expected: Vec::new(),
            least_travel_percent: LEAST_TRAVEL_PERCENT,
            left_right_limit_percent: None,
            vacuum_sd: default_vacuum_sd(),
        }
    }
}

/// Heights above the ground, mm, that a road car's lamp can have; centimetres or inches would lie outside.
pub(crate) const LAMP_HEIGHTS_MM: std::ops::RangeInclusive<f64> = 300.0..=2500.0;

/// Whether a position's name is the letter that looks like position 0.
fn is_letter_for_zero(name: &str) -> bool {
    matches!(name.trim(), "O" | "o")
}

/// The travel that a position of the range control should give.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ExpectedTravel {
    /// The position.
    pub position: String,
    /// Change of the inclination from the lamp's first position to this one, per cent, positive downward.
    pub travel_percent: f64,
    /// How far it may be off on either side, per cent.
    pub tolerance_percent: f64,
}

/// Least travel that is of interest where the job sets none, per cent: a range adjuster's steps are several times as
/// large, and a settling suspension or a shifted tripod hides less (common practice, no source).
const LEAST_TRAVEL_PERCENT: f64 = 0.05;

fn default_least_travel_percent() -> f64 {
    LEAST_TRAVEL_PERCENT
}

/// What a hand pump's dial, divided every 20 mbar, can be read to (common practice, no source).
fn default_vacuum_sd() -> Vacuum {
    Vacuum::from_mbar(5.0)
}

/// Free text about the car, shown on the report.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Vehicle {
    /// What the car is.
    pub description: Option<String>,
    /// Its registration.
    pub registration: Option<String>,
    /// What its odometer showed, in the words of who read it.
    pub odometer: Option<Odometer>,
    /// What its odometer showed, km.
    pub odometer_km: Option<f64>,
    /// The number stamped on it.
    pub identification: Option<String>,
    /// What was in it at the measurement, and how full its tank was.
    pub load: Option<String>,
}

/// Who measured a car, and with what: free text, shown on the report.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Workshop {
    /// Its name, and where it is.
    pub name: Option<String>,
    /// Who measured.
    pub measured_by: Option<String>,
    /// The day, as it is to stand on the report.
    pub date: Option<String>,
    /// What lengths were measured with; how sure they are stands with each.
    pub tape: Option<String>,
    /// The vacuum gauge; how sure it is stands in `[adjuster]`.
    pub gauge: Option<String>,
}

/// What an odometer showed, as it was typed: its unit is the text's.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(untagged)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Odometer {
    /// A bare figure.
    Number(f64),
    /// Such as "181 000 km".
    Text(String),
}

impl std::fmt::Display for Odometer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number(figure) => write!(f, "{figure}"),
            Self::Text(text) => f.pad(text),
        }
    }
}

/// The set value stamped on the lamp or the car, and the tolerances that the user gives for it. With a table of limits of its own the value
/// only stands beside them.
#[derive(Debug, Clone, Copy, Default, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct LampMark {
    /// The stamped value, per cent (drop per 100 of distance).
    pub set_percent: Option<f64>,
    /// Tolerance of the setting: by how much the figure may be smaller, and larger, than the stamped value, per cent, both positive. `None`:
    /// what UN R48 has for the lamp's height.
    pub setting_tolerance_percent: Option<[f64; 2]>,
    /// What the beam must keep to over all loads, the smallest figure and the largest, per cent. `None`: as for the setting.
    pub range_percent: Option<[f64; 2]>,
}

/// A lamp as measured on the car.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Lamp {
    /// Which lamp, from the driver's seat.
    pub side: Side,
    /// The only stage that this entry holds for; left out, it holds for all that have none of their own.
    pub stage: Option<Stage>,
    /// The bay file of this entry's photos, relative to the job file, where the wall was hung anew for them; left out, the
    /// job's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bay: Option<PathBuf>,
    /// Height of the lamp's reference centre above the height reference, mm.
    pub centre_height_mm: f64,
    /// One standard deviation of that height, mm.
    #[serde(default = "default_height_sd_mm")]
    pub centre_height_sd_mm: f64,
    /// The lamp's reference centre, mm to the right of the bay's centre line.
    pub centre_x_mm: f64,
    /// From the lamp's reference centre to the wall, along the vehicle's axis, mm.
    pub distance_mm: f64,
    /// One standard deviation of that distance, mm.
    #[serde(default = "default_distance_sd_mm")]
    pub distance_sd_mm: f64,
    /// Height of the lens or reflector that throws the dipped beam, mm: what it does to an aim read from a near wall is then
    /// taken out. 0 for a lamp that is as good as a point.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub face_height_mm: Option<f64>,
    /// Height of the lamp's centre above the ground it stands on, mm, where heights are taken from a level line
    /// that is not the ground: it chooses the tolerance row and gives the reach. Left out: the centre height.
    pub mounting_height_mm: Option<f64>,
}

impl Lamp {
    /// What `face_height_mm` is called wherever no file is before one's eyes: in forms and notes alike.
    pub(crate) const fn face_height(language: Language) -> &'static str {
        language.pick(
            "height of the lens or reflector that throws its dipped beam",
            "Höhe der Linse oder des Reflektors des Abblendlichts",
        )
    }

    /// Standard deviation of the height where none is given, mm: what a tape measure and a plumb line reach on a lamp whose
    /// centre is marked on the lens (common practice, no source).
    pub const HEIGHT_SD_MM: f64 = 2.0;
    /// Standard deviation of the distance where none is given, mm: what a tape laid along the floor reaches over some metres
    /// (common practice, no source).
    pub const DISTANCE_SD_MM: f64 = 10.0;

    /// A lamp with the usual uncertainties: height of its centre, its place to the right of the bay's centre line, and its
    /// distance to the wall, mm.
    #[must_use]
    pub fn of(side: Side, centre_height_mm: f64, centre_x_mm: f64, distance_mm: f64) -> Self {
        Self {
            side,
            stage: None,
            bay: None,
            centre_height_mm,
            centre_height_sd_mm: Self::HEIGHT_SD_MM,
            centre_x_mm,
            distance_mm,
            distance_sd_mm: Self::DISTANCE_SD_MM,
            face_height_mm: None,
            mounting_height_mm: None,
        }
    }

    /// Height above the ground that the lamp stands on, mm.
    #[must_use]
    pub fn height_above_ground_mm(&self) -> f64 {
        self.mounting_height_mm.unwrap_or(self.centre_height_mm)
    }

    /// The same, where a road car's lamp can have it: heights from a level line need not be such.
    #[must_use]
    pub(crate) fn known_height_above_ground_mm(&self) -> Option<f64> {
        Some(self.height_above_ground_mm()).filter(|height_mm| LAMP_HEIGHTS_MM.contains(height_mm))
    }
}

fn default_height_sd_mm() -> f64 {
    Lamp::HEIGHT_SD_MM
}

fn default_distance_sd_mm() -> f64 {
    Lamp::DISTANCE_SD_MM
}

/// One photo of the beam.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Shot {
    /// The photo, relative to the job file.
    pub photo: PathBuf,
    /// Which lamp is lit.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Position of the driver's range control, where it was used.
    pub position: Option<String>,
    /// Vacuum on the pump's gauge, where a pump was used.
    pub vacuum: Option<Vacuum>,
    /// One standard deviation of that reading; left out, the job's `adjuster.vacuum_sd`.
    pub vacuum_sd: Option<Vacuum>,
    /// Which way the vacuum was being changed.
    pub branch: Option<Branch>,
    /// The pump's valve is shut: this shot belongs to a leak-down series.
    #[serde(default)]
    pub sealed: bool,
    /// Which series under the pump it belongs to, where there are several leak-downs of one lamp and stage; named like a test
    /// ("pump-at-left-lamp", "at the lamp") it says where the pump was joined.
    pub series: Option<String>,
    /// Local time of the capture, `YYYY-MM-DDThh:mm:ss`, where it was typed; it counts before EXIF's.
    pub taken: Option<String>,
    /// The same view with the lamp off, relative to the job file.
    pub lamp_off: Option<PathBuf>,
    /// The same view in the same state with other exposures, relative to the job file; they are merged with `photo`.
    #[serde(default)]
    pub brackets: Vec<PathBuf>,
    /// Sheets that are not found in the photo by themselves, placed in it by somebody who looked at it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sheets_by_hand: Vec<SheetByHand>,
    /// About where somebody who looked at the photo saw the cut-off, where it has several edges: the inclination that it would
    /// have there, per cent. Of the edges that can be a cut-off the nearest is read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub edge_near_percent: Option<f64>,
}

/// Where somebody saw a sheet in a photo.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SheetByHand {
    /// The sheet's number.
    pub id: u32,
    /// The outer corners of its black border in the upright photo, px to the right and down from the upper left pixel's centre;
    /// in the order of the sheet as printed: top left, top right, bottom right, bottom left.
    pub corners_px: [[f64; 2]; 4],
}

impl SheetByHand {
    /// Whether the corners go round a four-sided figure without a dent, as they are listed.
    fn goes_round(&self) -> bool {
        let corner = |n: usize| self.corners_px[n % 4];
        (0..4).all(|n| {
            let ([ax, ay], [bx, by], [cx, cy]) = (corner(n), corner(n + 1), corner(n + 2));
            (bx - ax) * (cy - by) - (by - ay) * (cx - bx) > 0.0
        })
    }
}

impl Shot {
    /// A shot of this lamp of which nothing but its photo is known.
    #[must_use]
    pub fn of(photo: impl Into<PathBuf>, lamp: Side) -> Self {
        Self {
            photo: photo.into(),
            lamp,
            stage: None,
            position: None,
            vacuum: None,
            vacuum_sd: None,
            branch: None,
            sealed: false,
            series: None,
            taken: None,
            lamp_off: None,
            brackets: Vec::new(),
            sheets_by_hand: Vec::new(),
            edge_near_percent: None,
        }
    }

    /// The state in which the photo shows its lamp; the mean of photos of one state means something. `None`: a state of its
    /// own, as of a photo that names neither position nor vacuum, and of each photo of a leak-down.
    #[must_use]
    pub(crate) fn state(&self) -> Option<State<'_>> {
        let named = self.position.is_some() || self.vacuum.is_some();
        (named && !self.sealed).then(|| self.state_or_aim_check())
    }

    /// As [`Self::state`], where photos that name neither position nor vacuum are aim checks of one state.
    #[must_use]
    pub(crate) fn state_or_aim_check(&self) -> State<'_> {
        State {
            lamp: self.lamp,
            stage: self.stage,
            position: self.position.as_deref().map(str::trim),
            // Adding nothing makes -0 the same as 0.
            vacuum_mbar_bits: self.vacuum.map(|vacuum| (vacuum.mbar() + 0.0).to_bits()),
            branch: self.branch,
        }
    }
}

/// A lamp in one state, as a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct State<'a> {
    lamp: Side,
    stage: Option<Stage>,
    position: Option<&'a str>,
    vacuum_mbar_bits: Option<u64>,
    branch: Option<Branch>,
}

/// A test done for fault isolation.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// A test that the system file names.
    pub test: String,
    /// What was seen.
    pub moves: Option<TrialMoves>,
    /// What the pump's gauge did.
    pub gauge: Option<Gauge>,
    /// Before or after the repair; left out, before.
    pub stage: Option<Stage>,
    /// Photo of the beam at rest, relative to the job file.
    pub still: Option<PathBuf>,
    /// Photo of the beam with the test applied, relative to the job file.
    pub driven: Option<PathBuf>,
}

/// What was done to the car between before and after.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RepairEntry {
    /// A component of the system; left out, the words say it.
    pub component: Option<String>,
    /// When, ISO 8601 (`YYYY-MM-DD`).
    pub date: String,
    /// What was done.
    pub words: String,
    /// How much of the component is new; left out, all of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extent: Option<Extent>,
}

/// How much of a component a repair renewed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Extent {
    /// All of it is new.
    All,
    /// A piece of it is new, or it was mended or cleaned where it sits: what else was wrong with it may be so still.
    Piece,
}

impl RepairEntry {
    /// Whether its date is a day, and nothing else.
    pub(crate) fn has_day(&self) -> bool {
        let date = self.date.parse::<toml::value::Datetime>();
        date.is_ok_and(|d| d.date.is_some() && d.time.is_none() && d.offset.is_none())
    }
}

impl Job {
    /// Whether the car is another one by now than that of the first photos: a repair is entered, or photos or tests from after one are.
    #[must_use]
    pub fn has_been_repaired(&self) -> bool {
        let stages = self.shot.iter().map(|shot| shot.stage);
        let mut stages = stages.chain(self.trial.iter().map(|trial| trial.stage));
        !self.repair.is_empty() || stages.any(|stage| stage == Some(Stage::After))
    }

    /// The bay files that it names: its own, and those of lamps that stood before another wall; one may come more than once.
    pub(crate) fn walls(&self) -> impl Iterator<Item = &PathBuf> {
        std::iter::once(&self.bay).chain(self.lamp.iter().filter_map(|lamp| lamp.bay.as_ref()))
    }

    /// Calls each file of the job for which `renamed` has another path by that.
    pub(super) fn rename_paths(&mut self, renamed: &dyn Fn(&Path) -> Option<String>) {
        let lamps = self.lamp.iter_mut().filter_map(|lamp| lamp.bay.as_mut());
        let shots = self.shot.iter_mut().flat_map(|shot| {
            let others = shot.lamp_off.iter_mut().chain(&mut shot.brackets);
            std::iter::once(&mut shot.photo).chain(others)
        });
        let trials = (self.trial.iter_mut()).flat_map(|trial| trial.still.iter_mut().chain(&mut trial.driven));
        let own = std::iter::once(&mut self.bay).chain(&mut self.wall_photos);
        for path in own.chain(lamps).chain(shots).chain(trials) {
            if let Some(new) = renamed(path) {
                *path = PathBuf::from(new);
            }
        }
        for name in self.tolerance.iter_mut().chain(&mut self.system) {
            if let Some(new) = renamed(Path::new(name)) {
                *name = new;
            }
        }
    }

    /// A job of which no more is known than its bay and the side of the road that the car is built for.
    #[must_use]
    pub fn of(job: impl Into<String>, bay: impl Into<PathBuf>, traffic: Traffic) -> Self {
        Self {
            schema: SCHEMA,
            job: job.into(),
            bay: bay.into(),
            traffic,
            pattern: None,
            tolerance: None,
            tolerance_choice: None,
            lamp_mark: None,
            system: None,
            wall_photos: Vec::new(),
            made_photos: false,
            vehicle: None,
            workshop: None,
            lamp: Vec::new(),
            shot: Vec::new(),
            trial: Vec::new(),
            repair: Vec::new(),
            adjuster: AdjusterLimits::default(),
            repairs_above: Vec::new(),
        }
    }

    /// Reads and checks a job file.
    ///
    /// # Errors
    /// [`Error`] for a file that cannot be read, an unknown or missing key, or a value that cannot be.
    pub fn read(path: &Path) -> Result<Self, Error> {
        Self::of_text(path, &read_text(path)?)
    }

    /// As [`Self::read`], from the file's text; `path` is used in messages only.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub(crate) fn of_text(path: &Path, text: &str) -> Result<Self, Error> {
        let mut job: Self = parse_toml(path, text).map_err(|e| FileKind::Job.wanted(path, text, e))?;
        job.repairs_above = repairs_above(text);
        job.check(path)?;
        Ok(job)
    }

    /// The lamp on `side`, where the job lists one: the first of its entries.
    #[must_use]
    pub fn lamp(&self, side: Side) -> Option<&Lamp> {
        self.lamp.iter().find(|lamp| lamp.side == side)
    }

    /// The entry of a shot's lamp: that of its stage, else the one without a stage.
    #[must_use]
    pub fn lamp_of(&self, shot: &Shot) -> Option<&Lamp> {
        self.lamp_at(shot.lamp, shot.stage)
    }

    /// The entry of the lamp on `side` at a stage: that of the stage, else the one without a stage.
    #[must_use]
    pub fn lamp_at(&self, side: Side, stage: Option<Stage>) -> Option<&Lamp> {
        let of = |stage: Option<Stage>| (self.lamp.iter()).find(|l| l.side == side && l.stage == stage);
        of(stage).or_else(|| of(None))
    }

    /// Checks what the types cannot: ranges, doubles, and references between entries.
    ///
    /// # Errors
    /// [`Error`] naming the key and the mend.
    pub fn check(&self, path: &Path) -> Result<(), Error> {
        check_schema(path, self.schema)?;
        for n in 0..self.lamp.len() {
            self.check_lamp(path, n)?;
        }
        self.check_photos(path)?;
        for shot in &self.shot {
            self.check_shot(path, shot)?;
        }
        self.check_trials(path)?;
        self.check_repairs(path)?;
        self.check_adjuster(path)?;
        if let Some(mark) = &self.lamp_mark {
            if let Some(set_percent) = mark.set_percent {
                check_range(path, "lamp_mark.set_percent", set_percent, -5.0, 10.0)?;
            }
            for tolerance_percent in mark.setting_tolerance_percent.into_iter().flatten() {
                check_range(path, "lamp_mark.setting_tolerance_percent", tolerance_percent, 0.0, 5.0)?;
            }
            if let Some([low_percent, high_percent]) = mark.range_percent {
                check_range(path, "lamp_mark.range_percent", low_percent, -5.0, high_percent)?;
            }
            let has_limits = mark.setting_tolerance_percent.is_some() || mark.range_percent.is_some();
            if has_limits && mark.set_percent.is_none() {
                return Err(Error::in_file(
                    path,
                    "the tolerances in [lamp_mark] count only with set_percent beside them; give it, or leave them out",
                ));
            }
        }
        Ok(())
    }

    fn check_trials(&self, path: &Path) -> Result<(), Error> {
        for trial in &self.trial {
            let ((Some(_), None, None) | (None, Some(_), Some(_))) = (trial.moves, &trial.still, &trial.driven) else {
                return Err(Error::in_file(
                    path,
                    format!(
                        "the trial \"{}\" needs either moves = \"yes\" | \"no\" | \"creeps-back\" | \"partly\" | \
                         \"does-not-return\" | \"rod-off\" | \"stiff\" | \"not-done\", or both still and driven photos",
                        trial.test
                    ),
                ));
            };
            if trial.still.is_some() && trial.still == trial.driven {
                return Err(Error::in_file(
                    path,
                    format!(
                        "the trial \"{}\" has one photo as still and as driven; give one of the beam at rest, and one with the test applied",
                        trial.test
                    ),
                ));
            }
        }
        Ok(())
    }

    fn check_repairs(&self, path: &Path) -> Result<(), Error> {
        for repair in &self.repair {
            if !repair.has_day() {
                return Err(Error::in_file(
                    path,
                    format!(
                        "date = \"{}\" of a [[repair]] is no day; write year, month and day as in \"2031-03-05\"",
                        repair.date
                    ),
                ));
            }
            if repair.words.trim().is_empty() {
                return Err(Error::in_file(
                    path,
                    format!(
                        "the [[repair]] of {} has no words; say what was done, as in words = \"replaced\"",
                        repair.date
                    ),
                ));
            }
        }
        Ok(())
    }

    /// Checks lamp `n`.
    fn check_lamp(&self, path: &Path, n: usize) -> Result<(), Error> {
        let lamp = &self.lamp[n];
        let range = |key: &str, value: f64, low: f64, high: f64| {
            check_range(path, &format!("{key} of the {} lamp", lamp.side), value, low, high)
        };
        range("centre_height_mm", lamp.centre_height_mm, -5_000.0, 5_000.0)?;
        range("centre_height_sd_mm", lamp.centre_height_sd_mm, 0.0, 500.0)?;
        range("centre_x_mm", lamp.centre_x_mm, -50_000.0, 50_000.0)?;
        range("distance_mm", lamp.distance_mm, 500.0, 100_000.0)?;
        range("distance_sd_mm", lamp.distance_sd_mm, 0.0, 5_000.0)?;
        if let Some(height_mm) = lamp.face_height_mm {
            range("face_height_mm", height_mm, 0.0, 400.0)?;
        }
        if let Some(height_mm) = lamp.mounting_height_mm {
            range("mounting_height_mm", height_mm, 100.0, 5_000.0)?;
        }
        let is_same = |other: &Lamp| other.side == lamp.side && other.stage == lamp.stage;
        if self.lamp[..n].iter().any(is_same) {
            let stage = lamp
                .stage
                .map(|stage| format!(" for stage = \"{stage}\""))
                .unwrap_or_default();
            return Err(Error::in_file(
                path,
                format!(
                    "the {} lamp is listed twice{stage}; keep one [[lamp]] for each side, or give each its own stage",
                    lamp.side
                ),
            ));
        }
        Ok(())
    }

    /// Checks a shot by itself.
    fn check_shot(&self, path: &Path, shot: &Shot) -> Result<(), Error> {
        let photo = shot.photo.display();
        let slip = |message: String| Err(Error::in_file(path, message));
        if shot.lamp_off.as_ref() == Some(&shot.photo) {
            return slip(format!(
                "the shot {photo} has itself as lamp_off; give the photo taken with the lamp off"
            ));
        }
        if let Some(position) = shot.position.as_deref().filter(|name| is_letter_for_zero(name)) {
            return slip(format!(
                "position = \"{position}\" of the shot {photo} is the letter O; where the range control stands at its rest, write the \
                 digit: position = \"0\""
            ));
        }
        if let Some(percent) = shot.edge_near_percent {
            check_range(
                path,
                &format!("edge_near_percent of the shot {photo}"),
                percent,
                -10.0,
                20.0,
            )?;
        }
        if let Some(sheet) = shot.sheets_by_hand.iter().find(|sheet| !sheet.goes_round()) {
            return slip(format!(
                "sheet {} of the shot {photo} is placed by hand with its corners out of order; list its top left, top right, bottom \
                 right and bottom left, each as px to the right and down",
                sheet.id
            ));
        }
        if let Some(sd) = shot.vacuum_sd {
            let name = format!("vacuum_sd (in mbar) of the shot {photo}");
            check_range(path, &name, sd.mbar(), 0.0, MOST_VACUUM_SD_MBAR)?;
            if shot.vacuum.is_none() {
                return slip(format!(
                    "the shot {photo} has vacuum_sd but no vacuum; add what the gauge showed, or take vacuum_sd out"
                ));
            }
        }
        if shot.series.is_some() && !shot.is_pumped() {
            return slip(format!(
                "the shot {photo} has series but neither vacuum nor sealed; series tells photos under a pump apart: add what \
                 the gauge showed, or sealed = true, or take series out"
            ));
        }
        if let Some(taken) = shot.taken.as_deref().filter(|taken| !is_moment(taken)) {
            return slip(format!(
                "taken = \"{taken}\" of the shot {photo} is no time; write it as in \"2031-03-04T20:15:00\""
            ));
        }
        if self.lamp(shot.lamp).is_some() && self.lamp_of(shot).is_none() {
            let stage = shot
                .stage
                .map_or_else(|| "no stage".to_owned(), |s| format!("stage = \"{s}\""));
            return slip(format!(
                "the shot {photo} has {stage}, and no [[lamp]] of the {} lamp holds for that; add such an entry, one without \
                 stage, or mend the shot's stage",
                shot.lamp
            ));
        }
        if self.lamp(shot.lamp).is_none() {
            return slip(format!(
                "the shot {photo} is of the {side} lamp, which has no [[lamp]] entry; add one with side = \"{side}\", its \
                 centre_height_mm, centre_x_mm and distance_mm",
                side = shot.lamp
            ));
        }
        Ok(())
    }

    /// Checks the `[adjuster]` table.
    fn check_adjuster(&self, path: &Path) -> Result<(), Error> {
        let limits = &self.adjuster;
        // At 0 nothing could ever be said not to move, and more than 5 % no adjuster travels.
        check_range(
            path,
            "adjuster.least_travel_percent",
            limits.least_travel_percent,
            0.001,
            5.0,
        )?;
        if let Some(limit_percent) = limits.left_right_limit_percent {
            check_range(path, "adjuster.left_right_limit_percent", limit_percent, 0.0, 10.0)?;
        }
        check_range(
            path,
            "adjuster.vacuum_sd (in mbar)",
            limits.vacuum_sd.mbar(),
            0.0,
            MOST_VACUUM_SD_MBAR,
        )?;
        for (n, expected) in limits.expected.iter().enumerate() {
            let name = |key: &str| format!("{key} of adjuster.expected for position \"{}\"", expected.position);
            check_range(path, &name("travel_percent"), expected.travel_percent, -10.0, 10.0)?;
            check_range(path, &name("tolerance_percent"), expected.tolerance_percent, 0.0, 10.0)?;
            if is_letter_for_zero(&expected.position) {
                return Err(Error::in_file(
                    path,
                    format!(
                        "position = \"{}\" of adjuster.expected is the letter O; write the digit 0",
                        expected.position
                    ),
                ));
            }
            if is_setting(Some(&expected.position)) && expected.travel_percent.abs() > expected.tolerance_percent {
                return Err(Error::in_file(
                    path,
                    format!(
                        "adjuster.expected wants a travel of {} % of position \"{}\", but travels are counted from there, so that its own is \
                         0; give the travel of the other positions, and take this entry out",
                        expected.travel_percent, expected.position
                    ),
                ));
            }
            if limits.expected[..n].iter().any(|o| o.position == expected.position) {
                return Err(Error::in_file(
                    path,
                    format!(
                        "adjuster.expected lists position \"{}\" twice; keep one",
                        expected.position
                    ),
                ));
            }
        }
        Ok(())
    }

    /// Checks that no photo has two parts in the job that exclude each other.
    fn check_photos(&self, path: &Path) -> Result<(), Error> {
        let slip = |message: String| Err(Error::in_file(path, message));
        let mut photos = HashSet::new();
        if let Some(shot) = self.shot.iter().find(|shot| !photos.insert(&shot.photo)) {
            return slip(format!(
                "the photo {} is listed in two [[shot]] entries; each photo shows one state of the car, so one entry is wrong",
                shot.photo.display()
            ));
        }
        if let Some(wall) = self.wall_photos.iter().find(|wall| !photos.insert(wall)) {
            return slip(format!(
                "wall_photos has {}, which is listed twice or is the photo of a [[shot]]; it shows the wall with the lamps off",
                wall.display()
            ));
        }
        let mut lamp_off: HashMap<&Path, &Shot> = HashMap::new();
        for shot in &self.shot {
            if let Some(off) = &shot.lamp_off {
                lamp_off.entry(off).or_insert(shot);
            }
        }
        let mut brackets: HashMap<&Path, &Shot> = HashMap::new();
        for shot in &self.shot {
            for bracket in &shot.brackets {
                let before = brackets.insert(bracket, shot);
                let why = if before.is_some_and(|other| other.photo == shot.photo) {
                    "twice; keep one".to_owned()
                } else if *bracket == shot.photo {
                    "which is its own photo; list only the other exposures".to_owned()
                } else if photos.contains(bracket) {
                    format!(
                        "which is the photo of another shot, {}; each photo shows one state of the car",
                        bracket.display()
                    )
                } else if let Some(other) = lamp_off.get(bracket.as_path()) {
                    format!(
                        "which is lamp_off of the shot {}; a bracket shows the lamp lit",
                        other.photo.display()
                    )
                } else if let Some(other) = before {
                    format!(
                        "which is also in brackets of the shot {}; each photo shows one state of the car",
                        other.photo.display()
                    )
                } else {
                    continue;
                };
                return slip(format!(
                    "brackets of the shot {} has {}, {why}",
                    shot.photo.display(),
                    bracket.display()
                ));
            }
        }
        Ok(())
    }
}

/// Whether a text is a local time, `YYYY-MM-DDThh:mm:ss`.
fn is_moment(text: &str) -> bool {
    /// Characters of such a text.
    const LENGTH: usize = 19;
    let read = text.parse::<toml::value::Datetime>();
    text.len() == LENGTH
        && text.contains('T')
        && read.is_ok_and(|d| d.date.is_some() && d.time.is_some() && d.offset.is_none())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::parse_toml;

    const GOOD: &str = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n[[lamp]]\nside = \"left\"\n\
                        centre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n[[shot]]\nphoto = \"1.jpg\"\n\
                        lamp = \"left\"\nvacuum = \"300 mbar\"\n";

    fn parse(text: &str) -> Result<Job, Error> {
        let path = Path::new("job.toml");
        let job: Job = parse_toml(path, text)?;
        job.check(path).map(|()| job)
    }

    #[test]
    fn a_good_job_reads_with_its_defaults() {
        let job = parse(GOOD).unwrap();
        assert_eq!(job.lamp[0].distance_sd_mm, 10.0);
        assert_eq!(job.shot[0].vacuum.unwrap().mbar(), 300.0);
        assert!(!job.made_photos && job.pattern.is_none());
    }

    #[test]
    fn photos_of_one_state_are_those_that_name_the_same_one() {
        let shot = |photo: &str, position: Option<&str>, sealed| Shot {
            position: position.map(str::to_owned),
            sealed,
            ..Shot::of(photo, Side::Left)
        };
        let first = shot("1.jpg", Some("0"), false);
        let other = shot("2.jpg", Some("0"), false);
        assert!(first.state().is_some() && first.state() == other.state());
        assert_ne!(first.state(), shot("2.jpg", Some("1"), false).state());
        assert_eq!(shot("1.jpg", None, false).state(), None, "nothing is named");
        assert_eq!(shot("1.jpg", Some("0"), true).state(), None, "it leaks down");
        let right = Shot {
            lamp: Side::Right,
            ..other
        };
        assert_ne!(first.state(), right.state());
    }

    #[test]
    fn slips_are_named() {
        for (from, to, part) in [
            ("photo =", "foto =", "foto"),
            ("lamp = \"left\"", "lamp = \"right\"", "right lamp"),
            ("\"300 mbar\"", "\"300\"", "unit is missing"),
            ("10000.0", "10.0", "distance_mm"),
            ("traffic = \"right\"", "traffic = \"middle\"", "middle"),
            ("[[shot]]", "[[trial]]\ntest = \"t\"\n[[shot]]", "moves"),
            (
                "[[shot]]",
                "[[trial]]\ntest = \"t\"\nstill = \"2.jpg\"\ndriven = \"2.jpg\"\n[[shot]]",
                "one photo as still and as driven",
            ),
            (
                "vacuum = \"300 mbar\"",
                "position = \"O\"",
                "write the digit: position = \"0\"",
            ),
            ("vacuum = \"300 mbar\"", "position = \" o \"", "is the letter O"),
            ("10000.0", "393.7", "between 500 and 100000 mm is expected"),
            ("10000.0", "10000.0\ndistance_sd_mm = 9000", "and 5000 mm is"),
        ] {
            let message = parse(&GOOD.replacen(from, to, 1)).unwrap_err().to_string();
            assert!(message.contains(part), "{to}: {message}");
        }
    }

    #[test]
    fn the_adjuster_table_reads_with_its_defaults_and_its_slips_are_named() {
        assert_eq!(parse(GOOD).unwrap().adjuster, AdjusterLimits::default());
        let table = "[adjuster]\nleast_travel_percent = 0.08\nleft_right_limit_percent = 0.3\nvacuum_sd = \"1 kPa\"\n\
                     expected = [{position = \"1\", travel_percent = 0.5, tolerance_percent = 0.15}]\n";
        let full = format!("{GOOD}vacuum_sd = \"2 mbar\"\n{table}");
        let job = parse(&full).unwrap();
        assert_eq!(job.shot[0].vacuum_sd.unwrap().mbar(), 2.0);
        assert_eq!(job.adjuster.vacuum_sd.mbar(), 10.0);
        assert_eq!(job.adjuster.left_right_limit_percent, Some(0.3));
        assert_eq!(job.adjuster.expected[0].travel_percent, 0.5);
        for (from, to, part) in [
            (
                "least_travel_percent = 0.08",
                "least_travel_percent = 0.0",
                "least_travel_percent",
            ),
            ("least_travel_percent", "least_travel", "least_travel"),
            (
                "left_right_limit_percent = 0.3",
                "left_right_limit_percent = -1.0",
                "left_right_limit_percent",
            ),
            ("\"1 kPa\"", "\"1\"", "unit is missing"),
            ("\"1 kPa\"", "\"1 bar\"", "adjuster.vacuum_sd"),
            ("tolerance_percent = 0.15", "tolerance_percent = -0.1", "position \"1\""),
            ("\"2 mbar\"", "\"2\"", "unit is missing"),
            ("vacuum = \"300 mbar\"\n", "", "no vacuum"),
            (
                "}]",
                "}, {position = \"1\", travel_percent = 0.5, tolerance_percent = 0.15}]",
                "twice",
            ),
            ("position = \"1\"", "position = \"0\"", "its own is 0"),
            ("position = \"1\"", "position = \"O\"", "the letter O"),
            ("0.5, tolerance", "70, tolerance", "and 10 % is expected"),
        ] {
            let message = parse(&full.replacen(from, to, 1)).unwrap_err().to_string();
            assert!(message.contains(part), "{to}: {message}");
        }
    }

    #[test]
    fn slips_in_brackets_are_named() {
        let two = format!(
            "{GOOD}[[shot]]\nphoto = \"2.jpg\"\nlamp = \"left\"\nlamp_off = \"off.jpg\"\nbrackets = [\"a.jpg\", \"b.jpg\"]\n"
        );
        assert_eq!(parse(&two).unwrap().shot[1].brackets.len(), 2);
        assert!(parse(GOOD).unwrap().shot[0].brackets.is_empty());
        let in_both = two.replacen("lamp = \"left\"\n", "lamp = \"left\"\nbrackets = [\"b.jpg\"]\n", 1);
        for (text, part) in [
            (two.replacen("\"b.jpg\"", "\"a.jpg\"", 1), "a.jpg, twice"),
            (
                two.replacen("\"b.jpg\"", "\"2.jpg\"", 1),
                "2.jpg, which is its own photo",
            ),
            (
                two.replacen("\"b.jpg\"", "\"1.jpg\"", 1),
                "1.jpg, which is the photo of another shot",
            ),
            (
                two.replacen("\"b.jpg\"", "\"off.jpg\"", 1),
                "off.jpg, which is lamp_off",
            ),
            (in_both, "b.jpg, which is also in brackets of the shot 1.jpg"),
        ] {
            let message = parse(&text).unwrap_err().to_string();
            assert!(
                message.contains("brackets of the shot 2.jpg") && message.contains(part),
                "{message}"
            );
        }
    }

    #[test]
    fn a_lamp_has_an_entry_for_each_stage_or_one_for_all() {
        let second = "[[lamp]]\nside = \"left\"\nstage = \"after\"\ncentre_height_mm = 640.0\ncentre_x_mm = -500.0\n\
                      distance_mm = 9000.0\n";
        let job = parse(&format!("{GOOD}{second}")).unwrap();
        for (stage, distance_mm) in [
            (None, 10_000.0),
            (Some(Stage::Before), 10_000.0),
            (Some(Stage::After), 9_000.0),
        ] {
            let shot = Shot {
                stage,
                ..job.shot[0].clone()
            };
            assert_eq!(job.lamp_of(&shot).unwrap().distance_mm, distance_mm, "{stage:?}");
        }
        for (text, part) in [
            (format!("{GOOD}{second}{second}"), "listed twice for stage = \"after\""),
            (
                GOOD.replacen("side = \"left\"", "side = \"left\"\nstage = \"after\"", 1),
                "1.jpg has no stage",
            ),
        ] {
            let message = parse(&text).unwrap_err().to_string();
            assert!(message.contains(part), "{message}");
        }
    }

    #[test]
    fn repairs_trials_and_typed_times_are_checked() {
        let full = format!(
            "{GOOD}sealed = true\nseries = \"at the lamp\"\ntaken = \"2031-03-04T20:15:00\"\n[vehicle]\ndescription = \"c\"\n\
             odometer_km = 181000\n[[trial]]\ntest = \"t\"\nmoves = \"not-done\"\ngauge = \"falls\"\nstage = \"after\"\n\
             [[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-05\"\nwords = \"replaced\"\n"
        );
        let job = parse(&full).unwrap();
        assert_eq!(job.trial[0].moves, Some(TrialMoves::NotDone));
        assert_eq!(job.repair[0].words, "replaced");
        for (from, to, part) in [
            ("2031-03-05", "2031-13-05", "no day"),
            ("2031-03-05", "2031-03-05T10:00:00", "no day"),
            ("words = \"replaced\"", "words = \" \"", "has no words"),
            ("T20:15:00", " 20:15", "is no time"),
            (
                "vacuum = \"300 mbar\"\nsealed = true\n",
                "",
                "neither vacuum nor sealed",
            ),
            ("not-done", "perhaps", "perhaps"),
            ("\"falls\"", "\"sinks\"", "sinks"),
        ] {
            let message = parse(&full.replacen(from, to, 1)).unwrap_err().to_string();
            assert!(message.contains(part), "{to}: {message}");
        }
    }

    #[test]
    fn who_measured_may_be_named() {
        let job = parse(&format!("{GOOD}[workshop]\nname = \"W\"\ntape = \"class II\"\n")).unwrap();
        let workshop = job.workshop.unwrap();
        assert_eq!(
            (workshop.name.as_deref(), workshop.tape.as_deref()),
            (Some("W"), Some("class II"))
        );
        let slip = parse(&format!("{GOOD}[workshop]\ntaep = \"x\"\n"))
            .unwrap_err()
            .to_string();
        assert!(slip.contains("taep") && slip.contains("tape"), "{slip}");
    }

    #[test]
    fn all_that_is_said_of_the_car_is_optional() {
        let of = |more: &str| parse(&format!("{GOOD}[vehicle]\n{more}")).map(|job| job.vehicle.unwrap());
        assert_eq!(of("").unwrap(), Vehicle::default());
        let full = of(
            "description = \"c\"\nregistration = \"r\"\nodometer = \"112 000 miles\"\nodometer_km = 180246\n\
                       identification = \"i\"\n",
        );
        let full = full.unwrap();
        assert_eq!(
            (full.description.as_deref(), full.registration.as_deref()),
            (Some("c"), Some("r"))
        );
        assert_eq!(full.odometer.unwrap().to_string(), "112 000 miles");
        assert_eq!(
            of("odometer = 181000\n").unwrap().odometer.unwrap().to_string(),
            "181000"
        );
        assert!(of("odometer = true\n").is_err());
        assert!(
            of("colour = \"grey\"\n")
                .unwrap_err()
                .to_string()
                .contains("\"colour\"")
        );
    }

    #[test]
    fn the_flat_side_is_left_for_right_hand_traffic() {
        assert_eq!(Traffic::Right.flat_side_sign(), -1.0);
        assert_eq!(Traffic::Left.flat_side_sign(), 1.0);
        assert_eq!(
            [Traffic::Right, Traffic::Left].map(Traffic::flat_side),
            [Side::Left, Side::Right]
        );
    }
}
