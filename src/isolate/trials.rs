//! From a job's trials and photos to evidence.

use super::Done;
use super::Isolated;
use super::answer::isolate;
use super::evidence::{Evidence, Origin};
use super::model::engine_stands;
use super::next::Repair;
use super::photographed::{Photographed, Photos, photos, stage_of, stands_for_a_test, travel};
use crate::adjuster::{LEAST_PUMPED_MBAR, Movement};
use crate::aim::{Aim, COVERAGE_FACTOR_95};
use crate::error::Error;
use crate::language::{Said, said};
use crate::record::{
    Extent, Gauge, Job, Moves, RepairEntry, Shot, Side, Stage, System, Test, Trial, TrialMoves, VacuumSource,
};
use crate::warning::Warning;
use std::collections::HashSet;
use std::path::{Path, PathBuf};

/// Most trials of one job: more than anybody does on one car.
const MOST_TRIALS: usize = 200;
/// A travel beyond this, per cent, in the direction that vacuum does not move a beam, is worth a warning: far
/// beyond what a car settles, far below what a beam travels (common practice, no source).
const WRONG_WAY_PERCENT: f64 = 0.2;

/// What a job says about its system.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct JobTrials {
    /// What each trial says, in the job's order, then what photos at positions and under the pump say.
    pub evidence: Vec<Evidence>,
    /// Trials whose photos gave no figure; they do not count.
    pub unread: Vec<Unread>,
    /// What one should know of them.
    pub warnings: Vec<Warning>,
    /// What was mended, and what could not be tested.
    pub done: Done,
    /// Components that the job says were mended, where no trial follows on that: what is weighed is the car before it.
    pub repaired_since: Vec<usize>,
    /// What photos from after that repair show, where all of it is as it should be.
    pub since_repair: Vec<Evidence>,
    /// The job's repairs, in its order.
    pub repairs: Vec<RepairEntry>,
    /// Where the job goes on after a repair, what was found before it: it says why that was done.
    pub before_repair: Vec<Evidence>,
    /// The job says how far its lamps are from the wall: the car stands on its marks before it.
    pub stands_on_marks: bool,
    /// The job lists photos of all its lamps over the range control's positions, of the car as it is now.
    pub is_photographed: bool,
}

impl JobTrials {
    /// What was found after the repairs of [`Done::mended_since`], and all that was mended by then, a bit each; nothing where it is not known
    /// of which parts that tells.
    pub(super) fn later(&self) -> (&[Evidence], u128) {
        let mended = self.done.mended | self.done.mended_since;
        let is_known = self.since_repair.iter().all(|one| one.mended != self.done.mended);
        if is_known && !self.since_repair.is_empty() {
            (&self.since_repair, mended)
        } else {
            (&[], self.done.mended)
        }
    }
}

/// A trial whose photo gave no figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Unread {
    /// The test, as the job names it.
    pub test: String,
    /// The photo.
    pub photo: PathBuf,
    /// Why there is no figure, and how to mend the photo.
    pub message: Said,
}

/// Checks the job's trials against the system, and gives their photos as shots. A photo that stands in a `[[shot]]`, too, is
/// measured as it says there.
///
/// # Errors
/// [`Error`] for a test or a repaired component that the system does not have, photos for a test that moves no lamp, or a
/// photo of another lamp.
pub(crate) fn photos_of(system: &System, job: &Job, path: &Path) -> Result<Vec<Shot>, Error> {
    if job.trial.len() > MOST_TRIALS {
        let count = job.trial.len();
        return Err(Error::in_file(
            path,
            format!("there are {count} trials; {MOST_TRIALS} at the most are read"),
        ));
    }
    check_repairs(job, system, path)?;
    check_series(job, system, path)?;
    let (mut shots, mut seen) = (Vec::new(), HashSet::new());
    for trial in &job.trial {
        let test = test_of(system, trial, path)?;
        check_seen(test, trial, path)?;
        for photo in photos(trial) {
            let shot = shot_of(job, trial, test, photo, path)?;
            if seen.insert(shot.photo.clone()) {
                shots.push(shot);
            }
        }
    }
    if !shots.is_empty() {
        let measured = Job {
            shot: shots.clone(),
            ..job.clone()
        };
        measured.check(path)?;
    }
    Ok(shots)
}

/// Repairs of components that the system does not have are an error.
fn check_repairs(job: &Job, system: &System, path: &Path) -> Result<(), Error> {
    let known = |id: &String| system.component(id).is_some();
    match job
        .repair
        .iter()
        .filter_map(|repair| repair.component.as_ref())
        .find(|id| !known(id))
    {
        None => Ok(()),
        Some(id) => {
            let ids: Vec<&str> = system
                .components
                .iter()
                .map(|component| component.id.as_str())
                .collect();
            Err(Error::in_file(
                path,
                format!(
                    "component = \"{id}\" of a [[repair]] is none of the system {}; its components are {}",
                    system.id,
                    ids.join(", ")
                ),
            ))
        }
    }
}

/// A series of one lamp's photos that is named for a test of the other lamp is an error: it would count for neither.
fn check_series(job: &Job, system: &System, path: &Path) -> Result<(), Error> {
    for shot in job.shot.iter().filter(|shot| shot.is_pumped()) {
        let named = (shot.series.as_deref()).and_then(|series| system.test(series.trim()).map(|t| &system.tests[t]));
        if let Some(test) = named.filter(|test| test.lamp.is_some_and(|lamp| lamp != shot.lamp)) {
            let told = format!(
                "series = \"{}\" of {} names a test of the other lamp, and the shot is of the {} one; correct series or lamp",
                test.id,
                shot.photo.display(),
                shot.lamp
            );
            return Err(Error::in_file(path, told));
        }
    }
    Ok(())
}

/// The test of a trial.
fn test_of<'s>(system: &'s System, trial: &Trial, path: &Path) -> Result<&'s Test, Error> {
    system.test(&trial.test).map(|t| &system.tests[t]).ok_or_else(|| {
        let mut known: Vec<&str> = system.tests.iter().map(|t| t.id.as_str()).collect();
        let like = trial.test.to_lowercase();
        let likeness = |id: &str| strsim::jaro_winkler(&like, id);
        known.sort_by(|a, b| likeness(b).total_cmp(&likeness(a)));
        Error::in_file(
            path,
            format!(
                "the trial \"{}\" is no test of the system {}; its tests are, the likest first:\n{}",
                trial.test,
                system.id,
                in_columns(&known)
            ),
        )
    })
}

/// Words in as many columns as 80 characters hold, line by line, to be copied from a terminal.
fn in_columns(words: &[&str]) -> String {
    const LINE: usize = 78;
    let width = words.iter().map(|word| word.chars().count()).max().unwrap_or(0) + 2;
    let lines = words.chunks((LINE / width).max(1)).map(|line| {
        let padded: String = line.iter().map(|word| format!("{word:width$}")).collect();
        format!("  {}", padded.trim_end())
    });
    lines.collect::<Vec<_>>().join("\n")
}

/// A kind of fault that was seen itself, of a test that does not show it, is an error: it would count as something else.
fn check_seen(test: &Test, trial: &Trial, path: &Path) -> Result<(), Error> {
    match trial.moves {
        Some(moves) if !test.has_answer(moves) => Err(Error::in_file(
            path,
            format!(
                "moves = \"{moves}\" of the trial \"{}\" is no outcome of that test: it does not look at such a fault; write \"yes\" or \"no\"",
                trial.test
            ),
        )),
        _ => Ok(()),
    }
}

