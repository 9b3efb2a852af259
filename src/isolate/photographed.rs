//! What a job's photos say of its system's tests: at positions of the control, under a hand pump, and with the pump's valve shut.

use super::evidence::{Evidence, Observation, Origin};
use crate::adjuster::{
    Adjuster, LEAST_PUMPED_MBAR, LampTravel, LeakDown, LeakFinding, LeakState, Movement, PositionTravel, Response,
    SHORT_SHARE, SURE_SDS, StickSlip, TravelFaultKind,
};
use crate::aim::{Aim, COVERAGE_FACTOR_95, Outcome, ShotReading};
use crate::record::Watch;
use crate::record::{Branch, Gauge, Job, Moves, Shot, Side, Stage, System, Test, Trial, TrialMoves, VacuumSource};
use crate::warning::Warning;

/// Strokes of the pump, each with a photo, after which a gauge that shows nothing will not rise (common practice, no source).
const LEAST_STROKES: usize = 3;
/// Share of its vacuum, or of its way, that a pumped part keeps over a minute when it counts as holding: as the tests have it.
const KEPT: f64 = 2.0 / 3.0;
/// A leak that takes longer than this to lose the other third outlasts any look at a beam, minutes: it is neither a part that holds
/// nor one to be condemned (common practice, no source).
const LONGEST_LEAK_MIN: f64 = 10.0;
/// A beam that stands still under the control is held where vacuum drives it when it stands beyond this share of what the pump drives it,
/// with everything uncertain against it (our choice, no source).
const HELD_SHARE: f64 = 0.5;
/// In less time than this nothing is said of a gauge that keeps its reading, minutes (half of what the tests ask for).
const LEAST_WATCHED_MIN: f64 = 0.5;

/// A job's photos, with what they came to.
pub(super) struct Photos<'a> {
    pub system: &'a System,
    pub job: &'a Job,
    pub readings: &'a [ShotReading],
    adjuster: &'a Adjuster,
}

/// What photos say of one test at one stage.
#[derive(Debug, Default)]
pub(super) struct Photographed {
    /// Its outcome.
    pub evidence: Option<Evidence>,
    /// What the pump's gauge did, by what was typed.
    pub gauge: Option<Gauge>,
    /// What is to be known before all else.
    pub warning: Option<Warning>,
    /// A leak that may take longer than the minute of a test to show in the beam: who looked at the beam may well have seen it stay.
    pub outlasts_a_look: bool,
}

/// Change of the inclination between two photos of one lamp, per cent, positive when the beam went down, and its standard
/// uncertainty, per cent.
pub(super) fn travel(still: &Aim, driven: &Aim) -> (f64, f64) {
    (
        driven.inclination_percent - still.inclination_percent,
        still.difference_u95_percent(driven) / COVERAGE_FACTOR_95,
    )
}

/// The photos of a trial.
pub(super) fn photos(trial: &Trial) -> impl Iterator<Item = &std::path::PathBuf> {
    trial.still.iter().chain(&trial.driven)
}

pub(super) fn stage_of(shot: &Shot) -> Stage {
    shot.stage.unwrap_or(Stage::Before)
}

/// Whether a test has one pump a lamp's beam and watch whether it moves and stays.
fn is_pump_test(test: &Test, lamp: Side) -> bool {
    test.source == VacuumSource::Pump && test.watch == Watch::Beam && test.lamp == Some(lamp) && test.shows.is_empty()
}

/// The test that a series of photos is named for: by the test's name, or by where the pump was joined ("at the lamp").
fn named_for(system: &System, lamp: Side, series: &str) -> Option<usize> {
    let all = || (0..system.tests.len()).filter(|&t| is_pump_test(&system.tests[t], lamp));
    if let Some(test) = all().find(|&t| system.tests[t].id == series.trim()) {
        return Some(test);
    }
    let side = lamp.to_string();
    let place = |name: &str| -> Vec<String> {
        let words = name.split(|c: char| !c.is_alphanumeric()).map(str::to_lowercase);
        let said = |word: &String| !["", "the", "at", "pump", side.as_str()].contains(&word.as_str());
        words.filter(said).collect()
    };
    let wanted = place(series);
    let mut fitting = all().filter(|&t| !wanted.is_empty() && place(&system.tests[t].id) == wanted);
    fitting.next().filter(|_| fitting.next().is_none())
}

