//! Sheets that are not found by themselves, placed in the photo by hand.

use super::super::choice::Choice;
use super::super::jobs::Place;
use super::super::reader::Reader;
use super::{page, said, the_job, without_script};
use crate::language::Language;
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

/// The way to placing a photo's sheets by hand.
pub(super) fn to_place(language: Language, place: &Place, choice: &Choice, photo: &str) -> Markup {
    html! { a.button href=(address(place, choice, "place", photo)) { (language.pick("Show by hand where the sheets are", "Von Hand zeigen, wo die Messblätter sind")) } }
}

/// The way to saying where a photo's cut-off is; `words` say it.
pub(super) fn to_look(place: &Place, choice: &Choice, photo: &str, words: &str) -> Markup {
    html! { a.button href=(address(place, choice, "look", photo)) { (words) } }
}

/// What that way is called where no line lies on the photo yet.
pub(super) const fn where_it_is(language: Language) -> &'static str {
    language.pick("Say where the cut-off is", "Angeben, wo die Hell-Dunkel-Grenze ist")
}

/// The photo to be tapped on, sheet by sheet and corner by corner.
pub(in super::super) fn place_sheets(
    reader: Reader<'_>,
    place: &Place,
    choice: &Choice,
    planned: &PlannedPhoto,
    photo: &Path,
    bay: &Bay,
) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let listed = photo.to_string_lossy();
    let back = format!("{own}/shot?{}", choice.query(choice.number));
    page(
        reader,
        language.pick("Sheets by hand", "Messblätter von Hand"),
        Some((&back, &describe(language, planned))),
        html! {
            p { (language.pick("Where a sheet was not found, say where it is: choose its number, then tap the four outer corners of its black border, upper \
                 left first, then clockwise. Those that were found need not be placed. The reading is marked as made with a hand's help.", "Wo ein Messblatt nicht gefunden wurde, zeigen, wo es ist: seine Nummer wählen, dann die vier äußeren Ecken seines schwarzen Rands antippen, oben links zuerst, dann im Uhrzeigersinn. Gefundene brauchen das nicht. Der Messwert wird als von Hand unterstützt gekennzeichnet.")) }
            fieldset #sheets {
                legend { (language.pick("Sheet", "Messblatt")) }
                @for (n, sheet) in bay.marks.sheet.iter().enumerate() {
                    label.pick { input type="radio" name="sheet" value=(sheet.id) checked[n == 0]; span {
                        strong { (sheet.id) } ", " (place_of(language, sheet.x_mm, sheet.y_mm)) " " span.note data-placed=(sheet.id) {}
                    } }
                }
            }
            (words_of_script(language))
            p.actions {
                (zoom(language))
                @for (x, y, sign, words) in [
                    (-1, 0, "←", language.pick("The last corner left by a pixel", "Die letzte Ecke um ein Pixel nach links")),
                    (1, 0, "→", language.pick("The last corner right by a pixel", "Die letzte Ecke um ein Pixel nach rechts")),
                    (0, -1, "↑", language.pick("The last corner up by a pixel", "Die letzte Ecke um ein Pixel nach oben")),
                    (0, 1, "↓", language.pick("The last corner down by a pixel", "Die letzte Ecke um ein Pixel nach unten")),
                ] {
                    button.button type="button" data-nudge={ (x) " " (y) } aria-label=(words) { (sign) }
                }
                button.button type="button" #away { (language.pick("Last corner away", "Letzte Ecke weg")) }
            }
            (board(
                language, place, choice, &listed,
                language.pick("The photo; arrow keys move the last corner", "Das Foto; Pfeiltasten bewegen die letzte Ecke"),
                None, "by-hand",
            ))
        },
    )
}

/// Where a sheet hangs, as it is measured.
fn place_of(language: Language, x_mm: f64, y_mm: f64) -> String {
    let (x, y) = (
        language.figure(&x_mm.abs().to_string()),
        language.figure(&y_mm.to_string()),
    );
    if x_mm < 0.0 {
        said!(language; "{x} mm to the left, {y} mm up", "{x} mm links, {y} mm hoch")
    } else {
        said!(language; "{x} mm to the right, {y} mm up", "{x} mm rechts, {y} mm hoch")
    }
}

