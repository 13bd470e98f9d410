//! The arguments of every command.

mod capture;
mod object;
mod reading;

use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueEnum};

pub use capture::Capture;
pub use object::{Object, ObjectArgs};
pub use reading::Reading;

/// Reads the marks that finishing leaves on worked stone.
///
/// Without a command it opens the workbench in the browser. `rubstone sample DIR` writes an invented examination and its
/// report.
#[derive(Debug, Parser)]
#[command(
    name = "rubstone",
    version,
    propagate_version = true,
    max_term_width = 100,
    args_conflicts_with_subcommands = true,
    after_help = "Examples:\n  rubstone\n  rubstone --examination slab --no-browser\n  rubstone measure scratch.jpg --um-per-px 1.29"
)]
pub struct Args {
    /// How the workbench is opened.
    #[command(flatten)]
    pub open: Open,
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// How the workbench is opened.
#[derive(Debug, clap::Args)]
pub struct Open {
    /// Examination to open at once.
    #[arg(long, value_name = "DIR")]
    pub examination: Option<PathBuf>,
    /// Print the address alone; it lets one browser in, once.
    #[arg(long)]
    pub no_browser: bool,
    /// Port on this machine; 0 takes any that is free.
    #[arg(long, default_value_t = 0)]
    pub port: u16,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Begin an examination in a new folder.
    Begin(Begin),
    /// Change what is known of the object, or show it.
    Object(Object),
    /// Add pictures, or folders of pictures.
    Add(Add),
    /// Change what is known of one capture, or list all.
    Capture(Capture),
    /// Make or change an instrument: a camera or microscope at one setting.
    Instrument(Instrument),
    /// Make or change a station, or list all.
    Station(Station),
    /// Set a scale.
    Scale(Scale),
    /// Measure pictures, or every micrograph of an examination.
    Measure(Measure),
    /// Read the traces of a capture as a person: accept, reject, suspect, draw, join, cut, undo; or show them.
    Reading(Reading),
    /// Say what the traces say together: sets, crossing, stroke length, stations compared.
    #[command(visible_alias = "describe")]
    Lay(Lay),
    /// Weigh which ways of finishing the marks support, and say which cannot be told apart.
    Weigh(Weigh),
    /// Write the report: HTML, PDF and tables.
    Report(Report),
    /// Plan the next visit: how many fields, how wide, under which light, to tell finishes apart.
    Plan(Plan),
    /// Check the engine with reference panels, or run a blind test.
    Panel(Panel),
    /// Measure height maps and meshes: flatness, texture, symmetry, stone taken away.
    Form(Form),
    /// Say what could scratch what, and which grains could leave scratches of a width.
    Stone(Stone),
    /// Write a package for keeping (BagIt with RO-Crate).
    Bag(Bag),
    /// Say how far an examination is and what to do next.
    Status(Status),
    /// Write a complete sample examination with its report.
    Sample(Sample),
    /// Render micrographs of invented stone with their truth.
    Render(Render),
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  rubstone begin slab --name \"Cover slab\" --rock granite --place \"north yard\""
)]
pub struct Begin {
    /// The new folder.
    pub examination: PathBuf,
    /// What is known of the object.
    #[command(flatten)]
    pub object: ObjectArgs,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  rubstone add slab station-a/*.tif --station \"A, left edge\" --instrument \"microscope, wide\""
)]
pub struct Add {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Pictures; a folder adds every picture in it and below.
    #[arg(required = true)]
    pub pictures: Vec<PathBuf>,
    /// Station they were taken at; made if there is none of this name.
    #[arg(long)]
    pub station: Option<String>,
    /// Instrument they were taken with; made (as a microscope) if there is none of this name.
    #[arg(long)]
    pub instrument: Option<String>,
    /// What they show.
    #[arg(long, value_enum, default_value_t = Kind::Micrograph)]
    pub kind: Kind,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

/// What a picture shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// The object or a part of it.
    Overview,
    /// A field that is measured.
    Micrograph,
    /// A graduation of known pitch.
    Graduation,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  rubstone instrument slab \"microscope, wide\" --light-azimuth 40 --nominal 60x"
)]
pub struct Instrument {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Name of the instrument and its setting; without it, all are listed.
    pub name: Option<String>,
    /// Gives it another name.
    #[arg(long, value_name = "NEW NAME", requires = "name")]
    pub rename: Option<String>,
    /// It is a camera, not a microscope.
    #[arg(long, conflicts_with = "microscope")]
    pub camera: bool,
    /// It is a microscope; every new one is.
    #[arg(long)]
    pub microscope: bool,
    /// Where its light came from.
    #[command(flatten)]
    pub light: LightArgs,
    /// Magnification as engraved or shown. Recorded, never used as a scale.
    #[arg(long)]
    pub nominal: Option<String>,
    /// Anything worth knowing.
    #[arg(long)]
    pub note: Option<String>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

/// Where the light came from.
#[derive(Debug, Clone, clap::Args)]
pub struct LightArgs {
    /// One-sided light came from here: degrees, 0 from the right, counter-clockwise as seen.
    #[arg(long, value_name = "DEG", allow_negative_numbers = true, conflicts_with = "light")]
    pub light_azimuth: Option<f64>,
    /// Other light.
    #[arg(long, value_enum)]
    pub light: Option<LightKind>,
}

/// Light that favours no direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LightKind {
    /// A ring of lamps.
    Ring,
    /// Through the lens.
    Coaxial,
    /// Not known.
    Unknown,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  rubstone station slab \"A, left edge\" --note \"near the chip\" --pin front.jpg 0.25 0.6"
)]
pub struct Station {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Name of the station; without it, all are listed.
    pub name: Option<String>,
    /// Anything worth knowing.
    #[arg(long)]
    pub note: Option<String>,
    /// Gives it another name.
    #[arg(long, value_name = "NEW NAME", requires = "name")]
    pub rename: Option<String>,
    /// Takes its pin off.
    #[arg(long, conflicts_with = "pin", requires = "name")]
    pub unpin: bool,
    /// Takes the station out; its captures stay, without a station.
    #[arg(long, conflicts_with_all = ["note", "pin", "take", "rename", "unpin"], requires = "name")]
    pub remove: bool,
    /// Its place on an overview: the picture, then shares of its width and height from the top left.
    #[arg(long, num_args = 3, value_names = ["OVERVIEW", "X", "Y"])]
    pub pin: Option<Vec<String>>,
    /// Captures (name, number or SHA-256) that were taken here.
    #[arg(long, value_name = "CAPTURE")]
    pub take: Vec<String>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone scale slab --graduation grad.png --um-per-tick 10\n  rubstone scale slab --instrument \"microscope, wide\" --um-per-px 1.29 --u 0.01\n  rubstone scale slab --capture a1.tif --points 102 340 1480 352 --distance-um 2000"
)]
pub struct Scale {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Instrument whose captures the scale holds for. May be left out where there is only one.
    #[arg(long, conflicts_with = "capture")]
    pub instrument: Option<String>,
    /// The one capture the scale holds for.
    #[arg(long)]
    pub capture: Option<String>,
    /// Capture that shows a graduation; added if it is a file not in the examination yet.
    #[arg(long, value_name = "PICTURE", requires = "um_per_tick", conflicts_with_all = ["um_per_px", "points"])]
    pub graduation: Option<String>,
    /// Micrometres from one line of the graduation to the next.
    #[arg(long)]
    pub um_per_tick: Option<f64>,
    /// Micrometres per pixel, typed.
    #[arg(long, conflicts_with = "points")]
    pub um_per_px: Option<f64>,
    /// Two points on --capture, px.
    #[arg(long, num_args = 4, value_names = ["X1", "Y1", "X2", "Y2"], requires_all = ["distance_um", "capture"])]
    pub points: Option<Vec<f64>>,
    /// Distance of the two points on the surface, µm.
    #[arg(long)]
    pub distance_um: Option<f64>,
    /// Standard uncertainty of the number typed, in its unit.
    #[arg(long, default_value_t = 0.0)]
    pub u: f64,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone measure a1.jpg a2.jpg --um-per-px 2.5 --light-azimuth 40 --json > measure.json\n  rubstone measure slab\n\nExit code: 0 done, 1 some pictures failed (each named on stderr) and the rest is done, 2 wrong usage, 3 internal error."
)]
pub struct Measure {
    /// Pictures, or one examination's folder.
    #[arg(required = true, value_name = "PICTURE|EXAMINATION")]
    pub inputs: Vec<PathBuf>,
    /// Micrometres per pixel. Without it everything is in pixels.
    #[arg(long)]
    pub um_per_px: Option<f64>,
    /// Standard uncertainty of the scale, µm/px.
    #[arg(long, default_value_t = 0.0, requires = "um_per_px")]
    pub u_um_per_px: f64,
    /// Where the light came from.
    #[command(flatten)]
    pub light: LightArgs,
    /// False traces to expect per megapixel of scratch-free stone, 5 unless said otherwise; 0.05 is strict. An examination
    /// keeps the number, and pictures measured with another are measured again.
    #[arg(long)]
    pub expected_false: Option<f64>,
    /// Print one JSON object (rubstone.measure/1).
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  rubstone lay slab")]
pub struct Lay {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Each capture by itself as well.
    #[arg(long)]
    pub captures: bool,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone weigh slab\n  rubstone measure *.jpg --um-per-px 2.5 --json > measure.json && rubstone weigh measure.json --json\n  rubstone weigh slab --panel free-hand=panel-1 --panel guided-rub=panel-2\n\nThe first weighing of a set of pictures takes a minute or two of simulation; the same pictures weigh at once again."
)]
pub struct Weigh {
    /// The examination's folder, or a file with the output of `rubstone measure --json`.
    pub input: PathBuf,
    /// A finish to consider; once for each, two or more. Without any, all are.
    #[arg(long, value_name = "FINISH")]
    pub finish: Vec<String>,
    /// A prior probability of a finish, such as rotating-pad=0.5; once for each. Without any, none is used.
    #[arg(long, value_name = "FINISH=P")]
    pub prior: Vec<String>,
    /// A reference panel, FINISH=EXAMINATION or FINISH=MEASURE.json; once for each. Panels update the models of their finishes.
    #[arg(long, value_name = "FINISH=INPUT")]
    pub panel: Vec<String>,
    /// Panels that the examination keeps (`rubstone panel set`), besides those given here.
    #[arg(long)]
    pub kept_panels: bool,
    /// Panels take the place of the models of their finishes instead.
    #[arg(long)]
    pub replace: bool,
    /// Seed of the simulations.
    #[arg(long, default_value_t = examine::SEED)]
    pub seed: u64,
    /// Simulate anew even if these pictures were weighed before, and keep nothing.
    #[arg(long)]
    pub no_cache: bool,
    /// Print one JSON object (rubstone.weigh/1).
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  rubstone report slab --without comparison")]
pub struct Report {
    /// The examination's folder.
    pub examination: PathBuf,
    /// A chapter to leave out: comparison, weighing, form, stone or "next visit".
    #[arg(long, value_name = "CHAPTER")]
    pub without: Vec<String>,
    /// Day or time printed as that of the report; without it none is printed and the same input gives the same bytes.
    #[arg(long, value_name = "TEXT")]
    pub made_at: Option<String>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  rubstone plan --tell rotating-pad,guided-rub --um-per-px 2.5 --um-per-px 5 --minutes 45 --sheet sheet.pdf\n\nEvery plan is tried on simulated objects: allow some minutes."
)]
pub struct Plan {
    /// Two finishes to be told apart, such as rotating-pad,guided-rub; once for each pair.
    #[arg(long, required = true, value_name = "A,B")]
    pub tell: Vec<String>,
    /// A scale the instrument can be set to, µm/px; once for each.
    #[arg(long, required = true)]
    pub um_per_px: Vec<f64>,
    /// Width of its pictures, px.
    #[arg(long, default_value_t = 1600)]
    pub width_px: u32,
    /// Height of its pictures, px.
    #[arg(long, default_value_t = 1200)]
    pub height_px: u32,
    /// Its blur, px (standard deviation).
    #[arg(long, default_value_t = 1.3)]
    pub blur_px: f64,
    /// Light at hand: one-side, two-sides or ring; once for each.
    #[arg(long, default_values = ["one-side", "two-sides"])]
    pub light: Vec<String>,
    /// Time before the object, minutes.
    #[arg(long, default_value_t = 60.0)]
    pub minutes: f64,
    /// Time to set up at a station, minutes.
    #[arg(long, default_value_t = 6.0)]
    pub minutes_per_station: f64,
    /// Time for one picture, minutes.
    #[arg(long, default_value_t = 1.5)]
    pub minutes_per_picture: f64,
    /// Most stations that may be used.
    #[arg(long, default_value_t = 6)]
    pub stations: usize,
    /// Chance wanted of a ratio of ten or more the right way.
    #[arg(long, default_value_t = 0.8)]
    pub probability: f64,
    /// Simulated objects of each finish for each plan; more cost time, fewer cost certainty.
    #[arg(long, default_value_t = 600)]
    pub objects: usize,
    /// Seed of the simulations.
    #[arg(long, default_value_t = examine::SEED)]
    pub seed: u64,
    /// Name of the object, for the sheet.
    #[arg(long, default_value = "")]
    pub object: String,
    /// Keep the plan and its field sheet in this examination, whose name stands on the sheet.
    #[arg(long, value_name = "EXAMINATION", conflicts_with = "object")]
    pub keep: Option<PathBuf>,
    /// Write the field sheet of the cheapest plan to this PDF file.
    #[arg(long, value_name = "FILE")]
    pub sheet: Option<PathBuf>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone panel check guided-rub=panel-1 guided-rub=panel-2 free-hand=panel-3 free-hand=panel-4 --json\n  rubstone panel seal answers.csv --salt \"a long sentence\"\n  rubstone panel score answers.csv --salt \"a long sentence\" --sealed HASH p1=weigh-1.json\n\nCaution: making panels raises dust that harms the lungs; work wet, and follow local rules and licensed practice."
)]
pub struct Panel {
    /// What to do with them.
    #[command(subcommand)]
    pub command: PanelCommand,
}

/// What can be done with panels.
#[derive(Debug, Subcommand)]
pub enum PanelCommand {
    /// Leave each panel out in turn and weigh it with an engine that knows the others.
    Check {
        /// Panels: FINISH=EXAMINATION or FINISH=MEASURE.json, three or more of two or more finishes.
        #[arg(required = true, value_name = "FINISH=INPUT")]
        panels: Vec<String>,
        /// Panels take the place of the models of their finishes instead of updating them.
        #[arg(long)]
        replace: bool,
        /// Seed of the simulations.
        #[arg(long, default_value_t = examine::SEED)]
        seed: u64,
        /// Print one JSON object.
        #[arg(long)]
        json: bool,
    },
    /// Add panels to those an examination keeps, take some out, check them and keep the answer; or list them.
    Set {
        /// The examination's folder.
        examination: PathBuf,
        /// A panel to add, FINISH=EXAMINATION or FINISH=MEASURE.json; once for each.
        #[arg(long, value_name = "FINISH=INPUT")]
        add: Vec<String>,
        /// The grit that the panels added were finished with, with its scale (P400, F220), if it is known: three panels of
        /// known grit or more tell how wide the scratches of a grain are.
        #[arg(long, requires = "add")]
        grit: Option<String>,
        /// Number of a panel to take out; once for each.
        #[arg(long, value_name = "NUMBER")]
        remove: Vec<u32>,
        /// Leave each out in turn, and keep what came of it.
        #[arg(long)]
        check: bool,
        /// In that check panels take the place of the models of their finishes instead of updating them.
        #[arg(long, requires = "check")]
        replace: bool,
        /// Seed of its simulations.
        #[arg(long, default_value_t = examine::SEED)]
        seed: u64,
        /// Print one JSON object.
        #[arg(long)]
        json: bool,
    },
    /// Seal the answers of a blind test before it begins.
    Seal {
        /// One `name,finish` per line.
        answers: PathBuf,
        /// A secret text that goes into the seal.
        #[arg(long)]
        salt: String,
        /// Print one JSON object.
        #[arg(long)]
        json: bool,
    },
    /// Score a blind test after it.
    Score {
        /// One `name,finish` per line.
        answers: PathBuf,
        /// The secret text.
        #[arg(long)]
        salt: String,
        /// The seal that was published.
        #[arg(long)]
        sealed: String,
        /// Weighings: NAME=FILE with the output of `rubstone weigh --json`.
        #[arg(required = true, value_name = "NAME=WEIGH.json")]
        weighings: Vec<String>,
        /// Print one JSON object.
        #[arg(long)]
        json: bool,
    },
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone form face.x3p\n  rubstone form face.tif --pitch-um 5 --unit um\n  rubstone form slab.ply --unit mm --json\n\nNo unit is ever guessed: X3P states its own, every other format needs --unit."
)]
pub struct Form {
    /// Height maps (X3P, TIFF, text grid) or meshes (PLY, OBJ, STL, glTF).
    #[arg(required_unless_present = "forget")]
    pub files: Vec<PathBuf>,
    /// Forget what was measured on this file, by name or SHA-256, in the examination of --keep.
    #[arg(long, value_name = "FILE", requires = "keep", conflicts_with = "files")]
    pub forget: Option<String>,
    /// Unit of a mesh's coordinates or of a map's heights: m, cm, mm, um, nm or in.
    #[arg(long)]
    pub unit: Option<String>,
    /// Step between neighbouring heights, µm.
    #[arg(long, requires = "unit")]
    pub pitch_um: Option<f64>,
    /// Height of one count of a 16-bit map, in --unit.
    #[arg(long, requires = "unit")]
    pub height_per_count: Option<f64>,
    /// Standard uncertainty of one height, µm.
    #[arg(long, default_value_t = 0.0)]
    pub u_height_um: f64,
    /// Standard uncertainty of a mesh's scale, as a share.
    #[arg(long, default_value_t = 0.0)]
    pub scale_u: f64,
    /// Waves shorter than this are taken out before the texture, µm (S-filter).
    #[arg(long)]
    pub s_filter_um: Option<f64>,
    /// Waves longer than this are taken out before texture and scratches, µm (L-filter).
    #[arg(long)]
    pub l_filter_um: Option<f64>,
    /// What to measure: flatness, texture, scratches, symmetry, removed, groove or fillet; once for each. Without any, what
    /// asks for nothing more.
    #[arg(long, value_name = "PART")]
    pub measure: Vec<String>,
    /// A corner of the region that flatness and removed stone are measured in, mm; three or more, in order round it.
    #[arg(long, value_name = "X,Y[,Z]", allow_hyphen_values = true)]
    pub region_mm: Vec<String>,
    /// A point of the path along a groove or fillet, mm; once for each, in order. On a height map from its top left, y down.
    #[arg(long, value_name = "X,Y[,Z]", allow_hyphen_values = true)]
    pub path_mm: Vec<String>,
    /// How far to either side of the path a section reaches, mm.
    #[arg(long)]
    pub reach_mm: Option<f64>,
    /// Distance between sections along the path, mm.
    #[arg(long)]
    pub spacing_mm: Option<f64>,
    /// A point of the raw block's face, mm; three of them.
    #[arg(long, value_name = "X,Y,Z", allow_hyphen_values = true, conflicts_with = "block_raised_mm")]
    pub block_point_mm: Vec<String>,
    /// On a height map: how far its plane is raised to be the raw block's face, mm.
    #[arg(long, allow_hyphen_values = true)]
    pub block_raised_mm: Option<f64>,
    /// Standard uncertainty of that face's height, mm.
    #[arg(long, default_value_t = 0.0)]
    pub block_u_mm: f64,
    /// Symmetry on a photograph in place of a map or mesh: two landmarks that should mirror each other, px; once for each
    /// pair, two or more.
    #[arg(long, value_name = "NAME,X1,Y1,X2,Y2", allow_hyphen_values = true)]
    pub pair: Vec<String>,
    /// Width and height of a known rectangle in the landmarks' plane, mm.
    #[arg(long, num_args = 2, value_names = ["W", "H"], requires = "corner_px")]
    pub rectangle_mm: Option<Vec<f64>>,
    /// A corner of that rectangle, px; four of them: top left, top right, bottom right, bottom left.
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true, requires = "rectangle_mm")]
    pub corner_px: Vec<String>,
    /// Standard uncertainty of one coordinate that was read off the photograph, px.
    #[arg(long, default_value_t = 1.0)]
    pub u_click_px: f64,
    /// How far landmarks may lie before or behind the rectangle's plane, mm.
    #[arg(long, requires = "distance_mm")]
    pub relief_mm: Option<f64>,
    /// Distance of the camera, mm.
    #[arg(long, requires = "relief_mm")]
    pub distance_mm: Option<f64>,
    /// Keep what is measured in this examination, for its report.
    #[arg(long, value_name = "EXAMINATION")]
    pub keep: Option<PathBuf>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  rubstone stone --rock diorite --tool \"annealed copper\" --abrasive \"quartz sand\"\n  rubstone stone --width-um 8 25 --panel P400=panel-3 --panel P120=panel-4 --panel P60=panel-5\n  rubstone stone --area-cm2 400 --rate-cm2-per-h 20 50\n\nWithout options it lists the rocks, tools and abrasives known."
)]
pub struct Stone {
    /// Rock, by name.
    #[arg(long)]
    pub rock: Option<String>,
    /// A mineral that was determined, with its share, in place of a rock; may be given more than once.
    #[arg(long = "mineral", value_name = "NAME=SHARE", conflicts_with = "rock")]
    pub minerals: Vec<String>,
    /// Tool, by name; without it every tool is answered.
    #[arg(long)]
    pub tool: Option<String>,
    /// Loose abrasive used with the tool, by name.
    #[arg(long)]
    pub abrasive: Option<String>,
    /// Smallest and largest width of scratches, µm.
    #[arg(long, num_args = 2, value_names = ["LOW", "HIGH"])]
    pub width_um: Option<Vec<f64>>,
    /// Smallest and largest ratio of scratch width to grain size, from panels of your own; else a stated assumption.
    #[arg(long, num_args = 2, value_names = ["LOW", "HIGH"])]
    pub ratio: Option<Vec<f64>>,
    /// A grade of grit with its scale (P400, F220, CAMI 400, "JIS 1000", D64, "200/230 mesh"): its grains, and the nearest grades of other scales.
    #[arg(long)]
    pub grit: Option<String>,
    /// Volume taken away, cm³, for the hours it takes.
    #[arg(long, requires = "rate_cm3_per_h")]
    pub volume_cm3: Option<f64>,
    /// Standard uncertainty of that volume, cm³.
    #[arg(long, default_value_t = 0.0, requires = "volume_cm3")]
    pub u_volume_cm3: f64,
    /// Slowest and fastest removal rate, cm³ per hour, given by you or measured on a panel; none is published.
    #[arg(long, num_args = 2, value_names = ["LOW", "HIGH"], requires = "volume_cm3")]
    pub rate_cm3_per_h: Option<Vec<f64>>,
    /// Area of a polished face, cm², for the hours it takes.
    #[arg(long, requires = "rate_cm2_per_h")]
    pub area_cm2: Option<f64>,
    /// Standard uncertainty of that area, cm².
    #[arg(long, default_value_t = 0.0, requires = "area_cm2")]
    pub u_area_cm2: f64,
    /// Slowest and fastest polishing, cm² per hour, given by you or measured on a panel; none is published.
    #[arg(long, num_args = 2, value_names = ["LOW", "HIGH"], requires = "area_cm2")]
    pub rate_cm2_per_h: Option<Vec<f64>>,
    /// Least and greatest load on a tool, N: what laws of wear would say, to the order of magnitude.
    #[arg(long, num_args = 2, value_names = ["LOW", "HIGH"], requires = "speed_m_per_s")]
    pub load_n: Option<Vec<f64>>,
    /// Least and greatest speed of that tool over the stone, m/s.
    #[arg(long, num_args = 2, value_names = ["LOW", "HIGH"], requires = "load_n")]
    pub speed_m_per_s: Option<Vec<f64>>,
    /// A panel of your own that was finished with a known grit, for the ratio of scratch width to grain: its examination or
    /// the output of `rubstone measure --json`; three or more. With --keep, panels kept there need not be given.
    #[arg(long = "panel", value_name = "GRADE=INPUT", conflicts_with = "ratio")]
    pub panels: Vec<String>,
    /// Keep question and answer in this examination, for its report.
    #[arg(long, value_name = "EXAMINATION")]
    pub keep: Option<PathBuf>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  rubstone bag slab /media/archive/slab-2026 --license \"CC BY 4.0\"")]
pub struct Bag {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Folder of the package; must not exist. Without it: beside the examination, its name with "-package".
    pub dest: Option<PathBuf>,
    /// Licence under which others may use the package, in words or as an address.
    #[arg(long)]
    pub license: Option<String>,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  rubstone status slab --check")]
pub struct Status {
    /// The examination's folder.
    pub examination: PathBuf,
    /// Read every original and check it against its SHA-256.
    #[arg(long)]
    pub check: bool,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  rubstone sample sample-examination")]
pub struct Sample {
    /// The new folder.
    pub examination: PathBuf,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}

#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  rubstone render test-set --finish rotating-pad --finish none --count 5 --seed 7\n\nEvery picture NAME.png has its truth in NAME.json (rubstone.truth/1)."
)]
pub struct Render {
    /// Folder to write to; made if it is not there.
    pub dest: PathBuf,
    /// Finish: rotating-pad, orbital-pad, oscillating-pad, guided-rub, free-hand, turning, loose-abrasive, or none; may be
    /// given several times.
    #[arg(long, default_value = "free-hand")]
    pub finish: Vec<String>,
    /// Pictures of each finish.
    #[arg(long, default_value_t = 1)]
    pub count: u32,
    /// Seed of the first picture; each further one has the next.
    #[arg(long, default_value_t = examine::SEED)]
    pub seed: u64,
    /// Stone: diorite, granite, dolerite, marble, quartzite or gneiss.
    #[arg(long, default_value = "diorite")]
    pub stone: String,
    /// Instrument: stand, hand-held, ring-held or coaxial.
    #[arg(long, default_value = "hand-held")]
    pub instrument: String,
    /// Width of the pictures, px.
    #[arg(long, default_value_t = 1600)]
    pub width: u32,
    /// Height of the pictures, px.
    #[arg(long, default_value_t = 1200)]
    pub height: u32,
    /// Micrometres per pixel.
    #[arg(long, default_value_t = 2.5)]
    pub um_per_px: f64,
    /// Mean size of a grain, µm.
    #[arg(long, default_value_t = 350.0)]
    pub grain_um: f64,
    /// Standard deviation of the blur, px; that of the instrument if not given.
    #[arg(long)]
    pub blur_px: Option<f64>,
    /// Where one-sided light comes from, degrees.
    #[arg(long, default_value_t = 35.0, allow_negative_numbers = true)]
    pub light_azimuth: f64,
    /// Print one JSON object.
    #[arg(long)]
    pub json: bool,
}