/// Whether a photo under the pump belongs to a test: its series is named for it, or a trial of it names a photo of that series.
fn is_of_test(system: &System, job: &Job, test: usize, shot: &Shot) -> bool {
    if !shot.is_pumped() || !is_pump_test(&system.tests[test], shot.lamp) {
        return false;
    }
    let series = shot.series.as_deref();
    if let Some(named) = series.and_then(|series| named_for(system, shot.lamp, series)) {
        return named == test;
    }
    let key = |shot: &Shot| (shot.lamp, stage_of(shot), shot.series.clone());
    let named =
        |trial: &&Trial| trial.test == system.tests[test].id && trial.stage.unwrap_or(Stage::Before) == stage_of(shot);
    job.trial.iter().filter(named).any(|trial| {
        let listed = |photo: &std::path::PathBuf| job.shot.iter().find(|other: &&Shot| other.photo == *photo);
        photos(trial).any(|photo| listed(photo).is_some_and(|other| other.is_pumped() && key(other) == key(shot)))
    })
}

/// Whether a shot can be part of what stands for a test.
pub(super) fn stands_for_a_test(system: &System, job: &Job, shot: &Shot) -> bool {
    let at_positions = shot.position.is_some() && !shot.is_pumped();
    let tests = || 0..system.tests.len();
    (at_positions && tests().any(|t| system.tests[t].by_positions && system.tests[t].lamp == Some(shot.lamp)))
        || tests().any(|t| is_of_test(system, job, t, shot))
}

impl<'a> Photos<'a> {
    pub fn new(system: &'a System, job: &'a Job, readings: &'a [ShotReading], adjuster: &'a Adjuster) -> Self {
        Self {
            system,
            job,
            readings,
            adjuster,
        }
    }

    /// What they say of a test at a stage.
    pub fn of_test(&self, test: usize, stage: Stage) -> Photographed {
        let asked = &self.system.tests[test];
        match asked.lamp {
            Some(lamp) if asked.by_positions => {
                let held_mbar = self.held_by_mbar(lamp, stage);
                let evidence = self.at_positions(test, lamp, stage);
                Photographed {
                    evidence: evidence.map(|one| if held_mbar.is_some() { one.held() } else { one }),
                    warning: held_mbar.map(|mbar| Warning::StandsDriven {
                        test: asked.id.clone(),
                        lamp,
                        mbar,
                    }),
                    ..Photographed::default()
                }
            }
            Some(lamp) if is_pump_test(asked, lamp) => self.under_pump(test, lamp, stage),
            _ => Photographed::default(),
        }
    }

    /// What the adjuster found at the first and the last position stands for working the control: its travel, with its ±, and whether
    /// that moves. Where it cannot tell, nothing is told here.
    fn at_positions(&self, test: usize, lamp: Side, stage: Stage) -> Option<Evidence> {
        let of_stage = |travel: &&LampTravel| travel.lamp == lamp && travel.stage.unwrap_or(Stage::Before) == stage;
        let found = self.adjuster.travel.iter().find(of_stage)?;
        let total = found.total.as_ref()?;
        let (percent, sd_percent) = (total.percent, total.u95_percent / COVERAGE_FACTOR_95);
        let (system, origin) = (self.system, Origin::Positions);
        if found
            .faults
            .iter()
            .any(|fault| fault.kind == TravelFaultKind::DoesNotReturn)
        {
            return Evidence::noted(system, test, TrialMoves::DoesNotReturn, None, origin);
        }
        if !found.mixed_up().is_empty() {
            // Which is the first and which the last is not known; that the beam goes from one to another is.
            let by_travel = |a: &&PositionTravel, b: &&PositionTravel| a.travel_percent.total_cmp(&b.travel_percent);
            let (least, most) = (
                found.positions.iter().min_by(by_travel)?,
                found.positions.iter().max_by(by_travel)?,
            );
            let sd_percent = least.travel_u95_percent.max(most.travel_u95_percent) / COVERAGE_FACTOR_95;
            let percent = most.travel_percent - least.travel_percent;
            return Some(Evidence::travel(system, test, percent, sd_percent, origin));
        }
        let one = Evidence::travel(system, test, percent, sd_percent, origin);
        Some(match (found.movement, total.movement) {
            (Some(Movement::Still), _) => one,
            // So little is no travel of a range control, but it is a movement.
            (_, Movement::Moves) if one.is_failure() || self.is_short_at_positions(lamp, stage) => {
                Evidence::short(system, test, percent, sd_percent, origin)
            }
            (_, Movement::Moves) => one,
            // Neither is it where the ends lie alike and what is between them does not.
            (_, Movement::CannotTell | Movement::Still) => Evidence {
                fits: one.fits.map(|fit| if fit > 0.0 { 1.0 } else { 0.0 }),
                ..one
            },
        })
    }

