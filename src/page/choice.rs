//! Which photos are to be taken, as an address of the page holds it.

use super::guard::Refused;
use crate::error::Error;
use crate::language::said;
use crate::photo::Capture;
use crate::record::{Job, Shot, Side, Stage};
use crate::shot_list::{
    Check, GaugeStep, PlannedPhoto, Shows, USUAL_EVERY_S, USUAL_GAUGE, USUAL_MINUTES, USUAL_POSITIONS, Wanted,
    gauge_steps, list,
};
use hyper::StatusCode;
use std::collections::HashSet;
use std::ops::RangeInclusive;
use std::path::{Path, PathBuf};

/// What was chosen.
#[derive(Debug, Clone)]
pub(super) struct Choice {
    pub checks: Vec<Check>,
    /// A form was sent in which none of them was ticked.
    pub is_unticked: bool,
    /// `None`: those that the job lists.
    pub lamp: Option<Side>,
    pub stage: Option<Stage>,
    pub positions: String,
    pub gauge: String,
    /// Length of a leak-down, minutes, and the time between its photos, s.
    pub minutes: u16,
    pub every_s: u32,
    /// Also each view with the lamp off.
    pub lamp_off: bool,
    /// What the gauge showed as the valve was shut, with the photo that is sent.
    pub at_start: Option<GaugeStep>,
    /// The photo that is shown, its number in the list.
    pub number: usize,
    /// A photo of the job's folder that is asked about, as the job lists it.
    pub photo: Option<PathBuf>,
    /// Of a heap of photos: those that are left out, by the names of their files.
    pub skip: Vec<String>,
    /// Of a heap: the numbers of the files that were sent with it. What lies there from before is not taken in unasked.
    pub sent: Vec<RangeInclusive<u32>>,
    /// Of a heap: those of before that are taken in all the same, by the names of their files.
    pub take: Vec<String>,
    /// Of a heap: those that were sent and that the job had already, by the names of their files.
    pub had: Vec<String>,
    /// Of a heap: what somebody said that photos show, by the names of their files and the list's numbers.
    pub shows: Vec<(String, usize)>,
    /// Of a heap: what is with the list's end, of which there are no photos.
    pub rest: Option<Rest>,
}

/// What is with the photos of a list's end that a heap does not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Rest {
    /// They are to come.
    Later,
    /// They do not come: what was taken is all, as where the gauge goes no higher.
    Never,
}

impl Rest {
    /// As an address has it.
    pub const fn in_address(self) -> &'static str {
        match self {
            Self::Later => "later",
            Self::Never => "none",
        }
    }
}

impl Choice {
    /// The checks in the order in which they are done.
    pub const CHECKS: [Check; 5] = Check::ALL;

    /// Reads an address's query.
    ///
    /// # Errors
    /// [`Refused`] for what this page does not write into one.
    pub fn of_query(query: &str) -> Result<Self, Refused> {
        let odd = || {
            Refused::new(
                StatusCode::BAD_REQUEST,
                "This address is not one of the page's; go back and choose anew.",
                "Diese Adresse ist keine der Seite; zurückgehen und neu wählen.",
            )
        };
        let mut choice = Self {
            checks: Vec::new(),
            is_unticked: false,
            lamp: None,
            stage: None,
            positions: USUAL_POSITIONS.to_owned(),
            gauge: USUAL_GAUGE.to_owned(),
            minutes: USUAL_MINUTES,
            every_s: USUAL_EVERY_S,
            lamp_off: false,
            at_start: None,
            number: 1,
            photo: None,
            skip: Vec::new(),
            sent: Vec::new(),
            take: Vec::new(),
            had: Vec::new(),
            shows: Vec::new(),
            rest: None,
        };
        for (key, value) in form_urlencoded::parse(query.as_bytes()) {
            match (&*key, &*value) {
                ("check", name) => {
                    let check = name.parse().ok().filter(|check| Self::CHECKS.contains(check));
                    choice.checks.push(check.ok_or_else(odd)?);
                }
                ("lamp", "left") => choice.lamp = Some(Side::Left),
                ("lamp", "right") => choice.lamp = Some(Side::Right),
                ("stage", "before") => choice.stage = Some(Stage::Before),
                ("stage", "after") => choice.stage = Some(Stage::After),
                ("lamp" | "stage", "") => {}
                ("positions", names) => names.clone_into(&mut choice.positions),
                ("vacuum", steps) => steps.clone_into(&mut choice.gauge),
                ("minutes", typed) => choice.minutes = minutes(typed)?,
                ("every", typed) => choice.every_s = seconds(typed)?,
                ("off", "1") => choice.lamp_off = true,
                ("gauge", "") => {}
                ("gauge", showed) => choice.at_start = Some(one_step(showed)?),
                ("photo", name) => choice.photo = Some(PathBuf::from(name)),
                ("skip", name) => choice.skip.push(name.to_owned()),
                ("sent", numbers) => choice.sent.push(range(numbers).ok_or_else(odd)?),
                ("take", name) => choice.take.push(name.to_owned()),
                ("had", name) => choice.had.push(name.to_owned()),
                ("is", "") => {}
                ("is", said) => choice.shows.push(shown(said).ok_or_else(odd)?),
                ("rest", "later") => choice.rest = Some(Rest::Later),
                ("rest", "none") => choice.rest = Some(Rest::Never),
                ("n", number) => choice.number = number.parse().map_err(|_| odd())?,
                _ => return Err(odd()),
            }
        }
        if choice.checks.is_empty() {
            choice.is_unticked = form_urlencoded::parse(query.as_bytes()).any(|(key, _)| key == "positions");
            choice.checks.push(Check::Positions);
        }
        Ok(choice)
    }

