//! Rocks as mixtures of minerals.

use crate::{Mineral, Source, mineral};

/// One mineral of a rock, with its share by volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RockPart {
    /// Name of the mineral, one of those in [`crate::MINERALS`].
    pub mineral: &'static str,
    /// Lowest usual share, percent.
    pub low: f64,
    /// Highest usual share, percent.
    pub high: f64,
}

/// A rock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rock {
    /// Name.
    pub name: &'static str,
    /// Its minerals; shares are usual ranges, so they add up to 100 % only for some choice within them.
    pub parts: &'static [RockPart],
    /// Where the shares come from.
    pub source: Source,
}

const MODES: Source = Source::memory("usual modes of rocks after Le Maitre 2002 and textbooks");

const fn part(mineral: &'static str, low: f64, high: f64) -> RockPart {
    RockPart { mineral, low, high }
}

/// The rocks known here.
pub const ROCKS: &[Rock] = &[
    Rock {
        name: "granite",
        parts: &[
            part("quartz", 25.0, 35.0),
            part("K-feldspar", 30.0, 40.0),
            part("plagioclase", 20.0, 30.0),
            part("biotite", 3.0, 10.0),
            part("hornblende", 0.0, 3.0),
            part("magnetite", 0.0, 1.0),
        ],
        source: MODES,
    },
    Rock {
        name: "granodiorite",
        parts: &[
            part("quartz", 20.0, 30.0),
            part("K-feldspar", 10.0, 20.0),
            part("plagioclase", 40.0, 50.0),
            part("biotite", 5.0, 12.0),
            part("hornblende", 2.0, 10.0),
            part("magnetite", 0.0, 1.0),
        ],
        source: MODES,
    },
    Rock {
        name: "diorite",
        parts: &[
            part("quartz", 0.0, 5.0),
            part("K-feldspar", 0.0, 5.0),
            part("plagioclase", 55.0, 70.0),
            part("biotite", 3.0, 10.0),
            part("hornblende", 15.0, 30.0),
            part("augite", 0.0, 10.0),
            part("magnetite", 1.0, 3.0),
        ],
        source: MODES,
    },
    Rock {
        name: "gabbro",
        parts: &[
            part("quartz", 0.0, 2.0),
            part("plagioclase", 45.0, 65.0),
            part("hornblende", 0.0, 5.0),
            part("augite", 25.0, 45.0),
            part("olivine", 0.0, 20.0),
            part("magnetite", 2.0, 5.0),
        ],
        source: MODES,
    },
    Rock {
        name: "basalt",
        parts: &[
            part("quartz", 0.0, 3.0),
            part("plagioclase", 45.0, 60.0),
            part("augite", 30.0, 45.0),
            part("olivine", 0.0, 15.0),
            part("magnetite", 3.0, 10.0),
            part("volcanic glass", 0.0, 20.0),
        ],
        source: MODES,
    },
    Rock {
        name: "limestone or marble",
        parts: &[part("calcite", 90.0, 100.0), part("quartz", 0.0, 5.0), part("muscovite", 0.0, 5.0)],
        source: MODES,
    },
    Rock {
        name: "quartzite",
        parts: &[part("quartz", 90.0, 99.0), part("K-feldspar", 0.0, 5.0), part("muscovite", 0.0, 5.0)],
        source: MODES,
    },
    Rock {
        name: "sandstone",
        parts: &[
            part("quartz", 50.0, 95.0),
            part("K-feldspar", 0.0, 25.0),
            part("muscovite", 0.0, 5.0),
            part("calcite", 0.0, 20.0),
        ],
        source: MODES,
    },
    Rock {
        name: "greywacke or schist",
        parts: &[
            part("quartz", 25.0, 45.0),
            part("K-feldspar", 5.0, 10.0),
            part("plagioclase", 15.0, 30.0),
            part("biotite", 5.0, 15.0),
            part("chlorite", 0.0, 15.0),
            part("calcite", 0.0, 5.0),
        ],
        source: MODES,
    },
];

/// A rock by its name; a joined entry is found by either of its names.
#[must_use]
pub fn rock(name: &str) -> Option<&'static Rock> {
    let wanted = name.trim();
    let same = |known: &str| known.eq_ignore_ascii_case(wanted);
    ROCKS.iter().find(|rock| same(rock.name) || rock.name.split(" or ").any(same))
}

impl RockPart {
    /// A mineral with a share that was determined, 0 to 1; `None` for a mineral that is not known here.
    #[must_use]
    pub fn determined(name: &str, share: f64) -> Option<Self> {
        let mineral = mineral(name)?;
        Some(Self { mineral: mineral.name, low: 100.0 * share, high: 100.0 * share })
    }
}

impl Rock {
    /// Minerals with their middle shares, made to add up to 1.
    #[must_use]
    pub fn typical(&self) -> Vec<(&'static Mineral, f64)> {
        let middle = |part: &RockPart| (part.low + part.high) / 2.0;
        let sum: f64 = self.parts.iter().map(middle).sum();
        self.parts.iter().filter_map(|part| Some((mineral(part.mineral)?, middle(part) / sum))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_part_is_a_known_mineral_and_shares_can_reach_the_whole() {
        for rock in ROCKS {
            assert_eq!(rock.typical().len(), rock.parts.len(), "{}", rock.name);
            let (low, high) = rock.parts.iter().fold((0.0, 0.0), |(l, h), p| (l + p.low, h + p.high));
            assert!(low <= 100.0 && high >= 95.0, "{}: {low} to {high}", rock.name);
        }
        assert!(rock("Marble").is_some() && rock(" granite ").is_some() && rock("cheese").is_none());
    }
}
