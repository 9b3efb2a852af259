//! Vacuum as a technician reads it off a pump's gauge: pressure below atmosphere, a positive number with its unit.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// One inch of mercury in pascals (NIST Special Publication 811, appendix B: conventional inch of mercury).
const PA_PER_INHG: f64 = 3386.389;
/// One millimetre of mercury in pascals (NIST Special Publication 811, appendix B).
const PA_PER_MMHG: f64 = 133.3224;
/// One millibar in pascals (NIST Special Publication 811, appendix B; exact).
const PA_PER_MBAR: f64 = 100.0;
/// No air pressure on a road is higher, Pa.
const MOST_PA: f64 = 110_000.0;

/// Pressure below atmosphere. Zero is "no vacuum"; never negative, and at most one atmosphere.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Vacuum {
    pascals: f64,
}

/// A vacuum that could not be understood.
#[derive(Debug, thiserror::Error)]
#[error(
    "vacuum \"{text}\": {reason}; write a positive number and its unit, as in \"350 mbar\", \"35 kPa\", \"10 inHg\" or \"260 mmHg\""
)]
pub struct ParseVacuumError {
    text: String,
    reason: &'static str,
}

impl Vacuum {
    /// A vacuum known to the program, in millibar; one that cannot be is taken to the nearest that can.
    pub(crate) fn from_mbar(mbar: f64) -> Self {
        Self {
            pascals: (mbar * PA_PER_MBAR).clamp(0.0, MOST_PA),
        }
    }

    /// The vacuum in millibar.
    #[must_use]
    pub fn mbar(self) -> f64 {
        self.pascals / PA_PER_MBAR
    }
}

impl std::str::FromStr for Vacuum {
    type Err = ParseVacuumError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let fail = |reason| ParseVacuumError {
            text: text.to_owned(),
            reason,
        };
        let trimmed = text.trim();
        let split = trimmed
            .find(|c: char| c.is_alphabetic())
            .ok_or_else(|| fail("the unit is missing"))?;
        let (number, unit) = trimmed.split_at(split);
        let value: f64 = number.trim().parse().map_err(|_| fail("the number cannot be read"))?;
        let scale = match unit.trim() {
            "mbar" | "hPa" => PA_PER_MBAR,
            "kPa" => 1000.0,
            "bar" => 100_000.0,
            "inHg" => PA_PER_INHG,
            "mmHg" => PA_PER_MMHG,
            _ => return Err(fail("the unit is not one of mbar, hPa, kPa, bar, inHg, mmHg")),
        };
        let pascals = value * scale;
        if !pascals.is_finite() || pascals < 0.0 {
            return Err(fail("vacuum is counted as a positive number below atmosphere"));
        }
        if pascals > MOST_PA {
            return Err(fail("that is more than one atmosphere"));
        }
        Ok(Self { pascals })
    }
}

impl<'de> Deserialize<'de> for Vacuum {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl Serialize for Vacuum {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&format!("{} mbar", self.mbar()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_agree_with_nist_sp_811() {
        // NIST SP 811 (2008), appendix B.8: 1 inHg = 3.386 389 kPa, 1 mmHg = 0.133 322 4 kPa, 1 mbar = 0.1 kPa.
        for (text, mbar) in [
            ("10 inHg", 338.6389),
            ("260 mmHg", 346.638_24),
            ("35 kPa", 350.0),
            ("350mbar", 350.0),
        ] {
            let vacuum: Vacuum = text.parse().unwrap();
            assert!((vacuum.mbar() - mbar).abs() < 1e-9, "{text} -> {}", vacuum.mbar());
        }
    }

    /// A conventional column of mercury: 13 595.1 kg/m³ at 9.806 65 m/s². NIST SP 811, appendix B.8, prints it to seven
    /// digits (figures as public repositories quote them, read on 2026-11-25; density and gravity from memory).
    #[test]
    fn mercury_is_a_conventional_column_to_seven_digits() {
        let pa_per_mm = 13_595.1 * 9.806_65 * 1e-3;
        assert!((PA_PER_MMHG - pa_per_mm).abs() < 5e-5, "{pa_per_mm}");
        assert!((PA_PER_INHG - 25.4 * pa_per_mm).abs() < 5e-4, "{}", 25.4 * pa_per_mm);
    }

    #[test]
    fn slips_are_named() {
        for (text, part) in [
            ("350", "unit is missing"),
            ("-3 inHg", "positive"),
            ("3 psi", "not one of"),
            ("2 bar", "atmosphere"),
            ("x mbar", "unit"),
        ] {
            let message = text.parse::<Vacuum>().unwrap_err().to_string();
            assert!(message.contains(part), "{text}: {message}");
        }
    }
}
