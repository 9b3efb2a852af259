//! Forms of figures: for a new wall and car, and for what was entered before.

use super::super::car::Car;
use super::super::figures::{Field, Figures};
use super::super::jobs::{Place, Wall};
use super::super::reader::Reader;
use super::{all_jobs, figures_of, page, said, sheets_to_print, without_script};
use crate::language::{Language, Said};
use crate::questions::{Kind, Question};
use crate::record::{Lamp, ToleranceTable};
use crate::report::text::harmless;
use maud::{Markup, html};

/// More words than this to choose from fold into one line.
const MOST_PICKS: usize = 3;
/// In the drawing's two rows hang the six sheets that are usual: numbers of the upper ones, then of the lower ones.
const HIGH: [u32; 2] = [5, 6];
const LOW: [u32; 4] = [1, 2, 3, 4];
/// Sheets beside each other in the drawing: more would leave no room for their figures on a phone.
const COLUMNS: usize = 4;
/// More than two sheets of a wall are apart, mm.
const ACROSS_MM: f64 = 1e6;
/// Sheets whose heights differ by less hang in one row of the drawing, mm.
const ROW_MM: f64 = 300.0;

/// The form for a new job, and for the wall where there is none.
pub(in super::super) fn new_job(
    reader: Reader<'_>,
    questions: &[Question],
    walls: &[Wall],
    wall: Option<&str>,
) -> Markup {
    let language = reader.language;
    let of_wall = match wall {
        Some(name) => format!("?wall={name}"),
        None if walls.is_empty() => String::new(),
        None => "?wall=new".to_owned(),
    };
    page(
        reader,
        language.pick("New job", "Neuer Auftrag"),
        Some(("/", all_jobs(language))),
        html! {
            @match walls.iter().find(|one| Some(one.name.as_str()) == wall) {
                Some(one) => p { (language.pick("The wall is ", "Die Wand ist ")) strong { (name_of_wall(one)) } (said!(language; ", as {} has it. ", ", wie sie in {} steht. "; one.name)) a.button href=(figures_of(one)) { (language.pick("Its figures", "Maße der Wand")) } },
                None => (how_sheets_hang(language)),
            }
            @if !walls.is_empty() {
                p.actions {
                    @for other in walls.iter().filter(|other| Some(other.name.as_str()) != wall) {
                        a.button href={ "/new?wall=" (other.name) } { (language.pick("Before the wall ", "Vor der Wand ")) (name_of_wall(other)) }
                    }
                    @if wall.is_some() { a.button href="/new?wall=new" { (language.pick("Another wall, or sheets hung anew", "Eine andere Wand oder neu gehängte Messblätter")) } }
                }
                @if wall.is_none() { p { (language.pick("This wall gets a file of its own: jobs before the others stay as they are.", "Diese Wand bekommt eine eigene Datei: Aufträge vor den anderen bleiben, wie sie sind.")) } }
            }
            p.note { (language.pick("Each answer is checked as you type on. What is typed is kept in this tab until the job is made. What is folded away can \
                 mostly stay as it is. ", "Jede Antwort wird beim Weitertippen geprüft. Was eingetippt ist, bleibt in diesem Tab, bis der Auftrag angelegt ist. Was eingeklappt ist, kann meist bleiben, wie es ist. ")) (lengths(language)) }
            form #new novalidate data-to={ "/new" (of_wall) } data-check={ "/check" (of_wall) } data-one-wrong=(one_wrong(language)) data-some-wrong=(some_wrong(language)) {
                (asked(language, questions))
                (said())
                p { button.big type="submit" { (language.pick("Make the job", "Auftrag anlegen")) } }
            }
            (without_script(language))
        },
    )
}

fn how_sheets_hang(language: Language) -> Markup {
    html! {
        details { summary { (language.pick("How the sheets hang", "Wie die Messblätter hängen")) } figure { img src=(language.pick("/bay.svg", "/bay-de.svg")) alt=(language.pick("Six sheets on a wall: four low, two high; x to the \
            right of the centre line, y up from the floor", "Sechs Messblätter an einer Wand: vier unten, zwei oben; x von der Mittellinie nach rechts, y vom Boden hinauf")); } (sheets_to_print(language)) }
    }
}

