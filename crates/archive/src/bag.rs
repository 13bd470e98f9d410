//! The examination as one package for keeping: BagIt 1.0 (RFC 8493) around an RO-Crate.

use std::fmt::Write as _;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

use uuid::Uuid;

use crate::examination::{DATABASE, ORIGINALS};
use crate::{ArchiveError, Examination, WorkKind, disk};

/// Name of the RO-Crate metadata file within the payload.
const CRATE_METADATA: &str = "ro-crate-metadata.json";
/// Folder of what was written for readers.
const REPORT: &str = "report";

/// Texts of a package that this crate does not write itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BagText {
    /// `ro-crate-metadata.json`.
    pub ro_crate: String,
    /// Further payload files: relative path with `/`, and content.
    pub files: Vec<(String, Vec<u8>)>,
    /// Lines of `bag-info.txt` besides the date and the Payload-Oxum.
    pub info: Vec<(String, String)>,
}

/// A package that has been written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bagged {
    /// Where it lies.
    pub folder: PathBuf,
    /// Payload files.
    pub files: u64,
    /// Payload bytes.
    pub bytes: u64,
}

/// A payload or tag file with its hash.
struct Entry {
    path: String,
    sha256: String,
    bytes: u64,
}

impl Examination {
    /// Relative payload paths and files a package takes from this examination: originals and report. The database
    /// is added as one file besides.
    ///
    /// # Errors
    /// Trouble with the disk.
    pub fn package_files(&self) -> Result<Vec<(String, PathBuf)>, ArchiveError> {
        let mut files = Vec::new();
        for capture in self.captures()? {
            files.push((format!("{ORIGINALS}/{}", capture.sha256), self.original_path(&capture.sha256)));
        }
        for (relative, path) in disk::files_under(&self.root.join(REPORT))? {
            files.push((format!("{REPORT}/{relative}"), path));
        }
        Ok(files)
    }

    /// Writes the package to `dest`, which must not exist: whole or not at all. Originals are checked on the way.
    ///
    /// `watch` is told the share done, 0 to 1, and returns `false` to give up; then `None` is returned.
    ///
    /// # Errors
    /// [`ArchiveError::NotEmpty`] if `dest` exists; [`ArchiveError::OriginalLost`]; a full disk.
    ///
    /// # Source
    /// RFC 8493, The BagIt File Packaging Format (V1.0).
    pub fn bag(
        &self,
        dest: &Path,
        text: &BagText,
        watch: &dyn Fn(f64) -> bool,
    ) -> Result<Option<Bagged>, ArchiveError> {
        if dest.exists() {
            return Err(ArchiveError::NotEmpty(dest.to_path_buf()));
        }
        let parent = match dest.parent() {
            Some(parent) if parent != Path::new("") => parent,
            _ => Path::new("."),
        };
        disk::make_folder(parent)?;
        let intent = self.intend(WorkKind::Package, &dest.to_string_lossy())?;
        let half_done = parent.join(format!(".rubstone-package-{}", Uuid::now_v7()));
        let written = self.write_bag(&half_done, text, watch);
        let placed = match written {
            Ok(Some(bagged)) => fs::rename(&half_done, dest)
                .map_err(|e| ArchiveError::disk(dest, &e))
                .and_then(|()| disk::sync_folder(parent))
                .map(|()| Some(Bagged { folder: dest.to_path_buf(), ..bagged })),
            other => other,
        };
        if !matches!(placed, Ok(Some(_))) {
            drop(fs::remove_dir_all(&half_done));
        }
        self.close(intent)?;
        placed
    }

