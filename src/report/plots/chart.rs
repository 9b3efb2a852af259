//! A plot as data (axes, zones, series, notes), and how `plotters` draws it: charts whose axis may point down, under a
//! heading and a legend in rows.
//!
//! The legend is laid out here, since that of the library is one column within the plot, upon the data. Units are
//! [`UNITS`] to a pixel of the shown plot: the library rounds all places to whole ones.

use super::super::Error;
use super::element::{Dash, Element, Look, Point, bars, line, marker, zone};
use super::ink;
use crate::language::Language;
use crate::report::text::{fixed, plain, shorten};
use plotters::chart::ChartContext;
use plotters::coord::Shift;
use plotters::coord::ranged1d::{KeyPointHint, NoDefaultFormatting, Ranged, ValueFormatter};
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::ops::Range;

/// Units for each pixel of the shown plot.
pub(super) const UNITS: i32 = 2;
/// Width and height of a plot, units.
pub(super) const SIZE: (i32, i32) = (1800, 1360);
/// Around headings and legend.
pub(super) const MARGIN: i32 = 32;
/// Size of ordinary text; it must still be read on a phone, where the plot shrinks to a fifth.
pub(super) const TEXT: i32 = 50;
/// Size of a title's letters, and how wide a bold letter of a sans-serif font is for its size.
const TITLE: i32 = 60;
const BOLD_LETTER: f64 = 0.6;
/// Edges of the plotted area: the left one, how far the right and the lower ones lie from those of the sheet, and the upper
/// one below a legend of two lines.
const LEFT: i32 = 184;
const RIGHT_GAP: i32 = 72;
const BOTTOM_GAP: i32 = 184;
/// Of [`BOTTOM_GAP`], what is left below the axis's title.
const FOOT: i32 = 28;
const TOP: i32 = 352;
/// Between two areas, for the heading of the lower one.
const AREA_GAP: i32 = 128;
/// The upper one's share of both.
const UPPER: f64 = 0.58;
/// The legend's first line, the distance of its lines, and how many find room above [`TOP`].
const LEGEND: i32 = 204;
const LEGEND_LINE: i32 = 68;
const LEGEND_LINES: i32 = 2;
/// Length of a legend's sign, and where its text starts.
const SIGN: i32 = 112;
const SIGN_TEXT: i32 = 132;
/// A line of a note.
const NOTE_LINE: i32 = 60;

type Words = Text<'static, (i32, i32), String>;
pub(super) type Root<'a> = DrawingArea<SVGBackend<'a>, Shift>;
pub(super) type Fault = DrawingAreaErrorKind<std::io::Error>;
type Plotted<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Scale, Scale>>;

/// A linear axis with its labelled ticks.
#[derive(Debug, PartialEq)]
pub(super) struct Axis {
    pub low: f64,
    pub high: f64,
    ticks: Vec<(f64, String)>,
}

