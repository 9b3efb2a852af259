//! Reads a report's evidence again: every digest, and every figure from the photos.

use super::super::files;
use super::differ::{self, Closeness, Difference, SaidIn};
use super::{Evidence, FILE, Figures, Kind, PublicKey, Read, SIGNATURE, build, read_by};
use crate::bounded_file;
use crate::digest;
use crate::error::Error;
use crate::language::{Language, said};
use crate::record::{SCHEMA, Source, System, ToleranceTable};
use crate::run::{Options, Run};
use serde::Serialize;
use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};

/// Most bytes of an evidence file: one of 10 000 shots takes some 8 MB.
const MOST_BYTES: u64 = 50_000_000;

/// What came of reading a report's evidence again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verified {
    /// The job's own number or name.
    pub job: String,
    /// Files that are as they were: of those read, and of the report.
    pub unchanged: [usize; 2],
    /// Figures that came out again.
    pub figures: usize,
    /// The program that made the report, where it is not this build of it.
    pub other_program: Option<String>,
    /// Whether the evidence is signed, and checked by a key.
    pub signature: SignatureState,
    /// What is not as it was; empty for a report that holds.
    pub faults: Vec<Fault>,
}

/// Whether evidence is signed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SignatureState {
    /// There is no signature.
    None,
    /// There is one, and no key was given to check it by.
    Unchecked,
    /// It is by the key that was given.
    ByKey,
    /// It is not by the key that was given, or what it signs has changed.
    NotByKey,
}

/// One thing that is not as it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// A file is not there, or cannot be read.
    Missing {
        /// What it is.
        what: &'static str,
        /// Its path.
        path: String,
    },
    /// A file has other bytes.
    Changed {
        /// What it is.
        what: &'static str,
        /// Its path.
        path: String,
    },
    /// A file belongs to the job or the report, and the evidence does not list it; or the other way round.
    Unlisted {
        /// What it is.
        what: &'static str,
        /// Its path.
        path: String,
    },
    /// A file of the report says something else than the photos.
    Says {
        /// The file.
        file: String,
        /// Where, what stands there, and what should.
        difference: Difference,
    },
    /// The evidence is not signed, or by another key.
    Signature(&'static str),
    /// The job cannot be read any more, so that no figure was worked out again.
    NotRead(String),
}

impl Fault {
    /// The fault in the language in which its report was verified.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        match self {
            Self::Missing { what, path } => said!(
                language; "{what} {path}: is not there, or cannot be read", "{what} {path}: fehlt oder ist nicht lesbar"
            ),
            Self::Changed { what, path } => said!(
                language; "{what} {path}: has changed since the report was made",
                "{what} {path}: wurde seit der Erstellung des Berichts geändert"
            ),
            Self::Unlisted { what, path } => said!(
                language; "{what} {path}: is not the same in the evidence and in the job",
                "{what} {path}: ist im Nachweis und im Auftrag nicht dasselbe"
            ),
            Self::Says { file, difference } => said!(
                language; "{file}, {}: says {}, worked out anew it is {}", "{file}, {}: sagt {}, neu berechnet {}";
                difference.place, difference.stated, difference.found
            ),
            Self::Signature(what) => said!(language; "signature: {what}", "Signatur: {what}"),
            Self::NotRead(why) => said!(
                language; "the figures were not worked out again: {why}", "die Werte wurden nicht neu berechnet: {why}"
            ),
        }
    }
}

