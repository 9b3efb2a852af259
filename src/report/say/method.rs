//! What the figures mean and rest on: how they are measured, what their uncertainty is made of, what the verdicts are held
//! against, and what to beware of in the workshop.

use super::super::document::{Block, Cell, Column, Item, List, Section, Table, Text};
use super::super::text::{fixed, round, shorten, signed};
use super::super::words::{lamp_and_stage, sentence, what_it_shows};
use super::readings;
use crate::adjuster::{LampTravel, TravelStep};
use crate::aim::{Aim, COVERAGE_FACTOR_95, Share, ShotReading};
use crate::language::Language;
use crate::record::{Bay, Caution, HeightsFrom, Lamp, Shot, ToleranceTable};
use crate::run::Findings;

/// For the terminal: the uncertainty budget of each reading and of each travel, after the tables of the GUM (JCGM 100:2008,
/// annex H; its combination by the root sum of squares is 5.1.2).
pub(super) fn budgets(findings: &Findings) -> Vec<Section> {
    let how = Block::text(
        "How the uncertainty is made up. sd: one standard uncertainty. share: of the variance. job: the same in all \
         photos of the job, so that it cancels in a travel; photo: differs from photo to photo.",
    );
    let of_readings = findings.readings.iter().filter_map(|reading| {
        let measured = reading.result.as_ref().ok()?;
        let photo = reading.shot.photo.display();
        let under = vec![
            Block::text(format!(
                "inclination {} %; 1 % is {} mm at the wall",
                signed(Language::English, measured.aim.inclination_percent, 4),
                fixed(Language::English, reading.lamp.distance_mm / 100.0, 1)
            )),
            Block::Table(terms(&measured.aim, reading.lamp.distance_mm)),
        ];
        Some(Block::Labelled(
            format!("{photo}: {}", what_it_shows(Language::English, &reading.shot)).into(),
            under,
        ))
    });
    let of_travels = findings.adjuster.travel.iter().flat_map(|lamp| {
        let steps = lamp.steps.iter();
        steps.map(|step| of_travel(lamp, step, &findings.readings))
    });
    let blocks = std::iter::once(how).chain(of_readings).chain(of_travels);
    blocks.map(|block| Section::new("", vec![block])).collect()
}

/// Columns of a term's name; the longest has 33.
const NAME: usize = 34;
/// Columns of a bar as long as the whole variance.
const BAR: usize = 15;

/// An empty table of terms.
fn terms_table(with_shares: bool) -> Table {
    let column = |title: &'static str, least: usize, right: bool| Column {
        least,
        most: if right { 0 } else { least },
        right,
        ..Column::new("", title)
    };
    let mut columns = vec![
        column("term", NAME, false),
        column("of", 5, false),
        column("sd %", 7, true),
        column("sd mm", 6, true),
    ];
    if with_shares {
        columns.extend([column("share", 6, true), Column::new("", "")]);
    }
    Table {
        columns,
        gap: 1,
        ..Table::default()
    }
}

/// A term's first cells.
fn term(name: impl std::fmt::Display, of: &str, sd_percent: f64, distance_mm: f64) -> Vec<Cell> {
    vec![
        name.to_string().into(),
        of.into(),
        fixed(Language::English, sd_percent, 4).into(),
        fixed(Language::English, sd_percent / 100.0 * distance_mm, 2).into(),
    ]
}

fn share_name(share: Share) -> &'static str {
    match share {
        Share::Job => "job",
        Share::Photo => "photo",
    }
}

const COMBINED: &str = "combined (root sum of squares)";

fn half_width() -> String {
    format!("x {COVERAGE_FACTOR_95} = 95 % half-width")
}

