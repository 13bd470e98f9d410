//! Height maps and meshes: flatness, symmetry, radii, grooves, volume, areal texture.
//!
//! Invariant: lengths are millimetres on meshes and micrometres on height maps, never "units"; knows nothing of
//! examinations, pictures of the object or reports, and draws nothing but bare rasters of numbers.

mod bvh;
mod circle;
mod deviation;
mod error;
mod face;
mod fillet;
mod flatness;
mod geometry;
mod grey;
mod groove;
mod height_map;
mod hull;
mod landmarks;
mod mesh;
mod minimum_zone;
mod mirror_search;
mod profile;
mod read;
mod row;
mod scratch;
mod section;
mod symmetry;
pub mod texture;
mod unit;
mod volume;

pub use bvh::Bvh;
pub use circle::{Circle, fit_circle};
pub use deviation::{Raster, deviation_image, mesh_view};
pub use error::{MeasureError, ReadError};
pub use face::face_corners;
pub use fillet::{Fillet, FilletOptions, FilletStation, fillet};
pub use flatness::{Flatness, Zone, flatness, orthogonal_plane, vertical_plane, zone};
pub use geometry::{Plane, Polygon};
pub use grey::{GreyPlane, grey_plane};
pub use groove::{Chip, Edge, Groove, GrooveOptions, GrooveStation, groove, groove_on_mesh};
pub use height_map::HeightMap;
pub use hull::convex_hull;
pub use landmarks::{
    LandmarkOptions, LandmarkSymmetry, Pair, Rectification, Rectified, landmark_symmetry, rectification,
};
pub use mesh::{Mesh, MeshCondition};
pub use minimum_zone::{MinimumZone, chebyshev_plane, minimum_zone};
pub use profile::{ProfileShape, ProfileWall, profile_parameters, profile_shape};
pub use read::{
    HeightFormat, HeightRead, Limits, MeshFormat, MeshRead, Pitch, open_heights, open_mesh, read_heights,
    read_mesh,
};
pub use row::{Row, Rows};
pub use scratch::{ScratchProfile, scratch_profile};
pub use section::{SectionLine, SectionPoint, section};
pub use symmetry::{MirrorPlane, Symmetry, SymmetryOptions, mirror_symmetry};
pub use unit::LengthUnit;
pub use volume::{BlockFace, Removed, RemovedPart, removed_from_hull, removed_from_map, removed_from_mesh};
