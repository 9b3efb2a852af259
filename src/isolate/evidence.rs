//! What a trial says of its test: a written outcome, or a travel measured from two photos.

use super::model::{EFFECTS, Effect, OUTCOMES, outcomes, place};
use crate::fit::{normal_between, normal_density};
use crate::record::{FaultKind, Gauge, Moves, System, TrialMoves, VacuumSource};

/// How an outcome was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Observation {
    /// Written down by the technician.
    Written(TrialMoves),
    /// Measured from photos of the beam at rest and driven.
    Travel {
        /// Change of the inclination, per cent; positive when the beam went down.
        percent: f64,
        /// Its standard uncertainty, per cent.
        sd_percent: f64,
    },
    /// Measured, and surely short: of the other lamp's, of what the job expects, or at one of the control's steps.
    Short {
        /// Change of the inclination, per cent; positive when the beam went down.
        percent: f64,
        /// Its standard uncertainty, per cent.
        sd_percent: f64,
    },
    /// Photographed over some time with the pump's valve shut.
    Sealed {
        /// Vacuum holds; else it surely leaks.
        holds: bool,
    },
}

/// Where a piece of evidence comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// The n-th `[[trial]]` of the job, from 0.
    Trial(usize),
    /// Readings of the job at positions of the range control.
    Positions,
    /// Readings of the job under a hand pump.
    Pump,
}

/// What one trial says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// The test, by number in the system.
    pub test: usize,
    /// Where it comes from.
    pub origin: Origin,
    /// How its outcome was found.
    pub seen: Observation,
    /// How well what was seen fits each outcome (yes, no, creeps-back), the best with 1: for a written outcome 1 and 0, for a
    /// measured travel the likelihoods (soft evidence in Pearl's sense).
    pub fits: [f64; 3],
    /// What the pump's gauge did, where that counts.
    pub gauge: Option<Gauge>,
    /// The components that had been replaced or mended when it was done, a bit each by number.
    pub mended: u128,
    /// The components that were replaced or mended after it, once more where they had been before it, a bit each by number. Counts for
    /// those of `mended` only: the others are known from what is mended in all.
    pub mended_again: u128,
    /// How many of the job's repairs had been done when it was found.
    pub repairs: usize,
    /// The same test was answered once more since, and otherwise: who does one again has his doubts of it.
    pub superseded: bool,
    /// What the gauge, and how the beam moved, say beside the outcome, by what a fault does to the test; 1 where nothing.
    pub(super) by_effect: [f64; EFFECTS],
}

/// A fit below this rules an outcome out, where trials are held against each other (common practice, no source: it is one
/// in twenty, as often as a trial is taken to be erroneous).
const RULED_OUT: f64 = 0.05;
/// Of a hundred thousand pairs of photos so many per cent of travel are anything at all (the wrong photo, a shifted car);
/// it keeps one pair from outweighing all else. Common practice, no source.
const ANYTHING_PER_PERCENT: f64 = 1e-4;

/// How well a movement short of the whole fits yes, no and creeps-back: it is no yes, as the yes of a careless look is. From
/// memory.
const PARTLY: [f64; 3] = [0.04, 1.0, 0.3];

// By what a fault does to a test: nothing, creeps, a large leak under a pump, starved, catches, lost, still. All from memory.
/// How well a movement short of the whole fits: a leak leaves a part of the vacuum, and of the way with it, under the engine as under a
/// pump (a hose that is off leaves none, and counts with the leaks under the engine); what is blocked, or hangs on nothing, leaves none.
const PARTLY_BY_EFFECT: [f64; EFFECTS] = [1.0, 0.5, 0.5, 1.0, 1.0, 0.4, 0.25];
/// How well a beam that stays where it was driven fits. It fits what sticks, and less well what is blocked, which may keep the air from
/// coming back. A leak or a hose that is off lets air in all the time: under the engine the beam makes less way or none, under a pump it
/// comes back by itself, and neither leaves it where it was driven; what is only narrow lets it back as slowly as it went. To these is
/// left what a careless look, or a note beside the wrong test, comes to.
const STAYS_BY_EFFECT: [f64; EFFECTS] = [0.05, 0.02, 0.02, 0.05, 1.0, 0.01, 0.3];

