//! Changes to a job file that its writer need not make by hand. What is not changed stays byte for byte, comments and all: only text is
//! put in or cut out, and the new text must read as exactly the job that was meant, or nothing is written.

use super::{Bay, Job, Lamp, ParseVacuumError, RepairEntry, Shot, Side, Stage, Trial, parse_toml, read_text};
use crate::error::Error;
use crate::whole_file;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use toml::de::DeTable;

/// Entries of a job that come and go one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Entries {
    /// `[[shot]]`
    Shot,
    /// `[[trial]]`
    Trial,
    /// `[[repair]]`
    Repair,
}

impl Entries {
    const fn header(self) -> &'static str {
        match self {
            Self::Shot => "[[shot]]",
            Self::Trial => "[[trial]]",
            Self::Repair => "[[repair]]",
        }
    }

    /// Drops one of them, counted from 0, where there is one.
    fn drop_from(self, job: &mut Job, n: usize) {
        fn drop_one<T>(all: &mut Vec<T>, n: usize) {
            if n < all.len() {
                all.remove(n);
            }
        }
        match self {
            Self::Shot => drop_one(&mut job.shot, n),
            Self::Trial => drop_one(&mut job.trial, n),
            Self::Repair => drop_one(&mut job.repair, n),
        }
    }
}

/// A file's text before and after it was changed, so that the change can be taken back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// As it was.
    pub before: String,
    /// As it was written.
    pub after: String,
}

/// A TOML string.
pub(crate) fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A `[[trial]]` entry, a blank line before it.
///
/// # Errors
/// [`Error`] for what TOML cannot hold, such as a path that is no text.
pub fn trial_entry(trial: &Trial) -> Result<String, Error> {
    entry(Entries::Trial, trial)
}

/// A `[[repair]]` entry, a blank line before it.
///
/// # Errors
/// As [`trial_entry`].
pub fn repair_entry(repair: &RepairEntry) -> Result<String, Error> {
    entry(Entries::Repair, repair)
}

fn entry(kind: Entries, value: &impl Serialize) -> Result<String, Error> {
    let keys = toml::to_string(value).map_err(|e| Error::make("the entry for the job file", e))?;
    Ok(format!("\n{}\n{keys}", kind.header()))
}

/// Adds entries behind the job file's text.
///
/// # Errors
/// [`Error`] where the file changed since `before` was read, may not be written, or would no longer read as the same job with
/// just more entries.
pub fn append(path: &Path, before: &str, added: &str) -> Result<Changed, Error> {
    replace(path, before, &extended(path, before, added)?)
}

/// Names the job's system, where it names none: a line above the first table.
///
/// # Errors
/// As [`append`], and where the job names one already.
pub fn name_system(path: &Path, before: &str, system: &str) -> Result<Changed, Error> {
    let mut expected: Job = parse_toml(path, before)?;
    if let Some(known) = &expected.system {
        return Err(Error::in_file(
            path,
            format!("names the system {known} already; change it there by hand"),
        ));
    }
    expected.system = Some(system.to_owned());
    let at = before
        .split_inclusive('\n')
        .take_while(|line| !line.trim_start().starts_with('['))
        .map(str::len)
        .sum();
    let (head, tables) = before.split_at(at);
    // What is written right above the first table belongs to that.
    let keys = head.trim_end_matches(['\r', '\n', ' ']).len();
    let (keys, gap) = head.split_at(keys);
    let end = end_of(before);
    let after = format!("{keys}{end}system = {}{gap}{tables}", quoted(system));
    let by_hand = format!("system = {}", quoted(system));
    replace_with(path, before, &after, &expected, &by_hand)
}

/// Gives the job file's entries of `photos` the photo with the lamp off: a line in each, behind that of its photo.
///
/// # Errors
/// As [`append`], and where an entry is written in another way, so that it has to be done by hand.
pub fn give_lamp_off(path: &Path, before: &str, photos: &[PathBuf], lamp_off: &str) -> Result<Changed, Error> {
    let mut after = String::with_capacity(before.len() + 80 * photos.len());
    let mut in_shot = false;
    let end = end_of(before);
    for line in before.split_inclusive('\n') {
        after.push_str(line);
        if line.trim_start().starts_with('[') {
            in_shot = line.trim_start().starts_with(Entries::Shot.header());
        }
        let named: Option<OfPhoto> = in_shot.then(|| toml::from_str(line).ok()).flatten();
        if named.is_some_and(|of| photos.contains(&of.photo)) {
            if !line.ends_with('\n') {
                after.push_str(end);
            }
            after.push_str(&format!("lamp_off = {}{end}", quoted(lamp_off)));
        }
    }
    let mut expected: Job = parse_toml(path, before)?;
    let of_view = expected.shot.iter_mut().filter(|shot| photos.contains(&shot.photo));
    of_view.for_each(|shot| shot.lamp_off = Some(PathBuf::from(lamp_off)));
    let by_hand = format!("lamp_off = {} in the shots of this view", quoted(lamp_off));
    replace_with(path, before, &after, &expected, &by_hand)
}

/// The line of an entry that names its photo.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OfPhoto {
    photo: PathBuf,
}

/// Takes one entry, counted from 0, out of the job file again. `is_meant` is asked about the job as it stands, so that an
/// entry that another program put in its place is not taken for it. Photos stay where they are.
///
/// # Errors
/// As [`append`], and where another entry stands there, or it is written in another way.
pub fn take_out(path: &Path, kind: Entries, n: usize, is_meant: impl Fn(&Job) -> bool) -> Result<Changed, Error> {
    let before = read_text(path)?;
    let job: Job = parse_toml(path, &before)?;
    if !is_meant(&job) {
        return Err(Error::in_file(
            path,
            "holds another entry there by now; load the page again",
        ));
    }
    let mut expected = job;
    kind.drop_from(&mut expected, n);
    let after = without(&before, kind, n).unwrap_or_default();
    replace_with(path, &before, &after, &expected, "out what is to go")
}