/// A trial's photo as a shot: as the job lists it, or of the test's lamp.
fn shot_of(job: &Job, trial: &Trial, test: &Test, photo: &Path, path: &Path) -> Result<Shot, Error> {
    let Some(side) = test.lamp else {
        return Err(Error::in_file(
            path,
            format!(
                "the trial \"{}\" moves no lamp, so that photos cannot decide it; write moves = \"yes\" or \"no\"",
                trial.test
            ),
        ));
    };
    match job.shot.iter().find(|shot| shot.photo == photo) {
        None => Ok(Shot {
            stage: Some(trial.stage.unwrap_or(Stage::Before)),
            ..Shot::of(photo, side)
        }),
        Some(shot) if shot.lamp == side => Ok(shot.clone()),
        Some(shot) => Err(Error::in_file(
            path,
            format!(
                "the trial \"{}\" is of the {side} lamp, and its photo {} is listed as a [[shot]] of the {} lamp",
                trial.test,
                photo.display(),
                shot.lamp
            ),
        )),
    }
}

/// Whether the job goes on after a repair: trials follow on it.
fn goes_on(job: &Job) -> bool {
    job.trial.iter().any(|trial| trial.stage == Some(Stage::After))
}

/// Whether the job lists photos that can stand for a test, of the car before a repair or after one.
pub(crate) fn has_photos(system: &System, job: &Job) -> bool {
    job.shot.iter().any(|shot| stands_for_a_test(system, job, shot))
}

/// Components that the job says were mended.
fn repaired<'a>(system: &'a System, job: &'a Job) -> impl Iterator<Item = usize> + 'a {
    let named = job.repair.iter().filter_map(|repair| repair.component.as_deref());
    named.filter_map(|id| system.component(id))
}

/// Whether the job lists photos of each of its lamps at two positions or more, of the car as it is now: after a repair at all those that were
/// photographed before it.
fn is_photographed(job: &Job) -> bool {
    let is_after = |shot: &Shot| shot.stage == Some(Stage::After);
    let goes_on = !job.repair.is_empty() || job.shot.iter().any(is_after);
    let at = |side: Side, after: bool| -> HashSet<&str> {
        let shots = job
            .shot
            .iter()
            .filter(|shot| shot.lamp == side && is_after(shot) == after);
        shots.filter_map(|shot| shot.position.as_deref()).collect()
    };
    let is_whole = |side: Side| {
        let now = at(side, goes_on);
        now.len() >= 2 && (!goes_on || at(side, false).is_subset(&now))
    };
    let mut sides = [Side::Left, Side::Right]
        .into_iter()
        .filter(|&side| job.lamp(side).is_some())
        .peekable();
    sides.peek().is_some() && sides.all(is_whole)
}

/// The same, a bit each.
fn mended(system: &System, job: &Job) -> u128 {
    repaired(system, job).fold(0, |mended, c| mended | 1 << c)
}

/// The components of which no repair of the job renewed more than a piece, a bit each.
fn mended_in_part(system: &System, job: &Job) -> u128 {
    let whole = job.repair.iter().filter(|repair| repair.extent != Some(Extent::Piece));
    let named = whole.filter_map(|repair| system.component(repair.component.as_deref()?));
    named.fold(mended(system, job), |left, c| left & !(1 << c))
}

/// The components that had been mended when something of the stage after was done, a bit each. One repair stands before all of it.
/// Of several, those that stand above a trial in the file where the file goes from trials to repairs and on to trials; else
/// only the first surely does: who repairs once more saw that the first had not helped.
struct Followed {
    /// In the file's order.
    repairs: Vec<(Option<usize>, String)>,
    repairs_above: Vec<usize>,
}

impl Followed {
    fn of(system: &System, job: &Job) -> Self {
        let part = |id: &Option<String>| id.as_deref().and_then(|id| system.component(id));
        let repairs = job.repair.iter().map(|one| (part(&one.component), one.date.clone()));
        let is_after = |n: &usize| job.trial.get(*n).is_some_and(|trial| trial.stage == Some(Stage::After));
        let below =
            |after: bool| (0..job.repairs_above.len()).any(|n| is_after(&n) == after && job.repairs_above[n] > 0);
        let in_turn = below(true) && !below(false);
        Self {
            repairs: repairs.collect(),
            repairs_above: if in_turn { job.repairs_above.clone() } else { Vec::new() },
        }
    }

    /// Whether the file does not tell which repair a trial follows.
    fn is_unknown(&self) -> bool {
        self.repairs_above.is_empty()
    }

    /// Components mended before something, and those mended after it, a bit each; and the number of repairs before it.
    fn mended(&self, of: impl Fn(usize, &str) -> bool) -> (u128, u128, usize) {
        let (mut before, mut after, mut count) = (0, 0, 0);
        for (n, (part, date)) in self.repairs.iter().enumerate() {
            let is_before = self.repairs.len() == 1 || of(n, date);
            let bit = part.map_or(0, |c| 1 << c);
            *(if is_before { &mut before } else { &mut after }) |= bit;
            count += usize::from(is_before);
        }
        (before, after, count)
    }

    /// Before and after a trial, by its number in the job.
    fn by_trial(&self, trial: usize) -> (u128, u128, usize) {
        let above = self.repairs_above.get(trial).copied().unwrap_or(0).max(1);
        self.mended(|n, _| n < above)
    }

    /// Before and after photos that were taken on a day, ISO 8601.
    fn by_photo(&self, day: Option<&str>) -> (u128, u128, usize) {
        self.mended(|n, date| n == 0 || day.is_some_and(|day| date <= day))
    }
}

/// The lamp that a component serves, where it serves one alone: of those whose beam is watched while the component is needed.
pub(crate) fn lamp_of(system: &System, component: usize) -> Option<Side> {
    let needing = system.tests.iter().filter(|test| test.needs.contains(&component));
    let mut lamps = needing.filter_map(|test| test.lamp);
    let first = lamps.next()?;
    lamps.all(|lamp| lamp == first).then_some(first)
}

/// From this probability on it is no wonder that a part is mended, whichever lamp it serves: a large leak drains the other lamp, too
/// (common practice, no source).
const NO_WONDER: f64 = 0.2;

/// A repair of a part of one lamp, where all that failed before it is of the other lamp, and no repair is of that one or of a part that
/// both share: the wrong lamp was probably entered.
fn repairs_of_other_lamp(system: &System, job: &Job, before: &[Evidence]) -> Option<Warning> {
    let failed: HashSet<Side> = (before.iter().filter(|one| one.is_failure()))
        .filter_map(|one| system.tests[one.test].lamp)
        .collect();
    let [failed] = failed.into_iter().collect::<Vec<_>>()[..] else {
        return None;
    };
    let mut parts = repaired(system, job).map(|c| (c, lamp_of(system, c))).peekable();
    let (component, _) = *parts.peek()?;
    let is_other = parts.all(|(_, lamp)| lamp == Some(failed.other()));
    let unnamed = job.repair.iter().any(|repair| repair.component.is_none());
    if !is_other || unnamed || isolate(system, before).by_component[component] >= NO_WONDER {
        return None;
    }
    Some(Warning::RepairOfOtherLamp {
        component: system.components[component].id.clone(),
        lamp: failed.other(),
    })
}