/// How well a beam fits that stands, at every position of the control, where the pump's vacuum drives it: vacuum is there and is not let off, or
/// what sticks holds it. What lets air in, or lets too little vacuum through, would leave it at rest.
const HELD_BY_EFFECT: [f64; EFFECTS] = [0.3, 0.05, 0.05, 0.1, 1.0, 0.03, 0.6];

/// How well a beam fits that went up and down again in steps as one curve says: what sticks comes free now and then, and not at each step.
const SMOOTH_BY_EFFECT: [f64; EFFECTS] = [1.0, 1.0, 1.0, 1.0, 0.1, 1.0, 1.0];

/// How well it fits that what was seen of a part is another fault than the one that it was seen to be: hands err. From memory.
const SEEN_WRONGLY: f64 = 0.04;

/// How well a kind of fault that was seen itself fits, by what a fault does to the test: a rod that hangs on nothing moves nothing, and
/// what is stiff moves now and then (`model::effect`).
fn seen_by_effect(fault: FaultKind) -> [f64; EFFECTS] {
    let meant = if fault == FaultKind::Stiff {
        Effect::Catches
    } else {
        Effect::Still
    };
    Effect::ALL.map(|effect| if effect == meant { 1.0 } else { SEEN_WRONGLY })
}

/// What the gauge on a pump says of a fault, whatever the beam does: what holds its vacuum does not leak.
fn gauge_by_effect(gauge: Gauge) -> [f64; EFFECTS] {
    match gauge {
        Gauge::RisesAndHolds => [0.9, 0.06, 0.04, 0.9, 0.9, 0.04, 0.9],
        Gauge::WillNotRise => [0.04, 0.1, 0.7, 0.04, 0.04, 0.7, 0.04],
        Gauge::Falls => [0.06, 0.84, 0.26, 0.06, 0.06, 0.26, 0.06],
    }
}

/// How well a beam that kept its height fits a slow leak, where the pump's gauge falls beside it: pumped to its stop the beam stands while
/// some vacuum is lost. Of a beam alone it would be a slip. From memory.
const FALL_UNSEEN: f64 = 0.4;
/// How well the other outcomes fit where beam and gauge cannot both be as they are written: one of the two is a slip, and which is not known.
/// From memory.
const EITHER_SLIPPED: f64 = 0.1;
/// How well the other outcomes fit an answer that was given anew since, and otherwise: mostly the first was a slip. From memory.
const ANSWERED_ANEW: f64 = 0.4;

impl Evidence {
    /// A written outcome. Under the running engine nothing can creep back; a beam that does not keep its height is no
    /// yes, and counts as no.
    #[must_use]
    pub fn written(system: &System, test: usize, moves: Moves, origin: Origin) -> Self {
        let counted = counted(system.tests[test].source, moves);
        let mut fits = [0.0; 3];
        fits[place(counted)] = 1.0;
        Self {
            test,
            origin,
            seen: Observation::Written(moves.into()),
            fits,
            gauge: None,
            mended: 0,
            mended_again: 0,
            repairs: 0,
            superseded: false,
            by_effect: [1.0; EFFECTS],
        }
    }

    /// What is written down of a trial, with what the pump's gauge did; `None` where it was not done.
    #[must_use]
    pub fn noted(
        system: &System,
        test: usize,
        moves: TrialMoves,
        gauge: Option<Gauge>,
        origin: Origin,
    ) -> Option<Self> {
        let source = system.tests[test].source;
        let mut one = match (moves, moves.outcome()) {
            (TrialMoves::NotDone, _) => return None,
            (_, Some(moves)) => Self::written(system, test, moves, origin),
            (_, None) => Self::written(system, test, Moves::No, origin),
        };
        one.seen = Observation::Written(moves);
        match moves {
            TrialMoves::Partly => one = one.partly(source),
            TrialMoves::DoesNotReturn => one.by_effect = STAYS_BY_EFFECT,
            _ => {}
        }
        if let Some(fault) = moves.fault() {
            one.by_effect = seen_by_effect(fault);
        }
        Some(match gauge {
            Some(gauge) => one.with_gauge(system, gauge),
            None => one,
        })
    }

