//! Photos and list, one to one. The order alone says what a photo shows, so this looks for every sign that the order does
//! not fit: numbers, gaps, and whether a photo with the lamp off is dark.

use super::words::describe;
use super::{Folder, Numbers, PlannedPhoto, Shows, TakenPhoto, numbers_of};
use crate::language::{Language, said};
use crate::record::Job;
use std::path::{Component, Path};

/// What each photo is taken to be.
#[derive(Debug, Clone)]
pub struct Pairing {
    /// The pairs, in the order of the list.
    pub pairs: Vec<(PlannedPhoto, TakenPhoto)>,
    /// What the list has more than the folder.
    pub list_left: Vec<PlannedPhoto>,
    /// What the folder has more than the list.
    pub photos_left: Vec<TakenPhoto>,
    /// Why nothing may be written, and how to mend it; none where all is well.
    pub faults: Vec<String>,
    /// What to look at before writing.
    pub warnings: Vec<String>,
    /// Photos whose light is not that of what they are taken to be, each with why; by the names of their files. The warnings say it, too.
    pub doubts: Vec<(String, String)>,
    /// Photos before which far more time passed than between the others of their view, each with that time, s; by the names of their files. The
    /// warnings say it, too.
    pub pauses: Vec<(String, f64)>,
}

impl Pairing {
    /// How long after the first photo of its leak-down the photo of a pair was taken, s, by their own times; `None` for what is no leak-down, or is
    /// the first, or where the first is not among the pairs. Each photo counts by its time, whichever of the list's it is taken to be.
    #[must_use]
    pub fn after_first_s(&self, (planned, photo): &(PlannedPhoto, TakenPhoto)) -> Option<f64> {
        let is_sealed = |planned: &PlannedPhoto| matches!(planned.shows, Shows::Sealed { .. });
        let is_first = |other: &PlannedPhoto| matches!(other.shows, Shows::Sealed { after_s: 0, .. });
        let same = |other: &PlannedPhoto| (other.lamp, other.stage) == (planned.lamp, planned.stage);
        if !is_sealed(planned) || is_first(planned) {
            return None;
        }
        let (_, first) = self.pairs.iter().find(|(other, _)| is_first(other) && same(other))?;
        Some(photo.capture.clock_s()? - first.capture.clock_s()?)
    }
}

/// More photos than this beyond the list are not spoilt ones, but somebody else's (common practice, no source).
const FEW_SPOILT: usize = 10;
/// A longer gap between two photos of one lamp is another session, or a clock that was set (common practice, no source).
const LONG_GAP_S: f64 = 2.0 * 3600.0;
/// A gap between two photos of one view that is longer than this, and than so many times the middle one of all, may part two things: what is not on
/// the list began there, or one that is on it was left out (our choice, no source).
const PAUSE_S: f64 = 5.0 * 60.0;
const PAUSE_TIMES: f64 = 5.0;
/// A photo of a leak-down this much off its time, as a share of the time between two, may be another one's: it lies nearer
/// to the next place in time than to its own.
const SERIES_GAP_SHARE: f64 = 0.5;
/// With the lamp off, the brightest must be darker than this share of what it is with the lamp lit. Where ambient light
/// alone comes so near to the beam, nothing can be read at all.
const OFF_SHARE: f64 = 0.9;
/// A photo that is to show a lamp lit and is darker than this share of the others of that lamp shows it off, or covered. What a hand moves, and what
/// another position puts elsewhere on the wall, changes the brightest by far less (our choice, no source).
const LIT_SHARE: f64 = 0.2;
/// From this share of full scale on the brightest of a photo may have been cut off (common practice, no source).
const FULL_SHARE: f64 = 0.9;

