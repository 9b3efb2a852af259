//! The system drawn: each part a box, vacuum running from top to bottom, and where each part stands after the trials.
//!
//! Nothing is told by colour alone: each box has a sign and a word, and its border and hatching differ, too. On the page it is
//! narrow, to be read on a phone and beside text; for the wall it stands on sheets of A4, below what is to be done next.

use super::sheet::{self, Boxed, wrapped};
use super::{minutes, percent, sentence};
use crate::isolate::{Isolated, Repair, Standing};
use crate::language::{Language, Said, said};
use crate::record::{System, Test, VacuumSource};
use crate::report::say::isolation::mending;
use crate::report::text::{plain, wrap};
use svg::Document;
use svg::node::element::{Definitions, Group, Path, Pattern, Rectangle, Text, Title};

/// Sizes of a drawing, px on the page, tenths of a millimetre on a sheet.
struct Scale {
    /// Size of the letters.
    letters: usize,
    /// From one line to the next.
    line: usize,
    /// From a box's edge to its words.
    padding: usize,
    /// From a box's upper edge to the foot of its first line.
    base: usize,
    /// Letters that fit on a line.
    line_letters: usize,
    /// A thin line.
    stroke: usize,
    /// From one line of the hatching to the next; the frame that it makes is as broad.
    hatch: usize,
    /// Between rows of boxes.
    between_rows: usize,
}

/// Breadth and height of a box on the page, between boxes side by side, and around the drawing, px.
const BOX_PX: (usize, usize) = (178, 84);
const GAP_PX: usize = 28;
const MARGIN_PX: (usize, usize) = (4, 10);
const PAGE: Scale = Scale {
    letters: 13,
    line: 17,
    padding: 12,
    base: 23,
    line_letters: 23,
    stroke: 1,
    hatch: 8,
    between_rows: 40,
};
/// Lines of a label on the page.
const LABEL_LINES: usize = 3;

/// Boxes side by side on a sheet at the most: more would leave no room for a word in large letters.
const ABREAST: usize = 3;
/// Breadth of a box on a sheet at the most.
const BROADEST: usize = 900;

/// Between boxes side by side on a sheet.
const APART: usize = 70;

/// A box of the drawing.
#[derive(Debug, Clone, Copy)]
struct Place {
    x: usize,
    y: usize,
    wide: usize,
    high: usize,
}

/// Step of each component, counted from the source: one further than the last that its vacuum comes from. A ring, which no car
/// has, ends after as many steps as there are components.
fn steps(system: &System) -> Vec<usize> {
    let count = system.components.len();
    let mut steps = vec![0; count];
    for _ in 0..count {
        for c in 0..count {
            let before = system.components[c].after.iter().map(|&a| steps[a] + 1).max();
            steps[c] = before.unwrap_or(0).min(count);
        }
    }
    if steps.iter().all(|step| *step == 0) {
        // Nothing says how they are connected: in rows.
        return (0..count).map(|c| c / 2).collect();
    }
    steps
}

/// The components row by row, at most so many in one.
fn rows(system: &System, abreast: usize) -> Vec<Vec<usize>> {
    let steps = steps(system);
    let last = steps.iter().copied().max().unwrap_or(0);
    let of_step = |step: usize| (0..steps.len()).filter(|&c| steps[c] == step).collect::<Vec<_>>();
    (0..=last)
        .map(of_step)
        .flat_map(|step| step.chunks(abreast.max(1)).map(<[usize]>::to_vec).collect::<Vec<_>>())
        .collect()
}

fn broadest(rows: &[Vec<usize>]) -> usize {
    rows.iter().map(Vec::len).max().unwrap_or(1).max(1)
}

/// Where the boxes of these rows stand, by component; a row with fewer boxes in the middle of the others. `left` and `room`: where
/// they may stand; `tops`: of each row its upper edge and its height.
fn placed(
    rows: &[Vec<usize>],
    tops: &[(usize, usize)],
    (left, room): (usize, usize),
    (wide, gap): (usize, usize),
) -> Vec<Place> {
    let mut places: Vec<(usize, Place)> = Vec::new();
    for (row, &(y, high)) in rows.iter().zip(tops) {
        let taken = row.len() * (wide + gap) - gap;
        let first = left + room.saturating_sub(taken) / 2;
        places.extend(row.iter().enumerate().map(|(n, &c)| {
            let x = first + n * (wide + gap);
            (c, Place { x, y, wide, high })
        }));
    }
    places.sort_by_key(|(c, _)| *c);
    places.into_iter().map(|(_, place)| place).collect()
}

