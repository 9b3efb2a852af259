//! The first page: how to hang the sheets, how to measure them, and where the figures go.

use super::Paper;
use super::canvas::{Align, Canvas};
use super::helvetica::Font;
use crate::record::Caution;

/// Wall to picture.
const SCALE: f64 = 1.0 / 19.0;
/// Half the width of the wall that the picture shows, mm on the wall.
const WALL_HALF_MM: f64 = 1700.0;
/// Height of the wall that the picture shows, mm on the wall.
const WALL_HIGH_MM: f64 = 1600.0;

/// Height of the pictured lamps, mm, with their distance from the centre line and from the wall.
const LAMP_HEIGHT_MM: f64 = 650.0;
const LAMP_X_MM: f64 = 560.0;
const DISTANCE_MM: f64 = 10_000.0;

/// Where the pictured marks hang: four low in the light, two high above the cut-off. Below the lamps and outside the
/// strips at once, for cars of either traffic and from 7.5 m to 10 m away.
const PLACES_MM: [[f64; 2]; 6] = [
    [-1400.0, 180.0],
    [-LAMP_X_MM, 180.0],
    [LAMP_X_MM, 180.0],
    [1400.0, 180.0],
    [-1400.0, 1300.0],
    [1400.0, 1300.0],
];

/// Steepest usual inclination, in mm of drop for each metre of distance: the band in which a cut-off can fall.
const BAND_MM_PER_M: f64 = 30.0;
/// The scans that are read, in degrees beside the lamp (contract: the reading at 2.5°, the linearity at 1.5° and 3.5°).
const SCANS_DEG: [f64; 2] = [1.5, 3.5];

/// Rows of the table to fill in; there is no room for more.
const TABLE_ROWS: usize = 12;
const TEXT_PT: f64 = 9.5;
/// Cautions are long, and the shorter of the papers must hold them.
const CAUTION_PT: f64 = 8.5;
const EDGE_MM: f64 = 12.0;
const GUTTER_MM: f64 = 7.0;

/// Draws the page for marks `ids`, `size_mm` over the black border.
pub(super) fn draw(paper: Paper, size_mm: f64, ids: &[u32]) -> Canvas {
    let mut canvas = Canvas::new(paper);
    let [width_mm, height_mm] = paper.size_mm();
    let title_mm = height_mm - 15.0;
    canvas.text(
        EDGE_MM,
        title_mm,
        Align::Left,
        Font::Bold,
        18.0,
        "How to hang the marks",
    );
    let floor_mm = title_mm - 6.0 - WALL_HIGH_MM * SCALE;
    Picture {
        canvas: &mut canvas,
        middle_mm: width_mm / 2.0,
        floor_mm,
    }
    .draw(ids);
    let column_mm = (width_mm - 2.0 * EDGE_MM - GUTTER_MM) / 2.0;
    let top_mm = floor_mm - 9.0;
    let mut left = Column {
        canvas: &mut canvas,
        left_mm: EDGE_MM,
        width_mm: column_mm,
        top_mm,
    };
    left.heading("Hang");
    left.points(&[
        "Print all pages at 100 % on matt paper. On each, measure the 100 mm bar.",
        "Choose a plain wall that can be made dark. Tape at least four sheets to it, flat, arrow up, all four corners taped. A few degrees askew do no harm. Each number once.",
        "Hang four low, in the light, and two high, above the cut-off and beside the beam. Not all on one line.",
        "Keep sheets out of the dark grey band, where the cut-off falls: from lamp height down to 30 mm lower for each metre of \
         distance.",
        "Keep sheets out of the pale grey strips, 1.5° to 3.5° to each side of a lamp: 26 to 61 mm for each metre of distance.",
        "Car: on a level floor, square to the wall, lamps 7.5 to 10 m from it, never less than 5 m.",
    ]);
    left.heading("Take care");
    left.points_of(
        CAUTION_PT,
        &[
            Caution::Exhaust,
            Caution::Rolling,
            Caution::Wall,
            Caution::HotLamps,
            Caution::HighVoltage,
            Caution::Glare,
            Caution::Aim,
        ]
        .map(Caution::text),
    );
    let mut right = Column {
        left_mm: EDGE_MM + column_mm + GUTTER_MM,
        ..left
    };
    right.top_mm = top_mm;
    right.heading("Measure");
    right.points(&[
        "To the tag's centre, in mm. The fine lines point at it.",
        "x: from the bay's centre line, plus to the right, minus to the left, facing the wall. Read it at the lines above and \
         below the tag; if they differ, take the middle.",
        "y: up from the floor or from a level line. Read it at the lines left and right of the tag; if they differ, take \
         the middle. Measure the lamps from the same floor or line.",
    ]);
    right.table(ids);
    right.heading("Put the figures into bay.toml");
    right.typed(&bay_toml(size_mm, ids));
    canvas
}