/// What is to be tapped next, in the script's words.
fn words_of_script(language: Language) -> Markup {
    let corner = |english, german| language.pick(english, german);
    html! {
        p #hint role="status" data-unshown=(unshown(language))
            data-corner-0=(corner("Sheet {n}: tap its upper left corner.", "Messblatt {n}: seine obere linke Ecke antippen."))
            data-corner-1=(corner("Sheet {n}: tap its upper right corner.", "Messblatt {n}: seine obere rechte Ecke antippen."))
            data-corner-2=(corner("Sheet {n}: tap its lower right corner.", "Messblatt {n}: seine untere rechte Ecke antippen."))
            data-corner-3=(corner("Sheet {n}: tap its lower left corner.", "Messblatt {n}: seine untere linke Ecke antippen."))
            data-corner-4=(corner("Sheet {n}: placed; choose the next, or read it.", "Messblatt {n}: gezeigt; das nächste wählen oder lesen."))
            data-placed-all=(corner("✓ placed", "✓ gezeigt")) data-placed-some=(corner("{n} of 4 corners", "{n} von 4 Ecken")) {}
    }
}

const fn unshown(language: Language) -> &'static str {
    language.pick(
        "This browser cannot show the photo; JPEG and PNG it can.",
        "Dieser Browser kann das Foto nicht zeigen; JPEG und PNG kann er.",
    )
}

/// The photo to be tapped on, `called` so; there is but `one` thing to be marked where that is given, and what is read goes to `to`.
fn board(
    language: Language,
    place: &Place,
    choice: &Choice,
    listed: &str,
    called: &str,
    one: Option<&str>,
    to: &str,
) -> Markup {
    html! {
        div #board tabindex="0" aria-label=(called) data-photo=(listed) data-one=[one]
            data-to={ "/job/" (place.id) "/" (to) "?" (choice.query(choice.number)) } {
            div #sight {
                img #view alt={ (language.pick("The photo ", "Das Foto ")) (harmless(listed)) } src=(address(place, choice, "photo-file", listed));
                svg #corners aria-hidden="true" {}
            }
        }
        p { button.big #read-so type="button" disabled { (language.pick("Read it so", "So lesen")) } }
        div #outcome aria-live="polite" {}
        (said())
        (without_script(language))
    }
}

fn zoom(language: Language) -> Markup {
    html! {
        button.button type="button" data-zoom="1.5" { (language.pick("Larger", "Größer")) }
        button.button type="button" data-zoom="0.6667" { (language.pick("Smaller", "Kleiner")) }
    }
}

/// The photo to be tapped on once, about where the cut-off is.
pub(in super::super) fn point_at(reader: Reader<'_>, place: &Place, choice: &Choice, photo: &Path) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let listed = photo.to_string_lossy();
    page(
        reader,
        where_it_is(language),
        Some((&own, the_job(language))),
        html! {
            p { (language.pick("Where another edge was taken for the lamp's cut-off, tap on the cut-off itself, beside the elbow, where it runs level. The edge nearest to \
                 that is read, if it is one that can be read; the reading is marked as made with a hand's help.", "Wo eine andere Kante für die Hell-Dunkel-Grenze gehalten wurde, auf die Hell-Dunkel-Grenze selbst tippen, neben dem Knick, wo sie waagerecht verläuft. Gelesen wird die nächstliegende Kante, wenn sie sich lesen lässt; der Messwert wird als von Hand unterstützt gekennzeichnet.")) }
            p #hint role="status" data-unshown=(unshown(language)) data-line=(language.pick(
                "Is the line on the cut-off? Tap again, or move it by the arrows; then read it.",
                "Liegt die Linie auf der Hell-Dunkel-Grenze? Noch einmal tippen oder mit den Pfeilen verschieben; dann lesen.",
            )) { (language.pick("Tap on the cut-off.", "Auf die Hell-Dunkel-Grenze tippen.")) }
            p.actions {
                (zoom(language))
                @for (y, sign, words) in [
                    (-1, "↑", language.pick("The line up by a pixel", "Die Linie um ein Pixel nach oben")),
                    (1, "↓", language.pick("The line down by a pixel", "Die Linie um ein Pixel nach unten")),
                ] {
                    button.button type="button" data-nudge={ "0 " (y) } aria-label=(words) { (sign) }
                }
            }
            (board(
                language, place, choice, &listed,
                language.pick("The photo; arrow keys move the line", "Das Foto; Pfeiltasten bewegen die Linie"),
                Some("line"), "near",
            ))
        },
    )
}
