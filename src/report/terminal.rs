//! Prints a [`Document`] as plain text of as many columns as the terminal has.

use super::document::{Block, Cell, Column, Document, Item, List, Margin, Section, Sign, Table, Text};
use super::evidence::Verified;
use super::say;
use super::text::{pad, plain, shorten, shorten_path, width, wrap};
use crate::isolate::Isolated;
use crate::language::Language;
use crate::run::Findings;

/// Width of a terminal that nobody has widened, and of what goes into a pipe.
pub const COLUMNS: usize = 80;
/// Lines longer than this are hard to read.
pub const MOST_COLUMNS: usize = 120;
/// Fewer columns than this, and photos can no longer be told apart.
const LEAST_PATH: usize = 14;

/// What a job's photos gave, a line a shot first; with `explain`, what each uncertainty is made of comes last. With
/// `colour`, ANSI sequences are added; they only repeat what words and signs say.
#[must_use]
pub fn readings(language: Language, findings: &Findings, explain: bool, colour: bool) -> String {
    readings_at(language, findings, explain, colour, COLUMNS)
}

/// As [`readings`], in so many columns, of which [`COLUMNS`] to [`MOST_COLUMNS`] are used.
#[must_use]
pub fn readings_at(language: Language, findings: &Findings, explain: bool, colour: bool, columns: usize) -> String {
    print(
        &say::readings(language, findings, explain),
        colour,
        columns.clamp(COLUMNS, MOST_COLUMNS),
    )
}

/// What isolation found. `job` is the file into which the next trial is written. `colour` is as in [`readings`].
#[must_use]
pub fn isolation(language: Language, isolated: &Isolated, job: &str, colour: bool) -> String {
    print(&say::isolation(language, isolated, job), colour, COLUMNS)
}

/// What came of reading a report's evidence again.
#[must_use]
pub fn verified(language: Language, verified: &Verified) -> String {
    print(&say::verified(language, verified), false, COLUMNS)
}

fn print(document: &Document, colour: bool, columns: usize) -> String {
    let mut printer = Printer {
        lines: Vec::new(),
        colour,
        columns,
    };
    printer.heading(&document.heading);
    printer.blocks(&document.opening, 0, 0);
    for section in &document.sections {
        printer.section(section);
    }
    printer
        .lines
        .iter()
        .map(|line| format!("{}\n", line.trim_end()))
        .collect()
}

/// Codes of ANSI colours.
const BOLD: &str = "1";

fn ink(sign: Sign) -> Option<&'static str> {
    match sign {
        Sign::Good | Sign::Moves => Some("32"),
        Sign::Bad | Sign::Still => Some("31"),
        Sign::Open | Sign::Refused => Some("33"),
        Sign::Faint => Some("2"),
        Sign::Beware => None,
    }
}

/// Lines of a terminal being written.
struct Printer {
    lines: Vec<String>,
    colour: bool,
    columns: usize,
}

impl Printer {
    fn paint(&self, text: &str, code: Option<&str>) -> String {
        match code {
            Some(code) if self.colour && !text.is_empty() => format!("\x1b[{code}m{text}\x1b[0m"),
            _ => text.to_owned(),
        }
    }

    fn heading(&mut self, text: &str) {
        if !text.is_empty() {
            for line in wrap(&plain(text), self.columns, 0) {
                self.lines.push(self.paint(&line, Some(BOLD)));
            }
        }
    }

    fn section(&mut self, section: &Section) {
        let headed = !section.heading.is_empty();
        if !headed && section.blocks.is_empty() {
            return;
        }
        if !self.lines.is_empty() && (headed || section.margin != Margin::Inside) {
            self.lines.push(String::new());
        }
        self.heading(&section.heading.to_string());
        let (margin, hang) = match section.margin {
            Margin::Hanging => (0, 2),
            Margin::Inside if headed => (2, 0),
            Margin::Inside | Margin::Flush => (0, 0),
        };
        self.blocks(&section.blocks, margin, hang);
    }

