//! The printed sheets, read back from the PDF's bytes: sizes, errors, and the ready-made files.

use crate::error::Error;
use crate::marks::{DEFAULT_SIZE_MM, Paper, TagCells, sheets_pdf, write_sheets};
use crate::record::Caution;
use std::path::Path;

const MM_PER_PT: f64 = 25.4 / 72.0;
const IDS: [u32; 8] = [1, 2, 3, 4, 5, 6, 7, 8];

/// Tags 1 to 8, a byte for each row, 1 = black: as OpenCV 5.0.0 draws DICT_APRILTAG_36h11 (generateImageMarker).
#[rustfmt::skip]
const OPENCV: [[u8; 8]; 8] = [
    [0b11111111, 0b10110111, 0b10100101, 0b11110011, 0b11100001, 0b10001011, 0b11001001, 0b11111111],
    [0b11111111, 0b11000111, 0b11101111, 0b10110111, 0b11111101, 0b11011011, 0b10001001, 0b11111111],
    [0b11111111, 0b11110011, 0b11011001, 0b10110101, 0b10001101, 0b10001111, 0b10110001, 0b11111111],
    [0b11111111, 0b11011101, 0b11111101, 0b11010111, 0b10000101, 0b11100001, 0b11010001, 0b11111111],
    [0b11111111, 0b11100101, 0b11000111, 0b10010101, 0b11001001, 0b10111001, 0b11100001, 0b11111111],
    [0b11111111, 0b10101111, 0b11011111, 0b10100011, 0b10110101, 0b11001011, 0b10111111, 0b11111111],
    [0b11111111, 0b11101011, 0b10001111, 0b11000101, 0b11101011, 0b11001111, 0b11101111, 0b11111111],
    [0b11111111, 0b10100101, 0b11010001, 0b10000011, 0b10001111, 0b10010101, 0b11110111, 0b11111111],
];

fn cells(id: u32) -> Option<TagCells> {
    let rows = OPENCV.get((id as usize).checked_sub(1)?)?;
    Some(rows.map(|row| std::array::from_fn(|column| row >> (7 - column) & 1 == 1)))
}

/// One filled shape of a page: its closed outlines, mm from the page's lower left corner.
type Shape = Vec<Vec<[f64; 2]>>;

/// What a page holds, as far as these tests need it.
#[derive(Debug, Default)]
struct Page {
    media_mm: [f64; 2],
    /// Shapes filled in black.
    black: Vec<Shape>,
    texts: Vec<String>,
}

/// Reads a PDF whose streams are not compressed: the n-th content stream belongs to the n-th /MediaBox.
fn read_pages(pdf: &[u8]) -> Vec<Page> {
    let text: String = pdf.iter().map(|&b| char::from(b)).collect();
    let media_mm = text.split("/MediaBox [").skip(1).map(|rest| {
        let numbers = rest.split(']').next().unwrap().split(' ');
        let numbers: Vec<f64> = numbers.map(|n| n.parse().unwrap()).collect();
        [
            (numbers[2] - numbers[0]) * MM_PER_PT,
            (numbers[3] - numbers[1]) * MM_PER_PT,
        ]
    });
    let streams = text.split("\nstream\n").skip(1);
    let streams = streams.map(|rest| rest.split("\nendstream").next().unwrap());
    media_mm
        .zip(streams)
        .map(|(media_mm, stream)| read_page(media_mm, stream))
        .collect()
}

fn read_page(media_mm: [f64; 2], stream: &str) -> Page {
    let mut page = Page {
        media_mm,
        ..Page::default()
    };
    let mut shape: Shape = Vec::new();
    let mut gray = 0.0;
    for line in stream.lines() {
        let (operands, operator) = line.rsplit_once(' ').unwrap_or(("", line));
        let number = |n: usize| operands.split(' ').nth(n).unwrap().parse::<f64>().unwrap();
        match operator {
            "g" => gray = number(0),
            "m" => shape.push(vec![[number(0) * MM_PER_PT, number(1) * MM_PER_PT]]),
            "l" => shape
                .last_mut()
                .unwrap()
                .push([number(0) * MM_PER_PT, number(1) * MM_PER_PT]),
            "f*" => {
                let filled = std::mem::take(&mut shape);
                if gray == 0.0 {
                    page.black.push(filled);
                }
            }
            "S" => shape.clear(),
            "Tj" => page.texts.push(read_text(operands)),
            // A transformation would make the figures above something else than places on the page.
            "cm" | "re" | "f" | "c" => panic!("{line}: not looked for here"),
            _ => {}
        }
    }
    page
}

