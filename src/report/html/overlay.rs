//! A photo as seen square to the wall, with what was found drawn over it.
//!
//! The picture is a JPEG in a data: URI; lines are an SVG laid over it, whose units are the picture's pixels; labels
//! are HTML at places in per cent, so that they keep a size that can be read when the picture shrinks on a phone.

use super::super::Error;
use super::super::text::{fixed, signed, u95};
use crate::aim::{Measured, ShotReading, height_at_mm};
use crate::cutoff::CutOff;
use crate::record::{Bay, Lamp, Traffic};
use crate::wall::Rectified;
use base64::Engine;
use image::ExtendedColorType;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use svg::Document;
use svg::node::Text;
use svg::node::element::{Element, Path, Polyline, Rectangle};

/// A report with sixty photos must still open on a phone.
const MOST_WIDTH_PX: u32 = 1280;
const JPEG_QUALITY: u8 = 82;
/// Pictures beyond this are not what a wall was rectified to.
const MOST_SIDE_PX: u32 = 20_000;

/// A piece of a rectified picture, in whole pixels, and its place on the wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct View<'a> {
    picture: &'a Rectified,
    x0_px: u32,
    y0_px: u32,
    width_px: u32,
    height_px: u32,
}

impl<'a> View<'a> {
    /// The whole picture; `None` where its sizes do not fit together.
    pub fn whole(picture: &'a Rectified) -> Option<Self> {
        let sound = (1..=MOST_SIDE_PX).contains(&picture.width_px)
            && (1..=MOST_SIDE_PX).contains(&picture.height_px)
            && u64::from(picture.width_px) * u64::from(picture.height_px) == picture.codes.len() as u64
            && picture.mm_per_px.is_finite()
            && picture.mm_per_px > 0.0
            && picture.left_mm.is_finite()
            && picture.top_mm.is_finite();
        sound.then_some(Self {
            picture,
            x0_px: 0,
            y0_px: 0,
            width_px: picture.width_px,
            height_px: picture.height_px,
        })
    }

    /// The part that holds these wall places; `None` where too little of it lies in the picture to be worth a look.
    pub fn around(self, x_mm: [f64; 2], y_mm: [f64; 2]) -> Option<Self> {
        let (left, bottom) = self.to_px(x_mm[0], y_mm[0]);
        let (right, top) = self.to_px(x_mm[1], y_mm[1]);
        let cut = |value: f64, most: u32| value.clamp(0.0, f64::from(most)) as u32;
        let (x0, x1) = (cut(left.floor(), self.width_px), cut(right.ceil(), self.width_px));
        let (y0, y1) = (cut(top.floor(), self.height_px), cut(bottom.ceil(), self.height_px));
        (x1 >= x0 + 20 && y1 >= y0 + 10).then(|| Self {
            picture: self.picture,
            x0_px: self.x0_px + x0,
            y0_px: self.y0_px + y0,
            width_px: x1 - x0,
            height_px: y1 - y0,
        })
    }

    /// Where a place on the wall lies in the view: pixels from its left and top edges. (The edges of a pixel are whole
    /// numbers, its centre is at a half.)
    pub fn to_px(self, x_mm: f64, y_mm: f64) -> (f64, f64) {
        let picture = self.picture;
        (
            (x_mm - picture.left_mm) / picture.mm_per_px - f64::from(self.x0_px),
            (picture.top_mm - y_mm) / picture.mm_per_px - f64::from(self.y0_px),
        )
    }

    fn jpeg(self) -> Result<Vec<u8>, Error> {
        let fault = |e: &dyn std::fmt::Display| Error::make("a photo's picture", e);
        let width = self.picture.width_px as usize;
        let codes: Vec<u8> = self
            .picture
            .codes
            .chunks_exact(width)
            .skip(self.y0_px as usize)
            .take(self.height_px as usize)
            .flat_map(|row| row.iter().skip(self.x0_px as usize).take(self.width_px as usize))
            .copied()
            .collect();
        let mut grey = image::GrayImage::from_raw(self.width_px, self.height_px, codes)
            .ok_or_else(|| fault(&"its size does not fit its pixels"))?;
        if self.width_px > MOST_WIDTH_PX {
            let height = u64::from(self.height_px) * u64::from(MOST_WIDTH_PX) / u64::from(self.width_px);
            let height = u32::try_from(height).unwrap_or(MOST_WIDTH_PX).max(1);
            grey = image::imageops::resize(&grey, MOST_WIDTH_PX, height, FilterType::Triangle);
        }
        let mut bytes = Vec::new();
        JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY)
            .encode(grey.as_raw(), grey.width(), grey.height(), ExtendedColorType::L8)
            .map_err(|e| fault(&e))?;
        Ok(bytes)
    }
}