    fn write_bag(
        &self,
        folder: &Path,
        text: &BagText,
        watch: &dyn Fn(f64) -> bool,
    ) -> Result<Option<Bagged>, ArchiveError> {
        let data = folder.join("data");
        disk::make_folder(&data)?;
        let mut payload = Vec::new();
        let files = self.package_files()?;
        for (n_done, (relative, source)) in files.iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "a share for a progress bar")]
            if !watch(n_done as f64 / files.len() as f64) {
                return Ok(None);
            }
            let entry = copy_payload(&data, relative, source)?;
            if let Some(sha256) = relative.strip_prefix(&format!("{ORIGINALS}/"))
                && entry.sha256 != sha256
            {
                return Err(ArchiveError::OriginalLost { sha256: sha256.to_owned(), what: "altered" });
            }
            payload.push(entry);
        }
        payload.push(self.copy_database(&data)?);
        payload.push(write_payload(&data, CRATE_METADATA, text.ro_crate.as_bytes())?);
        for (relative, bytes) in &text.files {
            payload.push(write_payload(&data, relative, bytes)?);
        }
        payload.sort_by(|a, b| a.path.cmp(&b.path));
        let bytes: u64 = payload.iter().map(|entry| entry.bytes).sum();
        let n_files = payload.len() as u64;

        let mut info = String::new();
        for (name, value) in &text.info {
            // RFC 8493 2.2.2: one element a line; a line break would start another.
            let value = value.split_whitespace().collect::<Vec<_>>().join(" ");
            writeln!(info, "{name}: {value}").unwrap_or(());
        }
        writeln!(info, "Bagging-Date: {}", jiff::Timestamp::now().strftime("%Y-%m-%d")).unwrap_or(());
        writeln!(info, "Payload-Oxum: {bytes}.{n_files}").unwrap_or(());

        let tags = [
            ("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_owned()),
            ("bag-info.txt", info),
            ("manifest-sha256.txt", manifest(&payload)),
        ];
        let mut tag_entries = Vec::new();
        for (name, content) in &tags {
            tag_entries.push(write_payload(folder, name, content.as_bytes())?);
        }
        for entry in &mut tag_entries {
            entry.path = entry.path.trim_start_matches("data/").to_owned();
        }
        tag_entries.sort_by(|a, b| a.path.cmp(&b.path));
        write_payload(folder, "tagmanifest-sha256.txt", manifest(&tag_entries).as_bytes())?;
        disk::sync_folder(folder)?;
        watch(1.0);
        Ok(Some(Bagged { folder: folder.to_path_buf(), files: n_files, bytes }))
    }

    /// The database as one consistent file, whoever else may be writing.
    fn copy_database(&self, data: &Path) -> Result<Entry, ArchiveError> {
        let to = data.join(DATABASE);
        let target = to.to_str().ok_or_else(|| ArchiveError::BadValue {
            what: "the package's folder",
            value: to.to_string_lossy().into_owned(),
            needed: "choose a folder whose name is readable text (UTF-8)",
        })?;
        self.db.execute("VACUUM INTO ?1", [target])?;
        File::open(&to).and_then(|file| file.sync_all()).map_err(|e| ArchiveError::disk(&to, &e))?;
        let found = disk::hash_file(&to).map_err(|e| ArchiveError::disk(&to, &e))?;
        Ok(Entry { path: format!("data/{DATABASE}"), sha256: found.sha256, bytes: found.bytes })
    }
}

fn copy_payload(data: &Path, relative: &str, source: &Path) -> Result<Entry, ArchiveError> {
    let to = data.join(relative);
    disk::make_folder(to.parent().unwrap_or(data))?;
    let mut file = File::open(source).map_err(|e| match relative.strip_prefix(&format!("{ORIGINALS}/")) {
        Some(sha256) => ArchiveError::OriginalLost { sha256: sha256.to_owned(), what: "missing" },
        None => ArchiveError::disk(source, &e),
    })?;
    let copied = disk::copy_hashed(&mut file, &to)?;
    Ok(Entry { path: format!("data/{relative}"), sha256: copied.sha256, bytes: copied.bytes })
}

fn write_payload(folder: &Path, relative: &str, bytes: &[u8]) -> Result<Entry, ArchiveError> {
    let to = folder.join(relative);
    disk::make_folder(to.parent().unwrap_or(folder))?;
    let copied = disk::copy_hashed(&mut &*bytes, &to)?;
    Ok(Entry { path: format!("data/{relative}"), sha256: copied.sha256, bytes: copied.bytes })
}

/// One line per file: hash, two spaces, path.
fn manifest(entries: &[Entry]) -> String {
    let mut lines = String::new();
    for entry in entries {
        writeln!(lines, "{}  {}", entry.sha256, encoded(&entry.path)).unwrap_or(());
    }
    lines
}

/// RFC 8493 2.1.3: LF, CR and % in a path are percent-encoded.
fn encoded(path: &str) -> String {
    path.replace('%', "%25").replace('\n', "%0A").replace('\r', "%0D")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8493 section 2.1.3 (from memory, source not seen).
    #[test]
    fn manifest_paths_are_encoded() {
        assert_eq!(encoded("data/a%b\nc\rd"), "data/a%25b%0Ac%0Dd");
        let entries = [Entry { path: "data/x".into(), sha256: "00".into(), bytes: 1 }];
        assert_eq!(manifest(&entries), "00  data/x\n");
    }
}
