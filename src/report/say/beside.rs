//! What is seen at a glance: each lamp before and after the repair, or at its first and its last position, beside each other.

use super::super::Error;
use super::super::document::Block;
use super::super::picture;
use super::super::words::{lamp_and_stage, sentence};
use super::readings;
use crate::aim::{Measured, ShotReading};
use crate::language::{Language, said};
use crate::record::{Side, Stage, in_order, is_setting};
use crate::run::Findings;

/// A card for each lamp of which a photo gave a figure.
pub(super) fn pictures(language: Language, findings: &Findings) -> Result<Option<Block>, Error> {
    let mut cards = Vec::new();
    for side in [Side::Left, Side::Right] {
        let Some((heading, shown)) = chosen(language, findings, side) else {
            continue;
        };
        let captions: Vec<String> = shown
            .iter()
            .map(|(name, reading)| caption(language, findings, name, reading))
            .collect();
        let readings: Vec<&ShotReading> = shown.iter().map(|(_, reading)| *reading).collect();
        let pictures = picture::beside(language, &readings, &captions, findings)?;
        if !pictures.is_empty() {
            let pair = vec![Block::Group("pair", vec![Block::Pictures(pictures)])];
            let labelled = Block::Labelled(sentence(&heading).into(), pair);
            cards.push(Block::Group("look", vec![labelled]));
        }
    }
    Ok((!cards.is_empty()).then_some(Block::Group("looks", cards)))
}

fn caption(language: Language, findings: &Findings, name: &str, reading: &ShotReading) -> String {
    format!(
        "{}: {}.",
        sentence(name),
        readings::one_line_of(language, findings, reading)
    )
}

type Shown<'a> = Vec<(String, &'a ShotReading)>;

/// What tells most of a lamp: where before and after differ most, if they surely do, and as set otherwise; of one stage alone
/// the first and the last position. `None` where no photo without the pump gave a figure.
fn chosen(language: Language, findings: &Findings, side: Side) -> Option<(String, Shown<'_>)> {
    let mut read: Vec<(&ShotReading, &Measured)> = (findings.readings.iter())
        .filter(|reading| reading.shot.lamp == side && !reading.shot.is_pumped() && reading.picture.is_some())
        .filter_map(|reading| Some((reading, reading.result.as_ref().ok()?)))
        .collect();
    // Of several photos of one setting the surest is shown: a dark one that a hand helped is not what stands on top.
    read.sort_by(|a, b| a.1.aim.u95_percent().total_cmp(&b.1.aim.u95_percent()));
    let mut known = Vec::new();
    read.retain(|(reading, _)| {
        let setting = (
            reading.shot.stage == Some(Stage::After),
            reading.shot.position.as_deref(),
        );
        let is_first = !known.contains(&setting);
        known.push(setting);
        is_first
    });
    in_order(&mut read, |(reading, _)| {
        reading.shot.position.as_deref().unwrap_or("0")
    });
    let of = |after: bool| {
        let of_stage = move |one: &&(&ShotReading, &Measured)| (one.0.shot.stage == Some(Stage::After)) == after;
        read.iter().filter(of_stage).copied().collect::<Vec<_>>()
    };
    let (before, after) = (of(false), of(true));
    let pairs: Vec<_> = before
        .iter()
        .filter_map(|&then| {
            let now = after.iter().find(|now| now.0.shot.position == then.0.shot.position)?;
            Some((then, *now))
        })
        .collect();
    if let Some((then, now)) = most_changed(&pairs) {
        let (at, stem) = (at_position(language, then.0), side.stem());
        let shown = vec![
            (said!(language; "before the repair", "vor der Reparatur"), then.0),
            (said!(language; "after it", "danach"), now.0),
        ];
        let heading = said!(
            language; "{side} lamp{at}, before and after", "{stem}er Scheinwerfer{at}, vorher und nachher"
        );
        return Some((heading, shown));
    }
    let stage = if after.is_empty() { before } else { after };
    let (first, last) = (stage.first()?.0, stage.last()?.0);
    let named = |reading: &ShotReading| match reading.shot.position.as_deref() {
        Some(position) => said!(language; "position {position}", "Stellung {position}"),
        None => said!(language; "as set", "wie eingestellt"),
    };
    let mut shown = vec![(named(first), first)];
    if first.shot.position != last.shot.position {
        shown.push((named(last), last));
    }
    Some((lamp_and_stage(language, side, first.shot.stage), shown))
}

type Pair<'a> = ((&'a ShotReading, &'a Measured), (&'a ShotReading, &'a Measured));

/// The pair with the greatest change where that is more than chance, and otherwise the one as set, or the first.
fn most_changed<'a>(pairs: &[Pair<'a>]) -> Option<Pair<'a>> {
    let percent = |(then, now): &Pair<'_>| (now.1.aim.inclination_percent - then.1.aim.inclination_percent).abs();
    let most = pairs.iter().max_by(|a, b| percent(a).total_cmp(&percent(b)))?;
    let sure = most.0.1.aim.u95_percent().hypot(most.1.1.aim.u95_percent());
    if percent(most) > sure {
        return Some(*most);
    }
    let as_set = pairs
        .iter()
        .find(|(then, _)| is_setting(then.0.shot.position.as_deref()));
    as_set.or_else(|| pairs.first()).copied()
}

fn at_position(language: Language, reading: &ShotReading) -> String {
    match reading.shot.position.as_deref() {
        None => said!(language; " as set", " wie eingestellt"),
        Some(position) => said!(language; " at position {position}", " in Stellung {position}"),
    }
}
