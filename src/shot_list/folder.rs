//! The photos of a folder in the order in which they were taken, and what is known of each before it is paired.

use crate::bounded_file;
use crate::digest;
use crate::error::Error;
use crate::language::{Language, Said, said};
use crate::photo::{Capture, Photo};
use crate::record::Job;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

/// A photo of the folder that no entry of the job names.
#[derive(Debug, Clone)]
pub struct TakenPhoto {
    /// Name of the file.
    pub name: String,
    /// The file as the job will name it: relative to the job file, with forward slashes.
    pub listed_as: String,
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
    /// What EXIF says of the capture.
    pub capture: Capture,
    /// Time by which the photos were put in order, s: that of [`Capture::clock_s`], from UTC where every photo tells its
    /// offset.
    pub time_s: f64,
    /// How bright the brightest of the picture is: luminance at the 99.7th percentile, over exposure (time × ISO /
    /// f-number²) where EXIF tells that.
    pub brightness: f64,
    /// The same before the exposure is divided out, as a share of full scale.
    pub light: f64,
}

impl TakenPhoto {
    /// Whether the brightness of both is over exposure, or of neither: only then can it be compared.
    pub(super) fn is_as_told_as(&self, other: &Self) -> bool {
        exposure_amount(&self.capture).is_some() == exposure_amount(&other.capture).is_some()
    }
}

/// A photo that stays out of the pairing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Name of the file.
    pub name: String,
    /// Why.
    pub why: String,
}

/// What a folder holds.
#[derive(Debug, Clone)]
pub struct Folder {
    /// Photos to pair, by time, then by name.
    pub photos: Vec<TakenPhoto>,
    /// Photos that are in the job already, and those that were to be skipped.
    pub left_out: Vec<LeftOut>,
    /// How many of those left out are in the job already.
    pub in_job: usize,
    /// Photos whose place in the order is not known; none where that is an error.
    pub unplaced: Vec<Unplaced>,
    /// What is to be said of the folder.
    pub warnings: Vec<String>,
    /// How they came there.
    pub numbers: Numbers,
}

/// A photo whose place in the order is not known. Of photos that were sent by whoever sees them beside the others it is told there, and no error.
#[derive(Debug, Clone)]
pub struct Unplaced {
    /// Name of the file.
    pub name: String,
    /// Why its place is not known, and how to mend it.
    pub why: Said,
    /// What can be read, and lacks only its time.
    pub photo: Option<TakenPhoto>,
}

/// Who numbered the files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Numbers {
    /// The camera, as it took them: numbers that fall tell of a clock that was set.
    OfCamera,
    /// Whoever took them in, as they arrived: they tell nothing.
    OfArrival,
}

/// Endings of files that are read.
const PHOTOS: [&str; 5] = ["jpg", "jpeg", "png", "tif", "tiff"];
/// Endings of photos that are not read.
const OTHER_PHOTOS: [&str; 6] = ["heic", "heif", "avif", "dng", "webp", "jxl"];
/// Share of pixels that are darker than the brightness of a photo: above it lies the beam's middle, not a single glint
/// (common practice, no source).
const BRIGHT_SHARE: f64 = 0.997;

