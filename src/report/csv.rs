//! `readings.csv`: one line a shot, for a spreadsheet (RFC 4180).

use super::results::{CutOffResult, ElbowResult, MeasuredResult, ReadingResult, Results, ShotResult, VerdictResult};
use super::text::plain;

/// What a line is made from.
struct Row<'a> {
    shot: &'a ShotResult,
    measured: Option<&'a MeasuredResult>,
    cutoff: Option<&'a CutOffResult>,
    elbow: Option<&'a ElbowResult>,
    verdict: Option<&'a VerdictResult>,
    status: &'static str,
    reason: String,
    message: String,
}

type Column = (&'static str, fn(&Row<'_>) -> String);

/// The columns, with the units in their names, and what stands in them.
const COLUMNS: &[Column] = &[
    ("photo", |r| harmless(&r.shot.photo)),
    ("lamp", |r| r.shot.lamp.to_string()),
    ("stage", |r| text(r.shot.stage)),
    ("position", |r| {
        r.shot.position.as_deref().map(harmless).unwrap_or_default()
    }),
    ("vacuum_mbar", |r| text(r.shot.vacuum_mbar)),
    ("branch", |r| text(r.shot.branch)),
    ("sealed", |r| if r.shot.sealed { "yes" } else { "no" }.to_owned()),
    ("taken", |r| r.shot.taken.as_deref().map(harmless).unwrap_or_default()),
    ("status", |r| r.status.to_owned()),
    ("inclination_percent", |r| {
        text(r.measured.map(|m| m.inclination.percent))
    }),
    ("u95_percent", |r| text(r.measured.map(|m| m.inclination.u95_percent))),
    ("reading_u95_percent", |r| {
        text(r.measured.map(|m| m.inclination.reading_u95_percent))
    }),
    ("drop_mm", |r| text(r.measured.map(|m| m.drop_mm))),
    ("angle_deg", |r| text(r.measured.map(|m| m.degrees))),
    ("reach_m", |r| text(r.measured.and_then(|m| m.reach_m))),
    ("sharpness_g", |r| text(r.cutoff.map(|c| c.sharpness_g))),
    ("linearity_deg", |r| text(r.cutoff.map(|c| c.linearity_deg))),
    ("tilt_deg", |r| text(r.cutoff.map(|c| c.tilt_deg))),
    ("elbow_lateral_percent", |r| {
        text(r.elbow.and_then(|e| e.lateral_percent))
    }),
    ("kick_deg", |r| text(r.elbow.map(|e| e.kick_deg))),
    ("pattern", |r| text(r.cutoff.map(|c| c.pattern))),
    ("threshold_percent", |r| {
        text(r.cutoff.and_then(|c| c.threshold_percent))
    }),
    ("plain_percent", |r| text(r.cutoff.and_then(|c| c.plain_percent))),
    ("table", |r| r.verdict.map(|v| harmless(&v.table)).unwrap_or_default()),
    ("band", |r| text(r.verdict.map(|v| v.band))),
    ("low_percent", |r| text(r.verdict.map(|v| v.low_percent))),
    ("high_percent", |r| text(r.verdict.map(|v| v.high_percent))),
    ("outcome", |r| text(r.verdict.map(|v| v.outcome))),
    ("probability_inside", |r| text(r.verdict.map(|v| v.probability_inside))),
    ("settle", |r| {
        r.verdict
            .and_then(|v| v.settle.as_deref())
            .map(harmless)
            .unwrap_or_default()
    }),
    ("reason", |r| r.reason.clone()),
    ("message", |r| r.message.clone()),
    ("warnings", |r| {
        r.measured
            .map(|m| harmless(&m.warnings.join(" / ")))
            .unwrap_or_default()
    }),
    ("exposure_s", |r| text(r.shot.capture.exposure_s)),
    ("sha256", |r| r.shot.sha256.clone().unwrap_or_default()),
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
    writer.write_record(COLUMNS.iter().map(|(name, _)| name))?;
    for shot in &results.shots {
        let row = Row::new(shot);
        writer.write_record(COLUMNS.iter().map(|(_, value)| value(&row)))?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

impl<'a> Row<'a> {
    fn new(shot: &'a ShotResult) -> Self {
        let measured = shot.measured();
        let cutoff = measured.map(|m| &m.cutoff);
        let (status, reason, message) = match &shot.result {
            ReadingResult::Measured(_) => ("measured", String::new(), String::new()),
            ReadingResult::Refused { reason, message } => ("refused", reason.to_string(), harmless(message)),
        };
        Self {
            shot,
            measured,
            cutoff,
            elbow: cutoff.and_then(|c| c.elbow.as_ref()),
            verdict: measured.and_then(|m| m.verdict.as_ref()),
            status,
            reason,
            message,
        }
    }
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
