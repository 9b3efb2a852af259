//! What the page shows. Words of readings, steps and cautions are the library's; here stand those that lead through the work.

mod by_hand;
mod fault;
mod forms;
mod heap;

pub(super) use by_hand::{place_sheets, point_at};
pub(super) use fault::{entries, fault, repair, repair_anew, test};
pub(super) use forms::{change_figures, new_job};
pub(super) use heap::heap;

use super::choice::{Choice, is_done};
use super::jobs::Place;
use super::undo::Last;
use super::work::{Begun, LastReport, ReadAlone};
use crate::adjuster::{LampTravel, Movement};
use crate::aim::{Outcome, WallCheck};
use crate::error::Error;
use crate::language::Language;
use crate::marks::SHEETS;
use crate::record::{Bay, Caution, Job, Shot, Side, Stage, is_setting};
use crate::refusal::{Reason, Refusal};
use crate::report::html;
use crate::report::say::{answer, readings as said_of, summary, wall};
use crate::report::text::harmless;
use crate::run::Findings;
use crate::shot_list::{Check, Drive, PlannedPhoto, Said, Shows, describe, set_for, steps};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::path::Path;

/// The page's own words are in no other language yet, and its readings go with them.
const LANGUAGE: Language = Language::English;

fn page(title: &str, back: Option<(&str, &str)>, main: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (harmless(title)) " – beamfall" }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="data:,";
                script src="/page.js" defer {}
            }
            body {
                header {
                    @if let Some((address, name)) = back { nav { a.back href=(address) { (harmless(name)) } } }
                    h1 { (harmless(title)) }
                }
                main { (main) }
                footer { p.note { (crate::disclaimer(Language::English)) } }
            }
        }
    }
}

/// Why something was not done.
pub(super) fn refused(why: &str) -> Markup {
    page(
        "That did not work",
        Some(("/", "All jobs")),
        html! { p.banner #said { (harmless(why)) } },
    )
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
        let bare = |text: &str| {
            let letters = text.chars().filter(|c| c.is_alphanumeric());
            letters.flat_map(char::to_lowercase).collect::<String>()
        };
        let search = bare(&self.search);
        place.is_put_away() == self.put_away && (search.is_empty() || bare(&known_of(place)).contains(&search))
    }
}

/// What a job is known by.
fn known_of(place: &Place) -> String {
    let folder = place
        .folder
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let Ok(job) = place.job() else { return folder };
    let vehicle = job.vehicle.unwrap_or_default();
    let known = [Some(job.job), vehicle.registration, vehicle.description, Some(folder)];
    known.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// The jobs of the folder.
pub(super) fn jobs(
    places: &[Place],
    bay: Option<&Result<Bay, Error>>,
    shows_phones: bool,
    listing: &Listing,
    newest: Option<&Newest>,
) -> Markup {
    let wanted: Vec<&Place> = places.iter().filter(|place| listing.wants(place)).collect();
    let away = places.iter().filter(|place| place.is_put_away()).count();
    page(
        if listing.put_away { "Jobs put away" } else { "Jobs" },
        listing.put_away.then_some(("/", "All jobs")),
        html! {
            @if !listing.put_away {
                p.actions { a.big href="/new" { "New job" } @if shows_phones { a.button href="/phones" { "Phones" } } }
            }
            @if places.is_empty() {
                p { "No job is in this folder yet. Print the sheets, hang them, and start with a new job: it asks for the wall first, then for the \
                     car." }
                (sheets_to_print())
            } @else {
                form.search method="get" action="/" role="search" {
                    @if listing.put_away { input type="hidden" name="away" value="1"; }
                    label for="find" { "Find by registration, number or words" }
                    input #find name="find" type="text" maxlength="100" autocomplete="off" value=(harmless(&listing.search));
                    button.button type="submit" { "Find" }
                }
                @if wanted.is_empty() { p { @if listing.search.is_empty() { "None." } @else { "No job has that." } } }
            }
            ul.jobs {
                @for place in wanted { li { (self::listed(place)) } }
            }
            @if away > 0 && !listing.put_away { p { a.button href="/?away=1" { "Put away: " (away) } } }
            @match bay {
                Some(Ok(bay)) => {
                    p { "The wall: " (harmless(&bay.name)) ", " (bay.marks.sheet.len()) " sheets. " a.button href="/wall" { "Figures of the wall" } }
                },
                Some(Err(error)) => p.banner { (harmless(&error.to_string())) },
                None => {},
            }
            (newest_change(newest))
            (said())
        },
    )
}

/// Where a phone that is not known types the code.
pub(super) fn pairing() -> Markup {
    page(
        "Pair this phone",
        None,
        html! {
            p { "The computer that runs beamfall shows a code of six figures: in its terminal, and on its own page under Phones." }
            form #pair novalidate {
                div.field {
                    label for="code" { "The code" }
                    input #code.figure name="code" type="text" inputmode="numeric" autocomplete="off" maxlength="10" required;
                }
                (said())
                p { button.big type="submit" { "Pair" } }
            }
            (without_script())
        },
    )
}

