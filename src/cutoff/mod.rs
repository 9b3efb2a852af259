//! The edge of the light: where it is, how sharp, how level, and whether it can be read at all.

mod across;
#[cfg(test)]
mod against_outside;
mod edge;
mod elbow;
mod profile;

use crate::photo::Photo;
use crate::record::{Lamp, Pattern, Traffic};
use crate::refusal::{Reason, Refusal};
use crate::wall::View;
use across::Across;
use edge::{Edge, Fade, Samples};
use image::{GrayImage, Luma};
use profile::{Column, Lens, Profile, STEP_DEG, Window};

/// The elbow between the flat part of a cut-off and its other side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elbow {
    /// Where the elbow lies, mm on the wall (bay's frame).
    pub x_mm: f64,
    /// Angle of the edge beyond the elbow against the flat part, degrees; 0 for a step.
    pub kick_deg: f64,
}

/// The cut-off's height on one vertical scan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanPoint {
    /// Angle of the scan from the lamp's V-V, degrees, positive towards the flat side.
    pub angle_deg: f64,
    /// Place of the scan on the wall, mm.
    pub x_mm: f64,
    /// Height of the inflection, mm.
    pub y_mm: f64,
    /// Whether the scan was used in the reading; one that a mark or a pipe spoils is not.
    pub used: bool,
}

/// A cut-off as read from one photo, in the bay's wall frame.
#[derive(Debug, Clone, PartialEq)]
pub struct CutOff {
    /// Place of the reading scan on the wall, 2.5° from V-V on the flat side, mm.
    pub x_mm: f64,
    /// Height of the inflection of log10 E on that scan, mm.
    pub y_mm: f64,
    /// One standard deviation of that height from texture, noise and the scans' scatter, mm.
    pub scatter_sd_mm: f64,
    /// One standard deviation of that height from which shape of the edge fits this photo best, mm.
    pub shape_sd_mm: f64,
    /// One standard deviation of that height from no real edge having quite the shape of the model, mm; the same in all
    /// photos of a lamp.
    pub model_sd_mm: f64,
    /// One standard deviation of that height from light that is not the lamp's (ambient, veil), mm.
    pub stray_light_sd_mm: f64,
    /// Shape beside the flat part.
    pub pattern: Pattern,
    /// Sharpness G: max over β of log10 E(β) − log10 E(β + 0.1°) on the reading scan (UN R112).
    pub sharpness_g: f64,
    /// Largest departure of the inflections at 1.5° and 3.5° from that at 2.5°, the flat part's tilt taken out, degrees
    /// (UN R112 linearity).
    pub linearity_deg: f64,
    /// Angle of the flat part against the wall's horizontal, degrees, positive when the right end is higher.
    pub tilt_deg: f64,
    /// The elbow; `None` for a flat pattern.
    pub elbow: Option<Elbow>,
    /// Height where the light crosses half of the bright level on the reading scan, mm; for comparison only.
    pub threshold_y_mm: Option<f64>,
    /// Height of the plain inflection (no edge model) on the reading scan, mm; for comparison only.
    pub plain_y_mm: Option<f64>,
    /// What the user should know about the edge.
    pub warnings: Vec<String>,
    /// The single scans that the flat line was fitted to.
    pub scans: Vec<ScanPoint>,
}

/// The scans of UN R112's cut-off quality annex, degrees from V-V on the flat side: the middle one is the reading.
const READING_SCAN_DEG: f64 = 2.5;
const LINEARITY_SCANS_DEG: [f64; 2] = [1.5, 3.5];
/// Scans run from here to there, and are pooled in strips of this width, degrees.
const FLAT_FROM_DEG: f64 = 1.0;
const FLAT_TO_DEG: f64 = 4.0;
const STRIP_DEG: f64 = 0.25;
/// Columns of the reading itself: within this of the reading scan, degrees.
const POOL_HALF_WIDTH_DEG: f64 = 1.0;
/// Spacing of columns, degrees: about two pixels of an ordinary photo.
const COLUMN_DEG: f64 = 0.025;
/// Vertical reach of the scans above and below the lamp's centre, degrees: beams of cars hang between these.
const SCAN_LOW_DEG: f64 = -5.5;
const SCAN_HIGH_DEG: f64 = 4.0;