/// Pairs the photos of a folder with the photos of a list, one to one in order.
#[must_use]
pub fn pair(language: Language, list: &[PlannedPhoto], folder: &Folder, job: &Job) -> Pairing {
    let paired = list.len().min(folder.photos.len());
    let pairs: Vec<(PlannedPhoto, TakenPhoto)> = list.iter().cloned().zip(folder.photos.iter().cloned()).collect();
    let mut pairing = Pairing {
        pairs,
        list_left: list[paired..].to_vec(),
        photos_left: folder.photos[paired..].to_vec(),
        faults: Vec::new(),
        warnings: folder.warnings.clone(),
        doubts: Vec::new(),
        pauses: Vec::new(),
    };
    pairing.doubts = dark_though_lit(language, &pairing.pairs);
    pairing
        .warnings
        .extend(pairing.doubts.iter().map(|(_, why)| why.clone()));
    if pairing.list_left.is_empty() && pairing.photos_left.is_empty() {
        pairing.faults = [
            unattached(language, &pairing.pairs, folder.numbers),
            bright_though_off(language, &pairing.pairs, folder.numbers),
        ]
        .concat();
    } else {
        pairing.faults = vec![numbers_differ(list, folder, &pairing, job)];
    }
    if folder.numbers == Numbers::OfCamera {
        pairing.warnings.extend(elsewhere(language, &pairing.pairs));
    }
    pairing.pauses = pauses(&pairing.pairs);
    pairing.warnings.extend(gaps(language, &pairing.pairs, &pairing.pauses));
    let has_stages = job.shot.iter().any(|shot| shot.stage.is_some());
    if has_stages && list.iter().any(|planned| planned.stage.is_none()) {
        pairing.warnings.push(
            match folder.numbers {
                Numbers::OfCamera => {
                    "the job's other shots say whether they are from before or after the repair, and these would not; add --stage"
                }
                Numbers::OfArrival => language.pick(
                    "the job's other photos say whether they are from before or after the repair, and these would not; begin the list \
                     anew, and choose when they are taken",
                    "die anderen Fotos des Auftrags sagen, ob sie vor oder nach der Reparatur aufgenommen sind, und diese täten es nicht; die \
                     Liste neu beginnen und wählen, wann aufgenommen wird",
                ),
            }
            .to_owned(),
        );
    }
    pairing
}

/// Photos that the job would name where they lie now, outside of its folder.
fn elsewhere(language: Language, pairs: &[(PlannedPhoto, TakenPhoto)]) -> Option<String> {
    let lies_outside = |(_, photo): &&(PlannedPhoto, TakenPhoto)| {
        let parts = Path::new(&photo.listed_as).components();
        !parts.into_iter().all(|part| matches!(part, Component::Normal(_)))
    };
    let outside: Vec<_> = pairs.iter().filter(lies_outside).collect();
    let (_, first) = outside.first()?;
    let (first, all) = (&first.listed_as, outside.len());
    Some(said!(
        language;
        "{first}: lies outside of the job's folder, as {all} of {} do; once a memory card is taken out or a folder moved, the job is without its \
         photos. Copy them into the job's folder, into photos/, say, and give that folder as --from",
        "{first}: liegt außerhalb des Auftragsordners, wie {all} von {}; ist eine Speicherkarte herausgenommen oder ein Ordner verschoben, fehlen \
         dem Auftrag seine Fotos. Sie in den Ordner des Auftrags kopieren, etwa nach photos/, und diesen Ordner bei --from angeben";
        pairs.len()
    ))
}

fn photos(number: usize) -> String {
    format!("{number} photo{}", if number == 1 { "" } else { "s" })
}

fn numbers_differ(list: &[PlannedPhoto], folder: &Folder, pairing: &Pairing, job: &Job) -> String {
    let (wanted, there) = (list.len(), folder.photos.len());
    let counts = format!("the list has {}, the folder {} new", photos(wanted), there);
    if let Some(first) = pairing.photos_left.first() {
        let more = there - wanted;
        let mend = if more > FEW_SPOILT {
            "Copy just this car's photos into a folder of their own, or choose the checks that were done"
        } else {
            "Leave spoilt ones out with --skip FILE, or choose the checks that were done"
        };
        return format!("{counts}: the folder has {more} more, from {} on. {mend}", first.name);
    }
    let missing: Vec<&PlannedPhoto> = list.iter().filter(|photo| !photo.is_in(job)).collect();
    // Where the job has just as much of the list as is missing from the folder, the rest was taken later.
    let mend = if folder.in_job > 0 && missing.len() == there {
        format!("What the job does not hold yet is --only {}", numbers_of(missing))
    } else {
        format!(
            "Take the rest, or say which were taken: --only {}, say, if just the last are missing",
            numbers_of(&list[..there])
        )
    };
    let from = pairing.list_left.first().map_or(String::new(), |first| {
        format!(
            "from number {} ({}) on",
            first.number,
            describe(Language::English, first)
        )
    });
    format!("{counts}: the list has {} more, {from}. {mend}", wanted - there)
}

