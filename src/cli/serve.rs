//! `beamfall serve`: the same work on a page in the browser.

use super::Status;
use super::kept::Kept;
use super::terminal::print;
use crate::error::Error;
use crate::page;
use std::io::IsTerminal;
use std::net::IpAddr;
use std::path::{Path, PathBuf};

/// Arguments of `beamfall serve`.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  beamfall serve jobs
  beamfall serve jobs --lan

The page is for the browser of this computer, and works offline. With --lan
phones in the same network may use it too, once each has been given the code
that is shown here. A folder holds one wall and many jobs; each new job gets a
folder of its own in it. The files are those that every other command reads.")]
pub(super) struct Arguments {
    /// The folder of the jobs, or of one job, or its job.toml; a folder is made if it is not there
    #[arg(default_value = ".", value_name = "FOLDER")]
    jobs: PathBuf,
    /// Where the page is found; 0: at any free port
    #[arg(long, value_name = "N", default_value_t = 8017)]
    port: u16,
    /// Also for phones in this computer's network, by a code
    #[arg(long)]
    lan: bool,
    /// With --lan: this computer's address in the network, where it has several
    #[arg(long, value_name = "IP", requires = "lan")]
    address: Option<IpAddr>,
    /// Do not open the browser
    #[arg(long)]
    no_browser: bool,
    #[command(flatten)]
    kept: Kept,
}

/// Serves until the program is ended.
pub(super) fn run(arguments: &Arguments) -> Result<Status, Error> {
    let lan = match arguments.address {
        Some(address) => Some(address),
        None if arguments.lan => Some(page::lan_address()?),
        None => None,
    };
    if lan.is_some_and(|ip| ip.is_unspecified() || ip.is_multicast()) {
        return Err(Error::asked(
            "--address is one of this computer's own addresses, as in 192.168.1.20",
        ));
    }
    let jobs = arguments.jobs.as_path();
    if jobs.is_file() && jobs.file_name() != Some("job.toml".as_ref()) {
        let why = "is no folder of jobs and no job.toml; a job for the page has this name, in a folder of its own";
        return Err(Error::in_file(jobs, why));
    }
    // A name alone lies in the folder that one is in.
    let parent = jobs
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let wanted = page::Wanted {
        folder: if jobs.is_file() { parent } else { jobs },
        port: arguments.port,
        lan,
        cache: arguments.kept.cache(),
    };
    // Who reads what is said in a pipe or a file is no one at this screen.
    let opens = !arguments.no_browser && std::io::stdout().is_terminal();
    page::serve(wanted, |said, address| {
        if opens {
            open_browser(address);
        }
        print(said)
    })?;
    Ok(Status::Done)
}

/// Asks the system to show an address; where it cannot, the address is printed all the same.
fn open_browser(address: &str) {
    let (program, arguments): (_, &[&str]) = if cfg!(windows) {
        ("cmd", &["/C", "start", ""])
    } else if cfg!(target_vendor = "apple") {
        ("open", &[])
    } else {
        ("xdg-open", &[])
    };
    let quiet = std::process::Stdio::null;
    let _ = std::process::Command::new(program)
        .args(arguments)
        .arg(address)
        .stdin(quiet())
        .stdout(quiet())
        .stderr(quiet())
        .spawn();
}
