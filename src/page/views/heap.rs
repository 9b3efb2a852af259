//! A heap of photos that were taken already: sent at once, put in order by their times, looked at, and entered.

use super::super::choice::{Choice, Rest};
use super::super::jobs::{PHOTOS, Place};
use super::super::reader::Reader;
use super::super::work::{Heap, is_mended_by_lamp_off, is_mended_by_placing, is_mended_by_pointing, may_be_said};
use super::by_hand::{address, to_look, to_place, where_it_is};
use super::{only_photo, page, said, without_script};
use crate::language::Language;
use crate::refusal::Refusal;
use crate::report::text::{date, harmless};
use crate::shot_list::{PlannedPhoto, Shows, describe};
use maud::{Markup, html};
use std::ops::RangeInclusive;
use std::path::Path;

/// Where photos are dropped or chosen, many at once.
pub(super) fn drop_zone(language: Language, place: &Place, choice: &Choice) -> Markup {
    let own = format!("/job/{}", place.id);
    html! {
        details {
            summary { (language.pick("They are taken already: send them all at once", "Sie sind schon aufgenommen: alle auf einmal senden")) }
            p { (language.pick("Taken in the order of this list, by one camera whose clock runs: they are put in order by their times, and you see what each \
                 is taken to be before anything is entered.", "In der Reihenfolge dieser Liste aufgenommen, mit einer Kamera, deren Uhr läuft: sie werden nach ihren Zeiten geordnet, und bevor etwas eingetragen wird, ist zu sehen, wofür jedes gehalten wird.")) }
            div #heap data-photos={ (own) "/take-in?heap=1" } data-go={ (own) "/heap?" (choice.query(choice.number)) } {
                label.big for="many" { (language.pick("Choose photos, or drop them here", "Fotos wählen oder hier ablegen")) }
                input #many.quiet type="file" multiple accept="image/jpeg,image/png,image/tiff";
                p #heap-told role="status" data-sending=(language.pick("Sending photo {n} of {all} …", "Foto {n} von {all} wird gesendet …"))
                    data-arrived=(language.pick("{n} of {all} have arrived.", "{n} von {all} sind angekommen."))
                    data-on=(language.pick("Go on with the {n} that arrived", "Weiter mit den {n}, die angekommen sind"))
                    data-on-one=(language.pick("Go on with the one that arrived", "Weiter mit dem einen, das angekommen ist")) {}
            }
        }
    }
}

/// As what a photo, by the name of its file, was read when it gave no figure, and why; nothing where it is taken to show something else now.
pub(in super::super) type RefusedAs<'a> = &'a dyn Fn(&str, Option<&PlannedPhoto>) -> Option<(String, Refusal)>;

