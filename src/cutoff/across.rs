//! The beam across the wall: whether the light below the cut-off is that of the lamp which the job names, and of it
//! alone.
//!
//! Dipped beams are brightest below the elbow, within about two degrees of the lamp's V-V towards the kick (UN R112
//! puts its brightest test points, 75 and 50, at 1.15° and 1.72° there; from memory). Two lamps alight have their
//! brightest place between them, or two of them, and the other lamp alone has it under itself.

use super::FLAT_FROM_DEG;
use super::line::FlatPart;
use super::quality::LEAST_STEP_DECADES;
use super::scan::{Profile, STEP_DEG, STEP_FAR_DEG, Scans, steps};
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
/// Else the first thing that there is to say of it. `by_hand`: somebody pointed at the edge.
pub(super) fn check(scans: &Scans<'_>, flat: FlatPart, by_hand: bool) -> Result<Option<Warning>, Refusal> {
    let below_kick = check_below_kick(scans, flat)?;
    let flat_side = check_flat_side(scans, flat)?;
    let raised_side = match jump_of_raised_side(scans, flat) {
        // Of several edges the one that somebody pointed at need not be the strongest everywhere.
        jump if by_hand => jump.map(Warning::Jumps),
        jump => judge_jump(jump)?,
    };
    let light = match Across::of(scans, flat) {
        Some(across) => across.judge(scans.lamp.flat_sign)?,
        None => None,
    };
    Ok(raised_side.or(light).or(below_kick).or(flat_side))
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
                     Is this shot's lamp lit and the other lamp covered, and are the lamp's side and its place beside the bay's centre line right?",
                    "das Licht unter der Kante ist {off_deg:.0} Grad {} von dort am hellsten, wo der Scheinwerfer sein soll: \
                     es ist das eines anderen. Brennt der Scheinwerfer dieser Aufnahme und ist der andere abgedeckt, und \
                     stimmen Seite und Lage des Scheinwerfers neben der Mittellinie des Messplatzes?";
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
            edge_beside_kick(&strip, &strip.falls(), line_deg)
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

/// The fall of light at a second edge on one strip where the kick has risen, decades, above the least fall between the two; 0 where
/// there is none, `None` where no kick has risen on this strip.
///
/// Which of the two is the kick of the lamp that is read does not matter: one lamp alone has one edge there, and where the other
/// lamp is the brighter, or is set higher, its edge is the stronger, with this one's above it or below.
fn edge_beside_kick(strip: &Profile, falls: &[f64], line_deg: f64) -> Option<f64> {
    /// How far a kick must have risen above the flat part's line, degrees.
    const RISEN_DEG: f64 = 1.2;
    /// A second edge nearer to the kick than this is part of it, degrees.
    const APART_DEG: f64 = 0.75;
    /// An edge above the strongest whose bright side has less light than this, as a share of full scale, may be a step of the codes in
    /// the dark: some twenty codes of 255 (our choice, no source). And one with less than this share of the light below the strongest is
    /// what a lamp-off photo left of the dark side, not a lamp's.
    const LEAST_BRIGHT: f64 = 0.005;
    const LEAST_BRIGHT_SHARE: f64 = 0.1;
    let beta_deg = &strip.beta_deg;
    let within = |n: &usize| {
        (line_deg - BELOW_LINE_DEG..line_deg + ABOVE_LINE_DEG).contains(&beta_deg[*n]) && falls[*n].is_finite()
    };
    let all: Vec<usize> = (0..falls.len()).filter(within).collect();
    let strongest = all.iter().copied().max_by(|&a, &b| falls[a].total_cmp(&falls[b]))?;
    if falls[strongest] < LEAST_STEP_DECADES {
        return None;
    }
    // Outwards from the strongest, the edge that stands out furthest above the least fall on the way: its place and by how much.
    let stands_out = |outwards: &mut dyn Iterator<Item = usize>| {
        let (mut least, mut edge) = (f64::INFINITY, (strongest, 0.0_f64));
        for n in outwards {
            least = least.min(falls[n]);
            let by = falls[n] - least.max(0.0);
            if (beta_deg[n] - beta_deg[strongest]).abs() > APART_DEG && by > edge.1 {
                edge = (n, by);
            }
        }
        edge
    };
    let (_, below) = stands_out(&mut all.iter().rev().copied().filter(|n| *n < strongest));
    let (above_at, above) = stands_out(&mut all.iter().copied().filter(|n| *n > strongest));
    let risen = |n: usize| beta_deg[n] >= line_deg + RISEN_DEG;
    let bright_side = |n: usize| strip.light[n.saturating_sub((STEP_FAR_DEG / STEP_DEG) as usize)];
    let least = LEAST_BRIGHT.max(LEAST_BRIGHT_SHARE * bright_side(strongest));
    let is_kick = falls[above_at] >= LEAST_STEP_DECADES && bright_side(above_at) >= least && risen(above_at);
    let above = is_kick.then_some(above);
    let below = risen(strongest).then_some(below);
    above.into_iter().chain(below).reduce(f64::max)
}

/// The flat part runs on to the side as one line; where the edge jumps, it is another lamp's from there on or up to
/// there: a lamp with a step throws its raised part over the flat part of the one beside it.
///
/// # Errors
/// `second-cutoff` where the edge jumps far.
///
/// Else what there is to say of a lesser jump.
fn check_flat_side(scans: &Scans<'_>, flat: FlatPart) -> Result<Option<Warning>, Refusal> {
    let edges = edges_from_to(scans, flat, FLAT_FROM_DEG, REACH_DEG);
    judge_jump(jump_seen(&edges).and_then(|jump| jump.told(scans.lamp.flat_sign)))
}

/// Beyond a step the edge runs on level to the other side; where it jumps there once more, that is the step or the flat part of the lamp
/// beside.
fn jump_of_raised_side(scans: &Scans<'_>, flat: FlatPart) -> Option<EdgeJump> {
    /// A step has ended so far from V-V, degrees: it is half a degree high, and rises under 15 degrees at the least.
    const BEYOND_STEP_DEG: f64 = 3.5;
    /// What runs on level rises by less than this beside the flat part, as a slope; a kick rises by 0.27.
    const MOST_RISE: f64 = 0.1;
    let edges = edges_from_to(scans, flat, -REACH_DEG, -BEYOND_STEP_DEG);
    jump_seen(&edges)
        .filter(|jump| (jump.slope - flat.slope).abs() < MOST_RISE)?
        .told(-scans.lamp.flat_sign)
}

/// The strongest fall near the flat part's height on strips from one angle to another: angle and height, degrees, where it is the
/// cut-off's.
fn edges_from_to(scans: &Scans<'_>, flat: FlatPart, from_deg: f64, to_deg: f64) -> Vec<(f64, f64)> {
    /// Lamps are set alike to about a degree, and a step is half a degree high.
    const ABOUT_DEG: f64 = 1.5;
    /// A fall of less than this share of the middle one is not the cut-off's (our choice, no source).
    const LEAST_SHARE: f64 = 0.5;
    let about_deg = (flat.reading_deg - ABOUT_DEG, flat.reading_deg + ABOUT_DEG);
    let about = scans.within(about_deg.0, about_deg.1);
    let mut edges: Vec<(f64, f64, f64)> = steps(from_deg, to_deg, 0.5)
        .into_iter()
        .filter_map(|angle_deg| {
            let (beta_deg, fall) = strip(&about, angle_deg).strongest_fall(Some(about_deg))?;
            Some((angle_deg, beta_deg, fall))
        })
        .collect();
    let least = LEAST_SHARE * super::median(&mut edges.iter().map(|edge| edge.2).collect::<Vec<_>>());
    edges.retain(|edge| edge.2 >= least.max(LEAST_STEP_DECADES));
    edges.iter().map(|edge| (edge.0, edge.1)).collect()
}

/// The jump of these edges. A faint one counts where the edge is seen to go on beyond it: the outer strips are dim.
fn jump_seen(edges: &[(f64, f64)]) -> Option<Jump> {
    let furthest_deg = edges.iter().map(|edge| edge.0.abs()).fold(0.0, f64::max);
    jump(edges).filter(|jump| jump.by_deg.abs() >= PLAIN_JUMP_DEG || jump.at_deg.abs() + GOES_ON_DEG <= furthest_deg)
}

/// A jump of so much is another lamp's, degrees; a lesser one is warned of. One lamp made 0.07 at the most on 109 made photos, but for
/// 0.2 on the last three strips of one of 240 others; steps of lamps are 0.5 or more high, less what the two lamps differ.
const PLAIN_JUMP_DEG: f64 = 0.3;
const FAINT_JUMP_DEG: f64 = 0.15;
/// Beyond a faint jump the edge is to be seen for so far, degrees (our choice, no source).
const GOES_ON_DEG: f64 = 2.0;

/// A jump between two stretches of one slope.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Jump {
    /// Where, degrees from V-V towards the flat side.
    at_deg: f64,
    /// How far up in that direction, degrees.
    by_deg: f64,
    /// Rise of either stretch, degrees of height per degree of angle.
    slope: f64,
}

