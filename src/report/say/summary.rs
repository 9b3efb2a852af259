//! What the page says first: whose job it is, and what was found, lamp by lamp.

use super::super::Error;
use super::super::document::{Block, Item, List, Section, Sign, Text};
use super::super::plots::{Figure, Subject};
use super::super::text::{date, fixed, shortest};
use super::super::words::{lamp_and_stage, listed, sentence, travelled};
use super::{adjuster, answer, beside, isolation, made_photos, method, plot_grid, readings};
use crate::PROGRAM;
use crate::adjuster::{LampTravel, LeakDown, Movement};
use crate::aim::ShotReading;
use crate::language::{Language, said};
use crate::record::{Lamp, Side, Stage, Traffic, Workshop, in_order};
use crate::run::Findings;

/// Whose job it is, and what the page is not.
pub(super) fn opening(language: Language, findings: &Findings) -> Result<Vec<Block>, Error> {
    let job = &findings.job;
    let listed = findings.readings.len();
    let refused = findings.readings.iter().filter(|r| r.result.is_err()).count();
    let mut facts: Vec<(&'static str, Text)> = Vec::new();
    if let Some(vehicle) = &job.vehicle {
        let in_km = vehicle.odometer_km.map(|km| format!("{} km", fixed(language, km, 0)));
        let odometer = vehicle.odometer.as_ref().map(ToString::to_string);
        let odometer = [odometer, in_km].into_iter().flatten().collect::<Vec<_>>().join("; ");
        let odometer = Some(odometer).filter(|said| !said.is_empty());
        let more = [
            (language.pick("Vehicle", "Fahrzeug"), vehicle.description.clone()),
            (
                language.pick("Registration", "Kennzeichen"),
                vehicle.registration.clone(),
            ),
            (language.pick("Odometer", "Kilometerstand"), odometer),
            (
                language.pick("Identification", "Fahrzeug-Identnummer"),
                vehicle.identification.clone(),
            ),
            (language.pick("Load", "Beladung"), vehicle.load.clone()),
        ];
        facts.extend(more.into_iter().filter_map(|(name, value)| Some((name, value?.into()))));
    }
    let unknown = Workshop::default();
    let workshop = job.workshop.as_ref().unwrap_or(&unknown);
    let typed = workshop.date.as_ref().map(|written| date(language, written));
    let more = [
        (language.pick("Workshop", "Werkstatt"), workshop.name.clone()),
        (
            language.pick("Measured by", "Gemessen von"),
            workshop.measured_by.clone(),
        ),
        (
            language.pick("Date", "Datum"),
            typed.or_else(|| days_of_photos(language, findings)),
        ),
        (
            language.pick("Lengths by", "Längen mit"),
            (workshop.tape.as_ref()).map(|tape| instrument(language, tape, &lengths_sd(language, findings))),
        ),
        (
            language.pick("Vacuum by", "Unterdruck mit"),
            (workshop.gauge.as_ref()).map(|gauge| instrument(language, gauge, &gauge_sd(language, findings))),
        ),
    ];
    facts.extend(more.into_iter().filter_map(|(name, value)| Some((name, value?.into()))));
    facts.extend((job.repair.iter()).map(|repair| {
        (
            language.pick("Repaired", "Repariert"),
            answer::repair_words(language, findings, repair).into(),
        )
    }));
    facts.extend([
        (
            language.pick("Bay", "Messplatz"),
            findings
                .bays
                .all()
                .map(|bay| bay.name.as_str())
                .collect::<Vec<_>>()
                .join("; ")
                .into(),
        ),
        (
            language.pick("Built for", "Gebaut für"),
            match job.traffic {
                Traffic::Right => language.pick("right-hand traffic", "Rechtsverkehr"),
                Traffic::Left => language.pick("left-hand traffic", "Linksverkehr"),
            }
            .into(),
        ),
    ]);
    facts.extend(findings.table.as_ref().map(|table| {
        // A table that no edition has says nothing of one.
        let edition = match table.edition.within(Language::English) {
            "none" => String::new(),
            _ => format!(", {}", table.edition.within(language)),
        };
        let said = said!(
            language;
            "{}{edition}; how sure they are: {}",
            "{}{edition}; wie verlässlich sie sind: {}";
            table.title.within(language),
            table.confidence.within(language)
        );
        let said =
            method::marked(language, findings).map_or_else(|| said.clone(), |marked| format!("{said}. {marked}"));
        (language.pick("Limits", "Grenzen"), said.into())
    }));
    facts.extend([
        (
            language.pick("Photos", "Fotos"),
            said!(
                language; "{listed} listed, {} gave a figure, {refused} refused",
                "{listed} aufgeführt, {} mit Messwert, {refused} abgelehnt";
                listed - refused
            )
            .into(),
        ),
        (language.pick("Read by", "Ausgewertet mit"), PROGRAM.into()),
    ]);
    let mut blocks = answer::opening(language, findings);
    blocks.extend(beside::pictures(language, findings)?);
    blocks.push(Block::Facts("head", facts));
    if job.made_photos {
        blocks.push(Block::Paragraph("banner", made_photos(language, true).into()));
    }
    blocks.push(Block::Paragraph("law", crate::disclaimer(language).into()));
    blocks.push(to_sign(language));
    Ok(blocks)
}

/// An instrument with how sure it is taken to be.
fn instrument(language: Language, named: &str, sd: &str) -> String {
    said!(
        language; "{named}; taken as sure to {sd}, one standard deviation",
        "{named}; angenommen auf {sd} genau, eine Standardabweichung"
    )
}

/// How sure the lengths are that the job gives.
fn lengths_sd(language: Language, findings: &Findings) -> String {
    let most = |of: &dyn Fn(&Lamp) -> f64| findings.job.lamp.iter().map(of).fold(0.0, f64::max);
    let shown = |mm: f64| shortest(language, mm, 2);
    said!(
        language; "{} mm in a lamp's height, {} mm in its distance, {} mm in a sheet's place",
        "{} mm in der Höhe eines Scheinwerfers, {} mm in seinem Abstand, {} mm in der Lage eines Messblatts";
        shown(most(&|lamp| lamp.centre_height_sd_mm)),
        shown(most(&|lamp| lamp.distance_sd_mm)),
        shown(findings.bays.own().marks.position_sd_mm)
    )
}

/// How sure the gauge is that the job gives.
fn gauge_sd(language: Language, findings: &Findings) -> String {
    format!("{} mbar", shortest(language, findings.job.adjuster.vacuum_sd.mbar(), 1))
}

/// The day of the photos, or the first and the last, by the camera's clock.
fn days_of_photos(language: Language, findings: &Findings) -> Option<String> {
    let day = |reading: &ShotReading| {
        let day = reading.capture.taken.as_deref()?.get(..10)?;
        day.parse::<toml::value::Datetime>().ok().map(|_| day.to_owned())
    };
    let days: Vec<String> = findings.readings.iter().filter_map(day).collect();
    let (first, last) = (days.iter().min()?, days.iter().max()?);
    let (from, to) = (date(language, first), date(language, last));
    let said = if first == last {
        said!(language; "photos of {from}", "Fotos vom {from}")
    } else {
        said!(language; "photos of {from} to {to}", "Fotos vom {from} bis {to}")
    };
    Some(match findings.readings.len() - days.len() {
        0 => said,
        without => said!(language; "{said}; without a time: {without}", "{said}; ohne Zeit: {without}"),
    })
}

/// Where somebody signs.
fn to_sign(language: Language) -> Block {
    let lines = [
        language.pick("Place, date", "Ort, Datum"),
        language.pick("Signature", "Unterschrift"),
    ];
    let lines = lines.map(|what| Block::Paragraph("sign-here", what.into()));
    Block::Group("to-sign", lines.to_vec())
}

/// What was found, a card for each lamp and stage.
pub(crate) fn found(language: Language, findings: &Findings, figures: &[Figure]) -> Section {
    let groups = findings.grouped_warnings(language);
    // What is to be known of the figures comes behind them.
    let notes: Vec<Block> = groups
        .iter()
        .map(|group| {
            let note =
                Block::note(said!(language; "Note, {}: {}", "Hinweis, {}: {}"; group.about(language), group.words));
            if group.photos.len() < 2 || group.is_of_lamp {
                return vec![note];
            }
            let names: Vec<String> = group.photos.iter().map(|photo| photo.display().to_string()).collect();
            vec![
                note,
                Block::Details(
                    language.pick("These photos", "Diese Fotos"),
                    vec![Block::note(format!("{}.", names.join(", ")))],
                ),
            ]
        })
        .collect::<Vec<_>>()
        .concat();
    let mut blocks = Vec::new();
    if findings.readings.is_empty() {
        blocks.push(Block::text(language.pick(
            "The job lists no photos, so nothing was found.",
            "Der Auftrag führt keine Fotos auf; es gibt keinen Befund.",
        )));
    } else {
        let mut cards: Vec<(Side, Option<Stage>)> = Vec::new();
        for shot in findings.readings.iter().map(|reading| &reading.shot) {
            if !cards.contains(&(shot.lamp, shot.stage)) {
                cards.push((shot.lamp, shot.stage));
            }
        }
        let cards = cards
            .into_iter()
            .map(|key| Block::Section(card(language, findings, key)));
        blocks.push(Block::Group("groups", cards.collect()));
        blocks.extend(plot_grid(figures.iter().filter(|f| f.subject == Subject::Travel)));
        blocks.push(Block::text(said!(
            language; "Inclination is how far the cut-off drops per 100 of distance: 1 % is 100 mm at 10 m. More is lower. Each \
             figure stands with the half-width of its 95 % interval. A beam “moves” when the whole interval of its travel \
             lies beyond {} %, and “does not move” when the whole interval lies within it.",
            "Die Neigung sagt, wie weit die Hell-Dunkel-Grenze je 100 Längeneinheiten Abstand abfällt: 1 % sind 100 mm auf 10 m. \
             Mehr ist tiefer. Bei jedem Wert steht die halbe Breite seines 95-%-Intervalls. Ein Lichtkegel „bewegt sich“, wenn \
             das ganze Intervall seines Stellwegs über {} % liegt, und „bewegt sich nicht“, wenn es ganz darunter liegt.";
            language.figure(&findings.adjuster.least_travel_percent.to_string())
        )));
        blocks.extend(method::confidence(language, findings).map(Block::text));
    }
    blocks.extend(notes);
    Section::new(language.pick("What was found", "Befund"), blocks)
}

/// What figures rest on that no photo shows, as it was entered.
pub(super) fn as_entered(language: Language, lamp: &Lamp) -> String {
    let number = |mm: f64| shortest(language, mm, 1);
    said!(
        language; "centre {} mm high, {} mm from the wall, x {} mm", "Mitte {} mm hoch, {} mm von der Wand, x {} mm";
        number(lamp.centre_height_mm),
        number(lamp.distance_mm),
        number(lamp.centre_x_mm)
    )
}

/// For the terminal: a line for each lamp that was photographed.
pub(super) fn entered(language: Language, findings: &Findings) -> Section {
    let photographed = |lamp: &&Lamp| findings.readings.iter().any(|r| r.shot.lamp == lamp.side);
    let name = |lamp: &Lamp| {
        let several = findings.job.lamp.iter().filter(|other| other.side == lamp.side).count() > 1;
        let (side, stem) = (lamp.side, lamp.side.stem());
        let name = said!(language; "{side} lamp as entered", "{stem}er Scheinwerfer wie eingetragen");
        match lamp.stage {
            _ if !several => name,
            Some(Stage::Before) => said!(language; "{name}, before the repair", "{name}, vor der Reparatur"),
            Some(Stage::After) => said!(language; "{name}, after the repair", "{name}, nach der Reparatur"),
            None => said!(language; "{name}, for the other stages", "{name}, für die anderen Aufnahmen"),
        }
    };
    let lines = (findings.job.lamp.iter().filter(photographed))
        .map(|lamp| Block::Remark(name(lamp), as_entered(language, lamp).into()));
    Section::new("", lines.collect())
}

/// One lamp at one stage.
fn card(language: Language, findings: &Findings, key: (Side, Option<Stage>)) -> Section {
    let adjuster = &findings.adjuster;
    let travel = adjuster.travel.iter().find(|t| (t.lamp, t.stage) == key);
    let pumped: Vec<_> = (adjuster.response.iter())
        .filter(|r| (r.lamp, r.stage) == key)
        .collect();
    let shut: Vec<_> = (adjuster.leak_down.iter())
        .filter(|l| (l.lamp, l.stage) == key)
        .collect();
    // Where all photos are of one setting nobody asked whether the control moves the beam.
    let own = || (findings.readings.iter()).filter(|r| (r.shot.lamp, r.shot.stage) == key);
    let is_tried =
        own().any(|r| own().any(|other| other.shot.position != r.shot.position)) || own().any(|r| r.shot.is_pumped());
    let mut lines: Vec<Text> = Vec::new();
    if let Some((movement, words)) = travel.and_then(|t| Some((t.movement?, travel_words(language, t)))) {
        lines.push(lead(
            movement,
            language.pick("Range control: the beam ", "Leuchtweitenregler: Der Lichtkegel "),
            &words,
        ));
    } else if is_tried && !pumped.iter().any(|r| r.movement.is_some()) && shut.is_empty() {
        let words = language.pick(
            " whether the beam moves: fewer than two positions were read.",
            ", ob der Lichtkegel sich bewegt: Weniger als zwei Stellungen wurden gemessen.",
        );
        lines.push(
            Text::default()
                .sign(Sign::Open)
                .strong(language.pick("Cannot tell", "Nicht feststellbar"))
                .plain(words),
        );
    }
    let by_pump = pumped.iter().filter_map(|one| Some((one, one.movement?)));
    lines.extend(by_pump.map(|(response, movement)| {
        lead(
            movement,
            language.pick("With the pump: the beam ", "Mit der Handpumpe: Der Lichtkegel "),
            &format!("{}{}", said(language, movement), adjuster::up_to(language, response)),
        )
    }));
    lines.extend((shut.iter()).map(|leak| {
        lead(
            leak.state,
            &format!("{}: ", valve_shut(language, findings, leak)),
            leak.state.said(language),
        )
    }));

    let mut items: Vec<Item> = Vec::new();
    items.extend(
        travel
            .iter()
            .flat_map(|t| &t.faults)
            .map(|f| sentence(&f.said(language)).into()),
    );
    for step in travel.iter().flat_map(|t| &t.steps) {
        let figures = said!(
            language; "Position {} to {}: {}, ", "Stellung {} bis {}: {}, ";
            step.from,
            step.to,
            travelled(language, step.percent, step.u95_percent)
        );
        items.push(Text::from(figures).bare_word(step.movement.said(language)).into());
    }
    items.extend(
        pumped
            .iter()
            .flat_map(|r| adjuster::response_words(language, r))
            .map(Item::from),
    );
    items.extend(shut.iter().map(|leak| {
        format!(
            "{}: {}",
            valve_shut(language, findings, leak),
            leak.finding.said(language)
        )
        .into()
    }));
    let of_card = findings.readings.iter().filter(|r| {
        let shot = &r.shot;
        (shot.lamp, shot.stage) == key && (shot.position.is_some() || shot.vacuum.is_none()) && !shot.sealed
    });
    // In the order of the positions, whenever each was photographed; one that names none first.
    let mut of_card: Vec<&ShotReading> = of_card.collect();
    in_order(&mut of_card, |reading| {
        reading.shot.position.as_deref().unwrap_or_default()
    });
    of_card.sort_by_key(|reading| reading.shot.position.is_some());
    items.extend(of_card.into_iter().map(|reading| {
        let at = reading.shot.position.as_ref();
        let said = readings::one_line_of(language, findings, reading);
        let at = match at {
            None => said!(language; "No position given", "Keine Stellung angegeben"),
            Some(position) => said!(language; "Position {position}", "Stellung {position}"),
        };
        Item {
            more: readings::settle(language, reading).unwrap_or_default(),
            ..Text::from(format!("{at}: ")).then(said).into()
        }
    }));
    let mut blocks: Vec<Block> = lines.into_iter().map(|line| Block::Paragraph("lead", line)).collect();
    let lamp = findings.readings.iter().find(|r| (r.shot.lamp, r.shot.stage) == key);
    blocks.extend(lamp.map(|r| {
        Block::Paragraph(
            "sub",
            said!(language; "As entered: {}.", "Wie eingetragen: {}."; as_entered(language, &r.lamp)).into(),
        )
    }));
    blocks.push(Block::List(List {
        items,
        ..List::default()
    }));
    Section::card("group", sentence(&lamp_and_stage(language, key.0, key.1)), blocks)
}

fn valve_shut(language: Language, findings: &Findings, leak: &LeakDown) -> String {
    let series = (leak.series.as_deref())
        .map(|name| format!(", {}", isolation::series_called(language, findings, name)))
        .unwrap_or_default();
    said!(language; "Pump's valve shut{series}", "Bei geschlossenem Pumpenventil{series}")
}

/// "↕ Range control: the beam moves."
fn lead(sign: impl Into<Sign>, of: &str, words: &str) -> Text {
    Text::default().sign(sign).plain(of).strong(words).plain(".")
}

fn said(language: Language, movement: Movement) -> &'static str {
    match movement {
        Movement::Moves => language.pick("moves", "bewegt sich"),
        Movement::Still => language.pick("does not move", "bewegt sich nicht"),
        Movement::CannotTell => language.pick(
            "cannot be said to move or to stand still",
            "bewegt sich nicht nachweisbar und steht auch nicht nachweisbar still",
        ),
    }
}

