//! What the page says first: whose job it is, and what was found, lamp by lamp.

use super::super::Error;
use super::super::document::{Block, Item, List, Section, Sign, Text};
use super::super::plots::{Figure, Subject};
use super::super::text::{fixed, round, u95};
use super::super::words::{direction, lamp_and_stage, listed, sentence};
use super::{adjuster, answer, beside, made_photos, method, plot_grid, readings};
use crate::PROGRAM;
use crate::adjuster::{LampTravel, LeakDown, Movement};
use crate::language::Language;
use crate::record::{Lamp, Side, Stage};
use crate::run::Findings;

/// Whose job it is, and what the page is not.
pub(super) fn opening(findings: &Findings) -> Result<Vec<Block>, Error> {
    let job = &findings.job;
    let listed = findings.readings.len();
    let refused = findings.readings.iter().filter(|r| r.result.is_err()).count();
    let mut facts: Vec<(&'static str, Text)> = Vec::new();
    if let Some(vehicle) = &job.vehicle {
        let in_km = vehicle
            .odometer_km
            .map(|km| format!("{} km", fixed(Language::English, km, 0)));
        let odometer = vehicle.odometer.as_ref().map(ToString::to_string);
        let odometer = [odometer, in_km].into_iter().flatten().collect::<Vec<_>>().join("; ");
        let odometer = Some(odometer).filter(|said| !said.is_empty());
        let more = [
            ("Vehicle", vehicle.description.clone()),
            ("Registration", vehicle.registration.clone()),
            ("Odometer", odometer),
            ("Identification", vehicle.identification.clone()),
            ("Load", vehicle.load.clone()),
        ];
        facts.extend(more.into_iter().filter_map(|(name, value)| Some((name, value?.into()))));
    }
    if let Some(workshop) = &job.workshop {
        let more = [
            ("Workshop", workshop.name.clone()),
            ("Measured by", workshop.measured_by.clone()),
            ("Date", workshop.date.clone()),
            (
                "Lengths by",
                workshop
                    .tape
                    .as_ref()
                    .map(|tape| instrument(tape, &lengths_sd(findings))),
            ),
            (
                "Vacuum by",
                workshop
                    .gauge
                    .as_ref()
                    .map(|gauge| instrument(gauge, &gauge_sd(findings))),
            ),
        ];
        facts.extend(more.into_iter().filter_map(|(name, value)| Some((name, value?.into()))));
    }
    facts.extend((job.repair.iter()).map(|repair| ("Repaired", answer::repair_words(findings, repair).into())));
    facts.extend([
        (
            "Bay",
            findings
                .bays
                .all()
                .map(|bay| bay.name.as_str())
                .collect::<Vec<_>>()
                .join("; ")
                .into(),
        ),
        ("Built for", format!("{}-hand traffic", job.traffic).into()),
        (
            "Photos",
            format!("{listed} listed, {} gave a figure, {refused} refused", listed - refused).into(),
        ),
        ("Read by", PROGRAM.into()),
    ]);
    let mut blocks = answer::opening(findings);
    blocks.extend(beside::pictures(findings)?);
    blocks.push(Block::Facts("head", facts));
    if job.made_photos {
        blocks.push(Block::Paragraph("banner", made_photos(" in this report").into()));
    }
    blocks.push(Block::Paragraph("law", crate::DISCLAIMER.into()));
    Ok(blocks)
}

/// An instrument with how sure it is taken to be.
fn instrument(named: &str, sd: &str) -> String {
    format!("{named}; taken as sure to {sd}, one standard deviation")
}

/// How sure the lengths are that the job gives.
fn lengths_sd(findings: &Findings) -> String {
    let most = |of: &dyn Fn(&Lamp) -> f64| findings.job.lamp.iter().map(of).fold(0.0, f64::max);
    format!(
        "{} mm in a lamp's height, {} mm in its distance, {} mm in a sheet's place",
        round(most(&|lamp| lamp.centre_height_sd_mm), 2),
        round(most(&|lamp| lamp.distance_sd_mm), 2),
        round(findings.bays.own().marks.position_sd_mm, 2)
    )
}

/// How sure the gauge is that the job gives.
fn gauge_sd(findings: &Findings) -> String {
    format!("{} mbar", round(findings.job.adjuster.vacuum_sd.mbar(), 1))
}

/// Where somebody signs, where the job says who measured.
pub(super) fn signed(findings: &Findings) -> Option<Section> {
    findings.job.workshop.as_ref()?;
    let lines = ["Place, date", "Signature"].map(|what| Block::Paragraph("sign-here", what.into()));
    Some(Section::new("Signed", lines.to_vec()))
}

/// What was found, a card for each lamp and stage.
pub(crate) fn found(findings: &Findings, figures: &[Figure]) -> Section {
    let groups = findings.grouped_warnings(Language::English);
    let mut blocks: Vec<Block> = groups
        .iter()
        .map(|group| {
            let note = Block::note(format!("Note, {}: {}", group.about(Language::English), group.words));
            if group.photos.len() < 2 {
                return vec![note];
            }
            let names: Vec<String> = group.photos.iter().map(|photo| photo.display().to_string()).collect();
            vec![
                note,
                Block::Details("These photos", vec![Block::note(format!("{}.", names.join(", ")))]),
            ]
        })
        .collect::<Vec<_>>()
        .concat();
    if findings.readings.is_empty() {
        blocks.push(Block::text("The job lists no photos, so nothing was found."));
    } else {
        blocks.push(Block::text(format!(
            "Inclination is how far the cut-off drops per 100 of distance: 1 % is 100 mm at 10 m. More is lower. Each \
             figure stands with the half-width of its 95 % interval. A beam “moves” when the whole interval of its travel \
             lies beyond {} %, and “does not move” when the whole interval lies within it.",
            findings.adjuster.least_travel_percent
        )));
        blocks.extend(method::confidence(findings).map(Block::text));
        let mut cards: Vec<(Side, Option<Stage>)> = Vec::new();
        for shot in findings.readings.iter().map(|reading| &reading.shot) {
            if !cards.contains(&(shot.lamp, shot.stage)) {
                cards.push((shot.lamp, shot.stage));
            }
        }
        let cards = cards.into_iter().map(|key| Block::Section(card(findings, key)));
        blocks.push(Block::Group("groups", cards.collect()));
        blocks.extend(plot_grid(figures.iter().filter(|f| f.subject == Subject::Travel)));
    }
    Section::new("What was found", blocks)
}

/// What figures rest on that no photo shows, as it was entered.
pub(super) fn as_entered(lamp: &Lamp) -> String {
    let number = |mm: f64| round(mm, 1);
    format!(
        "centre {} mm high, {} mm from the wall, x {} mm",
        number(lamp.centre_height_mm),
        number(lamp.distance_mm),
        number(lamp.centre_x_mm)
    )
}

/// For the terminal: a line for each lamp that was photographed.
pub(super) fn entered(findings: &Findings) -> Section {
    let photographed = |lamp: &&Lamp| findings.readings.iter().any(|r| r.shot.lamp == lamp.side);
    let name = |lamp: &Lamp| {
        let several = findings.job.lamp.iter().filter(|other| other.side == lamp.side).count() > 1;
        match lamp.stage {
            _ if !several => format!("{} lamp as entered", lamp.side),
            Some(stage) => format!("{} lamp as entered, {stage} the repair", lamp.side),
            None => format!("{} lamp as entered, for the other stages", lamp.side),
        }
    };
    let lines =
        (findings.job.lamp.iter().filter(photographed)).map(|lamp| Block::Remark(name(lamp), as_entered(lamp).into()));
    Section::new("", lines.collect())
}

/// One lamp at one stage.
fn card(findings: &Findings, key: (Side, Option<Stage>)) -> Section {
    let adjuster = &findings.adjuster;
    let travel = adjuster.travel.iter().find(|t| (t.lamp, t.stage) == key);
    let pumped: Vec<_> = (adjuster.response.iter())
        .filter(|r| (r.lamp, r.stage) == key)
        .collect();
    let shut: Vec<_> = (adjuster.leak_down.iter())
        .filter(|l| (l.lamp, l.stage) == key)
        .collect();
    let mut lines: Vec<Text> = Vec::new();
    if let Some((movement, words)) = travel.and_then(|t| Some((t.movement?, travel_words(t)))) {
        lines.push(lead(movement, "Range control: the beam ", &words));
    } else if !pumped.iter().any(|r| r.movement.is_some()) && shut.is_empty() {
        let words = " whether the beam moves: fewer than two positions were read.";
        lines.push(Text::default().sign(Sign::Open).strong("Cannot tell").plain(words));
    }
    let by_pump = pumped.iter().filter_map(|response| response.movement);
    lines.extend(by_pump.map(|movement| lead(movement, "With the pump: the beam ", said(movement))));
    lines.extend(
        (shut.iter()).map(|leak| lead(leak.state, &format!("{}: ", valve_shut(leak)), &leak.state.to_string())),
    );

    let mut items: Vec<Item> = Vec::new();
    items.extend(
        travel
            .iter()
            .flat_map(|t| &t.faults)
            .map(|f| sentence(&f.to_string()).into()),
    );
    for step in travel.iter().flat_map(|t| &t.steps) {
        let figures = format!(
            "Position {} to {}: {} {} % ± {} %, ",
            step.from,
            step.to,
            direction(Language::English, step.percent),
            fixed(Language::English, step.percent.abs(), 2),
            u95(Language::English, step.u95_percent)
        );
        items.push(Text::from(figures).bare_word(step.movement).into());
    }
    items.extend(pumped.iter().flat_map(|r| adjuster::response_words(r)).map(Item::from));
    items.extend(
        shut.iter()
            .map(|leak| format!("{}: {}", valve_shut(leak), leak.finding).into()),
    );
    let of_card = findings.readings.iter().filter(|r| {
        let shot = &r.shot;
        (shot.lamp, shot.stage) == key && (shot.position.is_some() || shot.vacuum.is_none()) && !shot.sealed
    });
    items.extend(of_card.map(|reading| {
        let at = reading.shot.position.as_ref();
        let said = readings::one_line_of(findings, reading);
        let at = at.map_or_else(|| "No position given".to_owned(), |p| format!("Position {p}"));
        Item {
            more: readings::settle(reading).unwrap_or_default(),
            ..Text::from(format!("{at}: ")).then(said).into()
        }
    }));
    let mut blocks: Vec<Block> = lines.into_iter().map(|line| Block::Paragraph("lead", line)).collect();
    let lamp = findings.readings.iter().find(|r| (r.shot.lamp, r.shot.stage) == key);
    blocks.extend(lamp.map(|r| Block::Paragraph("sub", format!("As entered: {}.", as_entered(&r.lamp)).into())));
    blocks.push(Block::List(List {
        items,
        ..List::default()
    }));
    Section::card(
        "group",
        sentence(&lamp_and_stage(Language::English, key.0, key.1)),
        blocks,
    )
}

fn valve_shut(leak: &LeakDown) -> String {
    let series = leak.series.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
    format!("Pump's valve shut{series}")
}

/// "↕ Range control: the beam moves."
fn lead(sign: impl Into<Sign>, of: &str, words: &str) -> Text {
    Text::default().sign(sign).plain(of).strong(words).plain(".")
}

fn said(movement: Movement) -> &'static str {
    match movement {
        Movement::Moves => "moves",
        Movement::Still => "does not move",
        Movement::CannotTell => "cannot be said to move or to stand still",
    }
}

/// A whole lamp's movement in words.
fn travel_words(travel: &LampTravel) -> String {
    let of = |movement: Movement| {
        let steps = travel.steps.iter().filter(|step| step.movement == movement);
        let steps: Vec<String> = steps.map(|step| format!("from {} to {}", step.from, step.to)).collect();
        (!steps.is_empty()).then(|| listed(Language::English, &steps))
    };
    let exceptions = [
        of(Movement::Still).map(|steps| format!("not {steps}")),
        of(Movement::CannotTell).map(|steps| format!("whether also {steps} cannot be told")),
    ];
    let exceptions: Vec<String> = exceptions.into_iter().flatten().collect();
    match travel.movement {
        Some(Movement::Moves) if !exceptions.is_empty() => format!("moves, but {}", exceptions.join(", and ")),
        Some(Movement::Moves) if travel.steps.len() > 1 => "moves at every step".to_owned(),
        movement => said(movement.unwrap_or(Movement::CannotTell)).to_owned(),
    }
}
