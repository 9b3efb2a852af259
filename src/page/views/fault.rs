//! Which part is at fault: the answer, the next test with its answers as buttons, the repair, and all that the job holds.

use super::super::jobs::Place;
use super::super::reader::Reader;
use super::super::undo::Last;
use super::super::work::{Known, PhotosAfter, entered_test, repair_words};
use super::forms::capital;
use super::{page, said, the_job, undo_of, without_script};
use crate::isolate::{Evidence, Isolated, Repair, lamp_of};
use crate::language::{Language, Said};
use crate::record::{
    Entries, Extent, Gauge, Job, RepairEntry, Shot, Side, Stage, System, TrialMoves, VacuumSource, Watch, system_names,
};
use crate::report::html;
use crate::report::say::isolation;
use crate::report::text::{date, harmless};
use crate::report::words::what_it_shows;
use maud::{Markup, html};
use std::collections::HashMap;

/// The answer so far and the next test; where the job names no system, the question which it is.
pub(in super::super) fn fault(reader: Reader<'_>, place: &Place, known: &Known, last: Option<&Last>) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let inside = match known {
        Known::NoSystem => which_system(language, &own, place),
        Known::Isolated(isolated, job) => answer(language, &own, isolated, job),
    };
    // What was pressed a moment ago, so that a slip is seen and mended where it was made.
    let test = last.and_then(|last| Some((last, last.what.within(language).strip_prefix(entered_test(language))?)));
    let inside = html! {
        @if let Some((last, what)) = test { (undo_of(language, &format!("{own}/back?to=fault"), last, "", language.pick("Entered", "Eingetragen"), what)) }
        (inside)
    };
    page(
        reader,
        language.pick("Which part is at fault", "Welches Bauteil fehlerhaft ist"),
        Some((&own, the_job(language))),
        inside,
    )
}

fn which_system(language: Language, own: &str, place: &Place) -> Markup {
    let folder = place.folder_name();
    let shipped = system_names().into_iter().filter_map(|name| {
        let system = System::find(&name, std::path::Path::new("")).ok()?;
        Some((name, system))
    });
    html! {
        p { (language.pick("Which parts does the car's range control have? The tests that follow are those of this system.", "Welche Bauteile hat die Leuchtweitenverstellung des Fahrzeugs? Die Prüfungen, die folgen, sind die dieser Anlage.")) }
        form data-json={ (own) "/system" } {
            fieldset {
                legend { (language.pick("The system", "Die Anlage")) }
                @for (name, system) in shipped {
                    label.pick { input type="radio" name="system" value=(name) required; span {
                        strong { (system.name.within(language)) } ": " (system.components.iter().map(|part| part.label.within(language)).collect::<Vec<_>>().join("; "))
                    } }
                }
            }
            (said())
            p { button.big type="submit" { (language.pick("This is it", "Diese ist es")) } }
        }
        p.note { (language.pick("Another one can be written as a file beside the job, and named in ", "Eine andere lässt sich als Datei neben dem Auftrag schreiben und in "))
            code { (harmless(&folder)) "/job.toml" } (language.pick(" as its system.", " als dessen Anlage (system) angeben.")) }
        (without_script(language))
    }
}

