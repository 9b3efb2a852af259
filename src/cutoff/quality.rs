//! Whether a cut-off can be read: what is seen of it, its light, its sharpness, its lean; and what is odd where it can.

use super::edge::{Edge, Samples};
use super::scan::{Column, STEP_DEG, Scans, Window, pool};
use super::{CutOff, READING_SCAN_DEG, median};
use crate::language::{Language, said};
use crate::refusal::{Reason, Refusal};
use crate::wall::View;
use crate::warning::Warning;

// Thresholds of the refusals and warnings: our choice, without a source, except where one is named. `tests/refusals.rs`
// holds a made photo on either side of each refusal.

/// A cut-off is a fall of the light by more than this, decades; approved lamps fall by two.
pub(super) const LEAST_STEP_DECADES: f64 = 0.35;
/// Without a lamp-off photo, a smaller fall than this is mostly other light's: a cut-off falls to a thirtieth or less, so that the
/// room then gives the dark side three quarters of its light or more.
const LEAST_STEP_WITHOUT_LAMP_OFF_DECADES: f64 = 0.9;
/// Without a lamp-off photo, a smaller fall than this makes one ask for other light: sixteen times. A lamp by itself may fall by as
/// little as fifteen times (UN R112, from memory: 350 cd at B50L at the most, 5100 cd at 50V at the least); what other light may do
/// above that is in the uncertainty.
const WARN_STEP_DECADES: f64 = 1.2;
/// Approval wants G of 0.13 or more (UN R112); half of that can still be placed.
const LEAST_SHARPNESS: f64 = 0.06;
pub(crate) const APPROVED_SHARPNESS: std::ops::RangeInclusive<f64> = 0.13..=0.40;
/// One standard deviation of G as it is read: the root mean square of its error in made photos is 0.006 to 0.01. Only what lies twice
/// as far beyond the limits surely does (a guard band, JCGM 106:2012, 8.3.2).
const SHARPNESS_SD_G: f64 = 0.01;
/// Approval allows the inflections to differ by this (UN R112).
pub(super) const APPROVED_LINEARITY_DEG: f64 = 0.2;
/// Light at the inflection must stay below this share of full scale, or the edge lies in clipped light.
const MOST_LIGHT: f64 = 0.75;
/// Share of the scans that may be clipped at the most, and the share that explains why no edge is found.
pub(super) const CLIPPED_EVERYWHERE: f64 = 0.75;
pub(super) const CLIPPED_IN_PART: f64 = 0.3;
/// Light at the inflection must be above this share of full scale: about code 5 of 255.
const LEAST_LIGHT: f64 = 0.0015;
/// Light that one wants at the inflection, as a share of full scale: bright enough for the dark side's codes, and far from
/// the bright side's end.
const WANTED_LIGHT: f64 = 0.02;
/// An edge that slopes more than this is no flat part of a cut-off, degrees; pattern and wall seldom lean by more.
const MOST_TILT_DEG: f64 = 4.0;
/// A lean as far as this is in order, and moves no figure: the cut-off is read on its scan, and a V-V that is off by 20 mm moves it
/// by 0.7 mm. A lamp's turn in its seat is within about 1° (common practice, no source); and the inflection of a blurred edge lies the
/// lower the less light there is below it, so that such an edge leans towards where its light falls off, by 0.8° without any turn in
/// the scenes of the sample photos. UN R112's linearity lets the flat part rise 0.2° from 1.5° to 3.5°, which is a lean of 5.7°.
const WARN_TILT_DEG: f64 = 2.0;
/// Blur of the marks' edges that hides where the cut-off is, degrees: half of a sharp cut-off's own width.
const MOST_BLUR_DEG: f64 = 0.12;
/// Blur that begins to shift what it softens, degrees: a cut-off is 0.2 to 0.6 wide.
const WARN_BLUR_DEG: f64 = 0.04;
/// So much must be seen above and below the edge, degrees: a cut-off's width and a little more.
pub(super) const LEAST_MARGIN_DEG: f64 = 0.5;
/// So much of the scans so near to the reading scan must be seen, degrees, in nine of ten of them.
const LEAST_SEEN_DEG: f64 = 2.5;
const NEAR_READING_DEG: f64 = 0.5;
/// A second edge with this share of the main edge's step (in decades), this far off, makes the photo ambiguous.
const SECOND_STEP_SHARE: f64 = 0.15;
const SECOND_APART_DEG: f64 = 0.55;

