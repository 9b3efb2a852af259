//! What a plot is drawn with, as elements of `plotters`: markers, bars, dashed lines and hatched ground.
//!
//! The library's own error bar ends in a circle as wide as its caps, which would hide what tells the series apart.

use super::chart::{Point, ink};
use plotters::element::{DashedPathElement, DottedPathElement, Drawable, PointCollection};
use plotters::prelude::{Circle, DrawingBackend, WHITE};
use plotters::style::{Color, RGBColor, ShapeStyle};
use plotters_backend::{BackendCoord, DrawingErrorKind};

/// Half of a marker.
const HALF: i32 = 16;
/// Half of an error bar's cap: wider than the marker, so that a bar shorter than the marker is seen, too.
const CAP: i32 = 32;
/// The same where there are bars in both directions, whose caps would close to a box.
const CROSS_CAP: i32 = 22;

/// The shape of a marker.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Circle,
    Square,
    Triangle,
    Diamond,
}

impl Shape {
    /// Its corners about the middle, and the share of it that is white where it is open.
    fn corners(self) -> (&'static [(i32, i32)], f64) {
        match self {
            Self::Circle => (&[], 0.62),
            Self::Square => (&[(-HALF, -HALF), (HALF, -HALF), (HALF, HALF), (-HALF, HALF)], 0.62),
            Self::Triangle => (&[(0, -22), (22, 16), (-22, 16)], 0.5),
            Self::Diamond => (&[(0, -22), (22, 0), (0, 22), (-22, 0)], 0.5),
        }
    }
}

/// Whole or dashed lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Dash {
    None,
    Long,
    Dot,
    LongDot,
}

/// How a series is told from the others.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    pub shape: Option<Shape>,
    pub open: bool,
    pub dash: Dash,
    pub colour: RGBColor,
}

impl Look {
    /// Filled markers on a line.
    pub const fn filled(shape: Shape, dash: Dash, colour: RGBColor) -> Self {
        let (shape, open) = (Some(shape), false);
        Self {
            shape,
            open,
            dash,
            colour,
        }
    }

    /// Open markers on a line.
    pub const fn open(shape: Shape, dash: Dash, colour: RGBColor) -> Self {
        let (shape, open) = (Some(shape), true);
        Self {
            shape,
            open,
            dash,
            colour,
        }
    }

    /// A line alone.
    pub const fn line(dash: Dash, colour: RGBColor) -> Self {
        let (shape, open) = (None, false);
        Self {
            shape,
            open,
            dash,
            colour,
        }
    }

    /// Of its lines and bars.
    pub fn style(self) -> ShapeStyle {
        self.colour.stroke_width(6)
    }
}

/// An element at places of the kind `C`: values of a chart, or units of the sheet.
pub(super) struct Element<C> {
    places: Vec<C>,
    kind: Kind,
}

enum Kind {
    Marker(Look),
    Line(Dash, ShapeStyle),
    /// From the first place to the second, with half of its caps' length across and upright.
    Bar((i32, i32), ShapeStyle),
    Hatched(Hatching),
}

/// How the ground between two places is hatched, and outlined.
#[derive(Clone, Copy)]
pub(super) struct Hatching {
    /// From one slanting line to the next, units; 0 for none.
    pub step: i32,
    pub hatch: ShapeStyle,
    pub dashed: bool,
    pub outline: ShapeStyle,
}

/// The marker at a place; nothing for a line alone.
pub(super) fn marker<C>(at: C, look: Look) -> Element<C> {
    let (places, kind) = (vec![at], Kind::Marker(look));
    Element { places, kind }
}

/// A line through `points`; nothing for fewer than two.
pub(super) fn line<C>(places: Vec<C>, dash: Dash, style: ShapeStyle) -> Element<C> {
    let kind = Kind::Line(dash, style);
    Element { places, kind }
}

/// The bars of a value with their caps, upright and across.
pub(super) fn bars(point: &Point, style: ShapeStyle) -> Vec<Element<(f64, f64)>> {
    let ((x, y), (x_u95, y_u95)) = (point.at, point.u95);
    let cap = if x_u95 > 0.0 { CROSS_CAP } else { CAP };
    let both = [
        (y_u95, vec![(x, y - y_u95), (x, y + y_u95)], (cap, 0)),
        (x_u95, vec![(x - x_u95, y), (x + x_u95, y)], (0, cap)),
    ];
    let bar = |(_, places, cap)| Element {
        places,
        kind: Kind::Bar(cap, style),
    };
    both.into_iter().filter(|(u95, ..)| *u95 > 0.0).map(bar).collect()
}