impl Axis {
    /// Holds all `values` with some air, ending on ticks.
    pub fn around(language: Language, values: impl IntoIterator<Item = f64>) -> Self {
        let (least, most) = values
            .into_iter()
            .filter(|value| value.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), v| {
                (least.min(v), most.max(v))
            });
        let (least, most) = if least <= most { (least, most) } else { (0.0, 1.0) };
        // A beam that stands still must look still, not like noise blown up to the height of the plot.
        let half = 0.54 * (most - least).max(0.3);
        let middle = f64::midpoint(least, most);
        Self::between(language, middle - half, middle + half, 6)
    }

    /// From 0 to at least `high`, ending on a tick; with at most so many ticks, but for the last.
    pub fn from_zero(language: Language, high: f64, ticks: usize) -> Self {
        Self::between(language, 0.0, if high > 0.0 { high } else { 1.0 }, ticks)
    }

    fn between(language: Language, low: f64, high: f64, ticks: usize) -> Self {
        let step = |ticks: usize| match RangedCoordf64::from(low..high).key_points(ticks)[..] {
            [first, second, ..] => second - first,
            _ => high - low,
        };
        // The ends on ticks must not make it one too many: that takes the room of a note.
        let fits = |step: &f64| (high - low) / step <= ticks as f64;
        let step = Some(step(ticks)).filter(fits).unwrap_or_else(|| step(ticks - 1));
        // Not a tick more for the last digit of a quotient.
        let (first, last) = ((low / step + 1e-6).floor() as i64, (high / step - 1e-6).ceil() as i64);
        let places = (-step.log10() - 1e-6).ceil().clamp(0.0, 6.0) as usize;
        let ticks: Vec<(f64, String)> = (first..=last)
            .map(|n| n as f64 * step)
            .map(|value| (value, fixed(language, value, places)))
            .collect();
        Self {
            low: first as f64 * step,
            high: last as f64 * step,
            ticks,
        }
    }

    /// Room below 0, so that bars there do not run into the other axis's figures.
    pub fn with_air(self) -> Self {
        Self {
            low: self.low - 0.04 * self.high,
            ..self
        }
    }

    /// A place for each name, cut to what fits.
    pub fn named<'a>(names: impl ExactSizeIterator<Item = &'a str>) -> Self {
        let count = names.len().max(1);
        let letters = (SIZE.0 - LEFT - RIGHT_GAP) as usize / count / (TEXT * 3 / 5) as usize;
        let label = |(n, name): (usize, &str)| (n as f64, shorten(&plain(name), letters.max(3)));
        Self {
            low: -0.5,
            high: count as f64 - 0.5,
            ticks: names.enumerate().map(label).collect(),
        }
    }

    /// For `plotters`, from the first pixel to the last or the other way round.
    fn scale(&self, turned: bool) -> Scale {
        let (low, high) = (self.low, self.high);
        Scale {
            ends: if turned { high..low } else { low..high },
            ticks: self.ticks.clone(),
        }
    }
}

/// An axis as a coordinate of `plotters`, whose own cannot have both given ticks and their labels.
struct Scale {
    ends: Range<f64>,
    ticks: Vec<(f64, String)>,
}

impl Ranged for Scale {
    type FormatOption = NoDefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (first, last): (i32, i32)) -> i32 {
        // A place beyond the axis is at its end.
        let share =
            (value.min(self.ends.start.max(self.ends.end)) - self.ends.start) / (self.ends.end - self.ends.start);
        first + (share * f64::from(last - first)).round() as i32
    }

    fn key_points<H: KeyPointHint>(&self, hint: H) -> Vec<f64> {
        let ticks = self.ticks.iter().map(|(value, _)| *value);
        ticks.filter(|_| !hint.weight().allow_light_points()).collect()
    }

    fn range(&self) -> Range<f64> {
        self.ends.clone()
    }
}

impl ValueFormatter<f64> for Scale {
    fn format_ext(&self, value: &f64) -> String {
        let tick = self.ticks.iter().find(|(tick, _)| tick == value);
        tick.map_or_else(String::new, |(_, label)| label.clone())
    }
}

/// Points and a line that look alike. The legend has each label once.
pub(super) struct Series {
    pub look: Look,
    pub label: String,
    pub line: Vec<(f64, f64)>,
    pub points: Vec<Point>,
}

/// A hatched rectangle between two corners, in one of two ways: dense in a whole outline, or thin in a dashed one.
pub(super) struct Zone {
    pub corners: [(f64, f64); 2],
    pub dense: bool,
    pub label: String,
}

impl Zone {
    /// A box about the middle of a named place.
    pub fn at(place: usize, (low, high): (f64, f64), dense: bool, label: &str) -> Self {
        let middle = place as f64;
        Self {
            corners: [(middle - 0.42, low), (middle + 0.42, high)],
            dense,
            label: label.to_owned(),
        }
    }
}

/// Lines of text beside a place at the top or the bottom of an area; the right end of the axis is at infinity.
pub(super) struct Note {
    pub x: f64,
    /// To the right of the place.
    pub right: bool,
    pub top: bool,
    pub lines: Vec<String>,
}

