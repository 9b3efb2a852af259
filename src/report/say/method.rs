//! What the figures mean and rest on: how they are measured, what their uncertainty is made of, what the verdicts are held
//! against, and what to beware of in the workshop.

use super::super::document::{Block, Cell, Column, Item, List, Section, Table, Text};
use super::super::text::{date, fixed, round, shorten, signed, width};
use super::super::words::{lamp_and_stage, sentence, what_it_shows};
use super::readings;
use crate::adjuster::{LampTravel, TravelStep};
use crate::aim::{Aim, COVERAGE_FACTOR_95, Share, ShotReading};
use crate::language::{Language, said};
use crate::record::{Bay, Caution, HeightsFrom, Lamp, Shot, Side, ToleranceTable};
use crate::run::Findings;

/// For the terminal: the uncertainty budget of each reading and of each travel, after the tables of the GUM (JCGM 100:2008,
/// annex H; its combination by the root sum of squares is 5.1.2).
pub(super) fn budgets(language: Language, findings: &Findings) -> Vec<Section> {
    let how = Block::text(language.pick(
        "How the uncertainty is made up. sd: one standard uncertainty. share: of the variance. job: the same in all \
         photos of the job, so that it cancels in a travel; photo: differs from photo to photo.",
        "Woraus sich die Messunsicherheit zusammensetzt. s: eine Standardunsicherheit. Anteil: an der Varianz. Auftrag: in allen \
         Fotos des Auftrags gleich, sodass es sich in einem Stellweg aufhebt; Foto: von Foto zu Foto verschieden.",
    ));
    let of_readings = findings.readings.iter().filter_map(|reading| {
        let measured = reading.result.as_ref().ok()?;
        let photo = reading.shot.photo.display();
        let under = vec![
            Block::text(said!(
                language; "inclination {} %; 1 % is {} mm at the wall", "Neigung {} %; 1 % sind {} mm an der Wand";
                signed(language, measured.aim.inclination_percent, 4),
                fixed(language, reading.lamp.distance_mm / 100.0, 1)
            )),
            Block::Table(terms(language, &measured.aim, reading.lamp.distance_mm)),
        ];
        Some(Block::Labelled(
            format!("{photo}: {}", what_it_shows(language, &reading.shot)).into(),
            under,
        ))
    });
    let of_travels = findings.adjuster.travel.iter().flat_map(|lamp| {
        let steps = lamp.steps.iter();
        steps.map(|step| of_travel(language, lamp, step, &findings.readings))
    });
    let blocks = std::iter::once(how).chain(of_readings).chain(of_travels);
    blocks.map(|block| Section::new("", vec![block])).collect()
}

/// Columns of a term's name; the longest has 34.
const NAME: usize = 34;
/// Columns of a bar as long as the whole variance.
const BAR: usize = 15;

/// An empty table of terms.
fn terms_table(language: Language, with_shares: bool) -> Table {
    let column = |title: &'static str, least: usize, right: bool| Column {
        least,
        most: if right { 0 } else { least },
        right,
        ..Column::new("", title)
    };
    let mut columns = vec![
        column(language.pick("term", "Beitrag"), NAME, false),
        column(
            language.pick("of", "von"),
            width(share_name(language, Share::Job)).max(5),
            false,
        ),
        column(language.pick("sd %", "s %"), 7, true),
        column(language.pick("sd mm", "s mm"), 6, true),
    ];
    if with_shares {
        columns.extend([column(language.pick("share", "Anteil"), 6, true), Column::new("", "")]);
    }
    Table {
        columns,
        gap: 1,
        ..Table::default()
    }
}

/// A term's first cells.
fn term(language: Language, name: impl std::fmt::Display, of: &str, sd_percent: f64, distance_mm: f64) -> Vec<Cell> {
    vec![
        name.to_string().into(),
        of.into(),
        fixed(language, sd_percent, 4).into(),
        fixed(language, sd_percent / 100.0 * distance_mm, 2).into(),
    ]
}

fn share_name(language: Language, share: Share) -> &'static str {
    match share {
        Share::Job => language.pick("job", "Auftrag"),
        Share::Photo => language.pick("photo", "Foto"),
    }
}

fn combined(language: Language) -> &'static str {
    language.pick("combined (root sum of squares)", "zusammen (Wurzel der Quadratsumme)")
}

