//! Micrographs of finished stone, rendered with their truth.
//!
//! A scene is a stone, the grooves cut into it in their order, the light, the optics and the sensor. The surface is a
//! height map; what the grooves look like follows from their slopes, not from lines drawn on a picture. Same scene and
//! seed, same picture, at any number of threads.

mod blemish;
mod grains;
mod groove;
mod ground;
mod lens;
mod light;
mod lines;
pub mod makes;
mod noise;
mod optics;
mod sensor;
mod stone;
mod surface;
#[cfg(test)]
mod tests;
mod truth;

pub use groove::{Character, Groove, arc, line};
pub use light::{Lamp, Lighting};
pub use optics::{Motion, Optics};
pub use sensor::{Sensor, Tone};
pub use stone::{GrainLines, LineKind, Mineral, Stone};
pub use truth::{Clutter, StoneLine, TrueScratch, Truth, axis_and_curvature};

use picture::Grey;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

use ground::Ground;
pub(crate) use lens::Lens;
use light::Shader;
use sensor::Exposure;
use truth::Signature;

/// Everything that makes one micrograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// Width of the picture, px.
    pub width_px: usize,
    /// Height of the picture, px.
    pub height_px: usize,
    /// Scale at the centre of the picture.
    pub um_per_px: f64,
    /// The stone.
    pub stone: Stone,
    /// The grooves, oldest first.
    pub grooves: Vec<Groove>,
    /// The light.
    pub lighting: Lighting,
    /// The optics.
    pub optics: Optics,
    /// The sensor.
    pub sensor: Sensor,
}

/// A rendered micrograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Rendered {
    /// The picture, quantised to eight bits.
    pub grey: Grey,
    /// What is truly on it.
    pub truth: Truth,
}

/// Why a scene cannot be rendered.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RenderError {
    /// Too small to hold a picture.
    #[error("a picture of {width_px} × {height_px} px cannot be rendered; it needs at least 16 × 16")]
    TooSmall {
        /// Width asked for.
        width_px: usize,
        /// Height asked for.
        height_px: usize,
    },
    /// No scale.
    #[error("the scale is {0} µm per pixel; it must be finite and above 0")]
    Scale(f64),
    /// No mineral, or more than can be told apart.
    #[error("the stone has {0} minerals; it needs 1 to 255")]
    Minerals(usize),
}

/// Renders a scene.
///
/// The picture is `height_px` rows of `width_px` values, encoded 0–1 and quantised to eight bits. Truth coordinates are
/// px with the origin at the centre of the top-left pixel, x right, y down.
///
/// # Errors
/// If the picture is smaller than 16 × 16 px, the scale is not positive or the stone has no mineral.
pub fn render(scene: &Scene, seed: u64) -> Result<Rendered, RenderError> {
    check(scene)?;
    let (width, height) = (scene.width_px, scene.height_px);
    let mut rng = Pcg64::seed_from_u64(seed);
    let lens = Lens::new(scene.optics.distortion.as_ref(), width, height);
    let mut ground = Ground::lay(&scene.stone, [width, height], scene.um_per_px, lens, rng.random());
    let blemishes = blemish::scatter(&scene.stone, &mut ground, rng.random());
    let (wander, grain): (u32, u32) = (rng.random(), rng.random());
    let courses: Vec<_> = scene
        .grooves
        .par_iter()
        .enumerate()
        .map(|(k, groove)| groove::resolve(groove, &ground, wander.wrapping_add(k as u32)))
        .collect();
    let shader = Shader::new(&scene.lighting);
    let mut bare = surface::radiance(&ground, &[], &blemishes.fibres, &shader);
    let mut cut = surface::radiance(&ground, &courses, &blemishes.fibres, &shader);
    optics::blur(&mut bare, width, &scene.optics);
    optics::blur(&mut cut, width, &scene.optics);
    let exposure =
        Exposure { optics: &scene.optics, tone: scene.sensor.tone, gain: gain(&bare, scene), width, height };
    let values = sensor::expose(&cut, &exposure, &scene.sensor, grain);
    drop(cut);
    let bare = sensor::expose(&bare, &exposure, &scene.sensor, grain);
    let clutter = Clutter::measure(&bare, width, height);
    drop(bare);
    let signature =
        Signature { scene, ground: &ground, shader: &shader, exposure: &exposure, clutter: &clutter };
    let scratches: Vec<Vec<TrueScratch>> =
        courses.par_iter().enumerate().map(|(k, course)| truth::runs(k, course, &signature)).collect();
    let truth = Truth {
        um_per_px: scene.um_per_px,
        light: scene.lighting.noted(),
        scratches: scratches.into_iter().flatten().collect(),
        lines_of_the_stone: lines::trace(&ground, &blemishes),
        stone_map: ground.kinds,
        clutter,
    };
    let grey = Grey::new(width, height, values)
        .ok_or(RenderError::TooSmall { width_px: width, height_px: height })?;
    Ok(Rendered { grey, truth })
}

fn check(scene: &Scene) -> Result<(), RenderError> {
    let (width_px, height_px) = (scene.width_px, scene.height_px);
    if width_px < 16 || height_px < 16 {
        return Err(RenderError::TooSmall { width_px, height_px });
    }
    if !(scene.um_per_px.is_finite() && scene.um_per_px > 0.0) {
        return Err(RenderError::Scale(scene.um_per_px));
    }
    let minerals = scene.stone.minerals.len();
    if !(1..=255).contains(&minerals) {
        return Err(RenderError::Minerals(minerals));
    }
    Ok(())
}

/// Gain that brings the mean of the scratch-free picture to the wanted grey.
fn gain(bare: &[f32], scene: &Scene) -> f32 {
    let mean = bare.iter().map(|&v| f64::from(v)).sum::<f64>() / bare.len() as f64;
    scene.sensor.tone.decode(scene.optics.mean_grey as f32) / (mean as f32).max(1e-6)
}

/// Blurs any light plane, for pictures that are not of grooves.
pub(crate) fn blurred(mut light: Vec<f32>, width: usize, sigma_px: f64) -> Vec<f32> {
    optics::gaussian(&mut light, width, sigma_px);
    light
}

/// Exposes any light plane (1 = full white), for pictures that are not of grooves.
pub(crate) fn exposed(light: &[f32], size: [usize; 2], sensor: &Sensor, key: u32) -> Vec<f32> {
    let even = Optics {
        blur_px: 0.0,
        motion: None,
        vignetting: 0.12,
        gradient: [0.08, 0.05],
        distortion: None,
        mean_grey: 0.5,
    };
    let exposure = Exposure { optics: &even, tone: sensor.tone, gain: 1.0, width: size[0], height: size[1] };
    sensor::expose(light, &exposure, sensor, key)
}

/// Smooth mottling in about `[-1, 1]`, one unit across.
pub(crate) fn mottle(key: u32, x: f32, y: f32) -> f32 {
    noise::fractal(key, x, y, 3)
}
