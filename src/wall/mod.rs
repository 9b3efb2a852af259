//! Where a pixel lies on the wall: the marks in the photo, and the camera's view fitted to them.
//!
//! Marks are found by [`find`] ([`detect`], then [`refine`]). A photo's [`camera`] is first fitted on its own
//! ([`resection`]), then together with all other photos of the job ([`mod@survey`]), which gives each its [`view`]. Photos of a
//! bracket are laid on each other by [`align`](mod@align); what the marks' [`ink`] shows of the light, and what follows from it
//! for the photo's [`tone`], stands beside.

mod align;
mod camera;
mod code;
mod detect;
mod entered;
mod find;
mod homography;
mod ink;
mod quad;
mod rectify;
mod refine;
mod reflectance;
mod resection;
mod survey;
mod tone;
mod view;

pub use align::align;
pub use code::tag_cells;
pub(crate) use find::find_in_alone;
#[cfg(test)]
pub(crate) use find::find_marks;
pub(crate) use find::place;
pub use find::{FoundMark, find_in, readings_in, reduced_px};
pub use homography::{Homography, homography};
pub use ink::patches;
pub use rectify::{Rectified, rectify};
pub use reflectance::WallPhoto;
pub use survey::{Sighting, survey};
pub use tone::Tone;
pub use view::View;
