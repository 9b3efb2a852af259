//! Paint, stripes, ledges and pipes on the wall near the cut-off: level edges that are the wall's own and no lamp's.
//!
//! They are told by what no beam has: they are as sharp as the photo itself, where a cut-off takes tenths of a degree to fall
//! (UN R112: G of 0.40 at the most); they lie level to the wall; and they change the light by one ratio all along it, below the edge
//! and above it, beyond the elbow and in the beam's dark.

use super::quality;
use super::scan::{STEP_DEG, Scans, Strip, USUAL_EDGE_DEG};
use crate::fit::{median, normal_tail};

/// A level edge of the wall's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Paint {
    /// Its height on the wall, mm.
    pub y_mm: f64,
    /// ln of what the wall reflects above it over what it reflects below.
    pub ln_ratio: f64,
    /// One standard deviation of that, as a share of it.
    pub sd_share: f64,
    /// How blurred it is in the photo, one standard deviation, mm.
    pub blur_mm: f64,
}

/// How far to either side the wall is looked at, degrees (our choice, no source).
const REACH_DEG: f64 = 7.0;
/// Light below this, linear, is too near to single codes for an edge to be told from them (our choice, no source): code 16 of 255.
const LEAST_LIGHT: f64 = 0.005;
/// Steps of a scan over which an edge of the wall is over, to either side; and where the light's own fall is taken beside it.
const ACROSS: usize = 2;
const BESIDE: [[usize; 2]; 2] = [[5, 6], [10, 11]];
/// Paint changes ln light by this much at the least, and by this share of what the beam itself falls by beside it: 10 %, and what an
/// edge of G = 0.7 makes (our choice, no source).
const LEAST_LN: f64 = 0.1;
const LEAST_OF_FALL: f64 = 0.3;
/// More than between black and white paint, 4 and 85 %, is between no two paints: the wall ends there, at the floor or a gate (from memory).
const MOST_LN: f64 = 3.0;
/// On the beam's own edge it must be more (our choice, no source): 20 %.
const LEAST_ON_BEAM_LN: f64 = 0.2;
/// Where the beam falls by more than this beside a place, its own edge is there, ln over the same steps; such strips count only where
/// there are hardly others (our choice, no source).
const BEAMS_OWN_LN: f64 = 0.35;
/// So many strips at the least, and so much of all of them, must agree (our choice, no source).
const LEAST_STRIPS: usize = 12;
const LEAST_AGREE: f64 = 0.8;
/// Two edges of opposite sense nearer than this are a joint or a wire: texture, which pools away, mm (our choice, no source).
const LINE_MM: f64 = 25.0;

/// This share of an edge's change, the other way, is coming back (our choice, no source).
const COMES_BACK: f64 = 0.25;
/// Beyond paint's edge the light stays changed, by this share of what it changes by there at the least; beyond one side of a joint it
/// comes back (our choice, no source).
const LEAST_STAYS: f64 = 0.5;
/// More edges are not looked for (our choice, no source): two for each course of a brick wall in what a scan sees.
const MOST_EDGES: usize = 24;
/// So many edges of lines make a wall of bricks or boards (our choice, no source).
const JOINTED: usize = 3;
/// Edges are looked for so far below and above where a cut-off usually lies, degrees (our choice, no source): not at the floor.
const ABOUT_DEG: f64 = 2.2;
/// How well an edge's ratio is known where the beam is calm, and where it was only seen on the beam's own edge, one standard deviation
/// as a share of its ln (our choice, no source).
const CALM_SD: f64 = 0.15;
const ON_BEAM_SD: f64 = 0.4;
/// Places nearer together than this, steps, are one edge's.
const ALIKE_STEPS: f64 = 3.0;
/// How blurred an edge is taken to be where it is taken out, one standard deviation, steps; and how far beside it what was found before
/// is looked at again, steps.
const EDGE_STEPS: f64 = 1.0;
const SPOILT: usize = 16;

/// How ln light changes across a step of the window, in the middle over the strips, and whether they agree that it is the wall's.
#[derive(Debug, Clone, Copy)]
struct Change {
    by: f64,
    plain: bool,
    on_beam: bool,
}

/// An edge of the wall: its place, steps of the window, how far ln light changes there, and whether it is a line's.
#[derive(Debug, Clone, Copy)]
struct Found {
    at: f64,
    by: f64,
    /// Only seen on the beam's own edge.
    on_beam: bool,
    line: bool,
}

/// ln light of strips across the wall at each step of the window; NaN where it is not known.
struct Wall {
    strips: Vec<Vec<f64>>,
    /// The first and the last step at which edges are looked for.
    looked_at: [usize; 2],
}

