//! What the technician writes down: the bay, the job, tolerance tables, systems, and the units they are
//! written in; and what can hurt somebody.
//!
//! Each file is TOML; an unknown key is an error that names the key and the line, so that a typing slip can never
//! be ignored silently.

/// Writes each variant as its words.
macro_rules! display_as_written {
    ($($type:ty { $($variant:ident => $text:literal),+ $(,)? })+) => {$(
        impl std::fmt::Display for $type {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(match self { $(Self::$variant => $text),+ })
            }
        }
    )+};
}
pub(crate) use display_as_written;

/// Writes each variant as its words in each language; as text it is what files have for it, which is English, too, unless that has words of its own.
macro_rules! said_as_written {
    (@english $code:literal) => { $code };
    (@english $code:literal $english:literal) => { $english };
    ($($type:ty { $($variant:ident => $code:literal $(($english:literal))?, $german:literal;)+ })+) => {$(
        impl $type {
            /// Its words.
            #[must_use]
            pub const fn said(self, language: $crate::language::Language) -> &'static str {
                match (self, language) {$(
                    (Self::$variant, $crate::language::Language::English) => {
                        $crate::record::said_as_written!(@english $code $($english)?)
                    },
                    (Self::$variant, $crate::language::Language::German) => $german,
                )+}
            }
        }

        impl std::fmt::Display for $type {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(match self { $(Self::$variant => $code),+ })
            }
        }
    )+};
}
pub(crate) use said_as_written;

mod bay;
mod cautions;
mod edit;
mod job;
mod kind;
mod position;
mod rounding;
mod slip;
mod source;
mod system;
mod tolerance;
mod vacuum;
mod words;

pub(crate) use bay::cramped_on_a_line;
pub use bay::{Bay, Bays, HeightsFrom, Marks, Sheet};
pub(crate) use cautions::Caution;
pub use edit::{
    Changed, Entries, Kept, NewFigure, NewValue, append, append_lamps, append_repair, change_gauge, change_repair,
    give_lamp_off, name_system, places_after, put_back, repair_entry, set_figures, set_values, take_out, trial_entry,
};
pub(crate) use edit::{quoted, with_paths};
pub(crate) use job::LAMP_HEIGHTS_MM;
pub(crate) use job::State;
pub use job::{
    AdjusterLimits, Branch, ExpectedTravel, Extent, Gauge, Job, Lamp, LampMark, Moves, Odometer, Pattern, RepairEntry,
    SheetByHand, Shot, Side, Stage, Traffic, Trial, TrialMoves, Vehicle, Workshop,
};
pub(crate) use position::{SETTING_POSITION, in_order, is_setting};
pub(crate) use rounding::{Figure, Places, round};
pub(crate) use source::Source;
pub use system::{
    Component, Costs, Fault, FaultKind, HoseEnd, LeakSizes, Setup, System, Test, UsualTravel, VacuumSource, Watch,
    system_names,
};
pub(crate) use tolerance::table_names;
pub use tolerance::{Band, ToleranceTable};
pub use vacuum::{ParseVacuumError, Vacuum};

use crate::bounded_file;
use crate::error::Error;
use std::path::Path;

/// The one version of the file formats that this program reads.
pub const SCHEMA: u32 = 1;

/// Reads a TOML file into a typed record.
///
/// # Errors
/// [`Error`] when the file cannot be read, is no TOML, lacks a key, or has an unknown one; the message names
/// the key and the line.
pub(crate) fn read_toml<T: serde::de::DeserializeOwned>(path: &Path) -> Result<T, Error> {
    parse_toml(path, &read_text(path)?)
}

/// Reads a file's text, of at most [`bounded_file::MOST_TEXT_BYTES`].
///
/// # Errors
/// [`Error`] for a file that is not there, cannot be read, is too large, or is no text.
pub(crate) fn read_text(path: &Path) -> Result<String, Error> {
    let bytes =
        bounded_file::read(path, bounded_file::MOST_TEXT_BYTES).map_err(|why| Error::in_file(path, why.english()))?;
    String::from_utf8(bytes).map_err(|_| {
        Error::in_file(
            path,
            "is no text file, perhaps a photo; give the job's .toml file here, and list photos in it under [[shot]]",
        )
    })
}

/// As [`read_toml`], for text that is already in memory; `path` is used in messages only.
pub(crate) fn parse_toml<T: serde::de::DeserializeOwned>(path: &Path, text: &str) -> Result<T, Error> {
    toml::from_str(text).map_err(|e| Error::in_file(path, slip::words(text, &e)))
}

/// Fails unless `schema` is the version this program reads.
fn check_schema(path: &Path, schema: u32) -> Result<(), Error> {
    if schema == SCHEMA {
        return Ok(());
    }
    Err(Error::in_file(
        path,
        format!("schema = {schema} is not known; this program reads schema = {SCHEMA}"),
    ))
}

/// Fails unless `value` is finite and within `low..=high`; `what` names the key with its unit.
pub(crate) fn check_range(path: &Path, what: &str, value: f64, low: f64, high: f64) -> Result<(), Error> {
    if value.is_finite() && (low..=high).contains(&value) {
        return Ok(());
    }
    let key = what.split_whitespace().next().unwrap_or_default();
    let as_metres_mm = metres_in_mm(value);
    if key.ends_with("_mm") && value > 0.0 && (low..=high).contains(&as_metres_mm) {
        return Err(Error::in_file(
            path,
            format!("{what} = {value} looks like metres; it is in millimetres: {key} = {as_metres_mm}"),
        ));
    }
    Err(Error::in_file(
        path,
        format!(
            "{what} = {value} cannot be: between {low} and {high}{} is expected",
            unit_of(what)
        ),
    ))
}

/// A length in millimetres that was given in metres, to the micrometre, so that it reads as it was meant.
pub(crate) fn metres_in_mm(value_m: f64) -> f64 {
    round(1000.0 * value_m, 3)
}

/// The unit that a key's name ends with, or that stands behind it, as it follows a figure.
fn unit_of(what: &str) -> &'static str {
    let key = what.split_whitespace().next().unwrap_or_default();
    if what.contains("(in mbar)") {
        " mbar"
    } else if key.ends_with("_mm") {
        " mm"
    } else if key.ends_with("_percent") {
        " %"
    } else {
        ""
    }
}
