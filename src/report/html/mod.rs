//! `report.html`: one file that holds everything, to be read on a screen, on a phone or on paper.
//!
//! The order is that of a reader in a hurry: what was found, what was refused, the figures, and then what they rest on.
//! The page runs no script and loads nothing, and says so to the browser, too.

/// Writes to a string, which cannot fail.
macro_rules! put {
    ($page:expr, $($part:tt)*) => {{ let _ = writeln!($page, $($part)*); }};
}

mod adjuster;
mod icons;
mod isolation;
mod overlay;

use super::plots::Figure;
use super::results::{MeasuredResult, ReadingResult, Results, ShareName, ShotResult, VerdictResult};
use super::text::{escape, fixed, signed, u95};
use super::words::{direction, lamp_and_stage, likely, reason, sentence, setting};
use super::{Error, Findings};
use crate::DISCLAIMER;
use crate::adjuster::Movement;
use crate::aim::{Outcome, Use};
use crate::record::{HeightsFrom, Side, Stage};
use std::fmt::Write;

/// What a report says whose photos were drawn by a program.
pub const MADE_PHOTOS: &str = "The photos in this report are made (drawn by a program), not taken.";

const STYLE: &str = include_str!("style.css");

/// The page as one HTML document; `figures` are those of [`super::plots::figures`].
///
/// # Errors
/// [`Error`] when a picture cannot be encoded.
pub fn render(findings: &Findings, figures: &[Figure]) -> Result<String, Error> {
    let results = Results::new(findings);
    let mut page = String::new();
    head(&mut page, &results);
    summary(&mut page, &results);
    refusals(&mut page, &results);
    adjuster::section(&mut page, &results, figures);
    isolation::section(&mut page, findings);
    table(&mut page, &results);
    plot_section(&mut page, figures);
    photos(&mut page, findings, &results)?;
    tolerances(&mut page, &results);
    method(&mut page, &results);
    cautions(&mut page);
    evidence(&mut page, &results);
    page.push_str("</body>\n</html>\n");
    Ok(page)
}

fn head(page: &mut String, results: &Results) {
    let job = escape(&results.job);
    put!(
        page,
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src 'unsafe-inline'\">\n\
         <meta name=\"generator\" content=\"{}\">\n<title>Cut-off report, job {job}</title>\n<style>\n{STYLE}</style>\n\
         </head>\n<body>",
        escape(&results.program)
    );
    put!(page, "<header>\n<h1>Where the dipped beam falls: job {job}</h1>");
    put!(page, "<dl class=\"head\">");
    if let Some(vehicle) = &results.vehicle {
        put!(page, "<dt>Vehicle</dt><dd>{}</dd>", escape(vehicle));
    }
    put!(page, "<dt>Bay</dt><dd>{}</dd>", escape(&results.bay.name));
    put!(page, "<dt>Built for</dt><dd>{}-hand traffic</dd>", results.traffic);
    let refused = results.shots.iter().filter(|s| s.measured().is_none()).count();
    put!(
        page,
        "<dt>Photos</dt><dd>{} listed, {} gave a figure, {refused} refused</dd>",
        results.shots.len(),
        results.shots.len() - refused
    );
    put!(page, "<dt>Read by</dt><dd>{}</dd>\n</dl>", escape(&results.program));
    if results.made_photos {
        put!(page, "<p class=\"banner\">{MADE_PHOTOS}</p>");
    }
    put!(page, "<p class=\"law\">{DISCLAIMER}</p>\n</header>");
}

/// Lamps and stages in the order in which the job first names them.
fn groups(results: &Results) -> Vec<(Side, Option<Stage>)> {
    let mut groups = Vec::new();
    for shot in &results.shots {
        let key = (shot.lamp, shot.stage);
        if !groups.contains(&key) {
            groups.push(key);
        }
    }
    groups
}

