//! Vertical scans across the cut-off, taken from the photo in wall coordinates.

use crate::photo::Photo;
use crate::record::Lamp;
use crate::wall::View;
use rayon::prelude::*;

/// Step along a scan, degrees of vertical angle at the lamp: far finer than any cut-off, close to a pixel.
pub(super) const STEP_DEG: f64 = 0.02;

/// Where to scan: angles seen from the lamp's centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    /// Lowest vertical angle, degrees.
    pub low_deg: f64,
    /// Number of steps upward from it.
    pub count: usize,
}

impl Window {
    /// Vertical angle of step `n`, degrees.
    pub fn at_deg(self, n: usize) -> f64 {
        self.low_deg + STEP_DEG * n as f64
    }
}

/// The lamp's place, as scans need it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lens {
    pub x_mm: f64,
    pub height_mm: f64,
    pub distance_mm: f64,
    /// +1 or −1: direction of the flat side along x.
    pub flat_sign: f64,
}

impl Lens {
    pub fn new(lamp: &Lamp, flat_sign: f64) -> Self {
        Self {
            x_mm: lamp.centre_x_mm,
            height_mm: lamp.centre_height_mm,
            distance_mm: lamp.distance_mm,
            flat_sign,
        }
    }

    /// Wall x of a scan `angle_deg` from V-V, positive towards the flat side, mm.
    pub fn x_at_mm(self, angle_deg: f64) -> f64 {
        self.x_mm + self.flat_sign * self.distance_mm * angle_deg.to_radians().tan()
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

/// Takes the columns at the given angles; `floor` is light to be taken away (ambient), in the photo's linear units.
pub(super) fn columns(
    photo: &Photo,
    view: &View,
    lens: Lens,
    window: Window,
    angles_deg: &[f64],
    floor: f64,
) -> Vec<Column> {
    angles_deg
        .par_iter()
        .map(|&angle_deg| {
            let x_mm = lens.x_at_mm(angle_deg);
            let mut light = Vec::with_capacity(window.count);
            let mut clipped = Vec::with_capacity(window.count);
            for n in 0..window.count {
                let wall_mm = [x_mm, lens.y_at_mm(window.at_deg(n))];
                let place = if view.hidden(wall_mm) {
                    None
                } else {
                    view.to_photo(wall_mm)
                };
                let value = place.and_then(|[x, y]| photo.luminance.at(x, y));
                light.push(value.map_or(f64::NAN, |v| v - floor));
                clipped.push(place.is_some_and(|[x, y]| photo.clipped_at(x, y)));
            }
            Column {
                angle_deg,
                light,
                clipped,
            }
        })
        .collect()
}

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

/// Share of the columns left out at either end: mortar joints, a pipe or a mark then do not count.
const TRIM: f64 = 0.2;

/// Pools columns along lines of slope `slope` (degrees of β per degree of angle) through the angle `pivot_deg`.
pub(super) fn pool(columns: &[&Column], window: Window, slope: f64, pivot_deg: f64) -> Profile {
    let mut profile = Profile {
        beta_deg: Vec::new(),
        light: Vec::new(),
        clipped: Vec::new(),
    };
    let mut values = Vec::with_capacity(columns.len());
    for n in 0..window.count {
        values.clear();
        let mut clipped = 0;
        for column in columns {
            let at = n as f64 + slope * (column.angle_deg - pivot_deg) / STEP_DEG;
            let below = at.floor();
            if below < 0.0 || below as usize + 1 >= window.count {
                continue;
            }
            let (i, fraction) = (below as usize, at - below);
            let value = column.light[i] * (1.0 - fraction) + column.light[i + 1] * fraction;
            if value.is_finite() {
                values.push(value);
                clipped += usize::from(column.clipped[i] || column.clipped[i + 1]);
            }
        }
        profile.beta_deg.push(window.at_deg(n));
        profile.clipped.push(5 * clipped > values.len());
        profile
            .light
            .push(if 2 * values.len() < columns.len() || values.is_empty() {
                f64::NAN
            } else {
                trimmed_mean(&mut values)
            });
    }
    profile
}

fn trimmed_mean(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let cut = (TRIM * values.len() as f64).floor() as usize;
    let kept = &values[cut..values.len() - cut];
    kept.iter().sum::<f64>() / kept.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trimmed_mean_leaves_out_both_ends() {
        let mut values = [1000.0, 2.0, 3.0, 4.0, -1000.0];
        assert_eq!(trimmed_mean(&mut values), 3.0);
        assert_eq!(trimmed_mean(&mut [7.0]), 7.0);
    }

    #[test]
    fn pooling_follows_the_slope() {
        let window = Window {
            low_deg: -1.0,
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
