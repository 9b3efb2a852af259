//! The answer in three sentences: what was wrong, what was done, and what is still wrong or to be done next.

use super::super::document::{Block, Section, Sign, Text};
use super::super::text::{date, fixed, signed, u95};
use super::super::words::{likely, listed, minutes, sentence, within};
use super::adjuster::gauge_falls;
use super::isolation::{goes_on, mending, phrase_of};
use super::{made_photos, readings};
use crate::adjuster::{
    Change, LampTravel, LeakDown, LeakState, Movement, Real, ShortTravel, SideDifference, StickSlip, TravelFaultKind,
};
use crate::aim::{NotYet, Outcome, ShotReading, Verdict};
use crate::isolate::{Evidence, Isolated, Observation, Repair, Standing};
use crate::language::{Language, said};
use crate::record::{Extent, RepairEntry, Side, Stage, Test, Trial, TrialMoves, VacuumSource, Watch, is_setting};
use crate::run::Findings;
use crate::shot_list::AT_THE_LAMP;
use crate::warning::Warning;
use std::collections::HashSet;

/// Where somebody reads the answer: what to do next is done there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum At {
    /// In a terminal, beside the job's file and the commands.
    File,
    /// In a report or on the workbench's page, whose reader knows no ids and writes no file.
    Page,
}

/// For the terminal, whose end is what one sees.
pub(super) fn section(language: Language, findings: &Findings) -> Section {
    let said = sentences(language, findings, At::File);
    let heading = said.as_ref().map_or("", |_| language.pick("The answer", "Die Antwort"));
    let made = findings
        .job
        .made_photos
        .then(|| Block::text(made_photos(language, false)));
    let said = said.into_iter().flatten();
    let said = said.map(|(about, text)| Block::Remark(about.to_owned(), text));
    Section::new(heading, made.into_iter().chain(said).collect())
}

/// For the report, which it opens.
pub(super) fn opening(language: Language, findings: &Findings) -> Vec<Block> {
    leading(language, findings, At::Page)
}

/// The same for the readings on the workbench's page.
pub(crate) fn opening_of_page(language: Language, findings: &Findings) -> Section {
    let mut blocks = leading(language, findings, At::Page);
    blocks.extend(drawn_photos(language, findings, "banner"));
    Section::part("answer", "", blocks)
}

/// On the page, that a program drew the photos, where it did: a screen may be shown to somebody, or photographed, without the report.
pub(super) fn drawn_photos(language: Language, findings: &Findings, look: &'static str) -> Option<Block> {
    let said = || Block::Paragraph(look, made_photos(language, false).into());
    findings.job.made_photos.then(said)
}

fn leading(language: Language, findings: &Findings, at: At) -> Vec<Block> {
    let said = sentences(language, findings, at).into_iter().flatten();
    said.map(|(about, text)| Block::Paragraph("lead", Text::default().strong(format!("{about}: ")).then(text)))
        .collect()
}

/// What was wrong, what was done, what comes next; `None` for a job of which no photo gave a figure.
fn sentences(language: Language, findings: &Findings, at: At) -> Option<Vec<(&'static str, Text)>> {
    if !findings.readings.iter().any(|reading| reading.result.is_ok()) {
        return None;
    }
    let repaired = findings.is_repaired();
    let is_before = |stage: Option<Stage>| stage != Some(Stage::After);
    // Whatever a repair came to, what was photographed before it is said of the car of then.
    let past = repaired || !findings.job.repair.is_empty();
    let first = of_stage(language, findings, past, is_before);
    // Once the job goes on after a repair, what is suspected is of the car as it is now.
    let isolation = findings.isolation.as_ref();
    let goes_on = goes_on(findings);
    let before = isolation.filter(|_| goes_on).and_then(Isolated::in_hindsight);
    let suspect = match goes_on {
        // What was wrong is known better once it is mended.
        true => before.as_ref(),
        false => isolation,
    };
    let suspect = suspect.and_then(|isolated| at_fault(language, isolated, false));
    let faults = first.all_faults().join("; ");
    let wrong = match (faults.is_empty(), &suspect) {
        (true, _) if first.empty => Text::from(language.pick(
            "not photographed: there are no photos from before the repair.",
            "nicht fotografiert: Fotos von vor der Reparatur gibt es nicht.",
        )),
        (true, _) => by_tests(language, if goes_on { before.as_ref() } else { isolation }, &first),
        (false, Some(suspect)) if !first.faults.is_empty() => {
            Text::default().sign(Sign::Bad).strong(format!("{faults}. {suspect}."))
        }
        (false, _) => Text::default().sign(Sign::Bad).strong(format!("{faults}.")),
    };
    let about = if past {
        language.pick("What was wrong", "Was nicht in Ordnung war")
    } else {
        language.pick("What is wrong", "Was nicht in Ordnung ist")
    };
    let wrong = (about, wrong.then(open(language, &first)));
    // What is suspected, and tested next, once the job goes on after a repair.
    let now_isolated = isolation.filter(|_| goes_on);
    let suspect_now = now_isolated.and_then(|isolated| at_fault(language, isolated, true));
    let unseen = unseen_since(language, findings);
    let (done, now, mut steps) = if repaired {
        let now = of_stage(language, findings, false, |stage| !is_before(stage));
        let done = done(language, findings).then(other_lamp(language, isolation));
        let mut said = still(language, &now, now_isolated, &unseen);
        if let Some(suspect) = suspect_now {
            said = said.plain(format!(" {suspect}."));
        }
        let mut steps = steps(language, findings, now_isolated, &now, at);
        steps.extend(unseen.into_iter().map(|one| one.next));
        (done, Some(said), steps)
    } else if findings.job.repair.is_empty() {
        let done = Text::from(language.pick(
            "no repair that the job names or has photos of.",
            "nichts: der Auftrag nennt keine Reparatur und hat keine Fotos von danach.",
        ));
        (done, None, steps(language, findings, isolation, &first, at))
    } else {
        let repairs = findings.job.repair.iter();
        let each: Vec<String> = repairs.map(|repair| repair_words(language, findings, repair)).collect();
        let done = Text::from(said!(
            language; "{}. There are no photos from after it.", "{}. Fotos von danach gibt es nicht.";
            each.join("; ")
        ));
        // Whatever was suspected before it, the car is another one now.
        let photograph = language.pick(
            "photograph both beams at each position once more, as after the repair: the photos show whether it helped",
            "beide Lichtkegel noch einmal in jeder Stellung fotografieren, als nach der Reparatur: Die Fotos zeigen, ob sie geholfen hat",
        );
        let mut steps = vec![photograph.to_owned()];
        steps.extend(suspect_now);
        steps.extend(now_isolated.and_then(|isolated| next_step(language, isolated, false, at)));
        (done, None, steps)
    };
    let again = retake(language, findings);
    if !again.is_empty() {
        let again = listed(language, &again);
        steps.push(said!(
            language; "not read: {again}; mend what is said of them, or take them again",
            "nicht auswertbar: {again}; beheben, was dabei steht, oder neu aufnehmen"
        ));
    }
    let mut next: Vec<String> = steps.iter().map(|step| format!("{}.", sentence(step))).collect();
    if next.is_empty() && now.is_none() {
        next.push(
            language
                .pick(
                    "nothing, as far as the photos show.",
                    "nichts, soweit die Fotos zeigen.",
                )
                .to_owned(),
        );
    }
    let unseen: Vec<String> = [Side::Left, Side::Right]
        .into_iter()
        .filter(|&side| findings.job.lamp(side).is_some())
        .filter(|&side| findings.readings.iter().all(|reading| reading.shot.lamp != side))
        .map(|side| {
            let stem = side.stem();
            said!(language; "the {side} lamp", "der {stem}e Scheinwerfer")
        })
        .collect();
    if !unseen.is_empty() {
        let unseen = listed(language, &unseen);
        next.push(said!(language; "Not photographed: {unseen}.", "Nicht fotografiert: {unseen}."));
    }
    let mut all = vec![wrong, (language.pick("What was done", "Was getan wurde"), done)];
    if let Some(now) = now {
        all.push((
            language.pick("What is wrong now", "Was jetzt nicht in Ordnung ist"),
            now,
        ));
    }
    if !next.is_empty() {
        let about = language.pick("What to do next", "Was als Nächstes zu tun ist");
        all.push((about, Text::from(next.join(" "))));
    }
    Some(all)
}

/// What was found of a lamp before the repair, not following the range control or losing its vacuum, and that nobody looked at since.
struct Unseen {
    /// What is known of it.
    found: String,
    /// What to do.
    next: String,
}

