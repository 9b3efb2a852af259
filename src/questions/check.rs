//! What an answer is checked for: by itself, and against what was answered before.

use super::{Answers, Kind, Question};
use crate::language::{Language, said};
use crate::record::LAMP_HEIGHTS_MM;
use crate::record::{check_range, cramped_on_a_line, metres_in_mm};
use crate::report::text::plain;
use std::collections::BTreeMap;
use std::path::Path;

/// More than this in one line is no answer to any of the questions.
const MOST_CHARACTERS: usize = 200;

/// The key of the value stamped on a lamp.
pub(super) const SET_PERCENT: &str = "lamp_mark.set_percent";

/// What is wrong with an answer, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Fault {
    pub why: String,
    /// The key of the answer that is at fault, where that is one of those before.
    pub of: Option<String>,
}

impl From<String> for Fault {
    fn from(why: String) -> Self {
        Self { why, of: None }
    }
}

impl From<&str> for Fault {
    fn from(why: &str) -> Self {
        why.to_owned().into()
    }
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.why)
    }
}

/// What was typed, as the files take it; what is left empty is the usual answer.
///
/// # Errors
/// What is wrong with it, and how to mend it.
pub(crate) fn check(language: Language, question: &Question, typed: &str, before: &Answers) -> Result<String, Fault> {
    let typed = typed.trim();
    if typed.is_empty() {
        let usual = question
            .usual
            .clone()
            .ok_or(language.pick("this cannot be left out", "das darf nicht fehlen"))?;
        // What is usual is held against the other answers like anything else.
        return if usual.is_empty() {
            wanted_by_others(language, &question.key, before)?;
            Ok(usual)
        } else {
            taken(language, question, &usual, before)
        };
    }
    taken(language, question, typed, before)
}

/// All that was typed into a form, in the order of its questions; `known` was answered elsewhere. Gives the answers, and by its
/// question's key what is wrong with each other: with that at fault, not with the one at which it shows.
pub(crate) fn take(
    language: Language,
    questions: &[Question],
    typed: &Answers,
    known: Answers,
) -> (Answers, BTreeMap<String, String>) {
    let (mut answers, mut faults) = (known, BTreeMap::new());
    for question in questions {
        if !question.applies(&answers) {
            continue;
        }
        let given = typed.get(&question.key).map_or("", String::as_str);
        match check(language, question, given, &answers) {
            Ok(answer) => drop(answers.insert(question.key.clone(), answer)),
            Err(fault) => {
                let of = fault.of.unwrap_or_else(|| question.key.clone());
                // What is wrong with an answer by itself comes first.
                faults.entry(of).or_insert(fault.why);
            }
        }
    }
    (answers, faults)
}

/// The first of two limits that count only together, with the second.
const PAIRS: [[&str; 2]; 2] = [
    ["lamp_mark.below", "lamp_mark.above"],
    ["lamp_mark.low", "lamp_mark.high"],
];

/// What may be left out by itself, and not beside what was answered before.
fn wanted_by_others(language: Language, key: &str, before: &Answers) -> Result<(), Fault> {
    let is_given = |key: &str| before.get(key).is_some_and(|answer| !answer.is_empty());
    if key == SET_PERCENT && before.get("job.tolerance").is_some_and(|table| table == "lamp-mark") {
        return Err(language
            .pick(
                "this cannot be left out: the table is that of the stamped value",
                "das darf nicht fehlen: die Tabelle ist die des eingeprägten Werts",
            )
            .into());
    }
    if PAIRS.iter().any(|[first, second]| key == *second && is_given(first)) {
        return Err(both_or_neither(language).into());
    }
    Ok(())
}

const fn both_or_neither(language: Language) -> &'static str {
    language.pick(
        "the other limit of the two is given: give both, or neither",
        "die andere der beiden Grenzen ist angegeben: beide angeben oder keine",
    )
}

