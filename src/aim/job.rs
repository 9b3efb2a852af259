//! All shots of a job. Their photos show one wall, so the marks of all are found first and fitted together; then each
//! photo's cut-off is read.

use super::bracketed::{Bracketed, look};
use super::measure::{Edge, LampOff, exposure_refusal, inclination_at_percent, read_edge};
use super::off_photos::OffPhotos;
use super::same_picture::{Grain, refuse_copies};
use super::settle::settle_together;
use super::wall_photos::WallPhotos;
use super::{OtherPhoto, Setting, ShotReading};
use crate::cutoff::{self, CutOff};
use crate::language::said;
use crate::photo::{self, Capture, Photo, Processing};
use crate::record::{Job, Lamp, Shot, Side, Stage, State};
use crate::refusal::{Reason, Refusal};
use crate::wall::{self, Rectified, Sighting, Tone, View, survey};
use crate::warning::Warning;
use rayon::prelude::*;
use std::collections::{BTreeMap, HashMap};
use std::path::PathBuf;

/// Most bytes of photos that are kept from the first look to the second, where there are several: one of a phone's, or three of 4
/// megapixels. What is not kept is decoded again, which costs far less than finding the marks and reading the edge.
const MOST_KEPT_BYTES: usize = 40_000_000;

/// What is known of a shot from look to look, whether its photo can be read or not.
struct Known<'a> {
    shot: &'a Shot,
    lamp: &'a Lamp,
    /// The photos beside its own that could be read.
    others: Vec<OtherPhoto>,
    sha256: Option<String>,
    /// By the job, where it gives the time.
    capture: Capture,
    /// That EXIF has another time than the job.
    taken_warning: Option<Warning>,
    /// By which its exposure is known again; none of photos that were merged.
    grain: Option<Grain>,
}

/// What the first look at a shot left: its photo with the marks, or why there is none.
struct FirstLook<'a> {
    known: Known<'a>,
    sighted: Result<Sighted, Refusal>,
}

/// What was seen in a photo that could be read.
struct Sighted {
    sighting: Sighting,
    /// The photo, where it is kept.
    photo: Option<Photo>,
    /// Luminance of the photo, merged with its brackets, over that of the shot's main photo.
    scale: f64,
    /// What is to be said of the brackets.
    bracket_warnings: Vec<Warning>,
    /// What the marks say of its response.
    tone: Tone,
}

/// Reads all shots of a job. What cannot be read is a refusal within its reading, never an error. `step_done` is called
/// twice for each shot.
#[must_use]
pub(crate) fn measure_job(setting: &Setting<'_>, step_done: &(dyn Fn() + Sync)) -> Vec<ShotReading> {
    // A shot without its lamp was turned down by the job's check.
    let shots: Vec<(&Shot, &Lamp)> = setting
        .job
        .shot
        .iter()
        .filter_map(|shot| Some((shot, setting.job.lamp_of(shot)?)))
        .collect();
    let sizes: Vec<ShotSize> = shots.iter().map(|(shot, _)| ShotSize::of(setting, shot)).collect();
    let kept = kept(&sizes);
    let runs = photo::side_by_side(&sizes.iter().map(|size| size.at_once_px).collect::<Vec<_>>());
    let mut firsts = Vec::with_capacity(shots.len());
    for run in &runs {
        let look = |n: usize| {
            let (shot, lamp) = shots[n];
            let first = FirstLook::at(setting, shot, lamp, kept[n]);
            step_done();
            first
        };
        firsts.par_extend(run.clone().into_par_iter().map(look));
    }
    let (views, walls) = views(setting, &firsts);
    let beside = Beside::of(setting, &shots, walls);
    let mut seen = firsts.into_iter().zip(views);
    let mut looks = Vec::with_capacity(shots.len());
    for run in &runs {
        let part: Vec<_> = seen.by_ref().take(run.len()).collect();
        looks.par_extend(part.into_par_iter().map(|(first, view)| {
            let look = first.read(setting, view, &beside);
            step_done();
            look
        }));
    }
    read_together(setting, &mut looks);
    let grains: Vec<Option<Grain>> = looks.iter_mut().map(|look| look.known.grain.take()).collect();
    let mut readings: Vec<ShotReading> = looks.into_iter().map(|look| look.judge(setting, &beside)).collect();
    refuse_copies(&mut readings, &grains, &setting.job.trial);
    settle_together(setting, &mut readings, |shot| beside.states.photos(shot));
    readings
}