/// What a repair came to at a lamp is only known where that lamp was looked at after it.
fn unseen_since(language: Language, findings: &Findings) -> Vec<Unseen> {
    let is_after = |stage: Option<Stage>| stage == Some(Stage::After);
    let travel = |lamp: Side, after: bool| {
        let mut all = findings.adjuster.travel.iter();
        all.find(move |one| one.lamp == lamp && is_after(one.stage) == after && one.total.is_some())
    };
    let was_tried = |lamp: Side| {
        let system = findings.isolation.as_ref().map(|isolated| &isolated.system);
        let by_control = |id: &str| {
            let test = system.and_then(|system| Some(&system.tests[system.test(id)?]));
            test.is_some_and(|test| test.by_positions && test.lamp == Some(lamp))
        };
        let mut trials = findings.job.trial.iter();
        trials.any(|trial| is_after(trial.stage) && by_control(&trial.test))
    };
    let of_lamp = |lamp: Side| {
        let before = travel(lamp, false)?;
        let stood = before.movement == Some(Movement::Still);
        let short = (findings.adjuster.short_travels()).any(|(stage, short)| !is_after(stage) && short.lamp == lamp);
        let failed = stood || short || !before.faults.is_empty();
        if !failed || !findings.is_repaired() || travel(lamp, true).is_some() || was_tried(lamp) {
            return None;
        }
        let stem = lamp.stem();
        let names: Vec<String> = before.positions.iter().map(|one| one.position.clone()).collect();
        let names = listed(language, &names);
        let found = if stood {
            said!(
                language; "the {lamp} beam did not follow the range control before the repair, and was not looked at since",
                "der {stem}e Lichtkegel folgte vor der Reparatur dem Leuchtweitenregler nicht und wurde seitdem nicht angesehen"
            )
        } else {
            said!(
                language; "the {lamp} beam did not follow the range control as it should before the repair, and was not looked at since",
                "der {stem}e Lichtkegel folgte vor der Reparatur dem Leuchtweitenregler nicht, wie er soll, und wurde seitdem nicht \
                 angesehen"
            )
        };
        let next = said!(
            language; "photograph the {lamp} beam at {names} once more, as after the repair: until then nobody knows whether it helped",
            "den {stem}en Lichtkegel in den Stellungen {names} noch einmal fotografieren, als nach der Reparatur: Bis dahin weiß niemand, \
             ob sie geholfen hat"
        );
        Some(Unseen { found, next })
    };
    let of_lamp_or_aim = |lamp: Side| of_lamp(lamp).or_else(|| aim_unseen_since(language, findings, lamp));
    let sides = || [Side::Left, Side::Right].into_iter();
    let unshut = sides().filter_map(|lamp| leak_unseen_since(language, findings, lamp));
    sides().filter_map(of_lamp_or_aim).chain(unshut).collect()
}

/// Where a beam was photographed: at a position by its name, or else as it is set.
fn at_place(language: Language, name: Option<&str>) -> String {
    match name {
        None => said!(language; "as set", "wie eingestellt"),
        Some(name) => said!(language; "at {name}", "in Stellung {name}"),
    }
}

/// A beam that was outside before the repair, at a place at which no photo shows it since: nobody said that it is mended.
fn aim_unseen_since(language: Language, findings: &Findings, lamp: Side) -> Option<Unseen> {
    let place = |reading: &ShotReading| reading.shot.position.clone().filter(|name| !is_setting(Some(name)));
    let is_after = |reading: &&ShotReading| reading.shot.stage == Some(Stage::After);
    let own = || {
        let all = findings.readings.iter();
        all.filter(move |reading| reading.shot.lamp == lamp && !reading.shot.is_pumped())
    };
    let is_seen = |of: &ShotReading| own().filter(is_after).any(|after| place(after) == place(of));
    let outside = own().filter(|reading| !is_after(reading)).find(|reading| {
        let is_outside = readings::verdict_of(reading).is_some_and(|verdict| verdict.unloaded() == Outcome::Outside);
        is_outside && !is_seen(reading)
    })?;
    if !findings.is_repaired() {
        return None;
    }
    let stem = lamp.stem();
    let at = at_place(language, place(outside).as_deref());
    Some(Unseen {
        found: said!(
            language; "the {lamp} beam {at} was outside before the repair, and was not photographed since",
            "der {stem}e Lichtkegel lag {at} vor der Reparatur außerhalb und wurde seitdem nicht fotografiert"
        ),
        next: said!(
            language; "photograph the {lamp} beam {at} once more, as after the repair",
            "den {stem}en Lichtkegel {at} noch einmal fotografieren, als nach der Reparatur"
        ),
    })
}

/// Whether a leak is gone shows only where vacuum was shut in at that lamp again: under the range control a small one need not show.
fn leak_unseen_since(language: Language, findings: &Findings, lamp: Side) -> Option<Unseen> {
    let is_after = |stage: Option<Stage>| stage == Some(Stage::After);
    let leaked = |leak: &&LeakDown| {
        leak.state == LeakState::Leaks && leak.doubt().is_none() && series_differ(language, findings, leak).is_none()
    };
    let mut leaks = (findings.adjuster.leak_down.iter()).filter(|leak| leak.lamp == lamp);
    let failed = leaks
        .clone()
        .filter(|leak| !is_after(leak.stage))
        .any(|leak| leaked(&leak));
    let is_known = leaks.any(|leak| is_after(leak.stage) && leak.state != LeakState::CannotTell);
    let system = findings.isolation.as_ref().map(|isolated| &isolated.system);
    let shows = |trial: &Trial| {
        let test = system.and_then(|system| Some(&system.tests[system.test(&trial.test)?]));
        let at_lamp = test.filter(|test| test.source == VacuumSource::Pump && test.lamp == Some(lamp));
        // In a test's minute a beam need not show what its gauge does.
        let tells = |test: &Test| match trial.moves {
            None | Some(TrialMoves::NotDone) => false,
            Some(TrialMoves::Yes) => trial.gauge.is_some() || test.watch == Watch::Gauge,
            Some(_) => true,
        };
        is_after(trial.stage) && at_lamp.is_some_and(tells)
    };
    if !failed || !findings.is_repaired() || is_known || findings.job.trial.iter().any(shows) {
        return None;
    }
    let stem = lamp.stem();
    Some(Unseen {
        found: said!(
            language; "the {lamp} lamp lost its vacuum before the repair, and whether it holds now was not seen",
            "der {stem}e Scheinwerfer verlor vor der Reparatur seinen Unterdruck, und ob er ihn jetzt hält, wurde nicht gesehen"
        ),
        next: said!(
            language; "photograph the {lamp} beam once more with the pump: its steps, and then with the valve shut, as after the repair; or \
             do the test with the pump there once more, and enter what its gauge does: until then nobody knows whether it helped",
            "den {stem}en Lichtkegel noch einmal mit der Pumpe fotografieren: ihre Stufen und danach bei geschlossenem Ventil, als nach der \
             Reparatur; oder die Prüfung mit der Pumpe dort noch einmal machen und eintragen, was der Unterdruckmesser tut: Bis dahin weiß \
             niemand, ob sie geholfen hat"
        ),
    })
}

/// That the repair serves the lamp at which nothing failed, where that is so.
fn other_lamp(language: Language, isolation: Option<&Isolated>) -> Text {
    let warnings = isolation.iter().flat_map(|isolated| &isolated.trials.warnings);
    let of_other = |warning: &&Warning| matches!(warning, Warning::RepairOfOtherLamp { .. });
    let said: String = warnings
        .filter(of_other)
        .map(|warning| format!("{}.", sentence(&warning.said(language))))
        .collect();
    if said.is_empty() {
        return Text::default();
    }
    Text::default().plain(" ").sign(Sign::Beware).strong(said)
}

/// Where the photos show nothing wrong: what a test that was written down found all the same.
fn by_tests(language: Language, isolated: Option<&Isolated>, stood: &Stood) -> Text {
    let failed: Vec<String> = (isolated.iter())
        .flat_map(|isolated| {
            let written = isolated.written_failures().into_iter();
            written.map(|one| phrase_of(language, &isolated.system.tests[one.test], one))
        })
        .collect();
    if failed.is_empty() {
        return nothing(language, stood);
    }
    let sound = stood.sound(language);
    Text::default().sign(Sign::Bad).strong(said!(
        language; "by the tests: {}. The photos show nothing wrong: {sound}.",
        "nach den Prüfungen: {}. Die Fotos zeigen keinen Fehler: {sound}.";
        failed.join("; ")
    ))
}

