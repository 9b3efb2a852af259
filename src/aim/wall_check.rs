//! What one photo says of the wall before anything is measured on it: which sheets are seen, how well they agree with the tape, what ± this
//! layout gives at each lamp's cut-off, and what would better it.

use super::bracketed::look;
use super::{COVERAGE_FACTOR_95, Setting, height_at_mm};
use crate::cutoff::READING_SCAN_DEG;
use crate::record::{Lamp, Sheet, Shot, Side, Traffic};
use crate::refusal::Refusal;
use crate::wall::{FoundMark, Sighting, View, survey};

/// Where a cut-off usually lies, per cent.
const USUAL_PERCENT: f64 = 1.0;
/// A sheet that a photo shows so many times further off than it was taped is to be taped again (our choice, no source).
const MOST_TAPE_SDS: f64 = 2.5;
/// A better layout is named where it takes off so much of the wall's ± (our choice, no source).
const LEAST_GAIN: f64 = 0.15;
/// A further sheet is looked for so far beyond the outermost, mm (our choice, no source).
const FURTHER_MM: f64 = 800.0;
/// Taping that a laser on a stand reaches, mm (common practice, no source).
const CAREFUL_SD_MM: f64 = 0.7;

/// A sheet as a photo shows it beside where it was taped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct SheetSeen {
    pub id: u32,
    /// Where it was taped, mm.
    pub taped_mm: [f64; 2],
    /// How far from its taped place the photo shows its centre, mm to the right and up.
    pub off_mm: [f64; 2],
}

impl SheetSeen {
    /// Where the photo shows its centre, mm.
    pub fn shown_mm(&self) -> [f64; 2] {
        [0, 1].map(|axis| self.taped_mm[axis] + self.off_mm[axis])
    }

    /// Whether it hangs about where it would with a minus before its x, or without one.
    pub fn is_mirrored(&self) -> bool {
        /// A sheet this near to the centre line is as good as on it, mm; and what else may be wrong with a tape, as a share (our
        /// choice, no source).
        const NEAR_MM: f64 = 100.0;
        const SHARE: f64 = 0.1;
        let (taped_mm, shown_mm) = (self.taped_mm[0], self.shown_mm()[0]);
        taped_mm.abs() > NEAR_MM && (taped_mm + shown_mm).abs() < SHARE * taped_mm.abs()
    }

    pub fn distance_mm(&self) -> f64 {
        self.off_mm[0].hypot(self.off_mm[1])
    }
}

/// What would make readings on this wall surer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Better {
    /// Hang a further sheet about here, mm; with the half-width that it would leave, per cent.
    OneMore { place_mm: [f64; 2], u95_percent: f64 },
    /// Measure all centres with more care, to this standard deviation; with the half-width that it would leave, per cent.
    Care { sd_mm: f64, u95_percent: f64 },
}

/// What the wall alone leaves open of a lamp's reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct AtLamp {
    pub side: Side,
    /// Half-width of the 95 % interval of an inclination by sheets, tape and camera alone, per cent.
    pub u95_percent: f64,
}

/// What a photo says of the wall.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct WallCheck {
    pub seen: Vec<SheetSeen>,
    /// Numbers of those that are not seen.
    pub missing: Vec<u32>,
    /// Of those that the others say hang elsewhere than they were taped, the one that is off the most.
    pub elsewhere: Option<SheetSeen>,
    /// Root mean square of how far the sheets' centres lie from where they were taped, mm.
    pub rms_mm: f64,
    /// What the wall leaves open; nothing as long as a sheet hangs elsewhere.
    pub at_lamps: Vec<AtLamp>,
    /// By what it gains, the most first.
    pub better: Vec<Better>,
}