/// Where a label stands against the point that it names.
#[derive(Clone, Copy)]
enum Stand {
    Above,
    Below,
    Centre,
}

/// A picture with its overlay being built.
struct Layer<'a> {
    view: View<'a>,
    lines: Document,
    labels: Vec<Element>,
}

/// An HTML element; `svg` escapes it as its own.
fn html(name: &str, attributes: &[(&str, String)]) -> Element {
    let mut element = Element::new(name);
    for (name, value) in attributes {
        svg::Node::assign(&mut element, *name, value.as_str());
    }
    element
}

impl<'a> Layer<'a> {
    fn new(view: View<'a>) -> Self {
        let size = format!("0 0 {} {}", view.width_px, view.height_px);
        let lines = Document::new().set("viewBox", size).set("aria-hidden", "true");
        let labels = Vec::new();
        Self { view, lines, labels }
    }

    fn px(&self, (x_mm, y_mm): (f64, f64)) -> [String; 2] {
        let (x, y) = self.view.to_px(x_mm, y_mm);
        [x, y].map(|px| fixed(px, 2))
    }

    /// Twice: a dark line below a light one is seen on dark and on bright wall alike.
    fn twice(&mut self, class: &str, node: impl Fn(String) -> Element) {
        for layer in ["under", "over"] {
            svg::Node::append(&mut self.lines, node(format!("{class} {layer}")));
        }
    }

    fn line(&mut self, class: &str, points: &[(f64, f64)]) {
        let points: Vec<String> = points.iter().map(|&point| self.px(point).join(",")).collect();
        let points = points.join(" ");
        self.twice(class, |class| {
            Polyline::new()
                .set("class", class)
                .set("points", points.as_str())
                .into()
        });
    }

    fn horizontal(&mut self, class: &str, y_mm: f64) {
        let picture = self.view.picture;
        let right_mm = picture.left_mm + f64::from(picture.width_px) * picture.mm_per_px;
        self.line(class, &[(picture.left_mm, y_mm), (right_mm, y_mm)]);
    }

    /// A dot whose size does not depend on the picture's scale: a line without length, with round ends.
    fn dot(&mut self, class: &str, x_mm: f64, y_mm: f64) {
        let way = format!("M{}h0", self.px((x_mm, y_mm)).join(" "));
        self.twice(class, |class| {
            Path::new().set("class", class).set("d", way.as_str()).into()
        });
    }

    /// A label near a place on the wall; none where the place is not in the view.
    fn label(&mut self, class: &str, (x_mm, y_mm): (f64, f64), stand: Stand, text: &str) {
        let (x, y) = self.view.to_px(x_mm, y_mm);
        let (x, y) = (x / f64::from(self.view.width_px), y / f64::from(self.view.height_px));
        if !(0.0..=1.0).contains(&x) || !(0.0..=1.0).contains(&y) {
            return;
        }
        let stand = match stand {
            // At the picture's very edge a label goes to the side where there is room.
            Stand::Above if y < 0.06 => "below",
            Stand::Below if y > 0.94 => "above",
            Stand::Above => "above",
            Stand::Below => "below",
            Stand::Centre => "centre",
        };
        let place = format!("left:{}%;top:{}%", fixed(100.0 * x, 2), fixed(100.0 * y, 2));
        let mut label = html("span", &[("class", format!("tag {class} {stand}")), ("style", place)]);
        svg::Node::append(&mut label, Text::new(text));
        self.labels.push(label);
    }

