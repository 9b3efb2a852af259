//! Which photos are to be taken, as an address of the page holds it.

use super::guard::Refused;
use crate::error::Error;
use crate::language::said;
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
    /// Of a heap: what somebody said that photos without a time show, by the names of their files and the list's numbers.
    pub shows: Vec<(String, usize)>,
    /// Of a heap: photos of the list's end are to come.
    pub rest_later: bool,
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
        let whole = |english, german| Refused::new(StatusCode::UNPROCESSABLE_ENTITY, english, german);
        let minutes_whole = || {
            whole(
                "Give the minutes as a whole number.",
                "Die Minuten als ganze Zahl angeben.",
            )
        };
        let seconds_whole = || {
            whole(
                "Give the seconds as a whole number.",
                "Die Sekunden als ganze Zahl angeben.",
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
            rest_later: false,
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
                ("minutes", minutes) => choice.minutes = minutes.parse().map_err(|_| minutes_whole())?,
                ("every", seconds) => choice.every_s = seconds.parse().map_err(|_| seconds_whole())?,
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
                ("rest", "later") => choice.rest_later = true,
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
            gauge: gauge_steps(&self.gauge)?,
            leak_down_s: 60 * u32::from(self.minutes),
            every_s: self.every_s,
            lamp_off: self.lamp_off,
        })
    }
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
fn one_step(text: &str) -> Result<GaugeStep, Refused> {
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

/// Whether the job has this photo of the list: of a leak-down as many as it has photos of it.
pub(super) fn is_done(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &Job) -> bool {
    if photo.shows == Shows::LampOff {
        let mut of_view = photos_of_view(photo, photos, job).peekable();
        return of_view.peek().is_some() && of_view.all(|shot| shot.lamp_off.is_some());
    }
    let is_sealed = |photo: &PlannedPhoto| matches!(photo.shows, Shows::Sealed { .. });
    if !is_sealed(photo) {
        return photo.is_in(job);
    }
    let of = (photo.lamp, photo.stage);
    let before = photos.iter().take_while(|other| other.number < photo.number);
    let before = before
        .filter(|other| is_sealed(other) && (other.lamp, other.stage) == of)
        .count();
    job.shot
        .iter()
        .filter(|shot| shot.sealed && (shot.lamp, shot.stage) == of)
        .count()
        > before
}

/// The job's shots that were taken for this photo of the list, each with its number in the job; of one with the lamp off none, as it belongs to
/// others.
pub(super) fn held<'a>(photo: &PlannedPhoto, photos: &[PlannedPhoto], job: &'a Job) -> Vec<(usize, &'a Shot)> {
    let all = job.shot.iter().enumerate();
    let is_sealed = |photo: &PlannedPhoto| matches!(photo.shows, Shows::Sealed { .. });
    if photo.shows == Shows::LampOff {
        return Vec::new();
    }
    if is_sealed(photo) {
        let of = (photo.lamp, photo.stage);
        let is_before =
            |other: &&PlannedPhoto| other.number < photo.number && is_sealed(other) && (other.lamp, other.stage) == of;
        let before = photos.iter().filter(is_before).count();
        let of_series = all.filter(|(_, shot)| shot.sealed && (shot.lamp, shot.stage) == of);
        return of_series.skip(before).take(1).collect();
    }
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
