//! What may be said of a leak-down, with its figures.

use super::super::Interval;
use super::{LEAST_PHOTOS, LeakState};
use crate::adjuster::Movement;
use crate::language::{Language, said};

/// How far the beam crept over a series, held against the least travel of interest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crept {
    /// Change of the inclination, per cent.
    pub creep_percent: Interval,
    /// The same on the wall, mm.
    pub wall_mm: f64,
    /// In so many minutes.
    pub minutes: f64,
    /// The job's least travel of interest, per cent.
    pub least_travel_percent: f64,
    /// What that makes of it.
    pub movement: Movement,
}

impl Crept {
    /// "crept by 0.01 ± 0.01 % (1 mm on the wall) in 3.0 minutes".
    fn said(&self, language: Language) -> String {
        let (size, minutes) = (self.creep_percent.size(), language.decimal(self.minutes, 1));
        let size = size.text(language, 2);
        match self.wall_mm.abs().round() {
            mm if mm < 1.0 => said!(
                language; "crept by {size} % (less than 1 mm on the wall) in {minutes} minutes",
                "kroch in {minutes} Minuten um {size} % (weniger als 1 mm auf der Wand)"
            ),
            mm => said!(
                language; "crept by {size} % ({mm:.0} mm on the wall) in {minutes} minutes",
                "kroch in {minutes} Minuten um {size} % ({mm:.0} mm auf der Wand)"
            ),
        }
    }

    fn least(&self, language: Language) -> String {
        language.figure(&self.least_travel_percent.to_string())
    }
}

/// What may be said of a leak-down, with its figures; outputs for machines have its words.
#[derive(Debug, Clone, PartialEq)]
pub enum LeakFinding {
    /// Too few timed photos, or over too short a time.
    TooShort {
        /// Photos with a time.
        photos: usize,
        /// From the first to the last, s.
        duration_s: f64,
    },
    /// The beam creeps, and there is no response to tell the vacuum from.
    Creeps {
        /// Change of the inclination, per cent.
        creep_percent: Interval,
        /// In so many minutes.
        minutes: f64,
        /// Time constant of the beam's course, s.
        time_constant_s: Option<Interval>,
    },
    /// The beam keeps its place, and there is no response to tell the vacuum from.
    BeamKept {
        /// What it surely did not change by, per cent.
        below_percent: f64,
        /// In so many minutes.
        minutes: f64,
    },
    /// The beam surely creeps, by less than the least travel of interest: nothing is seen to leak. There is no response to tell the vacuum
    /// from.
    CreepTrifling(Crept),
    /// The beam surely creeps, and whether by more than the least travel of interest is not sure.
    CreepUnclear(Crept),
    /// The beam moved by less than the least travel of interest, and a gauge that was read at the first photo and at the last shows the same.
    GaugeAndBeamKept {
        /// How far the beam crept.
        crept: Crept,
        /// What the gauge showed first and last, mbar.
        mbar: [f64; 2],
        /// What is surely not lost by it (95 %, one-sided), mbar.
        below_mbar: f64,
    },
    /// The photos hold no course.
    NoCourse,
    /// Vacuum is lost.
    Leaks {
        /// Loss at the first photo, mbar per minute.
        start_rate_mbar_per_min: Interval,
        /// Half of what is lost in the end is lost in this time, s.
        half_time_s: Interval,
        /// Time constant, s.
        time_constant_s: Interval,
        /// Where the leak stops, mbar, if it surely does before nothing is left.
        residual_mbar: Option<Interval>,
    },
    /// Vacuum holds.
    Holds {
        /// What is surely not lost, mbar.
        below_mbar: f64,
        /// In so many minutes.
        minutes: f64,
    },
    /// The beam lies elsewhere than the response has it at what the gauge showed.
    GaugeAgainstResponse {
        /// What the gauge showed, mbar.
        gauge_mbar: f64,
        /// The vacuum at which the response has the beam there, mbar.
        response_mbar: f64,
    },
    /// The beam keeps its place on the slope of its response, and no gauge was typed to bear out that vacuum keeps it there.
    NoGauge {
        /// For so many minutes.
        minutes: f64,
    },
    /// The gauge's readings within the series go against a shut valve, or against a beam that keeps its place.
    GaugeAgainstValve {
        /// The two photos, as the job names them, in order of time.
        photos: [String; 2],
        /// What the gauge showed at each, mbar.
        mbar: [f64; 2],
    },
    /// The gauge's loss over the series is another than that which the beam shows through its response.
    GaugeAgainstBeam {
        /// The two photos, as the job names them, in order of time.
        photos: [String; 2],
        /// What the gauge lost between them, mbar.
        gauge_mbar: f64,
        /// What the beam has it lost, mbar.
        beam_mbar: Interval,
    },
    /// The job's list goes back in time once, as where the clock was set back within the series.
    ClockAgainstList {
        /// The two photos, as the job names them and in its order.
        photos: [String; 2],
    },
    /// The beam lies where it does not answer a loss.
    BeamWouldNotAnswer {
        /// Whether the play of the hysteresis can be why.
        has_play: bool,
        /// Whether the movement sticks, so that a beam that stands still says nothing.
        sticks: bool,
    },
}