/// The terms of an inclination, largest first.
fn terms(aim: &Aim, distance_mm: f64) -> Table {
    let variance: f64 = aim.budget.iter().map(|term| term.sd_percent.powi(2)).sum();
    let mut sorted: Vec<_> = aim.budget.iter().collect();
    sorted.sort_by(|a, b| b.sd_percent.total_cmp(&a.sd_percent));
    let mut table = terms_table(true);
    for one in sorted {
        // What is less than a millionth of a per cent is there only by the fit's last digits.
        let share = round(one.sd_percent, 6).powi(2) / variance;
        let share = if share.is_finite() { share } else { 0.0 };
        let mut row = term(
            one.source.name(),
            share_name(one.source.share()),
            one.sd_percent,
            distance_mm,
        );
        row.extend([
            format!("{} %", fixed(Language::English, 100.0 * share, 0)).into(),
            bar(share, one.source.share()).into(),
        ]);
        table.rows.push(row);
    }
    let mut combined = term(COMBINED, "", variance.sqrt(), distance_mm);
    combined.push("100 %".into());
    table.rows.push(combined);
    table.rows.push(term(half_width(), "", aim.u95_percent(), distance_mm));
    let of_photo = aim.reading_u95_percent();
    table
        .rows
        .push(term("  of it what differs by photo", "", of_photo, distance_mm));
    table
}

/// A bar in proportion to a share of the variance: `#` for the job's terms, `=` for the photo's; a dot for one too
/// small to draw.
fn bar(share: f64, of: Share) -> String {
    let count = (share * BAR as f64).round().clamp(0.0, BAR as f64) as usize;
    let sign = match of {
        Share::Job => "#",
        Share::Photo => "=",
    };
    if count == 0 && share > 0.0 {
        ".".to_owned()
    } else {
        sign.repeat(count)
    }
}

/// What remains of the terms in a travel: those of the photos, from both ends.
fn of_travel(lamp: &LampTravel, travel: &TravelStep, readings: &[ShotReading]) -> Block {
    let ends = [&travel.from, &travel.to].map(|position| photos_at(lamp, position, readings));
    let label = format!(
        "Travel, {}: position {} to {}: {} ± {} %",
        lamp_and_stage(Language::English, lamp.lamp, lamp.stage),
        shorten(&travel.from, 13),
        shorten(&travel.to, 13),
        signed(Language::English, travel.percent, 4),
        fixed(Language::English, travel.u95_percent, 4)
    );
    let Some(distance_mm) = ends.iter().flatten().next().map(|r| r.lamp.distance_mm) else {
        return Block::text(label);
    };
    // Several photos of a position are averaged: each term counts by the root of the sum of squares over their number.
    let mut variances: Vec<(String, f64)> = Vec::new();
    for photos in &ends {
        let weight = 1.0 / (photos.len().max(1) as f64).powi(2);
        let budgets = photos.iter().filter_map(|reading| reading.result.as_ref().ok());
        let terms = budgets.flat_map(|measured| &measured.aim.budget);
        for one in terms.filter(|term| term.source.share() == Share::Photo) {
            let (name, variance) = (one.source.to_string(), weight * one.sd_percent.powi(2));
            match variances.iter_mut().find(|(known, _)| *known == name) {
                Some((_, sum)) => *sum += variance,
                None => variances.push((name, variance)),
            }
        }
    }
    let all = (travel.u95_percent / COVERAGE_FACTOR_95).powi(2);
    let left = all - variances.iter().map(|(_, variance)| variance).sum::<f64>();
    let mut table = terms_table(false);
    for (name, variance) in variances {
        table
            .rows
            .push(term(name, share_name(Share::Photo), variance.sqrt(), distance_mm));
    }
    if left > 1e-3 * all {
        let name = "scatter and what does not cancel";
        table.rows.push(term(name, "", left.sqrt(), distance_mm));
    }
    table.rows.push(term(COMBINED, "", all.sqrt(), distance_mm));
    table.rows.push(term(half_width(), "", travel.u95_percent, distance_mm));
    let cancel = "(the job's terms are the same in both photos and cancel)";
    Block::Labelled(label.into(), vec![Block::Table(table), Block::text(cancel)])
}

fn photos_at<'a>(lamp: &LampTravel, position: &str, readings: &'a [ShotReading]) -> Vec<&'a ShotReading> {
    let counts = |r: &&ShotReading| {
        let shot = &r.shot;
        (shot.lamp, shot.stage) == (lamp.lamp, lamp.stage)
            && shot.position.as_deref() == Some(position)
            && !shot.is_pumped()
            && r.result.is_ok()
    };
    readings.iter().filter(counts).collect()
}