/// The refusal of a photo in which no edge is found.
pub(super) fn no_cutoff() -> Refusal {
    Refusal::new(Reason::NoCutoff, |language| {
        said!(
            language;
            "no edge of light is found where the lamp should throw one; is the dipped beam on, is the room dark, and do the lamp's side, \
             height, place and distance in the job fit this photo?",
            "wo der Scheinwerfer eine werfen sollte, ist keine Lichtkante zu finden; ist das Abblendlicht an, ist der Raum \
             dunkel, und passen Seite, Höhe, Lage und Abstand des Scheinwerfers im Auftrag zu diesem Foto?"
        )
    })
}

/// The reading scan must lie in the photo, well above and below where beams end. `aside_deg`: how far towards the flat side the
/// pattern lies of where the lamp should throw it.
pub(super) fn check_frame(columns: &[Column], view: &View, aside_deg: f64) -> Result<(), Refusal> {
    let seen = |column: &&Column| column.light.iter().filter(|v| v.is_finite()).count() as f64 * STEP_DEG;
    let near: Vec<&Column> = columns
        .iter()
        .filter(|c| (c.angle_deg - READING_SCAN_DEG).abs() <= NEAR_READING_DEG)
        .collect();
    let whole = near.iter().filter(|c| seen(c) > LEAST_SEEN_DEG).count();
    if 10 * whole < 9 * near.len() {
        if aside_deg != 0.0 {
            return Err(Refusal::new(Reason::CutoffOutOfFrame, |language| {
                said!(
                    language;
                    "the elbow lies {} degrees to the {} side of where the lamp should throw it, and the photo does not hold the place 2.5 degrees \
                     beside the elbow where the cut-off is then read; set the car square to the wall, or check the lamp's centre_x_mm, and take the photo \
                     again with more of the wall in it",
                    "der Knick liegt {} Grad zur {} Seite hin von dort, wo der Scheinwerfer ihn werfen sollte, und die Stelle \
                     2,5 Grad neben dem Knick, an der die Hell-Dunkel-Grenze dann gelesen wird, ist nicht im Foto; das \
                     Fahrzeug gerade zur Wand stellen oder centre_x_mm des Scheinwerfers prüfen und das Foto mit mehr Wand \
                     neu aufnehmen";
                    language.decimal(aside_deg.abs(), 1),
                    match (language, aside_deg > 0.0) {
                        (Language::English, true) => "flat",
                        (Language::English, false) => "other",
                        (Language::German, true) => "ebenen",
                        (Language::German, false) => "anderen",
                    }
                )
            }));
        }
        return Err(Refusal::new(Reason::CutoffOutOfFrame, |language| {
            said!(
                language;
                "the photo does not hold the place where the cut-off is read, 2.5 degrees beside the lamp on the flat side ({} sheets seen); \
                 step back or turn the camera so that the wall from the lamp's height down to the low sheets is in the picture",
                "die Stelle, an der die Hell-Dunkel-Grenze gelesen wird, 2,5 Grad neben dem Scheinwerfer auf der ebenen \
                 Seite, ist nicht im Foto ({} Messblätter gesehen); zurücktreten oder die Kamera drehen, sodass die Wand von \
                 der Höhe des Scheinwerfers bis hinab zu den unteren Messblättern im Bild ist";
                view.marks.len()
            )
        }));
    }
    Ok(())
}

/// Share of the scans that is clipped.
pub(super) fn clipped_share(columns: &[Column]) -> f64 {
    let (mut clipped, mut all) = (0usize, 0usize);
    for column in columns {
        for (light, &is_clipped) in column.light.iter().zip(&column.clipped) {
            all += usize::from(light.is_finite());
            clipped += usize::from(light.is_finite() && is_clipped);
        }
    }
    clipped as f64 / all.max(1) as f64
}