/// What is plotted over the common horizontal axis.
pub(super) struct Area {
    pub title: &'static str,
    pub y: Axis,
    /// Values grow downward.
    pub down: bool,
    pub zones: Vec<Zone>,
    pub series: Vec<Series>,
    pub notes: Vec<Note>,
}

impl Area {
    /// Values grow downward, as the beam does, on an axis that holds them all.
    pub fn of_beam(language: Language, title: &'static str, series: Vec<Series>, zones: Vec<Zone>) -> Self {
        let mut area = Self {
            title,
            y: Axis::around(language, []),
            down: true,
            zones,
            series,
            notes: Vec::new(),
        };
        area.y = Axis::around(language, area.ends());
        area
    }

    /// All that the vertical axis must hold.
    pub fn ends(&self) -> Vec<f64> {
        let bar = |p: &Point| [p.at.1 - p.u95.1, p.at.1 + p.u95.1];
        let series = self.series.iter();
        let series = series.flat_map(|s| s.points.iter().flat_map(bar).chain(s.line.iter().map(|(_, y)| *y)));
        let zones = self.zones.iter().flat_map(|zone| zone.corners.map(|(_, y)| y));
        series.chain(zones).collect()
    }

    /// A line from bottom to top at a value of x.
    pub fn upright(&mut self, x: f64, label: &str) {
        self.series.push(Series {
            look: Look::line(Dash::LongDot, ink::TEXT),
            label: label.to_owned(),
            line: vec![(x, self.y.low), (x, self.y.high)],
            points: Vec::new(),
        });
    }
}

/// One area, or two above each other.
pub(super) struct Chart {
    pub title: String,
    pub x_title: &'static str,
    pub x: Axis,
    pub area: Area,
    pub below: Option<Area>,
}

/// What a legend explains.
enum Key {
    Series(Look),
    Zone(bool),
}

impl Chart {
    /// The plot as a whole SVG document.
    pub fn draw(&self) -> Result<String, Error> {
        sheet(&self.title, self.area.title, |root| {
            let more = (draw_legend(root, &self.legend())? - LEGEND_LINES).max(0);
            let top = TOP + more * LEGEND_LINE;
            let body = root.margin(top, FOOT, 0, RIGHT_GAP);
            let Some(below) = &self.below else {
                return self.draw_area(&body, &self.area, true, 0);
            };
            let both = SIZE.1 - BOTTOM_GAP - AREA_GAP - top;
            let (upper, lower) = body.split_vertically((UPPER * f64::from(both)).round() as i32);
            self.draw_area(&upper, &self.area, false, 0)?;
            self.draw_area(&lower, below, true, AREA_GAP)
        })
    }

    /// Each label once, series first.
    fn legend(&self) -> Vec<(Key, &str)> {
        let areas = || [Some(&self.area), self.below.as_ref()].into_iter().flatten();
        let series = areas().flat_map(|area| area.series.iter().map(|s| (Key::Series(s.look), s.label.as_str())));
        let zones = areas().flat_map(|area| area.zones.iter().map(|z| (Key::Zone(z.dense), z.label.as_str())));
        let mut entries: Vec<(Key, &str)> = Vec::new();
        for (key, label) in series.chain(zones) {
            if entries.iter().all(|(_, known)| *known != label) {
                entries.push((key, label));
            }
        }
        entries
    }

    fn draw_area(&self, on: &Root<'_>, area: &Area, last: bool, heading: i32) -> Result<(), Fault> {
        let mut builder = ChartBuilder::on(on);
        builder.margin_top(heading).y_label_area_size(LEFT);
        if last {
            builder.x_label_area_size(BOTTOM_GAP - FOOT);
        }
        let mut plot = builder.build_cartesian_2d(self.x.scale(false), area.y.scale(area.down))?;
        if heading > 0 {
            on.draw(&words(area.title, (MARGIN, heading - 52), &faint(), HPos::Left))?;
        }
        self.mesh(&mut plot, area, last)?;
        for zone in &area.zones {
            plot.draw_series([self::zone(zone.corners, zone.dense)])?;
        }
        for Series { look, line, points, .. } in &area.series {
            plot.draw_series([self::line(line.clone(), look.dash, look.style())])?;
            for point in points {
                plot.draw_series(bars(point, look.style()))?;
                plot.draw_series([marker(point.at, *look)])?;
            }
        }
        area.notes.iter().try_for_each(|note| draw_note(on, &plot, area, note))
    }

