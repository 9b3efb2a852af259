//! From checks to a list of photos, in an order for somebody alone.
//!
//! Within a stage the engine runs for the range control's photos of both lamps, but not while a board changes sides before
//! the car, and is then switched off for good: exhaust gas is the worst hazard of the job. The pump then starts at the lamp
//! that is free already, which saves a change of covers. At each lamp the pump goes up, then down (what went up and down in
//! between shows no hysteresis), and the sealed series comes last, as it ends with the pump to be taken off; it starts
//! half-way, since a beam on its end stop shows no leak. A photo with the lamp off comes last before a change, so that no
//! lamp has to warm up twice.

use super::{Check, Drive, PlannedPhoto, Shows};
use crate::error::Error;
use crate::language::said;
use crate::record::{Branch, ParseVacuumError, SETTING_POSITION, Side, Stage, Vacuum};

/// A vacuum as it is read from a gauge: the text goes into the job unchanged.
#[derive(Debug, Clone, PartialEq)]
pub struct GaugeStep {
    /// Number and unit.
    pub text: String,
    /// The same as a quantity.
    pub vacuum: Vacuum,
}

/// What was asked for.
#[derive(Debug, Clone)]
pub struct Wanted {
    /// The checks, in any order.
    pub checks: Vec<Check>,
    /// The lamps, in the order in which they are lit.
    pub lamps: Vec<Side>,
    /// Before or after the repair; left out, the job does not say (and [`Check::BeforeAfter`] takes both).
    pub stage: Option<Stage>,
    /// Names of the range control's positions, in the order in which it is turned.
    pub positions: Vec<String>,
    /// Steps of the pump, rising.
    pub gauge: Vec<GaugeStep>,
    /// Length of a leak-down, s.
    pub leak_down_s: u32,
    /// Time between the photos of a leak-down, s.
    pub every_s: u32,
    /// Whether to take each view with the lamp off too.
    pub lamp_off: bool,
}

/// Enough vacuum for what is to be seen here; more can tear a diaphragm ([`Caution::Diaphragm`]; common practice, no source).
///
/// [`Caution::Diaphragm`]: crate::record::Caution::Diaphragm
const ENOUGH_MBAR: f64 = 400.0;
/// The standard atmosphere at sea level: no pump takes more air out of a hose than there is (ISO 2533, from memory).
const AIR_MBAR: f64 = 1013.25;

/// The highest step of the list, where it is more than is enough.
pub(super) fn too_high<'a>(photos: impl IntoIterator<Item = &'a PlannedPhoto>) -> Option<&'a GaugeStep> {
    let step_of = |photo: &'a PlannedPhoto| match &photo.shows {
        Shows::Vacuum { gauge, .. } => Some(gauge),
        Shows::Sealed { reaches, .. } => Some(reaches),
        _ => None,
    };
    let beyond = |step: &&GaugeStep| {
        // 12 inHg is what such a gauge has for 400 mbar.
        let rounding_mbar = if step.text.ends_with("inHg") { 6.5 } else { 0.1 };
        step.vacuum.mbar() > ENOUGH_MBAR + rounding_mbar
    };
    let steps = photos.into_iter().filter_map(step_of).filter(beyond);
    steps.max_by(|a, b| a.vacuum.mbar().total_cmp(&b.vacuum.mbar()))
}

/// More photos than anybody takes of one leak-down: a slip in the units (common practice, no source).
const MOST_SEALED: u32 = 500;