fn summary(page: &mut String, results: &Results) {
    put!(page, "<main>\n<section>\n<h2>What was found</h2>");
    for warning in &results.warnings {
        put!(page, "<p class=\"note\">Note: {}</p>", escape(warning));
    }
    if results.shots.is_empty() {
        put!(
            page,
            "<p>The job lists no photos, so nothing was found.</p>\n</section>"
        );
        return;
    }
    put!(
        page,
        "<p>Inclination is how far the cut-off drops per 100 of distance: 1 % is 100 mm at 10 m. More is lower. Each \
         figure stands with the half-width of its 95 % interval. A beam “moves” when the whole interval of its travel \
         lies beyond {} %, and “does not move” when the whole interval lies within it.</p>\n\
         <div class=\"groups\">",
        results.adjuster.least_travel_percent
    );
    for key in groups(results) {
        group(page, results, key);
    }
    put!(page, "</div>\n</section>");
}

fn group(page: &mut String, results: &Results, (lamp, stage): (Side, Option<Stage>)) {
    let found = &results.adjuster;
    let travel = found.travel.iter().find(|t| t.lamp == lamp && t.stage == stage);
    let pumped: Vec<_> = found
        .response
        .iter()
        .filter(|r| r.lamp == lamp && r.stage == stage)
        .collect();
    let shut: Vec<_> = found
        .leak_down
        .iter()
        .filter(|l| l.lamp == lamp && l.stage == stage)
        .collect();
    put!(
        page,
        "<article class=\"group\">\n<h3>{}</h3>",
        sentence(&lamp_and_stage(lamp, stage))
    );
    if let Some((movement, words)) = travel.and_then(adjuster::travel_words) {
        put!(
            page,
            "<p class=\"lead\">{}Range control: the beam <strong>{words}</strong>.</p>",
            icons::movement(movement)
        );
    } else if !pumped.iter().any(|r| r.movement.is_some()) && shut.is_empty() {
        put!(
            page,
            "<p class=\"lead\">{}<strong>Cannot tell</strong> whether the beam moves: fewer than two positions were \
             read.</p>",
            icons::movement(Movement::CannotTell)
        );
    }
    for response in &pumped {
        let Some(movement) = response.movement else { continue };
        put!(
            page,
            "<p class=\"lead\">{}With the pump: the beam <strong>{}</strong>.</p>",
            icons::movement(movement),
            match movement {
                Movement::CannotTell => "cannot be said to move or to stand still",
                Movement::Moves => "moves",
                Movement::Still => "does not move",
            }
        );
    }
    for leak in &shut {
        put!(
            page,
            "<p class=\"lead\">{}Pump's valve shut: <strong>{}</strong>.</p>",
            adjuster::leak_sign(leak.state),
            leak.state
        );
    }
    put!(page, "<ul>");
    for fault in travel.iter().flat_map(|t| &t.faults) {
        put!(page, "<li>{}</li>", escape(&sentence(&fault.to_string())));
    }
    for step in travel.iter().flat_map(|t| &t.steps) {
        put!(
            page,
            "<li>Position {} to {}: {} {} % ± {} %, <span class=\"word\">{}</span></li>",
            escape(&step.from),
            escape(&step.to),
            direction(step.percent),
            fixed(step.percent.abs(), 2),
            u95(step.u95_percent),
            step.movement
        );
    }
    for words in pumped.iter().flat_map(|r| adjuster::response_words(r)) {
        put!(page, "<li>{}</li>", escape(&words));
    }
    for leak in &shut {
        put!(
            page,
            "<li>Pump's valve shut: {}</li>",
            escape(&leak.finding.to_string())
        );
    }
    let of_group = results.shots.iter().filter(|s| {
        s.lamp == lamp && s.stage == stage && (s.position.is_some() || s.vacuum_mbar.is_none()) && !s.sealed
    });
    for shot in of_group {
        let at = shot
            .position
            .as_ref()
            .map_or_else(|| "No position given".to_owned(), |p| format!("Position {p}"));
        let settle = settle(shot).map(|words| format!("<br>{words}")).unwrap_or_default();
        put!(page, "<li>{}: {}{settle}</li>", escape(&at), one_line(shot));
    }
    put!(page, "</ul>\n</article>");
}

