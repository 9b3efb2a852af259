//! What a report rests on, so that a stranger can check it again: digests of every photo and every file that was read, the
//! program, every figure at full precision, and digests of the report's own files. [`verify()`] checks it again.

mod differ;
mod key;
mod paper;
mod verify;

pub use differ::Difference;
pub use key::{PublicKey, SecretKey};
pub use verify::{Fault, SignatureState, Verified, verify};

use crate::digest;
use crate::error::Error;
use crate::language::Language;
use crate::record::{Job, SCHEMA, Source, System, ToleranceTable};
use crate::run::Findings;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

/// The evidence's file in a report.
pub const FILE: &str = "evidence.json";
/// Its signature, where it was signed: the 64 bytes of RFC 8032.
pub const SIGNATURE: &str = "evidence.sig";

/// What stands in `evidence.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Version of this format.
    pub schema: u32,
    /// Name and version of the program.
    pub program: String,
    /// SHA-256 of the program's own file, hexadecimal: two builds of one version may differ in last digits.
    pub build: String,
    /// The job's own number or name.
    pub job: String,
    /// The language that its words are in; evidence without it is of a report in English.
    #[serde(default)]
    pub language: Language,
    /// True when the photos were drawn by a program.
    pub made_photos: bool,
    /// The job file, as seen from the report's folder.
    pub job_file: String,
    /// All that was read. Paths are as the job names them, that of the job file itself as above.
    pub read: Vec<Read>,
    /// The report's files beside this one.
    pub written: Vec<Written>,
    /// The photos out of which place and names were taken to hand them over.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without_place: Vec<WithoutPlace>,
    /// What was found, at full precision.
    pub figures: Figures,
}

/// A photo that was changed to be handed over: where and by whom it was taken is blanked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WithoutPlace {
    /// The photo, as the job names it.
    pub photo: String,
    /// SHA-256 of the file that is handed over, hexadecimal.
    pub sha256: String,
    /// SHA-256 of the file as it was taken.
    pub as_taken: String,
}

/// What a file is to a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The job file.
    Job,
    /// A bay file.
    Bay,
    /// The tolerance table.
    Table,
    /// The system of the range adjuster.
    System,
    /// A photo: of a shot, a bracket, with the lamp off, of the wall, or of a trial.
    Photo,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Read {
    /// What it is to the job.
    pub kind: Kind,
    /// Its path, or the name of what comes with the program.
    pub path: String,
    /// SHA-256, hexadecimal; null where it could not be read.
    pub sha256: Option<String>,
}

/// A file of the report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// Its path in the report's folder.
    pub path: String,
    /// SHA-256, hexadecimal.
    pub sha256: String,
}

/// Figures at full precision, each with its name.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Figures {
    /// Of each photo in the job's order, per cent; or why it gave none.
    pub readings: Vec<Reading>,
    /// What the range adjuster does, as in `results.json`, unrounded.
    pub adjuster: serde_json::Value,
}

/// What one shot gave.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The photo, as the job names it.
    pub photo: String,
    /// Downward inclination, per cent.
    pub percent: Option<f64>,
    /// Half-width of its 95 % interval, per cent.
    pub u95_percent: Option<f64>,
    /// The part of it that differs from photo to photo, per cent.
    pub reading_u95_percent: Option<f64>,
    /// Why there is none.
    pub refused: Option<String>,
}

impl Evidence {
    /// Of a report's `files`, which are to lie in `folder`.
    ///
    /// # Errors
    /// [`Error`] where a photo changed since it was read, or the program's own file cannot be read.
    pub(crate) fn of(
        language: Language,
        findings: &Findings,
        folder: &Path,
        files: &[(PathBuf, Vec<u8>)],
    ) -> Result<Self, Error> {
        let written = |(path, bytes): &(PathBuf, Vec<u8>)| Written {
            path: slashed(path),
            sha256: digest::of(bytes),
        };
        let job_file = path_from(folder, &findings.path);
        Ok(Self {
            schema: SCHEMA,
            program: crate::PROGRAM.to_owned(),
            build: build()?,
            job: findings.job.job.clone(),
            language,
            made_photos: findings.job.made_photos,
            read: read_by(&findings.job, &findings.path, &slashed(&job_file), findings)?,
            job_file: slashed(&job_file),
            written: files.par_iter().map(written).collect(),
            without_place: Vec::new(),
            figures: Figures::of(findings)?,
        })
    }
}

impl Figures {
    fn of(findings: &Findings) -> Result<Self, Error> {
        let reading = |reading: &crate::aim::ShotReading| {
            let aim = reading.result.as_ref().ok().map(|measured| &measured.aim);
            Reading {
                photo: slashed(&reading.shot.photo),
                percent: aim.map(|aim| aim.inclination_percent),
                u95_percent: aim.map(crate::aim::Aim::u95_percent),
                reading_u95_percent: aim.map(crate::aim::Aim::reading_u95_percent),
                refused: reading.result.as_ref().err().map(|refusal| refusal.reason.to_string()),
            }
        };
        Ok(Self {
            readings: findings.readings.iter().map(reading).collect(),
            adjuster: serde_json::to_value(&findings.adjuster).map_err(|e| Error::make("the evidence", e))?,
        })
    }
}