    /// The query of the same choice, at photo `number`; what was chosen of a heap is not in it.
    pub fn query(&self, number: usize) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        for check in &self.checks {
            query.append_pair("check", &check.to_string());
        }
        query.append_pair("lamp", &self.lamp.map_or(String::new(), |side| side.to_string()));
        query.append_pair("stage", &self.stage.map_or(String::new(), |stage| stage.to_string()));
        query
            .append_pair("positions", &self.positions)
            .append_pair("vacuum", &self.gauge);
        query
            .append_pair("minutes", &self.minutes.to_string())
            .append_pair("every", &self.every_s.to_string());
        if self.lamp_off {
            query.append_pair("off", "1");
        }
        query.append_pair("n", &number.to_string());
        query.finish()
    }

    /// Whether a photo belongs to the heap: it was sent with it, or somebody took it in.
    pub fn is_of_heap(&self, name: &str) -> bool {
        let stem = Path::new(name).file_stem().and_then(|stem| stem.to_str());
        let number = stem.and_then(|stem| stem.parse::<u32>().ok());
        let was_sent = number.is_some_and(|number| self.sent.iter().any(|sent| sent.contains(&number)));
        was_sent || self.take.iter().any(|taken| taken == name)
    }

    /// The same with a photo of before taken into the heap.
    pub fn with_taken(mut self, name: &str) -> Self {
        self.take.push(name.to_owned());
        self
    }

    /// What is hidden in a form that asks for more of the same choice.
    pub fn fields(&self) -> Vec<(String, String)> {
        let query = self.query(self.number);
        form_urlencoded::parse(query.as_bytes()).into_owned().collect()
    }

    /// The photos to take.
    ///
    /// # Errors
    /// [`Error`] saying what does not fit.
    pub fn photos(&self, job: &Job) -> Result<Vec<PlannedPhoto>, Error> {
        let listed = [Side::Left, Side::Right]
            .into_iter()
            .filter(|&side| job.lamp(side).is_some());
        let lamps: Vec<Side> = listed
            .filter(|side| self.lamp.is_none_or(|lamp| lamp == *side))
            .collect();
        if lamps.is_empty() {
            return Err(Error::said(|language| {
                said!(
                    language;
                    "the job lists no such lamp; choose the other, or add it to job.toml",
                    "der Auftrag führt keinen solchen Scheinwerfer; den anderen wählen oder ihn in job.toml eintragen"
                )
            }));
        }
        list(&Wanted {
            checks: self.checks.clone(),
            lamps,
            stage: self.stage,
            positions: self.positions.split(',').map(str::to_owned).collect(),
            // Steps that no check asks for are none of its matter, typed for another as they may be.
            gauge: match self.checks.contains(&Check::Vacuum) {
                true => gauge_steps(&self.gauge)?,
                false => gauge_steps(&self.gauge).or_else(|_| gauge_steps(USUAL_GAUGE))?,
            },
            leak_down_s: 60 * u32::from(self.minutes),
            every_s: self.every_s,
            lamp_off: self.lamp_off,
        })
    }
}

