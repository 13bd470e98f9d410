//! Work: what a removed volume or a polished area means in hours, from a rate the user gives.

use quantity::Measured;

use crate::{Range, Source};

const WEAR_NOTES: Source = Source::seen("course notes on wear, Archard coefficients");

/// Archard's coefficient for abrasive wear by fixed grains.
pub const ARCHARD_ABRASIVE: Range = Range::new(1e-2, 1e-1, WEAR_NOTES);
/// Archard's coefficient for loose grains between two surfaces.
pub const ARCHARD_THREE_BODY: Range =
    Range::new(1e-3, 1e-2, Source::memory("wear of loose grains, order only"));
/// Preston's coefficient for polishing glass, m²/N.
pub const PRESTON_POLISHING: Range = Range::new(1e-13, 1e-12, Source::memory("glass polishing, order only"));
/// Preston's coefficient for lapping glass with loose grains, m²/N.
pub const PRESTON_LAPPING: Range =
    Range::new(1e-11, 1e-10, Source::memory("loose-grain lapping of glass, order only"));

/// A removal rate as the user gives or measured it. There is no default: none is published for working hard stone by hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Slowest, cm³ per hour.
    pub low_cm3_per_h: f64,
    /// Fastest, cm³ per hour.
    pub high_cm3_per_h: f64,
}

/// A range of hours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hours {
    /// Fewest.
    pub low: f64,
    /// Most.
    pub high: f64,
}

/// Why hours cannot be given.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum WorkError {
    /// A number is not usable.
    #[error("{name} is {found}, needed: {needed}")]
    BadValue {
        /// Which.
        name: &'static str,
        /// Its value.
        found: f64,
        /// What would do.
        needed: &'static str,
    },
}

/// Hours to remove a volume, cm³: least volume at the fastest rate to most volume at the slowest, the volume taken at its
/// 95 % interval. Always a range.
///
/// # Errors
/// [`WorkError::BadValue`] unless the rates are positive and in order and the volume is finite and positive.
pub fn hours_for_volume(volume_cm3: Measured, rate: Rate) -> Result<Hours, WorkError> {
    positive("volume, cm³", volume_cm3.value)?;
    positive("slowest rate, cm³/h", rate.low_cm3_per_h)?;
    positive("fastest rate, cm³/h", rate.high_cm3_per_h)?;
    if rate.low_cm3_per_h > rate.high_cm3_per_h {
        let found = rate.low_cm3_per_h;
        return Err(WorkError::BadValue {
            name: "slowest rate, cm³/h",
            found,
            needed: "not above the fastest",
        });
    }
    let spread = volume_cm3.half_width_95();
    Ok(Hours {
        low: (volume_cm3.value - spread).max(0.0) / rate.high_cm3_per_h,
        high: (volume_cm3.value + spread) / rate.low_cm3_per_h,
    })
}

/// Preston's law: depth per hour, µm, at a coefficient (m²/N), pressure (Pa) and speed (m/s): dh/dt = k·p·v.
///
/// # Source
/// Preston 1927 as quoted in course notes, seen.
#[must_use]
pub fn preston_um_per_h(coefficient_m2_per_n: f64, pressure_pa: f64, speed_m_per_s: f64) -> f64 {
    const UM_PER_M: f64 = 1e6;
    const S_PER_H: f64 = 3600.0;
    coefficient_m2_per_n * pressure_pa * speed_m_per_s * UM_PER_M * S_PER_H
}

/// Archard's law: volume worn, mm³, over a sliding distance: V = k·W·s/H.
///
/// # Source
/// Archard 1953 as quoted in course notes, seen.
#[must_use]
pub fn archard_mm3(coefficient: f64, load_n: f64, distance_m: f64, hardness_pa: f64) -> f64 {
    const MM3_PER_M3: f64 = 1e9;
    coefficient * load_n * distance_m / hardness_pa * MM3_PER_M3
}

/// Archard's coefficient of a cone that ploughs with its flank at `attack_deg` to the surface: 2 tan θ/π.
#[must_use]
pub fn cone_wear_coefficient(attack_deg: f64) -> f64 {
    2.0 * attack_deg.to_radians().tan() / std::f64::consts::PI
}

/// Width of the groove of a round tip of radius `r` pressed in by `depth` (one unit): 2√(2·r·depth − depth²).
#[must_use]
pub fn sphere_groove_width(radius: f64, depth: f64) -> f64 {
    2.0 * (2.0 * radius * depth - depth * depth).max(0.0).sqrt()
}

/// Volume of a layer, cm³, from its area in m² and depth in mm.
#[must_use]
pub fn area_times_depth_cm3(area_m2: f64, depth_mm: f64) -> f64 {
    // 1 m² × 1 mm = 1000 cm³.
    area_m2 * depth_mm * 1000.0
}

/// Mass, kg, of a volume in cm³ at a density in kg/m³.
#[must_use]
pub fn mass_kg(volume_cm3: f64, density_kg_per_m3: f64) -> f64 {
    volume_cm3 * density_kg_per_m3 * 1e-6
}

fn positive(name: &'static str, found: f64) -> Result<(), WorkError> {
    let needed = "finite and positive";
    if found.is_finite() && found > 0.0 { Ok(()) } else { Err(WorkError::BadValue { name, found, needed }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_always_a_range() {
        let volume = Measured { value: 250.0, u: 10.0 };
        let hours = hours_for_volume(volume, Rate { low_cm3_per_h: 5.0, high_cm3_per_h: 10.0 }).unwrap();
        assert!(
            (hours.low - (250.0 - 19.6) / 10.0).abs() < 0.01
                && (hours.high - (250.0 + 19.6) / 5.0).abs() < 0.01
        );
        assert!(hours_for_volume(volume, Rate { low_cm3_per_h: 0.0, high_cm3_per_h: 1.0 }).is_err());
        assert!(hours_for_volume(volume, Rate { low_cm3_per_h: 2.0, high_cm3_per_h: 1.0 }).is_err());
    }
}