/// The code for phones, with its drawing, for this computer's own browser; `None` after too many wrong ones.
pub(super) fn phones(at: &str, shown: Option<(&str, &str)>, count: usize) -> Markup {
    page(
        "Phones",
        Some(("/", "All jobs")),
        html! {
            @match shown {
                Some((code, drawn)) => {
                    p { "In the same network, point the phone's camera here, or open " strong { "http://" (at) "/" } " and type the code." }
                    p.code { (code) }
                    div.qr { (PreEscaped(drawn)) }
                },
                None => p.banner { "Too many wrong codes were typed; no phone is paired until there is a new one." },
            }
            p { @if count == 0 { "No phone is paired." } @else if count == 1 { "One phone is paired." } @else { (count) " phones are paired." } }
            p.note { "What phones send is not encrypted: use the shop's own network, with its password. Who is paired may do all that this \
                page does, until you make a new code." }
            p.actions { button.button data-post="/phones" data-busy="Making a new code" { "New code; forget all phones" } }
            (said())
        },
    )
}

fn listed(place: &Place) -> Markup {
    let (id, folder) = (
        &place.id,
        place.folder.file_name().unwrap_or_default().to_string_lossy(),
    );
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
                    span.note { (job.shot.len()) " photos; folder " (harmless(&folder)) }
                }
            }
        }
        Err(error) => html! { p.banner { (harmless(&error.to_string())) } },
    }
}

fn without_script() -> Markup {
    html! { noscript { p.banner { "Allow this page its script: without it neither forms nor photos are sent." } } }
}

/// What there is of a job besides its file.
pub(super) struct Beside {
    pub report: LastReport,
    pub begun: Option<Begun>,
    pub newest: Option<Newest>,
}