/// Thresholds of the refusals; common practice, no source, except where one is named.
/// A cut-off is a fall of the light by more than this, decades; approved lamps fall by two.
const LEAST_STEP_DECADES: f64 = 0.35;
/// Without a lamp-off photo, a smaller fall than this is mostly other light's: a cut-off falls to a thirtieth or less, so that the
/// room then gives the dark side three quarters of its light or more.
const LEAST_STEP_WITHOUT_LAMP_OFF_DECADES: f64 = 0.9;
/// Without a lamp-off photo, a smaller fall than this makes one ask for other light.
const WARN_STEP_DECADES: f64 = 1.4;
/// Approval wants G of 0.13 or more (UN R112); half of that can still be placed.
const LEAST_SHARPNESS: f64 = 0.06;
const APPROVED_SHARPNESS: std::ops::RangeInclusive<f64> = 0.13..=0.40;
/// Approval allows the inflections to differ by this (UN R112).
const APPROVED_LINEARITY_DEG: f64 = 0.2;
/// Light at the inflection must stay below this share of full scale, or the edge lies in clipped light.
const MOST_LIGHT: f64 = 0.75;
/// Share of the scans that may be clipped at the most, and the share that explains why no edge is found.
const CLIPPED_EVERYWHERE: f64 = 0.75;
const CLIPPED_IN_PART: f64 = 0.3;
/// Light at the inflection must be above this share of full scale: about code 5 of 255.
const LEAST_LIGHT: f64 = 0.0015;
/// Light that one wants at the inflection, as a share of full scale: bright enough for the dark side's codes, and far from
/// the bright side's end.
const WANTED_LIGHT: f64 = 0.02;
/// An edge that slopes more than this is no flat part of a cut-off, degrees; pattern and wall seldom lean by more.
const MOST_TILT_DEG: f64 = 4.0;
const WARN_TILT_DEG: f64 = 1.0;
/// Blur of the marks' edges that shifts nothing, but hides where the cut-off is: share of the cut-off's own width.
const MOST_BLUR_DEG: f64 = 0.12;
/// Blur that begins to shift what it softens, degrees: a cut-off is 0.2 to 0.6 wide.
const WARN_BLUR_DEG: f64 = 0.04;
/// A second edge with this share of the main edge's step (in decades), this far off, makes the photo ambiguous.
const SECOND_STEP_SHARE: f64 = 0.15;
const SECOND_APART_DEG: f64 = 0.55;

/// What a real edge's inflection may lie off the model's, one standard deviation as a share of the edge's width. Found
/// on made photos whose edges follow neither of the model's two fades exactly.
const MODEL_SD_OF_WIDTH: f64 = 0.015;

/// Width of an edge, degrees: its whole step at its steepest slope.
fn edge_width_deg(edge: &Edge) -> f64 {
    0.1 * edge.step_decades / edge.sharpness_g
}

