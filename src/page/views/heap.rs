//! A heap of photos that were taken already: sent at once, put in order by their times, looked at, and entered.

use super::super::choice::Choice;
use super::super::jobs::{PHOTOS, Place};
use super::super::work::Heap;
use super::by_hand::address;
use super::{page, said, without_script};
use crate::report::text::harmless;
use crate::shot_list::describe;
use maud::{Markup, html};
use std::ops::RangeInclusive;

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
            @if new == 0 { p { "No photo of this sending is there that is not in the job already." } }
            @else if differ {
                p.banner {
                    "The list still wants " (wanted) ", and " (new) " new photos are there. "
                    @if pairing.photos_left.is_empty() { "Are the last of the list still to come? Say so below. Is another missing, take it first." }
                        @else { "Tick those that are spoilt or not of this list, to leave them out." }
                }
            } @else {
                @for fault in &pairing.faults { p.banner { (harmless(fault)) } }
            }
            @for warning in &pairing.warnings { p.note { "! " (harmless(warning)) } }
            @if new + heap.before.len() + choice.skip.len() > 0 {
                form method="get" action={ (own) "/heap" } {
                    @for (key, value) in choice.fields() { input type="hidden" name=(key) value=(value); }
                    @for sent in &choice.sent { input type="hidden" name="sent" value=(run(sent)); }
                    @for name in &choice.take { input type="hidden" name="take" value=(name); }
                    @if choice.rest_later { input type="hidden" name="rest" value="later"; }
                    ul.jobs {
                        @for (planned, photo) in &pairing.pairs {
                            li.entry {
                                span { strong { (planned.number) ". " (harmless(&describe(planned))) } }
                                (thumb(place, choice, &photo.name))
                                (self::one(choice, &photo.name, photo.capture.taken.as_deref()))
                            }
                        }
                        @for photo in &pairing.photos_left {
                            li.entry {
                                span { strong { "nothing on the list" } }
                                (thumb(place, choice, &photo.name))
                                (self::one(choice, &photo.name, photo.capture.taken.as_deref()))
                            }
                        }
                        @for name in skipped {
                            li.entry { span { "left out" } (thumb(place, choice, name)) (self::one(choice, name, None)) }
                        }
                    }
                    @if !heap.before.is_empty() {
                        details {
                            summary { "Sent before, and not entered: " (heap.before.len()) }
                            p { "These lie in the job's folder from before and stay out. Does one belong among those above, take it in." }
                            ul.jobs {
                                @for name in &heap.before {
                                    li.entry {
                                        span { "not of this sending" }
                                        (thumb(place, choice, name))
                                        a.button href={ (own) "/heap?" (self::query(&choice.clone().with_taken(name))) } { "Take in " (harmless(name)) }
                                    }
                                }
                            }
                        }
                    }
                    @if new + choice.skip.len() > 0 { p.actions { button.button type="submit" { "Look again, without those that are ticked" } } }
                }
                @if !pairing.list_left.is_empty() || choice.rest_later {
                    // Another question than which photos are left out.
                    p.actions { a.button href={ (own) "/heap?" (self::query(&Choice { rest_later: !choice.rest_later, ..choice.clone() })) } {
                        @if choice.rest_later { "Nothing is to come: these are all" }
                        @else { "The last " (pairing.list_left.len()) " of the list are to come" }
                    } }
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

/// What a photo shows, in small.
fn thumb(place: &Place, choice: &Choice, name: &str) -> Markup {
    let listed = format!("{PHOTOS}/{name}");
    html! {
        img.thumb loading="lazy" alt={ "The photo " (harmless(name)) } src=(address(place, choice, "thumb", &listed));
    }
}

/// A tick leaves a photo out, whichever sending it came with.
fn one(choice: &Choice, name: &str, taken: Option<&str>) -> Markup {
    let is_left_out = choice.skip.iter().any(|other| other == name);
    html! {
        label.pick {
            input type="checkbox" name="skip" value=(name) checked[is_left_out];
            span { "leave out " code { (harmless(name)) } @if let Some(taken) = taken { ", " (taken.replace('T', " ")) } }
        }
    }
}

fn run(numbers: &RangeInclusive<u32>) -> String {
    format!("{}-{}", numbers.start(), numbers.end())
}

/// The choice, with what was chosen of the heap.
fn query(choice: &Choice) -> String {
    let mut query = form_urlencoded::Serializer::new(choice.query(choice.number));
    for name in &choice.skip {
        query.append_pair("skip", name);
    }
    for name in &choice.take {
        query.append_pair("take", name);
    }
    for sent in &choice.sent {
        query.append_pair("sent", &run(sent));
    }
    if choice.rest_later {
        query.append_pair("rest", "later");
    }
    query.finish()
}