/// Reads steps of the gauge: numbers with a comma between them and the unit behind the last one, or behind each.
///
/// # Errors
/// [`Error`] for what is no vacuum, is more than the air's pressure, or does not rise.
pub fn gauge_steps(text: &str) -> Result<Vec<GaugeStep>, Error> {
    let unit_of = |piece: &str| piece.find(char::is_alphabetic).map(|at| piece[at..].to_owned());
    let pieces: Vec<&str> = text.split(',').map(str::trim).collect();
    let last_unit = pieces.last().and_then(|piece| unit_of(piece));
    // No unit is missing of nothing: what is missing is the steps.
    if pieces.len() == 1 && last_unit.is_none() && pieces[0].parse() == Ok(0.0) {
        return Err(Error::said(|language| {
            said!(
                language;
                "a vacuum of 0 alone is the lamp at rest; give what the gauge is to show from there up, with its unit, as in 0,100,200 mbar",
                "ein Unterdruck von 0 allein ist der Scheinwerfer in Ruhe; angeben, was der Unterdruckmesser von da aufwärts zeigen soll, mit \
                 Einheit, wie 0,100,200 mbar"
            )
        }));
    }
    let mut steps: Vec<GaugeStep> = Vec::new();
    for piece in pieces {
        let text = match (unit_of(piece), &last_unit) {
            (None, Some(unit)) => format!("{piece} {unit}"),
            _ => piece.to_owned(),
        };
        let vacuum: Vacuum = text.parse().map_err(|e: ParseVacuumError| {
            Error::said(|language| {
                said!(
                    language;
                    "{e}",
                    "„{text}“ ist als Unterdruck nicht lesbar; jede Zahl oder die letzte braucht eine Einheit, etwa 180 mbar (mbar, hPa, kPa, bar, inHg oder mmHg), höchstens \
                     eine Atmosphäre"
                )
            })
        })?;
        if vacuum.mbar() > AIR_MBAR {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "vacuum {text} is more than the air's own pressure (about 1013 mbar at sea level), so no pump gets there; \
                     {ENOUGH_MBAR} mbar is enough",
                    "Unterdruck {text} ist mehr als der Luftdruck selbst (etwa 1013 mbar auf Meereshöhe), dahin kommt keine Pumpe; \
                     {ENOUGH_MBAR} mbar genügen"
                )
            }));
        }
        if let Some(before) = steps.last().filter(|before| before.vacuum >= vacuum) {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "vacuum {text} comes after {}; give the steps rising, the way down is added by itself",
                    "Unterdruck {text} kommt nach {}; die Stufen steigend angeben, der Weg abwärts kommt von selbst dazu";
                    before.text
                )
            }));
        }
        steps.push(GaugeStep { text, vacuum });
    }
    Ok(steps)
}

/// The list of photos for what is wanted, in the order of work.
///
/// # Errors
/// [`Error`] saying what does not fit.
pub fn list(wanted: &Wanted) -> Result<Vec<PlannedPhoto>, Error> {
    let mut checks = wanted.checks.clone();
    if checks.iter().all(|&check| check == Check::BeforeAfter) {
        checks.push(Check::Positions);
    }
    let has = |check| checks.contains(&check);
    let control = control_photos(wanted, has(Check::Aim), has(Check::Positions))?;
    let pump = pump_photos(wanted, has(Check::Vacuum), has(Check::LeakDown))?;
    let stages = match wanted.stage {
        None if has(Check::BeforeAfter) => vec![Some(Stage::Before), Some(Stage::After)],
        stage => vec![stage],
    };
    let mut photos: Vec<PlannedPhoto> = Vec::new();
    let mut view = 0;
    for stage in stages {
        let mut legs: Vec<(Side, Drive, &[Shows])> = Vec::new();
        if !control.is_empty() {
            legs.extend(wanted.lamps.iter().map(|&lamp| (lamp, Drive::Control, &control[..])));
        }
        if !pump.is_empty() {
            let mut lamps = wanted.lamps.clone();
            if !control.is_empty() {
                lamps.reverse();
            }
            legs.extend(lamps.into_iter().map(|lamp| (lamp, Drive::Pump, &pump[..])));
        }
        for (n, &(lamp, drive, shows)) in legs.iter().enumerate() {
            if n == 0 || legs[n - 1].0 != lamp {
                view += 1;
            }
            let covers_change_next = legs.get(n + 1).is_none_or(|next| next.0 != lamp);
            let off = (wanted.lamp_off && covers_change_next).then_some(Shows::LampOff);
            for shows in shows.iter().cloned().chain(off) {
                photos.push(PlannedPhoto {
                    number: photos.len() + 1,
                    lamp,
                    stage,
                    drive,
                    view,
                    shows,
                });
            }
        }
    }
    Ok(photos)
}

