//! Vertical scans across the cut-off, taken from the photo in wall coordinates.

use super::face::Face;
use super::paint::{self, Paint};
use super::{READING_SCAN_DEG, STRIP_DEG};
use crate::photo::Photo;
use crate::record::Lamp;
use crate::wall::{View, WallPhoto};
use rayon::prelude::*;

/// Vertical reach of the scans above and below the lamp's centre, degrees: beams of cars hang between these (our
/// choice, no source).
const LOW_DEG: f64 = -5.5;
const HIGH_DEG: f64 = 4.0;
/// Columns of the reading itself: within this of the reading scan, degrees (our choice, no source): as far as UN
/// R112's scans for linearity, 1.5° and 3.5°, lie from it.
const POOL_HALF_WIDTH_DEG: f64 = 1.0;

/// Where a cut-off usually lies, degrees: 1 % down.
pub(super) const USUAL_EDGE_DEG: f64 = -0.573;

/// Step along a scan, degrees of vertical angle at the lamp: far finer than any cut-off, close to a pixel.
pub(super) const STEP_DEG: f64 = 0.02;

/// Where to scan: angles seen from the lamp's centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    /// Vertical angle that steps are counted from, degrees.
    pub low_deg: f64,
    /// Number of the lowest step, and how many there are upward from it.
    pub first: usize,
    pub count: usize,
}

impl Window {
    /// Vertical angle of step `n`, degrees.
    pub fn at_deg(self, n: usize) -> f64 {
        self.low_deg + STEP_DEG * (self.first + n) as f64
    }
}

/// The lamp's place, as scans need it.
#[derive(Debug, Clone, Copy)]
pub(super) struct LampPlace {
    pub x_mm: f64,
    pub height_mm: f64,
    pub distance_mm: f64,
    /// +1 or −1: direction of the flat side along x.
    pub flat_sign: f64,
    /// The lamp's face, where the job gives it.
    pub face: Option<Face>,
}

impl LampPlace {
    pub fn new(lamp: &Lamp, flat_sign: f64) -> Self {
        Self {
            x_mm: lamp.centre_x_mm,
            height_mm: lamp.centre_height_mm,
            distance_mm: lamp.distance_mm,
            flat_sign,
            face: Face::of(lamp),
        }
    }

    /// The place from which the lamp would throw its pattern where it lies, were that in order, `by_deg` towards the flat side.
    pub fn aside(self, by_deg: f64) -> Self {
        Self {
            x_mm: self.x_at_mm(by_deg),
            ..self
        }
    }

    /// Wall x of a scan `angle_deg` from V-V, positive towards the flat side, mm.
    pub fn x_at_mm(self, angle_deg: f64) -> f64 {
        self.x_mm + self.flat_sign * self.distance_mm * angle_deg.to_radians().tan()
    }

    /// Wall y over vertical angle at an angle, mm per degree.
    pub fn mm_per_deg_at(self, beta_deg: f64) -> f64 {
        self.distance_mm * 1f64.to_radians() / beta_deg.to_radians().cos().powi(2)
    }

    /// Vertical angle of a wall y, degrees.
    pub fn beta_at_deg(self, y_mm: f64) -> f64 {
        ((y_mm - self.height_mm) / self.distance_mm).atan().to_degrees()
    }

    /// Wall y of a vertical angle, mm.
    pub fn y_at_mm(self, beta_deg: f64) -> f64 {
        self.height_mm + self.distance_mm * beta_deg.to_radians().tan()
    }
}

/// Light along one vertical line of the wall.
#[derive(Debug, Clone)]
pub(super) struct Column {
    /// Angle of the line from V-V, degrees, positive towards the flat side.
    pub angle_deg: f64,
    /// Linear light at each step of the window; NaN outside of the photo and where a sheet hides the wall.
    pub light: Vec<f64>,
    /// Whether the light is clipped there.
    pub clipped: Vec<bool>,
}

impl Column {
    /// Whether it counts in the reading.
    pub fn is_pooled(&self) -> bool {
        is_pooled(self.angle_deg)
    }

    /// ln of the light at each step; NaN where it is clipped, next to none or not known.
    fn unclipped_ln(&self) -> Vec<f64> {
        let steps = self.light.iter().zip(&self.clipped);
        let ln = |(&light, &clipped): (&f64, &bool)| {
            if light > LEAST_LOG_LIGHT && !clipped {
                light.ln()
            } else {
                f64::NAN
            }
        };
        steps.map(ln).collect()
    }
}

