//! Signs that stand before a verdict's word. Each has its own outline, so that they differ in grey and for every eye.

use crate::adjuster::Movement;
use crate::aim::Outcome;

fn sign(class: &str, shapes: &str) -> String {
    format!("<svg class=\"sign {class}\" viewBox=\"0 0 16 16\" aria-hidden=\"true\">{shapes}</svg>")
}

pub(super) fn outcome(outcome: Outcome) -> String {
    match outcome {
        Outcome::Inside => sign(
            "inside",
            "<circle cx=\"8\" cy=\"8\" r=\"8\" class=\"fill\"/><path d=\"M4 8.5l3 3 5-6.5\" class=\"cut\"/>",
        ),
        Outcome::Outside => sign(
            "outside",
            "<path d=\"M0 0h16v16H0z\" class=\"fill\"/><path d=\"M4 4l8 8M12 4l-8 8\" class=\"cut\"/>",
        ),
        Outcome::Undecided => sign(
            "undecided",
            "<path d=\"M8 1.5l7 13H1z\" class=\"line\"/><path d=\"M8 6v4M8 11.6v1.4\" class=\"line\"/>",
        ),
    }
}

pub(super) fn refused() -> String {
    sign(
        "refused",
        "<circle cx=\"8\" cy=\"8\" r=\"6.7\" class=\"line\"/><path d=\"M3.3 12.7l9.4-9.4\" class=\"line\"/>",
    )
}

pub(super) fn movement(movement: Movement) -> String {
    match movement {
        Movement::Moves => sign(
            "inside",
            "<path d=\"M8 1v14M4 5l4-4 4 4M4 11l4 4 4-4\" class=\"line\"/>",
        ),
        Movement::Still => sign("outside", "<path d=\"M1.5 5.5h13M1.5 10.5h13\" class=\"line\"/>"),
        Movement::CannotTell => outcome(Outcome::Undecided),
    }
}