/// Adds a `[[repair]]` entry and takes out the shots, counted from 0, that show the car before it: one change, or none. Photos stay where they are.
///
/// # Errors
/// As [`append`], and where a shot is written in another way.
pub fn append_repair(path: &Path, before: &str, repair: &str, outdated: &[usize]) -> Result<Changed, Error> {
    let mut expected: Job = parse_toml(path, before)?;
    let mut kept = before.to_owned();
    let mut from_last = outdated.to_vec();
    from_last.sort_unstable();
    from_last.dedup();
    for n in from_last.into_iter().rev() {
        Entries::Shot.drop_from(&mut expected, n);
        kept = without(&kept, Entries::Shot, n).unwrap_or_default();
    }
    let is_as_meant = parse_toml::<Job>(path, &kept).is_ok_and(|job| content(&job) == content(&expected));
    if !is_as_meant {
        return Err(Error::in_file(
            path,
            "is written in a way in which its shots cannot be taken out from here; take them out by hand; nothing is written",
        ));
    }
    replace(path, before, &extended(path, &kept, repair)?)
}

/// The text without one entry: its lines to the last key, comments right below that, and one blank line above.
fn without(text: &str, kind: Entries, n: usize) -> Option<String> {
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let is_table = |line: &&str| line.trim_start().starts_with('[');
    let from = (0..lines.len())
        .filter(|&at| lines[at].trim_start().starts_with(kind.header()))
        .nth(n)?;
    let next = (from + 1..lines.len()).find(|&at| is_table(&lines[at]));
    let body = &lines[from + 1..next.unwrap_or(lines.len())];
    let is_key = |line: &&str| !line.trim().is_empty() && !line.trim_start().starts_with('#');
    let keys = body.iter().rposition(is_key).map_or(0, |last| last + 1);
    let below = body[keys..].iter().take_while(|line| !line.trim().is_empty()).count();
    let above = from.checked_sub(1).is_some_and(|above| lines[above].trim().is_empty());
    let kept = lines[..from - usize::from(above)]
        .iter()
        .chain(&lines[from + 1 + keys + below..]);
    Some(kept.copied().collect())
}

/// Which file it is that figures are changed in: what it must still read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// A job file.
    Job,
    /// A bay file.
    Bay,
}

impl Kept {
    fn check(self, path: &Path, text: &str) -> Result<(), Error> {
        match self {
            Self::Job => parse_toml::<Job>(path, text)?.check(path),
            Self::Bay => parse_toml::<Bay>(path, text)?.check(path),
        }
    }
}

/// A figure that is to stand in a table of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct NewFigure {
    /// The table: `""` for the keys above all tables, `"[marks]"`, `"[[lamp]]"`.
    pub table: &'static str,
    /// Which of the tables of this name, counted from 0.
    pub n: usize,
    /// The key.
    pub key: &'static str,
    /// `None` takes the key away.
    pub value: Option<f64>,
}

/// Changes figures of a file, each in its own place; the rest stays byte for byte, a comment behind the figure too.
///
/// # Errors
/// As [`append`]; also where a figure cannot be, or stands in another way than `key = 1.0` on a line of its own.
pub fn set_figures(path: &Path, before: &str, kind: Kept, figures: &[NewFigure]) -> Result<Changed, Error> {
    let by_hand = |figure: &NewFigure| {
        Error::in_file(
            path,
            format!(
                "is written in a way in which {} cannot be changed from here; change it by hand; nothing is written",
                figure.key
            ),
        )
    };
    let mut after = before.to_owned();
    for figure in figures {
        let changed = with_figure(&after, figure).ok_or_else(|| by_hand(figure))?;
        // Held against the same change made in what the text says, so that no other key was hit.
        let mut expected: toml::Table = parse_toml(path, &after)?;
        set_value(&mut expected, figure).ok_or_else(|| by_hand(figure))?;
        let read: toml::Table = parse_toml(path, &changed).map_err(|_| by_hand(figure))?;
        if read != expected {
            return Err(by_hand(figure));
        }
        after = changed;
    }
    kind.check(path, &after)?;
    replace(path, before, &after)
}

/// What is to stand behind a key of a job's file that comes once.
#[derive(Debug, Clone, PartialEq)]
pub struct NewValue {
    /// The table: `""` for the keys above all tables, `"[vehicle]"`; where it is not there, it is put behind all else.
    pub table: &'static str,
    /// The key.
    pub key: &'static str,
    /// `None` takes the key away.
    pub value: Option<toml::Value>,
}

/// Changes what stands behind keys of a job's file, each in its own place; the rest stays byte for byte.
///
/// # Errors
/// As [`append`]; also where a value cannot be, or stands in another way than behind its key on a line of its own.
pub fn set_values(path: &Path, before: &str, values: &[NewValue]) -> Result<Changed, Error> {
    let by_hand = |one: &NewValue| {
        Error::in_file(
            path,
            format!(
                "is written in a way in which {} cannot be changed from here; change it by hand; nothing is written",
                one.key
            ),
        )
    };
    let mut after = before.to_owned();
    for one in values {
        let mut expected: toml::Table = parse_toml(path, &after)?;
        let name = one.table.trim_matches(['[', ']']);
        let into = if name.is_empty() {
            Some(&mut expected)
        } else {
            let new = toml::Value::Table(toml::Table::new());
            expected.entry(name.to_owned()).or_insert(new).as_table_mut()
        };
        let into = into.ok_or_else(|| by_hand(one))?;
        match &one.value {
            Some(value) => drop(into.insert(one.key.to_owned(), value.clone())),
            None => drop(into.remove(one.key)),
        }
        let changed = with_value(&after, one).ok_or_else(|| by_hand(one))?;
        let read: toml::Table = parse_toml(path, &changed).map_err(|_| by_hand(one))?;
        if read != expected {
            return Err(by_hand(one));
        }
        after = changed;
    }
    Kept::Job.check(path, &after)?;
    replace(path, before, &after)
}

