//! `beamfall key`: a pair of keys.

use super::Status;
use super::terminal::print;
use crate::error::Error;
use crate::report::evidence::SecretKey;
use crate::report::text::plain;
use std::path::PathBuf;

/// Arguments of `beamfall key`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The secret half signs (report --sign) and stays with you; the public half, beside it as FILE.pub, is for those who check.
Ed25519 as in RFC 8410; openssl reads both, and checks a signature by
  openssl pkeyutl -verify -pubin -inkey FILE.pub -rawin -in evidence.json -sigfile evidence.sig

Examples:
  beamfall key -o workshop.key
  beamfall report job.toml --sign workshop.key")]
pub(super) struct Arguments {
    /// File for the secret half; nothing is overwritten
    #[arg(short, long, value_name = "FILE", default_value = "beamfall.key")]
    out: PathBuf,
}

/// Makes the pair, and says where it lies.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let public = SecretKey::new()?.write(&arguments.out)?;
    print(&format!(
        "Written: {} (secret: keep it, and tell nobody) and {} (public: give it to who checks)\n",
        plain(&arguments.out.display().to_string()),
        plain(&public.display().to_string())
    ))?;
    Ok(Status::Done)
}