/// Photos with the lamp off that belong to no new entry: entries that are in the job already are not changed.
fn unattached(language: Language, pairs: &[(PlannedPhoto, TakenPhoto)], numbers: Numbers) -> Vec<String> {
    let is_off = |planned: &PlannedPhoto| planned.shows == Shows::LampOff;
    let alone = pairs.iter().filter(|(planned, _)| {
        is_off(planned)
            && !pairs
                .iter()
                .any(|(other, _)| !is_off(other) && other.view == planned.view)
    });
    alone
        .map(|(planned, photo)| match numbers {
            Numbers::OfArrival => {
                let (name, number, lamp, stem) = (&photo.name, planned.number, planned.lamp, planned.lamp.stem());
                said!(
                    language;
                    "{name} is number {number}, the {lamp} lamp off, and no photo of that view is added with it: leave it out, and choose it \
                     on the page of that photo",
                    "{name} ist Nummer {number}, der {stem}e Scheinwerfer ohne Licht, und kein Foto dieser Ansicht kommt damit hinzu: es \
                     auslassen und auf der Seite jenes Fotos wählen"
                )
            }
            Numbers::OfCamera => format!(
                "{} is number {}, the {} lamp off, and no photo of that view is added with it; entries that are there are not \
                 changed, so write lamp_off = \"{}\" into them by hand, and leave it out with --skip {}",
                photo.name, planned.number, planned.lamp, photo.listed_as, photo.name
            ),
        })
        .collect()
}

/// Photos that are to show a lamp lit and are much darker than the others of it, where most of these agree: the photo with the lamp off, a covered
/// lens or a lamp that had gone out took the place of a lit one.
fn dark_though_lit(language: Language, pairs: &[(PlannedPhoto, TakenPhoto)]) -> Vec<(String, String)> {
    let lit = || pairs.iter().filter(|(planned, _)| planned.shows != Shows::LampOff);
    lit()
        .filter_map(|(planned, photo)| {
            let of_others = |is_meant: &dyn Fn(&PlannedPhoto) -> bool| {
                let others = lit().filter(|(other, of)| other.number != planned.number && is_meant(other) && of.is_as_told_as(photo));
                let mut bright: Vec<f64> = others.map(|(_, other)| other.brightness).collect();
                bright.sort_by(f64::total_cmp);
                // The upper one of two: of a dark and a lit photo the dark one is in doubt.
                bright.get(bright.len() / 2).copied()
            };
            // The other lamp may be another one, but is better than nothing to go by.
            let usual = of_others(&|other| other.lamp == planned.lamp).or_else(|| of_others(&|_| true))?;
            // What reaches full scale is overexposed, and its light greater than it says.
            let is_dark = photo.brightness < LIT_SHARE * usual && photo.light < FULL_SHARE;
            is_dark.then(|| {
                let (name, number, what) = (&photo.name, planned.number, describe(language, planned));
                let why = said!(
                    language;
                    "{name} is much darker than the others, and is taken to be number {number} ({what}), which shows the lamp lit: is it the photo \
                     with the lamp off, or one that failed?",
                    "{name} ist viel dunkler als die anderen und wird für Nummer {number} gehalten ({what}), die den Scheinwerfer leuchtend zeigt: ist \
                     es das Foto ohne Licht oder ein misslungenes?"
                );
                (name.clone(), why)
            })
        })
        .collect()
}

