//! A photo's picture on the page: the JPEG in a data: URI, lines as an SVG laid over it, and labels as HTML at places in per
//! cent, so that they keep a size that can be read when the picture shrinks on a phone.

use super::super::picture::{Edge, Label, Look, Picture, Shape, Stand};
use super::super::text::{decimal, kept_together};
use base64::Engine;
use maud::{Markup, html};

/// The picture with its caption.
pub(super) fn figure(picture: &Picture) -> Markup {
    let jpeg = base64::engine::general_purpose::STANDARD.encode(&picture.jpeg);
    let (wide, high) = (picture.width_px, picture.height_px);
    html! {
        figure {
            div.photo {
                img src=(format!("data:image/jpeg;base64,{jpeg}")) width=(wide) height=(high) alt=(picture.alt);
                svg viewBox=(format!("0 0 {wide} {high}")) aria-hidden="true" {
                    @for shape in &picture.shapes { (self::shape(shape)) }
                }
                @for label in &picture.labels { (self::label(label, picture)) }
            }
            @if !picture.caption.is_empty() { figcaption { (kept_together(&picture.caption)) } }
        } "\n"
    }
}

fn class(look: Look) -> &'static str {
    match look {
        Look::Mark => "mark",
        Look::Centre => "centre",
        Look::Vv => "vv",
        Look::Limit => "limit",
        Look::Flat => "flat",
        Look::Scan => "scan",
        Look::LeftOut => "scan unused",
        Look::Reading => "reading",
    }
}

/// Lines and dots twice: a dark line below a light one is seen on dark and on bright wall alike.
fn shape(shape: &Shape) -> Markup {
    let px = |&(x, y): &(f64, f64)| (decimal(x, 2), decimal(y, 2));
    match shape {
        Shape::Line(look, points) => {
            let points: Vec<String> = points.iter().map(px).map(|(x, y)| format!("{x},{y}")).collect();
            html! { @for layer in LAYERS { polyline class={ (class(*look)) " " (layer) } points=(points.join(" ")) {} } }
        }
        // A line without length, with round ends.
        Shape::Dot(look, at) => {
            let (x, y) = px(at);
            html! { @for layer in LAYERS { path class={ (class(*look)) " " (layer) } d={ "M" (x) " " (y) "h0" } {} } }
        }
        Shape::Interval(corner, size) => {
            let ((x, y), (width, height)) = (px(corner), px(size));
            html! { rect.u95 x=(x) y=(y) width=(width) height=(height) {} }
        }
    }
}

const LAYERS: [&str; 2] = ["under", "over"];

fn label(label: &Label, picture: &Picture) -> Markup {
    let stand = match label.stand {
        Stand::Above => "above",
        Stand::Below => "below",
        Stand::Centre => "centre",
    };
    let look = match label.look {
        Look::Reading => "cut",
        look => class(look),
    };
    let edge = label.edge.map(|edge| match edge {
        Edge::Left => " left",
        Edge::Right => " right",
    });
    let across = 100.0 * label.at_px.0 / f64::from(picture.width_px);
    let down = 100.0 * label.at_px.1 / f64::from(picture.height_px);
    html! {
        span class={ "tag " (look) (edge.unwrap_or_default()) " " (stand) }
            style={ "left:" (decimal(across, 2)) "%;top:" (decimal(down, 2)) "%" } { (kept_together(&label.text)) }
    }
}
