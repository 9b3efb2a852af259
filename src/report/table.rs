//! The table for a terminal of 80 columns.

use super::results::{MeasuredResult, ReadingResult, Results, ShotResult};
use super::text::{fixed, pad, plain, shorten, shorten_path, signed, u95, width, wrap};
use super::words::{curve_words, direction, glyph, likely, undecided};
use crate::adjuster::{Adjuster, Movement};
use crate::aim::Outcome;
use crate::record::{Branch, Side, Stage};

/// Width of a terminal that nobody has widened.
pub const COLUMNS: usize = 80;
/// Fewer columns than this, and photos can no longer be told apart.
const LEAST_PHOTO: usize = 14;
/// More than this for a position's name would squeeze the figures.
const MOST_AT: usize = 13;
/// The longest refusal, "∅ refused: cutoff-out-of-frame".
const REFUSED: usize = 30;

#[derive(Clone, Copy)]
enum Ink {
    Bold,
    Good,
    Bad,
    Open,
    Dim,
}

impl Ink {
    fn paint(self, text: &str, colour: bool) -> String {
        let code = match self {
            Self::Bold => "1",
            Self::Good => "32",
            Self::Bad => "31",
            Self::Open => "33",
            Self::Dim => "2",
        };
        if colour {
            format!("\x1b[{code}m{text}\x1b[0m")
        } else {
            text.to_owned()
        }
    }
}

/// One shot's cells, before the columns are fitted.
struct Cells {
    photo: String,
    lamp: String,
    stage: String,
    at: String,
    /// Inclination, reach, band and verdict; `Err` has the refusal in their place.
    figures: Result<[String; 4], String>,
    ink: Ink,
}

/// The results as plain text, at most 80 columns wide: a line a shot, then what was refused and how to mend it, the
/// warnings, and the travels. With `colour`, ANSI sequences are added; they only repeat what words and signs say.
#[must_use]
pub fn render(results: &Results, colour: bool) -> String {
    let mut lines = Vec::new();
    shot_lines(results, colour, &mut lines);
    note_lines(results, colour, &mut lines);
    travel_lines(results, colour, &mut lines);
    adjuster_lines(results, colour, &mut lines);
    isolate_lines(results, colour, &mut lines);
    if results.made_photos {
        lines.push(String::new());
        lines.push("The photos are made (drawn by a program), not taken.".to_owned());
    }
    let mut text = lines.join("\n");
    text.push('\n');
    text
}

/// The first suspect and what to do next; `beamfall isolate` and the page say why.
fn isolate_lines(results: &Results, colour: bool, lines: &mut Vec<String>) {
    let Some(found) = &results.isolate else { return };
    let first = found.components.iter().filter(|c| c.standing == "suspected");
    let names: Vec<String> = first
        .map(|c| format!("{} ({})", c.component, likely(c.probability)))
        .collect();
    let suspected = if names.is_empty() {
        "no part stands out".to_owned()
    } else {
        format!("{} suspected", names.join(", "))
    };
    let then = match (&found.next, found.settled) {
        (_, true) => "enough tests".to_owned(),
        (Some(next), false) => format!("next test {}", next.test),
        (None, false) => "no further test can tell more".to_owned(),
    };
    let doubt = if found.contradiction.is_some() {
        "; trials contradict each other"
    } else {
        ""
    };
    lines.push(String::new());
    lines.push(Ink::Bold.paint("Which part is at fault", colour));
    let text = format!("{suspected}; {then}{doubt}; `beamfall isolate` says why");
    lines.extend(wrap(&plain(&text), COLUMNS, 2));
}

