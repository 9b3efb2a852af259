//! The list of photos to take, as one reads it in a garage: printed, at 80 columns, with a box to tick for each photo.

use super::{Drive, GaugeStep, PlannedPhoto, Shows, too_high};
use crate::language::{Language, said};
use crate::record::{Branch, Caution, Job, Shot, Side, Stage};
use crate::report::terminal::COLUMNS;
use crate::report::text::{plain, wrap};
use crate::report::words::lamp_stage;
use std::collections::HashSet;

/// Time for a beam to come to rest after a step, s: hoses fill within seconds (common practice, no source).
const SETTLE_S: u32 = 10;
/// Time for a lamp to give steady light, min: a gas-discharge lamp takes about one (common practice, no source).
const WARM_UP_MIN: u32 = 2;

/// A photo in a few words: lamp, stage, and what it shows.
#[must_use]
pub fn describe(language: Language, photo: &PlannedPhoto) -> String {
    let of = lamp_stage(language, photo.lamp, photo.stage);
    format!("{of}, {}", what(language, &photo.shows))
}

fn what(language: Language, shows: &Shows) -> String {
    match shows {
        Shows::Position(position) => said!(language; "control at {}", "Regler auf {}"; plain(position)),
        Shows::Vacuum { gauge, branch } => format!("{} {}", step_text(language, gauge), branch.said(language)),
        Shows::Sealed { after_s, .. } => said!(language; "valve shut {}", "Ventil zu {}"; clock(*after_s)),
        Shows::LampOff => language.pick("lamp off", "ohne Licht").to_owned(),
    }
}

/// A step of the gauge as it was typed, with the language's decimal sign.
fn step_text(language: Language, gauge: &GaugeStep) -> String {
    language.figure(&gauge.text)
}

