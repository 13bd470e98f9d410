//! Cautions: what can hurt people or objects, with sources.

use crate::{Range, Source};

/// Goes before everything else here.
pub const FIRST: &str = "Local rules and licensed practice come first; the limits below are for orientation and may be out of date.";

/// An exposure limit for respirable crystalline silica.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SilicaLimit {
    /// Who sets it and what it is called.
    pub name: &'static str,
    /// mg/m³, mean over the time stated.
    pub limit: Range,
    /// Time it is a mean over, hours.
    pub hours: f64,
}

const fn limit(name: &'static str, mg_per_m3: f64, hours: f64, source: Source) -> SilicaLimit {
    SilicaLimit { name, limit: Range::new(mg_per_m3, mg_per_m3, source), hours }
}

/// Limits for respirable crystalline silica.
pub const SILICA_LIMITS: &[SilicaLimit] = &[
    limit("OSHA permissible exposure limit", 0.05, 8.0, Source::seen("29 CFR 1926.1153")),
    limit("OSHA action level", 0.025, 8.0, Source::seen("29 CFR 1926.1153")),
    limit("NIOSH recommended exposure limit", 0.05, 10.0, Source::seen("NIOSH")),
    limit("ACGIH threshold limit value", 0.025, 8.0, Source::seen("ACGIH")),
    limit("EU binding occupational limit", 0.1, 8.0, Source::seen("Directive (EU) 2017/2398, Annex III")),
    limit("HSE workplace exposure limit", 0.1, 8.0, Source::memory("EH40")),
];

/// One caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// When it applies.
    pub when: &'static str,
    /// What to do or not to do.
    pub what: &'static str,
    /// Where it comes from.
    pub source: Source,
}

/// The cautions, most serious first.
pub const CAUTIONS: &[Caution] = &[
    Caution {
        when: "cutting, grinding or polishing stone that holds quartz",
        what: "Dry work passes the silica limits quickly: work wet, with extraction, and wear a fitted FFP3 or P100 mask.",
        source: Source::memory("occupational guidance on silica"),
    },
    Caution {
        when: "after wet work",
        what: "Do not let slurry dry on floor or clothes: dried slurry is dust again.",
        source: Source::memory("occupational guidance on silica"),
    },
    Caution {
        when: "any work with tools on stone",
        what: "Protect eyes, hands and hearing.",
        source: Source::PRACTICE,
    },
    Caution {
        when: "examining an object",
        what: "Touch nothing without the keeper's permission: no contact with spacers, straight-edges or replicas before it is given.",
        source: Source::PRACTICE,
    },
    Caution {
        when: "lighting an object closely",
        what: "Bare stone stands light well; paint, wax and lichen on it do not. Keep strong light to minutes and record the dose.",
        source: Source::memory("CIE 157:2004"),
    },
];

/// Mean exposure over eight hours, mg/m³, from `(concentration, hours)`.
///
/// # Source
/// Definition of the time-weighted average, Σ c·t / 8 h.
#[must_use]
pub fn eight_hour_mean(exposures: &[(f64, f64)]) -> f64 {
    exposures.iter().map(|(concentration, hours)| concentration * hours).sum::<f64>() / 8.0
}

/// The limits that a mean exposure, mg/m³, lies above.
#[must_use]
pub fn limits_passed(mean: f64) -> Vec<&'static SilicaLimit> {
    SILICA_LIMITS.iter().filter(|limit| mean > limit.limit.low).collect()
}

/// Light dose, lux hours.
#[must_use]
pub fn light_dose_lux_h(lux: f64, minutes: f64) -> f64 {
    lux * minutes / 60.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn local_rules_come_first() {
        assert!(FIRST.contains("Local rules and licensed practice come first"));
        assert!(CAUTIONS.iter().any(|caution| caution.what.contains("keeper's permission")));
        assert!(CAUTIONS.iter().any(|caution| caution.what.contains("eyes, hands and hearing")));
    }
}
