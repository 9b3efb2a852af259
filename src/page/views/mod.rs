//! What the page shows. Words of readings, steps and cautions are the library's; here stand those that lead through the work.

mod by_hand;
mod fault;
mod forms;
mod heap;

pub(super) use by_hand::{place_sheets, point_at};
pub(super) use fault::{Proposed, entries, fault, gauge_anew, repair, repair_anew, test};
pub(super) use forms::{as_they_hang, change_car, change_figures, new_job, new_wall, place_after};
pub(super) use heap::heap;

use super::choice::{Choice, Typed, held, is_done, is_passed, lacks_figure};
use super::guard::Why;
use super::jobs::{BAY, Place, Wall};
use super::packed::called;
use super::reader::Reader;
use super::undo::Last;
use super::work::{Begun, LastReport, ReadAlone, is_mended_by_placing, repair_words};
use crate::adjuster::{LampTravel, Movement};
use crate::aim::{Outcome, WallCheck};
use crate::error::Error;
use crate::isolate::lamp_of;
use crate::language::{Language, said};
use crate::marks::SHEETS;
use crate::record::{Caution, Entries, Job, RepairEntry, Shot, Side, Stage, System, Vacuum, is_setting};
use crate::refusal::Refusal;
use crate::report::html;
use crate::report::say::readings::{self as said_of, Drawing};
use crate::report::say::{answer, summary, wall};
use crate::report::text::{date, harmless};
use crate::run::Findings;
use crate::shot_list::{
    Check, Drive, PlannedPhoto, Said, Shows, USUAL_GAUGE, afterwards, describe, gauge_steps, set_for, steps, steps_anew,
};
use crate::warning::{Group, Warning};
use forms::{capital, units_kept};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::collections::HashSet;
use std::path::Path;

/// What the way back to the list of jobs is called.
pub(super) const fn all_jobs(language: Language) -> &'static str {
    language.pick("All jobs", "Alle Aufträge")
}

/// What the way back to a job is called.
pub(super) const fn the_job(language: Language) -> &'static str {
    language.pick("The job", "Der Auftrag")
}

fn named(language: Language, job: &Job) -> String {
    said!(language; "Job {}", "Auftrag {}"; job.job)
}

fn page(reader: Reader<'_>, title: &str, back: Option<(&str, &str)>, main: Markup) -> Markup {
    let language = reader.language;
    html! {
        (DOCTYPE)
        html lang=(language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (harmless(title)) " – beamfall" }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="data:,";
                script src="/page.js" defer {}
            }
            // What the script says stands here, in the page's language.
            body data-failed=(language.pick("That did not work; try again.", "Das hat nicht geklappt; noch einmal versuchen."))
                data-lost=(language.pick(
                    "The program does not answer. Is it still running, and this computer awake? Nothing was lost; try again.",
                    "Das Programm antwortet nicht. Läuft es noch, und ist dieser Computer wach? Nichts ist verloren; noch einmal versuchen.",
                ))
                data-unreadable=(language.pick(
                    "This file could not be read: was it moved or deleted, or the card taken out? Choose it again.",
                    "Diese Datei ließ sich nicht lesen: wurde sie verschoben oder gelöscht oder die Karte herausgenommen? Sie noch einmal wählen.",
                ))
                data-step=(language.pick("step {n} of {all}", "Schritt {n} von {all}")) {
                header {
                    @if let Some((address, name)) = back { nav { a.back href=(address) { (harmless(name)) } } }
                    h1 { (harmless(title)) }
                }
                main { (main) }
                footer {
                    p.note { (crate::disclaimer(language)) }
                    nav.languages aria-label=(language.pick("Language", "Sprache")) {
                        @for (other, name) in [(Language::English, "English"), (Language::German, "Deutsch")] {
                            @if other == language { span aria-current="true" lang=(other.tag()) { (name) } }
                            @else { a href=(reader.address_in(other)) lang=(other.tag()) hreflang=(other.tag()) { (name) } }
                        }
                    }
                }
            }
        }
    }
}

