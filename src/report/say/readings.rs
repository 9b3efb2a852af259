//! What each photo gave: figures, verdicts, refusals, warnings.

use super::super::Error;
use super::super::document::{Block, Cell, Item, List, Section, Sign, Table, Text};
use super::super::picture;
use super::super::plots::Figure;
use super::super::text::{fixed, signed, u95};
use super::super::words::{likely, listed, plus_minus, setting, what_it_shows, within};
use super::{method, plot_grid};
use crate::adjuster::Movement;
use crate::aim::{Measured, Outcome, ShotReading, Verdict};
use crate::language::Language;
use crate::record::{Branch, Shot, is_setting};
use crate::refusal::Reason;
use crate::run::Findings;
use rayon::prelude::*;

/// More than this for a position's name would squeeze the figures.
const MOST_AT: usize = 13;

pub(super) fn verdict_of(reading: &ShotReading) -> Option<&Verdict> {
    reading.result.as_ref().ok()?.verdict.as_ref()
}

/// For the terminal: a line a shot.
pub(super) fn lines(findings: &Findings) -> Section {
    if findings.readings.is_empty() {
        let none = "No shots: add [[shot]] entries to the job file, one for each photo.";
        return Section::new("", vec![Block::text(none)]);
    }
    let all: Vec<&ShotReading> = findings.readings.iter().collect();
    Section::new("", vec![Block::Table(shot_table(&all))])
}

/// Shots, a line each.
pub(super) fn shot_table(readings: &[&ShotReading]) -> Table {
    let titles = [
        "photo",
        "lamp",
        "stage",
        "at",
        "inclination %",
        "reach",
        "band %",
        "verdict",
    ];
    let mut table = Table::new("", titles.map(|title| ("", title)));
    table.columns[0].path = true;
    table.columns[3].most = MOST_AT;
    // The reach follows from inclination and height; it is the column that one misses least.
    table.columns[5].spare = true;
    for reading in readings {
        let shot = &reading.shot;
        let mut row: Vec<Cell> = vec![
            shot.photo.display().to_string().into(),
            shot.lamp.to_string().into(),
            shot.stage.map(|s| s.to_string()).unwrap_or_default().into(),
            at(shot).into(),
        ];
        match &reading.result {
            Ok(measured) => row.extend(figures(measured)),
            Err(refusal) => row.push(Cell {
                span: 4,
                ..Cell::from(refused_word(refusal.reason))
            }),
        }
        table.rows.push(row);
    }
    table
}

fn figures(measured: &Measured) -> [Cell; 4] {
    let aim = &measured.aim;
    let reach = match aim.reach_m.filter(|m| m.is_finite()) {
        Some(reach_m) if reach_m < 1000.0 => format!("{reach_m:.0} m"),
        Some(_) => "> 999 m".to_owned(),
        None => String::new(),
    };
    let (band, verdict) = match &measured.verdict {
        Some(v) => (
            format!(
                "{}…{}",
                fixed(Language::English, v.band.low_percent, 2),
                fixed(Language::English, v.band.high_percent, 2)
            ),
            Text::default().word(v.outcome, v.outcome),
        ),
        None => (String::new(), Text::default()),
    };
    [
        plus_minus(Language::English, aim.inclination_percent, aim.u95_percent()).into(),
        reach.into(),
        band.into(),
        verdict.into(),
    ]
}

/// "refused: overexposed".
fn refused_word(reason: Reason) -> Text {
    Text::default()
        .word(Sign::Refused, "refused")
        .plain(format!(": {reason}"))
}

/// Position and vacuum in few columns.
fn at(shot: &Shot) -> String {
    let mut text = shot.position.clone().unwrap_or_default();
    if let Some(vacuum) = &shot.vacuum {
        if !text.is_empty() {
            text.push_str(", ");
        }
        text.push_str(&format!("{:.0} mbar", vacuum.mbar()));
    }
    if shot.sealed {
        text.push_str(" shut");
    } else if shot.branch == Some(Branch::Releasing) {
        text.push_str(" rel");
    }
    text
}