/// The newest change that can be taken back, of the wall or of a job.
pub(super) struct Newest {
    /// Where it is taken back.
    pub to: String,
    /// What it is of, in words.
    pub of: String,
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
pub(super) fn job(place: &Place, job: &Job, beside: &Beside) -> Markup {
    let own = format!("/job/{}", place.id);
    let vehicle = job.vehicle.clone().unwrap_or_default();
    let next = NextStep::of(job, beside);
    let age = if beside.report == LastReport::Old {
        ", made before the last change"
    } else {
        ""
    };
    let filled = |step: NextStep| if next == step { "big" } else { "button" };
    page(
        &format!("Job {}", job.job),
        Some(("/", "All jobs")),
        html! {
            @if let Some(car) = &vehicle.description { p.sub { (harmless(car)) } }
            @for done in &job.repair { p { "✓ Repaired " (harmless(&done.date)) ": " (harmless(&done.words)) } }
            (said())
            @if next == NextStep::Photos { p { "No photo yet." } (what_to_photograph(&own, job, true)) }
            @else {
                p { @if job.shot.len() == 1 { "One photo is in the job." } @else { (job.shot.len()) " photos are in the job." } }
                @if next == NextStep::PhotosAfter {
                    p.actions { a.big href={ (own) "/shots?check=positions&stage=after" } { "Take the photos after the repair" } }
                }
                @if let Some(begun) = beside.begun.as_ref().filter(|_| next == NextStep::GoOn) {
                    p.actions { a.big href={ (own) "/shots?" (begun.query) } { "Go on: " (begun.done) " of " (begun.all) " photos are there" } }
                }
                p.actions {
                    @if beside.report != LastReport::None {
                        a class=(filled(NextStep::Report)) href={ (own) "/report" } { "Last report" (age) }
                        a.button href={ (own) "/report.pdf" } { "Last report, PDF" (age) }
                    }
                    a class=(filled(NextStep::Readings)) href={ (own) "/readings" } { "Readings" }
                    button class=(filled(NextStep::ReportAnew)) data-post={ (own) "/report" } data-busy="Reading all photos and making the report" {
                        @if beside.report != LastReport::None { "Make the report anew" } @else { "Make the report" }
                    }
                }
            }
            (newest_change(beside.newest.as_ref()))
            p.actions {
                a.button href={ (own) "/fault" } { "Find the part at fault" }
                a.button href={ (own) "/repair" } { "Enter a repair" }
                a.button href={ (own) "/lamps" } { "Figures of the lamps" }
                a.button href={ (own) "/wall" } { "Check the wall by a photo" }
                a.button href={ (own) "/entries" } { "What is in the job" }
                @let away = place.is_put_away();
                button.button data-post={ (own) "/put-away" } data-body=(serde_json::json!({ "away": !away })) data-busy="Doing it"
                    { @if away { "Put it back among the jobs" } @else { "Put the job away" } }
            }
            @if next != NextStep::Photos { h2 { "Take more photos" } (what_to_photograph(&own, job, false)) }
            (without_script())
        },
    )
}

/// The way back from a report, which has no style but its own.
pub(super) fn back_to_job(place: &Place) -> Markup {
    html! {
        style { "@media print { #back-to-job { display: none } }" }
        nav #back-to-job aria-label="beamfall" { a href={ "/job/" (place.id) } style="display: inline-flex; align-items: center; min-height: 44px"
            { "‹ The job" } }
    }
}

/// The last change, with the button that takes it back; `to` does it.
pub(super) fn undo(to: &str, last: Option<&Last>) -> Markup {
    html! { @if let Some(last) = last { (undo_of(to, last, "", "Last change", &last.what)) } }
}

/// The same of the newest of several, saying of what it is.
fn newest_change(newest: Option<&Newest>) -> Markup {
    html! { @if let Some(newest) = newest {
        (undo_of(&newest.to, &newest.last, &format!(", {}", newest.of), "Last change", &newest.last.what))
    } }
}

/// The same of the wall, where its figures are.
pub(super) fn of_wall(last: Option<&Last>) -> Markup {
    html! { (undo("/wall-back", last)) (sheets_to_print()) }
}

/// The sheets as files to print.
fn sheets_to_print() -> Markup {
    html! {
        p.actions {
            a.button href="/sheets.pdf?paper=a4" { "Sheets to print, A4" }
            a.button href="/sheets.pdf?paper=letter" { "Sheets to print, Letter" }
        }
        p.note { "PDF, numbers " (SHEETS.start()) " to " (SHEETS.end()) ", with how to hang them on its first page. Print at 100 %, not fitted to the page; \
            then measure the 100 mm bar on each sheet: is it longer or shorter, it was fitted all the same, and is to be printed again." }
    }
}

/// As [`undo`], with what the change is of where that is said, what it is called while it is in force, and its words.
fn undo_of(to: &str, last: &Last, of: &str, called: &str, what: &str) -> Markup {
    html! {
            @let body = serde_json::json!({ "left_as": last.left_as });
            p.last { @if last.is_undone { "Taken back" } @else { (called) } (harmless(of)) ": " (harmless(what)) ". "
                button.button data-post=(to) data-body=(body) data-busy="Doing it" { @if last.is_undone { "Do it again" } @else { "Take it back" } } }
    }
}

