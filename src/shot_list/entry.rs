//! The entries for the job file: added behind what is there, which stays byte for byte.

use super::{Drive, GaugeStep, PlannedPhoto, Shows, TakenPhoto};
use crate::error::Error;
use crate::record::{Job, parse_toml, read_text};
use crate::whole_file;
use std::path::{Path, PathBuf};

/// Stands where the reading of the gauge belongs: nobody but who took the photo knows it.
const GAUGE_AT_START: &str =
    "# vacuum = \"\"    # what the gauge showed as the valve was shut: fill in, and take the first # away\n";

/// The `[[shot]]` entries for paired photos, as TOML with a blank line before each. A photo with the lamp off becomes the
/// `lamp_off` of the others of its view.
#[must_use]
pub fn entries(pairs: &[(PlannedPhoto, TakenPhoto)]) -> String {
    let off_of = |planned: &PlannedPhoto| {
        let is_off = |other: &PlannedPhoto| other.shows == Shows::LampOff && other.view == planned.view;
        pairs
            .iter()
            .find(|(other, _)| is_off(other))
            .map(|(_, off)| off.listed_as.as_str())
    };
    let texts = pairs
        .iter()
        .map(|(planned, photo)| entry(planned, &photo.listed_as, off_of(planned), None));
    texts.collect()
}

/// The `[[shot]]` entry for one photo, by its path as the job lists it; with the photo with the lamp off, where there is one, and
/// for the first of a leak-down with what the gauge showed, where that is known. A photo with the lamp off has none of its own.
#[must_use]
pub fn entry(planned: &PlannedPhoto, listed_as: &str, lamp_off: Option<&str>, at_start: Option<&GaugeStep>) -> String {
    let mut keys: Vec<(&str, String)> = vec![
        ("photo", quoted(listed_as)),
        ("lamp", quoted(&planned.lamp.to_string())),
    ];
    if let Some(stage) = planned.stage {
        keys.push(("stage", quoted(&stage.to_string())));
    }
    match &planned.shows {
        Shows::LampOff => return String::new(),
        Shows::Position(position) => keys.push(("position", quoted(position))),
        Shows::Vacuum { gauge, branch } => {
            keys.push(("vacuum", quoted(&gauge.text)));
            keys.push(("branch", quoted(&branch.to_string())));
        }
        Shows::Sealed { .. } => {
            keys.push(("sealed", "true".to_owned()));
            keys.extend(at_start.map(|gauge| ("vacuum", quoted(&gauge.text))));
        }
    }
    if planned.drive == Drive::Pump {
        keys.push(("series", quoted(AT_THE_LAMP)));
    }
    keys.extend(lamp_off.map(|off| ("lamp_off", quoted(off))));
    let mut text = "\n[[shot]]\n".to_owned();
    for (key, value) in keys {
        text.push_str(&format!("{key} = {value}\n"));
    }
    if at_start.is_none() && matches!(planned.shows, Shows::Sealed { after_s: 0, .. }) {
        text.push_str(GAUGE_AT_START);
    }
    text
}

/// Where the list has the pump joined, by which the photos count as the test of that lamp's actuator.
const AT_THE_LAMP: &str = "at the lamp";

/// A TOML string.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// Adds `added` behind the job file's text. What was there stays as it is, byte for byte; the new text must read as the
/// same job with just more shots, or nothing is written.
///
/// # Errors
/// [`Error`] where the file changed since `before` was read, may not be written, or would no longer read.
pub fn append(path: &Path, before: &str, added: &str) -> Result<(), Error> {
    replace(path, before, &extended(path, before, added)?)
}

/// Puts a changed text in the place of the job file's, which was `before`.
fn replace(path: &Path, before: &str, after: &str) -> Result<(), Error> {
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
    Ok(())
}

