//! A photo as seen square to the wall, with what was found drawn over it.
//!
//! The picture is a JPEG; what is drawn over it is given in the picture's pixels, and how it looks is the printer's business.

use super::Error;
use super::text::{fixed, signed, u95};
use crate::aim::{Measured, ShotReading, height_at_mm};
use crate::cutoff::CutOff;
use crate::language::{Language, said};
use crate::record::{Bay, Lamp, Traffic};
use crate::run::Findings;
use crate::wall::Rectified;
use image::ExtendedColorType;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;

/// A picture with what is drawn over it; places are pixels from its left and top edges.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Picture {
    pub jpeg: Vec<u8>,
    /// Width and height of the JPEG, which may be smaller.
    pub jpeg_px: (u32, u32),
    pub width_px: u32,
    pub height_px: u32,
    /// In the order in which they are drawn.
    pub shapes: Vec<Shape>,
    pub labels: Vec<Label>,
    /// For those who do not see it.
    pub alt: String,
    pub caption: String,
}

/// What a line or a dot stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// A sheet's outline.
    Mark,
    /// The height of the lamp's centre.
    Centre,
    /// The lamp's V-V.
    Vv,
    /// A limit of the verdict.
    Limit,
    /// The cut-off's line.
    Flat,
    /// A scan that counts.
    Scan,
    /// A scan that was left out.
    LeftOut,
    /// The reading point.
    Reading,
}

/// Something that is drawn over a picture, px.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Shape {
    Line(Look, Vec<(f64, f64)>),
    /// Its size does not depend on the picture's scale.
    Dot(Look, (f64, f64)),
    /// The 95 % interval: its left top corner, and its width and height.
    Interval((f64, f64), (f64, f64)),
}

/// Words at a place in the picture.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Label {
    pub look: Look,
    pub at_px: (f64, f64),
    pub stand: Stand,
    /// The edge of the picture that it keeps to.
    pub edge: Option<Edge>,
    pub text: String,
}

/// An edge of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Edge {
    Left,
    Right,
}

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

    /// The JPEG with its width and height, px.
    fn jpeg(self) -> Result<(Vec<u8>, (u32, u32)), Error> {
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
        Ok((bytes, grey.dimensions()))
    }
}

/// Where a label stands against the point that it names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stand {
    Above,
    Below,
    Centre,
}

/// A picture with its overlay being built.
struct Layer<'a> {
    language: Language,
    view: View<'a>,
    shapes: Vec<Shape>,
    labels: Vec<Label>,
}

impl<'a> Layer<'a> {
    fn new(language: Language, view: View<'a>) -> Self {
        Self {
            language,
            view,
            shapes: Vec::new(),
            labels: Vec::new(),
        }
    }

    fn line(&mut self, look: Look, points_mm: &[(f64, f64)]) {
        let points = points_mm.iter().map(|&(x, y)| self.view.to_px(x, y)).collect();
        self.shapes.push(Shape::Line(look, points));
    }

    fn horizontal(&mut self, look: Look, y_mm: f64) {
        let picture = self.view.picture;
        let right_mm = picture.left_mm + f64::from(picture.width_px) * picture.mm_per_px;
        self.line(look, &[(picture.left_mm, y_mm), (right_mm, y_mm)]);
    }

    fn dot(&mut self, look: Look, x_mm: f64, y_mm: f64) {
        self.shapes.push(Shape::Dot(look, self.view.to_px(x_mm, y_mm)));
    }

    /// A label near a place on the wall; none where the place is not in the view.
    fn label(&mut self, look: Look, (x_mm, y_mm): (f64, f64), stand: Stand, edge: Option<Edge>, text: &str) {
        let at_px = self.view.to_px(x_mm, y_mm);
        let (wide, high) = (f64::from(self.view.width_px), f64::from(self.view.height_px));
        if !(0.0..=wide).contains(&at_px.0) || !(0.0..=high).contains(&at_px.1) {
            return;
        }
        let down = at_px.1 / high;
        let stand = match stand {
            // At the picture's very edge a label goes to the side where there is room.
            Stand::Above if down < 0.06 => Stand::Below,
            Stand::Below if down > 0.94 => Stand::Above,
            stand => stand,
        };
        let text = text.to_owned();
        self.labels.push(Label {
            look,
            at_px,
            stand,
            edge,
            text,
        });
    }

    /// A label at the picture's left or right edge, at a height on the wall.
    fn edge_label(&mut self, edge: Edge, look: Look, y_mm: f64, stand: Stand, text: &str) {
        let picture = self.view.picture;
        let across = match edge {
            Edge::Left => 0,
            Edge::Right => self.view.width_px,
        };
        let x_mm = picture.left_mm + f64::from(self.view.x0_px + across) * picture.mm_per_px;
        self.label(look, (x_mm, y_mm), stand, Some(edge), text);
    }

