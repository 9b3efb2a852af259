//! What was entered wrongly of a bay whose sheets lie as no wall has them: a size, a unit, a sign, two sheets exchanged.
//!
//! Each such slip moves all sheets, or two, by much, so that leaving one out mends nothing, and the sheet that lies worst is as sound
//! as the others. So each is undone in turn, and named where all sheets then lie as entered.

use super::homography::homography;
use super::quad::{Quad, centre};
use super::resection::{Correspondence, Resector, SUSPECT_SDS, corners_mm};
use crate::language::{Language, said};
use crate::record::{Bay, Sheet};

/// With fewer sheets than this a slip explains whatever lies on the wall (four points fit any plane).
const LEAST_SHEETS: usize = 5;
/// A size that is off by less than this, relative, is the printer's, and told as such.
const LEAST_SIZE_OFF: f64 = 0.05;
/// A factor within this of a unit's is that unit's, relative; sheets are measured far better.
const SAME_FACTOR: f64 = 0.06;
/// Two sheets exchanged are looked for where that brings the corners nearer by this factor (our choice, no source).
const MUCH_NEARER: f64 = 5.0;

/// Millimetres in the units that places are typed in by mistake, and their names.
const UNITS: [(f64, &str, &str); 2] = [(10.0, "centimetres", "Zentimetern"), (25.4, "inches", "Zoll")];

/// A slip in a bay's entries.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Slip {
    /// The sheets have another size than was entered: the size that they look, mm.
    Size(f64),
    /// Their places were entered in another unit: mm in one of it, its names.
    Unit(f64, &'static str, &'static str),
    /// To the right was entered as to the left.
    Mirrored,
    /// Two sheets, by their numbers, stand at each other's place.
    Exchanged(u32, u32),
}

impl Slip {
    /// The slip that explains how the sheets lie in a photo; `None` where none does.
    pub fn of(resector: &Resector<'_>, correspondences: &[Correspondence]) -> Option<Self> {
        let bay = resector.bay;
        let seen: Vec<(Sheet, Quad)> = correspondences
            .iter()
            .map(|one| (one.sheet, one.mark.corners_px))
            .collect();
        if seen.len() < LEAST_SHEETS {
            return None;
        }
        let explains = |slip: &Self| resector.agree_in(&slip.undone(bay), correspondences, SUSPECT_SDS);
        let by_size = size_seen_mm(&seen).and_then(|seen_mm| Self::of_size(bay.marks.size_mm, seen_mm));
        let exchanged = nearest_exchange(bay, &seen);
        [by_size, Some(Self::Mirrored), exchanged]
            .into_iter()
            .flatten()
            .find(explains)
    }

    /// By how large the sheets look beside their distances.
    fn of_size(entered_mm: f64, seen_mm: f64) -> Option<Self> {
        let factor = entered_mm / seen_mm;
        if (factor - 1.0).abs() < LEAST_SIZE_OFF {
            return None;
        }
        let unit = UNITS
            .into_iter()
            .find(|(mm, ..)| (factor / mm - 1.0).abs() < SAME_FACTOR);
        Some(unit.map_or(Self::Size(seen_mm), |(mm, english, german)| {
            Self::Unit(mm, english, german)
        }))
    }

    /// The bay without it.
    fn undone(&self, bay: &Bay) -> Bay {
        let mut bay = bay.clone();
        let sheets = &mut bay.marks.sheet;
        match *self {
            Self::Size(mm) => bay.marks.size_mm = mm,
            Self::Unit(mm, ..) => {
                for sheet in sheets {
                    (sheet.x_mm, sheet.y_mm) = (mm * sheet.x_mm, mm * sheet.y_mm);
                }
                // As many digits were typed as of millimetres: what was rounded away counts as taped worse.
                bay.marks.position_sd_mm = bay.marks.position_sd_mm.max(0.1 * mm);
            }
            Self::Mirrored => sheets.iter_mut().for_each(|sheet| sheet.x_mm = -sheet.x_mm),
            Self::Exchanged(one, other) => {
                let place = |id: u32| sheets.iter().position(|sheet| sheet.id == id);
                if let (Some(n), Some(m)) = (place(one), place(other)) {
                    (sheets[n].id, sheets[m].id) = (other, one);
                }
            }
        }
        bay
    }

