//! The questions, in the order in which they are asked.

use super::check::SET_PERCENT;
use super::{Kind, Question};
use crate::language::{Language, said};
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
const fn within(language: Language) -> &'static str {
    language.pick(
        "Two times in three you come nearer than that (one standard deviation).",
        "In zwei von drei Fällen ist es genauer als das (eine Standardabweichung).",
    )
}

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
pub(crate) fn of_bay(language: Language) -> Vec<Question> {
    let wall = language.pick("The wall", "Die Wand");
    let mut asked = vec![
        rarely(question(
            "bay.name",
            wall,
            language.pick("Name of the wall", "Name der Wand"),
            language.pick("By it the report tells one wall from another.", "Daran unterscheidet der Bericht eine Wand von einer anderen."),
            Some(language.pick("Bay 1", "Wand 1")),
            Kind::Text,
        )),
        question(
            "bay.heights_from",
            wall,
            language.pick("What are heights measured from?", "Wovon aus sind Höhen gemessen?"),
            language.pick("An inclination is a difference of heights over a distance: sheets and lamps must be measured from the same.", "Eine Neigung ist ein Höhenunterschied über einen Abstand: Messblätter und Scheinwerfer müssen vom selben aus gemessen sein."),
            Some("floor"),
            choice(&[
                (
                    "floor",
                    language.pick("the floor where each stands; it runs on from the car to the wall in one plane", "vom Boden, wo jedes steht; er läuft vom Fahrzeug bis zur Wand in einer Ebene durch"),
                ),
                (
                    "level-line",
                    language.pick("a laser's or water level's line on wall and car, where the floor is not level", "von der Linie eines Lasers oder einer Schlauchwaage an Wand und Fahrzeug, wo der Boden nicht waagerecht ist"),
                ),
            ]),
        ),
        only_with(
            question(
                "bay.grade_percent",
                wall,
                language.pick("Rise of the standing area towards the wall, %", "Anstieg der Standfläche zur Wand hin, %"),
                language.pick("Measure from the level line down to the floor at the front and at the rear wheels: rear minus front, over the \
                 distance between them, times 100. Positive where the car stands nose-up: it adds to every reading.", "Von der waagerechten Linie hinunter zum Boden messen, bei den Vorder- und bei den Hinterrädern: hinten minus vorn, durch den Abstand dazwischen, mal 100. Positiv, wo das Fahrzeug vorn höher steht: es kommt zu jedem Messwert hinzu."),
                Some("0.0"),
                Kind::PerCent("grade_percent", -20.0, 20.0),
            ),
            "bay.heights_from",
            &["level-line"],
        ),
        rarely(question(
            "bay.grade_sd_percent",
            wall,
            language.pick("How even the floor is between car and wall, within %", "Wie eben der Boden zwischen Fahrzeug und Wand ist, auf %"),
            &said!(language; "2 mm over 10 m are 0.02. It counts in full in every reading's ±; a straight-edge or a level line tells. {}", "2 mm auf 10 m sind 0,02. Es zählt voll in der Messunsicherheit jedes Messwerts; ein Richtscheit oder eine waagerechte Linie zeigt es. {}"; within(language)),
            Some("0.02"),
            Kind::PerCent("grade_sd_percent", 0.0, 5.0),
        )),
        question(
            "bay.size_mm",
            language.pick("The sheets", "Die Messblätter"),
            language.pick("Outer edge of the black square, mm", "Außenkante des schwarzen Quadrats, mm"),
            language.pick("Measure it on a printed sheet, over the black border, beside the 100 mm bar: a printer that fits to the page makes both \
             smaller.", "Auf einem gedruckten Messblatt messen, über den schwarzen Rand, neben dem Balken von 100 mm: ein Drucker, der auf die Seite einpasst, macht beides kleiner."),
            Some(&DEFAULT_SIZE_MM.to_string()),
            Kind::Millimetres("marks.size_mm", 20.0, 1000.0),
        ),
        rarely(question(
            "bay.position_sd_mm",
            language.pick("The sheets", "Die Messblätter"),
            language.pick("How well the sheets' centres are measured, within mm", "Wie genau die Mitten der Messblätter vermessen sind, auf mm"),
            &said!(language; "1.5 is what a tape measure and a steady hand reach; a laser on a stand does better. {}", "1,5 erreichen ein Bandmaß und eine ruhige Hand; ein Laser auf einem Stativ ist besser. {}"; within(language)),
            Some(&Marks::POSITION_SD_MM.to_string()),
            Kind::Millimetres("marks.position_sd_mm", 0.0, 100.0),
        )),
        question(
            "bay.sheets",
            language.pick("The sheets", "Die Messblätter"),
            language.pick("How many sheets hang on the wall?", "Wie viele Messblätter hängen an der Wand?"),
            language.pick("Six: four low, where the beam lights them, and two high above the cut-off; none on the strip where the cut-off falls.", "Sechs: vier unten, wo der Lichtkegel sie beleuchtet, und zwei oben über der Hell-Dunkel-Grenze; keines auf dem Streifen, auf den die Hell-Dunkel-Grenze fällt."),
            Some("6"),
            Kind::Whole(LEAST_SHEETS, MOST_SHEETS),
        ),
    ];
    for n in 1..=MOST_SHEETS {
        asked.extend(of_sheet(language, n));
    }
    asked
}