fn shot_lines(results: &Results, colour: bool, lines: &mut Vec<String>) {
    if results.shots.is_empty() {
        lines.push("No shots: add [[shot]] entries to the job file, one for each photo.".to_owned());
        return;
    }
    let rows: Vec<Cells> = results.shots.iter().map(cells).collect();
    let widest = |header: &str, cell: &dyn Fn(&Cells) -> Option<String>| {
        let most = rows.iter().filter_map(cell).map(|t| width(&t)).max().unwrap_or(0);
        if most == 0 { 0 } else { most.max(width(header)) }
    };
    let titles = ["inclination %", "reach", "band %", "verdict"];
    let lamp = widest("lamp", &|c| Some(c.lamp.clone()));
    let stage = widest("stage", &|c| Some(c.stage.clone()));
    let at = widest("at", &|c| Some(c.at.clone())).min(MOST_AT);
    let mut columns = [0, 1, 2, 3].map(|n| widest(titles[n], &|c| c.figures.as_ref().ok().map(|f| f[n].clone())));
    let photo = widest("photo", &|c| Some(c.photo.clone()));
    let any_refused = rows.iter().any(|row| row.figures.is_err());

    // A gap follows each column that is there; the last one's is not printed.
    let taken = |gap: usize, columns: &[usize; 4]| {
        let spread = |widths: &[usize]| widths.iter().filter(|w| **w > 0).map(|w| w + gap).sum::<usize>();
        let right = spread(columns).max(if any_refused { REFUSED + gap } else { 0 });
        spread(&[lamp, stage, at]) + right
    };
    let fits = |gap: usize, columns: &[usize; 4]| photo.max(1) + gap + taken(gap, columns) <= COLUMNS + gap;
    let gap = if fits(2, &columns) { 2 } else { 1 };
    let left_for_photo = |columns: &[usize; 4]| COLUMNS.saturating_sub(taken(gap, columns));
    if left_for_photo(&columns) < photo.min(LEAST_PHOTO) {
        // The reach follows from inclination and height; it is the column that one misses least.
        columns[1] = 0;
    }
    let photo = photo.min(left_for_photo(&columns)).max(1);

    let join = |cells: &[(String, usize)]| {
        let mut line = String::new();
        for (text, columns) in cells.iter().filter(|(_, columns)| *columns > 0) {
            if !line.is_empty() {
                line.push_str(&" ".repeat(gap));
            }
            line.push_str(&pad(text, *columns));
        }
        line
    };
    let left = |photo_text: &str, lamp_text: &str, stage_text: &str, at_text: &str| {
        join(&[
            (shorten_path(photo_text, photo), photo),
            (lamp_text.to_owned(), lamp),
            (stage_text.to_owned(), stage),
            (shorten(at_text, at), at),
        ])
    };
    let between = " ".repeat(gap);
    let titles: Vec<(String, usize)> = titles.iter().map(|t| (*t).to_owned()).zip(columns).collect();
    let head = format!("{}{between}{}", left("photo", "lamp", "stage", "at"), join(&titles));
    lines.push(Ink::Bold.paint(head.trim_end(), colour));
    for row in &rows {
        let start = left(&row.photo, &row.lamp, &row.stage, &row.at);
        let rest = match &row.figures {
            Ok(figures) => {
                let figures_only: Vec<(String, usize)> =
                    figures[..3].iter().cloned().zip(columns[..3].iter().copied()).collect();
                let figures_only = join(&figures_only);
                if columns[3] > 0 {
                    format!("{figures_only}{between}{}", row.ink.paint(&figures[3], colour))
                } else {
                    figures_only
                }
            }
            Err(refused) => row.ink.paint(refused, colour),
        };
        lines.push(format!("{start}{between}{rest}").trim_end().to_owned());
    }
}

fn cells(shot: &ShotResult) -> Cells {
    let (figures, ink) = match &shot.result {
        ReadingResult::Measured(measured) => figures(measured),
        ReadingResult::Refused { reason, .. } => (Err(format!("∅ refused: {reason}")), Ink::Open),
    };
    Cells {
        photo: plain(&shot.photo),
        lamp: shot.lamp.to_string(),
        stage: shot.stage.map(|s| s.to_string()).unwrap_or_default(),
        at: at(shot),
        figures,
        ink,
    }
}

fn figures(measured: &MeasuredResult) -> (Result<[String; 4], String>, Ink) {
    let inclination = format!(
        "{} ± {}",
        signed(measured.inclination.percent, 2),
        u95(measured.inclination.u95_percent)
    );
    let reach = match measured.reach_m {
        Some(reach_m) if reach_m < 1000.0 => format!("{reach_m:.0} m"),
        Some(_) => "> 999 m".to_owned(),
        None => String::new(),
    };
    let (band, verdict, ink) = match &measured.verdict {
        Some(v) => (
            format!("{}…{}", fixed(v.low_percent, 2), fixed(v.high_percent, 2)),
            format!("{} {}", glyph(v.outcome), v.outcome),
            match v.outcome {
                Outcome::Inside => Ink::Good,
                Outcome::Outside => Ink::Bad,
                Outcome::Undecided => Ink::Open,
            },
        ),
        None => (String::new(), String::new(), Ink::Dim),
    };
    (Ok([inclination, reach, band, verdict]), ink)
}