/// Why something cannot be told: what to do about it goes by that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Why {
    /// A limit lies within the interval.
    Undecided,
    /// Photos of one setting came to inside and to outside.
    Disagree,
    /// A lamp's positions look exchanged.
    MixedUp,
    /// No photo shows the position at which a lamp is set.
    Unset,
    /// No photo of a lamp gave a figure.
    Unread,
    /// Times contradict the stages that photos are said to be of.
    Stages,
    /// Photos or tests that stand against each other, or too few of them; the adjuster's own part says which.
    Adjuster,
}

/// What the photos of a stage came to.
#[derive(Default)]
struct Stood {
    /// No photo of it gave a figure.
    empty: bool,
    /// It was so before a repair, and is not said of the car as it stands.
    past: bool,
    /// What is wrong with the adjuster.
    faults: Vec<String>,
    /// What is wrong with the aim alone.
    aim_faults: Vec<String>,
    /// What cannot be told, and why.
    open: Vec<(Why, String)>,
    /// How a lamp that is outside is brought inside, or why not yet, one for a lamp.
    turns: Vec<(Side, String)>,
    /// What was entered of the car is to be held against it: a beam that is moved as it should be is wrong by it.
    measure_again: bool,
    /// A lamp is to be set by its own screw.
    set: bool,
    /// What would settle the verdicts that are open, one for a lamp and a place.
    settle: Vec<String>,
    /// Verdicts that are open.
    undecided: usize,
    /// Beams that hang lower at a position for a load than they may with that load: where, the figure, and the limit, per cent.
    for_load: Vec<(Side, String, f64, f64)>,
    /// A lamp goes up and down between its positions.
    order_wrong: bool,
    follows: Vec<Side>,
    inside: Vec<Side>,
    /// At these lamps photos show a leak that counts for no test.
    not_weighed: Vec<Side>,
}

impl Stood {
    /// All that is wrong.
    fn all_faults(&self) -> Vec<&str> {
        self.faults.iter().chain(&self.aim_faults).map(String::as_str).collect()
    }

    /// Whether something cannot be told for that reason.
    fn is_open(&self, why: Why) -> bool {
        self.open.iter().any(|(known, _)| *known == why)
    }

    /// Whether every lamp of the job was seen to follow the range control.
    fn follow_all(&self, findings: &Findings) -> bool {
        let mut lamps = findings.job.lamp.iter();
        lamps.all(|lamp| self.follows.contains(&lamp.side))
    }

    /// A verb as it is said of the car as it stands, or as it stood before a repair.
    const fn tense(&self, now: &'static str, then: &'static str) -> &'static str {
        if self.past { then } else { now }
    }

    /// What is as it should be.
    fn sound(&self, language: Language) -> String {
        let follow = match self.follows.as_slice() {
            [] => None,
            [_] => Some((self.tense("follows", "followed"), self.tense("folgt", "folgte"))),
            _ => Some((self.tense("follow", "followed"), self.tense("folgen", "folgten"))),
        };
        let follow = follow.map(|(follows, folgt)| {
            said!(
                language; "{follows} the range control", "{folgt} dem Leuchtweitenregler"
            )
        });
        let inside = match self.inside.as_slice() {
            [] => None,
            [_] => Some((self.tense("is", "was"), self.tense("liegt", "lag"))),
            _ => Some((self.tense("are", "were"), self.tense("liegen", "lagen"))),
        };
        let inside = inside.map(|(is, liegt)| {
            said!(
                language; "{is} inside the limits as set", "{liegt} wie eingestellt innerhalb der Grenzen"
            )
        });
        let of = |sides: &[Side], does: &str| match sides {
            [side] => {
                let stem = side.stem();
                said!(language; "the {side} beam {does}", "der {stem}e Lichtkegel {does}")
            }
            _ => said!(language; "both beams {does}", "beide Lichtkegel {does}"),
        };
        let parts = match (follow, inside) {
            // The same beams need not be named again.
            (Some(follow), Some(inside)) if self.follows == self.inside => {
                vec![of(&self.follows, &listed(language, &[follow, inside]))]
            }
            (follow, inside) => {
                let follow = follow.map(|follow| of(&self.follows, &follow));
                let inside = inside.map(|inside| of(&self.inside, &inside));
                follow.into_iter().chain(inside).collect()
            }
        };
        if parts.is_empty() {
            said!(language; "too little was photographed to say more", "für mehr wurde zu wenig fotografiert")
        } else {
            listed(language, &parts)
        }
    }
}

fn of_stage(language: Language, findings: &Findings, past: bool, stage: impl Fn(Option<Stage>) -> bool) -> Stood {
    let measured = |reading: &&ShotReading| stage(reading.shot.stage) && reading.result.is_ok();
    let mut stood = Stood {
        empty: !findings.readings.iter().any(|reading| measured(&reading)),
        past,
        ..Stood::default()
    };
    for travel in findings.adjuster.travel.iter().filter(|travel| stage(travel.stage)) {
        follows(language, travel, &mut stood);
    }
    for response in findings
        .adjuster
        .response
        .iter()
        .filter(|response| stage(response.stage))
    {
        let (lamp, stem) = (response.lamp, response.lamp.stem());
        let (does, bewegt) = (stood.tense("does", "did"), stood.tense("bewegt", "bewegte"));
        match (response.movement, response.unmoved_up_to_mbar()) {
            (Some(Movement::Still), _) => stood.faults.push(said!(
                language; "the {lamp} beam {does} not move with the pump's vacuum up to {:.0} mbar",
                "der {stem}e Lichtkegel {bewegt} sich nicht mit dem Unterdruck der Handpumpe bis {:.0} mbar";
                response.highest_mbar()
            )),
            (_, Some(mbar)) => stood.open.push((
                Why::Adjuster,
                said!(
                    language; "whether the {lamp} beam {} with the pump's vacuum: not known beyond {mbar:.0} mbar, up to which it {does} not",
                    "ob der {stem}e Lichtkegel sich mit dem Unterdruck der Handpumpe {}: über {mbar:.0} mbar hinaus nicht bekannt, bis dahin nicht";
                    match language {
                        Language::English => stood.tense("moves", "moved"),
                        Language::German => bewegt,
                    }
                ),
            )),
            (Some(Movement::CannotTell) | None, None) => stood.open.push((
                Why::Adjuster,
                said!(
                    language; "whether the {lamp} beam {} with the pump's vacuum",
                    "ob der {stem}e Lichtkegel sich mit dem Unterdruck der Handpumpe {}";
                    match language {
                        Language::English => stood.tense("moves", "moved"),
                        Language::German => bewegt,
                    }
                ),
            )),
            (Some(Movement::Moves), None) => {}
        }
    }
    let short = findings.adjuster.short_travels().filter(|(of, _)| stage(*of));
    let stands = |lamp: Side| {
        let travel = &findings.adjuster.travel;
        travel
            .iter()
            .any(|one| stage(one.stage) && one.lamp == lamp && one.movement == Some(Movement::Still))
    };
    // Of a beam that stands still that is said already.
    for (_, short) in short.filter(|(_, short)| !stands(short.lamp)) {
        stood.follows.retain(|side| *side != short.lamp);
        stood.faults.push(shorter(language, past, short));
    }
    verdicts(language, findings, &stage, &mut stood);
    against_job(language, findings, &stage, &mut stood);
    (stood.open).extend(contradicted(language, findings).map(|words| (Why::Stages, words)));
    unset(language, findings, &stage, &mut stood);
    for leak in findings.adjuster.leak_down.iter().filter(|leak| stage(leak.stage)) {
        // Joined to the actuator itself, the pump leaves the hose out.
        let (part, teil) = match leak.series.as_deref() {
            Some(AT_THE_LAMP) => ("actuator", "der Unterdruckdose"),
            _ => ("actuator or hose", "Unterdruckdose oder Schlauch"),
        };
        let creep = leak.creep_percent.as_ref().map(|creep| {
            let size = fixed(language, creep.value.abs(), 2);
            let way = match (language, creep.value < 0.0) {
                (Language::English, true) => "up",
                (Language::English, false) => "down",
                (Language::German, true) => "nach oben",
                (Language::German, false) => "nach unten",
            };
            let u95 = creep
                .u95
                .map(|half| format!(" ± {}", u95(language, half)))
                .unwrap_or_default();
            let time = minutes(language, leak.duration_s / 60.0);
            said!(language; " {way} by {size}{u95} % in {time}", " um {size}{u95} % in {time} {way}")
        });
        let falls = leak
            .gauge_fall_mbar_per_min
            .filter(|_| leak.state == LeakState::CannotTell);
        if let Some(rate) = falls.filter(|_| !leak.finding.is_contradiction()) {
            let (lamp, stem) = (leak.lamp, leak.lamp.stem());
            let falls = gauge_falls(language, rate, past);
            stood.faults.push(said!(
                language; "a leak at the {lamp} lamp's {part}, unless the pump's own joint let air in: with the pump's \
                 valve shut {falls}, though the beam need not show it yet",
                "eine Undichtigkeit an {teil} des {stem}en Scheinwerfers, falls nicht der Anschluss der Pumpe selbst \
                 Luft zog: Bei geschlossenem Pumpenventil gilt: {falls}; am Lichtkegel muss sich das noch nicht zeigen"
            ));
        }
        if leak.state == LeakState::Leaks {
            let (lamp, stem, creep) = (leak.lamp, leak.lamp.stem(), creep.unwrap_or_default());
            let (creeps, kriecht) = (stood.tense("creeps", "crept"), stood.tense("kriecht", "kroch"));
            let (is, geht) = (stood.tense("is", "was"), stood.tense("geht", "ging"));
            if let Some(differ) = series_differ(language, findings, leak) {
                stood.open.push((
                    Why::Adjuster,
                    said!(
                        language; "whether vacuum {is} lost at the {lamp} lamp: {differ}",
                        "ob am {stem}en Scheinwerfer Unterdruck verloren {geht}: {differ}"
                    ),
                ));
                continue;
            }
            if let Some(doubt) = leak.doubt() {
                stood.open.push((Why::Adjuster, said!(
                    language; "whether vacuum {is} lost at the {lamp} lamp: with the pump's valve shut its beam {creeps}{creep}, but {}",
                    "ob am {stem}en Scheinwerfer Unterdruck verloren {geht}: Bei geschlossenem Pumpenventil {kriecht} sein Lichtkegel{creep}, \
                     aber {}";
                    doubt.said(language)
                )));
                continue;
            }
            let not_weighed = is_not_weighed(findings, leak).then(|| {
                language.pick(
                    ", and no test counts this one yet: by the tests alone nothing may seem at fault",
                    ", und diese zählt noch keine Prüfung: Nach den Prüfungen allein kann alles in Ordnung scheinen",
                )
            });
            stood.faults.push(said!(
                language; "a leak at the {lamp} lamp's {part}, unless the pump's own joint let air in: with the pump's \
                 valve shut its beam {creeps}{creep}; under the range control a small leak need not show{}",
                "eine Undichtigkeit an {teil} des {stem}en Scheinwerfers, falls nicht der Anschluss der Pumpe selbst \
                 Luft zog: Bei geschlossenem Pumpenventil {kriecht} sein Lichtkegel{creep}; unter dem Leuchtweitenregler muss sich eine \
                 kleine Undichtigkeit nicht zeigen{}";
                not_weighed.unwrap_or_default()
            ));
            if not_weighed.is_some() && !stood.not_weighed.contains(&lamp) {
                stood.not_weighed.push(lamp);
            }
        }
    }
    stood
}