/// The questions for the sheet `n`, counted from 1.
pub(crate) fn of_sheet(language: Language, n: u32) -> [Question; 3] {
    let about = said!(language; "Sheet {n}", "Messblatt {n}");
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
            language.pick("Number printed on it", "Aufgedruckte Nummer"),
            language.pick("The number tells the sheets apart in a photo.", "Die Nummer unterscheidet die Messblätter im Foto."),
            Some(&n.to_string()),
            Kind::Whole(0, 586),
        ),
        of(
            "x_mm",
            language.pick("Its centre to the right of the bay's centre line, mm", "Seine Mitte rechts von der Mittellinie des Messplatzes, mm"),
            language.pick("From the centre line to the sheet's centre (not to its edge: that would shift every reading), along the wall, as seen \
             facing the wall; to the left it is negative.", "Von der Mittellinie zur Mitte des Messblatts (nicht zu seinem Rand: das würde jeden Messwert verschieben), an der Wand entlang, mit Blick zur Wand; nach links ist es negativ."),
            None,
            Kind::Millimetres("x_mm", -10_000.0, 10_000.0),
        ),
        of(
            "y_mm",
            language.pick("Its centre above the floor or the level line, mm", "Seine Mitte über dem Boden oder der waagerechten Linie, mm"),
            language.pick("To the same centre, straight up from the floor at the wall's foot, or from the level line; below a line it is negative.", "Zur selben Mitte, senkrecht hinauf vom Boden am Fuß der Wand oder von der waagerechten Linie; unter einer Linie ist es negativ."),
            None,
            Kind::Millimetres("y_mm", -3_000.0, 6_000.0),
        ),
    ]
}