/// Looks at the wall in a shot's photo; `lamps` are those that are to be read on it.
///
/// # Errors
/// A [`Refusal`] where the photo cannot be read, or too few sheets are found or agree.
pub(crate) fn check_wall(setting: &Setting<'_>, shot: &Shot, lamps: &[&Lamp]) -> Result<WallCheck, Refusal> {
    let bracketed = look(setting, shot)?;
    let sighting = Sighting {
        size_px: bracketed.photo.size_px().into(),
        capture: bracketed.photo.capture.clone(),
        found: bracketed.found,
        ..Sighting::default()
    };
    let bay = setting.bay;
    let view = survey(std::slice::from_ref(&sighting), bay).swap_remove(0)?;
    let off = |mark: &FoundMark| {
        let sheet = bay.marks.sheet.iter().find(|sheet| sheet.id == mark.id)?;
        let [x_mm, y_mm] = view.to_wall(middle(mark))?;
        let off_mm = [x_mm - sheet.x_mm, y_mm - sheet.y_mm];
        Some(SheetSeen {
            id: mark.id,
            taped_mm: [sheet.x_mm, sheet.y_mm],
            off_mm,
        })
    };
    // Also of a sheet that the view rests not on: it is the one that hangs elsewhere.
    let seen: Vec<SheetSeen> = sighting.found.iter().filter_map(off).collect();
    let is_seen = |sheet: &&Sheet| seen.iter().any(|one| one.id == sheet.id);
    let missing = bay.marks.sheet.iter().filter(|sheet| !is_seen(sheet));
    let squares: f64 = seen.iter().map(|one| one.distance_mm().powi(2)).sum();
    let most_off_mm = MOST_TAPE_SDS * bay.marks.position_sd_mm * 2f64.sqrt();
    let elsewhere = seen
        .iter()
        .filter(|one| one.distance_mm() > most_off_mm)
        .max_by(|a, b| a.distance_mm().total_cmp(&b.distance_mm()))
        .copied();
    let traffic = setting.job.traffic;
    let at_lamps: Vec<AtLamp> = lamps
        .iter()
        .filter_map(|lamp| at_lamp(setting, &view, traffic, lamp))
        .collect();
    let worst = at_lamps.iter().map(|at| at.u95_percent).fold(0.0, f64::max);
    let is_sound = elsewhere.is_none();
    Ok(WallCheck {
        missing: missing.map(|sheet| sheet.id).collect(),
        elsewhere,
        rms_mm: (squares / seen.len().max(1) as f64).sqrt(),
        better: if is_sound {
            better(setting, &sighting, &view, lamps, worst)
        } else {
            Vec::new()
        },
        seen,
        at_lamps: if is_sound { at_lamps } else { Vec::new() },
    })
}

/// The middle of a sheet in the photo: where its diagonals cross, whatever the view.
fn middle(mark: &FoundMark) -> [f64; 2] {
    let [a, b, c, d] = mark.corners_px;
    let (ac, bd) = ([c[0] - a[0], c[1] - a[1]], [d[0] - b[0], d[1] - b[1]]);
    let cross = ac[0] * bd[1] - ac[1] * bd[0];
    let along = ((b[0] - a[0]) * bd[1] - (b[1] - a[1]) * bd[0]) / cross;
    [a[0] + along * ac[0], a[1] + along * ac[1]]
}

fn at_lamp(setting: &Setting<'_>, view: &View, traffic: Traffic, lamp: &Lamp) -> Option<AtLamp> {
    let aside_mm = lamp.distance_mm * READING_SCAN_DEG.to_radians().tan();
    let x_mm = lamp.centre_x_mm + traffic.flat_side_sign() * aside_mm;
    let sd = view.height_sd([x_mm, height_at_mm(USUAL_PERCENT, lamp, setting.bay)])?;
    Some(AtLamp {
        side: lamp.side,
        u95_percent: COVERAGE_FACTOR_95 * 100.0 / lamp.distance_mm * sd.photo_mm.hypot(sd.tape_mm),
    })
}

