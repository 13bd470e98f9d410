//! Can the order of two crossing scratches be read at all? Rendered crossings of known order, read with the true paths known.
//!
//! Two ways. *Profile*: the later scratch runs on through the earlier one, so whichever profile explains the crossing better
//! is called the later. *Shoulders*: the later one throws up its shoulders inside the earlier one's furrow, while the earlier
//! one's shoulders end where the later cuts; whichever shoulders are seen in the other's furrow belong to the later. What
//! this gives is a best case: real paths are found, not known.

use finish::render::makes::{GrooveMake, InstrumentMake, StoneMake, character, instrument};
use finish::render::{Groove, Scene, render};
use rand::RngExt;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use weigh::simulate::generator;

/// Side of the pictures, px.
const SIDE_PX: usize = 192;
/// Scale, µm/px.
const UM_PER_PX: f64 = 2.0;
/// Depth over width of the scratches, as in the forward models.
const DEPTH_PER_WIDTH: f64 = 0.12;
/// A scratch with its shoulders reaches this far from its axis, in half-widths.
const REACH: f64 = 1.9;
/// Stream of random numbers of the crossings.
const STREAM: u64 = 6000;
/// Crossings of the same two layers that vote together.
const VOTES: usize = 9;

const STONES: [StoneMake; 3] = [StoneMake::Diorite, StoneMake::Granite, StoneMake::Marble];

/// One line through the middle of the picture.
#[derive(Clone, Copy)]
struct Line {
    cos: f64,
    sin: f64,
    half_width_px: f64,
}

impl Line {
    /// Distance along and across, px.
    fn along_across(&self, x: f64, y: f64) -> (f64, f64) {
        (x * self.cos + y * self.sin, y * self.cos - x * self.sin)
    }
}

/// Renders `n` crossings for each width, depth and light, and prints how often their order is read right.
///
/// # Errors
/// In words: a picture that could not be rendered.
pub fn run(n: usize) -> Result<(), String> {
    let mut cell = 0;
    for (light, make) in [("one side", InstrumentMake::Stand), ("ring", InstrumentMake::RingHeld)] {
        for width_px in [3.0, 6.0, 12.0] {
            for (words, later_depth) in [("equally deep", 1.0), ("half as deep", 0.5), ("twice as deep", 2.0)]
            {
                cell += 1;
                let read = (0..n)
                    .into_par_iter()
                    .map(|index| {
                        let mut rng = generator(1, STREAM + cell, index as u64);
                        read_right(make, width_px, later_depth, STONES[index % STONES.len()], &mut rng)
                    })
                    .collect::<Result<Vec<[bool; 2]>, String>>()?;
                let [profile, shoulders] = [0, 1].map(|way: usize| {
                    let flags: Vec<bool> = read.iter().map(|ways| ways[way]).collect();
                    format!("{:.0} % ({:.0} %)", share(&flags), share(&votes(&flags)))
                });
                println!(
                    "| order of crossings, {light}, {width_px} px wide, the later one {words}: read right by profile, by shoulders (by the vote of {VOTES}) | – | {profile}; {shoulders} |",
                );
            }
        }
    }
    Ok(())
}

fn share(flags: &[bool]) -> f64 {
    100.0 * flags.iter().filter(|right| **right).count() as f64 / flags.len().max(1) as f64
}

/// Majorities of groups of [`VOTES`].
fn votes(flags: &[bool]) -> Vec<bool> {
    flags.chunks_exact(VOTES).map(|votes| 2 * votes.iter().filter(|right| **right).count() > VOTES).collect()
}