/// The questions for a job.
pub(crate) fn of_job(language: Language) -> Vec<Question> {
    let car = language.pick("The car", "Das Fahrzeug");
    let optional = Some("");
    let mut asked = vec![
        question(
            "job.job",
            car,
            language.pick("Number or name of the job", "Nummer oder Name des Auftrags"),
            language.pick("It stands on the report.", "Steht im Bericht."),
            None,
            Kind::Text,
        ),
        question(
            "job.traffic",
            car,
            language.pick("Which side of the road is the car built for?", "Für welche Straßenseite ist das Fahrzeug gebaut?"),
            language.pick("As it was built, not where it is driven now: its beam has a level edge on the other side, and the figure is read there.", "Wie es gebaut ist, nicht wo es jetzt fährt: sein Lichtkegel hat auf der anderen Seite eine waagerechte Kante, und dort wird der Wert abgelesen."),
            None,
            choice(&[
                ("right", language.pick("right-hand traffic: cars keep to the right", "für Rechtsverkehr")),
                ("left", language.pick("left-hand traffic: cars keep to the left", "für Linksverkehr")),
            ]),
        ),
        question(
            "vehicle.description",
            car,
            language.pick("What car is it?", "Was für ein Fahrzeug ist es?"),
            language.pick("In your words.", "In eigenen Worten."),
            optional,
            Kind::Text,
        ),
        question(
            "vehicle.registration",
            car,
            language.pick("Registration", "Kennzeichen"),
            language.pick("As on its plate.", "Wie auf dem Schild."),
            optional,
            Kind::Text,
        ),
        rarely(question(
            "vehicle.odometer",
            car,
            language.pick("Odometer", "Kilometerstand"),
            language.pick("With its unit, as it shows.", "Mit der Einheit, wie angezeigt."),
            optional,
            Kind::Text,
        )),
        rarely(question(
            "workshop.measured_by",
            car,
            language.pick("Who measures?", "Wer misst?"),
            language.pick("It stands on the report's head.", "Steht im Kopf des Berichts."),
            optional,
            Kind::Text,
        )),
    ];
    asked.extend(judged_by(language));
    asked.push(question(
        "job.lamps",
        language.pick("The lamps", "Die Scheinwerfer"),
        language.pick(
            "Which lamps are photographed?",
            "Welche Scheinwerfer werden fotografiert?",
        ),
        language.pick(
            "Sides are as seen from the driver's seat.",
            "Links und rechts gelten vom Fahrersitz aus.",
        ),
        Some("both"),
        choice(&[
            ("both", language.pick("left and right", "links und rechts")),
            ("left", language.pick("the left one", "der linke")),
            ("right", language.pick("the right one", "der rechte")),
        ]),
    ));
    for side in [Side::Left, Side::Right] {
        asked.extend(of_lamp(language, side));
    }
    asked
}

