//! What can hurt somebody, each in one wording: `calibration/cautions.toml` holds the texts, this file their names.

use super::words::OwnWords;
use crate::language::{Language, Said};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The texts travel inside the program.
const SHIPPED: &str = include_str!("../../calibration/cautions.toml");

static TEXTS: LazyLock<BTreeMap<String, Said>> = LazyLock::new(|| {
    let file = toml::from_str::<CautionsFile>(SHIPPED).map_or_else(|_| BTreeMap::new(), |file| file.caution);
    let said = |(id, text): (String, String)| (id, OwnWords::default().said(&text));
    file.into_iter().map(said).collect()
});

#[derive(Deserialize)]
struct CautionsFile {
    caution: BTreeMap<String, String>,
}

macro_rules! cautions {
    ($($(#[$doc:meta])+ $variant:ident => $id:literal,)+) => {
        /// Something that can hurt somebody.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub(crate) enum Caution { $($(#[$doc])+ $variant),+ }

        impl Caution {
            /// All of them, in the file's order.
            pub const ALL: &[Self] = &[$(Self::$variant),+];

            /// Its name in the files.
            pub fn id(self) -> &'static str {
                match self { $(Self::$variant => $id),+ }
            }
        }
    };
}

cautions! {
    /// Exhaust gas.
    Exhaust => "exhaust",
    /// The car rolls.
    Rolling => "rolling",
    /// Somebody stands between a running car and the wall.
    Wall => "wall",
    /// Belts and fans.
    MovingParts => "moving-parts",
    /// Lamps that were lit.
    HotLamps => "hot-lamps",
    /// Gas-discharge lamps.
    HighVoltage => "high-voltage",
    /// The beam in somebody's eyes.
    Glare => "glare",
    /// What covers a lamp catches fire.
    Covers => "covers",
    /// Airbags behind trim.
    Airbags => "airbags",
    /// More vacuum than a diaphragm bears.
    Diaphragm => "diaphragm",
    /// The brake servo shares the vacuum.
    Brakes => "brakes",
    /// A sick engine has too little vacuum for the brakes.
    LowVacuum => "low-vacuum",
    /// A battery under charge.
    Charger => "charger",
    /// Somebody's weight moves the beam.
    Weight => "weight",
    /// What aim decides.
    Aim => "aim",
}

impl Caution {
    /// What can hurt while photos are taken, in the file's order; `is_pumped`: also with a hand pump. Those of a test stand
    /// with it.
    pub fn of_photos(is_pumped: bool) -> impl Iterator<Item = Self> {
        let with_pump = [Self::Diaphragm, Self::Brakes, Self::LowVacuum, Self::Charger];
        let apart = [Self::Weight, Self::Aim];
        let is_of_photos =
            move |caution: &Self| !apart.contains(caution) && (is_pumped || !with_pump.contains(caution));
        Self::ALL.iter().copied().filter(is_of_photos)
    }

    /// Its wording, as the file has it, for what is said in English only.
    pub fn text(self) -> &'static str {
        self.said(Language::English)
    }

    /// Its wording.
    pub fn said(self, language: Language) -> &'static str {
        // A test holds that none is missing.
        TEXTS.get(self.id()).map_or(self.id(), |said| said.within(language))
    }

    /// What `words` of a file stand for: a caution's name, or, where they hold a blank, themselves.
    ///
    /// # Errors
    /// A word that is no caution's name, with what was probably meant.
    pub fn wording(words: &str) -> Result<&str, String> {
        if let Some(caution) = Self::ALL.iter().find(|caution| caution.id() == words) {
            return Ok(caution.text());
        }
        if words.trim().contains(char::is_whitespace) {
            return Ok(words);
        }
        let likeness = |caution: &&Self| strsim::jaro_winkler(caution.id(), words);
        let nearest = Self::ALL
            .iter()
            .max_by(|a, b| likeness(a).total_cmp(&likeness(b)))
            .map_or("exhaust", |caution| caution.id());
        let names: Vec<&str> = Self::ALL.iter().map(|caution| caution.id()).collect();
        Err(format!(
            "there is no caution \"{words}\"; did you mean \"{nearest}\"? There are {}; own words hold a blank",
            names.join(", ")
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_texts_are_one_to_one() {
        let file: CautionsFile = toml::from_str(SHIPPED).unwrap();
        let mut ids: Vec<&str> = Caution::ALL.iter().map(|caution| caution.id()).collect();
        // In the file's order: the report, README and the list of photos keep to it.
        let places: Vec<usize> = ids
            .iter()
            .map(|id| SHIPPED.find(&format!("\n{id} = ")).unwrap())
            .collect();
        assert!(places.is_sorted(), "{ids:?}");
        ids.sort_unstable();
        assert_eq!(ids, file.caution.keys().collect::<Vec<_>>());
        for &caution in Caution::ALL {
            assert_eq!(caution.text(), file.caution[caution.id()]);
            assert!(
                caution.text().ends_with('.') && caution.text().len() > 40,
                "{caution:?}"
            );
        }
    }

    #[test]
    fn photos_have_the_cautions_of_trim_and_with_a_pump_those_of_vacuum() {
        let (plain, pumped): (Vec<_>, Vec<_>) =
            (Caution::of_photos(false).collect(), Caution::of_photos(true).collect());
        assert!(
            plain.contains(&Caution::Airbags) && !plain.contains(&Caution::LowVacuum),
            "{plain:?}"
        );
        assert_eq!(pumped.len(), plain.len() + 4, "{pumped:?}");
        assert!(
            pumped.contains(&Caution::Airbags) && pumped.contains(&Caution::LowVacuum),
            "{pumped:?}"
        );
    }

    #[test]
    fn the_texts_keep_what_they_must_say() {
        // Common practice, no source; 400, 540 and 550 mbar as the systems' tests have them.
        for (caution, parts) in [
            (
                Caution::Exhaust,
                &["kills", "carbon monoxide", "outdoors", "and keep the door open as well"][..],
            ),
            (
                Caution::Rolling,
                &[
                    "neutral or park, parking brake on, wheels chocked, and only then start",
                    "engine off",
                ],
            ),
            (Caution::Wall, &["between a running car and the wall"]),
            (Caution::MovingParts, &["belts and fans", "A fan can start by itself"]),
            (Caution::HotLamps, &["a quarter of an hour"]),
            (
                Caution::HighVoltage,
                &["can kill", "just after switching off", "trained"],
            ),
            (Caution::Airbags, &["ignition off and key out"]),
            (
                Caution::Diaphragm,
                &["maker", "400 mbar is enough", "before that is led to a lamp"],
            ),
            (
                Caution::LowVacuum,
                &["on the engine's vacuum", "550 mbar at sea level", "540 mbar"],
            ),
            (Caution::Charger, &["Ventilate", "before the lights are on"]),
            (
                Caution::Aim,
                &["no certified instrument; local rules and a licensed inspection decide."],
            ),
        ] {
            for part in parts {
                assert!(caution.text().contains(part), "{caution:?}: {part}");
            }
        }
    }

    #[test]
    fn a_word_is_a_name_and_several_are_said_as_they_are() {
        assert_eq!(Caution::wording("rolling").unwrap(), Caution::Rolling.text());
        assert_eq!(Caution::wording("Mind the step.").unwrap(), "Mind the step.");
        let slip = Caution::wording("exhuast").unwrap_err();
        assert!(
            slip.contains("did you mean \"exhaust\"?") && slip.contains("low-vacuum"),
            "{slip}"
        );
    }

    /// README shows each caution as the file words it, and no other.
    #[test]
    fn readme_shows_these_very_texts() {
        let readme = include_str!("../../README.md");
        let section = readme.split("\n## Cautions\n").nth(1).unwrap();
        let section = section.split("\n## ").next().unwrap();
        let shown: Vec<String> = section
            .split("\n- ")
            .skip(1)
            .map(|item| item.split_whitespace().collect::<Vec<_>>().join(" "))
            .collect();
        let texts: Vec<&str> = Caution::ALL.iter().map(|caution| caution.text()).collect();
        assert_eq!(shown, texts);
    }
}
