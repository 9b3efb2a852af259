//! Which of the files a text is, by the keys that only that one has: so that a file given for another is called what it is.

use crate::error::Error;
use std::path::Path;

/// A file that a technician writes or picks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FileKind {
    /// One car: `job.toml`.
    Job,
    /// One wall: `bay.toml`.
    Bay,
    /// A table of limits.
    Table,
    /// What a range adjuster is made of.
    System,
}

impl FileKind {
    /// `None` for a text that is no TOML, or that has none of the keys.
    fn of(text: &str) -> Option<Self> {
        let table: toml::Table = text.parse().ok()?;
        let has = |keys: &[&str]| keys.iter().any(|key| table.contains_key(*key));
        let kinds = [
            (Self::Bay, &["marks", "heights_from"][..]),
            (Self::System, &["component"]),
            (Self::Table, &["setting", "from_lamp_mark"]),
            (Self::Job, &["job", "traffic", "shot"]),
        ];
        kinds.into_iter().find(|(_, keys)| has(keys)).map(|(kind, _)| kind)
    }

    const fn called(self) -> &'static str {
        match self {
            Self::Job => "a job's file (one car)",
            Self::Bay => "a wall's file (where its sheets hang)",
            Self::Table => "a table of limits",
            Self::System => "a system's file (what a range adjuster is made of)",
        }
    }

    /// The error where `text`, which was given for this, is another of the files; else the one that there was.
    pub fn wanted(self, path: &Path, text: &str, otherwise: Error) -> Error {
        let Some(found) = Self::of(text).filter(|found| *found != self) else {
            return otherwise;
        };
        let quoted = super::quoted(&path.display().to_string());
        let named = match found {
            Self::Bay => format!("a job file names it with bay = {quoted}"),
            Self::Table => format!("a job file names it with tolerance = {quoted}"),
            Self::System => format!("a job file names it with system = {quoted}"),
            Self::Job => String::new(),
        };
        let instead = match (self, found) {
            (Self::Job, Self::Bay) => format!(
                "give the job's file or its folder; {named}. Photos without a job are read with beamfall measure PHOTO … --bay {}",
                path.display()
            ),
            (Self::Job, Self::System) => {
                format!("give the job's file or its folder; {named}. By itself beamfall isolate takes it")
            }
            (Self::Job, _) => format!("give the job's file or its folder; {named}"),
            (Self::Bay, Self::Job) => "give the file that it names behind bay =".to_owned(),
            (Self::Bay, _) => format!("give the wall's own file; {named}"),
            (Self::Table, Self::Job) | (Self::System, Self::Job) => {
                "give the name of one that is shipped, or the path of one in the same form".to_owned()
            }
            (Self::Table | Self::System, _) => {
                format!("give the name of one that is shipped, or the path of one in the same form; {named}")
            }
        };
        Error::in_file(
            path,
            format!("is {}, and {} is wanted here: {instead}", found.called(), self.called()),
        )
    }
}

#[cfg(test)]
mod tests {
    use crate::record::{Bay, Job, System, ToleranceTable};
    use std::path::Path;

    /// Each of the files given for each other says what it is and what to give instead, and no key is accused.
    #[test]
    fn a_file_given_for_another_is_called_what_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let shipped = |name: &str| std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap();
        let write = |name: &str, text: String| {
            let path = folder.path().join(name);
            std::fs::write(&path, text).unwrap();
            path
        };
        let job = write("job.toml", shipped("sample-photos/job.toml"));
        let bay = write("bay.toml", shipped("sample-photos/bay.toml"));
        let table = write("limits.toml", shipped("calibration/tolerances/un-r48.toml"));
        let mark = write("mark.toml", shipped("calibration/tolerances/lamp-mark.toml"));
        let system = write("system.toml", shipped("calibration/systems/vacuum-cabin-control.toml"));
        let as_job = |path: &Path| Job::read(path).unwrap_err().to_string();
        let as_bay = |path: &Path| Bay::read(path).unwrap_err().to_string();
        let as_table = |path: &Path| {
            ToleranceTable::find(&path.display().to_string(), Path::new(""), None)
                .unwrap_err()
                .to_string()
        };
        let as_system = |path: &Path| {
            System::find(&path.display().to_string(), Path::new(""))
                .unwrap_err()
                .to_string()
        };
        for (said, is, instead) in [
            (as_job(&bay), "is a wall's file", "--bay "),
            (as_job(&table), "is a table of limits", "tolerance = "),
            (as_job(&mark), "is a table of limits", "tolerance = "),
            (as_job(&system), "is a system's file", "system = "),
            (as_bay(&job), "is a job's file", "names behind bay ="),
            (as_bay(&system), "is a system's file", "system = "),
            (as_table(&job), "is a job's file", "is shipped"),
            (as_table(&bay), "is a wall's file", "bay = "),
            (as_system(&table), "is a table of limits", "tolerance = "),
        ] {
            assert!(
                said.contains(is) && said.contains(instead) && !said.contains("there is no key"),
                "{said}"
            );
        }
        // What is wrong in a file of the right kind is said as ever.
        let slip = write(
            "slip.toml",
            shipped("sample-photos/job.toml").replace("traffic =", "trafic ="),
        );
        assert!(as_job(&slip).contains("did you mean traffic?"), "{}", as_job(&slip));
    }
}
