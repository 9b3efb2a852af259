//! The beam across the wall: whether the light below the cut-off is that of the lamp which the job names, and of it
//! alone.
//!
//! Dipped beams are brightest below the elbow, within about two degrees of the lamp's V-V towards the kick (UN R112
//! puts its brightest test points, 75 and 50, at 1.15° and 1.72° there; from memory). Two lamps alight have their
//! brightest place between them, or two of them, and the other lamp alone has it under itself.

use super::FLAT_FROM_DEG;
use super::line::FlatPart;
use super::quality::LEAST_STEP_DECADES;
use super::scan::{Profile, Scans, steps};
use crate::language::said;
use crate::record::Side;
use crate::refusal::{Reason, Refusal};
use crate::warning::{EdgeJump, Warning};

/// How far to either side of V-V to look, and how wide one place is, degrees (our choice, no source).
const REACH_DEG: f64 = 10.0;
const PLACE_DEG: f64 = 1.0;
/// Where the light is taken, degrees below the flat part's line (our choice, no source): below the edge's own width, and
/// above where UN R112 has the foreground's points, from 1.72° on (from memory).
const BELOW_DEG: std::ops::RangeInclusive<f64> = 0.8..=1.5;
/// The bright part of a beam: light above this share of its brightest place (our choice, no source).
const BRIGHT_SHARE: f64 = 0.7;
/// The middle of the bright part may lie this far to the kick's side and to the flat side, degrees. Of 197 made photos of
/// one lamp that gave a figure none lay beyond either.
const MOST_TO_KICK_DEG: f64 = 2.9;
const MOST_TO_FLAT_DEG: f64 = 1.9;
/// Beyond this it is another lamp's light altogether, degrees: cars' lamps are 1.1 m apart or more, 5° at 12 m.
const OTHER_LAMP_DEG: f64 = 4.5;
/// Two bright places with less than this of the lower one's light between them, inverse; one lamp made 1.00 on
/// 40 made photos, walls of boards among them.
const TWO_PLACES: f64 = 1.1;

/// Whether the light and the edge across the wall are those of the lamp itself.
///
/// # Errors
/// `second-cutoff` or `no-cutoff` where they are another lamp's.
///
/// Else the first thing that there is to say of it.
pub(super) fn check(scans: &Scans<'_>, flat: FlatPart) -> Result<Option<Warning>, Refusal> {
    let below_kick = check_below_kick(scans, flat)?;
    let flat_side = check_flat_side(scans, flat)?;
    let light = match Across::of(scans, flat) {
        Some(across) => across.judge(scans.lamp.flat_sign)?,
        None => None,
    };
    Ok(light.or(below_kick).or(flat_side))
}

/// Light below the cut-off, place by place across the wall.
#[derive(Debug, Clone, PartialEq)]
struct Across {
    /// Angle from V-V, degrees, positive towards the flat side, and linear light there; without gaps.
    places: Vec<(f64, f64)>,
}

impl Across {
    /// Looks below the flat part. `None` where too little is seen.
    fn of(scans: &Scans<'_>, flat: FlatPart) -> Option<Self> {
        let ends_deg = [-REACH_DEG, REACH_DEG].map(|angle_deg| flat.at_deg(angle_deg));
        let scans = scans.within(
            ends_deg[0].min(ends_deg[1]) - BELOW_DEG.end(),
            ends_deg[0].max(ends_deg[1]) - BELOW_DEG.start(),
        );
        let columns = scans.columns(&steps(-REACH_DEG, REACH_DEG, PLACE_DEG / 4.0));
        let means: Vec<(f64, f64)> = columns
            .iter()
            .filter_map(|column| {
                let line_deg = flat.at_deg(column.angle_deg);
                let (mut sum, mut count) = (0.0, 0.0);
                for (n, &light) in column.light.iter().enumerate() {
                    if BELOW_DEG.contains(&(line_deg - scans.window.at_deg(n))) && light.is_finite() {
                        sum += light;
                        count += 1.0;
                    }
                }
                (count >= 5.0).then(|| (column.angle_deg, sum / count))
            })
            .collect();
        Self::from_light(&means)
    }