/// Why something was not done.
pub(super) fn refused(reader: Reader<'_>, why: &Why, back: Option<&(String, &'static str)>) -> Markup {
    let language = reader.language;
    let (words, lang) = why.within(language);
    page(
        reader,
        language.pick("That did not work", "Das hat nicht geklappt"),
        Some(back.map_or(("/", all_jobs(language)), |(address, name)| (address.as_str(), *name))),
        html! { p.banner #said lang=[lang] { (harmless(words)) } },
    )
}

/// What the library says of a file.
fn fault_of_file(language: Language, error: &Error, folder: &Path) -> Markup {
    let why = Why::from(error).within_folder(folder);
    let (words, lang) = why.within(language);
    html! { p.banner lang=[lang] { (harmless(words)) } }
}

/// Which jobs are listed.
#[derive(Debug, Clone, Default)]
pub(super) struct Listing {
    /// What they are searched by; empty: all.
    search: String,
    /// Those that were put away, instead of the others.
    put_away: bool,
}

impl Listing {
    /// Reads an address's query; what it does not know it leaves.
    pub fn of_query(query: &str) -> Self {
        let mut listing = Self::default();
        for (key, value) in form_urlencoded::parse(query.as_bytes()) {
            match (&*key, &*value) {
                ("find", words) => listing.search = words.chars().take(100).collect(),
                ("away", "1") => listing.put_away = true,
                _ => {}
            }
        }
        listing
    }

    /// Letters and figures alone count, as a plate is written with and without blanks.
    fn wants(&self, place: &Place) -> bool {
        place.is_put_away() == self.put_away && self.finds(place)
    }

    /// Whether it has what is searched for, put away or not.
    fn finds(&self, place: &Place) -> bool {
        let bare = |text: &str| {
            let letters = text.chars().filter(|c| c.is_alphanumeric());
            letters.flat_map(char::to_lowercase).collect::<String>()
        };
        let search = bare(&self.search);
        search.is_empty() || bare(&known_of(place)).contains(&search)
    }
}

/// What a job is known by.
fn known_of(place: &Place) -> String {
    let folder = place.folder_name();
    let Ok(job) = place.job() else { return folder };
    let vehicle = job.vehicle.unwrap_or_default();
    let known = [Some(job.job), vehicle.registration, vehicle.description, Some(folder)];
    known.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// The jobs of the folder.
pub(super) fn jobs(
    reader: Reader<'_>,
    folder: &Path,
    places: &[Place],
    walls: &[Wall],
    shows_phones: bool,
    listing: &Listing,
    newest: Option<&Newest>,
) -> Markup {
    let language = reader.language;
    let wanted: Vec<&Place> = places.iter().filter(|place| listing.wants(place)).collect();
    let away = places.iter().filter(|place| place.is_put_away()).count();
    // A search is for the job, wherever it is.
    let elsewhere: Vec<&Place> = places
        .iter()
        .filter(|place| !listing.search.is_empty() && place.is_put_away() != listing.put_away && listing.finds(place))
        .collect();
    page(
        reader,
        if listing.put_away {
            language.pick("Jobs put away", "Weggelegte Aufträge")
        } else {
            language.pick("Jobs", "Aufträge")
        },
        listing.put_away.then_some(("/", all_jobs(language))),
        html! {
            @if !listing.put_away {
                p.actions { a.big href="/new" { (language.pick("New job", "Neuer Auftrag")) } @if shows_phones { a.button href="/phones" { (language.pick("Phones", "Telefone")) } } }
            }
            @if places.is_empty() {
                p { (language.pick("No job is in this folder yet. Print the sheets, hang them, and start with a new job: it asks for the wall first, then for the \
                     car.", "In diesem Ordner ist noch kein Auftrag. Die Messblätter drucken, aufhängen und mit einem neuen Auftrag beginnen: er fragt erst nach der Wand, dann nach dem Fahrzeug.")) }
                (sheets_to_print(language))
            } @else {
                form.search method="get" action="/" role="search" {
                    @if listing.put_away { input type="hidden" name="away" value="1"; }
                    label for="find" { (language.pick("Find by registration, number or words", "Suchen nach Kennzeichen, Nummer oder Worten")) }
                    input #find name="find" type="text" maxlength="100" autocomplete="off" value=(harmless(&listing.search));
                    button.button type="submit" { (language.pick("Find", "Suchen")) }
                }
                @if wanted.is_empty() && elsewhere.is_empty() { p { @if listing.search.is_empty() { (language.pick("None.", "Keine.")) } @else { (language.pick("No job has that.", "Kein Auftrag enthält das.")) } } }
            }
            ul.jobs {
                @for place in wanted { li { (self::listed(language, place)) } }
            }
            @if !elsewhere.is_empty() {
                p { @match (listing.put_away, elsewhere.len()) {
                    (false, 1) => (language.pick("One that was put away has it:", "Ein weggelegter enthält es:")),
                    (false, n) => (said!(language; "{n} that were put away have it:", "{n} weggelegte enthalten es:")),
                    (true, 1) => (language.pick("One that was not put away has it:", "Ein nicht weggelegter enthält es:")),
                    (true, n) => (said!(language; "{n} that were not put away have it:", "{n} nicht weggelegte enthalten es:")),
                } }
                ul.jobs { @for place in elsewhere { li { (self::listed(language, place)) } } }
            }
            @if away > 0 && !listing.put_away { p { a.button href="/?away=1" { (language.pick("Put away: ", "Weggelegt: ")) (away) } } }
            @for wall in walls {
                @match &wall.bay {
                    Ok(bay) => {
                        p { (language.pick("The wall: ", "Die Wand: ")) (harmless(&bay.name)) ", " (said!(language; "{} sheets", "{} Messblätter"; bay.marks.sheet.len())) ". " a.button href=(figures_of(wall)) { (language.pick("Figures of the wall", "Maße der Wand")) } }
                    },
                    Err(error) => (fault_of_file(language, error, folder)),
                }
            }
            (newest_change(language, newest))
            (said())
        },
    )
}

/// Where a phone that is not known types the code.
pub(super) fn pairing(reader: Reader<'_>) -> Markup {
    let language = reader.language;
    page(
        reader,
        language.pick("Pair this phone", "Dieses Telefon koppeln"),
        None,
        html! {
            p { (language.pick("The computer that runs beamfall shows a code of six figures: in its terminal, and on its own page under Phones.", "Der Computer, auf dem beamfall läuft, zeigt einen Code aus sechs Ziffern: in seinem Terminal und auf seiner eigenen Seite unter „Telefone“.")) }
            form #pair novalidate {
                div.field {
                    label for="code" { (language.pick("The code", "Der Code")) }
                    input #code.figure name="code" type="text" inputmode="numeric" autocomplete="off" maxlength="10" required;
                }
                (said())
                p { button.big type="submit" { (language.pick("Pair", "Koppeln")) } }
            }
            (without_script(language))
        },
    )
}

/// The code for phones, with its drawing, for this computer's own browser; `None` after too many wrong ones.
pub(super) fn phones(reader: Reader<'_>, at: &str, shown: Option<(&str, &str)>, count: usize) -> Markup {
    let language = reader.language;
    page(
        reader,
        language.pick("Phones", "Telefone"),
        Some(("/", all_jobs(language))),
        html! {
            @match shown {
                Some((code, drawn)) => {
                    p { (language.pick("In the same network, point the phone's camera here, or open ", "Im selben Netz die Kamera des Telefons hierauf richten oder ")) strong { "http://" (at) "/" } (language.pick(" and type the code.", " öffnen und den Code eintippen.")) }
                    p.code { (code) }
                    div.qr { (PreEscaped(drawn)) }
                },
                None => p.banner { (language.pick("Too many wrong codes were typed; no phone is paired until there is a new one.", "Zu viele falsche Codes wurden eingetippt; bis es einen neuen gibt, wird kein Telefon gekoppelt.")) },
            }
            p { @if count == 0 { (language.pick("No phone is paired.", "Kein Telefon ist gekoppelt.")) } @else if count == 1 { (language.pick("One phone is paired.", "Ein Telefon ist gekoppelt.")) } @else { (count) (language.pick(" phones are paired.", " Telefone sind gekoppelt.")) } }
            p.note { (language.pick("What phones send is not encrypted: use the shop's own network, with its password. Who is paired may do all that this \
                page does, until you make a new code.", "Was Telefone senden, ist nicht verschlüsselt: das eigene Netz der Werkstatt mit Kennwort benutzen. Wer gekoppelt ist, darf alles, was diese Seite kann, bis ein neuer Code gemacht wird.")) }
            p.actions { button.button data-post="/phones" data-busy=(language.pick("Making a new code", "Neuer Code wird gemacht")) { (language.pick("New code; forget all phones", "Neuer Code; alle Telefone vergessen")) } }
            (said())
        },
    )
}

fn listed(language: Language, place: &Place) -> Markup {
    let (id, folder) = (&place.id, place.folder_name());
    match place.job() {
        Ok(job) => {
            let vehicle = job.vehicle.unwrap_or_default();
            let known = [vehicle.registration, vehicle.description]
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join(", ");
            html! {
                a.row href={ "/job/" (id) } {
                    strong { (harmless(&job.job)) } " " span { (harmless(&known)) }
                    span.note { @if job.shot.len() == 1 { (language.pick("1 photo; folder ", "1 Foto; Ordner ")) } @else { (job.shot.len()) (language.pick(" photos; folder ", " Fotos; Ordner ")) } (harmless(&folder)) }
                }
            }
        }
        Err(error) => fault_of_file(language, &error, place.folder.parent().unwrap_or(&place.folder)),
    }
}

fn without_script(language: Language) -> Markup {
    html! { noscript { p.banner { (language.pick("Allow this page its script: without it neither forms nor photos are sent.", "Dieser Seite ihr Skript erlauben: ohne es werden weder Formulare noch Fotos gesendet.")) } } }
}

/// What there is of a job besides its file.
pub(super) struct Beside {
    pub report: LastReport,
    pub begun: Option<Begun>,
    /// When the next photos are taken.
    pub stage: Option<Stage>,
    pub newest: Option<Newest>,
    /// The parts that it says the car has.
    pub system: Option<System>,
}

/// The newest change that can be taken back, of the wall or of a job.
pub(super) struct Newest {
    /// Where it is taken back.
    pub to: String,
    /// What it is of, in words.
    pub of: String,
    /// What else changes with it, where that is more than it is shown with.
    pub concerns: Option<String>,
    pub last: Last,
}

/// What somebody who opens a job does next, the one filled button of its page.
#[derive(Clone, Copy, PartialEq, Eq)]
enum NextStep {
    Photos,
    PhotosAfter,
    GoOn,
    Readings,
    Report,
    ReportAnew,
}

impl NextStep {
    fn of(job: &Job, beside: &Beside) -> Self {
        let is_after = |shot: &Shot| shot.stage == Some(Stage::After);
        if job.shot.is_empty() {
            Self::Photos
        } else if !job.repair.is_empty() && !job.shot.iter().any(is_after) {
            Self::PhotosAfter
        } else if beside.begun.is_some() {
            Self::GoOn
        } else {
            match beside.report {
                LastReport::Current => Self::Report,
                LastReport::Old => Self::ReportAnew,
                LastReport::None => Self::Readings,
            }
        }
    }
}

/// A job: what to do next, its readings, its report.
pub(super) fn job(reader: Reader<'_>, place: &Place, job: &Job, beside: &Beside) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let vehicle = job.vehicle.clone().unwrap_or_default();
    let next = NextStep::of(job, beside);
    let age = if beside.report == LastReport::Old {
        language.pick(", made before the last change", ", vor der letzten Änderung erstellt")
    } else {
        ""
    };
    let packed_age = if beside.report == LastReport::Old {
        language.pick(
            "; the report in it was made before the last change",
            "; der Bericht darin ist vor der letzten Änderung erstellt",
        )
    } else {
        ""
    };
    let filled = |step: NextStep| if next == step { "big" } else { "button" };
    page(
        reader,
        &named(language, job),
        Some(("/", all_jobs(language))),
        html! {
            @if let Some(car) = &vehicle.description { p.sub { (harmless(car)) } }
            @for done in &job.repair { p { "✓ " (said!(language; "Repaired {}: {}", "Repariert am {}: {}"; harmless(&date(language, &done.date)), harmless(&repair_words(language, beside.system.as_ref(), done)))) } }
            (said())
            @if next == NextStep::Photos { p { (language.pick("No photo yet.", "Noch kein Foto.")) } (what_to_photograph(language, &own, job, &Asked::at_first(job, beside.system.as_ref(), beside.stage, true))) }
            @else {
                p { @if job.shot.len() == 1 { (language.pick("One photo is in the job.", "Ein Foto ist im Auftrag.")) } @else { (job.shot.len()) (language.pick(" photos are in the job.", " Fotos sind im Auftrag.")) } }
                @if next == NextStep::PhotosAfter {
                    p.actions { a.big href={ (own) "/shots?" (as_before(job, beside.system.as_ref())) } { (language.pick("Take the photos after the repair", "Die Fotos nach der Reparatur aufnehmen")) } }
                }
                @if let Some(begun) = beside.begun.as_ref().filter(|_| next == NextStep::GoOn) {
                    p.actions { a.big href={ (own) "/shots?" (begun.query) } {
                        @if begun.done == 0 { (said!(language; "Take the photos after the last repair: {}", "Die Fotos nach der letzten Reparatur aufnehmen: {}"; begun.all)) }
                        @else { (said!(language; "Go on: {} of {} photos are there", "Weiter: {} von {} Fotos sind da"; begun.done, begun.all)) }
                    } }
                }
                p.actions {
                    @if beside.report != LastReport::None {
                        a class=(filled(NextStep::Report)) href={ (own) "/report" } { (language.pick("Last report", "Letzter Bericht")) (age) }
                        a.button href={ (own) "/report.pdf" } { (language.pick("Last report, PDF", "Letzter Bericht, PDF")) (age) }
                    }
                    a class=(filled(NextStep::Readings)) href={ (own) "/readings" } { (language.pick("Readings", "Messwerte")) }
                    button class=(filled(NextStep::ReportAnew)) data-post={ (own) "/report" } data-busy=(language.pick("Reading all photos and making the report", "Alle Fotos werden gelesen, der Bericht wird erstellt")) {
                        @if beside.report != LastReport::None { (language.pick("Make the report anew", "Bericht neu erstellen")) } @else { (language.pick("Make the report", "Bericht erstellen")) }
                    }
                }
            }
            (newest_change(language, beside.newest.as_ref()))
            p.actions {
                a.button href={ (own) "/fault" } { (language.pick("Find the part at fault", "Fehlerhaftes Bauteil finden")) }
                a.button href={ (own) "/repair" } { (language.pick("Enter a repair", "Reparatur eintragen")) }
                a.button href={ (own) "/car" } { (language.pick("Change car and table", "Fahrzeug und Tabelle ändern")) }
                a.button href={ (own) "/lamps" } { (language.pick("Figures of the lamps", "Maße der Scheinwerfer")) }
                a.button href={ (own) "/wall" } { (language.pick("Check the wall by a photo", "Wand mit einem Foto prüfen")) }
                a.button href={ (own) "/entries" } { (language.pick("What is in the job", "Inhalt des Auftrags")) }
                a.button href={ (own) "/all.zip" } { (called(language)) (packed_age) }
                @let away = place.is_put_away();
                button.button data-post={ (own) "/put-away" } data-body=(serde_json::json!({ "away": !away })) data-busy=(language.pick("Doing it", "Wird erledigt"))
                    { @if away { (language.pick("Put it back among the jobs", "Zurück zu den Aufträgen")) } @else { (language.pick("Put the job away", "Auftrag weglegen")) } }
            }
            @if next != NextStep::Photos { h2 { (language.pick("Take more photos", "Weitere Fotos aufnehmen")) } (what_to_photograph(language, &own, job, &Asked::at_first(job, beside.system.as_ref(), beside.stage, false))) }
            (without_script(language))
        },
    )
}

/// The way back from a report, which has no style but its own.
pub(super) fn back_to_job(language: Language, place: &Place) -> Markup {
    html! {
        style { "@media print { #back-to-job { display: none } }" }
        nav #back-to-job aria-label="beamfall" lang=(language.tag()) { a href={ "/job/" (place.id) } style="display: inline-flex; align-items: center; min-height: 44px"
            { (language.pick("‹ The job", "‹ Der Auftrag")) }
            " " a href={ "/job/" (place.id) "/report.pdf" } style="display: inline-flex; align-items: center; min-height: 44px; margin-left: 1.5em"
            { (language.pick("As PDF", "Als PDF")) } }
    }
}