    /// The same, weighed as a movement short of the whole.
    fn partly(mut self, source: VacuumSource) -> Self {
        self.fits = PARTLY;
        if source != VacuumSource::Pump {
            self.fits[place(Moves::CreepsBack)] = 0.0;
        }
        self.by_effect = PARTLY_BY_EFFECT;
        self
    }

    /// The same with what the pump's gauge did; under the engine a gauge says nothing of it.
    #[must_use]
    pub fn with_gauge(mut self, system: &System, gauge: Gauge) -> Self {
        if system.tests[self.test].source == VacuumSource::Pump {
            self = self.weighed(gauge_by_effect(gauge));
            self.gauge = Some(gauge);
            let slack = match (self.leaks_unseen(), self.gauge_gainsays()) {
                (true, _) => [0.0, 0.0, FALL_UNSEEN],
                (_, true) => [EITHER_SLIPPED; 3],
                _ => [0.0; 3],
            };
            self.fits = std::array::from_fn(|n| self.fits[n].max(slack[n]));
        }
        self
    }

    /// Whether the pump's gauge fell while the beam kept its height: a slow leak that a beam at its stop does not show.
    #[must_use]
    pub fn leaks_unseen(&self) -> bool {
        self.gauge == Some(Gauge::Falls) && self.outcome() == Moves::Yes
    }

    /// Whether beam and gauge cannot both be as they are written: no beam is moved and held without vacuum, and none creeps
    /// back while the vacuum stays. (One that moves and creeps back was pumped hard against a large leak, under which a gauge stays low.)
    #[must_use]
    pub fn gauge_gainsays(&self) -> bool {
        matches!(
            (self.gauge, self.outcome()),
            (Some(Gauge::WillNotRise), Moves::Yes) | (Some(Gauge::RisesAndHolds), Moves::CreepsBack)
        )
    }

    /// A measured travel, per cent with its standard uncertainty, that is surely short: it counts as a written "partly".
    #[must_use]
    pub fn short(system: &System, test: usize, percent: f64, sd_percent: f64, origin: Origin) -> Self {
        let mut one = Self::written(system, test, Moves::No, origin).partly(system.tests[test].source);
        one.seen = Observation::Short { percent, sd_percent };
        one
    }

    /// A series of photos with the pump's valve shut, which surely holds its vacuum or surely leaks.
    #[must_use]
    pub fn sealed(system: &System, test: usize, holds: bool, origin: Origin) -> Self {
        let moves = if holds { Moves::Yes } else { Moves::CreepsBack };
        let mut one = Self::written(system, test, moves, origin);
        one.seen = Observation::Sealed { holds };
        one
    }

    /// The same, seen while the pump's gauge showed its vacuum: what moved may stay or creep back, and what did not move has not
    /// crept back unseen.
    #[must_use]
    pub fn not_watched(mut self, system: &System) -> Self {
        if outcomes(system.tests[self.test].source).contains(&Moves::CreepsBack) {
            self.fits[place(Moves::CreepsBack)] = self.fits[place(Moves::Yes)];
        }
        let best = self.fits.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        self.fits = self.fits.map(|fit| fit / best);
        self
    }

    /// The same, where the beam that did not move stands where vacuum drives it, and not as it hangs without.
    #[must_use]
    pub(super) fn held(self) -> Self {
        self.weighed(HELD_BY_EFFECT)
    }

    /// The same, where the beam was photographed step by step and went up and down again without sticking.
    #[must_use]
    pub(super) fn smooth(self) -> Self {
        self.weighed(SMOOTH_BY_EFFECT)
    }

    /// The same with one more thing that tells of what a fault does to the test.
    fn weighed(mut self, by_effect: [f64; EFFECTS]) -> Self {
        self.by_effect = std::array::from_fn(|n| self.by_effect[n] * by_effect[n]);
        self
    }

    /// Whether the beam was driven and stayed there.
    pub(super) fn stays(&self) -> bool {
        self.seen == Observation::Written(TrialMoves::DoesNotReturn)
    }

    /// Whether two pieces of evidence of one test can both be right of one car.
    #[must_use]
    pub fn agrees_with(&self, other: &Self) -> bool {
        let both = |n: usize| self.allows(OUTCOMES[n]) && other.allows(OUTCOMES[n]);
        // A beam that stays where it was driven was driven.
        self.stays() || other.stays() || (0..3).any(both)
    }

