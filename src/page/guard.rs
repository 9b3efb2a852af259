//! Which requests are answered at all, and what a browser may do with the answers.

use crate::error::Error;
use crate::language::{Language, Said, said};
use http_body_util::channel::Channel;
use http_body_util::{Either, Full};
use hyper::body::Bytes;
use hyper::header::{CONTENT_DISPOSITION, CONTENT_TYPE, HOST, HeaderMap, HeaderName, HeaderValue, ORIGIN};
use hyper::http::request::Parts;
use hyper::{Method, Response, StatusCode};
use std::path::Path;

/// An answer that is whole, or one that goes on while work is done.
pub(super) type Reply = Response<Either<Full<Bytes>, Channel<Bytes, std::io::Error>>>;

/// Longest query, bytes.
const MOST_QUERY_BYTES: usize = 2_000;

/// What the page may do: its own script and style, and pictures that stand in it.
const OF_PAGE: &str = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; img-src 'self' data:; \
                       connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";
/// What a report may do: nothing but show what stands in it.
pub(super) const OF_REPORT: &str = "sandbox allow-popups; default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri \
                                    'none'; frame-ancestors 'none'";

/// The same of the report that is shown with the way back to its job: it runs nothing, and is of this origin, so that its links are followed as the
/// page's own. One of them is to a file to keep, which a browser that keeps such files fetches from nowhere else in a sandbox.
pub(super) const OF_SHOWN_REPORT: &str = "sandbox allow-popups allow-same-origin allow-downloads; default-src 'none'; img-src data:; style-src \
                                          'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'";

/// A request that is not answered: the status, and what is said.
#[derive(Debug, Clone)]
pub(super) struct Refused(pub StatusCode, pub Why);

/// What is said where something was not done.
#[derive(Debug, Clone)]
pub(super) enum Why {
    /// In each language.
    Said(Said),
    /// The library's words on a file, or the system's, which are English alone.
    English(String),
}

impl Why {
    /// The same without where the jobs' folder lies on the disk, which is nobody's business on a phone: a file goes by its path in it.
    pub fn within_folder(&self, folder: &Path) -> Self {
        let bare = |words: &str| without_folder(words, folder);
        match self {
            Self::Said(said) => Self::Said(Said::of(|language| bare(said.within(language)))),
            Self::English(words) => Self::English(bare(words)),
        }
    }

    /// The words, and by its tag their language where that is not the one that is read.
    pub fn within(&self, language: Language) -> (&str, Option<&'static str>) {
        match self {
            Self::Said(said) => (said.within(language), None),
            Self::English(words) => (
                words,
                (language != Language::English).then_some(Language::English.tag()),
            ),
        }
    }
}

fn without_folder(words: &str, folder: &Path) -> String {
    let whole = folder.display().to_string();
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let inside = words.replace(&format!("{whole}{}", std::path::MAIN_SEPARATOR), "");
    inside.replace(&whole, &name)
}

impl From<&Error> for Why {
    fn from(error: &Error) -> Self {
        match error {
            Error::Said(said) | Error::FileSaid(said) => Self::Said(said.clone()),
            other => Self::English(other.to_string()),
        }
    }
}

impl Refused {
    /// With words that hold nothing that changes.
    pub fn new(status: StatusCode, english: &'static str, german: &'static str) -> Self {
        Self::said(status, |language| language.pick(english, german).to_owned())
    }

    pub fn said(status: StatusCode, say: impl Fn(Language) -> String) -> Self {
        Self(status, Why::Said(Said::of(say)))
    }

    /// What the library says.
    pub fn of(status: StatusCode, error: &Error) -> Self {
        Self(status, error.into())
    }

    pub fn not_there() -> Self {
        Self::new(StatusCode::NOT_FOUND, "There is nothing here.", "Hier ist nichts.")
    }

    /// Something of the program's own, or of the disk, went wrong.
    pub fn failed(why: impl std::fmt::Display) -> Self {
        Self(StatusCode::INTERNAL_SERVER_ERROR, Why::English(why.to_string()))
    }
}