    fn blocks(&mut self, blocks: &[Block], margin: usize, hang: usize) {
        for block in blocks {
            match block {
                Block::Paragraph(_, text) => self.item(margin, "", text, hang),
                Block::Remark(about, text) => self.remark(margin, about, text),
                Block::List(list) => self.list(margin, list),
                Block::Facts(_, facts) => {
                    for (name, value) in facts {
                        self.remark(margin, name, value);
                    }
                }
                Block::Table(table) => self.table(margin, table),
                Block::Labelled(label, under) => {
                    self.item(margin, "", label, hang);
                    self.blocks(under, margin + 2, 0);
                }
                Block::Entry(entry) => {
                    let indent = " ".repeat(margin + 2);
                    self.lines
                        .extend(entry.iter().map(|line| format!("{indent}{}", plain(line))));
                }
                Block::Section(section) => self.section(section),
                Block::Group(_, blocks) | Block::Details(_, blocks) => self.blocks(blocks, margin, hang),
                // A terminal has no pictures.
                Block::Drawing(..) | Block::Pictures(_) => {}
            }
        }
    }

    /// A paragraph: its first line after `mark`, the others as far in and `hang` further.
    fn item(&mut self, margin: usize, mark: &str, text: &Text, hang: usize) {
        let far = margin + width(mark);
        let lines = wrap(&plain(&text.to_string()), self.columns.saturating_sub(far), hang);
        for (n, line) in lines.into_iter().enumerate() {
            let before = if n == 0 {
                format!("{}{mark}", " ".repeat(margin))
            } else {
                " ".repeat(far)
            };
            self.lines.push(before + &line);
        }
    }

    fn remark(&mut self, margin: usize, about: &str, text: &Text) {
        let label = shorten_path(&plain(about), self.columns / 2);
        let first = self.lines.len();
        self.item(margin, "", &Text::from(format!("{label}: {text}")), 2);
        self.lines[first] = self.lines[first].replacen(&label, &self.paint(&label, Some(BOLD)), 1);
    }

    fn list(&mut self, margin: usize, list: &List) {
        let leads = list.items.iter().map(|item| item.lead.len()).max().unwrap_or(0);
        let of = |item: &Item, n: usize| item.lead.get(n).map_or(0, |(lead, _)| width(&plain(&lead.to_string())));
        let widest = |n: usize| list.items.iter().map(|item| of(item, n)).max().unwrap_or(0);
        let columns: Vec<usize> = (0..leads).map(|n| widest(n).max(list.lead_columns)).collect();
        for (n, item) in list.items.iter().enumerate() {
            let mut mark = match item.sign {
                Some(sign) => format!("{} ", sign.letter()),
                None if list.ordered => format!("{}. ", n + 1),
                None if leads == 0 => "- ".to_owned(),
                None => String::new(),
            };
            for ((lead, _), columns) in item.lead.iter().zip(&columns) {
                mark += &format!("{}  ", pad(&plain(&lead.to_string()), *columns));
            }
            let first = self.lines.len();
            self.item(margin, &mark, &item.text, 0);
            if let Some(sign) = item.sign {
                let letter = sign.letter().to_string();
                self.lines[first] = self.lines[first].replacen(&letter, &self.paint(&letter, ink(sign)), 1);
            }
            if !item.more.is_empty() {
                self.item(margin + 4, "", &item.more, 0);
            }
        }
    }

    /// The rows of a table that is too wide, each wrapped like a sentence: a cell says of which column it is, since none stands below its own.
    fn rows_as_text(&mut self, margin: usize, table: &Table) {
        let said = |cell: &Cell| cell.text.to_string().trim().to_owned();
        let titles: Vec<String> = table.columns.iter().map(|column| column.title.to_owned()).collect();
        let is_titled = titles.iter().any(|title| !title.is_empty());
        // Else its first row names them.
        let (titles, rows) = match table.rows.split_first() {
            Some((first, rows)) if !is_titled => (first.iter().map(said).collect(), rows),
            _ => (titles, table.rows.as_slice()),
        };
        for row in rows {
            let mut cells = row.iter().map(said).zip(&titles);
            let lead = cells.next().map(|(lead, _)| lead).unwrap_or_default();
            let filled: Vec<String> = cells
                .filter(|(cell, _)| !cell.is_empty())
                .map(|(cell, title)| format!("{title} {cell}").trim().to_owned())
                .collect();
            self.item(margin, "", &Text::from(format!("{lead}: {}", filled.join("; "))), 4);
        }
    }