    fn picture(self, alt: &str, caption: &str) -> Result<Picture, Error> {
        let (jpeg, jpeg_px) = self.view.jpeg()?;
        Ok(Picture {
            jpeg,
            jpeg_px,
            width_px: self.view.width_px,
            height_px: self.view.height_px,
            shapes: self.shapes,
            labels: self.labels,
            alt: alt.to_owned(),
            caption: caption.to_owned(),
        })
    }
}

/// The photo's pictures: all of it, and close to the reading where there is one. Empty where there is no picture.
pub(super) fn pictures(
    language: Language,
    reading: &ShotReading,
    bay: &Bay,
    traffic: Traffic,
) -> Result<Vec<Picture>, Error> {
    let Some(view) = reading.picture.as_ref().and_then(View::whole) else {
        return Ok(Vec::new());
    };
    let lamp = &reading.lamp;
    let Ok(measured) = &reading.result else {
        let picture = drawn(language, view, lamp, None, bay, traffic).picture(
            language.pick(
                "The photo as seen square to the wall, with the sheets that were found.",
                "Das Foto, senkrecht auf die Wand gesehen, mit den gefundenen Messblättern.",
            ),
            if shows_a_sheet(view.picture) {
                language.pick(
                    "As seen square to the wall. Outlined: the sheets that were found. Compare with what the refusal says.",
                    "Senkrecht auf die Wand gesehen. Umrandet: die gefundenen Messblätter. Mit dem vergleichen, was bei der Ablehnung steht.",
                )
            } else {
                language.pick(
                    "As seen square to the wall, the part before the lamp; the sheets that were found hang beside it. Compare with what the \
                     refusal says.",
                    "Senkrecht auf die Wand gesehen, der Teil vor dem Scheinwerfer; die gefundenen Messblätter hängen daneben. Mit dem \
                     vergleichen, was bei der Ablehnung steht.",
                )
            },
        )?;
        return Ok(vec![picture]);
    };
    let alt = said!(
        language; "The photo as seen square to the wall. The cut-off lies at {} per cent, {} mm {} the lamp's centre line.",
        "Das Foto, senkrecht auf die Wand gesehen. Die Hell-Dunkel-Grenze liegt bei {} Prozent, {} mm {} der Mittellinie des \
         Scheinwerfers.";
        fixed(language, measured.aim.inclination_percent, 2),
        fixed(language, measured.aim.drop_at_wall_mm.abs(), 0),
        if measured.aim.drop_at_wall_mm >= 0.0 {
            language.pick("below", "unter")
        } else {
            language.pick("above", "über")
        }
    );
    let whole = drawn(language, view, lamp, Some(measured), bay, traffic).picture(
        &alt,
        language.pick(
            "As seen square to the wall. The dots should lie on the edge of the light, left and right of the ringed reading \
             point, and the white line should run through them. Square dots were left out of the reading.",
            "Senkrecht auf die Wand gesehen. Die Punkte sollen auf der Kante des Lichts liegen, links und rechts vom umringten \
             Messpunkt, und die weiße Linie soll durch sie laufen. Eckige Punkte wurden nicht mitgemessen.",
        ),
    )?;
    let mut pictures = vec![whole];
    if let Some(near) = near(view, measured, lamp, bay) {
        pictures.push(drawn(language, near, lamp, Some(measured), bay, traffic).picture(
            &said!(language; "{alt} Close to the reading point.", "{alt} Nahe am Messpunkt."),
            language.pick(
                "Close to the reading point. The light band across it is the 95 % interval: the verdict is sure when that \
                 band keeps clear of the dotted limits.",
                "Nahe am Messpunkt. Das helle Band quer darüber ist das 95-%-Intervall: Das Urteil ist sicher, wenn dieses Band die \
                 gepunkteten Grenzen frei lässt.",
            ),
        )?);
    }
    Ok(pictures)
}

