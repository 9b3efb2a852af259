//! Forms of figures: for a new wall and car, and for what was entered before.

use super::super::figures::{Field, Figures};
use super::{page, said, sheets_to_print, without_script};
use crate::error::Error;
use crate::questions::{Kind, Question};
use crate::record::Bay;
use crate::report::text::harmless;
use maud::{Markup, html};

/// More words than this to choose from fold into one line.
const MOST_PICKS: usize = 3;
/// In the drawing's two rows hang the six sheets that are usual: numbers of the upper ones, then of the lower ones.
const HIGH: [u32; 2] = [5, 6];
const LOW: [u32; 4] = [1, 2, 3, 4];
/// Sheets whose heights differ by less hang in one row of the drawing, mm.
const ROW_MM: f64 = 300.0;

/// The form for a new job, and for the wall where there is none.
pub(in super::super) fn new_job(questions: &[Question], bay: Option<&Result<Bay, Error>>) -> Markup {
    let (sheets, others): (Vec<&Question>, Vec<&Question>) =
        questions.iter().partition(|question| number_of(question).is_some());
    let mut groups: Vec<(&str, Vec<&Question>)> = Vec::new();
    for question in others {
        match groups.last_mut() {
            Some((about, group)) if *about == question.about => group.push(question),
            _ => groups.push((&question.about, vec![question])),
        }
    }
    page(
        "New job",
        Some(("/", "All jobs")),
        html! {
            @match bay {
                Some(Ok(bay)) => p { "The wall is " strong { (harmless(&bay.name)) } ", as bay.toml has it. " a.button href="/wall" { "Its figures" } },
                _ => details { summary { "How the sheets hang" } figure { img src="/bay.svg" alt="Six sheets on a wall: four low, two high; x to the \
                     right of the centre line, y up from the floor"; } (sheets_to_print()) },
            }
            p.note { "Each answer is checked as you type on. What is typed is kept in this tab until the job is made. Lengths are in mm; 6.5 m and 65 cm are taken too. What is folded away can \
                 mostly stay as it is." }
            form #new novalidate data-to="/new" data-check="/check" {
                @for (about, group) in &groups {
                    (self::group(about, group.iter().map(|question| Shown::of(question))))
                    @if *about == "The sheets" { (drawing_of_new(&sheets)) }
                }
                (said())
                p { button.big type="submit" { "Make the job" } }
            }
            (without_script())
        },
    )
}

/// The figures of a wall or of lamps as they stand, to be changed; `note` says what that does.
pub(in super::super) fn change_figures(
    title: &str,
    back: (&str, &str),
    to: &str,
    figures: &Figures,
    note: &str,
    more: &Markup,
) -> Markup {
    let is_sheet =
        |(_, fields): &&(String, Vec<Field>)| fields.first().is_some_and(|field| number_of(&field.question).is_some());
    let sheets: Vec<&(String, Vec<Field>)> = figures.groups.iter().filter(is_sheet).collect();
    page(
        title,
        Some(back),
        html! {
            p { (note) }
            p.note { "Comments in the file stay. A change can be taken back as long as nothing else was changed." }
            form #new novalidate data-to=(to) data-check={ (to) "/check" } {
                input type="hidden" name="was" value=(figures.was);
                @for (about, fields) in figures.groups.iter().filter(|group| !is_sheet(group)) {
                    (group(about, fields.iter().map(Shown::as_it_stands)))
                }
                @if !sheets.is_empty() { (drawing_of(&sheets)) }
                (said())
                p { button.big type="submit" { "Change them" } }
            }
            (more)
            (without_script())
        },
    )
}

/// A question as a form shows it.
struct Shown<'a> {
    id: &'a str,
    question: &'a Question,
    value: &'a str,
    is_needed: bool,
    /// What stands in a file was asked for; whether a new file wants it hangs on other answers.
    only_with: &'a [(&'static str, Vec<String>)],
}

impl<'a> Shown<'a> {
    fn of(question: &'a Question) -> Self {
        Self {
            id: &question.key,
            question,
            value: question.usual.as_deref().unwrap_or_default(),
            is_needed: question.usual.is_none(),
            only_with: &question.only_with,
        }
    }

    fn as_it_stands(field: &'a Field) -> Self {
        Self {
            id: &field.id,
            question: &field.question,
            value: &field.shown,
            is_needed: field.question.usual.as_deref() != Some(""),
            only_with: &[],
        }
    }
}

