//! A system made ready for counting: what each fault of each component does to each test.

use super::evidence::Evidence;
use crate::record::{FaultKind, Moves, Side, System, Test, VacuumSource};

/// Most components that are faulty at once in an explanation.
pub const MOST_FAULTS: usize = 3;

/// How large a leak is. A leak keeps its size from test to test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeakSize {
    /// The running engine outdoes it.
    Small,
    /// It shows under the engine, and creeps back under a hand pump.
    Middling,
    /// Under a hand pump nothing moves; pumped hard, it may move and creep back.
    Large,
    /// A large one that takes the other lamp's vacuum, too.
    Draining,
}

impl LeakSize {
    /// All sizes.
    pub const ALL: [Self; 4] = [Self::Small, Self::Middling, Self::Large, Self::Draining];

    /// Share of the leaks that have this size.
    #[must_use]
    pub fn share(self, system: &System) -> f64 {
        let leak = &system.leak;
        match self {
            Self::Small => leak.small,
            Self::Middling => (1.0 - leak.small - leak.large).max(0.0),
            Self::Large => leak.large * (1.0 - leak.draining),
            Self::Draining => leak.large * leak.draining,
        }
    }
}

/// What a fault does to a test that is done rightly. Of several faults the worst, which is the last here, shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Effect {
    /// None: yes.
    Sound,
    /// It moves and creeps back.
    Creeps,
    /// Under a pump nothing moves, or, pumped hard, it moves and creeps back.
    Weak,
    /// Too little vacuum comes through in the time: it does not move as a rule, now and then it does, and comes back as it went.
    Starved,
    /// It does not move as a rule; now and then it does.
    Catches,
    /// So much vacuum is lost that it does not move, or not by enough: nothing drives the beam, so that it does not stay anywhere either.
    Lost,
    /// It does not move.
    Still,
}

/// Number of effects.
pub(super) const EFFECTS: usize = 7;

// From memory, no survey: the shares of tests in which something else than the rule shows.
/// A large leak under a pump that is worked hard moves the beam and creeps back in so many tests.
const WEAK_CREEPS: f64 = 0.4;
/// What sticks comes free, and what gets too little vacuum moves far enough, in so many tests.
const COMES_FREE: f64 = 0.2;

/// A part that was replaced or mended is at fault all the same in so many cars: the new one is bad, it sits wrongly, or a hose or a rod
/// was left off while one worked at it (common practice, no source: one in thirty). It has nothing to do
/// with how often the part fails in use.
const RENEWED_PRIOR: f64 = 0.03;
/// One of which only a piece was renewed, or that was mended where it sits, is at fault all the same in so many: what else was wrong with
/// it is as it was (our choice, no source).
const RENEWED_IN_PART_PRIOR: f64 = 0.2;
/// Of these so many are what is put right without a new part (a hose off, a rod off), where the component has such a fault: work that
/// was left undone is as common as a new part that is bad (common practice, no source).
const RENEWED_LEFT_UNDONE: f64 = 0.5;

impl Effect {
    /// All, the worst last.
    pub const ALL: [Self; EFFECTS] = [
        Self::Sound,
        Self::Creeps,
        Self::Weak,
        Self::Starved,
        Self::Catches,
        Self::Lost,
        Self::Still,
    ];

    /// Probability of yes, no and creeps-back, were no trial erroneous.
    pub fn outcomes(self) -> [f64; 3] {
        match self {
            Self::Sound => [1.0, 0.0, 0.0],
            Self::Creeps => [0.0, 0.0, 1.0],
            Self::Weak => [0.0, 1.0 - WEAK_CREEPS, WEAK_CREEPS],
            Self::Starved | Self::Catches => [COMES_FREE, 1.0 - COMES_FREE, 0.0],
            Self::Lost | Self::Still => [0.0, 1.0, 0.0],
        }
    }
}

