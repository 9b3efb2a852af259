//! Warnings of one kind said once, with how many photos they are of and the range of their measures.

use super::Warning;
use crate::language::{Language, said};
use crate::record::Side;
use std::mem::discriminant;
use std::path::{Path, PathBuf};

/// Warnings of one kind about one lamp, or about the job as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// The kind, as outputs for machines name it.
    pub kind: &'static str,
    /// Which lamp; `None` where they speak of the job as a whole.
    pub lamp: Option<Side>,
    /// The photos that they are of, in the job's order; none where they speak of the job as a whole.
    pub photos: Vec<PathBuf>,
    /// What is said, measures from the least to the largest.
    pub words: String,
    /// Whether it holds for the lamp as it was entered, whatever its photos show.
    pub is_of_lamp: bool,
    /// The key of a job file that its mend is entered under, where the words do not name it.
    pub key: Option<&'static str>,
}

/// Warnings that are said together: of which lamp, about what, their photos, and themselves.
type Alike<'a> = (Option<Side>, String, Vec<PathBuf>, Vec<&'a Warning>);

impl Group {
    /// Groups warnings, each with the lamp and the photo that it is of, in the order in which their kinds first come.
    pub(crate) fn of<'a>(
        language: Language,
        warnings: impl IntoIterator<Item = (Option<(Side, &'a Path)>, &'a Warning)>,
    ) -> Vec<Self> {
        let mut alike: Vec<Alike<'a>> = Vec::new();
        for (of, warning) in warnings {
            let (lamp, subject) = (of.map(|(lamp, _)| lamp), warning.subject());
            let same = |(its_lamp, its_subject, _, all): &&mut Alike<'a>| {
                let kind = all
                    .first()
                    .is_some_and(|first| discriminant(*first) == discriminant(warning));
                kind && *its_lamp == lamp && *its_subject == subject
            };
            let photo = of.map(|(_, photo)| photo.to_owned());
            match alike.iter_mut().find(same) {
                Some((_, _, photos, all)) => {
                    // A photo can have several of one kind.
                    photos.extend(photo.filter(|photo| !photos.contains(photo)));
                    all.push(warning);
                }
                None => alike.push((lamp, subject, photo.into_iter().collect(), vec![warning])),
            }
        }
        let group = |(lamp, _, photos, all): Alike<'a>| {
            let first = *all.first()?;
            Some(Self {
                kind: first.into(),
                lamp,
                photos,
                words: first.say(language, &all),
                is_of_lamp: first.is_of_lamp(),
                key: first.key(),
            })
        };
        alike.into_iter().filter_map(group).collect()
    }

    /// What it is about: the photo where there is one, else lamp and number of photos; "job" without any.
    #[must_use]
    pub fn about(&self, language: Language) -> String {
        match (self.photos.as_slice(), self.lamp) {
            (_, Some(lamp)) if self.is_of_lamp => super::lamp_said(language, lamp),
            ([only], _) => only.display().to_string(),
            (several, Some(lamp)) if !several.is_empty() => {
                let (lamp, photos) = (super::lamp_said(language, lamp), several.len());
                said!(language; "{lamp}, {photos} photos", "{lamp}, {photos} Fotos")
            }
            _ => said!(language; "job", "Auftrag"),
        }
    }
}

impl Warning {
    /// What two warnings of one kind must have in common to be said together: nothing where their measures make a range,
    /// else their words.
    fn subject(&self) -> String {
        match self {
            Self::MarkMisplaced { id, .. } | Self::MarkMoved { id, .. } => id.to_string(),
            Self::BrightestAside { side, .. } => side.to_string(),
            Self::Jumps(jump) => jump.side.to_string(),
            Self::ElbowAside { percent, .. } => super::side_of(*percent).to_string(),
            Self::SheetSize { .. }
            | Self::FewMarks { .. }
            | Self::Cropped { .. }
            | Self::ToneBent { .. }
            | Self::ToneUneven
            | Self::InkUnusual { .. }
            | Self::Sharpness { .. }
            | Self::Bent { .. }
            | Self::Leans { .. }
            | Self::Blurred { .. }
            | Self::TwoBrightPlaces { .. }
            | Self::PaintNear { .. }
            | Self::TypedTimeAgainstExif { .. } => String::new(),
            other => other.to_string(),
        }
    }
}

/// The least and the largest of a measure of several warnings, "1.0" or "1.0 to 1.1".
pub(super) fn span(
    language: Language,
    all: &[&Warning],
    places: usize,
    measure: impl Fn(&Warning) -> Option<f64>,
) -> String {
    Span::over(all.iter().filter_map(|warning| measure(warning)), places).said(language)
}

/// The least and the largest of a measure.
pub(super) struct Span {
    low: f64,
    high: f64,
    places: usize,
}

impl Span {
    pub fn over(values: impl Iterator<Item = f64>, places: usize) -> Self {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        Self { low, high, places }
    }

    pub fn said(&self, language: Language) -> String {
        let places = self.places;
        let figure = |value: f64| language.figure(&format!("{value:.places$}"));
        let (low, high) = (figure(self.low), figure(self.high));
        if low == high {
            low
        } else {
            said!(language; "{low} to {high}", "{low} bis {high}")
        }
    }
}

