//! Leak-down: what the beam does while the pump's valve is shut.
//!
//! The vacuum in a fixed volume behind a small leak dies away as p(t) = p₀·exp(−t/τ): the flow through the leak goes with
//! the pressure across it, at one temperature (common practice, no source; a leak through which air goes at the speed of
//! sound, or a hose that gives, makes it differ). Where the lamp's response to vacuum was measured at the same stage, the
//! series is fitted through it, p(t) → curve → inclination, together with the readings of the response themselves, so that
//! the curve's uncertainty is carried and the flat parts (dead band, end stop, play) claim nothing about the vacuum.
//! Without a response only the inclination's own course is stated.
//!
//! Photos are timed by EXIF, whose clock mostly shows whole seconds: a time is uniform over one second, so that it has a
//! standard deviation of 1/√12 s (JCGM 100:2008, 4.3.7), which counts by the beam's speed. Where the file has the digits
//! behind the second, it is less.

mod clock;
mod course;
mod finding;
mod jumps;
mod through;

use super::motion::{FALSE_MOVES, Movement, pairs, two_sided_quantile};
use super::positions::{Series, by_lamp_and_stage};
use super::response::{Fitted, Response};
use super::{Interval, SURE_SDS};
use crate::aim::{COVERAGE_FACTOR_95, ShotReading};
use crate::fit::chi_square_tail;
use crate::record::{AdjusterLimits, Side, Stage, said_as_written};
use crate::warning::Warning;
pub(super) use clock::Timed;
use clock::{Gauge, TimedSeries};
use course::Course;
use serde::Serialize;
use through::Through;

pub use finding::{Crept, LeakFinding};

/// What one lamp did at one stage while the pump's valve was shut.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LeakDown {
    /// Which lamp.
    pub lamp: Side,
    /// Before or after the repair.
    pub stage: Option<Stage>,
    /// Which series, where the job names several of one lamp and stage.
    pub series: Option<String>,
    /// What may be said of it.
    pub state: LeakState,
    /// The same with its figures; outputs for machines have its words.
    #[serde(rename = "words")]
    pub finding: LeakFinding,
    /// From the first timed photo to the last, s.
    pub duration_s: f64,
    /// True where the figures in mbar rest on the lamp's response to vacuum; else only the inclination is known.
    pub through_response: bool,
    /// Change of the inclination over the series, per cent.
    pub creep_percent: Option<Interval>,
    /// Time constant of the vacuum, s; `None` without a response.
    pub time_constant_s: Option<Interval>,
    /// Time in which half of what is lost in the end is lost, s.
    pub half_time_s: Option<Interval>,
    /// Without a response: time constant of the beam's own course, s, where one exponential fits it. It is that of the
    /// vacuum only if the beam lay on the slope of its response all the time.
    pub creep_time_constant_s: Option<Interval>,
    /// What the gauge showed at the first photo, as typed, mbar.
    pub gauge_at_first_mbar: Option<f64>,
    /// Vacuum at the first photo, worked out from the beam by its response, mbar.
    pub start_vacuum_mbar: Option<f64>,
    /// Vacuum at which the leak stops, mbar; `None` where it may be none.
    pub residual_vacuum_mbar: Option<Interval>,
    /// Loss of vacuum at the first photo, mbar per minute.
    pub start_rate_mbar_per_min: Option<Interval>,
    /// What the gauge lost by what was typed of it, mbar per minute, where it surely and steadily fell, and faster than a pump's own
    /// joints may.
    pub gauge_fall_mbar_per_min: Option<f64>,
    /// What is surely not lost over the series (95 %, one-sided), mbar.
    pub loss_below_mbar: Option<f64>,
    /// What the inclination surely did not change by over the series (95 %), per cent.
    pub creep_below_percent: Option<f64>,
    /// The timed photos, in order of time.
    pub points: Vec<LeakPoint>,
    /// The fitted course, for a plot.
    pub course: Vec<LeakSample>,
    /// What one should know of it.
    #[serde(serialize_with = "crate::warning::as_words")]
    #[cfg_attr(test, schemars(with = "Vec<String>"))]
    pub warnings: Vec<Warning>,
}