    /// A travel between two photos, per cent with its standard uncertainty.
    ///
    /// A beam that moves travels by what beams usually do; one that does not move shifts a little, as the car settles;
    /// one that creeps back keeps anything up to two thirds of its travel, since less than a third lost counts as kept.
    /// Only the size counts, as a control may be turned either way.
    #[must_use]
    pub fn travel(system: &System, test: usize, percent: f64, sd_percent: f64, origin: Origin) -> Self {
        let usual = &system.travel;
        let size = percent.abs();
        // Of a size: either sign could have given it.
        let density =
            |mean: f64, sd: f64| (normal_density((size - mean) / sd) + normal_density((size + mean) / sd)) / sd;
        let moved = density(usual.moves_percent, usual.moves_sd_percent.hypot(sd_percent));
        let still = density(0.0, usual.still_sd_percent.hypot(sd_percent));
        let mut fits = [moved, still, 0.0];
        if outcomes(system.tests[test].source).contains(&Moves::CreepsBack) {
            fits[place(Moves::CreepsBack)] = crept_density(size, sd_percent.max(1e-6), usual);
        }
        for &outcome in outcomes(system.tests[test].source) {
            fits[place(outcome)] += ANYTHING_PER_PERCENT;
        }
        let best = fits.iter().copied().fold(0.0, f64::max);
        Self {
            test,
            origin,
            seen: Observation::Travel { percent, sd_percent },
            fits: fits.map(|fit| fit / best),
            gauge: None,
            mended: 0,
            mended_again: 0,
            repairs: 0,
            superseded: false,
            by_effect: [1.0; EFFECTS],
        }
    }

    /// The same, found with these components replaced or mended (a bit each by number).
    #[must_use]
    pub fn with_mended(self, mended: u128) -> Self {
        Self { mended, ..self }
    }

    /// The components that were replaced or mended since it was found, a bit each: it says nothing of what stands there now. `mended`:
    /// those that have been by now.
    #[must_use]
    pub fn mended_since(&self, mended: u128) -> u128 {
        (self.mended ^ mended) | self.mended_again
    }

    /// Whether it tells of the car as it is now, `mended` components since it came: nothing that its test needs, or that can take the
    /// vacuum from it, was mended since.
    #[must_use]
    pub fn still_tells(&self, system: &System, mended: u128) -> bool {
        let test = &system.tests[self.test];
        let parts = test.needs.iter().chain(&test.drained_by);
        parts.fold(0u128, |bits, c| bits | 1 << c) & self.mended_since(mended) == 0
    }

    /// The outcome that fits best.
    #[must_use]
    pub fn outcome(&self) -> Moves {
        let best = (0..3).fold(0, |best, n| if self.fits[n] > self.fits[best] { n } else { best });
        OUTCOMES[best]
    }

    /// Whether a measured travel is surely short.
    #[must_use]
    pub fn is_short(&self) -> bool {
        matches!(self.seen, Observation::Short { .. })
    }

    /// Whether only one outcome fits.
    #[must_use]
    pub fn is_firm(&self) -> bool {
        self.fits.iter().filter(|fit| **fit >= RULED_OUT).count() == 1
    }

    /// How well what was seen fits each outcome, as it counts: what was answered otherwise since counts for little.
    pub(super) fn fits_counted(&self, source: VacuumSource) -> [f64; 3] {
        if !self.superseded {
            return self.fits;
        }
        let least = |outcome: Moves| {
            if outcomes(source).contains(&outcome) {
                ANSWERED_ANEW
            } else {
                0.0
            }
        };
        [Moves::Yes, Moves::No, Moves::CreepsBack].map(|outcome| self.fits[place(outcome)].max(least(outcome)))
    }

    /// Whether what was seen can be this outcome, were the trial right.
    #[must_use]
    pub fn allows(&self, outcome: Moves) -> bool {
        self.fits[place(outcome)] >= RULED_OUT
    }
}

/// The outcome that a written one counts as.
fn counted(source: VacuumSource, moves: Moves) -> Moves {
    if outcomes(source).contains(&moves) {
        moves
    } else {
        Moves::No
    }
}

