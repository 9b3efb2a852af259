//! beamfall measures what a headlamp range adjuster does to the beam.
//!
//! From ordinary photos of a dipped beam's cut-off on a wall, with printed marks beside it, it works out the
//! cut-off's downward inclination in per cent with an uncertainty, compares it with the usual aim tolerances at
//! each position of the range control, and plots the travel per position and per vacuum step.
//!
//! Data flows one way through the modules, in this order: [`record`] (what the technician wrote down),
//! [`photo`] (what the camera saw), [`wall`] (where a pixel lies on the wall), [`cutoff`] (the edge of the light),
//! [`aim`] (inclination and verdict), [`adjuster`] (travel), [`report`] (what others read). [`render`] draws made
//! photos with a known truth; [`cli`] turns arguments into calls.
#![deny(missing_docs)]
#![forbid(unsafe_code)]

pub mod record;
pub mod render;