/// What each photo of a heap is taken to be.
pub(in super::super) fn heap(
    reader: Reader<'_>,
    place: &Place,
    choice: &Choice,
    heap: &Heap,
    refused_as: RefusedAs<'_>,
) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let (pairing, unplaced) = (&heap.pairing, &heap.folder.unplaced);
    let new = heap.folder.photos.len() + unplaced.len() + choice.shows.len();
    let fits = heap.fits();
    let told = |name: &str| choice.shows.iter().any(|(told, _)| told == name);
    let differ = !pairing.list_left.is_empty() || !pairing.photos_left.is_empty();
    let skipped = choice.skip.iter().map(String::as_str);
    let wanted = pairing.pairs.len() + pairing.list_left.len();
    let is_doubted = |name: &str| pairing.doubts.iter().any(|(doubted, _)| doubted == name);
    let signs = |name: &str, refused: Option<&(String, Refusal)>| {
        let pause = pairing.pauses.iter().find(|(paused, _)| paused == name);
        html! {
            @if let Some((_, gap_s)) = pause { " " strong.note { (said!(
                language; "! {:.0} min after the one before it", "! {:.0} min nach dem davor"; gap_s / 60.0
            )) } }
            @if is_doubted(name) { " " strong.note { (language.pick("! much darker than the others", "! viel dunkler als die anderen")) } }
            @if let Some((shown, refusal)) = refused { br; span.note { "∅ " (harmless(shown)) ": " (harmless(refusal.message.within(language))) } }
        }
    };
    let refused: Vec<Option<(String, Refusal)>> = (pairing.pairs.iter())
        .map(|(planned, photo)| refused_as(&photo.name, Some(planned)))
        .collect();
    let without_figure = refused.iter().flatten().count();
    let to_enter = pairing.pairs.len() - without_figure;
    page(
        reader,
        language.pick("What each photo is taken to be", "Wofür jedes Foto gehalten wird"),
        Some((
            &format!("{own}/shots?{}", choice.query(choice.number)),
            language.pick("All photos of the list", "Alle Fotos der Liste"),
        )),
        html! {
            (already_there(language, place, choice, heap))
            @if new == 0 { p { (language.pick("No photo of this sending is there that is not in the job already.", "Von dieser Sendung ist kein Foto da, das nicht schon im Auftrag ist.")) } }
            @else if !unplaced.is_empty() {
                p.banner {
                    @if unplaced.len() == 1 { (language.pick("The place of one photo in the order is not known; it is marked below. Until you say what it shows, or leave it out, nothing can be entered, and those behind it may be shown as what they are not.", "Von einem Foto ist der Platz in der Reihenfolge nicht bekannt; es ist unten gekennzeichnet. Bis gesagt ist, was es zeigt, oder es ausgelassen ist, lässt sich nichts eintragen, und die dahinter können für etwas Falsches gehalten sein.")) }
                    @else { (said!(
                        language;
                        "The places of {} photos in the order are not known; they are marked below. Until you say what each shows, or leave it out, nothing can be entered, and those behind them may be shown as what they are not.",
                        "Von {} Fotos ist der Platz in der Reihenfolge nicht bekannt; sie sind unten gekennzeichnet. Bis von jedem gesagt ist, was es zeigt, oder es ausgelassen ist, lässt sich nichts eintragen, und die dahinter können für etwas Falsches gehalten sein.";
                        unplaced.len()
                    )) }
                }
            } @else if differ {
                p.banner {
                    (said!(
                        language;
                        "Open on the list: {wanted}. Sent and not entered yet: {new}. ",
                        "Offen auf der Liste: {wanted}. Gesendet und noch nicht eingetragen: {new}. "
                    ))
                    @if pairing.photos_left.is_empty() { (language.pick("Are the last of the list still to come, or are these all? Say so below. If another is missing, say below of the photos behind it what they show.", "Kommen die letzten der Liste noch, oder sind das alle? Das unten angeben. Fehlt ein anderes, unten bei den Fotos dahinter angeben, was sie zeigen.")) }
                        @else { (language.pick("Tick those that are spoilt or not of this list, to leave them out.", "Ankreuzen, was misslungen oder nicht von dieser Liste ist, um es auszulassen.")) }
                }
            } @else {
                @for fault in &pairing.faults { p.banner { (harmless(fault)) } }
            }
            @if !heap.missing.is_empty() {
                p.banner {
                    (language.pick("Not among them, by what you said: ", "Nach dem Gesagten nicht dabei: "))
                    @for (n, planned) in heap.missing.iter().enumerate() { @if n > 0 { ", " } (planned.number) ". " (harmless(&describe(language, planned))) }
                    (language.pick(". The list keeps their places open.", ". Ihre Plätze bleiben auf der Liste offen."))
                }
            }
            @if without_figure > 0 {
                p.banner {
                    @if to_enter == 0 { (language.pick("All that gave a figure are in the job. ", "Alle, die einen Wert gaben, sind im Auftrag. ")) }
                    @if without_figure == 1 { (language.pick("∅ One of these photos gave no figure and is not entered. Why, and what mends it, stands beside it; or leave it out.", "∅ Eines dieser Fotos gab keinen Wert und ist nicht eingetragen. Warum, und was es behebt, steht daneben; oder es auslassen.")) }
                    @else { (said!(
                        language;
                        "∅ {} of these photos gave no figure and are not entered. Why, and what mends it, stands beside each; or leave them out.",
                        "∅ {} dieser Fotos gaben keinen Wert und sind nicht eingetragen. Warum, und was es behebt, steht jeweils daneben; oder sie auslassen.";
                        without_figure
                    )) }
                }
            }
            @for warning in &pairing.warnings { p.note { "! " (harmless(warning)) } }
            @if new + heap.before.len() + choice.skip.len() > 0 {
                form method="get" action={ (own) "/heap" } {
                    @for (key, value) in choice.fields() { input type="hidden" name=(key) value=(value); }
                    @for sent in &choice.sent { input type="hidden" name="sent" value=(run(sent)); }
                    @for name in &choice.had { input type="hidden" name="had" value=(name); }
                    @for name in &choice.take { input type="hidden" name="take" value=(name); }
                    @if let Some(rest) = choice.rest { input type="hidden" name="rest" value=(rest.in_address()); }
                    ul.jobs {
                        @for odd in unplaced {
                            li.entry {
                                span { strong {
                                    @if odd.photo.is_some() { "! " (language.pick("no time in it: say what it shows, or leave it out", "keine Zeit darin: sagen, was es zeigt, oder es auslassen")) }
                                    @else { "! " (harmless(odd.why.within(language))) }
                                } (signs(&odd.name, refused_as(&odd.name, None).as_ref())) }
                                (thumb(language, place, choice, &odd.name))
                                @if odd.photo.is_some() { (it_shows(language, heap, (&odd.name, false), None, language.pick("not said yet", "noch nicht gesagt"))) }
                                (self::one(language, choice, &odd.name, None))
                            }
                        }
                        @for (pair, refused) in pairing.pairs.iter().zip(&refused) {
                            @let (planned, photo) = pair;
                            li.entry {
                                span { strong { (planned.number) ". " (harmless(&describe(language, planned))) }
                                    @if let Some(after_s) = pairing.after_first_s(pair) { " " span.note { (said!(
                                        language; "by its time {} after the first", "nach seiner Zeit {} nach dem ersten"; clock(after_s)
                                    )) } }
                                    (signs(&photo.name, refused.as_ref()))
                                    @if told(&photo.name) { " " span.note { (language.pick("as you said", "wie gesagt")) } } }
                                (thumb(language, place, choice, &photo.name))
                                @let by_order = language.pick("by its time, in the list's order", "nach seiner Zeit, in der Reihenfolge der Liste");
                                @if told(&photo.name) {
                                    @let else_what = if photo.capture.taken.is_some() { by_order } else { language.pick("not said yet", "noch nicht gesagt") };
                                    (it_shows(language, heap, (&photo.name, photo.capture.taken.is_some()), Some(planned.number), else_what))
                                } @else {
                                    details { summary { (language.pick("It shows something else", "Es zeigt etwas anderes")) } (it_shows(language, heap, (&photo.name, true), None, by_order)) }
                                }
                                @if let Some((_, refusal)) = refused { (mends(language, place, &Choice { number: planned.number, ..choice.clone() }, &photo.listed_as, refusal)) }
                                (self::one(language, choice, &photo.name, photo.capture.taken.as_deref()))
                            }
                        }
                        @for photo in &pairing.photos_left {
                            li.entry {
                                span { strong { (language.pick("nothing on the list", "nichts auf der Liste")) } (signs(&photo.name, refused_as(&photo.name, None).as_ref())) }
                                (thumb(language, place, choice, &photo.name))
                                (it_shows(language, heap, (&photo.name, true), None, language.pick("nothing on the list", "nichts auf der Liste")))
                                (self::one(language, choice, &photo.name, photo.capture.taken.as_deref()))
                            }
                        }
                        @for name in skipped {
                            li.entry { span { (language.pick("left out", "ausgelassen")) (signs(name, refused_as(name, None).as_ref())) } (thumb(language, place, choice, name)) (self::one(language, choice, name, None)) }
                        }
                    }
                    @if !heap.before.is_empty() {
                        details {
                            summary { (language.pick("Sent before, and not entered: ", "Früher gesendet und nicht eingetragen: ")) (heap.before.len()) }
                            p { (language.pick("These lie in the job's folder from before and stay out. If one belongs among those above, take it in.", "Diese liegen von früher im Ordner des Auftrags und bleiben draußen. Gehört eines zu denen oben, es hereinnehmen.")) }
                            @if heap.before.len() > 1 {
                                @let all = heap.before.iter().fold(choice.clone(), |choice, name| choice.with_taken(name));
                                p.actions { a.button href={ (own) "/heap?" (self::query(&all)) } { (said!(language; "Take in all {}", "Alle {} hereinnehmen"; heap.before.len())) } }
                            }
                            ul.jobs {
                                @for name in &heap.before {
                                    li.entry {
                                        span { (language.pick("not of this sending", "nicht von dieser Sendung")) " (" code { (harmless(name)) } span data-sent-as=(name) data-words=(language.pick(", sent as {name}", ", gesendet als {name}")) {} ")" (signs(name, refused_as(name, None).as_ref())) }
                                        (thumb(language, place, choice, name))
                                        a.button href={ (own) "/heap?" (self::query(&choice.clone().with_taken(name))) } { (said!(language; "Take in {}", "{} hereinnehmen"; harmless(name))) }
                                    }
                                }
                            }
                        }
                    }
                    @if new + choice.skip.len() > 0 { p.actions { button.button type="submit" {
                        @if unplaced.is_empty() { (language.pick("Look again, without those that are ticked", "Noch einmal ansehen, ohne die angekreuzten")) }
                        @else { (language.pick("Look again: with what was said, without those that are ticked", "Noch einmal ansehen: mit dem Gesagten, ohne die angekreuzten")) }
                    } } }
                }
                @if !pairing.list_left.is_empty() || choice.rest.is_some() {
                    // Another question than which photos are left out. Both answers go on: a pump's series can end early, as the gauge goes no higher.
                    @let with = |rest| format!("{own}/heap?{}", self::query(&Choice { rest: Some(rest), ..choice.clone() }));
                    @if let Some(rest) = choice.rest { p.note {
                        @match rest {
                            Rest::Later => (language.pick("As you said, the rest of the list is to come.", "Wie gesagt, kommt der Rest der Liste noch.")),
                            Rest::Never => (language.pick("As you said, these are all: the rest of the list was not taken.", "Wie gesagt, sind das alle: Der Rest der Liste wurde nicht aufgenommen.")),
                        }
                    } }
                    p.actions {
                        @if choice.rest != Some(Rest::Later) { a.button href=(with(Rest::Later)) {
                            @match pairing.list_left.len() {
                                0 => (language.pick("The rest of the list is to come", "Der Rest der Liste kommt noch")),
                                1 => (language.pick("The last one of the list is to come", "Das letzte der Liste kommt noch")),
                                n => (said!(language; "The last {n} of the list are to come", "Die letzten {n} der Liste kommen noch")),
                            }
                        } }
                        @if choice.rest != Some(Rest::Never) { a.button href=(with(Rest::Never)) {
                            (language.pick("Nothing is to come: these are all", "Es kommt nichts mehr: das sind alle"))
                        } }
                    }
                }
            }
            @if pairing.pairs.iter().any(|(planned, _)| matches!(planned.shows, Shows::Sealed { .. })) {
                p.note { (language.pick("What the pump's gauge showed at the first photo of a leak-down, and at the last, is typed afterwards: under “What is in the job”, at that photo. It tells a leak before the beam does.", "Was der Unterdruckmesser der Pumpe beim ersten Foto einer Dichtheitsprüfung zeigte, und beim letzten, wird danach eingegeben: unter „Inhalt des Auftrags“, bei diesem Foto. Er zeigt ein Leck früher als der Lichtkegel.")) }
            }
            @if fits && to_enter > 0 {
                p { (language.pick("Each line right? Then enter them; nothing is entered before.", "Stimmt jede Zeile? Dann eintragen; vorher wird nichts eingetragen.")) }
                p.actions {
                    button.big data-post={ (own) "/heap?" (self::query(choice)) } data-busy=(language.pick("Reading and entering them", "Werden gelesen und eingetragen")) { (said!(language; "Enter these {}", "Diese {} eintragen"; to_enter)) }
                }
            }
            (said())
            (without_script(language))
        },
    )
}