/// What a new file is asked for, with its drawing where that is a wall.
fn asked(language: Language, questions: &[Question]) -> Markup {
    let (sheets, others): (Vec<&Question>, Vec<&Question>) =
        questions.iter().partition(|question| number_of(question).is_some());
    let mut groups: Vec<(&str, Vec<&Question>)> = Vec::new();
    for question in others {
        match groups.last_mut() {
            Some((about, group)) if *about == question.about => group.push(question),
            _ => groups.push((&question.about, vec![question])),
        }
    }
    html! {
        @for (about, group) in &groups {
            (self::group(language, about, group.iter().map(|question| Shown::of(language, question))))
            @if group.iter().any(|question| question.key == "bay.sheets") { (drawing_of_new(language, &sheets)) }
        }
    }
}

/// The form for a further wall by itself, for the photos after the repair of a job.
pub(in super::super) fn new_wall(reader: Reader<'_>, place: &Place, questions: &[Question]) -> Markup {
    let language = reader.language;
    let query = format!("?from={}", place.id);
    page(
        reader,
        language.pick("Another wall", "Eine andere Wand"),
        Some((
            &format!("/job/{}/lamps", place.id),
            language.pick("Figures of the lamps", "Maße der Scheinwerfer"),
        )),
        html! {
            p { (language.pick("This wall gets a file of its own: jobs before the others stay as they are. Whether the car stands before it after the repair is said next.",
                "Diese Wand bekommt eine eigene Datei: Aufträge vor den anderen bleiben, wie sie sind. Ob das Fahrzeug nach der Reparatur vor ihr steht, wird danach gesagt.")) }
            (how_sheets_hang(language))
            p.note { (lengths(language)) }
            form #new novalidate data-to={ "/new-wall" (query) } data-check={ "/new-wall/check" (query) } data-one-wrong=(one_wrong(language)) data-some-wrong=(some_wrong(language)) {
                (asked(language, questions))
                (said())
                p { button.big type="submit" { (language.pick("Enter the wall", "Wand eintragen")) } }
            }
            (without_script(language))
        },
    )
}

/// What a wall is called; one that cannot be read by its file.
fn name_of_wall(wall: &Wall) -> String {
    (wall.bay.as_ref()).map_or_else(|_| wall.name.clone(), |bay| harmless(&bay.name).to_string())
}

/// A job's car and its table as they stand, to be changed.
pub(in super::super) fn change_car(reader: Reader<'_>, own: &str, car: &Car) -> Markup {
    let language = reader.language;
    let mut groups: Vec<(&str, Vec<Shown<'_>>)> = Vec::new();
    for question in &car.questions {
        let value = car.shown.get(&question.key).map(String::as_str).unwrap_or_default();
        let one = Shown {
            value: as_typed(language, question, value),
            ..Shown::of(language, question)
        };
        match groups.last_mut() {
            Some((about, group)) if *about == question.about => group.push(one),
            _ => groups.push((&question.about, vec![one])),
        }
    }
    let to = format!("{own}/car");
    page(
        reader,
        language.pick("Car and table", "Fahrzeug und Tabelle"),
        Some((own, super::the_job(language))),
        html! {
            p { (language.pick("All photos of the job are judged anew by this. Where a lamp hangs, and its distance to the wall, is changed under ", "Alle Fotos des Auftrags werden danach neu beurteilt. Wo ein Scheinwerfer liegt und sein Abstand zur Wand werden geändert unter "))
                a href={ (own) "/lamps" } { (language.pick("Figures of the lamps", "Maße der Scheinwerfer")) } "." }
            form #new novalidate data-to=(to) data-check={ (to) "/check" } data-one-wrong=(one_wrong(language)) data-some-wrong=(some_wrong(language)) {
                input type="hidden" name="was" value=(car.was);
                @for (about, shown) in groups { (self::group(language, about, shown.into_iter())) }
                (said())
                p { button.big type="submit" { (language.pick("Change it", "Ändern")) } }
            }
            (without_script(language))
        },
    )
}