/// A shot's figure and verdict, or its refusal, on one line.
fn one_line(shot: &ShotResult) -> String {
    match &shot.result {
        ReadingResult::Refused { reason: why, .. } => format!(
            "<span class=\"word\">{}refused</span>, {}",
            icons::refused(),
            reason(*why)
        ),
        ReadingResult::Measured(m) => {
            let figure = inclination(m);
            m.verdict.as_ref().map_or_else(
                || format!("{figure}, not judged"),
                |v| {
                    format!(
                        "{figure}, allowed {} % to {} %: {}",
                        fixed(v.low_percent, 2),
                        fixed(v.high_percent, 2),
                        verdict(v, m.inclination.percent)
                    )
                },
            )
        }
    }
}

/// What would settle an undecided verdict, as HTML.
fn settle(shot: &ShotResult) -> Option<String> {
    let words = shot.measured()?.verdict.as_ref()?.settle.as_ref()?;
    Some(format!("<strong>To settle it:</strong> {}.", escape(words)))
}

fn inclination(m: &MeasuredResult) -> String {
    format!(
        "{} % ± {} %",
        fixed(m.inclination.percent, 2),
        u95(m.inclination.u95_percent)
    )
}

fn verdict(v: &VerdictResult, percent: f64) -> String {
    let words = match v.outcome {
        Outcome::Inside => "inside",
        Outcome::Outside if percent < v.low_percent => "outside, too high",
        Outcome::Outside => "outside, too low",
        Outcome::Undecided => "undecided",
    };
    let rest = if v.outcome == Outcome::Undecided {
        format!(
            " (a limit lies within the interval; {} likely to be inside)",
            likely(v.probability_inside)
        )
    } else {
        String::new()
    };
    format!("<span class=\"word\">{}{words}</span>{rest}", icons::outcome(v.outcome))
}

fn refusals(page: &mut String, results: &Results) {
    let refused: Vec<(&ShotResult, &str, String)> = results
        .shots
        .iter()
        .filter_map(|shot| match &shot.result {
            ReadingResult::Refused { reason: why, message } => Some((shot, reason(*why), escape(message))),
            ReadingResult::Measured(_) => None,
        })
        .collect();
    if refused.is_empty() {
        return;
    }
    put!(
        page,
        "<section>\n<h2>What was refused, and how to mend it</h2>\n<p>A photo that could give a wrong figure gives none. \
         Mend what is named and take it again.</p>"
    );
    for (shot, why, message) in refused {
        put!(
            page,
            "<div class=\"refusal\">\n<h3 class=\"name\">{}{}</h3>\n<p class=\"sub\">{}</p>\n<p><strong>Refused: {why}.\
             </strong> {message}</p>\n</div>",
            icons::refused(),
            escape(&shot.photo),
            escape(&what_it_shows(shot))
        );
    }
    put!(page, "</section>");
}

/// "left lamp, after the repair; position 1".
fn what_it_shows(shot: &ShotResult) -> String {
    format!(
        "{}; {}",
        lamp_and_stage(shot.lamp, shot.stage),
        setting(shot.position.as_deref(), shot.vacuum_mbar, shot.branch, shot.sealed)
    )
}