/// Reads the cut-off of `lamp` from a photo whose view of the wall is known.
///
/// `lamp_off` is the same scene with the lamp off and the factor that brings its light to this photo's exposure.
/// `pattern` is what the job says; `None` lets the photo decide.
///
/// # Errors
/// A [`Refusal`] that says what was seen and how to mend the photo.
pub fn read(
    photo: &Photo,
    lamp_off: Option<(&Photo, f64)>,
    view: &View,
    lamp: &Lamp,
    traffic: Traffic,
    pattern: Option<Pattern>,
) -> Result<CutOff, Refusal> {
    let lens = Lens::new(lamp, traffic.flat_side_sign());
    let window = Window {
        low_deg: SCAN_LOW_DEG,
        count: ((SCAN_HIGH_DEG - SCAN_LOW_DEG) / STEP_DEG) as usize + 1,
    };
    let floor = lamp_off.map_or(0.0, |(off, factor)| factor * ambient(off, view, lens, window));
    let angles_deg = grid(FLAT_FROM_DEG, FLAT_TO_DEG, COLUMN_DEG);
    let columns = profile::columns(photo, view, lens, window, &angles_deg, floor);
    check_frame(&columns, view)?;
    let clipped = clipped_share(&columns);
    if clipped > CLIPPED_EVERYWHERE {
        return Err(overexposed(clipped));
    }
    // No edge in a photo that is clipped in good part: the exposure hides it.
    let rough = rough_line(&columns, window).map_err(|refusal| {
        if clipped > CLIPPED_IN_PART {
            overexposed(clipped)
        } else {
            refusal
        }
    })?;
    // The pooled edge, in two rounds: the second follows the slope that the first one's strips show.
    let pooled: Vec<&Column> = columns
        .iter()
        .filter(|c| (c.angle_deg - READING_SCAN_DEG).abs() <= POOL_HALF_WIDTH_DEG + 1e-9)
        .collect();
    let mut slope = rough.slope;
    let mut about_deg = rough.at_deg(READING_SCAN_DEG);
    let mut result = None;
    for _ in 0..2 {
        let samples = Samples::of(&profile::pool(&pooled, window, slope, READING_SCAN_DEG), about_deg);
        let edges = fit_edges(&samples, about_deg)?;
        let best = edges.best();
        let strips = strips(&columns, window, slope, best);
        let used: Vec<&ScanPointDeg> = strips.iter().filter(|s| s.used).collect();
        if used.len() < 4 {
            return Err(Refusal::new(
                Reason::NoCutoff,
                "the edge cannot be followed from 1.5 to 3.5 degrees beside the lamp; take away what stands in the beam",
            ));
        }
        slope = line_through(&used).slope;
        about_deg = best.inflection_deg;
        result = Some((samples, edges, strips));
    }
    let Some((samples, edges, strips)) = result else {
        return Err(no_cutoff());
    };
    let best = edges.best();
    check_edge(best, &samples, view, lens, lamp_off.is_some())?;
    check_second_edge(&columns, window, slope, best)?;
    // The scans' angles run towards the flat side; a tilt is counted along x.
    let tilt_deg = lens.flat_sign * slope.atan().to_degrees();
    if tilt_deg.abs() > MOST_TILT_DEG {
        return Err(Refusal::new(
            Reason::NotLevel,
            format!(
                "the edge beside the lamp slopes by {tilt_deg:.1} degrees: that is no flat part of a cut-off. Is the other lamp covered, is the \
                 traffic side right, and does the pattern's flat side fall on the wall?"
            ),
        ));
    }
    let inflection_deg = edges.mean(|e| e.inflection_deg);
    let scatter_deg = scatter_sd_deg(&samples, best, &strips);
    let shape_deg = edges.spread();
    let stray_deg = stray_light_sd_deg(&samples, best, lamp_off.is_some());
    let mm_per_deg = lens.distance_mm * 1f64.to_radians() / inflection_deg.to_radians().cos().powi(2);
    let linearity_deg = linearity_deg(&strips);
    let below_kick = across::check_below_kick(photo, view, lens, window, floor, inflection_deg, slope)?;
    let flat_side = across::check_flat_side(photo, view, lens, window, floor, inflection_deg)?;
    let across = Across::of(photo, view, lens, window, floor, inflection_deg, slope);
    let other_lamp = across.map_or(Ok(None), |across| across.judge(lens.flat_sign))?;
    let found = elbow::find(photo, view, lens, window, floor, inflection_deg, slope, pattern);
    let mut cutoff = CutOff {
        x_mm: lens.x_at_mm(READING_SCAN_DEG),
        y_mm: lens.y_at_mm(inflection_deg),
        scatter_sd_mm: scatter_deg * mm_per_deg,
        shape_sd_mm: shape_deg * mm_per_deg,
        model_sd_mm: MODEL_SD_OF_WIDTH * edge_width_deg(best) * mm_per_deg,
        stray_light_sd_mm: stray_deg * mm_per_deg,
        pattern: found.pattern,
        sharpness_g: edges.mean(|e| e.sharpness_g),
        linearity_deg,
        tilt_deg,
        elbow: found.elbow,
        threshold_y_mm: threshold_deg(&samples).map(|beta| lens.y_at_mm(beta)),
        plain_y_mm: edge::plain_inflection(&samples, inflection_deg, 0.1).map(|beta| lens.y_at_mm(beta)),
        warnings: Vec::new(),
        scans: strips
            .iter()
            .map(|s| ScanPoint {
                angle_deg: s.angle_deg,
                x_mm: lens.x_at_mm(s.angle_deg),
                y_mm: lens.y_at_mm(s.beta_deg),
                used: s.used,
            })
            .collect(),
    };
    cutoff.warnings = warnings(&cutoff);
    cutoff.warnings.extend(other_lamp.or(below_kick).or(flat_side));
    let blur_deg = blur_deg(best, view, lens);
    if blur_deg > WARN_BLUR_DEG {
        cutoff.warnings.push(format!(
            "the photo is blurred by {blur_deg:.2} degrees as seen from the lamp, which softens and shifts the cut-off; hold the camera on something \
             firm and focus on a mark"
        ));
    }
    if lamp_off.is_none() && best.step_decades < WARN_STEP_DECADES {
        cutoff.warnings.push(
            "the dark side is less than twenty-five times darker than the bright one: other light may fall on the wall, and drags the \
             reading down; darken the room, or add a photo with the lamp off (lamp_off)"
                .to_owned(),
        );
    }
    Ok(cutoff)
}

/// What is odd about an edge that can be read all the same.
fn warnings(cutoff: &CutOff) -> Vec<String> {
    let mut warnings = Vec::new();
    if !APPROVED_SHARPNESS.contains(&cutoff.sharpness_g) {
        warnings.push(format!(
            "sharpness G = {:.3}; approved lamps have 0.13 to 0.40 (UN R112). A worn reflector or lens, or a bulb that sits wrong, looks like this",
            cutoff.sharpness_g
        ));
    }
    if cutoff.linearity_deg > APPROVED_LINEARITY_DEG {
        warnings.push(format!(
            "the cut-off is bent: linearity {:.2} degrees; approved lamps keep to 0.2 (UN R112)",
            cutoff.linearity_deg
        ));
    }
    if cutoff.tilt_deg.abs() > WARN_TILT_DEG {
        warnings.push(format!(
            "the cut-off leans by {:.1} degrees; check the lamp's seat and the wall's level, and that neither the other lamp nor other \
             light falls on the wall: what leans may not be this lamp's edge",
            cutoff.tilt_deg
        ));
    }
    warnings
}

/// A strip's inflection as seen from the lamp.
#[derive(Debug, Clone, Copy)]
struct ScanPointDeg {
    angle_deg: f64,
    beta_deg: f64,
    used: bool,
}

/// The edges of both kinds of fade with their weights.
struct Edges {
    edges: Vec<(Edge, f64)>,
}

