//! Ink and paper of the marks: light on either side of the black border's edges, where both lie in the same light.

use super::find::FoundMark;
use crate::fit::normal_tail;
use crate::photo::{Photo, mean_before_black};
use nalgebra::Vector2;

/// Light of the ink and of the paper beside it at one side of a mark, nominal, with the light's slope across the edge taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Patch {
    /// Light of the paper.
    pub paper: f64,
    /// One standard deviation of it, from noise.
    pub paper_sd: f64,
    /// Light of the ink.
    pub ink: f64,
    /// One standard deviation of it, from noise and blur.
    pub ink_sd: f64,
    /// Share of the paper's light that blur brings to where the ink is looked at.
    pub blurred: f64,
}

/// A cell narrower than this many standard deviations of the blur shows no ink.
const LEAST_CELL_BLURS: f64 = 3.0;
/// Where paper and ink are looked at: from so many standard deviations of the blur and a pixel's share from the edge on, within these
/// shares of a cell; the paper to this share of a cell, since a sheet has one cell of white at the least; and the ink to as far from
/// the cells behind it, which may be white.
const FROM_BLURS: f64 = 2.6;
const FROM_PX: f64 = 0.3;
const LEAST_FROM_CELLS: f64 = 0.3;
const MOST_FROM_CELLS: f64 = 0.42;
const PAPER_TO_CELLS: f64 = 0.9;
/// Fewer pixels tell too little (our choice, no source).
const LEAST_PIXELS: f64 = 20.0;
/// Pixels' noise hangs together over some of them: a mean of many is so much less sure than of independent ones (no source).
const NOISE_TOGETHER: f64 = 2.0;
/// What blur brings is known to this part of it.
const BLURRED_SD: f64 = 0.25;

/// The patches of all marks, four of each at the most. A side with clipped paper gives none, nor does a mark whose cells are too
/// small to hold more than blur.
#[must_use]
pub fn patches(photo: &Photo, marks: &[FoundMark]) -> Vec<Patch> {
    let sides = |mark: &FoundMark| -> Vec<Patch> {
        let sides: Vec<(Patch, f64)> = (0..4).filter_map(|side| patch(photo, mark, side)).collect();
        // Streaks run along two sides of a sheet, and show on the two that they cross.
        let uneven = sides.iter().map(|(_, uneven)| *uneven).fold(0.0, f64::max);
        let of_sheet = sides.into_iter().map(|(patch, _)| Patch {
            ink_sd: patch.ink_sd.hypot(uneven * patch.ink),
            ..patch
        });
        of_sheet.collect()
    };
    marks
        .iter()
        .filter(|mark| mark.cell_px() >= LEAST_CELL_BLURS * mark.blur_px)
        .flat_map(sides)
        .collect()
}

/// A pixel beside a side of a mark.
#[derive(Debug, Clone, Copy)]
struct Beside {
    /// How far outward of the side, px.
    out_px: f64,
    /// How far along it, px.
    along_px: f64,
    light: f64,
}

/// Pixels beside a side of a mark.
fn pixels(photo: &Photo, mark: &FoundMark, side: usize) -> Option<Vec<Beside>> {
    let cell_px = mark.cell_px();
    let from = Vector2::from(mark.corners_px[side]);
    let to = Vector2::from(mark.corners_px[(side + 1) % 4]);
    let (length_px, along) = ((to - from).norm(), (to - from).try_normalize(1.0)?);
    let out = Vector2::new(along.y, -along.x);
    let reach = PAPER_TO_CELLS * cell_px;
    let corners = [
        from + out * reach,
        from - out * reach,
        to + out * reach,
        to - out * reach,
    ];
    let least = corners.iter().fold(Vector2::repeat(f64::INFINITY), |a, b| a.inf(b));
    let most = corners.iter().fold(Vector2::repeat(f64::NEG_INFINITY), |a, b| a.sup(b));
    let [width, height] = photo.size_px();
    let range = |low: f64, high: f64, count: usize| {
        low.ceil().max(0.0) as usize..((high.floor() + 1.0).max(0.0) as usize).min(count)
    };
    let (columns, rows) = (range(least.x, most.x, width), range(least.y, most.y, height));
    let part = photo.pixels.part(columns.clone(), rows.clone(), f32::NAN);
    let mut found = Vec::new();
    for (y, line) in rows.zip(part.values.chunks_exact(part.width_px.max(1))) {
        for (x, &light) in columns.clone().zip(line) {
            let at = Vector2::new(x as f64, y as f64) - from;
            let (along_px, out_px) = (along.dot(&at), out.dot(&at));
            // The ends, where the next side's edge comes in, are left out.
            if out_px.abs() > reach || along_px < 0.5 * cell_px || along_px > length_px - 0.5 * cell_px {
                continue;
            }
            if light.is_nan() {
                return None;
            }
            found.push(Beside {
                out_px,
                along_px,
                light: f64::from(light),
            });
        }
    }
    // A tag of which a part lies outside of the picture is not found.
    (corners.iter().all(|c| c.x >= 0.0 && c.y >= 0.0) && most.x < width as f64 && most.y < height as f64)
        .then_some(found)
}