/// Position and vacuum in few columns.
fn at(shot: &ShotResult) -> String {
    let mut text = shot.position.as_deref().map(plain).unwrap_or_default();
    if let Some(vacuum_mbar) = shot.vacuum_mbar {
        if !text.is_empty() {
            text.push_str(", ");
        }
        text.push_str(&format!("{vacuum_mbar:.0} mbar"));
    }
    if shot.sealed {
        text.push_str(" shut");
    } else if shot.branch == Some(Branch::Releasing) {
        text.push_str(" rel");
    }
    text
}

fn note_lines(results: &Results, colour: bool, lines: &mut Vec<String>) {
    let mut notes: Vec<(String, Vec<String>)> = Vec::new();
    let releasing = |s: &ShotResult| s.branch == Some(Branch::Releasing) && !s.sealed;
    if results.shots.iter().any(releasing) {
        notes.push(("rel".to_owned(), vec!["vacuum being released".to_owned()]));
    }
    if results.shots.iter().any(|s| s.sealed) {
        notes.push((
            "shut".to_owned(),
            vec!["the pump's valve is shut (leak-down)".to_owned()],
        ));
    }
    for shot in &results.shots {
        let said = match &shot.result {
            ReadingResult::Refused { message, .. } => vec![message.clone()],
            ReadingResult::Measured(measured) => {
                let open = measured.verdict.as_ref().and_then(undecided);
                open.into_iter().chain(measured.warnings.iter().cloned()).collect()
            }
        };
        notes.push((plain(&shot.photo), said));
    }
    notes.push(("job".to_owned(), results.warnings.clone()));
    let mut first = true;
    for (what, said) in notes {
        for text in said {
            if first {
                lines.push(String::new());
                first = false;
            }
            let label = shorten_path(&what, COLUMNS / 2);
            for (n, line) in wrap(&format!("{label}: {}", plain(&text)), COLUMNS, 2)
                .into_iter()
                .enumerate()
            {
                lines.push(if n == 0 && colour {
                    line.replacen(&label, &Ink::Bold.paint(&label, true), 1)
                } else {
                    line
                });
            }
        }
    }
}

fn travel_lines(results: &Results, colour: bool, lines: &mut Vec<String>) {
    if results.travel.is_empty() {
        return;
    }
    lines.push(String::new());
    lines.push(Ink::Bold.paint("Travel between positions, % (+ = the beam went down)", colour));
    let lamps = &results.adjuster.travel;
    for (lamp, travel) in lamps.iter().flat_map(|lamp| lamp.steps.iter().map(move |s| (lamp, s))) {
        let who = match lamp.stage {
            Some(stage) => format!("{} {stage}", lamp.lamp),
            None => lamp.lamp.to_string(),
        };
        let step = format!(
            "{} → {}",
            shorten(&plain(&travel.from), 11),
            shorten(&plain(&travel.to), 11)
        );
        let movement = travel.movement;
        let words = match movement {
            Movement::Moves => format!("↕ moves ({})", direction(travel.percent)),
            Movement::Still | Movement::CannotTell => format!("{} {movement}", sign(movement)),
        };
        let ink = ink_of(movement);
        lines.push(format!(
            "{}  {}  {} ± {}  {}",
            pad(&who, 12),
            pad(&step, 25),
            signed(travel.percent, 2),
            u95(travel.u95_percent),
            ink.paint(&words, colour)
        ));
    }
}

fn sign(movement: Movement) -> char {
    match movement {
        Movement::Moves => '↕',
        Movement::Still => '=',
        Movement::CannotTell => '?',
    }
}

fn ink_of(movement: Movement) -> Ink {
    match movement {
        Movement::Moves => Ink::Good,
        Movement::Still => Ink::Bad,
        Movement::CannotTell => Ink::Open,
    }
}

