//! Ready-made stones, lights, lenses and sensors: deliberately unlike one another, so that what was tuned on one can be
//! tried on another.
//!
//! Mineral shares, greys and habits are those a petrographic hand specimen suggests (common practice, no source).

use super::{Character, GrainLines, Lamp, Lighting, LineKind, Mineral, Optics, Sensor, Stone, Tone};

fn mineral(share: f64, grey: f64, yields: f64) -> Mineral {
    Mineral {
        share,
        grey,
        grey_spread: 0.10,
        mottle: 0.09,
        mottle_um: 18.0,
        altered: 0.25,
        gloss: 0.25,
        yields,
        relief_um: 0.0,
        elongation: 1.2,
        size: 1.0,
        lines: Vec::new(),
    }
}

fn lamellae(share_of_grains: f64, period_um: f64, contrast: f64) -> GrainLines {
    GrainLines {
        kind: LineKind::Lamella,
        share_of_grains,
        period_um,
        duty: [0.15, 0.75],
        contrast,
        relief_um: 0.05,
        broken: 0.15,
    }
}

fn cleavage(share_of_grains: f64, period_um: f64, contrast: f64) -> GrainLines {
    GrainLines {
        kind: LineKind::Cleavage,
        share_of_grains,
        period_um,
        duty: [0.05, 0.15],
        contrast: -contrast,
        relief_um: -0.15,
        broken: 0.45,
    }
}

/// Kinds of stone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoneMake {
    /// Twinned white feldspar with dark cleaved hornblende and mica.
    Diorite,
    /// Coarse feldspar and clear quartz with little mica.
    Granite,
    /// Fine dark ground with pale laths.
    Dolerite,
    /// Pale, even grains, twinned and cleaved.
    Marble,
    /// Clear interlocking grains of nearly one grey, pitted.
    Quartzite,
    /// Fine, banded by flow of dark minerals, elongated grains.
    Gneiss,
}

impl StoneMake {
    /// The stone, its grains scaled to `grain_um`.
    #[must_use]
    pub fn stone(self, grain_um: f64) -> Stone {
        let plain = Stone {
            minerals: Vec::new(),
            grain_um,
            grain_spread: 0.35,
            boundary_waviness: 0.12,
            boundary_contrast: 0.22,
            boundary_um: 3.0,
            waviness_um: 0.5,
            roughness_um: 0.05,
            roughness_length_um: 12.0,
            pits_per_mm2: 14.0,
            pit_um: 11.0,
            cracks_per_mm2: 0.25,
            fibres_per_mm2: 0.12,
        };
        match self {
            Self::Diorite => diorite(plain),
            Self::Granite => granite(plain),
            Self::Dolerite => dolerite(plain),
            Self::Marble => marble(plain),
            Self::Quartzite => quartzite(plain),
            Self::Gneiss => gneiss(plain),
        }
    }
}

fn diorite(plain: Stone) -> Stone {
    let plagioclase = Mineral {
        elongation: 1.8,
        relief_um: 0.15,
        lines: vec![lamellae(0.7, 26.0, 0.14), cleavage(0.25, 60.0, 0.25)],
        ..mineral(0.58, 0.48, 1.0)
    };
    let hornblende = Mineral {
        elongation: 2.2,
        mottle: 0.16,
        gloss: 0.16,
        lines: vec![cleavage(0.7, 34.0, 0.4)],
        ..mineral(0.26, 0.10, 1.2)
    };
    let biotite = Mineral {
        elongation: 2.6,
        gloss: 0.45,
        relief_um: -0.5,
        mottle: 0.14,
        lines: vec![cleavage(0.9, 16.0, 0.3)],
        ..mineral(0.09, 0.13, 1.7)
    };
    let quartz = Mineral { relief_um: 0.4, mottle: 0.05, ..mineral(0.07, 0.32, 0.6) };
    Stone { minerals: vec![plagioclase, hornblende, biotite, quartz], ..plain }
}