/// Photos that are to show the lamp off and are as bright as one with the lamp lit: the order is then shifted.
fn bright_though_off(language: Language, pairs: &[(PlannedPhoto, TakenPhoto)], numbers: Numbers) -> Vec<String> {
    let mend = match numbers {
        Numbers::OfCamera => "Use --skip or --only until they fit",
        Numbers::OfArrival => language.pick(
            "Leave out what does not belong until they fit",
            "Auslassen, was nicht dazugehört, bis sie passen",
        ),
    };
    let offs = pairs.iter().filter(|(planned, _)| planned.shows == Shows::LampOff);
    offs.filter_map(|(planned, off)| {
        let lit = pairs
            .iter()
            .filter(|(other, _)| other.view == planned.view && other.shows != Shows::LampOff)
            .map(|(_, photo)| photo)
            .min_by(|a, b| a.brightness.total_cmp(&b.brightness))?;
        (off.brightness > OFF_SHARE * lit.brightness).then(|| {
            let (off, number, lit) = (&off.name, planned.number, &lit.name);
            said!(
                language;
                "{off} is to show the lamp off (number {number}), and is no darker than {lit}, which is to show it lit; so the order is \
                 not that of the list. {mend}",
                "{off} soll den Scheinwerfer ohne Licht zeigen (Nummer {number}) und ist nicht dunkler als {lit}, das ihn leuchtend zeigen \
                 soll; die Reihenfolge ist also nicht die der Liste. {mend}"
            )
        })
    })
    .collect()
}

/// Whether two photos that follow one another on the list are taken in one go: the same lamp, stage and kind of setting.
fn are_of_one_go(a: &PlannedPhoto, b: &PlannedPhoto) -> bool {
    (a.lamp, a.stage) == (b.lamp, b.stage) && std::mem::discriminant(&a.shows) == std::mem::discriminant(&b.shows)
}

/// Photos before which far more time passed than between the others, though the list has them taken in one go; each with that time, s.
fn pauses(pairs: &[(PlannedPhoto, TakenPhoto)]) -> Vec<(String, f64)> {
    let mut all_s: Vec<f64> = pairs.windows(2).map(|two| two[1].1.time_s - two[0].1.time_s).collect();
    all_s.sort_by(f64::total_cmp);
    let Some(&middle_s) = all_s.get(all_s.len() / 2) else {
        return Vec::new();
    };
    let in_one_go = pairs.windows(2).filter(|two| are_of_one_go(&two[0].0, &two[1].0));
    in_one_go
        .map(|two| (two[1].1.name.clone(), two[1].1.time_s - two[0].1.time_s))
        .filter(|(_, gap_s)| *gap_s > PAUSE_S && *gap_s > PAUSE_TIMES * middle_s)
        .collect()
}

fn gaps(language: Language, pairs: &[(PlannedPhoto, TakenPhoto)], pauses: &[(String, f64)]) -> Vec<String> {
    let mut warnings = Vec::new();
    let mut off_beat = Vec::new();
    for two in pairs.windows(2) {
        let ((planned_a, a), (planned_b, b)) = (&two[0], &two[1]);
        let gap_s = b.time_s - a.time_s;
        // Between the stages lies a repair, which may take days.
        if gap_s > LONG_GAP_S && planned_a.stage == planned_b.stage {
            let (hours, a, b) = (language.decimal(gap_s / 3600.0, 1), &a.name, &b.name);
            warnings.push(said!(
                language;
                "{hours} h lie between {a} and {b}; another session, or was the clock set?",
                "{hours} h liegen zwischen {a} und {b}; an einem anderen Tag aufgenommen, oder wurde die Uhr gestellt?"
            ));
        } else if let Some((b, gap_s)) = pauses.iter().find(|(name, _)| *name == b.name) {
            let (minutes, a) = (gap_s / 60.0, &a.name);
            warnings.push(said!(
                language;
                "{minutes:.0} min lie between {a} and {b}, far more than between the others, though the list has them taken in one go: did \
                 something else begin there?",
                "{minutes:.0} min liegen zwischen {a} und {b}, weit mehr als zwischen den anderen, obwohl sie nach der Liste in einem Zug \
                 aufgenommen sind: begann dort etwas anderes?"
            ));
        }
        if let (Shows::Sealed { every_s, .. }, Shows::Sealed { after_s: 1.., .. }) =
            (&planned_a.shows, &planned_b.shows)
        {
            let every_s = f64::from(*every_s);
            if (gap_s - every_s).abs() > SERIES_GAP_SHARE * every_s {
                off_beat.push((b, gap_s, every_s));
            }
        }
    }
    if let Some((photo, gap_s, every_s)) = off_beat.first() {
        let more = match off_beat.len() - 1 {
            0 => String::new(),
            n => said!(language; " (and {n} more like it)", " (und {n} weitere ebenso)"),
        };
        let name = &photo.name;
        warnings.push(said!(
            language;
            "{name} comes {gap_s:.0} s after the one before it, in a series with {every_s:.0} s between photos{more}; harmless if all \
             belong to the series, since their times count",
            "{name} kommt {gap_s:.0} s nach dem davor, in einer Reihe mit {every_s:.0} s zwischen den Fotos{more}; harmlos, wenn alle zur \
             Reihe gehören, denn ihre Zeiten zählen"
        ));
    }
    warnings
}