/// The form that asks what to find out; what most leave as it is is folded away.
fn what_to_photograph(own: &str, job: &Job, is_next: bool) -> Markup {
    let sides: Vec<Side> = [Side::Left, Side::Right]
        .into_iter()
        .filter(|&side| job.lamp(side).is_some())
        .collect();
    let repaired = !job.repair.is_empty();
    html! {
        form.choose method="get" action={ (own) "/shots" } {
            fieldset {
                legend { "What to find out" }
                @for check in Choice::CHECKS {
                    label.pick { input type="checkbox" name="check" value=(check) checked[check == Check::Positions]; " " (asks(check)) }
                }
            }
            p { button class=(if is_next { "big" } else { "button" }) type="submit" { "Show what to photograph" } }
            // Shown where the checks that want them are ticked, by the style sheet.
            div.field.of-positions {
                label for="positions" { "Positions of the range control, in order" }
                input #positions name="positions" type="text" maxlength="200" value=(crate::shot_list::USUAL_POSITIONS);
            }
            div.field.of-vacuum {
                label for="vacuum" { "Steps of the pump's gauge, rising, with their unit" }
                input #vacuum name="vacuum" type="text" maxlength="300" value=(crate::shot_list::USUAL_GAUGE);
            }
            div.field.of-leak-down {
                label for="minutes" { "Length of a leak-down, minutes" }
                input #minutes.figure name="minutes" type="text" inputmode="numeric" maxlength="4" value=(crate::shot_list::USUAL_MINUTES);
            }
            div.field.of-leak-down {
                label for="every" { "Time between its photos, s" }
                input #every.figure name="every" type="text" inputmode="numeric" maxlength="4" value=(crate::shot_list::USUAL_EVERY_S);
            }
            details.rare {
                summary { "Which lamp, when, and light in the room" }
                fieldset {
                    legend { "Of which lamp" }
                    label.pick { input type="radio" name="lamp" value="" checked; " every lamp of the job" }
                    @if sides.len() > 1 {
                        @for side in sides { label.pick { input type="radio" name="lamp" value=(side); " the " (side) " one" } }
                    }
                }
                fieldset {
                    legend { "When" }
                    @if !repaired { label.pick { input type="radio" name="stage" value="" checked; " there is no repair, or it is not known yet" } }
                    label.pick { input type="radio" name="stage" value="before"; " before the repair" }
                    label.pick { input type="radio" name="stage" value="after" checked[repaired]; " after the repair" }
                }
                fieldset {
                    legend { "Where the room is not dark" }
                    label.pick { input type="checkbox" name="off" value="1"; " each view with the lamp off, too" }
                }
            }
        }
    }
}

/// Where the program says what went wrong with what this page asked.
fn said() -> Markup {
    html! { p #said.banner role="alert" hidden {} }
}

/// What names a photo in an order.
fn only_photo(photo: &Path) -> String {
    serde_json::json!({ "photo": photo }).to_string()
}

fn asks(check: Check) -> &'static str {
    match check {
        Check::Aim => "Where each beam lies, the range control at 0",
        Check::Positions => "Whether the range control moves the beams, position by position",
        Check::Vacuum => "What each step of a hand pump does to the beam",
        Check::LeakDown => "Whether vacuum holds, over some minutes with the pump's valve shut",
        Check::BeforeAfter => "Before and after: all of it again after the repair",
    }
}

/// The photos to take.
pub(super) fn shots(place: &Place, job: &Job, choice: &Choice, photos: &[PlannedPhoto]) -> Markup {
    let address = |n: usize| format!("/job/{}/shot?{}", place.id, choice.query(n));
    let done = photos.iter().filter(|photo| is_done(photo, photos, job)).count();
    let next = photos
        .iter()
        .position(|photo| !is_done(photo, photos, job))
        .map_or(1, |n| n + 1);
    page(
        "Photos to take",
        Some((&format!("/job/{}", place.id), &format!("Job {}", job.job))),
        html! {
            p { (done) " of " (photos.len()) " are in the job." }
            @if done == photos.len() {
                p { a.big href={ "/job/" (place.id) "/readings" } { "All are there: readings" } }
            } @else {
                p { a.big href=(address(next)) { @if done == 0 { "Begin" } @else { "Go on with photo " (next) } } }
            }
            (heap::drop_zone(place, choice))
            ol.jobs {
                @for photo in photos {
                    li { a.row href=(address(photo.number)) {
                        span { (photo.number) ". " (harmless(&describe(photo))) }
                        @if is_done(photo, photos, job) { span.note { "✓ in the job" } }
                    } }
                }
            }
        },
    )
}