fn taken(language: Language, question: &Question, typed: &str, before: &Answers) -> Result<String, Fault> {
    if typed.chars().count() > MOST_CHARACTERS {
        let why = said!(
            language;
            "that is too long; {MOST_CHARACTERS} characters at the most",
            "das ist zu lang; höchstens {MOST_CHARACTERS} Zeichen"
        );
        return Err(why.into());
    }
    let answer = match &question.kind {
        Kind::Text if plain(typed) != typed => {
            return Err(language
                .pick(
                    "there is a character in it that cannot be seen or printed; type it anew",
                    "es enthält ein Zeichen, das sich nicht zeigen oder drucken lässt; neu eintippen",
                )
                .into());
        }
        Kind::Text => typed.to_owned(),
        Kind::Choice(words) => {
            let wanted = typed.to_lowercase();
            let found = words.iter().find(|(word, _)| *word == wanted);
            let all = || {
                words
                    .iter()
                    .map(|(word, _)| word.as_str())
                    .collect::<Vec<_>>()
                    .join(", ")
            };
            found
                .map(|(word, _)| word.clone())
                .ok_or_else(|| said!(language; "give one of: {}", "eines davon angeben: {}"; all()))?
        }
        Kind::Millimetres(key, low_mm, high_mm) => {
            figure(language, key, millimetres(language, typed)?, *low_mm, *high_mm)?
        }
        Kind::PerCent(key, low, high) => {
            let text = typed.strip_suffix('%').unwrap_or(typed);
            let value = number(language, text)?;
            if *key == SET_PERCENT && value < 0.0 {
                let bare = language.figure(&(-value).to_string());
                return Err(said!(
                    language;
                    "a setting is a drop, and the minus of a stamp says just that: here downward is positive; type {bare} without a minus",
                    "eine Einstellung ist eine Absenkung, und das Minus einer Prägung sagt eben das: hier ist abwärts positiv; {bare} ohne Minus \
                     eintippen"
                )
                .into());
            }
            figure(language, key, value, *low, *high)?
        }
        Kind::Whole(low, high) => {
            let whole: Option<u32> = typed.parse().ok().filter(|n| (low..=high).contains(&n));
            whole
                .ok_or_else(|| {
                    said!(language; "give a whole number from {low} to {high}", "eine ganze Zahl von {low} bis {high} angeben")
                })?
                .to_string()
        }
    };
    beside_the_others(language, &question.key, &answer, before)?;
    Ok(answer)
}

/// A figure within its range, as TOML has it. What is wrong with it is said without the key that it has in a file.
fn figure(language: Language, key: &str, value: f64, low: f64, high: f64) -> Result<String, String> {
    if check_range(Path::new(""), key, value, low, high).is_err() {
        let as_metres_mm = metres_in_mm(value);
        let is_in_metres = key.ends_with("_mm") && value > 0.0 && (low..=high).contains(&as_metres_mm);
        let shown = |value: f64| language.figure(&value.to_string());
        let (value, mm, low, high) = (shown(value), shown(as_metres_mm), shown(low), shown(high));
        return Err(if is_in_metres {
            said!(
                language;
                "{value} looks like metres; give it in mm ({mm}), or with its unit",
                "{value} sieht nach Metern aus; in mm angeben ({mm}) oder mit der Einheit"
            )
        } else {
            said!(
                language;
                "{value} cannot be: between {low} and {high} is expected",
                "{value} kann nicht sein: zwischen {low} und {high} wird erwartet"
            )
        });
    }
    Ok(format!("{value:?}"))
}

/// A decimal number; a comma may stand for the point.
fn number(language: Language, text: &str) -> Result<f64, String> {
    let text = text.trim().replace(['\u{2212}', '\u{2013}'], "-");
    let text = if text.contains('.') {
        text
    } else {
        text.replacen(',', ".", 1)
    };
    let is_plain = text.chars().all(|c| c.is_ascii_digit() || ".+-".contains(c));
    let value = is_plain.then(|| text.parse().ok()).flatten();
    let why = language.pick(
        "this is no number; type it as in 652 or 652.5, without blanks between the digits",
        "das ist keine Zahl; sie wie 652 oder 652,5 eintippen, ohne Leerzeichen zwischen den Ziffern",
    );
    value.ok_or_else(|| why.to_owned())
}

/// Whether a sign stands before the last three of up to six figures: some write thousands so, and thousandths of a millimetre nobody
/// measures.
fn may_be_thousands(figure: &str) -> bool {
    let bare = figure.trim().trim_start_matches(['+', '-', '\u{2212}', '\u{2013}']);
    bare.split_once(['.', ',']).is_some_and(|(before, behind)| {
        let is_figures = |text: &str| text.bytes().all(|c| c.is_ascii_digit());
        let is_thousands = (1..=3).contains(&before.len()) && !before.starts_with('0') && behind.len() == 3;
        is_thousands && is_figures(before) && is_figures(behind)
    })
}

/// Marks that stand for a unit behind a figure.
const UNIT_MARKS: [char; 6] = ['"', '\u{2033}', '\u{201d}', '\'', '\u{2032}', '\u{2019}'];
/// Of an inch.
const MM_PER_INCH: f64 = 25.4;