    /// The vacuum, mbar, that holds the beam under the pump where it stands under the control at every position; `None` for a beam that
    /// moves, for one that hangs as without vacuum, and where no curve of the same stage tells.
    fn held_by_mbar(&self, lamp: Side, stage: Stage) -> Option<f64> {
        let at = |of: Option<Stage>| of.unwrap_or(Stage::Before) == stage;
        let mut travels = self.adjuster.travel.iter();
        let still = travels.find(|one| one.lamp == lamp && at(one.stage) && one.movement == Some(Movement::Still))?;
        let mut responses = self.adjuster.response.iter();
        let response =
            responses.find(|one| one.lamp == lamp && at(one.stage) && one.movement == Some(Movement::Moves))?;
        let curve = response.curve.as_ref()?;
        let rest_u95_percent = curve.rest_percent.u95?;
        let (driven_percent, rest_percent) = (curve.travel_percent.value, curve.rest_percent.value);
        let is_held = |place: &PositionTravel| {
            let off_percent = (place.percent - rest_percent) * driven_percent.signum();
            off_percent - place.u95_percent.hypot(rest_u95_percent) > HELD_SHARE * driven_percent.abs()
        };
        if still.positions.is_empty() || !still.positions.iter().all(is_held) {
            return None;
        }
        let mean_percent =
            still.positions.iter().map(|place| place.percent).sum::<f64>() / still.positions.len() as f64;
        let off = |mbar: &f64| (curve.inclination_percent(*mbar, Branch::Applying) - mean_percent).abs();
        let at = curve
            .places_mbar()
            .into_iter()
            .min_by(|a, b| off(a).total_cmp(&off(b)))?;
        // On its stop a beam tells only that there is no less.
        let stop = curve.end_stop_mbar.as_ref().map(|stop| stop.value);
        Some(stop.map_or(at, |stop| at.min(stop)))
    }

    /// Whether a lamp moves, but surely by less than it should: less than the other lamp, than the job expects, or not at some step.
    fn is_short_at_positions(&self, lamp: Side, stage: Stage) -> bool {
        let at = |of: Option<Stage>| of.unwrap_or(Stage::Before) == stage;
        let beside_other = (self.adjuster.short_travels()).any(|(of, short)| at(of) && short.lamp == lamp);
        let own = self
            .adjuster
            .travel
            .iter()
            .filter(|travel| travel.lamp == lamp && at(travel.stage));
        beside_other || own.into_iter().any(is_short_by_itself)
    }

    /// The photos under the pump that belong to a test, those that gave a figure.
    fn members(&self, test: usize, stage: Stage) -> Vec<&ShotReading> {
        let of_test = |reading: &&ShotReading| {
            let shot = &reading.shot;
            reading.result.is_ok() && stage_of(shot) == stage && is_of_test(self.system, self.job, test, shot)
        };
        self.readings.iter().filter(of_test).collect()
    }

