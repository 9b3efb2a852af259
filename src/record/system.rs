//! System files: what a range adjuster is made of, and which tests tell its parts apart. Data, not constants: the
//! systems in `calibration/systems/` say where their figures come from and are meant to be edited.

use super::words::OwnWords;
use super::{Caution, Side, Source, TrialMoves, check_range, check_schema};
use crate::error::Error;
use crate::language::Said;
use crate::warning::Warning;
use include_dir::{Dir, include_dir};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::path::Path;
use toml::Spanned;

/// The systems travel inside the program, so that it works away from its source tree.
static SHIPPED: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/calibration/systems");

/// Most tests that a system may have: the inference keeps one bit a test in a machine word.
const MOST_TESTS: usize = 128;
/// Most set-ups: one bit each in a machine word.
const MOST_SETUPS: usize = 32;
/// Most components: combinations of three grow with the cube.
const MOST_COMPONENTS: usize = 100;

/// How a component can be at fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum FaultKind {
    /// Vacuum is lost through it.
    Leaks,
    /// No vacuum comes through it.
    Blocked,
    /// It gets its vacuum and does not move, or only now and then.
    Sticks,
    /// Vacuum is lost at its left lamp's port only.
    LeaksLeft,
    /// Vacuum is lost at its right lamp's port only.
    LeaksRight,
    /// No vacuum comes through its left lamp's port; the other's is as it should be.
    BlockedLeft,
    /// No vacuum comes through its right lamp's port; the other's is as it should be.
    BlockedRight,
    /// Vacuum comes through slowly: a gauge, through which nothing flows, shows all of it.
    Restricted,
    /// Its hose is off: pushed on again, it is mended.
    Off,
    /// It pulls, and its rod hangs on nothing.
    RodOff,
    /// It pulls, and what it is to move is stiff.
    Stiff,
}

impl FaultKind {
    /// Whether vacuum is lost, so that there is a size to it.
    #[must_use]
    pub fn is_leak(self) -> bool {
        matches!(self, Self::Leaks | Self::LeaksLeft | Self::LeaksRight)
    }

    /// The lamp's port that it is at, where it is at one only.
    #[must_use]
    pub fn port(self) -> Option<Side> {
        match self {
            Self::LeaksLeft | Self::BlockedLeft => Some(Side::Left),
            Self::LeaksRight | Self::BlockedRight => Some(Side::Right),
            _ => None,
        }
    }
}

said_as_written! {
    FaultKind {
        Leaks => "leaks", "undicht";
        Blocked => "blocked", "verstopft";
        Sticks => "sticks", "klemmt";
        LeaksLeft => "leaks-left" ("leaks at its left port"), "am linken Anschluss undicht";
        LeaksRight => "leaks-right" ("leaks at its right port"), "am rechten Anschluss undicht";
        BlockedLeft => "blocked-left" ("blocked at its left port"), "am linken Anschluss verstopft";
        BlockedRight => "blocked-right" ("blocked at its right port"), "am rechten Anschluss verstopft";
        Restricted => "restricted", "verengt";
        Off => "off" ("hose off"), "Schlauch ab";
        RodOff => "rod-off" ("rod off"), "Stange ab";
        Stiff => "stiff", "schwergängig";
    }
}

/// Where the vacuum of a test comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum VacuumSource {
    /// The running engine, which outdoes a small leak.
    Engine,
    /// A hand pump that is then left alone, so that a slow leak shows, as "creeps-back".
    Pump,
    /// None: the part itself is looked at, or moved by hand.
    None,
}

/// What one watches in a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Watch {
    /// The cut-off on the wall.
    Beam,
    /// A vacuum gauge.
    Gauge,
    /// The part itself: what is seen, heard or felt of it.
    Part,
}

/// A way in which a component can be at fault, and how often it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The kind of fault.
    pub id: FaultKind,
    /// Probability of it in a car that comes in because a beam does not follow, before any test.
    pub prior: f64,
    /// Time to mend it without a new part, minutes, where that can be done.
    pub mend_minutes: Option<f64>,
    /// Tests that need the component and do not show this fault of it, by number.
    pub spares: Vec<usize>,
}

/// What has to be opened, taken off or set up before a test or a repair, and then stays so.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// Name in the file.
    pub id: String,
    /// Name in sentences: "the cover off behind the left lamp".
    pub label: Said,
    /// Time for it, with waiting and with putting all back at the end, minutes.
    pub minutes: f64,
}

/// A part that can be replaced.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// Name in the files and in the output.
    pub id: String,
    /// Name in sentences, without an article.
    pub label: Said,
    /// How it can be at fault.
    pub faults: Vec<Fault>,
    /// Time to replace it, minutes.
    pub replace_minutes: f64,
    /// Components that its vacuum comes from, by number, for the drawing.
    pub after: Vec<usize>,
    /// What must be set up to replace it, by number.
    pub setup: Vec<usize>,
    /// It is not replaced before one of these tests was done, by number.
    pub proven_by: Vec<usize>,
    /// What can hurt while it is replaced, or comes of the fault itself; may be empty.
    pub hazards: Vec<Said>,
}

/// An end of a hose or a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoseEnd {
    /// Whose, by number.
    pub component: usize,
    /// Where it sits; tells the ends of one hose from each other.
    pub at: String,
}