fn half_width(language: Language) -> String {
    let factor = language.figure(&COVERAGE_FACTOR_95.to_string());
    said!(language; "x {factor} = 95 % half-width", "x {factor} = halbe Breite zu 95 %")
}

/// The terms of an inclination, largest first.
fn terms(language: Language, aim: &Aim, distance_mm: f64) -> Table {
    let variance: f64 = aim.budget.iter().map(|term| term.sd_percent.powi(2)).sum();
    let mut sorted: Vec<_> = aim.budget.iter().collect();
    sorted.sort_by(|a, b| b.sd_percent.total_cmp(&a.sd_percent));
    let mut table = terms_table(language, true);
    for one in sorted {
        // What is less than a millionth of a per cent is there only by the fit's last digits.
        let share = round(one.sd_percent, 6).powi(2) / variance;
        let share = if share.is_finite() { share } else { 0.0 };
        let mut row = term(
            language,
            one.source.said(language),
            share_name(language, one.source.share()),
            one.sd_percent,
            distance_mm,
        );
        row.extend([
            format!("{} %", fixed(language, 100.0 * share, 0)).into(),
            bar(share, one.source.share()).into(),
        ]);
        table.rows.push(row);
    }
    let mut combined = term(language, combined(language), "", variance.sqrt(), distance_mm);
    combined.push("100 %".into());
    table.rows.push(combined);
    table
        .rows
        .push(term(language, half_width(language), "", aim.u95_percent(), distance_mm));
    let of_photo = aim.reading_u95_percent();
    table.rows.push(term(
        language,
        language.pick("  of it what differs by photo", "  davon je Foto verschieden"),
        "",
        of_photo,
        distance_mm,
    ));
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
fn of_travel(language: Language, lamp: &LampTravel, travel: &TravelStep, readings: &[ShotReading]) -> Block {
    let ends = [&travel.from, &travel.to].map(|position| photos_at(lamp, position, readings));
    let label = said!(
        language; "Travel, {}: position {} to {}: {} ± {} %", "Stellweg, {}: Stellung {} bis {}: {} ± {} %";
        lamp_and_stage(language, lamp.lamp, lamp.stage),
        shorten(&travel.from, 13),
        shorten(&travel.to, 13),
        signed(language, travel.percent, 4),
        fixed(language, travel.u95_percent, 4)
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
            let (name, variance) = (one.source.said(language).to_owned(), weight * one.sd_percent.powi(2));
            match variances.iter_mut().find(|(known, _)| *known == name) {
                Some((_, sum)) => *sum += variance,
                None => variances.push((name, variance)),
            }
        }
    }
    let all = (travel.u95_percent / COVERAGE_FACTOR_95).powi(2);
    let left = all - variances.iter().map(|(_, variance)| variance).sum::<f64>();
    let mut table = terms_table(language, false);
    for (name, variance) in variances {
        table.rows.push(term(
            language,
            name,
            share_name(language, Share::Photo),
            variance.sqrt(),
            distance_mm,
        ));
    }
    if left > 1e-3 * all {
        let name = language.pick("scatter and what does not cancel", "Streuung und nicht Aufgehobenes");
        table.rows.push(term(language, name, "", left.sqrt(), distance_mm));
    }
    table
        .rows
        .push(term(language, combined(language), "", all.sqrt(), distance_mm));
    table.rows.push(term(
        language,
        half_width(language),
        "",
        travel.u95_percent,
        distance_mm,
    ));
    let cancel = language.pick(
        "(the job's terms are the same in both photos and cancel)",
        "(die Beiträge des Auftrags sind in beiden Fotos gleich und heben sich auf)",
    );
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
pub(super) fn budget(language: Language, aim: &Aim) -> Block {
    let mut table = Table::new(
        "",
        [
            ("", language.pick("Term", "Beitrag")),
            ("", language.pick("The same in", "Gleich in")),
            ("figure", "± %"),
        ],
    );
    for one in &aim.budget {
        let same_in = match one.source.share() {
            Share::Job => language.pick("all photos of the job", "allen Fotos des Auftrags"),
            Share::Photo => language.pick("this photo only", "nur diesem Foto"),
        };
        let u95_percent = COVERAGE_FACTOR_95 * one.sd_percent;
        table.row([
            one.source.said(language).into(),
            same_in.into(),
            fixed(language, u95_percent, 3).into(),
        ]);
    }
    table.row([
        Text::default().strong(language.pick("Together", "Zusammen")).into(),
        language.pick("counts for the verdict", "zählt für das Urteil").into(),
        Text::default().strong(fixed(language, aim.u95_percent(), 3)).into(),
    ]);
    table.row([
        language.pick("This photo only", "Nur dieses Foto").into(),
        language.pick("counts for a travel", "zählt für einen Stellweg").into(),
        fixed(language, aim.reading_u95_percent(), 3).into(),
    ]);
    let noted = table.noted(language.pick(
        "Half-widths of 95 % intervals; they add as squares.",
        "Halbe Breiten der 95-%-Intervalle; sie addieren sich quadratisch.",
    ));
    Block::Details(
        language.pick(
            "What the uncertainty is made of",
            "Woraus sich die Messunsicherheit zusammensetzt",
        ),
        noted,
    )
}

/// What UN R112's cut-off quality annex says of a sharpness; it wants 0.13 to 0.40.
pub(super) fn sharpness(language: Language, g: f64) -> &'static str {
    if g < 0.13 {
        language.pick(" (soft)", " (weich)")
    } else if g > 0.40 {
        language.pick(" (hard)", " (hart)")
    } else {
        ""
    }
}

