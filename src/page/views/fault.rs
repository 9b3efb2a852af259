//! Which part is at fault: the answer, the next test with its answers as buttons, the repair, and all that the job holds.

use super::super::jobs::Place;
use super::super::undo::Last;
use super::super::work::{ENTERED_TEST, Known};
use super::forms::capital;
use super::{LANGUAGE, page, said, undo_of, without_script};
use crate::isolate::Isolated;
use crate::record::{Entries, Gauge, Job, RepairEntry, Stage, System, VacuumSource, Watch, system_names};
use crate::report::html;
use crate::report::say::isolation;
use crate::report::text::harmless;
use crate::report::words::what_it_shows;
use maud::{Markup, html};

/// The answer so far and the next test; where the job names no system, the question which it is.
pub(in super::super) fn fault(place: &Place, known: &Known, last: Option<&Last>) -> Markup {
    let own = format!("/job/{}", place.id);
    let inside = match known {
        Known::NoSystem(job) => which_system(&own, job),
        Known::Isolated(isolated, job) => answer(&own, isolated, job),
    };
    // What was pressed a moment ago, so that a slip is seen and mended where it was made.
    let test = last.and_then(|last| Some((last, last.what.strip_prefix(ENTERED_TEST)?)));
    let inside = html! {
        @if let Some((last, what)) = test { (undo_of(&format!("{own}/back?to=fault"), last, "", "Entered", what)) }
        (inside)
    };
    page("Which part is at fault", Some((&own, "The job")), inside)
}

fn which_system(own: &str, job: &Job) -> Markup {
    let shipped = system_names().into_iter().filter_map(|name| {
        let system = System::find(&name, std::path::Path::new("")).ok()?;
        Some((name, system))
    });
    html! {
        p { "Which parts does the car's range control have? The tests that follow are those of this system." }
        form data-json={ (own) "/system" } {
            fieldset {
                legend { "The system" }
                @for (name, system) in shipped {
                    label.pick { input type="radio" name="system" value=(name) required; span {
                        strong { (system.name.within(LANGUAGE)) } ": " (system.components.iter().map(|part| part.label.within(LANGUAGE)).collect::<Vec<_>>().join("; "))
                    } }
                }
            }
            (said())
            p { button.big type="submit" { "This is it" } }
        }
        p.note { "Another one can be written as a file beside the job, and named in " code { (harmless(&job.job)) "/job.toml" } " as its system." }
        (without_script())
    }
}

fn answer(own: &str, isolated: &Isolated, job: &Job) -> Markup {
    let next = isolated.answer.decision.next.as_ref().map(|next| next.test);
    let stop = isolated.answer.decision.stop;
    let mut known = isolation::sections(LANGUAGE, isolated, None);
    // The first three are what is known so far; what is to be done now stands above them.
    let now = known.split_off(3);
    html! {
        h2 { "What to do now" }
        div.isolate { @for section in &now { (html::section(section)) } }
        @if stop { p.actions { a.big href={ (own) "/repair" } { "Enter what was done" } } }
        @if let Some(next) = next.filter(|_| !stop) { (answers(own, isolated, next, job)) }
        h2 { "What the tests say so far" }
        div.isolate { @for section in &known { (html::section(section)) } }
        details {
            summary { "Another test" }
            ul.jobs {
                @for (t, test) in isolated.system.tests.iter().enumerate().filter(|(t, _)| Some(*t) != next || stop) {
                    li { a.row href={ (own) "/test?n=" (t) } {
                        strong { (harmless(&capital(&isolation::test_name(LANGUAGE, test)))) } " " span { (harmless(test.ask.within(LANGUAGE))) }
                        span.note { (isolation::whole_minutes(LANGUAGE, isolated, t)) }
                    } }
                }
            }
        }
        (said())
        (without_script())
    }
}

/// One test and its answers. `None` where the system has no such test.
pub(in super::super) fn test(place: &Place, isolated: &Isolated, job: &Job, test: usize) -> Option<Markup> {
    let own = format!("/job/{}", place.id);
    let known = isolated.system.tests.get(test)?;
    let inside = html! {
        p.note { (capital(&isolation::whole_minutes(LANGUAGE, isolated, test))) "." }
        (html::section(&isolation::test(LANGUAGE, isolated, test)))
        (answers(&own, isolated, test, job))
        (said())
        (without_script())
    };
    Some(page(
        &format!("Test: {}", isolation::test_name(LANGUAGE, known)),
        Some((&format!("{own}/fault"), "Which part is at fault")),
        inside,
    ))
}