    /// What to say of it, and how to mend it.
    pub fn said(&self, language: Language, bay: &Bay) -> String {
        match *self {
            Self::Size(mm) => said!(
                language;
                "the sheets look about {mm:.0} mm large beside their distances from one another, and the bay file says size_mm = {}; with that all \
                 of them lie as entered. Measure the side of a black square and enter it",
                "die Messblätter sehen neben ihren Abständen etwa {mm:.0} mm groß aus, und die Messplatzdatei sagt size_mm = {}; damit liegen \
                 alle wie eingetragen. Die Seite eines schwarzen Quadrats messen und eintragen";
                bay.marks.size_mm
            ),
            Self::Unit(mm, english, german) => said!(
                language;
                "the sheets hang about {} times as far from one another as the bay file has them: their x_mm and y_mm look like {english}; enter \
                 them in millimetres",
                "die Messblätter hängen etwa {} Mal so weit auseinander wie in der Messplatzdatei: x_mm und y_mm sehen nach {german} aus; in \
                 Millimetern eintragen";
                language.figure(&mm.to_string())
            ),
            Self::Mirrored => said!(
                language;
                "the sheets lie mirrored to what the bay file has: x_mm is to the right of the centre line as one faces the wall, and negative to \
                 the left; with every x_mm's sign turned round all of them lie as entered",
                "die Messblätter liegen spiegelbildlich zur Messplatzdatei: x_mm gilt nach rechts von der Mittellinie mit Blick zur Wand und ist \
                 links negativ; mit umgekehrtem Vorzeichen bei jedem x_mm liegen alle wie eingetragen"
            ),
            Self::Exchanged(one, other) => said!(
                language;
                "sheets {one} and {other} hang at each other's place: with their entries in the bay file exchanged all sheets lie as entered. Exchange \
                 the entries, or the sheets",
                "die Messblätter {one} und {other} hängen am Platz des anderen: Mit vertauschten Einträgen in der Messplatzdatei liegen alle \
                 Blätter wie eingetragen. Die Einträge vertauschen oder die Blätter"
            ),
        }
    }
}

/// How large the sheets look beside the distances of their centres, mm.
fn size_seen_mm(seen: &[(Sheet, Quad)]) -> Option<f64> {
    let pairs: Vec<([f64; 2], [f64; 2])> = seen
        .iter()
        .map(|(sheet, corners_px)| (centre(corners_px), [sheet.x_mm, sheet.y_mm]))
        .collect();
    let to_wall = homography(&pairs)?;
    let sides_mm = seen.iter().flat_map(|(_, corners_px)| {
        let corners_mm = corners_px.map(|corner| to_wall.map(corner));
        (0..4).map(move |n| {
            let (a, b) = (corners_mm[n], corners_mm[(n + 1) % 4]);
            (a[0] - b[0]).hypot(a[1] - b[1])
        })
    });
    let mean_mm = sides_mm.sum::<f64>() / (4 * seen.len()) as f64;
    (mean_mm.is_finite() && mean_mm > 0.0).then_some(mean_mm)
}

/// The two sheets of which exchanging the entries brings all centres nearest to one plane's picture, where that is much nearer than as
/// entered.
fn nearest_exchange(bay: &Bay, seen: &[(Sheet, Quad)]) -> Option<Slip> {
    let miss = |exchanged: Option<(usize, usize)>| {
        let sheet_at = |n: usize| match exchanged {
            Some((a, b)) if n == a => seen[b].0,
            Some((a, b)) if n == b => seen[a].0,
            _ => seen[n].0,
        };
        let pairs: Vec<([f64; 2], [f64; 2])> = (0..seen.len())
            .flat_map(|n| {
                corners_mm(sheet_at(n), bay.marks.size_mm, [0.0; 2], 0.0)
                    .into_iter()
                    .zip(seen[n].1)
            })
            .collect();
        let to_photo = homography(&pairs)?;
        let squares = pairs.iter().map(|(wall_mm, px)| {
            let at = to_photo.map(*wall_mm);
            (at[0] - px[0]).powi(2) + (at[1] - px[1]).powi(2)
        });
        Some(squares.sum::<f64>().sqrt())
    };
    let as_entered = miss(None)?;
    let pairs = (0..seen.len()).flat_map(|a| (a + 1..seen.len()).map(move |b| (a, b)));
    let (a, b, least) = pairs
        .filter_map(|(a, b)| Some((a, b, miss(Some((a, b)))?)))
        .min_by(|one, other| one.2.total_cmp(&other.2))?;
    (MUCH_NEARER * least < as_entered).then(|| Slip::Exchanged(seen[a].0.id, seen[b].0.id))
}