/// The refusal of a cut-off in clipped light, with the share of the scan that is at full scale.
pub(super) fn overexposed(share: f64) -> Refusal {
    Refusal::new(Reason::Overexposed, |language| {
        said!(
            language;
            "the cut-off lies in clipped light ({:.0} % of the scan is at full scale); turn the exposure down by 2 EV and take it again",
            "die Hell-Dunkel-Grenze liegt in überstrahltem Licht ({:.0} % der Abtastung sind am Anschlag); die Belichtung um \
             2 EV verringern und neu aufnehmen";
            100.0 * share
        )
    })
}

/// Blur of the marks' edges as seen from the lamp, degrees, one standard deviation, at a cut-off so high on the reading
/// scan.
pub(super) fn blur_deg(scans: &Scans<'_>, inflection_deg: f64) -> f64 {
    let place = [scans.lamp.x_at_mm(READING_SCAN_DEG), scans.lamp.y_at_mm(inflection_deg)];
    let mut blurs: Vec<f64> = scans.view.marks.iter().map(|m| m.blur_px).collect();
    median(&mut blurs) * scans.view.mm_per_px(place).unwrap_or(f64::NAN) / (scans.lamp.distance_mm * 1f64.to_radians())
}

/// The pooled edge must lie in the camera's range, be a cut-off's, and be sharp enough to be placed.
///
/// `blur_deg`: of the photo, as [`blur_deg`] gives it; `ambient_known`: the light that is not the lamp's was taken away.
///
/// # Errors
/// A [`Refusal`] that says what was seen and how to mend it.
pub(super) fn check_edge(edge: &Edge, samples: &Samples, blur_deg: f64, ambient_known: bool) -> Result<(), Refusal> {
    check_exposure(edge, samples)?;
    check_step(edge, ambient_known)?;
    if blur_deg > MOST_BLUR_DEG {
        return Err(Refusal::new(Reason::Blurred, |language| {
            said!(
                language;
                "the sheets' edges are blurred by {blur_deg} degrees as seen from the lamp; hold the camera on something firm and focus on a sheet",
                "die Kanten der Messblätter sind, vom Scheinwerfer aus gesehen, um {blur_deg} Grad unscharf; die Kamera fest \
                 auflegen und auf ein Messblatt scharf stellen";
                blur_deg = language.decimal(blur_deg, 2)
            )
        }));
    }
    if edge.sharpness_g < LEAST_SHARPNESS {
        return Err(Refusal::new(Reason::CutoffUnsharp, |language| {
            said!(
                language;
                "the edge is too soft to be placed (G = {}; approved lamps have 0.13 or more); clean the lens, check the bulb's seat, and move \
                 the car to 7.5 to 10 m from the wall",
                "die Kante ist zu weich, um sie festzulegen (G = {}; zugelassene Scheinwerfer haben 0,13 oder mehr); die \
                 Streuscheibe reinigen, den Sitz der Lampe prüfen und das Fahrzeug 7,5 bis 10 m vor die Wand stellen";
                language.decimal(edge.sharpness_g, 3)
            )
        }));
    }
    let (low, high) = samples
        .beta_deg
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &b| (l.min(b), h.max(b)));
    if edge.inflection_deg - low < LEAST_MARGIN_DEG || high - edge.inflection_deg < LEAST_MARGIN_DEG {
        return Err(Refusal::new(Reason::CutoffOutOfFrame, |language| {
            said!(
                language;
                "the cut-off lies too near to the picture's edge or to the floor; half a degree above and below it must be seen on the wall",
                "die Hell-Dunkel-Grenze liegt zu nahe am Bildrand oder am Boden; ein halbes Grad darüber und darunter muss \
                 auf der Wand zu sehen sein"
            )
        }));
    }
    Ok(())
}

