//! What this build does on made photos: scenes drawn at random from a seed are rendered, read as any job is, and held
//! against their truth.
//!
//! Made photos show what a reading can do; they are no evidence of how a real lamp is read. A scene's seed is the run's
//! seed plus its number, so that a run of one scene from that seed shows it again.

mod case;
mod character;
mod class;
mod conditions;
mod picture;
mod place;
mod slips;
mod spoil;
mod summary;
mod table;
mod tones;
mod trial;
mod variety;

#[cfg(test)]
pub(crate) use case::{Case as MadeCase, Tape};
pub(crate) use class::Way;
pub(crate) use table::render;
#[cfg(test)]
pub(crate) use variety::varied;

use case::Case;
use conditions::{ConditionSummary, Conditioned};
use slips::{SlipSummary, Slipped};
use spoil::Spoilt;
use summary::{ReadingSummary, TravelSummary, UnreadableSummary};
use tones::{ToneSummary, Toned};
use trial::{Scored, Series};

use crate::error::Error;
use crate::record::SCHEMA;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rayon::prelude::*;
use serde::Serialize;

/// What a check looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Kind {
    /// Single photos of great variety, true places written down.
    Readings,
    /// Single photos at 7.6 to 10 m, with tape errors as the files declare them.
    Taped,
    /// Single photos at 5 to 7.6 m of lamps that are no points; of half of them the job gives the face's height.
    LampFaces,
    /// Series over four positions of the range control.
    Travel,
    /// The same before rough walls, half of them with a photo of the wall by the room's light.
    RoughWalls,
    /// Photos that cannot be read as they are, or should not be.
    Unreadable,
    /// Cars that stand askew, painted walls, soft lamps, strong noise from far off.
    Conditions,
    /// Photos whose light went through other curves than sRGB's.
    Tones,
    /// Photos with a tone mapping that follows the surroundings.
    LocalTones,
    /// Whole jobs in which something is entered wrongly.
    Slips,
}

impl Kind {
    /// All kinds, in the order of the output.
    pub const ALL: [Self; 10] = [
        Self::Readings,
        Self::Taped,
        Self::LampFaces,
        Self::Travel,
        Self::RoughWalls,
        Self::Unreadable,
        Self::Conditions,
        Self::Tones,
        Self::LocalTones,
        Self::Slips,
    ];
    /// Those of a mix: all whose scenes are quickly drawn and read.
    pub const MIX: [Self; 4] = [Self::Readings, Self::Taped, Self::Travel, Self::Unreadable];
}

impl std::fmt::Display for Kind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Readings => "readings",
            Self::Taped => "taped",
            Self::LampFaces => "lamp-faces",
            Self::Travel => "travel",
            Self::RoughWalls => "rough-walls",
            Self::Unreadable => "unreadable",
            Self::Conditions => "conditions",
            Self::Tones => "tones",
            Self::LocalTones => "local-tones",
            Self::Slips => "slips",
        })
    }
}

impl std::str::FromStr for Kind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .into_iter()
            .find(|kind| kind.to_string() == text)
            .ok_or_else(|| format!("give one of {}", Self::ALL.map(|kind| kind.to_string()).join(", ")))
    }
}

/// Scenes with their summary.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Group<T, S> {
    /// Over all of them.
    pub summary: S,
    /// Each.
    pub scenes: Vec<T>,
}

/// What a check found.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Checked {
    /// Version of the output's form.
    pub schema: u32,
    /// The program that was checked.
    pub program: &'static str,
    /// The seed of the run.
    pub seed: u64,
    /// Single photos of great variety.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub readings: Option<Group<Scored, ReadingSummary>>,
    /// Single photos with tape errors.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taped: Option<Group<Scored, ReadingSummary>>,
    /// Single photos of lamps near the wall.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp_faces: Option<Group<Scored, ReadingSummary>>,
    /// Series.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub travel: Option<Group<Series, TravelSummary>>,
    /// Series before rough walls.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rough_walls: Option<Group<Series, TravelSummary>>,
    /// Spoilt photos.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unreadable: Option<Group<Spoilt, UnreadableSummary>>,
    /// Photos of what a workshop has.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conditions: Option<Group<Conditioned, ConditionSummary>>,
    /// Photos with tone curves.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tones: Option<Group<Toned, ToneSummary>>,
    /// Photos with local tone mapping.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub local_tones: Option<Group<Toned, ToneSummary>>,
    /// Jobs with slips.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slips: Option<Group<Slipped, SlipSummary>>,
}

