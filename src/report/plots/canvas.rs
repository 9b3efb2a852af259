//! A sheet to plot on: scales, axes, markers with error bars, dashed lines and hatched zones, drawn by `plotters`.
//!
//! The library's own axes cannot point down or carry names in place of numbers, so only its drawing area and its
//! elements are used.

use super::super::Error;
use super::tick_text;
use plotters::coord::Shift;
use plotters::element::{Drawable, PointCollection};
use plotters::prelude::{
    Circle, DrawingArea, IntoDrawingArea, IntoFont, PathElement, Polygon, RGBColor, Rectangle, SVGBackend, ShapeStyle,
    Text, WHITE,
};
use plotters::style::Color;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Width of a plot, in the units of its SVG.
pub(super) const WIDTH_PX: u32 = 900;
/// Height of a plot.
pub(super) const HEIGHT_PX: u32 = 680;
/// Edges of the plotted area.
const LEFT_PX: i32 = 92;
const RIGHT_PX: i32 = 864;
const TOP_PX: i32 = 176;
/// The legend's first line and the distance of its lines.
const LEGEND_PX: i32 = 102;
const LEGEND_LINE_PX: i32 = 34;
/// Most of the legend's lines above [`TOP_PX`].
const LEGEND_LINES: i32 = 2;
const BOTTOM_PX: i32 = 588;
/// Size of ordinary text; it must still be read on a phone, where the plot shrinks to a third.
const TEXT_PX: i32 = 26;
/// `plotters` writes a font 1.24 times smaller than asked for.
const FONT_FACTOR: f64 = 1.24;
/// Half of an error bar's cap; wider than the marker, so that a bar shorter than the marker is seen, too.
const CAP_PX: i32 = 16;
/// The same where there are bars in both directions, whose caps would close to a box.
const CROSS_CAP_PX: i32 = 11;
/// Half of a marker.
const MARKER_PX: i32 = 8;

/// Colours that differ in lightness, too, so that they stay apart in grey print.
pub(super) mod ink {
    use plotters::style::RGBColor;

    pub const TEXT: RGBColor = RGBColor(29, 33, 38);
    pub const FAINT: RGBColor = RGBColor(90, 96, 104);
    pub const GRID: RGBColor = RGBColor(222, 225, 228);
    pub const ZONE: RGBColor = RGBColor(132, 138, 146);
    pub const BEFORE: RGBColor = RGBColor(176, 84, 16);
    pub const AFTER: RGBColor = RGBColor(11, 72, 99);
    pub const OTHER: RGBColor = RGBColor(110, 62, 128);
}

/// The shape of a marker.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marker {
    Circle,
    OpenCircle,
    Square,
    OpenSquare,
    Triangle,
    OpenTriangle,
    Diamond,
    OpenDiamond,
}

/// Whole or dashed lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Dash {
    None,
    Long,
    Dot,
    LongDot,
}

impl Dash {
    /// Lengths of stroke and gap by turns, px; nothing for a whole line.
    fn pattern_px(self) -> &'static [f64] {
        match self {
            Self::None => &[],
            Self::Long => &[13.0, 8.0],
            Self::Dot => &[3.0, 6.0],
            Self::LongDot => &[17.0, 6.0, 3.0, 6.0],
        }
    }
}

/// What a legend explains.
pub(super) enum Key {
    Series(Marker, Dash, RGBColor),
    Line(Dash, RGBColor),
    /// An allowed zone; true for the setting's.
    Zone(bool),
}

/// How a bar is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bar {
    Whole,
    Hatched,
    Outlined,
}

/// A linear scale with its ticks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    pub low: f64,
    pub high: f64,
    /// Distance of the ticks.
    pub step: f64,
}

impl Scale {
    /// A scale without ticks.
    pub fn plain(low: f64, high: f64) -> Self {
        Self {
            low,
            high,
            step: high - low,
        }
    }

    /// From `low` to at least `high`, ending on a tick.
    pub fn nice(low: f64, high: f64) -> Self {
        Self::nice_by(low, high, 6.0)
    }