/// Whether a scan so many degrees from V-V counts in the reading.
pub(super) fn is_pooled(angle_deg: f64) -> bool {
    (angle_deg - READING_SCAN_DEG).abs() <= POOL_HALF_WIDTH_DEG + 1e-9
}

/// The vertical scans of one lamp's light (UN R112, cut-off quality annex), and what they are taken from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scans<'a> {
    pub photo: &'a Photo,
    pub view: &'a View,
    pub lamp: LampPlace,
    pub window: Window,
    /// Light to be taken away (ambient), in the photo's linear units.
    pub ambient: f64,
    /// The wall by the room's light.
    pub wall: Wall<'a>,
    /// Level edges of the wall's own, and how much of them is divided out, 0 to 1.
    pub paint: (&'a [Paint], f64),
}

/// Width of the columns, degrees, at which the wall's light is held against the lamp's; so many columns and steps of a scan are
/// brought together first, since what is finer is sampled otherwise in either photo; and over how many of these blocks aside
/// (our choice, no source).
const WALL_COLUMN_DEG: f64 = 0.025;
const WALL_BLOCK: [usize; 2] = [4, 5];
const WALL_LAGS: [usize; 2] = [1, 3];
/// Light above which noise tells little of that comparison, linear: a block counts by how far it is above (our choice, no source).
const WALL_LIGHT: f64 = 0.02;
/// A share that comes out above this is taken for the whole: noise in the wall's photo draws it down by some hundredths.
const WHOLE_SHARE: f64 = 0.8;

/// What the wall reflects, as photos by the room's light show it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wall<'a> {
    photos: &'a [&'a WallPhoto],
    /// How much of what they show is in the lamp's light too, 0 to 1: paint is in full, while relief casts other shadows
    /// under a lamp than under the room's.
    pub share: f64,
    /// The middle of ln reflectance over the scans, so that light divided by it keeps its scale.
    middle: f64,
}

impl Wall<'_> {
    pub const UNKNOWN: Self = Self {
        photos: &[],
        share: 0.0,
        middle: 0.0,
    };

    /// Whether photos of the wall take its paint out of the light altogether.
    pub fn is_whole(&self) -> bool {
        self.share >= 1.0
    }

    /// ln of the wall's reflectance at a place, mm, but for a constant and what the room's light adds, which changes slowly;
    /// `None` where no photo shows it.
    fn ln_at(&self, wall_mm: [f64; 2]) -> Option<f64> {
        let (mut sum, mut count) = (0.0, 0.0);
        for light in self.photos.iter().filter_map(|photo| photo.light_at(wall_mm)) {
            sum += light.ln();
            count += 1.0;
        }
        (count == self.photos.len() as f64 && count > 0.0).then(|| sum / count)
    }
}