/// Reads the photos of `folder` that `job` (the file at `job_path`) does not name. `skip` names files to leave out.
/// `step_done` is called once for each photo read.
///
/// # Errors
/// [`Error`] where the folder or a photo in it cannot be read, a photo carries no time, two are one photo, or a
/// name in `skip` is not there. All photos at fault are named at once; with [`Numbers::OfArrival`] they are no error but [`Folder::unplaced`].
pub fn read_folder(
    language: Language,
    folder: &Path,
    job: &Job,
    job_path: &Path,
    skip: &[PathBuf],
    numbers: Numbers,
    step_done: &(dyn Fn() + Sync),
) -> Result<Folder, Error> {
    let names = photo_names(language, folder)?;
    let base = job_folder(job_path);
    let (here, there) = (canonical(folder)?, canonical(&base)?);
    let (wanted, mut left_out) = without_skipped(names.photos, skip, folder, &here)?;
    let listed = Listed::of(job, &base);
    let looks: Vec<Result<Look, Said>> = wanted
        .par_iter()
        .map(|name| {
            let look = look(&here, name, &listed, numbers);
            step_done();
            look.map_err(|why| Said::of(|language| format!("{name}: {}", why.within(language))))
        })
        .collect();
    let (mut photos, mut unplaced, mut in_job): (Vec<TakenPhoto>, Vec<Unplaced>, _) = (Vec::new(), Vec::new(), 0);
    for (name, look) in wanted.into_iter().zip(looks) {
        match look {
            Ok(Look::InJob(entry)) => {
                in_job += 1;
                left_out.push(LeftOut {
                    why: in_job_already(&name, &entry),
                    name,
                });
            }
            Ok(Look::Timeless(mut photo, why)) => {
                photo.listed_as = relative(&there, &here.join(&name));
                photo.name.clone_from(&name);
                let why = Said::of(|language| format!("{name}: {}", why.within(language)));
                unplaced.push(Unplaced {
                    name,
                    why,
                    photo: Some(*photo),
                });
            }
            Ok(Look::New(mut photo)) => {
                photo.listed_as = relative(&there, &here.join(&name));
                photo.name = name;
                match photos.iter().find(|other| other.sha256 == photo.sha256) {
                    Some(same) => {
                        let why = Said::of(|language| {
                            let mend = match numbers {
                                Numbers::OfCamera => {
                                    language.pick("leave one out with --skip", "eines mit --skip auslassen")
                                }
                                Numbers::OfArrival => language.pick(
                                    "send the others without one of the two",
                                    "die anderen ohne eines der beiden senden",
                                ),
                            };
                            let (one, same) = (&photo.name, &same.name);
                            said!(
                                language; "{one}: is the same photo as {same}; {mend}", "{one}: ist dasselbe Foto wie {same}; {mend}"
                            )
                        });
                        unplaced.push(Unplaced {
                            name: photo.name.clone(),
                            why,
                            photo: None,
                        });
                    }
                    None => photos.push(*photo),
                }
            }
            Err(why) => unplaced.push(Unplaced { name, why, photo: None }),
        }
    }
    if !unplaced.is_empty() && numbers == Numbers::OfCamera {
        return Err(Error::file_said(|language| {
            let all: Vec<&str> = unplaced.iter().map(|one| one.why.within(language)).collect();
            format!("{}: {}", folder.display(), all.join("\n  "))
        }));
    }
    let mut warnings = names.warnings;
    in_order(language, &mut photos, numbers, &mut warnings);
    warnings.extend(processed(language, &photos));
    Ok(Folder {
        photos,
        left_out,
        in_job,
        unplaced,
        numbers,
        warnings,
    })
}

/// Takes the files to skip out of `names`; `here` is the folder's whole path.
fn without_skipped(
    names: Vec<String>,
    skip: &[PathBuf],
    folder: &Path,
    here: &Path,
) -> Result<(Vec<String>, Vec<LeftOut>), Error> {
    let is_meant = |path: &PathBuf, name: &String| {
        path.as_os_str() == name.as_str() || path.canonicalize().ok() == Some(here.join(name))
    };
    if let Some(path) = skip.iter().find(|path| !names.iter().any(|name| is_meant(path, name))) {
        return Err(Error::file_said(|language| {
            said!(
                language;
                "{}: holds no photo {} to skip; give a file's name in it",
                "{}: enthält kein Foto {} zum Auslassen; den Namen einer Datei darin angeben";
                folder.display(),
                path.display()
            )
        }));
    }
    let (skipped, wanted): (Vec<String>, Vec<String>) = names
        .into_iter()
        .partition(|name| skip.iter().any(|path| is_meant(path, name)));
    let left_out = skipped.into_iter().map(|name| LeftOut {
        name,
        why: "skipped".to_owned(),
    });
    Ok((wanted, left_out.collect()))
}

/// The same words for all photos that go by their own name in the job.
fn in_job_already(name: &str, entry: &str) -> String {
    if Path::new(entry).file_name().is_some_and(|listed| listed == name) {
        "in the job already".to_owned()
    } else {
        format!("in the job already, under the name {entry}")
    }
}

/// The names of the photos in a folder, sorted, as [`read_folder`] sees them.
///
/// # Errors
/// [`Error`] where the folder cannot be read or holds no photo.
pub(crate) fn names_of_photos(folder: &Path) -> Result<Vec<String>, Error> {
    photo_names(Language::English, folder).map(|names| names.photos)
}

/// The names of the photos in a folder, sorted.
struct Names {
    photos: Vec<String>,
    warnings: Vec<String>,
}

