//! The sRGB curve of IEC 61966-2-1:1999.

/// Codes per light near black.
pub(super) const BLACK_SLOPE: f64 = 12.92;

/// Weights of linear red, green and blue in the luminance (IEC 61966-2-1, from ITU-R BT.709 primaries).
pub(crate) const LUMINANCE_WEIGHTS: [f32; 3] = [0.2126, 0.7152, 0.0722];

/// Linear light, 0 to 1, from an sRGB code value, 0 to 1.
#[must_use]
pub fn linear_from_srgb(code: f64) -> f64 {
    if code <= 0.04045 {
        code / BLACK_SLOPE
    } else {
        ((code + 0.055) / 1.055).powf(2.4)
    }
}

/// An sRGB code value, 0 to 1, from linear light, 0 to 1; values outside are clipped.
#[must_use]
pub fn srgb_from_linear(linear: f64) -> f64 {
    let linear = linear.clamp(0.0, 1.0);
    if linear <= 0.003_130_8 {
        BLACK_SLOPE * linear
    } else {
        1.055 * linear.powf(1.0 / 2.4) - 0.055
    }
}

/// Linear light, 0 to 1, of each 8-bit code.
pub(crate) fn linear_of_codes() -> [f32; 256] {
    std::array::from_fn(|code| linear_from_srgb(code as f64 / 255.0) as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_is_that_of_the_standard() {
        // IEC 61966-2-1: code 10 and 118 of 255 worked by hand with the standard's two branches; ends exact.
        for (code, linear) in [
            (0.0, 0.0),
            (10.0, 0.003_035_27),
            (118.0, 0.181_164_24),
            (188.0, 0.502_886_46),
            (255.0, 1.0),
        ] {
            assert!(
                (linear_from_srgb(code / 255.0) - linear).abs() < 1e-7,
                "{code}: {}",
                linear_from_srgb(code / 255.0)
            );
        }
    }

    #[test]
    fn there_and_back() {
        for code in 0..=255 {
            let code = f64::from(code) / 255.0;
            assert!((srgb_from_linear(linear_from_srgb(code)) - code).abs() < 2e-6, "{code}");
        }
    }
}