/// The system for the page, as a whole SVG document.
#[must_use]
pub fn draw(language: Language, isolation: &Isolated) -> String {
    let system = &isolation.system;
    let rows = rows(system, system.components.len());
    let breadth = broadest(&rows) * (BOX_PX.0 + GAP_PX) - GAP_PX;
    // As broad as two parts at the least, for the signs' meaning below.
    let wide = 2 * MARGIN_PX.0 + breadth.max(2 * BOX_PX.0 + GAP_PX);
    let tops: Vec<(usize, usize)> = (0..rows.len())
        .map(|row| (MARGIN_PX.1 + row * (BOX_PX.1 + PAGE.between_rows), BOX_PX.1))
        .collect();
    let high = tops.last().map_or(0, |(top, high)| top + high) + PAGE.between_rows;
    let places = placed(&rows, &tops, (MARGIN_PX.0, breadth), (BOX_PX.0, GAP_PX));
    let mut drawing = white((wide, high), system.name.within(language), hatching(&PAGE));
    drawing = drawing.add(boxes(language, isolation, &places, &PAGE));
    drawing = drawing.add(words(&legend(language), (MARGIN_PX.0, high - 16), PAGE.letters, false));
    format!("{drawing}\n")
}

/// The system as sheets of A4, as a whole SVG document: what can hurt, what is to be done next, and each part where it stands.
#[must_use]
pub fn draw_sheets(language: Language, isolation: &Isolated) -> String {
    let system = &isolation.system;
    let rows = rows(system, ABREAST);
    let breadth = ((sheet::BREADTH + APART) / broadest(&rows) - APART).min(BROADEST);
    let scale = Scale {
        letters: sheet::LETTERS,
        line: sheet::LINE,
        padding: sheet::PADDING,
        base: sheet::GAP + sheet::LETTERS,
        line_letters: sheet::line_letters(breadth),
        stroke: 3,
        hatch: 20,
        between_rows: 70,
    };
    let to_do = next_boxes(language, isolation);
    let lines = |c: &usize| 1 + label_lines(language, system, *c, &scale).len();
    let row_high = |row: &Vec<usize>| row.iter().map(lines).max().unwrap_or(1) * sheet::LINE + 2 * sheet::GAP;
    let row_highs: Vec<usize> = rows.iter().map(row_high).collect();
    let drawn: Vec<usize> = std::iter::once(sheet::LINE)
        .chain(row_highs.iter().map(|high| high + scale.between_rows))
        .collect();
    let (text_tops, drawn_tops, count) = stacked(&to_do, &drawn);
    let (legend_top, row_tops) = drawn_tops
        .split_first()
        .map_or((0, &[][..]), |(first, rest)| (*first, rest));
    let tops: Vec<(usize, usize)> = row_tops.iter().copied().zip(row_highs).collect();
    let room = (sheet::MARGIN, sheet::BREADTH);
    let places = placed(&rows, &tops, room, (breadth, APART));
    let name = system.name.within(language);
    let title = said!(language; "{name}: where each part stands", "{name}: wo jedes Bauteil steht");
    let mut drawing = sheet::document(language, count, name, &title, hatching(&scale));
    for (boxed, top) in to_do.iter().zip(text_tops) {
        drawing = drawing.add(boxed.drawn(top));
    }
    let foot = legend_top + scale.letters;
    drawing = drawing.add(words(&legend(language), (sheet::MARGIN, foot), scale.letters, false));
    format!("{}\n", drawing.add(boxes(language, isolation, &places, &scale)))
}

/// Where boxes of words and, below them, the legend and the rows of the system stand, and the number of sheets. The system stands
/// whole on one sheet where one can hold it.
fn stacked(boxes: &[Boxed], drawn: &[usize]) -> (Vec<usize>, Vec<usize>, usize) {
    let mut heights: Vec<usize> = boxes.iter().map(Boxed::height).collect();
    let whole = drawn.iter().map(|high| high + sheet::GAP).sum::<usize>();
    if whole > sheet::ROOM {
        heights.extend(drawn);
        let (mut tops, count) = sheet::places(&heights);
        let below = tops.split_off(boxes.len());
        return (tops, below, count);
    }
    heights.push(whole);
    let (mut tops, count) = sheet::places(&heights);
    let mut top = tops.pop().unwrap_or(0);
    let below = drawn.iter().map(|high| {
        let here = top;
        top += high + sheet::GAP;
        here
    });
    (tops, below.collect(), count)
}