fn answer(language: Language, own: &str, isolated: &Isolated, job: &Job) -> Markup {
    let next = isolated.answer.decision.next.as_ref().map(|next| next.test);
    let stop = isolated.answer.decision.stop;
    let mut known = isolation::sections(language, isolated, None);
    // The first three are what is known so far; what is to be done now stands above them.
    let now = known.split_off(3);
    let others = (0..isolated.system.tests.len()).filter(|t| Some(*t) != next || stop);
    let (answered, open): (Vec<usize>, Vec<usize>) = others.partition(|&t| is_answered(isolated, t));
    html! {
        (without_figure(language, own, isolated))
        @if job.repair.is_empty() && job.has_been_repaired() {
            p.banner { "! " (language.pick(
                "Photos or tests from after a repair are in the job, and no repair is entered. Enter what was done first: until then what was found before it and since cannot be told apart, and a test done now is one of the mended car.",
                "Fotos oder Prüfungen von nach einer Reparatur sind im Auftrag, und keine Reparatur ist eingetragen. Zuerst eintragen, was getan wurde: Bis dahin lässt sich nicht auseinanderhalten, was davor und was seitdem gefunden wurde, und eine Prüfung von jetzt ist eine des reparierten Fahrzeugs."
            )) }
            p.actions { a.big href={ (own) "/repair" } { (language.pick("Enter what was done", "Eintragen, was getan wurde")) } }
        }
        h2 { (language.pick("What to do now", "Was jetzt zu tun ist")) }
        @if next.is_some() && !stop { (to_answers(language)) }
        div.isolate { @for section in &now {
            (html::section(section))
            @if section.class == MUST_SHOW { (to_what_it_must_show(language, own, isolated, job)) }
        } }
        @if stop { (after_testing(language, own, isolated, job)) }
        // The library names it in words: here it is a tap away.
        @if let Some(t) = next.filter(|_| stop && isolation::is_worth_more(isolated)) {
            p.actions { a.button href={ (own) "/test?n=" (t) } { (said!(
                language; "To be surer: {}", "Um sicherer zu sein: {}"; harmless(&isolation::test_name(language, &isolated.system.tests[t]))
            )) } }
        }
        @if let Some(next) = next.filter(|_| !stop) { (answers(language, own, isolated, next, job)) }
        h2 { (language.pick("What the tests say so far", "Was die Prüfungen bisher sagen")) }
        div.isolate { @for section in known.iter().chain(&isolation::why_repaired(language, isolated, None)) { (html::section(section)) } }
        @if !open.is_empty() {
            // Where there is a next test the others are a way round it; where there is none they are all there is to go on with.
            @let heading = language.pick("Other tests, still open", "Andere Prüfungen, noch offen");
            @if next.is_some() && !stop {
                details { summary { (heading) } (listed_tests(language, own, isolated, &open)) }
            } @else {
                h2 #open { (heading) }
                (listed_tests(language, own, isolated, &open))
            }
        }
        @if !answered.is_empty() {
            details {
                summary { (language.pick("Tests that were answered, to do one again", "Beantwortete Prüfungen, um eine zu wiederholen")) }
                (listed_tests(language, own, isolated, &answered))
            }
        }
        (said())
        (without_script(language))
    }
}

/// What the library's section of what a repair must show is classed as.
const MUST_SHOW: &str = "topic must-show";

/// The way to each test by which a repair that is entered shows what it must: to work the control, and what failed that needs what was mended.
fn to_what_it_must_show(language: Language, own: &str, isolated: &Isolated, job: &Job) -> Markup {
    let parts = 0..isolated.system.components.len();
    let mended: Vec<usize> = parts.filter(|&part| isolated.is_mended(part)).collect();
    let of_job = |t: &usize| {
        let test = &isolated.system.tests[*t];
        !test.by_positions || test.lamp.is_none_or(|side| job.lamp(side).is_some())
    };
    let is_open = |t: &usize| !isolated.found_since(*t).is_some_and(Evidence::is_yes);
    let tests: Vec<usize> = isolated
        .must_show(&mended)
        .into_iter()
        .filter(of_job)
        .filter(is_open)
        .collect();
    html! {
        @if !mended.is_empty() && !tests.is_empty() {
            p { (language.pick("To these tests, to enter what came out:", "Zu diesen Prüfungen, um einzutragen, was herauskam:")) }
            (listed_tests(language, own, isolated, &tests))
        }
    }
}

/// Tests of the job that do not count, as a photo of theirs gives no figure, above the question that comes again for it.
fn without_figure(language: Language, own: &str, isolated: &Isolated) -> Markup {
    let name = |id: &str| {
        let test = isolated.system.test(id).map(|test| &isolated.system.tests[test]);
        capital(&test.map_or_else(|| id.to_owned(), |test| isolation::test_name(language, test)))
    };
    html! {
        @for one in &isolated.trials.unread {
            p.banner { "∅ " (harmless(&said!(
                language;
                "{}: this test does not count, as {} gives no figure: {}",
                "{}: diese Prüfung zählt nicht, weil {} keinen Wert gibt: {}";
                name(&one.test), one.photo.display(), one.message.within(language)
            ))) }
        }
        @if !isolated.trials.unread.is_empty() {
            p.actions { a.button href={ (own) "/entries" } { (language.pick("Take it out, then answer it anew", "Sie herausnehmen und dann neu beantworten")) } }
        }
    }
}

/// Whether the car as it is now has an answer to a test: one that a repair since made void is none.
fn is_answered(isolated: &Isolated, test: usize) -> bool {
    // As long as nothing was looked at since a repair, all that is known is of the car before it.
    let is_of_before = (0..isolated.system.components.len()).any(|part| isolated.is_mended_since(part));
    let of_now = |one: &&Evidence| one.still_tells(&isolated.system, isolated.trials.done.mended);
    let mut evidence = isolated.trials.evidence.iter().filter(of_now);
    !is_of_before && evidence.any(|one| one.test == test)
}

