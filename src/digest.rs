//! Digests by which a file is known again: SHA-256 (FIPS 180-4), in hexadecimal letters.

use crate::bounded_file;
use sha2::{Digest, Sha256};
use std::path::Path;

/// The digest of bytes.
pub(crate) fn of(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// The digest of a file of a photo's size at the most; `None` for one that cannot be read.
pub(crate) fn of_file(path: &Path) -> Option<String> {
    let bytes = bounded_file::read(path, bounded_file::MOST_PHOTO_BYTES).ok()?;
    Some(of(&bytes))
}

/// Bytes in hexadecimal letters.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4's own example, by NIST's "SHA256" example values (from memory; `sha256sum` agrees).
    #[test]
    fn digests_are_those_of_the_standard() {
        let published = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(of(b"abc"), published);
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("abc");
        std::fs::write(&file, "abc").unwrap();
        assert_eq!(of_file(&file).as_deref(), Some(published));
        assert_eq!(of_file(folder.path()), None);
    }
}
