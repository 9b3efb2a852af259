//! What each photo gave: figures, verdicts, refusals, warnings.

use super::super::Error;
use super::super::document::{Block, Cell, Item, List, Section, Sign, Table, Text};
use super::super::picture;
use super::super::plots::Figure;
use super::super::text::{date, fixed, signed};
use super::super::words::{Judged, likely, listed, setting, what_it_shows};
use super::{answer, method, plot_grid};
use crate::adjuster::Movement;
use crate::aim::{Measured, Outcome, ShotReading, Verdict};
use crate::language::{Language, said};
use crate::record::{Branch, Shot, Side, Stage, in_order, is_setting};
use crate::refusal::Reason;
use crate::run::Findings;
use rayon::prelude::*;

/// More than this for a position's name would squeeze the figures.
const MOST_AT: usize = 13;

pub(super) fn verdict_of(reading: &ShotReading) -> Option<&Verdict> {
    reading.result.as_ref().ok()?.verdict.as_ref()
}

/// For the terminal: a line a shot.
pub(super) fn lines(language: Language, findings: &Findings) -> Section {
    if findings.readings.is_empty() {
        let none = language.pick(
            "No shots: add [[shot]] entries to the job file, one for each photo.",
            "Keine Aufnahmen: in der Auftragsdatei [[shot]] eintragen, für jedes Foto eines.",
        );
        return Section::new("", vec![Block::text(none)]);
    }
    let all: Vec<&ShotReading> = findings.readings.iter().collect();
    Section::new("", vec![Block::Table(shot_table(language, &all))])
}

/// Shots, a line each.
pub(super) fn shot_table(language: Language, readings: &[&ShotReading]) -> Table {
    let titles = [
        language.pick("photo", "Foto"),
        language.pick("lamp", "Seite"),
        language.pick("stage", "wann"),
        language.pick("at", "bei"),
        language.pick("inclination %", "Neigung %"),
        language.pick("reach", "Weite"),
        language.pick("band %", "zul. %"),
        language.pick("verdict", "Urteil"),
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
            shot.lamp.said(language).into(),
            stage_short(language, shot.stage).into(),
            at(language, shot).into(),
        ];
        match &reading.result {
            Ok(measured) => row.extend(figures(language, measured)),
            Err(refusal) => row.push(Cell {
                span: 4,
                ..Cell::from(refused_word(language, refusal.reason))
            }),
        }
        table.rows.push(row);
    }
    table
}

/// When a photo was taken, in the fewest letters: so that the reach finds room in 80 columns.
fn stage_short(language: Language, stage: Option<Stage>) -> &'static str {
    match stage {
        None => "",
        Some(Stage::Before) => language.pick("before", "vor"),
        Some(Stage::After) => language.pick("after", "nach"),
    }
}

fn figures(language: Language, measured: &Measured) -> [Cell; 4] {
    let aim = &measured.aim;
    let reach = match aim.reach_m.filter(|m| m.is_finite()) {
        Some(reach_m) if reach_m < 1000.0 => format!("{reach_m:.0} m"),
        Some(_) => "> 999 m".to_owned(),
        None => String::new(),
    };
    let shown = Judged::of(language, measured);
    let band = shown.band.as_ref().map(|[low, high]| format!("{low}…{high}"));
    let verdict = (measured.verdict.as_ref()).map(|v| Text::default().word(v.unloaded(), short_verdict(language, v)));
    [
        shown.plus_minus().into(),
        reach.into(),
        band.unwrap_or_default().into(),
        verdict.unwrap_or_default().into(),
    ]
}

/// "refused: overexposed", "abgelehnt: überbelichtet".
fn refused_word(language: Language, reason: Reason) -> Text {
    Text::default()
        .word(Sign::Refused, language.pick("refused", "abgelehnt"))
        .plain(format!(": {}", reason.said(language)))
}

/// Position and vacuum in few columns.
fn at(language: Language, shot: &Shot) -> String {
    let mut text = shot.position.clone().unwrap_or_default();
    if let Some(vacuum) = &shot.vacuum {
        if !text.is_empty() {
            text.push_str(", ");
        }
        text.push_str(&format!("{:.0} mbar", vacuum.mbar()));
    }
    if shot.sealed {
        text.push_str(language.pick(" shut", " zu"));
    } else if shot.branch == Some(Branch::Releasing) {
        text.push_str(language.pick(" rel", " ab"));
    }
    text
}