/// Whether the order is read right by profile and by shoulders.
fn read_right(
    make: InstrumentMake,
    width_px: f64,
    later_depth: f64,
    stone: StoneMake,
    rng: &mut Pcg64,
) -> Result<[bool; 2], String> {
    let first = std::f64::consts::PI * rng.random::<f64>();
    let second = first + 0.7 + (std::f64::consts::PI - 1.4) * rng.random::<f64>();
    let line = |angle: f64| {
        let (sin, cos) = angle.sin_cos();
        Line { cos, sin, half_width_px: 0.5 * width_px }
    };
    let (earlier, later) = (line(first), line(second));
    let groove = |line: &Line, depth: f64| {
        let (middle, half) = (0.5 * SIDE_PX as f64, 0.7 * SIDE_PX as f64);
        let at = |side: f64| {
            [(middle + side * half * line.cos) * UM_PER_PX, (middle + side * half * line.sin) * UM_PER_PX]
        };
        let width_um = width_px * UM_PER_PX;
        Groove {
            points_um: vec![at(-1.0), at(1.0)],
            width_um,
            depth_um: depth * DEPTH_PER_WIDTH * width_um,
            character: character(GrooveMake::Clean),
        }
    };
    let (lighting, optics, sensor) = instrument(make, 360.0 * rng.random::<f64>());
    let scene = Scene {
        width_px: SIDE_PX,
        height_px: SIDE_PX,
        um_per_px: UM_PER_PX,
        stone: stone.stone(300.0),
        grooves: vec![groove(&earlier, 1.0), groove(&later, later_depth)],
        lighting,
        optics,
        sensor,
    };
    let rendered = render(&scene, rng.random()).map_err(|e| e.to_string())?;
    let picture = Picture(rendered.grey.values());
    Ok([
        picture.misfit(&earlier, &later) > picture.misfit(&later, &earlier),
        picture.shoulders(&earlier, &later) < picture.shoulders(&later, &earlier),
    ])
}

/// Grey values of a square picture.
struct Picture<'a>(&'a [f32]);

impl Picture<'_> {
    /// How badly the profile that `line` has away from `other` explains the crossing of both: mean squared difference.
    fn misfit(&self, line: &Line, other: &Line) -> f64 {
        let profile = self.profile(line, other);
        let reach = REACH * line.half_width_px;
        let (mut sum, mut n) = (0.0, 0.0);
        for (x, y, grey) in self.pixels() {
            let (_, across) = line.along_across(x, y);
            let (_, across_other) = other.along_across(x, y);
            if across.abs() < reach
                && across_other.abs() < reach
                && let Some(expected) = profile.get((across + reach) as usize)
            {
                sum += (grey - expected).powi(2);
                n += 1.0;
            }
        }
        sum / f64::max(n, 1.0)
    }

    /// How much of the shoulders of `line` is seen inside the furrow of `other`: 1 for all of it, 0 for nothing.
    fn shoulders(&self, line: &Line, other: &Line) -> f64 {
        let (own, furrow) = (self.profile(line, other), self.profile(other, line));
        let level = self.0.iter().map(|grey| f64::from(*grey)).sum::<f64>() / self.0.len() as f64;
        let reach = |line: &Line| REACH * line.half_width_px;
        let (mut seen, mut whole) = (0.0, 0.0);
        for (x, y, grey) in self.pixels() {
            let (_, across) = line.along_across(x, y);
            let (_, across_other) = other.along_across(x, y);
            let on_shoulder = (line.half_width_px..reach(line)).contains(&across.abs());
            if on_shoulder
                && across_other.abs() < other.half_width_px
                && let (Some(mine), Some(theirs)) = (
                    own.get((across + reach(line)) as usize),
                    furrow.get((across_other + reach(other)) as usize),
                )
            {
                seen += (grey - theirs) * (mine - level);
                whole += (mine - level).powi(2);
            }
        }
        seen / f64::max(whole, 1e-12)
    }

    /// Mean grey by distance across, in steps of a pixel, where the other line is not near.
    fn profile(&self, line: &Line, other: &Line) -> Vec<f64> {
        let reach = REACH * line.half_width_px;
        let mut sums = vec![(0.0, 0.0); (2.0 * reach) as usize + 1];
        for (x, y, grey) in self.pixels() {
            let (_, across) = line.along_across(x, y);
            let (_, across_other) = other.along_across(x, y);
            let near = (1.5 * reach)..(6.0 * reach);
            if across.abs() < reach
                && near.contains(&across_other.abs())
                && let Some((sum, n)) = sums.get_mut((across + reach) as usize)
            {
                *sum += grey;
                *n += 1.0;
            }
        }
        sums.into_iter().map(|(sum, n)| sum / f64::max(n, 1.0)).collect()
    }

    /// Places from the middle, px, with their grey.
    fn pixels(&self) -> impl Iterator<Item = (f64, f64, f64)> {
        let middle = 0.5 * SIDE_PX as f64 - 0.5;
        self.0.iter().enumerate().map(move |(index, grey)| {
            let (x, y) = (index % SIDE_PX, index / SIDE_PX);
            (x as f64 - middle, y as f64 - middle, f64::from(*grey))
        })
    }
}