    /// As [`Scale::nice`], with about so many ticks.
    pub fn nice_by(low: f64, high: f64, ticks: f64) -> Self {
        let step = nice_step((high - low) / ticks);
        Self {
            low,
            high: low + step * ((high - low) / step - 1e-9).ceil(),
            step,
        }
    }

    /// Holds all `values` with some air, ending on ticks.
    pub fn around(values: &[f64]) -> Self {
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (least, most) = if least <= most { (least, most) } else { (0.0, 1.0) };
        // A beam that stands still must look still, not like noise blown up to the height of the plot.
        let span = (most - least).max(0.3);
        let middle = f64::midpoint(least, most);
        let (low, high) = (middle - 0.54 * span, middle + 0.54 * span);
        let step = nice_step((high - low) / 6.0);
        Self {
            low: (low / step).floor() * step,
            high: (high / step).ceil() * step,
            step,
        }
    }

    fn ticks(&self) -> impl Iterator<Item = f64> {
        let step = self.step;
        let low = step * (self.low / step - 1e-9).ceil();
        let count = ((self.high - low) / step + 1e-9).floor().clamp(0.0, 100.0) as u32;
        (0..=count).map(move |n| low + f64::from(n) * step)
    }

    /// 0 at the low end, 1 at the high one.
    fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// The least of 1, 2, 5, 10 … that is not below `least`.
fn nice_step(least: f64) -> f64 {
    let decade = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * decade)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * decade)
}

/// A sheet with both scales. Values of y grow downward.
pub(super) struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
    x: Scale,
    y: Scale,
    /// Edges of the plotted area.
    top_px: i32,
    bottom_px: i32,
    /// Values of y grow upward.
    up: bool,
}

impl<'a> Canvas<'a> {
    pub fn new(svg: &'a mut String, x: Scale, y: Scale) -> Result<Self, Error> {
        let area = SVGBackend::with_string(svg, (WIDTH_PX, HEIGHT_PX)).into_drawing_area();
        area.fill(&WHITE).map_err(fault)?;
        Ok(Self {
            area,
            x,
            y,
            top_px: TOP_PX,
            bottom_px: BOTTOM_PX,
            up: false,
        })
    }

    /// Makes room for a legend of more than two lines.
    pub fn below(mut self, legend: &[(Key, String)]) -> Self {
        let lines = legend_places(legend).last().map_or(0, |(_, line)| line + 1);
        self.top_px = TOP_PX + (lines - LEGEND_LINES).max(0) * LEGEND_LINE_PX;
        self
    }

    /// Two areas, one over the other, on the same sheet and over the same x: this one's, and one for `y`, which grows
    /// upward. The upper one takes `share` of the height.
    pub fn split(mut self, share: f64, y: Scale) -> (Self, Self) {
        /// Between the two, for the lower one's heading.
        const GAP_PX: i32 = 64;
        let whole = self.bottom_px;
        self.bottom_px = self.top_px + (share * f64::from(whole - GAP_PX - self.top_px)).round() as i32;
        let lower = Self {
            area: self.area.clone(),
            x: self.x,
            y,
            top_px: self.bottom_px + GAP_PX,
            bottom_px: whole,
            up: true,
        };
        (self, lower)
    }

    pub fn finish(&self) -> Result<(), Error> {
        self.area.present().map_err(fault)
    }

    pub fn width_of_plot(&self) -> i32 {
        RIGHT_PX - LEFT_PX
    }

    fn draw<E>(&self, element: &E) -> Result<(), Error>
    where
        for<'b> &'b E: PointCollection<'b, (i32, i32)>,
        E: Drawable<SVGBackend<'a>>,
    {
        self.area.draw(element).map_err(fault)
    }

    fn px(&self, (x, y): (f64, f64)) -> (i32, i32) {
        let along = |share: f64, from: i32, to: i32| (f64::from(from) + share * f64::from(to - from)).round() as i32;
        let (low, high) = if self.up {
            (self.bottom_px, self.top_px)
        } else {
            (self.top_px, self.bottom_px)
        };
        (
            along(self.x.share(x), LEFT_PX, RIGHT_PX),
            along(self.y.share(y), low, high),
        )
    }

