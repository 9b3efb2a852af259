//! What a made photo shows: inclination, sharpness and linearity, by definition, from the clean beam on the wall.

use super::beam::Beam;
use super::curve::{sharpness_g, steepest_inflection_deg};
use crate::record::{Pattern, Side};
use serde::{Deserialize, Serialize};

/// The truth about one lit lamp in one made photo, by the definitions of UN R112's cut-off quality annex.
///
/// It is worked out from the lamp's own light on the bare, even wall (no texture, marks, ambient light, camera): the
/// aim that a scene asks for is where it starts, not what is copied here.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
pub struct Truth {
    /// The photo's file name.
    pub photo: String,
    /// The lamp.
    pub lamp: Side,
    /// 100·(h − y)/D, plus the grade of the standing area, per cent, where y is the height of the steepest inflection
    /// d²(log10 E)/dβ² = 0 on the scan 2.5° from V-V on the flat side. Of a lamp that is no point: as on a measuring screen
    /// 25 m away (UN R112).
    pub inclination_percent: f64,
    /// h − y, mm.
    pub drop_mm: f64,
    /// The scan's place on the wall, mm.
    pub scan_x_mm: f64,
    /// The inflection's height on the wall, mm.
    pub edge_y_mm: f64,
    /// G, the largest log10 E(β) − log10 E(β + 0.1°) on that scan.
    pub sharpness_g: f64,
    /// The largest vertical distance between the inflections at 1.5°, 2.5° and 3.5° from V-V, degrees: UN R112's
    /// linearity, of which at most 0.2° is allowed (from memory). A tilted lamp counts in it.
    pub linearity_deg: f64,
    /// How far the inflection at 2.5° lies below the middle between those at 1.5° and 3.5°, degrees; tilt does not
    /// count in it.
    pub bow_deg: f64,
    /// Turn of the line through the inflections at 1.5° and 3.5°, on the wall, degrees; positive is anticlockwise as
    /// seen facing the wall.
    pub tilt_deg: f64,
    /// The elbow; none where the pattern is flat, or the far side does not lie on the wall.
    pub elbow: Option<TruthElbow>,
}

/// A lit lamp of a made photo that has no reading.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Serialize)]
pub struct NoTruth {
    /// The photo's file name.
    pub photo: String,
    /// The lamp.
    pub lamp: Side,
    /// Why there is none.
    pub reason: String,
}

/// Where the two straight parts of the cut-off meet: the line through the inflections at 1.5° and 3.5° from the
/// elbow on the flat side, and the line through those on the far side (1° and 3° of a kick, 0.3 and 0.7 of a step's
/// ramp).
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
pub struct TruthElbow {
    /// To the right of the lamp's V-V, per cent of the distance.
    pub lateral_percent: f64,
    /// Slope of the edge on the far side of the elbow against the wall's horizontal, degrees; positive rises away
    /// from the elbow.
    pub kick_deg: f64,
    /// The elbow's place on the wall, mm.
    pub x_mm: f64,
    /// The elbow's height on the wall, mm.
    pub y_mm: f64,
}

/// The range of a scan, and its step, degrees above the lamp's centre.
const LOW_DEG: f64 = -15.0;
const HIGH_DEG: f64 = 5.0;
const STEP_DEG: f64 = 0.001;
/// From the lamp to the measuring screen, mm (UN R112).
const SCREEN_MM: f64 = 25_000.0;

/// Why a lamp has no truth.
pub(super) const NO_EDGE: &str = "the cut-off does not lie on the wall where it is read (2.5° from V-V): aim the lamp so that it \
                       falls above the floor and less than 5° above the lamp";

