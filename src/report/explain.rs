//! The uncertainty budget of each shot and of each travel as text, after the tables of the GUM (JCGM 100:2008, annex H;
//! its combination by the root sum of squares is 5.1.2).

use super::Findings;
use super::results::{Inclination, Results, ShareName, ShotResult};
use super::text::{fixed, pad, plain, shorten, signed, wrap};
use super::words::{lamp_and_stage, setting};
use crate::adjuster::{LampTravel, TravelStep};
use crate::aim::{COVERAGE_FACTOR_95, Share, ShotReading, Source, Term};
use crate::record::{Side, Stage};

/// Width of a terminal that nobody has widened.
const COLUMNS: usize = super::table::COLUMNS;
/// Columns of a term's name; the longest has 33.
const NAME: usize = 34;
/// Columns of a bar as long as the whole variance.
const BAR: usize = 15;

/// The budgets, at most 80 columns wide: for each shot that gave a figure every term, largest first, with its standard
/// uncertainty in per cent and in mm at the wall and its share of the variance; then what remains of them in a travel.
#[must_use]
pub fn render(findings: &Findings) -> String {
    let results = Results::new(findings);
    let mut lines = vec![String::new()];
    lines.extend(wrap(
        "How the uncertainty is made up. sd: one standard uncertainty. share: of the variance. job: the same in all \
         photos of the job, so that it cancels in a travel; photo: differs from photo to photo.",
        COLUMNS,
        2,
    ));
    for (shot, reading) in results.shots.iter().zip(&findings.readings) {
        if let Some(measured) = shot.measured() {
            lines.push(String::new());
            lines.extend(wrap(&format!("{}: {}", plain(&shot.photo), what(shot)), COLUMNS, 2));
            let of = &measured.inclination;
            lines.push(format!(
                "  inclination {} %; 1 % is {} mm at the wall",
                signed(of.percent, 4),
                fixed(reading.lamp.distance_mm / 100.0, 1)
            ));
            budget_lines(of, reading.lamp.distance_mm, &mut lines);
        }
    }
    for lamp in &findings.adjuster.travel {
        for step in &lamp.steps {
            lines.push(String::new());
            travel_lines(lamp, step, &findings.readings, &mut lines);
        }
    }
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}

fn what(shot: &ShotResult) -> String {
    format!(
        "{}; {}",
        lamp_and_stage(shot.lamp, shot.stage),
        plain(&setting(
            shot.position.as_deref(),
            shot.vacuum_mbar,
            shot.branch,
            shot.sealed
        ))
    )
}

fn row(name: &str, share: &str, sd_percent: f64, distance_mm: f64) -> String {
    format!(
        "  {} {} {:>7} {:>6}",
        pad(&shorten(name, NAME), NAME),
        pad(share, 5),
        fixed(sd_percent, 4),
        fixed(sd_percent / 100.0 * distance_mm, 2)
    )
}

fn head() -> String {
    format!(
        "  {} {} {:>7} {:>6} {:>6}",
        pad("term", NAME),
        pad("of", 5),
        "sd %",
        "sd mm",
        "share"
    )
}

fn budget_lines(of: &Inclination, distance_mm: f64, lines: &mut Vec<String>) {
    let variance: f64 = of.budget.iter().map(|term| term.sd_percent.powi(2)).sum();
    let mut terms: Vec<_> = of.budget.iter().collect();
    terms.sort_by(|a, b| b.sd_percent.total_cmp(&a.sd_percent));
    lines.push(head());
    for term in terms {
        let share = term.sd_percent.powi(2) / variance;
        let share = if share.is_finite() { share } else { 0.0 };
        lines.push(format!(
            "{} {:>4} % {}",
            row(
                &plain(&term.name),
                &term.share.to_string(),
                term.sd_percent,
                distance_mm
            ),
            fixed(100.0 * share, 0),
            bar(share, term.share)
        ));
    }
    let sd_percent = variance.sqrt();
    lines.push(format!(
        "{}  100 %",
        row("combined (root sum of squares)", "", sd_percent, distance_mm)
    ));
    for (name, u95_percent) in [
        (format!("x {COVERAGE_FACTOR_95} = 95 % half-width"), of.u95_percent),
        ("  of it what differs by photo".to_owned(), of.reading_u95_percent),
    ] {
        lines.push(row(&name, "", u95_percent, distance_mm));
    }
}