/// The way to each of these tests.
fn listed_tests(language: Language, own: &str, isolated: &Isolated, tests: &[usize]) -> Markup {
    html! {
        ul.jobs {
            @for &t in tests {
                @let test = &isolated.system.tests[t];
                li { a.row href={ (own) "/test?n=" (t) } {
                    strong { (harmless(&capital(&isolation::test_name(language, test)))) } " " span { (harmless(test.ask.within(language))) }
                    span.note { (isolation::whole_minutes(language, isolated, t)) }
                } }
            }
        }
    }
}

/// What comes once there is nothing more to test: the repair; where that is entered the photos after it, and where these are there what they show.
/// Where no part is suspected the photos settle it, and where these are there the report says so.
fn after_testing(language: Language, own: &str, isolated: &Isolated, job: &Job) -> Markup {
    let another = html! { a.button href={ (own) "/repair" } { (language.pick("Enter another repair", "Weitere Reparatur eintragen")) } };
    let is_entered = matches!(isolated.first_repair(), Some(Repair::Replace(part)) if isolated.is_mended_since(part));
    let is_suspected = matches!(isolated.first_repair(), Some(Repair::Replace(_)));
    let is_repaired = !job.repair.is_empty();
    let report = |class: &str| html! { button class=(class) data-post={ (own) "/report" } data-busy=(language.pick("Making the report", "Der Bericht wird erstellt")) { (language.pick("Make the report", "Bericht erstellen")) } };
    let done = || html! { a.button href={ (own) "/repair" } { (language.pick("Enter what was done", "Eintragen, was getan wurde")) } };
    html! {
        p.actions {
            @if !is_suspected && !is_repaired {
                @if job.shot.is_empty() {
                    a.big href={ (own) "/shots?check=positions" } { (language.pick("Take the photos", "Die Fotos aufnehmen")) }
                } @else { (report("big")) }
                (done())
            } @else if !is_suspected && isolated.trials.is_photographed {
                (report("big"))
                a.button href={ (own) "/readings" } { (language.pick("What the photos after the repair show", "Was die Fotos nach der Reparatur zeigen")) }
                (another)
            } @else if !is_entered && is_suspected {
                a.big href={ (own) "/repair" } { (language.pick("Enter what was done", "Eintragen, was getan wurde")) }
            } @else if isolated.trials.is_photographed {
                a.big href={ (own) "/readings" } { (language.pick("What the photos after the repair show", "Was die Fotos nach der Reparatur zeigen")) }
                (another)
            } @else {
                a.big href={ (own) "/shots?" (super::as_before(job, Some(&isolated.system))) } { (language.pick("Take the photos after the repair", "Die Fotos nach der Reparatur aufnehmen")) }
                // Who sees at once whether the beams follow need not photograph them to say so.
                @for t in looks(isolated, job) {
                    a.button href={ (own) "/test?n=" (t) } { (said!(
                        language; "Say it without photos: {}", "Ohne Fotos angeben: {}"; harmless(&isolation::test_name(language, &isolated.system.tests[t]))
                    )) }
                }
                @if !is_suspected { (report("button")) }
                (another)
            }
        }
    }
}

/// The looks at the beams with the car's own control that have no answer of the car as it is now.
fn looks<'a>(isolated: &'a Isolated, job: &'a Job) -> impl Iterator<Item = usize> + 'a {
    let is_of_job = |lamp: Option<Side>| lamp.is_none_or(|side| job.lamp(side).is_some());
    let tests = isolated.system.tests.iter().enumerate();
    tests
        .filter(move |(t, test)| test.by_positions && is_of_job(test.lamp) && !is_answered(isolated, *t))
        .map(|(t, _)| t)
}

/// One test and its answers. `None` where the system has no such test.
pub(in super::super) fn test(
    reader: Reader<'_>,
    place: &Place,
    isolated: &Isolated,
    job: &Job,
    test: usize,
) -> Option<Markup> {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let known = isolated.system.tests.get(test)?;
    let inside = html! {
        (to_answers(language))
        p.note { (capital(&isolation::whole_minutes(language, isolated, test))) "." }
        (html::section(&isolation::test(language, isolated, test)))
        (answers(language, &own, isolated, test, job))
        (said())
        (without_script(language))
    };
    Some(page(
        reader,
        &said!(language; "Test: {}", "Prüfung: {}"; isolation::test_name(language, known)),
        Some((
            &format!("{own}/fault"),
            language.pick("Which part is at fault", "Welches Bauteil fehlerhaft ist"),
        )),
        inside,
    ))
}