/// For the page: the budget of one reading.
pub(super) fn budget(aim: &Aim) -> Block {
    let mut table = Table::new("", [("", "Term"), ("", "The same in"), ("figure", "± %")]);
    for one in &aim.budget {
        let same_in = match one.source.share() {
            Share::Job => "all photos of the job",
            Share::Photo => "this photo only",
        };
        let u95_percent = COVERAGE_FACTOR_95 * one.sd_percent;
        table.row([
            one.source.name().to_owned().into(),
            same_in.into(),
            fixed(Language::English, u95_percent, 3).into(),
        ]);
    }
    table.row([
        Text::default().strong("Together").into(),
        "counts for the verdict".into(),
        Text::default()
            .strong(fixed(Language::English, aim.u95_percent(), 3))
            .into(),
    ]);
    table.row([
        "This photo only".into(),
        "counts for a travel".into(),
        fixed(Language::English, aim.reading_u95_percent(), 3).into(),
    ]);
    let noted = table.noted("Half-widths of 95 % intervals; they add as squares.");
    Block::Details("What the uncertainty is made of", noted)
}

/// What UN R112's cut-off quality annex says of a sharpness; it wants 0.13 to 0.40.
pub(super) fn sharpness(g: f64) -> &'static str {
    if g < 0.13 {
        " (soft)"
    } else if g > 0.40 {
        " (hard)"
    } else {
        ""
    }
}

/// The tolerance table, and how a reading is held against it.
pub(super) fn verdicts(findings: &Findings) -> Section {
    let blocks = match &findings.table {
        None => vec![Block::text(
            Text::from("The job names no tolerance table, so that nothing was judged. Name one with ")
                .code("tolerance")
                .plain(" in the job file."),
        )],
        Some(t) => {
            let facts = [
                ("Table", format!("{} ({})", t.title.within(Language::English), t.name)),
                ("Source", t.source.within(Language::English).to_owned()),
                ("Edition", t.edition.within(Language::English).to_owned()),
                ("Read on", t.read.clone()),
                ("Confidence", t.confidence.within(Language::English).to_owned()),
                ("Note", t.note.within(Language::English).to_owned()),
            ];
            let said = facts.into_iter().filter(|(_, value)| !value.is_empty());
            vec![
                Block::Facts("head", said.map(|(name, value)| (name, value.into())).collect()),
                Block::text(
                    bands(t)
                        .plain(" A reading is ")
                        .emphasis("inside")
                        .plain(" or ")
                        .emphasis("outside")
                        .plain(" when its whole 95 % interval is, and ")
                        .emphasis("undecided")
                        .plain(
                            " where a limit lies within the interval. How likely an undecided one is to be inside is the \
                             probability of conformity of JCGM 106:2012 for a normal state of knowledge; it decides \
                             nothing here.",
                        ),
                ),
            ]
        }
    };
    Section::new("What the verdicts rest on", blocks)
}

/// Which band judges what.
fn bands(table: &ToleranceTable) -> Text {
    let setting = "Position 0, or no position, is judged by the ";
    if table.has_range() {
        Text::from(format!("The table has two bands. {setting}"))
            .emphasis("setting")
            .plain(": as set up, lightly loaded. The other positions are judged by the ")
            .emphasis("range")
            .plain(": what the beam must keep to over all loads.")
    } else {
        Text::from(setting).emphasis("setting").plain(
            ": as set up, lightly loaded. The table has no band for the other positions, so that they are not judged.",
        )
    }
}

/// How sure the figures are that the verdicts rest on, where there are verdicts.
pub(super) fn confidence(findings: &Findings) -> Option<String> {
    let judged = |reading: &ShotReading| reading.result.as_ref().is_ok_and(|measured| measured.verdict.is_some());
    let table = findings.table.as_ref()?;
    let said = || {
        format!(
            "Limits: table {}; how sure they are: {}.",
            table.name,
            table.confidence.within(Language::English)
        )
    };
    findings.readings.iter().any(judged).then(said)
}

