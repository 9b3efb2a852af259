//! What is said of a job: a file for each theme, and here which parts of it stand in which text, in which order.
//!
//! Every sentence stands in one place. A text for the terminal is short and in one column; the page has room for why.

mod adjuster;
mod answer;
mod beside;
mod compact;
mod evidence;
mod isolation;
mod method;
pub(crate) mod readings;
pub(crate) mod summary;
mod verified;

use super::Error;
use super::document::{Block, Document, Margin, Section};
use super::evidence::Verified;
use super::plots::Figure;
pub(super) use answer::first_suspect;
pub(super) use isolation::happening;

use crate::isolate::Isolated;
use crate::language::Language;
use crate::run::Findings;

/// What is said of photos that a program drew.
fn made_photos(where_they_are: &str) -> String {
    format!("The photos{where_they_are} are made (drawn by a program), not taken.")
}

/// For the terminal: what a job's photos gave, the answer last, since a terminal shows its end. Many photos are shown by lamp
/// and stage; with `explain`, a line each, and then what each uncertainty is made of.
pub(crate) fn readings(findings: &Findings, explain: bool) -> Document {
    let compact = !explain && compact::is_wanted(findings);
    let mut sections = if compact {
        compact::sections(findings)
    } else {
        vec![readings::lines(findings), readings::legend(findings)]
    };
    sections.push(summary::entered(findings));
    let remarks = readings::remarks(findings);
    if compact {
        sections.extend([adjuster::remarks(findings, false), remarks]);
    } else {
        sections.extend([remarks, adjuster::travels(findings), adjuster::remarks(findings, true)]);
    }
    sections.push(isolation::outline(Language::English, findings));
    sections.extend(method::confidence(findings).map(|said| Section::new("", vec![Block::text(said)])));
    if explain {
        sections.extend(method::budgets(findings));
    }
    sections.push(answer::section(findings));
    Document {
        sections,
        ..Document::default()
    }
}

/// For the terminal: which part is at fault. `job` is the file into which the next trial is written.
pub(crate) fn isolation(isolated: &Isolated, job: &str) -> Document {
    let mut sections = isolation::sections(Language::English, isolated, job);
    sections.push(Section {
        margin: Margin::Flush,
        ..Section::new("", vec![Block::text(crate::DISCLAIMER)])
    });
    Document {
        heading: isolated.system.name.within(Language::English).to_owned(),
        sections,
        ..Document::default()
    }
}

/// For the terminal: what came of reading a report's evidence again.
pub(crate) fn verified(verified: &Verified) -> Document {
    Document {
        sections: verified::sections(verified),
        ..Document::default()
    }
}

/// The page: what was found, what was refused, the figures, and then what they rest on; the order is that of a reader in a
/// hurry.
pub(crate) fn page(findings: &Findings, figures: &[Figure]) -> Result<Document, Error> {
    let mut sections = vec![summary::found(findings, figures)];
    sections.push(isolation::chapter(Language::English, findings));
    sections.extend(readings::refused(findings));
    sections.extend(summary::signed(findings));
    let mut annex = Vec::new();
    annex.extend(adjuster::chapter(findings, figures));
    annex.extend(readings::table(findings));
    annex.extend(readings::plots(figures));
    annex.extend(readings::photos(findings)?);
    annex.push(method::verdicts(findings));
    annex.push(method::measuring(findings));
    annex.push(method::cautions(findings));
    annex.extend(evidence::digests(findings));
    Ok(Document {
        language: Language::English,
        title: format!("Cut-off report, job {}", findings.job.job),
        heading: format!("Where the dipped beam falls: job {}", findings.job.job),
        opening: summary::opening(findings)?,
        sections,
        annex,
    })
}

/// Plots with their captions, side by side where there is room.
fn plot_grid<'a>(figures: impl IntoIterator<Item = &'a Figure>) -> Option<Block> {
    let drawn = |figure: &Figure| match &figure.drawing {
        Ok(svg) => Block::Drawing("", svg.clone(), figure.caption.clone()),
        Err(why) => Block::note(why.as_str()),
    };
    let blocks: Vec<Block> = figures.into_iter().map(drawn).collect();
    (!blocks.is_empty()).then_some(Block::Group("plots", blocks))
}
