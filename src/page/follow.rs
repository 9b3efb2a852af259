//! Work that takes a while, told as it goes on.

use super::Bench;
use super::guard::{Reply, Why, events};
use crate::error::Error;
use crate::language::Language;
use http_body_util::channel::{Channel, Sender};
use hyper::body::Bytes;
use serde::Serialize;
use std::sync::Arc;
use tokio::sync::mpsc;

/// Steps that wait to be sent; of more only the last matter.
const MOST_WAITING: usize = 16;

/// How far work has come, in steps.
#[derive(Debug, Clone, Copy, Serialize)]
struct Progress {
    done: usize,
    all: usize,
}

/// Why nothing came of it, with the language of the words where that is not the page's.
#[derive(Serialize)]
struct Told<'a> {
    why: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    lang: Option<&'static str>,
}

/// Does `work` when its turn comes, and sends each of its steps as an event `progress`, then `done` with what came of it, or `refused`
/// with why nothing did. Who goes away is sent nothing more; the work is done all the same.
pub(super) fn follow<T: Serialize + Send + Sync + 'static>(
    language: Language,
    bench: &Arc<Bench>,
    work: impl FnOnce(&(dyn Fn(usize, usize) + Sync)) -> Result<T, Error> + Send + 'static,
) -> Reply {
    let (mut sender, body) = Channel::new(MOST_WAITING);
    let bench = bench.clone();
    tokio::spawn(async move {
        let (step, mut steps) = mpsc::channel(MOST_WAITING);
        let Ok(turn) = bench.reading.clone().acquire_owned().await else {
            return;
        };
        let done = tokio::task::spawn_blocking(move || {
            let _turn = turn;
            // A step that finds no room is told by those behind it.
            work(&|done, all| {
                let _ = step.try_send(Progress { done, all });
            })
        });
        while let Some(progress) = steps.recv().await {
            send(&mut sender, "progress", &progress).await;
        }
        let why = match done.await {
            Ok(Ok(value)) => return send(&mut sender, "done", &value).await,
            Ok(Err(why)) => Why::from(&why),
            Err(why) => Why::English(why.to_string()),
        };
        let why = why.within_folder(&bench.folder);
        let (why, lang) = why.within(language);
        send(&mut sender, "refused", &Told { why, lang }).await;
    });
    events(body)
}

/// JSON has no line breaks of its own, so that an event is one line of data.
async fn send(sender: &mut Sender<Bytes, std::io::Error>, name: &str, value: &impl Serialize) {
    if let Ok(data) = serde_json::to_string(value) {
        let event = format!("event: {name}\ndata: {data}\n\n");
        let _ = sender.send_data(Bytes::from(event)).await;
    }
}