/// A whole lamp's movement in words.
fn travel_words(language: Language, travel: &LampTravel) -> String {
    let of = |movement: Movement| {
        let steps = travel.steps.iter().filter(|step| step.movement == movement);
        let steps: Vec<String> = steps
            .map(|step| said!(language; "from {} to {}", "von {} bis {}"; step.from, step.to))
            .collect();
        (!steps.is_empty()).then(|| listed(language, &steps))
    };
    let exceptions = [
        of(Movement::Still).map(|steps| said!(language; "not {steps}", "nicht {steps}")),
        of(Movement::CannotTell).map(
            |steps| said!(language; "whether also {steps} cannot be told", "ob auch {steps}, ist nicht feststellbar"),
        ),
    ];
    let exceptions: Vec<String> = exceptions.into_iter().flatten().collect();
    match travel.movement {
        Some(Movement::Moves) if !exceptions.is_empty() => said!(
            language; "moves, but {}", "bewegt sich, aber {}"; exceptions.join(language.pick(", and ", ", und "))
        ),
        Some(Movement::Moves) if travel.steps.len() > 1 => {
            said!(language; "moves at every step that was measured", "folgt bei jedem gemessenen Schritt")
        }
        movement => said(language, movement.unwrap_or(Movement::CannotTell)).to_owned(),
    }
}