    fn under_pump(&self, test: usize, lamp: Side, stage: Stage) -> Photographed {
        let members = self.members(test, stage);
        let system = self.system;
        let leak_downs = self.leak_downs(&members, lamp, stage);
        // A gauge typed alike beside a beam that creeps is as doubtful as the creep itself.
        // What the report leaves open accuses nothing here, and clears nothing.
        let is_doubted = leak_downs.iter().any(|leak| leak.doubt().is_some());
        // A steady fall of the gauge is a fall, also where it outlasts any look at the beam.
        let falls = leak_downs.iter().any(|leak| leak.gauge_fall_mbar_per_min.is_some());
        let steady = leak_downs.iter().all(|leak| leak.gauge_fall_mbar_per_min.is_some());
        let gauge = match self.typed_gauge(&members) {
            None if falls && steady => Some(Gauge::Falls),
            typed => typed,
        };
        let gauge = gauge.filter(|_| !is_doubted);
        let moves = self.adjuster.response.iter().any(|response| {
            let of_stage = response.stage.unwrap_or(Stage::Before) == stage;
            response.lamp == lamp && of_stage && response.movement == Some(Movement::Moves)
        });
        if gauge == Some(Gauge::WillNotRise) && !moves {
            let evidence = Evidence::noted(system, test, TrialMoves::No, gauge, Origin::Pump);
            return Photographed {
                evidence,
                gauge,
                ..Photographed::default()
            };
        }
        // A beam that goes as its curve says, up and down again, does not stick.
        let is_smooth = self.adjuster.response.iter().any(|response| {
            let of_stage = response.stage.unwrap_or(Stage::Before) == stage;
            let goes_back = response.curve.as_ref().is_some_and(|curve| curve.hysteresis.is_some());
            response.lamp == lamp && of_stage && goes_back && response.stick_slip == StickSlip::NotSeen
        });
        let stays = self.stays(&members, lamp, stage);
        let driven = self.driven(test, lamp, &members, stage);
        let holds = self.holds(&leak_downs).filter(|_| !is_doubted);
        let outcome = match (holds, driven) {
            (None | Some(true), _) if stays.is_some() => {
                Evidence::noted(system, test, TrialMoves::DoesNotReturn, None, Origin::Pump)
            }
            (Some(true), Some(one)) if one.is_short() => Some(one),
            (Some(holds), _) => Some(Evidence::sealed(system, test, holds, Origin::Pump)),
            (None, driven) => driven,
        };
        let outlasts_a_look = holds == Some(false) && leak_downs.iter().all(|leak| self.outlasts_a_look(leak));
        // What surely holds by the beam holds its gauge, too, where that was not typed.
        let gauge = gauge.or((holds == Some(true)).then_some(Gauge::RisesAndHolds));
        Photographed {
            evidence: outcome
                .map(|one| if is_smooth { one.smooth() } else { one })
                .map(|one| match gauge {
                    Some(gauge) => one.with_gauge(system, gauge),
                    None => one,
                }),
            gauge,
            // More inclination is lower.
            warning: stays.filter(|percent| *percent < 0.0).map(|_| Warning::BeamLeftHigh {
                test: system.tests[test].id.clone(),
            }),
            outlasts_a_look,
        }
    }

    /// Whether more than two thirds may be left a minute after the valve was shut, which a test by eye takes for holding.
    fn outlasts_a_look(&self, leak: &LeakDown) -> bool {
        match &leak.finding {
            // The slower end of what the photos leave open: who cannot be gainsaid is not.
            LeakFinding::Leaks { half_time_s, .. } => {
                half_time_s.high.is_none_or(|half_s| kept(0.5, 60.0 / half_s) > KEPT)
            }
            LeakFinding::Creeps {
                creep_percent, minutes, ..
            } => {
                let ends = [creep_percent.low, creep_percent.high].map(|end| end.map_or(0.0, f64::abs));
                ends[0].min(ends[1]) / minutes < (1.0 - KEPT) * self.system.travel.moves_percent
            }
            _ => true,
        }
    }

    /// The way, per cent, on which a beam surely stays with the vacuum let go, in a series that these photos are of.
    fn stays(&self, members: &[&ShotReading], lamp: Side, stage: Stage) -> Option<f64> {
        let of_stage = |response: &&Response| response.lamp == lamp && response.stage.unwrap_or(Stage::Before) == stage;
        let warnings = self
            .adjuster
            .response
            .iter()
            .filter(of_stage)
            .flat_map(|one| &one.warnings);
        warnings.into_iter().find_map(|warning| match warning {
            Warning::BeamStaysDriven { series, percent, .. } => {
                let of_series = |one: &&ShotReading| !one.shot.sealed && one.shot.series == *series;
                members.iter().copied().find(|one| of_series(one)).map(|_| *percent)
            }
            _ => None,
        })
    }

    /// The travel from no vacuum to the highest, where that is enough to tell anything.
    fn driven(&self, test: usize, lamp: Side, members: &[&ShotReading], stage: Stage) -> Option<Evidence> {
        let (percent, sd_percent, mbar) = self.pumped_travel(members)?;
        if mbar < LEAST_PUMPED_MBAR {
            return None;
        }
        let one = Evidence::travel(self.system, test, percent, sd_percent, Origin::Pump).not_watched(self.system);
        if one.outcome() == Moves::No && one.is_firm() {
            return Some(one);
        }
        // The other lamp with no more vacuum than this one had, wherever the pump was joined.
        let beside = |reading: &&ShotReading| {
            let shot = &reading.shot;
            let least = shot.vacuum.is_some_and(|vacuum| vacuum.mbar() <= mbar);
            shot.lamp != lamp && stage_of(shot) == stage && !shot.sealed && least && reading.result.is_ok()
        };
        let others: Vec<&ShotReading> = self.readings.iter().filter(beside).collect();
        let short = self
            .pumped_travel(&others)
            .is_some_and(|(other_percent, other_sd_percent, _)| {
                let lacks = SHORT_SHARE * other_percent.abs() - other_percent.signum() * percent;
                other_percent * percent > 0.0 && lacks > SURE_SDS * sd_percent.hypot(SHORT_SHARE * other_sd_percent)
            });
        Some(if short {
            Evidence::short(self.system, test, percent, sd_percent, Origin::Pump)
        } else {
            one
        })
    }