/// What a fault of `component` does to a test; `size` counts for a leak only.
fn effect(system: &System, component: usize, fault: usize, size: LeakSize, t: usize) -> Effect {
    let test = &system.tests[t];
    let fault = &system.components[component].faults[fault];
    let drains = test.drained_by.contains(&component) && fault.id.is_leak() && size == LeakSize::Draining;
    let needed = test.needs.contains(&component) && !fault.spares.contains(&t);
    let at_this_port = fault
        .id
        .port()
        .is_none_or(|port| test.port.is_none_or(|side| side == port));
    let looked_for = test.shows.is_empty() || test.shows.contains(&fault.id);
    if drains && looked_for {
        return Effect::Lost;
    }
    if !(needed && at_this_port && looked_for) {
        return Effect::Sound;
    }
    let pumped = test.source == VacuumSource::Pump;
    let outdone = test.source == VacuumSource::Engine && !engine_stands(system, t);
    match (fault.id, size) {
        (FaultKind::Leaks | FaultKind::LeaksLeft | FaultKind::LeaksRight, size) => match size {
            LeakSize::Small if outdone => Effect::Sound,
            // What lies before the valve had its leak outdone while the engine ran, and is cut off since.
            LeakSize::Small if test.source == VacuumSource::Engine && is_cut_off(system, component, t) => Effect::Sound,
            // Nothing draws any more; whether so little is lost by then that the beam keeps its height is left to chance.
            LeakSize::Small if !pumped => Effect::Starved,
            LeakSize::Small | LeakSize::Middling if pumped => Effect::Creeps,
            _ if pumped => Effect::Weak,
            _ => Effect::Lost,
        },
        // Nothing flows through a gauge, and a pump has time.
        (FaultKind::Restricted, _) if pumped || test.watch == crate::record::Watch::Gauge => Effect::Sound,
        (FaultKind::Restricted, _) => Effect::Starved,
        (FaultKind::Sticks | FaultKind::Stiff, _) => Effect::Catches,
        // A hose that is off lets air in as the largest leak does.
        (FaultKind::Off, _) => Effect::Lost,
        // Where nothing arrives nothing drives the beam; air comes back through the control, which lies behind it.
        (FaultKind::Blocked | FaultKind::BlockedLeft | FaultKind::BlockedRight, _)
            if test.source == VacuumSource::Engine && is_before_the_control(system, component) =>
        {
            Effect::Lost
        }
        (FaultKind::Blocked | FaultKind::BlockedLeft | FaultKind::BlockedRight | FaultKind::RodOff, _) => Effect::Still,
    }
}

/// Whether both lamps' vacuum comes through a component, and on from it through another that both share: it is none by which the air is let
/// in again.
fn is_before_the_control(system: &System, component: usize) -> bool {
    let serves = |c: usize, side: Side| {
        let mut looks = looks(system).map(|t| &system.tests[t]);
        looks.any(|look| look.lamp == Some(side) && look.needs.contains(&c))
    };
    let is_shared = |c: usize| serves(c, Side::Left) && serves(c, Side::Right);
    let mut behind = system.components.iter().enumerate();
    is_shared(component) && behind.any(|(c, other)| other.after.contains(&component) && is_shared(c))
}

/// The parts that a test needs, by number, whose leak the running engine hides from both beams and this test shows.
fn hidden_by_engine(system: &System, t: usize) -> impl Iterator<Item = usize> + '_ {
    let hidden = move |fault: &crate::record::Fault| {
        fault.id.is_leak() && !fault.spares.contains(&t) && looks(system).all(|look| fault.spares.contains(&look))
    };
    let parts = system.tests[t].needs.iter().copied();
    parts.filter(move |&c| system.components[c].faults.iter().any(hidden))
}

/// Whether the engine has been stopped by the time one watches: the test shows a leak that the running engine hides from both beams.
pub(super) fn engine_stands(system: &System, t: usize) -> bool {
    system.tests[t].source == VacuumSource::Engine
        && looks(system).next().is_some()
        && hidden_by_engine(system, t).next().is_some()
}

/// Whether a component lies between the engine and a valve that holds the vacuum once the engine stands.
fn is_cut_off(system: &System, component: usize, t: usize) -> bool {
    let mut before: Vec<usize> = hidden_by_engine(system, t).collect();
    let mut n = 0;
    while let Some(&part) = before.get(n) {
        let further = system.components[part].after.iter().copied();
        let further: Vec<usize> = further.filter(|c| !before.contains(c)).collect();
        if further.contains(&component) {
            return true;
        }
        before.extend(further);
        n += 1;
    }
    false
}

/// The outcomes in the order in which tables list them.
pub(super) const OUTCOMES: [Moves; 3] = [Moves::Yes, Moves::No, Moves::CreepsBack];

/// Place of an outcome in [`OUTCOMES`].
#[must_use]
pub(crate) fn place(outcome: Moves) -> usize {
    match outcome {
        Moves::Yes => 0,
        Moves::No => 1,
        Moves::CreepsBack => 2,
    }
}