/// Reads the edges of each lamp together that stood still before the wall: those of one stage. What one stage's wall does is no
/// other's: its sources stand behind those of the stages before.
fn read_together(setting: &Setting<'_>, looks: &mut [SecondLook<'_>]) {
    /// One lamp where it stood at one stage, with its cut-offs.
    type Stand<'s, 'e> = (&'s Lamp, Vec<&'e mut CutOff>);
    let mut stands: BTreeMap<(Side, Option<Stage>), Stand<'_, '_>> = BTreeMap::new();
    for look in looks {
        if let Ok(edge) = &mut look.edge {
            let (lamp, shot) = (look.known.lamp, look.known.shot);
            let stand = stands.entry((lamp.side, shot.stage));
            stand.or_insert((lamp, Vec::new())).1.push(&mut edge.cutoff);
        }
    }
    let mut sources: HashMap<Side, usize> = HashMap::new();
    let mut numbered = Vec::new();
    for ((side, _), (lamp, cutoffs)) in stands {
        let before = sources.entry(side).or_default();
        let from = *before;
        *before += cutoffs.len();
        numbered.push((lamp, cutoffs, from));
    }
    numbered.into_par_iter().for_each(|(lamp, mut cutoffs, from)| {
        cutoff::read_together(&mut cutoffs, lamp, setting.job.traffic, from);
    });
}

/// Sizes of a shot's photos, px.
struct ShotSize {
    /// All of them, which are in memory at once.
    at_once_px: u64,
    /// Bytes that its photo takes, merged with its brackets, where it is kept.
    kept_bytes: usize,
    is_bracketed: bool,
}

impl ShotSize {
    fn of(setting: &Setting<'_>, shot: &Shot) -> Self {
        let px = |path: &PathBuf| photo::size_px(&setting.folder.join(path));
        let own_px = px(&shot.photo);
        let is_bracketed = !shot.brackets.is_empty();
        // Light of a merged photo and what is clipped, or three codes.
        let bytes_a_px = if is_bracketed { 5 } else { 3 };
        Self {
            at_once_px: own_px + shot.brackets.iter().chain(&shot.lamp_off).map(px).sum::<u64>(),
            kept_bytes: usize::try_from(own_px).map_or(usize::MAX, |px| px.saturating_mul(bytes_a_px)),
            is_bracketed,
        }
    }
}

/// How many bytes may be kept of each shot's photo, all of it or nothing: of merged ones first, since they are dear to make again; of
/// the others only where all have room, since a few of many would take it for next to nothing.
fn kept(sizes: &[ShotSize]) -> Vec<usize> {
    let sum = |sizes: &mut dyn Iterator<Item = &ShotSize>| {
        sizes.fold(0_usize, |sum, size| sum.saturating_add(size.kept_bytes))
    };
    // One by itself is alone in memory at the second look as well.
    let all_fit = sizes.len() == 1 || sum(&mut sizes.iter()) <= MOST_KEPT_BYTES;
    let mut held_bytes = 0_usize;
    let keep = |size: &ShotSize| {
        let more = held_bytes.saturating_add(size.kept_bytes);
        if !(all_fit || size.is_bracketed && more <= MOST_KEPT_BYTES) {
            return 0;
        }
        held_bytes = more;
        size.kept_bytes
    };
    sizes.iter().map(keep).collect()
}

/// What a reading takes from the job's other photos.
struct Beside<'a> {
    off_photos: OffPhotos,
    states: States<'a>,
    walls: WallPhotos,
}

impl<'a> Beside<'a> {
    fn of(setting: &Setting<'a>, shots: &[(&Shot, &Lamp)], walls: WallPhotos) -> Self {
        Self {
            walls,
            off_photos: OffPhotos::of(shots.iter().map(|(shot, _)| *shot)),
            states: States::of(setting.job),
        }
    }
}

/// How many photos of the job show each state.
struct States<'a>(HashMap<State<'a>, usize>);

