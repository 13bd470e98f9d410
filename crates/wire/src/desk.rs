//! Forms of the workbench's API: what the page is told, and what it may ask for.
//!
//! Every change answers with the whole [`ExaminationForm`], so that a page never has to guess what its change did.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::plan::PlanQuestionForm;
use crate::stones::StoneQuestionForm;

/// A value with its standard uncertainty, in the unit the field's name states.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ValueForm {
    /// The estimate.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// What the page needs to begin: whether an examination is open.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DeskForm {
    /// Version of the program.
    pub software: String,
    /// The open examination, if any.
    pub examination: Option<ExaminationForm>,
    /// Folders opened before on this machine, newest first.
    pub recent: Vec<String>,
    /// Where new examinations are suggested.
    pub home: String,
}

/// One examination as the page shows it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ExaminationForm {
    /// Its folder.
    pub folder: String,
    /// Counts every change; a page with a lower number is out of date.
    pub revision: i64,
    /// What is examined.
    pub object: ObjectForm,
    /// Stations in the order they were made.
    pub stations: Vec<StationForm>,
    /// Instruments.
    pub instruments: Vec<InstrumentForm>,
    /// Captures in the order they were added.
    pub captures: Vec<CaptureForm>,
    /// What is missing before the next step, most pressing first; the first is shown at the top of every room.
    pub next_steps: Vec<NextStep>,
    /// What an interrupted run had left, and what was done about it.
    pub unfinished: Vec<String>,
    /// Rocks that can be chosen.
    pub rocks: Vec<String>,
}

/// The object.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectForm {
    /// Name, as the examiner calls it.
    pub name: String,
    /// Rock from the list, or empty.
    pub rock: String,
    /// Where it is, as free text.
    pub place: String,
    /// Conditions of access, light and permission, as free text.
    pub conditions: String,
    /// Anything else.
    pub note: String,
}

/// A station to be made or changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StationText {
    /// Name.
    pub name: String,
    /// Note.
    pub note: String,
}

/// One place on the object.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StationForm {
    /// Number.
    pub id: i64,
    /// Name.
    pub name: String,
    /// Note.
    pub note: String,
    /// Where it is pinned on an overview picture.
    pub pin: Option<PinForm>,
    /// Number of its captures.
    pub captures: usize,
}

/// A place on an overview picture.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PinForm {
    /// Number of the overview capture.
    pub capture: i64,
    /// From its left edge, as a share of its width, 0 to 1.
    pub x: f64,
    /// From its top edge, as a share of its height, 0 to 1.
    pub y: f64,
}

/// Where light came from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum LightForm {
    /// From one side.
    Azimuth {
        /// Axis it came along, degrees 0–180, counter-clockwise as seen from +x.
        azimuth_deg: f64,
    },
    /// A ring of light.
    Ring,
    /// Through the lens.
    Coaxial,
    /// Not recorded.
    Unknown,
}

/// A scale and where it came from.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ScaleForm {
    /// Micrometres per pixel.
    pub um_per_px: ValueForm,
    /// Where it came from, in words.
    pub source: String,
}

/// An instrument to be made or changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InstrumentText {
    /// Name of the instrument at one setting.
    pub name: String,
    /// `camera` or `microscope`.
    pub kind: String,
    /// Light of its captures unless they say otherwise.
    pub light: LightForm,
    /// As printed on it; recorded, never used as a scale.
    pub nominal_magnification: String,
    /// Note.
    pub note: String,
}

/// A camera or microscope at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct InstrumentForm {
    /// Number.
    pub id: i64,
    /// Name of the instrument at one setting.
    pub name: String,
    /// `camera` or `microscope`.
    pub kind: String,
    /// Light of its captures unless they say otherwise.
    pub light: LightForm,
    /// As printed on it; recorded, never used as a scale.
    pub nominal_magnification: String,
    /// Note.
    pub note: String,
    /// Scale of its captures unless they have their own.
    pub scale: Option<ScaleForm>,
}

