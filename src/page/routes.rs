//! From a request to what is done and said.

use super::choice::{Choice, one_step};
use super::follow::follow;
use super::guard::{self, OF_REPORT, OF_SHOWN_REPORT, Refused, Reply, Why, only, reply};
use super::jobs::{self, Place, REPORT, is_own_file};
use super::phones::{NotPaired, invitation, qr_svg};
use super::reader::{self, Reader};
use super::{Bench, Door, car, figures, packed, undo, upload, views, work};
use crate::bounded_file::{self, MOST_PHOTO_BYTES};
use crate::error::Error;
use crate::language::{Language, said as say};
use crate::marks::{DEFAULT_SIZE_MM, Paper, SHEETS, sheets_pdf};
use crate::questions::{Answers, Question, doubt, of_bay, of_job, take, taken_for};
use crate::record::{Bay, Entries, Job, Kept, SheetByHand, Shot, Side, Trial};
use crate::report::html::STYLE;
use crate::report::say::readings::Drawing;
use crate::report::words::what_it_shows;
use crate::shot_list::{PlannedPhoto, Shows};
use crate::wall::tag_cells;
use hyper::body::Incoming;
use hyper::header::{CACHE_CONTROL, CONTENT_DISPOSITION, COOKIE, HeaderValue, SET_COOKIE};
use hyper::http::request::Parts;
use hyper::{Method, Request, StatusCode};
use maud::Markup;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Name of what a paired phone is known by.
const TOKEN: &str = "beamfall";
/// A year: a phone stays paired until there is a new code.
const COOKIE_S: u32 = 31_536_000;
const HTML: &str = "text/html; charset=utf-8";
const JSON: &str = "application/json";
const PAGE_STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");
/// How sheets hang, as it is printed with them.
const DRAWING: &str = include_str!("../../calibration/marks/bay.svg");
/// What is written in that drawing, and the same in German, no longer, as it has its place.
const GERMAN_LABELS: [(&str, &str); 7] = [
    ("bay's centre line, x = 0", "Mittellinie, x = 0"),
    (
        "dark above the cut-off: two sheets high",
        "oben im Dunkeln: zwei Messblätter",
    ),
    ("lamp centres, projected", "Scheinwerfermitten"),
    ("four sheets low, in the light", "unten im Licht: vier Blätter"),
    ("x of mark 3, to its centre", "x bis Mitte Blatt 3"),
    ("y of mark 1, from the floor", "y von Blatt 1, ab Boden"),
    (
        "Keep the strip where the cut-off itself falls free of paper, left and right of each lamp.",
        "Den Streifen, in den die Hell-Dunkel-Grenze fällt, beiderseits der Scheinwerfer frei lassen.",
    ),
];

/// Answers a request, whatever it is.
pub(super) async fn answer(
    bench: Arc<Bench>,
    door: Arc<Door>,
    request: Request<Incoming>,
) -> Result<Reply, Infallible> {
    let (head, body) = request.into_parts();
    let reader = Reader::of(&head);
    let said = match guard::check(&head, &door.hosts).and_then(|()| reader::chosen(&head)) {
        Ok(Some(led)) => Ok(led),
        Ok(None) => match is_in(&bench, &door, &head) {
            Ok(true) => routed(&bench, &door, reader, &head, body).await,
            Ok(false) => outside(&bench, reader, &head, body).await,
            Err(refused) => Err(refused),
        },
        Err(refused) => Err(refused),
    };
    Ok(said.unwrap_or_else(|Refused(status, why)| {
        let why = why.within_folder(&bench.folder);
        // Who is in goes back to where this was asked from, not to the front page.
        let is_known = matches!(is_in(&bench, &door, &head), Ok(true));
        let back = is_known.then(|| way_back(&bench, reader.language, &head)).flatten();
        page(reader.language, status, views::refused(reader, &why, back.as_ref()))
    }))
}

/// From what was not done back to the job that it was asked of, from a heap to its list; by the address and what it is called.
fn way_back(bench: &Bench, language: Language, head: &Parts) -> Option<(String, &'static str)> {
    let mut parts = head.uri.path().strip_prefix("/job/")?.split('/');
    let place = jobs::find(&bench.folder, parts.next()?).ok()?;
    let own = format!("/job/{}", place.id);
    let list = (parts.next() == Some("heap")).then(|| Choice::of_query(head.uri.query()?).ok());
    Some(match list.flatten() {
        Some(choice) => (
            format!("{own}/shots?{}", choice.query(choice.number)),
            language.pick("All photos of the list", "Alle Fotos der Liste"),
        ),
        None => (own, views::the_job(language)),
    })
}

/// Whether who asks may see the jobs: this computer's own browser, and a paired phone.
fn is_in(bench: &Bench, door: &Door, head: &Parts) -> Result<bool, Refused> {
    if !door.is_lan {
        return Ok(true);
    }
    let cookies = only(&head.headers, COOKIE)?.unwrap_or_default().split(';');
    let mut given = cookies.filter_map(|cookie| cookie.trim().strip_prefix(TOKEN)?.strip_prefix('='));
    Ok(given.any(|token| bench.lan.as_ref().is_some_and(|(_, phones)| phones.knows(token))))
}

/// What a phone gets that was not paired: where to type the code, whatever it asked for.
async fn outside(bench: &Bench, reader: Reader<'_>, head: &Parts, body: Incoming) -> Result<Reply, Refused> {
    match (head.method == Method::POST, head.uri.path()) {
        (false, "/page.css") => Ok(style()),
        (false, "/page.js") => Ok(script()),
        (true, "/pair") => pair(bench, &upload::json::<OneCode>(&head.headers, body).await?.code),
        _ => Ok(page(reader.language, StatusCode::UNAUTHORIZED, views::pairing(reader))),
    }
}

fn pair(bench: &Bench, code: &str) -> Result<Reply, Refused> {
    let (_, phones) = bench.lan.as_ref().ok_or_else(Refused::not_there)?;
    let token = phones.pair(code).map_err(|why| {
        let (english, german) = match why {
            NotPaired::Wrong => (
                "That is not the code that the computer shows.",
                "Das ist nicht der Code, den der Computer zeigt.",
            ),
            NotPaired::Closed => (
                "Too many wrong codes were typed: make a new code on the computer, under Phones.",
                "Zu viele falsche Codes wurden eingetippt: am Computer unter „Telefone“ einen neuen Code machen.",
            ),
            NotPaired::TooMany => (
                "Too many phones are paired: make a new code on the computer, under Phones.",
                "Zu viele Telefone sind gekoppelt: am Computer unter „Telefone“ einen neuen Code machen.",
            ),
        };
        Refused::new(StatusCode::UNAUTHORIZED, english, german)
    })?;
    let mut reply = said(StatusCode::CREATED, &GoTo { go: "/".to_owned() })?;
    let cookie = format!("{TOKEN}={token}; HttpOnly; SameSite=Strict; Path=/; Max-Age={COOKIE_S}");
    reply
        .headers_mut()
        .insert(SET_COOKIE, cookie.parse().map_err(Refused::failed)?);
    Ok(reply)
}

