//! Prints a [`Document`] as `report.pdf`: the same sections as the page, to be kept, sent or printed.
//!
//! A page is as broad as A4 and as high as Letter, so that it prints at its own size on either paper. Letters are those that the
//! program carries, embedded; words can be searched and copied, and a structure says what each is ([`tags`]). Nothing in it tells
//! when or where it was made.

mod flow;
mod ink;
mod pages;
mod picture;
mod setter;
mod table;
mod tags;
mod write;

use super::Error;
use super::document::Document;
use super::drawn::Step;
use super::letters::Letters;
use flow::Flow;
use setter::Setter;

/// A page, pt: A4 is 595.28 broad, Letter 792 high.
const PAGE: (f32, f32) = (595.28, 792.0);
/// Left free at the sides, and above and below what is said, pt.
const MARGIN: (f32, f32) = (40.0, 44.0);
/// What is left for what is said, pt.
const WIDTH: f32 = PAGE.0 - 2.0 * MARGIN.0;
const BODY_HEIGHT: f32 = PAGE.1 - 2.0 * MARGIN.1;

/// The document as PDF; `job` stands on each page.
///
/// # Errors
/// [`Error::Make`], which the program's own letters and drawings give no cause for.
pub(super) fn print(document: &Document, job: &str) -> Result<Vec<u8>, Error> {
    let fault = |error: String| Error::make("report.pdf", error);
    let setter = Setter(Letters::carried().map_err(fault)?);
    let mut flow = Flow::new(&setter);
    let rows = flow.document(document).map_err(fault)?;
    let pages = pages::stacked(rows);
    Ok(write::pdf(
        &pages,
        &flow.tags,
        &flow.chapters,
        &setter,
        (&document.title, job),
    ))
}

/// An outline with each place put elsewhere.
fn placed(outline: &[Step], at: impl Fn(f32, f32) -> (f32, f32)) -> Vec<Step> {
    let placed = |step: &Step| match *step {
        Step::Move(x, y) => {
            let (x, y) = at(x, y);
            Step::Move(x, y)
        }
        Step::Line(x, y) => {
            let (x, y) = at(x, y);
            Step::Line(x, y)
        }
        Step::Cubic(places) => Step::Cubic(places.map(|(x, y)| at(x, y))),
        Step::Close => Step::Close,
    };
    outline.iter().map(placed).collect()
}