/// What can be answered to a test: a button each, or two photos.
fn answers(own: &str, isolated: &Isolated, t: usize, job: &Job) -> Markup {
    let test = &isolated.system.tests[t];
    let by_beam = test.watch == Watch::Beam;
    html! {
        form.answers data-json={ (own) "/trial" } {
            h2 { "What came out?" }
            input type="hidden" name="test" value=(test.id);
            @if !job.repair.is_empty() {
                fieldset {
                    legend { "When" }
                    label.pick { input type="radio" name="stage" value=(Stage::Before); " before the repair" }
                    label.pick { input type="radio" name="stage" value=(Stage::After) checked; " after the repair" }
                }
            }
            @if test.source == VacuumSource::Pump && by_beam {
                fieldset {
                    legend { "The pump's gauge" }
                    label.pick { input type="radio" name="gauge" value="" checked; " not looked at" }
                    @for gauge in [Gauge::RisesAndHolds, Gauge::WillNotRise, Gauge::Falls] {
                        label.pick { input type="radio" name="gauge" value=(gauge); " " (gauge_words(gauge)) }
                    }
                }
            }
            div.take {
                @for (moves, words) in isolation::answers(LANGUAGE, test) {
                    button.button type="submit" name="moves" value=(moves) { (capital(&words)) }
                }
            }
        }
        @if by_beam && test.lamp.is_some() {
            details {
                summary { "Or let two photos decide" }
                p { "One of the beam at rest, one with the test applied, both of the bay's wall. What they come to is measured, and counts \
                     by how sure it is." }
                form data-json={ (own) "/trial" } {
                    input type="hidden" name="test" value=(test.id);
                    @if !job.repair.is_empty() { input type="hidden" name="stage" value=(Stage::After); }
                    @for (name, words) in [("still", "Photo at rest"), ("driven", "Photo with the test applied")] {
                        div.field {
                            label for=(name) { (words) }
                            input id=(name) type="file" accept="image/jpeg,image/png,image/tiff" capture="environment" data-part={ (own) "/take-in" } data-into={ (name) "-sent" };
                            input id={ (name) "-sent" } type="hidden" name=(name);
                            p.note role="status" {}
                        }
                    }
                    p { button.button type="submit" { "Let them decide" } }
                }
            }
        }
    }
}

fn gauge_words(gauge: Gauge) -> &'static str {
    match gauge {
        Gauge::RisesAndHolds => "rises and holds",
        Gauge::WillNotRise => "will not rise",
        Gauge::Falls => "rises and falls back",
    }
}

/// What the system calls a part; a job may name one that its system no longer has.
fn part_name<'a>(system: Option<&'a System>, id: &'a str) -> &'a str {
    let part = system.and_then(|system| system.components.iter().find(|part| part.id == id));
    part.map_or(id, |part| part.label.within(LANGUAGE))
}

/// What was done to the car.
pub(in super::super) fn repair(place: &Place, job: &Job, system: Option<&System>, suspect: Option<&str>) -> Markup {
    let own = format!("/job/{}", place.id);
    let is_known =
        |system: &System| suspect.is_some_and(|suspect| system.components.iter().any(|part| part.id == suspect));
    page(
        "A repair",
        Some((&own, "The job")),
        html! {
            @for done in &job.repair { p { "✓ " (harmless(&done.date)) ": " (harmless(&done.words)) } }
            form data-json={ (own) "/repair" } {
                @match system {
                    Some(system) => fieldset {
                        legend { "The part" }
                        @for part in &system.components {
                            @let is_suspect = suspect == Some(part.id.as_str());
                            label.pick { input type="radio" name="component" value=(part.id) checked[is_suspect]; span {
                                (harmless(part.label.within(LANGUAGE))) @if is_suspect { strong { " – the tests point at it" } }
                            } }
                        }
                        label.pick { input type="radio" name="component" value="" checked[!is_known(system)]; " none of these" }
                    },
                    None => p.note { "Once the job knows its system, parts can be chosen here: see Find the part at fault." },
                }
                div.field {
                    label for="words" { "What was done *" }
                    input #words name="words" type="text" maxlength="200" autocomplete="off" required placeholder="replaced";
                }
                div.field {
                    label for="date" { "When *" }
                    input #date.figure name="date" type="date" autocomplete="off" required data-today;
                }
                (said())
                p { button.big type="submit" { "Enter it" } }
            }
            p { "Photos and tests from here on are taken after the repair: choose that where they are taken." }
            (without_script())
        },
    )
}

