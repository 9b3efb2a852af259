//! beamfall measures what a headlamp range adjuster does to the beam.
//!
//! From ordinary photos of a dipped beam's cut-off on a wall, with printed marks beside it, it works out the
//! cut-off's downward inclination in per cent with an uncertainty, compares it with the usual aim tolerances at
//! each position of the range control, and plots the travel per position and per vacuum step.
//!
//! The front door is [`run::Run::read`]: from a job file to [`run::Findings`]. Data flows one way through the modules, in
//! this order: [`record`] (what the technician wrote down), [`photo`] (what the camera saw), [`wall`] (where a pixel lies on
//! the wall), [`cutoff`] (the edge of the light), [`aim`] (inclination and verdict), [`adjuster`] (travel), [`isolate`]
//! (which part is at fault), [`run`] (one job, read whole), [`report`] (what others read); [`cli`] turns arguments into
//! calls. [`render`] draws made photos with a known truth; [`check`] draws many scenes, reads them and holds them against
//! their truth; [`marks`] prints the sheets; [`shot_list`] says which photos to take, and enters them in the job; [`questions`] asks for bay and job; [`page`] is
//! the same work in a browser; [`fit`] is
//! the least squares that rooms share; [`refusal`] names why a photo gives no figure, [`warning`] what to know before relying
//! on one, [`error`] what went wrong.
#![deny(missing_docs)]
// A contributor reads the documentation with private items, where these links lead somewhere.
#![allow(rustdoc::private_intra_doc_links)]
#![forbid(unsafe_code)]

pub mod adjuster;
pub mod aim;
mod bounded_file;
mod check;
pub mod cli;
mod cutoff;
mod digest;
pub mod error;
mod fit;
pub mod isolate;
pub mod language;
mod marks;
mod page;
mod photo;
mod questions;
pub mod record;
pub mod refusal;
mod render;
pub mod report;
pub mod run;
mod shot_list;
mod wall;
pub mod warning;
mod whole_file;
mod whole_folder;

/// The steps of a reading, for `benches/` alone: no part of the interface.
#[doc(hidden)]
pub mod steps {
    pub use crate::aim::measure_shot;
    pub use crate::cutoff::{CutOff, Told, read as read_cutoff};
    pub use crate::photo::{Photo, Response, srgb_from_linear};
    pub use crate::wall::{FoundMark, Homography, View, find_in, homography, readings_in, reduced_px};
}

/// What tests share with benchmarks names the crate as those do.
#[cfg(test)]
extern crate self as beamfall;
#[cfg(test)]
#[path = "../tests/rooms/mod.rs"]
mod rooms;

/// The README's example runs as a test.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
/// Name and version of the program, as the outputs give it.
pub const PROGRAM: &str = concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION"));

/// What the program says of itself wherever somebody may rely on it.
#[must_use]
pub const fn disclaimer(language: language::Language) -> &'static str {
    language.pick(
        "beamfall is no certified instrument; local rules and a licensed inspection decide.",
        "beamfall ist kein geprüftes Messgerät; maßgeblich sind die örtlichen Vorschriften und eine amtlich anerkannte Prüfung.",
    )
}