/// What can come out of a test: under the running engine nothing creeps back.
#[must_use]
pub fn outcomes(source: VacuumSource) -> &'static [Moves] {
    match source {
        VacuumSource::Engine | VacuumSource::None => &OUTCOMES[..2],
        VacuumSource::Pump => &OUTCOMES,
    }
}

/// Probability that a test comes out as `seen` under an effect: an erroneous trial comes out as any of the others alike.
fn probability(test: &Test, effect: Effect, seen: Moves) -> f64 {
    let possible = outcomes(test.source);
    if !possible.contains(&seen) {
        return 0.0;
    }
    let right = effect.outcomes()[place(seen)];
    right * (1.0 - test.error_probability) + (1.0 - right) * test.error_probability / (possible.len() - 1) as f64
}

/// Faults of one component that do the same to every test and are mended alike, counted as one: tests cannot tell them apart.
#[derive(Debug, Clone)]
pub(super) struct Mode {
    /// The component.
    pub component: u8,
    /// Probability of these faults over that of the component being sound.
    pub odds: f64,
    /// What each test shows.
    pub effects: Vec<Effect>,
    /// The kinds of fault in it, each with its share.
    pub kinds: Vec<(FaultKind, f64)>,
    /// Time to mend it, by a new part or without one, minutes.
    pub mend_minutes: f64,
    /// A beam does not follow the control because of it.
    pub is_felt: bool,
    /// The first mode of the component that is mended in the same time and comes out alike in every test, by number: they differ in what
    /// is noted beside an outcome only.
    pub alike: u16,
}

impl Mode {
    /// Whether it is of what stays in the car when the part is replaced: the reflector's pivots.
    pub fn stays(&self) -> bool {
        self.kinds.iter().all(|(kind, _)| *kind == FaultKind::Stiff)
    }

    /// Whether every test comes out alike, and mending takes as long.
    fn comes_out_as(&self, other: &Self) -> bool {
        let mut effects = self.effects.iter().zip(&other.effects);
        self.mend_minutes == other.mend_minutes && effects.all(|(a, b)| a.outcomes() == b.outcomes())
    }
}

/// A system made ready.
#[derive(Debug, Clone)]
pub(super) struct Model<'a> {
    pub system: &'a System,
    /// The ways in which components can be at fault, those of one component side by side.
    pub modes: Vec<Mode>,
    /// For each component where its modes stand.
    pub of_component: Vec<std::ops::Range<usize>>,
    /// For each test, by what a fault does to it and by what comes out ([`OUTCOMES`]), the probability.
    pub tables: Vec<[[f64; 3]; EFFECTS]>,
    /// For each test what must be set up for it, a bit for each set-up; and for each component to replace it.
    pub test_setup: Vec<u32>,
    pub component_setup: Vec<u32>,
    /// Components of which only a piece was ever renewed, a bit each.
    in_part: u128,
}

impl<'a> Model<'a> {
    pub fn new(system: &'a System) -> Self {
        let mut modes: Vec<Mode> = Vec::new();
        let mut of_component = Vec::new();
        for c in 0..system.components.len() {
            let from = modes.len();
            modes.extend(modes_of(system, c));
            for n in from..modes.len() {
                let is_alike = |m: &usize| modes[*m].comes_out_as(&modes[n]);
                let first = (from..n).find(is_alike).unwrap_or(n);
                modes[n].alike = first as u16;
            }
            of_component.push(from..modes.len());
        }
        let tables = system
            .tests
            .iter()
            .map(|test| Effect::ALL.map(|effect| OUTCOMES.map(|seen| probability(test, effect, seen))))
            .collect();
        let bits = |setup: &Vec<usize>| setup.iter().fold(0u32, |bits, s| bits | 1 << s);
        Self {
            system,
            modes,
            of_component,
            tables,
            test_setup: system.tests.iter().map(|test| bits(&test.setup)).collect(),
            component_setup: system.components.iter().map(|c| bits(&c.setup)).collect(),
            in_part: 0,
        }
    }

    /// The same, where of some components (a bit each) only a piece was ever renewed.
    pub fn renewed_in_part(self, in_part: u128) -> Self {
        Self { in_part, ..self }
    }