#[cfg(test)]
mod tests {
    use super::super::table::render;
    use super::super::{Check, Wanted, gauge_steps, list};
    use super::*;
    use crate::photo::Capture;
    use crate::record::{Side, parse_toml};
    use crate::report::text::width;
    use std::path::Path;

    const EN: Language = Language::English;

    fn job() -> Job {
        let text = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n[[lamp]]\nside = \"left\"\n\
            centre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n";
        parse_toml(Path::new("job.toml"), text).unwrap()
    }

    fn planned(checks: &[Check], lamp_off: bool) -> Vec<PlannedPhoto> {
        let wanted = Wanted {
            lamps: vec![Side::Left],
            gauge: gauge_steps("0,100 mbar").unwrap(),
            lamp_off,
            ..Wanted::made(checks)
        };
        list(&wanted).unwrap()
    }

    /// Photos taken at these times, s, and this bright.
    fn folder(photos: &[(f64, f64)]) -> Folder {
        let photo = |(n, &(time_s, brightness)): (usize, &(f64, f64))| TakenPhoto {
            name: format!("{n}.jpg"),
            listed_as: format!("card/{n}.jpg"),
            sha256: n.to_string(),
            capture: Capture {
                taken: Some("2031-03-04T20:15:00".to_owned()),
                ..Capture::default()
            },
            time_s,
            brightness,
            light: brightness.min(1.0),
        };
        Folder {
            photos: photos.iter().enumerate().map(photo).collect(),
            left_out: Vec::new(),
            in_job: 0,
            unplaced: Vec::new(),
            warnings: Vec::new(),
            numbers: Numbers::OfCamera,
        }
    }

    #[test]
    fn long_gaps_are_told_within_a_stage_and_not_across_the_repair() {
        let list = planned(&[Check::BeforeAfter], false);
        let day = 86_400.0;
        let across = pair(
            EN,
            &list,
            &folder(&[(0.0, 1.0), (40.0, 1.0), (day, 1.0), (day + 40.0, 1.0)]),
            &job(),
        );
        assert!(across.faults.is_empty() && across.warnings.is_empty(), "{across:?}");
        let within = pair(
            EN,
            &list,
            &folder(&[(0.0, 1.0), (day, 1.0), (day + 9.0, 1.0), (day + 40.0, 1.0)]),
            &job(),
        );
        assert!(
            within.warnings.len() == 1 && within.warnings[0].starts_with("24.0 h lie between 0.jpg and 1.jpg"),
            "{:?}",
            within.warnings
        );
    }

    /// The pump's photos ended one early, and the leak-down taken twenty minutes later began in the last one's place.
    #[test]
    fn a_pause_where_the_list_has_none_is_marked_and_one_between_two_lamps_is_not() {
        let list = planned(&[Check::Vacuum, Check::LeakDown], false);
        let at = |last_pumped_s: f64| {
            let photos: Vec<(f64, f64)> = (0..list.len())
                .map(|n| (60.0 * n as f64 + if n < 2 { 0.0 } else { last_pumped_s }, 1.0))
                .collect();
            pair(EN, &list, &folder(&photos), &job())
        };
        // Three photos under the pump, then the leak-down's.
        assert!(matches!(list[2].shows, Shows::Vacuum { .. }) && matches!(list[3].shows, Shows::Sealed { .. }));
        let paused = at(1200.0);
        assert_eq!(paused.pauses, [("2.jpg".to_owned(), 1260.0)]);
        let told = paused
            .warnings
            .iter()
            .filter(|why| why.starts_with("21 min lie between 1.jpg and 2.jpg"));
        assert_eq!(told.count(), 1, "{:?}", paused.warnings);
        assert_eq!(at(200.0).pauses, [], "no more than a walk to the car");
        let lamps = list.iter().enumerate().map(|(n, _)| {
            (
                if n < 3 {
                    60.0 * n as f64
                } else {
                    1200.0 + 60.0 * n as f64
                },
                1.0,
            )
        });
        let between = pair(EN, &list, &folder(&lamps.collect::<Vec<_>>()), &job());
        assert_eq!(
            between.pauses,
            [],
            "before another check somebody goes and joins the pump anew"
        );
    }

