//! What would settle an undecided verdict: which single thing, measured or photographed better, brings the whole 95 %
//! interval to one side of the limits; and what brings a beam inside that is outside.
//!
//! Worked out from the budget's terms. A mend lowers its own terms and leaves the others, so that it is enough when
//! the root sum of squares of all (JCGM 100:2008, 5.1.2), times 1.96, fits between the figure and the nearest limit.
//! It supposes that the figure stays where it is; a better measurement can move it, too, within its interval.
//!
//! The lamp's own screw moves its beam at all positions alike, so that a turn is worked out from all of a lamp's judged photos of
//! a stage together: one that mends one position and takes another out of its limits is none. How low a beam may hang at a position
//! for a load only a car with that load tells ([`super::Verdict::load_decides`]), and no turn is held up by it. A photo that is not the camera's own
//! is taken again before anything is turned for it.

use super::outcome::Outcome;
use super::{Aim, COVERAGE_FACTOR_95, LampTurn, Measured, Setting, ShotReading, Source};
use crate::cutoff;
use crate::language::{Language, Said, said};
use crate::photo::Processing;
use crate::record::{Band, Bay, HeightsFrom, Lamp, Shot, Side, Stage};
use crate::report::words::listed;
use crate::warning::{Cause, Warning, unprocessed};
use std::path::PathBuf;

/// What care reaches, one standard deviation (common practice, no source): a distance with a laser meter, a height and
/// a sheet's centre with a steel rule, a floor with a water level over the whole length.
const LEAST_DISTANCE_SD_MM: f64 = 2.0;
const LEAST_PLACE_SD_MM: f64 = 1.0;
const LEAST_GRADE_SD_PERCENT: f64 = 0.01;
/// Share of the stray light's term that a lamp-off photo leaves, at the most: what is taken to be left then is a
/// twenty-fifth of the dark level, and a tenth or more without one (see `cutoff`).
const LAMP_OFF_LEAVES: f64 = cutoff::STRAY_SHARE_LEFT / cutoff::STRAY_SHARE_USUAL;
/// More photos of one position than these nobody takes (our choice, no source).
const MOST_PHOTOS: usize = 9;

/// What is known of how the terms came about.
#[derive(Debug, Clone, Copy)]
pub struct Means<'a> {
    /// The lamp as measured on the car.
    pub lamp: &'a Lamp,
    /// The bay as measured.
    pub bay: &'a Bay,
    /// Whether ambient light was taken away with a lamp-off photo.
    pub has_lamp_off: bool,
    /// Number of photos of this state of this lamp in the job, this one with them.
    pub photos: usize,
}

/// One thing that can be done better.
struct Mend<'a> {
    /// Variance of its terms now, and the least that it can bring them to, per cent squared.
    now: f64,
    least: f64,
    /// What to do so that the terms' variance is at most this.
    words: Box<dyn Fn(f64) -> String + 'a>,
}

/// What turning the lamp by its own screw would do.
#[derive(Debug, Clone, PartialEq)]
enum Turn {
    /// Turned down by so much, per cent, all judged photos of the lamp are clearly inside, as far from the limits as can be.
    By(f64),
    /// A photo's interval is as wide as what is allowed; what it shows, where it is one of several.
    TooWide(String),
    /// Two judged photos cannot both be clearly inside.
    NoRoom(NoRoom),
    /// These photos of the lamp are not the camera's own, so that nothing is turned by them.
    RetakeFirst(Vec<PathBuf>),
    /// The lamp as set, at which the screw is turned, was not judged.
    SettingFirst,
}

/// Two judged photos of one lamp that no turn brings inside together.
#[derive(Debug, Clone, PartialEq)]
struct NoRoom {
    /// What they show: a position's name, or else the photo's.
    of: [String; 2],
    /// How far the beam lies lower in the second, per cent.
    apart_percent: f64,
    /// How far it may lie lower with both clearly inside, per cent.
    room_percent: f64,
}

/// A photo that is judged, as far as a turn of the lamp is concerned.
struct Judged {
    /// A position's name, or else the photo's.
    of: String,
    outcome: Outcome,
    percent: f64,
    u95_percent: f64,
    band: Band,
    /// Judged by the band for the lamp as set.
    setting: bool,
    /// The photo, where it is to be taken again first.
    retake: Option<PathBuf>,
}

/// What a turn of the lamp is to keep to, by the band that a photo is judged by: at the positions for a load the beam is not to dazzle.
fn band_of_turn(setting: bool, band: Band) -> Band {
    Band {
        high_percent: if setting { band.high_percent } else { f64::INFINITY },
        ..band
    }
}

impl Judged {
    fn is_inside_turned(&self, by_percent: f64) -> bool {
        Outcome::of(self.percent + by_percent, self.u95_percent, self.band) == Outcome::Inside
    }
}

impl Turn {
    /// What it does, in plain words. `other`: it stands behind other ways.
    fn told(&self, aim: &Aim, lamp: &Lamp, other: bool) -> LampTurn {
        LampTurn {
            down_percent: match self {
                Self::By(percent) => Some(*percent),
                _ => None,
            },
            words: Said::of(|language| turn_words(language, self, aim, lamp, other)),
        }
    }