/// A bay file as a start, with the first mark filled in as in the picture.
fn bay_toml(size_mm: f64, ids: &[u32]) -> String {
    let id = ids.first().copied().unwrap_or(1);
    let [x_mm, y_mm] = PLACES_MM[0];
    format!(
        "schema = 1\n\
         name = \"North wall\"\n\
         heights_from = \"floor\"   # or \"level-line\"\n\
         [marks]\n\
         family = \"tag36h11\"\n\
         size_mm = {size_mm:<14?} # the black square\n\
         position_sd_mm = 1.5     # how well it was taped\n\
         [[marks.sheet]]          # one for each mark\n\
         id = {id}\n\
         x_mm = {x_mm:?}\n\
         y_mm = {y_mm:?}\n"
    )
}

/// A column of text that grows downward.
struct Column<'a> {
    canvas: &'a mut Canvas,
    left_mm: f64,
    width_mm: f64,
    top_mm: f64,
}

impl Column<'_> {
    fn heading(&mut self, text: &str) {
        self.top_mm = self
            .canvas
            .paragraph(self.left_mm, self.top_mm, self.width_mm, Font::Bold, 12.0, text)
            - 0.3;
    }

    fn points(&mut self, texts: &[&str]) {
        self.points_of(TEXT_PT, texts);
    }

    fn points_of(&mut self, size_pt: f64, texts: &[&str]) {
        const INDENT_MM: f64 = 4.0;
        for text in texts {
            self.canvas
                .paragraph(self.left_mm, self.top_mm, INDENT_MM, Font::Regular, size_pt, "–");
            self.top_mm = self.canvas.paragraph(
                self.left_mm + INDENT_MM,
                self.top_mm,
                self.width_mm - INDENT_MM,
                Font::Regular,
                size_pt,
                text,
            ) - 0.6;
        }
        self.top_mm -= 2.0;
    }

    /// A table to write the figures into, pencil in hand at the wall.
    fn table(&mut self, ids: &[u32]) {
        const ROW_MM: f64 = 5.2;
        let columns_mm = [16.0, 30.0, 30.0];
        let rows = ids.len().min(TABLE_ROWS);
        let mut row = |row: usize, words: [&str; 3], font: Font| {
            let bottom_mm = self.top_mm - ROW_MM * (row as f64 + 1.0);
            let mut x_mm = self.left_mm;
            for (width_mm, word) in columns_mm.into_iter().zip(words) {
                self.canvas.frame(x_mm, bottom_mm, width_mm, ROW_MM, 0.2);
                let middle_mm = x_mm + width_mm / 2.0;
                self.canvas
                    .text(middle_mm, bottom_mm + 1.5, Align::Centre, font, TEXT_PT, word);
                x_mm += width_mm;
            }
        };
        row(0, ["mark", "x_mm", "y_mm"], Font::Bold);
        for (n, id) in ids.iter().take(rows).enumerate() {
            row(n + 1, [&id.to_string(), "", ""], Font::Regular);
        }
        self.top_mm -= ROW_MM * (rows as f64 + 1.0) + 1.5;
        if ids.len() > rows {
            self.points(&["The other marks: on the back of this page."]);
        } else {
            self.top_mm -= 2.0;
        }
    }

    fn typed(&mut self, text: &str) {
        const SIZE_PT: f64 = 8.0;
        for line in text.lines() {
            self.canvas.text(
                self.left_mm,
                self.top_mm - 2.5,
                Align::Left,
                Font::Typewriter,
                SIZE_PT,
                line,
            );
            self.top_mm -= 3.4;
        }
    }
}

/// The wall as the driver sees it, to scale.
struct Picture<'a> {
    canvas: &'a mut Canvas,
    /// The bay's centre line on the page, mm.
    middle_mm: f64,
    /// The floor on the page, mm.
    floor_mm: f64,
}