/// A figure and its unit, which may be left out.
fn parted(text: &str) -> (&str, &str) {
    let is_unit = |c: char| c.is_alphabetic() || UNIT_MARKS.contains(&c);
    let (figure, unit) = text.split_at(text.find(is_unit).unwrap_or(text.len()));
    (figure, unit.trim())
}

/// What a length was taken for, where it was typed with another unit than that of its field: "= 50.8 mm".
pub(crate) fn taken_for(language: Language, question: &Question, typed: &str) -> Option<String> {
    let is_length = matches!(question.kind, Kind::Millimetres(..));
    let (_, unit) = parted(typed.trim());
    if !is_length || unit.is_empty() || unit == "mm" {
        return None;
    }
    let mm = millimetres(language, typed.trim()).ok()?;
    Some(format!("= {} mm", language.figure(&mm.to_string())))
}

/// A length in mm, typed with a unit or, in mm, without.
pub(crate) fn millimetres(language: Language, text: &str) -> Result<f64, String> {
    let (figure, unit) = parted(text);
    if unit.is_empty() && may_be_thousands(figure) {
        let (thousands, decimal) = (figure.replace(['.', ','], ""), number(language, figure)?);
        let decimal = language.figure(&decimal.to_string());
        return Err(said!(
            language;
            "{figure} can mean {thousands} or {decimal}: type thousands without a sign between the digits, or give the unit",
            "{figure} kann {thousands} oder {decimal} heißen: Tausender ohne Zeichen zwischen den Ziffern eintippen oder die Einheit angeben"
        ));
    }
    let mm = match unit {
        "" | "mm" => 1.0,
        "cm" => 10.0,
        "m" => 1000.0,
        "in" | "\"" | "\u{2033}" | "\u{201d}" | "inch" | "inches" | "Zoll" => MM_PER_INCH,
        _ => {
            return Err(said!(
                language;
                "the unit \"{unit}\" is not known here; give mm, cm, m, or in for inches",
                "die Einheit „{unit}“ ist hier nicht bekannt; mm, cm, m oder in (Zoll) angeben"
            ));
        }
    };
    // Tenths of a millimetre are all that is ever measured: no digits of the conversion.
    Ok((number(language, figure)? * mm * 1000.0).round() / 1000.0)
}

/// A figure that was answered before.
fn given(before: &Answers, key: &str) -> Option<f64> {
    before.get(key)?.parse().ok()
}

/// Lamps of one car are further apart than this, mm: a motorcycle has one (our choice, no source).
const LEAST_APART_MM: f64 = 350.0;

fn beside_the_others(language: Language, key: &str, answer: &str, before: &Answers) -> Result<(), Fault> {
    let value = || answer.parse::<f64>().unwrap_or(f64::NAN);
    if let Some((sheet, what)) = key.split_once('.').filter(|(about, _)| about.starts_with("sheet")) {
        return match what {
            "id" => Ok(number_is_free(language, sheet, answer, before)?),
            "y_mm" => place_is_free(language, sheet, value(), before),
            _ => Ok(()),
        };
    }
    let (side, what) = key.split_once('.').unwrap_or_default();
    let other = if side == "left" { "right" } else { "left" };
    if let Some([first, _]) = PAIRS.iter().find(|[_, second]| key == *second)
        && before.get(*first).is_some_and(String::is_empty)
    {
        return Err(Fault {
            why: both_or_neither(language).to_owned(),
            of: Some((*first).to_owned()),
        });
    }
    match what {
        "centre_height_mm" if !is_from_level_line(before) && !LAMP_HEIGHTS_MM.contains(&value()) => Err(said!(
            language;
            "a lamp's centre is {} to {} mm above the floor",
            "die Mitte eines Scheinwerfers liegt {} bis {} mm über dem Boden";
            LAMP_HEIGHTS_MM.start(),
            LAMP_HEIGHTS_MM.end()
        )
        .into()),
        "centre_x_mm" => given(before, &format!("{other}.centre_x_mm"))
            .and_then(|other_mm| fault_of_lamps(language, side, value(), other_mm))
            .map_or(Ok(()), Err),
        "high" => match given(before, "lamp_mark.low") {
            Some(low) if value() < low => Err(said!(
                language; "it is less than the smallest, {}", "er ist kleiner als der kleinste, {}"; language.figure(&low.to_string())
            )
            .into()),
            _ => Ok(()),
        },
        _ => Ok(()),
    }
}

/// Lamps of one car are less far apart in their distances to the wall, mm, unless it stands askew by more than anybody lets it, some ten degrees
/// (our choice, no source).
const MOST_ASKEW_MM: f64 = 200.0;

