//! Files that come with a request.

use std::path::PathBuf;

use axum::extract::Multipart;
use axum::extract::multipart::{Field, MultipartError, MultipartRejection};
use tokio::io::AsyncWriteExt;
use uuid::Uuid;

use crate::answer::Refusal;

/// One uploaded file in a folder of its own, gone with this.
pub struct Upload {
    /// The file, under its own name.
    pub file: PathBuf,
    /// The text that came before it under the name `asked`; empty if none did.
    pub asked: String,
    folder: PathBuf,
}

impl Upload {
    /// Writes an uploaded file to disk as it comes.
    ///
    /// # Errors
    /// The request is no form with a file, the file has no usable name, the upload broke off, or the disk is full.
    pub async fn take(upload: Result<Multipart, MultipartRejection>) -> Result<Self, Refusal> {
        let mut upload =
            upload.map_err(|e| Refusal::bad(format!("the upload is not a form with a file ({e})")))?;
        let folder = std::env::temp_dir().join(format!("rubstone-{}", Uuid::now_v7()));
        std::fs::create_dir(&folder)
            .map_err(|e| Refusal::with(500, format!("{}: {e}; make room there", folder.display())))?;
        // From here on the folder goes when this does.
        let mut taken = Self { file: PathBuf::new(), asked: String::new(), folder };
        loop {
            let field = upload.next_field().await.map_err(broken)?;
            let field = field.ok_or_else(|| Refusal::bad("the upload has no file"))?;
            if field.name() == Some("asked") {
                taken.asked = field.text().await.map_err(broken)?;
            } else {
                taken.file = taken.folder.join(plain_name(field.file_name().unwrap_or_default())?);
                taken.write(field).await?;
                return Ok(taken);
            }
        }
    }

    async fn write(&self, mut field: Field<'_>) -> Result<(), Refusal> {
        let disk = |e: std::io::Error| {
            Refusal::with(
                500,
                format!("the upload cannot be kept ({e}); make room on the disk and send it again"),
            )
        };
        let mut file = tokio::fs::File::create_new(&self.file).await.map_err(disk)?;
        while let Some(part) = field.chunk().await.map_err(broken)? {
            file.write_all(&part).await.map_err(disk)?;
        }
        file.flush().await.map_err(disk)
    }
}

impl Drop for Upload {
    fn drop(&mut self) {
        // What cannot be removed lies in the system's folder for such things, which clears itself.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

fn broken(e: MultipartError) -> Refusal {
    Refusal::with(e.status().as_u16(), format!("the upload broke off ({e}); send it again"))
}

/// The last part of a name, if it is one that stays in its folder.
fn plain_name(name: &str) -> Result<&str, Refusal> {
    let plain = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let usable =
        !plain.is_empty() && plain != "." && plain != ".." && !plain.contains('\0') && plain.len() <= 255;
    if usable {
        Ok(plain)
    } else {
        Err(Refusal::bad("the file has no usable name; rename it and send it again"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_in_their_folder() {
        for (name, kept) in [
            ("a.jpg", "a.jpg"),
            ("../../etc/passwd", "passwd"),
            ("C:\\pictures\\b.png", "b.png"),
            ("\\\\host\\share\\c.tif", "c.tif"),
        ] {
            assert_eq!(plain_name(name).ok(), Some(kept), "{name}");
        }
        for name in ["", "..", "a/..", "x\\.", "nul\0.jpg"] {
            assert!(plain_name(name).is_err(), "{name:?}");
        }
    }
}