    /// Smooths what single columns show over three places, bridging what sheets hide.
    fn from_light(columns: &[(f64, f64)]) -> Option<Self> {
        let ((first_deg, _), (last_deg, _)) = (*columns.first()?, *columns.last()?);
        let places: Vec<(f64, f64)> = steps(first_deg, last_deg, PLACE_DEG)
            .into_iter()
            .filter_map(|angle_deg| {
                let (mut sum, mut count) = (0.0, 0.0);
                for (_, light) in columns.iter().filter(|c| (c.0 - angle_deg).abs() <= 1.5 * PLACE_DEG) {
                    sum += light;
                    count += 1.0;
                }
                (count > 0.0).then(|| (angle_deg, sum / count))
            })
            .collect();
        (places.len() >= 5).then_some(Self { places })
    }

    /// The middle of the bright part, degrees from V-V towards the flat side, and whether the picture cuts it off at its
    /// end towards the kick and at that towards the flat side.
    fn middle(&self) -> (f64, bool, bool) {
        let brightest = self
            .places
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.1.total_cmp(&b.1.1))
            .map_or(0, |(n, _)| n);
        let least = BRIGHT_SHARE * self.places[brightest].1;
        let (mut from, mut to) = (brightest, brightest);
        while from > 0 && self.places[from - 1].1 > least {
            from -= 1;
        }
        while to + 1 < self.places.len() && self.places[to + 1].1 > least {
            to += 1;
        }
        (
            0.5 * (self.places[from].0 + self.places[to].0),
            from == 0,
            to + 1 == self.places.len(),
        )
    }

    /// How much brighter the lower of two bright places is than the darkest between them; 1 where there are not two.
    fn two_places(&self) -> f64 {
        let brightest = |part: &[(f64, f64)]| part.iter().map(|p| p.1).fold(0.0, f64::max);
        (1..self.places.len().saturating_sub(1))
            .map(|n| brightest(&self.places[..n]).min(brightest(&self.places[n + 1..])) / self.places[n].1.max(1e-9))
            .fold(1.0, f64::max)
    }

    /// Whether this is the light of the lamp itself.
    ///
    /// # Errors
    /// `no-cutoff` where the light is another lamp's.
    ///
    /// Else what there is to say of it.
    fn judge(&self, flat_sign: f64) -> Result<Option<Warning>, Refusal> {
        let (middle_deg, cut_at_kick, cut_at_flat) = self.middle();
        // A bright part that the picture cuts off may reach further there; only what holds all the same counts.
        let off_deg = if middle_deg < 0.0 && !cut_at_flat {
            -middle_deg
        } else if middle_deg > 0.0 && !cut_at_kick {
            middle_deg
        } else {
            0.0
        };
        let side = side_of(middle_deg * flat_sign);
        if off_deg > OTHER_LAMP_DEG {
            return Err(Refusal::new(Reason::NoCutoff, |language| {
                said!(
                    language;
                    "the light below the edge is brightest {off_deg:.0} degrees to the {} of where the lamp is said to be: it is another lamp's. \
                     Is this shot's lamp lit and the other lamp covered, and are the lamp's side and centre_x_mm right?",
                    "das Licht unter der Kante ist {off_deg:.0} Grad {} von dort am hellsten, wo der Scheinwerfer sein soll: \
                     es ist das eines anderen. Brennt der Scheinwerfer dieser Aufnahme und ist der andere abgedeckt, und \
                     stimmen Seite und centre_x_mm des Scheinwerfers?";
                    side.said(language)
                )
            }));
        }
        let most_deg = if middle_deg < 0.0 {
            MOST_TO_KICK_DEG
        } else {
            MOST_TO_FLAT_DEG
        };
        if off_deg > most_deg {
            return Ok(Some(Warning::BrightestAside { off_deg, side }));
        }
        let two = self.two_places();
        Ok((two > TWO_PLACES).then_some(Warning::TwoBrightPlaces {
            brighter_percent: 100.0 * (two - 1.0),
        }))
    }
}

/// The side along x, as seen by who faces the wall.
fn side_of(x: f64) -> Side {
    if x > 0.0 { Side::Right } else { Side::Left }
}