    /// One standard deviation of a gauge's reading, mbar.
    fn gauge_sd_mbar(&self, shot: &Shot) -> f64 {
        shot.vacuum_sd.unwrap_or(self.job.adjuster.vacuum_sd).mbar()
    }

    /// Whether the gauge shows none, as far as it can be read.
    fn is_none(&self, shot: &Shot) -> bool {
        shot.vacuum
            .is_some_and(|vacuum| vacuum.mbar() <= 3.0 * self.gauge_sd_mbar(shot))
    }

    /// Travel from no vacuum to the highest, per cent with its standard uncertainty, and that vacuum, mbar.
    fn pumped_travel(&self, members: &[&ShotReading]) -> Option<(f64, f64, f64)> {
        let mbar = |reading: &ShotReading| reading.shot.vacuum.map(|vacuum| vacuum.mbar());
        let typed = || members.iter().filter_map(|reading| Some((mbar(reading)?, *reading)));
        // A beam that was driven and let go need not lie where it lay at first.
        let at_rest = |shot: &Shot| self.is_none(shot) && !shot.sealed && shot.branch != Some(Branch::Releasing);
        let (_, rest) = typed().find(|(_, reading)| at_rest(&reading.shot))?;
        let (highest, driven) = typed().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let (percent, sd_percent) = travel(&rest.result.as_ref().ok()?.aim, &driven.result.as_ref().ok()?.aim);
        Some((percent, sd_percent, highest))
    }

    /// What the pump's gauge did, by what was typed of it; `None` where series of one test differ: it was pumped anew between them.
    fn typed_gauge(&self, members: &[&ShotReading]) -> Option<Gauge> {
        let mut series: Vec<(Option<&str>, Vec<&ShotReading>)> = Vec::new();
        for &reading in members {
            let name = reading.shot.series.as_deref();
            match series.iter_mut().find(|(known, _)| *known == name) {
                Some((_, own)) => own.push(reading),
                None => series.push((name, vec![reading])),
            }
        }
        let mut told = series.iter().filter_map(|(_, own)| self.gauge_of_series(own));
        let first = told.next()?;
        told.all(|other| other == first).then_some(first)
    }

    fn gauge_of_series(&self, members: &[&ShotReading]) -> Option<Gauge> {
        let typed = || members.iter().filter(|reading| reading.shot.vacuum.is_some());
        let mut sealed: Vec<(f64, &Shot)> = (members.iter())
            .filter(|reading| reading.shot.sealed)
            .filter_map(|reading| Some((reading.capture.clock_s()?, &reading.shot)))
            .collect();
        sealed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let strokes = typed().filter(|reading| reading.shot.branch == Some(Branch::Applying));
        let was_pumped =
            sealed.first().is_some_and(|(_, shot)| shot.vacuum.is_some()) || strokes.count() >= LEAST_STROKES;
        if was_pumped && typed().all(|reading| self.is_none(&reading.shot)) {
            return Some(Gauge::WillNotRise);
        }
        let mut read = sealed
            .iter()
            .filter_map(|(at_s, shot)| Some((at_s / 60.0, shot.vacuum?.mbar(), self.gauge_sd_mbar(shot))));
        let (first, last) = (read.next()?, read.next_back()?);
        let minutes = last.0 - first.0;
        if first.1 <= 0.0 || minutes <= 0.0 {
            return None;
        }
        let lost = 1.0 - last.1 / first.1;
        let unsure = SURE_SDS * first.2.hypot(last.2) / first.1;
        if lost > unsure && kept(lost - unsure, LONGEST_LEAK_MIN / minutes) < KEPT {
            Some(Gauge::Falls)
        } else if lost <= unsure && minutes >= LEAST_WATCHED_MIN && kept(lost + unsure, (1.0 / minutes).max(1.0)) > KEPT
        {
            Some(Gauge::RisesAndHolds)
        } else {
            None
        }
    }