/// The ways in which a photo that gave no figure can be mended by hand.
fn mends(language: Language, place: &Place, choice: &Choice, listed: &str, refusal: &Refusal) -> Markup {
    html! {
        p.actions {
            @if is_mended_by_placing(refusal) { (to_place(language, place, choice, listed)) }
            @if is_mended_by_pointing(refusal) { (to_look(place, choice, listed, where_it_is(language))) }
            @if is_mended_by_lamp_off(refusal) {
                button.button type="button" data-post={ "/job/" (place.id) "/enter?" (choice.query(choice.number)) } data-body=(only_photo(Path::new(listed)))
                    data-busy=(language.pick("Entering it", "Wird eingetragen")) { (language.pick("Enter it all the same: one with the lamp off comes next", "Trotzdem eintragen: eines ohne Licht kommt als Nächstes")) }
            }
            a.button href={ "/job/" (place.id) "/shot?" (choice.query(choice.number)) } { (language.pick("Take it again", "Foto neu aufnehmen")) }
        }
    }
}

/// What was sent and is in the job already: it is entered once, so that another may stand in its place of the order.
fn already_there(language: Language, place: &Place, choice: &Choice, heap: &Heap) -> Markup {
    html! {
        @if !heap.had.is_empty() {
            p.banner {
                @if heap.had.len() == 1 { (language.pick("One of the photos sent is in the job already and is not entered again. Look whether each line below is right without it.", "Eines der gesendeten Fotos ist schon im Auftrag und wird nicht noch einmal eingetragen. Nachsehen, ob jede Zeile unten ohne es stimmt.")) }
                @else { (said!(
                    language;
                    "{} of the photos sent are in the job already and are not entered again. Look whether each line below is right without them.",
                    "{} der gesendeten Fotos sind schon im Auftrag und werden nicht noch einmal eingetragen. Nachsehen, ob jede Zeile unten ohne sie stimmt.";
                    heap.had.len()
                )) }
            }
            ul.jobs {
                @for (name, what) in &heap.had {
                    li.entry {
                        span { (language.pick("in the job already: ", "schon im Auftrag: ")) strong { (harmless(what)) } " (" code { (harmless(name)) } ")" }
                        (thumb(language, place, choice, name))
                    }
                }
            }
        }
    }
}

