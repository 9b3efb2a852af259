//! Tolerance tables: which inclination is right for a lamp at a given height. Data, not constants: each table in
//! `calibration/tolerances/` names its source, its edition, when it was read and how sure we are of it.

use super::kind::FileKind;
use super::words::OwnWords;
use super::{LampMark, Side, Source, check_schema, parse_toml};
use crate::error::Error;
use crate::language::Said;
use include_dir::{Dir, include_dir};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// The tables travel inside the program, so that it works away from its source tree.
static SHIPPED: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/calibration/tolerances");

/// A band of inclinations, per cent, limits included.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Least downward inclination allowed, per cent.
    pub low_percent: f64,
    /// Greatest downward inclination allowed, per cent.
    pub high_percent: f64,
}

/// A tolerance table with its two bands by mounting height.
#[derive(Debug, Clone)]
pub struct ToleranceTable {
    /// Name by which a job asks for it.
    pub name: String,
    /// What it is called in full.
    pub title: Said,
    /// Where the figures stand.
    pub source: Said,
    /// Edition of the source.
    pub edition: Said,
    /// Date on which the source was read (or recalled), ISO 8601.
    pub read: String,
    /// How sure we are that the figures are the source's.
    pub confidence: Said,
    /// What else one should know before relying on it; may be empty.
    pub note: Said,
    /// The side of the lamp on which the table means the cut-off, where it names one.
    pub side: Option<Side>,
    /// What is stamped on lamp or car, where the job gives it, per cent; shown beside the limits, whichever table has them.
    pub marked_percent: Option<f64>,
    /// The bands are another table's, and hold only where the stamped value lies within the one for the setting.
    beside_mark: bool,
    setting: Vec<Row>,
    range: Vec<Row>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct TableFile {
    schema: u32,
    title: String,
    source: String,
    edition: String,
    read: String,
    confidence: String,
    #[serde(default)]
    note: String,
    /// The side of the lamp on which the cut-off is meant; left out: the flat side, whichever it is.
    side: Option<Side>,
    /// The bands come from the job's `[lamp_mark]`.
    #[serde(default)]
    from_lamp_mark: bool,
    #[serde(default)]
    setting: Vec<Row>,
    #[serde(default)]
    range: Vec<Row>,
    /// What of it is called how in other languages.
    #[serde(default)]
    words: OwnWords,
}

/// One row: for which heights, and the limits either in per cent or as a drop at a distance.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    /// The row holds for heights from this on, mm.
    from_mm: Option<f64>,
    /// The row holds for heights above this, mm.
    above_mm: Option<f64>,
    /// The row holds for heights below this, mm.
    below_mm: Option<f64>,
    /// The row holds for heights up to and with this, mm.
    up_to_mm: Option<f64>,
    /// The row holds only where the job's `tolerance_choice` asks for it.
    choice: Option<String>,
    low_percent: Option<f64>,
    high_percent: Option<f64>,
    /// Drop below the lamp's centre, mm, at `at_distance_mm`.
    nominal_drop_mm: Option<f64>,
    /// Allowed to either side of the nominal drop, mm.
    plus_minus_mm: Option<f64>,
    at_distance_mm: Option<f64>,
}

impl Row {
    fn holds_at(&self, height_mm: f64) -> bool {
        self.from_mm.is_none_or(|limit_mm| height_mm >= limit_mm)
            && self.above_mm.is_none_or(|limit_mm| height_mm > limit_mm)
            && self.below_mm.is_none_or(|limit_mm| height_mm < limit_mm)
            && self.up_to_mm.is_none_or(|limit_mm| height_mm <= limit_mm)
    }

