//! The questions, in the order in which they are asked.

use super::{Kind, Question};
use crate::language::Language;
use crate::marks::DEFAULT_SIZE_MM;
use crate::record::{Lamp, Marks, Side, System, ToleranceTable, system_names, table_names};
use std::path::Path;

/// Most sheets that are asked for; a file can list more.
pub(crate) const MOST_SHEETS: u32 = 12;
/// Least sheets with which a photo can be read with something to spare.
const LEAST_SHEETS: u32 = 4;

fn question(key: &str, about: &str, ask: &str, why: &str, usual: Option<&str>, kind: Kind) -> Question {
    Question {
        key: key.to_owned(),
        about: about.to_owned(),
        ask: ask.to_owned(),
        why: why.to_owned(),
        usual: usual.map(str::to_owned),
        kind,
        is_rare: false,
        only_with: Vec::new(),
    }
}

/// The same, where hardly anybody answers otherwise than is usual.
fn rarely(question: Question) -> Question {
    Question {
        is_rare: true,
        ..question
    }
}

/// What stands behind a figure of how well something is measured.
const WITHIN: &str = "Two times in three you come nearer than that (one standard deviation).";

fn only_with(mut question: Question, key: &'static str, words: &[&str]) -> Question {
    let words = words.iter().map(|&word| word.to_owned()).collect();
    question.only_with.push((key, words));
    question
}

fn choice(words: &[(&str, &str)]) -> Kind {
    let owned = |&(word, meaning): &(&str, &str)| (word.to_owned(), meaning.to_owned());
    Kind::Choice(words.iter().map(owned).collect())
}

/// The questions for a bay.
pub(crate) fn of_bay() -> Vec<Question> {
    const WALL: &str = "The wall";
    let mut asked = vec![
        rarely(question(
            "bay.name",
            WALL,
            "Name of the wall",
            "By it the report tells one wall from another.",
            Some("Bay 1"),
            Kind::Text,
        )),
        question(
            "bay.heights_from",
            WALL,
            "What are heights measured from?",
            "An inclination is a difference of heights over a distance: sheets and lamps must be measured from the same.",
            Some("floor"),
            choice(&[
                (
                    "floor",
                    "the floor where each stands; it runs on from the car to the wall in one plane",
                ),
                (
                    "level-line",
                    "a laser's or water level's line on wall and car, where the floor is not level",
                ),
            ]),
        ),
        only_with(
            question(
                "bay.grade_percent",
                WALL,
                "Rise of the standing area towards the wall, %",
                "Measure from the level line down to the floor at the front and at the rear wheels: rear minus front, over the \
                 distance between them, times 100. Positive where the car stands nose-up: it adds to every reading.",
                Some("0.0"),
                Kind::PerCent("grade_percent", -20.0, 20.0),
            ),
            "bay.heights_from",
            &["level-line"],
        ),
        rarely(question(
            "bay.grade_sd_percent",
            WALL,
            "How even the floor is between car and wall, within %",
            &format!(
                "2 mm over 10 m are 0.02. It counts in full in every reading's ±; a straight-edge or a level line tells. {WITHIN}"
            ),
            Some("0.02"),
            Kind::PerCent("grade_sd_percent", 0.0, 5.0),
        )),
        question(
            "bay.size_mm",
            "The sheets",
            "Outer edge of the black square, mm",
            "Measure it on a printed sheet, over the black border, beside the 100 mm bar: a printer that fits to the page makes both \
             smaller.",
            Some(&DEFAULT_SIZE_MM.to_string()),
            Kind::Millimetres("marks.size_mm", 20.0, 1000.0),
        ),
        rarely(question(
            "bay.position_sd_mm",
            "The sheets",
            "How well the sheets' centres are measured, within mm",
            &format!("1.5 is what a tape measure and a steady hand reach; a laser on a stand does better. {WITHIN}"),
            Some(&Marks::POSITION_SD_MM.to_string()),
            Kind::Millimetres("marks.position_sd_mm", 0.0, 100.0),
        )),
        question(
            "bay.sheets",
            "The sheets",
            "How many sheets hang on the wall?",
            "Six: four low, where the beam lights them, and two high above the cut-off; none on the strip where the cut-off falls.",
            Some("6"),
            Kind::Whole(LEAST_SHEETS, MOST_SHEETS),
        ),
    ];
    for n in 1..=MOST_SHEETS {
        asked.extend(of_sheet(n));
    }
    asked
}

