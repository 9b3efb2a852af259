use super::writer::{Wanted, file};
use super::{Planes, decode, decode_on_two_threads};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

/// A file in `tests/jpeg`, from another encoder.
macro_rules! sample {
    ($name:literal) => {
        include_bytes!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/jpeg/", $name, ".jpg"))
    };
}

const MOST_PX: u64 = 1 << 24;
const SAMPLINGS: [[u8; 2]; 4] = [[1, 1], [2, 1], [1, 2], [2, 2]];

fn of_three(luma: [u8; 2]) -> Vec<[u8; 2]> {
    vec![luma, [1, 1], [1, 1]]
}

fn wanted(size_px: [u16; 2], sampling: Vec<[u8; 2]>) -> Wanted {
    Wanted {
        size_px,
        sampling,
        restart: 0,
        most_step: 12,
        most_bits: 8,
        density: 0.5,
        is_skewed: false,
    }
}

/// Of a random kind.
fn any(rng: &mut ChaCha8Rng, most_px: u16) -> Wanted {
    let luma = SAMPLINGS[rng.random_range(0..4)];
    let (most_bits, most_step) =
        [(11, 1), (8, 12), (10, 3), (5, 255), (4, 3000), (12, 65535), (14, 1)][rng.random_range(0..7)];
    Wanted {
        size_px: std::array::from_fn(|_| rng.random_range(1..=most_px)),
        sampling: if rng.random_bool(0.2) {
            vec![[1, 1]]
        } else {
            of_three(luma)
        },
        restart: if rng.random_bool(0.5) {
            0
        } else {
            rng.random_range(1..9)
        },
        most_step,
        most_bits,
        density: [0.05, 0.3, 0.9][rng.random_range(0..3)],
        is_skewed: rng.random_bool(0.5),
    }
}

/// What `image` gives: width, height and the codes.
fn with_image(bytes: &[u8]) -> Option<([usize; 2], Vec<[u8; 3]>)> {
    let rgb = image::load_from_memory_with_format(bytes, image::ImageFormat::Jpeg)
        .ok()?
        .into_rgb8();
    let size = [rgb.width() as usize, rgb.height() as usize];
    Some((size, rgb.as_raw().as_chunks::<3>().0.to_vec()))
}

/// All pixels by rows.
fn all(planes: &Planes) -> Vec<[u8; 3]> {
    let [width, height] = planes.size_px;
    let mut codes = vec![[0; 3]; width * height];
    for (y, row) in codes.chunks_mut(width).enumerate() {
        planes.row(y, 0..width, row).unwrap();
    }
    codes
}

#[track_caller]
fn assert_equal(bytes: &[u8], what: &str) -> Planes {
    let planes = decode(bytes, MOST_PX).unwrap_or_else(|| panic!("{what} is plain"));
    let (size, theirs) = with_image(bytes).unwrap();
    assert_eq!(planes.size_px, size, "{what}");
    assert!(
        decode_on_two_threads(bytes, MOST_PX).as_ref() == Some(&planes),
        "{what}"
    );
    let ours = all(&planes);
    let differ = ours.iter().zip(&theirs).position(|(a, b)| a != b);
    assert_eq!(
        differ.map(|at| (at % size[0], at / size[0], ours[at], theirs[at])),
        None,
        "{what}"
    );
    planes
}

#[test]
fn every_sampling_and_small_size_gives_what_image_gives() {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    for luma in SAMPLINGS {
        for width in 1..=40 {
            for height in [1, 2, 7, 8, 9, 15, 16, 17, 23, 24, 25, 31, 32, 33, 40, width] {
                let wanted = wanted([width, height], of_three(luma));
                assert_equal(&file(&wanted, &mut rng), &format!("{wanted:?}"));
            }
        }
    }
    for width in 1..=40 {
        let wanted = wanted([width, 41 - width], vec![[1, 1]]);
        assert_equal(&file(&wanted, &mut rng), &format!("{wanted:?}"));
    }
}

#[test]
fn odd_sizes_restarts_long_codes_and_extreme_values_give_what_image_gives() {
    let mut rng = ChaCha8Rng::seed_from_u64(2);
    for _ in 0..300 {
        let wanted = any(&mut rng, 120);
        assert_equal(&file(&wanted, &mut rng), &format!("{wanted:?}"));
    }
    for luma in SAMPLINGS {
        for width in 320..=340 {
            let size_px = [width, rng.random_range(240..=257)];
            let wanted = Wanted {
                restart: rng.random_range(0..30),
                ..wanted(size_px, of_three(luma))
            };
            assert_equal(&file(&wanted, &mut rng), &format!("{wanted:?}"));
        }
    }
}

#[test]
fn every_quality_of_the_usual_encoder_gives_what_image_gives() {
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    for quality in (5..=100).step_by(5) {
        let picture = image::RgbImage::from_fn(97, 61, |x, y| {
            let noise = rng.random_range(0..30);
            image::Rgb([
                (x * 2) as u8 + noise,
                255 - (y * 4) as u8,
                if (x / 9 + y / 7) % 2 == 0 { 255 } else { noise },
            ])
        });
        for picture in [
            image::DynamicImage::from(picture.clone()),
            image::DynamicImage::from(picture).grayscale(),
        ] {
            let mut bytes = Vec::new();
            image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, quality)
                .encode_image(&picture)
                .unwrap();
            assert_equal(&bytes, &format!("quality {quality}"));
        }
    }
}

/// Every sampling; "restart" is after each row of units, "restart-7" after seven units.
const PLAIN: [&[u8]; 10] = [
    sample!("grey"),
    sample!("s1x1"),
    sample!("s2x1"),
    sample!("s1x2"),
    sample!("s2x2"),
    sample!("s1x1-restart-optimized"),
    sample!("s2x1-restart-optimized"),
    sample!("s1x2-restart-optimized"),
    sample!("s2x2-restart-optimized"),
    sample!("s2x2-restart-7"),
];