impl Wall {
    fn of(scans: &Scans<'_>, strips: &[Strip]) -> Self {
        let near = strips.iter().filter(|strip| strip.angle_deg.abs() <= REACH_DEG);
        let ln = |strip: &Strip| {
            let profile = &strip.profile;
            let steps = profile.light.iter().zip(&profile.clipped);
            let ln = |(&light, &clipped): (&f64, &bool)| {
                if light > LEAST_LIGHT && !clipped {
                    light.ln()
                } else {
                    f64::NAN
                }
            };
            steps.map(ln).collect()
        };
        Self {
            strips: near.map(ln).collect(),
            looked_at: [-1.0, 1.0]
                .map(|side| ((USUAL_EDGE_DEG + side * ABOUT_DEG - scans.window.at_deg(0)) / STEP_DEG) as usize),
        }
    }

    /// The wall's edges, each in steps of the window, with how far ln light changes there. The largest is found first and taken out
    /// before the next is looked for, since each spoils what is drawn on beside it.
    ///
    /// One that comes back within a joint's or a wire's width, `line` steps, plainly or not, is a line, which pools away.
    fn edges(&self, line: f64) -> Vec<Found> {
        let mut rest = Self {
            strips: self.strips.clone(),
            ..*self
        };
        let count = rest.strips.first().map_or(0, Vec::len);
        let mut changes: Vec<Option<Change>> = (0..count).map(|n| rest.change(n)).collect();
        let mut found: Vec<Found> = Vec::new();
        for _ in 0..MOST_EDGES {
            let plain = changes.iter().enumerate();
            let plain = plain.filter_map(|(n, change)| Some((n, change.filter(|change| change.plain)?)));
            let Some((n, Change { by, on_beam, .. })) = plain.max_by(|a, b| a.1.by.abs().total_cmp(&b.1.by.abs()))
            else {
                break;
            };
            let at = middle(&changes, n);
            rest.take_out(at, by);
            let spoilt = changes
                .iter_mut()
                .enumerate()
                .skip(n.saturating_sub(SPOILT))
                .take(2 * SPOILT);
            for (m, change) in spoilt {
                *change = rest.change(m);
            }
            match found.iter_mut().find(|other| (other.at - at).abs() <= ALIKE_STEPS) {
                // What is no edge of this kind does not go away by being taken out.
                Some(same) if by.abs() > same.by.abs() => break,
                Some(same) => same.by += by,
                None => found.push(Found {
                    at,
                    by,
                    on_beam,
                    line: false,
                }),
            }
        }
        let left = changes
            .iter()
            .enumerate()
            .filter_map(|(n, change)| Some((n as f64, (*change)?.by)));
        let all: Vec<(f64, f64)> = found.iter().map(|one| (one.at, one.by)).chain(left).collect();
        for one in &mut found {
            let comes_back = |(at, by): &(f64, f64)| {
                (ALIKE_STEPS..line).contains(&(at - one.at).abs()) && by * one.by.signum() < -COMES_BACK * one.by.abs()
            };
            one.line = all.iter().any(comes_back);
        }
        // Of joints in the dark, or on the beam's own edge, only one side may show.
        if found.iter().filter(|one| one.line).count() >= JOINTED {
            return Vec::new();
        }
        found.sort_by(|a, b| a.at.total_cmp(&b.at));
        found
    }

    fn take_out(&mut self, at: f64, by: f64) {
        for strip in &mut self.strips {
            for (n, ln) in strip.iter_mut().enumerate() {
                *ln -= by * normal_tail((at - n as f64) / EDGE_STEPS);
            }
        }
    }

    fn change(&self, n: usize) -> Option<Change> {
        let [first, last] = self.looked_at;
        if !(first..=last).contains(&n) {
            return None;
        }
        let all: Vec<(f64, f64)> = self
            .strips
            .iter()
            .filter_map(|strip| sharp_and_beside(strip, n))
            .collect();
        let calm: Vec<(f64, f64)> = all
            .iter()
            .copied()
            .filter(|(_, beside)| beside.abs() < BEAMS_OWN_LN)
            .collect();
        let on_beam = calm.len() < LEAST_STRIPS;
        let (used, least) = if on_beam {
            (all, LEAST_ON_BEAM_LN)
        } else {
            (calm, LEAST_LN)
        };
        if used.len() < LEAST_STRIPS {
            return None;
        }
        let change = median(&mut used.iter().map(|one| one.0).collect::<Vec<_>>())?;
        let agrees = |&&(sharp, beside): &&(f64, f64)| {
            sharp * change.signum() > (0.5 * change.abs()).max(LEAST_OF_FALL * beside.abs())
        };
        let agree = used.iter().filter(agrees).count() as f64;
        let plain = (least..MOST_LN).contains(&change.abs()) && agree >= LEAST_AGREE * used.len() as f64;
        Some(Change {
            by: change,
            plain,
            on_beam,
        })
    }