impl LeakFinding {
    /// What it comes to.
    pub(super) fn state(&self) -> LeakState {
        match self {
            Self::Creeps { .. } | Self::Leaks { .. } => LeakState::Leaks,
            Self::Holds { .. } | Self::GaugeAndBeamKept { .. } => LeakState::Holds,
            Self::TooShort { .. }
            | Self::BeamKept { .. }
            | Self::CreepTrifling(_)
            | Self::CreepUnclear(_)
            | Self::NoCourse
            | Self::NoGauge { .. }
            | Self::BeamWouldNotAnswer { .. }
            | Self::GaugeAgainstResponse { .. }
            | Self::GaugeAgainstBeam { .. }
            | Self::ClockAgainstList { .. }
            | Self::GaugeAgainstValve { .. } => LeakState::CannotTell,
        }
    }
}

impl LeakFinding {
    /// Whether entries of the job contradict each other or the photos, so that something is to be mended before more can be said.
    #[must_use]
    pub fn is_contradiction(&self) -> bool {
        matches!(
            self,
            Self::GaugeAgainstResponse { .. }
                | Self::GaugeAgainstBeam { .. }
                | Self::GaugeAgainstValve { .. }
                | Self::ClockAgainstList { .. }
        )
    }

    /// Its words.
    #[must_use]
    pub fn said(&self, language: Language) -> String {
        match self {
            Self::TooShort { photos: 1, .. } => said!(
                language;
                "cannot tell: one timed photo; take at least {LEAST_PHOTOS}, better 10, spread over some minutes",
                "nicht feststellbar: ein Foto mit Uhrzeit; mindestens {LEAST_PHOTOS}, besser 10 aufnehmen, verteilt über einige Minuten"
            ),
            Self::TooShort { photos, duration_s } => said!(
                language;
                "cannot tell: {photos} timed photos over {duration_s:.0} s; take at least {LEAST_PHOTOS}, better 10, spread \
                 over some minutes",
                "nicht feststellbar: {photos} Fotos mit Uhrzeit über {duration_s:.0} s; mindestens {LEAST_PHOTOS}, besser 10 aufnehmen, \
                 verteilt über einige Minuten"
            ),
            Self::Creeps {
                creep_percent,
                minutes,
                time_constant_s,
            } => {
                let time = time_constant_s.as_ref().map(|time| {
                    said!(
                        language;
                        ", with a time constant of the beam of {} s",
                        ", mit einer Zeitkonstante des Lichtkegels von {} s";
                        time.text(language, 0)
                    )
                });
                said!(
                    language;
                    "creeps by {} % in {} minutes{}; how much vacuum that is, is not known: that takes pump steps of this lamp whose \
                     course it follows",
                    "kriecht um {} % in {} Minuten{}; wie viel Unterdruck das ist, ist nicht bekannt: dazu braucht es Pumpenschritte dieses \
                     Scheinwerfers, deren Verlauf er folgt";
                    creep_percent.text(language, 2),
                    language.decimal(*minutes, 1),
                    time.unwrap_or_default()
                )
            }
            Self::BeamKept { below_percent, minutes } => said!(
                language;
                "cannot tell: the beam kept its place within {} % for {} minutes, but whether the \
                 vacuum held cannot be told without the lamp's response to it: it may stand on its end stop",
                "nicht feststellbar: der Lichtkegel blieb innerhalb von {} % {} Minuten lang stehen, aber ob der Unterdruck hielt, ist \
                 ohne die Kennlinie des Scheinwerfers nicht zu sagen: er kann am Anschlag stehen";
                language.decimal(*below_percent, 2),
                language.decimal(*minutes, 1)
            ),
            Self::CreepTrifling(crept) => said!(
                language;
                "cannot tell: no leak is seen, since the beam {}, less than the {} % that counts as moving; that the vacuum held is seen only with \
                 what the gauge shows at the first photo and at the last (vacuum = \"…\" with both), as the beam may stand on its end stop",
                "nicht feststellbar: ein Leck ist nicht zu sehen, denn der Lichtkegel {}, weniger als die {} %, ab denen es als Bewegung zählt; \
                 dass der Unterdruck hielt, zeigt sich erst mit dem, was der Unterdruckmesser beim ersten und beim letzten Foto zeigt (vacuum = \
                 \"…\" bei beiden), denn der Lichtkegel kann am Anschlag stehen";
                crept.said(language),
                crept.least(language)
            ),
            Self::CreepUnclear(crept) => said!(
                language;
                "cannot tell: the beam {}, and whether that is more than the {} % that counts as moving is not sure; take photos for longer, and \
                 read the gauge at the first one and at the last (vacuum = \"…\" with both)",
                "nicht feststellbar: der Lichtkegel {}, und ob das mehr als die {} % ist, ab denen es als Bewegung zählt, ist nicht sicher; länger \
                 Fotos aufnehmen und den Unterdruckmesser beim ersten und beim letzten ablesen (vacuum = \"…\" bei beiden)";
                crept.said(language),
                crept.least(language)
            ),
            Self::GaugeAndBeamKept {
                crept,
                mbar: [first, last],
                below_mbar,
            } => said!(
                language;
                "holds: the beam {}, less than the {} % that counts as moving, and the gauge showed {first:.0} mbar at the first photo and \
                 {last:.0} mbar at the last: less than {below_mbar:.0} mbar lost",
                "hält: der Lichtkegel {}, weniger als die {} %, ab denen es als Bewegung zählt, und der Unterdruckmesser zeigte {first:.0} mbar \
                 beim ersten Foto und {last:.0} mbar beim letzten: weniger als {below_mbar:.0} mbar verloren";
                crept.said(language),
                crept.least(language)
            ),
            Self::GaugeAgainstResponse {
                gauge_mbar,
                response_mbar,
            } => said!(
                language;
                "cannot tell: the gauge showed {gauge_mbar:.0} mbar, and by the lamp's response the beam lies where about \
                 {response_mbar:.0} mbar would take it; read the gauge again, or photograph the response anew",
                "nicht feststellbar: der Unterdruckmesser zeigte {gauge_mbar:.0} mbar, und nach der Kennlinie des Scheinwerfers liegt der \
                 Lichtkegel da, wohin ihn etwa {response_mbar:.0} mbar brächten; den Unterdruckmesser neu ablesen oder die Kennlinie neu \
                 fotografieren"
            ),
            Self::GaugeAgainstValve { photos, mbar } => said!(
                language;
                "cannot tell: the gauge showed {:.0} mbar at {} and {:.0} mbar at {}, {}",
                "nicht feststellbar: der Unterdruckmesser zeigte {:.0} mbar bei {} und {:.0} mbar bei {}, {}";
                mbar[0],
                photos[0],
                mbar[1],
                photos[1],
                match (language, mbar[1] > mbar[0]) {
                    (Language::English, true) => {
                        "which no shut valve lets rise: the pump was worked in between, a reading is wrong, or a photo stands in the \
                         wrong series"
                    }
                    (Language::English, false) => {
                        "so that vacuum was lost, though the beam kept its place: a reading is wrong, or the beam does not answer"
                    }
                    (Language::German, true) => {
                        "was ein geschlossenes Ventil nicht zulässt: zwischendurch wurde gepumpt, ein Wert ist falsch, oder ein Foto steht \
                         in der falschen Reihe"
                    }
                    (Language::German, false) => {
                        "also ging Unterdruck verloren, obwohl der Lichtkegel stehen blieb: ein Wert ist falsch, oder der Lichtkegel \
                         antwortet nicht"
                    }
                }
            ),
            Self::GaugeAgainstBeam {
                photos: [first, last],
                gauge_mbar,
                beam_mbar,
            } => said!(
                language;
                "cannot tell: from {first} to {last} the gauge lost {gauge_mbar:.0} mbar, and by the lamp's response the beam moved as by \
                 a loss of {} mbar; read the gauge again, or photograph the response anew",
                "nicht feststellbar: von {first} bis {last} verlor der Unterdruckmesser {gauge_mbar:.0} mbar, und nach der Kennlinie des \
                 Scheinwerfers bewegte sich der Lichtkegel wie bei einem Verlust von {} mbar; den Unterdruckmesser neu ablesen oder die \
                 Kennlinie neu fotografieren";
                beam_mbar.text(language, 0)
            ),
            Self::ClockAgainstList {
                photos: [before, after],
            } => said!(
                language;
                "cannot tell: {after} is listed after {before} and was taken earlier, by the camera's clock; if the clock was set in \
                 between, enter the times by hand (taken = \"…\"), and if only the list is mixed up, put it in the order in which the \
                 photos were taken",
                "nicht feststellbar: {after} steht hinter {before} und wurde nach der Uhr der Kamera früher aufgenommen; wurde die Uhr \
                 dazwischen gestellt, die Zeiten von Hand eintragen (taken = \"…\"), und ist nur die Liste durcheinander, sie in die \
                 Reihenfolge der Aufnahmen bringen"
            ),
            Self::NoGauge { minutes } => said!(
                language;
                "cannot tell: the beam kept its place on the slope of its response for {} minutes, but no gauge reading \
                 bears out that vacuum kept it there, since a beam that is jammed keeps its place, too; enter what the gauge \
                 showed as the valve was shut (vacuum = \"…\") with the first photo",
                "nicht feststellbar: der Lichtkegel blieb auf der Schräge seiner Kennlinie {} Minuten lang stehen, aber kein Wert des \
                 Unterdruckmessers belegt, dass der Unterdruck ihn dort hielt, denn auch ein klemmender Lichtkegel bleibt stehen; beim \
                 ersten Foto eintragen, was der Unterdruckmesser beim Schließen des Ventils zeigte (vacuum = \"…\")";
                language.decimal(*minutes, 1)
            ),
            Self::NoCourse => said!(
                language;
                "cannot tell: the photos hold no course in time; take more of them",
                "nicht feststellbar: die Fotos tragen keinen zeitlichen Verlauf; mehr davon aufnehmen"
            ),
            Self::Leaks {
                start_rate_mbar_per_min,
                half_time_s,
                time_constant_s,
                residual_mbar,
            } => {
                let stops = residual_mbar.as_ref().map(|residual| {
                    said!(
                        language; "; it stops at {} mbar", "; es endet bei {} mbar"; residual.text(language, 0)
                    )
                });
                said!(
                    language;
                    "leaks: {} mbar per minute at the start, half of it lost in {} s (time constant {} s){}",
                    "ist undicht: am Anfang {} mbar je Minute, die Hälfte verloren in {} s (Zeitkonstante {} s){}";
                    start_rate_mbar_per_min.text(language, 1),
                    half_time_s.text(language, 0),
                    time_constant_s.text(language, 0),
                    stops.unwrap_or_default()
                )
            }
            Self::Holds { below_mbar, minutes } => said!(
                language;
                "holds: by the beam, less than {below_mbar:.0} mbar lost in {} minutes",
                "hält: nach dem Lichtkegel weniger als {below_mbar:.0} mbar verloren in {} Minuten";
                language.decimal(*minutes, 1)
            ),
            Self::BeamWouldNotAnswer { sticks: true, .. } => said!(
                language;
                "cannot tell: the movement sticks, so that a beam that stands still says nothing of the vacuum; mend what binds, \
                 or watch a gauge",
                "nicht feststellbar: die Bewegung klemmt, ein stehender Lichtkegel sagt also nichts über den Unterdruck; gängig machen, \
                 was klemmt, oder einen Unterdruckmesser beobachten"
            ),
            Self::BeamWouldNotAnswer { has_play, .. } => said!(
                language;
                "cannot tell: the beam lies where it does not answer a loss ({}); pump only to the middle of the travel, \
                 release a little, shut the valve, and take photos for longer",
                "nicht feststellbar: der Lichtkegel liegt da, wo er auf einen Verlust nicht antwortet ({}); nur bis zur Mitte des Stellwegs \
                 pumpen, etwas nachlassen, das Ventil schließen und länger Fotos aufnehmen";
                match (language, has_play) {
                    (Language::English, true) => "end stop, dead band, or the play of its hysteresis",
                    (Language::English, false) => "end stop or dead band",
                    (Language::German, true) => "Anschlag, Totbereich oder das Spiel seiner Hysterese",
                    (Language::German, false) => "Anschlag oder Totbereich",
                }
            ),
        }
    }
}

impl std::fmt::Display for LeakFinding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.said(Language::English))
    }
}