/// The tolerance table, and how a reading is held against it.
pub(super) fn verdicts(language: Language, findings: &Findings) -> Section {
    let blocks = match &findings.table {
        None => vec![Block::text(language.pick(
            "The job names no tolerance table, so that nothing was judged.",
            "Der Auftrag nennt keine Toleranztabelle, sodass nichts beurteilt wurde.",
        ))],
        Some(t) => {
            let facts = [
                (
                    language.pick("Table", "Tabelle"),
                    format!("{} ({})", t.title.within(language), t.name),
                ),
                (language.pick("Source", "Quelle"), t.source.within(language).to_owned()),
                (
                    language.pick("Edition", "Ausgabe"),
                    t.edition.within(language).to_owned(),
                ),
                (language.pick("Read on", "Eingesehen am"), date(language, &t.read)),
                (
                    language.pick("Confidence", "Verlässlichkeit"),
                    t.confidence.within(language).to_owned(),
                ),
                (
                    language.pick("Note", "Hinweis"),
                    note_of(language, t, findings.job.tolerance_choice.as_deref()),
                ),
            ];
            let said = facts.into_iter().filter(|(_, value)| !value.is_empty());
            vec![
                Block::Facts("head", said.map(|(name, value)| (name, value.into())).collect()),
                Block::text(
                    bands(language, t)
                        .plain(language.pick(" A reading is ", " Ein Messwert ist "))
                        .emphasis(language.pick("inside", "innerhalb"))
                        .plain(language.pick(" or ", " oder "))
                        .emphasis(language.pick("outside", "außerhalb"))
                        .plain(language.pick(
                            " when its whole 95 % interval is, and ",
                            ", wenn sein ganzes 95-%-Intervall es ist, und ",
                        ))
                        .emphasis(language.pick("undecided", "offen"))
                        .plain(language.pick(
                            " where a limit lies within the interval. How likely an undecided one is to be inside is the \
                             probability of conformity of JCGM 106:2012 for a normal state of knowledge; it decides \
                             nothing here.",
                            ", wo eine Grenze im Intervall liegt. Wie wahrscheinlich ein offener innerhalb liegt, ist die \
                             Konformitätswahrscheinlichkeit nach JCGM 106:2012 bei normalverteilter Kenntnis; sie entscheidet \
                             hier nichts.",
                        )),
                ),
            ]
        }
    };
    Section::new(
        language.pick("What the verdicts rest on", "Worauf die Urteile beruhen"),
        blocks,
    )
}

/// What a reader of the report can use of a table's note: not the key of a maker's choice, but whether the job takes it, and nothing of where the
/// table's text was looked for; that stands in the table's file and in the results for machines.
fn note_of(language: Language, table: &ToleranceTable, chosen: Option<&str>) -> String {
    const OF_SEARCH: [&str; 4] = ["read on 20", "looked for on 20", "gelesen am ", "gesucht und nicht "];
    let note = table.note.within(language);
    let sentences = note.split_inclusive(". ");
    let told = sentences.filter(|sentence| !OF_SEARCH.iter().any(|of_search| sentence.contains(of_search)));
    let told: String = told.map(|sentence| without_key(language, sentence, chosen)).collect();
    told.trim().to_owned()
}