/// The questions for the sheet `n`, counted from 1.
pub(crate) fn of_sheet(n: u32) -> [Question; 3] {
    let about = format!("Sheet {n}");
    let counts: Vec<String> = (n.max(LEAST_SHEETS)..=MOST_SHEETS)
        .map(|count| count.to_string())
        .collect();
    let of = |key: &str, ask: &str, why: &str, usual: Option<&str>, kind| {
        // Where to measure is said once: the others hang on the same wall.
        let why = if n == 1 { why } else { "" };
        Question {
            is_rare: key == "id",
            only_with: vec![("bay.sheets", counts.clone())],
            ..question(&format!("sheet{n}.{key}"), &about, ask, why, usual, kind)
        }
    };
    [
        of(
            "id",
            "Number printed on it",
            "The number tells the sheets apart in a photo.",
            Some(&n.to_string()),
            Kind::Whole(0, 586),
        ),
        of(
            "x_mm",
            "Its centre to the right of the bay's centre line, mm",
            "From the centre line to the sheet's centre (not to its edge: that would shift every reading), along the wall, as seen \
             facing the wall; to the left it is negative.",
            None,
            Kind::Millimetres("x_mm", -10_000.0, 10_000.0),
        ),
        of(
            "y_mm",
            "Its centre above the floor or the level line, mm",
            "To the same centre, straight up from the floor at the wall's foot, or from the level line; below a line it is negative.",
            None,
            Kind::Millimetres("y_mm", -3_000.0, 6_000.0),
        ),
    ]
}

/// The questions for a job.
pub(crate) fn of_job() -> Vec<Question> {
    const CAR: &str = "The car";
    let optional = Some("");
    let mut asked = vec![
        question(
            "job.job",
            CAR,
            "Number or name of the job",
            "It stands on the report.",
            None,
            Kind::Text,
        ),
        question(
            "job.traffic",
            CAR,
            "Which side of the road is the car built for?",
            "As it was built, not where it is driven now: its beam has a level edge on the other side, and the figure is read there.",
            None,
            choice(&[
                ("right", "it is driven on the right"),
                ("left", "it is driven on the left"),
            ]),
        ),
        question(
            "vehicle.description",
            CAR,
            "What car is it?",
            "In your words.",
            optional,
            Kind::Text,
        ),
        question(
            "vehicle.registration",
            CAR,
            "Registration",
            "As on its plate.",
            optional,
            Kind::Text,
        ),
        rarely(question(
            "vehicle.odometer",
            CAR,
            "Odometer",
            "With its unit, as it shows.",
            optional,
            Kind::Text,
        )),
        rarely(question(
            "workshop.measured_by",
            CAR,
            "Who measures?",
            "It stands on the report's head.",
            optional,
            Kind::Text,
        )),
    ];
    asked.extend(judged_by());
    asked.push(question(
        "job.lamps",
        "The lamps",
        "Which lamps are photographed?",
        "Sides are as seen from the driver's seat.",
        Some("both"),
        choice(&[
            ("both", "left and right"),
            ("left", "the left one"),
            ("right", "the right one"),
        ]),
    ));
    for side in [Side::Left, Side::Right] {
        asked.extend(of_lamp(side));
    }
    asked
}