/// One photo: what to set, and the button that takes it. `None` where the list has no such photo.
pub(super) fn shot(place: &Place, job: &Job, choice: &Choice, photos: &[PlannedPhoto]) -> Option<Markup> {
    let n = choice.number.checked_sub(1)?;
    let photo = photos.get(n)?;
    let list = format!("/job/{}/shots?{}", place.id, choice.query(choice.number));
    let send = format!("/job/{}/photo?{}", place.id, choice.query(choice.number));
    let said = steps(photos, n, job);
    let title = format!("Photo {} of {}", photo.number, photos.len());
    Some(page(
        &title,
        Some((&list, "All photos of the list")),
        html! {
            p.lead { strong { (harmless(&describe(photo))) } }
            @if is_done(photo, photos, job) { p.note { "The job has a photo of this. A further one counts beside it." } }
            p.lead.set { (harmless(&set_for(photo))) }
            (self::steps_to(&said))
            // Also to somebody who goes straight to a photo in the middle of the list.
            @if photo.drive == Drive::Control && !said.contains(&Said::Caution(Caution::Wall.text().to_owned())) { p.note { "! " (Caution::Wall.text()) } }
            @if let Shows::Sealed { after_s, .. } = photo.shows {
                @if after_s == 0 {
                    div.field {
                        label for="gauge" { "What the gauge shows as you shut the valve, with its unit" }
                        input #gauge.figure type="text" maxlength="20" autocomplete="off" placeholder="180 mbar";
                    }
                }
                @let stage = photo.stage.map_or(String::new(), |stage| stage.to_string());
                p #clock role="timer" data-after=(after_s) data-series={ (place.id) " " (photo.lamp) " " (stage) } {}
            }
            div.take.at-hand {
                label.big for="camera" { "Take the photo" }
                input #camera.quiet type="file" accept="image/jpeg,image/png,image/tiff" capture="environment" data-send=(send);
            }
            div.take {
                label.button for="chosen" { "Choose one that was taken" }
                input #chosen.quiet type="file" accept="image/jpeg,image/png,image/tiff" data-send=(send);
            }
            p #busy role="status" {}
            div #outcome aria-live="polite" {}
            p.actions {
                @if n > 0 { a.button href={ "/job/" (place.id) "/shot?" (choice.query(n)) } { "Photo before" } }
                @if n + 1 < photos.len() { a.button href={ "/job/" (place.id) "/shot?" (choice.query(n + 2)) } { "Next photo" } }
            }
            (without_script())
        },
    ))
}