/// The text with one value in its place: in that of the old one, on a new line behind the table's last key, or in a new table at the end.
fn with_value(text: &str, one: &NewValue) -> Option<String> {
    let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
    let end = end_of(text);
    let is_table = |line: &str| line.trim_start().starts_with('[');
    let header = |line: &str| line.split('#').next().unwrap_or_default().trim() == one.table;
    let from = if one.table.is_empty() {
        Some(0)
    } else {
        (0..lines.len()).find(|&at| header(&lines[at])).map(|at| at + 1)
    };
    if let Some(last) = lines.last_mut().filter(|line| !line.ends_with('\n')) {
        last.push_str(end);
    }
    let Some(from) = from else {
        // Also a table that is left empty reads as what is meant.
        lines.push(format!("{end}{}{end}", one.table));
        lines.extend(one.value.as_ref().map(|value| format!("{} = {value}{end}", one.key)));
        return Some(lines.concat());
    };
    let to = (from..lines.len())
        .find(|&at| is_table(&lines[at]))
        .unwrap_or(lines.len());
    let names = |line: &String| line.split_once('=').is_some_and(|(key, _)| key.trim() == one.key);
    match (lines[from..to].iter().position(names), &one.value) {
        (None, None) => {}
        (Some(at), None) => drop(lines.remove(from + at)),
        (Some(at), Some(value)) => {
            let line = lines.get_mut(from + at)?;
            *line = with_value_on(line, &value.to_string())?;
        }
        (None, Some(value)) => {
            let is_key = |line: &String| !line.trim().is_empty() && !line.trim_start().starts_with('#');
            let at = from + lines[from..to].iter().rposition(is_key).map_or(0, |last| last + 1);
            lines.insert(at, format!("{} = {value}{end}", one.key));
        }
    }
    Some(lines.concat())
}

/// A line whose value is another; what stands behind it stays.
fn with_value_on(line: &str, written: &str) -> Option<String> {
    let (name, rest) = line.split_once('=')?;
    let is_whole = |end: usize| {
        rest.get(..end)
            .is_some_and(|part| format!("{name}={part}").parse::<toml::Table>().is_ok())
    };
    // A comment begins at the first sign of one behind which nothing of the value is left.
    let ends = rest.match_indices('#').map(|(at, _)| at).chain([rest.len()]);
    let kept = ends.into_iter().find(|&end| is_whole(end))?;
    let old = rest.get(..kept)?;
    let gap = &old[old.trim_end().len()..];
    let lead = &old[..old.len() - old.trim_start().len()];
    Some(format!("{name}={lead}{written}{gap}{}", rest.get(kept..)?))
}

/// `[[lamp]]` entries of where the car stands after the repair, for the lamps that have none: as far as it is known, they are those from before.
/// `bay`: the wall that it stands before then, as the job lists it, where it is another.
///
/// # Errors
/// As [`trial_entry`], and where each lamp has one already.
pub fn places_after(path: &Path, job: &Job, bay: Option<&Path>) -> Result<String, Error> {
    let has_own = |side: Side| {
        job.lamp
            .iter()
            .any(|lamp| lamp.side == side && lamp.stage == Some(Stage::After))
    };
    let mut entries = String::new();
    for side in [Side::Left, Side::Right].into_iter().filter(|&side| !has_own(side)) {
        let of_side = |lamp: &&Lamp| lamp.side == side;
        let Some(lamp) = job.lamp.iter().rfind(of_side) else {
            continue;
        };
        let after = Lamp {
            stage: Some(Stage::After),
            bay: bay.map(Path::to_owned).or_else(|| lamp.bay.clone()),
            ..lamp.clone()
        };
        let keys = toml::to_string(&after).map_err(|e| Error::make("the entry for the job file", e))?;
        entries.push_str(&format!("\n[[lamp]]\n{keys}"));
    }
    if entries.is_empty() {
        return Err(Error::in_file(
            path,
            "has a place of its own for each lamp after the repair already; change its figures; nothing is written",
        ));
    }
    Ok(entries)
}

/// Adds entries of lamps behind the job file's text.
///
/// # Errors
/// As [`append`].
pub fn append_lamps(path: &Path, before: &str, added: &str) -> Result<Changed, Error> {
    let mut after = before.to_owned();
    let end = end_of(before);
    if !before.is_empty() && !before.ends_with('\n') {
        after.push_str(end);
    }
    after.push_str(&added.replace('\n', end));
    let mut expected: Job = parse_toml(path, before)?;
    let read: Job = parse_toml(path, &after)?;
    let new = read.lamp.get(expected.lamp.len()..).unwrap_or_default();
    expected.lamp.extend(new.iter().cloned());
    replace_with(
        path,
        before,
        &after,
        &expected,
        "the lamps' places after the repair into it",
    )
}