/// Where something lies beside its place, "12 mm to the right of and 3 to 5 mm below"; `offset_mm`: how far to the right and
/// up.
pub(super) fn place(
    language: Language,
    all: &[&Warning],
    places: usize,
    offset_mm: impl Fn(&Warning) -> Option<[f64; 2]>,
) -> String {
    let offsets: Vec<[f64; 2]> = all.iter().filter_map(|warning| offset_mm(warning)).collect();
    let scale = 10f64.powi(i32::try_from(places).unwrap_or(0));
    let along = |axis: usize, [less, more]: [&str; 2]| {
        let values: Vec<f64> = offsets
            .iter()
            .map(|offset| (offset[axis] * scale).round() / scale)
            .collect();
        let sizes = Span::over(values.iter().map(|value| value.abs()), places);
        let (any_less, any_more) = (values.iter().any(|v| *v < 0.0), values.iter().any(|v| *v > 0.0));
        match (any_less, any_more) {
            (true, true) => {
                let high = language.figure(&format!("{:.places$}", sizes.high));
                Some(said!(language; "up to {high} mm {less} or {more}", "bis zu {high} mm {less} oder {more}"))
            }
            (true, false) => Some(format!("{} mm {less}", sizes.said(language))),
            (false, true) => Some(format!("{} mm {more}", sizes.said(language))),
            (false, false) => None,
        }
    };
    let (beside, over) = match language {
        Language::English => (["to the left of", "to the right of"], ["below", "above"]),
        Language::German => (["links von", "rechts von"], ["unter", "über"]),
    };
    let parts: Vec<String> = [along(0, beside), along(1, over)].into_iter().flatten().collect();
    if parts.is_empty() {
        said!(language; "hardly beside", "kaum neben")
    } else {
        parts.join(&said!(language; " and ", " und "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::warning::EdgeJump;

    fn of_left<'a>(warnings: &'a [(&'a str, Warning)]) -> Vec<Group> {
        let each = warnings
            .iter()
            .map(|(photo, warning)| (Some((Side::Left, Path::new(*photo))), warning));
        Group::of(Language::English, each)
    }

    #[test]
    fn one_kind_is_said_once_with_its_range() {
        let leans = |tilt_deg: f64| Warning::Leans { tilt_deg };
        let single = leans(-1.04).to_string();
        assert!(
            single.starts_with("the cut-off leans by 1.0 degrees: the lamp"),
            "{single}"
        );
        let warnings = [
            ("a.jpg", leans(-1.04)),
            ("b.jpg", Warning::EdgeBelowKick),
            ("b.jpg", leans(1.14)),
            ("c.jpg", leans(1.02)),
        ];
        let groups = of_left(&warnings);
        assert_eq!(groups.len(), 2, "{groups:?}");
        assert_eq!((groups[0].kind, groups[1].kind), ("leans", "edge-below-kick"));
        assert_eq!(groups[0].about(Language::English), "left lamp, 3 photos");
        assert_eq!(groups[0].words, single.replace("1.0 degrees", "1.0 to 1.1 degrees"));
        assert_eq!(
            (groups[1].about(Language::English), &groups[1].words),
            ("b.jpg".to_owned(), &warnings[1].1.to_string())
        );
        // Another lamp is another line.
        let right = (Some((Side::Right, Path::new("d.jpg"))), &warnings[0].1);
        let both = Group::of(
            Language::English,
            [(Some((Side::Left, Path::new("a.jpg"))), &warnings[0].1), right],
        );
        assert_eq!(both.len(), 2);
    }

    #[test]
    fn a_group_of_one_keeps_its_words() {
        for warning in [
            Warning::MarkMisplaced {
                id: 3,
                offset_mm: [11.6, -2.2],
            },
            Warning::MarkMoved {
                id: 3,
                offset_mm: [-0.01, -2.2],
            },
            Warning::SheetSize { excess: 0.013 },
            Warning::FewMarks { used: 3 },
            Warning::ToneBent { bright_over_dark: 0.8 },
            Warning::ToneUneven,
            Warning::InkUnusual { ratio: 0.2 },
            Warning::Sharpness { sharpness_g: 0.1 },
            Warning::Bent { linearity_deg: 0.3 },
            Warning::Blurred { blur_deg: 0.05 },
            Warning::BrightestAside {
                off_deg: 3.0,
                side: Side::Right,
            },
            Warning::TwoBrightPlaces { brighter_percent: 12.0 },
            Warning::Jumps(EdgeJump {
                by_deg: 0.2,
                at_deg: 6.0,
                side: Side::Left,
            }),
            Warning::LittleContrast { step_decades: 1.2 },
        ] {
            let groups = of_left(&[("a.jpg", warning.clone())]);
            assert_eq!(groups[0].words, warning.to_string());
            assert!(!warning.to_string().contains("inf"), "{warning}");
        }
    }

    #[test]
    fn places_are_said_with_positive_figures() {
        let hangs = |offset_mm| Warning::MarkMisplaced { id: 3, offset_mm };
        assert!(
            hangs([-0.2, -2070.0])
                .to_string()
                .starts_with("sheet 3 hangs 2070 mm below its place")
        );
        assert!(
            hangs([-12.0, 4.0])
                .to_string()
                .starts_with("sheet 3 hangs 12 mm to the left of and 4 mm above its place")
        );
        let (a, b) = (("a.jpg", hangs([-12.0, 4.0])), ("b.jpg", hangs([3.0, 6.0])));
        let groups = of_left(&[a, b]);
        assert!(
            groups[0]
                .words
                .starts_with("sheet 3 hangs up to 12 mm to the left of or to the right of and 4 to 6 mm above its"),
            "{groups:?}"
        );
    }
}
