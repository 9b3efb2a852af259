//! Pages into the file. Definitions: ISO 32000-1.

use super::super::drawn::{Colour, Step};
use super::super::letters::Letters;
use super::ink::Ink;
use super::pages::Page;
use super::setter::{FAINT, Setter};
use super::tags::{ARTIFACT, Element, Tag, Tags};
use super::{MARGIN, PAGE};
use crate::language::{Language, said};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use pdf_writer::types::{
    ActionType, AnnotationType, CidFontType, FontFlags, LineCapStyle, LineJoinStyle, StructRole, SystemInfo, TabOrder,
    UnicodeCmap,
};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use std::collections::BTreeMap;
use std::io::Write;

/// Numbers of the file's objects, one after the other.
struct Numbers(i32);

impl Numbers {
    fn next(&mut self) -> Ref {
        self.0 += 1;
        Ref::new(self.0)
    }
}

/// Where a piece of a page's content is of an element: the page and its number there.
type Marked = BTreeMap<Tag, Vec<(usize, i32)>>;

/// Names under which the fonts stand in each page's resources.
const FONTS: [Name<'static>; 2] = [Name(b"F0"), Name(b"F1")];
const LETTERS_FROM: SystemInfo<'static> = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};

/// The whole file. `title`: the document's, and what stands on each page.
pub(super) fn pdf(
    pages: &[Page],
    tags: &Tags,
    chapters: &[String],
    setter: &Setter,
    (title, job): (&str, &str),
    language: Language,
) -> Vec<u8> {
    let mut numbers = Numbers(0);
    let [catalog, tree, info, structure, parents, outline] = std::array::from_fn(|_| numbers.next());
    let page_ids: Vec<Ref> = pages.iter().map(|_| numbers.next()).collect();
    let element_ids: Vec<Ref> = tags.0.iter().map(|_| numbers.next()).collect();
    let fonts = [false, true].map(|_| numbers.next());
    let mut pdf = Pdf::new();

    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    root.lang(TextStr(language.tag()));
    root.mark_info().marked(true);
    root.viewer_preferences().display_doc_title(true);
    if !chapters.is_empty() {
        root.outlines(outline);
    }
    root.pair(Name(b"StructTreeRoot"), structure);
    root.finish();
    let mut about = pdf.document_info(info);
    about.title(TextStr(title));
    about.producer(TextStr(crate::PROGRAM));
    about.finish();
    pdf.pages(tree).kids(page_ids.iter().copied()).count(pages.len() as i32);

    let begins: Vec<(usize, f32)> = (0..chapters.len())
        .map(|chapter| {
            let found = pages.iter().enumerate().find_map(|(n, page)| {
                let of = page.begins.iter().find(|(begun, _)| *begun == chapter)?;
                Some((n, of.1))
            });
            found.unwrap_or_default()
        })
        .collect();
    let mut marked = Marked::new();
    let mut opacities: BTreeMap<u8, Ref> = BTreeMap::new();
    for (n, page) in pages.iter().enumerate() {
        let mut sheet = Sheet {
            setter,
            begins: &begins,
            content: Content::new(),
            opacities: &mut opacities,
            pictures: Vec::new(),
            links: Vec::new(),
            open: None,
            pieces: 0,
        };
        sheet.whole(page, n, &mut marked, &mut numbers);
        sheet.margins(language, n, pages.len(), (title, job));
        let Sheet {
            content,
            pictures,
            links,
            ..
        } = sheet;
        let (content_id, links_ids) = (numbers.next(), links.iter().map(|_| numbers.next()).collect::<Vec<_>>());
        let mut written = pdf.page(page_ids[n]);
        written
            .media_box(Rect::new(0.0, 0.0, PAGE.0, PAGE.1))
            .parent(tree)
            .contents(content_id);
        written.struct_parents(n as i32).tab_order(TabOrder::StructureOrder);
        written.annotations(links_ids.iter().copied());
        let mut resources = written.resources();
        resources.fonts().pairs(FONTS.into_iter().zip(fonts));
        resources.ext_g_states().pairs(
            opacities
                .iter()
                .map(|(percent, id)| (opacity_name(*percent), *id))
                .collect::<Vec<_>>()
                .iter()
                .map(|(name, id)| (Name(name.as_bytes()), *id)),
        );
        resources.x_objects().pairs(
            pictures
                .iter()
                .map(|(id, ..)| (picture_name(*id), *id))
                .collect::<Vec<_>>()
                .iter()
                .map(|(name, id)| (Name(name.as_bytes()), *id)),
        );
        resources.finish();
        written.finish();
        let bytes = squeezed(&content.finish());
        pdf.stream(content_id, &bytes).filter(Filter::FlateDecode);
        for (id, px, jpeg) in pictures {
            let mut picture = pdf.image_xobject(id, &jpeg);
            picture.width(px.0 as i32).height(px.1 as i32);
            picture.filter(Filter::DctDecode);
            picture.color_space().device_gray();
            picture.bits_per_component(8);
        }
        for (id, (place, chapter)) in links_ids.into_iter().zip(links) {
            let Some(&(page, top)) = begins.get(chapter) else {
                continue;
            };
            let mut link = pdf.annotation(id);
            link.subtype(AnnotationType::Link)
                .rect(place)
                .border(0.0, 0.0, 0.0, None);
            link.contents(TextStr(chapters.get(chapter).map_or("", String::as_str)));
            let mut action = link.action();
            action.action_type(ActionType::GoTo);
            action.destination().page(page_ids[page]).xyz(0.0, PAGE.1 - top, None);
        }
    }
    for (percent, id) in &opacities {
        let opacity = f32::from(*percent) / 100.0;
        pdf.ext_graphics(*id)
            .non_stroking_alpha(opacity)
            .stroking_alpha(opacity);
    }
    for (n, id) in fonts.into_iter().enumerate() {
        font(&mut pdf, id, &setter.0, n == 1, &mut numbers);
    }
    bookmarks(&mut pdf, outline, chapters, (&begins, &page_ids), &mut numbers);
    elements(
        &mut pdf,
        tags,
        &marked,
        (structure, parents),
        (&element_ids, &page_ids),
        pages.len(),
    );
    pdf.finish()
}

fn squeezed(bytes: &[u8]) -> Vec<u8> {
    let mut squeezer = ZlibEncoder::new(Vec::new(), Compression::default());
    // Writing into memory does not fail.
    let _ = squeezer.write_all(bytes);
    squeezer.finish().unwrap_or_default()
}

fn opacity_name(percent: u8) -> String {
    format!("G{percent}")
}

fn picture_name(id: Ref) -> String {
    format!("P{}", id.get())
}

type Picture = (Ref, (u32, u32), std::rc::Rc<[u8]>);

/// One page as it is written.
struct Sheet<'a> {
    setter: &'a Setter,
    begins: &'a [(usize, f32)],
    content: Content,
    opacities: &'a mut BTreeMap<u8, Ref>,
    pictures: Vec<Picture>,
    links: Vec<(Rect, usize)>,
    /// The element whose content is being written.
    open: Option<Tag>,
    /// Pieces that are of an element so far.
    pieces: i32,
}

