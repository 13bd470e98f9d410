//! Image information of a capture (IIIF Image API 3.0).

use serde::Serialize;
use utoipa::ToSchema;

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