    /// The leak-downs that a test's photos are of.
    fn leak_downs(&self, members: &[&ShotReading], lamp: Side, stage: Stage) -> Vec<&LeakDown> {
        let of_members = |leak: &&LeakDown| {
            let same = |shot: &Shot| shot.sealed && (shot.stage, &shot.series) == (leak.stage, &leak.series);
            let is_here = leak.lamp == lamp && leak.stage.unwrap_or(Stage::Before) == stage;
            is_here && members.iter().any(|reading| same(&reading.shot))
        };
        self.adjuster.leak_down.iter().filter(of_members).collect()
    }

    /// The leaks of a stage that the report tells of, and that count for none of the tests.
    pub fn leaks_not_weighed(&self, stage: Stage, evidence: &[Evidence]) -> Vec<Warning> {
        let leaks = |leak: &&LeakDown| {
            let of_stage = leak.stage.unwrap_or(Stage::Before) == stage;
            of_stage && leak.state == LeakState::Leaks && leak.doubt().is_none()
        };
        let is_weighed = |leak: &&LeakDown| {
            evidence.iter().any(|one| {
                let is_leak = one.seen == Observation::Sealed { holds: false };
                is_leak && self.system.tests[one.test].lamp == Some(leak.lamp)
            })
        };
        let mut warnings: Vec<Warning> = Vec::new();
        for leak in self
            .adjuster
            .leak_down
            .iter()
            .filter(leaks)
            .filter(|leak| !is_weighed(leak))
        {
            let warning = Warning::LeakNotWeighed {
                lamp: leak.lamp,
                after: stage == Stage::After,
            };
            if !warnings.contains(&warning) {
                warnings.push(warning);
            }
        }
        warnings
    }

    /// Whether vacuum surely holds, or surely leaks, with the valve shut; `None` where that cannot be told, or series differ.
    fn holds(&self, leak_downs: &[&LeakDown]) -> Option<bool> {
        let mut told = leak_downs.iter().filter_map(|leak| self.told(leak));
        let first = told.next()?;
        told.all(|other| other == first).then_some(first)
    }

    /// Whether a leak-down says that vacuum holds, or leaks.
    fn told(&self, leak: &LeakDown) -> Option<bool> {
        match &leak.finding {
            LeakFinding::Holds { below_mbar, minutes } => {
                let lost = below_mbar / leak.start_vacuum_mbar?;
                (*minutes >= LEAST_WATCHED_MIN && kept(lost, (1.0 / minutes).max(1.0)) > KEPT).then_some(true)
            }
            LeakFinding::Leaks {
                half_time_s,
                residual_mbar,
                ..
            } => {
                let third_min = half_time_s.high? / 60.0 * KEPT.ln() / 0.5f64.ln();
                let stops = |residual: f64| leak.start_vacuum_mbar.is_some_and(|start| residual > KEPT * start);
                let soon = third_min <= LONGEST_LEAK_MIN;
                let stops = residual_mbar.and_then(|residual| residual.high).is_some_and(stops);
                (soon && !stops).then_some(false)
            }
            LeakFinding::Creeps {
                creep_percent, minutes, ..
            } => {
                let usual = &self.system.travel;
                // Vacuum that is lost takes the beam the other way than vacuum that comes.
                let least_percent = if self.system.vacuum_raises {
                    creep_percent.low?
                } else {
                    -creep_percent.high?
                };
                let by_then = least_percent * LONGEST_LEAK_MIN / minutes;
                let more_than_settling = least_percent > 2.0 * usual.still_sd_percent;
                (more_than_settling && by_then > (1.0 - KEPT) * usual.moves_percent).then_some(false)
            }
            _ => None,
        }
    }
}

/// Share that is left after so many times as long as `lost` took to go.
fn kept(lost: f64, times: f64) -> f64 {
    (1.0 - lost).clamp(0.0, 1.0).powf(times)
}

/// Whether a lamp that moves surely falls short at a position of which the job says its travel, or stands still at one step.
fn is_short_by_itself(travel: &LampTravel) -> bool {
    if travel.movement != Some(Movement::Moves) {
        return false;
    }
    let short = travel.positions.iter().any(|at| {
        at.expected.is_some_and(|expected| {
            // A beam that goes the other way is a fault of its own.
            let along = at.travel_percent * expected.travel_percent.signum();
            let is_less = along < expected.travel_percent.abs() && along + at.travel_u95_percent > 0.0;
            expected.outcome == Outcome::Outside && is_less
        })
    });
    short
        || travel
            .faults
            .iter()
            .any(|fault| matches!(fault.kind, TravelFaultKind::DeadPosition | TravelFaultKind::HardlyMoves))
}