/// Who knows a test goes straight to its answers, which stand below all that is to be done and minded.
fn to_answers(language: Language) -> Markup {
    html! { p.actions { a.button href="#answers" { (language.pick("To the answers", "Zu den Antworten")) } } }
}

/// What can be answered to a test: a button each, or two photos.
fn answers(language: Language, own: &str, isolated: &Isolated, t: usize, job: &Job) -> Markup {
    let test = &isolated.system.tests[t];
    let by_beam = test.watch == Watch::Beam;
    let has_gauge = test.source == VacuumSource::Pump && by_beam;
    html! {
        form.answers #answers data-json={ (own) "/trial" } {
            h2 { (language.pick("What came out?", "Was kam heraus?")) }
            input type="hidden" name="test" value=(test.id);
            @if job.has_been_repaired() {
                fieldset {
                    legend { (language.pick("When", "Wann")) }
                    label.pick { input type="radio" name="stage" value=(Stage::Before); (language.pick(" before the repair", " vor der Reparatur")) }
                    label.pick { input type="radio" name="stage" value=(Stage::After) checked; (language.pick(" after the repair", " nach der Reparatur")) }
                }
            }
            @if has_gauge {
                (gauge_of_pump(language))
                p.label #then { (language.pick("Then the beam:", "Dann der Lichtkegel:")) }
            }
            div.take role="group" aria-labelledby=[has_gauge.then_some("then")] {
                @for (moves, words) in isolation::answers(language, test) {
                    // A test that was not done moved no gauge.
                    button.button type="submit" name="moves" value=(moves) formnovalidate[moves == TrialMoves::NotDone] { (capital(&words)) }
                }
            }
        }
        @if by_beam && test.lamp.is_some() {
            details {
                summary { (language.pick("Or let two photos decide", "Oder zwei Fotos entscheiden lassen")) }
                p { (language.pick("One of the beam at rest, one with the test applied, both of the bay's wall. What they come to is measured, and counts \
                     by how sure it is.", "Eines vom Lichtkegel in Ruhe, eines bei der Prüfung, beide von der Wand des Messplatzes. Was sie ergeben, wird gemessen und zählt danach, wie sicher es ist.")) }
                @if test.source == VacuumSource::Engine { p { (language.pick("Take the second one half a minute after the beam was driven.", "Das zweite eine halbe Minute aufnehmen, nachdem der Lichtkegel bewegt wurde.")) } }
                @if has_gauge { p { (language.pick("Take the second one a minute after pumping, without pumping again: at once a part that leaks would pass for sound.", "Das zweite eine Minute nach dem Pumpen aufnehmen, ohne nachzupumpen: sofort aufgenommen ginge ein undichtes Bauteil als in Ordnung durch.")) } }
                form data-json={ (own) "/trial" } {
                    input type="hidden" name="test" value=(test.id);
                    @if job.has_been_repaired() { input type="hidden" name="stage" value=(Stage::After); }
                    @if has_gauge { (gauge_of_pump(language)) }
                    @for (name, words) in [("still", language.pick("Photo at rest", "Foto in Ruhe")), ("driven", language.pick("Photo with the test applied", "Foto bei der Prüfung"))] {
                        div.field role="group" aria-labelledby={ (name) "-of" } {
                            p.label id={ (name) "-of" } { (words) }
                            // On a phone the one opens the camera, the other what was taken before.
                            div.take {
                                label.button for={ (name) "-camera" } { (language.pick("Take the photo", "Foto aufnehmen")) }
                                input.quiet id={ (name) "-camera" } type="file" accept="image/jpeg,image/png,image/tiff" capture="environment" data-part={ (own) "/take-in" } data-into={ (name) "-sent" };
                                label.button for={ (name) "-chosen" } { (language.pick("Choose one that was taken", "Aufgenommenes Foto wählen")) }
                                input.quiet id={ (name) "-chosen" } type="file" accept="image/jpeg,image/png,image/tiff" data-part={ (own) "/take-in" } data-into={ (name) "-sent" };
                            }
                            input id={ (name) "-sent" } type="hidden" name=(name);
                            p.note role="status" data-sending=(language.pick("Sending the photo …", "Das Foto wird gesendet …")) data-there=(language.pick("✓ It is there.", "✓ Es ist da.")) {}
                        }
                    }
                    // What is amiss with them is told here, where they were given.
                    p.banner data-said role="alert" hidden {}
                    p { button.button type="submit" data-busy=(language.pick("Reading the photos", "Die Fotos werden gelesen")) { (language.pick("Let them decide", "Entscheiden lassen")) } }
                }
            }
        }
    }
}