/// For the terminal: what the short words of the lines mean.
pub(super) fn legend(language: Language, findings: &Findings) -> Section {
    let any = |of: fn(&Shot) -> bool| findings.readings.iter().any(|reading| of(&reading.shot));
    let mut blocks = Vec::new();
    if any(|s| s.branch == Some(Branch::Releasing) && !s.sealed) {
        blocks.push(Block::Remark(
            said!(language; "rel", "ab"),
            language
                .pick("vacuum being released", "Unterdruck wird abgelassen")
                .into(),
        ));
    }
    if any(|s| s.sealed) {
        blocks.push(Block::Remark(
            said!(language; "shut", "zu"),
            language
                .pick(
                    "the pump's valve is shut (leak-down)",
                    "das Ventil der Pumpe ist zu (Dichtheitsprüfung)",
                )
                .into(),
        ));
    }
    Section::new("", blocks)
}

/// For the terminal: what was refused and how to mend it, what would settle what is undecided, and the warnings. With `explain`, each
/// undecided photo by itself.
pub(super) fn remarks(language: Language, findings: &Findings, explain: bool) -> Section {
    let mut items = Vec::new();
    let photo = |reading: &ShotReading| format!("{}: ", reading.shot.photo.display());
    for reading in &findings.readings {
        if let Err(refusal) = &reading.result {
            items.push(Item::signed(
                Sign::Refused,
                format!("{}{}", photo(reading), refusal.message.within(language)),
            ));
        }
    }
    items.extend(undecided(language, findings, explain));
    for group in findings.grouped_warnings(language) {
        let key = group.key.map_or_else(
            String::new,
            |key| said!(language; " (in a job file: {key})", " (in einer Auftragsdatei: {key})"),
        );
        items.push(Item::signed(
            Sign::Beware,
            format!("{}: {}{key}", group.about(language), group.words),
        ));
    }
    if items.is_empty() {
        return Section::default();
    }
    let list = List {
        items,
        ..List::default()
    };
    Section::new(
        language.pick("Before you rely on the figures", "Vor Verwendung der Werte zu beachten"),
        vec![Block::List(list)],
    )
}

/// The undecided photos, and what would settle the first: that of the others is mostly the same, and stands with each photo
/// in the explanation.
fn undecided(language: Language, findings: &Findings, explain: bool) -> Vec<Item> {
    let verdict = |reading: &ShotReading| {
        verdict_of(reading)
            .filter(|v| v.outcome == Outcome::Undecided && !v.load_decides)
            .cloned()
    };
    let all: Vec<(String, Verdict)> = (findings.readings.iter())
        .filter_map(|reading| Some((reading.shot.photo.display().to_string(), verdict(reading)?)))
        .collect();
    let settle = |of: &Verdict, english: &str, german: &str| {
        let settle = of.settled();
        let settle = settle.as_ref().map(|settle| settle.within(language));
        settle
            .map(|settle| said!(language; "; to settle {english}, {settle}", "; um {german} zu klären: {settle}"))
            .unwrap_or_default()
    };
    if explain || all.len() < 2 {
        let each = all.iter().map(|(photo, verdict)| {
            let text = format!(
                "{photo}: {}, {}{}",
                verdict.outcome.said(language),
                likely_inside(language, verdict),
                settle(verdict, "it", "es")
            );
            Item::signed(Sign::Open, text)
        });
        return each.collect();
    }
    let photos: Vec<String> = all.iter().map(|(photo, _)| photo.clone()).collect();
    let mut chances: Vec<f64> = all.iter().map(|(_, verdict)| verdict.probability_inside).collect();
    chances.sort_by(f64::total_cmp);
    let mut ends: Vec<String> = [chances[0], chances[chances.len() - 1]]
        .map(|chance| likely(language, chance))
        .to_vec();
    ends.dedup();
    let text = said!(
        language; "{}: {}, {} likely to be inside{}; `--explain` says it of each",
        "{}: {}, mit {} Wahrscheinlichkeit innerhalb{}; `--explain` sagt es von jedem";
        listed(language, &photos),
        all[0].1.outcome.said(language),
        ends.join(language.pick(" to ", " bis ")),
        settle(&all[0].1, "the first", "das erste")
    );
    vec![Item::signed(Sign::Open, text)]
}