fn table(page: &mut String, results: &Results) {
    if results.shots.is_empty() {
        return;
    }
    put!(
        page,
        "<section>\n<h2>All readings</h2>\n<table class=\"cards\">\n<thead><tr>"
    );
    for (class, title) in COLUMNS {
        put!(page, "<th scope=\"col\" class=\"{class}\">{title}</th>");
    }
    put!(page, "</tr></thead>\n<tbody>");
    for shot in &results.shots {
        let m = shot.measured();
        let v = m.and_then(|m| m.verdict.as_ref());
        let cells = [
            escape(&shot.photo),
            shot.lamp.to_string(),
            shot.stage.map(|s| s.to_string()).unwrap_or_default(),
            escape(&setting(
                shot.position.as_deref(),
                shot.vacuum_mbar,
                shot.branch,
                shot.sealed,
            )),
            m.map(|m| {
                format!(
                    "{} ± {}",
                    fixed(m.inclination.percent, 2),
                    u95(m.inclination.u95_percent)
                )
            })
            .unwrap_or_default(),
            m.map(|m| fixed(m.drop_mm, 0)).unwrap_or_default(),
            m.and_then(|m| m.reach_m).map(|r| fixed(r, 0)).unwrap_or_default(),
            v.map(|v| format!("{} to {}", fixed(v.low_percent, 2), fixed(v.high_percent, 2)))
                .unwrap_or_default(),
            match (&shot.result, m, v) {
                (_, Some(m), Some(v)) => verdict_word(v, m),
                (_, Some(_), None) => "not judged".to_owned(),
                (ReadingResult::Refused { reason, .. }, ..) => {
                    format!(
                        "<span><span class=\"word\">{}refused</span>: {reason}</span>",
                        icons::refused()
                    )
                }
                (ReadingResult::Measured(_), ..) => String::new(),
            },
        ];
        page.push_str("<tr>");
        for ((class, title), cell) in COLUMNS.iter().zip(cells) {
            let _ = write!(page, "<td class=\"{class}\" data-label=\"{title}\">{cell}</td>");
        }
        page.push_str("</tr>\n");
    }
    put!(
        page,
        "</tbody>\n</table>\n<p class=\"note\">Inclination, drop and reach are those of the cut-off: the drop is below \
         the lamp's centre at the wall; the reach is where the cut-off meets a level road. ± is the half-width of the \
         95 % interval with everything in it.</p>"
    );
    put!(page, "</section>");
}

const COLUMNS: [(&str, &str); 9] = [
    ("name", "Photo"),
    ("", "Lamp"),
    ("", "Stage"),
    ("at", "Range control"),
    ("figure", "Inclination, %"),
    ("figure", "Drop, mm"),
    ("figure", "Reach, m"),
    ("figure", "Allowed, %"),
    ("", "Verdict"),
];

fn verdict_word(v: &VerdictResult, m: &MeasuredResult) -> String {
    let words = match v.outcome {
        Outcome::Outside if m.inclination.percent < v.low_percent => "outside, too high".to_owned(),
        Outcome::Outside => "outside, too low".to_owned(),
        other => other.to_string(),
    };
    format!(
        "<span><span class=\"word\">{}{words}</span> ({})</span>",
        icons::outcome(v.outcome),
        v.band
    )
}

fn plot_section(page: &mut String, figures: &[Figure]) {
    let shown: Vec<&Figure> = figures.iter().filter(|f| !f.is_of_adjuster()).collect();
    if shown.is_empty() {
        return;
    }
    put!(page, "<section>\n<h2>Plots</h2>");
    plot_grid(page, shown);
    put!(page, "</section>");
}

/// Plots with their captions, side by side where there is room.
fn plot_grid<'a>(page: &mut String, figures: impl IntoIterator<Item = &'a Figure>) {
    put!(page, "<div class=\"plots\">");
    for figure in figures {
        match &figure.drawing {
            Ok(svg) => put!(
                page,
                "<figure>{}<figcaption>{}</figcaption></figure>",
                svg.trim(),
                escape(&figure.caption)
            ),
            Err(why) => put!(page, "<p class=\"note\">{}</p>", escape(why)),
        }
    }
    put!(page, "</div>");
}

