//! Blocks into rows.

use super::super::document::{Block, Document, Item, List, Rank, Section, Text, is_sentence};
use super::ink::{Ink, Row};
use super::setter::{ACCENT, INK, Look, RULE, Setter};
use super::tags::{ARTIFACT, Tag, Tags};
use super::{BODY_HEIGHT, WIDTH, picture, table};
use pdf_writer::types::StructRole;
use std::collections::HashSet;

/// Sizes of letters, pt.
const BODY: f32 = 8.5;
const SMALL: f32 = 7.2;
const LEAD: f32 = 10.0;
/// Between columns, pt.
const GUTTER: f32 = 14.0;
/// A grid's columns where its parts stand side by side.
const ABREAST: usize = 2;

/// Lays a document out.
pub(super) struct Flow<'a> {
    pub setter: &'a Setter,
    pub tags: Tags,
    /// Captions that stood before: they are not said again under each of many photos.
    said: HashSet<String>,
    /// The chapters in their order.
    pub chapters: Vec<String>,
}

impl<'a> Flow<'a> {
    pub fn new(setter: &'a Setter) -> Self {
        Self {
            setter,
            tags: Tags::new(),
            said: HashSet::new(),
            chapters: Vec::new(),
        }
    }

    /// The whole document.
    pub fn document(&mut self, document: &Document) -> Result<Vec<Row>, String> {
        let mut rows = vec![self.heading(&Text::from(document.heading.as_str()), 16.0, StructRole::H1, ARTIFACT)];
        rows.extend(self.blocks(&document.opening, ARTIFACT, WIDTH, Look::plain(BODY))?);
        let place_for_contents = rows.len();
        for section in &document.sections {
            rows.extend(self.section(section, ARTIFACT, WIDTH)?);
        }
        let mut begins = true;
        for section in &document.annex {
            let mut of_section = self.section(section, ARTIFACT, WIDTH)?;
            if let Some(first) = of_section.first_mut() {
                first.new_page = std::mem::take(&mut begins);
            }
            rows.extend(of_section);
        }
        let contents = self.contents();
        rows.splice(place_for_contents..place_for_contents, contents);
        Ok(rows)
    }

    /// The chapters with the pages on which they begin, in two columns.
    fn contents(&mut self) -> Option<Row> {
        let look = Look::plain(SMALL);
        let list = self.tags.add(ARTIFACT, StructRole::TOC);
        let wide = (WIDTH - GUTTER) / 2.0;
        let in_column = self.chapters.len().div_ceil(2);
        if in_column == 0 {
            return None;
        }
        let mut row = Row {
            height: in_column as f32 * look.leading() + 4.0,
            above: 8.0,
            ..Row::default()
        };
        row.inks
            .push((ARTIFACT, Ink::rule((0.0, 0.0), (WIDTH, 0.0), 0.5, RULE)));
        for (chapter, title) in self.chapters.iter().enumerate() {
            let tag = self.tags.add(list, StructRole::TOCI);
            let x = (chapter / in_column) as f32 * (wide + GUTTER);
            let y = 5.0 + (chapter % in_column) as f32 * look.leading();
            let baseline = y + look.size;
            for line in self
                .setter
                .lines(&title.as_str().into(), look, wide - 20.0)
                .iter()
                .take(1)
            {
                row.inks.extend(self.setter.set(line, look, (x, baseline), tag));
            }
            let (end, size) = ((x + wide, baseline), look.size);
            row.inks.push((tag, Ink::PageOf { end, size, chapter }));
            let size = (wide, look.leading());
            row.inks.push((
                tag,
                Ink::Link {
                    at: (x, y),
                    size,
                    chapter,
                },
            ));
        }
        Some(row)
    }

    fn heading(&mut self, text: &Text, size: f32, role: StructRole, parent: Tag) -> Row {
        let tag = self.tags.add(parent, role);
        Row {
            keeps_next: true,
            ..self.setter.paragraph(text, Look::bold(size), WIDTH, tag)
        }
    }