pub(super) fn likely_inside(language: Language, verdict: &Verdict) -> String {
    said!(
        language; "{} likely to be inside", "mit {} Wahrscheinlichkeit innerhalb";
        likely(language, verdict.probability_inside)
    )
}

/// A shot's figure and verdict, or its refusal, on one line.
pub(super) fn one_line(language: Language, reading: &ShotReading) -> Text {
    let measured = match &reading.result {
        Ok(measured) => measured,
        Err(refusal) => {
            let why = format!(", {}", refused_because(language, refusal.reason));
            return Text::default()
                .word(Sign::Refused, language.pick("refused", "abgelehnt"))
                .plain(why);
        }
    };
    let shown = Judged::of(language, measured);
    let figure = shown.with_unit();
    let (Some(v), Some([low, high])) = (&measured.verdict, &shown.band) else {
        return said!(language; "{figure}, not judged", "{figure}, nicht beurteilt").into();
    };
    let allowed =
        said!(language; "{figure}, allowed {low} % to {high} %: ", "{figure}, zulässig {low} % bis {high} %: ");
    let text = Text::from(allowed).word(v.unloaded(), verdict_words(language, v, measured));
    if v.load_decides {
        text.plain(language.pick(
            " (the lower end counts with the load that the position is for; without it the beam hangs lower, and that is no fault)",
            " (die untere Grenze gilt mit der Beladung, für die die Stellung ist; ohne sie hängt der Lichtkegel tiefer, und das ist kein Fehler)",
        ))
    } else if v.outcome == Outcome::Undecided {
        text.plain(said!(
            language; " (a limit lies within the interval; {})", " (eine Grenze liegt im Intervall; {})";
            likely_inside(language, v)
        ))
    } else {
        text
    }
}

/// The figures of the photos that gave one, a line each: what stands first when a photo was sent.
pub(crate) fn at_once(language: Language, findings: &Findings) -> Section {
    let read = findings.readings.iter().filter(|reading| reading.result.is_ok());
    let lines = read.map(|reading| Block::Paragraph("lead", one_line(language, reading)));
    let mut blocks: Vec<Block> = lines.collect();
    if !blocks.is_empty() {
        blocks.extend(answer::drawn_photos(language, findings, "note"));
    }
    Section::part("answer", "", blocks)
}

/// As [`one_line`]; a beam that stands still gets no good sign for a position at which it is inside only because it stands there.
pub(super) fn one_line_of(language: Language, findings: &Findings, reading: &ShotReading) -> Text {
    let (said, shot) = (one_line(language, reading), &reading.shot);
    let travel = &findings.adjuster.travel;
    let mut of_lamp = travel
        .iter()
        .filter(|travel| (travel.lamp, travel.stage) == (shot.lamp, shot.stage));
    let stands = of_lamp.any(|travel| travel.movement == Some(Movement::Still));
    let is_inside = verdict_of(reading).is_some_and(|verdict| verdict.outcome == Outcome::Inside);
    if stands && is_inside && !is_setting(shot.position.as_deref()) {
        said.unsigned().plain(language.pick(
            ", but only because the beam stands where it stood",
            ", aber nur, weil der Lichtkegel steht, wo er stand",
        ))
    } else {
        said
    }
}

/// The readings lamp by lamp, before the repair and after it, at the positions in their order, whenever each was entered; then those with the pump.
fn by_lamp(findings: &Findings) -> Vec<&ShotReading> {
    let mut all: Vec<&ShotReading> = findings.readings.iter().collect();
    in_order(&mut all, |reading| reading.shot.position.as_deref().unwrap_or_default());
    all.sort_by_key(|reading| {
        let shot = &reading.shot;
        (
            shot.lamp == Side::Right,
            shot.stage == Some(Stage::After),
            shot.is_pumped(),
            shot.position.is_some() || shot.is_pumped(),
        )
    });
    all
}

