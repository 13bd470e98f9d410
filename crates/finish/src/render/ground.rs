//! The stone laid out on the picture's pixels: grey, height and mineral of every pixel before any groove.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

use super::grains::{Grain, Grains, Place};
use super::lens::Lens;
use super::noise;
use super::stone::{GrainLines, LineKind, Mineral, Stone};

/// The surface before grooves, one value per pixel.
pub(super) struct Ground {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) um_per_px: f64,
    pub(super) lens: Lens,
    pub(super) minerals: Vec<Mineral>,
    /// Diffuse reflectance.
    pub(super) grey: Vec<f32>,
    /// Height in pixels.
    pub(super) level: Vec<f32>,
    pub(super) mineral: Vec<u8>,
    /// Bit set of [`kind_bit`].
    pub(super) kinds: Vec<u8>,
    /// Grain of every pixel.
    pub(super) label: Vec<u32>,
    pub(super) grains: Grains,
}

/// Rows and columns that share one list of candidate grains.
const BLOCK: usize = 16;

/// Bit of a kind in the map of the stone's own lines.
pub(super) fn kind_bit(kind: LineKind) -> u8 {
    match kind {
        LineKind::Lamella => 1,
        LineKind::Cleavage => 2,
        LineKind::Boundary => 4,
        LineKind::Crack => 8,
        LineKind::Fibre => 16,
        LineKind::Pit => 32,
    }
}

/// Keys of the noises a surface is made of.
struct Keys {
    mottle: u32,
    speckle: u32,
    fleck: u32,
    wave: u32,
    rough: u32,
    boundary: u32,
}

struct Pixel {
    grey: f32,
    level: f32,
    mineral: u8,
    kinds: u8,
    label: u32,
}

impl Ground {
    pub(super) fn lay(stone: &Stone, size: [usize; 2], um_per_px: f64, lens: Lens, seed: u64) -> Self {
        let [width, height] = size;
        let mut rng = Pcg64::seed_from_u64(seed);
        let grains = Grains::scatter(stone, width as f64, height as f64, um_per_px, rng.random());
        let keys = Keys {
            mottle: rng.random(),
            speckle: rng.random(),
            fleck: rng.random(),
            wave: rng.random(),
            rough: rng.random(),
            boundary: rng.random(),
        };
        let sheet = Sheet { stone, grains: &grains, keys: &keys, um_per_px, lens };
        let bands: Vec<Vec<Pixel>> = (0..height.div_ceil(BLOCK))
            .into_par_iter()
            .map(|band| sheet.band(band * BLOCK, (band * BLOCK + BLOCK).min(height), width))
            .collect();
        let n = width * height;
        let (mut grey, mut level, mut mineral, mut kinds, mut label) = (
            Vec::with_capacity(n),
            Vec::with_capacity(n),
            Vec::with_capacity(n),
            Vec::with_capacity(n),
            Vec::with_capacity(n),
        );
        for pixel in bands.into_iter().flatten() {
            grey.push(pixel.grey);
            level.push(pixel.level);
            mineral.push(pixel.mineral);
            kinds.push(pixel.kinds);
            label.push(pixel.label);
        }
        Self {
            width,
            height,
            um_per_px,
            lens,
            minerals: stone.minerals.clone(),
            grey,
            level,
            mineral,
            kinds,
            label,
            grains,
        }
    }

    /// Index of the pixel at a drawn point, if it lies on the picture.
    pub(super) fn index(&self, drawn: [f64; 2]) -> Option<usize> {
        let (x, y) = (drawn[0].round(), drawn[1].round());
        let inside = x >= 0.0 && y >= 0.0 && x < self.width as f64 && y < self.height as f64;
        inside.then(|| y as usize * self.width + x as usize)
    }

    /// Depth factor of the mineral at a drawn point.
    pub(super) fn yields_at(&self, drawn: [f64; 2]) -> Option<f32> {
        let mineral = self.mineral[self.index(drawn)?];
        self.minerals.get(usize::from(mineral)).map(|m| m.yields as f32)
    }

    /// Gloss of every mineral.
    pub(super) fn gloss(&self) -> Vec<f32> {
        self.minerals.iter().map(|m| m.gloss as f32).collect()
    }
}

/// What is needed to evaluate one pixel of the surface.
struct Sheet<'a> {
    stone: &'a Stone,
    grains: &'a Grains,
    keys: &'a Keys,
    um_per_px: f64,
    lens: Lens,
}