/// Density of a travel of `size` per cent that is left of a usual one after creeping back: uniform up to two thirds of it,
/// over the usual travels, and blurred by the photos' uncertainty.
fn crept_density(size: f64, sd_percent: f64, usual: &crate::record::UsualTravel) -> f64 {
    const STEPS: i32 = 60;
    let (mut sum, mut weights) = (0.0, 0.0);
    for n in -STEPS..=STEPS {
        let z = 3.0 * f64::from(n) / f64::from(STEPS);
        let whole = usual.moves_percent + z * usual.moves_sd_percent;
        if whole <= 0.05 * usual.moves_percent {
            continue;
        }
        let left = whole * 2.0 / 3.0;
        let weight = normal_density(z);
        let of = |travel: f64| normal_between((travel - left) / sd_percent, travel / sd_percent);
        sum += weight * (of(size) + of(-size)) / left;
        weights += weight;
    }
    sum / weights
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    #[test]
    fn a_travel_is_weighed_by_its_uncertainty() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let test = |id: &str| system.test(id).unwrap();
        let (operate, pump) = (test("operate-left"), test("pump-at-left-lamp"));
        let of = |test, percent, sd| Evidence::travel(&system, test, percent, sd, Origin::Trial(0));
        let still = of(operate, 0.01, 0.01);
        assert!(still.outcome() == Moves::No && still.is_firm(), "{still:?}");
        let moved = of(operate, -1.1, 0.01);
        assert!(
            moved.outcome() == Moves::Yes && moved.is_firm(),
            "either way: {moved:?}"
        );
        // With photos as poor as this, a travel of 0.3 % may be none.
        let poor = of(operate, 0.3, 0.3);
        assert!(
            !poor.is_firm() && poor.allows(Moves::No) && poor.allows(Moves::Yes),
            "{poor:?}"
        );
        // A sealed pump: a whole travel is kept, a small one has crept back or never was, 0.3 % is not still.
        assert_eq!(of(pump, -1.3, 0.01).outcome(), Moves::Yes);
        assert_eq!(of(pump, -0.3, 0.01).outcome(), Moves::CreepsBack);
        assert!(!of(pump, -0.3, 0.01).allows(Moves::No));
        assert_eq!(of(pump, 0.0, 0.01).outcome(), Moves::No);
        assert_eq!(
            of(operate, 1.0, 0.01).fits[2],
            0.0,
            "nothing creeps back under the engine"
        );
    }

    #[test]
    fn a_written_outcome_is_hard_and_creeping_under_the_engine_is_no_yes() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let pump = system.test("pump-at-left-lamp").unwrap();
        let operate = system.test("operate-left").unwrap();
        let of = |test, moves| Evidence::written(&system, test, moves, Origin::Trial(0)).fits;
        assert_eq!(of(pump, Moves::CreepsBack), [0.0, 0.0, 1.0]);
        assert_eq!(of(operate, Moves::CreepsBack), [0.0, 1.0, 0.0]);
    }

    /// With the engine's vacuum a leak makes less travel, and no beam that stays: that sticks, or the air does not come back.
    #[test]
    fn a_beam_that_does_not_return_accuses_what_sticks_and_no_leak() {
        let leaks = [
            FaultKind::Leaks,
            FaultKind::LeaksLeft,
            FaultKind::LeaksRight,
            FaultKind::Off,
            FaultKind::Restricted,
        ];
        for name in ["vacuum-cabin-control", "vacuum-bonnet-control"] {
            let system = System::find(name, Path::new(".")).unwrap();
            for test in ["operate-left", "pump-at-left-lamp"] {
                let number = system.test(test).unwrap();
                let stays =
                    Evidence::noted(&system, number, TrialMoves::DoesNotReturn, None, Origin::Trial(0)).unwrap();
                let suspects = crate::isolate::isolate(&system, &[stays]).suspects;
                let path = &system.tests[number].needs;
                let of_path = || suspects.iter().filter(|one| path.contains(&one.component));
                let sum = |counts: &dyn Fn(FaultKind) -> bool| -> f64 {
                    of_path()
                        .filter(|one| counts(one.fault))
                        .map(|one| one.probability)
                        .sum()
                };
                let open = sum(&|fault| leaks.contains(&fault));
                let sticks = sum(&|fault| matches!(fault, FaultKind::Sticks | FaultKind::Stiff));
                assert!(
                    sticks > 0.5 && sticks > 3.0 * open,
                    "{name} {test}: sticks {sticks:.2}, leaks {open:.2}"
                );
            }
        }
    }

    /// A beam that stays driven through its line, and follows and comes back with the pump on the lamp itself: the line holds the air back,
    /// and so does the control where the line is sound, too. A pump on the lamp that leaves the beam where it was stays the actuator's.
    #[test]
    fn a_beam_that_comes_back_when_driven_more_directly_clears_what_drives_it() {
        for name in ["vacuum-cabin-control", "vacuum-bonnet-control"] {
            let system = System::find(name, Path::new(".")).unwrap();
            let answer = |trials: &[(&str, TrialMoves)]| {
                let evidence = trials.iter().enumerate().map(|(n, (id, moves))| {
                    Evidence::noted(&system, system.test(id).unwrap(), *moves, None, Origin::Trial(n)).unwrap()
                });
                crate::isolate::isolate(&system, &evidence.collect::<Vec<_>>())
            };
            let first = |trials: &[(&str, TrialMoves)]| system.components[answer(trials).first_component()].id.clone();
            let share = |trials: &[(&str, TrialMoves)], part: &str| {
                answer(trials).by_component[system.component(part).unwrap()]
            };
            let (stays, yes) = (TrialMoves::DoesNotReturn, TrialMoves::Yes);
            for side in ["left", "right"] {
                let (line, lamp) = (format!("pump-at-{side}-line"), format!("pump-at-{side}-lamp"));
                let (own_line, actuator) = (format!("{side}-line"), format!("{side}-actuator"));
                assert_eq!(first(&[(&line, stays)]), actuator, "{name}");
                assert_eq!(first(&[(&line, stays), (&lamp, yes)]), own_line, "{name}");
                assert_eq!(first(&[(&lamp, yes), (&line, stays)]), own_line, "{name}");
                assert_eq!(
                    first(&[(&line, stays), (&line, stays), (&lamp, yes)]),
                    own_line,
                    "{name}"
                );
                assert_eq!(first(&[(&lamp, stays), (&line, yes)]), actuator, "{name}");
                // Beside two beams that follow one such test is more probably a slip; twice, it is the line's.
                let beams = [("operate-left", yes), ("operate-right", yes)];
                let once = [&beams[..], &[(&line, stays), (&lamp, yes)]].concat();
                let twice = [&once[..], &[(&line, stays)]].concat();
                assert!(share(&once, &own_line) > share(&once, &actuator), "{name}");
                assert_eq!(first(&twice), own_line, "{name}");
                let (operate, other) = match side {
                    "left" => ("operate-left", "operate-right"),
                    _ => ("operate-right", "operate-left"),
                };
                // No vacuum that does not arrive holds a beam where it was driven.
                let evidence = [operate, other].map(|id| {
                    Evidence::noted(&system, system.test(id).unwrap(), stays, None, Origin::Trial(0)).unwrap()
                });
                let answer = crate::isolate::isolate(&system, &evidence);
                for part in ["source", "supply-line", "check-valve", "reservoir-hose"] {
                    let share = system.component(part).map_or(0.0, |c| answer.by_component[c]);
                    assert!(share < 0.1, "{name} {part}: {share}");
                }
                let of_control = first(&[(operate, stays), (other, stays), (&lamp, yes), (&line, yes)]);
                assert!(
                    ["control", "cable"].contains(&of_control.as_str()),
                    "{name} {of_control}"
                );
            }
        }
    }

    #[test]
    fn a_gauge_that_will_not_rise_accuses_a_hose_that_is_off() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let line = system.test("pump-at-left-line").unwrap();
        let of = |gauge| {
            let one = Evidence::noted(&system, line, TrialMoves::No, Some(gauge), Origin::Trial(0)).unwrap();
            let suspects = crate::isolate::isolate(&system, &[one]).suspects;
            let off = suspects
                .iter()
                .find(|one| one.component == system.component("left-line").unwrap() && one.fault == FaultKind::Off);
            off.unwrap().probability
        };
        let (rises, not) = (of(Gauge::RisesAndHolds), of(Gauge::WillNotRise));
        assert!(not > 5.0 * rises, "{not:.3} against {rises:.3}");
    }
}
