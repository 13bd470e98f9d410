//! `rubstone.stone/1`: what could scratch what, and which grains could leave scratches of a width.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Name of the form.
pub const SCHEMA: &str = "rubstone.stone/1";

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct StoneForm {
    /// [`SCHEMA`].
    pub schema: String,
    /// The rock asked about.
    pub rock: Option<String>,
    /// Where its minerals' shares come from.
    pub rock_source: Option<String>,
    /// One entry per tool; empty without a rock.
    pub tools: Vec<ToolForm>,
    /// Grains that could leave scratches of the widths given.
    pub grains: Option<GrainsForm>,
    /// The grit asked about, on every scale.
    pub grit: Option<GritForm>,
    /// Hours for what was taken away.
    pub work: Option<WorkForm>,
    /// Hours for a face that was polished.
    #[serde(default)]
    pub face: Option<FaceForm>,
    /// What laws of wear would say of a tool pressed and moved like this.
    #[serde(default)]
    pub laws: Vec<LawForm>,
    /// Cautions for whoever works stone.
    pub cautions: Vec<String>,
}

/// What one tool could scratch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ToolForm {
    /// Its name.
    pub tool: String,
    /// The loose abrasive used with it.
    pub abrasive: Option<String>,
    /// Its hardness, kgf/mm², lowest.
    pub hardness_low: f64,
    /// Highest.
    pub hardness_high: f64,
    /// Where that comes from, and whether it was seen.
    pub hardness_source: String,
    /// Mineral by mineral.
    pub minerals: Vec<MineralForm>,
    /// In words.
    pub sentences: Vec<String>,
}

/// One mineral of the rock.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MineralForm {
    /// Its name.
    pub mineral: String,
    /// Its share of the rock, lowest, percent.
    pub share_low_percent: f64,
    /// Highest, percent.
    pub share_high_percent: f64,
    /// Hardness on Mohs's scale, lowest.
    pub mohs_low: f64,
    /// Highest.
    pub mohs_high: f64,
    /// Vickers hardness, kgf/mm², lowest.
    pub vickers_low: f64,
    /// Highest.
    pub vickers_high: f64,
    /// Where the Vickers hardness comes from, and whether it was seen.
    pub source: String,
    /// Probability, from the ranges, that the tool alone scratches it.
    pub by_tool: f64,
    /// Probability that the abrasive does.
    pub by_abrasive: Option<f64>,
    /// `clearly`, `partly` or `hardly`.
    pub verdict: String,
}

/// Grains that could leave scratches of some widths.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GrainsForm {
    /// Smallest grain, µm.
    pub low_um: f64,
    /// Largest grain, µm.
    pub high_um: f64,
    /// The grades of each scale that lie in the range; scales are never mixed.
    pub grades: Vec<GradesForm>,
    /// The assumption this rests on.
    pub assumption: String,
}

/// Grades of one scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GradesForm {
    /// The scale.
    pub scale: String,
    /// Their numbers, coarse to fine.
    pub numbers: Vec<u32>,
    /// Where the sizes come from, and whether that was seen.
    pub source: String,
}

/// A grade of grit beside the other scales.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct GritForm {
    /// The grade, with its scale.
    pub grade: String,
    /// Smallest mean size of its grains, µm.
    pub low_um: f64,
    /// Largest mean size, µm.
    pub high_um: f64,
    /// Where the sizes come from, and whether that was seen.
    pub source: String,
    /// Narrowest and widest scratch it could leave, µm, under `assumption`.
    pub scratch_um: [f64; 2],
    /// The assumption the widths rest on.
    pub assumption: String,
    /// The nearest grade of every other scale.
    pub others: Vec<OtherGradeForm>,
}

/// The nearest grade of another scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct OtherGradeForm {
    /// The grade, with its scale.
    pub grade: String,
    /// Its size over the size asked for.
    pub ratio: f64,
    /// Whether it is near enough to be called a counterpart.
    pub counterpart: bool,
    /// In words.
    pub caution: String,
}

/// Hours of polishing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FaceForm {
    /// Area polished, cm².
    pub area_cm2: f64,
    /// Its standard uncertainty, cm².
    pub area_u_cm2: f64,
    /// Rate given, slowest and fastest, cm² per hour.
    pub rate_cm2_per_h: [f64; 2],
    /// Fewest and most hours.
    pub hours: [f64; 2],
    /// What the hours rest on, in words.
    pub words: String,
}

/// What a law of wear would say, to its order only.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LawForm {
    /// The law and what its coefficient was found for.
    pub law: String,
    /// Least and greatest coefficient.
    pub coefficient: [f64; 2],
    /// Unit of the coefficient; empty for a bare number.
    pub unit: String,
    /// The coefficient with its unit, in words.
    pub coefficient_words: String,
    /// Where the coefficient comes from, and whether that was seen.
    pub source: String,
    /// Slowest and fastest removal, cm³ per hour; none where the law needs the hardness of a stone that is not known.
    pub rate_cm3_per_h: Option<[f64; 2]>,
    /// The removal with its unit, or what is missing, in words.
    pub rate_words: String,
}

/// Hours of work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WorkForm {
    /// Volume taken away, cm³.
    pub volume_cm3: f64,
    /// Its standard uncertainty, cm³.
    pub volume_u_cm3: f64,
    /// Removal rate given, slowest and fastest, cm³ per hour.
    pub rate_cm3_per_h: [f64; 2],
    /// Fewest and most hours.
    pub hours: [f64; 2],
    /// What the hours rest on, in words.
    pub words: String,
}