    /// For each mode of a component that was replaced or mended, the odds that what stands there now has it ([`RENEWED_PRIOR`]; [`RENEWED_IN_PART_PRIOR`]); kinds
    /// of fault are spread as in use.
    pub fn renewed_odds(&self, component: usize) -> Vec<f64> {
        let entry = &self.system.components[component];
        let needs_no_part = |kind: FaultKind| {
            entry
                .faults
                .iter()
                .any(|one| one.id == kind && one.mend_minutes.is_some())
        };
        let modes = &self.modes[self.of_component[component].clone()];
        let is_undone = |mode: &Mode| mode.kinds.iter().all(|(kind, _)| needs_no_part(*kind));
        let sum = |undone: bool| -> f64 {
            modes
                .iter()
                .filter(|mode| is_undone(mode) == undone)
                .map(|mode| mode.odds)
                .sum()
        };
        let (undone, other) = (sum(true), sum(false));
        let share = |mode: &Mode| match (undone > 0.0 && other > 0.0, is_undone(mode)) {
            (false, _) => mode.odds / (undone + other),
            (true, true) => RENEWED_LEFT_UNDONE * mode.odds / undone,
            (true, false) => (1.0 - RENEWED_LEFT_UNDONE) * mode.odds / other,
        };
        let prior = if self.in_part >> component & 1 == 1 {
            RENEWED_IN_PART_PRIOR
        } else {
            RENEWED_PRIOR
        };
        modes.iter().map(|mode| prior / (1.0 - prior) * share(mode)).collect()
    }

    /// Time for what of `wanted` is not set up yet, minutes.
    pub fn setup_minutes(&self, wanted: u32, made: u32) -> f64 {
        let missing = wanted & !made;
        if missing == 0 {
            return 0.0;
        }
        let all = self.system.setups.iter().enumerate();
        all.filter(|(s, _)| missing >> s & 1 == 1)
            .map(|(_, setup)| setup.minutes)
            .sum()
    }

    /// Time for a test with what is not set up for it yet, minutes.
    pub fn test_minutes(&self, test: usize, made: u32) -> f64 {
        self.system.tests[test].minutes + self.setup_minutes(self.test_setup[test], made)
    }

    /// What the trials have set up.
    pub fn made(&self, evidence: &[Evidence]) -> u32 {
        evidence.iter().fold(0, |made, one| made | self.test_setup[one.test])
    }

    /// Tests by which one sees whether the car works.
    pub fn looks(&self) -> impl Iterator<Item = usize> + '_ {
        looks(self.system)
    }
}

fn looks(system: &System) -> impl Iterator<Item = usize> + '_ {
    (0..system.tests.len()).filter(|&t| system.tests[t].by_positions)
}

fn modes_of(system: &System, component: usize) -> Vec<Mode> {
    let entry = &system.components[component];
    let sound = 1.0 - entry.faults.iter().map(|fault| fault.prior).sum::<f64>();
    let has_looks = looks(system).next().is_some();
    let mut modes: Vec<Mode> = Vec::new();
    for (f, fault) in entry.faults.iter().enumerate() {
        let sizes: &[LeakSize] = if fault.id.is_leak() {
            &LeakSize::ALL
        } else {
            // Only leaks have sizes; the others are counted once.
            &LeakSize::ALL[..1]
        };
        let mend_minutes = fault.mend_minutes.unwrap_or(entry.replace_minutes);
        for &size in sizes {
            let share = if fault.id.is_leak() { size.share(system) } else { 1.0 };
            if share <= 0.0 {
                continue;
            }
            let effects: Vec<Effect> = (0..system.tests.len())
                .map(|t| effect(system, component, f, size, t))
                .collect();
            let odds = fault.prior * share / sound;
            let alike = |mode: &Mode| mode.effects == effects && mode.mend_minutes == mend_minutes;
            let n = modes.iter().position(alike).unwrap_or_else(|| {
                let is_felt = (0..effects.len())
                    .any(|t| effects[t] != Effect::Sound && (system.tests[t].by_positions || !has_looks));
                modes.push(Mode {
                    component: component as u8,
                    odds: 0.0,
                    effects,
                    kinds: Vec::new(),
                    mend_minutes,
                    is_felt,
                    alike: 0,
                });
                modes.len() - 1
            });
            let mode = &mut modes[n];
            mode.odds += odds;
            match mode.kinds.iter_mut().find(|(kind, _)| *kind == fault.id) {
                Some((_, weight)) => *weight += odds,
                None => mode.kinds.push((fault.id, odds)),
            }
        }
    }
    for mode in &mut modes {
        for (_, weight) in &mut mode.kinds {
            *weight /= mode.odds;
        }
    }
    modes
}