#[test]
fn files_of_another_encoder_give_what_image_gives() {
    for (index, bytes) in PLAIN.iter().enumerate() {
        assert_equal(bytes, &format!("file {index}"));
    }
}

#[test]
fn what_is_not_plain_is_left_to_others() {
    let others: [(&str, &[u8]); 5] = [
        ("progressive", sample!("progressive")),
        ("arithmetic", sample!("arithmetic")),
        ("red, green and blue", sample!("rgb")),
        ("three scans", sample!("three-scans")),
        ("sampling of 4", sample!("s4x1")),
    ];
    for (what, bytes) in others {
        assert_eq!(decode(bytes, MOST_PX), None, "{what}");
    }
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    let mut none = |sampling: Vec<[u8; 2]>| {
        let wanted = wanted([20, 20], sampling);
        assert_eq!(decode(&file(&wanted, &mut rng), MOST_PX), None, "{wanted:?}");
    };
    none(vec![[1, 1]; 4]);
    none(vec![[1, 1]; 2]);
    none(vec![[1, 1], [2, 2], [2, 2]]);
    none(vec![[2, 2], [2, 1], [1, 1]]);
    none(vec![[2, 2]]);
    let plain = file(&wanted([20, 20], of_three([2, 2])), &mut rng);
    assert!(decode(&plain, 400).is_some());
    assert_eq!(decode(&plain, 399), None, "too large");
    let frame = plain.windows(2).position(|two| two == [0xFF, 0xC1]).unwrap();
    assert_eq!(
        decode(&[&plain[..frame + 4], &[12], &plain[frame + 5..]].concat(), MOST_PX),
        None,
        "12 bits"
    );
    for adobe in [0, 2] {
        let mut bytes = plain[..2].to_vec();
        bytes.extend(b"\xFF\xEE\x00\x0EAdobe\x00\x64\x00\x00\x00\x00");
        bytes.push(adobe);
        assert_eq!(
            decode(&[&bytes, &plain[2..]].concat(), MOST_PX),
            None,
            "transform {adobe}"
        );
    }
    assert_eq!(decode(&plain[..plain.len() - 2], MOST_PX), None, "no end");
    assert_eq!(
        decode(&[&plain[..plain.len() - 2], &[0x55, 0xFF, 0xD9]].concat(), MOST_PX),
        None,
        "a byte too many"
    );
    assert_eq!(
        decode(&[&plain[..], &[1, 2, 3]].concat(), MOST_PX),
        decode(&plain, MOST_PX),
        "what is behind the end"
    );
}

#[test]
fn one_pixel_four_and_rows_agree() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    for _ in 0..60 {
        let wanted = any(&mut rng, 90);
        let planes = decode(&file(&wanted, &mut rng), MOST_PX).unwrap();
        let [width, height] = planes.size_px;
        let codes = all(&planes);
        for _ in 0..200 {
            let (x, y) = (rng.random_range(0..width + 2), rng.random_range(0..height + 2));
            let one = |x: usize, y: usize| (x < width && y < height).then(|| codes[y * width + x]);
            assert_eq!(planes.codes(x, y), one(x, y), "{x}, {y} of {wanted:?}");
            let four = [one(x, y), one(x + 1, y), one(x, y + 1), one(x + 1, y + 1)];
            let four = four.iter().all(Option::is_some).then(|| four.map(Option::unwrap));
            let seen = planes.borrowed().four(x, y);
            let seen = seen.map(|four| four.map(|[red, green, blue, _]| [red, green, blue]));
            assert_eq!(seen, four, "{x}, {y} of {wanted:?}");
            let columns = x.min(width)..rng.random_range(x.min(width)..=width);
            let mut row = vec![[0; 3]; columns.len()];
            assert_eq!(planes.row(y, columns.clone(), &mut row).is_some(), y < height);
            if y < height {
                assert_eq!(
                    row,
                    codes[y * width..][columns.clone()],
                    "{columns:?} of {y} of {wanted:?}"
                );
            }
        }
        assert_eq!(planes.codes(usize::MAX, 0), None);
        assert_eq!(planes.borrowed().four(usize::MAX, usize::MAX), None);
    }
}

/// A fault somewhere.
fn spoilt(mut bytes: Vec<u8>, rng: &mut ChaCha8Rng) -> Vec<u8> {
    for _ in 0..rng.random_range(1..4) {
        let at = rng.random_range(0..bytes.len());
        match rng.random_range(0..6) {
            0 => bytes.truncate(at.max(1)),
            1 => bytes[at] ^= 1 << rng.random_range(0..8),
            2 => bytes.insert(at, rng.random()),
            3 => bytes.insert(at, 0xFF),
            4 => bytes[at] = [0, 0xFF, 0xD0, 0xD9][rng.random_range(0..4)],
            _ => drop(bytes.remove(at)),
        }
        if bytes.is_empty() {
            bytes.push(0xFF);
        }
    }
    bytes
}

#[test]
fn faults_give_none_or_what_image_gives() {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut given = 0;
    for round in 0..4000 {
        let bytes = if round % 2 == 0 {
            PLAIN[rng.random_range(0..PLAIN.len())].to_vec()
        } else {
            let wanted = any(&mut rng, 40);
            file(&wanted, &mut rng)
        };
        let bytes = spoilt(bytes, &mut rng);
        if decode(&bytes, MOST_PX).is_some() {
            assert_equal(&bytes, &format!("round {round}"));
            given += 1;
        } else {
            assert_eq!(decode_on_two_threads(&bytes, MOST_PX), None, "round {round}");
        }
    }
    assert!(given > 50, "{given}");
}