/// How a photo becomes a figure.
pub(super) fn measuring(findings: &Findings) -> Section {
    let flat = if findings.job.traffic.flat_side_sign() < 0.0 {
        "left"
    } else {
        "right"
    };
    let bays = findings.bays.all().map(|bay| {
        let name = if findings.bays.are_several() {
            format!(" {}", bay.name)
        } else {
            String::new()
        };
        Item::from(format!("Bay{name}: {}", hung(bay)))
    });
    let lamps = findings.job.lamp.iter().map(|lamp| Item::from(tape(lamp)));
    let list = List {
        items: bays.chain(lamps).collect(),
        ..List::default()
    };
    let mut blocks = vec![
        Block::text(
            Text::from(
                "The marks on the wall give the place on the wall of every pixel of a photo. On vertical scans through the \
                 beam the cut-off is the inflection of the logarithm of the illuminance, d²(log",
            )
            .low("10")
            .plain(format!(
                " E)/dβ² = 0, where the step down is steepest (UN Regulation No. 112, annex on the quality of the cut-off). \
                 The reading is the scan 2.5° from the lamp's vertical V-V on the flat side of the pattern, here the {flat}; \
                 the scans at 1.5° and 3.5° give the linearity. Sharpness G is the largest drop of log"
            ))
            .low("10")
            .plain(
                " E over 0.1°; approval wants 0.13 to 0.40, the upper limit at 25 m. “Steepest fall of light” and “half brightness” are two other ways to \
                 place the edge, for comparison only.",
            ),
        ),
        Block::text(
            "The inclination is the tangent, in per cent, of the downward angle of the cut-off against the vehicle's \
             reference plane (wording of ISO 10604): the drop below the lamp's centre, over the distance from lamp to wall. \
             Positive is downward.",
        ),
        Block::text(
            "Each ± is the half-width of a 95 % interval (1.96 standard deviations of all terms together). It holds the \
             photo, the marks' places and the tape measures; what it cannot hold is a wrong figure in the job file.",
        ),
        Block::List(list),
    ];
    blocks.extend(readings::by_eye(findings).map(Block::text));
    Section::new("How it was measured", blocks)
}

/// How a bay's sheets hang, and what heights are from.
fn hung(bay: &Bay) -> String {
    let heights = match bay.heights_from {
        HeightsFrom::Floor => "Heights are from the floor, which runs on to the wall in one plane.".to_owned(),
        HeightsFrom::LevelLine => format!(
            "Heights are from one level line; the standing area rises by {} % towards the wall, which is added to each \
             inclination.",
            fixed(Language::English, bay.grade_percent, 2)
        ),
    };
    format!(
        "{} sheets, taped to ± {} mm (one standard deviation). {heights}",
        bay.marks.sheet.len(),
        fixed(Language::English, bay.marks.position_sd_mm, 1)
    )
}

/// What was measured with a tape at a lamp.
fn tape(lamp: &Lamp) -> String {
    let face = lamp.face_height_mm.map_or_else(String::new, |mm| {
        format!(
            " Its face is {} mm high; what that does on a near wall is taken out, so that the aim is that on a screen 25 m away.",
            fixed(Language::English, mm, 0)
        )
    });
    format!(
        "{} lamp: centre {} mm high (± {} mm, one standard deviation), {} mm from the wall (± {} mm), {} mm to the {} of the \
         bay's centre line.{face}",
        sentence(&lamp.side.to_string()),
        fixed(Language::English, lamp.centre_height_mm, 0),
        fixed(Language::English, lamp.centre_height_sd_mm, 1),
        fixed(Language::English, lamp.distance_mm, 0),
        fixed(Language::English, lamp.distance_sd_mm, 0),
        fixed(Language::English, lamp.centre_x_mm.abs(), 0),
        if lamp.centre_x_mm < 0.0 { "left" } else { "right" }
    )
}

/// What to beware of in the workshop.
pub(super) fn cautions(findings: &Findings) -> Section {
    let said = Caution::of_photos(findings.job.shot.iter().any(Shot::is_pumped));
    let list = List {
        items: said.map(|caution| caution.text().into()).collect(),
        ..List::default()
    };
    let law = Block::Paragraph("law", crate::DISCLAIMER.into());
    Section::new("Cautions", vec![Block::List(list), law])
}
