//! All stations side by side: one small rose each, on one scale.

use super::Figure;
use super::overview::WIDE;
use super::rose::{Dial, Rose, draw_dial, sectors, set_words};
use super::svg::{Anchor, Canvas, Ink, SMALL, TEXT, shorten};
use crate::words;

const COLUMNS: usize = 4;
const CELL_WIDTH: f64 = WIDE / COLUMNS as f64;
const CELL_HEIGHT: f64 = 196.0;

/// Small roses side by side. All share the scale of the outer ring, so that shares can be compared by eye.
#[must_use]
pub fn stations(roses: &[Rose<'_>]) -> Figure {
    let title = "Stations side by side";
    let drawn: Vec<&Rose<'_>> = roses.iter().filter(|rose| !rose.directions.is_empty()).collect();
    if drawn.is_empty() {
        return super::empty(title, "no station has counted traces.");
    }
    let ring = drawn.iter().map(|rose| sectors(rose.directions).ring).fold(0.0, f64::max);
    let mut canvas = Canvas::default();
    let note = format!(
        "Outer ring: {} of the weight in one sector; dashed: direction of a set.",
        words::percent(ring)
    );
    canvas.bold([4.0, 13.0], Anchor::Start, TEXT, title);
    canvas.text_in([4.0, 28.0], Anchor::Start, SMALL, Ink::Mid, &note);
    for (index, rose) in roses.iter().enumerate() {
        let corner = [(index % COLUMNS) as f64 * CELL_WIDTH, 36.0 + (index / COLUMNS) as f64 * CELL_HEIGHT];
        draw_cell(&mut canvas, corner, rose, ring);
    }
    let spoken: Vec<String> = roses
        .iter()
        .map(|rose| {
            format!(
                "{}: {}. {}",
                rose.heading,
                words::count(rose.directions.len(), "trace"),
                set_words(rose.sets)
            )
        })
        .collect();
    let height = 36.0 + roses.len().div_ceil(COLUMNS) as f64 * CELL_HEIGHT;
    canvas.finish(title, spoken.join(" "), WIDE, height)
}

fn draw_cell(canvas: &mut Canvas, corner: [f64; 2], rose: &Rose<'_>, ring: f64) {
    let middle = corner[0] + CELL_WIDTH / 2.0;
    canvas.bold([middle, corner[1] + 14.0], Anchor::Middle, TEXT, &shorten(rose.heading, 22));
    let count = words::count(rose.directions.len(), "trace");
    canvas.text_in([middle, corner[1] + 28.0], Anchor::Middle, SMALL, Ink::Mid, &count);
    if rose.directions.is_empty() {
        canvas.text_in([middle, corner[1] + 100.0], Anchor::Middle, SMALL, Ink::Mid, "nothing to show");
        return;
    }
    let dial = Dial { centre: [middle, corner[1] + 104.0], radius: 56.0 };
    let mut sectors = sectors(rose.directions);
    sectors.ring = ring;
    draw_dial(canvas, &dial, &sectors, rose);
    let sets: Vec<String> =
        rose.sets.iter().take(3).map(|set| format!("{:.0}°", set.direction.degrees())).collect();
    let label = if sets.is_empty() { "no set".to_owned() } else { format!("sets: {}", words::list(&sets)) };
    canvas.text([middle, corner[1] + 188.0], Anchor::Middle, SMALL, &label);
}