fn photo_names(language: Language, folder: &Path) -> Result<Names, Error> {
    let fail = |e: std::io::Error| {
        let mend = match e.kind() {
            std::io::ErrorKind::NotFound => "there is no such folder; check the path".to_owned(),
            std::io::ErrorKind::NotADirectory => "is a file; give the folder that holds the photos".to_owned(),
            _ => format!("cannot be read: {e}"),
        };
        Error::in_file(folder, mend)
    };
    let (mut photos, mut others, mut folders, mut files) = (Vec::new(), Vec::new(), 0, 0);
    for entry in std::fs::read_dir(folder).map_err(fail)? {
        let path = entry.map_err(fail)?.path();
        let Some(name) = path.file_name() else { continue };
        let name = name.to_str().map(str::to_owned).ok_or_else(|| {
            Error::in_file(
                &path,
                "has a name that cannot be written in a job file; rename the file",
            )
        })?;
        // Hidden files are what systems leave beside photos; some of them end like one.
        if name.starts_with('.') {
            continue;
        }
        if path.is_dir() {
            folders += 1;
            continue;
        }
        files += 1;
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        let is_one_of = |list: &[&str]| ending.as_deref().is_some_and(|e| list.contains(&e));
        if is_one_of(&PHOTOS) {
            photos.push(name);
        } else if is_one_of(&OTHER_PHOTOS) {
            others.push(name);
        }
    }
    photos.sort();
    others.sort();
    if photos.is_empty() {
        return Err(Error::file_said(|language| {
            let folder = folder.display();
            let holds = match (files, folders) {
                (0, 0) => language.pick("is empty", "ist leer").to_owned(),
                (0, 1) => language
                    .pick("holds only 1 more folder", "enthält nur einen weiteren Ordner")
                    .to_owned(),
                (0, n) => said!(language; "holds only {n} more folders", "enthält nur {n} weitere Ordner"),
                _ => language
                    .pick(
                        "holds no photo (jpg, jpeg, png, tif, tiff)",
                        "enthält kein Foto (jpg, jpeg, png, tif, tiff)",
                    )
                    .to_owned(),
            };
            let more = not_read(language, &others).map_or(String::new(), |text| format!(". {text}"));
            said!(
                language;
                "{folder}: {holds}; give the folder into which the photos were copied{more}",
                "{folder}: {holds}; den Ordner angeben, in den die Fotos kopiert wurden{more}"
            )
        }));
    }
    Ok(Names {
        photos,
        warnings: (not_read(language, &others).into_iter())
            .map(|text| said!(language; "left out: {text}", "ausgelassen: {text}"))
            .collect(),
    })
}

/// What to say of photos in formats that are not read.
fn not_read(language: Language, others: &[String]) -> Option<String> {
    let first = others.first()?;
    let more = match others.len() - 1 {
        0 => String::new(),
        n => said!(language; " and {n} more", " und {n} weitere"),
    };
    Some(said!(
        language;
        "{first}{more}: no JPEG, PNG or TIFF; set the camera to JPEG, or convert at full size with the times kept",
        "{first}{more}: kein JPEG, PNG oder TIFF; die Kamera auf JPEG einstellen oder in voller Größe mit den Zeiten umwandeln"
    ))
}

/// The files that a job names, by place and by content: a photo copied under another name is still the same photo.
struct Listed {
    places: BTreeMap<PathBuf, String>,
    digests: BTreeMap<String, String>,
}

impl Listed {
    fn of(job: &Job, base: &Path) -> Self {
        let shots = job
            .shot
            .iter()
            .flat_map(|s| [&s.photo].into_iter().chain(&s.lamp_off).chain(&s.brackets));
        let trials = job.trial.iter().flat_map(|t| t.still.iter().chain(&t.driven));
        let mut files: Vec<&PathBuf> = shots.chain(trials).collect();
        files.sort();
        files.dedup();
        let (mut places, mut digests) = (BTreeMap::new(), BTreeMap::new());
        for file in files {
            let path = base.join(file);
            let entry = file.display().to_string();
            if let Ok(place) = path.canonicalize() {
                places.insert(place, entry.clone());
            }
            // A listed file that is not there is for `measure` to tell.
            if let Ok(bytes) = bounded_file::read(&path, bounded_file::MOST_PHOTO_BYTES) {
                digests.insert(digest::of(&bytes), entry);
            }
        }
        Self { places, digests }
    }
}

enum Look {
    InJob(String),
    New(Box<TakenPhoto>),
    /// It carries no time, which the words say.
    Timeless(Box<TakenPhoto>, Said),
}