/// What is possible and hardly so: the lamps' distances to the wall, left and right, mm. To be asked, not forbidden.
pub(crate) fn doubt_of_distances(language: Language, left_mm: f64, right_mm: f64) -> Option<String> {
    let apart_mm = (left_mm - right_mm).abs();
    let shown = |mm: f64| language.figure(&mm.to_string());
    (apart_mm > MOST_ASKEW_MM).then(|| {
        said!(
            language;
            "The left lamp is said to be {} mm from the wall, the right one {} mm: {} mm apart. Does the car really stand so far askew?",
            "Der linke Scheinwerfer soll {} mm von der Wand sein, der rechte {} mm: {} mm Unterschied. Steht das Fahrzeug wirklich so schief?";
            shown(left_mm),
            shown(right_mm),
            shown(apart_mm)
        )
    })
}

/// The lamps of one car hang as high as each other but for a tyre or a spring, mm (our choice, no source).
const UNEVEN_MM: f64 = 25.0;

/// What is possible and hardly so: the heights of the lamps' centres, left and right, mm. Where two digits of one, swapped, bring them together that
/// is said, too.
pub(crate) fn doubt_of_lamp_heights(language: Language, left_mm: f64, right_mm: f64) -> Option<String> {
    let apart_mm = (left_mm - right_mm).abs();
    if apart_mm < UNEVEN_MM {
        return None;
    }
    let shown = |mm: f64| language.figure(&((mm * 1000.0).round() / 1000.0).to_string());
    let (left, right) = (shown(left_mm), shown(right_mm));
    let meant = [(left_mm, right_mm), (right_mm, left_mm)].map(|(typed_mm, other_mm)| {
        let swapped = with_digits_swapped(typed_mm)
            .into_iter()
            .min_by(|a, b| (a - other_mm).abs().total_cmp(&(b - other_mm).abs()))?;
        ((swapped - other_mm).abs() < UNEVEN_MM).then(|| (shown(typed_mm), shown(swapped)))
    });
    let swap = meant.into_iter().flatten().next().map_or(String::new(), |(typed, meant)| {
        said!(
            language;
            " With two digits swapped {typed} is {meant}, and they are as high as each other: was one typed so?",
            " Mit zwei vertauschten Ziffern wird aus {typed} {meant}, und sie sind gleich hoch: ist eine so vertippt?"
        )
    });
    Some(said!(
        language;
        "The left lamp's centre is said to be {left} mm high, the right one's {right} mm: {} mm apart.{swap} Are both right?",
        "Die Mitte des linken Scheinwerfers soll {left} mm hoch liegen, die des rechten {right} mm: {} mm Unterschied.{swap} Stimmen beide?";
        shown(apart_mm)
    ))
}

/// The lamps of a car that stands in the middle lie as far from the centre line as each other, but for this share: it need not stand there (our
/// choice, no source).
const ASIDE_SHARE: f64 = 0.2;

/// What is possible and hardly so: the lamps' places beside the centre line, left and right, mm, of which one would be as far as the other with a digit
/// more or less.
pub(crate) fn doubt_of_lamp_places(language: Language, left_mm: f64, right_mm: f64) -> Option<String> {
    let is_as_far = |a_mm: f64, b_mm: f64| (a_mm.abs() - b_mm.abs()).abs() < ASIDE_SHARE * b_mm.abs();
    let slipped = |typed_mm: f64, other_mm: f64| {
        [10.0 * typed_mm, typed_mm / 10.0]
            .into_iter()
            .find(|mm| is_as_far(*mm, other_mm))
    };
    let shown = |mm: f64| language.figure(&((mm * 1000.0).round() / 1000.0).to_string());
    let (left, right) = (shown(left_mm), shown(right_mm));
    // The nearer one is the likelier slip: a digit is left out more easily than typed twice.
    let (typed_mm, meant_mm) = if left_mm.abs() < right_mm.abs() {
        (left_mm, slipped(left_mm, right_mm)?)
    } else {
        (right_mm, slipped(right_mm, left_mm)?)
    };
    let (typed, meant) = (shown(typed_mm), shown(meant_mm));
    Some(said!(
        language;
        "The left lamp's centre is said to lie at {left} mm, the right one's at {right} mm; with {meant} for {typed} both would lie about as far from the \
         centre line: is a digit missing, or one too many? Are both right?",
        "Die Mitte des linken Scheinwerfers soll bei {left} mm liegen, die des rechten bei {right} mm; mit {meant} statt {typed} lägen beide etwa gleich \
         weit von der Mittellinie: fehlt eine Ziffer, oder ist eine zu viel? Stimmen beide?"
    ))
}