/// What the pump's gauge did, to be said whichever way the beam is judged.
fn gauge_of_pump(language: Language) -> Markup {
    html! {
        fieldset {
            legend { (language.pick("First the pump's gauge: it shows a leak before the beam does *", "Zuerst der Unterdruckmesser der Pumpe: er zeigt ein Leck früher als der Lichtkegel *")) }
            // None is chosen beforehand: a gauge nobody looked at is an answer to be given, not one to be overlooked.
            @for gauge in [Gauge::RisesAndHolds, Gauge::WillNotRise, Gauge::Falls] {
                label.pick { input type="radio" name="gauge" value=(gauge) required; " " (isolation::gauge_words(language, gauge)) }
            }
            label.pick { input type="radio" name="gauge" value="" required; (language.pick(" not looked at, or the pump has none", " nicht abgelesen, oder die Pumpe hat keinen")) }
        }
    }
}

/// What a repair is asked for: its words, proposed or as they were entered, and its day; without one it is today.
fn fields_of_repair(language: Language, words: Option<&str>, day: Option<&str>) -> Markup {
    html! {
        div.field {
            label for="words" { (language.pick("What was done *", "Was getan wurde *")) }
            input #words name="words" type="text" maxlength="200" autocomplete="off" required aria-describedby="words-why" value=[words];
            p.note #words-why { (language.pick("In a few words, such as: replaced; hose pushed home.", "In wenigen Worten, etwa: ersetzt; Schlauch aufgesteckt.")) }
        }
        div.field {
            label for="date" { (language.pick("When *", "Wann *")) }
            input #date.figure name="date" type="date" autocomplete="off" required value=[day] data-today[day.is_none()];
        }
    }
}

/// The words of the repair that is none of the range control's matter.
fn lamp_was_set(language: Language, side: Side) -> String {
    let stem = side.stem();
    said!(
        language;
        "{side} lamp set by its adjusters",
        "{stem}er Scheinwerfer an seinen Einstellschrauben eingestellt"
    )
}

/// What is proposed as the repair.
pub(in super::super) struct Proposed<'a> {
    /// The part that the tests point at.
    pub suspect: Option<&'a str>,
    /// A lamp that was set by its own adjusters.
    pub set: Option<Side>,
}

/// When the photos of one lamp were taken that the job has from after a repair: what shows the car before this one goes out with it. Nothing is preset.
fn when_taken(language: Language, of: &PhotosAfter) -> Markup {
    let (side, stem) = (of.side, of.side.stem());
    let count = |all: &[(usize, Option<String>)]| {
        let mut times = all.iter().filter_map(|(_, taken)| taken.as_deref());
        let (first, last) = (times.next(), times.next_back());
        let minute = |taken: &str| taken.get(..16).unwrap_or(taken).replace('T', " ");
        let photos = match all.len() {
            1 => said!(language; "one photo", "ein Foto"),
            n => said!(language; "{n} photos", "{n} Fotos"),
        };
        match (first, last) {
            (None, _) => photos,
            (Some(first), None) => format!("{photos} ({})", date(language, &minute(first))),
            (Some(first), Some(last)) => said!(
                language; "{photos} ({} to {})", "{photos} ({} bis {})";
                date(language, &minute(first)), date(language, &minute(last))
            ),
        }
    };
    let pumped = (!of.pumped.is_empty()).then(|| {
        let pumped = count(&of.pumped);
        said!(language; "with the pump, {pumped}", "mit der Pumpe {pumped}")
    });
    let plain = (!of.photos.is_empty()).then(|| {
        let photos = count(&of.photos);
        said!(language; "without the pump, {photos}", "ohne Pumpe {photos}")
    });
    let there: Vec<String> = [plain, pumped].into_iter().flatten().collect();
    let name = format!("{side}_photos");
    html! {
        // With the pump alone they are asked about where a part of this lamp was mended.
        fieldset data-of-lamp=(side) data-own-part[of.photos.is_empty()] {
            legend { (said!(
                language; "The photos of the {side} lamp from after the repair were taken *", "Die Fotos des {stem}en Scheinwerfers von nach der Reparatur sind aufgenommen *"
            )) }
            p.note { (said!(language; "In the job: {}.", "Im Auftrag: {}."; harmless(&there.join("; ")))) }
            label.pick { input type="radio" name=(name) value="before" required; span { (language.pick(
                " before this repair: they show another state of the car, and go out of the job with it",
                " vor dieser Reparatur: Sie zeigen einen anderen Zustand des Fahrzeugs und gehen damit aus dem Auftrag"
            )) } }
            @if let Some(until) = of.first_until.as_deref() {
                @let until = date(language, &until.get(..16).unwrap_or(until).replace('T', " "));
                label.pick { input type="radio" name=(name) value="first-before" required; span { (said!(
                    language; " up to {} before it, the later ones after it: only the first go out", " bis {} davor, die späteren danach: Nur die ersten gehen hinaus";
                    harmless(&until)
                )) } }
            }
            label.pick { input type="radio" name=(name) value="after" required; span { (language.pick(
                " after it, or it changed nothing at this lamp: they stay",
                " danach, oder sie änderte an diesem Scheinwerfer nichts: Sie bleiben"
            )) } }
            p.note { (language.pick(
                "What goes out is to be photographed again; the files stay in the folder, and the change can be taken back. Photos with the pump stay unless a part of this lamp alone was mended: a turn of its screw does not change what they show.",
                "Was hinausgeht, ist neu zu fotografieren; die Dateien bleiben im Ordner, und die Änderung lässt sich zurücknehmen. Fotos mit der Pumpe bleiben, außer es wurde ein Bauteil nur dieses Scheinwerfers instand gesetzt: Eine Drehung seiner Schraube ändert nicht, was sie zeigen."
            )) }
        }
    }
}