/// Says a job's repair, counted from 0, in other words or of another day; the rest of its entry stays, a comment behind it too. `is_meant` is asked
/// about the repair as it stands.
///
/// # Errors
/// As [`append`], and where another repair stands there, or it is written in another way.
pub fn change_repair(
    path: &Path,
    n: usize,
    is_meant: impl Fn(&RepairEntry) -> bool,
    words: &str,
    date: &str,
) -> Result<Changed, Error> {
    let before = read_text(path)?;
    let mut expected: Job = parse_toml(path, &before)?;
    let Some(repair) = expected.repair.get_mut(n).filter(|repair| is_meant(repair)) else {
        return Err(Error::in_file(
            path,
            "holds another repair there by now; load the page again",
        ));
    };
    words.clone_into(&mut repair.words);
    date.clone_into(&mut repair.date);
    let with_date = with_text(&before, Entries::Repair.header(), n, "date", date);
    let after = with_date.and_then(|text| with_text(&text, Entries::Repair.header(), n, "words", words));
    let by_hand = format!("date = {} and words = {} into its entry", quoted(date), quoted(words));
    replace_with(path, &before, &after.unwrap_or_default(), &expected, &by_hand)
}

/// Says what the gauge showed at the job's shot `n`, counted from 0, under a pump: anew, or where its entry does not say it yet. The rest of the entry
/// stays, a comment behind it too. `is_meant` is asked about the shot as it stands; `showed` has its unit.
///
/// # Errors
/// As [`append`], for what is no vacuum, and where another shot stands there, or it is written in another way.
pub fn change_gauge(path: &Path, n: usize, is_meant: impl Fn(&Shot) -> bool, showed: &str) -> Result<Changed, Error> {
    let before = read_text(path)?;
    let mut expected: Job = parse_toml(path, &before)?;
    let is_told = |shot: &&mut Shot| is_meant(shot) && shot.is_pumped();
    let Some(shot) = expected.shot.get_mut(n).filter(is_told) else {
        return Err(Error::in_file(
            path,
            "holds another photo there by now; load the page again",
        ));
    };
    let is_new = shot.vacuum.is_none();
    shot.vacuum = Some(
        showed
            .parse()
            .map_err(|e: ParseVacuumError| Error::in_file(path, e.to_string()))?,
    );
    let header = Entries::Shot.header();
    let after = match is_new {
        true => with_key(&before, header, n, "vacuum", showed),
        false => with_text(&before, header, n, "vacuum", showed),
    }
    .unwrap_or_default();
    let by_hand = format!("vacuum = {} into its entry", quoted(showed));
    replace_with(path, &before, &after, &expected, &by_hand)
}

/// The text with a key put in below the header of the table `n` of this header.
fn with_key(text: &str, header: &str, n: usize, key: &str, value: &str) -> Option<String> {
    let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
    let is_header = |&at: &usize| lines[at].trim_start().starts_with(header);
    let at = (0..lines.len()).filter(is_header).nth(n)?;
    lines.insert(at + 1, format!("{key} = {}{}", quoted(value), end_of(text)));
    Some(lines.concat())
}

/// The text with the string that stands behind a key in the table `n` of this header replaced; `None` where it stands in another way than on a line
/// of its own.
fn with_text(text: &str, header: &str, n: usize, key: &str, value: &str) -> Option<String> {
    let mut lines: Vec<String> = text.split_inclusive('\n').map(str::to_owned).collect();
    let is_table = |line: &String| line.trim_start().starts_with('[');
    let from = (0..lines.len())
        .filter(|&at| lines[at].trim_start().starts_with(header))
        .nth(n)?;
    let to = (from + 1..lines.len())
        .find(|&at| is_table(&lines[at]))
        .unwrap_or(lines.len());
    let line = lines.get_mut(from + 1..to)?.iter_mut();
    let mut named = line.filter(|line| line.split_once('=').is_some_and(|(name, _)| name.trim() == key));
    let line = named.next()?;
    *line = with_value_on(line, &quoted(value))?;
    Some(lines.concat())
}

/// Keys of a job file behind which paths of files stand, one or a list of them, by their tables: `""` for the keys above all tables.
const PATHS: [(&str, &[&str]); 4] = [
    ("", &["bay", "tolerance", "system", "wall_photos"]),
    ("lamp", &["bay"]),
    ("shot", &["photo", "lamp_off", "brackets"]),
    ("trial", &["still", "driven"]),
];

/// A job file's text in which the paths of files for which `renamed` has another are that; the rest stays byte for byte. Nothing is written.
///
/// # Errors
/// [`Error`] where the text is no job's, or would not read as the same job with just these paths.
pub(crate) fn with_paths(path: &Path, text: &str, renamed: &dyn Fn(&Path) -> Option<String>) -> Result<String, Error> {
    let mut expected: Job = parse_toml(path, text)?;
    expected.rename_paths(renamed);
    let fault = |why: &dyn std::fmt::Display| Error::in_file(path, format!("its paths cannot be changed: {why}"));
    let whole = DeTable::parse(text).map_err(|e| fault(&e))?;
    let whole = whole.get_ref();
    let mut places = Vec::new();
    let mut strings = |table: &DeTable<'_>, keys: &[&str]| {
        for value in keys.iter().filter_map(|key| table.get(*key)) {
            let each = value.get_ref().as_array().map(|list| list.iter().collect());
            for one in each.unwrap_or_else(|| vec![value]) {
                let new = one.get_ref().as_str().and_then(|old| renamed(Path::new(old)));
                places.extend(new.map(|new| (one.span(), new)));
            }
        }
    };
    for (name, keys) in PATHS {
        if name.is_empty() {
            strings(whole, keys);
            continue;
        }
        let tables = whole.get(name).and_then(|tables| tables.get_ref().as_array());
        for table in tables.into_iter().flat_map(|all| all.iter()) {
            if let Some(table) = table.get_ref().as_table() {
                strings(table, keys);
            }
        }
    }
    // From behind, so that what stands before keeps its place.
    places.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    let mut after = text.to_owned();
    for (span, new) in places {
        after.replace_range(span, &quoted(&new));
    }
    let read: Job = parse_toml(path, &after)?;
    if content(&read).is_none() || content(&read) != content(&expected) {
        return Err(fault(&"the job would read otherwise"));
    }
    Ok(after)
}