impl<'a> States<'a> {
    fn of(job: &'a Job) -> Self {
        let mut counts = HashMap::new();
        for state in job.shot.iter().filter_map(Shot::state) {
            *counts.entry(state).or_insert(0) += 1;
        }
        Self(counts)
    }

    /// Photos of the shot's state, its own among them.
    fn photos(&self, shot: &Shot) -> usize {
        let listed = shot.state().and_then(|state| self.0.get(&state));
        listed.copied().unwrap_or(1)
    }
}

/// Reads one shot by itself, as if it were the job's only one.
#[must_use]
pub fn measure_shot(setting: &Setting<'_>, shot: &Shot, lamp: &Lamp) -> ShotReading {
    let first = FirstLook::at(setting, shot, lamp, usize::MAX);
    let (mut views, walls) = views(setting, std::slice::from_ref(&first));
    let view = views.remove(0);
    let beside = Beside::of(setting, &[(shot, lamp)], walls);
    first.read(setting, view, &beside).judge(setting, &beside)
}

/// The inclination that a cut-off through a place in a shot's photo would have, per cent; the place in px of the upright photo.
///
/// # Errors
/// A [`Refusal`] where the photo's view of the wall is not known, or the place is not on the wall.
pub(crate) fn inclination_of_place(
    setting: &Setting<'_>,
    shot: &Shot,
    lamp: &Lamp,
    photo_px: [f64; 2],
) -> Result<f64, Refusal> {
    let first = FirstLook::at(setting, shot, lamp, 0);
    let (mut views, _) = views(setting, std::slice::from_ref(&first));
    let view = views.remove(0)?;
    let on_wall = view.to_wall(photo_px).filter(|at| at.iter().all(|mm| mm.is_finite()));
    let Some([_, y_mm]) = on_wall else {
        return Err(Refusal::new(Reason::CutoffOutOfFrame, |language| {
            said!(
                language;
                "the place that was marked is not on the wall; mark it on the cut-off, beside the lamp",
                "die markierte Stelle liegt nicht auf der Wand; sie auf der Hell-Dunkel-Grenze neben dem Scheinwerfer markieren"
            )
        }));
    };
    Ok(inclination_at_percent(y_mm, lamp, setting.bay))
}

/// The view of each shot, from the marks of all, the wall photos' among them; for a shot that was not read, why.
fn views(setting: &Setting<'_>, firsts: &[FirstLook<'_>]) -> (Vec<Result<View, Refusal>>, WallPhotos) {
    // One photo may stand in two shots (both lamps on it); its marks count once.
    let mut digests: HashMap<&str, usize> = HashMap::new();
    let mut sightings = Vec::new();
    let places: Vec<Result<usize, &Refusal>> = firsts
        .iter()
        .map(|first| {
            let sighted = first.sighted.as_ref()?;
            let digest = first.known.sha256.as_deref().unwrap_or_default();
            Ok(*digests.entry(digest).or_insert_with(|| {
                sightings.push(sighted.sighting.clone());
                sightings.len() - 1
            }))
        })
        .collect();
    let (walls, unused) = WallPhotos::look(setting);
    let shots = sightings.len();
    sightings.extend(walls.iter().map(|wall| wall.sighting.clone()));
    let mut views = survey(&sightings, setting.bay);
    let walls = WallPhotos::with_views(walls, views.split_off(shots), unused);
    let of_shots = places
        .into_iter()
        .map(|place| match place {
            Ok(n) => views[n].clone(),
            Err(refusal) => Err(refusal.clone()),
        })
        .collect();
    (of_shots, walls)
}

impl<'a> FirstLook<'a> {
    /// Reads a shot's photo and finds its marks. The photo is kept where it takes no more than `most_kept_bytes`.
    fn at(setting: &Setting<'_>, shot: &'a Shot, lamp: &'a Lamp, most_kept_bytes: usize) -> Self {
        let mut grain = None;
        let (sha256, mut capture, others, sighted) = match look(setting, shot) {
            Ok(bracketed) => {
                let photo = bracketed.photo;
                grain = (shot.brackets.is_empty() && setting.job.shot.len() > 1).then(|| Grain::of(&photo));
                let (sha256, capture) = (photo.sha256.clone(), photo.capture.clone());
                let sighted = Sighted {
                    sighting: Sighting {
                        found: bracketed.found,
                        size_px: photo.size_px().into(),
                        capture: capture.clone(),
                        ..Sighting::default()
                    },
                    photo: (photo.bytes() <= most_kept_bytes).then_some(photo),
                    scale: bracketed.scale,
                    bracket_warnings: bracketed.warnings,
                    tone: bracketed.tone,
                };
                (Some(sha256), capture, bracketed.others, Ok(sighted))
            }
            Err(refusal) => (None, Capture::default(), Vec::new(), Err(refusal)),
        };
        let taken_warning = typed_time(shot, &mut capture);
        let known = Known {
            shot,
            lamp,
            others,
            sha256,
            capture,
            taken_warning,
            grain,
        };
        Self { known, sighted }
    }