impl<'a> Scans<'a> {
    /// Scans of a photo; `lamp_off` is the same scene with the lamp off and the factor that brings its light to this
    /// photo's exposure.
    /// `walls` are photos of the wall by the room's light, if there are any.
    pub fn new(
        photo: &'a Photo,
        view: &'a View,
        lamp: LampPlace,
        lamp_off: Option<(&Photo, f64)>,
        walls: &'a [&'a WallPhoto],
    ) -> Self {
        let window = Window {
            low_deg: LOW_DEG,
            first: 0,
            count: ((HIGH_DEG - LOW_DEG) / STEP_DEG) as usize + 1,
        };
        let scans = Self {
            photo,
            view,
            lamp,
            window,
            ambient: 0.0,
            wall: Wall::UNKNOWN,
            paint: (&[], 1.0),
        };
        let ambient = lamp_off.map_or(0.0, |(off, factor)| factor * Scans { photo: off, ..scans }.mean_light());
        let lit = Self { ambient, ..scans };
        Self {
            wall: lit.wall(walls),
            ..lit
        }
    }

    /// The wall, and how much of its unevenness by the room's light is in this photo too: from what differs between places side
    /// by side, where the beam itself, whose edge lies level, is the same.
    fn wall(&self, walls: &'a [&'a WallPhoto]) -> Wall<'a> {
        let reading = (
            READING_SCAN_DEG - POOL_HALF_WIDTH_DEG,
            READING_SCAN_DEG + POOL_HALF_WIDTH_DEG,
        );
        let wall = Wall {
            photos: walls,
            ..Wall::UNKNOWN
        };
        if walls.is_empty() {
            return wall;
        }
        let columns = self.columns(&steps(reading.0, reading.1, WALL_COLUMN_DEG));
        let by_lamp: Vec<Vec<f64>> = columns.iter().map(|column| column.unclipped_ln()).collect();
        let by_room: Vec<Vec<f64>> = columns
            .par_iter()
            .map(|column| {
                let x_mm = self.lamp.x_at_mm(column.angle_deg);
                let at = |n| wall.ln_at([x_mm, self.lamp.y_at_mm(self.window.at_deg(n))]);
                (0..self.window.count).map(|n| at(n).unwrap_or(f64::NAN)).collect()
            })
            .collect();
        let (lamp, room) = (block_means(&by_lamp), block_means(&by_room));
        let (mut products, mut squares) = (0.0, 0.0);
        for lag in WALL_LAGS {
            for aside in lag..lamp.len() {
                for (n, (&here, &there)) in lamp[aside].iter().zip(&lamp[aside - lag]).enumerate() {
                    let (by_lamp, by_room) = (here - there, room[aside][n] - room[aside - lag][n]);
                    if by_lamp.is_finite() && by_room.is_finite() {
                        let weight = here.exp() / (here.exp() + WALL_LIGHT);
                        products += weight * by_lamp * by_room;
                        squares += weight * by_room * by_room;
                    }
                }
            }
        }
        let share = if squares > 0.0 {
            (products / squares).max(0.0)
        } else {
            0.0
        };
        let mut all: Vec<f64> = by_room.into_iter().flatten().filter(|ln| ln.is_finite()).collect();
        Wall {
            share: if share > WHOLE_SHARE { 1.0 } else { share },
            middle: crate::fit::median(&mut all).unwrap_or(0.0),
            ..wall
        }
    }

    /// The mean over the reading's columns, since single pixels of a dark photo hold little but noise.
    fn mean_light(&self) -> f64 {
        let angles_deg = steps(
            READING_SCAN_DEG - POOL_HALF_WIDTH_DEG,
            READING_SCAN_DEG + POOL_HALF_WIDTH_DEG,
            0.1,
        );
        let (mut sum, mut count) = (0.0, 0.0);
        for value in self.columns(&angles_deg).iter().flat_map(|c| &c.light) {
            if value.is_finite() {
                sum += value;
                count += 1.0;
            }
        }
        if count > 0.0 { sum / count } else { 0.0 }
    }

    /// The columns at the given angles from V-V.
    pub fn columns(&self, angles_deg: &[f64]) -> Vec<Column> {
        let heights_mm = self.heights_mm();
        let painted = self.painted(&heights_mm);
        let column = |&angle_deg: &f64| self.column(angle_deg, &heights_mm, painted.as_deref());
        angles_deg.par_iter().map(column).collect()
    }

    /// Wall y of the window's steps, mm.
    fn heights_mm(&self) -> Vec<f64> {
        let at = |n| self.lamp.y_at_mm(self.window.at_deg(n));
        (0..self.window.count).map(at).collect()
    }

    /// By what factor paint alters the light at these heights, mm; `None` where there is none.
    fn painted(&self, heights_mm: &[f64]) -> Option<Vec<f64>> {
        let (paint, share) = self.paint;
        let edge_mm = self.lamp.y_at_mm(USUAL_EDGE_DEG);
        let ln_at = |&y_mm: &f64| paint::ln_at(paint, share, edge_mm, y_mm);
        (!paint.is_empty()).then(|| heights_mm.iter().map(|y_mm| ln_at(y_mm).exp()).collect())
    }

    /// Strips that were taken before the paint was known, without it. It is the same all along a height, so that no column need be
    /// taken again.
    pub fn less_paint(&self, strips: &[Strip]) -> Vec<Strip> {
        let mut strips = strips.to_vec();
        if let Some(painted) = self.painted(&self.heights_mm()) {
            for strip in &mut strips {
                for (light, by) in strip.profile.light.iter_mut().zip(&painted) {
                    *light /= by;
                }
            }
        }
        strips
    }

    /// A column with the heights of its steps on the wall, and what paint makes of the light there, if there is any.
    fn column(&self, angle_deg: f64, heights_mm: &[f64], painted: Option<&[f64]>) -> Column {
        let x_mm = self.lamp.x_at_mm(angle_deg);
        let to_photo = self.view.upright(x_mm);
        let photo = self.photo.sampler();
        let mut light = Vec::with_capacity(self.window.count);
        let mut clipped = Vec::with_capacity(self.window.count);
        for (n, &y_mm) in heights_mm.iter().enumerate() {
            let seen = to_photo(y_mm).and_then(|[x, y]| photo.seen_at(x, y));
            let (value, is_clipped) = seen.unwrap_or((f64::NAN, false));
            let of_lamp = value - self.ambient;
            let of_lamp = painted.map_or(of_lamp, |painted| of_lamp / painted[n]);
            light.push(if self.wall.share > 0.0 {
                let wall = self.wall.ln_at([x_mm, y_mm]);
                wall.map_or(f64::NAN, |ln| {
                    of_lamp / (self.wall.share * (ln - self.wall.middle)).exp()
                })
            } else {
                of_lamp
            });
            clipped.push(is_clipped);
        }
        Column {
            angle_deg,
            light,
            clipped,
        }
    }

    /// The same scans over as many of their steps as tell the light's fall from one angle to another, degrees.
    pub fn within(&self, from_deg: f64, to_deg: f64) -> Self {
        let last = self.window.count.saturating_sub(1);
        let step = |deg: f64| ((deg - self.window.at_deg(0)) / STEP_DEG).clamp(0.0, last as f64);
        // A fall takes in what lies on either side, and the last step of a strip counts for nothing.
        let reach_deg = STEP_FAR_DEG + 2.0 * STEP_DEG;
        let from = step(from_deg - reach_deg).floor() as usize;
        let to = step(to_deg + reach_deg).ceil() as usize;
        Self {
            window: Window {
                first: self.window.first + from,
                count: to.saturating_sub(from) + 1,
                ..self.window
            },
            ..*self
        }
    }

    /// The light of strips side by side across the wall, [`STRIP_DEG`] wide.
    pub fn strips(&self) -> Vec<Strip> {
        steps(-STRIPS_REACH_DEG, STRIPS_REACH_DEG, STRIP_DEG)
            .into_par_iter()
            .map(|angle_deg| Strip {
                angle_deg,
                profile: self.strip(angle_deg, 0.5 * STRIP_DEG, 0.05),
            })
            .collect()
    }

    /// The light of a strip about an angle from V-V, its columns `spacing_deg` apart.
    pub fn strip(&self, angle_deg: f64, half_width_deg: f64, spacing_deg: f64) -> Profile {
        let angles_deg = steps(angle_deg - half_width_deg, angle_deg + half_width_deg, spacing_deg);
        let columns = self.columns(&angles_deg);
        pool(&columns.iter().collect::<Vec<_>>(), self.window, 0.0, angle_deg)
    }
}