/// What was done to the car. `after`: the photos that the job has from after a repair.
pub(in super::super) fn repair(
    reader: Reader<'_>,
    place: &Place,
    job: &Job,
    system: Option<&System>,
    proposed: &Proposed<'_>,
    after: &[PhotosAfter],
) -> Markup {
    let language = reader.language;
    let Proposed { suspect, set } = *proposed;
    let own = format!("/job/{}", place.id);
    let is_known =
        |system: &System| suspect.is_some_and(|suspect| system.components.iter().any(|part| part.id == suspect));
    let is_known_part = system.is_some_and(is_known);
    page(
        reader,
        language.pick("A repair", "Eine Reparatur"),
        Some((&own, the_job(language))),
        html! {
            @for done in &job.repair { p { "✓ " (harmless(&date(language, &done.date))) ": " (harmless(&repair_words(language, system, done))) } }
            form data-json={ (own) "/repair" } {
                @match system {
                    Some(system) => fieldset {
                        legend { (language.pick("The part", "Das Bauteil")) }
                        @for part in &system.components {
                            @let is_suspect = suspect == Some(part.id.as_str());
                            @let lamp = system.component(&part.id).and_then(|part| lamp_of(system, part));
                            label.pick { input type="radio" name="component" value=(part.id) data-lamp=[lamp] checked[is_suspect]; span {
                                (harmless(part.label.within(language))) @if is_suspect { strong { (language.pick(" – the tests point at it", " – darauf deuten die Prüfungen")) } }
                            } }
                        }
                        label.pick { input type="radio" name="component" value="" checked[!is_known(system)]; (language.pick(" none of these", " keines davon")) }
                    },
                    None => p.note { (language.pick("Once the job knows its system, parts can be chosen here: see Find the part at fault.", "Sobald der Auftrag seine Anlage kennt, lassen sich hier Bauteile wählen: siehe „Fehlerhaftes Bauteil finden“.")) },
                }
                @if system.is_some() {
                    // Of what is no part nothing is new.
                    fieldset data-of-part hidden[!is_known_part] disabled[!is_known_part] {
                        legend { (language.pick("How much of it is new *", "Wie viel davon ist neu *")) }
                        // The rest of a part that was mended in one place is as old as it was.
                        label.pick { input type="radio" name="extent" value=(Extent::All) required; (language.pick(" all of it", " das ganze Teil")) }
                        label.pick { input type="radio" name="extent" value=(Extent::Piece) required; (language.pick(" a piece of it, or it was mended, cleaned or pushed home where it sits", " ein Stück davon, oder es wurde an Ort und Stelle instand gesetzt, gereinigt oder aufgesteckt")) }
                    }
                }
                @for of in after { (when_taken(language, of)) }
                (fields_of_repair(language, set.map(|side| lamp_was_set(language, side)).as_deref(), None))
                (said())
                p { button.big type="submit" { (language.pick("Enter it", "Eintragen")) } }
            }
            p { (language.pick("Photos and tests from here on are taken after the repair: choose that where they are taken.", "Fotos und Prüfungen von jetzt an sind nach der Reparatur: das dort wählen, wo sie gemacht werden.")) }
            (without_script(language))
        },
    )
}