/// A figure with any two neighbouring digits of it swapped.
fn with_digits_swapped(mm: f64) -> Vec<f64> {
    let text: Vec<char> = mm.to_string().chars().collect();
    let swapped = (1..text.len()).filter(|&n| text[n - 1].is_ascii_digit() && text[n].is_ascii_digit());
    swapped
        .filter_map(|n| {
            let mut other = text.clone();
            other.swap(n - 1, n);
            other.into_iter().collect::<String>().parse().ok()
        })
        .collect()
}

/// What is possible of a new job's answers, and hardly so: all of it, as one answer covers it all.
pub(crate) fn doubt(language: Language, answers: &Answers) -> Option<String> {
    let both = |key: &str| given(answers, &format!("left.{key}")).zip(given(answers, &format!("right.{key}")));
    let distances = both("distance_mm").and_then(|(left, right)| doubt_of_distances(language, left, right));
    let lamps = both("centre_height_mm").and_then(|(left, right)| doubt_of_lamp_heights(language, left, right));
    let places = both("centre_x_mm").and_then(|(left, right)| doubt_of_lamp_places(language, left, right));
    let all: Vec<String> = [distances, lamps, places, doubt_of_heights(language, answers)]
        .into_iter()
        .flatten()
        .collect();
    (!all.is_empty()).then(|| all.join("\n"))
}

/// What is wrong with the lamps' places beside each other, of which the lamp at `side` has the one that was answered last, mm. Where the left one's
/// lies to the right of the centre line, that is the one whose minus is missing. It is worded for the field at which it is shown: its figure is "here".
fn fault_of_lamps(language: Language, side: &str, place_mm: f64, other_mm: f64) -> Option<Fault> {
    let (left_mm, right_mm) = if side == "left" {
        (place_mm, other_mm)
    } else {
        (other_mm, place_mm)
    };
    let at_left = left_mm > 0.0 || side == "left";
    let (at_fault, other, here_mm, there_mm) = if at_left {
        ("left", "right", left_mm, right_mm)
    } else {
        ("right", "left", right_mm, left_mm)
    };
    let shown = |mm: f64| language.figure(&mm.to_string());
    let (here, there) = (shown(here_mm), shown(there_mm));
    let why = if left_mm >= right_mm {
        said!(
            language;
            "the left lamp lies left of the right one, so that its figure is the smaller one; {here} does not fit the \
             {other} lamp's {there}: is a minus missing, or one too many?",
            "der linke Scheinwerfer liegt links vom rechten, also ist sein Wert der kleinere; {here} hier passt nicht zu {there} dort: fehlt ein \
             Minus, oder ist eines zu viel?"
        )
    } else if right_mm - left_mm < LEAST_APART_MM {
        said!(
            language;
            "with {here} here and {there} there the lamps are {:.0} mm apart: is the left one's minus missing?",
            "mit {here} hier und {there} dort liegen die Scheinwerfer {:.0} mm auseinander: fehlt das Minus des linken?";
            right_mm - left_mm
        )
    } else {
        return None;
    };
    Some(Fault {
        why,
        of: Some(format!("{at_fault}.centre_x_mm")),
    })
}

fn is_from_level_line(before: &Answers) -> bool {
    before.get("bay.heights_from").is_some_and(|from| from == "level-line")
}

/// The other sheets that were answered before: "sheet3".
fn others<'a>(sheet: &'a str, before: &'a Answers) -> impl Iterator<Item = &'a str> {
    let count = given(before, "bay.sheets").unwrap_or(f64::INFINITY);
    let of = before.keys().filter_map(|key| key.strip_suffix(".id"));
    let hangs = move |name: &&str| {
        name.trim_start_matches("sheet")
            .parse::<f64>()
            .is_ok_and(|n| n <= count)
    };
    of.filter(move |name| *name != sheet).filter(hangs)
}

fn number_is_free(language: Language, sheet: &str, id: &str, before: &Answers) -> Result<(), String> {
    let mut ids = others(sheet, before).filter_map(|name| before.get(&format!("{name}.id")));
    if ids.any(|other| other == id) {
        return Err(said!(
            language;
            "number {id} was given to another sheet already; each has its own",
            "Nummer {id} hat schon ein anderes Messblatt; jedes hat seine eigene"
        ));
    }
    Ok(())
}

