//! Takes photos in: written beside their place as they come, and put there when they are whole.

use super::guard::{Refused, only};
use super::jobs::{PHOTOS, Place};
use crate::bounded_file::MOST_PHOTO_BYTES;
use crate::language::said;
use crate::photo;
use crate::record::Job;
use crate::whole_file;
use http_body_util::BodyExt;
use hyper::StatusCode;
use hyper::body::{Bytes, Incoming};
use hyper::header::{CONTENT_LENGTH, CONTENT_TYPE, HeaderMap};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::NamedTempFile;

/// More photos than any job has.
const MOST_PHOTOS: usize = 2_000;
/// A sender that is silent for longer is gone.
const SILENCE: Duration = Duration::from_secs(10);
/// The largest photo by a slow mobile phone's network; who sends a byte now and then does not hold a place for longer.
const LONGEST: Duration = Duration::from_secs(600);
/// Longest body that is no photo.
const MOST_FORM_BYTES: u64 = 64 * 1024;

/// How a file of this kind begins, its ending, and its media type.
const KINDS: [(&[u8], &str, &str); 4] = [
    (&[0xFF, 0xD8, 0xFF], "jpg", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "png", "image/png"),
    (b"II*\0", "tif", "image/tiff"),
    (b"MM\0*", "tif", "image/tiff"),
];

/// The media type of a photo's bytes; none other is ever handed out.
pub(super) fn media_type(bytes: &[u8]) -> Option<&'static str> {
    let begins = |(start, ..): &&(&[u8], &str, &str)| bytes.starts_with(start);
    KINDS.iter().find(begins).map(|(.., media)| *media)
}

/// A JSON body.
///
/// # Errors
/// [`Refused`] for another type, one that is too long, slow, or no JSON of this kind.
pub(super) async fn json<T: serde::de::DeserializeOwned>(headers: &HeaderMap, body: Incoming) -> Result<T, Refused> {
    if only(headers, CONTENT_TYPE)? != Some("application/json") {
        return Err(Refused::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "Only this page itself may ask for that.",
            "Das darf nur diese Seite selbst anfordern.",
        ));
    }
    let mut bytes = Vec::new();
    receive(headers, body, MOST_FORM_BYTES, |part| {
        bytes.extend_from_slice(part);
        Ok(())
    })
    .await?;
    serde_json::from_slice(&bytes).map_err(|_| {
        Refused::new(
            StatusCode::BAD_REQUEST,
            "That cannot be understood.",
            "Das ist nicht zu verstehen.",
        )
    })
}

/// Where a photo that was sent lies, by its path as a job lists it.
pub(super) enum Taken {
    /// It can be entered.
    Free(String),
    /// The job has this very photo already.
    InJob(String),
}

impl Taken {
    /// The path of one that can be entered.
    ///
    /// # Errors
    /// [`Refused`] where the job has it already.
    pub fn free(self) -> Result<String, Refused> {
        match self {
            Self::Free(name) => Ok(name),
            Self::InJob(name) => Err(Refused::said(StatusCode::CONFLICT, |language| {
                said!(
                    language;
                    "This very photo is in the job already, as {name}. Take a new one, or take that one out of the job.",
                    "Genau dieses Foto ist schon im Auftrag, als {name}. Ein neues aufnehmen oder jenes aus dem Auftrag herausnehmen."
                )
            })),
        }
    }
}

/// Takes a photo in.
///
/// # Errors
/// [`Refused`] for what is no photo, is too large or too slow, and what cannot be written.
pub(super) async fn photo(place: &Place, job: &Job, headers: &HeaderMap, body: Incoming) -> Result<Taken, Refused> {
    let kind = only(headers, CONTENT_TYPE)?.unwrap_or_default();
    if !kind.starts_with("image/") {
        return Err(not_a_photo());
    }
    let folder = place.folder.join(PHOTOS);
    own_folder(&folder)?;
    let mut part = (tempfile::Builder::new().prefix(whole_file::PREFIX).tempfile_in(&folder)).map_err(unwritten)?;
    // A part of some kilobytes goes to the system's memory: that takes no longer than handing it to another thread.
    receive(headers, body, MOST_PHOTO_BYTES, |bytes| {
        part.write_all(bytes).map_err(unwritten)
    })
    .await?;
    let named = job
        .shot
        .iter()
        .flat_map(|shot| std::iter::once(&shot.photo).chain(&shot.lamp_off));
    let listed: Vec<String> = named.map(|photo| photo.to_string_lossy().into_owned()).collect();
    let put = tokio::task::spawn_blocking(move || put(part, &folder, &listed));
    put.await.map_err(Refused::failed)?
}

/// Hands a body on, part by part.
async fn receive(
    headers: &HeaderMap,
    mut body: Incoming,
    most: u64,
    mut take: impl FnMut(&Bytes) -> Result<(), Refused>,
) -> Result<(), Refused> {
    let too_large = || {
        let most = MOST_PHOTO_BYTES / 1_000_000;
        Refused::said(
            StatusCode::PAYLOAD_TOO_LARGE,
            |language| said!(language; "That is larger than {most} MB; send the photo itself.", "Das ist größer als {most} MB; das Foto selbst senden."),
        )
    };
    let told: Option<u64> = only(headers, CONTENT_LENGTH)?.and_then(|length| length.parse().ok());
    if told.is_some_and(|length| length > most) {
        return Err(too_large());
    }
    let slow = |_| {
        Refused::new(
            StatusCode::REQUEST_TIMEOUT,
            "It did not arrive in time; send it again.",
            "Es kam nicht rechtzeitig an; noch einmal senden.",
        )
    };
    let broken = |_| {
        Refused::new(
            StatusCode::BAD_REQUEST,
            "It did not arrive whole; send it again.",
            "Es kam nicht ganz an; noch einmal senden.",
        )
    };
    let mut length = 0u64;
    let all = async {
        while let Some(frame) = tokio::time::timeout(SILENCE, body.frame()).await.map_err(slow)? {
            let Ok(part) = frame.map_err(broken)?.into_data() else {
                continue;
            };
            length += part.len() as u64;
            if length > most {
                return Err(too_large());
            }
            take(&part)?;
        }
        Ok(())
    };
    tokio::time::timeout(LONGEST, all).await.map_err(slow)?
}