/// The same sentence without the key of a choice at its end: `: choice "steeper"`.
fn without_key(language: Language, sentence: &str, chosen: Option<&str>) -> String {
    let (lead, end) = match language {
        Language::English => (": choice \"", '"'),
        Language::German => (": Auswahl „", '“'),
    };
    let parts = sentence
        .split_once(lead)
        .and_then(|(before, rest)| Some((before, rest.split_once(end)?)));
    let Some((before, (key, rest))) = parts else {
        return sentence.to_owned();
    };
    let taken = if chosen == Some(key) {
        language.pick(" (taken here)", " (hier gewählt)")
    } else {
        language.pick(" (not taken here)", " (hier nicht gewählt)")
    };
    format!("{before}{taken}{rest}")
}

/// Which band judges what.
fn bands(language: Language, table: &ToleranceTable) -> Text {
    let setting = language.pick(
        "Position 0, or no position, is judged by the ",
        "Stellung 0 oder eine Aufnahme ohne Stellung wird beurteilt nach der ",
    );
    let name = language.pick("setting", "Einstellung");
    if table.has_range() {
        Text::from(
            said!(language; "The table has two bands. {setting}", "Die Tabelle hat zweierlei Grenzen. {setting}"),
        )
        .emphasis(name)
        .plain(language.pick(
            ": as set up, lightly loaded. The other positions are judged by the ",
            ": wie eingestellt, leicht beladen. Die anderen Stellungen werden beurteilt nach dem ",
        ))
        .emphasis(language.pick("range", "Bereich"))
        .plain(language.pick(
            ": what the beam must keep to over all loads. A beam that hangs lower there than that is no fault of a car without the load that the \
             position is for: “by load”.",
            ": was der Lichtkegel bei jeder Beladung einhalten muss. Hängt er dort tiefer, so ist das an einem Fahrzeug ohne die Beladung, für \
             die die Stellung ist, kein Fehler: „je Ladung“.",
        ))
    } else {
        Text::from(setting).emphasis(name).plain(language.pick(
            ": as set up, lightly loaded. The table has no band for the other positions, so that they are not judged.",
            ": wie eingestellt, leicht beladen. Für die anderen Stellungen hat die Tabelle keine Grenzen, sodass sie nicht beurteilt \
             werden.",
        ))
    }
}

/// How sure the figures are that the verdicts rest on, where there are verdicts.
pub(super) fn confidence(language: Language, findings: &Findings) -> Option<String> {
    let judged = |reading: &ShotReading| reading.result.as_ref().is_ok_and(|measured| measured.verdict.is_some());
    let table = findings.table.as_ref()?;
    let marked = marked(language, findings);
    if !findings.readings.iter().any(judged) {
        // A stamp that fits no row is why nothing is judged.
        return marked;
    }
    Some({
        let limits = said!(
            language; "Limits: table {}; how sure they are: {}.", "Grenzen: Tabelle {}; wie verlässlich sie sind: {}.";
            table.name, table.confidence.within(language)
        );
        marked.map_or_else(|| limits.clone(), |marked| format!("{limits} {marked}"))
    })
}