/// By what the job is judged, and what its range adjuster is.
fn judged_by() -> Vec<Question> {
    const JUDGED: &str = "What it is judged by";
    let none = |meaning: &str| ("none".to_owned(), meaning.to_owned());
    let title = |name: &String| ToleranceTable::title_of(name).unwrap_or_default();
    let tables = table_names().into_iter().map(|name| (name.clone(), title(&name)));
    let system = |name: &String| {
        System::find(name, Path::new(""))
            .map(|system| system.name.within(Language::English).to_owned())
            .unwrap_or_default()
    };
    let systems = system_names().into_iter().map(|name| (name.clone(), system(&name)));
    let mark = |key: &str, ask: &str, why: &str, name, low_percent, high_percent| {
        let asked = question(
            &format!("lamp_mark.{key}"),
            JUDGED,
            ask,
            why,
            None,
            Kind::PerCent(name, low_percent, high_percent),
        );
        only_with(asked, "job.tolerance", &["lamp-mark"])
    };
    const YOURS: &str = "The stamp has no tolerance: give the one that you are to work to.";
    vec![
        question(
            "job.tolerance",
            JUDGED,
            "By which table is the aim judged?",
            "Each table says where its figures are from and how sure they are. Without one, readings are not judged.",
            Some("none"),
            Kind::Choice(std::iter::once(none("not judged")).chain(tables).collect()),
        ),
        mark(
            "set_percent",
            "The value stamped on lamp or car, %",
            "On or beside the lamp, as a drop per 100 of distance: 10 cm at 10 m are 1.0.",
            "lamp_mark.set_percent",
            -5.0,
            10.0,
        ),
        mark(
            "below",
            "Tolerance of the setting below it, %",
            YOURS,
            "lamp_mark.setting_tolerance_percent",
            0.0,
            5.0,
        ),
        mark(
            "above",
            "Tolerance of the setting above it, %",
            YOURS,
            "lamp_mark.setting_tolerance_percent",
            0.0,
            5.0,
        ),
        mark(
            "low",
            "Lowest inclination over all loads, %",
            YOURS,
            "lamp_mark.range_percent",
            -5.0,
            10.0,
        ),
        mark(
            "high",
            "Highest inclination over all loads, %",
            YOURS,
            "lamp_mark.range_percent",
            -5.0,
            10.0,
        ),
        rarely(question(
            "job.system",
            JUDGED,
            "How are its lamps moved up and down from the driver's seat?",
            "From it tests are suggested, and a faulty part is named; it can be said later, too.",
            Some("none"),
            Kind::Choice(
                std::iter::once(none("not known yet, in another way, or no fault is looked for"))
                    .chain(systems)
                    .collect(),
            ),
        )),
    ]
}

fn of_lamp(side: Side) -> Vec<Question> {
    let about = format!("The {side} lamp");
    let of = |key: &str, ask: &str, why: &str, usual: Option<&str>, kind| {
        let asked = question(&format!("{side}.{key}"), &about, ask, why, usual, kind);
        only_with(
            asked,
            "job.lamps",
            if side == Side::Left {
                &["both", "left"]
            } else {
                &["both", "right"]
            },
        )
    };
    let mounting = of(
        "mounting_height_mm",
        "Its height above the ground that the car stands on, mm",
        "It chooses the row of the tolerance table and gives the reach; the level line is not the ground.",
        None,
        Kind::Millimetres("mounting_height_mm", 100.0, 5_000.0),
    );
    vec![
        of(
            "centre_height_mm",
            "Height of its centre, mm",
            "From the floor straight below, or from the level line, to the mark in the middle of its lens. Readings are drops below \
             this height: 1 mm is 0.01 % at 10 m. Tyres right and load as the maker says, before you measure.",
            None,
            Kind::Millimetres("centre_height_mm", -2_500.0, 2_500.0),
        ),
        only_with(mounting, "bay.heights_from", &["level-line"]),
        rarely(of(
            "centre_height_sd_mm",
            "How well its height is measured, within mm",
            &format!("2 is what a tape measure and a plumb line reach on a lamp whose centre is marked. {WITHIN}"),
            Some(&Lamp::HEIGHT_SD_MM.to_string()),
            Kind::Millimetres("centre_height_sd_mm", 0.0, 500.0),
        )),
        of(
            "centre_x_mm",
            "Its centre to the right of the bay's centre line, mm",
            "Plumb it down to the floor and measure to the centre line, as seen facing the wall; to the left it is negative, so that \
             the left lamp's is the smaller one.",
            None,
            Kind::Millimetres("centre_x_mm", -5_000.0, 5_000.0),
        ),
        of(
            "distance_mm",
            "From its centre to the wall, mm",
            "Along the floor, square to the wall, from below the lens. 7500 to 10000 is good: nearer, a lamp is no point.",
            None,
            Kind::Millimetres("distance_mm", 2_000.0, 50_000.0),
        ),
        rarely(of(
            "distance_sd_mm",
            "How well its distance is measured, within mm",
            &format!("10 is what a tape along the floor reaches. {WITHIN}"),
            Some(&Lamp::DISTANCE_SD_MM.to_string()),
            Kind::Millimetres("distance_sd_mm", 0.0, 5_000.0),
        )),
        rarely(of(
            "face_height_mm",
            "Height of what throws its dipped beam, mm",
            "The lens or reflector of the dipped beam, from its lower to its upper edge: with it an aim read near the wall is given as \
             on the measuring screen. Not known: leave it out.",
            Some(""),
            Kind::Millimetres("face_height_mm", 0.0, 400.0),
        )),
    ]
}