    /// The turn with which all photos of a lamp are clearly inside, or why there is none.
    fn of(all: &[Judged]) -> Self {
        let retake: Vec<PathBuf> = all.iter().filter_map(|one| one.retake.clone()).collect();
        if !retake.is_empty() {
            return Self::RetakeFirst(retake);
        }
        if !all.iter().any(|one| one.setting) {
            return Self::SettingFirst;
        }
        let least_of = |one: &Judged| one.band.low_percent + one.u95_percent - one.percent;
        let most_of = |one: &Judged| one.band.high_percent - one.u95_percent - one.percent;
        let first = all.iter().max_by(|a, b| least_of(a).total_cmp(&least_of(b)));
        let last = all.iter().min_by(|a, b| most_of(a).total_cmp(&most_of(b)));
        let (Some(first), Some(last)) = (first, last) else {
            return Self::SettingFirst;
        };
        let (least, most) = (least_of(first), most_of(last));
        if least <= most {
            // The middle of what is allowed: a screw cannot be turned to a hair, and the next photo's figure moves within its
            // interval.
            let middle = 0.5 * (least + most);
            let by = if middle.is_finite() {
                middle
            } else {
                0.0_f64.clamp(least, most)
            };
            // As few places as bring all inside.
            let turned = [100.0, 1000.0, 10_000.0]
                .into_iter()
                .map(|scale| (by * scale).round() / scale)
                .find(|&by| all.iter().all(|one| one.is_inside_turned(by)));
            if let Some(by) = turned {
                return Self::By(by);
            }
        }
        if std::ptr::eq(first, last) {
            let of = if all.len() > 1 { first.of.clone() } else { String::new() };
            return Self::TooWide(of);
        }
        Self::NoRoom(NoRoom {
            of: [first.of.clone(), last.of.clone()],
            apart_percent: last.percent - first.percent,
            room_percent: (last.band.high_percent - last.u95_percent) - (first.band.low_percent + first.u95_percent),
        })
    }
}

/// Whether a photo's warnings say that it is not the camera's own picture: then it is taken again, and nothing is turned for it.
fn is_edited(warnings: &[Warning]) -> bool {
    (warnings.iter())
        .any(|warning| is_recoded(warning) || is_cropped(warning) || warning.causes().contains(&Cause::Tone))
}

fn is_cropped(warning: &Warning) -> bool {
    matches!(warning, Warning::Cropped { .. })
}

fn is_recoded(warning: &Warning) -> bool {
    let Warning::Processed { sign, .. } = warning else {
        return false;
    };
    *sign == Processing::Recoded
}

/// What would settle a verdict, in plain words: what is to be measured or photographed better, and how the lamp is turned.
pub(super) type Ways = (Option<Said>, Option<LampTurn>);

/// What would settle the verdict of a photo by itself; nothing where the interval does not straddle a limit, or is no number.
#[must_use]
pub(super) fn what_would_settle(aim: &Aim, setting: bool, band: Band, means: &Means<'_>) -> Ways {
    let alone = Judged {
        of: String::new(),
        outcome: Outcome::of(aim.inclination_percent, aim.u95_percent(), band),
        percent: aim.inclination_percent,
        u95_percent: aim.u95_percent(),
        band: band_of_turn(setting, band),
        setting,
        retake: None,
    };
    in_words(aim, band, means, &Turn::of(&[alone]))
}

/// Says anew what would settle each undecided verdict, and what brings inside what is outside, with all photos of its lamp and stage
/// in view. `photos`: how many of the job's photos show a shot's state.
pub(super) fn settle_together(setting: &Setting<'_>, readings: &mut [ShotReading], photos: impl Fn(&Shot) -> usize) {
    let key = |reading: &ShotReading| -> (Side, Option<Stage>) { (reading.shot.lamp, reading.shot.stage) };
    let judged = |reading: &ShotReading| {
        let measured = reading.result.as_ref().ok()?;
        let verdict = measured.verdict.as_ref()?;
        let shot = &reading.shot;
        Some(Judged {
            of: (shot.position.as_deref())
                .map_or_else(|| shot.photo.display().to_string(), |name| name.trim().to_owned()),
            outcome: verdict.outcome,
            percent: measured.aim.inclination_percent,
            u95_percent: measured.aim.u95_percent(),
            band: band_of_turn(verdict.setting, verdict.band),
            setting: verdict.setting,
            retake: is_edited(&measured.warnings).then(|| shot.photo.clone()),
        })
    };
    let mut settled: Vec<(usize, Ways)> = Vec::new();
    for (n, reading) in readings.iter().enumerate() {
        let Ok(Measured {
            aim,
            verdict: Some(verdict),
            warnings,
        }) = &reading.result
        else {
            continue;
        };
        if verdict.outcome == Outcome::Inside {
            continue;
        }
        let words = if is_edited(warnings) {
            (Some(Said::of(|language| retake_words(language, warnings))), None)
        } else if verdict.load_decides {
            (None, None)
        } else {
            let same = readings.iter().filter(|other| key(other) == key(reading));
            let all: Vec<Judged> = same.filter_map(judged).collect();
            let turn = Turn::of(&all);
            if verdict.outcome == Outcome::Outside {
                // Photos of one setting that disagree are sorted out before anything is turned by them.
                let inside_too = all.iter().any(|one| {
                    let same = (one.setting && verdict.setting)
                        || reading.shot.position.as_deref().map(str::trim) == Some(one.of.as_str());
                    same && one.outcome == Outcome::Inside
                });
                (None, (!inside_too).then(|| turn.told(aim, &reading.lamp, false)))
            } else {
                let means = Means {
                    lamp: &reading.lamp,
                    bay: setting.bay,
                    has_lamp_off: reading.shot.lamp_off.is_some(),
                    photos: photos(&reading.shot),
                };
                in_words(aim, verdict.band, &means, &turn)
            }
        };
        settled.push((n, words));
    }
    for (n, words) in settled {
        if let Some(Ok(Measured {
            verdict: Some(verdict), ..
        })) = readings.get_mut(n).map(|reading| &mut reading.result)
        {
            (verdict.settle, verdict.turn) = words;
        }
    }
}