/// A PDF string as text: (in brackets), with a backslash before brackets, or <in hexadecimal digits>, WinAnsi.
fn read_text(operand: &str) -> String {
    let Some(digits) = operand.strip_prefix('<').and_then(|rest| rest.strip_suffix('>')) else {
        let inner = operand.strip_prefix('(').unwrap().strip_suffix(')').unwrap();
        return inner.replace('\\', "");
    };
    let bytes = (0..digits.len())
        .step_by(2)
        .map(|n| u8::from_str_radix(&digits[n..n + 2], 16).unwrap());
    bytes
        .map(|byte| if byte == 0x96 { '–' } else { char::from(byte) })
        .collect()
}

/// Left, bottom, right, top, mm.
fn bounds_mm(shape: &Shape) -> [f64; 4] {
    let start = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    shape
        .iter()
        .flatten()
        .fold(start, |[left, bottom, right, top], [x, y]| {
            [left.min(*x), bottom.min(*y), right.max(*x), top.max(*y)]
        })
}

/// Even-odd, by a ray to the left: is the point inside the shape? All edges run along x or y.
fn is_black(shape: &Shape, [x, y]: [f64; 2]) -> bool {
    let edges = shape
        .iter()
        .flat_map(|corners| corners.iter().zip(corners.iter().cycle().skip(1)));
    let crossed = edges.filter(|(a, b)| a[0] < x && b[0] < x && (a[1] < y) != (b[1] < y));
    crossed.count() % 2 == 1
}

fn close(a_mm: f64, b_mm: f64) -> bool {
    // A few last places of the PDF's 32-bit numbers at a page's height: far below a printer's dot.
    (a_mm - b_mm).abs() < 0.0005
}

#[test]
fn sheets_are_true_to_size_on_both_papers() {
    for (paper, width_mm, height_mm) in [(Paper::A4, 210.0, 297.0), (Paper::Letter, 215.9, 279.4)] {
        for size_mm in [DEFAULT_SIZE_MM, 97.3] {
            let pages = read_pages(&sheets_pdf(paper, size_mm, &IDS, cells).unwrap());
            assert_eq!(pages.len(), 1 + IDS.len());
            for page in &pages {
                assert!(
                    close(page.media_mm[0], width_mm) && close(page.media_mm[1], height_mm),
                    "{paper}: {:?}",
                    page.media_mm
                );
            }
            for (page, id) in pages[1..].iter().zip(IDS) {
                check_sheet(page, size_mm, id);
            }
        }
    }
}

fn check_sheet(page: &Page, size_mm: f64, id: u32) {
    let [width_mm, height_mm] = page.media_mm;
    // The tag is the shape with the most corners; the bar and the arrow's head are simpler.
    let corners = |shape: &&Shape| shape.iter().flatten().count();
    let tag = page.black.iter().max_by_key(corners).unwrap();
    let [left, bottom, right, top] = bounds_mm(tag);
    assert!(
        close(right - left, size_mm) && close(top - bottom, size_mm),
        "mark {id}: {} by {} mm",
        right - left,
        top - bottom
    );
    assert!(
        close((left + right) / 2.0, width_mm / 2.0),
        "mark {id} is not in the middle"
    );
    let module_mm = size_mm / 8.0;
    assert!(left - module_mm > 4.999 && bottom - module_mm > 5.0 && top + module_mm < height_mm - 5.0);
    for other in page.black.iter().filter(|shape| !std::ptr::eq(*shape, tag)) {
        let [_, other_bottom, _, other_top] = bounds_mm(other);
        assert!(
            other_top < bottom - module_mm || other_bottom > top + module_mm,
            "mark {id}: black in the white margin"
        );
    }
    for (row, line) in cells(id).unwrap().iter().enumerate() {
        for (column, &black) in line.iter().enumerate() {
            let middle = [
                left + (column as f64 + 0.5) * module_mm,
                top - (row as f64 + 0.5) * module_mm,
            ];
            assert_eq!(is_black(tag, middle), black, "mark {id}: row {row} column {column}");
        }
    }
    let bars = page
        .black
        .iter()
        .map(bounds_mm)
        .filter(|[l, b, r, t]| r - l > 4.0 * (t - b));
    let bars_mm: Vec<f64> = bars.map(|[l, _, r, _]| r - l).collect();
    assert!(
        bars_mm.len() == 1 && close(bars_mm[0], 100.0),
        "mark {id}: check bar {bars_mm:?}"
    );
}

#[test]
fn sheets_say_what_they_are() {
    for (paper, words) in [(Paper::A4, "A4 (210 × 297"), (Paper::Letter, "US Letter (8.5 × 11")] {
        let pages = read_pages(&sheets_pdf(paper, 150.0, &[3, 7], cells).unwrap());
        for (page, number) in pages[1..].iter().zip(["mark 3", "mark 7"]) {
            for whole in [number, "up"] {
                assert!(page.texts.iter().any(|text| text == whole), "{whole}: {:?}", page.texts);
            }
            for part in ["100 %", "must be 100 mm", "150 mm", "tag36h11", words] {
                assert!(
                    page.texts.iter().any(|text| text.contains(part)),
                    "{part}: {:?}",
                    page.texts
                );
            }
        }
        // What has no WinAnsi code comes out as "?", which no text of the sheets holds.
        for text in pages.iter().flat_map(|page| &page.texts) {
            assert!(!text.contains('?'), "{text}");
        }
        let guide = pages[0].texts.join(" ");
        let wanted = [
            "centre line",
            "7.5 to 10 m",
            "level floor",
            "matt",
            "all four corners",
            "size_mm = 150.0",
        ];
        let cautions = [
            Caution::Exhaust,
            Caution::Rolling,
            Caution::Wall,
            Caution::HotLamps,
            Caution::HighVoltage,
            Caution::Glare,
            Caution::Aim,
        ];
        for part in wanted.into_iter().chain(cautions.map(Caution::text)) {
            assert!(guide.contains(part), "{part}: {guide}");
        }
    }
}

