//! Tables: columns as wide as they need to be, and the head again on each page.

use super::super::document::{Cell, Table};
use super::ink::{Ink, Row};
use super::setter::{INK, Look, RULE, Setter};
use super::tags::{ARTIFACT, Tag, Tags};
use pdf_writer::types::StructRole;
use std::rc::Rc;

/// Sizes of letters, pt, from the one that is wanted to the least.
const SIZES: [f32; 4] = [7.2, 6.6, 6.0, 5.4];
/// Between two columns, pt.
const GAP: f32 = 6.0;

/// The table's rows; the first is its head.
pub(super) fn rows(table: &Table, setter: &Setter, tags: &mut Tags, tag: Tag, width: f32) -> Vec<Row> {
    let (size, widths) = widths(table, setter, width);
    let look = Look::plain(size);
    let starts: Vec<f32> = (0..widths.len())
        .map(|n| widths[..n].iter().map(|wide| wide + GAP).sum())
        .collect();
    let mut rows = Vec::new();
    let mut head = None;
    if table.columns.iter().any(|column| !column.title.is_empty()) {
        let titles: Vec<Cell> = table.columns.iter().map(|column| column.title.into()).collect();
        let look = Look::bold(size);
        let of_row = tags.add(tag, StructRole::TR);
        let mut row = set(
            &titles,
            table,
            setter,
            look,
            (&starts, &widths),
            &mut |tags: &mut Tags| tags.add(of_row, StructRole::TH),
            tags,
        );
        row.keeps_next = true;
        row.above = 5.0;
        row.inks
            .push((ARTIFACT, Ink::rule((0.0, row.height), (width, row.height), 0.8, INK)));
        let mut again = row.clone();
        again.inks.iter_mut().for_each(|(tag, _)| *tag = ARTIFACT);
        head = Some(Rc::new(again));
        rows.push(row);
    }
    for cells in &table.rows {
        let of_row = tags.add(tag, StructRole::TR);
        let mut row = set(
            cells,
            table,
            setter,
            look,
            (&starts, &widths),
            &mut |tags: &mut Tags| tags.add(of_row, StructRole::TD),
            tags,
        );
        row.head = head.clone();
        row.inks
            .push((ARTIFACT, Ink::rule((0.0, row.height), (width, row.height), 0.3, RULE)));
        rows.push(row);
    }
    rows
}

/// One row of cells.
fn set(
    cells: &[Cell],
    table: &Table,
    setter: &Setter,
    look: Look,
    (starts, widths): (&[f32], &[f32]),
    new_tag: &mut dyn FnMut(&mut Tags) -> Tag,
    tags: &mut Tags,
) -> Row {
    let mut row = Row::default();
    let mut first = 0;
    for cell in cells {
        let last = (first + cell.span.max(1)).min(widths.len());
        let Some(&x) = starts.get(first) else { break };
        let room: f32 = widths[first..last].iter().sum::<f32>() + GAP * (last - first).saturating_sub(1) as f32;
        let tag = new_tag(tags);
        let is_right = cell.span == 1 && table.columns.get(first).is_some_and(|column| column.right);
        for (n, line) in setter.lines(&cell.text, look, room).iter().enumerate() {
            let indent = if is_right { (room - line.width).max(0.0) } else { 0.0 };
            let y = 1.5 + look.size + n as f32 * look.leading();
            row.inks.extend(setter.set(line, look, (x + indent, y), tag));
            row.height = row.height.max(y + 0.45 * look.size);
        }
        first = last;
    }
    row
}

/// The size of the letters and the columns' widths, pt: as wide as their longest line at the first size at which that fits; otherwise,
/// at the first size that leaves room for each column's longest word, what is left is parted after what each wants beyond it.
fn widths(table: &Table, setter: &Setter, width: f32) -> (f32, Vec<f32>) {
    let count = table.columns.len();
    let room = width - GAP * count.saturating_sub(1) as f32;
    let mut parted = None;
    for size in SIZES {
        let (least, mut full) = needs(table, setter, size);
        let (needed, wanted): (f32, f32) = (least.iter().sum(), full.iter().sum());
        if wanted <= room {
            // What is left goes to the column that has most to say.
            if let Some(most) = (0..count).max_by(|&a, &b| full[a].total_cmp(&full[b])) {
                full[most] += room - wanted;
            }
            return (size, full);
        }
        if parted.is_none() && (needed <= room || Some(&size) == SIZES.last()) {
            let more = (room - needed).max(0.0) / (wanted - needed).max(0.1);
            let squeeze = (room / needed.max(0.1)).min(1.0);
            let shared = least.iter().zip(&full);
            let shared = shared.map(|(least, full)| squeeze * least + more * (full - least));
            parted = Some((size, shared.collect()));
        }
    }
    parted.unwrap_or_default()
}

/// Of each column the widest word and the longest line, pt.
fn needs(table: &Table, setter: &Setter, size: f32) -> (Vec<f32>, Vec<f32>) {
    let count = table.columns.len();
    let (mut least, mut full) = (vec![0.0_f32; count], vec![0.0_f32; count]);
    let mut hold = |n: usize, cell: &Cell, look: Look| {
        if let (Some(least), Some(full)) = (least.get_mut(n), full.get_mut(n)) {
            *least = least.max(setter.least_width(&cell.text, look));
            *full = full.max(setter.full_width(&cell.text, look));
        }
    };
    for (n, column) in table.columns.iter().enumerate() {
        hold(n, &column.title.into(), Look::bold(size));
    }
    for cells in &table.rows {
        let mut n = 0;
        for cell in cells {
            if cell.span == 1 {
                hold(n, cell, Look::plain(size));
            }
            n += cell.span.max(1);
        }
    }
    (least, full)
}
