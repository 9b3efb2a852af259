//! Signs on the page.

use super::super::document::Sign;
use super::super::signs::{Manner, Part, parts};
use maud::{Markup, html};

/// A sign, drawn.
pub(super) fn sign(sign: Sign) -> Markup {
    let class = match sign {
        Sign::Good | Sign::Moves => "sign inside",
        Sign::Bad | Sign::Still => "sign outside",
        Sign::Open => "sign undecided",
        Sign::Refused | Sign::Faint | Sign::Beware => "sign refused",
    };
    let manner = |manner| match manner {
        Manner::Filled => "fill",
        Manner::Cut => "cut",
        Manner::Line => "line",
    };
    html! {
        svg class=(class) viewBox="0 0 16 16" aria-hidden="true" {
            @for part in parts(sign) {
                @match *part {
                    Part::Disc(radius, how) => circle cx="8" cy="8" r=(radius) class=(manner(how)) {},
                    Part::Way(way, how) => path d=(way) class=(manner(how)) {},
                }
            }
        }
    }
}
