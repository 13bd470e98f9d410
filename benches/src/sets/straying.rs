//! Stones and instruments that stray from their kind, so that what is fitted on a set holds beyond the few kinds there are.

use finish::render::{Character, Lamp, Lighting, Optics, Sensor, Stone};
use rand::RngExt;
use rand_pcg::Pcg64;

use super::paths::{between, normal};

/// Share of stones whose boundaries are brighter than their grains.
const BRIGHT_BOUNDARIES: f64 = 0.15;

/// A factor whose logarithm has this standard deviation; cut at twice that.
fn factor(spread: f64, rng: &mut Pcg64) -> f64 {
    (spread * normal(rng).clamp(-2.0, 2.0)).exp()
}

/// A stone of the same kind as no one has seen it yet.
pub fn stone(mut stone: Stone, rng: &mut Pcg64) -> Stone {
    // What all minerals of a stone share strays once for the stone and a little for each.
    let (mottle, size, altered) = (factor(0.4, rng), factor(0.4, rng), factor(0.5, rng));
    for mineral in &mut stone.minerals {
        mineral.share *= factor(0.3, rng);
        mineral.grey = (mineral.grey * factor(0.2, rng)).clamp(0.05, 0.8);
        mineral.grey_spread *= factor(0.4, rng);
        mineral.mottle *= mottle * factor(0.2, rng);
        mineral.mottle_um *= size * factor(0.2, rng);
        mineral.altered *= altered * factor(0.2, rng);
        mineral.gloss = (mineral.gloss * factor(0.4, rng)).min(1.0);
        mineral.yields *= factor(0.15, rng);
        mineral.relief_um *= factor(0.4, rng);
        mineral.elongation = (mineral.elongation * factor(0.25, rng)).max(1.0);
        for lines in &mut mineral.lines {
            lines.share_of_grains = (lines.share_of_grains * factor(0.5, rng)).min(1.0);
            lines.period_um *= factor(0.4, rng);
            lines.contrast *= factor(0.4, rng);
            lines.broken = (lines.broken * factor(0.6, rng)).min(0.8);
        }
    }
    stone.boundary_waviness *= factor(0.4, rng);
    stone.boundary_contrast *= factor(0.5, rng);
    if rng.random::<f64>() < BRIGHT_BOUNDARIES {
        stone.boundary_contrast *= -0.5;
    }
    stone.boundary_um *= factor(0.4, rng);
    stone.waviness_um *= factor(0.4, rng);
    stone.roughness_um *= factor(0.4, rng);
    stone.roughness_length_um *= factor(0.4, rng);
    stone.pits_per_mm2 *= factor(0.7, rng);
    stone.pit_um *= factor(0.3, rng);
    stone.cracks_per_mm2 *= factor(0.8, rng);
    stone.fibres_per_mm2 *= factor(0.8, rng);
    stone
}

/// The same stone, of whose own lines and grains only this share shows, as on a stone of one fine-grained mineral.
pub fn calmed(mut stone: Stone, share: f64) -> Stone {
    let total: f64 = stone.minerals.iter().map(|m| m.share).sum();
    let mean = stone.minerals.iter().map(|m| m.share * m.grey).sum::<f64>() / total.max(1e-9);
    for mineral in &mut stone.minerals {
        mineral.grey = mean + share * (mineral.grey - mean);
        mineral.grey_spread *= share;
        mineral.mottle *= share;
        mineral.relief_um *= share;
        mineral.lines.iter_mut().for_each(|lines| lines.contrast *= share);
    }
    stone.boundary_contrast *= share;
    stone.roughness_um *= share;
    stone
}

/// An instrument of the same kind: its lamps at another height, another sensor, other coding.
pub fn instrument(
    (mut lighting, mut optics, mut sensor): (Lighting, Optics, Sensor),
    rng: &mut Pcg64,
) -> (Lighting, Optics, Sensor) {
    lighting.lamp = match lighting.lamp {
        Lamp::OneSided { azimuth_deg, .. } => {
            Lamp::OneSided { azimuth_deg, elevation_deg: between(12.0, 45.0, rng) }
        }
        Lamp::Ring { .. } => Lamp::Ring { elevation_deg: between(20.0, 70.0, rng) },
        Lamp::Coaxial => Lamp::Coaxial,
    };
    lighting.ambient = between(0.06, 0.4, rng);
    lighting.lobe = between(0.18, 0.5, rng);
    optics.vignetting *= factor(0.5, rng);
    optics.mean_grey = between(0.3, 0.6, rng);
    sensor.full_well *= factor(0.6, rng);
    sensor.mosaic = rng.random::<f64>() < 0.6;
    sensor.jpeg_quality = (rng.random::<f64>() < 0.6).then(|| between(72.0, 97.0, rng).round() as u8);
    (lighting, optics, sensor)
}

/// A way of cutting like this one.
pub fn character(mut character: Character, rng: &mut Pcg64) -> Character {
    character.exponent = (character.exponent * factor(0.25, rng)).max(1.0);
    character.shoulders = character.shoulders.map(|height| height * factor(0.5, rng));
    character.unevenness *= factor(0.3, rng);
    character.unevenness_um *= factor(0.4, rng);
    character.skips = (character.skips * factor(0.5, rng)).min(0.4);
    character.whitening *= factor(0.8, rng);
    character
}