/// What settles the verdict of a photo that was edited.
fn retake_words(language: Language, warnings: &[Warning]) -> String {
    if warnings
        .iter()
        .any(|warning| is_recoded(warning) || is_cropped(warning))
    {
        return said!(
            language;
            "the photo first: hand over the original file, as the camera wrote it; until then nothing is turned for it",
            "zuerst das Foto: die Originaldatei verwenden, wie die Kamera sie geschrieben hat; bis dahin wird seinetwegen nichts verstellt"
        );
    }
    said!(
        language;
        "the photo first: {}; until then nothing is turned for it",
        "zuerst das Foto: {}; bis dahin wird seinetwegen nichts verstellt";
        unprocessed(language)
    )
}

fn in_words(aim: &Aim, band: Band, means: &Means<'_>, turn: &Turn) -> Ways {
    let Some((_, is_turned)) = settle(Language::English, aim, band, means) else {
        return (None, None);
    };
    let measured = Said::of(|language| {
        settle(language, aim, band, means)
            .map(|said| said.0)
            .unwrap_or_default()
    });
    let turned = is_turned.then(|| turn.told(aim, means.lamp, true));
    (Some(measured), turned)
}

/// What is to be measured or photographed better, and whether a turn of the lamp is a way, too.
fn settle(language: Language, aim: &Aim, band: Band, means: &Means<'_>) -> Option<(String, bool)> {
    let (percent, u95_percent) = (aim.inclination_percent, aim.u95_percent());
    if Outcome::of(percent, u95_percent, band) != Outcome::Undecided || !u95_percent.is_finite() {
        return None;
    }
    let (above, below) = (percent - band.low_percent, band.high_percent - percent);
    let goal = if above >= 0.0 && below >= 0.0 {
        Outcome::Inside
    } else {
        Outcome::Outside
    };
    // From the figure to the nearest limit; a hair less, since an interval that ends on a limit is not outside.
    let margin_percent = above.abs().min(below.abs()) * (1.0 - 1e-9);
    let wanted = (margin_percent / COVERAGE_FACTOR_95).powi(2);
    let variance = (u95_percent / COVERAGE_FACTOR_95).powi(2);
    let mut mends = mends(language, aim, means);
    mends.sort_by(|a, b| b.now.total_cmp(&a.now));

    let single: Vec<String> = mends
        .iter()
        .filter_map(|mend| {
            let allowed = wanted - (variance - mend.now);
            (allowed >= mend.least && allowed > 0.0).then(|| (mend.words)(allowed))
        })
        .take(2)
        .collect();
    let is_turned = single.is_empty() || goal == Outcome::Outside;
    let said_goal = goal.said(language);
    let settled = if !single.is_empty() {
        let single = single.join(language.pick("; or ", "; oder "));
        said!(
            language;
            "{single}; if the figure then comes out as now, it is {said_goal}",
            "{single}; kommt der Messwert dann heraus wie jetzt, liegt er {said_goal}"
        )
    } else if let Some(all) = together(language, &mends, variance, wanted) {
        said!(
            language;
            "no single mend is enough, but together these are: {all}; if the figure then comes out as now, it is {said_goal}",
            "einzeln genügt nichts, aber zusammen genügt dies: {all}; kommt der Messwert dann heraus wie jetzt, liegt er {said_goal}"
        )
    } else {
        said!(
            language;
            "the figure lies only {} % from the limit, and no measuring can be made good enough to tell on which \
             side",
            "der Messwert liegt nur {} % von der Grenze, und keine Messung wird gut genug, um zu sagen, auf welcher Seite";
            language.decimal(margin_percent, 3)
        )
    };
    Some((settled, is_turned))
}

fn largest_term(language: Language, aim: &Aim) -> &'static str {
    aim.budget
        .iter()
        .max_by(|a, b| a.sd_percent.total_cmp(&b.sd_percent))
        .map_or("", |term| term.source.said(language))
}