    #[test]
    fn a_series_off_its_beat_is_told_once() {
        let list = planned(&[Check::LeakDown], false);
        let beat = |second_s, third_s| {
            pair(
                EN,
                &list,
                &folder(&[(0.0, 1.0), (second_s, 1.0), (third_s, 1.0)]),
                &job(),
            )
            .warnings
        };
        assert_eq!(beat(65.0, 118.0), Vec::<String>::new());
        let off = beat(5.0, 10.0);
        assert!(
            off.len() == 1 && off[0].contains("1.jpg comes 5 s after") && off[0].contains("1 more"),
            "{off:?}"
        );
    }

    #[test]
    fn a_lamp_that_is_off_is_darker_than_all_that_are_lit() {
        let list = planned(&[Check::Positions], true);
        let faults =
            |lit: f64, off: f64| pair(EN, &list, &folder(&[(0.0, 1.0), (40.0, lit), (80.0, off)]), &job()).faults;
        assert_eq!(faults(1.0, 0.2), Vec::<String>::new());
        assert_eq!(faults(0.9, 0.95).len(), 1);
        assert!(
            faults(0.2, 0.9)[0].contains("no darker than 1.jpg"),
            "the dark one came before its turn"
        );
    }

    /// The black photo that took a lit one's place shifts no number, and its reading alone would tell, after all behind it were entered.
    #[test]
    fn a_dark_photo_in_the_place_of_a_lit_one_is_doubted_and_an_overexposed_one_is_not() {
        let list = planned(&[Check::Vacuum], false);
        let doubts = |light: &[f64]| {
            let photos: Vec<(f64, f64)> = light
                .iter()
                .enumerate()
                .map(|(n, &light)| (n as f64 * 40.0, light))
                .collect();
            let paired = pair(EN, &list, &folder(&photos), &job());
            assert!(
                paired.doubts.iter().all(|(_, why)| paired.warnings.contains(why)),
                "{paired:?}"
            );
            let names: Vec<String> = paired.doubts.into_iter().map(|(name, _)| name).collect();
            names
        };
        assert_eq!(doubts(&[0.6, 0.02, 0.6]), ["1.jpg"]);
        assert_eq!(doubts(&[0.02, 0.6]), ["0.jpg"]);
        assert_eq!(
            doubts(&[0.5, 0.2, 0.4]),
            Vec::<String>::new(),
            "a beam that went elsewhere"
        );
        assert_eq!(doubts(&[0.02, 0.02, 0.02]), Vec::<String>::new(), "all alike");
        // Exposed so much longer that the brightest is at full scale: over its exposure it looks dark.
        assert_eq!(doubts(&[40.0, 1.0, 40.0]), Vec::<String>::new());
    }

    #[test]
    fn a_whole_camera_s_worth_of_photos_gets_another_mend_than_a_spoilt_one() {
        let list = planned(&[Check::Positions], false);
        let fault = |photos| {
            pair(EN, &list, &folder(&vec![(0.0, 1.0); photos]), &job())
                .faults
                .join(" ")
        };
        assert!(
            fault(3).contains("--skip") && fault(3).contains("from 2.jpg on"),
            "{}",
            fault(3)
        );
        assert!(fault(300).contains("a folder of their own"), "{}", fault(300));
        assert!(fault(1).contains("--only 1,"), "{}", fault(1));
    }

    #[test]
    fn the_table_keeps_what_a_photo_shows_and_its_width() {
        let list = planned(&[Check::Vacuum, Check::BeforeAfter], false);
        let mut folder = folder(&vec![(0.0, 1.0); list.len()]);
        for photo in &mut folder.photos {
            photo.name = format!("a-rather-long-name-of-a-photo-{}", photo.name);
        }
        let text = render(&pair(EN, &list, &folder, &job()), &folder);
        assert!(text.lines().all(|line| width(line) <= 80), "{text}");
        for planned in &list {
            assert!(
                text.contains(&describe(EN, planned)),
                "{}: {text}",
                describe(EN, planned)
            );
        }
    }
}