    fn section(&mut self, section: &Section, parent: Tag, width: f32) -> Result<Vec<Row>, String> {
        let tag = self.tags.add(parent, StructRole::Sect);
        let (size, above, role) = match section.rank {
            Rank::Chapter => (12.0, 14.0, StructRole::H2),
            Rank::Card => (9.0, 5.0, StructRole::H3),
            Rank::Part => (9.5, 8.0, StructRole::H3),
        };
        let mut rows = Vec::new();
        if !section.heading.is_empty() {
            let of = self.tags.add(tag, role);
            let mut row = self.setter.paragraph(&section.heading, Look::bold(size), width, of);
            if section.rank != Rank::Part {
                let (thick, colour) = if section.rank == Rank::Card {
                    (1.2, ACCENT)
                } else {
                    (0.8, INK)
                };
                row = row.moved((0.0, 3.0));
                row.height += 3.0;
                row.inks
                    .push((ARTIFACT, Ink::rule((0.0, 0.0), (width, 0.0), thick, colour)));
            }
            (row.above, row.keeps_next) = (above, true);
            if section.rank == Rank::Chapter {
                row.begins = Some(self.chapters.len());
                self.chapters.push(section.heading.to_string());
            }
            rows.push(row);
        }
        let size = if section.rank == Rank::Card { SMALL } else { BODY };
        rows.extend(self.blocks(&section.blocks, tag, width, Look::plain(size))?);
        Ok(rows)
    }

    fn blocks(&mut self, blocks: &[Block], parent: Tag, width: f32, look: Look) -> Result<Vec<Row>, String> {
        let mut rows = Vec::new();
        for block in blocks {
            rows.extend(self.block(block, parent, width, look)?);
        }
        Ok(rows)
    }

    fn block(&mut self, block: &Block, parent: Tag, width: f32, look: Look) -> Result<Vec<Row>, String> {
        Ok(match block {
            Block::Paragraph(class, text) => vec![self.paragraph(class, text, parent, width, look)],
            Block::Remark(about, text) => {
                let text = Text::default().strong(format!("{about}: ")).then(text.clone());
                vec![self.paragraph("", &text, parent, width, look)]
            }
            Block::List(list) => self.list(list, parent, width, look),
            Block::Facts(class, facts) => self.facts(class, facts, parent, width, look),
            Block::Table(table) => {
                let tag = self.tags.add(parent, StructRole::Table);
                table::rows(table, self.setter, &mut self.tags, tag, width)
            }
            Block::Labelled(label, under) => {
                let mut rows = vec![self.paragraph("label", label, parent, width, look)];
                rows.extend(self.blocks(under, parent, width, look)?);
                rows
            }
            Block::Entry(lines) => {
                let look = Look::plain(SMALL);
                let line = |line: &String| self.setter.paragraph(&line.as_str().into(), look, width, parent);
                lines.iter().map(line).collect()
            }
            Block::Drawing(_, svg, caption) => vec![self.drawing(svg, caption, parent, width)?],
            Block::Pictures(pictures) => self.pictures(pictures, parent, width),
            Block::Section(section) => self.section(section, parent, width)?,
            Block::Group(class, inner) => self.group(class, inner, parent, width, look)?,
            // What stays closed on the screen is not printed.
            Block::Details(..) => Vec::new(),
        })
    }

