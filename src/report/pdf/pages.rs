//! Rows stacked into pages.

use super::ink::{Ink, Row};
use super::tags::Tag;
use super::{BODY_HEIGHT, MARGIN};

/// A page's inks, at their places on it, and the chapters that begin on it with their heights from its top, pt.
#[derive(Debug, Default)]
pub(super) struct Page {
    pub inks: Vec<(Tag, Ink)>,
    pub begins: Vec<(usize, f32)>,
}

/// The rows in their order; those that are to be kept together are on one page, as long as one holds them.
pub(super) fn stacked(rows: Vec<Row>) -> Vec<Page> {
    let mut pages = vec![Page::default()];
    let mut used = 0.0;
    let mut waiting = rows.into_iter().peekable();
    while let Some(row) = waiting.next() {
        let mut together = vec![row];
        while together.last().is_some_and(|row| row.keeps_next)
            && let Some(next) = waiting.next_if(|next| !next.new_page)
        {
            together.push(next);
        }
        let height: f32 = together.iter().map(|row| row.above + row.height).sum();
        let wants_page = together.first().is_some_and(|row| row.new_page);
        if used > 0.0 && (wants_page || used + height > BODY_HEIGHT) {
            pages.push(Page::default());
            used = 0.0;
            if let Some(head) = together.first().and_then(|row| row.head.clone()) {
                place(&mut pages, Row::clone(&head), &mut used);
            }
        }
        for row in together {
            place(&mut pages, row, &mut used);
        }
    }
    pages
}

fn place(pages: &mut [Page], row: Row, used: &mut f32) {
    let Some(page) = pages.last_mut() else { return };
    let top = *used + if *used > 0.0 { row.above } else { 0.0 };
    *used = top + row.height;
    page.begins.extend(row.begins.map(|chapter| (chapter, MARGIN.1 + top)));
    page.inks.extend(row.moved((MARGIN.0, MARGIN.1 + top)).inks);
}