/// What may be said of a leak-down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum LeakState {
    /// Vacuum is surely lost (a tight system is said to leak once in 200 runs at the most), and the beam surely creeps by more than the least
    /// travel of interest.
    Leaks,
    /// No loss of interest is seen, and a limit to it can be stated.
    Holds,
    /// Neither.
    CannotTell,
}

said_as_written! {
    LeakState {
        Leaks => "leaks", "ist undicht";
        Holds => "holds", "hält";
        CannotTell => "cannot tell", "nicht feststellbar";
    }
}

/// One photo of a leak-down.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LeakPoint {
    /// Time since the first photo, s.
    pub elapsed_s: f64,
    /// Inclination, per cent.
    pub percent: f64,
    /// Half-width of the 95 % interval of what differs from photo to photo, per cent.
    pub reading_u95_percent: f64,
    /// Reading less the fitted course, per cent.
    pub residual_percent: Option<f64>,
}

/// A place of the fitted course.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LeakSample {
    /// Time since the first photo, s.
    pub elapsed_s: f64,
    /// Inclination, per cent.
    pub percent: f64,
    /// Vacuum, mbar; `None` without a response.
    pub vacuum_mbar: Option<f64>,
}

/// Fewer photos than this hold no course in time: a curved one has three parameters.
const LEAST_PHOTOS: usize = 4;
/// In less than this the clock's second is too coarse for a course in time, s: its 1/√12 s is then more than a twentieth
/// of the series (common practice, no source).
const LEAST_DURATION_S: f64 = 5.0;
/// The gauge typed alike at so many photos is steady; at fewer it is what it showed first.
const LEAST_STEADY: usize = 3;
/// Number of standard deviations below which a normal deviate lies with 95 %.
const ONE_SIDED_95: f64 = 1.645;
/// A limit to the loss that is more than this share of the vacuum is no limit (common practice, no source).
const MOST_SHARE_LOST: f64 = 0.5;
/// Places of the fitted course, for a plot.
const SAMPLES: usize = 61;
/// One atmosphere, which no vacuum exceeds, mbar (standard atmosphere, ISO 2533, from memory).
const ATMOSPHERE_MBAR: f64 = 1013.25;

/// All leak-down series of a job.
pub(super) fn leaks(
    readings: &[ShotReading],
    responses: &[(Response, Option<Fitted>)],
    limits: &AdjusterLimits,
) -> Vec<LeakDown> {
    by_lamp_and_stage(readings, |r| r.shot.sealed)
        .into_iter()
        .flat_map(by_name)
        .map(|((lamp, stage), series, members)| {
            let fitted = responses
                .iter()
                .find(|(r, _)| r.lamp == lamp && r.stage == stage && r.is_ordered())
                .and_then(|(_, fitted)| fitted.as_ref());
            let gauges = TimedSeries::of(&members).gauge(limits);
            let at_first = gauges.first().filter(|gauge| gauge.minutes <= 0.0);
            LeakDown {
                series,
                gauge_at_first_mbar: at_first.map(|gauge| gauge.mbar),
                gauge_fall_mbar_per_min: gauge_fall_mbar_per_min(&gauges),
                ..leak((lamp, stage), &members, fitted, limits)
            }
        })
        .collect()
}

/// What loses a third of its vacuum in no less time than this is as tight as a pump's own joints are, minutes (common practice, no
/// source).
const TIGHT_MIN: f64 = 30.0;