    fn mesh(&self, plot: &mut Plotted<'_, '_>, area: &Area, last: bool) -> Result<(), Fault> {
        let mut mesh = plot.configure_mesh();
        mesh.disable_x_mesh()
            .axis_style(ink::FAINT.stroke_width(4))
            .bold_line_style(ink::GRID.stroke_width(4))
            .label_style(letters(TEXT + 2, ink::TEXT, FontStyle::Normal))
            .axis_desc_style(faint())
            .set_all_tick_mark_size(12);
        if last {
            mesh.x_desc(self.x_title);
        }
        mesh.draw()?;
        if area.y.low <= 0.0 && area.y.high >= 0.0 {
            let zero = PathElement::new(vec![(self.x.low, 0.0), (self.x.high, 0.0)], ink::FAINT.stroke_width(4));
            plot.draw_series([zero])?;
        }
        Ok(())
    }
}

/// On a white ground that keeps it apart from what lies below, within the sheet.
fn draw_note(on: &Root<'_>, plot: &Plotted<'_, '_>, area: &Area, note: &Note) -> Result<(), Fault> {
    let (_, above) = on.get_base_pixel();
    let (x, _) = plot.backend_coord(&(note.x, area.y.low));
    let (_, Range { start, end }) = plot.plotting_area().get_pixel_range();
    let wide = note.lines.iter().map(|line| text_width(line)).max().unwrap_or(0);
    let high = NOTE_LINE * note.lines.len() as i32;
    let left = if note.right { x + 24 } else { x - 24 - wide };
    let left = left.min(SIZE.0 - 16 - wide).max(LEFT + 12);
    let top = if note.top { start + 16 } else { end - 16 - high } - above;
    let ground = Rectangle::new(
        [(left - 8, top), (left + wide + 8, top + high)],
        WHITE.mix(0.85).filled(),
    );
    on.draw(&ground)?;
    let said = letters(TEXT - 2, ink::TEXT, FontStyle::Normal);
    for (n, line) in note.lines.iter().enumerate() {
        let middle = top + NOTE_LINE * n as i32 + NOTE_LINE / 2;
        on.draw(&words(line, (left, middle), &said, HPos::Left))?;
    }
    Ok(())
}