/// What would settle an undecided verdict, or what brings inside a beam that is outside.
pub(super) fn settle(language: Language, reading: &ShotReading) -> Option<Text> {
    let verdict = verdict_of(reading)?;
    let settled = verdict.settled()?;
    let settle = settled.within(language);
    let lead = match verdict.outcome {
        Outcome::Outside => language.pick(
            "If the figures entered are right:",
            "Wenn die eingetragenen Maße stimmen:",
        ),
        _ => language.pick("To settle it:", "Zur Klärung:"),
    };
    Some(Text::default().strong(lead).plain(format!(" {settle}.")))
}

/// A verdict in as few words as a table has room for.
fn short_verdict(language: Language, v: &Verdict) -> &'static str {
    if v.load_decides {
        language.pick("by load", "je Ladung")
    } else {
        v.outcome.said(language)
    }
}

fn verdict_words(language: Language, v: &Verdict, measured: &Measured) -> String {
    match v.outcome {
        _ if v.load_decides => short_verdict(language, v).to_owned(),
        Outcome::Outside if measured.aim.inclination_percent < v.band.low_percent => {
            said!(language; "outside, too high", "außerhalb, zu hoch")
        }
        Outcome::Outside => said!(language; "outside, too low", "außerhalb, zu tief"),
        other => other.said(language).to_owned(),
    }
}

/// A refusal's reason in plain words.
fn refused_because(language: Language, reason: Reason) -> &'static str {
    match reason {
        Reason::UnreadablePhoto => language.pick(
            "the file is no photo that can be read",
            "die Datei ist kein lesbares Foto",
        ),
        Reason::MarksMissing => language.pick(
            "too few of the sheets were found",
            "zu wenige Messblätter wurden gefunden",
        ),
        Reason::MarksDisagree => language.pick(
            "the sheets do not hang where the bay file says",
            "die Messblätter hängen nicht, wo die Messplatzdatei es sagt",
        ),
        Reason::Overexposed => language.pick(
            "too much light at the cut-off",
            "zu viel Licht an der Hell-Dunkel-Grenze",
        ),
        Reason::Underexposed => language.pick(
            "too little light at the cut-off",
            "zu wenig Licht an der Hell-Dunkel-Grenze",
        ),
        Reason::Blurred => language.pick("out of focus, or shaken", "unscharf oder verwackelt"),
        Reason::NoCutoff => language.pick(
            "there is no cut-off where there should be one",
            "es gibt keine Hell-Dunkel-Grenze, wo eine sein müsste",
        ),
        Reason::CutoffUnsharp => language.pick(
            "the cut-off is too soft to say where it is",
            "die Hell-Dunkel-Grenze ist zu weich, um zu sagen, wo sie liegt",
        ),
        Reason::SecondCutoff => language.pick(
            "a second edge of light lies beside the first",
            "eine zweite Lichtkante liegt neben der ersten",
        ),
        Reason::CutoffOutOfFrame => language.pick(
            "the cut-off leaves the photo where it must be read",
            "die Hell-Dunkel-Grenze verlässt das Foto, wo sie zu messen ist",
        ),
        Reason::NotLevel => language.pick(
            "the edge is too far from level to be a cut-off",
            "die Kante liegt zu schräg für eine Hell-Dunkel-Grenze",
        ),
        Reason::OnePicture => language.pick(
            "the same picture stands for another setting too",
            "dasselbe Bild steht auch für eine andere Einstellung",
        ),
    }
}