    fn text(
        &self,
        text: &str,
        at: (i32, i32),
        size_px: i32,
        colour: RGBColor,
        bold: bool,
        anchor: HPos,
    ) -> Result<(), Error> {
        let font = ("sans-serif", f64::from(size_px) * FONT_FACTOR).into_font();
        let font = if bold {
            font.style(plotters::style::FontStyle::Bold)
        } else {
            font
        };
        let style = font.color(&colour).pos(Pos::new(anchor, VPos::Center));
        self.draw(&Text::new(text.to_owned(), at, style))
    }

    /// What is plotted, and below it the vertical axis's quantity and unit.
    pub fn heading(&self, title: &str, axis: &str) -> Result<(), Error> {
        self.text(title, (16, 24), 30, ink::TEXT, true, HPos::Left)?;
        self.text(axis, (16, 64), TEXT_PX - 2, ink::FAINT, false, HPos::Left)
    }

    /// The quantity and unit of an area's vertical axis, above it.
    pub fn y_title(&self, text: &str) -> Result<(), Error> {
        self.text(text, (16, self.top_px - 26), TEXT_PX - 2, ink::FAINT, false, HPos::Left)
    }

    /// Explains markers, lines and zones, in several lines if need be.
    pub fn legend(&self, entries: &[(Key, String)]) -> Result<(), Error> {
        for ((key, text), (x, line)) in entries.iter().zip(legend_places(entries)) {
            let y = LEGEND_PX + line * LEGEND_LINE_PX;
            match key {
                Key::Series(_, dash, colour) | Key::Line(dash, colour) => {
                    self.stroke(&[(x, y), (x + 56, y)], *dash, ShapeStyle::from(colour).stroke_width(3))?;
                    if let Key::Series(marker, ..) = key {
                        self.marker((x + 28, y), *marker, *colour)?;
                    }
                }
                Key::Zone(setting) => self.hatched((x, y - 12), (x + 56, y + 12), *setting)?,
            }
            self.text(text, (x + 66, y), TEXT_PX - 2, ink::TEXT, false, HPos::Left)?;
        }
        Ok(())
    }

    /// Lines of text beside a place, on a white ground that keeps them apart from what lies below: to the right of it
    /// where `right`, downward from it where `down`; kept within the sheet.
    pub fn note(&self, at: (f64, f64), lines: &[String], right: bool, down: bool) -> Result<(), Error> {
        const LINE_PX: i32 = 30;
        let (x, y) = self.px(at);
        let wide = lines.iter().map(|line| text_width_px(line)).max().unwrap_or(0);
        let high = LINE_PX * lines.len() as i32;
        let left = if right { x + 12 } else { x - 12 - wide };
        let left = left.min(WIDTH_PX as i32 - 8 - wide).max(LEFT_PX + 6);
        let top = if down { y + 8 } else { y - 8 - high };
        let ground = Rectangle::new(
            [(left - 4, top), (left + wide + 4, top + high)],
            WHITE.mix(0.85).filled(),
        );
        self.draw(&ground)?;
        for (n, line) in lines.iter().enumerate() {
            let middle = top + LINE_PX * n as i32 + LINE_PX / 2;
            self.text(line, (left, middle), TEXT_PX - 2, ink::TEXT, false, HPos::Left)?;
        }
        Ok(())
    }

    /// The corners of the plotted area, in the values of its scales: left or right, top or bottom.
    pub fn corner(&self, right: bool, top: bool) -> (f64, f64) {
        (
            if right { self.x.high } else { self.x.low },
            if top == self.up { self.y.high } else { self.y.low },
        )
    }

    /// A line from top to bottom.
    pub fn upright(&self, x: f64, dash: Dash) -> Result<(), Error> {
        self.line(&[(x, self.y.low), (x, self.y.high)], dash, ink::TEXT)
    }

    pub fn horizontal_grid(&self) -> Result<(), Error> {
        for value in self.y.ticks() {
            let (_, y) = self.px((self.x.low, value));
            let zero = value.abs() < self.y.step * 1e-6;
            let style = ShapeStyle::from(if zero { &ink::FAINT } else { &ink::GRID }).stroke_width(2);
            self.draw(&PathElement::new(vec![(LEFT_PX, y), (RIGHT_PX, y)], style))?;
            self.text(
                &tick_text(value, self.y.step),
                (LEFT_PX - 12, y),
                TEXT_PX,
                ink::TEXT,
                false,
                HPos::Right,
            )?;
        }
        Ok(())
    }