/// The light at the edge must be neither clipped nor lost in black.
fn check_exposure(edge: &Edge, samples: &Samples) -> Result<(), Refusal> {
    /// Clipped samples nearer to the inflection than this, from below, are of the edge itself, degrees.
    const AT_EDGE_DEG: f64 = 0.05;
    let from_edge = || {
        let angles_deg = samples.beta_deg.iter().map(|beta| beta - edge.inflection_deg);
        angles_deg.zip(samples.clipped.iter().copied())
    };
    let clipped_at_edge = from_edge().any(|(from_deg, clipped)| clipped && from_deg > -AT_EDGE_DEG);
    if clipped_at_edge || edge.light_at_inflection > MOST_LIGHT {
        let below: Vec<bool> = from_edge()
            .filter(|(from_deg, _)| (-0.5..0.0).contains(from_deg))
            .map(|(_, clipped)| clipped)
            .collect();
        let clipped = below.iter().filter(|&&clipped| clipped).count();
        return Err(overexposed(if below.is_empty() {
            1.0
        } else {
            clipped as f64 / below.len() as f64
        }));
    }
    if edge.light_at_inflection < LEAST_LIGHT {
        return Err(Refusal::new(Reason::Underexposed, |language| {
            said!(
                language;
                "the cut-off drowns in the camera's black (light there is {} % of full scale); turn the exposure up by {:.0} EV, with the camera on \
                 something firm",
                "die Hell-Dunkel-Grenze geht im Schwarz der Kamera unter (dort sind {} % des Vollausschlags); die Belichtung \
                 um {:.0} EV erhöhen, die Kamera fest aufgelegt";
                language.decimal(100.0 * edge.light_at_inflection, 2),
                (WANTED_LIGHT / edge.light_at_inflection.max(1e-5)).log2().ceil()
            )
        }));
    }
    Ok(())
}

/// The light must fall as far as at a cut-off.
fn check_step(edge: &Edge, ambient_known: bool) -> Result<(), Refusal> {
    if edge.step_decades < LEAST_STEP_DECADES {
        return Err(no_cutoff());
    }
    if !ambient_known && edge.step_decades < LEAST_STEP_WITHOUT_LAMP_OFF_DECADES {
        return Err(Refusal::new(Reason::NoCutoff, |language| {
            said!(
                language;
                "the dark side has {:.0} % of the bright side's light: most of that is not the lamp's, and hides where its cut-off is; darken the \
                 room, or add a photo of the same view with the lamp off (lamp_off)",
                "die dunkle Seite hat {:.0} % des Lichts der hellen: das meiste davon stammt nicht vom Scheinwerfer und \
                 verdeckt, wo seine Hell-Dunkel-Grenze liegt; den Raum abdunkeln oder ein Foto derselben Ansicht ohne Licht \
                 ergänzen (lamp_off)";
                100.0 * 10f64.powf(-edge.step_decades)
            )
        }));
    }
    Ok(())
}

/// The flat part must be near level. `tilt_deg`: its angle against the wall's horizontal.
///
/// # Errors
/// `not-level` where it is not.
pub(super) fn check_level(tilt_deg: f64) -> Result<(), Refusal> {
    if tilt_deg.abs() > MOST_TILT_DEG {
        return Err(Refusal::new(Reason::NotLevel, |language| {
            said!(
                language;
                "the edge beside the lamp slopes by {tilt_deg} degrees: that is no flat part of a cut-off. Is it this lamp that was lit, and \
                 its x entered with the right sign? Is the other lamp covered, is the traffic side right, and does the pattern's \
                 flat side fall on the wall?",
                "die Kante neben dem Scheinwerfer ist um {tilt_deg} Grad geneigt: das ist kein ebener Teil einer \
                 Hell-Dunkel-Grenze. War dieser Scheinwerfer an, und ist sein x mit dem richtigen Vorzeichen eingetragen? Ist \
                 der andere abgedeckt, stimmt die Verkehrsseite, und fällt die ebene Seite auf die Wand?";
                tilt_deg = language.decimal(tilt_deg, 1)
            )
        }));
    }
    Ok(())
}

/// A second fall of light, apart from the first: what the fitted edge leaves of the profile is looked through for
/// another step, so that the first one's own soft shoulders do not count.
pub(super) fn check_second_edge(columns: &[Column], window: Window, slope: f64, edge: &Edge) -> Result<(), Refusal> {
    second_edges_deg(columns, window, slope, edge)
        .first()
        .map_or(Ok(()), |&apart_deg| Err(second_cutoff(apart_deg)))
}