/// The refused photos, each with its mend.
pub(crate) fn refused(language: Language, findings: &Findings) -> Option<Section> {
    let mut blocks = vec![Block::text(language.pick(
        "A photo that could give a wrong figure gives none. Mend what is named and take it again.",
        "Ein Foto, das einen falschen Wert geben könnte, gibt keinen. Das Genannte beheben und neu aufnehmen.",
    ))];
    for reading in &findings.readings {
        let Err(refusal) = &reading.result else { continue };
        let why = said!(language; "Refused: {}.", "Abgelehnt: {}."; refused_because(language, refusal.reason));
        let text = Text::default()
            .strong(why)
            .plain(format!(" {}", refusal.message.within(language)));
        let photo = Text::default()
            .sign(Sign::Refused)
            .plain(reading.shot.photo.display().to_string());
        let shows = Block::Paragraph("sub", what_it_shows(language, &reading.shot).into());
        let again = (taken_again(findings, reading).into_iter())
            .map(|other| {
                let photo = other.shot.photo.display();
                Block::text(
                    Text::from(said!(language; "Taken again: {photo}, ", "Neu aufgenommen: {photo}, "))
                        .then(one_line(language, other))
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
    (blocks.len() > 1).then(|| {
        Section::new(
            language.pick(
                "What was refused, and how to mend it",
                "Was abgelehnt wurde und wie es zu beheben ist",
            ),
            blocks,
        )
    })
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
pub(crate) fn table(language: Language, findings: &Findings) -> Option<Section> {
    let mut table = Table::new(
        "cards",
        [
            ("name", language.pick("Photo", "Foto")),
            ("", language.pick("Lamp", "Seite")),
            ("", language.pick("Stage", "Wann")),
            ("at", language.pick("Range control", "Regler")),
            ("figure", language.pick("Inclination, %", "Neigung, %")),
            ("figure", language.pick("Drop, mm", "Absenkung, mm")),
            ("figure", language.pick("Reach, m", "Reichweite, m")),
            ("figure", language.pick("Allowed, %", "Zulässig, %")),
            ("", language.pick("Verdict", "Urteil")),
        ],
    );
    for reading in by_lamp(findings) {
        let shot = &reading.shot;
        let measured = reading.result.as_ref().ok();
        let aim = measured.map(|m| &m.aim);
        let verdict = verdict_of(reading);
        let came_to = match (&reading.result, verdict) {
            (Ok(m), Some(v)) => {
                let band = if v.setting {
                    language.pick("setting", "Einstellung")
                } else {
                    language.pick("range", "Bereich")
                };
                Text::default()
                    .word(v.unloaded(), verdict_words(language, v, m))
                    .plain(format!(" ({band})"))
            }
            (Ok(_), None) => language.pick("not judged", "nicht beurteilt").into(),
            (Err(refusal), _) => refused_word(language, refusal.reason),
        };
        let shown = measured.map(|m| Judged::of(language, m));
        let allowed = shown.as_ref().and_then(|shown| shown.band.as_ref());
        let allowed = allowed.map(|[low, high]| said!(language; "{low} to {high}", "{low} bis {high}"));
        let reach_m = aim.and_then(|a| a.reach_m).filter(|m| m.is_finite());
        table.row([
            shot.photo.display().to_string().into(),
            shot.lamp.said(language).into(),
            shot.stage.map_or("", |stage| stage.said(language)).into(),
            setting(language, shot).into(),
            shown.as_ref().map(Judged::within).unwrap_or_default().into(),
            aim.map(|a| fixed(language, a.drop_at_wall_mm, 0))
                .unwrap_or_default()
                .into(),
            reach_m.map(|r| fixed(language, r, 0)).unwrap_or_default().into(),
            allowed.unwrap_or_default().into(),
            came_to.into(),
        ]);
    }
    let noted = table.noted(language.pick(
        "Inclination, drop and reach are those of the cut-off: the drop is below the lamp's centre at the wall; the reach \
         is where the cut-off meets a level road. ± is the half-width of the 95 % interval with everything in it.",
        "Neigung, Absenkung und Reichweite sind die der Hell-Dunkel-Grenze: Die Absenkung ist an der Wand unter der Mitte des \
         Scheinwerfers gemessen; die Reichweite ist, wo die Hell-Dunkel-Grenze auf eine ebene Straße trifft. ± ist die halbe Breite \
         des 95-%-Intervalls mit allem darin.",
    ));
    (!noted.is_empty()).then(|| Section::new(language.pick("All readings", "Alle Messwerte"), noted))
}

/// The plots of where the beam is, and how well that is known.
pub(super) fn plots(language: Language, figures: &[Figure]) -> Option<Section> {
    let grid = plot_grid(figures.iter().filter(|f| !f.is_of_adjuster()))?;
    Some(Section::new(language.pick("Plots", "Diagramme"), vec![grid]))
}

/// "2031-03-04 20:15:00".
pub(super) fn taken(language: Language, reading: &ShotReading) -> Option<String> {
    reading
        .capture
        .taken
        .as_ref()
        .map(|t| date(language, &t.replace('T', " ")))
}

/// Whether pictures that are not there yet are still to come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Drawing {
    /// All that there are to be are there.
    Done,
    /// They are being made.
    Coming,
}

/// Each photo with its pictures and all that was read from it.
pub(crate) fn photos(language: Language, findings: &Findings, drawing: Drawing) -> Result<Option<Section>, Error> {
    let pictures = findings
        .readings
        .par_iter()
        .map(|reading| picture::pictures(language, reading, findings.bays.of(&reading.lamp), findings.job.traffic))
        .collect::<Result<Vec<_>, Error>>()?;
    let mut cards = Vec::new();
    for (reading, pictures) in findings.readings.iter().zip(pictures) {
        let taken = taken(language, reading)
            .map(|t| said!(language; "; taken {t}", "; aufgenommen {t}"))
            .unwrap_or_default();
        let bay = findings.bays.of(&reading.lamp);
        let on = if findings.bays.are_several() {
            said!(language; "; bay: {}", "; Messplatz: {}"; bay.name)
        } else {
            String::new()
        };
        let shows = format!("{}{taken}{on}", what_it_shows(language, &reading.shot));
        let mut blocks = vec![
            Block::Paragraph("sub", shows.into()),
            Block::text(one_line(language, reading)),
        ];
        blocks.extend(settle(language, reading).map(Block::text));
        blocks.push(match (pictures.is_empty(), drawing) {
            (true, Drawing::Done) => Block::note(language.pick(
                "There is no picture of this photo square to the wall.",
                "Von diesem Foto gibt es kein Bild senkrecht auf die Wand.",
            )),
            (true, Drawing::Coming) => {
                Block::note(language.pick("Its picture is being made …", "Sein Bild wird erstellt …"))
            }
            (false, _) => Block::Group("pictures", vec![Block::Pictures(pictures)]),
        });
        match &reading.result {
            Ok(measured) => {
                blocks.push(Block::Facts("facts", facts(language, findings, reading, measured)));
                // What holds for the lamp is said once, not at each of its photos.
                let warnings = measured.warnings.iter().filter(|warning| !warning.is_of_lamp());
                blocks.extend(warnings.map(|w| {
                    Block::text(
                        Text::default()
                            .strong(language.pick("Note:", "Hinweis:"))
                            .plain(format!(" {}", w.said(language))),
                    )
                }));
                blocks.push(method::budget(language, &measured.aim));
            }
            Err(refusal) => blocks.push(Block::text(refusal.message.within(language))),
        }
        let photo = reading.shot.photo.display().to_string();
        cards.push(Block::Section(Section::card("shot", photo, blocks)));
    }
    let is_one = cards.len() == 1;
    Ok((!cards.is_empty()).then(|| {
        Section::new(
            if is_one {
                language.pick("The photo", "Das Foto")
            } else {
                language.pick("Each photo", "Jedes Foto")
            },
            vec![Block::Group("shots", cards)],
        )
    }))
}

/// The inclination of an edge at this height on a reading's wall, %.
fn percent_at(findings: &Findings, reading: &ShotReading, y_mm: f64) -> f64 {
    crate::aim::inclination_at_percent(y_mm, &reading.lamp, findings.bays.of(&reading.lamp))
}

/// What the eye would make of the lamp for which that differs most, where it differs by more than the reading's uncertainty.
pub(super) fn by_eye(language: Language, findings: &Findings) -> Option<Text> {
    let judged = findings.readings.iter().filter(|reading| verdict_of(reading).is_some());
    let apart = judged.filter_map(|reading| {
        let measured = reading.result.as_ref().ok()?;
        let half = percent_at(findings, reading, measured.aim.cutoff.threshold_y_mm?);
        let apart = (half - measured.aim.inclination_percent).abs();
        (apart > measured.aim.u95_percent()).then_some((apart, half, reading, measured))
    });
    let (_, half, reading, measured) = apart.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let (lamp, stem) = (reading.shot.lamp, reading.shot.lamp.stem());
    Some(Text::from(said!(
        language; "Where the light falls to half of its brightness, which is near what an eye takes for the edge, the {lamp} lamp would come out at {} % \
         and not at {} % ({}). All figures here are read where the rules have the cut-off, at the steepest step in the logarithm of \
         the light; compare them only with what was read alike.",
        "Wo das Licht auf seine halbe Helligkeit abfällt, was etwa dem entspricht, was ein Auge für die Kante hält, käme der {stem}e \
         Scheinwerfer auf {} % und nicht auf {} % ({}). Alle Werte hier gelten, wo die Vorschriften die Hell-Dunkel-Grenze haben: an \
         der steilsten Stufe im Logarithmus des Lichts; nur mit ebenso Gemessenem vergleichen.";
        fixed(language, half, 2),
        fixed(language, measured.aim.inclination_percent, 2),
        reading.shot.photo.display()
    )))
}

fn facts(
    language: Language,
    findings: &Findings,
    reading: &ShotReading,
    measured: &Measured,
) -> Vec<(&'static str, Text)> {
    let (aim, cutoff) = (&measured.aim, &measured.aim.cutoff);
    let reach_m = aim.reach_m.filter(|m| m.is_finite());
    let mut facts = vec![
        (
            language.pick("Inclination", "Neigung"),
            Judged::of(language, measured).with_unit(),
        ),
        (
            language.pick("As an angle", "Als Winkel"),
            format!("{}°", fixed(language, aim.angle_deg, 3)),
        ),
        (
            language.pick("Drop at the wall", "Absenkung an der Wand"),
            format!("{} mm", fixed(language, aim.drop_at_wall_mm, 1)),
        ),
        (
            language.pick("Reach", "Reichweite"),
            reach_m.map_or_else(
                || said!(language; "does not come down", "senkt sich nicht"),
                |r| format!("{} m", fixed(language, r, 1)),
            ),
        ),
        (
            language.pick("Sharpness G", "Schärfe G"),
            format!(
                "{}{}",
                fixed(language, cutoff.sharpness_g, 2),
                method::sharpness(language, cutoff.sharpness_g)
            ),
        ),
        (
            language.pick("Linearity", "Geradheit"),
            format!("{}°", fixed(language, cutoff.linearity_deg, 2)),
        ),
        (
            language.pick("Tilt", "Schräglage"),
            format!("{}°", signed(language, cutoff.tilt_deg, 2)),
        ),
        (
            language.pick("Pattern", "Lichtbild"),
            cutoff.pattern.said(language).to_owned(),
        ),
    ];
    if let Some(elbow) = &cutoff.elbow {
        let lateral = aim.elbow_lateral_percent.zip(aim.elbow_lateral_u95_percent);
        let beside =
            |(percent, u95): (f64, f64)| format!("{} ± {} %", signed(language, percent, 2), fixed(language, u95, 2));
        facts.extend(lateral.map(|lateral| (language.pick("Elbow beside V-V", "Knick neben V-V"), beside(lateral))));
        facts.push((
            language.pick("Kick", "Anstieg"),
            format!("{}°", fixed(language, elbow.kick_deg, 1)),
        ));
    }
    let percent_at = |y_mm: f64| format!("{} %", fixed(language, percent_at(findings, reading, y_mm), 2));
    // What these are for is said at the first photo.
    let mut read = findings.readings.iter().filter(|one| one.result.is_ok());
    let is_first = read.next().is_some_and(|first| std::ptr::eq(first, reading));
    facts.extend(cutoff.plain_y_mm.map(|y_mm| {
        let says = if is_first {
            said!(language; "{} (for comparison only)", "{} (nur zum Vergleich)"; percent_at(y_mm))
        } else {
            percent_at(y_mm)
        };
        (language.pick("Steepest fall of light", "Steilster Lichtabfall"), says)
    }));
    facts.extend(cutoff.threshold_y_mm.map(|y_mm| {
        if !is_first {
            return (language.pick("Half brightness", "Halbe Helligkeit"), percent_at(y_mm));
        }
        // Who marks the edge by eye, with a tape, would take the difference for an error of the program.
        let says = said!(
            language; "{} (for comparison only: near what an eye takes for the edge; the rules have the cut-off at the steepest step in the \
             logarithm of the light, which is the inclination above)",
            "{} (nur zum Vergleich: etwa, was ein Auge für die Kante hält; die Vorschriften haben die Hell-Dunkel-Grenze an der steilsten \
             Stufe im Logarithmus des Lichts, das ist die Neigung oben)"; percent_at(y_mm)
        );
        (language.pick("Half brightness", "Halbe Helligkeit"), says)
    }));
    facts.into_iter().map(|(name, value)| (name, value.into())).collect()
}