/// Minutes and seconds, "1:05".
fn clock(seconds: u32) -> String {
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// The list for a terminal or a printer, at most 80 columns wide. What `job` holds already is ticked.
#[must_use]
pub fn render(language: Language, photos: &[PlannedPhoto], job: &Job) -> String {
    let mut page = Page::of(language);
    let (name, count) = (plain(&job.job), photos.len());
    page.line(
        &said!(language; "Photos to take for job {name}: {count}", "Aufzunehmende Fotos für Auftrag {name}: {count}"),
    );
    page.blank();
    before_the_first(&mut page, photos);
    let mut before: Option<&PlannedPhoto> = None;
    for photo in photos {
        to_photo(&mut page, before, photo, job);
        photo_line(&mut page, photo, photo.is_in(job));
        before = Some(photo);
    }
    page.blank();
    if let Some(lamp) = without_response(photos, job) {
        let stem = lamp.stem();
        page.note(&said!(
            language;
            "A leak-down is read through the response to vacuum, and none is known of the {lamp} lamp: take --check vacuum,leak-down.",
            "Eine Dichtheitsprüfung wird über die Antwort auf Unterdruck gelesen, und vom {stem}en Scheinwerfer ist keine bekannt: \
             --check vacuum,leak-down nehmen."
        ));
    }
    page.note(language.pick(
        "A photo that went wrong is taken again at once; note which, to leave it out later.",
        "Ein misslungenes Foto sofort neu aufnehmen; notieren, welches, um es später auszulassen.",
    ));
    if let Some(last) = photos.last() {
        page.blank();
        put_back(&mut page, last);
    }
    page.text
}

/// After the last photo of all.
fn put_back(page: &mut Page, last: &PlannedPhoto) {
    let language = page.language;
    page.line(language.pick("Afterwards", "Danach"));
    finish(page, last);
    if last.drive == Drive::Pump {
        page.note(language.pick(
            "Try the range control too.",
            "Auch den Leuchtweitenregler ausprobieren.",
        ));
    }
}

/// All that is to be done from the photo before to this one.
fn to_photo(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto, job: &Job) {
    if before.is_none_or(|b| (b.stage, b.lamp, b.drive) != (photo.stage, photo.lamp, photo.drive)) {
        page.blank();
        change(page, before, photo, job);
    }
    what_to_do(page, before, photo, job);
}

/// A lamp with a leak-down whose response to vacuum neither the list nor the job shows.
fn without_response(photos: &[PlannedPhoto], job: &Job) -> Option<Side> {
    let in_list = |lamp| {
        let is_step = |photo: &PlannedPhoto| matches!(photo.shows, Shows::Vacuum { .. });
        photos.iter().any(|photo| photo.lamp == lamp && is_step(photo))
    };
    let in_job = |lamp| {
        job.shot
            .iter()
            .any(|shot| shot.lamp == lamp && shot.vacuum.is_some() && !shot.sealed)
    };
    let mut sealed = photos
        .iter()
        .filter(|photo| matches!(photo.shows, Shows::Sealed { .. }))
        .map(|photo| photo.lamp);
    sealed.find(|&lamp| !in_list(lamp) && !in_job(lamp))
}

fn before_the_first(page: &mut Page, photos: &[PlannedPhoto]) {
    let language = page.language;
    page.line(language.pick("Before the first photo", "Vor dem ersten Foto"));
    page.warn(Caution::Rolling);
    page.note(language.pick(
        "Car on its marks, square to the wall, tyres and load as the maker says; boot and doors shut.",
        "Fahrzeug auf seinen Markierungen, rechtwinklig zur Wand, Reifen und Beladung nach Herstellerangabe; Kofferraum und Türen zu.",
    ));
    page.note(language.pick(
        "Room dark. Camera on a tripod or a shelf, all sheets in the picture; then it stays where it is. No flash, no zoom, \
         no HDR, no night mode; JPEG at full size; exposure turned down until the brightest patch is not white (try -2 EV).",
        "Raum dunkel. Kamera auf einem Stativ oder einem Regal, alle Messblätter im Bild; dann bleibt sie, wo sie ist. Kein Blitz, kein \
         Zoom, kein HDR, kein Nachtmodus; JPEG in voller Größe; Belichtung verringern, bis die hellste Stelle nicht weiß ist (etwa -2 EV).",
    ));
    page.note(language.pick(
        "Do not set the camera's clock on the way, and do not edit the photos: they are told apart by their times.",
        "Unterwegs die Uhr der Kamera nicht stellen und die Fotos nicht bearbeiten: sie werden an ihren Zeiten unterschieden.",
    ));
    page.warn(Caution::Glare);
    let is_pumped = photos.iter().any(|photo| photo.drive == Drive::Pump);
    if is_pumped {
        page.warn(Caution::Charger);
    }
    if let Some(step) = too_high(photos) {
        let (step, diaphragm) = (step_text(language, step), Caution::Diaphragm.said(language));
        page.caution(&said!(
            language; "This list pumps to {step}. {diaphragm}", "Diese Liste pumpt bis {step}. {diaphragm}"
        ));
    }
}

/// What to do before the next photo when the lamp, the stage or the drive changes.
fn change(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto, job: &Job) {
    let language = page.language;
    if let Some(last) = before.filter(|b| b.stage != photo.stage) {
        repair(page, last);
        page.blank();
    }
    let before = before.filter(|b| b.stage == photo.stage);
    let stage = match photo.stage {
        Some(Stage::Before) => language.pick(", before the repair", ", vor der Reparatur"),
        Some(Stage::After) => language.pick(", after the repair", ", nach der Reparatur"),
        None => "",
    };
    let (lamp, stem) = (photo.lamp, photo.lamp.stem());
    match photo.drive {
        Drive::Control => {
            page.line(&said!(
                language; "The {lamp} lamp with the range control{stage}", "Der {stem}e Scheinwerfer mit dem Leuchtweitenregler{stage}"
            ));
            start_control(page, photo, job);
        }
        Drive::Pump => {
            page.line(&said!(
                language; "The {lamp} lamp with the hand pump{stage}", "Der {stem}e Scheinwerfer mit der Handpumpe{stage}"
            ));
            join_pump(page, before, photo);
        }
    }
}

/// Between the stages: the pump is off and its line back on before anybody works on the car or moves it.
fn repair(page: &mut Page, last: &PlannedPhoto) {
    let language = page.language;
    page.line(language.pick("The repair", "Die Reparatur"));
    finish(page, last);
    if last.drive == Drive::Control {
        page.warn(Caution::HotLamps);
    }
    page.warn(Caution::HighVoltage);
    page.warn(Caution::Airbags);
    page.note(language.pick(
        "Make the repair. Then the car back on its marks.",
        "Die Reparatur ausführen. Dann das Fahrzeug zurück auf seine Markierungen.",
    ));
    page.warn(Caution::Rolling);
    page.otherwise(
        language.pick(
            "Where it stands otherwise than before, measure the lamps anew (height, x, distance) and give each a second [[lamp]] \
             entry with stage = \"after\"; for sheets hung anew, that entry also names their bay file (bay).",
            "Steht es anders als vorher, die Scheinwerfer neu vermessen (Höhe, x, Abstand) und jedem einen zweiten Eintrag [[lamp]] mit \
             stage = \"after\" geben; sind Messblätter neu gehängt, nennt dieser auch deren Datei (bay).",
        ),
        language.pick(
            "Where it stands otherwise than before, or sheets were hung anew, nothing is right any more that was measured: begin a new job \
             for the car after the repair.",
            "Steht es anders als vorher oder sind Messblätter neu gehängt, stimmt nichts mehr, was vermessen wurde: für das Fahrzeug nach der \
             Reparatur einen neuen Auftrag anlegen.",
        ),
    );
}

/// After the last photo of a stage: everything off and back in its place.
fn finish(page: &mut Page, last: &PlannedPhoto) {
    let language = page.language;
    page.note(all_off(language));
    if last.drive == Drive::Pump {
        page.note(language.pick(
            "The charger off, if there is one.",
            "Das Ladegerät ab, falls es eines gibt.",
        ));
        page.warn(Caution::HotLamps);
        page.note(&take_pump_off(language, last.lamp));
        page.warn(Caution::Brakes);
    }
    page.note(language.pick("Board away.", "Brett weg."));
}

const fn all_off(language: Language) -> &'static str {
    language.pick(
        "Light switch, engine and ignition off.",
        "Lichtschalter, Motor und Zündung aus.",
    )
}

