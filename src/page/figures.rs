//! Figures of the wall and of the lamps that were entered before, to be changed: by the questions that asked for them.

use super::undo;
use crate::digest;
use crate::error::Error;
use crate::language::{Language, Said, said};
use crate::questions::{
    Answers, Kind, Question, check, doubt_of_distances, doubt_of_heights, doubt_of_lamp_heights, doubt_of_lamp_places,
    in_words, of_bay, of_job, of_sheet, taken_for,
};
use crate::record::{Bay, HeightsFrom, Job, Kept, NewFigure, Side, Stage, parse_toml, read_text, set_figures};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A figure that stands in a file.
pub(super) struct Field {
    /// What the form calls it: unlike the question's key, also where a lamp has an entry for each stage.
    pub id: String,
    pub question: Question,
    /// What stands there now, as it is typed; empty: nothing.
    pub shown: String,
    place: NewFigure,
}

/// All figures of a file that can be changed.
pub(super) struct Figures {
    pub file: PathBuf,
    /// By headings.
    pub groups: Vec<(Said, Vec<Field>)>,
    /// Digest of the file that they were read from.
    pub was: String,
    kind: Kept,
    text: String,
    /// What is known beside them, as the answers to questions.
    known: Answers,
}

/// The figures of a wall's file.
///
/// # Errors
/// As [`Bay::read`].
pub(super) fn of_wall(language: Language, file: &Path) -> Result<Figures, Error> {
    let text = read_text(file)?;
    let bay: Bay = parse_toml(file, &text)?;
    bay.check(file)?;
    let marks = &bay.marks;
    let mut known = Answers::new();
    known.insert("bay.heights_from".to_owned(), bay.heights_from.to_string());
    known.insert("bay.sheets".to_owned(), marks.sheet.len().to_string());
    let of_all = of_bay(language).into_iter().filter_map(|question| {
        let (table, value) = match question.key.as_str() {
            "bay.grade_percent" if bay.heights_from == HeightsFrom::LevelLine => ("", bay.grade_percent),
            "bay.grade_sd_percent" => ("", bay.grade_sd_percent),
            "bay.size_mm" => ("[marks]", marks.size_mm),
            "bay.position_sd_mm" => ("[marks]", marks.position_sd_mm),
            _ => return None,
        };
        Field::of(question.key.clone(), question, table, 0, Some(value))
    });
    let mut groups = vec![(
        Said::of(|language| language.pick("The wall", "Die Wand").to_owned()),
        of_all.collect(),
    )];
    for (n, sheet) in marks.sheet.iter().enumerate() {
        let number = u32::try_from(n + 1).unwrap_or(u32::MAX);
        known.insert(format!("sheet{number}.id"), sheet.id.to_string());
        let fields = of_sheet(language, number).into_iter().filter_map(|question| {
            let value = match question.key.rsplit('.').next()? {
                "x_mm" => sheet.x_mm,
                "y_mm" => sheet.y_mm,
                _ => return None,
            };
            Field::of(question.key.clone(), question, "[[marks.sheet]]", n, Some(value))
        });
        let id = sheet.id;
        let about = Said::of(|language| said!(language; "Sheet {id}", "Messblatt {id}"));
        groups.push((about, fields.collect()));
    }
    Ok(Figures {
        file: file.to_owned(),
        groups,
        was: digest::of(text.as_bytes()),
        kind: Kept::Bay,
        text,
        known,
    })
}