/// One picture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CaptureForm {
    /// Number.
    pub id: i64,
    /// `overview`, `micrograph` or `graduation`.
    pub kind: String,
    /// Station it was taken at.
    pub station: Option<i64>,
    /// Instrument it was taken with.
    pub instrument: Option<i64>,
    /// Its own file name.
    pub file_name: String,
    /// SHA-256 of the untouched original.
    pub sha256: String,
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// When it was taken, as the camera wrote it.
    pub taken_at: Option<String>,
    /// Scale in force: its own, or its instrument's.
    pub scale: Option<ScaleForm>,
    /// Whether the scale is its own.
    pub scale_is_own: bool,
    /// Light in force.
    pub light: LightForm,
    /// Set aside: kept, but not counted.
    pub set_aside: bool,
    /// Note.
    pub note: String,
    /// `usable`, `usable with care`, `not usable`; absent before measuring.
    pub verdict: Option<String>,
    /// Why, in words.
    pub reasons: Vec<String>,
    /// Number of accepted traces; absent before measuring.
    pub traces: Option<usize>,
    /// Whether the measurement is of an older version or other settings.
    pub out_of_date: bool,
    /// Largest radius that could be told from straight, in words with unit; absent before measuring.
    pub reach: Option<String>,
}

/// A capture's changeable part; absent fields stay as they are.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CaptureChange {
    /// `overview`, `micrograph` or `graduation`.
    pub kind: Option<String>,
    /// Station, 0 for none.
    pub station: Option<i64>,
    /// Instrument, 0 for none.
    pub instrument: Option<i64>,
    /// Light of this capture alone.
    pub light: Option<LightForm>,
    /// Set aside or taken back.
    pub set_aside: Option<bool>,
    /// Note.
    pub note: Option<String>,
}

/// What to do next, and where.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NextStep {
    /// Room to do it in: `object`, `captures`, `tracing`, `lay`, `weighing`, `visit`, `form`, `stone`, `report`.
    pub room: String,
    /// What, in one sentence.
    pub text: String,
    /// Whether measuring cannot start without it.
    pub needed: bool,
}

/// How a scale is set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "from", rename_all = "snake_case")]
pub enum ScaleRequest {
    /// From a photographed graduation, found automatically on this capture.
    Graduation {
        /// Capture that shows the graduation.
        capture: i64,
        /// Micrometres from one line to the next.
        um_per_tick: ValueForm,
    },
    /// From two points on this capture and their distance.
    TwoPoints {
        /// Capture the points are on.
        capture: i64,
        /// First point, px.
        a: [f64; 2],
        /// Second point, px.
        b: [f64; 2],
        /// Their distance on the surface, micrometres.
        distance_um: ValueForm,
    },
    /// Typed.
    Typed {
        /// Micrometres per pixel.
        um_per_px: ValueForm,
    },
}

/// Sets the scale of an instrument (all its captures) or of one capture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SetScale {
    /// Instrument whose setting it is, or
    pub instrument: Option<i64>,
    /// the one capture it is for.
    pub capture: Option<i64>,
    /// Where it comes from.
    pub scale: ScaleRequest,
}

/// What an added picture is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AddQuery {
    /// `overview`, `micrograph` or `graduation`.
    pub kind: String,
    /// Station it was taken at.
    pub station: Option<i64>,
    /// Instrument it was taken with.
    pub instrument: Option<i64>,
}

/// An upload.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct UploadForm {
    /// The picture, with its own file name.
    #[schema(value_type = String, format = Binary)]
    pub file: Vec<u8>,
}

/// Whose reading is meant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct PersonQuery {
    /// Their name; empty shows the traces as found.
    pub person: String,
}

/// What became of each file that was dropped.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AddedForm {
    /// One line per file.
    pub files: Vec<AddedFile>,
    /// The examination afterwards.
    pub examination: ExaminationForm,
}

/// What became of one file.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AddedFile {
    /// Its name.
    pub file_name: String,
    /// `added`, `known` (the same picture is there already) or `failed`.
    pub outcome: String,
    /// In words: notes, or what is wrong and what to do.
    pub message: String,
    /// Number of the capture.
    pub capture: Option<i64>,
}

/// The traces of one capture in one person's reading.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingForm {
    /// Capture.
    pub capture: i64,
    /// Whose reading.
    pub person: String,
    /// Everyone who has read this capture.
    pub people: Vec<String>,
    /// Number of steps that can be undone.
    pub undo: usize,
    /// Number of steps that can be redone.
    pub redo: usize,
    /// Why no traces are reported for this picture, if none are.
    pub refused: Option<String>,
    /// Directions this light could not show, in words.
    pub hidden: Option<String>,
    /// All traces, found and drawn.
    pub traces: Vec<TraceForm>,
}