/// Beside the figures of the lamps: where the car stands elsewhere after the repair, before this wall or before one of the `others`.
pub(in super::super) fn place_after(language: Language, place: &Place, may: bool, others: &[Wall]) -> Markup {
    let own = format!("/job/{}", place.id);
    let button = |wall: Option<&str>, words: &str| {
        html! {
            button.button data-post={ (own) "/lamps/after" } data-body=(serde_json::json!({ "wall": wall })) data-busy=(language.pick("Doing it", "Wird erledigt")) { (words) }
        }
    };
    html! {
        h2 { (language.pick("The car after the repair", "Das Fahrzeug nach der Reparatur")) }
        @if may {
            p { (language.pick("If the car stands elsewhere for the photos after the repair, give it a place of its own here; its figures begin as those above, and are then changed.",
                "Steht das Fahrzeug für die Fotos nach der Reparatur anderswo, ihm hier einen eigenen Platz geben; dessen Maße sind zuerst die obigen und werden dann geändert.")) }
            p.actions {
                (button(None, language.pick("It stands elsewhere before the same wall", "Es steht anderswo vor derselben Wand")))
                @for wall in others { (button(Some(&wall.name), &said!(language; "It stands before the wall {}", "Es steht vor der Wand {}"; name_of_wall(wall)))) }
                a.button href={ "/new-wall?from=" (place.id) } { (language.pick("Enter another wall, or sheets hung anew", "Eine andere Wand oder neu gehängte Messblätter eingeben")) }
            }
        } @else {
            p { (language.pick("Its place after the repair has figures of its own above. They can be taken out again by taking the change back.", "Sein Platz nach der Reparatur hat oben eigene Maße. Sie verschwinden wieder, wenn die Änderung zurückgenommen wird.")) }
        }
    }
}

/// The figures of a wall or of lamps as they stand, to be changed; `note` says what that does.
pub(in super::super) fn change_figures(
    reader: Reader<'_>,
    title: &str,
    back: (&str, &str),
    (to, query): (&str, &str),
    figures: &Figures,
    note: &str,
    more: &Markup,
) -> Markup {
    let language = reader.language;
    let is_sheet =
        |(_, fields): &&(Said, Vec<Field>)| fields.first().is_some_and(|field| number_of(&field.question).is_some());
    let sheets: Vec<&(Said, Vec<Field>)> = figures.groups.iter().filter(is_sheet).collect();
    page(
        reader,
        title,
        Some(back),
        html! {
            p { (note) }
            p.note { (language.pick("Comments in the file stay. A change can be taken back as long as nothing else was changed. ", "Kommentare in der Datei bleiben. Eine Änderung lässt sich zurücknehmen, solange sonst nichts geändert wurde. ")) (lengths(language)) }
            form #new novalidate data-to={ (to) (query) } data-check={ (to) "/check" (query) } data-one-wrong=(one_wrong(language)) data-some-wrong=(some_wrong(language)) {
                input type="hidden" name="was" value=(figures.was);
                @for (about, fields) in figures.groups.iter().filter(|group| !is_sheet(group)) {
                    (group(language, about.within(language), fields.iter().map(|field| Shown::as_it_stands(language, field))))
                }
                @if !sheets.is_empty() { (drawing_of(language, &sheets)) }
                (said())
                p { button.big type="submit" { (language.pick("Change them", "Ändern")) } }
            }
            (more)
            (without_script(language))
        },
    )
}

/// In which units a field of mm can be typed.
const fn lengths(language: Language) -> &'static str {
    language.pick(
        "Lengths are in mm; with their unit 65\u{a0}cm, 6.5\u{a0}m and 25.6\u{a0}in (or 25.6\") are taken too, and what they come to in mm is shown.",
        "Längen in mm; mit ihrer Einheit gehen auch 65\u{a0}cm, 6,5\u{a0}m und 25,6\u{a0}in (oder 25,6\"), und was sie in mm ergeben, wird gezeigt.",
    )
}

const fn one_wrong(language: Language) -> &'static str {
    language.pick(
        "One answer is missing or wrong; it is marked.",
        "Eine Antwort fehlt oder ist falsch; sie ist gekennzeichnet.",
    )
}

const fn some_wrong(language: Language) -> &'static str {
    language.pick(
        "{n} answers are missing or wrong; they are marked.",
        "{n} Antworten fehlen oder sind falsch; sie sind gekennzeichnet.",
    )
}

/// A question as a form shows it.
struct Shown<'a> {
    id: &'a str,
    question: &'a Question,
    value: String,
    is_needed: bool,
    /// What stands in a file was asked for; whether a new file wants it hangs on other answers.
    only_with: &'a [(&'static str, Vec<String>)],
}

impl<'a> Shown<'a> {
    fn of(language: Language, question: &'a Question) -> Self {
        Self {
            id: &question.key,
            question,
            value: as_typed(language, question, question.usual.as_deref().unwrap_or_default()),
            is_needed: question.usual.is_none(),
            only_with: &question.only_with,
        }
    }

