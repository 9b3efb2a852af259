//! The sheets to print and tape to the wall: one AprilTag 36h11 a page, true to size, as a vector PDF.
//!
//! The first page says how to hang and measure them. Everything is drawn in millimetres as a ruler laid on the paper
//! would find it, and the same arguments always give the same bytes, so that a printed sheet can be told to be the
//! program's own. AprilTag: E. Olson, "AprilTag: A robust and flexible visual fiducial system", ICRA 2011.

mod canvas;
mod guide;
mod helvetica;
mod outline;
mod sheet;

use crate::error::Error;
use canvas::{Canvas, pt};
use helvetica::Font;
use pdf_writer::{Finish, Name, Pdf, Rect, Ref, TextStr};
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

/// The cells of one tag, row by row from the top left as printed upright; `true` is black. The outermost ring is the
/// black border, which is what the tag's size is measured over.
pub type TagCells = [[bool; 8]; 8];

/// Outer edge of a tag's black border that a sheet has if nothing else is asked for, mm: the largest round size that
/// fits both papers with its white margin.
pub const DEFAULT_SIZE_MM: f64 = 160.0;

/// Smallest size, mm: the smallest that a bay file may give (`marks.size_mm`).
const SMALLEST_SIZE_MM: f64 = 20.0;

/// The paper to print on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Paper {
    /// A4, 210 × 297 mm (ISO 216).
    A4,
    /// US Letter, 8.5 × 11 in, 215.9 × 279.4 mm (ANSI/ASME Y14.1).
    Letter,
}

impl Paper {
    /// Both papers.
    pub const ALL: [Self; 2] = [Self::A4, Self::Letter];

    /// Width and height of the upright paper, mm.
    #[must_use]
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Self::A4 => [210.0, 297.0],
            Self::Letter => [215.9, 279.4],
        }
    }

    /// Largest tag that fits this paper, with a white margin of one module on each side, the words above and below,
    /// and the edge that a printer cannot print on: outer edge of the black border, mm, down to whole tenths.
    #[must_use]
    pub fn largest_size_mm(self) -> f64 {
        sheet::largest_size_mm(self)
    }

    /// Name of the file that [`write_sheets`] writes.
    #[must_use]
    pub fn file_name(self) -> String {
        format!("marks-{self}.pdf")
    }

    /// The paper and its size in words.
    fn in_words(self) -> &'static str {
        match self {
            Self::A4 => "A4 (210 × 297 mm)",
            Self::Letter => "US Letter (8.5 × 11 in, 216 × 279 mm)",
        }
    }
}

impl std::fmt::Display for Paper {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
        })
    }
}

impl std::str::FromStr for Paper {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .into_iter()
            .find(|paper| paper.to_string().eq_ignore_ascii_case(text.trim()))
            .ok_or_else(|| Error::asked(format!("paper \"{text}\" is not known; use a4 or letter")))
    }
}

/// Makes the sheets: a page on how to hang them, then one page for each of `ids`, in that order.
///
/// `size_mm` is the outer edge of the tag's black border, mm. `cells` gives the picture of a tag, or `None` where the
/// family has no such number. Returns the bytes of a PDF; the same arguments always give the same bytes.
///
/// # Errors
/// [`Error::Asked`] for a size that cannot be printed on this paper, or numbers that cannot be.
pub fn sheets_pdf(
    paper: Paper,
    size_mm: f64,
    ids: &[u32],
    cells: impl Fn(u32) -> Option<TagCells>,
) -> Result<Vec<u8>, Error> {
    let tags = checked(paper, size_mm, ids, cells)?;
    let pages: Vec<Vec<u8>> = draw(paper, size_mm, &tags).into_iter().map(Canvas::finish).collect();
    Ok(assemble(paper, size_mm, &pages))
}

/// Numbers of the sheets that are printed where no others are wanted: two more than hang in the usual bay.
pub const SHEETS: RangeInclusive<u32> = 1..=8;

/// Makes the sheets as [`sheets_pdf`] does and writes them into `folder` as [`Paper::file_name`] says, making the
/// folder where there is none. The file is written beside its place and then renamed, so that no half-written sheet
/// is ever found there. Returns the file's path.
///
/// # Errors
/// As [`sheets_pdf`], and [`Error::Write`] where the folder or the file cannot be written.
pub fn write_sheets(
    folder: &Path,
    paper: Paper,
    size_mm: f64,
    ids: &[u32],
    cells: impl Fn(u32) -> Option<TagCells>,
) -> Result<PathBuf, Error> {
    let bytes = sheets_pdf(paper, size_mm, ids, cells)?;
    std::fs::create_dir_all(folder).map_err(Error::write(folder, "cannot make the folder"))?;
    let path = folder.join(paper.file_name());
    crate::whole_file::write(&path, &bytes)?;
    Ok(path)
}