/// A test that tells some components from others.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Name in the files and in the output.
    pub id: String,
    /// The whole test in a sentence or two.
    pub ask: Said,
    /// What one needs for it; may be empty.
    pub kit: Vec<Said>,
    /// How it is done, step by step; may be empty.
    pub steps: Vec<Said>,
    /// What counts as yes, as no, as creeps-back; may be empty.
    pub look: Said,
    /// What can hurt, with those that go with the vacuum's source.
    pub hazards: Vec<Said>,
    /// How the parts are connected, for a sentence: "with the control bridged"; may be empty.
    pub with: Said,
    /// The lamp that moves.
    pub lamp: Option<Side>,
    /// What one watches.
    pub watch: Watch,
    /// Components that must be sound for a yes, by number, in the file's order.
    pub needs: Vec<usize>,
    /// Kinds of fault that it shows; empty: all.
    pub shows: Vec<FaultKind>,
    /// Components that it does not need, and whose large leak can drain it all the same, by number.
    pub drained_by: Vec<usize>,
    /// The hoses' ends that its steps have looked at and pushed home before anything is pumped or read.
    pub ends: Vec<HoseEnd>,
    /// The lamp's port of a control through which its vacuum comes.
    pub port: Option<Side>,
    /// What must be set up for it, by number.
    pub setup: Vec<usize>,
    /// Where the vacuum comes from.
    pub source: VacuumSource,
    /// Time it takes once all is set up, minutes.
    pub minutes: f64,
    /// Probability that what is written down is not what a test done rightly shows.
    pub error_probability: f64,
    /// Working the driver's control is the whole test, so that readings of the job at its positions can stand for it.
    pub by_positions: bool,
    /// The gauge is to follow the control besides: one that stands high at every position is no yes.
    pub follows: bool,
}

impl Test {
    /// The answers that are a kind of fault, which is seen itself where the part is looked at or moved by hand.
    pub fn seen_faults(&self) -> impl Iterator<Item = TrialMoves> + '_ {
        let seen = [TrialMoves::RodOff, TrialMoves::Stiff].into_iter();
        seen.filter(|moves| self.watch == Watch::Part && moves.fault().is_some_and(|fault| self.shows.contains(&fault)))
    }

    /// Whether something seen can be written down of this test.
    #[must_use]
    pub fn has_answer(&self, moves: TrialMoves) -> bool {
        moves.fault().is_none() || self.seen_faults().any(|seen| seen == moves)
    }
}

/// How leaks are spread by size. A leak keeps its size from test to test.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct LeakSizes {
    /// Share of the leaks that the running engine outdoes, so that only a sealed pump shows them.
    pub small: f64,
    /// Share of the leaks so large that under a hand pump nothing moves, or that it creeps back.
    pub large: f64,
    /// Share of the large leaks that drain the other lamp, too.
    #[serde(default = "default_draining")]
    pub draining: f64,
}

/// From memory: a control that joins both lamps' lines is as common as one that keeps them apart.
fn default_draining() -> f64 {
    0.5
}

/// What testing and replacing cost beside the minutes of each test and each component.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Costs {
    /// Time to see after a replacement whether the beams follow again, minutes.
    pub check_minutes: f64,
    /// What a part replaced for nothing costs beside its work (its price, the way to get it), as minutes of work.
    pub wrong_part_minutes: f64,
}

/// How far beams travel in tests, for trials that two photos decide.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct UsualTravel {
    /// Usual travel of a beam that moves, per cent.
    pub moves_percent: f64,
    /// One standard deviation of that travel from car to car, per cent.
    pub moves_sd_percent: f64,
    /// One standard deviation of what a beam that does not move shifts all the same (the car settles), per cent.
    pub still_sd_percent: f64,
}

/// What a range adjuster is made of, and the tests that tell its parts apart.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    /// Name by which a job asks for it.
    pub id: String,
    /// What it is called in full.
    pub name: Said,
    /// Where the figures come from.
    pub figures: Said,
    /// A lamp without vacuum hangs low, so that a leak cannot dazzle.
    pub vacuum_raises: bool,
    /// How much more seldom each further fault is than the priors alone would have it: they speak of cars that come in, for which one
    /// fault is enough.
    pub together: f64,
    /// How leaks are spread by size.
    pub leak: LeakSizes,
    /// What testing and replacing cost.
    pub costs: Costs,
    /// How far beams travel.
    pub travel: UsualTravel,
    /// What is set up for tests and repairs, in the file's order.
    pub setups: Vec<Setup>,
    /// The components, in the file's order.
    pub components: Vec<Component>,
    /// The tests, in the file's order.
    pub tests: Vec<Test>,
    /// What the file leaves to be wished for: components that no test can tell.
    pub warnings: Vec<Warning>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SystemFile {
    schema: u32,
    name: String,
    #[serde(default)]
    figures: String,
    vacuum_raises: bool,
    /// Probability that a trial is erroneous, for tests that give none.
    #[serde(default = "default_error_probability")]
    botched: f64,
    #[serde(default = "default_together")]
    together: f64,
    #[serde(default = "default_leak")]
    leak: LeakSizes,
    #[serde(default = "default_costs")]
    costs: Costs,
    #[serde(default = "default_travel")]
    travel: UsualTravel,
    #[serde(default)]
    hazards: Hazards,
    /// What of it is called how in other languages.
    #[serde(default)]
    words: OwnWords,
    #[serde(default)]
    setup: Vec<SetupEntry>,
    #[serde(default)]
    component: Vec<ComponentEntry>,
    #[serde(default)]
    test: Vec<TestEntry>,
}