/// For the terminal: what the short words of the lines mean.
pub(super) fn legend(findings: &Findings) -> Section {
    let any = |of: fn(&Shot) -> bool| findings.readings.iter().any(|reading| of(&reading.shot));
    let mut blocks = Vec::new();
    if any(|s| s.branch == Some(Branch::Releasing) && !s.sealed) {
        blocks.push(Block::Remark("rel".to_owned(), "vacuum being released".into()));
    }
    if any(|s| s.sealed) {
        blocks.push(Block::Remark(
            "shut".to_owned(),
            "the pump's valve is shut (leak-down)".into(),
        ));
    }
    Section::new("", blocks)
}

/// For the terminal: what was refused and how to mend it, what would settle what is undecided, and the warnings.
pub(super) fn remarks(findings: &Findings) -> Section {
    let mut items = Vec::new();
    let photo = |reading: &ShotReading| format!("{}: ", reading.shot.photo.display());
    for reading in &findings.readings {
        if let Err(refusal) = &reading.result {
            items.push(Item::signed(
                Sign::Refused,
                format!("{}{}", photo(reading), refusal.english()),
            ));
        }
    }
    items.extend(undecided(findings));
    for group in findings.grouped_warnings(Language::English) {
        items.push(Item::signed(
            Sign::Beware,
            format!("{}: {}", group.about(Language::English), group.words),
        ));
    }
    if items.is_empty() {
        return Section::default();
    }
    let list = List {
        items,
        ..List::default()
    };
    Section::new("Before you rely on the figures", vec![Block::List(list)])
}

/// The undecided photos, and what would settle the first: that of the others is mostly the same, and stands with each photo
/// in the explanation.
fn undecided(findings: &Findings) -> Option<Item> {
    let verdict = |reading: &ShotReading| verdict_of(reading).filter(|v| v.outcome == Outcome::Undecided).cloned();
    let all: Vec<(String, Verdict)> = (findings.readings.iter())
        .filter_map(|reading| Some((reading.shot.photo.display().to_string(), verdict(reading)?)))
        .collect();
    let (photo, first) = all.first()?;
    let settle = |of: &str| {
        let settle = first.settle.as_ref();
        settle
            .map(|settle| format!("; to settle {of}, {settle}"))
            .unwrap_or_default()
    };
    let text = if all.len() == 1 {
        format!("{photo}: {}, {}{}", first.outcome, likely_inside(first), settle("it"))
    } else {
        let photos: Vec<String> = all.iter().map(|(photo, _)| photo.clone()).collect();
        let mut chances: Vec<f64> = all.iter().map(|(_, verdict)| verdict.probability_inside).collect();
        chances.sort_by(f64::total_cmp);
        let mut ends: Vec<String> = [chances[0], chances[chances.len() - 1]]
            .map(|chance| likely(Language::English, chance))
            .to_vec();
        ends.dedup();
        format!(
            "{}: {}, {} likely to be inside{}; `--explain` says it of each",
            listed(Language::English, &photos),
            first.outcome,
            ends.join(" to "),
            settle("the first")
        )
    };
    Some(Item::signed(Sign::Open, text))
}

pub(super) fn likely_inside(verdict: &Verdict) -> String {
    format!(
        "{} likely to be inside",
        likely(Language::English, verdict.probability_inside)
    )
}

/// A shot's figure and verdict, or its refusal, on one line.
pub(super) fn one_line(reading: &ShotReading) -> Text {
    let measured = match &reading.result {
        Ok(measured) => measured,
        Err(refusal) => {
            let why = format!(", {}", refused_because(refusal.reason));
            return Text::default().word(Sign::Refused, "refused").plain(why);
        }
    };
    let figure = inclination(measured);
    let Some(v) = &measured.verdict else {
        return format!("{figure}, not judged").into();
    };
    let allowed = format!(
        "{figure}, allowed {} % to {} %: ",
        fixed(Language::English, v.band.low_percent, 2),
        fixed(Language::English, v.band.high_percent, 2)
    );
    let text = Text::from(allowed).word(v.outcome, verdict_words(v, measured));
    if v.outcome == Outcome::Undecided {
        text.plain(format!(" (a limit lies within the interval; {})", likely_inside(v)))
    } else {
        text
    }
}