#[test]
fn the_same_arguments_give_the_same_bytes() {
    let once = sheets_pdf(Paper::A4, 160.0, &IDS, cells).unwrap();
    assert_eq!(once, sheets_pdf(Paper::A4, 160.0, &IDS, cells).unwrap());
    assert_ne!(once, sheets_pdf(Paper::A4, 159.0, &IDS, cells).unwrap());
    for stamp in ["/CreationDate", "/ModDate", "/ID"] {
        assert!(
            !once.windows(stamp.len()).any(|part| part == stamp.as_bytes()),
            "{stamp}"
        );
    }
}

#[test]
fn slips_are_named_with_their_mend() {
    let message = |paper, size_mm, ids: &[u32]| sheets_pdf(paper, size_mm, ids, cells).unwrap_err().to_string();
    for (size_mm, part) in [
        (f64::NAN, "NaN"),
        (f64::INFINITY, "inf"),
        (-160.0, "20 mm or more"),
        (19.0, "20 mm or more"),
        (160.1, "160 mm or less"),
        (1000.0, "a4 paper"),
    ] {
        let message = message(Paper::A4, size_mm, &[1]);
        assert!(message.contains(part), "{size_mm}: {message}");
    }
    assert!(message(Paper::Letter, 170.0, &[1]).contains("162.7 mm or less"));
    assert!(message(Paper::A4, 160.0, &[]).contains("numbers to print"));
    assert!(message(Paper::A4, 160.0, &[1, 2, 1]).contains("mark 1 is asked for twice"));
    assert!(message(Paper::A4, 160.0, &[1, 587]).contains("mark 587 does not exist"));
    let message = "a5".parse::<Paper>().unwrap_err().to_string();
    assert!(
        message.contains("\"a5\"") && message.contains("a4 or letter"),
        "{message}"
    );
    assert_eq!("Letter".parse::<Paper>().unwrap(), Paper::Letter);
}

#[test]
fn a_written_file_is_whole_and_alone() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("to/print");
    // Twice: an older file is replaced.
    for _ in 0..2 {
        let path = write_sheets(&inner, Paper::Letter, 160.0, &[2], cells).unwrap();
        assert_eq!(path, inner.join("marks-letter.pdf"));
        assert_eq!(
            std::fs::read(&path).unwrap(),
            sheets_pdf(Paper::Letter, 160.0, &[2], cells).unwrap()
        );
        assert_eq!(
            std::fs::read_dir(&inner).unwrap().count(),
            1,
            "something unfinished is left behind"
        );
    }
}

#[test]
fn a_place_that_cannot_be_written_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    std::fs::write(&file, "").unwrap();
    let error = write_sheets(&file, Paper::A4, 160.0, &[2], cells).unwrap_err();
    assert!(matches!(&error, Error::Write { path, .. } if *path == file), "{error}");
    // A folder stands where the file should go: nothing unfinished is left beside it.
    std::fs::create_dir_all(folder.path().join("marks-a4.pdf/x")).unwrap();
    let error = write_sheets(folder.path(), Paper::A4, 160.0, &[2], cells).unwrap_err();
    assert!(error.to_string().contains("marks-a4.pdf"), "{error}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
    // A slip in the arguments makes no folder.
    let absent = folder.path().join("absent");
    assert!(write_sheets(&absent, Paper::A4, 500.0, &[2], cells).is_err() && !absent.exists());
}

/// The ready-made files are what the code writes. Set BEAMFALL_WRITE_MARKS=1 to write them anew after a change.
#[test]
fn ready_made_sheets_are_what_the_code_writes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("calibration/marks");
    for paper in Paper::ALL {
        if std::env::var_os("BEAMFALL_WRITE_MARKS").is_some() {
            write_sheets(&folder, paper, DEFAULT_SIZE_MM, &IDS, cells).unwrap();
        }
        let ready = std::fs::read(folder.join(paper.file_name())).unwrap();
        assert!(
            ready == sheets_pdf(paper, DEFAULT_SIZE_MM, &IDS, cells).unwrap(),
            "{} differs from what the code writes; look at it, then write it anew",
            paper.file_name()
        );
    }
}