fn photos(page: &mut String, findings: &Findings, results: &Results) -> Result<(), Error> {
    if results.shots.is_empty() {
        return Ok(());
    }
    put!(page, "<section>\n<h2>Each photo</h2>");
    for (reading, shot) in findings.readings.iter().zip(&results.shots) {
        put!(
            page,
            "<section class=\"shot\">\n<h3 class=\"name\">{}</h3>\n<p class=\"sub\">{}{}</p>",
            escape(&shot.photo),
            escape(&what_it_shows(shot)),
            shot.taken
                .as_ref()
                .map(|t| format!("; taken {}", escape(&t.replace('T', " "))))
                .unwrap_or_default()
        );
        put!(page, "<p>{}</p>", one_line(shot));
        if let Some(words) = settle(shot) {
            put!(page, "<p>{words}</p>");
        }
        let pictures = overlay::pictures(reading, &findings.bay, findings.job.traffic)?;
        if pictures.is_empty() {
            put!(
                page,
                "<p class=\"note\">There is no picture of this photo square to the wall.</p>"
            );
        } else {
            put!(page, "<div class=\"pictures\">\n{pictures}</div>");
        }
        match &shot.result {
            ReadingResult::Measured(m) => measured_facts(page, m),
            ReadingResult::Refused { message, .. } => put!(page, "<p>{}</p>", escape(message)),
        }
        put!(page, "</section>");
    }
    put!(page, "</section>");
    Ok(())
}

fn measured_facts(page: &mut String, m: &MeasuredResult) {
    let cutoff = &m.cutoff;
    let mut facts = vec![
        ("Inclination", inclination(m)),
        ("As an angle", format!("{}°", fixed(m.degrees, 3))),
        ("Drop at the wall", format!("{} mm", fixed(m.drop_mm, 1))),
        (
            "Reach",
            m.reach_m
                .map_or_else(|| "does not come down".to_owned(), |r| format!("{} m", fixed(r, 1))),
        ),
        (
            "Sharpness G",
            format!("{}{}", fixed(cutoff.sharpness_g, 2), sharpness(cutoff.sharpness_g)),
        ),
        ("Linearity", format!("{}°", fixed(cutoff.linearity_deg, 2))),
        ("Tilt", format!("{}°", signed(cutoff.tilt_deg, 2))),
        ("Pattern", cutoff.pattern.to_string()),
    ];
    if let Some(elbow) = &cutoff.elbow {
        if let Some(lateral) = elbow.lateral_percent {
            facts.push(("Elbow beside V-V", format!("{} %", signed(lateral, 2))));
        }
        facts.push(("Kick", format!("{}°", fixed(elbow.kick_deg, 1))));
    }
    if let Some(plain) = cutoff.plain_percent {
        facts.push(("Plain inflection", format!("{} %", fixed(plain, 2))));
    }
    if let Some(threshold) = cutoff.threshold_percent {
        facts.push(("Half brightness", format!("{} %", fixed(threshold, 2))));
    }
    put!(page, "<dl class=\"facts\">");
    for (name, value) in facts {
        put!(page, "<div><dt>{name}</dt><dd>{value}</dd></div>");
    }
    put!(page, "</dl>");
    for warning in &m.warnings {
        put!(page, "<p><strong>Note:</strong> {}</p>", escape(warning));
    }
    put!(
        page,
        "<details><summary>What the uncertainty is made of</summary>\n<table>\n<thead><tr><th scope=\"col\">Term</th>\
         <th scope=\"col\">The same in</th><th scope=\"col\" class=\"figure\">± %</th></tr></thead>\n<tbody>"
    );
    for term in &m.budget {
        let share = match term.share {
            ShareName::Job => "all photos of the job",
            ShareName::Photo => "this photo only",
        };
        put!(
            page,
            "<tr><td>{}</td><td>{share}</td><td class=\"figure\">{}</td></tr>",
            escape(&term.name),
            fixed(term.u95_percent, 3)
        );
    }
    put!(
        page,
        "<tr><td><strong>Together</strong></td><td>counts for the verdict</td><td class=\"figure\"><strong>{}</strong>\
         </td></tr>\n<tr><td>This photo only</td><td>counts for a travel</td><td class=\"figure\">{}</td></tr>\n\
         </tbody>\n</table>\n<p class=\"note\">Half-widths of 95 % intervals; they add as squares.</p></details>",
        fixed(m.inclination.u95_percent, 3),
        fixed(m.inclination.reading_u95_percent, 3)
    );
}