/// An SVG document with a heading: what is plotted, and below it a quantity and its unit.
pub(super) fn sheet(
    title: &str,
    under: &str,
    body: impl FnOnce(&Root<'_>) -> Result<(), Fault>,
) -> Result<String, Error> {
    let mut svg = String::new();
    let draw = || {
        let root = SVGBackend::with_string(&mut svg, (SIZE.0 as u32, SIZE.1 as u32)).into_drawing_area();
        root.fill(&WHITE)?;
        // A sentence that is too long for the sheet is set smaller.
        let letters_wide = title.chars().count().max(1) as f64 * BOLD_LETTER;
        let size = TITLE.min((f64::from(SIZE.0 - 2 * MARGIN) / letters_wide) as i32);
        let bold = letters(size, ink::TEXT, FontStyle::Bold);
        root.draw(&words(title, (MARGIN, 48), &bold, HPos::Left))?;
        root.draw(&words(under, (MARGIN, 128), &faint(), HPos::Left))?;
        body(&root)?;
        root.present()
    };
    draw().map_err(|error| Error::make("a plot", error))?;
    Ok(svg)
}

/// Draws the entries in rows; gives the number of rows.
fn draw_legend(root: &Root<'_>, entries: &[(Key, &str)]) -> Result<i32, Fault> {
    let said = letters(TEXT - 2, ink::TEXT, FontStyle::Normal);
    let (mut x, mut lines) = (MARGIN, 1);
    for (key, text) in entries {
        let wide = SIGN_TEXT + text_width(text);
        if x + wide > SIZE.0 - MARGIN && x > MARGIN {
            (x, lines) = (MARGIN, lines + 1);
        }
        let y = LEGEND + (lines - 1) * LEGEND_LINE;
        let sign: Vec<Element<(i32, i32)>> = match key {
            Key::Series(look) => vec![
                line(vec![(x, y), (x + SIGN, y)], look.dash, look.style()),
                marker((x + SIGN / 2, y), *look),
            ],
            Key::Zone(dense) => vec![zone([(x, y - 24), (x + SIGN, y + 24)], *dense)],
        };
        sign.iter().try_for_each(|element| root.draw(element))?;
        root.draw(&words(text, (x + SIGN_TEXT, y), &said, HPos::Left))?;
        x += wide + 36;
    }
    Ok(lines)
}

/// Letters of a size; `plotters` writes a font 1.24 times smaller than asked for.
pub(super) fn letters(size: i32, colour: RGBColor, weight: FontStyle) -> TextStyle<'static> {
    FontDesc::new(FontFamily::SansSerif, f64::from(size) * 1.24, weight).color(&colour)
}

/// Of titles of axes.
fn faint() -> TextStyle<'static> {
    letters(TEXT - 2, ink::FAINT, FontStyle::Normal)
}

/// A line of text, with its middle at the height of a place.
pub(super) fn words(text: &str, at: (i32, i32), letters: &TextStyle<'static>, anchor: HPos) -> Words {
    let style = letters.pos(Pos::new(anchor, VPos::Center));
    Text::new(text.to_owned(), at, style)
}

/// Widths of letters are not known here; most sans-serif text takes about half its size for each.
fn text_width(text: &str) -> i32 {
    text.chars().count() as i32 * (TEXT - 2) / 2
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends(axis: &Axis) -> (f64, f64, Vec<&str>) {
        (
            axis.low,
            axis.high,
            axis.ticks.iter().map(|(_, label)| label.as_str()).collect(),
        )
    }

    #[test]
    fn ticks_are_round_and_axes_hold_their_values() {
        let axis = Axis::around(Language::English, [1.0, 2.5]);
        assert!(
            axis.low < 1.0 && axis.high > 2.5 && axis.high - axis.low <= 2.5 + 1e-9,
            "{axis:?}"
        );
        let still = Axis::around(Language::English, [1.2, 1.2]);
        assert!(still.high - still.low >= 0.3, "{still:?}");
        for (high, ticks, labels) in [
            (450.0, 7, &["0", "100", "200", "300", "400", "500"][..]),
            (400.0, 7, &["0", "100", "200", "300", "400"]),
            (0.13, 4, &["0.00", "0.05", "0.10", "0.15"]),
            (0.7, 4, &["0.0", "0.2", "0.4", "0.6", "0.8"]),
            (75.0, 3, &["0", "50", "100"]),
        ] {
            let axis = Axis::from_zero(Language::English, high, ticks);
            let (low, last, got) = ends(&axis);
            assert!(low == 0.0 && last >= high && got == labels, "{high}: {axis:?}");
        }
        let around = |language: Language, values: &[f64]| Axis::around(language, values.iter().copied());
        assert_eq!(ends(&around(Language::English, &[0.1, -0.4])).2.first(), Some(&"−0.5"));
        assert_eq!(ends(&around(Language::German, &[0.1, -0.4])).2.first(), Some(&"−0,5"));
        assert_eq!(around(Language::English, &[]), around(Language::English, &[0.0, 1.0]));
        assert_eq!(
            ends(&Axis::named(["low", "high"].into_iter())),
            (-0.5, 1.5, vec!["low", "high"])
        );
    }
}
