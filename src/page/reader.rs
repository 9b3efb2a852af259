//! Who reads the page: in which language, and which page it is, so that it can be had in the other one.

use super::guard::{Refused, Reply, reply};
use crate::language::Language;
use hyper::header::{ACCEPT_LANGUAGE, CONTENT_LANGUAGE, COOKIE, HeaderMap, HeaderValue, LOCATION, SET_COOKIE, VARY};
use hyper::http::request::Parts;
use hyper::{Method, StatusCode};

/// Name of the cookie that keeps which language was chosen. It holds nothing else, so that it outlasts a new code for phones.
const CHOSEN: &str = "beamfall-language";
/// A year.
const COOKIE_S: u32 = 31_536_000;
const LANGUAGES: [Language; 2] = [Language::English, Language::German];

/// Who reads a page.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reader<'a> {
    pub language: Language,
    /// The page's own address, without its host.
    at: &'a str,
}

impl<'a> Reader<'a> {
    pub fn of(head: &'a Parts) -> Self {
        // What was sent there is not shown again under its address.
        let own = head.uri.path_and_query().filter(|_| head.method == Method::GET);
        Self {
            language: language_of(&head.headers),
            at: own.map_or("/", |own| own.as_str()),
        }
    }

    /// The address at which this page is had in a language from then on.
    pub fn address_in(&self, language: Language) -> String {
        let joint = if self.at.contains('?') { '&' } else { '?' };
        format!("{}{joint}lang={}", self.at, language.tag())
    }
}

fn by_tag(tag: &str) -> Option<Language> {
    LANGUAGES.into_iter().find(|language| language.tag() == tag)
}

/// The language that was chosen on the page; else the one of ours that the browser likes best (RFC 9110, 12.5.4); else English.
fn language_of(headers: &HeaderMap) -> Language {
    let texts = |name| {
        headers
            .get_all(name)
            .iter()
            .filter_map(|value: &HeaderValue| value.to_str().ok())
    };
    let cookies = texts(COOKIE).flat_map(|all| all.split(';'));
    let chosen = cookies
        .filter_map(|cookie| cookie.trim().strip_prefix(CHOSEN)?.strip_prefix('='))
        .find_map(by_tag);
    let wanted = texts(ACCEPT_LANGUAGE).flat_map(|all| all.split(',')).filter_map(liking);
    // Of two that are liked as well, the one that is named first.
    let liked = wanted.fold(None, |best: Option<(Language, f64)>, one| {
        Some(best.filter(|best| best.1 >= one.1).unwrap_or(one))
    });
    chosen.or(liked.map(|liked| liked.0)).unwrap_or_default()
}

/// A language of ours in a list such as "de-AT;q=0.8", and how well it is liked.
fn liking(one: &str) -> Option<(Language, f64)> {
    let mut parts = one.split(';').map(str::trim);
    let tag = parts.next()?.to_ascii_lowercase();
    let language = by_tag(tag.split('-').next()?)?;
    let weight = parts.find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")));
    let weight: f64 = weight.map_or(Some(1.0), |weight| weight.parse().ok())?;
    (weight > 0.0).then_some((language, weight))
}

/// Where an address asks for a language: the answer that keeps it and leads to the same address without that.
pub(super) fn chosen(head: &Parts) -> Result<Option<Reply>, Refused> {
    let query = head.uri.query().unwrap_or_default();
    let asks = |pair: &&str| pair.strip_prefix("lang=").is_some_and(|tag| by_tag(tag).is_some());
    let Some(asked) = query.split('&').find(asks).filter(|_| head.method == Method::GET) else {
        return Ok(None);
    };
    let path = head.uri.path();
    // Two strokes begin another site's name.
    if !path.starts_with('/') || path.starts_with("//") || path.contains('\\') {
        return Err(Refused::not_there());
    }
    let rest: Vec<&str> = query.split('&').filter(|pair| !asks(pair)).collect();
    let to = if rest.is_empty() {
        path.to_owned()
    } else {
        format!("{path}?{}", rest.join("&"))
    };
    let mut led = reply(StatusCode::SEE_OTHER, "text/plain; charset=utf-8", None, "");
    let kept = format!(
        "{CHOSEN}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age={COOKIE_S}",
        asked.trim_start_matches("lang=")
    );
    let headers = led.headers_mut();
    headers.insert(LOCATION, to.parse().map_err(Refused::failed)?);
    headers.insert(SET_COOKIE, kept.parse().map_err(Refused::failed)?);
    Ok(Some(led))
}

/// Says of an answer which language it is in, and on what that hangs.
pub(super) fn tell(mut reply: Reply, language: Language) -> Reply {
    let headers = reply.headers_mut();
    headers.insert(CONTENT_LANGUAGE, HeaderValue::from_static(language.tag()));
    headers.insert(VARY, HeaderValue::from_static("Accept-Language, Cookie"));
    reply
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_chosen_counts_before_what_the_browser_likes() {
        let of = |cookie: &'static str, accepted: &'static str| {
            let mut headers = HeaderMap::new();
            for (name, value) in [(COOKIE, cookie), (ACCEPT_LANGUAGE, accepted)] {
                if !value.is_empty() {
                    headers.insert(name, HeaderValue::from_static(value));
                }
            }
            language_of(&headers).tag()
        };
        for (cookie, accepted, wanted) in [
            ("", "", "en"),
            ("", "de", "de"),
            ("", "DE-at, en;q=0.5", "de"),
            ("", "fr, en;q=0.3, de;q=0.8", "de"),
            ("", "en, de", "en"),
            ("", "de;q=0, fr", "en"),
            ("", "de;q=much", "en"),
            ("", "den, *", "en"),
            ("beamfall=00; beamfall-language=de", "en", "de"),
            ("beamfall-language=en", "de", "en"),
            ("beamfall-language=xx", "de", "de"),
            ("other-beamfall-language=de", "", "en"),
        ] {
            assert_eq!(of(cookie, accepted), wanted, "{cookie:?}, {accepted:?}");
        }
    }

    #[test]
    fn a_choice_leads_to_the_same_address_and_to_no_other_site() {
        let asked = |address: &str| {
            let (head, ()) = hyper::Request::get(address).body(()).unwrap().into_parts();
            let led = chosen(&head);
            led.map(|led| led.map(|led| led.headers()[LOCATION].to_str().unwrap().to_owned()))
                .map_err(|refused| refused.0)
        };
        for (address, to) in [
            ("/?lang=de", "/"),
            ("/job/1/shot?check=aim&lang=de&n=2", "/job/1/shot?check=aim&n=2"),
            ("/new?lang=en", "/new"),
        ] {
            assert_eq!(asked(address).unwrap().as_deref(), Some(to));
        }
        assert_eq!(asked("/?lang=fr").unwrap(), None);
        assert_eq!(
            asked("//elsewhere.example/?lang=de").unwrap_err(),
            StatusCode::NOT_FOUND
        );
    }
}
