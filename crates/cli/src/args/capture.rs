//! Arguments of what may be changed of a capture.

use std::path::PathBuf;

use super::{Kind, LightArgs};

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone capture slab\n  rubstone capture slab a1.tif --light-azimuth 130 --note \"second lamp\"\n  rubstone capture slab a7.tif --set-aside"
)]
pub struct Capture {
    /// The examination's folder.
    pub examination: PathBuf,
    /// The capture: name, number or SHA-256; without it, all are listed.
    pub capture: Option<String>,
    /// What it shows.
    #[arg(long, value_enum)]
    pub kind: Option<Kind>,
    /// Station it was taken at; made if there is none of this name; "" for none.
    #[arg(long)]
    pub station: Option<String>,
    /// Instrument it was taken with; made (as a microscope) if there is none of this name; "" for none.
    #[arg(long)]
    pub instrument: Option<String>,
    /// Where the light of this capture alone came from.
    #[command(flatten)]
    pub light: LightArgs,
    /// Gives up scale, lens and light of its own: those of its instrument hold again.
    #[arg(long, conflicts_with_all = ["light", "light_azimuth"])]
    pub as_instrument: bool,
    /// Sets it aside: kept, but not counted.
    #[arg(long, conflicts_with = "take_back")]
    pub set_aside: bool,
    /// Takes it back.
    #[arg(long)]
    pub take_back: bool,
    /// Anything worth knowing.
    #[arg(long)]
    pub note: Option<String>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}