/// All that a job reads, with digests.
fn read_by(job: &Job, path: &Path, job_file: &str, findings: &Findings) -> Result<Vec<Read>, Error> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let of_source = |kind: Kind, source: Source| Read {
        kind,
        path: source.named,
        sha256: Some(digest::of(source.text.as_bytes())),
    };
    let mut read = vec![Read {
        kind: Kind::Job,
        path: job_file.to_owned(),
        sha256: digest::of_file(path),
    }];
    read.extend(each_once(job.walls()).map(|bay| Read {
        kind: Kind::Bay,
        path: slashed(bay),
        sha256: digest::of_file(&folder.join(bay)),
    }));
    if let Some(name) = &job.tolerance {
        read.push(of_source(Kind::Table, ToleranceTable::source(name, folder)?));
    }
    if let Some(name) = &job.system {
        read.push(of_source(Kind::System, System::source(name, folder)?));
    }
    let photos: Vec<&PathBuf> = each_once(photos_of(job)).collect();
    let digests: Vec<Option<String>> = photos
        .par_iter()
        .map(|photo| digest::of_file(&folder.join(photo)))
        .collect();
    let as_read = as_read(findings);
    for (photo, sha256) in photos.into_iter().zip(digests) {
        let before = as_read.get(photo.as_path()).map(|before| (*before).clone());
        if sha256.is_some() && before.is_some() && sha256 != before {
            return Err(Error::in_file(
                &folder.join(photo),
                "changed while the report was made; run the command again",
            ));
        }
        read.push(Read {
            kind: Kind::Photo,
            path: slashed(photo),
            sha256: before.or(sha256),
        });
    }
    Ok(read)
}

/// Digests of photos at the time when they were read.
fn as_read(findings: &Findings) -> BTreeMap<&Path, &String> {
    let own = findings
        .readings
        .iter()
        .filter_map(|one| Some((one.shot.photo.as_path(), one.sha256.as_ref()?)));
    let others = findings.readings.iter().flat_map(|one| &one.others);
    own.chain(others.map(|other| (other.photo.as_path(), &other.sha256)))
        .collect()
}

/// All photos that a job names, each once.
pub(crate) fn photos(job: &Job) -> impl Iterator<Item = &PathBuf> {
    each_once(photos_of(job))
}

/// The other files that a job in this folder names: bays, and a table and a system that do not come with the program.
pub(crate) fn papers_of(job: &Job, folder: &Path) -> Vec<PathBuf> {
    let others = job.tolerance.iter().chain(&job.system).map(PathBuf::from);
    let others = others.filter(|path| folder.join(path).is_file());
    each_once(job.walls()).cloned().chain(others).collect()
}

/// All photos that a job names.
fn photos_of(job: &Job) -> impl Iterator<Item = &PathBuf> {
    let of_shots =
        (job.shot.iter()).flat_map(|shot| std::iter::once(&shot.photo).chain(&shot.brackets).chain(&shot.lamp_off));
    let of_trials = job
        .trial
        .iter()
        .flat_map(|trial| trial.still.iter().chain(&trial.driven));
    of_shots.chain(&job.wall_photos).chain(of_trials)
}

fn each_once<'a>(paths: impl Iterator<Item = &'a PathBuf>) -> impl Iterator<Item = &'a PathBuf> {
    let mut seen = std::collections::HashSet::new();
    paths.filter(move |path| seen.insert(*path))
}

/// SHA-256 of this program's own file, hexadecimal.
fn build() -> Result<String, Error> {
    let path = std::env::current_exe().map_err(|e| Error::make("the evidence", e))?;
    digest::of_file(&path).ok_or_else(|| {
        Error::in_file(
            &path,
            "the program's own file cannot be read; its digest is part of the evidence",
        )
    })
}

/// A path with `/` between its parts on every system.
pub(super) fn slashed(path: &Path) -> String {
    path.components()
        .map(|part| match part {
            Component::RootDir => String::new(),
            part => part.as_os_str().to_string_lossy().into_owned(),
        })
        .collect::<Vec<_>>()
        .join("/")
}

/// The way from a folder to a file; the file's whole path where they share no root.
fn path_from(folder: &Path, file: &Path) -> PathBuf {
    // A folder that is not there yet lies in one that is.
    let whole = |path: &Path| {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let there = path.ancestors().find(|one| one.exists()).unwrap_or(&path).to_owned();
        let rest = path.strip_prefix(&there).map(Path::to_owned).unwrap_or_default();
        there.canonicalize().map(|there| there.join(rest)).unwrap_or(path)
    };
    let (folder, file) = (whole(folder), whole(file));
    let common = folder
        .components()
        .zip(file.components())
        .take_while(|(a, b)| a == b)
        .count();
    if common == 0 {
        return file;
    }
    let up = folder.components().skip(common).map(|_| Component::ParentDir);
    up.chain(file.components().skip(common)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn evidence_of_before_there_were_languages_is_english() {
        let evidence = |language: &str| {
            let text = format!(
                r#"{{"schema": 1, "program": "beamfall 0.1.0", "build": "", "job": "W", {language} "made_photos": false,
                "job_file": "../job.toml", "read": [], "written": [], "figures": {{"readings": [], "adjuster": null}}}}"#
            );
            serde_json::from_str::<Evidence>(&text).map(|evidence| evidence.language)
        };
        assert_eq!(evidence("").unwrap(), Language::English);
        assert_eq!(evidence(r#""language": "de","#).unwrap(), Language::German);
        assert!(evidence(r#""language": "xx","#).is_err());
    }

    #[test]
    fn a_way_goes_up_and_down() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::create_dir_all(at("a/b")).unwrap();
        std::fs::write(at("a/job.toml"), "").unwrap();
        for (from, way) in [
            ("a/b", "../job.toml"),
            ("a", "job.toml"),
            ("c/not/there", "../../../a/job.toml"),
        ] {
            assert_eq!(slashed(&path_from(&at(from), &at("a/job.toml"))), way, "{from}");
        }
    }
}