/// Puts back the text that a file had before a change of ours, which left it as `now`.
///
/// # Errors
/// As [`append`], where the file is no longer as it was left, or what it was cannot be read any more.
pub fn put_back(path: &Path, kind: Kept, now: &str, earlier: &str) -> Result<Changed, Error> {
    kind.check(path, earlier)?;
    replace(path, now, earlier)
}

fn set_value(whole: &mut toml::Table, figure: &NewFigure) -> Option<()> {
    let name = figure.table.trim_matches(['[', ']']);
    let mut table = whole;
    if !name.is_empty() {
        let mut parts = name.split('.').peekable();
        while let Some(part) = parts.next() {
            let value = table.get_mut(part)?;
            table = if value.is_array() && parts.peek().is_none() {
                value.as_array_mut()?.get_mut(figure.n)?.as_table_mut()?
            } else {
                value.as_table_mut()?
            };
        }
    }
    match figure.value {
        Some(value) => drop(table.insert(figure.key.to_owned(), toml::Value::Float(value))),
        None => drop(table.remove(figure.key)),
    }
    Some(())
}

/// The text with one figure in its place: in that of the old one, or on a new line behind the table's last key.
fn with_figure(text: &str, figure: &NewFigure) -> Option<String> {
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let is_table = |line: &&str| line.trim_start().starts_with('[');
    let header = |line: &str| line.split('#').next().unwrap_or_default().trim() == figure.table;
    let from = if figure.table.is_empty() {
        0
    } else {
        (0..lines.len()).filter(|&at| header(lines[at])).nth(figure.n)? + 1
    };
    let to = (from..lines.len())
        .find(|&at| is_table(&lines[at]))
        .unwrap_or(lines.len());
    let names = |line: &str| line.split_once('=').is_some_and(|(key, _)| key.trim() == figure.key);
    let written = |value: f64| format!("{value:?}");
    let end = end_of(text);
    let put = |at: usize, line: &str, drop_old: bool| {
        let mut all = lines[..at].concat();
        all.push_str(line);
        all.push_str(&lines[at + usize::from(drop_old)..].concat());
        all
    };
    match ((from..to).find(|&at| names(lines[at])), figure.value) {
        (None, None) => Some(text.to_owned()),
        (Some(at), None) => Some(put(at, "", true)),
        (Some(at), Some(value)) => {
            let (key, rest) = lines[at].split_once('=')?;
            let old = rest.trim_start();
            let gap = &rest[..rest.len() - old.len()];
            let tail = old.find(|c: char| c.is_whitespace() || c == '#').unwrap_or(old.len());
            Some(put(at, &format!("{key}={gap}{}{}", written(value), &old[tail..]), true))
        }
        (None, Some(value)) => {
            let is_key = |line: &&str| !line.trim().is_empty() && !line.trim_start().starts_with('#');
            let at = from + lines[from..to].iter().rposition(is_key).map_or(0, |last| last + 1);
            let line = format!("{} = {}{end}", figure.key, written(value));
            let above_is_open = at > 0 && !lines[at - 1].ends_with('\n');
            Some(put(
                at,
                &if above_is_open { format!("{end}{line}") } else { line },
                false,
            ))
        }
    }
}

/// How the file's lines end.
fn end_of(text: &str) -> &'static str {
    if text.contains("\r\n") { "\r\n" } else { "\n" }
}

/// What a job says, to be compared.
fn content(job: &Job) -> Option<String> {
    serde_json::to_string(job).ok()
}

/// Writes `after` where it reads as what is `expected`; `by_hand` says what to put in otherwise.
fn replace_with(path: &Path, before: &str, after: &str, expected: &Job, by_hand: &str) -> Result<Changed, Error> {
    let refused = || {
        Error::in_file(
            path,
            format!("is written in a way that cannot be changed from here; put {by_hand} by hand; nothing is written"),
        )
    };
    let read: Job = parse_toml(path, after).map_err(|_| refused())?;
    read.check(path)?;
    if content(&read).is_none() || content(&read) != content(expected) {
        return Err(refused());
    }
    replace(path, before, after)
}

/// Puts a changed text in the place of the job file's, which was `before`.
fn replace(path: &Path, before: &str, after: &str) -> Result<Changed, Error> {
    let fail = |what: String| Error::in_file(path, format!("{what}; nothing is written"));
    // A link stays a link: what it points to is written.
    let file = path.canonicalize().map_err(|e| fail(format!("cannot be read: {e}")))?;
    let metadata = file.metadata().map_err(|e| fail(format!("cannot be read: {e}")))?;
    if metadata.permissions().readonly() {
        return Err(fail(
            "is write-protected; allow writing to it, then run this again".to_owned(),
        ));
    }
    let now = read_text(&file).map_err(|e| fail(e.message()))?;
    if now != before {
        return Err(fail(
            "was changed by another program in the meantime; run this again".to_owned(),
        ));
    }
    whole_file::write(&file, after.as_bytes())?;
    // The file that took the old one's place is for the same readers; where that cannot be, it is still written.
    let _ = std::fs::set_permissions(&file, metadata.permissions());
    Ok(Changed {
        before: before.to_owned(),
        after: after.to_owned(),
    })
}