/// The range control's photos of one lamp. The aim is that at [`SETTING_POSITION`].
fn control_photos(wanted: &Wanted, aim: bool, positions: bool) -> Result<Vec<Shows>, Error> {
    let mut names: Vec<&str> = Vec::new();
    if positions {
        names.extend(wanted.positions.iter().map(|name| name.trim()));
        if let Some(n) = (0..names.len()).find(|&n| names[n].is_empty() || names[..n].contains(&names[n])) {
            let name = names[n];
            return Err(Error::said(|language| {
                if name.is_empty() {
                    said!(
                        language;
                        "a position has no name; give them as in --positions 0,1,2,3",
                        "eine Stellung hat keinen Namen; sie angeben wie 0,1,2,3"
                    )
                } else {
                    said!(
                        language;
                        "position {name} is named twice; give each once",
                        "Stellung {name} ist zweimal genannt; jede einmal angeben"
                    )
                }
            }));
        }
        if names.len() < 2 {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "one position shows no travel; give two or more, as in --positions 0,1,2,3",
                    "eine Stellung zeigt keinen Stellweg; zwei oder mehr angeben, wie 0,1,2,3"
                )
            }));
        }
    }
    if aim && !names.contains(&SETTING_POSITION) {
        names.insert(0, SETTING_POSITION);
    }
    Ok(names.into_iter().map(|name| Shows::Position(name.to_owned())).collect())
}

/// The pump's photos of one lamp.
fn pump_photos(wanted: &Wanted, vacuum: bool, leak_down: bool) -> Result<Vec<Shows>, Error> {
    let mut shows = Vec::new();
    if !vacuum && !leak_down {
        return Ok(shows);
    }
    let steps = &wanted.gauge;
    let Some(highest) = steps.last().filter(|highest| highest.vacuum.mbar() > 0.0) else {
        return Err(Error::said(|language| {
            said!(
                language;
                "the steps of the pump end at no vacuum; give them rising, as in --vacuum \"0,100,200 mbar\"",
                "die Stufen der Pumpe enden ohne Unterdruck; sie steigend angeben, wie 0,100,200 mbar"
            )
        }));
    };
    if vacuum {
        if steps.len() < 2 {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "one vacuum shows no response; give two steps or more, as in --vacuum \"0,100,200 mbar\"",
                    "ein einziger Unterdruck zeigt keine Antwort; zwei Stufen oder mehr angeben, wie 0,100,200 mbar"
                )
            }));
        }
        let step = |gauge: &GaugeStep, branch| Shows::Vacuum {
            gauge: gauge.clone(),
            branch,
        };
        shows.extend(steps.iter().map(|gauge| step(gauge, Branch::Applying)));
        shows.extend(steps.iter().rev().skip(1).map(|gauge| step(gauge, Branch::Releasing)));
    }
    if leak_down {
        let (all_s, every_s) = (wanted.leak_down_s, wanted.every_s);
        if every_s == 0 || every_s > all_s || all_s / every_s >= MOST_SEALED {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "a leak-down of {all_s} s with a photo every {every_s} s cannot be; --minutes is its length, --every the seconds \
                     between photos, fewer than {MOST_SEALED} photos in all",
                    "eine Dichtheitsprüfung von {all_s} s mit einem Foto alle {every_s} s kann nicht sein; die Dauer in Minuten angeben und \
                     die Sekunden zwischen den Fotos, zusammen weniger als {MOST_SEALED} Fotos"
                )
            }));
        }
        shows.extend((0..=all_s / every_s).map(|n| Shows::Sealed {
            after_s: n * every_s,
            every_s,
            reaches: highest.clone(),
        }));
    }
    Ok(shows)
}

