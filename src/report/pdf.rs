//! Prints a [`Document`] as `report.pdf`: the same sections as the page, to be kept, sent or printed.
//!
//! A page is as broad as A4 and as high as Letter, so that it prints at its own size on either paper. Letters are those that the
//! program carries, embedded; words can be searched and copied, and a structure says what each is ([`tags`]). Nothing in it tells
//! when or where it was made.

mod flow;
mod ink;
mod pages;
mod picture;
mod setter;
mod table;
mod tags;
mod write;

use super::Error;
use super::document::Document;
use super::drawn::Step;
use super::letters::Letters;
use flow::Flow;
use setter::Setter;

/// A page, pt: A4 is 595.28 broad, Letter 792 high.
const PAGE: (f32, f32) = (595.28, 792.0);
/// Left free at the sides, and above and below what is said, pt.
const MARGIN: (f32, f32) = (40.0, 44.0);
/// What is left for what is said, pt.
const WIDTH: f32 = PAGE.0 - 2.0 * MARGIN.0;
const BODY_HEIGHT: f32 = PAGE.1 - 2.0 * MARGIN.1;

/// The document as PDF; `job` stands on each page.
///
/// # Errors
/// [`Error::Make`], which the program's own letters and drawings give no cause for.
pub(super) fn print(document: &Document, job: &str) -> Result<Vec<u8>, Error> {
    let fault = |error: String| Error::make("report.pdf", error);
    let setter = Setter(Letters::carried().map_err(fault)?);
    let mut flow = Flow::new(&setter);
    let rows = flow.document(document).map_err(fault)?;
    let pages = pages::stacked(rows);
    Ok(write::pdf(
        &pages,
        &flow.tags,
        &flow.chapters,
        &setter,
        (&document.title, job),
        document.language,
    ))
}

/// An outline with each place put elsewhere.
fn placed(outline: &[Step], at: impl Fn(f32, f32) -> (f32, f32)) -> Vec<Step> {
    let placed = |step: &Step| match *step {
        Step::Move(x, y) => {
            let (x, y) = at(x, y);
            Step::Move(x, y)
        }
        Step::Line(x, y) => {
            let (x, y) = at(x, y);
            Step::Line(x, y)
        }
        Step::Cubic(places) => Step::Cubic(places.map(|(x, y)| at(x, y))),
        Step::Close => Step::Close,
    };
    outline.iter().map(placed).collect()
}

#[cfg(test)]
mod tests {
    use super::super::document::{Block, Item, List, Section, Sign, Table, Text};
    use super::ink::Ink;
    use super::pages::Page;
    use super::*;
    use crate::language::Language;

    fn made() -> Document {
        let mut table = Table::new("", [("", "Photo"), ("", "Figure"), ("", "Words")]);
        for n in 0..90 {
            let path = format!("photos/{}{n}.jpg", "a-very-long-name-without-a-blank/".repeat(n % 5));
            let words = "what a cell says goes over several lines where it has to ".repeat(n % 3);
            table.row([path.into(), format!("{n}.25 % ± 0.07 %").into(), words.into()]);
        }
        let svg = "<svg viewBox='0 0 80 40'><rect x='0' y='0' width='80' height='40' fill='#ffffff'/>\
                   <text x='79' y='20' font-size='9' text-anchor='end'>✓ cleared · ? open</text></svg>";
        let list = List {
            ordered: true,
            items: vec![
                Item::signed(Sign::Bad, "an item"),
                "x".repeat(400).as_str().into(),
                "log".into(),
            ],
            ..List::default()
        };
        let law = Text::default()
            .plain("log")
            .low("10")
            .plain(" of ")
            .strong("light:")
            .word(Sign::Good, "inside");
        let grid = vec![
            Block::text("left of it"),
            Block::Drawing("", svg.to_owned(), "The caption.".to_owned()),
        ];
        Document {
            language: Language::English,
            title: "A title".to_owned(),
            heading: "A heading".to_owned(),
            opening: vec![
                Block::Paragraph("lead", law),
                Block::Paragraph("banner", "Made.".into()),
            ],
            sections: vec![
                Section::new("First", vec![Block::List(list), Block::Group("plots", grid)]),
                Section::new("Second", vec![Block::Facts("facts", vec![("Reach", "63.7 m".into())])]),
            ],
            annex: vec![Section::new(
                "Third",
                vec![Block::Table(table), Block::Details("More", vec![Block::text("hidden")])],
            )],
        }
    }

    fn pages_of(document: &Document) -> (Vec<Page>, Setter) {
        let setter = Setter(Letters::carried().unwrap());
        let rows = Flow::new(&setter).document(document).unwrap();
        (pages::stacked(rows), setter)
    }

    fn words(page: &Page) -> Vec<((f32, f32), f32, bool, &str)> {
        let words = page.inks.iter().filter_map(|(_, ink)| match ink {
            Ink::Words {
                at, size, bold, text, ..
            } => Some((*at, *size, *bold, text.as_str())),
            _ => None,
        });
        words.collect()
    }