fn take_pump_off(language: Language, lamp: Side) -> String {
    let stem = lamp.stem();
    said!(
        language;
        "When cool: pump off the {lamp} lamp, its line back on, its cover shut.",
        "Wenn kalt: Pumpe vom {stem}en Scheinwerfer ab, seine Leitung wieder auf, seine Abdeckung zu."
    )
}

/// The board goes before the other lamp, with the engine and the lights off: one stands before the car for it.
fn put_board(page: &mut Page, lamp: Side) {
    let other = match lamp {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    };
    let (stem, other_stem) = (lamp.stem(), other.stem());
    page.note(&said!(
        page.language;
        "Board before the {other} lamp; the {lamp} lamp free.",
        "Brett vor den {other_stem}en Scheinwerfer; der {stem}e frei."
    ));
    page.warn(Caution::Covers);
}

fn dipped_beam_on(language: Language) -> String {
    said!(
        language;
        "Dipped beam on; let the lamps burn {WARM_UP_MIN} minutes.",
        "Abblendlicht ein; die Lampen {WARM_UP_MIN} Minuten brennen lassen."
    )
}

/// The range control's photos of a lamp start.
fn start_control(page: &mut Page, photo: &PlannedPhoto, job: &Job) {
    let language = page.language;
    page.note(all_off(language));
    put_board(page, photo.lamp);
    page.warn(Caution::Rolling);
    page.warn(Caution::Wall);
    // Each time that the engine is started.
    page.warn(Caution::Exhaust);
    page.warn(Caution::MovingParts);
    // The systems that are known all work by the engine's vacuum.
    page.note(if job.system.is_some() {
        language.pick("Start the engine.", "Den Motor starten.")
    } else {
        language.pick(
            "Start the engine, if the control works by its vacuum or with it running only; else ignition on, the engine stays off.",
            "Den Motor starten, wenn der Regler mit dessen Unterdruck oder nur bei laufendem Motor arbeitet; sonst Zündung ein, der Motor bleibt aus.",
        )
    });
    page.note(&dipped_beam_on(language));
}

/// The pump's photos of a lamp start. `before`: the photo before, of the same stage.
fn join_pump(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto) {
    let language = page.language;
    let (lamp, stem) = (photo.lamp, photo.lamp.stem());
    page.note(all_off(language));
    page.warn(Caution::HotLamps);
    match before.filter(|b| b.drive == Drive::Pump) {
        Some(b) => page.note(&take_pump_off(language, b.lamp)),
        None => {
            for caution in [
                Caution::HighVoltage,
                Caution::MovingParts,
                Caution::Airbags,
                Caution::Diaphragm,
                Caution::Brakes,
                Caution::LowVacuum,
            ] {
                page.warn(caution);
            }
        }
    }
    if before.is_none_or(|b| b.lamp != lamp) {
        put_board(page, lamp);
    }
    page.note(&said!(
        language;
        "When cool: take the line off the {lamp} lamp's actuator and join the pump there, not pumped yet.",
        "Wenn kalt: die Leitung von der Unterdruckdose des {stem}en Scheinwerfers abziehen und dort die Pumpe anschließen, noch nicht pumpen."
    ));
    page.note(&said!(
        language;
        "Ignition on, engine off, dipped beam on; let the lamps burn {WARM_UP_MIN} minutes.",
        "Zündung ein, Motor aus, Abblendlicht ein; die Lampen {WARM_UP_MIN} Minuten brennen lassen."
    ));
}

/// What to do for this photo, where that is not what the one before it took.
fn what_to_do(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto, job: &Job) {
    let language = page.language;
    let before = before.filter(|b| (b.stage, b.lamp, b.drive) == (photo.stage, photo.lamp, photo.drive));
    let before = before.map(|b| &b.shows);
    match (&photo.shows, before) {
        // Of one photo alone the page says it by `set_for`.
        (Shows::Position(_), None) => page.in_list(&said!(
            language;
            "At each: turn the control, wait until the beam stands still ({SETTLE_S} s at the least), do not touch the car.",
            "Bei jedem: den Regler drehen, warten, bis der Lichtkegel stillsteht (mindestens {SETTLE_S} s), das Fahrzeug nicht berühren."
        )),
        (
            Shows::Vacuum {
                branch: Branch::Applying,
                ..
            },
            None,
        ) => page.in_list(&said!(
            language;
            "At each: pump up to it from below and hold it for {SETTLE_S} s. Gone too far? Back to the first step, and up again.",
            "Bei jedem: von unten bis dorthin pumpen und {SETTLE_S} s halten. Zu weit gepumpt? Zurück zur ersten Stufe und von vorn."
        )),
        (
            Shows::Vacuum {
                branch: Branch::Releasing,
                ..
            },
            Some(Shows::Vacuum {
                branch: Branch::Applying,
                ..
            })
            | None,
        ) => page.note(&said!(
            language;
            "Now down only: let air in little by little, and hold each step for {SETTLE_S} s.",
            "Jetzt nur noch abwärts: nach und nach belüften und jede Stufe {SETTLE_S} s halten."
        )),
        (Shows::Sealed { after_s: 0, every_s, reaches }, _) => {
            mid_travel(page, photo, reaches, job);
            leak_down(page, *every_s);
        }
        (Shows::Sealed { every_s, .. }, None) => page.note(&said!(
            language;
            "With the valve still shut go on; one every {every_s} s (the camera's interval timer does it), without touching pump \
             or car.",
            "Bei weiter geschlossenem Ventil fortfahren; alle {every_s} s eines (das macht der Intervallauslöser der Kamera), ohne Pumpe oder \
             Fahrzeug zu berühren."
        )),
        (Shows::LampOff, _) => page.note(language.pick(
            "Light switch off, all else as it was, the camera too; the control or pump does not matter now.",
            "Lichtschalter aus, alles andere wie es war, auch die Kamera; auf Regler oder Pumpe kommt es jetzt nicht an.",
        )),
        _ => {}
    }
}