/// The mends, each done as well as it can be, largest first, until they are enough; `None` where all are not.
fn together(language: Language, mends: &[Mend<'_>], variance: f64, wanted: f64) -> Option<String> {
    let mut left = variance;
    let mut words = Vec::new();
    for mend in mends {
        left -= mend.now - mend.least;
        words.push((mend.words)(mend.least));
        if left <= wanted {
            return Some(words.join(language.pick(", and ", ", und ")));
        }
    }
    None
}

fn mends<'a>(language: Language, aim: &Aim, means: &Means<'a>) -> Vec<Mend<'a>> {
    let variance_of = |source: Source| -> f64 {
        let terms = aim.budget.iter().filter(|term| term.source == source);
        terms.map(|term| term.sd_percent.powi(2)).sum()
    };
    let mut mends: Vec<Mend<'a>> = Vec::new();
    // A term in proportion to what was measured with `now_sd`, which care brings to `least_sd`.
    let mut measured_again = |source: Source, now_sd: f64, least_sd: f64, words: fn(Language, f64, f64) -> String| {
        let now = variance_of(source);
        if now > 0.0 && least_sd < now_sd {
            mends.push(Mend {
                now,
                least: now * (least_sd / now_sd).powi(2),
                words: Box::new(move |allowed| words(language, now_sd, now_sd * (allowed / now).sqrt())),
            });
        }
    };
    measured_again(
        Source::Distance,
        means.lamp.distance_sd_mm,
        LEAST_DISTANCE_SD_MM,
        |language, now, sd| said!(language; "measure the distance to {}", "den Abstand auf {} genau messen"; length(language, sd, now)),
    );
    measured_again(
        Source::LampHeight,
        means.lamp.centre_height_sd_mm,
        LEAST_PLACE_SD_MM,
        |language, now, sd| said!(language; "measure the height of the lamp's centre to {}", "die Höhe der Scheinwerfermitte auf {} genau messen"; length(language, sd, now)),
    );
    measured_again(
        Source::Sheets,
        means.bay.marks.position_sd_mm,
        LEAST_PLACE_SD_MM,
        |language, now, sd| said!(language; "tape the sheets' centres again to {}", "die Mitten der Messblätter neu auf {} genau einmessen"; length(language, sd, now)),
    );
    let slope: fn(Language, f64, f64) -> String = match means.bay.heights_from {
        HeightsFrom::LevelLine => |language, now, sd| {
            said!(
                language;
                "find the standing area's grade to {}",
                "das Gefälle der Standfläche auf {} genau bestimmen";
                slope(language, sd, now)
            )
        },
        HeightsFrom::Floor => |language, now, sd| {
            said!(
                language;
                "find how level the floor is to {}",
                "die Neigung des Bodens auf {} genau bestimmen";
                slope(language, sd, now)
            )
        },
    };
    measured_again(Source::Floor, means.bay.grade_sd_percent, LEAST_GRADE_SD_PERCENT, slope);
    let face = variance_of(Source::LampFace);
    if means.lamp.face_height_mm.is_none() && face > 0.0 {
        mends.push(Mend {
            now: face,
            least: 0.0,
            words: Box::new(
                move |_| said!(language; "aim from a wall 10 m away", "an einer 10 m entfernten Wand messen"),
            ),
        });
    }
    let stray = variance_of(Source::StrayLight);
    if !means.has_lamp_off && stray > 0.0 {
        mends.push(Mend {
            now: stray,
            least: stray * LAMP_OFF_LEAVES.powi(2),
            words: Box::new(move |_| {
                said!(
                    language; "add a photo with the lamp off", "ein Foto ohne Licht ergänzen"
                )
            }),
        });
    }
    let photo = (aim.reading_u95_percent() / COVERAGE_FACTOR_95).powi(2);
    if photo > 0.0 {
        // The mean of N photos has an Nth of one photo's variance (JCGM 100:2008, 4.2.3). The budget does not tell noise,
        // which differs from photo to photo, from a rough wall under the edge, which does not; the words do.
        let at_hand = means.photos.max(1);
        mends.push(Mend {
            now: photo,
            least: photo / MOST_PHOTOS.max(at_hand) as f64,
            words: Box::new(move |allowed| {
                let count = (photo / allowed - 1e-9).ceil().max(2.0) as usize;
                let texture = language.pick(
                    "(what the wall's texture does is not lessened)",
                    "(was die Wandstruktur bewirkt, wird dadurch nicht kleiner)",
                );
                match count.saturating_sub(at_hand) {
                    0 => said!(
                        language;
                        "take the mean of the {at_hand} photos with nothing moved {texture}",
                        "das Mittel der {at_hand} Fotos nehmen, ohne dass dazwischen etwas bewegt wurde {texture}"
                    ),
                    1 => said!(
                        language;
                        "take 1 more photo with nothing moved, and the mean of the {count} {texture}",
                        "1 weiteres Foto aufnehmen, ohne etwas zu bewegen, und das Mittel der {count} nehmen {texture}"
                    ),
                    more => said!(
                        language;
                        "take {more} more photos with nothing moved, and the mean of the {count} {texture}",
                        "{more} weitere Fotos aufnehmen, ohne etwas zu bewegen, und das Mittel der {count} nehmen {texture}"
                    ),
                }
            }),
        });
    }
    mends
}