/// The patch at a side, and how uneven the light is there: what it may do to ink over paper, relative, one standard deviation.
fn patch(photo: &Photo, mark: &FoundMark, side: usize) -> Option<(Patch, f64)> {
    let (cell_px, blur_px) = (mark.cell_px(), mark.blur_px);
    let from_px = (FROM_BLURS * blur_px + FROM_PX).clamp(LEAST_FROM_CELLS * cell_px, MOST_FROM_CELLS * cell_px);
    let pixels = pixels(photo, mark, side)?;
    let paper = pixels.iter().filter(|pixel| pixel.out_px > from_px);
    let slope = relative_slope(paper.clone())?;
    let level = |pixel: &Beside| pixel.light * (-slope * pixel.out_px).exp();
    let uneven = unevenness(paper.clone().map(|pixel| (pixel.along_px / cell_px, level(pixel))));
    let paper = Level::of(paper.map(level))?;
    let ink_to_px = cell_px - from_px;
    let ink = pixels
        .iter()
        .filter(|pixel| (from_px..ink_to_px).contains(&-pixel.out_px));
    let ink = Level::of(ink.map(level))?;
    let steps = 8;
    let step_px = (ink_to_px - from_px) / f64::from(steps);
    let share = |n: i32| normal_tail((from_px + step_px * (f64::from(n) + 0.5)) / blur_px.max(1e-3));
    // From the paper, and from behind, where half of the cells are white.
    let blurred = 1.5 * (0..steps).map(share).sum::<f64>() / f64::from(steps);
    let (paper_light, paper_cut_sd) = paper.before_black();
    let (ink_light, ink_cut_sd) = ink.before_black();
    let patch = Patch {
        paper: paper_light,
        paper_sd: paper.mean_sd().hypot(paper_cut_sd),
        ink: ink_light,
        ink_sd: ink
            .mean_sd()
            .hypot(ink_cut_sd)
            .hypot(BLURRED_SD * blurred * paper_light),
        blurred,
    };
    Some((patch, uneven))
}

/// How far the light bends over a cell beyond what noise makes, relative, as it tells between ink and paper: paper is looked at 0.6
/// cells outside of the edge and ink half a cell inside, so that light that bends by f″ is taken to be 0.6 f″ of a cell off where a
/// straight slope is taken out (by hand). `paper`: places along a side, cells, with their light.
fn unevenness(paper: impl Iterator<Item = (f64, f64)>) -> f64 {
    const OF_BEND: f64 = 0.6;
    /// Cells of a side.
    const CELLS: usize = 8;
    let mut cells: [Vec<f64>; CELLS] = Default::default();
    for (at, light) in paper {
        if let Some(cell) = cells.get_mut(at as usize) {
            cell.push(light);
        }
    }
    let levels: Vec<Option<Level>> = cells.into_iter().map(|cell| Level::of(cell.into_iter())).collect();
    let bends: Vec<(f64, f64)> = levels
        .windows(3)
        .filter_map(|three| match three {
            [Some(before), Some(here), Some(after)] => {
                let bend = before.mean - 2.0 * here.mean + after.mean;
                let noise = before.mean_sd().powi(2) + 4.0 * here.mean_sd().powi(2) + after.mean_sd().powi(2);
                Some((bend * bend / here.mean.powi(2), noise / here.mean.powi(2)))
            }
            _ => None,
        })
        .collect();
    let count = bends.len().max(1) as f64;
    let square = bends.iter().map(|(bend, noise)| bend - noise).sum::<f64>() / count;
    OF_BEND * square.max(0.0).sqrt()
}

/// Relative change of the light per px outward, by a straight line.
fn relative_slope<'a>(pixels: impl Iterator<Item = &'a Beside>) -> Option<f64> {
    let (mut n, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for Beside { out_px, light, .. } in pixels {
        n += 1.0;
        x += out_px;
        y += light;
        xx += out_px * out_px;
        xy += out_px * light;
    }
    let spread = n * xx - x * x;
    (n >= LEAST_PIXELS && spread > 0.0 && y > 0.0).then(|| ((n * xy - x * y) / spread * n / y).clamp(-0.1, 0.1))
}

/// Light of many pixels that are lit alike.
struct Level {
    mean: f64,
    /// Of one pixel.
    sd: f64,
    count: f64,
}

impl Level {
    fn of(light: impl Iterator<Item = f64>) -> Option<Self> {
        let (mut count, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for value in light {
            count += 1.0;
            sum += value;
            squares += value * value;
        }
        let mean = sum / count;
        (count >= LEAST_PIXELS).then(|| Self {
            mean,
            sd: (squares / count - mean * mean).max(0.0).sqrt(),
            count,
        })
    }

    fn mean_sd(&self) -> f64 {
        NOISE_TOGETHER * self.sd / self.count.sqrt()
    }

    /// The mean as it was before noise was cut off at black, and one standard deviation of that: how the colours' noise hangs
    /// together is not known, so that it is half of what is taken away.
    fn before_black(&self) -> (f64, f64) {
        let light = mean_before_black(self.mean, self.sd);
        (light, 0.5 * (self.mean - light).abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::LUMINANCE_WEIGHTS;

    /// Noise about a level near black, cut off at black in each of three colours.
    #[test]
    fn noise_cut_off_at_black_is_undone_within_its_uncertainty() {
        use rand::{RngExt, SeedableRng};
        let mut rng = rand::rngs::ChaCha8Rng::seed_from_u64(11);
        for light in [0.0, 0.002, 0.006, 0.03] {
            let noise = 0.006;
            let pixel = |_| -> f64 {
                let colour = |weight: &f32| {
                    let drawn: f64 = rng.sample(rand_distr::StandardNormal);
                    f64::from(*weight) * (light + noise * drawn).max(0.0)
                };
                LUMINANCE_WEIGHTS.iter().map(colour).sum()
            };
            let level = Level::of((0..4_000).map(pixel)).unwrap();
            let (found, sd) = level.before_black();
            assert!(
                (found - light).abs() < 2.0 * (sd + level.mean_sd()),
                "{light}: {found} ± {sd}, mean {}",
                level.mean
            );
            assert!(light > 0.0 || level.mean > 0.3 * noise, "cut noise lifts black");
        }
    }
}
