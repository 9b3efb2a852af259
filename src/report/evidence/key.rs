//! Keys to sign evidence with: Ed25519 (RFC 8032), in the files of RFC 8410, which `openssl` reads too.

use crate::bounded_file;
use crate::error::Error;
use crate::whole_file;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use ed25519_compact::{KeyPair, Seed, Signature};
use std::path::{Path, PathBuf};

/// What stands before the 32 bytes of a private key (RFC 8410, 7; PKCS #8) and of a public one (RFC 8410, 4), in DER.
const SECRET_HEAD: [u8; 16] = [
    0x30, 0x2e, 0x02, 0x01, 0x00, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x04, 0x22, 0x04, 0x20,
];
const PUBLIC_HEAD: [u8; 12] = [0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00];
const SECRET_LABEL: &str = "PRIVATE KEY";
const PUBLIC_LABEL: &str = "PUBLIC KEY";
/// Most bytes of a key's file; it has some 120.
const MOST_BYTES: u64 = 10_000;

/// A key to sign with: to be kept.
pub struct SecretKey(KeyPair);

/// A key to check a signature with: to be given away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublicKey(ed25519_compact::PublicKey);

impl SecretKey {
    /// Of 32 random bytes.
    #[must_use]
    pub fn of_seed(seed: [u8; 32]) -> Self {
        Self(KeyPair::from_seed(Seed::new(seed)))
    }

    /// A new key, of the system's randomness.
    ///
    /// # Errors
    /// [`Error`] where the system has none.
    pub fn new() -> Result<Self, Error> {
        let mut seed = [0; 32];
        getrandom::fill(&mut seed).map_err(|e| Error::make("the key", e))?;
        Ok(Self::of_seed(seed))
    }

    /// Reads a key's file.
    ///
    /// # Errors
    /// [`Error`] for a file that is not there or holds no private Ed25519 key.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let bytes = from_file(path, SECRET_LABEL, &SECRET_HEAD, "a private")?;
        Ok(Self::of_seed(bytes))
    }

    /// The key that checks what this one signs.
    #[must_use]
    pub fn public(&self) -> PublicKey {
        PublicKey(self.0.pk)
    }

    /// The signature of a message, 64 bytes; always the same for the same message.
    #[must_use]
    pub fn sign(&self, message: &[u8]) -> Vec<u8> {
        self.0.sk.sign(message, None).to_vec()
    }

    /// Writes the key to `path`, for its owner alone to read, and its public half beside it, `.pub` behind the name. Gives that
    /// file's path. An earlier key is never overwritten.
    ///
    /// # Errors
    /// [`Error`] where there is a file already, or none can be written.
    pub fn write(&self, path: &Path) -> Result<PathBuf, Error> {
        let mut name = path.as_os_str().to_owned();
        name.push(".pub");
        let public = PathBuf::from(name);
        for path in [path, &public] {
            if path.exists() {
                return Err(Error::in_file(
                    path,
                    "there is a file of this name already; a key that was signed with should be kept, so give another name",
                ));
            }
        }
        let seed = self.0.sk.seed();
        whole_file::write_secret(path, pem(SECRET_LABEL, &SECRET_HEAD, &*seed).as_bytes())?;
        whole_file::write(&public, pem(PUBLIC_LABEL, &PUBLIC_HEAD, &*self.0.pk).as_bytes())?;
        Ok(public)
    }
}

impl PublicKey {
    /// Reads a key's file.
    ///
    /// # Errors
    /// [`Error`] for a file that is not there or holds no public Ed25519 key.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let bytes = from_file(path, PUBLIC_LABEL, &PUBLIC_HEAD, "a public")?;
        Ok(Self(ed25519_compact::PublicKey::new(bytes)))
    }

    /// Whether a signature is that of a message, by this key's other half.
    #[must_use]
    pub fn has_signed(&self, message: &[u8], signature: &[u8]) -> bool {
        Signature::from_slice(signature).is_ok_and(|signature| self.0.verify(message, &signature).is_ok())
    }
}