fn look(folder: &Path, name: &str, listed: &Listed, numbers: Numbers) -> Result<Look, Said> {
    let path = folder.join(name);
    if let Some(entry) = path.canonicalize().ok().and_then(|place| listed.places.get(&place)) {
        return Ok(Look::InJob(entry.clone()));
    }
    let bytes = bounded_file::read(&path, bounded_file::MOST_PHOTO_BYTES).map_err(|why| why.0)?;
    let sha256 = digest::of(&bytes);
    if let Some(entry) = listed.digests.get(&sha256) {
        return Ok(Look::InJob(entry.clone()));
    }
    let go_on = |language: Language| match numbers {
        Numbers::OfCamera => {
            said!(language; "or leave it out with --skip {name}", "oder es mit --skip {name} auslassen")
        }
        Numbers::OfArrival => said!(language; "or send the others without it", "oder die anderen ohne es senden"),
    };
    let photo = Photo::decode(&bytes)
        .map_err(|refusal| Said::of(|language| format!("{}; {}", refusal.message.within(language), go_on(language))))?;
    let capture = &photo.capture;
    let timeless = || {
        Said::of(|language| {
            let go_on = go_on(language);
            let else_how = match numbers {
                Numbers::OfCamera => language.pick("write its [[shot]] by hand", "sein [[shot]] von Hand schreiben"),
                Numbers::OfArrival => language.pick(
                    "choose it on the page of its own photo",
                    "es auf der Seite des Fotos wählen, das es sein soll",
                ),
            };
            said!(
                language;
                "carries no time (EXIF), so its place in the order is not known; copy the file as the camera wrote it, {go_on} and \
                 {else_how}",
                "trägt keine Zeit (EXIF), darum ist sein Platz in der Reihenfolge nicht bekannt; die Datei kopieren, wie die Kamera sie \
                 geschrieben hat, {go_on} und {else_how}"
            )
        })
    };
    let time_s = capture.clock_s();
    let amount = exposure_amount(capture).unwrap_or(1.0);
    let light = photo.light_ranked(BRIGHT_SHARE);
    let why = time_s.is_none().then(timeless);
    let photo = Box::new(TakenPhoto {
        name: String::new(),
        listed_as: String::new(),
        sha256,
        time_s: time_s.unwrap_or_default(),
        brightness: light / amount,
        light,
        capture: photo.capture,
    });
    Ok(match why {
        Some(why) => Look::Timeless(photo, why),
        None => Look::New(photo),
    })
}

fn exposure_amount(capture: &Capture) -> Option<f64> {
    let amount = capture.exposure_s? * f64::from(capture.iso?) / capture.f_number?.powi(2);
    (amount.is_finite() && amount > 0.0).then_some(amount)
}

/// Puts photos in the order of time, then name; from UTC where each tells its offset, as a journey or the end of summer
/// time would otherwise turn it round.
fn in_order(language: Language, photos: &mut [TakenPhoto], numbers: Numbers, warnings: &mut Vec<String>) {
    let offsets: Vec<Option<f64>> = photos.iter().map(|p| p.capture.utc_offset_s()).collect();
    if offsets.iter().all(Option::is_some) {
        for (photo, offset_s) in photos.iter_mut().zip(&offsets) {
            photo.time_s -= offset_s.unwrap_or(0.0);
        }
    }
    photos.sort_by(|a, b| a.time_s.total_cmp(&b.time_s).then_with(|| a.name.cmp(&b.name)));
    let offset = |photo: &TakenPhoto| {
        photo
            .capture
            .utc_offset
            .clone()
            .unwrap_or_else(|| language.pick("none", "keine").to_owned())
    };
    let pairs: Vec<(&TakenPhoto, &TakenPhoto)> = photos.windows(2).map(|pair| (&pair[0], &pair[1])).collect();
    let mut tell = |is: &dyn Fn(&TakenPhoto, &TakenPhoto) -> bool,
                    words: &dyn Fn(&TakenPhoto, &TakenPhoto) -> String| {
        let found: Vec<_> = pairs.iter().filter(|(a, b)| is(a, b)).collect();
        if let Some((a, b)) = found.first() {
            let more = match found.len() - 1 {
                0 => "",
                1 => language.pick(" (once more further on)", " (weiter hinten noch einmal)"),
                _ => language.pick(" (and more often further on)", " (weiter hinten noch öfter)"),
            };
            warnings.push(format!("{}{more}", words(a, b)));
        }
    };
    tell(&|a, b| a.capture.utc_offset_s() != b.capture.utc_offset_s(), &|a, b| {
        said!(
            language;
            "the clock's time zone changes from {} to {} between {} and {}; look whether the order is right",
            "die Zeitzone der Uhr wechselt von {} zu {} zwischen {} und {}; nachsehen, ob die Reihenfolge stimmt";
            offset(a),
            offset(b),
            a.name,
            b.name
        )
    });
    tell(&|a, b| a.time_s == b.time_s, &|a, b| {
        said!(
            language;
            "{} and {} were taken within the same second; their names decided the order",
            "{} und {} sind in derselben Sekunde aufgenommen; die Reihenfolge entschieden ihre Namen";
            a.name,
            b.name
        )
    });
    tell(&|a, b| a.capture.camera != b.capture.camera, &|a, b| {
        said!(
            language;
            "{} and {} are from two cameras, whose clocks need not agree",
            "{} und {} sind von zwei Kameras, deren Uhren nicht übereinstimmen müssen";
            a.name,
            b.name
        )
    });
    tell(
        &|a, b| numbers == Numbers::OfCamera && counts_back(&a.name, &b.name),
        &|a, b| {
            said!(
                language;
                "{} was taken after {} by the clock, and before it by the number in its name; was the clock set back or \
             forward on the way?",
                "{} ist nach der Uhr nach {} aufgenommen und nach der Nummer im Namen davor; wurde die Uhr unterwegs vor- oder \
             zurückgestellt?";
                b.name,
                a.name
            )
        },
    );
}