/// Reads the evidence in a report's folder again. `job` is where the job file lies now, if not where it lay; `key` is whose signature is
/// expected. What is not as it was is told in `language`, whatever the report's own. All photos are read anew.
///
/// # Errors
/// [`Error`] for a folder that holds no evidence that can be read. What is not as it was is no error, but a [`Fault`].
pub fn verify(
    language: Language,
    folder: &Path,
    job: Option<&Path>,
    key: Option<&PublicKey>,
    options: &Options<'_>,
) -> Result<Verified, Error> {
    let path = folder.join(FILE);
    if folder.is_file() {
        let mend = "is a file; give the folder that beamfall report wrote, and unpack it first where it came packed";
        return Err(Error::in_file(folder, mend.to_owned()));
    }
    let bytes = bounded_file::read(&path, MOST_BYTES).map_err(|why| {
        Error::in_file(
            &path,
            format!("{}; give the folder that beamfall report wrote", why.english()),
        )
    })?;
    let evidence: Evidence = serde_json::from_slice(&bytes)
        .map_err(|e| Error::in_file(&path, format!("is no evidence of a report: {e}")))?;
    if evidence.schema != SCHEMA {
        return Err(Error::in_file(
            &path,
            format!(
                "has schema {}, and this program reads {SCHEMA}; use the program that made it",
                evidence.schema
            ),
        ));
    }
    let this_build = evidence.program == crate::PROGRAM && evidence.build == build()?;
    let mut check = Check {
        language,
        folder,
        evidence: &evidence,
        closeness: if this_build {
            Closeness::Same
        } else {
            Closeness::LastDigit
        },
        faults: Vec::new(),
        unchanged: [0; 2],
        figures: 0,
    };
    let signature = check.signature(&bytes, key);
    check.written();
    let job_file = job.map_or_else(
        || folder.join(&evidence.job_file),
        |job| crate::run::job_file(job).unwrap_or(job.to_owned()),
    );
    check.read(&job_file);
    check.figures(&job_file, options);
    Ok(Verified {
        job: evidence.job.clone(),
        unchanged: check.unchanged,
        figures: check.figures,
        other_program: (!this_build).then(|| {
            let is_version = evidence.program != crate::PROGRAM;
            if is_version {
                evidence.program.clone()
            } else {
                said!(language; "another build of {}", "einem anderen Build von {}"; evidence.program)
            }
        }),
        signature,
        faults: check.faults,
    })
}

/// A check on its way.
struct Check<'a> {
    language: Language,
    folder: &'a Path,
    evidence: &'a Evidence,
    closeness: Closeness,
    faults: Vec<Fault>,
    unchanged: [usize; 2],
    figures: usize,
}