/// What is stamped on lamp or car, where the job gives it, with the limits that hold beside it: those of each lamp, where they are not the same.
pub(super) fn marked(language: Language, findings: &Findings) -> Option<String> {
    let table = findings.table.as_ref()?;
    let marked_percent = table.marked_percent?;
    let choice = findings.job.tolerance_choice.as_deref();
    let percent = |value: f64| fixed(language, value, 2);
    let of_lamp = |lamp: &Lamp| {
        let [set, all] = [true, false].map(|setting| table.band(setting, lamp.height_above_ground_mm(), choice));
        let Some(set) = set else {
            let none = language.pick(
                "no row of UN R48 for the lamp's height has it, so that nothing is judged; look at the stamp and the height once more, or give limits \
                 of your own",
                "keine Zeile von UN R48 für die Höhe des Scheinwerfers hat ihn, deshalb wird nichts beurteilt; Prägung und Höhe noch einmal ansehen \
                 oder eigene Grenzen angeben",
            );
            return (lamp.side, none.to_owned());
        };
        let is_beside = marked_percent < set.low_percent || marked_percent > set.high_percent;
        let mut said = said!(
            language; "as set {} to {} %", "wie eingestellt {} bis {} %"; percent(set.low_percent), percent(set.high_percent)
        );
        if let Some(all) = all {
            said.push_str(&said!(
                language; ", over all loads {} to {} %", ", über alle Beladungen {} bis {} %";
                percent(all.low_percent), percent(all.high_percent)
            ));
        }
        if is_beside {
            said.push_str(language.pick(
                "; the stamped value lies outside of these: look at the stamp, the lamp's height and the table once more",
                "; der eingeprägte Wert liegt außerhalb davon: Prägung, Höhe des Scheinwerfers und Tabelle noch einmal ansehen",
            ));
        }
        (lamp.side, said)
    };
    let mut all: Vec<(Side, String)> = findings.job.lamp.iter().map(of_lamp).collect();
    all.dedup();
    let is_one = all.iter().all(|(_, said)| *said == all[0].1);
    let said: Vec<String> = if is_one {
        all.iter().take(1).map(|(_, said)| said.clone()).collect()
    } else {
        let named = |(side, said): &(Side, String)| format!("{}: {said}", lamp_and_stage(language, *side, None));
        all.iter().map(named).collect()
    };
    let marked = language.figure(&marked_percent.to_string());
    Some(said!(
        language; "Stamped on lamp or car: {marked} %. Allowed: {}.", "Auf Scheinwerfer oder Fahrzeug eingeprägt: {marked} %. Zulässig: {}.";
        said.join("; ")
    ))
}

/// How a photo becomes a figure.
pub(super) fn measuring(language: Language, findings: &Findings) -> Section {
    let flat = if findings.job.traffic.flat_side_sign() < 0.0 {
        Side::Left
    } else {
        Side::Right
    };
    let flat = flat.said(language);
    let bays = findings.bays.all().map(|bay| {
        let name = if findings.bays.are_several() {
            format!(" {}", bay.name)
        } else {
            String::new()
        };
        Item::from(said!(language; "Bay{name}: {}", "Messplatz{name}: {}"; hung(language, bay)))
    });
    let lamps = findings.job.lamp.iter().map(|lamp| Item::from(tape(language, lamp)));
    let list = List {
        items: bays.chain(lamps).collect(),
        ..List::default()
    };
    let mut blocks = vec![
        Block::text(
            Text::from(language.pick(
                "The sheets on the wall give the place on the wall of every pixel of a photo. On vertical scans through the \
                 beam the cut-off is the inflection of the logarithm of the illuminance, d²(log",
                "Die Messblätter an der Wand geben zu jedem Pixel eines Fotos den Ort auf der Wand. Auf senkrechten Schnitten durch den \
                 Lichtkegel ist die Hell-Dunkel-Grenze der Wendepunkt des Logarithmus der Beleuchtungsstärke, d²(log",
            ))
            .low("10")
            .plain(said!(
                language; " E)/dβ² = 0, where the step down is steepest (UN Regulation No. 112, annex on the quality of the cut-off). \
                 The reading is the scan 2.5° from the lamp's vertical V-V on the flat side of the pattern, here the {flat}; \
                 the scans at 1.5° and 3.5° give the linearity. Sharpness G is the largest drop of log",
                " E)/dβ² = 0, wo die Stufe am steilsten abfällt (UN-Regelung Nr. 112, Anhang zur Güte der Hell-Dunkel-Grenze). \
                 Gemessen wird auf dem Schnitt 2,5° neben der Senkrechten V-V des Scheinwerfers, auf der flachen Seite des Lichtbilds, \
                 hier {flat}; die Schnitte bei 1,5° und 3,5° ergeben die Geradheit. Die Schärfe G ist der größte Abfall von log"
            ))
            .low("10")
            .plain(language.pick(
                " E over 0.1°; approval wants 0.13 to 0.40, the upper limit at 25 m. “Steepest fall of light” and “half brightness” are two other ways to \
                 place the edge, for comparison only.",
                " E über 0,1°; für die Genehmigung gelten 0,13 bis 0,40, die obere Grenze auf 25 m. „Steilster Lichtabfall“ und „halbe \
                 Helligkeit“ sind zwei andere Arten, die Grenze zu legen, nur zum Vergleich.",
            )),
        ),
        Block::text(language.pick(
            "The inclination is the tangent, in per cent, of the downward angle of the cut-off against the vehicle's \
             reference plane (wording of ISO 10604): the drop below the lamp's centre, over the distance from lamp to wall. \
             Positive is downward.",
            "Die Neigung ist der Tangens, in Prozent, des Winkels, um den die Hell-Dunkel-Grenze unter der Bezugsebene des Fahrzeugs \
             liegt (Begriff nach ISO 10604): die Absenkung unter die Mitte des Scheinwerfers, geteilt durch den Abstand vom \
             Scheinwerfer zur Wand. Positiv ist abwärts.",
        )),
        Block::text(language.pick(
            "Each ± is the half-width of a 95 % interval (1.96 standard deviations of all terms together). It holds the \
             photo, the sheets' places and the tape measures; what it cannot hold is a wrong figure in the job file.",
            "Jedes ± ist die halbe Breite eines 95-%-Intervalls (1,96 Standardabweichungen aller Beiträge zusammen). Es enthält \
             das Foto, die Lage der Messblätter und das Maßband; nicht enthalten kann es eine falsche Angabe in der Auftragsdatei.",
        )),
        Block::List(list),
    ];
    blocks.extend(readings::by_eye(language, findings).map(Block::text));
    Section::new(language.pick("How it was measured", "Wie gemessen wurde"), blocks)
}