    /// A label at the picture's left or right edge, at a height on the wall.
    fn edge_label(&mut self, right: bool, class: &str, y_mm: f64, stand: Stand, text: &str) {
        let picture = self.view.picture;
        let column = self.view.x0_px + if right { self.view.width_px } else { 0 };
        let x_mm = picture.left_mm + f64::from(column) * picture.mm_per_px;
        let side = if right { "right" } else { "left" };
        self.label(&format!("{class} {side}"), (x_mm, y_mm), stand, text);
    }

    fn figure(self, alt: &str, caption: &str) -> Result<String, Error> {
        let jpeg = base64::engine::general_purpose::STANDARD.encode(self.view.jpeg()?);
        let picture = [
            ("src", format!("data:image/jpeg;base64,{jpeg}")),
            ("width", self.view.width_px.to_string()),
            ("height", self.view.height_px.to_string()),
            ("alt", alt.to_owned()),
        ];
        let mut photo = html("div", &[("class", "photo".to_owned())]);
        svg::Node::append(&mut photo, html("img", &picture));
        svg::Node::append(&mut photo, self.lines);
        for label in self.labels {
            svg::Node::append(&mut photo, label);
        }
        let mut words = html("figcaption", &[]);
        svg::Node::append(&mut words, Text::new(caption));
        let mut figure = html("figure", &[]);
        svg::Node::append(&mut figure, photo);
        svg::Node::append(&mut figure, words);
        Ok(format!("{figure}\n"))
    }
}

/// The photo's pictures: all of it, and close to the reading where there is one. Empty where there is no picture.
pub(in crate::report) fn pictures(reading: &ShotReading, bay: &Bay, traffic: Traffic) -> Result<String, Error> {
    let Some(view) = reading.picture.as_ref().and_then(View::whole) else {
        return Ok(String::new());
    };
    let lamp = &reading.lamp;
    let Ok(measured) = &reading.result else {
        return drawn(view, lamp, None, bay, traffic).figure(
            "The photo as seen square to the wall, with the marks that were found.",
            "As seen square to the wall. Outlined: the marks that were found. Compare with what the refusal says.",
        );
    };
    let alt = format!(
        "The photo as seen square to the wall. The cut-off lies at {} per cent, {} mm {} the lamp's centre line.",
        fixed(measured.aim.inclination_percent, 2),
        fixed(measured.aim.drop_mm.abs(), 0),
        if measured.aim.drop_mm >= 0.0 { "below" } else { "above" }
    );
    let mut html = drawn(view, lamp, Some(measured), bay, traffic).figure(
        &alt,
        "As seen square to the wall. The dots should lie on the edge of the light, left and right of the ringed reading \
         point, and the white line should run through them. Square dots were left out of the reading.",
    )?;
    if let Some(near) = near(view, measured, lamp, bay) {
        html += &drawn(near, lamp, Some(measured), bay, traffic).figure(
            &format!("{alt} Close to the reading point."),
            "Close to the reading point. The light band across it is the 95 % interval: the verdict is sure when that \
             band keeps clear of the dotted limits.",
        )?;
    }
    Ok(html)
}

/// What lies around the scans, and the limits where they are not too far off.
fn near<'a>(view: View<'a>, measured: &Measured, lamp: &Lamp, bay: &Bay) -> Option<View<'a>> {
    let cutoff = &measured.aim.cutoff;
    let reach_mm = 0.03 * lamp.distance_mm;
    let u95_mm = measured.aim.u95_percent() / 100.0 * lamp.distance_mm;
    let air_mm = (0.004 * lamp.distance_mm).max(2.0 * u95_mm);
    let farthest_mm = 0.012 * lamp.distance_mm;
    let (mut low_mm, mut high_mm) = (cutoff.y_mm - air_mm, cutoff.y_mm + air_mm);
    if let Some(verdict) = &measured.verdict {
        for percent in [verdict.band.low_percent, verdict.band.high_percent] {
            let limit_mm = limit_mm(percent, measured, lamp, bay);
            if (limit_mm - cutoff.y_mm).abs() < farthest_mm {
                low_mm = low_mm.min(limit_mm - air_mm / 2.0);
                high_mm = high_mm.max(limit_mm + air_mm / 2.0);
            }
        }
    }
    // Lower than a third of its width, and the labels would not fit in on a phone.
    let missing_mm = (2.0 * reach_mm / 3.0 - (high_mm - low_mm)).max(0.0);
    (low_mm, high_mm) = (low_mm - missing_mm / 2.0, high_mm + missing_mm / 2.0);
    view.around([cutoff.x_mm - reach_mm, cutoff.x_mm + reach_mm], [low_mm, high_mm])
}

