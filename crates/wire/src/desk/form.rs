//! The form room.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::pages::PageForm;

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
    /// Corners of the region that flatness and removed stone are measured in, mm, in order round it; empty for everything.
    pub region_mm: Vec<[f64; 3]>,
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

/// Pairs of landmarks on a photograph, and what is known of the scene.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LandmarksAsked {
    /// The pairs, two or more.
    pub pairs: Vec<LandmarkPair>,
    /// Width and height of a rectangle in the landmarks' plane, mm.
    pub rectangle_mm: Option<[f64; 2]>,
    /// Its corners, px: top left, top right, bottom right, bottom left.
    pub corners_px: Option<[[f64; 2]; 4]>,
    /// Standard uncertainty of one clicked coordinate, px.
    pub u_click_px: f64,
    /// How far landmarks may lie before or behind the rectangle's plane, mm.
    pub relief_mm: Option<f64>,
    /// Distance of the camera, mm.
    pub distance_mm: Option<f64>,
}

/// Two landmarks that should be each other's mirror image, px.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LandmarkPair {
    /// What they mark.
    pub name: String,
    /// The one left of the axis.
    pub left_px: [f64; 2],
    /// The one right of it; the same point for one on the axis.
    pub right_px: [f64; 2],
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