/// What the job's trials say, and what its photos say of the tests that they stand for, from the readings of its shots and of
/// those that [`photos_of`] asked for. Trials of tests that the system does not have are left out; [`photos_of`] turns them
/// down.
#[must_use]
pub(super) fn evidence_of(photos: &Photos<'_>) -> JobTrials {
    let (system, job) = (photos.system, photos.job);
    let mut found = JobTrials {
        stands_on_marks: !job.lamp.is_empty(),
        is_photographed: is_photographed(job),
        repairs: job.repair.clone(),
        ..JobTrials::default()
    };
    from_stage(photos, Stage::Before, &mut found);
    found
        .warnings
        .extend(repairs_of_other_lamp(system, job, &found.evidence));
    found.done.in_part = mended_in_part(system, job);
    let mut after = found.clone();
    after.before_repair.clone_from(&found.evidence);
    after.done.mended = mended(system, job);
    if after.done.mended == 0 {
        // What was mended is not known, and with it not what still holds of what was found.
        after.evidence.clear();
    }
    // What was seen to leak before it is another car's.
    let is_of_before = |warning: &Warning| matches!(warning, Warning::LeakNotWeighed { .. });
    after.warnings.retain(|warning| !is_of_before(warning));
    let known = after.evidence.len();
    from_stage(photos, Stage::After, &mut after);
    if after.done.mended == 0 && goes_on(job) && !found.evidence.is_empty() {
        after.warnings.push(Warning::RepairNotEntered {
            before: found.evidence.len(),
            named: !job.repair.is_empty(),
        });
    }
    if after.evidence[known..]
        .iter()
        .any(|one| one.mended_since(after.done.mended) != 0)
        && Followed::of(system, job).is_unknown()
    {
        after.warnings.push(Warning::RepairsNotInTurn);
    }
    // Where trials follow on a repair, the same job goes on: what was found before tells of the car as it was then. So it does
    // where a repair that the job names did not help, by the photos after it.
    let still_fails = after.evidence[known..].iter().any(Evidence::is_failure);
    if goes_on(job) || (after.done.mended != 0 && still_fails) {
        return after;
    }
    found.since_repair = after.evidence.split_off(known);
    found.repaired_since = repaired(system, job).collect();
    found.repaired_since.dedup();
    found.done.mended_since = mended(system, job);
    found
}

/// What trials and photos of one stage say.
fn from_stage(photos: &Photos<'_>, stage: Stage, found: &mut JobTrials) {
    let (system, job) = (photos.system, photos.job);
    let first = found.evidence.len();
    for (n, trial) in job.trial.iter().enumerate() {
        let Some(test) = system.test(&trial.test) else { continue };
        if trial.stage.unwrap_or(Stage::Before) == stage {
            from_trial(photos, (n, trial), test, found);
        }
    }
    let followed = Followed::of(system, job);
    let of_stage = photos.readings.iter().filter(|one| stage_of(&one.shot) == Stage::After);
    // The earliest photo: what is not sure of it is not sure of all.
    let day = of_stage.filter_map(|one| one.capture.taken.as_deref()?.get(..10)).min();
    let of_its_car = |one: &mut Evidence| {
        let (before, after, repairs) = match one.origin {
            _ if stage == Stage::Before => return,
            Origin::Trial(n) => followed.by_trial(n),
            _ => followed.by_photo(day),
        };
        (one.mended, one.mended_again, one.repairs) = (before, before & after, repairs);
    };
    found.evidence[first..].iter_mut().for_each(of_its_car);
    let written = &mut found.evidence[first..];
    for n in 0..written.len() {
        let (one, later) = (written[n], &written[n + 1..]);
        let car = |one: &Evidence| (one.test, one.mended, one.mended_again);
        let mut anew = later.iter().filter(|later| car(later) == car(&one));
        // The last answer is the one that stands.
        written[n].superseded = anew.next_back().is_some_and(|last| !last.agrees_with(&one));
    }
    for test in 0..system.tests.len() {
        let mut shown = photos.of_test(test, stage);
        shown.evidence.as_mut().into_iter().for_each(of_its_car);
        add(system, test, shown, (first, &mut *found));
    }
    let not_weighed = photos.leaks_not_weighed(stage, &found.evidence[first..]);
    found.warnings.extend(not_weighed);
    if stage == Stage::Before && has_photos(system, job) {
        say_what_is_missing(photos, found);
    }
}

/// Adds what photos say of a test. A trial that is written down counts for itself, and photos of the car as it was then that agree with
/// it are not counted a second time; what the gauge did is. `first`: where the evidence of this stage begins.
fn add(system: &System, test: usize, shown: Photographed, (first, found): (usize, &mut JobTrials)) {
    let Some(shown_one) = shown.evidence else { return };
    if let Some(warning) = shown.warning {
        found.warnings.insert(0, warning);
    }
    // What was found between two repairs is of another car than photos after both.
    let car = |one: &Evidence| (one.mended, one.mended_again);
    let beside = || {
        (first..)
            .zip(&found.evidence[first..])
            .filter(|(_, one)| one.test == test && car(one) == car(&shown_one))
    };
    if beside().next().is_none() {
        found.evidence.push(shown_one);
        return;
    }
    let id = || system.tests[test].id.clone();
    // Photos over minutes see a leak that the minute of a test does not, and that a beam at its stop hides: the finer finding stands for both.
    let is_coarser = |one: &Evidence| {
        let gauge_tells = match one.gauge {
            Some(Gauge::Falls) => true,
            Some(Gauge::RisesAndHolds | Gauge::WillNotRise) => false,
            None => shown.outlasts_a_look,
        };
        gauge_tells && one.outcome() == Moves::Yes && !one.stays()
    };
    let coarser = beside().filter(|(_, one)| is_coarser(one)).last();
    if let (Moves::CreepsBack, Some((n, one))) = (shown_one.outcome(), coarser) {
        // Photos that have a gauge's figures of their own know better what it did.
        found.evidence[n] = match one.gauge.filter(|_| shown.gauge.is_none()) {
            Some(gauge) => shown_one.with_gauge(system, gauge),
            None => shown_one,
        };
        found.warnings.push(Warning::LeakOutlastsTest { test: id() });
        return;
    }
    // That a beam stays where it was driven is more than a trial of the way there says.
    let agrees = |one: &Evidence| one.agrees_with(&shown_one) && (one.stays() || !shown_one.stays());
    let agreeing = beside().filter(|(_, one)| agrees(one)).last();
    if let Some((n, one)) = agreeing {
        if let (None, Some(gauge)) = (one.gauge, shown.gauge) {
            found.evidence[n] = one.with_gauge(system, gauge);
        }
        if shown_one.origin == Origin::Positions {
            found.warnings.push(Warning::PositionsBesideTrial { test: id() });
        }
        return;
    }
    found.warnings.push(Warning::PhotosAgainstTrial {
        test: id(),
        positions: shown_one.origin == Origin::Positions,
    });
    found.evidence.push(shown_one);
}

/// Lamps of which no readings stand for working the control, though the other's do.
fn say_what_is_missing(photos: &Photos<'_>, found: &mut JobTrials) {
    let any = |shot: &Shot| shot.position.is_some() && !shot.is_pumped() && stage_of(shot) == Stage::Before;
    if !photos.job.shot.iter().any(any) && !photos.readings.iter().any(|reading| any(&reading.shot)) {
        return;
    }
    for (test, asked) in photos
        .system
        .tests
        .iter()
        .enumerate()
        .filter(|(_, test)| test.by_positions)
    {
        if let (Some(lamp), None) = (asked.lamp, found.evidence.iter().find(|one| one.test == test)) {
            found.warnings.push(Warning::TooFewPositions {
                test: asked.id.clone(),
                lamp,
            });
        }
    }
}

impl Isolated {
    /// What followed from all that was found before the repair, where the job goes on after one: the reason of that repair.
    #[must_use]
    pub fn before_repair(&self) -> Option<Self> {
        let evidence = &self.trials.before_repair;
        let trials = JobTrials {
            evidence: evidence.clone(),
            stands_on_marks: self.trials.stands_on_marks,
            is_photographed: self.trials.is_photographed,
            ..JobTrials::default()
        };
        (!evidence.is_empty()).then(|| Self::new(self.system.clone(), trials))
    }

    /// What was wrong before the repair, by what came of it, too: where the job goes on after one, what was found before it with what was
    /// found since beside it.
    #[must_use]
    pub fn in_hindsight(&self) -> Option<Self> {
        let before = self.before_repair()?;
        let later = self.trials.evidence.iter().filter(|one| one.mended != 0);
        let done = Done {
            mended_since: self.trials.done.mended,
            in_part: self.trials.done.in_part,
            ..Done::default()
        };
        let trials = JobTrials {
            since_repair: later.copied().collect(),
            done,
            ..before.trials
        };
        Some(Self::new(before.system, trials))
    }

