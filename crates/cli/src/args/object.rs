//! Arguments of what is known of the object.

use std::path::PathBuf;

/// What is known of the object.
#[derive(Debug, clap::Args)]
pub struct ObjectArgs {
    /// Name or inventory number of the object.
    #[arg(long)]
    pub name: Option<String>,
    /// Rock, by name; "" for not known.
    #[arg(long, conflicts_with = "mineral")]
    pub rock: Option<String>,
    /// A mineral and its share of the rock, such as quartz=0.3; once for each.
    #[arg(long, value_name = "MINERAL=SHARE")]
    pub mineral: Vec<String>,
    /// Where the object is.
    #[arg(long)]
    pub place: Option<String>,
    /// Conditions of access: permission, time, what may not be done.
    #[arg(long)]
    pub conditions: Option<String>,
    /// Anything else.
    #[arg(long)]
    pub note: Option<String>,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone object slab\n  rubstone object slab --place \"store room\" --mineral plagioclase=0.6 --mineral hornblende=0.4"
)]
pub struct Object {
    /// The examination's folder.
    pub examination: PathBuf,
    /// What to change; without any, what is known is shown.
    #[command(flatten)]
    pub object: ObjectArgs,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}