/// Hazards that go with the vacuum's source, said with each test that uses it: names of cautions, or own words.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Hazards {
    #[serde(default)]
    engine: Vec<Spanned<String>>,
    #[serde(default)]
    pump: Vec<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ComponentEntry {
    id: Spanned<String>,
    label: String,
    faults: Spanned<Vec<FaultEntry>>,
    replace_minutes: f64,
    #[serde(default)]
    after: Vec<Spanned<String>>,
    #[serde(default)]
    setup: Vec<Spanned<String>>,
    #[serde(default)]
    proven_by: Vec<Spanned<String>>,
    #[serde(default)]
    hazards: Vec<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FaultEntry {
    id: FaultKind,
    prior: f64,
    mend_minutes: Option<f64>,
    #[serde(default)]
    spares: Vec<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SetupEntry {
    id: Spanned<String>,
    label: String,
    minutes: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct EndEntry {
    of: Spanned<String>,
    at: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct TestEntry {
    id: Spanned<String>,
    ask: String,
    #[serde(default)]
    kit: Vec<String>,
    #[serde(default)]
    steps: Vec<String>,
    #[serde(default)]
    look: String,
    #[serde(default)]
    hazards: Vec<Spanned<String>>,
    #[serde(default)]
    with: String,
    lamp: Option<Side>,
    watch: Option<Watch>,
    needs: Spanned<Vec<Spanned<String>>>,
    #[serde(default)]
    shows: Vec<FaultKind>,
    #[serde(default)]
    drained_by: Vec<Spanned<String>>,
    #[serde(default)]
    ends: Vec<EndEntry>,
    port: Option<Side>,
    #[serde(default)]
    setup: Vec<Spanned<String>>,
    source: VacuumSource,
    minutes: f64,
    botched: Option<f64>,
    #[serde(default)]
    by_positions: bool,
    #[serde(default)]
    follows: bool,
}

/// From memory: of twenty tests one goes wrong or is written down wrongly.
fn default_error_probability() -> f64 {
    0.05
}

/// Each part fails by itself.
fn default_together() -> f64 {
    1.0
}

/// From memory: most leaks show with the engine running, and hold a little under a hand pump.
fn default_leak() -> LeakSizes {
    LeakSizes {
        small: 0.15,
        large: 0.25,
        draining: default_draining(),
    }
}

/// From memory: working the control once for both lamps; a part fitted for nothing costs half an hour of work.
fn default_costs() -> Costs {
    Costs {
        check_minutes: 4.0,
        wrong_part_minutes: 30.0,
    }
}

/// From memory: a range adjuster takes a beam down by 0.5 to 2 per cent over all its positions.
fn default_travel() -> UsualTravel {
    UsualTravel {
        moves_percent: 1.2,
        moves_sd_percent: 0.5,
        still_sd_percent: 0.03,
    }
}

/// Names of the systems that the program carries, in alphabetical order.
#[must_use]
pub fn system_names() -> Vec<String> {
    super::source::names_in(&SHIPPED)
}

impl System {
    /// Reads the system that a job asks for: the name of a shipped one, or else a path relative to `folder`.
    ///
    /// # Errors
    /// [`Error`] for a name that is neither, or a file that cannot be read or cannot be right.
    pub fn find(name: &str, folder: &Path) -> Result<Self, Error> {
        let Source { path, text, .. } = Self::source(name, folder)?;
        Self::parse(name, &path, &text)
    }

    /// The text of a system that comes with the program, or of a file relative to `folder`.
    ///
    /// # Errors
    /// [`Error`] for a name that is neither, and a file that cannot be read.
    pub(crate) fn source(name: &str, folder: &Path) -> Result<Source, Error> {
        Source::find(&SHIPPED, "calibration/systems", "system", name, folder)
    }

    /// Reads a system from `text`; `path` is used in messages only.
    ///
    /// # Errors
    /// [`Error`] naming the key, and the line where there is one.
    pub fn parse(id: &str, path: &Path, text: &str) -> Result<Self, Error> {
        let file: SystemFile =
            super::parse_toml(path, text).map_err(|e| super::kind::FileKind::System.wanted(path, text, e))?;
        Reader { path, text }.system(id, file)
    }

    /// Number of the component called `id`.
    #[must_use]
    pub fn component(&self, id: &str) -> Option<usize> {
        self.components.iter().position(|c| c.id == id)
    }

    /// How many ends a hose or a line has: as many as its tests tell apart, two at least.
    #[must_use]
    pub fn ends_of(&self, component: usize) -> usize {
        let all = self.tests.iter().flat_map(|test| &test.ends);
        let of_it: BTreeSet<&str> = all
            .filter(|end| end.component == component)
            .map(|end| end.at.as_str())
            .collect();
        of_it.len().max(2)
    }

    /// Number of the test called `id`.
    #[must_use]
    pub fn test(&self, id: &str) -> Option<usize> {
        self.tests.iter().position(|t| t.id == id)
    }
}

/// What a file calls its parts.
struct Ids {
    components: Vec<String>,
    tests: Vec<String>,
    setups: Vec<String>,
}

/// A file being checked.
struct Reader<'a> {
    path: &'a Path,
    text: &'a str,
}

impl Reader<'_> {
    /// An error at a place in the text.
    fn error(&self, at: &std::ops::Range<usize>, message: impl std::fmt::Display) -> Error {
        let line = 1 + self.text.bytes().take(at.start).filter(|b| *b == b'\n').count();
        Error::in_file(self.path, format!("line {line}: {message}"))
    }

    fn system(&self, id: &str, file: SystemFile) -> Result<System, Error> {
        let path = self.path;
        check_schema(path, file.schema)?;
        check_range(path, "botched", file.botched, 1e-6, 0.4)?;
        check_range(path, "together", file.together, 1e-3, 1.0)?;
        check_range(path, "leak.small", file.leak.small, 0.0, 1.0)?;
        check_range(path, "leak.large", file.leak.large, 0.0, 1.0 - file.leak.small)?;
        check_range(path, "leak.draining", file.leak.draining, 0.0, 1.0)?;
        check_range(path, "costs.check_minutes", file.costs.check_minutes, 0.0, 1e4)?;
        check_range(
            path,
            "costs.wrong_part_minutes",
            file.costs.wrong_part_minutes,
            0.0,
            1e5,
        )?;
        check_range(path, "travel.moves_percent", file.travel.moves_percent, 0.1, 20.0)?;
        check_range(
            path,
            "travel.moves_sd_percent",
            file.travel.moves_sd_percent,
            0.01,
            20.0,
        )?;
        check_range(
            path,
            "travel.still_sd_percent",
            file.travel.still_sd_percent,
            0.001,
            5.0,
        )?;
        self.check_counts(&file)?;
        self.check_doubles("component", file.component.iter().map(|c| &c.id))?;
        self.check_doubles("test", file.test.iter().map(|t| &t.id))?;
        self.check_doubles("setup", file.setup.iter().map(|s| &s.id))?;
        let named = |ids: &mut dyn Iterator<Item = &Spanned<String>>| ids.map(|id| id.get_ref().clone()).collect();
        let ids = Ids {
            components: named(&mut file.component.iter().map(|c| &c.id)),
            tests: named(&mut file.test.iter().map(|t| &t.id)),
            setups: named(&mut file.setup.iter().map(|s| &s.id)),
        };
        let words = &file.words;
        let setups = self.setups(file.setup, words)?;
        let components = file
            .component
            .into_iter()
            .map(|entry| self.component(entry, &ids, words))
            .collect::<Result<Vec<_>, _>>()?;
        let tests = file
            .test
            .into_iter()
            .map(|entry| self.test(entry, &ids, &file.hazards, file.botched, words))
            .collect::<Result<Vec<_>, _>>()?;
        let warnings = untold(&components, &tests);
        let (name, figures) = (words.said(&file.name), words.said(&file.figures));
        words.check_all_used(path)?;
        Ok(System {
            id: id.to_owned(),
            name,
            figures,
            vacuum_raises: file.vacuum_raises,
            together: file.together,
            leak: file.leak,
            costs: file.costs,
            travel: file.travel,
            setups,
            components,
            tests,
            warnings,
        })
    }

    fn check_counts(&self, file: &SystemFile) -> Result<(), Error> {
        for (what, count, most) in [
            ("component", file.component.len(), MOST_COMPONENTS),
            ("test", file.test.len(), MOST_TESTS),
            ("setup", file.setup.len(), MOST_SETUPS),
        ] {
            if count == 0 && what != "setup" {
                return Err(Error::in_file(
                    self.path,
                    format!("there is no [[{what}]]; a system needs one at the least"),
                ));
            }
            if count > most {
                return Err(Error::in_file(
                    self.path,
                    format!("there are {count} [[{what}]] entries; this program reads {most} at the most"),
                ));
            }
        }
        Ok(())
    }

    fn check_doubles<'a>(&self, what: &str, ids: impl Iterator<Item = &'a Spanned<String>>) -> Result<(), Error> {
        let mut seen: Vec<&str> = Vec::new();
        for id in ids {
            let name = id.get_ref().as_str();
            if name.trim().is_empty() {
                return Err(self.error(&id.span(), format!("a {what} has an empty id; give it a name")));
            }
            if seen.contains(&name) {
                return Err(self.error(
                    &id.span(),
                    format!("the {what} \"{name}\" is listed twice; each has its own id"),
                ));
            }
            seen.push(name);
        }
        Ok(())
    }

    fn setups(&self, entries: Vec<SetupEntry>, words: &OwnWords) -> Result<Vec<Setup>, Error> {
        let setup = |entry: SetupEntry| {
            let id = entry.id.into_inner();
            check_range(self.path, &format!("minutes of \"{id}\""), entry.minutes, 0.0, 1e4)?;
            Ok(Setup {
                id,
                label: words.said(&entry.label),
                minutes: entry.minutes,
            })
        };
        entries.into_iter().map(setup).collect()
    }

    fn fault(&self, entry: FaultEntry, component: &str, ids: &Ids) -> Result<Fault, Error> {
        if let Some(minutes) = entry.mend_minutes {
            check_range(
                self.path,
                &format!("mend_minutes of \"{component}\""),
                minutes,
                0.0,
                1e4,
            )?;
        }
        Ok(Fault {
            id: entry.id,
            prior: entry.prior,
            mend_minutes: entry.mend_minutes,
            spares: self.numbers(&entry.spares, "test", &ids.tests, &format!("spares of \"{component}\""))?,
        })
    }

    fn component(&self, entry: ComponentEntry, ids: &Ids, words: &OwnWords) -> Result<Component, Error> {
        let (span, faults) = (entry.faults.span(), entry.faults.into_inner());
        let id = entry.id.into_inner();
        if faults.is_empty() {
            return Err(self.error(
                &span,
                format!("the component \"{id}\" has no faults; list those it can have, or leave it out"),
            ));
        }
        for (n, fault) in faults.iter().enumerate() {
            if faults[..n].iter().any(|other| other.id == fault.id) {
                return Err(self.error(&span, format!("\"{id}\" lists the fault \"{}\" twice", fault.id)));
            }
            if !(fault.prior > 0.0 && fault.prior < 1.0) {
                return Err(self.error(
                    &span,
                    format!(
                        "the prior of \"{id}\" {} is {}; a probability between 0 and 1 is expected",
                        fault.id, fault.prior
                    ),
                ));
            }
        }
        let sum: f64 = faults.iter().map(|fault| fault.prior).sum();
        if sum >= 1.0 {
            return Err(self.error(
                &span,
                format!("the priors of \"{id}\" add up to {sum}; together they must stay below 1"),
            ));
        }
        check_range(
            self.path,
            &format!("replace_minutes of \"{id}\""),
            entry.replace_minutes,
            0.0,
            1e4,
        )?;
        let faults = faults
            .into_iter()
            .map(|fault| self.fault(fault, &id, ids))
            .collect::<Result<Vec<_>, _>>()?;
        let after = self.numbers(
            &entry.after,
            "component",
            &ids.components,
            &format!("after of \"{id}\""),
        )?;
        let setup = self.numbers(&entry.setup, "setup", &ids.setups, &format!("setup of \"{id}\""))?;
        let proven_by = self.numbers(&entry.proven_by, "test", &ids.tests, &format!("proven_by of \"{id}\""))?;
        Ok(Component {
            id,
            label: words.said(&entry.label),
            faults,
            setup,
            proven_by,
            hazards: self.wordings(entry.hazards.iter(), words)?,
            replace_minutes: entry.replace_minutes,
            after,
        })
    }

    fn test(
        &self,
        entry: TestEntry,
        ids: &Ids,
        hazards: &Hazards,
        of_all: f64,
        words: &OwnWords,
    ) -> Result<Test, Error> {
        let id = entry.id.get_ref().clone();
        if entry.ask.trim().is_empty() {
            return Err(self.error(
                &entry.id.span(),
                format!("the test \"{id}\" has an empty ask; say what is to be done"),
            ));
        }
        if entry.needs.get_ref().is_empty() {
            return Err(self.error(
                &entry.needs.span(),
                format!("the test \"{id}\" needs nothing, so that it can tell nothing; list the components it needs"),
            ));
        }
        let parts = |names: &[Spanned<String>], what: &str| {
            self.numbers(names, "component", &ids.components, &format!("{what} of \"{id}\""))
        };
        let needs = parts(entry.needs.get_ref(), "needs")?;
        let drained_by = parts(&entry.drained_by, "drained_by")?;
        let ends = self.ends(entry.ends, ids, &id)?;
        let setup = self.numbers(&entry.setup, "setup", &ids.setups, &format!("setup of \"{id}\""))?;
        check_range(self.path, &format!("minutes of \"{id}\""), entry.minutes, 0.01, 1e4)?;
        let error_probability = entry.botched.unwrap_or(of_all);
        check_range(self.path, &format!("botched of \"{id}\""), error_probability, 1e-6, 0.4)?;
        if entry.by_positions && entry.lamp.is_none() {
            return Err(self.error(
                &entry.id.span(),
                format!("the test \"{id}\" has by_positions and no lamp; say whose readings count"),
            ));
        }
        let of_source = match entry.source {
            VacuumSource::Engine => &hazards.engine,
            VacuumSource::Pump | VacuumSource::None => &hazards.pump,
        };
        let watch = match (entry.watch, entry.lamp) {
            (Some(watch), _) => watch,
            (None, Some(_)) => Watch::Beam,
            (None, None) => Watch::Gauge,
        };
        Ok(Test {
            id,
            ask: words.said(&entry.ask),
            kit: words.all_said(&entry.kit),
            steps: words.all_said(&entry.steps),
            look: words.said(&entry.look),
            hazards: self.wordings(of_source.iter().chain(&entry.hazards), words)?,
            with: words.said(&entry.with),
            lamp: entry.lamp,
            watch,
            needs,
            shows: entry.shows,
            drained_by,
            ends,
            port: entry.port.or(entry.lamp),
            setup,
            source: entry.source,
            minutes: entry.minutes,
            error_probability,
            by_positions: entry.by_positions,
            follows: entry.follows,
        })
    }

    /// The ends of hoses that a test's steps look at.
    fn ends(&self, entries: Vec<EndEntry>, ids: &Ids, test: &str) -> Result<Vec<HoseEnd>, Error> {
        let mut ends: Vec<HoseEnd> = Vec::with_capacity(entries.len());
        for entry in entries {
            let what = format!("ends of \"{test}\"");
            let component = self.numbers(std::slice::from_ref(&entry.of), "component", &ids.components, &what)?[0];
            let end = HoseEnd {
                component,
                at: entry.at.trim().to_owned(),
            };
            if end.at.is_empty() || ends.contains(&end) {
                let slip = if end.at.is_empty() {
                    "has an empty at; say where it sits"
                } else {
                    "is listed twice"
                };
                return Err(self.error(
                    &entry.of.span(),
                    format!("{what}: the end of \"{}\" {slip}", entry.of.get_ref()),
                ));
            }
            ends.push(end);
        }
        Ok(ends)
    }

    /// What the hazards' words stand for, each once.
    fn wordings<'a>(
        &self,
        hazards: impl Iterator<Item = &'a Spanned<String>>,
        words: &OwnWords,
    ) -> Result<Vec<Said>, Error> {
        let mut said: Vec<Said> = Vec::new();
        for hazard in hazards {
            let wording =
                Caution::wording(hazard.get_ref()).map_err(|e| self.error(&hazard.span(), format!("hazards: {e}")))?;
            let wording = words.said(wording);
            if !said.contains(&wording) {
                said.push(wording);
            }
        }
        Ok(said)
    }

    /// The components, tests or set-ups called so, by number, in the file's order.
    fn numbers(&self, names: &[Spanned<String>], kind: &str, ids: &[String], what: &str) -> Result<Vec<usize>, Error> {
        let mut numbers = Vec::with_capacity(names.len());
        for name in names {
            let Some(number) = ids.iter().position(|id| id == name.get_ref()) else {
                return Err(self.error(
                    &name.span(),
                    format!(
                        "{what}: there is no {kind} \"{}\"; there are {}",
                        name.get_ref(),
                        ids.join(", ")
                    ),
                ));
            };
            if numbers.contains(&number) {
                return Err(self.error(&name.span(), format!("{what}: \"{}\" is listed twice", name.get_ref())));
            }
            numbers.push(number);
        }
        numbers.sort_unstable();
        Ok(numbers)
    }
}