impl Truth {
    /// The truth of one beam on a wall that begins at `floor_y_mm`; `None` for [`NO_EDGE`].
    pub(super) fn of(beam: &Beam, photo: &str, floor_y_mm: f64, grade_percent: f64) -> Option<Self> {
        let distance_mm = beam.position_mm[2];
        // The wall's plane is searched below the floor too: else, where the cut-off falls on the floor, the steepest
        // place of what is left would pass for it.
        let floor_deg = ((floor_y_mm - beam.position_mm[1]) / distance_mm).atan().to_degrees();
        let inflection = |from_vv_deg: f64| {
            let clean = |beta_deg: f64| beam.scan_log10_lx(from_vv_deg, beta_deg);
            steepest_inflection_deg(&clean, LOW_DEG, HIGH_DEG, STEP_DEG).filter(|&beta_deg| beta_deg > floor_deg)
        };
        let [near_deg, beta_deg, far_deg] = [inflection(1.5)?, inflection(2.5)?, inflection(3.5)?];
        let clean = |beta_deg: f64| beam.scan_log10_lx(2.5, beta_deg);
        let [scan_x_mm, edge_y_mm] = beam.scan_point_mm(2.5, beta_deg);
        let drop_mm = beam.position_mm[1] - edge_y_mm;
        let near_mm = beam.scan_point_mm(1.5, near_deg);
        let far_mm = beam.scan_point_mm(3.5, far_deg);
        let highest_deg = near_deg.max(beta_deg).max(far_deg);
        let lowest_deg = near_deg.min(beta_deg).min(far_deg);
        let on_wall_percent = 100.0 * drop_mm / distance_mm;
        let on_screen_percent = match beam.is_point() {
            true => on_wall_percent,
            false => {
                let screen = beam.moved_to_mm(SCREEN_MM);
                let clean = |beta_deg: f64| screen.scan_log10_lx(2.5, beta_deg);
                -100.0
                    * steepest_inflection_deg(&clean, LOW_DEG, HIGH_DEG, STEP_DEG)?
                        .to_radians()
                        .tan()
            }
        };
        Some(Self {
            photo: photo.to_owned(),
            lamp: beam.lamp.side,
            inclination_percent: on_screen_percent + grade_percent,
            drop_mm,
            scan_x_mm,
            edge_y_mm,
            sharpness_g: sharpness_g(&clean, LOW_DEG, HIGH_DEG, STEP_DEG)?,
            linearity_deg: highest_deg - lowest_deg,
            bow_deg: 0.5 * (near_deg + far_deg) - beta_deg,
            tilt_deg: ((near_mm[1] - far_mm[1]) / (near_mm[0] - far_mm[0]))
                .atan()
                .to_degrees(),
            elbow: elbow(beam),
        })
    }
}