/// One trace as the page shows it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TraceForm {
    /// Number, unique within the reading.
    pub id: u32,
    /// Axis of the groove, px.
    pub points: Vec<[f64; 2]>,
    /// `accepted`, `suspect` or `rejected`; only accepted traces count.
    pub state: String,
    /// Drawn, cut or joined by hand.
    pub by_hand: bool,
    /// Why it might not be a scratch: `lamella`, `grain_edge`, `compression`, `sensor`, `blur`, or a person's word.
    pub suspect: Option<String>,
    /// Length with unit, as printed.
    pub length: String,
    /// Width with uncertainty and unit, as printed.
    pub width: String,
    /// Direction with uncertainty, as printed.
    pub direction: String,
    /// Bow with uncertainty and unit, as printed.
    pub bow: String,
    /// Length, px, for sorting.
    pub length_px: f64,
    /// Direction, degrees, for sorting.
    pub direction_deg: f64,
    /// Contrast-to-noise ratio.
    pub contrast: f64,
    /// Ends that lie in the picture, 0 to 2.
    pub ends_inside: u8,
}

/// One step of a reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "step", rename_all = "snake_case")]
pub enum ReadingRequest {
    /// These are scratches.
    Accept {
        /// Traces.
        traces: Vec<u32>,
    },
    /// These are not.
    Reject {
        /// Traces.
        traces: Vec<u32>,
    },
    /// This may be something else.
    Suspect {
        /// Traces.
        traces: Vec<u32>,
        /// Why; empty takes the suspicion back.
        reason: String,
    },
    /// Here is one the finder missed.
    Draw {
        /// Its points, px, at least two.
        points: Vec<[f64; 2]>,
    },
    /// These are one scratch.
    Join {
        /// Traces, at least two.
        traces: Vec<u32>,
    },
    /// This is two scratches.
    Cut {
        /// Trace.
        trace: u32,
        /// Where, px.
        at: [f64; 2],
    },
    /// Takes the last step back.
    Undo,
    /// Does it again.
    Redo,
}

/// How far two people's readings of one capture agree.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AgreementForm {
    /// First person.
    pub first: String,
    /// Second person.
    pub second: String,
    /// Traces both accept.
    pub both: usize,
    /// Traces the first alone accepts.
    pub first_only: usize,
    /// Traces the second alone accepts.
    pub second_only: usize,
    /// In words, with the share and its interval.
    pub sentence: String,
}

/// A page of results, in the words and figures of the report.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PageForm {
    /// Heading.
    pub title: String,
    /// What stands under it, in order.
    pub blocks: Vec<BlockForm>,
    /// Sub-headings with theirs.
    #[schema(no_recursion)]
    pub sections: Vec<PageForm>,
}

/// One piece of a page.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum BlockForm {
    /// Running text.
    Paragraph {
        /// The text.
        text: String,
    },
    /// Separate sentences.
    List {
        /// The sentences.
        items: Vec<String>,
    },
    /// Names and values.
    Facts {
        /// Name and value, one pair a line.
        facts: Vec<[String; 2]>,
    },
    /// A table.
    Table {
        /// Caption.
        caption: String,
        /// Headings.
        headings: Vec<String>,
        /// Cells, row by row.
        rows: Vec<Vec<String>>,
    },
    /// Figures side by side as room allows.
    Figures {
        /// The figures.
        figures: Vec<FigureForm>,
    },
    /// Something that could hurt someone, the object or a conclusion.
    Caution {
        /// The text.
        text: String,
    },
}

/// A figure that the server draws.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FigureForm {
    /// Caption.
    pub caption: String,
    /// What it shows, for those who do not see it.
    pub alternative_text: String,
    /// The drawing, SVG.
    pub svg: String,
    /// Whether it needs the whole width to be read.
    pub wide: bool,
}

/// What was measured on one height map or mesh.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MeasuredFormForm {
    /// SHA-256 of the file.
    pub sha256: String,
    /// Its name.
    pub file: String,
    /// What was measured, in the words and figures of the report.
    pub page: PageForm,
}