/// Of two sheets that lie on each other the one that hangs on the other side of the centre line where the usual six hang as they are drawn: two
/// low and one high on each. `None` where the drawing does not tell.
fn wrong_side<'a>(a: &'a str, b: &'a str, x_mm: [f64; 2], before: &Answers) -> Option<&'a str> {
    const HANG_LEFT: [&str; 3] = ["sheet1", "sheet2", "sheet5"];
    const USUAL: f64 = 6.0;
    if given(before, "bay.sheets") != Some(USUAL) || (x_mm[0] > 0.0) != (x_mm[1] > 0.0) {
        return None;
    }
    let is_wrong = |name: &&str| HANG_LEFT.contains(name) == (x_mm[0] > 0.0);
    match [a, b].into_iter().filter(is_wrong).collect::<Vec<_>>()[..] {
        [wrong] => Some(wrong),
        _ => None,
    }
}

/// Heights of two sheets that hang in one row differ by less than this share of either: a row is hung along a line, by eye at the worst (our choice,
/// no source).
const ROW_SHARE: f64 = 0.15;

fn is_as_high(a_mm: f64, b_mm: f64) -> bool {
    (a_mm - b_mm).abs() < ROW_SHARE * a_mm.abs().max(b_mm.abs())
}

/// The heights of the sheets that were answered, but for those of these names.
fn heights_but<'a>(names: &'a [&'a str], before: &'a Answers) -> impl Iterator<Item = f64> + 'a {
    others("", before)
        .filter(|name| !names.contains(name))
        .filter_map(|name| given(before, &format!("{name}.y_mm")))
}

/// Two sheets that lie on each other and hang on the sides on which they are usually hung, or one of whose heights is that of no other sheet: a digit
/// of that height is missing or too many, where it would then hang with others, or as the usual six are drawn above them.
fn slip_of_height(language: Language, names: [&str; 2], places: [[f64; 2]; 2], before: &Answers) -> Option<Fault> {
    const USUAL: f64 = 6.0;
    // Not so low that the sheet would lie in the floor, nor out of reach.
    const LEAST_MM: f64 = 80.0;
    const MOST_MM: f64 = 3_000.0;
    let heights: Vec<f64> = heights_but(&names, before).collect();
    let hangs_with_others = |y_mm: f64| heights.iter().any(|&other| is_as_high(y_mm, other));
    let is_usual = given(before, "bay.sheets") == Some(USUAL);
    // The last that was typed first.
    let slip = [1, 0].into_iter().find_map(|n| {
        let [x_mm, y_mm] = places[n];
        let beside = places[1 - n];
        if hangs_with_others(y_mm) || (x_mm > 0.0) != (beside[0] > 0.0) {
            return None;
        }
        let meant = [10.0 * y_mm, y_mm / 10.0].map(|y_mm| (y_mm * 1000.0).round() / 1000.0);
        let is_better = |y_mm: &f64| {
            let may_be = (LEAST_MM..=MOST_MM).contains(y_mm) && !is_as_high(*y_mm, beside[1]);
            may_be && (hangs_with_others(*y_mm) || (is_usual && *y_mm > beside[1]))
        };
        Some((n, y_mm, meant.into_iter().find(is_better)?))
    });
    let (n, y_mm, meant_mm) = slip?;
    let shown = |mm: f64| language.figure(&mm.to_string());
    let number = |name: &str| {
        before
            .get(&format!("{name}.id"))
            .cloned()
            .unwrap_or_else(|| name.trim_start_matches("sheet").to_owned())
    };
    let (sheet, other) = (number(names[n]), number(names[1 - n]));
    let (height, other_height, meant) = (shown(y_mm), shown(places[1 - n][1]), shown(meant_mm));
    Some(Fault {
        why: said!(
            language;
            "with a height of {height} sheet {sheet} lies on sheet {other} ({other_height} high), and no other hangs as high: is {meant} meant?",
            "mit {height} Höhe liegt Messblatt {sheet} auf Messblatt {other} ({other_height} hoch), und kein anderes hängt so hoch: ist {meant} gemeint?"
        ),
        of: Some(format!("{}.y_mm", names[n])),
    })
}

