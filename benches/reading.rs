//! How long a reading takes, step by step, on one of the sample photos (2400 × 1800 px); `cargo bench`.
//!
//! After the table come ratios, measured in the same run and thus alike on a fast and on a slow machine. Each step stands
//! beside a peer that does part of the same work, or beside work that no reading can do without.

use beamfall::aim::Setting;
use beamfall::record::{Bay, Job, Lamp, Shot};
use beamfall::steps::{
    CutOff, FoundMark, Homography, Photo, Response, Told, View, find_in, homography, measure_shot, read_cutoff,
    readings_in, reduced_px,
};
use divan::{Bencher, black_box};
use std::io::Cursor;
use std::path::PathBuf;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

const PHOTO: &str = "photos/left-after-0.jpg";

struct Sample {
    folder: PathBuf,
    job: Job,
    bay: Bay,
    shot: Shot,
    lamp: Lamp,
    bytes: Vec<u8>,
    photo: Photo,
    /// Each pixel's light.
    light: Vec<f32>,
    marks: Vec<FoundMark>,
    view: View,
}

static SAMPLE: LazyLock<Sample> = LazyLock::new(|| {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-photos");
    let job = Job::read(&folder.join("job.toml")).expect("the sample job");
    let bay = Bay::read(&folder.join("bay.toml")).expect("the sample bay");
    let mut shot = job
        .shot
        .iter()
        .find(|shot| shot.photo.ends_with(PHOTO))
        .expect("the sample shot")
        .clone();
    // One photo is read, not its lamp-off photo too.
    shot.lamp_off = None;
    let lamp = job.lamp(shot.lamp).expect("the sample lamp").clone();
    let bytes = std::fs::read(folder.join(PHOTO)).expect("the sample photo");
    let photo = Photo::decode(&bytes).expect("the sample photo");
    let marks = find_in(&photo, &ids(&bay));
    let view = fit_view(&photo, &marks, &bay);
    Sample {
        folder,
        job,
        bay,
        shot,
        lamp,
        bytes,
        light: photo.all_light().collect(),
        photo,
        marks,
        view,
    }
});

/// The sample photo at 12 megapixels, as phones have them.
static LARGE: LazyLock<(Vec<u8>, Photo)> = LazyLock::new(|| {
    let small = jpeg_decoder_alone(&SAMPLE);
    let large = small.resize_exact(4000, 3000, image::imageops::FilterType::Triangle);
    let mut bytes = Cursor::new(Vec::new());
    large.write_to(&mut bytes, image::ImageFormat::Jpeg).expect("a JPEG");
    let bytes = bytes.into_inner();
    let photo = Photo::decode(&bytes).expect("the large photo");
    (bytes, photo)
});

fn ids(bay: &Bay) -> Vec<u32> {
    bay.marks.sheet.iter().map(|sheet| sheet.id).collect()
}

fn fit_view(photo: &Photo, marks: &[FoundMark], bay: &Bay) -> View {
    let size_px = photo.size_px().into();
    View::fit(marks, bay, size_px, photo.capture.focal_length_35mm_mm).expect("the sample photo's view")
}

/// Limit of decoding and of the whole: the JPEG decoder alone.
fn jpeg_decoder_alone(sample: &Sample) -> image::DynamicImage {
    image::load_from_memory(black_box(&sample.bytes)).expect("the sample photo")
}

fn decode_photo(sample: &Sample) -> Photo {
    Photo::decode(black_box(&sample.bytes)).expect("the sample photo")
}

fn find_the_marks(sample: &Sample) -> Vec<FoundMark> {
    find_in(black_box(&sample.photo), &ids(&sample.bay))
}

/// Limit of finding: each pixel's light once, as block means take it.
fn light_once(sample: &Sample) -> f32 {
    let values = black_box(&sample.light);
    values
        .chunks_exact(16)
        .map(|block| block.iter().sum::<f32>())
        .fold(0.0, f32::max)
}

/// Limit of all that is done with a large photo.
fn decoder_alone_on_large(_: &Sample) -> image::DynamicImage {
    image::load_from_memory(black_box(&LARGE.0)).expect("the large photo")
}

fn decode_large(_: &Sample) -> Photo {
    Photo::decode(black_box(&LARGE.0)).expect("the large photo")
}

fn reduce_large(_: &Sample) -> usize {
    reduced_px(black_box(&LARGE.1))
}

fn detect_in_large(sample: &Sample) -> usize {
    readings_in(black_box(&LARGE.1), &ids(&sample.bay))
}

fn find_in_large(sample: &Sample) -> Vec<FoundMark> {
    find_in(black_box(&LARGE.1), &ids(&sample.bay))
}