/// Ground between two corners.
pub(super) fn hatched<C>(corners: [C; 2], hatching: Hatching) -> Element<C> {
    let (places, kind) = (corners.into(), Kind::Hatched(hatching));
    Element { places, kind }
}

/// An allowed zone, in one of two ways.
pub(super) fn zone<C>(corners: [C; 2], dense: bool) -> Element<C> {
    let hatching = Hatching {
        step: if dense { 24 } else { 60 },
        hatch: ink::ZONE.mix(0.55).stroke_width(2),
        dashed: !dense,
        outline: ink::ZONE.stroke_width(4),
    };
    hatched(corners, hatching)
}

impl<'a, C> PointCollection<'a, C> for &'a Element<C> {
    type Point = &'a C;
    type IntoIter = &'a [C];

    fn point_iter(self) -> &'a [C] {
        &self.places
    }
}

impl<C, B: DrawingBackend> Drawable<B> for Element<C> {
    fn draw<I: Iterator<Item = BackendCoord>>(
        &self,
        points: I,
        backend: &mut B,
        size: (u32, u32),
    ) -> Result<(), DrawingErrorKind<B::ErrorType>> {
        let points: Vec<BackendCoord> = points.collect();
        match (&self.kind, &points[..]) {
            (Kind::Marker(look), [at]) => draw_marker(*at, *look, backend),
            (Kind::Line(dash, style), [_, _, ..]) => draw_line(points, *dash, *style, backend, size),
            (Kind::Bar((across, up), style), [from, to]) => {
                backend.draw_path([*from, *to], style)?;
                [from, to]
                    .into_iter()
                    .try_for_each(|(x, y)| backend.draw_path([(x - across, y - up), (x + across, y + up)], style))
            }
            (Kind::Hatched(hatching), [from, to]) => draw_hatched(*from, *to, *hatching, backend, size),
            _ => Ok(()),
        }
    }
}

fn draw_marker<B: DrawingBackend>(
    (x, y): BackendCoord,
    look: Look,
    backend: &mut B,
) -> Result<(), DrawingErrorKind<B::ErrorType>> {
    let Some(shape) = look.shape else { return Ok(()) };
    let (corners, white) = shape.corners();
    for (share, colour) in [(1.0, look.colour), (white, WHITE)] {
        let scaled = |length: i32| (f64::from(length) * share).round() as i32;
        if colour == WHITE && !look.open {
            continue;
        }
        if corners.is_empty() {
            backend.draw_circle((x, y), scaled(HALF).unsigned_abs(), &colour.filled(), true)?;
        } else {
            let corners = corners.iter().map(|(dx, dy)| (x + scaled(*dx), y + scaled(*dy)));
            backend.fill_polygon(corners, &colour)?;
        }
    }
    Ok(())
}

fn draw_line<B: DrawingBackend>(
    points: Vec<BackendCoord>,
    dash: Dash,
    style: ShapeStyle,
    backend: &mut B,
    size: (u32, u32),
) -> Result<(), DrawingErrorKind<B::ErrorType>> {
    let places = points.clone().into_iter();
    let mut dashed = |stroke: i32, gap: i32| {
        DashedPathElement::new(points.clone(), stroke, gap, style).draw(places.clone(), backend, size)
    };
    match dash {
        Dash::None => backend.draw_path(points, &style),
        Dash::Long => dashed(26, 16),
        Dash::Dot => dashed(6, 12),
        Dash::LongDot => {
            dashed(34, 30)?;
            let dot = move |at| Circle::new(at, 4, style.filled());
            DottedPathElement::new(points, 49, 64, dot).draw(places, backend, size)
        }
    }
}

fn draw_hatched<B: DrawingBackend>(
    (xa, ya): BackendCoord,
    (xb, yb): BackendCoord,
    hatching: Hatching,
    backend: &mut B,
    size: (u32, u32),
) -> Result<(), DrawingErrorKind<B::ErrorType>> {
    let ((x0, y0), (x1, y1)) = ((xa.min(xb), ya.min(yb)), (xa.max(xb), ya.max(yb)));
    let (wide, high) = (x1 - x0, y1 - y0);
    if let Ok(step @ 1..) = usize::try_from(hatching.step) {
        for along in (hatching.step / 2..wide + high).step_by(step) {
            // From the bottom edge (or the right one, beyond the corner) up to the left edge (or the top one).
            let start = (x0 + along.min(wide), y1 - (along - wide).max(0));
            let end = (x0 + (along - high).max(0), y1 - along.min(high));
            backend.draw_path([start, end], &hatching.hatch)?;
        }
    }
    let corners = vec![(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)];
    let dash = if hatching.dashed { Dash::Long } else { Dash::None };
    draw_line(corners, dash, hatching.outline, backend, size)
}
