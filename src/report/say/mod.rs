//! What is said of a job: a file for each theme, and here which parts of it stand in which text, in which order.
//!
//! Every sentence stands in one place. A text for the terminal is short and in one column; the page has room for why.

mod adjuster;
pub(crate) mod answer;
mod beside;
mod compact;
mod evidence;
pub(crate) mod isolation;
mod method;
pub(crate) mod readings;
pub(crate) mod summary;
mod verified;
pub(crate) mod wall;

use super::Error;
use super::document::{Block, Document, Margin, Section};
use super::evidence::Verified;
use super::plots::Figure;
pub(super) use answer::first_suspect;
pub(super) use isolation::{happening, mending};

use crate::isolate::Isolated;
use crate::language::{Language, said};
use crate::run::Findings;

/// What is said of photos that a program drew.
fn made_photos(language: Language, in_report: bool) -> &'static str {
    if in_report {
        language.pick(
            "The photos in this report are made (drawn by a program), not taken.",
            "Die Fotos in diesem Bericht sind erzeugt (von einem Programm gezeichnet), nicht aufgenommen.",
        )
    } else {
        language.pick(
            "The photos are made (drawn by a program), not taken.",
            "Die Fotos sind erzeugt (von einem Programm gezeichnet), nicht aufgenommen.",
        )
    }
}

/// For the terminal: what a job's photos gave, the answer last, since a terminal shows its end. Many photos are shown by lamp
/// and stage; with `explain`, a line each, and then what each uncertainty is made of.
pub(crate) fn readings(language: Language, findings: &Findings, explain: bool) -> Document {
    let compact = !explain && compact::is_wanted(findings);
    let mut sections = if compact {
        compact::sections(language, findings)
    } else {
        vec![
            readings::lines(language, findings),
            readings::legend(language, findings),
        ]
    };
    sections.push(summary::entered(language, findings));
    let remarks = readings::remarks(language, findings, explain);
    if compact {
        sections.extend([adjuster::remarks(language, findings, false), remarks]);
    } else {
        sections.extend([
            remarks,
            adjuster::travels(language, findings),
            adjuster::remarks(language, findings, true),
        ]);
    }
    sections.push(isolation::outline(language, findings));
    sections.extend(method::confidence(language, findings).map(|said| Section::new("", vec![Block::text(said)])));
    if explain {
        sections.extend(method::budgets(language, findings));
    }
    sections.push(answer::section(language, findings));
    Document {
        language,
        sections,
        ..Document::default()
    }
}

/// For the terminal: which part is at fault. `job` is the file into which the next trial is written.
pub(crate) fn isolation(language: Language, isolated: &Isolated, job: &str) -> Document {
    let mut sections = isolation::sections(language, isolated, Some(job));
    sections.push(Section {
        margin: Margin::Flush,
        ..Section::new("", vec![Block::text(crate::disclaimer(language))])
    });
    Document {
        language,
        heading: isolated.system.name.within(language).to_owned(),
        sections,
        ..Document::default()
    }
}

/// For the terminal: what came of reading a report's evidence again.
pub(crate) fn verified(language: Language, verified: &Verified) -> Document {
    Document {
        language,
        sections: verified::sections(language, verified),
        ..Document::default()
    }
}

/// The page: what was found, what was refused, the figures, and then what they rest on; the order is that of a reader in a
/// hurry.
pub(crate) fn page(language: Language, findings: &Findings, figures: &[Figure]) -> Result<Document, Error> {
    let mut sections = vec![summary::found(language, findings, figures)];
    sections.push(isolation::chapter(language, findings));
    sections.extend(readings::refused(language, findings));
    let mut annex = Vec::new();
    let job = &findings.job.job;
    annex.extend(adjuster::chapter(language, findings, figures));
    annex.extend(readings::table(language, findings));
    annex.extend(readings::plots(language, figures));
    annex.extend(readings::photos(language, findings, readings::Drawing::Done)?);
    annex.push(method::verdicts(language, findings));
    annex.push(method::measuring(language, findings));
    annex.push(method::cautions(language, findings));
    annex.extend(evidence::digests(language, findings));
    Ok(Document {
        language,
        title: said!(language; "Cut-off report, job {job}", "Bericht zur Hell-Dunkel-Grenze, Auftrag {job}"),
        heading: said!(language; "Where the dipped beam falls: job {job}", "Wohin das Abblendlicht fällt: Auftrag {job}"),
        opening: summary::opening(language, findings)?,
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