    pub fn vertical_ticks(&self) -> Result<(), Error> {
        for value in self.x.ticks() {
            let (x, _) = self.px((value, self.y.low));
            let style = ShapeStyle::from(&ink::FAINT).stroke_width(2);
            let bottom = self.bottom_px;
            self.draw(&PathElement::new(vec![(x, bottom), (x, bottom + 8)], style))?;
            self.x_label(value, &tick_text(value, self.x.step))?;
        }
        Ok(())
    }

    pub fn x_label(&self, value: f64, text: &str) -> Result<(), Error> {
        let (x, _) = self.px((value, self.y.low));
        self.text(text, (x, self.bottom_px + 28), TEXT_PX, ink::TEXT, false, HPos::Center)
    }

    pub fn x_title(&self, text: &str) -> Result<(), Error> {
        let middle = (LEFT_PX + RIGHT_PX) / 2;
        self.text(
            text,
            (middle, self.bottom_px + 66),
            TEXT_PX - 2,
            ink::FAINT,
            false,
            HPos::Center,
        )
    }

    /// An allowed zone from one corner to the other.
    pub fn zone(&self, from: (f64, f64), to: (f64, f64), setting: bool) -> Result<(), Error> {
        let ((xa, ya), (xb, yb)) = (self.px(from), self.px(to));
        self.hatched((xa.min(xb), ya.min(yb)), (xa.max(xb), ya.max(yb)), setting)
    }

