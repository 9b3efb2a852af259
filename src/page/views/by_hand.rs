//! Sheets that are not found by themselves, placed in the photo by hand.

use super::super::choice::Choice;
use super::super::jobs::Place;
use super::{page, said, without_script};
use crate::record::Bay;
use crate::report::text::harmless;
use crate::shot_list::{PlannedPhoto, describe};
use maud::{Markup, html};
use std::path::Path;

/// Where a page about one photo of the list is found.
pub(super) fn address(place: &Place, choice: &Choice, what: &str, photo: &str) -> String {
    let mut query = form_urlencoded::Serializer::new(choice.query(choice.number));
    format!(
        "/job/{}/{what}?{}",
        place.id,
        query.append_pair("photo", photo).finish()
    )
}

/// The photo to be tapped on, sheet by sheet and corner by corner.
pub(in super::super) fn place_sheets(
    place: &Place,
    choice: &Choice,
    planned: &PlannedPhoto,
    photo: &Path,
    bay: &Bay,
) -> Markup {
    let own = format!("/job/{}", place.id);
    let listed = photo.to_string_lossy();
    let back = format!("{own}/shot?{}", choice.query(choice.number));
    page(
        "Sheets by hand",
        Some((&back, &describe(planned))),
        html! {
            p { "Where a sheet was not found, say where it is: choose its number, then tap the four outer corners of its black border, upper \
                 left first, then clockwise. Those that were found need not be placed. The reading is marked as made with a hand's help." }
            fieldset #sheets {
                legend { "Sheet" }
                @for (n, sheet) in bay.marks.sheet.iter().enumerate() {
                    label.pick { input type="radio" name="sheet" value=(sheet.id) checked[n == 0]; span {
                        strong { (sheet.id) } ", " (sheet.x_mm.abs()) " mm to the " @if sheet.x_mm < 0.0 { "left" } @else { "right" } ", " (sheet.y_mm) " mm up " span.note data-placed=(sheet.id) {}
                    } }
                }
            }
            p #hint role="status" {}
            p.actions {
                (zoom())
                @for (x, y, sign, words) in [(-1, 0, "←", "left"), (1, 0, "→", "right"), (0, -1, "↑", "up"), (0, 1, "↓", "down")] {
                    button.button type="button" data-nudge={ (x) " " (y) } aria-label={ "The last corner " (words) " by a pixel" } { (sign) }
                }
                button.button type="button" #away { "Last corner away" }
            }
            (board(place, choice, &listed, "the last corner", None, "by-hand"))
        },
    )
}

/// The photo to be tapped on; arrow keys move `what`, of which there is but `one` where that is given, and what is read goes to `to`.
fn board(place: &Place, choice: &Choice, listed: &str, what: &str, one: Option<&str>, to: &str) -> Markup {
    html! {
        div #board tabindex="0" aria-label={ "The photo; arrow keys move " (what) } data-photo=(listed) data-one=[one]
            data-to={ "/job/" (place.id) "/" (to) "?" (choice.query(choice.number)) } {
            div #sight {
                img #view alt={ "The photo " (harmless(listed)) } src=(address(place, choice, "photo-file", listed));
                svg #corners aria-hidden="true" {}
            }
        }
        p { button.big #read-so type="button" disabled { "Read it so" } }
        div #outcome aria-live="polite" {}
        (said())
        (without_script())
    }
}

fn zoom() -> Markup {
    html! {
        button.button type="button" data-zoom="1.5" { "Larger" }
        button.button type="button" data-zoom="0.6667" { "Smaller" }
    }
}

/// The photo to be tapped on once, about where the cut-off is.
pub(in super::super) fn point_at(place: &Place, choice: &Choice, photo: &Path) -> Markup {
    let own = format!("/job/{}", place.id);
    let listed = photo.to_string_lossy();
    page(
        "Say where the cut-off is",
        Some((&own, "The job")),
        html! {
            p { "Where another edge was taken for the lamp's cut-off, tap on the cut-off itself, beside the elbow, where it runs level. The edge nearest to \
                 that is read, if it is one that can be read; the reading is marked as made with a hand's help." }
            p #hint role="status" { "Tap on the cut-off." }
            p.actions {
                (zoom())
                @for (y, sign, words) in [(-1, "↑", "up"), (1, "↓", "down")] {
                    button.button type="button" data-nudge={ "0 " (y) } aria-label={ "The line " (words) " by a pixel" } { (sign) }
                }
            }
            (board(place, choice, &listed, "the line", Some("line"), "near"))
        },
    )
}