/// A bar in proportion to a share of the variance: `#` for the job's terms, `=` for the photo's; a dot for one too
/// small to draw.
fn bar(share: f64, of: ShareName) -> String {
    let count = (share * BAR as f64).round().clamp(0.0, BAR as f64) as usize;
    let sign = match of {
        ShareName::Job => "#",
        ShareName::Photo => "=",
    };
    if count == 0 && share > 0.0 {
        ".".to_owned()
    } else {
        sign.repeat(count)
    }
}

/// What remains of the terms in a travel: those of the photos, from both ends.
fn travel_lines(lamp: &LampTravel, travel: &TravelStep, readings: &[ShotReading], lines: &mut Vec<String>) {
    let ends = [&travel.from, &travel.to].map(|position| photos_at(lamp.lamp, lamp.stage, position, readings));
    lines.extend(wrap(
        &format!(
            "Travel, {}: position {} to {}: {} ± {} %",
            lamp_and_stage(lamp.lamp, lamp.stage),
            shorten(&plain(&travel.from), 13),
            shorten(&plain(&travel.to), 13),
            signed(travel.percent, 4),
            fixed(travel.u95_percent, 4)
        ),
        COLUMNS,
        2,
    ));
    let Some(distance_mm) = ends.iter().flatten().next().map(|r| r.lamp.distance_mm) else {
        return;
    };
    // Several photos of a position are averaged: each term counts by the root of the sum of squares over their number.
    let mut sources: Vec<Source> = Vec::new();
    for term in ends.iter().flatten().flat_map(|r| photo_terms(r)) {
        if !sources.contains(&term.source) {
            sources.push(term.source);
        }
    }
    let variance_of = |source: Source| -> f64 {
        ends.iter()
            .map(|photos| {
                let squares: f64 = photos
                    .iter()
                    .flat_map(|r| photo_terms(r))
                    .filter(|term| term.source == source)
                    .map(|term| term.sd_percent.powi(2))
                    .sum();
                squares / (photos.len().max(1) as f64).powi(2)
            })
            .sum()
    };
    lines.push(head().trim_end_matches("share").to_owned());
    let mut left = (travel.u95_percent / COVERAGE_FACTOR_95).powi(2);
    let all = left;
    for source in sources {
        let variance = variance_of(source);
        left -= variance;
        lines.push(row(source.name(), "photo", variance.sqrt(), distance_mm));
    }
    if left > 1e-3 * all {
        lines.push(row("scatter and what does not cancel", "", left.sqrt(), distance_mm));
    }
    lines.push(row("combined (root sum of squares)", "", all.sqrt(), distance_mm));
    lines.push(row(
        &format!("x {COVERAGE_FACTOR_95} = 95 % half-width"),
        "",
        travel.u95_percent,
        distance_mm,
    ));
    lines.push("  (the job's terms are the same in both photos and cancel)".to_owned());
}

fn photos_at<'a>(
    lamp: Side,
    stage: Option<Stage>,
    position: &str,
    readings: &'a [ShotReading],
) -> Vec<&'a ShotReading> {
    readings
        .iter()
        .filter(|r| {
            r.shot.lamp == lamp
                && r.shot.stage == stage
                && r.shot.position.as_deref() == Some(position)
                && !r.shot.is_pumped()
                && r.result.is_ok()
        })
        .collect()
}

/// The terms of what differs from photo to photo.
fn photo_terms(reading: &ShotReading) -> impl Iterator<Item = &Term> {
    let measured = reading.result.as_ref().ok();
    let budget = measured.map(|m| m.aim.budget.as_slice()).unwrap_or_default();
    budget.iter().filter(|term| term.source.share() == Share::Photo)
}