/// Fields under a heading, those that are rarely wanted folded away.
fn group<'a>(about: &str, shown: impl Iterator<Item = Shown<'a>>) -> Markup {
    let (rare, usual): (Vec<Shown<'_>>, Vec<Shown<'_>>) = shown.partition(|one| one.question.is_rare);
    html! {
        fieldset.fields {
            legend { (harmless(about)) }
            @for one in &usual { (field(one)) }
            @if !rare.is_empty() {
                details.rare { summary { (capital(&rare.iter().map(in_short).collect::<Vec<_>>().join(", "))) } @for one in &rare { (field(one)) } }
            }
        }
    }
}

/// What is folded away, in few words.
fn in_short(shown: &Shown<'_>) -> &'static str {
    match shown.question.key.rsplit('.').next().unwrap_or_default() {
        "name" => "name of the wall",
        "grade_sd_percent" => "how even the floor is",
        "position_sd_mm" => "how well the sheets are measured",
        "odometer" => "odometer",
        "measured_by" => "who measures",
        "system" => "how its lamps are moved",
        "centre_height_sd_mm" => "how well the height is measured",
        "distance_sd_mm" => "how well the distance is measured",
        "face_height_mm" => "height of the lens",
        _ => "more",
    }
}

fn field(shown: &Shown<'_>) -> Markup {
    let Shown {
        id, question, value, ..
    } = *shown;
    let only_with = serde_json::to_string(shown.only_with).unwrap_or_default();
    let (why, fault) = (format!("{id}-why"), format!("{id}-fault"));
    let described = format!("{why} {fault}");
    let needed = if shown.is_needed { " *" } else { "" };
    let is_figure = !matches!(question.kind, Kind::Text | Kind::Choice(_));
    html! {
        div.field data-only-with=(only_with) {
            @match &question.kind {
                Kind::Choice(words) if words.len() <= MOST_PICKS => {
                    p.label id={ (id) "-asks" } { (question.ask) (needed) }
                    div id=(id) role="radiogroup" aria-labelledby={ (id) "-asks" } aria-describedby=(described) {
                        @for (word, meaning) in words {
                            label.pick { input type="radio" name=(id) value=(word) checked[word == value]; span { (capital(meaning)) } }
                        }
                    }
                },
                Kind::Choice(words) => {
                    label for=(id) { (question.ask) (needed) }
                    select id=(id) name=(id) aria-describedby=(described) {
                        @for (word, meaning) in words { option value=(word) selected[word == value] { (capital(meaning)) } }
                    }
                },
                kind => {
                    label for=(id) { (question.ask) (needed) }
                    input id=(id) name=(id) type="text" inputmode=(pad(kind)) autocomplete="off" maxlength="200" value=(value)
                        class=[is_figure.then_some("figure")] required[shown.is_needed] aria-describedby=(described);
                },
            }
            p.note id=(why) hidden[question.why.is_empty()] { (question.why) }
            p.fault id=(fault) role="alert" hidden {}
        }
    }
}

/// A sign stands on no phone's pad of figures.
fn pad(kind: &Kind) -> &'static str {
    if matches!(kind, Kind::Whole(..)) {
        "numeric"
    } else {
        "text"
    }
}

pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// Which sheet a question is about, counted from 1.
fn number_of(question: &Question) -> Option<u32> {
    question.key.strip_prefix("sheet")?.split('.').next()?.parse().ok()
}

/// A sheet in the drawing, with the two figures that are typed on it.
struct Hung<'a> {
    name: String,
    /// Its column of four, where it has one.
    column: Option<u32>,
    places: Vec<Shown<'a>>,
}

/// The wall of a new job: the usual six where they hang, further ones below.
fn drawing_of_new(questions: &[&Question]) -> Markup {
    let hung = |n: u32, column: Option<u32>| {
        let of = questions.iter().filter(|question| number_of(question) == Some(n));
        Hung {
            name: n.to_string(),
            column,
            places: of
                .filter(|question| !question.is_rare)
                .map(|question| Shown::of(question))
                .collect(),
        }
    };
    let last = questions
        .iter()
        .filter_map(|question| number_of(question))
        .max()
        .unwrap_or(0);
    let high = HIGH.iter().zip([1, 3]).map(|(&n, column)| hung(n, Some(column)));
    let low = LOW.iter().zip(1..).map(|(&n, column)| hung(n, Some(column)));
    let further = (HIGH[1] + 1..=last).map(|n| hung(n, None));
    let numbers: Vec<Shown<'_>> = questions
        .iter()
        .filter(|question| question.is_rare)
        .map(|question| Shown::of(question))
        .collect();
    html! {
        (drawing(&[high.collect(), low.collect()], &further.collect::<Vec<_>>()))
        details.rare.numbers { summary { "Other numbers are printed on your sheets" } @for one in &numbers {
            div.of-sheet { p.label { (harmless(&one.question.about)) } (field(one)) }
        } }
    }
}

