//! Changes to a made photo after it was taken, in linear light: edits as programs and phones make them, other light,
//! and things in the way. They stand for what spoils real photos; they are not how any program works.

use crate::error::Error;
use crate::photo::{LUMINANCE_WEIGHTS, linear_from_srgb, linear_of_codes, srgb_from_linear};
use image::codecs::jpeg::{JpegDecoder, JpegEncoder};
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageEncoder};
use std::io::Cursor;

/// A picture in linear light, 1 at full scale.
pub(super) struct Light {
    pub width_px: usize,
    pub height_px: usize,
    /// Red, green and blue of each pixel, row by row from the top left.
    pub rgb: Vec<[f32; 3]>,
}

/// Decodes a JPEG file, lets `change` work on its light, and encodes it anew with the EXIF data that it had.
pub(super) fn edited(bytes: &[u8], quality: u8, change: impl FnOnce(&mut Light)) -> Result<Vec<u8>, Error> {
    let fail = |e: image::ImageError| Error::make("a made photo's edit", e);
    let mut decoder = JpegDecoder::new(Cursor::new(bytes)).map_err(fail)?;
    let exif = decoder.exif_metadata().map_err(fail)?;
    let codes = DynamicImage::from_decoder(decoder).map_err(fail)?.into_rgb8();
    let linear = linear_of_codes();
    let mut light = Light {
        width_px: codes.width() as usize,
        height_px: codes.height() as usize,
        rgb: codes
            .pixels()
            .map(|pixel| pixel.0.map(|code| linear[usize::from(code)]))
            .collect(),
    };
    change(&mut light);
    let codes: Vec<u8> = light
        .rgb
        .iter()
        .flatten()
        .map(|&value| (255.0 * srgb_from_linear(f64::from(value))).round() as u8)
        .collect();
    let mut out = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut out, quality);
    if let Some(exif) = exif {
        // Without its EXIF data the photo would be harder to read than the edit alone makes it.
        encoder
            .set_exif_metadata(exif)
            .map_err(|e| Error::make("an edited photo's EXIF data", e))?;
    }
    encoder
        .write_image(
            &codes,
            light.width_px as u32,
            light.height_px as u32,
            ExtendedColorType::Rgb8,
        )
        .map_err(fail)?;
    Ok(out)
}

fn luminance(rgb: [f32; 3]) -> f32 {
    let [red, green, blue] = LUMINANCE_WEIGHTS;
    red * rgb[0] + green * rgb[1] + blue * rgb[2]
}

impl Light {
    /// Mean luminance within `half_px` of a place, px; 0 outside the picture.
    pub fn level(&self, [x_px, y_px]: [f64; 2], half_px: f64) -> f32 {
        let range = |at: f64, size: usize| {
            let from = (at - half_px).clamp(0.0, size as f64) as usize;
            from..((at + half_px).clamp(0.0, size as f64) as usize)
        };
        let mut sum = 0.0;
        let mut count = 0_u32;
        for y in range(y_px, self.height_px) {
            for x in range(x_px, self.width_px) {
                sum += luminance(self.rgb[y * self.width_px + x]);
                count += 1;
            }
        }
        if count == 0 { 0.0 } else { sum / count as f32 }
    }

    /// Calls `change` with each pixel's place, px, and light.
    pub fn each(&mut self, change: impl Fn(f64, f64, &mut [f32; 3])) {
        for (index, rgb) in self.rgb.iter_mut().enumerate() {
            change((index % self.width_px) as f64, (index / self.width_px) as f64, rgb);
        }
    }

    /// A curve over the code values: `gamma` bends it, `contrast` (0 none) makes it an S about the middle.
    pub fn bend(&mut self, gamma: f64, contrast: f64) {
        let curve: Vec<f32> = (0..=4_095)
            .map(|step| {
                let code = srgb_from_linear(f64::from(step) / 4_095.0).powf(gamma);
                let steep = code * code * (3.0 - 2.0 * code);
                linear_from_srgb(code + contrast * (steep - code)) as f32
            })
            .collect();
        for value in self.rgb.iter_mut().flatten() {
            *value = curve[(value.clamp(0.0, 1.0) * 4_095.0).round() as usize];
        }
    }