/// What UN R112's cut-off quality annex says of a sharpness; it wants 0.13 to 0.40.
fn sharpness(g: f64) -> &'static str {
    if g < 0.13 {
        " (soft)"
    } else if g > 0.40 {
        " (hard)"
    } else {
        ""
    }
}

fn tolerances(page: &mut String, results: &Results) {
    put!(page, "<section>\n<h2>What the verdicts rest on</h2>");
    match &results.table {
        None => put!(
            page,
            "<p>The job names no tolerance table, so that nothing was judged. Name one with <code>tolerance</code> in the \
             job file.</p>"
        ),
        Some(t) => {
            put!(page, "<dl class=\"head\">");
            for (name, value) in [
                ("Table", format!("{} ({})", t.title, t.name)),
                ("Source", t.source.clone()),
                ("Edition", t.edition.clone()),
                ("Read on", t.read.clone()),
                ("Confidence", t.confidence.clone()),
                ("Note", t.note.clone()),
            ] {
                if !value.is_empty() {
                    put!(page, "<dt>{name}</dt><dd>{}</dd>", escape(&value));
                }
            }
            put!(
                page,
                "</dl>\n<p>The table has two bands. Position 0, or no position, is judged by the <em>setting</em>: as set \
                 up, lightly loaded. The other positions are judged by the <em>range</em>: what the beam must keep to over \
                 all loads. A reading is <em>inside</em> or <em>outside</em> when its whole 95 % interval is, and \
                 <em>undecided</em> where a limit lies within the interval. How likely an undecided one is to be inside is the \
                 probability of conformity of JCGM 106:2012 for a normal state of knowledge; it decides nothing here.</p>"
            );
        }
    }
    put!(page, "</section>");
}

fn method(page: &mut String, results: &Results) {
    let flat = if results.traffic.flat_side_sign() < 0.0 {
        "left"
    } else {
        "right"
    };
    put!(
        page,
        "<section>\n<h2>How it was measured</h2>\n\
         <p>The marks on the wall give the place on the wall of every pixel of a photo. On vertical scans through the beam \
         the cut-off is the inflection of the logarithm of the illuminance, d²(log<sub>10</sub> E)/dβ² = 0, where the step \
         down is steepest (UN Regulation No. 112, annex on the quality of the cut-off). The reading is the scan 2.5° from \
         the lamp's vertical V-V on the flat side of the pattern, here the {flat}; the scans at 1.5° and 3.5° give the \
         linearity. Sharpness G is the largest drop of log<sub>10</sub> E over 0.1°; approval \
         wants 0.13 to 0.40. “Plain inflection” and “half brightness” are two other ways to place the edge, for comparison \
         only.</p>\n\
         <p>The inclination is the tangent, in per cent, of the downward angle of the cut-off against the vehicle's \
         reference plane (wording of ISO 10604): the drop below the lamp's centre, over the distance from lamp to wall. \
         Positive is downward.</p>\n\
         <p>Each ± is the half-width of a 95 % interval (1.96 standard deviations of all terms together). It holds the \
         photo, the marks' places and the tape measures; what it cannot hold is a wrong figure in the job file.</p>"
    );
    put!(page, "<ul>");
    put!(
        page,
        "<li>Bay: {} sheets, taped to ± {} mm (one standard deviation). {}</li>",
        results.bay.sheets,
        fixed(results.bay.position_sd_mm, 1),
        match results.bay.heights_from {
            HeightsFrom::Floor => "Heights are from the floor, which runs on to the wall in one plane.".to_owned(),
            HeightsFrom::LevelLine => format!(
                "Heights are from one level line; the standing area rises by {} % towards the wall, which is added to \
                 each inclination.",
                fixed(results.bay.grade_percent, 2)
            ),
        }
    );
    for lamp in &results.lamps {
        put!(
            page,
            "<li>{} lamp: centre {} mm high (± {} mm, one standard deviation), {} mm from the wall (± {} mm), {} mm to \
             the {} of the bay's centre line.</li>",
            if lamp.side == Side::Left { "Left" } else { "Right" },
            fixed(lamp.centre_height_mm, 0),
            fixed(lamp.centre_height_sd_mm, 1),
            fixed(lamp.distance_mm, 0),
            fixed(lamp.distance_sd_mm, 0),
            fixed(lamp.centre_x_mm.abs(), 0),
            if lamp.centre_x_mm < 0.0 { "left" } else { "right" }
        );
    }
    put!(page, "</ul>\n</section>");
}

