//! Who may ask over the shop's network: phones that were paired by a code, which only this computer shows.

use crate::bounded_file::{self, MOST_TEXT_BYTES};
use crate::digest;
use crate::error::Error;
use crate::whole_file;
use qrcode::QrCode;
use qrcode::render::{svg, unicode};
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Wrong codes before no further one is taken: with a million codes, who guesses gets in once in 200 000 times.
const MOST_WRONG: u32 = 5;
/// More phones than any shop has at one car.
const MOST_PHONES: usize = 20;

/// The code, which is another each time the program starts, and the phones that were paired, which stay so until there is a new code
/// because that was asked for.
pub(super) struct Phones {
    state: Mutex<State>,
    /// Where the phones are kept: digests of random tokens, of no use to who reads them.
    kept: PathBuf,
}

struct State {
    code: String,
    wrong: u32,
    /// Digests of what the phones were given.
    paired: Vec<String>,
}

impl State {
    fn new(paired: Vec<String>) -> Result<Self, Error> {
        let mut random = [0u8; 8];
        fill(&mut random)?;
        Ok(Self {
            code: format!("{:06}", u64::from_le_bytes(random) % 1_000_000),
            wrong: 0,
            paired,
        })
    }
}

fn fill(random: &mut [u8]) -> Result<(), Error> {
    getrandom::fill(random).map_err(|e| Error::make("the code for phones", e))
}

/// Why a phone was not paired.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NotPaired {
    Wrong,
    Closed,
    TooMany,
}

impl Phones {
    /// Those that are kept in a file; one that is not there, or is none of ours, holds nobody.
    ///
    /// # Errors
    /// [`Error`] where the system gives no random numbers.
    pub fn kept_in(kept: PathBuf) -> Result<Self, Error> {
        let text = bounded_file::read(&kept, MOST_TEXT_BYTES).unwrap_or_default();
        let text = String::from_utf8_lossy(&text);
        let is_digest = |line: &&str| line.len() == 64 && line.bytes().all(|c| c.is_ascii_hexdigit());
        let paired = text.lines().filter(is_digest).take(MOST_PHONES).map(str::to_owned);
        let state = Mutex::new(State::new(paired.collect())?);
        Ok(Self { state, kept })
    }

    /// Where it cannot be written, who is paired stays so until the program ends.
    fn keep(&self, state: &State) {
        let _ = whole_file::write(&self.kept, (state.paired.join("\n") + "\n").as_bytes());
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The code of six figures; `None` after too many wrong ones.
    pub fn code(&self) -> Option<String> {
        let state = self.state();
        (state.wrong < MOST_WRONG).then(|| state.code.clone())
    }

    /// The number of phones that are paired.
    pub fn count(&self) -> usize {
        self.state().paired.len()
    }

    /// Gives a phone that knows the code what it is known by from then on.
    ///
    /// # Errors
    /// [`NotPaired`]; a system without random numbers pairs nobody.
    pub fn pair(&self, typed: &str) -> Result<String, NotPaired> {
        let mut state = self.state();
        if state.wrong >= MOST_WRONG {
            return Err(NotPaired::Closed);
        }
        // Six figures are typed in groups, too.
        let typed: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
        if digest::of(typed.as_bytes()) != digest::of(state.code.as_bytes()) {
            state.wrong += 1;
            return Err(NotPaired::Wrong);
        }
        if state.paired.len() >= MOST_PHONES {
            return Err(NotPaired::TooMany);
        }
        let mut random = [0u8; 32];
        fill(&mut random).map_err(|_| NotPaired::Closed)?;
        let token = digest::hex(&random);
        // Compared by its digest, whose first letters tell nobody by the time it takes how near a guess was.
        state.paired.push(digest::of(token.as_bytes()));
        self.keep(&state);
        Ok(token)
    }

    /// Whether a phone was given this.
    pub fn knows(&self, token: &str) -> bool {
        self.state().paired.contains(&digest::of(token.as_bytes()))
    }

    /// Another code; all phones are forgotten.
    ///
    /// # Errors
    /// As [`Self::kept_in`].
    pub fn renew(&self) -> Result<(), Error> {
        let mut state = self.state();
        *state = State::new(Vec::new())?;
        self.keep(&state);
        Ok(())
    }
}

/// Where a phone's camera finds the page and, behind the sign that no browser sends on, the code.
pub(super) fn invitation(address: &str, code: &str) -> String {
    format!("http://{address}/#{code}")
}

/// A text as a QR code (ISO/IEC 18004, by the `qrcode` library), for a terminal.
///
/// # Errors
/// [`Error`] for a text that is too long.
pub(super) fn qr_text(text: &str) -> Result<String, Error> {
    let code = qr(text)?;
    let mut drawing = code.render::<unicode::Dense1x2>();
    // For a terminal whose letters are light on dark, as most are; a phone reads either.
    drawing
        .dark_color(unicode::Dense1x2::Light)
        .light_color(unicode::Dense1x2::Dark);
    Ok(drawing.build())
}

/// As [`qr_text`], as an SVG drawing.
///
/// # Errors
/// As [`qr_text`].
pub(super) fn qr_svg(text: &str) -> Result<String, Error> {
    let drawn = qr(text)?.render::<svg::Color<'_>>().min_dimensions(240, 240).build();
    // Without the head of a file of its own: it stands in a page.
    let at = drawn.find("<svg").unwrap_or(0);
    Ok(drawn.get(at..).unwrap_or_default().to_owned())
}

fn qr(text: &str) -> Result<QrCode, Error> {
    QrCode::new(text.as_bytes()).map_err(|e| Error::make("the QR code", e))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_code_pairs_and_guessing_ends() {
        let folder = tempfile::tempdir().unwrap();
        let kept = folder.path().join("phones");
        let open = || Phones::kept_in(kept.clone()).unwrap();
        let phones = open();
        let code = phones.code().unwrap();
        assert!(code.len() == 6 && code.chars().all(|c| c.is_ascii_digit()), "{code}");
        let token = phones.pair(&format!(" {code} ")).unwrap();
        assert!(
            phones.knows(&token)
                && !phones.knows("")
                && !phones.knows(&code)
                && !phones.knows(&digest::of(token.as_bytes()))
        );
        let wrong = if code == "000000" { "000001" } else { "000000" };
        for _ in 0..MOST_WRONG {
            assert_eq!(phones.pair(wrong), Err(NotPaired::Wrong));
        }
        assert_eq!(
            phones.pair(&code),
            Err(NotPaired::Closed),
            "the right one comes too late"
        );
        assert!(
            phones.code().is_none() && phones.knows(&token),
            "who is paired stays so"
        );
        let later = open();
        assert!(
            later.knows(&token) && later.count() == 1,
            "also when the program starts again"
        );
        assert!(!std::fs::read_to_string(&kept).unwrap().contains(&token));
        phones.renew().unwrap();
        assert!(!phones.knows(&token) && phones.code().is_some());
        assert!(!open().knows(&token), "told otherwise");
        let again = phones.code().unwrap();
        for _ in 0..MOST_PHONES {
            phones.pair(&again).unwrap();
        }
        assert_eq!(phones.pair(&again), Err(NotPaired::TooMany));
    }
}
