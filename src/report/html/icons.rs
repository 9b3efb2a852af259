//! Signs that stand before a verdict's word. Each has its own outline, so that they differ in grey and for every eye.

use super::super::document::Sign;
use maud::{Markup, html};

/// A sign, drawn.
pub(super) fn sign(sign: Sign) -> Markup {
    let class = match sign {
        Sign::Good | Sign::Moves => "sign inside",
        Sign::Bad | Sign::Still => "sign outside",
        Sign::Open => "sign undecided",
        Sign::Refused | Sign::Faint | Sign::Beware => "sign refused",
    };
    let line = |d: &str| html! { path d=(d) class="line" {} };
    html! {
        svg class=(class) viewBox="0 0 16 16" aria-hidden="true" {
            @match sign {
                Sign::Good => {
                    circle cx="8" cy="8" r="8" class="fill" {}
                    path d="M4 8.5l3 3 5-6.5" class="cut" {}
                }
                Sign::Bad => {
                    path d="M0 0h16v16H0z" class="fill" {}
                    path d="M4 4l8 8M12 4l-8 8" class="cut" {}
                }
                Sign::Open => { (line("M8 1.5l7 13H1z")) (line("M8 6v4M8 11.6v1.4")) }
                Sign::Refused => {
                    circle cx="8" cy="8" r="6.7" class="line" {}
                    (line("M3.3 12.7l9.4-9.4"))
                }
                Sign::Moves => (line("M8 1v14M4 5l4-4 4 4M4 11l4 4 4-4")),
                Sign::Still => (line("M1.5 5.5h13M1.5 10.5h13")),
                Sign::Faint => circle cx="8" cy="8" r="2" class="fill" {},
                Sign::Beware => (line("M8 1v9M8 12.5v2.5")),
            }
        }
    }
}