impl Edges {
    fn best(&self) -> &Edge {
        let best = self
            .edges
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.1.total_cmp(&b.1.1))
            .map_or(0, |(n, _)| n);
        &self.edges[best].0
    }

    fn mean(&self, value: impl Fn(&Edge) -> f64) -> f64 {
        self.edges.iter().map(|(edge, weight)| weight * value(edge)).sum()
    }

    /// One standard deviation of the inflection over the kinds of fade, by their weights, degrees.
    fn spread(&self) -> f64 {
        let mean = self.mean(|e| e.inflection_deg);
        self.mean(|e| (e.inflection_deg - mean).powi(2)).sqrt()
    }
}

/// Fits both kinds of fade and weighs them by how well they fit (J. A. Hoeting et al., *Statistical Science* 14
/// (1999) 382, with the residuals' own scatter as the unit).
fn fit_edges(samples: &Samples, about_deg: f64) -> Result<Edges, Refusal> {
    let edges: Vec<Edge> = [Fade::Logistic, Fade::Normal]
        .into_iter()
        .filter_map(|fade| Edge::fit(samples, fade, about_deg)?.refit_clean(samples))
        .collect();
    let Some(least) = edges.iter().map(|e| e.cost).min_by(f64::total_cmp) else {
        return Err(no_cutoff());
    };
    // Neighbouring samples share their texture, so the likelihood counts about one in four; and where the residuals
    // are larger than assumed, cost is counted in units of what they are.
    let unit = 4.0 * (least / (0.5 * samples.beta_deg.len() as f64)).max(0.05);
    let weights: Vec<f64> = edges.iter().map(|e| (-(e.cost - least) / unit).exp()).collect();
    let sum: f64 = weights.iter().sum();
    Ok(Edges {
        edges: edges.into_iter().zip(weights).map(|(e, w)| (e, w / sum)).collect(),
    })
}

fn no_cutoff() -> Refusal {
    Refusal::new(
        Reason::NoCutoff,
        "no edge of light is found where the lamp should throw one; is the dipped beam on, is the room dark, and do the lamp's side, \
         height, place and distance in the job fit this photo?",
    )
}

fn grid(from: f64, to: f64, step: f64) -> Vec<f64> {
    let count = ((to - from) / step).round() as usize;
    (0..=count).map(|n| from + step * n as f64).collect()
}

/// Ambient light where the scans run: the mean over the reading's columns, since single pixels of a dark photo hold
/// little but noise.
fn ambient(off: &Photo, view: &View, lens: Lens, window: Window) -> f64 {
    let angles_deg = grid(
        READING_SCAN_DEG - POOL_HALF_WIDTH_DEG,
        READING_SCAN_DEG + POOL_HALF_WIDTH_DEG,
        0.1,
    );
    let columns = profile::columns(off, view, lens, window, &angles_deg, 0.0);
    let (mut sum, mut count) = (0.0, 0.0);
    for value in columns.iter().flat_map(|c| &c.light).filter(|v| v.is_finite()) {
        sum += value;
        count += 1.0;
    }
    if count > 0.0 { sum / count } else { 0.0 }
}

/// The reading scan must lie in the photo, well above and below where beams end.
fn check_frame(columns: &[Column], view: &View) -> Result<(), Refusal> {
    let seen = |column: &&Column| column.light.iter().filter(|v| v.is_finite()).count() as f64 * STEP_DEG;
    let near: Vec<&Column> = columns
        .iter()
        .filter(|c| (c.angle_deg - READING_SCAN_DEG).abs() <= 0.5)
        .collect();
    let whole = near.iter().filter(|c| seen(c) > 2.5).count();
    if 10 * whole < 9 * near.len() {
        return Err(Refusal::new(
            Reason::CutoffOutOfFrame,
            format!(
                "the photo does not hold the place where the cut-off is read, 2.5 degrees beside the lamp on the flat side ({} marks seen); \
                 step back or turn the camera so that the wall from the lamp's height down to the low marks is in the picture",
                view.marks.len()
            ),
        ));
    }
    Ok(())
}

/// Share of the scans that is clipped.
fn clipped_share(columns: &[Column]) -> f64 {
    let (mut clipped, mut all) = (0usize, 0usize);
    for column in columns {
        for (light, &is_clipped) in column.light.iter().zip(&column.clipped) {
            all += usize::from(light.is_finite());
            clipped += usize::from(light.is_finite() && is_clipped);
        }
    }
    clipped as f64 / all.max(1) as f64
}

fn overexposed(share: f64) -> Refusal {
    Refusal::new(
        Reason::Overexposed,
        format!(
            "the cut-off lies in clipped light ({:.0} % of the scan is at full scale); turn the exposure down by 2 EV and take it again",
            100.0 * share
        ),
    )
}

/// A straight line in lamp angles: β at angle 0, and degrees of β per degree of angle.
#[derive(Debug, Clone, Copy)]
struct Line {
    at_zero_deg: f64,
    slope: f64,
}

impl Line {
    fn at_deg(self, angle_deg: f64) -> f64 {
        self.at_zero_deg + self.slope * angle_deg
    }
}