/// The job's text with `added` behind it, checked.
fn extended(path: &Path, before: &str, added: &str) -> Result<String, Error> {
    let mut after = before.to_owned();
    if !before.is_empty() && !before.ends_with('\n') {
        after.push('\n');
    }
    after.push_str(added);
    if end_of(before) == "\r\n" {
        // Only what is new: the rest stays as it is.
        let new = after.split_off(before.len()).replace('\n', "\r\n");
        after.push_str(&new);
    }
    let read = |text: &str| -> Result<Job, Error> {
        let job: Job = parse_toml(path, text)?;
        job.check(path).map(|()| job)
    };
    let old = read(before)?;
    let mut new = read(&after).map_err(|e| {
        Error::in_file(
            path,
            format!(
                "with these entries the job would not read, so nothing is written: {}",
                e.message()
            ),
        )
    })?;
    new.shot.truncate(old.shot.len());
    new.trial.truncate(old.trial.len());
    new.repair.truncate(old.repair.len());
    if content(&old).is_none() || content(&old) != content(&new) {
        return Err(Error::in_file(
            path,
            "with these entries the rest of the job would read otherwise, so nothing is written; add them by hand",
        ));
    }
    Ok(after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Gauge, TrialMoves};

    const JOB: &str = "# my notes\nschema = 1\njob = \"W\"   # spaced\nbay = \"bay.toml\"\ntraffic = \"right\"\n\
        [[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0";
    const SHOT: &str = "\n[[shot]]\nphoto = \"1.jpg\"\nlamp = \"left\"\n# its own\n";

    fn trial() -> Trial {
        Trial {
            test: "a \"b\" #".to_owned(),
            moves: Some(TrialMoves::CreepsBack),
            gauge: Some(Gauge::Falls),
            stage: None,
            still: None,
            driven: None,
        }
    }

    fn repair() -> RepairEntry {
        RepairEntry {
            component: Some("control".to_owned()),
            date: "2031-03-05".to_owned(),
            words: "replaced\nas \"new\"".to_owned(),
            extent: None,
        }
    }

    #[test]
    fn trials_and_repairs_read_back_as_they_were_meant() {
        let added = trial_entry(&trial()).unwrap() + &repair_entry(&repair()).unwrap();
        let after = extended(Path::new("job.toml"), JOB, &added).unwrap();
        let job: Job = parse_toml(Path::new("job.toml"), &after).unwrap();
        let same = |trial: &Trial| {
            (
                trial.test.clone(),
                trial.moves,
                trial.gauge,
                trial.stage,
                trial.still.clone(),
            )
        };
        assert_eq!(same(&job.trial[0]), same(&trial()));
        assert_eq!(job.repair, [repair()]);
    }

    /// The photos that a repair outdates go with it, in one change, and what is right above and below them stays.
    #[test]
    fn a_repair_takes_out_the_shots_that_it_outdates() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let shot = |n: usize| format!("\n[[shot]]\nphoto = \"{n}.jpg\"\nlamp = \"left\"\n# its own\n");
        let before = format!("{JOB}\n{}{}{}", shot(1), shot(2), shot(3));
        std::fs::write(&path, &before).unwrap();
        let added = repair_entry(&repair()).unwrap();
        let changed = append_repair(&path, &before, &added, &[2, 0]).unwrap();
        assert_eq!(changed.after, format!("{JOB}\n{}{added}", shot(2)));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), changed.after);
        // Written in one line: nothing is written.
        let odd = format!("shot = [{{ photo = \"1.jpg\", lamp = \"left\" }}]\n{JOB}\n");
        std::fs::write(&path, &odd).unwrap();
        let said = append_repair(&path, &odd, &added, &[0]).unwrap_err().to_string();
        assert!(said.contains("take them out by hand"), "{said}");
        assert_eq!(std::fs::read_to_string(&path).unwrap(), odd);
    }

    #[test]
    fn a_repair_is_said_anew_and_the_rest_stays_byte_for_byte() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let text = |first: &str, second: &str| {
            format!(
                "{JOB}\n[[repair]]\ndate = \"2031-03-04\"\nwords = \"hose on\" # mine\n\n[[repair]]\ncomponent = \"control\"\n\
                 words={first}   # of # it\n# below\ndate = {second}\n"
            )
        };
        let before = text("\"re # placed\"", "\"2031-03-05\"");
        std::fs::write(&path, &before).unwrap();
        let is_second = |repair: &RepairEntry| repair.words == "re # placed";
        change_repair(&path, 1, is_second, "a \"new\" one", "2031-03-06").unwrap();
        let now = || std::fs::read_to_string(&path).unwrap();
        let quoted_words = quoted("a \"new\" one");
        assert_eq!(now(), text(&quoted_words, "\"2031-03-06\""));
        // Another repair stands there than was meant, or none.
        let as_it_is = now();
        change_repair(&path, 1, is_second, "x", "2031-03-06").unwrap_err();
        change_repair(&path, 2, |_| true, "x", "2031-03-06").unwrap_err();
        // One that is written in another way is left to its writer.
        let long = as_it_is.replace(&quoted_words, "\"\"\"one\ntwo\"\"\"");
        std::fs::write(&path, &long).unwrap();
        let said = change_repair(&path, 1, |_| true, "x", "2031-03-06")
            .unwrap_err()
            .to_string();
        assert!(said.contains("by hand") && now() == long, "{said}");
    }

    #[test]
    fn what_the_gauge_showed_is_said_anew_and_the_rest_stays_byte_for_byte() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let text = |second: &str| {
            format!(
                "{JOB}\n{SHOT}vacuum = \"100 mbar\"\n{}vacuum =  {second}  # read twice\n{}",
                SHOT.replace("1.jpg", "2.jpg"),
                SHOT.replace("1.jpg", "3.jpg"),
            )
        };
        let before = text("\"20 mbar\"");
        std::fs::write(&path, &before).unwrap();
        let is_second = |shot: &Shot| shot.photo == Path::new("2.jpg");
        let changed = change_gauge(&path, 1, is_second, "6 inHg").unwrap();
        let now = || std::fs::read_to_string(&path).unwrap();
        assert_eq!(now(), text("\"6 inHg\""));
        assert_eq!(changed.before, before);
        change_gauge(&path, 0, is_second, "200 mbar").unwrap_err();
        let third = |shot: &Shot| shot.photo == Path::new("3.jpg");
        change_gauge(&path, 2, third, "200 mbar").unwrap_err();
        change_gauge(&path, 1, is_second, "200").unwrap_err();
        assert_eq!(now(), text("\"6 inHg\""), "nothing else is written");
        // Of a leak-down the gauge may not be said yet.
        let sealed = format!("{}sealed = true # shut\n", text("\"6 inHg\""));
        std::fs::write(&path, &sealed).unwrap();
        change_gauge(&path, 2, third, "200 mbar").unwrap();
        let job: Job = parse_toml(&path, &now()).unwrap();
        assert_eq!(job.shot[2].vacuum.map(|vacuum| vacuum.mbar()), Some(200.0));
        assert_eq!(now().replacen("vacuum = \"200 mbar\"\n", "", 1), sealed);
    }

    #[test]
    fn any_entry_is_taken_out_and_the_rest_stays_byte_for_byte() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        for end in ["\n", "\r\n"] {
            let line = |text: &str| text.replace('\n', end);
            let trial_text = line(&trial_entry(&trial()).unwrap());
            let own = line(&format!("{JOB}\n"));
            let shots = [1, 2, 3].map(|n| line(&SHOT.replace("1.jpg", &format!("{n}.jpg"))));
            let third = line("\n# of the third") + &shots[2];
            let whole = [own.as_str(), &shots[0], &shots[1], &trial_text, &third].concat();
            std::fs::write(&path, &whole).unwrap();
            let now = || std::fs::read_to_string(&path).unwrap();
            let named = |n: usize, name: &'static str| {
                move |job: &Job| job.shot.get(n).is_some_and(|shot| shot.photo == Path::new(name))
            };
            take_out(&path, Entries::Shot, 1, named(1, "1.jpg")).unwrap_err();
            assert_eq!(now(), whole, "another one stands there");
            take_out(&path, Entries::Shot, 1, named(1, "2.jpg")).unwrap();
            assert_eq!(now(), whole.replace(&shots[1], ""));
            take_out(&path, Entries::Trial, 0, |job| job.trial.len() == 1).unwrap();
            assert_eq!(now(), whole.replace(&shots[1], "").replace(&trial_text, ""));
            take_out(&path, Entries::Shot, 0, named(0, "1.jpg")).unwrap();
            take_out(&path, Entries::Shot, 0, named(0, "3.jpg")).unwrap();
            assert_eq!(
                now(),
                own.clone() + &line("\n# of the third\n"),
                "a comment above it is not its own"
            );
            take_out(&path, Entries::Shot, 0, |_| true).unwrap_err();
        }
    }

    #[test]
    fn an_entry_written_in_another_way_is_left_to_its_writer() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let head = JOB.replace(
            "[[lamp]]",
            "shot = [\n{ photo = \"1.jpg\", lamp = \"left\" }]\n[[lamp]]",
        );
        std::fs::write(&path, &head).unwrap();
        let said = take_out(&path, Entries::Shot, 0, |_| true).unwrap_err().to_string();
        assert!(said.contains("by hand"), "{said}");
        assert_eq!(std::fs::read_to_string(&path).unwrap(), head);
    }

    #[test]
    fn the_system_is_named_above_the_first_table_and_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        for text in [
            JOB.replace("[[lamp]]", "\n# both lamps\n[[lamp]]"),
            JOB.replace('\n', "\r\n"),
        ] {
            std::fs::write(&path, &text).unwrap();
            name_system(&path, &text, "vacuum-cabin-control").unwrap();
            let after = std::fs::read_to_string(&path).unwrap();
            let line = format!("{}system = \"vacuum-cabin-control\"", end_of(&text));
            assert_eq!(after.replace(&line, ""), text, "all else byte for byte");
            assert_eq!(
                Job::read(&path).unwrap().system.as_deref(),
                Some("vacuum-cabin-control")
            );
            name_system(&path, &after, "vacuum-bonnet-control").unwrap_err();
        }
    }

    #[test]
    fn a_view_is_given_its_lamp_off_photo_and_the_rest_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        for end in ["\n", "\r\n"] {
            let shots = "# one\n[[shot]]\nphoto = \"a.jpg\" # its own\nlamp = \"left\"\nposition = \"0\"\n\n[[shot]]\n  photo='b.jpg'\n\
                lamp = \"left\"\n[[shot]]\nlamp = \"left\"\nphoto = \"c.jpg\"";
            let own = format!("{JOB}\n{shots}").replace('\n', end);
            std::fs::write(&path, &own).unwrap();
            let photos = ["a.jpg", "b.jpg", "c.jpg"].map(PathBuf::from);
            give_lamp_off(&path, &own, &photos, "o \"1\".jpg").unwrap();
            let after = std::fs::read_to_string(&path).unwrap();
            let line = format!("lamp_off = {}{end}", quoted("o \"1\".jpg"));
            assert_eq!(after.matches(&line).count(), 3, "{after}");
            let job = Job::read(&path).unwrap();
            assert!(
                job.shot
                    .iter()
                    .all(|shot| shot.lamp_off.as_deref() == Some(Path::new("o \"1\".jpg")))
            );
            assert_eq!(after.replace(&line, ""), own + end, "all else byte for byte");
            // What has one already, or is written in another way, is left to its writer.
            give_lamp_off(&path, &after, &photos[..1], "p.jpg").unwrap_err();
            assert_eq!(std::fs::read_to_string(&path).unwrap(), after);
        }
    }

    #[test]
    fn a_figure_is_changed_in_its_place_and_the_rest_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let lamp = |key, value| NewFigure {
            table: "[[lamp]]",
            n: 0,
            key,
            value,
        };
        for end in ["\n", "\r\n"] {
            let own = JOB.replace("650.0", "650.0   # taped twice").replace('\n', end);
            std::fs::write(&path, &own).unwrap();
            let now = || std::fs::read_to_string(&path).unwrap();
            let set = |figures: &[NewFigure]| set_figures(&path, &now(), Kept::Job, figures);
            let changed = set(&[lamp("centre_height_mm", Some(652.5))]).unwrap();
            assert_eq!(now(), own.replace("650.0 ", "652.5 "));
            assert_eq!((changed.before.as_str(), changed.after), (own.as_str(), now()));
            set(&[lamp("face_height_mm", Some(110.0)), lamp("centre_x_mm", Some(-565.0))]).unwrap();
            let job = Job::read(&path).unwrap();
            assert_eq!(
                (
                    job.lamp[0].face_height_mm,
                    job.lamp[0].centre_x_mm,
                    job.lamp[0].centre_height_mm
                ),
                (Some(110.0), -565.0, 652.5)
            );
            assert!(now().contains("# my notes") && now().contains("# spaced") && now().contains("# taped twice"));
            assert_eq!(
                now().matches('\r').count(),
                if end == "\n" { 0 } else { now().matches('\n').count() }
            );
            set(&[lamp("face_height_mm", None)]).unwrap();
            assert!(Job::read(&path).unwrap().lamp[0].face_height_mm.is_none());
            // What cannot be is not written, nor what another program has changed.
            let stood = now();
            set(&[lamp("distance_mm", Some(1.0))]).unwrap_err();
            set(&[NewFigure {
                n: 1,
                ..lamp("distance_mm", Some(9000.0))
            }])
            .unwrap_err();
            set_figures(&path, &own, Kept::Job, &[lamp("distance_mm", Some(9000.0))]).unwrap_err();
            assert_eq!(now(), stood);
            put_back(&path, Kept::Job, &stood, &own).unwrap();
            assert_eq!(now(), own);
            put_back(&path, Kept::Job, &stood, &own).unwrap_err();
        }
        // A table that is written in one line is left to its writer.
        let inline = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\nlamp = [{ side = \"left\", \
            centre_height_mm = 650.0, centre_x_mm = -560.0, distance_mm = 10000.0 }]\n";
        std::fs::write(&path, inline).unwrap();
        let said = set_figures(&path, inline, Kept::Job, &[lamp("distance_mm", Some(9000.0))]).unwrap_err();
        assert!(said.to_string().contains("by hand"), "{said}");
    }

    #[test]
    fn paths_are_renamed_wherever_a_job_has_them_and_the_rest_stays() {
        let text = format!(
            "tolerance = '../t.toml'\nsystem = \"vacuum-cabin-control\"\nwall_photos = [\"w.jpg\", # ../w.jpg\n  \"../w.jpg\"]\n{JOB}\n\
             bay = \"\"\"../b.toml\"\"\" # of ../b.toml\n[[shot]]\nphoto = \"..\\u002F1.jpg\"\nlamp = \"left\"\nlamp_off = \"../o.jpg\"\n\
             brackets = [ '../2.jpg', \"3.jpg\" ]\nseries = \"../1.jpg\"\n[[trial]]\ntest = \"x\"\nstill = \"../1.jpg\"\ndriven = \"4.jpg\"\n"
        );
        let renamed = |path: &Path| Some(path.to_str()?.strip_prefix("../")?.to_uppercase());
        let after = with_paths(Path::new("job.toml"), &text, &renamed).unwrap();
        let meant = [
            ("'../t.toml'", "\"T.TOML\""),
            ("\"../w.jpg\"]", "\"W.JPG\"]"),
            ("\"\"\"../b.toml\"\"\"", "\"B.TOML\""),
            ("\"..\\u002F1.jpg\"", "\"1.JPG\""),
            ("\"../o.jpg\"", "\"O.JPG\""),
            ("'../2.jpg'", "\"2.JPG\""),
            ("still = \"../1.jpg\"", "still = \"1.JPG\""),
        ];
        let expected = meant.iter().fold(text.clone(), |text, (old, new)| {
            assert_eq!(text.matches(old).count(), 1, "{old}");
            text.replace(old, new)
        });
        assert_eq!(after, expected);
        assert_eq!(with_paths(Path::new("job.toml"), &text, &|_| None).unwrap(), text);
    }

    #[test]
    fn line_ends_of_the_file_are_kept() {
        let dos = JOB.replace('\n', "\r\n") + "\r\n";
        let after = extended(Path::new("job.toml"), &dos, SHOT).unwrap();
        assert!(
            after.starts_with(&dos) && !after.replace("\r\n", "").contains('\n'),
            "{after:?}"
        );
    }

    #[test]
    fn what_would_not_read_is_not_written() {
        let added = SHOT.to_owned();
        let message =
            |before: &str, added: &str| extended(Path::new("job.toml"), before, added).unwrap_err().to_string();
        let inline = JOB.replace("[[lamp]]", "shot = []\n[[lamp]]");
        assert!(message(&inline, &added).contains("would not read"));
        assert!(message(JOB, &added.replace("left", "right")).contains("right lamp"));
        assert!(message(JOB, &format!("{added}{added}")).contains("two [[shot]]"));
        let lamp = JOB[JOB.find("[[lamp]]").unwrap()..].replace("left", "right");
        assert!(message(JOB, &lamp).contains("read otherwise"));
    }
}
