//! A beam that moves in jumps while vacuum leaks away: what a smooth movement never does.
//!
//! Vacuum is lost ever more slowly. Whatever the response has in between (play, an end stop, a soft corner), a smooth beam sets
//! off once, and from its highest speed on becomes slower: its speed has one peak. A beam that sticks and slips stands still
//! between two jumps.

use super::super::motion::{FALSE_MOVES, two_sided_quantile};
use super::super::response::WALL_SD_PERCENT;
use super::clock::Timed;

/// Photos nearer to each other than the clock's second show no speed, minutes.
const LEAST_MINUTES: f64 = 1.5 / 60.0;

/// From one photo to the next.
struct Step {
    minutes: f64,
    /// Change in the direction of the whole, and its standard deviation, per cent.
    percent: f64,
    sd_percent: f64,
}

impl Step {
    fn speed(&self) -> f64 {
        self.percent / self.minutes
    }
}

/// The largest jump, per cent, where between two steps the beam surely was slower than in both: a smooth movement is said to
/// do that once in 200 runs at the most.
pub(super) fn largest_jump_percent(series: &[Timed]) -> Option<f64> {
    let (first, last) = (series.first()?, series.last()?);
    let sign = (last.percent - first.percent).signum();
    let steps: Vec<Step> = (series.windows(2))
        .map(|pair| Step {
            minutes: pair[1].minutes - pair[0].minutes,
            percent: sign * (pair[1].percent - pair[0].percent),
            sd_percent: pair[0].sd_percent.hypot(pair[1].sd_percent),
        })
        .filter(|step| step.minutes > LEAST_MINUTES)
        .collect();
    let count = steps.len();
    let triples = (count * count.saturating_sub(1) * count.saturating_sub(2) / 6).max(1);
    let sure = two_sided_quantile(FALSE_MOVES / triples as f64);
    let faster = |a: &usize, b: &usize| steps[*a].speed().total_cmp(&steps[*b].speed());
    let slower_between = |still: usize| {
        let before = (0..still).max_by(faster)?;
        let after = (still + 1..count).max_by(faster)?;
        let slow = &steps[still];
        let fast = &steps[std::cmp::min_by(before, after, faster)];
        let missing = fast.speed() * slow.minutes - slow.percent;
        // Beams that lie at unlike heights lie on another part of the wall, too.
        let wall2 = 2.0 * WALL_SD_PERCENT.powi(2);
        let share2 = (slow.minutes / fast.minutes).powi(2);
        let sd = (slow.sd_percent.powi(2) + share2 * (fast.sd_percent.powi(2) + wall2)).sqrt();
        (missing > sure * sd).then_some(steps[before].percent.max(steps[after].percent))
    };
    (0..count).filter_map(slower_between).max_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(percents: &[f64]) -> Vec<Timed> {
        let one = |(n, percent): (usize, &f64)| Timed {
            minutes: 0.5 * n as f64,
            clock_sd_min: 0.005,
            // Readings that err by some hundredths.
            percent: percent + 0.006 * [1.0, -1.0, 0.3, -0.5, 0.0][n % 5],
            sd_percent: 0.008,
        };
        percents.iter().enumerate().map(one).collect()
    }

    #[test]
    fn jumps_with_stillness_between_are_no_smooth_movement() {
        let stairs = [1.2, 1.2, 1.2, 1.48, 1.48, 1.48, 1.48, 1.76, 1.76, 1.76];
        let jump = largest_jump_percent(&series(&stairs)).unwrap();
        assert!((jump - 0.28).abs() < 0.02, "{jump}");
        let falling = stairs.map(|percent| 3.0 - percent);
        assert!(largest_jump_percent(&series(&falling)).is_some());
        // Play, then an exponential; a straight line; a beam that sets off and stops at rest; one that keeps its place.
        let play: Vec<f64> = (0..14)
            .map(|n| 1.0 + (1.0 - (-0.4 * (f64::from(n) - 3.0).max(0.0)).exp()))
            .collect();
        let line: Vec<f64> = (0..14).map(|n| 1.0 + 0.1 * f64::from(n)).collect();
        let stops: Vec<f64> = (0..14)
            .map(|n| 1.0 + 0.2 * (f64::from(n) - 4.0).clamp(0.0, 5.0))
            .collect();
        for smooth in [play, line, stops, vec![1.3; 14], Vec::new()] {
            assert_eq!(largest_jump_percent(&series(&smooth)), None, "{smooth:?}");
        }
    }
}
