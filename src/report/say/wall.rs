//! What a photo says of the wall before anything is measured on it.

use super::super::document::{Block, Item, List, Section, Sign};
use super::super::text::fixed;
use super::super::words::listed;
use crate::aim::{Better, SheetSeen, WallCheck};
use crate::language::{Language, said};

/// Places of a ±: what one wall is better than another is less than what a reading is stated to.
const PLACES: usize = 3;

/// Which sheets are seen, how well they agree, what ± the wall gives, and what would better it.
pub(crate) fn section(language: Language, check: &WallCheck) -> Section {
    let ids = |ids: &mut dyn Iterator<Item = u32>| {
        let all: Vec<String> = ids.map(|id| id.to_string()).collect();
        listed(language, &all)
    };
    let seen = ids(&mut check.seen.iter().map(|sheet| sheet.id));
    let mut items: Vec<Item> = check
        .elsewhere
        .iter()
        .map(|sheet| Item::signed(Sign::Bad, elsewhere(language, sheet)))
        .collect();
    items.push(if check.missing.is_empty() {
        Item::signed(
            Sign::Good,
            said!(language; "All sheets are seen: {seen}.", "Alle Messblätter sind zu sehen: {seen}."),
        )
    } else {
        let missing = ids(&mut check.missing.iter().copied());
        Item::signed(
            Sign::Beware,
            said!(
                language;
                "Seen are the sheets {seen}; not seen: {missing}. Are they in the picture, lit, and not bent?",
                "Zu sehen sind die Messblätter {seen}; nicht zu sehen: {missing}. Sind sie im Bild, beleuchtet und nicht gewellt?"
            ),
        )
    });
    if let Some(farthest) = check
        .seen
        .iter()
        .max_by(|a, b| a.distance_mm().total_cmp(&b.distance_mm()))
    {
        items.push(Item::from(said!(
            language;
            "Their centres lie about {} mm from where they were measured (root mean square), sheet {} the farthest, with {} mm.",
            "Ihre Mitten liegen etwa {} mm von den gemessenen Plätzen (quadratisches Mittel), Blatt {} am weitesten, mit {} mm.";
            fixed(language, check.rms_mm, 1),
            farthest.id,
            fixed(language, farthest.distance_mm(), 1)
        )));
    }
    items.extend(check.at_lamps.iter().map(|at| {
        let (side, stem, u95) = (at.side, at.side.stem(), fixed(language, at.u95_percent, PLACES));
        Item::from(said!(
            language;
            "At the {side} lamp's cut-off this wall alone leaves ± {u95} % (95 %) of an aim.",
            "An der Hell-Dunkel-Grenze des {stem}en Scheinwerfers lässt allein diese Wand ± {u95} % (95 %) einer Neigung offen."
        ))
    }));
    let better = check.better.iter().map(|one| {
        let text = match *one {
            Better::OneMore {
                place_mm: [x_mm, y_mm],
                u95_percent,
            } => said!(
                language;
                "A further sheet at about x {} mm, y {} mm would leave ± {} %.",
                "Ein weiteres Blatt bei etwa x {} mm, y {} mm ließe ± {} % offen.";
                round_place(language, x_mm),
                round_place(language, y_mm),
                fixed(language, u95_percent, PLACES)
            ),
            Better::Care { sd_mm, u95_percent } => said!(
                language;
                "Measuring all centres to {} mm (one standard deviation; a laser on a stand does) would leave ± {} %.",
                "Alle Mitten auf {} mm genau gemessen (eine Standardabweichung; ein Laser auf einem Stativ kann das), blieben ± {} % offen.";
                language.figure(&sd_mm.to_string()),
                fixed(language, u95_percent, PLACES)
            ),
        };
        Item::signed(Sign::Open, text)
    });
    let better: Vec<Item> = better.collect();
    let list = |items| {
        Block::List(List {
            class: "signs",
            items,
            ..List::default()
        })
    };
    let mut blocks = vec![list(items)];
    if check.elsewhere.is_some() {
        blocks.push(Block::note(language.pick(
            "What ± this wall gives is told once all sheets hang where they were entered.",
            "Welches ± diese Wand gibt, steht hier, sobald alle Blätter hängen, wo sie eingetragen sind.",
        )));
    } else if better.is_empty() {
        blocks.push(Block::note(language.pick(
            "No further sheet would better that by much.",
            "Kein weiteres Blatt würde das viel verbessern.",
        )));
    } else {
        blocks.push(Block::text(
            language.pick("What would better it:", "Was es verbessern würde:"),
        ));
        blocks.push(list(better));
    }
    Section::new(
        language.pick("The wall in this photo", "Die Wand in diesem Foto"),
        blocks,
    )
}

/// Of a sheet that hangs elsewhere than it was entered.
fn elsewhere(language: Language, sheet: &SheetSeen) -> String {
    let whole = |mm: f64| fixed(language, mm, 0);
    let ([x_mm, y_mm], [shown_x_mm, shown_y_mm]) = (sheet.taped_mm.map(whole), sheet.shown_mm().map(whole));
    let id = sheet.id;
    let told = said!(
        language;
        "Sheet {id} does not hang where it was entered, at x {x_mm} mm, y {y_mm} mm: the photo shows it at about x {shown_x_mm} mm, y \
         {shown_y_mm} mm.",
        "Blatt {id} hängt nicht, wo es eingetragen ist, bei x {x_mm} mm, y {y_mm} mm: das Foto zeigt es bei etwa x {shown_x_mm} mm, y \
         {shown_y_mm} mm."
    );
    let ask = if sheet.is_mirrored() {
        language.pick(
            "Is its minus missing, or one too many?",
            "Fehlt sein Minus, oder ist eines zu viel?",
        )
    } else {
        language.pick("Measure it again.", "Noch einmal messen.")
    };
    format!("{told} {ask}")
}

/// Nobody hangs a sheet nearer than that to where it is told to.
fn round_place(language: Language, mm: f64) -> String {
    fixed(language, (mm / 50.0).round() * 50.0 + 0.0, 0)
}