fn granite(plain: Stone) -> Stone {
    let orthoclase = Mineral {
        size: 1.4,
        lines: vec![lamellae(0.5, 70.0, 0.10), cleavage(0.35, 90.0, 0.2)],
        mottle: 0.10,
        ..mineral(0.40, 0.42, 1.0)
    };
    let plagioclase = Mineral {
        elongation: 1.6,
        lines: vec![lamellae(0.75, 20.0, 0.12)],
        mottle: 0.09,
        ..mineral(0.25, 0.52, 1.0)
    };
    let quartz =
        Mineral { relief_um: 0.5, gloss: 0.4, mottle: 0.06, grey_spread: 0.05, ..mineral(0.28, 0.24, 0.55) };
    let biotite = Mineral {
        elongation: 2.4,
        size: 0.7,
        relief_um: -0.7,
        gloss: 0.5,
        mottle: 0.2,
        lines: vec![cleavage(0.9, 14.0, 0.35)],
        ..mineral(0.07, 0.07, 1.8)
    };
    Stone {
        minerals: vec![orthoclase, plagioclase, quartz, biotite],
        boundary_waviness: 0.2,
        cracks_per_mm2: 0.5,
        ..plain
    }
}

fn dolerite(plain: Stone) -> Stone {
    let lath = Mineral {
        elongation: 4.0,
        size: 0.9,
        lines: vec![lamellae(0.6, 14.0, 0.16)],
        ..mineral(0.5, 0.26, 1.0)
    };
    let pyroxene =
        Mineral { mottle: 0.18, lines: vec![cleavage(0.4, 24.0, 0.3)], ..mineral(0.42, 0.11, 1.05) };
    let ore = Mineral { gloss: 0.9, size: 0.5, mottle: 0.05, ..mineral(0.08, 0.20, 0.9) };
    Stone {
        minerals: vec![lath, pyroxene, ore],
        boundary_contrast: 0.15,
        pits_per_mm2: 10.0,
        pit_um: 11.0,
        ..plain
    }
}

fn marble(plain: Stone) -> Stone {
    let calcite = Mineral {
        grey_spread: 0.07,
        mottle: 0.06,
        mottle_um: 30.0,
        altered: 0.12,
        lines: vec![lamellae(0.45, 32.0, 0.08), cleavage(0.5, 45.0, 0.22)],
        ..mineral(0.92, 0.62, 1.0)
    };
    let veil = Mineral { mottle: 0.15, ..mineral(0.08, 0.40, 1.2) };
    Stone { minerals: vec![calcite, veil], boundary_contrast: 0.3, boundary_waviness: 0.08, ..plain }
}

fn quartzite(plain: Stone) -> Stone {
    let quartz = Mineral {
        grey_spread: 0.13,
        gloss: 0.45,
        relief_um: 0.3,
        mottle: 0.09,
        mottle_um: 9.0,
        altered: 0.15,
        ..mineral(0.95, 0.36, 1.0)
    };
    let mica = Mineral { elongation: 4.0, size: 0.4, gloss: 0.6, ..mineral(0.05, 0.16, 1.8) };
    Stone {
        minerals: vec![quartz, mica],
        boundary_waviness: 0.3,
        boundary_contrast: 0.35,
        pits_per_mm2: 40.0,
        pit_um: 10.0,
        roughness_um: 0.08,
        ..plain
    }
}

fn gneiss(plain: Stone) -> Stone {
    let feldspar =
        Mineral { elongation: 2.0, lines: vec![lamellae(0.5, 18.0, 0.13)], ..mineral(0.5, 0.44, 1.0) };
    let quartz = Mineral { elongation: 2.8, relief_um: 0.3, ..mineral(0.3, 0.30, 0.6) };
    let mica = Mineral {
        elongation: 4.5,
        size: 0.8,
        gloss: 0.5,
        lines: vec![cleavage(0.8, 12.0, 0.35)],
        ..mineral(0.2, 0.10, 1.6)
    };
    Stone {
        minerals: vec![feldspar, quartz, mica],
        boundary_waviness: 0.22,
        roughness_length_um: 7.0,
        roughness_um: 0.06,
        ..plain
    }
}