fn not_a_photo() -> Refused {
    Refused::new(
        StatusCode::UNSUPPORTED_MEDIA_TYPE,
        "That is not a JPEG, PNG or TIFF photo. Set the phone to take JPEG, and choose the photo itself.",
        "Das ist kein Foto als JPEG, PNG oder TIFF. Das Telefon auf JPEG einstellen und das Foto selbst wählen.",
    )
}

fn unwritten(error: std::io::Error) -> Refused {
    Refused::said(StatusCode::INTERNAL_SERVER_ERROR, |language| {
        said!(
            language;
            "The photo could not be written: {error}. Look whether the disk is full, and send it again.",
            "Das Foto ließ sich nicht schreiben: {error}. Nachsehen, ob der Datenträger voll ist, und es noch einmal senden."
        )
    })
}

/// Makes the folder of the photos where need be; a link to another place is not followed.
fn own_folder(folder: &Path) -> Result<(), Refused> {
    match folder.symlink_metadata() {
        Ok(metadata) if metadata.is_dir() => Ok(()),
        Ok(_) => Err(Refused::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "The job's photos is no folder of its own; move it away.",
            "photos im Auftrag ist kein eigener Ordner; ihn woandershin verschieben.",
        )),
        Err(_) => std::fs::create_dir(folder).map_err(unwritten),
    }
}

/// Puts a whole file into its place under the next free number, once it is seen to be a photo; one that is there already stays under
/// its name; where that is `listed` the job has it.
fn put(mut part: NamedTempFile, folder: &Path, listed: &[String]) -> Result<Taken, Refused> {
    let ending = kind_of(part.path()).ok_or_else(not_a_photo)?;
    if photo::size_px(part.path()) == 0 {
        return Err(Refused::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "That photo cannot be read, or has more than 110 megapixels. Set the camera to fewer, and take it again.",
            "Das Foto lässt sich nicht lesen oder hat mehr als 110 Megapixel. Die Kamera auf weniger einstellen und es neu aufnehmen.",
        ));
    }
    let others: Vec<PathBuf> = (std::fs::read_dir(folder).map_err(unwritten)?.flatten())
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()))
        .map(|entry| entry.path())
        .filter(|path| path != part.path())
        .take(MOST_PHOTOS + 1)
        .collect();
    if others.len() > MOST_PHOTOS {
        return Err(Refused::said(StatusCode::PAYLOAD_TOO_LARGE, |language| {
            said!(
                language;
                "The job holds {MOST_PHOTOS} photos already; make another job.",
                "Der Auftrag enthält schon {MOST_PHOTOS} Fotos; einen weiteren Auftrag anlegen."
            )
        }));
    }
    if let Some(same) = others.iter().find(|other| is_same(other, part.path())) {
        let name = format!("{PHOTOS}/{}", same.file_name().unwrap_or_default().to_string_lossy());
        return Ok(if listed.contains(&name) {
            Taken::InJob(name)
        } else {
            Taken::Free(name)
        });
    }
    // On the disk before its name is: a power cut leaves all of it or nothing.
    part.as_file().sync_all().map_err(unwritten)?;
    readable_by_all(&part);
    let number = |path: &PathBuf| path.file_stem()?.to_str()?.parse::<u32>().ok();
    let mut next = others
        .iter()
        .filter_map(number)
        .max()
        .map_or(1, |last| last.saturating_add(1));
    loop {
        let name = format!("{next:04}.{ending}");
        part = match part.persist_noclobber(folder.join(&name)) {
            Ok(_) => return Ok(Taken::Free(format!("{PHOTOS}/{name}"))),
            // Another photo took the number just now.
            Err(e) if e.error.kind() == std::io::ErrorKind::AlreadyExists && next < u32::MAX => e.file,
            Err(e) => return Err(unwritten(e.error)),
        };
        next += 1;
    }
}

/// As any file is made; a temporary one is its maker's alone.
fn readable_by_all(part: &NamedTempFile) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Where that cannot be, the photo is still read by who serves the page.
        let _ = part.as_file().set_permissions(std::fs::Permissions::from_mode(0o644));
    }
    #[cfg(not(unix))]
    let _ = part;
}

/// The ending for a file that begins as a photo does.
fn kind_of(path: &Path) -> Option<&'static str> {
    let mut first = [0u8; 8];
    let read = std::fs::File::open(path).ok()?.read(&mut first).ok()?;
    let begins = |(start, ..): &&(&[u8], &str, &str)| first[..read].starts_with(start);
    KINDS.iter().find(begins).map(|(_, ending, _)| *ending)
}

fn is_same(a: &Path, b: &Path) -> bool {
    let length = |path: &Path| path.metadata().map(|metadata| metadata.len()).ok();
    length(a) == length(b) && std::fs::read(a).ok() == std::fs::read(b).ok()
}
