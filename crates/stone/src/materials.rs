//! Tool metals and abrasives.

use crate::{Range, Source};

/// A tool metal or an abrasive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Name.
    pub name: &'static str,
    /// Hardness on Mohs's scale, where one is given.
    pub mohs: Option<Range>,
    /// Indentation hardness, kgf/mm². Vickers for metals; Vickers or Knoop as the source has it for abrasives, which
    /// differ by less than the sources do among themselves.
    pub hardness: Range,
}

const STOCKS: Source = Source::seen("Stocks 2003, p. 116, as quoted");
const METALS: Source = Source::memory("Vickers hardness of metals, handbooks");
const THINGS: Source = Source::seen("table of Mohs hardness of minerals and common things");
const GRINDING: Source = Source::seen("grinding handbook site, Knoop");
const SUPPLIERS: Source = Source::seen("two abrasive suppliers' pages, Vickers");
const CONSERVATION: Source = Source::seen("conservation handbook table, Knoop, row alignment inferred");

const fn metal(name: &'static str, mohs: Option<Range>, low: f64, high: f64, source: Source) -> Material {
    Material { name, mohs, hardness: Range::new(low, high, source) }
}

/// Tool metals. Single printed values are given ± 10 % for the spread between pieces (our choice).
pub const TOOLS: &[Material] = &[
    metal("annealed copper", Some(Range::new(3.0, 3.0, THINGS)), 38.0, 46.0, STOCKS),
    metal("hammered copper", Some(Range::new(3.0, 3.0, THINGS)), 100.0, 130.0, METALS),
    metal("arsenical copper", None, 52.0, 142.0, Source::seen("São Pedro study, HV0.2")),
    metal("annealed bronze", Some(Range::new(4.0, 4.0, Source::PRACTICE)), 67.0, 83.0, STOCKS),
    metal("hammered tin bronze", Some(Range::new(4.0, 4.0, Source::PRACTICE)), 200.0, 270.0, METALS),
    metal("wrought iron", Some(Range::new(4.0, 4.0, THINGS)), 100.0, 180.0, METALS),
    metal("annealed mild steel", None, 118.0, 144.0, STOCKS),
    metal("hardened steel", None, 600.0, 850.0, METALS),
];

/// Abrasives, loose or bonded.
pub const ABRASIVES: &[Material] = &[
    metal("quartz sand", Some(Range::new(7.0, 7.0, THINGS)), 738.0, 902.0, GRINDING),
    metal("garnet", Some(Range::new(6.5, 7.5, THINGS)), 1224.0, 1496.0, GRINDING),
    metal(
        "emery",
        None,
        1400.0,
        2000.0,
        Source::memory(
            "between garnet and corundum; the grinding handbook site says only that it is softer than corundum",
        ),
    ),
    metal("natural corundum", Some(Range::new(9.0, 9.0, THINGS)), 1845.0, 2255.0, GRINDING),
    metal("fused alumina", Some(Range::new(9.0, 9.0, THINGS)), 2000.0, 2500.0, CONSERVATION),
    metal("silicon carbide", None, 2500.0, 2700.0, SUPPLIERS),
    metal("boron carbide", None, 2520.0, 3080.0, CONSERVATION),
    metal("diamond", Some(Range::new(10.0, 10.0, THINGS)), 5500.0, 7000.0, CONSERVATION),
];

/// A rule of the workshop about hardness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RuleOfThumb {
    /// What it is about.
    pub name: &'static str,
    /// About this on Mohs's scale.
    pub mohs: f64,
    /// Always common practice, no source.
    pub source: Source,
}

/// Hardness as it is said in workshops, for comparison with the tables. A rock has no single hardness: its minerals do.
pub const RULES_OF_THUMB: &[RuleOfThumb] = &[
    RuleOfThumb { name: "diorite", mohs: 6.5, source: Source::PRACTICE },
    RuleOfThumb { name: "modern steel", mohs: 5.5, source: Source::PRACTICE },
    RuleOfThumb { name: "bronze", mohs: 4.0, source: Source::PRACTICE },
    RuleOfThumb { name: "copper", mohs: 3.0, source: Source::PRACTICE },
];

/// A tool metal by its name.
#[must_use]
pub fn tool(name: &str) -> Option<&'static Material> {
    TOOLS.iter().find(|material| material.name.eq_ignore_ascii_case(name.trim()))
}

/// An abrasive by its name.
#[must_use]
pub fn abrasive(name: &str) -> Option<&'static Material> {
    ABRASIVES.iter().find(|material| material.name.eq_ignore_ascii_case(name.trim()))
}