impl Sheet<'_> {
    fn band(&self, from: usize, to: usize, width: usize) -> Vec<Pixel> {
        let blocks = width.div_ceil(BLOCK);
        let middle = (from + to) as f64 / 2.0;
        let candidates: Vec<Vec<u32>> = (0..blocks)
            .map(|b| {
                let centre = self.lens.undraw([(b * BLOCK + BLOCK / 2) as f64, middle]);
                let mut found = Vec::new();
                // Half the block's diagonal, a little more because the lens may stretch it.
                self.grains.candidates(centre[0] as f32, centre[1] as f32, 0.8 * BLOCK as f32, &mut found);
                found
            })
            .collect();
        (from..to)
            .flat_map(|y| (0..width).map(move |x| (x, y)))
            .map(|(x, y)| {
                let p = self.lens.undraw([x as f64, y as f64]);
                self.pixel(p[0] as f32, p[1] as f32, &candidates[x / BLOCK])
            })
            .collect()
    }

    fn pixel(&self, x: f32, y: f32, candidates: &[u32]) -> Pixel {
        let place = self.grains.place(x, y, candidates);
        let (grain, next) = (&self.grains.all[place.grain as usize], &self.grains.all[place.next as usize]);
        let (mineral, other) = (self.mineral(grain), self.mineral(next));
        let mottle_px = (mineral.mottle_um / self.um_per_px) as f32;
        let cloud = noise::fractal(self.keys.mottle ^ grain.key, x / mottle_px, y / mottle_px, 3);
        let speckle = noise::fractal(self.keys.speckle, x / 2.3, y / 2.3, 1);
        let mut grey =
            mineral.grey as f32 * grain.tone * (1.0 + mineral.mottle as f32 * (2.2 * cloud + 0.5 * speckle));
        grey *= 1.0 + mineral.altered as f32 * self.flecks(grain.key, mottle_px, x, y);
        let mut level_um = grain.level_um;
        let mut kinds = 0;
        for (family, dice) in mineral.lines.iter().zip(grain.dice) {
            if f64::from(dice) < family.share_of_grains {
                let (inside, near) = self.line(family, grain, x, y);
                grey *= 1.0 + family.contrast as f32 * inside;
                level_um += family.relief_um as f32 * inside;
                kinds |= if near { kind_bit(family.kind) } else { 0 };
            }
        }
        // Across the boundary both grains share the pixel; the step of height is rounded by polishing.
        let own = (0.5 + place.edge_px / 1.6).min(1.0);
        grey = own * grey + (1.0 - own) * other.grey as f32 * next.tone;
        let own = ease(0.5 + place.edge_px / 7.0);
        level_um = own * level_um + (1.0 - own) * next.level_um;
        grey *= 1.0 - self.seam(place, x, y);
        if place.edge_px < 2.0 {
            kinds |= kind_bit(LineKind::Boundary);
        }
        level_um += self.undulation(x, y);
        Pixel {
            grey: grey.clamp(0.004, 1.0),
            level: level_um / self.um_per_px as f32,
            mineral: grain.mineral,
            kinds,
            label: place.grain,
        }
    }

    fn mineral(&self, grain: &Grain) -> &Mineral {
        &self.stone.minerals[usize::from(grain.mineral)]
    }

    /// Fine flecks where the grain has weathered: patches several mottles wide, flecks a few pixels across.
    fn flecks(&self, key: u32, mottle_px: f32, x: f32, y: f32) -> f32 {
        let patch_px = 4.0 * mottle_px;
        let patch = ease(0.4 + 2.5 * noise::fractal(self.keys.fleck ^ key, x / patch_px, y / patch_px, 3));
        if patch <= 0.0 {
            return 0.0;
        }
        let fine = 1.6 * noise::fractal(self.keys.fleck, x / 5.5, y / 5.5, 2);
        // Sharpened: few strong flecks rather than an even grain.
        patch * fine * fine.abs()
    }

    /// Darkening of the boundary line, uneven along it.
    fn seam(&self, place: Place, x: f32, y: f32) -> f32 {
        let width = (self.stone.boundary_um / self.um_per_px).max(0.6) as f32;
        let off = place.edge_px / width;
        if off > 3.0 {
            return 0.0;
        }
        let patchy = 0.6 + 0.8 * noise::smooth(self.keys.boundary, x / 30.0, y / 30.0);
        self.stone.boundary_contrast as f32 * patchy.max(0.0) * (-off * off).exp()
    }

    /// Slow waviness and fine roughness, µm.
    fn undulation(&self, x: f32, y: f32) -> f32 {
        let rough_px = (self.stone.roughness_length_um / self.um_per_px).max(1.2) as f32;
        // A wave of twelve roughness lengths: what a finishing pad leaves between the scale of grit and of form.
        let wave_px = 12.0 * rough_px;
        // The noises have a standard deviation of about 0.3.
        let rough = noise::fractal(self.keys.rough, x / rough_px, y / rough_px, 2) / 0.3;
        let wave = noise::fractal(self.keys.wave, x / wave_px, y / wave_px, 1) / 0.37;
        self.stone.roughness_um as f32 * rough + self.stone.waviness_um as f32 * wave
    }

    /// How far `(x, y)` lies inside a band of this family (0 to 1), and whether a band's line is near.
    fn line(&self, family: &GrainLines, grain: &Grain, x: f32, y: f32) -> (f32, bool) {
        let bands = Bands::of(family, grain, self.um_per_px);
        let (across, along) = bands.frame(x, y);
        bands.at(across, along)
    }
}

