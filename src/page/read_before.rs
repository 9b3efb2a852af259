//! Which photos gave no figure when they were read, since this program was started or by what the cache kept of an earlier run: a list of photos and
//! a heap say so at once, where reading them all anew would take minutes.

use super::jobs::Place;
use crate::aim::ShotReading;
use crate::digest;
use crate::language::Said;
use crate::record::{Bay, Job, Shot};
use crate::refusal::Refusal;
use crate::run::{Cache, Findings, Run};
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// More than any shop reads in a day; what is forgotten is known again once it is read.
const MOST_KNOWN: usize = 20_000;

/// What gave no figure.
#[derive(Default)]
pub(super) struct ReadBefore {
    known: Mutex<Known>,
}

#[derive(Default)]
struct Known {
    /// By all that its reading rests on but the photo's file, which never changes under its name, each with why it gave no figure.
    shots: HashMap<String, Said>,
    /// By the photos' files, each with what it was read as when it gave no figure, and why it gave none.
    photos: HashMap<PathBuf, (Shot, Refusal)>,
    /// Jobs, by their folders, of which the cache was asked: once each, as what is read from then on is learnt here.
    asked: HashSet<PathBuf>,
}

impl ReadBefore {
    /// Remembers which of these photos gave no figure, and forgets it of those that give one now.
    pub fn learn(&self, place: &Place, findings: &Findings) {
        self.learn_all(place, &findings.readings);
    }

    /// Learns what an earlier run of the program read of the job as it is now, where the cache has it and was not asked yet. The photos' files are
    /// hashed for it, and none is decoded.
    pub fn recall(&self, place: &Place, cache: Option<&Cache>) {
        let is_new = || {
            let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
            known.asked.insert(place.folder.clone())
        };
        let Some(cache) = cache.filter(|_| is_new()) else {
            return;
        };
        let kept = Run::open(place.file()).and_then(|run| run.kept(cache));
        // A job that cannot be read is told where it is opened.
        if let Ok(Some(readings)) = kept {
            self.learn_all(place, &readings);
        }
    }

    fn learn_all(&self, place: &Place, readings: &[ShotReading]) {
        let Ok(job) = place.job() else { return };
        let basis = basis(place, &job);
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if known.shots.len() + known.photos.len() > MOST_KNOWN {
            known.shots.clear();
            known.photos.clear();
        }
        for reading in readings {
            let (key, photo) = (key(&basis, &reading.shot), place.folder.join(&reading.shot.photo));
            match &reading.result {
                Ok(_) => {
                    known.shots.remove(&key);
                    known.photos.remove(&photo);
                }
                Err(refusal) => {
                    known.shots.insert(key, refusal.message.clone());
                    known.photos.insert(photo, (reading.shot.clone(), refusal.clone()));
                }
            }
        }
    }

    /// The job's shots, by their places in it, that are known to give no figure as it is now.
    pub fn without_figure(&self, place: &Place, job: &Job) -> HashSet<usize> {
        self.refusals(place, job).into_keys().collect()
    }

    /// The same, each with why it gives none.
    pub fn refusals(&self, place: &Place, job: &Job) -> HashMap<usize, Said> {
        let basis = basis(place, job);
        let known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let shots = job.shot.iter().enumerate();
        let refused = shots.filter_map(|(n, shot)| Some((n, known.shots.get(&key(&basis, shot))?.clone())));
        refused.collect()
    }

    /// As what a photo of the job's folder was read when it gave no figure, and why, if it was read and gave none the last time.
    pub fn refused_as(&self, place: &Place, photo: &Path) -> Option<(Shot, Refusal)> {
        let known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        known.photos.get(&place.folder.join(photo)).cloned()
    }
}

/// What all readings of a job rest on beside their photos: its lamps and walls. Other photos, tests and repairs of it do not count.
fn basis(place: &Place, job: &Job) -> String {
    let walls: Vec<String> = job
        .walls()
        .map(|wall| Bay::read(&place.folder.join(wall)).map_or_else(|_| String::new(), |bay| format!("{bay:?}")))
        .collect();
    format!("{:?} {:?} {:?} {walls:?}", place.folder, job.lamp, job.traffic)
}

fn key(basis: &str, shot: &Shot) -> String {
    digest::of(format!("{basis} {shot:?}").as_bytes())
}