/// Where it is said what a photo shows, by the name of its file and whether it has a time. `number`: the list's, where it was said; `else_what`: what it is taken to be until then.
fn it_shows(
    language: Language,
    heap: &Heap,
    (name, is_timed): (&str, bool),
    number: Option<usize>,
    else_what: &str,
) -> Markup {
    let open = heap.open.iter().filter(|planned| is_timed || may_be_said(planned));
    html! {
        div.field {
            label for={ "is-" (name) } { (language.pick("It shows", "Es zeigt")) }
            select id={ "is-" (name) } name="is" {
                option value="" { (else_what) }
                @for planned in open { option value={ (name) ":" (planned.number) } selected[number == Some(planned.number)] { (planned.number) ". " (harmless(&describe(language, planned))) } }
            }
        }
    }
}

/// Minutes and seconds, as a clock shows them.
fn clock(seconds: f64) -> String {
    let whole = seconds.abs().round();
    format!("{:.0}:{:02.0}", (whole / 60.0).floor(), whole % 60.0)
}

/// What a photo shows, in small.
fn thumb(language: Language, place: &Place, choice: &Choice, name: &str) -> Markup {
    let listed = format!("{PHOTOS}/{name}");
    html! {
        img.thumb loading="lazy" alt={ (language.pick("The photo ", "Das Foto ")) (harmless(name)) } src=(address(place, choice, "thumb", &listed));
    }
}

/// A tick leaves a photo out, whichever sending it came with.
fn one(language: Language, choice: &Choice, name: &str, taken: Option<&str>) -> Markup {
    let is_left_out = choice.skip.iter().any(|other| other == name);
    html! {
        label.pick {
            input type="checkbox" name="skip" value=(name) checked[is_left_out];
            span { (language.pick("Leave this photo out (", "Dieses Foto auslassen (")) code { (harmless(name)) } span data-sent-as=(name) data-words=(language.pick(", sent as {name}", ", gesendet als {name}")) {} @if let Some(taken) = taken { ", " (date(language, &taken.replace('T', " "))) } ")" }
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
    for name in &choice.had {
        query.append_pair("had", name);
    }
    for (name, number) in &choice.shows {
        query.append_pair("is", &format!("{name}:{number}"));
    }
    for sent in &choice.sent {
        query.append_pair("sent", &run(sent));
    }
    if let Some(rest) = choice.rest {
        query.append_pair("rest", rest.in_address());
    }
    query.finish()
}