/// The last change, with the button that takes it back; `to` does it.
pub(super) fn undo(language: Language, to: &str, last: Option<&Last>) -> Markup {
    html! { @if let Some(last) = last { (undo_of(language, to, last, "", last_change(language), last.what.within(language))) } }
}

const fn last_change(language: Language) -> &'static str {
    language.pick("Last change", "Letzte Änderung")
}

/// The same of the newest of several, saying of what it is.
fn newest_change(language: Language, newest: Option<&Newest>) -> Markup {
    html! { @if let Some(newest) = newest {
        @let of = said!(language; ", {}", " {}"; newest.of);
        (undo_of(language, &newest.to, &newest.last, &of, last_change(language), newest.last.what.within(language)))
        @if let Some(concerns) = &newest.concerns { p.note { (concerns) } }
    } }
}

/// Where a wall's figures are.
pub(super) fn figures_of(wall: &Wall) -> String {
    if wall.name == BAY {
        "/wall".to_owned()
    } else {
        format!("/wall?file={}", wall.name)
    }
}

/// The same of the wall, where its figures are, and the way to a wall of its own for sheets that hang anew.
pub(super) fn of_wall(language: Language, to: &str, last: Option<&Last>) -> Markup {
    html! {
        (undo(language, to, last))
        p.actions { a.button href="/new?wall=new" { (language.pick("A wall hung anew: a new job before it", "Eine neu gehängte Wand: ein neuer Auftrag davor")) } }
        (sheets_to_print(language))
    }
}

/// The sheets as files to print.
fn sheets_to_print(language: Language) -> Markup {
    html! {
        p.actions {
            a.button href="/sheets.pdf?paper=a4" { (language.pick("Sheets to print, A4", "Messblätter zum Drucken, A4")) }
            a.button href="/sheets.pdf?paper=letter" { (language.pick("Sheets to print, Letter", "Messblätter zum Drucken, Letter")) }
        }
        p.note { (said!(
            language;
            "PDF, numbers {} to {}, with how to hang them on its first page. Print at 100 %, not fitted to the page; \
             then measure the 100 mm bar on each sheet: if it is longer or shorter, it was fitted all the same, and is to be printed again.",
            "PDF, Nummern {} bis {}, auf der ersten Seite (englisch) steht, wie sie hängen. Mit 100 % drucken, nicht auf die Seite eingepasst; \
             dann den Balken von 100 mm auf jedem Messblatt nachmessen: ist er länger oder kürzer, wurde doch eingepasst, und es ist neu zu \
             drucken.";
            SHEETS.start(), SHEETS.end()
        )) }
    }
}

/// As [`undo`], with what the change is of where that is said, what it is called while it is in force, and its words.
fn undo_of(language: Language, to: &str, last: &Last, of: &str, called: &str, what: &str) -> Markup {
    html! {
            @let body = serde_json::json!({ "left_as": last.left_as });
            p.last { @if last.is_undone { (language.pick("Taken back", "Zurückgenommen")) } @else { (called) } (harmless(of)) ": " (harmless(what)) ". "
                button.button data-post=(to) data-body=(body) data-busy=(language.pick("Doing it", "Wird erledigt")) { @if last.is_undone { (language.pick("Do it again", "Wiederholen")) } @else { (language.pick("Take it back", "Zurücknehmen")) } } }
    }
}

/// What stands in the form that asks what to find out.
struct Asked {
    checks: Vec<Check>,
    /// Whether the checks are only proposed.
    is_proposed: bool,
    lamp: Option<Side>,
    stage: Option<Stage>,
    lamp_off: bool,
    typed: Typed,
    /// What is wrong in a field, by its name.
    fault: Option<(&'static str, String)>,
    /// Whether photos are the next step.
    is_next: bool,
}

impl Asked {
    /// As it stands before anybody has said anything.
    fn at_first(job: &Job, system: Option<&System>, stage: Option<Stage>, is_next: bool) -> Self {
        let checks = if job.repair.is_empty() {
            vec![Check::Positions]
        } else {
            checks_before(job, system)
        };
        Self {
            checks,
            is_proposed: true,
            lamp: None,
            stage,
            lamp_off: false,
            typed: Typed::default(),
            fault: None,
            is_next,
        }
    }