    fn paragraph(&mut self, class: &str, text: &Text, parent: Tag, width: f32, look: Look) -> Row {
        let tag = self.tags.add(parent, StructRole::P);
        let (look, above) = match class {
            "lead" => (
                Look::plain(look.size.max(if look.size < BODY { BODY } else { LEAD })),
                3.5,
            ),
            "note" | "sub" => (Look::faint(SMALL), 2.0),
            "banner" => (Look::bold(look.size), 5.0),
            "label" => (Look::bold(look.size), 5.0),
            "sign-here" => (look, 22.0),
            _ => (look, 2.5),
        };
        let mut row = self.setter.paragraph(text, look, width, tag);
        row.above = above;
        // Behind what a report is not stands where it is signed, which is to stand with it.
        row.keeps_next = matches!(class, "label" | "law");
        match class {
            "banner" => {
                row = Row {
                    height: row.height + 6.0,
                    above: row.above,
                    ..row.moved((6.0, 3.0))
                };
                for (from, to) in [
                    ((0.0, 0.0), (width, 0.0)),
                    ((0.0, row.height), (width, row.height)),
                    ((0.0, 0.0), (0.0, row.height)),
                    ((width, 0.0), (width, row.height)),
                ] {
                    row.inks.push((ARTIFACT, Ink::rule(from, to, 0.8, INK)));
                }
            }
            "law" => {
                row = Row {
                    above: row.above,
                    ..row.moved((7.0, 0.0))
                };
                let bar = Ink::field((0.0, 0.0), (2.0, row.height), ACCENT, 1.0);
                row.inks.push((ARTIFACT, bar));
            }
            "sign-here" => {
                let line = Ink::rule((60.0, look.size), (width, look.size), 0.6, INK);
                row.inks.push((ARTIFACT, line));
            }
            _ => {}
        }
        row
    }

    fn list(&mut self, list: &List, parent: Tag, width: f32, look: Look) -> Vec<Row> {
        let all = self.tags.add(parent, StructRole::L);
        let indent = 1.5 * look.size;
        let mut rows = Vec::new();
        for (n, item) in list.items.iter().enumerate() {
            let tag = self.tags.add(all, StructRole::LI);
            let body = self.tags.add(tag, StructRole::LBody);
            let mut row = self.setter.paragraph(&whole_item(item), look, width - indent, body);
            if !item.more.is_empty() {
                let more = self.setter.paragraph(&item.more, look, width - indent, body);
                row = Row::stacked(vec![row, more]);
            }
            row = row.moved((indent, 0.0));
            row.above = 1.2;
            let label = self.tags.add(tag, StructRole::Lbl);
            let before = match item.sign {
                Some(sign) => Text::default().sign(sign),
                None if list.ordered => format!("{}.", n + 1).into(),
                None => "•".into(),
            };
            for line in self.setter.lines(&before, look, width) {
                row.inks.extend(self.setter.set(&line, look, (0.0, look.size), label));
            }
            rows.push(row);
        }
        rows
    }

    /// Names and what they are, in as many columns as there is room for.
    fn facts(&mut self, class: &str, facts: &[(&str, Text)], parent: Tag, width: f32, look: Look) -> Vec<Row> {
        let tag = self.tags.add(parent, StructRole::P);
        let look = if class == "head" {
            look
        } else {
            Look::plain(look.size.min(SMALL) - 0.6)
        };
        let (columns, name_width) = if class == "head" {
            (1, 80.0)
        } else {
            ((width / 118.0).floor().max(1.0) as usize, 0.0)
        };
        let step = (width + 8.0) / columns as f32;
        let one = |(name, value): &(&str, Text)| {
            let room = if is_sentence(value) { width } else { step - 8.0 };
            if name_width > 0.0 {
                let mut row = self
                    .setter
                    .paragraph(value, look, room - name_width, tag)
                    .moved((name_width, 0.0));
                let faint = Look::faint(look.size);
                let name = self.setter.paragraph(&(*name).into(), faint, name_width, tag);
                // Read before its value.
                row.inks.splice(0..0, name.inks);
                return row;
            }
            let name = Text::from(format!("{name}: "));
            self.setter
                .paragraph(&name.then(Text::default().strong(value.to_string())), look, room, tag)
        };
        let mut rows: Vec<Row> = Vec::new();
        for alike in facts.chunk_by(|a, b| is_sentence(&a.1) == is_sentence(&b.1)) {
            let abreast = if is_sentence(&alike[0].1) { 1 } else { columns };
            let cells: Vec<Row> = alike.iter().map(one).collect();
            rows.extend(cells.chunks(abreast).map(|chunk| Row::abreast(chunk.to_vec(), step)));
        }
        rows.iter_mut().for_each(|row| row.above = 0.8);
        if let Some(first) = rows.first_mut() {
            first.above = 4.0;
        }
        rows
    }

