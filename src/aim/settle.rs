//! What would settle an undecided verdict: which single thing, measured or photographed better, brings the whole 95 %
//! interval to one side of the limits.
//!
//! Worked out from the budget's terms. A mend lowers its own terms and leaves the others, so that it is enough when
//! the root sum of squares of all (JCGM 100:2008, 5.1.2), times 1.96, fits between the figure and the nearest limit.
//! It supposes that the figure stays where it is; a better measurement can move it, too, within its interval.

use super::outcome::Outcome;
use super::{Aim, COVERAGE_FACTOR_95, Source};
use crate::cutoff;
use crate::language::{Language, Said, said};
use crate::record::{Band, Bay, HeightsFrom, Lamp};

/// What care reaches, one standard deviation (common practice, no source): a distance with a laser meter, a height and
/// a sheet's centre with a steel rule, a floor with a water level over the whole length.
const LEAST_DISTANCE_SD_MM: f64 = 2.0;
const LEAST_PLACE_SD_MM: f64 = 0.5;
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

/// What would settle the verdict, in plain words; `None` where the interval does not straddle a limit, or is no number.
#[must_use]
pub(super) fn what_would_settle(aim: &Aim, band: Band, means: &Means<'_>) -> Option<Said> {
    settle(Language::English, aim, band, means)?;
    Some(Said::of(|language| {
        settle(language, aim, band, means).unwrap_or_default()
    }))
}

fn settle(language: Language, aim: &Aim, band: Band, means: &Means<'_>) -> Option<String> {
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
    let turned = turn(language, percent, u95_percent, band, means.lamp);

    let single: Vec<String> = mends
        .iter()
        .filter_map(|mend| {
            let allowed = wanted - (variance - mend.now);
            (allowed >= mend.least && allowed > 0.0).then(|| (mend.words)(allowed))
        })
        .take(2)
        .collect();
    let said_goal = goal.said(language);
    let mut settled = if !single.is_empty() {
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
    if single.is_empty() || goal == Outcome::Outside {
        match turned {
            Some(words) => settled.push_str(&said!(language; "; or {words}", "; oder {words}")),
            None => settled.push_str(&said!(
                language;
                "; the interval is as wide as what is allowed, so that no aim is clearly inside: make the largest term \
                 smaller, \"{}\"",
                "; das Intervall ist so breit wie das Zulässige, deshalb liegt keine Einstellung eindeutig innerhalb: den größten \
                 Beitrag verkleinern, „{}“";
                largest_term(language, aim)
            )),
        }
    }
    Some(settled)
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

/// How to turn the lamp so that the interval, as wide as it is, lies inside; `None` where the band has no room for it.
fn turn(language: Language, percent: f64, u95_percent: f64, band: Band, lamp: &Lamp) -> Option<String> {
    let least = band.low_percent + u95_percent;
    let most = band.high_percent - u95_percent;
    if least > most {
        return None;
    }
    let by = percent.clamp(least, most) - percent;
    // As few places as bring it inside, away from the limit.
    let by = [100.0, 1000.0, 10_000.0]
        .into_iter()
        .map(|scale| (by.abs() * scale).ceil() / scale * by.signum())
        .find(|by| Outcome::of(percent + by, u95_percent, band) == Outcome::Inside)?;
    let places = if (by * 100.0 - (by * 100.0).round()).abs() < 1e-6 {
        2
    } else {
        4
    };
    let way = if by > 0.0 {
        language.pick("down", "nach unten")
    } else {
        language.pick("up", "nach oben")
    };
    let size = by.abs();
    Some(said!(
        language;
        "turn the beam {way} by {} % ({:.0} mm at the wall): then it is clearly inside",
        "den Lichtkegel um {} % {way} stellen ({:.0} mm an der Wand): dann liegt er eindeutig innerhalb";
        language.decimal(size, places),
        (size / 100.0 * lamp.distance_mm).ceil()
    ))
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
    use crate::record::{Marks, Side};

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
                position_sd_mm: 1.5,
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
        let settle = what_would_settle(&aim(inclination_percent, terms), BAND, &means)?;
        assert!(!settle.within(Language::German).contains(" the "), "{settle:?}");
        Some(settle.within(Language::English).to_owned())
    }

    #[test]
    fn a_decided_verdict_needs_nothing() {
        assert_eq!(said(1.25, &[(Source::Distance, 0.05)], 1), None);
        assert_eq!(said(0.5, &[(Source::Distance, 0.05)], 1), None);
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
                (Source::Sheets, 1.5, " mm"),
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
            !what_would_settle(&aim(1.0588, &terms), BAND, &means)
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
            text.contains("height of the lamp's centre to 0.5 mm") && text.contains("distance to 2 mm"),
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
            assert!(size < u95_percent + 0.012, "no more than it takes: {text}");
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
}