/// What can be asked about the object's stone, and what was answered.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StoneRoomForm {
    /// Rocks that can be chosen.
    pub rocks: Vec<String>,
    /// Tools that can be chosen.
    pub tools: Vec<String>,
    /// Loose abrasives that can be chosen.
    pub abrasives: Vec<String>,
    /// What was asked last, or a question to begin with from what was measured.
    pub question: StoneQuestionForm,
    /// The answer kept, if there is one.
    pub answer: Option<PageForm>,
    /// What the report says of the object's stone; absent where neither rock nor widths are known.
    pub chapter: Option<PageForm>,
    /// Grit scales, a worked example and exposure limits, for looking up.
    pub reference: PageForm,
}

/// What a height map or mesh does not say of itself, and what is to be measured on it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct FormAsked {
    /// What to measure: `flatness`, `texture`, `scratches`, `symmetry`, `removed`, `groove`, `fillet`; empty for what asks
    /// for nothing more.
    pub parts: Vec<String>,
    /// Unit of a mesh's coordinates, or of a map's heights: m, cm, mm, um, nm or in; never guessed.
    pub unit: Option<String>,
    /// Step between neighbouring heights, µm, where the file does not state it.
    pub pitch_um: Option<f64>,
    /// Height of one count of a 16-bit map, in `unit`.
    pub height_per_count: Option<f64>,
    /// Standard uncertainty of one height, µm; 0 if unknown.
    pub u_height_um: f64,
    /// Standard uncertainty of a mesh's scale, as a share.
    pub scale_u: f64,
    /// Waves shorter than this are taken out before the texture, µm.
    pub s_filter_um: Option<f64>,
    /// Waves longer than this are taken out before texture and scratches, µm.
    pub l_filter_um: Option<f64>,
    /// Path along a groove or a fillet, mm, two points or more.
    pub path_mm: Vec<[f64; 3]>,
    /// How far to either side of the path a section reaches, mm.
    pub reach_mm: Option<f64>,
    /// Distance between sections along the path, mm.
    pub spacing_mm: Option<f64>,
    /// Three points of the raw block's face, mm; or
    pub block_points_mm: Option<[[f64; 3]; 3]>,
    /// on a height map, how far its least-squares plane is raised to be that face, mm.
    pub block_raised_mm: Option<f64>,
    /// Standard uncertainty of that face's height, mm.
    pub block_u_mm: f64,
}

/// A height map or mesh to be measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FormUpload {
    /// What is asked, as JSON; comes before the file.
    #[schema(value_type = FormAsked)]
    pub asked: String,
    /// The file, with its own name.
    #[schema(value_type = String, format = Binary)]
    pub file: Vec<u8>,
}

impl FormAsked {
    /// Reads what came beside an upload.
    ///
    /// # Errors
    /// In words, what is wrong with the text.
    pub fn read(text: &str) -> Result<Self, String> {
        serde_json::from_str(text).map_err(|e| format!("'asked' is not of the form it should have: {e}"))
    }
}

/// Work to be started.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "work", rename_all = "snake_case")]
pub enum JobRequest {
    /// Measures every capture that needs it.
    Measure,
    /// Weighs the finishes.
    Weigh {
        /// Finishes to consider, by name; empty for all.
        finishes: Vec<String>,
        /// Seed of the simulations.
        seed: u64,
        /// Prior probabilities that were typed; empty for none.
        priors: Vec<PriorForm>,
    },
    /// Plans the next visit.
    Plan {
        /// What is to be planned.
        question: PlanQuestionForm,
    },
    /// Writes the report.
    Report {
        /// Chapters left out.
        without: Vec<String>,
    },
    /// Writes the archive package.
    Package {
        /// Folder to write it to; must not exist.
        folder: String,
    },
    /// Writes the sample examination and opens it.
    Sample {
        /// Folder to write it to.
        folder: String,
    },
}

/// A prior probability that was typed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PriorForm {
    /// Finish, by name.
    pub finish: String,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// A way of finishing that is modelled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ModelForm {
    /// Name, as in results and on the command line.
    pub name: String,
    /// Name for people.
    pub title: String,
    /// What moves how.
    pub sentence: String,
}