fn drawn<'a>(view: View<'a>, lamp: &Lamp, measured: Option<&Measured>, bay: &Bay, traffic: Traffic) -> Layer<'a> {
    // Limits are named on the flat side's edge, the other lines on the opposite one, where they cannot meet.
    let flat_is_right = traffic.flat_side_sign() > 0.0;
    let mut layer = Layer::new(view);
    marks(&mut layer);
    axes(&mut layer, lamp, !flat_is_right);
    if let Some(measured) = measured {
        limits(&mut layer, measured, lamp, bay, flat_is_right);
        interval(&mut layer, measured, lamp);
        edge(&mut layer, &measured.aim.cutoff);
        reading(&mut layer, measured, bay, !flat_is_right);
    }
    layer
}

/// The marks that were found.
fn marks(layer: &mut Layer<'_>) {
    for (id, corners) in &layer.view.picture.marks {
        let mut outline: Vec<(f64, f64)> = corners.iter().map(|c| (c[0], c[1])).collect();
        outline.extend(outline.first().copied());
        layer.line("mark", &outline);
        let centre = |axis: usize| corners.iter().map(|c| c[axis]).sum::<f64>() / 4.0;
        layer.label("mark", (centre(0), centre(1)), Stand::Centre, &format!("mark {id}"));
    }
}

/// The height of the lamp's centre, and its V-V.
fn axes(layer: &mut Layer<'_>, lamp: &Lamp, right: bool) {
    let centre_mm = lamp.centre_height_mm;
    layer.horizontal("centre", centre_mm);
    let words = format!("lamp's centre, {} mm", fixed(centre_mm, 0));
    layer.edge_label(right, "centre", centre_mm, Stand::Above, &words);
    let picture = layer.view.picture;
    let bottom_mm = picture.top_mm - f64::from(picture.height_px) * picture.mm_per_px;
    let x_mm = lamp.centre_x_mm;
    layer.line("vv", &[(x_mm, picture.top_mm), (x_mm, bottom_mm)]);
    let top_of_view_mm = picture.top_mm - f64::from(layer.view.y0_px) * picture.mm_per_px;
    layer.label("vv", (x_mm, top_of_view_mm), Stand::Below, "V-V");
}

/// The height at which a cut-off at a limit would lie on this wall, mm.
fn limit_mm(percent: f64, measured: &Measured, lamp: &Lamp, bay: &Bay) -> f64 {
    let climb = measured.aim.cutoff.climb;
    height_at_mm(percent, lamp, bay) + climb.map_or(0.0, |climb| climb.climb_mm)
}

/// The band that the reading is judged by.
fn limits(layer: &mut Layer<'_>, measured: &Measured, lamp: &Lamp, bay: &Bay, right: bool) {
    let Some(verdict) = &measured.verdict else { return };
    for (percent, stand) in [
        (verdict.band.low_percent, Stand::Above),
        (verdict.band.high_percent, Stand::Below),
    ] {
        let limit_mm = limit_mm(percent, measured, lamp, bay);
        layer.horizontal("limit", limit_mm);
        layer.edge_label(
            right,
            "limit",
            limit_mm,
            stand,
            &format!("limit {} %", fixed(percent, 2)),
        );
    }
}