/// The numbers with their pictures, once everything about them and the size is known to be possible.
fn checked(
    paper: Paper,
    size_mm: f64,
    ids: &[u32],
    cells: impl Fn(u32) -> Option<TagCells>,
) -> Result<Vec<(u32, TagCells)>, Error> {
    let wrong = |message: String| Err(Error::asked(message));
    if !size_mm.is_finite() || size_mm < SMALLEST_SIZE_MM {
        return wrong(format!(
            "a tag of {size_mm} mm cannot be: give {SMALLEST_SIZE_MM} mm or more, {DEFAULT_SIZE_MM} mm is usual"
        ));
    }
    let largest_mm = paper.largest_size_mm();
    if size_mm > largest_mm {
        return wrong(format!(
            "a tag of {size_mm} mm does not fit {paper} paper with its white margin of {} mm all round; take {largest_mm} mm \
             or less",
            size_mm / 8.0
        ));
    }
    if ids.is_empty() {
        return wrong("no mark was asked for; give the numbers to print, for instance 1 to 8".to_owned());
    }
    let mut tags: Vec<(u32, TagCells)> = Vec::with_capacity(ids.len());
    for &id in ids {
        if tags.iter().any(|(taken, _)| *taken == id) {
            return wrong(format!(
                "mark {id} is asked for twice; each mark on a wall has its own number, so name it once"
            ));
        }
        let Some(cells) = cells(id) else {
            return wrong(format!(
                "mark {id} does not exist: the tag family tag36h11 has 0 to 586; choose another number"
            ));
        };
        tags.push((id, cells));
    }
    Ok(tags)
}

/// All pages: the guide first.
fn draw(paper: Paper, size_mm: f64, tags: &[(u32, TagCells)]) -> Vec<Canvas> {
    let ids: Vec<u32> = tags.iter().map(|(id, _)| *id).collect();
    let mut pages = vec![guide::draw(paper, size_mm, &ids)];
    pages.extend(tags.iter().map(|(id, cells)| sheet::draw(paper, size_mm, *id, cells)));
    pages
}

/// Puts page contents into a PDF file.
fn assemble(paper: Paper, size_mm: f64, pages: &[Vec<u8>]) -> Vec<u8> {
    let mut last = 0;
    let mut next = || {
        last += 1;
        Ref::new(last)
    };
    let [catalog_id, tree_id, info_id] = [next(), next(), next()];
    let font_ids = Font::ALL.map(|font| (font, next()));
    let page_ids: Vec<(Ref, Ref)> = pages.iter().map(|_| (next(), next())).collect();

    let mut pdf = Pdf::new();
    let mut catalog = pdf.catalog(catalog_id);
    catalog.pages(tree_id).lang(TextStr("en"));
    // Asks the viewer's print window to start from 100 %, in place of the usual "fit to page"
    // (ISO 32000-1, 12.2, `PrintScaling`).
    catalog.viewer_preferences().pair(Name(b"PrintScaling"), Name(b"None"));
    catalog.finish();
    let title = format!("beamfall marks, {size_mm} mm, {paper}");
    // No date and no version: the same sheets are the same bytes.
    pdf.document_info(info_id)
        .title(TextStr(&title))
        .creator(TextStr("beamfall"));
    pdf.pages(tree_id)
        .kids(page_ids.iter().map(|(page_id, _)| *page_id))
        .count(i32::try_from(pages.len()).unwrap_or(i32::MAX));
    for (font, font_id) in font_ids {
        pdf.type1_font(font_id)
            .base_font(Name(font.names().1))
            .encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    let [width_mm, height_mm] = paper.size_mm();
    for ((page_id, content_id), content) in page_ids.into_iter().zip(pages) {
        let mut page = pdf.page(page_id);
        page.media_box(Rect::new(0.0, 0.0, pt(width_mm), pt(height_mm)))
            .parent(tree_id)
            .contents(content_id);
        let mut resources = page.resources();
        let mut fonts = resources.fonts();
        for (font, font_id) in font_ids {
            fonts.pair(Name(font.names().0), font_id);
        }
        fonts.finish();
        resources.finish();
        page.finish();
        pdf.stream(content_id, content);
    }
    pdf.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stands in for the tag table: any picture with a black border will do here.
    fn made_cells(id: u32) -> Option<TagCells> {
        let inner = |n: usize| (1..7).contains(&n);
        (id < 587).then(|| {
            std::array::from_fn(|row| {
                std::array::from_fn(|column| {
                    !inner(row) || !inner(column) || !(id as usize + row * column).is_multiple_of(3)
                })
            })
        })
    }

    #[test]
    fn nothing_is_printed_where_printers_cannot() {
        // 5 mm from each edge: what common printers keep free.
        let many: Vec<u32> = (0..587).collect();
        for paper in Paper::ALL {
            let [width_mm, height_mm] = paper.size_mm();
            for size_mm in [20.0, 100.0, DEFAULT_SIZE_MM, paper.largest_size_mm()] {
                for ids in [&[586][..], &[1, 2, 3, 4, 5, 6, 7, 8], &many] {
                    let tags = checked(paper, size_mm, ids, made_cells).unwrap();
                    for (n, page) in draw(paper, size_mm, &tags).iter().enumerate() {
                        let [left, bottom, right, top] = page.inked_mm();
                        assert!(
                            left >= 5.0 && bottom >= 5.0 && right <= width_mm - 5.0 && top <= height_mm - 5.0,
                            "{paper}, {size_mm} mm, page {n}: {left} {bottom} {right} {top}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn default_size_fits_every_paper() {
        assert!((Paper::A4.largest_size_mm() - 160.0).abs() < 1e-9);
        assert!(Paper::Letter.largest_size_mm() > DEFAULT_SIZE_MM);
    }
}