/// The gauge's own fall, mbar per minute: no reading rises, the whole is more than a gauge can be misread by (one in 200, both ends),
/// and it goes faster than [`TIGHT_MIN`] has it.
fn gauge_fall_mbar_per_min(gauges: &[Gauge]) -> Option<f64> {
    let (first, last) = (gauges.first()?, gauges.last()?);
    let minutes = last.minutes - first.minutes;
    if gauges.len() < LEAST_STEADY || minutes <= 0.0 || gauges.windows(2).any(|two| two[1].mbar > two[0].mbar) {
        return None;
    }
    let lost_mbar = first.mbar - last.mbar;
    let sure_mbar = lost_mbar - SURE_SDS * first.sd_mbar.hypot(last.sd_mbar);
    let fast = sure_mbar / minutes > first.mbar / 3.0 / TIGHT_MIN;
    (sure_mbar > 0.0 && fast).then_some(lost_mbar / minutes)
}

/// The lamps and stages whose beam moves in jumps with the valve shut, each with the largest one, per cent.
pub(super) fn jumps(readings: &[ShotReading]) -> Vec<(Series, f64)> {
    by_lamp_and_stage(readings, |r| r.shot.sealed)
        .into_iter()
        .flat_map(by_name)
        .filter_map(|(of, _, members)| Some((of, jumps::largest_jump_percent(&TimedSeries::of(&members).points)?)))
        .collect()
}