/// Photos of one lamp with these captions, each the same piece of the wall as seen from the lamp, so that they can be laid beside
/// each other; a photo without picture or figure is left out.
pub(super) fn beside(
    language: Language,
    readings: &[&ShotReading],
    captions: &[String],
    findings: &Findings,
) -> Result<Vec<Picture>, Error> {
    // What has to be in it, as drops in per cent of the distance.
    let (mut high, mut low) = (f64::INFINITY, f64::NEG_INFINITY);
    for measured in readings.iter().filter_map(|reading| reading.result.as_ref().ok()) {
        let air = BESIDE_AIR_PERCENT.max(2.0 * measured.aim.u95_percent());
        let mut hold = |percent: f64| (high, low) = (high.min(percent - air), low.max(percent + air));
        hold(measured.aim.inclination_percent);
        if let Some(verdict) = &measured.verdict {
            hold(verdict.band.low_percent);
            hold(verdict.band.high_percent);
        }
    }
    let sign = findings.job.traffic.flat_side_sign();
    let missing = (BESIDE_LEAST_HEIGHT * (BESIDE_FLAT_PERCENT + BESIDE_OTHER_PERCENT) - (low - high)).max(0.0);
    (high, low) = (high - missing / 2.0, low + missing / 2.0);
    let mut pictures = Vec::new();
    for (reading, caption) in readings.iter().zip(captions) {
        let (Ok(measured), Some(picture)) = (&reading.result, &reading.picture) else {
            continue;
        };
        let (lamp, bay) = (&reading.lamp, findings.bays.of(&reading.lamp));
        let x_mm = |percent: f64| lamp.centre_x_mm + sign * percent / 100.0 * lamp.distance_mm;
        let (flat_mm, other_mm) = (x_mm(BESIDE_FLAT_PERCENT), x_mm(-BESIDE_OTHER_PERCENT));
        let y_mm = [low, high].map(|percent| limit_mm(percent, measured, lamp, bay));
        let whole = View::whole(picture);
        let view = whole.and_then(|view| view.around([flat_mm.min(other_mm), flat_mm.max(other_mm)], y_mm));
        let Some(view) = view else { continue };
        let alt = said!(language; "The wall. {caption}", "Die Wand. {caption}");
        pictures.push(compared(language, view, lamp, measured, bay, findings.job.traffic).picture(&alt, caption)?);
    }
    Ok(pictures)
}

/// How far photos beside each other show the wall to the flat side of the lamp's V-V, beyond the scan at 3.5°, and to the other, where
/// the cut-off rises: per cent of the distance.
const BESIDE_FLAT_PERCENT: f64 = 7.0;
const BESIDE_OTHER_PERCENT: f64 = 3.5;
/// Above and below of what they have to show, per cent of the distance at the least.
const BESIDE_AIR_PERCENT: f64 = 0.6;
/// Their height at the least, as a part of their width.
const BESIDE_LEAST_HEIGHT: f64 = 0.5;

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

/// What is to be compared, and no more: the limits, the cut-off with its interval, and its figure.
fn compared<'a>(
    language: Language,
    view: View<'a>,
    lamp: &Lamp,
    measured: &Measured,
    bay: &Bay,
    traffic: Traffic,
) -> Layer<'a> {
    let (flat, other) = edges(traffic);
    let mut layer = Layer::new(language, view);
    limits(&mut layer, measured, lamp, bay, flat);
    interval(&mut layer, measured, lamp);
    let (aim, cutoff) = (&measured.aim, &measured.aim.cutoff);
    edge(&mut layer, cutoff);
    layer.dot(Look::Reading, cutoff.x_mm, cutoff.y_mm);
    let figure = format!("{} %", fixed(language, aim.inclination_percent, 2));
    layer.edge_label(other, Look::Reading, cutoff.y_mm, Stand::Below, &figure);
    layer
}

/// The picture's edges on the pattern's flat side and on the other.
fn edges(traffic: Traffic) -> (Edge, Edge) {
    if traffic.flat_side_sign() > 0.0 {
        (Edge::Right, Edge::Left)
    } else {
        (Edge::Left, Edge::Right)
    }
}

fn drawn<'a>(
    language: Language,
    view: View<'a>,
    lamp: &Lamp,
    measured: Option<&Measured>,
    bay: &Bay,
    traffic: Traffic,
) -> Layer<'a> {
    // Limits are named on the flat side's edge, the other lines on the opposite one, where they cannot meet.
    let mut layer = Layer::new(language, view);
    marks(&mut layer);
    let (flat, other) = edges(traffic);
    axes(&mut layer, lamp, other);
    if let Some(measured) = measured {
        limits(&mut layer, measured, lamp, bay, flat);
        interval(&mut layer, measured, lamp);
        edge(&mut layer, &measured.aim.cutoff);
        reading(&mut layer, measured, bay, other);
    }
    layer
}

/// Whether a mark that was found is seen in the picture, at least by a corner.
fn shows_a_sheet(picture: &Rectified) -> bool {
    let (width_mm, height_mm) = (
        f64::from(picture.width_px) * picture.mm_per_px,
        f64::from(picture.height_px) * picture.mm_per_px,
    );
    let is_seen = |corner: &[f64; 2]| {
        (picture.left_mm..picture.left_mm + width_mm).contains(&corner[0])
            && (picture.top_mm - height_mm..picture.top_mm).contains(&corner[1])
    };
    picture.marks.iter().flat_map(|(_, corners)| corners).any(is_seen)
}