fn query_of(photo: &str) -> String {
    form_urlencoded::Serializer::new(String::new())
        .append_pair("photo", photo)
        .finish()
}

/// A repair of the job, whose words and day are said anew.
pub(in super::super) fn repair_anew(
    reader: Reader<'_>,
    place: &Place,
    n: usize,
    repair: &RepairEntry,
    system: Option<&System>,
) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    page(
        reader,
        language.pick("Change a repair", "Reparatur ändern"),
        Some((
            &format!("{own}/entries"),
            language.pick("What is in the job", "Inhalt des Auftrags"),
        )),
        html! {
            p { strong { (harmless(&date(language, &repair.date))) ": " (harmless(&repair_words(language, system, repair))) } }
            form data-json={ (own) "/repair?n=" (n) } {
                input type="hidden" name="was_words" value=(repair.words);
                input type="hidden" name="was_date" value=(repair.date);
                (fields_of_repair(language, Some(&repair.words), Some(&repair.date)))
                (said())
                p { button.big type="submit" { (language.pick("Change it", "Ändern")) } }
            }
            p.note { (language.pick("The part stays as it was entered: another part is another repair; take this one out and enter that.", "Das Bauteil bleibt, wie es eingetragen ist: ein anderes Bauteil ist eine andere Reparatur; diese herausnehmen und jene eintragen.")) }
            (without_script(language))
        },
    )
}

/// What the way to the gauge's figure of a photo is called.
pub(super) const fn to_gauge(language: Language, shot: &Shot) -> &'static str {
    if shot.vacuum.is_some() {
        language.pick("Change the gauge's figure", "Wert des Unterdruckmessers ändern")
    } else {
        language.pick("Enter the gauge's figure", "Wert des Unterdruckmessers eintragen")
    }
}

/// What the gauge showed at a photo of the job, to be said anew.
pub(in super::super) fn gauge_anew(reader: Reader<'_>, place: &Place, n: usize, shot: &Shot) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    let name = shot.photo.display().to_string();
    // To the tenth.
    let showed = shot.vacuum.map_or_else(String::new, |vacuum| {
        format!(
            "{} mbar",
            language.decimal(vacuum.mbar(), usize::from(vacuum.mbar().fract() > 0.05))
        )
    });
    page(
        reader,
        language.pick(
            "Change what the gauge showed",
            "Ändern, was der Unterdruckmesser zeigte",
        ),
        Some((
            &format!("{own}/entries"),
            language.pick("What is in the job", "Inhalt des Auftrags"),
        )),
        html! {
            p { img.thumb alt="" src={ (own) "/thumb?" (query_of(&name)) }; br; code { (harmless(&name)) } ", " (harmless(&what_it_shows(language, shot))) }
            form data-json={ (own) "/gauge?n=" (n) } {
                input type="hidden" name="photo" value=(name);
                div.field {
                    label for="vacuum" { (language.pick("What the gauge showed, with its unit", "Was der Unterdruckmesser zeigte, mit Einheit")) }
                    input #vacuum.figure type="text" name="vacuum" maxlength="20" autocomplete="off" value=(showed);
                }
                (said())
                p { button.big type="submit" { (language.pick("Change it", "Ändern")) } }
            }
            p.note { (language.pick("Nothing else of the photo changes. One that shows another lamp or another setting than was said: take it out and enter it as what it is.", "Sonst ändert sich an dem Foto nichts. Zeigt es einen anderen Scheinwerfer oder eine andere Stellung als angegeben: es herausnehmen und als das eintragen, was es ist.")) }
            (without_script(language))
        },
    )
}

