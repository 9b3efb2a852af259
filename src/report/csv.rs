//! `readings.csv`: one line a shot, for a spreadsheet (RFC 4180).

use super::results::{Results, ShotResult};
use super::text::plain;

/// The columns, with the units in their names.
pub const HEADER: [&str; 35] = [
    "photo",
    "lamp",
    "stage",
    "position",
    "vacuum_mbar",
    "branch",
    "sealed",
    "taken",
    "status",
    "inclination_percent",
    "u95_percent",
    "reading_u95_percent",
    "drop_mm",
    "angle_deg",
    "reach_m",
    "sharpness_g",
    "linearity_deg",
    "tilt_deg",
    "elbow_lateral_percent",
    "kick_deg",
    "pattern",
    "threshold_percent",
    "plain_percent",
    "table",
    "band",
    "low_percent",
    "high_percent",
    "outcome",
    "probability_inside",
    "settle",
    "reason",
    "message",
    "warnings",
    "exposure_s",
    "sha256",
];

/// The readings as CSV. What there is no figure for is left empty. A text that a spreadsheet would take for a formula
/// gets an apostrophe before it; control characters are taken out.
///
/// # Errors
/// [`csv::Error`], which writing to memory gives no cause for.
pub fn readings(results: &Results) -> Result<String, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(HEADER)?;
    for shot in &results.shots {
        writer.write_record(row(shot))?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn row(shot: &ShotResult) -> [String; 35] {
    let measured = shot.measured();
    let cutoff = measured.map(|m| &m.cutoff);
    let elbow = cutoff.and_then(|c| c.elbow.as_ref());
    let verdict = measured.and_then(|m| m.verdict.as_ref());
    let (status, reason, message) = match &shot.result {
        super::results::ReadingResult::Measured(_) => ("measured", String::new(), String::new()),
        super::results::ReadingResult::Refused { reason, message } => {
            ("refused", reason.to_string(), harmless(message))
        }
    };
    [
        harmless(&shot.photo),
        shot.lamp.to_string(),
        text(shot.stage),
        shot.position.as_deref().map(harmless).unwrap_or_default(),
        text(shot.vacuum_mbar),
        text(shot.branch),
        if shot.sealed { "yes" } else { "no" }.to_owned(),
        shot.taken.as_deref().map(harmless).unwrap_or_default(),
        status.to_owned(),
        text(measured.map(|m| m.inclination.percent)),
        text(measured.map(|m| m.inclination.u95_percent)),
        text(measured.map(|m| m.inclination.reading_u95_percent)),
        text(measured.map(|m| m.drop_mm)),
        text(measured.map(|m| m.degrees)),
        text(measured.and_then(|m| m.reach_m)),
        text(cutoff.map(|c| c.sharpness_g)),
        text(cutoff.map(|c| c.linearity_deg)),
        text(cutoff.map(|c| c.tilt_deg)),
        text(elbow.and_then(|e| e.lateral_percent)),
        text(elbow.map(|e| e.kick_deg)),
        text(cutoff.map(|c| c.pattern)),
        text(cutoff.and_then(|c| c.threshold_percent)),
        text(cutoff.and_then(|c| c.plain_percent)),
        verdict.map(|v| harmless(&v.table)).unwrap_or_default(),
        text(verdict.map(|v| v.band)),
        text(verdict.map(|v| v.low_percent)),
        text(verdict.map(|v| v.high_percent)),
        text(verdict.map(|v| v.outcome)),
        text(verdict.map(|v| v.probability_inside)),
        verdict
            .and_then(|v| v.settle.as_deref())
            .map(harmless)
            .unwrap_or_default(),
        reason,
        message,
        measured.map(|m| harmless(&m.warnings.join(" / "))).unwrap_or_default(),
        text(shot.capture.exposure_s),
        shot.sha256.clone().unwrap_or_default(),
    ]
}

fn text(value: Option<impl std::fmt::Display>) -> String {
    value.map(|v| v.to_string()).unwrap_or_default()
}

/// Keeps a spreadsheet from running a text as a formula. A plain number (a position "-1") is left alone.
fn harmless(text: &str) -> String {
    let text = plain(text);
    // Some programs pass over blanks before they look for a formula.
    let start = text.trim_start();
    let dangerous = start.starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']) && text.parse::<f64>().is_err();
    if dangerous { format!("'{text}") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_disarmed_and_numbers_are_not() {
        assert_eq!(harmless("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        assert_eq!(harmless("@SUM(A1)"), "'@SUM(A1)");
        assert_eq!(harmless("-1+cmd|x"), "'-1+cmd|x");
        assert_eq!(harmless("\n =1+1"), "'  =1+1");
        assert_eq!(harmless("a\u{1b}[2J\u{202e}b"), "a\u{fffd}[2J\u{fffd}b");
        assert_eq!(harmless("-1"), "-1");
        assert_eq!(harmless("photos/=1.jpg"), "photos/=1.jpg");
    }
}
