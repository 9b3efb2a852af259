//! The bay: a wall with its marks, set up once and used for many cars.

use super::kind::FileKind;
use super::{Job, Lamp, check_range, check_schema, parse_toml, read_text};
use crate::error::Error;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// What the heights of marks and lamps are measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum HeightsFrom {
    /// Both from the floor where they stand; the floor runs on to the wall in one plane.
    Floor,
    /// Both from one level line (laser or water level); the standing area's grade then adds to the drop.
    LevelLine,
}

super::display_as_written! {
    HeightsFrom { Floor => "floor", LevelLine => "level-line" }
}

/// A bay file. Wall frame: x to the right as seen facing the wall, from the bay's centre line; y upward; mm.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Bay {
    /// Version of the file format.
    pub schema: u32,
    /// What the bay is called.
    pub name: String,
    /// What heights are measured from.
    pub heights_from: HeightsFrom,
    /// Rise of the standing area towards the wall, per cent (+ = the car stands nose-up); level-line only.
    #[serde(default)]
    pub grade_percent: f64,
    /// One standard deviation of the grade (level line) or of the floor's flatness (floor), per cent.
    #[serde(default)]
    pub grade_sd_percent: f64,
    /// The marks on the wall.
    pub marks: Marks,
}

/// The printed marks of a bay.
#[derive(Debug, Clone, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Marks {
    /// The tag family; only `tag36h11` is known.
    pub family: String,
    /// Outer edge of the black border, mm.
    pub size_mm: f64,
    /// How well each sheet's centre was taped: one standard deviation in x and in y, mm.
    #[serde(default = "default_position_sd_mm")]
    pub position_sd_mm: f64,
    /// The sheets; may be empty in a file being written, but then no photo can be read.
    #[serde(default)]
    pub sheet: Vec<Sheet>,
}

/// One sheet: a tag's number and the place of its centre on the wall.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// The tag's number in the family.
    pub id: u32,
    /// The tag's centre, mm to the right of the bay's centre line.
    pub x_mm: f64,
    /// The tag's centre, mm above the height reference.
    pub y_mm: f64,
}

impl Marks {
    /// Standard deviation of a sheet's place where a file gives none, mm: what a tape measure and a steady hand reach
    /// (common practice, no source).
    pub const POSITION_SD_MM: f64 = 1.5;
}

fn default_position_sd_mm() -> f64 {
    Marks::POSITION_SD_MM
}

impl Bay {
    /// With sheets at these places, taped this well: number, x and y, mm.
    #[cfg(test)]
    pub(crate) fn taped(places: &[(u32, f64, f64)], position_sd_mm: f64) -> Self {
        Self {
            schema: 1,
            name: "test".to_owned(),
            heights_from: HeightsFrom::Floor,
            grade_percent: 0.0,
            grade_sd_percent: 0.0,
            marks: Marks {
                family: "tag36h11".to_owned(),
                size_mm: 160.0,
                position_sd_mm,
                sheet: places
                    .iter()
                    .map(|&(id, x_mm, y_mm)| Sheet { id, x_mm, y_mm })
                    .collect(),
            },
        }
    }