/// All that the job holds, each with the button that takes it out again.
pub(in super::super) fn entries(
    reader: Reader<'_>,
    place: &Place,
    job: &Job,
    system: Option<&System>,
    last: Option<&Last>,
    refusals: &HashMap<usize, Said>,
) -> Markup {
    let language = reader.language;
    let own = format!("/job/{}", place.id);
    // `called`: what it is called to who reads it, beside the name by which it is known.
    let out = |kind: Entries, n: usize, name: &str, called: &str| {
        let body = serde_json::json!({ "kind": kind, "n": n, "name": name }).to_string();
        let asks = said!(language; "Take out of the job: {}?", "Aus dem Auftrag herausnehmen: {}?"; harmless(called));
        html! {
            button.button data-post={ (own) "/undo" } data-body=(body) data-busy=(language.pick("Taking it out", "Wird herausgenommen")) data-asks=(asks) { (language.pick("Take it out", "Herausnehmen")) }
        }
    };
    let none = || html! { p { (language.pick("None yet.", "Noch keine.")) } };
    page(
        reader,
        language.pick("What is in the job", "Inhalt des Auftrags"),
        Some((&own, the_job(language))),
        html! {
            (said())
            (super::undo(language, &format!("{own}/back"), last))
            p.note { (language.pick("What was entered last stands first. What is taken out leaves the job file; a photo's file stays in its folder.", "Das zuletzt Eingetragene steht zuerst. Was herausgenommen wird, verschwindet aus der Datei des Auftrags; die Datei eines Fotos bleibt in ihrem Ordner.")) }
            @if job.shot.len() > 4 { p.actions {
                a.button href="#tests" { (language.pick("To the tests", "Zu den Prüfungen")) }
                a.button href="#repairs" { (language.pick("To the repairs", "Zu den Reparaturen")) }
            } }
            h2 { (language.pick("Photos", "Fotos")) }
            @if job.shot.is_empty() { (none()) }
            ul.jobs {
                @for (n, shot) in job.shot.iter().enumerate().rev() {
                    @let name = shot.photo.display().to_string();
                    @let is_of_series = |other: &&Shot| shot.sealed && other.sealed && (other.lamp, other.stage, &other.series) == (shot.lamp, shot.stage, &shot.series);
                    li.entry { img.thumb loading="lazy" alt="" src={ (own) "/thumb?" (query_of(&name)) }; span { code { (harmless(&name)) } ", " (harmless(&what_it_shows(language, shot)))
                        @if shot.sealed { (said!(language; ", photo {} of\u{a0}{}", ", Foto {} von\u{a0}{}"; job.shot[..=n].iter().filter(is_of_series).count(), job.shot.iter().filter(is_of_series).count())) }
                        @if shot.lamp_off.is_some() { (language.pick(", and with the lamp off", ", auch ohne Licht")) } @if !shot.sheets_by_hand.is_empty() { (language.pick(", sheets shown by hand", ", Messblätter von Hand gezeigt")) } @if shot.edge_near_percent.is_some() { (language.pick(", the cut-off said by hand", ", Hell-Dunkel-Grenze von Hand angegeben")) }
                        @if let Some(why) = refusals.get(&n) { br; strong.beware { "∅ " (language.pick("gives no figure: ", "gibt keinen Wert: ")) (harmless(why.within(language))) } } }
                        div.both { @if shot.is_pumped() { a.button href={ (own) "/gauge?n=" (n) } { (to_gauge(language, shot)) } }
                            a.button href={ (own) "/look?" (query_of(&name)) } { (language.pick("Say where its cut-off is", "Hell-Dunkel-Grenze angeben")) } (out(Entries::Shot, n, &name, &name)) } }
                }
            }
            h2 #tests { (language.pick("Tests", "Prüfungen")) }
            @if job.trial.is_empty() { (none()) }
            ul.jobs {
                @for (n, trial) in job.trial.iter().enumerate().rev() {
                    @let test = system.and_then(|system| system.test(&trial.test).map(|n| &system.tests[n]));
                    @let name = test.map_or_else(|| trial.test.clone(), |test| isolation::test_name(language, test));
                    @let answer = match trial.moves {
                        Some(moves) => test.map_or_else(|| moves.said(language).to_owned(), |test| isolation::answer_words(language, test, moves)),
                        None => language.pick("by two photos", "durch zwei Fotos").to_owned(),
                    };
                    li.entry {
                        span {
                            strong { (harmless(&capital(&name))) } ": " (harmless(&answer))
                            @if let Some(gauge) = trial.gauge { (language.pick("; the gauge ", "; der Unterdruckmesser ")) (isolation::gauge_words(language, gauge)) }
                            @if trial.stage == Some(Stage::After) { (language.pick("; after the repair", "; nach der Reparatur")) }
                        }
                        (out(Entries::Trial, n, &trial.test, &format!("{name}: {answer}")))
                    }
                }
            }
            h2 #repairs { (language.pick("Repairs", "Reparaturen")) }
            @if job.repair.is_empty() { (none()) }
            ul.jobs {
                @for (n, repair) in job.repair.iter().enumerate().rev() {
                    @let done = repair_words(language, system, repair);
                    li.entry { span { (harmless(&date(language, &repair.date))) ": " (harmless(&done)) }
                        div.both { a.button href={ (own) "/repair?n=" (n) } { (language.pick("Change it", "Ändern")) } (out(Entries::Repair, n, &repair.words, &done)) } }
                }
            }
            (without_script(language))
        },
    )
}