/// How to find the middle of this lamp's travel: on an end stop, or before it moves, a beam says nothing of the vacuum.
fn mid_travel(page: &mut Page, photo: &PlannedPhoto, reaches: &GaugeStep, job: &Job) {
    let language = page.language;
    let (lamp, stem, top) = (photo.lamp, photo.lamp.stem(), step_text(language, reaches));
    let by_eye = said!(
        language;
        "mark with tape, beside the sheets, where the cut-off stands without vacuum and where at {top}, and pump until it is \
         half-way between the two. Then the tape off again. Does it not move, a leak-down shows nothing: leave it out.",
        "neben den Messblättern mit Klebeband markieren, wo die Hell-Dunkel-Grenze ohne Unterdruck und wo sie bei {top} steht, und pumpen, bis \
         sie in der Mitte dazwischen steht. Dann das Klebeband wieder ab. Bewegt sie sich nicht, zeigt eine Dichtheitsprüfung nichts: sie \
         auslassen."
    );
    let is_step =
        |shot: &&Shot| (shot.lamp, shot.stage) == (lamp, photo.stage) && shot.vacuum.is_some() && !shot.sealed;
    page.note(&if job.shot.iter().any(|shot| is_step(&shot)) {
        said!(
            language;
            "Find the middle of the travel: what the report says of the {lamp} lamp's dead band and end stop, in mbar; pump to \
             half-way between the two. Does it not give both, {by_eye}",
            "Die Mitte des Stellwegs suchen: was der Bericht über Totbereich und Anschlag des {stem}en Scheinwerfers sagt, in mbar; bis in die \
             Mitte dazwischen pumpen. Nennt er nicht beide, {by_eye}"
        )
    } else {
        said!(language; "Find the middle of the travel: {by_eye}", "Die Mitte des Stellwegs suchen: {by_eye}")
    });
}

/// A leak-down starts.
fn leak_down(page: &mut Page, every_s: u32) {
    let language = page.language;
    page.note(&said!(
        language;
        "Let a little air in, shut the valve, and take the first photo at once; then one every {every_s} s (the camera's interval \
         timer does it), without touching pump or car.",
        "Ein wenig Luft einlassen, das Ventil schließen und sofort das erste Foto aufnehmen; dann alle {every_s} s eines (das macht der \
         Intervallauslöser der Kamera), ohne Pumpe oder Fahrzeug zu berühren."
    ));
    page.otherwise(
        language.pick(
            "Read the gauge as you shut the valve and write it down: _________. It belongs into the first photo's entry in the job \
             (vacuum).",
            "Den Unterdruckmesser beim Schließen des Ventils ablesen und notieren: _________. Das gehört in den Eintrag des ersten Fotos im \
             Auftrag (vacuum).",
        ),
        language.pick(
            "Read the gauge as you shut the valve, and type it below.",
            "Den Unterdruckmesser beim Schließen des Ventils ablesen und unten eintippen.",
        ),
    );
}

fn photo_line(page: &mut Page, photo: &PlannedPhoto, is_in_job: bool) {
    let (tick, told) = if is_in_job {
        ("x", page.language.pick(" (the job has it)", " (ist im Auftrag)"))
    } else {
        (" ", "")
    };
    let body = format!("{}{told}", what(page.language, &photo.shows));
    page.push(&format!("  [{tick}] {:>3}  ", photo.number), &body);
}

/// Adds `body` to `text`, wrapped beside `head`.
pub(super) fn push_beside(text: &mut String, head: &str, body: &str) {
    for (n, line) in wrap(body, COLUMNS - head.len(), 0).iter().enumerate() {
        let beside = if n == 0 {
            head.to_owned()
        } else {
            " ".repeat(head.len())
        };
        text.push_str(&format!("{beside}{line}\n"));
    }
}