/// The photos of one lamp and stage by the name of their series, in the order in which the job first has it.
fn by_name<'a>((of, members): (Series, Vec<&'a ShotReading>)) -> Vec<(Series, Option<String>, Vec<&'a ShotReading>)> {
    let mut series: Vec<(Series, Option<String>, Vec<&'a ShotReading>)> = Vec::new();
    for reading in members {
        match series.iter_mut().find(|(_, name, _)| *name == reading.shot.series) {
            Some((.., own)) => own.push(reading),
            None => series.push((of, reading.shot.series.clone(), vec![reading])),
        }
    }
    series
}

fn leak(of: Series, members: &[&ShotReading], fitted: Option<&Fitted>, limits: &AdjusterLimits) -> LeakDown {
    let timed = TimedSeries::of(members);
    let mut leak = LeakDown::untold(of, &timed);
    if timed.points.len() < LEAST_PHOTOS || leak.duration_s < LEAST_DURATION_S {
        return leak;
    }
    let mut course = Course::of(&timed.points);
    if let Some(left) = timed.common_of_ends() {
        let u95_percent = COVERAGE_FACTOR_95 * left.variance_percent2().sqrt();
        course.creep = course.creep.widened(u95_percent);
    }
    if let Some(photos) = &timed.set_back {
        leak.find(LeakFinding::ClockAgainstList { photos: photos.clone() });
        return leak;
    }
    if let Some((photos, minutes)) = timed.put_forward() {
        leak.warnings.push(Warning::ClockPutForward { photos, minutes });
    }
    leak.creep_percent = Some(course.creep);
    let most_mbar = timed.most_mbar(limits);
    let gauges = timed.gauge(limits);
    let crept = Crept {
        creep_percent: course.creep,
        wall_mm: course.creep.value / 100.0 * members[0].lamp.distance_mm,
        minutes: leak.duration_s / 60.0,
        least_travel_percent: limits.least_travel_percent,
        movement: course.movement(limits.least_travel_percent),
    };
    let through = fitted.and_then(|fitted| {
        Through::new(fitted, &timed.points, most_mbar, &gauges).tell(course.creeps, crept, &mut leak)
    });
    if through.is_none() {
        course.tell(&timed.points, crept, &mut leak);
        if fitted.is_some_and(|fitted| !fitted.sticks()) && crept.movement == Movement::Moves {
            leak.warnings.push(Warning::CreepUnexplained);
        }
    }
    if fitted.is_some_and(|f| !f.has_releasing) && leak.through_response {
        leak.warnings.push(Warning::ResponseWithoutReleasing);
    }
    leak.bear_out(crept, &gauges);
    leak.hold_against(&gauges);
    leak
}

impl LeakDown {
    /// The photos alone.
    fn untold((lamp, stage): Series, timed: &TimedSeries<'_>) -> Self {
        let duration_s = timed.points.last().map_or(0.0, |t| 60.0 * t.minutes);
        let untimed = (timed.untimed > 0).then_some(Warning::LeakDownUntimed { photos: timed.untimed });
        Self {
            lamp,
            stage,
            series: None,
            state: LeakState::CannotTell,
            finding: LeakFinding::TooShort {
                photos: timed.points.len(),
                duration_s,
            },
            duration_s,
            through_response: false,
            creep_percent: None,
            time_constant_s: None,
            half_time_s: None,
            creep_time_constant_s: None,
            gauge_at_first_mbar: None,
            start_vacuum_mbar: None,
            residual_vacuum_mbar: None,
            start_rate_mbar_per_min: None,
            gauge_fall_mbar_per_min: None,
            loss_below_mbar: None,
            creep_below_percent: None,
            points: timed
                .points
                .iter()
                .map(|t| LeakPoint {
                    elapsed_s: 60.0 * t.minutes,
                    percent: t.percent,
                    reading_u95_percent: COVERAGE_FACTOR_95 * t.sd_percent,
                    residual_percent: None,
                })
                .collect(),
            course: Vec::new(),
            warnings: untimed.into_iter().collect(),
        }
    }

    /// What makes a creeping beam no sure sign of a leak.
    #[must_use]
    pub fn doubt(&self) -> Option<&Warning> {
        let doubts = |warning: &&Warning| matches!(warning, Warning::CourseUneven | Warning::GaugeSteady { .. });
        self.warnings
            .iter()
            .find(doubts)
            .filter(|_| self.state == LeakState::Leaks)
    }

    /// A beam that moved by nothing of interest does not say that vacuum holds, since it may stand on its stop; beside a gauge that was read at
    /// the first photo and at the last, and shows the same as far as it can be read, it does.
    fn bear_out(&mut self, crept: Crept, gauges: &[Gauge]) {
        let is_beam_alone = matches!(
            self.finding,
            LeakFinding::BeamKept { .. } | LeakFinding::CreepTrifling(_)
        );
        let (Some(first), Some(last)) = (gauges.first(), gauges.last()) else {
            return;
        };
        // To the second of the camera's clock.
        let is_whole = first.minutes <= 0.0 && last.minutes > 0.0 && crept.minutes - last.minutes < 1.0 / 60.0;
        if !is_beam_alone || !is_whole || crept.movement != Movement::Still {
            return;
        }
        let (lost_mbar, sd_mbar) = (first.mbar - last.mbar, first.sd_mbar.hypot(last.sd_mbar));
        let below_mbar = lost_mbar.max(0.0) + ONE_SIDED_95 * sd_mbar;
        if lost_mbar.abs() > SURE_SDS * sd_mbar || below_mbar > MOST_SHARE_LOST * first.mbar {
            return;
        }
        self.loss_below_mbar = Some(below_mbar);
        self.find(LeakFinding::GaugeAndBeamKept {
            crept,
            mbar: [first.mbar, last.mbar],
            below_mbar,
        });
    }

    /// Holds what was found against the gauge's readings within the series, in order of time: with the valve shut none can rise,
    /// one that falls by more than is surely not lost is no "holds", and one that stays bears out no loss.
    fn hold_against(&mut self, gauges: &[Gauge]) {
        if self.state == LeakState::Leaks && gauges.len() >= LEAST_STEADY {
            let is_steady = gauges.iter().all(|gauge| gauge.mbar == gauges[0].mbar);
            self.warnings
                .extend(is_steady.then_some(Warning::GaugeSteady { mbar: gauges[0].mbar }));
        }
        let tests = pairs(gauges.len()).max(1) as f64;
        let sure = two_sided_quantile(FALSE_MOVES / tests);
        let steps = (0..gauges.len()).flat_map(|a| (a + 1..gauges.len()).map(move |b| (&gauges[a], &gauges[b])));
        let kept = matches!(
            self.finding,
            LeakFinding::Holds { .. }
                | LeakFinding::BeamKept { .. }
                | LeakFinding::CreepTrifling(_)
                | LeakFinding::GaugeAndBeamKept { .. }
        );
        let most_lost = self.loss_below_mbar.unwrap_or(0.0);
        let beyond = |(from, to): &(&Gauge, &Gauge)| {
            let change = to.mbar - from.mbar;
            let allowed = if change > 0.0 { 0.0 } else { most_lost };
            let counts = change > 0.0 || kept;
            (if counts {
                change.abs() - allowed
            } else {
                f64::NEG_INFINITY
            }) / from.sd_mbar.hypot(to.sd_mbar).max(f64::MIN_POSITIVE)
        };
        let worst = steps.max_by(|a, b| beyond(a).total_cmp(&beyond(b)));
        let Some((from, to)) = worst.filter(|worst| beyond(worst) > sure) else {
            return;
        };
        // What follows from a shut valve is not known then.
        (self.time_constant_s, self.half_time_s, self.start_rate_mbar_per_min) = (None, None, None);
        (self.loss_below_mbar, self.residual_vacuum_mbar) = (None, None);
        self.find(LeakFinding::GaugeAgainstValve {
            photos: [from.photo.clone(), to.photo.clone()],
            mbar: [from.mbar, to.mbar],
        });
    }

    fn find(&mut self, finding: LeakFinding) {
        self.state = finding.state();
        self.finding = finding;
    }

    /// Enters the fitted course. `at`: inclination, per cent, and vacuum, mbar, so many minutes after the first photo.
    fn enter_course(&mut self, points: &[clock::Timed], at: impl Fn(f64) -> (f64, Option<f64>)) {
        for (point, t) in self.points.iter_mut().zip(points) {
            point.residual_percent = Some(t.percent - at(t.minutes).0);
        }
        let minutes = points.last().map_or(0.0, |t| t.minutes);
        let places = (0..SAMPLES).map(|n| minutes * n as f64 / (SAMPLES - 1) as f64);
        self.course = places
            .map(|t| {
                let (percent, vacuum_mbar) = at(t);
                LeakSample {
                    elapsed_s: 60.0 * t,
                    percent,
                    vacuum_mbar,
                }
            })
            .collect();
    }
}

/// Whether a series scatters more than one right series in 100 does.
fn scatters(chi_square: f64, degrees_of_freedom: usize) -> bool {
    chi_square_tail(chi_square, degrees_of_freedom) < super::response::SCATTERS
}

/// `scale` over an interval.
fn inverse(of: &Interval, scale: f64) -> Option<Interval> {
    let end = |v: Option<f64>| v.filter(|v| *v > 0.0).map(|v| scale / v);
    (of.value > 0.0).then(|| Interval::new(scale / of.value, end(of.high), end(of.low)))
}

/// Where `rise` passes `limit` between `inside` and `bound`; `None` where it does not.
fn edge(rise: &dyn Fn(f64) -> f64, inside: f64, bound: f64, limit: f64) -> Option<f64> {
    if rise(bound) <= limit {
        return None;
    }
    // From inside outwards, so that the first crossing is found; then halved.
    let (mut inside, mut outside, mut step) = (inside, bound, 0.02 * (bound - inside));
    loop {
        let at = inside + step;
        if (bound - at) * step.signum() <= 0.0 {
            break;
        }
        if rise(at) > limit {
            outside = at;
            break;
        }
        inside = at;
        step *= 1.6;
    }
    for _ in 0..14 {
        let middle = 0.5 * (inside + outside);
        if rise(middle) > limit {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    Some(0.5 * (inside + outside))
}