/// How many scenes of a kind a run draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Wanted {
    /// The kind.
    pub kind: Kind,
    /// Scenes.
    pub scenes: usize,
}

/// Draws and reads what is wanted; `done` is called after each scene, from any thread.
///
/// Figures and their order depend on the seed alone, not on the number of threads.
///
/// # Errors
/// [`Error`] where a scene cannot be drawn, or a photo cannot be written to the temporary folder.
pub(crate) fn run(seed: u64, wanted: &[Wanted], done: &(impl Fn() + Sync)) -> Result<Checked, Error> {
    let mut checked = Checked {
        schema: SCHEMA,
        program: concat!("beamfall ", env!("CARGO_PKG_VERSION")),
        seed,
        readings: None,
        taped: None,
        lamp_faces: None,
        travel: None,
        rough_walls: None,
        unreadable: None,
        conditions: None,
        tones: None,
        local_tones: None,
        slips: None,
    };
    for &Wanted { kind, scenes } in wanted {
        let singles = |draw: fn(u64) -> Result<Case, Error>| {
            let scenes = each(seed, scenes, done, |seed| trial::score(&draw(seed)?))?;
            Ok::<_, Error>(Some(Group {
                summary: ReadingSummary::of(&scenes),
                scenes,
            }))
        };
        let series = |draw: fn(u64) -> Result<(Case, bool), Error>| {
            let scenes = each(seed, scenes, done, |seed| {
                let (case, hand) = draw(seed)?;
                trial::score_series(&case, hand)
            })?;
            Ok::<_, Error>(Some(Group {
                summary: TravelSummary::of(&scenes),
                scenes,
            }))
        };
        let toned = |read: fn(u64) -> Result<Toned, Error>| {
            let scenes = each(seed, scenes, done, read)?;
            Ok::<_, Error>(Some(Group {
                summary: ToneSummary::of(&scenes),
                scenes,
            }))
        };
        match kind {
            Kind::Readings => checked.readings = singles(variety::reading)?,
            Kind::Taped => checked.taped = singles(variety::taped)?,
            Kind::LampFaces => checked.lamp_faces = singles(variety::lamp_faces)?,
            Kind::Travel => checked.travel = series(variety::series)?,
            Kind::RoughWalls => checked.rough_walls = series(variety::rough_walls)?,
            Kind::Unreadable => {
                let scenes = each(seed, scenes, done, spoil::spoilt)?;
                checked.unreadable = Some(Group {
                    summary: UnreadableSummary::of(&scenes),
                    scenes,
                });
            }
            Kind::Conditions => {
                let scenes = each(seed, scenes, done, conditions::conditioned)?;
                checked.conditions = Some(Group {
                    summary: ConditionSummary::of(&scenes),
                    scenes,
                });
            }
            Kind::Tones => checked.tones = toned(tones::toned)?,
            Kind::LocalTones => checked.local_tones = toned(tones::locally_toned)?,
            Kind::Slips => {
                let scenes = each(seed, scenes, done, slips::slipped)?;
                checked.slips = Some(Group {
                    summary: SlipSummary::of(&scenes),
                    scenes,
                });
            }
        }
    }
    Ok(checked)
}

/// Runs `count` trials with seeds from `seed` on, in order.
///
/// A few at a time: a thread that waits within one trial may begin another, and each holds whole pictures in memory.
fn each<T: Send>(
    seed: u64,
    count: usize,
    done: &(impl Fn() + Sync),
    trial: impl Fn(u64) -> Result<T, Error> + Sync,
) -> Result<Vec<T>, Error> {
    let seeds: Vec<u64> = (0..count as u64).map(|n| seed.wrapping_add(n)).collect();
    let mut results = Vec::with_capacity(count);
    for few in seeds.chunks(2 * rayon::current_num_threads()) {
        let part: Vec<Result<T, Error>> = few
            .par_iter()
            .map(|&seed| {
                let result = trial(seed).map_err(|error| error.within(format!("scene with seed {seed}")));
                done();
                result
            })
            .collect();
        for result in part {
            results.push(result?);
        }
    }
    Ok(results)
}

/// The numbers that a scene is drawn from; `stream` sets the kinds apart.
fn seeded(seed: u64, stream: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(stream);
    rng
}