impl Picture<'_> {
    /// From the wall, mm, to the page, mm.
    fn at(&self, [x_mm, y_mm]: [f64; 2]) -> [f64; 2] {
        [self.middle_mm + x_mm * SCALE, self.floor_mm + y_mm * SCALE]
    }

    fn shade(&mut self, from_mm: [f64; 2], to_mm: [f64; 2], gray: f32) {
        let [left, bottom] = self.at(from_mm);
        let [right, top] = self.at(to_mm);
        self.canvas.fill_rect(left, bottom, right - left, top - bottom, gray);
    }

    fn line(&mut self, points_mm: &[[f64; 2]], line_mm: f64, dashes_mm: &[f64]) {
        let points_mm: Vec<[f64; 2]> = points_mm.iter().map(|&point| self.at(point)).collect();
        self.canvas.line(&points_mm, line_mm, dashes_mm);
    }

    fn arrow(&mut self, from_mm: [f64; 2], to_mm: [f64; 2]) {
        let [from_mm, to_mm] = [self.at(from_mm), self.at(to_mm)];
        self.canvas.arrow(from_mm, to_mm, 0.25, 2.2);
    }

    fn label(&mut self, place_mm: [f64; 2], align: Align, text: &str) {
        let [x_mm, y_mm] = self.at(place_mm);
        self.canvas.text(x_mm, y_mm, align, Font::Regular, 8.5, text);
    }

    fn draw(mut self, ids: &[u32]) {
        self.zones();
        self.beam();
        for (place_mm, id) in PLACES_MM
            .into_iter()
            .zip(ids.iter().map(Some).chain(std::iter::repeat(None)))
        {
            self.mark(place_mm, id.copied());
        }
        self.measures();
    }

    /// The parts of the wall to keep free.
    fn zones(&mut self) {
        let [near_mm, far_mm] = SCANS_DEG.map(|deg| DISTANCE_MM * deg.to_radians().tan());
        for lamp_mm in [-LAMP_X_MM, LAMP_X_MM] {
            for [from_mm, to_mm] in [[-far_mm, -near_mm], [near_mm, far_mm]] {
                self.shade([lamp_mm + from_mm, 0.0], [lamp_mm + to_mm, 1060.0], 0.9);
            }
        }
        let band_low_mm = LAMP_HEIGHT_MM - BAND_MM_PER_M * DISTANCE_MM / 1000.0;
        self.shade([-WALL_HALF_MM, band_low_mm], [WALL_HALF_MM, LAMP_HEIGHT_MM], 0.75);
        let beside_mm = LAMP_X_MM + (near_mm + far_mm) / 2.0;
        // The middle one is beside the centre line, not on it.
        for x_mm in [-beside_mm, 150.0, beside_mm] {
            self.label([x_mm, 990.0], Align::Centre, "keep free");
        }
        self.label([LAMP_X_MM + 60.0, 460.0], Align::Left, "cut-offs fall here: no marks");
    }

    /// The lamps' height on the wall, and one lamp's cut-off.
    fn beam(&mut self) {
        self.line(
            &[[-WALL_HALF_MM, LAMP_HEIGHT_MM], [WALL_HALF_MM, LAMP_HEIGHT_MM]],
            0.25,
            &[2.0, 1.2],
        );
        self.label([1225.0, LAMP_HEIGHT_MM + 25.0], Align::Left, "lamp height");
        for (lamp_mm, name) in [(-LAMP_X_MM, "left lamp"), (LAMP_X_MM, "right lamp")] {
            self.label([lamp_mm, LAMP_HEIGHT_MM + 60.0], Align::Centre, name);
            self.line(
                &[[lamp_mm - 35.0, LAMP_HEIGHT_MM], [lamp_mm + 35.0, LAMP_HEIGHT_MM]],
                0.5,
                &[],
            );
            self.line(
                &[[lamp_mm, LAMP_HEIGHT_MM - 35.0], [lamp_mm, LAMP_HEIGHT_MM + 35.0]],
                0.5,
                &[],
            );
        }
        // 1 % down, and rising at 15 degrees on the kerb side, as for right-hand traffic.
        let elbow_mm = [-LAMP_X_MM, LAMP_HEIGHT_MM - DISTANCE_MM / 100.0];
        let run_mm = 1000.0;
        let end_mm = [elbow_mm[0] + run_mm, elbow_mm[1] + run_mm * 15_f64.to_radians().tan()];
        self.line(&[[-WALL_HALF_MM, elbow_mm[1]], elbow_mm, end_mm], 0.6, &[]);
        self.label(
            [-WALL_HALF_MM + 25.0, 460.0],
            Align::Left,
            "the left lamp's cut-off, right-hand traffic",
        );
    }

    /// A sheet on the wall; the number white on the black square. No real tag: this page may hang in view, too.
    fn mark(&mut self, [x_mm, y_mm]: [f64; 2], id: Option<u32>) {
        self.shade([x_mm - 105.0, y_mm - 148.5], [x_mm + 105.0, y_mm + 148.5], 1.0);
        let [left, bottom] = self.at([x_mm - 105.0, y_mm - 148.5]);
        self.canvas.frame(left, bottom, 210.0 * SCALE, 297.0 * SCALE, 0.2);
        self.shade([x_mm - 80.0, y_mm - 80.0], [x_mm + 80.0, y_mm + 80.0], 0.0);
        if let Some(id) = id {
            let [x_mm, y_mm] = self.at([x_mm, y_mm]);
            self.canvas
                .text_gray(x_mm, y_mm - 1.3, Align::Centre, Font::Bold, 10.0, 1.0, &id.to_string());
        }
    }

    /// Floor and centre line, and how x and y of a mark are measured from them.
    fn measures(&mut self) {
        self.line(&[[-WALL_HALF_MM, 0.0], [WALL_HALF_MM, 0.0]], 0.5, &[]);
        self.label(
            [0.0, -75.0],
            Align::Centre,
            &format!(
                "floor (or level line), y = 0. Drawn as you face the wall, for lamps {LAMP_HEIGHT_MM} mm up and {} m away.",
                DISTANCE_MM / 1000.0
            ),
        );
        self.line(&[[0.0, 0.0], [0.0, WALL_HIGH_MM]], 0.25, &[4.0, 1.0, 0.6, 1.0]);
        let [x_mm, y_mm] = PLACES_MM[5];
        let [over_mm, beside_mm] = [y_mm + 215.0, x_mm + 200.0];
        self.line(&[[x_mm, y_mm + 160.0], [x_mm, over_mm + 30.0]], 0.15, &[]);
        self.line(&[[-x_mm, y_mm + 160.0], [-x_mm, over_mm + 30.0]], 0.15, &[]);
        self.line(&[[x_mm + 115.0, y_mm], [beside_mm + 30.0, y_mm]], 0.15, &[]);
        self.arrow([0.0, over_mm], [x_mm, over_mm]);
        self.arrow([0.0, over_mm], [-x_mm, over_mm]);
        self.arrow([beside_mm, 0.0], [beside_mm, y_mm]);
        self.label([x_mm / 2.0, over_mm + 25.0], Align::Centre, "x: plus to the right");
        self.label([-x_mm / 2.0, over_mm + 25.0], Align::Centre, "x: minus to the left");
        self.label([beside_mm + 25.0, 830.0], Align::Left, "y");
        self.label([20.0, 1300.0], Align::Left, "the bay's centre line, x = 0");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Bay;

    #[test]
    fn the_printed_bay_file_reads() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bay.toml");
        for size_mm in [160.0, 123.5] {
            std::fs::write(&path, bay_toml(size_mm, &[7, 8])).unwrap();
            let bay = Bay::read(&path).unwrap();
            assert_eq!(bay.marks.size_mm, size_mm);
            assert_eq!(bay.marks.sheet.len(), 1);
            assert_eq!(bay.marks.sheet[0].id, 7);
        }
    }

    #[test]
    fn pictured_marks_keep_clear_of_band_and_strips() {
        for distance_mm in [7500.0, DISTANCE_MM] {
            let band_mm = LAMP_HEIGHT_MM - BAND_MM_PER_M * distance_mm / 1000.0..=LAMP_HEIGHT_MM;
            for [x_mm, y_mm] in PLACES_MM {
                for corner_mm in [-148.5, 148.5] {
                    assert!(!band_mm.contains(&(y_mm + corner_mm)), "{y_mm} at {distance_mm}");
                }
                for lamp_mm in [-LAMP_X_MM, LAMP_X_MM] {
                    for side_mm in [-105.0, 105.0] {
                        let beside_deg = ((x_mm + side_mm - lamp_mm).abs() / distance_mm).atan().to_degrees();
                        assert!(
                            !(SCANS_DEG[0]..=SCANS_DEG[1]).contains(&beside_deg),
                            "{x_mm} at {distance_mm}"
                        );
                    }
                }
            }
        }
    }
}