/// The light of half a degree about an angle from V-V.
fn strip(scans: &Scans<'_>, angle_deg: f64) -> Profile {
    scans.strip(angle_deg, 0.25, 0.1)
}

/// Where a kick and a second edge are looked for about the flat part's line, degrees. Lamps are set alike to about a degree.
const ABOVE_LINE_DEG: f64 = 3.5;
const BELOW_LINE_DEG: f64 = 1.3;

/// Where a kick rises, nothing but light lies below it; an edge that runs on there, near the flat part's height, is
/// another lamp's.
///
/// # Errors
/// `second-cutoff` where such an edge is plain on two strips or more.
///
/// Else what there is to say of a faint one.
fn check_below_kick(scans: &Scans<'_>, flat: FlatPart) -> Result<Option<Warning>, Refusal> {
    let edges: Vec<f64> = steps(-REACH_DEG, -4.0, PLACE_DEG)
        .into_iter()
        .filter_map(|angle_deg| {
            let line_deg = flat.at_deg(angle_deg);
            let strip = strip(
                &scans.within(line_deg - BELOW_LINE_DEG, line_deg + ABOVE_LINE_DEG),
                angle_deg,
            );
            edge_below_kick(&strip.beta_deg, &strip.falls(), line_deg)
        })
        .collect();
    below_kick(&edges)
}

/// What edges below the kick, decades each, one a strip, come to.
fn below_kick(edges_decades: &[f64]) -> Result<Option<Warning>, Refusal> {
    /// An edge of so much on so many strips is another lamp's. One lamp made 0.08 on one strip at the most, on 81 made
    /// photos of kick-up lamps; striped real beams may show more, so that a faint one is only warned of.
    const PLAIN_DECADES: f64 = 0.3;
    const PLAIN_STRIPS: usize = 2;
    const FAINT_DECADES: f64 = 0.1;
    const FAINT_STRIPS: usize = 3;
    let above = |least: f64| edges_decades.iter().filter(|edge| **edge > least).count();
    if above(PLAIN_DECADES) >= PLAIN_STRIPS {
        return Err(Refusal::new(Reason::SecondCutoff, |language| {
            said!(
                language;
                "a second edge of light runs on near the cut-off's height where the cut-off itself has risen: the other lamp is lit too; cover it, \
                 and take the photo again",
                "nahe der Höhe der Hell-Dunkel-Grenze läuft eine zweite Lichtkante weiter, wo diese selbst schon angestiegen \
                 ist: der andere Scheinwerfer brennt auch; ihn abdecken und das Foto neu aufnehmen"
            )
        }));
    }
    Ok((above(FAINT_DECADES) >= FAINT_STRIPS).then_some(Warning::EdgeBelowKick))
}

/// The fall of light at an edge below the kick on one strip, decades, above the least fall between it and the kick; 0
/// where there is none, `None` where no kick has risen on this strip.
fn edge_below_kick(beta_deg: &[f64], falls: &[f64], line_deg: f64) -> Option<f64> {
    /// How far a kick must have risen above the flat part's line, degrees.
    const RISEN_DEG: f64 = 1.2;
    /// A second edge nearer to the kick than this is part of it, degrees.
    const APART_DEG: f64 = 0.75;
    let within = |n: &usize| {
        (line_deg - BELOW_LINE_DEG..line_deg + ABOVE_LINE_DEG).contains(&beta_deg[*n]) && falls[*n].is_finite()
    };
    let all: Vec<usize> = (0..falls.len()).filter(within).collect();
    // The kick is the strongest fall of all, so that steps of the codes in the dark above it are not taken for one.
    let kick = all.iter().copied().max_by(|&a, &b| falls[a].total_cmp(&falls[b]))?;
    if beta_deg[kick] < line_deg + RISEN_DEG || falls[kick] < LEAST_STEP_DECADES {
        return None;
    }
    let mut least = f64::INFINITY;
    let mut edge = 0.0_f64;
    for &n in all.iter().rev().filter(|n| **n < kick) {
        least = least.min(falls[n]);
        if beta_deg[n] < beta_deg[kick] - APART_DEG {
            edge = edge.max(falls[n] - least.max(0.0));
        }
    }
    Some(edge)
}