    fn hatched(&self, (x0, y0): (i32, i32), (x1, y1): (i32, i32), setting: bool) -> Result<(), Error> {
        let thin = ShapeStyle::from(&ink::ZONE.mix(0.55)).stroke_width(1);
        self.hatch((x0, y0), (x1, y1), if setting { 12 } else { 30 }, thin)?;
        let outline = ShapeStyle::from(&ink::ZONE).stroke_width(2);
        let corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)];
        self.stroke(&corners, if setting { Dash::None } else { Dash::Long }, outline)
    }

    /// Slanting lines between two corners, `step` px apart.
    fn hatch(&self, (x0, y0): (i32, i32), (x1, y1): (i32, i32), step: i32, thin: ShapeStyle) -> Result<(), Error> {
        let (wide, high) = (x1 - x0, y1 - y0);
        for along in (step / 2..wide + high).step_by(step as usize) {
            // From the bottom edge (or the right one, beyond the corner) up to the left edge (or the top one).
            let start = (x0 + along.min(wide), y1 - (along - wide).max(0));
            let end = (x0 + (along - high).max(0), y1 - along.min(high));
            self.draw(&PathElement::new(vec![start, end], thin))?;
        }
        Ok(())
    }

    /// Row `n` of `rows`: a name and its figure over a bar from the left edge, long as `value` on the horizontal scale.
    pub fn bar(&self, (n, rows): (usize, usize), name: &str, figure: &str, value: f64, kind: Bar) -> Result<(), Error> {
        const MARGIN_PX: i32 = 16;
        const FIRST_PX: i32 = 96;
        const WORDS_PX: i32 = 30;
        let (left, right) = (MARGIN_PX, WIDTH_PX as i32 - MARGIN_PX);
        let high = (HEIGHT_PX as i32 - MARGIN_PX - FIRST_PX) / rows.max(1) as i32;
        let top = FIRST_PX + high * n as i32;
        let words = TEXT_PX - 1;
        let bold = kind == Bar::Outlined;
        self.text(name, (left, top + WORDS_PX / 2), words, ink::TEXT, bold, HPos::Left)?;
        self.text(figure, (right, top + WORDS_PX / 2), words, ink::TEXT, bold, HPos::Right)?;
        let long = (self.x.share(value).clamp(0.0, 1.0) * f64::from(right - left)).round() as i32;
        let (from, to) = ((left, top + WORDS_PX), (left + long.max(2), top + high - 8));
        match kind {
            Bar::Whole => self.draw(&Rectangle::new([from, to], ink::AFTER.filled()))?,
            Bar::Hatched => self.hatch(from, to, 9, ShapeStyle::from(&ink::BEFORE).stroke_width(2))?,
            Bar::Outlined => {}
        }
        let colour = match kind {
            Bar::Whole => ink::AFTER,
            Bar::Hatched => ink::BEFORE,
            Bar::Outlined => ink::TEXT,
        };
        let corners = [from, (to.0, from.1), to, (from.0, to.1), from];
        self.stroke(&corners, Dash::None, ShapeStyle::from(&colour).stroke_width(2))
    }

    /// A line through `points`; nothing for fewer than two.
    pub fn line(&self, points: &[(f64, f64)], dash: Dash, colour: RGBColor) -> Result<(), Error> {
        let points: Vec<(i32, i32)> = points.iter().map(|p| self.px(*p)).collect();
        self.stroke(&points, dash, ShapeStyle::from(&colour).stroke_width(3))
    }

    fn stroke(&self, points: &[(i32, i32)], dash: Dash, style: ShapeStyle) -> Result<(), Error> {
        if points.len() < 2 {
            return Ok(());
        }
        if dash == Dash::None {
            return self.draw(&PathElement::new(points.to_vec(), style));
        }
        for piece in dashes(points, dash.pattern_px()) {
            self.draw(&PathElement::new(piece, style))?;
        }
        Ok(())
    }

    /// A marker with its bar, `u95` to either side of the value; no bar where `u95` is 0.
    pub fn point(&self, at: (f64, f64), u95: f64, marker: Marker, colour: RGBColor) -> Result<(), Error> {
        self.cross(at, (0.0, u95), marker, colour)
    }

    /// As [`Canvas::point`], with bars in both directions.
    pub fn cross(
        &self,
        at: (f64, f64),
        (x_u95, y_u95): (f64, f64),
        marker: Marker,
        colour: RGBColor,
    ) -> Result<(), Error> {
        let (x, y) = self.px(at);
        let style = ShapeStyle::from(&colour).stroke_width(3);
        let cap = if x_u95 > 0.0 { CROSS_CAP_PX } else { CAP_PX };
        let mut bars: Vec<[(i32, i32); 2]> = Vec::new();
        if y_u95 > 0.0 {
            let (_, top) = self.px((at.0, at.1 - y_u95));
            let (_, bottom) = self.px((at.0, at.1 + y_u95));
            bars.push([(x, top), (x, bottom)]);
            bars.extend([top, bottom].map(|y| [(x - cap, y), (x + cap, y)]));
        }
        if x_u95 > 0.0 {
            let (left, _) = self.px((at.0 - x_u95, at.1));
            let (right, _) = self.px((at.0 + x_u95, at.1));
            bars.push([(left, y), (right, y)]);
            bars.extend([left, right].map(|x| [(x, y - cap), (x, y + cap)]));
        }
        for bar in bars {
            self.draw(&PathElement::new(bar.to_vec(), style))?;
        }
        self.marker((x, y), marker, colour)
    }

    fn marker(&self, (x, y): (i32, i32), marker: Marker, colour: RGBColor) -> Result<(), Error> {
        let r = MARKER_PX;
        let corners = match marker {
            Marker::Circle | Marker::OpenCircle => {
                self.draw(&Circle::new((x, y), r, colour.filled()))?;
                if marker == Marker::OpenCircle {
                    self.draw(&Circle::new((x, y), r - 3, WHITE.filled()))?;
                }
                return Ok(());
            }
            Marker::Square | Marker::OpenSquare => {
                self.draw(&Rectangle::new([(x - r, y - r), (x + r, y + r)], colour.filled()))?;
                if marker == Marker::OpenSquare {
                    let inner = r - 3;
                    self.draw(&Rectangle::new(
                        [(x - inner, y - inner), (x + inner, y + inner)],
                        WHITE.filled(),
                    ))?;
                }
                return Ok(());
            }
            Marker::Triangle | Marker::OpenTriangle => vec![(0, -11), (11, 8), (-11, 8)],
            Marker::Diamond | Marker::OpenDiamond => vec![(0, -11), (11, 0), (0, 11), (-11, 0)],
        };
        let scaled = |percent: i32| {
            corners
                .iter()
                .map(|(dx, dy)| (x + dx * percent / 100, y + dy * percent / 100))
                .collect::<Vec<_>>()
        };
        self.draw(&Polygon::new(scaled(100), colour.filled()))?;
        if matches!(marker, Marker::OpenTriangle | Marker::OpenDiamond) {
            self.draw(&Polygon::new(scaled(50), WHITE.filled()))?;
        }
        Ok(())
    }
}