    /// Whether a component, by number, was mended since, and each test that had failed and needs it has passed after that: what was wrong
    /// was wrong with it, as far as tests show.
    #[must_use]
    pub fn is_cured_by(&self, component: usize) -> bool {
        let (later, mended) = self.trials.later();
        let needs = |one: &Evidence| self.system.tests[one.test].needs.contains(&component);
        let mut failed = (self.failures().into_iter()).filter(|one| needs(one)).peekable();
        let is_last = |one: &&Evidence| one.mended_since(mended) == 0;
        // Of a test that was done again after it, the last counts.
        let passes = |test: usize| {
            let last = later.iter().filter(is_last).rfind(|one| one.test == test);
            last.is_some_and(Evidence::is_yes)
        };
        (mended & !self.trials.done.mended) >> component & 1 == 1
            && failed.peek().is_some()
            && failed.all(|one| passes(one.test))
    }

    /// What is to be done first in a repair from here.
    pub(crate) fn first_repair(&self) -> Option<Repair> {
        let repairs = self
            .answer
            .decision
            .repairs(&self.answer.by_component, self.answer.nothing);
        repairs.first().copied()
    }

    /// Whether the job says that a component, by number, was mended after the tests that are known, and nothing was found since.
    pub(crate) fn is_mended_since(&self, component: usize) -> bool {
        self.trials.repaired_since.contains(&component)
    }

    /// What failed and tells of the car as it is: no later look at the same says the contrary. While there is such, nobody can say
    /// that nothing is at fault.
    #[must_use]
    pub fn failures(&self) -> Vec<&Evidence> {
        self.failures_among(|_| true)
    }

    /// As [`Self::failures`], by what was written down alone: photos that say otherwise count beside a trial, they do not take it out.
    #[must_use]
    pub fn written_failures(&self) -> Vec<&Evidence> {
        self.failures_among(|one| matches!(one.origin, Origin::Trial(_)))
    }

    fn failures_among(&self, counts: impl Fn(&Evidence) -> bool) -> Vec<&Evidence> {
        let all: Vec<&Evidence> = self.trials.evidence.iter().filter(|one| counts(one)).collect();
        let now = |one: &Evidence| one.mended_since(self.trials.done.mended) == 0;
        let fails = |(n, one): &(usize, &&Evidence)| {
            let passed = |later: &&Evidence| later.test == one.test && later.is_yes();
            now(one) && (one.is_failure() || one.leaks_unseen()) && !all[n + 1..].iter().any(passed)
        };
        all.iter().enumerate().filter(fails).map(|(_, one)| *one).collect()
    }

    /// Whether what is known is of the car before its repair: photos from after it stand beside that.
    #[must_use]
    pub fn is_of_before(&self) -> bool {
        !self.trials.since_repair.is_empty() || !self.trials.repaired_since.is_empty()
    }

    /// Whether something failed, of the car as it is, that bears on a lamp's beam.
    #[must_use]
    pub fn has_failed_at(&self, lamp: Side) -> bool {
        let of_lamp = |one: &&Evidence| self.system.tests[one.test].lamp.is_none_or(|side| side == lamp);
        self.failures().iter().any(of_lamp)
    }

    /// Whether a lamp's beam was written down to follow the range control, of the car as it is.
    #[must_use]
    pub fn has_followed(&self, lamp: Side) -> bool {
        let mut evidence = self.trials.evidence.iter();
        evidence.any(|one| {
            let test = &self.system.tests[one.test];
            let tells = one.still_tells(&self.system, self.trials.done.mended);
            test.by_positions && test.lamp == Some(lamp) && one.is_yes() && tells
        })
    }

    /// The tests by which a repair of these components shows what it must, by number: to work the control, and what had failed, needs one of
    /// them, and shows more than a beam that follows the control under the engine: nobody lays a line open once more for what that tells.
    #[must_use]
    pub fn must_show(&self, mended: &[usize]) -> Vec<usize> {
        let before: Vec<&Evidence> = match self.trials.before_repair.as_slice() {
            [] => self.failures(),
            before => before.iter().filter(|one| one.is_failure()).collect(),
        };
        let all = || self.system.tests.iter().enumerate();
        let is_in_a_look = |t: usize, test: &Test| {
            let mut looks = all().filter(|(_, look)| look.by_positions);
            let under_engine = test.source == VacuumSource::Engine && !engine_stands(&self.system, t);
            under_engine && looks.any(|(_, look)| test.needs.iter().all(|c| look.needs.contains(c)))
        };
        let must = |(t, test): &(usize, &Test)| {
            let has_failed = before.iter().any(|one| one.test == *t) && test.needs.iter().any(|c| mended.contains(c));
            test.by_positions || (has_failed && !is_in_a_look(*t, test))
        };
        all().filter(must).map(|(t, _)| t).collect()
    }

    /// The components that were mended before the car came to be as it is, by number, where the job goes on after that.
    pub fn mended(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.system.components.len()).filter(|c| self.trials.done.mended >> c & 1 == 1)
    }

    /// Whether a component, by number, is mended by now, as the job has it: before what is known, or after all that is known was found.
    #[must_use]
    pub fn is_mended(&self, component: usize) -> bool {
        self.is_mended_since(component) || self.mended().any(|mended| mended == component)
    }

    /// What was found of a test since the repair, what passed first.
    #[must_use]
    pub fn found_since(&self, test: usize) -> Option<&Evidence> {
        let mended = self.trials.done.mended;
        let now = (self.trials.evidence.iter()).filter(|one| one.mended != 0 && one.still_tells(&self.system, mended));
        let mut of_test = self
            .trials
            .since_repair
            .iter()
            .chain(now)
            .filter(|one| one.test == test);
        of_test.clone().find(|one| one.is_yes()).or_else(|| of_test.next())
    }

    /// Whether a test was done on the car as it is: nothing of what it needs was mended since.
    #[must_use]
    pub fn is_repeat(&self, test: usize) -> bool {
        let mut known = self.trials.evidence.iter().filter(|one| one.test == test);
        known.any(|one| one.still_tells(&self.system, self.trials.done.mended))
    }

    /// Whether a test was both written down and photographed.
    #[must_use]
    pub fn is_seen_twice(&self, test: usize) -> bool {
        let seen = |photographed: bool| {
            let of = |one: &&Evidence| one.test == test && one.mended_since(self.trials.done.mended) == 0;
            let mut all = self.trials.evidence.iter().filter(of);
            all.any(|one| matches!(one.origin, Origin::Trial(_)) != photographed)
        };
        seen(true) && seen(false)
    }
}

fn from_trial(photos: &Photos<'_>, (n, trial): (usize, &Trial), test: usize, found: &mut JobTrials) {
    let (system, origin) = (photos.system, Origin::Trial(n));
    let Some(moves) = trial.moves else {
        if let (Some(still), Some(driven)) = (&trial.still, &trial.driven) {
            let first = found.evidence.len();
            from_photos(photos, test, (still, driven), (origin, trial.gauge), found);
            // As beside an answer by eye.
            if let (Some(gauge), Some(one)) = (trial.gauge, found.evidence.get_mut(first)) {
                *one = one.with_gauge(system, gauge);
                let one = *one;
                warn_of_gauge(&one, (n, trial), found);
            }
        }
        return;
    };
    let Some(one) = Evidence::noted(system, test, moves, trial.gauge, origin) else {
        found.done.impossible |= 1 << test;
        return;
    };
    if moves == TrialMoves::CreepsBack && one.outcome() == Moves::No {
        found.warnings.push(Warning::CreepUnderEngine {
            trial: n + 1,
            test: trial.test.clone(),
        });
    }
    warn_of_gauge(&one, (n, trial), found);
    if moves == TrialMoves::DoesNotReturn {
        // A beam that dazzles comes before all else.
        found.warnings.insert(
            0,
            Warning::BeamStaysHigh {
                trial: n + 1,
                test: trial.test.clone(),
            },
        );
    }
    found.evidence.push(one);
}