/// As [`one_line`]; a beam that stands still gets no good sign for a position at which it is inside only because it stands there.
pub(super) fn one_line_of(findings: &Findings, reading: &ShotReading) -> Text {
    let (said, shot) = (one_line(reading), &reading.shot);
    let travel = &findings.adjuster.travel;
    let mut of_lamp = travel
        .iter()
        .filter(|travel| (travel.lamp, travel.stage) == (shot.lamp, shot.stage));
    let stands = of_lamp.any(|travel| travel.movement == Some(Movement::Still));
    let is_inside = verdict_of(reading).is_some_and(|verdict| verdict.outcome == Outcome::Inside);
    if stands && is_inside && !is_setting(shot.position.as_deref()) {
        said.unsigned()
            .plain(", but only because the beam stands where it stood")
    } else {
        said
    }
}

/// What would settle an undecided verdict.
pub(super) fn settle(reading: &ShotReading) -> Option<Text> {
    let settle = verdict_of(reading)?.settle.as_ref()?;
    Some(Text::default().strong("To settle it:").plain(format!(" {settle}.")))
}

fn inclination(measured: &Measured) -> String {
    let aim = &measured.aim;
    format!(
        "{} % ± {} %",
        fixed(Language::English, aim.inclination_percent, 2),
        u95(Language::English, aim.u95_percent())
    )
}

fn verdict_words(v: &Verdict, measured: &Measured) -> String {
    match v.outcome {
        Outcome::Outside if measured.aim.inclination_percent < v.band.low_percent => "outside, too high".to_owned(),
        Outcome::Outside => "outside, too low".to_owned(),
        other => other.to_string(),
    }
}

/// A refusal's reason in plain words.
fn refused_because(reason: Reason) -> &'static str {
    match reason {
        Reason::UnreadablePhoto => "the file is no photo that can be read",
        Reason::MarksMissing => "too few of the marks were found",
        Reason::MarksDisagree => "the marks do not hang where the bay file says",
        Reason::Overexposed => "too much light at the cut-off",
        Reason::Underexposed => "too little light at the cut-off",
        Reason::Blurred => "out of focus, or shaken",
        Reason::NoCutoff => "there is no cut-off where there should be one",
        Reason::CutoffUnsharp => "the cut-off is too soft to say where it is",
        Reason::SecondCutoff => "a second edge of light lies beside the first",
        Reason::CutoffOutOfFrame => "the cut-off leaves the photo where it must be read",
        Reason::NotLevel => "the edge is too far from level to be a cut-off",
    }
}

/// The refused photos, each with its mend.
pub(crate) fn refused(findings: &Findings) -> Option<Section> {
    let mut blocks = vec![Block::text(
        "A photo that could give a wrong figure gives none. Mend what is named and take it again.",
    )];
    for reading in &findings.readings {
        let Err(refusal) = &reading.result else { continue };
        let why = format!("Refused: {}.", refused_because(refusal.reason));
        let text = Text::default().strong(why).plain(format!(" {}", refusal.english()));
        let photo = Text::default()
            .sign(Sign::Refused)
            .plain(reading.shot.photo.display().to_string());
        let shows = Block::Paragraph("sub", what_it_shows(Language::English, &reading.shot).into());
        let again = (taken_again(findings, reading).into_iter())
            .map(|other| {
                let photo = other.shot.photo.display();
                Block::text(
                    Text::from(format!("Taken again: {photo}, "))
                        .then(one_line(other))
                        .plain("."),
                )
            })
            .collect();
        blocks.push(Block::Section(Section::card(
            "refusal",
            photo,
            [vec![shows, Block::text(text)], again].concat(),
        )));
    }
    (blocks.len() > 1).then(|| Section::new("What was refused, and how to mend it", blocks))
}

/// A photo of the same that gave a figure.
fn taken_again<'a>(findings: &'a Findings, refused: &ShotReading) -> Option<&'a ShotReading> {
    let shows = |reading: &ShotReading| {
        let shot = &reading.shot;
        let of_lamp = (shot.lamp, shot.stage, shot.position.clone());
        (
            of_lamp,
            shot.vacuum.map(|vacuum| vacuum.mbar().to_bits()),
            shot.branch,
            shot.sealed,
        )
    };
    // Photos of a series are each of another moment.
    let mut others = findings.readings.iter().filter(|_| !refused.shot.sealed);
    others.find(|other| other.result.is_ok() && shows(other) == shows(refused))
}

