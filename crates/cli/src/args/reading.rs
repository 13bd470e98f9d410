//! Arguments of a person's reading.

use std::path::PathBuf;

#[derive(Debug, clap::Args)]
#[command(
    group = clap::ArgGroup::new("step"),
    after_help = "Examples:\n  rubstone reading slab a1.tif\n  rubstone reading slab a1.tif --person \"A. Reader\" --reject 4 7 12\n  rubstone reading slab a1.tif --person \"A. Reader\" --suspect 9 --reason fibre\n  rubstone reading slab a1.tif --person \"A. Reader\" --draw 102,340 480,352\n  rubstone reading slab a1.tif --agreement\n\nOne step a call. Lay, weighing and report rest on the reading of whoever read a capture first."
)]
pub struct Reading {
    /// The examination's folder.
    pub examination: PathBuf,
    /// The capture: name, number or SHA-256.
    pub capture: String,
    /// Whose reading; without it the traces are shown as found.
    #[arg(long, default_value = "")]
    pub person: String,
    /// These traces are scratches.
    #[arg(long, value_name = "TRACE", num_args = 1.., group = "step", requires = "person")]
    pub accept: Vec<u32>,
    /// These are not.
    #[arg(long, value_name = "TRACE", num_args = 1.., group = "step", requires = "person")]
    pub reject: Vec<u32>,
    /// These may be something else.
    #[arg(long, value_name = "TRACE", num_args = 1.., group = "step", requires = "person")]
    pub suspect: Vec<u32>,
    /// What else they may be, such as fibre; without it the suspicion is taken back.
    #[arg(long, requires = "suspect", default_value = "")]
    pub reason: String,
    /// Here is a scratch the finder missed: its points, px.
    #[arg(long, value_name = "X,Y", num_args = 2.., group = "step", requires = "person")]
    pub draw: Vec<String>,
    /// These are one scratch.
    #[arg(long, value_name = "TRACE", num_args = 2.., group = "step", requires = "person")]
    pub join: Vec<u32>,
    /// This is two scratches, parted here, px.
    #[arg(long, num_args = 2, value_names = ["TRACE", "X,Y"], group = "step", requires = "person")]
    pub cut: Option<Vec<String>>,
    /// Takes the last step back.
    #[arg(long, group = "step", requires = "person")]
    pub undo: bool,
    /// Does it again.
    #[arg(long, group = "step", requires = "person")]
    pub redo: bool,
    /// How far the readings of this capture agree.
    #[arg(long, conflicts_with_all = ["step", "person"])]
    pub agreement: bool,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}