/// Keeps the photos whose numbers `text` gives, as in "1-4,7".
///
/// # Errors
/// [`Error`] for what is no such list, or a number beyond the list.
pub fn select(photos: &[PlannedPhoto], text: &str) -> Result<Vec<PlannedPhoto>, Error> {
    let mut kept = vec![false; photos.len()];
    for piece in text.split(',').map(str::trim) {
        let (from, to) = piece.split_once('-').unwrap_or((piece, piece));
        let number = |text: &str| text.trim().parse::<usize>().ok();
        let (Some(from), Some(to)) = (number(from), number(to)) else {
            return Err(Error::asked(format!(
                "\"{piece}\" is no number of a photo; give numbers of the list, as in 1-4,7"
            )));
        };
        if from < 1 || to < from || to > photos.len() {
            return Err(Error::asked(format!(
                "{piece} lies outside of the list, which runs from 1 to {}",
                photos.len()
            )));
        }
        kept[from - 1..to].fill(true);
    }
    let chosen = photos.iter().zip(kept).filter(|(_, kept)| *kept);
    Ok(chosen.map(|(photo, _)| photo.clone()).collect())
}

/// Numbers as [`select`] reads them.
pub(super) fn numbers_of<'a>(photos: impl IntoIterator<Item = &'a PlannedPhoto>) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for photo in photos {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == photo.number => *last = photo.number,
            _ => runs.push((photo.number, photo.number)),
        }
    }
    let texts = runs.into_iter().map(|(from, to)| match from == to {
        true => from.to_string(),
        false => format!("{from}-{to}"),
    });
    texts.collect::<Vec<_>>().join(",")
}