/// How a bay's sheets hang, and what heights are from.
fn hung(language: Language, bay: &Bay) -> String {
    let heights = match bay.heights_from {
        HeightsFrom::Floor => said!(
            language; "Heights are from the floor, which runs on to the wall in one plane.",
            "Höhen gelten ab dem Boden, der in einer Ebene bis zur Wand läuft."
        ),
        HeightsFrom::LevelLine => said!(
            language; "Heights are from one level line; the standing area rises by {} % towards the wall, which is added to each \
             inclination.",
            "Höhen gelten ab einer Waagerechten; die Standfläche steigt zur Wand hin um {} %, was zu jeder Neigung addiert wird.";
            fixed(language, bay.grade_percent, 2)
        ),
    };
    said!(
        language; "{} sheets, taped to ± {} mm (one standard deviation). {heights}",
        "{} Messblätter, eingemessen auf ± {} mm (eine Standardabweichung). {heights}";
        bay.marks.sheet.len(),
        fixed(language, bay.marks.position_sd_mm, 1)
    )
}

/// What was measured with a tape at a lamp.
fn tape(language: Language, lamp: &Lamp) -> String {
    let face = lamp.face_height_mm.map_or_else(String::new, |mm| {
        said!(
            language; " Its lens or reflector is {} mm high; what that does on a near wall is taken out, so that the aim is that on a screen 25 m \
             away.",
            " Linse oder Reflektor seines Abblendlichts ist {} mm hoch; was das an einer nahen Wand ausmacht, ist herausgerechnet, sodass die \
             Einstellung für einen Schirm in 25 m Abstand gilt.";
            fixed(language, mm, 0)
        )
    });
    let aside = if lamp.centre_x_mm < 0.0 {
        Side::Left
    } else {
        Side::Right
    };
    let (name, aside) = (lamp_and_stage(language, lamp.side, None), aside.said(language));
    said!(
        language; "{}: centre {} mm high (± {} mm, one standard deviation), {} mm from the wall (± {} mm), {} mm to the {aside} of the \
         bay's centre line.{face}",
        "{}: Mitte {} mm hoch (± {} mm, eine Standardabweichung), {} mm von der Wand (± {} mm), {} mm {aside} der Mittellinie \
         des Messplatzes.{face}";
        sentence(&name),
        fixed(language, lamp.centre_height_mm, 0),
        fixed(language, lamp.centre_height_sd_mm, 1),
        fixed(language, lamp.distance_mm, 0),
        fixed(language, lamp.distance_sd_mm, 0),
        fixed(language, lamp.centre_x_mm.abs(), 0)
    )
}

/// What to beware of in the workshop.
pub(super) fn cautions(language: Language, findings: &Findings) -> Section {
    let said = Caution::of_photos(findings.job.shot.iter().any(Shot::is_pumped));
    let list = List {
        items: said.map(|caution| caution.said(language).into()).collect(),
        ..List::default()
    };
    let law = Block::Paragraph("law", crate::disclaimer(language).into());
    Section::new(language.pick("Cautions", "Vorsicht"), vec![Block::List(list), law])
}
