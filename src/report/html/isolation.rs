//! Which part is at fault, on the page: the words of [`crate::report::isolation`], and the system drawn.

use crate::record::{Stage, system_names};
use crate::report::Findings;
use crate::report::isolation::drawing::{self, Flow};
use crate::report::isolation::{About, Isolation, Part, Section, Standing, sections};
use crate::report::text;
use std::fmt::Write;

/// Text as HTML; a figure and its % stay on one line.
fn escape(text: &str) -> String {
    text::escape(text).replace(" %", "\u{a0}%")
}

/// What the next trial is written into, as the reader of a page knows it.
const JOB: &str = "the job file";

pub(super) fn section(page: &mut String, findings: &Findings) {
    put!(page, "<section class=\"isolate\">\n<h2>Which part is at fault</h2>");
    match &findings.isolation {
        Some(isolation) => answer(page, findings, &isolation.into()),
        None => put!(page, "<p class=\"note\">{}</p>", escape(&what_to_add(findings))),
    }
    put!(page, "</section>");
}

/// What a job lacks that says nothing of its system.
fn what_to_add(findings: &Findings) -> String {
    let Some(name) = &findings.job.system else {
        return format!(
            "Not asked: to have it worked out, name the car's system in the job (system = \"NAME\"; shipped are {}) and \
             add a [[trial]] for each test that was done.",
            system_names().join(", ")
        );
    };
    format!(
        "Nothing to go by yet: add to the job a [[trial]] for each test of the system {name} that was done, or photos at two \
         positions of the range control before the repair."
    )
}

fn answer(page: &mut String, findings: &Findings, isolation: &Isolation<'_>) {
    let after = findings.job.shot.iter().any(|shot| shot.stage == Some(Stage::After));
    put!(
        page,
        "<p>System: {}. Every combination of up to {} faulty parts is weighed by the trials of the job{}. A probability \
         rests also on how often each part fails, which the system file gives.{}</p>",
        escape(&isolation.system.name),
        crate::isolate::MOST_FAULTS,
        if isolation.from_positions() {
            " and by its readings at positions"
        } else {
            ""
        },
        if after {
            " All trials are taken to be of the car before the repair; what the repair did, the figures above \
             show."
        } else {
            ""
        }
    );
    let all = sections(isolation, JOB);
    let (beside, below): (Vec<&Section>, Vec<&Section>) = all
        .iter()
        .partition(|s| matches!(s.about, About::Found | About::Suspected | About::Cleared));
    put!(page, "<div class=\"beside\">\n<div>");
    for section in beside {
        one(page, section);
    }
    put!(
        page,
        "</div>\n<figure class=\"system\">{}<figcaption>The system, vacuum running from top to bottom: each part with its \
         sign, where it stands, and how probable a fault of it is.</figcaption></figure>\n</div>",
        drawing::draw(isolation, Flow::Down).trim()
    );
    for section in below {
        one(page, section);
    }
}

/// A section with its heading; parts of one kind that follow each other become one list.
fn one(page: &mut String, section: &Section) {
    let class = match section.about {
        About::Found => "found",
        About::Suspected => "suspected",
        About::Cleared => "cleared",
        About::Contradiction => "contradiction",
        About::Repair => "repair",
        About::MustShow => "must-show",
        About::Next => "next",
    };
    put!(page, "<div class=\"topic {class}\">");
    if !section.heading.is_empty() {
        put!(page, "<h3 class=\"part\">{}</h3>", escape(&section.heading));
    }
    let mut open: Option<(&str, &str)> = None;
    for part in &section.parts {
        let list = list_of(part);
        if open != list {
            if let Some((tag, _)) = open {
                put!(page, "</{tag}>");
            }
            if let Some((tag, class)) = list {
                put!(page, "<{tag} class=\"{class}\">");
            }
            open = list;
        }
        put!(page, "{}", part_html(part));
    }
    if let Some((tag, _)) = open {
        put!(page, "</{tag}>");
    }
    put!(page, "</div>");
}

/// The list that a part belongs to: its element and class.
fn list_of(part: &Part) -> Option<(&'static str, &'static str)> {
    Some(match part {
        Part::Trial(..) => ("ul", "trials"),
        Part::Ranked(..) => ("ol", "signs ranked"),
        Part::Cleared(_) => ("ul", "signs"),
        Part::Warning(_) => ("ul", "signs warnings"),
        Part::Hazard(_) => ("ul", "signs hazards"),
        Part::Step(..) => ("ol", "steps"),
        Part::Must(_) => ("ul", "must"),
        Part::Text(_) | Part::Label(_) | Part::Look(_) | Part::Entry(_) => return None,
    })
}

fn part_html(part: &Part) -> String {
    let signed = |sign: char, html: &str| format!("<li><span class=\"glyph\">{sign}</span><span>{html}</span></li>");
    match part {
        Part::Text(text) | Part::Look(text) => format!("<p>{}</p>", escape(text)),
        Part::Label(text) => format!("<p class=\"label\"><strong>{}</strong></p>", escape(text)),
        Part::Trial(id, found, text) => format!(
            "<li><code>{}</code>: <strong>{}</strong>; {}</li>",
            escape(id),
            escape(found),
            escape(text)
        ),
        Part::Ranked(standing, probability, text, why) => {
            let text = escape(text);
            let text = if *standing == Standing::Suspected {
                format!("<strong>{text}</strong>")
            } else {
                text
            };
            let why = why
                .as_ref()
                .map(|why| format!("<br>Why: {}", escape(why)))
                .unwrap_or_default();
            signed(
                standing.sign(),
                &format!("<strong>{}</strong> {text}{why}", escape(probability)),
            )
        }
        Part::Cleared(text) => signed(Standing::Cleared.sign(), &escape(text)),
        Part::Warning(text) | Part::Hazard(text) => signed('!', &escape(text)),
        Part::Step(_, text) => format!("<li>{}</li>", escape(text)),
        Part::Entry(lines) => format!("<pre>{}</pre>", escape(&lines.join("\n"))),
        Part::Must(text) => format!("<li>{}</li>", escape(text)),
    }
}