/// Widths of letters are not known here; most sans-serif text takes about half its size for each.
fn text_width_px(text: &str) -> i32 {
    text.chars().count() as i32 * (TEXT_PX - 2) / 2
}

/// Where each entry of a legend starts, px, and on which line.
fn legend_places(entries: &[(Key, String)]) -> Vec<(i32, i32)> {
    const MARGIN_PX: i32 = 16;
    let (mut x, mut line) = (MARGIN_PX, 0);
    entries
        .iter()
        .map(|(_, text)| {
            let wide = 66 + text_width_px(text);
            if x + wide > WIDTH_PX as i32 - MARGIN_PX && x > MARGIN_PX {
                (x, line) = (MARGIN_PX, line + 1);
            }
            let place = (x, line);
            x += wide + 18;
            place
        })
        .collect()
}

/// A path cut into strokes by a pattern that runs on around its corners, so that a curve of many short stretches is dashed
/// as evenly as a straight line.
fn dashes(points: &[(i32, i32)], pattern_px: &[f64]) -> Vec<Vec<(i32, i32)>> {
    let mut strokes = Vec::new();
    let (mut part, mut left) = (0, pattern_px[0]);
    let mut stroke = vec![points[0]];
    for pair in points.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let (wide, high) = (f64::from(to.0 - from.0), f64::from(to.1 - from.1));
        let long = wide.hypot(high);
        let mut gone = 0.0;
        while long - gone > left {
            gone += left;
            let at = (
                (f64::from(from.0) + wide * gone / long).round() as i32,
                (f64::from(from.1) + high * gone / long).round() as i32,
            );
            // Even parts are strokes, odd ones gaps.
            if part % 2 == 0 {
                stroke.push(at);
                strokes.push(std::mem::take(&mut stroke));
            } else {
                stroke = vec![at];
            }
            part = (part + 1) % pattern_px.len();
            left = pattern_px[part];
        }
        left -= long - gone;
        if part % 2 == 0 {
            stroke.push(to);
        }
    }
    if stroke.len() > 1 {
        strokes.push(stroke);
    }
    strokes
}

fn fault(error: impl std::fmt::Display) -> Error {
    Error::make("a plot", error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_scales_hold_their_values() {
        for (least, step) in [(0.13, 0.2), (0.2, 0.2), (0.21, 0.5), (0.7, 1.0), (75.0, 100.0)] {
            assert!((nice_step(least) - step).abs() < 1e-12, "{least}");
        }
        let scale = Scale::around(&[1.0, 2.5]);
        assert!(
            scale.low < 1.0 && scale.high > 2.5 && scale.high - scale.low <= 2.5 + 1e-9,
            "{scale:?}"
        );
        let still = Scale::around(&[1.2, 1.2]);
        assert!(still.high - still.low >= 0.3, "{still:?}");
        assert_eq!(
            Scale::nice(0.0, 450.0),
            Scale {
                low: 0.0,
                high: 500.0,
                step: 100.0
            }
        );
        assert_eq!(Scale::nice(0.0, 400.0).high, 400.0);
        assert_eq!(Scale::around(&[]), Scale::around(&[0.0, 1.0]));
    }

    #[test]
    fn dashes_run_on_around_corners() {
        // By hand: strokes of 10 and gaps of 5 along 12 to the right and then down.
        assert_eq!(
            dashes(&[(0, 0), (12, 0), (12, 20)], &[10.0, 5.0]),
            [vec![(0, 0), (10, 0)], vec![(12, 3), (12, 13)], vec![(12, 18), (12, 20)]]
        );
        assert_eq!(
            dashes(&[(0, 0), (6, 0), (6, 6)], &[10.0, 5.0]),
            [vec![(0, 0), (6, 0), (6, 4)]]
        );
    }
}