/// Signs that photos are not the camera's plain ones, while the car still stands there to take them again.
fn processed(language: Language, photos: &[TakenPhoto]) -> Vec<String> {
    let mut told: Vec<(String, &str, usize)> = Vec::new();
    for photo in photos {
        for sign in &photo.capture.processing {
            let sign = sign.said(language);
            match told.iter_mut().find(|(other, ..)| *other == sign) {
                Some((.., count)) => *count += 1,
                None => told.push((sign, &photo.name, 1)),
            }
        }
    }
    let of = |(sign, name, count): (String, &str, usize)| match count {
        1 => format!("{name}: {sign}"),
        n => said!(language; "{name} and {} more: {sign}", "{name} und {} weitere: {sign}"; n - 1),
    };
    told.into_iter().map(of).collect()
}

/// How far a camera's counter may fall before it is taken to have begun anew, after 9999: half of its range.
const COUNTER_FALLS: u32 = 5000;

/// Whether names such as IMG_0012 count down from `a` to `b`. Longer numbers are dates, which carry no more than the
/// clock does.
fn counts_back(a: &str, b: &str) -> bool {
    let counter = |name: &str| {
        let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem).to_owned();
        let head = stem.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let digits = &stem[head..];
        let number: u32 = (digits.len() < 6).then(|| digits.parse().ok()).flatten()?;
        Some((stem[..head].to_owned(), number))
    };
    match (counter(a), counter(b)) {
        (Some((head_a, n_a)), Some((head_b, n_b))) => head_a == head_b && n_b < n_a && n_a - n_b < COUNTER_FALLS,
        _ => false,
    }
}