fn elbow(beam: &Beam) -> Option<TruthElbow> {
    let far_scans_deg = match beam.lamp.pattern {
        Pattern::Flat => return None,
        Pattern::KickUp => [1.0, 3.0],
        Pattern::Step => [0.3, 0.7].map(|share| share * beam.lamp.step_deg / beam.lamp.kick_deg().to_radians().tan()),
    };
    // From V-V to the elbow, towards the flat side.
    let elbow_deg = -beam.mirror() * (beam.lamp.lateral_percent / 100.0).atan().to_degrees();
    let edge_mm = |from_vv_deg: f64| {
        let clean = |beta_deg: f64| beam.scan_log10_lx(from_vv_deg, beta_deg);
        let beta_deg = steepest_inflection_deg(&clean, LOW_DEG, HIGH_DEG, STEP_DEG)?;
        Some(beam.scan_point_mm(from_vv_deg, beta_deg))
    };
    let line = |a: [f64; 2], b: [f64; 2]| {
        let slope = (b[1] - a[1]) / (b[0] - a[0]);
        (slope, a[1] - slope * a[0])
    };
    let (flat, flat_start_mm) = line(edge_mm(elbow_deg + 1.5)?, edge_mm(elbow_deg + 3.5)?);
    let [near_deg, far_deg] = far_scans_deg;
    let (kick, kick_start_mm) = line(edge_mm(elbow_deg - near_deg)?, edge_mm(elbow_deg - far_deg)?);
    let x_mm = (flat_start_mm - kick_start_mm) / (kick - flat);
    x_mm.is_finite().then(|| TruthElbow {
        lateral_percent: 100.0 * (x_mm - beam.position_mm[0]) / beam.position_mm[2],
        kick_deg: (beam.mirror() * kick).atan().to_degrees(),
        x_mm,
        y_mm: flat_start_mm + flat * x_mm,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Traffic;
    use crate::render::MadeLamp;

    fn truth_of(lamp: &MadeLamp) -> Truth {
        Truth::of(&Beam::new(lamp, 0.0).unwrap(), "a.jpg", 0.0, 0.0).unwrap()
    }

    #[test]
    fn the_truth_follows_the_aim() {
        let base = MadeLamp::default();
        let level = truth_of(&base);
        assert!((level.inclination_percent - 1.0).abs() < 0.03, "{level:?}");
        assert!(
            (level.drop_mm - 100.0 * level.inclination_percent).abs() < 1e-9,
            "10 m: 1 % is 100 mm"
        );
        // V-V 2.5° to the left at 10 m.
        assert!((level.scan_x_mm - (-560.0 - 10_000.0 * 2.5_f64.to_radians().tan())).abs() < 1e-9);
        for percent in [-0.5, 0.3, 2.0, 4.0] {
            let aimed = truth_of(&MadeLamp {
                inclination_percent: percent,
                ..base.clone()
            });
            let moved = aimed.inclination_percent - level.inclination_percent;
            assert!((moved - (percent - 1.0)).abs() < 0.002, "{percent}: {moved}");
        }
        // Half the distance: the same angle, half the drop.
        let near = truth_of(&MadeLamp {
            distance_mm: 5_000.0,
            ..base.clone()
        });
        assert!((near.inclination_percent - level.inclination_percent).abs() < 1e-6);
        assert!((near.drop_mm - 0.5 * level.drop_mm).abs() < 1e-4);
        // The standing area rises 0.4 % towards the wall: the light falls 0.4 % higher, and the aim reads the same.
        let graded = Truth::of(&Beam::new(&base, 0.4).unwrap(), "a", 0.0, 0.4).unwrap();
        assert!((graded.inclination_percent - level.inclination_percent).abs() < 0.001);
        assert!((level.drop_mm - graded.drop_mm - 40.0).abs() < 0.1);
    }

    #[test]
    fn tilt_bow_and_elbow_are_told() {
        let base = MadeLamp::default();
        let level = truth_of(&base);
        let tilted = truth_of(&MadeLamp {
            tilt_deg: 1.0,
            ..base.clone()
        });
        assert!((tilted.tilt_deg - level.tilt_deg - 1.0).abs() < 0.01, "{tilted:?}");
        // By hand: anticlockwise by 1°, the left falls by tan 1° times tan 2.5°.
        let lower = 100.0 * 1.0_f64.to_radians().tan() * 2.5_f64.to_radians().tan();
        assert!((tilted.inclination_percent - level.inclination_percent - lower).abs() < 0.001);
        let two_deg = 3.5_f64.to_radians().tan() - 1.5_f64.to_radians().tan();
        let slope_deg = (two_deg * 1.0_f64.to_radians().tan()).to_degrees();
        assert!((tilted.linearity_deg - slope_deg).abs() < 0.003, "{tilted:?}");
        let bowed = truth_of(&MadeLamp {
            bow_deg: 0.08,
            ..base.clone()
        });
        assert!(
            (bowed.bow_deg - 0.08).abs() < 0.002 && (bowed.linearity_deg - 0.08).abs() < 0.002,
            "{bowed:?}"
        );
        for traffic in [Traffic::Right, Traffic::Left] {
            let elbow = truth_of(&MadeLamp {
                lateral_percent: 0.6,
                traffic,
                ..base.clone()
            })
            .elbow
            .unwrap();
            assert!((elbow.lateral_percent - 0.6).abs() < 0.05, "{elbow:?}");
            assert!((elbow.kick_deg - 15.0).abs() < 0.5, "{elbow:?}");
            assert!((elbow.y_mm - 550.0).abs() < 2.0, "{elbow:?}");
        }
        assert_eq!(
            truth_of(&MadeLamp {
                pattern: Pattern::Flat,
                ..base
            })
            .elbow,
            None
        );
    }

    #[test]
    fn a_cut_off_on_the_floor_has_no_truth() {
        // Aimed so far down that the cut-off falls on the floor.
        let lamp = MadeLamp {
            inclination_percent: 9.0,
            ..MadeLamp::default()
        };
        assert_eq!(Truth::of(&Beam::new(&lamp, 0.0).unwrap(), "a", 0.0, 0.0), None);
    }
}