    fn band(&self) -> Option<Band> {
        let (low_percent, high_percent) = match *self {
            Self {
                low_percent: Some(low),
                high_percent: Some(high),
                nominal_drop_mm: None,
                plus_minus_mm: None,
                at_distance_mm: None,
                ..
            } => (low, high),
            Self {
                low_percent: None,
                high_percent: None,
                nominal_drop_mm: Some(drop_mm),
                plus_minus_mm: Some(margin_mm),
                at_distance_mm: Some(distance_mm),
                ..
            } if distance_mm > 0.0 => (
                100.0 * (drop_mm - margin_mm) / distance_mm,
                100.0 * (drop_mm + margin_mm) / distance_mm,
            ),
            _ => return None,
        };
        (low_percent <= high_percent).then_some(Band {
            low_percent,
            high_percent,
        })
    }
}

/// Names of the tables that the program carries, in alphabetical order.
pub(crate) fn table_names() -> Vec<String> {
    super::source::names_in(&SHIPPED)
}

impl ToleranceTable {
    /// Reads the table that a job asks for: the name of a shipped one, or else a path relative to `folder`.
    ///
    /// # Errors
    /// [`Error`] for a name that is neither, a table that cannot be read, or one that needs a `[lamp_mark]`
    /// which the job does not give.
    pub fn find(name: &str, folder: &Path, lamp_mark: Option<&LampMark>) -> Result<Self, Error> {
        let Source { path, text, .. } = Self::source(name, folder)?;
        let file = parse_toml(&path, &text).map_err(|e| FileKind::Table.wanted(&path, &text, e))?;
        Self::from_file(name, &path, file, lamp_mark)
    }

    /// The text of a table that comes with the program, or of a file relative to `folder`.
    ///
    /// # Errors
    /// [`Error`] for a name that is neither, and a file that cannot be read.
    pub(crate) fn source(name: &str, folder: &Path) -> Result<Source, Error> {
        Source::find(&SHIPPED, "calibration/tolerances", "tolerance table", name, folder)
    }

    /// What a table that comes with the program is called in words.
    pub(crate) fn title_of(name: &str) -> Option<Said> {
        let Source { path, text, .. } = Self::source(name, Path::new("")).ok()?;
        let file: TableFile = parse_toml(&path, &text).ok()?;
        Some(file.words.said(&file.title))
    }

    /// How sure the limits of a table that comes with the program are, and by what.
    pub(crate) fn confidence_of(name: &str) -> Option<Said> {
        let Source { path, text, .. } = Self::source(name, Path::new("")).ok()?;
        let file: TableFile = parse_toml(&path, &text).ok()?;
        Some(file.words.said(&file.confidence))
    }

    fn from_file(name: &str, path: &Path, file: TableFile, lamp_mark: Option<&LampMark>) -> Result<Self, Error> {
        check_schema(path, file.schema)?;
        let marked_percent = lamp_mark.and_then(|mark| mark.set_percent);
        let (setting, range) = match (file.from_lamp_mark, lamp_mark, marked_percent) {
            (false, Some(mark), _) if mark.setting_tolerance_percent.is_some() || mark.range_percent.is_some() => {
                return Err(Error::in_file(
                    path,
                    "this table has limits of its own, so that the tolerances in the job's [lamp_mark] would not count; take them out of the job \
                     file, or give tolerance = \"lamp-mark\"",
                ));
            }
            (false, ..) => (file.setting, file.range),
            (true, Some(mark), Some(set_percent)) => lamp_mark_rows(mark, set_percent)?,
            (true, ..) => {
                return Err(Error::in_file(
                    path,
                    "this table takes the value stamped on the lamp: add to the job file [lamp_mark] with set_percent, and where you are to work \
                     to other limits than UN R48's setting_tolerance_percent = [smaller, larger] and range_percent = [smallest, largest]",
                ));
            }
        };
        for (band, rows) in [("setting", &setting), ("range", &range)] {
            if let Some(n) = rows.iter().position(|row| row.band().is_none()) {
                return Err(Error::in_file(
                    path,
                    format!(
                        "row {} of [[{band}]] needs low_percent and high_percent, or nominal_drop_mm, plus_minus_mm and \
                         at_distance_mm, with the low limit not above the high one",
                        n + 1
                    ),
                ));
            }
            let holds_always = |row: &Row| {
                let limits = [row.from_mm, row.above_mm, row.below_mm, row.up_to_mm];
                limits.iter().all(Option::is_none) && row.choice.is_none()
            };
            // A table may leave the range out: then nothing is judged by it.
            let is_left_out = band == "range" && rows.is_empty();
            if !is_left_out && !rows.iter().any(holds_always) {
                return Err(Error::in_file(
                    path,
                    format!("[[{band}]] has no last row without a height limit, so that some lamps have no band"),
                ));
            }
        }
        let words = file.words;
        let [title, source, edition, confidence, note] =
            [&file.title, &file.source, &file.edition, &file.confidence, &file.note].map(|text| words.said(text));
        words.check_all_used(path)?;
        Ok(Self {
            name: name.to_owned(),
            title,
            source,
            edition,
            read: file.read,
            confidence,
            note,
            side: file.side,
            marked_percent,
            beside_mark: file.from_lamp_mark && lamp_mark.is_some_and(|mark| mark.setting_tolerance_percent.is_none()),
            setting,
            range,
        })
    }