/// Gives the job file's entries of `photos` the photo with the lamp off: a line in each, behind that of its photo. All else stays byte
/// for byte.
///
/// # Errors
/// As [`append`], and where an entry is written in another way, so that it has to be done by hand.
pub fn give_lamp_off(path: &Path, before: &str, photos: &[PathBuf], lamp_off: &str) -> Result<(), Error> {
    let mut after = String::with_capacity(before.len() + 80 * photos.len());
    let mut in_shot = false;
    let end = if before.contains("\r\n") { "\r\n" } else { "\n" };
    for line in before.split_inclusive('\n') {
        after.push_str(line);
        if line.trim_start().starts_with('[') {
            in_shot = line.trim_start().starts_with("[[shot]]");
        }
        let named: Option<OfPhoto> = in_shot.then(|| toml::from_str(line).ok()).flatten();
        if named.is_some_and(|of| photos.contains(&of.photo)) {
            if !line.ends_with('\n') {
                after.push_str(end);
            }
            after.push_str(&format!("lamp_off = {}{end}", quoted(lamp_off)));
        }
    }
    let by_hand = || {
        Error::in_file(
            path,
            format!("add lamp_off = \"{lamp_off}\" to the shots by hand; nothing is written"),
        )
    };
    let mut expected: Job = parse_toml(path, before)?;
    let of_view = expected.shot.iter_mut().filter(|shot| photos.contains(&shot.photo));
    of_view.for_each(|shot| shot.lamp_off = Some(PathBuf::from(lamp_off)));
    let read: Job = parse_toml(path, &after).map_err(|_| by_hand())?;
    read.check(path)?;
    let content = |job: &Job| serde_json::to_string(job).ok();
    if content(&read).is_none() || content(&read) != content(&expected) {
        return Err(by_hand());
    }
    replace(path, before, &after)
}

/// The line of an entry that names its photo.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct OfPhoto {
    photo: PathBuf,
}

/// Takes the job file's last entry, that of `photo`, out again; what stands before it stays byte for byte. The photo's file stays.
///
/// # Errors
/// [`Error`] where another entry is the last, something else stands behind it, or the file may not be written.
pub fn take_back(path: &Path, photo: &Path) -> Result<(), Error> {
    let text = read_text(path)?;
    let job: Job = parse_toml(path, &text)?;
    let other = || {
        let why = format!(
            "{} is not the last entry; take it out of the file by hand",
            photo.display()
        );
        Error::in_file(path, why)
    };
    let at = text
        .rfind("[[shot]]")
        .filter(|_| job.shot.last().is_some_and(|shot| shot.photo == photo));
    let before = at.and_then(|at| text.get(..at)).ok_or_else(other)?;
    let before = before
        .strip_suffix("\r\n")
        .or(before.strip_suffix('\n'))
        .unwrap_or(before);
    // Only a shot and nothing else has gone, or it is not ours to cut.
    let shorter: Job = parse_toml(path, before).map_err(|_| other())?;
    let mut expected = job.clone();
    expected.shot.pop();
    let content = |job: &Job| serde_json::to_string(job).ok();
    if content(&shorter).is_none() || content(&shorter) != content(&expected) {
        return Err(other());
    }
    replace(path, &text, before)
}