/// Where to look: the lit region by a threshold on log light, then each strip's strongest fall near its upper edge,
/// and the line that most of them share.
fn rough_line(columns: &[Column], window: Window) -> Result<Line, Refusal> {
    let strips: Vec<(f64, Profile)> = strip_columns(columns)
        .into_iter()
        .map(|(angle_deg, inside)| (angle_deg, profile::pool(&inside, window, 0.0, angle_deg)))
        .collect();
    let falls_within = |bounds: Option<(f64, f64)>| -> Vec<(f64, f64)> {
        strips
            .iter()
            .filter_map(|(angle_deg, profile)| {
                let (beta_deg, step) = strongest_fall(profile, bounds)?;
                (step > LEAST_STEP_DECADES).then_some((*angle_deg, beta_deg))
            })
            .collect()
    };
    let mut points = falls_within(lit_bounds(&strips, window).map(|top_deg| (top_deg - 2.0, top_deg + 2.0)));
    if points.len() < 5 {
        // A threshold can be led astray by a bright floor or lamp; then the whole scan is looked through.
        points = falls_within(None);
    }
    if points.len() < 5 {
        return Err(soft_edge(&strips).unwrap_or_else(no_cutoff));
    }
    // Theil–Sen: the median of all slopes, then of all offsets; a third of the strips may be wrong.
    let mut slopes = Vec::new();
    for (n, a) in points.iter().enumerate() {
        slopes.extend(points[n + 1..].iter().map(|b| (b.1 - a.1) / (b.0 - a.0)));
    }
    let slope = median(&mut slopes);
    let mut offsets: Vec<f64> = points.iter().map(|p| p.1 - slope * p.0).collect();
    Ok(Line {
        at_zero_deg: median(&mut offsets),
        slope,
    })
}

/// The refusal of an edge that falls as far as a cut-off does, but so slowly that no steep place is found in it.
fn soft_edge(strips: &[(f64, Profile)]) -> Option<Refusal> {
    /// Means of log light over so much above and below a place are compared, degrees.
    const REACH_DEG: f64 = 1.5;
    const LEAST_FALL_DECADES: f64 = 0.5;
    let mut falls: Vec<f64> = strips
        .iter()
        .filter_map(|(_, profile)| {
            falls_over(profile, STEP_NEAR_DEG, REACH_DEG)
                .into_iter()
                .filter(|f| f.is_finite())
                .max_by(f64::total_cmp)
        })
        .collect();
    let fall = median(&mut falls);
    (fall > LEAST_FALL_DECADES).then(|| {
        Refusal::new(
            Reason::CutoffUnsharp,
            format!(
                "the light fades by {fall:.1} decades over three degrees, without a place that could be called an edge; clean the lens, check the bulb's \
                 seat, and move the car to 7.5 to 10 m from the wall"
            ),
        )
    })
}

/// Upper edge of the lit region, degrees: Otsu's threshold on the strips' log light, the median over the strips. Only a
/// stretch of lit wall counts, not a speck of noise.
fn lit_bounds(strips: &[(f64, Profile)], window: Window) -> Option<f64> {
    const STRETCH: usize = 15;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for &light in strips.iter().flat_map(|s| &s.1.light).filter(|v| v.is_finite()) {
        let ln = light.max(LEAST_LOG_LIGHT).ln();
        low = low.min(ln);
        high = high.max(ln);
    }
    if !(high - low).is_finite() || high - low < 0.5 {
        return None;
    }
    let code = |light: f64| {
        if light.is_finite() {
            (255.0 * (light.max(LEAST_LOG_LIGHT).ln() - low) / (high - low)) as u8
        } else {
            0
        }
    };
    let picture = GrayImage::from_fn(strips.len() as u32, window.count as u32, |x, y| {
        Luma([code(strips[x as usize].1.light[y as usize])])
    });
    let level = imageproc::contrast::otsu_level(&picture);
    let mut tops: Vec<f64> = strips
        .iter()
        .filter_map(|(_, profile)| {
            let lit: Vec<bool> = profile.light.iter().map(|&v| code(v) > level).collect();
            (STRETCH..lit.len())
                .rev()
                .find(|&n| lit[n - STRETCH..=n].iter().all(|&l| l))
                .map(|n| window.at_deg(n))
        })
        .collect();
    (!tops.is_empty()).then(|| median(&mut tops))
}

/// The median; NaN of no values.
fn median(values: &mut [f64]) -> f64 {
    crate::fit::median(values).unwrap_or(f64::NAN)
}

/// The columns by strips: each strip's middle angle and its columns.
fn strip_columns(columns: &[Column]) -> Vec<(f64, Vec<&Column>)> {
    let count = ((FLAT_TO_DEG - FLAT_FROM_DEG) / STRIP_DEG).round() as usize;
    (0..count)
        .map(|n| {
            let from = FLAT_FROM_DEG + STRIP_DEG * n as f64;
            let inside = columns
                .iter()
                .filter(|c| (from - 1e-9..from + STRIP_DEG + 1e-9).contains(&c.angle_deg))
                .collect();
            (from + 0.5 * STRIP_DEG, inside)
        })
        .collect()
}