    fn fault_of(&self, field: &str) -> Option<&str> {
        let fault = self.fault.as_ref().filter(|(of, _)| *of == field);
        fault.map(|(_, why)| why.as_str())
    }
}

/// The form that asks what to find out once more, as it was sent, with what is wrong in it beside its field, or at its head where it is of no one field.
pub(super) fn choose_anew(reader: Reader<'_>, place: &Place, job: &Job, query: &str, why: &Why) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let (typed, choice) = Typed::of_query(query);
    let checks = choice.as_ref().map_or_else(Vec::new, |choice| choice.checks.clone());
    let fault = typed
        .fault(&checks)
        .map(|(field, why)| (field, why.1.within(language).0.to_owned()));
    let (words, lang) = why.within(language);
    page(
        reader,
        language.pick("What to find out", "Was herauszufinden ist"),
        Some((&own, &named(language, job))),
        html! {
            p.banner #said lang=[lang] {
                @if fault.is_some() { (language.pick("One figure cannot be taken; it is marked.", "Eine Angabe lässt sich nicht verwenden; sie ist gekennzeichnet.")) }
                @else { (harmless(words)) }
            }
            (what_to_photograph(language, &own, job, &Asked {
                checks,
                is_proposed: false,
                lamp: choice.as_ref().and_then(|choice| choice.lamp),
                stage: choice.as_ref().and_then(|choice| choice.stage),
                lamp_off: choice.is_some_and(|choice| choice.lamp_off),
                typed,
                fault,
                is_next: true,
            }))
            (without_script(language))
        },
    )
}

/// A field of that form, and what is wrong in it.
fn typed_field(asked: &Asked, key: &'static str, label: &str, value: &str, most: usize, is_figure: bool) -> Markup {
    let (fault, id) = (asked.fault_of(key), format!("{key}-fault"));
    html! {
        label for=(key) { (label) }
        input id=(key) .figure[is_figure] name=(key) type="text" inputmode=[is_figure.then_some("numeric")] maxlength=(most) value=(value)
            aria-invalid=[fault.map(|_| "true")] aria-describedby=[fault.map(|_| &id)];
        @if let Some(fault) = fault { p.fault id=(id) { (harmless(fault)) } }
    }
}

/// The form that asks what to find out; what most leave as it is is folded away.
fn what_to_photograph(language: Language, own: &str, job: &Job, asked: &Asked) -> Markup {
    let sides: Vec<Side> = [Side::Left, Side::Right]
        .into_iter()
        .filter(|&side| job.lamp(side).is_some())
        .collect();
    let repaired = !job.repair.is_empty();
    let (stage, typed) = (asked.stage, &asked.typed);
    let chosen = |check: &Check| asked.checks.contains(check);
    html! {
        // What was typed of the car before a repair is not proposed of the repaired one.
        form.choose method="get" action={ (own) "/shots" } data-state=(job.repair.len()) {
            fieldset {
                legend { (language.pick("What to find out", "Was herauszufinden ist")) }
                @for check in Choice::CHECKS {
                    label.pick { input type="checkbox" name="check" value=(check) checked[chosen(&check)] data-proposed[asked.is_proposed && chosen(&check)]; " " (asks(language, check)) }
                }
                @if asked.is_proposed && chosen(&Check::LeakDown) { p.note { (language.pick("As before the repair. The leak-down is read by what the pump's steps do to the beam, so these come with it.", "Wie vor der Reparatur. Die Dichtheitsprüfung wird an dem abgelesen, was die Stufen der Pumpe mit dem Lichtkegel machen; deshalb gehören sie dazu.")) } }
            }
            p.note #taken-out role="status" data-words=(language.pick("Only proposed, and out now: {what}. Tick it again to have it too.", "Nur vorgeschlagen und jetzt abgewählt: {what}. Wieder ankreuzen, wenn es auch dazugehören soll.")) {}
            p { button class=(if asked.is_next { "big" } else { "button" }) type="submit" { (language.pick("Show what to photograph", "Zeigen, was zu fotografieren ist")) } }
            // Shown where the checks that want them are ticked, by the style sheet.
            div.field.of-positions { (typed_field(asked, "positions", language.pick("Positions of the range control, in order", "Stellungen des Leuchtweitenreglers, der Reihe nach"), &typed.positions, 200, false)) }
            div.field.of-vacuum { (typed_field(asked, "vacuum", language.pick("Steps of the pump's gauge, rising, with their unit", "Stufen am Unterdruckmesser der Pumpe, steigend, mit Einheit"), &typed.gauge, 300, false)) }
            div.field.of-leak-down { (typed_field(asked, "minutes", language.pick("Length of a leak-down, minutes", "Dauer der Dichtheitsprüfung, Minuten"), &typed.minutes, 4, true)) }
            div.field.of-leak-down { (typed_field(asked, "every", language.pick("Time between its photos, s", "Zeit zwischen ihren Fotos, s"), &typed.every, 4, true)) }
            details.rare {
                summary {
                    @match stage {
                        None => (language.pick("Which lamp, when, and light in the room", "Welcher Scheinwerfer, wann, und Licht im Raum")),
                        Some(Stage::Before) => (language.pick("Which lamp, when (before the repair), and light in the room", "Welcher Scheinwerfer, wann (vor der Reparatur), und Licht im Raum")),
                        Some(Stage::After) => (language.pick("Which lamp, when (after the repair), and light in the room", "Welcher Scheinwerfer, wann (nach der Reparatur), und Licht im Raum")),
                    }
                }
                fieldset {
                    legend { (language.pick("Of which lamp", "Von welchem Scheinwerfer")) }
                    label.pick { input type="radio" name="lamp" value="" checked[asked.lamp.is_none()]; (language.pick(" every lamp of the job", " alle Scheinwerfer des Auftrags")) }
                    @if sides.len() > 1 {
                        @for side in sides { label.pick { input type="radio" name="lamp" value=(side) checked[asked.lamp == Some(side)]; (the_one(language, side)) } }
                    }
                }
                fieldset {
                    legend { (language.pick("When", "Wann")) }
                    @if !repaired { label.pick { input type="radio" name="stage" value="" checked[stage.is_none()]; (language.pick(" there is no repair, or it is not known yet", " keine Reparatur, oder noch nicht bekannt")) } }
                    label.pick { input type="radio" name="stage" value="before" checked[stage == Some(Stage::Before)]; (language.pick(" before the repair", " vor der Reparatur")) }
                    label.pick { input type="radio" name="stage" value="after" checked[stage == Some(Stage::After)]; (language.pick(" after the repair", " nach der Reparatur")) }
                }
                fieldset {
                    legend { (language.pick("Where the room is not dark", "Wo der Raum nicht dunkel ist")) }
                    label.pick { input type="checkbox" name="off" value="1" checked[asked.lamp_off]; (language.pick(" each view with the lamp off, too", " jede Ansicht auch ohne Licht")) }
                }
            }
        }
    }
}

/// What was photographed before a repair, to be photographed again after it: a leak-down with the pump's steps, by which it is read.
fn checks_before(job: &Job, system: Option<&System>) -> Vec<Check> {
    let before = || job.shot.iter().filter(|shot| shot.stage != Some(Stage::After));
    let pumped = |shot: &&Shot| shot.vacuum.is_some() && !shot.sealed && shot.position.is_none();
    let is_shut = before().any(|shot| shot.sealed);
    let is_positioned = before().any(|shot| shot.position.is_some());
    // Where all were taken with the control at 0 nobody asked what it does; a repair of a part of it asks that.
    let is_aim = before().all(|shot| is_setting(shot.position.as_deref()));
    let is_aim = is_aim && job.repair.iter().all(|repair| repair.component.is_none());
    let known = [
        (Check::Aim, is_positioned && is_aim),
        (Check::Positions, is_positioned && !is_aim),
        (Check::Vacuum, is_shut || before().filter(pumped).count() > 1),
        (Check::LeakDown, is_shut),
    ];
    // The pump was for finding what is mended now: at a part that both lamps share it tells nothing more.
    let lamp_of_repair = |repair: &RepairEntry| {
        let system = system?;
        lamp_of(system, system.component(repair.component.as_deref()?)?)
    };
    let is_of_one = job.repair.iter().any(|repair| lamp_of_repair(repair).is_some());
    let is_shared = is_positioned && system.is_some() && !job.repair.is_empty() && !is_of_one;
    let of_pump = |check: &Check| matches!(check, Check::Vacuum | Check::LeakDown);
    let known: Vec<Check> = known
        .into_iter()
        .filter(|(check, is)| *is && !(is_shared && of_pump(check)))
        .map(|(check, _)| check)
        .collect();
    if known.is_empty() {
        vec![Check::Positions]
    } else {
        known
    }
}