fn adjuster_lines(results: &Results, colour: bool, lines: &mut Vec<String>) {
    let said = adjuster_words(results);
    if said.is_empty() {
        return;
    }
    lines.push(String::new());
    lines.push(Ink::Bold.paint("What the adjuster does", colour));
    for (label, text) in said {
        for (n, line) in wrap(&format!("{label}: {}", plain(&text)), COLUMNS, 2)
            .into_iter()
            .enumerate()
        {
            lines.push(if n == 0 && colour {
                line.replacen(&label, &Ink::Bold.paint(&label, true), 1)
            } else {
                line
            });
        }
    }
}

/// What it is about, and what is said of it.
fn adjuster_words(results: &Results) -> Vec<(String, String)> {
    let adjuster = &results.adjuster;
    let mut said = Vec::new();
    let who = |lamp: Side, stage: Option<Stage>| match stage {
        Some(stage) => format!("{lamp} {stage}"),
        None => lamp.to_string(),
    };
    for lamp in &adjuster.travel {
        let label = who(lamp.lamp, lamp.stage);
        if let (Some(movement), Some(total)) = (lamp.movement, &lamp.total) {
            let mut text = format!(
                "{} {movement}; {} to {}: {} ± {} %, {} ± {} mm on the wall",
                sign(movement),
                total.from,
                total.to,
                signed(total.percent, 2),
                u95(total.u95_percent),
                signed(total.wall_mm, 0),
                fixed(total.wall_u95_mm.max(1.0), 0)
            );
            if let Some((change_m, u95_m)) = total.reach_change_m.zip(total.reach_change_u95_m) {
                text += &format!(", reach {} ± {} m", signed(change_m, 0), fixed(u95_m.max(1.0), 0));
            }
            said.push((label.clone(), text));
        }
        said.extend(lamp.faults.iter().map(|fault| (label.clone(), fault.to_string())));
        said.extend(lamp.mend.iter().map(|mend| (label.clone(), mend.to_string())));
        for position in &lamp.positions {
            if let Some(expected) = &position.expected {
                said.push((
                    label.clone(),
                    format!(
                        "position {}: travel {} ± {} %, expected {} ± {} %: {} {}",
                        position.position,
                        signed(position.travel_percent, 2),
                        u95(position.travel_u95_percent),
                        signed(expected.travel_percent, 2),
                        fixed(expected.tolerance_percent, 2),
                        glyph(expected.outcome),
                        expected.outcome
                    ),
                ));
            }
        }
    }
    side_words(adjuster, &mut said);
    for response in &adjuster.response {
        let label = format!("{}, pump", who(response.lamp, response.stage));
        if let Some(movement) = response.movement {
            let text = match &response.curve {
                Some(curve) => format!("{} {movement}; {}", sign(movement), curve_words(curve)),
                None => format!("{} {movement}", sign(movement)),
            };
            said.push((label.clone(), text));
        }
        said.extend(
            response
                .warnings
                .iter()
                .map(|warning| (label.clone(), warning.to_string())),
        );
    }
    for leak in &adjuster.leak_down {
        let label = format!("{}, valve shut", who(leak.lamp, leak.stage));
        said.push((label.clone(), leak.finding.to_string()));
        said.extend(leak.warnings.iter().map(|warning| (label.clone(), warning.to_string())));
    }
    for change in &adjuster.stages {
        said.extend(
            change
                .words
                .iter()
                .map(|words| ("repair".to_owned(), words.to_string())),
        );
    }
    said.extend(adjuster.warnings.iter().map(|w| ("job".to_owned(), w.to_string())));
    said
}

fn side_words(adjuster: &Adjuster, said: &mut Vec<(String, String)>) {
    let mut stages: Vec<Option<Stage>> = adjuster.sides.iter().map(|s| s.stage).collect();
    stages.dedup();
    for stage in stages {
        let figures: Vec<String> = adjuster
            .sides
            .iter()
            .filter(|s| s.stage == stage)
            .map(|s| {
                let judged = s.outcome.map(|o| format!(" {} {o}", glyph(o))).unwrap_or_default();
                format!(
                    "at {} {} ± {} %{judged}",
                    s.position,
                    signed(s.difference_percent, 2),
                    u95(s.u95_percent)
                )
            })
            .collect();
        let label = match stage {
            Some(stage) => format!("left less right, {stage}"),
            None => "left less right".to_owned(),
        };
        said.push((label, figures.join("; ")));
    }
}
