//! The list of photos to take, as one reads it in a garage: printed, at 80 columns, with a box to tick for each photo.

use super::{Drive, GaugeStep, PlannedPhoto, Shows, too_high};
use crate::record::{Branch, Caution, Job, Side, Stage};
use crate::report::terminal::COLUMNS;
use crate::report::text::{plain, wrap};

/// Time for a beam to come to rest after a step, s: hoses fill within seconds (common practice, no source).
const SETTLE_S: u32 = 10;
/// Time for a lamp to give steady light, min: a gas-discharge lamp takes about one (common practice, no source).
const WARM_UP_MIN: u32 = 2;

/// A photo in a few words: lamp, stage, and what it shows.
#[must_use]
pub fn describe(photo: &PlannedPhoto) -> String {
    let stage = match photo.stage {
        Some(stage) => format!(" {stage}"),
        None => String::new(),
    };
    format!("{}{stage}, {}", photo.lamp, what(&photo.shows))
}

fn what(shows: &Shows) -> String {
    match shows {
        Shows::Position(position) => format!("control at {}", plain(position)),
        Shows::Vacuum { gauge, branch } => format!("{} {branch}", gauge.text),
        Shows::Sealed { start: Some(gauge), .. } => format!("valve shut at {}", gauge.text),
        Shows::Sealed { after_s, .. } => format!("valve shut {}", clock(*after_s)),
        Shows::LampOff => "lamp off".to_owned(),
    }
}