/// By what the job is judged, and what its range adjuster is.
fn judged_by(language: Language) -> Vec<Question> {
    let judged = language.pick("What it is judged by", "Wonach geurteilt wird");
    let none = |meaning: &str| ("none".to_owned(), meaning.to_owned());
    let title = |name: &String| {
        ToleranceTable::title_of(name).map_or_else(String::new, |title| title.within(language).to_owned())
    };
    let tables = table_names().into_iter().map(|name| (name.clone(), title(&name)));
    let system = |name: &String| {
        System::find(name, Path::new(""))
            .map(|system| system.name.within(language).to_owned())
            .unwrap_or_default()
    };
    let systems = system_names().into_iter().map(|name| (name.clone(), system(&name)));
    let mark = |key: &str, ask: &str, why: &str, name, [low_percent, high_percent]: [f64; 2]| {
        let asked = question(
            &format!("lamp_mark.{key}"),
            judged,
            ask,
            why,
            Some(""),
            Kind::PerCent(name, low_percent, high_percent),
        );
        only_with(rarely(asked), "job.tolerance", &["lamp-mark"])
    };
    let set = question(
        SET_PERCENT,
        judged,
        language.pick("The value stamped on lamp or car, %", "Der auf Scheinwerfer oder Fahrzeug eingeprägte Wert, %"),
        language.pick("On or beside the lamp, as a drop per 100 of distance: 10 cm at 10 m are 1.0. Whether it is stamped with a minus or without, type it without: down is positive here. It stands beside the limits; only the table of the stamped value wants it.", "Auf oder neben dem Scheinwerfer, als Absenkung je 100 Abstand: 10 cm auf 10 m sind 1,0. Ob mit Minus eingeprägt oder ohne, hier ohne eintippen: abwärts ist positiv. Er steht neben den Grenzen; nötig ist er nur für die Tabelle des eingeprägten Werts."),
        Some(""),
        Kind::PerCent(SET_PERCENT, -5.0, 10.0),
    );
    let yours = language.pick(
        "A stamp has no tolerance. Left out, the limit is what UN R48 has for the lamp's height (from memory, as the table un-r48 says): up to 0.8 m 1.0 to 1.5 % as set, 0.5 to 2.5 % over all loads. Give others only where you are to work to them.",
        "Eine Prägung nennt keine Toleranz. Weggelassen gilt, was UN R48 für die Höhe des Scheinwerfers hat (aus dem Gedächtnis, wie die Tabelle un-r48 sagt): bis 0,8 m 1,0 bis 1,5 % wie eingestellt, 0,5 bis 2,5 % über alle Beladungen. Andere nur angeben, wo nach ihnen gearbeitet werden soll.",
    );
    vec![
        question(
            "job.tolerance",
            judged,
            language.pick("By which table is the aim judged?", "Nach welcher Tabelle wird die Einstellung beurteilt?"),
            language.pick("Each table says where its figures are from and how sure they are. Without one, readings are not judged.", "Jede Tabelle sagt, woher ihre Zahlen sind und wie sicher sie sind. Ohne eine wird nicht geurteilt."),
            // Whether and by what a car is judged is chosen, and not left as it happens to stand.
            None,
            Kind::Choice(std::iter::once(none(language.pick("not judged", "ohne Urteil"))).chain(tables).collect()),
        ),
        only_with(set, "job.tolerance", &["lamp-mark", "un-r48", "eu-76-756", "gb-inspection"]),
        mark(
            "below",
            language.pick("By how much the figure as set may be smaller than the stamped one, % (smaller: the beam is higher)", "Um wie viel der Wert wie eingestellt kleiner sein darf als der eingeprägte, % (kleiner: der Lichtkegel ist höher)"),
            yours,
            "lamp_mark.setting_tolerance_percent",
            [0.0, 5.0],
        ),
        mark(
            "above",
            language.pick("By how much the figure as set may be larger than the stamped one, % (larger: the beam is lower)", "Um wie viel der Wert wie eingestellt größer sein darf als der eingeprägte, % (größer: der Lichtkegel ist tiefer)"),
            "",
            "lamp_mark.setting_tolerance_percent",
            [0.0, 5.0],
        ),
        mark(
            "low",
            language.pick("Smallest figure over all loads, % (more is lower)", "Kleinster Wert über alle Beladungen, % (mehr ist tiefer)"),
            "",
            "lamp_mark.range_percent",
            [-5.0, 10.0],
        ),
        mark(
            "high",
            language.pick("Largest figure over all loads, % (more is lower)", "Größter Wert über alle Beladungen, % (mehr ist tiefer)"),
            "",
            "lamp_mark.range_percent",
            [-5.0, 10.0],
        ),
        question(
            "job.system",
            language.pick("The range adjuster", "Die Leuchtweitenverstellung"),
            language.pick("How are its lamps moved up and down from the driver's seat?", "Wie werden die Scheinwerfer vom Fahrersitz aus verstellt?"),
            language.pick("From it tests are suggested, and a faulty part is named; it can be said later, too.", "Daraus werden Prüfungen vorgeschlagen und ein fehlerhaftes Bauteil genannt; es lässt sich auch später angeben."),
            Some("none"),
            Kind::Choice(
                std::iter::once(none(language.pick("not known yet, in another way, or no fault is looked for", "noch nicht bekannt, auf andere Weise, oder es wird kein Fehler gesucht")))
                    .chain(systems)
                    .collect(),
            ),
        ),
    ]
}

