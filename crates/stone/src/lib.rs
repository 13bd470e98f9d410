//! Minerals, rocks, abrasives and tool materials, each value with its source.
//!
//! Invariant: every number of a table carries where it comes from and whether that source was seen; nothing here measures.

pub mod cautions;
pub mod grit;
mod hardness;
mod materials;
mod minerals;
mod rocks;
mod scratching;
mod value;
mod width;
mod work;

pub use hardness::{equivalent_quartz_percent, knoop, quartz_factor, rock_vickers, vickers};
pub use materials::{ABRASIVES, Material, RULES_OF_THUMB, RuleOfThumb, TOOLS, abrasive, tool};
pub use minerals::{MINERALS, Mineral, mineral};
pub use rocks::{ROCKS, Rock, RockPart, rock};
pub use scratching::{MineralAnswer, Scratching, Verdict, probability, what_could_scratch};
pub use value::{Range, Source, Status};
pub use width::{FEWEST_PANELS, GrainRange, WidthRule, WidthRuleError};
pub use work::{
    ARCHARD_ABRASIVE, ARCHARD_THREE_BODY, Hours, LAWS, Law, Motion, PRESTON_LAPPING, PRESTON_POLISHING, Rate,
    WorkError, archard_mm3, area_times_depth_cm3, cone_wear_coefficient, hours, mass_kg, preston_um_per_h,
    sphere_groove_width,
};