/// Minutes and seconds, "1:05".
fn clock(seconds: u32) -> String {
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// The list for a terminal or a printer, at most 80 columns wide. What `job` holds already is ticked.
#[must_use]
pub fn render(photos: &[PlannedPhoto], job: &Job) -> String {
    let mut page = Page::default();
    page.line(&format!("Photos to take for job {}: {}", plain(&job.job), photos.len()));
    page.blank();
    before_the_first(&mut page, photos, job);
    let mut before: Option<&PlannedPhoto> = None;
    for photo in photos {
        if before.is_none_or(|b| (b.stage, b.lamp, b.drive) != (photo.stage, photo.lamp, photo.drive)) {
            page.blank();
            change(&mut page, before, photo, job.lamp.len() > 1);
        }
        what_to_do(&mut page, before, photo);
        photo_line(&mut page, photo, photo.is_in(job));
        before = Some(photo);
    }
    page.blank();
    if let Some(lamp) = without_response(photos, job) {
        page.note(&format!(
            "A leak-down is read through the response to vacuum, and none is known of the {lamp} lamp: take --check vacuum,leak-down."
        ));
    }
    page.note(
        "A photo that went wrong is taken again at once; note which, to leave it out later. Afterwards: engine, lamps and \
         ignition off.",
    );
    if photos.iter().any(|photo| photo.drive == Drive::Pump) {
        page.note(
            "When the lamps have cooled for a quarter of an hour: pump off, lines back on, covers shut. Then try brakes, lamps \
             and range control.",
        );
    }
    page.text
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

fn before_the_first(page: &mut Page, photos: &[PlannedPhoto], job: &Job) {
    page.line("Before the first photo");
    page.warn(Caution::Rolling);
    page.note("Car on its marks, square to the wall, tyres and load as the maker says; boot and doors shut.");
    page.note(
        "Room dark. Camera on a tripod or a shelf, all sheets in the picture; then it stays where it is. No flash, no zoom, \
         no HDR, no night mode; JPEG at full size; exposure turned down until the brightest patch is not white (try -2 EV).",
    );
    page.note(
        "Do not set the camera's clock on the way, and do not edit the photos: they are told apart by their times.",
    );
    page.warn(Caution::Glare);
    if job.lamp.len() > 1 {
        page.warn(Caution::Covers);
    }
    let is_pumped = photos.iter().any(|photo| photo.drive == Drive::Pump);
    if is_pumped {
        page.warn(Caution::Charger);
    }
    if let Some(step) = too_high(photos) {
        page.caution(&format!(
            "The pump is to go to {}, more than 400 mbar: that can tear a diaphragm. Do it only where the maker gives so much.",
            step.text
        ));
    }
}

/// What to do before the next photo when the lamp, the stage or the drive changes.
fn change(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto, two_lamps: bool) {
    let stage = photo
        .stage
        .map_or(String::new(), |stage| format!(", {stage} the repair"));
    let lamp = photo.lamp;
    page.line(&match photo.drive {
        Drive::Control => format!("The {lamp} lamp with the range control{stage}"),
        Drive::Pump => format!("The {lamp} lamp with the hand pump{stage}"),
    });
    let is_new_stage = before.is_none_or(|b| b.stage != photo.stage);
    if is_new_stage && before.is_some() && photo.stage == Some(Stage::After) {
        page.note(
            "Engine and lamps off, and cool. Make the repair. Then the car back on its marks; where it stands otherwise than \
             before, measure the lamps' height and distance anew and make a job of its own.",
        );
        page.warn(Caution::Rolling);
    }
    let is_new_drive = before.is_none_or(|b| is_new_stage || b.drive != photo.drive);
    match photo.drive {
        Drive::Control => start_control(page, is_new_drive),
        Drive::Pump => join_pump(page, before, photo, is_new_drive),
    }
    if two_lamps && before.is_none_or(|b| is_new_stage || b.lamp != lamp) {
        let other = match lamp {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        };
        page.note(&format!("Board before the {other} lamp; the {lamp} lamp free."));
    }
}

/// The range control's photos start.
fn start_control(page: &mut Page, is_new_drive: bool) {
    if !is_new_drive {
        return;
    }
    page.note(
        "Start the engine, if the control works by its vacuum or with it running only: neutral or park, brake and chocks first.",
    );
    for caution in [Caution::Exhaust, Caution::Wall, Caution::MovingParts] {
        page.warn(caution);
    }
    page.note(&format!(
        "Dipped beam on (with the engine off: ignition on); let the lamps burn {WARM_UP_MIN} minutes."
    ));
}

/// The pump's photos of a lamp start.
fn join_pump(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto, is_new_drive: bool) {
    let lamp = photo.lamp;
    if is_new_drive {
        page.note("Engine off, ignition off.");
        for caution in [
            Caution::HotLamps,
            Caution::HighVoltage,
            Caution::MovingParts,
            Caution::Airbags,
            Caution::Diaphragm,
            Caution::Brakes,
        ] {
            page.warn(caution);
        }
    }
    let off_first = match before {
        Some(b) if b.drive == Drive::Pump && b.lamp != lamp => format!(
            "Take the pump off the {} lamp, push its line back on and shut its cover; then take",
            b.lamp
        ),
        _ => "Then take".to_owned(),
    };
    page.note(&format!(
        "Lights off; lamps that were lit cool for a quarter of an hour. {off_first} the line off the {lamp} lamp's actuator and \
         join the pump there, not pumped yet."
    ));
    page.note(&format!(
        "Ignition on, engine off, dipped beam on; let the lamps burn {WARM_UP_MIN} minutes."
    ));
}

/// What to do for this photo, where that is not what the one before it took.
fn what_to_do(page: &mut Page, before: Option<&PlannedPhoto>, photo: &PlannedPhoto) {
    let before = before.filter(|b| (b.stage, b.lamp, b.drive) == (photo.stage, photo.lamp, photo.drive));
    let before = before.map(|b| &b.shows);
    match (&photo.shows, before) {
        (Shows::Position(_), None) => page.note(&format!(
            "At each: turn the control, wait until the beam stands still ({SETTLE_S} s at the least), do not touch the car."
        )),
        (
            Shows::Vacuum {
                branch: Branch::Applying,
                ..
            },
            None,
        ) => page.note(&format!(
            "At each: pump up to it from below and hold it for {SETTLE_S} s. Gone too far? Back to the first step, and up again."
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
        ) => page.note(&format!(
            "Now down only: let air in little by little, and hold each step for {SETTLE_S} s."
        )),
        (Shows::Sealed { every_s, start, reaches, .. }, None | Some(Shows::Vacuum { .. } | Shows::LampOff)) => {
            leak_down(page, *every_s, start.as_ref(), reaches);
        }
        (Shows::LampOff, _) => {
            page.note("Light switch off, all else as it was, the camera too; the control or pump does not matter now.");
        }
        _ => {}
    }
}

/// A leak-down starts in the middle of the travel: on an end stop, or before it moves, a beam says nothing of the vacuum.
fn leak_down(page: &mut Page, every_s: u32, start: Option<&GaugeStep>, reaches: &GaugeStep) {
    let Some(start) = start else {
        page.note(&format!(
            "With the valve still shut go on; one every {every_s} s (the camera's interval timer does it), without touching pump \
             or car."
        ));
        return;
    };
    page.note(&format!(
        "Find the middle of the travel: mark with tape on the wall where the cut-off stands without vacuum and where it stands at \
         {}, beside the sheets. Then pump until it is half-way between the two: about {}, or half of the highest step that \
         still moved the beam.",
        reaches.text, start.text
    ));
    page.note(&format!(
        "Let a little air out, shut the valve, and take the first photo at once; then one every {every_s} s (the camera's interval \
         timer does it), without touching pump or car."
    ));
    page.note(&format!(
        "Read the gauge as you shut the valve. Does it not show {}, put what it shows into that photo's entry (vacuum) in the \
         job.",
        start.text
    ));
}

fn photo_line(page: &mut Page, photo: &PlannedPhoto, is_in_job: bool) {
    let (tick, told) = if is_in_job {
        ("x", " (the job has it)")
    } else {
        (" ", "")
    };
    let body = format!("{}{told}", what(&photo.shows));
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

/// Lines of at most 80 columns.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    /// Writes `body` wrapped beside `head`.
    fn push(&mut self, head: &str, body: &str) {
        push_beside(&mut self.text, head, body);
    }

    fn line(&mut self, text: &str) {
        self.push("", text);
    }

    fn blank(&mut self) {
        self.text.push('\n');
    }

    fn note(&mut self, text: &str) {
        self.push("  - ", text);
    }

    fn warn(&mut self, caution: Caution) {
        self.caution(caution.text());
    }

    fn caution(&mut self, text: &str) {
        self.push("  ! ", text);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Check, Wanted, gauge_steps, list};
    use super::*;
    use crate::record::parse_toml;
    use crate::report::text::width;
    use std::path::Path;

    fn job() -> Job {
        let text = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n\
            [[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n\
            [[lamp]]\nside = \"right\"\ncentre_height_mm = 650.0\ncentre_x_mm = 560.0\ndistance_mm = 10000.0\n\
            [[shot]]\nphoto = \"1.jpg\"\nlamp = \"left\"\nstage = \"before\"\nposition = \"1\"\n";
        parse_toml(Path::new("job.toml"), text).unwrap()
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
        let text = render(&photos, &job());
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

    #[test]
    fn cautions_stand_where_their_hazard_is() {
        let text = |checks: &[Check]| {
            let joined = render(&list(&wanted(checks)).unwrap(), &job());
            joined.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let (control, pump) = (text(&[Check::Positions]), text(&[Check::LeakDown]));
        let everywhere = [Caution::Rolling, Caution::Glare, Caution::Covers, Caution::MovingParts];
        let of_engine = [Caution::Exhaust, Caution::Wall];
        let of_pump = [
            Caution::HotLamps,
            Caution::HighVoltage,
            Caution::Airbags,
            Caution::Diaphragm,
            Caution::Brakes,
            Caution::Charger,
        ];
        let told = |list: &str, caution: &Caution| list.matches(&format!("! {}", caution.text())).count();
        for caution in &everywhere {
            assert_eq!((told(&control, caution), told(&pump, caution)), (1, 1), "{caution:?}");
        }
        for caution in &of_engine {
            assert_eq!((told(&control, caution), told(&pump, caution)), (1, 0), "{caution:?}");
        }
        for caution in &of_pump {
            assert_eq!((told(&control, caution), told(&pump, caution)), (0, 1), "{caution:?}");
        }
        assert!(!control.contains("gear in,") && !pump.contains("gear in,"));
        let order = [
            "Engine off, ignition off.",
            "cool for a quarter of an hour.",
            "line off the left lamp's actuator",
            "Ignition on, engine off, dipped beam on",
        ];
        let places: Vec<usize> = order.iter().map(|words| pump.find(words).unwrap()).collect();
        assert!(places.is_sorted(), "{pump}");
        let secured = control.find("wheels chocked, and only then start").unwrap();
        assert!(secured < control.find("Start the engine").unwrap());
        assert!(pump.contains("shut the valve") && pump.contains("every 60 s"));
        let alone = "none is known of the left lamp";
        assert!(pump.contains(alone) && !text(&[Check::LeakDown, Check::Vacuum]).contains(alone));
    }

    #[test]
    fn a_leak_down_starts_in_mid_travel_and_too_much_vacuum_is_told() {
        let text = |gauge: &str| {
            let wanted = Wanted {
                gauge: gauge_steps(gauge).unwrap(),
                ..wanted(&[Check::LeakDown])
            };
            let joined = render(&list(&wanted).unwrap(), &job());
            joined.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let enough = text("0,200,400 mbar");
        for part in [
            "half-way between the two: about 200 mbar",
            "at 400 mbar",
            "valve shut at 200 mbar",
        ] {
            assert!(enough.contains(part), "{part}: {enough}");
        }
        assert!(!enough.contains("more than 400 mbar:") && !text("0,12 inHg").contains("more than 400 mbar:"));
        assert!(
            text("0,500 mbar")
                .contains("The pump is to go to 500 mbar, more than 400 mbar: that can tear a diaphragm.")
        );
    }

    #[test]
    fn the_board_is_moved_where_the_lamp_changes() {
        let text = render(&list(&wanted(&[Check::Positions, Check::Vacuum])).unwrap(), &job());
        let boards: Vec<&str> = text.lines().filter(|line| line.contains("- Board before")).collect();
        assert_eq!(
            boards,
            [
                "  - Board before the right lamp; the left lamp free.",
                "  - Board before the left lamp; the right lamp free.",
                "  - Board before the right lamp; the left lamp free."
            ]
        );
    }
}