fn query_of(photo: &str) -> String {
    form_urlencoded::Serializer::new(String::new())
        .append_pair("photo", photo)
        .finish()
}

/// A repair of the job, whose words and day are said anew.
pub(in super::super) fn repair_anew(place: &Place, n: usize, repair: &RepairEntry) -> Markup {
    let own = format!("/job/{}", place.id);
    page(
        "Change a repair",
        Some((&format!("{own}/entries"), "What is in the job")),
        html! {
            form data-json={ (own) "/repair?n=" (n) } {
                input type="hidden" name="was_words" value=(repair.words);
                input type="hidden" name="was_date" value=(repair.date);
                div.field {
                    label for="words" { "What was done *" }
                    input #words name="words" type="text" maxlength="200" autocomplete="off" required value=(repair.words);
                }
                div.field {
                    label for="date" { "When *" }
                    input #date.figure name="date" type="date" autocomplete="off" required value=(repair.date);
                }
                (said())
                p { button.big type="submit" { "Change it" } }
            }
            p.note { "The part stays as it was entered: another part is another repair; take this one out and enter that." }
            (without_script())
        },
    )
}

/// All that the job holds, each with the button that takes it out again.
pub(in super::super) fn entries(place: &Place, job: &Job, system: Option<&System>, last: Option<&Last>) -> Markup {
    let own = format!("/job/{}", place.id);
    let out = |kind: Entries, n: usize, name: &str| {
        let body = serde_json::json!({ "kind": kind, "n": n, "name": name }).to_string();
        let asks = format!("Take out of the job: {}?", harmless(name));
        html! {
            button.button data-post={ (own) "/undo" } data-body=(body) data-busy="Taking it out" data-asks=(asks) { "Take it out" }
        }
    };
    let none = || html! { p { "None yet." } };
    page(
        "What is in the job",
        Some((&own, "The job")),
        html! {
            (said())
            (super::undo(&format!("{own}/back"), last))
            p.note { "What is taken out leaves the job file; a photo's file stays in its folder." }
            h2 { "Photos" }
            @if job.shot.is_empty() { (none()) }
            ul.jobs {
                @for (n, shot) in job.shot.iter().enumerate().rev() {
                    @let name = shot.photo.display().to_string();
                    li.entry { img.thumb loading="lazy" alt="" src={ (own) "/thumb?" (query_of(&name)) }; span { code { (harmless(&name)) } ", " (harmless(&what_it_shows(LANGUAGE, shot)))
                        @if shot.lamp_off.is_some() { ", and with the lamp off" } @if shot.edge_near_percent.is_some() { ", the cut-off said by hand" } }
                        div.both { a.button href={ (own) "/look?" (query_of(&name)) } { "Say where its cut-off is" } (out(Entries::Shot, n, &name)) } }
                }
            }
            h2 { "Tests" }
            @if job.trial.is_empty() { (none()) }
            ul.jobs {
                @for (n, trial) in job.trial.iter().enumerate().rev() {
                    li.entry {
                        span {
                            @let test = system.and_then(|system| system.test(&trial.test).map(|n| &system.tests[n]));
                            @let name = test.map_or_else(|| trial.test.clone(), |test| isolation::test_name(LANGUAGE, test));
                            strong { (harmless(&capital(&name))) } ": "
                            @match trial.moves {
                                Some(moves) => {
                                    @let words = test.and_then(|test| isolation::answers(LANGUAGE, test).into_iter().find(|one| one.0 == moves));
                                    (words.map_or_else(|| moves.to_string(), |one| one.1))
                                },
                                None => "by two photos",
                            }
                            @if let Some(gauge) = trial.gauge { "; the gauge " (gauge_words(gauge)) }
                            @if trial.stage == Some(Stage::After) { "; after the repair" }
                        }
                        (out(Entries::Trial, n, &trial.test))
                    }
                }
            }
            h2 { "Repairs" }
            @if job.repair.is_empty() { (none()) }
            ul.jobs {
                @for (n, repair) in job.repair.iter().enumerate().rev() {
                    li.entry { span { (harmless(&repair.date)) ": " (harmless(&repair.words))
                        @if let Some(part) = &repair.component { " (" (harmless(part_name(system, part))) ")" } }
                        div.both { a.button href={ (own) "/repair?n=" (n) } { "Change it" } (out(Entries::Repair, n, &repair.words)) } }
                }
            }
            (without_script())
        },
    )
}