    fn group(&mut self, class: &str, inner: &[Block], parent: Tag, width: f32, look: Look) -> Result<Vec<Row>, String> {
        let columns = match class {
            // One alone has the whole breadth, but a plot would only be large.
            "groups" | "looks" => inner.len().clamp(1, ABREAST),
            "plots" | "shots" | "to-sign" => ABREAST,
            "beside" if inner.len() == 2 => return self.beside(inner, parent, width, look),
            _ => return self.blocks(inner, parent, width, look),
        };
        let step = (width + GUTTER) / columns as f32;
        let mut cells = Vec::new();
        for block in inner {
            cells.push(Row::stacked(self.block(block, parent, step - GUTTER, look)?));
        }
        // Room to write in.
        let above = if class == "to-sign" { 22.0 } else { 7.0 };
        Ok(cells
            .chunks(columns)
            .map(|chunk| Row {
                above,
                ..Row::abreast(chunk.to_vec(), step)
            })
            .collect())
    }

    /// What is said with what is drawn to the right of it; below each other where that is higher than a page.
    fn beside(&mut self, inner: &[Block], parent: Tag, width: f32, look: Look) -> Result<Vec<Row>, String> {
        let drawn = 0.34 * width;
        let mut sides = Vec::new();
        for (block, wide) in inner.iter().zip([width - drawn - GUTTER, drawn]) {
            sides.push(Row::stacked(self.block(block, parent, wide, look)?));
        }
        let row = Row::abreast(sides, width - drawn);
        if row.height > BODY_HEIGHT {
            return self.blocks(inner, parent, width, look);
        }
        Ok(vec![Row { above: 4.0, ..row }])
    }

    fn drawing(&mut self, svg: &str, caption: &str, parent: Tag, width: f32) -> Result<Row, String> {
        let tag = self
            .tags
            .described(parent, StructRole::Figure, Some(caption.to_owned()));
        let mut row = picture::drawing(svg, self.setter, tag, width)?;
        row.above = 4.0;
        Ok(self.captioned(row, caption, parent, width))
    }

    fn pictures(&mut self, pictures: &[super::super::picture::Picture], parent: Tag, width: f32) -> Vec<Row> {
        let gap = 6.0;
        let sum: f32 = pictures.iter().map(picture::aspect).sum();
        let height = (width - gap * (pictures.len() as f32 - 1.0)) / sum.max(0.1);
        let height = height.min(if pictures.len() == 1 { 110.0 } else { 130.0 });
        let mut whole = Row::default();
        let mut x = 0.0;
        for shown in pictures {
            let wide = height * picture::aspect(shown);
            let tag = self.tags.described(parent, StructRole::Figure, Some(shown.alt.clone()));
            let row = picture::photo(shown, self.setter, tag, (wide, height));
            let row = self.captioned(row, &shown.caption, parent, wide);
            whole.height = whole.height.max(row.height);
            whole.inks.extend(row.moved((x, 0.0)).inks);
            x += wide + gap;
        }
        whole.above = 2.0;
        vec![whole]
    }

    /// A row with its caption below it, where that is new.
    fn captioned(&mut self, row: Row, caption: &str, parent: Tag, width: f32) -> Row {
        if caption.is_empty() || !self.said.insert(caption.to_owned()) {
            return row;
        }
        let tag = self.tags.add(parent, StructRole::Caption);
        let above = row.above;
        let words = self
            .setter
            .paragraph(&caption.into(), Look::faint(SMALL - 0.7), width, tag);
        let words = Row { above: 1.5, ..words };
        Row {
            above,
            ..Row::stacked(vec![row, words])
        }
    }
}

/// An item's text with what stands before it.
fn whole_item(item: &Item) -> Text {
    let mut text = Text::default();
    for (lead, between) in &item.lead {
        text = text.then(lead.clone()).plain(*between);
    }
    text.then(item.text.clone())
}
