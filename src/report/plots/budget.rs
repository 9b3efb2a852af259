//! What a lamp's uncertainty is made of: a bar for each term of the budget.

use super::super::{Error, Findings};
use super::canvas::{Bar, Canvas, Scale};
use super::{Figure, at_positions, described};
use crate::aim::{COVERAGE_FACTOR_95, Measured, Share, ShotReading};
use crate::record::Side;
use crate::report::text::{fixed, plain, shorten_path};
use crate::report::words::sentence;

/// Letters of a photo's name that fit into the heading.
const PHOTO_LETTERS: usize = 40;

/// The photo of a lamp with the widest interval: what is true of it bounds the others. Photos of the pump count where
/// there are no others.
fn widest<'a>(findings: &Findings<'a>, side: Side) -> Option<(&'a ShotReading, &'a Measured)> {
    let finite = |r: &'a ShotReading| {
        let measured = r.result.as_ref().ok()?;
        measured.aim.u95_percent().is_finite().then_some((r, measured))
    };
    let widest = |all: Vec<(&'a ShotReading, &'a Measured)>| {
        // Of equals the first, so that the choice does not hang on the sort.
        all.into_iter().reduce(|best, next| {
            if next.1.aim.u95_percent() > best.1.aim.u95_percent() {
                next
            } else {
                best
            }
        })
    };
    let of_lamp = findings.readings.iter().filter(|r| r.shot.lamp == side);
    widest(at_positions(findings, side).filter_map(finite).collect())
        .or_else(|| widest(of_lamp.filter_map(finite).collect()))
}

/// The chart of a lamp; `None` where none of its photos gave a figure.
pub(super) fn figure(findings: &Findings<'_>, side: Side) -> Result<Option<Figure>, Error> {
    let Some((reading, measured)) = widest(findings, side) else {
        return Ok(None);
    };
    // One scale for both lamps, so that the charts can be compared side by side.
    let most_percent = [Side::Left, Side::Right]
        .into_iter()
        .filter_map(|side| widest(findings, side))
        .map(|(_, m)| m.aim.u95_percent() / COVERAGE_FACTOR_95)
        .fold(1e-6, f64::max);
    let aim = &measured.aim;
    let mut terms: Vec<_> = aim.budget.iter().filter(|term| term.sd_percent.is_finite()).collect();
    terms.sort_by(|a, b| b.sd_percent.total_cmp(&a.sd_percent));
    let sd_percent = aim.u95_percent() / COVERAGE_FACTOR_95;
    let title = format!("{} lamp: what the uncertainty is made of", sentence(&side.to_string()));
    let photo = shorten_path(&plain(&reading.shot.photo.display().to_string()), PHOTO_LETTERS);
    let largest = terms.first().map_or("", |term| term.source.name());
    let caption = format!(
        "Standard uncertainties of the photo with the widest interval of this lamp, {photo}, largest first. They add as \
         squares, so that the longest bars decide: here \"{largest}\"; a bar half as long as another counts a quarter. \
         Whole bars (job) are the same in all photos of the job and cancel in a travel; hatched bars (photo) differ from \
         photo to photo. The outlined bar is all together; 1.96 times it is the ± of the reading, {} %.",
        fixed(aim.u95_percent(), 3)
    );
    let size = |sd_percent: f64| {
        format!(
            "{} %, {} mm",
            fixed(sd_percent, 3),
            fixed(sd_percent / 100.0 * reading.lamp.distance_mm, 1)
        )
    };
    let mut svg = String::new();
    {
        let canvas = Canvas::new(&mut svg, Scale::plain(0.0, most_percent), Scale::plain(0.0, 1.0))?;
        canvas.heading(&title, "standard uncertainty, % of inclination and mm at the wall")?;
        let rows = terms.len() + 1;
        for (n, term) in terms.iter().enumerate() {
            let (kind, word) = match term.source.share() {
                Share::Job => (Bar::Whole, "job"),
                Share::Photo => (Bar::Hatched, "photo"),
            };
            let label = format!("{} ({word})", plain(term.source.name()));
            canvas.bar((n, rows), &label, &size(term.sd_percent), term.sd_percent, kind)?;
        }
        canvas.bar(
            (rows - 1, rows),
            "all together",
            &size(sd_percent),
            sd_percent,
            Bar::Outlined,
        )?;
        canvas.finish()?;
    }
    Ok(Some(Figure {
        drawing: Ok(described(&svg, &title, &caption)),
        name: format!("budget-{side}"),
        title,
        caption,
    }))
}