fn of_lamp(language: Language, side: Side) -> Vec<Question> {
    let stem = side.stem();
    let about = said!(language; "The {side} lamp", "Der {stem}e Scheinwerfer");
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
        language.pick("Its height above the ground that the car stands on, mm", "Seine Höhe über der Fläche, auf der das Fahrzeug steht, mm"),
        language.pick("It chooses the row of the tolerance table and gives the reach; the level line is not the ground.", "Sie wählt die Zeile der Toleranztabelle und gibt die Reichweite; die waagerechte Linie ist nicht der Boden."),
        None,
        Kind::Millimetres("mounting_height_mm", 100.0, 5_000.0),
    );
    vec![
        of(
            "centre_height_mm",
            language.pick("Height of its centre, mm", "Höhe seiner Mitte, mm"),
            language.pick("From the floor straight below, or from the level line (below the line it is negative), to the mark in the middle of its lens. Readings are drops below \
             this height: 1 mm is 0.01 % at 10 m. Tyres right and load as the maker says, before you measure.", "Vom Boden senkrecht darunter oder von der waagerechten Linie (unter der Linie ist es negativ) zur Marke in der Mitte seiner Linse. Messwerte sind Absenkungen unter diese Höhe: 1 mm sind 0,01 % auf 10 m. Vor dem Messen Reifen und Beladung nach Herstellerangabe."),
            None,
            Kind::Millimetres("centre_height_mm", -2_500.0, 2_500.0),
        ),
        only_with(mounting, "bay.heights_from", &["level-line"]),
        rarely(of(
            "centre_height_sd_mm",
            language.pick("How well its height is measured, within mm", "Wie genau seine Höhe gemessen ist, auf mm"),
            &said!(language; "2 is what a tape measure and a plumb line reach on a lamp whose centre is marked. {}", "2 erreichen ein Bandmaß und ein Lot an einem Scheinwerfer, dessen Mitte markiert ist. {}"; within(language)),
            Some(&Lamp::HEIGHT_SD_MM.to_string()),
            Kind::Millimetres("centre_height_sd_mm", 0.0, 500.0),
        )),
        of(
            "centre_x_mm",
            language.pick("Its centre to the right of the bay's centre line, mm", "Seine Mitte rechts von der Mittellinie des Messplatzes, mm"),
            language.pick("Plumb it down to the floor and measure to the centre line, as seen facing the wall; to the left it is negative, so that \
             the left lamp's is the smaller one.", "Auf den Boden loten und bis zur Mittellinie messen, mit Blick zur Wand; nach links ist es negativ, sodass der Wert des linken Scheinwerfers der kleinere ist."),
            None,
            Kind::Millimetres("centre_x_mm", -5_000.0, 5_000.0),
        ),
        of(
            "distance_mm",
            language.pick("From its centre to the wall, mm", "Von seiner Mitte zur Wand, mm"),
            language.pick("Along the floor, square to the wall, from below the lens. 7500 to 10000 is good: nearer, a lamp is no point.", "Am Boden entlang, rechtwinklig zur Wand, von unterhalb der Linse. 7500 bis 10000 ist gut: näher ist ein Scheinwerfer kein Punkt."),
            None,
            Kind::Millimetres("distance_mm", 2_000.0, 50_000.0),
        ),
        rarely(of(
            "distance_sd_mm",
            language.pick("How well its distance is measured, within mm", "Wie genau sein Abstand gemessen ist, auf mm"),
            &said!(language; "10 is what a tape along the floor reaches. {}", "10 erreicht ein Bandmaß am Boden entlang. {}"; within(language)),
            Some(&Lamp::DISTANCE_SD_MM.to_string()),
            Kind::Millimetres("distance_sd_mm", 0.0, 5_000.0),
        )),
        rarely(of(
            "face_height_mm",
            language.pick("Height of the lens or reflector that throws its dipped beam, mm", "Höhe der Linse oder des Reflektors des Abblendlichts, mm"),
            language.pick("From its lower to its upper edge: with it an aim read near the wall is given as \
             on the measuring screen. Not known: leave it out.", "Von der Unter- bis zur Oberkante: damit wird eine nahe der Wand gelesene Einstellung wie auf dem Messschirm angegeben. Nicht bekannt: weglassen."),
            Some(""),
            Kind::Millimetres("face_height_mm", 0.0, 400.0),
        )),
    ]
}