/// The steps of the pump's gauge that were photographed before a repair, rising, mbar.
fn steps_before(job: &Job) -> Vec<String> {
    let before = job
        .shot
        .iter()
        .filter(|shot| shot.stage != Some(Stage::After) && !shot.sealed);
    let mut steps: Vec<Vacuum> = before.filter_map(|shot| shot.vacuum).collect();
    steps.sort_by(|a, b| a.mbar().total_cmp(&b.mbar()));
    let mut said: Vec<String> = steps
        .iter()
        .map(|step| format!("{}", (step.mbar() * 10.0).round() / 10.0))
        .collect();
    said.dedup();
    said
}

/// Whether the pump was worked before a repair on what a repair of one lamp's own parts has made new, and did not reach the last of the usual steps
/// there: how far a broken unit went is no plan for a new one.
fn is_of_broken_unit(job: &Job, system: Option<&System>) -> bool {
    let mended = |repair: &RepairEntry| {
        let system = system?;
        lamp_of(system, system.component(repair.component.as_deref()?)?)
    };
    let mut lamps = job.repair.iter().filter_map(mended);
    let usual = gauge_steps(USUAL_GAUGE).ok();
    let usual_mbar = usual
        .and_then(|steps| Some(steps.last()?.vacuum.mbar()))
        .unwrap_or(f64::INFINITY);
    lamps.any(|lamp| {
        let of_lamp = job
            .shot
            .iter()
            .filter(|shot| shot.lamp == lamp && shot.stage != Some(Stage::After) && !shot.sealed);
        let steps = of_lamp.filter_map(|shot| Some(shot.vacuum?.mbar()));
        steps
            .reduce(f64::max)
            .is_some_and(|highest_mbar| highest_mbar < usual_mbar)
    })
}

/// The list of photos that asks for these, of the one lamp where all were of one.
pub(super) fn as_before(job: &Job, system: Option<&System>) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    let checks = checks_before(job, system);
    for check in &checks {
        query.append_pair("check", &check.to_string());
    }
    let of_pump = !checks.contains(&Check::Positions);
    let mut lamps = job
        .shot
        .iter()
        .filter(|shot| shot.stage != Some(Stage::After))
        .map(|shot| shot.lamp);
    // At positions both beams are looked at, whichever was repaired.
    if let Some(first) = lamps.next().filter(|_| of_pump)
        && lamps.all(|lamp| lamp == first)
    {
        query.append_pair("lamp", &first.to_string());
    }
    query.append_pair("stage", "after");
    // The steps that were photographed before, where they were not the usual ones.
    let steps = steps_before(job);
    if checks.contains(&Check::Vacuum) && steps.len() > 1 && !is_of_broken_unit(job, system) {
        query.append_pair("vacuum", &format!("{} mbar", steps.join(", ")));
    }
    query.finish()
}

/// Where the program says what went wrong with what this page asked.
fn said() -> Markup {
    html! { p #said.banner role="alert" hidden {} }
}

/// What names a photo in an order.
fn only_photo(photo: &Path) -> String {
    serde_json::json!({ "photo": photo }).to_string()
}

/// A lamp to choose.
fn the_one(language: Language, side: Side) -> &'static str {
    match side {
        Side::Left => language.pick(" the left one", " der linke"),
        Side::Right => language.pick(" the right one", " der rechte"),
    }
}

fn asks(language: Language, check: Check) -> &'static str {
    match check {
        Check::Aim => language.pick(
            "Where each beam lies, the range control at 0",
            "Wo jeder Lichtkegel liegt, Leuchtweitenregler auf 0",
        ),
        Check::Positions => language.pick(
            "Whether the range control moves the beams, position by position",
            "Ob der Leuchtweitenregler die Lichtkegel bewegt, Stellung für Stellung",
        ),
        Check::Vacuum => language.pick(
            "What each step of a hand pump does to the beam",
            "Was jede Stufe einer Handpumpe am Lichtkegel bewirkt",
        ),
        Check::LeakDown => language.pick(
            "Whether vacuum holds, over some minutes with the pump's valve shut",
            "Ob der Unterdruck hält, über einige Minuten bei geschlossenem Ventil der Pumpe",
        ),
        Check::BeforeAfter => language.pick(
            "Before and after: all of it again after the repair",
            "Vorher und nachher: alles noch einmal nach der Reparatur",
        ),
    }
}

/// The photos to take. `without`: the job's shots that are known to give no figure.
pub(super) fn shots(
    reader: Reader<'_>,
    place: &Place,
    job: &Job,
    choice: &Choice,
    photos: &[PlannedPhoto],
    without: &HashSet<usize>,
) -> Markup {
    let language = reader.language;
    let address = |n: usize| format!("/job/{}/shot?{}", place.id, choice.query(n));
    let lacks = |photo: &PlannedPhoto| lacks_figure(photo, photos, job, without);
    let done = photos.iter().filter(|photo| is_done(photo, photos, job)).count();
    let passed = photos.iter().filter(|photo| is_passed(photo, photos, job)).count();
    let there = done - passed;
    let lacking = photos.iter().filter(|photo| lacks(photo)).count();
    let next = photos
        .iter()
        .position(|photo| !is_done(photo, photos, job))
        .or_else(|| photos.iter().position(lacks))
        .map_or(1, |n| n + 1);
    page(
        reader,
        language.pick("Photos to take", "Aufzunehmende Fotos"),
        Some((&format!("/job/{}", place.id), &named(language, job))),
        html! {
            @if choice.is_unticked {
                p.banner {
                    (language.pick("Nothing was ticked under “What to find out”: this list is the one for the positions of the range control. ", "Unter „Was herauszufinden ist“ war nichts angekreuzt: diese Liste ist die für die Stellungen des Leuchtweitenreglers. "))
                    a.button href={ "/job/" (place.id) } { (language.pick("Choose anew", "Neu wählen")) }
                }
            }
            p { (said!(language; "In the job: {there} of {}.", "Im Auftrag: {there} von {}."; photos.len()))
                @if passed == 1 { (language.pick(" One of a leak-down is not, and its time is over; the others count without it.", " Eines einer Dichtheitsprüfung fehlt, und seine Zeit ist vorbei; die anderen zählen auch ohne es.")) }
                @else if passed > 1 { (said!(language; " {passed} of a leak-down are not, and their time is over; the others count without them.", " {passed} einer Dichtheitsprüfung fehlen, und ihre Zeit ist vorbei; die anderen zählen auch ohne sie.")) }
                @if lacking == 1 { (language.pick(" One of them gives no figure: take it again.", " Eines davon gibt keinen Wert: neu aufnehmen.")) }
                @else if lacking > 1 { (said!(language; " {lacking} of them give no figure: take them again.", " {lacking} davon geben keinen Wert: neu aufnehmen.")) } }
            @if done == photos.len() && lacking == 0 {
                p { a.big href={ "/job/" (place.id) "/readings" } { (language.pick("All are there: readings", "Alle sind da: Messwerte")) } }
                (steps_to(&afterwards(language, photos)))
            } @else if done == photos.len() {
                p.actions {
                    a.big href=(address(next)) { (said!(language; "Take photo {next} again", "Foto {next} neu aufnehmen")) }
                    a.button href={ "/job/" (place.id) "/readings" } { (language.pick("Readings", "Messwerte")) }
                }
            } @else {
                p { a.big href=(address(next)) { @if done == 0 { (language.pick("Begin", "Beginnen")) } @else { (said!(language; "Go on with photo {next}", "Weiter mit Foto {next}")) } } }
            }
            (heap::drop_zone(language, place, choice))
            ol.jobs {
                @for photo in photos {
                    li { a.row href=(address(photo.number)) {
                        span { (photo.number) ". " (harmless(&describe(language, photo))) }
                        @if lacks(photo) { span.note { (language.pick("∅ in the job, gives no figure: take again", "∅ im Auftrag, gibt keinen Wert: neu aufnehmen")) } }
                        @else if is_passed(photo, photos, job) { span.note { (language.pick("– not in the job, and its time is over", "– nicht im Auftrag, und seine Zeit ist vorbei")) } }
                        @else if is_done(photo, photos, job) { span.note { (language.pick("✓ in the job", "✓ im Auftrag")) (time_of(photo, photos, job)) } }
                    } }
                }
            }
        },
    )
}