/// One grain's family of parallel bands.
pub(super) struct Bands {
    origin: [f32; 2],
    along: [f32; 2],
    period_px: f32,
    duty: [f32; 2],
    broken: f32,
    key: u32,
}

impl Bands {
    pub(super) fn of(family: &GrainLines, grain: &Grain, um_per_px: f64) -> Self {
        // Cleavage lies across the twin plane; both follow the grain's own lattice.
        let turn = if family.kind == LineKind::Cleavage { 1.5 } else { 0.0 };
        let (sin, cos) = (grain.angle + turn).sin_cos();
        // Every grain has its own spacing, within a factor of about two.
        let own = 0.6 + 0.9 * noise::uniform(grain.key, 5, turn as i32);
        Self {
            origin: grain.centre(),
            along: [cos, sin],
            period_px: ((family.period_um / um_per_px) as f32 * own).max(2.5),
            duty: family.duty.map(|d| d as f32),
            broken: family.broken as f32,
            key: grain.key ^ (family.period_um.to_bits() >> 32) as u32,
        }
    }

    /// Coordinates across and along the bands, px.
    pub(super) fn frame(&self, x: f32, y: f32) -> (f32, f32) {
        let (dx, dy) = (x - self.origin[0], y - self.origin[1]);
        (dy * self.along[0] - dx * self.along[1], dx * self.along[0] + dy * self.along[1])
    }

    /// Picture point of band coordinates.
    pub(super) fn point(&self, across: f32, along: f32) -> [f32; 2] {
        [
            self.origin[0] + along * self.along[0] - across * self.along[1],
            self.origin[1] + along * self.along[1] + across * self.along[0],
        ]
    }

    /// Lower and upper edge of band `k`, px across.
    pub(super) fn edges(&self, k: i32) -> (f32, f32) {
        let duty = self.duty[0] + (self.duty[1] - self.duty[0]) * noise::uniform(self.key, k, 1);
        let start = (1.0 - duty) * noise::uniform(self.key, k, 2);
        ((k as f32 + start) * self.period_px, (k as f32 + start + duty) * self.period_px)
    }

    pub(super) fn index(&self, across: f32) -> i32 {
        (across / self.period_px).floor() as i32
    }

    /// Strength of band `k` at `along`, 0–1.
    pub(super) fn strength(&self, k: i32, along: f32) -> f32 {
        let own = 0.45 + 0.55 * noise::uniform(self.key, k, 3);
        if self.broken <= 0.0 {
            return own;
        }
        let run = 0.5 + 0.5 * noise::smooth(self.key, along / (6.0 * self.period_px + 25.0), k as f32 + 0.5);
        own * ((run - self.broken) / 0.12 + 0.5).clamp(0.0, 1.0)
    }

    fn at(&self, across: f32, along: f32) -> (f32, bool) {
        let k = self.index(across);
        let (low, high) = self.edges(k);
        let strength = self.strength(k, along);
        let soft = |edge: f32| (0.5 + (across - edge) / 1.2).clamp(0.0, 1.0);
        let inside = soft(low) * (1.0 - soft(high));
        let near = strength > 0.3 && ((across - low).abs() < 2.0 || (across - high).abs() < 2.0);
        (strength * inside, near)
    }
}

fn ease(t: f32) -> f32 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}
