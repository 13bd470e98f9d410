//! Distances between neighbours of one set against places thrown at random.

use super::Figure;
use super::plot::{Axis, Plot};
use super::svg::{Anchor, Ink, Pen, SMALL};
use crate::dossier::{Spacing, SpacingVerdict};
use crate::words;

/// 97.5 % point of the standard normal distribution.
const Z_95: f64 = 1.959_963_985;

/// Most points on the curve; more would not be seen.
const POINTS_AT_MOST: usize = 600;

/// Share of distances below a multiple of their mean. Dashed: random places (Poisson); grey: where 95 % of such curves pass,
/// point by point. A steeper curve is more regular, a flatter one clustered.
#[must_use]
pub fn spacing(heading: &str, spacing: &Spacing) -> Figure {
    let title = format!("Spacing, {heading}, set at {:.0}°", spacing.direction.degrees());
    let mut distances: Vec<f64> =
        spacing.distances.iter().copied().filter(|d| d.is_finite() && *d >= 0.0).collect();
    let mean = distances.iter().sum::<f64>() / distances.len().max(1) as f64;
    if distances.len() < 2 || mean <= 0.0 {
        return super::empty(&title, "fewer than two distances between neighbours of this set.");
    }
    distances.sort_by(f64::total_cmp);
    let y_ticks = (0..=4).map(|index| (f64::from(index) * 0.25, format!("{} %", index * 25))).collect();
    let unit = spacing.unit.symbol();
    let x_label = format!("distance over its mean ({} {unit})", words::significant(mean, 3));
    let mut plot = Plot::panel(
        Axis::round(0.0, 4.0, 4, x_label),
        Axis::with_ticks(0.0, 1.0, y_ticks, "share closer than this"),
        0.0,
    );
    plot.axes();
    draw_random(&mut plot, distances.len());
    draw_distances(&mut plot, &distances, mean);
    let label_at = plot.at(1.75, 0.52);
    plot.canvas.text_in(label_at, Anchor::Start, SMALL, Ink::Mid, "dashed: random places");
    plot.heading(&title, &note(spacing, &distances, mean));
    plot.finish(title, describe(spacing, distances.len(), mean))
}

/// The exponential law of random places with the point-by-point band of `count` distances.
fn draw_random(plot: &mut Plot, count: usize) {
    let grid: Vec<f64> = (0..=80).map(|index| f64::from(index) * 0.05).collect();
    let share = |x: f64| 1.0 - (-x).exp();
    let half = |x: f64| Z_95 * (share(x) * (1.0 - share(x)) / count as f64).sqrt();
    let mut band: Vec<[f64; 2]> = grid.iter().map(|x| plot.at(*x, (share(*x) + half(*x)).min(1.0))).collect();
    band.extend(grid.iter().rev().map(|x| plot.at(*x, (share(*x) - half(*x)).max(0.0))));
    plot.canvas.area(&band, Ink::Wash);
    let line: Vec<[f64; 2]> = grid.iter().map(|x| plot.at(*x, share(*x))).collect();
    plot.canvas.polyline(&line, Pen::dashed(Ink::Dark, 1.2));
}

fn draw_distances(plot: &mut Plot, sorted: &[f64], mean: f64) {
    let keep_every = sorted.len().div_ceil(POINTS_AT_MOST);
    let mut corners = vec![plot.at(0.0, 0.0)];
    let mut share = 0.0;
    for (index, distance) in sorted.iter().enumerate() {
        let next = (index + 1) as f64 / sorted.len() as f64;
        let last = index + 1 == sorted.len();
        if index % keep_every != 0 && !last {
            continue;
        }
        let x = (distance / mean).min(plot.x.high);
        corners.push(plot.at(x, share));
        corners.push(plot.at(x, next));
        share = next;
    }
    corners.push(plot.at(plot.x.high, share));
    plot.canvas.polyline(&corners, Pen::solid(Ink::First, 1.8));
}

fn note(spacing: &Spacing, distances: &[f64], mean: f64) -> String {
    let beyond = distances.iter().filter(|distance| **distance > 4.0 * mean).count();
    let verdict = match spacing.verdict {
        SpacingVerdict::Regular => "regular",
        SpacingVerdict::Random => "not told from random",
        SpacingVerdict::Clustered => "clustered",
        SpacingVerdict::CannotTell => "too few to tell",
    };
    let cut = if beyond > 0 { format!("; {beyond} beyond the scale") } else { String::new() };
    format!("{} distances: {verdict}{cut}", words::thousands(distances.len() as u64))
}

fn describe(spacing: &Spacing, count: usize, mean: f64) -> String {
    let variation = match (spacing.variation, spacing.variation_if_random) {
        (Some(variation), Some((low, high))) => format!(
            " Standard deviation over mean {}; random places give {} to {}.",
            words::significant(variation, 2),
            words::significant(low, 2),
            words::significant(high, 2)
        ),
        (Some(variation), None) => {
            format!(" Standard deviation over mean {}.", words::significant(variation, 2))
        }
        (None, _) => String::new(),
    };
    let p = spacing.p.map(|p| format!(" {}: {}.", spacing.test, words::p_value(p))).unwrap_or_default();
    let verdict = match spacing.verdict {
        SpacingVerdict::Regular => " The spacing is more regular than random places.",
        SpacingVerdict::Random => " The spacing cannot be told from random places.",
        SpacingVerdict::Clustered => " The spacing is more clustered than random places.",
        SpacingVerdict::CannotTell => " There are too few distances to tell.",
    };
    format!(
        "Share of {count} distances between neighbours below a multiple of their mean, {} {}, against random places.{variation}{p}{verdict}",
        words::significant(mean, 2),
        spacing.unit.symbol()
    )
}