/// Whether a leak that photos show counts for none of the tests.
fn is_not_weighed(findings: &Findings, leak: &LeakDown) -> bool {
    let warnings = findings.isolation.iter().flat_map(|isolated| &isolated.trials.warnings);
    let (lamp, after) = (leak.lamp, leak.stage == Some(Stage::After));
    let mut warnings = warnings.into_iter();
    warnings.any(|warning| *warning == Warning::LeakNotWeighed { lamp, after })
}

/// What stands against a leak-down that leaks: the tests that cannot all be right with it, and how likely each is the wrong one.
fn series_differ(language: Language, findings: &Findings, leak: &LeakDown) -> Option<String> {
    let isolated = findings.isolation.as_ref()?;
    let contradiction = isolated.answer.contradiction.as_ref()?;
    let all = &isolated.trials.evidence;
    let is_of_leak = |one: &Evidence| {
        let of_stage = (one.mended != 0) == (leak.stage == Some(Stage::After));
        let leaks = one.seen == Observation::Sealed { holds: false };
        leaks && of_stage && isolated.system.tests[one.test].lamp == Some(leak.lamp)
    };
    let pairs = || contradiction.trials.iter().zip(&contradiction.erroneous);
    if !pairs().any(|(&n, _)| is_of_leak(&all[n])) {
        return None;
    }
    let told: Vec<String> = pairs()
        .map(|(&n, &erroneous)| {
            let what = phrase_of(language, &isolated.system.tests[all[n].test], &all[n]);
            let wrong = likely(language, erroneous);
            said!(
                language; "{what} ({wrong} likely to be wrong)", "{what} (zu {wrong} die falsche)"
            )
        })
        .collect();
    let told = told.join("; ");
    Some(said!(
        language; "these differ and cannot all be right: {told}",
        "diese Prüfungen widersprechen einander: {told}"
    ))
}

/// What goes against what the job expects of the travel, allows between the lamps, or any smooth movement does, and the lamps
/// none of whose photos could be read.
fn against_job(language: Language, findings: &Findings, stage: &impl Fn(Option<Stage>) -> bool, stood: &mut Stood) {
    let adjuster = &findings.adjuster;
    let size = |percent: f64| fixed(language, percent.abs(), 2);
    for travel in adjuster.travel.iter().filter(|travel| stage(travel.stage)) {
        // Of a beam that stands still that is said already.
        if travel.movement == Some(Movement::Still) {
            continue;
        }
        let (lamp, stem) = (travel.lamp, travel.lamp.stem());
        let odd = travel.positions.iter().rev().find_map(|at| {
            let expected = at.expected.as_ref().filter(|one| one.outcome == Outcome::Outside)?;
            Some((at, expected))
        });
        if let Some((at, expected)) = odd {
            let (is, ist) = (stood.tense("is", "was"), stood.tense("ist", "war"));
            stood.faults.push(said!(
                language;
                "the {lamp} beam's travel to {} {is} {} %, where the job expects {} ± {} %",
                "der Stellweg des {stem}en Lichtkegels bis {} {ist} {} %, wo der Auftrag {} ± {} % erwartet";
                at.position,
                signed(language, at.travel_percent, 2),
                signed(language, expected.travel_percent, 2),
                u95(language, expected.tolerance_percent)
            ));
        }
    }
    let beyond: Vec<&SideDifference> = (adjuster.sides.iter())
        .filter(|side| stage(side.stage) && side.outcome == Some(Outcome::Outside))
        .collect();
    let most =
        |a: &&&SideDifference, b: &&&SideDifference| a.difference_percent.abs().total_cmp(&b.difference_percent.abs());
    if let Some(worst) = beyond.iter().max_by(most) {
        let names: Vec<String> = beyond.iter().map(|side| side.position.clone()).collect();
        // More inclination is lower.
        let [higher, lower] = if worst.difference_percent < 0.0 {
            [Side::Left, Side::Right]
        } else {
            [Side::Right, Side::Left]
        };
        let (up, down) = (higher.stem(), lower.stem());
        let (lies, liegt) = (stood.tense("lies", "lay"), stood.tense("liegt", "lag"));
        let moved_rightly = [higher, lower]
            .iter()
            .all(|&lamp| !adjuster.is_at_fault(lamp, worst.stage));
        stood.measure_again |= moved_rightly;
        stood.set |= moved_rightly;
        stood.aim_faults.push(said!(
            language;
            "the {higher} beam {lies} up to {} % higher than the {lower} one (at {}), more than the job allows",
            "der {up}e Lichtkegel {liegt} bis zu {} % höher als der {down}e (in Stellung {}), mehr als der Auftrag erlaubt";
            size(worst.difference_percent),
            listed(language, &names)
        ));
    }
    for response in (adjuster.response.iter()).filter(|one| stage(one.stage) && one.stick_slip == StickSlip::Seen) {
        let (lamp, stem) = (response.lamp, response.lamp.stem());
        let (sticks, klemmt) = (stood.tense("sticks", "stuck"), stood.tense("klemmt", "klemmte"));
        stood.faults.push(said!(
            language; "the movement of the {lamp} beam {sticks} under the pump's vacuum",
            "die Bewegung des {stem}en Lichtkegels {klemmt} unter dem Unterdruck der Handpumpe"
        ));
    }
    for response in adjuster.response.iter().filter(|one| stage(one.stage)) {
        let (lamp, stem) = (response.lamp, response.lamp.stem());
        let stays = |why: &&Warning| matches!(why, Warning::BeamStaysDriven { .. });
        if let Some(why) = response.warnings.iter().find(stays) {
            let why = why.said(language);
            let fault = said!(language; "{lamp} beam, pump: {why}", "{stem}er Lichtkegel, Pumpe: {why}");
            stood.faults.push(fault);
        }
        let unfit = |why: &&Warning| {
            matches!(
                why,
                Warning::VacuumMistyped { .. } | Warning::VacuumBeyondPumps { .. } | Warning::BranchesExchanged
            )
        };
        if let Some(why) = response.warnings.iter().find(unfit) {
            let (does, macht) = (stood.tense("does", "did"), stood.tense("macht", "machte"));
            stood.open.push((
                Why::Adjuster,
                said!(
                    language; "what vacuum {does} to the {lamp} beam: {}",
                    "was Unterdruck mit dem {stem}en Lichtkegel {macht}: {}";
                    why.said(language)
                ),
            ));
        }
    }
    for leak in adjuster.leak_down.iter().filter(|leak| stage(leak.stage)) {
        let (lamp, stem) = (leak.lamp, leak.lamp.stem());
        if leak.finding.is_contradiction() {
            let (is, geht) = (stood.tense("is", "was"), stood.tense("geht", "ging"));
            stood.open.push((
                Why::Adjuster,
                said!(
                    language; "whether vacuum {is} lost at the {lamp} lamp: {}",
                    "ob am {stem}en Scheinwerfer Unterdruck verloren {geht}: {}";
                    leak.finding.said(language)
                ),
            ));
        }
    }
    for lamp in [Side::Left, Side::Right] {
        let mut own = (findings.readings.iter())
            .filter(|reading| reading.shot.lamp == lamp && stage(reading.shot.stage))
            .peekable();
        let stem = lamp.stem();
        if own.peek().is_some() && own.all(|reading| reading.result.is_err()) {
            let (lies, liegt) = (stood.tense("lies", "lay"), stood.tense("liegt", "lag"));
            stood.open.push((
                Why::Unread,
                said!(
                    language; "how the {lamp} beam {lies}: none of its photos could be read",
                    "wie der {stem}e Lichtkegel {liegt}: Keines seiner Fotos war auswertbar"
                ),
            ));
        }
    }
}