/// A sheet whose height is that of no other, and would be with a digit more or less: possible, and hardly so.
pub(crate) fn doubt_of_heights(language: Language, before: &Answers) -> Option<String> {
    let count = given(before, "bay.sheets").unwrap_or(0.0);
    let names: Vec<&str> = others("", before).collect();
    names.iter().find_map(|name| {
        let y_mm = given(before, &format!("{name}.y_mm"))?;
        let heights: Vec<f64> = heights_but(&[name], before).collect();
        let fits = |y_mm: f64| heights.iter().filter(|&&other| is_as_high(y_mm, other)).count();
        if count < 3.0 || fits(y_mm) > 0 {
            return None;
        }
        let id = before.get(&format!("{name}.id"))?;
        let shown = |mm: f64| language.figure(&((mm * 1000.0).round() / 1000.0).to_string());
        // Below a level line it is negative, above it not.
        if is_from_level_line(before) && fits(-y_mm) > 1 {
            let (height, meant) = (shown(y_mm), shown(-y_mm));
            return Some(said!(
                language;
                "Sheet {id} is said to hang at {height} mm, and no other hangs as high; at {meant} mm it would hang with others: below the level \
                 line a height is negative, above it positive. Is {height} mm right?",
                "Messblatt {id} soll bei {height} mm hängen, und kein anderes hängt so hoch; bei {meant} mm hinge es mit anderen: unter der \
                 waagerechten Linie ist eine Höhe negativ, darüber positiv. Stimmen {height} mm?"
            ));
        }
        // One alone may be a slip itself.
        let meant = [10.0 * y_mm, y_mm / 10.0].into_iter().find(|&y_mm| fits(y_mm) > 1)?;
        let (height, meant) = (shown(y_mm), shown(meant));
        Some(said!(
            language;
            "Sheet {id} is said to hang {height} mm high, and no other hangs as high; with {meant} mm it would hang with others. Is {height} mm right?",
            "Messblatt {id} soll {height} mm hoch hängen, und kein anderes hängt so hoch; mit {meant} mm hinge es mit anderen. Stimmen {height} mm?"
        ))
    })
}