/// What is said on the way to a photo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// What begins here.
    Heading(String),
    /// What to do.
    Step(String),
    /// What can hurt.
    Caution(String),
}

/// What is set for this photo and waited for, which comes first on the page of each.
#[must_use]
pub fn set_for(language: Language, photo: &PlannedPhoto) -> String {
    match &photo.shows {
        Shows::Position(position) => said!(
            language;
            "Turn the control to {}, wait until the beam stands still ({SETTLE_S} s at the least), and do not touch the car.",
            "Den Regler auf {} drehen, warten, bis der Lichtkegel stillsteht (mindestens {SETTLE_S} s), und das Fahrzeug nicht berühren.";
            plain(position)
        ),
        Shows::Vacuum { gauge, .. } if gauge.vacuum.mbar() == 0.0 => said!(
            language;
            "Let all air in, until the gauge stands at {}, and wait {SETTLE_S} s.",
            "Ganz belüften, bis der Unterdruckmesser auf {} steht, und {SETTLE_S} s warten.";
            step_text(language, gauge)
        ),
        Shows::Vacuum {
            gauge,
            branch: Branch::Applying,
        } => said!(
            language;
            "Pump up to {} from below and hold it for {SETTLE_S} s. Gone too far? Back to the first step, and up again.",
            "Von unten bis {} pumpen und {SETTLE_S} s halten. Zu weit gepumpt? Zurück zur ersten Stufe und von vorn.";
            step_text(language, gauge)
        ),
        Shows::Vacuum {
            gauge,
            branch: Branch::Releasing,
        } => said!(
            language;
            "Let air in little by little, down to {}, and hold it for {SETTLE_S} s.",
            "Nach und nach belüften, bis auf {} hinunter, und {SETTLE_S} s halten.";
            step_text(language, gauge)
        ),
        Shows::Sealed { after_s: 0, .. } => language
            .pick(
                "Shut the valve, and take the photo at once.",
                "Das Ventil schließen und sofort das Foto aufnehmen.",
            )
            .to_owned(),
        Shows::Sealed { after_s, .. } => said!(
            language;
            "Leave pump, valve and car alone; the photo is due {} after the valve was shut.",
            "Pumpe, Ventil und Fahrzeug in Ruhe lassen; das Foto ist {} nach dem Schließen des Ventils fällig.";
            clock(*after_s)
        ),
        Shows::LampOff => language
            .pick(
                "Switch the lamp off, and leave all else as it was.",
                "Das Licht ausschalten und alles andere lassen, wie es war.",
            )
            .to_owned(),
    }
}

/// What stands in the list between the photo before number `n` of `photos`, from 0, and this one: what to set, and what to beware of. Who goes straight
/// to it has done nothing of what stands before it: the photo before is the last of those that the job has.
#[must_use]
pub fn steps(language: Language, photos: &[PlannedPhoto], n: usize, job: &Job) -> Vec<Said> {
    let mut page = Page::of(language);
    let before = photos.iter().take(n).rfind(|photo| photo.is_in(job));
    if before.is_none() {
        before_the_first(&mut page, photos);
    }
    if let Some(photo) = photos.get(n) {
        to_photo(&mut page, before, photo, job);
    }
    // What can hurt is said once to a photo, where it is met first.
    let mut warned = HashSet::new();
    page.said
        .retain(|said| !matches!(said, Said::Caution(text) if !warned.insert(text.clone())));
    page.said
}

/// The same for who put all away since and begins anew with this photo; nothing where that is what [`steps`] says.
#[must_use]
pub fn steps_anew(language: Language, photos: &[PlannedPhoto], n: usize, job: &Job) -> Vec<Said> {
    let empty = Job {
        shot: Vec::new(),
        ..job.clone()
    };
    let anew = steps(language, photos, n, &empty);
    if anew == steps(language, photos, n, job) {
        Vec::new()
    } else {
        anew
    }
}

/// What is to be done after the last of `photos`.
#[must_use]
pub fn afterwards(language: Language, photos: &[PlannedPhoto]) -> Vec<Said> {
    let mut page = Page::of(language);
    if let Some(last) = photos.last() {
        put_back(&mut page, last);
    }
    page.said
}

/// Lines of at most 80 columns, and the same before they were wrapped.
struct Page {
    language: Language,
    text: String,
    said: Vec<Said>,
}

impl Page {
    const fn of(language: Language) -> Self {
        Self {
            language,
            text: String::new(),
            said: Vec::new(),
        }
    }

    /// Writes `body` wrapped beside `head`.
    fn push(&mut self, head: &str, body: &str) {
        push_beside(&mut self.text, head, body);
    }

    fn line(&mut self, text: &str) {
        self.said.push(Said::Heading(text.to_owned()));
        self.push("", text);
    }

    fn blank(&mut self) {
        self.text.push('\n');
    }

    fn note(&mut self, text: &str) {
        self.said.push(Said::Step(text.to_owned()));
        self.push("  - ", text);
    }

    /// A note that who is asked photo by photo, by buttons and fields, is told in other words than who reads the list.
    fn otherwise(&mut self, in_list: &str, by_photo: &str) {
        self.in_list(in_list);
        self.said.push(Said::Step(by_photo.to_owned()));
    }