/// The figures of a job's lamps; `folder` is the job's.
///
/// # Errors
/// As [`Job::read`] and [`Bay::read`].
pub(super) fn of_lamps(language: Language, file: &Path, folder: &Path) -> Result<Figures, Error> {
    let text = read_text(file)?;
    let job: Job = parse_toml(file, &text)?;
    job.check(file)?;
    let bay = Bay::read(&folder.join(&job.bay))?;
    let mut known = Answers::new();
    known.insert("bay.heights_from".to_owned(), bay.heights_from.to_string());
    let questions = of_job(language);
    let mut groups = Vec::new();
    for (n, lamp) in job.lamp.iter().enumerate() {
        let of_side = format!("{}.", lamp.side);
        let asked = questions.iter().filter(|question| question.key.starts_with(&of_side));
        let fields = asked.filter_map(|question| {
            let key = question.key.rsplit('.').next()?;
            let value = match key {
                "centre_height_mm" => Some(lamp.centre_height_mm),
                "centre_height_sd_mm" => Some(lamp.centre_height_sd_mm),
                "centre_x_mm" => Some(lamp.centre_x_mm),
                "distance_mm" => Some(lamp.distance_mm),
                "distance_sd_mm" => Some(lamp.distance_sd_mm),
                "face_height_mm" => lamp.face_height_mm,
                "mounting_height_mm" if bay.heights_from == HeightsFrom::LevelLine => lamp.mounting_height_mm,
                _ => return None,
            };
            Field::of(format!("lamp{n}.{key}"), question.clone(), "[[lamp]]", n, value)
        });
        let other = lamp.bay.as_ref().filter(|other| **other != job.bay);
        let other = other
            .map(|other| Bay::read(&folder.join(other)).map_or_else(|_| other.display().to_string(), |bay| bay.name));
        let about = Said::of(|language| {
            let (side, stem) = (lamp.side, lamp.side.stem());
            let lit = said!(language; "The {side} lamp", "Der {stem}e Scheinwerfer");
            let lit = match lamp.stage {
                Some(Stage::Before) => said!(language; "{lit}, before the repair", "{lit}, vor der Reparatur"),
                Some(Stage::After) => said!(language; "{lit}, after the repair", "{lit}, nach der Reparatur"),
                None => lit,
            };
            match &other {
                Some(wall) => said!(language; "{lit}, before the wall {wall}", "{lit}, vor der Wand {wall}"),
                None => lit,
            }
        });
        groups.push((about, fields.collect()));
    }
    Ok(Figures {
        file: file.to_owned(),
        groups,
        was: digest::of(text.as_bytes()),
        kind: Kept::Job,
        text,
        known,
    })
}

impl Field {
    fn of(id: String, question: Question, table: &'static str, n: usize, value: Option<f64>) -> Option<Self> {
        let name = match question.kind {
            Kind::Millimetres(name, ..) | Kind::PerCent(name, ..) => name,
            _ => return None,
        };
        // The question may name the table, too, as in `marks.size_mm`.
        let key = name.rsplit('.').next()?;
        Some(Self {
            id,
            question,
            shown: value.map(|value| value.to_string()).unwrap_or_default(),
            place: NewFigure { table, n, key, value },
        })
    }
}

/// What was typed into a form of figures.
struct Looked {
    faults: BTreeMap<String, String>,
    /// All that is answered, by the keys of the questions.
    known: Answers,
    /// Those that are others than before, and the same in words.
    figures: Vec<NewFigure>,
    said: Vec<Said>,
}

impl Figures {
    /// What was typed otherwise than it stands, and by field what is wrong with it.
    fn looked(&self, language: Language, typed: &Answers) -> Looked {
        let (mut known, mut faults) = (self.known.clone(), BTreeMap::new());
        let (mut figures, mut said) = (Vec::new(), Vec::new());
        for (about, fields) in &self.groups {
            for field in fields {
                let given = typed.get(&field.id).map_or("", String::as_str);
                // What counts where nothing is written in a new file is no reason to leave out what stands in this one.
                let question = Question {
                    usual: field.question.usual.as_ref().filter(|usual| usual.is_empty()).cloned(),
                    ..field.question.clone()
                };
                // What stands in the file is a figure in mm, however many places it has.
                let is_as_it_stands = !field.shown.is_empty() && given.replace(',', ".") == field.shown;
                let in_mm = is_as_it_stands && matches!(question.kind, Kind::Millimetres(..));
                let checked = if in_mm { format!("{given} mm") } else { given.to_owned() };
                match check(language, &question, &checked, &known) {
                    Err(fault) => {
                        // A file may call a field otherwise than its question: that of the same group is meant.
                        let at = fault.of.and_then(|of| fields.iter().find(|one| one.question.key == of));
                        let at = at.map_or(&field.id, |one| &one.id);
                        faults.entry(at.clone()).or_insert(fault.why);
                    }
                    Ok(answer) => {
                        let value: Option<f64> = answer.parse().ok();
                        if value != field.place.value {
                            figures.push(NewFigure {
                                value,
                                ..field.place.clone()
                            });
                            said.push(Said::of(|language| {
                                let about = about.within(language);
                                let what = in_words(language, field.place.key);
                                let (was, is) = (&field.shown, given.trim());
                                let (was, is) = (or_nothing(language, was), or_nothing(language, is));
                                said!(language; "{about}: {what}, {is} instead of {was}", "{about}: {what}, {is} statt {was}")
                            }));
                        }
                        known.insert(field.question.key.clone(), answer);
                    }
                }
            }
        }
        Looked {
            faults,
            known,
            figures,
            said,
        }
    }