impl Check<'_> {
    fn signature(&mut self, bytes: &[u8], key: Option<&PublicKey>) -> SignatureState {
        let path = self.folder.join(SIGNATURE);
        let signature = path
            .exists()
            .then(|| bounded_file::read(&path, 1000).unwrap_or_default());
        match (signature, key) {
            (None, None) => SignatureState::None,
            (None, Some(_)) => {
                self.faults.push(Fault::Signature(self.language.pick(
                    "there is none, and one was expected",
                    "fehlt, obwohl eine erwartet wurde",
                )));
                SignatureState::None
            }
            (Some(_), None) => SignatureState::Unchecked,
            (Some(signature), Some(key)) if key.has_signed(bytes, &signature) => SignatureState::ByKey,
            (Some(_), Some(_)) => {
                self.faults.push(Fault::Signature(self.language.pick(
                    "is not by this key, or the evidence has changed since it was signed",
                    "ist nicht von diesem Schlüssel, oder der Nachweis wurde seit der Signatur geändert",
                )));
                SignatureState::NotByKey
            }
        }
    }

    /// The report's own files.
    fn written(&mut self) {
        for file in &self.evidence.written {
            let (what, path) = (of_report(self.language), file.path.clone());
            match inside(&file.path).and_then(|path| digest::of_file(&self.folder.join(path))) {
                None => self.faults.push(Fault::Missing { what, path }),
                Some(digest) if digest != file.sha256 => self.faults.push(Fault::Changed { what, path }),
                Some(_) => self.unchanged[1] += 1,
            }
        }
    }

    /// What the job was read from.
    fn read(&mut self, job_file: &Path) {
        let folder = job_file.parent().unwrap_or(Path::new(""));
        for read in &self.evidence.read {
            let of_source = |source: Result<Source, Error>| Some(digest::of(source.ok()?.text.as_bytes()));
            let digest = match read.kind {
                Kind::Job => digest::of_file(job_file),
                Kind::Table => of_source(ToleranceTable::source(&read.path, folder)),
                Kind::System => of_source(System::source(&read.path, folder)),
                Kind::Bay | Kind::Photo => digest::of_file(&folder.join(&read.path)),
            };
            let (what, path) = (word(self.language, read.kind), read.path.clone());
            match (digest, &read.sha256) {
                (None, None) => self.unchanged[0] += 1,
                (None, Some(_)) => self.faults.push(Fault::Missing { what, path }),
                (digest, before) if digest != *before => self.faults.push(Fault::Changed { what, path }),
                _ => self.unchanged[0] += 1,
            }
        }
    }

    /// Every figure, from the photos anew.
    fn figures(&mut self, job_file: &Path, options: &Options<'_>) {
        let made = Run::read(job_file, &options.with_pictures()).and_then(|findings| {
            let read = read_by(&findings.job, &findings.path, &self.evidence.job_file, &findings)?;
            let figures = Figures::of(&findings)?;
            Ok((read, figures, files(self.evidence.language, &findings)?))
        });
        let (read, figures, files) = match made {
            Ok(made) => made,
            Err(error) => return self.faults.push(Fault::NotRead(error.to_string())),
        };
        self.listed(&read, &files);
        let said_in = SaidIn {
            report: self.evidence.language,
            faults: self.language,
        };
        self.stated(&figures);
        for (name, found) in &files {
            let name = super::slashed(name);
            let Some(stated) = bounded_file::read(&self.folder.join(&name), bounded_file::MOST_PHOTO_BYTES).ok() else {
                continue;
            };
            for difference in differ::of_file(said_in, &name, &stated, found, self.closeness) {
                self.faults.push(Fault::Says {
                    file: name.clone(),
                    difference,
                });
            }
        }
    }

    /// Whether the evidence lists what the job reads and what a report has.
    fn listed(&mut self, read: &[Read], files: &[(PathBuf, Vec<u8>)]) {
        let name = |read: &Read| (read.kind, read.path.clone());
        let (now, then): (BTreeSet<_>, BTreeSet<_>) = (
            read.iter().map(name).collect(),
            self.evidence.read.iter().map(name).collect(),
        );
        for (kind_of, path) in now.symmetric_difference(&then) {
            self.faults.push(Fault::Unlisted {
                what: word(self.language, *kind_of),
                path: path.clone(),
            });
        }
        let now: BTreeSet<String> = files.iter().map(|(path, _)| super::slashed(path)).collect();
        let then: BTreeSet<String> = self.evidence.written.iter().map(|file| file.path.clone()).collect();
        for path in now.symmetric_difference(&then) {
            self.faults.push(Fault::Unlisted {
                what: of_report(self.language),
                path: path.clone(),
            });
        }
        if self.closeness != Closeness::Same {
            return;
        }
        // Enough of a digest to tell it by; what the evidence has may be any text.
        let short = |digest: &str| digest.chars().take(12).collect::<String>();
        for (path, bytes) in files {
            let (path, found) = (super::slashed(path), digest::of(bytes));
            let stated = self.evidence.written.iter().find(|file| file.path == path);
            if let Some(stated) = stated.filter(|stated| stated.sha256 != found) {
                self.faults.push(Fault::Says {
                    file: FILE.to_owned(),
                    difference: Difference {
                        place: said!(self.language; "the digest of {path}", "die Prüfsumme von {path}"),
                        stated: short(&stated.sha256),
                        found: short(&found),
                    },
                });
            }
        }
    }

    /// The evidence's own figures.
    fn stated(&mut self, figures: &Figures) {
        let values = [&self.evidence.figures, figures].map(|figures| serde_json::to_value(figures).unwrap_or_default());
        let [stated, found] = values;
        let mut differences = Vec::new();
        differ::of_json(
            self.language,
            "figures",
            &stated,
            &found,
            self.closeness,
            &mut differences,
        );
        self.figures = count(&found).saturating_sub(differences.len());
        self.faults
            .extend(differences.into_iter().map(|difference| Fault::Says {
                file: FILE.to_owned(),
                difference,
            }));
    }
}

/// How many numbers a value holds.
fn count(value: &serde_json::Value) -> usize {
    match value {
        serde_json::Value::Number(_) => 1,
        serde_json::Value::Array(all) => all.iter().map(count).sum(),
        serde_json::Value::Object(all) => all.values().map(count).sum(),
        _ => 0,
    }
}

/// A path that leads nowhere out of its folder.
fn inside(path: &str) -> Option<&Path> {
    let path = Path::new(path);
    path.components()
        .all(|part| matches!(part, Component::Normal(_)))
        .then_some(path)
}

fn word(language: Language, kind: Kind) -> &'static str {
    match kind {
        Kind::Job => language.pick("the job file", "die Auftragsdatei"),
        Kind::Bay => language.pick("the bay file", "die Messplatzdatei"),
        Kind::Table => language.pick("the tolerance table", "die Toleranztabelle"),
        Kind::System => language.pick("the system", "das System"),
        Kind::Photo => language.pick("the photo", "das Foto"),
    }
}

/// What a file of the report is called before its path.
fn of_report(language: Language) -> &'static str {
    language.pick("the report's", "die Datei des Berichts")
}