/// A key as text (RFC 7468).
fn pem(label: &str, head: &[u8], key: &[u8]) -> String {
    let body = STANDARD.encode([head, key].concat());
    format!("-----BEGIN {label}-----\n{body}\n-----END {label}-----\n")
}

/// The key in a file of RFC 7468.
fn from_file(path: &Path, label: &str, head: &[u8], which: &str) -> Result<[u8; 32], Error> {
    let fail = |what: String| Error::in_file(path, what);
    let bytes = bounded_file::read(path, MOST_BYTES).map_err(|why| fail(why.english().to_owned()))?;
    let text = String::from_utf8_lossy(&bytes);
    let (begin, end) = (format!("-----BEGIN {label}-----"), format!("-----END {label}-----"));
    let inside = text.split_once(&begin).and_then(|(_, rest)| rest.split_once(&end));
    let body: Option<String> = inside.map(|(body, _)| body.split_whitespace().collect());
    let key = body
        .and_then(|body| STANDARD.decode(body).ok())
        .and_then(|der| der.strip_prefix(head)?.try_into().ok());
    key.ok_or_else(|| {
        fail(format!(
            "holds no {} Ed25519 key; beamfall key makes a pair",
            which.trim_start_matches("a ")
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bytes(hex: &str) -> Vec<u8> {
        (0..hex.len() / 2)
            .map(|n| u8::from_str_radix(&hex[2 * n..2 * n + 2], 16).unwrap())
            .collect()
    }

    /// RFC 8032, 7.1, tests 2 and 3.
    #[test]
    fn signatures_are_those_of_the_standard() {
        let published = [
            (
                "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
                "72",
                "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
            ),
            (
                "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
                "af82",
                "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
            ),
        ];
        for (seed, message, signature) in published {
            let key = SecretKey::of_seed(bytes(seed).try_into().unwrap());
            let (message, signature) = (bytes(message), bytes(signature));
            assert_eq!(key.sign(&message), signature);
            assert!(key.public().has_signed(&message, &signature));
            let mut other = signature.clone();
            other[5] ^= 1;
            assert!(!key.public().has_signed(&message, &other) && !key.public().has_signed(b"other", &signature));
            assert!(!key.public().has_signed(&message, &signature[..63]));
        }
    }

    /// RFC 8410, 10.1 and 10.3: the examples' own text.
    #[test]
    fn files_are_those_of_the_standard() {
        let folder = tempfile::tempdir().unwrap();
        let (secret, public) = (folder.path().join("key"), folder.path().join("public"));
        let text = |label: &str, body: &str| format!("-----BEGIN {label}-----\n{body}\n-----END {label}-----\n");
        let published = "MC4CAQAwBQYDK2VwBCIEINTuctv5E1hK1bbY8fdp+K06/nwoy/HU++CXqI9EdVhC";
        std::fs::write(&secret, text("PRIVATE KEY", published)).unwrap();
        let other_half = "MCowBQYDK2VwAyEAGb9ECWmEzf6FQbrBZ9w7lshQhqowtrbLDFw4rXAxZuE=";
        std::fs::write(&public, text("PUBLIC KEY", other_half)).unwrap();
        let key = SecretKey::read(&secret).unwrap();
        assert_eq!(key.public(), PublicKey::read(&public).unwrap());
        let written = folder.path().join("mine");
        let beside = key.write(&written).unwrap();
        assert_eq!(
            std::fs::read_to_string(&written).unwrap(),
            text("PRIVATE KEY", published)
        );
        assert_eq!(
            std::fs::read_to_string(&beside).unwrap(),
            text("PUBLIC KEY", other_half)
        );
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&written).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        let again = key.write(&written).unwrap_err().to_string();
        assert!(again.contains("already"), "{again}");
        let wrong = PublicKey::read(&secret).unwrap_err().to_string();
        assert!(wrong.contains("public Ed25519"), "{wrong}");
    }

    #[test]
    fn no_two_new_keys_are_alike() {
        let [a, b] = [SecretKey::new(), SecretKey::new()].map(|key| key.unwrap().public());
        assert_ne!(a, b);
    }
}