/// The flat part runs on to the side as one line; where the edge jumps, it is another lamp's from there on or up to
/// there: a lamp with a step throws its raised part over the flat part of the one beside it.
///
/// # Errors
/// `second-cutoff` where the edge jumps far.
///
/// Else what there is to say of a lesser jump.
fn check_flat_side(scans: &Scans<'_>, flat: FlatPart) -> Result<Option<Warning>, Refusal> {
    /// Lamps are set alike to about a degree, and a step is half a degree high.
    const ABOUT_DEG: f64 = 1.5;
    /// A fall of less than this share of the middle one is not the cut-off's (our choice, no source).
    const LEAST_SHARE: f64 = 0.5;
    let about_deg = (flat.reading_deg - ABOUT_DEG, flat.reading_deg + ABOUT_DEG);
    let about = scans.within(about_deg.0, about_deg.1);
    let mut edges: Vec<(f64, f64, f64)> = steps(FLAT_FROM_DEG, REACH_DEG, 0.5)
        .into_iter()
        .filter_map(|angle_deg| {
            let (beta_deg, fall) = strip(&about, angle_deg).strongest_fall(Some(about_deg))?;
            Some((angle_deg, beta_deg, fall))
        })
        .collect();
    let least = LEAST_SHARE * super::median(&mut edges.iter().map(|edge| edge.2).collect::<Vec<_>>());
    edges.retain(|edge| edge.2 >= least.max(LEAST_STEP_DECADES));
    let places: Vec<(f64, f64)> = edges.iter().map(|edge| (edge.0, edge.1)).collect();
    // A faint jump counts where the edge is seen to go on beyond it: the last strips are dim.
    let seen_to_deg = places.last().map_or(0.0, |place| place.0);
    let jump =
        jump(&places).filter(|(at_deg, by_deg)| by_deg.abs() >= PLAIN_JUMP_DEG || at_deg + GOES_ON_DEG <= seen_to_deg);
    judge_jump(jump, scans.lamp.flat_sign)
}

/// A jump of so much is another lamp's, degrees; a lesser one is warned of. One lamp made 0.07 at the most on 109 made photos, but for
/// 0.2 on the last three strips of one of 240 others; steps of lamps are 0.5 or more high, less what the two lamps differ.
const PLAIN_JUMP_DEG: f64 = 0.3;
const FAINT_JUMP_DEG: f64 = 0.15;
/// Beyond a faint jump the edge is to be seen for so far, degrees (our choice, no source).
const GOES_ON_DEG: f64 = 2.0;

/// What a jump of the edge, at an angle from V-V and by so many degrees, comes to.
fn judge_jump(jump: Option<(f64, f64)>, flat_sign: f64) -> Result<Option<Warning>, Refusal> {
    let Some((at_deg, by_deg)) = jump.filter(|(_, by_deg)| by_deg.abs() >= FAINT_JUMP_DEG) else {
        return Ok(None);
    };
    let jump = EdgeJump {
        by_deg: by_deg.abs(),
        at_deg,
        side: side_of(flat_sign),
    };
    if jump.by_deg >= PLAIN_JUMP_DEG {
        return Err(Refusal::new(Reason::SecondCutoff, |language| {
            said!(
                language;
                "{}: the other lamp is lit too, or is the one that is lit; cover it, and take the photo again",
                "{}: der andere Scheinwerfer brennt auch oder als einziger; ihn abdecken und das Foto neu aufnehmen";
                jump.said(language)
            )
        }));
    }
    Ok(Some(Warning::Jumps(jump)))
}