    /// The band that holds for a lamp whose centre is `height_mm` above the ground, mm: `setting` (as set up,
    /// lightly loaded, range control at 0) or else `range` (over all loads), `None` where the table has no range. `choice` is the maker's choice, where
    /// the table offers one; left out, a stamped value says which rows the maker chose, and there is no band where it fits none of them.
    #[must_use]
    pub fn band(&self, setting: bool, height_mm: f64, choice: Option<&str>) -> Option<Band> {
        let Some(marked_percent) = self.marked_percent.filter(|_| self.beside_mark) else {
            return self.row(setting, height_mm, choice);
        };
        let chosen = [choice, Some("steeper").filter(|_| choice.is_none())];
        let fits = |choice: &Option<&str>| {
            let set = self.row(true, height_mm, *choice);
            set.is_some_and(|band| (band.low_percent..=band.high_percent).contains(&marked_percent))
        };
        let fitting = chosen.into_iter().find(fits)?;
        self.row(setting, height_mm, fitting)
    }

    fn row(&self, setting: bool, height_mm: f64, choice: Option<&str>) -> Option<Band> {
        let rows = if setting { &self.setting } else { &self.range };
        let chosen = rows
            .iter()
            .find(|row| row.choice.is_some() && row.choice.as_deref() == choice && row.holds_at(height_mm));
        chosen
            .or_else(|| rows.iter().find(|row| row.choice.is_none() && row.holds_at(height_mm)))?
            .band()
    }

    /// Whether positions beyond the setting are judged.
    #[must_use]
    pub fn has_range(&self) -> bool {
        !self.range.is_empty()
    }

    /// Whether the band is another for lamps at another height.
    #[must_use]
    pub fn goes_by_height(&self) -> bool {
        let limited = |row: &Row| {
            [row.from_mm, row.above_mm, row.below_mm, row.up_to_mm]
                .iter()
                .any(Option::is_some)
        };
        self.setting.iter().chain(&self.range).any(limited)
    }

    /// Fails where `choice` is given and the table offers no such choice.
    ///
    /// # Errors
    /// [`Error`] that lists the choices.
    pub fn check_choice(&self, choice: Option<&str>, path: &Path) -> Result<(), Error> {
        let Some(choice) = choice else { return Ok(()) };
        let mut offered: Vec<&str> = self
            .setting
            .iter()
            .chain(&self.range)
            .filter_map(|row| row.choice.as_deref())
            .collect();
        offered.sort_unstable();
        offered.dedup();
        if offered.contains(&choice) {
            return Ok(());
        }
        let list = if offered.is_empty() {
            "none".to_owned()
        } else {
            offered.join(", ")
        };
        Err(Error::in_file(
            path,
            format!(
                "tolerance_choice = \"{choice}\" is not in the table {}; it offers: {list}",
                self.name
            ),
        ))
    }
}