/// All readings, a row each.
pub(crate) fn table(findings: &Findings) -> Option<Section> {
    let mut table = Table::new(
        "cards",
        [
            ("name", "Photo"),
            ("", "Lamp"),
            ("", "Stage"),
            ("at", "Range control"),
            ("figure", "Inclination, %"),
            ("figure", "Drop, mm"),
            ("figure", "Reach, m"),
            ("figure", "Allowed, %"),
            ("", "Verdict"),
        ],
    );
    for reading in &findings.readings {
        let shot = &reading.shot;
        let measured = reading.result.as_ref().ok();
        let aim = measured.map(|m| &m.aim);
        let verdict = verdict_of(reading);
        let came_to = match (&reading.result, verdict) {
            (Ok(m), Some(v)) => {
                let band = if v.setting { "setting" } else { "range" };
                Text::default()
                    .word(v.outcome, verdict_words(v, m))
                    .plain(format!(" ({band})"))
            }
            // No rule judges where a pump drives the beam.
            (Ok(_), None) if shot.is_pumped() => Text::default(),
            (Ok(_), None) => "not judged".into(),
            (Err(refusal), _) => refused_word(refusal.reason),
        };
        let allowed = |v: &Verdict| {
            format!(
                "{} to {}",
                fixed(Language::English, v.band.low_percent, 2),
                fixed(Language::English, v.band.high_percent, 2)
            )
        };
        let reach_m = aim.and_then(|a| a.reach_m).filter(|m| m.is_finite());
        table.row([
            shot.photo.display().to_string().into(),
            shot.lamp.to_string().into(),
            shot.stage.map(|s| s.to_string()).unwrap_or_default().into(),
            setting(Language::English, shot).into(),
            aim.map(|a| within(Language::English, a.inclination_percent, a.u95_percent()))
                .unwrap_or_default()
                .into(),
            aim.map(|a| fixed(Language::English, a.drop_mm, 0))
                .unwrap_or_default()
                .into(),
            reach_m
                .map(|r| fixed(Language::English, r, 0))
                .unwrap_or_default()
                .into(),
            verdict.map(allowed).unwrap_or_default().into(),
            came_to.into(),
        ]);
    }
    let noted = table.noted(
        "Inclination, drop and reach are those of the cut-off: the drop is below the lamp's centre at the wall; the reach \
         is where the cut-off meets a level road. ± is the half-width of the 95 % interval with everything in it.",
    );
    (!noted.is_empty()).then(|| Section::new("All readings", noted))
}

/// The plots of where the beam is, and how well that is known.
pub(super) fn plots(figures: &[Figure]) -> Option<Section> {
    let grid = plot_grid(figures.iter().filter(|f| !f.is_of_adjuster()))?;
    Some(Section::new("Plots", vec![grid]))
}

/// "2031-03-04 20:15:00".
pub(super) fn taken(reading: &ShotReading) -> Option<String> {
    reading.capture.taken.as_ref().map(|t| t.replace('T', " "))
}

/// Each photo with its pictures and all that was read from it.
pub(crate) fn photos(findings: &Findings) -> Result<Option<Section>, Error> {
    let pictures = findings
        .readings
        .par_iter()
        .map(|reading| picture::pictures(reading, findings.bays.of(&reading.lamp), findings.job.traffic))
        .collect::<Result<Vec<_>, Error>>()?;
    let mut cards = Vec::new();
    for (reading, pictures) in findings.readings.iter().zip(pictures) {
        let taken = taken(reading).map(|t| format!("; taken {t}")).unwrap_or_default();
        let bay = findings.bays.of(&reading.lamp);
        let on = if findings.bays.are_several() {
            format!("; bay: {}", bay.name)
        } else {
            String::new()
        };
        let shows = format!("{}{taken}{on}", what_it_shows(Language::English, &reading.shot));
        let mut blocks = vec![Block::Paragraph("sub", shows.into()), Block::text(one_line(reading))];
        blocks.extend(settle(reading).map(Block::text));
        blocks.push(if pictures.is_empty() {
            Block::note("There is no picture of this photo square to the wall.")
        } else {
            Block::Group("pictures", vec![Block::Pictures(pictures)])
        });
        match &reading.result {
            Ok(measured) => {
                blocks.push(Block::Facts("facts", facts(findings, reading, measured)));
                let warnings = measured.warnings.iter();
                blocks.extend(warnings.map(|w| Block::text(Text::default().strong("Note:").plain(format!(" {w}")))));
                blocks.push(method::budget(&measured.aim));
            }
            Err(refusal) => blocks.push(Block::text(refusal.english())),
        }
        let photo = reading.shot.photo.display().to_string();
        cards.push(Block::Section(Section::card("shot", photo, blocks)));
    }
    Ok((!cards.is_empty()).then(|| Section::new("Each photo", vec![Block::Group("shots", cards)])))
}