/// Where the edge's height (degrees against degrees from V-V) is two stretches of one slope, with a jump between them:
/// the angle and the jump. `None` where a plain line does nearly as well.
fn jump(edges: &[(f64, f64)]) -> Option<(f64, f64)> {
    /// Strips to either side of a jump at the least.
    const LEAST_STRIPS: usize = 3;
    /// What the jump must leave of the squares at the most; a bend leaves more.
    const MOST_LEFT: f64 = 0.25;
    // With one slope common to both stretches, each about its own middle.
    let squares = |stretches: &[&[(f64, f64)]]| {
        let middles: Vec<(f64, f64)> = stretches
            .iter()
            .map(|stretch| {
                let n = stretch.len() as f64;
                (
                    stretch.iter().map(|e| e.0).sum::<f64>() / n,
                    stretch.iter().map(|e| e.1).sum::<f64>() / n,
                )
            })
            .collect();
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (stretch, middle) in stretches.iter().zip(&middles) {
            for (x, y) in stretch.iter().map(|e| (e.0 - middle.0, e.1 - middle.1)) {
                xx += x * x;
                xy += x * y;
                yy += y * y;
            }
        }
        let slope = if xx > 0.0 { xy / xx } else { 0.0 };
        (yy - slope * xy, slope, middles)
    };
    if edges.len() < 2 * LEAST_STRIPS {
        return None;
    }
    let (line, ..) = squares(&[edges]);
    (LEAST_STRIPS..=edges.len() - LEAST_STRIPS)
        .map(|n| {
            let (left, slope, middles) = squares(&[&edges[..n], &edges[n..]]);
            let by_deg = middles[1].1 - middles[0].1 - slope * (middles[1].0 - middles[0].0);
            (left, 0.5 * (edges[n - 1].0 + edges[n].0), by_deg)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(left, ..)| *left < MOST_LEFT * line)
        .map(|(_, angle_deg, by_deg)| (angle_deg, by_deg))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Columns every quarter of a degree of bells of light.
    fn light(bells: &[(f64, f64)], from_deg: f64, to_deg: f64) -> Across {
        let columns: Vec<(f64, f64)> = steps(from_deg, to_deg, 0.25)
            .into_iter()
            .map(|angle| {
                let sum: f64 = bells
                    .iter()
                    .map(|(at, height)| height * (-0.5 * ((angle - at) / 3.0).powi(2)).exp())
                    .sum();
                (angle, 0.1 + sum)
            })
            .collect();
        Across::from_light(&columns).unwrap()
    }

    #[test]
    fn one_lamp_in_its_place_passes() {
        for at in [-2.0, -0.5, 1.0] {
            assert_eq!(light(&[(at, 1.0)], -10.0, 10.0).judge(1.0), Ok(None), "{at}");
        }
    }

    #[test]
    fn two_lamps_show_between_them_or_as_two_places() {
        // 6.3° apart, as lamps 1.1 m apart are at 10 m: one broad bell about 3° off. 12.6° apart, at 5 m: two.
        for (bells, from_deg) in [([(-0.5, 1.0), (-6.8, 1.0)], -10.0), ([(-0.5, 1.0), (-9.5, 0.9)], -10.0)] {
            let told = light(&bells, from_deg, 10.0).judge(1.0).unwrap();
            assert!(
                told.is_some_and(|warning| warning.to_string().contains("other lamp")),
                "{bells:?}"
            );
        }
        let warning = light(&[(-0.5, 1.0), (-6.8, 1.0)], -10.0, 10.0)
            .judge(1.0)
            .unwrap()
            .unwrap();
        assert!(
            warning.to_string().contains("to the left"),
            "flat side right, so the kick is to the left: {warning}"
        );
    }

    #[test]
    fn the_other_lamp_alone_is_refused() {
        let refusal = light(&[(5.8, 1.0)], -10.0, 10.0).judge(-1.0).unwrap_err();
        assert_eq!(refusal.reason, Reason::NoCutoff);
        assert!(
            refusal.english().contains("6 degrees to the left"),
            "{}",
            refusal.english()
        );
        assert!(
            light(&[(4.2, 1.0)], -10.0, 10.0).judge(-1.0).unwrap().is_some(),
            "just inside: a warning"
        );
    }

    /// Falls of light every 0.02°, of edges at these angles with these steps, decades.
    fn falls_of(edges: &[(f64, f64)]) -> (Vec<f64>, Vec<f64>) {
        let beta_deg: Vec<f64> = (0..300).map(|n| -3.0 + 0.02 * f64::from(n)).collect();
        let fall = |beta: f64| -> f64 {
            edges
                .iter()
                .map(|(at, step)| step * (-0.5 * ((beta - at) / 0.25_f64).powi(2)).exp())
                .sum()
        };
        let falls = beta_deg.iter().map(|&beta| fall(beta) - 0.03).collect();
        (beta_deg, falls)
    }

    #[test]
    fn an_edge_below_the_kick_is_seen_and_the_kick_s_own_foot_is_not() {
        let seen = |edges: &[(f64, f64)]| {
            let (beta_deg, falls) = falls_of(edges);
            edge_below_kick(&beta_deg, &falls, -0.5)
        };
        assert_eq!(seen(&[(1.2, 0.8)]), Some(0.0), "a kick alone");
        let second = seen(&[(1.2, 0.8), (-0.9, 0.2)]).unwrap();
        assert!((second - 0.17).abs() < 0.01, "its fall of 0.20 less 0.03: {second}");
        assert_eq!(seen(&[(0.4, 0.8), (-0.9, 0.2)]), None, "not risen yet");
        assert_eq!(
            seen(&[(-0.5, 1.0), (2.0, 0.4)]),
            None,
            "steps in the dark above a flat part are no kick"
        );
    }

    #[test]
    fn a_plain_second_edge_is_refused_and_a_faint_one_warned_of() {
        assert_eq!(below_kick(&[0.08, 0.0, 0.02, 0.09, 0.09]), Ok(None));
        assert_eq!(below_kick(&[0.2, 0.2, 0.0]), Ok(None), "two strips only");
        assert!(below_kick(&[0.11, 0.12, 0.29, 0.31]).unwrap().is_some());
        assert_eq!(below_kick(&[0.1, 0.31, 0.32]).unwrap_err().reason, Reason::SecondCutoff);
        assert_eq!(below_kick(&[]), Ok(None), "no kick");
    }

    #[test]
    fn a_jump_is_told_from_a_slope_and_from_a_bend() {
        let edges = |height: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
            steps(1.0, 10.0, 0.5).into_iter().map(|x| (x, height(x))).collect()
        };
        // Steps of a strip's own scatter.
        let scatter = |x: f64| 0.01 * (7.0 * x).sin();
        assert_eq!(jump(&edges(&|x| 0.05 * x + scatter(x))), None, "a slope");
        assert_eq!(jump(&edges(&|x| -0.006 * x * x + scatter(x))), None, "a bend");
        let (at_deg, by_deg) = jump(&edges(&|x| 0.02 * x - if x > 6.1 { 0.4 } else { 0.0 } + scatter(x))).unwrap();
        assert!(
            (at_deg - 6.25).abs() < 1e-9 && (by_deg + 0.4).abs() < 0.03,
            "{at_deg} {by_deg}"
        );
        assert_eq!(
            jump(&edges(&|x| if x > 9.2 { 1.0 } else { 0.0 })),
            None,
            "two strips only"
        );
        assert_eq!(jump(&[]), None);
    }

    #[test]
    fn a_far_jump_is_refused_and_a_lesser_one_warned_of() {
        assert_eq!(judge_jump(None, 1.0), Ok(None));
        assert_eq!(judge_jump(Some((6.0, -0.14)), 1.0), Ok(None));
        assert!(judge_jump(Some((6.0, -0.16)), 1.0).unwrap().is_some());
        assert!(judge_jump(Some((6.0, 0.29)), 1.0).unwrap().is_some());
        let refusal = judge_jump(Some((6.2, -0.31)), -1.0).unwrap_err();
        assert_eq!(refusal.reason, Reason::SecondCutoff);
        assert!(
            refusal.english().contains("0.3 degrees, 6 degrees to the left"),
            "{}",
            refusal.english()
        );
    }

    #[test]
    fn what_the_picture_cuts_off_is_not_held_against_the_lamp() {
        // Only the flat side is in the picture: the bright part runs out of it.
        assert_eq!(light(&[(-0.5, 1.0)], 2.5, 10.0).judge(1.0), Ok(None));
        // Cut off at the far end it can only be further off.
        assert!(light(&[(-7.0, 1.0)], -7.0, 10.0).judge(1.0).is_err());
    }
}