/// Fails unless the request came by this page, called by one of its own names: another site's name for the loopback address (DNS
/// rebinding) shows in Host, and another site's script or form in Origin and Sec-Fetch-Site.
///
/// # Errors
/// [`Refused`].
pub(super) fn check(head: &Parts, ours: &[String]) -> Result<(), Refused> {
    let forbidden = |english, german| Err(Refused::new(StatusCode::FORBIDDEN, english, german));
    let Some(host) = only(&head.headers, HOST)?.filter(|host| ours.iter().any(|ours| ours == host)) else {
        return forbidden(
            "This page answers to its own address alone.",
            "Diese Seite antwortet nur auf ihre eigene Adresse.",
        );
    };
    let other = head.uri.authority().is_some_and(|authority| authority.as_str() != host);
    if other || head.uri.scheme_str().is_some_and(|scheme| scheme != "http") {
        return forbidden(
            "This page answers to its own address alone.",
            "Diese Seite antwortet nur auf ihre eigene Adresse.",
        );
    }
    let own = format!("http://{host}");
    let origin = only(&head.headers, ORIGIN)?;
    let is_post = head.method == Method::POST;
    if origin.is_some_and(|origin| origin != own) || (is_post && origin.is_none()) {
        return forbidden(
            "Only this page itself may ask for that.",
            "Das darf nur diese Seite selbst anfordern.",
        );
    }
    let from = only(&head.headers, HeaderName::from_static("sec-fetch-site"))?;
    if from.is_some_and(|from| from != "same-origin" && from != "none") {
        return forbidden(
            "Another page may not ask for that; type the address.",
            "Das darf keine andere Seite anfordern; die Adresse eintippen.",
        );
    }
    if !is_post && head.method != Method::GET {
        return Err(Refused::new(
            StatusCode::METHOD_NOT_ALLOWED,
            "That cannot be done here.",
            "Das geht hier nicht.",
        ));
    }
    if head.uri.query().unwrap_or_default().len() > MOST_QUERY_BYTES {
        return Err(Refused::new(
            StatusCode::URI_TOO_LONG,
            "That is too long an address.",
            "Diese Adresse ist zu lang.",
        ));
    }
    Ok(())
}

/// A header that stands once at the most, as text.
pub(super) fn only(headers: &HeaderMap, name: HeaderName) -> Result<Option<&str>, Refused> {
    let bad = || {
        Refused::said(
            StatusCode::BAD_REQUEST,
            |language| said!(language; "The header {name} cannot be understood.", "Die Kopfzeile {name} ist nicht zu verstehen."),
        )
    };
    let mut all = headers.get_all(&name).iter();
    match (all.next(), all.next()) {
        (None, _) => Ok(None),
        (Some(value), None) => value.to_str().map(Some).map_err(|_| bad()),
        _ => Err(bad()),
    }
}

/// The answer with what keeps others from reading, framing, guessing at or keeping it.
pub(super) fn reply(
    status: StatusCode,
    kind: &'static str,
    policy: Option<&'static str>,
    body: impl Into<Bytes>,
) -> Reply {
    guarded(status, kind, policy, Either::Left(Full::new(body.into())))
}

/// An answer of events that come one by one (server-sent events, HTML Living Standard, 9.2).
pub(super) fn events(body: Channel<Bytes, std::io::Error>) -> Reply {
    guarded(StatusCode::OK, "text/event-stream", None, Either::Right(body))
}

/// A file to keep that comes part by part; `name` is of letters, digits, hyphens and full stops.
pub(super) fn download(
    kind: &'static str,
    policy: &'static str,
    name: &str,
    body: Channel<Bytes, std::io::Error>,
) -> Reply {
    let mut reply = guarded(StatusCode::OK, kind, Some(policy), Either::Right(body));
    let kept = HeaderValue::try_from(format!("attachment; filename=\"{name}\""));
    let kept = kept.unwrap_or_else(|_| HeaderValue::from_static("attachment"));
    reply.headers_mut().insert(CONTENT_DISPOSITION, kept);
    reply
}

fn guarded(
    status: StatusCode,
    kind: &'static str,
    policy: Option<&'static str>,
    body: Either<Full<Bytes>, Channel<Bytes, std::io::Error>>,
) -> Reply {
    let mut reply = Response::new(body);
    *reply.status_mut() = status;
    let headers = reply.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    for (name, value) in [
        ("content-security-policy", policy.unwrap_or(OF_PAGE)),
        ("x-content-type-options", "nosniff"),
        ("x-frame-options", "DENY"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    reply
}