    /// A note that stands in the whole list alone.
    fn in_list(&mut self, text: &str) {
        self.push("  - ", text);
    }

    fn warn(&mut self, caution: Caution) {
        self.caution(caution.said(self.language));
    }

    fn caution(&mut self, text: &str) {
        self.said.push(Said::Caution(text.to_owned()));
        self.push("  ! ", text);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Check, Wanted, entry, gauge_steps, list};
    use super::*;
    use crate::language::digits;
    use crate::record::parse_toml;
    use crate::report::text::width;
    use std::path::Path;

    const EN: Language = Language::English;

    const JOB: &str = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n\
        [[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n\
        [[lamp]]\nside = \"right\"\ncentre_height_mm = 650.0\ncentre_x_mm = 560.0\ndistance_mm = 10000.0\n\
        [[shot]]\nphoto = \"1.jpg\"\nlamp = \"left\"\nstage = \"before\"\nposition = \"1\"\n";

    fn job() -> Job {
        parse_toml(Path::new("job.toml"), JOB).unwrap()
    }

    /// The job with these photos in it, each with its view's with the lamp off.
    fn holding(photos: &[PlannedPhoto]) -> Job {
        let entries: String = photos
            .iter()
            .map(|photo| entry(photo, "1.jpg", Some("off.jpg"), None))
            .collect();
        parse_toml(Path::new("job.toml"), &format!("{JOB}{entries}")).unwrap()
    }

    fn wanted(checks: &[Check]) -> Wanted {
        Wanted {
            lamp_off: true,
            ..Wanted::made(checks)
        }
    }

    #[test]
    fn every_photo_stands_once_within_80_columns() {
        let all = [Check::BeforeAfter, Check::Positions, Check::Vacuum, Check::LeakDown];
        let photos = list(&wanted(&all)).unwrap();
        let text = render(EN, &photos, &job());
        assert!(text.lines().all(|line| width(line) <= COLUMNS), "{text}");
        for photo in &photos {
            let lines = text
                .lines()
                .filter(|line| line.contains(&format!("] {:>3}  ", photo.number)));
            assert_eq!(lines.count(), 1, "photo {}: {text}", photo.number);
        }
        assert_eq!(
            text.matches("[x]").count(),
            1,
            "the job has left, before, position 1: {text}"
        );
    }

    /// The list with its line breaks taken out, for looking up sentences.
    fn joined(wanted: &Wanted, job: &Job) -> String {
        let text = render(EN, &list(wanted).unwrap(), job);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Holds that `parts` stand in `text` one behind the other.
    fn assert_order(text: &str, parts: &[&str]) {
        let mut rest = text;
        for part in parts {
            let at = rest.find(part);
            assert!(at.is_some(), "\"{part}\" is missing, or stands too early: {text}");
            rest = &rest[at.unwrap() + part.len()..];
        }
    }

    #[test]
    fn cautions_stand_where_their_hazard_is() {
        let text = |checks: &[Check]| joined(&wanted(checks), &job());
        let (control, pump) = (text(&[Check::Positions]), text(&[Check::LeakDown]));
        let told = |list: &str, caution: Caution| list.matches(&format!("! {}", caution.text())).count();
        // Two lamps: at each the board, and for the control a start of the engine, for the pump a hand behind it; the end
        // takes the last pump off.
        for (caution, times) in [
            (Caution::Glare, (1, 1)),
            (Caution::MovingParts, (2, 1)),
            (Caution::Covers, (2, 2)),
            (Caution::Rolling, (3, 1)),
            (Caution::Wall, (2, 0)),
            (Caution::Exhaust, (2, 0)),
            (Caution::HotLamps, (0, 3)),
            (Caution::HighVoltage, (0, 1)),
            (Caution::Airbags, (0, 1)),
            (Caution::Diaphragm, (0, 1)),
            (Caution::LowVacuum, (0, 1)),
            (Caution::Brakes, (0, 2)),
            (Caution::Charger, (0, 1)),
        ] {
            assert_eq!((told(&control, caution), told(&pump, caution)), times, "{caution:?}");
        }
        let start = [
            all_off(EN),
            "Board before the",
            Caution::Covers.text(),
            Caution::Rolling.text(),
            Caution::Wall.text(),
            "Start the engine",
            "Dipped beam on",
            "control at 0",
            "lamp off",
        ];
        assert_order(&control, &[&start[..], &start[..]].concat());
        let join = [
            all_off(EN),
            Caution::HotLamps.text(),
            "Board before the",
            "When cool: take the line off the",
        ];
        let pumped = ["Ignition on, engine off, dipped beam on", "lamp off"];
        let off = [all_off(EN), Caution::HotLamps.text(), "pump off the left lamp"];
        let end = [
            all_off(EN),
            Caution::HotLamps.text(),
            "pump off the right lamp",
            Caution::Brakes.text(),
        ];
        assert_order(&pump, &[&join[..], &pumped, &off, &join[2..], &pumped, &end].concat());
        let alone = "none is known of the left lamp";
        assert!(pump.contains(alone) && !text(&[Check::LeakDown, Check::Vacuum]).contains(alone));
    }

    #[test]
    fn nobody_stands_before_the_car_while_the_engine_runs() {
        let all = [Check::Positions, Check::Vacuum, Check::BeforeAfter];
        let text = joined(&wanted(&all), &job());
        let mut is_running = false;
        let mut boards = 0;
        for step in text.split(" - ") {
            is_running = (is_running || step.starts_with("Start the engine")) && !step.starts_with(all_off(EN));
            let is_board = step.starts_with("Board ");
            assert!(!(is_running && is_board), "{step}: {text}");
            boards += usize::from(is_board);
        }
        // Three places in a stage (left, right, left again), and away at the end of each.
        assert_eq!(boards, 2 * 4, "{text}");
    }

    #[test]
    fn the_car_is_whole_again_before_the_repair_and_moves_with_no_hose_off() {
        let all = [Check::Positions, Check::Vacuum, Check::BeforeAfter];
        let text = joined(&wanted(&all), &job());
        let repair = [
            "pump off the left lamp, its line back on, its cover shut.",
            Caution::Brakes.text(),
            "Board away.",
            Caution::Airbags.text(),
            "Make the repair. Then the car back on its marks.",
            Caution::Rolling.text(),
            "The left lamp with the range control, after the repair",
        ];
        let whole = ["The repair", all_off(EN), "charger off", Caution::HotLamps.text()];
        assert_order(&text, &[&whole[..], &repair[..]].concat());
        let plain = joined(&wanted(&[Check::BeforeAfter]), &job());
        assert!(!plain.contains("pump off"), "{plain}");
        assert_order(
            &plain,
            &["The repair", all_off(EN), Caution::HotLamps.text(), "Make the repair"],
        );
    }

    #[test]
    fn a_car_that_stands_elsewhere_gets_entries_that_the_job_takes() {
        let text = joined(&wanted(&[Check::BeforeAfter]), &job());
        let entry = "second [[lamp]] entry with stage = \"after\"";
        assert!(text.contains(entry) && !text.contains("job of its own"), "{text}");
        let lamp = "[[lamp]]\nside = \"left\"\nstage = \"after\"\ncentre_height_mm = 655.0\ncentre_x_mm = -560.0\n\
            distance_mm = 9000.0\n";
        let job: Job = parse_toml(Path::new("job.toml"), &format!("{JOB}{lamp}")).unwrap();
        job.check(Path::new("job.toml")).unwrap();
    }

    #[test]
    fn every_lamp_has_the_board_and_its_own_warm_up_whatever_the_job_lists() {
        let one_lamp: Job = {
            let right = JOB.find("[[lamp]]\nside = \"right\"").unwrap();
            parse_toml(Path::new("job.toml"), &JOB[..right]).unwrap()
        };
        let left = Wanted {
            lamps: vec![Side::Left],
            ..wanted(&[Check::Positions])
        };
        let text = joined(&left, &one_lamp);
        assert_order(
            &text,
            &[
                "Board before the right lamp; the left lamp free.",
                Caution::Covers.text(),
                "Start the engine",
            ],
        );
        let both = joined(&wanted(&[Check::Positions]), &job());
        assert_order(
            &both,
            &[
                "lamp off",
                "The right lamp with the range control",
                "Dipped beam on; let the lamps burn 2 minutes.",
                "control at 0",
            ],
        );
    }

    #[test]
    fn a_leak_down_starts_in_mid_travel_of_this_lamp_and_too_much_vacuum_is_told() {
        let text = |gauge: &str, job: &Job| {
            let wanted = Wanted {
                gauge: gauge_steps(gauge).unwrap(),
                ..wanted(&[Check::LeakDown])
            };
            joined(&wanted, job)
        };
        let enough = text("0,200,400 mbar", &job());
        for part in [
            "half-way between the two",
            "where at 400 mbar",
            "Read the gauge as you shut the valve",
        ] {
            assert_eq!(enough.matches(part).count(), 2, "{part}: {enough}");
        }
        assert!(
            !enough.contains("200 mbar"),
            "no figure that is not this lamp's: {enough}"
        );
        assert!(!enough.contains("beamfall report"), "nothing is known: {enough}");
        let pumped = "[[shot]]\nphoto = \"2.jpg\"\nlamp = \"right\"\nvacuum = \"100 mbar\"\n";
        let known: Job = parse_toml(Path::new("job.toml"), &format!("{JOB}{pumped}")).unwrap();
        let known = text("0,400 mbar", &known);
        let report = "what the report says of the right lamp's dead band and end stop";
        assert!(
            known.contains(report) && !known.contains("of the left lamp's dead band"),
            "{known}"
        );
        assert!(!enough.contains("This list pumps") && !text("0,12 inHg", &job()).contains("This list pumps"));
        let warned = format!("! This list pumps to 500 mbar. {}", Caution::Diaphragm.text());
        assert!(text("0,500 mbar", &job()).contains(&warned));
    }

    /// Each photo says what to set for it, and no caution twice.
    #[test]
    fn each_photo_says_what_to_set_and_no_caution_twice() {
        let photos = list(&wanted(&[
            Check::BeforeAfter,
            Check::Positions,
            Check::Vacuum,
            Check::LeakDown,
        ]))
        .unwrap();
        for (n, photo) in photos.iter().enumerate() {
            let what = match &photo.shows {
                Shows::Position(position) => format!("Turn the control to {position}, wait"),
                Shows::Vacuum { gauge, .. } => gauge.text.clone(),
                _ => continue,
            };
            assert!(set_for(EN, photo).contains(&what), "{}", set_for(EN, photo));
            let said = steps(EN, &photos, n, &job());
            let cautions: Vec<_> = said.iter().filter(|said| matches!(said, Said::Caution(_))).collect();
            for (at, caution) in cautions.iter().enumerate() {
                assert!(!cautions[..at].contains(caution), "{n}: {caution:?}");
            }
            assert!(
                !said
                    .iter()
                    .any(|said| matches!(said, Said::Step(text) if text.starts_with("At each")))
            );
        }
    }

    /// What is said photo by photo is what the list says, all of it and in its order.
    #[test]
    fn steps_are_those_of_the_list() {
        let photos = list(&wanted(&[Check::BeforeAfter, Check::Positions, Check::Vacuum])).unwrap();
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let listed = words(&render(EN, &photos, &job()));
        let mut at = 0;
        for n in 0..photos.len() {
            for said in steps(EN, &photos, n, &holding(&photos[..n])) {
                let (Said::Heading(text) | Said::Step(text) | Said::Caution(text)) = said;
                // Told in other words, without the keys of a file.
                if text.contains("a new job") || text.contains("type it below") {
                    continue;
                }
                assert!(!text.contains("[[") && !text.contains(" --"), "{text}");
                let found = listed[at..].find(&words(&text));
                at += found.unwrap_or_else(|| panic!("{text} is not behind {at} in {listed}"));
            }
        }
        assert!(steps(EN, &photos, photos.len(), &holding(&photos)).is_empty());
    }

    /// Who goes straight to a photo in the middle has read nothing of what stands before the first one.
    #[test]
    fn straight_to_a_photo_all_that_can_hurt_is_said() {
        let photos = list(&wanted(&[Check::Positions])).unwrap();
        let first = steps(EN, &photos, 0, &job());
        let straight = steps(EN, &photos, 2, &job());
        for said in first.iter().filter(|said| matches!(said, Said::Caution(_))) {
            assert!(straight.contains(said), "{said:?}");
        }
        assert!(steps(EN, &photos, 2, &holding(&photos[..2])).len() < straight.len());
        // The other lamp has its own board, whatever was photographed of this one.
        let right = photos.iter().position(|photo| photo.lamp == Side::Right).unwrap();
        let of_right = steps(EN, &photos, right + 1, &holding(&photos[..2]));
        assert!(
            of_right
                .iter()
                .any(|said| matches!(said, Said::Step(text) if text.contains("Board before the left lamp"))),
            "{of_right:?}"
        );
    }

    #[test]
    fn hazards_are_worded_by_the_file_alone() {
        let all = [Check::Positions, Check::Vacuum, Check::LeakDown, Check::BeforeAfter];
        let mut text = joined(&wanted(&all), &job());
        for caution in Caution::ALL {
            text = text.replace(caution.text(), "");
        }
        for word in [
            "neutral",
            "chock",
            "brake",
            "quarter of an hour",
            "diaphragm",
            "airbag",
            "exhaust",
        ] {
            assert!(!text.to_lowercase().contains(word), "{word}: {text}");
        }
    }

    /// Each sentence in German holds the same figures as in English, and none is the English one.
    #[test]
    fn what_is_said_of_a_photo_is_said_in_german_too() {
        let all = [Check::Positions, Check::Vacuum, Check::LeakDown, Check::BeforeAfter];
        let of_high = Wanted {
            gauge: gauge_steps("0,500 mbar").unwrap(),
            ..wanted(&all)
        };
        let photos = list(&of_high).unwrap();
        let of = |language, n: usize| {
            let said = steps(language, &photos, n, &job());
            let said = said.into_iter().map(|said| match said {
                Said::Heading(text) | Said::Step(text) | Said::Caution(text) => text,
            });
            let own = [set_for(language, &photos[n]), describe(language, &photos[n])];
            said.chain(own).collect::<Vec<_>>()
        };
        for n in 0..photos.len() {
            let (english, german) = (of(EN, n), of(Language::German, n));
            assert_eq!(english.len(), german.len());
            for (english, german) in english.iter().zip(&german) {
                assert_ne!(english, german);
                assert_eq!(digits(english), digits(german), "{english} / {german}");
            }
        }
        let lines = render(Language::German, &photos, &job());
        assert!(lines.lines().all(|line| width(line) <= COLUMNS), "{lines}");
    }
}