/// Where the gauge of a trial cannot go with its beam.
fn warn_of_gauge(one: &Evidence, (n, trial): (usize, &Trial), found: &mut JobTrials) {
    if one.gauge_gainsays() {
        found.warnings.push(Warning::GaugeAgainstBeam {
            trial: n + 1,
            test: trial.test.clone(),
            creeps: one.outcome() == Moves::CreepsBack,
        });
    }
}

fn from_photos(
    photos: &Photos<'_>,
    test: usize,
    (still, driven): (&PathBuf, &PathBuf),
    (origin, gauge): (Origin, Option<Gauge>),
    found: &mut JobTrials,
) {
    let (system, readings) = (photos.system, photos.readings);
    let vacuum_applied = system.tests[test].source == VacuumSource::Pump;
    // As a series under the pump: with less vacuum a beam may lie in its dead band.
    let pumped_mbar = readings
        .iter()
        .find(|reading| reading.shot.photo == *driven)
        .and_then(|reading| Some(reading.shot.vacuum?.mbar()));
    let too_low = pumped_mbar.filter(|mbar| vacuum_applied && *mbar < LEAST_PUMPED_MBAR);
    let least_percent = photos.job.adjuster.least_travel_percent;
    let moves = |still: &Aim, driven: &Aim| {
        let (percent, sd_percent) = travel(still, driven);
        Movement::judge(percent, COVERAGE_FACTOR_95 * sd_percent, least_percent, 1)
    };
    let aim = |photo: &PathBuf| {
        let of_photo = readings.iter().find(|one| one.shot.photo == *photo)?;
        of_photo.result.as_ref().ok().map(|measured| &measured.aim)
    };
    if let Some(mbar) = too_low {
        // More there is not to be had of a gauge that stops short: as where that is answered by eye.
        let stands =
            (aim(still).zip(aim(driven))).is_some_and(|(still, driven)| moves(still, driven) != Movement::Moves);
        let stops_short = gauge == Some(Gauge::WillNotRise) && stands;
        if let Some(one) = Evidence::noted(system, test, TrialMoves::No, None, origin).filter(|_| stops_short) {
            found.evidence.push(one);
            return;
        }
        found.warnings.push(Warning::TrialPumpedLow {
            test: system.tests[test].id.clone(),
            driven: driven.clone(),
            mbar,
        });
        return;
    }
    let mut aims = Vec::new();
    for photo in [still, driven] {
        match readings
            .iter()
            .find(|reading| reading.shot.photo == *photo)
            .map(|reading| &reading.result)
        {
            Some(Ok(measured)) => aims.push(&measured.aim),
            other => found.unread.push(Unread {
                test: system.tests[test].id.clone(),
                photo: photo.clone(),
                message: match other {
                    Some(Err(refusal)) => Said::of(|language| refusal.said(language)),
                    _ => Said::of(|language| said!(language; "was not measured", "wurde nicht gemessen")),
                },
            }),
        }
    }
    let [still_aim, driven_aim] = aims[..] else { return };
    let (percent, sd_percent) = travel(still_aim, driven_aim);
    let wrong_way = if system.vacuum_raises { percent } else { -percent };
    if vacuum_applied && wrong_way > WRONG_WAY_PERCENT {
        found.warnings.push(Warning::TrialWrongWay {
            test: system.tests[test].id.clone(),
            still: still.clone(),
            driven: driven.clone(),
            down: percent > 0.0,
        });
    }
    let one = Evidence::travel(system, test, percent, sd_percent, origin);
    // By the rule that says so of the readings: what does not move is no travel of which something may have crept back.
    let is_still = moves(still_aim, driven_aim) == Movement::Still;
    found
        .evidence
        .push(if is_still { one.not_watched(system) } else { one });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::adjuster::Adjuster;
    use crate::aim::{Common, ShotReading};
    use crate::isolate::{Observation, Standing};
    use crate::record::{Lamp, parse_toml};

    fn evidence_of(system: &System, job: &Job, readings: &[ShotReading]) -> JobTrials {
        let adjuster = Adjuster::of(readings, &job.adjuster, Some(system.vacuum_raises));
        super::evidence_of(&Photos::new(system, job, readings, &adjuster))
    }

    fn system() -> System {
        System::find("vacuum-cabin-control", Path::new(".")).unwrap()
    }

    fn job(rest: &str) -> Job {
        let head = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n";
        let lamps = "[[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0\n[[lamp]]\n\
                     side = \"right\"\ncentre_height_mm = 650.0\ncentre_x_mm = 560.0\ndistance_mm = 10000.0\n";
        Job::of_text(Path::new("job.toml"), &format!("{head}{lamps}{rest}")).unwrap()
    }

    fn shot(photo: &str, lamp: &str, more: &str) -> String {
        format!("[[shot]]\nphoto = \"{photo}\"\nlamp = \"{lamp}\"\n{more}\n")
    }

    /// Of many names the one that was meant stands first, and all can be copied from lines of 80 columns.
    #[test]
    fn a_test_that_the_system_does_not_know_is_answered_with_the_likest() {
        let job = job("[[trial]]\ntest = \"reflector-right-hand\"\nmoves = \"yes\"\n");
        let error = photos_of(&system(), &job, Path::new("job.toml"))
            .map(|_| ())
            .unwrap_err()
            .to_string();
        let (head, names) = error.split_once('\n').unwrap();
        assert!(
            head.contains("reflector-right-hand") && head.ends_with("the likest first:"),
            "{error}"
        );
        assert!(names.trim_start().starts_with("reflector-right-by-hand "), "{error}");
        assert!(names.lines().all(|line| line.chars().count() <= 80), "{error}");
        assert_eq!(names.split_whitespace().count(), system().tests.len());
    }

    #[test]
    fn a_fault_that_a_test_does_not_look_at_is_no_outcome_of_it() {
        let of = |test: &str, moves: &str| {
            let job = job(&format!("[[trial]]\ntest = \"{test}\"\nmoves = \"{moves}\"\n"));
            photos_of(&system(), &job, Path::new("job.toml")).map(|_| ())
        };
        for seen in ["rod-off", "stiff", "no", "yes"] {
            assert!(of("reflector-left-by-hand", seen).is_ok(), "{seen}");
        }
        for seen in ["rod-off", "stiff"] {
            let error = of("operate-left", seen).unwrap_err().to_string();
            assert!(
                error.contains("job.toml") && error.contains("operate-left") && error.contains("write"),
                "{error}"
            );
        }
    }

    #[test]
    fn only_the_photos_that_isolation_needs_are_measured() {
        let trial = "[[trial]]\ntest = \"operate-left\"\nstill = \"a.jpg\"\ndriven = \"b.jpg\"\n[[trial]]\ntest = \
                     \"operate-right\"\nmoves = \"no\"\n";
        let shots = [
            shot("a.jpg", "left", "lamp_off = \"off.jpg\""),
            shot("c.jpg", "left", "position = \"0\"\nstage = \"before\""),
            shot("d.jpg", "right", "position = \"1\""),
            shot("e.jpg", "left", "position = \"0\"\nstage = \"after\""),
            shot("f.jpg", "left", "vacuum = \"300 mbar\""),
        ]
        .concat();
        let job = job(&format!("{shots}{trial}"));
        let name = |shot: &Shot| shot.photo.display().to_string();
        let photos = photos_of(&system(), &job, Path::new("job.toml")).unwrap();
        assert_eq!(photos.iter().map(name).collect::<Vec<_>>(), ["a.jpg", "b.jpg"]);
        let standing = job.shot.iter().filter(|shot| stands_for_a_test(&system(), &job, shot));
        assert_eq!(
            standing.map(name).collect::<Vec<_>>(),
            ["c.jpg", "d.jpg", "e.jpg"],
            "at positions"
        );
        assert!(photos[0].lamp_off.is_some(), "as its [[shot]] says");
        assert_eq!((photos[1].lamp, photos[1].lamp_off.is_some()), (Side::Left, false));
        // No photo is needed for what is written down.
        let written = self::job("[[trial]]\ntest = \"operate-right\"\nmoves = \"no\"\n");
        assert!(
            photos_of(&system(), &written, Path::new("job.toml"))
                .unwrap()
                .is_empty()
        );
        // A photo of the other lamp decides nothing.
        let crossed = self::job(&format!("{}{trial}", shot("a.jpg", "right", "")));
        let message = photos_of(&system(), &crossed, Path::new("job.toml"))
            .unwrap_err()
            .to_string();
        assert!(message.contains("a.jpg") && message.contains("right lamp"), "{message}");
    }

    /// From the first position to the last, whatever the job's order, without photos that a pump drove.
    #[test]
    fn readings_at_positions_go_from_the_first_to_the_last() {
        let read = |position: &str, percent: f64, sealed: bool| {
            let shot = Shot {
                position: Some(position.to_owned()),
                sealed,
                ..Shot::of(format!("{position}.jpg"), Side::Left)
            };
            let aim = Aim::made_with(percent, 0.01, Common::default());
            ShotReading::made(shot, Lamp::of(Side::Left, 650.0, -560.0, 10_000.0), aim, None)
        };
        let readings = [
            read("2", 1.7, false),
            read("0", 1.0, false),
            read("1", 1.4, false),
            read("3", 1.9, true),
        ];
        let found = evidence_of(&system(), &job(""), &readings);
        let [one] = found.evidence[..] else { panic!("{found:?}") };
        let Observation::Travel { percent, .. } = one.seen else {
            panic!("{one:?}")
        };
        assert!((percent - 0.7).abs() < 1e-12, "{percent}");
    }

    #[test]
    fn what_was_seen_and_the_gauge_count_and_what_was_not_done_does_not() {
        let job = job(&[
            "partly",
            "does-not-return",
            "not-done",
            "no\"\ngauge = \"rises-and-holds",
        ]
        .iter()
        .zip(["left-lamp", "right-lamp", "left-line", "right-line"])
        .map(|(moves, at)| format!("[[trial]]\ntest = \"pump-at-{at}\"\nmoves = \"{moves}\"\n"))
        .collect::<String>());
        let system = system();
        let found = evidence_of(&system, &job, &[]);
        let of: Vec<_> = found.evidence.iter().map(|one| (one.origin, one.outcome())).collect();
        assert_eq!(of, [0, 1, 3].map(|n| (Origin::Trial(n), Moves::No)));
        assert_eq!(found.done.impossible, 1 << system.test("pump-at-left-line").unwrap());
        let said: Vec<String> = found.warnings.iter().map(ToString::to_string).collect();
        assert!(said.len() == 1 && said[0].contains("dazzles"), "{said:?}");
    }

    /// The same job goes on after a repair: what was found before tells of the car as it was then.
    #[test]
    fn trials_after_a_repair_tell_of_the_car_with_the_new_part() {
        let before = "[[trial]]\ntest = \"operate-left\"\nmoves = \"no\"\n[[trial]]\ntest = \"pump-at-left-lamp\"\nmoves = \"no\"\n";
        let after = "[[trial]]\ntest = \"operate-left\"\nmoves = \"no\"\nstage = \"after\"\n";
        let repair = "[[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n";
        let system = system();
        let found = evidence_of(&system, &job(&[before, after, repair].concat()), &[]);
        let actuator = system.component("left-actuator").unwrap();
        assert_eq!(found.done.mended, 1 << actuator);
        assert_eq!(
            found.evidence.iter().map(|one| one.mended).collect::<Vec<_>>(),
            [0, 0, 1 << actuator]
        );
        let answer = crate::isolate::isolate_from(&system, &found.evidence, found.done);
        let probability = answer.by_component[actuator];
        assert!(
            (0.02..0.5).contains(&probability),
            "it is new, and may be bad or sit wrongly: {probability}"
        );
        // Without a trial after it what was found stays that of the car before.
        let found = evidence_of(&system, &job(&[before, repair].concat()), &[]);
        assert_eq!((found.repaired_since, found.done.mended), (vec![actuator], 0));
        // Without the part's name what was found before tells nothing.
        let nameless = repair.replace("component = \"left-actuator\"\n", "");
        let found = evidence_of(&system, &job(&[before, after, &nameless].concat()), &[]);
        assert_eq!(found.evidence.len(), 1);
        let unknown = repair.replace("left-actuator", "left-motor");
        let message = photos_of(&system, &job(&[before, &unknown].concat()), Path::new("job.toml")).unwrap_err();
        assert!(message.to_string().contains("left-motor"), "{message}");
    }

    /// An entry of a test at a stage, as a job file has it.
    fn trial(test: &str, moves: &str, stage: &str) -> String {
        format!("[[trial]]\ntest = \"{test}\"\nmoves = \"{moves}\"\nstage = \"{stage}\"\n")
    }

    /// A beam that follows tells what the gauge and the short hose would; what a shut-in vacuum tells it does not.
    #[test]
    fn a_repair_is_to_show_what_the_beams_do_not_show_already() {
        let system = system();
        let must = |failed: &[&str], mended: &str| -> Vec<String> {
            let trials: String = failed.iter().map(|test| trial(test, "no", "before")).collect();
            let isolated = Isolated::new(system.clone(), evidence_of(&system, &job(&trials), &[]));
            let tests = isolated.must_show(&[system.component(mended).unwrap()]);
            tests.into_iter().map(|t| system.tests[t].id.clone()).collect()
        };
        let looks = ["operate-left", "operate-right"];
        assert_eq!(
            must(&["gauge-at-control", "bridge-right-at-control"], "supply-line"),
            looks
        );
        let line = must(&["pump-at-left-line", "gauge-at-control"], "left-line");
        assert_eq!(line, [looks[0], looks[1], "pump-at-left-line"]);
    }

    /// Who does a test again has his doubts of it: the last answer counts, and the slip does not clear what it would have.
    #[test]
    fn the_last_answer_to_a_test_counts_for_more() {
        let system = system();
        let line = system.component("supply-line").unwrap();
        let of = |answers: &[(&str, &str)]| {
            let trials: String = answers
                .iter()
                .map(|(test, moves)| trial(test, moves, "before"))
                .collect();
            Isolated::new(system.clone(), evidence_of(&system, &job(&trials), &[]))
        };
        let beams = [("operate-left", "no"), ("operate-right", "no")];
        let slip = of(&[
            beams[0],
            beams[1],
            ("gauge-at-control", "yes"),
            ("gauge-at-control", "no"),
        ]);
        let right = of(&[beams[0], beams[1], ("gauge-at-control", "no")]);
        let contradiction = slip.answer.contradiction.as_ref().expect("both cannot be right");
        assert_eq!(contradiction.trials, [2, 3]);
        assert!(
            contradiction.erroneous[0] > 2.0 * contradiction.erroneous[1],
            "{:?}",
            contradiction.erroneous
        );
        let (after_slip, known) = (slip.answer.by_component[line], right.answer.by_component[line]);
        assert!(after_slip > 0.7 * known, "{after_slip} {known}");
        // Answered alike both count.
        let twice = of(&[
            beams[0],
            beams[1],
            ("gauge-at-control", "no"),
            ("gauge-at-control", "no"),
        ]);
        assert!(twice.trials.evidence.iter().all(|one| !one.superseded) && twice.answer.by_component[line] > known);
    }

    /// A part that was just replaced stays a suspect where the beam still fails, and nothing found of the old part clears or accuses it.
    #[test]
    fn what_was_found_of_the_old_part_says_nothing_of_the_new_one() {
        let system = system();
        let actuator = system.component("left-actuator").unwrap();
        let repair = "[[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n";
        let isolated = |before: &[(&str, &str)], repairs: &[&str], after: &[(&str, &str)]| {
            let all = |of: &[(&str, &str)], stage| {
                of.iter()
                    .map(|(test, moves)| trial(test, moves, stage))
                    .collect::<String>()
            };
            let text = [all(before, "before"), repairs.concat(), all(after, "after")].concat();
            Isolated::new(system.clone(), evidence_of(&system, &job(&text), &[]))
        };
        let fails = ("operate-left", "no");
        let sound = ("pump-at-left-lamp", "yes");
        let stood = |isolated: &Isolated| (isolated.answer.by_component[actuator], isolated.standings()[actuator]);
        // The pump found the old one sound: without the repair it is cleared.
        let (probability, standing) = stood(&isolated(&[fails, sound], &[], &[]));
        assert!(
            probability < 0.05 && standing == Standing::Cleared,
            "{probability} {standing}"
        );
        // With it, and a beam that still fails, the new one is none that was tested.
        let (renewed, standing) = stood(&isolated(&[fails, sound], &[repair], &[fails]));
        assert!(
            (0.02..0.3).contains(&renewed) && standing == Standing::Possible,
            "{renewed} {standing}"
        );
        // Where only a piece of it is new it is rather suspected again, until all of it was renewed.
        let piece = format!("{repair}extent = \"piece\"\n");
        let in_part = |repairs: &[&str]| isolated(&[fails], repairs, &[fails]).answer.by_component[actuator];
        let (of_piece, of_all) = (in_part(&[&piece]), in_part(&[repair]));
        assert!(of_piece > 3.0 * of_all && of_piece < 0.6, "{of_piece} {of_all}");
        assert_eq!(in_part(&[&piece, repair]), of_all);
        // Of the other parts what was found before still tells.
        let line_sound = ("pump-at-left-line", "yes");
        let line = system.component("left-line").unwrap();
        let with_line = isolated(&[fails, line_sound], &[repair], &[fails]);
        let without_line = isolated(&[fails], &[repair], &[fails]);
        let of_line = [&with_line, &without_line].map(|one| one.answer.by_component[line]);
        assert!(of_line[0] < 0.2 * of_line[1], "{of_line:?}");
        assert!(with_line.answer.by_component[actuator] > 0.02);
        // Tested since, it is cleared or condemned by that.
        let (tested, standing) = stood(&isolated(&[fails], &[repair], &[fails, sound]));
        assert!(tested < 0.02 && standing != Standing::Suspected, "{tested} {standing}");
        let (tested, _) = stood(&isolated(
            &[fails, sound],
            &[repair],
            &[fails, ("pump-at-left-lamp", "no")],
        ));
        assert!(tested > 0.3, "{tested}");
        // Where both beams follow after it, it is as sound as the look is sure.
        let (looked, _) = stood(&isolated(&[fails], &[repair], &[("operate-left", "yes")]));
        assert!(looked < 0.02, "{looked}");
    }

    /// What was found before counts for nothing where nobody knows which part is new: that is said, and how to mend it.
    #[test]
    fn trials_of_after_without_a_repair_are_told_what_they_take_away() {
        let before = trial("operate-left", "no", "before") + &trial("operate-right", "yes", "before");
        let after = trial("pump-at-left-lamp", "no", "after");
        let nameless = "[[repair]]\ndate = \"2031-03-04\"\nwords = \"replaced\"\n";
        let named = "[[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n";
        let said = |parts: &[&str]| {
            let found = evidence_of(&system(), &job(&parts.concat()), &[]);
            let is_told = |one: &&Warning| matches!(one, Warning::RepairNotEntered { .. });
            found.warnings.iter().find(is_told).map(ToString::to_string)
        };
        let none = said(&[&before, &after]).unwrap();
        assert!(
            ["no repair is entered", "2 trials", "[[repair]]", "stage"]
                .iter()
                .all(|part| none.contains(part)),
            "{none}"
        );
        assert!(said(&[&before, &after, nameless]).unwrap().contains("names no part"));
        for parts in [vec![before.as_str()], vec![&after], vec![&before, &after, named]] {
            assert_eq!(said(&parts), None, "{parts:?}");
        }
    }

    /// Beam and gauge that cannot both be as written are asked about.
    #[test]
    fn a_beam_that_moves_without_vacuum_is_asked_about() {
        let warned = |moves: &str, gauge: &str| {
            let trial = format!("[[trial]]\ntest = \"pump-at-left-lamp\"\nmoves = \"{moves}\"\ngauge = \"{gauge}\"\n");
            let found = evidence_of(&system(), &job(&trial), &[]);
            let is_told = |one: &Warning| matches!(one, Warning::GaugeAgainstBeam { .. });
            found.warnings.iter().any(is_told)
        };
        for (moves, gauge, is_told) in [
            ("yes", "will-not-rise", true),
            ("creeps-back", "will-not-rise", false),
            ("creeps-back", "rises-and-holds", true),
            ("yes", "rises-and-holds", false),
            ("yes", "falls", false),
            ("creeps-back", "falls", false),
            ("no", "will-not-rise", false),
            ("no", "falls", false),
            ("no", "rises-and-holds", false),
        ] {
            assert_eq!(warned(moves, gauge), is_told, "{moves} {gauge}");
        }
    }

    /// Of a part that was mended twice what was found in between tells of neither the first nor the last.
    #[test]
    fn a_part_mended_twice_is_not_what_was_tested_in_between() {
        let system = system();
        let actuator = system.component("left-actuator").unwrap();
        let repair = "[[repair]]\ncomponent = \"left-actuator\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n";
        let fails = |stage| trial("operate-left", "no", stage);
        let pumped = |moves| trial("pump-at-left-lamp", moves, "after");
        let once = [fails("before"), repair.to_owned(), fails("after"), pumped("no")];
        let of = |parts: &[String]| {
            let found = evidence_of(&system, &job(&parts.concat()), &[]);
            let answer = crate::isolate::isolate_from(&system, &found.evidence, found.done);
            (answer.by_component[actuator], found.evidence)
        };
        let (first, evidence) = of(&once);
        assert!(
            first > 0.3 && evidence.iter().all(|one| one.mended_again == 0),
            "{first}"
        );
        let twice = [&once[..], &[repair.to_owned(), fails("after")]].concat();
        let (second, evidence) = of(&twice);
        assert_eq!(
            evidence
                .iter()
                .map(|one| one.mended_again >> actuator & 1)
                .collect::<Vec<_>>(),
            [0, 1, 1, 0]
        );
        assert!((0.01..0.5).contains(&second), "{second}");
        let cleared = [&once[..3], &[pumped("yes"), repair.to_owned(), fails("after")]].concat();
        let (third, _) = of(&cleared);
        assert!((0.01..0.5).contains(&third), "{third}");
    }

    #[test]
    fn a_repair_entered_for_the_other_lamp_is_asked_about() {
        let system = system();
        let trial = |test: &str, moves: &str| format!("[[trial]]\ntest = \"{test}\"\nmoves = \"{moves}\"\n");
        let repair =
            |id: &str| format!("[[repair]]\ncomponent = \"{id}\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n");
        let warned = |parts: &[String]| {
            let warnings = evidence_of(&system, &job(&parts.concat()), &[]).warnings;
            let of_lamp = |warning: &&Warning| matches!(warning, Warning::RepairOfOtherLamp { .. });
            warnings.iter().find(of_lamp).map(ToString::to_string)
        };
        let left = [trial("operate-left", "no"), trial("pump-at-left-lamp", "no")].concat();
        let sound = trial("operate-right", "yes");
        for trials in [left.clone(), left.clone() + &sound] {
            let said = warned(&[trials, repair("right-actuator")]).unwrap();
            let told = ["right-actuator", "left lamp", "correct the component"];
            assert!(told.iter().all(|part| said.contains(part)), "{said}");
        }
        let right = trial("operate-right", "no");
        let gauge = trial("gauge-at-control", "no");
        for (why, parts) in [
            ("the lamp that failed", vec![left.clone(), repair("left-actuator")]),
            ("both failed", vec![left.clone(), right, repair("right-actuator")]),
            ("a part of both", vec![left.clone(), repair("control")]),
            (
                "both sides in one go",
                vec![left.clone(), repair("right-actuator"), repair("left-actuator")],
            ),
            ("nothing failed", vec![sound.clone(), repair("right-actuator")]),
            ("what failed is of no lamp", vec![gauge, repair("right-actuator")]),
            ("no repair", vec![left.clone()]),
        ] {
            assert_eq!(warned(&parts), None, "{why}");
        }
        // A large leak at the other lamp takes this one's vacuum.
        let drained = [
            trial("operate-left", "no"),
            trial("pump-at-left-line", "yes"),
            trial("gauge-at-control", "yes"),
            trial("pinch-right-hose-watch-left", "yes"),
        ];
        assert_eq!(warned(&[&drained[..], &[repair("right-actuator")]].concat()), None);
    }

    /// Whoever repairs once more saw that the repair before did not help: what was tested in between tells nothing of the second.
    #[test]
    fn of_several_repairs_a_trial_follows_those_above_it() {
        let system = system();
        let part = |id: &str| 1_u128 << system.component(id).unwrap();
        let trial = |stage: &str| format!("[[trial]]\ntest = \"operate-left\"\nmoves = \"no\"\nstage = \"{stage}\"\n");
        let repair =
            |id: &str| format!("[[repair]]\ncomponent = \"{id}\"\ndate = \"2031-03-04\"\nwords = \"replaced\"\n");
        let (actuator, line) = (repair("left-actuator"), repair("left-line"));
        let found = |parts: &[&str]| {
            let found = evidence_of(&system, &job(&parts.concat()), &[]);
            let mended: Vec<u128> = found.evidence.iter().map(|one| one.mended).collect();
            (mended, found)
        };
        let (before, after) = (trial("before"), trial("after"));
        let both = part("left-actuator") | part("left-line");
        let (mended, first) = found(&[&before, &actuator, &after, &line]);
        assert_eq!(mended, [0, part("left-actuator")]);
        assert_eq!(first.done.mended, both);
        assert!(first.warnings.is_empty(), "{:?}", first.warnings);
        // Nothing is condemned that was only tested before the second repair: a look comes first.
        let answer = crate::isolate::isolate_from(&system, &first.evidence, first.done);
        let next = answer.decision.next.map(|next| system.tests[next.test].id.as_str());
        assert!(
            !answer.decision.stop && next.is_some_and(|id| id.starts_with("operate-")),
            "{next:?}"
        );
        // A look since that fails again is of the car with both.
        let (mended, second) = found(&[&before, &actuator, &after, &line, &after]);
        assert_eq!(mended, [0, part("left-actuator"), both]);
        assert!(second.warnings.is_empty());
        // Where the file does not tell, it is as if the second had come last, and how to tell is said.
        for parts in [[&before, &after, &actuator, &line], [&actuator, &line, &before, &after]] {
            let (mended, grouped) = found(&parts.map(String::as_str));
            assert_eq!(mended, [0, part("left-actuator")]);
            assert!(grouped.warnings.contains(&Warning::RepairsNotInTurn));
        }
        // One repair stands before all of the stage after, wherever it is written.
        let (mended, one) = found(&[&before, &after, &actuator]);
        assert_eq!(mended, [0, part("left-actuator")]);
        assert_eq!((one.done.mended, one.warnings.len()), (part("left-actuator"), 0));
    }

    #[test]
    fn a_written_trial_is_not_counted_again_from_positions() {
        let job = job("[[trial]]\ntest = \"operate-right\"\nmoves = \"no\"\n");
        let read = |position: &str, percent: f64| {
            let shot = Shot {
                position: Some(position.to_owned()),
                ..Shot::of(format!("{position}.jpg"), Side::Right)
            };
            let aim = Aim::made_with(percent, 0.01, Common::default());
            ShotReading::made(shot, Lamp::of(Side::Right, 650.0, 560.0, 10_000.0), aim, None)
        };
        let job = Job {
            shot: [read("0", 1.0), read("1", 1.0)].map(|reading| reading.shot).to_vec(),
            ..job
        };
        let found = evidence_of(&system(), &job, &[read("0", 1.0), read("1", 1.0)]);
        assert_eq!(found.evidence.len(), 1);
        let about = |id: &str, part: &str| {
            found
                .warnings
                .iter()
                .any(|w| w.to_string().contains(id) && w.to_string().contains(part))
        };
        assert!(about("operate-right", "not counted as another"), "{:?}", found.warnings);
        assert!(
            about("operate-left", "no readings at two positions"),
            "{:?}",
            found.warnings
        );
    }

    #[test]
    fn a_series_named_for_a_test_of_the_other_lamp_is_an_error() {
        let named = |series: &str| {
            let mut job = Job::of("W", "bay.toml", crate::record::Traffic::Right);
            job.shot.push(Shot {
                sealed: true,
                series: Some(series.to_owned()),
                ..Shot::of("7.jpg", Side::Left)
            });
            photos_of(&system(), &job, Path::new("job.toml"))
        };
        let said = named("pump-at-right-lamp").unwrap_err().to_string();
        assert!(
            said.contains("7.jpg") && said.contains("left") && said.contains("series"),
            "{said}"
        );
        for series in ["pump-at-left-lamp", "at the lamp", "second try"] {
            assert!(named(series).is_ok(), "{series}");
        }
    }

    #[test]
    fn all_lamps_are_photographed_as_the_car_is_now() {
        let lamp = |side: &str| {
            format!("[[lamp]]\nside = \"{side}\"\ncentre_height_mm = 650.0\ncentre_x_mm = 0.0\ndistance_mm = 10000.0\n")
        };
        let head = "schema = 1\njob = \"W\"\nbay = \"bay.toml\"\ntraffic = \"right\"\n";
        let shot = |lamp: &str, position: u32, stage: &str| {
            format!(
                "[[shot]]\nphoto = \"{lamp}{position}{stage}.jpg\"\nlamp = \"{lamp}\"\nposition = \"{position}\"\nstage = \"{stage}\"\n"
            )
        };
        let repair = "[[repair]]\ndate = \"2031-03-05\"\nwords = \"replaced\"\n";
        let both = lamp("left") + &lamp("right");
        let before = [0, 1, 2].map(|n| shot("left", n, "before")).concat();
        let after = |last: u32| (0..=last).map(|n| shot("left", n, "after")).collect::<String>();
        for (text, is_whole) in [
            (lamp("left") + &shot("left", 0, "before"), false),
            (lamp("left") + &before, true),
            (both.clone() + &before, false),
            (lamp("left") + &before + repair, false),
            (lamp("left") + &before + repair + &after(1), false),
            (lamp("left") + &before + repair + &after(2), true),
            (lamp("left") + &after(1), true),
            (both + &before + repair + &after(2), false),
        ] {
            let job: Job = parse_toml(Path::new("job.toml"), &format!("{head}{text}")).unwrap();
            assert_eq!(is_photographed(&job), is_whole, "{text}");
        }
    }
}
