//! The workbench: the whole job as a page in the browser, over the same library as every command.
//!
//! It answers on the loopback address alone. Nothing that a request says is ever joined to a path: jobs are found by a digest of their
//! folder's name among those that are there, and photos get their names here. [`guard`] says which requests are answered at all,
//! [`jobs`] what is in the folder, [`upload`] takes photos in, [`work`] does what is asked, [`views`] says it.

mod choice;
mod guard;
mod jobs;
mod routes;
mod upload;
mod views;
mod work;

use crate::error::Error;
use crate::run::Cache;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
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
    /// Where it answers.
    address: SocketAddr,
    /// Photos are read one job at a time: a reading takes all cores, and memory for its photos.
    reading: Arc<Semaphore>,
    uploads: Semaphore,
}

/// Serves `folder`, which is made if it is not there, on the loopback address at `port` (0: any free one) until the program ends.
/// `announce` is told where.
///
/// # Errors
/// [`Error`] for a folder that cannot be used, and a port that is taken.
pub(crate) fn serve(
    folder: &Path,
    port: u16,
    cache: Option<Cache>,
    announce: impl FnOnce(SocketAddr) -> Result<(), Error>,
) -> Result<(), Error> {
    std::fs::create_dir_all(folder).map_err(Error::write(folder, "cannot make the folder"))?;
    let folder = (folder.canonicalize()).map_err(|e| Error::in_file(folder, format!("cannot be read: {e}")))?;
    jobs::sweep(&folder);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(THREADS)
        .enable_all()
        .build()
        .map_err(|e| Error::make("the page", e))?;
    runtime.block_on(async {
        let wanted = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
        let taken = |e| {
            Error::asked(format!(
                "{wanted} cannot be used ({e}); give another --port, or 0 for any free one"
            ))
        };
        let listener = TcpListener::bind(wanted).await.map_err(taken)?;
        let address = listener.local_addr().map_err(taken)?;
        announce(address)?;
        let bench = Bench {
            folder,
            cache,
            address,
            reading: Arc::new(Semaphore::new(1)),
            uploads: Semaphore::new(MOST_UPLOADS),
        };
        accept(listener, Arc::new(bench)).await;
        Ok(())
    })
}

async fn accept(listener: TcpListener, bench: Arc<Bench>) {
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
        let bench = bench.clone();
        tokio::spawn(async move {
            let service = service_fn(move |request| routes::answer(bench.clone(), request));
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
