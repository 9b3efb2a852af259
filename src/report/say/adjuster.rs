//! What the range adjuster does: travel, sides, response to vacuum, leak-down, before and after.

use super::super::document::{Block, List, Section, Sign, Table, Text};
use super::super::plots::{Figure, Subject};
use super::super::text::{fixed, shorten, signed};
use super::super::words::{
    curve_words, direction, lamp_and_stage, lamp_and_stage_short, lamp_stage, plus_minus, plus_minus_whole, sentence,
    within,
};
use super::plot_grid;
use crate::adjuster::{
    Adjuster, Change, Curve, Interval, LampTravel, LeakDown, Movement, Response, SideDifference, StickSlip, VacuumStep,
};
use crate::aim::Outcome;
use crate::language::Language;
use crate::record::{Side, Stage};
use crate::run::Findings;

type Facts = Vec<(&'static str, Text)>;

/// For the terminal: each travel from one position to the next.
pub(super) fn travels(findings: &Findings) -> Section {
    let mut table = Table::new("", [("", ""); 4]);
    (table.columns[0].least, table.columns[1].least) = (12, 25);
    for lamp in &findings.adjuster.travel {
        for step in &lamp.steps {
            let words = match step.movement {
                Movement::Moves => format!("{} ({})", step.movement, direction(Language::English, step.percent)),
                Movement::Still | Movement::CannotTell => step.movement.to_string(),
            };
            table.row([
                lamp_stage(Language::English, lamp.lamp, lamp.stage).into(),
                format!("{} → {}", shorten(&step.from, 11), shorten(&step.to, 11)).into(),
                plus_minus(Language::English, step.percent, step.u95_percent).into(),
                Text::default().word(step.movement, words).into(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Section::default();
    }
    let heading = "Travel between positions, % (+ = the beam went down)";
    Section::new(heading, vec![Block::Table(table)])
}

/// For the terminal: all that the adjuster does, each lamp with what is said of it; the whole travel with its measures where
/// `totals`.
pub(super) fn remarks(findings: &Findings, totals: bool) -> Section {
    let adjuster = &findings.adjuster;
    let travels = adjuster.travel.iter().flat_map(|lamp| travel_remarks(lamp, totals));
    let mut said: Vec<(String, Text)> = travels.collect();
    said.extend(side_remarks(adjuster));
    for response in &adjuster.response {
        let about = format!("{}, pump", lamp_stage(Language::English, response.lamp, response.stage));
        if let Some(movement) = response.movement {
            let curve = response.curve.as_ref();
            let curve =
                curve.map(|curve| format!("; {}, {}", curve_words(Language::English, curve), travel_words(curve)));
            let text = Text::default()
                .word(movement, movement)
                .plain(curve.unwrap_or_default());
            said.push((about.clone(), text));
        }
        said.extend(
            response
                .warnings
                .iter()
                .map(|warning| (about.clone(), warning.to_string().into())),
        );
    }
    for leak in &adjuster.leak_down {
        let series = leak.series.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
        let about = format!(
            "{}, valve shut{series}",
            lamp_stage(Language::English, leak.lamp, leak.stage)
        );
        said.push((about.clone(), leak.finding.to_string().into()));
        said.extend(
            leak.warnings
                .iter()
                .map(|warning| (about.clone(), warning.to_string().into())),
        );
    }
    let repairs = adjuster.stages.iter().flat_map(|change| &change.words);
    said.extend(repairs.map(|words| ("repair".to_owned(), words.to_string().into())));
    if said.is_empty() {
        return Section::default();
    }
    let blocks = said.into_iter().map(|(about, text)| Block::Remark(about, text));
    Section::new("What the adjuster does", blocks.collect())
}

fn travel_remarks(lamp: &LampTravel, totals: bool) -> Vec<(String, Text)> {
    let mut said: Vec<Text> = Vec::new();
    if let (Some(movement), Some(total), true) = (lamp.movement, &lamp.total, totals) {
        let reach = total.reach_change_m.zip(total.reach_change_u95_m);
        let reach = reach
            .map(|(change_m, u95_m)| format!(", reach {} m", plus_minus_whole(Language::English, change_m, u95_m)));
        said.push(Text::default().word(movement, movement).plain(format!(
            "; {} to {}: {} %, {} mm on the wall{}",
            total.from,
            total.to,
            plus_minus(Language::English, total.percent, total.u95_percent),
            plus_minus_whole(Language::English, total.wall_mm, total.wall_u95_mm),
            reach.unwrap_or_default()
        )));
    }
    said.extend(lamp.faults.iter().map(|fault| fault.to_string().into()));
    said.extend(lamp.mend.iter().map(|mend| mend.to_string().into()));
    for position in &lamp.positions {
        if let Some(expected) = &position.expected {
            let held = format!(
                "position {}: travel {} %, expected {} ± {} %: ",
                position.position,
                plus_minus(Language::English, position.travel_percent, position.travel_u95_percent),
                signed(Language::English, expected.travel_percent, 2),
                fixed(Language::English, expected.tolerance_percent, 2)
            );
            said.push(Text::from(held).word(expected.outcome, expected.outcome));
        }
    }
    let about = lamp_stage(Language::English, lamp.lamp, lamp.stage);
    said.into_iter().map(|text| (about.clone(), text)).collect()
}

/// All positions of a stage in one remark.
fn side_remarks(adjuster: &Adjuster) -> Vec<(String, Text)> {
    let of_stage = |sides: &[SideDifference]| {
        let mut text = alike(sides).map(Text::from).unwrap_or_default();
        let told = if text.is_empty() { sides } else { &[] };
        for (n, side) in told.iter().enumerate() {
            let between = if n == 0 { "" } else { "; " };
            let way = if side.difference_percent < 0.0 {
                "higher"
            } else {
                "lower"
            };
            let figure = within(Language::English, side.difference_percent.abs(), side.u95_percent);
            text = text.plain(format!("{between}at {} {figure} % {way}", side.position));
            if let Some(outcome) = side.outcome {
                text = text.plain(" ").word(outcome, outcome);
            }
        }
        for short in sides.iter().filter_map(|side| side.short.as_ref()) {
            text = text.plain("; ").sign(Sign::Bad).plain(short.to_string());
        }
        let stage = sides.first().and_then(|side| side.stage);
        let stage = stage.map(|stage| format!(", {stage}")).unwrap_or_default();
        (format!("left beam against right{stage}"), text)
    };
    adjuster
        .sides
        .chunk_by(|a, b| a.stage == b.stage)
        .map(of_stage)
        .collect()
}

/// Where no limit is set and no photo tells the beams apart: the largest difference alone.
fn alike(sides: &[SideDifference]) -> Option<String> {
    let told_apart = |side: &SideDifference| side.outcome.is_some() || side.difference_percent.abs() > side.u95_percent;
    let largest =
        |a: &&SideDifference, b: &&SideDifference| (a.difference_percent.abs()).total_cmp(&b.difference_percent.abs());
    let most = sides.iter().max_by(largest)?;
    (sides.len() > 1 && !sides.iter().any(told_apart)).then(|| {
        let figure = within(Language::English, most.difference_percent.abs(), most.u95_percent);
        format!("alike (at the most {figure} %)")
    })
}

/// The whole travel in both measures.
fn travel_words(curve: &Curve) -> String {
    format!(
        "in all {} % by {} mbar ({} mm on the wall)",
        curve.travel_percent.text(Language::English, 2),
        fixed(Language::English, curve.highest_mbar, 0),
        curve.travel_wall_mm.text(Language::English, 0)
    )
}

/// What the pump showed, on one line, or a line for each step where no response could be fitted.
pub(super) fn response_words(response: &Response) -> Vec<String> {
    if let Some(curve) = &response.curve {
        return vec![sentence(&format!(
            "{}, {}",
            curve_words(Language::English, curve),
            travel_words(curve)
        ))];
    }
    let step = |s: &VacuumStep| {
        format!(
            "Vacuum {} to {} mbar ({}): {} %, {}",
            fixed(Language::English, s.from_mbar, 0),
            fixed(Language::English, s.to_mbar, 0),
            s.branch,
            plus_minus(Language::English, s.percent, s.u95_percent),
            s.movement
        )
    };
    response.steps.iter().map(step).collect()
}

/// For the page: all of it, with the plots.
pub(super) fn chapter(findings: &Findings, figures: &[Figure]) -> Option<Section> {
    let adjuster = &findings.adjuster;
    if adjuster.is_empty() && adjuster.warnings.is_empty() {
        return None;
    }
    let warnings = adjuster.warnings.iter();
    let mut blocks: Vec<Block> = warnings.map(|w| Block::note(format!("Note: {w}"))).collect();
    let part = |heading: &str, blocks: Vec<Block>| {
        (!blocks.is_empty()).then(|| Block::Section(Section::part("", heading, blocks)))
    };
    blocks.extend(part("Travel from position to position", travel(adjuster)));
    blocks.extend(part("Against what the job expects", expected(adjuster)));
    blocks.extend(part("Left lamp against right lamp", sides(adjuster)));
    blocks.extend(part("Before and after the repair", stages(adjuster)));
    let responses = adjuster.response.iter().map(response);
    blocks.extend(part("Response to the pump's vacuum", responses.collect()));
    let leaks = adjuster.leak_down.iter().map(leak);
    blocks.extend(part("With the pump's valve shut", leaks.collect()));
    let of_pump = [Subject::Vacuum, Subject::LeakDown];
    blocks.extend(plot_grid(figures.iter().filter(|f| of_pump.contains(&f.subject))));
    Some(Section::new("What the range adjuster does", blocks))
}

fn who(lamp: Side, stage: Option<Stage>) -> String {
    sentence(&lamp_and_stage(Language::English, lamp, stage))
}

fn note(warning: impl std::fmt::Display) -> Block {
    Block::text(Text::default().strong("Note:").plain(format!(" {warning}")))
}

/// A word with its sign, or nothing.
fn judged(outcome: Option<Outcome>) -> Text {
    outcome.map(|o| Text::default().word(o, o)).unwrap_or_default()
}

fn travel(adjuster: &Adjuster) -> Vec<Block> {
    let mut blocks = Vec::new();
    for lamp in &adjuster.travel {
        let about = |sign: Sign, text: String| {
            let who = format!("{}:", who(lamp.lamp, lamp.stage));
            Block::Paragraph("fault", Text::default().sign(sign).strong(who).plain(text))
        };
        blocks.extend((lamp.faults.iter()).map(|fault| about(Sign::Bad, format!(" {}", fault))));
        let mend = lamp.mend.as_ref();
        blocks.extend(mend.map(|mend| about(Sign::Open, format!(" cannot tell whether it moves; {mend}"))));
    }
    let mut table = Table::new(
        "cards brief",
        [
            ("key", "Lamp"),
            ("key", "Position"),
            ("figure", "Travel, %"),
            ("figure", "On the wall, mm"),
            ("figure", "Reach, m"),
            ("end", "Does it move?"),
        ],
    );
    for lamp in &adjuster.travel {
        // A single step is the total already.
        let total = lamp.total.iter().filter(|_| lamp.steps.len() > 1);
        let steps = lamp.steps.iter().map(|s| (s, false)).chain(total.map(|s| (s, true)));
        for (step, whole) in steps {
            let from_to = format!("{} to {}", step.from, step.to);
            let reach = step.reach_change_m.zip(step.reach_change_u95_m);
            table.row([
                lamp_and_stage_short(Language::English, lamp.lamp, lamp.stage).into(),
                if whole {
                    Text::default().strong(format!("whole: {from_to}")).into()
                } else {
                    from_to.into()
                },
                plus_minus(Language::English, step.percent, step.u95_percent).into(),
                plus_minus_whole(Language::English, step.wall_mm, step.wall_u95_mm).into(),
                reach
                    .map(|(change_m, u95_m)| plus_minus_whole(Language::English, change_m, u95_m))
                    .unwrap_or_default()
                    .into(),
                Text::default().word(step.movement, step.movement).into(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Vec::new();
    }
    blocks.extend(table.noted(format!(
        "+ means that the beam went down, and − of the reach that it is lost. ± is the half-width of the 95 % interval: what \
         differs from photo to photo, and of the tape measures only what does not cancel. A beam moves when the whole \
         interval lies beyond {} %, and does not move when it lies within; with several positions the rule is stricter, so \
         that a lamp that stands still is said to move once in 200 times at the most.",
        adjuster.least_travel_percent
    )));
    blocks
}

fn expected(adjuster: &Adjuster) -> Vec<Block> {
    let mut table = Table::new(
        "cards brief",
        [
            ("key", "Lamp"),
            ("key", "Position"),
            ("figure", "Travel from the first, %"),
            ("figure", "Expected, %"),
            ("end", "Is it met?"),
        ],
    );
    for lamp in adjuster.travel.iter().filter(|lamp| !lamp.steps.is_empty()) {
        for at in &lamp.positions {
            let Some(expected) = at.expected else { continue };
            let tolerance = fixed(Language::English, expected.tolerance_percent, 2);
            table.row([
                lamp_and_stage_short(Language::English, lamp.lamp, lamp.stage).into(),
                at.position.as_str().into(),
                plus_minus(Language::English, at.travel_percent, at.travel_u95_percent).into(),
                format!(
                    "{} ± {tolerance}",
                    signed(Language::English, expected.travel_percent, 2)
                )
                .into(),
                judged(Some(expected.outcome)).into(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Vec::new();
    }
    vec![Block::Table(table)]
}

fn sides(adjuster: &Adjuster) -> Vec<Block> {
    let is_judged = adjuster.sides.iter().any(|s| s.outcome.is_some());
    let mut table = Table::new(
        "cards brief",
        [
            ("key", "At"),
            ("figure", "Left beam lower by, %"),
            ("", "Within the limit?"),
            ("figure", "Left beam went further down by, %"),
            ("", "Travel within?"),
        ],
    );
    for of_stage in adjuster.sides.chunk_by(|a, b| a.stage == b.stage) {
        for (n, s) in of_stage.iter().enumerate() {
            let stage = s.stage.map(|stage| format!("{stage}, ")).unwrap_or_default();
            let mut travel = plus_minus(Language::English, s.travel_difference_percent, s.travel_u95_percent);
            let mut travel_within = judged(s.travel_outcome);
            if n == 0 {
                // At the first position the travels are 0 by definition.
                (travel, travel_within) = (String::new(), Text::default());
            }
            table.row([
                format!("{stage}{}", s.position).into(),
                plus_minus(Language::English, s.difference_percent, s.u95_percent).into(),
                judged(s.outcome).into(),
                travel.into(),
                travel_within.into(),
            ]);
        }
    }
    if !is_judged {
        for column in [4, 2] {
            table.columns.remove(column);
            for row in &mut table.rows {
                row.remove(column);
            }
        }
    }
    table.noted(format!(
        "− means that the left beam is higher, or has travelled less far down. {}",
        if is_judged {
            "The limit is the job's."
        } else {
            "The job sets no limit (left_right_limit_percent), so that nothing is judged."
        }
    ))
}

fn stages(adjuster: &Adjuster) -> Vec<Block> {
    if adjuster.stages.is_empty() {
        return Vec::new();
    }
    let words = adjuster.stages.iter().flat_map(|s| &s.words);
    let mut blocks = vec![Block::List(List {
        items: words.map(|words| sentence(&words.to_string()).into()).collect(),
        ..List::default()
    })];
    let columns = |what: &'static str, in_percent: bool| {
        let titles = if in_percent {
            ["Before, %", "After, %", "Change, %"]
        } else {
            ["Before", "After", "Change"]
        };
        let [before, after, change] = titles.map(|title| ("figure", title));
        let (first, last) = (("key", "Lamp"), ("end", "Did it change?"));
        Table::new("cards brief", [first, ("key", what), before, after, change, last])
    };
    let mut table = columns("What", true);
    let mut figures = columns("Figure", false);
    for stage in &adjuster.stages {
        let mut row = |what: String, c: &Change| {
            table.row([
                stage.lamp.to_string().into(),
                what.into(),
                plus_minus(Language::English, c.before_percent, c.before_u95_percent).into(),
                plus_minus(Language::English, c.after_percent, c.after_u95_percent).into(),
                plus_minus(Language::English, c.change_percent, c.change_u95_percent).into(),
                Text::default().word(c.real, c.real).into(),
            ]);
        };
        for at in &stage.positions {
            row(format!("inclination at {}", at.position), &at.inclination);
            if let Some(travel) = &at.travel {
                row(format!("travel to {}", at.position), travel);
            }
        }
        for f in &stage.figures {
            figures.row([
                stage.lamp.to_string().into(),
                f.figure.to_string().into(),
                f.before.text(Language::English, 2).into(),
                f.after.text(Language::English, 2).into(),
                signed(Language::English, f.change, 2).into(),
                if f.real { "changed" } else { "not sure" }.into(),
            ]);
        }
    }
    blocks.extend(table.noted(format!(
        "Travel is from the lamp's first position. Something changed when the whole interval of the change lies beyond {} %, and is as \
         before when it lies within.",
        adjuster.least_travel_percent
    )));
    if !figures.rows.is_empty() {
        blocks.push(Block::Table(figures));
    }
    blocks
}

fn response(response: &Response) -> Block {
    let lead = Text::from(format!("{}: ", who(response.lamp, response.stage)));
    let lead = match response.movement {
        Some(movement) => lead.sign(movement).plain(" the beam ").strong(movement.to_string()),
        None => lead.plain("too few photos gave a figure"),
    };
    let mut blocks = vec![Block::Paragraph("lead", lead.plain("."))];
    blocks.extend(
        response_words(response)
            .into_iter()
            .map(|words| Block::text(format!("{words}."))),
    );
    if let Some(polarity) = &response.polarity {
        let way = if polarity.vacuum_raises {
            "Vacuum raises the beam, so that it comes down when vacuum is lost"
        } else {
            "Vacuum lowers the beam, so that it comes up when vacuum is lost"
        };
        let held = match polarity.as_system_says {
            Some(true) => ", as the system file says",
            Some(false) => ", against what the system file says",
            None => "",
        };
        blocks.push(Block::text(format!("{way}{held}.")));
    }
    blocks.extend(response.warnings.iter().map(note));
    if let Some(curve) = &response.curve {
        blocks.push(Block::Facts("facts", curve_facts(curve, response.stick_slip)));
    }
    let mut table = Table::new(
        "cards brief",
        [
            ("key", "Branch"),
            ("figure", "Vacuum, mbar"),
            ("figure", "Inclination, %"),
            ("figure", "Curve, %"),
            ("figure", "Beside the curve, %"),
            ("figure", "In standard deviations"),
        ],
    );
    for p in &response.points {
        table.row([
            p.branch.to_string().into(),
            Interval::even(p.vacuum_mbar, p.vacuum_u95_mbar)
                .text(Language::English, 0)
                .into(),
            Interval::even(p.percent, p.reading_u95_percent)
                .text(Language::English, 2)
                .into(),
            p.fitted_percent
                .map(|v| fixed(Language::English, v, 2))
                .unwrap_or_default()
                .into(),
            p.residual_percent
                .map(|v| signed(Language::English, v, 3))
                .unwrap_or_default()
                .into(),
            p.residual_sds
                .map(|v| signed(Language::English, v, 1))
                .unwrap_or_default()
                .into(),
        ]);
    }
    blocks.push(Block::Details("Each reading against vacuum", vec![Block::Table(table)]));
    Block::Group("finding", blocks)
}

fn curve_facts(curve: &Curve, stick_slip: StickSlip) -> Facts {
    let mbar = |of: &Interval| Text::from(format!("{} mbar", of.text(Language::English, 0)));
    let highest = fixed(Language::English, curve.highest_mbar, 0);
    let mut facts: Facts = vec![
        (
            "Gain",
            format!(
                "{} % per 100 mbar",
                curve.gain_percent_per_100_mbar.text(Language::English, 3)
            )
            .into(),
        ),
        (
            "Without vacuum",
            format!("{} %", curve.rest_percent.text(Language::English, 2)).into(),
        ),
        (
            "Whole travel",
            format!(
                "{} % at {highest} mbar, {} mm on the wall",
                curve.travel_percent.text(Language::English, 2),
                curve.travel_wall_mm.text(Language::English, 0)
            )
            .into(),
        ),
    ];
    facts.extend(curve.dead_band_mbar.iter().map(|band| ("Dead band", mbar(band))));
    facts.push((
        "End stop",
        match (&curve.end_stop_mbar, curve.no_end_stop_below_mbar) {
            (Some(stop), _) => mbar(stop),
            (None, Some(below)) => format!("none below {} mbar", fixed(Language::English, below, 0)).into(),
            (None, None) => "cannot tell".into(),
        },
    ));
    if let Some(h) = &curve.hysteresis {
        facts.push(("Hysteresis", mbar(&h.gap_mbar)));
        facts.push((
            "Largest gap",
            format!("{} %", h.gap_percent.text(Language::English, 2)).into(),
        ));
        let area = h.loss_area_percent_mbar.text(Language::English, 0);
        facts.push(("Lost to friction in one cycle", format!("{area} % times mbar").into()));
    }
    let sticks = match stick_slip {
        StickSlip::Seen => "seen",
        StickSlip::NotSeen => "not seen",
        StickSlip::CannotTell => "cannot tell",
    };
    facts.push(("Sticks and slips", sticks.into()));
    let chi_square = fixed(Language::English, curve.chi_square, 1);
    facts.push((
        "Chi-square of the fit",
        format!("{chi_square} for {}", curve.degrees_of_freedom).into(),
    ));
    if curve.widened_by > 1.0 {
        facts.push((
            "Scatter, times what is stated",
            fixed(Language::English, curve.widened_by, 2).into(),
        ));
    }
    facts
}

fn leak(leak: &LeakDown) -> Block {
    let series = leak.series.as_ref().map(|name| format!(", {name}")).unwrap_or_default();
    let lead = Text::from(format!("{}{series}: ", who(leak.lamp, leak.stage)));
    let lead = lead.sign(leak.state).strong(leak.state.to_string()).plain(".");
    let mut blocks = vec![
        Block::Paragraph("lead", lead),
        Block::text(format!("{}.", sentence(&leak.finding.to_string()))),
    ];
    blocks.extend(leak.warnings.iter().map(note));
    let minutes = fixed(Language::English, leak.duration_s / 60.0, 1);
    let mut facts: Facts = vec![(
        "Timed photos",
        format!("{} in {minutes} minutes", leak.points.len()).into(),
    )];
    let interval = |of: &Option<Interval>, places: usize, unit: &str| {
        of.map(|i| format!("{} {unit}", i.text(Language::English, places)))
    };
    let figure = |of: Option<f64>, places: usize, unit: &str| {
        of.map(|v| format!("{} {unit}", fixed(Language::English, v, places)))
    };
    for (name, value) in [
        ("Change of the inclination", interval(&leak.creep_percent, 2, "%")),
        ("Vacuum at the first photo", figure(leak.start_vacuum_mbar, 0, "mbar")),
        (
            "Loss at the first photo",
            interval(&leak.start_rate_mbar_per_min, 1, "mbar/min"),
        ),
        ("The leak stops at", interval(&leak.residual_vacuum_mbar, 0, "mbar")),
        ("Half of the loss takes", interval(&leak.half_time_s, 0, "s")),
        ("Time constant", interval(&leak.time_constant_s, 0, "s")),
        (
            "Time constant of the beam",
            interval(&leak.creep_time_constant_s, 0, "s"),
        ),
        ("Surely lost less than", figure(leak.loss_below_mbar, 0, "mbar")),
        ("Surely changed less than", figure(leak.creep_below_percent, 2, "%")),
    ] {
        facts.extend(value.map(|value| (name, value.into())));
    }
    blocks.push(Block::Facts("facts", facts));
    let mut table = Table::new(
        "cards brief",
        [
            ("key", "Time"),
            ("figure", "Inclination, %"),
            ("figure", "Beside the fitted course, %"),
        ],
    );
    for p in &leak.points {
        table.row([
            format!("{} s", fixed(Language::English, p.elapsed_s, 1)).into(),
            Interval::even(p.percent, p.reading_u95_percent)
                .text(Language::English, 2)
                .into(),
            p.residual_percent
                .map(|v| signed(Language::English, v, 3))
                .unwrap_or_default()
                .into(),
        ]);
    }
    blocks.push(Block::Details("Each photo of the series", vec![Block::Table(table)]));
    Block::Group("finding", blocks)
}