/// The marks that were found.
fn marks(layer: &mut Layer<'_>) {
    for (id, corners) in &layer.view.picture.marks {
        let mut outline: Vec<(f64, f64)> = corners.iter().map(|c| (c[0], c[1])).collect();
        outline.extend(outline.first().copied());
        layer.line(Look::Mark, &outline);
        let centre = |axis: usize| corners.iter().map(|c| c[axis]).sum::<f64>() / 4.0;
        let at = (centre(0), centre(1));
        layer.label(
            Look::Mark,
            at,
            Stand::Centre,
            None,
            &said!(layer.language; "sheet {id}", "Blatt {id}"),
        );
    }
}

/// The height of the lamp's centre, and its V-V.
fn axes(layer: &mut Layer<'_>, lamp: &Lamp, edge: Edge) {
    let centre_mm = lamp.centre_height_mm;
    layer.horizontal(Look::Centre, centre_mm);
    let words = said!(
        layer.language; "lamp's centre, {} mm", "Scheinwerfermitte, {} mm"; fixed(layer.language, centre_mm, 0)
    );
    layer.edge_label(edge, Look::Centre, centre_mm, Stand::Above, &words);
    let picture = layer.view.picture;
    let bottom_mm = picture.top_mm - f64::from(picture.height_px) * picture.mm_per_px;
    let x_mm = lamp.centre_x_mm;
    layer.line(Look::Vv, &[(x_mm, picture.top_mm), (x_mm, bottom_mm)]);
    let top_of_view_mm = picture.top_mm - f64::from(layer.view.y0_px) * picture.mm_per_px;
    layer.label(Look::Vv, (x_mm, top_of_view_mm), Stand::Below, None, "V-V");
}

/// The height at which a cut-off at a limit would lie on this wall, mm.
fn limit_mm(percent: f64, measured: &Measured, lamp: &Lamp, bay: &Bay) -> f64 {
    let climb = measured.aim.cutoff.climb;
    height_at_mm(percent, lamp, bay) + climb.map_or(0.0, |climb| climb.climb_mm)
}

/// The band that the reading is judged by.
fn limits(layer: &mut Layer<'_>, measured: &Measured, lamp: &Lamp, bay: &Bay, edge: Edge) {
    let Some(verdict) = &measured.verdict else { return };
    for (percent, stand) in [
        (verdict.band.low_percent, Stand::Above),
        (verdict.band.high_percent, Stand::Below),
    ] {
        let limit_mm = limit_mm(percent, measured, lamp, bay);
        layer.horizontal(Look::Limit, limit_mm);
        layer.edge_label(
            edge,
            Look::Limit,
            limit_mm,
            stand,
            &said!(layer.language; "limit {} %", "Grenze {} %"; fixed(layer.language, percent, 2)),
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
    layer
        .shapes
        .push(Shape::Interval((left, top), (right - left, bottom - top)));
}

/// The cut-off's line over the scans that were used, and all scans.
fn edge(layer: &mut Layer<'_>, cutoff: &CutOff) {
    let used = cutoff.scans.iter().filter(|s| s.used).map(|s| s.x_mm);
    let (from_mm, to_mm) = used.fold((cutoff.x_mm, cutoff.x_mm), |(from, to), x| (from.min(x), to.max(x)));
    let slope = cutoff.tilt_deg.to_radians().tan();
    let on_line = |x_mm: f64| (x_mm, cutoff.y_mm + (x_mm - cutoff.x_mm) * slope);
    layer.line(Look::Flat, &[on_line(from_mm), on_line(to_mm)]);
    for scan in &cutoff.scans {
        layer.dot(if scan.used { Look::Scan } else { Look::LeftOut }, scan.x_mm, scan.y_mm);
    }
}

/// The reading point with its figures.
fn reading(layer: &mut Layer<'_>, measured: &Measured, bay: &Bay, edge: Edge) {
    let aim = &measured.aim;
    layer.dot(Look::Reading, aim.cutoff.x_mm, aim.cutoff.y_mm);
    let language = layer.language;
    let words = said!(
        language; "cut-off {} % ± {} %{}", "gemessen {} % ± {} %{}";
        signed(language, aim.inclination_percent, 2),
        u95(language, aim.u95_percent()),
        if bay.grade_percent == 0.0 {
            ""
        } else {
            language.pick(" (with the grade)", " (mit der Steigung)")
        }
    );
    let stand = if aim.drop_at_wall_mm >= 0.0 {
        Stand::Below
    } else {
        Stand::Above
    };
    layer.edge_label(edge, Look::Reading, aim.cutoff.y_mm, stand, &words);
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
        let bytes = view
            .around([-1000.0, -200.0], [500.0, 900.0])
            .unwrap()
            .jpeg()
            .unwrap()
            .0;
        let read = image::load_from_memory(&bytes).unwrap().to_luma8();
        assert_eq!((read.width(), read.height()), (200, 100));
        assert!(read.pixels().all(|p| p.0[0].abs_diff(200) < 4));
    }
}