/// The light of a narrow strip of the wall.
#[derive(Debug, Clone)]
pub(super) struct Strip {
    /// Angle of its middle from V-V, degrees, positive towards the flat side.
    pub angle_deg: f64,
    pub profile: Profile,
}

/// How far to either side of the lamp's V-V strips follow the edge, degrees (our choice, no source).
pub(super) const STRIPS_REACH_DEG: f64 = 8.0;

/// The pooled light of several columns, each shifted by its own part of a sloping edge.
#[derive(Debug, Clone)]
pub(super) struct Profile {
    /// Vertical angle of each step, degrees.
    pub beta_deg: Vec<f64>,
    /// Mean linear light there after the brightest and darkest fifth of the columns are left out; NaN where fewer than
    /// half of the columns are in the photo.
    pub light: Vec<f64>,
    /// Whether more than a fifth of the columns is clipped there; fewer fall to the trimming.
    pub clipped: Vec<bool>,
}

/// Light below this, about a third of the first code above black, counts as this in a logarithm.
pub(super) const LEAST_LOG_LIGHT: f64 = 1e-4;
/// Half-widths of the step detector, degrees: means of log light from here to there above and below. The reach
/// takes in most of a cut-off's fall, which is 0.2 to 0.6 wide (our choice, no source).
pub(super) const STEP_NEAR_DEG: f64 = 0.06;
pub(super) const STEP_FAR_DEG: f64 = 0.46;