    /// Reads and checks a bay file.
    ///
    /// # Errors
    /// [`Error`] for a file that cannot be read, an unknown or missing key, or a value that cannot be.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let text = read_text(path)?;
        let bay: Self = parse_toml(path, &text).map_err(|e| FileKind::Bay.wanted(path, &text, e))?;
        bay.check(path)?;
        Ok(bay)
    }

    /// Checks what the types cannot.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub(crate) fn check(&self, path: &Path) -> Result<(), Error> {
        check_schema(path, self.schema)?;
        check_range(path, "grade_percent", self.grade_percent, -20.0, 20.0)?;
        check_range(path, "grade_sd_percent", self.grade_sd_percent, 0.0, 5.0)?;
        if self.heights_from == HeightsFrom::Floor && self.grade_percent != 0.0 {
            return Err(Error::in_file(
                path,
                "grade_percent is used with heights_from = \"level-line\" only: with \"floor\" the grade is already in \
                 the heights. Set it to 0, or measure from a level line",
            ));
        }
        if self.marks.family != "tag36h11" {
            return Err(Error::in_file(
                path,
                format!(
                    "marks.family = \"{}\" is not known; print sheets with `beamfall marks` (tag36h11)",
                    self.marks.family
                ),
            ));
        }
        check_range(path, "marks.size_mm", self.marks.size_mm, 20.0, 1000.0)?;
        check_range(path, "marks.position_sd_mm", self.marks.position_sd_mm, 0.0, 100.0)?;
        for (n, sheet) in self.marks.sheet.iter().enumerate() {
            check_range(
                path,
                &format!("x_mm of sheet {}", sheet.id),
                sheet.x_mm,
                -50_000.0,
                50_000.0,
            )?;
            check_range(
                path,
                &format!("y_mm of sheet {}", sheet.id),
                sheet.y_mm,
                -50_000.0,
                50_000.0,
            )?;
            if sheet.id >= TAG36H11_COUNT {
                return Err(Error::in_file(
                    path,
                    format!(
                        "sheet id = {} does not exist; tag36h11 has 0 to {}",
                        sheet.id,
                        TAG36H11_COUNT - 1
                    ),
                ));
            }
            if self.marks.sheet[..n].iter().any(|s| s.id == sheet.id) {
                return Err(Error::in_file(
                    path,
                    format!("sheet id = {} is listed twice; each sheet has its own number", sheet.id),
                ));
            }
        }
        Ok(())
    }
}

/// The bays of a job: its own, and those of lamps whose entry names another.
#[derive(Debug, Clone)]
pub struct Bays {
    own: Bay,
    /// Each with its path, as the job names it.
    others: Vec<(PathBuf, Bay)>,
}

impl Bays {
    /// A job's own bay, where no lamp has another.
    #[must_use]
    pub fn of_job(own: Bay) -> Self {
        Self {
            own,
            others: Vec::new(),
        }
    }

    /// Reads the job's bay, and those of its lamps; paths are relative to `folder`, and `path` is the job's in messages.
    ///
    /// # Errors
    /// As [`Bay::read`], with who names the file.
    pub fn read(job: &Job, path: &Path, folder: &Path) -> Result<Self, Error> {
        let read = |bay: &Path, who: String| Bay::read(&folder.join(bay)).map_err(|e| e.within(who));
        let own = read(&job.bay, format!("the bay that {} names", path.display()))?;
        let mut others: Vec<(PathBuf, Bay)> = Vec::new();
        for lamp in &job.lamp {
            let Some(bay) = lamp.bay.as_ref().filter(|bay| **bay != job.bay) else {
                continue;
            };
            if !others.iter().any(|(other, _)| other == bay) {
                let who = format!("the bay that {} names for the {} lamp", path.display(), lamp.side);
                others.push((bay.clone(), read(bay, who)?));
            }
        }
        Ok(Self { own, others })
    }

    /// The job's own bay.
    #[must_use]
    pub fn own(&self) -> &Bay {
        &self.own
    }

    /// The number of a lamp's bay in [`Self::all`].
    pub(crate) fn number_of(&self, lamp: &Lamp) -> usize {
        let named = |path: &PathBuf| self.others.iter().position(|(other, _)| other == path);
        lamp.bay.as_ref().and_then(named).map_or(0, |n| n + 1)
    }

    /// The bay that a lamp's photos show.
    #[must_use]
    pub fn of(&self, lamp: &Lamp) -> &Bay {
        self.all().nth(self.number_of(lamp)).unwrap_or(&self.own)
    }

