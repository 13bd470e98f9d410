//! Light on a surface element: a diffuse share that every mineral has and a glossy lobe that a polish gives.

use picture::Light;
use quantity::AxialDeg;

/// Where the light stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lamp {
    /// From one side.
    OneSided {
        /// Azimuth it comes from, degrees counter-clockwise as seen, 0 = from +x.
        azimuth_deg: f64,
        /// Height above the surface, degrees.
        elevation_deg: f64,
    },
    /// A ring of lamps at one height.
    Ring {
        /// Height above the surface, degrees.
        elevation_deg: f64,
    },
    /// Through the lens.
    Coaxial,
}

/// Light on a scene.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lighting {
    /// Where the light stands.
    pub lamp: Lamp,
    /// Share of light from everywhere, 0–1.
    pub ambient: f64,
    /// Breadth of the glossy lobe as a slope: 0.1 is a mirror-like, 0.5 a satin surface.
    pub lobe: f64,
}

impl Lighting {
    /// What an examiner would note down about it.
    #[must_use]
    pub fn noted(&self) -> Light {
        match self.lamp {
            Lamp::OneSided { azimuth_deg, .. } => {
                AxialDeg::new(azimuth_deg).map_or(Light::Unknown, Light::Azimuth)
            }
            Lamp::Ring { .. } => Light::Ring,
            Lamp::Coaxial => Light::Coaxial,
        }
    }
}

/// Number of lamps that stand for a ring: sixteen differ from a continuous ring by less than grey noise shows.
const RING_LAMPS: usize = 16;
/// Entries and largest slope of the ring's table.
const TABLE: usize = 512;
const TABLE_SLOPE: f32 = 3.0;

/// Light made ready for fast evaluation.
pub(super) enum Shader {
    Sided {
        lamp: [f32; 3],
        half: [f32; 2],
        ambient: f32,
        inverse_lobe2: f32,
    },
    /// By slope: diffuse and glossy answers.
    Even {
        diffuse: Vec<f32>,
        glossy: Vec<f32>,
        ambient: f32,
    },
}

impl Shader {
    pub(super) fn new(light: &Lighting) -> Self {
        let ambient = light.ambient as f32;
        let inverse_lobe2 = 1.0 / (light.lobe * light.lobe).max(1e-4) as f32;
        match light.lamp {
            Lamp::OneSided { azimuth_deg, elevation_deg } => {
                let lamp = lamp_vector(azimuth_deg, elevation_deg);
                Self::Sided { lamp, half: half_slope(lamp), ambient, inverse_lobe2 }
            }
            Lamp::Ring { elevation_deg } => {
                let lamps: Vec<[f32; 3]> = (0..RING_LAMPS)
                    .map(|k| lamp_vector(k as f64 * 360.0 / RING_LAMPS as f64, elevation_deg))
                    .collect();
                Self::even(&lamps, ambient, inverse_lobe2)
            }
            Lamp::Coaxial => Self::even(&[[0.0, 0.0, 1.0]], ambient, inverse_lobe2),
        }
    }

    fn even(lamps: &[[f32; 3]], ambient: f32, inverse_lobe2: f32) -> Self {
        let answer = |k: usize| {
            let slope = k as f32 * TABLE_SLOPE / (TABLE - 1) as f32;
            let (mut diffuse, mut glossy) = (0.0, 0.0);
            for &lamp in lamps {
                let (d, g) = one_lamp(slope, 0.0, lamp, half_slope(lamp), inverse_lobe2);
                diffuse += d / lamps.len() as f32;
                glossy += g / lamps.len() as f32;
            }
            (diffuse, glossy)
        };
        let (diffuse, glossy) = (0..TABLE).map(answer).unzip();
        Self::Even { diffuse, glossy, ambient }
    }

    /// Radiance of a facet of slopes `gx`, `gy` (height per pixel along +x and +y); 1 = white, flat, fully lit.
    pub(super) fn radiance(&self, gx: f32, gy: f32, grey: f32, gloss: f32) -> f32 {
        let (diffuse, glossy, ambient) = match self {
            Self::Sided { lamp, half, ambient, inverse_lobe2 } => {
                let (d, g) = one_lamp(gx, gy, *lamp, *half, *inverse_lobe2);
                (d, g, *ambient)
            }
            Self::Even { diffuse, glossy, ambient } => {
                let at =
                    ((gx * gx + gy * gy).sqrt() / TABLE_SLOPE * (TABLE - 1) as f32).min((TABLE - 2) as f32);
                let k = at as usize;
                let f = at - k as f32;
                (
                    diffuse[k] + f * (diffuse[k + 1] - diffuse[k]),
                    glossy[k] + f * (glossy[k + 1] - glossy[k]),
                    *ambient,
                )
            }
        };
        grey * (ambient + (1.0 - ambient) * diffuse) + (1.0 - ambient) * gloss * glossy
    }
}

/// Diffuse answer (1 on a flat facet) and glossy answer (1 where a facet mirrors the lamp into the lens).
fn one_lamp(gx: f32, gy: f32, lamp: [f32; 3], half: [f32; 2], inverse_lobe2: f32) -> (f32, f32) {
    let norm = (1.0 + gx * gx + gy * gy).sqrt();
    let cosine = (lamp[2] - gx * lamp[0] - gy * lamp[1]) / norm;
    let off = (gx - half[0]).powi(2) + (gy - half[1]).powi(2);
    ((cosine / lamp[2]).max(0.0), (-off * inverse_lobe2).exp())
}

fn lamp_vector(azimuth_deg: f64, elevation_deg: f64) -> [f32; 3] {
    let (sin_a, cos_a) = azimuth_deg.to_radians().sin_cos();
    let (sin_e, cos_e) = elevation_deg.to_radians().sin_cos();
    // y points down the picture.
    [(cos_a * cos_e) as f32, (-sin_a * cos_e) as f32, sin_e.max(0.02) as f32]
}

/// Slopes of the facet that mirrors the lamp into the lens.
fn half_slope(lamp: [f32; 3]) -> [f32; 2] {
    [-lamp[0] / (lamp[2] + 1.0), -lamp[1] / (lamp[2] + 1.0)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lambert's cosine law: a facet turned to the lamp at height e answers 1/sin e times the flat one.
    #[test]
    fn a_facet_facing_the_lamp_is_brightest() {
        let light = Lighting {
            lamp: Lamp::OneSided { azimuth_deg: 0.0, elevation_deg: 30.0 },
            ambient: 0.0,
            lobe: 0.3,
        };
        let shader = Shader::new(&light);
        let flat = shader.radiance(0.0, 0.0, 0.5, 0.0);
        assert!((flat - 0.5).abs() < 1e-6);
        // Facing +x (where the light comes from) means falling towards +x: slope −cot 30°.
        let facing = shader.radiance(-(3f32.sqrt()), 0.0, 0.5, 0.0);
        assert!((facing - 1.0).abs() < 1e-5, "{facing}");
        assert!(shader.radiance(0.2, 0.0, 0.5, 0.0) < flat);
        assert_eq!(shader.radiance(0.0, 0.2, 0.5, 0.0), shader.radiance(0.0, -0.2, 0.5, 0.0));
    }
}