/// The inclination of an edge at this height on a reading's wall, %.
fn percent_at(findings: &Findings, reading: &ShotReading, y_mm: f64) -> f64 {
    crate::aim::inclination_at_percent(y_mm, &reading.lamp, findings.bays.of(&reading.lamp))
}

/// What the eye would make of the lamp for which that differs most, where it differs by more than the reading's uncertainty.
pub(super) fn by_eye(findings: &Findings) -> Option<Text> {
    let judged = findings.readings.iter().filter(|reading| verdict_of(reading).is_some());
    let apart = judged.filter_map(|reading| {
        let measured = reading.result.as_ref().ok()?;
        let half = percent_at(findings, reading, measured.aim.cutoff.threshold_y_mm?);
        let apart = (half - measured.aim.inclination_percent).abs();
        (apart > measured.aim.u95_percent()).then_some((apart, half, reading, measured))
    });
    let (_, half, reading, measured) = apart.max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(Text::from(format!(
        "Where the light falls to half of its brightness, which is near what an eye takes for the edge, the {} lamp would come out at {} % \
         and not at {} % ({}). All figures here are read where the rules have the cut-off, at the steepest step in the logarithm of \
         the light; compare them only with what was read alike.",
        reading.shot.lamp,
        fixed(Language::English, half, 2),
        fixed(Language::English, measured.aim.inclination_percent, 2),
        reading.shot.photo.display()
    )))
}

fn facts(findings: &Findings, reading: &ShotReading, measured: &Measured) -> Vec<(&'static str, Text)> {
    let (aim, cutoff) = (&measured.aim, &measured.aim.cutoff);
    let reach_m = aim.reach_m.filter(|m| m.is_finite());
    let mut facts = vec![
        ("Inclination", inclination(measured)),
        (
            "As an angle",
            format!("{}°", fixed(Language::English, aim.angle_deg, 3)),
        ),
        (
            "Drop at the wall",
            format!("{} mm", fixed(Language::English, aim.drop_mm, 1)),
        ),
        (
            "Reach",
            reach_m.map_or_else(
                || "does not come down".to_owned(),
                |r| format!("{} m", fixed(Language::English, r, 1)),
            ),
        ),
        (
            "Sharpness G",
            format!(
                "{}{}",
                fixed(Language::English, cutoff.sharpness_g, 2),
                method::sharpness(cutoff.sharpness_g)
            ),
        ),
        (
            "Linearity",
            format!("{}°", fixed(Language::English, cutoff.linearity_deg, 2)),
        ),
        ("Tilt", format!("{}°", signed(Language::English, cutoff.tilt_deg, 2))),
        ("Pattern", cutoff.pattern.to_string()),
    ];
    if let Some(elbow) = &cutoff.elbow {
        let lateral = aim.elbow_lateral_percent.zip(aim.elbow_lateral_u95_percent);
        let beside = |(percent, u95): (f64, f64)| {
            format!(
                "{} ± {} %",
                signed(Language::English, percent, 2),
                fixed(Language::English, u95, 2)
            )
        };
        facts.extend(lateral.map(|lateral| ("Elbow beside V-V", beside(lateral))));
        facts.push(("Kick", format!("{}°", fixed(Language::English, elbow.kick_deg, 1))));
    }
    let percent_at = |y_mm: f64| format!("{} %", fixed(Language::English, percent_at(findings, reading, y_mm), 2));
    facts.extend(
        cutoff
            .plain_y_mm
            .map(|y_mm| ("Steepest fall of light", percent_at(y_mm))),
    );
    facts.extend(cutoff.threshold_y_mm.map(|y_mm| ("Half brightness", percent_at(y_mm))));
    facts.into_iter().map(|(name, value)| (name, value.into())).collect()
}