/// How to turn the lamp so that all its photos are clearly inside, or why that does not help. `other`: it stands behind other ways.
fn turn_words(language: Language, turn: &Turn, aim: &Aim, lamp: &Lamp, other: bool) -> String {
    let (or, oder) = if other { ("or ", "oder ") } else { ("", "") };
    let (either, auch) = if other { (" either", "auch ") } else { ("", "") };
    match turn {
        Turn::By(by) => {
            let places = if (by * 100.0 - (by * 100.0).round()).abs() < 1e-6 {
                2
            } else {
                4
            };
            let way = if *by > 0.0 {
                language.pick("down", "nach unten")
            } else {
                language.pick("up", "nach oben")
            };
            let size = by.abs();
            said!(
                language;
                "{or}turn the beam {way} by {} % ({:.0} mm at the wall): then it is clearly inside",
                "{oder}den Lichtkegel um {} % {way} stellen ({:.0} mm an der Wand): dann liegt er eindeutig innerhalb";
                language.decimal(size, places),
                size / 100.0 * lamp.distance_mm
            )
        }
        Turn::TooWide(of) => {
            let at = if of.is_empty() {
                String::new()
            } else {
                said!(language; " at {of}", " bei {of}")
            };
            said!(
                language;
                "the interval{at} is as wide as what is allowed, so that no aim is clearly inside: make the largest term \
                 smaller, \"{}\"",
                "das Intervall{at} ist so breit wie das Zulässige, deshalb liegt keine Einstellung eindeutig innerhalb: den größten \
                 Beitrag verkleinern, „{}“";
                largest_term(language, aim)
            )
        }
        Turn::NoRoom(NoRoom { of: [first, last], .. }) if first == last => said!(
            language;
            "no turn of the lamp's screw does it{either}: the photos of position {first} lie too far apart for all of them to be \
             clearly inside",
            "{auch}an der Einstellschraube lässt es sich nicht beheben: Die Fotos der Stellung {first} liegen zu weit auseinander, als \
             dass alle eindeutig innerhalb liegen könnten"
        ),
        Turn::NoRoom(NoRoom {
            of: [first, last],
            apart_percent,
            room_percent,
        }) => said!(
            language;
            "no turn of the lamp's screw does it{either}: from {first} to {last} the beam goes down by {} %, and for both to be clearly \
             inside it may by {} % at the most; have the adjuster's travel looked at first",
            "{auch}an der Einstellschraube lässt es sich nicht beheben: Von {first} bis {last} senkt sich der Lichtkegel um {} %, und \
             damit beide eindeutig innerhalb liegen, dürften es höchstens {} % sein; zuerst den Stellweg der Leuchtweitenverstellung \
             prüfen lassen";
            language.decimal(*apart_percent, 2),
            language.decimal(room_percent.max(0.0), 2)
        ),
        Turn::RetakeFirst(photos) => {
            let photos: Vec<String> = photos.iter().map(|photo| photo.display().to_string()).collect();
            said!(
                language;
                "before the lamp's screw is turned, take again what is not the camera's own picture, or give its original file: {}",
                "bevor die Einstellschraube gedreht wird, neu aufnehmen, was kein unbearbeitetes Bild der Kamera ist, oder seine \
                 Originaldatei verwenden: {}";
                listed(language, &photos)
            )
        }
        Turn::SettingFirst => said!(
            language;
            "before the lamp's screw is turned, photograph the lamp at position 0 too: it is set there, and all positions move with it",
            "bevor die Einstellschraube gedreht wird, den Scheinwerfer auch in Stellung 0 fotografieren: Dort wird er eingestellt, und \
             alle Stellungen gehen mit"
        ),
    }
}

/// A standard deviation to aim for, rounded down to half a millimetre, from 10 mm on to whole ones; and what it is now.
fn length(language: Language, sd_mm: f64, now_mm: f64) -> String {
    let step = if sd_mm < 10.0 { 0.5 } else { 1.0 };
    let sd_mm = ((sd_mm / step + 1e-9).floor() * step).max(LEAST_PLACE_SD_MM);
    as_sd(language, &format!("{sd_mm} mm"), &format!("{now_mm} mm"))
}

/// A slope's standard deviation to aim for, rounded down to three places, and what it is now.
fn slope(language: Language, sd_percent: f64, now_percent: f64) -> String {
    let sd_percent = (sd_percent * 1000.0 + 1e-9).floor() / 1000.0;
    as_sd(language, &format!("{sd_percent} %"), &format!("{now_percent} %"))
}