    fn as_it_stands(language: Language, field: &'a Field) -> Self {
        Self {
            id: &field.id,
            question: &field.question,
            value: as_typed(language, &field.question, &field.shown),
            is_needed: field.question.usual.as_deref() != Some(""),
            only_with: &[],
        }
    }
}

/// A figure as this language writes it; words and choices stay as they are.
fn as_typed(language: Language, question: &Question, value: &str) -> String {
    match question.kind {
        Kind::Millimetres(..) | Kind::PerCent(..) => language.figure(value),
        _ => value.to_owned(),
    }
}

/// Fields under a heading, those that are rarely wanted folded away.
fn group<'a>(language: Language, about: &str, shown: impl Iterator<Item = Shown<'a>>) -> Markup {
    let (rare, usual): (Vec<Shown<'_>>, Vec<Shown<'_>>) = shown.partition(|one| one.question.is_rare);
    html! {
        fieldset.fields {
            legend { (harmless(about)) }
            @for one in &usual { (field(language, one)) }
            @if !rare.is_empty() {
                @let names = rare.iter().map(|one| in_short(language, one)).collect::<Vec<_>>();
                // Several that go together are named once.
                details.rare { summary { (capital(&names.chunk_by(|a, b| a == b).map(|alike| alike[0]).collect::<Vec<_>>().join(", "))) } @for one in &rare { (field(language, one)) } }
            }
        }
    }
}

/// A figure and its unit stay on one line of a narrow screen.
pub(super) fn units_kept(text: &str) -> String {
    let mut kept = String::with_capacity(text.len() + 8);
    let mut parts = text.split(' ').peekable();
    while let Some(part) = parts.next() {
        kept.push_str(part);
        let Some(next) = parts.peek() else { break };
        let unit = next.trim_end_matches(['.', ',', ';', ':', ')', '?']);
        let is_unit = ["%", "mm", "cm", "m", "in", "s", "mbar", "minutes", "Minuten", "Uhr"].contains(&unit);
        let is_figure = part
            .trim_start_matches(['(', '−', '-', '+'])
            .starts_with(|c: char| c.is_ascii_digit());
        kept.push(if is_unit && is_figure { '\u{a0}' } else { ' ' });
    }
    kept
}