/// What was typed of a choice, as it was typed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Typed {
    pub positions: String,
    pub gauge: String,
    pub minutes: String,
    pub every: String,
}

impl Default for Typed {
    fn default() -> Self {
        Self {
            positions: USUAL_POSITIONS.to_owned(),
            gauge: USUAL_GAUGE.to_owned(),
            minutes: USUAL_MINUTES.to_string(),
            every: USUAL_EVERY_S.to_string(),
        }
    }
}

impl Typed {
    /// What an address's query has of it, however wrong; and the choice with what can be read of it.
    pub fn of_query(query: &str) -> (Self, Option<Choice>) {
        let mut typed = Self::default();
        let mut rest = form_urlencoded::Serializer::new(String::new());
        for (key, value) in form_urlencoded::parse(query.as_bytes()) {
            match &*key {
                "positions" => typed.positions = value.into_owned(),
                "vacuum" => typed.gauge = value.into_owned(),
                "minutes" => typed.minutes = value.into_owned(),
                "every" => typed.every = value.into_owned(),
                _ => {
                    rest.append_pair(&key, &value);
                }
            }
        }
        (typed, Choice::of_query(&rest.finish()).ok())
    }

    /// What is wrong with one of these by itself, by the field's name.
    pub fn fault(&self, checks: &[Check]) -> Option<(&'static str, Refused)> {
        let status = StatusCode::UNPROCESSABLE_ENTITY;
        let of_gauge = || gauge_steps(&self.gauge).err().map(|e| Refused::of(status, &e));
        let gauge = checks
            .contains(&Check::Vacuum)
            .then(of_gauge)
            .flatten()
            .map(|why| ("vacuum", why));
        let of_minutes = || minutes(&self.minutes).err().map(|why| ("minutes", why));
        let of_every = || seconds(&self.every).err().map(|why| ("every", why));
        gauge.or_else(of_minutes).or_else(of_every)
    }
}

fn minutes(typed: &str) -> Result<u16, Refused> {
    whole(
        typed,
        "Give the minutes as a whole number.",
        "Die Minuten als ganze Zahl angeben.",
    )
}

fn seconds(typed: &str) -> Result<u32, Refused> {
    whole(
        typed,
        "Give the seconds as a whole number.",
        "Die Sekunden als ganze Zahl angeben.",
    )
}

fn whole<T: std::str::FromStr>(typed: &str, english: &'static str, german: &'static str) -> Result<T, Refused> {
    let why = || Refused::new(StatusCode::UNPROCESSABLE_ENTITY, english, german);
    typed.trim().parse().map_err(|_| why())
}

/// A run of file numbers, as in 3-8.
fn range(text: &str) -> Option<RangeInclusive<u32>> {
    let (first, last) = text.split_once('-')?;
    Some(first.parse().ok()?..=last.parse().ok()?)
}

/// What a photo was said to show, as in 0009.jpg:3.
fn shown(text: &str) -> Option<(String, usize)> {
    let (name, number) = text.rsplit_once(':')?;
    Some((name.to_owned(), number.parse().ok()?))
}

/// A gauge's reading, with its unit. A comma before one or two figures is a decimal one, as before three it might part two readings.
pub(super) fn one_step(text: &str) -> Result<GaugeStep, Refused> {
    let status = StatusCode::UNPROCESSABLE_ENTITY;
    let is_decimal = |rest: &str| (1..=2).contains(&rest.chars().take_while(char::is_ascii_digit).count());
    let text = match text.split_once(',') {
        Some((whole, rest)) if is_decimal(rest) && !rest.contains([',', '.']) => format!("{whole}.{rest}"),
        _ => text.to_owned(),
    };
    let mut steps = gauge_steps(&text).map_err(|e| Refused::of(status, &e))?;
    match (steps.pop(), steps.is_empty()) {
        (Some(step), true) => Ok(step),
        _ => Err(Refused::new(
            status,
            "Give one reading of the gauge, with its unit, as in 180 mbar.",
            "Einen Wert des Unterdruckmessers mit seiner Einheit angeben, etwa 180 mbar.",
        )),
    }
}