/// How far from the edge, upwards, others lie that make the photo ambiguous, degrees.
pub(super) fn second_edges_deg(columns: &[Column], window: Window, slope: f64, edge: &Edge) -> Vec<f64> {
    let all: Vec<&Column> = columns.iter().collect();
    let mut rest = pool(&all, window, slope, READING_SCAN_DEG);
    for (light, &beta_deg) in rest.light.iter_mut().zip(&rest.beta_deg) {
        *light /= edge.light(beta_deg);
    }
    let falls = rest.falls();
    let apart_deg = |n: usize| rest.beta_deg[n] - edge.inflection_deg;
    let is_second = |n: &usize| {
        let n = *n;
        let peak = falls[n] >= falls[n - 1] && falls[n] >= falls[n + 1];
        peak && apart_deg(n).abs() > SECOND_APART_DEG && falls[n] > SECOND_STEP_SHARE * edge.step_decades.min(2.0)
    };
    (1..falls.len().saturating_sub(1))
        .filter(is_second)
        .map(apart_deg)
        .collect()
}

/// The refusal of a photo in which another edge lies so far above the one that was read, degrees.
pub(super) fn second_cutoff(apart_deg: f64) -> Refusal {
    Refusal::new(Reason::SecondCutoff, |language| {
        said!(
            language;
            "a second edge of light lies {} degrees {} the first; cover the other lamp, and keep other lights off the wall",
            "eine zweite Lichtkante liegt {} Grad {} der ersten; den anderen Scheinwerfer abdecken und anderes Licht \
             von der Wand fernhalten";
            language.decimal(apart_deg.abs(), 1),
            match (language, apart_deg > 0.0) {
                (Language::English, true) => "above",
                (Language::English, false) => "below",
                (Language::German, true) => "über",
                (Language::German, false) => "unter",
            }
        )
    })
}

/// What is odd about the shape of an edge that can be read all the same. `tilt_sd_deg`: one standard deviation of its lean;
/// `noise_sd_g`: what noise leaves open of its sharpness.
pub(super) fn shape_warnings(cutoff: &CutOff, tilt_sd_deg: f64, noise_sd_g: f64) -> impl Iterator<Item = Warning> {
    let &CutOff {
        sharpness_g,
        linearity_deg,
        tilt_deg,
        ..
    } = cutoff;
    let unsure_g = 2.0 * SHARPNESS_SD_G.hypot(noise_sd_g);
    let (low_g, high_g) = (
        APPROVED_SHARPNESS.start() - unsure_g,
        APPROVED_SHARPNESS.end() + unsure_g,
    );
    let sharpness = (!(low_g..=high_g).contains(&sharpness_g)).then_some(Warning::Sharpness { sharpness_g });
    let bent = (linearity_deg > APPROVED_LINEARITY_DEG).then_some(Warning::Bent { linearity_deg });
    let leans = (tilt_deg.abs() - 2.0 * tilt_sd_deg > WARN_TILT_DEG).then_some(Warning::Leans { tilt_deg });
    [sharpness, bent, leans].into_iter().flatten()
}

/// What is odd about the light of an edge that can be read all the same; arguments as in [`check_edge`]. `hidden_decades`: what noise
/// may hide of the edge's fall.
pub(super) fn light_warnings(
    edge: &Edge,
    blur_deg: f64,
    ambient_known: bool,
    hidden_decades: f64,
) -> impl Iterator<Item = Warning> {
    let step_decades = edge.step_decades;
    let blurred = (blur_deg > WARN_BLUR_DEG).then_some(Warning::Blurred { blur_deg });
    let little_contrast = !ambient_known && step_decades + hidden_decades < WARN_STEP_DECADES;
    let little_contrast = little_contrast.then_some(Warning::LittleContrast { step_decades });
    blurred.into_iter().chain(little_contrast)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A lamp within the approval's limits that is read a little beyond them is not accused.
    #[test]
    fn a_sharpness_is_warned_of_where_it_is_surely_beyond_the_limits() {
        for (sharpness_g, warned) in [
            (0.105, true),
            (0.12, false),
            (0.13, false),
            (0.41, false),
            (0.425, true),
        ] {
            let cutoff = CutOff {
                sharpness_g,
                ..CutOff::made()
            };
            let warnings: Vec<Warning> = shape_warnings(&cutoff, 0.1, 0.0).collect();
            let expected = warned.then_some(Warning::Sharpness { sharpness_g });
            assert_eq!(warnings, Vec::from_iter(expected));
            assert_eq!(shape_warnings(&cutoff, 0.1, 0.02).count(), 0);
        }
    }
}