/// Peer of the view: the plane's homography alone, from the same corners, without lens, priors and misplaced sheets.
fn homography_alone(sample: &Sample) -> Homography {
    let half_mm = 0.5 * sample.bay.marks.size_mm;
    let pairs: Vec<([f64; 2], [f64; 2])> = sample
        .marks
        .iter()
        .flat_map(|mark| {
            let sheet = sample.bay.marks.sheet.iter().find(|sheet| sheet.id == mark.id);
            let sheet = sheet.expect("a sheet of the bay");
            [[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]]
                .map(|[x, y]| [sheet.x_mm + x * half_mm, sheet.y_mm + y * half_mm])
                .into_iter()
                .zip(mark.corners_px)
        })
        .collect();
    homography(black_box(&pairs)).expect("the plane")
}

/// Limit of the cut-off: the logarithm of each pixel once.
fn log_light_once(sample: &Sample) -> f32 {
    let values = black_box(&sample.light);
    values.iter().map(|light| light.max(1e-4).ln()).sum()
}

fn fit_the_view(sample: &Sample) -> View {
    fit_view(&sample.photo, black_box(&sample.marks), &sample.bay)
}

fn read_the_cut_off(sample: &Sample) -> CutOff {
    let (photo, view) = (black_box(&sample.photo), &sample.view);
    read_cutoff(
        (photo, &Response::plain()),
        None,
        view,
        &sample.lamp,
        sample.job.traffic,
        Told {
            pattern: sample.job.pattern,
            near_mm: None,
        },
        &[],
    )
    .expect("the sample cut-off")
}

fn measure_the_shot(sample: &Sample) -> beamfall::aim::Measured {
    let setting = Setting {
        job: &sample.job,
        bay: &sample.bay,
        table: None,
        folder: &sample.folder,
        pictures: false,
    };
    measure_shot(&setting, black_box(&sample.shot), &sample.lamp)
        .result
        .expect("the sample reading")
}

macro_rules! benches {
    ($($name:ident => $step:ident),+ $(,)?) => {$(
        #[divan::bench(sample_count = 10, sample_size = 1)]
        fn $name(bencher: Bencher) {
            let sample = &*SAMPLE;
            bencher.bench_local(|| $step(sample));
        }
    )+};
}

benches! {
    a_jpeg_decoder_alone => jpeg_decoder_alone,
    a_decode_photo => decode_photo,
    b_light_once => light_once,
    b_find_marks => find_the_marks,
    c_homography_alone => homography_alone,
    c_fit_view => fit_the_view,
    d_log_light_once => log_light_once,
    d_read_cut_off => read_the_cut_off,
    e_whole_measure => measure_the_shot,
    f_large_a_decoder_alone => decoder_alone_on_large,
    f_large_decode => decode_large,
    f_large_reduce => reduce_large,
    f_large_detect => detect_in_large,
    f_large_find => find_in_large,
}

/// Median time of a few runs, after one to warm up.
fn median_time<T>(mut step: impl FnMut() -> T) -> Duration {
    const RUNS: usize = 7;
    black_box(step());
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            black_box(step());
            start.elapsed()
        })
        .collect();
    times.sort();
    times[RUNS / 2]
}

const DECODER_ALONE: &str = "JPEG decoder alone";

fn print_ratios() {
    let sample = &*SAMPLE;
    let decoder = median_time(|| jpeg_decoder_alone(sample));
    let large_decoder = median_time(|| decoder_alone_on_large(sample));
    let rows = [
        (
            "decode photo",
            median_time(|| decode_photo(sample)),
            DECODER_ALONE,
            decoder,
        ),
        (
            "find marks",
            median_time(|| find_the_marks(sample)),
            "light once",
            median_time(|| light_once(sample)),
        ),
        (
            "decode 12 MP",
            median_time(|| decode_large(sample)),
            DECODER_ALONE,
            large_decoder,
        ),
        (
            "reduce it",
            median_time(|| reduce_large(sample)),
            DECODER_ALONE,
            large_decoder,
        ),
        (
            "detect in it",
            median_time(|| detect_in_large(sample)),
            DECODER_ALONE,
            large_decoder,
        ),
        (
            "find in it",
            median_time(|| find_in_large(sample)),
            DECODER_ALONE,
            large_decoder,
        ),
        (
            "fit view",
            median_time(|| fit_the_view(sample)),
            "homography alone",
            median_time(|| homography_alone(sample)),
        ),
        (
            "read cut-off",
            median_time(|| read_the_cut_off(sample)),
            "log of each pixel",
            median_time(|| log_light_once(sample)),
        ),
        (
            "whole measure",
            median_time(|| measure_the_shot(sample)),
            DECODER_ALONE,
            decoder,
        ),
    ];
    println!("\nRatios, medians of this run:");
    for (step, time, peer, peer_time) in rows {
        let (ms, peer_ms) = (1e3 * time.as_secs_f64(), 1e3 * peer_time.as_secs_f64());
        println!(
            "  {step:<14}{ms:>8.1} ms  {peer:<19}{peer_ms:>7.2} ms  ratio {:>6.1}",
            ms / peer_ms
        );
    }
}

fn main() {
    divan::main();
    // `cargo bench` says --bench; a test run over all targets does not, and wants no second look at the clock.
    let wanted = |argument: &str| std::env::args().any(|given| given == argument);
    if wanted("--bench") && !wanted("--list") {
        print_ratios();
    }
}