/// What is to be done next, what can hurt by it first.
fn next_boxes(language: Language, isolation: &Isolated) -> Vec<Boxed> {
    let (system, answer) = (&isolation.system, &isolation.answer);
    let decision = &answer.decision;
    let (tests, text): (Vec<&Test>, String) = match &decision.next {
        Some(next) if !decision.stop => {
            let test = &system.tests[next.test];
            let (ask, about) = (test.ask.within(language), minutes(language, next.minutes));
            let text = said!(language; "Next: {ask} About {about}.", "Als Nächstes: {ask} Etwa {about}.");
            (vec![test], text)
        }
        _ => match decision.repairs(&answer.by_component, answer.nothing).first() {
            Some(Repair::Replace(c)) if isolation.is_mended_since(*c) => {
                let part = system.components[*c].label.within(language);
                let text = said!(
                    language;
                    "Mended since, by the job: the {part}. Look whether both beams follow the range control now.",
                    "Laut Auftrag inzwischen repariert: {part}. Prüfen, ob jetzt beide Lichtkegel dem Leuchtweitenregler folgen."
                );
                let looks = system.tests.iter().filter(|test| test.by_positions);
                (looks.collect(), text)
            }
            Some(Repair::Replace(c)) => {
                let part = system.components[*c].label.within(language);
                let kinds = isolation.mended_without_part(*c);
                let part = if kinds.is_empty() {
                    said!(language; "mend or replace the {part}", "instand setzen oder ersetzen: {part}")
                } else {
                    let ways = mending(language, &kinds);
                    said!(language; "{ways}, without a new part: the {part}", "{ways}, ohne Neuteil: {part}")
                };
                let text = format!("{} ({}).", sentence(&part), percent(answer.by_component[*c]));
                (beside_part(system, *c), text)
            }
            _ => {
                let looks = system.tests.iter().filter(|test| test.by_positions);
                let text = if isolation.failures().is_empty() {
                    said!(
                        language;
                        "Work the range control once more and look at both beams. If they follow, there is nothing to replace.",
                        "Den Leuchtweitenregler noch einmal durchstellen und beide Lichtkegel ansehen. Folgen sie, gibt es nichts zu ersetzen."
                    )
                } else {
                    said!(
                        language;
                        "Look at both beams at each position of the range control before any part is replaced.",
                        "Beide Lichtkegel in jeder Stellung des Leuchtweitenreglers ansehen, bevor ein Bauteil ersetzt wird."
                    )
                };
                (looks.collect(), text)
            }
        },
    };
    let hazards: Vec<&Said> = tests.iter().flat_map(|test| &test.hazards).collect();
    let mut boxed = Vec::new();
    if !hazards.is_empty() {
        boxed.extend(Boxed::of_many(&sheet::take_care(language, hazards.into_iter())));
    }
    boxed.push(Boxed {
        lines: wrapped(&text, 2, true).collect(),
        is_repair: decision.stop,
    });
    boxed
}

/// The tests at which one has hands where a part is replaced, engine off: what can hurt there can hurt in the repair.
fn beside_part(system: &System, c: usize) -> Vec<&Test> {
    let setup = &system.components[c].setup;
    let there = |test: &&Test| test.setup.iter().any(|one| setup.contains(one));
    let engine_off = |test: &&Test| test.source != VacuumSource::Engine;
    let all: Vec<&Test> = system.tests.iter().filter(there).collect();
    let off: Vec<&Test> = all.iter().copied().filter(engine_off).collect();
    if off.is_empty() { all } else { off }
}

fn legend(language: Language) -> String {
    let all = [
        Standing::Suspected,
        Standing::Possible,
        Standing::Cleared,
        Standing::Open,
    ];
    all.map(|standing| format!("{} {}", standing.sign(), standing.said(language)))
        .join("    ")
}

/// All boxes, with the lines that vacuum goes along.
fn boxes(language: Language, isolation: &Isolated, places: &[Place], scale: &Scale) -> Group {
    let mut group = Group::new().set("class", "parts");
    for (c, component) in isolation.system.components.iter().enumerate() {
        for &before in &component.after {
            group = group.add(line(places[before], places[c], scale));
        }
    }
    for (c, standing) in isolation.standings().into_iter().enumerate() {
        group = group.add(part(language, isolation, c, standing, (places[c], scale)));
    }
    group
}

/// A line from one box to the next that its vacuum goes to.
fn line(before: Place, after: Place, scale: &Scale) -> Path {
    let (from, turn) = (before.y + before.high, after.y.saturating_sub(scale.between_rows / 2));
    let way = format!(
        "M{} {from} V{turn} H{} V{}",
        before.x + before.wide / 2,
        after.x + after.wide / 2,
        after.y
    );
    path(&way, "#333333", 3.0 * scale.stroke as f64)
}