/// What is folded away, in few words.
fn in_short(language: Language, shown: &Shown<'_>) -> &'static str {
    match shown.question.key.rsplit('.').next().unwrap_or_default() {
        "name" => language.pick("name of the wall", "Name der Wand"),
        "grade_sd_percent" => language.pick("how even the floor is", "wie eben der Boden ist"),
        "position_sd_mm" => language.pick(
            "how well the sheets are measured",
            "wie genau die Messblätter vermessen sind",
        ),
        "odometer" => language.pick("odometer", "Kilometerstand"),
        "measured_by" => language.pick("who measures", "wer misst"),
        "centre_height_sd_mm" => language.pick("how well the height is measured", "wie genau die Höhe gemessen ist"),
        "distance_sd_mm" => language.pick(
            "how well the distance is measured",
            "wie genau der Abstand gemessen ist",
        ),
        "below" | "above" | "low" | "high" => {
            language.pick("other limits than UN R48's", "andere Grenzen als die von UN R48")
        }
        "face_height_mm" => Lamp::face_height(language),
        _ => language.pick("more", "mehr"),
    }
}

fn field(language: Language, shown: &Shown<'_>) -> Markup {
    let Shown {
        id, question, value, ..
    } = shown;
    let only_with = serde_json::to_string(shown.only_with).unwrap_or_default();
    let (why, fault) = (format!("{id}-why"), format!("{id}-fault"));
    let described = format!("{why} {fault}");
    // Neither a unit nor a sign stands alone on a line.
    let needed = if shown.is_needed { "\u{a0}*" } else { "" };
    let asks = question.ask.replace(", mm", ",\u{a0}mm").replace(", %", ",\u{a0}%");
    let is_figure = !matches!(question.kind, Kind::Text | Kind::Choice(_));
    // What is chosen from has words of any length.
    let is_wide = matches!(question.kind, Kind::Choice(_));
    html! {
        div.field.wide[is_wide] data-only-with=(only_with) {
            @match &question.kind {
                Kind::Choice(words) if words.len() <= MOST_PICKS => {
                    p.label id={ (id) "-asks" } { (asks) (needed) }
                    div id=(id) role="radiogroup" aria-labelledby={ (id) "-asks" } aria-describedby=(described) {
                        @for (word, meaning) in words {
                            label.pick { input type="radio" name=(id) value=(word) checked[*word == *value]; span { (capital(meaning)) } }
                        }
                    }
                },
                Kind::Choice(words) => {
                    label for=(id) { (asks) (needed) }
                    select id=(id) name=(id) aria-describedby=(described) {
                        // Nothing is chosen until somebody does.
                        @if value.is_empty() && !words.iter().any(|(word, _)| word.is_empty()) { option value="" selected { (language.pick("Please choose", "Bitte wählen")) } }
                        @for (word, meaning) in words { option value=(word) selected[*word == *value] { (capital(meaning)) } }
                    }
                },
                kind => {
                    label for=(id) { (asks) (needed) }
                    input id=(id) name=(id) type="text" inputmode=(pad(kind)) autocomplete="off" maxlength="200" value=(value)
                        class=[is_figure.then_some("figure")] required[shown.is_needed] aria-describedby=(described);
                },
            }
            p.note id=(why) hidden[question.why.is_empty()] { (units_kept(&question.why)) }
            @if question.key == "job.tolerance" { (origins(language, &question.kind)) }
            @if matches!(question.kind, Kind::Millimetres(..)) { p.took id={ (id) "-took" } role="status" hidden {} }
            p.fault id=(fault) role="alert" hidden {}
        }
    }
}

/// Of each table of limits where they come from, shown beside the one that is chosen.
fn origins(language: Language, kind: &Kind) -> Markup {
    let Kind::Choice(words) = kind else {
        return Markup::default();
    };
    html! {
        @for (name, _) in words {
            @if let Some(confidence) = ToleranceTable::confidence_of(name) {
                p.note data-only-with=(serde_json::json!([["job.tolerance", [name]]]).to_string()) hidden {
                    (language.pick("Where its limits come from, and how sure they are: ", "Woher ihre Grenzen stammen und wie verlässlich sie sind: ")) (harmless(confidence.within(language))) "."
                }
            }
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
    /// Where its number is typed, where it can be.
    number: Option<String>,
    /// Its row from above and its column in the drawing, counted from 1.
    at: [usize; 2],
    places: Vec<Shown<'a>>,
}

/// The wall of a new job: the usual six as they mostly hang, further ones below them. It is a sketch until all places are typed.
fn drawing_of_new(language: Language, questions: &[&Question]) -> Markup {
    let hung = |n: u32, at: [usize; 2]| {
        let of = questions.iter().filter(|question| number_of(question) == Some(n));
        Hung {
            name: n.to_string(),
            number: Some(format!("sheet{n}.id")),
            at,
            places: of
                .filter(|question| !question.is_rare)
                .map(|question| Shown::of(language, question))
                .collect(),
        }
    };
    let last = questions
        .iter()
        .filter_map(|question| number_of(question))
        .max()
        .unwrap_or(0);
    let high = HIGH.iter().zip([1, 3]).map(|(&n, column)| hung(n, [1, column]));
    let low = LOW.iter().zip(1..).map(|(&n, column)| hung(n, [2, column]));
    let further = (HIGH[1] + 1..=last)
        .zip(0..)
        .map(|(n, i)| hung(n, [3 + i / COLUMNS, 1 + i % COLUMNS]));
    let numbers: Vec<Shown<'_>> = questions
        .iter()
        .filter(|question| question.is_rare)
        .map(|question| Shown::of(language, question))
        .collect();
    let sketch = language.pick(
        "The drawing is a sketch: any box may stand for any of your sheets, and once all places are typed each goes where its sheet hangs.",
        "Die Zeichnung ist eine Skizze: jedes Kästchen kann für jedes Messblatt stehen, und sind alle Orte eingetippt, rückt jedes dorthin, wo sein \
         Messblatt hängt.",
    );
    html! {
        (drawing(language, &high.chain(low).chain(further).collect::<Vec<_>>(), Some(sketch)))
        details.rare.numbers { summary { (language.pick("Other numbers are printed on your sheets", "Auf den Messblättern stehen andere Nummern")) } @for one in &numbers {
            div.of-sheet { p.label { (harmless(&one.question.about)) } (field(language, one)) }
        } }
    }
}

/// The wall as its figures stand.
fn drawing_of(language: Language, sheets: &[&(Said, Vec<Field>)]) -> Markup {
    let place = |fields: &[Field], axis: &str| {
        let field = fields.iter().find(|field| field.id.ends_with(axis))?;
        field.shown.parse::<f64>().ok()
    };
    let places: Vec<[f64; 2]> = sheets
        .iter()
        .map(|(_, fields)| ["x_mm", "y_mm"].map(|axis| place(fields, axis).unwrap_or(0.0)))
        .collect();
    let mut all: Vec<Hung<'_>> = sheets
        .iter()
        .zip(as_they_hang(&places))
        .map(|((name, fields), at)| Hung {
            // Its number, as a sheet is called by nothing else.
            name: name.within(language).rsplit(' ').next().unwrap_or_default().to_owned(),
            number: None,
            at,
            places: fields
                .iter()
                .map(|field| Shown::as_it_stands(language, field))
                .collect(),
        })
        .collect();
    all.sort_by_key(|hung| hung.at);
    drawing(language, &all, None)
}

/// Row from above and column in the drawing, counted from 1, of sheets by their places, mm to the right and up: those that hang about as high hang in
/// one row, in which a row of fewer hangs over the nearest of the fullest one.
pub(in super::super) fn as_they_hang(places_mm: &[[f64; 2]]) -> Vec<[usize; 2]> {
    let mut order: Vec<usize> = (0..places_mm.len()).collect();
    order.sort_by(|&a, &b| places_mm[b][1].total_cmp(&places_mm[a][1]));
    let mut rows: Vec<Vec<usize>> = Vec::new();
    for n in order {
        match rows.last_mut() {
            Some(row)
                if row
                    .last()
                    .is_some_and(|&above| places_mm[above][1] - places_mm[n][1] < ROW_MM) =>
            {
                row.push(n)
            }
            _ => rows.push(vec![n]),
        }
    }
    for row in &mut rows {
        row.sort_by(|&a, &b| places_mm[a][0].total_cmp(&places_mm[b][0]));
    }
    // What is too many for one row of the drawing goes on in the next.
    let rows: Vec<&[usize]> = rows.iter().flat_map(|row| row.chunks(COLUMNS)).collect();
    let fullest = rows.iter().max_by_key(|row| row.len()).copied().unwrap_or_default();
    let columns: Vec<f64> = fullest.iter().map(|&n| places_mm[n][0]).collect();
    let mut at = vec![[1, 1]; places_mm.len()];
    for (row, sheets) in rows.iter().enumerate() {
        let mut free = 0;
        for (i, &n) in sheets.iter().enumerate() {
            let x_mm = places_mm[n][0];
            // The centre line runs down the drawing's middle, and a sheet stays on its own side of it where there is room.
            let aside = |column: usize| if columns[column] * x_mm < 0.0 { ACROSS_MM } else { 0.0 };
            let far = |column: &usize| (columns[*column] - x_mm).abs() + aside(*column);
            let open = free..=columns.len() - (sheets.len() - i);
            let column = open.min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(free);
            at[n] = [row + 1, column + 1];
            free = column + 1;
        }
    }
    at
}

/// Figures typed where the sheets hang.
fn drawing(language: Language, sheets: &[Hung<'_>], sketch: Option<&str>) -> Markup {
    html! {
        fieldset.drawn {
            legend { (language.pick("Where the sheets hang", "Wo die Messblätter hängen")) }
            p.note { (language.pick("Measure to the centre of each sheet, not to its edge: that would shift every reading, and no photo can show it. x: from \
                 the centre line along the wall, as you face it; to the left of the line it is negative. y: straight up from the floor \
                 at the wall's foot, or from the level line; below that line it is negative. Both in mm.", "Bis zur Mitte jedes Messblatts messen, nicht bis zum Rand: das würde jeden Messwert verschieben, und kein Foto kann es zeigen. x: von der Mittellinie an der Wand entlang, mit Blick zur Wand; links von der Linie negativ. y: senkrecht hinauf vom Boden am Fuß der Wand oder von der waagerechten Linie; unter dieser Linie negativ. Beides in mm.")) }
            @if let Some(sketch) = sketch { p.note { (sketch) } }
            div.wall {
                div.row-of-sheets { @for one in sheets { (sheet(language, one)) } }
                p.floor { (language.pick("floor, or level line", "Boden oder waagerechte Linie")) }
            }
            // Words of what is amiss want more room than a sheet has.
            @for one in sheets {
                @for place in &one.places {
                    @for (class, what, role) in [("took of-drawing", "took", "status"), ("fault of-drawing", "fault", "alert")] {
                        p class=(class) id={ (place.id) "-" (what) } data-sheet={ (language.pick("Sheet", "Messblatt")) " " (one.name) ", " (axis(place)) }
                            data-number=[&one.number] data-words={ (language.pick("Sheet", "Messblatt")) " {n}, " (axis(place)) } role=(role) hidden {}
                    }
                }
            }
        }
    }
}

fn axis(place: &Shown<'_>) -> &'static str {
    if place.id.ends_with("x_mm") { "x" } else { "y" }
}

fn sheet(language: Language, hung: &Hung<'_>) -> Markup {
    let only_with = hung.places.first().map_or(&[][..], |place| place.only_with);
    let only_with = serde_json::to_string(only_with).unwrap_or_default();
    let [row, column] = hung.at;
    let named = |words: &str| words.replace("{n}", &harmless(&hung.name));
    let of = language.pick("Sheet {n}", "Messblatt {n}");
    let read_out = language.pick(" of sheet {n}, mm", " von Messblatt {n}, mm");
    html! {
        div.sheet.field data-only-with=(only_with) data-number=[&hung.number] data-words=(of) style={ "grid-row: " (row) "; grid-column: " (column) }
            role="group" aria-label=(named(of)) {
            span.number aria-hidden="true" data-number=[&hung.number] data-words="{n}" { (harmless(&hung.name)) }
            @for place in &hung.places {
                label for=(place.id) { (axis(place)) span.unseen data-number=[&hung.number] data-words=(read_out) { (named(read_out)) } }
                input.figure id=(place.id) name=(place.id) type="text" inputmode="text" autocomplete="off" maxlength="20"
                    value=(place.value) required aria-describedby={ (place.id) "-fault" };
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_never_alone_on_a_line() {
        let kept = units_kept("1 mm is 0.01 % at 10 m. From (2 minutes) on, in 3 steps.");
        assert_eq!(
            kept,
            "1\u{a0}mm is 0.01\u{a0}% at 10\u{a0}m. From (2\u{a0}minutes) on, in 3 steps."
        );
    }

    #[test]
    fn sheets_are_drawn_where_they_hang() {
        // The usual six, as they are numbered.
        let six = [
            [-1500.0, 212.0],
            [-600.0, 205.0],
            [550.0, 208.0],
            [1450.0, 215.0],
            [-1500.0, 1120.0],
            [540.0, 1130.0],
        ];
        assert_eq!(as_they_hang(&six), [[2, 1], [2, 2], [2, 3], [2, 4], [1, 1], [1, 3]]);
        // Four high and three low, in any order.
        let seven = [
            [0.0, 300.0],
            [-1400.0, 1300.0],
            [-1300.0, 310.0],
            [1400.0, 1290.0],
            [-500.0, 1310.0],
            [1300.0, 290.0],
            [500.0, 1300.0],
        ];
        let at = as_they_hang(&seven);
        assert_eq!([at[1], at[4], at[6], at[3]], [[1, 1], [1, 2], [1, 3], [1, 4]]);
        assert_eq!(at[2], [2, 1]);
        assert!(
            at[0][0] == 2 && at[5] == [2, 4] && at[0][1] > 1 && at[0][1] < 4,
            "{at:?}"
        );
        // One just to the left of the centre line stays there, though a column to the right of it is nearer.
        let beside = [
            [-1620.0, 1310.0],
            [-700.0, 1325.0],
            [240.0, 1318.0],
            [1480.0, 1306.0],
            [-1500.0, 232.0],
            [-60.0, 228.0],
            [1410.0, 236.0],
        ];
        assert_eq!(as_they_hang(&beside)[4..], [[2, 1], [2, 2], [2, 4]]);
        // Twelve in one row find no room beside each other, and no two stand in one place.
        let many: Vec<[f64; 2]> = (0..12).map(|n| [f64::from(n) * 300.0, 200.0]).collect();
        let mut at = as_they_hang(&many);
        assert!(at.iter().all(|[_, column]| *column <= COLUMNS), "{at:?}");
        at.sort_unstable();
        at.dedup();
        assert_eq!(at.len(), 12);
        assert!(as_they_hang(&[]).is_empty());
    }
}