/// Sheets do not hang one over the other, those from the floor above it, and the last not on one line with all others.
fn place_is_free(language: Language, sheet: &str, y_mm: f64, before: &Answers) -> Result<(), Fault> {
    if !is_from_level_line(before) && y_mm <= 0.0 {
        return Err(language
            .pick(
                "its centre lies above the floor; give its height over the floor",
                "seine Mitte liegt über dem Boden; die Höhe über dem Boden angeben",
            )
            .into());
    }
    let size_mm = given(before, "bay.size_mm").unwrap_or(0.0);
    if !is_from_level_line(before) && y_mm < size_mm / 2.0 {
        let (height, half) = (
            language.figure(&y_mm.to_string()),
            language.figure(&(size_mm / 2.0).to_string()),
        );
        return Err(said!(
            language;
            "with its centre {height} mm high, a sheet whose square is {} mm would reach below the floor: its centre lies {half} mm above its lower \
             edge; measure to the centre, in mm",
            "mit der Mitte in {height} mm Höhe reichte ein Messblatt mit einem Quadrat von {} mm unter den Boden: seine Mitte liegt {half} mm über \
             seinem unteren Rand; zur Mitte messen, in mm";
            language.figure(&size_mm.to_string())
        )
        .into());
    }
    let Some(x_mm) = given(before, &format!("{sheet}.x_mm")) else {
        return Ok(());
    };
    let place = |name: &str| {
        Some([
            given(before, &format!("{name}.x_mm"))?,
            given(before, &format!("{name}.y_mm"))?,
        ])
    };
    let number = |name: &str| {
        let id = before.get(&format!("{name}.id")).map(String::as_str);
        id.unwrap_or_else(|| name.trim_start_matches("sheet")).to_owned()
    };
    let lies_on = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).abs() < size_mm && (a[1] - b[1]).abs() < size_mm;
    let mut places = Vec::new();
    for name in others(sheet, before) {
        let Some(other) = place(name) else { continue };
        if lies_on([x_mm, y_mm], other) {
            let hang_rightly = wrong_side(name, sheet, [other[0], x_mm], before).is_none();
            if let Some(slip) = slip_of_height(language, [name, sheet], [other, [x_mm, y_mm]], before)
                && hang_rightly
            {
                return Err(slip);
            }
            let (a, b) = (number(name), number(sheet));
            // A minus that is missing lays a sheet on the one that hangs as far on the other side: which of the two it is missing from,
            // their places do not tell.
            return Err(if x_mm == 0.0 {
                said!(
                    language;
                    "sheets {a} and {b} lie on each other; measure both again",
                    "die Messblätter {a} und {b} liegen aufeinander; beide noch einmal vermessen"
                )
                .into()
            } else {
                let shown = |place: [f64; 2]| place.map(|mm| language.figure(&mm.to_string())).join("; ");
                let (first, second) = match language {
                    Language::English => (format!("{}, {}", other[0], other[1]), format!("{x_mm}, {y_mm}")),
                    // With decimal commas.
                    Language::German => (shown(other), shown([x_mm, y_mm])),
                };
                let why = match wrong_side(name, sheet, [other[0], x_mm], before) {
                    Some(wrong) => {
                        let (wrong, is_left) = (number(wrong), x_mm > 0.0);
                        let way = match (language, is_left) {
                            (Language::English, true) => {
                                "is its minus missing? It hangs to the left of the centre line, where x is negative"
                            }
                            (Language::English, false) => {
                                "is its minus too much? It hangs to the right of the centre line, where x is positive"
                            }
                            (Language::German, true) => {
                                "fehlt dort das Minus? Es hängt links von der Mittellinie, wo x negativ ist"
                            }
                            (Language::German, false) => {
                                "ist dort ein Minus zu viel? Es hängt rechts von der Mittellinie, wo x positiv ist"
                            }
                        };
                        said!(
                            language;
                            "sheets {a} and {b} lie on each other ({first} and {second}). As sheets are usually hung it is sheet {wrong}: {way}",
                            "die Messblätter {a} und {b} liegen aufeinander ({first} und {second}). So, wie sie meist hängen, ist es Messblatt \
                             {wrong}: {way}"
                        )
                    }
                    None => said!(
                        language;
                        "sheets {a} and {b} lie on each other ({first} and {second}): is a minus missing at one of them? To the left \
                         of the centre line x is negative",
                        "die Messblätter {a} und {b} liegen aufeinander ({first} und {second}): fehlt bei einem ein Minus? Links von der Mittellinie \
                         ist x negativ"
                    ),
                };
                let at_fault = wrong_side(name, sheet, [other[0], x_mm], before).unwrap_or(sheet);
                // It shows once the height is known, and is of the place along the wall.
                Fault {
                    why,
                    of: Some(format!("{at_fault}.x_mm")),
                }
            });
        }
        places.push(other);
    }
    places.push([x_mm, y_mm]);
    let is_last = given(before, "bay.sheets").is_some_and(|count| places.len() as f64 >= count);
    if is_last && cramped_on_a_line(&places) {
        return Err(language
            .pick(
                "with it all sheets hang on one line, which does not tell where the camera stands: hang two of them \
                    elsewhere, high above the others",
                "damit hängen alle Messblätter auf einer Linie, die nicht verrät, wo die Kamera steht: zwei davon woanders hängen, hoch \
                    über den anderen",
            )
            .into());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lamp_ten_times_nearer_to_the_middle_is_asked_about() {
        let asked = |left_mm, right_mm| doubt_of_lamp_places(Language::English, left_mm, right_mm);
        let why = asked(-56.0, 565.0).unwrap();
        assert!(why.contains("at -56 mm") && why.contains("with -560 for -56"), "{why}");
        assert!(asked(-560.0, 5650.0).unwrap().contains("with -5600 for -560"));
        // In the middle, and well beside it.
        for (left_mm, right_mm) in [
            (-560.0, 565.0),
            (-100.0, 1025.0),
            (-1025.0, 100.0),
            (-900.0, 220.0),
            (0.0, 1125.0),
        ] {
            let is_slip = asked(left_mm, right_mm).is_some();
            assert_eq!(
                is_slip,
                left_mm.abs().max(right_mm.abs()) == 1025.0,
                "{left_mm} {right_mm}"
            );
        }
    }

    /// Sheets by a level line that the low ones hang below: one without its minus is asked about, the high ones are not.
    #[test]
    fn a_minus_that_is_missing_below_a_level_line_is_asked_about() {
        let wall = |heights: [f64; 6], from: &str| -> Answers {
            let mut answers = Answers::new();
            answers.insert("bay.heights_from".to_owned(), from.to_owned());
            answers.insert("bay.sheets".to_owned(), "6".to_owned());
            for (n, y_mm) in (1..).zip(heights) {
                answers.insert(format!("sheet{n}.id"), n.to_string());
                answers.insert(format!("sheet{n}.y_mm"), y_mm.to_string());
            }
            answers
        };
        let asked = |heights, from: &str| doubt_of_heights(Language::English, &wall(heights, from));
        let right = [-688.0, -695.0, -692.0, -685.0, 220.0, 230.0];
        assert_eq!(asked(right, "level-line"), None);
        let mut slipped = right;
        slipped[3] = 685.0;
        let why = asked(slipped, "level-line").unwrap();
        assert!(
            why.contains("Sheet 4") && why.contains("-685 mm it would hang"),
            "{why}"
        );
        assert_eq!(asked([212.0, 205.0, 208.0, 215.0, 1120.0, 1130.0], "floor"), None);
    }
}
