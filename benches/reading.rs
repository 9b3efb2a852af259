//! How long a reading takes, step by step, on one of the sample photos (2400 × 1800 px); `cargo bench`.
//!
//! After the table come ratios, measured in the same run and thus the same on a fast and on a slow machine: each step
//! beside the JPEG decoder alone, which no reading can undercut.

use beamfall::aim::{Setting, measure_shot};
use beamfall::photo::Photo;
use beamfall::record::{Bay, Job, Lamp, Shot};
use beamfall::wall::{FoundMark, View, find_in};
use beamfall::{cutoff, wall};
use divan::{Bencher, black_box};
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
    let lamp = *job.lamp(shot.lamp).expect("the sample lamp");
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
        photo,
        marks,
        view,
    }
});

fn ids(bay: &Bay) -> Vec<u32> {
    bay.marks.sheet.iter().map(|sheet| sheet.id).collect()
}

fn fit_view(photo: &Photo, marks: &[FoundMark], bay: &Bay) -> View {
    let size_px = (photo.luminance.width_px, photo.luminance.height_px);
    View::fit(marks, bay, size_px, photo.capture.focal_length_35mm_mm).expect("the sample photo's view")
}

/// The limit: the JPEG decoder alone.
fn jpeg_decoder_alone(sample: &Sample) -> image::DynamicImage {
    image::load_from_memory(black_box(&sample.bytes)).expect("the sample photo")
}

fn decode_photo(sample: &Sample) -> Photo {
    Photo::decode(black_box(&sample.bytes)).expect("the sample photo")
}

fn find_the_marks(sample: &Sample) -> Vec<FoundMark> {
    wall::find_in(black_box(&sample.photo), &ids(&sample.bay))
}

fn fit_the_view(sample: &Sample) -> View {
    fit_view(&sample.photo, black_box(&sample.marks), &sample.bay)
}

fn read_the_cut_off(sample: &Sample) -> cutoff::CutOff {
    let (photo, view) = (black_box(&sample.photo), &sample.view);
    cutoff::read(photo, None, view, &sample.lamp, sample.job.traffic, sample.job.pattern).expect("the sample cut-off")
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
    a0_jpeg_decoder_alone => jpeg_decoder_alone,
    a1_decode_photo => decode_photo,
    b_find_marks => find_the_marks,
    c_fit_view => fit_the_view,
    d_read_cut_off => read_the_cut_off,
    e_whole_measure => measure_the_shot,
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

fn print_ratios() {
    let sample = &*SAMPLE;
    let limit = median_time(|| jpeg_decoder_alone(sample));
    println!(
        "\nBeside the JPEG decoder alone ({:.1} ms), medians of this run:",
        1e3 * limit.as_secs_f64()
    );
    for (name, time) in [
        ("decode photo", median_time(|| decode_photo(sample))),
        ("find marks", median_time(|| find_the_marks(sample))),
        ("fit view", median_time(|| fit_the_view(sample))),
        ("read cut-off", median_time(|| read_the_cut_off(sample))),
        ("whole measure", median_time(|| measure_the_shot(sample))),
    ] {
        let ratio = time.as_secs_f64() / limit.as_secs_f64();
        println!("  {name:<14} {:>8.1} ms  {ratio:>7.2} times", 1e3 * time.as_secs_f64());
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