/// The code and the phones, for this computer's own browser.
fn phones(bench: &Bench, door: &Door, reader: Reader<'_>, renew: bool) -> Result<Reply, Refused> {
    let Some((at, phones)) = bench.lan.as_ref().filter(|_| !door.is_lan) else {
        return Err(Refused::not_there());
    };
    if renew {
        phones.renew().map_err(Refused::failed)?;
        return said(
            StatusCode::CREATED,
            &GoTo {
                go: "/phones".to_owned(),
            },
        );
    }
    let at = at.to_string();
    let code = phones.code();
    let drawn = code
        .as_ref()
        .map(|code| qr_svg(&invitation(&at, code)))
        .transpose()
        .map_err(Refused::failed)?;
    let shown = code.as_deref().zip(drawn.as_deref());
    Ok(page(
        reader.language,
        StatusCode::OK,
        views::phones(reader, &at, shown, phones.count()),
    ))
}

fn style() -> Reply {
    text("text/css; charset=utf-8", [STYLE, PAGE_STYLE].concat())
}

fn script() -> Reply {
    text("text/javascript; charset=utf-8", SCRIPT)
}

async fn routed(
    bench: &Arc<Bench>,
    door: &Door,
    reader: Reader<'_>,
    head: &Parts,
    body: Incoming,
) -> Result<Reply, Refused> {
    let parts: Vec<&str> = head.uri.path().split('/').skip(1).collect();
    let query = head.uri.query().unwrap_or_default();
    let language = reader.language;
    let ok = |markup: Markup| Ok(page(language, StatusCode::OK, markup));
    match (head.method == Method::POST, &parts[..]) {
        (false, [""]) => {
            let shows_phones = bench.lan.is_some() && !door.is_lan;
            let wanted = views::Listing::of_query(query);
            let places = jobs::all(&bench.folder);
            ok(views::jobs(
                reader,
                &bench.folder,
                &places,
                &jobs::walls(&bench.folder),
                shows_phones,
                &wanted,
                newest(language, bench, &places, &jobs::names_of_walls(&bench.folder), OF_JOBS).as_ref(),
            ))
        }
        (false, ["page.css"]) => Ok(style()),
        (false, ["page.js"]) => Ok(script()),
        (renew, ["phones"]) => phones(bench, door, reader, renew),
        (false, ["sheets.pdf"]) => sheets(query),
        (false, ["bay.svg"]) => Ok(reply(StatusCode::OK, "image/svg+xml", Some(OF_REPORT), DRAWING)),
        (false, ["bay-de.svg"]) => {
            let drawing = GERMAN_LABELS
                .iter()
                .fold(DRAWING.to_owned(), |drawing, (english, german)| {
                    drawing.replace(english, german)
                });
            Ok(reply(StatusCode::OK, "image/svg+xml", Some(OF_REPORT), drawing))
        }
        (false, ["new"]) => {
            let form = form(language, bench, query)?;
            ok(views::new_job(
                reader,
                &form.questions,
                &form.walls,
                form.wall.as_deref(),
            ))
        }
        (true, ["check"]) => {
            let form = form(language, bench, query)?;
            check_new(language, form, &upload::json(&head.headers, body).await?)
        }
        (true, ["new"]) => {
            let form = form(language, bench, query)?;
            make(language, bench, head, form, &upload::json(&head.headers, body).await?)
        }
        (false, ["job", id]) => {
            let place = jobs::find(&bench.folder, id)?;
            let job = place.job().map_err(unread)?;
            recalled(bench, &place).await?;
            let begun = work::begun_list(&place, &job, &bench.read_before.without_figure(&place, &job));
            let beside = views::Beside {
                report: work::last_report(&place, &job),
                stage: work::stage_now(&place, &job, begun.as_ref()),
                begun,
                system: work::system(&place, &job).ok().flatten(),
                newest: newest(
                    language,
                    bench,
                    std::slice::from_ref(&place),
                    &jobs::walls_of(&bench.folder, &place, &job),
                    &format!("job-{id}"),
                ),
            };
            ok(views::job(reader, &place, &job, &beside))
        }
        (false, ["job", id, "shots"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let job = place.job().map_err(unread)?;
            let list = Choice::of_query(query).and_then(|choice| Ok((choice.photos(&job).map_err(unread)?, choice)));
            let (photos, choice) = match list {
                Ok(list) => list,
                // What was typed amiss is mended where it was typed.
                Err(Refused(StatusCode::UNPROCESSABLE_ENTITY, why)) => {
                    let why = why.within_folder(&bench.folder);
                    let anew = views::choose_anew(reader, &place, &job, query, &why);
                    return Ok(page(language, StatusCode::UNPROCESSABLE_ENTITY, anew));
                }
                Err(refused) => return Err(refused),
            };
            recalled(bench, &place).await?;
            let without = bench.read_before.without_figure(&place, &job);
            let (at, timed) = (place.clone(), job.clone());
            let job = alone(bench, move || Ok(work::timed(&at, timed))).await?;
            ok(views::shots(reader, &place, &job, &choice, &photos, &without))
        }
        (false, ["job", id, "shot"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let job = place.job().map_err(unread)?;
            let photos = choice.photos(&job).map_err(unread)?;
            recalled(bench, &place).await?;
            let without = bench.read_before.without_figure(&place, &job);
            let at = place.clone();
            let job = alone(bench, move || Ok(work::timed(&at, job))).await?;
            ok(views::shot(reader, &place, &job, &choice, &photos, &without).ok_or_else(Refused::not_there)?)
        }
        (true, ["job", id, "photo"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            photo(language, bench, place, &choice, head, body).await
        }
        (false, ["job", id, "seen"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let (_, planned) = planned(&place, &choice)?;
            let photo = choice.photo.ok_or_else(Refused::not_there)?;
            let at = place.clone();
            let seen = alone(bench, move || work::seen(&at, &planned, &photo)).await?;
            ok(views::seen(language, &place, &seen, Drawing::Done).map_err(unread)?)
        }
        (false, ["job", id, "held"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let photo = choice.photo.ok_or_else(Refused::not_there)?;
            let at = place.clone();
            let held = alone(bench, move || work::held(&at, &photo)).await?;
            bench.read_before.learn(&place, &held);
            ok(views::held_photo(language, &place, &held).map_err(unread)?)
        }
        (false, ["job", id, "beside"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let photo = choice.photo.clone().ok_or_else(Refused::not_there)?;
            let at = place.clone();
            let (shot, warning) = alone(bench, move || work::contradicted(&at, &photo)).await?;
            let is_repaired = place.job().is_ok_and(|job| !job.repair.is_empty());
            ok(views::contradiction(
                language,
                &place,
                &choice,
                &shot,
                warning.as_ref(),
                is_repaired,
            ))
        }
        (false, ["job", id, "photo-file"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let photo = choice.photo.ok_or_else(Refused::not_there)?;
            let read = tokio::task::spawn_blocking(move || work::photo_bytes(&place, &photo));
            let bytes = read.await.map_err(Refused::failed)?.map_err(|_| Refused::not_there())?;
            let kind = upload::media_type(&bytes).ok_or_else(Refused::not_there)?;
            Ok(reply(StatusCode::OK, kind, Some(OF_REPORT), bytes))
        }
        (false, ["job", id, "thumb"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let photo = choice.photo.ok_or_else(Refused::not_there)?;
            thumb(bench, place, photo).await
        }
        (false, ["job", id, "place"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let job = place.job().map_err(unread)?;
            let (_, planned) = planned(&place, &choice)?;
            let photo = choice.photo.clone().ok_or_else(Refused::not_there)?;
            let bay = work::bay_of(&place, &job, &planned).map_err(unread)?;
            ok(views::place_sheets(reader, &place, &choice, &planned, &photo, &bay))
        }
        (true, ["job", id, "by-hand"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let one: ByHand = upload::json(&head.headers, body).await?;
            by_hand(language, bench, place, &choice, one).await
        }
        (false, ["job", id, "look"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let photo = choice.photo.clone().ok_or_else(Refused::not_there)?;
            ok(views::point_at(reader, &place, &choice, &photo))
        }
        (true, ["job", id, "near"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let one: Near = upload::json(&head.headers, body).await?;
            near(language, bench, place, &choice, one).await
        }
        (false, ["job", id, "wall"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let Some(photo) = choice.photo else {
                return ok(views::wall_photo(reader, &place));
            };
            let at = place.clone();
            let checked = alone(bench, move || work::check_wall(&at, &photo)).await?;
            ok(views::wall_check(language, &checked))
        }
        (true, ["job", id, "wall"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let before = work::photos_there(&place);
            let photo = PathBuf::from(received(bench, &place, head, body).await?.free()?);
            let was_there = before.contains(&photo);
            let at = place.clone();
            let checked = alone(bench, move || work::check_sent_wall(&at, &photo, was_there)).await?;
            Ok(page(
                language,
                StatusCode::CREATED,
                views::wall_check(language, &checked),
            ))
        }
        (true, ["job", id, "enter"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let one: OnePhoto = upload::json(&head.headers, body).await?;
            enter(bench, place, &choice, one).await
        }
        (false, ["job", id, "entries"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let job = place.job().map_err(unread)?;
            // A system that cannot be read any more keeps nobody from what is in the job.
            let system = work::system(&place, &job).ok().flatten();
            let last = undo::last(&place.file(), Kept::Job);
            recalled(bench, &place).await?;
            let refusals = bench.read_before.refusals(&place, &job);
            ok(views::entries(
                reader,
                &place,
                &job,
                system.as_ref(),
                last.as_ref(),
                &refusals,
            ))
        }
        (true, ["job", id, "undo"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: OneEntry = upload::json(&head.headers, body).await?;
            // Back to where it was pressed.
            let go = match query.strip_prefix("to=shot&") {
                Some(list) => {
                    let choice = Choice::of_query(list)?;
                    format!("/job/{}/shot?{}", place.id, choice.query(choice.number))
                }
                None => format!("/job/{}/entries", place.id),
            };
            alone(bench, move || work::take_out_entry(&place, one.kind, one.n, &one.name)).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (true, ["job", id, "back"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: OneChange = upload::json(&head.headers, body).await?;
            // Back to where it was pressed.
            let go = match query {
                "to=jobs" => "/".to_owned(),
                "to=fault" => format!("/job/{}/fault", place.id),
                _ => format!("/job/{}", place.id),
            };
            alone(bench, move || undo::take_back(&place.file(), Kept::Job, &one.left_as)).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["new-wall"]) => {
            let place = coming_from(bench, query)?;
            ok(views::new_wall(
                reader,
                &place,
                &form(language, bench, "wall=new")?.of_wall(),
            ))
        }
        (true, ["new-wall", "check"]) => {
            coming_from(bench, query)?;
            let form = form(language, bench, "wall=new")?;
            check_new(
                language,
                Form {
                    questions: form.of_wall(),
                    ..form
                },
                &upload::json(&head.headers, body).await?,
            )
        }
        (true, ["new-wall"]) => {
            let place = coming_from(bench, query)?;
            let typed: Answers = upload::json(&head.headers, body).await?;
            let questions = form(language, bench, "wall=new")?.of_wall();
            let (answers, faults) = take(language, &questions, &typed, Answers::new());
            if !faults.is_empty() {
                return said(StatusCode::UNPROCESSABLE_ENTITY, &Faults { faults });
            }
            if let Some(asked) = doubted(head, || doubt(language, &answers)) {
                return asked;
            }
            jobs::make_wall(&bench.folder, &answers).map_err(unread)?;
            let go = format!("/job/{}/lamps", place.id);
            said(StatusCode::CREATED, &GoTo { go })
        }
        (true, ["wall-back"]) => {
            let one: OneChange = upload::json(&head.headers, body).await?;
            let asked = wall_asked(bench, query)?;
            alone(bench, move || undo::take_back(&asked.file, Kept::Bay, &one.left_as)).await?;
            said(StatusCode::CREATED, &GoTo { go: asked.go })
        }
        (false, ["wall"]) => {
            let asked = wall_asked(bench, query)?;
            let figures = figures::of_wall(language, &there(asked.file.clone())?).map_err(unread)?;
            let last = undo::last(&asked.file, Kept::Bay);
            let name = Bay::read(&asked.file).map_err(unread)?.name;
            let file = &asked.name;
            ok(views::change_figures(
                reader,
                language.pick("The wall", "Die Wand"),
                if asked.go == "/" {
                    ("/", views::all_jobs(language))
                } else {
                    (&asked.go, views::the_job(language))
                },
                ("/wall", &asked.query),
                &figures,
                &say!(
                    language;
                    "This is the wall {name} ({file}). Every job that is read against it is read anew with these figures, those from before, too: \
                     where sheets were hung anew, leave these as they are, and enter a wall of its own below.",
                    "Das ist die Wand {name} ({file}). Jeder Auftrag, der an ihr gelesen wird, wird mit diesen Zahlen neu gelesen, auch die früheren: \
                     sind Messblätter neu gehängt, diese Zahlen lassen, wie sie sind, und unten eine eigene Wand eintragen."
                ),
                &views::of_wall(language, &format!("/wall-back{}", asked.query), last.as_ref()),
            ))
        }
        (true, ["wall", "check"]) => {
            let one: OneCheck = upload::json(&head.headers, body).await?;
            let file = wall_asked(bench, query)?.file;
            let figures = figures::of_wall(language, &there(file)?).map_err(unread)?;
            one.of(
                figures.faults(language, &one.typed),
                figures.taken(language, &one.typed),
            )
        }
        (true, ["wall"]) => {
            let asked = wall_asked(bench, query)?;
            let typed: Answers = upload::json(&head.headers, body).await?;
            let file = there(asked.file)?;
            let figures = figures::of_wall(language, &file).map_err(unread)?;
            let is_right = figures.faults(language, &typed).is_empty();
            if let Some(asked) = doubted(head, || figures.doubt(language, &typed).filter(|_| is_right)) {
                return asked;
            }
            change(
                language,
                bench,
                move || figures::of_wall(language, &file),
                typed,
                asked.go,
            )
            .await
        }
        (false, ["job", id, "lamps"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let figures = figures::of_lamps(language, &place.file(), &place.folder).map_err(unread)?;
            let own = format!("/job/{}", place.id);
            let job = place.job().map_err(unread)?;
            let mut others = jobs::walls(&bench.folder);
            others.retain(|wall| jobs::wall_as_listed(&bench.folder, &place, &wall.name) != job.bay);
            ok(views::change_figures(
                reader,
                language.pick("Figures of the lamps", "Maße der Scheinwerfer"),
                (&own, views::the_job(language)),
                (&format!("{own}/lamps"), ""),
                &figures,
                language.pick(
                    "All photos of the job are read anew with these figures.",
                    "Alle Fotos des Auftrags werden mit diesen Maßen neu gelesen.",
                ),
                &views::place_after(language, &place, car::may_stand_elsewhere(&job), &others),
            ))
        }
        (true, ["job", id, "lamps", "check"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: OneCheck = upload::json(&head.headers, body).await?;
            let figures = figures::of_lamps(language, &place.file(), &place.folder).map_err(unread)?;
            one.of(
                figures.faults(language, &one.typed),
                figures.taken(language, &one.typed),
            )
        }
        (true, ["job", id, "lamps"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let typed: Answers = upload::json(&head.headers, body).await?;
            let go = format!("/job/{}", place.id);
            let figures = figures::of_lamps(language, &place.file(), &place.folder).map_err(unread)?;
            let is_right = figures.faults(language, &typed).is_empty();
            if let Some(asked) = doubted(head, || figures.doubt(language, &typed).filter(|_| is_right)) {
                return asked;
            }
            change(
                language,
                bench,
                move || figures::of_lamps(language, &place.file(), &place.folder),
                typed,
                go,
            )
            .await
        }
        (true, ["job", id, "lamps", "after"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let go = format!("/job/{}/lamps", place.id);
            let OneWall { wall } = upload::json(&head.headers, body).await?;
            if (wall.as_ref()).is_some_and(|wall| !jobs::names_of_walls(&bench.folder).contains(wall)) {
                return Err(Refused::not_there());
            }
            let own = bench.clone();
            alone(bench, move || {
                car::stand_elsewhere_after(&own.folder, &place, wall.as_deref())
            })
            .await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["job", id, "car"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let car = car::of_job_file(language, &place.file()).map_err(unread)?;
            ok(views::change_car(reader, &format!("/job/{}", place.id), &car))
        }
        (true, ["job", id, "car", "check"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: OneCheck = upload::json(&head.headers, body).await?;
            let car = car::of_job_file(language, &place.file()).map_err(unread)?;
            one.of(car.faults(language, &one.typed), BTreeMap::new())
        }
        (true, ["job", id, "car"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let typed: Answers = upload::json(&head.headers, body).await?;
            let go = format!("/job/{}", place.id);
            let faults = alone(bench, move || {
                car::of_job_file(language, &place.file())?.change(language, &typed)
            })
            .await?;
            changed(go, faults)
        }
        (true, ["job", id, "put-away"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: OnePutAway = upload::json(&head.headers, body).await?;
            place.put_away(one.away).map_err(unread)?;
            said(StatusCode::CREATED, &GoTo { go: "/".to_owned() })
        }
        (false, ["job", id, "fault"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let last = undo::last(&place.file(), Kept::Job);
            ok(views::fault(
                reader,
                &place,
                &known(bench, &place).await?,
                last.as_ref(),
            ))
        }
        (true, ["job", id, "system"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: OneSystem = upload::json(&head.headers, body).await?;
            let go = format!("/job/{}/fault", place.id);
            alone(bench, move || work::choose_system(&place, &one.system)).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["job", id, "test"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let number = numbered(query)?;
            let work::Known::Isolated(isolated, job) = known(bench, &place).await? else {
                return Err(Refused::not_there());
            };
            ok(views::test(reader, &place, &isolated, &job, number).ok_or_else(Refused::not_there)?)
        }
        (true, ["job", id, "trial"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: Trial = upload::json(&head.headers, body).await?;
            let go = format!("/job/{}/fault", place.id);
            if let Some(asked) = doubted(head, || work::doubt_of_trial(language, &place, &one)) {
                return asked;
            }
            let own = bench.clone();
            alone(bench, move || work::enter_trial(&place, &one, own.cache.as_ref())).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["job", id, "heap"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            recalled(bench, &place).await?;
            let (at, wanted) = (place.clone(), choice.clone());
            let heap = alone(bench, move || work::heap(language, &at, &wanted)).await?;
            let job = place.job().map_err(unread)?;
            let refused_as = |name: &str, planned: Option<&PlannedPhoto>| {
                let photo = Path::new(jobs::PHOTOS).join(name);
                let (shot, refusal) = bench.read_before.refused_as(&place, &photo)?;
                // A line that says what the photo shows need not say as what it was read.
                let as_what = |planned: Option<&PlannedPhoto>, shot: &Shot| match planned {
                    Some(_) => language.pick("no figure", "kein Wert").to_owned(),
                    None => {
                        let shown = what_it_shows(language, shot);
                        say!(language; "no figure, read as “{shown}”", "kein Wert, gelesen als „{shown}“")
                    }
                };
                // The same view gives the same figure whenever it was taken; another lamp or setting is another reading.
                let is_same = |planned: &PlannedPhoto| {
                    let shot = Shot {
                        stage: planned.stage,
                        ..shot.clone()
                    };
                    planned.is_in(&Job {
                        shot: vec![shot],
                        ..job.clone()
                    })
                };
                planned.is_none_or(is_same).then(|| (as_what(planned, &shot), refusal))
            };
            ok(views::heap(reader, &place, &choice, &heap, &refused_as))
        }
        (true, ["job", id, "heap"]) => {
            let (place, choice) = (jobs::find(&bench.folder, id)?, Choice::of_query(query)?);
            let (is_sure, at, own) = (is_sure(head), place.clone(), bench.clone());
            let enter = move || work::enter_heap(language, &at, &choice, is_sure, own.cache.as_ref());
            match alone(bench, enter).await? {
                work::HeapEntered::Asks(asks) => said(StatusCode::CONFLICT, &Doubt { asks }),
                work::HeapEntered::Entered { findings, left } => {
                    bench.read_before.learn(&place, &findings);
                    // What gave no figure is told where it can be mended.
                    let go = match left {
                        0 => format!("/job/{}/readings", place.id),
                        _ => format!("/job/{}/heap?{query}", place.id),
                    };
                    said(StatusCode::CREATED, &GoTo { go })
                }
            }
        }
        (true, ["job", id, "take-in"]) => {
            let place = jobs::find(&bench.folder, id)?;
            match received(bench, &place, head, body).await? {
                // Of a heap it is told on the page that follows, beside what the others are taken to be.
                upload::Taken::InJob(photo) if query == "heap=1" => {
                    said(StatusCode::OK, &OnePhoto { photo: photo.into() })
                }
                taken => {
                    let photo = taken.free()?.into();
                    said(StatusCode::CREATED, &OnePhoto { photo })
                }
            }
        }
        (false, ["job", id, "gauge"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let n = numbered(query)?;
            let job = place.job().map_err(unread)?;
            let shot = job.shot.get(n).filter(|shot| shot.is_pumped());
            let shot = shot.ok_or_else(Refused::not_there)?;
            ok(views::gauge_anew(reader, &place, n, shot))
        }
        (true, ["job", id, "gauge"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let n = numbered(query)?;
            let one: work::GaugeSaidAnew = upload::json(&head.headers, body).await?;
            let step = one_step(&one.vacuum)?;
            let go = format!("/job/{}/entries", place.id);
            alone(bench, move || work::say_gauge_anew(&place, n, &one, &step)).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["job", id, "repair"]) if query.starts_with("n=") => {
            let place = jobs::find(&bench.folder, id)?;
            let n = numbered(query)?;
            let job = place.job().map_err(unread)?;
            let repair = job.repair.get(n).ok_or_else(Refused::not_there)?;
            let system = work::system(&place, &job).ok().flatten();
            ok(views::repair_anew(reader, &place, n, repair, system.as_ref()))
        }
        (true, ["job", id, "repair"]) if query.starts_with("n=") => {
            let place = jobs::find(&bench.folder, id)?;
            let n = numbered(query)?;
            let one: work::RepairSaidAnew = upload::json(&head.headers, body).await?;
            let go = format!("/job/{}/entries", place.id);
            if let Some(asked) = doubted(head, || work::doubt_of_day(language, &place, one.date(), &[])) {
                return asked;
            }
            alone(bench, move || work::say_repair_anew(&place, n, &one)).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["job", id, "repair"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let set = lamp_set(query)?;
            let job = place.job().map_err(unread)?;
            let system = work::system(&place, &job).map_err(unread)?;
            // Without it a repair is entered all the same.
            let suspect = match &system {
                Some(_) if set.is_none() => known(bench, &place).await.ok().as_ref().and_then(work::suspect),
                _ => None,
            };
            let (at, of) = (place.clone(), job.clone());
            let after = alone(bench, move || Ok(work::photos_after(&at, &of))).await?;
            let proposed = views::Proposed {
                suspect: suspect.as_deref(),
                set,
            };
            ok(views::repair(reader, &place, &job, system.as_ref(), &proposed, &after))
        }
        (true, ["job", id, "repair"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let one: work::RepairSaid = upload::json(&head.headers, body).await?;
            let go = format!("/job/{}", place.id);
            let (at, said_of) = (place.clone(), one.clone());
            let out = alone(bench, move || work::outdated(&at, &at.job()?, &said_of)).await?;
            let repair = one.entry();
            // What the tests say of the part is asked of who has not said yet that this is meant.
            let known = match &repair.component {
                Some(_) if !is_sure(head) => known(bench, &place).await.ok(),
                _ => None,
            };
            let doubt = || work::doubt_of_repair(language, &place, &repair, &out, known.as_ref());
            if let Some(asked) = doubted(head, doubt) {
                return asked;
            }
            alone(bench, move || work::enter_repair(&place, &one)).await?;
            said(StatusCode::CREATED, &GoTo { go })
        }
        (false, ["job", id, "readings"]) => {
            let place = jobs::find(&bench.folder, id)?;
            ok(views::reading(reader, &place, &place.job().map_err(unread)?))
        }
        (false, ["job", id, "reading"]) => Ok(readings(language, bench, jobs::find(&bench.folder, id)?)),
        (true, ["job", id, "report"]) => Ok(report(language, bench, jobs::find(&bench.folder, id)?)),
        (false, ["job", id, "all.zip"]) => {
            let place = jobs::find(&bench.folder, id)?;
            let job = place.job().map_err(unread)?;
            let files = packed::files(&bench.folder, &place, &job).map_err(unread)?;
            Ok(packed::send(&place, files))
        }
        (false, ["job", id, "report.pdf"]) => report_pdf(&jobs::find(&bench.folder, id)?),
        (false, ["job", id, "report"]) => shown_report(language, &jobs::find(&bench.folder, id)?),
        _ => Err(Refused::not_there()),
    }
}

fn page(language: Language, status: StatusCode, markup: Markup) -> Reply {
    reader::tell(reply(status, HTML, None, markup.into_string()), language)
}

fn text(kind: &'static str, text: impl Into<hyper::body::Bytes>) -> Reply {
    reply(StatusCode::OK, kind, None, text)
}

fn said(status: StatusCode, value: &impl Serialize) -> Result<Reply, Refused> {
    let body = serde_json::to_string(value).map_err(Refused::failed)?;
    Ok(reply(status, JSON, None, body))
}

/// What the library says of a file that does not fit.
fn unread(error: Error) -> Refused {
    Refused::of(StatusCode::UNPROCESSABLE_ENTITY, &error)
}

/// What a new job is asked for.
struct Form {
    questions: Vec<Question>,
    /// What its wall answers beforehand.
    known: Answers,
    walls: Vec<jobs::Wall>,
    /// The name of its wall's file; `None`: a new one, whose figures are asked for, too.
    wall: Option<String>,
}

impl Form {
    /// What of it is asked of the wall alone.
    fn of_wall(&self) -> Vec<Question> {
        let of_wall = |question: &&Question| question.key.starts_with("bay.") || question.key.starts_with("sheet");
        self.questions.iter().filter(of_wall).cloned().collect()
    }
}

/// The job from which somebody came, as in from=….
fn coming_from(bench: &Bench, query: &str) -> Result<Place, Refused> {
    let id = query.strip_prefix("from=").ok_or_else(Refused::not_there)?;
    jobs::find(&bench.folder, id)
}

/// The wall that a car stands before after its repair; none: the same.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct OneWall {
    wall: Option<String>,
}

/// The form for a new job in this folder, before the wall that the address names, as in wall=bay-2.toml, or a new one, as in wall=new.
fn form(language: Language, bench: &Bench, query: &str) -> Result<Form, Refused> {
    let walls = jobs::walls(&bench.folder);
    let first = || walls.first().map(|wall| wall.name.clone());
    let wall = match query.strip_prefix("wall=") {
        Some("new") => None,
        Some(name) => Some(
            walls
                .iter()
                .find(|wall| wall.name == name)
                .ok_or_else(Refused::not_there)?
                .name
                .clone(),
        ),
        None => first(),
    };
    let mut known = Answers::new();
    let of_job = of_job(language);
    let Some(name) = &wall else {
        let mut of_bay = of_bay(language);
        let n = walls.len() + 1;
        for question in of_bay.iter_mut().filter(|question| n > 1 && question.key == "bay.name") {
            // Two walls of one name could not be told apart.
            question.usual = Some(say!(language; "Bay {n}", "Wand {n}"));
            question.is_rare = false;
        }
        return Ok(Form {
            questions: [of_bay, of_job].concat(),
            known,
            walls,
            wall,
        });
    };
    let bay = Bay::read(&bench.folder.join(name)).map_err(unread)?;
    known.insert("bay.heights_from".to_owned(), bay.heights_from.to_string());
    let mut questions = of_job;
    // What the wall decides is no question any more.
    questions.retain_mut(|question| {
        let (decided, open) = std::mem::take(&mut question.only_with)
            .into_iter()
            .partition::<Vec<_>, _>(|(key, _)| known.contains_key(*key));
        question.only_with = open;
        decided
            .iter()
            .all(|(key, words)| known.get(*key).is_some_and(|given| words.contains(given)))
    });
    Ok(Form {
        questions,
        known,
        walls,
        wall,
    })
}

/// A wall that is asked for.
struct WallAsked {
    name: String,
    file: PathBuf,
    /// Where somebody came from and goes back to.
    go: String,
    /// What the address says of both.
    query: String,
}

/// The wall that an address names, as in file=bay-2.toml, or that of the job from which somebody came, as in from=… or to=job-….
fn wall_asked(bench: &Bench, query: &str) -> Result<WallAsked, Refused> {
    let (mut file, mut place) = (None, None);
    for (key, value) in form_urlencoded::parse(query.as_bytes()) {
        match (&*key, &*value) {
            ("file", name) => file = Some(name.to_owned()),
            ("from", id) => place = Some(jobs::find(&bench.folder, id)?),
            ("to", to) => {
                place = to
                    .strip_prefix("job-")
                    .map(|id| jobs::find(&bench.folder, id))
                    .transpose()?
            }
            _ => return Err(Refused::not_there()),
        }
    }
    let walls = jobs::names_of_walls(&bench.folder);
    let of_job = place.as_ref().filter(|_| file.is_none()).and_then(|place| {
        let bay = place.job().ok()?.bay;
        let is_it = |name: &&String| jobs::wall_as_listed(&bench.folder, place, name) == bay;
        walls.iter().find(is_it).cloned()
    });
    let name = file.or(of_job).unwrap_or_else(|| jobs::BAY.to_owned());
    if name != jobs::BAY && !walls.contains(&name) {
        return Err(Refused::not_there());
    }
    Ok(WallAsked {
        file: bench.folder.join(&name),
        name,
        go: place.map_or_else(|| "/".to_owned(), |place| format!("/job/{}", place.id)),
        query: if query.is_empty() {
            String::new()
        } else {
            format!("?{query}")
        },
    })
}

/// The lamp that was set by its own adjusters, as an address says it that proposes this as the repair, as in set=left.
fn lamp_set(query: &str) -> Result<Option<Side>, Refused> {
    match query {
        "" => Ok(None),
        "set=left" => Ok(Some(Side::Left)),
        "set=right" => Ok(Some(Side::Right)),
        _ => Err(Refused::not_there()),
    }
}

/// The number in an address, as in n=2.
fn numbered(query: &str) -> Result<usize, Refused> {
    let number = query.strip_prefix("n=").and_then(|n| n.parse().ok());
    number.ok_or_else(Refused::not_there)
}

/// Where the list of all jobs is shown.
const OF_JOBS: &str = "jobs";

/// The newest change of those to these walls, by their files' names, and to these jobs that can be taken back: the one that somebody means who made it
/// a moment ago. `from` is where it is shown.
fn newest(language: Language, bench: &Bench, places: &[Place], walls: &[String], from: &str) -> Option<views::Newest> {
    let file = |name: &String| bench.folder.join(name);
    let of_walls = walls.iter().map(|name| (undo::time(&file(name), Kept::Bay), Err(name)));
    let of_jobs = places
        .iter()
        .map(|place| (undo::time(&place.file(), Kept::Job), Ok(place)));
    let mut changes: Vec<_> = of_jobs
        .chain(of_walls)
        .filter_map(|(time, of)| Some((time?, of)))
        .collect();
    changes.sort_by_key(|(time, _)| std::cmp::Reverse(*time));
    // One that another program has overtaken cannot be taken back: then the one before it.
    changes.into_iter().find_map(|(_, of)| match of {
        Err(name) => {
            let last = undo::last(&file(name), Kept::Bay)?;
            // A job that was made after the change was begun with the wall as it is.
            if let [place] = places
                && from != OF_JOBS
                && !last.was_there(&place.id)
            {
                return None;
            }
            let jobs = jobs::count_at_wall(&bench.folder, name);
            Some(views::Newest {
                // The file is always named: a job's address without it means the job's first wall.
                to: format!("/wall-back?to={from}&file={name}"),
                of: match Bay::read(&file(name)) {
                    Ok(bay) => say!(language; "of the wall {}", "der Wand {}"; bay.name),
                    Err(_) => language.pick("of the wall", "der Wand").to_owned(),
                },
                concerns: match jobs {
                    0 => None,
                    1 => Some(
                        language
                            .pick(
                                "This button changes the wall itself, and how the one job on it is read.",
                                "Dieser Knopf ändert die Wand selbst und damit, wie der eine Auftrag an ihr gelesen wird.",
                            )
                            .to_owned(),
                    ),
                    _ => Some(say!(
                        language;
                        "This button changes the wall itself, and how all {jobs} jobs on it are read.",
                        "Dieser Knopf ändert die Wand selbst und damit, wie alle {jobs} Aufträge an ihr gelesen werden."
                    )),
                },
                last,
            })
        }
        Ok(place) => Some(views::Newest {
            to: format!("/job/{}/back?to={from}", place.id),
            of: say!(language; "of job {}", "von Auftrag {}"; place.job().ok()?.job),
            concerns: None,
            last: undo::last(&place.file(), Kept::Job)?,
        }),
    })
}

/// The sheets to print, as `beamfall marks` writes them.
fn sheets(query: &str) -> Result<Reply, Refused> {
    let paper = match query {
        "paper=a4" => Paper::A4,
        "paper=letter" => Paper::Letter,
        _ => return Err(Refused::not_there()),
    };
    let ids: Vec<u32> = SHEETS.collect();
    let pdf = sheets_pdf(paper, DEFAULT_SIZE_MM, &ids, tag_cells).map_err(Refused::failed)?;
    let mut reply = reply(StatusCode::OK, "application/pdf", Some(OF_REPORT), pdf);
    let kept = format!("attachment; filename=\"{}\"", paper.file_name());
    reply
        .headers_mut()
        .insert(CONTENT_DISPOSITION, kept.parse().map_err(Refused::failed)?);
    Ok(reply)
}

/// A photo in small.
async fn thumb(bench: &Arc<Bench>, place: Place, photo: PathBuf) -> Result<Reply, Refused> {
    let turn = bench.thumbs.turn().await.map_err(Refused::failed)?;
    let own = bench.clone();
    let made = tokio::task::spawn_blocking(move || {
        // One at a time, also where who asked has gone away.
        let _turn = turn;
        let bytes = work::photo_bytes(&place, &photo).ok()?;
        own.thumbs.of(&bytes)
    });
    let small = made.await.map_err(Refused::failed)?.ok_or_else(Refused::not_there)?;
    let mut reply = reply(StatusCode::OK, "image/jpeg", Some(OF_REPORT), small);
    // A file of the job's is never another under the same name.
    let kept = HeaderValue::from_static("private, max-age=86400");
    reply.headers_mut().insert(CACHE_CONTROL, kept);
    Ok(reply)
}

/// Fields of a form that somebody was at, with all that is typed so far.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OneCheck {
    keys: Vec<String>,
    typed: Answers,
}

impl OneCheck {
    /// Of what is wrong, what is said by now: fields that nobody was at yet are not found fault with.
    fn of(&self, faults: BTreeMap<String, String>, taken: BTreeMap<String, String>) -> Result<Reply, Refused> {
        said(StatusCode::OK, &self.so_far(faults, taken))
    }

    fn so_far(&self, mut faults: BTreeMap<String, String>, mut taken: BTreeMap<String, String>) -> Checked {
        faults.retain(|key, _| self.keys.contains(key));
        // What is wrong is taken for nothing.
        taken.retain(|key, _| self.keys.contains(key) && !faults.contains_key(key));
        Checked {
            faults,
            taken,
            places: BTreeMap::new(),
        }
    }
}

/// A photo by its path as the job lists it.
#[derive(Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct OnePhoto {
    photo: PathBuf,
}

/// A photo, and where somebody saw sheets in it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ByHand {
    photo: PathBuf,
    sheets: Vec<SheetByHand>,
}

/// A photo, and where somebody saw its cut-off, px of the upright photo.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Near {
    photo: PathBuf,
    at_px: [f64; 2],
}

/// An entry of the job by its place, and by what it is called: the two must agree.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OneEntry {
    kind: Entries,
    n: usize,
    name: String,
}

/// The change that somebody saw and wants taken back.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OneChange {
    left_as: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OnePutAway {
    away: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OneSystem {
    system: String,
}

/// What a phone's user typed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OneCode {
    code: String,
}

/// What is wrong with fields, and what lengths with a unit of their own were taken for.
#[derive(Serialize)]
struct Checked {
    faults: BTreeMap<String, String>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    taken: BTreeMap<String, String>,
    /// Row and column of each sheet in the drawing, once all of their places are typed.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    places: BTreeMap<String, [usize; 2]>,
}

#[derive(Serialize)]
struct Faults {
    faults: BTreeMap<String, String>,
}

/// What is possible and hardly so: it is done once somebody says that it is meant.
#[derive(Serialize)]
struct Doubt {
    asks: String,
}

/// Name of the head by which somebody says that a doubtful answer is meant.
const SURE: &str = "beamfall-sure";

/// Whether somebody says that what is hardly so is meant.
fn is_sure(head: &Parts) -> bool {
    head.headers.get(SURE).is_some_and(|given| given == "yes")
}

/// The question to who has not said yet that this is meant.
fn doubted(head: &Parts, doubt: impl FnOnce() -> Option<String>) -> Option<Result<Reply, Refused>> {
    let asks = if is_sure(head) { None } else { doubt() };
    asks.map(|asks| said(StatusCode::CONFLICT, &Doubt { asks }))
}

#[derive(Serialize)]
struct GoTo {
    go: String,
}

fn check_new(language: Language, form: Form, one: &OneCheck) -> Result<Reply, Refused> {
    let Form { questions, known, .. } = form;
    let is_asked = |key: &String| questions.iter().any(|question| question.key == *key);
    if !one.keys.iter().all(is_asked) {
        return Err(Refused::not_there());
    }
    let typed = |question: &Question| {
        let taken = taken_for(language, question, one.typed.get(&question.key)?)?;
        Some((question.key.clone(), taken))
    };
    let taken = questions.iter().filter_map(typed).collect();
    let (answers, faults) = take(language, &questions, &one.typed, known);
    let checked = Checked {
        places: places_of_sheets(&answers),
        ..one.so_far(faults, taken)
    };
    said(StatusCode::OK, &checked)
}

/// Where each sheet of a wall is drawn, by the first part of its questions' keys; nothing before all of their places are typed and can be.
fn places_of_sheets(answers: &Answers) -> BTreeMap<String, [usize; 2]> {
    let count: u32 = answers
        .get("bay.sheets")
        .and_then(|count| count.parse().ok())
        .unwrap_or(0);
    let place = |n: u32| {
        let mm = |axis: &str| answers.get(&format!("sheet{n}.{axis}"))?.parse::<f64>().ok();
        Some([mm("x_mm")?, mm("y_mm")?])
    };
    let places: Option<Vec<[f64; 2]>> = (1..=count).map(place).collect();
    let at = places.map(|places| views::as_they_hang(&places)).unwrap_or_default();
    (1..=count).zip(at).map(|(n, at)| (format!("sheet{n}"), at)).collect()
}

fn make(language: Language, bench: &Bench, head: &Parts, form: Form, typed: &Answers) -> Result<Reply, Refused> {
    let Form {
        questions, known, wall, ..
    } = form;
    let (answers, faults) = take(language, &questions, typed, known);
    if !faults.is_empty() {
        return said(StatusCode::UNPROCESSABLE_ENTITY, &Faults { faults });
    }
    if let Some(asked) = doubted(head, || doubt(language, &answers)) {
        return asked;
    }
    let id = jobs::make(&bench.folder, &answers, wall.as_deref()).map_err(unread)?;
    said(
        StatusCode::CREATED,
        &GoTo {
            go: format!("/job/{id}"),
        },
    )
}

/// The file, if it is there as one of the folder's own.
fn there(file: PathBuf) -> Result<PathBuf, Refused> {
    Some(file)
        .filter(|file| is_own_file(file))
        .ok_or_else(Refused::not_there)
}

/// Changes figures by what was typed, or says what is wrong with it.
async fn change(
    language: Language,
    bench: &Bench,
    read: impl FnOnce() -> Result<figures::Figures, Error> + Send + 'static,
    typed: Answers,
    go: String,
) -> Result<Reply, Refused> {
    changed(go, alone(bench, move || read()?.change(language, &typed)).await?)
}

/// Where to go once something was changed, or what is wrong with what was typed.
fn changed(go: String, faults: BTreeMap<String, String>) -> Result<Reply, Refused> {
    if faults.is_empty() {
        said(StatusCode::CREATED, &GoTo { go })
    } else {
        said(StatusCode::UNPROCESSABLE_ENTITY, &Faults { faults })
    }
}

/// Runs what reads photos, alone.
async fn alone<T: Send + 'static>(
    bench: &Bench,
    work: impl FnOnce() -> Result<T, Error> + Send + 'static,
) -> Result<T, Refused> {
    let turn = bench.reading.clone().acquire_owned().await.map_err(Refused::failed)?;
    let done = tokio::task::spawn_blocking(move || {
        // Held until it is done, also where who asked has gone away.
        let _turn = turn;
        work()
    });
    done.await.map_err(Refused::failed)?.map_err(unread)
}

/// Sees to it that what an earlier run of the program read of the job's photos is known. No photo is read for it.
async fn recalled(bench: &Arc<Bench>, place: &Place) -> Result<(), Refused> {
    let (own, at) = (bench.clone(), place.clone());
    let recall = move || own.read_before.recall(&at, own.cache.as_ref());
    tokio::task::spawn_blocking(recall).await.map_err(Refused::failed)
}

/// Takes a photo in, where not too many are arriving, and gives its path in the job's folder.
async fn received(bench: &Bench, place: &Place, head: &Parts, body: Incoming) -> Result<upload::Taken, Refused> {
    let Ok(_place_at_the_door) = bench.uploads.try_acquire() else {
        return Err(Refused::new(
            StatusCode::SERVICE_UNAVAILABLE,
            "Other photos are arriving; send it again in a moment.",
            "Andere Fotos kommen gerade an; gleich noch einmal senden.",
        ));
    };
    upload::photo(place, &place.job().map_err(unread)?, &head.headers, body).await
}

async fn photo(
    language: Language,
    bench: &Arc<Bench>,
    place: Place,
    choice: &Choice,
    head: &Parts,
    body: Incoming,
) -> Result<Reply, Refused> {
    let (photos, planned) = planned(&place, choice)?;
    let starts = matches!(planned.shows, Shows::Sealed { after_s: 0, .. });
    let at_start = choice.at_start.clone().filter(|_| starts);
    let listed = received(bench, &place, head, body).await?.free()?;
    let (at, name) = (place.clone(), listed.clone());
    let list = photos.clone();
    place.keep_list(&choice.query(1));
    let is_first = place.job().is_ok_and(|job| job.shot.is_empty());
    let read = alone(bench, move || match planned.shows {
        Shows::LampOff => work::read_with_lamp_off(&at, &planned, &photos, &name),
        _ => work::read_alone(&at, &planned, &name, at_start.as_ref()),
    })
    .await?;
    bench.read_before.learn(&place, &read.findings);
    let outcome = views::outcome(language, &place, choice, &list, &listed, &read).map_err(unread)?;
    // The first photo shows also what the wall is worth.
    let wall = is_first.then(|| views::wall_later(&place, choice, &listed));
    Ok(page(language, StatusCode::CREATED, views::both(outcome, wall)))
}

async fn by_hand(
    language: Language,
    bench: &Arc<Bench>,
    place: Place,
    choice: &Choice,
    one: ByHand,
) -> Result<Reply, Refused> {
    let (photos, planned) = planned(&place, choice)?;
    if planned.shows == Shows::LampOff {
        return Err(Refused::not_there());
    }
    let listed = one.photo.to_string_lossy().into_owned();
    let at = place.clone();
    let read = alone(bench, move || {
        work::read_by_hand(&at, &planned, &one.photo, &one.sheets)
    })
    .await?;
    bench.read_before.learn(&place, &read.findings);
    let markup = views::outcome(language, &place, choice, &photos, &listed, &read).map_err(unread)?;
    Ok(page(language, StatusCode::CREATED, markup))
}

async fn near(
    language: Language,
    bench: &Arc<Bench>,
    place: Place,
    choice: &Choice,
    one: Near,
) -> Result<Reply, Refused> {
    let photos = choice.photos(&place.job().map_err(unread)?).map_err(unread)?;
    // A photo that the job has need not be on any list.
    let planned = choice.number.checked_sub(1).and_then(|n| photos.get(n)).cloned();
    let planned = planned.filter(|planned| planned.shows != Shows::LampOff);
    let listed = one.photo.to_string_lossy().into_owned();
    let at = place.clone();
    let read = alone(bench, move || {
        work::read_near(&at, planned.as_ref(), &one.photo, one.at_px)
    })
    .await?;
    bench.read_before.learn(&place, &read.findings);
    let markup = views::outcome(language, &place, choice, &photos, &listed, &read).map_err(unread)?;
    Ok(page(language, StatusCode::CREATED, markup))
}

async fn enter(bench: &Arc<Bench>, place: Place, choice: &Choice, one: OnePhoto) -> Result<Reply, Refused> {
    let (_, planned) = planned(&place, choice)?;
    // It waits for one with the lamp off, which is on the list from now on; its number there is another.
    let with_off = Choice {
        lamp_off: true,
        ..choice.clone()
    };
    let query = with_off.query(1);
    let go = format!("/job/{}/shots?{query}", place.id);
    alone(bench, move || {
        work::enter(&place, &planned, &one.photo)?;
        place.keep_list(&query);
        Ok(())
    })
    .await?;
    said(StatusCode::CREATED, &GoTo { go })
}

/// The list of the choice, and the photo of it that is meant.
fn planned(place: &Place, choice: &Choice) -> Result<(Vec<PlannedPhoto>, PlannedPhoto), Refused> {
    let photos = choice.photos(&place.job().map_err(unread)?).map_err(unread)?;
    let planned = choice.number.checked_sub(1).and_then(|n| photos.get(n)).cloned();
    let planned = planned.ok_or_else(Refused::not_there)?;
    Ok((photos, planned))
}

/// What is known of the job's parts; its photos are read for it.
async fn known(bench: &Arc<Bench>, place: &Place) -> Result<work::Known, Refused> {
    let (own, at) = (bench.clone(), place.clone());
    alone(bench, move || work::isolate(&at, own.cache.as_ref())).await
}

/// The readings of the job, as a part of the page.
#[derive(Serialize)]
struct Part {
    html: String,
}

fn readings(language: Language, bench: &Arc<Bench>, place: Place) -> Reply {
    let own = bench.clone();
    follow(language, bench, move |progress| {
        let findings = work::read_job(&place, own.cache.as_ref(), progress)?;
        own.read_before.learn(&place, &findings);
        let html = views::readings(language, &place, &findings).into_string();
        Ok(Part { html })
    })
}

fn report(language: Language, bench: &Arc<Bench>, place: Place) -> Reply {
    let own = bench.clone();
    follow(language, bench, move |progress| {
        work::make_report(language, &place, own.cache.as_ref(), progress)?;
        let go = format!("/job/{}/report", place.id);
        Ok(GoTo { go })
    })
}

/// The report as it was written, with the way back to its job above it.
fn shown_report(language: Language, place: &Place) -> Result<Reply, Refused> {
    let bytes = of_report(place, work::REPORT_PAGE)?;
    let text = String::from_utf8_lossy(&bytes);
    let at = text
        .find("<body")
        .and_then(|body| Some(body + text.get(body..)?.find('>')? + 1));
    let (head, rest) = text.split_at(at.unwrap_or(0));
    let back = views::back_to_job(language, place).into_string();
    Ok(reply(
        StatusCode::OK,
        HTML,
        Some(OF_SHOWN_REPORT),
        [head, &back, rest].concat(),
    ))
}

/// The report as a file to keep or to send on: what a browser shows of a PDF need not obey our policy.
fn report_pdf(place: &Place) -> Result<Reply, Refused> {
    let mut reply = reply(
        StatusCode::OK,
        "application/pdf",
        Some(OF_REPORT),
        of_report(place, "report.pdf")?,
    );
    let kept = HeaderValue::from_static("attachment; filename=\"report.pdf\"");
    reply.headers_mut().insert(CONTENT_DISPOSITION, kept);
    Ok(reply)
}

/// A file of the job's report, if it is its own.
fn of_report(place: &Place, name: &str) -> Result<Vec<u8>, Refused> {
    let folder = place.folder.join(REPORT);
    let path = folder.join(name);
    let is_own = folder.symlink_metadata().is_ok_and(|metadata| metadata.is_dir()) && is_own_file(&path);
    if !is_own {
        return Err(Refused::not_there());
    }
    bounded_file::read(&path, MOST_PHOTO_BYTES)
        .map_err(|why| Refused(StatusCode::INTERNAL_SERVER_ERROR, Why::Said(why.0)))
}