/// One photo: what to set, and the button that takes it. `None` where the list has no such photo.
pub(super) fn shot(
    reader: Reader<'_>,
    place: &Place,
    job: &Job,
    choice: &Choice,
    photos: &[PlannedPhoto],
    without: &HashSet<usize>,
) -> Option<Markup> {
    let language = reader.language;
    let n = choice.number.checked_sub(1)?;
    let photo = photos.get(n)?;
    let list = format!("/job/{}/shots?{}", place.id, choice.query(choice.number));
    let send = format!("/job/{}/photo?{}", place.id, choice.query(choice.number));
    let (said, anew) = (steps(language, photos, n, job), steps_anew(language, photos, n, job));
    let title = said!(language; "Photo {} of {}", "Foto {} von {}"; photo.number, photos.len());
    Some(page(
        reader,
        &title,
        Some((&list, language.pick("All photos of the list", "Alle Fotos der Liste"))),
        html! {
            p.lead { strong { (harmless(&describe(language, photo))) } }
            @if is_passed(photo, photos, job) { p.note { (language.pick("It is not in the job, and its time is over: the job has photos of this leak-down that were taken later. They count without it. What was pumped anew is another series: take out the photos of this one first, or they are read together.", "Es ist nicht im Auftrag, und seine Zeit ist vorbei: der Auftrag hat Fotos dieser Dichtheitsprüfung, die später aufgenommen sind. Sie zählen auch ohne es. Neu gepumpt ist eine andere Reihe: erst die Fotos dieser herausnehmen, sonst werden sie zusammen gelesen.")) } }
            @else if is_done(photo, photos, job) { p.note {
                @if lacks_figure(photo, photos, job, without) { (language.pick("The job has a photo of this that gives no figure: take it again, and take that one out.", "Der Auftrag hat davon ein Foto, das keinen Wert gibt: neu aufnehmen und jenes herausnehmen.")) }
                @else if matches!(photo.shows, Shows::Sealed { .. }) { (said!(language; "The job has this one{}. What was pumped anew is another series: take out the photos of this one first, or they are read together.", "Der Auftrag hat dieses{}. Neu gepumpt ist eine andere Reihe: erst die Fotos dieser herausnehmen, sonst werden sie zusammen gelesen."; time_of(photo, photos, job))) }
                @else { (language.pick("The job has a photo of this. A further one counts beside it.", "Der Auftrag hat davon ein Foto. Ein weiteres zählt daneben.")) }
            } (entered_before(language, place, choice, &held(photo, photos, job)))
                @if may_be_mended_since(photo, job) && !lacks_figure(photo, photos, job, without) {
                    (mended_since(language, place, photo.lamp, is_of_setting(&photo.shows)))
                } }
            p.lead.set { (harmless(&set_for(language, photo))) }
            (self::steps_to(&said))
            @if !anew.is_empty() {
                details {
                    summary { (language.pick("All was put away since? From the start", "Inzwischen alles weggeräumt? Von vorn")) }
                    (self::steps_to(&anew))
                }
            }
            // Also to somebody who goes straight to a photo in the middle of the list.
            @if photo.drive == Drive::Control && !said.contains(&Said::Caution(Caution::Wall.said(language).to_owned())) { (self::steps_to(&[Said::Caution(Caution::Wall.said(language).to_owned())])) }
            @if let Shows::Sealed { after_s, .. } = photo.shows {
                @if after_s == 0 {
                    div.field {
                        label for="gauge" { (language.pick("What the gauge shows as you shut the valve, with its unit", "Was der Unterdruckmesser beim Schließen des Ventils zeigt, mit Einheit")) }
                        input #gauge.figure type="text" maxlength="20" autocomplete="off" placeholder="180 mbar";
                    }
                }
                @let stage = photo.stage.map_or(String::new(), |stage| stage.to_string());
                p #clock role="timer" data-waits=(language.pick("The clock runs from the first photo of the series.", "Die Uhr läuft ab dem ersten Foto der Reihe."))
                    data-shut=(language.pick("The valve is shut for {time}.", "Das Ventil ist seit {time} zu."))
                    data-soon=(language.pick("This photo in {time}.", "Dieses Foto in {time}.")) data-now=(language.pick("Now.", "Jetzt."))
                    data-late=(language.pick("Late by {time}: take it now; its own time counts.", "{time} zu spät: jetzt aufnehmen; seine eigene Zeit zählt."))
                    data-after=(after_s) data-series={ (place.id) " " (photo.lamp) " " (stage) } {}
            }
            div.take.at-hand {
                label.big for="camera" { (language.pick("Take the photo", "Foto aufnehmen")) }
                input #camera.quiet type="file" accept="image/jpeg,image/png,image/tiff" capture="environment" data-send=(send);
            }
            div.take {
                label.button for="chosen" { (language.pick("Choose one that was taken", "Aufgenommenes Foto wählen")) }
                input #chosen.quiet type="file" accept="image/jpeg,image/png,image/tiff" data-send=(send);
            }
            p #busy role="status" data-sending=(sending(language)) {}
            div #outcome aria-live="polite" {}
            p.actions {
                @if n > 0 { a.button href={ "/job/" (place.id) "/shot?" (choice.query(n)) } { (language.pick("Photo before", "Voriges Foto")) } }
                @if n + 1 < photos.len() { a.button href={ "/job/" (place.id) "/shot?" (choice.query(n + 2)) } { (language.pick("Next photo", "Nächstes Foto")) } }
            }
            (without_script(language))
        },
    ))
}

/// Whether a further photo of this could be of a car that was mended since, without the job knowing it: a leak-down says so by itself, and of photos
/// from before a repair the job knows.
fn may_be_mended_since(photo: &PlannedPhoto, job: &Job) -> bool {
    let is_of_state = matches!(photo.shows, Shows::Position(_) | Shows::Vacuum { .. });
    is_of_state && is_of_now(photo.stage, !job.repair.is_empty())
}

/// Whether photos of a stage show the car as it is, as far as the job knows.
fn is_of_now(stage: Option<Stage>, is_repaired: bool) -> bool {
    (stage == Some(Stage::After)) == is_repaired
}

fn is_of_setting(shows: &Shows) -> bool {
    matches!(shows, Shows::Position(position) if is_setting(Some(position)))
}

/// The way to the repair, by which photos from before it and from after it are told apart; of a lamp that is photographed where it is set by its
/// adjusters that is the first to be thought of.
fn mended_since(language: Language, place: &Place, side: Side, is_of_setting: bool) -> Markup {
    let repair = format!("/job/{}/repair", place.id);
    html! {
        p.note { (language.pick("Was the lamp set, or anything else mended, since? Then enter that first, and photograph after it.", "Wurde seither der Scheinwerfer eingestellt oder sonst etwas instand gesetzt? Dann das zuerst eintragen und danach fotografieren.")) }
        p.actions {
            @if is_of_setting {
                a.button href={ (repair) "?set=" (side) } { (language.pick("The lamp was set: enter that", "Der Scheinwerfer wurde eingestellt: das eintragen")) }
                a.button href=(repair) { (language.pick("Something else was mended: enter that", "Anderes wurde instand gesetzt: das eintragen")) }
            } @else {
                a.button href=(repair) { (language.pick("Enter what was done", "Eintragen, was getan wurde")) }
            }
        }
    }
}

/// What the job's other photos of a state say against one that was just entered, and the ways out. `is_repaired`: the job has a repair.
pub(super) fn contradiction(
    language: Language,
    place: &Place,
    choice: &Choice,
    shot: &Shot,
    warning: Option<&Warning>,
    is_repaired: bool,
) -> Markup {
    html! {
        @if let Some(warning) = warning {
            p.banner #contradicted { "! " (harmless(&capital(&warning.said(language)))) }
            @if is_of_now(shot.stage, is_repaired) { (mended_since(language, place, shot.lamp, is_setting(shot.position.as_deref()))) }
            p.actions { a.button href={ "/job/" (place.id) "/shot?" (choice.query(choice.number)) } { (language.pick("Take one of them out", "Eines davon herausnehmen")) } }
        } @else {
            p.note { (language.pick("✓ The job's other photos of this do not contradict it.", "✓ Die anderen Fotos davon im Auftrag widersprechen ihm nicht.")) }
        }
    }
}

