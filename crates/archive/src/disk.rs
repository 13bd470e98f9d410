//! Files put in their place so that a crash leaves either the old state or the new one, never a part.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::ArchiveError;

/// Bytes copied at a time: large enough to keep the disk busy, small beside any picture.
const CHUNK_BYTES: usize = 1 << 18;

/// What was copied: lower-case hex SHA-256 and size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Copied {
    pub(crate) sha256: String,
    pub(crate) bytes: u64,
}

/// Streams everything from `source` into the new file `to`, flushed to the disk, and returns its hash and size.
pub(crate) fn copy_hashed(source: &mut dyn Read, to: &Path) -> Result<Copied, ArchiveError> {
    let mut file = File::create(to).map_err(|e| ArchiveError::disk(to, &e))?;
    let mut hash = Sha256::new();
    let mut bytes = 0u64;
    let mut chunk = vec![0u8; CHUNK_BYTES];
    loop {
        let n = match source.read(&mut chunk) {
            Ok(0) => break,
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(ArchiveError::Unreadable { reason: e.to_string() }),
        };
        let part = chunk.get(..n).unwrap_or(&[]);
        hash.update(part);
        file.write_all(part).map_err(|e| ArchiveError::disk(to, &e))?;
        bytes += n as u64;
    }
    file.sync_all().map_err(|e| ArchiveError::disk(to, &e))?;
    Ok(Copied { sha256: hex(&hash.finalize()), bytes })
}

/// Hash and size of a file already on disk.
pub(crate) fn hash_file(path: &Path) -> io::Result<Copied> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut bytes = 0u64;
    let mut chunk = vec![0u8; CHUNK_BYTES];
    loop {
        let n = file.read(&mut chunk)?;
        if n == 0 {
            return Ok(Copied { sha256: hex(&hash.finalize()), bytes });
        }
        hash.update(chunk.get(..n).unwrap_or(&[]));
        bytes += n as u64;
    }
}

/// Lower-case hexadecimal.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// Writes `bytes` to `to` by way of `temporary` on the same disk: flushed, then renamed.
pub(crate) fn write_whole(bytes: &[u8], temporary: &Path, to: &Path) -> Result<(), ArchiveError> {
    copy_hashed(&mut &*bytes, temporary).inspect_err(|_| remove_quietly(temporary))?;
    put_in_place(temporary, to).inspect_err(|_| remove_quietly(temporary))
}

/// Renames a flushed file to its place and flushes the folder's entry.
pub(crate) fn put_in_place(temporary: &Path, to: &Path) -> Result<(), ArchiveError> {
    fs::rename(temporary, to).map_err(|e| ArchiveError::disk(to, &e))?;
    sync_folder(to.parent().unwrap_or(Path::new(".")))
}

/// Flushes the entries of a folder, so that a rename in it survives a power cut.
pub(crate) fn sync_folder(folder: &Path) -> Result<(), ArchiveError> {
    // Windows cannot open a folder as a file; its renames are journalled by the file system.
    if cfg!(unix) {
        File::open(folder).and_then(|f| f.sync_all()).map_err(|e| ArchiveError::disk(folder, &e))?;
    }
    Ok(())
}

/// Makes a folder and its parents.
pub(crate) fn make_folder(folder: &Path) -> Result<(), ArchiveError> {
    fs::create_dir_all(folder).map_err(|e| ArchiveError::disk(folder, &e))
}

/// Takes away a leftover; that it is gone already is as good.
pub(crate) fn remove_quietly(path: &Path) {
    // A leftover that cannot be removed now is found again at the next opening.
    drop(fs::remove_file(path));
}

/// Every plain file under `folder`, as sorted relative paths with `/`; an absent folder has none.
pub(crate) fn files_under(folder: &Path) -> Result<Vec<(String, PathBuf)>, ArchiveError> {
    let mut found = Vec::new();
    let mut open = vec![(String::new(), folder.to_path_buf())];
    while let Some((prefix, here)) = open.pop() {
        let entries = match fs::read_dir(&here) {
            Ok(entries) => entries,
            Err(e) if e.kind() == io::ErrorKind::NotFound => continue,
            Err(e) => return Err(ArchiveError::disk(&here, &e)),
        };
        for entry in entries {
            let entry = entry.map_err(|e| ArchiveError::disk(&here, &e))?;
            let relative = format!("{prefix}{}", entry.file_name().to_string_lossy());
            // Links are left out: a package holds what is in the folder, not what it points to.
            let kind = entry.file_type().map_err(|e| ArchiveError::disk(&here, &e))?;
            if kind.is_dir() {
                open.push((format!("{relative}/"), entry.path()));
            } else if kind.is_file() {
                found.push((relative, entry.path()));
            }
        }
    }
    found.sort();
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SHA-256 of "abc" as printed in FIPS 180-2, appendix B.1 (from memory, source not seen).
    #[test]
    fn copies_and_hashes() {
        let folder = tempfile::tempdir().unwrap();
        let to = folder.path().join("copy");
        let copied = copy_hashed(&mut &b"abc"[..], &to).unwrap();
        assert_eq!(copied.sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(copied.bytes, 3);
        assert_eq!(hash_file(&to).unwrap(), copied);
    }

    #[test]
    fn a_full_disk_leaves_no_part() {
        let full = Path::new("/dev/full");
        if !full.exists() {
            return;
        }
        let error = copy_hashed(&mut &b"abc"[..], full).unwrap_err();
        assert!(matches!(error, ArchiveError::DiskFull(_)), "{error}");
    }
}
