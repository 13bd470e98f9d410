//! What the stone is made of, as far as a micrograph shows it.

/// A family of parallel lines that live inside single grains.
#[derive(Debug, Clone, PartialEq)]
pub struct GrainLines {
    /// Twin lamellae (bands) or cleavage (thin broken lines).
    pub kind: LineKind,
    /// Share of this mineral's grains that show it.
    pub share_of_grains: f64,
    /// Mean distance from one band to the next, µm.
    pub period_um: f64,
    /// Smallest and largest width of a band as a share of the period.
    pub duty: [f64; 2],
    /// Change of grey inside the band, as a share of the grain's own grey.
    pub contrast: f64,
    /// Change of height inside the band, µm.
    pub relief_um: f64,
    /// Share of the length over which bands fade out.
    pub broken: f64,
}

/// Kinds of line that the stone itself draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineKind {
    /// Edge or band of a twin lamella.
    Lamella,
    /// Cleavage.
    Cleavage,
    /// Boundary between two grains.
    Boundary,
    /// Crack across grains.
    Crack,
    /// Fibre lying on the surface.
    Fibre,
    /// Pit.
    Pit,
}

/// One mineral of the stone.
#[derive(Debug, Clone, PartialEq)]
pub struct Mineral {
    /// Share of the grains, any positive scale.
    pub share: f64,
    /// Mean diffuse reflectance, linear, 0–1.
    pub grey: f64,
    /// Relative spread of `grey` from grain to grain.
    pub grey_spread: f64,
    /// Relative spread of the mottling inside a grain.
    pub mottle: f64,
    /// Size of the mottling, µm.
    pub mottle_um: f64,
    /// Strength of the flecks in altered patches of the grain, share of grey.
    pub altered: f64,
    /// Mirror-like reflectance relative to the diffuse one of a white surface.
    pub gloss: f64,
    /// Depth of a groove here relative to its nominal depth (soft > 1, hard < 1).
    pub yields: f64,
    /// Mean height above the other minerals, µm.
    pub relief_um: f64,
    /// Length over breadth of its grains.
    pub elongation: f64,
    /// Size of its grains relative to the stone's.
    pub size: f64,
    /// Lines inside its grains.
    pub lines: Vec<GrainLines>,
}

/// A stone surface before any groove.
#[derive(Debug, Clone, PartialEq)]
pub struct Stone {
    /// Its minerals, at least one.
    pub minerals: Vec<Mineral>,
    /// Median grain diameter, µm.
    pub grain_um: f64,
    /// Standard deviation of the logarithm of the grain diameter.
    pub grain_spread: f64,
    /// Waviness of the grain boundaries, share of the grain diameter.
    pub boundary_waviness: f64,
    /// Darkening along boundaries, share of grey (negative brightens).
    pub boundary_contrast: f64,
    /// Width of the boundary line, µm.
    pub boundary_um: f64,
    /// Standard height of the slow undulation left by finishing, µm.
    pub waviness_um: f64,
    /// Standard height of the fine roughness left by finishing, µm.
    pub roughness_um: f64,
    /// Correlation length of the fine roughness, µm.
    pub roughness_length_um: f64,
    /// Pits per mm².
    pub pits_per_mm2: f64,
    /// Median pit diameter, µm.
    pub pit_um: f64,
    /// Cracks per mm².
    pub cracks_per_mm2: f64,
    /// Fibres per mm².
    pub fibres_per_mm2: f64,
}