impl Jump {
    /// As it is told, where it is far enough; it lies on that `side` along x.
    fn told(self, side: f64) -> Option<EdgeJump> {
        (self.by_deg.abs() >= FAINT_JUMP_DEG).then(|| EdgeJump {
            by_deg: self.by_deg.abs(),
            at_deg: self.at_deg.abs(),
            side: side_of(side),
        })
    }
}

/// What a jump of the edge comes to.
///
/// # Errors
/// `second-cutoff` where it is far.
fn judge_jump(jump: Option<EdgeJump>) -> Result<Option<Warning>, Refusal> {
    let Some(jump) = jump else {
        return Ok(None);
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
fn jump(edges: &[(f64, f64)]) -> Option<Jump> {
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
    // A strip that lies across the jump belongs to neither stretch.
    (LEAST_STRIPS..=edges.len() - LEAST_STRIPS)
        .flat_map(|n| [(n, n), (n, n + 1)])
        .filter(|(_, to)| to + LEAST_STRIPS <= edges.len())
        .filter_map(|(from, to)| {
            let (left, slope, middles) = squares(&[&edges[..from], &edges[to..]]);
            let (line, ..) = squares(&[&[&edges[..from], &edges[to..]].concat()]);
            let by_deg = middles[1].1 - middles[0].1 - slope * (middles[1].0 - middles[0].0);
            let at_deg = 0.5 * (edges[from - 1].0 + edges[to].0);
            (left < MOST_LEFT * line).then_some((left / line, Jump { at_deg, by_deg, slope }))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, jump)| jump)
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
        let seen_in = |light: f64, edges: &[(f64, f64)]| {
            let (beta_deg, falls) = falls_of(edges);
            let strip = Profile {
                light: vec![light; beta_deg.len()],
                clipped: vec![false; beta_deg.len()],
                beta_deg,
            };
            edge_beside_kick(&strip, &falls, -0.5)
        };
        let seen = |edges: &[(f64, f64)]| seen_in(0.1, edges);
        assert_eq!(seen(&[(1.2, 0.8)]), Some(0.0), "a kick alone");
        let second = seen(&[(1.2, 0.8), (-0.9, 0.2)]).unwrap();
        assert!((second - 0.17).abs() < 0.01, "its fall of 0.20 less 0.03: {second}");
        assert_eq!(seen(&[(0.4, 0.8), (-0.9, 0.2)]), None, "not risen yet");
        // The other lamp is the brighter, or set higher: this lamp's kick lies above the strongest edge.
        let above = seen(&[(0.4, 0.8), (1.9, 0.5)]).unwrap();
        assert!(
            (above - 0.5).abs() < 0.03,
            "its fall of 0.50 less next to nothing: {above}"
        );
        assert_eq!(
            seen_in(0.003, &[(-0.5, 1.0), (2.0, 0.4)]),
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
        let Jump { at_deg, by_deg, slope } =
            jump(&edges(&|x| 0.02 * x - if x > 6.1 { 0.4 } else { 0.0 } + scatter(x))).unwrap();
        assert!(
            (at_deg - 6.25).abs() < 1e-9 && (by_deg + 0.4).abs() < 0.03 && (slope - 0.02).abs() < 0.01,
            "{at_deg} {by_deg} {slope}"
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
        let judge = |at_deg, by_deg, side: f64| {
            let jump = Jump {
                at_deg,
                by_deg,
                slope: 0.0,
            };
            judge_jump(jump.told(side))
        };
        assert_eq!(judge_jump(None), Ok(None));
        assert_eq!(judge(6.0, -0.14, 1.0), Ok(None));
        assert!(judge(6.0, -0.16, 1.0).unwrap().is_some());
        assert!(judge(6.0, 0.29, 1.0).unwrap().is_some());
        for at_deg in [6.2, -6.2] {
            let refusal = judge(at_deg, -0.31, -1.0).unwrap_err();
            assert_eq!(refusal.reason, Reason::SecondCutoff);
            assert!(
                refusal.english().contains("0.3 degrees, 6 degrees to the left"),
                "{}",
                refusal.english()
            );
        }
    }

    #[test]
    fn what_the_picture_cuts_off_is_not_held_against_the_lamp() {
        // Only the flat side is in the picture: the bright part runs out of it.
        assert_eq!(light(&[(-0.5, 1.0)], 2.5, 10.0).judge(1.0), Ok(None));
        // Cut off at the far end it can only be further off.
        assert!(light(&[(-7.0, 1.0)], -7.0, 10.0).judge(1.0).is_err());
    }
}