    #[test]
    fn all_that_is_said_stands_between_the_margins() {
        let (pages, setter) = pages_of(&made());
        assert!(pages.len() > 2, "{}", pages.len());
        let mut said = String::new();
        for page in &pages {
            for ((x, y), size, bold, text) in words(page) {
                let end = x + setter.width(text, bold, size);
                assert!(
                    x >= MARGIN.0 - 0.1 && end <= PAGE.0 - MARGIN.0 + 0.1,
                    "{text}: {x} to {end}"
                );
                assert!(y > MARGIN.1 && y < PAGE.1 - MARGIN.1 + 2.0, "{text}: {y}");
                said += text;
                said.push(' ');
            }
        }
        for n in 0..90 {
            assert!(said.contains(&format!("{n}.25\u{a0}%\u{a0}±\u{a0}0.07\u{a0}%")), "{n}");
        }
        for part in [
            "A heading",
            "log 10",
            "light:",
            "inside",
            "Made.",
            "an item",
            "Reach:",
            "63.7 m",
            "The caption.",
        ] {
            assert!(said.contains(part), "{part}: {said}");
        }
        assert!(!said.contains("hidden"), "what is closed on the screen stays closed");
        assert_eq!(
            said.matches('x').count() - said.matches("ext").count(),
            400,
            "a long word is parted, not cut"
        );
    }

    #[test]
    fn lines_do_not_lie_on_each_other() {
        let (pages, setter) = pages_of(&made());
        for page in &pages {
            let words = words(page);
            for (n, (a, size, bold, text)) in words.iter().enumerate() {
                let end = a.0 + setter.width(text.trim_end(), *bold, *size);
                for (b, _, _, other) in &words[n + 1..] {
                    let apart = (a.1 - b.1).abs() > 0.7 * size || b.0 >= end - 0.1 || b.0 < a.0 - 0.1;
                    assert!(apart, "{text:?} at {a:?} and {other:?} at {b:?}");
                }
            }
        }
    }

    #[test]
    fn the_place_to_sign_stands_with_what_precedes_it() {
        // However much stands before it, it never begins a page.
        for lines in 0..90 {
            let mut document = made();
            document.opening = (0..lines).map(|n| Block::text(format!("line {n}"))).collect();
            let to_sign = ["Date", "Signature"].map(|what| Block::Paragraph("sign-here", what.into()));
            document.opening.extend([
                Block::Paragraph("law", "What it is not.".into()),
                Block::Group("to-sign", to_sign.to_vec()),
            ]);
            let (pages, _) = pages_of(&document);
            let holds = |page: &&Page, what: &str| words(page).iter().any(|(.., text)| text.contains(what));
            let page = pages.iter().find(|page| holds(page, "Signature")).unwrap();
            assert!(holds(&page, "What it is not."), "{lines}");
            let place = |what: &str| {
                words(page)
                    .into_iter()
                    .find(|(.., text)| text.contains(what))
                    .map(|word| word.0)
            };
            let (day, name) = (place("Date").unwrap(), place("Signature").unwrap());
            assert!(day.1 == name.1 && day.0 < name.0, "beside each other");
        }
    }

    #[test]
    fn a_tables_head_stands_on_each_of_its_pages_and_the_annex_begins_one() {
        let (pages, _) = pages_of(&made());
        let of_table: Vec<&Page> = (pages.iter())
            .filter(|page| words(page).iter().any(|(.., text)| text.contains(".25")))
            .collect();
        assert!(of_table.len() > 1);
        for page in &of_table {
            let heads = words(page).iter().filter(|(.., text)| *text == "Figure").count();
            assert_eq!(heads, 1);
        }
        assert_eq!(of_table[0].begins, [(2, MARGIN.1)]);
        assert_eq!(
            pages[0].begins.iter().map(|(chapter, _)| *chapter).collect::<Vec<_>>(),
            [0, 1]
        );
    }

    #[test]
    fn the_file_is_the_same_each_time_and_embeds_its_letters() {
        let file = print(&made(), "job A").unwrap();
        assert!(file.starts_with(b"%PDF-1.7"));
        assert_eq!(file, print(&made(), "job A").unwrap());
        let text = String::from_utf8_lossy(&file);
        assert_eq!(text.matches("/FontFile2").count(), 2);
        assert_eq!(text.matches("/Type /Page\n").count(), pages_of(&made()).0.len());
        for part in [
            "/StructTreeRoot",
            "/Lang (en)",
            "/Marked true",
            "/S /TH",
            "/S /H1",
            "/S /Figure",
            "/Alt (The caption.)",
        ] {
            assert!(text.contains(part), "{part}");
        }
    }

    #[test]
    fn every_sign_can_be_drawn() {
        use Sign::{Bad, Beware, Faint, Good, Moves, Open, Refused, Still};
        for sign in [Good, Bad, Open, Refused, Moves, Still, Faint, Beware] {
            for (_, ink) in setter::sign_at(sign, (10.0, 20.0), 8.0, tags::ARTIFACT) {
                let Ink::Shape { outline, .. } = ink else {
                    panic!("{sign:?}")
                };
                assert!(outline.len() > 1, "{sign:?}");
            }
        }
    }
}