    /// ln of the light above a place over that below, of the wall alone, where edges lie at `places` (steps of the window): in the
    /// middle over the strips on which the beam is calmest.
    fn ln_ratio(&self, at: f64, places: &[f64]) -> Option<f64> {
        /// From how far beside the edge to how far light is compared, steps; and where the beam's own slope is taken.
        const FROM: f64 = 2.5;
        const TO: f64 = 6.0;
        const SLOPE_TO: f64 = 16.0;
        /// The calmest share of the strips (our choice, no source).
        const CALMEST: f64 = 0.4;
        let clear = |n: f64| places.iter().all(|place| place == &at || (n - place).abs() > FROM);
        let gap = |side: f64| {
            let beyond = places.iter().map(|place| side * (place - at)).filter(|gap| *gap > 0.0);
            TO.min(beyond.fold(f64::INFINITY, f64::min) - FROM)
        };
        let (above_to, below_to) = (gap(1.0), gap(-1.0));
        let mut each: Vec<(f64, f64)> = self
            .strips
            .iter()
            .filter_map(|strip| {
                let side = |sign: f64, to: f64| {
                    let inside = strip.iter().enumerate().filter(|(n, ln)| {
                        let past = sign * (*n as f64 - at);
                        (FROM..=to.max(FROM + 1.0)).contains(&past) && ln.is_finite()
                    });
                    let (sum, place, count) =
                        inside.fold((0.0, 0.0, 0.0), |(s, p, c), (n, ln)| (s + ln, p + n as f64, c + 1.0));
                    (count > 0.0).then(|| (sum / count, place / count))
                };
                let ((above, above_at), (below, below_at)) = (side(1.0, above_to)?, side(-1.0, below_to)?);
                let slope = slope_beside(strip, at, [FROM, SLOPE_TO], &clear)?;
                Some((slope.abs(), above - below - slope * (above_at - below_at)))
            })
            .collect();
        each.sort_by(|a, b| a.0.total_cmp(&b.0));
        let kept = ((CALMEST * each.len() as f64).ceil() as usize)
            .max(LEAST_STRIPS)
            .min(each.len());
        median(&mut each[..kept].iter().map(|one| one.1).collect::<Vec<_>>())
    }
}

/// How far ln light changes across a step of a strip beyond its fall beside, and that fall.
fn sharp_and_beside(strip: &[f64], n: usize) -> Option<(f64, f64)> {
    let across = |n: usize| {
        let ln = |n: usize| strip.get(n).copied().filter(|ln| ln.is_finite());
        let below = n.checked_sub(ACROSS + 1)?;
        Some(0.5 * (ln(n + ACROSS)? + ln(n + ACROSS + 1)? - ln(n - ACROSS)? - ln(below)?))
    };
    let here = across(n)?;
    let mean = |by: [usize; 2], up: bool| {
        let [first, second] = by.map(|by| if up { Some(n + by) } else { n.checked_sub(by) });
        Some(0.5 * (across(first?)? + across(second?)?))
    };
    // The beam's own fall as each side draws it on, and as both do together (Richardson's extrapolation from 5.5 and 10.5 steps).
    // An edge of the wall is no one of them; a stripe's other edge, or the beam's own bend, spoils one or two.
    let side = |up: bool| Some([mean(BESIDE[0], up)?, mean(BESIDE[1], up)?]);
    let drawn_on = |[near, far]: [f64; 2]| near + 1.1 * (near - far);
    let (below, above) = (side(false), side(true));
    let both = || {
        let ([near_below, far_below], [near_above, far_above]) = (below?, above?);
        Some(0.689 * (near_below + near_above) - 0.189 * (far_below + far_above))
    };
    let each = [below.map(drawn_on), above.map(drawn_on), both()].into_iter().flatten();
    let of_beam = each.min_by(|a, b| (here - a).abs().total_cmp(&(here - b).abs()))?;
    Some((here - of_beam, of_beam))
}

/// The slope of ln light a step of a strip to both sides of a place, at steps that are clear of edges: of each side alone, and their mean.
fn slope_beside(strip: &[f64], at: f64, [from, to]: [f64; 2], clear: &impl Fn(f64) -> bool) -> Option<f64> {
    let side = |sign: f64| {
        // Only as far as the next edge: light beyond it is of another level.
        let inside = (1..=to as usize)
            .map(|k| at + sign * k as f64)
            .skip_while(|n| (n - at).abs() < from)
            .take_while(|n| clear(*n));
        let points: Vec<(f64, f64)> = inside
            .filter(|n| *n >= 0.0)
            .filter_map(|n| Some((n.round(), *strip.get(n.round() as usize)?)))
            .filter(|point| point.1.is_finite())
            .collect();
        (points.len() >= 4).then(|| super::line::Line::of_least_squares(&points).slope)
    };
    match (side(1.0), side(-1.0)) {
        (Some(above), Some(below)) => Some(0.5 * (above + below)),
        (one, other) => one.or(other),
    }
}