/// The weighing as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WeighingForm {
    /// Why the examination cannot be weighed as it stands, if it cannot.
    pub cannot: Option<String>,
    /// The finishes that are modelled.
    pub models: Vec<ModelForm>,
    /// Finishes considered last, or all.
    pub finishes: Vec<String>,
    /// Seed used last, or the usual one.
    pub seed: u64,
    /// Priors typed last; empty for none.
    pub priors: Vec<PriorForm>,
    /// The answer kept, if there is one.
    pub page: Option<PageForm>,
}

/// The plan of the next visit as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VisitForm {
    /// The finishes that are modelled.
    pub models: Vec<ModelForm>,
    /// Groups that the weighing cannot tell apart: what a visit could settle.
    pub open: Vec<Vec<String>>,
    /// What was asked last, or a question to begin with from the instruments of the examination.
    pub question: PlanQuestionForm,
    /// The answer kept, if there is one.
    pub page: Option<PageForm>,
    /// Whether there is a field sheet.
    pub sheet: bool,
}

/// Work in progress or ended.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct JobForm {
    /// Number.
    pub id: u64,
    /// What it does, in words.
    pub title: String,
    /// What it is at now.
    pub at: String,
    /// Share done, 0 to 1.
    pub done: f64,
    /// `running`, `done`, `failed` or `cancelled`.
    pub state: String,
    /// Failures of single inputs, each with what to do; the rest was done.
    pub problems: Vec<String>,
    /// What came of it, in words.
    pub outcome: Option<String>,
}

/// Opens an examination, or begins one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenRequest {
    /// Its folder.
    pub folder: String,
    /// Begin a new one there.
    pub begin: bool,
}

/// What went wrong, in words.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Problem {
    /// What is wrong and what to do.
    pub message: String,
}

/// Image information of a capture (IIIF Image API 3.0, section 5).
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct ImageInfoForm {
    /// JSON-LD context.
    #[serde(rename = "@context")]
    pub context: String,
    /// Address of the image service.
    pub id: String,
    /// Type of the service.
    #[serde(rename = "type")]
    pub kind: String,
    /// Protocol.
    pub protocol: String,
    /// Compliance level.
    pub profile: String,
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    /// Largest side delivered, px.
    pub max_width: u32,
    /// Whole pictures that are quick to deliver.
    pub sizes: Vec<SizeForm>,
    /// Tiles that are quick to deliver.
    pub tiles: Vec<TilesForm>,
    /// Qualities beyond the default.
    pub extra_qualities: Vec<String>,
    /// Formats beyond JPEG.
    pub extra_formats: Vec<String>,
}

/// Size of a whole picture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SizeForm {
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
}

/// A set of tiles.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct TilesForm {
    /// Side of the square tiles, px.
    pub width: u32,
    /// Reductions offered.
    pub scale_factors: Vec<u32>,
}

impl ImageInfoForm {
    /// The document for a service at the address `id`.
    #[must_use]
    pub fn new(info: &picture::iiif::ImageInfo, id: String) -> Self {
        Self {
            context: info.context.to_owned(),
            id,
            kind: info.kind.to_owned(),
            protocol: info.protocol.to_owned(),
            profile: info.profile.to_owned(),
            width: info.width,
            height: info.height,
            max_width: info.max_width,
            sizes: info
                .sizes
                .iter()
                .map(|[width, height]| SizeForm { width: *width, height: *height })
                .collect(),
            tiles: vec![TilesForm { width: info.tile_width, scale_factors: info.scale_factors.clone() }],
            extra_qualities: info.extra_qualities.iter().map(|word| (*word).to_owned()).collect(),
            extra_formats: info.extra_formats.iter().map(|word| (*word).to_owned()).collect(),
        }
    }
}

/// What the event stream says: enough for a page to know whether it is out of date.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EventForm {
    /// Revision of the open examination; absent where none is open.
    pub revision: Option<i64>,
    /// All work.
    pub jobs: Vec<JobForm>,
}

/// How the report is wanted.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, IntoParams)]
#[serde(default)]
#[into_params(parameter_in = Query)]
pub struct ReportQuery {
    /// Chapters left out, parted by commas.
    pub without: String,
}