/// Kinds of instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InstrumentMake {
    /// A good camera on a stand, light from one side.
    Stand,
    /// A hand-held microscope, light from one side, slightly soft, mosaic and lossy coding.
    HandHeld,
    /// A hand-held microscope with its own ring of lamps, noisy.
    RingHeld,
    /// Through-the-lens light.
    Coaxial,
}

/// Light, optics and sensor of an instrument; `azimuth_deg` is where one-sided light comes from.
#[must_use]
pub fn instrument(make: InstrumentMake, azimuth_deg: f64) -> (Lighting, Optics, Sensor) {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let towards = |share: f64| [share * cos, -share * sin];
    let optics = Optics {
        blur_px: 0.9,
        motion: None,
        vignetting: 0.1,
        gradient: towards(0.2),
        distortion: None,
        mean_grey: 0.48,
    };
    let sensor = Sensor {
        full_well: 12_000.0,
        read_electrons: 8.0,
        mosaic: false,
        row_noise: 0.0,
        tone: Tone::Srgb,
        jpeg_quality: None,
    };
    let sided = |elevation_deg| Lamp::OneSided { azimuth_deg, elevation_deg };
    match make {
        InstrumentMake::Stand => (Lighting { lamp: sided(28.0), ambient: 0.15, lobe: 0.35 }, optics, sensor),
        InstrumentMake::HandHeld => (
            Lighting { lamp: sided(20.0), ambient: 0.25, lobe: 0.3 },
            Optics { blur_px: 1.3, vignetting: 0.25, gradient: towards(0.45), ..optics },
            Sensor {
                full_well: 5_000.0,
                read_electrons: 10.0,
                mosaic: true,
                row_noise: 0.0008,
                jpeg_quality: Some(92),
                ..sensor
            },
        ),
        InstrumentMake::RingHeld => (
            Lighting { lamp: Lamp::Ring { elevation_deg: 35.0 }, ambient: 0.2, lobe: 0.3 },
            Optics { blur_px: 1.1, vignetting: 0.3, gradient: [0.05, -0.05], ..optics },
            Sensor {
                full_well: 4_000.0,
                read_electrons: 12.0,
                mosaic: true,
                jpeg_quality: Some(88),
                ..sensor
            },
        ),
        InstrumentMake::Coaxial => (
            Lighting { lamp: Lamp::Coaxial, ambient: 0.1, lobe: 0.18 },
            Optics { blur_px: 0.9, vignetting: 0.2, gradient: [0.1, 0.0], ..optics },
            Sensor { mosaic: true, full_well: 8_000.0, ..sensor },
        ),
    }
}

/// How an abrasive grain cuts, from a clean furrow to a ragged one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GrooveMake {
    /// Fixed grain: an even V with low shoulders.
    Clean,
    /// Loose or worn grain: uneven, skipping hard minerals.
    Uneven,
    /// Brittle furrow: broad, chipped, whitened.
    Chipped,
}

/// Cross-section and run of a groove of this make.
#[must_use]
pub fn character(make: GrooveMake) -> Character {
    match make {
        GrooveMake::Clean => Character {
            exponent: 1.4,
            shoulders: [0.12, 0.08],
            unevenness: 0.15,
            unevenness_um: 200.0,
            skips: 0.03,
            taper_um: 80.0,
            follows_minerals: 0.7,
            whitening: 0.05,
        },
        GrooveMake::Uneven => Character {
            exponent: 2.0,
            shoulders: [0.2, 0.1],
            unevenness: 0.35,
            unevenness_um: 90.0,
            skips: 0.22,
            taper_um: 150.0,
            follows_minerals: 1.0,
            whitening: 0.1,
        },
        GrooveMake::Chipped => Character {
            exponent: 3.0,
            shoulders: [0.05, 0.05],
            unevenness: 0.5,
            unevenness_um: 40.0,
            skips: 0.12,
            taper_um: 100.0,
            follows_minerals: 1.0,
            whitening: 0.25,
        },
    }
}