    /// Reads the cut-off once the view is known.
    fn read(self, setting: &Setting<'_>, view: Result<View, Refusal>, beside: &Beside<'_>) -> SecondLook<'a> {
        let mut known = self.known;
        let (shot, lamp) = (known.shot, known.lamp);
        let (mut picture, mut eye_mm) = (None, None);
        let edge = self.sighted.and_then(|sighted| {
            let (bracketed, view) = sighted.with_view(setting, shot, known.sha256.as_deref(), view)?;
            eye_mm = Some(view.eye_mm());
            picture = setting.pictures.then(|| wall::rectify(&bracketed.photo, &view, lamp));
            let off = LampOff::read(setting, shot, &bracketed, &beside.off_photos)?;
            known.others.extend(off.as_ref().map(LampOff::as_other));
            known.others.extend(beside.walls.as_others());
            read_edge(setting, (shot, lamp), &bracketed, view, off.as_ref(), &beside.walls)
        });
        SecondLook {
            known,
            edge,
            picture,
            eye_mm,
        }
    }
}

/// What the second look at a shot left: the edge of its light, or why there is none.
struct SecondLook<'a> {
    known: Known<'a>,
    edge: Result<Edge, Refusal>,
    picture: Option<Rectified>,
    eye_mm: Option<[f64; 3]>,
}

impl SecondLook<'_> {
    /// Judges the aim once the edges of all photos are known.
    fn judge(self, setting: &Setting<'_>, beside: &Beside<'_>) -> ShotReading {
        let known = self.known;
        let (shot, lamp) = (known.shot, known.lamp);
        let recoded = known.capture.processing.contains(&Processing::Recoded);
        let edge = self.edge.map_err(|refusal| {
            if !recoded {
                return refusal;
            }
            // What is wrong with it may be no more than its coding.
            refusal.reworded(|language, message| {
                said!(
                    language;
                    "{message}. First of all hand over the original file: this one is compressed more strongly than a camera does, as a \
                     messenger passes photos on",
                    "{message}. Zuallererst die Originaldatei verwenden: Diese ist stärker komprimiert, als eine Kamera es tut, wie ein \
                     Nachrichtendienst Fotos weitergibt"
                )
            })
        });
        let result = edge.map(|edge| {
            let mut measured = edge.judge(setting, shot, lamp, beside.states.photos(shot));
            measured.warnings.extend(known.taken_warning);
            measured
        });
        ShotReading {
            shot: shot.clone(),
            lamp: lamp.clone(),
            sha256: known.sha256,
            others: known.others,
            capture: known.capture,
            result,
            picture: self.picture,
            eye_mm: self.eye_mm,
        }
    }
}

/// A time that the job gives counts before EXIF's; that EXIF has another by more than a minute is said.
fn typed_time(shot: &Shot, capture: &mut Capture) -> Option<Warning> {
    /// Typed times are to the minute, s.
    const SAME_S: f64 = 60.0;
    let typed = shot.taken.as_ref()?;
    let exif_s = capture.clock_s();
    let exif = capture.taken.replace(typed.clone());
    capture.subsecond_s = None;
    let apart_s = capture.clock_s()? - exif_s?;
    (apart_s.abs() > SAME_S).then(|| Warning::TypedTimeAgainstExif {
        typed: typed.clone(),
        exif: exif.unwrap_or_default(),
    })
}