/// The job's text with `added` behind it, checked.
fn extended(path: &Path, before: &str, added: &str) -> Result<String, Error> {
    let is_dos = before.contains("\r\n");
    let mut after = before.to_owned();
    if !before.is_empty() && !before.ends_with('\n') {
        after.push('\n');
    }
    after.push_str(added);
    if is_dos {
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
    let content = |job: &Job| serde_json::to_string(job).ok();
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
    use super::super::{Check, Wanted, gauge_steps, list};
    use super::*;
    use crate::photo::Capture;
    use crate::record::Side;

    const JOB: &str = "# my notes\nschema = 1\njob = \"W\"   # spaced\nbay = \"bay.toml\"\ntraffic = \"right\"\n\
        [[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0";

    fn pairs(checks: &[Check]) -> Vec<(PlannedPhoto, TakenPhoto)> {
        let wanted = Wanted {
            lamps: vec![Side::Left],
            gauge: gauge_steps("0,10 inHg").unwrap(),
            leak_down_s: 60,
            lamp_off: true,
            ..Wanted::made(checks)
        };
        let photo = |n: usize| TakenPhoto {
            name: format!("{n}.jpg"),
            listed_as: format!("photos/{n}.jpg"),
            sha256: n.to_string(),
            capture: Capture::default(),
            time_s: 60.0 * n as f64,
            brightness: 1.0,
        };
        let planned = list(&wanted).unwrap().into_iter();
        planned
            .map(|planned| (planned.clone(), photo(planned.number)))
            .collect()
    }

    #[test]
    fn entries_read_back_as_what_was_paired() {
        let all = pairs(&[Check::Positions, Check::Vacuum, Check::LeakDown]);
        let after = extended(Path::new("job.toml"), JOB, &entries(&all)).unwrap();
        assert!(after.starts_with(JOB), "what was there stays");
        let job: Job = parse_toml(Path::new("job.toml"), &after).unwrap();
        // Two positions, 0 and 10 inHg up, 0 down, two of the leak-down; the eighth photo is their lamp_off.
        assert_eq!((all.len(), job.shot.len()), (8, 7));
        for (shot, (planned, photo)) in job.shot.iter().zip(&all) {
            assert_eq!(shot.photo, Path::new(&photo.listed_as));
            assert_eq!(shot.lamp_off.as_deref(), Some(Path::new("photos/8.jpg")));
            let mut one = job.clone();
            one.shot = vec![shot.clone()];
            assert!(planned.is_in(&one), "{planned:?} against {shot:?}");
            let joined = (planned.drive == Drive::Pump).then_some("at the lamp");
            assert_eq!(shot.series.as_deref(), joined, "where the list has the pump joined");
        }
        let vacuum_mbar: Vec<Option<f64>> = job.shot.iter().map(|s| s.vacuum.map(|v| v.mbar().round())).collect();
        // 10 inHg = 338.6389 mbar (NIST SP 811, B.8).
        let (none, ten) = (Some(0.0), Some(339.0));
        assert_eq!(vacuum_mbar, [None, None, none, ten, none, None, None]);
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
    fn what_the_gauge_showed_stands_with_the_first_of_a_leak_down() {
        let one = pairs(&[Check::LeakDown]).swap_remove(0);
        let gauge = gauge_steps("6 inHg").unwrap().swap_remove(0);
        let text = entry(&one.0, "1.jpg", None, Some(&gauge));
        assert!(text.contains("vacuum = \"6 inHg\"") && !text.contains('#'), "{text}");
        let job: Job = parse_toml(Path::new("job.toml"), &format!("{JOB}\n{text}")).unwrap();
        assert_eq!((job.shot[0].vacuum, job.shot[0].sealed), (Some(gauge.vacuum), true));
    }

    #[test]
    fn the_last_entry_is_taken_back_and_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let now = || std::fs::read_to_string(&path).unwrap();
        let own = format!("{JOB}\n");
        std::fs::write(&path, &own).unwrap();
        let two = pairs(&[Check::Positions]);
        for (planned, photo) in &two[..2] {
            append(&path, &now(), &entry(planned, &photo.listed_as, None, None)).unwrap();
        }
        let [first, second] = [0, 1].map(|n| Path::new(&two[n].1.listed_as));
        let both = now();
        assert!(
            take_back(&path, first)
                .unwrap_err()
                .to_string()
                .contains("not the last entry")
        );
        assert_eq!(now(), both);
        take_back(&path, second).unwrap();
        take_back(&path, first).unwrap();
        assert_eq!(now(), own, "byte for byte");
        assert!(take_back(&path, first).is_err());
        let behind = format!("{both}[[trial]]\ntest = \"t\"\nmoves = \"yes\"\n");
        std::fs::write(&path, &behind).unwrap();
        assert!(take_back(&path, second).is_err());
        assert_eq!(now(), behind, "what stands behind it stays");
    }

    #[test]
    fn names_of_files_cannot_break_the_job() {
        let mut one = pairs(&[Check::Aim]);
        for name in [
            "a \"b\" #.jpg",
            "a\\b.jpg",
            "line\nbreak.jpg",
            "Ünïcode '1'.jpg",
            "\u{7f}\t.jpg",
        ] {
            name.clone_into(&mut one[0].1.listed_as);
            let after = extended(Path::new("job.toml"), JOB, &entries(&one)).unwrap();
            let job: Job = parse_toml(Path::new("job.toml"), &after).unwrap();
            assert_eq!(job.shot[0].photo, Path::new(name));
        }
    }

    #[test]
    fn line_ends_of_the_file_are_kept() {
        let dos = JOB.replace('\n', "\r\n") + "\r\n";
        let after = extended(Path::new("job.toml"), &dos, &entries(&pairs(&[Check::Aim]))).unwrap();
        assert!(
            after.starts_with(&dos) && !after.replace("\r\n", "").contains('\n'),
            "{after:?}"
        );
    }

    #[test]
    fn what_would_not_read_is_not_written() {
        let added = entries(&pairs(&[Check::Aim]));
        let message =
            |before: &str, added: &str| extended(Path::new("job.toml"), before, added).unwrap_err().to_string();
        let inline = JOB.replace("[[lamp]]", "shot = []\n[[lamp]]");
        assert!(message(&inline, &added).contains("would not read"));
        assert!(message(JOB, &added.replace("left", "right")).contains("right lamp"));
        assert!(message(JOB, &format!("{added}{added}")).contains("two [[shot]]"));
        assert!(message(JOB, "\n[[trial]]\ntest = \"t\"\nmoves = \"yes\"\n").contains("read otherwise"));
    }
}