/// What would better the wall, the most first, of which the largest half-width at a lamp is this as it is.
fn better(setting: &Setting<'_>, sighting: &Sighting, view: &View, lamps: &[&Lamp], worst_percent: f64) -> Vec<Better> {
    let marks = &setting.bay.marks;
    let mut all = Vec::new();
    // What a wall would be worth is asked of the same survey, with this photo's camera.
    let worth = |bay: crate::record::Bay, found: Vec<FoundMark>| {
        let with = Sighting {
            found,
            ..sighting.clone()
        };
        let view = survey(&[with], &bay).swap_remove(0).ok()?;
        let setting = Setting { bay: &bay, ..*setting };
        let each = lamps
            .iter()
            .filter_map(|lamp| at_lamp(&setting, &view, setting.job.traffic, lamp));
        let worst = each.map(|at| at.u95_percent).fold(0.0, f64::max);
        (worst < (1.0 - LEAST_GAIN) * worst_percent).then_some(worst)
    };
    let one_more = places(setting, lamps).into_iter().filter_map(|place_mm| {
        let id = (0..).find(|id| marks.sheet.iter().all(|sheet| sheet.id != *id))?;
        let mark = as_seen(setting, sighting, view, id, place_mm)?;
        let mut bay = setting.bay.clone();
        bay.marks.sheet.push(Sheet {
            id,
            x_mm: place_mm[0],
            y_mm: place_mm[1],
        });
        let mut found = sighting.found.clone();
        found.push(mark);
        let u95_percent = worth(bay, found)?;
        Some(Better::OneMore { place_mm, u95_percent })
    });
    let gained = |one: &Better| match one {
        Better::OneMore { u95_percent, .. } | Better::Care { u95_percent, .. } => *u95_percent,
    };
    all.extend(one_more.min_by(|a, b| gained(a).total_cmp(&gained(b))));
    if marks.position_sd_mm > CAREFUL_SD_MM {
        let mut bay = setting.bay.clone();
        bay.marks.position_sd_mm = CAREFUL_SD_MM;
        all.extend(worth(bay, sighting.found.clone()).map(|u95_percent| Better::Care {
            sd_mm: CAREFUL_SD_MM,
            u95_percent,
        }));
    }
    all.sort_by(|a, b| gained(a).total_cmp(&gained(b)));
    all
}

/// Where a further sheet might hang: beyond the outermost on either side, low and high, and beside the place where the cut-off is read, above
/// and below it.
fn places(setting: &Setting<'_>, lamps: &[&Lamp]) -> Vec<[f64; 2]> {
    let sheets = &setting.bay.marks.sheet;
    let of = |axis: fn(&Sheet) -> f64, pick: fn(f64, f64) -> f64| sheets.iter().map(axis).reduce(pick).unwrap_or(0.0);
    let (left, right) = (of(|s| s.x_mm, f64::min), of(|s| s.x_mm, f64::max));
    let (low, high) = (of(|s| s.y_mm, f64::min), of(|s| s.y_mm, f64::max));
    let mut places = Vec::new();
    for y_mm in [low, high] {
        places.extend([left - FURTHER_MM, left, right, right + FURTHER_MM].map(|x_mm| [x_mm, y_mm]));
        places.extend(lamps.iter().map(|lamp| [lamp.centre_x_mm, y_mm]));
    }
    // Not where one hangs already.
    let size_mm = setting.bay.marks.size_mm;
    let is_free = |at: &[f64; 2]| {
        let near =
            |sheet: &Sheet| (sheet.x_mm - at[0]).abs() < 1.5 * size_mm && (sheet.y_mm - at[1]).abs() < 1.5 * size_mm;
        !sheets.iter().any(near)
    };
    places.retain(is_free);
    places
}

