//! A heap of photos that were taken already: sent at once, put in order by their times, looked at, and entered.

use super::super::choice::Choice;
use super::super::jobs::Place;
use super::super::work::Heap;
use super::by_hand::address;
use super::{page, said, without_script};
use crate::report::text::harmless;
use crate::shot_list::describe;
use maud::{Markup, html};

/// Where photos are dropped or chosen, many at once.
pub(super) fn drop_zone(place: &Place, choice: &Choice) -> Markup {
    let own = format!("/job/{}", place.id);
    html! {
        details {
            summary { "They are taken already: send them all at once" }
            p { "Taken in the order of this list, by one camera whose clock runs: they are put in order by their times, and you see what each \
                 is taken to be before anything is entered." }
            div #heap data-photos={ (own) "/take-in" } data-go={ (own) "/heap?" (choice.query(choice.number)) } {
                label.big for="many" { "Choose photos, or drop them here" }
                input #many.quiet type="file" multiple accept="image/jpeg,image/png,image/tiff";
                p #heap-told role="status" {}
            }
        }
    }
}

/// What each photo of a heap is taken to be.
pub(in super::super) fn heap(place: &Place, choice: &Choice, heap: &Heap) -> Markup {
    let own = format!("/job/{}", place.id);
    let (pairing, new) = (&heap.pairing, heap.folder.photos.len());
    let fits = pairing.faults.is_empty() && !pairing.pairs.is_empty();
    let differ = !pairing.list_left.is_empty() || !pairing.photos_left.is_empty();
    let skipped = choice.skip.iter().map(String::as_str);
    let wanted = pairing.pairs.len() + pairing.list_left.len();
    page(
        "What each photo is taken to be",
        Some((
            &format!("{own}/shots?{}", choice.query(choice.number)),
            "All photos of the list",
        )),
        html! {
            @if new == 0 { p { "No photo is there that is not in the job already." } }
            @else if differ {
                p.banner {
                    "The list still wants " (wanted) ", and " (new) " new photos are there. "
                    @if pairing.photos_left.is_empty() { "Where the last are to come, say so below; where another is missing, take it first." }
                    @else { "Tick those that are spoilt or not of this list." }
                }
            } @else {
                @for fault in &pairing.faults { p.banner { (harmless(fault)) } }
            }
            @for warning in &pairing.warnings { p.note { "! " (harmless(warning)) } }
            @if new > 0 {
                form method="get" action={ (own) "/heap" } {
                    @for (key, value) in choice.fields() { input type="hidden" name=(key) value=(value); }
                    ul.jobs {
                        @for (planned, photo) in &pairing.pairs {
                            li.entry {
                                span { strong { (planned.number) ". " (harmless(&describe(planned))) } }
                                img.thumb loading="lazy" alt={ "The photo " (harmless(&photo.name)) }
                                    src=(address(place, choice, "photo-file", &photo.listed_as));
                                (self::one(&photo.name, photo.capture.taken.as_deref(), false))
                            }
                        }
                        @for photo in &pairing.photos_left {
                            li.entry { span { strong { "nothing on the list" } } (self::one(&photo.name, photo.capture.taken.as_deref(), false)) }
                        }
                        @for name in skipped { li.entry { span { "left out" } (self::one(name, None, true)) } }
                    }
                    @if !pairing.list_left.is_empty() || choice.rest_later {
                        label.pick { input type="checkbox" name="rest" value="later" checked[choice.rest_later]; " the last of the list are to come" }
                    }
                    p { button.button type="submit" { "Look again without what is ticked" } }
                }
            }
            @if fits {
                p { "Each line right? Then enter them; nothing is entered before." }
                p.actions {
                    button.big data-post={ (own) "/heap?" (self::query(choice)) } data-busy="Entering them" { "Enter these " (pairing.pairs.len()) }
                }
            }
            (said())
            (without_script())
        },
    )
}

fn one(name: &str, taken: Option<&str>, is_skipped: bool) -> Markup {
    html! {
        label.pick {
            input type="checkbox" name="skip" value=(name) checked[is_skipped];
            span { "leave out " code { (harmless(name)) } @if let Some(taken) = taken { ", " (taken.replace('T', " ")) } }
        }
    }
}

/// The choice, with what was chosen of the heap.
fn query(choice: &Choice) -> String {
    let mut query = form_urlencoded::Serializer::new(choice.query(choice.number));
    for name in &choice.skip {
        query.append_pair("skip", name);
    }
    if choice.rest_later {
        query.append_pair("rest", "later");
    }
    query.finish()
}
