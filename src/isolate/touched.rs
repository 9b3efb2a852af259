//! What a repair says of photos: those from before it show another car than those from after it.

use super::lamp_of;
use crate::record::{RepairEntry, Shot, Side, Stage, System};

/// The lamp of which a repair mended a part that serves it alone; `None` of a part that both share, of none, and where the system does not say.
fn lamp_mended(system: Option<&System>, repair: &RepairEntry) -> Option<Side> {
    let system = system?;
    lamp_of(system, system.component(repair.component.as_deref()?)?)
}

/// Whether a repair can have changed where a lamp's beam lies: all but one of the other lamp's own parts. One that names no part is of a lamp's
/// screw, or of what nobody can tell.
#[must_use]
pub(crate) fn concerns(system: Option<&System>, repair: &RepairEntry, lamp: Side) -> bool {
    lamp_mended(system, repair).is_none_or(|mended| mended == lamp)
}

/// Whether a photo from after a repair, taken before this later one, shows another state than the car is in since. What the pump did to a beam tells
/// of what moves it, which a turn of the lamp's screw leaves as it is; a repair of that itself does not.
#[must_use]
pub(crate) fn is_outdated_by(system: Option<&System>, repair: &RepairEntry, shot: &Shot) -> bool {
    let is_of_unit = shot.is_pumped();
    shot.stage == Some(Stage::After)
        && match is_of_unit {
            true => lamp_mended(system, repair) == Some(shot.lamp),
            false => concerns(system, repair, shot.lamp),
        }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Vacuum;
    use std::path::Path;

    /// By hand: a part of one lamp, a part of both, and a lamp's screw.
    #[test]
    fn a_repair_outdates_the_photos_of_the_lamps_that_it_concerns() {
        let system = System::find("vacuum-cabin-control", Path::new(".")).unwrap();
        let repair = |component: Option<&str>| RepairEntry {
            component: component.map(str::to_owned),
            date: "2031-03-05".to_owned(),
            words: "done".to_owned(),
            extent: None,
        };
        let shot = |side, is_pumped: bool| Shot {
            stage: Some(Stage::After),
            vacuum: is_pumped.then(|| Vacuum::from_mbar(100.0)),
            ..Shot::of("1.jpg", side)
        };
        for (component, left, left_pumped, right, right_pumped) in [
            (Some("left-actuator"), true, true, false, false),
            (Some("right-line"), false, false, true, true),
            (Some("control"), true, false, true, false),
            (None, true, false, true, false),
        ] {
            let outdated = |side, is_pumped| is_outdated_by(Some(&system), &repair(component), &shot(side, is_pumped));
            let found = [
                outdated(Side::Left, false),
                outdated(Side::Left, true),
                outdated(Side::Right, false),
                outdated(Side::Right, true),
            ];
            assert_eq!(found, [left, left_pumped, right, right_pumped], "{component:?}");
        }
        let before = Shot {
            stage: Some(Stage::Before),
            ..shot(Side::Left, false)
        };
        assert!(!is_outdated_by(Some(&system), &repair(None), &before));
        assert!(is_outdated_by(
            None,
            &repair(Some("left-actuator")),
            &shot(Side::Right, false)
        ));
    }
}