/// An inclination, per cent, and what it came to.
type Judged<'a> = (f64, &'a Verdict);

/// What the photos without the pump came to beside what is allowed: each lamp as set, and at its other positions.
fn verdicts(language: Language, findings: &Findings, stage: &impl Fn(Option<Stage>) -> bool, stood: &mut Stood) {
    let mut open_at: Vec<(String, Vec<(Side, &Verdict)>)> = Vec::new();
    for side in [Side::Left, Side::Right] {
        let shown = |reading: &&ShotReading| reading.shot.lamp == side && stage(reading.shot.stage);
        let mixed_up = |stage: Option<Stage>| {
            let mut travels = findings.adjuster.travel.iter();
            let travel = travels.find(|travel| (travel.lamp, travel.stage) == (side, stage));
            travel.map_or(&[][..], LampTravel::mixed_up)
        };
        // By the position's name; without one, as set.
        let mut at: Vec<(Option<&str>, Vec<Judged<'_>>)> = Vec::new();
        for reading in findings.readings.iter().filter(shown) {
            let Some(verdict) = readings::verdict_of(reading) else {
                continue;
            };
            let Ok(measured) = &reading.result else { continue };
            let position = reading.shot.position.as_deref();
            let name = position.filter(|position| !is_setting(Some(position)));
            // Of a photo that may be another position's nothing is said of the car.
            let in_doubt = mixed_up(reading.shot.stage);
            if position.is_some_and(|position| in_doubt.iter().any(|one| one == position)) {
                continue;
            }
            let one = (measured.aim.inclination_percent, verdict);
            match at.iter_mut().find(|(known, _)| *known == name) {
                Some((_, all)) => all.push(one),
                None => at.push((name, vec![one])),
            }
        }
        // A beam that stands still is said once, not at each position.
        let stands = |of: &&LampTravel| of.lamp == side && stage(of.stage) && of.movement == Some(Movement::Still);
        if findings.adjuster.travel.iter().any(|of| stands(&of)) && at.iter().any(|(name, _)| name.is_none()) {
            at.retain(|(name, _)| name.is_none());
        }
        for (name, all) in at {
            let place = at_place(language, name);
            let stem = side.stem();
            let has = |outcome| {
                let mut told = all.iter().filter(|(_, verdict)| !verdict.load_decides);
                told.find(|(_, verdict)| verdict.outcome == outcome)
            };
            // What is nearly inside needs no word.
            let mut by_load = all.iter().filter(|(_, verdict)| verdict.load_decides);
            if let Some((percent, verdict)) = by_load.find(|(_, verdict)| verdict.outcome == Outcome::Outside) {
                let limit_percent = verdict.band.high_percent;
                stood.for_load.push((side, place.clone(), *percent, limit_percent));
            }
            if has(Outcome::Outside).is_some() && has(Outcome::Inside).is_some() {
                let (is, liegt) = (stood.tense("is", "was"), stood.tense("liegt", "lag"));
                stood.open.push((
                    Why::Disagree,
                    said!(
                        language; "whether the {side} beam {place} {is} inside: its photos disagree",
                        "ob der {stem}e Lichtkegel {place} innerhalb {liegt}: Seine Fotos widersprechen einander"
                    ),
                ));
            } else if let Some((percent, verdict)) = has(Outcome::Outside) {
                let fault = outside(language, stood, side, &place, *percent, verdict);
                stood.aim_faults.push(fault);
                stood.measure_again |= verdict.not_yet != Some(NotYet::Mend);
                let is_turned = verdict.turn.as_ref().is_none_or(|turn| turn.down_percent.is_some());
                stood.set |= verdict.not_yet.is_none() && is_turned;
                if let Some(turn) = verdict
                    .settled()
                    .filter(|_| stood.turns.iter().all(|(known, _)| *known != side))
                {
                    stood.turns.push((side, turn.within(language).to_owned()));
                }
            } else if let Some((_, verdict)) = has(Outcome::Undecided) {
                stood.undecided += 1;
                // Of a beam that nothing moves rightly that is no question yet.
                let words = verdict.settled().filter(|_| verdict.not_yet != Some(NotYet::Mend));
                stood
                    .settle
                    .extend(words.map(|words| words.within(language).to_owned()));
                match open_at.iter_mut().find(|(known, _)| *known == place) {
                    Some((_, sides)) => sides.push((side, *verdict)),
                    None => open_at.push((place, vec![(side, *verdict)])),
                }
            } else if name.is_none() {
                stood.inside.push(side);
            }
        }
    }
    let (is, liegt) = (stood.tense("is", "was"), stood.tense("liegt", "lag"));
    let (are, liegen) = (stood.tense("are", "were"), stood.tense("liegen", "lagen"));
    stood.open.extend(open_at.into_iter().map(|(place, sides)| {
        (
            Why::Undecided,
            match sides.as_slice() {
                [(side, verdict)] => {
                    let (stem, likely) = (side.stem(), readings::likely_inside(language, verdict));
                    said!(
                        language; "whether the {side} beam {place} {is} inside the limits ({likely})",
                        "ob der {stem}e Lichtkegel {place} innerhalb der Grenzen {liegt} ({likely})"
                    )
                }
                _ => said!(
                    language; "whether both beams {place} {are} inside the limits",
                    "ob beide Lichtkegel {place} innerhalb der Grenzen {liegen}"
                ),
            },
        )
    }));
}

/// Lamps that were not judged as set, since no photo is named so.
fn unset(language: Language, findings: &Findings, stage: &impl Fn(Option<Stage>) -> bool, stood: &mut Stood) {
    for warning in &findings.warnings {
        let Warning::SettingNotShown { lamp, stage: of, .. } = warning else {
            continue;
        };
        if stage(*of) {
            let stem = lamp.stem();
            let (is, liegt) = (stood.tense("is", "was"), stood.tense("liegt", "lag"));
            stood.open.push((Why::Unset, said!(
                language; "whether the {lamp} beam as set {is} inside the limits: no photo is named position 0",
                "ob der {stem}e Lichtkegel wie eingestellt innerhalb der Grenzen {liegt}: Kein Foto heißt Stellung 0"
            )));
        }
    }
}

/// Where photos contradict the job, so that a stage may not be the one it is called.
fn contradicted(language: Language, findings: &Findings) -> Option<String> {
    let exchanged = |warning: &Warning| matches!(warning, Warning::StagesAgainstClock { .. });
    let said = language.pick(
        "which photos are from before the repair and which from after it: their times contradict the job",
        "welche Fotos von vor und welche von nach der Reparatur sind: Ihre Zeiten widersprechen dem Auftrag",
    );
    findings.warnings.iter().any(exchanged).then(|| said.to_owned())
}

/// "the left beam as set is too high, 0.80 % where 1.00 to 1.50 % is allowed".
fn outside(language: Language, stood: &Stood, side: Side, place: &str, percent: f64, verdict: &Verdict) -> String {
    let band = verdict.band;
    let way = if percent < band.low_percent {
        language.pick("high", "hoch")
    } else {
        language.pick("low", "tief")
    };
    let stem = side.stem();
    let (is, steht) = (stood.tense("is", "was"), stood.tense("steht", "stand"));
    let [percent, low, high] = [percent, band.low_percent, band.high_percent].map(|value| fixed(language, value, 2));
    said!(
        language; "the {side} beam {place} {is} too {way}, {percent} % where {low} to {high} % is allowed",
        "der {stem}e Lichtkegel {steht} {place} zu {way}, {percent} %, zulässig {low} bis {high} %"
    )
}

/// That a beam hangs lower at a position for a load than it may with that load, which on a car without it is no fault.
fn hangs_for_load(language: Language, stood: &Stood) -> Option<String> {
    let beams: Vec<String> = (stood.for_load.iter())
        .map(|(side, place, percent, _)| {
            let (stem, percent) = (side.stem(), fixed(language, *percent, 2));
            said!(
                language; "the {side} beam {place} ({percent} %)", "der {stem}e Lichtkegel {place} ({percent} %)"
            )
        })
        .collect();
    let limits = stood.for_load.iter().map(|(_, _, _, limit)| *limit);
    let limit = fixed(language, limits.reduce(f64::max)?, 2);
    let (hang, haengen) = match beams.len() {
        1 => (stood.tense("hangs", "hung"), stood.tense("hängt", "hing")),
        _ => (stood.tense("hang", "hung"), stood.tense("hängen", "hingen")),
    };
    let beams = listed(language, &beams);
    Some(said!(
        language;
        "{beams} {hang} lower than {limit} %, which is the limit with the load that the position is for: on a car without that load this is no \
         fault, and only one that is so loaded tells more",
        "{beams} {haengen} tiefer als {limit} %; das ist die Grenze mit der Beladung, für die die Stellung ist: Ohne diese Beladung ist es kein \
         Fehler, und mehr sagt nur ein so beladenes Fahrzeug"
    ))
}

/// A travel that is short of the other lamp's.
fn shorter(language: Language, past: bool, short: &ShortTravel) -> String {
    if !past {
        return short.said(language);
    }
    let figure = |percent: f64| fixed(language, percent.abs(), 2);
    let (lamp, stem, [from, to]) = (short.lamp, short.lamp.stem(), &short.between);
    said!(
        language;
        "the {lamp} beam moved by {} % only from {from} to {to}, where the other lamp's moved by {} %",
        "der {stem}e Lichtkegel bewegte sich nur um {} % von {from} bis {to}, wo sich der des anderen Scheinwerfers um {} % bewegte";
        figure(short.percent),
        figure(short.other_percent)
    )
}

/// Whether a lamp follows the range control.
fn follows(language: Language, travel: &LampTravel, stood: &mut Stood) {
    let (side, stem) = (travel.lamp, travel.lamp.stem());
    let figure = travel.total.as_ref().map(|total| {
        let figure = within(language, total.percent, total.u95_percent);
        said!(
            language; " ({figure} % from {} to {})", " ({figure} % von Stellung {} bis {})";
            total.from, total.to
        )
    });
    let figure = figure.unwrap_or_default();
    let (does, folgt) = (stood.tense("does", "did"), stood.tense("folgt", "folgte"));
    match travel.movement {
        Some(Movement::Still) => stood.faults.push(said!(
            language; "the {side} beam {does} not follow the range control{figure}",
            "der {stem}e Lichtkegel {folgt} dem Leuchtweitenregler nicht{figure}"
        )),
        Some(Movement::Moves) if travel.faults.is_empty() => stood.follows.push(side),
        Some(Movement::CannotTell) => stood.open.push((
            Why::Adjuster,
            said!(
                language; "whether the {side} beam {} the range control",
                "ob der {stem}e Lichtkegel dem Leuchtweitenregler {}";
                match language {
                    Language::English => stood.tense("follows", "followed"),
                    Language::German => folgt,
                }
            ),
        )),
        Some(Movement::Moves) | None => {}
    }
    if travel.movement != Some(Movement::Still) {
        let past = stood.past;
        if !travel.mixed_up().is_empty() {
            stood.open.push((
                Why::MixedUp,
                said!(
                    language; "which photo of the {side} lamp is of which position",
                    "welches Foto des {stem}en Scheinwerfers zu welcher Stellung gehört"
                ),
            ));
        }
        stood.order_wrong |= travel
            .faults
            .iter()
            .any(|fault| fault.kind == TravelFaultKind::OrderWrong);
        let faults = travel.faults.iter().filter(|fault| !fault.is_mix_up());
        stood.faults.extend(faults.map(|fault| {
            let fault = fault.told(language, past);
            said!(language; "{side} beam: {fault}", "{stem}er Lichtkegel: {fault}")
        }));
    }
}

fn open(language: Language, stood: &Stood) -> Text {
    if stood.open.is_empty() {
        return Text::default();
    }
    let open: Vec<String> = stood.open.iter().map(|(_, words)| words.clone()).collect();
    Text::default()
        .plain(" ")
        .sign(Sign::Open)
        .strong(said!(language; "Not yet sure: {}.", "Noch nicht sicher: {}."; listed(language, &open)))
}

/// "the actuator of the left lamp: replaced (2031-03-05)", by the system's name of the part.
pub(super) fn repair_words(language: Language, findings: &Findings, repair: &RepairEntry) -> String {
    let component = repair.component.as_ref().map(|id| {
        let components = findings
            .isolation
            .iter()
            .flat_map(|isolated| &isolated.system.components);
        let known = components.into_iter().find(|component| component.id == *id);
        known.map_or_else(
            || format!("{id}: "),
            |component| said!(language; "the {}: ", "{}: "; component.label.within(language)),
        )
    });
    // What is no part has no piece.
    let extent = match repair.extent.filter(|_| repair.component.is_some()) {
        Some(Extent::Piece) => language.pick("a piece of it, ", "ein Stück davon, "),
        Some(Extent::All) => language.pick("all of it, ", "das ganze Teil, "),
        None => "",
    };
    format!(
        "{}{} ({extent}{})",
        component.unwrap_or_default(),
        repair.words,
        date(language, &repair.date)
    )
}

/// What was done, and what that changed by the photos of both stages.
fn done(language: Language, findings: &Findings) -> Text {
    let repairs: Vec<String> = (findings.job.repair.iter())
        .map(|repair| repair_words(language, findings, repair))
        .collect();
    let repairs = if repairs.is_empty() {
        said!(language; "a repair that the job does not name", "eine Reparatur, die der Auftrag nicht nennt")
    } else {
        repairs.join("; ")
    };
    // Where hardly a position is common, each stage speaks of its own range.
    let (apart, shared): (Vec<_>, Vec<_>) =
        (findings.adjuster.stages.iter()).partition(|stage| stage.total.is_none() && stage.moved().is_some());
    let figures = shared.into_iter().filter_map(|stage| {
        let (what, change) = match (&stage.total, stage.positions.as_slice()) {
            (Some(total), [first, .., last]) => ((first.position.as_str(), Some(last.position.as_str())), total),
            (_, [only, ..]) => ((only.position.as_str(), None), &only.inclination),
            _ => return None,
        };
        Some((stage.lamp, what, change))
    });
    let mut known = None;
    let mut changes: Vec<String> = (apart.into_iter().filter_map(|stage| stage.moved()))
        .map(|moved| moved.said(language))
        .collect();
    for (lamp, what, change) in figures {
        // Of the other lamp the same need not be named again.
        let (stem, is_known) = (lamp.stem(), known == Some(what));
        let subject = match what {
            (_, Some(_)) if is_known => said!(language; "the {lamp} beam's", "der des {stem}en"),
            (_, None) if is_known => said!(language; "the {lamp} beam's", "die des {stem}en"),
            (first, Some(last)) => said!(
                language; "the {lamp} beam's travel from {first} to {last}",
                "der Stellweg des {stem}en Lichtkegels von Stellung {first} bis {last}"
            ),
            (position, None) => said!(
                language; "the {lamp} beam's inclination at {position}",
                "die Neigung des {stem}en Lichtkegels in Stellung {position}"
            ),
        };
        changes.push(changed(language, &subject, change));
        known = Some(what);
    }
    if changes.is_empty() {
        return Text::from(said!(
            language; "{repairs}. What it changed cannot be told, since no position was photographed before and after it.",
            "{repairs}. Was sich dadurch geändert hat, lässt sich nicht sagen, da keine Stellung davor und danach fotografiert wurde."
        ));
    }
    Text::from(said!(language; "{repairs}. Since then: {}.", "{repairs}. Seitdem: {}."; changes.join("; ")))
}

/// "the left beam's travel from 0 to 3 went from 0.00 ± 0.02 to 1.26 ± 0.02 %".
fn changed(language: Language, subject: &str, change: &Change) -> String {
    let before = within(language, change.before_percent, change.before_u95_percent);
    let after = within(language, change.after_percent, change.after_u95_percent);
    match change.real {
        Real::Real => said!(
            language; "{subject} went from {before} to {after} %", "{subject} ging von {before} auf {after} %"
        ),
        Real::NoChange => said!(
            language; "{subject} is as before, {after} %", "{subject} ist wie vorher, {after} %"
        ),
        Real::CannotTell => said!(
            language; "whether {subject} changed ({before}, now {after} %) cannot be told",
            "ob {subject} anders wurde (vorher {before}, jetzt {after} %), lässt sich nicht sagen"
        ),
    }
}

/// What is wrong after the repair.
fn still(language: Language, now: &Stood, tests: Option<&Isolated>, unseen: &[Unseen]) -> Text {
    let found: Vec<&str> = unseen.iter().map(|one| one.found.as_str()).collect();
    let said = if !found.is_empty() {
        let found = found.join("; ");
        let others = if now.empty {
            Text::default()
        } else if now.all_faults().is_empty() {
            let sound = now.sound(language);
            Text::from(said!(
                language; " What was photographed since shows nothing wrong: {sound}.",
                " Was seitdem fotografiert wurde, zeigt keinen Fehler: {sound}."
            ))
        } else {
            Text::default()
                .plain(" ")
                .sign(Sign::Bad)
                .strong(format!("{}.", sentence(&now.all_faults().join("; "))))
        };
        let open = said!(language; "not known: {found}.", "nicht bekannt: {found}.");
        Text::default().sign(Sign::Open).strong(open).then(others)
    } else if now.empty {
        Text::from(language.pick(
            "not known: no photo from after the repair gave a figure.",
            "nicht bekannt: Kein Foto von nach der Reparatur ergab einen Messwert.",
        ))
    } else if now.all_faults().is_empty() {
        by_tests(language, tests, now)
    } else {
        Text::default()
            .sign(Sign::Bad)
            .strong(format!("{}.", now.all_faults().join("; ")))
    };
    said.then(open(language, now))
}

/// Where nothing is wrong: what is as it should be, without a good mark while something is not known.
fn nothing(language: Language, stood: &Stood) -> Text {
    let said = said!(language; "nothing that the photos show; {}.", "nichts, soweit die Fotos zeigen; {}."; stood.sound(language));
    if stood.open.is_empty() {
        Text::default().sign(Sign::Good).strong(said)
    } else {
        Text::default().strong(said)
    }
}

/// What comes next on a car whose state the photos of a stage show, and its tests, where it has any: the main thing first.
fn steps(language: Language, findings: &Findings, isolated: Option<&Isolated>, stood: &Stood, at: At) -> Vec<String> {
    let mut steps: Vec<String> = Vec::new();
    match isolated {
        Some(isolated) => {
            // While a leak is seen that no test counts, that none of the parts is at fault is not to be said.
            let is_seen = stood.follow_all(findings) || !stood.not_weighed.is_empty();
            steps.extend(next_step(language, isolated, is_seen, at));
        }
        None if stood.faults.is_empty() => {}
        None => steps.push(
            match (at, findings.is_repaired(), findings.isolation.is_some()) {
                (At::Page, false, _) => language.pick(
                    "find the part at fault, by tests",
                    "das schadhafte Bauteil suchen, durch Prüfungen",
                ),
                // Tests from before it are of the car as it was.
                (At::Page, true, _) => language.pick(
                    "find the part at fault now, by tests done since the repair",
                    "das jetzt schadhafte Bauteil suchen, durch Prüfungen seit der Reparatur",
                ),
                (At::File, true, true) => language.pick(
                    "find the part at fault now: write down each test done since the repair as a [[trial]] with stage = \"after\", and \
                     run `beamfall isolate`",
                    "das jetzt schadhafte Bauteil suchen: jede Prüfung seit der Reparatur als [[trial]] mit stage = \"after\" eintragen \
                     und `beamfall isolate` aufrufen",
                ),
                (At::File, ..) => language.pick(
                    "find the part at fault: name the system in the job, write down each test as a [[trial]], and run `beamfall \
                     isolate`",
                    "das schadhafte Bauteil suchen: das System im Auftrag nennen, jede Prüfung als [[trial]] eintragen und \
                     `beamfall isolate` aufrufen",
                ),
            }
            .to_owned(),
        ),
    }
    // The same as stands beside the tests.
    steps.extend(stood.not_weighed.iter().map(|lamp| {
        let stem = lamp.stem();
        said!(
            language; "pump at the {lamp} lamp once more, watch the gauge for ten minutes with the valve shut, and enter what it does",
            "am {stem}en Scheinwerfer noch einmal pumpen, den Unterdruckmesser zehn Minuten bei geschlossenem Ventil beobachten und eintragen, \
             was er tut"
        )
    }));
    if stood.is_open(Why::Stages) {
        steps.push(
            language
                .pick(
                    "see which photos are from before the repair and which from after it, and enter them so",
                    "nachsehen, welche Fotos von vor und welche von nach der Reparatur sind, und sie so eintragen",
                )
                .to_owned(),
        );
    }
    if stood.is_open(Why::MixedUp) || stood.order_wrong {
        steps.push(
            language
                .pick(
                    "see which photo is of which position, and enter it so, before anything is set or replaced",
                    "nachsehen, welches Foto zu welcher Stellung gehört, und es so eintragen, bevor etwas eingestellt oder ersetzt wird",
                )
                .to_owned(),
        );
    }
    if stood.is_open(Why::Disagree) {
        // Before a repair and after it are told apart by the job; what was set after that shows by nothing but these photos.
        steps.push(
            match (findings.is_repaired(), findings.job.repair.len() > 1) {
                (false, _) => language.pick(
                    "where photos of one setting disagree: if anything was set or mended between them, enter that as a repair and the later \
                     photos as from after it; else take out those that do not show that setting",
                    "wo Fotos einer Einstellung einander widersprechen: ist dazwischen etwas eingestellt oder instand gesetzt worden, das als \
                     Reparatur eintragen und die späteren Fotos als von nachher; sonst die herausnehmen, die diese Einstellung nicht zeigen",
                ),
                (true, false) => language.pick(
                    "where photos of one setting disagree: if the lamp was set or mended between them, enter that as a repair and take out all \
                     photos of this lamp without the pump from before it, not only those that disagree; else take out those that do not show that \
                     setting",
                    "wo Fotos einer Einstellung einander widersprechen: ist der Scheinwerfer dazwischen eingestellt oder instand gesetzt worden, \
                     das als Reparatur eintragen und alle Fotos dieses Scheinwerfers ohne Pumpe von davor herausnehmen, nicht nur die \
                     widersprechenden; sonst die herausnehmen, die diese Einstellung nicht zeigen",
                ),
                (true, true) => language.pick(
                    "where photos of one setting disagree: take out all photos of this lamp without the pump from before the last repair, not only \
                     those that disagree; which are older stands at the warnings. If all are from after it, take out those that do not show that \
                     setting",
                    "wo Fotos einer Einstellung einander widersprechen: alle Fotos dieses Scheinwerfers ohne Pumpe von vor der letzten Reparatur \
                     herausnehmen, nicht nur die widersprechenden; welche älter sind, steht bei den Warnungen. Sind alle von danach, die \
                     herausnehmen, die diese Einstellung nicht zeigen",
                ),
            }
            .to_owned(),
        );
    }
    if stood.measure_again {
        steps.push(
            language
                .pick(
                    "hold the heights, distances and places \"as entered\" against the car once more",
                    "Höhen, Abstände und Lagen „wie eingetragen“ noch einmal am Fahrzeug nachmessen",
                )
                .to_owned(),
        );
    }
    if stood.set {
        steps.push(
            language
                .pick(
                    "if they are right, have the lamp set by its own adjusters, enter that as a repair, and photograph it again after it",
                    "stimmen sie, den Scheinwerfer an seinen Einstellschrauben einstellen lassen, das als Reparatur eintragen und danach \
                     neu fotografieren",
                )
                .to_owned(),
        );
    }
    steps.extend(match stood.turns.as_slice() {
        [(_, left), (_, right)] if left == right => {
            vec![said!(language; "both lamps: {left}", "beide Scheinwerfer: {left}")]
        }
        turns => turns
            .iter()
            .map(|(side, turn)| {
                let stem = side.stem();
                said!(language; "{side} lamp: {turn}", "{stem}er Scheinwerfer: {turn}")
            })
            .collect(),
    });
    if stood.is_open(Why::Unset) {
        steps.push(
            language
                .pick(
                    "name the range control's rest position 0 in the job, or photograph the lamp there too",
                    "im Auftrag die Ruhestellung des Leuchtweitenreglers 0 nennen oder den Scheinwerfer auch dort fotografieren",
                )
                .to_owned(),
        );
    }
    match stood.settle.as_slice() {
        [] => {}
        [settle] if stood.undecided == 1 && at == At::Page => {
            steps.push(said!(
                language; "to settle what the verdict leaves open, {settle}", "zur Klärung des offenen Urteils: {settle}"
            ));
        }
        // In a terminal it stood there a few lines before.
        _ if at == At::File => steps.push(
            language
                .pick(
                    "what would settle what is undecided stands above, at its photos",
                    "was das Unentschiedene klärt, steht oben bei den Fotos dazu",
                )
                .to_owned(),
        ),
        _ => steps.push(
            language
                .pick(
                    "what would settle the verdicts that are still open stands beside each of their photos",
                    "was die noch offenen Urteile klärt, steht bei jedem der Fotos dazu",
                )
                .to_owned(),
        ),
    }
    steps.extend(hangs_for_load(language, stood));
    if stood.is_open(Why::Adjuster) {
        steps.push(
            language
                .pick(
                    "what else is not sure yet is explained beside the travel and the pump's steps",
                    "was sonst noch nicht sicher ist, wird beim Stellweg und bei den Stufen der Pumpe erklärt",
                )
                .to_owned(),
        );
    }
    steps
}

/// A part that is at fault with no more than this is only suspected: of four such, one is sound (common practice, no source).
const PROBABLE: f64 = 0.75;

/// From this probability on a part is called at fault of which the mending took the fault away (common practice, no source).
const CURED: f64 = 0.5;

/// "Probably at fault: the left actuator (97 %)"; where no part is at fault with [`PROBABLE`], what is suspected is called no more than
/// that. `now`: after a repair.
fn at_fault(language: Language, isolated: &Isolated, now: bool) -> Option<String> {
    let mut suspect = first_suspect(language, isolated)?;
    let answer = &isolated.answer;
    let most = answer.by_component.iter().copied().fold(0.0, f64::max);
    // That the fault went with the part is shown, where only tests before it were not enough.
    if isolated.is_cured_by(answer.first_component()) && most >= CURED {
        return Some(said!(
            language; "Probably at fault: {suspect}; what failed passes since that was mended",
            "Wahrscheinlich defekt: {suspect}; seit das instand gesetzt ist, gelingt, was misslang"
        ));
    }
    // What can be mended without a new part is not called a part that is broken.
    let spared = mending(language, &isolated.mended_without_part(answer.first_component()));
    if !spared.is_empty() {
        suspect = said!(
            language; "{suspect}; no new part is needed for it: {spared}", "{suspect}; dafür ist kein Neuteil nötig: {spared}"
        );
    }
    Some(match (most > PROBABLE && most > answer.nothing, now) {
        (true, false) => said!(language; "Probably at fault: {suspect}", "Wahrscheinlich defekt: {suspect}"),
        (true, true) => {
            said!(language; "Probably at fault now: {suspect}", "Jetzt wahrscheinliche Ursache: {suspect}")
        }
        (false, false) => said!(
            language; "Suspected, not shown yet: {suspect}", "Verdacht, noch nicht erwiesen: {suspect}"
        ),
        (false, true) => said!(
            language; "Suspected now, not shown yet: {suspect}", "Jetzt im Verdacht, noch nicht erwiesen: {suspect}"
        ),
    })
}

/// "the left actuator (97 %)".
pub(in crate::report) fn first_suspect(language: Language, isolated: &Isolated) -> Option<String> {
    let standings = isolated.standings();
    let ranked = isolated.answer.ranked_components();
    let suspected = ranked.into_iter().filter(|&c| standings[c] == Standing::Suspected);
    let named: Vec<String> = suspected
        .map(|c| {
            let component = &isolated.system.components[c];
            said!(
                language; "the {} ({})", "{} ({})";
                component.label.within(language),
                likely(language, isolated.answer.by_component[c])
            )
        })
        .collect();
    (!named.is_empty()).then(|| listed(language, &named))
}

/// The next test, or what to replace; nothing where no test failed, none is worth its time, and all beams are seen to follow the range
/// control. `follow`: whether they are.
pub(super) fn next_step(language: Language, isolated: &Isolated, follow_all: bool, at: At) -> Option<String> {
    let (system, answer) = (&isolated.system, &isolated.answer);
    let decision = &answer.decision;
    let doubt = if answer.contradiction.is_some() {
        language.pick(
            "some trials contradict each other; ",
            "einige Prüfungen widersprechen einander; ",
        )
    } else {
        ""
    };
    let step = match &decision.next {
        Some(next) if !decision.stop => {
            let test = &system.tests[next.test];
            let ask = test.ask.within(language);
            let ask = ask.strip_suffix('.').unwrap_or(ask);
            let time = minutes(language, next.minutes);
            // Ids are for who writes a job file.
            match at {
                At::File => said!(
                    language; "do the next test ({}, about {time}). {ask}", "die nächste Prüfung ausführen ({}, etwa {time}). {ask}";
                    test.id
                ),
                At::Page => said!(
                    language; "do the next test (about {time}). {ask}", "die nächste Prüfung ausführen (etwa {time}). {ask}"
                ),
            }
        }
        _ => match decision.repairs(&answer.by_component, answer.nothing).first() {
            Some(Repair::Replace(c)) if !isolated.mended_without_part(*c).is_empty() => {
                let ways = mending(language, &isolated.mended_without_part(*c));
                said!(
                    language; "{ways}: no new part is needed for that", "{ways}: dafür ist kein Neuteil nötig"
                )
            }
            Some(Repair::Replace(c)) => {
                let part = system.components[*c].label.within(language);
                said!(
                    language; "mend or replace the {part}; another test would cost more time than it saves",
                    "{part}: instand setzen oder ersetzen; eine weitere Prüfung würde mehr Zeit kosten als sparen"
                )
            }
            _ if isolated.failures().is_empty() && follow_all => return None,
            _ if isolated.failures().is_empty() => {
                said!(
                    language; "work the range control once more and look at both beams; by the tests none of its parts is at fault",
                    "den Leuchtweitenregler noch einmal betätigen und beide Lichtkegel ansehen; nach den Prüfungen ist keines seiner Bauteile \
                     schadhaft"
                )
            }
            _ => {
                said!(
                    language; "look at both beams at each position before any part is replaced: a test failed, and no part stands out",
                    "beide Lichtkegel in jeder Stellung ansehen, bevor ein Bauteil ersetzt wird: Eine Prüfung ist \
                     fehlgeschlagen, und kein Bauteil fällt besonders auf"
                )
            }
        },
    };
    Some(sentence(&format!("{doubt}{step}")))
}

/// Photos that were refused and of whose state no other photo gave a figure.
fn retake(language: Language, findings: &Findings) -> Vec<String> {
    let measured = findings.readings.iter().filter(|other| other.result.is_ok());
    let states: HashSet<_> = measured.filter_map(|other| other.shot.state()).collect();
    let read = |refused: &ShotReading| refused.shot.state().is_some_and(|state| states.contains(&state));
    let missing = findings
        .readings
        .iter()
        .filter(|reading| reading.result.is_err() && !read(reading));
    let name = |reading: &ShotReading| {
        let photo = &reading.shot.photo;
        photo
            .file_name()
            .unwrap_or(photo.as_os_str())
            .to_string_lossy()
            .into_owned()
    };
    let mut names: Vec<String> = missing.map(name).collect();
    /// More names than these say less than their number.
    const MOST: usize = 4;
    if names.len() > MOST {
        let more = names.len() - (MOST - 1);
        names.truncate(MOST - 1);
        names.push(said!(language; "{more} more", "{more} weitere"));
    }
    names
}
