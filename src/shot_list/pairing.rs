//! Photos and list, one to one. The order alone says what a photo shows, so this looks for every sign that the order does
//! not fit: numbers, gaps, and whether a photo with the lamp off is dark.

use super::words::describe;
use super::{Folder, PlannedPhoto, Shows, TakenPhoto, numbers_of};
use crate::record::Job;

/// What each photo is taken to be.
#[derive(Debug, Clone)]
pub struct Pairing {
    /// The pairs, in the order of the list.
    pub pairs: Vec<(PlannedPhoto, TakenPhoto)>,
    /// What the list has more than the folder.
    pub list_left: Vec<PlannedPhoto>,
    /// What the folder has more than the list.
    pub photos_left: Vec<TakenPhoto>,
    /// Why nothing may be written, and how to mend it; none where all is well.
    pub faults: Vec<String>,
    /// What to look at before writing.
    pub warnings: Vec<String>,
}

/// A longer gap between two photos of one lamp is another session, or a clock that was set (common practice, no source).
const LONG_GAP_S: f64 = 2.0 * 3600.0;
/// A photo of a leak-down this much off its time, as a share of the time between two, may be another one's.
const SERIES_GAP_SHARE: f64 = 0.5;
/// With the lamp off, the brightest must be darker than this share of what it is with the lamp lit. Where ambient light
/// alone comes so near to the beam, nothing can be read at all.
const OFF_SHARE: f64 = 0.9;

/// Pairs the photos of a folder with the photos of a list, one to one in order.
#[must_use]
pub fn pair(list: &[PlannedPhoto], folder: &Folder, job: &Job) -> Pairing {
    let paired = list.len().min(folder.photos.len());
    let pairs: Vec<(PlannedPhoto, TakenPhoto)> = list.iter().cloned().zip(folder.photos.iter().cloned()).collect();
    let mut pairing = Pairing {
        pairs,
        list_left: list[paired..].to_vec(),
        photos_left: folder.photos[paired..].to_vec(),
        faults: Vec::new(),
        warnings: folder.warnings.clone(),
    };
    if pairing.list_left.is_empty() && pairing.photos_left.is_empty() {
        pairing.faults = [unattached(&pairing.pairs), bright_though_off(&pairing.pairs)].concat();
    } else {
        pairing.faults = vec![numbers_differ(list, folder, &pairing, job)];
    }
    pairing.warnings.extend(gaps(&pairing.pairs));
    pairing
}

fn photos(number: usize) -> String {
    format!("{number} photo{}", if number == 1 { "" } else { "s" })
}

fn numbers_differ(list: &[PlannedPhoto], folder: &Folder, pairing: &Pairing, job: &Job) -> String {
    let (wanted, there) = (list.len(), folder.photos.len());
    let counts = format!("the list has {}, the folder {} new", photos(wanted), there);
    if let Some(first) = pairing.photos_left.first() {
        return format!(
            "{counts}: the folder has {} more, from {} on. Leave spoilt ones out with --skip FILE, or choose the checks \
             that were done",
            there - wanted,
            first.name
        );
    }
    let missing: Vec<&PlannedPhoto> = list.iter().filter(|photo| !photo.is_in(job)).collect();
    // Where the job has just as much of the list as is missing from the folder, the rest was taken later.
    let mend = if folder.in_job > 0 && missing.len() == there {
        format!("What the job does not hold yet is --only {}", numbers_of(missing))
    } else {
        format!(
            "Take the rest, or say which were taken: --only {}, say, if just the last are missing",
            numbers_of(&list[..there])
        )
    };
    let from = pairing.list_left.first().map_or(String::new(), |first| {
        format!("from number {} ({}) on", first.number, describe(first))
    });
    format!("{counts}: the list has {} more, {from}. {mend}", wanted - there)
}

/// Photos with the lamp off that belong to no new entry: entries that are in the job already are not changed.
fn unattached(pairs: &[(PlannedPhoto, TakenPhoto)]) -> Vec<String> {
    let is_off = |planned: &PlannedPhoto| planned.shows == Shows::LampOff;
    let alone = pairs.iter().filter(|(planned, _)| {
        is_off(planned)
            && !pairs
                .iter()
                .any(|(other, _)| !is_off(other) && other.view == planned.view)
    });
    alone
        .map(|(planned, photo)| {
            format!(
                "{} is number {}, the {} lamp off, and no photo of that view is added with it; entries that are there are not \
                 changed, so write lamp_off = \"{}\" into them by hand, and leave it out with --skip {}",
                photo.name, planned.number, planned.lamp, photo.listed_as, photo.name
            )
        })
        .collect()
}

/// Photos that are to show the lamp off and are as bright as one with the lamp lit: the order is then shifted.
fn bright_though_off(pairs: &[(PlannedPhoto, TakenPhoto)]) -> Vec<String> {
    let offs = pairs.iter().filter(|(planned, _)| planned.shows == Shows::LampOff);
    offs.filter_map(|(planned, off)| {
        let lit = pairs
            .iter()
            .filter(|(other, _)| other.view == planned.view && other.shows != Shows::LampOff)
            .map(|(_, photo)| photo)
            .min_by(|a, b| a.brightness.total_cmp(&b.brightness))?;
        (off.brightness > OFF_SHARE * lit.brightness).then(|| {
            format!(
                "{} is to show the lamp off (number {}), and is no darker than {}, which is to show it lit; so the order is \
                 not that of the list. Use --skip or --only until they fit",
                off.name, planned.number, lit.name
            )
        })
    })
    .collect()
}

fn gaps(pairs: &[(PlannedPhoto, TakenPhoto)]) -> Vec<String> {
    let mut warnings = Vec::new();
    let mut off_beat = Vec::new();
    for two in pairs.windows(2) {
        let ((planned_a, a), (planned_b, b)) = (&two[0], &two[1]);
        let gap_s = b.time_s - a.time_s;
        // Between the stages lies a repair, which may take days.
        if gap_s > LONG_GAP_S && planned_a.stage == planned_b.stage {
            warnings.push(format!(
                "{:.1} h lie between {} and {}; another session, or was the clock set?",
                gap_s / 3600.0,
                a.name,
                b.name
            ));
        }
        if let (Shows::Sealed { every_s, .. }, Shows::Sealed { start: None, .. }) = (&planned_a.shows, &planned_b.shows)
        {
            let every_s = f64::from(*every_s);
            if (gap_s - every_s).abs() > SERIES_GAP_SHARE * every_s {
                off_beat.push((b, gap_s, every_s));
            }
        }
    }
    if let Some((photo, gap_s, every_s)) = off_beat.first() {
        let more = match off_beat.len() - 1 {
            0 => String::new(),
            n => format!(" (and {n} more like it)"),
        };
        warnings.push(format!(
            "{} comes {gap_s:.0} s after the one before it, in a series with {every_s:.0} s between photos{more}; harmless if all \
             belong to the series, since their times count",
            photo.name
        ));
    }
    warnings
}
