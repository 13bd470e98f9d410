//! Hardness numbers from indentations, and summary numbers of rocks.

/// Vickers hardness, kgf/mm², of an indentation of mean diagonal `diagonal_mm` under `force_kgf`.
///
/// # Source
/// ISO 6507-1, 2 sin 68°·F/d²; from memory, source not seen.
#[must_use]
pub fn vickers(force_kgf: f64, diagonal_mm: f64) -> f64 {
    2.0 * 68_f64.to_radians().sin() * force_kgf / (diagonal_mm * diagonal_mm)
}

/// Knoop hardness, kgf/mm², of an indentation of long diagonal `diagonal_mm` under `force_kgf`.
///
/// # Source
/// ISO 4545-1, 14.229·F/L²; from memory, source not seen.
#[must_use]
pub fn knoop(force_kgf: f64, diagonal_mm: f64) -> f64 {
    14.229 * force_kgf / (diagonal_mm * diagonal_mm)
}

/// Volume-weighted Vickers hardness of a rock from `(share, Vickers)` of its minerals; shares in percent.
///
/// A ranking number only: summing the hardness of minerals to predict that of a rock "has not proved satisfactory"
/// (geotechnical tables after Bell).
///
/// # Source
/// Vickers hardness number rock, Bruland/NTNU; from memory, source not seen.
#[must_use]
pub fn rock_vickers(parts_percent: &[(f64, f64)]) -> f64 {
    parts_percent.iter().map(|(share, vickers)| share * vickers).sum::<f64>() / 100.0
}

/// Abrasiveness of a mineral relative to quartz by its Mohs hardness, steps of one half.
///
/// # Source
/// Abrasivity laboratory sheet, seen.
const QUARTZ_FACTORS: [(f64, f64); 13] = [
    (1.0, 0.0),
    (1.5, 0.0),
    (2.0, 0.0021),
    (2.5, 0.015),
    (3.0, 0.036),
    (3.5, 0.038),
    (4.0, 0.042),
    (4.5, 0.047),
    (5.0, 0.055),
    (5.5, 0.16),
    (6.0, 0.31),
    (6.5, 0.55),
    (7.0, 1.0),
];

/// Factor of the nearest half step of Mohs's scale; `None` outside 1 to 7, where the sheet has none.
#[must_use]
pub fn quartz_factor(mohs: f64) -> Option<f64> {
    let half_steps = (2.0 * mohs).round() / 2.0;
    QUARTZ_FACTORS.iter().find(|(step, _)| *step == half_steps).map(|(_, factor)| *factor)
}

/// Equivalent quartz content, percent, from `(Mohs, share in percent)` of the minerals; `None` if a mineral is harder
/// than quartz.
#[must_use]
pub fn equivalent_quartz_percent(parts: &[(f64, f64)]) -> Option<f64> {
    parts.iter().map(|&(mohs, percent)| Some(quartz_factor(mohs)? * percent)).sum()
}
