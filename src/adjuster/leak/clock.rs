//! The photos of a leak-down by the camera's clock.

use super::ATMOSPHERE_MBAR;
use crate::aim::{COVERAGE_FACTOR_95, Common, ShotReading};
use crate::photo::Capture;
use crate::record::AdjusterLimits;

/// A timed reading: minutes since the first and one standard deviation of the clock, inclination and its standard
/// deviation, per cent.
#[derive(Debug, Clone, Copy)]
pub(in crate::adjuster) struct Timed {
    pub minutes: f64,
    pub clock_sd_min: f64,
    pub percent: f64,
    pub sd_percent: f64,
}

/// What the gauge showed at one photo of the series.
#[derive(Debug, Clone)]
pub(super) struct Gauge {
    /// As the job names it.
    pub photo: String,
    /// Since the first photo.
    pub minutes: f64,
    pub mbar: f64,
    /// One standard deviation.
    pub sd_mbar: f64,
}

/// The photos of a series that carry a time and gave a figure, in order of time.
pub(super) struct TimedSeries<'a> {
    pub points: Vec<Timed>,
    readings: Vec<&'a ShotReading>,
    /// Photos without a time.
    pub untimed: usize,
    /// The two photos between which the clock goes back, where the job's list goes on in the order of time before and after: as
    /// where the clock was set back in between.
    pub set_back: Option<[String; 2]>,
}

/// Photos on either side of a place where the clock may have been set, at the least: fewer make no run.
const LEAST_RUN: usize = 2;
/// Clocks that follow the time of the year or the place go by whole halves of an hour, s.
const HALF_HOUR_S: f64 = 1800.0;
/// A gap that the clock may have made is at least so many times as long as any other (common practice, no source).
const LONG_GAP: f64 = 5.0;

/// The names of the two photos between which the list goes back in time once, each side of it in order.
fn set_back(in_order_of_job: &[(f64, f64, &ShotReading)]) -> Option<[String; 2]> {
    // Two photos within the clock's second may be either way round.
    let is_back = |pair: &&[(f64, f64, &ShotReading)]| pair[1].0 < pair[0].0 - 1.0;
    let mut backs = in_order_of_job.windows(2).enumerate().filter(|(_, pair)| is_back(pair));
    let (at, pair) = backs.next()?;
    let runs = [at + 1, in_order_of_job.len() - at - 1];
    let name = |of: &(f64, f64, &ShotReading)| of.2.shot.photo.display().to_string();
    (backs.next().is_none() && runs.iter().all(|run| *run >= LEAST_RUN)).then(|| [name(&pair[0]), name(&pair[1])])
}

