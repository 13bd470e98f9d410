//! `rubstone bag`.

use std::path::PathBuf;

use examine::shown;
use wire::answers::BagAnswer;

use super::json;
use crate::args::Bag;
use crate::outcome::{Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Bag) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let dest = args.dest.clone().unwrap_or_else(|| {
        let mut name = args.examination.components().as_path().as_os_str().to_owned();
        name.push("-package");
        PathBuf::from(name)
    });
    let bagged = examine::package(&examination, &dest, args.license.as_deref(), &Progress::new())?;
    let folder = shown(&bagged.folder);
    if args.json {
        json!(&BagAnswer { schema: "rubstone.bag/1", folder, files: bagged.files, bytes: bagged.bytes });
    } else {
        say::result(&format!("package: {folder} ({} files, {} bytes)", bagged.files, bagged.bytes));
    }
    Ok(Outcome::default())
}