/// The time of day at which a photo of a leak-down was taken, behind a comma; nothing for others.
fn time_of(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job) -> String {
    let is_sealed = matches!(photo.shows, Shows::Sealed { .. });
    let shot = is_sealed
        .then(|| held(photo, photos, job))
        .and_then(|held| held.first().copied());
    let time = shot.and_then(|(_, shot)| shot.taken.as_deref()?.split_once('T'));
    time.map_or_else(String::new, |(_, time)| format!(", {}", harmless(time)))
}

/// What the job has of a photo of the list already: in small, with its figure, and the button that takes it out again.
fn entered_before(language: Language, place: &Place, choice: &Choice, shots: &[(usize, &Shot)]) -> Markup {
    html! {
        @if !shots.is_empty() {
            div #held {
                @for (n, shot) in shots {
                    @let name = shot.photo.display().to_string();
                    div.entry {
                        img.thumb loading="lazy" alt="" src=(by_hand::address(place, choice, "thumb", &name));
                        span { code { (harmless(&name)) } div data-later=(by_hand::address(place, choice, "held", &name)) { p.note role="status" { (language.pick("Reading it …", "Wird gelesen …")) } } }
                        @let body = serde_json::json!({ "kind": Entries::Shot, "n": n, "name": name }).to_string();
                        @if shot.is_pumped() { a.button href={ "/job/" (place.id) "/gauge?n=" (n) } { (fault::to_gauge(language, shot)) } }
                        button.button data-post={ "/job/" (place.id) "/undo?to=shot&" (choice.query(choice.number)) } data-body=(body) data-busy=(language.pick("Taking it out", "Wird herausgenommen"))
                            data-asks=(said!(language; "Take out of the job: {}?", "Aus dem Auftrag herausnehmen: {}?"; harmless(&name))) { (language.pick("Take it out", "Herausnehmen")) }
                    }
                }
            }
            (said())
        }
    }
}

/// The figure of a photo that the job has, and its picture behind it.
///
/// # Errors
/// As [`outcome`].
pub(super) fn held_photo(language: Language, place: &Place, findings: &Findings) -> Result<Markup, Error> {
    let refused = findings
        .readings
        .iter()
        .filter_map(|reading| reading.result.as_ref().err());
    let seen = seen(language, place, findings, Drawing::Done)?;
    Ok(html! {
        (html::section(&said_of::at_once(language, findings)))
        p.note { (language.pick("Read by itself; read together with the job's other photos, under Readings, the last digit can be another.", "Für sich allein gelesen; zusammen mit den anderen Fotos des Auftrags gelesen, unter Messwerte, kann die letzte Stelle eine andere sein.")) }
        @for refusal in refused { p.banner { "∅ " (harmless(refusal.message.within(language))) } }
        details { summary { (language.pick("Picture", "Bild")) } (seen) }
    })
}

const fn sending(language: Language) -> &'static str {
    language.pick(
        "Sending and reading the photo: {n} s",
        "Das Foto wird gesendet und gelesen: {n} s",
    )
}

fn steps_to(said: &[Said]) -> Markup {
    html! {
        ul.signs {
            @for said in said {
                @match said {
                    Said::Heading(text) => li.heading { span.glyph {} strong { (harmless(text)) } },
                    Said::Step(text) => li { span.glyph { "·" } span { (units_kept(&harmless(text))) } },
                    Said::Caution(text) => li.beware { span.glyph { "!" } span { (units_kept(&harmless(text))) } },
                }
            }
        }
    }
}

/// What a photo gave, for the page that sent it.
///
/// # Errors
/// [`Error`] when a picture cannot be encoded.
pub(super) fn outcome(
    language: Language,
    place: &Place,
    choice: &Choice,
    photos: &[PlannedPhoto],
    listed: &str,
    read: &ReadAlone,
) -> Result<Markup, Error> {
    let own = format!("/job/{}", place.id);
    let later = by_hand::address(place, choice, "seen", listed);
    let refusals = || {
        read.findings
            .readings
            .iter()
            .filter_map(|reading| reading.result.as_ref().err())
    };
    let has_picture = read.findings.readings.iter().any(|reading| reading.picture.is_some());
    let drawing = if has_picture { Drawing::Done } else { Drawing::Coming };
    Ok(html! {
        @if read.entered {
            p #entered { @if read.by_hand { (language.pick("✓ Read as you showed it, and entered in the job as ", "✓ Gelesen, wie es gezeigt wurde, und in den Auftrag eingetragen als ")) }
                @else { (language.pick("✓ Read by itself, and entered in the job as ", "✓ Für sich allein gelesen und in den Auftrag eingetragen als ")) }
                code { (listed) }
                (language.pick(
                    ". What counts is what it comes to together with the job's other photos; that stands under Readings, and its last digit and its ± can be others.",
                    ". Es zählt, was es zusammen mit den anderen Fotos des Auftrags ergibt; das steht unter Messwerte, und letzte Stelle und ± können dort andere sein.",
                )) }
            // The figure and the way on come first; pictures and what else was read stand below.
            (html::section(&said_of::at_once(language, &read.findings)))
            @if read.has_others {
                div data-later=(by_hand::address(place, choice, "beside", listed)) { p.note role="status" { (language.pick("Comparing it with the job's other photos of this …", "Wird mit den anderen Fotos davon im Auftrag verglichen …")) } }
            }
            p.actions {
                @if choice.number < photos.len() {
                    a.big href={ (own) "/shot?" (choice.query(choice.number + 1)) } { (language.pick("Next photo", "Nächstes Foto")) }
                } @else {
                    a.big href={ (own) "/readings" } { (language.pick("That was the last: readings", "Das war das letzte: Messwerte")) }
                }
            }
            // The pump is still joined, or the engine runs, and nobody is to drive away so.
            @if choice.number == photos.len() { (steps_to(&afterwards(language, photos))) }
            @if read.findings.readings.iter().any(|reading| !is_setting(reading.shot.position.as_deref()) && reading.result.as_ref().is_ok_and(|measured| measured.verdict.is_some())) {
                p.note { (language.pick("“Inside” or “outside” says where this one beam lies. Whether the control moved it there shows only beside the photos at \
                     the other positions: see Readings.", "„Innerhalb“ oder „außerhalb“ sagt, wo dieser eine Lichtkegel liegt. Ob der Regler ihn dorthin bewegt hat, zeigt sich erst neben den Fotos der anderen Stellungen: siehe Messwerte.")) }
            }
        } @else {
            @for refusal in refusals() {
                p.banner { "∅ " (harmless(refusal.message.within(language))) }
            }
            p { (language.pick(
                    "It gives no figure and is not entered in the job; the file stays as ",
                    "Es liefert keinen Wert und ist nicht in den Auftrag eingetragen; die Datei bleibt als ",
                )) code { (listed) } (language.pick(". Mend that, and take it again.", ". Das beheben und neu aufnehmen.")) }
            @if refusals().any(is_mended_by_placing) {
                p.actions {
                    (by_hand::to_place(language, place, choice, listed))
                    (to_wall(language, place))
                }
            }
            @if read.may_be_taken_again {
                p.actions { button.big type="button" data-press="camera" { (language.pick("Take it again", "Foto neu aufnehmen")) } }
            }
            @if read.may_be_entered() {
                p.note { (language.pick("If the room is as dark as it gets, enter this photo all the same, and take one of the same view with the lamp off next: it is on the list \
                     then.", "Wird der Raum nicht dunkler, dieses Foto trotzdem eintragen und als Nächstes eines derselben Ansicht ohne Licht aufnehmen: es steht dann auf der Liste.")) }
                p.actions {
                    button.button data-post={ (own) "/enter?" (choice.query(choice.number)) } data-body=(only_photo(Path::new(listed)))
                        data-busy=(language.pick("Entering it", "Wird eingetragen")) { (language.pick("Enter it all the same", "Trotzdem eintragen")) }
                }
            }
            (said())
        }
        @if read.entered { div data-later=[(!has_picture).then_some(&later)] { (seen(language, place, &read.findings, drawing)?) } }
        @if read.may_be_pointed_at() {
            @let words = if read.entered { language.pick("The line lies on the wrong edge", "Die Linie liegt auf der falschen Kante") } else { by_hand::where_it_is(language) };
            p.actions { (by_hand::to_look(place, choice, listed, words)) }
        }
        @if !read.entered { div data-later=[(!has_picture).then_some(&later)] { (seen(language, place, &read.findings, drawing)?) } }
    })
}

/// Where what the first photo says of the wall comes to stand.
pub(super) fn wall_later(place: &Place, choice: &Choice, listed: &str) -> Markup {
    html! { div data-later=(by_hand::address(place, choice, "wall", listed)) {} }
}

