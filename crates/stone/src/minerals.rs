//! Minerals: hardness by Mohs and by indentation.

use crate::{Range, Source};

/// A mineral.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mineral {
    /// Name.
    pub name: &'static str,
    /// Hardness on Mohs's scale.
    pub mohs: Range,
    /// Vickers hardness, kgf/mm².
    pub vickers: Range,
}

const SCALE: Source = Source::seen("Mohs's scale, many tables");
const TABLE: Source = Source::seen("table of Mohs hardness of minerals and common things");
const FOUNDRY: Source = Source::seen("foundry encyclopedia, Vickers hardness of the Mohs minerals");
/// One value a mineral is printed there; ± 15 % stands for the spread between grains, directions and tables (our choice).
const NTNU: Source = Source::memory("Vickers hardness of rock-forming minerals, Bruland/NTNU table, ± 15 %");
const MICA: Source = Source::memory("Mohs hardness, mineral handbooks");

const fn printed(vickers: f64) -> Range {
    Range::new(0.85 * vickers, 1.15 * vickers, NTNU)
}

const fn of(name: &'static str, mohs: (f64, f64, Source), vickers: Range) -> Mineral {
    Mineral { name, mohs: Range::new(mohs.0, mohs.1, mohs.2), vickers }
}

/// The minerals known here.
pub const MINERALS: &[Mineral] = &[
    of("quartz", (7.0, 7.0, SCALE), Range::new(900.0, 1280.0, FOUNDRY)),
    of("K-feldspar", (6.0, 6.5, TABLE), Range::new(600.0, 750.0, FOUNDRY)),
    of("plagioclase", (6.0, 6.5, TABLE), printed(800.0)),
    of("hornblende", (5.0, 6.0, TABLE), printed(600.0)),
    of("augite", (5.5, 6.0, TABLE), printed(640.0)),
    of("diopside", (5.5, 6.5, MICA), printed(800.0)),
    of("hypersthene", (5.0, 6.0, MICA), printed(600.0)),
    of("olivine", (6.5, 7.0, TABLE), printed(980.0)),
    of("garnet", (6.5, 7.5, TABLE), printed(1060.0)),
    of("biotite", (2.0, 3.0, TABLE), printed(110.0)),
    of("muscovite", (2.0, 3.0, TABLE), printed(120.0)),
    of("chlorite", (2.0, 2.5, MICA), printed(50.0)),
    of("serpentine", (2.5, 4.0, MICA), printed(175.0)),
    of("magnetite", (5.5, 6.5, TABLE), printed(730.0)),
    of("hematite", (5.5, 6.5, TABLE), printed(925.0)),
    of("ilmenite", (5.0, 6.0, MICA), printed(625.0)),
    of("pyrite", (6.0, 6.5, MICA), printed(800.0)),
    of("apatite", (5.0, 5.0, SCALE), printed(550.0)),
    of("calcite", (3.0, 3.0, SCALE), Range::new(125.0, 140.0, FOUNDRY)),
    of("dolomite", (3.5, 4.0, TABLE), printed(365.0)),
    of("gypsum", (2.0, 2.0, SCALE), Range::new(31.0, 41.0, FOUNDRY)),
    of("fluorite", (4.0, 4.0, SCALE), Range::new(160.0, 220.0, FOUNDRY)),
    of("topaz", (8.0, 8.0, SCALE), Range::new(1220.0, 1640.0, FOUNDRY)),
    of(
        "volcanic glass",
        (5.5, 6.0, TABLE),
        Range::new(500.0, 650.0, Source::memory("Vickers hardness of glasses")),
    ),
];

/// A mineral by its name.
#[must_use]
pub fn mineral(name: &str) -> Option<&'static Mineral> {
    MINERALS.iter().find(|mineral| mineral.name.eq_ignore_ascii_case(name.trim()))
}