    /// The job's own bay, then the others in the order in which the job first names them.
    pub fn all(&self) -> impl Iterator<Item = &Bay> {
        std::iter::once(&self.own).chain(self.others.iter().map(|(_, bay)| bay))
    }

    /// Whether the job's photos show more than one wall.
    #[must_use]
    pub fn are_several(&self) -> bool {
        !self.others.is_empty()
    }
}

/// Whether places on the wall, mm, all lie so near one line that they say little of where a camera stands: their spread across it,
/// one standard deviation, is less than 50 mm (common practice, no source).
pub(crate) fn cramped_on_a_line(places: &[[f64; 2]]) -> bool {
    const LEAST_SPREAD_MM: f64 = 50.0;
    let count = places.len().max(1) as f64;
    let mean = [0, 1].map(|axis| places.iter().map(|place| place[axis]).sum::<f64>() / count);
    let moment = |a: usize, b: usize| {
        let products = places.iter().map(|place| (place[a] - mean[a]) * (place[b] - mean[b]));
        products.sum::<f64>() / count
    };
    let (xx, xy, yy) = (moment(0, 0), moment(0, 1), moment(1, 1));
    let across = (xx + yy) / 2.0 - ((xx - yy) / 2.0).hypot(xy);
    across < LEAST_SPREAD_MM * LEAST_SPREAD_MM
}

/// Number of tags in the 36h11 family (AprilTag 3 reference tables).
const TAG36H11_COUNT: u32 = 587;

#[cfg(test)]
mod tests {
    use super::*;

    /// Six as the sample hangs, and the same pushed together in height: by hand, a spread of 40 mm.
    #[test]
    fn places_on_a_line_are_told() {
        let hung = |high_mm: f64| {
            [
                [-1500.0, 210.0],
                [-600.0, 210.0],
                [550.0, 210.0],
                [1450.0, 210.0],
                [-1500.0, high_mm],
                [540.0, high_mm],
            ]
        };
        assert!(!cramped_on_a_line(&hung(1120.0)));
        assert!(cramped_on_a_line(&hung(210.0 + 84.0)));
        assert!(cramped_on_a_line(&[
            [0.0, 0.0],
            [100.0, 100.0],
            [700.0, 700.0],
            [900.0, 900.0]
        ]));
    }

    const GOOD: &str = "schema = 1\nname = \"w\"\nheights_from = \"floor\"\n[marks]\nfamily = \"tag36h11\"\nsize_mm = 160.0\n\
                        [[marks.sheet]]\nid = 1\nx_mm = -800.0\ny_mm = 210.0\n";

    fn parse(text: &str) -> Result<Bay, Error> {
        let path = Path::new("bay.toml");
        let bay: Bay = parse_toml(path, text)?;
        bay.check(path).map(|()| bay)
    }

    #[test]
    fn a_good_bay_reads() {
        let bay = parse(GOOD).unwrap();
        assert_eq!(
            bay.marks.sheet,
            [Sheet {
                id: 1,
                x_mm: -800.0,
                y_mm: 210.0
            }]
        );
        assert_eq!(bay.heights_from, HeightsFrom::Floor);
    }

    #[test]
    fn an_unknown_key_is_named_with_its_line() {
        let message = parse(&GOOD.replace("size_mm", "size_in")).unwrap_err().to_string();
        assert!(message.contains("size_in") && message.contains("line 6"), "{message}");
    }

    #[test]
    fn values_that_cannot_be_are_errors() {
        for (from, to, part) in [
            ("schema = 1", "schema = 2", "schema = 2"),
            ("160.0", "-160.0", "size_mm"),
            ("id = 1", "id = 587", "587"),
            ("tag36h11", "tag25h9", "tag25h9"),
            ("\"floor\"", "\"floor\"\ngrade_percent = 1.0", "level-line"),
        ] {
            let message = parse(&GOOD.replacen(from, to, 1)).unwrap_err().to_string();
            assert!(message.contains(part), "{to}: {message}");
        }
    }
}