/// What the job has for a photo of a leak-down.
#[derive(Debug, Clone, Copy, PartialEq)]
enum OfSeries {
    /// This one of its shots.
    Held(usize),
    /// None, and it has one that was taken later, so that its time is over.
    Passed,
    Open,
}

/// Where each of a series' photos belongs in its list, by how long after the first it was taken: nearest to that, in order, and so that all have a
/// place. `after_s`, s: of the list's photos, rising; `taken_s`, s: of the series' photos, rising and not more of them.
fn places_in_series(after_s: &[f64], taken_s: &[f64]) -> Vec<usize> {
    let mut places: Vec<usize> = Vec::new();
    for (n, taken) in taken_s.iter().enumerate() {
        let elapsed_s = taken - taken_s[0];
        let (first, last) = (
            places.last().map_or(0, |last| last + 1),
            after_s.len() - (taken_s.len() - n),
        );
        let off = |at: &usize| (after_s[*at] - elapsed_s).abs();
        let nearest = (first..=last).min_by(|a, b| off(a).total_cmp(&off(b)));
        places.push(nearest.unwrap_or(first));
    }
    places
}

/// The leak-down that a photo of the list is of: its photos in the list, in order, and what the job has of it, each shot by its number in the job and
/// the list's photo that it is. By the photos' own times where the job has all of them, and one after another elsewhere.
fn series<'a>(
    photo: &PlannedPhoto,
    photos: &'a [PlannedPhoto],
    job: &Job,
) -> (Vec<&'a PlannedPhoto>, Vec<(usize, usize)>, Option<f64>) {
    let of = (photo.lamp, photo.stage);
    let is_of = |other: &&PlannedPhoto| matches!(other.shows, Shows::Sealed { .. }) && (other.lamp, other.stage) == of;
    let planned: Vec<&PlannedPhoto> = photos.iter().filter(is_of).collect();
    let shots = job.shot.iter().enumerate();
    let shots = shots.filter(|(_, shot)| shot.sealed && (shot.lamp, shot.stage) == of);
    let timed = shots.clone().map(|(n, shot)| {
        let capture = Capture {
            taken: shot.taken.clone(),
            ..Capture::default()
        };
        Some((n, capture.clock_s()?))
    });
    let timed: Option<Vec<(usize, f64)>> = timed.collect();
    let Some(mut timed) = timed.filter(|timed| !timed.is_empty() && timed.len() <= planned.len()) else {
        return (planned, shots.map(|(n, _)| n).zip(0..).collect(), None);
    };
    timed.sort_by(|a, b| a.1.total_cmp(&b.1));
    let taken_s: Vec<f64> = timed.iter().map(|(_, taken_s)| *taken_s).collect();
    let after_s: Vec<f64> = planned.iter().map(|planned| f64::from(after_s(planned))).collect();
    let places = places_in_series(&after_s, &taken_s);
    let held = timed.iter().map(|(n, _)| *n).zip(places).collect();
    (planned, held, Some(taken_s[0]))
}

/// How long the valve is to be shut as a photo of a leak-down is taken, s.
fn after_s(photo: &PlannedPhoto) -> u32 {
    match photo.shows {
        Shows::Sealed { after_s, .. } => after_s,
        _ => 0,
    }
}

fn of_series(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job) -> OfSeries {
    let (planned, held, _) = series(photo, photos, job);
    let place = planned.iter().position(|other| other.number == photo.number);
    let is_here = |(n, at): &(usize, usize)| (Some(*at) == place).then_some(*n);
    match held.iter().find_map(is_here) {
        Some(n) => OfSeries::Held(n),
        None if held.iter().any(|(_, at)| Some(*at) > place) => OfSeries::Passed,
        None => OfSeries::Open,
    }
}

/// Whether a photo of a leak-down was not taken and its time is over, as the job has a later one. The job's shots have their times.
pub(super) fn is_passed(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job) -> bool {
    matches!(photo.shows, Shows::Sealed { .. }) && of_series(photo, photos, job) == OfSeries::Passed
}

/// When a photo of a leak-down was to be taken, by the clock of those that the job has, and how far off another's time may be, both s.
pub(super) fn due(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job) -> Option<(f64, f64)> {
    let Shows::Sealed { after_s, every_s, .. } = photo.shows else {
        return None;
    };
    let (_, _, first_s) = series(photo, photos, job);
    Some((first_s? + f64::from(after_s), f64::from(every_s) / 2.0))
}