/// The wall as its figures stand.
fn drawing_of(sheets: &[&(String, Vec<Field>)]) -> Markup {
    let place = |fields: &[Field], axis: &str| {
        let field = fields.iter().find(|field| field.id.ends_with(axis))?;
        field.shown.parse::<f64>().ok()
    };
    let mut all: Vec<(f64, f64, Hung<'_>)> = sheets
        .iter()
        .map(|(name, fields)| {
            let hung = Hung {
                name: name.trim_start_matches("Sheet ").to_owned(),
                column: None,
                places: fields.iter().map(Shown::as_it_stands).collect(),
            };
            (
                place(fields, "x_mm").unwrap_or(0.0),
                place(fields, "y_mm").unwrap_or(0.0),
                hung,
            )
        })
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut rows: Vec<Vec<(f64, f64, Hung<'_>)>> = Vec::new();
    for one in all {
        match rows.last_mut() {
            Some(row) if row.last().is_some_and(|above| above.1 - one.1 < ROW_MM) => row.push(one),
            _ => rows.push(vec![one]),
        }
    }
    for row in &mut rows {
        row.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    // A row of fewer sheets hangs over the nearest of the fullest one.
    let columns: Vec<f64> = rows
        .iter()
        .max_by_key(|row| row.len())
        .map_or_else(Vec::new, |row| row.iter().map(|one| one.0).collect());
    if columns.len() <= LOW.len() {
        for row in &mut rows {
            let (mut free, wanted) = (0, row.len());
            for (n, one) in row.iter_mut().enumerate() {
                let far = |column: &usize| (columns[*column] - one.0).abs();
                let open = free..=columns.len() - (wanted - n);
                let column = open.min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(free);
                one.2.column = u32::try_from(column + 1).ok();
                free = column + 1;
            }
        }
    }
    let rows: Vec<Vec<Hung<'_>>> = rows
        .into_iter()
        .map(|row| row.into_iter().map(|(.., hung)| hung).collect())
        .collect();
    drawing(&rows, &[])
}

/// Figures typed where the sheets hang: rows from above, and sheets that have no place in them yet.
fn drawing(rows: &[Vec<Hung<'_>>], further: &[Hung<'_>]) -> Markup {
    html! {
        fieldset.drawn {
            legend { "Where the sheets hang" }
            p.note { "Measure to the centre of each sheet, not to its edge: that would shift every reading, and no photo can show it. x: from \
                 the centre line along the wall, as you face it; to the left of the line it is negative. y: straight up from the floor \
                 at the wall's foot, or from the level line. Both in mm." }
            div.wall {
                @for row in rows { div.row-of-sheets { @for one in row { (sheet(one)) } } }
                p.floor { "floor, or level line" }
            }
            @if !further.is_empty() { div.row-of-sheets.further { @for one in further { (sheet(one)) } } }
            // Words of what is amiss want more room than a sheet has.
            @for one in rows.iter().flatten().chain(further) {
                @for place in &one.places {
                    p.fault.of-drawing id={ (place.id) "-fault" } data-sheet={ (one.name) ", " (axis(place)) } role="alert" hidden {}
                }
            }
        }
    }
}

fn axis(place: &Shown<'_>) -> &'static str {
    if place.id.ends_with("x_mm") { "x" } else { "y" }
}

fn sheet(hung: &Hung<'_>) -> Markup {
    let only_with = hung.places.first().map_or(&[][..], |place| place.only_with);
    let only_with = serde_json::to_string(only_with).unwrap_or_default();
    let column = hung.column.map(|column| format!("grid-column: {column}"));
    html! {
        div.sheet.field data-only-with=(only_with) style=[column] role="group" aria-label={ "Sheet " (harmless(&hung.name)) } {
            span.number aria-hidden="true" { (harmless(&hung.name)) }
            @for place in &hung.places {
                label for=(place.id) { (axis(place)) span.unseen { " of sheet " (harmless(&hung.name)) ", mm" } }
                input.figure id=(place.id) name=(place.id) type="text" inputmode="text" autocomplete="off" maxlength="20"
                    value=(place.value) required aria-describedby={ (place.id) "-fault" };
            }
        }
    }
}