impl Sheet<'_> {
    fn whole(&mut self, page: &Page, number: usize, marked: &mut Marked, numbers: &mut Numbers) {
        for (tag, ink) in &page.inks {
            if let Ink::Link { at, size, chapter } = ink {
                let (left, top) = (at.0, PAGE.1 - at.1);
                self.links
                    .push((Rect::new(left, top - size.1, left + size.0, top), *chapter));
                continue;
            }
            self.of(*tag, number, marked);
            self.ink(ink, numbers);
        }
        self.close();
    }

    /// What follows is of this element.
    fn of(&mut self, tag: Tag, page: usize, marked: &mut Marked) {
        if self.open == Some(tag) {
            return;
        }
        self.close();
        if tag == ARTIFACT {
            self.content.begin_marked_content(Name(b"Artifact"));
        } else {
            let mut content = self.content.begin_marked_content_with_properties(Name(b"Span"));
            content.properties().identify(self.pieces);
            content.finish();
            marked.entry(tag).or_default().push((page, self.pieces));
            self.pieces += 1;
        }
        self.open = Some(tag);
    }

    fn close(&mut self) {
        if self.open.take().is_some() {
            self.content.end_marked_content();
        }
    }

    fn ink(&mut self, ink: &Ink, numbers: &mut Numbers) {
        match ink {
            Ink::Words {
                at,
                size,
                bold,
                colour,
                text,
            } => self.words(*at, (*size, *bold, *colour), text),
            Ink::PageOf { end, size, chapter } => {
                let text = self.begins.get(*chapter).map_or(0, |(page, _)| page + 1).to_string();
                let x = end.0 - self.setter.width(&text, false, *size);
                self.words((x, end.1), (*size, false, FAINT), &text);
            }
            Ink::Jpeg { at, size, px, jpeg } => {
                let id = numbers.next();
                self.content.save_state();
                self.content
                    .transform([size.0, 0.0, 0.0, size.1, at.0, PAGE.1 - at.1 - size.1]);
                self.content.x_object(Name(picture_name(id).as_bytes()));
                self.content.restore_state();
                self.pictures.push((id, *px, jpeg.clone()));
            }
            Ink::Shape {
                outline,
                fill,
                stroke,
                opacity,
                clip,
            } => {
                self.content.save_state();
                if let Some([x, y, width, height]) = *clip {
                    self.content
                        .rect(x, PAGE.1 - y - height, width, height)
                        .clip_nonzero()
                        .end_path();
                }
                if *opacity < 1.0 {
                    let percent = (100.0 * opacity).round().clamp(0.0, 100.0) as u8;
                    self.opacities.entry(percent).or_insert_with(|| numbers.next());
                    self.content.set_parameters(Name(opacity_name(percent).as_bytes()));
                }
                if let Some(colour) = fill {
                    let [red, green, blue] = shares(*colour);
                    self.content.set_fill_rgb(red, green, blue);
                }
                if let Some(stroke) = stroke {
                    let [red, green, blue] = shares(stroke.colour);
                    self.content.set_stroke_rgb(red, green, blue);
                    self.content
                        .set_line_width(stroke.width)
                        .set_line_join(LineJoinStyle::RoundJoin);
                    if stroke.round {
                        self.content.set_line_cap(LineCapStyle::RoundCap);
                    }
                    if !stroke.dashes.is_empty() {
                        self.content.set_dash_pattern(stroke.dashes.iter().copied(), 0.0);
                    }
                }
                self.way(outline);
                match (fill, stroke) {
                    (Some(_), Some(_)) => self.content.fill_nonzero_and_stroke(),
                    (Some(_), None) => self.content.fill_nonzero(),
                    (None, Some(_)) => self.content.stroke(),
                    (None, None) => self.content.end_path(),
                };
                self.content.restore_state();
            }
            Ink::Link { .. } => {}
        }
    }

    fn way(&mut self, outline: &[Step]) {
        for step in outline {
            match *step {
                Step::Move(x, y) => self.content.move_to(x, PAGE.1 - y),
                Step::Line(x, y) => self.content.line_to(x, PAGE.1 - y),
                Step::Cubic([(x1, y1), (x2, y2), (x, y)]) => {
                    self.content.cubic_to(x1, PAGE.1 - y1, x2, PAGE.1 - y2, x, PAGE.1 - y)
                }
                Step::Close => self.content.close_path(),
            };
        }
    }

    fn words(&mut self, (x, y): (f32, f32), (size, bold, colour): (f32, bool, Colour), text: &str) {
        let glyphs: Vec<u8> = self.setter.0.glyphs(text, bold).flat_map(u16::to_be_bytes).collect();
        let [red, green, blue] = shares(colour);
        self.content.set_fill_rgb(red, green, blue);
        self.content.begin_text();
        self.content.set_font(FONTS[usize::from(bold)], size);
        self.content.set_text_matrix([1.0, 0.0, 0.0, 1.0, x, PAGE.1 - y]);
        self.content.show(Str(&glyphs));
        self.content.end_text();
    }

    /// What stands above and below on each page.
    fn margins(&mut self, language: Language, number: usize, count: usize, (title, job): (&str, &str)) {
        const SIZE: f32 = 6.8;
        self.content.begin_marked_content(Name(b"Artifact"));
        let page = said!(language; "Page {} of {count}", "Seite {} von {count}"; number + 1);
        let right = |sheet: &Self, text: &str| PAGE.0 - MARGIN.0 - sheet.setter.width(text, false, SIZE);
        let look = (SIZE, false, FAINT);
        let (above, below) = (MARGIN.1 - 18.0, PAGE.1 - MARGIN.1 + 22.0);
        self.words((MARGIN.0, above), look, title);
        let x = right(self, job);
        self.words((x, above), look, job);
        self.words((MARGIN.0, below), look, crate::disclaimer(language));
        let x = right(self, &page);
        self.words((x, below), look, &page);
        self.content.end_marked_content();
    }
}