impl Profile {
    /// Fall of log10 light across each place: the mean over a stretch below less that over one above. NaN at the ends.
    pub fn falls(&self) -> Vec<f64> {
        self.falls_over(STEP_NEAR_DEG, STEP_FAR_DEG)
    }

    /// As [`Profile::falls`], over stretches from `near_deg` to `far_deg` above and below each place.
    pub fn falls_over(&self, near_deg: f64, far_deg: f64) -> Vec<f64> {
        let count = self.light.len();
        let mut sums = Vec::with_capacity(count + 1);
        let mut sum = 0.0;
        sums.push(0.0);
        for &light in &self.light {
            sum += light.max(LEAST_LOG_LIGHT).log10();
            sums.push(sum);
        }
        let finite: Vec<bool> = self.light.iter().map(|v| v.is_finite()).collect();
        let (near, far) = (
            (near_deg / STEP_DEG).round() as usize,
            (far_deg / STEP_DEG).round() as usize,
        );
        (0..count)
            .map(|n| {
                if n < far || n + far >= count || !finite[n - far] || !finite[n + far] {
                    return f64::NAN;
                }
                let length = (far - near) as f64;
                ((sums[n - near] - sums[n - far]) - (sums[n + far + 1] - sums[n + near + 1])) / length
            })
            .collect()
    }

