//! The workbench: the whole job as a page in the browser, over the same library as every command.
//!
//! It answers on the loopback address, and where that is asked for on the shop's network to phones that were paired ([`phones`]). Nothing that a request says is ever joined to a path: jobs are found by a digest of their
//! folder's name among those that are there, and photos get their names here. [`guard`] says which requests are answered at all,
//! [`reader`] in which language, [`jobs`] what is in the folder, [`upload`] takes photos in, [`work`] does what is asked, [`views`] says it.

mod car;
mod choice;
mod figures;
mod follow;
mod guard;
mod jobs;
mod packed;
mod phones;
mod read_before;
mod reader;
mod routes;
mod thumbs;
mod undo;
mod upload;
mod views;
mod work;

use crate::error::Error;
use crate::run::Cache;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use phones::Phones;
use read_before::ReadBefore;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use thumbs::Thumbs;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;

/// A browser keeps six connections to one place at most; this is for many tabs.
const MOST_CONNECTIONS: usize = 64;
/// Photos that arrive side by side: each is written to the disk as it comes.
const MOST_UPLOADS: usize = 4;
/// For a request's head; also how long a connection waits for the next request.
const HEAD_TIME: Duration = Duration::from_secs(10);
/// No connection is longer: the largest photo over a slow line, and then the reading of a large job.
const LONGEST_CONNECTION: Duration = Duration::from_secs(3600);
/// Longest line and heads of a request, bytes: less than this is refused by nobody.
const MOST_HEAD_BYTES: usize = 16 * 1024;
/// Threads that wait for the network; photos are read elsewhere.
const THREADS: usize = 2;

/// What all requests share.
struct Bench {
    /// The folder of the jobs, without links.
    folder: PathBuf,
    cache: Option<Cache>,
    /// Where phones find it and by which code, where it answers on the shop's network.
    lan: Option<(SocketAddr, Phones)>,
    /// Photos are read one job at a time: a reading takes all cores, and memory for its photos.
    reading: Arc<Semaphore>,
    uploads: Semaphore,
    thumbs: Thumbs,
    read_before: ReadBefore,
}

/// What a page is served from and where.
pub(crate) struct Wanted<'a> {
    /// The folder of the jobs; made if it is not there.
    pub folder: &'a Path,
    /// 0: any free one.
    pub port: u16,
    /// This computer's address in the shop's network, where phones are to be answered too.
    pub lan: Option<IpAddr>,
    pub cache: Option<Cache>,
}

/// One of the addresses at which it answers.
struct Door {
    /// By what a browser may call it.
    hosts: Vec<String>,
    /// Whether only paired phones come in.
    is_lan: bool,
}

/// Serves on the loopback address, and where wanted on that of the shop's network, until the program ends. `announce` is told what to
/// say of where, and the address itself.
///
/// # Errors
/// [`Error`] for a folder that cannot be used, and an address that is taken or is not this computer's.
pub(crate) fn serve(wanted: Wanted<'_>, announce: impl FnOnce(&str, &str) -> Result<(), Error>) -> Result<(), Error> {
    let folder = wanted.folder;
    std::fs::create_dir_all(folder).map_err(Error::write(folder, "cannot make the folder"))?;
    let folder = (folder.canonicalize()).map_err(|e| Error::in_file(folder, format!("cannot be read: {e}")))?;
    jobs::sweep(&folder);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(THREADS)
        .enable_all()
        .build()
        .map_err(|e| Error::make("the page", e))?;
    runtime.block_on(async {
        let (own, address) = bind(Ipv4Addr::LOCALHOST.into(), wanted.port).await?;
        // The same port on both, so that one figure is to be remembered.
        let lan = match wanted.lan {
            Some(ip) => Some(bind(ip, address.port()).await?),
            None => None,
        };
        let door = Door {
            hosts: vec![address.to_string(), format!("localhost:{}", address.port())],
            is_lan: false,
        };
        let kept = folder.join(jobs::PHONES);
        let phones = lan
            .as_ref()
            .map(|(_, at)| Ok((*at, Phones::kept_in(kept)?)))
            .transpose()?;
        announce(&where_it_is(address, phones.as_ref())?, &format!("http://{address}/"))?;
        let bench = Arc::new(Bench {
            folder,
            cache: wanted.cache,
            lan: phones,
            reading: Arc::new(Semaphore::new(1)),
            uploads: Semaphore::new(MOST_UPLOADS),
            thumbs: Thumbs::new(),
            read_before: ReadBefore::default(),
        });
        if let Some((listener, at)) = lan {
            let hosts = vec![at.to_string()];
            tokio::spawn(accept(listener, bench.clone(), Arc::new(Door { hosts, is_lan: true })));
        }
        accept(own, bench, Arc::new(door)).await;
        Ok(())
    })
}

async fn bind(ip: IpAddr, port: u16) -> Result<(TcpListener, SocketAddr), Error> {
    let wanted = SocketAddr::from((ip, port));
    let taken = |e| {
        Error::asked(format!(
            "{wanted} cannot be used ({e}); give another --port, or 0 for any free one"
        ))
    };
    let listener = TcpListener::bind(wanted).await.map_err(taken)?;
    let address = listener.local_addr().map_err(taken)?;
    Ok((listener, address))
}

fn where_it_is(address: SocketAddr, lan: Option<&(SocketAddr, Phones)>) -> Result<String, Error> {
    let mut said = format!("The page is at http://{address}/ for this computer's browser. End it with Ctrl-C.\n");
    if let Some((at, code)) = lan.and_then(|(at, phones)| Some((at, phones.code()?))) {
        let drawn = phones::qr_text(&phones::invitation(&at.to_string(), &code))?;
        said.push_str(&format!(
            "For phones in this network: http://{at}/ with the code {code}, or by their camera:\n\n{drawn}\n\
             What they send is not encrypted: use the shop's own network, with its password.\n"
        ));
    }
    Ok(said)
}

/// This computer's address in the network that leads out, by the system's own table of routes; nothing is sent.
///
/// # Errors
/// [`Error`] where there is no such network.
pub(crate) fn lan_address() -> Result<IpAddr, Error> {
    // An address for documentation (RFC 5737), which nobody has.
    let out = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    let found = out
        .map(|address| address.ip())
        .ok()
        .filter(|ip| !ip.is_unspecified() && !ip.is_loopback());
    found.ok_or_else(|| {
        Error::asked(
            "this computer's address in the network is not known; give it, as in --address 192.168.1.20".to_owned(),
        )
    })
}

async fn accept(listener: TcpListener, bench: Arc<Bench>, door: Arc<Door>) {
    // Of each door its own, so that the network cannot shut the computer's own browser out.
    let connections = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok(place) = connections.clone().acquire_owned().await else {
            return;
        };
        let Ok((stream, _)) = listener.accept().await else {
            // Out of file handles, for one: others will be given back.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        let (bench, door) = (bench.clone(), door.clone());
        tokio::spawn(async move {
            let service = service_fn(move |request| routes::answer(bench.clone(), door.clone(), request));
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD_TIME)
                .max_buf_size(MOST_HEAD_BYTES)
                .max_headers(64)
                .serve_connection(TokioIo::new(stream), service);
            // Who went away, or spoke no HTTP, is told nothing more.
            let _ = tokio::time::timeout(LONGEST_CONNECTION, connection).await;
            drop(place);
        });
    }
}
