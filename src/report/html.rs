//! Prints a [`Document`] as `report.html`: one file that holds everything, to be read on a screen, on a phone or on paper.
//!
//! The page runs no script and loads nothing, and says so to the browser, too. All text goes through `maud`, which escapes
//! it; only drawings come as markup.

mod icons;
mod pictures;

use super::document::{Block, Cell, Column, Document, Item, List, Rank, Run, Section, Table, Text, is_sentence};
use super::text::{harmless, kept_together};
use crate::PROGRAM;
use maud::{DOCTYPE, Markup, PreEscaped, html};

pub(crate) const STYLE: &str = include_str!("html/style.css");
/// What the browser may do: show pictures and styles that are in the page.
const POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";

/// The document as one HTML page.
pub(super) fn print(document: &Document) -> String {
    page(document).into_string()
}

fn page(document: &Document) -> Markup {
    html! {
        (DOCTYPE) "\n"
        html lang=(document.language.tag()) { "\n"
            head { "\n"
                meta charset="utf-8"; "\n"
                meta name="viewport" content="width=device-width, initial-scale=1"; "\n"
                meta http-equiv="Content-Security-Policy" content=(PreEscaped(POLICY)); "\n"
                meta name="generator" content=(PROGRAM); "\n"
                title { (harmless(&document.title)) } "\n"
                style { "\n" (PreEscaped(STYLE)) } "\n"
            } "\n"
            body { "\n"
                header { "\n"
                    h1 { (harmless(&document.heading)) } "\n"
                    (blocks(&document.opening))
                } "\n"
                (contents(document)) "\n"
                main { "\n"
                    @for (n, section) in document.sections.iter().enumerate() { (chapter(n, section)) }
                    @if !document.annex.is_empty() {
                        div.annex { "\n"
                            @for (n, section) in document.annex.iter().enumerate() {
                                (chapter(document.sections.len() + n, section))
                            }
                        } "\n"
                    }
                } "\n"
            } "\n"
        } "\n"
    }
}

/// Links to the chapters.
fn contents(document: &Document) -> Markup {
    let all = document.sections.iter().chain(&document.annex).enumerate();
    let named = all.filter(|(_, section)| !section.heading.is_empty());
    html! {
        nav aria-label=(document.language.pick("Contents", "Inhalt")) { "\n"
            @for (n, section) in named { a href={ "#c" (n + 1) } { (text(&section.heading)) } "\n" }
        }
    }
}

/// A section to which a link leads.
fn chapter(n: usize, section: &Section) -> Markup {
    html! { div id={ "c" (n + 1) } { "\n" (self::section(section)) } "\n" }
}

/// One section of a page.
pub(crate) fn section(section: &Section) -> Markup {
    let heading = text(&section.heading);
    let class = class(section.class);
    match section.rank {
        Rank::Chapter => html! {
            section class=[class] { "\n" h2 { (heading) } "\n" (blocks(&section.blocks)) } "\n"
        },
        Rank::Card => html! {
            section class=[class] { "\n" h3.name { (heading) } "\n" (blocks(&section.blocks)) } "\n"
        },
        Rank::Part => html! {
            div class=[class] { "\n"
                @if !section.heading.is_empty() { h3.part { (heading) } "\n" }
                (blocks(&section.blocks))
            } "\n"
        },
    }
}

fn class(class: &'static str) -> Option<&'static str> {
    (!class.is_empty()).then_some(class)
}

fn blocks(blocks: &[Block]) -> Markup {
    html! { @for block in blocks { (self::block(block)) "\n" } }
}

fn block(block: &Block) -> Markup {
    match block {
        Block::Paragraph(look, said) => html! { p class=[class(look)] { (text(said)) } },
        Block::Remark(about, said) => html! { p { strong { (harmless(about)) ":" } " " (text(said)) } },
        Block::List(list) => self::list(list),
        // A head stands in two columns, of a grid; the others each on a line of their own.
        Block::Facts("head", facts) => html! {
            dl.head { "\n" @for (name, value) in facts { dt { (name) } dd { (text(value)) } "\n" } }
        },
        Block::Facts(look, facts) => html! {
            dl class=[class(look)] { "\n"
                @for (name, value) in facts { div.wide[is_sentence(value)] { dt { (name) } dd { (text(value)) } } "\n" }
            }
        },
        Block::Table(table) => self::table(table),
        Block::Labelled(label, under) => html! { p.label { (text(label)) } "\n" (blocks(under)) },
        Block::Entry(lines) => html! { pre { (harmless(&lines.join("\n"))) } },
        Block::Drawing(look, svg, caption) => html! {
            figure class=[class(look)] { (drawn(svg.trim())) figcaption { (kept_together(caption)) } }
        },
        Block::Pictures(all) => html! { @for picture in all { (pictures::figure(picture)) } },
        Block::Section(section) => self::section(section),
        Block::Group(look, inner) => html! { div class=[class(look)] { "\n" (blocks(inner)) } },
        Block::Details(title, inner) => html! {
            details { summary { (title) } "\n" (blocks(inner)) }
        },
    }
}

/// What our own drawing code made, whose texts are escaped there.
fn drawn(markup: &str) -> Markup {
    PreEscaped(markup.to_owned())
}

fn text(text: &Text) -> Markup {
    html! { @for run in &text.0 { (self::run(run)) } }
}

fn run(run: &Run) -> Markup {
    match run {
        Run::Plain(said) => html! { (kept_together(said)) },
        Run::Strong(said) => html! { strong { (kept_together(said)) } },
        Run::Emphasis(said) => html! { em { (kept_together(said)) } },
        Run::Code(said) => html! { code { (harmless(said)) } },
        Run::Low(said) => html! { sub { (said) } },
        Run::Word(sign, said) => html! {
            span.word { @if let Some(sign) = sign { (icons::sign(*sign)) } (kept_together(said)) }
        },
        Run::Sign(sign) => icons::sign(*sign),
    }
}

fn list(list: &List) -> Markup {
    let items = html! { @for item in &list.items { li { (self::item(item)) } "\n" } };
    if list.ordered {
        html! { ol class=[class(list.class)] { "\n" (items) } }
    } else {
        html! { ul class=[class(list.class)] { "\n" (items) } }
    }
}

fn item(item: &Item) -> Markup {
    let said = html! {
        @for (lead, between) in &item.lead { (text(lead)) (between) }
        (text(&item.text))
        @if !item.more.is_empty() { br; (text(&item.more)) }
    };
    match item.sign {
        Some(sign) => html! { span.glyph { (sign.letter()) } span { (said) } },
        None => said,
    }
}

/// A table; on a phone each row becomes a card, whose cells say what they are.
fn table(table: &Table) -> Markup {
    html! {
        table class=[class(table.class)] { "\n"
            thead { tr {
                @for column in &table.columns { th scope="col" class=[class(column.class)] { (column.title) } }
            } } "\n"
            tbody { "\n" @for row in &table.rows { tr { (cells(&table.columns, row)) } "\n" } }
        }
    }
}

fn cells(columns: &[Column], row: &[Cell]) -> Markup {
    let mut columns = columns.iter();
    html! {
        @for cell in row {
            @if let Some(column) = columns.nth(cell.span.saturating_sub(1)) {
                @let label = cell.label.unwrap_or(column.title);
                td class=[class(column.class)] colspan=[(cell.span > 1).then_some(cell.span)] data-label=(label) {
                    // On a card, what belongs together must be one piece.
                    @if cell.text.0.len() > 1 { span { (text(&cell.text)) } } @else { (text(&cell.text)) }
                }
            }
        }
    }
}