    /// The strongest fall, within bounds: its angle and its size in decades.
    pub fn strongest_fall(&self, within_deg: Option<(f64, f64)>) -> Option<(f64, f64)> {
        self.falls()
            .into_iter()
            .zip(&self.beta_deg)
            .filter(|(fall, beta)| fall.is_finite() && within_deg.is_none_or(|(a, b)| (a..=b).contains(*beta)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(fall, &beta)| (beta, fall))
    }
}

/// Means over blocks of [`WALL_BLOCK`] columns and steps; NaN where one of them is.
fn block_means(columns: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let [wide, high] = WALL_BLOCK;
    let mean_of = |columns: &[Vec<f64>]| -> Vec<f64> {
        let steps = columns.first().map_or(0, Vec::len);
        let block = |n: usize| {
            columns
                .iter()
                .flat_map(|column| &column[n * high..(n + 1) * high])
                .sum::<f64>()
        };
        (0..steps / high).map(|n| block(n) / (wide * high) as f64).collect()
    };
    columns.chunks_exact(wide).map(mean_of).collect()
}

/// Numbers from `from` to `to` in steps, both ends with them.
pub(super) fn steps(from: f64, to: f64, step: f64) -> Vec<f64> {
    let count = ((to - from) / step).round() as usize;
    (0..=count).map(|n| from + step * n as f64).collect()
}

/// Share of the columns left out at either end: mortar joints, a pipe or a mark then do not count (our choice, no
/// source).
const TRIM: f64 = 0.2;

/// Pools columns along lines of slope `slope` (degrees of β per degree of angle) through the angle `pivot_deg`.
pub(super) fn pool(columns: &[&Column], window: Window, slope: f64, pivot_deg: f64) -> Profile {
    /// So many steps are pooled at once, a column after the other: the processor takes several of them together.
    const AT_ONCE: usize = 64;
    let mut profile = Profile {
        beta_deg: (0..window.count).map(|n| window.at_deg(n)).collect(),
        light: Vec::with_capacity(window.count),
        clipped: Vec::with_capacity(window.count),
    };
    let any_clipped = columns.iter().any(|column| column.clipped.contains(&true));
    let mut all = vec![[f64::NAN; AT_ONCE]; columns.len()];
    let mut values = Vec::with_capacity(columns.len());
    for from in (0..window.count).step_by(AT_ONCE) {
        let steps = from..window.count.min(from + AT_ONCE);
        for (column, values) in columns.iter().zip(&mut all) {
            column.at(steps.clone(), slope * (column.angle_deg - pivot_deg) / STEP_DEG, values);
        }
        let means = mean_without_extremes(&all);
        for (n, step) in steps.enumerate() {
            let mean = means.map_or(f64::NAN, |means| means[n]);
            if mean.is_finite() && !any_clipped {
                profile.light.push(mean);
                profile.clipped.push(false);
                continue;
            }
            values.clear();
            let mut clipped = 0;
            for (column, of_column) in columns.iter().zip(&all) {
                if of_column[n].is_finite() {
                    values.push(of_column[n]);
                    let at = step as f64 + slope * (column.angle_deg - pivot_deg) / STEP_DEG;
                    let [low, high] = [at as usize, at as usize + 1].map(|i| column.clipped.get(i) == Some(&true));
                    clipped += usize::from(low || high);
                }
            }
            profile.clipped.push(5 * clipped > values.len());
            profile
                .light
                .push(if 2 * values.len() < columns.len() || values.is_empty() {
                    f64::NAN
                } else {
                    trimmed_mean(&mut values)
                });
        }
    }
    profile
}

impl Column {
    /// Its light so many steps further up than each of these, straight between two; NaN where it has none.
    fn at<const COUNT: usize>(&self, steps: std::ops::Range<usize>, further: f64, into: &mut [f64; COUNT]) {
        into.fill(f64::NAN);
        let (whole, fraction) = (further.floor(), further - further.floor());
        let first = steps.start as f64 + whole;
        let skipped = (-first).max(0.0) as usize;
        let low = (first.max(0.0) as usize).min(self.light.len());
        let (Some(into), low) = (into[..steps.len()].get_mut(skipped..), &self.light[low..]) else {
            return;
        };
        for (to, two) in into.iter_mut().zip(low.windows(2)) {
            *to = two[0] * (1.0 - fraction) + two[1] * fraction;
        }
    }
}

/// At each step the [`trimmed_mean`] of some columns, where that leaves out one or two at either end; NaN where a column has no
/// light. `None` of more and of fewer columns.
fn mean_without_extremes<const COUNT: usize>(columns: &[[f64; COUNT]]) -> Option<[f64; COUNT]> {
    let cut = (TRIM * columns.len() as f64).floor() as usize;
    if !(1..=2).contains(&cut) {
        return None;
    }
    let mut sums = [0.0; COUNT];
    let [mut lowest, mut second_lowest] = [[f64::INFINITY; COUNT]; 2];
    let [mut highest, mut second_highest] = [[f64::NEG_INFINITY; COUNT]; 2];
    // Plain comparisons are single instructions. Where one is not a number the sum is none either.
    let less = |a: f64, b: f64| if a < b { a } else { b };
    let more = |a: f64, b: f64| if a > b { a } else { b };
    for values in columns {
        for n in 0..COUNT {
            let value = values[n];
            sums[n] += value;
            second_lowest[n] = less(second_lowest[n], more(value, lowest[n]));
            lowest[n] = less(value, lowest[n]);
            second_highest[n] = more(second_highest[n], less(value, highest[n]));
            highest[n] = more(value, highest[n]);
        }
    }
    let kept = (columns.len() - 2 * cut) as f64;
    Some(std::array::from_fn(|n| {
        let seconds = if cut == 2 {
            second_lowest[n] + second_highest[n]
        } else {
            0.0
        };
        (sums[n] - lowest[n] - highest[n] - seconds) / kept
    }))
}

fn trimmed_mean(values: &mut [f64]) -> f64 {
    let cut = (TRIM * values.len() as f64).floor() as usize;
    let kept = values.len() - 2 * cut;
    // What is left out at either end need not be in order, nor what is kept.
    if cut > 0 {
        values.select_nth_unstable_by(cut, f64::total_cmp);
        values[cut..].select_nth_unstable_by(kept - 1, f64::total_cmp);
    }
    values[cut..cut + kept].iter().sum::<f64>() / kept as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::{Bay, Job, Side};
    use crate::wall::{Sighting, find_in, survey};
    use std::path::Path;

    /// Calls `of` with the scans of a sample photo.
    fn of_sample(of: impl Fn(&Scans<'_>)) {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-photos");
        let job = Job::read(&folder.join("job.toml")).unwrap();
        let bay = Bay::read(&folder.join("bay.toml")).unwrap();
        let photo = Photo::read(&folder, Path::new("photos/left-after-0.jpg")).unwrap();
        let ids: Vec<u32> = bay.marks.sheet.iter().map(|sheet| sheet.id).collect();
        let sighting = Sighting {
            found: find_in(&photo, &ids),
            size_px: photo.size_px().into(),
            capture: photo.capture.clone(),
            ..Sighting::default()
        };
        let view = survey(&[sighting], &bay).remove(0).unwrap();
        let lamp = LampPlace::new(job.lamp(Side::Left).unwrap(), job.traffic.flat_side_sign());
        of(&Scans::new(&photo, &view, lamp, None, &[]));
    }

    /// Against taking every column anew.
    #[test]
    fn strips_without_paint_are_as_if_taken_so() {
        of_sample(|scans| {
            let strips = scans.strips();
            let painted = [(600.0, 0.4), (520.0, -0.7)].map(|(y_mm, ln_ratio)| Paint {
                y_mm,
                ln_ratio,
                sd_share: 0.1,
                blur_mm: 3.0,
            });
            let scans = Scans {
                paint: (&painted, 1.0),
                ..*scans
            };
            let mut altered = 0;
            for ((less, anew), before) in scans.less_paint(&strips).iter().zip(scans.strips()).zip(&strips) {
                for (n, (quick, slow)) in less.profile.light.iter().zip(&anew.profile.light).enumerate() {
                    let same = quick.is_nan() && slow.is_nan() || (quick - slow).abs() <= 1e-12 * slow.abs();
                    assert!(same, "{} step {n}: {quick} {slow}", less.angle_deg);
                    altered += usize::from((quick - before.profile.light[n]).abs() > 1e-3 * quick.abs());
                }
            }
            assert!(altered > 100, "{altered}");
        });
    }

    /// Against all of the window.
    #[test]
    fn a_fall_within_bounds_is_that_of_the_whole_scan() {
        of_sample(|scans| {
            let mut found = 0;
            for angle_deg in steps(-6.0, 6.0, 0.5) {
                for from_deg in [-6.0, -2.5, -1.2, -0.7, 0.0, 2.0, 3.8] {
                    let bounds_deg = (from_deg, from_deg + 1.3);
                    let fall = |scans: &Scans<'_>| scans.strip(angle_deg, 0.25, 0.1).strongest_fall(Some(bounds_deg));
                    let (quick, slow) = (fall(&scans.within(bounds_deg.0, bounds_deg.1)), fall(scans));
                    assert_eq!(quick.is_some(), slow.is_some(), "{angle_deg} {from_deg}");
                    if let (Some(quick), Some(slow)) = (quick, slow) {
                        let apart = (quick.0 - slow.0).abs().max((quick.1 - slow.1).abs());
                        assert!(apart < 1e-9, "{angle_deg} {from_deg}: {quick:?} {slow:?}");
                        found += 1;
                    }
                }
            }
            assert!(found > 50, "{found}");
        });
    }

    /// Step by step, place by place, as [`pool`] is meant.
    fn pool_one_by_one(columns: &[&Column], window: Window, slope: f64, pivot_deg: f64) -> (Vec<f64>, Vec<bool>) {
        let step = |n: usize| {
            let (mut values, mut clipped) = (Vec::new(), 0);
            for column in columns {
                let at = n as f64 + slope * (column.angle_deg - pivot_deg) / STEP_DEG;
                let (below, fraction) = (at.floor(), at - at.floor());
                if below < 0.0 || below as usize + 1 >= window.count {
                    continue;
                }
                let i = below as usize;
                let value = column.light[i] * (1.0 - fraction) + column.light[i + 1] * fraction;
                if value.is_finite() {
                    values.push(value);
                    clipped += usize::from(column.clipped[i] || column.clipped[i + 1]);
                }
            }
            let is_clipped = 5 * clipped > values.len();
            if 2 * values.len() < columns.len() || values.is_empty() {
                return (f64::NAN, is_clipped);
            }
            values.sort_by(f64::total_cmp);
            let cut = (TRIM * values.len() as f64).floor() as usize;
            let kept = &values[cut..values.len() - cut];
            (kept.iter().sum::<f64>() / kept.len() as f64, is_clipped)
        };
        (0..window.count).map(step).unzip()
    }

    #[test]
    fn pooling_several_steps_at_once_is_as_one_by_one() {
        use rand::{RngExt, SeedableRng};
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(3);
        let (mut finite, mut clipped) = (0, 0);
        for case in 0..240 {
            let window = Window {
                low_deg: -2.0,
                first: 0,
                count: rng.random_range(3..200),
            };
            let columns: Vec<Column> = (0..[1, 3, 4, 5, 6, 11, 14, 15, 40][case % 9])
                .map(|n| {
                    // Gaps of all columns, of some, and of none.
                    let gaps = [0.0, 0.02, 0.3][case / 9 % 3];
                    let bright = [0.0, 0.3][case / 27 % 2];
                    let light = (0..window.count).map(|_| match rng.random_bool(gaps) {
                        true => f64::NAN,
                        false => rng.random_range(1e-4..0.9_f64).powi(3),
                    });
                    Column {
                        angle_deg: 0.05 * n as f64,
                        light: light.collect(),
                        clipped: (0..window.count).map(|_| rng.random_bool(bright)).collect(),
                    }
                })
                .collect();
            let columns: Vec<&Column> = columns.iter().collect();
            let slope = [0.0, 0.3, -0.17, 40.0][case % 4];
            let pooled = pool(&columns, window, slope, 0.1);
            let (light, is_clipped) = pool_one_by_one(&columns, window, slope, 0.1);
            assert_eq!(pooled.clipped, is_clipped, "{case}");
            for (quick, slow) in pooled.light.iter().zip(&light) {
                let same = quick.is_nan() && slow.is_nan() || (quick - slow).abs() <= 1e-10 * slow.abs();
                assert!(same, "{case}: {quick} {slow}");
                finite += usize::from(slow.is_finite());
            }
            clipped += is_clipped.iter().filter(|is_clipped| **is_clipped).count();
        }
        assert!(finite > 5000 && clipped > 500, "{finite} {clipped}");
    }

    /// Against sorting them all.
    #[test]
    fn a_trimmed_mean_is_that_of_the_middle() {
        for count in 1..40_usize {
            let mut values: Vec<f64> = (0..count).map(|n| (7.3 * n as f64).sin()).collect();
            let mut sorted = values.clone();
            sorted.sort_by(f64::total_cmp);
            let cut = count / 5;
            let middle = &sorted[cut..count - cut];
            let plain = middle.iter().sum::<f64>() / middle.len() as f64;
            assert!((trimmed_mean(&mut values) - plain).abs() < 1e-14, "{count}");
        }
    }

    #[test]
    fn a_trimmed_mean_leaves_out_both_ends() {
        let mut values = [1000.0, 2.0, 3.0, 4.0, -1000.0];
        assert_eq!(trimmed_mean(&mut values), 3.0);
        assert_eq!(trimmed_mean(&mut [7.0]), 7.0);
    }

    #[test]
    fn blocks_are_means_and_what_lacks_a_value_has_none() {
        let [wide, high] = WALL_BLOCK;
        let mut columns: Vec<Vec<f64>> = (0..2 * wide + 1)
            .map(|c| {
                (0..2 * high + 1)
                    .map(|n| (100 * (c / wide) + n / high) as f64)
                    .collect()
            })
            .collect();
        columns[wide][0] = f64::NAN;
        let means = block_means(&columns);
        assert_eq!(means[0], [0.0, 1.0], "what fills no block is left out");
        assert!(
            means.len() == 2 && means[1][0].is_nan() && means[1][1] == 101.0,
            "{means:?}"
        );
    }

    #[test]
    fn pooling_follows_the_slope() {
        let window = Window {
            low_deg: -1.0,
            first: 0,
            count: 101,
        };
        // A ramp that rises with β and is shifted by 0.1° for each degree of angle.
        let column = |angle_deg: f64| Column {
            angle_deg,
            light: (0..window.count)
                .map(|n| window.at_deg(n) - 0.1 * (angle_deg - 2.5))
                .collect(),
            clipped: vec![false; window.count],
        };
        let columns = [column(1.5), column(2.5), column(3.5)];
        let pooled = pool(&columns.iter().collect::<Vec<_>>(), window, 0.1, 2.5);
        for (beta_deg, light) in pooled.beta_deg.iter().zip(&pooled.light).filter(|(_, l)| l.is_finite()) {
            assert!((beta_deg - light).abs() < 1e-9);
        }
        assert!(pooled.light.iter().filter(|l| l.is_finite()).count() > 90);
    }
}