impl Sighted {
    /// The photo, read again where it was not kept, and its view; `sha256` is the digest of the file at the first look.
    fn with_view(
        self,
        setting: &Setting<'_>,
        shot: &Shot,
        sha256: Option<&str>,
        view: Result<View, Refusal>,
    ) -> Result<(Bracketed, View), Refusal> {
        let photo = match self.photo {
            Some(photo) => photo,
            None if shot.brackets.is_empty() => {
                Photo::read(setting.folder, &shot.photo)?.bent_back(&self.tone.response)
            }
            None => look(setting, shot)?.photo,
        };
        let bracketed = Bracketed {
            photo,
            found: self.sighting.found,
            scale: self.scale,
            warnings: self.bracket_warnings,
            others: Vec::new(),
            tone: self.tone,
        };
        let view = view.map_err(|refusal| {
            let exposure = (refusal.reason == Reason::MarksMissing).then(|| exposure_refusal(&bracketed.photo));
            bracketed.explain(exposure.flatten().unwrap_or(refusal))
        })?;
        if sha256 != Some(&bracketed.photo.sha256) {
            return Err(Refusal::new(Reason::UnreadablePhoto, |language| {
                said!(
                    language;
                    "the photo changed while it was being read; wait until it is copied and measure again",
                    "das Foto hat sich während des Lesens geändert; warten, bis es kopiert ist, und neu messen"
                )
            }));
        }
        Ok((bracketed, view))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Side, Stage, Traffic, Vacuum};

    /// Against counting by comparing each with each.
    #[test]
    fn photos_of_a_state_are_counted_as_by_looking_at_all() {
        let mut job = Job::of("T", "bay.toml", Traffic::Right);
        for n in 0..96 {
            job.shot.push(Shot {
                stage: [None, Some(Stage::Before), Some(Stage::After)][n % 3],
                position: (n % 4 > 0).then(|| (n % 5).to_string()),
                vacuum: (n % 7 == 0).then(|| Vacuum::from_mbar(100.0 * (n % 2) as f64)),
                sealed: n % 11 == 0,
                ..Shot::of(n.to_string(), if n % 2 == 0 { Side::Left } else { Side::Right })
            });
        }
        let states = States::of(&job);
        let mut most = 0;
        for shot in &job.shot {
            let alike =
                |other: &&Shot| other.photo == shot.photo || (shot.state().is_some() && other.state() == shot.state());
            let count = job.shot.iter().filter(alike).count();
            assert_eq!(states.photos(shot), count, "{shot:?}");
            most = most.max(count);
        }
        assert!(most > 1, "some states have several photos");
    }

    #[test]
    fn no_more_is_kept_than_the_limit_and_merged_photos_come_first() {
        let size = |kept_bytes, is_bracketed| ShotSize {
            at_once_px: 0,
            kept_bytes,
            is_bracketed,
        };
        let plain = [30_000_000, 6_000_000].map(|bytes| size(bytes, false));
        assert_eq!(kept(&plain), [30_000_000, 6_000_000]);
        let mixed = [
            size(12_000_000, false),
            size(20_000_000, true),
            size(21_000_000, true),
            size(usize::MAX, true),
            size(12_000_000, true),
        ];
        assert_eq!(kept(&mixed), [0, 20_000_000, 0, 0, 12_000_000]);
        assert_eq!(kept(&[size(usize::MAX, false)]), [usize::MAX], "one by itself");
    }

    #[test]
    fn a_typed_time_counts_before_exif_and_a_contradiction_is_said() {
        let shot = Shot {
            taken: Some("2031-03-04T20:15:00".to_owned()),
            ..Shot::of("1.jpg", Side::Left)
        };
        for (exif, is_said) in [
            (None, false),
            (Some("2031-03-04T20:15:59"), false),
            (Some("2031-03-04T21:15:00"), true),
        ] {
            let mut capture = Capture {
                taken: exif.map(str::to_owned),
                subsecond_s: Some(0.4),
                ..Capture::default()
            };
            let warning = typed_time(&shot, &mut capture);
            assert_eq!(
                (capture.taken.as_deref(), capture.subsecond_s),
                (shot.taken.as_deref(), None)
            );
            assert_eq!(warning.is_some(), is_said, "{exif:?}: {warning:?}");
            if let Some(warning) = warning {
                let said = warning.to_string();
                assert!(
                    said.contains("2031-03-04 21:15:00") && said.contains("20:15:00 counts"),
                    "{said}"
                );
            }
        }
    }
}