fn cautions(page: &mut String) {
    put!(
        page,
        "<section>\n<h2>Cautions</h2>\n<ul>\n\
         <li><strong>Engine running indoors:</strong> exhaust gas holds carbon monoxide, which cannot be smelt and kills. \
         Draw it off or open the doors. Keep hands, sleeves and hoses clear of belts and fans.</li>\n\
         <li><strong>The car can roll:</strong> apply the brake and chock the wheels before anybody stands between car and \
         wall.</li>\n\
         <li><strong>Hot lamps:</strong> a lamp that was lit burns fingers for minutes. Let it cool.</li>\n\
         <li><strong>High voltage:</strong> gas-discharge lamps start with thousands of volts. Leave their wiring alone \
         unless you are trained for it.</li>\n\
         <li><strong>Glare:</strong> do not look into the beam, and do not aim it where it dazzles others.</li>\n\
         </ul>\n<p class=\"law\">{DISCLAIMER}</p>\n</section>"
    );
}

fn evidence(page: &mut String, results: &Results) {
    if results.shots.is_empty() {
        put!(page, "</main>");
        return;
    }
    put!(
        page,
        "<section>\n<h2>Evidence</h2>\n<p>The SHA-256 digest of each photo's file. A photo that was changed afterwards has \
         another one.</p>\n<table class=\"cards stack\">\n<thead><tr><th scope=\"col\">Photo</th><th scope=\"col\">Taken</th>\
         <th scope=\"col\">Exposure</th><th scope=\"col\">SHA-256</th></tr></thead>\n<tbody>"
    );
    for shot in &results.shots {
        put!(
            page,
            "<tr><td class=\"name\" data-label=\"Photo\">{}</td><td data-label=\"Taken\">{}</td>\
             <td data-label=\"Exposure\">{}</td><td data-label=\"SHA-256\"><code>{}</code></td></tr>",
            escape(&shot.photo),
            shot.taken
                .as_ref()
                .map_or_else(|| "not known".to_owned(), |t| escape(&t.replace('T', " "))),
            exposure(shot),
            shot.sha256
                .as_ref()
                .map_or_else(|| "could not be read".to_owned(), |digest| escape(digest))
        );
        for other in &shot.other_photos {
            put!(
                page,
                "<tr><td class=\"name\" data-label=\"Photo\">{}</td><td colspan=\"2\" data-label=\"Use\">{}, for {}</td>\
                 <td data-label=\"SHA-256\"><code>{}</code></td></tr>",
                escape(&other.photo.display().to_string()),
                match other.used_as {
                    Use::Bracket => "at another exposure",
                    Use::LampOff => "with the lamp off",
                },
                escape(&shot.photo),
                escape(&other.sha256)
            );
        }
    }
    put!(page, "</tbody>\n</table>\n</section>\n</main>");
}

fn exposure(shot: &ShotResult) -> String {
    let c = &shot.capture;
    let mut parts = Vec::new();
    if let Some(s) = c.exposure_s {
        parts.push(if s < 0.3 && s > 0.0 {
            format!("1/{:.0} s", 1.0 / s)
        } else {
            format!("{s} s")
        });
    }
    if let Some(f) = c.f_number {
        parts.push(format!("f/{f}"));
    }
    if let Some(iso) = c.iso {
        parts.push(format!("ISO {iso}"));
    }
    if parts.is_empty() {
        "not known".to_owned()
    } else {
        parts.join(", ")
    }
}