/// The level edges of the wall that scans show, whose strips across the wall these are.
pub(super) fn find(scans: &Scans<'_>, strips: &[Strip]) -> Vec<Paint> {
    if scans.wall.is_whole() {
        return Vec::new();
    }
    let wall = Wall::of(scans, strips);
    let found = wall.edges(LINE_MM / (STEP_DEG * scans.lamp.mm_per_deg_at(0.0)));
    let y_mm = |n: f64| scans.lamp.y_at_mm(scans.window.at_deg(0) + STEP_DEG * n);
    let at: Vec<f64> = found.iter().map(|one| one.at).collect();
    let each = found.iter().filter(|one| !one.line).filter_map(|one| {
        let n = one.at;
        let stays = |ln: &f64| ln * one.by.signum() > (LEAST_STAYS * one.by.abs()).max(0.5 * LEAST_LN);
        let ln_ratio = wall.ln_ratio(n, &at).filter(stays)?;
        let blur_deg = quality::blur_deg(scans, scans.window.at_deg(0) + STEP_DEG * n);
        let blur_deg = if blur_deg.is_finite() {
            blur_deg.clamp(0.2 * STEP_DEG, 3.0 * STEP_DEG)
        } else {
            STEP_DEG
        };
        Some(Paint {
            y_mm: y_mm(n),
            ln_ratio,
            sd_share: if one.on_beam { ON_BEAM_SD } else { CALM_SD },
            blur_mm: scans.lamp.mm_per_deg_at(0.0) * blur_deg,
        })
    });
    each.collect()
}

/// Where the middle of a change lies, steps.
fn middle(changes: &[Option<Change>], n: usize) -> f64 {
    let size = |n: usize| changes.get(n).copied().flatten().map_or(0.0, |change| change.by);
    let near = n.saturating_sub(ACROSS + 1)..=n + ACROSS + 1;
    let same = near.filter(|m| size(*m) * size(n) > 0.0);
    let (sum, weight) = same.fold((0.0, 0.0), |(s, w), m| {
        (s + m as f64 * size(m).abs(), w + size(m).abs())
    });
    sum / weight
}

/// What paint does to ln light at a height, mm.
///
/// Beside what it does at `as_is_mm`, where light keeps its scale.
pub(super) fn ln_at(paint: &[Paint], share: f64, as_is_mm: f64, y_mm: f64) -> f64 {
    let above = |one: &Paint, y_mm: f64| normal_tail((one.y_mm - y_mm) / one.blur_mm);
    let each = paint
        .iter()
        .map(|one| one.ln_ratio * (above(one, y_mm) - above(one, as_is_mm)));
    share * each.sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wall of a beam's edge that rises to one side, with a stripe, and a texture that differs from strip to strip.
    fn wall(stripe: &[(f64, f64)], kick: f64) -> Wall {
        let strip = |k: usize| -> Vec<f64> {
            let edge = 230.0 + kick * (k as f64 - 28.0).max(0.0);
            let ln = |n: usize| {
                let beam = -4.6 / (1.0 + (-(n as f64 - edge) / 6.0).exp());
                let paint: f64 = stripe.iter().map(|(at, by)| by * normal_tail(at - n as f64)).sum();
                beam + paint + 0.02 * ((n * (k + 3)) as f64 * 0.7).sin()
            };
            (0..475).map(ln).collect()
        };
        Wall {
            strips: (0..57).map(strip).collect(),
            looked_at: [100, 400],
        }
    }

    #[test]
    fn a_stripe_is_found_in_the_light_in_the_dark_and_within_the_cut_off() {
        for at in [150.0, 210.0, 228.0, 300.0] {
            let stripe = [(at, -0.5), (at + 12.0, 0.5)];
            let wall = wall(&stripe, 3.4);
            let found = wall.edges(7.0);
            assert_eq!(found.len(), 2, "{at}: {found:?}");
            let places: Vec<f64> = found.iter().map(|one| one.at).collect();
            for (place, (at, by)) in places.iter().zip(stripe) {
                assert!((place - at).abs() < 0.8, "{place} for {at}");
                let ln = wall.ln_ratio(*place, &places).unwrap();
                assert!((ln - by).abs() < 0.06, "{at}: {ln} for {by}");
            }
        }
    }

    #[test]
    fn a_beam_without_paint_has_none_level_or_not() {
        for kick in [0.0, 3.4] {
            let found = wall(&[], kick).edges(7.0);
            assert!(found.is_empty(), "{kick}: {found:?}");
        }
    }
}
