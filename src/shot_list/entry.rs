//! The entries for the job file.

use super::{Drive, GaugeStep, PlannedPhoto, Shows, TakenPhoto};
use crate::record::quoted;

/// Stands where the reading of the gauge belongs: nobody but who took the photo knows it.
const GAUGE_AT_START: &str =
    "# vacuum = \"\"    # what the gauge showed as the valve was shut: fill in, and take the first # away\n";

/// The `[[shot]]` entries for paired photos, as TOML with a blank line before each. A photo with the lamp off becomes the
/// `lamp_off` of the others of its view.
#[must_use]
pub fn entries(pairs: &[(PlannedPhoto, TakenPhoto)]) -> String {
    let off_of = |planned: &PlannedPhoto| {
        let is_off = |other: &PlannedPhoto| other.shows == Shows::LampOff && other.view == planned.view;
        pairs
            .iter()
            .find(|(other, _)| is_off(other))
            .map(|(_, off)| off.listed_as.as_str())
    };
    let texts = pairs
        .iter()
        .map(|(planned, photo)| entry(planned, &photo.listed_as, off_of(planned), None));
    texts.collect()
}

/// The `[[shot]]` entry for one photo, by its path as the job lists it; with the photo with the lamp off, where there is one, and
/// for the first of a leak-down with what the gauge showed, where that is known. A photo with the lamp off has none of its own.
#[must_use]
pub fn entry(planned: &PlannedPhoto, listed_as: &str, lamp_off: Option<&str>, at_start: Option<&GaugeStep>) -> String {
    let mut keys: Vec<(&str, String)> = vec![
        ("photo", quoted(listed_as)),
        ("lamp", quoted(&planned.lamp.to_string())),
    ];
    if let Some(stage) = planned.stage {
        keys.push(("stage", quoted(&stage.to_string())));
    }
    match &planned.shows {
        Shows::LampOff => return String::new(),
        Shows::Position(position) => keys.push(("position", quoted(position))),
        Shows::Vacuum { gauge, branch } => {
            keys.push(("vacuum", quoted(&gauge.text)));
            keys.push(("branch", quoted(&branch.to_string())));
        }
        Shows::Sealed { .. } => {
            keys.push(("sealed", "true".to_owned()));
            keys.extend(at_start.map(|gauge| ("vacuum", quoted(&gauge.text))));
        }
    }
    if planned.drive == Drive::Pump {
        keys.push(("series", quoted(AT_THE_LAMP)));
    }
    keys.extend(lamp_off.map(|off| ("lamp_off", quoted(off))));
    let mut text = "\n[[shot]]\n".to_owned();
    for (key, value) in keys {
        text.push_str(&format!("{key} = {value}\n"));
    }
    if at_start.is_none() && matches!(planned.shows, Shows::Sealed { after_s: 0, .. }) {
        text.push_str(GAUGE_AT_START);
    }
    text
}

/// Where the list has the pump joined, by which the photos count as the test of that lamp's actuator.
pub(crate) const AT_THE_LAMP: &str = "at the lamp";

#[cfg(test)]
mod tests {
    use super::super::{Check, Wanted, gauge_steps, list};
    use super::*;
    use crate::photo::Capture;
    use crate::record::{Job, Side, parse_toml};
    use std::path::Path;

    const JOB: &str = "# my notes\nschema = 1\njob = \"W\"   # spaced\nbay = \"bay.toml\"\ntraffic = \"right\"\n\
        [[lamp]]\nside = \"left\"\ncentre_height_mm = 650.0\ncentre_x_mm = -560.0\ndistance_mm = 10000.0";

    fn pairs(checks: &[Check]) -> Vec<(PlannedPhoto, TakenPhoto)> {
        let wanted = Wanted {
            lamps: vec![Side::Left],
            gauge: gauge_steps("0,10 inHg").unwrap(),
            leak_down_s: 60,
            lamp_off: true,
            ..Wanted::made(checks)
        };
        let photo = |n: usize| TakenPhoto {
            name: format!("{n}.jpg"),
            listed_as: format!("photos/{n}.jpg"),
            sha256: n.to_string(),
            capture: Capture::default(),
            time_s: 60.0 * n as f64,
            brightness: 1.0,
            light: 0.5,
        };
        let planned = list(&wanted).unwrap().into_iter();
        planned
            .map(|planned| (planned.clone(), photo(planned.number)))
            .collect()
    }

    #[test]
    fn entries_read_back_as_what_was_paired() {
        let all = pairs(&[Check::Positions, Check::Vacuum, Check::LeakDown]);
        let after = format!("{JOB}\n{}", entries(&all));
        let job: Job = parse_toml(Path::new("job.toml"), &after).unwrap();
        // Two positions, 0 and 10 inHg up, 0 down, two of the leak-down; the eighth photo is their lamp_off.
        assert_eq!((all.len(), job.shot.len()), (8, 7));
        for (shot, (planned, photo)) in job.shot.iter().zip(&all) {
            assert_eq!(shot.photo, Path::new(&photo.listed_as));
            assert_eq!(shot.lamp_off.as_deref(), Some(Path::new("photos/8.jpg")));
            let mut one = job.clone();
            one.shot = vec![shot.clone()];
            assert!(planned.is_in(&one), "{planned:?} against {shot:?}");
            let joined = (planned.drive == Drive::Pump).then_some("at the lamp");
            assert_eq!(shot.series.as_deref(), joined, "where the list has the pump joined");
        }
        let vacuum_mbar: Vec<Option<f64>> = job.shot.iter().map(|s| s.vacuum.map(|v| v.mbar().round())).collect();
        // 10 inHg = 338.6389 mbar (NIST SP 811, B.8).
        let (none, ten) = (Some(0.0), Some(339.0));
        assert_eq!(vacuum_mbar, [None, None, none, ten, none, None, None]);
    }

    #[test]
    fn what_the_gauge_showed_stands_with_the_first_of_a_leak_down() {
        let one = pairs(&[Check::LeakDown]).swap_remove(0);
        let gauge = gauge_steps("6 inHg").unwrap().swap_remove(0);
        let text = entry(&one.0, "1.jpg", None, Some(&gauge));
        assert!(text.contains("vacuum = \"6 inHg\"") && !text.contains('#'), "{text}");
        let job: Job = parse_toml(Path::new("job.toml"), &format!("{JOB}\n{text}")).unwrap();
        assert_eq!((job.shot[0].vacuum, job.shot[0].sealed), (Some(gauge.vacuum), true));
    }

    #[test]
    fn names_of_files_cannot_break_the_job() {
        let mut one = pairs(&[Check::Aim]);
        for name in [
            "a \"b\" #.jpg",
            "a\\b.jpg",
            "line\nbreak.jpg",
            "Ünïcode '1'.jpg",
            "\u{7f}\t.jpg",
        ] {
            name.clone_into(&mut one[0].1.listed_as);
            let after = format!("{JOB}\n{}", entries(&one));
            let job: Job = parse_toml(Path::new("job.toml"), &after).unwrap();
            assert_eq!(job.shot[0].photo, Path::new(name));
        }
    }
}