fn as_sd(language: Language, wanted: &str, now: &str) -> String {
    let (wanted, now) = (language.figure(wanted), language.figure(now));
    said!(
        language;
        "{wanted} (one standard deviation; now {now})",
        "{wanted} (eine Standardabweichung; jetzt {now})"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aim::Verdict;
    use crate::record::{Job, Marks, Shot, Traffic};
    use std::path::Path;

    const BAND: Band = Band {
        low_percent: 1.0,
        high_percent: 1.5,
    };

    fn lamp() -> Lamp {
        Lamp {
            side: Side::Left,
            stage: None,
            bay: None,
            centre_height_mm: 650.0,
            centre_height_sd_mm: 2.0,
            centre_x_mm: -560.0,
            distance_mm: 10_000.0,
            distance_sd_mm: 300.0,
            face_height_mm: None,
            mounting_height_mm: None,
        }
    }

    fn bay() -> Bay {
        Bay {
            schema: 1,
            name: "test".to_owned(),
            heights_from: HeightsFrom::LevelLine,
            grade_percent: 0.0,
            grade_sd_percent: 0.03,
            marks: Marks {
                family: "tag36h11".to_owned(),
                size_mm: 160.0,
                position_sd_mm: 2.0,
                sheet: Vec::new(),
            },
        }
    }

    fn aim(inclination_percent: f64, terms: &[(Source, f64)]) -> Aim {
        Aim::made(inclination_percent, terms, super::super::Common::default())
    }

    fn said(inclination_percent: f64, terms: &[(Source, f64)], photos: usize) -> Option<String> {
        let (lamp, bay) = (lamp(), bay());
        let means = Means {
            lamp: &lamp,
            bay: &bay,
            has_lamp_off: false,
            photos,
        };
        let settle = Verdict::of(&aim(inclination_percent, terms), "T", true, BAND, &means).settled()?;
        assert!(!settle.within(Language::German).contains(" the "), "{settle:?}");
        Some(settle.within(Language::English).to_owned())
    }

    #[test]
    fn a_decided_verdict_needs_nothing() {
        assert_eq!(said(1.25, &[(Source::Distance, 0.05)], 1), None);
        assert_eq!(
            said(0.5, &[(Source::Distance, 0.05)], 1),
            None,
            "a turn is told with all photos in view"
        );
        assert_eq!(said(1.01, &[(Source::Sheets, f64::INFINITY)], 1), None);
    }

    #[test]
    fn the_largest_term_that_is_enough_is_named_with_the_figure_it_takes() {
        // By hand: 0.0588 % to the limit, over 1.96, is 0.03 %. With 0.018 % from elsewhere the distance may have
        // √(0.03² − 0.018²) = 0.024 % of its 0.04 %, that is 300 mm · 0.024 / 0.04 = 180 mm; a hair less, so 179.
        let text = said(1.0588, &[(Source::Distance, 0.04), (Source::EdgeModel, 0.018)], 1).unwrap();
        assert_eq!(
            text,
            "measure the distance to 179 mm (one standard deviation; now 300 mm); if the figure then comes out as now, it is inside"
        );
    }

    #[test]
    fn what_the_words_ask_for_does_settle_it() {
        // The reference implementation: the budget with the mended term put back in must give the outcome that was promised.
        for (percent, goal) in [(1.0588, Outcome::Inside), (0.9412, Outcome::Outside)] {
            for (source, from_sd, unit) in [
                (Source::Distance, 300.0, " mm"),
                (Source::LampHeight, 2.0, " mm"),
                (Source::Sheets, 2.0, " mm"),
                (Source::Floor, 0.03, " %"),
            ] {
                let text = said(percent, &[(source, 0.04), (Source::EdgeModel, 0.018)], 1).unwrap();
                let to_sd: f64 = text
                    .split_once(" to ")
                    .and_then(|(_, rest)| rest.split_once(unit))
                    .unwrap()
                    .0
                    .parse()
                    .unwrap();
                let after = [(source, 0.04 * to_sd / from_sd), (Source::EdgeModel, 0.018)];
                assert!(
                    to_sd < from_sd && text.contains(&format!("as now, it is {goal}")),
                    "{text}"
                );
                assert_eq!(
                    Outcome::of(percent, aim(percent, &after).u95_percent(), BAND),
                    goal,
                    "{text}"
                );
            }
        }
    }

    #[test]
    fn photos_are_counted_by_the_root_of_their_number() {
        // 0.0588 % to the limit is 0.03 %; a reading of 0.05 % needs (0.05 / 0.03)² = 2.8, so 3 photos.
        let photo = [(Source::Texture, 0.05)];
        let text = said(1.0588, &photo, 1).unwrap();
        assert!(
            text.starts_with("take 2 more photos with nothing moved, and the mean of the 3"),
            "{text}"
        );
        assert!(text.contains("as now, it is inside"), "{text}");
        assert!(
            said(1.0588, &photo, 2)
                .unwrap()
                .starts_with("take 1 more photo with nothing moved, and the mean of the 3")
        );
        assert!(
            said(1.0588, &photo, 4)
                .unwrap()
                .starts_with("take the mean of the 4 photos")
        );
        // (0.05 / 0.01)² = 25 photos nobody takes.
        assert!(!said(1.0196, &photo, 1).unwrap().contains("photo"));
    }

    #[test]
    fn a_lamp_off_photo_is_asked_for_where_there_is_none() {
        let terms = [(Source::StrayLight, 0.05)];
        assert!(
            said(1.0588, &terms, 1)
                .unwrap()
                .starts_with("add a photo with the lamp off")
        );
        let (lamp, bay) = (lamp(), bay());
        let means = Means {
            lamp: &lamp,
            bay: &bay,
            has_lamp_off: true,
            photos: 1,
        };
        assert!(
            !Verdict::of(&aim(1.0588, &terms), "T", true, BAND, &means)
                .settled()
                .unwrap()
                .within(Language::English)
                .contains("lamp off")
        );
    }

    #[test]
    fn several_mends_are_named_where_one_is_not_enough() {
        let text = said(
            1.0588,
            &[
                (Source::LampHeight, 0.04),
                (Source::Distance, 0.04),
                (Source::EdgeModel, 0.01),
            ],
            1,
        )
        .unwrap();
        assert!(
            text.starts_with("no single mend is enough, but together these are: "),
            "{text}"
        );
        assert!(
            text.contains("height of the lamp's centre to 1 mm") && text.contains("distance to 2 mm"),
            "{text}"
        );
    }

    #[test]
    fn too_near_to_the_limit_only_turning_helps_and_it_does() {
        for percent in [1.001, 0.999, 1.499, 1.501] {
            let terms = [(Source::EdgeModel, 0.03)];
            let text = said(percent, &terms, 1).unwrap();
            assert!(text.contains("no measuring can be made good enough"), "{text}");
            let (way, rest) = text.split_once("turn the beam ").unwrap().1.split_once(" by ").unwrap();
            let size: f64 = rest.split_once(" %").unwrap().0.parse().unwrap();
            let turned = if way == "down" { percent + size } else { percent - size };
            let u95_percent = 1.96 * 0.03;
            assert_eq!(Outcome::of(turned, u95_percent, BAND), Outcome::Inside, "{text}");
            assert!(
                (turned - 1.25).abs() < 0.006,
                "to the middle of what is allowed: {text}"
            );
            assert!(
                text.contains(&format!("({:.0} mm", size * 100.0)),
                "1 % is 100 mm at 10 m: {text}"
            );
        }
    }

    #[test]
    fn a_band_too_narrow_for_the_interval_is_said_to_be() {
        let text = said(1.25, &[(Source::EdgeModel, 0.2)], 1).unwrap();
        assert!(
            text.contains("no aim is clearly inside") && text.contains("edge against its model"),
            "{text}"
        );
    }

    const RANGE: Band = Band {
        low_percent: 0.5,
        high_percent: 2.5,
    };

    /// What a photo by itself comes to, judged as the lamp was set or at another position.
    fn verdict(aim: &Aim, setting: bool) -> Verdict {
        let (lamp, bay) = (lamp(), bay());
        let means = Means {
            lamp: &lamp,
            bay: &bay,
            has_lamp_off: false,
            photos: 1,
        };
        let band = if setting { BAND } else { RANGE };
        Verdict::of(aim, "T", setting, band, &means)
    }

    /// What would settle each photo of one lamp: its position, inclination, standard uncertainty, and whether its tone was edited.
    fn said_together(photos: &[(&str, f64, f64, bool)]) -> Vec<Option<String>> {
        let (lamp, bay, job) = (lamp(), bay(), Job::of("T", "bay.toml", Traffic::Right));
        let mut readings: Vec<ShotReading> = photos
            .iter()
            .map(|&(position, percent, sd_percent, edited)| {
                let shot = Shot {
                    position: Some(position.to_owned()),
                    ..Shot::of(format!("{position}.jpg"), Side::Left)
                };
                let made = aim(percent, &[(Source::EdgeModel, sd_percent)]);
                let mut reading = ShotReading::made(shot, lamp.clone(), made, None);
                if let Ok(measured) = &mut reading.result {
                    measured.verdict = Some(verdict(&measured.aim, position == "0"));
                    measured.warnings.extend(edited.then_some(Warning::ToneUneven));
                }
                reading
            })
            .collect();
        let setting = Setting {
            job: &job,
            bay: &bay,
            table: None,
            folder: Path::new(""),
            pictures: false,
        };
        settle_together(&setting, &mut readings, |_| 1);
        let verdicts = readings
            .into_iter()
            .map(|reading| reading.result.unwrap().verdict.unwrap());
        verdicts
            .map(|verdict| {
                verdict
                    .settled()
                    .map(|words| words.within(Language::English).to_owned())
            })
            .collect()
    }

    /// The turn that the words ask for, per cent downward.
    fn turn_in(text: &str) -> Option<f64> {
        let (way, rest) = text.split_once("turn the beam ")?.1.split_once(" by ")?;
        let size: f64 = rest.split_once(" %")?.0.parse().ok()?;
        Some(if way == "down" { size } else { -size })
    }

    #[test]
    fn a_turn_that_is_told_leaves_all_positions_of_the_lamp_inside() {
        // Position 0 wants 0.05 % up at the least, position 3, which is higher here, lets it go up by 0.14 % at the most.
        let photos = [
            ("0", 1.495, 0.028, false),
            ("1", 1.1, 0.028, false),
            ("3", 0.695, 0.028, false),
        ];
        let text = said_together(&photos)[0].clone().unwrap();
        let by = turn_in(&text).unwrap();
        for (position, percent, sd_percent, _) in photos {
            let band = if position == "0" { BAND } else { RANGE };
            let turned = Outcome::of(percent + by, 1.96 * sd_percent, band);
            assert_eq!(turned, Outcome::Inside, "{position}: {text}");
        }
        // By itself position 3 would be mended by 0.05 % down; position 0, inside as it is, would then be too low.
        let texts = said_together(&[("0", 1.45, 0.028, false), ("3", 0.51, 0.028, false)]);
        assert_eq!(texts[0].as_deref().and_then(turn_in), None, "no turn does for both");
        for text in texts.iter().flatten() {
            assert!(turn_in(text).is_none(), "{text}");
            assert!(
                text.contains(
                    "from 3 to 0 the beam goes down by 0.94 %, and for both to be clearly inside it may by 0.89 %"
                ),
                "{text}"
            );
            assert!(text.contains("adjuster's travel looked at first"), "{text}");
        }
        assert!(texts.iter().all(Option::is_some));
    }

    /// A car is set and photographed lightly loaded; at a position for a load its beam then hangs lower than it will with that load.
    #[test]
    fn how_low_a_beam_hangs_at_a_position_for_a_load_neither_counts_nor_holds_up_a_turn() {
        let photos = [
            ("0", 0.72, 0.03, false),
            ("1", 1.2, 0.03, false),
            ("3", 2.1, 0.03, false),
        ];
        let texts = said_together(&photos);
        assert_eq!(texts[0].as_deref().and_then(turn_in), Some(0.53), "{texts:?}");
        let photos = [
            ("0", 1.2, 0.03, false),
            ("2", 2.49, 0.03, false),
            ("3", 3.0, 0.03, false),
        ];
        assert_eq!(said_together(&photos), [None, None, None]);
        // Too high counts at each of them.
        let texts = said_together(&[("0", 1.2, 0.03, false), ("1", 0.4, 0.03, false)]);
        assert_eq!(texts[1].as_deref().and_then(turn_in), Some(0.2), "{texts:?}");
        let verdict = |percent: f64, setting: bool| verdict(&aim(percent, &[(Source::EdgeModel, 0.03)]), setting);
        for (percent, setting, load_decides) in [
            (2.6, false, true),
            (2.48, false, true),
            (2.3, false, false),
            (0.52, false, false),
            (0.3, false, false),
            (2.6, true, false),
        ] {
            let verdict = verdict(percent, setting);
            assert_eq!(verdict.load_decides, load_decides, "{percent} {setting}");
            let said = if load_decides {
                Outcome::Undecided
            } else {
                verdict.outcome
            };
            assert_eq!(verdict.unloaded(), said);
        }
        assert_eq!(
            verdict(2.6, false).outcome,
            Outcome::Outside,
            "held against the table it is"
        );
    }

    #[test]
    fn a_beam_that_is_outside_is_told_the_turn_to_the_middle_unless_its_photos_disagree() {
        let texts = said_together(&[("0", 0.70, 0.03, false), ("3", 1.6, 0.03, false)]);
        let text = texts[0].as_deref().unwrap();
        assert!(
            text.starts_with("turn the beam down by 0.55 % (55 mm at the wall)"),
            "{text}"
        );
        assert_eq!(texts[1], None, "inside");
        let texts = said_together(&[("0", 0.70, 0.03, false), ("0", 1.25, 0.03, false)]);
        assert_eq!(texts, [None, None]);
        // Too long a way from 3 to 0: that is the adjuster's, not the screw's.
        let text = said_together(&[("0", 1.4, 0.03, false), ("3", 0.2, 0.03, false)])[1]
            .clone()
            .unwrap();
        assert!(
            text.starts_with("no turn of the lamp's screw does it: from 3 to 0"),
            "{text}"
        );
    }

    #[test]
    fn nothing_is_turned_for_an_edited_photo_nor_before_position_0_was_seen() {
        let texts = said_together(&[("0", 1.19, 0.03, false), ("3", 2.45, 0.28, true)]);
        assert_eq!(texts[0], None);
        let text = texts[1].as_deref().unwrap();
        assert!(
            text.starts_with("the photo first: take it without HDR") && turn_in(text).is_none(),
            "{text}"
        );
        assert!(!text.contains("no measuring"), "{text}");
        // Nor for a sound one beside it.
        let texts = said_together(&[("0", 1.005, 0.028, false), ("3", 2.0, 0.03, true)]);
        let text = texts[0].as_deref().unwrap();
        assert!(
            text.contains("take again") && text.contains("3.jpg") && turn_in(text).is_none(),
            "{text}"
        );
        let text = said_together(&[("3", 0.51, 0.028, false)])[0].clone().unwrap();
        assert!(
            text.contains("photograph the lamp at position 0 too") && turn_in(&text).is_none(),
            "{text}"
        );
    }
}