    /// By field what is wrong with what is typed so far.
    pub fn faults(&self, language: Language, typed: &Answers) -> BTreeMap<String, String> {
        self.looked(language, typed).faults
    }

    /// By field what a length with a unit of its own was taken for.
    pub fn taken(&self, language: Language, typed: &Answers) -> BTreeMap<String, String> {
        let fields = self.groups.iter().flat_map(|(_, fields)| fields);
        let taken = |field: &Field| {
            Some((
                field.id.clone(),
                taken_for(language, &field.question, typed.get(&field.id)?)?,
            ))
        };
        fields.filter_map(taken).collect()
    }

    /// What is possible of the sheets or the lamps as they were typed, and hardly so, of the lamps in each stage.
    pub fn doubt(&self, language: Language, typed: &Answers) -> Option<String> {
        if self.kind == Kept::Bay {
            return doubt_of_heights(language, &self.looked(language, typed).known);
        }
        let job: Job = parse_toml(&self.file, &self.text)
            .ok()
            .filter(|_| self.kind == Kept::Job)?;
        let known = &self.known;
        let fields = self.groups.iter().flat_map(|(_, fields)| fields);
        let figure = |n: usize, key: &str| {
            let id = format!("lamp{n}.{key}");
            let field = fields.clone().find(|field| field.id == id)?;
            let given = typed.get(&id)?;
            let is_as_it_stands = given.replace(',', ".") == field.shown;
            let given = if is_as_it_stands {
                format!("{given} mm")
            } else {
                given.clone()
            };
            check(language, &field.question, &given, known)
                .ok()?
                .parse::<f64>()
                .ok()
        };
        let of = |side: Side, stage: Option<Stage>| {
            let own = job
                .lamp
                .iter()
                .position(|lamp| lamp.side == side && lamp.stage == stage);
            own.or_else(|| {
                job.lamp
                    .iter()
                    .position(|lamp| lamp.side == side && lamp.stage.is_none())
            })
        };
        [None, Some(Stage::Before), Some(Stage::After)]
            .into_iter()
            .find_map(|stage| {
                let (left, right) = (of(Side::Left, stage)?, of(Side::Right, stage)?);
                let both = |key: &str| figure(left, key).zip(figure(right, key));
                let distances = both("distance_mm").and_then(|(left, right)| doubt_of_distances(language, left, right));
                let heights =
                    both("centre_height_mm").and_then(|(left, right)| doubt_of_lamp_heights(language, left, right));
                let places = both("centre_x_mm").and_then(|(left, right)| doubt_of_lamp_places(language, left, right));
                let all: Vec<String> = distances.into_iter().chain(heights).chain(places).collect();
                (!all.is_empty()).then(|| all.join("\n"))
            })
    }

    /// Changes what was typed otherwise than it stands; gives by field what is wrong with what was typed, and then nothing is changed.
    ///
    /// # Errors
    /// [`Error`] where the file is not the one that was shown, nothing was changed, or as [`set_figures`].
    pub fn change(self, language: Language, typed: &Answers) -> Result<BTreeMap<String, String>, Error> {
        if typed.get("was") != Some(&self.was) {
            return Err(changed_since(&self.file));
        }
        let Looked {
            faults, figures, said, ..
        } = self.looked(language, typed);
        if !faults.is_empty() {
            return Ok(faults);
        }
        if figures.is_empty() {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "no figure is another than before; nothing is written",
                    "keine Zahl ist eine andere als vorher; nichts wird geschrieben"
                )
            }));
        }
        let changed = set_figures(&self.file, &self.text, self.kind, &figures);
        let what = |language| {
            let all: Vec<&str> = said.iter().map(|one| one.within(language)).collect();
            said!(language; "changed {}", "geändert: {}"; all.join("; "))
        };
        undo::change(&self.file, self.kind, what, changed)?;
        Ok(faults)
    }
}

/// What is said where a file is not the one that a form showed.
pub(super) fn changed_since(file: &Path) -> Error {
    Error::said(|language| {
        said!(
            language;
            "{}: was changed by another program, or on another phone, since this form was shown; nothing is written: load the page \
             again and look",
            "{}: wurde von einem anderen Programm oder auf einem anderen Telefon geändert, seit dieses Formular gezeigt wurde; nichts \
             wird geschrieben: die Seite neu laden und nachsehen";
            file.display()
        )
    })
}

fn or_nothing(language: Language, typed: &str) -> String {
    if typed.is_empty() {
        language.pick("nothing", "nichts").to_owned()
    } else {
        language.figure(typed)
    }
}