fn shares(colour: Colour) -> [f32; 3] {
    colour.map(|share| f32::from(share) / 255.0)
}

/// A font as the program carries it, its glyphs named by their numbers.
fn font(pdf: &mut Pdf, id: Ref, letters: &Letters, bold: bool, numbers: &mut Numbers) {
    let [cid, descriptor, file, to_unicode] = std::array::from_fn(|_| numbers.next());
    let face = letters.face(bold);
    let name = Name(if bold {
        b"BeamfallLetters-Bold"
    } else {
        b"BeamfallLetters"
    });
    let per_mille = 1000.0 / f32::from(face.units_per_em());
    let scaled = |units: i16| f32::from(units) * per_mille;
    let mut whole = pdf.type0_font(id);
    whole.base_font(name).encoding_predefined(Name(b"Identity-H"));
    whole.descendant_font(cid).to_unicode(to_unicode);
    whole.finish();
    let mut of_glyphs = pdf.cid_font(cid);
    of_glyphs
        .subtype(CidFontType::Type2)
        .base_font(name)
        .system_info(LETTERS_FROM);
    of_glyphs.font_descriptor(descriptor).default_width(0.0);
    of_glyphs.cid_to_gid_map_predefined(Name(b"Identity"));
    let advance = |glyph| face.glyph_hor_advance(ttf_parser::GlyphId(glyph)).unwrap_or(0);
    let widths = (0..face.number_of_glyphs()).map(|glyph| f32::from(advance(glyph)) * per_mille);
    of_glyphs.widths().consecutive(0, widths);
    of_glyphs.finish();
    let extent = face.global_bounding_box();
    let mut described = pdf.font_descriptor(descriptor);
    described
        .name(name)
        .flags(FontFlags::NON_SYMBOLIC)
        .italic_angle(0.0)
        .stem_v(if bold { 140.0 } else { 80.0 });
    described.bbox(Rect::new(
        scaled(extent.x_min),
        scaled(extent.y_min),
        scaled(extent.x_max),
        scaled(extent.y_max),
    ));
    described
        .ascent(scaled(face.ascender()))
        .descent(scaled(face.descender()));
    described.cap_height(scaled(face.capital_height().unwrap_or(face.ascender())));
    described.font_file2(file);
    described.finish();
    let bytes = squeezed(letters.file(bold));
    let mut embedded = pdf.stream(file, &bytes);
    embedded.filter(Filter::FlateDecode);
    embedded.pair(Name(b"Length1"), letters.file(bold).len() as i32);
    embedded.finish();
    let mut letters_of = UnicodeCmap::new(Name(b"BeamfallToUnicode"), LETTERS_FROM);
    for (glyph, letter) in letters.by_glyph(bold) {
        letters_of.pair(glyph, letter);
    }
    pdf.cmap(to_unicode, &letters_of.finish());
}