#[cfg(test)]
impl Wanted {
    /// Two positions, three steps of the pump, a leak-down of two minutes.
    pub(super) fn made(checks: &[Check]) -> Self {
        Self {
            checks: checks.to_vec(),
            lamps: vec![Side::Left, Side::Right],
            stage: None,
            positions: ["0", "1"].map(str::to_owned).to_vec(),
            gauge: gauge_steps("0,100,200 mbar").unwrap(),
            leak_down_s: 120,
            every_s: 60,
            lamp_off: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::Language;

    fn wanted(checks: &[Check]) -> Wanted {
        Wanted::made(checks)
    }

    fn told(photos: &[PlannedPhoto]) -> Vec<String> {
        photos
            .iter()
            .map(|photo| crate::shot_list::words::describe(Language::English, photo))
            .collect()
    }

    #[test]
    fn the_pump_comes_after_the_engine_and_covers_change_least() {
        let all = [Check::Aim, Check::Positions, Check::Vacuum, Check::LeakDown];
        let photos = list(&wanted(&all)).unwrap();
        let drives: Vec<Drive> = photos.iter().map(|p| p.drive).collect();
        let first_pump = drives.iter().position(|d| *d == Drive::Pump).unwrap();
        assert!(drives[first_pump..].iter().all(|d| *d == Drive::Pump), "{drives:?}");
        let changes = photos.windows(2).filter(|pair| pair[0].lamp != pair[1].lamp).count();
        // Two lamps with two drives, each drive in one go: left, right, right, left. One change each time, two in all.
        assert_eq!(changes, 2);
        assert_eq!(photos.last().unwrap().view, 3);
        assert!(photos.iter().enumerate().all(|(n, p)| p.number == n + 1));
    }

    #[test]
    fn vacuum_goes_up_then_down_and_the_sealed_series_is_last() {
        let mut one = wanted(&[Check::LeakDown, Check::Vacuum]);
        one.lamps = vec![Side::Left];
        assert_eq!(
            told(&list(&one).unwrap()),
            [
                "left, 0 mbar applying",
                "left, 100 mbar applying",
                "left, 200 mbar applying",
                "left, 100 mbar releasing",
                "left, 0 mbar releasing",
                "left, valve shut 0:00",
                "left, valve shut 1:00",
                "left, valve shut 2:00",
            ]
        );
    }

    #[test]
    fn the_aim_is_position_0_and_is_taken_once() {
        assert_eq!(
            told(&list(&wanted(&[Check::Aim])).unwrap()),
            ["left, control at 0", "right, control at 0"]
        );
        assert_eq!(list(&wanted(&[Check::Aim, Check::Positions])).unwrap().len(), 4);
        let mut other = wanted(&[Check::Aim, Check::Positions]);
        other.positions = ["1", "2"].map(str::to_owned).to_vec();
        assert_eq!(told(&list(&other).unwrap())[0], "left, control at 0");
    }

    #[test]
    fn before_and_after_are_the_same_list_twice() {
        let both = list(&wanted(&[Check::BeforeAfter])).unwrap();
        assert_eq!(both.len(), 8);
        assert_eq!(told(&both)[0], "left before, control at 0");
        assert_eq!(told(&both)[7], "right after, control at 1");
        let mut half = wanted(&[Check::BeforeAfter, Check::Vacuum]);
        half.stage = Some(Stage::After);
        let after = list(&half).unwrap();
        assert!(after.len() == 10 && after.iter().all(|p| p.stage == Some(Stage::After)));
    }

    #[test]
    fn one_photo_with_the_lamp_off_ends_each_view() {
        let mut off = wanted(&[Check::Positions, Check::Vacuum]);
        off.lamp_off = true;
        let photos = list(&off).unwrap();
        for view in 1..=3 {
            let of_view: Vec<&PlannedPhoto> = photos.iter().filter(|p| p.view == view).collect();
            let offs = of_view.iter().filter(|p| p.shows == Shows::LampOff).count();
            assert!(
                offs == 1 && of_view.last().unwrap().shows == Shows::LampOff,
                "view {view}"
            );
        }
    }

    #[test]
    fn gauge_steps_keep_their_units() {
        let texts = |text: &str| -> Vec<String> { gauge_steps(text).unwrap().into_iter().map(|s| s.text).collect() };
        assert_eq!(texts("0,100,200 mbar"), ["0 mbar", "100 mbar", "200 mbar"]);
        assert_eq!(texts("0 kPa, 5 inHg,10 inHg"), ["0 kPa", "5 inHg", "10 inHg"]);
        for (text, part) in [
            ("0,100", "unit is missing"),
            ("0,200,100 mbar", "rising"),
            ("0,,100 mbar", "cannot be read"),
            ("0,5000 mbar", "atmosphere"),
            ("0,1050 mbar", "1013 mbar at sea level"),
            ("0,30 inHg", "air's own pressure"),
        ] {
            let message = gauge_steps(text).unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }

    #[test]
    fn slips_are_named() {
        let message = |change: &dyn Fn(&mut Wanted)| {
            let mut slip = wanted(&[Check::Positions, Check::Vacuum, Check::LeakDown]);
            change(&mut slip);
            list(&slip).unwrap_err().to_string()
        };
        assert!(message(&|w| w.positions = vec!["0".to_owned(); 2]).contains("named twice"));
        assert!(message(&|w| w.positions = vec!["0".to_owned(), " ".to_owned()]).contains("no name"));
        assert!(message(&|w| w.positions.truncate(1)).contains("no travel"));
        assert!(message(&|w| w.gauge.truncate(1)).contains("no vacuum"));
        assert!(message(&|w| drop(w.gauge.drain(..2))).contains("no response"));
        assert!(message(&|w| w.every_s = 0).contains("cannot be"));
        assert!(message(&|w| w.every_s = 121).contains("cannot be"));
        assert!(message(&|w| (w.leak_down_s, w.every_s) = (60_000, 60)).contains("fewer than"));
    }

    #[test]
    fn numbers_choose_and_are_written_the_same_way() {
        let photos = list(&wanted(&[Check::BeforeAfter])).unwrap();
        let chosen = select(&photos, "7, 1-3").unwrap();
        assert_eq!(numbers_of(&chosen), "1-3,7");
        assert_eq!(numbers_of(&photos), "1-8");
        for (text, part) in [
            ("0-2", "outside"),
            ("3-9", "outside"),
            ("4-2", "outside"),
            ("x", "no number"),
        ] {
            let message = select(&photos, text).unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }
}