    /// Local tone mapping: each place is lifted by how dark its surroundings are. `strength` 0 leaves the picture, 1
    /// levels the surroundings altogether; `reach` is their size over the picture's width.
    pub fn level_locally(&mut self, strength: f64, reach: f64) {
        const BLOCK_PX: usize = 16;
        const LEAST: f32 = 0.002;
        let (columns, rows) = (self.width_px.div_ceil(BLOCK_PX), self.height_px.div_ceil(BLOCK_PX));
        let mut sums = vec![(0.0_f32, 0.0_f32); columns * rows];
        for (index, &rgb) in self.rgb.iter().enumerate() {
            let block = index / self.width_px / BLOCK_PX * columns + index % self.width_px / BLOCK_PX;
            sums[block].0 += (luminance(rgb) + LEAST).ln();
            sums[block].1 += 1.0;
        }
        let logs: Vec<f32> = sums.iter().map(|(sum, count)| sum / count).collect();
        let half = ((reach * columns as f64) as usize).max(1);
        // Three running means in each direction come near a bell.
        let mut around = logs;
        for _ in 0..3 {
            around = averaged(&around, columns, half);
            around = transposed(&averaged(&transposed(&around, columns), rows, half), rows);
        }
        let brightest = around.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let at = |column: usize, row: usize| around[row.min(rows - 1) * columns + column.min(columns - 1)];
        let width_px = self.width_px;
        for (index, rgb) in self.rgb.iter_mut().enumerate() {
            let place = |px: usize| ((px as f32 + 0.5) / BLOCK_PX as f32 - 0.5).max(0.0);
            let (x, y) = (place(index % width_px), place(index / width_px));
            let (left, top) = (x as usize, y as usize);
            let (fx, fy) = (x - left as f32, y - top as f32);
            let local = (at(left, top) * (1.0 - fx) + at(left + 1, top) * fx) * (1.0 - fy)
                + (at(left, top + 1) * (1.0 - fx) + at(left + 1, top + 1) * fx) * fy;
            let gain = (strength as f32 * (brightest - local)).exp();
            *rgb = rgb.map(|value| value * gain);
        }
    }
}

/// The running mean over ±`half` of each row of `columns` values.
fn averaged(values: &[f32], columns: usize, half: usize) -> Vec<f32> {
    values
        .chunks(columns)
        .flat_map(|row| {
            (0..row.len()).map(move |n| {
                let window = &row[n.saturating_sub(half)..(n + half + 1).min(row.len())];
                window.iter().sum::<f32>() / window.len() as f32
            })
        })
        .collect()
}

fn transposed(values: &[f32], columns: usize) -> Vec<f32> {
    let rows = values.len() / columns;
    (0..columns)
        .flat_map(|column| (0..rows).map(move |row| values[row * columns + column]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two_halves() -> Light {
        let (width_px, height_px) = (320, 320);
        Light {
            width_px,
            height_px,
            rgb: (0..width_px * height_px)
                .map(|index| [if index < width_px * height_px / 2 { 0.01 } else { 0.5 }; 3])
                .collect(),
        }
    }

    #[test]
    fn a_tone_curve_of_no_strength_changes_nothing_and_one_of_some_lifts_the_dark() {
        let mut light = two_halves();
        light.level_locally(0.0, 0.05);
        assert_eq!(light.rgb, two_halves().rgb);
        light.level_locally(0.4, 0.05);
        // Far from the edge the surroundings are the half itself: gain ((0.5 + 0.002)/(0.01 + 0.002))^0.4, by hand 4.454.
        let lifted = light.rgb[10 * 320 + 160][0] / 0.01;
        assert!((lifted - 4.454).abs() < 0.01, "{lifted}");
        assert!((light.rgb[310 * 320 + 160][0] - 0.5).abs() < 1e-4);
    }

    #[test]
    fn a_bend_of_one_keeps_the_light_and_a_gamma_does_as_it_says() {
        let mut light = two_halves();
        light.bend(1.0, 0.0);
        assert!((light.rgb[0][0] - 0.01).abs() < 2e-4 && (light.level([10.0, 300.0], 4.0) - 0.5).abs() < 2e-4);
        light.bend(2.0, 0.0);
        // IEC 61966-2-1: 0.5 is code 0.735357; its square 0.540750 is 0.254029 in light.
        assert!((light.level([10.0, 300.0], 4.0) - 0.254).abs() < 1e-3);
    }

    #[test]
    fn an_edited_photo_keeps_its_exif_and_shows_the_edit() {
        let mut scene = crate::render::Scene::default();
        (scene.camera.width_px, scene.camera.height_px) = (400, 300);
        let made = scene.jpeg().unwrap();
        let darker = edited(&made, 95, |light| light.each(|_, _, rgb| *rgb = rgb.map(|v| 0.5 * v))).unwrap();
        let [before, after] = [&made, &darker].map(|bytes| crate::photo::Photo::decode(bytes).unwrap());
        assert_eq!(before.capture, after.capture);
        assert!(before.capture.focal_length_35mm_mm.is_some());
        let mean = |photo: &crate::photo::Photo| photo.all_light().sum::<f32>();
        assert!((mean(&after) / mean(&before) - 0.5).abs() < 0.02);
    }
}
