//! Folders opened before on this machine, for the first screen.

use std::path::{Path, PathBuf};

/// Folders remembered.
const REMEMBERED: usize = 8;

/// The list of folders opened before; where it cannot be kept, nothing is lost but the list.
#[derive(Debug)]
pub struct Recent {
    file: Option<PathBuf>,
}

impl Recent {
    /// This user's list, where programs keep such things (XDG Base Directory Specification 0.8: `$XDG_STATE_HOME`).
    pub fn of_this_user() -> Self {
        let folder = std::env::var_os("XDG_STATE_HOME")
            .map(PathBuf::from)
            .filter(|path| path.is_absolute())
            .or_else(|| Some(home()?.join(".local/state")));
        Self { file: folder.map(|folder| folder.join("rubstone/recent")) }
    }

    /// Folders that still exist, newest first.
    pub fn folders(&self) -> Vec<String> {
        let text = self.file.as_ref().and_then(|file| std::fs::read_to_string(file).ok()).unwrap_or_default();
        text.lines().filter(|line| Path::new(line).is_dir()).take(REMEMBERED).map(str::to_owned).collect()
    }

    /// Puts a folder first in the list.
    pub fn remember(&self, folder: &Path) {
        let (Some(file), Some(new)) = (&self.file, folder.to_str().filter(|path| !path.contains('\n')))
        else {
            return;
        };
        let mut list = self.folders();
        list.retain(|other| other != new);
        list.insert(0, new.to_owned());
        list.truncate(REMEMBERED);
        let written = file.parent().map(std::fs::create_dir_all).transpose();
        if written.is_ok() {
            // Without the list the first screen only lacks a convenience.
            let _ = std::fs::write(file, list.join("\n") + "\n");
        }
    }
}

/// The user's home folder.
pub fn home() -> Option<PathBuf> {
    std::env::var_os("HOME").map(PathBuf::from).filter(|path| path.is_dir())
}
