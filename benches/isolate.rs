//! How long isolation takes: on the shipped systems, and on a made one of 40 components and 80 tests; `cargo bench`.
//!
//! After the table come ratios, measured in the same run and thus alike on a fast and on a slow machine: the answer beside
//! its slow, obvious reference implementation, which writes every combination of faults out and looks each trial up in words. The reference only
//! sums up each component's probability; the answer also ranks the tests, looks ahead and explains.

#[path = "../tests/rooms/isolate/reference.rs"]
#[allow(dead_code)]
mod reference;

use beamfall::isolate::{Answer, Evidence, Origin, isolate};
use beamfall::record::{Moves, System};
use divan::{Bencher, black_box};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use reference::Reference;
use std::path::Path;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

struct Sample {
    name: &'static str,
    system: System,
    evidence: Vec<Evidence>,
}

fn shipped(name: &'static str) -> Sample {
    let system = System::find(name, Path::new(".")).expect("a shipped system");
    let trials = [
        ("operate-left", Moves::No),
        ("operate-right", Moves::No),
        ("bridge-left-at-control", Moves::No),
    ];
    let evidence = trials
        .iter()
        .enumerate()
        .map(|(n, (id, moves))| {
            let test = system.test(id).expect("a test of the system");
            Evidence::written(&system, test, *moves, Origin::Trial(n))
        })
        .collect();
    Sample { name, system, evidence }
}

static CABIN: LazyLock<Sample> = LazyLock::new(|| shipped("vacuum-cabin-control"));
static BONNET: LazyLock<Sample> = LazyLock::new(|| shipped("vacuum-bonnet-control"));
/// Larger than any car's: 40 components, 80 tests, two leaks.
static LARGE: LazyLock<Sample> = LazyLock::new(|| {
    let system = reference::made_system(40, 80, &mut ChaCha8Rng::seed_from_u64(1));
    let evidence = (0..6)
        .map(|t| {
            let fails = system.tests[t].needs.iter().any(|c| [3, 17].contains(c));
            let moves = if fails { Moves::No } else { Moves::Yes };
            Evidence::written(&system, t, moves, Origin::Trial(t))
        })
        .collect();
    Sample {
        name: "40 parts, 80 tests",
        system,
        evidence,
    }
});

/// The same with a test done twice that came out both ways: the trials that cannot all be right are looked for, too.
static CONTRADICTED: LazyLock<Sample> = LazyLock::new(|| {
    let mut evidence = LARGE.evidence.clone();
    let first = evidence[0];
    let other = if first.outcome() == Moves::No {
        Moves::Yes
    } else {
        Moves::No
    };
    evidence.push(Evidence::written(
        &LARGE.system,
        first.test,
        other,
        Origin::Trial(evidence.len()),
    ));
    Sample {
        name: "the same, contradicted",
        system: LARGE.system.clone(),
        evidence,
    }
});

fn answer(sample: &Sample) -> Answer {
    isolate(&sample.system, black_box(&sample.evidence))
}

/// Peer of the answer: the probabilities alone, the slow and obvious way.
fn slow_reference(sample: &Sample) -> Vec<f64> {
    let reference = Reference::new(&sample.system);
    reference
        .believe(black_box(&sample.evidence))
        .by_component(sample.system.components.len())
}

macro_rules! benches {
    ($($name:ident => $step:ident($sample:ident)),+ $(,)?) => {$(
        #[divan::bench(sample_count = 10, sample_size = 1)]
        fn $name(bencher: Bencher) {
            let sample = &*$sample;
            bencher.bench_local(|| $step(sample));
        }
    )+};
}

benches! {
    a_cabin_answer => answer(CABIN),
    a_cabin_reference => slow_reference(CABIN),
    b_bonnet_answer => answer(BONNET),
    b_bonnet_reference => slow_reference(BONNET),
    c_large_answer => answer(LARGE),
    c_large_contradicted => answer(CONTRADICTED),
}

/// Median time of a few runs, after one to warm up.
fn median_time<T>(runs: usize, mut step: impl FnMut() -> T) -> Duration {
    black_box(step());
    let mut times: Vec<Duration> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            black_box(step());
            start.elapsed()
        })
        .collect();
    times.sort();
    times[runs / 2]
}

fn print_ratios() {
    println!("\nRatios, medians of this run:");
    // The reference takes seconds on the large system: one run of it tells enough.
    for (sample, runs, reference_runs) in [
        (&*CABIN, 7, 7),
        (&*BONNET, 7, 7),
        (&*LARGE, 5, 1),
        (&*CONTRADICTED, 5, 1),
    ] {
        let ms = 1e3 * median_time(runs, || answer(sample)).as_secs_f64();
        let reference_ms = 1e3 * median_time(reference_runs, || slow_reference(sample)).as_secs_f64();
        println!(
            "  {:<22}{ms:>8.1} ms  slow reference{reference_ms:>10.1} ms  ratio {:>6.2}",
            sample.name,
            ms / reference_ms
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