/// The folder of the job file; photos are named from there.
fn job_folder(job_path: &Path) -> PathBuf {
    match job_path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

fn canonical(folder: &Path) -> Result<PathBuf, Error> {
    folder
        .canonicalize()
        .map_err(|e| Error::in_file(folder, format!("cannot be read: {e}")))
}

/// The way from `base` to `file`, both whole paths without links, with forward slashes; the whole path where there is
/// no way, as between two drives.
fn relative(base: &Path, file: &Path) -> String {
    let (from, to): (Vec<Component>, Vec<Component>) = (base.components().collect(), file.components().collect());
    let common = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let text = |c: &Component| c.as_os_str().to_string_lossy().into_owned();
    if common == 0 {
        return file.to_string_lossy().replace('\\', "/");
    }
    let up = from[common..].iter().map(|_| "..".to_owned());
    up.chain(to[common..].iter().map(text)).collect::<Vec<_>>().join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_relative_with_forward_slashes() {
        let way = |base: &str, file: &str| relative(Path::new(base), Path::new(file));
        assert_eq!(way("/a/job", "/a/job/photos/1.jpg"), "photos/1.jpg");
        assert_eq!(way("/a/job", "/a/card/1.jpg"), "../card/1.jpg");
        assert_eq!(way("/a", "/a/1.jpg"), "1.jpg");
    }

    #[test]
    fn counters_that_fall_are_seen_and_those_that_begin_anew_are_not() {
        assert!(counts_back("IMG_0012.jpg", "IMG_0007.jpg"));
        assert!(!counts_back("IMG_0007.jpg", "IMG_0012.jpg"));
        assert!(!counts_back("IMG_9999.jpg", "IMG_0001.jpg"), "the counter began anew");
        assert!(!counts_back("IMG_0012.jpg", "DSC_0007.jpg"), "another camera's counter");
        assert!(
            !counts_back("20310304_201505.jpg", "20310304_201500.jpg"),
            "a time, not a counter"
        );
        assert!(!counts_back("a.jpg", "b.jpg"));
    }

    fn photo(name: &str, taken: &str, utc_offset: Option<&str>) -> TakenPhoto {
        let capture = Capture {
            taken: Some(taken.to_owned()),
            utc_offset: utc_offset.map(str::to_owned),
            ..Capture::default()
        };
        TakenPhoto {
            name: name.to_owned(),
            listed_as: name.to_owned(),
            sha256: name.to_owned(),
            time_s: capture.clock_s().unwrap(),
            capture,
            brightness: 1.0,
            light: 0.5,
        }
    }

    fn ordered(mut photos: Vec<TakenPhoto>) -> (Vec<String>, Vec<String>) {
        let mut warnings = Vec::new();
        in_order(Language::English, &mut photos, Numbers::OfCamera, &mut warnings);
        (photos.into_iter().map(|p| p.name).collect(), warnings)
    }

    #[test]
    fn the_end_of_summer_time_turns_nothing_round() {
        let (names, warnings) = ordered(vec![
            photo("b.jpg", "2031-10-26T02:05:00", Some("+01:00")),
            photo("a.jpg", "2031-10-26T02:50:00", Some("+02:00")),
        ]);
        assert_eq!(
            names,
            ["a.jpg", "b.jpg"],
            "02:50 summer time is 15 minutes before 02:05 winter time"
        );
        assert!(
            warnings.len() == 1 && warnings[0].contains("+02:00 to +01:00"),
            "{warnings:?}"
        );
    }

    #[test]
    fn photos_of_one_second_go_by_name_and_it_is_said() {
        let at = "2031-03-04T20:15:00";
        let (names, warnings) = ordered(vec![photo("b2.jpg", at, None), photo("b1.jpg", at, None)]);
        assert_eq!(names, ["b1.jpg", "b2.jpg"]);
        assert!(
            warnings.len() == 1 && warnings[0].contains("same second"),
            "{warnings:?}"
        );
        let (mut first, mut second) = (photo("b2.jpg", at, None), photo("b1.jpg", at, None));
        (first.time_s, second.time_s) = (first.time_s + 0.2, second.time_s + 0.7);
        let (names, warnings) = ordered(vec![second, first]);
        assert_eq!(names, ["b2.jpg", "b1.jpg"], "the clock's fraction of a second decides");
        assert!(
            warnings.len() == 1 && warnings[0].contains("by the number"),
            "{warnings:?}"
        );
    }

    #[test]
    fn a_clock_set_back_is_seen_by_the_counter() {
        let (_, warnings) = ordered(vec![
            photo("IMG_0001.jpg", "2031-03-04T20:15:00", None),
            photo("IMG_0002.jpg", "2031-03-04T20:16:00", None),
            photo("IMG_0003.jpg", "2000-01-01T00:00:30", None),
        ]);
        assert!(
            warnings.len() == 1 && warnings[0].starts_with("IMG_0001.jpg was taken after IMG_0003.jpg"),
            "{warnings:?}"
        );
    }

    #[test]
    fn processed_photos_are_told_once_for_each_sign() {
        let at = "2031-03-04T20:15:00";
        let mut photos = vec![
            photo("1.jpg", at, None),
            photo("2.jpg", at, None),
            photo("3.jpg", at, None),
        ];
        photos[1].capture.processing = vec![crate::photo::Processing::GainMap];
        photos[2].capture.processing = vec![crate::photo::Processing::GainMap];
        let said = processed(Language::English, &photos);
        assert!(
            said.len() == 1 && said[0].starts_with("2.jpg and 1 more: the file carries"),
            "{said:?}"
        );
    }
}
