//! What a lamp's uncertainty is made of: a bar for each term of the budget.

use super::super::Error;
use super::chart::{Fault, MARGIN, Root, SIZE, TEXT, letters, sheet, words};
use super::element::{Hatching, hatched};
use super::ink;
use super::{Figure, Subject, at_positions, titled};
use crate::aim::{COVERAGE_FACTOR_95, Measured, Share, ShotReading, Term};
use crate::language::{Language, said};
use crate::record::Side;
use crate::report::text::{fixed, plain, shorten_path};
use plotters::prelude::*;
use plotters::style::text_anchor::HPos;

/// Letters of a photo's name that fit into the caption.
const PHOTO_LETTERS: usize = 40;
/// Where the first row starts, below the heading.
const TOP: i32 = 192;
/// Height of a row's words above its bar.
const WORDS: i32 = 60;
/// Below a bar.
const GAP: i32 = 16;

/// A row of the chart: a name, its standard uncertainty in per cent, and whose share it is; none for the whole.
struct Row {
    name: String,
    sd_percent: f64,
    share: Option<Share>,
}

/// The photo with the widest interval: what is true of it bounds the others. Of equals the first.
fn widest<'a>(readings: impl Iterator<Item = &'a ShotReading>) -> Option<(&'a ShotReading, &'a Measured)> {
    let u95 = |read: &(&ShotReading, &Measured)| read.1.aim.u95_percent();
    readings
        .filter_map(|reading| Some((reading, reading.result.as_ref().ok()?)))
        .filter(|read| u95(read).is_finite())
        .reduce(|best, next| if u95(&next) > u95(&best) { next } else { best })
}

/// The chart of each lamp that has a photo with a figure. Photos of the pump count where there are no others.
pub(super) fn figures(language: Language, readings: &[ShotReading]) -> Result<Vec<Figure>, Error> {
    let lamps = [Side::Left, Side::Right].map(|side| {
        let all = readings.iter().filter(|r| r.shot.lamp == side);
        widest(at_positions(readings, side)).or_else(|| widest(all))
    });
    // One scale for both lamps, so that the charts can be compared side by side.
    let sds = lamps.iter().flatten().map(|(_, m)| sd_percent(m));
    let most_percent = sds.fold(1e-6, f64::max);
    let figure = |(reading, measured)| figure(language, reading, measured, most_percent);
    lamps.into_iter().flatten().map(figure).collect()
}

/// Of all terms together.
fn sd_percent(measured: &Measured) -> f64 {
    measured.aim.u95_percent() / COVERAGE_FACTOR_95
}

fn figure(language: Language, reading: &ShotReading, measured: &Measured, most_percent: f64) -> Result<Figure, Error> {
    let (aim, side) = (&measured.aim, reading.shot.lamp);
    let mut terms: Vec<_> = aim.budget.iter().filter(|term| term.sd_percent.is_finite()).collect();
    terms.sort_by(|a, b| b.sd_percent.total_cmp(&a.sd_percent));
    let largest = terms.first().map_or("", |term| term.source.said(language));
    let lamp = titled(language, side, None);
    let title = said!(
        language; "{lamp}: most of the ± is the {}", "{lamp}, größter Teil des ±: {}";
        plain(largest)
    );
    let caption = caption(language, reading, largest, aim.u95_percent());
    let row = |term: &&Term| {
        let word = if term.source.share() == Share::Job {
            language.pick("job", "Auftrag")
        } else {
            language.pick("photo", "Foto")
        };
        Row {
            name: format!("{} ({word})", plain(term.source.said(language))),
            sd_percent: term.sd_percent,
            share: Some(term.source.share()),
        }
    };
    let whole = Row {
        name: language.pick("all together", "alles zusammen").to_owned(),
        sd_percent: sd_percent(measured),
        share: None,
    };
    let rows: Vec<Row> = terms.iter().map(row).chain([whole]).collect();
    let under = language.pick(
        "standard uncertainty, % of inclination and mm at the wall",
        "Standardunsicherheit, % der Neigung und mm an der Wand",
    );
    let svg = sheet(&title, under, |root| {
        let high = (SIZE.1 - MARGIN - TOP) / rows.len() as i32;
        rows.iter().enumerate().try_for_each(|(n, row)| {
            let mm = row.sd_percent / 100.0 * reading.lamp.distance_mm;
            let size = said!(
                language; "{} %, {} mm", "{} % / {} mm";
                fixed(language, row.sd_percent, 3),
                fixed(language, mm, 1)
            );
            let (top, part) = (TOP + high * n as i32, row.sd_percent / most_percent);
            draw_row(root, (top, high), row, &size, part)
        })
    })?;
    Ok(Figure::drawn(
        Subject::Budget,
        format!("budget-{side}"),
        title,
        caption,
        &svg,
    ))
}

/// A name and its figure over a bar, long as `part` of the sheet.
fn draw_row(root: &Root<'_>, (top, high): (i32, i32), row: &Row, size: &str, part: f64) -> Result<(), Fault> {
    let (left, right, middle) = (MARGIN, SIZE.0 - MARGIN, top + WORDS / 2);
    let weight = if row.share.is_some() {
        FontStyle::Normal
    } else {
        FontStyle::Bold
    };
    for (text, x, anchor) in [(row.name.as_str(), left, HPos::Left), (size, right, HPos::Right)] {
        root.draw(&words(text, (x, middle), &letters(TEXT, ink::TEXT, weight), anchor))?;
    }
    let long = (part.clamp(0.0, 1.0) * f64::from(right - left)).round() as i32;
    let corners = [(left, top + WORDS), (left + long.max(4), top + high - GAP)];
    let (colour, step) = match row.share {
        Some(Share::Job) => (ink::AFTER, 0),
        Some(Share::Photo) => (ink::BEFORE, 18),
        None => (ink::TEXT, 0),
    };
    if row.share == Some(Share::Job) {
        root.draw(&Rectangle::new(corners, colour.filled()))?;
    }
    let hatching = Hatching {
        step,
        hatch: colour.stroke_width(4),
        dashed: false,
        outline: colour.stroke_width(4),
    };
    root.draw(&hatched(corners, hatching))
}

fn caption(language: Language, reading: &ShotReading, largest: &str, u95_percent: f64) -> String {
    let photo = shorten_path(&plain(&reading.shot.photo.display().to_string()), PHOTO_LETTERS);
    said!(
        language; "Standard uncertainties of the photo with the widest interval of this lamp, {photo}, largest first. They add as \
         squares, so that the longest bars decide: here \"{largest}\"; a bar half as long as another counts a quarter. \
         Whole bars (job) are the same in all photos of the job and cancel in a travel; hatched bars (photo) differ from \
         photo to photo. The outlined bar is all together; 1.96 times it is the ± of the reading, {} %.",
        "Standardunsicherheiten des Fotos mit dem breitesten Intervall dieses Scheinwerfers, {photo}, die größte zuerst. Sie addieren \
         sich quadratisch, sodass die längsten Balken entscheiden: hier „{largest}“; ein halb so langer Balken zählt ein Viertel. \
         Volle Balken (Auftrag) sind in allen Fotos des Auftrags gleich und heben sich in einem Stellweg auf; schraffierte Balken \
         (Foto) sind von Foto zu Foto verschieden. Der umrandete Balken ist alles zusammen; das 1,96-Fache davon ist das ± des \
         Messwerts, {} %.";
        fixed(language, u95_percent, 3)
    )
}