/// What no test can tell: components that none needs, and such as the same tests need.
fn untold(components: &[Component], tests: &[Test]) -> Vec<Warning> {
    let needing: Vec<Vec<usize>> = (0..components.len())
        .map(|c| (0..tests.len()).filter(|&t| tests[t].needs.contains(&c)).collect())
        .collect();
    let mut warnings = Vec::new();
    for (c, component) in components.iter().enumerate() {
        if needing[c].is_empty() {
            warnings.push(Warning::ComponentUntested {
                component: component.id.clone(),
            });
        } else if let Some(alike) = (0..c).find(|&other| needing[other] == needing[c]) {
            warnings.push(Warning::ComponentsAlike {
                components: [components[alike].id.clone(), component.id.clone()],
            });
        }
    }
    warnings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::language::Language;

    fn in_english(said: &[Said]) -> Vec<&str> {
        said.iter().map(|one| one.within(Language::English)).collect()
    }

    const GOOD: &str = r#"schema = 1
name = "Two parts"
vacuum_raises = true
[[component]]
id = "hose"
label = "hose"
faults = [{ id = "leaks", prior = 0.1 }]
replace_minutes = 5
[[component]]
id = "actuator"
label = "actuator"
faults = [{ id = "leaks", prior = 0.1 }, { id = "sticks", prior = 0.1 }]
replace_minutes = 5
[[test]]
id = "pump"
ask = "Pump at the actuator."
lamp = "left"
needs = ["actuator"]
source = "pump"
minutes = 3
[[test]]
id = "both"
ask = "Pump at the hose."
lamp = "left"
needs = ["actuator", "hose"]
source = "pump"
minutes = 3
"#;

    fn parse(text: &str) -> Result<System, Error> {
        System::parse("two", Path::new("two.toml"), text)
    }

    #[test]
    fn a_good_system_reads_with_its_defaults() {
        let system = parse(GOOD).unwrap();
        assert_eq!(system.tests[1].needs, [0, 1], "in the components' order");
        assert_eq!(system.tests[0].watch, Watch::Beam);
        assert_eq!(system.tests[0].error_probability, 0.05);
        assert!(system.warnings.is_empty(), "{:?}", system.warnings);
    }

    #[test]
    fn a_file_has_its_own_words_and_none_for_what_it_does_not_say() {
        let with = |words: &str| parse(&format!("{GOOD}[words.de]\n{words}\n"));
        let system = with("\"hose\" = \"Schlauch\"").unwrap();
        let label = &system.components[0].label;
        assert_eq!(label.within(Language::German), "Schlauch");
        assert_eq!(label.within(Language::English), "hose");
        let slip = with("\"hoes\" = \"Schlauch\"").unwrap_err().to_string();
        assert!(slip.contains("hoes"), "{slip}");
    }

    #[test]
    fn wrong_files_are_named_with_their_line() {
        for (from, to, parts) in [
            (
                "needs = [\"actuator\"]",
                "needs = [\"actuator\", \"pipe\"]",
                ["line 18", "pipe"],
            ),
            ("needs = [\"actuator\"]", "needs = []", ["line 18", "needs nothing"]),
            (
                "needs = [\"actuator\"]",
                "needs = [\"hose\", \"hose\"]",
                ["line 18", "twice"],
            ),
            ("id = \"actuator\"", "id = \"hose\"", ["line 10", "twice"]),
            ("id = \"both\"", "id = \"pump\"", ["line 22", "twice"]),
            (
                "\"sticks\", prior = 0.1",
                "\"sticks\", prior = 0.95",
                ["line 12", "below 1"],
            ),
            (
                "\"sticks\", prior = 0.1",
                "\"sticks\", prior = 0",
                ["line 12", "between 0 and 1"],
            ),
            ("\"sticks\"", "\"rattles\"", ["line 12", "rattles"]),
            ("\"sticks\"", "\"leaks\"", ["line 12", "twice"]),
            ("minutes = 3", "minuets = 3", ["line 20", "minuets"]),
            ("minutes = 3", "minutes = 0", ["minutes of \"pump\"", "cannot be"]),
            ("lamp = \"left\"", "by_positions = true", ["line 15", "no lamp"]),
            (
                "minutes = 3",
                "minutes = 3\nhazards = [\"exhuast\"]",
                ["line 21", "did you mean \"exhaust\""],
            ),
            (
                "replace_minutes = 5",
                "replace_minutes = 5\nsetup = [\"cover\"]",
                ["line 9", "no setup \"cover\""],
            ),
            (
                "replace_minutes = 5",
                "replace_minutes = 5\nproven_by = [\"pomp\"]",
                ["line 9", "no test \"pomp\""],
            ),
            (
                "prior = 0.1 }]",
                "prior = 0.1, spares = [\"pomp\"] }]",
                ["line 7", "no test \"pomp\""],
            ),
            (
                "minutes = 3",
                "minutes = 3\ndrained_by = [\"tank\"]",
                ["line 21", "tank"],
            ),
            (
                "minutes = 3",
                "minutes = 3\nends = [{ of = \"tank\", at = \"lamp\" }]",
                ["line 21", "no component \"tank\""],
            ),
            (
                "minutes = 3",
                "minutes = 3\nends = [{ of = \"hose\", at = \" \" }]",
                ["line 21", "empty at"],
            ),
            (
                "minutes = 3",
                "minutes = 3\nshows = [\"rattles\"]",
                ["line 21", "rattles"],
            ),
            ("minutes = 3", "minutes = 3\nset_up = []", ["line 21", "set_up"]),
            ("schema = 1", "schema = 2", ["schema = 2", "reads schema = 1"]),
        ] {
            let message = parse(&GOOD.replacen(from, to, 1)).unwrap_err().to_string();
            for part in parts {
                assert!(message.contains(part), "{to}: {message}");
            }
        }
    }

    #[test]
    fn a_component_that_no_test_can_tell_is_warned_of_by_name() {
        let untested = GOOD.replace("needs = [\"actuator\", \"hose\"]", "needs = [\"actuator\"]");
        let hose = "hose".to_owned();
        let untold = Warning::ComponentUntested {
            component: hose.clone(),
        };
        assert_eq!(parse(&untested).unwrap().warnings, [untold]);
        let alike = GOOD.replace("needs = [\"actuator\"]", "needs = [\"actuator\", \"hose\"]");
        let untold = Warning::ComponentsAlike {
            components: [hose, "actuator".to_owned()],
        };
        assert_eq!(parse(&alike).unwrap().warnings, [untold]);
    }

    #[test]
    fn shipped_systems_read_without_a_warning_and_tell_all_that_a_test_needs() {
        assert_eq!(system_names(), ["vacuum-bonnet-control", "vacuum-cabin-control"]);
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            assert!(system.warnings.is_empty(), "{name}: {:?}", system.warnings);
            assert!(
                system.figures.within(Language::English).contains("from memory"),
                "{name} says where its figures come from"
            );
            for test in &system.tests {
                let said = |said: &Said| !said.within(Language::English).is_empty();
                assert!(
                    !test.steps.is_empty() && said(&test.look) && said(&test.with),
                    "{name} {}",
                    test.id
                );
            }
        }
    }

    /// What a test has one do decides what is to be said with it (common practice, no source).
    #[test]
    fn shipped_tests_come_with_the_cautions_of_what_they_have_one_do() {
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            for test in &system.tests {
                let (each, look) = (in_english(&test.steps), test.look.within(Language::English));
                let steps = each.join(" ");
                let is_driven = test.source == VacuumSource::Engine;
                let is_beam = test.watch == Watch::Beam;
                let is_behind_a_lamp =
                    steps.contains("behind the left lamp") || steps.contains("behind the right lamp");
                let takes_hoses_off = ["push the hose", "push both hoses", "push the supply", "push the hoses"]
                    .iter()
                    .any(|words| steps.contains(words));
                for (caution, holds) in [
                    (Caution::Exhaust, is_driven),
                    (Caution::Rolling, is_driven || is_beam),
                    (Caution::MovingParts, true),
                    (Caution::Wall, is_driven && is_beam),
                    (Caution::Glare, is_beam),
                    (Caution::Covers, steps.contains("cover the ")),
                    (Caution::Weight, is_beam),
                    (Caution::Airbags, steps.contains("trim")),
                    (Caution::HotLamps, is_beam || is_behind_a_lamp),
                    (Caution::HighVoltage, is_behind_a_lamp),
                    (Caution::Diaphragm, is_beam && steps.contains("400")),
                    (
                        Caution::LowVacuum,
                        is_driven && (test.watch == Watch::Gauge || steps.contains("gauge")),
                    ),
                    (Caution::Brakes, takes_hoses_off),
                ] {
                    let is_said = in_english(&test.hazards).contains(&caution.text());
                    assert_eq!(is_said, holds, "{name} {}: {caution:?}", test.id);
                }
                // The engine is started by a car that cannot roll, and stands still when somebody hangs on its hoses.
                let start = steps.find("Start the engine");
                assert!(is_driven || start.is_none(), "{name} {}", test.id);
                for step in each.iter().map(|step| step.to_lowercase()) {
                    let is_lit = !step.contains("dipped beam on") || step.contains("ignition on, engine still off");
                    assert!(is_lit, "{name} {}: {step}", test.id);
                }
                if let Some(start) = start {
                    let secured = steps
                        .to_lowercase()
                        .find("gear in neutral or park, parking brake on, wheels chocked");
                    assert!(secured.is_some_and(|at| at < start), "{name} {}", test.id);
                    let holds = look.contains("half a minute") == steps.contains("half a minute");
                    assert!(
                        holds || !is_beam,
                        "{name} {}: steps wait as long as what counts asks",
                        test.id
                    );
                }
            }
        }
    }

    /// What the steps have done to the car so far.
    #[derive(Debug, Default)]
    struct Car {
        is_secured: bool,
        runs: bool,
        is_lit: bool,
        has_ignition: bool,
    }

    /// What words in the steps do or ask of the car.
    #[derive(Debug, Clone, Copy, PartialEq)]
    enum Deed {
        Secured,
        Starts,
        Stops,
        Ignition(bool),
        Lamps(bool),
        AllOff,
        HoseOff,
        CoverOff,
    }

    const DEEDS: [(&str, Deed); 21] = [
        (
            "gear in neutral or park, parking brake on, wheels chocked",
            Deed::Secured,
        ),
        ("start the engine", Deed::Starts),
        ("stop the engine", Deed::Stops),
        ("and stop it", Deed::Stops),
        ("ignition on", Deed::Ignition(true)),
        ("ignition off", Deed::Ignition(false)),
        ("dipped beam on", Deed::Lamps(true)),
        ("lamps on", Deed::Lamps(true)),
        ("lamps off", Deed::Lamps(false)),
        ("lamps and ignition off", Deed::AllOff),
        ("ignition and lamps off", Deed::AllOff),
        ("pull off", Deed::HoseOff),
        ("pull it off", Deed::HoseOff),
        ("pull them off", Deed::HoseOff),
        ("pull that hose off", Deed::HoseOff),
        ("pull the hose off", Deed::HoseOff),
        ("lamp's hose off", Deed::HoseOff),
        ("push the hose off", Deed::HoseOff),
        ("pull both hoses off", Deed::HoseOff),
        ("change the two lamps' hoses over", Deed::HoseOff),
        ("take the cover off behind", Deed::CoverOff),
    ];

    /// What the steps do, in their order.
    fn deeds(steps: &[&str]) -> Vec<Deed> {
        let text = steps.join(" ").to_lowercase();
        let of = |(words, deed): &(&str, Deed)| -> Vec<(usize, Deed)> {
            text.match_indices(words).map(|(at, _)| (at, *deed)).collect()
        };
        let mut all: Vec<(usize, Deed)> = DEEDS.iter().flat_map(of).collect();
        all.sort_by_key(|(at, _)| *at);
        all.into_iter().map(|(_, deed)| deed).collect()
    }

    /// What is wrong with the order of steps, if anything is (common practice, no source).
    fn out_of_order(steps: &[&str]) -> Option<String> {
        let mut car = Car::default();
        for deed in deeds(steps) {
            let fault = match deed {
                Deed::Starts | Deed::HoseOff if !car.is_secured => Some("the car is not secured"),
                Deed::HoseOff | Deed::CoverOff if car.runs => Some("the engine runs"),
                Deed::CoverOff if car.is_lit => Some("the lamps are lit"),
                _ => None,
            };
            if let Some(fault) = fault {
                return Some(format!("{deed:?}: {fault}"));
            }
            match deed {
                Deed::Secured => car.is_secured = true,
                // Who starts an engine has its ignition on, and who stops it, off.
                Deed::Starts => car.runs = true,
                Deed::Stops => car.runs = false,
                Deed::Ignition(on) => car.has_ignition = on,
                Deed::Lamps(on) => car.is_lit = on,
                Deed::AllOff => (car.is_lit, car.has_ignition) = (false, false),
                Deed::HoseOff | Deed::CoverOff => {}
            }
        }
        (car.runs || car.is_lit || car.has_ignition).then(|| format!("at the end: {car:?}"))
    }

    #[test]
    fn shipped_tests_secure_the_car_first_and_leave_all_off() {
        let mut said = String::new();
        for name in system_names() {
            let system = System::find(&name, Path::new(".")).unwrap();
            for test in &system.tests {
                let steps = in_english(&test.steps);
                assert_eq!(out_of_order(&steps), None, "{name} {}", test.id);
                said.push_str(&steps.join(" ").to_lowercase());
            }
        }
        for (words, _) in DEEDS {
            assert!(said.contains(words), "no step says \"{words}\"");
        }
        // What is to be found is found.
        for steps in [
            "Start the engine. Gear in neutral or park, parking brake on, wheels chocked. Stop the engine.",
            "Pull that hose off.",
            "Gear in neutral or park, parking brake on, wheels chocked. Start the engine. Pull the hose off. Stop the engine.",
            "Gear in neutral or park, parking brake on, wheels chocked. Start the engine.",
            "Dipped beam on. Take the cover off behind the left lamp. Lamps off.",
            "Ignition on, dipped beam on. Lamps off.",
        ] {
            assert!(out_of_order(&[steps]).is_some(), "{steps}");
        }
    }

    /// What a test's steps have looked at and pushed home counts as looked at, and nothing else does.
    #[test]
    fn ends_that_the_steps_look_at_are_listed() {
        for name in ["vacuum-cabin-control", "vacuum-bonnet-control"] {
            let system = System::find(name, Path::new(".")).unwrap();
            for test in &system.tests {
                let steps = in_english(&test.steps);
                let looks = steps.iter().any(|step| step.contains("torn or split is the finding"));
                assert_eq!(looks, !test.ends.is_empty(), "{name} {}", test.id);
            }
        }
    }

    /// Components, tests and what each test needs, as the system file's agreed form lists them; `gauge-at-source` is
    /// ours, since without it nothing tells the source from the supply line.
    #[test]
    fn the_cabin_system_has_the_agreed_parts_and_tests() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let ids: Vec<&str> = system.components.iter().map(|c| c.id.as_str()).collect();
        assert_eq!(
            ids,
            [
                "source",
                "supply-line",
                "control",
                "left-line",
                "right-line",
                "left-actuator",
                "right-actuator"
            ]
        );
        for component in &system.components {
            let kinds: Vec<FaultKind> = component.faults.iter().map(|f| f.id).collect();
            let mut expected = vec![FaultKind::Leaks, FaultKind::Blocked];
            if component.id.ends_with("actuator") {
                expected.push(FaultKind::Sticks);
            }
            // More kinds stand beside the agreed ones.
            assert!(expected.iter().all(|kind| kinds.contains(kind)), "{}", component.id);
        }
        use VacuumSource::{Engine, Pump};
        #[rustfmt::skip]
        let rows: [(&str, VacuumSource, &[&str]); 10] = [
            ("operate-left", Engine, &["source", "supply-line", "control", "left-line", "left-actuator"]),
            ("operate-right", Engine, &["source", "supply-line", "control", "right-line", "right-actuator"]),
            ("pump-at-left-lamp", Pump, &["left-actuator"]),
            ("pump-at-right-lamp", Pump, &["right-actuator"]),
            ("pump-at-left-line", Pump, &["left-line", "left-actuator"]),
            ("pump-at-right-line", Pump, &["right-line", "right-actuator"]),
            ("gauge-at-control", Engine, &["source", "supply-line"]),
            ("gauge-at-source", Engine, &["source"]),
            ("bridge-left-at-control", Engine, &["source", "supply-line", "left-line", "left-actuator"]),
            ("bridge-right-at-control", Engine, &["source", "supply-line", "right-line", "right-actuator"]),
        ];
        for (id, source, needs) in rows {
            let test = &system.tests[system.test(id).unwrap()];
            let given: Vec<&str> = test.needs.iter().map(|&c| ids[c]).collect();
            assert_eq!((test.source, given.as_slice()), (source, needs), "{id}");
            assert_eq!(test.by_positions, id.starts_with("operate"), "{id}");
            assert!(test.shows.is_empty(), "{id} shows every kind of fault");
        }
    }

    #[test]
    fn an_unknown_name_lists_the_shipped_ones() {
        let message = System::find("vacuum-boot-control", Path::new("."))
            .unwrap_err()
            .to_string();
        assert!(message.contains("vacuum-cabin-control"), "{message}");
    }
}