fn label_lines(language: Language, system: &System, c: usize, scale: &Scale) -> Vec<String> {
    wrap(
        &plain(system.components[c].label.within(language)),
        scale.line_letters,
        0,
    )
}

/// A component's box: where it stands, its probability, and what it is.
fn part(language: Language, isolation: &Isolated, c: usize, standing: Standing, (at, scale): (Place, &Scale)) -> Group {
    let component = &isolation.system.components[c];
    let probability = percent(isolation.answer.by_component[c]);
    let (fill, stroke, dash) = match standing {
        Standing::Suspected => ("url(#isolate-hatch)", 5, None),
        Standing::Possible => ("#ffffff", 3, Some((9, 5))),
        Standing::Cleared => ("#ffffff", 2, None),
        Standing::Open => ("#f2f2f2", 1, Some((2, 4))),
    };
    let mut border = rectangle((at.x, at.y), (at.wide, at.high), fill)
        .set("stroke", "#000000")
        .set("stroke-width", stroke * scale.stroke);
    if let Some((drawn, left)) = dash {
        border = border.set(
            "stroke-dasharray",
            format!("{} {}", drawn * scale.stroke, left * scale.stroke),
        );
    }
    let stands = standing.said(language);
    let title = format!("{}: {stands}, {probability}", component.label.within(language));
    let mut part = Group::new().add(Title::new(clean(&title))).add(border);
    if standing == Standing::Suspected {
        // Words stand on white; the hatching is left as a frame.
        let frame = scale.hatch;
        let inner = (at.wide - 2 * frame, at.high - 2 * frame);
        part = part.add(rectangle((at.x + frame, at.y + frame), inner, "#ffffff"));
    }
    // "Cleared 2 %" would read as cleared by so much.
    let first = match standing {
        Standing::Cleared => format!("{} {stands} ({probability})", standing.sign()),
        _ => format!("{} {stands} {probability}", standing.sign()),
    };
    let foot = |n: usize| (at.x + scale.padding, at.y + scale.base + n * scale.line);
    part = part.add(words(&first, foot(0), scale.letters, true));
    let fits = (at.high - scale.base) / scale.line;
    let lines = label_lines(language, &isolation.system, c, scale);
    for (n, line) in lines.iter().take(fits.max(LABEL_LINES)).enumerate() {
        part = part.add(words(line, foot(n + 1), scale.letters, false));
    }
    part
}

fn hatching(scale: &Scale) -> Definitions {
    let step = scale.hatch + scale.stroke;
    let pattern = Pattern::new()
        .set("id", "isolate-hatch")
        .set("width", step)
        .set("height", step)
        .set("patternUnits", "userSpaceOnUse")
        .set("patternTransform", "rotate(45)")
        .add(rectangle((0, 0), (step, step), "#fff0dc"))
        .add(path(&format!("M0 0V{step}"), "#c46200", 2.0 * scale.stroke as f64));
    Definitions::new().add(pattern)
}

/// A white ground with a title for readers that speak.
pub(super) fn white((wide, high): (usize, usize), title: &str, definitions: Definitions) -> Document {
    Document::new()
        .set("viewBox", format!("0 0 {wide} {high}"))
        .set("width", wide)
        .set("height", high)
        .set("font-family", "sans-serif")
        .set("role", "img")
        .add(Title::new(clean(title)))
        .add(definitions)
        .add(rectangle((0, 0), (wide, high), "#ffffff"))
}

/// A line of text whose blanks count.
pub(super) fn words(text: &str, (x, y): (usize, usize), size: usize, bold: bool) -> Text {
    let words = Text::new(clean(text))
        .set("x", x)
        .set("y", y)
        .set("font-size", size)
        .set("xml:space", "preserve");
    if bold { words.set("font-weight", "bold") } else { words }
}

/// One line without characters that XML does not know; markup in it is the `svg` crate's to escape.
fn clean(text: &str) -> String {
    plain(text).replace(['\u{fffe}', '\u{ffff}'], "\u{fffd}")
}

pub(super) fn rectangle((x, y): (usize, usize), (wide, high): (usize, usize), fill: &str) -> Rectangle {
    Rectangle::new()
        .set("x", x)
        .set("y", y)
        .set("width", wide)
        .set("height", high)
        .set("fill", fill)
}

/// A line along a way, unfilled.
pub(super) fn path(way: &str, stroke: &str, width: f64) -> Path {
    Path::new()
        .set("d", way)
        .set("fill", "none")
        .set("stroke", stroke)
        .set("stroke-width", width)
}
