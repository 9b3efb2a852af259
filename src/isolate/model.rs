//! A system made ready for counting: what each fault of each component does to each test.

use crate::record::{FaultKind, Moves, System, Test, VacuumSource};

/// Most components that are faulty at once in an explanation.
pub const MOST_FAULTS: usize = 3;

/// How large a leak is. A leak keeps its size from test to test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeakSize {
    /// The running engine outdoes it.
    Small,
    /// It shows under the engine, and creeps back under a hand pump.
    Middling,
    /// Under a hand pump nothing moves.
    Large,
}

impl LeakSize {
    /// All sizes.
    pub const ALL: [Self; 3] = [Self::Small, Self::Middling, Self::Large];

    /// Share of the leaks that have this size.
    #[must_use]
    pub fn share(self, system: &System) -> f64 {
        match self {
            Self::Small => system.leak.small,
            Self::Middling => (1.0 - system.leak.small - system.leak.large).max(0.0),
            Self::Large => system.leak.large,
        }
    }
}

/// What a test that is done rightly shows when one of the parts that it needs has this fault; `size` counts for a leak
/// only. Of several faults the worst shows: no before creeps-back before yes.
fn shows(kind: FaultKind, size: LeakSize, source: VacuumSource) -> Moves {
    match (kind, size, source) {
        (FaultKind::Blocked | FaultKind::Sticks, _, _) => Moves::No,
        (FaultKind::Leaks, LeakSize::Small, VacuumSource::Engine) => Moves::Yes,
        (FaultKind::Leaks, _, VacuumSource::Engine) | (FaultKind::Leaks, LeakSize::Large, VacuumSource::Pump) => {
            Moves::No
        }
        (FaultKind::Leaks, _, VacuumSource::Pump) => Moves::CreepsBack,
    }
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
        VacuumSource::Engine => &OUTCOMES[..2],
        VacuumSource::Pump => &OUTCOMES,
    }
}

/// Probability that a test comes out as `seen` when, done rightly, it shows `truth`: an erroneous one comes out as any of
/// the others alike.
fn probability(test: &Test, truth: Moves, seen: Moves) -> f64 {
    let possible = outcomes(test.source);
    if truth == seen {
        1.0 - test.error_probability
    } else if possible.contains(&seen) {
        test.error_probability / (possible.len() - 1) as f64
    } else {
        0.0
    }
}

/// Faults of one component that do the same to every test, counted as one: tests cannot tell them apart.
#[derive(Debug, Clone)]
pub(super) struct Mode {
    /// Probability of these faults over that of the component being sound.
    pub odds: f64,
    /// Bit t: test t shows no.
    pub no: u128,
    /// Bit t: test t shows creeps-back.
    pub creeps: u128,
    /// The kinds of fault in it, each with its share.
    pub kinds: Vec<(FaultKind, f64)>,
}

impl Mode {
    /// Whether some test shows it. What none shows can neither be found nor be seen to be mended.
    pub fn shows_somewhere(&self) -> bool {
        (self.no | self.creeps) != 0
    }
}

/// A system made ready.
#[derive(Debug, Clone)]
pub(super) struct Model<'a> {
    pub system: &'a System,
    /// For each component the ways in which it can be at fault.
    pub modes: Vec<Vec<Mode>>,
    /// For each test, by what it shows and by what comes out ([`OUTCOMES`]), the probability.
    pub tables: Vec<[[f64; 3]; 3]>,
}

impl<'a> Model<'a> {
    pub fn new(system: &'a System) -> Self {
        let modes = (0..system.components.len()).map(|c| modes(system, c)).collect();
        let tables = system
            .tests
            .iter()
            .map(|test| OUTCOMES.map(|truth| OUTCOMES.map(|seen| probability(test, truth, seen))))
            .collect();
        Self { system, modes, tables }
    }
}

fn modes(system: &System, component: usize) -> Vec<Mode> {
    let faults = &system.components[component].faults;
    let sound = 1.0 - faults.iter().map(|fault| fault.prior).sum::<f64>();
    let mut modes: Vec<Mode> = Vec::new();
    for fault in faults {
        for size in LeakSize::ALL {
            let share = match fault.id {
                FaultKind::Leaks => size.share(system),
                // Only leaks have sizes; the others are counted once.
                _ if size == LeakSize::Small => 1.0,
                _ => 0.0,
            };
            if share <= 0.0 {
                continue;
            }
            let (mut no, mut creeps) = (0u128, 0u128);
            for (t, test) in system.tests.iter().enumerate() {
                if test.needs.contains(&component) {
                    match shows(fault.id, size, test.source) {
                        Moves::Yes => {}
                        Moves::No => no |= 1 << t,
                        Moves::CreepsBack => creeps |= 1 << t,
                    }
                }
            }
            let odds = fault.prior * share / sound;
            let n = modes
                .iter()
                .position(|mode| mode.no == no && mode.creeps == creeps)
                .unwrap_or_else(|| {
                    modes.push(Mode {
                        odds: 0.0,
                        no,
                        creeps,
                        kinds: Vec::new(),
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