/// Two parts of a page, one below the other.
pub(super) fn both(first: Markup, second: Option<Markup>) -> Markup {
    html! { (first) @if let Some(second) = &second { (second) } }
}

/// What a photo says of the wall, or why it says nothing.
pub(super) fn wall_check(language: Language, checked: &Result<WallCheck, Refusal>) -> Markup {
    html! {
        @match checked {
            Ok(check) => (html::section(&wall::section(language, check))),
            Err(refusal) => p.banner { "∅ " (harmless(refusal.message.within(language))) },
        }
    }
}

/// The way to the wall's figures from a job, to which it leads back.
fn to_wall(language: Language, place: &Place) -> Markup {
    html! { a.button href={ "/wall?from=" (place.id) } { (language.pick("Figures of the wall", "Maße der Wand")) } }
}

/// Where a photo is taken that is to show the wall alone.
pub(super) fn wall_photo(reader: Reader<'_>, place: &Place) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let send = format!("{own}/wall");
    page(
        reader,
        language.pick("Check the wall by a photo", "Wand mit einem Foto prüfen"),
        Some((&own, the_job(language))),
        html! {
            p { (language.pick("Take it from where the others are to be taken, all sheets in it, with the room's light on or with the lamp lit. It says which sheets are seen, \
                 how well they agree with your tape, and what ± they give; it is not kept.", "Von dort aufnehmen, wo die anderen aufgenommen werden sollen, alle Messblätter darin, bei Licht im Raum oder mit leuchtendem Scheinwerfer. Es sagt, welche Messblätter zu sehen sind, wie gut sie zum Bandmaß passen und welches ± sie ergeben; es wird nicht behalten.")) }
            div.take {
                label.big for="camera" { (language.pick("Take the photo", "Foto aufnehmen")) }
                input #camera.quiet type="file" accept="image/jpeg,image/png,image/tiff" capture="environment" data-send=(send);
                label.button for="chosen" { (language.pick("Choose one that was taken", "Aufgenommenes Foto wählen")) }
                input #chosen.quiet type="file" accept="image/jpeg,image/png,image/tiff" data-send=(send);
            }
            p #busy role="status" data-sending=(sending(language)) {}
            div #outcome aria-live="polite" {}
            p.actions { (to_wall(language, place)) }
            (said())
            (without_script(language))
        },
    )
}

/// What was read from photos, with their pictures where they were drawn.
///
/// # Errors
/// As [`outcome`].
pub(super) fn seen(language: Language, place: &Place, findings: &Findings, drawing: Drawing) -> Result<Markup, Error> {
    let section = said_of::photos(language, findings, drawing)?;
    Ok(html! {
        @if let Some(section) = &section { (html::section(section)) }
        (notes_of_lamps(language, place, findings))
    })
}

/// What holds for a lamp as it was entered, and where that is changed: said at the first photo of the lamp that the job lists, not at each.
fn notes_of_lamps(language: Language, place: &Place, findings: &Findings) -> Markup {
    let job = place.job().ok();
    let is_first = |group: &Group| {
        let mut listed = job.iter().flat_map(|job| &job.shot);
        listed
            .find(|shot| Some(shot.lamp) == group.lamp)
            .is_none_or(|first| group.photos.contains(&first.photo))
    };
    let groups = findings.grouped_warnings(language);
    html! {
        @for group in groups.iter().filter(|group| group.is_of_lamp && is_first(group)) {
            p { strong { (language.pick("Note, ", "Hinweis, ")) (group.about(language)) ":" } " " (harmless(&group.words)) "." }
            p.actions { (to_lamps(language, place)) }
        }
    }
}

/// The way to the figures of a job's lamps.
fn to_lamps(language: Language, place: &Place) -> Markup {
    html! { a.button href={ "/job/" (place.id) "/lamps" } { (language.pick("Figures of the lamps", "Maße der Scheinwerfer")) } }
}

/// Where the readings of a job come to stand once its photos are read.
pub(super) fn reading(reader: Reader<'_>, place: &Place, job: &Job) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    page(
        reader,
        &said!(language; "Readings of job {}", "Messwerte von Auftrag {}"; job.job),
        Some((&own, &named(language, job))),
        html! {
            div #follow data-follow={ (own) "/reading" } data-reading=(language.pick("Reading the photos: ", "Die Fotos werden gelesen: ")) { p role="status" { (language.pick("Reading the photos …", "Die Fotos werden gelesen …")) } }
            (said())
            (without_script(language))
        },
    )
}

/// All readings of a job, the answer first.
pub(super) fn readings(language: Language, place: &Place, findings: &Findings) -> Markup {
    let own = format!("/job/{}", place.id);
    let answer = answer::opening_of_page(language, findings);
    let found = summary::found(language, findings, &[]);
    let mut sections = Vec::new();
    sections.extend(said_of::refused(language, findings));
    sections.extend(said_of::table(language, findings));
    html! {
        (html::section(&answer))
        (html::section(&found))
        // Where a note wants a figure of a lamp, it is entered there.
        @if findings.grouped_warnings(language).iter().any(|group| group.is_of_lamp) { p.actions { (to_lamps(language, place)) } }
        @for (side, stage) in stands_still(findings).map(|(side, stage)| (side, stage.or_else(|| findings.is_repaired().then_some(Stage::Before)))) {
            @let was = stage == Some(Stage::Before) && findings.is_repaired();
            @let (stem, stage) = (side.stem(), match stage {
                Some(Stage::Before) => language.pick(", before the repair", ", vor der Reparatur"),
                Some(Stage::After) => language.pick(", after the repair", ", nach der Reparatur"),
                None => "",
            });
            @if was { p.banner { (said!(
                language;
                "The {side} beam did not move with the control{stage}. Where the table says \
                 “inside” of those photos, that is only where it stood: at other positions it should have lain elsewhere.",
                "Der {stem}e Lichtkegel bewegte sich nicht mit dem Regler{stage}. Wo die Tabelle von diesen Fotos „innerhalb“ sagt, ist das nur, wo \
                 er stand: in anderen Stellungen hätte er anderswo liegen sollen."
            )) } }
            @else { p.banner { (said!(
                language;
                "The {side} beam does not move with the control{stage}. Where the table says \
                 “inside” of those photos, that is only where it stands: at other positions it should lie elsewhere.",
                "Der {stem}e Lichtkegel bewegt sich nicht mit dem Regler{stage}. Wo die Tabelle von diesen Fotos „innerhalb“ sagt, ist das nur, wo \
                 er steht: in anderen Stellungen sollte er anderswo liegen."
            )) } }
        }
        @for section in &sections { (html::section(section)) }
        p.actions {
            button.big data-post={ (own) "/report" } data-busy=(language.pick("Making the report", "Der Bericht wird erstellt")) { (language.pick("Make the report", "Bericht erstellen")) }
            a.button href={ (own) "/fault" } { (language.pick("Find the part at fault", "Fehlerhaftes Bauteil finden")) }
            // Where the answer says to enter what was set or mended, the way is here.
            a.button href={ (own) "/repair" } { (language.pick("Enter a repair", "Reparatur eintragen")) }
            // What was not read is taken out there, or its cut-off shown by hand.
            @if findings.readings.iter().any(|reading| reading.result.is_err()) {
                a.button href={ (own) "/entries" } { (language.pick("To the photos that were not read", "Zu den nicht auswertbaren Fotos")) }
            }
        }
    }
}

/// The lamps and stages whose beam does not move, by the library's word on their travel, and yet lies inside somewhere.
fn stands_still(findings: &Findings) -> impl Iterator<Item = (Side, Option<Stage>)> + '_ {
    let still = findings
        .adjuster
        .travel
        .iter()
        .filter(|travel| travel.movement == Some(Movement::Still));
    let lies_inside = |travel: &&LampTravel| {
        findings.readings.iter().any(|reading| {
            let verdict = reading
                .result
                .as_ref()
                .ok()
                .and_then(|measured| measured.verdict.as_ref());
            let (shot, is_inside) = (
                &reading.shot,
                verdict.is_some_and(|verdict| verdict.outcome == Outcome::Inside),
            );
            (shot.lamp, shot.stage) == (travel.lamp, travel.stage) && !is_setting(shot.position.as_deref()) && is_inside
        })
    };
    still.filter(lies_inside).map(|travel| (travel.lamp, travel.stage))
}