fn steps_to(said: &[Said]) -> Markup {
    html! {
        ul.signs {
            @for said in said {
                @match said {
                    Said::Heading(text) => li.heading { span.glyph {} strong { (harmless(text)) } },
                    Said::Step(text) => li { span.glyph { "·" } span { (harmless(text)) } },
                    Said::Caution(text) => li.beware { span.glyph { "!" } span { (harmless(text)) } },
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
    place: &Place,
    choice: &Choice,
    count: usize,
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
    let lacks_sheets = |refusal: &Refusal| matches!(refusal.reason, Reason::MarksMissing | Reason::MarksDisagree);
    let has_picture = read.findings.readings.iter().any(|reading| reading.picture.is_some());
    Ok(html! {
        @if read.entered {
            p #entered { "✓ Read by itself, and entered in the job as " code { (listed) } ". Read together with the job's other photos it is surer; \
                 that stands under Readings." }
            @if read.findings.readings.iter().any(|reading| !is_setting(reading.shot.position.as_deref())) {
                p.note { "“Inside” or “outside” says where this one beam lies. Whether the control moved it there shows only beside the photos at \
                     the other positions: see Readings." }
            }
        } @else {
            @for refusal in refusals() {
                p.banner { "∅ " (harmless(refusal.english())) }
            }
            p { "It gives no figure and is not entered in the job; the file stays as " code { (listed) } ". Mend that, and take it again." }
            @if refusals().any(lacks_sheets) {
                p.actions { a.button href=(by_hand::address(place, choice, "place", listed)) { "Show by hand where the sheets are" } }
            }
            @if read.may_be_entered {
                p.actions { button.big type="button" data-press="camera" { "Take it again" } }
                p.note { "Where the mend is a photo with the lamp off, enter this one all the same, and take that one next." }
                p.actions {
                    button.button data-post={ (own) "/enter?" (choice.query(choice.number)) } data-body=(only_photo(Path::new(listed)))
                        data-busy="Entering it" { "Enter it all the same" }
                }
            }
            (said())
        }
        // The figure comes before what can be done with it.
        @if read.entered { div data-later=[(!has_picture).then_some(&later)] { (seen(&read.findings)?) } }
        @if read.may_be_pointed_at() {
            p.actions { a.button href=(by_hand::address(place, choice, "look", listed)) {
                @if read.entered { "The line lies on the wrong edge" } @else { "Say where the cut-off is" }
            } }
        }
        p.actions {
            @if read.entered && choice.number < count {
                a.big href={ (own) "/shot?" (choice.query(choice.number + 1)) } { "Next photo" }
            }
            @if read.entered && choice.number >= count { a.big href={ (own) "/readings" } { "That was the last: readings" } }
        }
        @if !read.entered { div data-later=[(!has_picture).then_some(&later)] { (seen(&read.findings)?) } }
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
pub(super) fn wall_check(checked: &Result<WallCheck, Refusal>) -> Markup {
    html! {
        @match checked {
            Ok(check) => (html::section(&wall::section(LANGUAGE, check))),
            Err(refusal) => p.banner { "∅ " (harmless(refusal.english())) },
        }
    }
}

/// Where a photo is taken that is to show the wall alone.
pub(super) fn wall_photo(place: &Place) -> Markup {
    let own = format!("/job/{}", place.id);
    let send = format!("{own}/wall");
    page(
        "Check the wall by a photo",
        Some((&own, "The job")),
        html! {
            p { "Take it from where the others are to be taken, all sheets in it, with the room's light on or with the lamp lit. It says which sheets are seen, \
                 how well they agree with your tape, and what ± they give; it is not kept." }
            div.take {
                label.big for="camera" { "Take the photo" }
                input #camera.quiet type="file" accept="image/jpeg,image/png,image/tiff" capture="environment" data-send=(send);
                label.button for="chosen" { "Choose one that was taken" }
                input #chosen.quiet type="file" accept="image/jpeg,image/png,image/tiff" data-send=(send);
            }
            p #busy role="status" {}
            div #outcome aria-live="polite" {}
            p.actions { a.button href="/wall" { "Figures of the wall" } }
            (said())
            (without_script())
        },
    )
}

/// What was read from photos, with their pictures where they were drawn.
///
/// # Errors
/// As [`outcome`].
pub(super) fn seen(findings: &Findings) -> Result<Markup, Error> {
    let section = said_of::photos(LANGUAGE, findings)?;
    Ok(html! { @if let Some(section) = &section { (html::section(section)) } })
}

/// Where the readings of a job come to stand once its photos are read.
pub(super) fn reading(place: &Place, job: &Job) -> Markup {
    let own = format!("/job/{}", place.id);
    page(
        &format!("Readings of job {}", job.job),
        Some((&own, &format!("Job {}", job.job))),
        html! {
            div #follow data-follow={ (own) "/reading" } { p role="status" { "Reading the photos …" } }
            (said())
            (without_script())
        },
    )
}

/// All readings of a job, the answer first.
pub(super) fn readings(place: &Place, findings: &Findings) -> Markup {
    let own = format!("/job/{}", place.id);
    let answer = answer::opening_of_page(LANGUAGE, findings);
    let found = summary::found(LANGUAGE, findings, &[]);
    let mut sections = Vec::new();
    sections.extend(said_of::refused(LANGUAGE, findings));
    sections.extend(said_of::table(LANGUAGE, findings));
    html! {
        (html::section(&answer))
        (html::section(&found))
        @for (side, stage) in stands_still(findings).map(|(side, stage)| (side, stage.or_else(|| findings.is_repaired().then_some(Stage::Before)))) {
            p.banner { "The " (side) " beam does not move with the control" @if let Some(stage) = stage { ", " (stage) " the repair" } ". Where the table says \
                 “inside” of those photos, that is only where it stands: at other positions it should lie elsewhere." }
        }
        @for section in &sections { (html::section(section)) }
        p.actions {
            button.big data-post={ (own) "/report" } data-busy="Making the report" { "Make the report" }
            a.button href={ (own) "/fault" } { "Find the part at fault" }
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