/// The 95 % interval about the reading point.
fn interval(layer: &mut Layer<'_>, measured: &Measured, lamp: &Lamp) {
    let cutoff = &measured.aim.cutoff;
    let u95_mm = measured.aim.u95_percent() / 100.0 * lamp.distance_mm;
    let half_mm = 0.02 * lamp.distance_mm;
    let (left, top) = layer.view.to_px(cutoff.x_mm - half_mm, cutoff.y_mm + u95_mm);
    let (right, bottom) = layer.view.to_px(cutoff.x_mm + half_mm, cutoff.y_mm - u95_mm);
    let band = Rectangle::new()
        .set("class", "u95")
        .set("x", fixed(left, 2))
        .set("y", fixed(top, 2))
        .set("width", fixed(right - left, 2))
        .set("height", fixed(bottom - top, 2));
    svg::Node::append(&mut layer.lines, band);
}

/// The cut-off's line over the scans that were used, and all scans.
fn edge(layer: &mut Layer<'_>, cutoff: &CutOff) {
    let used = cutoff.scans.iter().filter(|s| s.used).map(|s| s.x_mm);
    let (from_mm, to_mm) = used.fold((cutoff.x_mm, cutoff.x_mm), |(from, to), x| (from.min(x), to.max(x)));
    let slope = cutoff.tilt_deg.to_radians().tan();
    let on_line = |x_mm: f64| (x_mm, cutoff.y_mm + (x_mm - cutoff.x_mm) * slope);
    layer.line("flat", &[on_line(from_mm), on_line(to_mm)]);
    for scan in &cutoff.scans {
        layer.dot(if scan.used { "scan" } else { "scan unused" }, scan.x_mm, scan.y_mm);
    }
}

/// The reading point with its figures.
fn reading(layer: &mut Layer<'_>, measured: &Measured, bay: &Bay, right: bool) {
    let aim = &measured.aim;
    layer.dot("reading", aim.cutoff.x_mm, aim.cutoff.y_mm);
    let words = format!(
        "cut-off {} % ± {} %{}",
        signed(aim.inclination_percent, 2),
        u95(aim.u95_percent()),
        if bay.grade_percent == 0.0 {
            ""
        } else {
            " (with the grade)"
        }
    );
    let stand = if aim.drop_mm >= 0.0 { Stand::Below } else { Stand::Above };
    layer.edge_label(right, "cut", aim.cutoff.y_mm, stand, &words);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture() -> Rectified {
        Rectified {
            width_px: 400,
            height_px: 200,
            codes: vec![80; 80_000],
            left_mm: -1000.0,
            top_mm: 900.0,
            mm_per_px: 4.0,
            marks: Vec::new(),
        }
    }

    #[test]
    fn a_known_place_on_the_wall_maps_to_the_expected_pixel() {
        let picture = picture();
        let view = View::whole(&picture).unwrap();
        assert_eq!(view.to_px(-1000.0, 900.0), (0.0, 0.0));
        assert_eq!(view.to_px(-600.0, 548.0), (100.0, 88.0));
        let near = view.around([-800.0, -400.0], [400.0, 700.0]).unwrap();
        assert_eq!(
            (near.x0_px, near.y0_px, near.width_px, near.height_px),
            (50, 50, 100, 75)
        );
        assert_eq!(near.to_px(-600.0, 548.0), (50.0, 38.0));
    }

    #[test]
    fn pictures_that_do_not_fit_together_are_left_out() {
        let mut short = picture();
        short.codes.pop();
        assert_eq!(View::whole(&short), None);
        let flat = Rectified {
            mm_per_px: 0.0,
            ..picture()
        };
        assert_eq!(View::whole(&flat), None);
        let sound = picture();
        let view = View::whole(&sound).unwrap();
        assert_eq!(
            view.around([2000.0, 2400.0], [400.0, 700.0]),
            None,
            "beside the picture"
        );
    }

    #[test]
    fn the_jpeg_has_the_views_pixels() {
        let mut picture = picture();
        for row in 0..100 {
            picture.codes[row * 400..row * 400 + 200].fill(200);
        }
        let view = View::whole(&picture).unwrap();
        let bytes = view.around([-1000.0, -200.0], [500.0, 900.0]).unwrap().jpeg().unwrap();
        let read = image::load_from_memory(&bytes).unwrap().to_luma8();
        assert_eq!((read.width(), read.height()), (200, 100));
        assert!(read.pixels().all(|p| p.0[0].abs_diff(200) < 4));
    }
}