/// The rows of a stamped value: the job's own, and where it has none those of [`BESIDE_A_MARK`].
fn lamp_mark_rows(mark: &LampMark, set_percent: f64) -> Result<(Vec<Row>, Vec<Row>), Error> {
    let Source { path, text, .. } = ToleranceTable::source(BESIDE_A_MARK, Path::new(""))?;
    let usual: TableFile = parse_toml(&path, &text)?;
    let row = |low, high| Row {
        from_mm: None,
        above_mm: None,
        below_mm: None,
        up_to_mm: None,
        choice: None,
        low_percent: Some(low),
        high_percent: Some(high),
        nominal_drop_mm: None,
        plus_minus_mm: None,
        at_distance_mm: None,
    };
    let own = |[below, above]: [f64; 2]| vec![row(set_percent - below, set_percent + above)];
    Ok((
        mark.setting_tolerance_percent.map_or(usual.setting, own),
        mark.range_percent
            .map_or(usual.range, |[low, high]| vec![row(low, high)]),
    ))
}

/// A stamp has no tolerances: whose the limits are where the job gives none.
const BESIDE_A_MARK: &str = "un-r48";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::Language;

    fn shipped(name: &str) -> ToleranceTable {
        let mark = LampMark {
            set_percent: Some(1.2),
            setting_tolerance_percent: Some([0.2, 0.3]),
            range_percent: Some([0.5, 2.5]),
        };
        let mark = (name == "lamp-mark").then_some(&mark);
        ToleranceTable::find(name, Path::new("."), mark).unwrap()
    }

    /// Every shipped row: (table, choice, setting?, height mm, low %, high %), retyped here from the sources named
    /// in the tables, heights chosen on both sides of each height limit.
    #[test]
    fn shipped_rows_hold_on_both_sides_of_each_height_limit() {
        #[rustfmt::skip]
        let rows = [
            // UN R48, 6.2.6.1.2 (from memory).
            ("un-r48", None, true, 500.0, 1.0, 1.5), ("un-r48", None, true, 799.9, 1.0, 1.5),
            ("un-r48", None, true, 800.0, 1.0, 1.5), ("un-r48", None, true, 1000.0, 1.0, 1.5),
            ("un-r48", None, true, 1000.1, 1.5, 2.0),
            ("un-r48", None, false, 799.9, 0.5, 2.5), ("un-r48", None, false, 1000.0, 0.5, 2.5),
            ("un-r48", None, false, 1000.1, 1.0, 3.0),
            ("un-r48", Some("steeper"), true, 799.9, 1.0, 1.5), ("un-r48", Some("steeper"), true, 800.0, 1.5, 2.0),
            ("un-r48", Some("steeper"), true, 1000.0, 1.5, 2.0), ("un-r48", Some("steeper"), true, 1000.1, 1.5, 2.0),
            ("un-r48", Some("steeper"), false, 799.9, 0.5, 2.5), ("un-r48", Some("steeper"), false, 800.0, 1.0, 3.0),
            ("un-r48", Some("steeper"), false, 1000.0, 1.0, 3.0), ("un-r48", Some("steeper"), false, 1000.1, 1.0, 3.0),
            // UN R48, category N3G above 1200 mm; AIS-008, amendment 1 (both as quoted to us, read on 2026-11-26).
            ("un-r48", Some("n3g"), true, 1200.0, 1.5, 2.0), ("un-r48", Some("n3g"), true, 1200.1, 2.0, 2.5),
            ("un-r48", Some("n3g"), false, 1200.0, 1.0, 3.0), ("un-r48", Some("n3g"), false, 1200.1, 1.5, 3.5),
            ("un-r48", Some("n3g"), true, 650.0, 1.0, 1.5), ("un-r48", None, true, 1200.1, 1.5, 2.0),
            // Directive 76/756/EEC as amended by 97/28/EC takes UN R48's rows (OJ L 203, 30.7.1997, as quoted to us).
            ("eu-76-756", None, true, 799.9, 1.0, 1.5), ("eu-76-756", None, true, 1000.0, 1.0, 1.5),
            ("eu-76-756", None, true, 1000.1, 1.5, 2.0), ("eu-76-756", None, false, 799.9, 0.5, 2.5),
            ("eu-76-756", None, false, 1000.0, 0.5, 2.5), ("eu-76-756", None, false, 1000.1, 1.0, 3.0),
            ("eu-76-756", Some("steeper"), true, 799.9, 1.0, 1.5), ("eu-76-756", Some("steeper"), true, 800.0, 1.5, 2.0),
            ("eu-76-756", Some("steeper"), false, 1000.0, 1.0, 3.0), ("eu-76-756", Some("steeper"), false, 799.9, 0.5, 2.5),
            // DVSA, "Matters of Testing", 24 March 2016.
            ("gb-inspection", None, true, 850.0, 0.5, 2.75), ("gb-inspection", None, true, 850.1, 1.25, 2.75),
            // 53.2 mm +- 50.5 mm at 7.62 m; 0 +- 50.5 mm at 7.62 m.
            ("us-vol", None, true, 650.0, 100.0 * 2.7 / 7620.0, 100.0 * 103.7 / 7620.0),
            ("us-vor", None, true, 650.0, -100.0 * 50.5 / 7620.0, 100.0 * 50.5 / 7620.0),
            // The job's own stamped value: 1.2 % - 0.2 + 0.3.
            ("lamp-mark", None, true, 650.0, 1.0, 1.5), ("lamp-mark", None, false, 650.0, 0.5, 2.5),
        ];
        let mut seen: Vec<&str> = rows.iter().map(|row| row.0).collect();
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen, table_names(), "every shipped table has rows here");
        for (name, choice, setting, height_mm, low_percent, high_percent) in rows {
            let band = shipped(name).band(setting, height_mm, choice).unwrap();
            assert!(
                (band.low_percent - low_percent).abs() < 1e-9 && (band.high_percent - high_percent).abs() < 1e-9,
                "{name} {choice:?} setting {setting} at {height_mm} mm: {band:?}"
            );
        }
    }

    #[test]
    fn what_an_inspection_does_not_judge_has_no_band() {
        for name in table_names() {
            let table = shipped(&name);
            // An inspection, and a maker's standard value, are for the lamp as set.
            let judged = !["gb-inspection", "us-vol", "us-vor"].contains(&name.as_str());
            assert_eq!(table.has_range(), judged, "{name}");
            assert_eq!(table.band(false, 650.0, None).is_some(), judged, "{name}");
            let side = match name.as_str() {
                "us-vol" => Some(Side::Left),
                "us-vor" => Some(Side::Right),
                _ => None,
            };
            assert_eq!(table.side, side, "{name}");
        }
        let without_setting =
            "schema = 1\ntitle = \"t\"\nsource = \"s\"\nedition = \"e\"\nread = \"r\"\nconfidence = \"c\"\n";
        let path = Path::new("t.toml");
        let read = |text: &str| ToleranceTable::from_file("t", path, parse_toml(path, text)?, None);
        assert!(
            read(without_setting)
                .unwrap_err()
                .to_string()
                .contains("[[setting]] has no last row")
        );
        let row = "[[setting]]\nlow_percent = 1.0\nhigh_percent = 2.0\n[[range]]\nabove_mm = 5.0\nlow_percent = 1.0\nhigh_percent = 2.0\n";
        let limited = read(&format!("{without_setting}{row}")).unwrap_err().to_string();
        assert!(limited.contains("[[range]] has no last row"), "{limited}");
    }

    /// No technician knows tolerances of a stamp: without them the limits are those of UN R48 at the lamp's height, and any table keeps the mark.
    #[test]
    fn a_mark_without_tolerances_is_held_against_un_r48() {
        let mark = LampMark {
            set_percent: Some(1.2),
            ..LampMark::default()
        };
        let find = |name: &str| ToleranceTable::find(name, Path::new("."), Some(&mark)).unwrap();
        let (of_mark, of_un) = (find("lamp-mark"), find("un-r48"));
        for height_mm in [650.0, 900.0, 1000.0] {
            for setting in [true, false] {
                let band = of_mark.band(setting, height_mm, None);
                assert!(
                    band.is_some() && band == of_un.band(setting, height_mm, None),
                    "{height_mm}"
                );
            }
        }
        assert_eq!([of_mark.marked_percent, of_un.marked_percent], [Some(1.2); 2]);
        // Where the maker may choose, the stamp says what was chosen; a stamp that no row has is not judged by any.
        let of = |set_percent: f64, height_mm: f64| {
            let mark = LampMark {
                set_percent: Some(set_percent),
                ..LampMark::default()
            };
            let table = ToleranceTable::find("lamp-mark", Path::new("."), Some(&mark)).unwrap();
            [true, false].map(|setting| {
                table
                    .band(setting, height_mm, None)
                    .map(|band| [band.low_percent, band.high_percent])
            })
        };
        assert_eq!(of(1.8, 900.0), [Some([1.5, 2.0]), Some([1.0, 3.0])]);
        assert_eq!(of(1.2, 900.0), [Some([1.0, 1.5]), Some([0.5, 2.5])]);
        assert_eq!([of(1.8, 650.0), of(1.2, 1100.0)], [[None; 2]; 2]);
        let without = ToleranceTable::find("lamp-mark", Path::new("."), Some(&LampMark::default()));
        assert!(without.unwrap_err().to_string().contains("set_percent"));
        let with_limits = LampMark {
            range_percent: Some([0.5, 2.5]),
            ..mark
        };
        let not_its = ToleranceTable::find("un-r48", Path::new("."), Some(&with_limits));
        assert!(not_its.unwrap_err().to_string().contains("would not count"));
    }

    #[test]
    fn whether_a_table_goes_by_height_is_told() {
        let by_height = |name: &&String| shipped(name).goes_by_height();
        let names: Vec<String> = table_names().iter().filter(by_height).cloned().collect();
        assert_eq!(names, ["eu-76-756", "gb-inspection", "un-r48"]);
    }

    #[test]
    fn drops_at_twenty_five_feet_are_the_published_angles() {
        // Published vehicle service specifications at 7.62 m: 53.2 mm and 2.1 in are 0.40 deg, 50.5 mm is 0.38 deg,
        // 266.1 mm is 2.0 deg.
        let deg = |drop_mm: f64, distance_mm: f64| (drop_mm / distance_mm).atan().to_degrees();
        assert!((deg(53.2, 7620.0) - 0.40).abs() < 0.005);
        assert!((deg(2.1 * 25.4, 25.0 * 304.8) - 0.40).abs() < 0.005);
        assert!((deg(50.5, 7620.0) - 0.38).abs() < 0.005);
        assert!((deg(266.1, 7620.0) - 2.0).abs() < 0.005);
    }

    #[test]
    fn every_table_says_where_it_comes_from() {
        for name in table_names() {
            let table = shipped(&name);
            for text in [&table.title, &table.source, &table.edition, &table.confidence] {
                assert!(!text.within(Language::English).trim().is_empty(), "{name}");
            }
            assert!(!table.read.is_empty(), "{name}");
        }
    }

    #[test]
    fn mistakes_are_named() {
        let find = |name: &str| {
            ToleranceTable::find(name, Path::new("."), None)
                .unwrap_err()
                .to_string()
        };
        assert!(find("un-r49").contains("un-r48"));
        assert!(find("lamp-mark").contains("[lamp_mark]"));
        let r48 = shipped("un-r48");
        assert!(
            r48.check_choice(Some("flatter"), Path::new("job.toml"))
                .unwrap_err()
                .to_string()
                .contains("steeper")
        );
        assert!(r48.check_choice(Some("steeper"), Path::new("job.toml")).is_ok());
    }
}
