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

/// A rate as the user gives or measured it, in amounts per hour: cm³ removed or cm² polished. There is no default: none is
/// published for working hard stone by hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Slowest, per hour.
    pub low: f64,
    /// Fastest, per hour.
    pub high: f64,
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
    #[error("the {name} is {found}; give a number above 0")]
    BadValue {
        /// Which.
        name: &'static str,
        /// Its value.
        found: f64,
    },
    /// A range is upside down.
    #[error("the lowest {name}, {low}, is above the highest, {high}; give the lowest first")]
    Reversed {
        /// Of what.
        name: &'static str,
        /// Lowest.
        low: f64,
        /// Highest.
        high: f64,
    },
}

/// Hours for an amount (a volume in cm³ or a face in cm²) at a rate in the same unit per hour: least at the fastest rate to
/// most at the slowest, the amount taken at its 95 % interval. Always a range.
///
/// # Errors
/// [`WorkError`] unless the rates are positive and in order and the amount is finite and positive.
pub fn hours(amount: Measured, rate: Rate) -> Result<Hours, WorkError> {
    positive("amount of work", amount.value)?;
    in_order("rate", [rate.low, rate.high])?;
    let spread = amount.half_width_95();
    Ok(Hours { low: (amount.value - spread).max(0.0) / rate.high, high: (amount.value + spread) / rate.low })
}

/// How a tool is pressed and moved, each from lowest to highest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Load on the stone, N.
    pub load_n: [f64; 2],
    /// Speed of the tool over the stone, m/s.
    pub speed_m_per_s: [f64; 2],
}

/// A law of wear with the range of its coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    /// The law and what it was found for.
    pub name: &'static str,
    /// Its coefficient.
    pub coefficient: Range,
    kind: LawKind,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum LawKind {
    Preston,
    Archard,
}

/// The laws whose coefficients are known at least to their order.
pub const LAWS: [Law; 4] = [
    Law { name: "Preston, polishing of glass", coefficient: PRESTON_POLISHING, kind: LawKind::Preston },
    Law { name: "Preston, lapping of glass", coefficient: PRESTON_LAPPING, kind: LawKind::Preston },
    Law { name: "Archard, loose grains", coefficient: ARCHARD_THREE_BODY, kind: LawKind::Archard },
    Law { name: "Archard, fixed grains", coefficient: ARCHARD_ABRASIVE, kind: LawKind::Archard },
];

impl Law {
    /// Unit of the coefficient; empty for a bare number.
    #[must_use]
    pub fn unit(&self) -> &'static str {
        match self.kind {
            LawKind::Preston => "m²/N",
            LawKind::Archard => "",
        }
    }

    /// Volume worn, cm³ per hour, from the least coefficient, load and speed on the hardest mineral to the most on the
    /// softest. `None` for Archard's law where the hardness of the stone, kgf/mm² from softest to hardest mineral, is not
    /// known; Preston's holds it in the coefficient.
    ///
    /// # Errors
    /// [`WorkError`] unless load, speed and hardness are positive and in order.
    pub fn rate_cm3_per_h(
        &self,
        motion: Motion,
        hardness_kgf_per_mm2: Option<[f64; 2]>,
    ) -> Result<Option<Rate>, WorkError> {
        const S_PER_H: f64 = 3600.0;
        const MM3_PER_CM3: f64 = 1000.0;
        const PA_PER_KGF_PER_MM2: f64 = 9.806_65e6;
        in_order("load", motion.load_n)?;
        in_order("speed", motion.speed_m_per_s)?;
        let k = [self.coefficient.low, self.coefficient.high];
        let at = |end: usize| (k[end], motion.load_n[end], motion.speed_m_per_s[end]);
        Ok(match self.kind {
            LawKind::Preston => {
                // The load on 1 m²: a depth of 1 µm over it is 1 cm³.
                let volume = |(k, load, speed)| preston_um_per_h(k, load, speed);
                Some(Rate { low: volume(at(0)), high: volume(at(1)) })
            }
            LawKind::Archard => match hardness_kgf_per_mm2 {
                None => None,
                Some(hardness) => {
                    in_order("hardness", hardness)?;
                    let [softest, hardest] = hardness.map(|h| h * PA_PER_KGF_PER_MM2);
                    let volume = |(k, load, speed): (f64, f64, f64), hardness| {
                        archard_mm3(k, load, speed * S_PER_H, hardness) / MM3_PER_CM3
                    };
                    Some(Rate { low: volume(at(0), hardest), high: volume(at(1), softest) })
                }
            },
        })
    }
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
    if found.is_finite() && found > 0.0 { Ok(()) } else { Err(WorkError::BadValue { name, found }) }
}

fn in_order(name: &'static str, [low, high]: [f64; 2]) -> Result<(), WorkError> {
    positive(name, low)?;
    positive(name, high)?;
    if low > high { Err(WorkError::Reversed { name, low, high }) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_always_a_range() {
        let volume = Measured { value: 250.0, u: 10.0 };
        let range = hours(volume, Rate { low: 5.0, high: 10.0 }).unwrap();
        assert!(
            (range.low - (250.0 - 19.6) / 10.0).abs() < 0.01
                && (range.high - (250.0 + 19.6) / 5.0).abs() < 0.01
        );
        assert!(hours(volume, Rate { low: 0.0, high: 1.0 }).is_err());
        assert!(hours(volume, Rate { low: 2.0, high: 1.0 }).is_err());
    }

    /// By hand: 1e-2 · 50 N · (0.5 m/s · 3600 s) / (1000 kgf/mm² · 9.80665e6 Pa) = 9.18e-8 m³ = 0.0918 cm³.
    #[test]
    fn laws_of_wear_give_ranges_and_want_the_hardness_they_need() {
        let motion = Motion { load_n: [50.0, 50.0], speed_m_per_s: [0.5, 0.5] };
        let fixed = LAWS[3].rate_cm3_per_h(motion, Some([1000.0, 1000.0])).unwrap().unwrap();
        assert!((fixed.low - 0.0918).abs() < 1e-4 && (fixed.high / fixed.low - 10.0).abs() < 1e-9);
        assert_eq!(LAWS[3].rate_cm3_per_h(motion, None).unwrap(), None);
        // 1e-13 m²/N · 50 N · 0.5 m/s · 3600 s = 9e-9 m³.
        let polishing = LAWS[0].rate_cm3_per_h(motion, None).unwrap().unwrap();
        assert!((polishing.low - 0.009).abs() < 1e-12 && (polishing.high - 0.09).abs() < 1e-12);
        let reversed = Motion { load_n: [50.0, 5.0], ..motion };
        assert!(LAWS[0].rate_cm3_per_h(reversed, None).is_err());
    }
}