    fn table(&mut self, margin: usize, table: &Table) {
        let fit = Fit::of(table, self.columns - margin);
        let indent = " ".repeat(margin);
        if fit.taken(table) > self.columns - margin {
            self.rows_as_text(margin, table);
            return;
        }
        if table.columns.iter().any(|column| !column.title.is_empty()) {
            let titles: Vec<Cell> = table.columns.iter().map(|column| column.title.into()).collect();
            let line = fit.line(&table.columns, &titles, |text, _| text.to_owned());
            self.lines
                .push(format!("{indent}{}", self.paint(line.trim_end(), Some(BOLD))));
        }
        for row in &table.rows {
            let paint = |text: &str, sign: Option<Sign>| self.paint(text, sign.and_then(ink));
            let line = fit.line(&table.columns, row, paint);
            self.lines.push(format!("{indent}{line}"));
        }
    }
}

/// The terminal columns of a table's columns; 0: left out.
struct Fit {
    gap: usize,
    widths: Vec<usize>,
}

impl Fit {
    /// Columns as wide as their widest cell; empty ones are left out. Where that is too wide, the gap goes from two to one,
    /// then spare columns, then the ends of paths.
    fn of(table: &Table, room: usize) -> Self {
        let natural: Vec<usize> = (0..table.columns.len()).map(|n| widest(table, n)).collect();
        let mut fit = Self {
            gap: if table.gap == 0 { 2 } else { table.gap },
            widths: natural.clone(),
        };
        if fit.taken(table) > room {
            fit.gap = 1;
        }
        let Some(path) = table.columns.iter().position(|column| column.path) else {
            return fit;
        };
        let left = |fit: &Self| room.saturating_sub(fit.taken(table) - fit.widths[path]);
        if left(&fit) < natural[path].min(LEAST_PATH) {
            for (column, width) in table.columns.iter().zip(&mut fit.widths) {
                *width = if column.spare { 0 } else { *width };
            }
        }
        fit.widths[path] = natural[path].min(left(&fit)).max(1);
        fit
    }

    /// All columns with the gaps between them; a cell over several of them needs room, too.
    fn taken(&self, table: &Table) -> usize {
        let spread = |columns: &[usize]| columns.iter().filter(|w| **w > 0).map(|w| w + self.gap).sum::<usize>();
        let of_row = |row: &Vec<Cell>| {
            let mut from = 0;
            let mut taken = 0;
            for cell in row {
                let columns = spread(&self.widths[from..from + cell.span]);
                taken += match cell.span {
                    1 => columns,
                    _ => columns.max(width(&cell.text.to_string()) + self.gap),
                };
                from += cell.span;
            }
            taken
        };
        let widest = table.rows.iter().map(of_row).max().unwrap_or(0);
        widest.max(spread(&self.widths)).saturating_sub(self.gap)
    }

    fn line(&self, columns: &[Column], cells: &[Cell], paint: impl Fn(&str, Option<Sign>) -> String) -> String {
        let mut line = String::new();
        let mut from = 0;
        for cell in cells {
            let (column, columns_wide) = (&columns[from], self.widths[from]);
            from += cell.span;
            if columns_wide == 0 && cell.span == 1 {
                continue;
            }
            if !line.is_empty() {
                line.push_str(&" ".repeat(self.gap));
            }
            let mut text = plain(&cell.text.to_string());
            if cell.span == 1 {
                text = if column.path {
                    shorten_path(&text, columns_wide)
                } else {
                    shorten(&text, columns_wide)
                };
            }
            let blank = " ".repeat(columns_wide.saturating_sub(width(&text)));
            let text = paint(&text, cell.text.first_sign());
            line += &if column.right { blank + &text } else { text + &blank };
        }
        line
    }
}

/// Terminal columns that a table's column would like to have.
fn widest(table: &Table, n: usize) -> usize {
    let column = &table.columns[n];
    let cells = table.rows.iter().filter_map(|row| {
        let mut from = 0;
        let cell = row.iter().find(|cell| {
            from += cell.span;
            from > n
        })?;
        (cell.span == 1).then(|| width(&plain(&cell.text.to_string())))
    });
    match cells.max().unwrap_or(0) {
        0 => 0,
        most => {
            let most = most.max(width(column.title)).max(column.least);
            if column.most == 0 { most } else { most.min(column.most) }
        }
    }
}
