//! Checks against the outside world: published data sets with certified results, standards, reference libraries.
//! Each stands beside its source; golden vectors have their generator, and its versions, in `tests/golden/`.
//!
//! Checks of private functions stand beside them: `src/cutoff/against_outside.rs`, `src/wall/camera/against_opencv.rs`,
//! `src/wall/homography.rs`, `src/wall/code.rs`, `src/fit/` (GUM, annex H.3), `src/record/vacuum.rs` (NIST SP 811).

mod certified_fits;
mod corners;
mod exif;
mod headlamp_rules;
mod srgb;

/// A golden file in `tests/golden/`.
fn golden(name: &str) -> serde_json::Value {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden")
        .join(name);
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}