/// Light below this, about a third of the first code above black, counts as this in a logarithm.
const LEAST_LOG_LIGHT: f64 = 1e-4;
/// Half-widths of the step detector, degrees: means of log light from here to there above and below.
const STEP_NEAR_DEG: f64 = 0.06;
const STEP_FAR_DEG: f64 = 0.46;

/// Fall of log10 light across each place: the mean over a stretch below less that over one above. NaN at the ends.
fn falls(profile: &Profile) -> Vec<f64> {
    falls_over(profile, STEP_NEAR_DEG, STEP_FAR_DEG)
}

/// As [`falls`], over stretches from `near_deg` to `far_deg` above and below each place.
fn falls_over(profile: &Profile, near_deg: f64, far_deg: f64) -> Vec<f64> {
    let count = profile.light.len();
    let mut sums = Vec::with_capacity(count + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for &light in &profile.light {
        sum += light.max(LEAST_LOG_LIGHT).log10();
        sums.push(sum);
    }
    let finite: Vec<bool> = profile.light.iter().map(|v| v.is_finite()).collect();
    let (near, far) = (
        (near_deg / STEP_DEG).round() as usize,
        (far_deg / STEP_DEG).round() as usize,
    );
    (0..count)
        .map(|n| {
            if n < far || n + far >= count || !finite[n - far] || !finite[n + far] {
                return f64::NAN;
            }
            let length = (far - near) as f64;
            ((sums[n - near] - sums[n - far]) - (sums[n + far + 1] - sums[n + near + 1])) / length
        })
        .collect()
}

/// The strongest fall of a profile, within bounds: its angle and its size in decades.
fn strongest_fall(profile: &Profile, within_deg: Option<(f64, f64)>) -> Option<(f64, f64)> {
    falls(profile)
        .into_iter()
        .zip(&profile.beta_deg)
        .filter(|(fall, beta)| fall.is_finite() && within_deg.is_none_or(|(a, b)| (a..=b).contains(*beta)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(fall, &beta)| (beta, fall))
}

/// Each strip's inflection: the pooled edge shifted to the strip's own light. Strips that a mark or a pipe throws off
/// the others' line are kept but not used.
fn strips(columns: &[Column], window: Window, slope: f64, edge: &Edge) -> Vec<ScanPointDeg> {
    let mut strips: Vec<ScanPointDeg> = strip_columns(columns)
        .into_iter()
        .filter_map(|(angle_deg, inside)| {
            let expected_deg = slope * (angle_deg - READING_SCAN_DEG);
            // Pooling at the strip's own middle and moving it by the expected slope brings it onto the pooled edge.
            let mut profile = profile::pool(&inside, window, slope, angle_deg);
            for beta in &mut profile.beta_deg {
                *beta -= expected_deg;
            }
            let samples = Samples::of(&profile, edge.inflection_deg);
            if samples.beta_deg.len() < 40 {
                return None;
            }
            let shift_deg = edge.shift_deg(&samples)?;
            Some(ScanPointDeg {
                angle_deg,
                beta_deg: edge.inflection_deg + shift_deg + expected_deg,
                used: true,
            })
        })
        .collect();
    for _ in 0..3 {
        let used: Vec<&ScanPointDeg> = strips.iter().filter(|s| s.used).collect();
        if used.len() < 5 {
            break;
        }
        let line = line_through(&used);
        let mut distances: Vec<f64> = used
            .iter()
            .map(|s| (s.beta_deg - line.at_deg(s.angle_deg)).abs())
            .collect();
        // 1.4826 times the median distance is a normal distribution's standard deviation.
        let limit_deg = (4.0 * 1.4826 * median(&mut distances)).max(0.06);
        for strip in &mut strips {
            strip.used = (strip.beta_deg - line.at_deg(strip.angle_deg)).abs() <= limit_deg;
        }
    }
    strips
}

fn line_through(points: &[&ScanPointDeg]) -> Line {
    let n = points.len() as f64;
    let mean_x = points.iter().map(|p| p.angle_deg).sum::<f64>() / n;
    let mean_y = points.iter().map(|p| p.beta_deg).sum::<f64>() / n;
    let sxx: f64 = points.iter().map(|p| (p.angle_deg - mean_x).powi(2)).sum();
    let sxy: f64 = points
        .iter()
        .map(|p| (p.angle_deg - mean_x) * (p.beta_deg - mean_y))
        .sum();
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    Line {
        at_zero_deg: mean_y - slope * mean_x,
        slope,
    }
}

fn check_edge(edge: &Edge, samples: &Samples, view: &View, lens: Lens, has_lamp_off: bool) -> Result<(), Refusal> {
    let below = samples
        .beta_deg
        .iter()
        .zip(&samples.clipped)
        .filter(|(b, _)| (-0.5..0.0).contains(&(*b - edge.inflection_deg)));
    let (clipped, all) = below.fold((0.0, 0.0), |(c, a), (_, &is)| (c + f64::from(u8::from(is)), a + 1.0));
    let clipped_at_edge = samples
        .beta_deg
        .iter()
        .zip(&samples.clipped)
        .any(|(b, &is)| is && *b - edge.inflection_deg > -0.05);
    if clipped_at_edge || edge.light_at_inflection > MOST_LIGHT {
        return Err(overexposed(if all > 0.0 { clipped / all } else { 1.0 }));
    }
    if edge.light_at_inflection < LEAST_LIGHT {
        return Err(Refusal::new(
            Reason::Underexposed,
            format!(
                "the cut-off drowns in the camera's black (light there is {:.2} % of full scale); turn the exposure up by {:.0} EV, with the camera on \
                 something firm",
                100.0 * edge.light_at_inflection,
                (WANTED_LIGHT / edge.light_at_inflection.max(1e-5)).log2().ceil()
            ),
        ));
    }
    if edge.step_decades < LEAST_STEP_DECADES {
        return Err(no_cutoff());
    }
    if !has_lamp_off && edge.step_decades < LEAST_STEP_WITHOUT_LAMP_OFF_DECADES {
        return Err(Refusal::new(
            Reason::NoCutoff,
            format!(
                "the dark side has {:.0} % of the bright side's light: most of that is not the lamp's, and hides where its cut-off is; darken the \
                 room, or add a photo of the same view with the lamp off (lamp_off)",
                100.0 * 10f64.powf(-edge.step_decades)
            ),
        ));
    }
    let blur_deg = blur_deg(edge, view, lens);
    if blur_deg > MOST_BLUR_DEG {
        return Err(Refusal::new(
            Reason::Blurred,
            format!(
                "the marks' edges are blurred by {blur_deg:.2} degrees as seen from the lamp; hold the camera on something firm and focus on a mark"
            ),
        ));
    }
    if edge.sharpness_g < LEAST_SHARPNESS {
        return Err(Refusal::new(
            Reason::CutoffUnsharp,
            format!(
                "the edge is too soft to be placed (G = {:.3}; approved lamps have 0.13 or more); clean the lens, check the bulb's seat, and move \
                 the car to 7.5 to 10 m from the wall",
                edge.sharpness_g
            ),
        ));
    }
    let (low, high) = samples
        .beta_deg
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &b| (l.min(b), h.max(b)));
    if edge.inflection_deg - low < 0.5 || high - edge.inflection_deg < 0.5 {
        return Err(Refusal::new(
            Reason::CutoffOutOfFrame,
            "the cut-off lies too near to the picture's edge or to the floor; half a degree above and below it must be seen on the wall",
        ));
    }
    Ok(())
}

/// Blur of the marks' edges as seen from the lamp, degrees, one standard deviation.
fn blur_deg(edge: &Edge, view: &View, lens: Lens) -> f64 {
    let place = [lens.x_at_mm(READING_SCAN_DEG), lens.y_at_mm(edge.inflection_deg)];
    let mut blurs: Vec<f64> = view.marks.iter().map(|m| m.blur_px).collect();
    median(&mut blurs) * view.mm_per_px(place).unwrap_or(f64::NAN) / (lens.distance_mm * 1f64.to_radians())
}

/// A second fall of light, apart from the first: what the fitted edge leaves of the profile is looked through for
/// another step, so that the first one's own soft shoulders do not count.
fn check_second_edge(columns: &[Column], window: Window, slope: f64, edge: &Edge) -> Result<(), Refusal> {
    let all: Vec<&Column> = columns.iter().collect();
    let mut rest = profile::pool(&all, window, slope, READING_SCAN_DEG);
    for (light, &beta_deg) in rest.light.iter_mut().zip(&rest.beta_deg) {
        *light /= edge.light(beta_deg);
    }
    let falls = falls(&rest);
    for n in 1..falls.len().saturating_sub(1) {
        let apart_deg = rest.beta_deg[n] - edge.inflection_deg;
        let peak = falls[n] >= falls[n - 1] && falls[n] >= falls[n + 1];
        if peak && apart_deg.abs() > SECOND_APART_DEG && falls[n] > SECOND_STEP_SHARE * edge.step_decades.min(2.0) {
            return Err(Refusal::new(
                Reason::SecondCutoff,
                format!(
                    "a second edge of light lies {:.1} degrees {} the first; cover the other lamp, and keep other lights off the wall",
                    apart_deg.abs(),
                    if apart_deg > 0.0 { "above" } else { "below" }
                ),
            ));
        }
    }
    Ok(())
}

/// Scatter of the pooled inflection: between strips (texture and noise), and what the fit owes to what runs along the
/// edge (joints of a brick wall), which pooling over the strips does not take away. That is the larger of two figures:
/// what any short stretch of β does, by the delete-a-block jackknife (B. Efron, 1982), and what the residuals would
/// have done had the wall hung a little higher or lower, by moving them round under the same edge (block bootstrap;
/// H. R. Künsch, *Annals of Statistics* 17 (1989) 1217).
fn scatter_sd_deg(samples: &Samples, edge: &Edge, strips: &[ScanPointDeg]) -> f64 {
    const BLOCK_DEG: f64 = 0.15;
    const BLOCKS: i32 = 8;
    let used: Vec<&ScanPointDeg> = strips
        .iter()
        .filter(|s| s.used && (s.angle_deg - READING_SCAN_DEG).abs() <= POOL_HALF_WIDTH_DEG)
        .collect();
    let line = line_through(&used);
    let n = used.len() as f64;
    let between = used
        .iter()
        .map(|s| (s.beta_deg - line.at_deg(s.angle_deg)).powi(2))
        .sum::<f64>()
        / (n - 2.0).max(1.0)
        / n.max(1.0);
    let shifted: Vec<f64> = (0..BLOCKS)
        .filter_map(|k| {
            let from = edge.inflection_deg + BLOCK_DEG * f64::from(k - BLOCKS / 2);
            edge.refit(&samples.without(from, from + BLOCK_DEG))
                .map(|e| e.inflection_deg)
        })
        .collect();
    let count = shifted.len() as f64;
    let mean = shifted.iter().sum::<f64>() / count.max(1.0);
    let along = (count - 1.0).max(0.0) / count.max(1.0) * shifted.iter().map(|s| (s - mean).powi(2)).sum::<f64>();
    let moved: Vec<f64> = (1..=BLOCKS as usize)
        .filter_map(|k| {
            edge.refit(&edge.with_residuals_moved(samples, k * samples.beta_deg.len() / (BLOCKS as usize + 1)))
        })
        .map(|e| (e.inflection_deg - edge.inflection_deg).powi(2))
        .collect();
    let round = moved.iter().sum::<f64>() / moved.len().max(1) as f64;
    (between + along.max(round)).sqrt()
}

/// Light that is not the lamp's, as a share of the dark level: in a darkened room, and what is left where it was measured with
/// the lamp off (common practice, no source).
pub(crate) const STRAY_SHARE_USUAL: f64 = 0.1;
pub(crate) const STRAY_SHARE_LEFT: f64 = 0.04;

/// What light that is not the lamp's can do, and a black level that is off by half a code: how far the inflection moves when a share of the dark level is taken away,
/// as two standard deviations. Ambient and veil are taken to be a tenth of the dark level; more, where no lamp-off photo
/// is at hand and the dark level is higher than the lamps of a dark garage leave it (common practice, no source); and a
/// twenty-fifth where ambient light was measured with the lamp off.
fn stray_light_sd_deg(samples: &Samples, edge: &Edge, ambient_known: bool) -> f64 {
    const MOST_SHARE: f64 = 0.8;
    /// Bright over dark level of lamps in a dark garage, decades: at the least.
    const DARK_GARAGE_DECADES: f64 = 1.6;
    let share = if ambient_known {
        STRAY_SHARE_LEFT
    } else {
        (1.0 - 10f64.powf(edge.step_decades - DARK_GARAGE_DECADES)).clamp(STRAY_SHARE_USUAL, MOST_SHARE)
    };
    let moved_deg = |share: f64| {
        edge.refit(&samples.less_floor(share))
            .map_or(0.02, |e| (e.inflection_deg - edge.inflection_deg).abs())
    };
    // The black level is unsure too: where the dark side is a few codes above black, that counts for more.
    0.5 * moved_deg(share).hypot(moved_deg(samples.half_code_share().min(MOST_SHARE)))
}

/// Largest difference between the inflections at 1.5°, 2.5° and 3.5° (UN R112), from the strips' smooth curve, with the
/// flat part's own tilt taken out: the lamp on its stand is levelled first.
fn linearity_deg(strips: &[ScanPointDeg]) -> f64 {
    let used: Vec<&ScanPointDeg> = strips.iter().filter(|s| s.used).collect();
    let line = line_through(&used);
    // The line leaves a bend; its size at the three scans by least squares on the centred square.
    let mean_square = used
        .iter()
        .map(|s| (s.angle_deg - READING_SCAN_DEG).powi(2))
        .sum::<f64>()
        / used.len().max(1) as f64;
    let (mut top, mut bottom) = (0.0, 0.0);
    for s in &used {
        let square = (s.angle_deg - READING_SCAN_DEG).powi(2) - mean_square;
        top += square * (s.beta_deg - line.at_deg(s.angle_deg));
        bottom += square * square;
    }
    let bend = if bottom > 0.0 { top / bottom } else { 0.0 };
    LINEARITY_SCANS_DEG
        .iter()
        .map(|scan| (bend * (scan - READING_SCAN_DEG).powi(2)).abs())
        .fold(0.0, f64::max)
}

/// Where light crosses the middle between the bright and the dark level, degrees; for comparison only.
fn threshold_deg(samples: &Samples) -> Option<f64> {
    let light: Vec<f64> = samples.ln_light.iter().map(|ln| ln.exp()).collect();
    let high = light.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = light.iter().copied().fold(f64::INFINITY, f64::min);
    let half = 0.5 * (high + low);
    (1..light.len())
        .rev()
        .find(|&n| light[n - 1] >= half && light[n] < half)
        .map(|n| {
            let fraction = (light[n - 1] - half) / (light[n - 1] - light[n]);
            samples.beta_deg[n - 1] + fraction * (samples.beta_deg[n] - samples.beta_deg[n - 1])
        })
}