/// The chapters beside the pages.
fn bookmarks(
    pdf: &mut Pdf,
    outline: Ref,
    chapters: &[String],
    (begins, pages): (&[(usize, f32)], &[Ref]),
    numbers: &mut Numbers,
) {
    let ids: Vec<Ref> = chapters.iter().map(|_| numbers.next()).collect();
    let (Some(&first), Some(&last)) = (ids.first(), ids.last()) else {
        return;
    };
    pdf.outline(outline).first(first).last(last).count(ids.len() as i32);
    for (n, (title, &(page, top))) in chapters.iter().zip(begins).enumerate() {
        let mut item = pdf.outline_item(ids[n]);
        item.title(TextStr(title)).parent(outline);
        if n > 0 {
            item.prev(ids[n - 1]);
        }
        if let Some(&next) = ids.get(n + 1) {
            item.next(next);
        }
        item.dest().page(pages[page]).xyz(0.0, PAGE.1 - top, None);
    }
}

/// What each piece is of: elements that hold nothing are left out.
fn elements(
    pdf: &mut Pdf,
    tags: &Tags,
    marked: &Marked,
    (structure, parents): (Ref, Ref),
    (ids, pages): (&[Ref], &[Ref]),
    count: usize,
) {
    let is_there = held(tags, marked);
    let mut root = pdf.indirect(structure).dict();
    root.pair(Name(b"Type"), Name(b"StructTreeRoot"));
    root.insert(Name(b"K")).array().item(ids[ARTIFACT]);
    root.pair(Name(b"ParentTree"), parents);
    root.pair(Name(b"ParentTreeNextKey"), count as i32);
    root.finish();
    for (tag, element) in tags.0.iter().enumerate().filter(|(tag, _)| is_there[*tag]) {
        let Element {
            role,
            alt,
            inside,
            parent,
        } = element;
        let mut written = pdf.struct_element(ids[tag]);
        written.kind(*role);
        written.parent(if tag == ARTIFACT { structure } else { ids[*parent] });
        if let Some(alt) = alt {
            written.alt(TextStr(alt));
        }
        let mut children = written.children();
        for (page, piece) in marked.get(&tag).into_iter().flatten() {
            children
                .marked_content_ref()
                .page(pages[*page])
                .marked_content_id(*piece);
        }
        for child in inside.iter().filter(|child| is_there[**child]) {
            children.struct_element(ids[*child]);
        }
        children.finish();
        if *role == StructRole::TH {
            written
                .attributes()
                .push()
                .table()
                .scope(pdf_writer::types::TableHeaderScope::Column);
        }
        written.finish();
    }
    // Of each page, the elements of its pieces in their order.
    let mut of_pages: Vec<Vec<(i32, Ref)>> = vec![Vec::new(); count];
    for (tag, pieces) in marked {
        for (page, piece) in pieces {
            of_pages[*page].push((*piece, ids[*tag]));
        }
    }
    let mut tree = pdf.indirect(parents).dict();
    let mut nums = tree.insert(Name(b"Nums")).array();
    for (page, pieces) in of_pages.iter_mut().enumerate() {
        pieces.sort_by_key(|(piece, _)| *piece);
        nums.item(page as i32);
        nums.push().array().items(pieces.iter().map(|(_, id)| *id));
    }
    nums.finish();
    tree.finish();
}

/// Whether each element holds something that is seen; a parent stands before what it holds.
fn held(tags: &Tags, marked: &Marked) -> Vec<bool> {
    let mut is_there: Vec<bool> = (0..tags.0.len()).map(|tag| marked.contains_key(&tag)).collect();
    for tag in (0..tags.0.len()).rev() {
        if is_there[tag] {
            is_there[tags.0[tag].parent] = true;
        }
    }
    is_there
}