/// Whether nothing is to be taken any more for this photo of the list: the job has it, or it is one of a leak-down whose time is over.
pub(super) fn is_done(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job) -> bool {
    if photo.shows == Shows::LampOff {
        let mut of_view = photos_of_view(photo, photos, job).peekable();
        return of_view.peek().is_some() && of_view.all(|shot| shot.lamp_off.is_some());
    }
    match photo.shows {
        Shows::Sealed { .. } => of_series(photo, photos, job) != OfSeries::Open,
        _ => photo.is_in(job),
    }
}

/// The job's shots that were taken for this photo of the list, each with its number in the job; of one with the lamp off none, as it belongs to
/// others.
pub(super) fn held<'a>(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &'a Job) -> Vec<(usize, &'a Shot)> {
    match photo.shows {
        Shows::LampOff => return Vec::new(),
        Shows::Sealed { .. } => {
            return match of_series(photo, photos, job) {
                OfSeries::Held(n) => vec![(n, &job.shot[n])],
                OfSeries::Passed | OfSeries::Open => Vec::new(),
            };
        }
        Shows::Position(_) | Shows::Vacuum { .. } => {}
    }
    let all = job.shot.iter().enumerate();
    let is_it = |(_, shot): &(usize, &Shot)| {
        let alone = Job {
            shot: vec![(*shot).clone()],
            ..Job::of(job.job.clone(), job.bay.clone(), job.traffic)
        };
        photo.is_in(&alone)
    };
    all.filter(is_it).collect()
}

/// Whether the job has photos for this one of the list, and none of them gives a figure, as far as that is known: it is to be taken again.
/// `without`: the job's shots that are known to give none.
pub(super) fn lacks_figure(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job, without: &HashSet<usize>) -> bool {
    let held = held(photo, photos, job);
    !held.is_empty() && held.iter().all(|(n, _)| without.contains(n))
}

/// The job's shots that were taken for the same view of the list.
pub(super) fn photos_of_view<'a>(
    photo: &'a PlannedPhoto,
    photos: &'a [PlannedPhoto],
    job: &'a Job,
) -> impl Iterator<Item = &'a Shot> {
    let of_view = move |other: &&PlannedPhoto| other.view == photo.view && other.shows != Shows::LampOff;
    let was_planned = move |shot: &&Shot| {
        let alone = Job {
            shot: vec![(*shot).clone()],
            ..Job::of(job.job.clone(), job.bay.clone(), job.traffic)
        };
        photos.iter().filter(of_view).any(|planned| planned.is_in(&alone))
    };
    job.shot.iter().filter(was_planned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn photos_of_a_series_are_known_by_their_times() {
        let minute: Vec<f64> = (0..5).map(|n| 60.0 * f64::from(n)).collect();
        for (taken_s, places) in [
            (vec![1000.0, 1060.0, 1120.0, 1180.0, 1240.0], vec![0, 1, 2, 3, 4]),
            // The third was not taken.
            (vec![1000.0, 1063.0, 1178.0, 1241.0], vec![0, 1, 3, 4]),
            // Somebody was slow: all have a place all the same.
            (vec![1000.0, 1120.0, 1240.0, 1360.0, 1480.0], vec![0, 1, 2, 3, 4]),
            // Twice within one time: the second stands for the next.
            (vec![1000.0, 1058.0, 1064.0], vec![0, 1, 2]),
            (vec![1000.0], vec![0]),
            (vec![], vec![]),
        ] {
            assert_eq!(places_in_series(&minute, &taken_s), places, "{taken_s:?}");
        }
    }

    #[test]
    fn a_gauge_is_read_with_a_decimal_comma_and_two_readings_are_none() {
        let read = |text| one_step(text).map(|step| step.text).map_err(|refused| refused.0);
        assert_eq!(read("180 mbar").as_deref(), Ok("180 mbar"));
        assert_eq!(read("180,5 mbar").as_deref(), Ok("180.5 mbar"));
        assert_eq!(read("0,18 bar").as_deref(), Ok("0.18 bar"));
        for amiss in ["0,100 mbar", "100,200,300 mbar", "180", "much mbar"] {
            assert_eq!(read(amiss), Err(StatusCode::UNPROCESSABLE_ENTITY), "{amiss}");
        }
    }
}
