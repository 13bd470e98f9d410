//! The name of a file's content.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

use sha2::{Digest, Sha256};

/// SHA-256 of a file's bytes.
///
/// # Source
/// FIPS 180-4.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fingerprint([u8; 32]);

/// Bytes read at a time: large enough to hide the cost of a call, small enough for the cache (common practice, no source).
const CHUNK_BYTES: usize = 1 << 16;

impl Fingerprint {
    /// Of bytes in memory.
    #[must_use]
    pub fn of_bytes(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// Of a file, read piece by piece.
    ///
    /// # Errors
    /// What the system reports when the file cannot be opened or read.
    pub fn of_file(path: &Path) -> io::Result<Self> {
        let mut file = File::open(path)?;
        let mut digest = Sha256::new();
        let mut piece = vec![0; CHUNK_BYTES];
        loop {
            let found = match file.read(&mut piece) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                other => other?,
            };
            if found == 0 {
                return Ok(Self(digest.finalize().into()));
            }
            digest.update(piece.get(..found).unwrap_or(&[]));
        }
    }

    /// 64 lower-case hexadecimal digits.
    #[must_use]
    pub fn hex(&self) -> String {
        self.0.iter().map(|byte| format!("{byte:02x}")).collect()
    }

    /// The 32 bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The one-block and the empty message of the NIST example values for SHA-256.
    #[test]
    fn published_digests() {
        assert_eq!(
            Fingerprint::of_bytes(b"abc").hex(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(
            Fingerprint::of_bytes(b"").hex(),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
        );
    }

    #[test]
    fn a_file_and_its_bytes_agree() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("strange ‘name’ 🪨.bin");
        let bytes: Vec<u8> = (0..200_000u32).map(|i| (i % 251) as u8).collect();
        std::fs::write(&path, &bytes).unwrap();
        assert_eq!(Fingerprint::of_file(&path).unwrap(), Fingerprint::of_bytes(&bytes));
        assert!(Fingerprint::of_file(&dir.path().join("gone")).is_err());
    }
}