impl<'a> TimedSeries<'a> {
    pub fn of(members: &[&'a ShotReading]) -> Self {
        let has_offsets = members.iter().all(|r| r.capture.utc_offset_s().is_some());
        let clocks = clock(&members.iter().map(|r| &r.capture).collect::<Vec<_>>());
        let untimed = clocks.iter().filter(|clock| clock.is_none()).count();
        let mut timed: Vec<(f64, f64, &ShotReading)> = members
            .iter()
            .zip(clocks)
            .filter(|(reading, _)| reading.result.is_ok())
            .filter_map(|(&reading, clock)| {
                let (local_s, sd_s) = clock?;
                let offset_s = if has_offsets {
                    reading.capture.utc_offset_s()
                } else {
                    None
                };
                Some((local_s - offset_s.unwrap_or(0.0), sd_s, reading))
            })
            .collect();
        let set_back = set_back(&timed);
        timed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let first_s = timed.first().map_or(0.0, |(s, ..)| *s);
        let point = |(s, sd_s, reading): &(f64, f64, &ShotReading)| {
            let aim = &reading.result.as_ref().ok()?.aim;
            Some(Timed {
                minutes: (s - first_s) / 60.0,
                clock_sd_min: sd_s / 60.0,
                percent: aim.inclination_percent,
                // A reading without any uncertainty would take the whole fit.
                sd_percent: (aim.reading_u95_percent() / COVERAGE_FACTOR_95).max(1e-4),
            })
        };
        Self {
            points: timed.iter().filter_map(point).collect(),
            readings: timed.into_iter().map(|(.., reading)| reading).collect(),
            untimed,
            set_back,
        }
    }

    /// The two photos between which the clock was perhaps put forward, and the minutes that it shows between them: one gap much
    /// longer than all others, photos on either side of it, and without so many half hours as long as the others.
    pub fn put_forward(&self) -> Option<([String; 2], f64)> {
        let gaps: Vec<f64> = (self.points.windows(2))
            .map(|pair| 60.0 * (pair[1].minutes - pair[0].minutes))
            .collect();
        let at = (0..gaps.len()).max_by(|a, b| gaps[*a].total_cmp(&gaps[*b]))?;
        let others = || gaps.iter().enumerate().filter(|(n, _)| *n != at).map(|(_, gap)| *gap);
        let (least, most) = (others().fold(f64::INFINITY, f64::min), others().fold(0.0, f64::max));
        let left_s = gaps[at] % HALF_HOUR_S;
        let is_step =
            gaps[at] >= HALF_HOUR_S && gaps[at] > LONG_GAP * most && (0.5 * least..=2.0 * most).contains(&left_s);
        let runs = at + 1 >= LEAST_RUN && self.points.len() - at > LEAST_RUN;
        let name = |n: usize| self.readings[n].shot.photo.display().to_string();
        (is_step && runs).then(|| ([name(at), name(at + 1)], gaps[at] / 60.0))
    }

    /// Of what the photos share (sheets, lamp, tape), the part that differs from the first beam to the last.
    pub fn common_of_ends(&self) -> Option<Common> {
        let common = |reading: &ShotReading| Some(reading.result.as_ref().ok()?.aim.common.clone());
        let (first, last) = (common(self.readings.first()?)?, common(self.readings.last()?)?);
        // What the wall's texture does is in each photo's own standard deviation.
        Some(Common {
            wall: Vec::new(),
            ..Common::sum([(1.0, &last), (-1.0, &first)])
        })
    }

    /// What the gauge showed, in order of time.
    pub fn gauge(&self, limits: &AdjusterLimits) -> Vec<Gauge> {
        let read = |(r, t): (&&ShotReading, &Timed)| {
            Some(Gauge {
                photo: r.shot.photo.display().to_string(),
                minutes: t.minutes,
                mbar: r.shot.vacuum?.mbar(),
                sd_mbar: r.shot.vacuum_sd.unwrap_or(limits.vacuum_sd).mbar(),
            })
        };
        self.readings.iter().zip(&self.points).filter_map(read).collect()
    }

    /// The gauge was read when the valve was shut; what it showed then is the most there can be at the first photo, mbar.
    pub fn most_mbar(&self, limits: &AdjusterLimits) -> f64 {
        self.readings
            .iter()
            .filter_map(|r| {
                let sd = r.shot.vacuum_sd.unwrap_or(limits.vacuum_sd).mbar();
                r.shot.vacuum.map(|v| v.mbar() + 3.0 * sd)
            })
            .max_by(f64::total_cmp)
            .unwrap_or(ATMOSPHERE_MBAR)
            .min(ATMOSPHERE_MBAR)
    }
}

/// Each photo's time on the camera's clock, s, and one standard deviation of it, s; `None` without a time.
///
/// A clock that shows whole seconds is read at its full second, so that the moment lies half a second later with a uniform
/// spread of one second. Where EXIF has the digits behind the second, the spread is a tenth: the coarsest that a digit can
/// stand for, since EXIF does not say how fine they are. Digits that are the same in all photos are no clock's.
fn clock(captures: &[&Capture]) -> Vec<Option<(f64, f64)>> {
    /// Spread of a uniform distribution of width 1 as a standard deviation, 1/√12 (JCGM 100:2008, 4.3.7).
    const UNIFORM: f64 = 0.288_675;
    let digits: Vec<f64> = captures.iter().filter_map(|c| c.subsecond_s).collect();
    let run = digits.iter().any(|d| *d != digits[0]);
    captures
        .iter()
        .map(|capture| {
            let time_s = capture.clock_s()?;
            Some(match capture.subsecond_s {
                Some(_) if run => (time_s, 0.1 * UNIFORM),
                Some(digits) => (time_s - digits + 0.5, UNIFORM),
                None => (time_s + 0.5, UNIFORM),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_counts_as_finely_as_it_runs() {
        let at = |taken: &str, subsecond_s| Capture {
            taken: Some(taken.to_owned()),
            subsecond_s,
            ..Capture::default()
        };
        let (a, b) = ("2031-03-04T23:59:58", "2031-03-05T00:00:01");
        let read = |captures: [Capture; 2]| {
            let read = clock(&captures.iter().collect::<Vec<_>>());
            let [(from, from_sd), (to, to_sd)] = [read[0].unwrap(), read[1].unwrap()];
            (to - from, from_sd, to_sd)
        };
        // 1/√12 s, a tenth of it where the digits run, and half a second between a read and an unread fraction.
        assert_eq!(read([at(a, None), at(b, None)]), (3.0, 0.288_675, 0.288_675));
        assert_eq!(read([at(a, Some(0.0)), at(b, Some(0.0))]), (3.0, 0.288_675, 0.288_675));
        let (between, from_sd, to_sd) = read([at(a, Some(0.25)), at(b, Some(0.75))]);
        assert!((between - 3.5).abs() < 1e-6 && from_sd < 0.03 && to_sd < 0.03);
        assert_eq!(read([at(a, Some(0.25)), at(b, None)]).0, 3.0);
        assert_eq!(clock(&[&Capture::default()]), [None]);
    }
}