/// How a sheet there would be seen in this photo, as sharp as the others are in the middle; `None` outside of the picture.
fn as_seen(setting: &Setting<'_>, sighting: &Sighting, view: &View, id: u32, place_mm: [f64; 2]) -> Option<FoundMark> {
    let half = 0.5 * setting.bay.marks.size_mm;
    let corners = [[-half, half], [half, half], [half, -half], [-half, -half]];
    let mut corners_px = [[0.0; 2]; 4];
    for (corner_px, [right, up]) in corners_px.iter_mut().zip(corners) {
        let [x, y] = view.to_photo([place_mm[0] + right, place_mm[1] + up])?;
        let (wide, high) = (sighting.size_px.0 as f64, sighting.size_px.1 as f64);
        if !(0.0..wide).contains(&x) || !(0.0..high).contains(&y) {
            return None;
        }
        *corner_px = [x, y];
    }
    let mut sds: Vec<f64> = sighting.found.iter().flat_map(|mark| mark.corner_sd_px).collect();
    let mut blurs: Vec<f64> = sighting.found.iter().map(|mark| mark.blur_px).collect();
    Some(FoundMark {
        id,
        corners_px,
        corner_sd_px: [crate::fit::median(&mut sds)?; 4],
        blur_px: crate::fit::median(&mut blurs)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Bay, Job};
    use std::path::Path;

    const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-photos");

    fn checked(change: impl Fn(&mut Bay)) -> WallCheck {
        let mut bay = Bay::read(&Path::new(SAMPLE).join("bay.toml")).unwrap();
        change(&mut bay);
        let job = Job::read(&Path::new(SAMPLE).join("job.toml")).unwrap();
        let setting = Setting {
            job: &job,
            bay: &bay,
            table: None,
            folder: Path::new(SAMPLE),
            pictures: false,
        };
        let lamps: Vec<&Lamp> = job.lamp.iter().collect();
        check_wall(&setting, &job.shot[0], &lamps).unwrap()
    }

    /// The sample's sheets hang where they were taped, to 1.5 mm; one that was taped 30 mm off is named; and taped with more care, or with
    /// fewer sheets, the wall is worth more, or less.
    #[test]
    fn a_wall_is_told_with_what_it_is_worth() {
        let as_it_is = checked(|_| {});
        assert_eq!((as_it_is.seen.len(), as_it_is.missing.len()), (6, 0));
        assert!(as_it_is.rms_mm < 2.5, "{as_it_is:?}");
        let u95 = |check: &WallCheck| check.at_lamps.iter().map(|at| at.u95_percent).fold(0.0, f64::max);
        assert!((0.005..0.1).contains(&u95(&as_it_is)), "{as_it_is:?}");
        assert_eq!(as_it_is.elsewhere, None, "{as_it_is:?}");
        let careful = checked(|bay| bay.marks.position_sd_mm = CAREFUL_SD_MM);
        assert!(u95(&careful) < 0.85 * u95(&as_it_is), "{careful:?}");
        let care = as_it_is.better.iter().find_map(|one| match one {
            Better::Care { u95_percent, .. } => Some(*u95_percent),
            _ => None,
        });
        assert!(
            (care.unwrap() - u95(&careful)).abs() < 1e-9,
            "what is promised is what comes"
        );
        let off = checked(|bay| bay.marks.sheet[3].x_mm += 30.0);
        let elsewhere = off.elsewhere.unwrap();
        assert_eq!(elsewhere, off.seen[3], "{off:?}");
        assert!(!elsewhere.is_mirrored() && off.at_lamps.is_empty() && off.better.is_empty());
        let mirrored = checked(|bay| bay.marks.sheet[0].x_mm *= -1.0);
        let elsewhere = mirrored.elsewhere.unwrap();
        assert_eq!(elsewhere.id, mirrored.seen[0].id);
        assert!(elsewhere.is_mirrored(), "{mirrored:?}");
        let fewer = checked(|bay| drop(bay.marks.sheet.split_off(4)));
        assert_eq!(fewer.seen.len(), 4);
        assert!(u95(&fewer) > u95(&as_it_is), "{fewer:?}");
    }
}
